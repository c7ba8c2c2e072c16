//! A fit in words and numbers, in the reader's units: for the page and the command line.

use serde::Serialize;

use super::outcome::TOGETHER;
use super::{Fit, FittedParameter, Question};
use crate::readings::POOR_EMISSIVITY;
use crate::report::capital;
use crate::units::{
    System, clock_seconds_text, temperature_difference_in, temperature_in, temperature_symbol,
};

/// A fit, in the reader's units.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FitSummary {
    /// How far the readings were off before, and are now.
    pub headline: String,
    /// What to know about it, the most important first.
    pub remarks: Vec<String>,
    pub parameters: Vec<ParameterLine>,
    pub surfaces: Vec<SurfaceLine>,
    pub readings: Vec<ReadingLine>,
    pub temperature_unit: &'static str,
    /// Root mean squares, in the temperature unit.
    pub rms_before: f64,
    pub rms_after: f64,
    pub scatter: f64,
    pub days: usize,
}

/// A parameter before and after.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ParameterLine {
    pub path: String,
    pub part: &'static str,
    pub label: &'static str,
    /// Whether the fitted day has another value or another doubt of it; otherwise it is as stated there.
    pub kept: bool,
    pub before: String,
    pub after: String,
    /// One deviation to either side: `4.8 to 5.6 W/K`.
    pub between: String,
    /// How far it was moved, in units of its spread.
    pub moved: f64,
    /// Share of the doubt about it that the readings took away, 0 to 1.
    pub told: f64,
    pub at_limit: bool,
}

/// The emissivity of a spot before and after.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SurfaceLine {
    pub place: &'static str,
    pub surface: &'static str,
    pub before: f64,
    pub after: f64,
    pub deviation: f64,
}

/// A reading beside the model. Temperatures as the instrument shows them.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReadingLine {
    /// From 1.
    pub number: usize,
    pub time_s: f64,
    pub clock: String,
    pub place_key: &'static str,
    pub place: &'static str,
    pub surface: &'static str,
    pub shown: f64,
    /// What the place had, by the surface's usual emissivity, and the deviation of that.
    pub corrected: f64,
    pub corrected_deviation: f64,
    pub before: Option<f64>,
    pub after: Option<f64>,
    pub stands_out: f64,
    pub outlier: bool,
    pub left_out: bool,
}

/// So many spreads is far for a parameter to move: one in twenty units is that unusual.
const FAR: f64 = 2.0;
/// Parameters that moved far are named one by one up to so many.
const MOST_FAR: usize = 3;
/// Beyond so many times their stated deviation readings are not rough but something else.
const ABSURD: f64 = 8.0;
/// Pairs that are named.
const MOST_PAIRS: usize = 4;

/// Puts a fit into words.
pub fn summary(question: &Question, fit: &Fit, system: System) -> FitSummary {
    let unit = temperature_symbol(system);
    let difference = |k: f64| temperature_difference_in(system, k);
    let parameters: Vec<ParameterLine> =
        fit.parameters.iter().map(|fitted| parameter_line(fitted, system)).collect();
    let air_k = question.scenario.setup.air.temperature_k;
    let reading = |(i, comparison): (usize, &super::Comparison)| {
        let reading = &question.readings[i];
        let (corrected_k, deviation_k) = reading.corrected_k(air_k);
        ReadingLine {
            number: i + 1,
            time_s: reading.time_s,
            clock: clock_seconds_text(reading.time_s),
            place_key: reading.place.key(),
            place: reading.place.label(),
            surface: reading.surface.label(),
            shown: temperature_in(system, reading.shown_k),
            corrected: temperature_in(system, corrected_k),
            corrected_deviation: difference(deviation_k),
            before: comparison.before_k.map(|k| temperature_in(system, k)),
            after: comparison.after_k.map(|k| temperature_in(system, k)),
            stands_out: comparison.stands_out,
            outlier: comparison.outlier,
            left_out: comparison.left_out,
        }
    };
    let readings: Vec<ReadingLine> = fit.comparisons.iter().enumerate().map(reading).collect();
    let surfaces = fit.surfaces.iter().map(|surface| SurfaceLine {
        place: surface.place.label(),
        surface: surface.surface.label(),
        before: surface.before,
        after: surface.after,
        deviation: surface.deviation,
    });
    let (before, after) = (difference(fit.rms_before_k), difference(fit.rms_after_k));
    let plural = if fit.used == 1 { "reading" } else { "readings" };
    FitSummary {
        headline: format!(
            "{} {plural}: the day as stated is off by {before:.1} {unit} (root mean square), the fitted one by \
             {after:.1} {unit}.",
            fit.used
        ),
        remarks: remarks(question, fit, &readings, system),
        parameters,
        surfaces: surfaces.collect(),
        readings,
        temperature_unit: unit,
        rms_before: before,
        rms_after: after,
        scatter: fit.scatter,
        days: fit.days,
    }
}

fn parameter_line(fitted: &FittedParameter, system: System) -> ParameterLine {
    let parameter = fitted.parameter;
    ParameterLine {
        path: parameter.path(),
        part: parameter.wording().part_label,
        label: parameter.wording().label,
        kept: fitted.kept,
        before: parameter.words(fitted.before_si, system, 3),
        after: parameter.words(fitted.after_si, system, 3),
        between: parameter.range_words(fitted.between_si, system, 3),
        moved: fitted.moved,
        told: (1.0 - fitted.deviation).clamp(0.0, 1.0),
        at_limit: fitted.at_limit,
    }
}

fn name(fitted: &FittedParameter) -> String {
    format!("{}: {}", fitted.parameter.wording().part_label, fitted.parameter.wording().label)
}

fn remarks(
    question: &Question,
    fit: &Fit,
    readings: &[ReadingLine],
    system: System,
) -> Vec<String> {
    let unit = temperature_symbol(system);
    let mut remarks = Vec::new();
    if !fit.settled {
        remarks.push(
            "The search gave up before it settled: take these numbers as a stage on the way."
                .to_string(),
        );
    }
    if let Some(before) = &question.scenario.calibration {
        remarks.push(format!(
            "This day carries a fit already ({}): fit new readings only, for those that are in it would count twice.",
            before.note
        ));
    }
    if fit.widened > ABSURD {
        remarks.push(
            "The readings are off by far more than any unit can be. Check °C or °F, the places and the clock before \
             anything else, and do not use this fit."
                .to_string(),
        );
    }
    let mut outliers: Vec<&ReadingLine> = readings.iter().filter(|line| line.outlier).collect();
    outliers.sort_by(|a, b| b.stands_out.abs().total_cmp(&a.stands_out.abs()));
    for (i, line) in outliers.iter().take(3).enumerate() {
        let advice = if i == 0 {
            " Look at it again before you believe the fit; leave it out only if it was a slip."
        } else {
            ""
        };
        remarks.push(format!(
            "Reading {} ({}, {}, {:.0} {unit}) stands out: the others lead to {:.0} {unit} there.{advice}",
            line.number,
            line.clock,
            line.place,
            line.shown,
            line.after.unwrap_or(f64::NAN),
        ));
    }
    if fit.widened > 1.0 {
        remarks.push(format!(
            "The readings scatter {:.1} times as much as their deviations say, more than chance allows: the doubt about \
             the parameters is widened by as much. Either the readings are rougher, or this unit does what the model \
             does not know.",
            fit.widened
        ));
    }
    for fitted in fit.parameters.iter().filter(|fitted| fitted.at_limit) {
        remarks.push(format!(
            "{} stands at the limit of what is possible: do not take it as a number, look for what is wrong with the \
             timeline, the readings or the unit.",
            name(fitted)
        ));
    }
    let far = || fit.parameters.iter().filter(|p| p.moved.abs() > FAR && !p.at_limit);
    if far().count() > MOST_FAR {
        remarks.push(format!(
            "{} parameters moved farther than nineteen of twenty units would, {} among them: check the timeline and the \
             readings first, then the unit.",
            far().count(),
            far().next().map(name).unwrap_or_default()
        ));
    }
    for fitted in far().filter(|_| far().count() <= MOST_FAR) {
        remarks.push(format!(
            "{} moved farther than nineteen of twenty units would: check the timeline and the readings first, then the \
             unit.",
            name(fitted)
        ));
    }
    for together in fit.together.iter().take(MOST_PAIRS) {
        let (a, b) = together.pair;
        let how = if together.correlation > 0.0 {
            "both larger, or both smaller, fit as well"
        } else {
            "one larger and the other smaller fit as well"
        };
        let signed = format!("{:.2}", together.correlation).replace('-', "−");
        remarks.push(format!(
            "These readings cannot tell apart {} and {}: {how} (correlation {signed}).",
            name(&fit.parameters[a]),
            name(&fit.parameters[b])
        ));
    }
    if fit.together.len() > MOST_PAIRS {
        remarks.push(format!("And {} more such pairs.", fit.together.len() - MOST_PAIRS));
    }
    let poor = question.readings.iter().enumerate().filter(|(i, reading)| {
        let emissivity = reading.surface_emissivity().map(|(e, _)| e);
        emissivity.is_some_and(|e| e < POOR_EMISSIVITY) && !fit.comparisons[*i].left_out
    });
    let poor = poor.count();
    if poor > 0 {
        let (which, verb) = if poor == 1 { ("One reading", "looks") } else { ("Readings", "look") };
        remarks.push(format!(
            "{which} {verb} at bare metal, which mirrors the shop more than it radiates: a piece of tape on the spot \
             would tell several times as much."
        ));
    }
    if fit.waits {
        remarks.push(
            "The timeline waits for a temperature, and readings were taken afterwards: in the fitted day the wait ends when \
             its own temperature is reached. State how long it took in the test, so that readings and day speak of the \
             same moments."
                .to_string(),
        );
    }
    if fit.used < 5 {
        remarks.push(
            "With so few readings most numbers stay what the table says; read shell, pan and case while it warms and \
             while it cools."
                .to_string(),
        );
    }
    remarks.extend(nothing_found(fit));
    remarks
}

/// What was looked for and not found: silence would leave it open.
fn nothing_found(fit: &Fit) -> Option<String> {
    let quiet = fit.used > 1 && fit.comparisons.iter().all(|comparison| !comparison.outlier);
    let kept = fit.parameters.iter().filter(|fitted| fitted.kept).count();
    let apart = kept > 1 && fit.together.is_empty();
    let between = format!("no two parameters have a correlation above {TOGETHER}");
    match (quiet, apart) {
        (true, true) => Some(format!("No reading stands out, and {between}.")),
        (true, false) => Some("No reading stands out.".to_string()),
        (false, true) => Some(format!("{}.", capital(&between))),
        (false, false) => None,
    }
}
