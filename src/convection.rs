//! Heat from a surface to air and surroundings: free and forced convection, and radiation.
//!
//! **Concept.** A published correlation gives the Nusselt number Nu = h·L/k from the Rayleigh or
//! Reynolds number and the Prandtl number; the coefficient h follows. Heat is then h·A·(T − T_air).
//!
//! **Equations.** Stated at each function; numbers such as (9.26) are those of [1].
//!
//! **Assumptions.** Isolated smooth isothermal surfaces in quiet or uniformly moving air; properties at
//! the film temperature (mean of surface and air); grey surfaces that see only surroundings of one
//! temperature.
//!
//! **Valid range.** Stated at each function. The arithmetic is exact, nature is not: these correlations
//! agree with experiment within 15 % to 25 %.
//!
//! **Sources.** [1] Bergman, Lavine, Incropera, DeWitt, *Fundamentals of Heat and Mass Transfer*,
//! chapters 7 and 9. [2] S. W. Churchill and H. H. S. Chu, Int. J. Heat Mass Transfer 18 (1975) 1049 and
//! 1323. [3] S. W. Churchill and M. Bernstein, J. Heat Transfer 99 (1977) 300. [4] CODATA 2018.
//!
//! **Not here.** Fins, enclosures, the blockage of an engine bay, rotating discs, solar radiation.

use crate::air::air_properties;

/// Stefan–Boltzmann constant, W/(m²·K⁴) [4].
pub const STEFAN_BOLTZMANN: f64 = 5.670_374_419e-8;
/// Gravity as the textbook examples take it, m/s².
pub const GRAVITY_M_PER_S2: f64 = 9.81;

/// What drives free convection at a surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Buoyancy {
    /// Volumetric expansion, 1/T_film for an ideal gas.
    pub expansion_per_k: f64,
    /// Difference between surface and fluid; its sign is of no account.
    pub difference_k: f64,
    /// Height of a plate, diameter of a cylinder, area over perimeter or half width of a horizontal plate.
    pub length_m: f64,
    pub kinematic_viscosity_m2_per_s: f64,
    pub thermal_diffusivity_m2_per_s: f64,
}

/// Rayleigh number `Ra = g·β·|ΔT|·L³/(ν·α)` (9.25).
pub fn rayleigh_number(buoyancy: &Buoyancy) -> f64 {
    GRAVITY_M_PER_S2
        * buoyancy.expansion_per_k
        * buoyancy.difference_k.abs()
        * buoyancy.length_m.powi(3)
        / (buoyancy.kinematic_viscosity_m2_per_s * buoyancy.thermal_diffusivity_m2_per_s)
}

/// Vertical plate, laminar and turbulent, any Ra (9.26) [2]:
/// `Nu = {0.825 + 0.387·Ra^(1/6)/[1 + (0.492/Pr)^(9/16)]^(8/27)}²`.
pub fn nusselt_free_vertical_plate(rayleigh: f64, prandtl: f64) -> f64 {
    let shape = (1.0 + (0.492 / prandtl).powf(9.0 / 16.0)).powf(8.0 / 27.0);
    (0.825 + 0.387 * rayleigh.max(0.0).powf(1.0 / 6.0) / shape).powi(2)
}

/// Vertical plate, laminar only, a little more accurate for Ra ≤ 1e9 (9.27) [2]:
/// `Nu = 0.68 + 0.670·Ra^(1/4)/[1 + (0.492/Pr)^(9/16)]^(4/9)`.
pub fn nusselt_free_vertical_plate_laminar(rayleigh: f64, prandtl: f64) -> f64 {
    let shape = (1.0 + (0.492 / prandtl).powf(9.0 / 16.0)).powf(4.0 / 9.0);
    0.68 + 0.670 * rayleigh.max(0.0).powf(0.25) / shape
}

/// Long horizontal cylinder, Ra ≤ 1e12 on the diameter (9.34) [2]:
/// `Nu = {0.60 + 0.387·Ra^(1/6)/[1 + (0.559/Pr)^(9/16)]^(8/27)}²`.
pub fn nusselt_free_horizontal_cylinder(rayleigh: f64, prandtl: f64) -> f64 {
    let shape = (1.0 + (0.559 / prandtl).powf(9.0 / 16.0)).powf(8.0 / 27.0);
    (0.60 + 0.387 * rayleigh.max(0.0).powf(1.0 / 6.0) / shape).powi(2)
}

/// Of a number of zero or more, within a unit or two of the last digit: the exact one is slow where there is no fused
/// multiplication, as in a browser, and larger than all else here.
fn cube_root(value: f64) -> f64 {
    value.powf(1.0 / 3.0)
}

/// Hot horizontal plate facing up, or cold facing down: `0.54·Ra^(1/4)` for 1e4 ≤ Ra < 1e7 (9.30),
/// `0.15·Ra^(1/3)` for 1e7 ≤ Ra ≤ 1e11 (9.31). The two published branches differ by 6 % where they meet,
/// so this is not a continuous function of temperature.
pub fn nusselt_free_plate_hot_up(rayleigh: f64) -> f64 {
    let rayleigh = rayleigh.max(0.0);
    if rayleigh < 1e7 { 0.54 * rayleigh.powf(0.25) } else { 0.15 * cube_root(rayleigh) }
}

/// Hot horizontal plate facing down, or cold facing up: `0.27·Ra^(1/4)`, 1e5 ≤ Ra ≤ 1e10 (9.32 of the
/// sixth edition, as used in Example 9.3).
pub fn nusselt_free_plate_hot_down(rayleigh: f64) -> f64 {
    0.27 * rayleigh.max(0.0).powf(0.25)
}

/// Cylinder in cross flow, Re·Pr ≥ 0.2 (7.54) [3]:
/// `Nu = 0.3 + 0.62·Re^½·Pr^⅓/[1 + (0.4/Pr)^(2/3)]^¼·[1 + (Re/282000)^(5/8)]^(4/5)`.
/// Below that range it runs into its constant, 0.3.
pub fn nusselt_cross_flow_cylinder(reynolds: f64, prandtl: f64) -> f64 {
    let reynolds = reynolds.max(0.0);
    let shape = (1.0 + (0.4 / prandtl).powf(2.0 / 3.0)).powf(0.25);
    let turbulence = (1.0 + (reynolds / 282_000.0).powf(0.625)).powf(0.8);
    0.3 + 0.62 * reynolds.sqrt() * cube_root(prandtl) / shape * turbulence
}

/// Average over a flat plate along the flow: laminar `0.664·Re^½·Pr^⅓` (7.30) up to Re = 5e5, beyond it
/// laminar then turbulent `(0.037·Re^(4/5) − 871)·Pr^⅓` (7.38), Re ≤ 1e8, Pr ≥ 0.6.
pub fn nusselt_flat_plate(reynolds: f64, prandtl: f64) -> f64 {
    let reynolds = reynolds.max(0.0);
    let factor =
        if reynolds <= 5e5 { 0.664 * reynolds.sqrt() } else { 0.037 * reynolds.powf(0.8) - 871.0 };
    factor * cube_root(prandtl)
}

/// Free and forced convection together on a cylinder in transverse flow: `(Nu_free^n + Nu_forced^n)^(1/n)`
/// (9.64) with n = 4, which [1] names for cylinders (3 is usual for vertical plates).
pub fn combined_nusselt(free: f64, forced: f64) -> f64 {
    let (free, forced) = (free.max(0.0), forced.max(0.0));
    (free.powi(4) + forced.powi(4)).sqrt().sqrt()
}

/// Mean coefficient h, W/(m²·K), of a horizontal cylinder in air that may move across it.
///
/// Properties at the film temperature; free ([`nusselt_free_horizontal_cylinder`]) and forced
/// ([`nusselt_cross_flow_cylinder`]) joined by [`combined_nusselt`]. Without speed and without a
/// temperature difference Nu is the constant left by the two correlations, 0.40: near pure conduction.
/// Depends on the size, not the sign, of speed and temperature difference (surface and air may change
/// places). Valid for Ra ≤ 1e12 and Re·Pr ≥ 0.2 or zero; finite everywhere.
pub fn cylinder_convection_w_per_m2_k(
    surface_k: f64,
    air_k: f64,
    air_speed_m_per_s: f64,
    diameter_m: f64,
    pressure_pa: f64,
) -> f64 {
    let film_k = (0.5 * (surface_k + air_k)).max(50.0);
    let air = air_properties(film_k, pressure_pa);
    let rayleigh = rayleigh_number(&Buoyancy {
        expansion_per_k: 1.0 / film_k,
        difference_k: surface_k - air_k,
        length_m: diameter_m,
        kinematic_viscosity_m2_per_s: air.kinematic_viscosity_m2_per_s,
        thermal_diffusivity_m2_per_s: air.thermal_diffusivity_m2_per_s,
    });
    let reynolds = air_speed_m_per_s.abs() * diameter_m / air.kinematic_viscosity_m2_per_s;
    let nusselt = combined_nusselt(
        nusselt_free_horizontal_cylinder(rayleigh, air.prandtl),
        nusselt_cross_flow_cylinder(reynolds, air.prandtl),
    );
    nusselt * air.conductivity_w_per_m_k / diameter_m
}

/// Net radiation from a small grey surface to large surroundings: `ε·σ·A·(T⁴ − T_sur⁴)`, W (1.7).
pub fn radiation_w(emissivity: f64, area_m2: f64, surface_k: f64, surroundings_k: f64) -> f64 {
    area_m2
        * radiation_coefficient_w_per_m2_k(emissivity, surface_k, surroundings_k)
        * (surface_k - surroundings_k)
}

/// The coefficient with which radiation may be written like convection, without approximation:
/// `h_r = ε·σ·(T + T_sur)·(T² + T_sur²)` (1.9).
pub fn radiation_coefficient_w_per_m2_k(
    emissivity: f64,
    surface_k: f64,
    surroundings_k: f64,
) -> f64 {
    emissivity
        * STEFAN_BOLTZMANN
        * (surface_k + surroundings_k)
        * (surface_k * surface_k + surroundings_k * surroundings_k)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cylinder_coefficient_is_finite_symmetric_and_grows_with_speed() {
        let still = cylinder_convection_w_per_m2_k(300.0, 300.0, 0.0, 0.3, 101_325.0);
        let air = air_properties(300.0, 101_325.0);
        let conduction = (0.36f64.powi(4) + 0.3f64.powi(4)).powf(0.25);
        assert!((still * 0.3 / air.conductivity_w_per_m_k - conduction).abs() < 1e-12);
        let hot = cylinder_convection_w_per_m2_k(360.0, 300.0, 5.0, 0.3, 101_325.0);
        let cold = cylinder_convection_w_per_m2_k(300.0, 360.0, -5.0, 0.3, 101_325.0);
        assert!((hot - cold).abs() < 1e-12);
        let mut last = 0.0;
        for step in 0..400 {
            let speed_m_per_s = f64::from(step) * 0.2;
            let now = cylinder_convection_w_per_m2_k(360.0, 300.0, speed_m_per_s, 0.3, 101_325.0);
            assert!(now.is_finite() && now > last);
            last = now;
        }
    }

    #[test]
    fn one_mode_alone_is_left_when_the_other_is_absent() {
        assert!((combined_nusselt(7.0, 0.0) - 7.0).abs() < 1e-12);
        assert!((combined_nusselt(0.0, 7.0) - 7.0).abs() < 1e-12);
    }

    #[test]
    fn radiation_vanishes_between_equal_temperatures_and_changes_sign() {
        assert_eq!(radiation_w(0.9, 1.0, 300.0, 300.0), 0.0);
        assert_eq!(radiation_w(0.9, 1.0, 400.0, 300.0), -radiation_w(0.9, 1.0, 300.0, 400.0));
    }
}
