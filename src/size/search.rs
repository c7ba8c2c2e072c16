//! The least (or most) of one parameter that meets an aim: a coarse grid over its range, then halving between the two
//! values of the grid that part "missed" from "met", on numbers of three digits in the reader's unit.
//!
//! Halving on the very numbers that are said makes the rounding safe: the answer was simulated and meets the aim, and
//! the number before it was simulated and does not. It needs no slope, so that days with steps in them (a pump that waits
//! for a temperature) are no trouble. Where an aim is met twice over the range with a gap between, the answer is the
//! end of the first stretch. A stretch narrower than a step of the grid is looked for around the best value only.

use super::{Aim, Case, LOST, Measured, Unknown};
use crate::units::System;

/// Values of the coarse grid.
const GRID: usize = 17;
/// Excess that differs by less than this over the whole range makes no difference (K).
const FLAT_K: f64 = 0.05;
/// Smallest air flow of the grid beside none (m³/s).
const LEAST_AIR_M3_PER_S: f64 = 0.02;

/// What a search comes to; values in the reader's unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Found {
    /// The value meets the aim. `other`: the last that still does on its far side, where there is one. `at_end`: the
    /// value is the end of the range, there is no next one to miss the aim.
    Value { value: f64, measured: Measured, at_end: bool, other: Option<f64> },
    /// Nothing in the range meets it; this comes nearest.
    Never { best: f64, measured: Measured },
    /// The parameter changes nothing.
    Flat { measured: Measured },
}

/// An answer under slightly other circumstances.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nearby {
    pub what: Other,
    pub found: Found,
}

/// What is other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Other {
    /// Time of the aim moved (s).
    Time(f64),
    /// Temperature of the aim moved (K).
    Temperature(f64),
    /// Air hotter (K).
    Air(f64),
}

/// The answer to a question of size.
#[derive(Debug, Clone, PartialEq)]
pub struct Sized {
    pub unknown: Unknown,
    pub system: System,
    pub found: Found,
    /// As the day is: value in the reader's unit, and what it comes to.
    pub present: (f64, Measured),
    /// Least and largest value searched, in the reader's unit.
    pub range: (f64, f64),
    pub nearby: Vec<Nearby>,
    /// The measure with a tenth less and a tenth more than the answer (or the present value), where in range.
    pub tenth: [Option<(f64, Measured)>; 2],
    /// Days simulated.
    pub simulated: usize,
}

/// Solves a case for an unknown. `progress` is told how many days of about how many are simulated. `None` if the day
/// has no such thing: no hold on the brake.
pub fn size(
    case: &Case,
    unknown: Unknown,
    system: System,
    progress: &mut dyn FnMut(usize, usize),
) -> Option<Sized> {
    let unit = unknown.unit(system);
    let present_si = unknown.value_si(case.scenario())?;
    let others = others(case, system);
    let about = (GRID + 8) * (1 + others.len()) + 3;
    let mut simulated = 0;
    let mut measure = |case: &Case, value: f64| {
        simulated += 1;
        progress(simulated, about.max(simulated));
        case.measure(&[(unknown, unit.to_si(value))])
    };
    let present = (unit.from_si(present_si), measure(case, unit.from_si(present_si)));
    let grid = grid(case, unknown, system);
    let range = (grid[0], grid[grid.len() - 1]);
    let large = unknown.is_wanted_large();
    let found = search(&grid, large, &mut |value| measure(case, value));
    let mut nearby = Vec::new();
    if !matches!(found, Found::Flat { .. }) {
        for (what, other) in &others {
            let grid = self::grid(other, unknown, system);
            let found = search(&grid, large, &mut |value| measure(other, value));
            nearby.push(Nearby { what: *what, found });
        }
    }
    let around = match found {
        Found::Value { value, .. } => value,
        _ => present.0,
    };
    let tenth = [0.9, 1.1].map(|factor| {
        let value = around * factor;
        let inside = value != 0.0
            && range.0 <= value
            && value <= range.1
            && !matches!(found, Found::Flat { .. });
        inside.then(|| (value, measure(case, value)))
    });
    Some(Sized { unknown, system, found, present, range, nearby, tenth, simulated })
}

/// The same question asked slightly otherwise: a minute or a few degrees less and more, hotter air.
fn others(case: &Case, system: System) -> Vec<(Other, Case)> {
    let degrees_k = match system {
        System::Us => 10.0 / 1.8,
        System::Si => 5.0,
    };
    let mut all = Vec::new();
    for sign in [-1.0, 1.0] {
        let (what, aim) = match case.aim() {
            Aim::BackIn { within_s, after, cooling } => {
                let within_s = within_s + sign * 60.0;
                (Other::Time(sign * 60.0), Aim::BackIn { within_s, after, cooling })
            }
            Aim::LaunchesAtMost { node, temperature_k } => {
                let temperature_k = temperature_k + sign * degrees_k;
                (Other::Temperature(sign * degrees_k), Aim::LaunchesAtMost { node, temperature_k })
            }
            Aim::ConverterAtMost { temperature_k } => {
                let temperature_k = temperature_k + sign * degrees_k;
                (Other::Temperature(sign * degrees_k), Aim::ConverterAtMost { temperature_k })
            }
            Aim::LaunchesInWindow => continue,
        };
        if !matches!(aim, Aim::BackIn { within_s, .. } if within_s <= 0.0) {
            all.push((what, case.moved(aim)));
        }
    }
    let air_k = case.scenario().setup.air.temperature_k + degrees_k;
    if air_k <= Unknown::Air.range_si(case.scenario()).1 {
        all.push((Other::Air(degrees_k), case.with_air(air_k)));
    }
    all
}

/// The step of the last of three digits at a value.
fn digit(value: f64) -> f64 {
    10f64.powi(value.abs().max(1e-9).log10().floor() as i32 - 2)
}

/// The nearest number of so many steps: divided, not multiplied, where the step is a fraction, so that 43 tenths are
/// 4.3 as written.
fn steps(count: i64, step: f64) -> f64 {
    if step < 1.0 { count as f64 / (1.0 / step).round() } else { count as f64 * step }
}

/// Values over the range, in equal ratios, of three digits in the reader's unit.
fn grid(case: &Case, unknown: Unknown, system: System) -> Vec<f64> {
    let unit = unknown.unit(system);
    let (low_si, high_si) = unknown.range_si(case.scenario());
    let from_si = if low_si > 0.0 { low_si } else { LEAST_AIR_M3_PER_S };
    let (low, high) = (unit.from_si(from_si), unit.from_si(high_si));
    let mut grid: Vec<f64> = if low_si > 0.0 { Vec::new() } else { vec![0.0] };
    for place in 0..GRID {
        let value = low * (high / low).powf(place as f64 / (GRID - 1) as f64);
        let step = digit(value);
        // The ends are rounded into the range.
        let count = match place {
            0 => (value / step - 1e-9).ceil(),
            _ if place == GRID - 1 => (value / step + 1e-9).floor(),
            _ => (value / step).round(),
        };
        grid.push(steps(count as i64, step));
    }
    grid
}

/// Searches a rising grid for the first value that meets the aim, or from its end for the last.
pub(super) fn search(grid: &[f64], large: bool, measure: &mut dyn FnMut(f64) -> Measured) -> Found {
    let mut values = grid.to_vec();
    if large {
        values.reverse();
    }
    let mut measured: Vec<Measured> = values.iter().map(|value| measure(*value)).collect();
    let excess = measured.iter().map(|one| one.excess_k);
    let spread = excess.clone().fold(f64::NEG_INFINITY, f64::max)
        - excess.clone().fold(f64::INFINITY, f64::min);
    let Some(best) =
        (0..values.len()).min_by(|a, b| measured[*a].excess_k.total_cmp(&measured[*b].excess_k))
    else {
        return Found::Flat { measured: Measured { excess_k: 0.0, ..LOST } };
    };
    if spread < FLAT_K {
        return Found::Flat { measured: measured[best] };
    }
    if !measured[best].meets() {
        let (value, at_best) = lowest_between(&values, best, measured[best], measure);
        if !at_best.meets() {
            return Found::Never { best: value, measured: at_best };
        }
        // A narrow stretch between two values of the grid: it becomes one of them.
        let after = values.partition_point(|one| if large { *one > value } else { *one < value });
        values.insert(after, value);
        measured.insert(after, at_best);
    }
    let first = measured.iter().position(Measured::meets).unwrap_or(best);
    let stretch = measured[first..].iter().take_while(|one| one.meets()).count();
    let last = first + stretch - 1;
    let other =
        (last + 1 < values.len()).then(|| between(values[last + 1], values[last], measure).0);
    if first == 0 {
        let (value, measured) = (values[0], measured[0]);
        return Found::Value { value, measured, at_end: true, other };
    }
    let (value, at_value) = between(values[first - 1], values[first], measure);
    Found::Value { value, measured: at_value.unwrap_or(measured[first]), at_end: false, other }
}

/// Between a value that misses and one that meets the aim, the last number of three digits that meets it on the way
/// to the one that misses.
fn between(
    misses: f64,
    meets: f64,
    measure: &mut dyn FnMut(f64) -> Measured,
) -> (f64, Option<Measured>) {
    let low = misses.min(meets);
    let step = digit(if low > 0.0 { low } else { misses.max(meets) });
    let (mut no, mut yes) = ((misses / step).round() as i64, (meets / step).round() as i64);
    let mut at_yes = None;
    while (no - yes).abs() > 1 {
        let middle = (no + yes) / 2;
        let measured = measure(steps(middle, step));
        if measured.meets() {
            (yes, at_yes) = (middle, Some(measured));
        } else {
            no = middle;
        }
    }
    (steps(yes, step), at_yes)
}

/// The least excess between the neighbours of the best value of the grid, by golden section.
fn lowest_between(
    values: &[f64],
    best: usize,
    at_best: Measured,
    measure: &mut dyn FnMut(f64) -> Measured,
) -> (f64, Measured) {
    const SHARE: f64 = 0.381_966;
    let mut low = values[best.saturating_sub(1)];
    let mut high = values[(best + 1).min(values.len() - 1)];
    let mut lowest = (values[best], at_best);
    for _ in 0..10 {
        let middle = lowest.0;
        let (to_low, to_high) = ((middle - low).abs(), (high - middle).abs());
        let toward = if to_high > to_low { high } else { low };
        let raw = middle + SHARE * (toward - middle);
        let step = digit(raw);
        let next = steps((raw / step).round() as i64, step);
        if next == middle || next == low || next == high {
            break;
        }
        let measured = measure(next);
        if measured.excess_k < lowest.1.excess_k {
            if toward == high {
                low = middle
            } else {
                high = middle
            }
            lowest = (next, measured);
        } else if toward == high {
            high = next;
        } else {
            low = next;
        }
        if lowest.1.meets() {
            break;
        }
    }
    lowest
}
