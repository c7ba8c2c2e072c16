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

use std::rc::Rc;

use crate::air::{SPECIFIC_HEAT_J_PER_KG_K, air_properties};
use crate::convection::cylinder_convection_w_per_m2_k;
use crate::converter::{slip_heat_w, stall_heat_w};
use crate::cooler::{Arrangement, CoolerConductances, air_side_ua, core_conductances};
use crate::drive::Drive;
use crate::error::Error;
use crate::fluid::Fluid;
use crate::network::{
    Curve, End, Follows, HeatContent, Law, Link, Network, Share, Source, Stop, Stream, StreamFlow,
};
use crate::plumbing::Plumbing;
use crate::scenario::parameters::Setup;
use crate::timeline::{Event, EventKind, Loads, NODES, Node, Route};

/// Specific heat of steel, J/(kg·K) (plain carbon steel at 400 K: 487, at 300 K: 434; Incropera table A.1).
pub const STEEL_J_PER_KG_K: f64 = 470.0;
/// Specific heat of aluminium, J/(kg·K) (pure at 300 K: 903; Incropera table A.1).
pub const ALUMINIUM_J_PER_KG_K: f64 = 900.0;

/// Speed at which turning links are stated: 5 000 rpm, in rad/s.
const TURNING_REFERENCE_RAD_PER_S: f64 = 5_000.0 * std::f64::consts::PI / 30.0;
/// Temperature at which the cooler's stream capacities are taken (80 °C, K).
const COOLER_REFERENCE_K: f64 = 353.15;

/// Where heat is made or goes, or moves inside; each has a running total.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Path {
    ConverterShear,
    GearTrain,
    FrontPump,
    CirculationPump,
    FromEngine,
    CoolerAir,
    CaseConvection,
    CaseRadiation,
    BellhousingAir,
    IntoEngine,
    FluidToShell,
    ShellToGears,
    PanToCase,
    PanToGears,
    GearsToCase,
    StreamToConverter,
    StreamToCooler,
    StreamToGears,
    StreamToPan,
    EngineOwnHeat,
    EngineToAir,
}

/// Number of paths.
pub const PATHS: usize = 21;
/// Size of the solver's state: nodes, then paths.
pub const STATES: usize = NODES + PATHS;

impl Path {
    /// Heat made in, or brought into, the transmission.
    pub const SOURCES: [Path; 5] = [
        Path::ConverterShear,
        Path::GearTrain,
        Path::FrontPump,
        Path::CirculationPump,
        Path::FromEngine,
    ];
    /// Heat carried out of the transmission.
    pub const SINKS: [Path; 5] = [
        Path::CoolerAir,
        Path::CaseConvection,
        Path::CaseRadiation,
        Path::BellhousingAir,
        Path::IntoEngine,
    ];
    /// Heat that moves between nodes, and the engine's own.
    pub const INSIDE: [Path; 11] = [
        Path::FluidToShell,
        Path::ShellToGears,
        Path::PanToCase,
        Path::PanToGears,
        Path::GearsToCase,
        Path::StreamToConverter,
        Path::StreamToCooler,
        Path::StreamToGears,
        Path::StreamToPan,
        Path::EngineOwnHeat,
        Path::EngineToAir,
    ];

    /// Place in arrays.
    pub fn index(self) -> usize {
        self as usize
    }

    /// The name in JSON.
    pub fn key(self) -> &'static str {
        match self {
            Path::ConverterShear => "converter_shear",
            Path::GearTrain => "gear_train",
            Path::FrontPump => "front_pump",
            Path::CirculationPump => "circulation_pump",
            Path::FromEngine => "from_engine",
            Path::CoolerAir => "cooler_air",
            Path::CaseConvection => "case_convection",
            Path::CaseRadiation => "case_radiation",
            Path::BellhousingAir => "bellhousing_air",
            Path::IntoEngine => "into_engine",
            Path::FluidToShell => "fluid_to_shell",
            Path::ShellToGears => "shell_to_gears",
            Path::PanToCase => "pan_to_case",
            Path::PanToGears => "pan_to_gears",
            Path::GearsToCase => "gears_to_case",
            Path::StreamToConverter => "stream_to_converter",
            Path::StreamToCooler => "stream_to_cooler",
            Path::StreamToGears => "stream_to_gears",
            Path::StreamToPan => "stream_to_pan",
            Path::EngineOwnHeat => "engine_own_heat",
            Path::EngineToAir => "engine_to_air",
        }
    }

    /// The name for people.
    pub fn label(self) -> &'static str {
        match self {
            Path::ConverterShear => "Fluid shear in the converter",
            Path::GearTrain => "Gears, drag and shifts",
            Path::FrontPump => "Front pump",
            Path::CirculationPump => "Circulation pump",
            Path::FromEngine => "Soaked in from the engine",
            Path::CoolerAir => "Cooler, to air",
            Path::CaseConvection => "Case, to passing air",
            Path::CaseRadiation => "Case, radiated",
            Path::BellhousingAir => "Converter, to bellhousing air",
            Path::IntoEngine => "Back into the engine",
            Path::FluidToShell => "Converter fluid to shell",
            Path::ShellToGears => "Shell to input shaft",
            Path::PanToCase => "Pan fluid to case",
            Path::PanToGears => "Pan fluid to gears",
            Path::GearsToCase => "Gears to case",
            Path::StreamToConverter => "Stream into the converter",
            Path::StreamToCooler => "Stream into the cooler",
            Path::StreamToGears => "Lubrication into the gears",
            Path::StreamToPan => "Stream into the pan",
            Path::EngineOwnHeat => "Engine's own heat",
            Path::EngineToAir => "Engine to air",
        }
    }
}

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

    fn engine_runs(&self) -> bool {
        self.kind.engine_runs()
    }

    /// Engine speed (rad/s), zero with the engine off.
    fn engine_speed_rad_per_s(&self) -> f64 {
        if self.engine_runs() { self.loads.engine_speed_rad_per_s } else { 0.0 }
    }

    /// The turbine is held: in gear with the car standing.
    fn stalled(&self) -> bool {
        match self.kind {
            EventKind::Stage | EventKind::BrakeHold => true,
            EventKind::Idle => self.loads.in_gear,
            _ => false,
        }
    }
}

/// Heat made in a mode (W); the converter's at the K-factor's reference density when stalled.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatMade {
    pub converter_w: f64,
    pub gear_train_w: f64,
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
        setup.transmission.mesh_loss * transmitted_w
            + setup.transmission.drag_torque_nm * speed_rad_per_s
            + mode.shift_heat_w
    };
    HeatMade { converter_w, gear_train_w }
}

/// Pan temperatures (K) over which flows are tabulated: −40 to 200 °C, and how many.
const FLOW_RANGE_K: (f64, f64) = (233.15, 473.15);
const FLOW_POINTS: usize = 25;

/// What decides the flows of a mode, apart from temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
struct FlowKey {
    speed_rad_per_s: f64,
    road_speed_m_per_s: f64,
    route: Option<Route>,
    fan: bool,
}

/// Flows and what depends on them, at one pan temperature.
struct FlowRow {
    front_pump_m3_per_s: f64,
    front_pump_w: f64,
    circulation_m3_per_s: f64,
    circulation_heat_w: f64,
    circulation_current_a: f64,
    oil_effectiveness: f64,
    core_to_air_w_per_k: f64,
    fluid_to_shell_w_per_k: f64,
}

/// The same against pan temperature (K).
struct Flows {
    front_pump_m3_per_s: Curve,
    front_pump_w: Curve,
    circulation_m3_per_s: Curve,
    circulation_heat_w: Curve,
    circulation_current_a: Curve,
    oil_effectiveness: Curve,
    core_to_air_w_per_k: Curve,
    fluid_to_shell_w_per_k: Curve,
}

/// The transmission of one set-up: what does not change during a day, and curves worth keeping.
pub struct Transmission<'a> {
    setup: &'a Setup,
    drive: Drive,
    plumbing: Plumbing,
    fluid: Fluid,
    fluid_per_kg: HeatContent,
    fluid_density: Curve,
    /// Capacity of the converter over that at its reference temperature, against temperature (K).
    capacity: Curve,
    nodes: [HeatContent; NODES],
    /// Case conductance to air (W/K) against ±|case − air|^¼ (K^¼), for air speeds met so far (m/s).
    case_curves: Vec<(f64, Curve)>,
    flow_tables: Vec<(FlowKey, Rc<Flows>)>,
}

impl<'a> Transmission<'a> {
    /// Prepares a set-up; an error where engine or converter contradict themselves.
    pub fn new(setup: &'a Setup) -> Result<Transmission<'a>, Error> {
        let drive = Drive::new(setup)?;
        let fluid = Fluid::new(
            setup.fluid.kv40_m2_per_s * 1e6,
            setup.fluid.kv100_m2_per_s * 1e6,
            setup.fluid.density15_kg_per_m3,
        );
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
        Ok(Transmission {
            setup,
            capacity: drive.capacity_curve(setup, &fluid),
            drive,
            plumbing: Plumbing::new(setup, fluid),
            fluid,
            fluid_per_kg,
            fluid_density,
            nodes,
            case_curves: Vec::new(),
            flow_tables: Vec::new(),
        })
    }

    /// Engine, converter, gears and car.
    pub fn drive(&self) -> &Drive {
        &self.drive
    }

    /// Capacity of the converter over that at its reference temperature (K).
    pub fn capacity_ratio(&self, temperature_k: f64) -> f64 {
        self.capacity.at(temperature_k)
    }

    /// Torque that the front pump takes from the crankshaft (N·m), at an engine speed and pan temperature.
    pub fn front_pump_torque_nm(&self, speed_rad_per_s: f64, pan_k: f64) -> f64 {
        let speed_rad_per_s = speed_rad_per_s.max(1.0);
        self.plumbing.front(speed_rad_per_s, pan_k).shaft_power_w / speed_rad_per_s
    }

    /// Pumps and circuits.
    pub fn plumbing(&self) -> &Plumbing {
        &self.plumbing
    }

    /// Current that the circulation pump draws in a mode (A), at a pan temperature.
    pub fn circulation_current_a(&mut self, mode: &Mode, pan_k: f64) -> f64 {
        match mode.route {
            Some(_) => self.flows(mode).circulation_current_a.at(pan_k),
            None => 0.0,
        }
    }

    /// Heat contents of the nodes, in the order of `timeline::Node`.
    pub fn nodes(&self) -> &[HeatContent; NODES] {
        &self.nodes
    }

    /// The cooler with this much oil through it, in a mode.
    pub fn cooler(&self, mode: &Mode, oil_flow_m3_per_s: f64) -> CoolerConductances {
        let cooler = &self.setup.cooler;
        let air = air_properties(self.setup.air.temperature_k, self.setup.air.pressure_pa);
        let blown_m3_per_s = if mode.fan {
            cooler.fan_air_flow_m3_per_s.max(cooler.still_air_flow_m3_per_s)
        } else {
            cooler.still_air_flow_m3_per_s
        };
        let ram_m3_per_s = mode.loads.road_speed_m_per_s * cooler.ram_area_m2;
        let air_flow_m3_per_s = blown_m3_per_s.hypot(ram_m3_per_s);
        let oil_ua_rated = cooler.ua_w_per_k / cooler.oil_side_share;
        let air_ua_rated = cooler.ua_w_per_k / (1.0 - cooler.oil_side_share);
        let oil_flow_ratio = oil_flow_m3_per_s / cooler.rated_oil_flow_m3_per_s;
        let oil_w_per_k_per_flow = self.fluid.density_kg_per_m3(COOLER_REFERENCE_K)
            * self.fluid.specific_heat_j_per_kg_k(COOLER_REFERENCE_K);
        core_conductances(
            Arrangement::CrossflowUnmixed,
            oil_ua_rated * oil_flow_ratio.powf(0.4),
            air_side_ua(air_ua_rated, air_flow_m3_per_s, cooler.rated_air_flow_m3_per_s),
            oil_flow_m3_per_s * oil_w_per_k_per_flow,
            air_flow_m3_per_s * air.density_kg_per_m3 * SPECIFIC_HEAT_J_PER_KG_K,
        )
    }

    /// The network in a mode.
    pub fn network(&mut self, mode: &Mode) -> Network {
        let setup = self.setup;
        let converter = &setup.converter;
        let transmission = &setup.transmission;
        let air = End::Fixed(setup.air.temperature_k);
        let running = mode.engine_runs();
        let turning = (mode.engine_speed_rad_per_s() / TURNING_REFERENCE_RAD_PER_S).powf(0.8);
        let when_running = |on: f64, off: f64| if running { on } else { off };

        let flows = self.flows(mode);
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
                law: Law::ConductanceOf {
                    node: Node::PanFluid.index(),
                    curve: flows.fluid_to_shell_w_per_k.clone(),
                },
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
                law: Law::ConductanceOf {
                    node: Node::PanFluid.index(),
                    curve: flows.core_to_air_w_per_k.clone(),
                },
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
        let shear = if mode.stalled() { Follows::Capacity } else { Follows::Nothing };
        let mut sources = vec![
            source(Node::ConverterFluid, made.converter_w, Path::ConverterShear, shear),
            source(Node::GearTrain, made.gear_train_w, Path::GearTrain, Follows::Nothing),
        ];
        sources.retain(|source| source.heat_w != 0.0);
        if running {
            let power = Follows::Temperature(flows.front_pump_w.clone());
            sources.push(source(Node::PanFluid, 1.0, Path::FrontPump, power));
        }
        if mode.route.is_some() {
            let power = Follows::Temperature(flows.circulation_heat_w.clone());
            sources.push(source(Node::PanFluid, 1.0, Path::CirculationPump, power));
        }

        let stop = |node: Node, effectiveness: Share, path: Path| Stop {
            node: node.index(),
            effectiveness,
            path: path.index(),
        };
        let pan = || stop(Node::PanFluid, Share::Fixed(1.0), Path::StreamToPan);
        let through_converter =
            || stop(Node::ConverterFluid, Share::Fixed(1.0), Path::StreamToConverter);
        let through_cooler = || {
            let effectiveness = Share::Of(flows.oil_effectiveness.clone());
            stop(Node::CoolerCore, effectiveness, Path::StreamToCooler)
        };
        let lubrication = || {
            let effectiveness = Share::Fixed(transmission.lubrication_effectiveness);
            stop(Node::GearTrain, effectiveness, Path::StreamToGears)
        };
        let mut streams = Vec::new();
        if running {
            streams.push(Stream {
                flow: StreamFlow::Volume(flows.front_pump_m3_per_s.clone()),
                stops: vec![pan(), through_converter(), through_cooler(), lubrication()],
            });
        }
        if let Some(route) = mode.route {
            streams.push(Stream {
                flow: StreamFlow::Volume(flows.circulation_m3_per_s.clone()),
                stops: match route {
                    Route::PanLoop => vec![pan(), through_cooler(), lubrication()],
                    Route::ThroughConverter => vec![pan(), through_converter(), through_cooler()],
                    Route::CoolerFirst => vec![pan(), through_cooler(), through_converter()],
                },
            });
        }

        Network {
            nodes: self.nodes.to_vec(),
            links,
            sources,
            streams,
            fluid_per_kg: self.fluid_per_kg,
            fluid_density: self.fluid_density.clone(),
            capacity: self.capacity.clone(),
            paths: PATHS,
        }
    }

    /// What flows in a mode against pan temperature; kept, because modes come again every round.
    fn flows(&mut self, mode: &Mode) -> Rc<Flows> {
        let key = FlowKey {
            speed_rad_per_s: mode.engine_speed_rad_per_s(),
            road_speed_m_per_s: mode.loads.road_speed_m_per_s,
            route: mode.route,
            fan: mode.fan,
        };
        if let Some((_, flows)) = self.flow_tables.iter().find(|(known, _)| *known == key) {
            return Rc::clone(flows);
        }
        let flows = Rc::new(self.tabulate_flows(mode, key));
        self.flow_tables.push((key, Rc::clone(&flows)));
        flows
    }

    fn tabulate_flows(&self, mode: &Mode, key: FlowKey) -> Flows {
        let converter = &self.setup.converter;
        let turning = (key.speed_rad_per_s / TURNING_REFERENCE_RAD_PER_S).powf(0.8);
        // One solve a temperature; the curves are then read off these rows.
        let rows: Vec<FlowRow> = (0..FLOW_POINTS)
            .map(|i| {
                let share = i as f64 / (FLOW_POINTS - 1) as f64;
                let pan_k = FLOW_RANGE_K.0 + share * (FLOW_RANGE_K.1 - FLOW_RANGE_K.0);
                let front = self.plumbing.front(key.speed_rad_per_s, pan_k);
                let circulation = mode.route.map(|_| self.plumbing.circulation(pan_k));
                let circulation_m3_per_s = circulation.map_or(0.0, |point| point.flow_m3_per_s);
                let through_converter = match mode.route {
                    Some(Route::ThroughConverter | Route::CoolerFirst) => circulation_m3_per_s,
                    _ => 0.0,
                };
                let cooler = self.cooler(mode, front.cooler_flow_m3_per_s + circulation_m3_per_s);
                FlowRow {
                    front_pump_m3_per_s: front.cooler_flow_m3_per_s,
                    front_pump_w: front.shaft_power_w,
                    circulation_m3_per_s,
                    circulation_heat_w: circulation.map_or(0.0, |point| point.fluid_heat_w),
                    circulation_current_a: circulation.map_or(0.0, |point| point.current_a),
                    oil_effectiveness: cooler.oil_effectiveness,
                    core_to_air_w_per_k: cooler.core_to_air_w_per_k,
                    fluid_to_shell_w_per_k: converter.link_at_rest_w_per_k
                        + converter.link_per_flow
                            * (front.cooler_flow_m3_per_s + through_converter)
                        + converter.link_turning_w_per_k * turning,
                }
            })
            .collect();
        let curve = |read: fn(&FlowRow) -> f64| {
            let values = rows.iter().map(read).collect();
            Curve::through(FLOW_RANGE_K.0, FLOW_RANGE_K.1, values)
        };
        Flows {
            front_pump_m3_per_s: curve(|row| row.front_pump_m3_per_s),
            front_pump_w: curve(|row| row.front_pump_w),
            circulation_m3_per_s: curve(|row| row.circulation_m3_per_s),
            circulation_heat_w: curve(|row| row.circulation_heat_w),
            circulation_current_a: curve(|row| row.circulation_current_a),
            oil_effectiveness: curve(|row| row.oil_effectiveness),
            core_to_air_w_per_k: curve(|row| row.core_to_air_w_per_k),
            fluid_to_shell_w_per_k: curve(|row| row.fluid_to_shell_w_per_k),
        }
    }

    fn case_curve(&mut self, air_speed_m_per_s: f64) -> Curve {
        if let Some((_, curve)) =
            self.case_curves.iter().find(|(speed, _)| *speed == air_speed_m_per_s)
        {
            return curve.clone();
        }
        let setup = self.setup;
        let (coldest_k, hottest_k) = (120.0_f64, 420.0_f64);
        let (start, end) = (-coldest_k.powf(0.25), hottest_k.powf(0.25));
        let curve = Curve::tabulate(start, end, 121, |root| {
            let difference_k = root.powi(4).copysign(root);
            setup.transmission.case_area_m2
                * cylinder_convection_w_per_m2_k(
                    setup.air.temperature_k + difference_k,
                    setup.air.temperature_k,
                    air_speed_m_per_s,
                    setup.transmission.case_diameter_m,
                    setup.air.pressure_pa,
                )
        });
        self.case_curves.push((air_speed_m_per_s, curve.clone()));
        curve
    }
}
