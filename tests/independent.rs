//! Whole days against an independent implementation of the seven-node model.
//!
//! `tests/data/independent_days.json` is written by `tests/reference/twin.py`: Python, SciPy 1.17.1,
//! `solve_ivp` with LSODA at rtol 1e-9 and atol 1e-3 J, written from the equations of docs/model.md and the
//! defaults of docs/parameters.md, not from this package's sources. Another integrator, another series for the
//! cooler, no tabulated curves. It carries every scenario with its answers: the two published days, a
//! cold day that uses everything at once, and small days that each let one feature count, so that a link,
//! stream, exponent or source that is wired wrongly shows. Temperatures here are held to 0.01 K, the error
//! control that docs/model.md claims; the observed differences are printed with `--nocapture`.

use serde_json::Value;
use stallheat::scenario;
use stallheat::simulate::simulate;
use stallheat::timeline::{EventEnd, NODES, Node};
use stallheat::trace::{EndedBy, Trace};
use stallheat::transmission::Path;

/// Largest difference of a node at the end of an event (K): docs/model.md, "Time".
const TEMPERATURE_K: f64 = 0.01;
/// Largest difference of an event's end (s), when times decide.
const TIME_S: f64 = 0.02;
/// The same in days where a temperature is waited for: 0.01 K at a few kelvin per minute.
const WAITED_S: f64 = 0.05;
/// Largest difference of the day's heat along a path, relative to all heat made or carried away.
const HEAT: f64 = 1e-4;

#[derive(Default)]
struct Worst {
    temperature_k: f64,
    time_s: f64,
    heat: f64,
}

fn file() -> Value {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/independent_days.json");
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("no number: {value}"))
}

fn compare(day: &Value, complaints: &mut Vec<String>) -> Worst {
    let name = day["scenario"]["name"].as_str().unwrap();
    let scenario =
        scenario::parse(&day["scenario"].to_string()).unwrap_or_else(|e| panic!("{name}: {e}"));
    let trace = simulate(&scenario).unwrap_or_else(|error| panic!("{name}: {error}"));
    let waits = scenario.blocks.iter().flat_map(|block| &block.events).any(|event| {
        matches!(event.end, EventEnd::Until { .. })
            || event.fan.iter().any(|on| on.until.is_some())
            || event.circulation.iter().any(|pump| pump.on.until.is_some())
    });
    let mut worst = Worst::default();
    let ends = day["ends"].as_array().unwrap();
    assert_eq!(trace.events.len(), ends.len(), "{name}: number of events");
    for (place, (event, end)) in trace.events.iter().zip(ends).enumerate() {
        let at = format!("{name}, event {place} ({})", event.kind.key());
        assert_eq!(Some(event.kind.key()), end["kind"].as_str(), "{at}");
        let late_s = event.end_s - number(&end["end_s"]);
        worst.time_s = worst.time_s.max(late_s.abs());
        if late_s.abs() > if waits { WAITED_S } else { TIME_S } {
            complaints.push(format!("{at}: ends {late_s:.3} s late"));
        }
        let sample = &trace.samples[event.samples.1];
        for (i, node) in Node::ALL.iter().enumerate() {
            let over_k = sample.temperature_k[i] - 273.15 - number(&end["temperatures_c"][i]);
            worst.temperature_k = worst.temperature_k.max(over_k.abs());
            if over_k.abs() > TEMPERATURE_K {
                complaints.push(format!("{at}: {} {over_k:.4} K too warm", node.key()));
            }
        }
        assert_eq!(end["temperatures_c"].as_array().unwrap().len(), NODES);
    }
    compare_heat(name, &trace, &day["heat_j"], complaints, &mut worst);
    worst
}

fn compare_heat(
    name: &str,
    trace: &Trace,
    heat_j: &Value,
    complaints: &mut Vec<String>,
    worst: &mut Worst,
) {
    let expected_j = |path: &Path| number(&heat_j[path.key()]);
    let made_j: f64 = Path::SOURCES.iter().map(expected_j).sum();
    let away_j: f64 = Path::SINKS.iter().map(expected_j).sum();
    for path in Path::SOURCES.iter().chain(&Path::SINKS) {
        let over = (trace.ledger.path_j(*path) - expected_j(path)) / made_j.max(away_j);
        worst.heat = worst.heat.max(over.abs());
        if over.abs() > HEAT {
            complaints.push(format!("{name}: {} {over:.1e} of the day too much", path.key()));
        }
    }
}

#[test]
fn every_day_is_that_of_the_independent_implementation() {
    let file = file();
    let days = file["days"].as_array().unwrap();
    assert!(days.len() >= 25, "only {} days", days.len());
    let mut complaints = Vec::new();
    for day in days {
        let worst = compare(day, &mut complaints);
        println!(
            "{:<24} {:.1e} K  {:.1e} s  {:.1e} of the heat",
            day["scenario"]["name"].as_str().unwrap(),
            worst.temperature_k,
            worst.time_s,
            worst.heat
        );
    }
    assert!(complaints.is_empty(), "{}", complaints.join("\n"));
}

/// The published days in the file are those of the folder, so that a changed scenario asks for a new answer.
#[test]
fn published_days_are_those_of_the_folder() {
    let file = file();
    for name in ["dyno_bench_session", "saturday_bracket_day"] {
        let path = format!("{}/scenarios/{name}.json", env!("CARGO_MANIFEST_DIR"));
        let published: Value =
            serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
        let kept = file["days"].as_array().unwrap().iter().any(|day| day["scenario"] == published);
        assert!(kept, "{name} has changed: run tests/reference/twin.py");
    }
}

/// Each way of ending and of booking occurs in the days: what does not occur is not compared.
#[test]
fn the_days_use_everything() {
    let file = file();
    let mut reached = 0;
    let mut heat_j = vec![0.0; Path::SOURCES.len() + Path::SINKS.len()];
    let mut kinds = Vec::new();
    for day in file["days"].as_array().unwrap() {
        let scenario = scenario::parse(&day["scenario"].to_string()).unwrap();
        let trace = simulate(&scenario).unwrap();
        reached += trace.events.iter().filter(|e| e.ended_by == EndedBy::Temperature).count();
        kinds.extend(trace.events.iter().map(|event| event.kind));
        for (path, heat_j) in Path::SOURCES.iter().chain(&Path::SINKS).zip(&mut heat_j) {
            *heat_j += number(&day["heat_j"][path.key()]);
        }
    }
    assert!(reached >= 3, "{reached} temperatures waited for and reached");
    assert!(heat_j.iter().all(|heat_j| *heat_j > 1e4), "{heat_j:?}");
    for kind in stallheat::timeline::EventKind::ALL {
        assert!(kinds.contains(&kind), "no {}", kind.key());
    }
}
