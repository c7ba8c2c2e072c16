//! `docs/dependencies.md` lists every direct dependency of every manifest, with the version of the lock, a reason and the
//! licence that the package states; `.cargo/deny.toml` is there to check the indirect ones (`cargo deny check`).

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn read(path: impl AsRef<Path>) -> String {
    let path = root().join(path);
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// Version and licence of a dependency by its name; `None` is not known here.
type Stated = BTreeMap<String, (String, Option<String>)>;

/// The tables of the document: by manifest, name to (version, reason, licence).
fn listed() -> BTreeMap<String, BTreeMap<String, [String; 3]>> {
    let mut tables: BTreeMap<String, BTreeMap<String, [String; 3]>> = BTreeMap::new();
    let mut manifest = None;
    for line in read("docs/dependencies.md").lines() {
        if let Some(heading) = line.strip_prefix("## ") {
            // What follows the tables is prose.
            manifest = root().join(heading).is_file().then(|| heading.to_string());
        }
        let (Some(manifest), Some(row)) = (&manifest, line.strip_prefix("| ")) else { continue };
        let cells: Vec<&str> = row.trim_end_matches(" |").split(" | ").collect();
        let [name, version, reason, licence] = cells[..] else { panic!("{line}") };
        if name != "name" {
            let row = [version, reason, licence].map(String::from);
            let before = tables.entry(manifest.clone()).or_default().insert(name.into(), row);
            assert!(before.is_none(), "{name} stands twice under {manifest}");
        }
    }
    tables
}

/// All manifests in the repository, those of built and fetched things left out.
fn manifests() -> Vec<String> {
    let mut found = Vec::new();
    let mut folders = vec![PathBuf::new()];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(root().join(&folder)).unwrap() {
            let name = entry.unwrap().file_name().into_string().unwrap();
            let path = folder.join(&name);
            let apart = matches!(name.as_str(), "target" | "node_modules" | "dist" | "corpus");
            if root().join(&path).is_dir() && !apart && !name.starts_with('.') {
                folders.push(path);
            } else if matches!(name.as_str(), "Cargo.toml" | "package.json" | "requirements.txt") {
                found.push(path.to_str().unwrap().replace('\\', "/"));
            }
        }
    }
    found.sort();
    found
}

/// Direct dependencies of the workspace's members, as cargo resolves them.
fn of_workspace() -> BTreeMap<String, Stated> {
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--format-version", "1", "--locked"])
        .current_dir(root())
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let metadata: Value = serde_json::from_slice(&output.stdout).unwrap();
    let packages: BTreeMap<&str, &Value> = metadata["packages"]
        .as_array()
        .unwrap()
        .iter()
        .map(|package| (package["id"].as_str().unwrap(), package))
        .collect();
    let mut all = BTreeMap::new();
    for node in metadata["resolve"]["nodes"].as_array().unwrap() {
        let package = packages[node["id"].as_str().unwrap()];
        if !package["source"].is_null() {
            continue;
        }
        let path = Path::new(package["manifest_path"].as_str().unwrap());
        let path = path.strip_prefix(root()).unwrap().to_str().unwrap().replace('\\', "/");
        let stated: Stated = node["deps"]
            .as_array()
            .unwrap()
            .iter()
            .map(|dependency| packages[dependency["pkg"].as_str().unwrap()])
            .filter(|package| !package["source"].is_null())
            .map(|package| {
                let text = |key: &str| package[key].as_str().unwrap_or_default().to_string();
                (text("name"), (text("version"), Some(text("license"))))
            })
            .collect();
        all.insert(path, stated);
    }
    all
}

/// Direct dependencies of a manifest outside of the workspace, with the versions of the lock beside it.
fn of_lone_package(manifest: &str) -> Stated {
    let text = read(manifest);
    let lock = read(manifest.replace("Cargo.toml", "Cargo.lock"));
    let mut part = "";
    let mut stated = Stated::new();
    for line in text.lines() {
        if line.starts_with('[') {
            part = line.trim_matches(['[', ']']);
        } else if part.ends_with("dependencies")
            && let Some((name, said)) = line.split_once(" = ")
            && !said.contains("path =")
        {
            let version = lock
                .split("[[package]]")
                .find(|package| package.contains(&format!("\nname = \"{name}\"\n")))
                .and_then(|package| package.split("version = \"").nth(1)?.split('"').next());
            stated.insert(name.into(), (version.unwrap_or_default().into(), None));
        }
    }
    stated
}

/// Dependencies of a package.json of whatever kind, with what the lock beside it says of them.
fn of_node(manifest: &str) -> Stated {
    let package: Value = serde_json::from_str(&read(manifest)).unwrap();
    let lock = read(manifest.replace("package.json", "package-lock.json"));
    let lock: Value = serde_json::from_str(&lock).unwrap();
    let mut stated = Stated::new();
    for part in ["dependencies", "devDependencies", "optionalDependencies"] {
        for name in package[part].as_object().into_iter().flat_map(|map| map.keys()) {
            let locked = &lock["packages"][format!("node_modules/{name}")];
            let text = |key: &str| locked[key].as_str().map(String::from);
            stated.insert(name.clone(), (text("version").unwrap_or_default(), text("license")));
        }
    }
    stated
}

fn of_python(manifest: &str) -> Stated {
    let lines = read(manifest);
    let pinned = lines.lines().filter(|line| !line.trim().is_empty() && !line.starts_with('#'));
    pinned
        .map(|line| {
            let (name, version) =
                line.split_once("==").unwrap_or_else(|| panic!("{line} is not pinned"));
            (name.trim().into(), (version.trim().into(), None))
        })
        .collect()
}

#[test]
fn every_direct_dependency_is_listed_with_version_reason_and_licence() {
    let listed = listed();
    let workspace = of_workspace();
    let mut wrong = Vec::new();
    for manifest in manifests() {
        let stated = match workspace.get(&manifest) {
            Some(stated) => stated.clone(),
            None if manifest.ends_with("Cargo.toml") => of_lone_package(&manifest),
            None if manifest.ends_with("package.json") => of_node(&manifest),
            None => of_python(&manifest),
        };
        let none = BTreeMap::new();
        let rows = listed.get(&manifest).unwrap_or(&none);
        for (name, (version, licence)) in &stated {
            let licence = licence.as_deref().unwrap_or("?");
            match rows.get(name) {
                None => wrong.push(format!("{manifest}: {name} {version} ({licence}) is missing")),
                Some([said, reason, under]) => {
                    if said != version {
                        wrong.push(format!("{manifest}: {name} is {version}, not {said}"));
                    }
                    if licence != "?" && under != licence {
                        wrong.push(format!("{manifest}: {name} is under {licence}, not {under}"));
                    }
                    if reason.len() < 5 || under.len() < 3 {
                        wrong.push(format!("{manifest}: {name} lacks its reason or licence"));
                    }
                }
            }
        }
        let gone = rows.keys().filter(|name| !stated.contains_key(*name));
        wrong.extend(gone.map(|name| format!("{manifest}: {name} is listed, but not used")));
    }
    assert!(wrong.is_empty(), "docs/dependencies.md:\n{}", wrong.join("\n"));
    assert!(listed.len() >= 6, "{:?}", listed.keys());
}
