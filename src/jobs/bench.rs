//! The bench sheet for the page: what can be written down, and a record judged.

use serde::Serialize;
use serde_json::{Value, json};
use stallheat::bench::checks::{CHECKS, Outcome};
use stallheat::bench::record::{self, ENTRIES, Port};
use stallheat::bench::words::{SheetSummary, judge, summary};
use stallheat::bench::{chart, html};
use stallheat::chart::Options;
use stallheat::units::System;
use wasm_bindgen::JsValue;
use wasm_bindgen::prelude::wasm_bindgen;

use crate::bridge::{system, thrown, to_js};

/// Size of the chart on the sheet (CSS pixels).
const SHEET_PX: (f64, f64) = (700.0, 160.0);

#[derive(Serialize)]
struct Judgement {
    us: SheetSummary,
    si: SheetSummary,
    /// Of the page, in its units.
    light: String,
    dark: String,
    /// The sheet to be printed, a part of an HTML page.
    sheet: String,
}

/// What can be written down: `{ entries, checks, outcomes, ports }`.
#[wasm_bindgen]
pub fn bench_words() -> JsValue {
    let entries: Vec<Value> = ENTRIES
        .iter()
        .map(|(group, key, label)| json!({ "group": group, "key": key, "label": label }))
        .collect();
    let checks: Vec<Value> = CHECKS
        .iter()
        .map(|check| {
            json!({
                "key": check.key,
                "when": check.when.label(),
                "label": check.label,
                "sentence": check.sentence,
            })
        })
        .collect();
    let outcomes = Outcome::ALL.map(|one| json!({ "key": one.key(), "label": one.label() }));
    let ports = Port::ALL.map(|port| json!({ "key": port.key(), "label": port.label() }));
    let all = json!({ "entries": entries, "checks": checks, "outcomes": outcomes, "ports": ports });
    to_js(&all)
}

/// Judges the record of a bench test; throws the error object.
#[wasm_bindgen]
pub fn bench_judged(
    text: &str,
    units: &str,
    width_px: f64,
    height_px: f64,
) -> Result<JsValue, JsValue> {
    let record = record::parse(text).map_err(|error| thrown(&error))?;
    let judged = judge(&record).map_err(|error| thrown(&error))?;
    let units = system(units);
    let drawn = |width_px: f64, height_px: f64, dark: bool, paper: bool| {
        let options =
            Options { width_px, height_px, system: units, dark, paper, ..Options::default() };
        chart::temperatures_svg(&record, &judged.trace, &judged.expected, &options)
            .unwrap_or_default()
    };
    let said = |system: System| summary(&record, &judged, system);
    let (us, si) = (said(System::Us), said(System::Si));
    let on_sheet = drawn(SHEET_PX.0, SHEET_PX.1, false, true);
    let sheet = html::sheet(if units == System::Us { &us } else { &si }, &on_sheet);
    Ok(to_js(&Judgement {
        light: drawn(width_px, height_px, false, false),
        dark: drawn(width_px, height_px, true, false),
        us,
        si,
        sheet,
    }))
}
