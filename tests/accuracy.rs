//! The stated error control, measured: a twelve-hour day at the default against one at 1e-10.

use stallheat::scenario;
use stallheat::simulate::{TOLERANCE, simulate_with};
use stallheat::solver::Tolerance;
use stallheat::timeline::Node;

/// The Saturday stretched to twelve hours: ten rounds, the pump until a temperature is reached in two of them.
pub fn twelve_hours() -> String {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/scenarios/saturday_bracket_day.json");
    let text = std::fs::read_to_string(path).unwrap();
    let rounds = r#""rounds": ["60 min", "48 min", "36 min", "26 min", "18 min", "12 min"]"#;
    assert!(text.contains(rounds));
    text.replace(
        rounds,
        r#""rounds": ["120 min", "105 min",
            {"turnaround": "60 min", "change": {"engine_off": {
                "circulation": [{"route": "pan_loop",
                    "until": {"node": "pan_fluid", "at_or_below": "120 °F"}}]}}},
            "55 min", "50 min",
            {"turnaround": "45 min", "change": {"engine_off": {
                "fan": [{"until": {"node": "converter_shell", "at_or_below": "130 °F"}}]}}},
            "40 min", "30 min", "20 min", "15 min"]"#,
    )
}

#[test]
fn twelve_hour_day_within_a_twentieth_of_a_kelvin() {
    let scenario = scenario::parse(&twelve_hours()).unwrap();
    let default = simulate_with(&scenario, TOLERANCE).unwrap();
    let tight = Tolerance { relative: 1e-10, absolute: 1e-10 };
    let reference = simulate_with(&scenario, tight).unwrap();
    assert!((default.duration_s() - 12.0 * 3600.0).abs() < 1.0, "{}", default.duration_s());
    assert_eq!(default.launches.len(), 10);

    let mut worst_k = 0.0_f64;
    for (event, exact) in default.events.iter().zip(&reference.events) {
        assert_eq!(event.kind, exact.kind);
        assert!((event.end_s - exact.end_s).abs() < 1e-3, "{:?}", event.kind);
        for node in Node::ALL {
            let got_k = default.samples[event.samples.1].temperature_k[node.index()];
            let exact_k = reference.samples[exact.samples.1].temperature_k[node.index()];
            worst_k = worst_k.max((got_k - exact_k).abs());
        }
    }
    // Between event ends: the reference's own samples, read from the default's dense samples.
    for sample in reference.samples.iter().step_by(7) {
        for node in [Node::PanFluid, Node::Case, Node::GearTrain] {
            let got_k = default.temperature_at_k(node, sample.time_s);
            worst_k = worst_k.max((got_k - sample.temperature_k[node.index()]).abs());
        }
    }
    println!("worst error {worst_k:.2e} K");
    assert!(worst_k < 0.05, "{worst_k} K");
    assert!(default.ledger.closure() < 1e-9 && reference.ledger.closure() < 1e-9);
    for event in &default.events {
        assert!(default.event_ledger(event).closure() < 1e-6, "{:?}", event.kind);
    }
}
