//! Where readings are taken, and what the model has there.
//!
//! Most places are nodes. The fluid in the cooler's hoses is not: what enters the cooler has the temperature of where its
//! stream comes from, `T_in = Σ ṁ_s·T_s / Σ ṁ_s` over the streams that flow, and what leaves it
//! `T_out = T_in − ε·(T_in − T_core)` with the effectiveness ε of the cooler's oil side. A stream that has been through
//! the converter comes with the temperature of the fluid in it, which is taken as well mixed; one that has not, with the
//! pan's. Where nothing flows, a hose has no temperature of the model's.

use crate::flows::Quantity;
use crate::network::Quantities;
use crate::outline::{Outline, OutlineSample};
use crate::scenario::Scenario;
use crate::timeline::{Node, Route};
use crate::trace::EventRecord;
use crate::transmission::{Mode, Transmission};

/// Where an instrument can be put.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    ConverterShell,
    Pan,
    Case,
    CoolerIn,
    CoolerOut,
    CoolerCore,
    Engine,
}

impl Place {
    /// All places.
    pub const ALL: [Place; 7] = [
        Place::ConverterShell,
        Place::Pan,
        Place::Case,
        Place::CoolerIn,
        Place::CoolerOut,
        Place::CoolerCore,
        Place::Engine,
    ];

    /// The name in files and JSON.
    pub fn key(self) -> &'static str {
        match self {
            Place::ConverterShell => "converter_shell",
            Place::Pan => "pan",
            Place::Case => "case",
            Place::CoolerIn => "cooler_in",
            Place::CoolerOut => "cooler_out",
            Place::CoolerCore => "cooler_core",
            Place::Engine => "engine",
        }
    }

    /// The name for people.
    pub fn label(self) -> &'static str {
        match self {
            Place::ConverterShell => "Converter shell",
            Place::Pan => "Pan gauge",
            Place::Case => "Case, top",
            Place::CoolerIn => "Hose into the cooler",
            Place::CoolerOut => "Hose out of the cooler",
            Place::CoolerCore => "Cooler core",
            Place::Engine => "Engine coolant gauge",
        }
    }

    /// Whether a gauge sits there as a rule, so that no surface need be stated.
    pub fn is_gauged(self) -> bool {
        matches!(self, Place::Pan | Place::CoolerIn | Place::CoolerOut | Place::Engine)
    }

    fn node(self) -> Option<Node> {
        match self {
            Place::ConverterShell => Some(Node::ConverterShell),
            Place::Pan => Some(Node::PanFluid),
            Place::Case => Some(Node::Case),
            Place::CoolerCore => Some(Node::CoolerCore),
            Place::Engine => Some(Node::Engine),
            Place::CoolerIn | Place::CoolerOut => None,
        }
    }
}

/// A simulated day, to be looked at.
pub struct Scene<'a, 'b> {
    pub scenario: &'a Scenario,
    pub transmission: &'a mut Transmission<'b>,
    pub outline: &'a Outline,
}

impl Scene<'_, '_> {
    /// Temperature of a place at a time (K); `None` outside of the day, and of a hose through which nothing flows.
    pub fn temperature_k(&mut self, place: Place, time_s: f64) -> Option<f64> {
        let last_s = self.outline.samples.last()?.time_s;
        if !(0.0..=last_s).contains(&time_s) {
            return None;
        }
        match place.node() {
            Some(node) => Some(smooth_k(self.outline, node, time_s)),
            None => self.hose_k(place, time_s),
        }
    }

    /// What flows at a time, with what is on; `None` outside of the day.
    fn flows(&mut self, time_s: f64) -> Option<(Mode, Quantities)> {
        let events = &self.outline.events;
        let begun = events.partition_point(|event| event.start_s <= time_s);
        let record = events[..begun].iter().rev().find(|event| event.end_s > event.start_s)?;
        let on = |pump: bool| {
            let holds = |start_s: f64, end_s: f64| start_s <= time_s && time_s <= end_s;
            let mut switches = self.outline.switches.iter().rev();
            switches.find(|s| s.route.is_some() == pump && holds(s.start_s, s.end_s))
        };
        let mode = Mode {
            kind: record.kind,
            loads: record.loads,
            shift_heat_w: 0.0,
            route: on(true).and_then(|switch| switch.route),
            fan: on(false).is_some(),
        };
        let pan_k = smooth_k(self.outline, Node::PanFluid, time_s);
        let flows = self.transmission.survey(&mode).at(pan_k);
        Some((mode, flows))
    }

    /// Pressure in the line and at the converter's inlet (Pa), with the engine running; `None` with it off.
    pub fn pressures_pa(&mut self, time_s: f64) -> Option<(f64, f64)> {
        let last_s = self.outline.samples.last()?.time_s;
        if !(0.0..=last_s).contains(&time_s) {
            return None;
        }
        let (mode, flows) = self.flows(time_s)?;
        let at = |quantity: Quantity| flows[quantity.index()];
        mode.kind.engine_runs().then(|| (at(Quantity::LinePressure), at(Quantity::ChargePressure)))
    }

    fn hose_k(&mut self, place: Place, time_s: f64) -> Option<f64> {
        let (mode, flows) = self.flows(time_s)?;
        let at_k = |node: Node| smooth_k(self.outline, node, time_s);
        let (pan_k, converter_k) = (at_k(Node::PanFluid), at_k(Node::ConverterFluid));
        let front = if mode.kind.engine_runs() {
            flows[Quantity::FrontPumpFlow.index()].max(0.0)
        } else {
            0.0
        };
        let (circulated, from_k) = match mode.route {
            None => (0.0, pan_k),
            Some(route) => {
                let from_k = if route == Route::ThroughConverter { converter_k } else { pan_k };
                (flows[Quantity::CirculationFlow.index()].max(0.0), from_k)
            }
        };
        let flow = front + circulated;
        if flow <= 0.0 {
            return None;
        }
        let in_k = (front * converter_k + circulated * from_k) / flow;
        let effectiveness = flows[Quantity::OilEffectiveness.index()];
        let out_k = in_k - effectiveness * (in_k - at_k(Node::CoolerCore));
        Some(if place == Place::CoolerIn { in_k } else { out_k })
    }
}

/// Temperature of a node at a time (K), by the cubic through the four nearest samples of the smooth piece that holds the
/// time: a straight line between samples that are minutes apart would be off by tenths of a kelvin, and by other tenths
/// for every parameter tried.
fn smooth_k(outline: &Outline, node: Node, time_s: f64) -> f64 {
    let samples = &outline.samples;
    let after = samples.partition_point(|sample| sample.time_s < time_s);
    let Some(at) = samples.get(after) else { return outline.temperature_at_k(node, time_s) };
    if after == 0 || at.time_s == time_s {
        return at.temperature_k[node.index()];
    }
    // Samples share a time where something is switched; events begin and end at a sample.
    let breaks = |i: usize| {
        let is_end = |event: &EventRecord| event.samples.1 == i || event.samples.0 == i;
        i == 0
            || i + 1 == samples.len()
            || samples[i].time_s == samples[i - 1].time_s
            || samples[i].time_s == samples[i + 1].time_s
            || outline.events.iter().any(is_end)
    };
    let (mut first, mut last) = (after - 1, after);
    while last - first < 3 {
        let (down, up) = (!breaks(first), !breaks(last));
        let nearer_below = || time_s - samples[first].time_s < samples[last].time_s - time_s;
        match (down, up) {
            (true, true) if nearer_below() => first -= 1,
            (_, true) => last += 1,
            (true, false) => first -= 1,
            (false, false) => break,
        }
    }
    lagrange_k(&samples[first..=last], node, time_s)
}

fn lagrange_k(samples: &[OutlineSample], node: Node, time_s: f64) -> f64 {
    let weighted = samples.iter().enumerate().map(|(i, sample)| {
        let others = samples.iter().enumerate().filter(|(j, _)| *j != i);
        let weight: f64 = others
            .map(|(_, other)| (time_s - other.time_s) / (sample.time_s - other.time_s))
            .product();
        weight * sample.temperature_k[node.index()]
    });
    weighted.sum()
}
