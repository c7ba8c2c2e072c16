//! Bad scenarios, each with the kind of error, the field and the words that the message must hold.
//!
//! Each is the good scenario below with one edit. Every error must say field, value, limit and remedy, on
//! one line, and never panic. Those that break the shape of a file must be refused by the JSON Schema, too.

use serde_json::{Value, json};
use stallheat::error::{Error, ErrorKind};
use stallheat::scenario::parameters::PARAMETERS;
use stallheat::scenario::{self, schema::schema};
use stallheat::units::{Dimension, UNITS};

fn good() -> Value {
    json!({
        "format": 1,
        "name": "good",
        "note": "invented",
        "setup": {
            "air": { "temperature": "88 °F" },
            "fluid": { "class": "multi_vehicle" },
            "converter": { "shell_mass": "31 lb", "k_factor": "225 rpm/√(lbf ft)" },
        },
        "initial_temperatures": { "all": "90 °F" },
        "timeline": [
            { "event": "idle", "duration": "6 min", "gear": "neutral", "engine_speed": "1000 rpm" },
            {
                "event": "engine_off",
                "until": { "node": "pan_fluid", "at_or_below": "150 °F" },
                "at_most": "30 min",
                "circulation": [{ "route": "pan_loop", "start": "10 s", "duration": "5 min" }],
                "fan": [{ "duration": "5 min" }],
            },
            {
                "rounds": ["60 min", { "turnaround": "45 min", "change": { "brake_hold": { "duration": "5 s" } } }],
                "events": [
                    { "event": "brake_hold", "duration": "2.5 s" },
                    { "event": "pass", "duration": "10 s", "slip": 0.2 },
                    { "event": "engine_off", "duration": "rest" },
                ],
            },
        ],
    })
}

fn refusal(text: &str) -> Error {
    let error = match scenario::parse(text) {
        Ok(_) => panic!("accepted: {text:.300}"),
        Err(error) => error,
    };
    check_wording(&error);
    error
}

/// What holds of every error.
fn check_wording(error: &Error) {
    for (name, part) in [
        ("field", &error.field),
        ("value", &error.value),
        ("limit", &error.limit),
        ("remedy", &error.remedy),
    ] {
        assert!(!part.trim().is_empty(), "no {name}: {error}");
        assert!(!part.contains(char::is_control), "{name} is not one line: {error:?}");
    }
    assert!(error.remedy.ends_with(['.', '?', '…']), "{error}");
    assert!(error.to_string().chars().count() < 1_600, "{error}");
}

/// The good scenario with `value` at a JSON pointer; a last part that is not there is added.
fn with(pointer: &str, value: Value) -> Value {
    let mut scenario = good();
    let (parent, key) = pointer.rsplit_once('/').unwrap();
    match scenario.pointer_mut(parent).unwrap() {
        Value::Object(map) => {
            map.insert(key.to_string(), value);
        }
        Value::Array(items) => {
            let at: usize = key.parse().unwrap();
            if at < items.len() { items[at] = value } else { items.push(value) }
        }
        other => panic!("{other} has no children"),
    }
    scenario
}

fn without(pointer: &str) -> Value {
    let mut scenario = good();
    let (parent, key) = pointer.rsplit_once('/').unwrap();
    scenario.pointer_mut(parent).unwrap().as_object_mut().unwrap().remove(key).unwrap();
    scenario
}

/// One bad scenario: the edit, whether it breaks the shape of the file, and what the error must say.
struct Case {
    scenario: Value,
    shape: bool,
    kind: ErrorKind,
    field: &'static str,
    words: &'static [&'static str],
}

fn case(
    scenario: Value,
    kind: ErrorKind,
    field: &'static str,
    words: &'static [&'static str],
) -> Case {
    // Which kinds a round can change depends on the round's events, which no schema can say.
    let shape = matches!(kind, ErrorKind::UnknownKey | ErrorKind::WrongType | ErrorKind::Missing)
        && !field.ends_with(".change.burnout");
    Case { scenario, shape, kind, field, words }
}

const AIR: &str = "/setup/air/temperature";
const AIR_FIELD: &str = "setup.air.temperature";

fn corpus() -> Vec<Case> {
    [file_and_day(), other_ways_to_state(), tables(), weights()].into_iter().flatten().collect()
}

/// A bad table or half of a pair: what no schema can say, because it is in a text or in another key.
fn data(
    scenario: Value,
    kind: ErrorKind,
    field: &'static str,
    words: &'static [&'static str],
) -> Case {
    Case { shape: false, ..case(scenario, kind, field, words) }
}

fn weights() -> Vec<Case> {
    ["0 kg", "0 lb", "-1450 kg"]
        .map(|mass| {
            case(
                with("/setup/car", json!({ "mass": mass })),
                ErrorKind::OutOfRange,
                "setup.car.mass",
                &["or more"],
            )
        })
        .into()
}

/// Altitude, stall speed at a torque, rating and size of a cooler: with what they replace, without their
/// partner, twice, or with an answer that is none.
fn other_ways_to_state() -> Vec<Case> {
    use ErrorKind::*;
    let air = |value: Value| with("/setup/air", value);
    let converter = |value: Value| with("/setup/converter", value);
    let cooler = |value: Value| with("/setup/cooler", value);
    vec![
        case(
            air(json!({"altitude": "1000 ft", "pressure": "29 inHg"})),
            Contradiction,
            "setup.air.altitude",
            &["\"pressure\"", "not both"],
        ),
        case(
            air(json!({"altitude": "5000 m"})),
            OutOfRange,
            "setup.air.altitude",
            &["from -400 m to 4000 m"],
        ),
        case(
            air(json!({"altitude": "29 inHg"})),
            WrongUnit,
            "setup.air.altitude",
            &["a pressure", "a length", "ft"],
        ),
        data(
            converter(json!({"stall_speed": "5200 rpm"})),
            Missing,
            "setup.converter.stall_torque",
            &["belongs to \"stall_speed\"", "lbf ft"],
        ),
        data(
            converter(json!({"stall_torque": "535 lbf ft"})),
            Missing,
            "setup.converter.stall_speed",
            &["belongs to \"stall_torque\"", "rpm"],
        ),
        case(
            converter(json!({"stall_speed": "5200 rpm", "stall_torque": "535 lbf ft",
                "k_factor": "225 rpm/√(lbf ft)"})),
            Contradiction,
            "setup.converter.stall_speed",
            &["\"k_factor\"", "not both"],
        ),
        case(
            converter(json!({"stall_speed": "9000 rpm", "stall_torque": "50 N m"})),
            OutOfRange,
            "setup.converter.stall_speed",
            &["K-factor", "1482", "rpm/√(lbf ft)"],
        ),
        data(
            cooler(json!({"rating_heat": "3 kW"})),
            Missing,
            "setup.cooler.rating_difference",
            &["belongs to \"rating_heat\"", "°F"],
        ),
        case(
            cooler(json!({"rating_heat": "3 kW", "rating_difference": "100 °F", "ua": "70 W/K"})),
            Contradiction,
            "setup.cooler.rating_heat",
            &["\"ua\"", "not both"],
        ),
        case(
            cooler(json!({"rating_heat": "3 kW", "rating_difference": "100 °F",
                "core_width": "11 in", "core_height": "8 in", "core_depth": "1.5 in"})),
            Contradiction,
            "setup.cooler.rating_heat",
            &["\"core_width\"", "not both"],
        ),
        data(
            cooler(json!({"core_width": "11 in", "core_height": "8 in"})),
            Missing,
            "setup.cooler.core_depth",
            &["belongs to \"core_width\""],
        ),
        case(
            cooler(json!({"rating_heat": "80 kW", "rating_difference": "5 K"})),
            Contradiction,
            "setup.cooler.rating_heat",
            &["no cooler moves that much heat", "rated_oil_flow"],
        ),
        case(
            cooler(json!({"core_width": "1 m", "core_height": "1 m", "core_depth": "150 mm"})),
            OutOfRange,
            "setup.cooler.core_width",
            &["cooler size", "4500 W/K", "1500 W/K"],
        ),
    ]
}

/// Bad tables, as lists and as text.
fn tables() -> Vec<Case> {
    use ErrorKind::*;
    let curve = |value: Value| with("/setup/engine", json!({ "torque_curve": value }));
    let converter = |value: Value| with("/setup/converter", json!({ "table": value }));
    let ratios = |value: Value| with("/setup/gearbox", json!({ "ratios": value }));
    let rows = |count: u32| -> Value {
        (0..count).map(|i| json!([f64::from(i) / f64::from(count), 1.0, 1.0])).collect()
    };
    vec![
        // The converter's own.
        data(
            converter(json!([[0, 2, 1], [0.5, 1.5, 0.9], [0.4, 1.2, 0.8], [1, 1, 0]])),
            OutOfRange,
            "setup.converter.table[2]",
            &["0.4", "each above the one before"],
        ),
        data(
            converter(json!([[0, 2, 1], [0.5, 1.5, 0.9], [0.5, 1.5, 0.9], [1, 1, 0]])),
            OutOfRange,
            "setup.converter.table[2]",
            &["0.5", "drop doubled points"],
        ),
        data(
            converter(json!([[0.1, 2, 1], [0.5, 1.5, 0.9], [1, 1, 0]])),
            Missing,
            "setup.converter.table[0].speed_ratio",
            &["0.1", "the first row is stall"],
        ),
        data(
            converter(json!(
                "speed_ratio, torque_ratio, k_factor\n0, 2, 225\n0.5, 1.5, 230\n1, 1, 500"
            )),
            Contradiction,
            "setup.converter.table[2].k_factor",
            &["speed ratio 1", "Leave this row out"],
        ),
        data(
            with(
                "/setup/converter",
                json!({"k_factor": "225 rpm/√(lbf ft)",
                    "table": "speed_ratio, torque_ratio, k_factor\n0, 2, 225\n0.5, 1.5, 230\n0.9, 1, 400"}),
            ),
            Contradiction,
            "setup.converter.table",
            &["\"k_factor\"", "at stall already"],
        ),
        data(
            with(
                "/setup/converter",
                json!({"stall_speed": "5200 rpm", "stall_torque": "535 lbf ft",
                    "table": "speed_ratio, torque_ratio, k_factor\n0, 2, 225\n0.5, 1.5, 230\n0.9, 1, 400"}),
            ),
            Contradiction,
            "setup.converter.table",
            &["\"stall_speed\"", "at stall already"],
        ),
        data(
            with(
                "/setup/converter",
                json!({"stall_torque_ratio": 2, "table": [[0, 2, 1], [0.5, 1.5, 0.9], [1, 1, 0]]}),
            ),
            Contradiction,
            "setup.converter.table",
            &["\"stall_torque_ratio\"", "takes the place of"],
        ),
        data(
            converter(json!("speed_ratio, torque_ratio, power\n0, 2, 1\n0.5, 1.5, 1\n1, 1, 0")),
            WrongType,
            "setup.converter.table",
            &["column \"power\"", "one of speed_ratio, torque_ratio, capacity, k_factor"],
        ),
        data(
            converter(json!("speed_ratio, torque_ratio\n0, 2\n0.5, 1.5\n1, 1")),
            WrongType,
            "setup.converter.table",
            &["capacity", "exactly one of capacity and k_factor"],
        ),
        data(
            converter(json!(
                "speed_ratio, torque_ratio, capacity, k_factor\n0, 2, 1, 225\n0.5, 1.5, 1, 225\n0.9, 1, 0.5, 300"
            )),
            WrongType,
            "setup.converter.table",
            &["exactly one of capacity and k_factor"],
        ),
        data(
            converter(json!("speed_ratio, speed_ratio, capacity\n0, 2, 1\n0.5, 1.5, 1\n1, 1, 0")),
            WrongType,
            "setup.converter.table",
            &["column \"speed_ratio\"", "every column once"],
        ),
        data(
            converter(json!("torque_ratio, capacity\n2, 1\n1.5, 1\n1, 0")),
            WrongType,
            "setup.converter.table",
            &["column \"speed_ratio\"", "missing"],
        ),
        data(
            converter(json!("")),
            Missing,
            "setup.converter.table",
            &["0 rows", "at least 3 rows"],
        ),
        case(
            converter(json!([])),
            Missing,
            "setup.converter.table",
            &["0 rows", "at least 3 rows"],
        ),
        data(
            converter(json!("speed_ratio, torque_ratio, capacity\n")),
            Missing,
            "setup.converter.table",
            &["0 rows"],
        ),
        data(
            converter(rows(201)),
            TooLarge,
            "setup.converter.table",
            &["201 rows", "at most 200 rows"],
        ),
        data(
            converter(json!("0.1, 1, 1\n".repeat(201))),
            TooLarge,
            "setup.converter.table",
            &["201 rows", "at most 200 rows"],
        ),
        data(
            converter(json!("0, 1.000000000000, 1\n".repeat(1_000))),
            TooLarge,
            "setup.converter.table",
            &["21000 characters", "at most 20000"],
        ),
        data(
            converter(json!(
                "speed_ratio, torque_ratio, capacity\n0, two, 1\n0.5, 1.5, 1\n1, 1, 0"
            )),
            WrongUnit,
            "setup.converter.table[0].torque_ratio",
            &["two", "a number"],
        ),
        data(
            converter(json!("0, 2, 1\n0.5, , 1\n1, 1, 0")),
            WrongUnit,
            "setup.converter.table[1].torque_ratio",
            &["a number"],
        ),
        data(
            converter(json!("0, 2, 1\n0.5, 1.5\n1, 1, 0")),
            WrongType,
            "setup.converter.table[1]",
            &["0.5, 1.5", "3 values: speed_ratio, torque_ratio, capacity"],
        ),
        data(
            converter(json!([[0, 2, 1], [0.5, 1.5, 1, 7], [1, 1, 0]])),
            WrongType,
            "setup.converter.table[1]",
            &["4 values", "3 values"],
        ),
        data(
            converter(json!([0, 0.5, 1])),
            WrongType,
            "setup.converter.table[0]",
            &["a row is a list of 3 values"],
        ),
        case(converter(json!(7)), WrongType, "setup.converter.table", &["7", "a list"]),
        case(converter(json!(null)), WrongType, "setup.converter.table", &["null", "a list"]),
        data(
            converter(json!([[0, 2, 0], [0.5, 1.5, 1], [1, 1, 0]])),
            OutOfRange,
            "setup.converter.table[0].capacity",
            &["above zero at stall"],
        ),
        data(
            converter(json!([[0, 2, 1], [0.5, 1.5, 1], [1, 1, 0.2]])),
            Contradiction,
            "setup.converter.table[2].capacity",
            &["0.2 at speed ratio 1", "carries no torque"],
        ),
        data(
            converter(json!([[0, 2, 1], [0.8, 1.3, 0.8], [1, 0.9, 0]])),
            OutOfRange,
            "setup.converter.table.torque_ratio",
            &["efficiency 1.04", "more power than it takes"],
        ),
        // Points below 1, but the straight line between them passes above it.
        data(
            converter(json!([[0, 2, 1], [0.7, 1.42, 0.8], [0.9, 1.1, 0.6], [1, 0.98, 0]])),
            OutOfRange,
            "setup.converter.table.torque_ratio",
            &["efficiency 1.00", "also between the points"],
        ),
        data(
            converter(json!([[0, 9, 1], [0.5, 1.5, 1], [1, 1, 0]])),
            OutOfRange,
            "setup.converter.table[0].torque_ratio",
            &["9", "from 0.5 to 4"],
        ),
        // Torque curves.
        case(
            curve(json!([["2500 rpm", "430 lbf ft"]])),
            Missing,
            "setup.engine.torque_curve",
            &["1 rows", "at least 2 rows"],
        ),
        data(
            converter(json!([[0, 1.9, 1], [0.5, 1.5, 1], [0.5005, 1.5, 0.5], [1, 0.98, 0]])),
            OutOfRange,
            "setup.converter.table[2].speed_ratio",
            &["0.5005 after 0.5", "at least 0.001 apart"],
        ),
        data(
            converter(json!([[0, 1.9, 0.1], [0.5, 1.5, 1], [1, 0.98, 0]])),
            OutOfRange,
            "setup.converter.table[1]",
            &["10.000 times", "at most 5 times"],
        ),
        data(
            with("/setup/air", json!({ "humidity": "55 percent" })),
            WrongUnit,
            "setup.air.humidity",
            &["55 percent", "a percentage"],
        ),
        data(
            curve(json!("2500, 430")),
            Missing,
            "setup.engine.torque_curve",
            &["1 rows", "at least 2 rows"],
        ),
        data(
            curve(json!("engine_speed (rpm), torque (psi)\n2500, 430\n6500, 472")),
            WrongType,
            "setup.engine.torque_curve",
            &["torque (psi)", "a unit of", "lbf ft"],
        ),
        data(
            curve(json!([["2500 psi", "430 lbf ft"], ["6500 rpm", "472 lbf ft"]])),
            WrongUnit,
            "setup.engine.torque_curve[0].engine_speed",
            &["a pressure", "rpm"],
        ),
        data(
            curve(json!([[2500, 430], [6500, 472]])),
            WrongUnit,
            "setup.engine.torque_curve[0].engine_speed",
            &["2500", "rpm"],
        ),
        data(
            curve(json!("rpm, lbf ft\n2500, 430\n6500, 472")),
            WrongType,
            "setup.engine.torque_curve",
            &["column \"lbf ft\"", "one of engine_speed, torque"],
        ),
        data(
            curve(json!("2500, 430\n6500, -472")),
            OutOfRange,
            "setup.engine.torque_curve[1].torque",
            &["-472", "from 0 lbf ft"],
        ),
        data(
            curve(json!("2500, 430\n2500, 472")),
            OutOfRange,
            "setup.engine.torque_curve[1]",
            &["2500 rpm", "each above the one before"],
        ),
        data(
            with(
                "/setup/engine",
                json!({"peak_power": "590 hp", "torque_curve": "2500, 430\n6500, 472"}),
            ),
            Contradiction,
            "setup.engine.torque_curve",
            &["\"peak_power\" as well", "takes the place of"],
        ),
        // Gear ratios.
        data(
            ratios(json!([1.0, 1.76])),
            Contradiction,
            "setup.gearbox.ratios[1]",
            &["1.76 after 1", "ratios fall"],
        ),
        data(
            ratios(json!("2.1, 1.4, 1.4")),
            Contradiction,
            "setup.gearbox.ratios[2]",
            &["1.4 after 1.4"],
        ),
        data(
            ratios(json!([6, 5, 4, 3, 2, 1.5, 1.2, 1, 0.8])),
            TooLarge,
            "setup.gearbox.ratios",
            &["9 gears", "at most 8"],
        ),
        data(
            ratios(json!("2.1, first, 1")),
            WrongUnit,
            "setup.gearbox.ratios[1].ratio",
            &["first", "a number"],
        ),
        data(
            with("/setup/gearbox", json!({"low_ratio": 1.8, "ratios": [2.1, 1.4, 1]})),
            Contradiction,
            "setup.gearbox.ratios",
            &["\"low_ratio\" as well"],
        ),
        case(ratios(json!([])), Missing, "setup.gearbox.ratios", &["0 rows"]),
    ]
}

fn file_and_day() -> Vec<Case> {
    use ErrorKind::*;
    vec![
        // Unknown keys, at every level; the nearest known key is named.
        case(with("/titel", json!("x")), UnknownKey, "titel", &["timeline", "Did you mean"]),
        case(
            with("/initial_temps", json!({})),
            UnknownKey,
            "initial_temps",
            &["\"initial_temperatures\"?"],
        ),
        case(
            with("/setup/convertor", json!({})),
            UnknownKey,
            "setup.convertor",
            &["\"converter\"?"],
        ),
        case(
            with("/setup/air/temprature", json!("80 °F")),
            UnknownKey,
            "setup.air.temprature",
            &["\"temperature\"?"],
        ),
        case(
            with("/setup/fluid/clas", json!("atf")),
            UnknownKey,
            "setup.fluid.clas",
            &["\"class\"?"],
        ),
        case(
            with("/initial_temperatures/pan", json!("80 °F")),
            UnknownKey,
            "initial_temperatures.pan",
            &["\"pan_fluid\"?"],
        ),
        case(
            with("/timeline/0/durration", json!("5 s")),
            UnknownKey,
            "timeline[0].durration",
            &["\"duration\"?"],
        ),
        case(
            with("/timeline/1/until/at_or_bellow", json!("80 °F")),
            UnknownKey,
            "timeline[1].until.at_or_bellow",
            &["\"at_or_below\"?"],
        ),
        case(
            with("/timeline/1/circulation/0/rout", json!("pan_loop")),
            UnknownKey,
            "timeline[1].circulation[0].rout",
            &["\"route\"?"],
        ),
        case(
            with("/timeline/1/fan/0/begin", json!("1 s")),
            UnknownKey,
            "timeline[1].fan[0].begin",
            &["start, duration, until"],
        ),
        case(
            with("/timeline/2/event", json!([])),
            UnknownKey,
            "timeline[2].event",
            &["\"events\"?"],
        ),
        case(
            with("/timeline/2/rounds/1/turnaroud", json!("1 min")),
            UnknownKey,
            "timeline[2].rounds[1].turnaroud",
            &["\"turnaround\"?"],
        ),
        case(
            with("/timeline/2/events/1/slipp", json!(0.1)),
            UnknownKey,
            "timeline[2].events[1].slipp",
            &["\"slip\"?"],
        ),
        // Words that are none of the choices.
        case(
            with("/timeline/0/event", json!("ilde")),
            OutOfRange,
            "timeline[0].event",
            &["\"idle\"?", "brake_hold"],
        ),
        case(
            with("/setup/fluid/class", json!("honey")),
            OutOfRange,
            "setup.fluid.class",
            &["honey", "multi_vehicle"],
        ),
        case(
            with("/timeline/1/until/node", json!("pan")),
            OutOfRange,
            "timeline[1].until.node",
            &["\"pan_fluid\"?"],
        ),
        case(
            with("/timeline/1/circulation/0/route", json!("off")),
            OutOfRange,
            "timeline[1].circulation[0].route",
            &["pan_loop"],
        ),
        case(
            with("/timeline/0/circulation", json!("pan")),
            OutOfRange,
            "timeline[0].circulation",
            &["off", "\"pan_loop\"?"],
        ),
        case(
            with("/timeline/0/gear", json!("drive")),
            OutOfRange,
            "timeline[0].gear",
            &["neutral, in_gear"],
        ),
        case(with("/timeline/0/fan", json!("yes")), OutOfRange, "timeline[0].fan", &["off, on"]),
        // Units.
        case(
            with(AIR, json!("95 psi")),
            WrongUnit,
            AIR_FIELD,
            &["95 psi", "a pressure", "a temperature", "°F"],
        ),
        case(with(AIR, json!("95")), WrongUnit, AIR_FIELD, &["unit", "°F"]),
        case(with(AIR, json!(95)), WrongUnit, AIR_FIELD, &["95", "quotes", "°F"]),
        case(with(AIR, json!("95 furlong")), WrongUnit, AIR_FIELD, &["\"furlong\"", "°F"]),
        case(with(AIR, json!("9 °F 5 °F")), WrongUnit, AIR_FIELD, &["°F"]),
        case(with(AIR, json!("°F")), WrongUnit, AIR_FIELD, &["a number, then"]),
        case(with(AIR, json!("")), WrongUnit, AIR_FIELD, &["a number, then"]),
        case(with(AIR, json!("88,5 °F")), WrongUnit, AIR_FIELD, &["88,5"]),
        case(with(AIR, json!("NaN °F")), WrongUnit, AIR_FIELD, &["NaN", "a number"]),
        case(with(AIR, json!("inf")), WrongUnit, AIR_FIELD, &["inf", "a number"]),
        case(with(AIR, json!("1e999 °F")), WrongUnit, AIR_FIELD, &["1e999"]),
        case(
            with("/setup/converter/shell_mass", json!("31 °F")),
            WrongUnit,
            "setup.converter.shell_mass",
            &["a temperature", "a mass", "lb"],
        ),
        case(
            with("/timeline/0/duration", json!(360)),
            WrongUnit,
            "timeline[0].duration",
            &["a time", "min", "\"5 min\""],
        ),
        case(
            with("/timeline/0/duration", json!("6 m")),
            WrongUnit,
            "timeline[0].duration",
            &["a length", "a time", "min"],
        ),
        // Range, worded in the unit that was written.
        case(
            with(AIR, json!("1e308 °F")),
            OutOfRange,
            AIR_FIELD,
            &["from -22 °F to 131 °F", "131 °F or less"],
        ),
        case(with(AIR, json!("600 °F")), OutOfRange, AIR_FIELD, &["from -22 °F to 131 °F"]),
        case(with(AIR, json!("600 °C")), OutOfRange, AIR_FIELD, &["from -30 °C to 55 °C"]),
        case(with(AIR, json!("-600 °F")), OutOfRange, AIR_FIELD, &["-22 °F or more"]),
        case(
            with("/setup/converter/shell_mass", json!("-31 lb")),
            OutOfRange,
            "setup.converter.shell_mass",
            &["from 11.03 lb to 88.18 lb"],
        ),
        case(
            with("/setup/converter/shell_mass", json!("0 kg")),
            OutOfRange,
            "setup.converter.shell_mass",
            &["5 kg"],
        ),
        case(
            with("/setup/circulation", json!({"flow": "0 gpm"})),
            OutOfRange,
            "setup.circulation.flow",
            &["gpm", "or more"],
        ),
        case(
            with("/initial_temperatures/all", json!("900 °F")),
            OutOfRange,
            "initial_temperatures.all",
            &["°F"],
        ),
        case(
            with("/timeline/2/events/1/slip", json!(1.5)),
            OutOfRange,
            "timeline[2].events[1].slip",
            &["1.5", "from 0 to 1"],
        ),
        case(
            with("/timeline/0/engine_speed", json!("0 rpm")),
            OutOfRange,
            "timeline[0].engine_speed",
            &["300 rpm", "12000 rpm"],
        ),
        case(
            with("/timeline/0/duration", json!("0 min")),
            OutOfRange,
            "timeline[0].duration",
            &["from 0.05 s to 36 h"],
        ),
        case(
            with("/timeline/0/duration", json!("-5 min")),
            OutOfRange,
            "timeline[0].duration",
            &["0.05 s"],
        ),
        case(
            with("/timeline/0/duration", json!("37 h")),
            OutOfRange,
            "timeline[0].duration",
            &["36 h or less"],
        ),
        case(with("/timeline/0/start", json!("-1 s")), OutOfRange, "timeline[0].start", &["0 s"]),
        case(
            with("/timeline/2/rounds/0", json!("0 s")),
            OutOfRange,
            "timeline[2].rounds[0]",
            &["0.05 s"],
        ),
        case(with("/format", json!(2)), OutOfRange, "format", &["2", "format 1"]),
        case(with("/format", json!("1")), OutOfRange, "format", &["format 1"]),
        // Types.
        case(json!([]), WrongType, "scenario", &["an object"]),
        case(json!(7), WrongType, "scenario", &["7", "an object"]),
        case(json!(null), WrongType, "scenario", &["null"]),
        case(with("/name", json!(null)), WrongType, "name", &["null", "a text"]),
        case(with("/note", json!(["x"])), WrongType, "note", &["a list of 1", "a text"]),
        case(with("/setup", json!([])), WrongType, "setup", &["an object"]),
        case(with("/setup", json!(null)), WrongType, "setup", &["null"]),
        case(with("/setup/air", json!("hot")), WrongType, "setup.air", &["an object"]),
        case(with(AIR, json!(null)), WrongType, AIR_FIELD, &["null", "a number with a unit"]),
        case(with(AIR, json!(true)), WrongType, AIR_FIELD, &["true", "°F\""]),
        case(
            with(AIR, json!({"value": 95, "unit": "°F"})),
            WrongType,
            AIR_FIELD,
            &["an object", "a number with a unit"],
        ),
        case(with(AIR, json!(["95 °F"])), WrongType, AIR_FIELD, &["a list of 1"]),
        case(
            with("/setup/fluid/class", json!(3)),
            WrongType,
            "setup.fluid.class",
            &["3", "a word"],
        ),
        case(with("/timeline", json!({})), WrongType, "timeline", &["a list"]),
        case(with("/timeline", json!(null)), WrongType, "timeline", &["a list"]),
        case(with("/timeline/0", json!("idle")), WrongType, "timeline[0]", &["an object"]),
        case(with("/timeline/0", json!([[[]]])), WrongType, "timeline[0]", &["an object"]),
        case(with("/timeline/0/event", json!(false)), WrongType, "timeline[0].event", &["a word"]),
        case(
            with("/timeline/0/fan", json!(true)),
            WrongType,
            "timeline[0].fan",
            &["true", "a list"],
        ),
        case(
            with("/timeline/0/circulation", json!({"route": "pan_loop"})),
            WrongType,
            "timeline[0].circulation",
            &["a list"],
        ),
        case(
            with("/timeline/1/until", json!("cold")),
            WrongType,
            "timeline[1].until",
            &["an object"],
        ),
        case(
            with("/timeline/2/rounds", json!(6)),
            WrongType,
            "timeline[2].rounds",
            &["6", "a list"],
        ),
        case(with("/timeline/2/events", json!({})), WrongType, "timeline[2].events", &["a list"]),
        case(
            with("/timeline/2/rounds/1/change", json!([])),
            WrongType,
            "timeline[2].rounds[1].change",
            &["an object"],
        ),
        case(
            with("/timeline/2/rounds/1/change/brake_hold", json!("5 s")),
            WrongType,
            "timeline[2].rounds[1].change.brake_hold",
            &["an object"],
        ),
        case(
            with("/timeline/2/events/1/slip", json!([0.2])),
            WrongType,
            "timeline[2].events[1].slip",
            &["a number"],
        ),
        case(
            with("/timeline/2/events/1/slip", json!(null)),
            WrongType,
            "timeline[2].events[1].slip",
            &["null", "a number"],
        ),
        // Missing.
        case(without("/format"), Missing, "format", &["\"format\": 1"]),
        case(without("/name"), Missing, "name", &["\"name\""]),
        case(without("/timeline"), Missing, "timeline", &["\"timeline\""]),
        case(with("/timeline", json!([])), Missing, "timeline", &["at least one event"]),
        case(without("/timeline/0/event"), Missing, "timeline[0].event", &["\"event\": \"idle\""]),
        case(without("/timeline/0/duration"), Missing, "timeline[0].duration", &["until"]),
        case(without("/timeline/1/at_most"), Missing, "timeline[1].at_most", &["30 min"]),
        case(without("/timeline/1/until"), Contradiction, "timeline[1].at_most", &["until"]),
        case(
            without("/timeline/1/until/node"),
            Missing,
            "timeline[1].until.node",
            &["converter_fluid"],
        ),
        case(
            without("/timeline/1/until/at_or_below"),
            Missing,
            "timeline[1].until",
            &["at_or_above"],
        ),
        case(
            without("/timeline/1/circulation/0/route"),
            Missing,
            "timeline[1].circulation[0].route",
            &["through_converter"],
        ),
        case(without("/timeline/2/events"), Missing, "timeline[2].events", &["events"]),
        case(
            without("/timeline/2/rounds/1/turnaround"),
            Missing,
            "timeline[2].rounds[1].turnaround",
            &["45 min"],
        ),
        case(
            with("/timeline/2/rounds", json!([])),
            Missing,
            "timeline[2].rounds",
            &["at least one round"],
        ),
        case(
            with("/timeline/2/events", json!([])),
            Missing,
            "timeline[2].events",
            &["at least one event"],
        ),
        // Contradictions.
        case(
            with(
                "/timeline/0",
                json!({"event": "tow", "duration": "5 min", "engine_speed": "900 rpm"}),
            ),
            Contradiction,
            "timeline[0].engine_speed",
            &["engine is off during tow"],
        ),
        case(
            with("/timeline/0", json!({"event": "engine_off", "duration": "5 min", "slip": 0.1})),
            Contradiction,
            "timeline[0].slip",
            &["engine is off"],
        ),
        case(
            with("/timeline/2/events/0/gear", json!("in_gear")),
            Contradiction,
            "timeline[2].events[0].gear",
            &["only idle", "brake_hold"],
        ),
        case(
            with("/timeline/2/events/0/slip", json!(0.5)),
            Contradiction,
            "timeline[2].events[0].slip",
            &["brake_hold has no slip"],
        ),
        case(
            with("/timeline/1/duration", json!("5 min")),
            Contradiction,
            "timeline[1].duration",
            &["not both", "at_most"],
        ),
        case(
            with("/timeline/0/at_most", json!("5 min")),
            Contradiction,
            "timeline[0].at_most",
            &["until"],
        ),
        case(
            with("/timeline/0/duration", json!("rest")),
            Contradiction,
            "timeline[0].duration",
            &["round"],
        ),
        case(
            with("/timeline/2/events/0/duration", json!("rest")),
            Contradiction,
            "timeline[2].events[1].start",
            &["rest", "last"],
        ),
        case(
            with("/timeline/1/start", json!("2 min")),
            Contradiction,
            "timeline[1].start",
            &["starts at 2 min", "until 6 min"],
        ),
        case(
            with("/timeline/2/events/1/start", json!("1 s")),
            Contradiction,
            "timeline[2].events[1].start",
            &["starts at 1 s", "until 2.5 s"],
        ),
        case(
            with("/timeline/2/rounds/0", json!("12 s")),
            Contradiction,
            "timeline[2].rounds[0]",
            &["events of round 1", "12.5 s"],
        ),
        case(
            with("/timeline/1/circulation/1", json!({"route": "cooler_first", "start": "1 min"})),
            Contradiction,
            "timeline[1].circulation",
            &["one route at a time", "10 s"],
        ),
        case(
            with("/timeline/1/fan/1", json!({"start": "1 min"})),
            Contradiction,
            "timeline[1].fan",
            &["fan", "on or off"],
        ),
        case(
            with("/timeline/1/fan/0/start", json!("40 min")),
            Contradiction,
            "timeline[1].fan[0].start",
            &["over after 30 min"],
        ),
        case(
            with("/timeline/2/rounds/1/change/brake_hold/event", json!("idle")),
            Contradiction,
            "timeline[2].rounds[1].change.brake_hold.event",
            &["kind"],
        ),
        case(
            with("/timeline/2/rounds/1/change", json!({"burnout": {}})),
            UnknownKey,
            "timeline[2].rounds[1].change.burnout",
            &["brake_hold, pass, engine_off"],
        ),
        case(
            with("/setup/limits", json!({"window_low": "170 °F", "window_high": "150 °F"})),
            Contradiction,
            "setup.limits.window_low",
            &["window_high"],
        ),
        case(
            with("/setup/engine", json!({"peak_power": "900 hp", "peak_torque": "400 lbf ft"})),
            Contradiction,
            "setup.engine.peak_power",
            &["peak torque"],
        ),
        case(
            with("/timeline/2/events/1", json!({"event": "pass", "input_power": "400 hp"})),
            Contradiction,
            "timeline[2].events[1].input_power",
            &["computed"],
        ),
        case(
            with(
                "/timeline/2/events/1",
                json!({"event": "pass", "duration": "9 s", "distance": "quarter_mile"}),
            ),
            Contradiction,
            "timeline[2].events[1].distance",
            &["logged"],
        ),
        case(
            with("/timeline/2/events/1", json!({"event": "pass", "fan": [{"duration": "2 s"}]})),
            Contradiction,
            "timeline[2].events[1].fan",
            &["on or off"],
        ),
        case(with("/name", json!("\u{1b}[31mred")), OutOfRange, "name", &["control characters"]),
        case(with("/name", json!("abc\u{202e}def")), OutOfRange, "name", &["direction"]),
        case(with("/name", json!("  ")), Missing, "name", &["letter"]),
        case(with("/timeline/0/name", json!("")), Missing, "timeline[0].name", &["letter"]),
        case(
            with(
                "/timeline/0",
                json!({"event": "dyno_pull", "shifts": 2, "at_most": "100 s",
                    "until": {"node": "converter_fluid", "at_or_above": "200 °F"}}),
            ),
            Contradiction,
            "timeline[0].shifts",
            &["duration"],
        ),
        case(
            with(
                "/timeline/2/events/1",
                json!({"event": "pass", "at_most": "10 s",
                    "until": {"node": "converter_fluid", "at_or_above": "300 °F"}}),
            ),
            Contradiction,
            "timeline[2].events[1].until",
            &["duration"],
        ),
        case(
            with("/setup/cooler", json!({"ua": "800 W/K", "rated_air_flow": "100 cfm"})),
            Contradiction,
            "setup.cooler.ua",
            &["rated air flow"],
        ),
        case(
            with("/setup/fluid", json!({"kv40": "16 mm²/s", "kv100": "20 mm²/s"})),
            Contradiction,
            "setup.fluid.kv100",
            &["kv40"],
        ),
        case(
            with("/timeline/2/events/1/torque_ratio", json!(1.5)),
            Contradiction,
            "timeline[2].events[1].torque_ratio",
            &["1.5", "at most 1.25 with a slip of 0.2", "more power"],
        ),
        // Too large.
        case(with("/name", json!("x".repeat(200_000))), TooLarge, "name", &["120 characters"]),
        case(with("/note", json!("x".repeat(200_000))), TooLarge, "note", &["4000 characters"]),
        case(
            with("/timeline/0/name", json!("x".repeat(61))),
            TooLarge,
            "timeline[0].name",
            &["60 characters"],
        ),
        case(with(AIR, json!("7".repeat(200_000))), WrongUnit, AIR_FIELD, &["a temperature"]),
        case(
            with(AIR, json!(format!("7 {}", "k".repeat(200_000)))),
            WrongUnit,
            AIR_FIELD,
            &["kkk"],
        ),
        case(
            with(&format!("/{}", "k".repeat(200_000)), json!(1)),
            UnknownKey,
            "kkk",
            &["known here"],
        ),
        case(with("/line\nbreak\u{1b}[31m", json!(1)), UnknownKey, "line", &["known here"]),
        case(
            with(
                "/timeline",
                json!(vec![json!({"event": "engine_off", "duration": "1 s"}); 10_000]),
            ),
            TooLarge,
            "timeline",
            &["10000 events", "at most 2000"],
        ),
        case(
            with("/timeline/2/rounds", json!(vec!["1 min"; 2_001])),
            TooLarge,
            "timeline[2].rounds",
            &["at most 2000"],
        ),
        case(
            with("/timeline/2/rounds", json!(vec!["1 min"; 667])),
            TooLarge,
            "timeline[2].rounds",
            &["2001", "at most 2000"],
        ),
        case(
            with(
                "/timeline/1/fan",
                json!(
                    (0..17)
                        .map(|i| json!({"start": format!("{i} s"), "duration": "0.5 s"}))
                        .collect::<Vec<_>>()
                ),
            ),
            TooLarge,
            "timeline[1].fan",
            &["16"],
        ),
        case(
            with("/timeline/2/rounds", json!(vec!["24 h"; 4])),
            TooLarge,
            "timeline",
            &["96 h", "at most 36 h"],
        ),
    ]
}

#[test]
fn the_good_scenario_is_good() {
    scenario::parse(&good().to_string()).unwrap();
}

#[test]
fn every_bad_scenario_is_refused_by_name() {
    let mut failures = Vec::new();
    for case in corpus() {
        let error = refusal(&case.scenario.to_string());
        let message = format!("{} {} {} {}", error.field, error.value, error.limit, error.remedy);
        let missing: Vec<_> = case.words.iter().filter(|word| !message.contains(**word)).collect();
        let field_right = error.field == case.field
            || error.field.starts_with("kkk") && case.field == "kkk"
            || error.field.starts_with("line") && case.field == "line";
        if error.kind != case.kind || !field_right || !missing.is_empty() {
            failures.push(format!(
                "wanted {:?} {} {missing:?}\n   got {:?} {error}",
                case.kind, case.field, error.kind
            ));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn text_that_is_not_json_is_refused_with_its_place() {
    let good = good().to_string();
    let half = &good[..good.len() / 2];
    let doubled = good.replacen("\"name\":", "\"format\":1,\"name\":", 1);
    let deep_list = "[".repeat(100_000);
    let deep_object = "{\"a\":".repeat(100_000);
    let huge_number = good.replacen("0.2", "1e999", 1);
    let cases: [(&str, &str); 12] = [
        ("", "empty"),
        (" \n\t ", "empty"),
        ("\u{feff}", "empty"),
        ("hello", "not JSON near: hello"),
        ("PK\u{3}\u{4}\0\0", "not JSON near: PK"),
        ("name: Saturday\nformat: 1\n", "not JSON near: name: Saturday format"),
        (half, "the text ends too soon"),
        (&doubled, "the key \"format\" stands twice"),
        (&deep_list, "nested too deeply"),
        (&deep_object, "nested too deeply"),
        (&huge_number, "1e999"),
        ("{\"format\": NaN}", "NaN"),
    ];
    for (text, words) in cases {
        let error = refusal(text);
        assert_eq!(error.kind, ErrorKind::NotJson, "{error}");
        assert!(error.value.contains(words), "wanted {words:?}: {error}");
        assert!(error.field == "file" || error.field.starts_with("line 1, column "), "{error}");
    }
    let two = refusal("{}\n {}");
    assert_eq!(
        (two.field.as_str(), two.value.as_str()),
        ("line 2, column 2", "not JSON near: {}  {}")
    );
    let twice = r#"{"setup": {"cooler": {"ua": 1, "fan_current": 3, "ua": 2}}}"#;
    assert_eq!(refusal(twice).field, "setup.cooler");
}

#[test]
fn every_truncation_of_a_good_file_is_refused() {
    let text = good().to_string();
    for (at, _) in text.char_indices() {
        refusal(&text[..at]);
    }
}

#[test]
fn a_byte_order_mark_is_no_mistake() {
    scenario::parse(&format!("\u{feff}{}", good())).unwrap();
}

#[test]
fn a_file_beyond_the_largest_is_refused_before_it_is_read() {
    let error = refusal(&"[".repeat(scenario::MAX_BYTES + 1));
    assert_eq!(error.kind, ErrorKind::TooLarge);
    assert!(error.limit.contains("2 MB"), "{error}");
}

/// Any value of any type at any place of the good scenario: an error with all its parts, or acceptance.
#[test]
fn no_value_at_any_place_makes_it_panic() {
    fn pointers(value: &Value, at: &str, found: &mut Vec<String>) {
        found.push(at.to_string());
        match value {
            Value::Object(map) => {
                map.iter().for_each(|(key, child)| pointers(child, &format!("{at}/{key}"), found));
            }
            Value::Array(items) => {
                let children = items.iter().enumerate();
                children.for_each(|(i, child)| pointers(child, &format!("{at}/{i}"), found));
            }
            _ => {}
        }
    }
    let mut places = Vec::new();
    pointers(&good(), "", &mut places);
    let values = [
        json!(null),
        json!(true),
        json!(0),
        json!(-1),
        json!(1e308),
        json!(u64::MAX),
        json!(""),
        json!("\u{0}\n\u{2028}"),
        json!("rest"),
        json!("-0 s"),
        json!("1e-320 s"),
        json!("1e300 s 1e300 s"),
        json!([]),
        json!([null]),
        json!([[{}]]),
        json!({}),
        json!({"event": null}),
        json!({"rounds": [{}], "events": [1]}),
    ];
    let mut refused = 0;
    for place in &places {
        for value in &values {
            let mut scenario = good();
            *scenario.pointer_mut(place).unwrap() = value.clone();
            if let Err(error) = scenario::parse(&scenario.to_string()) {
                check_wording(&error);
                refused += 1;
            }
        }
    }
    let tried = places.len() * values.len();
    assert!(refused > tried * 9 / 10, "only {refused} of {tried} refused");
}

/// A limit that a message states is itself accepted, in every unit that can be written.
#[test]
fn stated_limits_are_accepted() {
    for parameter in PARAMETERS {
        for unit in UNITS.iter().filter(|unit| unit.dimension == parameter.dimension) {
            if unit.dimension == Dimension::One {
                continue;
            }
            for beyond in ["1e200", "-1e200"] {
                let path = format!("/setup/{}", parameter.part);
                let stated = |text: &str| with(&path, json!({ parameter.key: text })).to_string();
                let error = refusal(&stated(&format!("{beyond} {}", unit.symbol)));
                assert_eq!(error.kind, ErrorKind::OutOfRange, "{error}");
                let (least, most) =
                    error.limit.strip_prefix("from ").unwrap().split_once(" to ").unwrap();
                for limit in [least, most] {
                    // Times are worded as people say them, "50 h" even where seconds were written.
                    let worded = match parameter.dimension {
                        Dimension::Time => [" s", " min", " h"].iter().any(|u| limit.ends_with(u)),
                        _ => limit.ends_with(unit.symbol),
                    };
                    assert!(worded, "{error}");
                    if let Err(error) = scenario::parse(&stated(limit)) {
                        assert_eq!(error.kind, ErrorKind::Contradiction, "{limit}: {error}");
                    }
                }
            }
        }
    }
}

#[test]
fn the_schema_accepts_what_is_good() {
    let validator = jsonschema::validator_for(&schema()).unwrap();
    let files = std::fs::read_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/scenarios")).unwrap();
    let mut seen = 0;
    for path in files.map(|entry| entry.unwrap().path()) {
        if path.extension().is_some_and(|extension| extension == "json") {
            let value: Value =
                serde_json::from_str(&std::fs::read_to_string(&path).unwrap()).unwrap();
            let mistakes: Vec<String> = validator
                .iter_errors(&value)
                .map(|e| format!("{}: {e}", e.instance_path))
                .collect();
            assert!(mistakes.is_empty(), "{}: {mistakes:?}", path.display());
            seen += 1;
        }
    }
    assert!(seen >= 2);
    assert!(validator.is_valid(&good()));
}

#[test]
fn the_schema_and_the_gate_accept_every_default_and_limit() {
    let validator = jsonschema::validator_for(&schema()).unwrap();
    for parameter in PARAMETERS {
        let unit = parameter.display_unit();
        for value_si in [parameter.default_si(), parameter.min_si(), parameter.max_si()] {
            let value = unit.from_si(value_si);
            let value = match parameter.dimension {
                Dimension::One => json!(value),
                _ => json!(format!("{value} {}", unit.symbol)),
            };
            let scenario =
                with(&format!("/setup/{}", parameter.part), json!({ parameter.key: value }));
            assert!(validator.is_valid(&scenario), "{} {value}", parameter.path());
            if value_si == parameter.default_si() {
                scenario::parse(&scenario.to_string()).unwrap();
            }
        }
    }
}

#[test]
fn the_schema_refuses_what_breaks_the_shape() {
    let validator = jsonschema::validator_for(&schema()).unwrap();
    let mut tried = 0;
    for case in corpus().iter().filter(|case| case.shape) {
        assert!(!validator.is_valid(&case.scenario), "{:?} {}", case.kind, case.field);
        tried += 1;
    }
    assert!(tried > 40, "{tried}");
}
