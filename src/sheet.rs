//! What an editor needs of the tables: parameters in the reader's units, and quantities restated.
//!
//! The page shows numbers and units and writes them back as `"95 °F"`; every conversion it needs is made
//! here, so that it converts none itself.

use serde::Serialize;

use crate::chart::line_style;
use crate::fluid::CLASSES;
use crate::scenario::parameters::{EVENT_PARAMETERS, PARAMETERS, event_defaults};
use crate::timeline::{EventKind, Node, Route};
use crate::units::{Dimension, System, Unit, parse_quantity, significant, unit_or_si};

/// A row of a table in the reader's units.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Row {
    pub part: &'static str,
    pub part_label: &'static str,
    pub key: &'static str,
    pub label: &'static str,
    pub sentence: &'static str,
    pub source: &'static str,
    pub unit: &'static str,
    pub default: f64,
    pub min: f64,
    pub max: f64,
    /// Step for sliders and number boxes.
    pub step: f64,
}

/// A kind of event and what it takes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Kind {
    pub key: &'static str,
    pub label: &'static str,
    pub engine_runs: bool,
    pub has_gear: bool,
    pub quantities: Vec<Row>,
}

/// A word with a label.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Word {
    pub key: &'static str,
    pub label: &'static str,
    pub sentence: &'static str,
}

/// A node with the look of its line.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NodeLook {
    pub key: &'static str,
    pub label: &'static str,
    pub light: String,
    pub dark: String,
    pub width: f64,
    pub dash: Option<(f64, f64)>,
}

/// All tables.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Tables {
    pub parameters: Vec<Row>,
    pub kinds: Vec<Kind>,
    pub routes: Vec<Word>,
    pub fluids: Vec<Word>,
    pub nodes: Vec<NodeLook>,
}

fn symbol(system: System, us: &'static str, si: &'static str) -> &'static str {
    match system {
        System::Us => us,
        System::Si => si,
    }
}

/// A step of 1, 2 or 5 times a power of ten, about a hundredth to a two-hundredth of the span.
fn step(span: f64) -> f64 {
    let rough = span / 200.0;
    let power = 10f64.powf(rough.log10().floor());
    let lead = rough / power;
    power
        * if lead < 1.5 {
            1.0
        } else if lead < 3.5 {
            2.0
        } else {
            5.0
        }
}

/// Rounded to the digits of the step, so that boxes show no binary tails.
fn tidy(value: f64, step: f64) -> f64 {
    let fine = step / 10.0;
    let decimals = (-fine.log10().floor()).clamp(0.0, 9.0) as usize;
    format!("{value:.decimals$}").parse().unwrap_or(value)
}

/// The tables in the reader's units.
pub fn tables(system: System) -> Tables {
    let parameters = PARAMETERS
        .iter()
        .map(|parameter| {
            let unit = unit_or_si(
                parameter.dimension,
                symbol(system, parameter.us_unit, parameter.si_unit),
            );
            let (min, max) = (unit.from_si(parameter.min_si()), unit.from_si(parameter.max_si()));
            let step = step(max - min);
            Row {
                part: parameter.part,
                part_label: parameter.part_label,
                key: parameter.key,
                label: parameter.label,
                sentence: parameter.sentence,
                source: parameter.source,
                unit: unit_symbol(parameter.dimension, unit),
                default: tidy(unit.from_si(parameter.default_si()), step),
                min: tidy(min, step),
                max: tidy(max, step),
                step,
            }
        })
        .collect();
    let kinds = EventKind::ALL
        .iter()
        .map(|kind| Kind {
            key: kind.key(),
            label: kind.label(),
            engine_runs: kind.engine_runs(),
            has_gear: *kind == EventKind::Idle,
            quantities: event_defaults(*kind)
                .iter()
                .filter_map(|(key, default)| {
                    let row = EVENT_PARAMETERS.iter().find(|row| row.key == *key)?;
                    let unit = unit_or_si(row.dimension, symbol(system, row.us_unit, row.si_unit));
                    let si = unit_or_si(row.dimension, row.si_unit);
                    let (min, max) = (unit.from_si(row.min_si()), unit.from_si(row.max_si()));
                    let step = step(max - min);
                    let default_si = default.map_or_else(
                        || {
                            crate::scenario::parameters::Setup::default()
                                .engine
                                .idle_speed_rad_per_s
                        },
                        |value| si.to_si(value),
                    );
                    Some(Row {
                        part: "event",
                        part_label: kind.label(),
                        key: row.key,
                        label: row.label,
                        sentence: row.sentence,
                        source: "",
                        unit: unit_symbol(row.dimension, unit),
                        default: tidy(unit.from_si(default_si), step),
                        min: tidy(min, step),
                        max: tidy(max, step),
                        step,
                    })
                })
                .collect(),
        })
        .collect();
    Tables {
        parameters,
        kinds,
        routes: Route::ALL
            .iter()
            .map(|route| Word { key: route.key(), label: route.label(), sentence: "" })
            .collect(),
        fluids: CLASSES
            .iter()
            .map(|class| Word { key: class.key, label: class.label, sentence: class.sentence })
            .collect(),
        nodes: Node::ALL
            .iter()
            .map(|node| {
                let style = line_style(*node);
                let css = |(r, g, b): (u8, u8, u8)| format!("rgb({r}, {g}, {b})");
                NodeLook {
                    key: node.key(),
                    label: node.label(),
                    light: css(style.light),
                    dark: css(style.dark),
                    width: style.width_px,
                    dash: style.dash_px,
                }
            })
            .collect(),
    }
}

fn unit_symbol(dimension: Dimension, unit: &Unit) -> &'static str {
    if dimension == Dimension::One { "" } else { unit.symbol }
}

/// A quantity as a text in a scenario, restated for a reader: number, unit, and the text to store.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Restated {
    pub value: f64,
    pub unit: &'static str,
    pub text: String,
}

/// Restates `text` (`"95 °F"`, or a plain number for dimensionless quantities) of the quantity at `path`
/// (`converter.shell_mass`, or `event.engine_speed`; `event.duration`, `temperature` and `time` are known too)
/// in the reader's units. `None` when the path or the text is not understood.
pub fn restate(path: &str, text: &str, system: System) -> Option<Restated> {
    let (dimension, symbol) = unit_of(path, text, system)?;
    let value_si = parse_quantity(dimension, text).ok()?;
    let unit = unit_or_si(dimension, symbol);
    let value: f64 = significant(unit.from_si(value_si), 6).parse().ok()?;
    let unit = unit_symbol(dimension, unit);
    let text = if unit.is_empty() {
        significant(value, 6)
    } else {
        format!("{} {unit}", significant(value, 6))
    };
    Some(Restated { value, unit, text })
}

fn unit_of(path: &str, text: &str, system: System) -> Option<(Dimension, &'static str)> {
    if let Some(parameter) = PARAMETERS.iter().find(|parameter| parameter.path() == path) {
        return Some((parameter.dimension, symbol(system, parameter.us_unit, parameter.si_unit)));
    }
    if let Some(key) = path.strip_prefix("event.")
        && let Some(row) = EVENT_PARAMETERS.iter().find(|row| row.key == key)
    {
        return Some((row.dimension, symbol(system, row.us_unit, row.si_unit)));
    }
    match path {
        "temperature" => Some((Dimension::Temperature, symbol(system, "°F", "°C"))),
        // A time keeps the unit it reads best in: seconds to 100 s, then minutes.
        "time" | "event.duration" => {
            let time_s = parse_quantity(Dimension::Time, text).ok()?;
            Some((Dimension::Time, if time_s < 99.5 { "s" } else { "min" }))
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_have_tidy_numbers_with_the_default_inside() {
        for system in [System::Us, System::Si] {
            let tables = tables(system);
            for row in
                tables.parameters.iter().chain(tables.kinds.iter().flat_map(|k| &k.quantities))
            {
                assert!(row.min <= row.default && row.default <= row.max, "{} {:?}", row.key, row);
                assert!(row.step > 0.0 && row.step < row.max - row.min, "{}", row.key);
            }
        }
    }

    #[test]
    fn quantities_are_restated_in_the_readers_units() {
        let restated = restate("air.temperature", "35 °C", System::Us).unwrap();
        assert_eq!(restated.text, "95 °F");
        assert_eq!(restate("event.duration", "90 min", System::Si).unwrap().text, "90 min");
        assert_eq!(restate("transmission.mesh_loss", "0.02", System::Us).unwrap().text, "0.02");
        assert!(restate("air.temperature", "35 psi", System::Us).is_none());
        assert!(restate("nothing.at_all", "35 °C", System::Us).is_none());
    }
}
