//! The command line: one subcommand, one function. Messages go to stderr, results to stdout.
//!
//! Exit codes: 0 done, 1 the input is bad or the work failed, 2 the command line itself is wrong.

mod site;

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, Parser, Subcommand};
use stallheat::error::Error;

#[derive(Debug, Parser)]
#[command(version, about, arg_required_else_help = true)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Build the page if needed and serve it on this machine
    Serve(ServeArgs),
    /// Build the page as a folder that any web server can serve
    Build(BuildArgs),
}

#[derive(Debug, Args)]
struct ServeArgs {
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
struct BuildArgs {
    /// Folder to write to: new, empty, or written by an earlier build
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
}

fn main() -> ExitCode {
    let done = match Cli::parse().command {
        Command::Serve(args) => serve(args),
        Command::Build(args) => build(&args),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("stallheat: {error}");
            ExitCode::FAILURE
        }
    }
}

fn serve(args: ServeArgs) -> Result<(), Error> {
    let options = site::ServeOptions { port: args.port, watch: !args.no_watch, built: args.built };
    site::serve(site::find_root, &options)
}

fn build(args: &BuildArgs) -> Result<(), Error> {
    let report = site::build(&site::find_root()?, &args.out)?;
    for (name, size_bytes) in &report.sizes_bytes {
        println!("{size_bytes:>9}  {name}");
    }
    let (total, out) = (report.total_bytes(), report.out.display());
    println!("{total:>9}  bytes in {out}, version {}", report.version);
    Ok(())
}
