//! The Rust side of the comparison with other integrators; `tests/bench/peers.mjs` calls it and puts the table together.
//!
//! `peers cut SCENARIO PIECES` writes the day in pieces; `peers choose SCENARIO AIM_K LEDGER` finds the tolerance of every
//! integrator; `peers time SCENARIO INTEGRATOR RELATIVE LEDGER REPEATS` times one of them, LEDGER being `ledger` or
//! `bare`; `peers time SCENARIO whole REPEATS` times the program's own simulation, text to trace; `peers cost SCENARIO REPEATS` says what the derivative costs; `peers grow SCENARIO
//! REPEATS` times days with more events and longer days. All print JSON.

mod cost;
mod export;
mod integrators;
mod pieces;

use std::error::Error;
use std::time::Instant;

use ode_solvers::SVector;
use serde_json::{Value, json};
use stallheat::scenario::{self, Scenario};
use stallheat::simulate::simulate;
use stallheat::solver::{Tolerance, integrate};
use stallheat::timeline::NODES;
use stallheat::trace::Trace;
use stallheat::transmission::{PATHS, Transmission};

use integrators::{Integrator, run};
use pieces::{Pieces, TIGHT, WHOLE, cut};

type Outcome<T> = Result<T, Box<dyn Error>>;

fn main() -> Outcome<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let said = match arguments[..] {
        ["cut", path, out] => write_pieces(path, out)?,
        ["choose", path, aim_k, ledger] => choose(path, aim_k.parse()?, ledger == "ledger")?,
        ["time", path, "whole", repeats] => time_whole(path, repeats.parse()?)?,
        ["time", path, integrator, relative, ledger, repeats] => {
            let integrator = integrator.parse()?;
            time(path, integrator, relative.parse()?, ledger == "ledger", repeats.parse()?)?
        }
        ["cost", path, repeats] => cost::cost(path, repeats.parse()?)?,
        ["grow", path, repeats] => cost::grow(path, repeats.parse()?)?,
        _ => return Err("usage: see the head of tests/bench/peers/src/main.rs".into()),
    };
    println!("{said}");
    Ok(())
}

/// A scenario file: its text, and what it says.
fn read(path: &str) -> Outcome<(String, Scenario)> {
    let text = std::fs::read_to_string(path)?;
    let day = scenario::parse(&text).map_err(|error| error.to_string())?;
    Ok((text, day))
}

/// Temperatures (K) at the ends of events that last.
fn end_k(trace: &Trace) -> Vec<[f64; NODES]> {
    let lasting = trace.events.iter().filter(|event| event.end_s - event.start_s >= 1e-6);
    lasting.map(|event| trace.samples[event.samples.1].temperature_k).collect()
}

/// Largest difference (K).
fn error_k(found: &[[f64; NODES]], exact: &[[f64; NODES]]) -> f64 {
    assert_eq!(found.len(), exact.len());
    let pairs = found.iter().flatten().zip(exact.iter().flatten());
    pairs.map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
}

/// A run of the pieces at the tight tolerance: temperatures at ends of events, and the state at every start.
fn tight(day: &Pieces) -> Outcome<(Vec<[f64; NODES]>, Vec<SVector<f64, WHOLE>>)> {
    fn on<const S: usize>(
        day: &Pieces,
        piece: &pieces::Piece,
        start: SVector<f64, S>,
        tolerance: Tolerance,
    ) -> Outcome<SVector<f64, S>> {
        let solved = integrate(|y, dy| day.rates(piece, y, dy), start, piece.duration_s, tolerance);
        Ok(*solved.map_err(|failure| format!("{failure:?}"))?.end())
    }
    let mut whole = SVector::<f64, WHOLE>::zeros();
    let (mut ends, mut starts) = (Vec::new(), Vec::new());
    for piece in &day.pieces {
        day.begin(piece, &mut whole);
        starts.push(whole);
        if piece.driving.is_some() {
            whole = on(day, piece, whole, TIGHT)?;
        } else {
            let heat: SVector<f64, NODES> = whole.fixed_rows::<NODES>(0).into_owned();
            whole.fixed_rows_mut::<NODES>(0).copy_from(&on(day, piece, heat, TIGHT)?);
        }
        if piece.ends_event {
            ends.push(day.temperatures_k(&whole));
        }
    }
    Ok((ends, starts))
}

fn write_pieces(path: &str, out: &str) -> Outcome<Value> {
    let (_, day) = read(path)?;
    let mut transmission = Transmission::new(&day.setup).map_err(|error| error.to_string())?;
    let pieces = cut(&mut transmission, &day)?;
    let (ends, starts) = tight(&pieces)?;
    let apart_k = error_k(&ends, &pieces.trace_end_k);
    // The pieces are the day: the same equations from the same state to the same times.
    if apart_k > 1e-5 {
        return Err(format!("the pieces are {apart_k:e} K off the day").into());
    }
    std::fs::write(out, export::export(&pieces, &ends, &starts).to_string())?;
    let simulated = simulate(&day).map_err(|error| error.to_string())?;
    Ok(json!({
        "pieces": pieces.pieces.len(),
        "driven": pieces.pieces.iter().filter(|piece| piece.driving.is_some()).count(),
        "events": simulated.events.len(),
        "hours": simulated.duration_s() / 3600.0,
        "paths": PATHS,
        "pieces_off_day_k": apart_k,
        "own_error_k": error_k(&end_k(&simulated), &pieces.trace_end_k),
    }))
}

/// Tolerances that are tried, eight in a decade.
fn ladder(step: i32) -> f64 {
    10.0_f64.powf(-f64::from(step) / 8.0)
}

/// The loosest tolerance of the ladder, from 1e-2, that reaches the aim.
fn choose(path: &str, aim_k: f64, ledger: bool) -> Outcome<Value> {
    let (_, day) = read(path)?;
    let mut transmission = Transmission::new(&day.setup).map_err(|error| error.to_string())?;
    let pieces = cut(&mut transmission, &day)?;
    let (ends, _) = tight(&pieces)?;
    let mut chosen = Vec::new();
    for (place, integrator) in Integrator::ALL.into_iter().enumerate() {
        let error_at = |step: i32| {
            run(&pieces, integrator, ladder(step), ledger)
                .map_or(f64::INFINITY, |found| error_k(&found.end_k, &ends))
        };
        let reaches = (16..80).find(|step| error_at(*step) <= aim_k).unwrap_or(80);
        chosen.push(json!({
            "key": place,
            "name": integrator.name(),
            "relative": ladder(reaches),
            "error_k": error_at(reaches),
            "closure": run(&pieces, integrator, ladder(reaches), ledger).and_then(|run| run.closure),
        }));
    }
    Ok(Value::Array(chosen))
}

/// Least of the seconds that something takes: what others do on the machine only adds to it.
fn least_s(repeats: usize, mut work: impl FnMut()) -> f64 {
    (0..repeats.max(1))
        .map(|_| {
            let start = Instant::now();
            work();
            start.elapsed().as_secs_f64()
        })
        .fold(f64::INFINITY, f64::min)
}

fn time_whole(path: &str, repeats: usize) -> Outcome<Value> {
    let (text, day) = read(path)?;
    let trace = simulate(&day).map_err(|error| error.to_string())?;
    let seconds = least_s(repeats, || {
        let parsed = scenario::parse(std::hint::black_box(&text));
        std::hint::black_box(parsed.map(|day| simulate(&day).map(|trace| trace.evaluations)).ok());
    });
    Ok(json!({ "seconds": seconds, "evaluations": trace.evaluations }))
}

fn time(
    path: &str,
    integrator: usize,
    relative: f64,
    ledger: bool,
    repeats: usize,
) -> Outcome<Value> {
    let (_, day) = read(path)?;
    let mut transmission = Transmission::new(&day.setup).map_err(|error| error.to_string())?;
    let pieces = cut(&mut transmission, &day)?;
    let integrator = *Integrator::ALL.get(integrator).ok_or("no such integrator")?;
    let found = run(&pieces, integrator, relative, ledger).ok_or("it gave up")?;
    let seconds = least_s(repeats, || {
        std::hint::black_box(run(&pieces, integrator, std::hint::black_box(relative), ledger));
    });
    Ok(json!({ "seconds": seconds, "evaluations": found.evaluations }))
}
