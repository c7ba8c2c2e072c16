//! The day in a few numbers, for sweeps over many days: JSON in SI with the keys of the whole JSON where it has them.

use serde_json::{Map, Value, json};

use super::export::{cautions_json, paths_j, temperatures_c};
use crate::results::{finish_s, life_share};
use crate::scenario::Scenario;
use crate::timeline::Node;
use crate::trace::Trace;
use crate::transmission::Path;
use crate::units::rpm;

/// Launches, peaks, spread of the launches, battery, elapsed times, heat by source and cautions, as one object: s, °C,
/// K, J, A·h. An elapsed time is null for a logged pass.
pub fn brief(scenario: &Scenario, trace: &Trace) -> Map<String, Value> {
    let launches: Vec<Value> = trace
        .launches
        .iter()
        .map(|launch| {
            let finish = launch.pass.as_ref().and_then(|pass| pass.marks.last());
            json!({
                "round": launch.round,
                "time_s": launch.time_s,
                "temperatures_c": temperatures_c(&launch.temperature_k),
                "from_window_k": launch.from_window_k,
                "held_s": launch.held_s,
                "flash_rpm": launch.flash_rad_per_s.map(rpm),
                "elapsed_s": launch.pass.as_ref().and_then(finish_s),
                "speed_m_per_s": finish.map(|mark| mark.speed_m_per_s),
            })
        })
        .collect();
    let peaks = Node::ALL.map(|node| trace.peak(node));
    let by_node = |value: &dyn Fn(Node) -> f64| -> Value {
        Node::ALL
            .iter()
            .map(|node| (node.key().to_string(), json!(value(*node))))
            .collect::<Map<String, Value>>()
            .into()
    };
    let least_a_s =
        trace.samples.iter().map(|sample| sample.charge_a_s).fold(f64::INFINITY, f64::min);
    let used_a_s = trace.samples.last().map_or(0.0, |sample| sample.used_a_s);
    let fields = [
        ("name", json!(scenario.name)),
        ("duration_s", json!(trace.duration_s())),
        ("launches", json!(launches)),
        ("peaks_c", temperatures_c(&peaks.map(|(peak_k, _)| peak_k))),
        ("peaks_time_s", by_node(&|node| peaks[node.index()].1)),
        ("launch_spread_k", by_node(&|node| trace.launch_spread_k(node))),
        ("battery_least_a_h", json!(least_a_s / 3600.0)),
        ("battery_used_a_h", json!(used_a_s / 3600.0)),
        ("fluid_life_share", json!(life_share(scenario, &trace.samples))),
        ("made_j", paths_j(&trace.ledger, &Path::SOURCES)),
        ("cautions", cautions_json(scenario, trace)),
    ];
    fields.into_iter().map(|(key, value)| (key.to_string(), value)).collect()
}
