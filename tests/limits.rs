//! Limits of inputs exactly at them and just above: what is allowed is read, what is one more is refused by name. And
//! `docs/limits.md`, which lists them, has the numbers of the code.

use serde_json::{Value, json};
use stallheat::bench::record;
use stallheat::error::{Error, ErrorKind};
use stallheat::readings::{self, MAX_READINGS, table};
use stallheat::scenario;
use stallheat::scenario::tables::{MAX_CHARS, MAX_ROWS};
use stallheat::timeline::{MAX_DAY_S, MAX_EVENTS, MAX_SWITCHINGS};

fn read(path: &str) -> String {
    let path = format!("{}/{path}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{path}: {error}"))
}

/// A scenario with other keys beside its own; of an hour's rest where it has no timeline.
fn day(more: Value) -> String {
    let mut day = json!({"format": 1, "name": "limits",
        "timeline": [{"event": "engine_off", "duration": "1 h"}]});
    for (key, value) in more.as_object().unwrap() {
        day[key] = value.clone();
    }
    day.to_string()
}

fn rest(count: usize, duration: &str) -> Value {
    json!({"timeline": vec![json!({"event": "engine_off", "duration": duration}); count]})
}

/// What is allowed is read, what is one more is refused as too large, with all parts of an error.
fn at_and_above<T: std::fmt::Debug>(
    name: &str,
    read: impl Fn(&str) -> Result<T, Error>,
    at: &str,
    above: &str,
) {
    if let Err(error) = read(at) {
        panic!("{name}, at the limit: {error}");
    }
    let Err(error) = read(above) else { panic!("{name}, above the limit: taken") };
    assert_eq!(error.kind, ErrorKind::TooLarge, "{name}: {error}");
    for part in [&error.field, &error.value, &error.limit, &error.remedy] {
        assert!(!part.is_empty() && part.len() < 300, "{name}: {error:?}");
    }
}

fn scenario_at_and_above(name: &str, at: Value, above: Value) {
    at_and_above(name, scenario::parse, &day(at), &day(above));
}

/// A text filled up with blanks to so many bytes.
fn filled(text: &str, bytes: usize) -> String {
    format!("{text}{}", " ".repeat(bytes - text.len()))
}

#[test]
fn an_object_has_at_most_a_thousand_keys() {
    let object = |keys: usize| {
        let keys: Vec<String> = (0..keys).map(|key| format!("\"k{key}\": 0")).collect();
        format!("{{{}}}", keys.join(", "))
    };
    // At the limit it is the unknown keys that are refused.
    assert_eq!(scenario::parse(&object(1_000)).unwrap_err().kind, ErrorKind::UnknownKey);
    let error = scenario::parse(&object(1_001)).unwrap_err();
    assert_eq!(error.kind, ErrorKind::NotJson);
    assert_eq!(error.value, "an object with more than 1000 keys");
}

#[test]
fn scenarios_at_their_limits_and_just_above() {
    let small = day(json!({}));
    let bytes = scenario::MAX_BYTES;
    at_and_above("bytes", scenario::parse, &filled(&small, bytes), &filled(&small, bytes + 1));
    scenario_at_and_above("events", rest(MAX_EVENTS, "1 s"), rest(MAX_EVENTS + 1, "1 s"));
    let rounds = |count: usize| {
        let event = json!({"event": "engine_off", "duration": "1 s"});
        json!({"timeline": [{"rounds": vec!["1 min"; count], "events": [event, event]}]})
    };
    scenario_at_and_above("rounds", rounds(MAX_EVENTS / 2), rounds(MAX_EVENTS / 2 + 1));
    scenario_at_and_above("length", rest(2, "18 h"), rest(2, "18.001 h"));
    let switched = |count: usize| {
        let time = |i| json!({"start": format!("{i} s"), "duration": "0.5 s"});
        let fan: Vec<Value> = (0..count).map(time).collect();
        json!({"timeline": [{"event": "engine_off", "duration": "1 h", "fan": fan}]})
    };
    scenario_at_and_above("on-times", switched(MAX_SWITCHINGS), switched(MAX_SWITCHINGS + 1));
    let text = |key: &str, characters: usize| json!({ key: "ü".repeat(characters) });
    scenario_at_and_above("name", text("name", 120), text("name", 121));
    scenario_at_and_above("note", text("note", 4_000), text("note", 4_001));
    let named = |characters: usize| json!({"timeline": [{"event": "engine_off", "duration": "1 h", "name": "ü".repeat(characters)}]});
    scenario_at_and_above("name of an event", named(60), named(61));
}

#[test]
fn one_event_is_no_longer_than_a_day() {
    let hours = MAX_DAY_S / 3_600.0;
    let one = |hours: f64| scenario::parse(&day(rest(1, &format!("{hours} h"))));
    assert!(one(hours).is_ok());
    let error = one(hours + 1e-6).unwrap_err();
    assert_eq!(error.kind, ErrorKind::OutOfRange, "{error}");
    assert!(error.limit.contains("36 h"), "{error}");
}

#[test]
fn own_tables_at_their_limits_and_just_above() {
    let curve = |text: String| json!({"setup": {"engine": {"torque_curve": text}}});
    let rows = |count: usize| {
        let rows = (0..count).map(|row| format!("\n{}, 300", 1_000 + 20 * row));
        format!("engine_speed (rpm), torque (N m){}", rows.collect::<String>())
    };
    scenario_at_and_above("rows", curve(rows(MAX_ROWS)), curve(rows(MAX_ROWS + 1)));
    let long = |bytes: usize| curve(filled(&rows(50), bytes));
    scenario_at_and_above("characters", long(MAX_CHARS), long(MAX_CHARS + 1));
    let gears = |count: usize| {
        let ratios: Vec<f64> = (0..count).map(|gear| 4.0 - 0.3 * gear as f64).collect();
        json!({"setup": {"gearbox": {"ratios": ratios}}})
    };
    scenario_at_and_above("gears", gears(8), gears(9));
}

#[test]
fn depth_of_json_is_bounded() {
    // 126 lists in one object are read as JSON, and are no note.
    let deep = |levels: usize| {
        let note = format!("{}1{}", "[".repeat(levels), "]".repeat(levels));
        let text =
            format!("{{\"format\": 1, \"name\": \"deep\", \"note\": {note}, \"timeline\": []}}");
        scenario::parse(&text).unwrap_err()
    };
    assert_eq!(deep(126).kind, ErrorKind::WrongType, "{}", deep(126));
    assert_eq!(deep(127).kind, ErrorKind::NotJson, "{}", deep(127));
    // As deep as a file may be, and no stack overflows.
    assert_eq!(deep(scenario::MAX_BYTES / 3).kind, ErrorKind::NotJson);
}

#[test]
fn readings_at_their_limits_and_just_above() {
    let line = "4 min,pan,90 °F\n";
    let rows = |count: usize| line.repeat(count);
    at_and_above("rows", table::read, &rows(MAX_READINGS), &rows(MAX_READINGS + 1));
    let bytes = |bytes: usize| format!("{line}{}", "\n".repeat(bytes - line.len()));
    at_and_above("bytes", table::read, &bytes(table::MAX_BYTES), &bytes(table::MAX_BYTES + 1));
    let list = |text: &str| {
        let count: usize = text.parse().unwrap();
        let reading = json!({"time": "4 min", "place": "pan", "shown": "90 °F"});
        readings::read_list("readings", &json!(vec![reading; count]))
    };
    let [at, above] = [MAX_READINGS, MAX_READINGS + 1].map(|count| count.to_string());
    at_and_above("list", list, &at, &above);
}

#[test]
fn bench_records_at_their_limits_and_just_above() {
    let example = read("scenarios/bench_tests/unit_0417.json");
    let bytes = |bytes: usize| filled(&example, bytes);
    let most = record::MAX_BYTES;
    at_and_above("bytes", record::parse, &bytes(most), &bytes(most + 1));
    let pressures = |count: usize| {
        let mut example: Value = serde_json::from_str(&example).unwrap();
        let one = example["pressures"][0].clone();
        example["pressures"] = json!(vec![one; count]);
        example.to_string()
    };
    let most = record::MAX_PRESSURES;
    at_and_above("pressures", record::parse, &pressures(most), &pressures(most + 1));
}

/// Every row that names a constant has it as the file has it.
#[test]
fn the_list_has_the_numbers_of_the_code() {
    let mut compared = 0;
    for line in read("docs/limits.md").lines().filter(|line| line.starts_with("| ")) {
        let cells: Vec<&str> = line.trim_matches(['|', ' ']).split(" | ").collect();
        let Some((name, value)) = cells[2].trim_matches('`').split_once(" = ") else { continue };
        let text = read(cells[3].trim_matches('`'));
        let definition = text
            .lines()
            .find(|line| [":", " "].iter().any(|end| line.contains(&format!("const {name}{end}"))))
            .unwrap_or_else(|| panic!("{} has no {name}", cells[3]));
        let found = definition.split(" = ").nth(1).and_then(|rest| rest.split(';').next());
        assert_eq!(found, Some(value), "{line}");
        compared += 1;
    }
    assert!(compared > 25, "{compared}");
}
