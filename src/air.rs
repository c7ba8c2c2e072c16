//! Dry air as a coolant: the properties that convection correlations ask for.
//!
//! **Equations.** Ideal gas `ρ = p/(R·T)`, R = 287.053 J/(kg·K); viscosity by Sutherland's formula
//! `μ = 1.458e-6·T^1.5/(T + 110.4)` Pa·s; conductivity
//! `k = 2.64638e-3·T^1.5/(T + 245.4·10^(−12/T))` W/(m·K), both as in the *U.S. Standard Atmosphere* [1];
//! cp = 1006 J/(kg·K).
//!
//! **Assumptions.** Dry, ideal, constant specific heat (true value 0.8 % higher at 400 K).
//!
//! **Valid range.** 200 K to 500 K, 50 kPa to 110 kPa; against a textbook table [2] within 2 % from
//! 300 K to 400 K. Finite for any temperature: below 50 K the formulas are held.
//!
//! **Sources.** [1] NOAA/NASA/USAF, *U.S. Standard Atmosphere*, 1976. [2] Bergman et al., *Fundamentals
//! of Heat and Mass Transfer*, Table A.4.
//!
//! **Not here.** Humidity, the weather and what it does to engine power, altitude.

/// Specific gas constant of dry air, J/(kg·K) [1].
pub const GAS_CONSTANT_J_PER_KG_K: f64 = 287.053;
/// Specific heat at constant pressure, J/(kg·K).
pub const SPECIFIC_HEAT_J_PER_KG_K: f64 = 1006.0;

/// Properties of dry air at one temperature and pressure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AirProperties {
    pub density_kg_per_m3: f64,
    pub dynamic_viscosity_pa_s: f64,
    pub kinematic_viscosity_m2_per_s: f64,
    pub conductivity_w_per_m_k: f64,
    pub thermal_diffusivity_m2_per_s: f64,
    pub prandtl: f64,
}

/// Properties at `temperature_k` and `pressure_pa`.
pub fn air_properties(temperature_k: f64, pressure_pa: f64) -> AirProperties {
    let temperature_k = temperature_k.max(50.0);
    let density_kg_per_m3 = pressure_pa.max(1.0) / (GAS_CONSTANT_J_PER_KG_K * temperature_k);
    let power = temperature_k * temperature_k.sqrt();
    let dynamic_viscosity_pa_s = 1.458e-6 * power / (temperature_k + 110.4);
    let conductivity_w_per_m_k =
        2.646_38e-3 * power / (temperature_k + 245.4 * 10f64.powf(-12.0 / temperature_k));
    let kinematic_viscosity_m2_per_s = dynamic_viscosity_pa_s / density_kg_per_m3;
    let thermal_diffusivity_m2_per_s =
        conductivity_w_per_m_k / (density_kg_per_m3 * SPECIFIC_HEAT_J_PER_KG_K);
    AirProperties {
        density_kg_per_m3,
        dynamic_viscosity_pa_s,
        kinematic_viscosity_m2_per_s,
        conductivity_w_per_m_k,
        thermal_diffusivity_m2_per_s,
        prandtl: kinematic_viscosity_m2_per_s / thermal_diffusivity_m2_per_s,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sea_level_of_the_standard_atmosphere() {
        // U.S. Standard Atmosphere 1976: 1.2250 kg/m³, 1.7894e-5 Pa·s, 0.025326 W/(m·K) at 288.15 K
        let air = air_properties(288.15, 101_325.0);
        assert!((air.density_kg_per_m3 - 1.2250).abs() < 1e-4);
        assert!((air.dynamic_viscosity_pa_s - 1.7894e-5).abs() < 1e-9);
        assert!((air.conductivity_w_per_m_k - 0.025326).abs() < 1e-5);
    }

    #[test]
    fn finite_and_positive_at_any_temperature() {
        for temperature_k in [0.0, 1.0, 100.0, 300.0, 1500.0] {
            let air = air_properties(temperature_k, 100_000.0);
            assert!(air.prandtl.is_finite() && air.prandtl > 0.0);
            assert!(air.kinematic_viscosity_m2_per_s.is_finite());
        }
    }
}
