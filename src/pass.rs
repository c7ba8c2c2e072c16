//! A pass: from the held engine speed to the finish line, every mark located and not stepped over.
//!
//! The motion of `vehicle` is integrated piece by piece. A piece ends at the shift speed, when the tyres
//! break away or take hold again, or at the finish; each is found on the continuous extension. Distance starts
//! at the staged position; elapsed time starts when the car has rolled out of the starting beam, as the
//! timing equipment has it.
//!
//! A shift is instantaneous for the car: the oncoming clutch drags the turbine side from ω₁ down to ω₂. With J
//! the turbine side's inertia, friction makes `½·J·(ω₁ − ω₂)²` of heat and the rest of its energy,
//! `J·(ω₁ − ω₂)·ω₂`, goes into wheels and car (momentum is kept, so the speeds step up a little).
//!
//! The shift speed counts anew once the engine has fallen 1.5 % below it, or after 0.4 s: engine speed does not
//! jump at a shift, and the same crossing must not take two gears.
//!
//! Motion is integrated together with whatever the caller couples to it ([`Coupling`]): the thermal network of a
//! race day, or nothing ([`Alone`]).
//!
//! Not here: the brake hold before (see `converter::stall_match`), heat in nodes, reaction times.

use std::cell::Cell;

use ode_solvers::SVector;

use crate::error::{Error, ErrorKind};
use crate::solver::{
    Failure, Solution, Tolerance, first_crossing, integrate_until, stopping_crossing,
};
use crate::units::rpm;
use crate::vehicle::{Motion, Powertrain, Rates, Tyre};

/// Distances at which time and speed are taken (m): 60 ft, 330 ft, 1/8 mile, 1 000 ft, 1/4 mile.
pub const MARKS_M: [f64; 5] = [18.288, 100.584, 201.168, 304.8, 402.336];

/// A pass that takes longer than this never reaches the finish (s).
pub const MAX_PASS_S: f64 = 30.0;

/// An engine slower than this has stalled (rad/s): 400 rpm.
const STALLED_RAD_PER_S: f64 = 400.0 * std::f64::consts::PI / 30.0;

/// After a shift the next one waits until the engine has fallen below this share of the shift speed …
const DROP_AFTER_SHIFT: f64 = 0.985;
/// … or for this long (s).
const SHIFT_PAUSE_S: f64 = 0.4;

/// Room kept for the steps of a pass.
const STEPS_A_PASS: usize = 160;

/// Step budget of one piece of a pass.
const MAX_PASS_STEPS: u32 = 20_000;

/// What a pass starts from and where it goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Course {
    /// Engine speed when the brake lets go.
    pub launch_rad_per_s: f64,
    /// Engine speed at which the next gear is taken.
    pub shift_rad_per_s: f64,
    /// From the staged position until the starting beam is free (m).
    pub rollout_m: f64,
    /// Finish, from where time starts (m).
    pub finish_m: f64,
}

/// Time and speed at a mark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// From where time starts.
    pub distance_m: f64,
    /// Elapsed time (s).
    pub elapsed_s: f64,
    pub speed_m_per_s: f64,
    pub engine_rad_per_s: f64,
}

/// Where the engine's work went (J). Adds up to `engine_j`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PassEnergy {
    pub engine_j: f64,
    pub converter_j: f64,
    pub front_pump_j: f64,
    /// Mesh, bearings, drag and shifts.
    pub gearbox_j: f64,
    pub axle_j: f64,
    pub tyre_j: f64,
    pub drag_j: f64,
    pub rolling_j: f64,
    /// Gain of kinetic energy.
    pub kinetic_j: f64,
}

/// One sample of a pass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PassSample {
    /// Since the brake let go (s).
    pub time_s: f64,
    pub distance_m: f64,
    pub motion: Motion,
    pub gear: usize,
    /// Heat in the converter so far (J).
    pub converter_j: f64,
}

/// A finished pass.
#[derive(Debug, Clone, PartialEq)]
pub struct PassResult {
    pub marks: Vec<Mark>,
    /// Time since the brake let go, to the finish (s).
    pub duration_s: f64,
    /// From the brake's letting go until time starts (s).
    pub rollout_s: f64,
    pub samples: Vec<PassSample>,
    pub energy: PassEnergy,
    /// Angle that the crankshaft turned (rad).
    pub turned_rad: f64,
    /// 1 − turbine speed / engine speed at the finish.
    pub finish_slip: f64,
}

/// Mean speeds over a pass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeanSpeeds {
    pub engine_rad_per_s: f64,
    pub car_m_per_s: f64,
}

impl PassResult {
    /// Means over time.
    pub fn mean_speeds(&self) -> MeanSpeeds {
        let distance_m = self.samples.last().map_or(0.0, |sample| sample.distance_m);
        let duration_s = self.duration_s.max(1e-9);
        MeanSpeeds {
            engine_rad_per_s: self.turned_rad / duration_s,
            car_m_per_s: distance_m / duration_s,
        }
    }
}

/// Components of the state that a pass needs: speeds of engine, wheels and car, and distance.
pub const PASS_STATES: usize = 4;
/// Books that a pass keeps: eight of energy (J), one of the angle that the crankshaft turns (rad).
pub const PASS_BOOKS: usize = 9;

/// What is integrated together with the motion. The motion has the last [`PASS_STATES`] of the S components and the
/// last [`PASS_BOOKS`] of the B books.
pub trait Coupling<const S: usize, const B: usize> {
    /// Capacity of the converter over that of its table (fluid density and the like).
    fn capacity_ratio(&self, state: &SVector<f64, S>) -> f64;
    /// Fills the other components of the derivative and the rates of the other books, but for what motion makes.
    /// Gives back the capacity ratio, which it needs on the way.
    fn fill(
        &self,
        state: &SVector<f64, S>,
        derivative: &mut SVector<f64, S>,
        books_w: &mut SVector<f64, B>,
    ) -> f64;
    /// Adds what motion makes to that.
    fn add_motion(
        &self,
        derivative: &mut SVector<f64, S>,
        books_w: &mut SVector<f64, B>,
        rates: &Rates,
    );
    /// Books the heat of a shift (J).
    fn shift(&self, state: &mut SVector<f64, S>, books_j: &mut SVector<f64, B>, heat_j: f64);
}

/// Motion alone, with a constant capacity ratio.
pub struct Alone(pub f64);

impl Coupling<PASS_STATES, PASS_BOOKS> for Alone {
    fn capacity_ratio(&self, _: &SVector<f64, PASS_STATES>) -> f64 {
        self.0
    }

    fn fill(
        &self,
        _: &SVector<f64, PASS_STATES>,
        _: &mut SVector<f64, PASS_STATES>,
        _: &mut SVector<f64, PASS_BOOKS>,
    ) -> f64 {
        self.0
    }

    fn add_motion(
        &self,
        _: &mut SVector<f64, PASS_STATES>,
        _: &mut SVector<f64, PASS_BOOKS>,
        _: &Rates,
    ) {
    }

    fn shift(&self, _: &mut SVector<f64, PASS_STATES>, _: &mut SVector<f64, PASS_BOOKS>, _: f64) {}
}

/// Places of the motion's components.
struct At;

impl At {
    fn engine<const S: usize>() -> usize {
        S - PASS_STATES
    }
    fn wheel<const S: usize>() -> usize {
        Self::engine::<S>() + 1
    }
    fn car<const S: usize>() -> usize {
        Self::engine::<S>() + 2
    }
    fn distance<const S: usize>() -> usize {
        Self::engine::<S>() + 3
    }
    fn book<const B: usize>(i: usize) -> usize {
        B - PASS_BOOKS + i
    }
}

fn motion<const S: usize>(state: &SVector<f64, S>) -> Motion {
    Motion {
        engine_rad_per_s: state[At::engine::<S>()],
        wheel_rad_per_s: state[At::wheel::<S>()],
        car_m_per_s: state[At::car::<S>()],
    }
}

fn books(rates: &Rates, engine_rad_per_s: f64) -> [f64; PASS_BOOKS] {
    [
        rates.engine_w,
        rates.converter_w,
        rates.gearbox_w,
        rates.axle_w,
        rates.tyre_w,
        rates.drag_w,
        rates.rolling_w,
        rates.front_pump_w,
        engine_rad_per_s,
    ]
}

/// A pass and the states it went through.
pub struct Run<const S: usize, const B: usize> {
    pub result: PassResult,
    /// Time since the brake let go (s), state and books, from start to finish.
    pub states: Vec<(f64, SVector<f64, S>, SVector<f64, B>)>,
    pub evaluations: u32,
    pub steps: u32,
}

/// Runs a pass from `start`, whose last components are overwritten with the motion at the start.
pub fn run<const S: usize, const B: usize>(
    powertrain: &Powertrain,
    course: &Course,
    start: &SVector<f64, S>,
    coupling: &dyn Coupling<S, B>,
    tolerance: Tolerance,
) -> Result<Run<S, B>, Error> {
    let gears = powertrain.gearbox.ratios.len();
    let finish_m = course.rollout_m + course.finish_m;
    let mut state = *start;
    let mut booked = SVector::<f64, B>::zeros();
    state.fixed_rows_mut::<PASS_STATES>(S - PASS_STATES).fill(0.0);
    state[At::engine::<S>()] = course.launch_rad_per_s;
    let start_kinetic_j = powertrain.kinetic_energy_j(&motion(&state), 0);
    let mut gear = 0;
    let mut tyre = Tyre::Grips;
    let mut time_s = 0.0;
    // When the last shift was, until the next one counts.
    let mut shifted_s: Option<f64> = None;
    let mut run = Run {
        result: PassResult {
            marks: Vec::with_capacity(MARKS_M.len() + 1),
            duration_s: 0.0,
            rollout_s: f64::NAN,
            samples: Vec::with_capacity(STEPS_A_PASS),
            energy: energy(powertrain, &state, &booked, gear, start_kinetic_j),
            turned_rad: 0.0,
            finish_slip: f64::NAN,
        },
        states: Vec::with_capacity(STEPS_A_PASS),
        evaluations: 0,
        steps: 0,
    };
    run.states.push((0.0, state, booked));
    sample(&mut run.result, &state, &booked, time_s, gear);
    // Tyres that break away and take hold again and again would make pieces without end.
    for _ in 0..400 {
        let rates = |y: &SVector<f64, S>| {
            powertrain.rates(&motion(y), gear, tyre, coupling.capacity_ratio(y))
        };
        if tyre == Tyre::Grips && rates(&state).excess_traction_n > 0.0 {
            tyre = Tyre::Spins;
            state[At::wheel::<S>()] = state[At::car::<S>()] / powertrain.car.tyre_radius_m;
            continue;
        }
        let pause_s = shifted_s.map_or(f64::INFINITY, |at_s| at_s + SHIFT_PAUSE_S - time_s);
        if pause_s <= 1e-6 {
            shifted_s = None;
            continue;
        }
        let left_s = (MAX_PASS_S - time_s).min(pause_s);
        if left_s <= 1e-6 {
            break;
        }
        // Of the last evaluation, which is that at the end of a step when `stop` is asked about it.
        let excess_n = Cell::new(f64::NEG_INFINITY);
        let derivative =
            |y: &SVector<f64, S>, dy: &mut SVector<f64, S>, books_w: &mut SVector<f64, B>| {
                let capacity_ratio = coupling.fill(y, dy, books_w);
                let rates = powertrain.rates(&motion(y), gear, tyre, capacity_ratio);
                coupling.add_motion(dy, books_w, &rates);
                excess_n.set(rates.excess_traction_n);
                dy[At::engine::<S>()] = rates.engine_rad_per_s2;
                dy[At::wheel::<S>()] = rates.wheel_rad_per_s2;
                dy[At::car::<S>()] = rates.car_m_per_s2;
                dy[At::distance::<S>()] = y[At::car::<S>()];
                for (i, watts) in books(&rates, y[At::engine::<S>()]).into_iter().enumerate() {
                    books_w[At::book::<B>(i)] = watts;
                }
            };
        let shift_gap = |y: &SVector<f64, S>| y[At::engine::<S>()] - course.shift_rad_per_s;
        let tyre_gap = |y: &SVector<f64, S>| match tyre {
            Tyre::Grips => rates(y).excess_traction_n,
            Tyre::Spins => {
                let wheel_m_per_s = y[At::wheel::<S>()] * powertrain.car.tyre_radius_m;
                y[At::car::<S>()] - wheel_m_per_s - 1e-9
            }
        };
        let finish_gap = |y: &SVector<f64, S>| y[At::distance::<S>()] - finish_m;
        let can_shift = gear + 1 < gears && shifted_s.is_none();
        let dropped_gap =
            |y: &SVector<f64, S>| DROP_AFTER_SHIFT * course.shift_rad_per_s - y[At::engine::<S>()];
        let waits = shifted_s.is_some();
        let stall_gap = |y: &SVector<f64, S>| STALLED_RAD_PER_S - y[At::engine::<S>()];
        let solution = integrate_until(derivative, state, left_s, tolerance, MAX_PASS_STEPS, |y| {
            finish_gap(y) >= 0.0
                || (if tyre == Tyre::Grips { excess_n.get() } else { tyre_gap(y) }) >= 0.0
                || stall_gap(y) >= 0.0
                || (can_shift && shift_gap(y) >= 0.0)
                || (waits && dropped_gap(y) >= 0.0)
        })
        .map_err(|failure| match failure {
            Failure::TooManySteps { at_s } => stopped(time_s + at_s),
            Failure::NotFinite => stopped(time_s),
        })?;
        run.evaluations += solution.evaluations();
        run.steps += solution.steps();
        let shift = if can_shift { stopping_crossing(&solution, &shift_gap) } else { None };
        let tyre_change = stopping_crossing(&solution, &tyre_gap);
        let finish = stopping_crossing(&solution, &finish_gap);
        if finish.is_none()
            && let Some(stalled_s) = stopping_crossing(&solution, &stall_gap)
        {
            return Err(stalled(time_s + stalled_s, powertrain, &motion(&solution.at(stalled_s))));
        }
        let dropped = if waits { stopping_crossing(&solution, &dropped_gap) } else { None };
        let cut_s = [shift, tyre_change, finish, dropped]
            .into_iter()
            .flatten()
            .fold(solution.duration_s(), f64::min);
        take_marks(&mut run.result, &solution, cut_s, time_s, course);
        let piece_start = booked;
        for (step, &step_end_s) in solution.step_ends_s().iter().enumerate() {
            let at_s = step_end_s.min(cut_s);
            (state, booked) = if step_end_s < cut_s {
                (*solution.state_after(step), piece_start + solution.booked_by_step(step))
            } else {
                (solution.at(at_s), piece_start + solution.booked_at(at_s))
            };
            run.states.push((time_s + at_s, state, booked));
            sample(&mut run.result, &state, &booked, time_s + at_s, gear);
            if step_end_s >= cut_s {
                break;
            }
        }
        time_s += cut_s;
        if finish == Some(cut_s) {
            run.result.duration_s = time_s;
            run.result.turned_rad = booked[At::book::<B>(8)];
            let end = motion(&state);
            run.result.finish_slip =
                1.0 - end.wheel_rad_per_s * powertrain.overall_ratio(gear) / end.engine_rad_per_s;
            run.result.energy = energy(powertrain, &state, &booked, gear, start_kinetic_j);
            return Ok(run);
        }
        if dropped == Some(cut_s) {
            shifted_s = None;
        }
        if tyre_change == Some(cut_s) {
            tyre = match tyre {
                Tyre::Grips => Tyre::Spins,
                Tyre::Spins => Tyre::Grips,
            };
        }
        if tyre == Tyre::Grips {
            state[At::wheel::<S>()] = state[At::car::<S>()] / powertrain.car.tyre_radius_m;
        }
        if shift == Some(cut_s) {
            let heat_j = take_gear(powertrain, &mut state, gear, tyre);
            booked[At::book::<B>(2)] += heat_j;
            coupling.shift(&mut state, &mut booked, heat_j);
            gear += 1;
            shifted_s = (gear + 1 < gears).then_some(time_s);
            run.states.push((time_s, state, booked));
            sample(&mut run.result, &state, &booked, time_s, gear);
        }
    }
    if time_s < MAX_PASS_S - 1e-6 {
        return Err(stopped(time_s));
    }
    Err(unfinished(time_s, state[At::distance::<S>()], finish_m))
}

/// The oncoming clutch takes the turbine side to its new speed; returns the heat that makes (J).
fn take_gear<const S: usize>(
    powertrain: &Powertrain,
    state: &mut SVector<f64, S>,
    gear: usize,
    tyre: Tyre,
) -> f64 {
    let car = powertrain.car;
    let inertia_kg_m2 = powertrain.gearbox.turbine_inertia_kg_m2;
    let (old_ratio, new_ratio) =
        (powertrain.overall_ratio(gear), powertrain.overall_ratio(gear + 1));
    let wheel_rad_per_s = state[At::wheel::<S>()];
    // Angular momentum about the wheel's axis, in terms of wheel speed; the car counts when the tyre grips.
    let car_kg_m2 = match tyre {
        Tyre::Grips => car.mass_kg * car.tyre_radius_m.powi(2),
        Tyre::Spins => 0.0,
    };
    let body_kg_m2 = car.wheel_inertia_kg_m2 + car_kg_m2;
    let turbine_rad_per_s = wheel_rad_per_s * old_ratio;
    let after_rad_per_s = (body_kg_m2 * wheel_rad_per_s
        + inertia_kg_m2 * new_ratio * turbine_rad_per_s)
        / (body_kg_m2 + inertia_kg_m2 * new_ratio * new_ratio);
    let energy_j = |wheel: f64, turbine: f64| {
        0.5 * (body_kg_m2 * wheel * wheel + inertia_kg_m2 * turbine * turbine)
    };
    let heat_j = energy_j(wheel_rad_per_s, turbine_rad_per_s)
        - energy_j(after_rad_per_s, after_rad_per_s * new_ratio);
    state[At::wheel::<S>()] = after_rad_per_s;
    if tyre == Tyre::Grips {
        state[At::car::<S>()] = after_rad_per_s * car.tyre_radius_m;
    }
    heat_j
}

fn take_marks<const S: usize, const B: usize>(
    result: &mut PassResult,
    solution: &Solution<S, B>,
    cut_s: f64,
    piece_start_s: f64,
    course: &Course,
) {
    if result.rollout_s.is_nan()
        && let Some(at_s) = first_crossing(solution, &|y| y[At::distance::<S>()] - course.rollout_m)
        && at_s <= cut_s
    {
        result.rollout_s = piece_start_s + at_s;
    }
    let marks = MARKS_M.into_iter().filter(|mark_m| *mark_m < course.finish_m - 1e-6);
    for distance_m in marks.chain([course.finish_m]) {
        let taken = result.marks.last().is_some_and(|mark| mark.distance_m >= distance_m);
        if taken {
            continue;
        }
        let Some(at_s) =
            first_crossing(solution, &|y| y[At::distance::<S>()] - course.rollout_m - distance_m)
        else {
            return;
        };
        if at_s > cut_s {
            return;
        }
        let y = solution.at(at_s);
        result.marks.push(Mark {
            distance_m,
            elapsed_s: piece_start_s + at_s - result.rollout_s,
            speed_m_per_s: y[At::car::<S>()],
            engine_rad_per_s: y[At::engine::<S>()],
        });
    }
}

fn sample<const S: usize, const B: usize>(
    result: &mut PassResult,
    state: &SVector<f64, S>,
    booked: &SVector<f64, B>,
    time_s: f64,
    gear: usize,
) {
    result.samples.push(PassSample {
        time_s,
        distance_m: state[At::distance::<S>()],
        motion: motion(state),
        gear,
        converter_j: booked[At::book::<B>(1)],
    });
}

fn energy<const S: usize, const B: usize>(
    powertrain: &Powertrain,
    state: &SVector<f64, S>,
    booked: &SVector<f64, B>,
    gear: usize,
    start_kinetic_j: f64,
) -> PassEnergy {
    let book = |i: usize| booked[At::book::<B>(i)];
    PassEnergy {
        engine_j: book(0),
        converter_j: book(1),
        gearbox_j: book(2),
        axle_j: book(3),
        tyre_j: book(4),
        drag_j: book(5),
        rolling_j: book(6),
        front_pump_j: book(7),
        kinetic_j: powertrain.kinetic_energy_j(&motion(state), gear) - start_kinetic_j,
    }
}

fn stalled(time_s: f64, powertrain: &Powertrain, motion: &Motion) -> Error {
    let engine_nm =
        powertrain.engine_correction * powertrain.engine.torque_nm(motion.engine_rad_per_s);
    Error::new(
        ErrorKind::Unphysical,
        "pass",
        format!(
            "the engine stalls {time_s:.2} s after the launch, below {:.0} rpm",
            rpm(STALLED_RAD_PER_S)
        ),
        format!(
            "torque at {:.0} rpm must exceed what front pump ({:.0} N·m) and converter take; it is {engine_nm:.0} N·m",
            rpm(motion.engine_rad_per_s),
            powertrain.pump_torque_nm
        ),
        "Hold the brake at a higher speed, give the torque curve points down to idle, raise idle_speed, or use a looser converter (larger k_factor).",
    )
}

fn unfinished(time_s: f64, distance_m: f64, finish_m: f64) -> Error {
    Error::new(
        ErrorKind::Unphysical,
        "pass",
        format!("{distance_m:.0} m after {time_s:.0} s"),
        format!("the finish at {finish_m:.0} m within {MAX_PASS_S:.0} s"),
        "The car never reaches the finish: look at power, weight, gear ratios and drag; at this speed drag and rolling resistance may take all the torque there is.",
    )
}

fn stopped(time_s: f64) -> Error {
    Error::new(
        ErrorKind::Solver,
        "pass",
        format!("the integration stopped after {time_s:.2} s"),
        "motion that the integrator can follow",
        "Look for very small inertias, and for a torque curve or a converter table with a cliff.",
    )
}
