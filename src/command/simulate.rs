//! `stallheat simulate`: one day, as report, JSON, CSV or drawing.

use std::path::{Path, PathBuf};

use clap::Args;
use clap::builder::PossibleValuesParser;
use stallheat::chart::{self, Picture};
use stallheat::error::{Error, ErrorKind};
use stallheat::report;
use stallheat::scenario::tables::{MAX_CHARS, TABLES};
use stallheat::scenario::{self, Scenario};
use stallheat::simulate::simulate;
use stallheat::timeline::Node;
use stallheat::trace::Trace;
use stallheat::units::System;

use super::Units;
use super::io::{print, read_text, write_picture};

#[derive(Debug, Args)]
pub struct SimulateArgs {
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
    /// Also draw a picture into this SVG file
    #[arg(long, value_name = "OUT")]
    svg: Option<PathBuf>,
    /// Which picture; of a pass, that of the last launch
    #[arg(long, requires = "svg", default_value = "temperatures", value_parser = PossibleValuesParser::new(Picture::ALL.map(Picture::key)))]
    picture: String,
    /// Units of report, CSV and drawing
    #[arg(long, value_enum, default_value_t = Units::Us)]
    units: Units,
}

/// Reads, simulates and prints.
pub fn run(args: &SimulateArgs) -> Result<(), Error> {
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
        let picture = Picture::of_key(&args.picture).unwrap_or_default();
        let drawing = svg(&scenario, &trace, system, picture)?;
        write_picture(out, &drawing)?;
    }
    if args.json {
        print(&format!("{}\n", report::json(&scenario, &trace)))
    } else if args.csv {
        print(&report::csv(&trace, system))
    } else {
        print(&report::text(&scenario, &trace, system))
    }
}

/// A picture as a file of its own, names at the lines.
fn svg(
    scenario: &Scenario,
    trace: &Trace,
    system: System,
    picture: Picture,
) -> Result<String, Error> {
    let options = chart::Options {
        picture,
        launch: trace.launches.len().saturating_sub(1),
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
            "a picture that this day has",
            "Choose another with --picture.",
        )
    })
}
