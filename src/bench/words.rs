//! A bench test in words and numbers, in the reader's units: for the page, the command line and the printed sheet.

use serde::Serialize;

use super::expected::{Expected, Shown, expect};
use super::faults::{Cause, causes};
use super::pressures::{PressureFinding, PressureKind, findings};
use super::record::{Port, Record};
use crate::error::Error;
use crate::finding::SAFETY;
use crate::report::capital;
use crate::simulate::simulate;
use crate::trace::Trace;
use crate::units::{
    Dimension, System, clock_seconds_text, temperature_in, temperature_symbol, unit_or_si,
};

/// A record beside what is expected of it, SI.
pub struct Judged {
    pub trace: Trace,
    pub expected: Expected,
    pub causes: Vec<Cause>,
    pub of_pressures: Vec<PressureFinding>,
}

/// Computes what a record is judged by.
pub fn judge(record: &Record) -> Result<Judged, Error> {
    let trace = simulate(&record.scenario)?;
    let expected = expect(record)?;
    let causes = causes(record, &expected);
    let of_pressures = findings(record, &expected, &trace);
    Ok(Judged { trace, expected, causes, of_pressures })
}

/// A bench test, in the reader's units.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SheetSummary {
    pub title: String,
    pub entries: Vec<EntryLine>,
    pub headline: String,
    pub findings: Vec<FindingLine>,
    pub readings: Vec<ReadLine>,
    pub temperature_unit: &'static str,
    pub pressures: Vec<ReadLine>,
    pub pressure_unit: &'static str,
    pub checks: Vec<CheckLine>,
    pub remarks: String,
    pub cautions: Vec<&'static str>,
    /// What the sheet is not.
    pub caveat: &'static str,
    /// Units drawn for the bands.
    pub draws: usize,
}

/// A line about unit, customer or test.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct EntryLine {
    pub group: &'static str,
    pub label: &'static str,
    pub text: String,
}

/// What the numbers say, and what to look at.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FindingLine {
    pub title: String,
    pub text: String,
    pub look: String,
}

/// A number beside its band.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReadLine {
    /// From 1.
    pub number: usize,
    pub time_s: f64,
    pub clock: String,
    /// Place, or port.
    pub what: &'static str,
    /// Surface, or gear.
    pub on: String,
    pub shown: f64,
    /// What is expected, and the band around it; none where the model has no number.
    pub expected: Option<f64>,
    pub low: Option<f64>,
    pub high: Option<f64>,
    /// `in`, `above`, `below`, `none`.
    pub verdict: &'static str,
    pub verdict_label: &'static str,
    pub note: String,
}

/// A step and what came of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct CheckLine {
    pub key: &'static str,
    pub when: &'static str,
    pub label: &'static str,
    pub sentence: &'static str,
    pub result: &'static str,
    pub result_label: &'static str,
    pub note: String,
}

const CAVEAT: &str = "Bands are what the simulated unit shows, given what is not known about it; one reading in twenty lies \
    outside by chance. This sheet supports a technician's judgement. It passes or fails no unit.";

/// Puts a record and what is expected of it into words.
pub fn summary(record: &Record, judged: &Judged, system: System) -> SheetSummary {
    let expected = &judged.expected;
    let pressure_unit = system.pick("psi", "kPa");
    let degrees = |kelvin: f64| temperature_in(system, kelvin);
    let pressure = unit_or_si(Dimension::Pressure, pressure_unit);
    let row_of = |shown: Shown| expected.of.iter().position(|of| *of == shown);
    let line = |shown: Shown, value: &dyn Fn(f64) -> f64, read: ReadLine| -> ReadLine {
        let Some(row) = row_of(shown) else { return read };
        let (low, high) = expected.band(row);
        let (verdict, verdict_label) = match expected.shown[row] {
            shown if shown < low => ("below", "below the band"),
            shown if shown > high => ("above", "above the band"),
            _ => ("in", "in the band"),
        };
        ReadLine {
            expected: Some(value(expected.mean[row])),
            low: Some(value(low)),
            high: Some(value(high)),
            verdict,
            verdict_label,
            ..read
        }
    };
    let bare = |number: usize, time_s: f64, what, on, shown: f64, note: &str| ReadLine {
        number: number + 1,
        time_s,
        clock: clock_seconds_text(time_s),
        what,
        on,
        shown,
        expected: None,
        low: None,
        high: None,
        verdict: "none",
        verdict_label: "not compared",
        note: note.to_string(),
    };
    let readings: Vec<ReadLine> = record
        .readings
        .iter()
        .enumerate()
        .map(|(i, reading)| {
            let on = reading.surface.label().to_string();
            let shown = degrees(reading.shown_k);
            let read = bare(i, reading.time_s, reading.place.label(), on, shown, &reading.note);
            line(Shown::Reading(i), &degrees, read)
        })
        .collect();
    let pressures: Vec<ReadLine> = record
        .pressures
        .iter()
        .enumerate()
        .map(|(i, one)| {
            let shown = pressure.from_si(one.shown_pa);
            let read = bare(i, one.time_s, one.port.label(), one.gear.clone(), shown, &one.note);
            line(Shown::Pressure(i), &|pa| pressure.from_si(pa), read)
        })
        .collect();
    let checks = record.checks.iter().map(|checked| CheckLine {
        key: checked.check.key,
        when: checked.check.when.label(),
        label: checked.check.label,
        sentence: checked.check.sentence,
        result: checked.outcome.key(),
        result_label: checked.outcome.label(),
        note: checked.note.clone(),
    });
    let of_causes = judged.causes.iter().map(|cause| FindingLine {
        title: cause.label.clone(),
        text: cause.shows.clone(),
        look: cause.look.clone(),
    });
    let found: Vec<FindingLine> =
        of_causes.chain(judged.of_pressures.iter().map(pressure_finding)).collect();
    SheetSummary {
        title: record.scenario.name.clone(),
        entries: record
            .entries
            .iter()
            .map(|entry| EntryLine {
                group: entry.group,
                label: entry.label,
                text: entry.text.clone(),
            })
            .collect(),
        headline: headline(&readings, &pressures, found.len(), expected.waited),
        findings: found,
        readings,
        temperature_unit: temperature_symbol(system),
        pressures,
        pressure_unit,
        checks: checks.collect(),
        remarks: record.remarks.clone(),
        cautions: SAFETY.to_vec(),
        caveat: CAVEAT,
        draws: expected.simulated,
    }
}

fn headline(readings: &[ReadLine], pressures: &[ReadLine], found: usize, waited: bool) -> String {
    let compared: Vec<&ReadLine> =
        readings.iter().chain(pressures).filter(|line| line.verdict != "none").collect();
    if compared.is_empty() {
        return "No reading yet that can be compared with what is expected.".to_string();
    }
    let count = |verdict: &str| compared.iter().filter(|line| line.verdict == verdict).count();
    let (inside, above, below) = (count("in"), count("above"), count("below"));
    let mut said =
        format!("{inside} of {} readings lie in the band of what is expected", compared.len());
    for (count, side) in [(above, "above"), (below, "below")] {
        if count > 0 {
            said += &format!(", {count} {side} it");
        }
    }
    said.push('.');
    if waited {
        said += " The timeline waits for a temperature and is taken to have waited as long as the unit as stated would: \
            state how long it was.";
    }
    // By chance one of twenty lies outside.
    let many = above + below > 1 + compared.len() / 10;
    said += match found {
        0 if many => {
            " No single cause that is known here explains them: look at the readings and the timeline again."
        }
        0 => "",
        1 => " One thing explains them better than a sound unit would:",
        _ => " What explains them better than a sound unit would:",
    };
    said
}

fn pressure_finding(finding: &PressureFinding) -> FindingLine {
    let port = finding.port.label();
    let share = format!("{:.0} %", 100.0 * finding.lower);
    match finding.kind {
        PressureKind::GearBelowOthers { hot } => FindingLine {
            title: format!("{port} falls in {}", finding.gear),
            text: format!(
                "{}, it is {share} below the other gears, each held against what is expected at its moment.",
                if hot { "Hot" } else { "Cold" }
            ),
            look: "The circuit that this gear applies: sealing rings, piston seals, the separator plate's gasket, a check ball."
                .to_string(),
        },
        PressureKind::LowThroughout => FindingLine {
            title: format!("{port} is low throughout"),
            text: format!(
                "Every reading lies below its band, by {share} on the whole, cold and hot and in every gear alike."
            ),
            look: match finding.port {
                Port::Line => "The level first. Pump and its drive, pickup and filter, the regulator and its spring, the port that was read, the gauge.",
                Port::Charge => "The level and line pressure first. The converter's feed and its relief, the pump's seal, the port that was read, the gauge.",
            }
            .to_string(),
        },
        PressureKind::FallsWhenHot => {
            let where_ = match finding.gear.as_str() {
                "" => "in every gear".to_string(),
                gear => format!("in {gear}"),
            };
            FindingLine {
                title: format!("{port} falls when hot"),
                text: format!(
                    "{}: {share} lower than cold, beyond what thinner fluid explains.",
                    capital(&where_)
                ),
                look: "A leak inside: pump clearances, regulator valve, converter hub bushing and its ring, cross-leaks at the gasket."
                    .to_string(),
            }
        }
    }
}
