//! `stallheat serve` and `stallheat build`: the page, by `site`.

use std::path::PathBuf;

use clap::Args;
use stallheat::error::Error;

use super::io::print;
use crate::site;

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
    /// Folder to write to: new, empty, or written by an earlier build
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
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
    let report = site::build(&site::find_root()?, &args.out, !args.without_offline)?;
    let mut lines = String::new();
    for (name, size_bytes) in &report.sizes_bytes {
        lines += &format!("{size_bytes:>9}  {name}\n");
    }
    let (total, out) = (report.total_bytes(), report.out.display());
    lines += &format!("{total:>9}  bytes in {out}, version {}\n", report.version);
    print(&lines)
}
