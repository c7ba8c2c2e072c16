//! The day as JSON and CSV, for other programs.

use serde_json::{Map, Value, json};

use super::summary::{air_summary, ended_by};
use crate::finding::{Caution, advice, cautions, finding};
use crate::results::{heat_by_second, life_share, turnarounds};
use crate::scenario::Scenario;
use crate::timeline::Node;
use crate::trace::{LEDGER_NODES, Ledger, Trace};
use crate::transmission::Path;
use crate::units::{System, rpm, significant, temperature_in};

/// The day as JSON in SI: s, °C, J.
pub fn json(scenario: &Scenario, trace: &Trace) -> Value {
    let air = air_summary(&scenario.setup, System::Si);
    let mut temperatures = Map::new();
    for node in Node::ALL {
        let column: Vec<f64> = trace
            .samples
            .iter()
            .map(|sample| celsius(sample.temperature_k[node.index()]))
            .collect();
        temperatures.insert(node.key().to_string(), json!(column));
    }
    let books = |ledger: &Ledger| {
        let stored: Map<String, Value> = LEDGER_NODES
            .iter()
            .map(|node| (node.key().to_string(), json!(ledger.node_j(*node))))
            .collect();
        json!({
            "made_j": paths_j(ledger, &Path::SOURCES),
            "carried_away_j": paths_j(ledger, &Path::SINKS),
            "stored_j": stored,
            "moved_inside_j": paths_j(ledger, &Path::INSIDE),
            "closure": ledger.closure(),
        })
    };
    json!({
        "scenario": scenario.name,
        "time_s": trace.samples.iter().map(|sample| sample.time_s).collect::<Vec<f64>>(),
        "temperatures_c": temperatures,
        "battery_a_h": trace.samples.iter().map(|s| s.charge_a_s / 3600.0).collect::<Vec<f64>>(),
        "events": trace.events.iter().map(|event| json!({
            "kind": event.kind.key(),
            "name": event.name,
            "round": event.round,
            "start_s": event.start_s,
            "end_s": event.end_s,
            "ended_by": ended_by(event.ended_by),
            "engine_rpm": rpm(event.loads.engine_speed_rad_per_s),
            "input_power_w": event.loads.input_power_w,
            "slip": event.loads.slip,
            "torque_ratio": event.loads.torque_ratio,
            "from_car": event.loads.from_car,
            "line_pressure_pa": event.hydraulics.line_pressure_pa,
            "charge_pressure_pa": event.hydraulics.charge_pressure_pa,
            "front_pump_m3_per_s": event.hydraulics.front_pump_m3_per_s,
            "circulation_m3_per_s": event.hydraulics.circulation_m3_per_s,
            "circulation_a": event.hydraulics.circulation_a,
            "ledger": books(&trace.event_ledger(event)),
        })).collect::<Vec<Value>>(),
        "switches": trace.switches.iter().map(|switch| json!({
            "switch": if switch.route.is_some() { "circulation" } else { "fan" },
            "route": switch.route.map(|route| route.key()),
            "start_s": switch.start_s,
            "end_s": switch.end_s,
        })).collect::<Vec<Value>>(),
        "launches": trace.launches.iter().map(|launch| json!({
            "round": launch.round,
            "time_s": launch.time_s,
            "temperatures_c": temperatures_c(&launch.temperature_k),
            "held_s": launch.held_s,
            "held_heat_j": launch.held_heat_j,
            "from_window_k": launch.from_window_k,
            "flash_rpm": launch.flash_rad_per_s.map(rpm),
            "launch_rpm": rpm(launch.launch_rad_per_s),
            "charge_pressure_pa": launch.charge_pressure_pa,
            "heat_by_second_j": heat_by_second(trace, &trace.events[launch.event])
                .iter()
                .map(|heat| json!({
                    "converter": heat.converter_j,
                    "gear_train": heat.gear_train_j,
                    "front_pump": heat.front_pump_j,
                }))
                .collect::<Vec<Value>>(),
            "pass": launch.pass.as_ref().map(|pass| json!({
                "rollout_s": pass.rollout_s,
                "duration_s": pass.duration_s,
                "finish_slip": pass.finish_slip,
                "marks": pass.marks.iter().map(|mark| json!({
                    "distance_m": mark.distance_m,
                    "elapsed_s": mark.elapsed_s,
                    "speed_m_per_s": mark.speed_m_per_s,
                    "engine_rpm": rpm(mark.engine_rad_per_s),
                })).collect::<Vec<Value>>(),
                "energy_j": {
                    "engine": pass.energy.engine_j,
                    "converter": pass.energy.converter_j,
                    "front_pump": pass.energy.front_pump_j,
                    "gear_train": pass.energy.gearbox_j,
                    "axle": pass.energy.axle_j,
                    "tyres": pass.energy.tyre_j,
                    "drag": pass.energy.drag_j,
                    "rolling": pass.energy.rolling_j,
                    "kinetic": pass.energy.kinetic_j,
                },
                "trace": {
                    "time_s": pass.samples.iter().map(|s| s.time_s).collect::<Vec<f64>>(),
                    "distance_m": pass.samples.iter().map(|s| s.distance_m).collect::<Vec<f64>>(),
                    "engine_rpm": pass.samples.iter()
                        .map(|s| rpm(s.motion.engine_rad_per_s)).collect::<Vec<f64>>(),
                    "speed_m_per_s": pass.samples.iter()
                        .map(|s| s.motion.car_m_per_s).collect::<Vec<f64>>(),
                    "converter_j": pass.samples.iter().map(|s| s.converter_j).collect::<Vec<f64>>(),
                    "gear": pass.samples.iter().map(|s| s.gear + 1).collect::<Vec<usize>>(),
                },
            })),
        })).collect::<Vec<Value>>(),
        "turnarounds": turnarounds(scenario, trace).iter().map(|round| json!({
            "round": round.round,
            "start_s": round.start_s,
            "end_s": round.end_s,
            "used_a_h": round.used_a_s / 3600.0,
            "least_a_h": round.least_a_s / 3600.0,
            "pump_s": round.pump_s,
            "fan_s": round.fan_s,
            "fluid_life_share": round.life_share,
        })).collect::<Vec<Value>>(),
        "fluid_life_share": life_share(scenario, &trace.samples),
        "air": {
            "density_kg_per_m3": air.density,
            "density_altitude_m": air.density_altitude,
            "engine_share": air.engine_share,
        },
        "ledger": books(&trace.ledger),
        "finding": finding(trace, System::Si),
        "advice": advice(scenario, trace, System::Si),
        "cautions": cautions_json(scenario, trace),
    })
}

fn celsius(temperature_k: f64) -> f64 {
    temperature_k - 273.15
}

/// Temperatures of the nodes by key (°C).
pub(super) fn temperatures_c(temperature_k: &[f64]) -> Value {
    Node::ALL
        .iter()
        .map(|node| (node.key().to_string(), json!(celsius(temperature_k[node.index()]))))
        .collect::<Map<String, Value>>()
        .into()
}

/// Heat along paths by key (J).
pub(super) fn paths_j(ledger: &Ledger, paths: &[Path]) -> Value {
    paths
        .iter()
        .map(|path| (path.key().to_string(), json!(ledger.path_j(*path))))
        .collect::<Map<String, Value>>()
        .into()
}

/// The cautions, in SI.
pub(super) fn cautions_json(scenario: &Scenario, trace: &Trace) -> Value {
    let found = cautions(scenario, trace, System::Si);
    let one = |caution: &Caution| json!({ "key": caution.key, "text": caution.text, "time_s": caution.time_s });
    found.iter().map(one).collect::<Vec<Value>>().into()
}

/// The temperatures as CSV, units in the header, one row a sample.
pub fn csv(trace: &Trace, system: System) -> String {
    let unit = system.pick("F", "C");
    let mut out = String::from("time_s");
    for node in Node::ALL {
        out.push_str(&format!(",{}_{unit}", node.key()));
    }
    out.push_str(",battery_Ah\n");
    for sample in &trace.samples {
        out.push_str(&significant(sample.time_s, 9));
        for temperature_k in sample.temperature_k {
            out.push_str(&format!(",{:.3}", temperature_in(system, temperature_k)));
        }
        out.push_str(&format!(",{:.3}\n", sample.charge_a_s / 3600.0));
    }
    out
}
