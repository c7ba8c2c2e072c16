//! Heat of each event by source and sink, in the reader's units: the table of the heat picture.
//!
//! Its columns are the paths of the ledger, its rows the events; the rows of a column sum to the ledger of the day.

use serde::Serialize;

use crate::chart::{Ink, path_inks, readable};
use crate::trace::{Ledger, Trace};
use crate::transmission::Path;
use crate::units::{System, clock_text, energy_in, energy_unit, time_text};

/// A column: a source or a sink.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HeatColumn {
    pub key: &'static str,
    pub label: &'static str,
    /// `made` or brought in, or `away`.
    pub group: &'static str,
    /// As it is numbered in the picture.
    pub number: usize,
    /// Colours in the picture and of a number on them, `#rrggbb`, on light and on dark paper.
    pub light: String,
    pub dark: String,
    pub light_text: String,
    pub dark_text: String,
}

/// Heat of an event, or of the whole day.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HeatRow {
    pub label: String,
    pub round: Option<u32>,
    pub start_s: f64,
    pub end_s: f64,
    /// Its start as a clock of the day, and how long it took, in words.
    pub start_clock: String,
    pub took: String,
    /// In the order of the columns; positive as their labels say.
    pub heat: Vec<f64>,
    pub made: f64,
    pub away: f64,
    /// Taken up by the transmission: made − away.
    pub stored: f64,
}

/// The table; its columns are [`heat_columns`].
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HeatTable {
    pub energy_unit: &'static str,
    pub rows: Vec<HeatRow>,
    pub day: HeatRow,
    /// A sentence about the day.
    pub says: String,
}

fn row(
    ledger: &Ledger,
    system: System,
    label: String,
    round: Option<u32>,
    span_s: (f64, f64),
) -> HeatRow {
    let energy = |heat_j: f64| energy_in(system, heat_j);
    let paths = Path::SOURCES.iter().chain(&Path::SINKS);
    HeatRow {
        label,
        round,
        start_s: span_s.0,
        end_s: span_s.1,
        start_clock: clock_text(span_s.0),
        took: time_text(span_s.1 - span_s.0),
        heat: paths.map(|path| energy(ledger.path_j(*path))).collect(),
        made: energy(ledger.made_j()),
        away: energy(ledger.away_j()),
        stored: energy(ledger.stored_j()),
    }
}

/// The columns: every path that crosses the boundary, sources first.
pub fn heat_columns() -> Vec<HeatColumn> {
    let css = |(r, g, b): Ink| format!("#{r:02x}{g:02x}{b:02x}");
    let groups: [(&str, &[Path]); 2] = [("made", &Path::SOURCES), ("away", &Path::SINKS)];
    groups
        .iter()
        .flat_map(|(group, paths)| paths.iter().map(move |path| (*group, *path)))
        .enumerate()
        .map(|(place, (group, path))| {
            let (light, dark) = path_inks(path).unwrap_or_default();
            HeatColumn {
                key: path.key(),
                label: path.label(),
                group,
                number: place + 1,
                light: css(light),
                dark: css(dark),
                light_text: css(readable(light)),
                dark_text: css(readable(dark)),
            }
        })
        .collect()
}

/// Heat of every event and of the day.
pub fn heat_table(trace: &Trace, system: System) -> HeatTable {
    let rows: Vec<HeatRow> = trace
        .events
        .iter()
        .map(|event| {
            let span_s = (event.start_s, event.end_s);
            let label = event.label().to_string();
            row(&trace.event_ledger(event), system, label, event.round, span_s)
        })
        .collect();
    let day = row(&trace.ledger, system, String::from("Day"), None, (0.0, trace.duration_s()));
    let unit = energy_unit(system);
    let most = rows.iter().max_by(|a, b| a.made.total_cmp(&b.made));
    let says = format!(
        "{:.0} {unit} made or brought in over the day, {:.0} {unit} carried away, {:.0} {unit} left in the transmission.{}",
        day.made,
        day.away,
        // So that the three add up as they are shown.
        day.made.round() - day.away.round(),
        most.filter(|row| row.made > 0.0).map_or(String::new(), |row| {
            let round = row.round.map_or(String::new(), |round| format!(" of round {round}"));
            format!(" The most in one event: {}{round}, {:.0} {unit}.", row.label, row.made)
        })
    );
    HeatTable { energy_unit: unit, rows, day, says }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_name_every_path_that_crosses_the_boundary() {
        for path in Path::SOURCES.iter().chain(&Path::SINKS) {
            assert!(path_inks(*path).is_some(), "{}", path.key());
        }
        let keys: Vec<&str> = heat_columns().iter().map(|column| column.key).collect();
        let mut apart = keys.clone();
        apart.sort_unstable();
        apart.dedup();
        assert_eq!(apart.len(), keys.len());
    }
}
