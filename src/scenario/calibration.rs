//! The `calibration` of a scenario file: how well a fit to readings knows the parameters it moved.
//!
//! A parameter that a shop does not know has a spread in the table. In units of these spreads, and of their logarithms
//! where they are shares, the table's doubt about all parameters is the unit matrix. Readings take away from it what they
//! tell: after a fit it is `I − Σ uₖuₖᵀ`, with a few directions uₖ, each no longer than one. A direction of length one is
//! known for certain; a direction that readings say nothing of is not listed. Only these directions stand in the file,
//! each as a text of numbers, one for each parameter.
//!
//! A calibration holds for the values that the fit gave. A parameter that has another one since (a new cooler) is in doubt
//! as the table has it, and what is known of the others stays as it is: the marginal of the fit.

use nalgebra::DMatrix;
use serde_json::{Map, Value, json};

use super::json::Reader;
use super::parameters::{Parameter, Setup, of_path};
use super::setup::read_parameter;
use crate::decimal::decimal;
use crate::error::{Error, ErrorKind};

/// Longest direction that is believed: a deviation of a thirtieth of the table's is left.
const LONGEST: f64 = 0.9995;
/// Values that differ by less than this share are the same: they are written with five digits.
const SAME: f64 = 1e-4;

/// What a fit knows.
#[derive(Debug, Clone, PartialEq)]
pub struct Calibration {
    /// Where it is from, in the user's words.
    pub note: String,
    /// Path of each parameter and the value that the fit gave it (SI).
    pub parameters: Vec<(String, f64)>,
    /// Directions, each by parameter.
    pub known: Vec<Vec<f64>>,
}

/// What of a calibration holds for a set-up, with directions at right angles to each other.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Known {
    paths: Vec<String>,
    /// Of length one, by parameter, and how much is known along each: below one.
    directions: Vec<(Vec<f64>, f64)>,
}

impl Calibration {
    /// What holds for a set-up: for parameters that still have the value of the fit.
    pub fn holding(&self, setup: &Setup) -> Known {
        let same = |(path, fitted_si): &(String, f64)| {
            of_path(path).is_some_and(|parameter| {
                let value_si = parameter.value_si(setup);
                (value_si - fitted_si).abs() <= SAME * fitted_si.abs().max(value_si.abs())
            })
        };
        let held: Vec<usize> =
            (0..self.parameters.len()).filter(|i| same(&self.parameters[*i])).collect();
        let rows: Vec<Vec<f64>> =
            self.known.iter().map(|row| held.iter().map(|i| row[*i]).collect()).collect();
        let paths = held.iter().map(|i| self.parameters[*i].0.clone()).collect();
        Known { paths, directions: at_right_angles(&rows) }
    }

    /// As a file has it.
    pub fn to_json(&self) -> Value {
        let mut parameters = Map::new();
        for (path, value_si) in &self.parameters {
            if let Some(parameter) = of_path(path) {
                parameters.insert(path.clone(), json!(written(parameter, *value_si)));
            }
        }
        let row = |row: &Vec<f64>| {
            row.iter().map(|part| (part + 0.0).to_string()).collect::<Vec<_>>().join(" ")
        };
        let known: Vec<String> = self.known.iter().map(row).collect();
        json!({ "note": self.note, "parameters": parameters, "known": known })
    }
}

impl Known {
    /// Turns independent standard normal numbers, one for each parameter, into ones that spread as the fit leaves them:
    /// multiplies by the root of `I − Σ uₖuₖᵀ`.
    pub fn correlate(&self, paths: &[String], deviations: &mut [f64]) {
        let places: Vec<Option<usize>> =
            self.paths.iter().map(|path| paths.iter().position(|p| p == path)).collect();
        for (direction, known) in &self.directions {
            let pairs = || direction.iter().zip(&places).filter_map(|(u, p)| p.map(|p| (*u, p)));
            let along: f64 = pairs().map(|(u, place)| u * deviations[place]).sum();
            let taken = (1.0 - (1.0 - known * known).sqrt()) * along;
            for (u, place) in pairs() {
                deviations[place] -= taken * u;
            }
        }
    }

    /// Standard deviation of a parameter, in units of its spread in the table.
    pub fn deviation(&self, path: &str) -> f64 {
        let Some(place) = self.paths.iter().position(|known| known == path) else { return 1.0 };
        let told = self.directions.iter().map(|(u, known)| (u[place] * known).powi(2)).sum::<f64>();
        (1.0 - told).max(0.0).sqrt()
    }

    /// What is known of these parameters alone: the marginal.
    pub fn of(&self, paths: &[String]) -> Known {
        let places: Vec<Option<usize>> =
            paths.iter().map(|path| self.paths.iter().position(|own| own == path)).collect();
        let row = |(direction, known): &(Vec<f64>, f64)| {
            places.iter().map(|place| place.map_or(0.0, |place| direction[place] * known)).collect()
        };
        let rows: Vec<Vec<f64>> = self.directions.iter().map(row).collect();
        Known { paths: paths.to_vec(), directions: at_right_angles(&rows) }
    }

    /// The parameters it is about.
    pub fn paths(&self) -> &[String] {
        &self.paths
    }
}

/// The same directions, turned so that each stands at right angles to the others, in lengths and units; rounding in a
/// file may have bent them.
fn at_right_angles(rows: &[Vec<f64>]) -> Vec<(Vec<f64>, f64)> {
    let count = rows.first().map_or(0, Vec::len);
    if count == 0 {
        return Vec::new();
    }
    let matrix = DMatrix::from_fn(rows.len(), count, |r, c| rows[r][c]);
    let parts = matrix.svd(false, true);
    let Some(right) = parts.v_t else { return Vec::new() };
    let length = |k: usize| parts.singular_values[k].min(LONGEST);
    (0..right.nrows())
        .map(|k| (right.row(k).iter().copied().collect(), length(k)))
        .filter(|(_, length)| *length > 0.0)
        .collect()
}

/// A value as a fit writes it into a file: five digits in the SI display unit.
pub fn written(parameter: &Parameter, value_si: f64) -> String {
    let unit = parameter.display_unit();
    let value = format!("{:.4e}", unit.from_si(value_si)).parse().unwrap_or(0.0_f64);
    if unit.symbol.is_empty() { value.to_string() } else { format!("{value} {}", unit.symbol) }
}

/// Reads `calibration`; by itself, because most days state none.
#[inline(never)]
pub fn read(reader: Reader) -> Result<Calibration, Error> {
    let object = reader.object()?;
    object.only(&["note", "parameters", "known"])?;
    let note = match object.optional("note") {
        Some(note) => note.text(200, false)?,
        None => String::new(),
    };
    let mut parameters = Vec::new();
    let stated = object.required("parameters", "\"parameters\": { … }")?;
    for (path, value) in stated.object()?.entries() {
        let Some(parameter) = of_path(path).filter(|parameter| parameter.spread.is_some()) else {
            return Err(value.error(
                ErrorKind::UnknownKey,
                "a parameter with a spread, by part and key, as in docs/parameters.md",
                "Make the fit again with this version.",
            ));
        };
        parameters.push((path.to_string(), read_parameter(&value, parameter)?));
    }
    let mut known = Vec::new();
    let rows = object.required("known", "\"known\": [ … ]")?;
    for row in rows.list()? {
        let text = row.text(2_000, false)?;
        let numbers: Option<Vec<f64>> = text.split_whitespace().map(decimal).collect();
        let fits = |numbers: &Vec<f64>| {
            let length: f64 = numbers.iter().map(|n| n * n).sum();
            numbers.len() == parameters.len() && length <= 1.05
        };
        known.push(numbers.filter(fits).ok_or_else(|| {
            row.error(
                ErrorKind::OutOfRange,
                format!("{} numbers, the parts of a direction no longer than 1", parameters.len()),
                "Make the fit again.",
            )
        })?);
    }
    if known.len() > parameters.len() {
        return Err(rows.error(
            ErrorKind::TooLarge,
            format!("at most {} directions, one for each parameter", parameters.len()),
            "Make the fit again.",
        ));
    }
    Ok(Calibration { note, parameters, known })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn calibration(known: Vec<Vec<f64>>) -> Calibration {
        let setup = Setup::default();
        let paths = ["converter.shell_mass", "transmission.case_mass", "cooler.ua"];
        let value = |path: &str| of_path(path).map_or(f64::NAN, |p| p.value_si(&setup));
        let parameters = paths.iter().map(|path| (path.to_string(), value(path))).collect();
        Calibration { note: String::new(), parameters, known }
    }

    /// The covariance of `root·g` is `root·rootᵀ`, and that is to be I − Σ uuᵀ.
    #[test]
    fn correlated_numbers_have_the_covariance_of_the_fit() {
        let rows = vec![vec![0.6, 0.5, 0.1], vec![0.1, -0.3, 0.8]];
        let known = calibration(rows.clone()).holding(&Setup::default());
        let paths: Vec<String> = known.paths().to_vec();
        let root: Vec<Vec<f64>> = (0..3)
            .map(|i| {
                let mut unit = vec![0.0; 3];
                unit[i] = 1.0;
                known.correlate(&paths, &mut unit);
                unit
            })
            .collect();
        for i in 0..3 {
            for j in 0..3 {
                let found: f64 = (0..3).map(|k| root[k][i] * root[k][j]).sum();
                let told: f64 = rows.iter().map(|row| row[i] * row[j]).sum();
                let wanted = f64::from(u8::from(i == j)) - told;
                assert!((found - wanted).abs() < 1e-12, "{i} {j}: {found} instead of {wanted}");
            }
            let wanted = (1.0 - rows.iter().map(|row| row[i] * row[i]).sum::<f64>()).sqrt();
            assert!((known.deviation(&paths[i]) - wanted).abs() < 1e-12);
        }
    }

    #[test]
    fn a_changed_parameter_is_in_doubt_again() {
        let mut setup = Setup::default();
        setup.cooler.ua_w_per_k *= 1.5;
        let known = calibration(vec![vec![0.6, 0.0, 0.7]]).holding(&setup);
        assert_eq!(known.paths().len(), 2);
        assert_eq!(known.deviation("cooler.ua"), 1.0);
        assert!((known.deviation("converter.shell_mass") - 0.8).abs() < 1e-12);
    }
}
