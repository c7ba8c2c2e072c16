//! A simulated day in words and columns: summary for the page, text, JSON and CSV for the command line.
//!
//! The JSON of `simulate --json` is SI (s, °C, J) whatever units are shown elsewhere; the summary and the
//! text use the reader's units.

use serde::Serialize;
use serde_json::{Map, Value, json};

use crate::finding::{SAFETY, advice, cautions, converter_share, finding};
use crate::pass::PassResult;
use crate::scenario::Scenario;
use crate::timeline::{EventKind, Node};
use crate::trace::{EndedBy, LEDGER_NODES, Ledger, Trace};
use crate::transmission::Path;
use crate::units::{
    Dimension, System, clock_text, significant, temperature_difference_in, temperature_in,
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
    /// The computed pass; absent for a logged one.
    pub pass: Option<PassSummary>,
}

/// A mark of a computed pass.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MarkSummary {
    pub label: &'static str,
    pub elapsed_s: f64,
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
fn mark_label(distance_m: f64) -> &'static str {
    match distance_m {
        d if d < 20.0 => "60 ft",
        d if d < 150.0 => "330 ft",
        d if d < 250.0 => "1/8 mile",
        d if d < 350.0 => "1,000 ft",
        _ => "1/4 mile",
    }
}

fn pass_summary(pass: &PassResult, first: Option<&PassResult>, system: System) -> PassSummary {
    let speed_unit = match system {
        System::Us => "mph",
        System::Si => "km/h",
    };
    let speed = |m_per_s: f64| unit_or_si(Dimension::Velocity, speed_unit).from_si(m_per_s);
    let finish = pass.marks.last();
    let first_finish = first
        .and_then(|first| first.marks.last())
        .filter(|first| finish.is_some_and(|finish| finish.distance_m == first.distance_m));
    let elapsed_s = finish.map_or(f64::NAN, |mark| mark.elapsed_s);
    PassSummary {
        marks: pass
            .marks
            .iter()
            .map(|mark| MarkSummary {
                label: mark_label(mark.distance_m),
                elapsed_s: mark.elapsed_s,
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

fn rpm(rad_per_s: f64) -> f64 {
    unit_or_si(Dimension::AngularVelocity, "rpm").from_si(rad_per_s)
}

/// An event as it happened.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EventSummary {
    pub kind: &'static str,
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
    pub duration_s: f64,
    pub duration_text: String,
    pub peaks: Vec<PeakSummary>,
    pub launches: Vec<LaunchSummary>,
    /// Spread of the launches, pan and converter fluid.
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
    pub converter_share: f64,
}

fn energy_unit(system: System) -> &'static str {
    match system {
        System::Us => "Btu",
        System::Si => "kJ",
    }
}

fn energy_in(system: System, heat_j: f64) -> f64 {
    unit_or_si(Dimension::Energy, energy_unit(system)).from_si(heat_j)
}

/// The summary of a simulated day.
pub fn summary(scenario: &Scenario, trace: &Trace, system: System) -> Summary {
    let temperature = |temperature_k: f64| temperature_in(system, temperature_k);
    let difference = |delta_k: f64| temperature_difference_in(system, delta_k);
    let energy = |heat_j: f64| energy_in(system, heat_j);
    let first_pan_k =
        trace.launches.first().map(|launch| launch.temperature_k[Node::PanFluid.index()]);
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
                label: event.name.clone().unwrap_or_else(|| event.kind.label().to_string()),
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
        duration_s: trace.duration_s(),
        duration_text: time_text(trace.duration_s()),
        peaks,
        launches,
        spread_pan: difference(trace.launch_spread_k(Node::PanFluid)),
        spread_converter: difference(trace.launch_spread_k(Node::ConverterFluid)),
        window: (temperature(limits.window_low_k), temperature(limits.window_high_k)),
        ledger: ledger_summary(&trace.ledger, system),
        kinds: kinds_summary(trace, system),
        events,
        switches,
        cautions: cautions(scenario, trace, system)
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
        converter_share: converter_share(trace),
    }
}

fn ended_by(ended_by: EndedBy) -> &'static str {
    match ended_by {
        EndedBy::Time => "time",
        EndedBy::Temperature => "temperature",
        EndedBy::LongestWait => "longest_wait",
    }
}

fn kinds_summary(trace: &Trace, system: System) -> Vec<KindSummary> {
    let all_j = trace.ledger.made_j();
    let mut kinds: Vec<KindSummary> = EventKind::ALL
        .iter()
        .filter_map(|kind| {
            let events = trace.events.iter().filter(|event| event.kind == *kind);
            let (count, time_s, made_j) =
                events.fold((0, 0.0, 0.0), |(count, time_s, made_j), event| {
                    (
                        count + 1,
                        time_s + event.end_s - event.start_s,
                        made_j + trace.event_ledger(event).made_j(),
                    )
                });
            (count > 0).then(|| KindSummary {
                key: kind.key(),
                label: kind.label(),
                count,
                time_s,
                energy: energy_in(system, made_j),
                share: if all_j > 0.0 { made_j / all_j } else { 0.0 },
            })
        })
        .collect();
    kinds.sort_by(|a, b| b.energy.total_cmp(&a.energy));
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

/// The report for people: finding, launches, ledger, cautions.
pub fn text(scenario: &Scenario, trace: &Trace, system: System) -> String {
    let summary = summary(scenario, trace, system);
    let unit = summary.temperature_unit;
    let mut out = String::new();
    let mut line = |text: String| {
        out.push_str(text.trim_end());
        out.push('\n');
    };
    line(format!("{}  ({})", summary.name, summary.duration_text));
    line(String::new());
    line(wrapped(&summary.finding, ""));
    line(wrapped(&summary.advice, ""));
    line(String::new());

    if summary.launches.is_empty() {
        line("No launches in this timeline.".to_string());
    } else {
        line(format!(
            "Launches (pan window {:.0} to {:.0} {unit})",
            summary.window.0, summary.window.1
        ));
        line(format!(
            "  {:>5}  {:>6}  {:>9}  {:>7}  {:>7}  {:>10}  {:>9}  {:>9}  {:>7}  {:>9}",
            "round",
            "at",
            "converter",
            "pan",
            "case",
            "off window",
            "flash rpm",
            "ET",
            "ET diff",
            "speed"
        ));
        for launch in &summary.launches {
            let round = launch.round.map_or("-".to_string(), |round| round.to_string());
            let window = if launch.from_window == 0.0 {
                "inside".to_string()
            } else {
                format!("{:+.0} {unit}", launch.from_window)
            };
            let flash = launch.flash_rpm.map_or("none".to_string(), |rpm| format!("{rpm:.0}"));
            let (elapsed, change, speed) = match &launch.pass {
                Some(pass) => (
                    format!("{:.3} s", pass.elapsed_s),
                    format!("{:+.3}", pass.elapsed_change_s),
                    format!("{:.1} {}", pass.speed, pass.speed_unit),
                ),
                None => ("logged".to_string(), String::new(), String::new()),
            };
            line(format!(
                "  {round:>5}  {:>6}  {:>6.0} {unit}  {:>4.0} {unit}  {:>4.0} {unit}  {window:>10}  {flash:>9}  {elapsed:>9}  {change:>7}  {speed:>9}",
                launch.clock, launch.converter, launch.pan, launch.case,
            ));
        }
    }
    line(String::new());

    let energy = summary.energy_unit;
    let ledger = &summary.ledger;
    line(format!("Heat of the day ({energy}; shares of what was made)"));
    for (title, lines, total) in [
        ("made", &ledger.made, ledger.made_total),
        ("carried away", &ledger.away, ledger.away_total),
        ("stored", &ledger.stored, ledger.stored_total),
    ] {
        line(format!("  {title:<32}  {total:>9.0}"));
        for entry in lines.iter().filter(|entry| entry.energy.abs() >= 0.5) {
            line(format!(
                "    {:<30}  {:>9.0}  {:>5.1} %",
                entry.label,
                entry.energy,
                100.0 * entry.share
            ));
        }
    }
    line(format!(
        "  made − carried away − stored = {} of what was made",
        if ledger.closure == 0.0 { "0".to_string() } else { format!("{:.0e}", ledger.closure) }
    ));
    line(String::new());

    line(format!("Made or soaked in, by kind of event ({energy})"));
    for kind in &summary.kinds {
        line(format!(
            "    {:<30}  {:>9.0}  {:>5.1} %  in {}",
            kind.label,
            kind.energy,
            100.0 * kind.share,
            time_text(kind.time_s)
        ));
    }
    line(String::new());

    line("Hottest".to_string());
    for peak in &summary.peaks {
        line(format!("  {:<16} {:>5.0} {unit}  at {}", peak.label, peak.temperature, peak.clock));
    }
    line(String::new());

    if summary.cautions.is_empty() {
        line("Cautions: no limit is passed.".to_string());
    } else {
        line("Cautions".to_string());
        for caution in &summary.cautions {
            line(wrapped(&format!("{}  {}", caution.clock, caution.text), "  "));
        }
    }
    line(String::new());
    line("Around hot oil and a car on the brake".to_string());
    for safety in &summary.safety {
        line(wrapped(safety, "  "));
    }
    out
}

/// Wraps at 96 characters with an indent, continuation lines two further in.
fn wrapped(text: &str, indent: &str) -> String {
    let mut out = String::from(indent);
    let mut column = indent.chars().count();
    for (i, word) in text.split(' ').enumerate() {
        let length = word.chars().count();
        if i > 0 {
            if column + 1 + length > 96 {
                out.push('\n');
                out.push_str(indent);
                out.push_str("  ");
                column = indent.chars().count() + 2;
            } else {
                out.push(' ');
                column += 1;
            }
        }
        out.push_str(word);
        column += length;
    }
    out
}

/// The day as JSON in SI: s, °C, J.
pub fn json(scenario: &Scenario, trace: &Trace) -> Value {
    let celsius = |temperature_k: f64| temperature_k - 273.15;
    let mut temperatures = Map::new();
    for node in Node::ALL {
        let column: Vec<f64> = trace
            .samples
            .iter()
            .map(|sample| celsius(sample.temperature_k[node.index()]))
            .collect();
        temperatures.insert(node.key().to_string(), json!(column));
    }
    let at_launch = |temperature_k: &[f64]| -> Value {
        Node::ALL
            .iter()
            .map(|node| (node.key().to_string(), json!(celsius(temperature_k[node.index()]))))
            .collect::<Map<String, Value>>()
            .into()
    };
    let books = |ledger: &Ledger| {
        let paths = |paths: &[Path]| -> Value {
            paths
                .iter()
                .map(|path| (path.key().to_string(), json!(ledger.path_j(*path))))
                .collect::<Map<String, Value>>()
                .into()
        };
        let stored: Map<String, Value> = LEDGER_NODES
            .iter()
            .map(|node| (node.key().to_string(), json!(ledger.node_j(*node))))
            .collect();
        json!({
            "made_j": paths(&Path::SOURCES),
            "carried_away_j": paths(&Path::SINKS),
            "stored_j": stored,
            "moved_inside_j": paths(&Path::INSIDE),
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
            "temperatures_c": at_launch(&launch.temperature_k),
            "held_s": launch.held_s,
            "held_heat_j": launch.held_heat_j,
            "from_window_k": launch.from_window_k,
            "flash_rpm": launch.flash_rad_per_s.map(rpm),
            "launch_rpm": rpm(launch.launch_rad_per_s),
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
        "ledger": books(&trace.ledger),
        "finding": finding(trace, System::Si),
        "advice": advice(scenario, trace, System::Si),
        "cautions": cautions(scenario, trace, System::Si).iter().map(|caution| json!({
            "key": caution.key,
            "text": caution.text,
            "time_s": caution.time_s,
        })).collect::<Vec<Value>>(),
    })
}

/// The temperatures as CSV, units in the header, one row a sample.
pub fn csv(trace: &Trace, system: System) -> String {
    let unit = match system {
        System::Us => "F",
        System::Si => "C",
    };
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
