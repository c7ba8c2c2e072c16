//! What an editor needs of the tables: parameters in the reader's units, and quantities restated.
//!
//! The page shows numbers and units and writes them back as `"95 °F"`; every conversion it needs is made
//! here, so that it converts none itself.

use serde::Serialize;

use crate::chart::{Axes, Picture, line_style};
use crate::decimal::decimal;
use crate::fluid::CLASSES;
use crate::report::{HeatColumn, heat_columns};
use crate::scenario::alternatives::{ALTERNATIVES, Alternative, Input, of_part};
use crate::scenario::parameters::{PARAMETERS, Parameter, Setup, Spread, of_path};
use crate::scenario::tables::TABLES;
use crate::timeline::{EVENT_PARAMETERS, EventKind, FromCar, Node, Route, Turbine};
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
    /// One standard deviation of what a shop does not know, "15 %" or "10 rpm".
    pub spread: Option<String>,
    pub unit: &'static str,
    pub default: f64,
    /// Path of the parameter that stands in where an event states nothing: `engine.idle_speed`.
    pub follows: Option<&'static str>,
    /// Least and largest allowed value, rounded towards the inside.
    pub min: f64,
    pub max: f64,
    /// Ends of a slider: the part of the range around the default, on whole steps.
    pub slider_min: f64,
    pub slider_max: f64,
    /// Step for sliders and number boxes.
    pub step: f64,
}

/// Another way to state a parameter.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AlternativeSheet {
    pub part: &'static str,
    /// Key of the parameter it stands in for.
    pub instead_of: &'static str,
    pub label: &'static str,
    pub sentence: &'static str,
    pub source: &'static str,
    /// What is stated instead, all of them together; `default` is a usual value to start from.
    pub inputs: Vec<Row>,
}

/// A table that a set-up may state as a text of comma-separated values.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TableSheet {
    pub part: &'static str,
    pub part_label: &'static str,
    pub key: &'static str,
    pub label: &'static str,
    pub sentence: &'static str,
    pub example: &'static str,
    /// Keys of the parameters that it replaces.
    pub replaces: &'static [&'static str],
}

/// A kind of event and what it takes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Kind {
    pub key: &'static str,
    pub label: &'static str,
    pub engine_runs: bool,
    /// How its block is marked: `off`, `running` or `loaded`.
    pub look: &'static str,
    /// How long a new one lasts.
    pub lasts: &'static str,
    pub has_gear: bool,
    /// Whether the car turns the engine.
    pub coasts: bool,
    /// Quantities that only a log knows: while none of them is stated, car and engine make the loads. Empty where
    /// loads are always stated.
    pub logged: &'static [&'static str],
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

/// A picture of a day.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PictureSheet {
    pub key: &'static str,
    pub label: &'static str,
    /// What is to be seen on it.
    pub description: &'static str,
    /// Whether it shows the pass of one launch instead of the day.
    pub of_launch: bool,
    /// Whether it has a table of its own, and so a place in the page's list of pictures.
    pub has_table: bool,
}

/// All tables.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Tables {
    pub parameters: Vec<Row>,
    pub alternatives: Vec<AlternativeSheet>,
    pub tables: Vec<TableSheet>,
    pub kinds: Vec<Kind>,
    pub routes: Vec<Word>,
    pub fluids: Vec<Word>,
    pub nodes: Vec<NodeLook>,
    pub pictures: Vec<PictureSheet>,
    /// Sources and sinks of heat: names, numbers and colours in every picture and list.
    pub paths: Vec<HeatColumn>,
}

/// A step of 1 or 5 times a power of ten, a seventieth to a two-hundredth of the span.
fn step(span: f64) -> f64 {
    let rough = span / 150.0;
    let power = 10f64.powf(rough.log10().floor());
    let lead = rough / power;
    power
        * if lead < 2.2 {
            1.0
        } else if lead < 7.0 {
            5.0
        } else {
            10.0
        }
}

/// Range, slider and default of a quantity in its display unit.
struct Span {
    default: f64,
    min: f64,
    max: f64,
    slider_min: f64,
    slider_max: f64,
    step: f64,
}

/// Allowed ranges are far wider than what one car needs, so a slider goes from a fifth of the default to
/// four times the default. Temperatures have no such ratio and keep their whole range, as does what is
/// zero by default.
fn span(dimension: Dimension, unit: &Unit, default_si: f64, min_si: f64, max_si: f64) -> Span {
    let (default, min, max) =
        (unit.from_si(default_si), unit.from_si(min_si), unit.from_si(max_si));
    let by_ratio = dimension != Dimension::Temperature && default > 0.0;
    let (low, high) =
        if by_ratio { (min.max(default / 5.0), max.min(default * 4.0)) } else { (min, max) };
    let step = step(high - low);
    Span {
        default: tidy(default, step),
        min: tidy_inside(min, step, f64::ceil),
        max: tidy_inside(max, step, f64::floor),
        slider_min: tidy((low / step - 1e-9).ceil() * step, step),
        slider_max: tidy((high / step + 1e-9).floor() * step, step),
        step,
    }
}

/// Rounded to the digits of the step, so that boxes show no binary tails.
fn tidy(value: f64, step: f64) -> f64 {
    let fine = step / 10.0;
    let decimals = (-fine.log10().floor()).clamp(0.0, 9.0) as usize;
    decimal(&format!("{value:.decimals$}")).unwrap_or(value)
}

/// As [`tidy`], but never past the bound: a slider at its end must be accepted.
fn tidy_inside(bound: f64, step: f64, round: fn(f64) -> f64) -> f64 {
    let tidied = tidy(bound, step);
    if (tidied - bound).abs() <= 1e-9 * bound.abs() {
        return tidied;
    }
    let fine = step / 10.0;
    tidy(round(bound / fine) * fine, step)
}

/// The tables in the reader's units.
pub fn tables(system: System) -> Tables {
    let parameters = PARAMETERS
        .iter()
        .map(|parameter| {
            let unit = parameter.reader_unit(system);
            let span = span(
                parameter.dimension,
                unit,
                parameter.default_si(),
                parameter.min_si(),
                parameter.max_si(),
            );
            Row {
                part: parameter.part,
                part_label: parameter.wording().part_label,
                key: parameter.key,
                label: parameter.wording().label,
                sentence: parameter.wording().sentence,
                source: parameter.wording().source,
                spread: spread_text(parameter, unit),
                unit: unit_symbol(parameter.dimension, unit),
                default: span.default,
                follows: None,
                min: span.min,
                max: span.max,
                slider_min: span.slider_min,
                slider_max: span.slider_max,
                step: span.step,
            }
        })
        .collect();
    let kinds = EventKind::ALL
        .iter()
        .map(|kind| Kind {
            key: kind.key(),
            label: kind.label(),
            engine_runs: kind.engine_runs(),
            look: kind.look(),
            lasts: kind.lasts(),
            has_gear: kind.turbine() == Turbine::BySelector,
            coasts: kind.from_car() == Some(FromCar::Coasting),
            logged: kind.logged_keys(),
            quantities: kind
                .takes()
                .map(|(row, default)| {
                    let unit = row.reader_unit(system);
                    let default_si = default.map_or_else(
                        || Setup::default().engine.idle_speed_rad_per_s,
                        |value| row.display_unit().to_si(value),
                    );
                    let span = span(row.dimension, unit, default_si, row.min_si(), row.max_si());
                    Row {
                        part: "event",
                        part_label: kind.label(),
                        key: row.key,
                        label: row.label,
                        sentence: row.sentence,
                        source: "",
                        spread: None,
                        unit: unit_symbol(row.dimension, unit),
                        default: span.default,
                        follows: default.is_none().then_some("engine.idle_speed"),
                        min: span.min,
                        max: span.max,
                        slider_min: span.slider_min,
                        slider_max: span.slider_max,
                        step: span.step,
                    }
                })
                .collect(),
        })
        .collect();
    let alternatives = ALTERNATIVES
        .iter()
        .map(|alternative| AlternativeSheet {
            part: alternative.part,
            instead_of: alternative.instead_of,
            label: alternative.label,
            sentence: alternative.sentence,
            source: alternative.source,
            inputs: alternative
                .inputs
                .iter()
                .map(|input| input_row(alternative, input, system))
                .collect(),
        })
        .collect();
    let table_sheets = TABLES
        .iter()
        .map(|table| TableSheet {
            part: table.part,
            part_label: part_label(table.part),
            key: table.key,
            label: table.label,
            sentence: table.sentence,
            example: table.example,
            replaces: table.replaces,
        })
        .collect();
    Tables {
        parameters,
        alternatives,
        tables: table_sheets,
        kinds,
        routes: Route::ALL
            .iter()
            .map(|route| Word { key: route.key(), label: route.label(), sentence: "" })
            .collect(),
        fluids: CLASSES
            .iter()
            .map(|class| Word { key: class.key, label: class.label, sentence: class.sentence })
            .collect(),
        pictures: Picture::ALL
            .iter()
            .map(|picture| PictureSheet {
                key: picture.key(),
                label: picture.label(),
                description: picture.description(),
                of_launch: picture.axes() == Axes::Launch,
                has_table: picture.has_table(),
            })
            .collect(),
        paths: heat_columns(),
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

fn spread_text(parameter: &Parameter, unit: &Unit) -> Option<String> {
    Some(match parameter.spread? {
        Spread::Relative(share) => format!("{} %", significant(100.0 * share, 3)),
        Spread::Absolute(by) => {
            let si = parameter.display_unit();
            let shown = significant(unit.from_si(si.to_si(by)) - unit.from_si(si.to_si(0.0)), 3);
            format!("{shown} {}", unit_symbol(parameter.dimension, unit)).trim_end().to_string()
        }
    })
}

fn part_label(part: &str) -> &'static str {
    PARAMETERS.iter().find(|row| row.part == part).map_or("", |row| row.wording().part_label)
}

fn input_row(alternative: &Alternative, input: &Input, system: System) -> Row {
    let unit = unit_or_si(input.dimension, system.pick(input.us_unit, input.si_unit));
    let span = span(input.dimension, unit, input.usual_si(), input.min_si(), input.max_si());
    Row {
        part: alternative.part,
        part_label: part_label(alternative.part),
        key: input.key,
        label: input.label,
        sentence: input.sentence,
        source: alternative.source,
        spread: None,
        unit: unit_symbol(input.dimension, unit),
        default: span.default,
        follows: None,
        min: span.min,
        max: span.max,
        slider_min: span.slider_min,
        slider_max: span.slider_max,
        step: span.step,
    }
}

fn unit_symbol(dimension: Dimension, unit: &Unit) -> &'static str {
    if dimension == Dimension::One { "" } else { unit.symbol }
}

/// The values that hold in a set-up, stated or not, in the reader's units and the order of
/// [`Tables::parameters`].
pub fn values(setup: &Setup, system: System) -> Vec<f64> {
    PARAMETERS
        .iter()
        .map(|parameter| {
            let unit = parameter.reader_unit(system);
            let value = unit.from_si(parameter.value_si(setup));
            decimal(&significant(value, 6)).unwrap_or(value)
        })
        .collect()
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
    let value = decimal(&significant(unit.from_si(value_si), 6))?;
    let unit = unit_symbol(dimension, unit);
    let text = if unit.is_empty() {
        significant(value, 6)
    } else {
        format!("{} {unit}", significant(value, 6))
    };
    Some(Restated { value, unit, text })
}

fn unit_of(path: &str, text: &str, system: System) -> Option<(Dimension, &'static str)> {
    if let Some(parameter) = of_path(path) {
        return Some((parameter.dimension, system.pick(parameter.us_unit, parameter.si_unit)));
    }
    if let Some((part, key)) = path.split_once('.')
        && let Some(input) =
            of_part(part).flat_map(|other| other.inputs).find(|input| input.key == key)
    {
        return Some((input.dimension, system.pick(input.us_unit, input.si_unit)));
    }
    if let Some(key) = path.strip_prefix("event.")
        && let Some(row) = EVENT_PARAMETERS.iter().find(|row| row.key == key)
    {
        return Some((row.dimension, system.pick(row.us_unit, row.si_unit)));
    }
    match path {
        "temperature" => Some((Dimension::Temperature, system.pick("°F", "°C"))),
        // A time gets the unit it reads best in: seconds to 100 s and where minutes would not come out
        // even, then minutes.
        "time" | "event.duration" => {
            let time_s = parse_quantity(Dimension::Time, text).ok()?;
            let tenths = time_s / 6.0;
            let uneven = time_s < 1000.0 && (tenths - tenths.round()).abs() > 1e-6;
            Some((Dimension::Time, if time_s < 99.5 || uneven { "s" } else { "min" }))
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
                assert!(row.min <= row.slider_min && row.slider_max <= row.max, "{row:?}");
                assert!(row.slider_min < row.slider_max, "{row:?}");
            }
        }
    }

    #[test]
    fn every_end_of_a_slider_is_accepted() {
        for system in [System::Us, System::Si] {
            for row in tables(system).parameters {
                for end in [row.min, row.max, row.slider_min, row.slider_max] {
                    let Some(parameter) =
                        PARAMETERS.iter().find(|p| p.part == row.part && p.key == row.key)
                    else {
                        panic!("{} is no parameter", row.key);
                    };
                    let text = format!("{end} {}", row.unit);
                    let value_si = parse_quantity(parameter.dimension, text.trim()).unwrap();
                    let slack = 1e-9 * value_si.abs();
                    assert!(value_si >= parameter.min_si() - slack, "{} {text}", row.key);
                    assert!(value_si <= parameter.max_si() + slack, "{} {text}", row.key);
                }
            }
        }
    }

    #[test]
    fn values_follow_the_set_up_and_the_fluid_class() {
        let place = |key: &str| PARAMETERS.iter().position(|p| p.path() == key).unwrap();
        let mut setup = Setup::default();
        let before = values(&setup, System::Us);
        assert_eq!(before[place("air.temperature")], 86.0);
        setup.take_fluid_class(&CLASSES[1]);
        setup.air.temperature_k = 308.15;
        let after = values(&setup, System::Us);
        assert_eq!(after[place("air.temperature")], 95.0);
        assert_ne!(after[place("fluid.kv40")], before[place("fluid.kv40")]);
    }

    #[test]
    fn quantities_are_restated_in_the_readers_units() {
        let restated = restate("air.temperature", "35 °C", System::Us).unwrap();
        assert_eq!(restated.text, "95 °F");
        assert_eq!(restate("event.duration", "90 min", System::Si).unwrap().text, "90 min");
        assert_eq!(restate("event.duration", "180 s", System::Si).unwrap().text, "3 min");
        assert_eq!(restate("event.duration", "200 s", System::Si).unwrap().text, "200 s");
        assert_eq!(restate("transmission.mesh_loss", "0.02", System::Us).unwrap().text, "0.02");
        assert!(restate("air.temperature", "35 psi", System::Us).is_none());
        assert!(restate("nothing.at_all", "35 °C", System::Us).is_none());
    }
}
