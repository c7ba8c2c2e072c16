//! A scenario made of any bytes, each of them one choice: what is mutated stays a scenario, so that a fuzzer gets past the
//! gate and into the computation, and random bytes are random days. With a first byte of 224 or more also absurd ones.

use serde_json::{Map, Value, json};
use stallheat::scenario::parameters::PARAMETERS;
use stallheat::timeline::{EventKind, Node, Route};

/// First bytes from here on ask for absurd values, too.
const ABSURD: u8 = 224;
/// Longest event (s), so that a day is short enough to be tried a thousand times a minute.
const LONGEST_S: f64 = 600.0;
/// Most events as written.
const MOST_EVENTS: usize = 24;

/// What stands where something else belongs.
const STRANGE: [&str; 16] = [
    "null",
    "true",
    "[]",
    "{}",
    "-1",
    "1e999",
    "\"\"",
    "\"NaN\"",
    "\"1e308 K\"",
    "\"-1 s\"",
    "\"5 bananas\"",
    "\"∞ rpm\"",
    "0.1",
    "\"1e-320 W/K\"",
    "\"rest\"",
    "[[[[1]]]]",
];

/// The bytes as choices; where they are used up, every choice is the first.
struct Choices<'a> {
    bytes: std::slice::Iter<'a, u8>,
    absurd: bool,
}

impl Choices<'_> {
    fn next(&mut self) -> u8 {
        self.bytes.next().copied().unwrap_or(0)
    }

    fn left(&self) -> bool {
        self.bytes.len() > 0
    }

    fn of<T: Copy>(&mut self, all: &[T]) -> T {
        all[usize::from(self.next()) % all.len()]
    }

    /// A value of a range, its ends for the first and the last choice, in even factors where it is wide. Beyond the ends, or
    /// nothing of the kind, in one of twelve where absurd ones are asked for.
    fn quantity(&mut self, low: f64, high: f64, symbol: &str) -> Value {
        if self.absurd && self.next().is_multiple_of(12) {
            return self.strange();
        }
        let share = f64::from(self.next()) / 255.0;
        let wide = low > 0.0 && high / low > 10.0;
        let value = if wide { low * (high / low).powf(share) } else { low + (high - low) * share };
        // A factor of rounding may lead past the end.
        let value = value.clamp(low, high);
        if symbol.is_empty() { json!(value) } else { json!(format!("{value} {symbol}")) }
    }

    fn strange(&mut self) -> Value {
        let text = self.of(&STRANGE);
        serde_json::from_str(text).unwrap_or_else(|_| json!(text))
    }

    fn condition(&mut self) -> Value {
        let node = self.of(&Node::ALL).key();
        let side = self.of(&["at_or_below", "at_or_above"]);
        json!({"node": node, side: self.quantity(0.0, 150.0, "°C")})
    }

    /// On-times of the circulation, with a route, or of the fan.
    fn switch(&mut self, words: &[&str], routed: bool) -> Option<Value> {
        match self.next() % 4 {
            0 | 1 => None,
            2 => Some(json!(self.of(words))),
            _ => {
                let mut times = Vec::new();
                let mut start_s = 0.0;
                for _ in 0..=self.next() % 3 {
                    start_s += f64::from(self.next()) * 0.5;
                    let mut time = json!({"start": format!("{start_s} s"), "duration": self.quantity(0.05, 100.0, "s")});
                    start_s += 100.0;
                    if routed {
                        time["route"] = json!(self.of(&Route::ALL).key());
                    }
                    if self.next().is_multiple_of(4) {
                        time["until"] = self.condition();
                    }
                    times.push(time);
                }
                Some(Value::Array(times))
            }
        }
    }

    fn event(&mut self) -> Value {
        let kind = self.of(&EventKind::ALL);
        let flags = self.next();
        let mut event = json!({"event": kind.key()});
        let waits = matches!(
            kind,
            EventKind::Idle | EventKind::EngineOff | EventKind::Tow | EventKind::ReturnRoad
        );
        let most_s = if waits { LONGEST_S } else { 20.0 };
        // A pass without a duration is computed, and so are the loads of the rest of the road.
        let computed = kind == EventKind::Pass && flags & 1 == 0;
        if flags & 6 == 6 {
            event["until"] = self.condition();
            event["at_most"] = self.quantity(0.5, most_s, "s");
        } else if !computed {
            event["duration"] = self.quantity(0.5, most_s, "s");
        }
        if !computed {
            for (row, _) in kind.takes() {
                if self.next().is_multiple_of(3) {
                    let unit = row.display_unit();
                    event[row.key] = self.quantity(
                        unit.from_si(row.min_si()),
                        unit.from_si(row.max_si()),
                        unit.symbol,
                    );
                }
            }
        }
        if kind == EventKind::Idle {
            event["gear"] = json!(self.of(&["neutral", "in_gear"]));
        }
        if flags & 8 == 8 {
            let routes = ["off", "pan_loop", "through_converter", "cooler_first"];
            if let Some(switch) = self.switch(&routes, true) {
                event["circulation"] = switch;
            }
            if let Some(switch) = self.switch(&["on", "off"], false) {
                event["fan"] = switch;
            }
        }
        if self.absurd && flags & 0xf0 == 0 {
            let key = self.of(&["event", "duration", "until", "fan", "circulation", "x", "gear"]);
            event[key] = self.strange();
        }
        event
    }

    fn setup(&mut self) -> Value {
        let mut setup = Map::new();
        for _ in 0..self.next() % 48 {
            let parameter = &PARAMETERS[usize::from(self.next()) % PARAMETERS.len()];
            let unit = parameter.display_unit();
            let (low, high) = (unit.from_si(parameter.min_si()), unit.from_si(parameter.max_si()));
            let value = self.quantity(low, high, unit.symbol);
            let part = setup.entry(parameter.part).or_insert_with(|| json!({}));
            part[parameter.key] = value;
        }
        Value::Object(setup)
    }
}

/// The text of a scenario for any bytes; the same for the same.
pub fn scenario_text(bytes: &[u8]) -> String {
    let mut choices = Choices { bytes: bytes.iter(), absurd: false };
    let first = choices.next();
    choices.absurd = first >= ABSURD;
    let mut day = json!({"format": 1, "name": "choices", "setup": choices.setup()});
    if first & 1 == 1 {
        day["initial_temperatures"] = json!({"all": choices.quantity(-30.0, 150.0, "°C")});
    }
    let mut timeline = Vec::new();
    for _ in 0..MOST_EVENTS {
        let mut event = choices.event();
        if choices.next() % 8 == 7 {
            let mut events = vec![event, choices.event(), choices.event()];
            // Long enough for its events, so that there may be a rest.
            let rounds = vec![json!("1900 s"); usize::from(choices.next() % 3) + 1];
            events.push(json!({"event": "engine_off", "duration": "rest", "fan": "on"}));
            event = json!({"rounds": rounds, "events": events});
        }
        timeline.push(event);
        if !choices.left() {
            break;
        }
    }
    day["timeline"] = Value::Array(timeline);
    if choices.absurd {
        let strange = choices.strange();
        match choices.next() % 12 {
            0 => day["format"] = strange,
            1 => day["setup"] = strange,
            2 => day["timeline"] = strange,
            3 => day["name"] = strange,
            4 => day["initial_temperatures"] = strange,
            5 => day["nonsense"] = strange,
            _ => {}
        }
    }
    day.to_string()
}
