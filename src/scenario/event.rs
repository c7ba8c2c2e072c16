//! One event of a scenario file: kind, end, loads, switches.
//!
//! Which kinds there are and what they take is `timeline`'s. What contradicts itself within one event is refused here: an
//! engine that idles in a tow, a pump on two routes at once.

use super::json::{Json, ObjectReader, Reader};
use super::parameters::Setup;
use crate::error::{Error, ErrorKind};
use crate::timeline::{
    Circulation, Condition, EVENT_PARAMETERS, Event, EventEnd, EventKind, Loads, MAX_DAY_S,
    MAX_SWITCHINGS, Node, OnTime, Route, Side, Turbine,
};
use crate::units::{Dimension, significant, time_text, unit_or_si};

const COMMON_KEYS: [&str; 8] =
    ["event", "name", "start", "duration", "until", "at_most", "circulation", "fan"];
/// Shortest time that may be written (s).
pub const SHORTEST_S: f64 = 0.05;
/// Slack in comparisons of times, for rounding of units (s).
pub const SLACK_S: f64 = 1e-6;

/// A time that an event may last (s).
pub fn time_s(reader: &Reader) -> Result<f64, Error> {
    reader.quantity(Dimension::Time, "s", SHORTEST_S, MAX_DAY_S)
}

fn offset_s(reader: &Reader) -> Result<f64, Error> {
    reader.quantity(Dimension::Time, "s", 0.0, MAX_DAY_S)
}

/// One event.
pub fn read_event(object: &ObjectReader, setup: &Setup, in_round: bool) -> Result<Event, Error> {
    let kinds: Vec<(&'static str, EventKind)> =
        EventKind::ALL.iter().map(|kind| (kind.key(), *kind)).collect();
    let kind = object.required("event", "\"event\": \"idle\"")?.choice(&kinds)?;
    let mut known: Vec<&str> = COMMON_KEYS.to_vec();
    known.extend(kind.takes().map(|(quantity, _)| quantity.key));
    if kind.turbine() == Turbine::BySelector {
        known.push("gear");
    }
    if kind == EventKind::Pass {
        known.push("distance");
    }
    refuse_foreign_loads(object, kind, &known)?;
    object.only(&known)?;

    let end = match computed_pass(object, kind)? {
        Some(finish) => finish,
        None => read_end(object, in_round)?,
    };
    let start_s = match object.optional("start") {
        Some(start) => Some(offset_s(&start)?),
        None => None,
    };
    let name = match object.optional("name") {
        Some(name) => Some(name.name(60)?),
        None => None,
    };
    let loads = read_loads(object, kind, setup)?;
    check_logged(object, kind, end, &loads)?;
    let longest_s = match end {
        EventEnd::Duration(duration_s) => duration_s,
        EventEnd::Until { at_most_s, .. } => at_most_s,
        EventEnd::Turnaround => f64::INFINITY,
        // Switches of a computed pass are on or off for the whole of it.
        EventEnd::Finish { .. } => 0.0,
    };
    let circulation = read_circulation(object.optional("circulation"), longest_s)?;
    let fan = read_fan(object.optional("fan"), longest_s)?;
    Ok(Event { kind, name, start_s, end, loads, circulation, fan })
}

/// A load that other kinds know but this one cannot have gets its reason, not just "unknown key".
fn refuse_foreign_loads(
    object: &ObjectReader,
    kind: EventKind,
    known: &[&str],
) -> Result<(), Error> {
    for parameter in EVENT_PARAMETERS {
        if !known.contains(&parameter.key)
            && let Some(stated) = object.optional(parameter.key)
        {
            let why = if kind.engine_runs() {
                format!("{} has no {}", kind.key(), parameter.key)
            } else {
                format!("the engine is off during {}", kind.key())
            };
            return Err(stated.error(
                ErrorKind::Contradiction,
                why,
                "Remove it, or choose a kind of event that has it.",
            ));
        }
    }
    if kind.turbine() != Turbine::BySelector
        && let Some(gear) = object.optional("gear")
    {
        let choosing =
            EventKind::ALL.into_iter().filter(|kind| kind.turbine() == Turbine::BySelector);
        let choosing: Vec<&str> = choosing.map(EventKind::key).collect();
        return Err(gear.error(
            ErrorKind::Contradiction,
            format!(
                "only {} has a gear to choose; {} states its own",
                choosing.join(", "),
                kind.key()
            ),
            "Remove \"gear\".",
        ));
    }
    Ok(())
}

/// A logged pass states how long it took, and the heat of shifts is spread over a known duration.
fn check_logged(
    object: &ObjectReader,
    kind: EventKind,
    end: EventEnd,
    loads: &Loads,
) -> Result<(), Error> {
    let known = matches!(end, EventEnd::Duration(_) | EventEnd::Finish { .. });
    if known || (kind != EventKind::Pass && loads.shifts == 0.0) {
        return Ok(());
    }
    let (key, why) = if kind == EventKind::Pass {
        ("until", "a pass ends after its duration")
    } else {
        ("shifts", "shifts belong to an event with a duration, over which their heat is spread")
    };
    let stated = object.optional(key).or_else(|| object.optional("duration"));
    let at = stated.as_ref().map_or(object.path(), |reader| reader.path());
    Err(Error::new(
        ErrorKind::Contradiction,
        at,
        format!("{} without a fixed duration", kind.key()),
        why,
        "State a \"duration\".",
    ))
}

/// Distances that a pass is run over (m).
pub const DISTANCES: [(&str, f64); 3] =
    [("eighth_mile", 201.168), ("1000_ft", 304.8), ("quarter_mile", 402.336)];

/// The finish of a computed pass. A pass with a duration is a logged one, and states power and slip.
fn computed_pass(object: &ObjectReader, kind: EventKind) -> Result<Option<EventEnd>, Error> {
    if kind != EventKind::Pass {
        return Ok(None);
    }
    let distance = object.optional("distance");
    if object.optional("duration").is_some() || object.optional("until").is_some() {
        return match distance {
            Some(distance) => Err(distance.error(
                ErrorKind::Contradiction,
                "a pass over a distance is computed; one with a duration is logged",
                "Remove \"distance\", or remove the duration, power and slip.",
            )),
            None => Ok(None),
        };
    }
    if let Some(at_most) = object.optional("at_most") {
        return Err(at_most.error(
            ErrorKind::Contradiction,
            "a computed pass ends at the finish",
            "Remove \"at_most\", or give the pass a \"duration\" and log it.",
        ));
    }
    for (quantity, _) in kind.takes() {
        if let Some(logged) = object.optional(quantity.key) {
            return Err(logged.error(
                ErrorKind::Contradiction,
                "a pass without a duration is computed from engine, converter and car",
                "Remove it, or add the \"duration\" of the logged pass.",
            ));
        }
    }
    for key in ["circulation", "fan"] {
        if let Some(switch) = object.optional(key)
            && matches!(switch.value(), Json::Array(_))
        {
            return Err(switch.error(
                ErrorKind::Contradiction,
                "a switch of a computed pass is on or off for the whole of it",
                "Write a route, \"on\" or \"off\".",
            ));
        }
    }
    let distance_m = match distance {
        Some(distance) => distance.choice(&DISTANCES)?,
        None => DISTANCES[2].1,
    };
    Ok(Some(EventEnd::Finish { distance_m }))
}

fn read_end(object: &ObjectReader, in_round: bool) -> Result<EventEnd, Error> {
    let duration = object.optional("duration");
    let until = object.optional("until");
    let at_most = object.optional("at_most");
    match (duration, until) {
        (Some(duration), Some(_)) => Err(duration.error(
            ErrorKind::Contradiction,
            "an event ends after a duration or at a temperature, not both",
            "Remove \"duration\" or \"until\"; the longest wait is \"at_most\".",
        )),
        (Some(duration), None) => {
            if let Some(at_most) = at_most {
                return Err(at_most.error(
                    ErrorKind::Contradiction,
                    "\"at_most\" belongs to \"until\"",
                    "Remove it; the duration already says how long.",
                ));
            }
            if duration.value().as_str() == Some("rest") {
                if !in_round {
                    return Err(duration.error(
                        ErrorKind::Contradiction,
                        "\"rest\" fills a turnaround, so it belongs in a round",
                        "Write a time, for example \"20 min\".",
                    ));
                }
                return Ok(EventEnd::Turnaround);
            }
            Ok(EventEnd::Duration(time_s(&duration)?))
        }
        (None, Some(until)) => {
            let condition = read_condition(&until)?;
            let at_most = object.required("at_most", "\"at_most\": \"30 min\"")?;
            Ok(EventEnd::Until { condition, at_most_s: time_s(&at_most)? })
        }
        (None, None) if at_most.is_some() => Err(Error::new(
            ErrorKind::Contradiction,
            format!("{}.at_most", object.path()),
            "\"at_most\" without \"until\"",
            "\"at_most\" is the longest wait for the temperature that \"until\" states",
            "Add \"until\", or write \"duration\" instead of \"at_most\".",
        )),
        (None, None) => Err(Error::new(
            ErrorKind::Missing,
            format!("{}.duration", object.path()),
            "nothing",
            "an event needs an end: \"duration\", or \"until\" with \"at_most\"",
            "Add for example \"duration\": \"5 min\".",
        )),
    }
}

fn read_condition(until: &Reader) -> Result<Condition, Error> {
    let object = until.object()?;
    object.only(&["node", "at_or_below", "at_or_above"])?;
    let nodes: Vec<(&'static str, Node)> =
        Node::ALL.iter().map(|node| (node.key(), *node)).collect();
    let node = object.required("node", "\"node\": \"converter_fluid\"")?.choice(&nodes)?;
    let below = object.optional("at_or_below");
    let above = object.optional("at_or_above");
    let (side, value) = match (below, above) {
        (Some(value), None) => (Side::AtOrBelow, value),
        (None, Some(value)) => (Side::AtOrAbove, value),
        _ => {
            return Err(until.error(
                ErrorKind::Missing,
                "one of \"at_or_below\" and \"at_or_above\"",
                "Write for example { \"node\": \"pan_fluid\", \"at_or_below\": \"160 °F\" }.",
            ));
        }
    };
    let celsius = unit_or_si(Dimension::Temperature, "°C");
    let temperature_k =
        value.quantity(Dimension::Temperature, "°F", celsius.to_si(-40.0), celsius.to_si(300.0))?;
    Ok(Condition { node, side, temperature_k })
}

/// Whether the loads follow from the car: nothing stated that only a log knows.
fn follows_car(object: &ObjectReader, kind: EventKind) -> bool {
    let logged = kind.logged_keys();
    !logged.is_empty() && logged.iter().all(|key| object.optional(key).is_none())
}

fn read_loads(object: &ObjectReader, kind: EventKind, setup: &Setup) -> Result<Loads, Error> {
    let mut loads = Loads::default();
    for (row, default) in kind.takes() {
        let value_si = match object.optional(row.key) {
            Some(stated) => {
                stated.quantity(row.dimension, row.us_unit, row.min_si(), row.max_si())?
            }
            None => match default {
                Some(value) => row.display_unit().to_si(value),
                None => setup.engine.idle_speed_rad_per_s,
            },
        };
        row.set_si(&mut loads, value_si);
    }
    // More power behind the converter than before it: the two averages cannot both be right.
    let power_ratio = (1.0 - loads.slip) * loads.torque_ratio;
    if power_ratio > 1.0 + 1e-9
        && let Some(stated) = object.optional("torque_ratio").or(object.optional("slip"))
    {
        return Err(stated.error(
            ErrorKind::Contradiction,
            format!(
                "at most {} with a slip of {}: the converter cannot give more power than it takes",
                significant(1.0 / (1.0 - loads.slip), 3),
                significant(loads.slip, 3),
            ),
            "Take both from one log, weighted with power, or leave \"torque_ratio\" at 1.",
        ));
    }
    loads.from_car = follows_car(object, kind);
    loads.in_gear = match object.optional("gear") {
        Some(gear) => gear.choice(&[("neutral", false), ("in_gear", true)])?,
        None => kind.turbine() == Turbine::Held,
    };
    Ok(loads)
}

fn read_circulation(
    reader: Option<Reader>,
    event_longest_s: f64,
) -> Result<Vec<Circulation>, Error> {
    let Some(reader) = reader else { return Ok(Vec::new()) };
    let routes: Vec<(&'static str, Route)> =
        Route::ALL.iter().map(|route| (route.key(), *route)).collect();
    if let Json::String(word) = reader.value() {
        if word == "off" {
            return Ok(Vec::new());
        }
        let mut words: Vec<(&'static str, Option<Route>)> = vec![("off", None)];
        words.extend(routes.iter().map(|(key, route)| (*key, Some(*route))));
        let on = OnTime { start_s: 0.0, stop_s: f64::INFINITY, until: None };
        return Ok(reader
            .choice(&words)?
            .map(|route| vec![Circulation { route, on }])
            .unwrap_or_default());
    }
    let mut read = Vec::new();
    for entry in reader.list()? {
        let object = entry.object()?;
        object.only(&["route", "start", "duration", "until"])?;
        let route =
            object.required("route", "\"route\": \"through_converter\"")?.choice(&routes)?;
        read.push(Circulation { route, on: read_on_time(&object, event_longest_s)? });
    }
    let on_times: Vec<OnTime> = read.iter().map(|circulation| circulation.on).collect();
    check_on_times(&on_times, &reader, "the pump can be on one route at a time")?;
    Ok(read)
}

fn read_fan(reader: Option<Reader>, event_longest_s: f64) -> Result<Vec<OnTime>, Error> {
    let Some(reader) = reader else { return Ok(Vec::new()) };
    if let Json::String(_) = reader.value() {
        let on = reader.choice(&[("off", false), ("on", true)])?;
        let all = OnTime { start_s: 0.0, stop_s: f64::INFINITY, until: None };
        return Ok(if on { vec![all] } else { Vec::new() });
    }
    let mut read = Vec::new();
    for entry in reader.list()? {
        let object = entry.object()?;
        object.only(&["start", "duration", "until"])?;
        read.push(read_on_time(&object, event_longest_s)?);
    }
    check_on_times(&read, &reader, "the fan is either on or off")?;
    Ok(read)
}

fn read_on_time(object: &ObjectReader, event_longest_s: f64) -> Result<OnTime, Error> {
    let start_s = match object.optional("start") {
        Some(start) => {
            let start_s = offset_s(&start)?;
            if start_s >= event_longest_s {
                return Err(start.error(
                    ErrorKind::Contradiction,
                    format!("the event is over after {}", time_text(event_longest_s)),
                    "Switch on earlier, or make the event longer.",
                ));
            }
            start_s
        }
        None => 0.0,
    };
    let stop_s = match object.optional("duration") {
        Some(duration) => start_s + time_s(&duration)?,
        None => f64::INFINITY,
    };
    let until = match object.optional("until") {
        Some(until) => Some(read_condition(&until)?),
        None => None,
    };
    Ok(OnTime { start_s, stop_s, until })
}

fn check_on_times(on_times: &[OnTime], reader: &Reader, why: &str) -> Result<(), Error> {
    if on_times.len() > MAX_SWITCHINGS {
        return Err(reader.error(
            ErrorKind::TooLarge,
            format!("at most {MAX_SWITCHINGS} on-times in one event"),
            "Join some of them, or split the event.",
        ));
    }
    for (i, earlier) in on_times.iter().enumerate() {
        for later in &on_times[i + 1..] {
            // One that waits for a temperature gives way to one that starts later.
            let gives_way = |first: &OnTime, second: &OnTime| {
                first.until.is_some() && first.start_s < second.start_s - SLACK_S
            };
            let overlap = later.start_s < earlier.stop_s - SLACK_S
                && earlier.start_s < later.stop_s - SLACK_S;
            if overlap && !gives_way(earlier, later) && !gives_way(later, earlier) {
                return Err(Error::new(
                    ErrorKind::Contradiction,
                    reader.path(),
                    format!(
                        "on from {} and again from {}",
                        time_text(earlier.start_s),
                        time_text(later.start_s)
                    ),
                    why,
                    "Give the earlier one a duration that ends before the later one starts.",
                ));
            }
        }
    }
    Ok(())
}
