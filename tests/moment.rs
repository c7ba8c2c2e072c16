//! One time of a day: rates against the ledger and a closed form, switches, the pass, and the day's ends.

mod common;

use common::day_of;
use stallheat::moment::{Moment, moment};
use stallheat::scenario;
use stallheat::scenario::parameters::Setup;
use stallheat::simulate::simulate;
use stallheat::timeline::{EventKind, Node};
use stallheat::trace::Trace;
use stallheat::transmission::{PATHS, Path};
use stallheat::units::System;

const BRACKET_DAY: &str = include_str!("../scenarios/saturday_bracket_day.json");
/// A round with a computed pass, then circulation with the fan for a while.
const ROUND: &str = r#"[
    {"event": "brake_hold", "duration": "3 s", "engine_speed": "4200 rpm"},
    {"event": "pass"},
    {"event": "engine_off", "duration": "10 min",
     "circulation": [{"route": "through_converter", "start": "1 min", "duration": "4 min"}],
     "fan": [{"start": "2 min", "duration": "5 min"}]}]"#;

fn at(trace: &Trace, time_s: f64) -> Moment {
    moment(&Setup::default(), trace, time_s, System::Si)
}

fn rate_w(moment: &Moment, path: Path) -> f64 {
    moment.rates.iter().find(|rate| rate.key == path.key()).unwrap().rate * 1e3
}

fn round() -> Trace {
    day_of("{}", r#"{"all": "150 °F"}"#, ROUND)
}

/// The rate between two samples, times their distance, summed over an event, is the event's ledger: for every path of
/// every event, shifts (whose heat comes at one instant) included.
#[test]
fn rates_integrate_back_to_the_ledger() {
    let bracket = scenario::parse(BRACKET_DAY).unwrap();
    for (setup, trace) in
        [(bracket.setup.clone(), simulate(&bracket).unwrap()), (Setup::default(), round())]
    {
        for event in &trace.events {
            let mut sum_j = [0.0; PATHS];
            let (mut made_j, mut stored_j) = (0.0, 0.0);
            for pair in trace.samples[event.samples.0..=event.samples.1].windows(2) {
                let span_s = pair[1].time_s - pair[0].time_s;
                if span_s <= 0.0 {
                    continue;
                }
                let now = moment(&setup, &trace, pair[0].time_s + 0.5 * span_s, System::Si);
                for path in Path::SOURCES.into_iter().chain(Path::SINKS).chain(Path::INSIDE) {
                    sum_j[path.index()] += rate_w(&now, path) * span_s;
                }
                made_j += now.made_rate * 1e3 * span_s;
                stored_j += now.stored_rate * 1e3 * span_s;
                let open_w = now.made_rate - now.away_rate - now.stored_rate;
                assert!(open_w.abs() <= 1e-6 * now.made_rate.abs().max(1.0), "{open_w} kW");
            }
            let ledger = trace.event_ledger(event);
            let scale_j = ledger.made_j().abs().max(1e3);
            for path in Path::SOURCES.into_iter().chain(Path::SINKS).chain(Path::INSIDE) {
                let error = (sum_j[path.index()] - ledger.path_j(path)).abs() / scale_j;
                assert!(error < 1e-9, "{} of {}: {error:.1e}", path.key(), event.kind.key());
            }
            assert!((made_j - ledger.made_j()).abs() / scale_j < 1e-9);
            assert!((stored_j - ledger.stored_j()).abs() / scale_j < 1e-9);
        }
    }
}

/// At stall all the power becomes heat. T·ω by hand: 193 rpm/√(N·m) (docs/parameters.md) at 4 200 rpm takes
/// (4200/193)² = 473.57 N·m, times 439.82 rad/s is 208.3 kW or 279.3 hp, scaled with the fluid's density as it is then.
#[test]
fn at_stall_the_converter_makes_torque_times_speed() {
    let trace = round();
    let setup = Setup::default();
    let fluid = setup.stated_fluid();
    // In the middle between two samples the mean over them is that of the instant, to second order.
    let after = trace.samples.partition_point(|sample| sample.time_s <= 1.0);
    let middle_s = 0.5 * (trace.samples[after - 1].time_s + trace.samples[after].time_s);
    let now = at(&trace, middle_s);
    let fluid_k = now.temperatures[Node::ConverterFluid.index()] + 273.15;
    let reference_k = setup.converter.k_reference_k;
    let density = fluid.density_kg_per_m3(fluid_k) / fluid.density_kg_per_m3(reference_k);
    let torque_nm = (4200.0_f64 / 193.0).powi(2) * density;
    let expected_w = torque_nm * 4200.0 * std::f64::consts::PI / 30.0;
    let found_w = rate_w(&now, Path::ConverterShear);
    assert!((found_w / expected_w - 1.0).abs() < 1e-4, "{found_w:.0} against {expected_w:.0} W");
    let us = moment(&setup, &trace, middle_s, System::Us);
    let shear_hp = us.rates.iter().find(|rate| rate.key == "converter_shear").unwrap().rate;
    assert!((shear_hp * 745.699_9 / found_w - 1.0).abs() < 1e-6, "{shear_hp} hp");
    assert_eq!((us.rate_unit, us.temperature_unit, now.rate_unit), ("hp", "°F", "kW"));
    assert!((now.engine_rpm - 4200.0).abs() < 1e-6);
}

/// Streams follow the switches at the very time, and each stretch holds its start and not its end.
#[test]
fn streams_follow_the_switches() {
    let trace = round();
    let off = trace.events.iter().find(|event| event.kind == EventKind::EngineOff).unwrap();
    let states = |after_s: f64| {
        let streams = at(&trace, off.start_s + after_s).streams;
        assert_eq!(streams.circulation > 0.0, streams.route.is_some());
        assert_eq!(streams.front_pump, 0.0);
        (streams.route, streams.fan)
    };
    let through = Some("through_converter");
    assert_eq!(states(59.99), (None, false));
    assert_eq!(states(60.01), (through, false));
    assert_eq!(states(180.0), (through, true));
    assert_eq!(states(300.01), (None, true));
    assert_eq!(states(419.99), (None, true));
    assert_eq!(states(420.01), (None, false));
    let held = at(&trace, 1.0);
    assert!(held.streams.front_pump > 1.0, "{} L/min", held.streams.front_pump);
    let flow_m3_per_s = trace.events[0].hydraulics.front_pump_m3_per_s;
    assert!((held.streams.front_pump / (flow_m3_per_s * 6e4) - 1.0).abs() < 1e-12);
    // With the pump running, the booked stream says the same: heat flows out of the converter.
    assert!(rate_w(&at(&trace, off.start_s + 120.0), Path::StreamToConverter) < 0.0);
    assert_eq!(rate_w(&at(&trace, off.start_s + 400.0), Path::StreamToConverter), 0.0);
}

/// In a computed pass: marks are found at their times, and slip is 1 − turbine over engine.
#[test]
fn a_computed_pass_is_followed() {
    let trace = round();
    let event = &trace.events[1];
    let pass = event.pass.as_ref().unwrap();
    for mark in &pass.marks {
        let time_s = event.start_s + pass.rollout_s + mark.elapsed_s;
        let now = at(&trace, time_s - 1e-9).pass.unwrap();
        // Straight between steps of some hundredths of a second: a decimetre, a thousandth of the speed.
        let distance_m = Setup::default().car.rollout_m + mark.distance_m;
        assert!((now.distance - distance_m).abs() < 0.1, "{} of {distance_m} m", now.distance);
        assert!((now.speed / 3.6 / mark.speed_m_per_s - 1.0).abs() < 1e-3);
        assert!((now.slip - (1.0 - now.turbine_rpm / now.engine_rpm)).abs() < 1e-12);
    }
    let finish = at(&trace, event.end_s - 1e-6).pass.unwrap();
    assert_eq!(finish.gear, Setup::default().gears().len());
    assert!((finish.slip - pass.finish_slip).abs() < 1e-3);
    assert_eq!(at(&trace, event.start_s).pass.unwrap().gear, 1);
    assert!(at(&trace, event.start_s - 0.01).pass.is_none());
    assert!(at(&trace, event.end_s).pass.is_none());
}

/// Times outside of the day are its ends, and no number is a time as well.
#[test]
fn outside_of_the_day_the_ends_hold() {
    let trace = round();
    let end_s = trace.duration_s();
    assert_eq!(at(&trace, -50.0), at(&trace, 0.0));
    assert_eq!(at(&trace, f64::NAN), at(&trace, 0.0));
    assert_eq!(at(&trace, 1e9), at(&trace, end_s));
    let last = at(&trace, 1e9);
    assert_eq!((last.time_s, last.event), (end_s, Some(trace.events.len() - 1)));
    let case_k = trace.samples[trace.samples.len() - 1].temperature_k[Node::Case.index()];
    assert!((last.temperatures[Node::Case.index()] + 273.15 - case_k).abs() < 1e-9);
    assert!(rate_w(&last, Path::CaseConvection) > 0.0);
}

/// Quick enough to follow a finger: far below a millisecond, even in a day of hundreds of events.
#[test]
fn a_moment_is_quick() {
    let scenario = scenario::parse(BRACKET_DAY).unwrap();
    let trace = simulate(&scenario).unwrap();
    let duration_s = trace.duration_s();
    let started = std::time::Instant::now();
    let most = 2_000;
    for i in 0..most {
        let time_s = duration_s * f64::from(i) / f64::from(most);
        assert!(moment(&scenario.setup, &trace, time_s, System::Us).temperatures[0] > 0.0);
    }
    let each_s = started.elapsed().as_secs_f64() / f64::from(most);
    assert!(each_s < 2e-4, "{:.0} µs", each_s * 1e6);
}
