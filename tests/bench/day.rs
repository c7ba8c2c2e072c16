//! How long a day takes: `cargo bench --bench day`. Machines are noisy; compare within one run.

#[path = "../common/days.rs"]
mod days;

use criterion::{Criterion, criterion_group, criterion_main};
use days::{twelve_hours, twelve_hours_computed};
use stallheat::scenario;
use stallheat::scenario::Scenario;
use stallheat::simulate::{simulate, simulate_with};
use stallheat::solver::Tolerance;

fn scenario_text(name: &str) -> String {
    let path = format!("{}/scenarios/{name}.json", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{path}: {error}"))
}

/// Largest errors at launches and event ends, and of elapsed times, against a solution at 1e-10.
fn error_against_reference(day: &Scenario) -> String {
    let tight = Tolerance { relative: 1e-10, absolute: 1e-10 };
    let (got, exact) = (simulate(day).unwrap(), simulate_with(day, tight).unwrap());
    let mut worst_k = 0.0_f64;
    for (event, exact_event) in got.events.iter().zip(&exact.events) {
        let now_k = got.samples[event.samples.1].temperature_k;
        let exact_k = exact.samples[exact_event.samples.1].temperature_k;
        for (a_k, b_k) in now_k.iter().zip(exact_k) {
            worst_k = worst_k.max((a_k - b_k).abs());
        }
    }
    let mut worst_s = 0.0_f64;
    for (launch, exact_launch) in got.launches.iter().zip(&exact.launches) {
        if let (Some(pass), Some(exact_pass)) = (&launch.pass, &exact_launch.pass) {
            for (mark, exact_mark) in pass.marks.iter().zip(&exact_pass.marks) {
                worst_s = worst_s.max((mark.elapsed_s - exact_mark.elapsed_s).abs());
            }
        }
    }
    format!(
        "error against 1e-10: {worst_k:.1e} K, {worst_s:.1e} s of elapsed time; {} evaluations, {} samples",
        got.evaluations,
        got.samples.len()
    )
}

fn day(criterion: &mut Criterion) {
    let text = scenario_text("saturday_bracket_day");
    criterion.bench_function("parse the Saturday", |bench| bench.iter(|| scenario::parse(&text)));
    let saturday = scenario::parse(&text).unwrap();
    criterion.bench_function("simulate the Saturday, 6 h 20 min", |bench| {
        bench.iter(|| simulate(&saturday));
    });
    for (name, text) in [("logged", twelve_hours()), ("computed", twelve_hours_computed())] {
        let long = scenario::parse(&text).unwrap();
        let error = error_against_reference(&long);
        criterion.bench_function(&format!("simulate 12 h, ten rounds, passes {name}"), |bench| {
            bench.iter(|| simulate(&long));
        });
        println!("    {error}");
    }
}

criterion_group!(benches, day);
criterion_main!(benches);
