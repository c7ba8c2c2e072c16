//! stallheat for the page's worker: long work that a first view does not need, in a WebAssembly file of its own.
//!
//! Everything takes scenario text and is done a step at a time, so that the worker can say how far it is. Errors are
//! those of the page's core (`bridge`).
#![cfg(target_arch = "wasm32")]

mod bench;
#[path = "../wasm/bridge.rs"]
mod bridge;
mod fitter;
mod planner;
mod sizer;
mod sure;

use bridge::{system, thrown, to_js};
use stallheat::scenario::parameters::of_path;
use stallheat::scenario::{self, Scenario};
use stallheat::timeline::Node;
use stallheat::trace::Trace;
use stallheat::{report, simulate};
use wasm_bindgen::JsValue;
use wasm_bindgen::prelude::wasm_bindgen;

/// A simulated day, of which a few numbers are asked.
#[wasm_bindgen]
pub struct Run {
    scenario: Scenario,
    trace: Trace,
}

#[wasm_bindgen]
impl Run {
    /// Reads and simulates a scenario; throws the error object.
    pub fn simulate(text: &str) -> Result<Run, JsValue> {
        let scenario = scenario::parse(text).map_err(|error| thrown(&error))?;
        let trace = simulate::simulate(&scenario).map_err(|error| thrown(&error))?;
        Ok(Run { scenario, trace })
    }

    /// Finding, launches, ledger, events, cautions: `report::Summary`.
    pub fn summary(&self, units: &str) -> JsValue {
        to_js(&report::summary(&self.scenario, &self.trace, system(units)))
    }

    /// Temperatures of a node (K) at times (s), straight between samples; empty for a node that is not there.
    pub fn series(&self, node: &str, times_s: &[f64]) -> Vec<f64> {
        let Some(node) = Node::of_key(node) else { return Vec::new() };
        times_s.iter().map(|time_s| self.trace.temperature_at_k(node, *time_s)).collect()
    }
}

/// What the page calls a field of a refusal: the label of a parameter (`setup.cooler.ua`), else the last part of the path
/// in words.
#[wasm_bindgen]
pub fn field_label(path: &str) -> String {
    let own = path.strip_prefix("setup.").unwrap_or(path);
    match of_path(own) {
        Some(parameter) => {
            format!("{}: {}", parameter.wording().part_label, parameter.wording().label)
        }
        None => path.rsplit('.').next().unwrap_or_default().replace('_', " "),
    }
}
