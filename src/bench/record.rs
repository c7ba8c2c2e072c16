//! The record of a bench test, as its file has it.
//!
//! `{"format": 1, "record": "bench_test", "scenario": {…}, …}`: the timeline of the test and the set-up it was made with
//! stand in it whole, so that the record can be read in years to come. Everything but the scenario may be left out. Times
//! of readings and pressures count from `start`, when the stopwatch was started, which is the timeline's start unless
//! stated.

use serde_json::Value;

use super::checks::{CHECKS, Check, Outcome};
use crate::error::{Error, ErrorKind};
use crate::readings::{self, Reading, read_time};
use crate::scenario::json::{Json, ObjectReader, Reader};
use crate::scenario::{self, Scenario};
use crate::units::Dimension;

/// The only format there is.
pub const FORMAT: i64 = 1;
/// Largest record (bytes): a scenario and half as much.
pub const MAX_BYTES: usize = 3_000_000;
/// Most pressures of one test.
pub const MAX_PRESSURES: usize = 200;
/// What a gauge can show (Pa): 0 to 1 000 psi.
const SHOWN_PA: (f64, f64) = (0.0, 6.895e6);
/// One standard deviation of a pressure gauge (Pa), 3 psi; common practice, no source.
const DEVIATION_PA: f64 = 20_684.0;

/// Which pressure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Port {
    Line,
    Charge,
}

impl Port {
    /// Both ports.
    pub const ALL: [Port; 2] = [Port::Line, Port::Charge];

    /// The name in files and JSON.
    pub fn key(self) -> &'static str {
        match self {
            Port::Line => "line",
            Port::Charge => "charge",
        }
    }

    /// The name for people.
    pub fn label(self) -> &'static str {
        match self {
            Port::Line => "Line pressure",
            Port::Charge => "Converter charge",
        }
    }
}

/// A pressure as it was read.
#[derive(Debug, Clone, PartialEq)]
pub struct Pressure {
    /// Since the start of the test (s).
    pub time_s: f64,
    pub port: Port,
    /// The gear it was read in, in the shop's words; empty where it does not matter.
    pub gear: String,
    /// Pa.
    pub shown_pa: f64,
    /// One standard deviation (Pa).
    pub deviation_pa: f64,
    pub note: String,
}

/// One line about the unit, the customer or the test: a label for people and what was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// Group and key in files: `unit`, `number`.
    pub group: &'static str,
    pub key: &'static str,
    pub label: &'static str,
    pub text: String,
}

/// What can be written about unit, customer and test.
pub const ENTRIES: [(&str, &str, &str); 11] = [
    ("unit", "number", "Unit number"),
    ("unit", "kind", "Transmission"),
    ("unit", "converter", "Converter"),
    ("unit", "fluid", "Fluid"),
    ("unit", "work", "Work done"),
    ("customer", "name", "Customer"),
    ("customer", "contact", "Contact"),
    ("customer", "car", "Car"),
    ("tested", "date", "Date"),
    ("tested", "by", "Tested by"),
    ("tested", "bench", "Bench"),
];

/// A step and what came of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Checked {
    pub check: &'static Check,
    pub outcome: Outcome,
    pub note: String,
}

/// The record of a test.
#[derive(Debug, Clone, PartialEq)]
pub struct Record {
    pub entries: Vec<Entry>,
    pub scenario: Scenario,
    pub readings: Vec<Reading>,
    pub pressures: Vec<Pressure>,
    /// Every step, in order.
    pub checks: Vec<Checked>,
    pub remarks: String,
}

const KEYS: [&str; 11] = [
    "format",
    "record",
    "start",
    "unit",
    "customer",
    "tested",
    "scenario",
    "readings",
    "pressures",
    "checks",
    "remarks",
];

/// Reads a record. The first mistake found is returned.
pub fn parse(text: &str) -> Result<Record, Error> {
    if text.len() > MAX_BYTES {
        return Err(Error::new(
            ErrorKind::TooLarge,
            "file",
            format!("{:.1} MB", text.len() as f64 / 1e6),
            format!("a record has at most {} MB", MAX_BYTES / 1_000_000),
            "Check that this is the right file.",
        ));
    }
    let root = scenario::json::parse(text.strip_prefix('\u{feff}').unwrap_or(text))?;
    read_from(&root)
}

/// Reads a record that is JSON already.
pub fn read(root: &Value) -> Result<Record, Error> {
    read_from(&Json::from(root))
}

fn read_from(root: &Json) -> Result<Record, Error> {
    let record = Reader::new("record", root).object()?;
    record.only(&KEYS)?;
    let format = record.required("format", "\"format\": 1")?;
    if format.value().as_i64() != Some(FORMAT) {
        return Err(format.error(
            ErrorKind::OutOfRange,
            "this version reads format 1",
            "Use the version that made the file.",
        ));
    }
    record.required("record", "\"record\": \"bench_test\"")?.choice(&[("bench_test", ())])?;
    let scenario = record.required("scenario", "\"scenario\": { … }, the test's timeline")?;
    let scenario = scenario::read(scenario.value()).map_err(|error| {
        let field = format!("scenario.{}", error.field);
        error.of_field(field)
    })?;
    let mut entries = Vec::new();
    for group in ["unit", "customer", "tested"] {
        let Some(reader) = record.optional(group) else { continue };
        let object = reader.object()?;
        let of_group = || ENTRIES.iter().filter(move |entry| entry.0 == group);
        let known: Vec<&str> = of_group().map(|entry| entry.1).collect();
        object.only(&known)?;
        for (group, key, label) in of_group() {
            let Some(text) = object.optional(key) else { continue };
            let text = text.text(200, false)?.trim().to_string();
            if !text.is_empty() {
                entries.push(Entry { group, key, label, text });
            }
        }
    }
    let start_s = match record.optional("start") {
        Some(start) => read_time(&start)?,
        None => 0.0,
    };
    let mut readings = match record.optional("readings") {
        Some(list) => readings::read_from("readings", list.value())?,
        None => Vec::new(),
    };
    let mut pressures = match record.optional("pressures") {
        Some(list) => read_pressures(&list)?,
        None => Vec::new(),
    };
    for reading in &mut readings {
        reading.time_s += start_s;
    }
    for pressure in &mut pressures {
        pressure.time_s += start_s;
    }
    let checks = read_checks(&record)?;
    let remarks = match record.optional("remarks") {
        Some(text) => text.text(2_000, true)?,
        None => String::new(),
    };
    Ok(Record { entries, scenario, readings, pressures, checks, remarks })
}

fn read_pressures(list: &Reader) -> Result<Vec<Pressure>, Error> {
    let items = list.list()?;
    if items.len() > MAX_PRESSURES {
        return Err(list.error(
            ErrorKind::TooLarge,
            format!("at most {MAX_PRESSURES} pressures"),
            "Leave out some of those that were taken close together.",
        ));
    }
    let read = |item: &Reader| {
        let object = item.object()?;
        object.only(&["time", "port", "gear", "shown", "deviation", "note"])?;
        let time_s = read_time(&object.required("time", "\"time\": \"12:30\"")?)?;
        let port = object.required("port", "\"port\": \"line\"")?;
        let shown = object.required("shown", "\"shown\": \"195 psi\"")?;
        let text = |key: &str, most: usize| {
            object.optional(key).map_or(Ok(String::new()), |text| text.text(most, false))
        };
        Ok(Pressure {
            time_s,
            port: port.choice(&Port::ALL.map(|port| (port.key(), port)))?,
            gear: text("gear", 40)?.trim().to_string(),
            shown_pa: shown.quantity(Dimension::Pressure, "psi", SHOWN_PA.0, SHOWN_PA.1)?,
            deviation_pa: match object.optional("deviation") {
                Some(deviation) => deviation.quantity(Dimension::Pressure, "psi", 690.0, 690e3)?,
                None => DEVIATION_PA,
            },
            note: text("note", 200)?,
        })
    };
    items.iter().map(read).collect()
}

fn read_checks(record: &ObjectReader) -> Result<Vec<Checked>, Error> {
    let undone = |check| Checked { check, outcome: Outcome::NotDone, note: String::new() };
    let mut checks: Vec<Checked> = CHECKS.iter().map(undone).collect();
    let Some(reader) = record.optional("checks") else { return Ok(checks) };
    let object = reader.object()?;
    object.only(&CHECKS.map(|check| check.key))?;
    for checked in &mut checks {
        let Some(reader) = object.optional(checked.check.key) else { continue };
        let one = reader.object()?;
        one.only(&["result", "note"])?;
        let result = one.required("result", "\"result\": \"as_expected\"")?;
        checked.outcome = result.choice(&Outcome::ALL.map(|outcome| (outcome.key(), outcome)))?;
        if let Some(note) = one.optional("note") {
            checked.note = note.text(200, false)?;
        }
    }
    Ok(checks)
}
