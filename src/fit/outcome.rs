//! What a fit found: values, how well they are known, what the readings cannot tell apart, which of them stand out.

use nalgebra::{DMatrix, DVector};

use super::{Question, shown_by};
use crate::error::Error;
use crate::outline::Outline;
use crate::readings::{Place, Reading, Scene, Surface};
use crate::scenario::Scenario;
use crate::scenario::calibration::{Calibration, written};
use crate::scenario::parameters::{Parameter, Setup};
use crate::simulate::simulate_outline;
use crate::timeline::EventEnd;
use crate::trace::EventRecord;
use crate::transmission::Transmission;
use crate::units::parse_quantity;

/// A parameter after the fit.
#[derive(Clone)]
pub struct FittedParameter {
    pub parameter: &'static Parameter,
    /// Whether the fitted day has another value or another doubt of it; otherwise it is as stated there, and here too.
    pub kept: bool,
    /// SI.
    pub before_si: f64,
    pub after_si: f64,
    /// How far it was moved, in units of its spread in the table.
    pub moved: f64,
    /// Standard deviation in the same units; what a fit has not told anything of has that of before.
    pub deviation: f64,
    /// The value (SI) one deviation below and above.
    pub between_si: (f64, f64),
    /// Whether it was moved to a limit of the table.
    pub at_limit: bool,
}

impl FittedParameter {
    /// Sets the value and what goes with it.
    fn settle(&mut self, after_si: f64) {
        let (low, high) = (self.parameter.min_si(), self.parameter.max_si());
        let beside = |deviations: f64| self.parameter.moved_si(after_si, deviations);
        self.between_si = (beside(-self.deviation), beside(self.deviation));
        self.at_limit = self.kept && (after_si <= low || after_si >= high);
        self.after_si = after_si;
    }
}

/// The emissivity of a spot after the fit.
#[derive(Debug, Clone)]
pub struct FittedSurface {
    pub surface: Surface,
    pub place: Place,
    pub before: f64,
    pub after: f64,
    /// Standard deviations before and after.
    pub spread: f64,
    pub deviation: f64,
}

/// The fitted spot that a reading looked at; `None` for a gauge, and for one that the fit left out.
pub(super) fn spot_of<'a>(
    surfaces: &'a [FittedSurface],
    reading: &Reading,
) -> Option<&'a FittedSurface> {
    let (emissivity, _) = reading.surface_emissivity()?;
    surfaces.iter().find(|spot| {
        spot.surface == reading.surface && spot.place == reading.place && spot.before == emissivity
    })
}

/// Two parameters that the readings cannot tell apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Together {
    /// Places among the parameters.
    pub pair: (usize, usize),
    pub correlation: f64,
}

/// A reading beside the model.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Comparison {
    /// What the instrument would have shown (K), by the day as stated and by the fitted one; `None` for a reading that was
    /// left out and that the model has no temperature for.
    pub before_k: Option<f64>,
    pub after_k: Option<f64>,
    /// Read less fitted, in standard deviations of what is left after a fit; judged by the other readings.
    pub stands_out: f64,
    pub outlier: bool,
    pub left_out: bool,
}

/// A fit.
#[derive(Clone)]
pub struct Fit {
    /// The parameters that were moved, those first of which the readings tell most.
    pub parameters: Vec<FittedParameter>,
    pub surfaces: Vec<FittedSurface>,
    /// In the order of the question's readings.
    pub comparisons: Vec<Comparison>,
    /// Whether readings were taken after the end of an event that waits for a temperature: it may have ended at another
    /// moment in the test than in the day as stated or fitted.
    pub waits: bool,
    /// Correlations of the parameters.
    pub correlation: DMatrix<f64>,
    pub together: Vec<Together>,
    /// Root mean square of what the readings are off (K), before and after.
    pub rms_before_k: f64,
    pub rms_after_k: f64,
    /// Root of the mean square of what is left, in deviations as they were stated: about one.
    pub scatter: f64,
    /// What the deviations of the readings were multiplied by: one, unless the scatter is too large for chance.
    pub widened: f64,
    /// Readings used.
    pub used: usize,
    /// Whether the search settled.
    pub settled: bool,
    /// Days that were simulated.
    pub days: usize,
    pub setup: Setup,
    pub calibration: Calibration,
}

/// What the search left.
pub(super) struct Solved<'a> {
    pub used: Vec<usize>,
    pub parameters: &'a [(&'static Parameter, f64)],
    pub surfaces: Vec<FittedSurface>,
    /// Of the parameters, in spreads.
    pub deviations: DVector<f64>,
    /// Parameters by what was searched.
    pub root: DMatrix<f64>,
    /// Of the used readings, then of the prior.
    pub residuals: DVector<f64>,
    /// Of the used readings by what was searched.
    pub sensitivities: DMatrix<f64>,
    pub setup: Setup,
    pub settled: bool,
    pub days: usize,
}

/// Beyond so many deviations a reading stands out: one in four hundred does by chance.
const OUTLIER: f64 = 3.0;
/// Two parameters are not told apart above this correlation.
pub(super) const TOGETHER: f64 = 0.7;
/// Directions of which less than this is known are left out of a calibration, for its size; a doubt that a tenth narrower
/// is left as it was.
const LEAST_KNOWN: f64 = 0.1;
/// Parameters that moved by less than this many spreads, and of which less than this share of the doubt was taken away,
/// are left as they were.
const LEAST_MOVED: f64 = 0.15;
const LEAST_TOLD: f64 = 0.02;

pub(super) fn outcome(question: &Question, solved: Solved) -> Result<Fit, Error> {
    let readings = solved.used.len();
    let sum = solved.residuals.norm_squared();
    let scatter = (sum / readings as f64).sqrt();
    let widened = if sum > chi_square_99(readings as f64) { scatter } else { 1.0 };
    let covariance = covariance(&solved.sensitivities, widened);
    let of_parameters = &solved.root * &covariance * solved.root.transpose();

    let mut order: Vec<usize> = (0..solved.parameters.len()).collect();
    order.sort_by(|a, b| of_parameters[(*a, *a)].total_cmp(&of_parameters[(*b, *b)]));
    let deviation = |i: usize| of_parameters[(i, i)].max(0.0).sqrt();
    let fitted = |i: &usize| {
        let (parameter, before_si) = solved.parameters[*i];
        let after_si = parameter.value_si(&solved.setup);
        FittedParameter {
            parameter,
            kept: false,
            before_si,
            after_si,
            moved: solved.deviations[*i],
            deviation: deviation(*i),
            between_si: (after_si, after_si),
            at_limit: false,
        }
    };
    let mut parameters: Vec<FittedParameter> = order.iter().map(fitted).collect();
    let correlation = DMatrix::from_fn(order.len(), order.len(), |a, b| {
        let (a, b) = (order[a], order[b]);
        of_parameters[(a, b)] / (deviation(a) * deviation(b)).max(f64::MIN_POSITIVE)
    });
    let (setup, calibration) = calibrated(question, &mut parameters, &of_parameters, &order);
    let mut together: Vec<Together> = (0..order.len())
        .flat_map(|a| (a + 1..order.len()).map(move |b| (a, b)))
        .filter(|(a, b)| parameters[*a].kept && parameters[*b].kept)
        .map(|pair| Together { pair, correlation: correlation[pair] })
        .filter(|together| together.correlation.abs() > TOGETHER)
        .collect();
    together.sort_by(|a, b| b.correlation.abs().total_cmp(&a.correlation.abs()));

    let mut surfaces = solved.surfaces;
    for (i, surface) in surfaces.iter_mut().enumerate() {
        let place = solved.parameters.len() + i;
        surface.deviation = surface.spread * covariance[(place, place)].max(0.0).sqrt();
    }

    let mut fit = Fit {
        comparisons: Vec::new(),
        rms_before_k: 0.0,
        rms_after_k: 0.0,
        parameters,
        surfaces,
        waits: false,
        correlation,
        together,
        scatter,
        widened,
        used: readings,
        settled: solved.settled,
        days: solved.days,
        setup,
        calibration,
    };
    compare(
        question,
        &mut fit,
        &solved.used,
        &solved.residuals,
        &solved.sensitivities,
        &covariance,
    )?;
    Ok(fit)
}

/// `(I + JᵀJ / s²)⁻¹`.
fn covariance(sensitivities: &DMatrix<f64>, widened: f64) -> DMatrix<f64> {
    let count = sensitivities.ncols();
    let told = sensitivities.tr_mul(sensitivities) / (widened * widened);
    let parts = told.symmetric_eigen();
    let left = parts.eigenvalues.map(|value| 1.0 / (1.0 + value.max(0.0)));
    let mut covariance = DMatrix::zeros(count, count);
    for (k, left) in left.iter().enumerate() {
        let direction = parts.eigenvectors.column(k);
        covariance += *left * direction * direction.transpose();
    }
    covariance
}

/// The sum of squares that 99 of 100 sums of so many squared standard normal numbers stay below: Wilson & Hilferty 1931
/// (from memory).
fn chi_square_99(count: f64) -> f64 {
    let part = 2.0 / (9.0 * count);
    count * (1.0 - part + 2.326_348 * part.sqrt()).powi(3)
}

/// The set-up with the fitted values as a file has them, and what is known of them. Says of each parameter whether it is
/// among them; one that is not stays as stated.
fn calibrated(
    question: &Question,
    parameters: &mut [FittedParameter],
    covariance: &DMatrix<f64>,
    order: &[usize],
) -> (Setup, Calibration) {
    let before = super::calibrated(question.scenario);
    let worth: Vec<usize> = (0..parameters.len())
        .filter(|i| {
            let fitted = &parameters[*i];
            fitted.moved.abs() >= LEAST_MOVED
                || fitted.deviation <= 1.0 - LEAST_TOLD
                || before.paths().contains(&fitted.parameter.path())
        })
        .collect();
    let mut setup = question.scenario.setup.clone();
    let mut values = Vec::new();
    for i in &worth {
        let fitted = &mut parameters[*i];
        let parameter = fitted.parameter;
        let text = written(parameter, fitted.after_si);
        let value_si = parse_quantity(parameter.dimension, &text).unwrap_or(fitted.after_si);
        let value_si = value_si.clamp(parameter.min_si(), parameter.max_si());
        parameter.set_si(&mut setup, value_si);
        values.push((parameter.path(), value_si));
        fitted.kept = true;
        fitted.settle(value_si);
    }
    for fitted in parameters.iter_mut().filter(|fitted| !fitted.kept) {
        (fitted.moved, fitted.deviation) = (0.0, 1.0);
        fitted.settle(fitted.before_si);
    }
    let count = worth.len();
    let told = DMatrix::from_fn(count, count, |a, b| {
        let (a, b) = (order[worth[a]], order[worth[b]]);
        f64::from(u8::from(a == b)) - covariance[(a, b)]
    });
    let parts = told.symmetric_eigen();
    let mut directions: Vec<(f64, Vec<f64>)> = (0..count)
        .filter(|k| parts.eigenvalues[*k] > LEAST_KNOWN)
        .map(|k| {
            let length = parts.eigenvalues[k].min(1.0).sqrt();
            // As fine as it is kept: a hundredth of a spread.
            let rounded = |u: &f64| (u * length * 1e2).round() / 1e2;
            (length, parts.eigenvectors.column(k).iter().map(rounded).collect())
        })
        .collect();
    directions.sort_by(|a, b| b.0.total_cmp(&a.0));
    let used = question.readings.len() - question.without.len();
    let note = format!("Fitted to {used} readings");
    let known = directions.into_iter().map(|(_, direction)| direction).collect();
    (setup, Calibration { note, parameters: values, known })
}

/// When the first event ends that waits for a temperature (s), for ever if there is none.
fn first_wait_s(day: &Scenario, outline: &Outline) -> f64 {
    let waits = |record: &&EventRecord| {
        record.place.is_some_and(|(block, event)| {
            matches!(day.blocks[block].events[event].end, EventEnd::Until { .. })
        })
    };
    let ends_s = outline.events.iter().filter(waits).map(|record| record.end_s);
    ends_s.fold(f64::INFINITY, f64::min)
}

/// Puts every reading beside the day as stated and beside the fitted one.
fn compare(
    question: &Question,
    fit: &mut Fit,
    used: &[usize],
    residuals: &DVector<f64>,
    sensitivities: &DMatrix<f64>,
    covariance: &DMatrix<f64>,
) -> Result<(), Error> {
    let stated = question.scenario;
    let fitted = Scenario { setup: fit.setup.clone(), ..stated.clone() };
    type Shown = (Vec<Option<f64>>, f64);
    let shown = |day: &Scenario, surfaces: &[FittedSurface]| -> Result<Shown, Error> {
        let mut transmission = Transmission::new(&day.setup)?;
        let outline = simulate_outline(&mut transmission, day)?;
        let waited_s = first_wait_s(day, &outline);
        let mut scene = Scene { scenario: day, transmission: &mut transmission, outline: &outline };
        let each = question.readings.iter().map(|reading| {
            let Some(seen) = spot_of(surfaces, reading) else {
                return shown_by(&mut scene, reading);
            };
            let true_k = scene.temperature_k(reading.place, reading.time_s)?;
            let air_k = day.setup.air.temperature_k;
            Some(reading.look(seen.after, air_k).shown_k(true_k))
        });
        Ok((each.collect(), waited_s))
    };
    let (before, stated_s) = shown(stated, &[])?;
    let (after, fitted_s) = shown(&fitted, &fit.surfaces)?;
    let waited_s = stated_s.min(fitted_s);
    fit.waits = used.iter().any(|i| question.readings[*i].time_s > waited_s);

    // What is left of a reading's own deviation once it has pulled the fit towards itself.
    let left: Vec<f64> = (0..used.len())
        .map(|row| {
            let slope = sensitivities.row(row);
            let pull = (slope * covariance * slope.transpose())[(0, 0)];
            (1.0 - pull / (fit.widened * fit.widened)).max(0.05)
        })
        .collect();
    let alone: Vec<f64> =
        left.iter().zip(residuals.iter()).map(|(left, residual)| -residual / left.sqrt()).collect();
    let sum = residuals.norm_squared();
    let mut comparisons: Vec<Comparison> = (0..question.readings.len())
        .map(|i| Comparison {
            before_k: before[i],
            after_k: after[i],
            stands_out: 0.0,
            outlier: false,
            left_out: question.without.contains(&i),
        })
        .collect();
    for (row, i) in used.iter().enumerate() {
        // Judged by the scatter of the others, so that one that is far off does not hide behind itself.
        let others = if used.len() > 1 {
            ((sum - alone[row] * alone[row]) / (used.len() - 1) as f64).max(0.0).sqrt()
        } else {
            1.0
        };
        comparisons[*i].stands_out = alone[row] / others.max(1.0);
        comparisons[*i].outlier = comparisons[*i].stands_out.abs() > OUTLIER;
    }
    let rms = |of: &dyn Fn(&Comparison) -> Option<f64>| {
        let squares: f64 = used
            .iter()
            .map(|i| {
                of(&comparisons[*i]).map_or(0.0, |k| (k - question.readings[*i].shown_k).powi(2))
            })
            .sum();
        (squares / used.len() as f64).sqrt()
    };
    fit.rms_before_k = rms(&|comparison| comparison.before_k);
    fit.rms_after_k = rms(&|comparison| comparison.after_k);
    fit.comparisons = comparisons;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::chi_square_99;

    /// Quantiles of any table of chi-square (NIST/SEMATECH e-Handbook, 1.3.6.7.4; from memory).
    #[test]
    fn quantiles_are_those_of_the_table() {
        for (count, quantile) in [(5.0, 15.086), (10.0, 23.209), (20.0, 37.566), (50.0, 76.154)] {
            let found = chi_square_99(count);
            assert!((found - quantile).abs() < 0.01 * quantile, "{count}: {found}");
        }
    }
}
