//! When did the sources change? A fingerprint of names, sizes and times, asked for once a second.
//!
//! Polling a few dozen files costs under a millisecond, needs no dependency and works on every file
//! system. A removed file and one put back with an older time change the fingerprint too.

use std::fs;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::path::Path;

/// What the page is built from.
const SOURCES: [&str; 6] = ["src", "www", "docs", "scenarios", "Cargo.toml", "Cargo.lock"];

/// A number that differs when any source file differs in name, size or time of change.
pub fn fingerprint(root: &Path) -> u64 {
    fingerprint_of(root, &SOURCES)
}

/// The same of what the running program was made of: its tables stand in the page as `known` wrote them.
pub fn program_fingerprint(root: &Path) -> u64 {
    fingerprint_of(root, &["src", "scenarios"])
}

fn fingerprint_of(root: &Path, names: &[&str]) -> u64 {
    let mut hasher = DefaultHasher::new();
    for name in names {
        add(&root.join(name), &mut hasher);
    }
    hasher.finish()
}

fn add(path: &Path, hasher: &mut DefaultHasher) {
    path.hash(hasher);
    if let Ok(entries) = fs::read_dir(path) {
        let mut paths: Vec<_> = entries.flatten().map(|entry| entry.path()).collect();
        paths.sort();
        for path in paths {
            add(&path, hasher);
        }
    } else if let Ok(metadata) = fs::metadata(path) {
        metadata.len().hash(hasher);
        metadata.modified().ok().hash(hasher);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sees_new_changed_and_removed_files() {
        let root = std::env::temp_dir().join(format!("stallheat-watch-{}", std::process::id()));
        fs::create_dir_all(root.join("www/deep")).unwrap();
        let mut seen = vec![fingerprint(&root)];
        fs::write(root.join("www/deep/a.js"), "1").unwrap();
        seen.push(fingerprint(&root));
        fs::write(root.join("www/deep/a.js"), "22").unwrap();
        seen.push(fingerprint(&root));
        assert_eq!(seen[2], fingerprint(&root));
        fs::remove_file(root.join("www/deep/a.js")).unwrap();
        assert_eq!(seen[0], fingerprint(&root));
        seen.sort_unstable();
        seen.dedup();
        assert_eq!(seen.len(), 3);
        fs::remove_dir_all(&root).unwrap();
    }
}
