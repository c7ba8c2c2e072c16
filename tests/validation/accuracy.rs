//! The stated error control, measured: a twelve-hour day at the default against one at 1e-10.

use crate::days::{twelve_hours, twelve_hours_computed};
use crate::{assert_at_most, assert_near};
use stallheat::convection::cylinder_convection_w_per_m2_k;
use stallheat::network::Flows;
use stallheat::scenario;
use stallheat::scenario::parameters::Setup;
use stallheat::simulate::{TOLERANCE, simulate_on, simulate_outline, simulate_with};
use stallheat::solver::Tolerance;
use stallheat::timeline::{Event, EventEnd, NODES, Node};
use stallheat::transmission::{Mode, PATHS, Path, Transmission};

/// Computed passes: elapsed times within a millisecond of a solution at 1e-10, temperatures as above.
#[test]
pub fn computed_passes_within_a_millisecond() {
    let scenario = scenario::parse(&twelve_hours_computed()).unwrap();
    let default = simulate_with(&scenario, TOLERANCE).unwrap();
    let reference =
        simulate_with(&scenario, Tolerance { relative: 1e-10, absolute: 1e-10 }).unwrap();
    assert_eq!(default.launches.len(), 10);
    let (mut worst_s, mut worst_k) = (0.0_f64, 0.0_f64);
    for (launch, exact) in default.launches.iter().zip(&reference.launches) {
        let (pass, exact_pass) = (launch.pass.as_ref().unwrap(), exact.pass.as_ref().unwrap());
        assert_eq!(pass.marks.len(), 5);
        for (mark, exact_mark) in pass.marks.iter().zip(&exact_pass.marks) {
            worst_s = worst_s.max((mark.elapsed_s - exact_mark.elapsed_s).abs());
        }
        for (got_k, exact_k) in launch.temperature_k.iter().zip(&exact.temperature_k) {
            worst_k = worst_k.max((got_k - exact_k).abs());
        }
    }
    assert_at_most("elapsed times of ten computed passes, s", worst_s, 1e-3);
    assert_at_most("temperatures at their launches, K", worst_k, 0.05);
    assert!(default.ledger.closure() < 1e-9);
}

#[test]
pub fn twelve_hour_day_within_a_twentieth_of_a_kelvin() {
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
    assert_at_most("any temperature of twelve hours, K", worst_k, 0.05);
    assert!(default.ledger.closure() < 1e-9 && reference.ledger.closure() < 1e-9);
    for event in &default.events {
        assert!(default.event_ledger(event).closure() < 1e-6, "{:?}", event.kind);
    }
}

/// The tabulated case convection against the correlation itself, from a hundredth of a kelvin to 250 K and from still
/// air to a gale: heat flow within 0.2 %.
#[test]
pub fn tabulated_convection_follows_its_correlation() {
    let mut worst = 0.0_f64;
    for wind_m_per_s in [0.0, 0.05, 1.0, 12.0] {
        let mut setup = Setup::default();
        setup.air.wind_m_per_s = wind_m_per_s;
        let mut transmission = Transmission::new(&setup).unwrap();
        let parked = Event::parked(EventEnd::Duration(1.0));
        let network = transmission.network(&Mode::new(&setup, &parked, None, false));
        for difference_k in [-60.0, -3.0, -0.2, 0.01, 0.3, 1.0, 2.5, 6.0, 20.0, 75.0, 250.0] {
            let mut temperature_k = [setup.air.temperature_k; NODES];
            temperature_k[Node::Case.index()] += difference_k;
            let (mut node_w, mut path_w) = ([0.0; NODES], [0.0; PATHS]);
            network.flows(&temperature_k, Flows { node_w: &mut node_w, path_w: &mut path_w });
            let got_w = path_w[Path::CaseConvection.index()];
            let exact_w = setup.transmission.case_area_m2
                * difference_k
                * cylinder_convection_w_per_m2_k(
                    setup.air.temperature_k + difference_k,
                    setup.air.temperature_k,
                    wind_m_per_s,
                    setup.transmission.case_diameter_m,
                    setup.air.pressure_pa,
                );
            worst = worst.max((got_w / exact_w - 1.0).abs());
        }
    }
    assert_at_most("tabulated convection of the case, share", worst, 2e-3);
}

/// The work of a day grows in proportion to its events: evaluations of days with 5, 10, 20 and 40 rounds lie on a line
/// within 10 %. Counts, not time. The first rounds warm everything up, so the line is through 5 and 40.
#[test]
pub fn work_grows_in_proportion_to_rounds() {
    let evaluations = |rounds: u32| {
        let text = serde_json::json!({"format": 1, "name": "rounds", "timeline": [
            {"rounds": vec!["40 min"; rounds as usize], "events": [
                {"event": "idle", "duration": "60 s", "gear": "in_gear"},
                {"event": "burnout", "duration": "4 s"},
                {"event": "brake_hold", "duration": "2 s"},
                {"event": "pass"},
                {"event": "return_road", "duration": "2 min"},
                {"event": "engine_off", "duration": "rest", "circulation": "pan_loop",
                    "fan": [{"duration": "10 min"}]}]}]});
        let scenario = scenario::parse(&text.to_string()).unwrap();
        simulate_with(&scenario, TOLERANCE).unwrap().evaluations as f64
    };
    let counts = [5, 10, 20, 40].map(|rounds| (f64::from(rounds), evaluations(rounds)));
    let per_round = (counts[3].1 - counts[0].1) / 35.0;
    assert!(per_round > 0.0);
    for (rounds, count) in counts {
        let line = counts[0].1 + per_round * (rounds - 5.0);
        // The line goes through the first and the last.
        if ![counts[0].0, counts[3].0].contains(&rounds) {
            assert_near(
                &format!("evaluations of {rounds} rounds beside the line through 5 and 40"),
                count,
                line,
                0.1,
            );
        }
        // And nothing large besides what rounds take.
        assert!((count / (per_round * rounds) - 1.0).abs() < 0.5, "{rounds} rounds: {count}");
    }
}

/// Days simulated one after the other on one prepared transmission are, to the last bit, those simulated by
/// themselves; a set-up that is not the prepared one is refused.
#[test]
pub fn days_on_one_transmission_do_not_touch_each_other() {
    let computed = scenario::parse(&twelve_hours_computed()).unwrap();
    let logged = scenario::parse(&twelve_hours()).unwrap();
    assert!(computed.setup == logged.setup && computed.blocks != logged.blocks);
    let setup = computed.setup.clone();
    let mut transmission = Transmission::new(&setup).unwrap();
    for day in [&computed, &logged, &computed] {
        let mut shared = simulate_on(&mut transmission, day, TOLERANCE).unwrap();
        let alone = simulate_with(day, TOLERANCE).unwrap();
        assert!(shared.evaluations <= alone.evaluations);
        shared.evaluations = alone.evaluations;
        assert!(shared == alone);
    }
    let mut other = computed.clone();
    other.setup.car.rollout_m += 0.01;
    let refused = simulate_on(&mut transmission, &other, TOLERANCE);
    assert!(refused.is_err_and(|error| error.field == "setup"));
}

/// A day's outline against the day at 1e-10: event ends and launches, temperatures and elapsed times; and between
/// event ends by reading both at the same times.
#[test]
pub fn outline_within_a_twentieth_of_a_kelvin() {
    let scenario = scenario::parse(&twelve_hours_computed()).unwrap();
    let exact = simulate_with(&scenario, Tolerance { relative: 1e-10, absolute: 1e-10 }).unwrap();
    let setup = scenario.setup.clone();
    let mut transmission = Transmission::new(&setup).unwrap();
    let outline = simulate_outline(&mut transmission, &scenario).unwrap();
    assert_eq!(outline.events.len(), exact.events.len());
    assert_eq!(outline.launches.len(), 10);
    let (mut worst_k, mut worst_s) = (0.0_f64, 0.0_f64);
    for (event, exact_event) in outline.events.iter().zip(&exact.events) {
        let got_k = outline.samples[event.samples.1].temperature_k;
        let exact_k = exact.samples[exact_event.samples.1].temperature_k;
        for (got_k, exact_k) in got_k.iter().zip(exact_k) {
            worst_k = worst_k.max((got_k - exact_k).abs());
        }
        assert!((event.end_s - exact_event.end_s).abs() < 0.05, "{:?}", event.kind);
    }
    for (launch, exact_launch) in outline.launches.iter().zip(&exact.launches) {
        assert_eq!(launch.round, exact_launch.round);
        let (pass, exact_pass) =
            (launch.pass.as_ref().unwrap(), exact_launch.pass.as_ref().unwrap());
        assert_eq!(pass.marks.len(), 5);
        for (mark, exact_mark) in pass.marks.iter().zip(&exact_pass.marks) {
            worst_s = worst_s.max((mark.elapsed_s - exact_mark.elapsed_s).abs());
        }
    }
    let mut between_k = 0.0_f64;
    for sample in exact.samples.iter().step_by(7) {
        // Not the gear train: heat of a shift comes at once, and a shift may be a tenth of a millisecond off.
        for node in [Node::PanFluid, Node::Case, Node::CoolerCore] {
            let got_k = outline.temperature_at_k(node, sample.time_s);
            between_k = between_k.max((got_k - sample.temperature_k[node.index()]).abs());
        }
    }
    assert_at_most("outline at ends of events, K", worst_k, 0.05);
    assert_at_most("outline between them, K", between_k, 0.05);
    assert_at_most("elapsed times of an outline's passes, s", worst_s, 1e-3);
}
