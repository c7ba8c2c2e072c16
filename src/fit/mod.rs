//! A set-up fitted to readings: the parameters that may move, moved until the day computed from them agrees with what
//! was read, and how well that is known.
//!
//! What is fitted is what instruments show: the model's temperature of a place, seen through the emissivity of the surface
//! there (see `thermometer`). Parameters move in units of their spread in the table, `z`, of its logarithm where it is a
//! share, and so does the emissivity of every kind of surface. Minimised is
//!
//! `Σ ((shown by the model − shown) / σ)² + Σ z²`,
//!
//! σ being the standard deviation of a reading: the mode of the posterior, with the table's spreads as the prior (Gelman
//! et al., Bayesian Data Analysis, 4; from memory). Its covariance is `(I + JᵀJ)⁻¹` with J the derivatives of the readings,
//! in units of σ, by z. Where the sum at the minimum is larger than 99 of 100 fits have it, σ was stated too small, or
//! the model is not that of this unit; then σ is taken larger by the root of the mean square.
//!
//! A set-up that was fitted before brings what it knows along as the prior (see `scenario::calibration`).
//!
//! Assumes that readings err independently and about normally, that the model is right, and that the parameters which
//! the readings do not feel may stay where they are. Leaves out errors of the clock and of the timeline: a hold that was
//! longer than stated ends up in the parameters.

pub mod chart;
pub mod least_squares;
mod outcome;
mod words;
mod written;

pub use outcome::{Comparison, Fit, FittedParameter, FittedSurface, Together};
pub use words::{FitSummary, ParameterLine, ReadingLine, summary};
pub use written::apply;

use std::cell::{Cell, RefCell};

use nalgebra::{DMatrix, DVector};

use crate::band::{calibrated, spread_parameters};
use crate::error::{Error, ErrorKind};
use crate::readings::{Place, Reading, Scene, Surface};
use crate::scenario::Scenario;
use crate::scenario::calibration::Known;
use crate::scenario::parameters::{Parameter, Setup, nearest_path, of_path};
use crate::simulate::simulate_outline;
use crate::transmission::Transmission;
use crate::units::clock_seconds_text;
use least_squares::{Problem, Step, minimise};

/// Which parameters may move.
#[derive(Debug, Clone, PartialEq)]
pub enum Free {
    /// All that carry a spread in the table and that the readings feel.
    Felt,
    /// These, by path.
    Named(Vec<String>),
}

/// What is to be fitted.
#[derive(Debug, Clone)]
pub struct Question<'a> {
    pub scenario: &'a Scenario,
    pub readings: &'a [Reading],
    pub free: Free,
    /// Readings left out, by place in `readings`.
    pub without: Vec<usize>,
}

/// The derivative of a day by a parameter is taken over this many spreads to either side: wide enough that the steps of
/// the integration, which fall elsewhere every time, do not show (see tests/fit.rs for how exact it is).
const STEP: f64 = 0.3;
/// Farthest that a parameter moves, in spreads.
const FARTHEST: f64 = 5.0;
/// A parameter is felt when a spread of it moves the readings by this much of their deviations, all together.
const FELT: f64 = 0.1;
/// Relative change at which the search has settled.
const SETTLED: f64 = 1e-5;

/// Fits; `progress` is told after every simulated day how many there were.
pub fn fit(question: &Question, progress: &mut dyn FnMut(usize)) -> Result<Fit, Error> {
    let used: Vec<usize> =
        (0..question.readings.len()).filter(|i| !question.without.contains(i)).collect();
    if used.is_empty() {
        return Err(Error::new(
            ErrorKind::Missing,
            "readings",
            "none",
            "at least one reading",
            "Add readings, or leave fewer out.",
        ));
    }
    let parameters = allowed(question)?;
    let days = Cell::new(0);
    let progress = RefCell::new(progress);
    let counted = || {
        days.set(days.get() + 1);
        progress.borrow_mut()(days.get());
    };
    let mut model = Model {
        scenario: question.scenario,
        readings: used.iter().map(|i| &question.readings[*i]).collect(),
        known: Known::default(),
        paths: Vec::new(),
        parameters,
        surfaces: Vec::new(),
    };
    model.find_surfaces();
    model.check()?;
    if question.free == Free::Felt {
        model.keep_felt(&counted)?;
    }
    model.paths = model.parameters.iter().map(|(parameter, _)| parameter.path()).collect();
    model.known = calibrated(question.scenario).of(&model.paths);

    let residuals = |w: &[f64]| {
        counted();
        let shown_k = model.shown_k(w)?;
        let of_readings = model.readings.iter().zip(shown_k);
        let mut residuals: Vec<f64> =
            of_readings.map(|(r, shown_k)| (shown_k - r.shown_k) / r.deviation_k).collect();
        residuals.extend(w);
        Some(residuals)
    };
    let problem = Problem {
        residuals: &residuals,
        bounds: vec![(-FARTHEST, FARTHEST); model.count()],
        step: Step::Absolute(STEP),
        patience: 20,
        strides: &[100.0],
        tolerance: Some(SETTLED),
    };
    let start = vec![0.0; model.count()];
    let minimum = minimise(&problem, &start).ok_or_else(no_answer)?;
    let moved = model.setup(&minimum.x);
    let sensitivities = minimum.jacobian.rows(0, model.readings.len()).into_owned();
    let root = model.root();
    outcome::outcome(
        question,
        outcome::Solved {
            used,
            parameters: &model.parameters,
            surfaces: model.surfaces(&minimum.x),
            deviations: &root * DVector::from_column_slice(&minimum.x),
            root,
            residuals: minimum.residuals,
            sensitivities,
            setup: moved,
            settled: minimum.settled,
            days: days.get(),
        },
    )
}

fn no_answer() -> Error {
    Error::new(
        ErrorKind::Solver,
        "fit",
        "no set-up found whose day can be computed",
        "readings that some set-up near the stated one can show",
        "Check the timeline and the readings; free fewer parameters.",
    )
}

/// The parameters that may move, with their values (SI).
fn allowed(question: &Question) -> Result<Vec<(&'static Parameter, f64)>, Error> {
    let setup = &question.scenario.setup;
    let Free::Named(paths) = &question.free else { return Ok(spread_parameters(setup, &[])) };
    let mut named = Vec::new();
    for path in paths {
        let is_in_doubt = |parameter: &Parameter| parameter.spread.is_some();
        let known = of_path(path);
        let Some(parameter) = known.filter(|parameter| is_in_doubt(parameter)) else {
            let nearest = nearest_path(path, is_in_doubt);
            return Err(if known.is_some() {
                Error::new(
                    ErrorKind::OutOfRange,
                    "free parameters",
                    path,
                    "a parameter with a spread, which a shop does not know for certain",
                    format!(
                        "State this one as it is on the car; nearest that may move: {nearest}."
                    ),
                )
            } else {
                Error::new(
                    ErrorKind::UnknownKey,
                    "free parameters",
                    path,
                    "part and key of a parameter, as in docs/parameters.md",
                    format!("Did you mean {nearest}?"),
                )
            });
        };
        if named.iter().all(|(known, _): &(&Parameter, f64)| known.path() != *path) {
            named.push((parameter, parameter.value_si(setup)));
        }
    }
    Ok(named)
}

/// One kind of surface that readings looked at, with its emissivity and the deviation of that.
#[derive(Clone, Copy)]
struct Covering {
    surface: Surface,
    stated: Option<f64>,
    place: Place,
    emissivity: f64,
    deviation: f64,
}

/// The readings as the model shows them.
struct Model<'a> {
    scenario: &'a Scenario,
    readings: Vec<&'a Reading>,
    parameters: Vec<(&'static Parameter, f64)>,
    paths: Vec<String>,
    known: Known,
    surfaces: Vec<Covering>,
}

impl Model<'_> {
    /// Number of what is searched: independent standard numbers, first for the parameters, then for the surfaces.
    fn count(&self) -> usize {
        self.parameters.len() + self.surfaces.len()
    }

    /// Every spot has an emissivity of its own: a surface at a place, with the emissivity stated for it.
    fn find_surfaces(&mut self) {
        for reading in &self.readings {
            let Some((emissivity, deviation)) = reading.surface_emissivity() else { continue };
            let covering = Covering {
                surface: reading.surface,
                stated: reading.emissivity,
                place: reading.place,
                emissivity,
                deviation,
            };
            if self.surfaces.iter().all(|known| !covers(known, reading)) {
                self.surfaces.push(covering);
            }
        }
    }

    /// Refuses readings that the day as stated cannot show.
    fn check(&self) -> Result<(), Error> {
        let scenario = self.scenario;
        let mut transmission = Transmission::new(&scenario.setup)?;
        let outline = simulate_outline(&mut transmission, scenario)?;
        let last_s = outline.samples.last().map_or(0.0, |sample| sample.time_s);
        let mut scene = Scene { scenario, transmission: &mut transmission, outline: &outline };
        for reading in &self.readings {
            let field = format!(
                "reading at {}{} ({})",
                if reading.time_s < 0.0 { "−" } else { "" },
                clock_seconds_text(reading.time_s.abs()),
                reading.place.label()
            );
            if !(0.0..=last_s).contains(&reading.time_s) {
                let before = reading.time_s < 0.0;
                return Err(Error::new(
                    ErrorKind::OutOfRange,
                    field,
                    if before { "before the start of the day" } else { "after the end of the day" },
                    format!("the timeline lasts {}", clock_seconds_text(last_s)),
                    "Make the timeline as long as the test was; times count from its start.",
                ));
            }
            if scene.temperature_k(reading.place, reading.time_s).is_none() {
                return Err(Error::new(
                    ErrorKind::Contradiction,
                    field,
                    "nothing flows through the cooler then",
                    "a time at which the engine or the circulation pump runs",
                    "Leave the reading out, or mend the timeline.",
                ));
            }
        }
        Ok(())
    }

    /// Leaves out the parameters that the readings do not feel.
    fn keep_felt(&mut self, counted: &dyn Fn()) -> Result<(), Error> {
        let residuals = |z: &[f64]| {
            counted();
            let shown_k = self.shown_k(z)?;
            Some(self.readings.iter().zip(shown_k).map(|(r, k)| k / r.deviation_k).collect())
        };
        let problem = Problem {
            residuals: &residuals,
            bounds: vec![(-FARTHEST, FARTHEST); self.count()],
            step: Step::Absolute(STEP),
            patience: 1,
            strides: &[1.0],
            tolerance: None,
        };
        let every: Vec<usize> = (0..self.parameters.len()).collect();
        let start = vec![0.0; self.count()];
        let slopes = problem.jacobian(&Cell::new(0), &start, &every).ok_or_else(no_answer)?;
        let before = calibrated(self.scenario);
        let felt = |i: &usize| {
            let path = self.parameters[*i].0.path();
            slopes.column(*i).norm() >= FELT || before.paths().contains(&path)
        };
        let kept: Vec<(&'static Parameter, f64)> =
            every.iter().filter(|i| felt(i)).map(|i| self.parameters[*i]).collect();
        if kept.is_empty() {
            return Err(Error::new(
                ErrorKind::Contradiction,
                "readings",
                "they feel none of the parameters",
                "readings of a unit that has been heated",
                "Read temperatures while it warms and while it cools.",
            ));
        }
        self.parameters = kept;
        Ok(())
    }

    /// What turns the independent numbers into deviations of the parameters, in spreads.
    fn root(&self) -> DMatrix<f64> {
        let count = self.parameters.len();
        let columns = (0..count).map(|i| {
            let mut unit = vec![0.0; count];
            unit[i] = 1.0;
            self.known.correlate(&self.paths, &mut unit);
            DVector::from_vec(unit)
        });
        let mut root = DMatrix::zeros(count, self.count());
        for (i, column) in columns.enumerate() {
            root.set_column(i, &column);
        }
        root
    }

    fn setup(&self, w: &[f64]) -> Setup {
        let mut deviations = w[..self.parameters.len()].to_vec();
        self.known.correlate(&self.paths, &mut deviations);
        let mut setup = self.scenario.setup.clone();
        for ((parameter, stated_si), deviation) in self.parameters.iter().zip(deviations) {
            parameter.set_si(&mut setup, parameter.moved_si(*stated_si, deviation));
        }
        setup
    }

    fn emissivity(&self, place: usize, w: &[f64]) -> f64 {
        let covering = &self.surfaces[place];
        let deviations = w[self.parameters.len() + place];
        (covering.emissivity + deviations * covering.deviation).clamp(0.02, 1.0)
    }

    fn surfaces(&self, w: &[f64]) -> Vec<FittedSurface> {
        let fitted = |(i, covering): (usize, &Covering)| FittedSurface {
            surface: covering.surface,
            place: covering.place,
            before: covering.emissivity,
            after: self.emissivity(i, w),
            spread: covering.deviation,
            deviation: f64::NAN,
        };
        self.surfaces.iter().enumerate().map(fitted).collect()
    }

    /// What the instruments show (K), in the order of the readings; `None` where the day cannot be computed.
    fn shown_k(&self, w: &[f64]) -> Option<Vec<f64>> {
        let day = Scenario { setup: self.setup(w), ..self.scenario.clone() };
        let mut transmission = Transmission::new(&day.setup).ok()?;
        let outline = simulate_outline(&mut transmission, &day).ok()?;
        let mut scene =
            Scene { scenario: &day, transmission: &mut transmission, outline: &outline };
        self.readings
            .iter()
            .map(|reading| {
                let true_k = scene.temperature_k(reading.place, reading.time_s)?;
                let covering = self.surfaces.iter().position(|known| covers(known, reading));
                Some(match covering {
                    None => true_k,
                    Some(place) => {
                        let look =
                            reading.look(self.emissivity(place, w), day.setup.air.temperature_k);
                        look.shown_k(true_k)
                    }
                })
            })
            .collect()
    }
}

fn covers(covering: &Covering, reading: &Reading) -> bool {
    covering.surface == reading.surface
        && covering.stated == reading.emissivity
        && covering.place == reading.place
}

/// What instruments show (K) of a simulated day, with the usual emissivities; `None` where the model has no temperature.
pub fn shown_by(scene: &mut Scene, reading: &Reading) -> Option<f64> {
    let true_k = scene.temperature_k(reading.place, reading.time_s)?;
    let air_k = scene.scenario.setup.air.temperature_k;
    Some(match reading.surface_emissivity() {
        None => true_k,
        Some((emissivity, _)) => reading.look(emissivity, air_k).shown_k(true_k),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outline::Outline;
    use crate::scenario;
    use crate::simulate::simulate_with;
    use crate::solver::Tolerance;

    const BENCH: &str = r#"{"format": 1, "name": "bench", "timeline": [
        {"event": "idle", "duration": "6 min"},
        {"event": "brake_hold", "duration": "5 s", "engine_speed": "2500 rpm"},
        {"event": "idle", "duration": "2 min", "gear": "in_gear", "fan": "on"},
        {"event": "engine_off", "duration": "15 min"},
        {"event": "engine_off", "duration": "8 min", "circulation": "through_converter", "fan": "on"}
    ]}"#;

    /// Derivatives as the fit takes them, over a wide step of days integrated loosely, against Richardson's extrapolation
    /// (Press et al., Numerical Recipes, 5.7; from memory) over days integrated a hundred times as exactly as the page's.
    #[test]
    fn derivatives_are_within_a_hundredth_of_a_deviation() {
        let day = scenario::parse(BENCH).unwrap_or_else(|error| panic!("{error}"));
        let places = [Place::ConverterShell, Place::Pan, Place::Case, Place::CoolerOut];
        let mut readings = Vec::new();
        for minute in [4.0, 7.5, 15.0, 21.0, 26.0, 30.0] {
            for place in places {
                if place == Place::CoolerOut && (8.0..23.5).contains(&minute) {
                    continue;
                }
                readings.push(Reading {
                    time_s: 60.0 * minute,
                    place,
                    shown_k: 300.0,
                    surface: Surface::Contact,
                    emissivity: None,
                    setting: 0.95,
                    surroundings_k: None,
                    deviation_k: 2.0,
                    note: String::new(),
                });
            }
        }
        let parameters = spread_parameters(&day.setup, &[]);
        let paths = parameters.iter().map(|(parameter, _)| parameter.path()).collect();
        let model = Model {
            scenario: &day,
            readings: readings.iter().collect(),
            parameters,
            paths,
            known: Known::default(),
            surfaces: Vec::new(),
        };
        let residuals = |z: &[f64]| {
            let shown_k = model.shown_k(z)?;
            Some(shown_k.iter().map(|k| k / 2.0).collect())
        };
        let problem = Problem {
            residuals: &residuals,
            bounds: vec![(-FARTHEST, FARTHEST); model.count()],
            step: Step::Absolute(STEP),
            patience: 1,
            strides: &[1.0],
            tolerance: None,
        };
        let every: Vec<usize> = (0..model.count()).collect();
        let start = vec![0.0; model.count()];
        let found = problem.jacobian(&Cell::new(0), &start, &every).unwrap_or_else(|| panic!());

        let exact = |place: usize, by: f64| -> Vec<f64> {
            let mut z = start.clone();
            z[place] = by;
            let moved = Scenario { setup: model.setup(&z), ..day.clone() };
            let tolerance = Tolerance { relative: 3e-7, absolute: 3e-6 };
            let trace = simulate_with(&moved, tolerance).unwrap_or_else(|error| panic!("{error}"));
            let outline = Outline::from(trace);
            let mut transmission =
                Transmission::new(&moved.setup).unwrap_or_else(|error| panic!("{error}"));
            let mut scene =
                Scene { scenario: &moved, transmission: &mut transmission, outline: &outline };
            let at = |reading: &Reading| scene.temperature_k(reading.place, reading.time_s);
            readings.iter().map(at).map(|k| k.unwrap_or(f64::NAN) / 2.0).collect()
        };
        let mut worst: f64 = 0.0;
        for place in every {
            let slope = |h: f64| -> Vec<f64> {
                let (above, below) = (exact(place, h), exact(place, -h));
                above.iter().zip(below).map(|(a, b)| (a - b) / (2.0 * h)).collect()
            };
            let (wide, narrow) = (slope(0.2), slope(0.1));
            for (row, (wide, narrow)) in wide.iter().zip(&narrow).enumerate() {
                let extrapolated = (4.0 * narrow - wide) / 3.0;
                let error = (found[(row, place)] - extrapolated).abs();
                // One part in a hundred of what is large, a hundredth of a reading's deviation of what is small.
                let allowed = 0.01 + 0.01 * extrapolated.abs();
                let name = &model.paths[place];
                assert!(error < allowed, "{name}, {row}: {} {extrapolated}", found[(row, place)]);
                worst = worst.max(error);
            }
        }
        println!("derivatives are off by at most {worst:.4} deviations a spread");
    }
}
