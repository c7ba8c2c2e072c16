//! A site in a folder: writing it, reading it back, and never touching what is not ours.
//!
//! A folder that holds a site also holds the file `.stallheat-site`, which lists the top-level names
//! that were written. The next build removes those of them that it no longer needs, and nothing else:
//! a `CNAME` or `.nojekyll` laid there by hand stays. A folder that is not empty and lacks the file is
//! refused.
//!
//! `index.html` is written last, so that a page never points at files that are not there yet.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use stallheat::error::{Error, ErrorKind};

use super::Site;
use super::assemble::keeps_address;

/// Name of the file that says that a folder is ours, and which names in it.
const MARKER: &str = ".stallheat-site";
const MARKER_HEADER: &str = "# Written by `stallheat build`, which replaces the names below.";
const ENTRY: &str = "index.html";

/// What a build wrote.
#[derive(Debug)]
pub struct BuildReport {
    pub version: String,
    pub out: PathBuf,
    /// Each file with its size in bytes, uncompressed.
    pub sizes_bytes: Vec<(String, u64)>,
}

impl BuildReport {
    /// Size of the whole site in bytes, uncompressed.
    pub fn total_bytes(&self) -> u64 {
        self.sizes_bytes.iter().map(|(_, size_bytes)| size_bytes).sum()
    }
}

/// A path as the system sees it, links and `..` followed, also where its last parts do not exist yet.
fn resolved(path: &Path) -> PathBuf {
    if let Ok(known) = fs::canonicalize(path) {
        return known;
    }
    match (path.parent(), path.file_name()) {
        (Some(parent), Some(name)) if parent != Path::new("") => resolved(parent).join(name),
        (_, Some(name)) => resolved(Path::new(".")).join(name),
        _ => path.to_path_buf(),
    }
}

/// Refuses a folder that a site must not be written to.
pub fn check(root: &Path, out: &Path) -> Result<(), Error> {
    outside_sources(root, out)?;
    let is_empty = match fs::read_dir(out) {
        Ok(mut entries) => entries.next().is_none(),
        Err(cause) if cause.kind() == io::ErrorKind::NotFound => true,
        Err(cause) => return Err(io_error(out, &cause)),
    };
    if is_empty || out.join(MARKER).is_file() {
        return Ok(());
    }
    Err(refusal(
        out,
        "a new or empty folder, or one written by an earlier build",
        "Choose another folder, or empty this one yourself: it holds files that no build wrote.",
    ))
}

fn outside_sources(root: &Path, out: &Path) -> Result<(), Error> {
    let wanted = resolved(out);
    let sources = ["www", "src", "scenarios", "tests", "docs"];
    if sources.iter().any(|name| wanted.starts_with(resolved(&root.join(name)))) {
        return Err(refusal(
            out,
            "a folder outside the sources",
            "Choose another folder, for example dist.",
        ));
    }
    Ok(())
}

/// Refuses a file that one page must not be written to; one that contains `made_by` is of an earlier build.
pub fn check_file(root: &Path, out: &Path, made_by: &str) -> Result<(), Error> {
    outside_sources(root, out)?;
    let named = out.extension().is_some_and(|end| end == "html" || end == "htm");
    if !named || out.is_dir() {
        return Err(refusal(
            out,
            "the name of a file that ends in .html",
            "Name the file, for example --out stallheat.html.",
        ));
    }
    match fs::read(out) {
        Ok(bytes) if String::from_utf8_lossy(&bytes).contains(made_by) => Ok(()),
        Ok(_) => Err(refusal(
            out,
            "a new file, or one written by an earlier build",
            "Choose another name, or remove the file yourself: no build wrote it.",
        )),
        Err(cause) if cause.kind() == io::ErrorKind::NotFound => Ok(()),
        Err(cause) => Err(io_error(out, &cause)),
    }
}

/// Writes a file that is there whole or as it was.
pub fn write_whole(out: &Path, bytes: &[u8]) -> Result<(), Error> {
    let beside = out.with_extension("html.part");
    write_file(&beside, bytes)?;
    fs::rename(&beside, out).map_err(|cause| io_error(out, &cause))
}

/// Writes the site into `out`, which [`check`] has accepted, and removes what the last build left.
pub fn write(site: &Site, out: &Path) -> Result<BuildReport, Error> {
    fs::create_dir_all(out).map_err(|cause| io_error(out, &cause))?;
    let before = marked_names(out)?;
    let now: BTreeSet<String> = site.files.keys().map(|name| top_level(name).to_string()).collect();
    // Both generations are listed until the old one is gone: an interrupted build leaves nothing foreign.
    mark(out, before.union(&now))?;
    let (entry, others): (Vec<_>, Vec<_>) = site.files.iter().partition(|(name, _)| *name == ENTRY);
    for (name, bytes) in others.into_iter().chain(entry) {
        write_file(&out.join(name), bytes)?;
    }
    for name in before.difference(&now) {
        remove(&out.join(name))?;
    }
    mark(out, now.iter())?;
    Ok(BuildReport {
        version: site.version.clone(),
        out: out.to_path_buf(),
        sizes_bytes: site
            .files
            .iter()
            .map(|(name, bytes)| (name.clone(), bytes.len() as u64))
            .collect(),
    })
}

/// Reads a site that [`write`] wrote.
pub fn read(folder: &Path) -> Result<Site, Error> {
    let names = marked_names(folder)?;
    let version = names.iter().find_map(|name| name.strip_prefix("v-"));
    let (Some(version), true) = (version, names.contains(ENTRY)) else {
        return Err(Error::new(
            ErrorKind::Serve,
            "built",
            folder.display().to_string(),
            "a folder written by `stallheat build`",
            "Build it first with `stallheat build --out`, or serve from the sources.",
        ));
    };
    let mut files = read_tree(folder)?;
    files.retain(|name, _| names.contains(top_level(name)));
    Ok(Site { version: version.to_string(), files })
}

/// All files below a folder by relative address, without hidden ones and editors' backups.
pub fn read_tree(folder: &Path) -> Result<BTreeMap<String, Vec<u8>>, Error> {
    let mut files = BTreeMap::new();
    read_into(folder, "", &mut files)?;
    Ok(files)
}

fn read_into(
    folder: &Path,
    prefix: &str,
    files: &mut BTreeMap<String, Vec<u8>>,
) -> Result<(), Error> {
    for entry in fs::read_dir(folder).map_err(|cause| io_error(folder, &cause))? {
        let path = entry.map_err(|cause| io_error(folder, &cause))?.path();
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        if name.starts_with('.') || name.ends_with('~') {
            continue;
        }
        if path.is_dir() {
            read_into(&path, &format!("{prefix}{name}/"), files)?;
        } else {
            let bytes = fs::read(&path).map_err(|cause| io_error(&path, &cause))?;
            files.insert(format!("{prefix}{name}"), bytes);
        }
    }
    Ok(())
}

fn top_level(name: &str) -> &str {
    name.split('/').next().unwrap_or(name)
}

/// The names that the marker lists, as far as a build can have written them.
fn marked_names(folder: &Path) -> Result<BTreeSet<String>, Error> {
    let marker = folder.join(MARKER);
    match fs::read_to_string(&marker) {
        Ok(text) => Ok(text.lines().filter(|name| is_ours(name)).map(str::to_string).collect()),
        Err(cause) if cause.kind() == io::ErrorKind::NotFound => Ok(BTreeSet::new()),
        Err(cause) => Err(io_error(&marker, &cause)),
    }
}

/// Whether a top-level name has the form of those that a build writes.
fn is_ours(name: &str) -> bool {
    let is_version = name.strip_prefix("v-").is_some_and(|version| {
        version.len() == 16 && version.bytes().all(|byte| byte.is_ascii_hexdigit())
    });
    is_version || keeps_address(name)
}

fn mark<'a>(folder: &Path, names: impl Iterator<Item = &'a String>) -> Result<(), Error> {
    let mut text = format!("{MARKER_HEADER}\n");
    for name in names {
        text.push_str(name);
        text.push('\n');
    }
    write_file(&folder.join(MARKER), text.as_bytes())
}

fn write_file(path: &Path, bytes: &[u8]) -> Result<(), Error> {
    if let Some(parent) = path.parent() {
        fs::create_dir_all(parent).map_err(|cause| io_error(parent, &cause))?;
    }
    fs::write(path, bytes).map_err(|cause| io_error(path, &cause))
}

fn remove(path: &Path) -> Result<(), Error> {
    let removed = if path.is_dir() && !path.is_symlink() {
        fs::remove_dir_all(path)
    } else {
        fs::remove_file(path)
    };
    match removed {
        Err(cause) if cause.kind() != io::ErrorKind::NotFound => Err(io_error(path, &cause)),
        _ => Ok(()),
    }
}

fn refusal(out: &Path, limit: &str, remedy: &str) -> Error {
    Error::new(ErrorKind::Build, "out", out.display().to_string(), limit, remedy)
}

fn io_error(path: &Path, cause: &io::Error) -> Error {
    Error::new(
        ErrorKind::Build,
        path.display().to_string(),
        cause.to_string(),
        "a place that can be read and written",
        "Check that it exists and that you may use it.",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn site(version: &str, extra: &str) -> Site {
        let files = [
            ("index.html".to_string(), version.as_bytes().to_vec()),
            (extra.to_string(), b"x".to_vec()),
            (format!("v-{version}/core/a.wasm"), b"y".to_vec()),
        ];
        Site { version: version.to_string(), files: files.into() }
    }

    fn scratch(name: &str) -> PathBuf {
        let folder = std::env::temp_dir().join(format!("stallheat-{name}-{}", std::process::id()));
        let _ = fs::remove_dir_all(&folder);
        folder
    }

    #[test]
    fn second_build_replaces_the_first_and_keeps_foreign_files() {
        let out = scratch("replace");
        let first = site("0123456789abcdef", "old.html");
        let second = site("fedcba9876543210", "new.html");
        check(Path::new("/nowhere"), &out).unwrap();
        let report = write(&first, &out).unwrap();
        assert_eq!(report.total_bytes(), 18);
        assert_eq!(read(&out).unwrap(), first);
        fs::write(out.join("CNAME"), "example.org").unwrap();
        fs::create_dir(out.join("v-mine")).unwrap();
        check(Path::new("/nowhere"), &out).unwrap();
        write(&second, &out).unwrap();
        assert_eq!(read(&out).unwrap(), second);
        assert!(out.join("CNAME").is_file() && out.join("v-mine").is_dir());
        assert!(!out.join("old.html").exists() && !out.join("v-0123456789abcdef").exists());
        fs::remove_dir_all(&out).unwrap();
    }

    #[test]
    fn a_marker_cannot_make_us_remove_other_names() {
        let out = scratch("hostile");
        fs::create_dir_all(out.join("keep")).unwrap();
        fs::write(out.join(MARKER), "keep\n../keep\nv-../../keep00000\n/etc\n").unwrap();
        write(&site("0123456789abcdef", "a.html"), &out).unwrap();
        assert!(out.join("keep").is_dir());
        fs::remove_dir_all(&out).unwrap();
    }
}
