//! The computed pass: closed forms of a car's motion, an energy balance, and what quarter miles are known to
//! take.

use crate::{assert_near, assert_within};
use std::f64::consts::PI;

use ode_solvers::SVector;
use stallheat::converter::{
    Characteristic, k_rad_from_rpm_pound_force_foot, race_characteristic, stall_match,
};
use stallheat::engine::{Engine, Peaks, TorqueCurve};
use stallheat::pass::{Alone, Course, PASS_STATES, PassResult, run};
use stallheat::solver::{Tolerance, first_crossing, integrate};
use stallheat::vehicle::{Car, Gearbox, Powertrain, STANDARD_GRAVITY_M_PER_S2};

const QUARTER_MILE_M: f64 = 402.336;
const LB: f64 = 0.453_592_37;
const HP: f64 = 745.699_871_582_270_2;
const MPH: f64 = 0.447_04;
const RPM: f64 = PI / 30.0;
const TIGHT: Tolerance = Tolerance { relative: 1e-10, absolute: 1e-10 };

fn car(mass_kg: f64) -> Car {
    Car {
        mass_kg,
        tyre_radius_m: 0.362,
        final_drive: 4.3,
        axle_efficiency: 0.96,
        grip: 1.7,
        driven_weight_share: 0.52,
        height_over_wheelbase: 0.18,
        drag_area_m2: 0.65,
        rolling_resistance: 0.018,
        wheel_inertia_kg_m2: 2.5,
    }
}

/// Distance covered with constant power, limited by traction, against resistance: (speed, time) at `finish_m`.
fn constant_power(car: &Car, power_w: f64, air_density: f64, finish_m: f64) -> (f64, f64) {
    let solution = integrate(
        |y: &SVector<f64, 2>, dy: &mut SVector<f64, 2>| {
            let resistance = car.resistance_n(y[0], air_density);
            let resistance_n = resistance.drag_n + resistance.rolling_n;
            let driving_n = (power_w / y[0].max(1e-9)).min(car.traction_limit_n(resistance_n));
            dy[0] = (driving_n - resistance_n) / car.mass_kg;
            dy[1] = y[0];
        },
        SVector::from([0.0, 0.0]),
        15.0,
        TIGHT,
    )
    .unwrap();
    let time_s = first_crossing(&solution, &|y| y[1] - finish_m).unwrap();
    (solution.at(time_s)[0], time_s)
}

/// Traction first, then power: a = μg until v₁ = P/(m·a), then v³ = v₁³ + 3P(x − x₁)/m,
/// t = t₁ + m(v² − v₁²)/2P. Closed form; 67.538841 m/s and 10.264443 s.
#[test]
pub fn traction_then_power_closed_form() {
    let car = Car {
        grip: 0.9,
        driven_weight_share: 1.0,
        height_over_wheelbase: 0.0,
        drag_area_m2: 0.0,
        rolling_resistance: 0.0,
        ..car(1_500.0)
    };
    let (speed, time_s) = constant_power(&car, 400e3, 1.2, QUARTER_MILE_M);
    println!("traction then power: {speed:.9} m/s, {time_s:.9} s");
    assert_near("speed, m/s", speed, 67.538_841_064_757_1, 1e-7);
    assert_near("time, s", time_s, 10.264_442_984_528_136, 1e-7);
}

/// Constant power against drag: v = v_t·(1 − e^(−3kx/m))^⅓, v_t = (P/k)^⅓. 64.881179 m/s and 9.004488 s
/// (SciPy 1.17.1 DOP853). Power without end at the start is stood in for by an endless grip.
#[test]
pub fn constant_power_with_drag_closed_form() {
    let car = Car {
        grip: 1e5,
        driven_weight_share: 1.0,
        height_over_wheelbase: 0.0,
        drag_area_m2: 0.7,
        rolling_resistance: 0.0,
        ..car(1_500.0)
    };
    let (speed, time_s) = constant_power(&car, 400e3, 1.2, QUARTER_MILE_M);
    println!("power against drag: {speed:.9} m/s, {time_s:.9} s");
    assert_near("speed, m/s", speed, 64.881_179_100_741_05, 1e-6);
    assert_near("time, s", time_s, 9.004_488_420_689_583, 1e-4);
    // Terminal speed, where power and drag balance.
    let terminal = (400e3 / (0.5 * 1.2 * 0.7_f64)).cbrt();
    assert_near("terminal speed, m/s", terminal, 98.386_814_680_619_68, 1e-12);
    assert!((car.resistance_n(terminal, 1.2).drag_n * terminal / 400e3 - 1.0).abs() < 1e-12);
}

/// Constant power without losses: v = (3Px/m)^⅓, t = 1.5x/v; in mph, s, hp, lb the constants are 281.0971 and
/// 4.802610 and their product 1350 (Fox, Am. J. Phys. 41 (1973) 311).
#[test]
pub fn constant_power_without_losses() {
    let car = Car {
        grip: 1e5,
        driven_weight_share: 1.0,
        height_over_wheelbase: 0.0,
        drag_area_m2: 0.0,
        rolling_resistance: 0.0,
        ..car(3_200.0 * LB)
    };
    let (speed, time_s) = constant_power(&car, 500.0 * HP, 0.0, QUARTER_MILE_M);
    let power_to_weight = (500.0_f64 / 3_200.0).cbrt();
    let (speed_constant, time_constant) = (speed / MPH / power_to_weight, time_s * power_to_weight);
    println!(
        "{speed_constant:.6} mph, {time_constant:.6} s, {:.4}",
        speed_constant * time_constant
    );
    assert_near("constant of speed", speed_constant, 281.097_149_109, 1e-6);
    assert_near("constant of time", time_constant, 4.802_610_073_7, 1e-4);
    assert_near("their product", speed_constant * time_constant, 1_350.0, 1e-4);
}

/// Weight transfer: the limit solved with itself in it satisfies its own equation.
#[test]
pub fn traction_limit_satisfies_its_own_equation() {
    let car = car(1_400.0);
    let resistance_n = 300.0;
    let limit_n = car.traction_limit_n(resistance_n);
    let weight_n = car.mass_kg * STANDARD_GRAVITY_M_PER_S2;
    let load_n =
        weight_n * car.driven_weight_share + car.height_over_wheelbase * (limit_n - resistance_n);
    assert!((limit_n / (car.grip * load_n) - 1.0).abs() < 1e-12);
    assert!(load_n < weight_n);
}

struct Rig {
    car: Car,
    engine: Engine,
    converter: Characteristic,
    gearbox: Gearbox,
    launch_rad_per_s: f64,
}

/// A sensible car of this weight and power: torque curve, converter and gearing as builders choose them.
fn rig(weight_lb: f64, power_hp: f64) -> Rig {
    let power_speed_rpm = 6_600.0;
    let power_w = power_hp * HP;
    let torque_at_power_nm = power_w / (power_speed_rpm * RPM);
    let curve = TorqueCurve::from_peaks(
        "engine",
        Peaks {
            torque_nm: 1.13 * torque_at_power_nm,
            torque_speed_rad_per_s: 4_900.0 * RPM,
            power_w,
            power_speed_rad_per_s: power_speed_rpm * RPM,
        },
    )
    .unwrap();
    let engine = Engine::new("engine", curve, 7_600.0 * RPM, 0.25).unwrap();
    // Stall near 5 100 rpm, whatever the engine: the builder chooses the converter for it.
    let stall_rad_per_s = 5_100.0 * RPM;
    let k_rad = stall_rad_per_s / engine.torque_nm(stall_rad_per_s).sqrt();
    let mut car = car(weight_lb * LB);
    // Light cars are dragsters: long, narrow, weight on the rear. Heavy ones are door cars.
    let door_share = ((weight_lb - 1_800.0) / 1_200.0).clamp(0.0, 1.0);
    car.drag_area_m2 = 0.5 + 0.3 * door_share;
    car.driven_weight_share = 0.66 - 0.14 * door_share;
    car.height_over_wheelbase = 0.10 + 0.10 * door_share;
    // Heavier power comes with better tyres, and gearing for 7 000 rpm with 5 % slip at the finish.
    car.grip = 1.5 + 0.7 * (power_hp / weight_lb / 0.5).min(1.0);
    let finish_m_per_s = 228.0 * (power_hp / weight_lb).cbrt() * MPH;
    car.final_drive = 0.95 * 7_000.0 * RPM * car.tyre_radius_m / finish_m_per_s;
    Rig {
        car,
        converter: race_characteristic("converter", k_rad, 1.9).unwrap(),
        engine,
        gearbox: Gearbox {
            ratios: vec![1.76, 1.0],
            mesh_loss: 0.015,
            drag_torque_nm: 4.0,
            turbine_inertia_kg_m2: 0.06,
        },
        launch_rad_per_s: 3_800.0 * RPM,
    }
}

fn quarter_mile(rig: &Rig, density_ratio: f64) -> PassResult {
    quarter_mile_within(rig, density_ratio, Tolerance { relative: 1e-8, absolute: 1e-8 })
}

fn quarter_mile_within(rig: &Rig, density_ratio: f64, tolerance: Tolerance) -> PassResult {
    run(
        &Powertrain {
            engine: &rig.engine,
            converter: &rig.converter,
            gearbox: &rig.gearbox,
            car: &rig.car,
            engine_correction: 1.0,
            pump_torque_nm: 5.0,
            drag_ratio: 1.0,
            air_density_kg_per_m3: 1.2,
        },
        &Course {
            launch_rad_per_s: rig.launch_rad_per_s,
            shift_rad_per_s: 6_900.0 * RPM,
            rollout_m: 0.3,
            finish_m: QUARTER_MILE_M,
        },
        &SVector::<f64, PASS_STATES>::zeros(),
        &Alone(density_ratio),
        tolerance,
    )
    .unwrap_or_else(|error| panic!("{error}"))
    .result
}

/// Engine work = heat + drag + kinetic energy, to 1e-6.
#[test]
pub fn energy_of_a_pass_balances() {
    for (weight_lb, power_hp) in [(2_000.0, 900.0), (3_200.0, 590.0), (3_500.0, 300.0)] {
        let energy = quarter_mile(&rig(weight_lb, power_hp), 1.0).energy;
        let spent_j = energy.converter_j
            + energy.front_pump_j
            + energy.gearbox_j
            + energy.axle_j
            + energy.tyre_j
            + energy.drag_j
            + energy.rolling_j
            + energy.kinetic_j;
        println!(
            "{power_hp} hp: {:.0} J, off by {:.1e}",
            energy.engine_j,
            spent_j / energy.engine_j - 1.0
        );
        assert_near("engine's work, J", spent_j, energy.engine_j, 1e-6);
    }
}

/// Twenty sensible cars lie within the band that three published quarter-mile relations span, ±5 %:
/// ET = k·(W/P)^⅓, speed = k·(P/W)^⅓, Huntington 6.290 / 224, Fox 6.269 / 230, Hale 5.825 / 234 (lb, hp, s, mph;
/// from hobby pages that copy each other, so a sanity band).
#[test]
pub fn quarter_miles_lie_in_the_published_band() {
    let mut report = String::new();
    let mut outside = 0;
    // Least and largest constants of the twenty.
    let (mut times, mut speeds) = ((f64::INFINITY, 0.0_f64), (f64::INFINITY, 0.0_f64));
    for weight_lb in [1_800.0, 2_400.0, 3_000.0, 3_600.0] {
        for power_hp in [250.0, 400.0, 600.0, 900.0, 1_500.0] {
            let pass = quarter_mile(&rig(weight_lb, power_hp), 1.0);
            let finish = pass.marks[pass.marks.len() - 1];
            let weight_to_power = (weight_lb / power_hp).cbrt();
            let time_constant = finish.elapsed_s / weight_to_power;
            let speed_constant = finish.speed_m_per_s / MPH * weight_to_power;
            let good = (0.95 * 5.825..1.05 * 6.290).contains(&time_constant)
                && (0.95 * 224.0..1.05 * 234.0).contains(&speed_constant);
            outside += usize::from(!good);
            times = (times.0.min(time_constant), times.1.max(time_constant));
            speeds = (speeds.0.min(speed_constant), speeds.1.max(speed_constant));
            report += &format!(
                "{weight_lb} lb {power_hp} hp: {:.3} s ({time_constant:.3}) at {:.1} mph ({speed_constant:.1}) {}\n",
                finish.elapsed_s,
                finish.speed_m_per_s / MPH,
                if good { "" } else { "OUTSIDE" },
            );
        }
    }
    println!("{report}times {times:.4?} of 5.825 to 6.290, speeds {speeds:.3?} of 224 to 234");
    assert!(outside == 0, "{report}");
}

/// Most of a pass's heat in the transmission is made in the converter, and of that most in the first third of
/// the time, counted from the brake: half a second of hold, the shortest usual, and the first third of
/// the run. Common practice, no source. (Without any hold the first third of this car makes 49.7 %.)
#[test]
pub fn the_converter_makes_most_heat_and_early() {
    let rig = rig(3_200.0, 590.0);
    let pass = quarter_mile(&rig, 1.0);
    assert!(pass.energy.converter_j > 2.0 * pass.energy.gearbox_j, "{:?}", pass.energy);
    let until_j = |time_s: f64| {
        let after = pass.samples.iter().position(|sample| sample.time_s >= time_s).unwrap();
        let (a, b) = (pass.samples[after - 1], pass.samples[after]);
        let share = (time_s - a.time_s) / (b.time_s - a.time_s);
        a.converter_j + share * (b.converter_j - a.converter_j)
    };
    let held_j = 0.5 * rig.converter.operating_point(rig.launch_rad_per_s, 0.0, 1.0).heat_w;
    let third_s = pass.duration_s / 3.0;
    let (first_j, second_j) = (until_j(third_s), until_j(2.0 * third_s));
    let early_j = held_j + first_j;
    let late_j = pass.energy.converter_j - first_j;
    assert!(early_j > late_j, "{early_j} against {late_j}");
    assert!(
        first_j > second_j - first_j && second_j - first_j > pass.energy.converter_j - second_j
    );
}

/// Thinner fluid: higher stall, higher engine speed through the pass at every distance up to the shift.
/// Common practice, no source.
#[test]
pub fn thinner_fluid_means_more_engine_speed() {
    let rig = rig(3_200.0, 590.0);
    let (cold, hot) = (quarter_mile(&rig, 1.0), quarter_mile(&rig, 0.93));
    let speed_at = |pass: &PassResult, distance_m: f64| {
        pass.samples
            .iter()
            .find(|sample| sample.distance_m >= distance_m)
            .map(|sample| sample.motion.engine_rad_per_s)
            .unwrap()
    };
    for (cold_mark, hot_mark) in cold.marks.iter().zip(&hot.marks) {
        if (cold_mark.engine_rad_per_s - hot_mark.engine_rad_per_s).abs() < 60.0 {
            assert!(hot_mark.engine_rad_per_s > cold_mark.engine_rad_per_s, "{hot_mark:?}");
        }
    }
    assert!(speed_at(&hot, 2.0) > speed_at(&cold, 2.0));
    let stall = |density_ratio: f64| {
        let k_rad = k_rad_from_rpm_pound_force_foot(225.0) / density_ratio.sqrt();
        stall_match(|speed| rig.engine.torque_nm(speed), k_rad, (0.0, 900.0))
            .unwrap()
            .speed_rad_per_s
    };
    assert!(stall(0.93) > stall(1.0) + 5.0);
}

/// An engine too strong for its tyres all the way: the car moves by `a = μ·(m·g·s − h·R)/(1 − μ·h)/m` from standing,
/// without resistance a constant, so that a mark x after a rollout r is passed `√(2(r + x)/a) − √(2r/a)` after the
/// clock starts, at `√(2(r + x)·a)`. Closed form, through the pass itself.
#[test]
pub fn spinning_all_the_way_is_constant_acceleration() {
    let mut rig = rig(3_200.0, 2_500.0);
    (rig.car.grip, rig.car.drag_area_m2, rig.car.rolling_resistance) = (0.5, 0.0, 0.0);
    rig.gearbox.ratios = vec![1.0];
    let pass = quarter_mile(&rig, 1.0);
    let car = &rig.car;
    let acceleration = car.grip * STANDARD_GRAVITY_M_PER_S2 * car.driven_weight_share
        / (1.0 - car.grip * car.height_over_wheelbase);
    assert_eq!(pass.marks.len(), 5);
    for mark in &pass.marks {
        let way_m = 0.3 + mark.distance_m;
        let expected_s = (2.0 * way_m / acceleration).sqrt() - (2.0 * 0.3 / acceleration).sqrt();
        assert_within("elapsed time at a mark, s", mark.elapsed_s, expected_s, 1e-5);
        let expected_m_per_s = (2.0 * way_m * acceleration).sqrt();
        assert_near("speed at a mark, m/s", mark.speed_m_per_s, expected_m_per_s, 1e-6);
    }
    // All of the tyres' heat is friction times the way they slip.
    assert!(pass.energy.tyre_j > 0.0 && pass.energy.drag_j == 0.0);
}

/// Marks rise in distance, time and speed, and the last is the finish. A tighter tolerance moves the elapsed
/// time by less than 1e-4 s.
#[test]
pub fn marks_are_located() {
    let pass = quarter_mile(&rig(3_200.0, 590.0), 1.0);
    assert_eq!(pass.marks.len(), 5);
    for pair in pass.marks.windows(2) {
        assert!(pair[1].distance_m > pair[0].distance_m);
        assert!(pair[1].elapsed_s > pair[0].elapsed_s);
        assert!(pair[1].speed_m_per_s > pair[0].speed_m_per_s);
    }
    assert!((pass.marks[4].distance_m - QUARTER_MILE_M).abs() < 1e-9);
    assert!((pass.marks[4].elapsed_s + pass.rollout_s - pass.duration_s).abs() < 1e-5);
    let tight = Tolerance { relative: 1e-10, absolute: 1e-10 };
    let exact = quarter_mile_within(&rig(3_200.0, 590.0), 1.0, tight);
    for (mark, exact) in pass.marks.iter().zip(&exact.marks) {
        assert_within(
            "elapsed time at the default tolerance, s",
            mark.elapsed_s,
            exact.elapsed_s,
            1e-4,
        );
    }
}

/// A car that never arrives is told so.
#[test]
pub fn a_car_that_never_arrives_is_explained() {
    let mut rig = rig(3_600.0, 250.0);
    rig.car.rolling_resistance = 2.0;
    let powertrain = Powertrain {
        engine: &rig.engine,
        converter: &rig.converter,
        gearbox: &rig.gearbox,
        car: &rig.car,
        engine_correction: 1.0,
        pump_torque_nm: 5.0,
        drag_ratio: 1.0,
        air_density_kg_per_m3: 1.2,
    };
    let course = Course {
        launch_rad_per_s: rig.launch_rad_per_s,
        shift_rad_per_s: 6_900.0 * RPM,
        rollout_m: 0.3,
        finish_m: QUARTER_MILE_M,
    };
    let start = SVector::<f64, PASS_STATES>::zeros();
    let Err(error) = run(&powertrain, &course, &start, &Alone(1.0), TIGHT) else {
        panic!("it arrived");
    };
    assert!(error.remedy.contains("never reaches the finish"), "{error}");
}
