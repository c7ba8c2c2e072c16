//! `stallheat sweep` from outside: order, memory, bad lines, patches, closed pipes.

use std::io::{BufRead, BufReader, Read, Write};
use std::process::{Child, Command, Output, Stdio};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, channel};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use serde_json::{Value, json};

/// Longest wait for what must come: a loaded machine may be slow, a hanging program never comes.
const PATIENCE: Duration = Duration::from_secs(60);

fn spawn(args: &[&str]) -> Child {
    Command::new(env!("CARGO_BIN_EXE_stallheat"))
        .arg("sweep")
        .args(args)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap()
}

/// Runs a sweep over the input, which is fed while the output is read.
fn sweep(args: &[&str], input: impl Into<Vec<u8>>) -> Output {
    let mut child = spawn(args);
    let (mut stdin, input) = (child.stdin.take().unwrap(), input.into());
    let feeder = std::thread::spawn(move || {
        // A program that refuses its command line does not read.
        let _ = stdin.write_all(&input);
    });
    let output = child.wait_with_output().unwrap();
    feeder.join().unwrap();
    output
}

fn lines(output: &Output) -> Vec<Value> {
    let text = std::str::from_utf8(&output.stdout).unwrap();
    assert!(text.is_empty() || text.ends_with('\n'));
    text.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

/// All good: code 0 and nothing on stderr.
fn good(args: &[&str], input: impl Into<Vec<u8>>) -> Vec<Value> {
    let output = sweep(args, input);
    let stderr = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!((output.status.code(), stderr.as_str()), (Some(0), ""));
    lines(&output)
}

fn scenario_file(name: &str) -> String {
    format!("{}/scenarios/{name}.json", env!("CARGO_MANIFEST_DIR"))
}

/// The example day in one line.
fn saturday() -> Value {
    let text = std::fs::read_to_string(scenario_file("saturday_bracket_day")).unwrap();
    serde_json::from_str(&text).unwrap()
}

/// A day that takes almost no time to compute.
fn quick(name: &str) -> Value {
    json!({
        "format": 1,
        "name": name,
        "timeline": [{ "event": "engine_off", "duration": "10 min" }],
    })
}

#[test]
fn order_is_kept_with_slow_and_fast_lines_mixed() {
    let mut input = String::new();
    let mut names = Vec::new();
    for number in 1..=300 {
        // A long day about every seventh line, among days of ten minutes and lines that are refused at once.
        let mut day = if number % 7 == 3 { saturday() } else { quick("") };
        names.push(format!("day {number}"));
        day["name"] = json!(names.last());
        input += &if number % 11 == 5 { "no scenario\n".to_string() } else { format!("{day}\n") };
    }
    let output = sweep(&["--jobs", "4"], input.clone());
    assert_eq!(output.status.code(), Some(1));
    let results = lines(&output);
    assert_eq!(results.len(), 300);
    for (at, (result, name)) in results.iter().zip(&names).enumerate() {
        let number = at + 1;
        assert_eq!(result["line"], number);
        if number % 11 == 5 {
            assert_eq!(result["error"]["kind"], "not_json");
        } else {
            assert_eq!(result["name"], **name);
            let launches = result["launches"].as_array().unwrap().len();
            assert_eq!(launches, if number % 7 == 3 { 6 } else { 0 });
        }
    }
    // Whatever the number of threads, the output is the same to the byte.
    for jobs in ["1", "3"] {
        assert_eq!(sweep(&["--jobs", jobs], input.clone()).stdout, output.stdout, "{jobs} threads");
    }
}

#[test]
fn a_line_says_what_simulate_says() {
    let file = scenario_file("saturday_bracket_day");
    let program = env!("CARGO_BIN_EXE_stallheat");
    let whole = Command::new(program).args(["simulate", &file, "--json"]).output().unwrap().stdout;
    let full = sweep(&["--full"], format!("{}\n", saturday()));
    assert_eq!(String::from_utf8(full.stdout).unwrap(), String::from_utf8(whole.clone()).unwrap());

    let whole: Value = serde_json::from_slice(&whole).unwrap();
    let brief = &good(&[], format!("{}\n", saturday()))[0];
    assert_eq!(brief["name"], whole["scenario"]);
    let pairs =
        brief["launches"].as_array().unwrap().iter().zip(whole["launches"].as_array().unwrap());
    assert_eq!(pairs.len(), 6);
    for (launch, of_whole) in pairs {
        for key in ["round", "time_s", "temperatures_c", "from_window_k", "held_s", "flash_rpm"] {
            assert_eq!(launch[key], of_whole[key], "{key}");
        }
        let finish = of_whole["pass"]["marks"].as_array().unwrap().last().unwrap();
        assert_eq!(launch["elapsed_s"], finish["elapsed_s"]);
        assert_eq!(launch["speed_m_per_s"], finish["speed_m_per_s"]);
    }
    assert_eq!(brief["made_j"], whole["ledger"]["made_j"]);
    assert_eq!(brief["cautions"], whole["cautions"]);
    assert_eq!(brief["fluid_life_share"], whole["fluid_life_share"]);
    let numbers = |value: &Value| -> Vec<f64> {
        value.as_array().unwrap().iter().map(|number| number.as_f64().unwrap()).collect()
    };
    let time_s = numbers(&whole["time_s"]);
    assert_eq!(brief["duration_s"].as_f64(), time_s.last().copied());
    for (node, column) in whole["temperatures_c"].as_object().unwrap() {
        let column = numbers(column);
        let peak_c = column.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        assert_eq!(brief["peaks_c"][node].as_f64(), Some(peak_c), "{node}");
        let at = column.iter().position(|celsius| *celsius == peak_c).unwrap();
        assert_eq!(brief["peaks_time_s"][node].as_f64(), Some(time_s[at]), "{node}");
        let at_launch: Vec<f64> = whole["launches"]
            .as_array()
            .unwrap()
            .iter()
            .map(|launch| launch["temperatures_c"][node].as_f64().unwrap())
            .collect();
        let spread_k = at_launch.iter().copied().fold(f64::NEG_INFINITY, f64::max)
            - at_launch.iter().copied().fold(f64::INFINITY, f64::min);
        let told_k = brief["launch_spread_k"][node].as_f64().unwrap();
        // A difference of two temperatures in °C and in K: to rounding.
        assert!((told_k - spread_k).abs() < 1e-9, "{node}: {told_k} {spread_k}");
    }
    let least = numbers(&whole["battery_a_h"]).into_iter().fold(f64::INFINITY, f64::min);
    assert_eq!(brief["battery_least_a_h"].as_f64(), Some(least));
    let used: f64 = whole["turnarounds"]
        .as_array()
        .unwrap()
        .iter()
        .map(|round| round["used_a_h"].as_f64().unwrap())
        .sum();
    // This day draws nothing outside its rounds.
    assert!((brief["battery_used_a_h"].as_f64().unwrap() - used).abs() < 1e-9 && used > 1.0);
}

/// Kind and part of the field of the refusal that a line must get; `None` for a good or blank one.
type Refused = Option<(&'static str, &'static str)>;

#[test]
fn bad_lines_are_reported_in_place_and_the_run_goes_on() {
    let mut input: Vec<u8> = Vec::new();
    let mut hot = quick("hot");
    hot["timeline"] =
        json!([{ "event": "brake_hold", "duration": "30 h", "engine_speed": "6000 rpm" }]);
    let mut refused = quick("refused");
    refused["setup"] = json!({ "cooler": { "ua": "110 psi" } });
    let long = format!("{{\"note\": \"{}\"}}", "x".repeat(2_000_000));
    let parts: [(Vec<u8>, Refused); 12] = [
        (quick("first").to_string().into(), None),
        (b"{\"format\": 1,".into(), Some(("not_json", "column 13"))),
        (b"".into(), None),
        (b"{\"format\": 1, \"format\": 1}".into(), Some(("not_json", "file"))),
        (refused.to_string().into(), Some(("wrong_unit", "setup.cooler.ua"))),
        (b"{\"name\": \"caf\xe9\"}".into(), Some(("file", "line"))),
        (long.into(), Some(("too_large", "line"))),
        (hot.to_string().into(), Some(("unphysical", "brake_hold"))),
        (b" \t ".into(), None),
        (b"[1, 2]".into(), Some(("wrong_type", "scenario"))),
        (b"null".into(), Some(("wrong_type", "scenario"))),
        (quick("last").to_string().into(), None),
    ];
    for (text, _) in &parts {
        input.extend_from_slice(text);
        input.extend_from_slice(b"\r\n");
    }
    let output = sweep(&["--jobs", "2"], input);
    assert_eq!(output.status.code(), Some(1));
    let stderr = String::from_utf8(output.stderr.clone()).unwrap();
    assert!(stderr.starts_with("stallheat: 8 of 10 lines could not be computed"), "{stderr}");
    assert_eq!(stderr.lines().count(), 1);
    let results = lines(&output);
    let told: Vec<u64> = results.iter().map(|result| result["line"].as_u64().unwrap()).collect();
    assert_eq!(told, [1, 2, 4, 5, 6, 7, 8, 10, 11, 12], "blank lines are skipped and counted");
    for result in &results {
        let (_, wanted) = parts[result["line"].as_u64().unwrap() as usize - 1];
        let Some((kind, field)) = wanted else {
            assert!(result["error"].is_null() && result["name"].is_string());
            continue;
        };
        assert_eq!(result["error"]["kind"], kind, "{result}");
        assert!(result["error"]["field"].as_str().unwrap().contains(field), "{result}");
        for key in ["value", "limit", "remedy"] {
            assert!(result["error"][key].as_str().unwrap().len() > 3, "{key}: {result}");
        }
        assert_eq!(result.as_object().unwrap().len(), 2, "{result}");
    }
}

#[test]
fn what_is_no_line_is_no_result() {
    assert!(good(&[], "").is_empty());
    assert!(good(&[], "\n\r\n  \n").is_empty());
    // A byte order mark, and no end of the last line.
    let results = good(&[], format!("\u{feff}{}\n\n{}", quick("a"), quick("b")));
    assert_eq!(results.iter().map(|one| &one["line"]).collect::<Vec<_>>(), [1, 3]);
    assert_eq!(results[1]["name"], "b");
}

/// RFC 7396, appendix A, all examples: original, patch, result.
#[test]
fn merge_patches_are_those_of_the_standard() {
    let examples = [
        (r#"{"a":"b"}"#, r#"{"a":"c"}"#, r#"{"a":"c"}"#),
        (r#"{"a":"b"}"#, r#"{"b":"c"}"#, r#"{"a":"b","b":"c"}"#),
        (r#"{"a":"b"}"#, r#"{"a":null}"#, r#"{}"#),
        (r#"{"a":"b","b":"c"}"#, r#"{"a":null}"#, r#"{"b":"c"}"#),
        (r#"{"a":["b"]}"#, r#"{"a":"c"}"#, r#"{"a":"c"}"#),
        (r#"{"a":"c"}"#, r#"{"a":["b"]}"#, r#"{"a":["b"]}"#),
        (r#"{"a":{"b":"c"}}"#, r#"{"a":{"b":"d","c":null}}"#, r#"{"a":{"b":"d"}}"#),
        (r#"{"a":[{"b":"c"}]}"#, r#"{"a":[1]}"#, r#"{"a":[1]}"#),
        (r#"["a","b"]"#, r#"["c","d"]"#, r#"["c","d"]"#),
        (r#"{"a":"b"}"#, r#"["c"]"#, r#"["c"]"#),
        (r#"{"a":"foo"}"#, r#"null"#, r#"null"#),
        (r#"{"a":"foo"}"#, r#""bar""#, r#""bar""#),
        (r#"{"e":null}"#, r#"{"a":1}"#, r#"{"e":null,"a":1}"#),
        (r#"[1,2]"#, r#"{"a":"b","c":null}"#, r#"{"a":"b"}"#),
        (r#"{}"#, r#"{"a":{"bb":{"ccc":null}}}"#, r#"{"a":{"bb":{}}}"#),
    ];
    for (original, patch, result) in examples {
        let read = |text: &str| -> Value { serde_json::from_str(text).unwrap() };
        let mut patched = read(original);
        json_patch::merge(&mut patched, &read(patch));
        assert_eq!(patched, read(result), "{original} with {patch}");
    }
}

#[test]
fn patches_are_put_onto_the_base() {
    let file = scenario_file("saturday_bracket_day");
    let patches = [
        json!({}),
        json!({ "name": "large cooler", "setup": { "cooler": { "ua": "220 W/K" } } }),
        // Null takes out: the default holds again.
        json!({ "setup": { "cooler": { "ua": null } } }),
        // A list is replaced as a whole.
        json!({ "timeline": [{ "event": "idle", "duration": "5 min" }] }),
        json!({ "setup": { "cooler": { "size": "large" } } }),
        json!({ "name": null }),
        json!(["no patch"]),
    ];
    let input: String = patches.iter().map(|patch| format!("{patch}\n")).collect();
    let output = sweep(&["--base", &file], input);
    assert_eq!(output.status.code(), Some(1));
    let patched = lines(&output);

    // By hand: the same days written out.
    let mut large = saturday();
    large["name"] = json!("large cooler");
    large["setup"]["cooler"]["ua"] = json!("220 W/K");
    let mut default = saturday();
    default["setup"]["cooler"].as_object_mut().unwrap().remove("ua");
    let mut idle = saturday();
    idle["timeline"] = patches[3]["timeline"].clone();
    let by_hand = good(&[], format!("{}\n{large}\n{default}\n{idle}\n", saturday()));
    assert_eq!(patched[..4], by_hand[..]);
    assert_ne!(patched[0]["launches"], patched[1]["launches"]);
    assert_ne!(patched[0]["launches"], patched[2]["launches"]);
    let kinds: Vec<&Value> = patched[4..].iter().map(|one| &one["error"]["kind"]).collect();
    assert_eq!(kinds, ["unknown_key", "missing", "wrong_type"]);
}

#[test]
fn a_wrong_base_or_command_line_is_refused_before_any_line() {
    let input = format!("{}\n", quick("a"));
    let missing = sweep(&["--base", "no such file.json"], input.clone());
    assert_eq!(missing.status.code(), Some(1));
    let no_json =
        sweep(&["--base", concat!(env!("CARGO_MANIFEST_DIR"), "/README.md")], input.clone());
    assert_eq!(no_json.status.code(), Some(1));
    for output in [&missing, &no_json] {
        assert!(output.stdout.is_empty());
        assert_eq!(String::from_utf8_lossy(&output.stderr).lines().count(), 1);
    }
    for args in [&["--jobs", "0"][..], &["--jobs", "many"], &["--units", "us"], &["file.json"]] {
        let output = sweep(args, input.clone());
        assert_eq!(output.status.code(), Some(2), "{args:?}");
        assert!(output.stdout.is_empty());
    }
}

/// Input or output that fails half-way is a refusal in one line, and what was computed before is written.
#[cfg(target_os = "linux")]
#[test]
fn streams_that_fail_are_refused() {
    let mut command = Command::new(env!("CARGO_BIN_EXE_stallheat"));
    let folder = std::fs::File::open(env!("CARGO_MANIFEST_DIR")).unwrap();
    let output = command.arg("sweep").stdin(folder).output().unwrap();
    let stderr = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(1));
    assert!(stderr.contains("standard input") && stderr.lines().count() == 1, "{stderr}");

    let mut command = Command::new(env!("CARGO_BIN_EXE_stallheat"));
    let full = std::fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    command.arg("sweep").stdin(Stdio::piped()).stdout(full).stderr(Stdio::piped());
    let mut child = command.spawn().unwrap();
    writeln!(child.stdin.take().unwrap(), "{}", quick("a")).unwrap();
    let output = child.wait_with_output().unwrap();
    let stderr = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(1));
    assert!(stderr.contains("standard output") && stderr.lines().count() == 1, "{stderr}");
}

/// Lines of the output as they come.
fn as_they_come(child: &mut Child) -> Receiver<String> {
    let (send, receive) = channel();
    let stdout = child.stdout.take().unwrap();
    std::thread::spawn(move || {
        for line in BufReader::new(stdout).lines() {
            if send.send(line.unwrap()).is_err() {
                return;
            }
        }
    });
    receive
}

#[test]
fn results_do_not_wait_for_the_end_of_the_input() {
    let mut child = spawn(&["--jobs", "2"]);
    let results = as_they_come(&mut child);
    let mut stdin = child.stdin.take().unwrap();
    for name in ["first", "second", "third"] {
        writeln!(stdin, "{}", quick(name)).unwrap();
        let result: Value = serde_json::from_str(&results.recv_timeout(PATIENCE).unwrap()).unwrap();
        assert_eq!(result["name"], name);
    }
    drop(stdin);
    assert_eq!(child.wait().unwrap().code(), Some(0));
}

#[test]
fn a_reader_that_stops_listening_ends_it_quietly_though_the_input_goes_on() {
    let mut child = spawn(&[]);
    let mut stdin = child.stdin.take().unwrap();
    let feeder = std::thread::spawn(move || {
        let line = format!("{}\n", quick("endless"));
        while stdin.write_all(line.as_bytes()).is_ok() {}
    });
    let mut stdout = BufReader::new(child.stdout.take().unwrap());
    let mut first = String::new();
    stdout.read_line(&mut first).unwrap();
    assert!(first.starts_with("{\"line\":1,"), "{first}");
    drop(stdout);
    let started = Instant::now();
    let status = loop {
        if let Some(status) = child.try_wait().unwrap() {
            break status;
        }
        if started.elapsed() > PATIENCE {
            child.kill().unwrap();
            panic!("it goes on computing for nobody");
        }
        std::thread::sleep(Duration::from_millis(10));
    };
    feeder.join().unwrap();
    let mut stderr = String::new();
    child.stderr.take().unwrap().read_to_string(&mut stderr).unwrap();
    assert_eq!((status.code(), stderr.as_str()), (Some(0), ""));
}

/// The program takes no more lines than it can hold while nobody reads its results, and all the rest afterwards.
#[test]
fn lines_in_flight_are_bounded() {
    const LINES: usize = 5_000;
    let mut child = spawn(&["--jobs", "2"]);
    let mut stdin = child.stdin.take().unwrap();
    let taken = Arc::new(AtomicUsize::new(0));
    let counter = Arc::clone(&taken);
    let feeder = std::thread::spawn(move || {
        // Long lines, so that the pipe itself (64 KB) holds few of them.
        let mut day = quick("long");
        day["note"] = json!("x".repeat(3_900));
        for _ in 0..LINES {
            writeln!(stdin, "{day}").unwrap();
            counter.fetch_add(1, Ordering::SeqCst);
        }
    });
    // Until it has taken nothing for a while.
    let (started, mut last, mut since) = (Instant::now(), 0, Instant::now());
    while (since.elapsed() < Duration::from_secs(2) || last <= 32) && started.elapsed() < PATIENCE {
        std::thread::sleep(Duration::from_millis(20));
        let now = taken.load(Ordering::SeqCst);
        if now != last {
            (last, since) = (now, Instant::now());
        }
    }
    // 16 places for each of two threads, some 16 lines in the pipe, the results in the output pipe and its buffers
    // (72 KB of 1 KB each), and a few in hands.
    assert!(last > 32 && last < 250, "{last} lines taken with nobody reading");
    let output = child.wait_with_output().unwrap();
    feeder.join().unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert_eq!(lines(&output).len(), LINES);
}

/// Peak memory of a process (bytes).
#[cfg(target_os = "linux")]
fn peak_bytes(child: &Child) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{}/status", child.id())).unwrap();
    let line = status.lines().find(|line| line.starts_with("VmHWM:")).unwrap();
    line.split_whitespace().nth(1).unwrap().parse::<u64>().unwrap() * 1024
}

/// 20 000 lines of 4 KB, 80 MB in all, with the results read as they come: the peak of memory after them is that after
/// the first thousand, but for what an allocator keeps.
#[cfg(target_os = "linux")]
#[test]
fn a_long_list_deep_inside_takes_little_memory() {
    // As large as a line may be: long paths, and many values that have them.
    let key = "k".repeat(60);
    let outside = format!("{{\"{key}\":").repeat(120);
    let line = format!("{outside}[{}0]{}", "0,".repeat(900_000), "}".repeat(120));
    let mut child = spawn(&["--jobs", "1"]);
    let results = as_they_come(&mut child);
    let mut stdin = child.stdin.take().unwrap();
    writeln!(stdin, "{line}").unwrap();
    let result = results.recv_timeout(PATIENCE).unwrap();
    assert!(result.contains("unknown_key"), "{result}");
    let peak = peak_bytes(&child);
    assert!(peak < 300_000_000, "{peak} bytes");
    drop(stdin);
    child.wait().unwrap();
}

#[test]
fn memory_does_not_grow_with_the_input() {
    const LINES: u64 = 20_000;
    let mut child = spawn(&["--jobs", "2"]);
    let results = as_they_come(&mut child);
    let mut stdin = child.stdin.take().unwrap();
    let gate = Arc::new(Mutex::new(()));
    let held = gate.lock().unwrap();
    let for_feeder = Arc::clone(&gate);
    let feeder = std::thread::spawn(move || {
        let mut day = quick("long");
        day["note"] = json!("x".repeat(3_900));
        for number in 1..=LINES {
            if number == 1_001 {
                drop(for_feeder.lock().unwrap());
            }
            writeln!(stdin, "{day}").unwrap();
        }
        // Handed back open: the program lives until its peak is read.
        stdin
    });
    let wait_for = |number: u64| loop {
        let line = results.recv_timeout(PATIENCE).unwrap();
        if line.starts_with(&format!("{{\"line\":{number},")) {
            return;
        }
    };
    wait_for(1_000);
    let early = peak_bytes(&child);
    drop(held);
    wait_for(LINES);
    let late = peak_bytes(&child);
    assert!(late < early + 8_000_000, "{early} bytes after 1 000 lines, {late} after {LINES}");
    assert!(late < 64_000_000, "{late} bytes");
    drop(feeder.join().unwrap());
    assert_eq!(child.wait().unwrap().code(), Some(0));
}
