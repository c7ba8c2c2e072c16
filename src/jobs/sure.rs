//! How sure: the band of a day and its tornado, for the page's worker.
//!
//! Draws and days are computed by number and taken in order, so that several workers may share them and the result is
//! the same as that of one.

use serde::Serialize;
use stallheat::band::{Band, Draw};
use stallheat::scenario;
use stallheat::timeline::Node;
use stallheat::tornado::{Bar, MEASURES, Measure, Tornado};
use stallheat::units::{
    Dimension, System, temperature_difference_in, temperature_in, temperature_symbol,
};
use wasm_bindgen::JsValue;
use wasm_bindgen::prelude::wasm_bindgen;

use crate::bridge::{system, thrown, to_js};

/// Most draws that the page may ask for.
const MOST_DRAWS: usize = 2_000;

/// Band and tornado of one day.
#[wasm_bindgen]
pub struct Sure {
    band: Band,
    tornado: Tornado,
}

/// What is said of one measure, in the reader's units.
#[derive(Serialize)]
struct MeasureShown {
    key: &'static str,
    label: &'static str,
    unit: &'static str,
    decimals: usize,
    bars: Vec<BarShown>,
}

#[derive(Serialize)]
struct BarShown {
    path: String,
    part: &'static str,
    label: &'static str,
    /// `80 to 140 W/K`.
    ends: String,
    stated: f64,
    low: f64,
    high: f64,
    size: f64,
}

/// Low and high in the reader's unit.
#[derive(Serialize)]
struct PeakShown {
    label: &'static str,
    low: f64,
    high: f64,
}

#[wasm_bindgen]
impl Sure {
    /// `known`: paths of the parameters that are not spread, with spaces between. Throws the error object.
    #[wasm_bindgen(constructor)]
    pub fn new(text: &str, times_s: Vec<f64>, draws: usize, known: &str) -> Result<Sure, JsValue> {
        let scenario = scenario::parse(text).map_err(|error| thrown(&error))?;
        let known: Vec<&str> = known.split(' ').collect();
        Ok(Sure {
            band: Band::new(scenario.clone(), times_s, draws.min(MOST_DRAWS), &known),
            tornado: Tornado::new(scenario, &known),
        })
    }

    /// One draw as a row of numbers, by its number; empty when it cannot be simulated.
    pub fn draw(&self, number: usize) -> Vec<f64> {
        self.band.drawn(number).map_or(Vec::new(), |draw| draw.numbers())
    }

    /// Takes the next draw.
    pub fn take_draw(&mut self, numbers: &[f64]) {
        self.band.keep(Draw::of_numbers(numbers));
    }

    /// Days of the tornado.
    pub fn days(&self) -> usize {
        self.tornado.days()
    }

    /// The measures of one day of the tornado (SI; NaN for none), by its number; empty when it cannot be simulated.
    pub fn day(&self, number: usize) -> Vec<f64> {
        let measured = self.tornado.measured(number);
        measured.map_or(Vec::new(), |all| all.map(|one| one.unwrap_or(f64::NAN)).to_vec())
    }

    /// Takes the next day of the tornado.
    pub fn take_day(&mut self, numbers: &[f64]) {
        let numbers: Option<[f64; MEASURES]> = numbers.try_into().ok();
        self.tornado.keep(numbers.map(|all| all.map(|one| (!one.is_nan()).then_some(one))));
    }

    /// How many of the draws could be simulated.
    pub fn simulated(&self) -> usize {
        self.band.simulated()
    }

    /// Low temperatures of a node at all times (K), then the high ones.
    pub fn node(&self, key: &str) -> Vec<f64> {
        Node::of_key(key).map_or(Vec::new(), |node| {
            let (mut low_k, high_k) = self.band.node_k(node);
            low_k.extend(high_k);
            low_k
        })
    }

    /// For every launch low and high of converter and pan in the reader's unit, and of the elapsed time (s; NaN where
    /// there is none).
    pub fn launches(&self, units: &str) -> Vec<f64> {
        let mut flat = Vec::new();
        for launch in self.band.launches() {
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

    /// The highest temperature of every node: `[{ label, low, high }]` in the reader's unit.
    pub fn peaks(&self, units: &str) -> JsValue {
        let system = system(units);
        let peaks: Vec<PeakShown> = Node::ALL
            .iter()
            .map(|node| {
                let (low_k, high_k) = self.band.peak_k(*node);
                PeakShown {
                    label: node.label(),
                    low: temperature_in(system, low_k),
                    high: temperature_in(system, high_k),
                }
            })
            .collect();
        to_js(&peaks)
    }

    /// The measures that the day has, each with its bars, the longest first.
    pub fn tornado(&self, units: &str) -> JsValue {
        let system = system(units);
        let shown: Vec<MeasureShown> = Measure::ALL
            .iter()
            .map(|measure| (measure, self.tornado.bars(*measure)))
            .filter(|(_, bars)| !bars.is_empty())
            .map(|(measure, bars)| MeasureShown {
                key: measure.key(),
                label: measure.label(),
                unit: match measure.dimension() {
                    Dimension::Time => "s",
                    _ => temperature_symbol(system),
                },
                decimals: if measure.dimension() == Dimension::Time { 3 } else { 1 },
                bars: bars.iter().map(|bar| bar_shown(bar, measure.dimension(), system)).collect(),
            })
            .collect();
        to_js(&shown)
    }
}

fn bar_shown(bar: &Bar, dimension: Dimension, system: System) -> BarShown {
    let value = |si: f64| match dimension {
        Dimension::Temperature => temperature_in(system, si),
        Dimension::TemperatureDifference => temperature_difference_in(system, si),
        _ => si,
    };
    let size = match dimension {
        Dimension::Time => bar.size_si(),
        _ => temperature_difference_in(system, bar.size_si()),
    };
    BarShown {
        path: bar.parameter.path(),
        part: bar.parameter.wording().part_label,
        label: bar.parameter.wording().label,
        ends: bar.parameter.range_words(bar.ends_si, system, 3),
        stated: value(bar.measure_si),
        low: value(bar.measure_ends_si.0),
        high: value(bar.measure_ends_si.1),
        size,
    }
}
