//! How long one simulation of a day takes: `time_day SCENARIO REPEATS` reads and parses the file once, simulates
//! it repeatedly and prints the median in seconds and the evaluations of the right-hand side, then the
//! temperatures (°C) at the end of every event and the elapsed times (s) of computed passes, one line each.
//! For `tests/bench/against_scipy.py`.

use std::time::Instant;

use stallheat::scenario;
use stallheat::simulate::simulate;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let (Some(path), Some(repeats)) = (arguments.next(), arguments.next()) else {
        return Err("usage: time_day SCENARIO REPEATS".into());
    };
    let repeats: usize = repeats.parse()?;
    let text = std::fs::read_to_string(&path)?;
    let day = scenario::parse(&text).map_err(|error| error.to_string())?;
    let trace = simulate(&day).map_err(|error| error.to_string())?;
    let mut times_s = Vec::new();
    for _ in 0..repeats.max(1) {
        let start = Instant::now();
        std::hint::black_box(
            simulate(std::hint::black_box(&day)).map_err(|error| error.to_string())?,
        );
        times_s.push(start.elapsed().as_secs_f64());
    }
    times_s.sort_by(f64::total_cmp);
    println!("{:e} {}", times_s[times_s.len() / 2], trace.evaluations);
    for event in &trace.events {
        let ends_k = trace.samples[event.samples.1].temperature_k;
        let ends_c: Vec<String> =
            ends_k.iter().map(|end_k| format!("{:.9}", end_k - 273.15)).collect();
        println!("{}", ends_c.join(" "));
    }
    for pass in trace.launches.iter().filter_map(|launch| launch.pass.as_ref()) {
        let marks: Vec<String> =
            pass.marks.iter().map(|mark| format!("{:.9}", mark.elapsed_s)).collect();
        println!("pass {}", marks.join(" "));
    }
    Ok(())
}
