//! Days side by side: what is told as changed, launches matched by round, figures against the trace; and
//! `stallheat compare` from outside.

use std::process::{Command, Output, Stdio};

use serde_json::{Value, json};
use stallheat::compare::{Change, Comparison, changes, compare};
use stallheat::results::down_to_window_s;
use stallheat::scenario::{self, Scenario};
use stallheat::simulate::simulate;
use stallheat::timeline::Node;
use stallheat::trace::Trace;
use stallheat::units::System;

fn saturday() -> Value {
    serde_json::from_str(include_str!("../scenarios/saturday_bracket_day.json")).unwrap()
}

fn edited(edit: impl FnOnce(&mut Value)) -> Scenario {
    let mut day = saturday();
    edit(&mut day);
    scenario::parse(&day.to_string()).unwrap()
}

fn told(a: &Scenario, b: &Scenario) -> Vec<(String, String, String)> {
    let change = |change: Change| (change.label, change.from, change.to);
    changes(a, b, System::Us).into_iter().map(change).collect()
}

/// Changes of the example day.
fn told_of(edit: impl FnOnce(&mut Value)) -> Vec<(String, String, String)> {
    told(&edited(|_| ()), &edited(edit))
}

fn line(label: &str, from: &str, to: &str) -> (String, String, String) {
    (label.to_string(), from.to_string(), to.to_string())
}

#[test]
fn what_is_only_written_otherwise_is_no_change() {
    assert_eq!(told_of(|_| ()), []);
    assert_eq!(
        told_of(|day| {
            day["name"] = json!("another name");
            day["note"] = json!("another note");
            // 88 °F and 110 W/K, and a default that is stated.
            day["setup"]["air"]["temperature"] = json!("31.1111111 °C");
            day["setup"]["cooler"]["ua"] = json!("3.4753294411 Btu/(min °F)");
            day["setup"]["transmission"]["case_emissivity"] =
                default_of("transmission.case_emissivity");
            // The last two rounds by themselves.
            let events = day["timeline"][3]["events"].clone();
            day["timeline"][3]["rounds"] = json!(["60 min", "48 min", "36 min", "1560 s"]);
            let rounds =
                json!({ "rounds": ["18 min", { "turnaround": "12 min" }], "events": events });
            day["timeline"].as_array_mut().unwrap().insert(4, rounds);
            day["timeline"][0]["name"] = json!("Another name of an event");
        }),
        []
    );
}

fn default_of(path: &str) -> Value {
    let mut rows = stallheat::scenario::parameters::PARAMETERS.iter();
    let row = rows.find(|row| row.path() == path).unwrap();
    json!(row.words(row.default_si(), System::Si, 9))
}

#[test]
fn parameters_are_told_in_the_order_of_the_table_and_the_readers_units() {
    let a = edited(|_| ());
    let b = edited(|day| {
        day["setup"]["cooler"]["ua"] = json!("220 W/K");
        day["setup"]["car"]["mass"] = json!("3100 lb");
        day["setup"]["air"]["temperature"] = json!("95 °F");
        // Another way to state the pressure.
        day["setup"]["air"].as_object_mut().unwrap().remove("pressure");
        day["setup"]["air"]["pressure"] = json!("28.6 inHg");
        day["setup"]["engine"]["torque_curve"] = json!(
            "engine_speed,torque\n3000 rpm,400 lbf ft\n5000 rpm,500 lbf ft\n7000 rpm,430 lbf ft"
        );
        for key in ["peak_power", "peak_power_speed", "peak_torque", "peak_torque_speed"] {
            day["setup"]["engine"].as_object_mut().unwrap().remove(key);
        }
        day["setup"]["gearbox"] = json!({ "ratios": [2.1, 1.4, 1.0] });
    });
    let us = told(&a, &b);
    assert_eq!(us[0], line("Air and place: Air temperature", "88 °F", "95 °F"));
    assert_eq!(us[1], line("Air and place: Air pressure", "29.6 inHg", "28.6 inHg"));
    assert!(us.contains(&line("Car: Weight with driver", "3200 lb", "3100 lb")), "{us:?}");
    assert!(us.contains(&line("Cooler and fan: Cooler size (UA)", "110 W/K", "220 W/K")), "{us:?}");
    assert!(us.contains(&line("Engine: torque curve", "no table", "own table")), "{us:?}");
    let gears = us.iter().find(|(label, _, _)| label == "Gears: ratios").unwrap();
    assert_eq!(gears.2, "2.1, 1.4, 1");
    let si = changes(&a, &b, System::Si);
    assert_eq!((si[0].from.as_str(), si[0].to.as_str()), ("31.1111 °C", "35 °C"));
    // Backwards, from and to change places.
    let back = told(&b, &a);
    assert_eq!(back.len(), us.len());
    for ((label, from, to), (label_back, from_back, to_back)) in us.iter().zip(&back) {
        assert_eq!((label, from, to), (label_back, to_back, from_back));
    }
}

#[test]
fn temperatures_at_the_start_that_follow_the_air_are_no_change_of_their_own() {
    let hot = told_of(|day| day["setup"]["air"]["temperature"] = json!("95 °F"));
    assert_eq!(hot, [line("Air and place: Air temperature", "88 °F", "95 °F")]);
    let all = told_of(|day| day["initial_temperatures"] = json!({ "all": "120 °F" }));
    assert_eq!(all, [line("Temperature at the start, all", "88 °F", "120 °F")]);
    let one = told_of(|day| day["initial_temperatures"] = json!({ "pan_fluid": "120 °F" }));
    assert_eq!(one, [line("Temperature at the start, pan fluid", "88 °F", "120 °F")]);
}

#[test]
fn events_are_told_by_round() {
    let found = told_of(|day| {
        let rounds = &mut day["timeline"][3];
        rounds["rounds"][1] = json!("50 min");
        rounds["rounds"][3] =
            json!({ "turnaround": "26 min", "change": { "brake_hold": { "duration": "5 s" } } });
        rounds["rounds"][4] =
            json!({ "turnaround": "18 min", "change": { "brake_hold": { "duration": "5 s" } } });
        rounds["events"][1]["engine_speed"] = json!("6000 rpm");
        rounds["events"][7]["fan"] = json!([
            { "duration": "5 min" },
            { "start": "6 min", "until": { "node": "pan_fluid", "at_or_below": "130 °F" } }
        ]);
    });
    assert_eq!(
        found,
        [
            line("Every round: Burnout: engine speed", "5600 rpm", "6000 rpm"),
            line(
                "Every round: Pits: fan",
                "on for 10 min",
                "on for 5 min, then on from 6 min until pan fluid is at or below 130 °F"
            ),
            line("Round 2: Turnaround", "48 min", "50 min"),
            line("Rounds 4, 5: Held on the brake: lasts", "2.5 s", "5 s"),
        ]
    );
}

#[test]
fn events_and_rounds_come_and_go() {
    let found = told_of(|day| {
        let timeline = day["timeline"].as_array_mut().unwrap();
        // A tow in place of nothing, between brake and pass: neighbours are still known as the same.
        let events = timeline[3]["events"].as_array_mut().unwrap();
        events.insert(5, json!({ "event": "idle", "name": "Wait", "duration": "30 s" }));
        events.remove(2);
        events.remove(1);
        timeline[3]["rounds"].as_array_mut().unwrap().push(json!("15 min"));
        timeline[4]["duration"] = json!("45 min");
        timeline.remove(2);
    });
    assert_eq!(
        found,
        [
            line("Event taken out", "Wait for the call, 24 min", "none"),
            line("Every round: Event taken out", "Burnout, 4 s", "none"),
            line("Every round: Event taken out", "Stage, in gear, 25 s", "none"),
            line("Every round: Event added", "none", "Wait, 30 s"),
            line("Round 7", "none", "15 min with 7 events"),
            line("After the rounds: Load up: lasts", "60 min", "45 min"),
        ]
    );
}

#[test]
fn a_computed_pass_that_becomes_a_logged_one_says_so() {
    let found = told_of(|day| {
        day["timeline"][3]["events"][4] =
            json!({ "event": "pass", "duration": "10 s", "input_power": "490 hp", "slip": 0.17 });
    });
    assert!(found.contains(&line("Every round: Pass: lasts", "over the 1/4 mile", "10 s")));
    let power = line("Every round: Pass: power and slip", "computed from the car", "from a log");
    assert!(found.contains(&power), "{found:?}");
    let slip = line("Every round: Pass: converter slip", "not stated", "0.17");
    assert!(found.contains(&slip), "{found:?}");
    // A load that follows the set-up's idle speed is told once, with the set-up.
    let idle = told_of(|day| day["setup"]["engine"]["idle_speed"] = json!("1000 rpm"));
    assert_eq!(idle, [line("Engine: Idle speed", "1100 rpm", "1000 rpm")]);
}

fn compared(days: &[&Scenario]) -> (Comparison, Vec<Trace>) {
    let traces: Vec<Trace> = days.iter().map(|day| simulate(day).unwrap()).collect();
    let pairs: Vec<_> = days.iter().copied().zip(&traces).collect();
    (compare(&pairs, System::Us), traces)
}

#[test]
fn a_day_against_itself_differs_in_nothing() {
    let day = edited(|_| ());
    let (comparison, _) = compared(&[&day, &day, &day]);
    assert_eq!(comparison.days.iter().map(|day| day.letter).collect::<String>(), "ABC");
    assert!(comparison.days.iter().all(|day| day.changes.is_empty()));
    let of_launches = comparison.launches.iter().flat_map(|launch| &launch.figures);
    let mut compared = 0;
    for figure in of_launches.chain(&comparison.figures) {
        assert_eq!(figure.values[0], figure.values[2], "{}", figure.key);
        assert_eq!(figure.differences[0], None);
        if figure.values[0].is_some() {
            assert_eq!(figure.differences[1..], [Some(0.0), Some(0.0)], "{}", figure.key);
            compared += 1;
        }
    }
    assert!(compared > 35, "{compared}");
}

#[test]
fn launches_are_matched_by_round_and_figures_are_those_of_the_traces() {
    let a = edited(|day| {
        // Two launches outside rounds, and a round with two.
        let timeline = day["timeline"].as_array_mut().unwrap();
        timeline.insert(2, json!({ "event": "pass" }));
        let mut pass = timeline[4]["events"][4].clone();
        pass["start"] = json!("15 min");
        timeline[4]["events"].as_array_mut().unwrap().insert(5, pass);
        timeline[4]["rounds"] = json!(["60 min", "60 min"]);
    });
    let b = edited(|_| ());
    let (comparison, traces) = compared(&[&a, &b]);
    let numbers: Vec<_> = comparison.launches.iter().map(|one| (one.round, one.place)).collect();
    let round = |round, place| (Some(round), place);
    let outside = (None, 1);
    assert_eq!(
        numbers,
        [
            outside,
            round(1, 1),
            round(1, 2),
            round(2, 1),
            round(2, 2),
            round(3, 1),
            round(4, 1),
            round(5, 1),
            round(6, 1)
        ]
    );
    // By hand from the traces: place of the launch in A and in B.
    let fahrenheit = |kelvin: f64| (kelvin - 273.15) * 1.8 + 32.0;
    for (row, in_a, in_b) in
        [(1, Some(1), Some(0)), (3, Some(3), Some(1)), (4, Some(4), None), (8, None, Some(5))]
    {
        let figures = &comparison.launches[row].figures;
        let keys: Vec<&str> = figures.iter().map(|figure| figure.key).collect();
        assert_eq!(keys, ["converter", "pan", "flash", "elapsed", "window"]);
        for (day, place) in [in_a, in_b].into_iter().enumerate() {
            let Some(place): Option<usize> = place else {
                assert!(figures.iter().all(|figure| figure.values[day].is_none()));
                continue;
            };
            let launch = &traces[day].launches[place];
            let pan = fahrenheit(launch.temperature_k[Node::PanFluid.index()]);
            assert!((figures[1].values[day].unwrap() - pan).abs() < 1e-9);
            let elapsed_s = launch.pass.as_ref().unwrap().marks.last().unwrap().elapsed_s;
            assert_eq!(figures[3].values[day], Some(elapsed_s));
        }
        let [a, b] = [figures[1].values[0], figures[1].values[1]];
        assert_eq!(figures[1].differences[1], a.zip(b).map(|(a, b)| b - a));
    }
    let figure = |key: &str| comparison.figures.iter().find(|figure| figure.key == key).unwrap();
    for (day, trace) in traces.iter().enumerate() {
        let btu = |joule: f64| joule / 1055.05585262;
        assert!((figure("made").values[day].unwrap() - btu(trace.ledger.made_j())).abs() < 1e-6);
        let peak = fahrenheit(trace.peak(Node::ConverterFluid).0);
        assert!((figure("peak_converter").values[day].unwrap() - peak).abs() < 1e-9);
        let sources: f64 = stallheat::transmission::Path::SOURCES
            .iter()
            .map(|path| figure(path.key()).values[day].unwrap())
            .sum();
        assert!((sources - figure("made").values[day].unwrap()).abs() < 1e-6);
    }
}

/// Checked against the course of the pan itself: at the time told it is at the top of the window, and from then to the
/// next launch nowhere above.
#[test]
fn minutes_to_the_window_are_those_of_the_course() {
    let day = edited(|day| {
        day["setup"]["limits"] = json!({ "window_low": "130 °F", "window_high": "150 °F" })
    });
    let trace = simulate(&day).unwrap();
    let top_k = day.setup.limits.window_high_k;
    let mut waited = 0;
    for (place, launch) in trace.launches.iter().enumerate() {
        let finish_s = trace.events[launch.event].end_s;
        let next_s = trace.launches.get(place + 1).map_or(trace.duration_s(), |next| next.time_s);
        let above = |from_s: f64| {
            let samples =
                trace.samples.iter().filter(|one| (from_s..=next_s).contains(&one.time_s));
            samples.filter(|one| one.temperature_k[Node::PanFluid.index()] > top_k + 1e-9).count()
        };
        match down_to_window_s(&day, &trace, place) {
            None => {
                let at_next_k = trace.temperature_at_k(Node::PanFluid, next_s);
                assert!(at_next_k > top_k, "launch {place}: {at_next_k} K is inside");
            }
            Some(0.0) => assert_eq!(above(finish_s), 0),
            Some(wait_s) => {
                let there_k = trace.temperature_at_k(Node::PanFluid, finish_s + wait_s);
                assert!((there_k - top_k).abs() < 1e-6, "{there_k} K");
                assert!(above(finish_s) > 0);
                assert_eq!(above(finish_s + wait_s), 0);
                waited += 1;
            }
        }
    }
    assert!(waited >= 2, "{waited}");
    assert!(down_to_window_s(&day, &trace, trace.launches.len()).is_none());
}

fn run(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_stallheat"))
        .arg("compare")
        .args(args)
        .stdin(Stdio::null())
        .output()
        .unwrap()
}

/// A folder of this test's own, removed when dropped.
struct Folder(std::path::PathBuf);

impl Folder {
    fn new(name: &str) -> Folder {
        let path =
            std::env::temp_dir().join(format!("stallheat-compare-{}-{name}", std::process::id()));
        std::fs::create_dir_all(&path).unwrap();
        Folder(path)
    }

    fn file(&self, name: &str, text: &str) -> String {
        let path = self.0.join(name);
        std::fs::write(&path, text).unwrap();
        path.to_str().unwrap().to_string()
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn example(name: &str) -> String {
    format!("{}/scenarios/{name}.json", env!("CARGO_MANIFEST_DIR"))
}

#[test]
fn the_report_is_aligned_and_fits_100_columns() {
    let folder = Folder::new("report");
    let mut day = saturday();
    day["setup"]["cooler"]["ua"] = json!("220 W/K");
    day["timeline"][3]["events"][7]["circulation"] = json!([
        { "route": "pan_loop", "duration": "5 min" },
        { "route": "through_converter", "start": "6 min", "until": { "node": "pan_fluid", "at_or_below": "120 °F" } }
    ]);
    let b = folder.file("b.json", &day.to_string());
    let (a, bench) = (example("saturday_bracket_day"), example("dyno_bench_session"));
    for (units, symbol, other) in [("us", "°F", "°C)"), ("si", "°C", "°F")] {
        let output = run(&[&a, &b, &bench, &a, "--units", units]);
        let stderr = String::from_utf8(output.stderr).unwrap();
        assert_eq!((output.status.code(), stderr.as_str()), (Some(0), ""));
        let text = String::from_utf8(output.stdout).unwrap();
        for line in text.lines() {
            assert!(line.chars().count() <= 100, "{line}");
        }
        assert!(text.contains(symbol) && !text.contains(other) && !text.contains("NaN"), "{text}");
        assert!(
            text.contains("B against A: 2 changes") && text.contains("D states the same as A.")
        );
        assert!(text.contains("110 W/K → 220 W/K"), "{text}");
        // Columns of one table end at the same places.
        let table: Vec<&str> =
            text.split("Launches: Pan fluid").nth(1).unwrap().lines().skip(1).take(7).collect();
        let widths: Vec<usize> = table.iter().map(|line| line.chars().count()).collect();
        assert!(widths.iter().all(|width| *width == widths[0]), "{table:?}");
    }
    let same = run(&[&a, &a, "--json"]);
    let told: Value = serde_json::from_slice(&same.stdout).unwrap();
    let (day, trace) = (edited(|_| ()), simulate(&edited(|_| ())).unwrap());
    let pair = (&day, &trace);
    assert_eq!(
        told,
        serde_json::from_str::<Value>(&json!(compare(&[pair, pair], System::Us)).to_string())
            .unwrap()
    );
}

#[test]
fn a_file_at_fault_is_named_and_a_wrong_command_line_is_code_2() {
    let folder = Folder::new("fault");
    let a = example("saturday_bracket_day");
    let text = saturday().to_string().replace("88 °F", "880 °F");
    let bad = folder.file("bad.json", &text);
    let refused = run(&[&a, &bad]);
    assert_eq!(refused.status.code(), Some(1));
    assert!(refused.stdout.is_empty());
    let stderr = String::from_utf8(refused.stderr).unwrap();
    assert!(stderr.contains("bad.json: setup.air.temperature"), "{stderr}");
    let missing = run(&[&a, "no such file.json"]);
    let stderr = String::from_utf8(missing.stderr).unwrap();
    assert_eq!(stderr.matches("no such file.json").count(), 1, "{stderr}");
    let twice = run(&["-", "-"]);
    assert_eq!(twice.status.code(), Some(1));
    let a = a.as_str();
    for args in [&[][..], &[a], &[a, a, a, a, a], &[a, a, "--csv"]] {
        assert_eq!(run(args).status.code(), Some(2), "{args:?}");
    }
}
