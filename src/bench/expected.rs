//! What the model expects the instruments of a test to show, and how far that is uncertain.
//!
//! The unit's parameters are drawn from their spreads (see `band`; after a fit from what it left of them), the emissivity
//! of every infrared spot from its own. Mean and covariance of what the instruments then show, with the instruments' own
//! errors added, are the expectation: a normal distribution over all readings of the test at once. A single reading lies in
//! its band when it is within 1.96 standard deviations, as nineteen of twenty readings of a sound unit are.
//!
//! What is shown is regressed on the standard normal numbers z that made the draws, `shown ≈ m + Jz`, and the covariance is
//! `JJᵀ + D` with D the variances of what the straight line leaves and of the instruments. The draws' own scatter would
//! know the covariance of a hundred readings badly, and a fault would seem to explain what is nothing but that.
//!
//! A test that waited for a temperature is taken to have waited as long as the unit as stated would.

use nalgebra::{DMatrix, DVector};

use super::record::{Port, Pressure, Record};
use crate::band::{Band, latin_hypercube, normal_quantile};
use crate::error::Error;
use crate::outline::Outline;
use crate::readings::{Place, Reading, Scene};
use crate::scenario::Scenario;
use crate::simulate::{simulate, simulate_outline};
use crate::timeline::EventEnd;
use crate::transmission::Transmission;

/// Units drawn.
pub const DRAWS: usize = 240;
/// Decides the draws of emissivities.
const SEED: u64 = 810;
/// Fewest draws beyond the number of slopes with which these are told.
const LEAST_FREE: usize = 30;
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
    /// The test's day, with times in place of waits for temperatures.
    pub scenario: Scenario,
    /// Whether there were any.
    pub waited: bool,
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

/// The same day with waits for temperatures replaced by the times that they took, and whether there were any.
fn with_times(scenario: &Scenario) -> Result<(Scenario, bool), Error> {
    let waits = |end: &EventEnd| matches!(end, EventEnd::Until { .. });
    let mut timed = scenario.clone();
    if !scenario.blocks.iter().flat_map(|block| &block.events).any(|event| waits(&event.end)) {
        return Ok((timed, false));
    }
    for record in &simulate(scenario)?.events {
        let Some((block, event)) = record.place else { continue };
        let event = timed.blocks.get_mut(block).and_then(|block| block.events.get_mut(event));
        if let Some(event) = event.filter(|event| waits(&event.end)) {
            event.end = EventEnd::Duration(record.end_s - record.start_s);
        }
    }
    Ok((timed, true))
}

/// A draw: the standard normal numbers that made it, and what was shown.
struct Drawn {
    z: Vec<f64>,
    shown: DVector<f64>,
}

/// Mean, and covariance without the instruments' errors.
fn moments(drawn: &[Drawn], count: usize) -> (DVector<f64>, DMatrix<f64>) {
    let share = 1.0 / drawn.len().max(1) as f64;
    let mean = drawn.iter().fold(DVector::zeros(count), |sum, one| sum + &one.shown) * share;
    let off = DMatrix::from_fn(drawn.len(), count, |r, c| drawn[r].shown[c] - mean[c]);
    let width = 1 + drawn.first().map_or(0, |one| one.z.len());
    let made_of =
        DMatrix::from_fn(drawn.len(), width, |r, c| if c == 0 { 1.0 } else { drawn[r].z[c - 1] });
    let free = drawn.len().saturating_sub(width);
    let solved = (made_of.transpose() * &made_of).cholesky().filter(|_| free >= LEAST_FREE);
    let Some(solved) = solved else {
        // Too few draws could be simulated to tell the slopes.
        return (mean, off.transpose() * &off * share);
    };
    let slopes = solved.solve(&(made_of.transpose() * &off));
    let left = &off - &made_of * &slopes;
    let slopes = slopes.rows(1, width - 1);
    let mut covariance = slopes.transpose() * slopes;
    for row in 0..count {
        covariance[(row, row)] += left.column(row).norm_squared() / free as f64;
    }
    (mean, covariance)
}

/// Computes what is expected.
pub fn expect(record: &Record) -> Result<Expected, Error> {
    let (scenario, waited) = with_times(&record.scenario)?;
    let stated = shown_of(record, &scenario, &AS_STATED)?;
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
    let band = Band::new(scenario.clone(), Vec::new(), DRAWS, &[]);
    let emissivities = latin_hypercube(Place::ALL.len(), DRAWS, SEED);
    // Spots that nobody looked at explain nothing.
    let looked_at = Place::ALL.map(|place| {
        let here = record.readings.iter().filter(|reading| reading.place == place);
        here.into_iter().any(|reading| reading.surface_emissivity().is_some())
    });
    let mut drawn: Vec<Drawn> = Vec::with_capacity(DRAWS);
    for (number, spots) in emissivities.iter().enumerate() {
        let Some(day) = band.day(number) else { continue };
        let spots: Vec<f64> = spots.iter().map(|share| normal_quantile(*share)).collect();
        let instruments = Instruments { emissivities: &spots, ..AS_STATED };
        // A draw that cannot be simulated, or shows nothing where the stated day does, is left out.
        let shown = shown_of(record, &day, &instruments).ok();
        let Some(shown) = shown.and_then(|shown| picked(&shown)) else { continue };
        let mut z = band.deviations(number).unwrap_or_default().to_vec();
        z.extend(spots.iter().zip(looked_at).filter(|(_, looked_at)| *looked_at).map(|(z, _)| z));
        drawn.push(Drawn { z, shown });
    }
    let count = rows.len();
    let (mean, mut covariance) = moments(&drawn, count);
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
        simulated: drawn.len(),
        scenario,
        waited,
    })
}
