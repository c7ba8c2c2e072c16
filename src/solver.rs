//! `ode_solvers` behind one small face; knows no physics.
//!
//! Method: Dormand–Prince 5(4) with its own continuous extension of order 4 (Dormand & Prince,
//! J. Comput. Appl. Math. 6 (1980) 19; Hairer, Nørsett & Wanner, *Solving ODEs I*, II.4–II.6). The step is
//! chosen so that the estimated local error of every component stays below
//! `absolute + relative·|y|`, in root-mean-square over the components.
//!
//! One call integrates one smooth piece: the right-hand side may not switch inside it. The caller cuts
//! time at switches and starts anew, which keeps the order of the method. Events are not stepped over:
//! [`first_crossing`] finds them on the continuous extension.
//!
//! **Books.** Running totals that do not act back on what is integrated (heat along a path) are not part of the
//! state: their rates are taken down at the stages of every step and added up with the method's own weights,
//! which gives the same totals to rounding for a quarter of the work. Both the method and its extension are
//! linear, so a linear invariant of state and books together (heat made − heat carried away − heat stored)
//! holds to rounding, whatever the tolerance. Books take no part in the choice of steps.
//!
//! Not here: stiff methods. The networks of this package have time constants from about a second to hours
//! and the explicit method's step then follows stability, not accuracy.

use std::cell::RefCell;

use ode_solvers::continuous_output_model::ContinuousOutputModel;
use ode_solvers::dop_shared::{IntegrationError, OutputType};
use ode_solvers::{Dopri5, SVector, System};

use crate::root::rising_root;

/// Local error allowed per step, in the units of the state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tolerance {
    pub relative: f64,
    pub absolute: f64,
}

/// Room kept for the steps of a piece.
const STEPS_A_PIECE: usize = 96;

/// Why a piece could not be integrated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Failure {
    /// The duration is not a positive finite number, or the state is not finite.
    NotFinite,
    /// The step budget was used up, or the step shrank to nothing, at this time (s).
    TooManySteps { at_s: f64 },
}

/// Step budget of one piece, unless a smaller one is stated. A twelve-hour soak takes a few hundred.
pub const MAX_STEPS: u32 = 400_000;

/// The integrated piece: local time 0 to `duration_s`, which is shorter than asked for when it was stopped.
pub struct Solution<const S: usize, const B: usize = 0> {
    duration_s: f64,
    step_ends_s: Vec<f64>,
    step_states: Vec<SVector<f64, S>>,
    dense: ContinuousOutputModel<f64, SVector<f64, S>>,
    booked: Vec<BookedStep<B>>,
    evaluations: u32,
    steps: u32,
}

impl<const S: usize, const B: usize> Solution<S, B> {
    /// Length of the piece (s); less than asked for when it was stopped.
    pub fn duration_s(&self) -> f64 {
        self.duration_s
    }

    /// State at the end of the piece.
    pub fn end(&self) -> &SVector<f64, S> {
        // `integrate` makes no solution without a step.
        &self.step_states[self.step_states.len() - 1]
    }

    /// Ends of the accepted steps (s, local time), the last being the duration.
    pub fn step_ends_s(&self) -> &[f64] {
        &self.step_ends_s
    }

    /// States at [`Solution::step_ends_s`].
    pub fn step_states(&self) -> &[SVector<f64, S>] {
        &self.step_states
    }

    /// Number of times the right-hand side was evaluated.
    pub fn evaluations(&self) -> u32 {
        self.evaluations
    }

    /// Number of steps tried.
    pub fn steps(&self) -> u32 {
        self.steps
    }

    /// State at local time `time_s`, clamped to the piece; exact at its end.
    pub fn at(&self, time_s: f64) -> SVector<f64, S> {
        if time_s.is_nan() || time_s >= self.duration_s {
            return *self.end();
        }
        self.dense.evaluate(time_s.max(0.0)).unwrap_or(*self.end())
    }

    /// What the books gained from the start of the piece to local time `time_s`, clamped to the piece.
    pub fn booked_at(&self, time_s: f64) -> SVector<f64, B> {
        let last = self.step_ends_s.len() - 1;
        let step = self.step_ends_s.partition_point(|end_s| *end_s < time_s).min(last);
        let start_s = step.checked_sub(1).map_or(0.0, |before| self.step_ends_s[before]);
        let share = (time_s - start_s) / (self.step_ends_s[step] - start_s);
        self.booked[step].at(share.clamp(0.0, 1.0))
    }

    /// What the books gained from the start of the piece to the end of its step `step`.
    pub fn booked_by_step(&self, step: usize) -> SVector<f64, B> {
        self.booked[step].at(1.0)
    }
}

/// One step of the books: the continuous extension of the method, term by term.
struct BookedStep<const B: usize> {
    terms: [SVector<f64, B>; 5],
}

impl<const B: usize> BookedStep<B> {
    /// At a share of the step, 0 to 1.
    #[inline]
    fn at(&self, share: f64) -> SVector<f64, B> {
        let [start, gain, bend, skew, rest] = &self.terms;
        let left = 1.0 - share;
        start + (gain + (bend + (skew + rest * left) * share) * left) * share
    }
}

/// Weights of the stages in a step of Dormand and Prince's method; the second and the seventh count nothing.
const STEP_WEIGHTS: [f64; 7] =
    [35.0 / 384.0, 0.0, 500.0 / 1_113.0, 125.0 / 192.0, -2_187.0 / 6_784.0, 11.0 / 84.0, 0.0];
/// Weights of the stages in the last term of its continuous extension (Hairer, Nørsett & Wanner, II.6).
const EXTENSION_WEIGHTS: [f64; 7] = [
    -12_715_105_075.0 / 11_282_082_432.0,
    0.0,
    87_487_479_700.0 / 32_700_410_799.0,
    -10_690_763_975.0 / 1_880_347_072.0,
    701_980_252_875.0 / 199_316_789_632.0,
    -1_453_857_185.0 / 822_651_844.0,
    69_997_945.0 / 29_380_423.0,
];
/// Evaluations with which the integrator chooses its first step, before the first stage.
const CALLS_BEFORE_START: usize = 2;

/// Rates of the books at the stages of the step under way, and the steps done.
struct Books<const B: usize> {
    calls: usize,
    rates: [SVector<f64, B>; 7],
    step_start_s: f64,
    total: SVector<f64, B>,
    steps: Vec<BookedStep<B>>,
}

impl<const B: usize> Books<B> {
    /// Stage whose rates the next evaluation gives. The first stage of a step is the last of the one before;
    /// every trial of a step evaluates the six others.
    #[inline]
    fn stage(&self) -> usize {
        match self.calls.checked_sub(CALLS_BEFORE_START + 1) {
            None => 0,
            Some(later) => 1 + later % 6,
        }
    }

    #[inline]
    fn sum(&self, weights: &[f64; 7]) -> SVector<f64, B> {
        let mut sum = SVector::<f64, B>::zeros();
        for (rate, weight) in self.rates.iter().zip(weights) {
            if *weight != 0.0 {
                sum += rate * *weight;
            }
        }
        sum
    }

    #[inline]
    fn accept(&mut self, time_s: f64) {
        if B == 0 {
            return;
        }
        let step_s = time_s - self.step_start_s;
        let gain = self.sum(&STEP_WEIGHTS) * step_s;
        let bend = self.rates[0] * step_s - gain;
        let skew = gain - self.rates[6] * step_s - bend;
        let rest = self.sum(&EXTENSION_WEIGHTS) * step_s;
        self.steps.push(BookedStep { terms: [self.total, gain, bend, skew, rest] });
        self.total += gain;
        self.rates[0] = self.rates[6];
        self.step_start_s = time_s;
    }
}

struct Equations<'a, F, G, const B: usize> {
    right_hand_side: F,
    stop: G,
    books: &'a RefCell<Books<B>>,
}

impl<const S: usize, const B: usize, F, G> System<f64, SVector<f64, S>> for Equations<'_, F, G, B>
where
    F: Fn(&SVector<f64, S>, &mut SVector<f64, S>, &mut SVector<f64, B>),
    G: Fn(&SVector<f64, S>) -> bool,
{
    #[inline]
    fn system(&self, _time_s: f64, y: &SVector<f64, S>, dy: &mut SVector<f64, S>) {
        let books = &mut *self.books.borrow_mut();
        let stage = books.stage();
        (self.right_hand_side)(y, dy, &mut books.rates[stage]);
        books.calls += 1;
    }

    #[inline]
    fn solout(&mut self, time_s: f64, y: &SVector<f64, S>, _dy: &SVector<f64, S>) -> bool {
        self.books.borrow_mut().accept(time_s);
        (self.stop)(y)
    }
}

/// Integrates `dy/dt = f(y)` from `start` over `duration_s`.
///
/// `f` must fill every component. Time does not enter `f`: what varies in time is constant within a piece
/// or follows from the state.
pub fn integrate<const S: usize>(
    right_hand_side: impl Fn(&SVector<f64, S>, &mut SVector<f64, S>),
    start: SVector<f64, S>,
    duration_s: f64,
    tolerance: Tolerance,
) -> Result<Solution<S>, Failure> {
    integrate_until(
        |y, dy, _: &mut SVector<f64, 0>| right_hand_side(y, dy),
        start,
        duration_s,
        tolerance,
        MAX_STEPS,
        |_| false,
    )
}

/// The same with books, a step budget of its own, and an end after the first step whose end satisfies `stop`.
///
/// What lies beyond a crossing is thrown away by the caller; without `stop` it would be computed first.
pub fn integrate_until<const S: usize, const B: usize>(
    right_hand_side: impl Fn(&SVector<f64, S>, &mut SVector<f64, S>, &mut SVector<f64, B>),
    start: SVector<f64, S>,
    duration_s: f64,
    tolerance: Tolerance,
    most_steps: u32,
    stop: impl Fn(&SVector<f64, S>) -> bool,
) -> Result<Solution<S, B>, Failure> {
    if !(duration_s > 0.0 && duration_s.is_finite() && start.iter().all(|y| y.is_finite())) {
        return Err(Failure::NotFinite);
    }
    let books = RefCell::new(Books {
        calls: 0,
        rates: [SVector::zeros(); 7],
        step_start_s: 0.0,
        total: SVector::zeros(),
        steps: Vec::with_capacity(if B == 0 { 0 } else { STEPS_A_PIECE }),
    });
    let mut stepper = Dopri5::from_param(
        Equations { right_hand_side, stop, books: &books },
        0.0,
        duration_s,
        duration_s,
        start,
        tolerance.relative,
        tolerance.absolute,
        0.9,
        0.04,
        0.2,
        10.0,
        duration_s,
        0.0,
        most_steps,
        u32::MAX,
        OutputType::Continuous,
    );
    let mut dense = ContinuousOutputModel::new();
    let stats = stepper.integrate_with_continuous_output_model(&mut dense).map_err(|error| {
        let at_s = match error {
            IntegrationError::MaxNumStepReached { x, .. }
            | IntegrationError::StepSizeUnderflow { x }
            | IntegrationError::StiffnessDetected { x } => x,
        };
        Failure::TooManySteps { at_s }
    })?;
    let step_states = stepper.y_out().clone();
    let end = step_states.last().ok_or(Failure::NotFinite)?;
    if !end.iter().all(|y| y.is_finite()) {
        return Err(Failure::NotFinite);
    }
    let step_ends_s = stepper.x_out().clone();
    drop(stepper);
    Ok(Solution {
        duration_s: step_ends_s.last().copied().unwrap_or(duration_s),
        step_ends_s,
        step_states,
        dense,
        booked: books.into_inner().steps,
        evaluations: stats.num_eval,
        steps: stats.accepted_steps + stats.rejected_steps,
    })
}

/// The first local time (s) at which `gap` reaches zero from below, if it does within the piece.
///
/// `gap` is looked at where steps end, and the crossing closed in on the continuous extension to 1e-9 of the
/// duration or 1 µs, whichever is larger. A `gap` that is not negative at the start counts as crossed at
/// once. A crossing and return within one step is not seen.
pub fn first_crossing<const S: usize, const B: usize>(
    solution: &Solution<S, B>,
    gap: &dyn Fn(&SVector<f64, S>) -> f64,
) -> Option<f64> {
    if gap(&solution.at(0.0)) >= 0.0 {
        return Some(0.0);
    }
    let crossed = solution.step_states.iter().position(|y| gap(y) >= 0.0)?;
    let step_start_s = crossed.checked_sub(1).map_or(0.0, |before| solution.step_ends_s[before]);
    let step_end_s = solution.step_ends_s[crossed];
    let resolution_s = (1e-9 * solution.duration_s).max(1e-6);
    let (mut low_s, mut high_s) = (step_start_s, step_end_s);
    let near_s = rising_root(step_start_s, step_end_s, 0.5 * resolution_s, |time_s| {
        gap(&solution.at(time_s))
    });
    // The root lies within the resolution; what is returned lies on its far side.
    for time_s in [near_s - 0.5 * resolution_s, near_s, near_s + 0.5 * resolution_s] {
        let time_s = time_s.clamp(low_s, high_s);
        if gap(&solution.at(time_s)) >= 0.0 {
            high_s = time_s;
            break;
        }
        low_s = time_s;
    }
    Some(high_s)
}
