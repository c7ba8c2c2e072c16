//! What a day comes to, worked out from its trace: heat of a pass by second, charge by turnaround, fluid life.

use crate::fluid_life::AgeingLaw;
use crate::pass::PassResult;
use crate::scenario::Scenario;
use crate::timeline::Node;
use crate::trace::{EventRecord, Sample, Trace};
use crate::transmission::Path;

/// Heat made in a stretch of time (J), by source.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct HeatBySource {
    pub converter_j: f64,
    pub gear_train_j: f64,
    pub front_pump_j: f64,
}

impl HeatBySource {
    fn so_far(path_j: &impl Fn(Path) -> f64) -> HeatBySource {
        HeatBySource {
            converter_j: path_j(Path::ConverterShear),
            gear_train_j: path_j(Path::GearTrain),
            front_pump_j: path_j(Path::FrontPump),
        }
    }

    fn minus(self, earlier: HeatBySource) -> HeatBySource {
        HeatBySource {
            converter_j: self.converter_j - earlier.converter_j,
            gear_train_j: self.gear_train_j - earlier.gear_train_j,
            front_pump_j: self.front_pump_j - earlier.front_pump_j,
        }
    }

    /// All three.
    pub fn total_j(&self) -> f64 {
        self.converter_j + self.gear_train_j + self.front_pump_j
    }
}

/// Heat made since the start of the day at a time within an event, straight between samples.
fn made_at(trace: &Trace, event: &EventRecord, time_s: f64) -> HeatBySource {
    let samples = &trace.samples[event.samples.0..=event.samples.1];
    let after = samples.partition_point(|sample| sample.time_s < time_s).min(samples.len() - 1);
    let (a, b) = (&samples[after.saturating_sub(1)], &samples[after]);
    let span_s = b.time_s - a.time_s;
    let share = if span_s > 0.0 { ((time_s - a.time_s) / span_s).clamp(0.0, 1.0) } else { 1.0 };
    HeatBySource::so_far(&|path: Path| {
        let (low_j, high_j) = (a.path_j[path.index()], b.path_j[path.index()]);
        low_j + share * (high_j - low_j)
    })
}

/// Heat made in every second of an event, the last one being what is left of a second.
pub fn heat_by_second(trace: &Trace, event: &EventRecord) -> Vec<HeatBySource> {
    let duration_s = event.end_s - event.start_s;
    let seconds = (duration_s - 1e-6).ceil().clamp(0.0, 60.0) as usize;
    (0..seconds)
        .map(|second| {
            let start_s = event.start_s + second as f64;
            let end_s = (start_s + 1.0).min(event.end_s);
            made_at(trace, event, end_s).minus(made_at(trace, event, start_s))
        })
        .collect()
}

/// Heat made in an event.
pub fn heat_made(trace: &Trace, event: &EventRecord) -> HeatBySource {
    made_at(trace, event, event.end_s).minus(made_at(trace, event, event.start_s))
}

/// Share of an event's converter heat that is made in the first third of its time, 0 to 1.
pub fn first_third_share(trace: &Trace, event: &EventRecord) -> f64 {
    let third_s = event.start_s + (event.end_s - event.start_s) / 3.0;
    let early_j =
        made_at(trace, event, third_s).minus(made_at(trace, event, event.start_s)).converter_j;
    let all_j = heat_made(trace, event).converter_j;
    if all_j > 0.0 { early_j / all_j } else { 0.0 }
}

/// Elapsed time at the finish of a computed pass (s).
pub fn finish_s(pass: &PassResult) -> Option<f64> {
    pass.marks.last().map(|mark| mark.elapsed_s)
}

/// How long after the finish of a launch's pass the pan fluid is down to the top of the launch window and stays so
/// until the next launch, or the end of the day (s): zero when it never is above. `None` when it is still above then.
pub fn down_to_window_s(scenario: &Scenario, trace: &Trace, launch: usize) -> Option<f64> {
    let top_k = scenario.setup.limits.window_high_k;
    let finish_s = trace.events[trace.launches.get(launch)?.event].end_s;
    let until_s = trace.launches.get(launch + 1).map_or(trace.duration_s(), |next| next.time_s);
    let first = trace.samples.partition_point(|sample| sample.time_s < finish_s);
    let behind = trace.samples.partition_point(|sample| sample.time_s <= until_s);
    let between = trace.samples.get(first..behind)?;
    let pan_k = |sample: &Sample| sample.temperature_k[Node::PanFluid.index()];
    let Some(above) = between.iter().rposition(|sample| pan_k(sample) > top_k) else {
        return Some(0.0);
    };
    // Straight between the samples on both sides.
    let (a, b) = (between.get(above)?, between.get(above + 1)?);
    let share = (top_k - pan_k(a)) / (pan_k(b) - pan_k(a));
    Some(a.time_s + share * (b.time_s - a.time_s) - finish_s)
}

/// One round's turnaround: charge and fluid life.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turnaround {
    pub round: u32,
    pub start_s: f64,
    pub end_s: f64,
    /// What pump and fan took out of the battery (A·s).
    pub used_a_s: f64,
    /// Least charge in it (A·s).
    pub least_a_s: f64,
    /// Time that pump and fan were on (s).
    pub pump_s: f64,
    pub fan_s: f64,
    /// Share of a fill's life that it used.
    pub life_share: f64,
}

/// Rounds in order.
pub fn turnarounds(scenario: &Scenario, trace: &Trace) -> Vec<Turnaround> {
    let mut rounds: Vec<Turnaround> = Vec::new();
    // First and last sample of each.
    let mut samples: Vec<(usize, usize)> = Vec::new();
    for event in &trace.events {
        let Some(round) = event.round else { continue };
        match (rounds.last_mut(), samples.last_mut()) {
            (Some(known), Some(within)) if known.round == round => {
                known.end_s = event.end_s;
                within.1 = event.samples.1;
            }
            _ => {
                samples.push(event.samples);
                rounds.push(Turnaround {
                    round,
                    start_s: event.start_s,
                    end_s: event.end_s,
                    used_a_s: 0.0,
                    least_a_s: 0.0,
                    pump_s: 0.0,
                    fan_s: 0.0,
                    life_share: 0.0,
                });
            }
        }
    }
    for (round, (first, last)) in rounds.iter_mut().zip(samples) {
        let within = &trace.samples[first..=last];
        round.used_a_s = trace.samples[last].used_a_s - trace.samples[first].used_a_s;
        round.least_a_s =
            within.iter().map(|sample| sample.charge_a_s).fold(f64::INFINITY, f64::min);
        round.life_share = life_share(scenario, within);
    }
    for switch in &trace.switches {
        for round in &mut rounds {
            let on_s = (switch.end_s.min(round.end_s) - switch.start_s.max(round.start_s)).max(0.0);
            match switch.route {
                Some(_) => round.pump_s += on_s,
                None => round.fan_s += on_s,
            }
        }
    }
    rounds
}

/// Share of a fill's life that a stretch of samples uses: the dose of converter fluid and of all other fluid,
/// weighted with their volumes, over the fill's life at 175 °F.
pub fn life_share(scenario: &Scenario, samples: &[Sample]) -> f64 {
    let setup = &scenario.setup;
    let law = AgeingLaw::trade_rule();
    let (inside_m3, outside_m3) = (
        setup.converter.fluid_volume_m3,
        setup.transmission.pan_volume_m3 + setup.cooler.fluid_volume_m3,
    );
    let mut dose_s_m3 = 0.0;
    for (node, volume_m3) in [(Node::ConverterFluid, inside_m3), (Node::PanFluid, outside_m3)] {
        let history =
            samples.iter().map(|sample| (sample.time_s, sample.temperature_k[node.index()]));
        dose_s_m3 += volume_m3 * law.dose_s(history);
    }
    dose_s_m3 / (inside_m3 + outside_m3) / setup.fluid.life_s
}
