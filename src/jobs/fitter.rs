//! Readings for the page: words for places and surfaces, tables read, readings checked as they are typed, a set-up fitted
//! to them and pictures of that.

use js_sys::Function;
use serde::Serialize;
use serde_json::{Value, json};
use stallheat::error::{Error, ErrorKind};
use stallheat::fit::chart::{self, Picture};
use stallheat::fit::{Fit, Free, Question, apply, fit, summary};
use stallheat::readings::{POOR_EMISSIVITY, Place, Reading, Surface, read_list, table};
use stallheat::scenario::parameters::{PARAMETERS, Setup};
use stallheat::scenario::{self, Scenario};
use stallheat::thermometer::USUAL_SETTING;
use stallheat::timeline::MAX_DAY_S;
use stallheat::units::{
    Dimension, System, clock_seconds_text, parse_quantity, temperature_difference_in,
    temperature_in, temperature_symbol,
};
use wasm_bindgen::JsValue;
use wasm_bindgen::prelude::wasm_bindgen;

use crate::bridge::{system, thrown, to_js};

/// The four parts of an error, and which of a reading's words it is about.
#[derive(Serialize)]
struct ErrorObject {
    field: String,
    key: String,
    value: String,
    limit: String,
    remedy: String,
}

impl ErrorObject {
    fn new(error: &Error) -> ErrorObject {
        let key = error.field.rsplit('.').next().unwrap_or_default().to_string();
        ErrorObject {
            field: error.field.clone(),
            key,
            value: error.value.clone(),
            limit: error.limit.clone(),
            remedy: error.remedy.clone(),
        }
    }
}

/// What is offered on the page: `{ places, surfaces, setting, parameters }`.
#[wasm_bindgen]
pub fn readings_words() -> JsValue {
    let place = |place: Place| json!({ "key": place.key(), "label": place.label(), "gauged": place.is_gauged() });
    let surface = |surface: Surface| {
        let emissivity = surface.emissivity();
        json!({
            "key": surface.key(),
            "label": surface.label(),
            "emissivity": emissivity.map(|(e, _)| e),
            "deviation": emissivity.map(|(_, deviation)| deviation),
        })
    };
    let parameters: Vec<Value> = PARAMETERS
        .iter()
        .filter(|parameter| parameter.spread.is_some())
        .map(|parameter| {
            json!({
                "path": parameter.path(),
                "part": parameter.wording().part_label,
                "label": parameter.wording().label,
            })
        })
        .collect();
    to_js(&json!({
        "places": Place::ALL.map(place),
        "surfaces": Surface::ALL.map(surface),
        "setting": USUAL_SETTING,
        "parameters": parameters,
    }))
}

/// Invented readings of the bench session among the examples, as a table.
#[wasm_bindgen]
pub fn example_readings() -> String {
    include_str!("../../scenarios/dyno_bench_readings.csv").to_string()
}

#[derive(Serialize)]
struct RowObject {
    line: u64,
    written: Vec<String>,
    reading: Option<Value>,
    clock: Option<String>,
    place: Option<&'static str>,
    error: Option<ErrorObject>,
}

/// Reads a table: `{ rows: [{ line, written, reading or error }], ignored }`, readings in the reader's units. Throws the
/// error object where there is no table.
#[wasm_bindgen]
pub fn read_readings(text: &str, units: &str) -> Result<JsValue, JsValue> {
    let read = table::read(text).map_err(|error| thrown(&error))?;
    let rows: Vec<RowObject> = read
        .rows
        .iter()
        .map(|row| RowObject {
            line: row.line,
            written: row.written.clone(),
            reading: row.reading.as_ref().ok().map(|reading| in_units(reading, system(units))),
            clock: row.reading.as_ref().ok().map(|reading| clock_seconds_text(reading.time_s)),
            place: row.reading.as_ref().ok().map(|reading| reading.place.label()),
            error: row.reading.as_ref().err().map(ErrorObject::new),
        })
        .collect();
    Ok(to_js(&json!({ "rows": rows, "ignored": read.ignored })))
}

/// A reading as JSON, temperatures in the reader's unit: short, as somebody would type it.
fn in_units(reading: &Reading, system: System) -> Value {
    let words = |k: f64| {
        let value = (temperature_in(system, k) * 100.0).round() / 100.0;
        format!("{value} {}", temperature_symbol(system))
    };
    let mut object = reading.to_json();
    object["shown"] = json!(words(reading.shown_k));
    if let Some(surroundings_k) = reading.surroundings_k {
        object["surroundings"] = json!(words(surroundings_k));
    }
    object
}

#[derive(Serialize)]
struct CheckedObject {
    /// Since the stopwatch was started, and of the day.
    clock: String,
    day_s: f64,
    place: &'static str,
    surface: &'static str,
    infrared: bool,
    emissivity: Option<f64>,
    /// Mostly the surroundings'.
    poor: bool,
    shown: f64,
    corrected: f64,
    deviation: f64,
    unit: &'static str,
}

/// Looks at readings one by one: a list of `{ … }` or `{ error }`, in the units of `units`. `day` gives the air.
#[wasm_bindgen]
pub fn check_readings(rows: &str, start: &str, day: &str, units: &str) -> JsValue {
    let rows: Vec<Value> = serde_json::from_str(rows).unwrap_or_default();
    let air_k = match scenario::parse(day) {
        Ok(scenario) => scenario.setup.air.temperature_k,
        Err(_) => Setup::default().air.temperature_k,
    };
    let start = start_s(start);
    let system = system(units);
    let checked: Vec<Value> = rows
        .into_iter()
        .map(|row| {
            let found = read_list("reading", &Value::Array(vec![row]));
            let checked = found.and_then(|mut readings| {
                let reading = readings.pop().ok_or_else(none)?;
                let start_s = start.clone().unwrap_or(0.0);
                Ok(checked(&reading, start_s, air_k, system))
            });
            match checked {
                Ok(object) => json!(object),
                Err(error) => json!({ "error": ErrorObject::new(&error) }),
            }
        })
        .collect();
    let start = start.err().map(|error| ErrorObject::new(&error));
    to_js(&json!({ "rows": checked, "start": start }))
}

fn checked(reading: &Reading, start_s: f64, air_k: f64, system: System) -> CheckedObject {
    let (corrected_k, deviation_k) = reading.corrected_k(air_k);
    let emissivity = reading.surface_emissivity().map(|(e, _)| e);
    CheckedObject {
        clock: clock_seconds_text(reading.time_s),
        day_s: reading.time_s + start_s,
        place: reading.place.label(),
        surface: reading.surface.label(),
        infrared: emissivity.is_some(),
        emissivity,
        poor: emissivity.is_some_and(|e| e < POOR_EMISSIVITY),
        shown: temperature_in(system, reading.shown_k),
        corrected: temperature_in(system, corrected_k),
        deviation: temperature_difference_in(system, deviation_k),
        unit: temperature_symbol(system),
    }
}

fn none() -> Error {
    Error::new(ErrorKind::Missing, "readings", "none", "at least one reading", "Add a reading.")
}

fn start_s(text: &str) -> Result<f64, Error> {
    let found = parse_quantity(Dimension::Time, text).ok();
    found.filter(|start_s| (0.0..=MAX_DAY_S).contains(start_s)).ok_or_else(|| {
        Error::new(
            ErrorKind::WrongUnit,
            "stopwatch started at",
            text,
            "a time in the day, 0 s to 36 h, with its unit",
            "Write for example 8 min.",
        )
    })
}

/// Readings and the day that they were taken on, and the fit once it is made.
#[wasm_bindgen]
pub struct Fitter {
    text: String,
    scenario: Scenario,
    readings: Vec<Reading>,
    without: Vec<usize>,
    free: Vec<String>,
    fitted: Option<(Fit, Picture)>,
}

#[wasm_bindgen]
impl Fitter {
    /// Reads a scenario and `{ readings, start, without: [place], free: [path] }`; without `free` all that the readings
    /// feel may move. Throws the error object.
    #[wasm_bindgen(constructor)]
    pub fn new(text: &str, asked: &str) -> Result<Fitter, JsValue> {
        Fitter::read(text, asked).map_err(|error| thrown(&error))
    }

    /// Fits; `progress(days)` is called after each day.
    pub fn run(&mut self, progress: &Function) -> Result<(), JsValue> {
        self.solve(progress).map_err(|error| thrown(&error))
    }

    /// `FitSummary`, in the units of `units`.
    pub fn summary(&self, units: &str) -> JsValue {
        let Some((fitted, _)) = &self.fitted else { return JsValue::NULL };
        to_js(&summary(&self.question(), fitted, system(units)))
    }

    /// The text of the fitted day.
    pub fn day(&self) -> Result<String, JsValue> {
        let Some((fitted, _)) = &self.fitted else { return Ok(String::new()) };
        apply(&self.text, fitted).map_err(|error| thrown(&error))
    }

    /// The temperatures as SVG in CSS pixels.
    pub fn temperatures(&self, units: &str, width_px: f64, height_px: f64, dark: bool) -> String {
        let options = chart::options(width_px, height_px, system(units), dark);
        let drawn = self.fitted.as_ref().map(|(_, p)| chart::temperatures_svg(p, &options));
        drawn.and_then(Result::ok).unwrap_or_default()
    }

    /// What is left of each reading as SVG in CSS pixels.
    pub fn residuals(&self, units: &str, width_px: f64, height_px: f64, dark: bool) -> String {
        let options = chart::options(width_px, height_px, system(units), dark);
        let drawn = self.fitted.as_ref().map(|(_, p)| chart::residuals_svg(p, &options));
        drawn.and_then(Result::ok).unwrap_or_default()
    }
}

impl Fitter {
    fn read(text: &str, asked: &str) -> Result<Fitter, Error> {
        let scenario = scenario::parse(text)?;
        let asked: Value = serde_json::from_str(asked).unwrap_or_default();
        let start_s = start_s(asked["start"].as_str().unwrap_or("0 s"))?;
        let mut readings = read_list("readings", &asked["readings"])?;
        for reading in &mut readings {
            reading.time_s += start_s;
        }
        let list = |key: &str| asked[key].as_array().cloned().unwrap_or_default();
        let place = |value: &Value| value.as_u64().and_then(|place| usize::try_from(place).ok());
        let without = list("without").iter().filter_map(place).collect();
        let free = list("free").iter().filter_map(|v| v.as_str().map(str::to_string)).collect();
        Ok(Fitter { text: text.to_string(), scenario, readings, without, free, fitted: None })
    }

    fn question(&self) -> Question<'_> {
        let free = if self.free.is_empty() { Free::Felt } else { Free::Named(self.free.clone()) };
        Question {
            scenario: &self.scenario,
            readings: &self.readings,
            free,
            without: self.without.clone(),
        }
    }

    fn solve(&mut self, progress: &Function) -> Result<(), Error> {
        let question = self.question();
        let fitted = fit(&question, &mut |days| {
            // A listener that fails does not stop the work.
            let _ = progress.call1(&JsValue::NULL, &(days as f64).into());
        })?;
        let picture = chart::picture(&question, &fitted)?;
        self.fitted = Some((fitted, picture));
        Ok(())
    }
}
