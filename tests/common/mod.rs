//! What several tests need: days written as short JSON, temperatures read in °F, generated documents.
#![allow(dead_code)]

pub mod random;

use stallheat::scenario;
use stallheat::simulate::simulate;
use stallheat::timeline::{NODES, Node};
use stallheat::trace::Trace;

/// Simulates a scenario text; the error's own words on failure.
pub fn day(text: &str) -> Trace {
    let scenario = scenario::parse(text).unwrap_or_else(|error| panic!("{error}"));
    simulate(&scenario).unwrap_or_else(|error| panic!("{error}"))
}

/// Simulates a scenario of the given parts (JSON values of `setup`, `initial_temperatures`, `timeline`).
pub fn day_of(setup: &str, initial: &str, timeline: &str) -> Trace {
    day(&format!(
        r#"{{"format": 1, "name": "test", "setup": {setup},
            "initial_temperatures": {initial}, "timeline": {timeline}}}"#
    ))
}

/// Fails unless a generated document is as `fresh` has it; with STALLHEAT_UPDATE in the environment it is written first.
/// `test` is the test file that makes it.
pub fn check_or_update(path: &str, fresh: &str, test: &str) {
    let path = format!("{}/{path}", env!("CARGO_MANIFEST_DIR"));
    if std::env::var_os("STALLHEAT_UPDATE").is_some() {
        let folder = std::path::Path::new(&path).parent().unwrap();
        std::fs::create_dir_all(folder).unwrap();
        std::fs::write(&path, fresh).unwrap();
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(kept == fresh, "{path} is stale: run STALLHEAT_UPDATE=1 cargo test --test {test}");
}

/// K to °F.
pub fn fahrenheit(temperature_k: f64) -> f64 {
    temperature_k * 1.8 - 459.67
}

/// Temperature of a node at a time, °F.
pub fn at_f(trace: &Trace, node: Node, time_s: f64) -> f64 {
    fahrenheit(trace.temperature_at_k(node, time_s))
}

/// Temperatures at the end of the day, K.
pub fn end_k(trace: &Trace) -> [f64; NODES] {
    trace.samples[trace.samples.len() - 1].temperature_k
}
