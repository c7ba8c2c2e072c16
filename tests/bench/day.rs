//! How long a day takes: `cargo bench --bench day`. Machines are noisy; compare within one run.

use criterion::{Criterion, criterion_group, criterion_main};
use stallheat::scenario;
use stallheat::simulate::simulate;
use stallheat::timeline::{Block, MAX_EVENTS};

fn scenario_text(name: &str) -> String {
    let path = format!("{}/scenarios/{name}.json", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{path}: {error}"))
}

fn day(criterion: &mut Criterion) {
    let text = scenario_text("saturday_bracket_day");
    criterion.bench_function("parse the Saturday", |bench| bench.iter(|| scenario::parse(&text)));
    let saturday = scenario::parse(&text).unwrap();
    criterion.bench_function("simulate the Saturday, 6 h 20 min", |bench| {
        bench.iter(|| simulate(&saturday));
    });
    // Twelve hours and twelve rounds: the rounds twice over.
    let mut long = saturday.clone();
    let rounds: Vec<Block> =
        saturday.blocks.iter().filter(|block| block.round.is_some()).cloned().collect();
    let last = long.blocks.pop();
    long.blocks.extend(rounds);
    long.blocks.extend(last);
    for block in &mut long.blocks {
        block.turnaround_s = block.turnaround_s.map(|turnaround_s| turnaround_s * 1.35);
    }
    let hours = simulate(&long).unwrap().duration_s() / 3600.0;
    assert!(long.blocks.iter().map(|block| block.events.len()).sum::<usize>() < MAX_EVENTS);
    criterion.bench_function(&format!("simulate {hours:.1} h with twelve rounds"), |bench| {
        bench.iter(|| simulate(&long));
    });
}

criterion_group!(benches, day);
criterion_main!(benches);
