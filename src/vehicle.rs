//! The car: what moves it and what holds it back, at one instant.
//!
//! **Concept.** Engine with its inertia → converter → gearbox → axle → driven wheels → car. The driven
//! wheels either grip, and turn with the road, or spin, and have a speed of their own.
//!
//! **Equations.** With i the overall ratio (gear × final drive), r the tyre's radius, T_t the turbine torque less
//! drag, η = η_gear·η_axle:
//! - engine `J_e·dω_e/dt = T_e(ω_e) − T_pump − T_p`
//! - wheel torque `T_w = T_t·i·η`
//! - load on the driven wheels `N = m·g·s + (h/l)·(F − R)`, at most `m·g`; R resistance, F traction
//! - largest traction `F_max = μ·N`, solved with F = F_max in it: `μ·(m·g·s − (h/l)·R)/(1 − μ·h/l)`
//! - gripping: `(m + J/r²)·dv/dt = T_w/r − R`, J = wheels + turbine side times i²
//! - spinning: `m·dv/dt = F_max − R`, `J·dω_w/dt = T_w − F_max·r`; the difference of speeds makes heat at
//!   the tyre
//! - resistance `R = ½·ρ·C_dA·v² + C_rr·m·g` (Gillespie, *Fundamentals of Vehicle Dynamics*, ch. 2 and 4)
//!
//! **Assumptions.** Straight and level; the body does not rock, so load follows acceleration at once; tyre radius
//! constant; no slip below the limit. Effective friction of modern slicks on a prepared surface 1.3 to 2
//! (common practice, no source).
//!
//! **Not here.** Wheel-stand beyond "all load on the driven wheels", tyre growth, wind, a driver who lifts.

use crate::converter::Characteristic;
use crate::engine::Engine;

/// Standard acceleration of free fall, m/s² (ISO 80000-3).
pub const STANDARD_GRAVITY_M_PER_S2: f64 = 9.806_65;

/// The car without its powertrain.
#[derive(Debug, Clone, PartialEq)]
pub struct Car {
    pub mass_kg: f64,
    pub tyre_radius_m: f64,
    pub final_drive: f64,
    /// η_axle: share of power that axle and joints pass on.
    pub axle_efficiency: f64,
    /// μ of the driven tyres.
    pub grip: f64,
    /// s: share of the weight on the driven wheels, standing.
    pub driven_weight_share: f64,
    /// h/l: height of the centre of gravity over wheelbase.
    pub height_over_wheelbase: f64,
    /// C_d·A.
    pub drag_area_m2: f64,
    /// C_rr.
    pub rolling_resistance: f64,
    /// All driven wheels, axle and brakes.
    pub wheel_inertia_kg_m2: f64,
}

impl Car {
    /// Drag and rolling resistance, N. Rolling resistance fades in over the first 0.1 m/s, so that a
    /// standing car is not pushed backwards.
    #[inline]
    pub fn resistance_n(&self, speed_m_per_s: f64, air_density_kg_per_m3: f64) -> Resistance {
        let rolling = (speed_m_per_s / 0.1).clamp(0.0, 1.0);
        Resistance {
            drag_n: 0.5 * air_density_kg_per_m3 * self.drag_area_m2 * speed_m_per_s.powi(2),
            rolling_n: self.rolling_resistance * self.mass_kg * STANDARD_GRAVITY_M_PER_S2 * rolling,
        }
    }

    /// Largest traction against a resistance, N.
    #[inline]
    pub fn traction_limit_n(&self, resistance_n: f64) -> f64 {
        let weight_n = self.mass_kg * STANDARD_GRAVITY_M_PER_S2;
        let all_n = self.grip * weight_n;
        let transfer = 1.0 - self.grip * self.height_over_wheelbase;
        if transfer <= 0.0 {
            return all_n;
        }
        let static_n =
            weight_n * self.driven_weight_share - self.height_over_wheelbase * resistance_n;
        (self.grip * static_n / transfer).clamp(0.0, all_n)
    }
}

/// What holds the car back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Resistance {
    pub drag_n: f64,
    pub rolling_n: f64,
}

/// Gears between converter and axle.
#[derive(Debug, Clone, PartialEq)]
pub struct Gearbox {
    /// Ratios, lowest gear first.
    pub ratios: Vec<f64>,
    /// Share of power that mesh and bearings turn into heat.
    pub mesh_loss: f64,
    /// At the turbine, while the car moves, with fluid at its reference temperature, N·m.
    pub drag_torque_nm: f64,
    /// Turbine, input shaft and the drums that turn with it.
    pub turbine_inertia_kg_m2: f64,
}

/// Everything that moves the car.
#[derive(Debug, Clone, Copy)]
pub struct Powertrain<'a> {
    pub engine: &'a Engine,
    pub converter: &'a Characteristic,
    pub gearbox: &'a Gearbox,
    pub car: &'a Car,
    /// Engine torque on the day over that of the curve.
    pub engine_correction: f64,
    /// What the front pump takes from the crankshaft, N·m.
    pub pump_torque_nm: f64,
    /// Drag torque of the gearbox over that at the reference temperature: thick fluid drags more.
    pub drag_ratio: f64,
    pub air_density_kg_per_m3: f64,
}

/// Whether the driven wheels turn with the road.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tyre {
    Grips,
    Spins,
}

/// Speeds at one instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Motion {
    pub engine_rad_per_s: f64,
    /// Of the driven wheels; follows from the car's speed while they grip.
    pub wheel_rad_per_s: f64,
    pub car_m_per_s: f64,
}

/// Accelerations and powers at one instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rates {
    pub engine_rad_per_s2: f64,
    pub wheel_rad_per_s2: f64,
    pub car_m_per_s2: f64,
    /// Work of the engine's gas torque, W.
    pub engine_w: f64,
    /// Work of the front pump, all of it heat in its fluid, W.
    pub front_pump_w: f64,
    /// Heat in the converter, W.
    pub converter_w: f64,
    /// Heat of mesh, bearings and drag in the gearbox, W.
    pub gearbox_w: f64,
    pub axle_w: f64,
    /// Heat of spinning tyres, W.
    pub tyre_w: f64,
    pub drag_w: f64,
    pub rolling_w: f64,
    /// Traction that gripping needs less what the tyre can give, N: above zero it breaks away.
    pub excess_traction_n: f64,
}

impl Powertrain<'_> {
    /// Overall ratio in a gear (index from 0).
    #[inline]
    pub fn overall_ratio(&self, gear: usize) -> f64 {
        self.gearbox.ratios[gear.min(self.gearbox.ratios.len() - 1)] * self.car.final_drive
    }

    /// Accelerations and powers. `fluid_density_ratio` scales the converter's capacity.
    #[inline]
    pub fn rates(
        &self,
        motion: &Motion,
        gear: usize,
        tyre: Tyre,
        fluid_density_ratio: f64,
    ) -> Rates {
        let car = self.car;
        let ratio = self.overall_ratio(gear);
        let wheel_rad_per_s = match tyre {
            Tyre::Grips => motion.car_m_per_s / car.tyre_radius_m,
            Tyre::Spins => motion.wheel_rad_per_s,
        };
        let turbine_rad_per_s = wheel_rad_per_s * ratio;
        let point = self.converter.operating_point(
            motion.engine_rad_per_s,
            turbine_rad_per_s,
            fluid_density_ratio,
        );
        let engine_nm = self.engine_correction * self.engine.torque_nm(motion.engine_rad_per_s);
        // Drag fades in with the first radian per second: a held turbine is not driven backwards.
        let drag_nm =
            self.drag_ratio * self.gearbox.drag_torque_nm * turbine_rad_per_s.clamp(0.0, 1.0);
        let driving_nm = point.turbine_torque_nm - drag_nm;
        // Losses take their share whichever way the power flows.
        let mesh_nm = self.gearbox.mesh_loss * driving_nm.abs();
        let axle_in_nm = driving_nm - mesh_nm;
        let axle_nm = (1.0 - car.axle_efficiency) * axle_in_nm.abs();
        let wheel_nm = (axle_in_nm - axle_nm) * ratio;

        let resistance = car.resistance_n(motion.car_m_per_s, self.air_density_kg_per_m3);
        let resistance_n = resistance.drag_n + resistance.rolling_n;
        let inertia_kg_m2 =
            car.wheel_inertia_kg_m2 + self.gearbox.turbine_inertia_kg_m2 * ratio * ratio;
        let limit_n = car.traction_limit_n(resistance_n);
        let rolling_mass_kg = inertia_kg_m2 / car.tyre_radius_m.powi(2);
        let gripping_m_per_s2 =
            (wheel_nm / car.tyre_radius_m - resistance_n) / (car.mass_kg + rolling_mass_kg);
        let needed_n = car.mass_kg * gripping_m_per_s2 + resistance_n;
        let (car_m_per_s2, wheel_rad_per_s2, tyre_w) = match tyre {
            Tyre::Grips => (gripping_m_per_s2, gripping_m_per_s2 / car.tyre_radius_m, 0.0),
            Tyre::Spins => (
                (limit_n - resistance_n) / car.mass_kg,
                (wheel_nm - limit_n * car.tyre_radius_m) / inertia_kg_m2,
                limit_n * (wheel_rad_per_s * car.tyre_radius_m - motion.car_m_per_s),
            ),
        };
        Rates {
            engine_rad_per_s2: (engine_nm - self.pump_torque_nm - point.impeller_torque_nm)
                / self.engine.inertia_kg_m2(),
            wheel_rad_per_s2,
            car_m_per_s2,
            engine_w: engine_nm * motion.engine_rad_per_s,
            front_pump_w: self.pump_torque_nm * motion.engine_rad_per_s,
            converter_w: point.heat_w,
            gearbox_w: (drag_nm + mesh_nm) * turbine_rad_per_s,
            axle_w: axle_nm * turbine_rad_per_s,
            tyre_w,
            drag_w: resistance.drag_n * motion.car_m_per_s,
            rolling_w: resistance.rolling_n * motion.car_m_per_s,
            excess_traction_n: needed_n - limit_n,
        }
    }

    /// Kinetic energy of everything that moves, J.
    pub fn kinetic_energy_j(&self, motion: &Motion, gear: usize) -> f64 {
        let turbine_rad_per_s = motion.wheel_rad_per_s * self.overall_ratio(gear);
        0.5 * (self.engine.inertia_kg_m2() * motion.engine_rad_per_s.powi(2)
            + self.gearbox.turbine_inertia_kg_m2 * turbine_rad_per_s.powi(2)
            + self.car.wheel_inertia_kg_m2 * motion.wheel_rad_per_s.powi(2)
            + self.car.mass_kg * motion.car_m_per_s.powi(2))
    }
}
