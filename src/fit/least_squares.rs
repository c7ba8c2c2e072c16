//! Nonlinear least squares: the parameters at which the sum of squared residuals is least, by Levenberg–Marquardt with
//! the trust region of MINPACK (Moré 1978), which the crate `levenberg-marquardt` brings.
//!
//! Derivatives are central differences, `(r(x + h) − r(x − h)) / 2h`, with an error of order h². Bounds are kept by
//! projection: a parameter that a fit carries to or beyond its limit is held there and the others are fitted again; it
//! is let go once if, at the end, the sum of squares falls inwards. Residuals are asked for at projected parameters only.
//!
//! The covariance is `(JᵀJ)⁻¹` at the minimum: the true one where residuals are linear over its width and each has a
//! standard deviation of one; otherwise it is to be multiplied by the variance of a residual.
//!
//! The search is begun with several first strides ([`STRIDES`]: a long, a middling and a short one), and the least of the
//! minima is taken: a long one may leap over the valley below the start, a short one may stop at a ledge.
//! Where residuals cannot be computed they count as very large, so that such a step is taken back.
//!
//! Leaves out: any other search for other minima than the one below the start.

use std::cell::Cell;

use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt, TerminationReason};
use nalgebra::{DMatrix, DVector, Dyn, storage::Owned};

/// How far a parameter is moved to see what the residuals do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Step {
    /// Share of the parameter's size; of one where it is zero.
    Relative(f64),
    /// In the parameter's own unit.
    Absolute(f64),
}

/// The step of smooth, exactly computed residuals: the cube root of the rounding, where error of rounding and error of
/// the difference are about the same (Press et al., Numerical Recipes, 5.7; from memory).
pub const EXACT_STEP: Step = Step::Relative(6e-6);

/// First strides, as shares of the scaled length of the start: MINPACK's usual one, and down to the least that it
/// advises (Moré, Garbow & Hillstrom 1980; from memory).
pub const STRIDES: [f64; 3] = [100.0, 1.0, 0.1];

/// A residual where there is none.
const VERY_LARGE: f64 = 1e100;

/// What is minimised.
pub struct Problem<'a> {
    /// Residuals at a point; `None` where they cannot be computed. As many at every point.
    pub residuals: &'a dyn Fn(&[f64]) -> Option<Vec<f64>>,
    /// Lowest and highest value of each parameter.
    pub bounds: Vec<(f64, f64)>,
    pub step: Step,
    /// Evaluations after which it gives up, for each parameter.
    pub patience: usize,
    /// First strides to try: [`STRIDES`], or one of them.
    pub strides: &'a [f64],
    /// Relative change of sum, parameters and slope at which it has settled; `None`: what doubles resolve.
    pub tolerance: Option<f64>,
}

/// Where a fit ended.
#[derive(Debug, Clone)]
pub struct Minimum {
    pub x: Vec<f64>,
    /// −1 at the lower limit, 1 at the upper one, 0 between.
    pub at_limit: Vec<i8>,
    pub residuals: DVector<f64>,
    /// Residuals by parameter, of all parameters.
    pub jacobian: DMatrix<f64>,
    /// Of the parameters between their limits, zero for the others; `None` where they cannot be told apart at all.
    pub covariance: Option<DMatrix<f64>>,
    /// Times that residuals were computed.
    pub evaluations: usize,
    /// Whether it settled, or ran out of evaluations.
    pub settled: bool,
}

impl Minimum {
    /// Sum of squared residuals.
    pub fn sum_of_squares(&self) -> f64 {
        self.residuals.norm_squared()
    }
}

/// The minimum below a start; `None` where residuals cannot be computed at the start or beside the minimum.
pub fn minimise(problem: &Problem, start: &[f64]) -> Option<Minimum> {
    let evaluations = Cell::new(0);
    let found =
        problem.strides.iter().filter_map(|stride| strode(problem, start, *stride, &evaluations));
    let least = found.min_by(|a, b| a.sum_of_squares().total_cmp(&b.sum_of_squares()))?;
    Some(Minimum { evaluations: evaluations.get(), ..least })
}

fn strode(
    problem: &Problem,
    start: &[f64],
    stride: f64,
    evaluations: &Cell<usize>,
) -> Option<Minimum> {
    let mut held: Vec<i8> = vec![0; start.len()];
    let mut released = vec![false; start.len()];
    let mut x: Vec<f64> = problem.projected(start);
    // Every round holds one more parameter or lets go of one for the only time.
    for _ in 0..=3 * start.len() {
        let free: Vec<usize> = (0..x.len()).filter(|i| held[*i] == 0).collect();
        let mut settled = true;
        if !free.is_empty() {
            let search = Search::new(problem, evaluations, x.clone(), &free)?;
            let mut method = LevenbergMarquardt::new();
            if let Some(tolerance) = problem.tolerance {
                method = method.with_tol(tolerance);
            }
            let (search, report) = method
                .with_patience(problem.patience.max(1))
                .with_stepbound(stride)
                .minimize(search);
            settled = match report.termination {
                TerminationReason::LostPatience => false,
                TerminationReason::User(_) | TerminationReason::Numerical(_) => return None,
                // At the limit of what doubles resolve, too.
                _ => true,
            };
            x = search.all(&search.x);
        }
        let mut held_more = false;
        for i in free {
            let (low, high) = problem.bounds[i];
            let margin = 1e-9 * (high - low).min(1.0);
            if x[i] <= low + margin || x[i] >= high - margin {
                held[i] = if x[i] <= low + margin { -1 } else { 1 };
                held_more = true;
            }
        }
        x = problem.projected(&x);
        if held_more {
            continue;
        }
        let residuals = DVector::from_vec(problem.at(evaluations, &x)?);
        let everything: Vec<usize> = (0..x.len()).collect();
        let jacobian = problem.jacobian(evaluations, &x, &everything)?;
        let gradient = jacobian.tr_mul(&residuals);
        let inwards = (0..x.len())
            .find(|i| held[*i] != 0 && !released[*i] && gradient[*i] * f64::from(held[*i]) > 0.0);
        if let Some(i) = inwards {
            (held[i], released[i]) = (0, true);
            continue;
        }
        let covariance = covariance(&jacobian, &held);
        return Some(Minimum {
            x,
            at_limit: held,
            residuals,
            jacobian,
            covariance,
            evaluations: evaluations.get(),
            settled,
        });
    }
    None
}

impl Problem<'_> {
    fn projected(&self, x: &[f64]) -> Vec<f64> {
        x.iter().zip(&self.bounds).map(|(x, (low, high))| x.max(*low).min(*high)).collect()
    }

    fn at(&self, evaluations: &Cell<usize>, x: &[f64]) -> Option<Vec<f64>> {
        evaluations.set(evaluations.get() + 1);
        (self.residuals)(x).filter(|residuals| residuals.iter().all(|r| r.is_finite()))
    }

    /// Residuals by the parameters `of`, by central differences; to one side at a limit, or where residuals cannot be computed on the other.
    pub fn jacobian(
        &self,
        evaluations: &Cell<usize>,
        x: &[f64],
        of: &[usize],
    ) -> Option<DMatrix<f64>> {
        let mut columns = Vec::new();
        let here = Cell::new(None);
        for i in of {
            let step = match self.step {
                Step::Relative(share) if x[*i] == 0.0 => share,
                Step::Relative(share) => share * x[*i].abs(),
                Step::Absolute(by) => by,
            };
            let moved = |by: f64| -> Option<(f64, Vec<f64>)> {
                let mut there = x.to_vec();
                there[*i] = (x[*i] + by).max(self.bounds[*i].0).min(self.bounds[*i].1);
                if there[*i] == x[*i] {
                    None
                } else {
                    Some((there[*i], self.at(evaluations, &there)?))
                }
            };
            let stay = || {
                let residuals: Option<Vec<f64>> = here.take().or_else(|| self.at(evaluations, x));
                here.set(residuals.clone());
                residuals.map(|residuals| (x[*i], residuals))
            };
            let (above, below) = (moved(step), moved(-step));
            let ((high, above), (low, below)) = match (above, below) {
                (Some(above), Some(below)) => (above, below),
                (Some(above), None) => (above, stay()?),
                (None, Some(below)) => (stay()?, below),
                (None, None) => return None,
            };
            let slope = above.iter().zip(&below).map(|(a, b)| (a - b) / (high - low));
            columns.push(DVector::from_iterator(above.len(), slope));
        }
        Some(DMatrix::from_columns(&columns))
    }
}

/// `(JᵀJ)⁻¹` of the parameters that are not held, by the singular values of J with its columns scaled to length one.
fn covariance(jacobian: &DMatrix<f64>, held: &[i8]) -> Option<DMatrix<f64>> {
    let count = held.len();
    let free: Vec<usize> = (0..count).filter(|i| held[*i] == 0).collect();
    let mut all = DMatrix::zeros(count, count);
    if free.is_empty() {
        return Some(all);
    }
    let mut scaled = jacobian.select_columns(&free);
    if scaled.nrows() < scaled.ncols() {
        return None;
    }
    let sizes: Vec<f64> = scaled.column_iter().map(|column| column.norm()).collect();
    for (mut column, size) in scaled.column_iter_mut().zip(&sizes) {
        if *size == 0.0 {
            return None;
        }
        column /= *size;
    }
    let parts = scaled.svd(false, true);
    let right = parts.v_t?;
    let (largest, least) = (parts.singular_values.max(), parts.singular_values.min());
    if least <= largest * f64::EPSILON * count as f64 {
        return None;
    }
    for (a, i) in free.iter().enumerate() {
        for (b, j) in free.iter().enumerate() {
            let sum: f64 = (0..free.len())
                .map(|k| right[(k, a)] * right[(k, b)] / parts.singular_values[k].powi(2))
                .sum();
            all[(*i, *j)] = sum / (sizes[a] * sizes[b]);
        }
    }
    Some(all)
}

/// The free parameters, as the crate searches them; the others stay.
struct Search<'a> {
    problem: &'a Problem<'a>,
    evaluations: &'a Cell<usize>,
    others: Vec<f64>,
    free: &'a [usize],
    x: DVector<f64>,
    /// How many residuals there are.
    count: usize,
}

impl<'a> Search<'a> {
    fn new(
        problem: &'a Problem<'a>,
        evaluations: &'a Cell<usize>,
        start: Vec<f64>,
        free: &'a [usize],
    ) -> Option<Search<'a>> {
        let count = problem.at(evaluations, &start)?.len();
        let x = DVector::from_iterator(free.len(), free.iter().map(|i| start[*i]));
        Some(Search { problem, evaluations, others: start, free, x, count })
    }

    fn all(&self, x: &DVector<f64>) -> Vec<f64> {
        let mut all = self.others.clone();
        for (i, value) in self.free.iter().zip(x) {
            all[*i] = *value;
        }
        all
    }
}

impl LeastSquaresProblem<f64, Dyn, Dyn> for Search<'_> {
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;
    type ParameterStorage = Owned<f64, Dyn>;

    fn set_params(&mut self, x: &DVector<f64>) {
        self.x.copy_from(x);
    }

    fn params(&self) -> DVector<f64> {
        self.x.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        let x = self.problem.projected(&self.all(&self.x));
        let residuals = self.problem.at(self.evaluations, &x);
        Some(residuals.map_or_else(|| DVector::repeat(self.count, VERY_LARGE), DVector::from_vec))
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        let x = self.problem.projected(&self.all(&self.x));
        self.problem.jacobian(self.evaluations, &x, self.free)
    }
}
