//! The pieces as JSON, for integrators of other languages: every number that the right-hand side needs.
//!
//! Curves and surveys become their cubics again, read off at four places between two points of their grid (which is
//! stated here, for they keep it to themselves); `check` holds the right-hand side of the others against samples of ours.

use std::collections::HashMap;
use std::rc::Rc;

use ode_solvers::SVector;
use serde_json::{Value, json};
use stallheat::network::{End, Follows, Law, Network, Share, StreamFlow, THERMAL_QUANTITIES};
use stallheat::timeline::NODES;
use stallheat::trace::LEDGER_NODES;
use stallheat::transmission::{PATHS, Path};
use stallheat::vehicle::Tyre;

use crate::pieces::{Before, Pieces, WHOLE};

/// Grids: fluid density and converter capacity (K), flows against pan temperature (K), case to air (K^¼).
const FLUID_GRID: (f64, f64, usize) = (220.0, 700.0, 96);
const FLOW_GRID: (f64, f64, usize) = (233.15, 473.15, 96);
const CASE_GRID: (f64, f64, usize) = (-120.0, 420.0, 120);
/// Intervals of the torque table up to the rev limit.
const TORQUE_STEPS: usize = 1_024;
/// Speed ratios of the generic race converter's points.
const CAPACITY_POINTS: [f64; 8] = [0.0, 0.3, 0.6, 0.8, 0.9, 0.95, 0.98, 1.0];
const TORQUE_RATIO_POINTS: [f64; 3] = [0.0, 0.86, 1.0];

fn cubics<const Q: usize>(
    (start, end, steps): (f64, f64, usize),
    at: impl Fn(f64) -> [f64; Q],
) -> Value {
    let step = (end - start) / steps as f64;
    let rows: Vec<Vec<[f64; 4]>> = (0..steps)
        .map(|i| {
            // Just inside the interval, so that rounding does not read the neighbour; a cubic goes through four points.
            let shares = [1e-6, 1.0 / 3.0, 2.0 / 3.0, 1.0 - 1e-6];
            let values = shares.map(|u| at(start + (i as f64 + u) * step));
            let powers = SVector::<f64, 4>::from(shares);
            let matrix = nalgebra_matrix(&powers);
            let inverse = matrix.try_inverse().expect("four different places");
            (0..Q)
                .map(|q| (inverse * SVector::<f64, 4>::from(values.map(|row| row[q]))).into())
                .collect()
        })
        .collect();
    json!({ "start": start, "per_step": 1.0 / step, "cubics": rows })
}

fn nalgebra_matrix(u: &SVector<f64, 4>) -> nalgebra::Matrix4<f64> {
    nalgebra::Matrix4::from_fn(|row, power| u[row].powi(power as i32))
}

/// Things that many pieces share, written once.
struct Shared {
    places: HashMap<usize, usize>,
    written: Vec<Value>,
}

impl Shared {
    fn place(&mut self, key: usize, write: impl FnOnce() -> Value) -> usize {
        *self.places.entry(key).or_insert_with(|| {
            self.written.push(write());
            self.written.len() - 1
        })
    }
}

fn network_json(network: &Network, flows: &mut Shared, cases: &mut Shared) -> Value {
    let end = |end: End| match end {
        End::Node(i) => json!([i, 0.0]),
        End::Fixed(fixed_k) => json!([-1, fixed_k]),
    };
    let mut links = Vec::new();
    for link in &network.links {
        let (law, value) = match &link.law {
            Law::Conductance(w_per_k) => ("conductance", json!(w_per_k)),
            Law::Surveyed(quantity) => ("surveyed", json!(quantity)),
            Law::Radiation(area_m2) => ("radiation", json!(area_m2)),
            Law::Convection(curve) => {
                let root = |end: f64| end.abs().powf(0.25).copysign(end);
                let grid = (root(CASE_GRID.0), root(CASE_GRID.1), CASE_GRID.2);
                let key = Rc::as_ptr(curve) as usize;
                let place = cases.place(key, || cubics(grid, |x| curve.at(x)));
                ("convection", json!(place))
            }
            Law::NaturalConvection(_) => panic!("a law that no day uses"),
        };
        links.push(json!({
            "from": end(link.from), "to": end(link.to), "law": law, "value": value,
            "path": [link.path, link.reverse_path],
        }));
    }
    let sources: Vec<Value> = network
        .sources
        .iter()
        .map(|source| match source.follows {
            Follows::Nothing => json!([source.node, source.heat_w, -1, 0.0, source.path]),
            Follows::Capacity => json!([source.node, source.heat_w, -2, 0.0, source.path]),
            Follows::Surveyed { quantity, at_most } => {
                json!([source.node, source.heat_w, quantity, at_most.min(1e300), source.path])
            }
        })
        .collect();
    let streams: Vec<Value> = network
        .streams
        .iter()
        .map(|stream| {
            let StreamFlow::Surveyed(flow) = stream.flow else { panic!("a flow that no day uses") };
            let stops: Vec<Value> = stream
                .stops
                .iter()
                .map(|stop| match stop.effectiveness {
                    Share::Fixed(share) => json!([stop.node, -1, share, stop.path]),
                    Share::Surveyed(quantity) => json!([stop.node, quantity, 0.0, stop.path]),
                })
                .collect();
            json!({ "flow": flow, "stops": stops })
        })
        .collect();
    let survey = network.survey.as_ref().map(|(node, survey)| {
        let key = Rc::as_ptr(survey) as usize;
        let place =
            flows.place(key, || cubics(FLOW_GRID, |x| survey.first_at::<THERMAL_QUANTITIES>(x)));
        json!([node, place])
    });
    json!({ "links": links, "sources": sources, "streams": streams, "survey": survey })
}

/// Everything about a day in pieces; `end_k` and `starts` are those of a tight run of the pieces.
pub fn export(day: &Pieces, end_k: &[[f64; NODES]], starts: &[SVector<f64, WHOLE>]) -> Value {
    let nodes = day.transmission.nodes();
    let first = &day.pieces[0].network;
    let mut flows = Shared { places: HashMap::new(), written: Vec::new() };
    let mut cases = Shared { places: HashMap::new(), written: Vec::new() };
    let mut driven = Value::Null;
    let mut pieces = Vec::new();
    for (piece, start) in day.pieces.iter().zip(starts) {
        let mut written = network_json(&piece.network, &mut flows, &mut cases);
        let mut rates = SVector::<f64, WHOLE>::zeros();
        if let Some(driving) = &piece.driving {
            let powertrain = day.powertrain(driving);
            let limit = powertrain.engine.rev_limit_rad_per_s();
            let car = powertrain.car;
            if driven.is_null() {
                driven = json!({
                    "torque": cubics((0.0, limit, TORQUE_STEPS), |x| [powertrain.engine.torque_nm(x)]),
                    "engine_inertia": powertrain.engine.inertia_kg_m2(),
                    "engine_correction": powertrain.engine_correction,
                    "coefficient": CAPACITY_POINTS.map(|x| [x, powertrain.converter.coefficient(x)]),
                    "torque_ratio": TORQUE_RATIO_POINTS.map(|x| [x, powertrain.converter.torque_ratio(x)]),
                    "ratios": (0..powertrain.gearbox.ratios.len())
                        .map(|gear| powertrain.overall_ratio(gear)).collect::<Vec<f64>>(),
                    "mesh_loss": powertrain.gearbox.mesh_loss,
                    "drag_torque": powertrain.gearbox.drag_torque_nm,
                    "turbine_inertia": powertrain.gearbox.turbine_inertia_kg_m2,
                    "axle_efficiency": car.axle_efficiency,
                    "mass": car.mass_kg,
                    "radius": car.tyre_radius_m,
                    "wheel_inertia": car.wheel_inertia_kg_m2,
                    "grip": car.grip,
                    "driven_weight_share": car.driven_weight_share,
                    "height_over_wheelbase": car.height_over_wheelbase,
                    "drag_per_v2": 0.5 * powertrain.air_density_kg_per_m3 * car.drag_area_m2,
                    "rolling_resistance": car.rolling_resistance,
                });
            }
            let (before, launch) = match piece.before {
                Before::Nothing => ("nothing", 0.0),
                Before::Launch(engine_rad_per_s) => ("launch", engine_rad_per_s),
                Before::Shift => ("shift", 0.0),
                Before::Hold => ("hold", 0.0),
            };
            written["driving"] = json!({
                "before": before,
                "launch": launch,
                "gear": driving.gear,
                "holds": driving.tyre == Tyre::Grips,
                "pump_torque": driving.losses.pump_torque_nm,
                "drag_ratio": driving.losses.drag_ratio,
            });
            day.rates(piece, start, &mut rates);
            written["start"] = json!(start.as_slice());
            written["rates"] = json!(rates.as_slice());
        } else {
            let heat: SVector<f64, NODES> = start.fixed_rows::<NODES>(0).into_owned();
            let mut heat_rates = SVector::<f64, NODES>::zeros();
            day.rates(piece, &heat, &mut heat_rates);
            written["driving"] = Value::Null;
            written["start"] = json!(heat.as_slice());
            written["rates"] = json!(heat_rates.as_slice());
        }
        written["duration_s"] = json!(piece.duration_s);
        written["ends_event"] = json!(piece.ends_event);
        pieces.push(written);
    }
    let zero = SVector::<f64, NODES>::zeros();
    let one = SVector::<f64, NODES>::from_element(1.0);
    let base: Vec<f64> = (0..NODES).map(|i| day.scaling.heat_j(&zero, i)).collect();
    let scale: Vec<f64> = (0..NODES).map(|i| day.scaling.stored_j(&one, i)).collect();
    let inside = LEDGER_NODES.map(|node| node.index());
    let of_motion = [Path::ConverterShear, Path::GearTrain, Path::FrontPump].map(Path::index);
    json!({
        "base_j": base,
        "scale_j": scale,
        "linear": nodes.map(|node| node.linear_j_per_k),
        "quadratic": nodes.map(|node| node.quadratic_j_per_k2),
        "fluid_linear": first.fluid_per_kg.linear_j_per_k,
        "fluid_quadratic": first.fluid_per_kg.quadratic_j_per_k2,
        "density": cubics(FLUID_GRID, |x| [first.fluid_density.at(x)]),
        "capacity": cubics(FLUID_GRID, |x| [first.capacity.at(x)]),
        "paths": PATHS,
        "made": Path::SOURCES.map(Path::index),
        "away": Path::SINKS.map(Path::index),
        "inside": inside,
        "of_motion": of_motion,
        "flows": flows.written,
        "cases": cases.written,
        "driven": driven,
        "pieces": pieces,
        "end_k": end_k,
    })
}
