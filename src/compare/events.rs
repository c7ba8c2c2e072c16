//! What differs between two lists of events, in words: which are added or taken out, and what changed in the others.

use super::changes::{Change, DIGITS};
use crate::report::mark_label;
use crate::scenario::parameters::Setup;
use crate::sheet::restate;
use crate::timeline::{Condition, Event, EventEnd, OnTime, Side, Turbine};
use crate::units::{Dimension, System, quantity_words, temperature_symbol, time_text, unit_or_si};

/// Changes from the events of one set-up to those of another.
pub(super) fn event_changes(
    a: (&Setup, &[Event]),
    b: (&Setup, &[Event]),
    system: System,
) -> Vec<Change> {
    let whole = |event: &Event| format!("{}, {}", label(event), end_words(event, system));
    let mut found = Vec::new();
    for pair in aligned(a.1, b.1) {
        match pair {
            (Some(before), Some(after)) => {
                found.extend(within((a.0, &a.1[before]), (b.0, &b.1[after]), system));
            }
            (Some(before), None) => {
                found.extend(Change::of("Event taken out", whole(&a.1[before]), "none"));
            }
            (None, Some(after)) => {
                found.extend(Change::of("Event added", "none", whole(&b.1[after])));
            }
            (None, None) => {}
        }
    }
    found
}

fn label(event: &Event) -> &str {
    event.name.as_deref().unwrap_or(event.kind.label())
}

/// How much two events are the same one: not at all when of different kinds.
fn likeness(a: &Event, b: &Event) -> u32 {
    match (a.kind == b.kind, a.name == b.name, a == b) {
        (false, _, _) => 0,
        (true, false, _) => 1,
        (true, true, false) => 2,
        (true, true, true) => 3,
    }
}

/// Pairs in order of the greatest likeness in sum (a longest common subsequence with weights), and the events left
/// over.
fn aligned(a: &[Event], b: &[Event]) -> Vec<(Option<usize>, Option<usize>)> {
    if a.len() == b.len() && a.iter().zip(b).all(|(a, b)| a.kind == b.kind) {
        return (0..a.len()).map(|place| (Some(place), Some(place))).collect();
    }
    let width = b.len() + 1;
    // Best sum of what stands from a place of either list on.
    let mut best = vec![0u32; (a.len() + 1) * width];
    for i in (0..a.len()).rev() {
        for j in (0..b.len()).rev() {
            let skipped = best[(i + 1) * width + j].max(best[i * width + j + 1]);
            let likeness = likeness(&a[i], &b[j]);
            let paired = if likeness > 0 { likeness + best[(i + 1) * width + j + 1] } else { 0 };
            best[i * width + j] = skipped.max(paired);
        }
    }
    let (mut i, mut j) = (0, 0);
    let mut pairs = Vec::new();
    while i < a.len() || j < b.len() {
        let here = best[i * width + j];
        let pairable = i < a.len() && j < b.len();
        let likeness = if pairable { likeness(&a[i], &b[j]) } else { 0 };
        if likeness > 0 && here == likeness + best[(i + 1) * width + j + 1] {
            pairs.push((Some(i), Some(j)));
            (i, j) = (i + 1, j + 1);
        } else if i < a.len() && (j == b.len() || here == best[(i + 1) * width + j]) {
            pairs.push((Some(i), None));
            i += 1;
        } else {
            pairs.push((None, Some(j)));
            j += 1;
        }
    }
    pairs
}

/// What changed in an event. Its name is none of its inputs.
fn within(a: (&Setup, &Event), b: (&Setup, &Event), system: System) -> Vec<Change> {
    let name = label(b.1);
    let mut found = Vec::new();
    let mut take = |what: &str, from: String, to: String| {
        found.extend(Change::of(format!("{name}: {what}"), from, to));
    };
    let start = |event: &Event| match event.start_s {
        Some(start_s) => format!("at {}", time_words(start_s, system)),
        None => "when the one before ends".to_string(),
    };
    take("starts", start(a.1), start(b.1));
    take("lasts", end_words(a.1, system), end_words(b.1, system));
    let loads = |event: &Event| {
        let from_car = event.loads.from_car || is_computed(event);
        if from_car { "computed from the car" } else { "from a log" }.to_string()
    };
    take("power and slip", loads(a.1), loads(b.1));
    for (row, default) in a.1.kind.takes() {
        let words = |(setup, event): (&Setup, &Event)| {
            let value_si = row.value_si(&event.loads);
            if !counts(event, row.key) {
                "not stated".to_string()
            } else if default.is_none() && value_si == setup.engine.idle_speed_rad_per_s {
                "idle speed".to_string()
            } else {
                row.words(value_si, system, DIGITS)
            }
        };
        take(&row.label.to_lowercase(), words(a), words(b));
    }
    if a.1.kind.turbine() == Turbine::BySelector {
        let gear = |event: &Event| if event.loads.in_gear { "in gear" } else { "neutral" };
        take("gear", gear(a.1).to_string(), gear(b.1).to_string());
    }
    take("circulation", circulation_words(a.1, system), circulation_words(b.1, system));
    take("fan", fan_words(a.1, system), fan_words(b.1, system));
    found
}

fn is_computed(event: &Event) -> bool {
    matches!(event.end, EventEnd::Finish { .. })
}

/// Whether a stated load is used: what follows from the car is not.
fn counts(event: &Event, key: &str) -> bool {
    let from_car = event.loads.from_car && event.kind.logged_keys().contains(&key);
    !is_computed(event) && !from_car
}

/// A time as a scenario would state it.
pub(super) fn time_words(time_s: f64, system: System) -> String {
    let restated = restate("time", &format!("{time_s} s"), system);
    restated.map_or_else(|| time_text(time_s), |restated| restated.text)
}

fn condition_words(condition: &Condition, system: System) -> String {
    let unit = unit_or_si(Dimension::Temperature, temperature_symbol(system));
    let side = match condition.side {
        Side::AtOrBelow => "at or below",
        Side::AtOrAbove => "at or above",
    };
    format!(
        "until {} is {side} {}",
        condition.node.label().to_lowercase(),
        quantity_words(Dimension::Temperature, unit, condition.temperature_k, DIGITS)
    )
}

fn end_words(event: &Event, system: System) -> String {
    match &event.end {
        EventEnd::Duration(duration_s) => time_words(*duration_s, system),
        EventEnd::Until { condition, at_most_s } => format!(
            "{}, at most {}",
            condition_words(condition, system),
            time_words(*at_most_s, system)
        ),
        EventEnd::Turnaround => "the rest of the turnaround".to_string(),
        EventEnd::Finish { distance_m } => format!("over the {}", mark_label(*distance_m)),
    }
}

fn on_words(on: &OnTime, system: System) -> String {
    let mut words = String::new();
    if on.start_s > 0.0 {
        words += &format!(" from {}", time_words(on.start_s, system));
    }
    if on.stop_s.is_finite() {
        words += &format!(" for {}", time_words(on.stop_s - on.start_s, system));
    }
    if let Some(condition) = &on.until {
        words += &format!(" {}", condition_words(condition, system));
    }
    words
}

fn circulation_words(event: &Event, system: System) -> String {
    let one = |circulation: &crate::timeline::Circulation| {
        let route = circulation.route.label().to_lowercase();
        format!("{route}{}", on_words(&circulation.on, system))
    };
    joined(event.circulation.iter().map(one).collect())
}

fn fan_words(event: &Event, system: System) -> String {
    joined(event.fan.iter().map(|on| format!("on{}", on_words(on, system))).collect())
}

fn joined(words: Vec<String>) -> String {
    if words.is_empty() { "off".to_string() } else { words.join(", then ") }
}
