//! The oil-to-air cooler: effectiveness from the number of transfer units, and a core with its own lag.
//!
//! **Concept.** Effectiveness ε is the heat exchanged over the most that the two streams could exchange,
//! `q = ε·C_min·(T_oil,in − T_air,in)`, with C = ṁ·cp of a stream, NTU = UA/C_min and Cr = C_min/C_max.
//!
//! **Equations** [1, 2], N = NTU:
//! - counterflow `(1 − e^{−N(1−Cr)})/(1 − Cr·e^{−N(1−Cr)})`, and N/(1 + N) at Cr = 1
//! - parallel flow `(1 − e^{−N(1+Cr)})/(1 + Cr)`
//! - crossflow, C_max mixed `(1/Cr)(1 − e^{−Cr(1 − e^{−N})})`
//! - crossflow, C_min mixed `1 − e^{−(1/Cr)(1 − e^{−Cr·N})}`
//! - crossflow, both unmixed, the exact series [3], z = 2N√Cr:
//!   `1 − e^{−(1+Cr)N}[I₀(z) + √Cr·I₁(z) − ((1−Cr)/Cr)·Σ_{n≥2} Cr^{n/2}·Iₙ(z)]`
//! - all of them `1 − e^{−N}` at Cr = 0
//!
//! The approximate formula for the unmixed case that many textbooks print differs from the exact one by
//! up to 1 % (0.7632 against 0.7557 at N = 2.5, Cr = 0.6); it is not used.
//!
//! **The core.** Aluminium and the oil in it store heat at one temperature T_core. Oil gives it
//! `ε_h·C_oil·(T_oil,in − T_core)` and it gives the air `G_c·(T_core − T_air)`. G_c is chosen so that in the
//! steady state the two in series make exactly ε·C_min; see [`core_conductances`].
//!
//! **Assumptions.** Constant properties along the core, no conduction along the plates, no loss to the
//! outside, no fouling.
//!
//! **Valid range.** NTU ≥ 0, 0 ≤ Cr ≤ 1; the series is good to 1e-10 up to NTU 20 and beyond. Above NTU
//! 10 000 the value at 10 000 is returned.
//!
//! **Sources.** [1] Bergman et al., *Fundamentals of Heat and Mass Transfer*, Table 11.3. [2] Shah and
//! Sekulić, *Fundamentals of Heat Exchanger Design*, 2003. [3] B. S. Baclic, J. Heat Transfer 100 (1978)
//! 746; A. Triboix, Int. Commun. Heat Mass Transfer 36 (2009) 121. [4] Y.-J. Chang and C.-C. Wang, Int. J.
//! Heat Mass Transfer 40 (1997) 533; C. J. Davenport, AIChE Symp. Ser. 79 (1983) 19 (exponents from memory).
//!
//! **Not here.** UA from the geometry of fins, fan curves, pressure drop.

/// How the two streams pass each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Arrangement {
    Counterflow,
    Parallel,
    /// Fins keep both streams from mixing across: the usual plate-and-fin cooler.
    CrossflowUnmixed,
    /// The stream of the smaller capacity rate is mixed, the other is not.
    CrossflowCminMixed,
    /// The stream of the larger capacity rate is mixed, the other is not.
    CrossflowCmaxMixed,
}

/// Beyond this number of transfer units the effectiveness is held.
const NTU_LIMIT: f64 = 1e4;

/// Effectiveness, 0 to 1, rising with `ntu` and falling with `capacity_ratio` = C_min/C_max.
pub fn effectiveness(arrangement: Arrangement, ntu: f64, capacity_ratio: f64) -> f64 {
    let ntu = ntu.clamp(0.0, NTU_LIMIT);
    let ratio = capacity_ratio.clamp(0.0, 1.0);
    let one_sided = -(-ntu).exp_m1();
    if ratio < 1e-14 {
        return one_sided;
    }
    let value = match arrangement {
        Arrangement::Counterflow => {
            let reached = -(-ntu * (1.0 - ratio)).exp_m1();
            if reached == 0.0 {
                ntu / (1.0 + ntu)
            } else {
                reached / ((1.0 - ratio) + ratio * reached)
            }
        }
        Arrangement::Parallel => -(-ntu * (1.0 + ratio)).exp_m1() / (1.0 + ratio),
        Arrangement::CrossflowUnmixed => unmixed(ntu, ratio),
        Arrangement::CrossflowCminMixed => -((-ratio * ntu).exp_m1() / ratio).exp_m1(),
        Arrangement::CrossflowCmaxMixed => -(-ratio * one_sided).exp_m1() / ratio,
    };
    value.clamp(0.0, 1.0)
}

/// The exact series with Bessel functions scaled by e^{−z}, so that nothing overflows: the exponent that
/// is left, −N(1 − √Cr)², is never positive. The Iₙ come from downward recurrence
/// `I_{n−1} = I_{n+1} + (2n/z)·Iₙ` (Miller), made absolute by `e^z = I₀ + 2ΣIₙ`.
fn unmixed(ntu: f64, ratio: f64) -> f64 {
    let root = ratio.sqrt();
    let exponent = -ntu * (1.0 - root) * (1.0 - root);
    if exponent < -40.0 {
        return 1.0;
    }
    let z = 2.0 * ntu * root;
    if z < 1e-8 {
        return 1.0 - (-(1.0 + ratio) * ntu).exp() * (1.0 + root * 0.5 * z);
    }
    // relative size of the first neglected term is below e^{−70}
    let terms = 24 + (12.0 * z.sqrt()) as u32;
    let (mut above, mut here) = (0.0, 1e-290);
    let (mut sum, mut series) = (0.0, 0.0);
    for n in (2..=terms).rev() {
        sum += here;
        series = here + root * series;
        (above, here) = (here, above + 2.0 * f64::from(n) / z * here);
    }
    let first = here;
    let zeroth = above + 2.0 / z * first;
    let scale = zeroth + 2.0 * (first + sum);
    let bracket = (zeroth + root * first - (1.0 - ratio) * series) / scale;
    1.0 - exponent.exp() * bracket
}

/// The number of transfer units that gives this effectiveness, or `None` when no size of cooler does
/// (effectiveness negative, or at or above the limit of the arrangement).
pub fn ntu_for_effectiveness(
    arrangement: Arrangement,
    wanted_effectiveness: f64,
    capacity_ratio: f64,
) -> Option<f64> {
    let limit = effectiveness(arrangement, NTU_LIMIT, capacity_ratio);
    if !(0.0..limit).contains(&wanted_effectiveness) {
        return None;
    }
    let (mut low, mut high) = (0.0, NTU_LIMIT);
    for _ in 0..120 {
        let middle = 0.5 * (low + high);
        if effectiveness(arrangement, middle, capacity_ratio) < wanted_effectiveness {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(0.5 * (low + high))
}

/// Logarithmic mean of the temperature differences at the two ends; their common value when equal, zero
/// when one is zero, and `None` when they have opposite signs.
pub fn lmtd(first_difference_k: f64, second_difference_k: f64) -> Option<f64> {
    if first_difference_k == 0.0 || second_difference_k == 0.0 {
        return Some(0.0);
    }
    let excess = first_difference_k / second_difference_k - 1.0;
    if excess.is_nan() || excess <= -1.0 {
        None
    } else if excess == 0.0 {
        Some(first_difference_k)
    } else {
        Some(second_difference_k * excess / excess.ln_1p())
    }
}

/// What couples the core to its two streams.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoolerConductances {
    /// ε_h in `q = ε_h·C_oil·(T_oil,in − T_core)`.
    pub oil_effectiveness: f64,
    /// G_c in `q = G_c·(T_core − T_air,in)`, W/K.
    pub core_to_air_w_per_k: f64,
}

/// Conductance of a core of one temperature to its air stream, W/K: `C_air·(1 − e^{−UA_air/C_air})`.
fn uniform_core_to_air_w_per_k(ua_air_side_w_per_k: f64, capacity_air_w_per_k: f64) -> f64 {
    if capacity_air_w_per_k <= 0.0 {
        return 0.0;
    }
    -(-ua_air_side_w_per_k / capacity_air_w_per_k).exp_m1() * capacity_air_w_per_k
}

/// Splits the exchanger into an oil side and an air side around a core with one temperature.
///
/// Oil side: `ε_h = 1 − e^{−UA_oil/C_oil}`, `G_h = ε_h·C_oil`. Whole exchanger: `G = ε·C_min` with
/// `1/UA = 1/UA_oil + 1/UA_air`. Air side: `1/G_c = 1/G − 1/G_h`. In the steady state the heat is
/// therefore that of the ε-NTU method, exactly, while the core lags behind in time.
///
/// G_c is held at ten times UA_air. This bears only on a trickle of oil, which is cooled to the air's
/// temperature before it has crossed the core; the heat then comes out low by less than G/(10·UA_air):
/// at most 1.1 % over the cases in this file's tests, and only where C_oil < UA/4.
/// Without oil flow ε_h = 0 and G_c is that of a core of uniform temperature,
/// `C_air·(1 − e^{−UA_air/C_air})`. Without air flow G_c = 0. Finite for all inputs ≥ 0.
pub fn core_conductances(
    arrangement: Arrangement,
    ua_oil_side_w_per_k: f64,
    ua_air_side_w_per_k: f64,
    capacity_oil_w_per_k: f64,
    capacity_air_w_per_k: f64,
) -> CoolerConductances {
    let (ua_oil, ua_air) = (ua_oil_side_w_per_k.max(0.0), ua_air_side_w_per_k.max(0.0));
    let (c_oil, c_air) = (capacity_oil_w_per_k.max(0.0), capacity_air_w_per_k.max(0.0));
    let uniform = uniform_core_to_air_w_per_k(ua_air, c_air);
    if c_oil == 0.0 || ua_oil == 0.0 {
        return CoolerConductances { oil_effectiveness: 0.0, core_to_air_w_per_k: uniform };
    }
    let oil_effectiveness = -(-ua_oil / c_oil).exp_m1();
    if uniform == 0.0 {
        return CoolerConductances { oil_effectiveness, core_to_air_w_per_k: 0.0 };
    }
    let ua = 1.0 / (1.0 / ua_oil + 1.0 / ua_air);
    let (c_min, c_max) = (c_oil.min(c_air), c_oil.max(c_air));
    let whole = c_min * effectiveness(arrangement, ua / c_min, c_min / c_max);
    let oil_side = oil_effectiveness * c_oil;
    let resistance = 1.0 / whole - 1.0 / oil_side;
    let cap = 10.0 * ua_air;
    let core_to_air_w_per_k = if resistance * cap > 1.0 { 1.0 / resistance } else { cap };
    CoolerConductances { oil_effectiveness, core_to_air_w_per_k }
}

/// Air-side UA at another air flow: `UA = UA_rated·(flow/rated)^0.55`.
///
/// Common practice for louvred and offset fins: the published heat-transfer factors fall with Reynolds
/// number to the power −0.49 to −0.42 [4], so that UA rises with flow to the power 0.51 to 0.58. Zero at
/// zero flow, where natural convection through the core is left out.
pub fn air_side_ua(ua_rated_w_per_k: f64, air_flow: f64, air_flow_rated: f64) -> f64 {
    if air_flow <= 0.0 || air_flow_rated <= 0.0 {
        return 0.0;
    }
    ua_rated_w_per_k * (air_flow / air_flow_rated).powf(0.55)
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: [Arrangement; 5] = [
        Arrangement::Counterflow,
        Arrangement::Parallel,
        Arrangement::CrossflowUnmixed,
        Arrangement::CrossflowCminMixed,
        Arrangement::CrossflowCmaxMixed,
    ];

    fn series_w_per_k(found: CoolerConductances, c_oil: f64) -> f64 {
        let oil_side = found.oil_effectiveness * c_oil;
        oil_side * found.core_to_air_w_per_k / (oil_side + found.core_to_air_w_per_k)
    }

    #[test]
    fn the_inverse_returns_the_transfer_units() {
        for arrangement in ALL {
            for ratio in [0.0, 0.3, 0.7, 1.0] {
                for ntu in [0.1, 0.5, 1.0, 2.0] {
                    let reached = effectiveness(arrangement, ntu, ratio);
                    let back = ntu_for_effectiveness(arrangement, reached, ratio);
                    assert!(back.is_some_and(|found| (found / ntu - 1.0).abs() < 1e-9));
                }
            }
        }
        assert_eq!(ntu_for_effectiveness(Arrangement::Parallel, 0.6, 1.0), None);
        assert_eq!(ntu_for_effectiveness(Arrangement::Parallel, f64::NAN, 1.0), None);
        assert_eq!(ntu_for_effectiveness(Arrangement::Parallel, -0.1, 1.0), None);
    }

    #[test]
    fn unmixed_at_equal_capacities_nears_its_asymptote() {
        // Cr = 1: 1 − e^{−2N}[I₀(2N) + I₁(2N)] → 1 − 1/√(πN)·(1 − 1/(16N)...) for large N
        for ntu in [1e3, 9e3] {
            let expected = 1.0 - 1.0 / (std::f64::consts::PI * ntu).sqrt();
            let found = effectiveness(Arrangement::CrossflowUnmixed, ntu, 1.0);
            assert!((found - expected).abs() < 1e-5, "{found} {expected}");
        }
    }

    #[test]
    fn core_in_steady_state_is_the_exchanger() {
        for arrangement in ALL {
            for (ua_oil, ua_air, c_oil, c_air) in [
                (400.0, 250.0, 180.0, 600.0),
                (150.0, 500.0, 300.0, 100.0),
                (800.0, 60.0, 250.0, 40.0),
                (400.0, 250.0, 600.0, 600.0),
            ] {
                let found = core_conductances(arrangement, ua_oil, ua_air, c_oil, c_air);
                assert!(found.core_to_air_w_per_k < 10.0 * ua_air);
                let c_min = f64::min(c_oil, c_air);
                let ua = ua_oil * ua_air / (ua_oil + ua_air);
                let whole =
                    c_min * effectiveness(arrangement, ua / c_min, c_min / f64::max(c_oil, c_air));
                assert!((series_w_per_k(found, c_oil) / whole - 1.0).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn the_cap_costs_little_and_only_at_a_trickle_of_oil() {
        let (mut worst, mut most_oil) = (0.0f64, 0.0f64);
        for arrangement in ALL {
            for ua_oil in [50.0, 200.0, 800.0] {
                for c_air in [20.0, 100.0, 500.0, 2000.0] {
                    for step in 1..200 {
                        let (ua_air, c_oil) = (200.0, 1.05f64.powi(step) * 0.05);
                        let found = core_conductances(arrangement, ua_oil, ua_air, c_oil, c_air);
                        let c_min = f64::min(c_oil, c_air);
                        let ua = ua_oil * ua_air / (ua_oil + ua_air);
                        let ratio = c_min / f64::max(c_oil, c_air);
                        let whole = c_min * effectiveness(arrangement, ua / c_min, ratio);
                        let error = 1.0 - series_w_per_k(found, c_oil) / whole;
                        assert!(error > -1e-9 && error < whole / (10.0 * ua_air) + 1e-9);
                        if error > 1e-6 {
                            most_oil = most_oil.max(c_oil / ua);
                        }
                        worst = worst.max(error);
                    }
                }
            }
        }
        assert!(worst < 0.011, "{worst}");
        assert!(most_oil < 0.25, "{most_oil}");
    }

    #[test]
    fn conductances_are_finite_for_any_input_that_is_not_negative() {
        let values = [0.0, 1e-300, 1e-9, 1.0, 1e3, 1e9, 1e300];
        for arrangement in ALL {
            for ua_oil in values {
                for ua_air in values {
                    for c_oil in values {
                        for c_air in values {
                            let found =
                                core_conductances(arrangement, ua_oil, ua_air, c_oil, c_air);
                            assert!(
                                (0.0..=1.0).contains(&found.oil_effectiveness)
                                    && found.core_to_air_w_per_k.is_finite()
                                    && found.core_to_air_w_per_k >= 0.0,
                                "{arrangement:?} {ua_oil} {ua_air} {c_oil} {c_air}: {found:?}"
                            );
                        }
                    }
                }
            }
        }
        let still = core_conductances(Arrangement::CrossflowUnmixed, 400.0, 200.0, 0.0, 100.0);
        assert!((still.core_to_air_w_per_k - 100.0 * (1.0 - (-2f64).exp())).abs() < 1e-12);
        let no_air = core_conductances(Arrangement::CrossflowUnmixed, 400.0, 200.0, 100.0, 0.0);
        assert_eq!(no_air.core_to_air_w_per_k, 0.0);
    }

    #[test]
    fn log_mean_in_its_limits() {
        assert_eq!(lmtd(20.0, 20.0), Some(20.0));
        assert_eq!(lmtd(20.0, 0.0), Some(0.0));
        assert_eq!(lmtd(20.0, -1.0), None);
        assert!(lmtd(20.0, 20.0 + 1e-9).is_some_and(|mean| (mean - 20.0).abs() < 1e-8));
    }
}
