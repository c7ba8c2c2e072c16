//! A schedule between now and the call: one on-time each of pump, fan and idle, and the events that it makes.

use crate::timeline::{Circulation, Event, EventEnd, EventKind, Loads, OnTime, Route};

/// From when to when after now (s); empty where the end is not after the start.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Span {
    pub start_s: f64,
    pub end_s: f64,
}

/// Shortest on-time that is worth writing (s).
const SHORTEST_S: f64 = 0.5;

impl Span {
    /// A span; empty where the end is not after the start.
    pub fn new(start_s: f64, end_s: f64) -> Span {
        Span { start_s, end_s: end_s.max(start_s) }
    }

    /// How long (s).
    pub fn length_s(&self) -> f64 {
        (self.end_s - self.start_s).max(0.0)
    }

    /// Whether it is too short to be one.
    pub fn is_empty(&self) -> bool {
        self.length_s() < SHORTEST_S
    }

    /// The part within another, measured from the start of that.
    fn within(&self, other: &Span) -> Span {
        let start_s = self.start_s.max(other.start_s);
        let end_s = self.end_s.min(other.end_s);
        Span::new(start_s - other.start_s, end_s - other.start_s)
    }

    fn on_time(&self) -> Option<OnTime> {
        let on = OnTime { start_s: self.start_s, stop_s: self.end_s, until: None };
        (!self.is_empty()).then_some(on)
    }
}

/// What to do between now and the call.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Schedule {
    /// Where the circulation pump sends the fluid; `None`: it stays off.
    pub route: Option<Route>,
    pub pump: Span,
    pub fan: Span,
    /// The engine at idle.
    pub idle: Span,
    /// Idling in gear, the car held on the brake, instead of in neutral.
    pub in_gear: bool,
}

impl Schedule {
    /// Engine off, nothing on.
    pub const NOTHING: Schedule = Schedule {
        route: None,
        pump: Span { start_s: 0.0, end_s: 0.0 },
        fan: Span { start_s: 0.0, end_s: 0.0 },
        idle: Span { start_s: 0.0, end_s: 0.0 },
        in_gear: false,
    };

    /// Whether nothing is done.
    pub fn is_nothing(&self) -> bool {
        (self.route.is_none() || self.pump.is_empty())
            && self.fan.is_empty()
            && self.idle.is_empty()
    }

    /// The events that fill `free_s` seconds with it, at the given idle speed (rad/s).
    pub fn events(&self, free_s: f64, idle_rad_per_s: f64) -> Vec<Event> {
        let all = Span::new(0.0, free_s);
        let idle = self.idle.within(&all);
        let stretches = if idle.is_empty() {
            vec![(EventKind::EngineOff, all)]
        } else {
            vec![
                (EventKind::EngineOff, Span::new(0.0, idle.start_s)),
                (EventKind::Idle, idle),
                (EventKind::EngineOff, Span::new(idle.end_s, free_s)),
            ]
        };
        let pump = if self.route.is_some() { self.pump } else { Span::default() };
        stretches
            .into_iter()
            .filter(|(_, span)| !span.is_empty())
            .map(|(kind, span)| Event {
                kind,
                loads: if kind == EventKind::Idle {
                    Loads {
                        engine_speed_rad_per_s: idle_rad_per_s,
                        in_gear: self.in_gear,
                        ..Loads::default()
                    }
                } else {
                    Loads::default()
                },
                circulation: pump
                    .within(&span)
                    .on_time()
                    .zip(self.route)
                    .map(|(on, route)| Circulation { route, on })
                    .into_iter()
                    .collect(),
                fan: self.fan.within(&span).on_time().into_iter().collect(),
                ..Event::parked(EventEnd::Duration(span.length_s()))
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn idle_cuts_the_rest_and_switches_run_through_it() {
        let schedule = Schedule {
            route: Some(Route::PanLoop),
            pump: Span::new(0.0, 300.0),
            fan: Span::new(200.0, 500.0),
            idle: Span::new(240.0, 360.0),
            in_gear: false,
        };
        let events = schedule.events(600.0, 115.0);
        let kinds: Vec<EventKind> = events.iter().map(|event| event.kind).collect();
        assert_eq!(kinds, [EventKind::EngineOff, EventKind::Idle, EventKind::EngineOff]);
        let length = |event: &Event| event.longest_s().unwrap();
        assert_eq!(events.iter().map(length).collect::<Vec<f64>>(), [240.0, 120.0, 240.0]);
        let pump: Vec<Option<f64>> =
            events.iter().map(|event| Some(event.circulation.first()?.on.stop_s)).collect();
        assert_eq!(pump, [Some(240.0), Some(60.0), None]);
        let fan: Vec<(f64, f64)> =
            events.iter().map(|event| (event.fan[0].start_s, event.fan[0].stop_s)).collect();
        assert_eq!(fan, [(200.0, 240.0), (0.0, 120.0), (0.0, 140.0)]);
        assert_eq!(events[1].loads.engine_speed_rad_per_s, 115.0);
    }

    #[test]
    fn nothing_is_one_event_without_switches() {
        let events = Schedule::NOTHING.events(600.0, 115.0);
        assert_eq!(events, [Event::parked(EventEnd::Duration(600.0))]);
        assert!(Schedule { pump: Span::new(0.0, 9.0), ..Schedule::NOTHING }.is_nothing());
    }
}
