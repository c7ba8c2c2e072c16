//! The whole day: schedules for all rests that make the launches most alike.
//!
//! For one target temperature the rests are planned one after the other, each from where the one before and its round
//! leave the car. The target is searched inside the window: first on a grid, then by halving around the best. A launch
//! with no rest before it is as it is. What is best, in this order: the least distance from the window over all launches; the least spread
//! between the hottest and the coldest launch; the least charge.

use std::cell::RefCell;
use std::rc::Rc;

use super::rest::{Rest, Situation, rests};
use super::search::{Effort, Plan, search_rest};
use super::written::Written;
use super::{Aim, Equipment};
use crate::error::{Error, ErrorKind};
use crate::scenario::Scenario;
use crate::timeline::{Event, Node};
use crate::trace::Trace;
use crate::transmission::Transmission;

/// Targets on the grid.
const GRID: usize = 6;
/// Halvings around the best of them, two targets each.
const HALVINGS: usize = 3;
/// Spreads nearer to each other than this (K) count as the same.
const SAME_K: f64 = 0.05;

/// A planned day.
#[derive(Debug, Clone, PartialEq)]
pub struct DayPlan {
    /// Every rest with its plan.
    pub rests: Vec<(Rest, Plan)>,
    /// The temperature of the pan (K) that all launches aim at.
    pub target_k: f64,
    /// Temperatures of the pan at all launches (K): as the day is, and as planned.
    pub before_k: Vec<f64>,
    pub planned_k: Vec<f64>,
    /// Charge that pump and fan take in the rests, planned (A·s).
    pub used_a_s: f64,
    /// What is wanted at the launches.
    pub aim: Aim,
    /// What the day uses in these rests as it stands, and the plan may not: "pump", "fan".
    pub forbidden: Vec<&'static str>,
}

impl DayPlan {
    /// The schedules, to be written into the day.
    pub fn written(&self) -> Vec<Written> {
        self.rests
            .iter()
            .map(|(rest, plan)| Written {
                rest: rest.clone(),
                into_s: 0.0,
                free_s: rest.end_s - rest.start_s,
                schedule: plan.best.schedule,
            })
            .collect()
    }
}

/// Highest minus lowest (K); zero for none.
pub fn spread_k(launches_k: &[f64]) -> f64 {
    let low_k = launches_k.iter().copied().fold(f64::INFINITY, f64::min);
    let high_k = launches_k.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    (high_k - low_k).max(0.0)
}

/// A search for the schedules of a day, one target at a time.
pub struct DaySearch<'a> {
    situations: Vec<(Rest, Situation<'a>)>,
    equipment: Equipment,
    /// With the margin kept, and as asked.
    aim: Aim,
    asked: Aim,
    forbidden: Vec<&'static str>,
    before_k: Vec<f64>,
    /// Targets yet to be tried (K), the next one last.
    waiting_k: Vec<f64>,
    halvings: usize,
    step_k: f64,
    best: Option<(f64, Score)>,
    tried: usize,
}

/// How good a target is.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Score {
    off_k: f64,
    spread_k: f64,
    used_a_s: f64,
}

impl Score {
    fn is_better_than(&self, other: &Score) -> bool {
        let levels = [
            (self.off_k, other.off_k, SAME_K),
            (self.spread_k, other.spread_k, SAME_K),
            (self.used_a_s, other.used_a_s, 1.0),
        ];
        levels.iter().find(|(a, b, same)| (a - b).abs() > *same).is_some_and(|(a, b, _)| a < b)
    }
}

impl<'a> DaySearch<'a> {
    /// Prepares the search; an error where no launch has a rest before it.
    pub fn new(
        scenario: &'a Scenario,
        trace: &Trace,
        aim: Aim,
        equipment: Equipment,
    ) -> Result<DaySearch<'a>, Error> {
        // Targets keep the margin of a single rest: rounded times must not leave the window.
        let (asked, aim) = (aim, aim.with_margin());
        let transmission = Rc::new(RefCell::new(Transmission::new(&scenario.setup)?));
        let situations: Vec<(Rest, Situation)> = rests(scenario, trace)
            .into_iter()
            .map(|rest| {
                let shared = Rc::clone(&transmission);
                let situation = Situation::on(shared, scenario, trace, &rest, 0.0);
                (rest, situation)
            })
            .collect();
        if situations.is_empty() {
            return Err(no_rest());
        }
        let before_k: Vec<f64> = trace
            .launches
            .iter()
            .map(|launch| launch.temperature_k[Node::PanFluid.index()])
            .collect();
        let first_k = before_k.first().copied().unwrap_or(aim.low_k);
        let step_k = (aim.high_k - aim.low_k) / (GRID - 1) as f64;
        let mut waiting_k: Vec<f64> =
            (0..GRID).map(|place| aim.low_k + step_k * place as f64).collect();
        // Where it is as it is, the others may do best to be like it.
        waiting_k.push(first_k.clamp(aim.low_k, aim.high_k));
        let forbidden = forbidden(scenario, situations.iter().map(|(rest, _)| rest), &equipment);
        Ok(DaySearch {
            situations,
            equipment,
            aim,
            asked,
            forbidden,
            before_k,
            waiting_k,
            halvings: HALVINGS,
            step_k,
            best: None,
            tried: 0,
        })
    }

    /// Targets to try in all, with the last, whole search.
    pub fn of(&self) -> usize {
        GRID + 2 + 2 * HALVINGS
    }

    /// Tries one more target; false when there is none left.
    pub fn step(&mut self) -> Result<bool, Error> {
        let Some(target_k) = self.waiting_k.pop() else { return Ok(false) };
        let (plans, launches_k) = self.chain(target_k, Effort::Ways)?;
        let score = self.score(&plans, &launches_k);
        if self.best.is_none_or(|(_, known)| score.is_better_than(&known)) {
            self.best = Some((target_k, score));
        }
        self.tried += 1;
        if self.waiting_k.is_empty() && self.halvings > 0 {
            self.halvings -= 1;
            self.step_k *= 0.5;
            let best_k = self.best.map_or(target_k, |(best_k, _)| best_k);
            for next_k in [best_k - self.step_k, best_k + self.step_k] {
                self.waiting_k.push(next_k.clamp(self.aim.low_k, self.aim.high_k));
            }
        }
        Ok(true)
    }

    /// How many targets were tried.
    pub fn tried(&self) -> usize {
        self.tried
    }

    /// The plan for the best target so far, searched whole.
    pub fn finish(mut self) -> Result<DayPlan, Error> {
        let Some((target_k, _)) = self.best else { return Err(no_rest()) };
        let (plans, planned_k) = self.chain(target_k, Effort::Whole)?;
        let used_a_s = plans.iter().map(|plan| plan.best.reached.used_a_s).sum();
        Ok(DayPlan {
            rests: self.situations.into_iter().map(|(rest, _)| rest).zip(plans).collect(),
            target_k,
            before_k: self.before_k,
            planned_k,
            used_a_s,
            aim: self.asked,
            forbidden: self.forbidden,
        })
    }

    fn score(&self, plans: &[Plan], launches_k: &[f64]) -> Score {
        Score {
            off_k: launches_k.iter().map(|k| self.aim.off_k(*k).abs()).fold(0.0, f64::max),
            spread_k: spread_k(launches_k),
            used_a_s: plans.iter().map(|plan| plan.best.reached.used_a_s).sum(),
        }
    }

    /// Plans all rests for one target (K); the plans and the pan at every launch (K).
    fn chain(&mut self, target_k: f64, effort: Effort) -> Result<(Vec<Plan>, Vec<f64>), Error> {
        let target = Aim { low_k: target_k, high_k: target_k };
        let mut launches_k = self.before_k.clone();
        let mut plans = Vec::with_capacity(self.situations.len());
        for place in 0..self.situations.len() {
            let (rest, situation) = &self.situations[place];
            let plan = search_rest(situation, &target, &self.equipment, effort)?;
            launches_k[rest.launch] = plan.best.pan_k();
            let (next_k, charge_a_s) = situation.next(&plan.best.schedule)?;
            plans.push(plan);
            if let Some((_, next)) = self.situations.get_mut(place + 1) {
                next.now_k = next_k;
                next.charge_a_s = charge_a_s;
            }
        }
        Ok((plans, launches_k))
    }
}

/// What a day uses in its rests that is not among the equipment.
fn forbidden<'a>(
    scenario: &Scenario,
    rests: impl Iterator<Item = &'a Rest>,
    equipment: &Equipment,
) -> Vec<&'static str> {
    let stated: Vec<&Event> = rests
        .flat_map(|rest| rest.pieces.iter().map(|piece| (rest.block, piece.event)))
        .filter_map(|(block, event)| scenario.blocks.get(block)?.events.get(event?))
        .collect();
    let mut forbidden = Vec::new();
    if equipment.routes.is_empty() && stated.iter().any(|event| !event.circulation.is_empty()) {
        forbidden.push("pump");
    }
    if !equipment.fan && stated.iter().any(|event| !event.fan.is_empty()) {
        forbidden.push("fan");
    }
    forbidden
}

fn no_rest() -> Error {
    Error::new(
        ErrorKind::Contradiction,
        "timeline",
        "no time with the engine off before a launch",
        "a rest that can be planned",
        "Add rounds with time in the pits, or an \"engine_off\" event before a pass.",
    )
}

/// The schedules of all rests that make the launches of a day most alike.
pub fn plan_day(
    scenario: &Scenario,
    trace: &Trace,
    aim: &Aim,
    equipment: &Equipment,
) -> Result<DayPlan, Error> {
    let mut search = DaySearch::new(scenario, trace, *aim, equipment.clone())?;
    while search.step()? {}
    search.finish()
}
