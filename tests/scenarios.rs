//! Every file in `scenarios/`: is listed and said to be invented; every scenario reads, computes, closes its ledger; every
//! bench test's record reads.

use std::collections::BTreeSet;
use std::path::PathBuf;

use stallheat::bench;
use stallheat::scenario::{self, Scenario};
use stallheat::simulate::simulate;
use stallheat::timeline::EventKind;
use stallheat::trace::EndedBy;

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("scenarios")
}

/// Names of the files, those of folders with the folder before them.
fn files() -> BTreeSet<String> {
    let names = |folder: &PathBuf| -> Vec<(String, bool)> {
        std::fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap())
            .map(|entry| (entry.file_name().into_string().unwrap(), entry.path().is_dir()))
            .collect()
    };
    let mut files = BTreeSet::new();
    for (name, is_folder) in names(&folder()) {
        if is_folder {
            let inside = names(&folder().join(&name));
            files.extend(inside.into_iter().map(|(inner, _)| format!("{name}/{inner}")));
        } else if name != "README.md" {
            files.insert(name);
        }
    }
    files
}

/// Those that are scenarios.
fn scenarios() -> BTreeSet<String> {
    files().into_iter().filter(|name| name.ends_with(".json") && !name.contains('/')).collect()
}

fn read(name: &str) -> Scenario {
    let text = std::fs::read_to_string(folder().join(name)).unwrap();
    scenario::parse(&text).unwrap_or_else(|error| panic!("{name}: {error}"))
}

#[test]
fn every_scenario_computes_and_closes() {
    let scenarios = scenarios();
    assert!(scenarios.len() >= 3);
    for name in &scenarios {
        let scenario = read(name);
        assert!(scenario.note.to_lowercase().contains("invented"), "{name} must say so");
        let trace = simulate(&scenario).unwrap_or_else(|error| panic!("{name}: {error}"));
        assert!(trace.ledger.closure() <= 1e-9, "{name}: {:e}", trace.ledger.closure());
        for event in &trace.events {
            let closure = trace.event_ledger(event).closure();
            // One event moves less heat than a day, against the same rounding of the running totals.
            assert!(closure <= 1e-6, "{name}, {}: {closure:e}", event.kind.key());
        }
        let passes = scenario
            .blocks
            .iter()
            .flat_map(|block| &block.events)
            .filter(|event| event.kind == EventKind::Pass)
            .count();
        assert_eq!(trace.launches.len(), passes, "{name}");
        let mut last_s = 0.0;
        for launch in &trace.launches {
            assert!(launch.time_s > last_s, "{name}");
            last_s = launch.time_s;
        }
    }
}

#[test]
fn bracket_day_launches_six_times_after_a_hold() {
    let trace = simulate(&read("saturday_bracket_day.json")).unwrap();
    let rounds: Vec<Option<u32>> = trace.launches.iter().map(|launch| launch.round).collect();
    assert_eq!(rounds, (1..=6).map(Some).collect::<Vec<_>>());
    for launch in &trace.launches {
        assert!((launch.held_s - 2.5).abs() < 1e-6);
        assert!(launch.held_heat_j > 0.0);
    }
    // 90 + 6 + 24 min, six turnarounds of 200 min together, 60 min.
    assert!((trace.duration_s() - 380.0 * 60.0).abs() < 1e-6);
}

#[test]
fn bench_session_has_no_launch_and_cools_to_handle() {
    let trace = simulate(&read("dyno_bench_session.json")).unwrap();
    assert!(trace.launches.is_empty());
    let wait = trace.events.iter().find(|event| event.name.as_deref() == Some("Cool to handle"));
    assert_eq!(wait.unwrap().ended_by, EndedBy::Temperature);
}

#[test]
fn every_record_of_a_bench_test_reads_and_says_that_it_is_invented() {
    let records: Vec<String> =
        files().into_iter().filter(|name| name.starts_with("bench_tests/")).collect();
    assert!(!records.is_empty());
    for name in records {
        let text = std::fs::read_to_string(folder().join(&name)).unwrap();
        let record = bench::record::parse(&text).unwrap_or_else(|error| panic!("{name}: {error}"));
        assert!(record.scenario.note.contains("nvented"), "{name}");
    }
}

#[test]
fn the_list_names_every_file_and_no_other() {
    let list = std::fs::read_to_string(folder().join("README.md")).unwrap();
    let mut listed = BTreeSet::new();
    for row in list.lines().filter(|line| line.starts_with("| [")) {
        let name = row.split_once('[').unwrap().1.split_once(']').unwrap().0;
        assert!(row.contains(&format!("]({name})")), "{row}");
        assert!(row.contains("nvented"), "{name}: the list must say so");
        assert!(listed.insert(name.to_string()), "{name} is listed twice");
    }
    assert_eq!(listed, files());
}
