//! The gate: from text to a validated scenario, once, at the edge.
//!
//! A scenario file is JSON with `"format": 1`. A quantity is a string with its unit, `"95 °F"`; a plain
//! JSON number is accepted for dimensionless quantities only. Unknown and doubled keys are refused by
//! name. Behind the gate everything is SI, in range and free of contradiction, and no other module checks
//! again.
//!
//! Parts: `parameters` (the one table), `json` (strict reading with paths), `setup` and `day` (the two
//! halves of a file; `event` reads one), `calibration` (what a fit knows), `schema` (JSON Schema made from the tables).

pub mod alternatives;
pub mod calibration;
mod day;
mod event;
pub(crate) mod json;
pub mod parameters;
pub mod schema;
mod setup;
pub mod tables;

use crate::drive::Drive;
use crate::error::{Error, ErrorKind};
use crate::timeline::{Block, NODES};
use calibration::Calibration;
use json::{Json, Reader};
use parameters::Setup;
use serde_json::Value;
pub use setup::largest_ua_w_per_k;
use tables::TableInput;

/// The only format there is.
pub const FORMAT: i64 = 1;
/// Largest scenario file (bytes).
pub const MAX_BYTES: usize = 2_000_000;

/// Typical cars to start from, invented: a JSON list of `{key, name, sentence, setup}`, each set-up as a file
/// has it. They state no air and no limits, which are the day's and the crew's.
pub const CARS: &str = include_str!("cars.json");

/// The example days that come with the program, invented, key and text; first the one that the page opens with.
pub const EXAMPLES: [(&str, &str); 3] = [
    ("saturday_bracket_day", include_str!("../../scenarios/saturday_bracket_day.json")),
    ("test_and_tune_evening", include_str!("../../scenarios/test_and_tune_evening.json")),
    ("dyno_bench_session", include_str!("../../scenarios/dyno_bench_session.json")),
];

/// A validated scenario, SI.
#[derive(Debug, Clone, PartialEq)]
pub struct Scenario {
    pub name: String,
    pub note: String,
    pub setup: Setup,
    /// Temperature of every node at time zero (K), in the order of `timeline::Node`.
    pub initial_temperature_k: [f64; NODES],
    pub blocks: Vec<Block>,
    /// How well a fit knows the parameters that it moved.
    pub calibration: Option<Calibration>,
}

/// Reads a scenario. The first mistake found is returned.
pub fn parse(text: &str) -> Result<Scenario, Error> {
    read(&read_text(text)?)
}

/// Reads a scenario, taking tables (part, key, comma-separated values) from elsewhere in place of the file's.
pub fn parse_with_tables(text: &str, tables: &[(&TableInput, String)]) -> Result<Scenario, Error> {
    let mut root = read_text(text)?;
    for (table, values) in tables {
        put_table(&mut root, table, values);
    }
    read(&root)
}

/// Reads text as JSON, as strictly as a scenario is read: of limited size, no key twice.
pub fn read_json(text: &str) -> Result<Value, Error> {
    read_text(text).map(Value::from)
}

fn read_text(text: &str) -> Result<Json, Error> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    if text.len() > MAX_BYTES {
        return Err(Error::new(
            ErrorKind::TooLarge,
            "file",
            format!("{:.1} MB", text.len() as f64 / 1e6),
            format!("a scenario has at most {} MB", MAX_BYTES / 1_000_000),
            "Split the day into several scenarios, or check that this is the right file.",
        ));
    }
    json::parse(text)
}

/// Reads a scenario that is JSON already.
pub fn parse_json(root: &Value) -> Result<Scenario, Error> {
    read(&Json::from(root))
}

/// Reads the JSON of a scenario.
pub(crate) fn read(root: &Json) -> Result<Scenario, Error> {
    let root = Reader::new("scenario", root).object()?;
    root.only(&[
        "format",
        "name",
        "note",
        "setup",
        "calibration",
        "initial_temperatures",
        "timeline",
    ])?;

    let format = root.required("format", "\"format\": 1")?;
    if format.value().as_i64() != Some(FORMAT) {
        return Err(format.error(
            ErrorKind::OutOfRange,
            "this version reads format 1",
            "Write \"format\": 1, or use the version that made the file.",
        ));
    }
    let name = root.required("name", "\"name\": \"Saturday\"")?.name(120)?;
    let note = match root.optional("note") {
        Some(note) => note.text(4_000, true)?,
        None => String::new(),
    };
    let setup = setup::read(root.optional("setup"))?;
    // Numbers of engine and converter that are each in range can contradict each other.
    Drive::new(&setup)?;
    let mut initial_temperature_k = [setup.air.temperature_k; NODES];
    if let Some(stated) = root.optional("initial_temperatures") {
        initial_temperature_k = setup::read_initial_temperatures(stated, initial_temperature_k)?;
    }
    let timeline = root.required("timeline", "\"timeline\": [ … ]")?;
    let blocks = day::read(timeline, &setup)?;
    let calibration = root.optional("calibration").map(calibration::read).transpose()?;
    Ok(Scenario { name, note, setup, initial_temperature_k, blocks, calibration })
}

/// Puts a table into the set-up, in place of what it replaces. A file of another shape is left for the reader to
/// refuse.
fn put_table(root: &mut Json, table: &TableInput, values: &str) {
    /// The object of a key, made where it is not there.
    fn object<'a>(value: &'a mut Json, key: &str) -> Option<&'a mut Json> {
        let Json::Object(entries) = value else { return None };
        let place = entries.iter().position(|(known, _)| known == key).unwrap_or_else(|| {
            entries.push((key.to_string(), Json::Object(Vec::new())));
            entries.len() - 1
        });
        Some(&mut entries[place].1)
    }
    let part = object(root, "setup").and_then(|setup| object(setup, table.part));
    let Some(Json::Object(part)) = part else { return };
    // A column of K-factors brings the one at stall along.
    let header = values.lines().find(|line| !line.trim().is_empty()).unwrap_or_default();
    let brings_k = table.key == "table" && header.split([',', ';', '\t']).any(tables::is_k_factor);
    let with_k = ["k_factor", "stall_speed", "stall_torque"];
    part.retain(|(key, _)| {
        let key = key.as_str();
        key != table.key && !table.replaces.contains(&key) && !(brings_k && with_k.contains(&key))
    });
    part.push((table.key.to_string(), Json::String(values.to_string())));
}
