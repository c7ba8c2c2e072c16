//! A network laid out for the solver: the same heat flows, read from short lists sorted by law.
//!
//! A day asks some ten thousand times for the derivative. Ends of links are places in one array of temperatures:
//! nodes first; a body of fixed temperature is its temperature on top of a place that is always at zero kelvin.
//! Constant conductances, most of the links, are one matrix where their paths are not asked for.

use std::rc::Rc;

use ode_solvers::SVector;

use super::{
    End, Flows, Follows, HeatContent, Law, Link, MAX_NODES, Network, QUANTITIES, Scaling, Share,
    Source, Stop, Stream, StreamFlow, THERMAL_QUANTITIES, ZERO_CELSIUS_K,
};
use crate::convection::STEFAN_BOLTZMANN;
use crate::curve::{Curve, Survey};

/// Places of nodes, and what is beyond; a power of two, so that a masked index needs no check.
const PLACES: usize = 16;
/// The place of whatever is not a node.
const OUTSIDE: usize = PLACES - 1;

/// Temperatures (K) or heat flows (W) by place.
type Places = [f64; PLACES];

/// What two links have in common: where they lead, and where they book.
#[derive(Clone, Copy)]
struct Ends {
    from: usize,
    to: usize,
    /// Temperatures of fixed bodies (K); zero for nodes. And their difference.
    from_fixed_k: f64,
    to_fixed_k: f64,
    fixed_delta_k: f64,
    path: usize,
    reverse_path: usize,
}

/// A network laid out for the solver.
pub struct FlatNetwork {
    nodes: usize,
    paths: usize,
    /// α, α², 4·β of the heat contents; beyond the nodes those of a body of 1 J/K.
    linear: [f64; MAX_NODES],
    linear_squared: [f64; MAX_NODES],
    four_quadratic: [f64; MAX_NODES],
    /// Heat flow into the nodes through all conductances: at 0 °C in every node (W), and by the temperature of each
    /// node, in columns (W/K).
    constant_w: [f64; MAX_NODES],
    linear_w_per_k: [[f64; MAX_NODES]; MAX_NODES],
    conductances: Vec<(Ends, f64)>,
    surveyed: Vec<(Ends, usize)>,
    others: Vec<(Ends, Law)>,
    sources: Vec<Source>,
    streams: Vec<FlatStream>,
    fluid_per_kg: HeatContent,
    fluid_density: Rc<Curve>,
    capacity: Rc<Curve>,
    survey: Option<(usize, Rc<Survey<QUANTITIES>>)>,
}

struct FlatStream {
    flow: StreamFlow,
    first: Stop,
    others: Vec<Stop>,
}

fn ends(link: &Link) -> Ends {
    let place = |end: End| match end {
        End::Node(i) => (i, 0.0),
        End::Fixed(fixed_k) => (OUTSIDE, fixed_k),
    };
    let ((from, from_fixed_k), (to, to_fixed_k)) = (place(link.from), place(link.to));
    let (path, reverse_path) = (link.path, link.reverse_path);
    let fixed_delta_k = from_fixed_k - to_fixed_k;
    Ends { from, to, from_fixed_k, to_fixed_k, fixed_delta_k, path, reverse_path }
}

impl Ends {
    #[inline]
    fn delta_k(&self, temperature_k: &Places) -> f64 {
        temperature_k[self.from % PLACES] - temperature_k[self.to % PLACES] + self.fixed_delta_k
    }

    #[inline]
    fn temperatures_k(&self, temperature_k: &Places) -> (f64, f64) {
        (
            temperature_k[self.from % PLACES] + self.from_fixed_k,
            temperature_k[self.to % PLACES] + self.to_fixed_k,
        )
    }

    #[inline]
    fn add<const BOOKED: bool>(&self, heat_w: f64, node_w: &mut Places, path_w: &mut [f64]) {
        node_w[self.from % PLACES] -= heat_w;
        node_w[self.to % PLACES] += heat_w;
        if !BOOKED {
            return;
        }
        if self.path == self.reverse_path || heat_w >= 0.0 {
            path_w[self.path] += heat_w;
        } else {
            path_w[self.reverse_path] -= heat_w;
        }
    }
}

impl FlatNetwork {
    /// Lays a network out.
    pub fn new(network: &Network) -> FlatNetwork {
        let mut flat = FlatNetwork {
            nodes: network.nodes.len().min(MAX_NODES),
            paths: network.paths,
            linear: [1.0; MAX_NODES],
            linear_squared: [1.0; MAX_NODES],
            four_quadratic: [0.0; MAX_NODES],
            constant_w: [0.0; MAX_NODES],
            linear_w_per_k: [[0.0; MAX_NODES]; MAX_NODES],
            conductances: Vec::with_capacity(network.links.len()),
            surveyed: Vec::with_capacity(network.links.len()),
            others: Vec::with_capacity(network.links.len()),
            sources: network.sources.clone(),
            streams: network.streams.iter().filter_map(flat_stream).collect(),
            fluid_per_kg: network.fluid_per_kg,
            fluid_density: Rc::clone(&network.fluid_density),
            capacity: Rc::clone(&network.capacity),
            survey: network.survey.clone(),
        };
        for (i, node) in network.nodes.iter().enumerate().take(MAX_NODES) {
            flat.linear[i] = node.linear_j_per_k;
            flat.linear_squared[i] = node.linear_j_per_k * node.linear_j_per_k;
            flat.four_quadratic[i] = 4.0 * node.quadratic_j_per_k2;
        }
        for link in &network.links {
            match link.law {
                Law::Conductance(w_per_k) => {
                    flat.conductances.push((ends(link), w_per_k));
                    flat.add_conductance(link.from, link.to, w_per_k);
                    flat.add_conductance(link.to, link.from, w_per_k);
                }
                Law::Surveyed(quantity) => flat.surveyed.push((ends(link), quantity)),
                _ => flat.others.push((ends(link), link.law.clone())),
            }
        }
        flat
    }

    /// What a conductance to `other` brings into `own`.
    fn add_conductance(&mut self, own: End, other: End, w_per_k: f64) {
        let End::Node(own) = own else { return };
        self.linear_w_per_k[own][own] -= w_per_k;
        match other {
            End::Node(other) => self.linear_w_per_k[other][own] += w_per_k,
            End::Fixed(fixed_k) => self.constant_w[own] += w_per_k * (fixed_k - ZERO_CELSIUS_K),
        }
    }

    /// Temperatures (K) of all nodes in the state `y`, as `HeatContent::temperature_k` has them.
    #[inline]
    fn temperatures_k<const S: usize>(&self, scaling: &Scaling, y: &SVector<f64, S>) -> Places {
        let mut temperature_k = [0.0; PLACES];
        for (i, own_k) in temperature_k.iter_mut().enumerate().take(MAX_NODES.min(S)) {
            let heat_j = scaling.heat_j(y, i);
            let square = self.linear_squared[i] + self.four_quadratic[i] * heat_j;
            let root = square.max(0.0).sqrt();
            *own_k = ZERO_CELSIUS_K + 2.0 * heat_j / (self.linear[i] + root);
        }
        temperature_k
    }

    /// Capacity of the converter over that at its reference, at a temperature of its fluid (K).
    #[inline]
    pub fn capacity_at(&self, temperature_k: f64) -> f64 {
        self.capacity.at(temperature_k)
    }

    /// The same with the fluid of a node in the state `y`.
    pub fn capacity_ratio<const S: usize>(
        &self,
        scaling: &Scaling,
        y: &SVector<f64, S>,
        node: usize,
    ) -> f64 {
        self.capacity_at(self.temperatures_k(scaling, y)[node])
    }

    /// Right-hand side for the solver: dy/dt of the nodes, and heat flow along the paths (W). Needs S ≥ nodes and
    /// B ≥ paths; what is beyond is left alone. Gives back the temperatures (K) of the nodes.
    #[inline]
    pub fn derivative<const S: usize, const B: usize>(
        &self,
        scaling: &Scaling,
        y: &SVector<f64, S>,
        dy: &mut SVector<f64, S>,
        path_w: &mut SVector<f64, B>,
    ) -> [f64; PLACES] {
        let path_w = &mut path_w.as_mut_slice()[..self.paths];
        self.fill::<S, true>(scaling, y, dy, path_w)
    }

    /// The same without the paths.
    #[inline]
    pub fn derivative_alone<const S: usize>(
        &self,
        scaling: &Scaling,
        y: &SVector<f64, S>,
        dy: &mut SVector<f64, S>,
    ) -> [f64; PLACES] {
        self.fill::<S, false>(scaling, y, dy, &mut [])
    }

    #[inline]
    fn fill<const S: usize, const BOOKED: bool>(
        &self,
        scaling: &Scaling,
        y: &SVector<f64, S>,
        dy: &mut SVector<f64, S>,
        path_w: &mut [f64],
    ) -> [f64; PLACES] {
        let temperature_k = self.temperatures_k(scaling, y);
        let mut node_w = [0.0; PLACES];
        self.add_flows::<BOOKED>(&temperature_k, &mut node_w, path_w);
        for i in 0..self.nodes {
            dy[i] = node_w[i] * scaling.per_scale[i];
        }
        temperature_k
    }

    /// See [`Network::flows`].
    pub fn flows(&self, temperature_k: &[f64], flows: Flows) {
        let mut places_k = [0.0; PLACES];
        let mut node_w = [0.0; PLACES];
        places_k[..self.nodes].copy_from_slice(&temperature_k[..self.nodes]);
        self.add_flows::<true>(&places_k, &mut node_w, flows.path_w);
        flows.node_w.copy_from_slice(&node_w[..self.nodes]);
    }

    fn add_flows<const BOOKED: bool>(
        &self,
        temperature_k: &Places,
        node_w: &mut Places,
        path_w: &mut [f64],
    ) {
        path_w.fill(0.0);
        let surveyed = match &self.survey {
            Some((node, survey)) => survey.first_at::<THERMAL_QUANTITIES>(temperature_k[*node]),
            None => [0.0; THERMAL_QUANTITIES],
        };
        for source in &self.sources {
            let heat_w = match source.follows {
                Follows::Nothing => source.heat_w,
                Follows::Capacity => {
                    source.heat_w * self.capacity.at(temperature_k[source.node % PLACES])
                }
                Follows::Surveyed { quantity, at_most } => {
                    source.heat_w * surveyed[quantity % THERMAL_QUANTITIES].min(at_most)
                }
            };
            node_w[source.node % PLACES] += heat_w;
            if BOOKED {
                path_w[source.path] += heat_w;
            }
        }
        if BOOKED {
            for (ends, w_per_k) in &self.conductances {
                ends.add::<true>(w_per_k * ends.delta_k(temperature_k), node_w, path_w);
            }
        } else {
            self.add_conductances(temperature_k, node_w);
        }
        for (ends, quantity) in &self.surveyed {
            let w_per_k = surveyed[quantity % THERMAL_QUANTITIES];
            ends.add::<BOOKED>(w_per_k * ends.delta_k(temperature_k), node_w, path_w);
        }
        for (ends, law) in &self.others {
            let (from_k, to_k) = ends.temperatures_k(temperature_k);
            let delta_k = from_k - to_k;
            let heat_w = match law {
                Law::NaturalConvection(k) => k * delta_k * delta_k.abs().sqrt().sqrt(),
                Law::Radiation(emissive_area_m2) => {
                    let (from2, to2) = (from_k * from_k, to_k * to_k);
                    emissive_area_m2 * STEFAN_BOLTZMANN * (from2 + to2) * (from_k + to_k) * delta_k
                }
                Law::Convection(curve) => {
                    let root = delta_k.abs().sqrt().sqrt();
                    let [w_per_k] = curve.first_at::<1>(root.copysign(delta_k));
                    w_per_k * delta_k
                }
                Law::Conductance(w_per_k) => w_per_k * delta_k,
                Law::Surveyed(quantity) => surveyed[quantity % THERMAL_QUANTITIES] * delta_k,
            };
            ends.add::<BOOKED>(heat_w, node_w, path_w);
        }
        for stream in &self.streams {
            self.add_stream::<BOOKED>(stream, temperature_k, &surveyed, node_w, path_w);
        }
    }

    /// All conductances at once: linear in temperatures above that of melting ice.
    #[inline]
    fn add_conductances(&self, temperature_k: &Places, node_w: &mut Places) {
        let mut sum_w = self.constant_w;
        for (column, own_k) in self.linear_w_per_k.iter().zip(temperature_k) {
            let celsius = own_k - ZERO_CELSIUS_K;
            for (sum_w, w_per_k) in sum_w.iter_mut().zip(column) {
                *sum_w += w_per_k * celsius;
            }
        }
        for (node_w, sum_w) in node_w.iter_mut().zip(sum_w) {
            *node_w += sum_w;
        }
    }

    #[inline]
    fn add_stream<const BOOKED: bool>(
        &self,
        stream: &FlatStream,
        temperature_k: &Places,
        surveyed: &[f64; THERMAL_QUANTITIES],
        node_w: &mut Places,
        path_w: &mut [f64],
    ) {
        let first = stream.first;
        let start_k = temperature_k[first.node % PLACES];
        let mass_kg_per_s = match stream.flow {
            StreamFlow::Mass(kg_per_s) => kg_per_s,
            StreamFlow::Surveyed(quantity) => {
                surveyed[quantity % THERMAL_QUANTITIES] * self.fluid_density.at(start_k)
            }
        };
        let start_j_per_kg = self.fluid_per_kg.heat_j(start_k);
        let mut fluid_j_per_kg = start_j_per_kg;
        for stop in &stream.others {
            let wall_j_per_kg = self.fluid_per_kg.heat_j(temperature_k[stop.node % PLACES]);
            let effectiveness = match stop.effectiveness {
                Share::Fixed(share) => share,
                Share::Surveyed(quantity) => surveyed[quantity % THERMAL_QUANTITIES],
            };
            let given_j_per_kg = effectiveness * (fluid_j_per_kg - wall_j_per_kg);
            fluid_j_per_kg -= given_j_per_kg;
            node_w[stop.node % PLACES] += mass_kg_per_s * given_j_per_kg;
            if BOOKED {
                path_w[stop.path] += mass_kg_per_s * given_j_per_kg;
            }
        }
        let returned_w = mass_kg_per_s * (fluid_j_per_kg - start_j_per_kg);
        node_w[first.node % PLACES] += returned_w;
        if BOOKED {
            path_w[first.path] += returned_w;
        }
    }
}

fn flat_stream(stream: &Stream) -> Option<FlatStream> {
    let (first, others) = stream.stops.split_first()?;
    Some(FlatStream { flow: stream.flow, first: *first, others: others.to_vec() })
}
