//! Integrators of the Rust world, each used as its documentation shows, on the pieces of a day.

use std::cell::Cell;

use differential_equations::prelude::{ExplicitRungeKutta, IVP, ODE};
use ode_solvers::dop_shared::OutputType;
use ode_solvers::{Dopri5, SVector, System};
use stallheat::solver::{Tolerance, integrate};
use stallheat::timeline::NODES;
use stallheat::trace::LEDGER_NODES;
use stallheat::transmission::{PATHS, Path};

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
    /// Heat made less heat carried away less heat stored, of what was made; with books.
    pub closure: Option<f64>,
}

/// The absolute tolerance is ten times the relative one, for everybody.
pub const ABSOLUTE_OVER_RELATIVE: f64 = 10.0;

/// Joules in a unit of a book: so large that books never bound a step.
const BOOK_J: f64 = 1e9;
/// States with the books behind them.
const BOOKED: usize = NODES + PATHS;
const BOOKED_WHOLE: usize = WHOLE + PATHS;

/// Integrates a day, with a running total for each path of heat as further states or without; `None` where the
/// integrator gave up.
pub fn run(day: &Pieces, integrator: Integrator, relative: f64, ledger: bool) -> Option<Run> {
    let calls = Cell::new(0_u64);
    let mut whole = SVector::<f64, WHOLE>::zeros();
    let mut books = SVector::<f64, PATHS>::zeros();
    let mut end_k = Vec::with_capacity(day.trace_end_k.len());
    for piece in &day.pieces {
        let shift_j = day.begin(piece, &mut whole);
        books[Path::GearTrain.index()] += shift_j / BOOK_J;
        let (heat, of) = (piece.driving.is_none(), (day, piece, integrator, relative, &calls));
        match (heat, ledger) {
            (true, false) => part::<NODES, NODES>(of, &mut whole, &mut books)?,
            (true, true) => part::<NODES, BOOKED>(of, &mut whole, &mut books)?,
            (false, false) => part::<WHOLE, WHOLE>(of, &mut whole, &mut books)?,
            (false, true) => part::<WHOLE, BOOKED_WHOLE>(of, &mut whole, &mut books)?,
        }
        if piece.ends_event {
            end_k.push(day.temperatures_k(&whole));
        }
    }
    let finite = end_k.iter().flatten().all(|value| value.is_finite());
    let joules = books * BOOK_J;
    let sum = |paths: &[Path]| paths.iter().map(|path| joules[path.index()]).sum::<f64>();
    let stored_j: f64 =
        LEDGER_NODES.iter().map(|node| day.scaling.stored_j(&whole, node.index())).sum();
    let made_j = sum(&Path::SOURCES);
    let closure = ledger.then(|| ((made_j - sum(&Path::SINKS) - stored_j) / made_j).abs());
    finite.then_some(Run { end_k, evaluations: calls.get(), closure })
}

type Of<'a> = (&'a Pieces<'a>, &'a Piece, Integrator, f64, &'a Cell<u64>);

/// A piece of which the first R states are heat and motion, and what is beyond are books.
fn part<const R: usize, const S: usize>(
    (day, piece, integrator, relative, calls): Of,
    whole: &mut SVector<f64, WHOLE>,
    books: &mut SVector<f64, PATHS>,
) -> Option<()> {
    let mut start = SVector::<f64, S>::zeros();
    start.fixed_rows_mut::<R>(0).copy_from(&whole.fixed_rows::<R>(0));
    if S > R {
        start.rows_mut(R, PATHS).copy_from(books);
    }
    let end = advance::<R, S>(day, piece, start, integrator, relative, calls)?;
    whole.fixed_rows_mut::<R>(0).copy_from(&end.fixed_rows::<R>(0));
    if S > R {
        books.copy_from(&end.rows(R, PATHS));
    }
    Some(())
}

/// The right-hand side, counted.
struct Counted<'a, const R: usize> {
    day: &'a Pieces<'a>,
    piece: &'a Piece,
    calls: &'a Cell<u64>,
}

impl<const R: usize> Counted<'_, R> {
    #[inline]
    fn rates<const S: usize>(&self, y: &SVector<f64, S>, dy: &mut SVector<f64, S>) {
        self.calls.set(self.calls.get() + 1);
        if S == R {
            return self.day.rates(self.piece, y, dy);
        }
        let (mut rates, mut books_w) = (SVector::<f64, R>::zeros(), SVector::<f64, PATHS>::zeros());
        let own: SVector<f64, R> = y.fixed_rows::<R>(0).into_owned();
        self.day.booked_rates(self.piece, &own, &mut rates, &mut books_w);
        dy.fixed_rows_mut::<R>(0).copy_from(&rates);
        dy.rows_mut(R, PATHS).copy_from(&(books_w / BOOK_J));
    }

    #[inline]
    fn slices<const S: usize>(&self, y: &[f64], dy: &mut [f64]) {
        let mut rates = SVector::<f64, S>::zeros();
        self.rates(&SVector::<f64, S>::from_column_slice(y), &mut rates);
        dy.copy_from_slice(rates.as_slice());
    }
}

impl<const R: usize, const S: usize> System<f64, SVector<f64, S>> for Counted<'_, R> {
    fn system(&self, _: f64, y: &SVector<f64, S>, dy: &mut SVector<f64, S>) {
        self.rates(y, dy);
    }
}

impl<const R: usize, const S: usize> ODE<f64, [f64; S]> for Counted<'_, R> {
    fn diff(&self, _: f64, y: &[f64; S], dy: &mut [f64; S]) {
        self.slices::<S>(y, dy);
    }
}

const MOST_STEPS: u32 = 400_000;

fn advance<const R: usize, const S: usize>(
    day: &Pieces,
    piece: &Piece,
    start: SVector<f64, S>,
    integrator: Integrator,
    relative: f64,
    calls: &Cell<u64>,
) -> Option<SVector<f64, S>> {
    let counted = Counted::<R> { day, piece, calls };
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
