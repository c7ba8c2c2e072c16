//! A set-up as pumps and circuits: what flows at a fluid temperature, and what it takes to move it.
//!
//! The front pump feeds the converter, cooler and lubrication from its charge circuit; the circulation pump has
//! circuits of its own, with the converter in them on the routes that pass it. Both are the typical ones of `hydraulics`, sized to a flow that the user knows:
//! the flow at 1 000 rpm, or in the pan loop at rated voltage, with the fluid at 80 °C. Colder, thicker fluid then flows less and
//! takes more; that is solved, not stated.
//!
//! When both pumps push through the cooler at once each is solved alone, and the cooler sees the sum.

use crate::fluid::Fluid;
use crate::hydraulics::{
    Circuit, CirculationPoint, CirculationPump, FluidState, FrontPump, FrontPumpPoint,
};
use crate::scenario::parameters::Setup;
use crate::timeline::Route;

/// Fluid temperature at which flows are stated (80 °C, K).
pub const RATING_K: f64 = 353.15;
/// Speed at which the front pump's cooler flow is stated: 1 000 rpm, in rad/s.
pub const RATING_RAD_PER_S: f64 = 1_000.0 * std::f64::consts::PI / 30.0;
/// Below this drag grows no more (0 °C, K).
pub const FREEZING_K: f64 = 273.15;
/// Fluid colder than this is taken as this cold (−40 °C, K): its viscosity is not known there.
const COLDEST_K: f64 = 233.15;

/// Pumps and circuits of one set-up.
#[derive(Debug, Clone, PartialEq)]
pub struct Plumbing {
    fluid: Fluid,
    front_pump: FrontPump,
    front_circuit: Circuit,
    line_pressure_pa: f64,
    circulation_pump: CirculationPump,
    pan_loop: Circuit,
    through_converter: Circuit,
    /// So many typical circulation pumps, each with its circuit, side by side.
    circulation_copies: f64,
    voltage_v: f64,
}

impl Plumbing {
    /// Sizes the typical pumps and circuits to the stated flows.
    pub fn new(setup: &Setup, fluid: Fluid) -> Plumbing {
        let mut plumbing = Plumbing {
            fluid,
            front_pump: FrontPump {
                displacement_m3_per_rad: setup.front_pump.displacement_m3_per_rad,
                mechanical_efficiency: setup.front_pump.efficiency,
                ..FrontPump::typical()
            },
            front_circuit: Circuit::typical_converter_to_sump(),
            line_pressure_pa: setup.front_pump.line_pressure_pa,
            circulation_pump: CirculationPump::typical(),
            pan_loop: Circuit::typical_pan_loop(),
            through_converter: Circuit::typical_loop_through_converter(),
            circulation_copies: 1.0,
            voltage_v: setup.battery.voltage_v,
        };
        let rated = CirculationPump::typical().motor.rated_voltage_v;
        let typical = plumbing.circulation_pump.operating_point(
            rated,
            &plumbing.pan_loop,
            &plumbing.state(RATING_K),
        );
        plumbing.circulation_copies = setup.circulation.flow_m3_per_s / typical.flow_m3_per_s;
        plumbing.size_front_circuit(setup.front_pump.cooler_flow_m3_per_s);
        plumbing
    }

    /// Scales charge feed and circuit until the flow at 1 000 rpm, hot, is as wanted, or as near as the pump can.
    fn size_front_circuit(&mut self, wanted_m3_per_s: f64) {
        let typical = self.clone();
        let (mut low, mut high) = ((0.02_f64).ln(), (50.0_f64).ln());
        for _ in 0..24 {
            let middle = 0.5 * (low + high);
            *self = typical.scaled(middle.exp());
            let flow = self.front(RATING_RAD_PER_S, RATING_K).cooler_flow_m3_per_s;
            if flow < wanted_m3_per_s { low = middle } else { high = middle }
        }
    }

    fn scaled(&self, scale: f64) -> Plumbing {
        let mut scaled = self.clone();
        let charge = &mut scaled.front_pump.charge;
        charge.bleed_area_m2 *= scale;
        charge.port_area_m2 *= scale;
        charge.relief_override_pa_s_per_m3 /= scale;
        scaled.front_circuit = scaled.front_circuit.in_parallel(scale);
        scaled
    }

    fn state(&self, temperature_k: f64) -> FluidState {
        FluidState::at(&self.fluid, temperature_k.max(COLDEST_K))
    }

    /// The front pump at an engine speed and a pan temperature; everything zero with the engine off.
    #[inline]
    pub fn front(&self, speed_rad_per_s: f64, pan_k: f64) -> FrontPumpPoint {
        self.front_pump.operating_point(
            speed_rad_per_s,
            self.line_pressure_pa,
            &self.front_circuit,
            &self.state(pan_k),
        )
    }

    /// Drag torque of the gearbox over that at 80 °C: goes with viscosity to the power 2/3, as the friction of
    /// lubricated bearings that carry little does (Palmgren, *Ball and Roller Bearing Engineering*, 1959,
    /// from memory). A day bounds it by its value at freezing: the rule is not known below, and a cold gearbox in
    /// neutral stands rather than take more than the converter passes on.
    pub fn drag_ratio(&self, pan_k: f64) -> f64 {
        let viscosity = |temperature_k: f64| self.state(temperature_k).kinematic_viscosity_m2_per_s;
        (viscosity(pan_k) / viscosity(RATING_K)).powf(2.0 / 3.0)
    }

    /// The circulation pump on a route, at a pan temperature.
    pub fn circulation(&self, route: Route, pan_k: f64) -> CirculationPoint {
        let circuit = match route {
            Route::PanLoop => &self.pan_loop,
            Route::ThroughConverter | Route::CoolerFirst => &self.through_converter,
        };
        let one =
            self.circulation_pump.operating_point(self.voltage_v, circuit, &self.state(pan_k));
        let copies = self.circulation_copies;
        CirculationPoint {
            flow_m3_per_s: one.flow_m3_per_s * copies,
            current_a: one.current_a * copies,
            electric_power_w: one.electric_power_w * copies,
            fluid_heat_w: one.fluid_heat_w * copies,
            motor_heat_w: one.motor_heat_w * copies,
            ..one
        }
    }
}
