//! A computed pass in the day: motion and heat in one system of equations.

use ode_solvers::SVector;

use super::{Day, MAX_TEMPERATURE_K, Outcome, Place, record_event, record_switch, too_hot_error};
use crate::error::{Error, ErrorKind};
use crate::network::{FlatNetwork, Scaling};
use crate::pass::{self, Coupling, Course, MeanSpeeds, PASS_BOOKS, PASS_STATES, PassResult};
use crate::plumbing::RATING_K;
use crate::scenario::Scenario;
use crate::scenario::parameters::Setup;
use crate::solver::Tolerance;
use crate::timeline::{EventKind, Loads, NODES, Node};
use crate::trace::{EndedBy, Trace};
use crate::transmission::{Mode, Path, Transmission};
use crate::units::rpm;
use crate::vehicle::Rates;

/// Heat and motion together.
const WHOLE: usize = NODES + PASS_STATES;

/// The thermal network under a pass: takes the heat that motion makes, and gives the converter its capacity.
struct Heat<'a> {
    network: &'a FlatNetwork,
    scaling: &'a Scaling,
}

impl<const W: usize> Coupling<WHOLE, W> for Heat<'_> {
    fn capacity_ratio(&self, state: &SVector<f64, WHOLE>) -> f64 {
        self.network.capacity_ratio(self.scaling, state, Node::ConverterFluid.index())
    }

    fn fill(
        &self,
        state: &SVector<f64, WHOLE>,
        derivative: &mut SVector<f64, WHOLE>,
        books_w: &mut SVector<f64, W>,
    ) -> f64 {
        let temperature_k = if W == PASS_BOOKS {
            self.network.derivative_alone(self.scaling, state, derivative)
        } else {
            self.network.derivative(self.scaling, state, derivative, books_w)
        };
        self.network.capacity_at(temperature_k[Node::ConverterFluid.index()])
    }

    fn add_motion(
        &self,
        derivative: &mut SVector<f64, WHOLE>,
        books_w: &mut SVector<f64, W>,
        rates: &Rates,
    ) {
        for (node, path, heat_w) in [
            (Node::ConverterFluid, Path::ConverterShear, rates.converter_w),
            (Node::GearTrain, Path::GearTrain, rates.gearbox_w),
            (Node::PanFluid, Path::FrontPump, rates.front_pump_w),
        ] {
            self.scaling.add_heat(derivative, node.index(), heat_w);
            if W > PASS_BOOKS {
                books_w[path.index()] += heat_w;
            }
        }
    }

    fn shift(&self, state: &mut SVector<f64, WHOLE>, books_j: &mut SVector<f64, W>, heat_j: f64) {
        self.scaling.add_heat(state, Node::GearTrain.index(), heat_j);
        if W > PASS_BOOKS {
            books_j[Path::GearTrain.index()] += heat_j;
        }
    }
}

/// Motion alone, with fluid at its reference. Heat stands still beside it: passes of both kinds are one function.
struct Nominal;

impl<const W: usize> Coupling<WHOLE, W> for Nominal {
    fn capacity_ratio(&self, _: &SVector<f64, WHOLE>) -> f64 {
        1.0
    }

    fn fill(
        &self,
        _: &SVector<f64, WHOLE>,
        derivative: &mut SVector<f64, WHOLE>,
        _: &mut SVector<f64, W>,
    ) -> f64 {
        derivative.fixed_rows_mut::<NODES>(0).fill(0.0);
        1.0
    }

    fn add_motion(&self, _: &mut SVector<f64, WHOLE>, _: &mut SVector<f64, W>, _: &Rates) {}

    fn shift(&self, _: &mut SVector<f64, WHOLE>, _: &mut SVector<f64, W>, _: f64) {}
}

impl<const B: usize, const W: usize> Day<'_, B, W> {
    /// Passes are integrated three times finer than the rest of the day: milliseconds count there, and the engine's
    /// work must be found again to 1e-6. It costs little, for stability bounds most of their steps.
    fn pass_tolerance(&self) -> Tolerance {
        Tolerance {
            relative: self.tolerance.relative / 3.0,
            absolute: self.tolerance.absolute / 3.0,
        }
    }

    /// Mean speeds of a pass over a distance with fluid at its reference, launched from the flash speed: links and
    /// flows of every pass over it are those of these.
    fn nominal_speeds(
        &mut self,
        transmission: &mut Transmission,
        distance_m: f64,
    ) -> Result<MeanSpeeds, Error> {
        let key = (distance_m, self.tolerance);
        if let Some(speeds) = transmission.nominal_speeds(key) {
            return Ok(speeds);
        }
        let losses = transmission.losses(RATING_K);
        let launch_rad_per_s = transmission
            .drive()
            .flash(1.0, losses.pump_torque_nm)
            .map_or(self.scenario.setup.engine.idle_speed_rad_per_s, |flash| flash.speed_rad_per_s);
        let run = pass::run::<WHOLE, W>(
            &transmission.drive().powertrain(losses),
            &course(&self.scenario.setup, launch_rad_per_s, distance_m),
            &SVector::zeros(),
            &Nominal,
            self.pass_tolerance(),
        )?;
        self.trace.evaluations += u64::from(run.evaluations);
        let speeds = run.result.mean_speeds();
        transmission.keep_nominal_speeds(key, speeds);
        Ok(speeds)
    }

    /// Runs a computed pass.
    pub fn run_pass(
        &mut self,
        transmission: &mut Transmission,
        place: &Place,
        distance_m: f64,
    ) -> Result<(), Error> {
        let start_s = self.time_s;
        let first_sample = self.trace.samples.len() - 1;
        let now_k = self.temperatures_k(transmission);
        let flash_rad_per_s = checked_flash_rad_per_s(transmission, &now_k, place)?;
        let launch_rad_per_s = launch_rad_per_s(self.scenario, &self.trace, flash_rad_per_s);
        let course = course(&self.scenario.setup, launch_rad_per_s, distance_m);
        let means =
            self.nominal_speeds(transmission, distance_m).map_err(|error| place.named(error))?;
        let route = place.event.circulation.first().map(|pump| pump.route);
        let fan = !place.event.fan.is_empty();
        let mode = Mode {
            kind: EventKind::Pass,
            loads: Loads {
                engine_speed_rad_per_s: means.engine_rad_per_s,
                road_speed_m_per_s: means.car_m_per_s,
                torque_ratio: 1.0,
                ..Loads::default()
            },
            shift_heat_w: 0.0,
            route,
            fan,
        };
        let mut network = transmission.network(&mode);
        let from_motion = [Path::ConverterShear, Path::GearTrain, Path::FrontPump];
        network.sources.retain(|source| from_motion.iter().all(|path| path.index() != source.path));

        let pan_k = now_k[Node::PanFluid.index()];
        let mut start = SVector::<f64, WHOLE>::zeros();
        start.fixed_rows_mut::<NODES>(0).copy_from(&self.state);
        let network = FlatNetwork::new(&network);
        let coupling = Heat { network: &network, scaling: &self.scaling };
        let powertrain = transmission.drive().powertrain(transmission.losses(pan_k));
        let run =
            pass::run::<WHOLE, W>(&powertrain, &course, &start, &coupling, self.pass_tolerance())
                .map_err(|error| place.named(error))?;
        self.trace.evaluations += u64::from(run.evaluations);
        self.steps_left = self.steps_left.saturating_sub(run.steps);

        let survey = transmission.survey(&mode);
        let start_j = self.booked_j;
        for (time_s, state, booked_j) in run.states.iter().skip(1) {
            self.state.copy_from(&state.fixed_rows::<NODES>(0));
            self.booked_j = start_j + booked_j.fixed_rows::<B>(0);
            let now_k = self.temperatures_k(transmission);
            self.advance_to(start_s + time_s, &now_k, &mode, &survey);
            self.sample(now_k);
            if now_k.into_iter().any(|node_k| node_k > MAX_TEMPERATURE_K) {
                return Err(too_hot_error(&self.trace, place, self.time_s));
            }
        }
        record_switch(&mut self.trace, route.map(Some), start_s, self.time_s);
        record_switch(&mut self.trace, fan.then_some(None), start_s, self.time_s);
        let end_k = self.temperatures_k(transmission);
        let outcome = Outcome {
            start_s,
            first_sample,
            ended_by: EndedBy::Time,
            loads: pass_loads(&run.result),
            pass: Some(run.result),
            surveyed: survey.at(end_k[Node::PanFluid.index()]),
        };
        record_event(&mut self.trace, self.time_s, place, outcome);
        Ok(())
    }
}

/// Engine speed when the brake lets go: what the hold (or the staging) just before asks for, at most the flash speed
/// of this moment; without either, idle.
fn launch_rad_per_s(scenario: &Scenario, trace: &Trace, flash_rad_per_s: f64) -> f64 {
    let idle_rad_per_s = scenario.setup.engine.idle_speed_rad_per_s;
    let Some(hold) = trace
        .events
        .last()
        .filter(|event| matches!(event.kind, EventKind::BrakeHold | EventKind::Stage))
    else {
        return idle_rad_per_s;
    };
    let wanted_rad_per_s = match hold.place {
        Some((block, event)) => scenario.blocks[block].events[event].loads.engine_speed_rad_per_s,
        None => hold.loads.engine_speed_rad_per_s,
    };
    wanted_rad_per_s.min(flash_rad_per_s)
}

fn course(setup: &Setup, launch_rad_per_s: f64, distance_m: f64) -> Course {
    Course {
        launch_rad_per_s,
        shift_rad_per_s: setup.gearbox.shift_speed_rad_per_s,
        rollout_m: setup.car.rollout_m,
        finish_m: distance_m,
    }
}

/// Flash speed at the launch; infinite where engine and converter balance nowhere because the engine is too weak.
/// A shift speed that the engine passes on the spot means that low gear is never used.
fn checked_flash_rad_per_s(
    transmission: &Transmission,
    now_k: &[f64; NODES],
    place: &Place,
) -> Result<f64, Error> {
    let shift_rad_per_s = transmission.setup().gearbox.shift_speed_rad_per_s;
    let flash_rad_per_s = match transmission.flash(now_k) {
        Ok(flash) => flash.speed_rad_per_s,
        Err(error) if transmission.is_loose(now_k) => {
            return Err(Error::new(
                ErrorKind::Contradiction,
                place.field(),
                error.value.as_str(),
                format!(
                    "the engine reaches its rev limit against this converter before the car moves; they must balance below {:.0} rpm",
                    rpm(transmission.drive().full_torque_to_rad_per_s())
                ),
                "Use a tighter converter (a smaller k_factor or stall_speed), or check the torque curve.",
            ));
        }
        Err(_) => return Ok(f64::INFINITY),
    };
    if flash_rad_per_s < shift_rad_per_s {
        return Ok(flash_rad_per_s);
    }
    Err(Error::new(
        ErrorKind::Contradiction,
        place.field(),
        format!("a shift speed of {:.0} rpm", rpm(shift_rad_per_s)),
        format!(
            "must lie above {:.0} rpm, where engine and stalled converter balance with fluid this hot",
            rpm(flash_rad_per_s)
        ),
        "Raise setup.gearbox.shift_speed, or use a tighter converter (a smaller k_factor or stall_speed).",
    ))
}

/// Means of a computed pass, as a log of it would have them.
fn pass_loads(pass: &PassResult) -> Loads {
    let duration_s = pass.duration_s.max(1e-9);
    let means = pass.mean_speeds();
    let energy = &pass.energy;
    let input_j = energy.engine_j - energy.front_pump_j;
    Loads {
        engine_speed_rad_per_s: means.engine_rad_per_s,
        input_power_w: input_j / duration_s,
        slip: if input_j > 0.0 { (energy.converter_j / input_j).clamp(0.0, 1.0) } else { 0.0 },
        torque_ratio: 1.0,
        road_speed_m_per_s: means.car_m_per_s,
        from_car: true,
        ..Loads::default()
    }
}
