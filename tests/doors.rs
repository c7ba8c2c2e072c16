//! The corpus that the fuzzer kept (tests/fuzz/corpus) through every door, and all example files: what once was worth
//! keeping is tried with every build. DEVELOPERS.md, "Fuzzing", says how it grows.

#[path = "common/doors.rs"]
mod doors;

use std::path::Path;

/// All files below a folder that the repository has.
fn files(folder: &str) -> Vec<Vec<u8>> {
    let mut found = Vec::new();
    let mut folders = vec![Path::new(env!("CARGO_MANIFEST_DIR")).join(folder)];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(&folder).unwrap_or_else(|e| panic!("{folder:?}: {e}")) {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else {
                found.push(std::fs::read(&path).unwrap());
            }
        }
    }
    found
}

#[test]
fn the_corpus_passes_every_door() {
    for (name, door) in doors::DOORS {
        let kept = files(&format!("tests/fuzz/corpus/{name}"));
        assert!(kept.len() >= 20, "{name}: {} files", kept.len());
        kept.iter().for_each(|bytes| door(bytes));
    }
}

#[test]
fn the_examples_pass_every_door() {
    let examples = [files("scenarios"), files("tests/data/readings")].concat();
    assert!(examples.len() > 30);
    for (_, door) in doors::DOORS {
        examples.iter().for_each(|bytes| door(bytes));
    }
}
