//! `stallheat plan` from outside: one rest, the whole day, what is written, what is refused.

use std::path::PathBuf;
use std::process::{Command, Output};

use serde_json::Value;

fn scenario(name: &str) -> String {
    format!("{}/scenarios/{name}.json", env!("CARGO_MANIFEST_DIR"))
}

fn run(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_stallheat")).args(args).output().unwrap()
}

fn done(args: &[&str]) -> String {
    let output = run(args);
    let stderr = String::from_utf8(output.stderr).unwrap();
    assert_eq!((output.status.code(), stderr.as_str()), (Some(0), ""), "{args:?}");
    String::from_utf8(output.stdout).unwrap()
}

fn refused(args: &[&str]) -> String {
    let output = run(args);
    assert_eq!(output.status.code(), Some(1), "{args:?}");
    assert!(output.stdout.is_empty(), "{args:?}");
    String::from_utf8(output.stderr).unwrap()
}

fn file(name: &str) -> PathBuf {
    std::env::temp_dir().join(format!("stallheat-plan-{}-{name}", std::process::id()))
}

fn launches(file: &str) -> Vec<f64> {
    let day: Value = serde_json::from_str(&done(&["simulate", file, "--json"])).unwrap();
    let pan = |launch: &Value| launch["temperatures_c"]["pan_fluid"].as_f64().unwrap();
    day["launches"].as_array().unwrap().iter().map(pan).collect()
}

fn spread(values: &[f64]) -> f64 {
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    high - values.iter().copied().fold(f64::INFINITY, f64::min)
}

/// The day that is written is a good file, its launches are as much alike as was said, and the report says the same as
/// the JSON.
#[test]
fn the_planned_day_can_be_simulated() {
    let out = file("day.json");
    let (from, to) = (scenario("saturday_bracket_day"), out.display().to_string());
    let said: Value =
        serde_json::from_str(&done(&["plan", &from, "--out", &to, "--json", "--units", "si"]))
            .unwrap();
    assert!(done(&["check", &to]).contains("good"));
    let (before, planned) = (launches(&from), launches(&to));
    for (place, launch) in said["launches"].as_array().unwrap().iter().enumerate() {
        assert!((launch["before"].as_f64().unwrap() - before[place]).abs() < 0.05);
        assert!((launch["planned"].as_f64().unwrap() - planned[place]).abs() < 0.15);
    }
    assert!(spread(&planned) < 0.6 && spread(&before) > 10.0, "{planned:?} {before:?}");
    let report = done(&["plan", &from, "--units", "si"]);
    assert!(report.starts_with(said["says"].as_str().unwrap().split(',').next().unwrap()));
    assert!(report.lines().all(|line| line.chars().count() <= 100), "{report}");
    std::fs::remove_file(out).unwrap();
}

#[test]
fn one_rest_from_a_reading() {
    let from = scenario("saturday_bracket_day");
    let asked = ["plan", &from, "--after", "5", "--minutes", "8", "--pan", "195 °F", "--json"];
    let said: Value = serde_json::from_str(&done(&asked)).unwrap();
    assert_eq!(said["round"], 5);
    assert_eq!(said["launch_round"], 6);
    assert!((said["pan_now"].as_f64().unwrap() - 195.0).abs() < 1e-9);
    assert_eq!(said["free_s"], 480.0);
    assert_eq!(said["inside"], true);
    // Without a pump, without a fan, engine off: there is nothing to do, and it says how far off that is.
    let bare = [&asked[..], &["--no-pump", "--no-fan", "--no-idle"]].concat();
    let bare: Value = serde_json::from_str(&done(&bare)).unwrap();
    assert_eq!(bare["ways"].as_array().unwrap().len(), 1);
    assert_eq!(bare["inside"], false);
    assert!(bare["off"].as_f64().unwrap() > 10.0);
    assert_eq!(bare["used_ah"], 0.0);
    // The same question in the other units is the same answer.
    let si = [
        "plan",
        &from,
        "--after",
        "5",
        "--minutes",
        "8",
        "--pan",
        "90.5556 °C",
        "--json",
        "--units",
        "si",
    ];
    let si: Value = serde_json::from_str(&done(&si)).unwrap();
    let celsius = (said["pan"].as_f64().unwrap() - 32.0) / 1.8;
    assert!((si["pan"].as_f64().unwrap() - celsius).abs() < 0.01);
}

/// The day has no reading; its note and the report say so.
#[test]
fn a_day_written_for_a_reading_says_so() {
    let out = file("reading.json");
    let (from, to) = (scenario("saturday_bracket_day"), out.display().to_string());
    let said = done(&["plan", &from, "--after", "3", "--pan", "215 °F", "--out", &to]);
    assert!(said.contains("You read 215\u{a0}°F where the day computes"), "{said}");
    let day: Value = serde_json::from_str(&std::fs::read_to_string(&out).unwrap()).unwrap();
    let note = day["note"].as_str().unwrap();
    assert!(note.contains("for a pan that reads 215 °F; this day computes"), "{note}");
    assert!(note.starts_with("Invented for this program"), "{note}");
    // With --force it may be written again; a file of another kind is never drawn over.
    done(&["plan", &from, "--after", "3", "--out", &to, "--force"]);
    assert!(refused(&["simulate", &from, "--svg", &to]).contains("there is a file of this name"));
    std::fs::remove_file(out).unwrap();
}

#[test]
fn what_cannot_be_planned_is_refused_by_name() {
    let from = scenario("saturday_bracket_day");
    let cases: [(&[&str], &str); 8] = [
        (&["--after", "6"], "0, 1, 2, 3, 4, 5"),
        (&["--after", "99"], "--after"),
        (&["--after", "3", "--pan", "warm"], "--pan"),
        (&["--after", "3", "--pan", "195 psi"], "with its unit or in those of the report"),
        (&["--after", "3", "--pan", "900 °F"], "pan reading"),
        (&["--after", "3", "--minutes", "0"], "minutes until the call"),
        (&["--after", "3", "--into", "5000"], "minutes into the rest"),
        (&["--window-low", "180 °F", "--window-high", "160 °F"], "window"),
    ];
    for (more, named) in cases {
        let said = refused(&[&["plan", &from], more].concat());
        assert!(said.contains(named), "{more:?}: {said}");
    }
    let said = refused(&["plan", &scenario("dyno_bench_session")]);
    assert!(said.contains("engine_off"), "{said}");
    assert!(done(&["plan", &from, "--after", "3", "--pan", "-40 °F"]).contains("Now: pan -40 °F"));
    // No file is written over, the one that was read least of all.
    let copy = file("copy.json");
    std::fs::copy(&from, &copy).unwrap();
    let name = copy.display().to_string();
    let said = refused(&["plan", &name, "--out", &name]);
    assert!(said.contains("there is a file of this name"), "{said}");
    assert_eq!(std::fs::read(&copy).unwrap(), std::fs::read(&from).unwrap());
    std::fs::remove_file(copy).unwrap();
}
