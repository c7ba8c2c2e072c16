//! What is asked of the planner about one rest, checked once.

use super::rest::{Rest, Situation, rests};
use super::search::{Plan, plan_rest};
use super::{Aim, Equipment};
use crate::decimal::decimal;
use crate::error::{Error, ErrorKind};
use crate::scenario::Scenario;
use crate::timeline::Node;
use crate::trace::Trace;
use crate::units::{
    Dimension, System, parse_quantity, temperature_symbol, temperature_text, time_text,
};

/// A question about one rest.
#[derive(Debug, Clone, PartialEq)]
pub struct Request {
    pub rest: Rest,
    /// How far into the rest now is (s).
    pub into_s: f64,
    /// From now to the call (s); `None`: what is left of the rest.
    pub free_s: Option<f64>,
    /// Readings now (K): a gauge in the pan, a thermometer on the converter's shell.
    pub pan_k: Option<f64>,
    pub shell_k: Option<f64>,
    pub aim: Aim,
    pub equipment: Equipment,
}

/// Shortest and longest time until the call (s).
const FREE_S: (f64, f64) = (10.0, 6.0 * 3600.0);
/// Readings that a gauge can have (K): −40 to 250 °C.
const READING_K: (f64, f64) = (233.15, 523.15);

impl Request {
    /// What is asked when nothing is stated: the rest before a launch from its start to its end, the set-up's window.
    pub fn new(scenario: &Scenario, rest: Rest, equipment: Equipment) -> Request {
        let aim = Aim::window(&scenario.setup);
        Request { rest, into_s: 0.0, free_s: None, pan_k: None, shell_k: None, aim, equipment }
    }

    /// The rest of a round's turnaround; 0 means the one before the first launch.
    pub fn rest_after(scenario: &Scenario, trace: &Trace, round: u32) -> Result<Rest, Error> {
        let all = rests(scenario, trace);
        let wanted = (round > 0).then_some(round);
        if let Some(rest) = all.iter().find(|rest| rest.round == wanted) {
            return Ok(rest.clone());
        }
        let known: Vec<String> =
            all.iter().map(|rest| rest.round.unwrap_or(0).to_string()).collect();
        Err(Error::new(
            ErrorKind::OutOfRange,
            "round",
            round.to_string(),
            if known.is_empty() {
                "a day in which a launch has a rest with the engine off before it".to_string()
            } else {
                format!("a round with a rest before another launch: {}", known.join(", "))
            },
            "Choose one of these (0 is the rest before the first launch), or add time with the engine off.",
        ))
    }

    /// The situation it asks about; an error that names what is out of range.
    pub fn situation<'a>(
        &self,
        scenario: &'a Scenario,
        trace: &Trace,
    ) -> Result<Situation<'a>, Error> {
        let length_s = self.rest.end_s - self.rest.start_s;
        if !(0.0..=length_s).contains(&self.into_s) {
            return Err(out_of_range(
                "minutes into the rest",
                time_text(self.into_s),
                format!("0 to {}, which is how long the rest is", time_text(length_s)),
            ));
        }
        let mut situation = Situation::new(scenario, trace, &self.rest, self.into_s)?;
        if let Some(free_s) = self.free_s {
            if !(FREE_S.0..=FREE_S.1).contains(&free_s) {
                let (least, most) = (time_text(FREE_S.0), time_text(FREE_S.1));
                return Err(out_of_range(
                    "minutes until the call",
                    time_text(free_s),
                    format!("{least} to {most}"),
                ));
            }
            situation.free_s = free_s;
        }
        for (field, reading) in [("pan reading", self.pan_k), ("converter reading", self.shell_k)] {
            check_temperature(field, reading)?;
        }
        self.aim.checked()?;
        let computed_k = situation.now_k[Node::PanFluid.index()];
        if self.pan_k.is_some() || self.shell_k.is_some() {
            situation = situation.with_reading(self.pan_k.unwrap_or(computed_k), self.shell_k);
        }
        Ok(situation)
    }

    /// The situation and its plan.
    pub fn answer<'a>(
        &self,
        scenario: &'a Scenario,
        trace: &Trace,
    ) -> Result<(Situation<'a>, Plan), Error> {
        let situation = self.situation(scenario, trace)?;
        let plan = plan_rest(&situation, &self.aim, &self.equipment)?;
        Ok((situation, plan))
    }
}

/// Refuses what no gauge reads.
pub(super) fn check_temperature(field: &str, kelvin: Option<f64>) -> Result<(), Error> {
    match kelvin {
        // A thousandth for the rounding of units.
        Some(kelvin) if !(READING_K.0 - 1e-3..=READING_K.1 + 1e-3).contains(&kelvin) => {
            Err(out_of_range(
                field,
                format!(
                    "{} ({})",
                    temperature_text(System::Us, kelvin),
                    temperature_text(System::Si, kelvin)
                ),
                "-40 to 482 °F (-40 to 250 °C)".to_string(),
            ))
        }
        _ => Ok(()),
    }
}

fn out_of_range(field: &str, value: String, limit: String) -> Error {
    Error::new(ErrorKind::OutOfRange, field, value, limit, "Type a value inside these limits.")
}

/// A temperature as a user writes it, `165 °F`; an error that names the field (K).
pub fn temperature_of(field: &str, text: &str, system: System) -> Result<f64, Error> {
    let bare =
        decimal(text.trim()).map(|_| format!("{} {}", text.trim(), temperature_symbol(system)));
    parse_quantity(Dimension::Temperature, bare.as_deref().unwrap_or(text)).map_err(|_| {
        Error::new(
            ErrorKind::WrongUnit,
            field,
            text,
            "a temperature, with its unit or in those of the report",
            "Write for example \"165 °F\" or \"74 °C\".",
        )
    })
}
