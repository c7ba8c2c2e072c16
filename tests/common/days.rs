//! Long days for measuring error and time.

/// Twelve hours, ten rounds with computed passes, the pump until a temperature is reached in two of them.
pub fn twelve_hours_computed() -> String {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/twelve_hours.json");
    std::fs::read_to_string(path).unwrap()
}

/// The same day with logged passes.
pub fn twelve_hours() -> String {
    let text = twelve_hours_computed();
    let computed = r#"{"event": "pass"}"#;
    let logged = r#"{"event": "pass", "duration": "10.2 s", "engine_speed": "6500 rpm",
        "input_power": "490 hp", "slip": 0.17, "road_speed": "88 mph", "shifts": 1}"#;
    assert_eq!(text.matches(computed).count(), 1);
    text.replace(computed, logged)
}
