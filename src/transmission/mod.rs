//! The transmission as a thermal network: seven nodes, and what links them in each mode.
//!
//! | node | holds heat in | made there |
//! |---|---|---|
//! | converter fluid | its fill | shear: all slip power of the converter |
//! | converter shell | steel | |
//! | pan fluid | fluid in pan and case | front pump, circulation pump |
//! | gear train | steel | mesh, drag, shifts |
//! | case | aluminium | |
//! | cooler core | core metal and the fluid in cooler and lines | |
//! | engine | block and coolant | outside the ledger: a neighbour that gives and takes |
//!
//! Converter at stall: `T = (ω/K)²·ρ/ρ_ref`, and with the turbine held all the power `T·ω` becomes heat in
//! the fluid. With stated power and slip: `P·(1 − (1 − slip)·TR)`.
//! Links with turning parts grow with engine speed to the power 0.8 (turbulent convection). The case loses
//! heat like a horizontal cylinder in natural and cross-flow convection, and by radiation. The cooler is
//! an effectiveness–NTU exchanger (cross-flow, both unmixed) whose core has its own lag.
//!
//! Streams. Engine running: pan → front pump → converter → cooler → lubrication → pan. Circulation pump:
//! one of the three routes of `timeline::Route`. When both run, the cooler sees the sum of their flows.
//!
//! Masses of fluid per node are constant, at their density at 15 °C: a hot converter pushes a few per cent
//! of its fill into the pan, which is left out. In neutral the converter's own slip heat (some tens of
//! watts) is left out; drag behind it is not.

mod path;

use std::rc::Rc;

use crate::convection::cylinder_convection_w_per_m2_k;
use crate::converter::{StallMatch, slip_heat_w, stall_heat_w};
use crate::curve::{Curve, Survey};
use crate::drive::{Drive, FluidLosses};
use crate::error::Error;
use crate::flows::{FlowMode, FlowSurvey, Flows, Quantity};
use crate::network::{
    End, Follows, HeatContent, Law, Link, Network, Share, Source, Stop, Stream, StreamFlow,
};
use crate::pass::MeanSpeeds;
use crate::plumbing::{FREEZING_K, RATING_K};
use crate::scenario::parameters::Setup;
use crate::solver::Tolerance;
use crate::timeline::{Event, EventKind, Loads, NODES, Node, Route};

pub use path::{PATHS, Path};

/// Specific heat of steel, J/(kg·K) (plain carbon steel at 400 K: 487, at 300 K: 434; Incropera table A.1).
pub const STEEL_J_PER_KG_K: f64 = 470.0;
/// Specific heat of aluminium, J/(kg·K) (pure at 300 K: 903; Incropera table A.1).
pub const ALUMINIUM_J_PER_KG_K: f64 = 900.0;

/// What holds during one smooth piece of time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mode {
    pub kind: EventKind,
    pub loads: Loads,
    /// Mean heat of shifts during the event, W.
    pub shift_heat_w: f64,
    pub route: Option<Route>,
    pub fan: bool,
}

impl Mode {
    /// The mode of an event with the switches in the given positions.
    pub fn new(setup: &Setup, event: &Event, route: Option<Route>, fan: bool) -> Mode {
        let shift_heat_w = match event.longest_s() {
            Some(longest_s) => event.loads.shifts * setup.transmission.shift_heat_j / longest_s,
            None => 0.0,
        };
        Mode { kind: event.kind, loads: event.loads, shift_heat_w, route, fan }
    }

    /// What decides its flows.
    pub fn flow(&self) -> FlowMode {
        FlowMode {
            engine_rad_per_s: self.engine_speed_rad_per_s(),
            road_m_per_s: self.loads.road_speed_m_per_s,
            route: self.route,
            fan: self.fan,
        }
    }

    fn engine_runs(&self) -> bool {
        self.kind.engine_runs()
    }

    /// Engine speed (rad/s), zero with the engine off.
    fn engine_speed_rad_per_s(&self) -> f64 {
        if self.engine_runs() { self.loads.engine_speed_rad_per_s } else { 0.0 }
    }

    /// The turbine is held: in gear with the car standing.
    fn stalled(&self) -> bool {
        self.kind.holds_turbine(&self.loads)
    }
}

/// Heat made in a mode (W); the converter's at the K-factor's reference density when stalled.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatMade {
    pub converter_w: f64,
    /// Mesh, bearings and shifts.
    pub gear_train_w: f64,
    /// Drag, with fluid of 80 °C.
    pub drag_w: f64,
}

/// Heat made in a mode.
pub fn heat_made(setup: &Setup, mode: &Mode) -> HeatMade {
    let speed_rad_per_s = mode.engine_speed_rad_per_s();
    let loads = &mode.loads;
    let converter_w = if mode.stalled() {
        stall_heat_w(speed_rad_per_s, setup.converter.k_factor)
    } else {
        slip_heat_w(loads.input_power_w, loads.slip, loads.torque_ratio)
    };
    let transmitted_w =
        if mode.stalled() { 0.0 } else { (loads.input_power_w - converter_w).max(0.0) };
    let gear_train_w = if mode.stalled() {
        0.0
    } else {
        setup.transmission.mesh_loss * transmitted_w + mode.shift_heat_w
    };
    let drag_w =
        if mode.stalled() { 0.0 } else { setup.transmission.drag_torque_nm * speed_rad_per_s };
    HeatMade { converter_w, gear_train_w, drag_w }
}

/// The transmission of one set-up: what does not change during a day, and curves worth keeping.
pub struct Transmission<'a> {
    setup: &'a Setup,
    drive: Drive,
    flows: Flows,
    /// Flows at the shift speed, for what they take from the engine.
    at_shift_speed: Rc<FlowSurvey>,
    /// Drag ratio at freezing: colder fluid drags no more.
    most_drag_ratio: f64,
    fluid_per_kg: HeatContent,
    fluid_density: Rc<Curve>,
    /// Capacity of the converter over that at its reference temperature, against temperature (K).
    capacity: Rc<Curve>,
    nodes: [HeatContent; NODES],
    /// Case conductance to air (W/K) against ±|case − air|^¼ (K^¼), for air speeds met so far (m/s).
    case_curves: Vec<(f64, Rc<Survey<1>>)>,
    nominal: Vec<(NominalKey, MeanSpeeds)>,
}

/// Distance (m) and error control of a pass with fluid at its reference.
pub type NominalKey = (f64, Tolerance);

impl<'a> Transmission<'a> {
    /// Prepares a set-up; an error where engine or converter contradict themselves.
    pub fn new(setup: &'a Setup) -> Result<Transmission<'a>, Error> {
        let drive = Drive::new(setup)?;
        let fluid = setup.stated_fluid();
        // Specific heat is linear in temperature, so two points give the exact heat content.
        let cold_j_per_kg_k = fluid.specific_heat_j_per_kg_k(273.15);
        let hot_j_per_kg_k = fluid.specific_heat_j_per_kg_k(373.15);
        let fluid_per_kg = HeatContent {
            linear_j_per_k: cold_j_per_kg_k,
            quadratic_j_per_k2: 0.5 * (hot_j_per_kg_k - cold_j_per_kg_k) / 100.0,
        };
        let fluid_density = Curve::tabulate(220.0, 700.0, 97, |temperature_k| {
            fluid.density_kg_per_m3(temperature_k)
        });
        let filled = |solid_j_per_k: f64, volume_m3: f64| {
            HeatContent::solid_and_fluid(
                solid_j_per_k,
                volume_m3 * setup.fluid.density15_kg_per_m3,
                fluid_per_kg,
            )
        };
        let steel = |mass_kg: f64| HeatContent::constant(mass_kg * STEEL_J_PER_KG_K);
        let aluminium_j_per_k = |mass_kg: f64| mass_kg * ALUMINIUM_J_PER_KG_K;
        let nodes = [
            filled(0.0, setup.converter.fluid_volume_m3),
            steel(setup.converter.shell_mass_kg),
            filled(0.0, setup.transmission.pan_volume_m3),
            steel(setup.transmission.gear_mass_kg),
            HeatContent::constant(aluminium_j_per_k(setup.transmission.case_mass_kg)),
            filled(aluminium_j_per_k(setup.cooler.metal_mass_kg), setup.cooler.fluid_volume_m3),
            HeatContent::constant(setup.engine.heat_capacity_j_per_k),
        ];
        let mut flows = Flows::new(setup, fluid);
        let shift_rad_per_s = setup.gearbox.shift_speed_rad_per_s;
        let at_shift_speed = flows.survey(&FlowMode {
            engine_rad_per_s: shift_rad_per_s,
            road_m_per_s: 0.0,
            route: None,
            fan: false,
        });
        let pump_torque_nm =
            at_shift_speed.at(RATING_K)[Quantity::FrontPumpHeat.index()] / shift_rad_per_s;
        Ok(Transmission {
            setup,
            capacity: Rc::new(drive.capacity_curve(setup, &fluid, pump_torque_nm)),
            drive,
            most_drag_ratio: flows.plumbing().drag_ratio(FREEZING_K),
            flows,
            at_shift_speed,
            fluid_per_kg,
            fluid_density: Rc::new(fluid_density),
            nodes,
            case_curves: Vec::new(),
            nominal: Vec::new(),
        })
    }

    /// The set-up of which it was made.
    pub fn setup(&self) -> &Setup {
        self.setup
    }

    /// Engine, converter, gears and car.
    pub fn drive(&self) -> &Drive {
        &self.drive
    }

    /// Capacity of the converter over that at its reference temperature (K).
    pub fn capacity_ratio(&self, temperature_k: f64) -> f64 {
        self.capacity.at(temperature_k)
    }

    /// What the fluid takes from engine and gearbox while the engine pulls, at a pan temperature: front pump at the
    /// shift speed, drag.
    pub fn losses(&self, pan_k: f64) -> FluidLosses {
        let surveyed = self.at_shift_speed.at(pan_k);
        FluidLosses {
            pump_torque_nm: surveyed[Quantity::FrontPumpHeat.index()]
                / self.setup.gearbox.shift_speed_rad_per_s,
            drag_ratio: surveyed[Quantity::DragRatio.index()].min(self.most_drag_ratio),
        }
    }

    /// Flash speed (rad/s) with the fluid as it is, K in the order of `Node`; an error that says why where engine
    /// and converter do not balance.
    pub fn flash(&self, temperature_k: &[f64; NODES]) -> Result<StallMatch, Error> {
        let capacity_ratio = self.capacity_ratio(temperature_k[Node::ConverterFluid.index()]);
        let losses = self.losses(temperature_k[Node::PanFluid.index()]);
        self.drive.flash(capacity_ratio, losses.pump_torque_nm)
    }

    /// Whether the engine is stronger than the stalled converter right up to its rev limit.
    pub fn is_loose(&self, temperature_k: &[f64; NODES]) -> bool {
        let capacity_ratio = self.capacity_ratio(temperature_k[Node::ConverterFluid.index()]);
        let losses = self.losses(temperature_k[Node::PanFluid.index()]);
        self.drive.is_loose(capacity_ratio, losses.pump_torque_nm)
    }

    /// Mean speeds of a pass with fluid at its reference, where they are known.
    pub fn nominal_speeds(&self, key: NominalKey) -> Option<MeanSpeeds> {
        self.nominal.iter().find(|(known, _)| *known == key).map(|(_, speeds)| *speeds)
    }

    /// Keeps such speeds for the next pass.
    pub fn keep_nominal_speeds(&mut self, key: NominalKey, speeds: MeanSpeeds) {
        self.nominal.push((key, speeds));
    }

    /// What flows.
    pub fn flows(&self) -> &Flows {
        &self.flows
    }

    /// Heat contents of the nodes, in the order of `timeline::Node`.
    pub fn nodes(&self) -> &[HeatContent; NODES] {
        &self.nodes
    }

    /// The survey of a mode's flows.
    pub fn survey(&mut self, mode: &Mode) -> Rc<FlowSurvey> {
        self.flows.survey(&mode.flow())
    }

    /// The network in a mode.
    pub fn network(&mut self, mode: &Mode) -> Network {
        let setup = self.setup;
        let converter = &setup.converter;
        let transmission = &setup.transmission;
        let air = End::Fixed(setup.air.temperature_k);
        let running = mode.engine_runs();
        let turning = mode.flow().turning();
        let when_running = |on: f64, off: f64| if running { on } else { off };

        let survey = self.survey(mode);
        let air_speed_m_per_s =
            setup.air.wind_m_per_s + setup.car.underbody_air_share * mode.loads.road_speed_m_per_s;

        let conductance = |from: Node, to: End, w_per_k: f64, path: Path| Link {
            from: End::Node(from.index()),
            to,
            law: Law::Conductance(w_per_k),
            path: path.index(),
            reverse_path: path.index(),
        };
        let node = |node: Node| End::Node(node.index());
        let engine_link = |to: Node, w_per_k: f64| Link {
            from: node(Node::Engine),
            to: node(to),
            law: Law::Conductance(w_per_k),
            path: Path::FromEngine.index(),
            reverse_path: Path::IntoEngine.index(),
        };
        let mut links = vec![
            Link {
                from: node(Node::ConverterFluid),
                to: node(Node::ConverterShell),
                law: Law::Surveyed(Quantity::FluidToShell.index()),
                path: Path::FluidToShell.index(),
                reverse_path: Path::FluidToShell.index(),
            },
            conductance(
                Node::ConverterShell,
                air,
                converter.shell_to_air_at_rest_w_per_k
                    + converter.shell_to_air_turning_w_per_k * turning,
                Path::BellhousingAir,
            ),
            engine_link(Node::ConverterShell, converter.shell_to_engine_w_per_k),
            conductance(
                Node::ConverterShell,
                node(Node::GearTrain),
                converter.shell_to_gears_w_per_k,
                Path::ShellToGears,
            ),
            conductance(
                Node::PanFluid,
                node(Node::Case),
                when_running(
                    transmission.pan_to_case_running_w_per_k,
                    transmission.pan_to_case_w_per_k,
                ),
                Path::PanToCase,
            ),
            conductance(
                Node::PanFluid,
                node(Node::GearTrain),
                when_running(
                    transmission.pan_to_gears_running_w_per_k,
                    transmission.pan_to_gears_w_per_k,
                ),
                Path::PanToGears,
            ),
            conductance(
                Node::GearTrain,
                node(Node::Case),
                when_running(
                    transmission.gears_to_case_running_w_per_k,
                    transmission.gears_to_case_w_per_k,
                ),
                Path::GearsToCase,
            ),
            engine_link(Node::Case, transmission.case_to_engine_w_per_k),
            Link {
                from: node(Node::Case),
                to: air,
                law: Law::Convection(self.case_curve(air_speed_m_per_s)),
                path: Path::CaseConvection.index(),
                reverse_path: Path::CaseConvection.index(),
            },
            Link {
                from: node(Node::Case),
                to: air,
                law: Law::Radiation(transmission.case_emissivity * transmission.case_area_m2),
                path: Path::CaseRadiation.index(),
                reverse_path: Path::CaseRadiation.index(),
            },
            Link {
                from: node(Node::CoolerCore),
                to: air,
                law: Law::Surveyed(Quantity::CoreToAir.index()),
                path: Path::CoolerAir.index(),
                reverse_path: Path::CoolerAir.index(),
            },
        ];
        links.push(if running {
            Link {
                from: End::Fixed(setup.engine.thermostat_k),
                to: node(Node::Engine),
                law: Law::Conductance(setup.engine.warm_up_w_per_k),
                path: Path::EngineOwnHeat.index(),
                reverse_path: Path::EngineOwnHeat.index(),
            }
        } else {
            conductance(Node::Engine, air, setup.engine.to_air_w_per_k, Path::EngineToAir)
        });

        let made = heat_made(setup, mode);
        let source = |node: Node, heat_w: f64, path: Path, follows: Follows| Source {
            node: node.index(),
            heat_w,
            follows,
            path: path.index(),
        };
        let surveyed = |quantity: Quantity, at_most: f64| Follows::Surveyed {
            quantity: quantity.index(),
            at_most,
        };
        let shear = if mode.stalled() { Follows::Capacity } else { Follows::Nothing };
        let mut sources = vec![
            source(Node::ConverterFluid, made.converter_w, Path::ConverterShear, shear),
            source(Node::GearTrain, made.gear_train_w, Path::GearTrain, Follows::Nothing),
            source(
                Node::GearTrain,
                made.drag_w,
                Path::GearTrain,
                surveyed(Quantity::DragRatio, self.most_drag_ratio),
            ),
        ];
        sources.retain(|source| source.heat_w != 0.0);
        if running {
            let power = surveyed(Quantity::FrontPumpHeat, f64::INFINITY);
            sources.push(source(Node::PanFluid, 1.0, Path::FrontPump, power));
        }
        if mode.route.is_some() {
            let power = surveyed(Quantity::CirculationHeat, f64::INFINITY);
            sources.push(source(Node::PanFluid, 1.0, Path::CirculationPump, power));
        }

        let stop = |node: Node, effectiveness: Share, path: Path| Stop {
            node: node.index(),
            effectiveness,
            path: path.index(),
        };
        let pan = stop(Node::PanFluid, Share::Fixed(1.0), Path::StreamToPan);
        let through_converter =
            stop(Node::ConverterFluid, Share::Fixed(1.0), Path::StreamToConverter);
        let oil_side = Share::Surveyed(Quantity::OilEffectiveness.index());
        let through_cooler = stop(Node::CoolerCore, oil_side, Path::StreamToCooler);
        let lubricated = Share::Fixed(transmission.lubrication_effectiveness);
        let lubrication = stop(Node::GearTrain, lubricated, Path::StreamToGears);
        let mut streams = Vec::new();
        if running {
            streams.push(Stream {
                flow: StreamFlow::Surveyed(Quantity::FrontPumpFlow.index()),
                stops: vec![pan, through_converter, through_cooler, lubrication],
            });
        }
        if let Some(route) = mode.route {
            streams.push(Stream {
                flow: StreamFlow::Surveyed(Quantity::CirculationFlow.index()),
                stops: match route {
                    Route::PanLoop => vec![pan, through_cooler, lubrication],
                    Route::ThroughConverter => vec![pan, through_converter, through_cooler],
                    Route::CoolerFirst => vec![pan, through_cooler, through_converter],
                },
            });
        }

        Network {
            nodes: self.nodes.to_vec(),
            links,
            sources,
            streams,
            fluid_per_kg: self.fluid_per_kg,
            fluid_density: Rc::clone(&self.fluid_density),
            capacity: Rc::clone(&self.capacity),
            survey: Some((Node::PanFluid.index(), survey)),
            paths: PATHS,
        }
    }

    fn case_curve(&mut self, air_speed_m_per_s: f64) -> Rc<Survey<1>> {
        if let Some((_, curve)) =
            self.case_curves.iter().find(|(speed, _)| *speed == air_speed_m_per_s)
        {
            return Rc::clone(curve);
        }
        let (coldest_k, hottest_k) = (120.0_f64, 420.0_f64);
        let (start, end) = (-coldest_k.powf(0.25), hottest_k.powf(0.25));
        let (area_m2, diameter_m) =
            (self.setup.transmission.case_area_m2, self.setup.transmission.case_diameter_m);
        let (air_k, pressure_pa) = (self.setup.air.temperature_k, self.setup.air.pressure_pa);
        let curve = Rc::new(Survey::new(start, end, 121, move |root: f64| {
            let case_k = air_k + root.powi(4).copysign(root);
            let per_m2 = cylinder_convection_w_per_m2_k(
                case_k,
                air_k,
                air_speed_m_per_s,
                diameter_m,
                pressure_pa,
            );
            [area_m2 * per_m2]
        }));
        self.case_curves.push((air_speed_m_per_s, Rc::clone(&curve)));
        curve
    }
}
