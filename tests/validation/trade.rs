//! Facts of the trade: common practice, no source. Infrared readings on one kind of unit on one kind of
//! day, so they are held to the width that such readings have (about 8 °F), not to a decimal.
//!
//! One set of transmission and cooler parameters, the table's defaults, must satisfy all of them. What each test
//! states beside it is the engine (a mild small-block), the K-factor of the converter it stalls, and the
//! weather, none of which the readings tell.

use crate::common::{at_f, day_of};
use crate::{assert_at_most, assert_within};
use stallheat::timeline::Node;

/// A mild 305-cubic-inch small-block: 193 rpm/√(lbf·ft) lets it hold 3 050 rpm against the brake, which
/// takes 250 lbf·ft and 145 hp.
const BENCH: &str = r#"{
    "air": {"temperature": "85 °F"},
    "engine": {"idle_speed": "850 rpm"},
    "converter": {"k_factor": "193 rpm/√(lbf ft)"}
}"#;

/// Held about 6 s on the brake, the converter's surface goes from about 152 °F to about 236 °F while the top
/// of the case moves less than 10 °F. Common practice, no source.
#[test]
pub fn six_seconds_on_the_brake() {
    let trace = day_of(
        BENCH,
        r#"{"all": "150 °F", "converter_fluid": "152 °F", "converter_shell": "152 °F",
            "case": "145 °F", "engine": "175 °F"}"#,
        r#"[{"event": "brake_hold", "duration": "6 s", "engine_speed": "3050 rpm"},
            {"event": "idle", "duration": "1 min"}]"#,
    );
    // The thermometer comes to the converter within the minute after the hold: the highest it can show.
    let surface_f = (0..=66)
        .map(|second| at_f(&trace, Node::ConverterShell, f64::from(second)))
        .fold(f64::NEG_INFINITY, f64::max);
    assert_within("converter's surface after the hold, °F", surface_f, 236.0, 8.0);
    let case_f = at_f(&trace, Node::Case, 66.0) - at_f(&trace, Node::Case, 0.0);
    assert!(case_f >= 0.0, "case moved {case_f:.1} °F");
    assert_at_most("rise of the case's top, °F", case_f, 10.0);
}

/// After more such work (converter about 239 °F, case about 168 °F) the engine is shut off, and 4½ to 5
/// minutes of circulation through the converter leave converter and case both near 160 °F, within 15 °F of
/// where the session began (152 °F). Common practice, no source.
#[test]
pub fn five_minutes_of_circulation_through_the_converter() {
    let trace = day_of(
        BENCH,
        r#"{"converter_fluid": "239 °F", "converter_shell": "239 °F", "case": "168 °F",
            "pan_fluid": "185 °F", "gear_train": "180 °F", "cooler_core": "215 °F",
            "engine": "185 °F"}"#,
        r#"[{"event": "engine_off", "duration": "5 min",
             "circulation": "through_converter", "fan": "on"}]"#,
    );
    for time_s in [270.0, 285.0, 300.0] {
        for node in [Node::ConverterShell, Node::Case] {
            let shown_f = at_f(&trace, node, time_s);
            assert_within(&format!("{} after 4½ to 5 min, °F", node.label()), shown_f, 160.0, 8.0);
            assert!((shown_f - 152.0).abs() < 15.0, "{} {shown_f:.1} °F", node.key());
        }
    }
}

/// After a normal 20-minute cool-down between late rounds, cooled as crews cool (engine off, some minutes of
/// circulation and fan), converter and case are about 5 °F apart near 140–150 °F.
/// Common practice, no source.
#[test]
pub fn twenty_minutes_between_late_rounds() {
    let trace = day_of(
        r#"{"air": {"temperature": "88 °F"}, "converter": {"k_factor": "225 rpm/√(lbf ft)"}}"#,
        r#"{"all": "135 °F", "engine": "165 °F"}"#,
        r#"[{"rounds": ["23 min", "23 min", "23 min", "23 min"], "events": [
            {"event": "idle", "duration": "30 s", "gear": "in_gear"},
            {"event": "burnout", "duration": "4 s"},
            {"event": "stage", "duration": "15 s"},
            {"event": "brake_hold", "duration": "2 s", "engine_speed": "4200 rpm"},
            {"event": "pass", "duration": "10 s"},
            {"event": "slow_down", "duration": "20 s"},
            {"event": "return_road", "duration": "90 s"},
            {"event": "engine_off", "duration": "rest",
             "circulation": [{"route": "through_converter", "duration": "5 min"}],
             "fan": [{"duration": "10 min"}]}
        ]}]"#,
    );
    let converter_f = at_f(&trace, Node::ConverterShell, trace.duration_s());
    let case_f = at_f(&trace, Node::Case, trace.duration_s());
    assert_within("converter's shell beside the case, °F", converter_f, case_f, 8.0);
    assert_within("converter's shell after 20 min, °F", converter_f, 145.0, 10.0);
    assert_within("case after 20 min, °F", case_f, 145.0, 10.0);
}
