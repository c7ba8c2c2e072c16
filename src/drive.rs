//! A set-up as engine, converter, gears and car: the parts that `vehicle` moves.
//!
//! Capacity. At one speed the torque that the converter takes goes with the density of its fluid. A stall
//! speed that moves more than density explains (charge pressure falls as fluid thins) is stated as rpm
//! per 10 °C, s: torque then also goes with `(1 + s·(T − T_ref)/(10 K)/ω_ref)⁻²`, ω_ref the stall speed at
//! the K-factor's reference temperature. With s = 0 it is density alone.
//!
//! Air. Engine torque is that of its curve divided by the SAE J1349 factor of the day's weather; drag goes with the
//! density of moist air.

use crate::converter::{
    Characteristic, StallMatch, own_characteristic, race_characteristic, stall_match,
    stall_torque_nm,
};
use crate::curve::Curve;
use crate::engine::{Engine, Peaks, REV_LIMIT_FADE_RAD_PER_S, TorqueCurve};
use crate::error::Error;
use crate::fluid::Fluid;
use crate::scenario::parameters::Setup;
use crate::vehicle::{Car, Gearbox, Powertrain};

/// Stall speeds are looked for from here (rad/s) to the rev limit.
const LOWEST_STALL_RAD_PER_S: f64 = 60.0;

/// What the fluid takes from engine and gearbox at a temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FluidLosses {
    /// Front pump, at the crankshaft, N·m.
    pub pump_torque_nm: f64,
    /// Drag torque of the gearbox over that at 80 °C.
    pub drag_ratio: f64,
}

/// The moving parts of a set-up.
#[derive(Debug, Clone, PartialEq)]
pub struct Drive {
    engine: Engine,
    converter: Characteristic,
    gearbox: Gearbox,
    car: Car,
    k_factor: f64,
    engine_correction: f64,
    air_density_kg_per_m3: f64,
}

impl Drive {
    /// Builds the parts; an error where two numbers of the engine or the converter contradict each other.
    pub fn new(setup: &Setup) -> Result<Drive, Error> {
        let curve = if setup.torque_curve.is_empty() {
            TorqueCurve::from_peaks(
                "setup.engine",
                Peaks {
                    torque_nm: setup.engine.peak_torque_nm,
                    torque_speed_rad_per_s: setup.engine.peak_torque_speed_rad_per_s,
                    power_w: setup.engine.peak_power_w,
                    power_speed_rad_per_s: setup.engine.peak_power_speed_rad_per_s,
                },
            )?
        } else {
            TorqueCurve::from_points("setup.engine.torque_curve", &setup.torque_curve)?
        };
        let engine = Engine::new(
            "setup.engine",
            curve,
            setup.engine.rev_limit_rad_per_s,
            setup.engine.inertia_kg_m2,
        )?
        .tabulated();
        let weather = setup.weather();
        Ok(Drive {
            engine,
            converter: match &setup.converter_table {
                Some(table) => {
                    own_characteristic("setup.converter.table", setup.converter.k_factor, table)?
                }
                None => race_characteristic(
                    "setup.converter",
                    setup.converter.k_factor,
                    setup.converter.stall_torque_ratio,
                )?,
            },
            gearbox: Gearbox {
                ratios: setup.gears(),
                mesh_loss: setup.transmission.mesh_loss,
                drag_torque_nm: setup.transmission.drag_torque_nm,
                turbine_inertia_kg_m2: setup.gearbox.turbine_inertia_kg_m2,
            },
            car: Car {
                mass_kg: setup.car.mass_kg,
                tyre_radius_m: 0.5 * setup.car.tyre_diameter_m,
                final_drive: setup.car.final_drive,
                axle_efficiency: setup.car.axle_efficiency,
                grip: setup.car.grip,
                driven_weight_share: setup.car.driven_weight_share,
                height_over_wheelbase: setup.car.height_over_wheelbase,
                drag_area_m2: setup.car.drag_area_m2,
                rolling_resistance: setup.car.rolling_resistance,
                wheel_inertia_kg_m2: setup.car.wheel_inertia_kg_m2,
            },
            k_factor: setup.converter.k_factor,
            engine_correction: 1.0 / weather.sae_j1349_1990_factor(),
            air_density_kg_per_m3: weather.density_kg_per_m3(),
        })
    }

    /// The parts, joined, with what the fluid takes.
    pub fn powertrain(&self, losses: FluidLosses) -> Powertrain<'_> {
        Powertrain {
            engine: &self.engine,
            converter: &self.converter,
            gearbox: &self.gearbox,
            car: &self.car,
            engine_correction: self.engine_correction,
            pump_torque_nm: losses.pump_torque_nm,
            drag_ratio: losses.drag_ratio,
            air_density_kg_per_m3: self.air_density_kg_per_m3,
        }
    }

    /// Flash speed: where engine, less what the front pump takes, and stalled converter balance at a capacity
    /// ratio.
    pub fn flash(&self, capacity_ratio: f64, pump_torque_nm: f64) -> Result<StallMatch, Error> {
        stall_match(
            |speed| self.engine_correction * self.engine.torque_nm(speed) - pump_torque_nm,
            self.k_factor / capacity_ratio.max(1e-6).sqrt(),
            (LOWEST_STALL_RAD_PER_S, self.full_torque_to_rad_per_s()),
        )
    }

    /// Whether the engine is stronger than the stalled converter right up to its rev limit.
    pub fn is_loose(&self, capacity_ratio: f64, pump_torque_nm: f64) -> bool {
        let highest = self.full_torque_to_rad_per_s();
        let taken_nm = capacity_ratio * stall_torque_nm(highest, self.k_factor) + pump_torque_nm;
        self.engine_correction * self.engine.torque_nm(highest) > taken_nm
    }

    /// Speed up to which the rev limit takes nothing off.
    pub fn full_torque_to_rad_per_s(&self) -> f64 {
        self.engine.rev_limit_rad_per_s() - REV_LIMIT_FADE_RAD_PER_S
    }

    /// Capacity ratio against fluid temperature (K).
    pub fn capacity_curve(&self, setup: &Setup, fluid: &Fluid, pump_torque_nm: f64) -> Curve {
        let reference_k = setup.converter.k_reference_k;
        let reference_density = fluid.density_kg_per_m3(reference_k);
        let rise_per_k = setup.converter.stall_per_10_c_rad_per_s / 10.0;
        // A day that never stalls the converter may have an engine that does not match it.
        let reference_rad_per_s =
            self.flash(1.0, pump_torque_nm).map_or(f64::INFINITY, |flash| flash.speed_rad_per_s);
        Curve::tabulate(220.0, 700.0, 97, |temperature_k| {
            let rise = (rise_per_k * (temperature_k - reference_k) / reference_rad_per_s).max(-0.5);
            fluid.density_kg_per_m3(temperature_k) / reference_density / (1.0 + rise).powi(2)
        })
    }
}
