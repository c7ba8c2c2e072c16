//! The built program from outside: arguments, exit codes, streams, and the shape of what it prints.

use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::time::{Duration, Instant};

use serde_json::Value;

const NODES: [&str; 7] = [
    "converter_fluid",
    "converter_shell",
    "pan_fluid",
    "gear_train",
    "case",
    "cooler_core",
    "engine",
];
const SCENARIOS: [&str; 2] = ["saturday_bracket_day", "dyno_bench_session"];

fn scenario(name: &str) -> String {
    format!("{}/scenarios/{name}.json", env!("CARGO_MANIFEST_DIR"))
}

fn command(args: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_stallheat"));
    command.args(args);
    command
}

fn run(args: &[&str]) -> Output {
    command(args).stdin(Stdio::null()).output().unwrap()
}

/// Runs what must succeed, with nothing on stderr; returns stdout.
fn done(args: &[&str]) -> String {
    let output = run(args);
    let stderr = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(0), "{args:?}: {stderr}");
    assert_eq!(stderr, "", "{args:?}");
    String::from_utf8(output.stdout).unwrap()
}

/// Checks a failure: the code, nothing on stdout; returns stderr.
fn failed(output: Output, code: i32) -> String {
    let stderr = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(code), "{stderr}");
    assert!(output.stdout.is_empty(), "stdout on failure: {stderr}");
    assert!(!stderr.contains("panicked"), "{stderr}");
    stderr
}

/// A refusal of the input: code 1 and one line on stderr.
fn refused(output: Output) -> String {
    let stderr = failed(output, 1);
    assert!(stderr.starts_with("stallheat: ") && stderr.ends_with('\n'), "{stderr}");
    assert_eq!(stderr.lines().count(), 1, "{stderr}");
    stderr
}

/// A folder of this test's own, removed when dropped.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Folder {
        let path =
            std::env::temp_dir().join(format!("stallheat-cli-{}-{name}", std::process::id()));
        std::fs::create_dir_all(&path).unwrap();
        Folder(path)
    }

    fn file(&self, name: &str, bytes: &[u8]) -> String {
        let path = self.0.join(name);
        std::fs::write(&path, bytes).unwrap();
        path.to_str().unwrap().to_string()
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|number| number.as_f64().unwrap()).collect()
}

fn sum(values: &Value) -> f64 {
    values.as_object().unwrap().values().map(|value| value.as_f64().unwrap()).sum()
}

#[test]
fn json_has_the_promised_shape_and_its_ledger_closes() {
    for (name, launches) in SCENARIOS.iter().zip([6, 0]) {
        let day: Value =
            serde_json::from_str(&done(&["simulate", &scenario(name), "--json"])).unwrap();
        assert!(day["scenario"].is_string());
        let time_s = numbers(&day["time_s"]);
        assert!(time_s.len() > 100 && time_s.windows(2).all(|pair| pair[0] <= pair[1]));
        let temperatures = day["temperatures_c"].as_object().unwrap();
        assert_eq!(temperatures.keys().map(String::as_str).collect::<Vec<_>>(), NODES);
        for (node, column) in temperatures {
            let column = numbers(column);
            assert_eq!(column.len(), time_s.len(), "{node}");
            assert!(column.iter().all(|celsius| (-40.0..400.0).contains(celsius)), "{node}");
        }
        let mut end_s = 0.0;
        for event in day["events"].as_array().unwrap() {
            assert!(event["kind"].is_string());
            assert!(event["round"].is_u64() || event["round"].is_null());
            assert_eq!(event["start_s"].as_f64().unwrap(), end_s);
            end_s = event["end_s"].as_f64().unwrap();
        }
        assert_eq!(end_s, *time_s.last().unwrap());

        assert_eq!(day["launches"].as_array().unwrap().len(), launches, "{name}");
        for launch in day["launches"].as_array().unwrap() {
            assert!(launch["round"].is_u64());
            assert!((0.0..=end_s).contains(&launch["time_s"].as_f64().unwrap()));
            let at_launch = launch["temperatures_c"].as_object().unwrap();
            assert_eq!(at_launch.keys().map(String::as_str).collect::<Vec<_>>(), NODES);
        }

        let ledger = &day["ledger"];
        let (made_j, away_j, stored_j) =
            (sum(&ledger["made_j"]), sum(&ledger["carried_away_j"]), sum(&ledger["stored_j"]));
        assert!(made_j > 1e6, "{name}: {made_j} J");
        let closure = (made_j - away_j - stored_j).abs() / made_j;
        assert!(closure <= 1e-9, "{name}: {closure:e}");
        assert!(ledger["closure"].as_f64().unwrap() <= 1e-9);
        for caution in day["cautions"].as_array().unwrap() {
            assert!(caution["text"].as_str().unwrap().len() > 10);
        }
    }
}

#[test]
fn csv_has_units_and_one_number_in_every_cell() {
    for (units, symbol) in [("us", "F"), ("si", "C")] {
        for name in SCENARIOS {
            let csv = done(&["simulate", &scenario(name), "--csv", "--units", units]);
            let mut lines = csv.lines();
            let header: Vec<&str> = lines.next().unwrap().split(',').collect();
            assert_eq!(header[0], "time_s");
            for (column, node) in header[1..].iter().zip(NODES) {
                assert_eq!(*column, format!("{node}_{symbol}"));
            }
            let mut last_s = 0.0;
            let mut rows = 0;
            for line in lines {
                let row: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap()).collect();
                assert_eq!(row.len(), header.len());
                assert!(row.iter().all(|number| number.is_finite()));
                assert!(row[0] >= last_s, "{line}");
                last_s = row[0];
                rows += 1;
            }
            assert!(rows > 100, "{name}");
        }
    }
}

#[test]
fn the_two_unit_systems_say_the_same() {
    let file = scenario(SCENARIOS[0]);
    let column = |units: &str| -> Vec<f64> {
        let csv = done(&["simulate", &file, "--csv", "--units", units]);
        csv.lines().skip(1).map(|line| line.split(',').nth(3).unwrap().parse().unwrap()).collect()
    };
    for (fahrenheit, celsius) in column("us").iter().zip(column("si")) {
        // Both are printed to a thousandth of a degree.
        assert!((fahrenheit - (celsius * 1.8 + 32.0)).abs() < 0.002, "{fahrenheit} {celsius}");
    }
}

#[test]
fn report_is_text_in_the_reader_s_units() {
    for name in SCENARIOS {
        let us = done(&["simulate", &scenario(name)]);
        assert!(us.contains("°F") && !us.contains("NaN"), "{us}");
        assert_eq!(us, done(&["simulate", &scenario(name), "--units", "us"]));
        let si = done(&["simulate", &scenario(name), "--units", "si"]);
        // The standing advice on safety names both; the results keep to one.
        let results = si.split("Around hot oil").next().unwrap();
        assert!(results.contains("°C") && !results.contains("°F"), "{si}");
    }
}

#[test]
fn svg_is_well_formed_and_bounded() {
    let folder = Folder::new("svg");
    for name in SCENARIOS {
        for units in ["us", "si"] {
            let out = folder.0.join(format!("{name}-{units}.svg"));
            let args =
                ["simulate", &scenario(name), "--svg", out.to_str().unwrap(), "--units", units];
            done(&args);
            let text = std::fs::read_to_string(&out).unwrap();
            let drawing = roxmltree::Document::parse(&text).unwrap();
            let root = drawing.root_element();
            assert_eq!(root.tag_name().name(), "svg");
            assert!(root.attribute("viewBox").is_some());
            let lines = root.descendants().filter(|node| {
                node.has_tag_name("polyline")
                    || node.has_tag_name((root.tag_name().namespace().unwrap_or(""), "polyline"))
            });
            assert!(lines.count() >= NODES.len(), "{name}");
            assert!(!text.contains("NaN"), "{name}");
        }
    }
    for (picture, says) in [("heat", "heat by event"), ("charge", "charge in the battery")] {
        let out = folder.0.join(format!("{picture}.svg"));
        let out = out.to_str().unwrap();
        done(&["simulate", &scenario(SCENARIOS[0]), "--svg", out, "--picture", picture]);
        let text = std::fs::read_to_string(out).unwrap();
        assert!(text.contains(&format!(": {says}</title>")), "{picture}");
    }
    let nowhere = folder.0.join("no/such/folder/x.svg");
    let stderr =
        refused(run(&["simulate", &scenario(SCENARIOS[0]), "--svg", nowhere.to_str().unwrap()]));
    assert!(stderr.contains("x.svg"), "{stderr}");
}

#[test]
fn check_says_good_or_names_the_mistake() {
    for name in SCENARIOS {
        let line = done(&["check", &scenario(name)]);
        assert!(line.contains("good") && line.contains("events"), "{line}");
    }
    let folder = Folder::new("check");
    let text = std::fs::read_to_string(scenario(SCENARIOS[0])).unwrap();
    let hot = folder.file("hot.json", text.replace("88 °F", "880 °F").as_bytes());
    for subcommand in ["check", "simulate"] {
        let stderr = refused(run(&[subcommand, &hot]));
        assert!(stderr.contains("setup.air.temperature"), "{stderr}");
        assert!(stderr.contains("880 °F") && stderr.contains("131 °F"), "{stderr}");
    }
}

#[test]
fn a_day_too_hot_to_compute_is_refused_at_once() {
    let folder = Folder::new("hot");
    let file = folder.file(
        "stalled.json",
        br#"{"format": 1, "name": "stalled all night",
            "timeline": [{"event": "brake_hold", "duration": "30 h", "engine_speed": "6000 rpm"}]}"#,
    );
    let started = Instant::now();
    let stderr = refused(run(&["simulate", &file, "--json"]));
    assert!(stderr.contains("brake_hold") && stderr.contains("400 °C"), "{stderr}");
    assert!(started.elapsed() < Duration::from_secs(5), "{:?}", started.elapsed());
}

#[test]
fn schema_is_json() {
    let schema: Value = serde_json::from_str(&done(&["schema"])).unwrap();
    assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema");
    assert!(schema["properties"]["timeline"].is_object());
}

#[test]
fn a_wrong_command_line_is_code_2() {
    let file = scenario(SCENARIOS[0]);
    let cases: [&[&str]; 8] = [
        &[],
        &["simulate"],
        &["simulate", &file, "--json", "--csv"],
        &["simulate", &file, "--units", "imperial"],
        &["simulate", &file, "--fast"],
        &["simulate", &file, "another.json"],
        &["check"],
        &["simulte", &file],
    ];
    for args in cases {
        let stderr = failed(run(args), 2);
        assert!(stderr.contains("--help"), "{args:?}: {stderr}");
    }
    let help = done(&["--help"]);
    assert!(help.contains("simulate") && help.contains("schema"), "{help}");
    assert!(done(&["--version"]).contains(env!("CARGO_PKG_VERSION")));
}

#[test]
fn standard_input_is_read_as_a_dash() {
    let text = std::fs::read(scenario(SCENARIOS[1])).unwrap();
    let mut child = command(&["simulate", "-", "--csv"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(&text).unwrap();
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    let from_file = done(&["simulate", &scenario(SCENARIOS[1]), "--csv"]);
    assert_eq!(String::from_utf8(output.stdout).unwrap(), from_file);

    let stderr = refused(run(&["check", "-"]));
    assert!(stderr.contains("empty"), "{stderr}");
}

#[test]
fn a_reader_that_stops_listening_is_no_error() {
    let file = scenario(SCENARIOS[0]);
    for read_first in [true, false] {
        let mut child: Child = command(&["simulate", &file, "--json"])
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut stdout = child.stdout.take().unwrap();
        if read_first {
            let mut start = [0; 64];
            stdout.read_exact(&mut start).unwrap();
        }
        drop(stdout);
        let output = child.wait_with_output().unwrap();
        let stderr = String::from_utf8(output.stderr).unwrap();
        assert_eq!((output.status.code(), stderr.as_str()), (Some(0), ""));
    }
}

#[test]
fn files_that_are_no_scenarios_are_refused() {
    let folder = Folder::new("files");
    let latin1 = folder.file("latin1.json", b"{\"format\": 1, \"name\": \"caf\xe9\"}");
    let utf16 = folder.file("utf16.json", b"\xff\xfe{\0}\0");
    let empty = folder.file("empty.json", b"");
    let missing = folder.0.join("missing.json").to_str().unwrap().to_string();
    let directory = folder.0.to_str().unwrap().to_string();
    let newline = folder.file("two\nlines.json", b"[]");
    for (file, words) in [
        (&latin1, "not UTF-8 text, from byte 26"),
        (&utf16, "not UTF-8 text, from byte 0"),
        (&empty, "empty"),
        (&missing, "o such file"),
        (&directory, "irectory"),
        (&newline, "an object"),
    ] {
        for subcommand in ["check", "simulate"] {
            let stderr = refused(run(&[subcommand, file]));
            assert!(stderr.contains(words), "wanted {words}: {stderr}");
        }
    }
}

#[test]
fn what_is_far_too_large_is_not_read() {
    let folder = Folder::new("large");
    let large = folder.0.join("large.json");
    std::fs::File::create(&large).unwrap().set_len(50_000_000).unwrap();
    let mut files = vec![large.to_str().unwrap()];
    if Path::new("/dev/zero").exists() {
        files.push("/dev/zero");
    }
    for file in files {
        let started = Instant::now();
        let stderr = refused(run(&["check", file]));
        let took = started.elapsed();
        assert!(stderr.contains("more than 2 MB"), "{stderr}");
        assert!(took < Duration::from_secs(1), "{file}: {took:?}");
    }
}

#[cfg(unix)]
#[test]
fn a_pipe_with_a_name_is_read_like_a_file() {
    let folder = Folder::new("pipe");
    let pipe = folder.0.join("pipe");
    let made = Command::new("mkfifo").arg(&pipe).status().unwrap();
    assert!(made.success());
    let child = command(&["check", pipe.to_str().unwrap()])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    std::fs::write(&pipe, std::fs::read(scenario(SCENARIOS[0])).unwrap()).unwrap();
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert!(String::from_utf8(output.stdout).unwrap().contains("good"));
}

#[test]
fn a_drawing_does_not_overwrite_its_scenario() {
    let folder = Folder::new("over");
    let text = std::fs::read(scenario(SCENARIOS[0])).unwrap();
    let file = folder.file("day.json", &text);
    let stderr = refused(run(&["simulate", &file, "--svg", &file]));
    assert!(stderr.contains("--svg"), "{stderr}");
    assert_eq!(std::fs::read(&file).unwrap(), text);
}

#[cfg(target_os = "linux")]
#[test]
fn an_output_that_takes_nothing_is_no_crash() {
    let full = || std::fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    let program = env!("CARGO_BIN_EXE_stallheat");
    let status = std::process::Command::new(program)
        .args(["check", "no such file"])
        .stderr(full())
        .status()
        .unwrap();
    assert_eq!(status.code(), Some(1));
    let status = std::process::Command::new(program)
        .args(["simulate", &scenario(SCENARIOS[0])])
        .stdout(full())
        .stderr(full())
        .status()
        .unwrap();
    assert_eq!(status.code(), Some(1));
}

/// Tables from files take the place of what the scenario says of converter and engine, in whatever way.
#[test]
fn converter_and_torque_curve_come_from_files() {
    let folder = std::env::temp_dir().join(format!("stallheat-tables-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let file = |name: &str, text: &str| {
        let path = folder.join(name);
        std::fs::write(&path, text).unwrap();
        path.to_str().unwrap().to_string()
    };
    let converter = file("converter.csv", "SR;TR;K\n0;1,9;150\n0,5;1,5;150\n0,9;0,99;200\n");
    let engine =
        file("engine.csv", "rpm, torque (N m)\n2500, 560\n4500, 700\n6500, 620\n7200, 540\n");
    for name in ["saturday_bracket_day", "test_and_tune_evening", "dyno_bench_session"] {
        let path = scenario(name);
        let plain: Value = serde_json::from_str(&done(&["simulate", &path, "--json"])).unwrap();
        let own: Value = serde_json::from_str(&done(&[
            "simulate",
            &path,
            "--json",
            "--converter",
            &converter,
            "--torque-curve",
            &engine,
        ]))
        .unwrap();
        for (was, is) in
            plain["launches"].as_array().unwrap().iter().zip(own["launches"].as_array().unwrap())
        {
            // K of 150 instead of 225 rpm/√(lbf ft): far tighter.
            assert!(
                is["flash_rpm"].as_f64() < was["flash_rpm"].as_f64().map(|rpm| rpm - 800.0),
                "{name}"
            );
        }
    }
    let bad = file("bad.csv", "speed, nothing\n0, 1\n");
    let error = refused(run(&["simulate", &scenario("saturday_bracket_day"), "--converter", &bad]));
    assert!(error.contains("setup.converter.table") && error.contains("speed_ratio"), "{error}");
    let missing =
        refused(run(&["simulate", &scenario("saturday_bracket_day"), "--converter", "no.csv"]));
    assert!(missing.contains("no.csv"), "{missing}");
    std::fs::remove_dir_all(&folder).unwrap();
}
