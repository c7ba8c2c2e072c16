//! What flows in a mode, and what depends on it, against the temperature of the fluid in the pan.
//!
//! Solving pumps and circuits is costly and a day asks for it a hundred thousand times, so every mode has a
//! [`Survey`]: solved at the few points of a 2.5 K grid that the pan comes near, smooth between them (99 of 100
//! values within 0.1 % of the direct solution, 1 % right where a relief valve opens). Modes come again every round;
//! their surveys are kept.
//!
//! Not here: pumps and circuits themselves (see `plumbing`), heat (see `transmission`).

use std::cell::{OnceCell, RefCell};
use std::rc::Rc;

use crate::air::{SPECIFIC_HEAT_J_PER_KG_K, air_properties};
use crate::cooler::{Arrangement, CoolerConductances, air_side_ua, core_conductances};
use crate::curve::Survey;
use crate::fluid::Fluid;
use crate::hydraulics::{CirculationPoint, FrontPumpPoint};
use crate::network::{QUANTITIES, Quantities, THERMAL_QUANTITIES};
use crate::plumbing::Plumbing;
use crate::scenario::parameters::Setup;
use crate::timeline::Route;

/// Pan temperatures (K) over which flows are surveyed: −40 to 200 °C, and how many.
const RANGE_K: (f64, f64) = (233.15, 473.15);
const POINTS: usize = 97;
/// Temperature at which the cooler's stream capacities are taken (80 °C, K).
const COOLER_REFERENCE_K: f64 = 353.15;
/// Speed at which turning links are stated: 5 000 rpm, in rad/s.
const TURNING_REFERENCE_RAD_PER_S: f64 = 5_000.0 * std::f64::consts::PI / 30.0;

/// Places of the surveyed quantities.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quantity {
    /// m³/s through converter, cooler and lubrication.
    FrontPumpFlow,
    /// W.
    FrontPumpHeat,
    /// m³/s.
    CirculationFlow,
    /// W, in the fluid.
    CirculationHeat,
    /// ε of the cooler's oil side.
    OilEffectiveness,
    /// W/K.
    CoreToAir,
    /// W/K.
    FluidToShell,
    /// Drag torque of the gearbox over that at 80 °C, without the bound at freezing.
    DragRatio,
    // What follows decides no heat flow (see `network::THERMAL_QUANTITIES`).
    /// A.
    CirculationCurrent,
    /// Pa, of the front pump.
    LinePressure,
    /// Pa, at the converter's inlet.
    ChargePressure,
}

/// The first quantities are those that decide heat flows.
const _: () = assert!(Quantity::DragRatio as usize + 1 == THERMAL_QUANTITIES);

impl Quantity {
    /// Place in [`Quantities`].
    pub fn index(self) -> usize {
        self as usize
    }
}

/// Quantities of a mode against pan temperature (K).
pub type FlowSurvey = Survey<QUANTITIES>;

/// What decides the flows of a mode, apart from temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlowMode {
    /// Zero with the engine off.
    pub engine_rad_per_s: f64,
    pub road_m_per_s: f64,
    pub route: Option<Route>,
    pub fan: bool,
}

impl FlowMode {
    /// Share of a turning link: (speed / 5 000 rpm)^0.8.
    pub fn turning(&self) -> f64 {
        (self.engine_rad_per_s / TURNING_REFERENCE_RAD_PER_S).powf(0.8)
    }
}

/// The flows of one set-up.
pub struct Flows {
    parts: Rc<Parts>,
    surveys: Vec<(FlowMode, Rc<FlowSurvey>)>,
}

struct Parts {
    setup: Setup,
    plumbing: Plumbing,
    oil_w_per_k_per_flow: f64,
    air_w_per_k_per_flow: f64,
    /// The circulation pump at the points of the grid, by route: alike in all modes.
    circulation: [Vec<OnceCell<CirculationPoint>>; Route::ALL.len()],
    /// The front pump at the points of the grid, by engine speed: alike in all modes with that speed.
    front: RefCell<Vec<(f64, [Option<FrontPumpPoint>; POINTS])>>,
}

impl Flows {
    /// Pumps and circuits sized; nothing else solved yet.
    pub fn new(setup: &Setup, fluid: Fluid) -> Flows {
        let air = air_properties(setup.air.temperature_k, setup.air.pressure_pa);
        let parts = Parts {
            setup: setup.clone(),
            plumbing: Plumbing::new(setup, fluid),
            oil_w_per_k_per_flow: fluid.density_kg_per_m3(COOLER_REFERENCE_K)
                * fluid.specific_heat_j_per_kg_k(COOLER_REFERENCE_K),
            air_w_per_k_per_flow: air.density_kg_per_m3 * SPECIFIC_HEAT_J_PER_KG_K,
            front: RefCell::new(Vec::new()),
            circulation: Route::ALL.map(|_| (0..POINTS).map(|_| OnceCell::new()).collect()),
        };
        Flows { parts: Rc::new(parts), surveys: Vec::new() }
    }

    /// Pumps and circuits.
    pub fn plumbing(&self) -> &Plumbing {
        &self.parts.plumbing
    }

    /// The survey of a mode.
    pub fn survey(&mut self, mode: &FlowMode) -> Rc<FlowSurvey> {
        if let Some((_, survey)) = self.surveys.iter().find(|(known, _)| known == mode) {
            return Rc::clone(survey);
        }
        let (parts, own) = (Rc::clone(&self.parts), *mode);
        let survey = Rc::new(Survey::new(RANGE_K.0, RANGE_K.1, POINTS, move |pan_k| {
            let circulation = own.route.map(|route| parts.circulation_at_grid(route, pan_k));
            let front = parts.front_at_grid(own.engine_rad_per_s, pan_k);
            parts.quantities(&own, pan_k, &front, circulation)
        }));
        self.surveys.push((*mode, Rc::clone(&survey)));
        survey
    }
}

/// The point of the grid nearest to a pan temperature (K).
fn grid_place(pan_k: f64) -> usize {
    let share = (pan_k - RANGE_K.0) / (RANGE_K.1 - RANGE_K.0);
    ((share * (POINTS - 1) as f64).round() as usize).min(POINTS - 1)
}

impl Parts {
    fn front_at_grid(&self, engine_rad_per_s: f64, pan_k: f64) -> FrontPumpPoint {
        let mut speeds = self.front.borrow_mut();
        let known = speeds.iter().position(|(speed, _)| *speed == engine_rad_per_s);
        let known = known.unwrap_or_else(|| {
            speeds.push((engine_rad_per_s, [None; POINTS]));
            speeds.len() - 1
        });
        *speeds[known].1[grid_place(pan_k)]
            .get_or_insert_with(|| self.plumbing.front(engine_rad_per_s, pan_k))
    }

    fn circulation_at_grid(&self, route: Route, pan_k: f64) -> CirculationPoint {
        *self.circulation[route as usize][grid_place(pan_k)]
            .get_or_init(|| self.plumbing.circulation(route, pan_k))
    }

    fn quantities(
        &self,
        mode: &FlowMode,
        pan_k: f64,
        front: &FrontPumpPoint,
        circulation: Option<CirculationPoint>,
    ) -> Quantities {
        let converter = &self.setup.converter;
        let circulation_m3_per_s = circulation.map_or(0.0, |point| point.flow_m3_per_s);
        let through_converter = match mode.route {
            Some(Route::ThroughConverter | Route::CoolerFirst) => circulation_m3_per_s,
            _ => 0.0,
        };
        let cooler = self.cooler(mode, front.cooler_flow_m3_per_s + circulation_m3_per_s);
        let mut quantities = [0.0; QUANTITIES];
        for (quantity, value) in [
            (Quantity::FrontPumpFlow, front.cooler_flow_m3_per_s),
            (Quantity::FrontPumpHeat, front.shaft_power_w),
            (Quantity::CirculationFlow, circulation_m3_per_s),
            (Quantity::CirculationHeat, circulation.map_or(0.0, |point| point.fluid_heat_w)),
            (Quantity::CirculationCurrent, circulation.map_or(0.0, |point| point.current_a)),
            (Quantity::LinePressure, front.line_pressure_pa),
            (Quantity::ChargePressure, front.charge_pressure_pa),
            (Quantity::DragRatio, self.plumbing.drag_ratio(pan_k)),
            (Quantity::OilEffectiveness, cooler.oil_effectiveness),
            (Quantity::CoreToAir, cooler.core_to_air_w_per_k),
            (
                Quantity::FluidToShell,
                converter.link_at_rest_w_per_k
                    + converter.link_per_flow * (front.cooler_flow_m3_per_s + through_converter)
                    + converter.link_turning_w_per_k * mode.turning(),
            ),
        ] {
            quantities[quantity.index()] = value;
        }
        quantities
    }

    fn cooler(&self, mode: &FlowMode, oil_flow_m3_per_s: f64) -> CoolerConductances {
        let cooler = &self.setup.cooler;
        let blown_m3_per_s = if mode.fan {
            cooler.fan_air_flow_m3_per_s.max(cooler.still_air_flow_m3_per_s)
        } else {
            cooler.still_air_flow_m3_per_s
        };
        let ram_m3_per_s = mode.road_m_per_s * cooler.ram_area_m2;
        let air_flow_m3_per_s =
            (blown_m3_per_s * blown_m3_per_s + ram_m3_per_s * ram_m3_per_s).sqrt();
        let oil_ua_rated = cooler.ua_w_per_k / cooler.oil_side_share;
        let air_ua_rated = cooler.ua_w_per_k / (1.0 - cooler.oil_side_share);
        let oil_flow_ratio = oil_flow_m3_per_s / cooler.rated_oil_flow_m3_per_s;
        core_conductances(
            Arrangement::CrossflowUnmixed,
            oil_ua_rated * oil_flow_ratio.powf(0.4),
            air_side_ua(air_ua_rated, air_flow_m3_per_s, cooler.rated_air_flow_m3_per_s),
            oil_flow_m3_per_s * self.oil_w_per_k_per_flow,
            air_flow_m3_per_s * self.air_w_per_k_per_flow,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Between its points a survey is as good as solving anew, from freezing to hotter than fluid should be.
    #[test]
    fn a_survey_follows_the_direct_solution() {
        let setup = Setup::default();
        let fluid = Fluid::new(34.0, 7.2, 860.0);
        let mut flows = Flows::new(&setup, fluid);
        let mut errors = Vec::new();
        for (engine_rad_per_s, road_m_per_s, route, fan) in [
            (0.0, 0.0, Some(Route::PanLoop), true),
            (0.0, 8.0, Some(Route::ThroughConverter), false),
            (115.0, 0.0, None, false),
            (115.0, 0.0, Some(Route::CoolerFirst), true),
            (440.0, 0.0, None, true),
            (680.0, 40.0, Some(Route::PanLoop), false),
        ] {
            let mode = FlowMode { engine_rad_per_s, road_m_per_s, route, fan };
            let survey = flows.survey(&mode);
            for step in 0..150 {
                let pan_k = 274.0 + f64::from(step);
                let circulation = route.map(|route| flows.parts.plumbing.circulation(route, pan_k));
                let front = flows.parts.plumbing.front(engine_rad_per_s, pan_k);
                let exact = flows.parts.quantities(&mode, pan_k, &front, circulation);
                let got = survey.at(pan_k);
                for q in 0..QUANTITIES {
                    let error = (got[q] - exact[q]).abs() / exact[q].abs().max(1e-12);
                    if exact[q] != 0.0 {
                        errors.push(error);
                    }
                }
            }
        }
        errors.sort_by(f64::total_cmp);
        let worst = errors[errors.len() - 1];
        let most = errors[errors.len() * 99 / 100];
        // The kink is where the circulation pump's relief valve opens, in fluid of 17 °C.
        assert!(most < 1e-3 && worst < 1e-2, "{most:.1e}, at a kink {worst:.1e}");
    }
}
