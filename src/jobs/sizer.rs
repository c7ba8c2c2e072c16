//! Sizes for the page: the answer to a question, then the chart of two parameters a few days at a time.

use js_sys::Function;
use serde::Serialize;
use serde_json::Value;
use stallheat::chart::Options;
use stallheat::error::{Error, ErrorKind};
use stallheat::scenario;
use stallheat::size::{
    After, Aim, Answer, Axis, Case, Cooling, Map, MapWork, Unknown, answer, contours_svg, no_hold,
    size,
};
use stallheat::timeline::{Node, Route};
use stallheat::units::{System, significant};
use wasm_bindgen::JsValue;
use wasm_bindgen::prelude::wasm_bindgen;

use crate::bridge::{system, thrown, to_js};

/// A question about a day, and its chart under way.
#[wasm_bindgen]
pub struct Sizer {
    case: Case,
    unknown: Unknown,
    system: System,
    answer: Option<Answer>,
    work: Option<MapWork>,
    map: Option<Map>,
}

/// A few values of the chart, for a table.
#[derive(Serialize)]
struct TableObject {
    across: String,
    down: String,
    unit: &'static str,
    columns: Vec<String>,
    /// From the top of the chart: value of the second parameter, then the measures.
    rows: Vec<(String, Vec<Cell>)>,
}

#[derive(Serialize)]
struct Cell {
    text: String,
    meets: bool,
}

#[wasm_bindgen]
impl Sizer {
    /// Reads a scenario and a question: `{ find, aim, within_s, after, route, node, temperature_k, air_k, hold_round }`,
    /// where `aim` is `back_in`, `launch_at_most`, `launches_in_window` or `converter_at_most`, `after` is `hottest`, `last`
    /// or a round, `route` a route's key, `as_written` or nothing, `hold_round` the number of the round whose hold is found,
    /// or nothing for every round. Throws the error object.
    #[wasm_bindgen(constructor)]
    pub fn new(text: &str, asked: &str, units: &str) -> Result<Sizer, JsValue> {
        Sizer::read(text, asked, system(units)).map_err(|error| thrown(&error))
    }

    /// Solves; `progress(done, of)` is called after each day. Gives `size::Answer`.
    pub fn solve(&mut self, progress: &Function) -> Result<JsValue, JsValue> {
        let sized = size(&self.case, self.unknown, self.system, &mut |done, of| {
            // A listener that fails does not stop the work.
            let _ = progress.call2(&JsValue::NULL, &(done as f64).into(), &(of as f64).into());
        });
        let sized = sized.ok_or_else(|| thrown(&no_hold(self.unknown)))?;
        let found = answer(&self.case, &sized);
        let object = to_js(&found);
        self.answer = Some(found);
        Ok(object)
    }

    /// Begins the chart against a second parameter; gives how many days it takes.
    pub fn begin_map(&mut self, against: &str, cells: usize) -> Result<usize, JsValue> {
        self.begin(against, cells).map_err(|error| thrown(&error))
    }

    /// Simulates some further days of the chart; gives how many are done.
    pub fn step(&mut self, count: usize) -> usize {
        self.work.as_mut().map_or(0, |work| work.step(count))
    }

    /// Ends the chart and gives some of its values for a table.
    pub fn table(&mut self) -> JsValue {
        if let Some(work) = self.work.take() {
            let value = self.answer.as_ref().and_then(|answer| answer.value);
            self.map = Some(work.finish(value));
        }
        self.map.as_ref().map_or(JsValue::NULL, |map| to_js(&table(map)))
    }

    /// The chart as SVG in CSS pixels; empty before it is done.
    pub fn svg(&self, width_px: f64, height_px: f64, dark: bool) -> String {
        let options = Options { width_px, height_px, dark, paper: true, ..Options::default() };
        let drawn = self.map.as_ref().map(|map| contours_svg(map, &options));
        drawn.and_then(Result::ok).unwrap_or_default()
    }
}

impl Sizer {
    fn read(text: &str, asked: &str, system: System) -> Result<Sizer, Error> {
        let scenario = scenario::parse(text)?;
        let asked: Value = serde_json::from_str(asked).unwrap_or_default();
        let key = |name: &str| asked.get(name).and_then(Value::as_str).unwrap_or_default();
        let number = |name: &str| asked.get(name).and_then(Value::as_f64);
        let hold_round = asked.get("hold_round").and_then(Value::as_u64);
        let unknown = Unknown::of_key(key("find"))
            .map(|unknown| of_round(unknown, hold_round))
            .ok_or_else(|| unknown_key("find", key("find")))?;
        let temperature_k = number("temperature_k").unwrap_or(f64::NAN);
        let aim = match key("aim") {
            "launch_at_most" => Aim::LaunchesAtMost {
                node: Node::of_key(key("node")).unwrap_or(Node::PanFluid),
                temperature_k,
            },
            "launches_in_window" => Aim::LaunchesInWindow,
            "converter_at_most" => Aim::ConverterAtMost { temperature_k },
            _ => Aim::BackIn {
                within_s: number("within_s").unwrap_or(f64::NAN),
                after: match key("after") {
                    "last" => After::Last,
                    "hottest" | "" => After::Hottest,
                    round => After::Round(round.parse().map_err(|_| unknown_key("after", round))?),
                },
                cooling: match key("route") {
                    "" => Cooling::OwnRoute,
                    "as_written" => Cooling::AsWritten,
                    name => Route::ALL
                        .into_iter()
                        .find(|route| route.key() == name)
                        .map_or(Cooling::OwnRoute, Cooling::Route),
                },
            },
        };
        let case = Case::new(&scenario, aim, number("air_k"))?;
        Ok(Sizer { case, unknown, system, answer: None, work: None, map: None })
    }

    fn begin(&mut self, against: &str, cells: usize) -> Result<usize, Error> {
        let second = Unknown::of_key(against).ok_or_else(|| unknown_key("against", against))?;
        let value = self.answer.as_ref().and_then(|answer| answer.value);
        let x = Axis::around(&self.case, self.unknown, value, cells, self.system)?;
        let y = Axis::around(&self.case, second, None, cells, self.system)?;
        let work = MapWork::new(&self.case, x, y, self.system)?;
        let of = work.of();
        self.work = Some(work);
        Ok(of)
    }
}

/// A time on the brake of one round; a number that no round can have finds no hold and says so.
fn of_round(unknown: Unknown, round: Option<u64>) -> Unknown {
    match unknown {
        Unknown::Hold { .. } => {
            Unknown::Hold { round: round.map(|one| u32::try_from(one).unwrap_or(u32::MAX)) }
        }
        other => other,
    }
}

fn unknown_key(field: &str, value: &str) -> Error {
    let kind = ErrorKind::UnknownKey;
    Error::new(kind, field, value, "one of those offered", "Reload the page and ask again.")
}

/// Up to five values a side.
fn table(map: &Map) -> TableObject {
    let picked = |count: usize| -> Vec<usize> {
        let shown = count.min(5);
        (0..shown).map(|at| at * (count - 1) / (shown - 1)).collect()
    };
    let columns = picked(map.x.values.len());
    let name =
        |axis: &Axis| format!("{}, {}", axis.unknown.label(), axis.unknown.unit(map.system).symbol);
    let rows = picked(map.y.values.len()).into_iter().rev().map(|row| {
        let cells = columns.iter().map(|column| {
            let place = row * map.x.values.len() + column;
            let decimals = if matches!(map.aim, Aim::BackIn { .. }) { 1 } else { 0 };
            let text = format!("{:.decimals$}", map.values[place]).replace('-', "−");
            Cell { text, meets: map.meets[place] }
        });
        (significant(map.y.values[row], 3), cells.collect())
    });
    TableObject {
        across: name(&map.x),
        down: name(&map.y),
        unit: map.measure_unit(),
        rows: rows.collect(),
        columns: columns.iter().map(|column| significant(map.x.values[*column], 3)).collect(),
    }
}
