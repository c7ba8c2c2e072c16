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
//! The fluid's density ratio is constant during a pass here: a caller that integrates heat along with motion
//! uses [`crate::vehicle::Powertrain::rates`] itself.
//!
//! Not here: the brake hold before (see `converter::stall_match`), heat in nodes, reaction times.

use ode_solvers::SVector;

use crate::error::{Error, ErrorKind};
use crate::solver::{Solution, Tolerance, first_crossing, integrate};
use crate::vehicle::{Motion, Powertrain, Rates, Tyre};

/// Distances at which time and speed are taken (m): 60 ft, 330 ft, 1/8 mile, 1 000 ft, 1/4 mile.
pub const MARKS_M: [f64; 5] = [18.288, 100.584, 201.168, 304.8, 402.336];

/// A pass that takes longer than this never reaches the finish (s).
pub const MAX_PASS_S: f64 = 60.0;

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
}

const MOTION: usize = 4;
const BOOKS: usize = 7;
const STATES: usize = MOTION + BOOKS;
/// One unit of a book's component (J), so that all components are of comparable size.
const BOOK_J: f64 = 1e4;

type State = SVector<f64, STATES>;

fn motion(state: &State) -> Motion {
    Motion { engine_rad_per_s: state[0], wheel_rad_per_s: state[1], car_m_per_s: state[2] }
}

fn books(rates: &Rates) -> [f64; BOOKS] {
    [
        rates.engine_w,
        rates.converter_w,
        rates.gearbox_w,
        rates.axle_w,
        rates.tyre_w,
        rates.drag_w,
        rates.rolling_w,
    ]
}

/// Runs a pass. `density_ratio`: fluid density over that at which the converter's capacity holds.
pub fn run(
    powertrain: &Powertrain,
    course: &Course,
    density_ratio: f64,
    tolerance: Tolerance,
) -> Result<PassResult, Error> {
    let gears = powertrain.gearbox.ratios.len();
    let finish_m = course.rollout_m + course.finish_m;
    let mut state = State::zeros();
    state[0] = course.launch_rad_per_s;
    let start_kinetic_j = powertrain.kinetic_energy_j(&motion(&state), 0);
    let mut gear = 0;
    let mut tyre = Tyre::Grips;
    let mut time_s = 0.0;
    let mut result = PassResult {
        marks: Vec::new(),
        duration_s: 0.0,
        rollout_s: f64::NAN,
        samples: Vec::new(),
        energy: PassEnergy {
            engine_j: 0.0,
            converter_j: 0.0,
            gearbox_j: 0.0,
            axle_j: 0.0,
            tyre_j: 0.0,
            drag_j: 0.0,
            rolling_j: 0.0,
            kinetic_j: 0.0,
        },
    };
    sample(&mut result, &state, time_s, gear);
    // Tyres that break away and take hold again and again would make pieces without end.
    for _ in 0..200 {
        let rates = |y: &State| powertrain.rates(&motion(y), gear, tyre, density_ratio);
        if tyre == Tyre::Grips && rates(&state).excess_traction_n > 0.0 {
            tyre = Tyre::Spins;
            state[1] = state[2] / powertrain.car.tyre_radius_m;
            continue;
        }
        let left_s = MAX_PASS_S - time_s;
        if left_s <= 1e-6 {
            break;
        }
        let derivative = |y: &State, dy: &mut State| {
            let rates = rates(y);
            dy[0] = rates.engine_rad_per_s2;
            dy[1] = rates.wheel_rad_per_s2;
            dy[2] = rates.car_m_per_s2;
            dy[3] = y[2];
            for (i, watts) in books(&rates).into_iter().enumerate() {
                dy[MOTION + i] = watts / BOOK_J;
            }
        };
        // Two seconds at a time: a piece ends long before the longest pass.
        let piece_s = left_s.min(2.0);
        let solution =
            integrate(derivative, state, piece_s, tolerance).map_err(|_| stopped(time_s))?;
        let shift = if gear + 1 < gears {
            first_crossing(&solution, |y| y[0] - course.shift_rad_per_s)
        } else {
            None
        };
        let tyre_change = match tyre {
            Tyre::Grips => first_crossing(&solution, |y| rates(y).excess_traction_n),
            Tyre::Spins => {
                first_crossing(&solution, |y| y[2] - y[1] * powertrain.car.tyre_radius_m - 1e-9)
            }
        };
        let finish = first_crossing(&solution, |y| y[3] - finish_m);
        let cut_s = [shift, tyre_change, finish].into_iter().flatten().fold(piece_s, f64::min);
        take_marks(&mut result, &solution, cut_s, time_s, course);
        for &step_end_s in solution.step_ends_s().iter().filter(|end_s| **end_s < cut_s) {
            sample(&mut result, &solution.at(step_end_s), time_s + step_end_s, gear);
        }
        state = solution.at(cut_s);
        time_s += cut_s;
        sample(&mut result, &state, time_s, gear);
        if finish == Some(cut_s) {
            result.duration_s = time_s;
            result.energy = energy(powertrain, &state, gear, start_kinetic_j);
            return Ok(result);
        }
        if tyre_change == Some(cut_s) {
            tyre = match tyre {
                Tyre::Grips => Tyre::Spins,
                Tyre::Spins => Tyre::Grips,
            };
            state[1] = state[2] / powertrain.car.tyre_radius_m;
        }
        if shift == Some(cut_s) {
            take_gear(powertrain, &mut state, gear, tyre);
            gear += 1;
            sample(&mut result, &state, time_s, gear);
        }
    }
    Err(Error::new(
        ErrorKind::Unphysical,
        "pass",
        format!("{:.0} m after {time_s:.0} s", state[3]),
        format!("the finish at {finish_m:.0} m within {MAX_PASS_S:.0} s"),
        "The car never reaches the finish: look at power, weight, gear ratios and drag.",
    ))
}

/// The oncoming clutch takes the turbine side to its new speed.
fn take_gear(powertrain: &Powertrain, state: &mut State, gear: usize, tyre: Tyre) {
    let car = powertrain.car;
    let inertia_kg_m2 = powertrain.gearbox.turbine_inertia_kg_m2;
    let (old_ratio, new_ratio) =
        (powertrain.overall_ratio(gear), powertrain.overall_ratio(gear + 1));
    let wheel_rad_per_s = state[1];
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
    state[1] = after_rad_per_s;
    if tyre == Tyre::Grips {
        state[2] = after_rad_per_s * car.tyre_radius_m;
    }
    state[MOTION + 2] += heat_j / BOOK_J;
}

fn take_marks(
    result: &mut PassResult,
    solution: &Solution<STATES>,
    cut_s: f64,
    piece_start_s: f64,
    course: &Course,
) {
    if result.rollout_s.is_nan()
        && let Some(at_s) = first_crossing(solution, |y| y[3] - course.rollout_m)
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
        let Some(at_s) = first_crossing(solution, |y| y[3] - course.rollout_m - distance_m) else {
            return;
        };
        if at_s > cut_s {
            return;
        }
        let y = solution.at(at_s);
        result.marks.push(Mark {
            distance_m,
            elapsed_s: piece_start_s + at_s - result.rollout_s,
            speed_m_per_s: y[2],
            engine_rad_per_s: y[0],
        });
    }
}

fn sample(result: &mut PassResult, state: &State, time_s: f64, gear: usize) {
    result.samples.push(PassSample {
        time_s,
        distance_m: state[3],
        motion: motion(state),
        gear,
        converter_j: state[MOTION + 1] * BOOK_J,
    });
}

fn energy(powertrain: &Powertrain, state: &State, gear: usize, start_kinetic_j: f64) -> PassEnergy {
    let book = |i: usize| state[MOTION + i] * BOOK_J;
    PassEnergy {
        engine_j: book(0),
        converter_j: book(1),
        gearbox_j: book(2),
        axle_j: book(3),
        tyre_j: book(4),
        drag_j: book(5),
        rolling_j: book(6),
        kinetic_j: powertrain.kinetic_energy_j(&motion(state), gear) - start_kinetic_j,
    }
}

fn stopped(time_s: f64) -> Error {
    Error::new(
        ErrorKind::Solver,
        "pass",
        format!("the integration stopped after {time_s:.2} s"),
        "motion that the integrator can follow",
        "Look for very small inertias or a torque curve with a cliff.",
    )
}
