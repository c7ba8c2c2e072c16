//! What the page knows before its core has computed anything, as a script: tables of parameters, kinds of events,
//! nodes and pictures in both systems of units, typical cars, example days.
//!
//! Nothing of it depends on a day, so it is made once, here, from the library's tables, and no code for it lies in the
//! core. Of the second system only what differs from the first is written; `core.js` puts it together.

use serde_json::{Map, Value, json};
use stallheat::error::{Error, ErrorKind};
use stallheat::scenario::{CARS, EXAMPLES};
use stallheat::sheet::tables;
use stallheat::units::System;

/// The script's name in `www/`, as `core.js` imports it.
pub const NAME: &str = "known.js";

/// The script: `export const known = { us, si, examples, cars };`.
pub fn script() -> Result<Vec<u8>, Error> {
    let table = |system| serde_json::to_value(tables(system));
    let made = || -> serde_json::Result<Value> {
        let (us, si) = (table(System::Us)?, table(System::Si)?);
        let examples = EXAMPLES.map(|(key, text)| json!({ "key": key, "text": text }));
        let cars: Value = serde_json::from_str(CARS)?;
        Ok(json!({ "si": difference(&us, &si), "us": us, "examples": examples, "cars": cars }))
    };
    let known = made().map_err(|cause| {
        Error::new(
            ErrorKind::Build,
            NAME,
            cause.to_string(),
            "tables and cars that are JSON",
            "Mend src/scenario/cars.json, or what src/sheet.rs makes.",
        )
    })?;
    Ok(format!("export const known = {known};\n").into_bytes())
}

/// What of `other` is not as in `first`: of objects and lists the places that differ, by key or number.
fn difference(first: &Value, other: &Value) -> Value {
    let mut places = Map::new();
    match (first, other) {
        (Value::Object(first), Value::Object(other)) if first.len() == other.len() => {
            for (key, value) in other {
                match first.get(key) {
                    Some(before) if before == value => {}
                    Some(before) => drop(places.insert(key.clone(), difference(before, value))),
                    None => return Value::Object(other.clone()),
                }
            }
        }
        (Value::Array(first), Value::Array(other)) if first.len() == other.len() => {
            for (place, (before, value)) in first.iter().zip(other).enumerate() {
                if before != value {
                    places.insert(place.to_string(), difference(before, value));
                }
            }
        }
        _ => return other.clone(),
    }
    Value::Object(places)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// As `core.js` does it.
    fn together(first: &Value, other: &Value) -> Value {
        match (first, other) {
            (Value::Object(whole), Value::Object(places)) => whole
                .iter()
                .map(|(key, value)| {
                    (
                        key.clone(),
                        places.get(key).map_or(value.clone(), |other| together(value, other)),
                    )
                })
                .collect(),
            (Value::Array(whole), Value::Object(places)) => whole
                .iter()
                .enumerate()
                .map(|(at, value)| {
                    places
                        .get(&at.to_string())
                        .map_or(value.clone(), |other| together(value, other))
                })
                .collect(),
            _ => other.clone(),
        }
    }

    #[test]
    fn both_systems_come_out_whole() {
        let [us, si] =
            [System::Us, System::Si].map(|system| serde_json::to_value(tables(system)).unwrap());
        assert_ne!(us, si);
        assert_eq!(together(&us, &difference(&us, &si)), si);
        let script = String::from_utf8(script().unwrap()).unwrap();
        let known =
            script.strip_prefix("export const known = ").unwrap().strip_suffix(";\n").unwrap();
        let known: Value = serde_json::from_str(known).unwrap();
        assert_eq!(together(&known["us"], &known["si"]), si);
        assert_eq!(known["examples"].as_array().unwrap().len(), EXAMPLES.len());
        assert!(known["cars"][0]["setup"].is_object());
    }

    #[test]
    fn only_what_differs_is_written() {
        let (first, other) = (
            json!({ "a": [1, { "b": 2, "c": 3 }], "d": null }),
            json!({ "a": [1, { "b": 2, "c": 4 }], "d": null }),
        );
        assert_eq!(difference(&first, &other), json!({ "a": { "1": { "c": 4 } } }));
        assert_eq!(difference(&json!([1]), &json!([1, 2])), json!([1, 2]));
    }
}
