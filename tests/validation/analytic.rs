//! Solver and network against closed forms, textbook transients and reference solutions.
//!
//! The networks are built of the package's own types, so what is checked is what simulates a race day.
//! Sources: Bergman, Lavine, Incropera & DeWitt, *Fundamentals of Heat and Mass Transfer* (examples 5.2, 5.3,
//! equations 5.18, 5.28), with numbers recomputed by SciPy 1.17.1 (DOP853, rtol 1e-12) where the book
//! rounds; the six-node networks of `tests/data/network_reference.json` (method stated there).

use crate::{assert_at_most, assert_near, assert_within};
use ode_solvers::SVector;
use serde_json::Value;
use stallheat::convection::STEFAN_BOLTZMANN;
use stallheat::curve::Curve;
use stallheat::network::{
    End, FlatNetwork, Follows, HeatContent, Law, Link, Network, Scaling, Share, Source, Stop,
    Stream, StreamFlow,
};
use stallheat::solver::{
    MAX_STEPS, Solution, Tolerance, first_crossing, integrate, integrate_until,
};

/// At most six nodes, and four books: heat put in, heat lost, links, streams.
const S: usize = 6;
const B: usize = 4;
const PUT_IN: usize = 0;
const LOST: usize = 1;
const LINKS: usize = 2;
const STREAMS: usize = 3;
const TIGHT: Tolerance = Tolerance { relative: 1e-11, absolute: 1e-11 };

fn network(capacities_j_per_k: &[f64], links: Vec<Link>) -> Network {
    Network {
        nodes: capacities_j_per_k.iter().map(|c| HeatContent::constant(*c)).collect(),
        links,
        sources: Vec::new(),
        streams: Vec::new(),
        fluid_per_kg: HeatContent::constant(1.0),
        fluid_density: Curve::tabulate(0.0, 1.0, 4, |_| 1.0).into(),
        capacity: Curve::tabulate(0.0, 1.0, 4, |_| 1.0).into(),
        survey: None,
        paths: 4,
    }
}

fn link(from: usize, to: End, law: Law, path: usize) -> Link {
    Link { from: End::Node(from), to, law, path, reverse_path: path }
}

/// A network under way: start it, run it, read it.
struct Run {
    scaling: Scaling,
    state: SVector<f64, S>,
    booked_j: SVector<f64, B>,
}

impl Run {
    fn new(network: &Network, start_k: &[f64]) -> Run {
        Run {
            scaling: Scaling::new(&network.nodes, start_k),
            state: SVector::zeros(),
            booked_j: SVector::zeros(),
        }
    }

    fn solve(&self, network: &Network, duration_s: f64) -> Solution<S, B> {
        let flat = FlatNetwork::new(network);
        integrate_until(
            |y: &SVector<f64, S>, dy: &mut SVector<f64, S>, path_w: &mut SVector<f64, B>| {
                dy.fill(0.0);
                flat.derivative(&self.scaling, y, dy, path_w);
            },
            self.state,
            duration_s,
            TIGHT,
            MAX_STEPS,
            |_| false,
        )
        .unwrap()
    }

    fn advance(&mut self, network: &Network, duration_s: f64) {
        let solution = self.solve(network, duration_s);
        self.state = *solution.end();
        self.booked_j += solution.booked_at(duration_s);
    }

    fn temperatures_k(&self, network: &Network) -> Vec<f64> {
        network.temperatures_k(&self.scaling, &self.state)[..network.nodes.len()].to_vec()
    }

    fn temperature_k(&self, network: &Network, y: &SVector<f64, S>) -> f64 {
        network.temperatures_k(&self.scaling, y)[0]
    }
}

/// A thermocouple bead in hot gas that also radiates to colder walls: eq. 5.15, example 5.2.
/// Steady 218.713 °C and 4.99333 s to within 1 K of it: recomputed; the book prints 218.7 °C and 4.9 s.
#[test]
pub fn incropera_example_5_2_convection_and_radiation() {
    let diameter_m = 7.058_823_529_411_77e-4_f64;
    let area_m2 = std::f64::consts::PI * diameter_m.powi(2);
    let capacity = 8_500.0 * 400.0 * std::f64::consts::PI * diameter_m.powi(3) / 6.0;
    let emissive_area = 0.9 * area_m2 * 5.67e-8 / STEFAN_BOLTZMANN;
    let network = network(
        &[capacity],
        vec![
            link(0, End::Fixed(473.0), Law::Conductance(400.0 * area_m2), LINKS),
            link(0, End::Fixed(673.0), Law::Radiation(emissive_area), LINKS),
        ],
    );
    let run = Run::new(&network, &[298.0]);
    let solution = run.solve(&network, 120.0);
    let steady_k = run.temperature_k(&network, solution.end());
    assert_within("steady temperature, K", steady_k, 491.713_475_971, 1e-4);
    let near_s =
        first_crossing(&solution, &|y| run.temperature_k(&network, y) - (steady_k - 1.0)).unwrap();
    assert_within("time to within 1 K of it, s", near_s, 4.993_331_88, 1e-4);
}

/// An aluminium panel cured in an oven until 150 °C and 300 s more, then cooled to 37 °C: example 5.3.
/// 123.0751 s, 423.0751 s, 447.75442 K, 986.3303 s: recomputed with the book's σ = 5.67e-8, to which the
/// area is scaled here; the book prints 124, 424 and 989 s.
#[test]
pub fn incropera_example_5_3_two_phases_with_events() {
    let capacity = 2_770.0 * 875.0 * 0.001_5;
    let emissive_area = 0.8 * 5.67e-8 / STEFAN_BOLTZMANN;
    let phase = |air_k: f64, h: f64| {
        network(
            &[capacity],
            vec![
                link(0, End::Fixed(air_k), Law::Conductance(h), LINKS),
                link(0, End::Fixed(air_k), Law::Radiation(emissive_area), LINKS),
            ],
        )
    };
    let (oven, room) = (phase(448.0, 40.0), phase(298.0, 10.0));
    let mut run = Run::new(&oven, &[298.0]);
    let heating = run.solve(&oven, 600.0);
    let cured_s = first_crossing(&heating, &|y| run.temperature_k(&oven, y) - 423.0).unwrap();
    assert_within("time to 150 °C, s", cured_s, 123.075_114_78, 1e-3);
    run.state = heating.at(cured_s);
    run.advance(&oven, 300.0);
    let out_k = run.temperatures_k(&oven)[0];
    assert_within("temperature 300 s later, K", out_k, 447.754_423_055, 1e-3);
    let cooling = run.solve(&room, 1_200.0);
    let safe_s = first_crossing(&cooling, &|y| 310.0 - run.temperature_k(&room, y)).unwrap();
    assert_within("time until it can be touched, s", cured_s + 300.0 + safe_s, 986.330_299, 1e-3);
}

/// Cooling by radiation alone, eq. 5.18: 27 kJ/K, εA 0.4 m², 400 K to 350 K before 300 K walls.
#[test]
pub fn radiation_only_closed_form() {
    let network = network(&[27_000.0], vec![link(0, End::Fixed(300.0), Law::Radiation(0.4), LOST)]);
    let run = Run::new(&network, &[400.0]);
    let solution = run.solve(&network, 8_000.0);
    let reached_s = first_crossing(&solution, &|y| 350.0 - run.temperature_k(&network, y)).unwrap();
    assert_near("time from 400 K to 350 K, s", reached_s, 5_387.528_732_887, 1e-8);
}

/// Cooling by natural convection alone, eq. 5.28: C·dΔ/dt = −K·Δ^1.25.
#[test]
pub fn natural_convection_closed_form() {
    let network =
        network(&[27_000.0], vec![link(0, End::Fixed(300.0), Law::NaturalConvection(3.0), LOST)]);
    let mut run = Run::new(&network, &[400.0]);
    run.advance(&network, 3_600.0);
    let above_k = run.temperatures_k(&network)[0] - 300.0;
    assert_near("above the air after an hour, K", above_k, 33.317_760_939_78, 1e-9);
}

/// Two bodies in a row, one losing to ambient; time constants 111.547 s and 4 538.45 s. Exact: scipy expm.
#[test]
pub fn two_bodies_closed_form() {
    let network = network(
        &[9_000.0, 27_000.0],
        vec![
            link(0, End::Node(1), Law::Conductance(60.0), LINKS),
            link(1, End::Fixed(308.15), Law::Conductance(8.0), LOST),
        ],
    );
    let expected_c = [
        (60.0, [101.317_259_122_672_54, 65.727_277_999_785_04]),
        (300.0, [76.712_038_586_102_54, 71.449_139_981_193_31]),
        (1_200.0, [66.781_149_354_001_06, 65.729_536_571_389_03]),
        (3_600.0, [53.728_184_859_569_794, 53.109_201_339_253_12]),
    ];
    for (time_s, expected) in expected_c {
        let mut run = Run::new(&network, &[393.15, 333.15]);
        run.advance(&network, time_s);
        for (got_k, expected_c) in run.temperatures_k(&network).iter().zip(expected) {
            assert_within("temperature, °C", got_k - 273.15, expected_c, 1e-8);
        }
    }
}

/// Stiff linear pair, ratio 1000: y1 = (y10 − c)·e^(−at) + c·e^(−bt), c = a·y20/(a − b).
#[test]
pub fn stiff_linear_closed_form() {
    for (time_s, expected) in
        [(0.001, 0.631_752_811_473), (0.01, 0.990_995_429_249), (1.0, 0.368_247_688_860)]
    {
        let solution = integrate(
            |y: &SVector<f64, 2>, dy: &mut SVector<f64, 2>| {
                dy[0] = -1_000.0 * (y[0] - y[1]);
                dy[1] = -y[1];
            },
            SVector::from([0.0, 1.0]),
            time_s,
            TIGHT,
        )
        .unwrap();
        assert_within("the fast one", solution.end()[0], expected, 1e-8);
    }
}

/// The error follows the tolerance: y' = −y to t = 10 at tolerances a hundred apart.
#[test]
pub fn error_follows_tolerance() {
    let error = |tolerance: f64| {
        let solution = integrate(
            |y: &SVector<f64, 1>, dy: &mut SVector<f64, 1>| dy[0] = -y[0],
            SVector::from([1.0]),
            10.0,
            Tolerance { relative: tolerance, absolute: tolerance },
        )
        .unwrap();
        (solution.end()[0] - (-10f64).exp()).abs()
    };
    for tolerance in [1e-4, 1e-6, 1e-8, 1e-10] {
        assert_at_most(&format!("error at tolerance {tolerance:e}"), error(tolerance), tolerance);
    }
    assert!(error(1e-10) < 1e-3 * error(1e-4));
}

/// Steps and largest error (K) of the linear six-node network after an hour, against the matrix exponential.
pub fn work_and_error(tolerance: f64) -> (u32, f64) {
    let reference = reference();
    let part = &reference["linear"];
    let network = six_nodes(&reference, part, 250.0, &numbers(&part["Q"]));
    let run = Run::new(&network, &numbers(&part["T0"]));
    let flat = FlatNetwork::new(&network);
    let (times_s, rows_k) = (numbers(&part["t"]), rows(&part["T"]));
    let (time_s, expected_k) = (times_s[times_s.len() - 1], &rows_k[rows_k.len() - 1]);
    let solution = integrate(
        |y: &SVector<f64, S>, dy: &mut SVector<f64, S>| {
            flat.derivative_alone(&run.scaling, y, dy);
        },
        run.state,
        time_s,
        Tolerance { relative: tolerance, absolute: tolerance },
    )
    .unwrap();
    let found_k = network.temperatures_k(&run.scaling, solution.end());
    let errors_k = expected_k.iter().zip(found_k).map(|(a, b)| (a - b).abs());
    (solution.steps(), errors_k.fold(0.0, f64::max))
}

/// The method is of order five: where accuracy, not stability, decides, half the step gives a thirtieth of the error.
#[test]
pub fn error_falls_with_the_fifth_power_of_the_step() {
    for (coarse, fine) in [(0.5, 0.25), (0.25, 0.125)] {
        let order = (error_of_equal_steps(coarse) / error_of_equal_steps(fine)).log2();
        assert_within("order of the method", order, 5.0, 0.25);
    }
}

/// Error of the sine at 2 s by steps of equal length (s): a tolerance that refuses nothing makes each piece one step.
pub fn error_of_equal_steps(step_s: f64) -> f64 {
    let mut state = SVector::from([0.0, 1.0]);
    for _ in 0..(2.0 / step_s).round() as usize {
        let piece = integrate(
            |y: &SVector<f64, 2>, dy: &mut SVector<f64, 2>| {
                dy[0] = y[1];
                dy[1] = -y[0];
            },
            state,
            step_s,
            Tolerance { relative: 1e3, absolute: 1e3 },
        )
        .unwrap();
        assert_eq!(piece.steps(), 1);
        state = *piece.end();
    }
    (state[0] - 2f64.sin()).abs()
}

/// The continuous extension is of the method's quality between steps, and events are found on it.
#[test]
pub fn continuous_extension_and_events() {
    let solution = integrate(
        |y: &SVector<f64, 2>, dy: &mut SVector<f64, 2>| {
            dy[0] = y[1];
            dy[1] = -y[0];
        },
        SVector::from([0.0, 1.0]),
        6.0,
        Tolerance { relative: 1e-9, absolute: 1e-9 },
    )
    .unwrap();
    for i in 0..=600 {
        let time_s = 0.01 * f64::from(i);
        assert!((solution.at(time_s)[0] - time_s.sin()).abs() < 1e-6, "{time_s}");
    }
    let root_s = first_crossing(&solution, &|y| -y[0] - 1e-12).unwrap_or(f64::NAN);
    assert_within("root of the sine, s", root_s, std::f64::consts::PI, 1e-6);
    assert_eq!(first_crossing(&solution, &|y| y[0] - 2.0), None);
    assert_eq!(first_crossing(&solution, &|y| y[0] + 1.0), Some(0.0));
}

#[test]
pub fn what_cannot_be_integrated_is_refused() {
    let decay = |y: &SVector<f64, 1>, dy: &mut SVector<f64, 1>| dy[0] = -y[0];
    for duration_s in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert!(integrate(decay, SVector::from([1.0]), duration_s, TIGHT).is_err());
    }
    assert!(integrate(decay, SVector::from([f64::NAN]), 1.0, TIGHT).is_err());
    let explodes = |y: &SVector<f64, 1>, dy: &mut SVector<f64, 1>| dy[0] = y[0] * y[0];
    assert!(integrate(explodes, SVector::from([1.0]), 2.0, TIGHT).is_err());
}

fn reference() -> Value {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/network_reference.json");
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|number| number.as_f64().unwrap()).collect()
}

fn rows(value: &Value) -> Vec<Vec<f64>> {
    value.as_array().unwrap().iter().map(numbers).collect()
}

/// Conductances, the stream loop 0 → 4 → 2 → 0, and heat put in.
fn six_nodes(reference: &Value, part: &Value, flow_w_per_k: f64, heat_w: &[f64]) -> Network {
    let mut links: Vec<Link> = rows(&part["conductances"])
        .iter()
        .map(|row| {
            let to = End::Node(row[1] as usize);
            link(row[0] as usize, to, Law::Conductance(row[2]), LINKS)
        })
        .collect();
    let ambient = End::Fixed(reference["T_ambient"].as_f64().unwrap());
    for (key, law) in [
        ("ambient", Law::Conductance as fn(f64) -> Law),
        ("nc", Law::NaturalConvection),
        ("rad", Law::Radiation),
    ] {
        if part.get(key).is_some() {
            for row in rows(&part[key]) {
                links.push(link(row[0] as usize, ambient, law(row[1]), LOST));
            }
        }
    }
    let mut network = network(&numbers(&reference["C"]), links);
    network.sources = heat_w
        .iter()
        .enumerate()
        .map(|(node, heat_w)| Source {
            node,
            heat_w: *heat_w,
            follows: Follows::Nothing,
            path: PUT_IN,
        })
        .collect();
    network.streams = vec![Stream {
        flow: StreamFlow::Mass(flow_w_per_k),
        stops: [0, 4, 2]
            .map(|node| Stop { node, effectiveness: Share::Fixed(1.0), path: STREAMS })
            .to_vec(),
    }];
    network
}

/// Linear six-node network with a stream, against the matrix exponential.
#[test]
pub fn six_node_linear_network() {
    let reference = reference();
    let part = &reference["linear"];
    let network = six_nodes(&reference, part, 250.0, &numbers(&part["Q"]));
    for (time_s, expected_k) in numbers(&part["t"]).iter().zip(rows(&part["T"])) {
        let mut run = Run::new(&network, &numbers(&part["T0"]));
        run.advance(&network, *time_s);
        for (got_k, expected_k) in run.temperatures_k(&network).iter().zip(expected_k) {
            assert_within("temperature, K", *got_k, expected_k, 1e-6);
        }
    }
}

/// Nonlinear six-node network through eight phases of a race: temperatures to 1e-5 K, heat to 1e-9, and the
/// moment when the converter fluid reaches 120 °C.
#[test]
pub fn six_node_nonlinear_network_through_a_timeline() {
    let reference = reference();
    let part = &reference["nonlinear"];
    let mut run: Option<Run> = None;
    let mut expected = part["solution"].as_array().unwrap().iter().peekable();
    let mut reached_s = None;
    let mut compared = 0;
    for phase in part["phases"].as_array().unwrap() {
        let span_s = numbers(&phase["t"]);
        let mut network =
            six_nodes(&reference, part, phase["Cd"].as_f64().unwrap(), &numbers(&phase["Q"]));
        network.links.push(link(
            5,
            End::Fixed(reference["T_ambient"].as_f64().unwrap()),
            Law::Conductance(phase["UAc"].as_f64().unwrap()),
            LOST,
        ));
        let run = run.get_or_insert_with(|| Run::new(&network, &numbers(&part["T0"])));
        let mut now_s = span_s[0];
        while let Some(row) = expected.next_if(|row| row["t"].as_f64().unwrap() <= span_s[1] + 1e-9)
        {
            let time_s = row["t"].as_f64().unwrap();
            let solution = run.solve(&network, time_s - now_s);
            if reached_s.is_none() {
                reached_s = first_crossing(&solution, &|y| run.temperature_k(&network, y) - 393.15)
                    .map(|local_s| now_s + local_s);
            }
            run.state = *solution.end();
            run.booked_j += solution.booked_at(time_s - now_s);
            now_s = time_s;
            for (got_k, expected_k) in run.temperatures_k(&network).iter().zip(numbers(&row["T"])) {
                assert_within("temperature, K", *got_k, expected_k, 1e-5);
                compared += 1;
            }
            let put_in_j = run.booked_j[PUT_IN];
            let lost_j = run.booked_j[LOST];
            let stored_j: f64 = (0..6).map(|i| run.scaling.stored_j(&run.state, i)).sum();
            let stated_j = row["heat_in_J"].as_f64().unwrap();
            assert_near("heat put in, J", put_in_j, stated_j, 1e-9);
            // The file states lost heat to 1e-4 J.
            let lost_reference_j = row["heat_lost_J"].as_f64().unwrap();
            assert!((lost_j - lost_reference_j).abs() < 1e-4 + 1e-8 * lost_j, "{time_s} s");
            let open = ((put_in_j - lost_j - stored_j) / put_in_j).abs();
            assert_at_most("put in − lost − stored, of what was put in", open, 1e-9);
        }
    }
    assert_eq!(compared, 14 * 6);
    let expected_s = part["event_converter_fluid_reaches_393_15K_at"].as_f64().unwrap();
    assert_within("fluid reaches 120 °C at, s", reached_s.unwrap(), expected_s, 1e-5);
}
