//! What else a set-up may state: altitude for pressure, stall speed at a torque, a cooler by its rating, and tables as
//! lists and as text of spreadsheets. Each is read from a scenario file and held against a published table, a
//! definition, or the same numbers written another way. Bad ones are in `tests/errors.rs`.

mod common;

use common::day;
use serde_json::{Value, json};
use stallheat::converter::NEWTON_METRE_PER_POUND_FORCE_FOOT;
use stallheat::drive::{Drive, FluidLosses};
use stallheat::scenario::{self, parameters::Setup};
use stallheat::timeline::Node;
use stallheat::transmission::Path;

const RPM: f64 = std::f64::consts::PI / 30.0;
const LOSSES: FluidLosses = FluidLosses { pump_torque_nm: 0.0, drag_ratio: 1.0 };

fn file(setup: Value) -> String {
    json!({"format": 1, "name": "set-up", "setup": setup,
        "timeline": [{"event": "engine_off", "duration": "1 min"}]})
    .to_string()
}

fn setup(parts: Value) -> Setup {
    scenario::parse(&file(parts)).unwrap_or_else(|error| panic!("{error}")).setup
}

#[track_caller]
fn assert_near(what: &str, found: f64, expected: f64, relative: f64) {
    assert!((found / expected - 1.0).abs() <= relative, "{what}: {found} against {expected}");
}

/// ISO 2533 and U.S. Standard Atmosphere 1976, which agree below 32 km (computed with fluids 1.3): geometric
/// altitude in m, Pa. An altitude on a map is geometric.
#[test]
fn altitude_becomes_the_pressure_of_the_standard_atmosphere() {
    for (altitude_m, pressure_pa) in [
        (0.0, 101_325.0),
        (500.0, 95_461.289_496_945_06),
        (1_000.0, 89_876.285_187_271_23),
        (1_500.0, 84_559.676_693_313_04),
        (2_000.0, 79_501.424_641_66),
        (3_000.0, 70_121.162_236_429_98),
    ] {
        for text in [format!("{altitude_m} m"), format!("{} ft", altitude_m / 0.3048)] {
            let found_pa = setup(json!({"air": {"altitude": text}})).air.pressure_pa;
            println!("{text}: {found_pa:.2} Pa");
            assert_near(&text, found_pa, pressure_pa, 1e-5);
        }
    }
}

/// SAE J643 definition, K = speed/√torque, in both systems of units; and a converter stated so takes that torque at
/// that speed with fluid of the reference temperature: heat of a hold at half the speed is an eighth of T·ω.
#[test]
fn a_stall_speed_at_a_torque_becomes_a_k_factor() {
    let k_rpm = |stall: Value| setup(json!({"converter": stall})).converter.k_factor / RPM;
    let metric = k_rpm(json!({"stall_speed": "5200 rpm", "stall_torque": "725 N m"}));
    assert_near("rpm/√(N m)", metric, 5_200.0 / 725.0_f64.sqrt(), 1e-12);
    let trade = k_rpm(json!({"stall_speed": "5000 rpm", "stall_torque": "500 lbf ft"}));
    let per_root_pound_foot = trade * NEWTON_METRE_PER_POUND_FORCE_FOOT.sqrt();
    assert_near("rpm/√(lbf ft)", per_root_pound_foot, 5_000.0 / 500.0_f64.sqrt(), 1e-12);

    let trace = day(&json!({"format": 1, "name": "hold",
        "setup": {"converter": {"stall_speed": "5200 rpm", "stall_torque": "725 N m"}},
        "initial_temperatures": {"all": "80 °C"},
        "timeline": [{"event": "brake_hold", "duration": "0.05 s", "engine_speed": "2600 rpm"}]})
    .to_string());
    let held_w = trace.ledger.path_j(Path::ConverterShear) / 0.05;
    assert_near("heat of the hold", held_w, 725.0 * 5_200.0 * RPM / 8.0, 1e-3);
}

/// The cooler of a rating gives the rated heat at the rated difference, in the steady state of a whole day: all oil
/// comes from the converter at the rated flow, the fan blows the rated air of 20 °C. Within 3 %, docs/model.md.
#[test]
fn a_cooler_by_its_rating_gives_the_rated_heat() {
    let rated_w = 5_000.0;
    let rated_difference_k = 60.0;
    let run = |rated_oil_m3_per_s: f64| {
        let trace = day(&json!({"format": 1, "name": "rating",
        "setup": {
            "air": {"temperature": "20 °C", "pressure": "101325 Pa", "humidity": 0},
            "cooler": {
                "rating_heat": format!("{rated_w} W"),
                "rating_difference": format!("{rated_difference_k} K"),
                "rated_oil_flow": format!("{rated_oil_m3_per_s} m³/s"),
                "rated_air_flow": "1500 m³/h", "fan_air_flow": "1500 m³/h",
            },
            "circulation": {"flow": "40 L/min"},
            "front_pump": {"cooler_flow": "0.5 L/min"},
        },
        "timeline": [
            {"event": "dyno_pull", "duration": "4 h", "engine_speed": "300 rpm", "input_power": "6 kW", "slip": 1,
                "circulation": "through_converter", "fan": "on"},
            {"event": "dyno_pull", "duration": "10 min", "engine_speed": "300 rpm", "input_power": "6 kW",
                "slip": 1, "circulation": "through_converter", "fan": "on"}]})
        .to_string());
        let last = trace.events[1].clone();
        let flow_m3_per_s =
            last.hydraulics.circulation_m3_per_s + last.hydraulics.front_pump_m3_per_s;
        let heat_w = trace.event_ledger(&last).path_j(Path::CoolerAir) / 600.0;
        let end = trace.samples[trace.samples.len() - 1].temperature_k;
        let difference_k = end[Node::ConverterFluid.index()] - 293.15;
        let stored_j = trace.event_ledger(&last).stored_j();
        assert!(stored_j.abs() < 1e-3 * heat_w * 600.0, "not steady: {stored_j} J");
        (flow_m3_per_s, heat_w, difference_k)
    };
    // The flow follows from pump and circuit, so it is read from a first day and rated in a second.
    let (flow_m3_per_s, ..) = run(30e-3 / 60.0);
    let (again_m3_per_s, heat_w, difference_k) = run(flow_m3_per_s);
    assert_near("rated oil flow", again_m3_per_s, flow_m3_per_s, 0.01);
    assert!((40.0..90.0).contains(&difference_k), "{difference_k}");
    let at_rating_w = heat_w * rated_difference_k / difference_k;
    println!("{at_rating_w:.0} W of {rated_w} W, {:.1} L/min", flow_m3_per_s * 60e3);
    assert_near("rated heat", at_rating_w, rated_w, 0.03);
}

/// The regulator's generic data file, Commission Regulation (EU) 2017/2400, Annex VI, Appendix 9: speed ratio, torque
/// ratio, capacity over that at stall (reference torque of the file over 404.790015179626 N·m).
const GENERIC: [(f64, f64, f64); 15] = [
    (0.0, 1.8, 404.790015179626),
    (0.1, 1.70555555555556, 391.297014673638),
    (0.2, 1.61111111111111, 377.804014167651),
    (0.3, 1.51666666666667, 364.311013661663),
    (0.4, 1.42222222222222, 350.818013155675),
    (0.5, 1.32777777777778, 337.325012649688),
    (0.6, 1.23333333333333, 323.8320121437),
    (0.65, 1.18611111111111, 303.592511384719),
    (0.7, 1.13888888888889, 283.353010625738),
    (0.75, 1.09166666666667, 263.113509866757),
    (0.8, 1.04444444444444, 242.874009107775),
    (0.85, 0.997222222222222, 222.634508348794),
    (0.9, 0.95, 202.395007589813),
    (0.95, 0.95, 101.197503794907),
    (1.0, 0.95, 0.0),
];

fn generic_rows() -> Vec<[f64; 3]> {
    GENERIC.iter().map(|(at, ratio, torque)| [*at, *ratio, torque / GENERIC[0].2]).collect()
}

/// The same table of numbers in every way that a spreadsheet or a person writes it.
fn writings(header: Option<[&str; 3]>, rows: &[[f64; 3]]) -> Vec<(&'static str, String)> {
    let written = |separator: &str, comma: bool, line_end: &str| {
        let number = |value: &f64| {
            let text = value.to_string();
            if comma { text.replace('.', ",") } else { text }
        };
        let head = header.map(|names| names.join(separator));
        let lines = rows.iter().map(|row| row.each_ref().map(number).join(separator));
        head.into_iter().chain(lines).collect::<Vec<_>>().join(line_end)
    };
    vec![
        ("comma", written(", ", false, "\n")),
        ("comma without space", written(",", false, "\n")),
        ("semicolon, point", written(";", false, "\n")),
        ("semicolon, decimal comma", written(";", true, "\n")),
        ("tab, point", written("\t", false, "\n")),
        ("tab, decimal comma", written("\t", true, "\n")),
        ("byte order mark, CRLF", format!("\u{feff}{}\r\n", written(";", true, "\r\n"))),
        ("CRLF", written(",", false, "\r\n")),
        ("blank lines, empty cells at the end", format!("\n{},,\n\n", written(",", false, ",,\n"))),
    ]
}

#[test]
fn the_regulators_generic_converter_reads_alike_in_every_writing() {
    let rows = generic_rows();
    let table_of = |table: Value| setup(json!({"converter": {"table": table}})).converter_table;
    let listed = table_of(json!(rows));
    let table = listed.as_ref().unwrap();
    for (row, (at, ratio, torque)) in GENERIC.iter().enumerate() {
        assert_eq!(table.torque_ratio.points()[row], (*at, *ratio));
        assert_eq!(table.capacity.points()[row], (*at, torque / GENERIC[0].2));
    }
    let headers = [
        None,
        Some(["speed_ratio", "torque_ratio", "capacity"]),
        Some(["Speed_Ratio", "TORQUE_RATIO", "capacity"]),
    ];
    for header in headers {
        for (name, text) in writings(header, &rows) {
            assert_eq!(table_of(json!(text)), listed, "{name}, header {header:?}");
        }
    }
    // Columns in another order, as named.
    let turned: Vec<[f64; 3]> = rows.iter().map(|row| [row[2], row[0], row[1]]).collect();
    for (name, text) in writings(Some(["capacity", "speed_ratio", "torque_ratio"]), &turned) {
        assert_eq!(table_of(json!(text)), listed, "{name}");
    }
}

/// Its operating points, through a scenario file: at the speed where the converter of this file takes the regulation's
/// 1 619.16 N·m at stall, torques are the regulation's, and heat is its heat times the ratio of the speeds.
/// Published: 2 000 rpm, speed ratios 0 and 0.45.
#[test]
fn the_regulators_generic_converter_makes_its_heat() {
    let setup = setup(json!({"converter": {"table": generic_rows()}}));
    let drive = Drive::new(&setup).unwrap();
    let converter = drive.powertrain(LOSSES).converter;
    let speed = setup.converter.k_factor * 1_619.160060718504_f64.sqrt();
    for (speed_ratio, torque_in, torque_out, heat_w) in [
        (0.0, 1_619.160060718504, 2_914.488109293307, 339_116.0901159503),
        (0.45, 1_376.286051610726, 1_892.3933209647482, 109_894.80795319992),
    ] {
        let point = converter.operating_point(speed, speed * speed_ratio, 1.0);
        println!(
            "SR {speed_ratio}: {:.4} → {:.4} N·m, {:.2} W at 2 000 rpm",
            point.impeller_torque_nm,
            point.turbine_torque_nm,
            point.heat_w * 2_000.0 * RPM / speed
        );
        assert_near("torque in", point.impeller_torque_nm, torque_in, 1e-9);
        assert_near("torque out", point.turbine_torque_nm, torque_out, 1e-9);
        assert_near("heat", point.heat_w * 2_000.0 * RPM / speed, heat_w, 1e-9);
    }
    // The law's formula: ×0.8 at 0.6, ×0.5 at 0.9, nothing at 1.
    let capacity = |at: f64| converter.coefficient(at) / converter.coefficient(0.0);
    assert_near("capacity at 0.6", capacity(0.6), 0.8, 1e-9);
    assert_near("capacity at 0.9", capacity(0.9), 0.5, 1e-9);
    assert_eq!(capacity(1.0), 0.0);
}

/// Project Chrono (BSD-3), data/vehicle/generic/powertrain/AutomaticTransmissionShafts.json, K in (rad/s)/√(N m),
/// without its row at speed ratio 1, where no real converter carries torque. Rows give its torques and heat at 300 rad/s
/// (computed from the table); between them capacity is straight here and K there: 0.3 % apart at 0.6.
#[test]
fn a_table_of_k_factors_gives_its_torques() {
    let rows = [
        [0.0, 2.0, 15.0],
        [0.25, 1.8, 15.0],
        [0.5, 1.5, 15.0],
        [0.75, 1.15, 16.0],
        [0.9, 1.06, 18.0],
    ];
    let head = Some(["speed_ratio", "torque_ratio", "k_factor ((rad/s)/√(N m))"]);
    let in_rpm = rows.map(|[at, ratio, k]| [at, ratio, k / RPM]);
    let rpm_head = Some(["speed_ratio", "torque_ratio", "k_factor [rpm/√(N m)]"]);
    let texts = writings(head, &rows).into_iter().chain(writings(rpm_head, &in_rpm));
    let mut read = 0;
    for (name, text) in texts {
        let setup = setup(json!({"converter": {"table": text}}));
        assert_near(name, setup.converter.k_factor, 15.0, 1e-12);
        let drive = Drive::new(&setup).unwrap();
        let converter = drive.powertrain(LOSSES).converter;
        for (speed_ratio, torque_in, torque_out, heat_w, tolerance) in [
            (0.0, 400.0, 800.0, 120_000.0, 1e-9),
            (0.9, 277.777_777_777_777_8, 294.444_444_444_444_4, 3_833.333_333_333_328, 1e-9),
            (0.6, 379.490_639_230_898_9, 516.107_269_354_022_5, 20_947.883_285_545_628, 4e-3),
        ] {
            let point = converter.operating_point(300.0, 300.0 * speed_ratio, 1.0);
            assert_near(name, point.impeller_torque_nm, torque_in, tolerance);
            assert_near(name, point.turbine_torque_nm, torque_out, tolerance);
            assert_near(name, point.heat_w, heat_w, tolerance);
        }
        // Nothing at equal speeds, and never more power out than in on the way there.
        assert_eq!(converter.coefficient(1.0), 0.0);
        for step in 0..=100 {
            let at = 0.9 + 0.001 * f64::from(step);
            assert!(at * converter.torque_ratio(at) <= 1.0 + 1e-12, "{at}");
        }
        read += 1;
    }
    assert_eq!(read, 18);
}

/// One dynamometer sheet (invented) as list, and as text with every separator, in two units: the points are the same.
#[test]
fn a_torque_curve_reads_alike_in_every_writing() {
    let sheet = [(2500.0, 430.0), (3500.5, 488.25), (5500.0, 523.0), (7200.0, 405.0)];
    let points_of = |curve: Value| {
        let setup = setup(json!({"engine": {"torque_curve": curve}}));
        setup
            .torque_curve
            .iter()
            .map(|point| (point.speed_rad_per_s, point.torque_nm))
            .collect::<Vec<_>>()
    };
    let same = |name: &str, found: Vec<(f64, f64)>| {
        assert_eq!(found.len(), sheet.len(), "{name}");
        for ((speed, torque), (rpm, pound_feet)) in found.into_iter().zip(sheet) {
            assert_near(name, speed, rpm * RPM, 1e-12);
            assert_near(name, torque, pound_feet * NEWTON_METRE_PER_POUND_FORCE_FOOT, 1e-12);
        }
    };
    let listed: Vec<Value> =
        sheet.iter().map(|(rpm, t)| json!([format!("{rpm} rpm"), format!("{t} lbf ft")])).collect();
    same("list", points_of(json!(listed)));
    let text = |separator: &str, comma: bool, end: &str, units: bool, header: &str| {
        let number = |value: f64| {
            let text = value.to_string();
            if comma { text.replace('.', ",") } else { text }
        };
        let unit = |unit: &str| if units { format!(" {unit}") } else { String::new() };
        let mut lines = vec![header.replace("; ", separator)];
        lines.extend(sheet.iter().map(|(rpm, torque)| {
            format!(
                "{}{}{separator}{}{}",
                number(*rpm),
                unit("rpm"),
                number(*torque),
                unit("lbf ft")
            )
        }));
        lines.retain(|line| !line.is_empty());
        lines.join(end)
    };
    let (plain, named) = ("", "engine_speed (rpm); torque (lbf ft)");
    same("comma", points_of(json!(text(",", false, "\n", false, plain))));
    same("comma, header", points_of(json!(text(", ", false, "\n", false, named))));
    same("units in the cells", points_of(json!(text(", ", false, "\n", true, plain))));
    same("semicolon", points_of(json!(text(";", true, "\r\n", false, plain))));
    same("semicolon, header", points_of(json!(text(";", true, "\r\n", false, named))));
    same("tab", points_of(json!(text("\t", true, "\n", false, plain))));
    same("tab, header", points_of(json!(text("\t", false, "\r\n", false, named))));
    let marked = format!("\u{feff}{}", text(";", true, "\n", true, named));
    same("byte order mark", points_of(json!(marked)));
    let no_units = "engine_speed; torque";
    same("header without units", points_of(json!(text(";", true, "\n", false, no_units))));
    // Newton metres by the header, torque first.
    let metric: Vec<String> = sheet
        .iter()
        .map(|(rpm, t)| {
            format!("{};{rpm}", t * NEWTON_METRE_PER_POUND_FORCE_FOOT).replace('.', ",")
        })
        .collect();
    same(
        "N m",
        points_of(json!(format!("torque [N m];engine_speed [1/min]\n{}", metric.join("\n")))),
    );
    // The engine that a day runs meets every point: its torque at 5 500 rpm, in the day's air. It reads a table of
    // its curve that is good to a millionth.
    let setup = setup(json!({"engine": {"torque_curve": text(";", true, "\n", false, named)}}));
    let drive = Drive::new(&setup).unwrap();
    let found_nm = drive.powertrain(LOSSES).engine.torque_nm(5_500.0 * RPM);
    assert_near("torque", found_nm, 523.0 * NEWTON_METRE_PER_POUND_FORCE_FOOT, 1e-6);
}

#[test]
fn gear_ratios_read_alike_as_list_and_as_text() {
    let ratios = [2.1, 1.4, 1.0];
    for written in [
        json!([2.1, 1.4, 1]),
        json!([[2.1], [1.4], [1]]),
        json!(["2.1", "1.4", "1"]),
        json!("2.1, 1.4, 1"),
        json!("2.1\n1.4\n1"),
        json!("2,1; 1,4; 1"),
        json!("2,1\t1,4\t1"),
        json!("ratio\r\n2.1\r\n1.4\r\n1\r\n"),
        json!("\u{feff}2.1,1.4,1"),
    ] {
        let setup = setup(json!({"gearbox": {"ratios": written}}));
        assert_eq!(setup.gear_ratios, ratios, "{written}");
        let drive = Drive::new(&setup).unwrap();
        let powertrain = drive.powertrain(LOSSES);
        for (gear, ratio) in ratios.iter().enumerate() {
            assert_near("overall", powertrain.overall_ratio(gear), ratio * 4.3, 1e-12);
        }
    }
    // Not stated: a low gear and a direct one.
    let drive = Drive::new(&Setup::default()).unwrap();
    assert_eq!(drive.powertrain(LOSSES).gearbox.ratios, [1.76, 1.0]);
}
