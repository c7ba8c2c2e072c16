//! What the model expects the instruments of a test to show, and how far that is uncertain.
//!
//! The unit's parameters are drawn from their spreads (see `band`; after a fit from what it left of them), the emissivity
//! of every infrared spot from its own. Mean and covariance of what the instruments then show, with the instruments' own
//! errors added, are the expectation: a normal distribution over all readings of the test at once. A single reading lies in
//! its band when it is within 1.96 standard deviations, as nineteen of twenty readings of a sound unit are.

use nalgebra::{DMatrix, DVector};

use super::record::{Port, Pressure, Record};
use crate::band::{Band, latin_hypercube, normal_quantile};
use crate::error::Error;
use crate::outline::Outline;
use crate::readings::{Place, Reading, Scene};
use crate::scenario::Scenario;
use crate::simulate::simulate_outline;
use crate::transmission::Transmission;

/// Units drawn.
pub const DRAWS: usize = 240;
/// Decides the draws of emissivities.
const SEED: u64 = 810;
/// Half width of a band in standard deviations.
pub const WIDE: f64 = 1.959_964;

/// A number of the record that the model has something to say to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shown {
    /// Place in the record's readings.
    Reading(usize),
    /// Place in the record's pressures.
    Pressure(usize),
}

/// What is expected of a test.
#[derive(Debug, Clone)]
pub struct Expected {
    /// In the order of all vectors: readings, then pressures, without those the model has no number for.
    pub of: Vec<Shown>,
    /// As shown (K, Pa).
    pub shown: DVector<f64>,
    /// By the day as stated, and the mean of the draws.
    pub stated: DVector<f64>,
    pub mean: DVector<f64>,
    /// With the instruments' errors.
    pub covariance: DMatrix<f64>,
    /// Draws that could be simulated.
    pub simulated: usize,
}

impl Expected {
    /// Ends of the band of one number (K, Pa).
    pub fn band(&self, row: usize) -> (f64, f64) {
        let half = WIDE * self.covariance[(row, row)].sqrt();
        (self.mean[row] - half, self.mean[row] + half)
    }
}

/// How a test deviates from what is stated, apart from the set-up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Instruments<'a> {
    /// Added to what the pan gauge shows (K).
    pub pan_offset_k: f64,
    /// What emissivities of infrared spots are multiplied by.
    pub emissivity_share: f64,
    /// Emissivities' deviations, in their own, by place.
    pub emissivities: &'a [f64],
}

/// Instruments as stated.
pub const AS_STATED: Instruments =
    Instruments { pan_offset_k: 0.0, emissivity_share: 1.0, emissivities: &[] };

/// What the instruments show of a day (K, Pa), by number of the record; `None` where the model has nothing.
pub fn shown_of(
    record: &Record,
    day: &Scenario,
    instruments: &Instruments,
) -> Result<Vec<Option<f64>>, Error> {
    let mut transmission = Transmission::new(&day.setup)?;
    let outline: Outline = simulate_outline(&mut transmission, day)?;
    let mut scene = Scene { scenario: day, transmission: &mut transmission, outline: &outline };
    let mut shown: Vec<Option<f64>> = Vec::new();
    for reading in &record.readings {
        shown.push(reading_of(&mut scene, reading, instruments));
    }
    for pressure in &record.pressures {
        shown.push(pressure_of(&mut scene, pressure));
    }
    Ok(shown)
}

fn reading_of(scene: &mut Scene, reading: &Reading, instruments: &Instruments) -> Option<f64> {
    let true_k = scene.temperature_k(reading.place, reading.time_s)?;
    let Some((emissivity, deviation)) = reading.surface_emissivity() else {
        let is_pan = reading.place == Place::Pan;
        return Some(true_k + if is_pan { instruments.pan_offset_k } else { 0.0 });
    };
    let place = Place::ALL.iter().position(|place| *place == reading.place)?;
    let moved = instruments.emissivities.get(place).copied().unwrap_or(0.0) * deviation;
    let emissivity = ((emissivity + moved) * instruments.emissivity_share).clamp(0.02, 1.0);
    let air_k = scene.scenario.setup.air.temperature_k;
    Some(reading.look(emissivity, air_k).shown_k(true_k))
}

fn pressure_of(scene: &mut Scene, pressure: &Pressure) -> Option<f64> {
    let (line_pa, charge_pa) = scene.pressures_pa(pressure.time_s)?;
    Some(match pressure.port {
        Port::Line => line_pa,
        Port::Charge => charge_pa,
    })
}

/// Computes what is expected.
pub fn expect(record: &Record) -> Result<Expected, Error> {
    let stated = shown_of(record, &record.scenario, &AS_STATED)?;
    let readings = record.readings.len();
    let rows: Vec<usize> = (0..stated.len()).filter(|row| stated[*row].is_some()).collect();
    let of =
        rows.iter()
            .map(|row| {
                if *row < readings {
                    Shown::Reading(*row)
                } else {
                    Shown::Pressure(*row - readings)
                }
            })
            .collect();
    let picked = |shown: &[Option<f64>]| -> Option<DVector<f64>> {
        let numbers: Option<Vec<f64>> = rows.iter().map(|row| shown[*row]).collect();
        numbers.map(DVector::from_vec)
    };
    let band = Band::new(record.scenario.clone(), Vec::new(), DRAWS, &[]);
    let emissivities = latin_hypercube(Place::ALL.len(), DRAWS, SEED);
    let mut drawn: Vec<DVector<f64>> = Vec::with_capacity(DRAWS);
    for (number, spots) in emissivities.iter().enumerate() {
        let Some(day) = band.day(number) else { continue };
        let spots: Vec<f64> = spots.iter().map(|share| normal_quantile(*share)).collect();
        let instruments = Instruments { emissivities: &spots, ..AS_STATED };
        // A draw that cannot be simulated, or shows nothing where the stated day does, is left out.
        if let Ok(shown) = shown_of(record, &day, &instruments) {
            drawn.extend(picked(&shown));
        }
    }
    let count = rows.len();
    let simulated = drawn.len();
    let share = 1.0 / simulated.max(1) as f64;
    let mean = drawn.iter().fold(DVector::zeros(count), |sum, one| sum + one) * share;
    let mut covariance = DMatrix::zeros(count, count);
    for one in &drawn {
        let off = one - &mean;
        covariance += &off * off.transpose() * share;
    }
    for (place, row) in rows.iter().enumerate() {
        let deviation = if *row < readings {
            record.readings[*row].deviation_k
        } else {
            record.pressures[*row - readings].deviation_pa
        };
        covariance[(place, place)] += deviation * deviation;
    }
    let shown = rows.iter().map(|row| {
        if *row < readings {
            record.readings[*row].shown_k
        } else {
            record.pressures[*row - readings].shown_pa
        }
    });
    Ok(Expected {
        of,
        shown: DVector::from_iterator(count, shown),
        stated: picked(&stated).unwrap_or_else(|| DVector::zeros(count)),
        mean,
        covariance,
        simulated,
    })
}
