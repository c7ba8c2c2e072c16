//! A plan written into the scenario's text: the same file with other events in the planned rests.
//!
//! Where only switches change, a round gets a `change` of its own; where the engine is started, or the text already is
//! more intricate, the round is written out alone.

use serde_json::{Map, Value, json};

use super::rest::{PLANNED_IDLE, Piece, Rest};
use super::schedule::Schedule;
use crate::error::{Error, ErrorKind};
use crate::scenario::Scenario;
use crate::timeline::{Condition, Event, EventEnd, EventKind, OnTime, Side};

/// A schedule to be written into a rest.
#[derive(Debug, Clone, PartialEq)]
pub struct Written {
    pub rest: Rest,
    /// From the start of the rest to now (s): what happens until then stays.
    pub into_s: f64,
    /// From now to the call (s); where it is not what is left of the rest, the turnaround becomes longer or shorter.
    pub free_s: f64,
    pub schedule: Schedule,
}

/// Writes schedules into a scenario's text; `scenario` is what the text was read as.
pub fn apply(text: &str, scenario: &Scenario, plans: &[Written]) -> Result<String, Error> {
    let mut root: Value = serde_json::from_str(text.trim_start_matches('\u{feff}'))
        .map_err(|error| not_written(&error.to_string()))?;
    let timeline = root
        .get_mut("timeline")
        .and_then(Value::as_array_mut)
        .ok_or_else(|| not_written("no timeline"))?;
    let places = block_places(timeline);
    // From the last to the first: what stands before a place is not moved then.
    let mut ordered: Vec<&Written> = plans.iter().collect();
    ordered.sort_by_key(|plan| std::cmp::Reverse((plan.rest.block, plan.rest.events())));
    for plan in ordered {
        let block = plan.rest.block;
        let (Some(place), Some(stated)) = (places.get(block), scenario.blocks.get(block)) else {
            return Err(not_written("a block that is not in the text"));
        };
        match *place {
            BlockPlace::Single { item } => {
                let (first, last) = plan.rest.events().unwrap_or((0, 0));
                let events = events(plan, &stated.events, false, scenario);
                if item + last >= timeline.len() {
                    return Err(not_written("an event that is not in the text"));
                }
                timeline.splice(item + first..=item + last, events);
            }
            BlockPlace::Round { item, round } => {
                write_round(timeline, item, round, plan, &stated.events, scenario)?;
            }
        }
    }
    serde_json::to_string_pretty(&root).map_err(|error| not_written(&error.to_string()))
}

/// Where a block of the scenario stands in the timeline.
enum BlockPlace {
    /// A stretch of single events that begins at this item.
    Single { item: usize },
    /// A round of a repeated item.
    Round { item: usize, round: usize },
}

fn block_places(timeline: &[Value]) -> Vec<BlockPlace> {
    let mut places = Vec::new();
    let mut in_stretch = false;
    for (item, entry) in timeline.iter().enumerate() {
        match entry.get("rounds").and_then(Value::as_array) {
            Some(rounds) => {
                places.extend((0..rounds.len()).map(|round| BlockPlace::Round { item, round }));
                in_stretch = false;
            }
            None => {
                if !in_stretch {
                    places.push(BlockPlace::Single { item });
                }
                in_stretch = true;
            }
        }
    }
    places
}

fn write_round(
    timeline: &mut Vec<Value>,
    item: usize,
    round: usize,
    plan: &Written,
    stated: &[Event],
    scenario: &Scenario,
) -> Result<(), Error> {
    let wrong = || not_written("a round that is not in the text");
    let entry = timeline.get(item).ok_or_else(wrong)?.clone();
    let rounds = entry.get("rounds").and_then(Value::as_array).ok_or_else(wrong)?;
    let own = rounds.get(round).ok_or_else(wrong)?;
    let pattern = entry.get("events").and_then(Value::as_array).ok_or_else(wrong)?;
    let (turnaround, change) = match own {
        Value::Object(object) => (
            object.get("turnaround").cloned().unwrap_or(Value::Null),
            object.get("change").and_then(Value::as_object).cloned().unwrap_or_default(),
        ),
        _ => (own.clone(), Map::new()),
    };
    // A turnaround is written anew only where the call comes at another time.
    let left_s = plan.rest.end_s - plan.rest.start_s - plan.into_s;
    let turnaround = match scenario.blocks.get(plan.rest.block).and_then(|b| b.turnaround_s) {
        Some(turnaround_s) if (plan.free_s - left_s).abs() > 0.5 => {
            json!(time_text(turnaround_s + plan.free_s - left_s))
        }
        _ => turnaround,
    };
    let kind = |value: &Value| value.get("event").and_then(Value::as_str).map(String::from);
    let parked: Vec<usize> = (0..pattern.len())
        .filter(|at| kind(&pattern[*at]).as_deref() == Some("engine_off"))
        .collect();
    let rest_ends = |value: &Value| value.get("duration").and_then(Value::as_str) == Some("rest");
    let simple = plan.into_s < 0.5
        && plan.schedule.idle.is_empty()
        && plan.rest.events().is_some_and(|(first, last)| {
            first == last && parked == [first] && rest_ends(&pattern[first])
        })
        && change.get("engine_off").is_none_or(|own| own.get("duration").is_none());
    if simple {
        let mut change = change;
        let switches = switches_of(&plan.schedule.events(plan.free_s, 0.0), 0);
        let own = change.entry("engine_off").or_insert_with(|| json!({}));
        if let Some(own) = own.as_object_mut() {
            own.extend(switches);
        }
        timeline[item]["rounds"][round] = json!({ "turnaround": turnaround, "change": change });
        return Ok(());
    }
    let mut alone: Vec<Value> = pattern
        .iter()
        .map(|value| {
            let changed = kind(value).and_then(|kind| change.get(&kind)).and_then(Value::as_object);
            changed.map_or_else(|| value.clone(), |changed| merged(value, changed))
        })
        .collect();
    match plan.rest.events() {
        Some((first, last)) if last < alone.len() => {
            let fills = rest_ends(&alone[last]);
            alone.splice(first..=last, events(plan, stated, fills, scenario));
        }
        Some(_) => return Err(wrong()),
        None => alone.extend(events(plan, stated, true, scenario)),
    }
    let part = |rounds: &[Value], events: &[Value]| json!({ "rounds": rounds, "events": events });
    let mut parts = Vec::new();
    if round > 0 {
        parts.push(part(&rounds[..round], pattern));
    }
    parts.push(part(&[turnaround], &alone));
    if round + 1 < rounds.len() {
        parts.push(part(&rounds[round + 1..], pattern));
    }
    timeline.splice(item..=item, parts);
    Ok(())
}

/// An event with changed keys; a new end replaces the old one, as the gate has it.
fn merged(event: &Value, changed: &Map<String, Value>) -> Value {
    let mut object = event.as_object().cloned().unwrap_or_default();
    if changed.contains_key("duration") || changed.contains_key("until") {
        for key in ["duration", "until", "at_most"] {
            object.shift_remove(key);
        }
    }
    object.extend(changed.clone());
    Value::Object(object)
}

/// The events that stand in the rest's place; the last one `fills` the turnaround or has its own length. `stated` are
/// those of the rest's block.
fn events(plan: &Written, stated: &[Event], fills: bool, scenario: &Scenario) -> Vec<Value> {
    let of = |piece: &Piece| piece.event.and_then(|event| stated.get(event));
    let before = plan.rest.pieces.first().and_then(of);
    let mut off = plan.rest.pieces.iter().filter_map(of).filter(|e| e.kind == EventKind::EngineOff);
    let name = off.next().and_then(|event| event.name.as_deref());
    let idle_rad_per_s = scenario.setup.engine.idle_speed_rad_per_s;
    let planned = plan.schedule.events(plan.free_s, idle_rad_per_s);
    let mut written = Vec::new();
    // What happens until now stays.
    for piece in &plan.rest.pieces {
        let left_s = plan.into_s - (piece.start_s - plan.rest.start_s);
        let length_s = left_s.min(piece.end_s - piece.start_s);
        if length_s < 0.5 {
            continue;
        }
        let event = of(piece);
        let kind = event.map_or(EventKind::EngineOff, |event| event.kind);
        let own_name = event.and_then(|event| event.name.as_deref());
        let mut past = written_event(kind, own_name, json!(time_text(length_s)));
        if let Some(event) = event {
            put_gear(&mut past, event);
            put_switches(&mut past, &until(event, length_s));
        }
        written.push(past);
    }
    for (place, event) in planned.iter().enumerate() {
        let end = match event.longest_s() {
            Some(length_s) if !fills || place + 1 < planned.len() => json!(time_text(length_s)),
            _ => json!("rest"),
        };
        let named = if event.kind == EventKind::Idle { Some(PLANNED_IDLE) } else { name };
        let mut one = written_event(event.kind, named, end);
        put_gear(&mut one, event);
        put_switches(&mut one, event);
        written.push(one);
    }
    if let (Some(first), Some(start_s)) = (written.first_mut(), before.and_then(|e| e.start_s)) {
        first.insert("start".into(), json!(time_text(start_s)));
    }
    written.into_iter().map(Value::Object).collect()
}

fn put_gear(into: &mut Map<String, Value>, event: &Event) {
    if event.kind == EventKind::Idle {
        let gear = if event.loads.in_gear { "in_gear" } else { "neutral" };
        into.insert("gear".into(), json!(gear));
    }
}

/// What is left of an event that is cut off after `into_s`.
fn until(event: &Event, into_s: f64) -> Event {
    let mut cut = Event { end: EventEnd::Duration(into_s), ..event.clone() };
    cut.circulation.retain(|pump| pump.on.start_s < into_s);
    cut.fan.retain(|on| on.start_s < into_s);
    for on in cut.circulation.iter_mut().map(|pump| &mut pump.on).chain(&mut cut.fan) {
        on.stop_s = on.stop_s.min(into_s);
    }
    cut
}

fn written_event(kind: EventKind, name: Option<&str>, duration: Value) -> Map<String, Value> {
    let mut event = Map::new();
    event.insert("event".into(), json!(kind.key()));
    if let Some(name) = name {
        event.insert("name".into(), json!(name));
    }
    event.insert("duration".into(), duration);
    event
}

/// Pump and fan of one of several events, off where they are.
fn switches_of(events: &[Event], place: usize) -> Map<String, Value> {
    let mut switches = Map::new();
    let (mut pump, mut fan) = (json!("off"), json!("off"));
    if let Some(event) = events.get(place) {
        let mut one = Map::new();
        put_switches(&mut one, event);
        if let Some(on) = one.remove("circulation") {
            pump = on;
        }
        if let Some(on) = one.remove("fan") {
            fan = on;
        }
    }
    switches.insert("circulation".into(), pump);
    switches.insert("fan".into(), fan);
    switches
}

fn put_switches(into: &mut Map<String, Value>, event: &Event) {
    let longest_s = event.longest_s().unwrap_or(f64::INFINITY);
    let on_time = |on: &OnTime, route: Option<&str>| {
        let mut one = Map::new();
        if let Some(route) = route {
            one.insert("route".into(), json!(route));
        }
        if on.start_s > 0.0 {
            one.insert("start".into(), json!(time_text(on.start_s)));
        }
        if on.stop_s < longest_s - 0.5 {
            one.insert("duration".into(), json!(time_text(on.stop_s - on.start_s)));
        }
        if let Some(condition) = &on.until {
            one.insert("until".into(), condition_json(condition));
        }
        Value::Object(one)
    };
    if !event.circulation.is_empty() {
        let all: Vec<Value> = event
            .circulation
            .iter()
            .map(|pump| on_time(&pump.on, Some(pump.route.key())))
            .collect();
        into.insert("circulation".into(), json!(all));
    }
    if !event.fan.is_empty() {
        let all: Vec<Value> = event.fan.iter().map(|on| on_time(on, None)).collect();
        into.insert("fan".into(), json!(all));
    }
}

fn condition_json(condition: &Condition) -> Value {
    let side = match condition.side {
        Side::AtOrBelow => "at_or_below",
        Side::AtOrAbove => "at_or_above",
    };
    let celsius = condition.temperature_k - 273.15;
    json!({ "node": condition.node.key(), side: format!("{} °C", (celsius * 1e4).round() / 1e4) })
}

/// A time as it is written: whole minutes, else seconds.
fn time_text(time_s: f64) -> String {
    let tenths_s = (time_s * 10.0).round() / 10.0;
    if tenths_s >= 60.0 && tenths_s % 60.0 == 0.0 {
        format!("{} min", tenths_s / 60.0)
    } else {
        format!("{tenths_s} s")
    }
}

fn not_written(reason: &str) -> Error {
    Error::new(
        ErrorKind::Contradiction,
        "plan",
        reason,
        "a plan of the day that it is written into",
        "Plan again, from the day as it is now.",
    )
}
