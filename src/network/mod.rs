//! Thermal network: nodes that hold heat, links and streams that move it, sources that make it.
//!
//! `dH_i/dt = Σ Q_flow` for every node i, with H the heat content above 0 °C. The heat content is the
//! state, not the temperature: temperature follows from it in closed form,
//! `H = α·θ + β·θ²` with θ in °C (β from a specific heat that rises linearly with temperature), so the sum
//! of all heat is a linear function of the state and an explicit Runge–Kutta method keeps it to rounding.
//!
//! Sign: heat is positive into a node; a link's flow is positive from `from` to `to`. Every link, source
//! and stop of a stream books its heat on a *path*, whose running total is integrated with the nodes.
//!
//! A stream carries fluid around a closed loop of stops. At each stop it gives up
//! `ε·ṁ·(h_in − h(T_node))`: ε = 1 is a node that mixes completely (a sump), ε < 1 an exchanger whose wall
//! is the node. The loop starts at a mixed stop.
//!
//! Not here: what the nodes are (see `transmission`), when things change (see `timeline`), momentum.
//! Nodes are isothermal: gradients inside a casting or across a converter are not resolved.

mod flat;

use std::rc::Rc;

use ode_solvers::SVector;

pub use flat::FlatNetwork;

use crate::curve::{Curve, Survey};

const ZERO_CELSIUS_K: f64 = 273.15;

/// Heat content `H = α·θ + β·θ²` (J) against θ (°C).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatContent {
    /// α, J/K.
    pub linear_j_per_k: f64,
    /// β, J/K².
    pub quadratic_j_per_k2: f64,
}

impl HeatContent {
    /// A body whose heat capacity does not change with temperature.
    pub fn constant(capacity_j_per_k: f64) -> HeatContent {
        HeatContent { linear_j_per_k: capacity_j_per_k, quadratic_j_per_k2: 0.0 }
    }

    /// A fluid mass plus a solid: `fluid` is the content of one kilogram.
    pub fn solid_and_fluid(
        solid_j_per_k: f64,
        fluid_kg: f64,
        fluid_per_kg: HeatContent,
    ) -> HeatContent {
        HeatContent {
            linear_j_per_k: solid_j_per_k + fluid_kg * fluid_per_kg.linear_j_per_k,
            quadratic_j_per_k2: fluid_kg * fluid_per_kg.quadratic_j_per_k2,
        }
    }

    /// Heat above 0 °C (J).
    #[inline]
    pub fn heat_j(&self, temperature_k: f64) -> f64 {
        let celsius = temperature_k - ZERO_CELSIUS_K;
        (self.linear_j_per_k + self.quadratic_j_per_k2 * celsius) * celsius
    }

    /// The temperature that holds `heat_j`: the stable root, no iteration. Finite for every finite heat.
    #[inline]
    pub fn temperature_k(&self, heat_j: f64) -> f64 {
        let a = self.linear_j_per_k;
        if self.quadratic_j_per_k2 == 0.0 {
            return ZERO_CELSIUS_K + heat_j / a;
        }
        let root = (a * a + 4.0 * self.quadratic_j_per_k2 * heat_j).max(0.0).sqrt();
        ZERO_CELSIUS_K + 2.0 * heat_j / (a + root)
    }

    /// dH/dT (J/K).
    pub fn capacity_j_per_k(&self, temperature_k: f64) -> f64 {
        self.linear_j_per_k + 2.0 * self.quadratic_j_per_k2 * (temperature_k - ZERO_CELSIUS_K)
    }
}

/// How many quantities follow the temperature of the surveyed node.
pub const QUANTITIES: usize = 11;
/// How many of them, the first, decide heat flows: a network may refer to these.
pub const THERMAL_QUANTITIES: usize = 8;

/// Several quantities at one temperature.
pub type Quantities = [f64; QUANTITIES];

/// One end of a link: a node of the network or a body of fixed temperature outside it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum End {
    Node(usize),
    /// K.
    Fixed(f64),
}

/// How a link's heat flow follows from the temperatures of its ends.
#[derive(Debug, Clone)]
pub enum Law {
    /// `G·ΔT`, G in W/K.
    Conductance(f64),
    /// `k·ΔT·|ΔT|^¼`, k in W/K^1.25: laminar natural convection with constant properties.
    NaturalConvection(f64),
    /// `εA·σ·(T⁴ − T'⁴)`, εA in m².
    Radiation(f64),
    /// `G(ΔT)·ΔT` with G in W/K tabulated against `±|ΔT|^¼` (K^¼): natural convection has a cusp at ΔT = 0,
    /// which this axis straightens.
    Convection(Rc<Survey<1>>),
    /// `G·ΔT` with G in W/K one of the quantities of the network's survey.
    Surveyed(usize),
}

/// A way for heat between two ends.
#[derive(Debug, Clone)]
pub struct Link {
    pub from: End,
    pub to: End,
    pub law: Law,
    /// Path on which flow from `from` to `to` is booked.
    pub path: usize,
    /// Path for flow the other way. The same as `path`: one signed account.
    pub reverse_path: usize,
}

/// What a source's heat goes with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Follows {
    Nothing,
    /// The converter's capacity, which its fluid changes.
    Capacity,
    /// One of the quantities of the network's survey, up to a bound.
    Surveyed {
        quantity: usize,
        at_most: f64,
    },
}

/// Heat made in a node.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Source {
    pub node: usize,
    /// W, where the factor of `follows` is one.
    pub heat_w: f64,
    pub follows: Follows,
    pub path: usize,
}

/// Fluid moved per second.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum StreamFlow {
    /// kg/s.
    Mass(f64),
    /// m³/s, one of the quantities of the network's survey; taken from the loop's first stop at that node's
    /// temperature.
    Surveyed(usize),
}

/// A share, constant or one of the quantities of the network's survey.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Share {
    Fixed(f64),
    Surveyed(usize),
}

/// A place that a stream passes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stop {
    pub node: usize,
    /// Share ε of the way to the node's temperature that the fluid goes. 1: leaves at node temperature.
    pub effectiveness: Share,
    /// Path on which heat from the stream into the node is booked.
    pub path: usize,
}

/// Fluid going around a loop. The first stop must have effectiveness 1.
#[derive(Debug, Clone, PartialEq)]
pub struct Stream {
    pub flow: StreamFlow,
    pub stops: Vec<Stop>,
}

/// The network during one smooth piece of time.
#[derive(Debug, Clone)]
pub struct Network {
    pub nodes: Vec<HeatContent>,
    pub links: Vec<Link>,
    pub sources: Vec<Source>,
    pub streams: Vec<Stream>,
    /// Heat content of one kilogram of the streams' fluid.
    pub fluid_per_kg: HeatContent,
    /// Fluid density (kg/m³) against temperature (K).
    pub fluid_density: Rc<Curve>,
    /// Capacity of the converter over that at its reference, against its fluid's temperature (K).
    pub capacity: Rc<Curve>,
    /// What follows the temperature of one node (by index): flows, and what depends on them.
    pub survey: Option<(usize, Rc<Survey<QUANTITIES>>)>,
    /// Number of paths; every `path` above is smaller.
    pub paths: usize,
}

/// Most nodes a network may have.
pub const MAX_NODES: usize = 8;

/// How the solver's state stands for heat: `H_i = base_i + scale_i·y_i`, in K-like units.
///
/// Components 0..nodes are the nodes; what follows is others'.
#[derive(Debug, Clone, PartialEq)]
pub struct Scaling {
    base_j: [f64; MAX_NODES],
    scale_j: [f64; MAX_NODES],
    /// 1/scale.
    per_scale: [f64; MAX_NODES],
}

impl Scaling {
    /// Scales each node by its heat capacity at its start temperature, so that y reads as kelvin of rise.
    pub fn new(nodes: &[HeatContent], start_k: &[f64]) -> Scaling {
        let mut scaling = Scaling {
            base_j: [0.0; MAX_NODES],
            scale_j: [1.0; MAX_NODES],
            per_scale: [1.0; MAX_NODES],
        };
        for (i, (node, &temperature_k)) in nodes.iter().zip(start_k).enumerate().take(MAX_NODES) {
            scaling.base_j[i] = node.heat_j(temperature_k);
            scaling.scale_j[i] = node.capacity_j_per_k(temperature_k);
            scaling.per_scale[i] = 1.0 / scaling.scale_j[i];
        }
        scaling
    }

    /// Heat content of node `i` (J above 0 °C).
    #[inline]
    pub fn heat_j<const S: usize>(&self, y: &SVector<f64, S>, i: usize) -> f64 {
        self.base_j[i] + self.scale_j[i] * y[i]
    }

    /// Heat content gained by node `i` since the start (J).
    pub fn stored_j<const S: usize>(&self, y: &SVector<f64, S>, i: usize) -> f64 {
        self.scale_j[i] * y[i]
    }

    /// Units of the state of node `i` in a joule.
    #[inline]
    pub fn per_scale(&self, i: usize) -> f64 {
        self.per_scale[i]
    }

    /// Adds heat (J, or W to a derivative) to node `i`.
    #[inline]
    pub fn add_heat<const S: usize>(&self, y: &mut SVector<f64, S>, i: usize, heat: f64) {
        y[i] += heat * self.per_scale[i];
    }
}

/// Heat flows at one instant: into every node and along every path (W).
pub struct Flows<'a> {
    pub node_w: &'a mut [f64],
    pub path_w: &'a mut [f64],
}

impl Network {
    /// Heat flows at the temperatures given (K, one per node). `flows` is overwritten.
    pub fn flows(&self, temperature_k: &[f64], flows: Flows) {
        FlatNetwork::new(self).flows(temperature_k, flows);
    }

    /// Temperatures (K) of all nodes in the state `y`.
    #[inline]
    pub fn temperatures_k<const S: usize>(
        &self,
        scaling: &Scaling,
        y: &SVector<f64, S>,
    ) -> [f64; MAX_NODES] {
        let mut temperature_k = [ZERO_CELSIUS_K; MAX_NODES];
        for (i, node) in self.nodes.iter().enumerate() {
            temperature_k[i] = node.temperature_k(scaling.heat_j(y, i));
        }
        temperature_k
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn heat_content_and_temperature_invert_each_other() {
        let body = HeatContent { linear_j_per_k: 4_000.0, quadratic_j_per_k2: 4.5 };
        for celsius in [-40.0, 0.0, 25.0, 120.0, 300.0] {
            let temperature_k = ZERO_CELSIUS_K + celsius;
            let back = body.temperature_k(body.heat_j(temperature_k));
            assert!((back - temperature_k).abs() < 1e-9, "{celsius}");
        }
        assert!(body.temperature_k(-1e12).is_finite());
    }
}
