//! JSON Schema (draft 2020-12) of scenario files, made from the parameter tables.
//!
//! A schema checks shape, keys, words and the form of quantities. Ranges across units, overlaps and what
//! contradicts what are the gate's; the ranges stand in the descriptions.

use serde_json::{Map, Value, json};

use super::FORMAT;
use super::alternatives::ALTERNATIVES;
use super::event::DISTANCES;
use super::parameters::PARAMETERS;
use super::tables::{MAX_CHARS, MAX_ROWS, TABLES};
use crate::fluid::CLASSES;
use crate::timeline::{EventKind, MAX_EVENTS, MAX_SWITCHINGS, Node, Route, Turbine};
use crate::units::{Dimension, UNITS, significant};

/// The schema.
pub fn schema() -> Value {
    let nodes: Vec<&str> = Node::ALL.iter().map(|node| node.key()).collect();
    let routes: Vec<&str> = Route::ALL.iter().map(|route| route.key()).collect();
    let mut routes_and_off = vec!["off"];
    routes_and_off.extend(&routes);
    let mut initial = Map::new();
    for key in std::iter::once("all").chain(nodes.iter().copied()) {
        initial.insert(key.to_string(), quantity(Dimension::Temperature));
    }
    let on_time = |with_route: bool| {
        let mut properties = Map::new();
        if with_route {
            properties.insert("route".into(), json!({ "enum": routes }));
        }
        properties.insert(
            "start".into(),
            described(quantity(Dimension::Time), "After the start of the event; default 0."),
        );
        properties.insert(
            "duration".into(),
            described(quantity(Dimension::Time), "Default: until the event ends."),
        );
        properties.insert("until".into(), json!({ "$ref": "#/$defs/condition" }));
        let required: &[&str] = if with_route { &["route"] } else { &[] };
        json!({
            "type": "array",
            "maxItems": MAX_SWITCHINGS,
            "items": {
                "type": "object",
                "properties": properties,
                "required": required,
                "additionalProperties": false,
            },
        })
    };
    let calibrated = PARAMETERS.iter().filter(|parameter| parameter.spread.is_some());
    let calibrated: Map<String, Value> =
        calibrated.map(|parameter| (parameter.path(), quantity(parameter.dimension))).collect();
    let calibration = json!({
        "type": "object",
        "description": "What a fit to readings knows: values that it gave, and directions that it knows, in units of the spreads of docs/parameters.md.",
        "properties": {
            "note": { "type": "string", "maxLength": 200 },
            "parameters": {
                "type": "object",
                "properties": calibrated,
                "additionalProperties": false,
            },
            "known": { "type": "array", "items": { "type": "string", "maxLength": 2000 } },
        },
        "required": ["parameters", "known"],
        "additionalProperties": false,
    });
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "stallheat scenario",
        "description": "A car, its transmission and a day. Quantities are texts with a unit, \"95 °F\".",
        "type": "object",
        "properties": {
            "format": { "const": FORMAT },
            "name": { "type": "string", "maxLength": 120, "pattern": "\\S" },
            "note": { "type": "string", "maxLength": 4000 },
            "setup": setup_schema(),
            "initial_temperatures": {
                "type": "object",
                "description": "Temperatures at time zero; what is not stated starts at air temperature.",
                "properties": initial,
                "additionalProperties": false,
            },
            "calibration": calibration,
            "timeline": {
                "type": "array",
                "minItems": 1,
                "maxItems": MAX_EVENTS,
                "items": { "anyOf": [
                    { "$ref": "#/$defs/event" },
                    { "$ref": "#/$defs/rounds" },
                ] },
            },
        },
        "required": ["format", "name", "timeline"],
        "additionalProperties": false,
        "$defs": {
            "condition": {
                "type": "object",
                "description": "A temperature to wait for.",
                "properties": {
                    "node": { "enum": nodes },
                    "at_or_below": quantity(Dimension::Temperature),
                    "at_or_above": quantity(Dimension::Temperature),
                },
                "required": ["node"],
                "oneOf": [
                    { "required": ["at_or_below"] },
                    { "required": ["at_or_above"] },
                ],
                "additionalProperties": false,
            },
            "circulation": { "anyOf": [{ "enum": routes_and_off }, on_time(true)] },
            "fan": { "anyOf": [{ "enum": ["on", "off"] }, on_time(false)] },
            "event": {
                "type": "object",
                "required": ["event"],
                "oneOf": EventKind::ALL.map(event_schema),
            },
            "rounds": {
                "type": "object",
                "properties": {
                    "rounds": {
                        "type": "array",
                        "minItems": 1,
                        "description": "One entry a round: its turnaround, from its own start to the start of the next round.",
                        "items": { "anyOf": [
                            quantity(Dimension::Time),
                            {
                                "type": "object",
                                "properties": {
                                    "turnaround": quantity(Dimension::Time),
                                    "change": {
                                        "type": "object",
                                        "description": "By kind of event: the keys that differ in this round.",
                                        "propertyNames": { "enum": EventKind::ALL.map(|kind| kind.key()) },
                                        "additionalProperties": { "type": "object" },
                                    },
                                },
                                "required": ["turnaround"],
                                "additionalProperties": false,
                            },
                        ] },
                    },
                    "events": {
                        "type": "array",
                        "minItems": 1,
                        "items": { "$ref": "#/$defs/event" },
                    },
                },
                "required": ["rounds", "events"],
                "additionalProperties": false,
            },
        },
    })
}

fn setup_schema() -> Value {
    let mut parts = Map::new();
    for parameter in PARAMETERS {
        let part = parts.entry(parameter.part).or_insert_with(|| {
            let mut properties = Map::new();
            if parameter.part == "fluid" {
                let classes: Vec<&str> = CLASSES.iter().map(|class| class.key).collect();
                properties.insert(
                    "class".into(),
                    json!({
                        "enum": classes,
                        "description": "Sets kv40, kv100 and density15 to typical values.",
                    }),
                );
            }
            json!({
                "type": "object",
                "description": parameter.wording().part_label,
                "properties": properties,
                "additionalProperties": false,
            })
        });
        let unit = parameter.display_unit();
        let shown = |si: f64| {
            format!("{} {}", significant(unit.from_si(si), 4), unit.symbol).trim_end().to_string()
        };
        let mut value = if parameter.dimension == Dimension::One {
            json!({
                "type": "number",
                "minimum": parameter.min_si(),
                "maximum": parameter.max_si(),
            })
        } else {
            quantity(parameter.dimension)
        };
        value["description"] = Value::String(format!(
            "{}. {} From {} to {}; default {}.",
            parameter.wording().label,
            parameter.wording().sentence,
            shown(parameter.min_si()),
            shown(parameter.max_si()),
            shown(parameter.default_si()),
        ));
        part["properties"][parameter.key] = value;
    }
    for alternative in ALTERNATIVES {
        for input in alternative.inputs {
            let text = format!(
                "{}. {} {}: instead of \"{}\".",
                input.label, input.sentence, alternative.label, alternative.instead_of
            );
            parts[alternative.part]["properties"][input.key] =
                described(quantity(input.dimension), &text);
        }
    }
    for table in TABLES {
        let columns: Vec<&str> = table.columns.iter().map(|column| column.key).collect();
        let mut replaced = String::new();
        if !table.replaces.is_empty() {
            replaced = format!(" Instead of {}.", table.replaces.join(", "));
        }
        parts[table.part]["properties"][table.key] = json!({
            "description": format!(
                "{}. {} Columns: {}.{replaced}",
                table.label,
                table.sentence,
                columns.join(", ")
            ),
            "anyOf": [
                { "type": "string", "maxLength": MAX_CHARS },
                {
                    "type": "array",
                    "minItems": table.least_rows,
                    "maxItems": MAX_ROWS,
                    "items": { "type": ["array", "number", "string"] },
                },
            ],
        });
    }
    json!({ "type": "object", "properties": parts, "additionalProperties": false })
}

fn event_schema(kind: EventKind) -> Value {
    let mut properties = Map::new();
    properties.insert("event".into(), json!({ "const": kind.key() }));
    properties
        .insert("name".into(), json!({ "type": "string", "maxLength": 60, "pattern": "\\S" }));
    properties.insert(
        "start".into(),
        described(
            quantity(Dimension::Time),
            "After the start of its round, or of its stretch of events; default: when the event before ends.",
        ),
    );
    properties.insert(
        "duration".into(),
        json!({ "anyOf": [quantity(Dimension::Time), { "const": "rest" }] }),
    );
    properties.insert("until".into(), json!({ "$ref": "#/$defs/condition" }));
    properties.insert("at_most".into(), quantity(Dimension::Time));
    properties.insert("circulation".into(), json!({ "$ref": "#/$defs/circulation" }));
    properties.insert("fan".into(), json!({ "$ref": "#/$defs/fan" }));
    if kind.turbine() == Turbine::BySelector {
        properties.insert("gear".into(), json!({ "enum": ["neutral", "in_gear"] }));
    }
    for (row, default) in kind.takes() {
        let unit = row.display_unit();
        let shown = |value: f64| {
            format!("{} {}", significant(value, 4), unit.symbol).trim_end().to_string()
        };
        let from_car = if kind.logged_keys().contains(&row.key) {
            " While nothing that only a log knows is stated, car and engine make it."
        } else {
            ""
        };
        let default_text = match default {
            Some(value) => shown(value),
            None => "setup.engine.idle_speed".to_string(),
        };
        let mut value = if row.dimension == Dimension::One {
            json!({ "type": "number", "minimum": row.min_si(), "maximum": row.max_si() })
        } else {
            quantity(row.dimension)
        };
        value["description"] = Value::String(format!(
            "{}. {} From {} to {}; default {default_text}.{from_car}",
            row.label,
            row.sentence,
            shown(unit.from_si(row.min_si())),
            shown(unit.from_si(row.max_si())),
        ));
        properties.insert(row.key.to_string(), value);
    }
    let mut ends =
        vec![json!({ "required": ["duration"] }), json!({ "required": ["until", "at_most"] })];
    if kind == EventKind::Pass {
        let names: Vec<&str> = DISTANCES.iter().map(|(name, _)| *name).collect();
        properties.insert(
            "distance".into(),
            json!({
                "enum": names,
                "description": "Of a computed pass, which states no duration; default quarter_mile.",
            }),
        );
        ends.push(json!({
            "not": { "anyOf": [{ "required": ["duration"] }, { "required": ["until"] }] },
        }));
    }
    json!({
        "type": "object",
        "properties": properties,
        "required": ["event"],
        "oneOf": ends,
        "additionalProperties": false,
    })
}

/// A text that is a number and one of the dimension's units.
fn quantity(dimension: Dimension) -> Value {
    let units: Vec<&str> =
        UNITS.iter().filter(|unit| unit.dimension == dimension).map(|unit| unit.symbol).collect();
    json!({
        "type": "string",
        "pattern": "^\\s*[+-]?([0-9]+\\.?[0-9]*|\\.[0-9]+)([eE][+-]?[0-9]+)?\\s*\\S",
        "description": format!("A number with a unit: {}.", units.join(", ")),
    })
}

fn described(mut schema: Value, text: &str) -> Value {
    schema["description"] = Value::String(text.to_string());
    schema
}
