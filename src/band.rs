//! The band of a day: what the temperatures may be, given what a shop does not know about its parameters.
//!
//! Propagation of distributions as in JCGM 101:2008: every parameter with a [`Spread`] is drawn from its
//! distribution, the day is simulated with each draw, and the interval that holds 95 % of the results with equal
//! shares on both sides is read from the sorted results (its clause 7.7; from memory).
//!
//! Draws are a Latin hypercube (McKay, Beckman & Conover 1979): of `n` draws exactly one lies in each `n`-th of
//! every parameter's distribution, in an order of its own. With some fifty parameters and two hundred draws a
//! low-discrepancy sequence would leave its pairs of high dimensions badly filled. The variance of a mean is at most
//! `n / (n − 1)` times that of plain random draws (Owen 1997), so a plain standard error is an upper bound.
//!
//! Where the scenario carries a calibration, draws are turned and narrowed to what the fit left in doubt (see
//! `scenario::calibration`).
//!
//! Assumes that the parameters are otherwise independent and the model right. Leaves out what carries no spread in the
//! table, because a shop knows it: its car, its fill, its timeline.

use crate::results::finish_s;
use crate::scenario::Scenario;
use crate::scenario::calibration::Known;
use crate::scenario::parameters::{PARAMETERS, Parameter, Setup};
use crate::simulate::simulate_outline;
use crate::timeline::{NODES, Node};
use crate::transmission::Transmission;

#[cfg(doc)]
use crate::scenario::parameters::Spread;

/// Share of the results inside the band: 19 of 20.
pub const COVERAGE: f64 = 0.95;
/// The same day always gets the same draws, unless a seed is stated.
pub const SEED: u64 = 1979;

/// A day's draws, simulated a few at a time by [`Band::step`]; or by several threads, for which [`Band::drawn`] computes
/// a draw by its number and [`Band::keep`] takes them in order.
pub struct Band {
    scenario: Scenario,
    /// With the value as stated (SI).
    spread: Vec<(&'static Parameter, f64)>,
    /// Their paths.
    paths: Vec<String>,
    /// What a fit to readings knows of them.
    known: Known,
    /// For every draw, a standard normal number for each spread parameter.
    deviations: Vec<Vec<f64>>,
    times_s: Vec<f64>,
    kept: Vec<Draw>,
    done: usize,
}

/// One simulated draw.
pub struct Draw {
    /// Temperatures (K) by time, then node.
    temperature_k: Vec<[f64; NODES]>,
    launches: Vec<DrawnLaunch>,
    peak_k: [f64; NODES],
}

impl Draw {
    /// All numbers in a row, to be handed from one worker to another; NaN where a launch has no round or elapsed time.
    pub fn numbers(&self) -> Vec<f64> {
        let mut numbers = vec![self.launches.len() as f64];
        numbers.extend(self.peak_k);
        for launch in &self.launches {
            numbers.push(launch.round.map_or(f64::NAN, f64::from));
            numbers.push(launch.elapsed_s.unwrap_or(f64::NAN));
            numbers.extend(launch.temperature_k);
        }
        numbers.extend(self.temperature_k.iter().flatten());
        numbers
    }

    /// The draw of such numbers; `None` for a row that is too short.
    pub fn of_numbers(numbers: &[f64]) -> Option<Draw> {
        let nodes = |row: &[f64]| row.get(..NODES)?.try_into().ok();
        let (count, rest) = numbers.split_first()?;
        let (count, width) = (*count as usize, 2 + NODES);
        let by_launch = rest.get(NODES..NODES + count.checked_mul(width)?)?;
        let launch = |row: &[f64]| {
            Some(DrawnLaunch {
                round: (!row[0].is_nan()).then_some(row[0] as u32),
                elapsed_s: (!row[1].is_nan()).then_some(row[1]),
                temperature_k: nodes(&row[2..])?,
            })
        };
        Some(Draw {
            peak_k: nodes(rest)?,
            launches: by_launch.chunks_exact(width).map(launch).collect::<Option<_>>()?,
            temperature_k: rest[NODES + by_launch.len()..]
                .chunks_exact(NODES)
                .map(nodes)
                .collect::<Option<_>>()?,
        })
    }
}

struct DrawnLaunch {
    round: Option<u32>,
    temperature_k: [f64; NODES],
    elapsed_s: Option<f64>,
}

/// The band of one launch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LaunchBand {
    pub round: Option<u32>,
    /// K, low and high, in the order of [`Node`].
    pub temperature_k: [(f64, f64); NODES],
    /// Elapsed time of a computed pass (s).
    pub elapsed_s: Option<(f64, f64)>,
}

/// What a fit to readings knows about a scenario's set-up; nothing without one.
pub fn calibrated(scenario: &Scenario) -> Known {
    let calibration = scenario.calibration.as_ref();
    calibration.map_or_else(Known::default, |calibration| calibration.holding(&scenario.setup))
}

/// The parameters that a shop does not know well, with their values in a set-up (SI), without those whose path is in
/// `known`.
pub fn spread_parameters(setup: &Setup, known: &[&str]) -> Vec<(&'static Parameter, f64)> {
    PARAMETERS
        .iter()
        .filter(|parameter| parameter.spread.is_some())
        .filter(|parameter| !known.contains(&parameter.path().as_str()))
        .map(|parameter| (parameter, parameter.value_si(setup)))
        .collect()
}

impl Band {
    /// Prepares `draws` draws of a day, to be read at `times_s` (s since its start); parameters whose path is in
    /// `known` stay as they are stated.
    pub fn new(scenario: Scenario, times_s: Vec<f64>, draws: usize, known: &[&str]) -> Band {
        Band::seeded(scenario, times_s, draws, known, SEED)
    }

    /// The same with other draws for every seed.
    pub fn seeded(
        scenario: Scenario,
        times_s: Vec<f64>,
        draws: usize,
        known: &[&str],
        seed: u64,
    ) -> Band {
        let spread = spread_parameters(&scenario.setup, known);
        let deviations = latin_hypercube(spread.len(), draws, seed)
            .into_iter()
            .map(|draw| draw.into_iter().map(normal_quantile).collect())
            .collect();
        let paths: Vec<String> = spread.iter().map(|(parameter, _)| parameter.path()).collect();
        let known = calibrated(&scenario).of(&paths);
        Band { scenario, spread, paths, known, deviations, times_s, kept: Vec::new(), done: 0 }
    }

    /// Simulates up to `count` further draws and gives how many are done of all. A draw that cannot be simulated is
    /// left out.
    pub fn step(&mut self, count: usize) -> usize {
        let last = (self.done + count).min(self.deviations.len());
        while self.done < last {
            let draw = self.drawn(self.done);
            self.keep(draw);
        }
        self.done
    }

    /// The independent standard normal numbers that make a draw, from 0, one for each parameter that is spread; `None` for
    /// a number that is none of this band's.
    pub fn deviations(&self, number: usize) -> Option<&[f64]> {
        self.deviations.get(number).map(Vec::as_slice)
    }

    /// The day of one draw, from 0, not simulated yet; `None` when there is no such draw.
    pub fn day(&self, number: usize) -> Option<Scenario> {
        let mut scenario = self.scenario.clone();
        let mut deviations = self.deviations.get(number)?.clone();
        self.known.correlate(&self.paths, &mut deviations);
        for ((parameter, stated_si), deviations) in self.spread.iter().zip(deviations) {
            let moved_si = parameter.moved_si(*stated_si, deviations);
            parameter.set_si(&mut scenario.setup, moved_si);
        }
        Some(scenario)
    }

    /// Simulates one draw, from 0; `None` when it cannot be simulated, or is none of this band.
    pub fn drawn(&self, number: usize) -> Option<Draw> {
        let scenario = self.day(number)?;
        let mut transmission = Transmission::new(&scenario.setup).ok()?;
        let outline = simulate_outline(&mut transmission, &scenario).ok()?;
        let at = |time_s: &f64| Node::ALL.map(|node| outline.temperature_at_k(node, *time_s));
        let drawn = outline.launches.iter().map(|launch| DrawnLaunch {
            round: launch.round,
            temperature_k: launch.temperature_k,
            elapsed_s: launch.pass.as_ref().and_then(finish_s),
        });
        Some(Draw {
            temperature_k: self.times_s.iter().map(at).collect(),
            launches: drawn.collect(),
            peak_k: Node::ALL.map(|node| outline.peak_k(node)),
        })
    }

    /// Takes the next draw as done.
    pub fn keep(&mut self, draw: Option<Draw>) {
        self.done += 1;
        self.kept.extend(draw);
    }

    /// Draws that were simulated; those done less these could not be.
    pub fn simulated(&self) -> usize {
        self.kept.len()
    }

    /// Low and high of the highest temperature that a node reaches (K); NaN before the first draw.
    pub fn peak_k(&self, node: Node) -> (f64, f64) {
        let peaks = self.kept.iter().map(|draw| draw.peak_k[node.index()]);
        coverage_interval(&mut peaks.collect::<Vec<f64>>(), COVERAGE)
    }

    /// Low and high temperature of a node at every time (K); empty before the first draw.
    pub fn node_k(&self, node: Node) -> (Vec<f64>, Vec<f64>) {
        if self.kept.is_empty() {
            return (Vec::new(), Vec::new());
        }
        (0..self.times_s.len())
            .map(|time| {
                let drawn = self.kept.iter().map(|draw| draw.temperature_k[time][node.index()]);
                coverage_interval(&mut drawn.collect::<Vec<f64>>(), COVERAGE)
            })
            .unzip()
    }

    /// The bands of the launches that every draw has.
    pub fn launches(&self) -> Vec<LaunchBand> {
        let count = self.kept.iter().map(|draw| draw.launches.len()).min().unwrap_or(0);
        let interval = |mut drawn: Vec<f64>| coverage_interval(&mut drawn, COVERAGE);
        (0..count)
            .map(|place| {
                let drawn = || self.kept.iter().map(|draw| &draw.launches[place]);
                let elapsed_s: Option<Vec<f64>> = drawn().map(|launch| launch.elapsed_s).collect();
                LaunchBand {
                    round: drawn().next().and_then(|launch| launch.round),
                    temperature_k: Node::ALL.map(|node| {
                        interval(drawn().map(|one| one.temperature_k[node.index()]).collect())
                    }),
                    elapsed_s: elapsed_s.map(interval),
                }
            })
            .collect()
    }
}

/// `draws` points of the open unit cube in `dimensions`, one in each `draws`-th of every axis.
pub fn latin_hypercube(dimensions: usize, draws: usize, seed: u64) -> Vec<Vec<f64>> {
    let mut random = SplitMix64(seed);
    let mut points = vec![Vec::with_capacity(dimensions); draws];
    let mut order: Vec<usize> = (0..draws).collect();
    for _ in 0..dimensions {
        for last in (1..draws).rev() {
            let other = (random.unit() * (last + 1) as f64) as usize;
            order.swap(last, other);
        }
        for (point, stratum) in points.iter_mut().zip(&order) {
            point.push((*stratum as f64 + random.unit()) / draws as f64);
        }
    }
    points
}

/// Random numbers by SplitMix64 (Steele, Lea & Flood 2014).
struct SplitMix64(u64);

impl SplitMix64 {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// Between 0 and 1, neither of them: the middle of one of 2^52 equal parts.
    fn unit(&mut self) -> f64 {
        ((self.next() >> 12) as f64 + 0.5) / (1u64 << 52) as f64
    }
}

/// The standard normal quantile of a probability between 0 and 1: algorithm AS 241, PPND7 (Wichura 1988), good
/// to about one part in 10^7.
pub fn normal_quantile(probability: f64) -> f64 {
    let q = probability - 0.5;
    if q.abs() <= 0.425 {
        let r = 0.180625 - q * q;
        let above = ((59.109374720 * r + 159.29113202) * r + 50.434271938) * r + 3.3871327179;
        let below = ((67.187563600 * r + 78.757757664) * r + 17.895169469) * r + 1.0;
        return q * above / below;
    }
    let r = (-probability.min(1.0 - probability).ln()).sqrt();
    let size = if r <= 5.0 {
        let r = r - 1.6;
        (((0.17023821103 * r + 1.3067284816) * r + 2.7568153900) * r + 1.4234372777)
            / ((0.12021132975 * r + 0.73700164250) * r + 1.0)
    } else {
        let r = r - 5.0;
        (((0.017337203997 * r + 0.42868294337) * r + 3.0812263860) * r + 6.6579051150)
            / ((0.012258202635 * r + 0.24197894225) * r + 1.0)
    };
    if q < 0.0 { -size } else { size }
}

/// The interval that holds the share `coverage` of the values, with as many below as above, or one more below where
/// they cannot be shared evenly; sorts them. NaN twice for no values. JCGM 101:2008, 7.7.2 (from memory).
pub fn coverage_interval(values: &mut [f64], coverage: f64) -> (f64, f64) {
    let count = values.len();
    if count == 0 {
        return (f64::NAN, f64::NAN);
    }
    values.sort_unstable_by(f64::total_cmp);
    let inside = (coverage * count as f64 + 0.5).floor() as usize;
    let below = count.saturating_sub(inside).div_ceil(2).max(1);
    (values[below - 1], values[(below + inside).min(count) - 1])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Seed 1234567, as published with the algorithm's public-domain C code (rosettacode.org, "Pseudo-random
    /// numbers/Splitmix64"; from memory).
    #[test]
    fn random_numbers_are_those_published() {
        let mut random = SplitMix64(1_234_567);
        let first = [random.next(), random.next(), random.next()];
        let published = [6457827717110365317, 3203168211198807973, 9817491932198370423];
        assert_eq!(first, published);
    }
}
