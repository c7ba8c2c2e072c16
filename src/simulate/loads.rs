//! Loads of an event: as stated, held by the converter, or made by car and engine with the fluid as it is.

use super::{Day, Place};
use crate::error::{Error, ErrorKind};
use crate::steady;
use crate::timeline::{FromCar, Loads, Node};
use crate::transmission::Transmission;

impl<const B: usize, const W: usize> Day<'_, B, W> {
    /// The loads of an event: as stated, or what car and engine make of it with the fluid as it is.
    pub fn loads(&self, transmission: &Transmission, place: &Place) -> Result<Loads, Error> {
        let setup = &self.scenario.setup;
        let mut loads = place.event.loads;
        let now_k = self.temperatures_k(transmission);
        if place.event.kind.holds_turbine(&loads) {
            loads.engine_speed_rad_per_s =
                loads.engine_speed_rad_per_s.min(self.held_limit_rad_per_s(transmission, place)?);
            return Ok(loads);
        }
        let Some(from_car) = place.event.kind.from_car().filter(|_| loads.from_car) else {
            return Ok(loads);
        };
        let losses = transmission.losses(now_k[Node::PanFluid.index()]);
        let powertrain = transmission.drive().powertrain(losses);
        let idle_rad_per_s = setup.engine.idle_speed_rad_per_s;
        let steady = match from_car {
            FromCar::Spinning => steady::burnout(
                &powertrain,
                loads.engine_speed_rad_per_s,
                setup.car.burnout_grip,
                transmission.capacity_ratio(now_k[Node::ConverterFluid.index()]),
            ),
            FromCar::Driving => {
                steady::driving(&powertrain, loads.road_speed_m_per_s, idle_rad_per_s)
            }
            FromCar::Coasting => Ok(steady::coasting(
                &powertrain,
                loads.road_speed_m_per_s,
                idle_rad_per_s,
                setup.engine.motoring_torque_nm,
            )),
        }
        .map_err(|error| place.named(error))?;
        Ok(Loads {
            engine_speed_rad_per_s: steady.engine_rad_per_s,
            input_power_w: steady.input_power_w,
            slip: steady.slip,
            torque_ratio: steady.torque_ratio,
            ..loads
        })
    }

    /// The most that the engine reaches against the held turbine: where engine and converter balance, or the rev limit
    /// when the converter is too loose to hold it.
    fn held_limit_rad_per_s(
        &self,
        transmission: &Transmission,
        place: &Place,
    ) -> Result<f64, Error> {
        let now_k = self.temperatures_k(transmission);
        match transmission.flash(&now_k) {
            Ok(flash) => Ok(flash.speed_rad_per_s),
            Err(_) if transmission.is_loose(&now_k) => {
                Ok(self.scenario.setup.engine.rev_limit_rad_per_s)
            }
            Err(error) => Err(Error::new(
                ErrorKind::Unphysical,
                place.field(),
                error.value.as_str(),
                format!(
                    "the engine never turns against this converter: its torque must exceed what converter and front pump take ({:.0} N·m for the pump alone)",
                    transmission.losses(now_k[Node::PanFluid.index()]).pump_torque_nm
                ),
                "Look at the torque curve, use a looser converter (a larger k_factor), or thinner or warmer fluid.",
            )),
        }
    }
}
