//! Launches of a simulated day: the start of every pass, with the hold that came before it.

use crate::scenario::Scenario;
use crate::timeline::{EventKind, Node};
use crate::trace::{Launch, Trace};
use crate::transmission::{Path, Transmission};

/// Launches of a day: the start of every pass, with the hold that came before it.
pub fn launches(scenario: &Scenario, transmission: &Transmission, trace: &Trace) -> Vec<Launch> {
    let limits = &scenario.setup.limits;
    let mut launches = Vec::new();
    let (mut held_s, mut held_heat_j) = (0.0, 0.0);
    let mut round = None;
    for (place, event) in trace.events.iter().enumerate() {
        if event.round != round {
            (held_s, held_heat_j, round) = (0.0, 0.0, event.round);
        }
        match event.kind {
            EventKind::BrakeHold => {
                held_s += event.end_s - event.start_s;
                held_heat_j += trace.event_ledger(event).path_j(Path::ConverterShear);
            }
            EventKind::Pass => {
                let sample = &trace.samples[event.samples.0];
                let pan_k = sample.temperature_k[Node::PanFluid.index()];
                let before = place.checked_sub(1).map(|before| &trace.events[before]);
                launches.push(Launch {
                    event: place,
                    charge_pressure_pa: before
                        .filter(|before| before.kind == EventKind::BrakeHold)
                        .map(|hold| hold.hydraulics.charge_pressure_pa),
                    round: event.round,
                    time_s: event.start_s,
                    temperature_k: sample.temperature_k,
                    held_s,
                    held_heat_j,
                    flash_rad_per_s: transmission
                        .flash(&sample.temperature_k)
                        .ok()
                        .map(|flash| flash.speed_rad_per_s),
                    launch_rad_per_s: match event
                        .pass
                        .as_ref()
                        .and_then(|pass| pass.samples.first())
                    {
                        Some(start) => start.motion.engine_rad_per_s,
                        None => before
                            .filter(|before| before.kind == EventKind::BrakeHold)
                            .map_or(scenario.setup.engine.idle_speed_rad_per_s, |hold| {
                                hold.loads.engine_speed_rad_per_s
                            }),
                    },
                    pass: event.pass.clone(),
                    from_window_k: (pan_k - limits.window_high_k).max(0.0)
                        + (pan_k - limits.window_low_k).min(0.0),
                });
                (held_s, held_heat_j) = (0.0, 0.0);
            }
            _ => {}
        }
    }
    launches
}
