//! Pump and fan during an event: when they are on, what is booked of it, what the battery feels.

use super::SHORTEST_PIECE_S;
use crate::scenario::parameters::Setup;
use crate::timeline::{Condition, Event, NODES, OnTime, Route, Work};
use crate::trace::{SwitchRecord, Trace};
use crate::transmission::Mode;

/// An on-time of a switch during its event, in seconds of the day.
struct Pending {
    route: Option<Route>,
    on: OnTime,
    start_s: f64,
    stop_s: f64,
    done: bool,
}

impl Pending {
    fn new(route: Option<Route>, on: OnTime, event_start_s: f64) -> Pending {
        Pending {
            route,
            on,
            start_s: event_start_s + on.start_s,
            stop_s: event_start_s + on.stop_s,
            done: false,
        }
    }

    fn is_on(&self, time_s: f64) -> bool {
        !self.done
            && self.start_s <= time_s + SHORTEST_PIECE_S
            && time_s + SHORTEST_PIECE_S < self.stop_s
    }
}

/// The switches of an event under way.
pub struct Switches(Vec<Pending>);

/// A time over which nothing is switched.
pub struct Piece {
    pub route: Option<Route>,
    pub fan: bool,
    pub end_s: f64,
    /// Temperatures that end it before.
    pub watched: Vec<Condition>,
}

impl Switches {
    /// Those of an event that starts now.
    pub fn new(event: &Event, start_s: f64) -> Switches {
        let pumps = event.circulation.iter();
        Switches(
            pumps
                .map(|pump| Pending::new(Some(pump.route), pump.on, start_s))
                .chain(event.fan.iter().map(|on| Pending::new(None, *on, start_s)))
                .collect(),
        )
    }

    /// What is on from now to the next change, at most to the end of the event; conditions that already hold act at once.
    pub fn piece(
        &mut self,
        now_s: f64,
        event_end_s: f64,
        now_k: &[f64; NODES],
        wanted: Option<Condition>,
    ) -> Piece {
        let Switches(switches) = self;
        give_way(switches, now_s);
        for switch in switches.iter_mut() {
            if switch.is_on(now_s) && switch.on.until.is_some_and(|until| holds(&until, now_k)) {
                switch.done = true;
            }
        }
        let on = || switches.iter().filter(|switch| switch.is_on(now_s));
        let changes_s = switches
            .iter()
            .filter(|switch| !switch.done)
            .flat_map(|switch| [switch.start_s, switch.stop_s])
            .filter(|change_s| *change_s > now_s + SHORTEST_PIECE_S);
        Piece {
            route: on().find_map(|switch| switch.route),
            fan: on().any(|switch| switch.route.is_none()),
            end_s: changes_s.fold(event_end_s, f64::min),
            watched: wanted.into_iter().chain(on().filter_map(|switch| switch.on.until)).collect(),
        }
    }
}

/// Of two on-times of one switch that overlap, the one that started earlier is over.
fn give_way(switches: &mut [Pending], time_s: f64) {
    for i in 0..switches.len() {
        let beaten = switches.iter().any(|other| {
            other.route.is_some() == switches[i].route.is_some()
                && other.is_on(time_s)
                && other.start_s > switches[i].start_s + SHORTEST_PIECE_S
        });
        if beaten && switches[i].is_on(time_s) {
            switches[i].done = true;
        }
    }
}

/// Whether a condition is met.
pub fn holds(condition: &Condition, temperature_k: &[f64; NODES]) -> bool {
    condition.gap_k(temperature_k[condition.node.index()]) >= 0.0
}

/// Books a switch as on from `start_s` to `end_s`, joining it to its record when that ends where this starts.
pub fn record_switch(trace: &mut Trace, on: Option<Option<Route>>, start_s: f64, end_s: f64) {
    let Some(route) = on else { return };
    let joined =
        trace.switches.iter_mut().rev().find(|record| {
            record.route == route && (record.end_s - start_s).abs() < SHORTEST_PIECE_S
        });
    match joined {
        Some(record) => record.end_s = end_s,
        None => trace.switches.push(SwitchRecord { route, start_s, end_s }),
    }
}

/// Current that charges the battery in a mode (A), negative where more is drawn; pump and fan apart.
pub fn charging_current_a(setup: &Setup, mode: &Mode) -> f64 {
    match mode.kind.work() {
        Work::Parked => setup.battery.charger_current_a,
        Work::Moved => 0.0,
        Work::Running | Work::Loaded => {
            setup.battery.alternator_current_a - setup.battery.running_current_a
        }
    }
}
