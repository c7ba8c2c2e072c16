//! The page as a static site: from the sources to a set of files, written to a folder or served.
//!
//! A [`Site`] is a map from relative address to bytes, made in memory:
//!
//! - `compile` turns `src/wasm` into the core of the page and `src/jobs` into that of its worker, WebAssembly and its
//!   JavaScript glue;
//! - `assemble` lays them and `www/` out so that no browser can mix files of two builds;
//! - `folder` writes a site to a folder and reads it back;
//! - `serve` answers a browser from the site in memory, and `watch` says when the sources changed.
//!
//! Because the server only looks addresses up in that map, it cannot reach any other file.
//!
//! Not here: anything the page does (that is `www/`), and serving to other machines.

mod assemble;
mod compile;
mod folder;
mod serve;
mod thin;
mod watch;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use stallheat::error::{Error, ErrorKind};

pub use folder::BuildReport;
pub use serve::{PORT, ServeOptions, serve};

/// All files of the page, by address relative to the page's own.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Site {
    /// Sixteen hexadecimal digits that change with any byte of the page.
    pub version: String,
    pub files: BTreeMap<String, Vec<u8>>,
}

/// Builds the page from the sources in `root` and writes it to the folder `out`. `offline`: whether browsers keep it.
pub fn build(root: &Path, out: &Path, offline: bool) -> Result<BuildReport, Error> {
    folder::check(root, out)?;
    let site = make(root, offline)?;
    folder::write(&site, out)
}

/// Builds the page from the sources in `root`, in memory.
fn make(root: &Path, offline: bool) -> Result<Site, Error> {
    let pages = folder::read_tree(&root.join("www"))?;
    let compiled = compile::compile(root)?;
    assemble::assemble(pages, compiled, offline)
}

/// The folder of the sources: the one this program was built from or, if that is gone, the one around
/// the current folder.
pub fn find_root() -> Result<PathBuf, Error> {
    let built_from = PathBuf::from(env!("CARGO_MANIFEST_DIR"));
    let here = std::env::current_dir().unwrap_or_default();
    std::iter::once(built_from.as_path())
        .chain(here.ancestors())
        .find(|folder| is_root(folder))
        .map(Path::to_path_buf)
        .ok_or_else(|| {
            Error::new(
                ErrorKind::Build,
                "sources",
                format!("not in {}", built_from.display()),
                "a folder with Cargo.toml, src/wasm/Cargo.toml and www/index.html",
                "Run this from inside the source folder: the page is built from its sources.",
            )
        })
}

fn is_root(folder: &Path) -> bool {
    ["Cargo.toml", "src/wasm/Cargo.toml", "www/index.html"]
        .iter()
        .all(|name| folder.join(name).is_file())
}
