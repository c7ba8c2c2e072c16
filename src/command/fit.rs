//! `stallheat fit`: a set-up fitted to readings from the bench or the car.

use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::{Value, json};
use stallheat::error::{Error, ErrorKind};
use stallheat::fit::{Fit, FitSummary, Free, Question, apply, fit, summary};
use stallheat::readings::{Reading, table};
use stallheat::report::wrapped;
use stallheat::scenario;
use stallheat::units::{Dimension, System, parse_quantity};

use super::Units;
use super::io::{complain, print, read_text, write_new};

#[derive(Debug, Args)]
pub struct FitArgs {
    /// Scenario file with the test's timeline, or - for standard input
    file: PathBuf,
    /// Table of readings: time, place, shown, surface; comma, semicolon or tab between the cells
    readings: PathBuf,
    /// Parameters that may move; otherwise all that carry a spread and that the readings feel
    #[arg(long, value_name = "PART.KEY,…", value_delimiter = ',')]
    free: Vec<String>,
    /// Readings to leave out, by number from 1
    #[arg(long, value_name = "N,…", value_delimiter = ',')]
    without: Vec<usize>,
    /// When the readings' clock was started, from the start of the timeline: "8 min"
    #[arg(long, value_name = "T", default_value = "0 s", allow_hyphen_values = true)]
    start: String,
    /// Write the fitted scenario to this file, which must not be there yet
    #[arg(long, value_name = "OUT")]
    out: Option<PathBuf>,
    /// Let --out write over a file
    #[arg(long, requires = "out")]
    force: bool,
    /// Print as JSON
    #[arg(long)]
    json: bool,
    /// Units of report and JSON
    #[arg(long, value_enum, default_value_t = Units::Us)]
    units: Units,
}

/// Reads, fits, prints; and writes the fitted scenario if asked.
pub fn run(args: &FitArgs) -> Result<(), Error> {
    let text = read_text(&args.file, scenario::MAX_BYTES, "a scenario")?;
    let scenario = scenario::parse(&text)?;
    let readings = read_readings(args)?;
    let count = readings.len();
    if let Some(number) = args.without.iter().find(|number| !(1..=count).contains(*number)) {
        return Err(Error::new(
            ErrorKind::OutOfRange,
            "--without",
            number.to_string(),
            format!("1 to {count}, the number of a reading"),
            "Count the rows without the first line that names the columns.",
        ));
    }
    let question = Question {
        scenario: &scenario,
        readings: &readings,
        free: if args.free.is_empty() {
            Free::Felt
        } else {
            Free::Named(args.free.iter().map(|path| path.trim().to_string()).collect())
        },
        without: args.without.iter().map(|number| number - 1).collect(),
    };
    let fitted = fit(&question, &mut |_| {})?;
    let said = summary(&question, &fitted, System::from(args.units));
    let written = apply(&text, &fitted)?;
    if let Some(out) = &args.out {
        // What is written is read again, as whoever opens it will.
        scenario::parse(&written)?;
        write_new(out, &format!("{written}\n"), args.force)?;
    }
    if args.json {
        print(&format!("{}\n", in_json(&said, &fitted)))
    } else {
        print(&in_text(args, &said, &fitted))
    }
}

/// The readings, shifted to the timeline's clock. All rows that cannot be read are named.
fn read_readings(args: &FitArgs) -> Result<Vec<Reading>, Error> {
    if args.file == Path::new("-") && args.readings == Path::new("-") {
        return Err(Error::new(
            ErrorKind::File,
            "-",
            "scenario and readings both from standard input",
            "one of them",
            "Give the other as a file.",
        ));
    }
    let start_s = parse_quantity(Dimension::Time, &args.start).map_err(|_| {
        Error::new(
            ErrorKind::WrongUnit,
            "--start",
            args.start.as_str(),
            "a time with its unit: s, min, h",
            "Write for example --start \"8 min\".",
        )
    })?;
    let text = read_text(&args.readings, table::MAX_BYTES, "a table of readings")?;
    let table = table::read(&text)?;
    if !table.ignored.is_empty() {
        complain(format_args!("columns not used: {}", table.ignored.join(", ")));
    }
    let mut readings = table.readings().map_err(|mut errors| {
        // In the order of the lines; the last one is said by whoever gets it.
        let last = errors.pop();
        errors.iter().for_each(complain);
        last.unwrap_or_else(|| {
            Error::new(ErrorKind::Missing, "readings", "none", "at least one", "Add readings.")
        })
    })?;
    for reading in &mut readings {
        reading.time_s += start_s;
    }
    Ok(readings)
}

fn in_json(said: &FitSummary, fitted: &Fit) -> Value {
    let path = |i: usize| fitted.parameters[i].parameter.path();
    let pairs: Vec<Value> = fitted
        .together
        .iter()
        .map(|together| {
            let (a, b) = together.pair;
            json!({ "parameters": [path(a), path(b)], "correlation": together.correlation })
        })
        .collect();
    let kept: Vec<usize> =
        (0..fitted.parameters.len()).filter(|i| fitted.parameters[*i].kept).collect();
    let row = |a: &usize| kept.iter().map(|b| fitted.correlation[(*a, *b)]).collect();
    let matrix: Vec<Vec<f64>> = kept.iter().map(row).collect();
    let paths: Vec<String> = kept.iter().map(|i| path(*i)).collect();
    json!({
        "fit": said,
        "not_told_apart": pairs,
        "correlation": { "parameters": paths, "matrix": matrix },
        "calibration": fitted.calibration.to_json(),
    })
}

fn in_text(args: &FitArgs, said: &FitSummary, fitted: &Fit) -> String {
    let unit = said.temperature_unit;
    let mut lines = vec![wrapped(&said.headline, "")];
    lines.push(String::new());
    for remark in &said.remarks {
        lines.push(wrapped(remark, "  "));
    }
    if !said.remarks.is_empty() {
        lines.push(String::new());
    }
    lines.push(format!(
        "{:<52}  {:>14}  {:>14}  {:<24}  {:>5}",
        "parameter", "stated", "fitted", "two of three lie in", "told"
    ));
    lines.push("(told: the share of the doubt about it that the readings took away)".to_string());
    let (kept, others): (Vec<_>, Vec<_>) = said.parameters.iter().partition(|line| line.kept);
    for line in &kept {
        let name: String = format!("{}: {}", line.part, line.label).chars().take(52).collect();
        lines.push(format!(
            "{name:<52}  {:>14}  {:>14}  {:<24}  {:>3.0} %",
            line.before,
            line.after,
            line.between,
            100.0 * line.told
        ));
    }
    if !others.is_empty() {
        lines.push(format!(
            "{} more stay as stated: the readings say next to nothing of them",
            others.len()
        ));
    }
    for line in &said.surfaces {
        let name = format!("Emissivity: {}, {}", line.place, line.surface);
        lines.push(format!(
            "{name:<52}  {:>14.2}  {:>14.2}  {:.2} to {:.2}",
            line.before,
            line.after,
            line.after - line.deviation,
            line.after + line.deviation
        ));
    }
    lines.push(String::new());
    lines.push("Readings, as the instrument shows them".to_string());
    lines.push(format!(
        "{:>3}  {:>8}  {:<24}  {:>9}  {:>9}  {:>9}  {:>8}  ({unit})",
        "no.", "time", "place", "read", "stated", "fitted", "off"
    ));
    for line in &said.readings {
        let number = |value: Option<f64>| value.map_or("-".to_string(), |v| format!("{v:.1}"));
        let mark = match (line.left_out, line.outlier) {
            (true, _) => "left out",
            (false, true) => "stands out",
            _ => "",
        };
        lines.push(format!(
            "{:>3}  {:>8}  {:<24}  {:>9.1}  {:>9}  {:>9}  {:>8}  {mark}",
            line.number,
            line.clock,
            line.place,
            line.shown,
            number(line.before),
            number(line.after),
            number(line.after.map(|after| line.shown - after)),
        ));
    }
    lines.push(String::new());
    lines.push(match &args.out {
        Some(out) => format!("The fitted day is in {}.", out.display()),
        None => "Nothing was changed; --out writes the fitted day.".to_string(),
    });
    lines.push(format!(
        "Parameters that hang together move together in the bands of the fitted day. {} days were simulated.",
        fitted.days
    ));
    lines.iter().map(|line| format!("{}\n", line.trim_end())).collect()
}
