//! What the derivative costs, how often the day asks for it, and how time grows with events and hours.

use std::cell::RefCell;
use std::hint::black_box;

use ode_solvers::SVector;
use serde_json::{Value, json};
use stallheat::scenario;
use stallheat::simulate::{TOLERANCE, simulate, simulate_on};
use stallheat::solver::{MAX_STEPS, Tolerance, integrate_until};
use stallheat::timeline::NODES;
use stallheat::transmission::{PATHS, Transmission};

use crate::pieces::{Piece, Pieces, WHOLE, cut};
use crate::{Outcome, least_s, read, tight};

/// What the program books along: paths of heat, in a pass also energies and the crankshaft's angle.
const PASS_BOOKS: usize = PATHS + 9;

/// The program's right-hand side with its books.
#[inline]
fn booked<const S: usize, const B: usize>(
    day: &Pieces,
    piece: &Piece,
    y: &SVector<f64, S>,
    dy: &mut SVector<f64, S>,
    books_w: &mut SVector<f64, B>,
) {
    let Some(rates) = day.booked_rates(piece, y, dy, books_w) else { return };
    let energies = [
        rates.engine_w,
        rates.converter_w,
        rates.gearbox_w,
        rates.axle_w,
        rates.tyre_w,
        rates.drag_w,
        rates.rolling_w,
        rates.front_pump_w,
        y[NODES],
    ];
    for (i, watts) in energies.into_iter().enumerate() {
        books_w[PATHS + i] = watts;
    }
}

/// The states at which the program's solver asks for the derivative in a piece.
fn asked<const S: usize, const B: usize>(
    day: &Pieces,
    piece: &Piece,
    start: &SVector<f64, S>,
    tolerance: Tolerance,
) -> Outcome<Vec<SVector<f64, S>>> {
    let states = RefCell::new(Vec::new());
    integrate_until(
        |y: &SVector<f64, S>, dy: &mut SVector<f64, S>, books_w: &mut SVector<f64, B>| {
            states.borrow_mut().push(*y);
            booked(day, piece, y, dy, books_w);
        },
        *start,
        piece.duration_s,
        tolerance,
        MAX_STEPS,
        |_| false,
    )
    .map_err(|failure| format!("{failure:?}"))?;
    Ok(states.into_inner())
}

/// The derivative at all these states, one after the other, and nothing else.
fn replay<const S: usize, const B: usize>(day: &Pieces, asked: &[(usize, Vec<SVector<f64, S>>)]) {
    let (mut dy, mut books_w) = (SVector::<f64, S>::zeros(), SVector::<f64, B>::zeros());
    for (piece, states) in asked {
        let piece = &day.pieces[*piece];
        for y in states {
            booked(day, piece, black_box(y), &mut dy, &mut books_w);
            black_box((&dy, &books_w));
        }
    }
}

/// Calls times the cost of one, beside the whole.
pub fn cost(path: &str, repeats: usize) -> Outcome<Value> {
    let (text, day) = read(path)?;
    let mut transmission = Transmission::new(&day.setup).map_err(|error| error.to_string())?;
    let pieces = cut(&mut transmission, &day)?;
    let (_, starts) = tight(&pieces)?;
    let finer =
        Tolerance { relative: TOLERANCE.relative / 3.0, absolute: TOLERANCE.absolute / 3.0 };
    let (mut heat, mut driving) = (Vec::new(), Vec::new());
    for (place, (piece, start)) in pieces.pieces.iter().zip(&starts).enumerate() {
        if piece.driving.is_some() {
            let states = asked::<WHOLE, PASS_BOOKS>(&pieces, piece, start, finer)?;
            driving.push((place, states));
        } else {
            let start: SVector<f64, NODES> = start.fixed_rows::<NODES>(0).into_owned();
            heat.push((place, asked::<NODES, PATHS>(&pieces, piece, &start, TOLERANCE)?));
        }
    }
    let heat_calls: usize = heat.iter().map(|(_, states)| states.len()).sum();
    let pass_calls: usize = driving.iter().map(|(_, states)| states.len()).sum();
    // In turns, so that a slow moment of the machine falls on all.
    let mut rounds = Vec::new();
    for _ in 0..repeats.max(1) {
        let heat_s = least_s(20, || replay::<NODES, PATHS>(&pieces, &heat));
        let pass_s = least_s(20, || replay::<WHOLE, PASS_BOOKS>(&pieces, &driving));
        let parse_s = least_s(20, || drop(black_box(scenario::parse(black_box(&text)))));
        let prepare_s = least_s(20, || drop(black_box(Transmission::new(black_box(&day.setup)))));
        let mut evaluations = 0;
        let whole_s = least_s(20, || {
            evaluations = simulate(black_box(&day)).map_or(0, |trace| trace.evaluations);
        });
        // The same day again on a transmission that has its pumps, circuits and curves.
        let mut kept = Transmission::new(&day.setup).map_err(|error| error.to_string())?;
        simulate_on(&mut kept, &day, TOLERANCE).map_err(|error| error.to_string())?;
        let again_s = least_s(20, || {
            drop(black_box(simulate_on(&mut kept, black_box(&day), TOLERANCE)));
        });
        rounds.push(json!({
            "heat_calls": heat_calls,
            "pass_calls": pass_calls,
            "calls": evaluations,
            "heat_s": heat_s,
            "pass_s": pass_s,
            "parse_s": parse_s,
            "prepare_s": prepare_s,
            "whole_s": whole_s,
            "again_s": again_s,
        }));
    }
    Ok(Value::Array(rounds))
}

/// Days made of one: more rounds in twelve hours, and more hours around six rounds.
pub fn grow(path: &str, repeats: usize) -> Outcome<Value> {
    let text = std::fs::read_to_string(path)?;
    let base: Value = serde_json::from_str(&text)?;
    let made = |rounds: u32, hours: u32| -> Outcome<Value> {
        let mut text = base.clone();
        let before_min = 120;
        let after_min = hours * 60 - before_min - rounds * 20;
        let items = text["timeline"].as_array_mut().ok_or("no timeline")?;
        for item in items.iter_mut() {
            if item.get("rounds").is_some() {
                item["rounds"] = json!(vec!["20 min"; rounds as usize]);
            }
        }
        *items.last_mut().ok_or("an empty timeline")? =
            json!({ "event": "engine_off", "duration": format!("{after_min} min") });
        let day = scenario::parse(&text.to_string()).map_err(|error| error.to_string())?;
        let trace = simulate(&day).map_err(|error| error.to_string())?;
        let seconds = least_s(repeats, || drop(black_box(simulate(black_box(&day)))));
        Ok(json!({
            "rounds": rounds,
            "hours": hours,
            "events": trace.events.len(),
            "evaluations": trace.evaluations,
            "seconds": seconds,
        }))
    };
    let events: Outcome<Vec<Value>> =
        [1, 2, 4, 8, 16, 29].map(|rounds| made(rounds, 12)).into_iter().collect();
    let hours: Outcome<Vec<Value>> =
        [5, 9, 18, 36].map(|hours| made(6, hours)).into_iter().collect();
    Ok(json!({ "events": events?, "hours": hours? }))
}
