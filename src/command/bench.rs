//! `stallheat bench`: a bench test's readings beside what the model expects of the unit, and the sheet for the customer.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;
use stallheat::bench::record::{self, MAX_BYTES, Record};
use stallheat::bench::words::{Judged, ReadLine, SheetSummary, judge, summary};
use stallheat::bench::{chart, html};
use stallheat::chart::Options;
use stallheat::error::{Error, ErrorKind};
use stallheat::report::wrapped;
use stallheat::units::System;

use super::Units;
use super::io::{print, read_text, write_new};

#[derive(Debug, Args)]
pub struct BenchArgs {
    /// Record of a bench test, or - for standard input
    file: PathBuf,
    /// Write the sheet for the customer to this HTML file, which must not be there yet
    #[arg(long, value_name = "OUT")]
    html: Option<PathBuf>,
    /// Let --html write over a file
    #[arg(long, requires = "html")]
    force: bool,
    /// Print as JSON
    #[arg(long)]
    json: bool,
    /// Units of report, JSON and sheet
    #[arg(long, value_enum, default_value_t = Units::Us)]
    units: Units,
}

/// Size of the sheet's chart (CSS pixels).
const CHART_PX: (f64, f64) = (700.0, 160.0);

/// Reads, judges, prints; and writes the sheet if asked.
pub fn run(args: &BenchArgs) -> Result<(), Error> {
    let record = record::parse(&read_text(&args.file, MAX_BYTES, "a bench test's record")?)?;
    let system = System::from(args.units);
    let judged = judge(&record)?;
    let said = summary(&record, &judged, system);
    if let Some(out) = &args.html {
        let chart = chart_of(&record, &judged, system)?;
        write_new(out, &html::page(&said, &chart), args.force)?;
    }
    if args.json { print(&format!("{}\n", json!(said))) } else { print(&in_text(args, &said)) }
}

fn chart_of(record: &Record, judged: &Judged, system: System) -> Result<String, Error> {
    let (width_px, height_px) = CHART_PX;
    let options = Options { width_px, height_px, system, ..Options::default() };
    chart::temperatures_svg(record, &judged.trace, &judged.expected, &options).map_err(|error| {
        Error::new(
            ErrorKind::Build,
            "chart",
            error.0,
            "a chart that can be drawn",
            "Leave --html out.",
        )
    })
}

fn in_text(args: &BenchArgs, said: &SheetSummary) -> String {
    let mut lines = vec![format!("Bench test: {}", said.title), String::new()];
    lines.extend(said.entries.iter().map(|entry| format!("  {:<14} {}", entry.label, entry.text)));
    if !said.entries.is_empty() {
        lines.push(String::new());
    }
    lines.push(wrapped(&said.headline, ""));
    for finding in &said.findings {
        let text = format!("{}. {} Look at: {}", finding.title, finding.text, finding.look);
        lines.push(wrapped(&text, "  "));
    }
    lines.push(String::new());
    lines.extend(numbers(&said.readings, said.temperature_unit));
    lines.extend(numbers(&said.pressures, said.pressure_unit));
    lines.push("Steps".to_string());
    for check in &said.checks {
        let note = if check.note.is_empty() { String::new() } else { format!(" ({})", check.note) };
        lines
            .push(format!("  {:<24} {:<24} {}{note}", check.when, check.label, check.result_label));
    }
    if !said.remarks.is_empty() {
        lines.extend([String::new(), wrapped(&said.remarks.replace('\n', " "), "")]);
    }
    lines.extend([String::new(), wrapped(said.caveat, "")]);
    lines.extend(said.cautions.iter().map(|caution| wrapped(caution, "  ")));
    if let Some(out) = &args.html {
        lines.extend([String::new(), format!("The customer's sheet is in {}.", out.display())]);
    }
    lines.iter().map(|line| format!("{}\n", line.trim_end())).collect()
}

fn numbers(of: &[ReadLine], unit: &str) -> Vec<String> {
    if of.is_empty() {
        return Vec::new();
    }
    let mut lines = vec![format!(
        "  {:>8}  {:<24}  {:<26}  {:>6}  {:>12}  ({unit})",
        "time", "place", "on", "read", "band"
    )];
    for line in of {
        let band = match (line.low, line.high) {
            (Some(low), Some(high)) => format!("{low:.0} to {high:.0}"),
            _ => "-".to_string(),
        };
        lines.push(format!(
            "  {:>8}  {:<24}  {:<26}  {:>6.0}  {band:>12}  {}",
            line.clock, line.what, line.on, line.shown, line.verdict_label
        ));
    }
    lines.push(String::new());
    lines
}
