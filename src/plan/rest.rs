//! The rests of a day, and what a schedule in one of them comes to at the launch after it.

use std::cell::{Cell, RefCell};
use std::rc::Rc;

use super::schedule::Schedule;
use crate::error::{Error, ErrorKind};
use crate::outline::Outline;
use crate::scenario::Scenario;
use crate::simulate::simulate_outline_from;
use crate::timeline::{Block, Event, EventEnd, EventKind, NODES, Node};
use crate::trace::{EventRecord, Trace};
use crate::transmission::Transmission;

/// A stretch of a rest: an event of the scenario, or time that no event fills.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piece {
    /// The event within its block.
    pub event: Option<usize>,
    pub start_s: f64,
    pub end_s: f64,
}

/// What an idle is called that a plan has put into a rest: by that it is told from the crew's own, and planned again.
pub(super) const PLANNED_IDLE: &str = "Planned idle";

/// The time before a launch that a crew can use: the engine off, and what a plan made of it before.
#[derive(Debug, Clone, PartialEq)]
pub struct Rest {
    /// Round that it belongs to.
    pub round: Option<u32>,
    /// Its first among the events of the trace; as many follow as it has pieces.
    pub record: usize,
    /// Block of the scenario.
    pub block: usize,
    /// One after the other, at least one.
    pub pieces: Vec<Piece>,
    pub start_s: f64,
    pub end_s: f64,
    /// The launch that follows, among those of the trace.
    pub launch: usize,
}

impl Rest {
    /// First and last of its events within the block; `None` where the car is parked because nothing fills the turnaround.
    pub fn events(&self) -> Option<(usize, usize)> {
        let mut own = self.pieces.iter().filter_map(|piece| piece.event);
        let first = own.next()?;
        Some((first, own.next_back().unwrap_or(first)))
    }
}

/// Stretches with the engine off or idling by a plan, as first and last among the events of a trace from `from` up to `to`.
fn stretches(scenario: &Scenario, trace: &Trace, from: usize, to: usize) -> Vec<(usize, usize)> {
    let rests = |at: &usize| {
        let event = &trace.events[*at];
        let is_planned = event.name.as_deref() == Some(PLANNED_IDLE);
        event.kind == EventKind::EngineOff || event.kind == EventKind::Idle && is_planned
    };
    // Time that no event fills lies in the block of the event before it.
    let block = |at: usize| {
        trace.events[at].place.map_or_else(
            || scenario.blocks.iter().position(|b| b.round == trace.events[at].round),
            |(block, _)| Some(block),
        )
    };
    let mut found: Vec<(usize, usize)> = Vec::new();
    for at in (from..to).filter(rests) {
        match found.last_mut() {
            Some(last) if last.1 + 1 == at && block(last.0) == block(at) => last.1 = at,
            _ => found.push((at, at)),
        }
    }
    found
}

/// The rests before the launches of a day, in order. Launches without time before them have none. Before the first
/// launch it is the last time with the engine off, not the longest: that is spent cold.
pub fn rests(scenario: &Scenario, trace: &Trace) -> Vec<Rest> {
    const LEAST_S: f64 = 60.0;
    let mut found = Vec::new();
    let mut from = 0;
    for (launch, at) in trace.launches.iter().enumerate() {
        let length_s = |stretch: &(usize, usize)| {
            trace.events[stretch.1].end_s - trace.events[stretch.0].start_s
        };
        let all = stretches(scenario, trace, from, at.event);
        let mut parked = all.into_iter().filter(|stretch| length_s(stretch) >= LEAST_S);
        from = at.event + 1;
        let chosen = if launch == 0 {
            parked.next_back()
        } else {
            parked.max_by(|a, b| length_s(a).total_cmp(&length_s(b)))
        };
        let Some((first, last)) = chosen else { continue };
        let events = &trace.events[first..=last];
        let round = events[0].round;
        let block = match events.iter().find_map(|event| event.place) {
            Some((block, _)) => block,
            None => match scenario.blocks.iter().position(|block| block.round == round) {
                Some(block) if round.is_some() => block,
                _ => continue,
            },
        };
        let piece = |event: &EventRecord| Piece {
            event: event.place.map(|(_, event)| event),
            start_s: event.start_s,
            end_s: event.end_s,
        };
        found.push(Rest {
            round,
            record: first,
            block,
            pieces: events.iter().map(piece).collect(),
            start_s: trace.events[first].start_s,
            end_s: trace.events[last].end_s,
            launch,
        });
    }
    found
}

/// The events of a stretch of the trace, one after the other, as the scenario states them: ends by turnaround become
/// durations, and parked time an event.
fn restated(scenario: &Scenario, records: &[EventRecord]) -> Vec<Event> {
    let restate = |record: &EventRecord| {
        let took = EventEnd::Duration(record.end_s - record.start_s);
        let Some((block, event)) = record.place else { return Event::parked(took) };
        let stated = &scenario.blocks[block].events[event];
        let end = if stated.end == EventEnd::Turnaround { took } else { stated.end };
        Event { start_s: None, end, ..stated.clone() }
    };
    records.iter().filter(|record| record.end_s > record.start_s).map(restate).collect()
}

/// A rest as it can be planned: where the car is, how long there is, what follows.
pub struct Situation<'a> {
    scenario: Scenario,
    transmission: Rc<RefCell<Transmission<'a>>>,
    /// K, in the order of [`Node`], now.
    pub now_k: [f64; NODES],
    /// The same as the day computes it, without readings.
    pub computed_k: [f64; NODES],
    /// Charge in the battery now (A·s).
    pub charge_a_s: f64,
    /// From now to the call (s).
    pub free_s: f64,
    /// From the call to the launch.
    lead: Vec<Event>,
    /// From the launch to the rest after it; empty after the last launch.
    after: Vec<Event>,
    simulated: Cell<u32>,
}

/// What a schedule comes to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reached {
    /// K, in the order of [`Node`], at the launch.
    pub launch_k: [f64; NODES],
    /// What pump and fan took until then, and the running engine while it idled in the rest (A·s).
    pub used_a_s: f64,
    /// The least charge in the battery until then (A·s): below zero it does not last.
    pub least_a_s: f64,
}

impl<'a> Situation<'a> {
    /// The situation `into_s` seconds into a rest of a simulated day; `scenario.setup` must be what the trace was
    /// simulated with.
    pub fn new(
        scenario: &'a Scenario,
        trace: &Trace,
        rest: &Rest,
        into_s: f64,
    ) -> Result<Situation<'a>, Error> {
        let transmission = Rc::new(RefCell::new(Transmission::new(&scenario.setup)?));
        Ok(Situation::on(transmission, scenario, trace, rest, into_s))
    }

    /// The same on a transmission that is there already: the rests of a day share one.
    pub(super) fn on(
        transmission: Rc<RefCell<Transmission<'a>>>,
        scenario: &'a Scenario,
        trace: &Trace,
        rest: &Rest,
        into_s: f64,
    ) -> Situation<'a> {
        let launch = trace.launches[rest.launch].event;
        let at_s = (rest.start_s + into_s).clamp(rest.start_s, rest.end_s);
        let next_rest = rests(scenario, trace).into_iter().find(|next| next.launch > rest.launch);
        let until = next_rest.map_or(launch, |next| next.record);
        let charge_a_s = trace
            .samples
            .iter()
            .take_while(|sample| sample.time_s <= at_s)
            .last()
            .map_or(scenario.setup.battery.capacity_a_s, |sample| sample.charge_a_s);
        let computed_k = Node::ALL.map(|node| trace.temperature_at_k(node, at_s));
        Situation {
            scenario: Scenario {
                name: String::new(),
                note: String::new(),
                setup: scenario.setup.clone(),
                initial_temperature_k: [0.0; NODES],
                blocks: Vec::new(),
                calibration: None,
            },
            transmission,
            now_k: computed_k,
            computed_k,
            charge_a_s,
            free_s: rest.end_s - at_s,
            lead: restated(scenario, &trace.events[rest.record + rest.pieces.len()..launch]),
            after: restated(scenario, &trace.events[launch..until.max(launch)]),
            simulated: Cell::new(0),
        }
    }

    /// The same with the pan at a reading (K), and the converter's shell if it was read too. The rise of everything else
    /// above the air goes with that of the pan; the converter's fluid keeps its distance from the shell.
    pub fn with_reading(mut self, pan_k: f64, shell_k: Option<f64>) -> Situation<'a> {
        const LEAST_RISE_K: f64 = 2.0;
        let air_k = self.scenario.setup.air.temperature_k;
        let (pan, shell, fluid) =
            (Node::PanFluid.index(), Node::ConverterShell.index(), Node::ConverterFluid.index());
        let (rise_k, read_k) = (self.now_k[pan] - air_k, pan_k - air_k);
        let share = if rise_k.abs() < LEAST_RISE_K { None } else { Some(read_k / rise_k) };
        for node in Node::ALL {
            if node == Node::Engine {
                continue;
            }
            let now_k = &mut self.now_k[node.index()];
            *now_k = match share {
                Some(share) if (0.0..=4.0).contains(&share) => air_k + share * (*now_k - air_k),
                _ => pan_k,
            };
        }
        self.now_k[pan] = pan_k;
        if let Some(shell_k) = shell_k {
            self.now_k[fluid] += shell_k - self.now_k[shell];
            self.now_k[shell] = shell_k;
        }
        self
    }

    /// Charge (A·s) that a schedule must leave: the wanted reserve; where that is gone already, nothing.
    pub(super) fn floor_a_s(&self) -> f64 {
        let battery = &self.scenario.setup.battery;
        let reserve_a_s = battery.reserve * battery.capacity_a_s;
        if self.charge_a_s >= reserve_a_s { reserve_a_s } else { 0.0 }
    }

    /// The same with another time until the call (s).
    pub fn with_free(&self, free_s: f64) -> Situation<'a> {
        Situation {
            scenario: self.scenario.clone(),
            transmission: Rc::clone(&self.transmission),
            lead: self.lead.clone(),
            after: self.after.clone(),
            simulated: Cell::new(0),
            free_s,
            ..*self
        }
    }

    /// How many schedules were simulated so far.
    pub fn simulated(&self) -> u32 {
        self.simulated.get()
    }

    /// What a schedule comes to at the launch.
    pub fn reached(&self, schedule: &Schedule) -> Result<Reached, Error> {
        self.reached_in(schedule, self.free_s)
    }

    /// The same with another time until the call (s).
    pub fn reached_in(&self, schedule: &Schedule, free_s: f64) -> Result<Reached, Error> {
        let trace = self.run(schedule, &self.lead, free_s)?;
        Ok(self.read(&trace, schedule))
    }

    /// Temperatures (K) some time from now (s), and the charge used until then, under a schedule.
    pub fn at(&self, schedule: &Schedule, from_now_s: f64) -> Result<[f64; NODES], Error> {
        let trace = self.run(schedule, &[], self.free_s)?;
        Ok(Node::ALL.map(|node| trace.temperature_at_k(node, from_now_s)))
    }

    /// Temperatures (K) and charge (A·s) at the start of the next rest, after this schedule and the round that follows it.
    pub fn next(&self, schedule: &Schedule) -> Result<([f64; NODES], f64), Error> {
        let all: Vec<Event> = self.lead.iter().chain(&self.after).cloned().collect();
        let trace = self.run(schedule, &all, self.free_s)?;
        let charge_a_s = trace.samples.last().map_or(self.charge_a_s, |last| last.charge_a_s);
        Ok((self.read(&trace, schedule).launch_k, charge_a_s))
    }

    fn read(&self, trace: &Outline, schedule: &Schedule) -> Reached {
        let battery = &self.scenario.setup.battery;
        let running_a = (battery.running_current_a - battery.alternator_current_a).max(0.0);
        let idle_s = if schedule.idle.is_empty() { 0.0 } else { schedule.idle.length_s() };
        let charges_a_s = trace.samples.iter().map(|sample| sample.charge_a_s);
        let last = trace.samples.last();
        Reached {
            launch_k: last.map_or(self.now_k, |last| last.temperature_k),
            used_a_s: last.map_or(0.0, |last| last.used_a_s) + running_a * idle_s,
            least_a_s: charges_a_s.fold(self.charge_a_s, f64::min),
        }
    }

    fn run(&self, schedule: &Schedule, then: &[Event], free_s: f64) -> Result<Outline, Error> {
        self.simulated.set(self.simulated.get() + 1);
        let idle_rad_per_s = self.scenario.setup.engine.idle_speed_rad_per_s;
        let mut events = schedule.events(free_s, idle_rad_per_s);
        events.extend_from_slice(then);
        if events.is_empty() {
            return Err(Error::new(
                ErrorKind::OutOfRange,
                "minutes until the call",
                "0 min",
                "more than 0, or something that happens between the call and the launch",
                "Give a time until the call.",
            ));
        }
        let day = Scenario {
            initial_temperature_k: self.now_k,
            blocks: vec![Block { round: None, turnaround_s: None, events }],
            ..self.scenario.clone()
        };
        simulate_outline_from(&mut self.transmission.borrow_mut(), &day, self.charge_a_s)
    }
}
