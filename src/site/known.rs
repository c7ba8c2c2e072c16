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

/// The scripts' names in `www/`, as `core.js` imports them: what the first view needs, and the longer words for later.
const KNOWN: &str = "known.js";
const WORDS: &str = "words.js";
/// Keys of what is only read when it is asked for.
const LONGER: [&str; 3] = ["sentence", "source", "description"];

/// Both scripts by name: `export const known = { us, si, examples };` and `export const words = { us, cars };`.
pub fn scripts() -> Result<[(String, Vec<u8>); 2], Error> {
    let table = |system| serde_json::to_value(tables(system));
    let made = || -> serde_json::Result<[Value; 2]> {
        let (mut us, mut si) = (table(System::Us)?, table(System::Si)?);
        // The longer words are the same in both.
        let (words, _) = (longer(&mut us), longer(&mut si));
        let examples = EXAMPLES.map(|(key, text)| json!({ "key": key, "text": text }));
        let cars: Value = serde_json::from_str(CARS)?;
        let known = json!({ "si": difference(&us, &si), "us": us, "examples": examples });
        Ok([known, json!({ "us": words, "cars": cars })])
    };
    let [known, words] = made().map_err(|cause| {
        Error::new(
            ErrorKind::Build,
            KNOWN,
            cause.to_string(),
            "tables and cars that are JSON",
            "Mend src/scenario/cars.json, or what src/sheet.rs makes.",
        )
    })?;
    let script = |name: &str, value| format!("export const {name} = {value};\n").into_bytes();
    Ok([(KNOWN.to_string(), script("known", known)), (WORDS.to_string(), script("words", words))])
}

/// Takes the longer words out: what was taken, by its place as in [`difference`].
fn longer(table: &mut Value) -> Value {
    let mut taken = Map::new();
    let mut keep = |place: String, words: Value| {
        if words.as_object().is_none_or(|places| !places.is_empty()) {
            taken.insert(place, words);
        }
    };
    match table {
        Value::Object(object) => {
            for key in LONGER {
                if let Some(words) = object.shift_remove(key) {
                    keep(key.to_string(), words);
                }
            }
            object.iter_mut().for_each(|(key, value)| keep(key.clone(), longer(value)));
        }
        Value::Array(list) => {
            list.iter_mut().enumerate().for_each(|(at, value)| keep(at.to_string(), longer(value)));
        }
        _ => {}
    }
    Value::Object(taken)
}

/// What of `other` is not as in `first`: of objects and lists the places that differ, by key or number. Objects have the
/// same keys in both, as tables of one kind do; a list of another length is written whole.
fn difference(first: &Value, other: &Value) -> Value {
    let mut places = Map::new();
    match (first, other) {
        (Value::Object(first), Value::Object(other)) => {
            for (key, value) in other {
                let before = first.get(key).unwrap_or(&Value::Null);
                if before != value {
                    places.insert(key.clone(), difference(before, value));
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

    /// As `core.js` does it when the words arrive.
    fn put(table: &mut Value, words: &Value) {
        for (place, words) in words.as_object().unwrap() {
            let inner = match &mut *table {
                Value::Array(list) => &mut list[place.parse::<usize>().unwrap()],
                other => other.as_object_mut().unwrap().entry(place).or_insert(Value::Null),
            };
            if words.is_object() { put(inner, words) } else { *inner = words.clone() }
        }
    }

    fn value_of(script: &[u8], name: &str) -> Value {
        let text = std::str::from_utf8(script).unwrap();
        let value = text.strip_prefix(&format!("export const {name} = ")).unwrap();
        serde_json::from_str(value.strip_suffix(";\n").unwrap()).unwrap()
    }

    #[test]
    fn both_systems_come_out_whole() {
        let [us, si] =
            [System::Us, System::Si].map(|system| serde_json::to_value(tables(system)).unwrap());
        assert_ne!(us, si);
        let [(_, known), (_, words)] = scripts().unwrap();
        let (known, words) = (value_of(&known, "known"), value_of(&words, "words"));
        let mut together = [known["us"].clone(), together(&known["us"], &known["si"])];
        assert!(together[0]["parameters"][0].get("sentence").is_none());
        together.iter_mut().for_each(|table| put(table, &words["us"]));
        assert_eq!(together, [us, si]);
        assert_eq!(known["examples"].as_array().unwrap().len(), EXAMPLES.len());
        assert!(words["cars"][0]["setup"].is_object());
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
