//! What must hold whatever the numbers: statements that follow from the physics of the unit, and the
//! orders of magnitude that anyone who has touched one knows. Common practice, no source, unless said.

mod common;

use common::{at_f, day_of, end_k};
use stallheat::scenario::parameters::Setup;
use stallheat::timeline::{EventKind, Loads, NODES, Node};
use stallheat::trace::Trace;
use stallheat::transmission::{Mode, Path, heat_made};

const AIR_F: f64 = 86.0;
const HOT: &str = r#"{"converter_fluid": "300 °F", "converter_shell": "300 °F", "pan_fluid": "180 °F",
    "gear_train": "175 °F", "case": "145 °F", "cooler_core": "150 °F", "engine": "180 °F"}"#;

fn cool_down(minutes: f64, circulation: &str, fan: &str) -> Trace {
    day_of(
        "{}",
        HOT,
        &format!(
            r#"[{{"event": "engine_off", "duration": "{minutes} min",
                 "circulation": "{circulation}", "fan": "{fan}"}}]"#
        ),
    )
}

/// With no pump and the engine off, the converter is the last part to cool and the case keeps rising for a
/// while. Held over three quarters of an hour, longer than most turnarounds; after an hour it has come down
/// to the gear train, which sits inside and cools as slowly.
#[test]
fn without_pump_the_converter_is_last_and_the_case_still_rises() {
    let trace = cool_down(45.0, "off", "off");
    for minute in 1..=45 {
        let time_s = 60.0 * f64::from(minute);
        let converter_f = at_f(&trace, Node::ConverterFluid, time_s);
        for node in [Node::PanFluid, Node::GearTrain, Node::Case, Node::CoolerCore] {
            assert!(converter_f > at_f(&trace, node, time_s), "{} at {minute} min", node.key());
        }
    }
    let (case_peak_k, peak_s) = trace.peak(Node::Case);
    let rise_k = case_peak_k - trace.samples[0].temperature_k[Node::Case.index()];
    assert!(peak_s > 60.0 && rise_k > 0.5, "case rises {rise_k:.2} K until {peak_s:.0} s");
}

/// Pan loop and no pump give nearly the same converter temperature after 5 min.
#[test]
fn pan_loop_does_next_to_nothing_for_the_converter() {
    let nothing_f = at_f(&cool_down(5.0, "off", "off"), Node::ConverterFluid, 300.0);
    let pan_loop_f = at_f(&cool_down(5.0, "pan_loop", "on"), Node::ConverterFluid, 300.0);
    let through_f = at_f(&cool_down(5.0, "through_converter", "on"), Node::ConverterFluid, 300.0);
    assert!((nothing_f - pan_loop_f).abs() < 8.0, "{nothing_f:.0} against {pan_loop_f:.0} °F");
    assert!(through_f < nothing_f - 60.0, "{through_f:.0} against {nothing_f:.0} °F");
}

/// Through the converter, its excess over the pan falls with a time constant of about
/// C_converter/(ṁ·cp): about a minute at 6 L/min. Taken as the time to 1/e of the excess of the whole
/// converter, fluid and steel weighted with their heat capacities.
#[test]
fn through_the_converter_takes_about_a_minute() {
    let trace = cool_down(5.0, "through_converter", "on");
    let (density, specific_heat) = (830.0, 2_100.0);
    let (fluid_j_per_k, steel_j_per_k) = (2.8e-3 * density * specific_heat, 14.0 * 470.0);
    let excess = |time_s: f64| {
        let over = |node: Node| at_f(&trace, node, time_s) - at_f(&trace, Node::PanFluid, time_s);
        fluid_j_per_k * over(Node::ConverterFluid) + steel_j_per_k * over(Node::ConverterShell)
    };
    let time_constant_s =
        (0..300).map(f64::from).find(|time_s| excess(*time_s) < excess(0.0) / 1f64.exp()).unwrap();
    let expected_s = (fluid_j_per_k + steel_j_per_k) / (6e-3 / 60.0 * density * specific_heat);
    assert!(
        (time_constant_s / expected_s - 1.0).abs() < 0.25,
        "{time_constant_s:.0} s against {expected_s:.0} s"
    );
}

/// A brake hold heats the converter by tens of kelvin in seconds while the case moves a few.
#[test]
fn a_brake_hold_heats_the_converter_and_not_the_case() {
    let trace = day_of(
        r#"{"converter": {"k_factor": "225 rpm/√(lbf ft)"}}"#,
        r#"{"all": "150 °F"}"#,
        r#"[{"event": "brake_hold", "duration": "3 s", "engine_speed": "4200 rpm"}]"#,
    );
    let rise_k =
        |node: Node| end_k(&trace)[node.index()] - trace.samples[0].temperature_k[node.index()];
    assert!((20.0..150.0).contains(&rise_k(Node::ConverterFluid)));
    assert!(rise_k(Node::Case).abs() < 3.0);
    // 207 kW while held at 4 200 rpm with 225 rpm/√(lbf·ft): T = (4200/225)² lbf·ft = 472.4 N·m, T·ω.
    let heat_w = trace.ledger.path_j(Path::ConverterShear) / 3.0;
    assert!((heat_w / 207.8e3 - 1.0).abs() < 0.05, "{heat_w:.0} W");
}

fn made(kind: EventKind, speed_rpm: f64, power_w: f64) -> f64 {
    let mode = Mode {
        kind,
        loads: Loads {
            engine_speed_rad_per_s: speed_rpm * std::f64::consts::PI / 30.0,
            input_power_w: power_w,
            slip: 0.12,
            torque_ratio: 1.0,
            ..Loads::default()
        },
        shift_heat_w: 0.0,
        route: None,
        fan: false,
    };
    heat_made(&Setup::default(), &mode).converter_w
}

/// Twice the power at the same rpm doubles the shear heat; heat at stall goes with rpm³ for one converter.
#[test]
fn shear_heat_goes_with_power_and_with_speed_cubed() {
    let single_w = made(EventKind::Pass, 6_000.0, 200e3);
    assert!((made(EventKind::Pass, 6_000.0, 400e3) / single_w - 2.0).abs() < 1e-12);
    let slow_w = made(EventKind::BrakeHold, 2_000.0, 0.0);
    assert!((made(EventKind::BrakeHold, 4_000.0, 0.0) / slow_w - 8.0).abs() < 1e-9);
}

/// Everything relaxes to ambient, monotonically in the hottest node, when all is off. "Monotonically" up to
/// the solver's error control, 1e-3 K here: at the end of three days the hottest node is less than that
/// above the others.
#[test]
fn everything_relaxes_to_ambient() {
    let trace = cool_down(71.0 * 60.0, "off", "off");
    let mut last_k = f64::INFINITY;
    for sample in &trace.samples {
        let hottest_k = sample.temperature_k.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        assert!(hottest_k <= last_k + 1e-3, "at {} s", sample.time_s);
        last_k = hottest_k;
    }
    for (i, temperature_k) in end_k(&trace).iter().enumerate() {
        let above_f = common::fahrenheit(*temperature_k) - AIR_F;
        assert!((-0.01..0.5).contains(&above_f), "{} {above_f:.3} °F", Node::ALL[i].key());
    }
}

/// At ambient with all off, nothing moves: the state of rest is a fixed point.
#[test]
fn ambient_stays_ambient() {
    let trace = day_of("{}", "{}", r#"[{"event": "engine_off", "duration": "10 h", "fan": "on"}]"#);
    for temperature_k in end_k(&trace) {
        assert!((common::fahrenheit(temperature_k) - AIR_F).abs() < 1e-6);
    }
    assert!(trace.ledger.closure() < 1e-9);
}

/// Cooler first or converter first: the same loop, so the same heat in the long run, but converter first
/// gives the hottest fluid to the cooler and takes more away at the start.
#[test]
fn converter_first_takes_more_away_at_the_start() {
    let away_j = |route: &str| {
        let trace = cool_down(1.0, route, "on");
        trace.ledger.path_j(Path::CoolerAir)
    };
    assert!(away_j("through_converter") > away_j("cooler_first"));
}

/// In a steady state the cooler carries what the effectiveness–NTU method says, lag or not: idle in gear for
/// hours, and heat to the cooler equals heat from it.
#[test]
fn a_steady_cooler_passes_on_what_it_gets() {
    let trace = day_of(
        "{}",
        "{}",
        r#"[{"event": "idle", "gear": "in_gear", "duration": "6 h", "fan": "on"},
            {"event": "idle", "gear": "in_gear", "duration": "10 min", "fan": "on"}]"#,
    );
    let last = &trace.events[trace.events.len() - 1];
    let ledger = trace.event_ledger(last);
    let (got_j, gave_j) = (ledger.path_j(Path::StreamToCooler), ledger.path_j(Path::CoolerAir));
    assert!((got_j / gave_j - 1.0).abs() < 1e-4, "{got_j} in, {gave_j} out");
    assert!(ledger.stored_j().abs() < 1e-3 * ledger.made_j());
}

/// Hotter air, never cooler parts: every node, over a whole round.
#[test]
fn hotter_air_never_makes_anything_cooler() {
    let round = |air: &str| {
        day_of(
            &format!(r#"{{"air": {{"temperature": "{air}"}}}}"#),
            r#"{"all": "120 °F"}"#,
            r#"[{"event": "stage", "duration": "30 s"},
                {"event": "brake_hold", "duration": "3 s"},
                {"event": "pass", "duration": "10 s"},
                {"event": "engine_off", "duration": "20 min", "circulation": "through_converter"}]"#,
        )
    };
    let (mild, hot) = (round("70 °F"), round("100 °F"));
    for minute in 0..=20 {
        let time_s = 60.0 * f64::from(minute);
        for i in 0..NODES {
            let (mild_k, hot_k) = (
                mild.temperature_at_k(Node::ALL[i], time_s),
                hot.temperature_at_k(Node::ALL[i], time_s),
            );
            assert!(hot_k >= mild_k - 0.02, "{} at {minute} min", Node::ALL[i].key());
        }
    }
}
