//! The engine-driven pump: line pressure, converter charge, cooler flow, and the heat of making them.
//!
//! **Concept.** The pump moves D·ω. Part leaks back through slots, part feeds converter and cooler, and what
//! is left passes the regulator, which holds line pressure by spilling it. With little left the regulator
//! closes and pressure is what the pump can push through leakage and cooler circuit.
//!
//! **Equations.** Unknown is the flow Q through converter, cooler and lubrication to the sump.
//! - charge pressure at the converter's inlet `p_c = Δp_circuit(Q)`; over the charge relief valve goes
//!   `q = max(0, (p_c − p_relief)/k_relief)`
//! - the regulator's spill S ≥ 0 moves its spool, which opens the charge feed as it opens the spill:
//!   effective area `A(S) = A₀ + A₁·S/(S + S_half)`
//! - line pressure `p = p_c + ρ(Q+q)²/(2A²)`; while regulating (S > 0) also
//!   `p = p_set + (k + k_v·μ)·S`: the spring gives way with spill (k), and thick fluid backs up behind the
//!   spill port (k_v), so that pressure is somewhat higher cold and at speed
//! - leakage `C·p/μ`; balance `D·ω = C·p/μ + (Q + q) + S`
//! - so a trial Q gives S, or with S = 0 the pressure p, in closed form; the pressure that the feed wants for
//!   it rises with Q while the pressure at hand falls, and the two meet once
//! - shaft power `p·D·ω/η`, all of which ends as heat in the fluid
//!
//! **Assumptions.** Leakage of pump and valve body together goes with p/μ. Mechanical efficiency constant.
//! The area law is a judgement that has the right limits: a bleed when closed, a full port when open.
//!
//! **Valid range.** Any speed of zero or more. Far below freezing and at high speed the pressure computed
//! is high; a real pump would starve at its inlet first.
//!
//! **Sources.** Plane Poiseuille flow for slots; the rest are definitions. [`FrontPump::typical`] is common
//! practice without a source: line about 200 psi when idling hot, 150 to 250 psi when racing, somewhat more
//! when cold; charge 40 to 120 psi, rising with speed; cooler flow 1 to 2 gpm idling and 2 to 4 gpm at speed.
//!
//! **Not here.** Inlet suction, pressure made by rotation in the converter, clutch fills, drag of cold fluid
//! between rotor and housing, a variable-displacement pump.

use super::circuit::{Circuit, orifice_drop_pa};
use super::{FluidState, relief_flow_m3_per_s, slot_leakage_m3_per_s};
use crate::root::rising_root;
use std::f64::consts::PI;

/// How far the regulator lets pressure rise above its setting.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Regulator {
    /// Rise per spilled flow, from the spring; above zero.
    pub override_pa_s_per_m3: f64,
    /// Rise per spilled flow and per Pa·s of viscosity, from the port (1/m³).
    pub viscous_override_per_m3: f64,
}

/// The way from line pressure to the converter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChargeFeed {
    /// Effective area Cd·A with the regulator closed; above zero.
    pub bleed_area_m2: f64,
    /// Effective area that the regulator adds when fully open.
    pub port_area_m2: f64,
    /// Spill at which half of the port is open; above zero.
    pub half_open_spill_m3_per_s: f64,
    /// Pressure at which the charge relief valve opens.
    pub relief_pressure_pa: f64,
    /// Rise above it per flow; above zero.
    pub relief_override_pa_s_per_m3: f64,
}

impl ChargeFeed {
    fn effective_area_m2(&self, spill_m3_per_s: f64) -> f64 {
        self.bleed_area_m2
            + self.port_area_m2 * spill_m3_per_s / (spill_m3_per_s + self.half_open_spill_m3_per_s)
    }
}

/// The engine-driven pump with its regulator and charge feed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrontPump {
    pub displacement_m3_per_rad: f64,
    /// Slot conductance b·h³/(12·L) of pump and valve body together, above zero; see [`super::Slot`].
    pub leakage_m3: f64,
    /// Share of the shaft power that pressurises fluid; all of it ends as heat.
    pub mechanical_efficiency: f64,
    pub regulator: Regulator,
    pub charge: ChargeFeed,
}

/// What the pump does at one speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrontPumpPoint {
    pub line_pressure_pa: f64,
    /// At the converter's inlet.
    pub charge_pressure_pa: f64,
    /// Through converter, cooler and lubrication.
    pub cooler_flow_m3_per_s: f64,
    pub leakage_m3_per_s: f64,
    /// Over the charge relief valve.
    pub charge_relief_m3_per_s: f64,
    /// Through the regulator back to the pan.
    pub spill_m3_per_s: f64,
    /// From the engine; all of it ends as heat.
    pub shaft_power_w: f64,
    /// Whether the regulator limits the pressure; if not, the pump is too slow or the fluid too thin.
    pub regulating: bool,
}

/// What a trial flow through the circuit would mean.
struct Trial {
    charge_pressure_pa: f64,
    charge_relief_m3_per_s: f64,
    spill_m3_per_s: f64,
    /// Line pressure that the feed wants for its flow.
    wanted_pa: f64,
    /// Line pressure that regulator, or leakage alone, would leave.
    at_hand_pa: f64,
}

impl FrontPump {
    /// Numbers of common practice, no source: 22 cm³ per turn. Use with about 1.36 MPa (197 psi) regulated
    /// and [`Circuit::typical_converter_to_sump`].
    pub fn typical() -> FrontPump {
        FrontPump {
            displacement_m3_per_rad: 22e-6 / (2.0 * PI),
            leakage_m3: 4.7e-13,
            mechanical_efficiency: 0.85,
            regulator: Regulator { override_pa_s_per_m3: 1.65e8, viscous_override_per_m3: 7.3e8 },
            charge: ChargeFeed {
                bleed_area_m2: 1.15e-6,
                port_area_m2: 3.25e-6,
                half_open_spill_m3_per_s: 5e-4,
                relief_pressure_pa: 0.83e6,
                relief_override_pa_s_per_m3: 1e9,
            },
        }
    }

    /// Solves the balance at an engine speed. `regulated_pressure_pa` is the setting of the mode or gear.
    #[inline]
    pub fn operating_point(
        &self,
        speed_rad_per_s: f64,
        regulated_pressure_pa: f64,
        circuit: &Circuit,
        fluid: &FluidState,
    ) -> FrontPumpPoint {
        let pumped_m3_per_s = self.displacement_m3_per_rad * speed_rad_per_s;
        if !(pumped_m3_per_s > 0.0 && pumped_m3_per_s.is_finite()) {
            return FrontPumpPoint {
                line_pressure_pa: 0.0,
                charge_pressure_pa: 0.0,
                cooler_flow_m3_per_s: 0.0,
                leakage_m3_per_s: 0.0,
                charge_relief_m3_per_s: 0.0,
                spill_m3_per_s: 0.0,
                shaft_power_w: 0.0,
                regulating: false,
            };
        }
        let setting_pa = regulated_pressure_pa.max(0.0);
        let trial = |flow_m3_per_s: f64| {
            self.trial(flow_m3_per_s, setting_pa, pumped_m3_per_s, circuit, fluid)
        };
        let cooler_flow_m3_per_s =
            rising_root(0.0, pumped_m3_per_s, 1e-15 * pumped_m3_per_s, |flow_m3_per_s| {
                let found = trial(flow_m3_per_s);
                found.wanted_pa - found.at_hand_pa
            });
        let found = trial(cooler_flow_m3_per_s);
        FrontPumpPoint {
            line_pressure_pa: found.wanted_pa,
            charge_pressure_pa: found.charge_pressure_pa,
            cooler_flow_m3_per_s,
            leakage_m3_per_s: slot_leakage_m3_per_s(
                self.leakage_m3,
                found.wanted_pa,
                fluid.dynamic_viscosity_pa_s(),
            ),
            charge_relief_m3_per_s: found.charge_relief_m3_per_s,
            spill_m3_per_s: found.spill_m3_per_s,
            shaft_power_w: found.wanted_pa * pumped_m3_per_s / self.mechanical_efficiency,
            regulating: found.spill_m3_per_s > 0.0,
        }
    }

    fn trial(
        &self,
        flow_m3_per_s: f64,
        setting_pa: f64,
        pumped_m3_per_s: f64,
        circuit: &Circuit,
        fluid: &FluidState,
    ) -> Trial {
        let viscosity_pa_s = fluid.dynamic_viscosity_pa_s();
        let charge_pressure_pa = circuit.pressure_drop_pa(flow_m3_per_s, fluid);
        let charge_relief_m3_per_s = relief_flow_m3_per_s(
            charge_pressure_pa,
            self.charge.relief_pressure_pa,
            self.charge.relief_override_pa_s_per_m3,
        );
        let feed_m3_per_s = flow_m3_per_s + charge_relief_m3_per_s;
        let rise_pa_s_per_m3 = self.regulator.override_pa_s_per_m3
            + self.regulator.viscous_override_per_m3 * viscosity_pa_s;
        let leak_m3_per_s_per_pa = self.leakage_m3 / viscosity_pa_s;
        // what is left for leakage and spill; p = p_set + rise·S in the balance gives S
        let left_m3_per_s = pumped_m3_per_s - feed_m3_per_s;
        let over_m3_per_s = (left_m3_per_s - leak_m3_per_s_per_pa * setting_pa)
            / (1.0 + leak_m3_per_s_per_pa * rise_pa_s_per_m3);
        let (spill_m3_per_s, at_hand_pa) = if over_m3_per_s > 0.0 {
            (over_m3_per_s, setting_pa + rise_pa_s_per_m3 * over_m3_per_s)
        } else {
            (0.0, left_m3_per_s / leak_m3_per_s_per_pa)
        };
        let area_m2 = self.charge.effective_area_m2(spill_m3_per_s);
        Trial {
            charge_pressure_pa,
            charge_relief_m3_per_s,
            spill_m3_per_s,
            wanted_pa: charge_pressure_pa + orifice_drop_pa(feed_m3_per_s, area_m2, fluid),
            at_hand_pa,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fluid::Fluid;
    use proptest::prelude::*;

    const RPM: f64 = PI / 30.0;
    const PSI: f64 = 6_894.757_293_168;
    const GPM: f64 = 3.785_411_784e-3 / 60.0;
    const SETTING_PA: f64 = 1.36e6;

    fn at(rpm: f64, fahrenheit: f64) -> FrontPumpPoint {
        let fluid = Fluid::new(35.0, 7.2, 860.0);
        FrontPump::typical().operating_point(
            rpm * RPM,
            SETTING_PA,
            &Circuit::typical_converter_to_sump(),
            &FluidState::at(&fluid, (fahrenheit + 459.67) / 1.8),
        )
    }

    #[test]
    fn typical_pump_reads_what_gauges_commonly_read() {
        // common practice, no source
        for (rpm, line_psi, charge_psi, cooler_gpm) in [
            (1100.0, (195.0, 205.0), (25.0, 60.0), (1.0, 2.0)),
            (6000.0, (200.0, 250.0), (80.0, 120.0), (2.0, 4.0)),
        ] {
            let hot = at(rpm, 180.0);
            let inside = |value: f64, range: (f64, f64)| range.0 <= value && value <= range.1;
            assert!(inside(hot.line_pressure_pa / PSI, line_psi), "{rpm}: {hot:?}");
            assert!(inside(hot.charge_pressure_pa / PSI, charge_psi), "{rpm}: {hot:?}");
            assert!(inside(hot.cooler_flow_m3_per_s / GPM, cooler_gpm), "{rpm}: {hot:?}");
            let cold = at(rpm, 40.0);
            assert!(cold.line_pressure_pa > hot.line_pressure_pa + 5.0 * PSI, "{cold:?}");
            assert!(cold.line_pressure_pa < hot.line_pressure_pa + 60.0 * PSI, "{cold:?}");
            assert!(cold.cooler_flow_m3_per_s < hot.cooler_flow_m3_per_s);
        }
    }

    #[test]
    fn a_slow_pump_with_thin_fluid_loses_its_pressure() {
        let slow = at(300.0, 250.0);
        assert!(
            !slow.regulating && slow.line_pressure_pa < SETTING_PA && slow.spill_m3_per_s == 0.0
        );
        assert!(at(1100.0, 180.0).regulating);
        let standing = at(0.0, 180.0);
        assert_eq!(standing.shaft_power_w, 0.0);
        assert_eq!(standing.cooler_flow_m3_per_s, 0.0);
    }

    #[test]
    fn pressure_passes_without_a_jump_from_starved_to_regulated() {
        let mut last = at(100.0, 250.0);
        for step in 1..6000 {
            let here = at(100.0 + 0.5 * f64::from(step), 250.0);
            let rise_pa = here.line_pressure_pa - last.line_pressure_pa;
            assert!(rise_pa > 0.0 && rise_pa < 0.01 * SETTING_PA, "{rise_pa} at {here:?}");
            assert!(here.charge_pressure_pa > last.charge_pressure_pa);
            last = here;
        }
    }

    proptest! {
        #[test]
        fn flows_balance_pressures_add_up_and_everything_is_finite(
            rpm in 1.0..10_000.0f64,
            log_viscosity in 0.301..3.302f64,
            setting_pa in 0.2e6..2.5e6f64,
        ) {
            let pump = FrontPump::typical();
            let circuit = Circuit::typical_converter_to_sump();
            let fluid = FluidState {
                kinematic_viscosity_m2_per_s: 10f64.powf(log_viscosity) * 1e-6,
                density_kg_per_m3: 850.0,
            };
            let point = pump.operating_point(rpm * RPM, setting_pa, &circuit, &fluid);
            let pumped = pump.displacement_m3_per_rad * rpm * RPM;
            let used = point.leakage_m3_per_s
                + point.cooler_flow_m3_per_s
                + point.charge_relief_m3_per_s
                + point.spill_m3_per_s;
            prop_assert!((used / pumped - 1.0).abs() < 1e-9, "{point:?}");
            let feed = point.cooler_flow_m3_per_s + point.charge_relief_m3_per_s;
            let drop =
                orifice_drop_pa(feed, pump.charge.effective_area_m2(point.spill_m3_per_s), &fluid);
            let line = point.charge_pressure_pa + drop;
            prop_assert!((line / point.line_pressure_pa - 1.0).abs() < 1e-12);
            let rise = pump.regulator.override_pa_s_per_m3
                + pump.regulator.viscous_override_per_m3 * fluid.dynamic_viscosity_pa_s();
            if point.regulating {
                let law = setting_pa + rise * point.spill_m3_per_s;
                prop_assert!((law / point.line_pressure_pa - 1.0).abs() < 1e-9, "{point:?}");
            } else {
                prop_assert!(point.line_pressure_pa <= setting_pa * (1.0 + 1e-12), "{point:?}");
            }
            // all of the shaft's power is accounted for: flows times pressure, and friction
            let hydraulic_w = point.line_pressure_pa * used;
            let friction_w = point.shaft_power_w * (1.0 - pump.mechanical_efficiency);
            let closed = (hydraulic_w + friction_w) / point.shaft_power_w;
            prop_assert!((closed - 1.0).abs() < 1e-9);
            let faster = pump.operating_point(rpm * RPM * 1.1, setting_pa, &circuit, &fluid);
            prop_assert!(faster.line_pressure_pa > point.line_pressure_pa * (1.0 - 1e-12));
            prop_assert!(faster.charge_pressure_pa > point.charge_pressure_pa);
        }
    }
}
