//! stallheat for the browser: the only file that knows wasm-bindgen.
//!
//! The page hands over scenario text and gets back structures, text and drawings in the reader's units.
//! Errors are thrown as `Error`s with `kind`, `field`, `value`, `limit`, `remedy`; nothing here panics on
//! input, and a panic that happens all the same is written to the console before the instance stops.
#![cfg(target_arch = "wasm32")]

mod bridge;
mod fine;
mod picture;

use bridge::{system, thrown, to_js};
use fine::{FINE, FineBackend};
use serde::Serialize;
use stallheat::scenario::{self, Scenario};
use stallheat::trace::Trace;
use stallheat::units::{Dimension, clock_seconds_text, parse_quantity, temperature_in};
use stallheat::{chart, moment, report, sheet};
use wasm_bindgen::JsValue;
use wasm_bindgen::prelude::wasm_bindgen;
use web_sys::HtmlCanvasElement;

/// The version of the package, as the page shows it.
#[wasm_bindgen]
pub fn version() -> String {
    env!("CARGO_PKG_VERSION").to_string()
}

/// A quantity of a scenario in the reader's units, `{value, unit, text}`; null when not understood.
#[wasm_bindgen]
pub fn restate(path: &str, text: &str, units: &str) -> JsValue {
    to_js(&sheet::restate(path, text, system(units)))
}

/// A time of the day as a clock with seconds.
#[wasm_bindgen]
pub fn clock(time_s: f64) -> String {
    clock_seconds_text(time_s)
}

/// A temperature with its unit as kelvin; undefined when not understood.
#[wasm_bindgen]
pub fn kelvin(text: &str) -> Option<f64> {
    parse_quantity(Dimension::Temperature, text).ok()
}

/// A temperature (K) in the reader's unit.
#[wasm_bindgen]
pub fn temperature(kelvin: f64, units: &str) -> f64 {
    temperature_in(system(units), kelvin)
}

/// A simulated day, kept on this side so that the page draws and reads it without copying it whole.
#[wasm_bindgen]
pub struct Day {
    scenario: Scenario,
    trace: Trace,
}

#[derive(Serialize)]
struct LayoutObject {
    left: f64,
    top: f64,
    right: f64,
    bottom: f64,
    start_s: f64,
    end_s: f64,
    lowest: f64,
    highest: f64,
    unit: &'static str,
}

#[wasm_bindgen]
impl Day {
    /// Reads and simulates a scenario; throws the error object.
    pub fn simulate(text: &str) -> Result<Day, JsValue> {
        let scenario = scenario::parse(text).map_err(|error| thrown(&error))?;
        let trace = stallheat_fast::simulate(&scenario).map_err(|error| thrown(&error))?;
        Ok(Day { scenario, trace })
    }

    /// Finding, launches, ledger, events, cautions: `report::Summary`.
    pub fn summary(&self, units: &str) -> JsValue {
        to_js(&report::summary(&self.scenario, &self.trace, system(units)))
    }

    /// The values that hold in the set-up, in the order of `tables().parameters`.
    pub fn setup(&self, units: &str) -> JsValue {
        to_js(&sheet::values(&self.scenario.setup, system(units)))
    }

    /// Everything about one time (s since the start of the day): `moment::Moment`.
    pub fn moment(&self, time_s: f64, units: &str) -> JsValue {
        to_js(&moment::moment(&self.scenario.setup, &self.trace, time_s, system(units)))
    }

    /// The temperatures as CSV.
    pub fn csv(&self, units: &str) -> String {
        report::csv(&self.trace, system(units))
    }

    /// Heat of each event by source and sink: `report::HeatTable`.
    pub fn heat(&self, units: &str) -> JsValue {
        to_js(&report::heat_table(&self.trace, system(units)))
    }

    /// The table of a picture, `{says, heads, rows}`; null for those whose table is elsewhere.
    pub fn table(&self, key: &str, units: &str) -> Result<JsValue, JsValue> {
        let picture = picture::picture(key).map_err(|said| picture::refused(&said))?;
        Ok(to_js(&picture.table(&self.scenario, &self.trace, system(units))))
    }

    /// The course of the pass of a launch: `report::PassCourse`; null where the day has no such launch.
    pub fn pass(&self, launch: usize, units: &str) -> JsValue {
        to_js(&report::pass_course(&self.scenario, &self.trace, launch, system(units)))
    }

    /// Temperatures of a node (K) at times (s), straight between samples.
    pub fn series(&self, node: &str, times_s: &[f64]) -> Result<Vec<f64>, JsValue> {
        let node = picture::node(node).map_err(|said| picture::refused(&said))?;
        Ok(times_s.iter().map(|time_s| self.trace.temperature_at_k(node, *time_s)).collect())
    }

    /// Draws a picture; sizes the canvas and returns where the plot area is, in CSS pixels. Throws an error that
    /// says which option is wrong.
    pub fn draw(&self, canvas: HtmlCanvasElement, options: JsValue) -> Result<JsValue, JsValue> {
        let (ratio, options) = picture::options(options)?;
        let pixels = |size_px: f64| (size_px * ratio).round() as u32;
        let surface =
            FineBackend::new(canvas, pixels(options.width_px), pixels(options.height_px))?;
        let layout = chart::draw(surface, ratio * FINE, &self.scenario, &self.trace, &options)
            .map_err(|error| picture::refused(&error.0))?;
        Ok(to_js(&LayoutObject {
            left: layout.left_px,
            top: layout.top_px,
            right: layout.right_px,
            bottom: layout.bottom_px,
            start_s: layout.start_s,
            end_s: layout.end_s,
            lowest: layout.lowest,
            highest: layout.highest,
            unit: layout.unit,
        }))
    }

    /// The same picture as SVG, light unless asked otherwise.
    pub fn svg(&self, options: JsValue) -> Result<String, JsValue> {
        let (_, options) = picture::options(options)?;
        chart::svg(&self.scenario, &self.trace, &options)
            .map_err(|error| picture::refused(&error.0))
    }
}
