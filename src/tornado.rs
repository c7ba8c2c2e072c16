//! What the numbers of a day hang on: one parameter at a time moved to the ends of what a shop may have, the others as
//! stated, and what that does to a measure of the day. Drawn with the largest on top it is called a tornado.
//!
//! Ends are the 2.5 % and 97.5 % quantiles of the parameter's distribution: for the normal and lognormal ones of the
//! table the value moved by ∓1.96 standard deviations. For a day that answers in proportion, half a bar is
//! 1.96·|cᵢ|·u(xᵢ), with cᵢ the sensitivity coefficient of JCGM 100:2008, 5.1.3, and the root of the sum of the squared
//! half bars is half the band of `band` (its 5.1.2; from memory).
//!
//! After a fit to readings a parameter's deviation is what the fit left of it; doubts that hang together there make the
//! band narrower than the bars.
//!
//! Leaves out what parameters do together: a day that answers out of proportion has a band that its bars do not add
//! up to.

use crate::band::{calibrated, spread_parameters};
use crate::results::finish_s;
use crate::scenario::Scenario;
use crate::scenario::calibration::Known;
use crate::scenario::parameters::Parameter;
use crate::simulate::simulate;
use crate::timeline::Node;
use crate::trace::Trace;
use crate::units::Dimension;

/// The normal quantile of 97.5 %.
pub const DEVIATIONS: f64 = 1.959964;

/// A number that a day is judged by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measure {
    /// Pan fluid at the last launch (K).
    LastPan,
    /// Highest temperature of the converter fluid (K).
    ConverterPeak,
    /// Hottest minus coldest launch, pan fluid (K).
    LaunchSpread,
    /// Elapsed time of the last computed pass (s).
    LastElapsed,
}

/// Number of measures.
pub const MEASURES: usize = 4;

impl Measure {
    /// All measures, in array order.
    pub const ALL: [Measure; MEASURES] =
        [Measure::LastPan, Measure::ConverterPeak, Measure::LaunchSpread, Measure::LastElapsed];

    /// Place in arrays.
    pub fn index(self) -> usize {
        self as usize
    }

    /// The name in JSON.
    pub fn key(self) -> &'static str {
        match self {
            Measure::LastPan => "last_pan",
            Measure::ConverterPeak => "converter_peak",
            Measure::LaunchSpread => "launch_spread",
            Measure::LastElapsed => "last_elapsed",
        }
    }

    /// The name for people.
    pub fn label(self) -> &'static str {
        match self {
            Measure::LastPan => "Pan fluid at the last launch",
            Measure::ConverterPeak => "Converter fluid, highest",
            Measure::LaunchSpread => "Pan fluid, hottest minus coldest launch",
            Measure::LastElapsed => "Elapsed time of the last pass",
        }
    }

    /// What it is measured in, SI.
    pub fn dimension(self) -> Dimension {
        match self {
            Measure::LastPan | Measure::ConverterPeak => Dimension::Temperature,
            Measure::LaunchSpread => Dimension::TemperatureDifference,
            Measure::LastElapsed => Dimension::Time,
        }
    }

    /// Read off a day, SI; `None` where the day has no such launch or pass.
    pub fn of(self, trace: &Trace) -> Option<f64> {
        let last = trace.launches.last();
        match self {
            Measure::LastPan => last.map(|launch| launch.temperature_k[Node::PanFluid.index()]),
            Measure::ConverterPeak => Some(trace.peak(Node::ConverterFluid).0),
            Measure::LaunchSpread => {
                (trace.launches.len() > 1).then(|| trace.launch_spread_k(Node::PanFluid))
            }
            Measure::LastElapsed => last.and_then(|launch| launch.pass.as_ref()).and_then(finish_s),
        }
    }
}

/// The measures of one day, SI, in the order of [`Measure`].
pub type Measured = [Option<f64>; MEASURES];

/// The days of a tornado: the one as stated, then two for each parameter. Simulated a few at a time by
/// [`Tornado::step`]; or by several threads, for which [`Tornado::measured`] computes a day by its number and
/// [`Tornado::keep`] takes them in order.
pub struct Tornado {
    scenario: Scenario,
    /// With the value as stated (SI).
    spread: Vec<(&'static Parameter, f64)>,
    /// What a fit to readings knows of them.
    known: Known,
    kept: Vec<Option<Measured>>,
}

/// What one parameter does to one measure.
#[derive(Clone, Copy)]
pub struct Bar {
    pub parameter: &'static Parameter,
    /// The parameter as stated and at its two ends (SI).
    pub stated_si: f64,
    pub ends_si: (f64, f64),
    /// The measure of the day as stated (SI).
    pub measure_si: f64,
    /// The measure with the parameter at its low and at its high end (SI).
    pub measure_ends_si: (f64, f64),
}

impl Bar {
    /// Length of the bar (SI of the measure): largest minus smallest of the three.
    pub fn size_si(&self) -> f64 {
        let (low, high) = self.measure_ends_si;
        low.max(high).max(self.measure_si) - low.min(high).min(self.measure_si)
    }

    /// Half the change of the measure from end to end (SI), without its sign: 1.96·uᵢ(y) of a day that answers in
    /// proportion.
    pub fn half_si(&self) -> f64 {
        let (low, high) = self.measure_ends_si;
        0.5 * (high - low).abs()
    }
}

impl Tornado {
    /// Prepares the days; parameters whose path is in `known` are left out.
    pub fn new(scenario: Scenario, known: &[&str]) -> Tornado {
        let spread = spread_parameters(&scenario.setup, known);
        let known = calibrated(&scenario);
        Tornado { scenario, spread, known, kept: Vec::new() }
    }

    /// Days to simulate.
    pub fn days(&self) -> usize {
        1 + 2 * self.spread.len()
    }

    /// Simulates up to `count` further days and gives how many are done of all.
    pub fn step(&mut self, count: usize) -> usize {
        let last = (self.kept.len() + count).min(self.days());
        while self.kept.len() < last {
            let measured = self.measured(self.kept.len());
            self.keep(measured);
        }
        self.kept.len()
    }

    /// Simulates one day, from 0; `None` when it cannot be simulated, or is none of this tornado.
    pub fn measured(&self, number: usize) -> Option<Measured> {
        let mut scenario = self.scenario.clone();
        if number > 0 {
            let (parameter, stated_si) = self.spread.get((number - 1) / 2)?;
            parameter.set_si(
                &mut scenario.setup,
                self.end_si(parameter, *stated_si, number.is_multiple_of(2)),
            );
        }
        let trace = simulate(&scenario).ok()?;
        Some(Measure::ALL.map(|measure| measure.of(&trace)))
    }

    /// Takes the next day as done.
    pub fn keep(&mut self, measured: Option<Measured>) {
        self.kept.push(measured);
    }

    fn end_si(&self, parameter: &Parameter, stated_si: f64, high: bool) -> f64 {
        let deviations = DEVIATIONS * self.known.deviation(&parameter.path());
        parameter.moved_si(stated_si, if high { deviations } else { -deviations })
    }

    /// The bars of a measure, the longest first; without those of days that are not done or could not be simulated,
    /// and empty where the day as stated does not have the measure.
    pub fn bars(&self, measure: Measure) -> Vec<Bar> {
        let at = |number: usize| self.kept.get(number).copied().flatten()?[measure.index()];
        let Some(measure_si) = at(0) else { return Vec::new() };
        let mut bars: Vec<Bar> = self
            .spread
            .iter()
            .enumerate()
            .filter_map(|(place, (parameter, stated_si))| {
                Some(Bar {
                    parameter,
                    stated_si: *stated_si,
                    ends_si: (
                        self.end_si(parameter, *stated_si, false),
                        self.end_si(parameter, *stated_si, true),
                    ),
                    measure_si,
                    measure_ends_si: (at(1 + 2 * place)?, at(2 + 2 * place)?),
                })
            })
            .collect();
        bars.sort_by(|a, b| b.size_si().total_cmp(&a.size_si()));
        bars
    }
}
