//! A day's summary for the page and the text: finding, launches, events, ledger, cautions, in the reader's units.

use serde::Serialize;

use crate::finding::{SAFETY, advice, cautions_with, converter_share, finding, shown_spread};
use crate::pass::PassResult;
use crate::results::{first_third_share, heat_by_second, heat_made, life_share, turnarounds};
use crate::scenario::Scenario;
use crate::scenario::parameters::Setup;
use crate::timeline::{EventKind, Node};
use crate::trace::{EndedBy, EventRecord, LEDGER_NODES, Ledger, Trace};
use crate::transmission::Path;
use crate::units::{
    Dimension, System, clock_text, energy_in, energy_unit, flow_unit, length_unit, power_unit,
    pressure_in, pressure_unit, rpm, speed_unit, temperature_difference_in, temperature_in,
    temperature_symbol, time_text, unit_or_si,
};

/// One line of the ledger.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LedgerLine {
    pub key: &'static str,
    pub label: &'static str,
    /// In the summary's energy unit.
    pub energy: f64,
    /// Share of the heat made, 0 to 1; zero when none was made.
    pub share: f64,
}

/// What one kind of event added up to over the day.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct KindSummary {
    pub key: &'static str,
    pub label: &'static str,
    pub count: usize,
    pub time_s: f64,
    /// Heat made during it, in the summary's energy unit.
    pub energy: f64,
    /// Share of the heat made over the day, 0 to 1.
    pub share: f64,
}

/// The ledger in the reader's units.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LedgerSummary {
    pub made: Vec<LedgerLine>,
    pub away: Vec<LedgerLine>,
    pub stored: Vec<LedgerLine>,
    pub made_total: f64,
    pub away_total: f64,
    pub stored_total: f64,
    /// Relative, 0 when it closes exactly.
    pub closure: f64,
}

/// A launch in the reader's units.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LaunchSummary {
    pub round: Option<u32>,
    pub time_s: f64,
    pub clock: String,
    pub converter: f64,
    pub shell: f64,
    pub pan: f64,
    pub case: f64,
    /// Pan's distance from the launch window: negative below, positive above, zero inside.
    pub from_window: f64,
    /// Pan's change against the first launch.
    pub change: f64,
    pub held_s: f64,
    /// Engine speeds, rpm: where engine and stalled converter balance, and where the brake let go.
    pub flash_rpm: Option<f64>,
    pub launch_rpm: f64,
    /// Flash speed against that of the first launch, rpm.
    pub flash_change_rpm: Option<f64>,
    /// Converter charge pressure at the end of the hold, psi or bar; absent without a hold.
    pub charge_pressure: Option<f64>,
    /// Heat made in the pass, computed or logged.
    pub heat: PassHeat,
    /// The computed pass; absent for a logged one.
    pub pass: Option<PassSummary>,
}

/// Heat made in a pass, by source and by second.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PassHeat {
    /// Sources, the largest first.
    pub sources: Vec<LedgerLine>,
    /// By second of the pass: converter, gears, front pump, in the summary's energy unit.
    pub seconds: Vec<[f64; 3]>,
    /// Share of the converter's heat that is made in the first third of the time, 0 to 1.
    pub first_third_share: f64,
}

/// The air of the day, and what it does to engine and car.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AirSummary {
    /// kg/m³, moist.
    pub density: f64,
    /// In feet or metres.
    pub density_altitude: f64,
    pub altitude_unit: &'static str,
    /// Engine torque of the day over that on the reference day.
    pub engine_share: f64,
    pub text: String,
}

/// A round's turnaround.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TurnaroundSummary {
    pub round: u32,
    pub took: String,
    /// What pump and fan took out of the battery, Ah.
    pub used_ah: f64,
    /// Least charge in it, Ah.
    pub least_ah: f64,
    /// How long pump and fan were on, in words.
    pub pump_on: String,
    pub fan_on: String,
    /// Share of a fill's life, 0 to 1.
    pub life_share: f64,
}

/// A mark of a computed pass.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MarkSummary {
    pub label: &'static str,
    pub elapsed_s: f64,
    /// Against the same mark of the first computed pass (s).
    pub change_s: f64,
    /// mph or km/h.
    pub speed: f64,
    pub engine_rpm: f64,
}

/// A computed pass in the reader's units.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PassSummary {
    pub marks: Vec<MarkSummary>,
    pub elapsed_s: f64,
    pub speed: f64,
    pub speed_unit: &'static str,
    /// Elapsed time against the first computed pass over the same distance (s).
    pub elapsed_change_s: f64,
    /// Heat made in the converter, in the summary's energy unit.
    pub converter_heat: f64,
    /// Converter slip at the finish, 0 to 1.
    pub finish_slip: f64,
}

/// What people call the distances at which time is taken.
pub(crate) fn mark_label(distance_m: f64) -> &'static str {
    match distance_m {
        d if d < 20.0 => "60 ft",
        d if d < 150.0 => "330 ft",
        d if d < 250.0 => "1/8 mile",
        d if d < 350.0 => "1,000 ft",
        _ => "1/4 mile",
    }
}

fn pass_summary(pass: &PassResult, first: Option<&PassResult>, system: System) -> PassSummary {
    let speed_unit = speed_unit(system);
    let speed = |m_per_s: f64| unit_or_si(Dimension::Velocity, speed_unit).from_si(m_per_s);
    let finish = pass.marks.last();
    let first_finish = first
        .and_then(|first| first.marks.last())
        .filter(|first| finish.is_some_and(|finish| finish.distance_m == first.distance_m));
    let elapsed_s = finish.map_or(f64::NAN, |mark| mark.elapsed_s);
    let first_at = |distance_m: f64| {
        let marks = first.map(|first| first.marks.iter());
        marks.into_iter().flatten().find(|mark| mark.distance_m == distance_m)
    };
    PassSummary {
        marks: pass
            .marks
            .iter()
            .map(|mark| MarkSummary {
                label: mark_label(mark.distance_m),
                elapsed_s: mark.elapsed_s,
                change_s: first_at(mark.distance_m)
                    .map_or(0.0, |first| mark.elapsed_s - first.elapsed_s),
                speed: speed(mark.speed_m_per_s),
                engine_rpm: rpm(mark.engine_rad_per_s),
            })
            .collect(),
        elapsed_s,
        speed: speed(finish.map_or(f64::NAN, |mark| mark.speed_m_per_s)),
        speed_unit,
        elapsed_change_s: first_finish.map_or(0.0, |first| elapsed_s - first.elapsed_s),
        converter_heat: energy_in(system, pass.energy.converter_j),
        finish_slip: pass.finish_slip,
    }
}

/// An event as it happened.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EventSummary {
    pub kind: &'static str,
    /// How its block is marked: `off`, `running` or `loaded`.
    pub look: &'static str,
    pub label: String,
    pub round: Option<u32>,
    pub start_s: f64,
    pub end_s: f64,
    /// Start and end as clocks of the day, and how long it took, in words.
    pub start_clock: String,
    pub end_clock: String,
    pub took: String,
    pub ended_by: &'static str,
    /// Heat made in the converter and in all, in the summary's energy unit.
    pub converter_heat: f64,
    pub made: f64,
    pub away: f64,
    /// Temperatures at its end.
    pub converter: f64,
    pub pan: f64,
    /// What the engine did: rpm, zero when off; power into the converter (hp or kW) and slip where it drives.
    pub engine_rpm: f64,
    pub input_power: f64,
    pub slip: f64,
    pub torque_ratio: f64,
    /// Whether that follows from the car instead of a log.
    pub from_car: bool,
    /// At its end: line and charge pressure, flows of front and circulation pump, and the pump's current (A).
    pub line_pressure: f64,
    pub charge_pressure: f64,
    pub front_pump_flow: f64,
    pub circulation_flow: f64,
    pub circulation_current: f64,
    /// Place in the scenario: block and event; absent for time that no event fills.
    pub place: Option<(usize, usize)>,
}

/// A switch that was on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SwitchSummary {
    /// `fan`, or the key of the pump's route.
    pub key: &'static str,
    pub label: &'static str,
    pub start_s: f64,
    pub end_s: f64,
}

/// A caution.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CautionSummary {
    pub key: &'static str,
    pub text: String,
    pub time_s: f64,
    pub clock: String,
}

/// The highest temperature of a node.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PeakSummary {
    pub node: &'static str,
    pub label: &'static str,
    pub temperature: f64,
    pub time_s: f64,
    pub clock: String,
}

/// Everything a page or a report says about a day, in the reader's units.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Summary {
    pub name: String,
    pub note: String,
    pub finding: String,
    pub advice: String,
    pub temperature_unit: &'static str,
    pub energy_unit: &'static str,
    pub pressure_unit: &'static str,
    pub flow_unit: &'static str,
    pub power_unit: &'static str,
    pub air: AirSummary,
    pub duration_s: f64,
    pub duration_text: String,
    pub peaks: Vec<PeakSummary>,
    pub launches: Vec<LaunchSummary>,
    /// Spread of the launches, pan and converter fluid, in whole degrees.
    pub spread_pan: f64,
    pub spread_converter: f64,
    pub window: (f64, f64),
    pub ledger: LedgerSummary,
    /// Heat made by kind of event, the largest first.
    pub kinds: Vec<KindSummary>,
    pub events: Vec<EventSummary>,
    pub switches: Vec<SwitchSummary>,
    pub cautions: Vec<CautionSummary>,
    pub safety: Vec<&'static str>,
    pub battery_least_ah: f64,
    pub turnarounds: Vec<TurnaroundSummary>,
    /// Share of a fill's life that the day used, 0 to 1.
    pub fluid_life_share: f64,
    pub converter_share: f64,
}

/// The air of the day in words and numbers.
pub(super) fn air_summary(setup: &Setup, system: System) -> AirSummary {
    let weather = setup.weather();
    let altitude_unit = length_unit(system);
    let density_altitude =
        unit_or_si(Dimension::Length, altitude_unit).from_si(weather.density_altitude_m());
    let engine_share = 1.0 / weather.sae_j1349_1990_factor();
    AirSummary {
        density: weather.density_kg_per_m3(),
        density_altitude,
        altitude_unit,
        engine_share,
        text: format!(
            "Density altitude {:.0} {altitude_unit} (air of {:.3} kg/m³); the engine makes {:.1} % of its rated torque in this air.",
            density_altitude,
            weather.density_kg_per_m3(),
            100.0 * engine_share
        ),
    }
}

fn pass_heat(trace: &Trace, event: &EventRecord, system: System) -> PassHeat {
    let energy = |heat_j: f64| energy_in(system, heat_j);
    let made = heat_made(trace, event);
    let all_j = made.total_j();
    let line = |path: Path, heat_j: f64| LedgerLine {
        key: path.key(),
        label: path.label(),
        energy: energy(heat_j),
        share: if all_j > 0.0 { heat_j / all_j } else { 0.0 },
    };
    // Few lines, put in place one by one: a sort for each kind of line would weigh more than it saves.
    let mut sources: Vec<LedgerLine> = Vec::new();
    for line in [
        line(Path::ConverterShear, made.converter_j),
        line(Path::GearTrain, made.gear_train_j),
        line(Path::FrontPump, made.front_pump_j),
    ] {
        let place = sources.partition_point(|larger| larger.energy >= line.energy);
        sources.insert(place, line);
    }
    PassHeat {
        sources,
        seconds: heat_by_second(trace, event)
            .iter()
            .map(|heat| {
                [energy(heat.converter_j), energy(heat.gear_train_j), energy(heat.front_pump_j)]
            })
            .collect(),
        first_third_share: first_third_share(trace, event),
    }
}

/// The summary of a simulated day.
pub fn summary(scenario: &Scenario, trace: &Trace, system: System) -> Summary {
    let temperature = |temperature_k: f64| temperature_in(system, temperature_k);
    let difference = |delta_k: f64| temperature_difference_in(system, delta_k);
    let energy = |heat_j: f64| energy_in(system, heat_j);
    let flow = |m3_per_s: f64| unit_or_si(Dimension::Flow, flow_unit(system)).from_si(m3_per_s);
    let fluid_life_share = life_share(scenario, &trace.samples);
    let first_pan_k =
        trace.launches.first().map(|launch| launch.temperature_k[Node::PanFluid.index()]);
    let first_flash = trace.launches.first().and_then(|launch| launch.flash_rad_per_s);
    let first_pass = trace.launches.iter().find_map(|launch| launch.pass.as_ref());
    let launches = trace
        .launches
        .iter()
        .map(|launch| {
            let at = |node: Node| temperature(launch.temperature_k[node.index()]);
            let pan_k = launch.temperature_k[Node::PanFluid.index()];
            LaunchSummary {
                round: launch.round,
                time_s: launch.time_s,
                clock: clock_text(launch.time_s),
                converter: at(Node::ConverterFluid),
                shell: at(Node::ConverterShell),
                pan: at(Node::PanFluid),
                case: at(Node::Case),
                from_window: difference(launch.from_window_k),
                change: difference(pan_k - first_pan_k.unwrap_or(pan_k)),
                held_s: launch.held_s,
                flash_rpm: launch.flash_rad_per_s.map(rpm),
                launch_rpm: rpm(launch.launch_rad_per_s),
                flash_change_rpm: launch
                    .flash_rad_per_s
                    .zip(first_flash)
                    .map(|(flash, first)| rpm(flash - first)),
                charge_pressure: launch
                    .charge_pressure_pa
                    .map(|pressure_pa| pressure_in(system, pressure_pa)),
                heat: pass_heat(trace, &trace.events[launch.event], system),
                pass: launch.pass.as_ref().map(|pass| pass_summary(pass, first_pass, system)),
            }
        })
        .collect();
    let events = trace
        .events
        .iter()
        .map(|event| {
            let ledger = trace.event_ledger(event);
            let end = &trace.samples[event.samples.1];
            EventSummary {
                kind: event.kind.key(),
                look: event.kind.look(),
                label: event.label().to_string(),
                round: event.round,
                start_s: event.start_s,
                end_s: event.end_s,
                start_clock: clock_text(event.start_s),
                end_clock: clock_text(event.end_s),
                took: time_text(event.end_s - event.start_s),
                ended_by: ended_by(event.ended_by),
                converter_heat: energy(ledger.path_j(Path::ConverterShear)),
                made: energy(ledger.made_j()),
                away: energy(ledger.away_j()),
                converter: temperature(end.temperature_k[Node::ConverterFluid.index()]),
                pan: temperature(end.temperature_k[Node::PanFluid.index()]),
                engine_rpm: if event.kind.engine_runs() {
                    rpm(event.loads.engine_speed_rad_per_s)
                } else {
                    0.0
                },
                input_power: unit_or_si(Dimension::Power, power_unit(system))
                    .from_si(event.loads.input_power_w),
                slip: event.loads.slip,
                torque_ratio: event.loads.torque_ratio,
                from_car: event.loads.from_car || event.pass.is_some(),
                line_pressure: pressure_in(system, event.hydraulics.line_pressure_pa),
                charge_pressure: pressure_in(system, event.hydraulics.charge_pressure_pa),
                front_pump_flow: flow(event.hydraulics.front_pump_m3_per_s),
                circulation_flow: flow(event.hydraulics.circulation_m3_per_s),
                circulation_current: event.hydraulics.circulation_a,
                place: event.place,
            }
        })
        .collect();
    let switches = trace
        .switches
        .iter()
        .map(|switch| SwitchSummary {
            key: switch.route.map_or("fan", |route| route.key()),
            label: switch.route.map_or("Fan", |route| route.label()),
            start_s: switch.start_s,
            end_s: switch.end_s,
        })
        .collect();
    let peaks = Node::ALL
        .iter()
        .map(|node| {
            let (peak_k, time_s) = trace.peak(*node);
            PeakSummary {
                node: node.key(),
                label: node.label(),
                temperature: temperature(peak_k),
                time_s,
                clock: clock_text(time_s),
            }
        })
        .collect();
    let least_charge_a_s =
        trace.samples.iter().map(|sample| sample.charge_a_s).fold(f64::INFINITY, f64::min);
    let limits = &scenario.setup.limits;
    Summary {
        name: scenario.name.clone(),
        note: scenario.note.clone(),
        finding: finding(trace, system),
        advice: advice(scenario, trace, system),
        temperature_unit: temperature_symbol(system),
        energy_unit: energy_unit(system),
        pressure_unit: pressure_unit(system),
        flow_unit: flow_unit(system),
        power_unit: power_unit(system),
        air: air_summary(&scenario.setup, system),
        duration_s: trace.duration_s(),
        duration_text: time_text(trace.duration_s()),
        peaks,
        launches,
        spread_pan: shown_spread(trace, Node::PanFluid, system),
        spread_converter: shown_spread(trace, Node::ConverterFluid, system),
        window: (temperature(limits.window_low_k), temperature(limits.window_high_k)),
        ledger: ledger_summary(&trace.ledger, system),
        kinds: kinds_summary(trace, system),
        events,
        switches,
        cautions: cautions_with(scenario, trace, fluid_life_share, system)
            .into_iter()
            .map(|caution| CautionSummary {
                key: caution.key,
                text: caution.text,
                time_s: caution.time_s,
                clock: clock_text(caution.time_s),
            })
            .collect(),
        safety: SAFETY.to_vec(),
        battery_least_ah: least_charge_a_s / 3600.0,
        turnarounds: turnarounds(scenario, trace)
            .iter()
            .map(|round| TurnaroundSummary {
                round: round.round,
                took: time_text(round.end_s - round.start_s),
                used_ah: round.used_a_s / 3600.0,
                least_ah: round.least_a_s / 3600.0,
                pump_on: on_text(round.pump_s),
                fan_on: on_text(round.fan_s),
                life_share: round.life_share,
            })
            .collect(),
        fluid_life_share,
        converter_share: converter_share(trace),
    }
}

/// How long a switch was on, in words.
fn on_text(on_s: f64) -> String {
    if on_s < 0.5 { "off".to_string() } else { time_text(on_s.round()) }
}

pub(super) fn ended_by(ended_by: EndedBy) -> &'static str {
    match ended_by {
        EndedBy::Time => "time",
        EndedBy::Temperature => "temperature",
        EndedBy::LongestWait => "longest_wait",
    }
}

fn kinds_summary(trace: &Trace, system: System) -> Vec<KindSummary> {
    let all_j = trace.ledger.made_j();
    let mut kinds: Vec<KindSummary> = Vec::new();
    for kind in EventKind::ALL {
        let (mut count, mut time_s, mut made_j) = (0, 0.0, 0.0);
        for event in trace.events.iter().filter(|event| event.kind == kind) {
            count += 1;
            time_s += event.end_s - event.start_s;
            made_j += trace.event_ledger(event).made_j();
        }
        if count == 0 {
            continue;
        }
        let energy = energy_in(system, made_j);
        let place = kinds.partition_point(|larger| larger.energy >= energy);
        let share = if all_j > 0.0 { made_j / all_j } else { 0.0 };
        let (key, label) = (kind.key(), kind.label());
        kinds.insert(place, KindSummary { key, label, count, time_s, energy, share });
    }
    kinds
}

fn ledger_summary(ledger: &Ledger, system: System) -> LedgerSummary {
    let made_j = ledger.made_j();
    let line = |key, label, heat_j: f64| LedgerLine {
        key,
        label,
        energy: energy_in(system, heat_j),
        share: if made_j > 0.0 { heat_j / made_j } else { 0.0 },
    };
    let paths = |paths: &[Path]| {
        paths.iter().map(|path| line(path.key(), path.label(), ledger.path_j(*path))).collect()
    };
    LedgerSummary {
        made: paths(&Path::SOURCES),
        away: paths(&Path::SINKS),
        stored: LEDGER_NODES
            .iter()
            .map(|node| line(node.key(), node.label(), ledger.node_j(*node)))
            .collect(),
        made_total: energy_in(system, made_j),
        away_total: energy_in(system, ledger.away_j()),
        stored_total: energy_in(system, ledger.stored_j()),
        closure: ledger.closure(),
    }
}
