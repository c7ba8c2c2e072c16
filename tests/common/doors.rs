//! The doors through which foreign text comes in, each tried with any bytes: what is read must be usable, what is refused
//! must be named. Used by the fuzzer (tests/fuzz) and, with the corpus it kept, by tests/doors.rs.
#![allow(dead_code)]

#[path = "choices.rs"]
mod choices;

use std::sync::atomic::{AtomicU64, Ordering};

use stallheat::bench::record;
use stallheat::error::Error;
use stallheat::readings::{read_list, table};
use stallheat::scenario::parameters::PARAMETERS;
use stallheat::scenario::{self, Scenario};
use stallheat::simulate::simulate;
use stallheat::timeline::EventEnd;
use stallheat::units::parse_quantity;

/// Tries any bytes; panics where what comes of them is neither usable nor a named refusal.
pub type Door = fn(&[u8]);

/// Every door by its name.
pub const DOORS: [(&str, Door); 6] = [
    ("scenario", scenario),
    ("day", day),
    ("choices", chosen),
    ("readings", readings),
    ("record", record),
    ("quantity", quantity),
];

/// A refusal that helps: all four parts are there, and none is as long as a page.
pub fn named(error: &Error) {
    for part in [&error.field, &error.limit, &error.remedy] {
        assert!(!part.trim().is_empty(), "{error:?}");
    }
    assert!(error.to_string().chars().count() < 3_000, "{error}");
}

/// A scenario's text.
pub fn scenario(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    match scenario::parse(text) {
        Ok(scenario) => {
            assert!(scenario.blocks.iter().any(|block| !block.events.is_empty()));
            assert!(scenario.initial_temperature_k.iter().all(|k| k.is_finite() && *k > 0.0));
        }
        Err(error) => named(&error),
    }
}

/// A scenario that is simulated where it is short: its ledger closes, or its refusal has a name.
pub fn day(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let Ok(scenario) = scenario::parse(text) else { return };
    let events = || scenario.blocks.iter().flat_map(|block| &block.events);
    let long = events().any(|event| match event.end {
        EventEnd::Duration(duration_s) => duration_s > 1_200.0,
        EventEnd::Until { at_most_s, .. } => at_most_s > 1_200.0,
        EventEnd::Turnaround | EventEnd::Finish { .. } => false,
    });
    let waits = scenario.blocks.iter().any(|block| block.turnaround_s.is_some_and(|s| s > 3_600.0));
    if long || waits || events().count() > 40 {
        return;
    }
    computed(&scenario);
}

/// Days that a run of the fuzzer has computed, and those among them that were refused while they were computed.
pub static COMPUTED: AtomicU64 = AtomicU64::new(0);
pub static REFUSED: AtomicU64 = AtomicU64::new(0);

/// Simulates a scenario: its ledger closes, or its refusal has a name.
fn computed(scenario: &Scenario) {
    COMPUTED.fetch_add(1, Ordering::Relaxed);
    match simulate(scenario) {
        Ok(trace) => {
            assert!(trace.ledger.closure() < 1e-9, "{}", trace.ledger.closure());
            let all = trace.samples.iter().flat_map(|sample| sample.temperature_k);
            assert!(all.into_iter().all(|k| k.is_finite() && k > 0.0));
        }
        Err(error) => {
            REFUSED.fetch_add(1, Ordering::Relaxed);
            named(&error);
        }
    }
}

/// A day of which every byte is a choice, simulated.
pub fn chosen(bytes: &[u8]) {
    match scenario::parse(&choices::scenario_text(bytes)) {
        Ok(scenario) => computed(&scenario),
        Err(error) => named(&error),
    }
}

/// A table of readings; what it reads is read again as the list that a link carries.
pub fn readings(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    match table::read(text) {
        Ok(table) => {
            for row in &table.rows {
                match &row.reading {
                    Ok(reading) => {
                        assert!(reading.time_s.is_finite() && reading.shown_k > 0.0, "{reading:?}");
                        let list = serde_json::Value::Array(vec![reading.to_json()]);
                        let again = read_list("readings", &list);
                        let Ok(again) = again else { panic!("{list}: {again:?}") };
                        // Written to a hundredth of a degree.
                        assert!((again[0].shown_k - reading.shown_k).abs() < 0.006, "{list}");
                        let (corrected_k, deviation_k) = reading.corrected_k(295.0);
                        assert!(corrected_k.is_finite() && deviation_k > 0.0, "{reading:?}");
                    }
                    Err(error) => named(error),
                }
            }
        }
        Err(error) => named(&error),
    }
}

/// The record of a bench test.
pub fn record(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    if let Err(error) = record::parse(text) {
        named(&error);
    }
}

/// A quantity, as the parameter that the first byte chooses would read it.
pub fn quantity(bytes: &[u8]) {
    let Some((first, rest)) = bytes.split_first() else { return };
    let Ok(text) = std::str::from_utf8(rest) else { return };
    let parameter = &PARAMETERS[usize::from(*first) % PARAMETERS.len()];
    if let Ok(value_si) = parse_quantity(parameter.dimension, text) {
        assert!(value_si.is_finite(), "{text}");
    }
}
