//! The `timeline` of a scenario file: events, rounds that repeat, switches.
//!
//! Everything that can be known without computing temperatures is checked here: overlaps, a round that
//! does not fit its turnaround, an engine that idles in a tow, a pump on two routes at once.

use serde_json::{Map, Value};

use super::json::{ObjectReader, Reader};
use super::parameters::{EVENT_PARAMETERS, Setup, event_defaults, logged_keys};
use crate::error::{Error, ErrorKind};
use crate::timeline::{
    Block, Circulation, Condition, Event, EventEnd, EventKind, Loads, MAX_DAY_S, MAX_EVENTS,
    MAX_SWITCHINGS, Node, OnTime, Route, Side,
};
use crate::units::{Dimension, significant, time_text, unit_or_si};

const COMMON_KEYS: [&str; 8] =
    ["event", "name", "start", "duration", "until", "at_most", "circulation", "fan"];
/// Shortest time that may be written (s).
const SHORTEST_S: f64 = 0.05;
/// The quickest cars cover an eighth of a mile in about three seconds (s); common practice, no source.
const SOONEST_PASS_S: f64 = 3.0;
/// Slack in comparisons of times, for rounding of units (s).
const SLACK_S: f64 = 1e-6;

/// Reads the timeline into blocks.
pub fn read(timeline: Reader, setup: &Setup) -> Result<Vec<Block>, Error> {
    let items = timeline.list()?;
    if items.is_empty() {
        return Err(timeline.error(
            ErrorKind::Missing,
            "a day has at least one event",
            "Add an event, for example { \"event\": \"engine_off\", \"duration\": \"10 min\" }.",
        ));
    }
    too_many(&timeline, items.len())?;
    let mut blocks: Vec<Block> = Vec::new();
    // Place in the list of every block's first item, for the paths in messages.
    let mut places: Vec<usize> = Vec::new();
    let mut round = 0;
    let mut count = 0;
    for (place, item) in items.iter().enumerate() {
        let object = item.object()?;
        if object.optional("rounds").is_some() {
            let rounds = read_rounds(&object, setup, &mut round)?;
            count += rounds.iter().map(|block| block.events.len()).sum::<usize>();
            blocks.extend(rounds);
            places.resize(blocks.len(), place);
        } else {
            let event = read_event(&object, setup, false)?;
            count += 1;
            match blocks.last_mut() {
                Some(block) if block.round.is_none() => block.events.push(event),
                _ => {
                    blocks.push(Block { round: None, turnaround_s: None, events: vec![event] });
                    places.push(place);
                }
            }
        }
        too_many(&timeline, count)?;
    }
    check_order(&blocks, &places, &timeline)?;
    Ok(blocks)
}

fn too_many(timeline: &Reader, count: usize) -> Result<(), Error> {
    if count <= MAX_EVENTS {
        return Ok(());
    }
    Err(Error::new(
        ErrorKind::TooLarge,
        timeline.path(),
        format!("{count} events or more"),
        format!("at most {MAX_EVENTS} events in a day, rounds counted out"),
        "Split the day, or repeat fewer rounds.",
    ))
}

fn read_rounds(item: &ObjectReader, setup: &Setup, round: &mut u32) -> Result<Vec<Block>, Error> {
    item.only(&["rounds", "events"])?;
    let rounds = item.required("rounds", "\"rounds\": [\"60 min\", \"45 min\"]")?;
    let events = item.required("events", "\"events\": [ … ]")?;
    let entries = rounds.list()?;
    if entries.is_empty() {
        return Err(rounds.error(
            ErrorKind::Missing,
            "at least one round",
            "Add a turnaround for every round, for example [\"60 min\", \"45 min\"].",
        ));
    }
    if events.list()?.is_empty() {
        return Err(events.error(
            ErrorKind::Missing,
            "a round has at least one event",
            "Add what happens in a round, for example { \"event\": \"pass\", \"duration\": \"10 s\" }.",
        ));
    }
    too_many(&rounds, entries.len().saturating_mul(events.list()?.len()))?;
    let mut blocks = Vec::new();
    for entry in entries {
        *round += 1;
        let (turnaround, change) = match entry.value() {
            Value::Object(_) => {
                let object = entry.object()?;
                object.only(&["turnaround", "change"])?;
                (
                    object.required("turnaround", "\"turnaround\": \"45 min\"")?,
                    object.optional("change"),
                )
            }
            _ => (entry.clone(), None),
        };
        let turnaround_s = time_s(&turnaround)?;
        let block_events = match change {
            None => events
                .list()?
                .iter()
                .map(|event| read_event(&event.object()?, setup, true))
                .collect::<Result<Vec<Event>, Error>>()?,
            Some(change) => read_changed(&events, &change, setup)?,
        };
        check_fits(&block_events, turnaround_s, &turnaround, events.path(), *round)?;
        blocks.push(Block {
            round: Some(*round),
            turnaround_s: Some(turnaround_s),
            events: block_events,
        });
    }
    Ok(blocks)
}

/// Events of a round in which some kinds are changed: `"change": {"brake_hold": {"duration": "5 s"}}`.
fn read_changed(events: &Reader, change: &Reader, setup: &Setup) -> Result<Vec<Event>, Error> {
    let changes = change.object()?;
    let mut kinds: Vec<String> = Vec::new();
    for event in events.list()? {
        if let Some(kind) = event.value().get("event").and_then(Value::as_str)
            && !kinds.iter().any(|known| known == kind)
        {
            kinds.push(kind.to_string());
        }
    }
    let known: Vec<&str> = kinds.iter().map(String::as_str).collect();
    changes.only(&known)?;
    let mut read = Vec::new();
    for event in events.list()? {
        let kind = event.value().get("event").and_then(Value::as_str).unwrap_or_default();
        match changes.optional(kind) {
            None => read.push(read_event(&event.object()?, setup, true)?),
            Some(changed) => {
                let base: Map<String, Value> =
                    event.value().as_object().cloned().unwrap_or_default();
                let merged = Value::Object(merge(base, &changed)?);
                let at = Reader::new(changed.path(), &merged);
                read.push(read_event(&at.object()?, setup, true)?);
            }
        }
    }
    Ok(read)
}

/// Overlays the changed keys. A new end replaces the old one, however it was written.
fn merge(mut base: Map<String, Value>, changed: &Reader) -> Result<Map<String, Value>, Error> {
    let changes = changed.object()?;
    if let Some(kind) = changes.optional("event") {
        return Err(kind.error(
            ErrorKind::Contradiction,
            "a change keeps the kind of the event",
            "Leave \"event\" out of the change.",
        ));
    }
    if changes.optional("duration").is_some() || changes.optional("until").is_some() {
        for key in ["duration", "until", "at_most"] {
            base.remove(key);
        }
    }
    for (key, value) in changes.entries() {
        base.insert(key.to_string(), value.value().clone());
    }
    Ok(base)
}

fn time_s(reader: &Reader) -> Result<f64, Error> {
    reader.quantity(Dimension::Time, "s", SHORTEST_S, MAX_DAY_S)
}

fn offset_s(reader: &Reader) -> Result<f64, Error> {
    reader.quantity(Dimension::Time, "s", 0.0, MAX_DAY_S)
}

fn read_event(object: &ObjectReader, setup: &Setup, in_round: bool) -> Result<Event, Error> {
    let kinds: Vec<(&'static str, EventKind)> =
        EventKind::ALL.iter().map(|kind| (kind.key(), *kind)).collect();
    let kind = object.required("event", "\"event\": \"idle\"")?.choice(&kinds)?;
    let own = event_defaults(kind);
    let mut known: Vec<&str> = COMMON_KEYS.to_vec();
    known.extend(own.iter().map(|(key, _)| *key));
    if kind == EventKind::Idle {
        known.push("gear");
    }
    if kind == EventKind::Pass {
        known.push("distance");
    }
    refuse_foreign_loads(object, kind, &known)?;
    object.only(&known)?;

    let end = match computed_pass(object, kind)? {
        Some(finish) => finish,
        None => read_end(object, in_round)?,
    };
    let start_s = match object.optional("start") {
        Some(start) => Some(offset_s(&start)?),
        None => None,
    };
    let name = match object.optional("name") {
        Some(name) => Some(name.name(60)?),
        None => None,
    };
    let loads = read_loads(object, kind, setup)?;
    check_logged(object, kind, end, &loads)?;
    let longest_s = match end {
        EventEnd::Duration(duration_s) => duration_s,
        EventEnd::Until { at_most_s, .. } => at_most_s,
        EventEnd::Turnaround => f64::INFINITY,
        // Switches of a computed pass are on or off for the whole of it.
        EventEnd::Finish { .. } => 0.0,
    };
    let circulation = read_circulation(object.optional("circulation"), longest_s)?;
    let fan = read_fan(object.optional("fan"), longest_s)?;
    Ok(Event { kind, name, start_s, end, loads, circulation, fan })
}

/// A load that other kinds know but this one cannot have gets its reason, not just "unknown key".
fn refuse_foreign_loads(
    object: &ObjectReader,
    kind: EventKind,
    known: &[&str],
) -> Result<(), Error> {
    for parameter in EVENT_PARAMETERS {
        if !known.contains(&parameter.key)
            && let Some(stated) = object.optional(parameter.key)
        {
            let why = if kind.engine_runs() {
                format!("{} has no {}", kind.key(), parameter.key)
            } else {
                format!("the engine is off during {}", kind.key())
            };
            return Err(stated.error(
                ErrorKind::Contradiction,
                why,
                "Remove it, or choose a kind of event that has it.",
            ));
        }
    }
    if kind != EventKind::Idle
        && let Some(gear) = object.optional("gear")
    {
        return Err(gear.error(
            ErrorKind::Contradiction,
            format!("only idle has a gear to choose; {} states its own", kind.key()),
            "Remove \"gear\".",
        ));
    }
    Ok(())
}

/// A logged pass states how long it took, and the heat of shifts is spread over a known duration.
fn check_logged(
    object: &ObjectReader,
    kind: EventKind,
    end: EventEnd,
    loads: &Loads,
) -> Result<(), Error> {
    let known = matches!(end, EventEnd::Duration(_) | EventEnd::Finish { .. });
    if known || (kind != EventKind::Pass && loads.shifts == 0.0) {
        return Ok(());
    }
    let (key, why) = if kind == EventKind::Pass {
        ("until", "a pass ends after its duration")
    } else {
        ("shifts", "shifts belong to an event with a duration, over which their heat is spread")
    };
    let stated = object.optional(key).or_else(|| object.optional("duration"));
    let at = stated.as_ref().map_or(object.path(), |reader| reader.path());
    Err(Error::new(
        ErrorKind::Contradiction,
        at,
        format!("{} without a fixed duration", kind.key()),
        why,
        "State a \"duration\".",
    ))
}

/// Distances that a pass is run over (m).
pub const DISTANCES: [(&str, f64); 3] =
    [("eighth_mile", 201.168), ("1000_ft", 304.8), ("quarter_mile", 402.336)];

/// The finish of a computed pass. A pass with a duration is a logged one, and states power and slip.
fn computed_pass(object: &ObjectReader, kind: EventKind) -> Result<Option<EventEnd>, Error> {
    if kind != EventKind::Pass {
        return Ok(None);
    }
    let distance = object.optional("distance");
    if object.optional("duration").is_some() || object.optional("until").is_some() {
        return match distance {
            Some(distance) => Err(distance.error(
                ErrorKind::Contradiction,
                "a pass over a distance is computed; one with a duration is logged",
                "Remove \"distance\", or remove the duration, power and slip.",
            )),
            None => Ok(None),
        };
    }
    if let Some(at_most) = object.optional("at_most") {
        return Err(at_most.error(
            ErrorKind::Contradiction,
            "a computed pass ends at the finish",
            "Remove \"at_most\", or give the pass a \"duration\" and log it.",
        ));
    }
    for (key, _) in event_defaults(kind) {
        if let Some(logged) = object.optional(key) {
            return Err(logged.error(
                ErrorKind::Contradiction,
                "a pass without a duration is computed from engine, converter and car",
                "Remove it, or add the \"duration\" of the logged pass.",
            ));
        }
    }
    for key in ["circulation", "fan"] {
        if let Some(switch) = object.optional(key)
            && switch.value().is_array()
        {
            return Err(switch.error(
                ErrorKind::Contradiction,
                "a switch of a computed pass is on or off for the whole of it",
                "Write a route, \"on\" or \"off\".",
            ));
        }
    }
    let distance_m = match distance {
        Some(distance) => distance.choice(&DISTANCES)?,
        None => DISTANCES[2].1,
    };
    Ok(Some(EventEnd::Finish { distance_m }))
}

fn read_end(object: &ObjectReader, in_round: bool) -> Result<EventEnd, Error> {
    let duration = object.optional("duration");
    let until = object.optional("until");
    let at_most = object.optional("at_most");
    match (duration, until) {
        (Some(duration), Some(_)) => Err(duration.error(
            ErrorKind::Contradiction,
            "an event ends after a duration or at a temperature, not both",
            "Remove \"duration\" or \"until\"; the longest wait is \"at_most\".",
        )),
        (Some(duration), None) => {
            if let Some(at_most) = at_most {
                return Err(at_most.error(
                    ErrorKind::Contradiction,
                    "\"at_most\" belongs to \"until\"",
                    "Remove it; the duration already says how long.",
                ));
            }
            if duration.value().as_str() == Some("rest") {
                if !in_round {
                    return Err(duration.error(
                        ErrorKind::Contradiction,
                        "\"rest\" fills a turnaround, so it belongs in a round",
                        "Write a time, for example \"20 min\".",
                    ));
                }
                return Ok(EventEnd::Turnaround);
            }
            Ok(EventEnd::Duration(time_s(&duration)?))
        }
        (None, Some(until)) => {
            let condition = read_condition(&until)?;
            let at_most = object.required("at_most", "\"at_most\": \"30 min\"")?;
            Ok(EventEnd::Until { condition, at_most_s: time_s(&at_most)? })
        }
        (None, None) if at_most.is_some() => Err(Error::new(
            ErrorKind::Contradiction,
            format!("{}.at_most", object.path()),
            "\"at_most\" without \"until\"",
            "\"at_most\" is the longest wait for the temperature that \"until\" states",
            "Add \"until\", or write \"duration\" instead of \"at_most\".",
        )),
        (None, None) => Err(Error::new(
            ErrorKind::Missing,
            format!("{}.duration", object.path()),
            "nothing",
            "an event needs an end: \"duration\", or \"until\" with \"at_most\"",
            "Add for example \"duration\": \"5 min\".",
        )),
    }
}

fn read_condition(until: &Reader) -> Result<Condition, Error> {
    let object = until.object()?;
    object.only(&["node", "at_or_below", "at_or_above"])?;
    let nodes: Vec<(&'static str, Node)> =
        Node::ALL.iter().map(|node| (node.key(), *node)).collect();
    let node = object.required("node", "\"node\": \"converter_fluid\"")?.choice(&nodes)?;
    let below = object.optional("at_or_below");
    let above = object.optional("at_or_above");
    let (side, value) = match (below, above) {
        (Some(value), None) => (Side::AtOrBelow, value),
        (None, Some(value)) => (Side::AtOrAbove, value),
        _ => {
            return Err(until.error(
                ErrorKind::Missing,
                "one of \"at_or_below\" and \"at_or_above\"",
                "Write for example { \"node\": \"pan_fluid\", \"at_or_below\": \"160 °F\" }.",
            ));
        }
    };
    let celsius = unit_or_si(Dimension::Temperature, "°C");
    let temperature_k =
        value.quantity(Dimension::Temperature, "°F", celsius.to_si(-40.0), celsius.to_si(300.0))?;
    Ok(Condition { node, side, temperature_k })
}

/// Whether the loads follow from the car: nothing stated that only a log knows.
fn follows_car(object: &ObjectReader, kind: EventKind) -> bool {
    let logged = logged_keys(kind);
    !logged.is_empty() && logged.iter().all(|key| object.optional(key).is_none())
}

fn read_loads(object: &ObjectReader, kind: EventKind, setup: &Setup) -> Result<Loads, Error> {
    let mut loads = Loads::default();
    for (key, default) in event_defaults(kind) {
        let Some(row) = EVENT_PARAMETERS.iter().find(|row| row.key == *key) else { continue };
        let value_si = match object.optional(key) {
            Some(stated) => {
                stated.quantity(row.dimension, row.us_unit, row.min_si(), row.max_si())?
            }
            None => match default {
                Some(value) => unit_or_si(row.dimension, row.si_unit).to_si(*value),
                None => setup.engine.idle_speed_rad_per_s,
            },
        };
        match *key {
            "engine_speed" => loads.engine_speed_rad_per_s = value_si,
            "input_power" => loads.input_power_w = value_si,
            "slip" => loads.slip = value_si,
            "torque_ratio" => loads.torque_ratio = value_si,
            "shifts" => loads.shifts = value_si,
            _ => loads.road_speed_m_per_s = value_si,
        }
    }
    // More power behind the converter than before it: the two averages cannot both be right.
    let power_ratio = (1.0 - loads.slip) * loads.torque_ratio;
    if power_ratio > 1.0 + 1e-9
        && let Some(stated) = object.optional("torque_ratio").or(object.optional("slip"))
    {
        return Err(stated.error(
            ErrorKind::Contradiction,
            format!(
                "at most {} with a slip of {}: the converter cannot give more power than it takes",
                significant(1.0 / (1.0 - loads.slip), 3),
                significant(loads.slip, 3),
            ),
            "Take both from one log, weighted with power, or leave \"torque_ratio\" at 1.",
        ));
    }
    loads.from_car = follows_car(object, kind);
    loads.in_gear = match object.optional("gear") {
        Some(gear) => gear.choice(&[("neutral", false), ("in_gear", true)])?,
        None => matches!(kind, EventKind::Stage | EventKind::BrakeHold),
    };
    Ok(loads)
}

fn read_circulation(
    reader: Option<Reader>,
    event_longest_s: f64,
) -> Result<Vec<Circulation>, Error> {
    let Some(reader) = reader else { return Ok(Vec::new()) };
    let routes: Vec<(&'static str, Route)> =
        Route::ALL.iter().map(|route| (route.key(), *route)).collect();
    if let Value::String(word) = reader.value() {
        if word == "off" {
            return Ok(Vec::new());
        }
        let mut words: Vec<(&'static str, Option<Route>)> = vec![("off", None)];
        words.extend(routes.iter().map(|(key, route)| (*key, Some(*route))));
        let on = OnTime { start_s: 0.0, stop_s: f64::INFINITY, until: None };
        return Ok(reader
            .choice(&words)?
            .map(|route| vec![Circulation { route, on }])
            .unwrap_or_default());
    }
    let mut read = Vec::new();
    for entry in reader.list()? {
        let object = entry.object()?;
        object.only(&["route", "start", "duration", "until"])?;
        let route =
            object.required("route", "\"route\": \"through_converter\"")?.choice(&routes)?;
        read.push(Circulation { route, on: read_on_time(&object, event_longest_s)? });
    }
    let on_times: Vec<OnTime> = read.iter().map(|circulation| circulation.on).collect();
    check_on_times(&on_times, &reader, "the pump can be on one route at a time")?;
    Ok(read)
}

fn read_fan(reader: Option<Reader>, event_longest_s: f64) -> Result<Vec<OnTime>, Error> {
    let Some(reader) = reader else { return Ok(Vec::new()) };
    if let Value::String(_) = reader.value() {
        let on = reader.choice(&[("off", false), ("on", true)])?;
        let all = OnTime { start_s: 0.0, stop_s: f64::INFINITY, until: None };
        return Ok(if on { vec![all] } else { Vec::new() });
    }
    let mut read = Vec::new();
    for entry in reader.list()? {
        let object = entry.object()?;
        object.only(&["start", "duration", "until"])?;
        read.push(read_on_time(&object, event_longest_s)?);
    }
    check_on_times(&read, &reader, "the fan is either on or off")?;
    Ok(read)
}

fn read_on_time(object: &ObjectReader, event_longest_s: f64) -> Result<OnTime, Error> {
    let start_s = match object.optional("start") {
        Some(start) => {
            let start_s = offset_s(&start)?;
            if start_s >= event_longest_s {
                return Err(start.error(
                    ErrorKind::Contradiction,
                    format!("the event is over after {}", time_text(event_longest_s)),
                    "Switch on earlier, or make the event longer.",
                ));
            }
            start_s
        }
        None => 0.0,
    };
    let stop_s = match object.optional("duration") {
        Some(duration) => start_s + time_s(&duration)?,
        None => f64::INFINITY,
    };
    let until = match object.optional("until") {
        Some(until) => Some(read_condition(&until)?),
        None => None,
    };
    Ok(OnTime { start_s, stop_s, until })
}

fn check_on_times(on_times: &[OnTime], reader: &Reader, why: &str) -> Result<(), Error> {
    if on_times.len() > MAX_SWITCHINGS {
        return Err(reader.error(
            ErrorKind::TooLarge,
            format!("at most {MAX_SWITCHINGS} on-times in one event"),
            "Join some of them, or split the event.",
        ));
    }
    for (i, earlier) in on_times.iter().enumerate() {
        for later in &on_times[i + 1..] {
            // One that waits for a temperature gives way to one that starts later.
            let gives_way = |first: &OnTime, second: &OnTime| {
                first.until.is_some() && first.start_s < second.start_s - SLACK_S
            };
            let overlap = later.start_s < earlier.stop_s - SLACK_S
                && earlier.start_s < later.stop_s - SLACK_S;
            if overlap && !gives_way(earlier, later) && !gives_way(later, earlier) {
                return Err(Error::new(
                    ErrorKind::Contradiction,
                    reader.path(),
                    format!(
                        "on from {} and again from {}",
                        time_text(earlier.start_s),
                        time_text(later.start_s)
                    ),
                    why,
                    "Give the earlier one a duration that ends before the later one starts.",
                ));
            }
        }
    }
    Ok(())
}

/// Latest end of the events, walking them in order; refuses a start before the latest end so far.
fn latest_end_s(events: &[Event], field: impl Fn(usize) -> String) -> Result<Option<f64>, Error> {
    let mut latest_s = Some(0.0);
    for (i, event) in events.iter().enumerate() {
        if let Some(start_s) = event.start_s {
            let busy_until_s = latest_s.unwrap_or(f64::INFINITY);
            if start_s < busy_until_s - SLACK_S {
                let until = match latest_s {
                    Some(end_s) => format!("the events before it last until {}", time_text(end_s)),
                    None => "the event before it lasts until the turnaround is over".to_string(),
                };
                return Err(Error::new(
                    ErrorKind::Contradiction,
                    field(i),
                    format!("{} starts at {}", event.kind.key(), time_text(start_s)),
                    until,
                    "Start it later, shorten what comes before, or leave \"start\" out.",
                ));
            }
            latest_s = Some(start_s);
        } else if latest_s.is_none() {
            return Err(Error::new(
                ErrorKind::Contradiction,
                field(i),
                format!("{} after the rest", event.kind.key()),
                "the event before it has the duration \"rest\" and fills the turnaround",
                "Put the event with \"rest\" last.",
            ));
        }
        latest_s = match (latest_s, event.longest_s()) {
            (Some(at_s), Some(longest_s)) => Some(at_s + longest_s),
            _ => None,
        };
    }
    Ok(latest_s)
}

fn check_fits(
    events: &[Event],
    turnaround_s: f64,
    turnaround: &Reader,
    events_path: &str,
    round: u32,
) -> Result<(), Error> {
    let latest_s = latest_end_s(events, |i| format!("{events_path}[{i}].start"))?;
    // What a computed pass takes is known when it is computed, and checked then; no pass takes less than this.
    let sooner_s: f64 = events
        .iter()
        .filter(|event| matches!(event.end, EventEnd::Finish { .. }))
        .filter_map(|event| Some(event.longest_s()? - SOONEST_PASS_S))
        .sum();
    let started = events.iter().any(|event| event.start_s.is_some());
    let sooner_s = if started { 0.0 } else { sooner_s };
    // With a "rest" at the end, what comes before it must leave it some time.
    let fixed_s = match latest_s {
        Some(end_s) => end_s,
        None => latest_end_s(&events[..events.len() - 1], |_| String::new())?.unwrap_or(0.0),
    } - sooner_s;
    let rest_start_s = events.last().and_then(|event| event.start_s).unwrap_or(0.0);
    let needed_s = if latest_s.is_none() { fixed_s.max(rest_start_s) } else { fixed_s };
    let fits = if latest_s.is_none() {
        needed_s + SHORTEST_S <= turnaround_s + SLACK_S
    } else {
        needed_s <= turnaround_s + SLACK_S
    };
    if fits {
        return Ok(());
    }
    Err(turnaround.error(
        ErrorKind::Contradiction,
        format!("the events of round {round} can take {}", time_text(needed_s)),
        "Give the round more time, or shorten its events.",
    ))
}

/// Checks the stretches between rounds and the length of the day.
fn check_order(blocks: &[Block], places: &[usize], timeline: &Reader) -> Result<(), Error> {
    let mut day_s = 0.0;
    for (block, place) in blocks.iter().zip(places) {
        day_s += match block.turnaround_s {
            Some(turnaround_s) => turnaround_s,
            None => latest_end_s(&block.events, |i| {
                format!("{}[{}].start", timeline.path(), place + i)
            })?
            .unwrap_or(0.0),
        };
    }
    if day_s > MAX_DAY_S + SLACK_S {
        return Err(Error::new(
            ErrorKind::TooLarge,
            timeline.path(),
            time_text(day_s),
            format!("a day has at most {} h", MAX_DAY_S / 3_600.0),
            "Split it into several scenarios.",
        ));
    }
    Ok(())
}
