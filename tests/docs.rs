//! Generated documents are fresh: `docs/parameters.md` from the parameter table, `docs/scenario.schema.json`
//! from the schema. `STALLHEAT_UPDATE=1 cargo test --test docs` writes them anew.

mod common;

use std::fmt::Write;

use common::check_or_update;

use stallheat::scenario::alternatives::ALTERNATIVES;
use stallheat::scenario::parameters::{
    EVENT_PARAMETERS, PARAMETERS, Spread, event_defaults, logged_keys,
};
use stallheat::scenario::schema::schema;
use stallheat::scenario::tables::TABLES;
use stallheat::timeline::EventKind;
use stallheat::units::{Dimension, significant, unit_or_si};

fn shown(dimension: Dimension, symbol: &str, value_si: f64) -> String {
    let unit = unit_or_si(dimension, symbol);
    let digits = significant(unit.from_si(value_si), 4);
    if dimension == Dimension::One { digits } else { format!("{digits} {}", unit.symbol) }
}

#[test]
fn parameter_table() {
    let mut out = String::from(
        "# Parameters\n\nMade from the parameter table (`src/scenario/parameters.rs`) by \
         `STALLHEAT_UPDATE=1 cargo test --test docs`; do not edit.\n\nIn a scenario file a quantity is a \
         text with its unit, in any unit of its dimension: `\"95 °F\"` or `\"35 °C\"`. Quantities without \
         unit are plain numbers.\n\nSpread is one standard deviation of what a shop does not know well, by judgement; \"±50 %\" in a source \
         is read as 19 of 20, two of them. In percent the logarithm is normal. The band on the page draws from it.\n",
    );
    let mut part = "";
    for row in PARAMETERS {
        if row.part != part {
            part = row.part;
            write!(
                out,
                "\n## {} — `setup.{}`\n\n| key | what | default | range | source | spread |\n|---|---|---|---|---|---|\n",
                row.part_label, row.part
            )
            .unwrap();
        }
        let default = shown(row.dimension, row.si_unit, row.default_si());
        let us = shown(row.dimension, row.us_unit, row.default_si());
        let default = if default == us { default } else { format!("{default} ({us})") };
        writeln!(
            out,
            "| `{}` | {}. {} | {} | {} to {} | {} | {} |",
            row.key,
            row.label,
            row.sentence,
            default,
            shown(row.dimension, row.si_unit, row.min_si()),
            shown(row.dimension, row.si_unit, row.max_si()),
            row.source,
            match row.spread {
                None => String::new(),
                Some(Spread::Relative(share)) => format!("{} %", significant(100.0 * share, 3)),
                Some(Spread::Absolute(by)) =>
                    format!("{} {}", significant(by, 3), row.si_unit).trim_end().to_string(),
            },
        )
        .unwrap();
    }
    out.push_str(
        "\n## Other ways to state a parameter\n\nAll keys of a row together, instead of the parameter.\n\n| instead of | keys | what | source |\n|---|---|---|---|\n",
    );
    for row in ALTERNATIVES {
        let keys: Vec<String> = row
            .inputs
            .iter()
            .map(|input| {
                format!(
                    "`{}` ({}, {} to {})",
                    input.key,
                    input.label.to_lowercase(),
                    shown(input.dimension, input.si_unit, input.min_si()),
                    shown(input.dimension, input.si_unit, input.max_si())
                )
            })
            .collect();
        writeln!(
            out,
            "| `{}.{}` | {} | {}. {} | {} |",
            row.part,
            row.instead_of,
            keys.join(", "),
            row.label,
            row.sentence,
            row.source
        )
        .unwrap();
    }
    out.push_str(
        "\n## Tables\n\nA list of rows, `[[0, 1.9, 1], …]`, or a text of comma-separated values, semicolons and tabs too, \
         with or without a first line that names columns and units.\n\n| key | what | instead of | example |\n|---|---|---|---|\n",
    );
    for row in TABLES {
        let replaces: Vec<String> = row.replaces.iter().map(|key| format!("`{key}`")).collect();
        writeln!(
            out,
            "| `{}.{}` | {}. {} | {} | `{}` |",
            row.part,
            row.key,
            row.label,
            row.sentence,
            replaces.join(", "),
            row.example.replace('\n', "\\n")
        )
        .unwrap();
    }
    out.push_str("\n## Events\n\n| quantity | what | range |\n|---|---|---|\n");
    for row in EVENT_PARAMETERS {
        writeln!(
            out,
            "| `{}` | {}. {} | {} to {} |",
            row.key,
            row.label,
            row.sentence,
            shown(row.dimension, row.si_unit, row.min_si()),
            shown(row.dimension, row.si_unit, row.max_si()),
        )
        .unwrap();
    }
    out.push_str("\n| kind | takes, with default |\n|---|---|\n");
    for kind in EventKind::ALL {
        let takes: Vec<String> = event_defaults(kind)
            .iter()
            .map(|(key, default)| {
                let row = EVENT_PARAMETERS.iter().find(|row| row.key == *key).unwrap();
                let unit = unit_or_si(row.dimension, row.si_unit);
                match default {
                    Some(value) => {
                        format!("`{key}` {}", shown(row.dimension, row.si_unit, unit.to_si(*value)))
                    }
                    None => format!("`{key}` the engine's idle speed"),
                }
            })
            .collect();
        let logged: Vec<String> = logged_keys(kind).iter().map(|key| format!("`{key}`")).collect();
        let takes = match logged.as_slice() {
            [] => takes,
            keys => {
                let mut takes = takes;
                takes.push(format!(
                    "while none of {} is stated the car makes them",
                    keys.join(", ")
                ));
                takes
            }
        };
        let takes = if takes.is_empty() { "nothing".to_string() } else { takes.join(", ") };
        writeln!(out, "| `{}` | {takes} |", kind.key()).unwrap();
    }
    check_or_update("docs/parameters.md", &out, "docs");
}

#[test]
fn published_schema() {
    check_or_update("docs/scenario.schema.json", &format!("{:#}\n", schema()), "docs");
}
