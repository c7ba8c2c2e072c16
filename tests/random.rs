//! Random set-ups and random days: whatever the gate accepts is computed, or refused with a named error; what it does not
//! accept it refuses by name.
//!
//! Every parameter is drawn over its whole range, so that corners meet which no car has. Checked of every computed day:
//! temperatures finite and bounded below by the coldest thing there is, heat accounts that close, events that join, and a
//! bounded effort.
//!
//! `STALLHEAT_CASES=20000 cargo test --release --test random -- --nocapture any_` looks further, and says what it met.

#[path = "common/doors.rs"]
mod doors;
#[path = "common/drawn.rs"]
mod drawn;

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::time::{Duration, Instant};

use drawn::{scenario_text, setup};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use serde_json::Value;
use stallheat::error::{Error, ErrorKind};
use stallheat::results::{first_third_share, heat_by_second, turnarounds};
use stallheat::scenario::parameters::PARAMETERS;
use stallheat::scenario::{self, Scenario};
use stallheat::simulate::{MAX_TEMPERATURE_K, TOLERANCE, simulate};
use stallheat::timeline::{Node, Route};
use stallheat::trace::{Ledger, Trace};
use stallheat::transmission::Path;

/// The coldest thing there is in a scenario (K): nothing can fall below it.
fn coldest_k(scenario: &Scenario) -> f64 {
    let setup = &scenario.setup;
    scenario
        .initial_temperature_k
        .iter()
        .copied()
        .fold(setup.air.temperature_k.min(setup.engine.thermostat_k), f64::min)
}

fn check_trace(scenario: &Scenario, trace: &Trace) {
    let floor_k = coldest_k(scenario) - 0.1;
    for pair in trace.samples.windows(2) {
        assert!(pair[1].time_s >= pair[0].time_s, "time runs back at {} s", pair[0].time_s);
    }
    for sample in &trace.samples {
        for node in Node::ALL {
            let temperature_k = sample.temperature_k[node.index()];
            assert!(
                temperature_k >= floor_k && temperature_k < MAX_TEMPERATURE_K + 1.0,
                "{} at {temperature_k} K after {} s",
                node.key(),
                sample.time_s
            );
        }
        assert!(sample.path_j.iter().chain(&sample.stored_j).all(|heat_j| heat_j.is_finite()));
        assert!(sample.charge_a_s.is_finite());
    }
    let mut end_s = 0.0;
    let mut last_sample = 0;
    for event in &trace.events {
        assert_eq!(event.start_s, end_s, "{} does not join", event.kind.key());
        assert_eq!(event.samples.0, last_sample, "{}: samples do not join", event.kind.key());
        (end_s, last_sample) = (event.end_s, event.samples.1);
        assert_eq!(trace.samples[last_sample].time_s, end_s);
    }
    assert_eq!(end_s, trace.duration_s());
    assert_eq!(last_sample, trace.samples.len() - 1);

    assert!(trace.ledger.closure() <= 1e-9, "closure {:e}", trace.ledger.closure());
    let scale_j = trace.ledger.made_j().abs().max(trace.ledger.away_j().abs()).max(1e3);
    let events: Vec<Ledger> = trace.events.iter().map(|event| trace.event_ledger(event)).collect();
    for path in Path::SOURCES.into_iter().chain(Path::SINKS).chain(Path::INSIDE) {
        let sum_j: f64 = events.iter().map(|ledger| ledger.path_j(path)).sum();
        let day_j = trace.ledger.path_j(path);
        assert!((sum_j - day_j).abs() <= 1e-9 * scale_j.max(day_j.abs()), "{sum_j} {day_j} J");
    }
    for event in &trace.events {
        let hydraulics = event.hydraulics;
        let (line_pa, charge_pa) = (hydraulics.line_pressure_pa, hydraulics.charge_pressure_pa);
        // The charge comes out of the line, over a drop.
        assert!(line_pa.is_finite() && charge_pa >= 0.0 && charge_pa <= line_pa, "{hydraulics:?}");
        assert!(hydraulics.front_pump_m3_per_s >= 0.0 && hydraulics.circulation_m3_per_s >= 0.0);
        assert!(hydraulics.circulation_a >= 0.0, "{hydraulics:?}");
        let Some(pass) = &event.pass else { continue };
        let made_j: f64 = heat_by_second(trace, event).iter().map(|second| second.total_j()).sum();
        let ledger = trace.event_ledger(event);
        let paths = [Path::ConverterShear, Path::GearTrain, Path::FrontPump];
        let booked_j: f64 = paths.iter().map(|path| ledger.path_j(*path)).sum();
        assert!((made_j - booked_j).abs() <= 1e-9 * scale_j.max(booked_j), "{made_j} {booked_j} J");
        assert!((0.0..=1.0).contains(&first_third_share(trace, event)));
        let energy = pass.energy;
        let spent_j = energy.converter_j
            + energy.front_pump_j
            + energy.gearbox_j
            + energy.axle_j
            + energy.tyre_j
            + energy.drag_j
            + energy.rolling_j
            + energy.kinetic_j;
        let off = spent_j / energy.engine_j - 1.0;
        assert!(off.abs() < 1e-3, "{off:e} of {energy:?}");
        // Marks come in order, and no second of the clock goes back.
        for pair in pass.marks.windows(2) {
            assert!(pair[1].elapsed_s > pair[0].elapsed_s, "{:?}", pass.marks);
        }
    }
    for round in turnarounds(scenario, trace) {
        assert!(round.used_a_s >= 0.0 && round.life_share >= 0.0, "{round:?}");
        let length_s = round.end_s - round.start_s + 1e-6;
        assert!(round.pump_s <= length_s && round.fan_s <= length_s, "{round:?}");
    }
    for node in Node::ALL {
        let sum_j: f64 = events.iter().map(|ledger| ledger.node_j(node)).sum();
        let day_j = trace.ledger.node_j(node);
        assert!((sum_j - day_j).abs() <= 1e-9 * scale_j.max(day_j.abs()), "{sum_j} {day_j} J");
    }
}

/// Longest computation of one day, in a test build on a busy machine; about a second in a release build.
const LONGEST: Duration = Duration::from_secs(30);
/// Most samples that one day may leave: what a page can hold and draw.
const MOST_SAMPLES: usize = 400_000;
/// Most times that the derivative is evaluated for one day: seven a step of a budget of 80 000, and what the last piece and
/// the passes take beside it.
const MOST_EVALUATIONS: u64 = 1_000_000;

/// Tries days drawn by a strategy: as many as STALLHEAT_CASES says, else some hundred, from a fixed seed, so that the normal
/// run is the same everywhere and more cases go further along it. `refusable` says which refusals are in order.
fn try_days(days: impl Strategy<Value = String>, refusable: fn(&Error) -> bool) -> Seen {
    let cases = std::env::var("STALLHEAT_CASES").ok().and_then(|n| n.parse().ok()).unwrap_or(300);
    let config = Config { cases, failure_persistence: None, ..Config::default() };
    let random = TestRng::from_seed(RngAlgorithm::ChaCha, &[7; 32]);
    let mut runner = TestRunner::new_with_rng(config, random);
    let seen = RefCell::new(Seen::default());
    let result = runner.run(&days, |text| {
        let mut seen = seen.borrow_mut();
        let started = Instant::now();
        let parsed = scenario::parse(&text);
        let outcome = parsed.as_ref().map_err(Error::clone).and_then(simulate);
        let took = started.elapsed();
        let said = match &outcome {
            Ok(trace) => format!("{} evaluations", trace.evaluations),
            Err(error) => error.to_string(),
        };
        if took > seen.longest {
            (seen.longest, seen.slowest) = (took, format!("{said}\n{text}"));
        }
        prop_assert!(took < LONGEST, "{took:?} for one day");
        match (parsed, outcome) {
            (Ok(scenario), Ok(trace)) => {
                seen.computed += 1;
                check_trace(&scenario, &trace);
                let (samples, evaluations) = (trace.samples.len(), trace.evaluations);
                prop_assert!(samples <= MOST_SAMPLES, "{samples} samples");
                prop_assert!(evaluations <= MOST_EVALUATIONS, "{evaluations} evaluations");
                seen.closure = seen.closure.max(trace.ledger.closure());
                seen.samples = seen.samples.max(samples);
                seen.evaluations = seen.evaluations.max(evaluations);
            }
            (_, Err(error)) => {
                doors::named(&error);
                prop_assert!(refusable(&error), "{error}");
                *seen.refused.entry(error.kind.name()).or_default() += 1;
            }
            (Err(_), Ok(_)) => unreachable!(),
        }
        Ok(())
    });
    let seen = seen.into_inner();
    println!(
        "{cases} days: {} computed, refused {:?}; largest closure {:.1e}, most samples {}, most evaluations {}",
        seen.computed, seen.refused, seen.closure, seen.samples, seen.evaluations
    );
    println!("slowest {:?}: {}", seen.longest, seen.slowest);
    if let Err(error) = result {
        panic!("{error}");
    }
    let met: u32 = seen.refused.values().sum::<u32>() + seen.computed;
    assert_eq!(met, cases);
    seen
}

/// What a run has met.
#[derive(Default)]
struct Seen {
    computed: u32,
    refused: BTreeMap<&'static str, u32>,
    longest: Duration,
    slowest: String,
    closure: f64,
    samples: usize,
    evaluations: u64,
}

#[test]
fn any_accepted_day_is_computed_or_refused_by_name() {
    let seen = try_days(scenario_text(), |error| {
        // A pass whose shift speed lies below its flash speed, or whose converter does not hold the engine below its rev
        // limit, are the two contradictions that only the day knows.
        let shift = error.kind == ErrorKind::Contradiction
            && error.field.starts_with("pass")
            && (error.value.starts_with("a shift speed")
                || error.limit.contains("reaches its rev limit"));
        // A temperature that is there at once can leave a day no time.
        let empty = error.kind == ErrorKind::OutOfRange && error.field == "timeline";
        matches!(error.kind, ErrorKind::Unphysical | ErrorKind::Solver) || shift || empty
    });
    let cases = seen.refused.values().sum::<u32>() + seen.computed;
    assert!(seen.computed > cases / 3, "only {} of {cases} days computed", seen.computed);
}

/// What stands where something else belongs.
fn strange() -> impl Strategy<Value = Value> {
    let texts = [
        "null",
        "true",
        "[]",
        "{}",
        "-1",
        "0",
        "1e308",
        "1e-320",
        "\"\"",
        "\"NaN\"",
        "\"1e308 K\"",
        "\"-1 s\"",
        "\"1e9 s\"",
        "\"-500 °C\"",
        "\"5 bananas\"",
        "\"∞ rpm\"",
        "\"rest\"",
        "[[[[1]]]]",
        "\"0 s\"",
        "\"\\u0000\"",
        "\"1,5,3 W/K\"",
    ];
    prop_oneof![
        6 => prop::sample::select(texts.to_vec()).prop_map(|text| serde_json::from_str(text).unwrap()),
        1 => any::<String>().prop_map(Value::String),
        1 => any::<f64>().prop_map(|number| serde_json::json!(number)),
        1 => Just(Value::String("9".repeat(3_000))),
    ]
}

/// One thing done to a JSON text's values: which of them, what is done, with what.
type Absurdity = (prop::sample::Index, u8, Value);

/// Every value below one, itself included, as a pointer.
fn places(value: &Value, at: String, all: &mut Vec<String>) {
    match value {
        Value::Object(map) => {
            for (key, one) in map {
                places(one, format!("{at}/{}", key.replace('~', "~0").replace('/', "~1")), all);
            }
        }
        Value::Array(list) => {
            for (index, one) in list.iter().enumerate() {
                places(one, format!("{at}/{index}"), all);
            }
        }
        _ => {}
    }
    all.push(at);
}

/// Puts something absurd into a day.
fn made_absurd(day: &mut Value, (which, what, strange): Absurdity) {
    let mut all = Vec::new();
    places(day, String::new(), &mut all);
    let Some(value) = day.pointer_mut(which.get::<String>(&all)) else { return };
    match (what % 7, value) {
        // Another number with the unit as it was: a little off, far off, below nothing.
        (0..=2, Value::String(text)) => {
            let factor = [1.3, 0.7, 3.0, 1e3, 1e-3, -1.0][usize::from(what / 7) % 6];
            let (number, unit) = text.split_once(' ').unwrap_or((text, ""));
            let Ok(number) = number.parse::<f64>() else { return };
            *text = format!("{} {unit}", number * factor);
        }
        // No unit, or another's.
        (3, Value::String(text)) => text.push('s'),
        (4, Value::Object(map)) => {
            map.insert("nonsense".into(), strange);
        }
        (5, Value::Object(map)) => {
            let key =
                which.get(&map.keys().cloned().chain([String::new()]).collect::<Vec<_>>()).clone();
            map.remove(&key);
        }
        (6, Value::Array(list)) => {
            if let Some(first) = list.first().cloned() {
                list.extend(vec![first; 40]);
            }
        }
        (_, value) => *value = strange,
    }
}

#[test]
fn any_absurd_day_is_computed_or_refused_by_name() {
    let absurd = (
        scenario_text(),
        prop::collection::vec((any::<prop::sample::Index>(), any::<u8>(), strange()), 1..3),
    )
        .prop_map(|(text, changes)| {
            let mut day: Value = serde_json::from_str(&text).unwrap();
            changes.into_iter().for_each(|change| made_absurd(&mut day, change));
            day.to_string()
        });
    let seen = try_days(absurd, |_| true);
    assert!(seen.refused.len() > 5, "{:?}", seen.refused);
}

/// The set-up whose fastest time constant is shortest: smallest masses, largest conductances and flows.
fn stiffest_setup() -> serde_json::Value {
    let mut setup = serde_json::json!({});
    for parameter in PARAMETERS {
        let small = matches!(
            parameter.path().as_str(),
            "converter.fluid_volume"
                | "converter.shell_mass"
                | "transmission.pan_volume"
                | "cooler.metal_mass"
                | "cooler.fluid_volume"
                | "cooler.rated_air_flow"
                | "cooler.rated_oil_flow"
                | "front_pump.displacement"
                | "front_pump.line_pressure"
                | "converter.k_reference"
                | "transmission.drag_torque"
                | "air.temperature"
        );
        if matches!(parameter.part, "limits" | "fluid" | "battery" | "engine") {
            continue;
        }
        let unit = parameter.display_unit();
        let value = match parameter.path().as_str() {
            // As deep a core as its rated air flow, here the smallest, allows.
            "cooler.ua" => 350.0,
            _ => unit.from_si(if small { parameter.min_si() } else { parameter.max_si() }),
        };
        setup[parameter.part][parameter.key] = match unit.symbol {
            "" => serde_json::json!(value),
            symbol => serde_json::json!(format!("{value} {symbol}")),
        };
    }
    setup
}

fn within_a_bounded_time(name: &str, scenario: &serde_json::Value) {
    let scenario = scenario::parse(&scenario.to_string()).unwrap_or_else(|e| panic!("{name}: {e}"));
    let started = Instant::now();
    let outcome = simulate(&scenario);
    let took = started.elapsed();
    let said = match &outcome {
        Ok(trace) => format!("{} evaluations, {} samples", trace.evaluations, trace.samples.len()),
        Err(error) => error.to_string(),
    };
    println!("{name}: {took:?}, {said}");
    assert!(took < LONGEST, "{name}: {took:?}");
    match outcome {
        Ok(trace) => {
            check_trace(&scenario, &trace);
            assert!(trace.samples.len() <= MOST_SAMPLES, "{name}");
        }
        Err(error) => {
            assert!(matches!(error.kind, ErrorKind::Unphysical | ErrorKind::Solver), "{error}");
        }
    }
}

#[test]
fn the_stiffest_day_of_the_longest_kind_is_bounded() {
    for event in [
        serde_json::json!({"event": "tow", "duration": "36 h", "road_speed": "600 km/h",
            "circulation": "through_converter", "fan": "on"}),
        serde_json::json!({"event": "idle", "duration": "36 h", "engine_speed": "12000 rpm",
            "circulation": "cooler_first", "fan": "on"}),
        serde_json::json!({"event": "engine_off", "duration": "36 h", "circulation": "pan_loop"}),
    ] {
        let day = serde_json::json!({"format": 1, "name": "stiff", "setup": stiffest_setup(),
            "initial_temperatures": {"converter_fluid": "150 °C"}, "timeline": [event]});
        within_a_bounded_time(day["timeline"][0]["event"].as_str().unwrap(), &day);
    }
}

#[test]
fn the_most_events_with_the_most_switchings_are_bounded() {
    let on = |i: usize| format!("{}", 2 * i);
    let circulation: Vec<_> = (0..16)
        .map(|i| serde_json::json!({"route": Route::ALL[i % 3].key(), "start": format!("{} s", on(i)), "duration": "1 s"}))
        .collect();
    let fan: Vec<_> = (0..16)
        .map(|i| serde_json::json!({"start": format!("{}.3 s", on(i)), "duration": "1 s"}))
        .collect();
    let event = |i: usize| {
        serde_json::json!({"event": "tow", "duration": "60 s", "road_speed": format!("{} km/h", 10.0 + 0.1 * i as f64),
            "circulation": circulation, "fan": fan})
    };
    // Switchings in every event of a short day, and a full day of events without them.
    let few: Vec<_> = (0..200).map(event).collect();
    within_a_bounded_time(
        "switchings",
        &serde_json::json!({"format": 1, "name": "many", "timeline": few}),
    );
    let rounds = serde_json::json!({"rounds": vec!["129 s"; 666], "events": [
        {"event": "idle", "duration": "20 s"},
        {"event": "pass", "duration": "1 s"},
        {"event": "engine_off", "duration": "rest", "fan": "on"},
    ]});
    within_a_bounded_time(
        "rounds",
        &serde_json::json!({"format": 1, "name": "many", "timeline": [rounds]}),
    );
}

/// With everything off, the hottest node never gets hotter and the coldest never colder, whatever the set-up,
/// and everything draws nearer to the air. "Never" up to the solver: a core of 420 J/K in a wind follows the air so
/// closely that an explicit method at its limit of stability rings about it by the local error that it is allowed,
/// absolute plus a share of the rise since the start. (Measured over 3 000 set-ups: 2.9 times that, which is 0.02 K, at most;
/// none at a tolerance of 1e-10.)
#[test]
fn with_everything_off_all_draws_nearer_to_the_air() {
    let mut runner = TestRunner::new_with_rng(
        Config { cases: 60, failure_persistence: None, ..Config::default() },
        TestRng::deterministic_rng(RngAlgorithm::ChaCha),
    );
    let temperatures = prop::collection::vec(-30.0..200.0f64, Node::ALL.len());
    runner
        .run(&(setup(), temperatures), |(setup, celsius)| {
            let initial: Vec<String> = Node::ALL
                .iter()
                .zip(&celsius)
                .map(|(node, celsius)| format!("\"{}\": \"{celsius} °C\"", node.key()))
                .collect();
            let text = format!(
                "{{\"format\": 1, \"name\": \"soak\", \"setup\": {setup}, \"initial_temperatures\": {{{}}}, \
                 \"timeline\": [{{\"event\": \"engine_off\", \"duration\": \"35 h\"}}]}}",
                initial.join(", ")
            );
            let scenario = scenario::parse(&text).map_err(|e| TestCaseError::fail(e.to_string()))?;
            let trace = match simulate(&scenario) {
                Ok(trace) => trace,
                Err(error) => {
                    prop_assert!(error.kind == ErrorKind::Solver, "{error}");
                    return Ok(());
                }
            };
            let air_k = scenario.setup.air.temperature_k;
            let extremes = |sample: &stallheat::trace::Sample| {
                let all = sample.temperature_k.iter().copied().chain([air_k]);
                all.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), t| (low.min(t), high.max(t)))
            };
            let (coldest_k, hottest_k) = extremes(&trace.samples[0]);
            let local_k = TOLERANCE.absolute + TOLERANCE.relative * (hottest_k - coldest_k);
            for pair in trace.samples.windows(2) {
                let ((low_a, high_a), (low_b, high_b)) = (extremes(&pair[0]), extremes(&pair[1]));
                prop_assert!(high_b <= high_a + 4.0 * local_k, "hotter at {} s", pair[1].time_s);
                prop_assert!(low_b >= low_a - 4.0 * local_k, "colder at {} s", pair[1].time_s);
            }
            let (first, last) = (&trace.samples[0], &trace.samples[trace.samples.len() - 1]);
            let spread = |sample| {
                let (low, high) = extremes(sample);
                high - low
            };
            prop_assert!(spread(last) <= 0.9 * spread(first) + 1e-3);
            Ok(())
        })
        .unwrap_or_else(|error| panic!("{error}"));
}
