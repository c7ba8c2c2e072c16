//! How fast fluid ages with temperature, and how much life a temperature history uses.
//!
//! **Concept.** Ageing is counted in equivalent seconds: one second at the reference temperature is a dose of
//! one, one second hotter is more. Two histories with the same dose have aged the fluid alike.
//!
//! **Equations.** With T in K:
//! - Arrhenius: `rate = exp[(E/R)·(1/T_ref − 1/T)]`
//! - doubling rule: `rate = 2^((T − T_ref)/ΔT₂)`
//! - the activation energy that doubles the rate between T₁ and T₂: `E = R·ln 2/(1/T₁ − 1/T₂)`
//! - dose of a linear ramp under the doubling rule, closed form:
//!   `D = t·(r₂ − r₁)/ln(r₂/r₁)`, r = rate at its ends
//! - dose of samples: the sum of ramps between them. Exact for the doubling rule when temperature is linear
//!   between samples; for Arrhenius low, by less than 1 % for a ramp of 10 K and going with its square
//!
//! **Assumptions.** One reaction, enough oxygen always, no memory. A doubling per 10 K is not one Arrhenius
//! law: it means 82 kJ/mol near 105 °C but 101 kJ/mol near 145 °C.
//!
//! **Valid range.** As far as the law chosen; the exponent is held to ±300 so that every dose is finite.
//!
//! **Sources.** Arrhenius 1889; the doubling rule is common practice. That fluid lasts half as long for every
//! 20 °F (11.1 K) above 175 °F is a table repeated in the trade, common practice without a source.
//!
//! **Not here.** A life in hours or runs: no source gives one for racing. Friction material, water, dirt, shear
//! of viscosity improvers.

/// Molar gas constant, J/(mol·K), exact in the SI.
pub const GAS_CONSTANT_J_PER_MOL_K: f64 = 8.314_462_618_153_24;

const EXPONENT_LIMIT: f64 = 300.0;

/// How the rate of ageing goes with temperature. The rate is 1 at the reference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum AgeingLaw {
    Arrhenius { reference_k: f64, activation_energy_j_per_mol: f64 },
    Doubling { reference_k: f64, doubling_delta_k: f64 },
}

impl AgeingLaw {
    /// The rule of the trade: reference 175 °F, doubling every 20 °F. Common practice, no source.
    pub fn trade_rule() -> AgeingLaw {
        AgeingLaw::Doubling { reference_k: (175.0 + 459.67) / 1.8, doubling_delta_k: 20.0 / 1.8 }
    }

    fn log_rate(&self, temperature_k: f64) -> f64 {
        let exponent = match *self {
            AgeingLaw::Arrhenius { reference_k, activation_energy_j_per_mol } => {
                activation_energy_j_per_mol / GAS_CONSTANT_J_PER_MOL_K
                    * (1.0 / reference_k - 1.0 / temperature_k.max(1.0))
            }
            AgeingLaw::Doubling { reference_k, doubling_delta_k } => {
                std::f64::consts::LN_2 * (temperature_k - reference_k) / doubling_delta_k
            }
        };
        exponent.clamp(-EXPONENT_LIMIT, EXPONENT_LIMIT)
    }

    /// Rate of ageing relative to that at the reference temperature.
    pub fn rate(&self, temperature_k: f64) -> f64 {
        self.log_rate(temperature_k).exp()
    }

    /// Dose (s at the reference temperature) of a straight rise or fall of temperature: closed form for the
    /// doubling rule, for Arrhenius the same form with its rates at the ends.
    pub fn ramp_dose_s(&self, ramp: Ramp) -> f64 {
        self.dose_s([(0.0, ramp.start_k), (ramp.duration_s, ramp.end_k)].into_iter())
    }

    /// Dose (s at the reference temperature) of a history, `(time_s, temperature_k)`, temperature taken as linear
    /// between its points. Points in rising time; a step back in time counts as none. One point or none is no dose.
    pub fn dose_s(&self, mut points: impl Iterator<Item = (f64, f64)>) -> f64 {
        let Some((mut time_s, first_k)) = points.next() else { return 0.0 };
        let mut log_rate = self.log_rate(first_k);
        let mut rate = log_rate.exp();
        let mut dose_s = 0.0;
        for (next_s, temperature_k) in points {
            let next_log_rate = self.log_rate(temperature_k);
            let change = next_log_rate - log_rate;
            // The mean of a rate whose logarithm goes straight is the first times (e^x − 1)/x.
            let growth = growth(change);
            dose_s += (next_s - time_s).max(0.0) * rate * growth;
            // The end of a ramp is the start of the next. The exponential is for larger steps.
            rate = if change.abs() < SMALL {
                rate * (1.0 + change * growth)
            } else {
                next_log_rate.exp()
            };
            (time_s, log_rate) = (next_s, next_log_rate);
        }
        dose_s
    }
}

/// Exponents below which [`growth`] is its series: exact there to 3e-14, and quicker than an exponential.
const SMALL: f64 = 0.1;

/// (eˣ − 1)/x.
fn growth(x: f64) -> f64 {
    if x.abs() < SMALL {
        let terms = [8.0, 7.0, 6.0, 5.0, 4.0, 3.0, 2.0];
        terms.into_iter().fold(1.0, |sum, n| 1.0 + x / n * sum)
    } else {
        x.exp_m1() / x
    }
}

/// A straight change of temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ramp {
    pub start_k: f64,
    pub end_k: f64,
    pub duration_s: f64,
}

/// The activation energy (J/mol) with which the rate doubles between two temperatures; `None` unless the
/// second is the higher and both are above zero.
pub fn activation_energy_of_doubling_j_per_mol(lower_k: f64, higher_k: f64) -> Option<f64> {
    (lower_k > 0.0 && higher_k > lower_k && higher_k.is_finite()).then(|| {
        GAS_CONSTANT_J_PER_MOL_K * std::f64::consts::LN_2 / (1.0 / lower_k - 1.0 / higher_k)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_steady_temperature_doses_in_proportion_to_time() {
        let law = AgeingLaw::trade_rule();
        let hot_k = (215.0 + 459.67) / 1.8;
        let ramp = Ramp { start_k: hot_k, end_k: hot_k, duration_s: 60.0 };
        assert!((law.ramp_dose_s(ramp) - 240.0).abs() < 1e-9);
        assert_eq!(law.dose_s([].into_iter()), 0.0);
        assert_eq!(law.dose_s([(5.0, 400.0)].into_iter()), 0.0);
    }

    #[test]
    fn cutting_a_ramp_changes_nothing_under_the_doubling_rule() {
        let law = AgeingLaw::Doubling { reference_k: 353.15, doubling_delta_k: 10.0 };
        // Some of these ramps are so short that the series counts, some so long that the difference does.
        let points = [0.0, 0.1, 1.0, 77.0, 77.001, 300.0, 599.0, 600.0]
            .map(|time_s| (time_s, 353.15 + 70.0 * time_s / 600.0));
        let whole = law.ramp_dose_s(Ramp { start_k: 353.15, end_k: 423.15, duration_s: 600.0 });
        assert!((law.dose_s(points.into_iter()) / whole - 1.0).abs() < 1e-13);
    }

    #[test]
    fn arrhenius_ramps_of_ten_kelvin_are_low_by_less_than_a_hundredth() {
        let law = AgeingLaw::Arrhenius { reference_k: 373.15, activation_energy_j_per_mol: 90e3 };
        for start_k in [300.0, 350.0, 400.0, 450.0] {
            let ramp = Ramp { start_k, end_k: start_k + 10.0, duration_s: 1.0 };
            // Simpson's rule with many steps
            let steps = 1000;
            let quadrature: f64 = (0..=steps)
                .map(|index| {
                    let weight = match index {
                        0 => 1.0,
                        _ if index == steps => 1.0,
                        _ if index % 2 == 1 => 4.0,
                        _ => 2.0,
                    };
                    let share = f64::from(index) / f64::from(steps);
                    weight * law.rate(start_k + 10.0 * share) / (3.0 * f64::from(steps))
                })
                .sum();
            let off = law.ramp_dose_s(ramp) / quadrature - 1.0;
            assert!(off < 0.0 && off > -0.01, "{off}");
            let halves = [start_k, start_k + 5.0]
                .map(|from| Ramp { start_k: from, end_k: from + 5.0, duration_s: 0.5 })
                .map(|half| law.ramp_dose_s(half));
            let off_halves = (halves[0] + halves[1]) / quadrature - 1.0;
            assert!((off / off_halves - 4.0).abs() < 0.2, "{off} {off_halves}");
        }
    }

    #[test]
    fn rates_stay_finite() {
        for law in [
            AgeingLaw::trade_rule(),
            AgeingLaw::Arrhenius { reference_k: 373.15, activation_energy_j_per_mol: 200e3 },
        ] {
            for temperature_k in [0.0, 1.0, 300.0, 1e4, 1e9] {
                assert!(law.rate(temperature_k).is_finite());
            }
        }
        assert!(activation_energy_of_doubling_j_per_mol(380.0, 370.0).is_none());
        assert!(activation_energy_of_doubling_j_per_mol(0.0, 370.0).is_none());
    }
}
