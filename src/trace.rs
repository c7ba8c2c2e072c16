//! What a simulated day leaves behind: columns over time, events, launches, the ledger.
//!
//! The ledger's boundary is the transmission: six nodes. The engine is a neighbour; heat that soaks in from
//! it counts as brought in, heat that goes back as carried away.

use crate::pass::PassResult;
use crate::timeline::{EventKind, Loads, NODES, Node, Route};
use crate::transmission::{PATHS, Path};

/// One sample of the day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// Seconds since the start of the day. Two samples may share a time where a switch changes.
    pub time_s: f64,
    /// K, in the order of [`Node`].
    pub temperature_k: [f64; NODES],
    /// Running totals since the start of the day (J), in the order of [`Path`].
    pub path_j: [f64; PATHS],
    /// Heat stored since the start of the day (J), in the order of [`Node`].
    pub stored_j: [f64; NODES],
    /// Charge in the battery (A·s). Below zero: more was drawn than it holds.
    pub charge_a_s: f64,
    /// What pump and fan took since the start of the day (A·s), whatever went in meanwhile.
    pub used_a_s: f64,
}

/// Why an event ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EndedBy {
    /// Its duration, or its turnaround, was over.
    Time,
    /// The temperature it waited for was reached.
    Temperature,
    /// The temperature was not reached within the longest time.
    LongestWait,
}

/// One event as it happened.
#[derive(Debug, Clone, PartialEq)]
pub struct EventRecord {
    pub kind: EventKind,
    pub name: Option<String>,
    pub round: Option<u32>,
    pub start_s: f64,
    pub end_s: f64,
    pub ended_by: EndedBy,
    /// Index of its first and last sample.
    pub samples: (usize, usize),
    /// What the engine did: as stated, or what car and engine made of it; of a computed pass its means.
    pub loads: Loads,
    /// Pressures and flows at its end.
    pub hydraulics: Hydraulics,
    /// The computed pass.
    pub pass: Option<PassResult>,
    /// Index of its block and of the event within it; `None` for time that no event fills.
    pub place: Option<(usize, usize)>,
}

impl EventRecord {
    /// Its own name, else that of its kind.
    pub fn label(&self) -> &str {
        self.name.as_deref().unwrap_or(self.kind.label())
    }
}

/// Pressures and flows; zero where nothing turns. Of a computed pass those of its mean speeds.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Hydraulics {
    pub line_pressure_pa: f64,
    /// At the converter's inlet.
    pub charge_pressure_pa: f64,
    /// Through converter, cooler and lubrication.
    pub front_pump_m3_per_s: f64,
    /// Of the circulation pump, when it last ran in the event.
    pub circulation_m3_per_s: f64,
    pub circulation_a: f64,
}

/// A switch that was on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SwitchRecord {
    /// `Some`: the circulation pump on this route. `None`: the fan.
    pub route: Option<Route>,
    pub start_s: f64,
    pub end_s: f64,
}

/// The moment a pass begins.
#[derive(Debug, Clone, PartialEq)]
pub struct Launch {
    /// Index of the pass among the events.
    pub event: usize,
    /// Converter charge pressure at the end of the hold just before (Pa); `None` without a hold.
    pub charge_pressure_pa: Option<f64>,
    pub round: Option<u32>,
    pub time_s: f64,
    /// K, in the order of [`Node`].
    pub temperature_k: [f64; NODES],
    /// Time on the brake in this round since the last launch (s).
    pub held_s: f64,
    /// Heat made in the converter during that time (J).
    pub held_heat_j: f64,
    /// Pan fluid's distance from the launch window (K): negative below, positive above, zero inside.
    pub from_window_k: f64,
    /// Engine speed at which engine and stalled converter balance with the fluid as it is (rad/s); `None`
    /// when they do not.
    pub flash_rad_per_s: Option<f64>,
    /// Engine speed when the brake lets go (rad/s).
    pub launch_rad_per_s: f64,
    /// The computed pass; `None` for a logged one.
    pub pass: Option<PassResult>,
}

/// Heat made, carried away and stored between two samples (J).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ledger {
    path_j: [f64; PATHS],
    stored_j: [f64; NODES],
}

/// Nodes inside the ledger's boundary: all but the engine.
pub const LEDGER_NODES: [Node; NODES - 1] = [
    Node::ConverterFluid,
    Node::ConverterShell,
    Node::PanFluid,
    Node::GearTrain,
    Node::Case,
    Node::CoolerCore,
];

impl Ledger {
    /// The ledger between two samples.
    pub fn between(from: &Sample, to: &Sample) -> Ledger {
        let mut ledger = Ledger { path_j: [0.0; PATHS], stored_j: [0.0; NODES] };
        for (i, path_j) in ledger.path_j.iter_mut().enumerate() {
            *path_j = to.path_j[i] - from.path_j[i];
        }
        for (i, stored_j) in ledger.stored_j.iter_mut().enumerate() {
            *stored_j = to.stored_j[i] - from.stored_j[i];
        }
        ledger
    }

    /// Heat along one path (J).
    pub fn path_j(&self, path: Path) -> f64 {
        self.path_j[path.index()]
    }

    /// Heat stored in one node (J).
    pub fn node_j(&self, node: Node) -> f64 {
        self.stored_j[node.index()]
    }

    /// Sum over sources (J).
    pub fn made_j(&self) -> f64 {
        Path::SOURCES.iter().map(|path| self.path_j(*path)).sum()
    }

    /// Sum over sinks (J). Negative when the surroundings warmed the transmission.
    pub fn away_j(&self) -> f64 {
        Path::SINKS.iter().map(|path| self.path_j(*path)).sum()
    }

    /// Sum over the nodes inside (J).
    pub fn stored_j(&self) -> f64 {
        LEDGER_NODES.iter().map(|node| self.node_j(*node)).sum()
    }

    /// `|made − away − stored| / made`; relative to the heat carried away when nothing was made, and zero
    /// when nothing moved at all.
    pub fn closure(&self) -> f64 {
        let scale_j = self.made_j().abs().max(self.away_j().abs());
        if scale_j < 1e-6 {
            return 0.0;
        }
        (self.made_j() - self.away_j() - self.stored_j()).abs() / scale_j
    }
}

/// A simulated day.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    pub samples: Vec<Sample>,
    pub events: Vec<EventRecord>,
    pub switches: Vec<SwitchRecord>,
    pub launches: Vec<Launch>,
    /// The whole day.
    pub ledger: Ledger,
    /// Right-hand sides evaluated.
    pub evaluations: u64,
}

impl Trace {
    /// Length of the day (s).
    pub fn duration_s(&self) -> f64 {
        self.samples.last().map_or(0.0, |sample| sample.time_s)
    }

    /// The ledger of one event.
    pub fn event_ledger(&self, event: &EventRecord) -> Ledger {
        Ledger::between(&self.samples[event.samples.0], &self.samples[event.samples.1])
    }

    /// Temperature of a node at a time (K), linear between samples, clamped to the day.
    pub fn temperature_at_k(&self, node: Node, time_s: f64) -> f64 {
        temperature_between_k(&self.samples, node, time_s, |s| (s.time_s, &s.temperature_k))
    }

    /// Highest temperature of a node (K) and when.
    pub fn peak(&self, node: Node) -> (f64, f64) {
        self.samples.iter().fold((f64::NEG_INFINITY, 0.0), |(peak_k, at_s), sample| {
            let temperature_k = sample.temperature_k[node.index()];
            if temperature_k > peak_k { (temperature_k, sample.time_s) } else { (peak_k, at_s) }
        })
    }

    /// Hottest minus coldest over the launches, of one node (K); zero for fewer than two launches.
    pub fn launch_spread_k(&self, node: Node) -> f64 {
        let at_launch = self.launches.iter().map(|launch| launch.temperature_k[node.index()]);
        let (low_k, high_k) = at_launch
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), t| (low.min(t), high.max(t)));
        if self.launches.len() < 2 { 0.0 } else { high_k - low_k }
    }
}

/// Temperature of a node at a time (K) between samples whose time and temperatures `read` reads; linear, clamped.
pub fn temperature_between_k<T>(
    samples: &[T],
    node: Node,
    time_s: f64,
    read: impl Fn(&T) -> (f64, &[f64; NODES]),
) -> f64 {
    let after = samples.partition_point(|sample| read(sample).0 < time_s);
    let Some(b) = samples.get(after) else {
        return samples.last().map_or(f64::NAN, |last| read(last).1[node.index()]);
    };
    let ((a_s, a_k), (b_s, b_k)) = (read(&samples[after.saturating_sub(1)]), read(b));
    let span_s = b_s - a_s;
    let share = if span_s > 0.0 { ((time_s - a_s) / span_s).clamp(0.0, 1.0) } else { 1.0 };
    let (low_k, high_k) = (a_k[node.index()], b_k[node.index()]);
    low_k + share * (high_k - low_k)
}
