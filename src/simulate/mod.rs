//! `simulate(&Scenario) -> Result<Trace, Error>`: a pure function from a validated scenario to a day.
//!
//! Time is cut wherever something switches: event starts and ends, pump and fan on and off. Each piece is
//! smooth and integrated by itself. Conditions on temperature are searched on the continuous extension
//! of the piece; the first one that holds cuts it.

mod computed_pass;
mod launches;
mod loads;
mod switches;

use std::cell::Cell;
use std::rc::Rc;

use ode_solvers::SVector;

use crate::error::{Error, ErrorKind};
use crate::flows::{FlowSurvey, Quantity};
use crate::network::{FlatNetwork, Quantities, Scaling};
use crate::outline::Outline;
use crate::pass::{PASS_BOOKS, PassResult};
use crate::scenario::Scenario;
use crate::solver::{Failure, Solution, Tolerance, integrate_until, stopping_crossing};
use crate::timeline::{Block, Condition, Event, EventEnd, Loads, NODES, Node};
use crate::trace::{EndedBy, EventRecord, Hydraulics, Ledger, Sample, Trace};
use crate::transmission::{Mode, PATHS, Transmission};
use crate::units::clock_seconds_text;
use launches::launches;
use switches::{Piece, Switches, charging_current_a, holds, record_switch};

/// Default error control: local error per step of 3e-4 K plus 3e-5 of the rise. Over a twelve-hour day this
/// is within 0.05 K, and a millisecond of elapsed time, of a solution at 1e-10 (measured in tests/validation/accuracy.rs).
pub const TOLERANCE: Tolerance = Tolerance { relative: 3e-5, absolute: 3e-4 };

/// Error control of a day's outline: ten times looser. Over a twelve-hour day event ends are within 0.05 K and elapsed
/// times within a millisecond as well (measured in tests/validation/accuracy.rs): stability, not error, bounds most steps.
pub const OUTLINE_TOLERANCE: Tolerance = Tolerance { relative: 3e-4, absolute: 3e-3 };

/// Above this the model says nothing true: fluid has decomposed (400 °C, K).
pub const MAX_TEMPERATURE_K: f64 = 673.15;

/// Step budget of a day: well under a second's work. Race days take a few thousand steps; only conductances far too
/// large for the masses they join, over hours, use it up.
const MAX_DAY_STEPS: u32 = 80_000;

/// Steps after which a piece is closed and taken up again: bounds the memory that its continuous extension needs.
const MAX_PIECE_STEPS: u32 = 10_000;

/// A sample is left out when it is nearer than this to the one before (s) …
const DENSE_S: f64 = 1.0;
/// … and no temperature has moved by more than this (K): steps that follow stability, not the curve.
const DENSE_DELTA_K: f64 = 0.01;
/// A step over which some temperature moves by more than this (K) is sampled inside as well.
const BENT_DELTA_K: f64 = 0.2;

/// Room kept for an event's samples.
const SAMPLES_AN_EVENT: usize = 40;

/// Pieces shorter than this are skipped (s): switches that fall together up to rounding.
const SHORTEST_PIECE_S: f64 = 1e-9;

/// Heat of the nodes, as the solver has it.
type State = SVector<f64, NODES>;

/// Simulates a day with the default error control.
#[inline]
pub fn simulate(scenario: &Scenario) -> Result<Trace, Error> {
    simulate_with(scenario, TOLERANCE)
}

/// Simulates a day with a stated error control.
#[inline]
pub fn simulate_with(scenario: &Scenario, tolerance: Tolerance) -> Result<Trace, Error> {
    simulate_on(&mut Transmission::new(&scenario.setup)?, scenario, tolerance)
}

/// Simulates a day on a transmission prepared before: several timelines of one set-up share its pumps, circuits and
/// curves, which are costly to compute. Results are those of [`simulate_with`], whatever was simulated on it before; only
/// fewer evaluations may be counted.
/// An error where the scenario's set-up is not that of the transmission.
#[inline]
pub fn simulate_on(
    transmission: &mut Transmission,
    scenario: &Scenario,
    tolerance: Tolerance,
) -> Result<Trace, Error> {
    let full_a_s = scenario.setup.battery.capacity_a_s;
    run_day::<PATHS, { PATHS + PASS_BOOKS }>(transmission, scenario, tolerance, full_a_s)
}

/// Simulates a day for its temperatures alone, on a transmission prepared before: no path of heat is booked, and the
/// error control is [`OUTLINE_TOLERANCE`]. For those who simulate a day many times over.
pub fn simulate_outline(
    transmission: &mut Transmission,
    scenario: &Scenario,
) -> Result<Outline, Error> {
    simulate_outline_from(transmission, scenario, scenario.setup.battery.capacity_a_s)
}

/// The same from a charge in the battery (A·s) at the start, at most its capacity.
pub fn simulate_outline_from(
    transmission: &mut Transmission,
    scenario: &Scenario,
    charge_a_s: f64,
) -> Result<Outline, Error> {
    run_day::<0, PASS_BOOKS>(transmission, scenario, OUTLINE_TOLERANCE, charge_a_s)
        .map(Outline::from)
}

/// A day with B books of heat, and W during passes, from a charge in the battery.
#[inline]
fn run_day<const B: usize, const W: usize>(
    transmission: &mut Transmission,
    scenario: &Scenario,
    tolerance: Tolerance,
    charge_a_s: f64,
) -> Result<Trace, Error> {
    check_setup(transmission, scenario)?;
    let scaling = Scaling::new(transmission.nodes(), &scenario.initial_temperature_k);
    let events: usize = scenario.blocks.iter().map(|block| block.events.len()).sum();
    let mut day = Day::<B, W> {
        scenario,
        scaling,
        tolerance,
        time_s: 0.0,
        state: State::zeros(),
        booked_j: SVector::zeros(),
        charge_a_s: charge_a_s.min(scenario.setup.battery.capacity_a_s),
        used_a_s: 0.0,
        steps_left: MAX_DAY_STEPS,
        trace: Trace {
            samples: Vec::with_capacity(SAMPLES_AN_EVENT * events),
            events: Vec::new(),
            switches: Vec::new(),
            launches: Vec::new(),
            ledger: Ledger::between(&EMPTY_SAMPLE, &EMPTY_SAMPLE),
            evaluations: 0,
        },
    };
    day.sample(day.temperatures_k(transmission));
    for (b, block) in scenario.blocks.iter().enumerate() {
        let block_start_s = day.time_s;
        let block_end_s = block.turnaround_s.map(|turnaround_s| block_start_s + turnaround_s);
        for (e, event) in block.events.iter().enumerate() {
            if let Some(start_s) = event.start_s {
                day.park_until(transmission, block.round, block_start_s + start_s)?;
            }
            let place = Place { event, round: block.round, place: Some((b, e)) };
            day.run_event(transmission, &place, block_end_s)?;
        }
        if let Some(end_s) = block_end_s {
            check_turnaround(block, day.time_s - block_start_s)?;
            day.park_until(transmission, block.round, end_s)?;
        }
    }
    check_length(day.time_s)?;
    let mut trace = day.trace;
    if let (Some(first), Some(last)) = (trace.samples.first(), trace.samples.last()) {
        trace.ledger = Ledger::between(first, last);
    }
    trace.launches = launches(scenario, transmission, &trace);
    Ok(trace)
}

/// Refuses a transmission of another set-up. (What is not generic, as this, is compiled for size in the browser's core.)
fn check_setup(transmission: &Transmission, scenario: &Scenario) -> Result<(), Error> {
    if *transmission.setup() == scenario.setup {
        return Ok(());
    }
    Err(Error::new(
        ErrorKind::Contradiction,
        "setup",
        "a set-up other than the prepared transmission's",
        "the set-up of which the transmission was made",
        "Prepare a transmission for each set-up.",
    ))
}

fn check_length(day_s: f64) -> Result<(), Error> {
    if day_s > 0.0 {
        return Ok(());
    }
    Err(Error::new(
        ErrorKind::OutOfRange,
        "timeline",
        "a day that is over at once",
        "longer than 0 s",
        "Give an event a duration, or let it wait for a temperature that is not there yet.",
    ))
}

/// Refuses a round whose events took longer than its turnaround: a computed pass was slower than there was time for.
fn check_turnaround(block: &Block, took_s: f64) -> Result<(), Error> {
    match block.turnaround_s {
        Some(turnaround_s) if took_s > turnaround_s + 1e-3 => Err(Error::new(
            ErrorKind::Contradiction,
            "timeline",
            clock_seconds_text(turnaround_s),
            format!(
                "the events of round {} take {}, with the pass as computed",
                block.round.unwrap_or(0),
                clock_seconds_text(took_s + 0.999)
            ),
            "Give the round more time, or shorten its events.",
        )),
        _ => Ok(()),
    }
}

const EMPTY_SAMPLE: Sample = Sample {
    time_s: 0.0,
    temperature_k: [0.0; NODES],
    path_j: [0.0; PATHS],
    stored_j: [0.0; NODES],
    charge_a_s: 0.0,
    used_a_s: 0.0,
};

/// The day under way.
struct Day<'a, const B: usize, const W: usize> {
    scenario: &'a Scenario,
    scaling: Scaling,
    tolerance: Tolerance,
    time_s: f64,
    state: State,
    booked_j: SVector<f64, B>,
    charge_a_s: f64,
    used_a_s: f64,
    steps_left: u32,
    trace: Trace,
}

/// An event under way.
struct Place<'a> {
    event: &'a Event,
    round: Option<u32>,
    /// Block and event in the scenario.
    place: Option<(usize, usize)>,
}

impl Place<'_> {
    /// How messages name it.
    fn field(&self) -> String {
        match self.round {
            Some(round) => format!("{} of round {round}", self.event.kind.key()),
            None => self.event.kind.key().to_string(),
        }
    }

    /// An error of a part, said to be in this event.
    fn named(&self, error: Error) -> Error {
        error.of_field(self.field())
    }
}

/// How an event went, besides temperatures.
struct Outcome {
    start_s: f64,
    first_sample: usize,
    ended_by: EndedBy,
    loads: Loads,
    pass: Option<PassResult>,
    surveyed: Quantities,
}

impl<const B: usize, const W: usize> Day<'_, B, W> {
    fn park_until(
        &mut self,
        transmission: &mut Transmission,
        round: Option<u32>,
        until_s: f64,
    ) -> Result<(), Error> {
        let wait_s = until_s - self.time_s;
        if wait_s <= SHORTEST_PIECE_S {
            return Ok(());
        }
        let parked = Event::parked(EventEnd::Duration(wait_s));
        self.run_event(transmission, &Place { event: &parked, round, place: None }, None)
    }

    fn run_event(
        &mut self,
        transmission: &mut Transmission,
        place: &Place,
        block_end_s: Option<f64>,
    ) -> Result<(), Error> {
        let event = place.event;
        if let EventEnd::Finish { distance_m } = event.end {
            return self.run_pass(transmission, place, distance_m);
        }
        let loads = self.loads(transmission, place)?;
        let start_s = self.time_s;
        let (end_s, wanted) = match event.end {
            EventEnd::Duration(duration_s) => (start_s + duration_s, None),
            EventEnd::Until { condition, at_most_s } => (start_s + at_most_s, Some(condition)),
            EventEnd::Turnaround | EventEnd::Finish { .. } => {
                (block_end_s.unwrap_or(start_s).max(start_s), None)
            }
        };
        let mut switches = Switches::new(event, start_s);
        let first_sample = self.trace.samples.len() - 1;
        let mut surveyed = Quantities::default();
        let mut ended_by = match wanted {
            Some(_) => EndedBy::LongestWait,
            None => EndedBy::Time,
        };
        while end_s - self.time_s > SHORTEST_PIECE_S {
            // Conditions that already hold act at once, without a piece of time.
            let now_k = self.temperatures_k(transmission);
            if wanted.is_some_and(|wanted| holds(&wanted, &now_k)) {
                ended_by = EndedBy::Temperature;
                break;
            }
            let Piece { route, fan, end_s, watched } =
                switches.piece(self.time_s, end_s, &now_k, wanted);
            let mode = Mode { loads, ..Mode::new(&self.scenario.setup, event, route, fan) };
            let piece_start_s = self.time_s;
            let ended = self.run_piece(transmission, place, &mode, end_s, &watched)?;
            if route.is_none() {
                keep_circulation(&mut surveyed, &ended);
            } else {
                surveyed = ended;
            }
            record_switch(&mut self.trace, route.map(Some), piece_start_s, self.time_s);
            record_switch(&mut self.trace, fan.then_some(None), piece_start_s, self.time_s);
        }
        let outcome = Outcome { start_s, first_sample, ended_by, loads, pass: None, surveyed };
        record_event(&mut self.trace, self.time_s, place, outcome);
        Ok(())
    }

    /// Integrates to `piece_end_s` or to the first watched condition, and samples on the way. Returns what was
    /// surveyed at its end.
    fn run_piece(
        &mut self,
        transmission: &mut Transmission,
        place: &Place,
        mode: &Mode,
        piece_end_s: f64,
        watched: &[Condition],
    ) -> Result<Quantities, Error> {
        let network = transmission.network(mode);
        let flat = FlatNetwork::new(&network);
        let scaling = &self.scaling;
        let duration_s = piece_end_s - self.time_s;
        let temperature_k = |y: &State, node: Node| {
            network.nodes[node.index()].temperature_k(scaling.heat_j(y, node.index()))
        };
        let hottest_j = transmission.nodes().map(|node| node.heat_j(MAX_TEMPERATURE_K));
        let too_hot = |y: &State| {
            let over = |i: usize| (scaling.heat_j(y, i) - hottest_j[i]) * scaling.per_scale(i);
            (0..NODES).map(over).fold(f64::NEG_INFINITY, f64::max)
        };
        let gap_k =
            |condition: &Condition, y: &State| condition.gap_k(temperature_k(y, condition.node));
        let steps = Cell::new(0);
        let solution = integrate_until(
            |y: &State, dy: &mut State, path_w: &mut SVector<f64, B>| {
                if B == 0 {
                    flat.derivative_alone(scaling, y, dy);
                } else {
                    flat.derivative(scaling, y, dy, path_w);
                }
            },
            self.state,
            duration_s,
            self.tolerance,
            self.steps_left,
            |y| {
                steps.set(steps.get() + 1);
                steps.get() >= MAX_PIECE_STEPS
                    || too_hot(y) >= 0.0
                    || watched.iter().any(|condition| gap_k(condition, y) >= 0.0)
            },
        )
        .map_err(|failure| solver_error(self.time_s, failure, place))?;
        self.steps_left = self.steps_left.saturating_sub(solution.steps());
        self.trace.evaluations += u64::from(solution.evaluations());

        let cut_s = watched
            .iter()
            .filter_map(|condition| stopping_crossing(&solution, &|y| gap_k(condition, y)))
            .fold(solution.duration_s(), f64::min);
        if let Some(at_s) = stopping_crossing(&solution, &too_hot)
            && at_s <= cut_s
        {
            return Err(too_hot_error(&self.trace, place, self.time_s + at_s));
        }
        let survey = transmission.survey(mode);
        self.sample_piece(transmission, &solution, cut_s, mode, &survey);
        let pan_k = self.temperatures_k(transmission)[Node::PanFluid.index()];
        Ok(survey.at(pan_k))
    }

    fn sample_piece(
        &mut self,
        transmission: &Transmission,
        solution: &Solution<NODES, B>,
        cut_s: f64,
        mode: &Mode,
        survey: &Rc<FlowSurvey>,
    ) {
        let (piece_start_s, piece_start_j) = (self.time_s, self.booked_j);
        let mut step_start_s = 0.0;
        // Short events are looked at closely; a soak's steps are long, and smooth.
        let closely = if cut_s < 60.0 { 4 } else { 2 };
        // An outline's steps are longer.
        let most_parts = if B == 0 { 2 * closely } else { closely };
        for (step, &step_end_s) in solution.step_ends_s().iter().enumerate() {
            let local_end_s = step_end_s.min(cut_s);
            // A step's end is known already; only what lies inside it is interpolated.
            let end = if step_end_s < cut_s {
                *solution.state_after(step)
            } else {
                solution.at(local_end_s)
            };
            let end_k = self.temperatures_of_k(transmission, &end);
            let last_k = self.trace.samples.last().map_or(end_k, |last| last.temperature_k);
            let moved_k = end_k.iter().zip(last_k).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
            let parts = if moved_k > BENT_DELTA_K { most_parts } else { 1 };
            for part in 1..=parts {
                let last_part = part == parts;
                let local_s = if last_part {
                    local_end_s
                } else {
                    step_start_s + (local_end_s - step_start_s) * f64::from(part) / f64::from(parts)
                };
                self.state = if last_part { end } else { solution.at(local_s) };
                let gained_j = if last_part && step_end_s < cut_s {
                    solution.booked_by_step(step)
                } else {
                    solution.booked_at(local_s)
                };
                self.booked_j = piece_start_j + gained_j;
                let now_k = if last_part {
                    end_k
                } else {
                    self.temperatures_of_k(transmission, &self.state)
                };
                self.advance_to(piece_start_s + local_s, &now_k, mode, survey);
                if (last_part && step_end_s >= cut_s) || !self.is_dense(&now_k) {
                    self.sample(now_k);
                }
            }
            if step_end_s >= cut_s {
                return;
            }
            step_start_s = step_end_s;
        }
    }

    /// Whether a sample now would say nothing that the last one does not.
    fn is_dense(&self, now_k: &[f64; NODES]) -> bool {
        let Some(last) = self.trace.samples.last() else { return false };
        self.time_s - last.time_s < DENSE_S
            && now_k.iter().zip(last.temperature_k).all(|(a, b)| (a - b).abs() < DENSE_DELTA_K)
    }

    /// Lets time pass for clock and battery; the pump's current is the mean of that before and that now.
    fn advance_to(
        &mut self,
        time_s: f64,
        now_k: &[f64; NODES],
        mode: &Mode,
        survey: &Rc<FlowSurvey>,
    ) {
        let setup = &self.scenario.setup;
        let mut used_a = if mode.fan { setup.cooler.fan_current_a } else { 0.0 };
        if mode.route.is_some() {
            let pan = Node::PanFluid.index();
            let before_k =
                self.trace.samples.last().map_or(now_k[pan], |last| last.temperature_k[pan]);
            let drawn_a = |pan_k: f64| survey.at(pan_k)[Quantity::CirculationCurrent.index()];
            used_a += 0.5 * (drawn_a(before_k) + drawn_a(now_k[pan]));
        }
        let passed_s = time_s - self.time_s;
        self.used_a_s += used_a * passed_s;
        let charge_a_s = self.charge_a_s + (charging_current_a(setup, mode) - used_a) * passed_s;
        self.charge_a_s = charge_a_s.min(setup.battery.capacity_a_s);
        self.time_s = time_s;
    }

    fn temperatures_k(&self, transmission: &Transmission) -> [f64; NODES] {
        self.temperatures_of_k(transmission, &self.state)
    }

    fn temperatures_of_k(&self, transmission: &Transmission, state: &State) -> [f64; NODES] {
        let mut temperature_k = [0.0; NODES];
        for (i, node) in transmission.nodes().iter().enumerate() {
            temperature_k[i] = node.temperature_k(self.scaling.heat_j(state, i));
        }
        temperature_k
    }

    fn sample(&mut self, temperature_k: [f64; NODES]) {
        let mut sample = Sample {
            time_s: self.time_s,
            temperature_k,
            charge_a_s: self.charge_a_s,
            used_a_s: self.used_a_s,
            ..EMPTY_SAMPLE
        };
        for (i, stored_j) in sample.stored_j.iter_mut().enumerate() {
            *stored_j = self.scaling.stored_j(&self.state, i);
        }
        for (path_j, booked_j) in sample.path_j.iter_mut().zip(&self.booked_j) {
            *path_j = *booked_j;
        }
        self.trace.samples.push(sample);
    }
}

/// Records an event that ended.
fn record_event(trace: &mut Trace, end_s: f64, place: &Place, outcome: Outcome) {
    let at = |quantity: Quantity| outcome.surveyed[quantity.index()];
    let line_pressure_pa = at(Quantity::LinePressure);
    trace.events.push(EventRecord {
        kind: place.event.kind,
        name: place.event.name.clone(),
        round: place.round,
        start_s: outcome.start_s,
        end_s,
        ended_by: outcome.ended_by,
        samples: (outcome.first_sample, trace.samples.len() - 1),
        loads: outcome.loads,
        hydraulics: Hydraulics {
            line_pressure_pa,
            // Charge comes out of the line, but each is read from its own survey, and at a valve's kink one may be off.
            charge_pressure_pa: at(Quantity::ChargePressure).min(line_pressure_pa),
            front_pump_m3_per_s: at(Quantity::FrontPumpFlow),
            circulation_m3_per_s: at(Quantity::CirculationFlow),
            circulation_a: at(Quantity::CirculationCurrent),
        },
        pass: outcome.pass,
        place: place.place,
    });
}

fn solver_error(time_s: f64, failure: Failure, place: &Place) -> Error {
    let at_s = match failure {
        Failure::NotFinite => time_s,
        Failure::TooManySteps { at_s } => time_s + at_s,
    };
    Error::new(
        ErrorKind::Solver,
        place.field(),
        format!("the integration stopped {} into the day", crate::units::time_text(at_s)),
        format!("heat that moves slowly enough for {MAX_DAY_STEPS} steps in a day"),
        "Look for very small masses (cooler core, converter) with very large flows, fans or sizes in the set-up, or shorten the day.",
    )
}

fn too_hot_error(trace: &Trace, place: &Place, at_s: f64) -> Error {
    Error::new(
        ErrorKind::Unphysical,
        place.field(),
        format!(
            "above {:.0} °C ({:.0} °F) {} into the event",
            MAX_TEMPERATURE_K - 273.15,
            (MAX_TEMPERATURE_K - 273.15) * 1.8 + 32.0,
            crate::units::time_text(at_s - event_start_s(trace))
        ),
        "fluid has decomposed long before that, and the model says nothing true beyond it",
        "Shorten the event, lower its engine speed or power, or cool more before it.",
    )
}

/// Start of the event under way: where the last recorded one ended.
fn event_start_s(trace: &Trace) -> f64 {
    trace.events.last().map_or(0.0, |event| event.end_s)
}

/// Takes what was surveyed last, but for the circulation pump, which does not run then, what it did before.
fn keep_circulation(surveyed: &mut Quantities, ended: &Quantities) {
    let kept = [Quantity::CirculationFlow, Quantity::CirculationCurrent]
        .map(|quantity| (quantity.index(), surveyed[quantity.index()]));
    *surveyed = *ended;
    for (place, value) in kept {
        surveyed[place] = value;
    }
}
