//! The electric circulation pump: what it moves through a circuit, and what it draws from the battery.
//!
//! **Concept.** A positive-displacement pump turned by a permanent-magnet motor. Thick fluid needs pressure,
//! pressure needs torque, torque slows the motor and draws current: cold fluid flows less and costs more.
//!
//! **Equations.** Unknown is the flow Q through the circuit; the pressure is `p = Δp_circuit(Q)`.
//! - speed `ω = (Q + C·p/μ + q_relief)/d`, with slot leakage and `q_relief = max(0, (p − p_crack)/k)`
//! - torque wanted `d·p/η + T_f + c·μ·ω`: pressure, dry friction, drag of the fluid in the gaps
//! - torque given `T_s·(1 − ω/ω₀)`; no-load speed ω₀ and stall torque T_s go with voltage
//! - the wanted torque rises with Q and the given one falls, so the balance is unique
//! - current `I = T·ω₀/V`, so that `V·I = T·ω + I²R`: shaft power and heat of the winding
//!
//! All shaft power ends as heat in the fluid (pressure drops, leakage, friction); the winding's heat leaves
//! through the motor's housing to the air. The two add up to the electric power exactly.
//!
//! **Assumptions.** Winding resistance constant (cold: a hot motor is slower by some per cent), no brush drop.
//!
//! **Valid range.** Voltages above zero. A motor too weak to turn stands at its stall current.
//!
//! **Sources.** The straight speed–torque line of a permanent-magnet motor, any textbook on electric drives.
//! [`CirculationPump::typical`] is common practice without a source: 1 to 4 gpm and 4 to 10 A at 12 to 16 V.
//!
//! **Not here.** Suction lift, a foot valve, electronic speed control, thermal cut-outs, battery voltage that
//! sags.

use super::circuit::Circuit;
use super::{FluidState, relief_flow_m3_per_s, slot_leakage_m3_per_s};
use crate::root::rising_root;
use std::f64::consts::PI;

/// A permanent-magnet motor by the ends of its speed–torque line at one voltage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Motor {
    pub rated_voltage_v: f64,
    pub no_load_speed_rad_per_s: f64,
    pub stall_torque_nm: f64,
}

/// The electric pump with its motor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CirculationPump {
    pub displacement_m3_per_rad: f64,
    /// Slot conductance b·h³/(12·L); see [`super::Slot`].
    pub leakage_m3: f64,
    /// Share of the torque that goes into pressure, friction and drag apart.
    pub mechanical_efficiency: f64,
    /// Dry friction of seals and brushes.
    pub friction_torque_nm: f64,
    /// Drag torque per viscosity and speed.
    pub drag_m3: f64,
    /// Pressure at which the relief valve opens.
    pub relief_pressure_pa: f64,
    /// Rise above it per flow; above zero.
    pub relief_override_pa_s_per_m3: f64,
    pub motor: Motor,
}

/// What the pump does at one voltage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CirculationPoint {
    /// Through the circuit.
    pub flow_m3_per_s: f64,
    pub pressure_pa: f64,
    pub motor_speed_rad_per_s: f64,
    pub current_a: f64,
    pub electric_power_w: f64,
    /// Shaft power, all of it heat in the fluid.
    pub fluid_heat_w: f64,
    /// Heat of the winding, to the air.
    pub motor_heat_w: f64,
}

impl CirculationPump {
    /// Numbers of common practice, no source; use with [`Circuit::typical_pan_loop`].
    pub fn typical() -> CirculationPump {
        CirculationPump {
            displacement_m3_per_rad: 3.4e-6 / (2.0 * PI),
            leakage_m3: 6e-13,
            mechanical_efficiency: 0.85,
            friction_torque_nm: 0.11,
            drag_m3: 8e-4,
            relief_pressure_pa: 0.31e6,
            relief_override_pa_s_per_m3: 5e8,
            motor: Motor {
                rated_voltage_v: 13.0,
                no_load_speed_rad_per_s: 3600.0 * PI / 30.0,
                stall_torque_nm: 0.75,
            },
        }
    }

    /// Solves the balance at a voltage.
    #[inline]
    pub fn operating_point(
        &self,
        voltage_v: f64,
        circuit: &Circuit,
        fluid: &FluidState,
    ) -> CirculationPoint {
        if !(voltage_v > 0.0 && voltage_v.is_finite()) {
            return CirculationPoint {
                flow_m3_per_s: 0.0,
                pressure_pa: 0.0,
                motor_speed_rad_per_s: 0.0,
                current_a: 0.0,
                electric_power_w: 0.0,
                fluid_heat_w: 0.0,
                motor_heat_w: 0.0,
            };
        }
        let voltage_ratio = voltage_v / self.motor.rated_voltage_v;
        let no_load_rad_per_s = self.motor.no_load_speed_rad_per_s * voltage_ratio;
        let stall_torque_nm = self.motor.stall_torque_nm * voltage_ratio;
        let viscosity_pa_s = fluid.dynamic_viscosity_pa_s();
        let speed_rad_per_s = |flow_m3_per_s: f64, pressure_pa: f64| {
            let leakage_m3_per_s =
                slot_leakage_m3_per_s(self.leakage_m3, pressure_pa, viscosity_pa_s);
            let relief_m3_per_s = relief_flow_m3_per_s(
                pressure_pa,
                self.relief_pressure_pa,
                self.relief_override_pa_s_per_m3,
            );
            (flow_m3_per_s + leakage_m3_per_s + relief_m3_per_s) / self.displacement_m3_per_rad
        };
        let torque_given_nm =
            |speed_rad_per_s: f64| stall_torque_nm * (1.0 - speed_rad_per_s / no_load_rad_per_s);
        let highest_m3_per_s = self.displacement_m3_per_rad * no_load_rad_per_s;
        let flow_m3_per_s =
            rising_root(0.0, highest_m3_per_s, 1e-15 * highest_m3_per_s, |flow_m3_per_s| {
                let pressure_pa = circuit.pressure_drop_pa(flow_m3_per_s, fluid);
                let speed = speed_rad_per_s(flow_m3_per_s, pressure_pa);
                self.displacement_m3_per_rad * pressure_pa / self.mechanical_efficiency
                    + self.friction_torque_nm
                    + self.drag_m3 * viscosity_pa_s * speed
                    - torque_given_nm(speed)
            });
        let pressure_pa = circuit.pressure_drop_pa(flow_m3_per_s, fluid);
        let motor_speed_rad_per_s = speed_rad_per_s(flow_m3_per_s, pressure_pa);
        let torque_nm = torque_given_nm(motor_speed_rad_per_s);
        let current_a = torque_nm * no_load_rad_per_s / voltage_v;
        let electric_power_w = voltage_v * current_a;
        let fluid_heat_w = torque_nm * motor_speed_rad_per_s;
        CirculationPoint {
            flow_m3_per_s,
            pressure_pa,
            motor_speed_rad_per_s,
            current_a,
            electric_power_w,
            fluid_heat_w,
            motor_heat_w: electric_power_w - fluid_heat_w,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fluid::Fluid;
    use proptest::prelude::*;

    const GPM: f64 = 3.785_411_784e-3 / 60.0;

    fn at(voltage_v: f64, fahrenheit: f64) -> CirculationPoint {
        let fluid = Fluid::new(35.0, 7.2, 860.0);
        CirculationPump::typical().operating_point(
            voltage_v,
            &Circuit::typical_pan_loop(),
            &FluidState::at(&fluid, (fahrenheit + 459.67) / 1.8),
        )
    }

    #[test]
    fn typical_pump_moves_and_draws_what_is_common() {
        // common practice, no source: 1 to 4 gpm and 4 to 10 A at 12 to 16 V, with fluid that is not cold
        for voltage_v in [12.0, 13.0, 14.5, 16.0] {
            for fahrenheit in [104.0, 140.0, 176.0, 212.0] {
                let point = at(voltage_v, fahrenheit);
                let gpm = point.flow_m3_per_s / GPM;
                assert!((1.0..4.0).contains(&gpm), "{voltage_v} V {fahrenheit} °F: {point:?}");
                assert!((4.0..10.0).contains(&point.current_a), "{voltage_v} V: {point:?}");
            }
        }
    }

    #[test]
    fn cold_fluid_flows_less_and_draws_more() {
        for (cold, hot) in [(-4.0, 32.0), (32.0, 104.0), (104.0, 176.0)] {
            let (cold, hot) = (at(13.0, cold), at(13.0, hot));
            assert!(cold.flow_m3_per_s < hot.flow_m3_per_s, "{cold:?} {hot:?}");
            assert!(cold.current_a > hot.current_a, "{cold:?} {hot:?}");
        }
    }

    #[test]
    fn a_motor_too_weak_to_turn_stands_at_its_stall_current() {
        let pump = CirculationPump { friction_torque_nm: 2.0, ..CirculationPump::typical() };
        let circuit = Circuit::typical_pan_loop();
        let fluid = FluidState { kinematic_viscosity_m2_per_s: 1e-5, density_kg_per_m3: 820.0 };
        let point = pump.operating_point(13.0, &circuit, &fluid);
        assert_eq!(point.flow_m3_per_s, 0.0);
        assert_eq!(point.fluid_heat_w, 0.0);
        let stall_a = 0.75 * 3600.0 * PI / 30.0 / 13.0;
        assert!((point.current_a / stall_a - 1.0).abs() < 1e-12);
        assert_eq!(pump.operating_point(0.0, &circuit, &fluid).current_a, 0.0);
    }

    proptest! {
        #[test]
        fn power_balances_and_everything_is_finite(
            voltage_v in 0.5..18.0f64,
            log_viscosity in 0.301..3.302f64,
        ) {
            let pump = CirculationPump::typical();
            let circuit = Circuit::typical_pan_loop();
            let fluid = FluidState {
                kinematic_viscosity_m2_per_s: 10f64.powf(log_viscosity) * 1e-6,
                density_kg_per_m3: 850.0,
            };
            let point = pump.operating_point(voltage_v, &circuit, &fluid);
            prop_assert!(point.flow_m3_per_s.is_finite() && point.pressure_pa.is_finite());
            // electric power = heat in fluid + heat of the winding, the latter by Joule's law
            let volts_per_speed =
                pump.motor.rated_voltage_v / pump.motor.no_load_speed_rad_per_s;
            let resistance_ohm =
                pump.motor.rated_voltage_v * volts_per_speed / pump.motor.stall_torque_nm;
            let joule_w = point.current_a * point.current_a * resistance_ohm;
            prop_assert!((point.electric_power_w - point.fluid_heat_w - joule_w).abs()
                < 1e-10 * point.electric_power_w);
            prop_assert!((point.motor_heat_w - joule_w).abs() < 1e-10 * point.electric_power_w);
            // heat in the fluid = work of flow, leakage and relief + pressure losses of the torque
            if point.flow_m3_per_s > 0.0 {
                let moved = pump.displacement_m3_per_rad * point.motor_speed_rad_per_s;
                let speed = point.motor_speed_rad_per_s;
                let parts_w = point.pressure_pa * moved / pump.mechanical_efficiency
                    + pump.friction_torque_nm * speed
                    + pump.drag_m3 * fluid.dynamic_viscosity_pa_s() * speed * speed;
                prop_assert!((parts_w / point.fluid_heat_w - 1.0).abs() < 1e-8, "{point:?}");
                prop_assert!(point.fluid_heat_w >= point.pressure_pa * point.flow_m3_per_s);
            }
            let stronger = pump.operating_point(voltage_v * 1.05, &circuit, &fluid);
            prop_assert!(stronger.flow_m3_per_s >= point.flow_m3_per_s);
        }
    }
}
