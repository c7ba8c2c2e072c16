//! Pump and fan during an event: when they are on, what is booked of it, what the battery feels.

use super::{Day, SHORTEST_PIECE_S};
use crate::scenario::parameters::Setup;
use crate::timeline::{OnTime, Route, Work};
use crate::trace::SwitchRecord;
use crate::transmission::Mode;

/// An on-time of a switch during its event, in seconds of the day.
pub struct Pending {
    pub route: Option<Route>,
    pub on: OnTime,
    pub start_s: f64,
    pub stop_s: f64,
    pub done: bool,
}

impl Pending {
    pub fn new(route: Option<Route>, on: OnTime, event_start_s: f64) -> Pending {
        Pending {
            route,
            on,
            start_s: event_start_s + on.start_s,
            stop_s: event_start_s + on.stop_s,
            done: false,
        }
    }

    pub fn is_on(&self, time_s: f64) -> bool {
        !self.done
            && self.start_s <= time_s + SHORTEST_PIECE_S
            && time_s + SHORTEST_PIECE_S < self.stop_s
    }
}

/// Of two on-times of one switch that overlap, the one that started earlier is over.
pub fn give_way(switches: &mut [Pending], time_s: f64) {
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

impl<const B: usize, const W: usize> Day<'_, B, W> {
    /// Books a switch as on from `start_s` to now, joining it to its record when that ends where this starts.
    pub fn record_switch(&mut self, on: Option<Option<Route>>, start_s: f64) {
        let Some(route) = on else { return };
        let end_s = self.time_s;
        let joined = self.trace.switches.iter_mut().rev().find(|record| {
            record.route == route && (record.end_s - start_s).abs() < SHORTEST_PIECE_S
        });
        match joined {
            Some(record) => record.end_s = end_s,
            None => self.trace.switches.push(SwitchRecord { route, start_s, end_s }),
        }
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
