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
    step_ends_s: Vec<f64>,
    states: Steps<S>,
    booked: Steps<B>,
    evaluations: u32,
    steps: u32,
}

impl<const S: usize, const B: usize> Solution<S, B> {
    /// Length of the piece (s); less than asked for when it was stopped.
    pub fn duration_s(&self) -> f64 {
        // `integrate` makes no solution without a step.
        self.step_ends_s[self.step_ends_s.len() - 1]
    }

    /// State at the end of the piece.
    pub fn end(&self) -> &SVector<f64, S> {
        &self.states.value
    }

    /// Ends of the accepted steps (s, local time), the last being the duration.
    pub fn step_ends_s(&self) -> &[f64] {
        &self.step_ends_s
    }

    /// State at the end of step `step`.
    pub fn state_after(&self, step: usize) -> &SVector<f64, S> {
        self.states.end_of(step).0
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
        if time_s.is_nan() || time_s >= self.duration_s() {
            return *self.end();
        }
        self.states.at(self.place(time_s))
    }

    /// What the books gained from the start of the piece to local time `time_s`, clamped to the piece.
    pub fn booked_at(&self, time_s: f64) -> SVector<f64, B> {
        self.booked.at(self.place(time_s))
    }

    /// What the books gained from the start of the piece to the end of its step `step`.
    pub fn booked_by_step(&self, step: usize) -> SVector<f64, B> {
        *self.booked.end_of(step).0
    }

    fn place(&self, time_s: f64) -> Place {
        let last = self.step_ends_s.len() - 1;
        let step = self.step_ends_s.partition_point(|end_s| *end_s < time_s).min(last);
        let start_s = step.checked_sub(1).map_or(0.0, |before| self.step_ends_s[before]);
        let step_s = self.step_ends_s[step] - start_s;
        Place { step, step_s, share: ((time_s - start_s) / step_s).clamp(0.0, 1.0) }
    }
}

/// A time within a step: its share, 0 to 1, of the step's length.
struct Place {
    step: usize,
    step_s: f64,
    share: f64,
}

/// A step: value and rate where it starts, and the last term of its continuous extension, by its length.
struct Step<const N: usize> {
    value: SVector<f64, N>,
    rate: SVector<f64, N>,
    rest: SVector<f64, N>,
}

/// The steps of a piece, and value and rate at the end of the last.
struct Steps<const N: usize> {
    done: Vec<Step<N>>,
    value: SVector<f64, N>,
    rate: SVector<f64, N>,
}

impl<const N: usize> Steps<N> {
    fn starting(value: SVector<f64, N>) -> Steps<N> {
        let done = Vec::with_capacity(if N == 0 { 0 } else { STEPS_A_PIECE });
        Steps { done, value, rate: SVector::zeros() }
    }

    /// A step of which the rates at the seven stages are known; its end is `value`.
    #[inline]
    fn push(&mut self, value: SVector<f64, N>, rates: &[SVector<f64, N>; 7]) {
        let rest = weighted(rates, &EXTENSION_WEIGHTS);
        self.done.push(Step { value: self.value, rate: rates[0], rest });
        (self.value, self.rate) = (value, rates[6]);
    }

    fn start(&self) -> &SVector<f64, N> {
        self.done.first().map_or(&self.value, |first| &first.value)
    }

    /// Value and rate at the end of a step.
    #[inline]
    fn end_of(&self, step: usize) -> (&SVector<f64, N>, &SVector<f64, N>) {
        match self.done.get(step + 1) {
            Some(next) => (&next.value, &next.rate),
            None => (&self.value, &self.rate),
        }
    }

    /// The continuous extension of the method.
    fn at(&self, place: Place) -> SVector<f64, N> {
        let Place { step, step_s, share } = place;
        let Some(start) = self.done.get(step) else { return self.value };
        let (end, end_rate) = self.end_of(step);
        let gain = end - start.value;
        let bend = start.rate * step_s - gain;
        let skew = gain - end_rate * step_s - bend;
        let left = 1.0 - share;
        start.value + (gain + (bend + (skew + start.rest * (step_s * left)) * share) * left) * share
    }
}

#[inline]
fn weighted<const N: usize>(rates: &[SVector<f64, N>; 7], weights: &[f64; 7]) -> SVector<f64, N> {
    let mut sum = SVector::<f64, N>::zeros();
    for i in 0..N {
        // The second stage counts nothing in step and extension alike.
        sum[i] = weights[0] * rates[0][i]
            + weights[2] * rates[2][i]
            + weights[3] * rates[3][i]
            + weights[4] * rates[4][i]
            + weights[5] * rates[5][i]
            + weights[6] * rates[6][i];
    }
    sum
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

/// Rates at the stages of the step under way, and the steps done.
struct Record<const S: usize, const B: usize> {
    /// Stage whose rates the next evaluation gives; before the first step, its evaluations are counted down. The
    /// first stage of a step is the last of the one before; every trial of a step evaluates the six others.
    stage: usize,
    before_start: usize,
    state_rates: [SVector<f64, S>; 7],
    book_rates: [SVector<f64, B>; 7],
    step_ends_s: Vec<f64>,
    states: Steps<S>,
    booked: Steps<B>,
    time_s: f64,
}

impl<const S: usize, const B: usize> Record<S, B> {
    fn starting(start: SVector<f64, S>) -> Record<S, B> {
        Record {
            stage: 0,
            before_start: CALLS_BEFORE_START,
            state_rates: [SVector::zeros(); 7],
            book_rates: [SVector::zeros(); 7],
            step_ends_s: Vec::with_capacity(STEPS_A_PIECE),
            states: Steps::starting(start),
            booked: Steps::starting(SVector::zeros()),
            time_s: 0.0,
        }
    }

    #[inline]
    fn next_stage(&mut self) {
        match self.before_start {
            0 => self.stage = if self.stage == 6 { 1 } else { self.stage + 1 },
            _ => self.before_start -= 1,
        }
    }

    #[inline]
    fn accept(&mut self, time_s: f64, state: &SVector<f64, S>) {
        self.states.push(*state, &self.state_rates);
        self.state_rates[0] = self.state_rates[6];
        if B > 0 {
            let gain = weighted(&self.book_rates, &STEP_WEIGHTS) * (time_s - self.time_s);
            self.booked.push(self.booked.value + gain, &self.book_rates);
            self.book_rates[0] = self.book_rates[6];
        }
        self.step_ends_s.push(time_s);
        self.time_s = time_s;
    }
}

struct Equations<'a, F, G, const S: usize, const B: usize> {
    right_hand_side: F,
    stop: G,
    record: &'a RefCell<Record<S, B>>,
}

impl<const S: usize, const B: usize, F, G> System<f64, SVector<f64, S>>
    for Equations<'_, F, G, S, B>
where
    F: Fn(&SVector<f64, S>, &mut SVector<f64, S>, &mut SVector<f64, B>),
    G: Fn(&SVector<f64, S>) -> bool,
{
    #[inline]
    fn system(&self, _time_s: f64, y: &SVector<f64, S>, dy: &mut SVector<f64, S>) {
        let record = &mut *self.record.borrow_mut();
        let stage = record.stage;
        (self.right_hand_side)(y, dy, &mut record.book_rates[stage]);
        record.state_rates[stage] = *dy;
        record.next_stage();
    }

    #[inline]
    fn solout(&mut self, time_s: f64, y: &SVector<f64, S>, _dy: &SVector<f64, S>) -> bool {
        self.record.borrow_mut().accept(time_s, y);
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
    let record = RefCell::new(Record::starting(start));
    let mut stepper = Dopri5::from_param(
        Equations { right_hand_side, stop, record: &record },
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
        OutputType::Sparse,
    );
    let stats = stepper.integrate().map_err(|error| {
        let at_s = match error {
            IntegrationError::MaxNumStepReached { x, .. }
            | IntegrationError::StepSizeUnderflow { x }
            | IntegrationError::StiffnessDetected { x } => x,
        };
        Failure::TooManySteps { at_s }
    })?;
    drop(stepper);
    let Record { step_ends_s, states, booked, .. } = record.into_inner();
    if step_ends_s.is_empty() {
        return Err(Failure::NotFinite);
    }
    let solution = Solution {
        step_ends_s,
        states,
        booked,
        evaluations: stats.num_eval,
        steps: stats.accepted_steps + stats.rejected_steps,
    };
    if !solution.end().iter().all(|y| y.is_finite()) {
        return Err(Failure::NotFinite);
    }
    Ok(solution)
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
    if gap(solution.states.start()) >= 0.0 {
        return Some(0.0);
    }
    let crossed =
        (0..solution.step_ends_s.len()).find(|step| gap(solution.state_after(*step)) >= 0.0)?;
    Some(close_in(solution, crossed, gap))
}

/// The same where a `gap` that is not negative stopped the integration: only at the end of the last step can it be.
pub fn stopping_crossing<const S: usize, const B: usize>(
    solution: &Solution<S, B>,
    gap: &dyn Fn(&SVector<f64, S>) -> f64,
) -> Option<f64> {
    if gap(solution.states.start()) >= 0.0 {
        return Some(0.0);
    }
    let last = solution.step_ends_s.len() - 1;
    (gap(solution.end()) >= 0.0).then(|| close_in(solution, last, gap))
}

/// The crossing within step `crossed`.
fn close_in<const S: usize, const B: usize>(
    solution: &Solution<S, B>,
    crossed: usize,
    gap: &dyn Fn(&SVector<f64, S>) -> f64,
) -> f64 {
    let step_start_s = crossed.checked_sub(1).map_or(0.0, |before| solution.step_ends_s[before]);
    let step_end_s = solution.step_ends_s[crossed];
    let resolution_s = (1e-9 * solution.duration_s()).max(1e-6);
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
    high_s
}
