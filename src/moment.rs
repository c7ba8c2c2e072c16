//! Everything about one time of a simulated day, in the reader's units.
//!
//! Temperatures are straight between the two samples around the time. A rate is the mean over the stretch between
//! these samples, from the running totals along the paths: `Δheat / Δtime`. So nothing of the physics is evaluated
//! anew, rates integrate back to the ledger exactly, and they are as fine as the integration's steps (parts of a
//! second under load, minutes in a soak). Where samples share a time (a gear taken in a computed pass), the heat between
//! them belongs to the stretch that follows. Flows are those at the *end* of the event, gated by the switches as they
//! stand at the time: within an event they drift by a few per cent as the fluid warms.
//!
//! Every stretch holds its start and not its end; times outside of the day are taken to its ends. Cost: three binary
//! searches and a look through the switches.

use serde::Serialize;

use crate::pass::PassResult;
use crate::scenario::parameters::Setup;
use crate::timeline::{EventKind, Node, Route};
use crate::trace::{EventRecord, LEDGER_NODES, Sample, Trace};
use crate::transmission::Path;
use crate::units::{
    Dimension, System, clock_seconds_text, flow_unit, length_unit, power_unit, rpm, speed_unit,
    temperature_in, temperature_symbol, unit_or_si,
};

/// What pictures draw as wide, or as fast, as they can: a strong engine against the brake; a wide-open cooler line.
const FULL_RATE_W: f64 = 300e3;
const FULL_FLOW_M3_PER_S: f64 = 20e-3 / 60.0;

/// Heat that flows along one path.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PathRate {
    pub key: &'static str,
    pub label: &'static str,
    /// `made` or brought in, `away`, or `inside`.
    pub group: &'static str,
    /// In the moment's rate unit, positive as the label says; sinks and paths inside may run backwards.
    pub rate: f64,
}

/// What flows, and what drives it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Streams {
    /// Through converter, cooler and lubrication, driven by the engine; its value at the end of the event.
    pub front_pump: f64,
    /// Of the circulation pump: its value when it last ran in the event, zero while it is off.
    pub circulation: f64,
    /// Key of the circulation pump's route; none while it is off.
    pub route: Option<&'static str>,
    pub route_label: Option<&'static str>,
    pub fan: bool,
    pub flow_unit: &'static str,
    /// A flow that pictures draw as fast as they can, 20 L/min, in the same unit.
    pub full_flow: f64,
}

/// The car in a computed pass, straight between the integration's steps.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PassMoment {
    /// Since the brake let go (s).
    pub time_s: f64,
    /// From the starting line, ft or m.
    pub distance: f64,
    pub distance_unit: &'static str,
    /// mph or km/h.
    pub speed: f64,
    pub speed_unit: &'static str,
    /// From 1.
    pub gear: usize,
    pub engine_rpm: f64,
    pub turbine_rpm: f64,
    /// 1 − turbine speed / engine speed; negative in overrun.
    pub slip: f64,
}

/// One time of a day.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Moment {
    /// Seconds since the start of the day, within it.
    pub time_s: f64,
    /// The same as a clock of the day, with seconds.
    pub clock: String,
    /// Index into the summary's events; absent in a day without any.
    pub event: Option<usize>,
    /// Kind and label of the event; empty without one.
    pub kind: &'static str,
    pub label: String,
    pub round: Option<u32>,
    /// In the order of `Node::ALL`.
    pub temperatures: Vec<f64>,
    /// Of the air around.
    pub air_temperature: f64,
    pub temperature_unit: &'static str,
    /// All paths: sources, sinks, inside.
    pub rates: Vec<PathRate>,
    /// hp or kW.
    pub rate_unit: &'static str,
    /// A rate that pictures draw as wide as they can, 300 kW, in the same unit.
    pub full_rate: f64,
    /// Sums over sources, sinks, and what the nodes take up; made = away + stored.
    pub made_rate: f64,
    pub away_rate: f64,
    pub stored_rate: f64,
    pub streams: Streams,
    /// Zero with the engine off.
    pub engine_rpm: f64,
    /// Only inside a computed pass.
    pub pass: Option<PassMoment>,
}

/// The stretch of samples that holds a time: the first sample at its start, the last sample at its start, and the
/// first one later.
struct Stretch<'a> {
    opens: &'a Sample,
    from: &'a Sample,
    to: &'a Sample,
}

impl Stretch<'_> {
    fn share(&self, time_s: f64) -> f64 {
        let span_s = self.to.time_s - self.from.time_s;
        if span_s > 0.0 { ((time_s - self.from.time_s) / span_s).clamp(0.0, 1.0) } else { 1.0 }
    }

    /// Mean of what grew by `gained` over it, per second.
    fn per_s(&self, gained: f64) -> f64 {
        let span_s = self.to.time_s - self.opens.time_s;
        if span_s > 0.0 { gained / span_s } else { 0.0 }
    }
}

fn stretch(samples: &[Sample], time_s: f64) -> Option<Stretch<'_>> {
    let last = samples.last()?;
    // At the end of the day the stretch that leads there.
    let after = if time_s < last.time_s {
        samples.partition_point(|sample| sample.time_s <= time_s)
    } else {
        samples.partition_point(|sample| sample.time_s < last.time_s)
    };
    let to = samples.get(after)?;
    let from = samples.get(after.saturating_sub(1))?;
    let opens = samples.get(samples.partition_point(|sample| sample.time_s < from.time_s))?;
    Some(Stretch { opens, from, to })
}

fn event_at(events: &[EventRecord], time_s: f64) -> Option<usize> {
    let begun = events.partition_point(|event| event.start_s <= time_s);
    (0..begun).rev().find(|place| events[*place].end_s > events[*place].start_s)
}

/// The moment at a time (s since the start of the day).
pub fn moment(setup: &Setup, trace: &Trace, time_s: f64, system: System) -> Moment {
    let duration_s = trace.duration_s();
    // NaN goes to the start.
    let time_s = if time_s > 0.0 { time_s.min(duration_s) } else { 0.0 };
    let place = event_at(&trace.events, time_s);
    let event = place.map(|place| &trace.events[place]);
    let stretch = stretch(&trace.samples, time_s);
    let temperatures = Node::ALL
        .iter()
        .map(|node| {
            let temperature_k = stretch.as_ref().map_or(f64::NAN, |stretch| {
                let (from_k, to_k) = (
                    stretch.from.temperature_k[node.index()],
                    stretch.to.temperature_k[node.index()],
                );
                from_k + stretch.share(time_s) * (to_k - from_k)
            });
            temperature_in(system, temperature_k)
        })
        .collect();
    let power = unit_or_si(Dimension::Power, power_unit(system));
    let grown = |of: &dyn Fn(&Sample) -> f64| {
        stretch
            .as_ref()
            .map_or(0.0, |stretch| power.from_si(stretch.per_s(of(stretch.to) - of(stretch.opens))))
    };
    let groups: [(&str, &[Path]); 3] =
        [("made", &Path::SOURCES), ("away", &Path::SINKS), ("inside", &Path::INSIDE)];
    let rates: Vec<PathRate> = groups
        .iter()
        .flat_map(|(group, paths)| paths.iter().map(move |path| (*group, *path)))
        .map(|(group, path)| PathRate {
            key: path.key(),
            label: path.label(),
            group,
            rate: grown(&|sample| sample.path_j[path.index()]),
        })
        .collect();
    let sum = |group: &str| -> f64 {
        rates.iter().filter(|rate| rate.group == group).map(|rate| rate.rate).sum()
    };
    let pass = event.and_then(|event| pass_moment(setup, event, time_s, system));
    let engine_rpm = match (event, &pass) {
        (_, Some(pass)) => pass.engine_rpm,
        (Some(event), None) if event.kind.engine_runs() => rpm(event.loads.engine_speed_rad_per_s),
        _ => 0.0,
    };
    Moment {
        time_s,
        clock: clock_seconds_text(time_s),
        event: place,
        kind: event.map_or("", |event| event.kind.key()),
        label: event.map_or(String::new(), |event| event.label().to_string()),
        round: event.and_then(|event| event.round),
        temperatures,
        air_temperature: temperature_in(system, setup.air.temperature_k),
        temperature_unit: temperature_symbol(system),
        rate_unit: power_unit(system),
        full_rate: power.from_si(FULL_RATE_W),
        made_rate: sum("made"),
        away_rate: sum("away"),
        stored_rate: LEDGER_NODES
            .iter()
            .map(|node| grown(&|sample| sample.stored_j[node.index()]))
            .sum(),
        rates,
        streams: streams(trace, event, time_s, system),
        engine_rpm,
        pass,
    }
}

fn streams(trace: &Trace, event: Option<&EventRecord>, time_s: f64, system: System) -> Streams {
    let flow = |m3_per_s: f64| unit_or_si(Dimension::Flow, flow_unit(system)).from_si(m3_per_s);
    let ends_day = time_s >= trace.duration_s();
    let on = |pump: bool| {
        trace.switches.iter().rev().find(|switch| {
            let holds = time_s < switch.end_s || (ends_day && time_s == switch.end_s);
            switch.route.is_some() == pump && switch.start_s <= time_s && holds
        })
    };
    let route: Option<Route> = on(true).and_then(|switch| switch.route);
    let hydraulics = event.map(|event| event.hydraulics).unwrap_or_default();
    Streams {
        front_pump: flow(hydraulics.front_pump_m3_per_s),
        circulation: route.map_or(0.0, |_| flow(hydraulics.circulation_m3_per_s)),
        route: route.map(Route::key),
        route_label: route.map(Route::label),
        fan: on(false).is_some(),
        flow_unit: flow_unit(system),
        full_flow: flow(FULL_FLOW_M3_PER_S),
    }
}

fn pass_moment(
    setup: &Setup,
    event: &EventRecord,
    time_s: f64,
    system: System,
) -> Option<PassMoment> {
    if event.kind != EventKind::Pass {
        return None;
    }
    pass_at(setup, event.pass.as_ref()?, time_s - event.start_s, system)
}

/// A computed pass at a time since the brake let go (s). Where samples share a time, a gear is the one taken.
pub fn pass_at(
    setup: &Setup,
    pass: &PassResult,
    since_s: f64,
    system: System,
) -> Option<PassMoment> {
    let samples = &pass.samples;
    let after = samples.partition_point(|sample| sample.time_s <= since_s);
    let to = samples.get(after).or(samples.last())?;
    let from = samples.get(after.saturating_sub(1))?;
    let span_s = to.time_s - from.time_s;
    let share = if span_s > 0.0 { ((since_s - from.time_s) / span_s).clamp(0.0, 1.0) } else { 1.0 };
    let between = |from: f64, to: f64| from + share * (to - from);
    let gears = setup.gears();
    let ratio = gears.get(from.gear).or(gears.last())? * setup.car.final_drive;
    let engine_rad_per_s = between(from.motion.engine_rad_per_s, to.motion.engine_rad_per_s);
    let turbine_rad_per_s = between(from.motion.wheel_rad_per_s, to.motion.wheel_rad_per_s) * ratio;
    let (distance_unit, speed_unit) = (length_unit(system), speed_unit(system));
    Some(PassMoment {
        time_s: since_s,
        distance: unit_or_si(Dimension::Length, distance_unit)
            .from_si(between(from.distance_m, to.distance_m)),
        distance_unit,
        speed: unit_or_si(Dimension::Velocity, speed_unit)
            .from_si(between(from.motion.car_m_per_s, to.motion.car_m_per_s)),
        speed_unit,
        gear: from.gear + 1,
        engine_rpm: rpm(engine_rad_per_s),
        turbine_rpm: rpm(turbine_rad_per_s),
        slip: if engine_rad_per_s > 0.0 { 1.0 - turbine_rad_per_s / engine_rad_per_s } else { 0.0 },
    })
}
