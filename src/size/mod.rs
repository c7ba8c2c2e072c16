//! Sizes: the cooler, pump flow, fan air, fluid volume or time on the brake with which a day meets an aim.
//!
//! An aim is measured by simulating the day. Its excess (K) is positive while the aim is missed and zero or less when
//! it is met; it is continuous where the day is, so that the place between can be searched ([`search`]):
//!
//! - back in the window: the pan fluid's highest temperature from the wanted minute of the rest on, less the window's
//!   upper end. That is zero or less exactly when the fluid is back in time and stays so;
//! - launches and converter: the highest temperature less the wanted one;
//! - launches in the window: how far the worst launch is outside, less than zero by its distance to the nearer end.
//!
//! A time on the brake is bounded by the converter fluid's limit while it is held as well, and cold launches are not held against it.
//!
//! For "back in the window" the day runs as it is until the first rest after the pass. That rest is made long, with
//! pump and fan on all the while; as written, it stays as the timeline has it and lasts until the engine starts.
//! A day that cannot be simulated misses every aim.
//!
//! Leaves out: the battery, and whether anybody sells the size.

mod chart;
mod map;
mod search;
mod words;

pub use chart::contours_svg;
pub use map::{Axis, ContourLine, MAX_CELLS, Map, MapWork};
pub use search::{Found, Nearby, Other, Sized, size};
pub use words::{Answer, Words, answer, no_hold};

use crate::error::{Error, ErrorKind};
use crate::scenario::parameters::{Parameter, of_path};
use crate::scenario::{Scenario, largest_ua_w_per_k};
use crate::simulate::simulate;
use crate::timeline::{Circulation, Event, EventEnd, EventKind, NODES, Node, OnTime, Route};
use crate::trace::{EventRecord, Trace};
use crate::units::{Dimension, System, Unit, significant, temperature_text, unit_or_si};

/// What the excess of a day that cannot be simulated counts as (K).
const FAILED_K: f64 = 1e3;
/// Times for "back in the window" (s): half a minute to four hours.
pub const WITHIN_S: (f64, f64) = (30.0, 4.0 * 3600.0);
/// Times on the brake (s): shorter is a stab, longer boils the fluid.
pub const HOLD_S: (f64, f64) = (0.5, 60.0);

/// After which pass.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum After {
    Round(u32),
    Last,
    /// The one whose rest begins with the hottest pan.
    Hottest,
}

/// What cools in the rest.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cooling {
    /// Pump and fan on all the while, on the route that the timeline uses there; without one, through the converter.
    OwnRoute,
    /// Pump and fan on all the while.
    Route(Route),
    /// The switches of the timeline.
    AsWritten,
}

/// What is wanted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Aim {
    /// Pan fluid at or below the window's upper end so long after the rest began, and from then on.
    BackIn { within_s: f64, after: After, cooling: Cooling },
    /// Every launch, of pan or converter fluid.
    LaunchesAtMost { node: Node, temperature_k: f64 },
    /// Pan fluid inside the window at every launch.
    LaunchesInWindow,
    /// Converter fluid, the whole day.
    ConverterAtMost { temperature_k: f64 },
}

/// What may be changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unknown {
    Cooler,
    Pump,
    Fan,
    Fluid,
    /// All times on the brake, or those of one round.
    Hold {
        round: Option<u32>,
    },
    /// Of a chart only: nobody chooses it.
    Air,
}

impl Unknown {
    /// Those that can be asked for.
    pub const SIZES: [Unknown; 5] = [
        Unknown::Cooler,
        Unknown::Pump,
        Unknown::Fan,
        Unknown::Fluid,
        Unknown::Hold { round: None },
    ];

    /// The name in questions.
    pub fn key(self) -> &'static str {
        match self {
            Unknown::Cooler => "cooler",
            Unknown::Pump => "pump",
            Unknown::Fan => "fan",
            Unknown::Fluid => "fluid",
            Unknown::Hold { .. } => "hold",
            Unknown::Air => "air",
        }
    }

    /// The unknown of a name.
    pub fn of_key(key: &str) -> Option<Unknown> {
        Unknown::SIZES.into_iter().chain([Unknown::Air]).find(|one| one.key() == key)
    }

    /// Path of its parameter; the time on the brake is in the timeline and has none.
    pub fn path(self) -> Option<&'static str> {
        Some(match self {
            Unknown::Cooler => "cooler.ua",
            Unknown::Pump => "circulation.flow",
            Unknown::Fan => "cooler.fan_air_flow",
            Unknown::Fluid => "transmission.pan_volume",
            Unknown::Air => "air.temperature",
            Unknown::Hold { .. } => return None,
        })
    }

    fn parameter(self) -> Option<&'static Parameter> {
        of_path(self.path()?)
    }

    /// The name for people, as in the parameter table.
    pub fn label(self) -> &'static str {
        self.parameter().map_or("Time on the brake", |parameter| parameter.wording().label)
    }

    /// The reader's unit.
    pub fn unit(self, system: System) -> &'static Unit {
        match self.parameter() {
            None => unit_or_si(Dimension::Time, "s"),
            Some(parameter) => parameter.reader_unit(system),
        }
    }

    /// Whether more of it is what one would like: of all others the least that does is the answer.
    pub fn is_wanted_large(self) -> bool {
        matches!(self, Unknown::Hold { .. })
    }

    /// The value in a day (SI); of several times on the brake the longest. `None`: the day has no such thing.
    pub fn value_si(self, scenario: &Scenario) -> Option<f64> {
        match self.parameter() {
            Some(parameter) => Some(parameter.value_si(&scenario.setup)),
            None => {
                let Unknown::Hold { round } = self else { return None };
                let holds = scenario
                    .blocks
                    .iter()
                    .filter(|block| round.is_none() || block.round == round)
                    .flat_map(|block| &block.events)
                    .filter(|event| event.kind == EventKind::BrakeHold)
                    .filter_map(Event::longest_s);
                holds.reduce(f64::max)
            }
        }
    }

    /// Least and largest value that the gate takes with everything else as it is (SI).
    pub fn range_si(self, scenario: &Scenario) -> (f64, f64) {
        let Some(parameter) = self.parameter() else { return HOLD_S };
        let most = match self {
            Unknown::Cooler => largest_ua_w_per_k(&scenario.setup),
            _ => f64::INFINITY,
        };
        (parameter.min_si(), parameter.max_si().min(most))
    }

    fn put(self, case: &Case, scenario: &mut Scenario, value_si: f64) {
        match self {
            Unknown::Hold { round } => {
                for block in &mut scenario.blocks {
                    if round.is_some() && block.round != round {
                        continue;
                    }
                    for event in &mut block.events {
                        if event.kind == EventKind::BrakeHold {
                            event.end = EventEnd::Duration(value_si);
                        }
                    }
                }
            }
            Unknown::Air => put_air(scenario, &case.starts_at_air, value_si),
            _ => {
                if let Some(parameter) = self.parameter() {
                    parameter.set_si(&mut scenario.setup, value_si);
                }
            }
        }
    }
}

/// Moves the air, and with it what starts the day at its temperature.
fn put_air(scenario: &mut Scenario, starts_at_air: &[bool; NODES], air_k: f64) {
    scenario.setup.air.temperature_k = air_k;
    for (start_k, at_air) in scenario.initial_temperature_k.iter_mut().zip(starts_at_air) {
        if *at_air {
            *start_k = air_k;
        }
    }
}

/// What a day comes to under an aim.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    /// Back in the window: how long it took (s), the longest that was looked at where it did not. Launches in the
    /// window: how far the worst is outside (K). Else the highest temperature (K). NaN: the day cannot be simulated.
    pub value: f64,
    /// K; positive while the aim is missed.
    pub excess_k: f64,
    /// False where the fluid was not back in the time looked at, and for a day that cannot be simulated.
    pub reached: bool,
    /// When a time on the brake is sought: highest temperature of the converter fluid while it is held (K), which bounds
    /// it, too.
    pub hold_peak_k: Option<f64>,
    /// Back in the window: how long it took to fall below the window's lower end (s), where it did.
    pub too_cold_s: Option<f64>,
}

impl Measured {
    const fn of(value: f64, excess_k: f64) -> Measured {
        Measured { value, excess_k, reached: true, hold_peak_k: None, too_cold_s: None }
    }

    /// Whether the aim is met.
    pub fn meets(&self) -> bool {
        self.excess_k <= 0.0
    }
}

/// What a day comes to that could not be simulated.
pub const LOST: Measured =
    Measured { excess_k: FAILED_K, reached: false, ..Measured::of(f64::NAN, 0.0) };

/// A day and an aim, ready to be measured with other values.
#[derive(Debug, Clone)]
pub struct Case {
    scenario: Scenario,
    aim: Aim,
    /// The launch after which the rest is measured, among the day's.
    launch: usize,
    /// Its round, where it has one.
    round: Option<u32>,
    /// How the rest is cooled; `None` as written or where no rest counts.
    route: Option<Route>,
    starts_at_air: [bool; NODES],
    /// Longest time looked at (s).
    horizon_s: f64,
}

impl Case {
    /// A day under an aim, at its own air temperature or at another (K).
    ///
    /// Errors: the aim or the air is out of range, the day has no such pass, or it cannot be simulated.
    pub fn new(scenario: &Scenario, aim: Aim, air_k: Option<f64>) -> Result<Case, Error> {
        let mut scenario = scenario.clone();
        let own_air_k = scenario.setup.air.temperature_k;
        let starts_at_air = scenario.initial_temperature_k.map(|start_k| start_k == own_air_k);
        if let Some(air_k) = air_k {
            check_temperature("air", "air.temperature", air_k)?;
            put_air(&mut scenario, &starts_at_air, air_k);
        }
        let mut case = Case {
            scenario,
            aim,
            launch: 0,
            round: None,
            route: None,
            starts_at_air,
            horizon_s: 0.0,
        };
        match aim {
            Aim::BackIn { within_s, after, cooling } => case.make_rest(within_s, after, cooling)?,
            Aim::LaunchesAtMost { temperature_k, .. } => {
                check_temperature("launch at most", "limits.pan_fluid", temperature_k)?;
                case.require_launches()?;
            }
            Aim::LaunchesInWindow => {
                case.require_launches()?;
            }
            Aim::ConverterAtMost { temperature_k } => {
                check_temperature("converter at most", "limits.converter_fluid", temperature_k)?;
                simulate(&case.scenario)?;
            }
        }
        Ok(case)
    }

    pub fn aim(&self) -> Aim {
        self.aim
    }

    /// The day that is measured: with the air asked for, and the rest made long.
    pub fn scenario(&self) -> &Scenario {
        &self.scenario
    }

    /// The round whose rest is measured.
    pub fn round(&self) -> Option<u32> {
        self.round
    }

    /// The route on which the rest is cooled; `None` as written.
    pub fn route(&self) -> Option<Route> {
        self.route
    }

    /// The same with a sooner or later time, or a lower or higher temperature, by the aim's usual step.
    fn moved(&self, aim: Aim) -> Case {
        Case { aim, ..self.clone() }
    }

    /// The same at another air temperature (K).
    fn with_air(&self, air_k: f64) -> Case {
        let mut moved = self.clone();
        put_air(&mut moved.scenario, &self.starts_at_air, air_k);
        moved
    }

    /// Simulates the day with these values (SI), each in its range.
    pub fn measure(&self, values_si: &[(Unknown, f64)]) -> Measured {
        let mut scenario = self.scenario.clone();
        for (unknown, value_si) in values_si {
            unknown.put(self, &mut scenario, *value_si);
        }
        let Ok(trace) = simulate(&scenario) else { return LOST };
        let held = values_si.iter().find_map(|(unknown, _)| match unknown {
            Unknown::Hold { round } => Some(*round),
            _ => None,
        });
        let measured = self.read(&scenario, &trace, held.is_some());
        let peak_k = held.map(|round| hold_peak_k(&trace, round));
        let over_k = match (self.aim, peak_k) {
            // Who states what the converter may have says it for the hold, too.
            (Aim::ConverterAtMost { .. }, _) | (_, None) => f64::NEG_INFINITY,
            (_, Some(peak_k)) => peak_k - scenario.setup.limits.converter_fluid_k,
        };
        let hold_peak_k = peak_k.filter(|_| over_k.is_finite());
        Measured { excess_k: measured.excess_k.max(over_k), hold_peak_k, ..measured }
    }

    /// `hot_side`: only what is too hot counts, for the time on the brake is not to blame for a cold launch.
    fn read(&self, scenario: &Scenario, trace: &Trace, hot_side: bool) -> Measured {
        let limits = &scenario.setup.limits;
        let launches = |node: Node| {
            trace.launches.iter().map(move |launch| launch.temperature_k[node.index()])
        };
        let highest = |value: f64, limit: f64| Measured::of(value, value - limit);
        match self.aim {
            Aim::BackIn { within_s, .. } => {
                let Some((start_s, end_s)) = self.rest(trace) else {
                    return LOST;
                };
                let window_k = (limits.window_low_k, limits.window_high_k);
                back_in(trace, start_s, end_s, within_s, window_k)
            }
            Aim::LaunchesAtMost { node, temperature_k } => {
                highest(launches(node).fold(f64::NEG_INFINITY, f64::max), temperature_k)
            }
            Aim::LaunchesInWindow => highest(
                launches(Node::PanFluid)
                    .map(|pan_k| {
                        let cold_k =
                            if hot_side { f64::NEG_INFINITY } else { limits.window_low_k - pan_k };
                        (pan_k - limits.window_high_k).max(cold_k)
                    })
                    .fold(f64::NEG_INFINITY, f64::max),
                0.0,
            ),
            Aim::ConverterAtMost { temperature_k } => {
                highest(trace.peak(Node::ConverterFluid).0, temperature_k)
            }
        }
    }

    /// Start and end of the rest that is measured (s).
    fn rest(&self, trace: &Trace) -> Option<(f64, f64)> {
        let (first, all) = rest_after(trace, self.launch)?;
        let end_s = all.iter().take_while(|event| !event.kind.engine_runs()).last()?.end_s;
        Some((first.start_s, end_s))
    }

    fn require_launches(&self) -> Result<Trace, Error> {
        let trace = simulate(&self.scenario)?;
        if trace.launches.is_empty() {
            return Err(no_pass("no pass in this day", "a day with a pass"));
        }
        Ok(trace)
    }

    fn make_rest(&mut self, within_s: f64, after: After, cooling: Cooling) -> Result<(), Error> {
        if !(WITHIN_S.0..=WITHIN_S.1).contains(&within_s) {
            return Err(Error::new(
                ErrorKind::OutOfRange,
                "back in",
                format!("{} min", significant(within_s / 60.0, 4)),
                format!("{} to {} min", WITHIN_S.0 / 60.0, WITHIN_S.1 / 60.0),
                "Ask for a time that a turnaround can have.",
            ));
        }
        let trace = self.require_launches()?;
        let pan_k = |launch: usize| {
            let first = rest_after(&trace, launch).map(|(first, _)| first.samples.0);
            let place = first.unwrap_or(trace.events[trace.launches[launch].event].samples.1);
            trace.samples[place].temperature_k[Node::PanFluid.index()]
        };
        let all = 0..trace.launches.len();
        let chosen = match after {
            After::Last => all.clone().next_back(),
            After::Hottest => all.clone().max_by(|a, b| pan_k(*a).total_cmp(&pan_k(*b))),
            After::Round(round) => {
                all.rev().find(|launch| trace.launches[*launch].round == Some(round))
            }
        };
        let Some(launch) = chosen else {
            let rounds: Vec<String> = trace
                .launches
                .iter()
                .filter_map(|launch| launch.round.map(|round| round.to_string()))
                .collect();
            let asked = match after {
                After::Round(round) => format!("round {round}"),
                _ => "no pass".to_string(),
            };
            let limit = format!("rounds with a pass: {}", rounds.join(", "));
            return Err(no_pass(&asked, &limit));
        };
        self.launch = launch;
        self.round = trace.launches[launch].round;
        self.horizon_s = (4.0 * within_s).max(2400.0);
        if cooling == Cooling::AsWritten {
            if rest_after(&trace, launch).is_none() {
                return Err(Error::new(
                    ErrorKind::Missing,
                    "route",
                    "as written",
                    "a rest with the engine off after this pass",
                    "Name a route, and a rest is taken there; or add an \"engine_off\" event.",
                ));
            }
            return Ok(());
        }
        let place = trace.events[trace.launches[launch].event].place;
        let Some((block, pass)) = place else {
            return Err(no_pass("a pass without a place", "a pass of the timeline"));
        };
        self.scenario.blocks.truncate(block + 1);
        let block = &mut self.scenario.blocks[block];
        block.turnaround_s = None;
        let after_pass = &block.events[pass + 1..];
        let until_pass = after_pass.iter().position(|event| event.kind == EventKind::Pass);
        let until_pass = until_pass.unwrap_or(after_pass.len());
        let rest =
            after_pass[..until_pass].iter().position(|event| event.kind == EventKind::EngineOff);
        let own = rest.and_then(|rest| after_pass[rest].circulation.first());
        let route = match cooling {
            Cooling::Route(route) => route,
            _ => own.map_or(Route::ThroughConverter, |own| own.route),
        };
        block.events.truncate(pass + 1 + rest.unwrap_or(until_pass));
        let on = OnTime { start_s: 0.0, stop_s: f64::INFINITY, until: None };
        let mut long = Event::parked(EventEnd::Duration(self.horizon_s));
        long.circulation.push(Circulation { route, on });
        long.fan.push(on);
        block.events.push(long);
        self.route = Some(route);
        Ok(())
    }
}

/// Highest temperature of the converter fluid (K) while the car is held, in one round or in all.
fn hold_peak_k(trace: &Trace, round: Option<u32>) -> f64 {
    trace
        .events
        .iter()
        .filter(|event| event.kind == EventKind::BrakeHold)
        .filter(|event| round.is_none() || event.round == round)
        .flat_map(|event| &trace.samples[event.samples.0..=event.samples.1])
        .map(|sample| sample.temperature_k[Node::ConverterFluid.index()])
        .fold(f64::NEG_INFINITY, f64::max)
}

/// The first rest, engine off, between a launch and the next, and all events from it on.
fn rest_after(trace: &Trace, launch: usize) -> Option<(&EventRecord, &[EventRecord])> {
    let from = trace.launches.get(launch)?.event + 1;
    let next = trace.launches.get(launch + 1).map_or(trace.events.len(), |next| next.event);
    let rest = (from..next).find(|place| trace.events[*place].kind == EventKind::EngineOff)?;
    Some((&trace.events[rest], &trace.events[rest..]))
}

/// How long after its start a rest has the pan at or below a temperature for good.
fn back_in(
    trace: &Trace,
    start_s: f64,
    end_s: f64,
    within_s: f64,
    (low_k, high_k): (f64, f64),
) -> Measured {
    let pan = Node::PanFluid.index();
    let due_s = (start_s + within_s).min(end_s);
    let within = |from_s: f64| {
        trace.samples.iter().filter(move |sample| (from_s..=end_s).contains(&sample.time_s))
    };
    let highest_k = within(due_s)
        .map(|sample| sample.temperature_k[pan])
        .fold(trace.temperature_at_k(Node::PanFluid, due_s), f64::max);
    let mut back_s = 0.0;
    let mut last: Option<(f64, f64)> = None;
    for sample in within(start_s) {
        let (time_s, pan_k) = (sample.time_s - start_s, sample.temperature_k[pan]);
        if pan_k > high_k {
            back_s = end_s - start_s;
        } else if let Some((before_s, before_k)) = last
            && before_k > high_k
        {
            back_s = before_s + (time_s - before_s) * (before_k - high_k) / (before_k - pan_k);
        }
        last = Some((time_s, pan_k));
    }
    let reached = last.is_some_and(|(_, pan_k)| pan_k <= high_k);
    let cold = within(start_s).find(|sample| sample.temperature_k[pan] < low_k);
    let too_cold_s = cold.map(|sample| sample.time_s - start_s);
    Measured { reached, too_cold_s, ..Measured::of(back_s, highest_k - high_k) }
}

fn no_pass(value: &str, limit: &str) -> Error {
    Error::new(
        ErrorKind::Missing,
        "pass",
        value,
        limit,
        "Choose a round that has a pass, or add one to the timeline.",
    )
}

/// A temperature asked for must be one that the table allows for a parameter of its kind.
fn check_temperature(field: &str, path: &str, temperature_k: f64) -> Result<(), Error> {
    let Some(parameter) = of_path(path) else { return Ok(()) };
    // A pan that is wanted cold is no limit to worry about: the launch window goes lower.
    let least_k = if path == "air.temperature" { parameter.min_si() } else { 293.15 };
    if (least_k..=parameter.max_si()).contains(&temperature_k) {
        return Ok(());
    }
    let text = |kelvin: f64| {
        let us = temperature_text(System::Us, kelvin);
        format!("{us} ({})", temperature_text(System::Si, kelvin)).replace('\u{a0}', " ")
    };
    Err(Error::new(
        ErrorKind::OutOfRange,
        field,
        text(temperature_k),
        format!("{} to {}", text(least_k), text(parameter.max_si())),
        "Ask for a temperature in this range.",
    ))
}
