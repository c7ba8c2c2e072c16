//! `stallheat serve` and `stallheat build`: the page, by `site`.

use std::path::PathBuf;

use clap::Args;
use stallheat::error::Error;

use super::io::print;
use crate::site;

/// Where one file goes if nothing is said.
const SINGLE: &str = "stallheat.html";

#[derive(Debug, Args)]
pub struct ServeArgs {
    /// Port to listen on; the next free one if it is taken, 0 for any
    #[arg(long, default_value_t = site::PORT)]
    port: u16,
    /// Do not rebuild when a source file changes
    #[arg(long)]
    no_watch: bool,
    /// Serve this folder, written by `build`, as it is
    #[arg(long, value_name = "DIR")]
    built: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub struct BuildArgs {
    /// Folder to write to: new, empty, or written by an earlier build; with --single a file, stallheat.html if not named
    #[arg(long, value_name = "DIR|FILE.html", required_unless_present = "single")]
    out: Option<PathBuf>,
    /// Write one HTML file that works from a disk, without any host
    #[arg(long, conflicts_with = "without_offline")]
    single: bool,
    /// Browsers do not keep the page for use without signal, and clear what an earlier build had them keep
    #[arg(long)]
    without_offline: bool,
}

/// Serves the page until stopped.
pub fn serve(args: ServeArgs) -> Result<(), Error> {
    let options = site::ServeOptions { port: args.port, watch: !args.no_watch, built: args.built };
    site::serve(site::find_root, &options)
}

/// Builds the page and lists what it weighs.
pub fn build(args: &BuildArgs) -> Result<(), Error> {
    let out = args.out.clone().unwrap_or_else(|| PathBuf::from(SINGLE));
    if args.single {
        let report = site::build_single(&site::find_root()?, &out)?;
        let (bytes, gzip, out) = (report.bytes, report.gzip_bytes, out.display());
        return print(&format!("{bytes:>9}  bytes in {out}, {gzip} as gzip\n"));
    }
    let report = site::build(&site::find_root()?, &out, !args.without_offline)?;
    let mut lines = String::new();
    for (name, size_bytes) in &report.sizes_bytes {
        lines += &format!("{size_bytes:>9}  {name}\n");
    }
    let (total, out) = (report.total_bytes(), report.out.display());
    lines += &format!("{total:>9}  bytes in {out}, version {}\n", report.version);
    print(&lines)
}
