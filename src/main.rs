//! The command line: its subcommands, and what becomes of their results. Messages go to stderr, results to stdout.
//!
//! Exit codes: 0 done, 1 the input is bad or the work failed, 2 the command line itself is wrong. Each larger command
//! has a file of its own in `command`.

mod command;
mod site;

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Parser, Subcommand};
use command::{band, bench, check, compare, fit, io, pages, pictures, plan, simulate, size, sweep};
use stallheat::scenario::schema;

#[derive(Debug, Parser)]
#[command(version, about, arg_required_else_help = true)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Compute a day and report launches, ledger and cautions
    Simulate(simulate::SimulateArgs),
    /// Compute many days: scenarios as JSON lines in, results as JSON lines out
    Sweep(sweep::SweepArgs),
    /// Compute two to four days and say what differs
    Compare(compare::CompareArgs),
    /// Say what to do between rounds, so that the launches are alike and in the window
    Plan(plan::PlanArgs),
    /// Find the cooler, pump, fan, fluid volume or time on the brake that meets an aim
    Size(size::SizeArgs),
    /// Say how far the numbers of a day can be trusted, and what they hang on
    Band(band::BandArgs),
    /// Fit a set-up to readings from the bench or the car
    Fit(fit::FitArgs),
    /// Hold a bench test's readings against what is expected of the unit, and make the customer's sheet
    Bench(bench::BenchArgs),
    /// Check a scenario file without computing
    Check {
        /// Scenario file, or - for standard input
        file: PathBuf,
    },
    /// Draw the pictures of the documents from an example day
    Pictures(pictures::PicturesArgs),
    /// Print the JSON Schema of scenario files
    Schema,
    /// Build the page if needed and serve it on this machine
    Serve(pages::ServeArgs),
    /// Build the page as a folder that any web server can serve
    Build(pages::BuildArgs),
}

fn main() -> ExitCode {
    let done = match Cli::parse().command {
        Command::Simulate(args) => simulate::run(&args),
        Command::Sweep(args) => match sweep::run(&args) {
            Ok(code) => return code,
            Err(error) => Err(error),
        },
        Command::Compare(args) => compare::run(&args),
        Command::Plan(args) => plan::run(&args),
        Command::Size(args) => size::run(&args),
        Command::Band(args) => band::run(&args),
        Command::Fit(args) => fit::run(&args),
        Command::Bench(args) => bench::run(&args),
        Command::Check { file } => check::run(&file),
        Command::Schema => io::print(&format!("{:#}\n", schema::schema())),
        Command::Pictures(args) => pictures::run(&args),
        Command::Serve(args) => pages::serve(args),
        Command::Build(args) => pages::build(&args),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            io::complain(&error);
            ExitCode::FAILURE
        }
    }
}
