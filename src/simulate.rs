//! `simulate(&Scenario) -> Result<Trace, Error>`: a pure function from a validated scenario to a day.
//!
//! Time is cut wherever something switches: event starts and ends, pump and fan on and off. Each piece is
//! smooth and integrated by itself. Conditions on temperature are searched on the continuous extension
//! of the piece; the first one that holds cuts it.

use std::cell::Cell;

use ode_solvers::SVector;

use crate::error::{Error, ErrorKind};
use crate::network::{Network, Scaling};
use crate::pass::{self, Alone, Coupling, Course, PASS_STATES};
use crate::scenario::Scenario;
use crate::solver::{Failure, Solution, Tolerance, first_crossing, integrate_until};
use crate::timeline::{Condition, Event, EventEnd, EventKind, Loads, NODES, Node, OnTime, Route};
use crate::trace::{EndedBy, EventRecord, Launch, Ledger, Sample, SwitchRecord, Trace};
use crate::transmission::{Mode, PATHS, Path, STATES, Transmission};
use crate::vehicle::Rates;

/// Default error control: local error per step of 1e-5 K plus 1e-6 of the rise. Over a twelve-hour day this
/// is within 0.05 K of a solution at 1e-10 (measured in tests/accuracy.rs).
pub const TOLERANCE: Tolerance = Tolerance { relative: 1e-4, absolute: 1e-3 };

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

/// Pieces shorter than this are skipped (s): switches that fall together up to rounding.
const SHORTEST_PIECE_S: f64 = 1e-9;

type State = SVector<f64, STATES>;

/// Heat and motion together.
const WHOLE: usize = STATES + PASS_STATES;

/// The thermal network under a pass: takes the heat that motion makes, and gives the converter its capacity.
struct Heat<'a> {
    network: &'a Network,
    scaling: &'a Scaling,
}

impl Coupling<WHOLE> for Heat<'_> {
    fn capacity_ratio(&self, state: &SVector<f64, WHOLE>) -> f64 {
        let fluid = Node::ConverterFluid.index();
        let heat_j = self.scaling.heat_j(state, fluid);
        self.network.capacity.at(self.network.nodes[fluid].temperature_k(heat_j))
    }

    fn fill(
        &self,
        state: &SVector<f64, WHOLE>,
        derivative: &mut SVector<f64, WHOLE>,
        rates: &Rates,
    ) {
        self.network.derivative(self.scaling, state, derivative);
        for (node, path, heat_w) in [
            (Node::ConverterFluid, Path::ConverterShear, rates.converter_w),
            (Node::GearTrain, Path::GearTrain, rates.gearbox_w),
            (Node::PanFluid, Path::FrontPump, rates.front_pump_w),
        ] {
            let source = (node.index(), path.index());
            self.network.add_heat(self.scaling, derivative, source, heat_w);
        }
    }

    fn shift(&self, state: &mut SVector<f64, WHOLE>, heat_j: f64) {
        let source = (Node::GearTrain.index(), Path::GearTrain.index());
        self.network.add_heat(self.scaling, state, source, heat_j);
    }
}

/// Flash speed (rad/s) with the converter fluid as it is; `None` where engine and converter do not balance.
fn flash(transmission: &Transmission, temperature_k: &[f64; NODES]) -> Option<f64> {
    let converter_k = temperature_k[Node::ConverterFluid.index()];
    let balance = transmission.drive().flash(transmission.capacity_ratio(converter_k));
    balance.ok().map(|balance| balance.speed_rad_per_s)
}

/// Simulates a day with the default error control.
pub fn simulate(scenario: &Scenario) -> Result<Trace, Error> {
    simulate_with(scenario, TOLERANCE)
}

/// Simulates a day with a stated error control.
pub fn simulate_with(scenario: &Scenario, tolerance: Tolerance) -> Result<Trace, Error> {
    let mut transmission = Transmission::new(&scenario.setup)?;
    let scaling = Scaling::new(transmission.nodes(), &scenario.initial_temperature_k);
    let mut day = Day {
        scenario,
        scaling,
        tolerance,
        time_s: 0.0,
        state: State::zeros(),
        charge_a_s: scenario.setup.battery.capacity_a_s,
        steps_left: MAX_DAY_STEPS,
        trace: Trace {
            samples: Vec::new(),
            events: Vec::new(),
            switches: Vec::new(),
            launches: Vec::new(),
            ledger: Ledger::between(&EMPTY_SAMPLE, &EMPTY_SAMPLE),
            evaluations: 0,
        },
    };
    day.sample(&transmission);
    for (b, block) in scenario.blocks.iter().enumerate() {
        let block_start_s = day.time_s;
        let block_end_s = block.turnaround_s.map(|turnaround_s| block_start_s + turnaround_s);
        for (e, event) in block.events.iter().enumerate() {
            if let Some(start_s) = event.start_s {
                day.park_until(&mut transmission, block.round, block_start_s + start_s)?;
            }
            let place = Some((b, e));
            day.run_event(&mut transmission, event, block.round, place, block_end_s)?;
        }
        if let Some(end_s) = block_end_s {
            day.park_until(&mut transmission, block.round, end_s)?;
        }
    }
    let mut trace = day.trace;
    if let (Some(first), Some(last)) = (trace.samples.first(), trace.samples.last()) {
        trace.ledger = Ledger::between(first, last);
    }
    trace.launches = launches(scenario, &transmission, &trace);
    Ok(trace)
}

const EMPTY_SAMPLE: Sample = Sample {
    time_s: 0.0,
    temperature_k: [0.0; NODES],
    path_j: [0.0; PATHS],
    stored_j: [0.0; NODES],
    charge_a_s: 0.0,
};

/// The day under way.
struct Day<'a> {
    scenario: &'a Scenario,
    scaling: Scaling,
    tolerance: Tolerance,
    time_s: f64,
    state: State,
    charge_a_s: f64,
    steps_left: u32,
    trace: Trace,
}

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

impl Day<'_> {
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
        self.run_event(transmission, &parked, round, None, None)
    }

    fn run_event(
        &mut self,
        transmission: &mut Transmission,
        event: &Event,
        round: Option<u32>,
        place: Option<(usize, usize)>,
        block_end_s: Option<f64>,
    ) -> Result<(), Error> {
        if let EventEnd::Finish { distance_m } = event.end {
            return self.run_pass(transmission, event, round, place, distance_m);
        }
        let event = &self.as_the_engine_can(transmission, event);
        let start_s = self.time_s;
        let (end_s, wanted) = match event.end {
            EventEnd::Duration(duration_s) => (start_s + duration_s, None),
            EventEnd::Until { condition, at_most_s } => (start_s + at_most_s, Some(condition)),
            EventEnd::Turnaround | EventEnd::Finish { .. } => {
                (block_end_s.unwrap_or(start_s).max(start_s), None)
            }
        };
        let mut switches: Vec<Pending> = event
            .circulation
            .iter()
            .map(|pump| Pending::new(Some(pump.route), pump.on, start_s))
            .chain(event.fan.iter().map(|on| Pending::new(None, *on, start_s)))
            .collect();
        let first_sample = self.trace.samples.len() - 1;
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
            give_way(&mut switches, self.time_s);
            for switch in &mut switches {
                if switch.is_on(self.time_s)
                    && switch.on.until.is_some_and(|until| holds(&until, &now_k))
                {
                    switch.done = true;
                }
            }
            let route = switches
                .iter()
                .find(|switch| switch.route.is_some() && switch.is_on(self.time_s))
                .and_then(|switch| switch.route);
            let fan =
                switches.iter().any(|switch| switch.route.is_none() && switch.is_on(self.time_s));
            let mut piece_end_s = end_s;
            for switch in switches.iter().filter(|switch| !switch.done) {
                for change_s in [switch.start_s, switch.stop_s] {
                    if change_s > self.time_s + SHORTEST_PIECE_S {
                        piece_end_s = piece_end_s.min(change_s);
                    }
                }
            }
            let mut watched: Vec<Condition> = wanted.into_iter().collect();
            watched.extend(
                switches
                    .iter()
                    .filter(|switch| switch.is_on(self.time_s))
                    .filter_map(|switch| switch.on.until),
            );
            let mode = Mode::new(&self.scenario.setup, event, route, fan);
            let piece_start_s = self.time_s;
            self.run_piece(transmission, event, round, &mode, piece_end_s, &watched)?;
            self.record_switch(route.map(Some), piece_start_s);
            self.record_switch(fan.then_some(None), piece_start_s);
        }
        self.trace.events.push(EventRecord {
            kind: event.kind,
            name: event.name.clone(),
            round,
            start_s,
            end_s: self.time_s,
            ended_by,
            samples: (first_sample, self.trace.samples.len() - 1),
            engine_rad_per_s: event.loads.engine_speed_rad_per_s,
            pass: None,
            place,
        });
        Ok(())
    }

    /// A brake hold at no more than the speed at which engine and stalled converter balance.
    fn as_the_engine_can(&self, transmission: &Transmission, event: &Event) -> Event {
        let mut event = event.clone();
        if event.kind == EventKind::BrakeHold
            && let Some(flash_rad_per_s) = flash(transmission, &self.temperatures_k(transmission))
        {
            event.loads.engine_speed_rad_per_s =
                event.loads.engine_speed_rad_per_s.min(flash_rad_per_s);
        }
        event
    }

    /// Engine speed that the hold just before leaves, or idle.
    fn launch_rad_per_s(&self) -> f64 {
        match self.trace.events.last() {
            Some(event) if event.kind == EventKind::BrakeHold => event.engine_rad_per_s,
            _ => self.scenario.setup.engine.idle_speed_rad_per_s,
        }
    }

    /// Runs a computed pass: motion and heat in one system of equations.
    fn run_pass(
        &mut self,
        transmission: &mut Transmission,
        event: &Event,
        round: Option<u32>,
        place: Option<(usize, usize)>,
        distance_m: f64,
    ) -> Result<(), Error> {
        let setup = &self.scenario.setup;
        let start_s = self.time_s;
        let first_sample = self.trace.samples.len() - 1;
        let course = Course {
            launch_rad_per_s: self.launch_rad_per_s(),
            shift_rad_per_s: setup.gearbox.shift_speed_rad_per_s,
            rollout_m: setup.car.rollout_m,
            finish_m: distance_m,
        };
        let converter_k = self.temperatures_k(transmission)[Node::ConverterFluid.index()];
        let capacity_ratio = transmission.capacity_ratio(converter_k);
        let named = |mut error: Error| {
            error.field = event_field(event, round);
            error
        };
        // Links and flows are those of the pass's mean speeds, known from the motion alone.
        let pan_k = self.temperatures_k(transmission)[Node::PanFluid.index()];
        let pump_torque_nm = transmission.front_pump_torque_nm(course.shift_rad_per_s, pan_k);
        let powertrain = transmission.drive().powertrain(pump_torque_nm);
        let alone = pass::run(
            &powertrain,
            &course,
            &SVector::<f64, PASS_STATES>::zeros(),
            &Alone(capacity_ratio),
            self.tolerance,
        )
        .map_err(named)?;
        let means = alone.result.mean_speeds();
        let route = event.circulation.first().map(|pump| pump.route);
        let fan = !event.fan.is_empty();
        let mode = Mode {
            kind: EventKind::Pass,
            loads: Loads {
                engine_speed_rad_per_s: means.engine_rad_per_s,
                road_speed_m_per_s: means.car_m_per_s,
                torque_ratio: 1.0,
                ..Loads::default()
            },
            shift_heat_w: 0.0,
            route,
            fan,
        };
        let mut network = transmission.network(&mode);
        let from_motion = [Path::ConverterShear, Path::GearTrain, Path::FrontPump];
        network.sources.retain(|source| from_motion.iter().all(|path| path.index() != source.path));

        let mut start = SVector::<f64, WHOLE>::zeros();
        start.fixed_rows_mut::<STATES>(0).copy_from(&self.state);
        let coupling = Heat { network: &network, scaling: &self.scaling };
        let powertrain = transmission.drive().powertrain(pump_torque_nm);
        let run =
            pass::run(&powertrain, &course, &start, &coupling, self.tolerance).map_err(named)?;
        self.trace.evaluations += u64::from(run.evaluations);
        self.steps_left = self.steps_left.saturating_sub(run.steps);

        for (time_s, state) in run.states.iter().skip(1) {
            self.state.copy_from(&state.fixed_rows::<STATES>(0));
            let passed_s = start_s + time_s - self.time_s;
            self.time_s = start_s + time_s;
            self.draw(transmission, &mode, passed_s);
            self.sample(transmission);
            let hottest_k =
                self.temperatures_k(transmission).into_iter().fold(f64::NEG_INFINITY, f64::max);
            if hottest_k > MAX_TEMPERATURE_K {
                return Err(self.too_hot_error(event, round, self.time_s));
            }
        }
        self.record_switch(route.map(Some), start_s);
        self.record_switch(fan.then_some(None), start_s);
        self.trace.events.push(EventRecord {
            kind: event.kind,
            name: event.name.clone(),
            round,
            start_s,
            end_s: self.time_s,
            ended_by: EndedBy::Time,
            samples: (first_sample, self.trace.samples.len() - 1),
            engine_rad_per_s: course.launch_rad_per_s,
            pass: Some(run.result),
            place,
        });
        Ok(())
    }

    /// Books a switch as on from `start_s` to now, joining it to its record when that ends where this starts.
    fn record_switch(&mut self, on: Option<Option<Route>>, start_s: f64) {
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

    /// Integrates to `piece_end_s` or to the first watched condition, and samples on the way.
    fn run_piece(
        &mut self,
        transmission: &mut Transmission,
        event: &Event,
        round: Option<u32>,
        mode: &Mode,
        piece_end_s: f64,
        watched: &[Condition],
    ) -> Result<(), Error> {
        let network = transmission.network(mode);
        let scaling = &self.scaling;
        let duration_s = piece_end_s - self.time_s;
        let temperature_k = |y: &State, node: Node| {
            network.nodes[node.index()].temperature_k(scaling.heat_j(y, node.index()))
        };
        let too_hot = |y: &State| {
            Node::ALL
                .iter()
                .map(|node| temperature_k(y, *node) - MAX_TEMPERATURE_K)
                .fold(f64::NEG_INFINITY, f64::max)
        };
        let gap_k =
            |condition: &Condition, y: &State| condition.gap_k(temperature_k(y, condition.node));
        let steps = Cell::new(0);
        let solution = integrate_until(
            |y: &State, dy: &mut State| network.derivative(scaling, y, dy),
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
        .map_err(|failure| self.solver_error(failure, event, round))?;
        self.steps_left = self.steps_left.saturating_sub(solution.steps());
        self.trace.evaluations += u64::from(solution.evaluations());

        let cut_s = watched
            .iter()
            .filter_map(|condition| first_crossing(&solution, |y| gap_k(condition, y)))
            .fold(solution.duration_s(), f64::min);
        // Within a step no node overshoots both its ends by more than the error control.
        if solution.step_states().iter().any(|y| too_hot(y) >= 0.0)
            && let Some(at_s) = first_crossing(&solution, too_hot)
            && at_s <= cut_s
        {
            return Err(self.too_hot_error(event, round, self.time_s + at_s));
        }
        self.sample_piece(transmission, &solution, cut_s, mode);
        Ok(())
    }

    fn sample_piece(
        &mut self,
        transmission: &mut Transmission,
        solution: &Solution<STATES>,
        cut_s: f64,
        mode: &Mode,
    ) {
        let piece_start_s = self.time_s;
        let mut step_start_s = 0.0;
        // Short events are looked at closely; a soak's steps are long, and smooth.
        let parts = if cut_s < 60.0 { 4 } else { 2 };
        let steps = solution.step_ends_s().iter().zip(solution.step_states());
        for (&step_end_s, step_state) in steps {
            for part in 1..=parts {
                let local_s =
                    step_start_s + (step_end_s - step_start_s) * f64::from(part) / f64::from(parts);
                let local_s = local_s.min(cut_s);
                // A step's end is known already; only what lies inside it is interpolated.
                self.state = if part == parts && step_end_s < cut_s {
                    *step_state
                } else {
                    solution.at(local_s)
                };
                let passed_s = piece_start_s + local_s - self.time_s;
                self.time_s = piece_start_s + local_s;
                self.draw(transmission, mode, passed_s);
                let ends = local_s >= cut_s;
                if ends || !self.is_dense(transmission) {
                    self.sample(transmission);
                }
                if ends {
                    return;
                }
            }
            step_start_s = step_end_s;
        }
    }

    /// Whether a sample now would say nothing that the last one does not.
    fn is_dense(&self, transmission: &Transmission) -> bool {
        let Some(last) = self.trace.samples.last() else { return false };
        let now_k = self.temperatures_k(transmission);
        self.time_s - last.time_s < DENSE_S
            && now_k.iter().zip(last.temperature_k).all(|(a, b)| (a - b).abs() < DENSE_DELTA_K)
    }

    /// Takes charge for the time just passed, at the current of the state reached.
    fn draw(&mut self, transmission: &mut Transmission, mode: &Mode, passed_s: f64) {
        let pan_k = self.temperatures_k(transmission)[Node::PanFluid.index()];
        let current_a = battery_current_a(self.scenario, mode)
            - transmission.circulation_current_a(mode, pan_k);
        let charge_a_s = self.charge_a_s + current_a * passed_s;
        self.charge_a_s = charge_a_s.min(self.scenario.setup.battery.capacity_a_s);
    }

    fn temperatures_k(&self, transmission: &Transmission) -> [f64; NODES] {
        let mut temperature_k = [0.0; NODES];
        for (i, node) in transmission.nodes().iter().enumerate() {
            temperature_k[i] = node.temperature_k(self.scaling.heat_j(&self.state, i));
        }
        temperature_k
    }

    fn sample(&mut self, transmission: &Transmission) {
        let mut sample = Sample {
            time_s: self.time_s,
            temperature_k: self.temperatures_k(transmission),
            charge_a_s: self.charge_a_s,
            ..EMPTY_SAMPLE
        };
        for (i, stored_j) in sample.stored_j.iter_mut().enumerate() {
            *stored_j = self.scaling.stored_j(&self.state, i);
        }
        for (p, path_j) in sample.path_j.iter_mut().enumerate() {
            *path_j = self.scaling.path_j(&self.state, p);
        }
        self.trace.samples.push(sample);
    }

    fn solver_error(&self, failure: Failure, event: &Event, round: Option<u32>) -> Error {
        let at_s = match failure {
            Failure::NotFinite => self.time_s,
            Failure::TooManySteps { at_s } => self.time_s + at_s,
        };
        Error::new(
            ErrorKind::Solver,
            event_field(event, round),
            format!("the integration stopped {} into the day", crate::units::time_text(at_s)),
            format!("heat that moves slowly enough for {MAX_DAY_STEPS} steps in a day"),
            "Look for very small masses (cooler core, converter) with very large flows, fans or sizes in the set-up, or shorten the day.",
        )
    }

    fn too_hot_error(&self, event: &Event, round: Option<u32>, at_s: f64) -> Error {
        Error::new(
            ErrorKind::Unphysical,
            event_field(event, round),
            format!(
                "above {:.0} °C ({:.0} °F) {} into the event",
                MAX_TEMPERATURE_K - 273.15,
                (MAX_TEMPERATURE_K - 273.15) * 1.8 + 32.0,
                crate::units::time_text(at_s - self.event_start_s())
            ),
            "fluid has decomposed long before that, and the model says nothing true beyond it",
            "Shorten the event, lower its engine speed or power, or cool more before it.",
        )
    }

    /// Start of the event under way: where the last recorded one ended.
    fn event_start_s(&self) -> f64 {
        self.trace.events.last().map_or(0.0, |event| event.end_s)
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

fn holds(condition: &Condition, temperature_k: &[f64; NODES]) -> bool {
    condition.gap_k(temperature_k[condition.node.index()]) >= 0.0
}

fn event_field(event: &Event, round: Option<u32>) -> String {
    match round {
        Some(round) => format!("{} of round {round}", event.kind.key()),
        None => event.kind.key().to_string(),
    }
}

/// Current into the battery in a mode (A): charging less what the fan draws. The pump's goes with temperature.
fn battery_current_a(scenario: &Scenario, mode: &Mode) -> f64 {
    let setup = &scenario.setup;
    let mut current_a = match mode.kind {
        EventKind::EngineOff => setup.battery.charger_current_a,
        EventKind::Tow => 0.0,
        _ => setup.battery.alternator_current_a,
    };
    if mode.fan {
        current_a -= setup.cooler.fan_current_a;
    }
    current_a
}

/// Launches of a day: the start of every pass, with the hold that came before it.
fn launches(scenario: &Scenario, transmission: &Transmission, trace: &Trace) -> Vec<Launch> {
    let limits = &scenario.setup.limits;
    let mut launches = Vec::new();
    let (mut held_s, mut held_heat_j) = (0.0, 0.0);
    let mut round = None;
    for event in &trace.events {
        if event.round != round {
            (held_s, held_heat_j, round) = (0.0, 0.0, event.round);
        }
        match event.kind {
            EventKind::BrakeHold => {
                held_s += event.end_s - event.start_s;
                held_heat_j += trace.event_ledger(event).path_j(Path::ConverterShear);
            }
            EventKind::Pass => {
                let sample = &trace.samples[event.samples.0];
                let pan_k = sample.temperature_k[Node::PanFluid.index()];
                launches.push(Launch {
                    round: event.round,
                    time_s: event.start_s,
                    temperature_k: sample.temperature_k,
                    held_s,
                    held_heat_j,
                    flash_rad_per_s: flash(transmission, &sample.temperature_k),
                    launch_rad_per_s: event.engine_rad_per_s,
                    pass: event.pass.clone(),
                    from_window_k: (pan_k - limits.window_high_k).max(0.0)
                        + (pan_k - limits.window_low_k).min(0.0),
                });
                (held_s, held_heat_j) = (0.0, 0.0);
            }
            _ => {}
        }
    }
    launches
}
