//! What one scenario states otherwise than another, in words and the reader's units.
//!
//! Compared is what holds, not how it is written: a parameter stated another way, or a round written by itself instead
//! of in a list, is no change. What changes alike in several rounds is one line.

use serde::Serialize;

use super::events::{event_changes, time_words};
use crate::fluid::CLASSES;
use crate::scenario::Scenario;
use crate::scenario::parameters::{PARAMETERS, Setup};
use crate::timeline::{Block, Event, Node};
use crate::units::{
    Dimension, System, quantity_words, significant, temperature_symbol, unit_or_si,
};

/// Digits of quantities in words: enough that a change which counts is seen.
pub(super) const DIGITS: usize = 6;

/// One input that is stated otherwise.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Change {
    /// What: a parameter with its part, or an event with its rounds.
    pub label: String,
    pub from: String,
    pub to: String,
}

impl Change {
    /// A change, unless both read the same.
    pub(super) fn of(
        label: impl Into<String>,
        from: impl Into<String>,
        to: impl Into<String>,
    ) -> Option<Change> {
        let change = Change { label: label.into(), from: from.into(), to: to.into() };
        (change.from != change.to).then_some(change)
    }
}

/// What is otherwise in `b` than in `a`: the set-up in the order of the table, the start, the timeline.
pub fn changes(a: &Scenario, b: &Scenario, system: System) -> Vec<Change> {
    let mut found = setup_changes(&a.setup, &b.setup, system);
    found.extend(start_changes(a, b, system));
    found.extend(timeline_changes(a, b, system));
    found
}

fn setup_changes(a: &Setup, b: &Setup, system: System) -> Vec<Change> {
    let class = |setup: &Setup| {
        let known = CLASSES.iter().find(|class| class.key == setup.fluid_class);
        known.map_or(setup.fluid_class, |class| class.label).to_string()
    };
    let mut found: Vec<Change> =
        Change::of("Fluid: class", class(a), class(b)).into_iter().collect();
    found.extend(PARAMETERS.iter().filter_map(|parameter| {
        let words = |setup: &Setup| parameter.words(parameter.value_si(setup), system, DIGITS);
        Change::of(
            format!("{}: {}", parameter.wording().part_label, parameter.wording().label),
            words(a),
            words(b),
        )
    }));
    let table = |has: bool| if has { "own table" } else { "no table" };
    for (label, differs, before, after) in [
        (
            "Engine: torque curve",
            a.torque_curve != b.torque_curve,
            !a.torque_curve.is_empty(),
            !b.torque_curve.is_empty(),
        ),
        (
            "Torque converter: table",
            a.converter_table != b.converter_table,
            a.converter_table.is_some(),
            b.converter_table.is_some(),
        ),
    ] {
        if differs {
            let to = if before && after { "another own table" } else { table(after) };
            found.extend(Change::of(label, table(before), to));
        }
    }
    let gears = |setup: &Setup| match setup.gear_ratios.as_slice() {
        [] => "low gear and a direct high gear".to_string(),
        ratios => {
            let ratios: Vec<String> = ratios.iter().map(|one| significant(*one, DIGITS)).collect();
            ratios.join(", ")
        }
    };
    found.extend(Change::of("Gears: ratios", gears(a), gears(b)));
    found
}

/// A node that starts at the temperature of the air in both days is no change of its own.
fn start_changes(a: &Scenario, b: &Scenario, system: System) -> Vec<Change> {
    let unit = unit_or_si(Dimension::Temperature, temperature_symbol(system));
    let words = |day: &Scenario, node: Node| {
        let temperature_k = day.initial_temperature_k[node.index()];
        quantity_words(Dimension::Temperature, unit, temperature_k, DIGITS)
    };
    let at_air = |day: &Scenario, node: Node| {
        day.initial_temperature_k[node.index()] == day.setup.air.temperature_k
    };
    let found: Vec<Change> = Node::ALL
        .into_iter()
        .filter(|node| !(at_air(a, *node) && at_air(b, *node)))
        .filter_map(|node| {
            let label = format!("Temperature at the start, {}", node.label().to_lowercase());
            Change::of(label, words(a, node), words(b, node))
        })
        .collect();
    match found.first() {
        Some(first)
            if found.len() == Node::ALL.len()
                && found.iter().all(|one| (&one.from, &one.to) == (&first.from, &first.to)) =>
        {
            let label = "Temperature at the start, all".to_string();
            vec![Change { label, ..first.clone() }]
        }
        _ => found,
    }
}

/// Where a block stands in a day, whatever stands around it: a round by its number, a stretch by the round before,
/// but for what comes after all rounds, of which a day may have one more.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Place {
    Round(u32),
    After(u32),
    Last,
}

impl Place {
    /// Rounds in order, the stretch after a round behind it.
    fn order(self) -> (u32, bool) {
        match self {
            Place::Round(round) => (round, false),
            Place::After(round) => (round, true),
            Place::Last => (u32::MAX, true),
        }
    }
}

fn placed(day: &Scenario) -> Vec<(Place, &Block)> {
    let rounds = day.blocks.iter().filter_map(|block| block.round).max().unwrap_or(0);
    let mut last = 0;
    day.blocks
        .iter()
        .map(|block| match block.round {
            Some(round) => {
                last = round;
                (Place::Round(round), block)
            }
            None if last == rounds && rounds > 0 => (Place::Last, block),
            None => (Place::After(last), block),
        })
        .collect()
}

fn timeline_changes(a: &Scenario, b: &Scenario, system: System) -> Vec<Change> {
    let (before, after) = (placed(a), placed(b));
    let at = |blocks: &[(Place, &Block)], place: Place| -> Vec<Event> {
        let here = blocks.iter().filter(|(known, _)| *known == place);
        here.flat_map(|(_, block)| block.events.iter().cloned()).collect()
    };
    let turnaround = |blocks: &[(Place, &Block)], place: Place| {
        let block = blocks.iter().find(|(known, _)| *known == place).map(|(_, block)| *block)?;
        Some((block.turnaround_s, block.events.len()))
    };
    let mut places: Vec<Place> = before.iter().chain(&after).map(|(place, _)| *place).collect();
    places.sort_by_key(|place| place.order());
    places.dedup();

    let mut common: Vec<u32> = Vec::new();
    // Every change once, with the rounds that have it.
    let mut lines: Vec<(Change, Vec<u32>)> = Vec::new();
    for place in places {
        let (was, is) = (turnaround(&before, place), turnaround(&after, place));
        if let Place::Round(round) = place
            && (was.is_none() || is.is_none())
        {
            let words = |found: Option<(Option<f64>, usize)>| match found {
                Some((turnaround_s, events)) => {
                    format!("{} with {events} events", turnaround_words(turnaround_s, system))
                }
                None => "none".to_string(),
            };
            let label = format!("Round {round}");
            lines.extend(Change::of(label, words(was), words(is)).map(|change| (change, vec![])));
            continue;
        }
        let mut found: Vec<Change> = Vec::new();
        if let (Place::Round(_), Some((was_s, _)), Some((is_s, _))) = (place, was, is) {
            let words = |time_s| turnaround_words(time_s, system);
            found.extend(Change::of("Turnaround", words(was_s), words(is_s)));
        }
        let sides = ((&a.setup, at(&before, place)), (&b.setup, at(&after, place)));
        found.extend(event_changes((sides.0.0, &sides.0.1), (sides.1.0, &sides.1.1), system));
        match place {
            Place::Round(round) => {
                common.push(round);
                for change in found {
                    match lines.iter_mut().find(|(known, at)| *known == change && !at.is_empty()) {
                        Some((_, rounds)) => rounds.push(round),
                        None => lines.push((change, vec![round])),
                    }
                }
            }
            Place::After(_) | Place::Last => {
                for change in found {
                    let label = match place {
                        Place::After(0) => change.label,
                        Place::After(round) => format!("After round {round}: {}", change.label),
                        _ => format!("After the rounds: {}", change.label),
                    };
                    lines.push((Change { label, ..change }, Vec::new()));
                }
            }
        }
    }
    lines
        .into_iter()
        .map(|(change, mut rounds)| {
            rounds.dedup();
            let label = match rounds_words(&rounds, &common) {
                Some(rounds) => format!("{rounds}: {}", change.label),
                None => change.label,
            };
            Change { label, ..change }
        })
        .collect()
}

fn turnaround_words(turnaround_s: Option<f64>, system: System) -> String {
    turnaround_s.map_or("open".to_string(), |time_s| time_words(time_s, system))
}

/// `Every round`, `Round 2`, `Rounds 1 to 3, 5`.
fn rounds_words(rounds: &[u32], common: &[u32]) -> Option<String> {
    let [first, others @ ..] = rounds else { return None };
    if rounds.len() > 1 && rounds == common {
        return Some("Every round".to_string());
    }
    let mut runs = vec![(*first, *first)];
    for round in others {
        match runs.last_mut() {
            Some((_, last)) if *round == *last + 1 => *last = *round,
            _ => runs.push((*round, *round)),
        }
    }
    let words: Vec<String> = runs
        .into_iter()
        .map(|(from, to)| match to - from {
            0 => from.to_string(),
            1 => format!("{from}, {to}"),
            _ => format!("{from} to {to}"),
        })
        .collect();
    let noun = if rounds.len() == 1 { "Round" } else { "Rounds" };
    Some(format!("{noun} {}", words.join(", ")))
}
