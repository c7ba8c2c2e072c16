//! The bench test: what a sound unit shows lies in its band as often as is said, faults that are put into simulated units
//! are named, sound ones are left alone; pressures by hand.

use std::process::Command;

use stallheat::band::{Band, normal_quantile};
use stallheat::bench::expected::{AS_STATED, Shown, expect, shown_of};
use stallheat::bench::faults::{FAULTS, causes};
use stallheat::bench::pressures::{PressureKind, findings};
use stallheat::bench::record::{Record, parse};
use stallheat::simulate::simulate;

/// A bench test that reads shell, pan, case and the cooler's hoses while it warms and while it cools.
fn test_of() -> Record {
    let mut readings = Vec::new();
    for time in ["5:00", "9:00", "14:20", "17:00", "22:00", "27:00", "31:00", "36:00"] {
        readings.push(format!(r#"{{"time": "{time}", "place": "converter_shell", "shown": "100 °F", "surface": "tape"}}"#));
        readings.push(format!(r#"{{"time": "{time}", "place": "pan", "shown": "100 °F"}}"#));
        readings.push(format!(
            r#"{{"time": "{time}", "place": "case", "shown": "100 °F", "surface": "tape"}}"#
        ));
    }
    for time in ["14:20", "31:00"] {
        for place in ["cooler_in", "cooler_out"] {
            readings
                .push(format!(r#"{{"time": "{time}", "place": "{place}", "shown": "100 °F"}}"#));
        }
    }
    let text = format!(
        r#"{{"format": 1, "record": "bench_test", "readings": [{}],
        "scenario": {{"format": 1, "name": "bench", "timeline": [
            {{"event": "idle", "duration": "8 min", "gear": "neutral"}},
            {{"event": "brake_hold", "duration": "5 s", "engine_speed": "2500 rpm"}},
            {{"event": "idle", "duration": "4 min", "gear": "in_gear"}},
            {{"event": "dyno_pull", "duration": "25 s", "engine_speed": "3600 rpm", "input_power": "110 hp", "slip": 0.12, "shifts": 1}},
            {{"event": "idle", "duration": "2 min", "gear": "neutral", "fan": "on"}},
            {{"event": "brake_hold", "duration": "6 s", "engine_speed": "2500 rpm"}},
            {{"event": "idle", "duration": "3 min", "gear": "in_gear", "fan": "on"}},
            {{"event": "engine_off", "duration": "10 min"}},
            {{"event": "engine_off", "duration": "10 min", "circulation": "through_converter", "fan": "on"}}
        ]}}}}"#,
        readings.join(",\n")
    );
    parse(&text).unwrap_or_else(|error| panic!("{error}"))
}

/// Random numbers of the tests: MINSTD (Park & Miller 1988).
struct Random(u64);

impl Random {
    fn new(seed: usize) -> Random {
        let mut random = Random(5_000 + 104_729 * seed as u64 % 2_000_000_000);
        for _ in 0..20 {
            random.normal();
        }
        random
    }

    fn normal(&mut self) -> f64 {
        self.0 = self.0 * 48_271 % 2_147_483_647;
        normal_quantile(self.0 as f64 / 2_147_483_647.0)
    }
}

/// A test of a unit drawn from the spreads, with a fault of some strength, read with errors.
fn read_unit(record: &Record, units: &Band, number: usize, fault: Option<(usize, f64)>) -> Record {
    let mut random = Random::new(number);
    let unit = units.day(number).unwrap_or_else(|| panic!("{number}"));
    let (day, mut instruments) = match fault {
        Some((fault, strength)) => FAULTS[fault].of(&unit, strength),
        None => (unit, AS_STATED),
    };
    let spots: Vec<f64> = (0..7).map(|_| random.normal()).collect();
    instruments.emissivities = &spots;
    let shown = shown_of(record, &day, &instruments).unwrap_or_else(|error| panic!("{error}"));
    let mut read = record.clone();
    for (reading, shown_k) in read.readings.iter_mut().zip(shown) {
        let shown_k = shown_k.unwrap_or_else(|| panic!("{}", reading.place.key()));
        reading.shown_k = shown_k + reading.deviation_k * random.normal();
    }
    read
}

/// The expectation does not hang on what was shown: it is computed once.
fn judged(
    record: &Record,
    expected: &mut stallheat::bench::expected::Expected,
) -> Vec<&'static str> {
    for (row, of) in expected.of.iter().enumerate() {
        if let Shown::Reading(place) = of {
            expected.shown[row] = record.readings[*place].shown_k;
        }
    }
    causes(record, expected).iter().map(|cause| cause.fault.label).collect()
}

#[test]
fn rates() {
    let record = test_of();
    let units = Band::seeded(record.scenario.clone(), Vec::new(), 200, &[], 77);
    let mut expected = expect(&record).unwrap();
    let mut alarms = 0;
    let mut inside = 0;
    for number in 0..200 {
        let read = read_unit(&record, &units, number, None);
        let named = judged(&read, &mut expected);
        alarms += usize::from(!named.is_empty());
        if !named.is_empty() {
            println!("{number} {named:?}");
        }
        for row in 0..expected.of.len() {
            let (low, high) = expected.band(row);
            inside += usize::from((low..=high).contains(&expected.shown[row]));
        }
    }
    println!("alarms {alarms} of 200, inside {}", inside as f64 / 200.0 / expected.of.len() as f64);
    for (fault, one) in FAULTS.iter().enumerate() {
        for strength in [0.5, 1.0] {
            let (mut first, mut named_at_all, mut any) = (0, 0, 0);
            for number in 0..60 {
                let read = read_unit(&record, &units, number, Some((fault, strength)));
                let named = judged(&read, &mut expected);
                first += usize::from(named.first() == Some(&one.label));
                named_at_all += usize::from(named.iter().take(2).any(|label| *label == one.label));
                any += usize::from(!named.is_empty());
            }
            println!(
                "{} {strength}: first {first}, first two {named_at_all}, any {any} of 60",
                one.key
            );
        }
    }
}
