//! The answer to a question of size, in words and numbers for command line and page.

use serde::Serialize;

use super::map::shown;
use super::search::Other;
use super::{Aim, Case, Found, Measured, Sized, Unknown};
use crate::error::{Error, ErrorKind};
use crate::report::capital;
use crate::units::{
    Dimension, System, significant, temperature_difference_text, temperature_symbol,
    temperature_text, time_text, unit_or_si,
};

/// Difference between oil and air at which a cooler's heat is told: 100 °F (K).
const TOLD_DIFFERENCE_K: f64 = 100.0 / 1.8;

/// A question answered.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Answer {
    /// `needed`, `met` (as it is), `never`, `flat` (makes no difference).
    pub outcome: &'static str,
    /// The answer in one or two sentences.
    pub sentence: String,
    /// Under what it holds: route, air, round, range.
    pub conditions: Vec<String>,
    /// How it moves.
    pub sensitivity: Vec<Words>,
    /// The answer in the reader's unit; null where there is none.
    pub value: Option<f64>,
    /// The same as a scenario states it.
    pub text: Option<String>,
    /// Last value on the far side that meets the aim, too.
    pub other: Option<f64>,
    pub unit: &'static str,
    /// As the day is.
    pub present: f64,
    /// What the answer comes to, and what the day as it is (minutes, degrees).
    pub measure: Option<f64>,
    pub present_measure: Option<f64>,
    pub measure_unit: &'static str,
    pub range: (f64, f64),
    /// The round whose rest is measured.
    pub round: Option<u32>,
    /// Path of the parameter in a set-up; null for the time on the brake.
    pub path: Option<&'static str>,
    /// Days simulated.
    pub simulated: usize,
}

/// One line of the sensitivity.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Words {
    pub what: String,
    pub then: String,
}

/// A day without a hold on the brake (in this round) has no time on the brake to find.
pub fn no_hold(unknown: Unknown) -> Error {
    let place = match unknown {
        Unknown::Hold { round: Some(round) } => format!("round {round}"),
        _ => "this day".to_string(),
    };
    Error::new(
        ErrorKind::Missing,
        "brake_hold",
        format!("none in {place}"),
        "a hold on the brake",
        "Choose another round, or add a \"brake_hold\" event.",
    )
}

/// Words for what was found.
pub fn answer(case: &Case, sized: &Sized) -> Answer {
    let Sized { unknown, system, found, present, range, .. } = sized;
    let say = Say { case, sized };
    let met = present.1.meets();
    let (outcome, value, measured, other) = match found {
        Found::Value { value, measured, other, .. } => {
            (if met { "met" } else { "needed" }, Some(*value), Some(*measured), *other)
        }
        Found::Never { measured, .. } => ("never", None, Some(*measured), None),
        Found::Flat { measured } => ("flat", None, Some(*measured), None),
    };
    let number = |measured: Measured| {
        measured.value.is_finite().then(|| shown(case.aim(), measured.value, *system))
    };
    let unit = unknown.unit(*system);
    Answer {
        outcome,
        sentence: say.sentence(),
        conditions: say.conditions(),
        sensitivity: say.sensitivity(),
        value,
        text: value.map(|value| format!("{} {}", significant(value, 3), unit.symbol)),
        other,
        unit: unit.symbol,
        present: present.0,
        measure: measured.and_then(number),
        present_measure: number(present.1),
        measure_unit: measure_unit(case.aim(), *system),
        range: *range,
        round: case.round(),
        path: unknown.path(),
        simulated: sized.simulated,
    }
}

/// Unit of the measure.
pub(super) fn measure_unit(aim: Aim, system: System) -> &'static str {
    match aim {
        Aim::BackIn { .. } => "min",
        _ => temperature_symbol(system),
    }
}

struct Say<'a> {
    case: &'a Case,
    sized: &'a Sized,
}

impl Say<'_> {
    fn system(&self) -> System {
        self.sized.system
    }

    /// `110 W/K`
    fn number(&self, value: f64) -> String {
        let unit = self.sized.unknown.unit(self.system());
        format!("{}\u{a0}{}", significant(value, 3), unit.symbol)
    }

    /// `a cooler of 110 W/K`
    fn thing(&self, value: f64) -> String {
        let number = self.number(value);
        match self.sized.unknown {
            Unknown::Cooler => format!("a cooler of {number}"),
            Unknown::Pump => format!("a pump flow of {number}"),
            Unknown::Fan => format!("{number} of air from the fan"),
            Unknown::Fluid => format!("{number} of fluid in pan and case"),
            Unknown::Hold { round: Some(round) } => {
                format!("{number} on the brake in round {round}")
            }
            Unknown::Hold { round: None } => format!("{number} on the brake"),
            Unknown::Air => format!("air of {number}"),
        }
    }

    /// The same; of a hold that is too long for the converter, with what its fluid reaches.
    fn measured(&self, measured: Measured) -> String {
        let text = |kelvin: f64| temperature_text(self.system(), kelvin);
        let limit_k = self.case.scenario().setup.limits.converter_fluid_k;
        let said = self.measure(measured);
        match measured.hold_peak_k {
            Some(peak_k) if peak_k > limit_k => format!(
                "{said}, but the converter fluid at {} on the brake, above its limit of {}",
                text(peak_k),
                text(limit_k)
            ),
            _ => said,
        }
    }

    /// `back in the window after 12 min`
    fn measure(&self, measured: Measured) -> String {
        let text = |kelvin: f64| temperature_text(self.system(), kelvin);
        let difference = |kelvin: f64| temperature_difference_text(self.system(), kelvin);
        if measured.value.is_nan() {
            return "a day that is too hot to be computed".to_string();
        }
        match self.case.aim() {
            Aim::BackIn { .. } if !measured.reached => {
                format!("not back within {}", time_text(measured.value))
            }
            Aim::BackIn { .. } if measured.value <= 0.0 => "in the window all the time".to_string(),
            Aim::BackIn { .. } => format!("back in {}", minutes(measured.value)),
            Aim::LaunchesAtMost { node, .. } => {
                format!(
                    "{} at {} on the hottest launch",
                    node.label().to_lowercase(),
                    text(measured.value)
                )
            }
            Aim::LaunchesInWindow if measured.hold_peak_k.is_some() && measured.value <= 0.0 => {
                format!("no launch too hot, by {} or more", difference(-measured.value))
            }
            Aim::LaunchesInWindow if measured.value <= 0.0 => {
                format!("every launch inside, by {} or more", difference(-measured.value))
            }
            Aim::LaunchesInWindow => {
                format!("the worst launch {} outside", difference(measured.value))
            }
            Aim::ConverterAtMost { .. } => format!("converter at {} at most", text(measured.value)),
        }
    }

    /// `back in the window 12 min into the rest after round 5`
    fn aim(&self) -> String {
        let text = |kelvin: f64| temperature_text(self.system(), kelvin);
        match self.case.aim() {
            Aim::BackIn { within_s, .. } => {
                format!("back in the window in {}", minutes(within_s))
            }
            Aim::LaunchesAtMost { node, temperature_k } => format!(
                "{} at {} or below on every launch",
                node.label().to_lowercase(),
                text(temperature_k)
            ),
            Aim::LaunchesInWindow if self.sized.unknown.is_wanted_large() => {
                "no launch above the window".to_string()
            }
            Aim::LaunchesInWindow => "every launch inside the window".to_string(),
            Aim::ConverterAtMost { temperature_k } => {
                format!("converter never above {}", text(temperature_k))
            }
        }
    }

    fn sentence(&self) -> String {
        let Sized { unknown, found, present: (now, at_now), range, .. } = self.sized;
        let large = unknown.is_wanted_large();
        match found {
            Found::Value { value, at_end, .. } if at_now.meets() => {
                let rest = if *at_end {
                    let (end, name) = if large { (range.1, "most") } else { (range.0, "least") };
                    format!("Even {}, the {name} that can be stated, would do.", self.number(end))
                } else if large {
                    format!("Up to {} would do.", self.number(*value))
                } else if *value > *now {
                    // The day lies in a second stretch, or between numbers of three digits.
                    format!("{} would do, too.", self.number(*value))
                } else {
                    format!(
                        "As little as {} would do; there is no need to fit less.",
                        self.number(*value)
                    )
                };
                // Of what is wanted large the aim is a bound.
                let is = if large { "not too long" } else { "enough" };
                format!(
                    "{} is {is} as it is: {}. {rest}",
                    capital(&self.thing(*now)),
                    self.measured(*at_now)
                )
            }
            Found::Value { value, other, .. } => {
                let more = match other {
                    Some(other) if !large => {
                        format!(
                            " No more than {}: beyond that the aim is missed again.",
                            self.number(*other)
                        )
                    }
                    Some(other) => {
                        format!(
                            " No less than {}: below that the aim is missed again.",
                            self.number(*other)
                        )
                    }
                    None => String::new(),
                };
                let takes = if large {
                    format!("{} at most", capital(&self.thing(*value)))
                } else {
                    format!("It takes {}", self.thing(*value))
                };
                format!(
                    "{takes}: {}. With {} as now: {}.{more}",
                    self.aim(),
                    self.number(*now),
                    self.measured(*at_now)
                )
            }
            Found::Never { best, measured } => format!(
                "Nothing from {} to {} does it ({}). The best is {}: {}. With {} as now: {}.",
                self.number(range.0),
                self.number(range.1),
                self.aim(),
                self.number(*best),
                self.measured(*measured),
                self.number(*now),
                self.measured(*at_now)
            ),
            Found::Flat { measured } => format!(
                "{} makes no difference here: {}, whatever it is. The aim is {}.",
                unknown.label(),
                self.measured(*measured),
                if measured.meets() { "met" } else { "missed" }
            ),
        }
    }

    fn conditions(&self) -> Vec<String> {
        let Sized { unknown, found, .. } = self.sized;
        let scenario = self.case.scenario();
        let text = |kelvin: f64| temperature_text(self.system(), kelvin);
        let limits = &scenario.setup.limits;
        let mut all = Vec::new();
        let air = text(scenario.setup.air.temperature_k);
        match self.case.aim() {
            Aim::BackIn { .. } => {
                let after = match self.case.round() {
                    Some(round) => format!("round {round}"),
                    None => "the pass".to_string(),
                };
                let how = match self.case.route() {
                    Some(route) => format!(
                        "with pump ({}) and fan on from then on",
                        route.label().to_lowercase()
                    ),
                    None => "with pump and fan as the timeline has them".to_string(),
                };
                all.push(format!(
                    "Counted from shut-off after {after} until the pan fluid is at {} or below and stays there, {how}, in air of {air}.",
                    text(limits.window_high_k)
                ));
            }
            Aim::LaunchesInWindow => all.push(format!(
                "The window is {} to {} in the pan; pump and fan are as the timeline has them, the air is {air}.",
                text(limits.window_low_k),
                text(limits.window_high_k)
            )),
            _ => all.push(format!("Pump and fan are as the timeline has them, the air is {air}.")),
        }
        if let Found::Value { measured: Measured { too_cold_s: Some(cold_s), .. }, .. } = found {
            all.push(format!(
                "Pump and fan go off when it is in the window: left on, they take it below {} after {}.",
                text(limits.window_low_k),
                minutes(*cold_s)
            ));
        }
        if let Unknown::Hold { round: Some(round) } = unknown {
            all.push(format!(
                "Only the hold of round {round} is changed; the others last as long as the day states."
            ));
        }
        if unknown.is_wanted_large() {
            let reached = match found {
                Found::Value { measured: Measured { hold_peak_k: Some(peak_k), .. }, .. } => {
                    format!("; with the answer it has {} when the brake lets go", text(*peak_k))
                }
                _ => String::new(),
            };
            if !matches!(self.case.aim(), Aim::ConverterAtMost { .. }) {
                all.push(format!(
                    "No hold counts during which the converter fluid passes its limit of {}{reached}; in the pass it gets \
                     hotter still. Launches that are too cold are not held against it.",
                    text(limits.converter_fluid_k)
                ));
            }
        }
        if let Found::Value { value, .. } = found
            && *unknown == Unknown::Cooler
        {
            let symbol = self.system().pick("Btu/min", "kW");
            let heat_w = value * TOLD_DIFFERENCE_K;
            let shown = significant(unit_or_si(Dimension::Power, symbol).from_si(heat_w), 2);
            all.push(format!(
                "{} is {shown} {symbol} for 100\u{a0}°F (56\u{a0}K) between oil and air along the whole core; by inlet temperatures it is less.",
                self.number(*value)
            ));
        }
        let (low, high) = self.sized.range;
        let mut range = format!("Searched from {} to {}", self.number(low), self.number(high));
        if *unknown == Unknown::Cooler
            && unknown.range_si(scenario).1
                < super::Unknown::Cooler.parameter().map_or(0.0, |one| one.max_si())
        {
            range += ", the most that its rated air flow allows";
        }
        all.push(range + ".");
        all
    }

    fn sensitivity(&self) -> Vec<Words> {
        let mut all: Vec<Words> = self
            .sized
            .nearby
            .iter()
            .map(|nearby| {
                let what = match nearby.what {
                    Other::Time(by_s) => {
                        format!(
                            "{} min {}",
                            significant(by_s.abs() / 60.0, 2),
                            less_more(by_s, "less", "more")
                        )
                    }
                    Other::Temperature(by_k) => format!(
                        "{} {}",
                        temperature_difference_text(self.system(), by_k.abs()),
                        less_more(by_k, "lower", "higher")
                    ),
                    Other::Air(by_k) => {
                        format!("Air {} hotter", temperature_difference_text(self.system(), by_k))
                    }
                };
                Words { what, then: self.found(&nearby.found) }
            })
            .collect();
        for (value, measured) in self.sized.tenth.iter().flatten() {
            let around = match self.sized.found {
                Found::Value { value, .. } => value,
                _ => self.sized.present.0,
            };
            let what = format!(
                "A tenth {}, {}",
                less_more(value - around, "less", "more"),
                self.number(*value)
            );
            all.push(Words { what, then: self.measured(*measured) });
        }
        all
    }

    fn found(&self, found: &Found) -> String {
        match found {
            Found::Value { value, at_end: true, .. } => {
                format!("{} does, the end of the range", self.number(*value))
            }
            Found::Value { value, .. } => self.number(*value),
            Found::Never { best, measured } => {
                format!("nothing does; best {} ({})", self.number(*best), self.measured(*measured))
            }
            Found::Flat { measured } => {
                if measured.meets() {
                    "any does".to_string()
                } else {
                    "none does".to_string()
                }
            }
        }
    }
}

/// Minutes as a stop watch between rounds needs them: to a tenth, but whole ones whole.
fn minutes(time_s: f64) -> String {
    if time_s < 59.5 {
        return format!("{time_s:.0}\u{a0}s");
    }
    format!("{}\u{a0}min", significant((time_s / 6.0).round() / 10.0, 4))
}

fn less_more<'a>(by: f64, less: &'a str, more: &'a str) -> &'a str {
    if by < 0.0 { less } else { more }
}
