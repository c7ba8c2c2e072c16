//! Flow through hoses, orifices and coolers, and the two pumps that make it.
//!
//! **Concept.** A circuit resists flow; a pump drives against it; what flows is where the two balance. Each
//! balance here is one equation in one unknown whose left side rises with the unknown, so that it has
//! exactly one solution and a bracketed search finds it from any state a solver may try.
//!
//! In reading order: [`circuit`], the resistances and their sum; [`front_pump`], driven by the engine,
//! with regulator and converter charge; [`circulation_pump`], driven by a battery.
//!
//! **Assumptions.** Incompressible, steady at every instant (the fluid's inertia is over in milliseconds),
//! one fluid state in the whole circuit; pressures are above that of the pan.
//!
//! **Valid range.** Any viscosity; meant for 2 to 2000 mm²/s. All results are finite.
//!
//! **Not here.** Air in the fluid, suction and cavitation, clutches being filled, hydraulic transients,
//! flow by gravity or natural circulation, both pumps pushing into one circuit at once.

pub mod circuit;
pub mod circulation_pump;
pub mod front_pump;

pub use circuit::{Circuit, Element, Hose, Orifice, Passages, darcy_friction_factor};
pub use circulation_pump::{CirculationPoint, CirculationPump, Motor};
pub use front_pump::{ChargeFeed, FrontPump, FrontPumpPoint, Regulator};

use crate::fluid::Fluid;

/// What a resistance asks of the fluid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FluidState {
    pub kinematic_viscosity_m2_per_s: f64,
    pub density_kg_per_m3: f64,
}

impl FluidState {
    /// The state of a fluid at a temperature.
    pub fn at(fluid: &Fluid, temperature_k: f64) -> FluidState {
        FluidState {
            kinematic_viscosity_m2_per_s: fluid.kinematic_viscosity_mm2_per_s(temperature_k) * 1e-6,
            density_kg_per_m3: fluid.density_kg_per_m3(temperature_k),
        }
    }

    /// Dynamic viscosity μ = ν·ρ.
    pub fn dynamic_viscosity_pa_s(&self) -> f64 {
        self.kinematic_viscosity_m2_per_s * self.density_kg_per_m3
    }
}

/// A slot through which a pump leaks back, between two plates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slot {
    pub width_m: f64,
    pub gap_m: f64,
    /// Length along the flow.
    pub length_m: f64,
}

impl Slot {
    /// `b·h³/(12·L)`, m³: the leakage is this times Δp/μ (plane Poiseuille flow).
    pub fn conductance_m3(&self) -> f64 {
        self.width_m * self.gap_m.powi(3) / (12.0 * self.length_m)
    }
}

/// Flow back through slots of a total conductance: `C·Δp/μ`.
pub fn slot_leakage_m3_per_s(
    conductance_m3: f64,
    pressure_pa: f64,
    dynamic_viscosity_pa_s: f64,
) -> f64 {
    conductance_m3 * pressure_pa.max(0.0) / dynamic_viscosity_pa_s
}

/// Flow over a relief valve: nothing below the cracking pressure, then in proportion to the excess.
fn relief_flow_m3_per_s(pressure_pa: f64, cracking_pa: f64, override_pa_s_per_m3: f64) -> f64 {
    ((pressure_pa - cracking_pa) / override_pa_s_per_m3).max(0.0)
}

/// The root of a rising function between `low` (function negative) and `high` (positive), to an interval of
/// `tolerance`, by Chandrupatla's method: inverse quadratic interpolation where it is safe, halving where
/// not (T. R. Chandrupatla, Adv. Eng. Software 28 (1997) 145). Without a change of sign the better end.
fn rising_root(low: f64, high: f64, tolerance: f64, function: impl Fn(f64) -> f64) -> f64 {
    let (mut a, mut b) = (high, low);
    let (mut at_a, mut at_b) = (function(a), function(b));
    if at_b >= 0.0 || at_b.is_nan() {
        return low;
    }
    if at_a <= 0.0 || at_a.is_nan() {
        return high;
    }
    let mut share = 0.5;
    for _ in 0..200 {
        let x = a + share * (b - a);
        let at_x = function(x);
        let (c, at_c);
        if (at_x > 0.0) == (at_a > 0.0) {
            (c, at_c) = (a, at_a);
        } else {
            (c, at_c) = (b, at_b);
            (b, at_b) = (a, at_a);
        }
        (a, at_a) = (x, at_x);
        let (best, at_best) = if at_a.abs() < at_b.abs() { (a, at_a) } else { (b, at_b) };
        let smallest_share = 0.5 * (tolerance + 2.0 * f64::EPSILON * best.abs()) / (b - a).abs();
        if smallest_share > 0.5 || at_best == 0.0 {
            return best;
        }
        let (xi, phi) = ((a - b) / (c - b), (at_a - at_b) / (at_c - at_b));
        share = if phi * phi < xi && (1.0 - phi) * (1.0 - phi) < 1.0 - xi {
            at_a / (at_b - at_a) * at_c / (at_b - at_c)
                + (c - a) / (b - a) * at_a / (at_c - at_a) * at_b / (at_c - at_b)
        } else {
            0.5
        };
        share = share.clamp(smallest_share, 1.0 - smallest_share);
    }
    0.5 * (a + b)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn roots_of_straight_bent_and_steep_functions() {
        type Function = fn(f64) -> f64;
        let cases: [(Function, f64, f64, f64); 4] = [
            (|x| x - 0.3, -1.0, 2.0, 0.3),
            (|x| x * x * x - 2.0, 0.0, 100.0, 2f64.cbrt()),
            (|x| if x < 0.7 { 0.01 * (x - 0.7) } else { 1e9 * (x - 0.7) }, 0.0, 1.0, 0.7),
            (|x| (50.0 * x).exp() - 1e10, 0.0, 10.0, 10.0 * 10f64.ln() / 50.0),
        ];
        for (function, low, high, expected) in cases {
            let found = rising_root(low, high, 1e-14, function);
            assert!((found - expected).abs() < 1e-12, "{found} instead of {expected}");
        }
        assert_eq!(rising_root(1.0, 2.0, 1e-12, |x| x), 1.0);
        assert_eq!(rising_root(-2.0, -1.0, 1e-12, |x| x), -1.0);
        assert_eq!(rising_root(0.0, 1.0, 1e-12, |_| f64::NAN), 0.0);
    }
}
