//! What must hold whatever the numbers: statements that follow from the physics of the unit, and the
//! orders of magnitude that anyone who has touched one knows. Common practice, no source, unless said.

mod common;

use common::{at_f, day_of, end_k};
use stallheat::cooler::{Arrangement, effectiveness};
use stallheat::timeline::{NODES, Node};
use stallheat::trace::Trace;
use stallheat::transmission::Path;

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

/// Twice the power at the same rpm doubles the shear heat of a pass; heat at stall goes with rpm³ for one
/// converter. Taken from simulated days; the hold is a fiftieth of a second, over which the fluid hardly warms.
#[test]
fn shear_heat_goes_with_power_and_with_speed_cubed() {
    let made_j = |event: &str| {
        let trace = day_of("{}", r#"{"all": "150 °F"}"#, &format!("[{event}]"));
        trace.ledger.path_j(Path::ConverterShear)
    };
    let pass_j = |power: &str| {
        made_j(&format!(
            r#"{{"event": "pass", "duration": "10 s", "input_power": "{power}", "slip": 0.12}}"#
        ))
    };
    assert!((pass_j("400 kW") / pass_j("200 kW") - 2.0).abs() < 1e-9);
    assert!((pass_j("200 kW") / (200e3 * 0.12 * 10.0) - 1.0).abs() < 1e-9);
    let hold_j = |speed: &str| {
        made_j(&format!(
            r#"{{"event": "brake_hold", "duration": "0.05 s", "engine_speed": "{speed}"}}"#
        ))
    };
    assert!((hold_j("4000 rpm") / hold_j("2000 rpm") / 8.0 - 1.0).abs() < 2e-3);
}

/// At one held speed the torque, and so the heat, goes with the fluid's density: 7 % less 100 °C hotter.
#[test]
fn stall_heat_goes_with_fluid_density() {
    let hold_j = |fluid: &str| {
        let trace = day_of(
            "{}",
            &format!(r#"{{"all": "{fluid}"}}"#),
            r#"[{"event": "brake_hold", "duration": "0.05 s", "engine_speed": "3000 rpm"}]"#,
        );
        trace.ledger.path_j(Path::ConverterShear)
    };
    // API table 54D form, ρ15 = 860: 836.9 kg/m³ at 50 °C, 773.2 kg/m³ at 150 °C.
    let fluid = stallheat::fluid::Fluid::new(35.0, 7.2, 860.0);
    let expected = fluid.density_kg_per_m3(423.15) / fluid.density_kg_per_m3(323.15);
    assert!((hold_j("150 °C") / hold_j("50 °C") / expected - 1.0).abs() < 2e-3);
    assert!((0.90..0.95).contains(&expected));
}

/// Everything relaxes to ambient, monotonically in the hottest node, when all is off. "Monotonically" up to
/// the solver's error control, 1e-3 K here: after a day and a half the hottest node is less than that
/// above the others.
#[test]
fn everything_relaxes_to_ambient() {
    let trace = cool_down(35.5 * 60.0, "off", "off");
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
/// hours. Within 3 %, because its effectiveness is that of the fluid at 80 °C.
#[test]
fn a_steady_cooler_carries_what_effectiveness_ntu_says() {
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

    // By hand: defaults of the table, oil enters at converter temperature, properties there; the flow is that of the
    // record, and near the 5 L/min that are stated for 1 000 rpm.
    let oil_in_k = end_k(&trace)[Node::ConverterFluid.index()];
    let fluid = stallheat::fluid::Fluid::new(35.0, 7.2, 860.0);
    let pan_k = end_k(&trace)[Node::PanFluid.index()];
    let oil_m3_per_s = last.hydraulics.front_pump_m3_per_s;
    assert!((5.0..5.6).contains(&(oil_m3_per_s * 60e3)), "{oil_m3_per_s}");
    let oil_w_per_k =
        oil_m3_per_s * fluid.density_kg_per_m3(pan_k) * fluid.specific_heat_j_per_kg_k(oil_in_k);
    let air_w_per_k = 800.0 / 3_600.0 * (101_325.0 / (287.05 * 303.15)) * 1_006.0;
    let oil_ua = 70.0 / 0.35 * (oil_m3_per_s * 60e3 / 8.0_f64).powf(0.4);
    let air_ua = 70.0 / 0.65;
    let ua = 1.0 / (1.0 / oil_ua + 1.0 / air_ua);
    let (least, most) = (oil_w_per_k.min(air_w_per_k), oil_w_per_k.max(air_w_per_k));
    let effectiveness = effectiveness(Arrangement::CrossflowUnmixed, ua / least, least / most);
    let expected_w = effectiveness * least * (oil_in_k - 303.15);
    let got_w = gave_j / 600.0;
    println!("{got_w:.0} W against {expected_w:.0} W");
    assert!((got_w / expected_w - 1.0).abs() < 0.03, "{got_w:.0} W against {expected_w:.0} W");
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

/// "Pan loop until a temperature, then through the converter": the on-time that waits gives way to the next.
#[test]
fn an_on_time_that_waits_gives_way_to_the_next() {
    let routes = |pan_c: &str| {
        let trace = day_of(
            "{}",
            HOT,
            &format!(
                r#"[{{"event": "engine_off", "duration": "20 min", "fan": "on", "circulation": [
                    {{"route": "pan_loop", "until": {{"node": "pan_fluid", "at_or_below": "{pan_c}"}}}},
                    {{"route": "through_converter", "start": "10 min"}}]}}]"#
            ),
        );
        trace
            .switches
            .iter()
            .filter_map(|switch| Some((switch.route?.key(), switch.start_s, switch.end_s)))
            .collect::<Vec<_>>()
    };
    // 10 °C is never reached: the pan loop runs until the next on-time starts.
    assert_eq!(routes("10 °C"), [("pan_loop", 0.0, 600.0), ("through_converter", 600.0, 1200.0)]);
    // 150 °F is reached before: a pause lies between.
    let early = routes("150 °F");
    assert_eq!(early.len(), 2);
    assert!(early[0].2 < 500.0 && early[1].1 == 600.0, "{early:?}");
}

/// Time on the brake counts from one launch to the next, in as many holds as it took.
#[test]
fn holds_before_a_launch_add_up() {
    let trace = day_of(
        "{}",
        r#"{"all": "140 °F"}"#,
        r#"[{"rounds": ["10 min", "10 min"], "events": [
            {"event": "brake_hold", "duration": "1 s"},
            {"event": "stage", "duration": "4 s"},
            {"event": "brake_hold", "duration": "2 s"},
            {"event": "pass", "duration": "9 s"}]}]"#,
    );
    assert_eq!(trace.launches.len(), 2);
    for launch in &trace.launches {
        assert!((launch.held_s - 3.0).abs() < 1e-9, "{}", launch.held_s);
        assert!(launch.held_heat_j > 100e3);
    }
}
