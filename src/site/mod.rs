//! The page as a static site: from the sources to a set of files, written to a folder or served.
//!
//! A [`Site`] is a map from relative address to bytes, made in memory:
//!
//! - `compile` turns `src/wasm` into the core of the page and `src/jobs` into that of its worker, WebAssembly and its
//!   JavaScript glue;
//! - `split` parts that core into what a page needs at once and what comes later;
//! - `known` writes down what the page knows without a day: tables, cars, examples;
//! - `prose` puts texts of `docs/` into the pages that show them, `answer` the computed answer of the first example;
//! - `bundle` makes few scripts of the many modules of `www/`: `script` finds the addresses in one, `module` its names,
//!   `thin` takes away what no browser needs;
//! - `assemble` lays them and `www/` out so that no browser can mix files of two builds;
//! - `single` makes one file of them instead, which works from a disk; `tags` finds the addresses in HTML;
//! - `folder` writes a site to a folder and reads it back;
//! - `serve` answers a browser from the site in memory, and `watch` says when the sources changed.
//!
//! Because the server only looks addresses up in that map, it cannot reach any other file.
//!
//! Not here: anything the page does (that is `www/`), and serving to other machines.

mod answer;
mod assemble;
mod bundle;
mod compile;
mod folder;
mod known;
mod module;
mod prose;
mod script;
mod serve;
mod single;
mod split;
mod tags;
mod thin;
mod watch;

use std::collections::BTreeMap;
use std::io::Write;
use std::path::{Path, PathBuf};

use flate2::Compression;
use flate2::write::GzEncoder;
use stallheat::error::{Error, ErrorKind};

pub use folder::BuildReport;
pub use serve::{PORT, ServeOptions, serve};

/// What stands in for the service worker in a build that is not kept by browsers: it clears what they kept.
const KILL_SWITCH: &str = "sw-off.js";

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

/// What a build of one file wrote.
#[derive(Debug)]
pub struct SingleReport {
    pub bytes: usize,
    /// As a host or a mail program would pack it.
    pub gzip_bytes: usize,
}

/// Builds the page from the sources in `root` as the one file `out`.
pub fn build_single(root: &Path, out: &Path) -> Result<SingleReport, Error> {
    folder::check_file(root, out, single::MADE_BY)?;
    let html = single::single(scripts_bundled(root)?)?;
    folder::write_whole(out, &html)?;
    let gzip_bytes = packed(&html)?.len();
    Ok(SingleReport { bytes: html.len(), gzip_bytes })
}

/// Builds the page from the sources in `root`, in memory.
fn make(root: &Path, offline: bool) -> Result<Site, Error> {
    assemble::assemble(scripts_bundled(root)?, offline)
}

/// The files of `www/` and what was compiled for the browser, with the scripts put together.
fn scripts_bundled(root: &Path) -> Result<BTreeMap<String, Vec<u8>>, Error> {
    let mut sources = pages(root)?;
    sources.extend(compile::compile(root)?);
    bundle::bundled(sources)
}

/// The files of `www/`, with the texts of `docs/` that they show, and the scripts of tables.
fn pages(root: &Path) -> Result<BTreeMap<String, Vec<u8>>, Error> {
    let mut pages = folder::read_tree(&root.join("www"))?;
    for (name, bytes) in pages.iter_mut().filter(|(name, _)| name.ends_with(".html")) {
        let page = prose::with_texts(root, name, assemble::text_of(name, bytes)?)?;
        *bytes = answer::with_answer(&page)?.into_bytes();
    }
    pages.extend(known::scripts()?);
    Ok(pages)
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

/// Bytes packed with gzip.
fn packed(bytes: &[u8]) -> Result<Vec<u8>, Error> {
    let mut encoder = GzEncoder::new(Vec::new(), Compression::best());
    encoder.write_all(bytes).and_then(|()| encoder.finish()).map_err(|cause| {
        Error::new(
            ErrorKind::Build,
            "gzip",
            cause.to_string(),
            "memory enough to pack a file",
            "Try it again; if that does not help, report it.",
        )
    })
}

/// The media type of a file, by the end of its name.
fn media_type(name: &str) -> &'static str {
    match name.rsplit_once('.').map(|(_, extension)| extension) {
        Some("html") => "text/html; charset=utf-8",
        Some("js" | "mjs") => "text/javascript; charset=utf-8",
        Some("css") => "text/css; charset=utf-8",
        Some("wasm") => "application/wasm",
        Some("svg") => "image/svg+xml",
        Some("png") => "image/png",
        Some("json") => "application/json",
        Some("webmanifest") => "application/manifest+json",
        Some("csv") => "text/csv; charset=utf-8",
        Some("txt" | "md") => "text/plain; charset=utf-8",
        _ => "application/octet-stream",
    }
}

fn is_root(folder: &Path) -> bool {
    ["Cargo.toml", "src/wasm/Cargo.toml", "www/index.html"]
        .iter()
        .all(|name| folder.join(name).is_file())
}
