//! How long the outline of a day takes beside the day itself: `time_outline SCENARIO REPEATS` prints the medians in
//! seconds of both on one prepared transmission, taken in turns, with their evaluations of the right-hand side.

use std::time::Instant;

use stallheat::scenario;
use stallheat::simulate::{TOLERANCE, simulate_on, simulate_outline};
use stallheat::transmission::Transmission;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let (Some(path), Some(repeats)) = (arguments.next(), arguments.next()) else {
        return Err("usage: time_outline SCENARIO REPEATS".into());
    };
    let repeats: usize = repeats.parse()?;
    let text = std::fs::read_to_string(&path)?;
    let day = scenario::parse(&text).map_err(|error| error.to_string())?;
    let mut transmission = Transmission::new(&day.setup).map_err(|error| error.to_string())?;
    let mut times_s = [Vec::new(), Vec::new()];
    let mut evaluations = [0; 2];
    for _ in 0..repeats.max(1) {
        let start = Instant::now();
        let whole = simulate_on(&mut transmission, &day, TOLERANCE);
        times_s[0].push(start.elapsed().as_secs_f64());
        let start = Instant::now();
        let outline = simulate_outline(&mut transmission, &day);
        times_s[1].push(start.elapsed().as_secs_f64());
        evaluations = [
            whole.map_err(|error| error.to_string())?.evaluations,
            outline.map_err(|error| error.to_string())?.evaluations,
        ];
    }
    for ((name, mut times_s), evaluations) in
        ["day", "outline"].into_iter().zip(times_s).zip(evaluations)
    {
        times_s.sort_by(f64::total_cmp);
        println!("{name} {:e} {evaluations}", times_s[times_s.len() / 2]);
    }
    Ok(())
}
