//! The band of a day: its sampler and quantiles against published examples of JCGM 101, a table of the normal
//! distribution, and days simulated by hand.

mod common;

use stallheat::band::{Band, coverage_interval, latin_hypercube, normal_quantile};
use stallheat::outline::Outline;
use stallheat::scenario::{self, Scenario, parameters::PARAMETERS};
use stallheat::simulate::{simulate, simulate_outline};
use stallheat::timeline::Node;
use stallheat::transmission::Transmission;

/// As many as JCGM 101 uses in its examples.
const DRAWS: usize = 1_000_000;
/// A check of a sampled value allows this many standard errors of plain random draws, which a Latin hypercube
/// does not exceed.
const ERRORS: f64 = 4.0;

/// Allowed error of the quantile at `p` of sorted values: its standard error is √(p(1 − p)/n)/f (Mosteller 1946),
/// with the density f from the slope of the values around it.
fn quantile_tolerance(sorted: &[f64], p: f64) -> f64 {
    let at = |p: f64| sorted[(p * sorted.len() as f64) as usize];
    let density = 0.01 / (at(p + 0.005) - at(p - 0.005));
    ERRORS * (p * (1.0 - p) / sorted.len() as f64).sqrt() / density
}

/// A rectangular distribution of mean 0 and the given standard deviation.
fn rectangular(unit: f64, deviation: f64) -> f64 {
    12f64.sqrt() * deviation * (unit - 0.5)
}

fn mean_and_deviation(values: &[f64]) -> (f64, f64) {
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    let square = values.iter().map(|value| (value - mean).powi(2)).sum::<f64>();
    (mean, (square / (values.len() - 1) as f64).sqrt())
}

/// Abramowitz & Stegun 1964, table 26.5 and the usual tables (from memory, checked with Python's `statistics.NormalDist`),
/// to six decimals: the tolerance is half of the last one, and 2e-7 of the algorithm.
#[test]
fn normal_quantiles_are_those_of_the_table() {
    let table = [
        (0.5, 0.0),
        (0.75, 0.674490),
        (0.9, 1.281552),
        (0.95, 1.644854),
        (0.975, 1.959964),
        (0.99, 2.326348),
        (0.995, 2.575829),
        (0.999, 3.090232),
        (0.9999, 3.719016),
        (0.99999, 4.264891),
    ];
    for (p, z) in table {
        let tolerance = 5e-7 + 2e-7 * z;
        assert!((normal_quantile(p) - z).abs() < tolerance, "{p}: {}", normal_quantile(p));
        assert!((normal_quantile(1.0 - p) + z).abs() < tolerance, "{p}: lower tail");
    }
    // Beyond the table: `statistics.NormalDist`.
    assert!((normal_quantile(1e-12) + 7.034484).abs() < 2e-6);
}

#[test]
fn every_slice_of_every_axis_holds_one_point() {
    let points = latin_hypercube(5, 40, 7);
    for axis in 0..5 {
        let mut slices: Vec<usize> = points.iter().map(|p| (p[axis] * 40.0) as usize).collect();
        slices.sort();
        assert_eq!(slices, (0..40).collect::<Vec<usize>>());
    }
    assert_ne!(points[0][0], points[0][1]);
}

/// JCGM 101:2008, 9.2.3: the sum of four rectangular distributions of unit standard deviation; 95 % lie within
/// ±3.88 (a normal sum would give ±3.92). Closed form (Irwin–Hall): ±3.879407, u = 2.
#[test]
fn sum_of_four_equal_rectangles() {
    let mut sums: Vec<f64> = latin_hypercube(4, DRAWS, 1)
        .iter()
        .map(|point| point.iter().map(|unit| rectangular(*unit, 1.0)).sum())
        .collect();
    let (mean, u) = mean_and_deviation(&sums);
    let (low, high) = coverage_interval(&mut sums, 0.95);
    let tolerance = quantile_tolerance(&sums, 0.975);
    assert!(tolerance < 0.02, "{tolerance}"); // that stated with the closed form; ±3.92 fails
    assert!((high - 3.879407).abs() < tolerance, "{high}");
    assert!((low + 3.879407).abs() < tolerance, "{low}");
    // Single quantiles of the same closed form.
    for (p, quantile) in [(0.75, 1.395086), (0.95, 3.302538)] {
        let sampled = sums[(p * DRAWS as f64) as usize];
        assert!((sampled - quantile).abs() < quantile_tolerance(&sums, p), "{p}: {sampled}");
    }
    assert!(mean.abs() < ERRORS * 2.0 / (DRAWS as f64).sqrt(), "{mean}");
    assert!((u - 2.0).abs() < ERRORS * 2.0 / (2.0 * DRAWS as f64).sqrt(), "{u}");
}

/// JCGM 101:2008, 9.2.4: one of the four is ten times as wide; u = 10.1, 95 % within ±17.0 (the framework of the GUM
/// gives ±19.9). Irwin–Hall, integrated: 10.148892 and 17.015814.
#[test]
fn sum_of_four_rectangles_one_of_them_wide() {
    let mut sums: Vec<f64> = latin_hypercube(4, DRAWS, 2)
        .iter()
        .map(|p| p[..3].iter().map(|u| rectangular(*u, 1.0)).sum::<f64>() + rectangular(p[3], 10.0))
        .collect();
    let (_, u) = mean_and_deviation(&sums);
    let (low, high) = coverage_interval(&mut sums, 0.95);
    let tolerance = quantile_tolerance(&sums, 0.975);
    assert!(tolerance < 0.05, "{tolerance}"); // stated with the integrated value
    assert!((high - 17.015814).abs() < tolerance, "{high}");
    assert!((low + 17.015814).abs() < tolerance, "{low}");
    assert!((u - 10.148892).abs() < ERRORS * u / (2.0 * DRAWS as f64).sqrt(), "{u}");
}

/// JCGM 101:2008, 9.3, mass calibration: published 1.234 mg, u = 0.0754 mg, [1.0834, 1.3825] mg as its shortest
/// interval; with equal tails [1.084515, 1.383532] mg, u exactly 0.0754797 mg (integrated; SciPy, NumPy 2.4e7 draws).
/// First-order propagation gives 0.0539, in closed form √(0.050² + 0.020²).
#[test]
fn mass_calibration() {
    let mut deviations_mg: Vec<f64> = latin_hypercube(5, DRAWS, 3)
        .iter()
        .map(|point| {
            let reference_mg = 100_000.0 + 0.050 * normal_quantile(point[0]);
            let added_mg = 1.234 + 0.020 * normal_quantile(point[1]);
            let air = 1.10 + 0.20 * point[2];
            let (weight, reference) = (7_000.0 + 2_000.0 * point[3], 7_950.0 + 100.0 * point[4]);
            (reference_mg + added_mg) * (1.0 + (air - 1.2) * (1.0 / weight - 1.0 / reference))
                - 100_000.0
        })
        .collect();
    let (mean_mg, u_mg) = mean_and_deviation(&deviations_mg);
    let (low_mg, high_mg) = coverage_interval(&mut deviations_mg, 0.95);
    assert!((mean_mg - 1.234).abs() < ERRORS * u_mg / (DRAWS as f64).sqrt(), "{mean_mg}");
    // Tails heavier than normal ones: 3.6e-4 bounds four standard errors of u with a kurtosis up to 6.
    assert!((u_mg - 0.0754797).abs() < 3.6e-4, "{u_mg}");
    // First order, by halves of differences (JCGM 100:2008, 5.1.3, note 2): short of the sampled one by 29 %.
    let calibrated_mg =
        |x: [f64; 5]| (x[0] + x[1]) * (1.0 + (x[2] - 1.2) * (1.0 / x[3] - 1.0 / x[4])) - 100_000.0;
    let at = [100_000.0, 1.234, 1.2, 8_000.0, 8_000.0];
    let root_3 = 3f64.sqrt();
    let u = [0.050, 0.020, 0.10 / root_3, 1_000.0 / root_3, 50.0 / root_3];
    let halves = (0..5).map(|i| {
        let moved = |by: f64| {
            let mut x = at;
            x[i] += by;
            calibrated_mg(x)
        };
        0.5 * (moved(u[i]) - moved(-u[i]))
    });
    let first_order_mg = halves.map(|half| half * half).sum::<f64>().sqrt();
    assert!((first_order_mg - 0.05385164807).abs() < 1e-9, "{first_order_mg}");
    assert!(u_mg > 1.3 * first_order_mg);
    let tolerance = quantile_tolerance(&deviations_mg, 0.975);
    assert!(tolerance < 0.0015, "{tolerance}"); // stated with the integrated value
    assert!((low_mg - 1.0845154).abs() < tolerance, "{low_mg}");
    assert!((high_mg - 1.3835317).abs() < tolerance, "{high_mg}");
}

/// A lognormal quantity, exp(4.787492 + 0.08·z), median 120: the 5 %, 50 % and 95 % points in closed form, exp(μ + z·s)
/// with z = ∓1.644854. The band of 90 % has the outer two as its ends.
#[test]
fn lognormal_band_is_the_closed_form() {
    let mut values: Vec<f64> = latin_hypercube(1, DRAWS, 4)
        .iter()
        .map(|point| (4.787491742782046 + 0.08 * normal_quantile(point[0])).exp())
        .collect();
    let (low, high) = coverage_interval(&mut values, 0.90);
    for (p, sampled, exact) in [
        (0.05, low, 105.20422410911125),
        (0.5, values[DRAWS / 2], 120.0),
        (0.95, high, 136.8766332525319),
    ] {
        let tolerance = quantile_tolerance(&values, p);
        assert!(tolerance < 0.003 * exact, "{tolerance}"); // that stated with the closed form
        assert!((sampled - exact).abs() < tolerance, "{p}: {sampled}");
    }
}

fn saturday() -> Scenario {
    scenario::parse(include_str!("../scenarios/saturday_bracket_day.json")).unwrap()
}

/// The band of the example day in which only these parameters are spread.
fn band_of(spread: &[&str], times_s: Vec<f64>, draws: usize) -> Band {
    let paths: Vec<String> = PARAMETERS.iter().map(|parameter| parameter.path()).collect();
    let known: Vec<&str> =
        paths.iter().map(String::as_str).filter(|path| !spread.contains(path)).collect();
    Band::new(saturday(), times_s, draws, &known)
}

/// The band is made of outlines; tests/validation/accuracy.rs says how near they are to the days.
fn outline(day: &Scenario) -> Outline {
    simulate_outline(&mut Transmission::new(&day.setup).unwrap(), day).unwrap()
}

#[test]
fn without_spread_the_band_is_the_day() {
    let trace = outline(&saturday());
    let times_s = vec![0.0, 7_000.0, 12_345.6, 20_000.0];
    let mut band = band_of(&[], times_s.clone(), 3);
    assert_eq!(band.step(2), 2);
    assert_eq!(band.step(9), 3);
    let (low_k, high_k) = band.node_k(Node::PanFluid);
    for (i, time_s) in times_s.iter().enumerate() {
        let day_k = trace.temperature_at_k(Node::PanFluid, *time_s);
        assert_eq!((low_k[i], high_k[i]), (day_k, day_k));
    }
    assert_eq!(band.launches().len(), trace.launches.len());
}

/// One parameter in which the result falls throughout: the fifth of 200 results comes from the fifth-highest
/// two-hundredth of its distribution, so it lies between the days at both ends of that slice.
#[test]
fn one_parameter_gives_its_own_quantiles() {
    let row = PARAMETERS.iter().find(|row| row.path() == "cooler.ua").unwrap();
    let pan_k = |deviations: f64| {
        let mut day = saturday();
        let moved_si = row.moved_si(row.value_si(&day.setup), deviations);
        row.set_si(&mut day.setup, moved_si);
        outline(&day).launches.last().unwrap().temperature_k[Node::PanFluid.index()]
    };
    let mut band = band_of(&["cooler.ua"], vec![0.0], 200);
    assert_eq!(band.step(200), 200);
    let (low_k, high_k) = band.launches().last().unwrap().temperature_k[Node::PanFluid.index()];
    let slice = |rank: f64| {
        (normal_quantile(1.0 - (rank - 1.0) / 200.0), normal_quantile(1.0 - rank / 200.0))
    };
    let (upper, lower) = slice(5.0);
    assert!(pan_k(upper) <= low_k && low_k <= pan_k(lower), "{low_k}");
    let (upper, lower) = slice(195.0);
    assert!(pan_k(upper) <= high_k && high_k <= pan_k(lower), "{high_k}");
    assert!(high_k - low_k > 0.5, "a cooler of unknown size matters: {low_k} to {high_k}");
}

#[test]
fn a_day_lies_in_its_own_band_and_draws_repeat() {
    let trace = simulate(&saturday()).unwrap();
    let times_s: Vec<f64> = (0..60).map(|i| f64::from(i) * trace.duration_s() / 59.0).collect();
    let run = || {
        let mut band = Band::new(saturday(), times_s.clone(), 60, &[]);
        band.step(60);
        assert_eq!(band.simulated(), 60);
        (band.node_k(Node::ConverterFluid), band.launches())
    };
    let ((low_k, high_k), launches) = run();
    for (i, time_s) in times_s.iter().enumerate() {
        let day_k = trace.temperature_at_k(Node::ConverterFluid, *time_s);
        // Medians of the parameters do not give exactly the median of the day; at rest in the air's temperature all
        // draws agree to the solver's error, 0.05 K.
        assert!(low_k[i] - 0.05 <= day_k && day_k <= high_k[i] + 0.05, "{time_s} s: {day_k}");
    }
    assert!(launches.iter().all(|launch| launch.elapsed_s.is_some_and(|(low, high)| low < high)));
    assert_eq!(run().0, (low_k, high_k));
}

/// Draws may be computed apart and in any order; kept in theirs, they give the band that steps give.
#[test]
fn draws_computed_apart_give_the_same_band() {
    let by_steps = {
        let mut band = Band::new(saturday(), vec![9_000.0], 12, &[]);
        band.step(12);
        (band.node_k(Node::PanFluid), band.launches(), band.peak_k(Node::ConverterFluid))
    };
    let mut band = Band::new(saturday(), vec![9_000.0], 12, &[]);
    let mut draws: Vec<_> = (0..12).rev().map(|number| band.drawn(number)).collect();
    while let Some(draw) = draws.pop() {
        band.keep(draw);
    }
    assert!(band.drawn(12).is_none());
    assert_eq!(band.step(5), 12);
    let apart = (band.node_k(Node::PanFluid), band.launches(), band.peak_k(Node::ConverterFluid));
    assert_eq!(apart, by_steps);
    let mut other = Band::seeded(saturday(), vec![9_000.0], 12, &[], 7);
    other.step(12);
    assert_ne!(other.node_k(Node::PanFluid), by_steps.0);
}

/// One parameter in which the converter's peak rises or falls throughout: its band lies between the peaks at the ends
/// of the slices that it comes from (as above).
#[test]
fn peaks_have_a_band_of_their_own() {
    let row = PARAMETERS.iter().find(|row| row.path() == "converter.shell_mass").unwrap();
    let peak_k = |deviations: f64| {
        let mut day = saturday();
        let moved_si = row.moved_si(row.value_si(&day.setup), deviations);
        row.set_si(&mut day.setup, moved_si);
        simulate(&day).unwrap().peak(Node::ConverterFluid).0
    };
    let mut band = band_of(&["converter.shell_mass"], Vec::new(), 200);
    band.step(200);
    let (low_k, high_k) = band.peak_k(Node::ConverterFluid);
    // More steel, lower peak: the fifth-lowest peak has the fifth-heaviest steel.
    let heavy = |rank: f64| normal_quantile(1.0 - rank / 200.0);
    assert!(peak_k(heavy(4.0)) <= low_k && low_k <= peak_k(heavy(5.0)), "{low_k}");
    assert!(peak_k(heavy(194.0)) <= high_k && high_k <= peak_k(heavy(195.0)), "{high_k}");
}
