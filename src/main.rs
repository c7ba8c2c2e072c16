//! The command line: one subcommand, one function. Messages go to stderr, results to stdout.
//!
//! Exit codes: 0 done, 1 the input is bad or the work failed, 2 the command line itself is wrong.

mod site;

use std::fs::File;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Args, Parser, Subcommand, ValueEnum};
use stallheat::error::{Error, ErrorKind};
use stallheat::scenario::tables::{MAX_CHARS, TABLES};
use stallheat::scenario::{self, Scenario};
use stallheat::simulate::simulate;
use stallheat::timeline::Node;
use stallheat::trace::Trace;
use stallheat::units::System;
use stallheat::{chart, report};

#[derive(Debug, Parser)]
#[command(version, about, arg_required_else_help = true)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Compute a day and report launches, ledger and cautions
    Simulate(SimulateArgs),
    /// Check a scenario file without computing
    Check {
        /// Scenario file, or - for standard input
        file: PathBuf,
    },
    /// Print the JSON Schema of scenario files
    Schema,
    /// Build the page if needed and serve it on this machine
    Serve(ServeArgs),
    /// Build the page as a folder that any web server can serve
    Build(BuildArgs),
}

#[derive(Debug, Args)]
struct SimulateArgs {
    /// Scenario file, or - for standard input
    file: PathBuf,
    /// Take the converter from this table of comma-separated values: speed_ratio, torque_ratio, capacity or k_factor
    #[arg(long, value_name = "CSV")]
    converter: Option<PathBuf>,
    /// Take the engine from this table: engine_speed, torque
    #[arg(long, value_name = "CSV")]
    torque_curve: Option<PathBuf>,
    /// Print the whole day as JSON, in SI
    #[arg(long, conflicts_with = "csv")]
    json: bool,
    /// Print temperatures over time as CSV
    #[arg(long)]
    csv: bool,
    /// Also draw the temperatures into this SVG file
    #[arg(long, value_name = "OUT")]
    svg: Option<PathBuf>,
    /// Units of report, CSV and drawing
    #[arg(long, value_enum, default_value_t = Units::Us)]
    units: Units,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Units {
    /// °F, Btu
    Us,
    /// °C, kJ
    Si,
}

impl From<Units> for System {
    fn from(units: Units) -> System {
        match units {
            Units::Us => System::Us,
            Units::Si => System::Si,
        }
    }
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
        Command::Simulate(args) => run_simulate(&args),
        Command::Check { file } => check(&file),
        Command::Schema => print(&format!("{:#}\n", scenario::schema::schema())),
        Command::Serve(args) => serve(args),
        Command::Build(args) => build(&args),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            complain(&error);
            ExitCode::FAILURE
        }
    }
}

fn run_simulate(args: &SimulateArgs) -> Result<(), Error> {
    let mut tables = Vec::new();
    for (key, file) in [("table", &args.converter), ("torque_curve", &args.torque_curve)] {
        if let Some(file) = file
            && let Some(table) = TABLES.iter().find(|table| table.key == key)
        {
            tables.push((table, read_text(file, MAX_CHARS, "a table")?));
        }
    }
    let text = read_text(&args.file, scenario::MAX_BYTES, "a scenario")?;
    let scenario = scenario::parse_with_tables(&text, &tables)?;
    let trace = simulate(&scenario)?;
    let system = System::from(args.units);
    if let Some(out) = &args.svg {
        let same = |a: &Path, b: &Path| match (a.canonicalize(), b.canonicalize()) {
            (Ok(a), Ok(b)) => a == b,
            _ => false,
        };
        if same(out, &args.file) {
            return Err(Error::new(
                ErrorKind::File,
                "--svg",
                out.display().to_string(),
                "a file other than the scenario",
                "Give the drawing a name of its own.",
            ));
        }
        let drawing = svg(&scenario, &trace, system)?;
        std::fs::write(out, drawing).map_err(|error| file_error(out, &error.to_string()))?;
    }
    if args.json {
        print(&format!("{}\n", report::json(&scenario, &trace)))
    } else if args.csv {
        print(&report::csv(&trace, system))
    } else {
        print(&report::text(&scenario, &trace, system))
    }
}

fn check(file: &Path) -> Result<(), Error> {
    let scenario = scenario::parse(&read_text(file, scenario::MAX_BYTES, "a scenario")?)?;
    let events: usize = scenario.blocks.iter().map(|block| block.events.len()).sum();
    let rounds = scenario.blocks.iter().filter(|block| block.round.is_some()).count();
    print(&format!("{}: good; {events} events, {rounds} rounds\n", scenario.name))
}

/// The temperature chart as a file of its own, names at the lines.
fn svg(scenario: &Scenario, trace: &Trace, system: System) -> Result<String, Error> {
    let options = chart::Options {
        width_px: 1000.0,
        height_px: 460.0,
        system,
        nodes: Node::ALL.to_vec(),
        names: true,
        paper: true,
        ..chart::Options::default()
    };
    chart::svg(scenario, trace, &options).map_err(|error| {
        Error::new(
            ErrorKind::File,
            "--svg",
            error.0,
            "a drawing of the temperatures",
            "Report this with the scenario file.",
        )
    })
}

/// Reads a text file, or standard input for `-`; never more than the largest allowed size.
fn read_text(file: &Path, most_bytes: usize, what: &str) -> Result<String, Error> {
    let most = most_bytes as u64 + 1;
    let mut bytes = Vec::new();
    let read = if file == Path::new("-") {
        std::io::stdin().lock().take(most).read_to_end(&mut bytes)
    } else {
        File::open(file).and_then(|opened| opened.take(most).read_to_end(&mut bytes))
    };
    read.map_err(|error| file_error(file, &error.to_string()))?;
    if bytes.len() > most_bytes {
        let limit = if most_bytes >= 1_000_000 {
            format!("{} MB", most_bytes / 1_000_000)
        } else {
            format!("{} kB", most_bytes / 1_000)
        };
        return Err(Error::new(
            ErrorKind::TooLarge,
            file.display().to_string(),
            format!("more than {limit}"),
            format!("{what} has at most {limit}"),
            "Check that this is the right file, or make it shorter.",
        ));
    }
    String::from_utf8(bytes).map_err(|error| {
        file_error(file, &format!("not UTF-8 text, from byte {}", error.utf8_error().valid_up_to()))
    })
}

fn file_error(file: &Path, reason: &str) -> Error {
    let reason = reason.split(" (os error").next().unwrap_or(reason);
    Error::new(
        ErrorKind::File,
        file.display().to_string(),
        reason,
        "a file that can be read and written here, in UTF-8",
        "Check the path and the permissions.",
    )
}

/// Prints to stdout. A reader that stops listening (`| head`) is no error.
fn print(text: &str) -> Result<(), Error> {
    match std::io::stdout().lock().write_all(text.as_bytes()) {
        Ok(()) => Ok(()),
        Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => Ok(()),
        Err(error) => Err(file_error(Path::new("standard output"), &error.to_string())),
    }
}

/// Says an error on stderr; a stderr that nobody reads does not matter.
fn complain(error: &Error) {
    let _ = writeln!(std::io::stderr().lock(), "stallheat: {error}");
}

fn serve(args: ServeArgs) -> Result<(), Error> {
    let options = site::ServeOptions { port: args.port, watch: !args.no_watch, built: args.built };
    site::serve(site::find_root, &options)
}

fn build(args: &BuildArgs) -> Result<(), Error> {
    let report = site::build(&site::find_root()?, &args.out)?;
    let mut lines = String::new();
    for (name, size_bytes) in &report.sizes_bytes {
        lines += &format!("{size_bytes:>9}  {name}\n");
    }
    let (total, out) = (report.total_bytes(), report.out.display());
    lines += &format!("{total:>9}  bytes in {out}, version {}\n", report.version);
    print(&lines)
}
