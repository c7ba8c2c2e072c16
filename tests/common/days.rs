//! Long days made from the Saturday, for measuring error and time.

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

/// The same day with computed passes.
pub fn twelve_hours_computed() -> String {
    let text = twelve_hours();
    let start = text.find(r#"{ "event": "pass""#).unwrap();
    let end = start + text[start..].find('}').unwrap() + 1;
    format!("{}{}{}", &text[..start], r#"{ "event": "pass" }"#, &text[end..])
}
