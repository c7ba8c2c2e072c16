//! Sizes: against brute force, against a closed form, and by what must hold whatever the numbers; the command line.

mod common;

use std::process::{Command, Output};

use stallheat::chart::Options;
use stallheat::fluid::Fluid;
use stallheat::root::rising_root;
use stallheat::scenario::{self, Scenario};
use stallheat::simulate::simulate;
use stallheat::size::{
    After, Aim, Axis, Case, Cooling, Found, MapWork, Other, Sized, Unknown, answer, contours_svg,
    size,
};
use stallheat::timeline::{EventEnd, EventKind, Node, Route};
use stallheat::transmission::Path;
use stallheat::units::{System, significant};

fn file(name: &str) -> String {
    format!("{}/scenarios/{name}.json", env!("CARGO_MANIFEST_DIR"))
}

fn saturday() -> Scenario {
    scenario::parse(&std::fs::read_to_string(file("saturday_bracket_day")).unwrap()).unwrap()
}

/// The Saturday until after its second round, with a window so cool that there is something to cool.
fn hot() -> Scenario {
    let mut day = saturday();
    day.setup.limits.window_low_k = kelvin(100.0);
    day.setup.limits.window_high_k = kelvin(130.0);
    day.blocks.truncate(3);
    day
}

fn kelvin(fahrenheit: f64) -> f64 {
    (fahrenheit + 459.67) / 1.8
}

fn back_in(minutes: f64) -> Aim {
    Aim::BackIn { within_s: minutes * 60.0, after: After::Hottest, cooling: Cooling::OwnRoute }
}

fn solved(case: &Case, unknown: Unknown, system: System) -> Sized {
    size(case, unknown, system, &mut |_, _| ()).unwrap()
}

fn value(sized: &Sized) -> f64 {
    match sized.found {
        Found::Value { value, at_end: false, .. } => value,
        other => panic!("{:?}: {other:?}", sized.unknown),
    }
}

/// Days, aims and unknowns that have an answer inside the range.
fn questions() -> Vec<(Case, Unknown)> {
    let case = |aim: Aim| Case::new(&hot(), aim, None).unwrap();
    let written =
        Aim::BackIn { within_s: 600.0, after: After::Round(1), cooling: Cooling::AsWritten };
    let launch = |fahrenheit: f64| Aim::LaunchesAtMost {
        node: Node::PanFluid,
        temperature_k: kelvin(fahrenheit),
    };
    let hold = Unknown::Hold { round: None };
    vec![
        (case(back_in(8.0)), Unknown::Cooler),
        (case(back_in(6.0)), Unknown::Fan),
        (case(back_in(7.0)), hold),
        (case(written), Unknown::Cooler),
        (case(launch(134.0)), Unknown::Fluid),
        (case(launch(140.0)), hold),
        (case(launch(140.0)), Unknown::Cooler),
        (case(Aim::ConverterAtMost { temperature_k: kelvin(340.0) }), hold),
        (
            case(Aim::ConverterAtMost { temperature_k: kelvin(330.0) }),
            Unknown::Hold { round: Some(2) },
        ),
    ]
}

#[test]
fn an_answer_meets_its_aim_and_the_number_before_it_does_not() {
    for (case, unknown) in questions() {
        for system in [System::Us, System::Si] {
            let sized = solved(&case, unknown, system);
            let found = value(&sized);
            let unit = unknown.unit(system);
            let digit = 10f64.powi(found.log10().floor() as i32 - 2);
            let past = if unknown.is_wanted_large() { found + digit } else { found - digit };
            let measured = |value: f64| case.measure(&[(unknown, unit.to_si(value))]);
            let name = format!("{unknown:?} of {:?}: {found} {}", case.aim(), unit.symbol);
            assert!(measured(found).meets(), "{name}");
            assert!(!measured(past).meets(), "{name}, {past}");
            // The number that is written is the number that was simulated.
            let said = answer(&case, &sized).text.unwrap();
            let read = stallheat::units::parse_quantity(unit.dimension, &said).unwrap();
            assert!(case.measure(&[(unknown, read)]).meets(), "{name}: {said}");
        }
    }
}

/// A time on the brake ends where the converter fluid passes its limit on the brake, whatever the aim; cold launches are
/// not held against it.
#[test]
fn a_hold_ends_at_the_limit_of_the_converter_fluid() {
    let hold = Unknown::Hold { round: None };
    let limit_k = saturday().setup.limits.converter_fluid_k;
    for aim in [back_in(30.0), Aim::LaunchesInWindow] {
        let case = Case::new(&saturday(), aim, None).unwrap();
        let sized = solved(&case, hold, System::Us);
        let longest_s = value(&sized);
        let peak_k = |hold_s: f64| {
            let mut day = saturday();
            for event in day.blocks.iter_mut().flat_map(|block| &mut block.events) {
                if event.kind == EventKind::BrakeHold {
                    event.end = EventEnd::Duration(hold_s);
                }
            }
            let trace = simulate(&day).unwrap();
            let held = trace.events.iter().filter(|event| event.kind == EventKind::BrakeHold);
            held.map(|event| trace.temperature_at_k(Node::ConverterFluid, event.end_s))
                .fold(0.0, f64::max)
        };
        assert!(peak_k(longest_s) <= limit_k + 0.05, "{aim:?}: {longest_s} s");
        assert!(peak_k(1.02 * longest_s) > limit_k, "{aim:?}: {longest_s} s");
        let found = answer(&case, &sized);
        let said = found.conditions.join(" ");
        assert!(said.contains("passes its limit of 302"), "{said}");
        // The longest time that does is a bound, and the day's own is no want of anything.
        let said = found.sentence.replace('\u{a0}', " ");
        assert!(said.starts_with("2.5 s on the brake is not too long as it is: "), "{said}");
        assert!(
            said.ends_with(&format!("Up to {} s would do.", significant(longest_s, 3))),
            "{said}"
        );
    }
}

/// Asked for one round, the answer is of that round's hold, changes it alone and says so.
#[test]
fn the_hold_of_one_round_is_named() {
    let case = Case::new(&saturday(), Aim::LaunchesInWindow, None).unwrap();
    let hold = Unknown::Hold { round: Some(3) };
    let sized = solved(&case, hold, System::Us);
    let found = answer(&case, &sized);
    assert!(found.sentence.contains("on the brake in round 3"), "{}", found.sentence);
    assert!(found.conditions.iter().any(|line| line.starts_with("Only the hold of round 3 ")));
    let every = solved(&case, Unknown::Hold { round: None }, System::Us);
    assert_ne!(value(&sized), value(&every), "the other rounds bind no more");
}

/// Two hundred values over the range, each simulated.
#[test]
fn no_value_of_a_fine_grid_is_better_than_the_answer() {
    for (case, unknown) in questions() {
        let sized = solved(&case, unknown, System::Si);
        let found = value(&sized);
        let unit = unknown.unit(System::Si);
        let (low, high) = sized.range;
        let from = low.max(30.0 * f64::from(u8::from(low == 0.0)));
        let ratio = (high / from).powf(1.0 / 200.0);
        let grid: Vec<f64> = (0..=200).map(|place| from * ratio.powi(place)).collect();
        let mut meeting = grid
            .iter()
            .copied()
            .filter(|value| case.measure(&[(unknown, unit.to_si(*value))]).meets());
        let best =
            if unknown.is_wanted_large() { meeting.next_back() } else { meeting.next() }.unwrap();
        let share = best / found;
        // The grid's own step is its accuracy; the answer may be better by so much, but not worse by more than a digit.
        let better = if unknown.is_wanted_large() { 1.0 / share } else { share };
        assert!(better > 0.99 && better < ratio * 1.01, "{unknown:?}: {found}, grid {best}");
    }
}

/// A lumped heat capacity with a steady source cools as `t = C/UA·ln((T0 − Ta − P/UA)/(T − Ta − P/UA))` (Incropera,
/// chapter 5; from memory). Twenty litres in the pan loop; the pump's heat `P` is the day's own. Both streams change on
/// their way through the core: with the mean of inlet and outlet on both sides, `1/UA_lumped = 1/UA + 1/2C_oil +
/// 1/2C_air`, to second order in its transfer units (a tenth to a fifth). Left out: links of 2.5 W/K to case and
/// gears, which begin half way so that they take first and give back later; the core's own heat; how the oil side
/// goes with a flow that thickens.
#[test]
fn a_lumped_pan_cools_in_the_time_of_the_closed_form() {
    let text = r#"{
      "format": 1, "name": "lumped",
      "setup": {
        "air": { "temperature": "30 °C" },
        "transmission": { "pan_volume": "20 L", "pan_to_case": "2 W/K", "pan_to_gears": "0.5 W/K", "lubrication_effectiveness": 0 },
        "cooler": { "ua": "60 W/K", "rated_oil_flow": "40 L/min", "rated_air_flow": "6000 m³/h", "fan_air_flow": "6000 m³/h", "metal_mass": "0.3 kg", "fluid_volume": "0.1 L" },
        "circulation": { "flow": "40 L/min" },
        "limits": { "window_low": "50 °C", "window_high": "60 °C" }
      },
      "initial_temperatures": { "pan_fluid": "110 °C", "gear_train": "80 °C", "case": "80 °C", "cooler_core": "70 °C" },
      "timeline": [
        { "event": "pass", "duration": "1 s", "input_power": "0 kW", "slip": 0, "shifts": 0 },
        { "event": "engine_off", "duration": "1 h" }
      ]
    }"#;
    let day = scenario::parse(text).unwrap();
    for minutes in [5.0, 8.0, 12.0] {
        let aim = Aim::BackIn {
            within_s: minutes * 60.0,
            after: After::Last,
            cooling: Cooling::Route(Route::PanLoop),
        };
        let case = Case::new(&day, aim, None).unwrap();
        let found = value(&solved(&case, Unknown::Cooler, System::Si));
        let fluid: Fluid = day.setup.stated_fluid();
        let heat_j_per_k = 0.02
            * day.setup.fluid.density15_kg_per_m3
            * fluid.specific_heat_j_per_kg_k(273.15 + 85.0);
        let within_s = minutes * 60.0;
        let mut built = case.scenario().clone();
        built.setup.cooler.ua_w_per_k = found;
        let trace = simulate(&built).unwrap();
        let due = trace.samples.partition_point(|sample| sample.time_s < 1.0 + within_s);
        let pumped_j = trace.samples[due].path_j[Path::CirculationPump.index()];
        let pump_w = pumped_j / trace.samples[due].time_s;
        let cools_s = |lumped_w_per_k: f64| {
            let rise_k = pump_w / lumped_w_per_k;
            heat_j_per_k / lumped_w_per_k * ((80.0 - rise_k) / (30.0 - rise_k)).ln()
        };
        let lumped_w_per_k = rising_root(20.0, 400.0, 1e-6, |ua| within_s - cools_s(ua));
        let oil_w_per_k = 40e-3 / 60.0 * 860.0 * fluid.specific_heat_j_per_kg_k(273.15 + 85.0);
        let air_w_per_k = 6000.0 / 3600.0 * 1.16 * 1007.0;
        let expected = 1.0 / (1.0 / lumped_w_per_k - 0.5 / oil_w_per_k - 0.5 / air_w_per_k);
        let off = found / expected - 1.0;
        assert!(
            off.abs() < 0.03,
            "{minutes} min: {found:.1} for {expected:.1} W/K, pump {pump_w:.0} W"
        );
    }
}

/// Statements that hold whatever the numbers, each over its whole range.
#[test]
fn more_cooling_is_never_slower_and_hotter_air_never_quicker() {
    let case = Case::new(&hot(), back_in(8.0), None).unwrap();
    let rising = |unknown: Unknown, low: f64, high: f64| -> Vec<f64> {
        let at = |place: usize| low * (high / low).powf(place as f64 / 11.0);
        (0..12).map(|place| case.measure(&[(unknown, at(place))]).value).collect()
    };
    // Half a second: where the pan falls by a hundredth of a kelvin a second that is what solutions are good to.
    let falls = |times: &[f64]| times.windows(2).all(|pair| pair[1] <= pair[0] + 0.5);
    let cooler = rising(Unknown::Cooler, 10.0, 1000.0);
    assert!(falls(&cooler), "{cooler:?}");
    let fan = rising(Unknown::Fan, 0.01, 1.6);
    assert!(falls(&fan), "{fan:?}");
    let mut hold = rising(Unknown::Hold { round: None }, 0.5, 8.0);
    hold.reverse();
    assert!(falls(&hold), "{hold:?}");
    let mut air: Vec<f64> = [-10.0, 0.0, 10.0, 20.0, 30.0, 35.0]
        .map(|celsius| case.measure(&[(Unknown::Air, 273.15 + celsius)]).value)
        .to_vec();
    air.reverse();
    assert!(falls(&air), "{air:?}");
}

/// More pump flow does not always help. On its way from converter to pan the fluid passes the cooler; the quicker it
/// passes, the less it is cooled there and the sooner the converter's heat is in the pan. A minute after shut-off there
/// is a best flow; in the pan loop, where no heat comes along, more is never warmer (but for the pump's own heat).
#[test]
fn there_is_a_best_flow_through_a_hot_converter_and_none_in_the_pan_loop() {
    let mut day = hot();
    day.setup.limits.window_high_k = kelvin(150.0);
    let excess_k = |route: Route, l_per_min: f64| {
        let cooling = Cooling::Route(route);
        let aim = Aim::BackIn { within_s: 60.0, after: After::Round(1), cooling };
        Case::new(&day, aim, None).unwrap().measure(&[(Unknown::Pump, l_per_min / 60e3)]).excess_k
    };
    let through = [0.5, 4.0, 12.0].map(|flow| excess_k(Route::ThroughConverter, flow));
    assert!(through[1] < through[0] - 0.5 && through[1] < through[2] - 0.5, "{through:?}");
    let around = [0.5, 1.0, 2.0, 4.0, 8.0, 16.0].map(|flow| excess_k(Route::PanLoop, flow));
    assert!(around.windows(2).all(|pair| pair[1] <= pair[0] + 0.05), "{around:?}");
}

#[test]
fn the_sensitivity_is_the_answer_to_the_question_asked_otherwise() {
    let ask = |minutes: f64, air_k: Option<f64>| {
        let case = Case::new(&hot(), back_in(minutes), air_k).unwrap();
        solved(&case, Unknown::Cooler, System::Us)
    };
    let sized = ask(8.0, None);
    let air_k = hot().setup.air.temperature_k;
    let mut seen = 0;
    for nearby in &sized.nearby {
        let again = match nearby.what {
            Other::Time(by_s) => ask(8.0 + by_s / 60.0, None),
            Other::Air(by_k) => ask(8.0, Some(air_k + by_k)),
            Other::Temperature(_) => panic!("no temperature was asked"),
        };
        // The rest that is looked at ends at another time: the last digit may differ.
        let Found::Value { value: near, .. } = nearby.found else { panic!("{nearby:?}") };
        assert!((near / value(&again) - 1.0).abs() < 0.011, "{nearby:?} and {:?}", again.found);
        seen += 1;
    }
    assert_eq!(seen, 3);
    let [less, more] = sized.tenth.map(Option::unwrap);
    assert!(less.1.value > more.1.value && !less.1.meets() && more.1.meets());
}

#[test]
fn other_air_moves_what_starts_at_air_temperature_and_nothing_else() {
    let text = r#"{ "format": 1, "name": "air", "setup": { "air": { "temperature": "70 °F" } },
      "initial_temperatures": { "pan_fluid": "150 °F" },
      "timeline": [ { "event": "pass", "distance": "eighth_mile" }, { "event": "engine_off", "duration": "20 min" } ] }"#;
    let day = scenario::parse(text).unwrap();
    let case = Case::new(&day, back_in(5.0), Some(kelvin(95.0))).unwrap();
    for node in Node::ALL {
        let expected = if node == Node::PanFluid { 150.0 } else { 95.0 };
        let start = common::fahrenheit(case.scenario().initial_temperature_k[node.index()]);
        assert!((start - expected).abs() < 1e-9, "{node:?}: {start}");
    }
}

#[test]
fn the_search_ends_where_the_gate_does_and_says_so() {
    let mut day = hot();
    day.setup.cooler.rated_air_flow_m3_per_s = 0.05;
    day.setup.cooler.ua_w_per_k = 100.0;
    let case = Case::new(&day, back_in(1.0), None).unwrap();
    let sized = solved(&case, Unknown::Cooler, System::Si);
    let largest = scenario::largest_ua_w_per_k(&day.setup);
    assert!(sized.range.1 <= largest && sized.range.1 > 0.98 * largest, "{:?}", sized.range);
    let said = answer(&case, &sized);
    assert!(
        said.conditions.iter().any(|line| line.contains("the most that its rated air flow allows"))
    );
    let axis = Axis::around(&case, Unknown::Cooler, None, 9, System::Si).unwrap();
    assert!(axis.values.iter().all(|value| *value <= largest * (1.0 + 1e-12)));
}

/// Too much is as wrong as too little: the window around what the day is has two ends, both found, both met, and missed
/// beyond. It is narrow, so that the coarse grid has no value in it.
#[test]
fn a_narrow_window_is_found_between_the_values_of_the_grid_with_both_its_ends() {
    let mut day = hot();
    let base = simulate(&day).unwrap();
    let pans_k = base.launches.iter().map(|launch| launch.temperature_k[Node::PanFluid.index()]);
    let (low_k, high_k) = (pans_k.clone().fold(999.0, f64::min), pans_k.fold(0.0, f64::max));
    day.setup.limits.window_low_k = low_k - 0.2;
    day.setup.limits.window_high_k = high_k + 0.2;
    let case = Case::new(&day, Aim::LaunchesInWindow, None).unwrap();
    let sized = solved(&case, Unknown::Cooler, System::Si);
    let Found::Value { value: least, other: Some(most), .. } = sized.found else {
        panic!("{:?}", sized.found)
    };
    let meets = |ua: f64| case.measure(&[(Unknown::Cooler, ua)]).meets();
    assert!(least < 110.0 && 110.0 < most && most / least < 1.4, "{least} to {most} W/K");
    let digit = |value: f64| 10f64.powi(value.log10().floor() as i32 - 2);
    assert!(meets(least) && !meets(least - digit(least)), "{least}");
    assert!(meets(most) && !meets(most + digit(most)), "{most}");
}

#[test]
fn what_changes_nothing_is_said_to_change_nothing() {
    let mut day = hot();
    for event in day.blocks.iter_mut().flat_map(|block| &mut block.events) {
        event.circulation.clear();
    }
    let case = Case::new(&day, Aim::LaunchesInWindow, None).unwrap();
    let said = answer(&case, &solved(&case, Unknown::Pump, System::Us));
    assert_eq!((said.outcome, said.value), ("flat", None));
    assert!(said.sentence.contains("makes no difference"), "{}", said.sentence);
}

#[test]
fn a_chart_has_the_measured_values_and_its_heavy_line_goes_through_the_answer() {
    let case = Case::new(&hot(), back_in(8.0), None).unwrap();
    let found = value(&solved(&case, Unknown::Cooler, System::Us));
    let x = Axis::around(&case, Unknown::Cooler, Some(found), 11, System::Us).unwrap();
    let y = Axis::around(&case, Unknown::Pump, None, 7, System::Us).unwrap();
    let mut work = MapWork::new(&case, x, y, System::Us).unwrap();
    assert_eq!((work.step(5), work.of()), (5, 77));
    while work.step(20) < 77 {}
    let map = work.finish(Some(found));
    for place in [0, 30, 76] {
        let (x, y) = (map.x.values[place % 11], map.y.values[place / 11]);
        let units = [Unknown::Cooler, Unknown::Pump].map(|one| one.unit(System::Us));
        let measured = case
            .measure(&[(Unknown::Cooler, units[0].to_si(x)), (Unknown::Pump, units[1].to_si(y))]);
        assert_eq!(map.values[place], measured.value / 60.0);
        assert_eq!(map.meets[place], measured.meets());
    }
    let (now, span) = (map.y.present, map.x.values[10] - map.x.values[0]);
    let crossing = map
        .lines
        .iter()
        .filter(|line| line.is_aim)
        .flat_map(|line| line.points.windows(2))
        .find(|pair| (pair[0].1 - now) * (pair[1].1 - now) <= 0.0)
        .map(|pair| pair[0].0.midpoint(pair[1].0))
        .unwrap();
    // A grid of eleven: within a fiftieth of the axis.
    assert!((crossing - found).abs() < span / 50.0, "{crossing} and {found}");
    assert!(map.lines.iter().filter(|line| !line.is_aim).count() > 2);
    for (width_px, dark) in [(320.0, false), (640.0, true)] {
        let options =
            Options { width_px, height_px: 300.0, dark, paper: true, ..Options::default() };
        let svg = contours_svg(&map, &options).unwrap();
        let read = roxmltree::Document::parse(&svg).unwrap();
        let texts: Vec<&str> = read.descendants().filter_map(|node| node.text()).collect();
        for wanted in ["8 min", "now", "answer", "Cooler size, W/K", "Pump flow, gpm"] {
            assert!(texts.contains(&wanted), "{wanted} in {texts:?}");
        }
    }
    let twice = Axis::around(&case, Unknown::Cooler, None, 11, System::Us).unwrap();
    assert!(MapWork::new(&case, twice.clone(), twice, System::Us).is_err());
    assert!(Axis::around(&case, Unknown::Pump, None, 26, System::Us).is_err());
}

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_stallheat")).arg("size").args(arguments).output().unwrap()
}

#[test]
fn the_command_answers_and_its_number_put_into_the_day_meets_the_aim() {
    let day = file("saturday_bracket_day");
    let out = run(&[&day, "--find", "cooler", "--back-in", "12", "--air", "95", "--json"]);
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let found: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    assert_eq!(found["round"], 6);
    let mut scenario = saturday();
    scenario.setup.cooler.ua_w_per_k = found["value"].as_f64().unwrap();
    let case = Case::new(&scenario, back_in(12.0), Some(kelvin(95.0))).unwrap();
    assert!(case.measure(&[]).meets());
    assert!((case.measure(&[]).value / 60.0 - found["measure"].as_f64().unwrap()).abs() < 1e-9);

    let svg = std::env::temp_dir().join(format!("stallheat-size-{}.svg", std::process::id()));
    let drawn = run(&[
        &day,
        "--find",
        "hold",
        "--converter-at-most",
        "350 °F",
        "--against",
        "air",
        "--cells",
        "5",
        "--svg",
        svg.to_str().unwrap(),
    ]);
    let text = String::from_utf8(drawn.stdout).unwrap();
    assert!(text.contains("on the brake") && text.contains("* meets the aim"), "{text}");
    assert!(std::fs::read_to_string(&svg).unwrap().contains("Air temperature, °F"));
    std::fs::remove_file(&svg).unwrap();
}

#[test]
fn the_command_refuses_with_field_value_limit_and_remedy() {
    let day = file("saturday_bracket_day");
    let cases: [(&[&str], &[&str]); 9] = [
        (
            &["--find", "cooler", "--back-in", "12", "--after", "9"],
            &["round 9", "1, 2, 3, 4, 5, 6"],
        ),
        (&["--find", "cooler", "--back-in", "soon"], &["--back-in", "soon", "a time"]),
        (&["--find", "cooler", "--back-in", "500"], &["500 min", "0.5 to 240 min"]),
        (&["--find", "cooler", "--launch-at-most", "700"], &["700 °F", "392 °F"]),
        (&["--find", "cooler", "--back-in", "9", "--air", "200"], &["air", "200 °F", "131 °F"]),
        (&["--find", "cooler", "--launches-in-window", "--after", "2"], &["--after", "--back-in"]),
        (
            &["--find", "cooler", "--back-in", "9", "--hold-round", "2"],
            &["--hold-round", "--find hold"],
        ),
        (
            &["--find", "hold", "--back-in", "9", "--hold-round", "8"],
            &["brake_hold", "none in round 8"],
        ),
        (&["--find", "cooler", "--back-in", "9", "--against", "cooler"], &["against", "cooler"]),
    ];
    for (arguments, wanted) in cases {
        let out = run(&[&[day.as_str()], arguments].concat());
        let said = String::from_utf8(out.stderr).unwrap();
        assert_eq!(out.status.code(), Some(1), "{arguments:?}: {said}");
        for part in wanted {
            assert!(said.contains(part), "{part} in {said}");
        }
    }
    let no_pass = run(&[&file("dyno_bench_session"), "--find", "cooler", "--back-in", "9"]);
    assert!(String::from_utf8_lossy(&no_pass.stderr).contains("no pass in this day"));
    assert_eq!(run(&[&day, "--find", "cooler"]).status.code(), Some(2), "no aim");
}
