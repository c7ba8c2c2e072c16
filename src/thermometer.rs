//! What an infrared thermometer shows of a surface, and what the surface has.
//!
//! The detector sees what the surface radiates and what the surroundings radiate onto it and it throws back. The
//! instrument takes the surface for one of the emissivity that it is set to, in surroundings that it knows:
//!
//! `ε·S(T) + (1 − ε)·S(T_r) = ε_set·S(T_shown) + (1 − ε_set)·S(T_r)`
//!
//! with ε the surface's emissivity in the band, ε_set the instrument's setting, T_r the temperature of what the surface
//! mirrors, and S(T) what a black body radiates between 8 and 14 µm, the band of handheld instruments: Planck's law,
//! integrated by its series (Chang & Rhee 1984; from memory). Between 295 and 500 K it grows as T to the power 4.6
//! down to 3.0, so that the fourth power of all radiation would be wrong at both ends.
//!
//! Assumes a grey, opaque, diffuse surface in surroundings of one temperature, and a spot that fills the instrument's
//! view. Valid for 200 to 1 000 K. Leaves out the air between, and windows.

use crate::root::rising_root;

/// Edges of the band (m).
const BAND_M: (f64, f64) = (8e-6, 14e-6);
/// Second radiation constant h·c/k (m K), CODATA 2018.
const SECOND_RADIATION_M_K: f64 = 1.438_776_877e-2;
/// Stefan–Boltzmann constant (W/m²K⁴), CODATA 2018.
const STEFAN_BOLTZMANN: f64 = 5.670_374_419e-8;
/// Temperatures between which one is sought (K).
const RANGE_K: (f64, f64) = (150.0, 1_500.0);

/// What most instruments are set to, many of them for good; common practice, no source.
pub const USUAL_SETTING: f64 = 0.95;

/// One look at a surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Look {
    /// Emissivity of the surface, above 0 to 1.
    pub emissivity: f64,
    /// Emissivity that the instrument is set to, above 0 to 1.
    pub setting: f64,
    /// Temperature of what the surface mirrors (K): walls, an engine beside it.
    pub surroundings_k: f64,
}

impl Look {
    /// What the instrument shows (K) of a surface that has `true_k`.
    pub fn shown_k(&self, true_k: f64) -> f64 {
        let mirrored = self.setting - self.emissivity;
        let seen =
            self.emissivity * band_w_per_m2(true_k) + mirrored * band_w_per_m2(self.surroundings_k);
        temperature_k(seen / self.setting)
    }

    /// What the surface has (K) when the instrument shows `shown_k`; the lowest temperature of the range where
    /// less is seen than the surroundings alone would send.
    pub fn true_k(&self, shown_k: f64) -> f64 {
        let mirrored = self.setting - self.emissivity;
        let own =
            self.setting * band_w_per_m2(shown_k) - mirrored * band_w_per_m2(self.surroundings_k);
        temperature_k(own / self.emissivity)
    }
}

/// Share of a black body's radiation at wavelengths below `wavelength_m`, by the temperature (K).
pub fn black_body_share(wavelength_m: f64, temperature_k: f64) -> f64 {
    let x = SECOND_RADIATION_M_K / (wavelength_m * temperature_k);
    let mut sum = 0.0;
    for n in 1..=200 {
        let n = f64::from(n);
        let power = (-n * x).exp();
        let added = power * (x.powi(3) + 3.0 * x * x / n + 6.0 * x / (n * n) + 6.0 / n.powi(3)) / n;
        sum += added;
        if added < 1e-15 * sum {
            break;
        }
    }
    15.0 / std::f64::consts::PI.powi(4) * sum
}

/// What a black body radiates in the band (W/m²).
pub fn band_w_per_m2(temperature_k: f64) -> f64 {
    let (from_m, to_m) = BAND_M;
    let share = black_body_share(to_m, temperature_k) - black_body_share(from_m, temperature_k);
    STEFAN_BOLTZMANN * temperature_k.powi(4) * share
}

/// The temperature (K) at which a black body radiates so much in the band.
fn temperature_k(w_per_m2: f64) -> f64 {
    // Of the logarithm, which is nearly straight against the reciprocal temperature.
    let wanted = w_per_m2.max(f64::MIN_POSITIVE).ln();
    rising_root(RANGE_K.0, RANGE_K.1, 1e-7, |t| band_w_per_m2(t).ln() - wanted)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Fractions of black-body radiation below λT, as every textbook of heat transfer tables them (Incropera & DeWitt,
    /// Fundamentals of Heat and Mass Transfer, table 12.1; from memory). To 1e-4: tables of different books differ in the
    /// fifth decimal, and the sum over Planck's law below holds to 1e-6.
    #[test]
    fn shares_are_those_of_the_handbook_table() {
        for (micrometre_kelvin, share) in [
            (1_000.0, 0.000321),
            (2_000.0, 0.066728),
            (2_898.0, 0.250108),
            (4_000.0, 0.480877),
            (6_000.0, 0.737818),
            (10_000.0, 0.914199),
            (20_000.0, 0.985602),
        ] {
            let found = black_body_share(micrometre_kelvin * 1e-6 / 300.0, 300.0);
            assert!(
                (found - share).abs() < 1e-4,
                "{micrometre_kelvin}: {found} instead of {share}"
            );
        }
    }

    /// The band radiation by a sum of Planck's law itself over 6 000 slices.
    #[test]
    fn the_band_is_planck_s_law_integrated() {
        let first = 2.0 * std::f64::consts::PI * 6.626_070_15e-34 * 299_792_458.0_f64.powi(2);
        for temperature_k in [250.0, 300.0, 366.5, 422.0, 533.0, 800.0] {
            let slices = 6_000;
            let width = (BAND_M.1 - BAND_M.0) / f64::from(slices);
            let sum: f64 = (0..slices)
                .map(|i| BAND_M.0 + (f64::from(i) + 0.5) * width)
                .map(|l| {
                    let exponent = SECOND_RADIATION_M_K / (l * temperature_k);
                    first / l.powi(5) / exponent.exp_m1() * width
                })
                .sum();
            let found = band_w_per_m2(temperature_k);
            assert!((found / sum - 1.0).abs() < 1e-6, "{temperature_k} K: {found}, {sum}");
        }
    }

    #[test]
    fn what_is_shown_leads_back_to_what_is_there() {
        for emissivity in [0.08, 0.3, 0.6, 0.95, 1.0] {
            for true_k in [280.0, 320.0, 400.0, 480.0] {
                let look = Look { emissivity, setting: 0.95, surroundings_k: 296.0 };
                let back_k = look.true_k(look.shown_k(true_k));
                assert!((back_k - true_k).abs() < 1e-4, "{emissivity}, {true_k}: {back_k}");
            }
        }
    }

    /// Common practice, no source: an instrument set to 0.95 reads bare aluminium far too low, painted metal about right,
    /// and anything right that is as warm as its surroundings.
    #[test]
    fn bare_metal_reads_low() {
        let shown_f = |emissivity: f64, true_f: f64| {
            let look = Look { emissivity, setting: 0.95, surroundings_k: 295.0 };
            look.shown_k((true_f + 459.67) / 1.8) * 1.8 - 459.67
        };
        assert!(shown_f(0.1, 250.0) < 110.0, "{}", shown_f(0.1, 250.0));
        assert!((shown_f(0.93, 250.0) - 250.0).abs() < 4.0);
        assert!((shown_f(0.1, 295.0 * 1.8 - 459.67) - (295.0 * 1.8 - 459.67)).abs() < 0.01);
    }
}
