//! Ageing of fluid: activation energy, dose of a ramp, and the trade's table; what seals and skin bear.

use crate::{assert_near, assert_within};
use stallheat::fluid_life::{AgeingLaw, Ramp, activation_energy_of_doubling_j_per_mol};
use stallheat::scenario::parameters::{PARAMETERS, Setup};

fn kelvin(celsius: f64) -> f64 {
    celsius + 273.15
}

#[test]
pub fn activation_energy_of_a_doubling_per_ten_kelvin() {
    // R·ln 2/(1/T1 − 1/T2) (closed form): °C, °C, J/mol. One energy cannot double the rate everywhere.
    for (lower, higher, expected) in [
        (100.0, 110.0, 82397.09908122191),
        (120.0, 130.0, 91344.96006004176),
        (140.0, 150.0, 100753.87274458328),
    ] {
        let found = activation_energy_of_doubling_j_per_mol(kelvin(lower), kelvin(higher));
        assert!(found.is_some());
        if let Some(activation_energy_j_per_mol) = found {
            assert_near("activation energy", activation_energy_j_per_mol, expected, 1e-8);
            let law =
                AgeingLaw::Arrhenius { reference_k: kelvin(lower), activation_energy_j_per_mol };
            assert_near("rate", law.rate(kelvin(higher)), 2.0, 1e-12);
            assert_near("rate at the reference", law.rate(kelvin(lower)), 1.0, 1e-15);
        }
    }
}

#[test]
pub fn dose_of_a_ramp() {
    // ∫2^((T − 80 °C)/10 K) dt from 80 °C to 150 °C in 600 s (closed form), seconds at 80 °C
    let law = AgeingLaw::Doubling { reference_k: kelvin(80.0), doubling_delta_k: 10.0 };
    let ramp = Ramp { start_k: kelvin(80.0), end_k: kelvin(150.0), duration_s: 600.0 };
    assert_near("dose", law.ramp_dose_s(ramp), 15704.766016534146, 1e-9);
    // falling costs the same as rising
    let falling = Ramp { start_k: ramp.end_k, end_k: ramp.start_k, ..ramp };
    assert_near("dose", law.ramp_dose_s(falling), 15704.766016534146, 1e-9);
}

#[test]
pub fn trade_table_of_fluid_life() {
    // COMMON PRACTICE, NO SOURCE: a table repeated from page to page, °F and miles. It says only that the
    // trade's rule (twice as fast for every 20 °F above 175 °F) is what the trade's table contains.
    for (fahrenheit, miles) in [
        (175.0, 100_000.0),
        (195.0, 50_000.0),
        (212.0, 25_000.0),
        (235.0, 12_000.0),
        (255.0, 6_250.0),
        (275.0, 3_000.0),
        (295.0, 1_500.0),
        (315.0, 750.0),
        (335.0, 325.0),
        (355.0, 160.0),
        (375.0, 80.0),
    ] {
        let rate = AgeingLaw::trade_rule().rate((fahrenheit + 459.67) / 1.8);
        assert_near("miles", 100_000.0 / rate, miles, 0.25);
    }
    // the table's last row, 40 miles at 390 °F, breaks its own rule, which gives 58
    let at_390 = 100_000.0 / AgeingLaw::trade_rule().rate((390.0 + 459.67) / 1.8);
    assert_within("miles at 390 °F", at_390, 58.0, 0.5);
}

#[test]
pub fn limits_of_seals_and_skin_lie_in_published_ranges() {
    let limits = Setup::default().limits;
    // Continuous use, °C, from memory: nitrile 100 to 125, acrylic 150 to 175, fluoroelastomer 200 to 230. ASTM D2000
    // letters (B 100, C 125, D 150, H 250) are ageing tests of 70 h; 250 must not be shown as a rating.
    assert!((kelvin(100.0)..=kelvin(125.0)).contains(&limits.seal_k), "{}", limits.seal_k);
    let row = PARAMETERS.iter().find(|row| row.path() == "limits.seal");
    assert!(row.is_some());
    if let Some(row) = row {
        for (rubber, least, most) in
            [("nitrile", 100, 125), ("acrylic", 150, 175), ("fluoroelastomer", 200, 230)]
        {
            let (_, after) = row.wording().sentence.split_once(rubber).unwrap_or_default();
            let shown: String = after.chars().filter(|c| c.is_ascii_digit() || *c == ',').collect();
            let first: i32 = shown.split(',').next().unwrap_or_default().parse().unwrap_or(0);
            assert!(
                (least..=most).contains(&first),
                "{rubber} {first} °C: {}",
                row.wording().sentence
            );
        }
        assert!(!row.wording().sentence.contains("250"), "{}", row.wording().sentence);
    }
    // ISO 13732-1:2006, burn threshold of bare metal, ten minutes of contact: 48 °C, ±2 K (from memory).
    assert!((limits.touch_k - kelvin(48.0)).abs() <= 2.0, "{}", limits.touch_k);
}
