//! stallheat for the page's worker: long work that a first view does not need, in a WebAssembly file of its own.
//!
//! Everything takes scenario text and is done a step at a time, so that the worker can say how far it is. Errors are
//! those of the page's core (`bridge`).
#![cfg(target_arch = "wasm32")]

#[path = "../wasm/bridge.rs"]
mod bridge;
mod planner;
mod sizer;

use bridge::{system, thrown, to_js};
use stallheat::scenario::{self, Scenario};
use stallheat::timeline::Node;
use stallheat::trace::Trace;
use stallheat::units::temperature_in;
use stallheat::{band, report, simulate};
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

/// The band of a day, computed a few draws at a time.
#[wasm_bindgen]
pub struct Band(band::Band);

#[wasm_bindgen]
impl Band {
    /// `known`: paths of the parameters that are not spread, with spaces between. Throws the error object.
    #[wasm_bindgen(constructor)]
    pub fn new(text: &str, times_s: Vec<f64>, draws: usize, known: &str) -> Result<Band, JsValue> {
        let scenario = scenario::parse(text).map_err(|error| thrown(&error))?;
        let known: Vec<&str> = known.split(' ').collect();
        Ok(Band(band::Band::new(scenario, times_s, draws.min(2_000), &known)))
    }

    /// Simulates some further draws; gives how many are done.
    pub fn step(&mut self, count: usize) -> usize {
        self.0.step(count)
    }

    /// How many of those done could be simulated.
    pub fn simulated(&self) -> usize {
        self.0.simulated()
    }

    /// Low temperatures of a node at all times (K), then the high ones.
    pub fn node(&self, key: &str) -> Vec<f64> {
        Node::of_key(key).map_or(Vec::new(), |node| {
            let (mut low_k, high_k) = self.0.node_k(node);
            low_k.extend(high_k);
            low_k
        })
    }

    /// For every launch low and high of converter and pan in the reader's unit, and of the elapsed time (s; NaN where
    /// there is none).
    pub fn launches(&self, units: &str) -> Vec<f64> {
        let mut flat = Vec::new();
        for launch in self.0.launches() {
            for node in [Node::ConverterFluid, Node::PanFluid] {
                let (low_k, high_k) = launch.temperature_k[node.index()];
                flat.push(temperature_in(system(units), low_k));
                flat.push(temperature_in(system(units), high_k));
            }
            let (low_s, high_s) = launch.elapsed_s.unwrap_or((f64::NAN, f64::NAN));
            flat.extend([low_s, high_s]);
        }
        flat
    }
}
