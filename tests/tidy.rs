//! House rules that a machine can check: every source file says what it is, data cannot reach a panic, and
//! physics does not know about files, JSON or the browser.

use std::fs;
use std::path::{Path, PathBuf};

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            found.push(path);
        }
    }
}

fn all_sources() -> Vec<(String, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut found = Vec::new();
    sources(&root.join("src"), &mut found);
    assert!(found.len() > 20, "only {} files under src", found.len());
    found
        .into_iter()
        .map(|path| {
            let name = path.strip_prefix(root).unwrap().display().to_string();
            (name, fs::read_to_string(&path).unwrap())
        })
        .collect()
}

/// The part of a file before its unit tests.
fn without_tests(text: &str) -> &str {
    text.split("#[cfg(test)]").next().unwrap_or(text)
}

#[test]
fn every_source_file_begins_with_what_it_is() {
    for (name, text) in all_sources() {
        let first = text.lines().next().unwrap_or_default();
        assert!(first.starts_with("//! ") && first.len() > 20, "{name}: {first}");
    }
}

#[test]
fn no_panic_on_a_path_that_data_can_reach() {
    let forbidden =
        [".unwrap()", ".expect(", "panic!(", "todo!(", "unimplemented!(", "unreachable!("];
    for (name, text) in all_sources() {
        for (number, line) in without_tests(&text).lines().enumerate() {
            let code = line.split("//").next().unwrap_or(line);
            for word in forbidden {
                assert!(!code.contains(word), "{name}:{}: {word}", number + 1);
            }
        }
    }
}

#[test]
fn physics_knows_no_files_json_or_browser() {
    let physics = [
        "air",
        "weather",
        "convection",
        "fluid",
        "converter",
        "cooler",
        "network",
        "solver",
        "timeline",
        "transmission",
        "trace",
        "simulate",
        "engine",
        "fluid_life",
        "vehicle",
        "pass",
    ];
    let strangers = ["serde", "std::fs", "std::io", "std::time", "web_sys", "wasm_bindgen"];
    for (name, text) in all_sources() {
        let module = name.trim_start_matches("src/").trim_end_matches(".rs");
        if physics.contains(&module) || module.starts_with("hydraulics/") {
            for stranger in strangers {
                assert!(!without_tests(&text).contains(stranger), "{name} uses {stranger}");
            }
        }
    }
}

#[test]
fn the_library_has_no_files_and_no_threads() {
    let binary = ["src/main.rs", "src/command/", "src/site/"];
    for (name, text) in all_sources() {
        if !binary.iter().any(|part| name.starts_with(part)) {
            for stranger in ["std::fs", "std::io", "std::thread"] {
                assert!(!without_tests(&text).contains(stranger), "{name} uses {stranger}");
            }
        }
    }
}

#[test]
fn only_the_wasm_members_know_the_browser() {
    for (name, text) in all_sources() {
        if !["src/wasm/", "src/jobs/", "src/site/"].iter().any(|folder| name.starts_with(folder)) {
            assert!(!text.contains("wasm_bindgen") && !text.contains("web_sys"), "{name}");
        }
    }
}

/// What a trial leaves behind is not taken along.
#[test]
fn the_top_level_holds_what_it_should() {
    let known = [
        "Cargo.lock",
        "Cargo.toml",
        "DEVELOPERS.md",
        "LICENSE",
        "README.md",
        "docs",
        "rustfmt.toml",
        "scenarios",
        "src",
        "target",
        "tests",
        "www",
    ];
    for entry in std::fs::read_dir(env!("CARGO_MANIFEST_DIR")).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        assert!(name.starts_with('.') || known.contains(&name.as_str()), "{name} at the top level");
    }
}
