//! The search over switch times.

use std::cell::Cell;

use super::rest::{Reached, Situation};
use super::schedule::{Schedule, Span};
use super::{Aim, Equipment};
use crate::error::Error;
use crate::root::rising_root;
use crate::timeline::{Node, Route};

/// Distances from the aim are told apart in steps of this (K).
const SAME_K: f64 = 0.02;
/// Charges are told apart in steps of a twentieth, small ones in steps of a twentieth of this (A·s), a tenth of an
/// ampere-hour: a call may come early, and to wait for less is not worth it. Steps, and not differences, so that many small
/// losses do not add up to a large one.
const SMALL_A_S: f64 = 7_200.0;
const SAME_SHARE: f64 = 0.05;
/// To this are switch times searched (s).
const RESOLUTION_S: f64 = 1.0;
/// To this they are rounded (s): what a crew can do.
pub const ROUND_S: f64 = 5.0;
/// What starts this soon (s) starts at once, and what ends this shortly before the call lasts to it.
const AT_ONCE_S: f64 = 10.0;
/// The fan and what starts and ends as near to it as this (s) are switched together.
const TOGETHER_S: f64 = 20.0;
/// What that may cost in distance from the aim (K).
const TOGETHER_K: f64 = 0.1;
/// What brings the pan no nearer to the aim than this (K) is left away.
const NOTHING_K: f64 = 0.15;
/// Ways from which switch times are polished where the aim is not reached.
const STARTS: usize = 3;
/// Shares of the time until the call at which a way is tried first.
const TRIED: [f64; 4] = [0.125, 0.25, 0.5, 1.0];

/// A schedule with what it comes to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outcome {
    pub schedule: Schedule,
    pub reached: Reached,
    /// The pan's distance from the aim at the launch (K), negative below.
    pub off_k: f64,
}

impl Outcome {
    /// Temperature of the pan at the launch (K).
    pub fn pan_k(&self) -> f64 {
        self.reached.launch_k[Node::PanFluid.index()]
    }

    /// Whether it reaches the aim.
    pub fn is_inside(&self) -> bool {
        self.off_k.abs() <= SAME_K
    }

    /// Whether it is better than another: nearer the aim, else less charge, else less idling, else done sooner.
    pub fn is_better_than(&self, other: &Outcome) -> bool {
        let rank = |one: &Outcome| {
            let charge = (one.reached.used_a_s / SMALL_A_S).ln_1p() / SAME_SHARE;
            let switches = [one.schedule.pump, one.schedule.fan];
            let done_s =
                switches.iter().filter(|span| !span.is_empty()).map(|span| span.end_s).sum::<f64>();
            [
                (one.off_k.abs() / SAME_K).ceil(),
                charge.ceil(),
                (one.schedule.idle.length_s() / RESOLUTION_S).round(),
                (done_s / RESOLUTION_S).round(),
            ]
        };
        rank(self).partial_cmp(&rank(other)) == Some(std::cmp::Ordering::Less)
    }
}

/// The best of one way to spend a rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WayPlan {
    pub key: &'static str,
    pub label: &'static str,
    pub best: Outcome,
}

/// The plan of one rest.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    pub best: Outcome,
    /// With nothing done.
    pub nothing: Outcome,
    /// The best of every way that the equipment allows, in the order in which they were tried.
    pub ways: Vec<WayPlan>,
    /// Where the aim is not reached: the shortest time until the call (s) in which it would be, if there is one.
    pub enough_s: Option<f64>,
    /// Whether the battery ruled out what else might be done.
    pub is_short_of_charge: bool,
    /// How many schedules were simulated.
    pub simulated: u32,
}

/// How idle comes into a way.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Idling {
    late: bool,
    in_gear: bool,
}

/// A way: which switches are used. Its dose, from nothing to the whole time, is how long.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Way {
    key: &'static str,
    label: &'static str,
    route: Option<Route>,
    fan: bool,
    idling: Option<Idling>,
    /// Where the engine idles too: whether the pump runs while it does, or all the time.
    briefly: bool,
}

impl Way {
    /// Its schedule with a share of the time until the call.
    fn schedule(&self, dose: f64, free_s: f64) -> Schedule {
        let early = Span::new(0.0, dose * free_s);
        let late = Span::new((1.0 - dose) * free_s, free_s);
        let idle = match self.idling {
            None => Span::default(),
            Some(Idling { late: false, .. }) => early,
            Some(Idling { late: true, .. }) => late,
        };
        // With both, the dose is how long the engine helps.
        let pump = match (self.route, self.idling) {
            (None, _) => Span::default(),
            (Some(_), None) => early,
            (Some(_), Some(_)) if self.briefly => idle,
            (Some(_), Some(_)) => Span::new(0.0, free_s),
        };
        let fan = match (self.fan, self.route, self.idling) {
            (false, ..) => Span::default(),
            (true, Some(_), _) => pump,
            (true, None, Some(_)) => idle,
            // Alone it cools the core for the fluid that comes through on the way to the line.
            (true, None, None) => late,
        };
        let in_gear = self.idling.is_some_and(|idling| idling.in_gear);
        Schedule { route: self.route, pump, fan, idle, in_gear }
    }
}

fn ways(equipment: &Equipment) -> Vec<Way> {
    let mut ways = Vec::new();
    if equipment.fan {
        let (key, label) = ("fan", "Fan alone");
        ways.push(Way { key, label, route: None, fan: true, idling: None, briefly: false });
    }
    for route in &equipment.routes {
        let [plain, blown] = match route {
            Route::PanLoop => [("pan_loop", "Pan loop"), ("pan_loop_fan", "Pan loop with the fan")],
            Route::ThroughConverter => [
                ("through_converter", "Pump through the converter"),
                ("through_converter_fan", "Pump through the converter with the fan"),
            ],
            Route::CoolerFirst => [
                ("cooler_first", "Pump through cooler, then converter"),
                ("cooler_first_fan", "Pump through cooler, then converter, with the fan"),
            ],
        };
        for ((key, label), fan) in [(plain, false), (blown, true)] {
            if !fan || equipment.fan {
                let route = Some(*route);
                ways.push(Way { key, label, route, fan, idling: None, briefly: false });
            }
        }
    }
    for (in_gear, allowed) in [(false, equipment.idle), (true, equipment.idle_in_gear)] {
        for late in [false, true] {
            if !allowed {
                continue;
            }
            let idling = Some(Idling { late, in_gear });
            let plain = if in_gear {
                ("idle_in_gear", "Idle in gear, on the brake")
            } else {
                ("idle", "Idle in neutral")
            };
            let blown = ("idle_fan", "Idle in neutral with the fan");
            for ((key, label), fan) in [(plain, false), (blown, true)] {
                if !fan || equipment.fan && !in_gear {
                    ways.push(Way { key, label, route: None, fan, idling, briefly: false });
                }
            }
            for (route, fan) in equipment.routes.iter().flat_map(|r| [(*r, false), (*r, true)]) {
                if !fan || equipment.fan {
                    let key = if in_gear { "pump_and_idle_in_gear" } else { "pump_and_idle" };
                    let label = "Pump and idle together";
                    let way = Way { key, label, route: Some(route), fan, idling, briefly: false };
                    ways.push(way);
                    if !late {
                        ways.push(Way { briefly: true, ..way });
                    }
                }
            }
        }
    }
    ways
}

/// A search under way.
struct Search<'a, 'b> {
    situation: &'a Situation<'b>,
    aim: Aim,
    free_s: f64,
    /// Charge (A·s) that must be left.
    floor_a_s: f64,
    /// Whether the battery has ruled a schedule out.
    is_short: Cell<bool>,
}

impl<'a, 'b> Search<'a, 'b> {
    fn new(situation: &'a Situation<'b>, aim: Aim, free_s: f64) -> Search<'a, 'b> {
        let floor_a_s = situation.floor_a_s();
        Search { situation, aim, free_s, floor_a_s, is_short: Cell::new(false) }
    }

    /// What a schedule comes to; `None` where it cannot be simulated or the battery does not last.
    fn outcome(&self, schedule: Schedule) -> Option<Outcome> {
        let reached = self.situation.reached_in(&schedule, self.free_s).ok()?;
        let off_k = self.aim.off_k(reached.launch_k[Node::PanFluid.index()]);
        let lasts = reached.least_a_s >= self.floor_a_s || schedule.is_nothing();
        if !lasts {
            self.is_short.set(true);
        }
        lasts.then_some(Outcome { schedule, reached, off_k })
    }

    /// The best of a family of schedules over a dose from 0 (which comes to `none`) to 1: the least dose that reaches
    /// the aim, or the one that comes nearest to it.
    fn best_dose(&self, none: &Outcome, schedule: &dyn Fn(f64) -> Schedule) -> Option<Outcome> {
        let side = none.off_k.signum();
        // Falls through zero when the aim is reached from either side; flat beyond it.
        let gap_k = |outcome: &Outcome| {
            let pan_k = outcome.pan_k();
            if side > 0.0 { pan_k - self.aim.high_k } else { self.aim.low_k - pan_k }
        };
        let mut best: Option<(f64, Outcome)> = None;
        let mut from = 0.0;
        for dose in TRIED {
            let Some(tried) = self.outcome(schedule(dose)) else {
                // The battery does not last for this dose or any larger one: the largest for which it does.
                let (mut low, mut high) = (from, dose);
                while (high - low) * self.free_s > ROUND_S {
                    let middle = 0.5 * (low + high);
                    match self.outcome(schedule(middle)) {
                        Some(one) if best.is_none_or(|(_, known)| one.is_better_than(&known)) => {
                            best = Some((middle, one));
                            low = middle;
                        }
                        Some(_) => low = middle,
                        None => high = middle,
                    }
                }
                break;
            };
            if gap_k(&tried) <= 0.0 {
                let root = rising_root(from, dose, RESOLUTION_S / self.free_s, |dose| {
                    self.outcome(schedule(dose)).map_or(1.0, |outcome| -gap_k(&outcome))
                });
                // The root lies within its resolution: the far side of it reaches the aim.
                let inside = [root, root + RESOLUTION_S / self.free_s]
                    .into_iter()
                    .filter_map(|dose| self.outcome(schedule(dose.min(1.0))))
                    .fold(tried, |best, one| if one.is_better_than(&best) { one } else { best });
                return Some(inside);
            }
            if best.is_none_or(|(_, known)| tried.is_better_than(&known)) {
                best = Some((dose, tried));
            }
            from = dose;
        }
        best.map(|(_, outcome)| outcome)
    }

    /// Improves start and fan of a schedule that uses the pump, its on-time being found anew each time.
    fn shifted(&self, none: &Outcome, found: Outcome, equipment: &Equipment) -> Outcome {
        let Some(route) = found.schedule.route else { return found };
        if !found.schedule.idle.is_empty() {
            return found;
        }
        let mut best = found;
        let made = |start: f64, fan_share: f64, idle: Span| {
            move |dose: f64| {
                let start_s = start * self.free_s;
                let pump_s = dose * (self.free_s - start_s);
                Schedule {
                    route: Some(route),
                    pump: Span::new(start_s, start_s + pump_s),
                    fan: Span::new(start_s, start_s + fan_share * pump_s),
                    idle,
                    in_gear: false,
                }
            }
        };
        let own_share = if found.schedule.fan.is_empty() { 0.0 } else { 1.0 };
        let mut take = |start: f64, share: f64, idle: Span| {
            let one = self.best_dose(none, &made(start, share, idle));
            if let Some(one) = one
                && one.is_better_than(&best)
            {
                best = one;
            }
        };
        let shares: &[f64] = if equipment.fan { &[0.25, 0.5, 0.75] } else { &[] };
        for share in shares {
            take(0.0, *share, Span::default());
        }
        // A late start pays where heat has yet to come to the pan, or where what is cooled warms again before the call.
        for start in [0.25, 0.5, 0.75] {
            take(start, own_share, Span::default());
        }
        // The front pump of an idling engine helps the electric one, and saves charge.
        if equipment.idle {
            for share in [0.15, 0.4] {
                take(0.0, own_share, Span::new(0.0, share * self.free_s));
                take(0.0, own_share, Span::new((1.0 - share) * self.free_s, self.free_s));
            }
        }
        // And as late as can be.
        let late = self.best_dose(none, &|dose| {
            let pump = Span::new((1.0 - dose) * self.free_s, self.free_s);
            let fan = if own_share > 0.0 { pump } else { Span::default() };
            Schedule { route: Some(route), pump, fan, ..Schedule::NOTHING }
        });
        late.filter(|late| late.is_better_than(&best)).unwrap_or(best)
    }

    /// Pattern search over all six switch times.
    fn polished(&self, start: Outcome, equipment: &Equipment) -> Outcome {
        let mut best = start;
        let mut step_s = self.free_s / 8.0;
        while step_s >= 0.5 * ROUND_S {
            let mut improved = false;
            for coordinate in 0..6 {
                let allowed = match coordinate {
                    0 | 1 => best.schedule.route.is_some(),
                    2 | 3 => equipment.fan && !best.is_inside() || !best.schedule.fan.is_empty(),
                    // Which gear an idle is in is settled by then.
                    _ => {
                        let may = equipment.idle && !best.schedule.in_gear;
                        may && !best.is_inside() || !best.schedule.idle.is_empty()
                    }
                };
                if !allowed {
                    continue;
                }
                for sign in [-1.0, 1.0] {
                    let moved = moved(&best.schedule, coordinate, sign * step_s, self.free_s);
                    if moved == best.schedule {
                        continue;
                    }
                    if let Some(one) = self.outcome(moved)
                        && one.is_better_than(&best)
                    {
                        best = one;
                        improved = true;
                        break;
                    }
                }
            }
            if !improved {
                step_s *= 0.5;
            }
        }
        best
    }

    /// Switch times rounded to what a crew can do, each end to the side that is better. What is all but together is
    /// switched together where that costs little.
    fn rounded(&self, found: Outcome) -> Outcome {
        let apart = self.rounded_as_is(found);
        let fan = found.schedule.fan;
        let with = [found.schedule.pump, found.schedule.idle].into_iter().find(|span| {
            !span.is_empty()
                && !fan.is_empty()
                && (span.start_s - fan.start_s).abs() <= TOGETHER_S
                && (span.end_s - fan.end_s).abs() <= TOGETHER_S
        });
        let Some(span) = with else { return apart };
        let schedule = Schedule { fan: span, ..found.schedule };
        let together = self.rounded_as_is(Outcome { schedule, ..found });
        let costs_k = together.off_k.abs() - apart.off_k.abs();
        if costs_k <= TOGETHER_K { together } else { apart }
    }

    /// Without what brings next to nothing: idle, fan or pump, where the aim is as near without it.
    fn simplified(&self, found: Outcome) -> Outcome {
        let mut best = found;
        let none = Span::default();
        for part in 0..3 {
            let mut schedule = best.schedule;
            match part {
                0 => schedule.idle = none,
                1 => schedule.fan = none,
                _ => (schedule.route, schedule.pump) = (None, none),
            }
            let brings_k = |one: &Outcome| one.off_k.abs() - best.off_k.abs();
            let allowed_k = if best.is_inside() { SAME_K } else { NOTHING_K };
            if schedule != best.schedule
                && let Some(one) = self.outcome(schedule)
                && brings_k(&one) <= allowed_k
                && one.reached.used_a_s <= best.reached.used_a_s
            {
                best = one;
            }
        }
        best
    }

    fn rounded_as_is(&self, found: Outcome) -> Outcome {
        let Schedule { pump, fan, idle, .. } = found.schedule;
        let (fan_is_pump, fan_is_idle) =
            (fan == pump && !fan.is_empty(), fan == idle && !fan.is_empty());
        let mut best: Option<Outcome> = None;
        for bits in 0..8_u8 {
            let up = [bits & 1 > 0, bits & 2 > 0, bits & 4 > 0];
            let spans = [found.schedule.pump, found.schedule.fan, found.schedule.idle];
            if up.iter().zip(spans).any(|(up, span)| *up && span.is_empty()) {
                continue;
            }
            if fan_is_pump && up[1] != up[0] || fan_is_idle && !fan_is_pump && up[1] != up[2] {
                continue;
            }
            let round = |span: &Span, up: bool| {
                let start_s = (span.start_s / ROUND_S).round() * ROUND_S;
                let start_s = if start_s <= AT_ONCE_S { 0.0 } else { start_s };
                let end = span.end_s / ROUND_S;
                let end_s = if up { end.ceil() } else { end.floor() } * ROUND_S;
                // What lasts to the call lasts to the call.
                let open = self.free_s - span.end_s <= AT_ONCE_S;
                Span::new(start_s.min(self.free_s), if open { self.free_s } else { end_s })
            };
            let schedule = Schedule {
                route: found.schedule.route,
                pump: round(&found.schedule.pump, up[0]),
                fan: round(&found.schedule.fan, up[1]),
                idle: round(&found.schedule.idle, up[2]),
                in_gear: found.schedule.in_gear,
            };
            if let Some(one) = self.outcome(schedule)
                && best.is_none_or(|known| one.is_better_than(&known))
            {
                best = Some(one);
            }
        }
        best.unwrap_or(found)
    }
}

/// A schedule with one of its six switch times moved, within now and the call.
fn moved(schedule: &Schedule, coordinate: usize, by_s: f64, free_s: f64) -> Schedule {
    let mut moved = *schedule;
    let span = match coordinate / 2 {
        0 => &mut moved.pump,
        1 => &mut moved.fan,
        _ => &mut moved.idle,
    };
    if coordinate.is_multiple_of(2) {
        span.start_s = (span.start_s + by_s).clamp(0.0, span.end_s);
    } else {
        span.end_s = (span.end_s + by_s).clamp(span.start_s, free_s);
    }
    moved
}

/// How hard to look.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Effort {
    /// Every way from now on.
    Ways,
    /// And its start, its fan, all switch times, rounded.
    Whole,
}

/// The best use of a rest. An error where the day cannot go on even with nothing done.
pub fn plan_rest(situation: &Situation, aim: &Aim, equipment: &Equipment) -> Result<Plan, Error> {
    let mut plan = search_rest(situation, aim, equipment, Effort::Whole)?;
    if plan.best.off_k != 0.0 && situation.free_s >= 2.0 * ROUND_S {
        plan.enough_s = enough_time_s(situation, aim, equipment);
        plan.simulated = situation.simulated();
    }
    Ok(plan)
}

/// The same with a choice of how hard to look.
pub fn search_rest(
    situation: &Situation,
    aim: &Aim,
    equipment: &Equipment,
    effort: Effort,
) -> Result<Plan, Error> {
    let wanted = if effort == Effort::Whole { aim.with_margin() } else { *aim };
    let mut search = Search::new(situation, wanted, situation.free_s);
    let reached = situation.reached(&Schedule::NOTHING)?;
    // What the way to the line takes by itself is no schedule's fault.
    search.floor_a_s = search.floor_a_s.min(reached.least_a_s);
    let pan_k = reached.launch_k[Node::PanFluid.index()];
    let nothing = Outcome { schedule: Schedule::NOTHING, reached, off_k: wanted.off_k(pan_k) };
    let mut found =
        vec![WayPlan { key: "nothing", label: "Engine off and nothing", best: nothing }];
    let has_time = situation.free_s >= 2.0 * ROUND_S;
    // Inside by less than the margin is inside.
    let is_good = aim.off_k(pan_k) == 0.0;
    if has_time && !is_good {
        for way in ways(equipment) {
            let best = search.best_dose(&nothing, &|dose| way.schedule(dose, search.free_s));
            let Some(best) = best else { continue };
            match found.iter_mut().find(|known| known.key == way.key) {
                Some(known) if best.is_better_than(&known.best) => known.best = best,
                Some(_) => {}
                None => found.push(WayPlan { key: way.key, label: way.label, best }),
            }
        }
    }
    let mut best = found
        .iter()
        .map(|way| way.best)
        .reduce(|a, b| if b.is_better_than(&a) { b } else { a })
        .unwrap_or(nothing);
    if effort == Effort::Whole && has_time && !is_good {
        best = search.shifted(&nothing, best, equipment);
        best = search.polished(best, equipment);
        if !best.is_inside() {
            // Where nothing reaches the aim the ways are far apart, and the best of one is not near the best of all.
            let mut starts: Vec<Outcome> = found.iter().map(|way| way.best).collect();
            starts.sort_by(|a, b| a.off_k.abs().total_cmp(&b.off_k.abs()));
            for start in starts.into_iter().take(STARTS) {
                let one = search.polished(start, equipment);
                if one.is_better_than(&best) {
                    best = one;
                }
            }
        }
        best = search.simplified(search.rounded(best));
        // Rounding never makes it worse than what needs none.
        if nothing.is_better_than(&best) {
            best = nothing;
        }
        for way in &mut found {
            way.best = search.rounded(way.best);
        }
        // What did best without the engine is another way.
        found.retain(|way| {
            !way.key.starts_with("pump_and_idle") || !way.best.schedule.idle.is_empty()
        });
    }
    let judge = |outcome: &mut Outcome| outcome.off_k = aim.off_k(outcome.pan_k());
    let mut nothing = nothing;
    judge(&mut best);
    judge(&mut nothing);
    for way in &mut found {
        judge(&mut way.best);
    }
    let is_short_of_charge = search.is_short.get();
    let simulated = situation.simulated();
    Ok(Plan { best, nothing, ways: found, enough_s: None, is_short_of_charge, simulated })
}

/// The longest call that is looked for (s).
const LONGEST_S: f64 = 3.0 * 3600.0;
/// How many times the whole search is asked whether half a minute less is enough too.
const MOST_SHORTENED: usize = 12;

/// The shortest time until the call in which some way reaches the aim, to half a minute; `None` if none within hours.
fn enough_time_s(situation: &Situation, aim: &Aim, equipment: &Equipment) -> Option<f64> {
    let reaches = |free_s: f64| {
        let search = Search::new(situation, *aim, free_s);
        let Some(nothing) = search.outcome(Schedule::NOTHING) else { return false };
        nothing.is_inside()
            || ways(equipment).iter().any(|way| {
                [0.5, 1.0].iter().any(|dose| {
                    search.outcome(way.schedule(*dose, free_s)).is_some_and(|one| {
                        one.is_inside() || one.off_k.signum() != nothing.off_k.signum()
                    })
                })
            })
    };
    let mut short_s = situation.free_s;
    let mut long_s = (2.0 * short_s).max(600.0);
    while !reaches(long_s) {
        if long_s >= LONGEST_S {
            return None;
        }
        short_s = long_s;
        long_s = (2.0 * long_s).min(LONGEST_S);
    }
    while long_s - short_s > 30.0 {
        let middle_s = 0.5 * (short_s + long_s);
        if reaches(middle_s) {
            long_s = middle_s;
        } else {
            short_s = middle_s;
        }
    }
    // The whole search does better than the ways by themselves: while it does, shorter.
    let mut enough_s = (long_s / 30.0).ceil() * 30.0;
    let planned_in = |free_s: f64| {
        let shorter = situation.with_free(free_s);
        let plan = search_rest(&shorter, aim, equipment, Effort::Whole);
        plan.is_ok_and(|plan| plan.best.off_k == 0.0)
    };
    for _ in 0..MOST_SHORTENED {
        if enough_s - 30.0 <= situation.free_s || !planned_in(enough_s - 30.0) {
            break;
        }
        enough_s -= 30.0;
    }
    Some(enough_s)
}
