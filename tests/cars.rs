//! The typical cars: each fits every example day and every day of logged loads, without refusal and within bounds.

use serde_json::Value;
use stallheat::scenario;
use stallheat::simulate::simulate;
use stallheat::timeline::Node;
use std::path::PathBuf;

fn read(name: &str) -> Value {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(name);
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn cars() -> Vec<Value> {
    serde_json::from_str(scenario::CARS).unwrap()
}

const DAYS: [&str; 4] = [
    "scenarios/saturday_bracket_day.json",
    "scenarios/test_and_tune_evening.json",
    "scenarios/dyno_bench_session.json",
    "tests/data/logged_bracket_day.json",
];

#[test]
fn each_car_says_that_it_is_invented_and_leaves_air_and_limits_to_the_day() {
    let cars = cars();
    assert!(cars.len() >= 5);
    for car in &cars {
        assert!(car["sentence"].as_str().unwrap().contains("Invented, typical."), "{car}");
        for key in ["key", "name"] {
            let text = car[key].as_str().unwrap();
            assert!(!text.is_empty());
            let same = cars.iter().filter(|other| other[key] == car[key]).count();
            assert_eq!(same, 1, "{text} is there once");
        }
        let setup = car["setup"].as_object().unwrap();
        assert!(!setup.contains_key("air") && !setup.contains_key("limits"), "{car}");
    }
}

#[test]
fn each_car_computes_with_each_timeline_and_closes() {
    for car in cars() {
        for name in DAYS {
            let mut day = read(name);
            // As the page does it: air and limits stay with the day.
            let mut setup = car["setup"].clone();
            for part in ["air", "limits"] {
                if let Some(kept) = day["setup"].get(part) {
                    setup[part] = kept.clone();
                }
            }
            day["setup"] = setup;
            let what = format!("{} in {name}", car["key"]);
            let scenario =
                scenario::parse(&day.to_string()).unwrap_or_else(|error| panic!("{what}: {error}"));
            let trace = simulate(&scenario).unwrap_or_else(|error| panic!("{what}: {error}"));
            assert!(trace.ledger.closure() < 1e-9, "{what}: {:e}", trace.ledger.closure());
            let peak_c = (0..trace.duration_s().ceil() as usize)
                .map(|second| trace.temperature_at_k(Node::ConverterFluid, second as f64) - 273.15)
                .fold(f64::MIN, f64::max);
            // Common practice, no source: a healthy day peaks at 120 to 180 °C in the converter.
            assert!((60.0..200.0).contains(&peak_c), "{what}: converter peaks at {peak_c:.0} °C");
            // Common practice, no source: from quick bracket cars to heavy street cars.
            for launch in &trace.launches {
                if let Some(pass) = &launch.pass {
                    let elapsed_s = pass.marks.last().unwrap().elapsed_s;
                    assert!((7.0..15.0).contains(&elapsed_s), "{what}: {elapsed_s:.3} s");
                }
            }
        }
    }
}
