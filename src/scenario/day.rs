//! The `timeline` of a scenario file: its order, rounds that repeat and what changes in them, what fits where.
//!
//! Everything that can be known without computing temperatures is checked here and in `event`: overlaps, a round that
//! does not fit its turnaround, a day too long.

use super::event::{SHORTEST_S, SLACK_S, read_event, time_s};
use super::json::{Json, ObjectReader, Reader};
use super::parameters::Setup;
use crate::error::{Error, ErrorKind};
use crate::timeline::{Block, Event, EventEnd, MAX_DAY_S, MAX_EVENTS};
use crate::units::time_text;

/// The quickest cars cover an eighth of a mile in about three seconds (s); common practice, no source.
const SOONEST_PASS_S: f64 = 3.0;

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
            Json::Object(_) => {
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

/// Events of a round in which some kinds are changed: `"change": {"brake_hold": {"duration": "5 s"}}`; by
/// itself, because most days have none.
#[inline(never)]
fn read_changed(events: &Reader, change: &Reader, setup: &Setup) -> Result<Vec<Event>, Error> {
    let changes = change.object()?;
    let mut kinds: Vec<String> = Vec::new();
    for event in events.list()? {
        if let Some(kind) = event.value().get("event").and_then(Json::as_str)
            && !kinds.iter().any(|known| known == kind)
        {
            kinds.push(kind.to_string());
        }
    }
    let known: Vec<&str> = kinds.iter().map(String::as_str).collect();
    changes.only(&known)?;
    let mut read = Vec::new();
    for event in events.list()? {
        let kind = event.value().get("event").and_then(Json::as_str).unwrap_or_default();
        match changes.optional(kind) {
            None => read.push(read_event(&event.object()?, setup, true)?),
            Some(changed) => {
                let base = match event.value() {
                    Json::Object(entries) => entries.clone(),
                    _ => Vec::new(),
                };
                let merged = Json::Object(merge(base, &changed)?);
                let at = Reader::new(changed.path(), &merged);
                read.push(read_event(&at.object()?, setup, true)?);
            }
        }
    }
    Ok(read)
}

/// Overlays the changed keys. A new end replaces the old one, however it was written.
fn merge(mut base: Vec<(String, Json)>, changed: &Reader) -> Result<Vec<(String, Json)>, Error> {
    let changes = changed.object()?;
    if let Some(kind) = changes.optional("event") {
        return Err(kind.error(
            ErrorKind::Contradiction,
            "a change keeps the kind of the event",
            "Leave \"event\" out of the change.",
        ));
    }
    if changes.optional("duration").is_some() || changes.optional("until").is_some() {
        base.retain(|(key, _)| !["duration", "until", "at_most"].contains(&key.as_str()));
    }
    for (key, value) in changes.entries() {
        let value = value.value().clone();
        match base.iter_mut().find(|(known, _)| known == key) {
            Some((_, before)) => *before = value,
            None => base.push((key.to_string(), value)),
        }
    }
    Ok(base)
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
