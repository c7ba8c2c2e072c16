//! One computed sentence of what happened and one of what to do; and the cautions of a day.
//!
//! Every number in them is taken from the trace. Thresholds are parameters of the set-up
//! (`limits`, `battery`), with their source in the parameter table.

use crate::engine::REV_LIMIT_FADE_RAD_PER_S;
use crate::fluid::PROPERTY_RANGE_K;
use crate::pass::PassResult;
use crate::results::life_share;
use crate::scenario::Scenario;
use crate::timeline::{EventKind, Node, Work};
use crate::trace::{EndedBy, EventRecord, Trace};
use crate::transmission::Path;
use crate::units::{
    Dimension, System, clock_text, pressure_unit, rpm, significant, temperature_difference_text,
    temperature_in, temperature_symbol, temperature_text, time_text, unit_or_si,
};

/// The usual cautions, shown wherever results are shown.
pub const SAFETY: [&str; 6] = [
    "Oil and metal above 45–60 °C (115–140 °F) burn skin; a hose that lets go sprays hot oil.",
    "A car on the brake can launch: clear ahead, wheels chocked when testing, never on stands.",
    "Stay clear of wheels, driveshaft and the plane of the converter; bench guards and scatter shields in place.",
    "Fans and electric pumps start by themselves: disconnect the battery before reaching in.",
    "Fire extinguisher at hand, ventilation on, whenever an engine runs.",
    "Track rules, the sanctioning body, local codes and the makers' limits come first. A simulation advises; a qualified person decides.",
];

/// A limit that the day passes.
#[derive(Debug, Clone, PartialEq)]
pub struct Caution {
    /// A stable name: `converter_fluid_hot`.
    pub key: &'static str,
    pub text: String,
    /// When it first holds (s).
    pub time_s: f64,
}

/// Share of the day's heat that was made in the converter (0 to 1); zero when nothing was made.
pub fn converter_share(trace: &Trace) -> f64 {
    let made_j = trace.ledger.made_j();
    if made_j > 0.0 { trace.ledger.path_j(Path::ConverterShear) / made_j } else { 0.0 }
}

/// Share of the converter's heat that was made while held on the brake.
fn brake_share(trace: &Trace) -> f64 {
    let all_j = trace.ledger.path_j(Path::ConverterShear);
    let held_j: f64 = trace
        .events
        .iter()
        .filter(|event| event.kind == EventKind::BrakeHold)
        .map(|event| trace.event_ledger(event).path_j(Path::ConverterShear))
        .sum();
    if all_j > 0.0 { held_j / all_j } else { 0.0 }
}

/// Hottest minus coldest launch of a node, as the whole degrees of a table make it.
pub fn shown_spread(trace: &Trace, node: Node, system: System) -> f64 {
    let (low, high) = trace
        .launches
        .iter()
        .map(|launch| temperature_in(system, launch.temperature_k[node.index()]).round())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), shown| {
            (low.min(shown), high.max(shown))
        });
    if trace.launches.len() < 2 { 0.0 } else { high - low }
}

/// How far flash speeds and elapsed times of computed passes over one distance lie apart, in one sentence. As with
/// temperatures, the differences are those of the numbers shown.
fn pass_spread(trace: &Trace) -> Option<String> {
    let finishes: Vec<(f64, f64, f64)> = trace
        .launches
        .iter()
        .filter_map(|launch| {
            let mark = launch.pass.as_ref()?.marks.last()?;
            Some((mark.distance_m, mark.elapsed_s, launch.flash_rad_per_s?))
        })
        .collect();
    let (distance_m, ..) = finishes.first()?;
    if finishes.len() < 2 || finishes.iter().any(|(other_m, ..)| other_m != distance_m) {
        return None;
    }
    let spread = |values: &mut dyn Iterator<Item = f64>| {
        let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
            (low.min(value), high.max(value))
        });
        high - low
    };
    let shown_ms = |elapsed_s: &f64| (elapsed_s * 1000.0).round();
    let elapsed_s = spread(&mut finishes.iter().map(|(_, elapsed_s, _)| shown_ms(elapsed_s))) / 1e3;
    let flash_rpm = spread(&mut finishes.iter().map(|(.., flash)| rpm(*flash).round()));
    Some(format!(
        "With the fluid the flash speed moves by {flash_rpm:.0} rpm and the elapsed time by {elapsed_s:.3} s."
    ))
}

/// What happened, in two or three sentences.
pub fn finding(trace: &Trace, system: System) -> String {
    let text = |temperature_k: f64| temperature_text(system, temperature_k);
    let difference = |delta_k: f64| temperature_difference_text(system, delta_k);
    let (peak_k, peak_s) = trace.peak(Node::ConverterFluid);
    let share = converter_share(trace);
    let heat = if trace.ledger.path_j(Path::ConverterShear) > 0.0 {
        let held = brake_share(trace);
        let held = if held >= 0.01 {
            format!(", {:.0} % of that while held on the brake", 100.0 * held)
        } else {
            String::new()
        };
        format!("{:.0} % of the heat is made by fluid shear in the converter{held}.", 100.0 * share)
    } else {
        "The converter makes no heat.".to_string()
    };
    let pan = Node::PanFluid.index();
    match (trace.launches.first(), trace.launches.last()) {
        (Some(first), Some(last)) if trace.launches.len() > 1 => {
            let (first_k, last_k) = (first.temperature_k[pan], last.temperature_k[pan]);
            let spread_k = trace.launch_spread_k(Node::PanFluid);
            let count = trace.launches.len();
            let drift = if spread_k < 3.0 {
                format!(
                    "All {count} launches leave the line within {} of each other, with the pan near {}.",
                    difference(spread_k),
                    text(first_k)
                )
            } else {
                let spread = format!(
                    "{:.0}\u{a0}{}",
                    shown_spread(trace, Node::PanFluid, system),
                    temperature_symbol(system)
                );
                let verb = if last_k > first_k { "climbs" } else { "falls" };
                format!(
                    "The pan {verb} from {} at the first launch to {} at the last, and the {count} launches spread over {}.",
                    text(first_k),
                    text(last_k),
                    spread
                )
            };
            match pass_spread(trace) {
                Some(spread) => format!("{drift} {spread} {heat}"),
                None => format!("{drift} {heat}"),
            }
        }
        (Some(only), _) => format!(
            "The car leaves the line with the pan at {} and the converter at {}. {heat}",
            text(only.temperature_k[pan]),
            text(only.temperature_k[Node::ConverterFluid.index()])
        ),
        _ => {
            let during = event_at(trace, peak_s)
                .map(|event| format!(" in \"{}\"", event_name(event)))
                .unwrap_or_default();
            format!("The converter fluid peaks at {}{during}. {heat}", text(peak_k))
        }
    }
}

/// What to do about it, in one sentence.
pub fn advice(scenario: &Scenario, trace: &Trace, system: System) -> String {
    let limits = &scenario.setup.limits;
    let difference = |delta_k: f64| temperature_difference_text(system, delta_k);
    let window = format!(
        "{} to {}",
        temperature_text(system, limits.window_low_k),
        temperature_text(system, limits.window_high_k)
    );
    let coldest = trace.launches.iter().min_by(|a, b| a.from_window_k.total_cmp(&b.from_window_k));
    let hottest = trace.launches.iter().max_by(|a, b| a.from_window_k.total_cmp(&b.from_window_k));
    let (Some(coldest), Some(hottest)) = (coldest, hottest) else {
        return "Hot parts stay hot for long after shut-down: measure before touching.".to_string();
    };
    let round = |launch: &crate::trace::Launch| match launch.round {
        Some(round) => format!("round {round}"),
        None => "the launch".to_string(),
    };
    match (coldest.from_window_k < 0.0, hottest.from_window_k > 0.0) {
        (false, false) => {
            format!("Every launch is inside the window of {window}: keep the routine.")
        }
        (true, false) => format!(
            "Warm it up longer before {}: that launch is {} below the window of {window}{}.",
            round(coldest),
            difference(-coldest.from_window_k),
            none_inside(trace)
        ),
        (false, true) => format!(
            "Cool longer before {}: that launch is {} above the window of {window}{}.",
            round(hottest),
            difference(hottest.from_window_k),
            none_inside(trace)
        ),
        (true, true) => format!(
            "Warm it up before {} ({} too cold) and cool it longer before {} ({} too hot) to stay in {window}.",
            round(coldest),
            difference(-coldest.from_window_k),
            round(hottest),
            difference(hottest.from_window_k)
        ),
    }
}

/// What to add where more than one launch is outside the window and none is inside.
fn none_inside(trace: &Trace) -> &'static str {
    let launches = &trace.launches;
    let none = launches.len() > 1 && launches.iter().all(|launch| launch.from_window_k != 0.0);
    if none { ", and no launch is inside it" } else { "" }
}

/// The name a user gave an event, or its kind.
pub fn event_name(event: &EventRecord) -> String {
    let name = event.label();
    match event.round {
        Some(round) => format!("{name}, round {round}"),
        None => name.to_string(),
    }
}

fn event_at(trace: &Trace, time_s: f64) -> Option<&EventRecord> {
    trace.events.iter().find(|event| event.start_s <= time_s && time_s <= event.end_s)
}

/// The event with the lowest charge pressure among those that load the converter, if it is below the limit.
fn low_charge(scenario: &Scenario, trace: &Trace, system: System) -> Option<Caution> {
    let limit_pa = scenario.setup.limits.charge_pressure_pa;
    let loaded = trace.events.iter().filter(|event| {
        event.kind.work() == Work::Loaded || event.kind.holds_turbine(&event.loads)
    });
    let lowest = loaded.min_by(|a, b| {
        a.hydraulics.charge_pressure_pa.total_cmp(&b.hydraulics.charge_pressure_pa)
    })?;
    let charge_pa = lowest.hydraulics.charge_pressure_pa;
    if charge_pa >= limit_pa {
        return None;
    }
    let symbol = pressure_unit(system);
    let unit = unit_or_si(Dimension::Pressure, symbol);
    Some(Caution {
        key: "charge_low",
        text: format!(
            "Converter charge is {} {symbol} in \"{}\", below {} {symbol}: a real converter may draw vapour, slip more and hum, which is not computed. Thicker or cooler fluid, more idle speed or less flow to the cooler raises it.",
            significant(unit.from_si(charge_pa), 2),
            event_name(lowest),
            significant(unit.from_si(limit_pa), 2)
        ),
        time_s: lowest.start_s,
    })
}

/// What the engine cannot do, or should not.
fn engine_cautions(scenario: &Scenario, trace: &Trace) -> Vec<Caution> {
    let setup = &scenario.setup;
    let rev_limit_rad_per_s = setup.engine.rev_limit_rad_per_s;
    let mut cautions = Vec::new();
    let mut over: Option<&EventRecord> = None;
    for event in &trace.events {
        let wanted = event.place.map(|(block, index)| &scenario.blocks[block].events[index].loads);
        let got_rad_per_s = event.loads.engine_speed_rad_per_s;
        if !event.loads.from_car
            && let Some(wanted) = wanted
            && wanted.engine_speed_rad_per_s > got_rad_per_s + 1.0
        {
            cautions.push(Caution {
                key: "engine_short",
                text: format!(
                    "\"{}\" asks for {:.0} rpm, but against this converter the engine reaches {:.0} rpm at its start.",
                    event_name(event),
                    rpm(wanted.engine_speed_rad_per_s),
                    rpm(got_rad_per_s)
                ),
                time_s: event.start_s,
            });
        }
        if got_rad_per_s > rev_limit_rad_per_s + 1.0
            && over.is_none_or(|other| got_rad_per_s > other.loads.engine_speed_rad_per_s)
        {
            over = Some(event);
        }
        if let Some(pass) = &event.pass
            && let Some(text) = limiter_text(scenario, event, pass)
        {
            cautions.push(Caution { key: "on_the_limiter", text, time_s: event.start_s });
        }
    }
    if let Some(event) = over {
        cautions.push(Caution {
            key: "engine_over_speed",
            text: format!(
                "\"{}\" turns the engine at {:.0} rpm, above its rev limit of {:.0} rpm.",
                event_name(event),
                rpm(event.loads.engine_speed_rad_per_s),
                rpm(rev_limit_rad_per_s)
            ),
            time_s: event.start_s,
        });
    }
    cautions
}

/// A computed pass that spends time on the rev limiter, or never reaches its last gear.
fn limiter_text(scenario: &Scenario, event: &EventRecord, pass: &PassResult) -> Option<String> {
    let setup = &scenario.setup;
    let fades_rad_per_s = setup.engine.rev_limit_rad_per_s - REV_LIMIT_FADE_RAD_PER_S;
    let limited_s: f64 = pass
        .samples
        .windows(2)
        .filter(|pair| pair.iter().all(|s| s.motion.engine_rad_per_s > fades_rad_per_s))
        .map(|pair| pair[1].time_s - pair[0].time_s)
        .sum();
    let gears = setup.gears().len();
    let gear = pass.samples.last().map_or(0, |last| last.gear) + 1;
    if gear < gears && setup.gearbox.shift_speed_rad_per_s >= fades_rad_per_s {
        return Some(format!(
            "\"{}\" never leaves gear {gear}: the shift speed of {:.0} rpm lies where the rev limit of {:.0} rpm already takes torque away. Lower the one or raise the other by 100 rpm or more.",
            event_name(event),
            rpm(setup.gearbox.shift_speed_rad_per_s),
            rpm(setup.engine.rev_limit_rad_per_s)
        ));
    }
    (limited_s > 0.3).then(|| {
        format!(
            "\"{}\" spends {limited_s:.1} s on the rev limiter: taller axle or tyres, an earlier shift or a higher limit would be quicker.",
            event_name(event)
        )
    })
}

/// Every limit that the day passes, in order of time.
pub fn cautions(scenario: &Scenario, trace: &Trace, system: System) -> Vec<Caution> {
    cautions_with(scenario, trace, life_share(scenario, &trace.samples), system)
}

/// The same, where the share of a fill's life that the day uses is known.
pub(crate) fn cautions_with(
    scenario: &Scenario,
    trace: &Trace,
    life_share: f64,
    system: System,
) -> Vec<Caution> {
    let setup = &scenario.setup;
    let text = |temperature_k: f64| temperature_text(system, temperature_k);
    let mut cautions = Vec::new();
    let mut above = |key: &'static str, node: Node, limit_k: f64, why: &str| {
        let over = |sample: &&crate::trace::Sample| sample.temperature_k[node.index()] > limit_k;
        if let Some(first) = trace.samples.iter().find(over) {
            let (peak_k, peak_s) = trace.peak(node);
            cautions.push(Caution {
                key,
                text: format!(
                    "{} reaches {} at {}, above {}: {why}",
                    node.label(),
                    text(peak_k),
                    clock_text(peak_s),
                    text(limit_k)
                ),
                time_s: first.time_s,
            });
        }
    };
    above(
        "converter_fluid_hot",
        Node::ConverterFluid,
        setup.limits.converter_fluid_k,
        "fluid breaks down quickly there.",
    );
    above(
        "pan_fluid_hot",
        Node::PanFluid,
        setup.limits.pan_fluid_k,
        "fluid life is short and seals harden.",
    );
    above(
        "seal_hot",
        Node::ConverterFluid,
        setup.limits.seal_k,
        "more than the seals' continuous rating; minutes count, seconds less.",
    );
    above(
        "hot_to_touch",
        Node::Case,
        setup.limits.touch_k,
        "bare metal burns skin. Gloves, and measure first.",
    );
    let outside = |sample: &&crate::trace::Sample| {
        [Node::ConverterFluid, Node::PanFluid].iter().any(|node| {
            let temperature_k = sample.temperature_k[node.index()];
            temperature_k < PROPERTY_RANGE_K.0 || temperature_k > PROPERTY_RANGE_K.1
        })
    };
    if let Some(sample) = trace.samples.iter().find(outside) {
        cautions.push(Caution {
            key: "properties_extrapolated",
            text: format!(
                "Fluid is outside {} to {}, where its properties are known: results there are rougher.",
                text(PROPERTY_RANGE_K.0),
                text(PROPERTY_RANGE_K.1)
            ),
            time_s: sample.time_s,
        });
    }
    let factor = setup.weather().sae_j1349_1990_factor();
    let computed = trace.events.iter().find(|event| event.pass.is_some());
    if let Some(event) = computed
        && !(0.93..=1.07).contains(&factor)
    {
        cautions.push(Caution {
            key: "correction_extrapolated",
            text: format!(
                "The air changes the engine by a factor of {:.2}; the correction is meant for 0.93 to 1.07, so that elapsed times are rougher.",
                1.0 / factor
            ),
            time_s: event.start_s,
        });
    }
    let reserve_a_s = setup.battery.reserve * setup.battery.capacity_a_s;
    if let Some(sample) = trace.samples.iter().find(|sample| sample.charge_a_s < reserve_a_s) {
        let least_a_s =
            trace.samples.iter().map(|sample| sample.charge_a_s).fold(f64::INFINITY, f64::min);
        let state = if least_a_s <= 0.0 {
            format!(
                "flat, {:.1} Ah short; the day is computed as if both kept running",
                -least_a_s / 3600.0
            )
        } else {
            format!("down to {:.1} Ah", least_a_s / 3600.0)
        };
        cautions.push(Caution {
            key: "battery_low",
            text: format!(
                "Pump and fan take the battery below its reserve of {:.1} Ah at {}, {state}.",
                reserve_a_s / 3600.0,
                clock_text(sample.time_s)
            ),
            time_s: sample.time_s,
        });
    }
    cautions.extend(low_charge(scenario, trace, system));
    if life_share > setup.limits.fluid_life_share {
        cautions.push(Caution {
            key: "fluid_life_short",
            text: format!(
                "The day uses {:.0} % of a fill's life, above {:.0} %: change the fluid sooner, or keep it cooler.",
                100.0 * life_share,
                100.0 * setup.limits.fluid_life_share
            ),
            time_s: trace.duration_s(),
        });
    }
    cautions.extend(engine_cautions(scenario, trace));
    for event in trace.events.iter().filter(|event| event.ended_by == EndedBy::LongestWait) {
        cautions.push(Caution {
            key: "not_reached",
            text: format!(
                "\"{}\" ends after its longest wait of {} without reaching its temperature.",
                event_name(event),
                time_text(event.end_s - event.start_s)
            ),
            time_s: event.end_s,
        });
    }
    let mut by_time: Vec<Caution> = Vec::with_capacity(cautions.len());
    for caution in cautions {
        let place = by_time.partition_point(|earlier| earlier.time_s <= caution.time_s);
        by_time.insert(place, caution);
    }
    by_time
}
