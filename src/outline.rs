//! What a day simulated for its temperatures alone leaves behind: no ledger, for nothing was booked.

use crate::pass::PassResult;
use crate::timeline::{NODES, Node};
use crate::trace::{EventRecord, Sample, SwitchRecord, Trace, temperature_between_k};

/// One sample of an outline.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OutlineSample {
    /// Seconds since the start of the day.
    pub time_s: f64,
    /// K, in the order of [`Node`].
    pub temperature_k: [f64; NODES],
    /// Charge in the battery (A·s).
    pub charge_a_s: f64,
    /// What pump and fan took since the start of the day (A·s).
    pub used_a_s: f64,
}

/// The moment a pass begins. Fields as in `trace::Launch`.
#[derive(Debug, Clone, PartialEq)]
pub struct OutlineLaunch {
    pub event: usize,
    pub round: Option<u32>,
    pub time_s: f64,
    pub temperature_k: [f64; NODES],
    pub from_window_k: f64,
    pub charge_pressure_pa: Option<f64>,
    pub pass: Option<PassResult>,
}

/// A day without its ledger.
#[derive(Debug, Clone, PartialEq)]
pub struct Outline {
    pub samples: Vec<OutlineSample>,
    pub events: Vec<EventRecord>,
    pub switches: Vec<SwitchRecord>,
    pub launches: Vec<OutlineLaunch>,
    /// Right-hand sides evaluated.
    pub evaluations: u64,
}

impl Outline {
    /// Temperature of a node at a time (K), linear between samples, clamped to the day.
    pub fn temperature_at_k(&self, node: Node, time_s: f64) -> f64 {
        temperature_between_k(&self.samples, node, time_s, |s| (s.time_s, &s.temperature_k))
    }

    /// Highest temperature of a node (K).
    pub fn peak_k(&self, node: Node) -> f64 {
        let own_k = self.samples.iter().map(|sample| sample.temperature_k[node.index()]);
        own_k.fold(f64::NEG_INFINITY, f64::max)
    }
}

impl From<Trace> for Outline {
    fn from(trace: Trace) -> Outline {
        let bare = |sample: &Sample| OutlineSample {
            time_s: sample.time_s,
            temperature_k: sample.temperature_k,
            charge_a_s: sample.charge_a_s,
            used_a_s: sample.used_a_s,
        };
        let launches = trace.launches.into_iter().map(|launch| OutlineLaunch {
            event: launch.event,
            round: launch.round,
            time_s: launch.time_s,
            temperature_k: launch.temperature_k,
            from_window_k: launch.from_window_k,
            charge_pressure_pa: launch.charge_pressure_pa,
            pass: launch.pass,
        });
        Outline {
            samples: trace.samples.iter().map(bare).collect(),
            launches: launches.collect(),
            events: trace.events,
            switches: trace.switches,
            evaluations: trace.evaluations,
        }
    }
}
