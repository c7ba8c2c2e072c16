//! The optimiser of `fit` against certified values: six NIST Statistical Reference Datasets for nonlinear regression
//! (tests/data/nist), each from both of its starts, with derivatives by differences as in a fit.
//!
//! Digits are those of NIST's own measure, the log relative error `−log₁₀(|x − c| / |c|)`, at most eleven, which is all
//! that is certified.

use crate::assert_at_least;
use stallheat::fit::least_squares::{EXACT_STEP, Problem, STRIDES, minimise};

struct Set {
    name: &'static str,
    text: &'static str,
    model: fn(&[f64], f64) -> f64,
}

/// Digits of the worst parameter, and of the worst standard deviation, from either start.
const LEAST_DIGITS: f64 = 6.0;

const SETS: [Set; 6] = [
    Set {
        name: "Misra1a",
        text: include_str!("../data/nist/Misra1a.dat"),
        model: |b, x| b[0] * (1.0 - (-b[1] * x).exp()),
    },
    Set {
        name: "MGH17",
        text: include_str!("../data/nist/MGH17.dat"),
        model: |b, x| b[0] + b[1] * (-x * b[3]).exp() + b[2] * (-x * b[4]).exp(),
    },
    Set {
        name: "MGH09",
        text: include_str!("../data/nist/MGH09.dat"),
        model: |b, x| b[0] * (x * x + x * b[1]) / (x * x + x * b[2] + b[3]),
    },
    Set {
        name: "Thurber",
        text: include_str!("../data/nist/Thurber.dat"),
        model: |b, x| {
            (b[0] + x * (b[1] + x * (b[2] + x * b[3]))) / (1.0 + x * (b[4] + x * (b[5] + x * b[6])))
        },
    },
    Set {
        name: "Rat43",
        text: include_str!("../data/nist/Rat43.dat"),
        model: |b, x| b[0] / (1.0 + (b[1] - b[2] * x).exp()).powf(1.0 / b[3]),
    },
    Set {
        name: "BoxBOD",
        text: include_str!("../data/nist/BoxBOD.dat"),
        model: |b, x| b[0] * (1.0 - (-b[1] * x).exp()),
    },
];

/// `b1 = start1 start2 certified deviation`, by parameter.
fn certified(text: &str) -> Vec<[f64; 4]> {
    let rows = text.lines().filter_map(|line| {
        let (name, rest) = line.split_once('=')?;
        let number = name.trim().strip_prefix('b')?;
        number.parse::<u32>().ok()?;
        let numbers: Vec<f64> = rest.split_whitespace().filter_map(|n| n.parse().ok()).collect();
        numbers.try_into().ok()
    });
    rows.collect()
}

/// Pairs of y and x.
fn data(text: &str) -> Vec<(f64, f64)> {
    let after = text.rsplit("Data:").next().unwrap();
    let pair = |line: &str| {
        let (y, x) = line.trim().split_once(char::is_whitespace)?;
        Some((y.parse().ok()?, x.trim().parse().ok()?))
    };
    after.lines().skip(1).filter_map(pair).collect()
}

fn stated(text: &str, words: &str) -> f64 {
    let line = text.lines().find(|line| line.contains(words)).unwrap();
    line.rsplit(':').next().unwrap().trim().parse().unwrap()
}

fn digits(found: f64, certified: f64) -> f64 {
    (-((found - certified) / certified).abs().log10()).min(11.0)
}

#[test]
pub fn certified_values_are_reached_from_both_starts() {
    let mut short = Vec::new();
    for set in &SETS {
        let (rows, data) = (certified(set.text), data(set.text));
        assert_eq!(data.len() as f64, stated(set.text, "Number of Observations"), "{}", set.name);
        assert!(rows.len() >= 2, "{}", set.name);
        let residuals = |b: &[f64]| {
            Some(data.iter().map(|(y, x)| (set.model)(b, *x) - y).collect::<Vec<f64>>())
        };
        let problem = Problem {
            residuals: &residuals,
            bounds: vec![(f64::NEG_INFINITY, f64::INFINITY); rows.len()],
            step: EXACT_STEP,
            patience: 1_000,
            strides: &STRIDES,
            tolerance: None,
        };
        for start in [0, 1] {
            let from: Vec<f64> = rows.iter().map(|row| row[start]).collect();
            let Some(found) = minimise(&problem, &from) else {
                println!("{:8} start {}: no minimum", set.name, start + 1);
                short.push(format!("{} start {}", set.name, start + 1));
                continue;
            };
            let worst = |pairs: Vec<(f64, f64)>| {
                pairs.into_iter().map(|(x, c)| digits(x, c)).fold(11.0, f64::min)
            };
            let parameters =
                worst(found.x.iter().zip(&rows).map(|(x, row)| (*x, row[2])).collect());
            let freedom = (data.len() - rows.len()) as f64;
            let variance = found.sum_of_squares() / freedom;
            let covariance = found.covariance.as_ref();
            let deviation =
                |i: usize| covariance.map_or(f64::NAN, |c| (c[(i, i)] * variance).sqrt());
            let deviations = worst((0..rows.len()).map(|i| (deviation(i), rows[i][3])).collect());
            let squares =
                digits(found.sum_of_squares(), stated(set.text, "Residual Sum of Squares"));
            println!(
                "{:8} start {}: {parameters:4.1} digits of the parameters, {deviations:4.1} of their standard \
                 deviations, {squares:4.1} of the sum of squares; {} evaluations",
                set.name,
                start + 1,
                found.evaluations
            );
            if !(parameters >= LEAST_DIGITS && deviations >= LEAST_DIGITS) {
                short.push(format!("{} start {}", set.name, start + 1));
                continue;
            }
            let what = format!("{}, digits of the worst parameter and deviation", set.name);
            assert_at_least(&what, parameters.min(deviations), LEAST_DIGITS);
        }
    }
    assert!(short.is_empty(), "too few digits: {short:?}");
}

/// A parabola whose least point lies beyond a limit: the parameter ends at the limit, the other where it is best there.
/// By hand: of (x + y − 3)² + (x − y + 1)²·4 the minimum is x = 1, y = 2; with y ≤ 1.5, d/dx gives
/// 2(x − 1.5) + 8(x − 0.5) = 0, so x = 0.7.
#[test]
pub fn a_parameter_is_held_at_its_limit() {
    let residuals = |b: &[f64]| Some(vec![b[0] + b[1] - 3.0, 2.0 * (b[0] - b[1] + 1.0)]);
    for (start, limit, at) in
        [(0.0, 1.5, [0.7, 1.5]), (1.5, 1.5, [0.7, 1.5]), (0.0, 9.0, [1.0, 2.0])]
    {
        let problem = Problem {
            residuals: &residuals,
            bounds: vec![(-5.0, 5.0), (-5.0, limit)],
            step: EXACT_STEP,
            patience: 100,
            strides: &STRIDES,
            tolerance: None,
        };
        let found = minimise(&problem, &[0.0, start]).unwrap();
        assert!(
            (found.x[0] - at[0]).abs() < 1e-8 && (found.x[1] - at[1]).abs() < 1e-8,
            "{:?}",
            found.x
        );
        assert_eq!(found.at_limit, [0, i8::from(limit < 2.0)]);
    }
}
