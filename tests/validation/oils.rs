//! Oil: viscosity, density, specific heat and conductivity against standards and a printed table.
//!
//! The table is that of unused engine oil in Bergman et al. (Incropera), *Fundamentals of Heat and Mass
//! Transfer*, Table A.5. It is a measured oil, the formulas are averages over petroleum: the tests state how
//! far apart the two are.

use crate::assert_near;
use stallheat::fluid::{
    CLASSES, Fluid, class_by_key, cragoe_conductivity_w_per_m_k, cragoe_specific_heat_j_per_kg_k,
    walther_line, walther_viscosity_mm2_per_s,
};

/// Table A.5: temperature K, density kg/m³, specific heat J/(kg·K), kinematic viscosity m²/s,
/// conductivity W/(m·K).
const TABLE_A5: [(f64, f64, f64, f64, f64); 17] = [
    (273.0, 899.1, 1796.0, 0.00428, 0.147),
    (280.0, 895.3, 1827.0, 0.00243, 0.144),
    (290.0, 890.0, 1868.0, 0.00112, 0.145),
    (300.0, 884.1, 1909.0, 0.00055, 0.145),
    (310.0, 877.9, 1951.0, 0.000288, 0.145),
    (320.0, 871.8, 1993.0, 0.000161, 0.143),
    (330.0, 865.8, 2035.0, 9.66e-05, 0.141),
    (340.0, 859.9, 2076.0, 6.17e-05, 0.139),
    (350.0, 853.9, 2118.0, 4.17e-05, 0.138),
    (360.0, 847.8, 2161.0, 2.97e-05, 0.138),
    (370.0, 841.8, 2206.0, 2.2e-05, 0.137),
    (380.0, 836.0, 2250.0, 1.69e-05, 0.136),
    (390.0, 830.6, 2294.0, 1.33e-05, 0.135),
    (400.0, 825.1, 2337.0, 1.06e-05, 0.134),
    (410.0, 818.9, 2381.0, 8.52e-06, 0.133),
    (420.0, 812.1, 2427.0, 6.94e-06, 0.133),
    (430.0, 806.5, 2471.0, 5.83e-06, 0.132),
];
/// Density at 15 °C and relative density of the oil of Table A.5, from the table's own 288 K.
const TABLE_A5_DENSITY15: f64 = 891.0;
const TABLE_A5_RELATIVE_DENSITY: f64 = 0.8916;

fn kelvin(celsius: f64) -> f64 {
    celsius + 273.15
}

#[test]
pub fn walther_lines_of_two_typical_fluids() {
    // ASTM D341 short form, closed form (computed): KV40, KV100, A, B, then (°C, mm²/s)
    let multi_vehicle = [
        (-20.0, 923.9584651532401),
        (0.0, 221.43425664582088),
        (20.0, 76.49464591432093),
        (60.0, 18.044881677747064),
        (80.0, 10.87808405214907),
        (120.0, 5.111267512588984),
        (150.0, 3.3677509492375695),
        (180.0, 2.4148665682381774),
    ];
    let low_viscosity = [
        (-20.0, 1021.0645623315436),
        (0.0, 215.98396757247662),
        (20.0, 69.41496711496349),
        (60.0, 15.343733924915988),
        (80.0, 9.128966062301872),
        (120.0, 4.2450771128035125),
        (150.0, 2.7940009402868755),
        (180.0, 2.006788194947),
    ];
    for (kv40, kv100, a, b, points) in [
        (34.0, 7.2, 7.875649016208047, 3.0804479406362573, multi_vehicle),
        (29.6, 6.0, 8.486429288831037, 3.331958890665182, low_viscosity),
    ] {
        let fluid = Fluid::new(kv40, kv100, 865.0);
        let found = fluid.walther_constants();
        assert_near("A", found.0, a, 1e-8);
        assert_near("B", found.1, b, 1e-8);
        for (celsius, expected) in points {
            let viscosity = fluid.kinematic_viscosity_mm2_per_s(kelvin(celsius));
            assert_near("viscosity", viscosity, expected, 1e-8);
        }
    }
}

#[test]
pub fn walther_line_through_two_points_of_table_a5_predicts_the_others() {
    let (a, b) = walther_line((310.0, 288.0), (370.0, 22.0));
    // computed with the same closed form, and the table beside it
    for (temperature_k, computed, table) in [
        (320.0, 161.8462663833522, 161.0),
        (340.0, 62.790707488306616, 61.7),
        (350.0, 42.45802844368642, 41.7),
        (400.0, 10.339051597389068, 10.6),
        (430.0, 5.869163785896752, 5.83),
    ] {
        let viscosity = walther_viscosity_mm2_per_s(a, b, temperature_k);
        assert_near("viscosity (computed)", viscosity, computed, 1e-8);
        assert_near("viscosity, table", viscosity, table, 0.03);
    }
    for row in TABLE_A5 {
        let off = walther_viscosity_mm2_per_s(a, b, row.0) / (row.3 * 1e6) - 1.0;
        if row.0 >= 300.0 {
            assert!(off.abs() < 0.03, "{} K: {off}", row.0);
        } else if row.0 <= 280.0 {
            // below 7 °C the printed oil is thinner than the extrapolated line by a fifth and more
            assert!(off > 0.18 && off < 0.40, "{} K: {off}", row.0);
        }
    }
}

#[test]
pub fn cragoe_specific_heat() {
    // NBS Misc. Pub. 97 in SI (computed from the formula), relative density 0.8916
    for (celsius, expected) in [
        (40.0, 1927.9430563000496),
        (80.0, 2071.6048125414745),
        (100.0, 2143.435690662187),
        (140.0, 2287.097446903612),
    ] {
        let found = cragoe_specific_heat_j_per_kg_k(TABLE_A5_RELATIVE_DENSITY, kelvin(celsius));
        assert_near("specific heat", found, expected, 1e-4);
    }
    // against the table: never above it, up to 5 % low when hot
    for row in TABLE_A5 {
        let off = cragoe_specific_heat_j_per_kg_k(TABLE_A5_RELATIVE_DENSITY, row.0) / row.2 - 1.0;
        assert!(off < 0.0 && off > -0.05, "{} K: {off}", row.0);
    }
}

#[test]
pub fn cragoe_conductivity_and_its_disagreement_with_table_a5() {
    // NBS Misc. Pub. 97 in SI (computed from the formula), relative density 0.8916
    for (celsius, expected) in [
        (40.0, 0.12867562135486765),
        (80.0, 0.12583486765365634),
        (100.0, 0.1244144908030507),
        (140.0, 0.1215737371018394),
    ] {
        let found = cragoe_conductivity_w_per_m_k(TABLE_A5_RELATIVE_DENSITY, kelvin(celsius));
        assert_near("conductivity", found, expected, 1e-4);
    }
    // Two published sources disagree: the formula is 8 % to 11.5 % below the table at every temperature.
    // Neither can be called right without the oil; ±10 % is carried as uncertainty of k.
    for row in TABLE_A5 {
        let off = cragoe_conductivity_w_per_m_k(TABLE_A5_RELATIVE_DENSITY, row.0) / row.4 - 1.0;
        assert!(off < -0.08 && off > -0.115, "{} K: {off}", row.0);
    }
}

#[test]
pub fn density_by_table_54d() {
    // API MPMS 11.1 / ASTM D1250 Table 54D (computed from the formula) at 40, 80, 100 and 140 °C
    for (density15, expected) in [
        (891.0, [875.2251403360272, 849.6863480851081, 836.7988638768088, 810.8340740236849]),
        (865.0, [849.2228351900063, 823.6727849101298, 810.7773844828089, 784.7949705705627]),
    ] {
        let fluid = Fluid::new(34.0, 7.2, density15);
        for (celsius, value) in [40.0, 80.0, 100.0, 140.0].into_iter().zip(expected) {
            assert_near("density", fluid.density_kg_per_m3(kelvin(celsius)), value, 1e-9);
        }
    }
    let fluid = Fluid::new(34.0, 7.2, TABLE_A5_DENSITY15);
    assert_near("relative density", fluid.relative_density(), TABLE_A5_RELATIVE_DENSITY, 2e-4);
    // Against the measured oil: within 0.35 % to 360 K and 0.8 % to 420 K, always low when hot. The last row,
    // 430 K, lies beyond 150 °C, where Table 54D ends: there the formula is 0.83 % low, which is the
    // formula's error and not the arithmetic's (the values above agree to 1e-9).
    for row in TABLE_A5 {
        let found = fluid.density_kg_per_m3(row.0);
        if row.0 <= 360.0 {
            assert_near("density, Table A.5", found, row.1, 0.0035);
        } else if row.0 <= 420.0 {
            assert_near("density, Table A.5", found, row.1, 0.008);
        } else {
            let off = found / row.1 - 1.0;
            assert!(off < -0.008 && off > -0.0085, "{off}");
        }
    }
}

#[test]
pub fn enthalpy_difference_of_the_printed_oil() {
    // Trapezoids over Table A.5 from 300 K to 400 K against the exact integral of the formula
    let table: f64 = TABLE_A5
        .windows(2)
        .filter(|pair| pair[0].0 >= 300.0 && pair[1].0 <= 400.0)
        .map(|pair| 0.5 * (pair[0].2 + pair[1].2) * (pair[1].0 - pair[0].0))
        .sum();
    let fluid = Fluid::new(34.0, 7.2, TABLE_A5_DENSITY15);
    let rise = fluid.specific_enthalpy_j_per_kg(400.0) - fluid.specific_enthalpy_j_per_kg(300.0);
    assert_near("enthalpy rise", rise, table, 0.05);
    for celsius in -60..250 {
        let temperature_k = kelvin(f64::from(celsius));
        let enthalpy = fluid.specific_enthalpy_j_per_kg(temperature_k);
        assert_near("inverse", fluid.temperature_from_enthalpy_k(enthalpy), temperature_k, 1e-13);
    }
}

#[test]
pub fn classes_keep_to_the_published_grade_limits() {
    // SAE J300 (2015), KV100 in mm²/s: grade 20 from 6.9 to below 9.3, grade 30 from 9.3 to below 12.5
    for (key, limits) in [("racing_straight_20", (6.9, 9.3)), ("racing_straight_30", (9.3, 12.5))] {
        let range = class_by_key(key).map(|class| class.kv100_range_mm2_per_s);
        assert_eq!(range, Some(limits));
    }
    // Used fluid is not expected below 5.5 mm²/s at 210 °F (SAE paper 710838, abstract), of fluids of the
    // older classes; the typical fresh ones are above that
    for class in &CLASSES {
        let at_210_fahrenheit = class.fluid().kinematic_viscosity_mm2_per_s(372.039);
        assert!(at_210_fahrenheit > 5.5, "{}", class.key);
    }
}
