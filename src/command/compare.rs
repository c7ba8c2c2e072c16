//! `stallheat compare`: two to four days, what is stated otherwise and what comes of it.

use std::path::{Path, PathBuf};

use clap::Args;
use stallheat::compare::{ComparedLaunch, Comparison, Figure, compare};
use stallheat::error::{Error, ErrorKind};
use stallheat::report::wrapped;
use stallheat::simulate::simulate;

use super::Units;
use super::io::{print, read_scenario};

#[derive(Debug, Args)]
pub struct CompareArgs {
    /// Scenario files: A, B, and if wanted C and D; one of them may be - for standard input
    #[arg(num_args = 2..=4, required = true)]
    files: Vec<PathBuf>,
    /// Print as JSON
    #[arg(long)]
    json: bool,
    /// Units of report and JSON
    #[arg(long, value_enum, default_value_t = Units::Us)]
    units: Units,
}

/// Width of the report in columns.
const WIDTH: usize = 100;

/// Reads, simulates, compares, prints.
pub fn run(args: &CompareArgs) -> Result<(), Error> {
    if args.files.iter().filter(|file| file.as_path() == Path::new("-")).count() > 1 {
        return Err(Error::new(
            ErrorKind::File,
            "-",
            "standard input twice",
            "at most one file is standard input",
            "Write the other scenario into a file.",
        ));
    }
    let mut days = Vec::new();
    for file in &args.files {
        // One of several files is at fault: the message says which.
        let scenario = read_scenario(file).map_err(|error| of_file(error, file))?;
        let trace = simulate(&scenario).map_err(|error| of_file(error, file))?;
        days.push((scenario, trace));
    }
    let days: Vec<_> = days.iter().map(|(scenario, trace)| (scenario, trace)).collect();
    let comparison = compare(&days, args.units.into());
    if args.json {
        print(&format!("{}\n", serde_json::json!(comparison)))
    } else {
        print(&text(&args.files, &comparison))
    }
}

fn of_file(error: Error, file: &Path) -> Error {
    let name = file.display().to_string();
    if error.field == name {
        return error;
    }
    let field = format!("{name}: {}", error.field);
    error.of_field(field)
}

fn text(files: &[PathBuf], comparison: &Comparison) -> String {
    let mut lines: Vec<String> = Vec::new();
    for (day, file) in comparison.days.iter().zip(files) {
        lines.push(format!("{}  {}  ({})", day.letter, day.name, file.display()));
    }
    for day in comparison.days.iter().skip(1) {
        lines.push(String::new());
        match day.changes.len() {
            0 => lines.push(format!("{} states the same as A.", day.letter)),
            1 => lines.push(format!("{} against A: 1 change", day.letter)),
            count => lines.push(format!("{} against A: {count} changes", day.letter)),
        }
        let widest = day.changes.iter().map(|change| change.label.chars().count()).max();
        let label_width = widest.unwrap_or(0).min(48);
        for change in &day.changes {
            let words = format!("{} → {}", change.from, change.to);
            let line = format!("  {:<label_width$}  {words}", change.label);
            if line.chars().count() <= WIDTH {
                lines.push(line);
            } else {
                lines.push(wrapped(&change.label, "  "));
                lines.push(wrapped(&words, "      "));
            }
        }
    }
    let of_launches = comparison.launches.first().map_or(0, |launch| launch.figures.len());
    for place in 0..of_launches {
        lines.extend(launch_table(comparison, place));
    }
    if comparison.launches.is_empty() {
        lines.extend([String::new(), "No launches in these timelines.".to_string()]);
    }
    lines.extend([String::new(), "The day".to_string(), head(comparison, 38, "")]);
    for figure in &comparison.figures {
        let label = format!("{} ({})", figure.label, figure.unit);
        lines.push(format!("  {label:<38}{}", columns(figure)));
    }
    lines.iter().map(|line| format!("{}\n", line.trim_end())).collect()
}

/// One figure of all launches; nothing where no day has it.
fn launch_table(comparison: &Comparison, place: usize) -> Vec<String> {
    let figures: Vec<(&ComparedLaunch, &Figure)> = comparison
        .launches
        .iter()
        .filter_map(|launch| Some((launch, launch.figures.get(place)?)))
        .collect();
    let some = |(_, figure): &(&ComparedLaunch, &Figure)| figure.values.iter().any(Option::is_some);
    let Some((_, first)) = figures.iter().find(|figure| some(figure)) else { return Vec::new() };
    let mut lines = vec![
        String::new(),
        format!("Launches: {} ({})", first.label, first.unit),
        head(comparison, 8, "round"),
    ];
    for (launch, figure) in &figures {
        let round = match (launch.round, launch.place) {
            (Some(round), 1) => round.to_string(),
            (Some(round), place) => format!("{round}, {place}."),
            (None, place) => format!("-, {place}."),
        };
        lines.push(format!("  {round:<8}{}", columns(figure)));
    }
    lines
}

fn head(comparison: &Comparison, width: usize, first: &str) -> String {
    let letters = comparison.days.iter().enumerate().map(|(place, day)| match place {
        0 => format!("{:>9}", day.letter),
        _ => format!("{:>9}{:>8}", day.letter, "− A"),
    });
    format!("  {first:<width$}{}", letters.collect::<String>())
}

fn columns(figure: &Figure) -> String {
    let decimals = figure.decimals;
    let mut out = String::new();
    for (place, (value, difference)) in figure.values.iter().zip(&figure.differences).enumerate() {
        let value = value.map_or("–".to_string(), |value| format!("{value:.decimals$}"));
        out += &format!("{value:>9}");
        if place > 0 {
            let difference = difference.map_or("–".to_string(), |by| signed(by, decimals));
            out += &format!("{difference:>8}");
        }
    }
    out
}

/// `+1.5`, `-0.3`, and `0.0` without a sign for what rounds to nothing.
fn signed(value: f64, decimals: usize) -> String {
    let text = format!("{value:+.decimals$}");
    let nothing = text.chars().all(|c| matches!(c, '+' | '-' | '0' | '.'));
    if nothing { text.trim_start_matches(['+', '-']).to_string() } else { text }
}
