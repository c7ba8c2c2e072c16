//! Integrators of the Rust world, each used as its documentation shows, on the pieces of a day.

use std::cell::Cell;

use differential_equations::prelude::{ExplicitRungeKutta, IVP, ODE};
use ode_solvers::dop_shared::OutputType;
use ode_solvers::{Dopri5, SVector, System};
use stallheat::solver::{Tolerance, integrate};
use stallheat::timeline::NODES;

use crate::pieces::{Piece, Pieces, WHOLE};

/// Who integrates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Integrator {
    /// The package's own solver, with its continuous extension and without books.
    Own,
    OdeSolversDopri5,
    DifferentialEquationsDopri5,
    DifferentialEquationsDop853,
}

impl Integrator {
    pub const ALL: [Integrator; 4] = [
        Integrator::Own,
        Integrator::OdeSolversDopri5,
        Integrator::DifferentialEquationsDopri5,
        Integrator::DifferentialEquationsDop853,
    ];

    pub fn name(self) -> &'static str {
        match self {
            Integrator::Own => "own solver, same pieces",
            Integrator::OdeSolversDopri5 => "ode_solvers 0.6.2, Dopri5",
            Integrator::DifferentialEquationsDopri5 => "differential-equations 0.7.0, dopri5",
            Integrator::DifferentialEquationsDop853 => "differential-equations 0.7.0, dop853",
        }
    }
}

/// Temperatures (K) at the ends of events, and evaluations of the right-hand side.
pub struct Run {
    pub end_k: Vec<[f64; NODES]>,
    pub evaluations: u64,
}

/// The absolute tolerance is ten times the relative one, for everybody.
pub const ABSOLUTE_OVER_RELATIVE: f64 = 10.0;

/// Integrates a day; `None` where the integrator gave up.
pub fn run(day: &Pieces, integrator: Integrator, relative: f64) -> Option<Run> {
    let calls = Cell::new(0_u64);
    let mut whole = SVector::<f64, WHOLE>::zeros();
    let mut end_k = Vec::with_capacity(day.trace_end_k.len());
    for piece in &day.pieces {
        day.begin(piece, &mut whole);
        if piece.driving.is_some() {
            whole = advance(day, piece, whole, integrator, relative, &calls)?;
        } else {
            let heat: SVector<f64, NODES> = whole.fixed_rows::<NODES>(0).into_owned();
            let heat = advance(day, piece, heat, integrator, relative, &calls)?;
            whole.fixed_rows_mut::<NODES>(0).copy_from(&heat);
        }
        if piece.ends_event {
            end_k.push(day.temperatures_k(&whole));
        }
    }
    let finite = end_k.iter().flatten().all(|value| value.is_finite());
    finite.then_some(Run { end_k, evaluations: calls.get() })
}

/// The right-hand side, counted.
struct Counted<'a> {
    day: &'a Pieces<'a>,
    piece: &'a Piece,
    calls: &'a Cell<u64>,
}

impl Counted<'_> {
    #[inline]
    fn rates<const S: usize>(&self, y: &SVector<f64, S>, dy: &mut SVector<f64, S>) {
        self.calls.set(self.calls.get() + 1);
        self.day.rates(self.piece, y, dy);
    }

    #[inline]
    fn slices<const S: usize>(&self, y: &[f64], dy: &mut [f64]) {
        let mut rates = SVector::<f64, S>::zeros();
        self.rates(&SVector::<f64, S>::from_column_slice(y), &mut rates);
        dy.copy_from_slice(rates.as_slice());
    }
}

impl<const S: usize> System<f64, SVector<f64, S>> for Counted<'_> {
    fn system(&self, _: f64, y: &SVector<f64, S>, dy: &mut SVector<f64, S>) {
        self.rates(y, dy);
    }
}

impl<const S: usize> ODE<f64, [f64; S]> for Counted<'_> {
    fn diff(&self, _: f64, y: &[f64; S], dy: &mut [f64; S]) {
        self.slices::<S>(y, dy);
    }
}

const MOST_STEPS: u32 = 400_000;

fn advance<const S: usize>(
    day: &Pieces,
    piece: &Piece,
    start: SVector<f64, S>,
    integrator: Integrator,
    relative: f64,
    calls: &Cell<u64>,
) -> Option<SVector<f64, S>> {
    let counted = Counted { day, piece, calls };
    let absolute = ABSOLUTE_OVER_RELATIVE * relative;
    let duration_s = piece.duration_s;
    match integrator {
        Integrator::Own => {
            let tolerance = Tolerance { relative, absolute };
            let solution =
                integrate(|y, dy| counted.rates(y, dy), start, duration_s, tolerance).ok()?;
            Some(*solution.end())
        }
        Integrator::OdeSolversDopri5 => {
            // Its settings by default, but for the step budget, the test for stiffness (which would end it) and output.
            let mut stepper = Dopri5::from_param(
                counted,
                0.0,
                duration_s,
                duration_s,
                start,
                relative,
                absolute,
                0.9,
                0.04,
                0.2,
                10.0,
                duration_s,
                0.0,
                MOST_STEPS,
                u32::MAX,
                OutputType::Sparse,
            );
            stepper.integrate().ok()?;
            stepper.y_out().last().copied()
        }
        Integrator::DifferentialEquationsDopri5 => {
            let method = ExplicitRungeKutta::dopri5().rtol(relative).atol(absolute);
            let method = method.max_steps(MOST_STEPS as usize);
            let start: [f64; S] = start.into();
            let solved = IVP::ode(&counted, 0.0, duration_s, start).method(method).solve().ok()?;
            solved.y.last().map(|end| SVector::from(*end))
        }
        Integrator::DifferentialEquationsDop853 => {
            let method = ExplicitRungeKutta::dop853().rtol(relative).atol(absolute);
            let method = method.max_steps(MOST_STEPS as usize);
            let start: [f64; S] = start.into();
            let solved = IVP::ode(&counted, 0.0, duration_s, start).method(method).solve().ok()?;
            solved.y.last().map(|end| SVector::from(*end))
        }
    }
}
