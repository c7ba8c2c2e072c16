//! Transmission fluid: properties against temperature from three numbers on its data sheet.
//!
//! **Concept.** A data sheet gives the kinematic viscosity at 40 °C and 100 °C and the density at 15 °C.
//! Everything the heat balance needs follows from them.
//!
//! **Equations.** With T in K and t in °C, d the relative density at 60 °F:
//! - viscosity, short Walther form [1]: `log10 log10(ν + 0.7) = A − B·log10 T`, ν in mm²/s
//! - density [2], lubricating oils: `α = 0.6278/ρ15`, `ρ = ρ15·exp[−αΔT(1 + 0.8αΔT)]`, ΔT = t − 15
//! - specific heat [3]: `cp = (1684.8 + 3.3913 t)/√d` J/(kg·K)
//! - specific enthalpy: the exact integral of cp from 0 °C, and its inverse, the root of a quadratic
//! - conductivity [3]: `k = (0.11726/d)(1 − 0.00054 t)` W/(m·K)
//!
//! **Assumptions.** Newtonian, single phase, at atmospheric pressure; no foam, no fresh-to-used drift.
//!
//! **Valid range.** [`PROPERTY_RANGE_K`], and viscosities above 2 mm²/s: the term that the short form
//! leaves out is 7.5e-4 mm²/s at 2 and below 1e-5 at 3 mm²/s. Between 40 °C and 100 °C the Walther line
//! interpolates, elsewhere it extrapolates; below 0 °C wax and viscosity improvers make real fluids
//! depart by tens of per cent. All functions stay finite and positive from 150 K to 1500 K, so that a
//! solver may try any temperature; outside the range the caller shows a warning.
//!
//! **How good.** Against the engine oil of a standard textbook table [4]: density within 0.8 % up to 420 K
//! (Table 54D itself ends at 150 °C), specific heat 0.7 % to 5 % low, conductivity 8 % to 11 % low
//! everywhere (two published sources disagree: take ±10 % on k), viscosity within 3 % from 300 K to 430 K.
//!
//! **Sources.** [1] ASTM D341; Walther 1931. [2] API MPMS 11.1 / ASTM D1250, Table 54D. [3] C. S. Cragoe,
//! *Thermal Properties of Petroleum Products*, NBS Misc. Pub. 97, 1929, brought to SI. [4] Bergman et al.,
//! *Fundamentals of Heat and Mass Transfer*, Table A.5.
//!
//! **Not here.** Viscosity index, shear thinning, oxidation, air entrainment, pressure dependence.

/// Temperatures between which the property formulas are taken as good: −20 °C to 180 °C.
pub const PROPERTY_RANGE_K: (f64, f64) = (253.15, 453.15);

/// 0 °C, the zero of specific enthalpy.
const ICE_POINT_K: f64 = 273.15;
/// 15 °C, where the data-sheet density holds.
const DENSITY_REFERENCE_K: f64 = 288.15;
/// 60 °F, where relative density is defined.
const SIXTY_FAHRENHEIT_K: f64 = 288.15 + 5.0 / 9.0;
/// Density of water at 60 °F (ASTM D1250).
const WATER_60F_KG_PER_M3: f64 = 999.016;
/// Cragoe's specific heat at 0 °C and d = 1, J/(kg·K), and its slope, J/(kg·K²).
const CRAGOE_HEAT: f64 = 1684.8;
const CRAGOE_HEAT_SLOPE: f64 = 3.3913;
/// Largest log10(ν + 0.7) that is ever returned: 1e10 mm²/s, a glass, far beyond any use.
const LOG_VISCOSITY_LIMIT: f64 = 10.0;

/// A fluid, made once from its data sheet; every method is a pure function of temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fluid {
    kv40_mm2_per_s: f64,
    kv100_mm2_per_s: f64,
    density15_kg_per_m3: f64,
    walther_a: f64,
    walther_b: f64,
    expansion_per_k: f64,
    relative_density: f64,
    relative_density_root: f64,
}

impl Fluid {
    /// Lays the Walther line through the two viscosities.
    ///
    /// Wants `kv40 > kv100 > 2` mm²/s and a density of 700 to 1000 kg/m³; the gate that reads the
    /// scenario checks this.
    pub fn new(kv40_mm2_per_s: f64, kv100_mm2_per_s: f64, density15_kg_per_m3: f64) -> Fluid {
        let (walther_a, walther_b) =
            walther_line((313.15, kv40_mm2_per_s), (373.15, kv100_mm2_per_s));
        let expansion_per_k = 0.6278 / density15_kg_per_m3;
        let relative_density = density15_kg_per_m3
            * volume_correction(expansion_per_k, SIXTY_FAHRENHEIT_K)
            / WATER_60F_KG_PER_M3;
        Fluid {
            kv40_mm2_per_s,
            kv100_mm2_per_s,
            density15_kg_per_m3,
            walther_a,
            walther_b,
            expansion_per_k,
            relative_density,
            relative_density_root: relative_density.sqrt(),
        }
    }

    /// Kinematic viscosity at 40 °C, as given.
    pub fn kv40_mm2_per_s(&self) -> f64 {
        self.kv40_mm2_per_s
    }

    /// Kinematic viscosity at 100 °C, as given.
    pub fn kv100_mm2_per_s(&self) -> f64 {
        self.kv100_mm2_per_s
    }

    /// Density at 15 °C, as given.
    pub fn density15_kg_per_m3(&self) -> f64 {
        self.density15_kg_per_m3
    }

    /// Density at 60 °F over that of water at 60 °F, the `d` of Cragoe's formulas.
    pub fn relative_density(&self) -> f64 {
        self.relative_density
    }

    /// Constants A and B of `log10 log10(ν + 0.7) = A − B·log10 T`.
    pub fn walther_constants(&self) -> (f64, f64) {
        (self.walther_a, self.walther_b)
    }

    /// Kinematic viscosity ν. Never below 0.3 (the form's own limit) nor above 1e10 mm²/s.
    pub fn kinematic_viscosity_mm2_per_s(&self, temperature_k: f64) -> f64 {
        walther_viscosity_mm2_per_s(self.walther_a, self.walther_b, temperature_k)
    }

    /// Density ρ by the volume correction of API Table 54D.
    pub fn density_kg_per_m3(&self, temperature_k: f64) -> f64 {
        self.density15_kg_per_m3 * volume_correction(self.expansion_per_k, temperature_k)
    }

    /// Dynamic viscosity μ = ν·ρ.
    pub fn dynamic_viscosity_pa_s(&self, temperature_k: f64) -> f64 {
        self.kinematic_viscosity_mm2_per_s(temperature_k)
            * 1e-6
            * self.density_kg_per_m3(temperature_k)
    }

    /// Specific heat cp, a straight line in temperature.
    pub fn specific_heat_j_per_kg_k(&self, temperature_k: f64) -> f64 {
        (CRAGOE_HEAT + CRAGOE_HEAT_SLOPE * (temperature_k - ICE_POINT_K))
            / self.relative_density_root
    }

    /// Specific enthalpy h above 0 °C: the exact integral of [`Fluid::specific_heat_j_per_kg_k`].
    pub fn specific_enthalpy_j_per_kg(&self, temperature_k: f64) -> f64 {
        let above_ice_k = temperature_k - ICE_POINT_K;
        above_ice_k * (CRAGOE_HEAT + 0.5 * CRAGOE_HEAT_SLOPE * above_ice_k)
            / self.relative_density_root
    }

    /// The temperature at which the fluid has the specific enthalpy `h`: the root of the quadratic,
    /// in the form without cancellation. Where no root exists (h below that of any positive absolute
    /// temperature) the vertex is returned, so the result is finite for every finite h; NaN stays NaN.
    pub fn temperature_from_enthalpy_k(&self, specific_enthalpy_j_per_kg: f64) -> f64 {
        let scaled = specific_enthalpy_j_per_kg * self.relative_density_root;
        let floor = -0.5 * CRAGOE_HEAT * CRAGOE_HEAT / CRAGOE_HEAT_SLOPE;
        let scaled = if scaled < floor { floor } else { scaled };
        let radicand = (CRAGOE_HEAT * CRAGOE_HEAT + 2.0 * CRAGOE_HEAT_SLOPE * scaled).max(0.0);
        ICE_POINT_K + 2.0 * scaled / (CRAGOE_HEAT + radicand.sqrt())
    }

    /// Thermal conductivity k.
    pub fn conductivity_w_per_m_k(&self, temperature_k: f64) -> f64 {
        cragoe_conductivity_w_per_m_k(self.relative_density, temperature_k)
    }

    /// Prandtl number ν·ρ·cp/k.
    pub fn prandtl(&self, temperature_k: f64) -> f64 {
        self.dynamic_viscosity_pa_s(temperature_k) * self.specific_heat_j_per_kg_k(temperature_k)
            / self.conductivity_w_per_m_k(temperature_k)
    }
}

/// Constants (A, B) of the Walther line through two points, each (temperature in K, ν in mm²/s).
pub fn walther_line(first: (f64, f64), second: (f64, f64)) -> (f64, f64) {
    let ordinate = |viscosity_mm2_per_s: f64| (viscosity_mm2_per_s + 0.7).log10().log10();
    let slope = (ordinate(first.1) - ordinate(second.1)) / (second.0.log10() - first.0.log10());
    (ordinate(first.1) + slope * first.0.log10(), slope)
}

/// Kinematic viscosity on the Walther line (A, B), kept between 0.3 and 1e10 mm²/s.
pub fn walther_viscosity_mm2_per_s(a: f64, b: f64, temperature_k: f64) -> f64 {
    let log_viscosity = 10f64.powf(a - b * temperature_k.max(1.0).log10());
    10f64.powf(log_viscosity.min(LOG_VISCOSITY_LIMIT)) - 0.7
}

/// Cragoe's specific heat for a petroleum oil of the given relative density, J/(kg·K).
pub fn cragoe_specific_heat_j_per_kg_k(relative_density: f64, temperature_k: f64) -> f64 {
    (CRAGOE_HEAT + CRAGOE_HEAT_SLOPE * (temperature_k - ICE_POINT_K)) / relative_density.sqrt()
}

/// Cragoe's conductivity for a petroleum oil of the given relative density, W/(m·K).
pub fn cragoe_conductivity_w_per_m_k(relative_density: f64, temperature_k: f64) -> f64 {
    0.11726 / relative_density * (1.0 - 0.00054 * (temperature_k - ICE_POINT_K))
}

fn volume_correction(expansion_per_k: f64, temperature_k: f64) -> f64 {
    let strain = expansion_per_k * (temperature_k - DENSITY_REFERENCE_K);
    (-strain * (1.0 + 0.8 * strain)).exp()
}

/// A generic sort of transmission fluid: typical values and the range in which products of the sort lie.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FluidClass {
    pub key: &'static str,
    pub label: &'static str,
    pub kv40_mm2_per_s: f64,
    pub kv100_mm2_per_s: f64,
    pub density15_kg_per_m3: f64,
    pub kv40_range_mm2_per_s: (f64, f64),
    pub kv100_range_mm2_per_s: (f64, f64),
    pub density15_range_kg_per_m3: (f64, f64),
    pub source: &'static str,
    pub sentence: &'static str,
}

impl FluidClass {
    /// The fluid with the typical values of the class.
    pub fn fluid(&self) -> Fluid {
        Fluid::new(self.kv40_mm2_per_s, self.kv100_mm2_per_s, self.density15_kg_per_m3)
    }
}

const TYPICAL: &str = "typical range of the trade, from memory; not a standard";
const TYPICAL_STRAIGHT: &str =
    "KV100 limits from SAE J300 (2015); the rest a typical range of the trade, from memory";

/// The classes on offer. Use a data sheet when there is one.
pub const CLASSES: [FluidClass; 5] = [
    FluidClass {
        key: "multi_vehicle",
        label: "Multi-vehicle",
        kv40_mm2_per_s: 35.0,
        kv100_mm2_per_s: 7.2,
        density15_kg_per_m3: 860.0,
        kv40_range_mm2_per_s: (32.0, 38.0),
        kv100_range_mm2_per_s: (6.8, 7.7),
        density15_range_kg_per_m3: (845.0, 875.0),
        source: TYPICAL,
        sentence: "The common friction-modified fluid for most older and many newer automatics.",
    },
    FluidClass {
        key: "low_viscosity",
        label: "Low viscosity",
        kv40_mm2_per_s: 28.0,
        kv100_mm2_per_s: 5.9,
        density15_kg_per_m3: 848.0,
        kv40_range_mm2_per_s: (25.0, 31.0),
        kv100_range_mm2_per_s: (5.4, 6.4),
        density15_range_kg_per_m3: (835.0, 860.0),
        source: TYPICAL,
        sentence: "A thin modern fluid: less drag when cold, a thinner film when hot.",
    },
    FluidClass {
        key: "friction_modifier_free",
        label: "Without friction modifier",
        kv40_mm2_per_s: 38.0,
        kv100_mm2_per_s: 7.5,
        density15_kg_per_m3: 868.0,
        kv40_range_mm2_per_s: (34.0, 43.0),
        kv100_range_mm2_per_s: (7.0, 8.0),
        density15_range_kg_per_m3: (855.0, 880.0),
        source: TYPICAL,
        sentence: "An older type without friction modifier, used where clutches must grip hard.",
    },
    FluidClass {
        key: "racing_straight_20",
        label: "Racing, straight grade 20",
        kv40_mm2_per_s: 55.0,
        kv100_mm2_per_s: 8.0,
        density15_kg_per_m3: 874.0,
        kv40_range_mm2_per_s: (45.0, 70.0),
        kv100_range_mm2_per_s: (6.9, 9.3),
        density15_range_kg_per_m3: (865.0, 890.0),
        source: TYPICAL_STRAIGHT,
        sentence: "A racing fluid of the viscosity of a straight grade 20 oil.",
    },
    FluidClass {
        key: "racing_straight_30",
        label: "Racing, straight grade 30",
        kv40_mm2_per_s: 90.0,
        kv100_mm2_per_s: 10.8,
        density15_kg_per_m3: 879.0,
        kv40_range_mm2_per_s: (70.0, 110.0),
        kv100_range_mm2_per_s: (9.3, 12.5),
        density15_range_kg_per_m3: (865.0, 890.0),
        source: TYPICAL_STRAIGHT,
        sentence: "A racing fluid of the viscosity of a straight grade 30 oil: thick when cold.",
    },
];

/// The class with this key, if there is one.
pub fn class_by_key(key: &str) -> Option<&'static FluidClass> {
    CLASSES.iter().find(|class| class.key == key)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_line_returns_the_two_viscosities_it_was_laid_through() {
        for class in &CLASSES {
            let fluid = class.fluid();
            let at40 = fluid.kinematic_viscosity_mm2_per_s(313.15);
            let at100 = fluid.kinematic_viscosity_mm2_per_s(373.15);
            assert!((at40 / class.kv40_mm2_per_s - 1.0).abs() < 1e-11, "{}", class.key);
            assert!((at100 / class.kv100_mm2_per_s - 1.0).abs() < 1e-11, "{}", class.key);
            assert!((fluid.density_kg_per_m3(288.15) - class.density15_kg_per_m3).abs() < 1e-9);
        }
    }

    #[test]
    fn typical_values_lie_in_their_own_ranges_and_keys_are_unique() {
        let inside = |value: f64, range: (f64, f64)| range.0 <= value && value <= range.1;
        for class in &CLASSES {
            assert!(inside(class.kv40_mm2_per_s, class.kv40_range_mm2_per_s), "{}", class.key);
            assert!(inside(class.kv100_mm2_per_s, class.kv100_range_mm2_per_s), "{}", class.key);
            assert!(inside(class.density15_kg_per_m3, class.density15_range_kg_per_m3));
            assert_eq!(class_by_key(class.key).map(|found| found.label), Some(class.label));
        }
        assert!(class_by_key("no_such_class").is_none());
    }

    #[test]
    fn every_property_is_finite_and_positive_at_any_temperature_a_solver_may_try() {
        for class in &CLASSES {
            let fluid = class.fluid();
            let mut last_viscosity = f64::INFINITY;
            for temperature_k in (150..=1500).map(f64::from) {
                let viscosity = fluid.kinematic_viscosity_mm2_per_s(temperature_k);
                assert!(viscosity <= last_viscosity, "{} at {temperature_k} K", class.key);
                last_viscosity = viscosity;
                for value in [
                    viscosity,
                    fluid.density_kg_per_m3(temperature_k),
                    fluid.specific_heat_j_per_kg_k(temperature_k),
                    fluid.conductivity_w_per_m_k(temperature_k),
                    fluid.prandtl(temperature_k),
                ] {
                    assert!(value.is_finite() && value > 0.0, "{} {temperature_k} K", class.key);
                }
            }
        }
    }

    #[test]
    fn enthalpy_is_the_integral_of_specific_heat_and_its_inverse_returns() {
        let fluid = Fluid::new(34.0, 7.2, 865.0);
        assert_eq!(fluid.specific_enthalpy_j_per_kg(273.15), 0.0);
        for temperature_k in [200.0, 273.15, 300.0, 366.5, 450.0, 900.0] {
            // cp is linear, so the central difference of h is cp but for rounding
            let slope = (fluid.specific_enthalpy_j_per_kg(temperature_k + 1.0)
                - fluid.specific_enthalpy_j_per_kg(temperature_k - 1.0))
                / 2.0;
            assert!((slope / fluid.specific_heat_j_per_kg_k(temperature_k) - 1.0).abs() < 1e-11);
            let back =
                fluid.temperature_from_enthalpy_k(fluid.specific_enthalpy_j_per_kg(temperature_k));
            assert!((back - temperature_k).abs() < 1e-10);
        }
        assert!(fluid.temperature_from_enthalpy_k(-1e12).is_finite());
        assert!(fluid.temperature_from_enthalpy_k(f64::NAN).is_nan());
    }

    #[test]
    fn fluid_and_free_function_agree_on_specific_heat() {
        let fluid = Fluid::new(34.0, 7.2, 865.0);
        let free = cragoe_specific_heat_j_per_kg_k(fluid.relative_density(), 360.0);
        assert!((fluid.specific_heat_j_per_kg_k(360.0) / free - 1.0).abs() < 1e-14);
    }
}
