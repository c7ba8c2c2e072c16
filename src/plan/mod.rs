//! What to do between rounds, so that the car comes to the line with its fluid in the wanted window.
//!
//! **Question.** Given where the car is now, the minutes until the call and what is on the car: when to run the
//! circulation pump (and on which route), the fan, the engine at idle? Too cold is as wrong as too hot.
//!
//! **What is searched.** One on-time each of pump, fan and idle (in neutral or in gear) between now and the call ([`Schedule`]), which is what a
//! crew can do and remember. Whatever follows the call up to the launch, idling to the water, burnout, staging, the
//! hold, is simulated as the day has it; the target is the pan at the launch.
//!
//! **What is best.** In this order: the least distance from the aim; the least charge taken by pump, fan and
//! the electrics of an idling engine, to a tenth of an ampere-hour or a twentieth; the least idling; done soonest, for a call may come early. Schedules that take the battery below its reserve are left out.
//!
//! **How.** Every schedule tried is a simulation of the same equations. For each way (route, fan, idle) the on-time that
//! just reaches the aim is found as a root; start and fan of the best are improved, and all six switch times polished by
//! pattern search (Hooke & Jeeves 1961). `tests/plan.rs` compares it with brute force over a fine grid.
//!
//! **Not here.** Several on-times of one switch in one rest, the pump in the lanes after the call, ice, buckets and leaf
//! blowers.

mod day;
mod request;
mod rest;
mod schedule;
mod search;
mod words;
mod written;

pub use day::{DayPlan, DaySearch, plan_day, spread_k};
pub use request::{Request, temperature_of};
pub use rest::{Piece, Rest, Situation, rests};
pub use schedule::{Schedule, Span};
pub use search::{Outcome, Plan, WayPlan, plan_rest};
pub use words::{
    DayPlanSummary, LaunchLine, PlanSummary, StepLine, WaySummary, day_summary, summary,
};
pub use written::{Written, apply};

use crate::error::{Error, ErrorKind};
use crate::scenario::parameters::Setup;
use crate::timeline::{Event, Route};
use crate::units::{System, temperature_text};

/// What is on the car and may be used.
#[derive(Debug, Clone, PartialEq)]
pub struct Equipment {
    /// Routes of the circulation pump that are plumbed; empty without a pump.
    pub routes: Vec<Route>,
    pub fan: bool,
    /// Whether the engine may idle in neutral in the pits.
    pub idle: bool,
    /// Whether it may idle in gear, held on the brake with a driver at it: that warms fluid quickly.
    pub idle_in_gear: bool,
}

impl Equipment {
    /// Routes and fan that a day uses somewhere, and idling. A day that never runs a pump may use any route: the answer
    /// then says what a pump would do.
    pub fn of_day<'a>(events: impl Iterator<Item = &'a Event>) -> Equipment {
        let mut routes = Vec::new();
        for event in events {
            for pump in &event.circulation {
                if !routes.contains(&pump.route) {
                    routes.push(pump.route);
                }
            }
        }
        if routes.is_empty() {
            routes = Route::ALL.to_vec();
        }
        Equipment { routes, fan: true, idle: true, idle_in_gear: false }
    }
}

/// The temperatures to come to the line with (K), of the pan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Aim {
    pub low_k: f64,
    pub high_k: f64,
}

/// How far inside the window a plan aims (K), so that rounded times and a late call do not leave it; a tenth of a
/// narrow window.
const MARGIN_K: f64 = 0.5;

/// Narrowest window (K): 1 °F.
const NARROWEST_K: f64 = 1.0 / 1.8;

impl Aim {
    /// The launch window of a set-up.
    pub fn window(setup: &Setup) -> Aim {
        Aim { low_k: setup.limits.window_low_k, high_k: setup.limits.window_high_k }
    }

    /// Distance of a temperature (K): negative below, positive above, zero inside.
    pub fn off_k(&self, temperature_k: f64) -> f64 {
        (temperature_k - self.high_k).max(0.0) + (temperature_k - self.low_k).min(0.0)
    }

    /// The aim, if it is one: both ends what a gauge can read, the low one below the high one.
    pub fn checked(self) -> Result<Aim, Error> {
        for (field, limit) in [("window, low end", self.low_k), ("window, high end", self.high_k)] {
            request::check_temperature(field, Some(limit))?;
        }
        if self.high_k - self.low_k >= NARROWEST_K - 1e-9 {
            return Ok(self);
        }
        let text = |kelvin| temperature_text(System::Us, kelvin);
        Err(Error::new(
            ErrorKind::OutOfRange,
            "window",
            format!("{} to {}", text(self.low_k), text(self.high_k)),
            "the high end at least 1 °F above the low one",
            "Widen the window.",
        ))
    }

    /// The same aim with a margin.
    pub fn with_margin(&self) -> Aim {
        let margin_k = MARGIN_K.min(0.1 * (self.high_k - self.low_k));
        Aim { low_k: self.low_k + margin_k, high_k: self.high_k - margin_k }
    }
}
