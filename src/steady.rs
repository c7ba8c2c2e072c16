//! Loads of the transmission where nothing speeds up: the burnout, the return road, coasting after the finish.
//!
//! **Concept.** Speeds are held, so torques balance: tyres against ground, turbine against tyres through the
//! gears, engine against impeller. Capacity of the converter is that of the fluid at the start of a burnout, and that
//! of its reference temperature where slip is small anyway: on the return road and coasting.
//!
//! **Equations.** i the overall ratio, r the tyre's radius, η = (1 − mesh loss)·η_axle; turbine torque for a
//! torque T_w at the wheels: `T_t = T_w/(i·η) + T_drag`.
//! - burnout: the car stands, wheels spin: `T_w = μ_b·m·g·s·r`; the speed ratio is the largest with
//!   `TR·λ·ω² = T_t`; the highest gear in which it exists and the engine can hold the impeller is used
//! - return road: `T_w = R(v)·r`, ω_t = v·i/r in the highest gear; the engine speed is that with `TR·λ·ω² = T_t`,
//!   at least idle
//! - coasting: the turbine turns the engine, `λ(ω/ω_t)·ω_t² = T_motoring`; where that would be below idle, idle
//!
//! **Not here.** Heat of tyres and brakes; a burnout that starts against locked front wheels and creeps; lift-off
//! between gears.

use crate::converter::OperatingPoint;
use crate::error::{Error, ErrorKind};
use crate::root::rising_root;
use crate::units::rpm;
use crate::vehicle::{Powertrain, STANDARD_GRAVITY_M_PER_S2};

/// What a data log would say of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SteadyLoads {
    pub engine_rad_per_s: f64,
    /// From the engine; in overrun from the turbine.
    pub input_power_w: f64,
    /// 1 − slower speed / faster speed.
    pub slip: f64,
    pub torque_ratio: f64,
}

/// Turbine torque for a torque at the wheels, N·m.
fn turbine_torque_nm(powertrain: &Powertrain, gear: usize, wheel_nm: f64) -> f64 {
    let passed_on = (1.0 - powertrain.gearbox.mesh_loss) * powertrain.car.axle_efficiency.max(1e-3);
    wheel_nm / (powertrain.overall_ratio(gear) * passed_on)
        + powertrain.drag_ratio * powertrain.gearbox.drag_torque_nm
}

/// The loads at a pair of speeds, whichever is faster.
fn loads(point: OperatingPoint, engine_rad_per_s: f64, turbine_rad_per_s: f64) -> SteadyLoads {
    let overrun = turbine_rad_per_s > engine_rad_per_s;
    let (fast, slow) =
        (engine_rad_per_s.max(turbine_rad_per_s), engine_rad_per_s.min(turbine_rad_per_s));
    let torque_nm = point.impeller_torque_nm.abs();
    SteadyLoads {
        engine_rad_per_s,
        input_power_w: torque_nm * fast,
        slip: 1.0 - slow / fast.max(1e-9),
        torque_ratio: if overrun || torque_nm == 0.0 {
            1.0
        } else {
            point.turbine_torque_nm / point.impeller_torque_nm
        },
    }
}

/// Spinning wheels with the engine held at a speed.
pub fn burnout(
    powertrain: &Powertrain,
    engine_rad_per_s: f64,
    grip: f64,
    capacity_ratio: f64,
) -> Result<SteadyLoads, Error> {
    const STEPS: u32 = 50;
    let car = powertrain.car;
    let wheel_nm = grip
        * car.mass_kg
        * STANDARD_GRAVITY_M_PER_S2
        * car.driven_weight_share
        * car.tyre_radius_m;
    let engine_nm = powertrain.engine_correction * powertrain.engine.torque_nm(engine_rad_per_s)
        - powertrain.pump_torque_nm;
    let at = |speed_ratio: f64| {
        powertrain.converter.operating_point(
            engine_rad_per_s,
            speed_ratio * engine_rad_per_s,
            capacity_ratio,
        )
    };
    for gear in (0..powertrain.gearbox.ratios.len()).rev() {
        let wanted_nm = turbine_torque_nm(powertrain, gear, wheel_nm);
        let mut above = 1.0;
        for step in (0..STEPS).rev() {
            let below = f64::from(step) / f64::from(STEPS);
            if at(below).turbine_torque_nm >= wanted_nm {
                let speed_ratio = rising_root(below, above, 1e-12, |speed_ratio| {
                    wanted_nm - at(speed_ratio).turbine_torque_nm
                });
                let point = at(speed_ratio);
                if point.impeller_torque_nm <= engine_nm {
                    return Ok(loads(point, engine_rad_per_s, speed_ratio * engine_rad_per_s));
                }
                break;
            }
            above = below;
        }
    }
    Err(Error::new(
        ErrorKind::Unphysical,
        "burnout",
        format!("wheels that need {wheel_nm:.0} N·m to spin"),
        format!(
            "the engine has {engine_nm:.0} N·m at {:.0} rpm, too little in every gear",
            rpm(engine_rad_per_s)
        ),
        "Lower setup.car.burnout_grip, change the event's engine_speed, or state input_power and slip from a log.",
    ))
}

/// Driving at a steady speed in the highest gear, engine at idle or above.
pub fn driving(
    powertrain: &Powertrain,
    road_m_per_s: f64,
    idle_rad_per_s: f64,
) -> Result<SteadyLoads, Error> {
    let gear = powertrain.gearbox.ratios.len() - 1;
    let car = powertrain.car;
    let resistance = car.resistance_n(road_m_per_s, powertrain.air_density_kg_per_m3);
    let wheel_nm = (resistance.drag_n + resistance.rolling_n) * car.tyre_radius_m;
    let wanted_nm = turbine_torque_nm(powertrain, gear, wheel_nm);
    let turbine = road_m_per_s / car.tyre_radius_m * powertrain.overall_ratio(gear);
    let at = |engine: f64| powertrain.converter.operating_point(engine, turbine, 1.0);
    let highest = powertrain.engine.rev_limit_rad_per_s();
    let short_nm = |engine: f64| at(engine).turbine_torque_nm - wanted_nm;
    let lowest = turbine.max(idle_rad_per_s);
    if turbine >= highest || short_nm(highest) < 0.0 {
        return Err(Error::new(
            ErrorKind::Unphysical,
            "return_road",
            format!("{:.0} km/h in the highest gear", road_m_per_s * 3.6),
            "the engine cannot drive the car at this speed through this converter below its rev limit",
            "Lower the event's road_speed, or look at final drive, tyres and converter.",
        ));
    }
    // At idle the converter may already drive with more torque than the road asks for: the brakes take the rest.
    let engine = if turbine <= idle_rad_per_s && short_nm(idle_rad_per_s) >= 0.0 {
        idle_rad_per_s
    } else {
        rising_root(lowest, highest, 1e-12, short_nm).max(idle_rad_per_s)
    };
    Ok(loads(at(engine), engine, turbine))
}

/// Coasting in the highest gear with the throttle closed.
pub fn coasting(
    powertrain: &Powertrain,
    road_m_per_s: f64,
    idle_rad_per_s: f64,
    motoring_torque_nm: f64,
) -> SteadyLoads {
    let gear = powertrain.gearbox.ratios.len() - 1;
    let turbine = road_m_per_s / powertrain.car.tyre_radius_m * powertrain.overall_ratio(gear);
    let at = |engine: f64| powertrain.converter.operating_point(engine, turbine, 1.0);
    let engine = if turbine <= idle_rad_per_s {
        idle_rad_per_s
    } else {
        // The torque that the turbine gives the engine falls to nothing as the speeds meet.
        rising_root(idle_rad_per_s, turbine, 1e-12, |engine| {
            at(engine).impeller_torque_nm + motoring_torque_nm
        })
    };
    loads(at(engine), engine, turbine)
}
