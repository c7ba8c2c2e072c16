//! The bookkeeping around the heat, by hand: charge in the battery, switches that wait for a temperature, rests,
//! the moment of a launch, and on which side soak from the engine is booked. Every expected number is
//! worked out in the comment beside it from what the scenario states. What the pump draws follows from the
//! pan's temperature: here from pump and circuit solved anew at every sample, not from the day's survey.

mod common;

use common::{day, day_of, end_k};
use stallheat::fluid::Fluid;
use stallheat::hydraulics::CirculationPoint;
use stallheat::plumbing::Plumbing;
use stallheat::scenario::parameters::Setup;
use stallheat::timeline::{EventKind, Node, Route};
use stallheat::trace::{EndedBy, SwitchRecord, Trace};
use stallheat::transmission::Path;

/// 45 Ah at the start, as docs/parameters.md says; fan 10 A, charger 15 A, no alternator.
const FULL_A_H: f64 = 45.0;

/// What the default set-up's pump draws, or makes, while a switch is on: the trapezoidal rule over the samples.
/// docs/model.md: interpolation between the points of a survey is within 0.5 % of this.
fn of_pump(trace: &Trace, on: &SwitchRecord, what: impl Fn(&CirculationPoint) -> f64) -> f64 {
    let setup = Setup::default();
    let (kv40, kv100) = (setup.fluid.kv40_m2_per_s * 1e6, setup.fluid.kv100_m2_per_s * 1e6);
    let plumbing = Plumbing::new(&setup, Fluid::new(kv40, kv100, setup.fluid.density15_kg_per_m3));
    let route = on.route.unwrap();
    let within: Vec<(f64, f64)> = trace
        .samples
        .iter()
        .filter(|sample| (on.start_s - 1e-9..=on.end_s + 1e-9).contains(&sample.time_s))
        .map(|sample| {
            let pan_k = sample.temperature_k[Node::PanFluid.index()];
            (sample.time_s, what(&plumbing.circulation(route, pan_k)))
        })
        .collect();
    within.windows(2).map(|pair| 0.5 * (pair[0].1 + pair[1].1) * (pair[1].0 - pair[0].0)).sum()
}

fn pump_a_h(trace: &Trace, on: &SwitchRecord) -> f64 {
    of_pump(trace, on, |point| point.current_a) / 3600.0
}

/// The pump's records, in order.
fn pump_records(trace: &Trace) -> Vec<SwitchRecord> {
    trace.switches.iter().filter(|switch| switch.route.is_some()).copied().collect()
}

/// Charge at the end of every event, Ah.
fn charges_a_h(trace: &Trace) -> Vec<f64> {
    trace.events.iter().map(|event| trace.samples[event.samples.1].charge_a_s / 3600.0).collect()
}

fn assert_charges(trace: &Trace, expected_a_h: &[f64], tolerance_a_h: f64) {
    let found_a_h = charges_a_h(trace);
    assert_eq!(found_a_h.len(), expected_a_h.len(), "{found_a_h:?}");
    for (found, expected) in found_a_h.iter().zip(expected_a_h) {
        assert!((found - expected).abs() < tolerance_a_h, "{found_a_h:?} against {expected_a_h:?}");
    }
}

/// Before the pump has run there is nothing to solve, and the sums are exact.
fn assert_charges_before_the_pump(trace: &Trace, expected_a_h: &[f64]) {
    for (found, expected) in charges_a_h(trace).iter().zip(expected_a_h) {
        assert!((found - expected).abs() < 1e-9, "{found} against {expected}");
    }
}

/// Each switch draws its own current for its own time; the engine running charges nothing by default, and its electrics
/// are left out here.
#[test]
fn fan_and_pump_draw_what_they_state() {
    let trace = day_of(
        r#"{"battery": {"running_current": "0 A"}}"#,
        "{}",
        r#"[{"event": "idle", "duration": "30 min"},
            {"event": "idle", "duration": "30 min", "fan": "on"},
            {"event": "idle", "duration": "30 min", "circulation": "pan_loop"},
            {"event": "idle", "duration": "30 min", "circulation": "cooler_first", "fan": "on"},
            {"event": "idle", "duration": "30 min",
             "fan": [{"start": "6 min", "duration": "12 min"}]}]"#,
    );
    // 10 A for 0.5 h; the pump for 0.5 h; both for 0.5 h; 10 A for 0.2 h.
    let pump = pump_records(&trace);
    assert_eq!(pump.len(), 2, "{pump:?}");
    let pump_a_h: Vec<f64> = pump.iter().map(|on| pump_a_h(&trace, on)).collect();
    for drawn_a_h in &pump_a_h {
        // Warm fluid: some 3 A (docs/model.md has 2.88 A at 80 °C), for half an hour.
        assert!((1.2..2.0).contains(drawn_a_h), "{pump_a_h:?}");
    }
    let without_pump = [45.0, 40.0, 40.0, 35.0, 33.0];
    let drawn = [0.0, 0.0, pump_a_h[0], pump_a_h[0] + pump_a_h[1], pump_a_h[0] + pump_a_h[1]];
    let expected: Vec<f64> = without_pump.iter().zip(drawn).map(|(full, a_h)| full - a_h).collect();
    assert_charges(&trace, &expected, 0.005 * (pump_a_h[0] + pump_a_h[1]));
    assert_charges_before_the_pump(&trace, &without_pump[..2]);
    let found = charges_a_h(&trace);
    assert!((found[3] - found[4] - 2.0).abs() < 1e-9, "{found:?}");
}

/// The charger feeds whenever the car stands with the engine off, waits that nobody wrote down included, and
/// never in a tow.
#[test]
fn the_charger_feeds_parked_cars_only() {
    let trace = day_of(
        r#"{"battery": {"charger_current": "6 A", "running_current": "0 A"}}"#,
        "{}",
        r#"[{"event": "idle", "duration": "60 min", "fan": "on"},
            {"event": "tow", "duration": "30 min"},
            {"event": "tow", "duration": "30 min", "fan": "on"},
            {"event": "engine_off", "duration": "30 min"},
            {"event": "engine_off", "duration": "30 min", "circulation": "pan_loop"},
            {"event": "idle", "start": "4 h", "duration": "10 min"},
            {"rounds": ["40 min"], "events": [{"event": "stage", "duration": "10 min"}]}]"#,
    );
    // −10 A·1 h; nothing; −10 A·0.5 h; +6 A·0.5 h; +6 A·0.5 h less the pump; wait from 3 h to 4 h: +6 A·1 h;
    // idle nothing; stage nothing; what is left of the round, +6 A·0.5 h.
    let pump = pump_a_h(&trace, &pump_records(&trace)[0]);
    assert!((0.5..6.0 * 0.5).contains(&pump), "{pump}");
    let expected_a_h =
        [35.0, 35.0, 30.0, 33.0, 36.0 - pump, 42.0 - pump, 42.0 - pump, 42.0 - pump, 45.0 - pump];
    assert_charges(&trace, &expected_a_h, 0.005 * pump);
    assert_charges_before_the_pump(&trace, &expected_a_h[..4]);
    assert_eq!(trace.events[5].kind, EventKind::EngineOff);
    assert_eq!(trace.events[8].kind, EventKind::EngineOff);
}

/// The alternator charges while the engine runs, in every kind that runs it, and the battery holds no more
/// than it can.
#[test]
fn the_alternator_charges_until_full() {
    let trace = day_of(
        r#"{"battery": {"alternator_current": "30 A", "charger_current": "0 A", "running_current": "0 A"}}"#,
        "{}",
        r#"[{"event": "idle", "duration": "10 min"},
            {"event": "tow", "duration": "102 min", "fan": "on"},
            {"event": "engine_off", "duration": "10 min"},
            {"event": "return_road", "duration": "12 min"},
            {"event": "idle", "duration": "12 min", "fan": "on"},
            {"event": "idle", "duration": "30 min"}]"#,
    );
    // Full; −10 A·1.7 h; nothing; +30 A·0.2 h; +20 A·0.2 h; +30 A·0.5 h would be 53.
    assert_charges(&trace, &[FULL_A_H, 28.0, 28.0, 34.0, 38.0, FULL_A_H], 1e-9);
    let fullest_a_s = trace.samples.iter().map(|s| s.charge_a_s).fold(0.0, f64::max);
    assert!(fullest_a_s <= FULL_A_H * 3600.0);
}

/// Ignition, fuel and water pumps take their current in every kind of event that runs the engine, and in no other; an
/// alternator gives it back first.
#[test]
fn a_running_engine_draws_for_its_electrics() {
    let events = r#"[{"event": "idle", "duration": "30 min"},
        {"event": "engine_off", "duration": "30 min"},
        {"event": "tow", "duration": "30 min"},
        {"event": "return_road", "duration": "6 min"},
        {"event": "idle", "duration": "12 min", "fan": "on"}]"#;
    // By hand: −12 A·0.5 h; nothing; nothing; −12 A·0.1 h; −22 A·0.2 h.
    let battery = r#"{"battery": {"running_current": "12 A", "charger_current": "0 A"}}"#;
    assert_charges(&day_of(battery, "{}", events), &[39.0, 39.0, 39.0, 37.8, 33.4], 1e-9);
    // With 20 A of an alternator the battery stays full until the fan takes 2 A more than that leaves.
    let charged = battery.replace("\"charger", "\"alternator_current\": \"20 A\", \"charger");
    let trace = day_of(&charged, "{}", events);
    assert_charges(&trace, &[45.0, 45.0, 45.0, 45.0, 44.6], 1e-9);
    // What pump and fan took is told apart: the fan's 10 A·0.2 h.
    assert!((trace.samples.last().unwrap().used_a_s / 3600.0 - 2.0).abs() < 1e-9);
}

/// A fan and a pump that wait for a temperature: each record ends where its temperature is reached, the fan
/// stays off although the node warms up again, and the battery pays for that time alone.
#[test]
fn a_switch_goes_off_when_its_temperature_is_reached_and_stays_off() {
    let trace = day_of(
        r#"{"battery": {"charger_current": "0 A"}}"#,
        r#"{"all": "110 °C", "cooler_core": "70 °C"}"#,
        r#"[{"event": "engine_off", "duration": "30 min",
             "fan": [{"until": {"node": "cooler_core", "at_or_below": "60 °C"}}],
             "circulation": [{"route": "pan_loop", "start": "5 min",
                              "until": {"node": "pan_fluid", "at_or_below": "95 °C"}}]}]"#,
    );
    assert_eq!(trace.switches.len(), 2, "{:?}", trace.switches);
    let fan = trace.switches.iter().find(|switch| switch.route.is_none()).unwrap();
    let pump = trace.switches.iter().find(|switch| switch.route.is_some()).unwrap();
    let at_c = |node: Node, time_s: f64| trace.temperature_at_k(node, time_s) - 273.15;
    assert!(fan.start_s == 0.0 && fan.end_s > 5.0 && fan.end_s < 300.0, "{fan:?}");
    assert!((at_c(Node::CoolerCore, fan.end_s) - 60.0).abs() < 0.01);
    assert_eq!(pump.route, Some(Route::PanLoop));
    assert!(pump.start_s == 300.0 && pump.end_s > 330.0 && pump.end_s < 1700.0, "{pump:?}");
    assert!((at_c(Node::PanFluid, pump.end_s) - 95.0).abs() < 0.01);
    // The core is warm again with the pump running, so the fan would be on, had it not been done with.
    assert!(trace.samples.iter().any(|s| {
        s.time_s > pump.start_s && s.temperature_k[Node::CoolerCore.index()] > 273.15 + 65.0
    }));
    let drawn_a_s = FULL_A_H * 3600.0 - trace.samples[trace.samples.len() - 1].charge_a_s;
    let fan_a_s = 10.0 * fan.end_s;
    let pump_a_s = of_pump(&trace, pump, |point| point.current_a);
    assert!((drawn_a_s - fan_a_s - pump_a_s).abs() < 0.005 * pump_a_s, "{drawn_a_s}");
    // The pump's work, while it ran.
    let pump_j = trace.ledger.path_j(Path::CirculationPump);
    let expected_j = of_pump(&trace, pump, |point| point.fluid_heat_w);
    assert!((pump_j / expected_j - 1.0).abs() < 0.005, "{pump_j} against {expected_j}");
}

/// A switch whose temperature is reached already never comes on.
#[test]
fn a_switch_whose_temperature_is_reached_already_never_comes_on() {
    let trace = day_of(
        "{}",
        r#"{"all": "50 °C"}"#,
        r#"[{"event": "engine_off", "duration": "5 min",
             "fan": [{"until": {"node": "case", "at_or_below": "60 °C"}}]}]"#,
    );
    assert!(trace.switches.is_empty(), "{:?}", trace.switches);
}

/// An event that waits ends at its temperature; one that waits in vain ends at its longest wait.
#[test]
fn an_event_ends_at_its_temperature_or_at_its_longest_wait() {
    let trace = day_of(
        "{}",
        r#"{"all": "90 °C"}"#,
        r#"[{"event": "engine_off", "at_most": "3 h",
             "until": {"node": "case", "at_or_below": "80 °C"}},
            {"event": "engine_off", "at_most": "10 min",
             "until": {"node": "case", "at_or_below": "20 °C"}}]"#,
    );
    let (reached, waited) = (&trace.events[0], &trace.events[1]);
    assert_eq!(reached.ended_by, EndedBy::Temperature);
    assert_eq!(waited.ended_by, EndedBy::LongestWait);
    let case_c = trace.samples[reached.samples.1].temperature_k[Node::Case.index()] - 273.15;
    assert!((case_c - 80.0).abs() < 1e-3, "{case_c}");
    assert!((waited.end_s - waited.start_s - 600.0).abs() < 1e-9);
}

const ROUNDS: &str = r#"[{"rounds": ["30 min", "20 min"], "events": [
    {"event": "stage", "duration": "30 s"},
    {"event": "brake_hold", "duration": "3 s"},
    {"event": "pass", "duration": "10 s"},
    {"event": "engine_off", "duration": "rest", "circulation": "pan_loop", "fan": "on"}]}]"#;

/// "rest" ends at the turnaround, to the second, with its switches on until then.
#[test]
fn rest_ends_at_the_turnaround() {
    let trace = day_of("{}", "{}", ROUNDS);
    assert_eq!(trace.events.len(), 8);
    let rests: Vec<_> = trace.events.iter().filter(|e| e.kind == EventKind::EngineOff).collect();
    for (rest, (start_s, end_s)) in rests.iter().zip([(43.0, 1800.0), (1843.0, 3000.0)]) {
        assert!((rest.start_s - start_s).abs() < 1e-9 && (rest.end_s - end_s).abs() < 1e-9);
        assert_eq!(rest.ended_by, EndedBy::Time);
    }
    for switch in &trace.switches {
        assert!(
            rests.iter().any(|r| r.start_s == switch.start_s && r.end_s == switch.end_s),
            "{switch:?}"
        );
    }
    assert_eq!(trace.switches.len(), 4);
}

/// A launch is the start of the pass, which is the end of the hold before it, with that hold's time and heat.
#[test]
fn a_launch_is_the_start_of_its_pass() {
    let trace = day_of("{}", "{}", ROUNDS);
    assert_eq!(trace.launches.len(), 2);
    let holds: Vec<_> = trace.events.iter().filter(|e| e.kind == EventKind::BrakeHold).collect();
    for (i, (launch, hold)) in trace.launches.iter().zip(holds).enumerate() {
        let started_s = 33.0 + 1800.0 * i as f64;
        assert!((launch.time_s - started_s).abs() < 1e-9);
        assert_eq!(launch.round, Some(i as u32 + 1));
        assert_eq!(launch.temperature_k, trace.samples[hold.samples.1].temperature_k);
        assert!((launch.held_s - 3.0).abs() < 1e-9);
        let held_j = trace.event_ledger(hold).path_j(Path::ConverterShear);
        assert_eq!(launch.held_heat_j, held_j);
        // (4200/193)² N·m at 439.8 rad/s is 208 kW, times a density within 6 % of its reference's.
        assert!((held_j / (3.0 * 208.3e3) - 1.0).abs() < 0.06, "{held_j}");
        // The pass itself changes the pan by far more than a rounding.
        let pass = trace.events.iter().find(|e| e.start_s == launch.time_s).unwrap();
        let pan = Node::PanFluid.index();
        let after_k = trace.samples[pass.samples.1].temperature_k[pan];
        assert!((after_k - launch.temperature_k[pan]).abs() > 0.5);
        // Default window 65 to 77 °C: below it by what is missing, above it by what is too much.
        let pan_c = launch.temperature_k[pan] - 273.15;
        let expected_k = (pan_c - 77.0).max(0.0) + (pan_c - 65.0).min(0.0);
        assert!((launch.from_window_k - expected_k).abs() < 1e-9);
    }
}

/// What comes between hold and pass does not undo the hold; a launch before it does.
#[test]
fn a_hold_counts_for_the_next_pass_only() {
    let trace = day_of(
        "{}",
        "{}",
        r#"[{"event": "brake_hold", "duration": "2 s"}, {"event": "stage", "duration": "5 s"},
            {"event": "pass", "duration": "10 s"}, {"event": "pass", "duration": "10 s"}]"#,
    );
    let held_j = trace.event_ledger(&trace.events[0]).path_j(Path::ConverterShear);
    assert_eq!((trace.launches[0].held_s, trace.launches[0].held_heat_j), (2.0, held_j));
    assert_eq!((trace.launches[1].held_s, trace.launches[1].held_heat_j), (0.0, 0.0));
}

/// A hot engine warms a cold transmission: brought in, positive. A cold one is warmed by it: carried away,
/// positive. With only those two links open, the amounts are those that the engine loses and gains.
#[test]
fn soak_from_the_engine_is_made_and_back_into_it_is_carried_away() {
    let soak = |all: &str, engine: &str| {
        let trace = day(&format!(
            r#"{{"format": 1, "name": "soak", "setup": {{"air": {{"temperature": "{all}"}}}},
                "initial_temperatures": {{"all": "{all}", "engine": "{engine}"}},
                "timeline": [{{"event": "engine_off", "duration": "10 min"}}]}}"#
        ));
        let engine = Node::Engine.index();
        let lost_j = 100e3 * (trace.samples[0].temperature_k[engine] - end_k(&trace)[engine])
            - trace.ledger.path_j(Path::EngineToAir);
        (trace.ledger.path_j(Path::FromEngine), trace.ledger.path_j(Path::IntoEngine), lost_j)
    };
    // 9 W/K over 70 K for 600 s is at most 378 kJ; the engine cools by some 10 K meanwhile.
    let (from_j, into_j, lost_j) = soak("30 °C", "100 °C");
    assert!((300e3..378e3).contains(&from_j), "{from_j}");
    assert!(into_j.abs() < 1.0, "{into_j}");
    assert!((from_j - lost_j).abs() < 10.0, "{from_j} against {lost_j}");
    // The same the other way round, 9 W/K over 40 K.
    let (from_j, into_j, lost_j) = soak("50 °C", "10 °C");
    assert!((170e3..216e3).contains(&into_j), "{into_j}");
    assert!(from_j.abs() < 1.0, "{from_j}");
    assert!((into_j + lost_j).abs() < 10.0, "{into_j} against {lost_j}");
}
