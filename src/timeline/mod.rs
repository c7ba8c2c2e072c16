//! The timeline: what the engine and the car do, and which switches are on, one event after another.
//!
//! A day is a row of blocks. A block is either a stretch of single events or one round; a round lasts its
//! turnaround, from its own start to the start of the next round, and what its events leave over is
//! spent parked with the engine off. An event starts when the one before it ends, or at a stated
//! time after its block's start (the car is parked, engine off, in between). It ends after a duration, when
//! a temperature is reached (with a longest time), or, in a round, when the turnaround is over.
//!
//! Two switches are independent of the event's kind and have their own start and stop inside it: the
//! circulation pump with its route, and the cooler fan.
//!
//! What kinds of events there are is one table, `kind`; what they state has another, `quantity`.
//!
//! Not here: JSON (see `scenario`), heat (see `transmission`). Ends that depend on temperature are
//! known only to `simulate`.

mod kind;
mod quantity;

use crate::pass::MAX_PASS_S;

pub use kind::{EventKind, FromCar, Turbine, Work};
pub use quantity::{EVENT_PARAMETERS, EventParameter};

/// The seven nodes of the transmission, in the order of every array of temperatures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Node {
    ConverterFluid,
    ConverterShell,
    PanFluid,
    GearTrain,
    Case,
    CoolerCore,
    Engine,
}

/// Number of nodes.
pub const NODES: usize = 7;

impl Node {
    /// All nodes in array order.
    pub const ALL: [Node; NODES] = [
        Node::ConverterFluid,
        Node::ConverterShell,
        Node::PanFluid,
        Node::GearTrain,
        Node::Case,
        Node::CoolerCore,
        Node::Engine,
    ];

    /// Place in arrays.
    pub fn index(self) -> usize {
        self as usize
    }

    /// The node of a name in files and JSON.
    pub fn of_key(key: &str) -> Option<Node> {
        Node::ALL.into_iter().find(|node| node.key() == key)
    }

    /// The name in files and JSON.
    pub fn key(self) -> &'static str {
        match self {
            Node::ConverterFluid => "converter_fluid",
            Node::ConverterShell => "converter_shell",
            Node::PanFluid => "pan_fluid",
            Node::GearTrain => "gear_train",
            Node::Case => "case",
            Node::CoolerCore => "cooler_core",
            Node::Engine => "engine",
        }
    }

    /// The name for people.
    pub fn label(self) -> &'static str {
        match self {
            Node::ConverterFluid => "Converter fluid",
            Node::ConverterShell => "Converter shell",
            Node::PanFluid => "Pan fluid",
            Node::GearTrain => "Gear train",
            Node::Case => "Case",
            Node::CoolerCore => "Cooler core",
            Node::Engine => "Engine",
        }
    }
}

/// Where the circulation pump sends the fluid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Route {
    /// pan → pump → cooler → lubrication → pan.
    PanLoop,
    /// pan → pump → converter → cooler → pan.
    ThroughConverter,
    /// pan → pump → cooler → converter → pan.
    CoolerFirst,
}

impl Route {
    /// All routes.
    pub const ALL: [Route; 3] = [Route::PanLoop, Route::ThroughConverter, Route::CoolerFirst];

    /// The name in files and JSON.
    pub fn key(self) -> &'static str {
        match self {
            Route::PanLoop => "pan_loop",
            Route::ThroughConverter => "through_converter",
            Route::CoolerFirst => "cooler_first",
        }
    }

    /// The name for people.
    pub fn label(self) -> &'static str {
        match self {
            Route::PanLoop => "Pan loop",
            Route::ThroughConverter => "Through the converter",
            Route::CoolerFirst => "Through the converter, cooler first",
        }
    }
}

/// "At or below" or "at or above".
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    AtOrBelow,
    AtOrAbove,
}

/// A temperature to wait for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Condition {
    pub node: Node,
    pub side: Side,
    pub temperature_k: f64,
}

impl Condition {
    /// Distance to the condition in K: negative while it does not hold, zero or more when it does.
    pub fn gap_k(&self, temperature_k: f64) -> f64 {
        match self.side {
            Side::AtOrBelow => self.temperature_k - temperature_k,
            Side::AtOrAbove => temperature_k - self.temperature_k,
        }
    }
}

/// When a switch is on, measured from the start of its event. It is off at the event's end in any case.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OnTime {
    pub start_s: f64,
    /// Latest end; infinite means until the event ends.
    pub stop_s: f64,
    /// Switches off for good in this event when it holds, or when another on-time of the switch starts.
    pub until: Option<Condition>,
}

/// The circulation pump on one route for a while.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Circulation {
    pub route: Route,
    pub on: OnTime,
}

/// When an event ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum EventEnd {
    /// After this many seconds.
    Duration(f64),
    /// When the condition holds, or after `at_most_s`.
    Until { condition: Condition, at_most_s: f64 },
    /// When the turnaround is over.
    Turnaround,
    /// At the finish of a computed pass, this far from where the clock starts (m).
    Finish { distance_m: f64 },
}

/// Loads that an event states, SI. Fields that a kind does not use are zero.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Loads {
    /// rad/s.
    pub engine_speed_rad_per_s: f64,
    /// Mean power into the converter, W.
    pub input_power_w: f64,
    /// Mean slip of the converter, 0 to 1.
    pub slip: f64,
    /// Mean torque ratio of the converter.
    pub torque_ratio: f64,
    /// Number of shifts.
    pub shifts: f64,
    /// Mean road speed, m/s.
    pub road_speed_m_per_s: f64,
    /// The kind's `logged_keys` follow from the car instead of a log; what is stated of them here does not count.
    pub from_car: bool,
    /// In gear with the car held (converter stalled), or not.
    pub in_gear: bool,
}

/// One event.
#[derive(Debug, Clone, PartialEq)]
pub struct Event {
    pub kind: EventKind,
    /// A name of the user's own, shown beside the kind.
    pub name: Option<String>,
    /// Seconds after the block's start; `None`: when the event before ends.
    pub start_s: Option<f64>,
    pub end: EventEnd,
    pub loads: Loads,
    pub circulation: Vec<Circulation>,
    pub fan: Vec<OnTime>,
}

impl Event {
    /// Parked, engine off, nothing switched on, for the given end.
    pub fn parked(end: EventEnd) -> Event {
        Event {
            kind: EventKind::EngineOff,
            name: None,
            start_s: None,
            end,
            loads: Loads::default(),
            circulation: Vec::new(),
            fan: Vec::new(),
        }
    }

    /// The longest it can last (s); `None` when the turnaround decides.
    pub fn longest_s(&self) -> Option<f64> {
        match self.end {
            EventEnd::Duration(duration_s) => Some(duration_s),
            EventEnd::Until { at_most_s, .. } => Some(at_most_s),
            EventEnd::Turnaround => None,
            EventEnd::Finish { .. } => Some(MAX_PASS_S),
        }
    }
}

/// A stretch of events, or a round.
#[derive(Debug, Clone, PartialEq)]
pub struct Block {
    /// Number of the round, from 1, or `None`.
    pub round: Option<u32>,
    /// From this block's start to the next one's (s); `None`: until its events are over.
    pub turnaround_s: Option<f64>,
    pub events: Vec<Event>,
}

/// Largest number of events in a day, rounds counted out.
pub const MAX_EVENTS: usize = 2_000;
/// Longest day (s): a day, its night and the morning after.
pub const MAX_DAY_S: f64 = 36.0 * 3600.0;
/// Largest number of on-times of one switch in one event.
pub const MAX_SWITCHINGS: usize = 16;
