//! Whole days against an independent implementation of the model.
//!
//! `tests/data/independent_days.json` is written by `tests/reference/twin.py`: Python, SciPy 1.17.1,
//! `solve_ivp` with LSODA at rtol 1e-9 and atol 1e-3 J, computed passes with DOP853 at rtol 1e-10, written from
//! the equations of docs/model.md and the defaults of docs/parameters.md, not from this package's sources.
//! Another integrator, another series for the cooler, another solution of Colebrook's equation, no tabulated
//! case, hydraulics solved directly at every 0.1 K of pan temperature. It carries every scenario with its
//! answers: the published days, a cold day that uses everything at once, small days that each let one feature
//! count, so that a link, stream, exponent or source that is wired wrongly shows, and days of passes and loads
//! computed from the car. Temperatures here are held to 0.01 K, finer than docs/model.md claims;
//! the observed differences are printed with `--nocapture`. Twenty of the days are drawn at random.

use crate::assert_at_most;
use serde_json::Value;
use stallheat::fluid_life::AgeingLaw;
use stallheat::pass::PassEnergy;
use stallheat::scenario;
use stallheat::simulate::simulate;
use stallheat::timeline::{EventEnd, NODES, Node};
use stallheat::trace::{EndedBy, Trace};
use stallheat::transmission::Path;

const RPM: f64 = std::f64::consts::PI / 30.0;

/// Largest difference of a node at the end of an event (K): docs/model.md, "Time".
const TEMPERATURE_K: f64 = 0.01;
/// Largest difference of an event's end (s), when times decide.
const TIME_S: f64 = 1e-3;
/// The same in days where a temperature is waited for: 0.01 K at a few kelvin per minute.
const WAITED_S: f64 = 0.01;
/// Largest difference of the day's heat along a path, relative to all heat made or carried away.
const HEAT: f64 = 1e-4;
/// Largest difference of an elapsed time of a computed pass (s): a clock at the track shows milliseconds.
const ELAPSED_S: f64 = 1e-3;
/// Largest difference of a speed at a mark (m/s), about what a millisecond is worth at the launch's 10 m/s².
const SPEED_M_PER_S: f64 = 0.01;
/// Largest difference of the engine speed at which engine and stalled converter balance, relative: solved in
/// closed form on both sides, so it shows temperature's error alone.
const FLASH: f64 = 1e-5;
/// Largest difference of an energy of a pass, relative to the engine's work.
const ENERGY: f64 = 1e-4;
/// Largest difference of the dose of heat that the fluid has had, relative, of days with more than a second of it:
/// 0.01 K is worth 6e-4 of a rate that doubles every 11.11 K.
const LIFE: f64 = 1e-3;
/// Largest difference of the charge at an event's end, relative to the battery's capacity.
const CHARGE: f64 = 1e-4;

#[derive(Default)]
struct Worst {
    temperature_k: f64,
    time_s: f64,
    heat: f64,
    elapsed_s: f64,
    flash: f64,
    energy: f64,
    charge: f64,
    life: f64,
    closure: f64,
}

impl Worst {
    /// The worse of two days in each.
    fn or(self, other: &Worst) -> Worst {
        Worst {
            temperature_k: self.temperature_k.max(other.temperature_k),
            time_s: self.time_s.max(other.time_s),
            heat: self.heat.max(other.heat),
            elapsed_s: self.elapsed_s.max(other.elapsed_s),
            flash: self.flash.max(other.flash),
            energy: self.energy.max(other.energy),
            charge: self.charge.max(other.charge),
            life: self.life.max(other.life),
            closure: self.closure.max(other.closure),
        }
    }
}

/// Whether a difference is more than allowed; what is no number is.
fn is_over(difference: f64, most: f64) -> bool {
    difference.is_nan() || difference.abs() > most
}

fn file() -> Value {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/independent_days.json");
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("no number: {value}"))
}

fn compare(day: &Value, complaints: &mut Vec<String>) -> Worst {
    let name = day["scenario"]["name"].as_str().unwrap();
    let scenario =
        scenario::parse(&day["scenario"].to_string()).unwrap_or_else(|e| panic!("{name}: {e}"));
    let trace = simulate(&scenario).unwrap_or_else(|error| panic!("{name}: {error}"));
    let waits = scenario.blocks.iter().flat_map(|block| &block.events).any(|event| {
        matches!(event.end, EventEnd::Until { .. })
            || event.fan.iter().any(|on| on.until.is_some())
            || event.circulation.iter().any(|pump| pump.on.until.is_some())
    });
    let capacity_a_s = scenario.setup.battery.capacity_a_s;
    let mut worst = Worst { closure: trace.ledger.closure(), ..Worst::default() };
    let ends = day["ends"].as_array().unwrap();
    assert_eq!(trace.events.len(), ends.len(), "{name}: number of events");
    for (place, (event, end)) in trace.events.iter().zip(ends).enumerate() {
        let at = format!("{name}, event {place} ({})", event.kind.key());
        assert_eq!(Some(event.kind.key()), end["kind"].as_str(), "{at}");
        let late_s = event.end_s - number(&end["end_s"]);
        worst.time_s = worst.time_s.max(late_s.abs());
        let most_s = if waits { WAITED_S } else { TIME_S };
        if is_over(late_s, most_s) {
            complaints.push(format!("{at}: ends {late_s:.3} s late"));
        }
        let sample = &trace.samples[event.samples.1];
        for (i, node) in Node::ALL.iter().enumerate() {
            let over_k = sample.temperature_k[i] - 273.15 - number(&end["temperatures_c"][i]);
            worst.temperature_k = worst.temperature_k.max(over_k.abs());
            if is_over(over_k, TEMPERATURE_K) {
                complaints.push(format!("{at}: {} {over_k:.4} K too warm", node.key()));
            }
        }
        assert_eq!(end["temperatures_c"].as_array().unwrap().len(), NODES);
        let over = (sample.charge_a_s - number(&end["charge_a_s"])) / capacity_a_s;
        worst.charge = worst.charge.max(over.abs());
        if is_over(over, CHARGE) {
            complaints.push(format!("{at}: {over:.1e} of the battery too full"));
        }
    }
    compare_launches(name, &trace, &day["launches"], complaints, &mut worst);
    compare_heat(name, &trace, &day["heat_j"], complaints, &mut worst);
    compare_life(name, &trace, &day["life_s"], complaints, &mut worst);
    worst
}

fn compare_launches(
    name: &str,
    trace: &Trace,
    launches: &Value,
    complaints: &mut Vec<String>,
    worst: &mut Worst,
) {
    let launches = launches.as_array().unwrap();
    assert_eq!(trace.launches.len(), launches.len(), "{name}: number of launches");
    for (place, (launch, expected)) in trace.launches.iter().zip(launches).enumerate() {
        let at = format!("{name}, launch {place}");
        let Some(pass) = &launch.pass else {
            assert!(expected.is_null(), "{at} is logged");
            continue;
        };
        for (speed, key) in
            [(launch.flash_rad_per_s, "flash_rpm"), (Some(launch.launch_rad_per_s), "launch_rpm")]
        {
            assert_eq!(speed.is_some(), expected[key].is_number(), "{at}: {key}");
            if let Some(speed) = speed {
                let over = speed / RPM / number(&expected[key]) - 1.0;
                worst.flash = worst.flash.max(over.abs());
                if is_over(over, FLASH) {
                    complaints.push(format!("{at}: {key} {over:.1e} too high"));
                }
            }
        }
        let marks = expected["marks"].as_array().unwrap();
        assert_eq!(pass.marks.len(), marks.len(), "{at}: number of marks");
        for (mark, expected) in pass.marks.iter().zip(marks) {
            let late_s = mark.elapsed_s - number(&expected["elapsed_s"]);
            worst.elapsed_s = worst.elapsed_s.max(late_s.abs());
            if is_over(late_s, ELAPSED_S) {
                complaints.push(format!("{at}, {:.1} m: {late_s:.5} s late", mark.distance_m));
            }
            let over_m_per_s = mark.speed_m_per_s - number(&expected["speed_m_per_s"]);
            if is_over(over_m_per_s, SPEED_M_PER_S) {
                complaints
                    .push(format!("{at}, {:.1} m: {over_m_per_s:.4} m/s fast", mark.distance_m));
            }
        }
        compare_energy(&at, &pass.energy, &expected["energy_j"], complaints, worst);
    }
}

fn compare_energy(
    at: &str,
    energy: &PassEnergy,
    expected_j: &Value,
    complaints: &mut Vec<String>,
    worst: &mut Worst,
) {
    for (found_j, key) in [
        (energy.engine_j, "engine"),
        (energy.converter_j, "converter"),
        (energy.front_pump_j, "front_pump"),
        (energy.gearbox_j, "gearbox"),
        (energy.axle_j, "axle"),
        (energy.tyre_j, "tyre"),
        (energy.drag_j, "drag"),
        (energy.rolling_j, "rolling"),
        (energy.kinetic_j, "kinetic"),
    ] {
        let over = (found_j - number(&expected_j[key])) / number(&expected_j["engine"]);
        worst.energy = worst.energy.max(over.abs());
        if is_over(over, ENERGY) {
            complaints.push(format!("{at}: {key} {over:.1e} of the engine's work too much"));
        }
    }
}

/// The twin integrates the rate with the nodes; the program takes temperature as straight between samples.
fn compare_life(
    name: &str,
    trace: &Trace,
    life_s: &Value,
    complaints: &mut Vec<String>,
    worst: &mut Worst,
) {
    for node in [Node::PanFluid, Node::ConverterFluid] {
        let place = Node::ALL.iter().position(|other| *other == node).unwrap();
        let history =
            trace.samples.iter().map(|sample| (sample.time_s, sample.temperature_k[place]));
        let (found_s, expected_s) =
            (AgeingLaw::trade_rule().dose_s(history), number(&life_s[node.key()]));
        let over = (found_s - expected_s) / expected_s.max(1.0);
        worst.life = worst.life.max(over.abs());
        if is_over(over, LIFE) {
            complaints.push(format!("{name}: dose of {} {over:.1e} too much", node.key()));
        }
    }
}

fn compare_heat(
    name: &str,
    trace: &Trace,
    heat_j: &Value,
    complaints: &mut Vec<String>,
    worst: &mut Worst,
) {
    let expected_j = |path: &Path| number(&heat_j[path.key()]);
    let made_j: f64 = Path::SOURCES.iter().map(expected_j).sum();
    let away_j: f64 = Path::SINKS.iter().map(expected_j).sum();
    for path in Path::SOURCES.iter().chain(&Path::SINKS) {
        let over = (trace.ledger.path_j(*path) - expected_j(path)) / made_j.max(away_j);
        worst.heat = worst.heat.max(over.abs());
        if is_over(over, HEAT) {
            complaints.push(format!("{name}: {} {over:.1e} of the day too much", path.key()));
        }
    }
}

#[test]
pub fn every_day_is_that_of_the_independent_implementation() {
    let file = file();
    let days = file["days"].as_array().unwrap();
    assert!(days.len() >= 70, "only {} days", days.len());
    let mut complaints = Vec::new();
    let mut all = Worst::default();
    for day in days {
        let worst = compare(day, &mut complaints);
        all = all.or(&worst);
        println!(
            "{:<33} {:.1e} K  {:.1e} s  {:.1e} of the heat, {:.1e} of the battery, {:.1e} of the dose; \
             passes {:.1e} s, flash {:.1e}, energy {:.1e}",
            day["scenario"]["name"].as_str().unwrap(),
            worst.temperature_k,
            worst.time_s,
            worst.heat,
            worst.charge,
            worst.life,
            worst.elapsed_s,
            worst.flash,
            worst.energy
        );
    }
    assert!(complaints.is_empty(), "{}", complaints.join("\n"));
    assert_at_most("temperature of a node at an event's end, K", all.temperature_k, TEMPERATURE_K);
    assert_at_most("end of an event, s", all.time_s, WAITED_S);
    assert_at_most("heat along a path in or out, of the day's", all.heat, HEAT);
    assert_at_most("charge, of the battery's", all.charge, CHARGE);
    assert_at_most("dose of the fluid, share", all.life, LIFE);
    assert_at_most("elapsed time of a pass, s", all.elapsed_s, ELAPSED_S);
    assert_at_most("flash speed, share", all.flash, FLASH);
    assert_at_most("energy of a pass, of the engine's work", all.energy, ENERGY);
    assert_at_most("ledger: made − carried away − stored, of what was made", all.closure, 1e-9);
}

/// The published days in the file are those of the folder, so that a changed scenario asks for a new answer.
#[test]
pub fn published_days_are_those_of_the_folder() {
    let file = file();
    for name in ["dyno_bench_session", "saturday_bracket_day", "test_and_tune_evening"] {
        let path = format!("{}/scenarios/{name}.json", env!("CARGO_MANIFEST_DIR"));
        let published: Value =
            serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
        let kept = file["days"].as_array().unwrap().iter().any(|day| day["scenario"] == published);
        assert!(kept, "{name} has changed: run tests/reference/twin.py");
    }
}

/// Each way of ending and of booking occurs in the days: what does not occur is not compared.
#[test]
pub fn the_days_use_everything() {
    let file = file();
    let mut reached = 0;
    let mut heat_j = vec![0.0; Path::SOURCES.len() + Path::SINKS.len()];
    let mut kinds = Vec::new();
    for day in file["days"].as_array().unwrap() {
        let scenario = scenario::parse(&day["scenario"].to_string()).unwrap();
        let trace = simulate(&scenario).unwrap();
        reached += trace.events.iter().filter(|e| e.ended_by == EndedBy::Temperature).count();
        kinds.extend(trace.events.iter().map(|event| event.kind));
        for (path, heat_j) in Path::SOURCES.iter().chain(&Path::SINKS).zip(&mut heat_j) {
            *heat_j += number(&day["heat_j"][path.key()]);
        }
    }
    assert!(reached >= 3, "{reached} temperatures waited for and reached");
    assert!(heat_j.iter().all(|heat_j| *heat_j > 1e4), "{heat_j:?}");
    for kind in stallheat::timeline::EventKind::ALL {
        assert!(kinds.contains(&kind), "no {}", kind.key());
    }
}
