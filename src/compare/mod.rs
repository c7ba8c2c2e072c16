//! Two or more days side by side: what is stated otherwise, and what comes of it. The first is A, the others are told
//! against it.
//!
//! Launches are matched by the number of their round, not by time; those outside rounds by their order. Everything is
//! in the reader's units, which every figure names.

mod changes;
mod events;

pub use changes::{Change, changes};

use serde::Serialize;

use crate::results::{down_to_window_s, finish_s, life_share};
use crate::scenario::Scenario;
use crate::timeline::Node;
use crate::trace::Trace;
use crate::transmission::Path;
use crate::units::{
    Dimension, System, energy_unit, rpm, temperature_difference_in, temperature_in,
    temperature_symbol, unit_or_si,
};

/// Days side by side.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Comparison {
    /// A, then B and so on.
    pub days: Vec<ComparedDay>,
    /// By round, A's first; then launches that A does not have.
    pub launches: Vec<ComparedLaunch>,
    /// Figures of whole days.
    pub figures: Vec<Figure>,
}

/// A day of the comparison.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ComparedDay {
    pub letter: char,
    pub name: String,
    /// What it states otherwise than A; empty for A.
    pub changes: Vec<Change>,
}

/// A launch in all days.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ComparedLaunch {
    /// `None` outside rounds.
    pub round: Option<u32>,
    /// Which of its round, or of those outside rounds, from 1.
    pub place: usize,
    /// The same figures in the same order for every launch.
    pub figures: Vec<Figure>,
}

/// One number in all days.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Figure {
    pub key: &'static str,
    pub label: String,
    /// The reader's unit.
    pub unit: &'static str,
    /// As many as are worth showing.
    pub decimals: usize,
    /// By day; absent where the day has none.
    pub values: Vec<Option<f64>>,
    /// By day against A; absent where one of the two is, and for A.
    pub differences: Vec<Option<f64>>,
}

fn figure(
    key: &'static str,
    label: impl Into<String>,
    unit: &'static str,
    decimals: usize,
    values: Vec<Option<f64>>,
) -> Figure {
    let first = values.first().copied().flatten();
    let against = |(day, value): (usize, &Option<f64>)| {
        if day == 0 { None } else { value.zip(first).map(|(value, first)| value - first) }
    };
    let differences = values.iter().enumerate().map(against).collect();
    Figure { key, label: label.into(), unit, decimals, values, differences }
}

/// Compares days with the first of them. Letters go from A on; 26 days at most have one of their own.
pub fn compare(days: &[(&Scenario, &Trace)], system: System) -> Comparison {
    let first = days.first().map(|(scenario, _)| *scenario);
    let compared =
        days.iter().zip('A'..='Z').enumerate().map(|(place, ((scenario, _), letter))| {
            let name = scenario.name.clone();
            let changes = match first {
                Some(first) if place > 0 => changes(first, scenario, system),
                _ => Vec::new(),
            };
            ComparedDay { letter, name, changes }
        });
    Comparison {
        days: compared.collect(),
        launches: launches(days, system),
        figures: day_figures(days, system),
    }
}

/// For every launch of a trace: its round, and which of that round it is.
fn numbered(trace: &Trace) -> Vec<(Option<u32>, usize)> {
    let mut numbers: Vec<(Option<u32>, usize)> = Vec::new();
    for launch in &trace.launches {
        let before = numbers.iter().filter(|(round, _)| *round == launch.round).count();
        numbers.push((launch.round, before + 1));
    }
    numbers
}

fn launches(days: &[(&Scenario, &Trace)], system: System) -> Vec<ComparedLaunch> {
    let by_day: Vec<_> = days.iter().map(|(_, trace)| numbered(trace)).collect();
    let mut all: Vec<(Option<u32>, usize)> = Vec::new();
    for number in by_day.iter().flatten() {
        if !all.contains(number) {
            all.push(*number);
        }
    }
    let temperature = temperature_symbol(system);
    all.into_iter()
        .map(|(round, place)| {
            let each = |value: &dyn Fn(&Scenario, &Trace, usize) -> Option<f64>| {
                let days = days.iter().zip(&by_day);
                days.map(|((scenario, trace), numbers)| {
                    let launch = numbers.iter().position(|number| *number == (round, place))?;
                    value(scenario, trace, launch)
                })
                .collect::<Vec<Option<f64>>>()
            };
            let at = |node: Node| {
                each(&|_, trace, launch| {
                    let temperature_k = trace.launches[launch].temperature_k[node.index()];
                    Some(temperature_in(system, temperature_k))
                })
            };
            let figures = vec![
                figure("converter", "Converter fluid", temperature, 1, at(Node::ConverterFluid)),
                figure("pan", "Pan fluid", temperature, 1, at(Node::PanFluid)),
                figure(
                    "flash",
                    "Flash speed",
                    "rpm",
                    0,
                    each(&|_, trace, launch| trace.launches[launch].flash_rad_per_s.map(rpm)),
                ),
                figure(
                    "elapsed",
                    "Elapsed time",
                    "s",
                    3,
                    each(&|_, trace, launch| {
                        trace.launches[launch].pass.as_ref().and_then(finish_s)
                    }),
                ),
                figure(
                    "window",
                    "From the finish until the pan is down to the launch window",
                    "min",
                    1,
                    each(&|scenario, trace, launch| {
                        down_to_window_s(scenario, trace, launch).map(|time_s| time_s / 60.0)
                    }),
                ),
            ];
            ComparedLaunch { round, place, figures }
        })
        .collect()
}

fn day_figures(days: &[(&Scenario, &Trace)], system: System) -> Vec<Figure> {
    let each = |value: &dyn Fn(&Scenario, &Trace) -> f64| -> Vec<Option<f64>> {
        days.iter().map(|(scenario, trace)| Some(value(scenario, trace))).collect()
    };
    let temperature = temperature_symbol(system);
    let energy = unit_or_si(Dimension::Energy, energy_unit(system));
    let mut figures = Vec::new();
    for (key, node) in [
        ("peak_converter", Node::ConverterFluid),
        ("peak_shell", Node::ConverterShell),
        ("peak_pan", Node::PanFluid),
        ("peak_case", Node::Case),
    ] {
        let values = each(&|_, trace| temperature_in(system, trace.peak(node).0));
        figures.push(figure(key, format!("{}, highest", node.label()), temperature, 1, values));
    }
    for (key, node) in [("spread_converter", Node::ConverterFluid), ("spread_pan", Node::PanFluid)]
    {
        let values = days.iter().map(|(_, trace)| {
            let spread_k = trace.launch_spread_k(node);
            (trace.launches.len() > 1).then(|| temperature_difference_in(system, spread_k))
        });
        let label = format!("{}, launches apart", node.label());
        figures.push(figure(key, label, temperature, 1, values.collect()));
    }
    let made = each(&|_, trace| energy.from_si(trace.ledger.made_j()));
    figures.push(figure("made", "Heat made in all", energy_unit(system), 0, made));
    for path in Path::SOURCES {
        let values = each(&|_, trace| energy.from_si(trace.ledger.path_j(path)));
        figures.push(figure(path.key(), path.label(), energy_unit(system), 0, values));
    }
    let used = each(&|_, trace| trace.samples.last().map_or(0.0, |last| last.used_a_s) / 3600.0);
    figures.push(figure("battery_used", "Taken from the battery", "Ah", 1, used));
    let least = each(&|_, trace| {
        let charges_a_s = trace.samples.iter().map(|sample| sample.charge_a_s);
        charges_a_s.fold(f64::INFINITY, f64::min) / 3600.0
    });
    figures.push(figure("battery_least", "Battery, least left", "Ah", 1, least));
    let life = each(&|scenario, trace| 100.0 * life_share(scenario, &trace.samples));
    figures.push(figure("fluid_life", "Life of the fill used", "%", 2, life));
    figures
}
