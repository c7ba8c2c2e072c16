//! A plan in words and numbers, in the reader's units: for the page and the command line.

use serde::Serialize;

use super::day::{DayPlan, spread_k};
use super::request::Request;
use super::rest::Situation;
use super::schedule::Schedule;
use super::search::{Outcome, Plan};
use crate::error::Error;
use crate::scenario::Scenario;
use crate::timeline::{Node, Route};
use crate::trace::Trace;
use crate::units::{
    System, temperature_difference_in, temperature_difference_text, temperature_in,
    temperature_symbol, temperature_text,
};

/// Something to do at a time after now.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StepLine {
    /// Seconds after now.
    pub from_now_s: f64,
    /// "at once", "after 4 min 30 s".
    pub when: String,
    pub what: String,
    /// What a gauge in the pan then reads.
    pub pan: f64,
    pub converter: f64,
}

/// The best of one way to spend the rest.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WaySummary {
    pub key: &'static str,
    pub label: &'static str,
    pub pan: f64,
    pub converter: f64,
    /// Distance from the aim: negative below, zero inside.
    pub off: f64,
    pub used_ah: f64,
    /// What is on for how long, in words.
    pub on: String,
    pub inside: bool,
    /// Whether it is the way of the plan.
    pub chosen: bool,
}

/// From when to when something is on (s after now).
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Lanes {
    pub engine: Option<(f64, f64)>,
    pub pump: Option<(f64, f64)>,
    pub fan: Option<(f64, f64)>,
}

impl Lanes {
    fn of(schedule: &Schedule) -> Lanes {
        let on = |span: super::Span| (!span.is_empty()).then_some((span.start_s, span.end_s));
        Lanes {
            engine: on(schedule.idle),
            pump: schedule.route.and_then(|_| on(schedule.pump)),
            fan: on(schedule.fan),
        }
    }
}

/// The plan of one rest.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlanSummary {
    /// Round in whose turnaround it is, and round of the launch; absent for single events.
    pub round: Option<u32>,
    pub launch_round: Option<u32>,
    pub temperature_unit: &'static str,
    /// Now.
    pub pan_now: f64,
    pub converter_now: f64,
    /// As the day computes them, without readings.
    pub pan_computed: f64,
    pub shell_computed: f64,
    pub free_s: f64,
    pub free_text: String,
    pub aim: (f64, f64),
    /// The whole answer in a sentence or two.
    pub says: String,
    pub steps: Vec<StepLine>,
    /// When engine, pump and fan are on, from and to (s after now).
    pub lanes: Lanes,
    /// At the launch.
    pub pan: f64,
    pub converter: f64,
    pub off: f64,
    pub inside: bool,
    pub used_ah: f64,
    /// Least charge in the battery, at worst (Ah).
    pub least_ah: f64,
    /// With nothing done.
    pub pan_with_nothing: f64,
    pub ways: Vec<WaySummary>,
    /// Where the aim is not reached, how long until the call would be enough.
    pub enough: Option<String>,
    pub cautions: Vec<String>,
    pub simulated: u32,
}

/// A launch of a planned day.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LaunchLine {
    pub round: Option<u32>,
    pub before: f64,
    pub planned: f64,
    /// What to do in the rest before it; absent where there is none.
    pub what: Option<String>,
    pub used_ah: f64,
}

/// The plan of a day.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DayPlanSummary {
    pub temperature_unit: &'static str,
    pub target: f64,
    pub says: String,
    pub spread_before: f64,
    pub spread_planned: f64,
    pub launches: Vec<LaunchLine>,
    pub used_ah: f64,
    pub cautions: Vec<String>,
}

/// Said first where it holds.
const FLAT: &str =
    "The battery is empty before the launch even with everything off: charge it first.";

/// What is said where more charge would bring the pan nearer.
fn short_of_charge(floor_a_s: f64, charge_a_s: f64) -> String {
    let (floor_ah, charge_ah) = (floor_a_s / AH_A_S, charge_a_s / AH_A_S);
    if floor_a_s > 0.0 {
        format!(
            "The battery bounds this: of the {charge_ah:.1} Ah in it {floor_ah:.1} Ah are its reserve, to start and to \
             stage. A charger or a larger battery lets pump and fan run longer."
        )
    } else {
        format!(
            "The battery bounds this: {charge_ah:.1} Ah are in it, less than its reserve. Charge it first; pump and fan \
             could then run longer."
        )
    }
}

const AH_A_S: f64 = 3_600.0;

/// `45 s`, `1 min 40 s`, `54 min`: a time to watch a clock by.
fn time_text(time_s: f64) -> String {
    let seconds = time_s.round() as i64;
    match (seconds / 60, seconds % 60) {
        (0, seconds) => format!("{seconds} s"),
        (minutes, 0) => format!("{minutes} min"),
        (minutes, seconds) if minutes < 30 => format!("{minutes} min {seconds} s"),
        (minutes, seconds) => format!("{} min", minutes + i64::from(seconds >= 30)),
    }
}

/// The route after "the pump": "round the pan loop".
fn route_words(route: Route) -> &'static str {
    match route {
        Route::PanLoop => "round the pan loop",
        Route::ThroughConverter => "through the converter",
        Route::CoolerFirst => "through the cooler, then the converter",
    }
}

/// "for 4 min 30 s at once", "from 2 min until the call".
fn span_words(start_s: f64, end_s: f64, free_s: f64, origin: &str) -> String {
    let to_the_call = free_s - end_s < 1.0;
    match (start_s < 1.0, to_the_call) {
        (true, true) => "all the time until the call".to_string(),
        (true, false) => format!("for {} at once", time_text(end_s - start_s)),
        (false, true) => format!("for the last {} before the call", time_text(end_s - start_s)),
        (false, false) => {
            format!("for {}, {} {origin}", time_text(end_s - start_s), time_text(start_s))
        }
    }
}

/// What a schedule does, in words without a full stop; `None` where it does nothing. `origin` says what times count from.
fn schedule_words(schedule: &Schedule, free_s: f64, origin: &str) -> Option<String> {
    let mut parts = Vec::new();
    let words = |span: super::Span| span_words(span.start_s, span.end_s, free_s, origin);
    let pump = schedule.route.filter(|_| !schedule.pump.is_empty());
    let together = pump.is_some()
        && !schedule.fan.is_empty()
        && (schedule.fan.start_s - schedule.pump.start_s).abs() < 1.0
        && (schedule.fan.end_s - schedule.pump.end_s).abs() < 1.0;
    if let Some(route) = pump {
        let with_fan = if together { " with the fan" } else { "" };
        parts.push(format!("pump {}{with_fan} {}", route_words(route), words(schedule.pump)));
    }
    if !schedule.fan.is_empty() && !together {
        parts.push(format!("fan {}", words(schedule.fan)));
    }
    if !schedule.idle.is_empty() {
        let gear = if schedule.in_gear { "in gear, held on the brake," } else { "in neutral" };
        parts.push(format!("engine at idle {gear} {}", words(schedule.idle)));
    }
    (!parts.is_empty()).then(|| parts.join("; "))
}

/// "11 °F too hot", "in the window".
fn off_words(system: System, off_k: f64) -> String {
    if off_k == 0.0 {
        return "in the window".to_string();
    }
    let side = if off_k > 0.0 { "too hot" } else { "too cold" };
    format!("{} {side}", temperature_difference_text(system, off_k.abs()))
}

fn upper_first(text: &str) -> String {
    let mut letters = text.chars();
    letters
        .next()
        .map_or(String::new(), |first| first.to_ascii_uppercase().to_string() + letters.as_str())
}

fn cautions(schedules: &[Schedule]) -> Vec<String> {
    let mut said = Vec::new();
    if schedules.iter().any(|one| !one.is_nothing()) {
        said.push("Fan and pump start by themselves: hands, sleeves and tools away before they are armed.");
    }
    if schedules.iter().any(|one| !one.idle.is_empty()) {
        said.push(if schedules.iter().any(|one| one.in_gear && !one.idle.is_empty()) {
            "Idling in gear holds a car on its brakes: driver in the seat, wheels chocked, clear ahead, never on stands. Open air only, and only where the track allows it."
        } else {
            "An engine idles in open air, in neutral, with somebody at it. Track rules on running in the pits come first."
        });
    }
    said.push("A computed temperature advises; read the gauge before you stage.");
    said.into_iter().map(String::from).collect()
}

/// The plan of a rest in words.
pub fn summary(
    scenario: &Scenario,
    trace: &Trace,
    request: &Request,
    situation: &Situation,
    plan: &Plan,
    system: System,
) -> Result<PlanSummary, Error> {
    let Request { rest, aim, .. } = request;
    let temperature = |kelvin: f64| temperature_in(system, kelvin);
    let difference = |delta_k: f64| temperature_difference_in(system, delta_k);
    let (pan, converter) = (Node::PanFluid.index(), Node::ConverterFluid.index());
    let free_s = situation.free_s;
    let best = &plan.best;
    let inside = |outcome: &Outcome| outcome.off_k == 0.0;
    let words = schedule_words(&best.schedule, free_s, "from now");
    let launch = temperature_text(system, best.pan_k());
    let cost = if best.reached.used_a_s > 0.0 {
        format!(", for {:.1} Ah", best.reached.used_a_s / AH_A_S)
    } else {
        String::new()
    };
    let enough = plan.enough_s.map(time_text);
    let says = match (inside(best), &words) {
        (true, None) => {
            format!(
                "Shut off and leave everything off: the pan comes to the line at {launch}, in the window."
            )
        }
        (true, Some(words)) => {
            format!(
                "{}: the pan comes to the line at {launch}, in the window{cost}.",
                upper_first(words)
            )
        }
        (false, words) => {
            let what = match words {
                Some(words) => format!("{words}: {launch}"),
                None => format!("everything off: {launch}"),
            };
            let longer = match &enough {
                Some(enough) => format!(" It takes {enough} until the call."),
                None => String::new(),
            };
            format!(
                "Nothing that may be used brings the pan into the window by then. The closest is: {what}, {}{cost}.{longer}",
                off_words(system, best.off_k)
            )
        }
    };
    let mut steps = Vec::new();
    for (from_now_s, what) in switchings(&best.schedule, free_s) {
        let at_k = situation.at(&best.schedule, from_now_s)?;
        steps.push(StepLine {
            from_now_s,
            when: match from_now_s {
                at if at < 1.0 => "at once".to_string(),
                at if free_s - at < 1.0 => format!("at the call, after {}", time_text(at)),
                at => format!("after {}", time_text(at)),
            },
            what,
            pan: temperature(at_k[pan]),
            converter: temperature(at_k[converter]),
        });
    }
    let ways = plan
        .ways
        .iter()
        .map(|way| {
            // What the search made of a way is better than the way by itself.
            let chosen = is_same_way(&way.best.schedule, &best.schedule);
            let shown = if chosen { best } else { &way.best };
            WaySummary {
                key: way.key,
                label: way.label,
                pan: temperature(shown.pan_k()),
                converter: temperature(shown.reached.launch_k[converter]),
                off: difference(shown.off_k),
                used_ah: shown.reached.used_a_s / AH_A_S,
                on: on_words(&shown.schedule, free_s),
                inside: inside(shown),
                chosen,
            }
        })
        .collect();
    let mut cautions = cautions(&[best.schedule]);
    if plan.nothing.reached.least_a_s < 0.0 {
        cautions.insert(0, FLAT.to_string());
    } else if plan.is_short_of_charge && !inside(best) {
        cautions.insert(0, short_of_charge(situation.floor_a_s(), situation.charge_a_s));
    }
    let limit_k = scenario.setup.limits.pan_fluid_k;
    if situation.now_k[pan] > limit_k {
        cautions.insert(0, format!(
            "The pan stands above {}: let it cool, and look at the fluid and its smell before another run.",
            temperature_text(system, limit_k)
        ));
    }
    let sooner_s = rest.end_s - rest.start_s - request.into_s - free_s;
    if sooner_s.abs() >= 30.0 {
        let (side, length) =
            if sooner_s > 0.0 { ("sooner", "shorter") } else { ("later", "longer") };
        cautions.insert(0, format!(
            "The call comes {} {side} than the timeline has it: put in, this plan makes the rest that much {length}, and \
             everything after it comes {side}.",
            time_text(sooner_s.abs())
        ));
    }
    let off_k = situation.now_k[pan] - situation.computed_k[pan];
    if off_k.abs() > 0.3 {
        cautions.insert(0, format!(
            "You read {} where the day computes {}: the schedule is for your reading. A day with this schedule in it still computes from its own.",
            temperature_text(system, situation.now_k[pan]),
            temperature_text(system, situation.computed_k[pan])
        ));
    }
    Ok(PlanSummary {
        round: rest.round,
        launch_round: trace.launches[rest.launch].round,
        temperature_unit: temperature_symbol(system),
        pan_now: temperature(situation.now_k[pan]),
        converter_now: temperature(situation.now_k[converter]),
        pan_computed: temperature(situation.computed_k[pan]),
        shell_computed: temperature(situation.computed_k[Node::ConverterShell.index()]),
        lanes: Lanes::of(&best.schedule),
        free_s,
        free_text: time_text(free_s),
        aim: (temperature(aim.low_k), temperature(aim.high_k)),
        says,
        steps,
        pan: temperature(best.pan_k()),
        converter: temperature(best.reached.launch_k[converter]),
        off: difference(best.off_k),
        inside: inside(best),
        used_ah: best.reached.used_a_s / AH_A_S,
        least_ah: best.reached.least_a_s.min(scenario.setup.battery.capacity_a_s) / AH_A_S,
        pan_with_nothing: temperature(plan.nothing.pan_k()),
        ways,
        enough,
        cautions,
        simulated: plan.simulated,
    })
}

/// Route, fan and idle alike, whatever the times.
fn is_same_way(a: &Schedule, b: &Schedule) -> bool {
    let pump = |one: &Schedule| one.route.filter(|_| !one.pump.is_empty());
    pump(a) == pump(b)
        && a.fan.is_empty() == b.fan.is_empty()
        && a.idle.is_empty() == b.idle.is_empty()
        && (a.idle.is_empty() || a.in_gear == b.in_gear)
}

/// What is on for how long: "pump 4 min, fan 2 min".
fn on_words(schedule: &Schedule, free_s: f64) -> String {
    let mut parts = Vec::new();
    for (name, span) in [("pump", schedule.pump), ("fan", schedule.fan), ("idle", schedule.idle)] {
        if !span.is_empty() {
            let late = if span.start_s > 1.0 && free_s - span.end_s < 1.0 { ", last" } else { "" };
            parts.push(format!("{name} {}{late}", time_text(span.length_s())));
        }
    }
    if parts.is_empty() { "nothing".to_string() } else { parts.join("; ") }
}

/// What is switched when, in order of time; alike times in one line.
fn switchings(schedule: &Schedule, free_s: f64) -> Vec<(f64, String)> {
    let mut all: Vec<(f64, String)> = Vec::new();
    let mut add = |at_s: f64, what: String| match all
        .iter_mut()
        .find(|(known_s, _)| (*known_s - at_s).abs() < 1.0)
    {
        Some((_, known)) => *known += &format!("; {what}"),
        None => all.push((at_s, what)),
    };
    if schedule.idle.is_empty() || schedule.idle.start_s > 1.0 {
        add(0.0, "engine off".to_string());
    }
    if let Some(route) = schedule.route.filter(|_| !schedule.pump.is_empty()) {
        add(schedule.pump.start_s, format!("pump on, {}", route_words(route)));
        add(schedule.pump.end_s, "pump off".to_string());
    }
    if !schedule.fan.is_empty() {
        add(schedule.fan.start_s, "fan on".to_string());
        add(schedule.fan.end_s, "fan off".to_string());
    }
    if !schedule.idle.is_empty() {
        let gear = if schedule.in_gear { "in gear, on the brake" } else { "in neutral" };
        add(schedule.idle.start_s, format!("start the engine, idle {gear}"));
        if free_s - schedule.idle.end_s > 1.0 {
            add(schedule.idle.end_s, "engine off".to_string());
        }
    }
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    all
}

/// Which launches miss the window, and by how much.
fn misses(trace: &Trace, plan: &DayPlan, system: System) -> Option<String> {
    let launches = trace.launches.iter().zip(&plan.planned_k);
    let missed: Vec<String> = launches
        .filter(|(_, pan_k)| {
            temperature_difference_in(system, plan.aim.off_k(**pan_k)).abs() >= 0.5
        })
        .map(|(launch, pan_k)| {
            let off_k = plan.aim.off_k(*pan_k);
            let which = launch
                .round
                .map_or("a pass outside the rounds".to_string(), |round| format!("round {round}"));
            let side = if off_k > 0.0 { "too hot" } else { "too cold" };
            format!("{which} by {} {side}", temperature_difference_text(system, off_k.abs()))
        })
        .collect();
    if missed.is_empty() {
        return None;
    }
    let (count, of) = (missed.len(), plan.planned_k.len());
    Some(format!(
        "{count} of {of} launches still miss the window of {} to {}: {}.",
        temperature_text(system, plan.aim.low_k),
        temperature_text(system, plan.aim.high_k),
        missed.join(", ")
    ))
}

/// Why a plan spreads the launches more than the day as it stands, where it does.
fn wider(plan: &DayPlan, by_k: f64) -> Option<String> {
    if by_k < 0.5 {
        return None;
    }
    Some(match plan.forbidden.as_slice() {
        [] => "That is farther apart than the day as it stands, because the worst launch comes nearer to the window."
            .to_string(),
        used => format!(
            "That is farther apart than the day as it stands, which uses the {} that you left out.",
            used.join(" and the ")
        ),
    })
}

/// The plan of a day in words.
pub fn day_summary(trace: &Trace, plan: &DayPlan, system: System) -> DayPlanSummary {
    let temperature = |kelvin: f64| temperature_in(system, kelvin);
    let (before_k, planned_k) = (spread_k(&plan.before_k), spread_k(&plan.planned_k));
    let ah = plan.used_a_s / AH_A_S;
    let launches = trace
        .launches
        .iter()
        .enumerate()
        .map(|(place, launch)| {
            let rest = plan.rests.iter().find(|(rest, _)| rest.launch == place);
            LaunchLine {
                round: launch.round,
                before: temperature(plan.before_k[place]),
                planned: temperature(plan.planned_k[place]),
                what: rest.map(|(rest, plan)| {
                    let free_s = rest.end_s - rest.start_s;
                    schedule_words(&plan.best.schedule, free_s, "into the rest")
                        .unwrap_or_else(|| "everything off".to_string())
                }),
                used_ah: rest.map_or(0.0, |(_, plan)| plan.best.reached.used_a_s / AH_A_S),
            }
        })
        .collect();
    // The difference of the temperatures as they are shown.
    let spread = |launches_k: &[f64]| {
        let shown: Vec<f64> =
            launches_k.iter().map(|kelvin| temperature(*kelvin).round()).collect();
        format!("{:.0}\u{a0}{}", spread_k(&shown), temperature_symbol(system))
    };
    let mut says = format!(
        "Launches {} apart instead of {}, aiming at {} in the pan, for {ah:.1} Ah over the day.",
        spread(&plan.planned_k),
        spread(&plan.before_k),
        temperature_text(system, plan.target_k),
    );
    for more in
        [misses(trace, plan, system), wider(plan, planned_k - before_k)].into_iter().flatten()
    {
        says.push(' ');
        says += &more;
    }
    let schedules: Vec<Schedule> = plan.rests.iter().map(|(_, plan)| plan.best.schedule).collect();
    DayPlanSummary {
        temperature_unit: temperature_symbol(system),
        target: temperature(plan.target_k),
        says,
        spread_before: temperature_difference_in(system, before_k),
        spread_planned: temperature_difference_in(system, planned_k),
        launches,
        used_ah: ah,
        cautions: cautions(&schedules),
    }
}
