//! Effectiveness tables and worked examples of heat exchangers.
//!
//! Books: Bergman et al. (Incropera), *Fundamentals of Heat and Mass Transfer*, chapter 11; Holman, *Heat
//! Transfer*, tenth edition, chapter 10.

use crate::{assert_near, assert_within};
use stallheat::cooler::{Arrangement, effectiveness, lmtd, ntu_for_effectiveness};

const NTU: [f64; 5] = [0.25, 0.5, 1.0, 2.0, 4.0];
const RATIO: [f64; 4] = [0.25, 0.5, 0.75, 1.0];

const ALL: [Arrangement; 5] = [
    Arrangement::Counterflow,
    Arrangement::Parallel,
    Arrangement::CrossflowUnmixed,
    Arrangement::CrossflowCminMixed,
    Arrangement::CrossflowCmaxMixed,
];

/// Rows: capacity ratio; columns: NTU. Computed from Table 11.3 of Incropera with ht 1.2.
const COUNTERFLOW: [[f64; 5]; 4] = [
    [
        0.215670074802442,
        0.37758892644257075,
        0.5982860239279827,
        0.8227658063875466,
        0.9621890749464285,
    ],
    [
        0.21029578832876494,
        0.3622655728275478,
        0.5647334016064162,
        0.7746003264394359,
        0.9274211165042462,
    ],
    [
        0.20507343480638004,
        0.3475113940851626,
        0.5318574880749889,
        0.7218269911368147,
        0.8729856688278612,
    ],
    [0.2, 0.3333333333333333, 0.5, 0.6666666666666666, 0.8],
];
/// As above.
const PARALLEL: [[f64; 5]; 4] = [
    [
        0.21470749684268658,
        0.37179085718480775,
        0.5707961625118478,
        0.7343320011008809,
        0.7946096424007316,
    ],
    [
        0.20847381413935184,
        0.3517556315059902,
        0.5179132265677134,
        0.6334752877547574,
        0.6650141652155558,
    ],
    [
        0.20248655632691884,
        0.3332217030408523,
        0.4721291751711742,
        0.5541729237586751,
        0.5709074960196832,
    ],
    [
        0.1967346701436833,
        0.31606027941427883,
        0.43233235838169365,
        0.4908421805556329,
        0.49983226868604874,
    ],
];
/// As above; the exact series, computed twice: with ht 1.2 and with the Bessel functions of SciPy 1.17.
const UNMIXED: [[f64; 5]; 4] = [
    [
        0.21522425902014009,
        0.3750944292799767,
        0.5880113263793376,
        0.7974223064384107,
        0.9340198212691235,
    ],
    [
        0.20946231401957371,
        0.35782704644650765,
        0.5474898338811396,
        0.7324092524821475,
        0.8696866338401725,
    ],
    [
        0.20390490870113376,
        0.34159476765838637,
        0.5103086472920552,
        0.671080291590249,
        0.796883607462644,
    ],
    [
        0.19854392636597817,
        0.3263299770566511,
        0.47622238819739127,
        0.614247239273578,
        0.7224257248504515,
    ],
];
/// As above.
const CMIN_MIXED: [[f64; 5]; 4] = [
    [
        0.21521677728692756,
        0.37500547523594396,
        0.5872019826321921,
        0.7927599221013535,
        0.9202199842681287,
    ],
    [
        0.20943404780875108,
        0.3575064067496021,
        0.5447637120146873,
        0.7175464361494597,
        0.8225966691808597,
    ],
    [
        0.2038448306447722,
        0.34094456509213544,
        0.5051552802056822,
        0.6450670757505523,
        0.7183106963430349,
    ],
    [
        0.1984430193364929,
        0.3252879962641003,
        0.46853639461338437,
        0.5788072521764647,
        0.6253205284745489,
    ],
];
/// As above.
const CMAX_MIXED: [[f64; 5]; 4] = [
    [
        0.2151942790701069,
        0.37473631609761604,
        0.5847038097042896,
        0.7775943337689504,
        0.8704999265836344,
    ],
    [
        0.20940570685204385,
        0.35718290277231457,
        0.5419689915689507,
        0.7020127152802531,
        0.7757786613108704,
    ],
    [
        0.20382474590486616,
        0.3407258063544233,
        0.503398708595404,
        0.6362264031705387,
        0.6947998717824145,
    ],
    [
        0.1984430193364929,
        0.3252879962641003,
        0.46853639461338437,
        0.5788072521764647,
        0.6253205284745489,
    ],
];

#[test]
pub fn effectiveness_tables_of_five_arrangements() {
    for (arrangement, table, absolute) in [
        (Arrangement::Counterflow, COUNTERFLOW, 1e-9),
        (Arrangement::Parallel, PARALLEL, 1e-9),
        (Arrangement::CrossflowUnmixed, UNMIXED, 1e-10),
        (Arrangement::CrossflowCminMixed, CMIN_MIXED, 1e-9),
        (Arrangement::CrossflowCmaxMixed, CMAX_MIXED, 1e-9),
    ] {
        for (ratio, row) in RATIO.into_iter().zip(table) {
            for (ntu, expected) in NTU.into_iter().zip(row) {
                let found = effectiveness(arrangement, ntu, ratio);
                let what = format!("effectiveness, {arrangement:?}");
                assert_within(&what, found, expected, absolute);
            }
        }
    }
}

#[test]
pub fn all_arrangements_agree_when_one_stream_does_not_change_temperature() {
    // Closed form 1 − e^{−NTU} for Cr = 0
    for (ntu, expected) in [
        (0.5, 0.3934693402873666),
        (1.0, 0.6321205588285577),
        (2.0, 0.8646647167633873),
        (4.0, 0.9816843611112658),
    ] {
        for arrangement in ALL {
            assert_within("effectiveness", effectiveness(arrangement, ntu, 0.0), expected, 1e-12);
            let nearly = effectiveness(arrangement, ntu, 1e-9);
            assert!((nearly - expected).abs() < 1e-8, "{arrangement:?} is continuous at Cr = 0");
        }
    }
}

#[test]
pub fn unmixed_crossflow_is_the_exact_series_and_not_the_approximation() {
    // Incropera equation 11.32, the approximation, gives 0.763225 for NTU 2.5, Cr 0.6, which is also what
    // one published page prints; the exact series gives 0.755718 (computed). The series is what is used.
    let (ntu, ratio) = (2.5f64, 0.6f64);
    let approximate =
        1.0 - ((ntu.powf(0.22) / ratio) * ((-ratio * ntu.powf(0.78)).exp() - 1.0)).exp();
    assert!((approximate - 0.763225250701324).abs() < 1e-6);
    let found = effectiveness(Arrangement::CrossflowUnmixed, ntu, ratio);
    assert_within("exact series", found, 0.7557179310473223, 1e-10);
}

#[test]
pub fn unmixed_series_stays_exact_for_very_small_and_very_large_exchangers() {
    // The same series computed with 40 digits (mpmath 1.3 or later): NTU, Cr, effectiveness
    for (ntu, ratio, expected) in [
        (0.05, 0.01, 0.04875868706342909),
        (0.05, 0.3, 0.04841559709322771),
        (0.05, 0.9, 0.04771592295685161),
        (0.05, 1.0, 0.04760062740888958),
        (10.0, 0.01, 0.9999287262869833),
        (10.0, 0.3, 0.991429934818927),
        (10.0, 0.9, 0.8585931857300756),
        (10.0, 1.0, 0.8227134659318853),
        (20.0, 0.01, 0.9999999905920646),
        (20.0, 0.3, 0.9995232886306168),
        (20.0, 0.9, 0.9122761065349564),
        (20.0, 1.0, 0.8742394910503226),
        (60.0, 0.01, 1.0),
        (60.0, 0.3, 0.9999999694544246),
        (60.0, 0.9, 0.964635480085964),
        (60.0, 1.0, 0.927239428551557),
    ] {
        let found = effectiveness(Arrangement::CrossflowUnmixed, ntu, ratio);
        assert_within("exact series, 40 digits", found, expected, 1e-13);
    }
}

#[test]
pub fn effectiveness_rises_with_size_falls_with_ratio_and_keeps_its_order() {
    for step in 0..200 {
        let ntu = f64::from(step) * 0.1;
        for ratio_step in 0..=20 {
            let ratio = f64::from(ratio_step) * 0.05;
            for arrangement in ALL {
                let here = effectiveness(arrangement, ntu, ratio);
                assert!((0.0..=1.0).contains(&here));
                assert!(effectiveness(arrangement, ntu + 0.1, ratio) >= here - 1e-13);
                assert!(effectiveness(arrangement, ntu, (ratio + 0.05).min(1.0)) <= here + 1e-13);
            }
            let best = effectiveness(Arrangement::Counterflow, ntu, ratio);
            let middle = effectiveness(Arrangement::CrossflowUnmixed, ntu, ratio);
            let worst = effectiveness(Arrangement::Parallel, ntu, ratio);
            assert!(worst <= middle + 1e-13 && middle <= best + 1e-13);
        }
    }
}

#[test]
pub fn incropera_11_1_engine_oil_cooler() {
    // Counterflow concentric tubes: oil 0.1 kg/s from 100 °C to 60 °C, water 0.2 kg/s at 30 °C.
    let (capacity_oil, capacity_water) = (0.1 * 2131.0, 0.2 * 4178.0);
    let heat_w = capacity_oil * 40.0;
    assert_near("heat", heat_w, 8524.0, 1e-12);
    let water_out_c = 30.0 + heat_w / capacity_water;
    assert_near("water outlet", water_out_c, 40.20105313547152, 1e-12);
    let mean_k = lmtd(100.0 - water_out_c, 60.0 - 30.0).unwrap_or(f64::NAN);
    assert_near("log mean difference", mean_k, 43.19998550172644, 1e-9);
    let inner_m = 0.025;
    let reynolds = 4.0 * 0.2 / (std::f64::consts::PI * inner_m * 0.000725);
    assert_near("Reynolds number", reynolds, 14049.53980397421, 1e-9);
    let inside = 0.023 * reynolds.powf(0.8) * 4.85f64.powf(0.4) * 0.625 / inner_m;
    assert_near("inside coefficient", inside, 2249.5425869511255, 1e-6);
    let outside = 5.63 * 0.138 / (0.045 - inner_m);
    assert_near("annulus coefficient", outside, 38.847, 1e-6);
    let overall = 1.0 / (1.0 / inside + 1.0 / outside);
    assert_near("overall coefficient", overall, 38.18754523862321, 1e-6);
    let length_m = heat_w / (overall * std::f64::consts::PI * inner_m * mean_k);
    assert_near("length", length_m, 65.7882321916748, 1e-6);
    assert_near("length, as the book prints it from rounded steps", length_m, 65.9, 0.003);
    // the same exchanger by effectiveness
    let ua = overall * std::f64::consts::PI * inner_m * length_m;
    let reached =
        effectiveness(Arrangement::Counterflow, ua / capacity_oil, capacity_oil / capacity_water);
    assert_near("heat by effectiveness", reached * capacity_oil * 70.0, heat_w, 1e-12);
}

#[test]
pub fn incropera_11_3_size_of_a_finned_crossflow_exchanger() {
    // Gas 300 °C to 100 °C, water 1 kg/s (4197 J/kg K) 35 °C to 125 °C, 100 W/m² K.
    let heat_w: f64 = 4197.0 * 90.0;
    assert_near("heat", heat_w, 377730.0, 1e-12);
    let capacity_gas = heat_w / 200.0;
    assert_near("gas capacity rate", capacity_gas, 1888.65, 1e-12);
    let wanted = heat_w / (capacity_gas * (300.0 - 35.0));
    assert_near("effectiveness", wanted, 0.7547169811320755, 1e-12);
    let ratio = capacity_gas / 4197.0;
    assert_near("capacity ratio", ratio, 0.45, 1e-12);
    let mean_k = lmtd(300.0 - 125.0, 100.0 - 35.0).unwrap_or(f64::NAN);
    assert_near("counterflow log mean difference", mean_k, 111.06638119843886, 1e-9);
    let ntu = ntu_for_effectiveness(Arrangement::CrossflowUnmixed, wanted, ratio);
    let ntu = ntu.unwrap_or(f64::NAN);
    assert_near("exact NTU (computed)", ntu, 2.0808385664046574, 1e-8);
    let area_m2 = ntu * capacity_gas / 100.0;
    assert_near("exact area (computed)", area_m2, 39.29975758440156, 1e-8);
    // the book reads NTU 2.1 off a chart and gets 39.7 m²
    assert_near("NTU off the chart", ntu, 2.1, 0.03);
    assert_near("area by the chart", area_m2, 39.7, 0.03);
}

#[test]
pub fn incropera_11_4_the_same_exchanger_at_another_duty() {
    // 40 m², 100 W/m² K, gas 1.5 kg/s (1000 J/kg K) at 250 °C, water 1 kg/s at 35 °C.
    let (capacity_gas, capacity_water) = (1500.0, 4197.0);
    let ntu = 100.0 * 40.0 / capacity_gas;
    assert_near("NTU", ntu, 2.6666666666666665, 1e-12);
    let reached = effectiveness(Arrangement::CrossflowUnmixed, ntu, capacity_gas / capacity_water);
    assert_near("effectiveness (computed)", reached, 0.8357865379478435, 1e-9);
    let heat_w = reached * capacity_gas * 215.0;
    assert_near("heat (computed)", heat_w, 269541.15848817956, 1e-9);
    let (gas_out_c, water_out_c) = (250.0 - heat_w / capacity_gas, 35.0 + heat_w / capacity_water);
    assert_near("gas outlet (computed)", gas_out_c, 70.30589434121362, 1e-9);
    assert_near("water outlet (computed)", water_out_c, 99.22233940628534, 1e-9);
    // the book reads 0.82 off a chart: 264 kW, 73.7 °C, 98.0 °C
    assert_near("effectiveness off the chart", reached, 0.82, 0.03);
    assert_near("heat by the chart", heat_w, 264e3, 0.03);
    assert_within("gas out, a page that reads it off a chart, °C", gas_out_c, 73.7, 4.0);
    assert_within("water out, the same, °C", water_out_c, 98.0, 4.0);
}

#[test]
pub fn holman_10_9_oil_heated_by_steam() {
    // Oil 0.725 kg/s (1900 J/kg K, unmixed, C_min) at 15 °C; steam 5.2 kg/s (1860, mixed) at 130 °C.
    let (capacity_oil, capacity_steam) = (0.725 * 1900.0, 5.2 * 1860.0);
    let ntu = 275.0 * 10.82 / capacity_oil;
    assert_near("NTU", ntu, 2.160072595281307, 1e-12);
    let ratio = capacity_oil / capacity_steam;
    assert_near("capacity ratio", ratio, 0.14242142266335814, 1e-12);
    let reached = effectiveness(Arrangement::CrossflowCmaxMixed, ntu, ratio);
    assert_near("effectiveness", reached, 0.8312180361425988, 1e-9);
    let heat_w = reached * capacity_oil * 115.0;
    assert_near("heat", heat_w, 131675.32715043944, 1e-9);
    assert_near("oil outlet", 15.0 + heat_w / capacity_oil, 110.59007415639887, 1e-9);
    assert_near("steam outlet", 130.0 - heat_w / capacity_steam, 116.38592564614977, 1e-9);
}
