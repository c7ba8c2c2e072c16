//! Torque converters that others have published with numbers.
//!
//! 1. The generic converter of Commission Regulation (EU) 2017/2400, Annex VI, Appendix 9, and the
//!    regulator's generic data file (torque ratios are from the file, not from the legal text).
//! 2. Project Chrono (BSD-3), data/vehicle/generic/powertrain/AutomaticTransmissionShafts.json.
//! 3. Kotwicki, SAE paper 820393 (1982), quadratic form, with the coefficients quoted by Cho and Hedrick
//!    (1989). Only the converter phase: the published coupling coefficients come in two versions of which
//!    one leaves torque at equal speeds, and the phases do not meet at speed ratio 0.9.

use crate::assert_near;
use stallheat::converter::{
    Capacity, Characteristic, OperatingPoint, QuadraticCharacteristic, Table, k_from_stall,
    k_rad_from_rpm_newton_metre, k_rad_from_rpm_pound_force_foot, k_rpm_newton_metre_from_rad,
    k_rpm_pound_force_foot_from_rad, stall_heat_w, stall_match, stall_torque_nm,
};
use stallheat::error::Error;
use std::f64::consts::PI;

const RPM: f64 = PI / 30.0;

/// Regulator's generic data file for 1200 N·m at 2200 rpm: speed ratio, torque ratio, reference torque in
/// N·m at 1000 rpm.
const GENERIC: [(f64, f64, f64); 15] = [
    (0.0, 1.8, 404.790015179626),
    (0.1, 1.70555555555556, 391.297014673638),
    (0.2, 1.61111111111111, 377.804014167651),
    (0.3, 1.51666666666667, 364.311013661663),
    (0.4, 1.42222222222222, 350.818013155675),
    (0.5, 1.32777777777778, 337.325012649688),
    (0.6, 1.23333333333333, 323.8320121437),
    (0.65, 1.18611111111111, 303.592511384719),
    (0.7, 1.13888888888889, 283.353010625738),
    (0.75, 1.09166666666667, 263.113509866757),
    (0.8, 1.04444444444444, 242.874009107775),
    (0.85, 0.997222222222222, 222.634508348794),
    (0.9, 0.95, 202.395007589813),
    (0.95, 0.95, 101.197503794907),
    (1.0, 0.95, 0.0),
];

fn generic() -> Result<Characteristic, Error> {
    let reference = (1000.0 * RPM).powi(2);
    let coefficient = GENERIC.iter().map(|row| (row.0, row.2 / reference)).collect();
    let torque_ratio = GENERIC.iter().map(|row| (row.0, row.1)).collect();
    Characteristic::new(
        "generic",
        Capacity::Coefficient(Table::new("generic.capacity", coefficient)?),
        Table::new("generic.torque_ratio", torque_ratio)?,
    )
}

fn assert_energy_closes(point: &OperatingPoint, impeller_rad_per_s: f64, turbine_rad_per_s: f64) {
    let power_in_w = point.impeller_torque_nm * impeller_rad_per_s;
    let power_out_w = point.turbine_torque_nm * turbine_rad_per_s;
    assert!((power_in_w - power_out_w - point.heat_w).abs() < 1e-9 * power_in_w.max(1.0));
}

#[test]
pub fn eu_generic_formula_gives_the_regulators_table() -> Result<(), Error> {
    // T(0) = 0.8·T_max·(1000/(0.7·n))², then ×0.8 at 0.6, ×0.5 at 0.9, 0 at 1
    let stall = 0.8 * 1200.0 * (1000.0f64 / (0.7 * 2200.0)).powi(2);
    let converter = generic()?;
    for (speed_ratio, expected) in
        [(0.0, 404.7900151796256), (0.6, 323.83201214370047), (0.9, 202.3950075898128)]
    {
        let found = converter.coefficient(speed_ratio) * (1000.0 * RPM).powi(2);
        assert_near("reference torque", found, expected, 1e-9);
    }
    assert_near("the law's formula", stall, 404.7900151796256, 1e-12);
    assert_near(
        "capacity at 0.6",
        converter.coefficient(0.6) / converter.coefficient(0.0),
        0.8,
        1e-9,
    );
    assert_near(
        "capacity at 0.9",
        converter.coefficient(0.9) / converter.coefficient(0.0),
        0.5,
        1e-9,
    );
    assert_eq!(converter.coefficient(1.0), 0.0);
    Ok(())
}

#[test]
pub fn eu_generic_operating_points() -> Result<(), Error> {
    let converter = generic()?;
    // Computed from the table: rpm, speed ratio, input and output torque N·m, efficiency, power in W, heat W
    for (rpm, speed_ratio, torque_in, torque_out, efficiency, power_w, heat_w) in [
        (
            2000.0,
            0.0,
            1619.160060718504,
            2914.488109293307,
            0.0,
            339116.0901159503,
            339116.0901159503,
        ),
        (
            2000.0,
            0.45,
            1376.286051610726,
            1892.3933209647482,
            0.61875,
            288248.6765985573,
            109894.80795319992,
        ),
        (
            2200.0,
            0.8,
            1175.5102040816312,
            1227.7551020408096,
            0.835555555555552,
            270818.1095665973,
            44534.5335731747,
        ),
        (
            2200.0,
            0.9,
            979.591836734695,
            930.6122448979602,
            0.855,
            225681.75797216498,
            32723.854905963934,
        ),
    ] {
        let impeller = rpm * RPM;
        let turbine = impeller * speed_ratio;
        let point = converter.operating_point(impeller, turbine, 1.0);
        assert_near("impeller torque", point.impeller_torque_nm, torque_in, 1e-9);
        assert_near("turbine torque", point.turbine_torque_nm, torque_out, 1e-9);
        assert_near("power in", point.impeller_torque_nm * impeller, power_w, 1e-9);
        assert_near("heat", point.heat_w, heat_w, 1e-9);
        assert!((speed_ratio * converter.torque_ratio(speed_ratio) - efficiency).abs() < 1e-9);
        assert_energy_closes(&point, impeller, turbine);
        let thin = converter.operating_point(impeller, turbine, 0.9);
        assert_near("torque follows density", thin.impeller_torque_nm, 0.9 * torque_in, 1e-9);
    }
    Ok(())
}

#[test]
pub fn chrono_table_of_k_factors() -> Result<(), Error> {
    let k_factor =
        vec![(0.0, 15.0), (0.25, 15.0), (0.5, 15.0), (0.75, 16.0), (0.9, 18.0), (1.0, 35.0)];
    let torque_ratio = vec![(0.0, 2.0), (0.25, 1.8), (0.5, 1.5), (0.75, 1.15), (1.0, 1.0)];
    let converter = Characteristic::new(
        "chrono",
        Capacity::KFactor(Table::new("chrono.k", k_factor)?),
        Table::new("chrono.torque_ratio", torque_ratio)?,
    )?;
    // Computed from the table at 300 rad/s: speed ratio, K, torque in, torque out, heat
    for (speed_ratio, k, torque_in, torque_out, heat_w) in [
        (0.0, 15.0, 400.0, 800.0, 120000.0),
        (0.6, 15.4, 379.4906392308989, 516.1072693540225, 20947.883285545628),
        (0.9, 18.0, 277.7777777777778, 294.4444444444445, 3833.333333333328),
    ] {
        let turbine = 300.0 * speed_ratio;
        let point = converter.operating_point(300.0, turbine, 1.0);
        assert_near("K", converter.coefficient(speed_ratio).powf(-0.5), k, 1e-12);
        assert_near("impeller torque", point.impeller_torque_nm, torque_in, 1e-12);
        assert_near("turbine torque", point.turbine_torque_nm, torque_out, 1e-12);
        assert_near("heat", point.heat_w, heat_w, 1e-11);
        assert_energy_closes(&point, 300.0, turbine);
    }
    // At equal speeds this table still carries torque without loss, as no real converter does; the
    // generic one of the regulation goes to zero. The code reports what the table says.
    let coupled = converter.operating_point(300.0, 300.0, 1.0);
    assert_near(
        "torque at equal speeds",
        coupled.impeller_torque_nm,
        (300.0f64 / 35.0).powi(2),
        1e-12,
    );
    assert!(coupled.heat_w.abs() < 1e-9);
    Ok(())
}

#[test]
pub fn kotwicki_quadratic_in_the_converter_phase() {
    let converter = QuadraticCharacteristic {
        impeller: [3.4325e-3, 2.2210e-3, -4.6041e-3],
        turbine: [5.7656e-3, 0.3107e-3, -5.4323e-3],
    };
    // Computed from the coefficients at 400 rad/s: turbine speed, torques, torque ratio, heat
    for (turbine, torque_in, torque_out, torque_ratio, heat_w) in [
        (0.0, 549.2, 922.496, 1.6797086671522212, 219680.0),
        (200.0, 542.716, 730.06, 1.345197119672167, 71074.4),
        (320.0, 362.02816, 405.99808, 1.1214544194573148, 14891.8784),
    ] {
        let point = converter.operating_point(400.0, turbine);
        assert_near("impeller torque", point.impeller_torque_nm, torque_in, 1e-9);
        assert_near("turbine torque", point.turbine_torque_nm, torque_out, 1e-9);
        let found = point.turbine_torque_nm / point.impeller_torque_nm;
        assert_near("torque ratio", found, torque_ratio, 1e-9);
        assert_near("heat", point.heat_w, heat_w, 1e-9);
        assert_energy_closes(&point, 400.0, turbine);
    }
    // torque ratio crosses 1 near speed ratio 0.883 (closed form of the two quadratics)
    let ratio = |speed_ratio: f64| {
        let point = converter.operating_point(400.0, 400.0 * speed_ratio);
        point.turbine_torque_nm / point.impeller_torque_nm
    };
    assert!(ratio(0.882) > 1.0 && ratio(0.884) < 1.0);
    assert_near("torque ratio at 0.9", ratio(0.9), 0.9665, 1e-4);
}

#[test]
pub fn stall_match_with_a_closed_form() {
    // T = 700 − 2.5e-5·(n − 5000)² meets (n/200)², n in rpm: a quadratic (closed form)
    let engine_nm = |speed: f64| 700.0 - 2.5e-5 * (speed / RPM - 5000.0).powi(2);
    let k_rad = k_rad_from_rpm_newton_metre(200.0);
    let found = stall_match(engine_nm, k_rad, (1000.0 * RPM, 8000.0 * RPM));
    assert!(found.is_ok());
    if let Ok(found) = found {
        assert_near("speed", found.speed_rad_per_s / RPM, 5283.8821814150115, 1e-12);
        assert_near("torque", found.torque_nm, 697.9852726768765, 1e-9);
        assert_near("heat", found.heat_w, 386213.9909637166, 1e-9);
        assert_near(
            "K from the match",
            k_from_stall(found.speed_rad_per_s, found.torque_nm),
            k_rad,
            1e-9,
        );
        assert_near(
            "torque by K",
            stall_torque_nm(found.speed_rad_per_s, k_rad),
            found.torque_nm,
            1e-12,
        );
        assert_near("heat by K", stall_heat_w(found.speed_rad_per_s, k_rad), found.heat_w, 1e-12);
    }
}

#[test]
pub fn k_factor_units() {
    // 1 lbf·ft = 1.3558179483 N·m, definition of K as in SAE J643 (computed)
    for (newton_metre, pound_force_foot) in
        [(200.0, 232.87919171376393), (49.7034, 57.87443808712948)]
    {
        let k_rad = k_rad_from_rpm_newton_metre(newton_metre);
        assert_near("to lbf·ft", k_rpm_pound_force_foot_from_rad(k_rad), pound_force_foot, 1e-9);
        assert_near("back", k_rad_from_rpm_pound_force_foot(pound_force_foot), k_rad, 1e-9);
    }
    assert_near("rpm/√(N·m) of 15", k_rpm_newton_metre_from_rad(15.0), 143.2394487827058, 1e-9);
    assert_near(
        "rpm/√(lbf·ft) of 15",
        k_rpm_pound_force_foot_from_rad(15.0),
        166.78743527020808,
        1e-9,
    );
}
