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
