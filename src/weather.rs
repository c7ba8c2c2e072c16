//! Weather: pressure and altitude, humid air, density altitude, and what engines lose by it.
//!
//! **Concept.** Three readings at the track (pressure, temperature, humidity) give the density of the air,
//! which drags on the car, and the dry pressure, which feeds the engine.
//!
//! **Equations.**
//! - standard atmosphere [1], geopotential altitude H up to 11 km: `T = T₀ − L·H`, `p = p₀·(T/T₀)^(g₀/(R·L))`;
//!   from geometric altitude z: `H = r·z/(r + z)`, r = 6 356 766 m
//! - saturation pressure of water [2], over water and below the triple point over ice:
//!   `ln p = c₁/T + c₂ + c₃T + c₄T² + c₅T³ (+ c₆T⁴) + c₇·ln T`
//! - in air a little more than over pure water [3]: `p_w = φ·(1.0007 + 3.46e-8·p)·p_sat`, p in Pa
//! - density, ideal mixture: `ρ = (p − p_w)/(R_d·T) + p_w/(R_w·T)`
//! - density altitude, geopotential: `H = (T₀/L)·(1 − (ρ/ρ₀)^(1/(g₀/(R·L) − 1)))`
//! - power correction, p_d = p − p_w, t in °C: SAE J1349 of 1990 [4]
//!   `cf = 1.180·(990 hPa/p_d)·√((t + 273)/298) − 0.180`; exponent form of ISO 1585 [5]
//!   `cf = (990 hPa/p_d)^1.2·((t + 273)/298)^0.6`. Power observed times cf is power on the standard day; power on
//!   the day is standard power over cf.
//!
//! **Assumptions.** Pressure is the absolute pressure at the track ("station pressure"), not one reduced to
//! sea level; [`station_pressure_pa`] undoes that reduction. Ideal gases.
//!
//! **Valid range.** −40 °C to 60 °C, 50 kPa to 110 kPa; altitudes −1 km to 11 km. The standards limit their
//! corrections to cf from 0.93 to 1.07; beyond that they are extrapolation, and stay finite.
//!
//! **How good.** Density and vapour pressure within 0.1 % of real moist air (ASHRAE RP-1485) from 15 °C to 35 °C.
//! The two corrections differ by 0.15 % at cf 1.07 and by more beyond.
//!
//! **Sources.** [1] ISO 2533; *U.S. Standard Atmosphere*, 1976. [2] R. W. Hyland and A. Wexler, ASHRAE Trans.
//! 89(2A) (1983) 500, as in the ASHRAE *Handbook, Fundamentals*. [3] A. L. Buck, J. Appl. Meteorol. 20 (1981)
//! 1527. [4] SAE J1349 (June 1990), from a secondary quotation. [5] ISO 1585 for spark ignition, from memory.
//!
//! **Not here.** Supercharged engines, which the corrections do not describe; wind; what a change of density
//! does to elapsed time.

use crate::air::GAS_CONSTANT_J_PER_KG_K;

/// Specific gas constant of water vapour, J/(kg·K).
pub const VAPOUR_GAS_CONSTANT_J_PER_KG_K: f64 = 461.5;
/// Standard gravity, m/s².
pub const STANDARD_GRAVITY_M_PER_S2: f64 = 9.806_65;
/// Pressure, temperature and density at sea level of the standard atmosphere.
pub const STANDARD_PRESSURE_PA: f64 = 101_325.0;
pub const STANDARD_TEMPERATURE_K: f64 = 288.15;
pub const STANDARD_DENSITY_KG_PER_M3: f64 = 1.225;

/// Fall of temperature with geopotential altitude, K/m.
const LAPSE_K_PER_M: f64 = 6.5e-3;
/// g₀/(R·L) with the standard's own R = 287.05287.
const PRESSURE_EXPONENT: f64 = STANDARD_GRAVITY_M_PER_S2 / (287.052_87 * LAPSE_K_PER_M);
/// Below this ice is what vapour settles on; the two formulas meet here.
const TRIPLE_POINT_K: f64 = 273.16;
/// Nominal radius of the Earth of the standard.
const EARTH_RADIUS_M: f64 = 6_356_766.0;
/// Geopotential altitudes are kept within these, where the formula holds.
const ALTITUDE_RANGE_M: (f64, f64) = (-5e3, 11e3);

/// Geopotential altitude, which the formulas use, from the geometric one, which maps give.
pub fn geopotential_altitude_m(geometric_altitude_m: f64) -> f64 {
    EARTH_RADIUS_M * geometric_altitude_m / (EARTH_RADIUS_M + geometric_altitude_m)
}

/// Temperature of the standard atmosphere at a geopotential altitude.
pub fn standard_temperature_k(geopotential_altitude_m: f64) -> f64 {
    let altitude_m = geopotential_altitude_m.clamp(ALTITUDE_RANGE_M.0, ALTITUDE_RANGE_M.1);
    STANDARD_TEMPERATURE_K - LAPSE_K_PER_M * altitude_m
}

/// Pressure of the standard atmosphere at a geopotential altitude.
pub fn standard_pressure_pa(geopotential_altitude_m: f64) -> f64 {
    let ratio = standard_temperature_k(geopotential_altitude_m) / STANDARD_TEMPERATURE_K;
    STANDARD_PRESSURE_PA * ratio.powf(PRESSURE_EXPONENT)
}

/// Geopotential altitude at which the standard atmosphere has this pressure ("pressure altitude").
pub fn pressure_altitude_m(pressure_pa: f64) -> f64 {
    let ratio = (pressure_pa / STANDARD_PRESSURE_PA).max(0.0);
    STANDARD_TEMPERATURE_K / LAPSE_K_PER_M * (1.0 - ratio.powf(1.0 / PRESSURE_EXPONENT))
}

/// Absolute pressure at a place from the altimeter setting that weather services announce, which is
/// reduced to sea level by the standard atmosphere; altitude is that of the place, geopotential.
pub fn station_pressure_pa(altimeter_setting_pa: f64, geopotential_altitude_m: f64) -> f64 {
    standard_pressure_pa(pressure_altitude_m(altimeter_setting_pa) + geopotential_altitude_m)
}

/// Saturation pressure of pure water, below the triple point of ice. Kept within −100 °C to 200 °C.
pub fn saturation_pressure_pa(temperature_k: f64) -> f64 {
    let t = temperature_k.clamp(173.15, 473.15);
    let logarithm = if t < TRIPLE_POINT_K {
        -5.674_535_9e3 / t
            + 6.392_524_7
            + t * (-9.677_843e-3 + t * (6.221_570_1e-7 + t * (2.074_782_5e-9 - 9.484_024e-13 * t)))
            + 4.163_501_9 * t.ln()
    } else {
        -5.800_220_6e3 / t
            + 1.391_499_3
            + t * (-4.864_023_9e-2 + t * (4.176_476_8e-5 - 1.445_209_3e-8 * t))
            + 6.545_967_3 * t.ln()
    };
    logarithm.exp()
}

/// What was read at the track.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weather {
    /// Absolute pressure at the place.
    pub pressure_pa: f64,
    pub temperature_k: f64,
    /// 0 to 1.
    pub relative_humidity: f64,
}

impl Weather {
    /// The reference conditions of both power corrections: 25 °C, dry pressure 990 hPa.
    pub fn engine_reference() -> Weather {
        Weather { pressure_pa: 99_000.0, temperature_k: 298.15, relative_humidity: 0.0 }
    }

    /// Partial pressure of water vapour; never more than half of the whole, which only absurd input reaches.
    pub fn vapour_pressure_pa(&self) -> f64 {
        let enhancement = 1.0007 + 3.46e-8 * self.pressure_pa;
        let vapour_pa = self.relative_humidity.clamp(0.0, 1.0)
            * enhancement
            * saturation_pressure_pa(self.temperature_k);
        vapour_pa.min(0.5 * self.pressure_pa)
    }

    /// Partial pressure of dry air.
    pub fn dry_pressure_pa(&self) -> f64 {
        self.pressure_pa - self.vapour_pressure_pa()
    }

    /// Density of the humid air.
    pub fn density_kg_per_m3(&self) -> f64 {
        (self.dry_pressure_pa() / GAS_CONSTANT_J_PER_KG_K
            + self.vapour_pressure_pa() / VAPOUR_GAS_CONSTANT_J_PER_KG_K)
            / self.temperature_k
    }

    /// Mass of water per mass of dry air.
    pub fn humidity_ratio(&self) -> f64 {
        self.vapour_pressure_pa() * GAS_CONSTANT_J_PER_KG_K
            / (self.dry_pressure_pa() * VAPOUR_GAS_CONSTANT_J_PER_KG_K)
    }

    /// Geopotential altitude at which the standard atmosphere is as thin as this air.
    pub fn density_altitude_m(&self) -> f64 {
        let ratio = self.density_kg_per_m3() / STANDARD_DENSITY_KG_PER_M3;
        STANDARD_TEMPERATURE_K / LAPSE_K_PER_M * (1.0 - ratio.powf(1.0 / (PRESSURE_EXPONENT - 1.0)))
    }

    /// Dynamic pressure ρv²/2: drag is this times the drag area.
    pub fn dynamic_pressure_pa(&self, speed_m_per_s: f64) -> f64 {
        0.5 * self.density_kg_per_m3() * speed_m_per_s * speed_m_per_s
    }

    /// Power correction of SAE J1349 in the form of 1990, which takes 85 % mechanical efficiency.
    pub fn sae_j1349_1990_factor(&self) -> f64 {
        1.180 * (99_000.0 / self.dry_pressure_pa()) * self.correction_temperature_ratio().sqrt()
            - 0.180
    }

    /// Power correction in the exponent form of ISO 1585 (spark ignition, no supercharger).
    pub fn iso_1585_factor(&self) -> f64 {
        (99_000.0 / self.dry_pressure_pa()).powf(1.2)
            * self.correction_temperature_ratio().powf(0.6)
    }

    /// (t + 273)/298: both corrections round 0 °C to 273 K, so that they are exactly 1 at 25 °C.
    fn correction_temperature_ratio(&self) -> f64 {
        ((self.temperature_k - 0.15) / 298.0).max(0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn altitude_and_pressure_are_inverse_and_a_setting_of_the_standard_day_changes_nothing() {
        for altitude_m in [-400.0, 0.0, 275.0, 1655.0, 3000.0, 10_999.0] {
            let pressure_pa = standard_pressure_pa(altitude_m);
            assert!((pressure_altitude_m(pressure_pa) - altitude_m).abs() < 1e-8);
            let station_pa = station_pressure_pa(STANDARD_PRESSURE_PA, altitude_m);
            assert!((station_pa / pressure_pa - 1.0).abs() < 1e-13);
        }
        assert!((station_pressure_pa(102_000.0, 0.0) - 102_000.0).abs() < 1e-8);
    }

    #[test]
    fn the_two_saturation_curves_meet_at_the_triple_point_and_rise() {
        let ice = saturation_pressure_pa(TRIPLE_POINT_K - 1e-9);
        let water = saturation_pressure_pa(TRIPLE_POINT_K);
        assert!((ice / water - 1.0).abs() < 1e-6, "{ice} {water}");
        let mut last = 0.0;
        for celsius in -100..=200 {
            let here = saturation_pressure_pa(273.15 + f64::from(celsius));
            assert!(here > last);
            last = here;
        }
    }

    #[test]
    fn humid_air_is_lighter_and_absurd_input_stays_finite() {
        let dry = Weather { pressure_pa: 98e3, temperature_k: 305.0, relative_humidity: 0.0 };
        let humid = Weather { relative_humidity: 0.8, ..dry };
        assert!(humid.density_kg_per_m3() < dry.density_kg_per_m3());
        assert!(humid.density_altitude_m() > dry.density_altitude_m());
        assert!(humid.sae_j1349_1990_factor() > dry.sae_j1349_1990_factor());
        let absurd = Weather { pressure_pa: 20e3, temperature_k: 400.0, relative_humidity: 7.0 };
        for value in [
            absurd.density_kg_per_m3(),
            absurd.humidity_ratio(),
            absurd.density_altitude_m(),
            absurd.sae_j1349_1990_factor(),
            absurd.iso_1585_factor(),
        ] {
            assert!(value.is_finite() && value > 0.0);
        }
    }
}
