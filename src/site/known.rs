//! What the page knows before its core has computed anything, as a script: tables of parameters, kinds of events,
//! nodes and pictures in both systems of units, typical cars, example days.
//!
//! Nothing of it depends on a day, so it is made once, here, from the library's tables, and no code for it lies in the
//! core. Of the second system only what differs from the first is written; `core.js` puts it together. What the first
//! view does without stands in scripts of its own.

use serde_json::{Map, Value, json};
use stallheat::error::{Error, ErrorKind};
use stallheat::scenario::{CARS, EXAMPLES};
use stallheat::sheet::tables;
use stallheat::units::System;

/// The scripts' names in `www/`, as they are imported: what the first view needs, the rest of the tables, the longer words.
const KNOWN: &str = "known.js";
const REST: &str = "rest.js";
const WORDS: &str = "words.js";
/// Keys of what is only read when it is asked for.
const LONGER: [&str; 3] = ["sentence", "source", "description"];
/// Parameters whose controls stand open at first, as `controls.js` has them.
const OPEN: [&str; 4] = ["air.temperature", "cooler.ua", "circulation.flow", "converter.k_factor"];
/// Keys of the numbers of a control.
const NUMBERS: [&str; 9] =
    ["spread", "unit", "default", "follows", "min", "max", "slider_min", "slider_max", "step"];

/// The three scripts by name: `export const known = { us, examples };`, `export const rest = { us, si };` and
/// `export const words = { us, cars, examples };`. Of the examples the first alone is known with its text.
pub fn scripts() -> Result<[(String, Vec<u8>); 3], Error> {
    let table = |system| serde_json::to_value(tables(system));
    let made = || -> serde_json::Result<[Value; 3]> {
        let (mut us, mut si) = (table(System::Us)?, table(System::Si)?);
        // The longer words are the same in both.
        let (words, _) = (taken(&mut us, &is_longer), taken(&mut si, &is_longer));
        let si = difference(&us, &si);
        let rest: Map<String, Value> = us
            .as_object_mut()
            .into_iter()
            .flatten()
            .map(|(list, rows)| (list.clone(), taken(rows, &|row, key| is_rest(list, row, key))))
            .collect();
        let (mut examples, mut texts) = (vec![], vec![]);
        for (place, (key, text)) in EXAMPLES.into_iter().enumerate() {
            let day: Value = serde_json::from_str(text)?;
            let mut example = json!({ "key": key, "name": day["name"] });
            // As short as it can be: the page reads it, nobody else does.
            let text = Value::from(day.to_string());
            if place == 0 {
                example["text"] = text;
            } else {
                texts.push(text);
            }
            examples.push(example);
        }
        let cars: Value = serde_json::from_str(CARS)?;
        let known = json!({ "us": us, "examples": examples });
        Ok([
            known,
            json!({ "us": rest, "si": si }),
            json!({ "us": words, "cars": cars, "examples": texts }),
        ])
    };
    let [known, rest, words] = made().map_err(|cause| {
        Error::new(
            ErrorKind::Build,
            KNOWN,
            cause.to_string(),
            "tables, cars and examples that are JSON",
            "Mend src/scenario/cars.json, a file of scenarios, or what src/sheet.rs makes.",
        )
    })?;
    let script = |file: &str, name: &str, value| {
        (file.to_string(), format!("export const {name} = {value};\n").into_bytes())
    };
    Ok([script(KNOWN, "known", known), script(REST, "rest", rest), script(WORDS, "words", words)])
}

fn is_longer(_: &Map<String, Value>, key: &str) -> bool {
    LONGER.contains(&key)
}

/// Whether the first view does without a key of a row of a list.
fn is_rest(list: &str, row: &Map<String, Value>, key: &str) -> bool {
    let text = |key| row.get(key).and_then(Value::as_str).unwrap_or_default();
    match list {
        "parameters" => {
            let path = format!("{}.{}", text("part"), text("key"));
            NUMBERS.contains(&key) && !OPEN.contains(&path.as_str())
        }
        "alternatives" => NUMBERS.contains(&key),
        "kinds" => {
            NUMBERS.contains(&key) || ["lasts", "has_gear", "coasts", "logged"].contains(&key)
        }
        "tables" => key == "example",
        "nodes" => false,
        _ => true,
    }
}

/// Takes out what `is_late` says of the keys of objects: what was taken, by its place as in [`difference`].
fn taken(table: &mut Value, is_late: &dyn Fn(&Map<String, Value>, &str) -> bool) -> Value {
    let mut taken_out = Map::new();
    let mut keep = |place: String, words: Value| {
        if words.as_object().is_none_or(|places| !places.is_empty()) {
            taken_out.insert(place, words);
        }
    };
    match table {
        Value::Object(object) => {
            let late: Vec<String> =
                object.keys().filter(|key| is_late(object, key)).cloned().collect();
            for key in late {
                if let Some(words) = object.shift_remove(&key) {
                    keep(key, words);
                }
            }
            object.iter_mut().for_each(|(key, value)| keep(key.clone(), taken(value, is_late)));
        }
        Value::Array(list) => {
            for (place, value) in list.iter_mut().enumerate() {
                keep(place.to_string(), taken(value, is_late));
            }
        }
        _ => {}
    }
    Value::Object(taken_out)
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

    /// As `core.js` does it when the rest or the words arrive.
    fn put(table: &mut Value, places: &Value) {
        for (place, value) in places.as_object().unwrap() {
            let inner = match &mut *table {
                Value::Array(list) => &mut list[place.parse::<usize>().unwrap()],
                other => other.as_object_mut().unwrap().entry(place).or_insert(Value::Null),
            };
            if value.is_object() && !inner.is_null() {
                put(inner, value)
            } else {
                *inner = value.clone()
            }
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
        let [(_, known), (_, rest), (_, words)] = scripts().unwrap();
        let [known, rest, words] = [(known, "known"), (rest, "rest"), (words, "words")]
            .map(|(script, name)| value_of(&script, name));
        assert!(known["us"]["parameters"][0].get("sentence").is_none());
        assert!(known["us"]["parameters"][0]["slider_min"].is_number());
        assert!(known["us"]["parameters"][1].get("slider_min").is_none());
        // The order in which rest and words arrive does not matter.
        for late in [[&rest, &words], [&words, &rest]] {
            let mut whole = known["us"].clone();
            late.iter().for_each(|script| put(&mut whole, &script["us"]));
            assert_eq!(whole, us);
            assert_eq!(together(&whole, &rest["si"]), si);
        }
        let examples = known["examples"].as_array().unwrap();
        let texts: Vec<&Value> = std::iter::once(&examples[0]["text"])
            .chain(words["examples"].as_array().unwrap())
            .collect();
        for ((text, example), (key, written)) in texts.iter().zip(examples).zip(EXAMPLES) {
            let [kept, written] = [text.as_str().unwrap(), written]
                .map(|text| serde_json::from_str::<Value>(text).unwrap());
            assert_eq!(kept, written);
            assert_eq!((&example["key"], &example["name"]), (&key.into(), &written["name"]));
        }
        assert_eq!((texts.len(), examples.len()), (EXAMPLES.len(), EXAMPLES.len()));
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
