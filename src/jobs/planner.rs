//! The planner for the page: rests of a day, the plan of one of them, the plan of all.

use js_sys::Function;
use serde::Serialize;
use serde_json::Value;
use stallheat::error::{Error, ErrorKind};
use stallheat::plan::{
    Aim, DayPlanSummary, DaySearch, Equipment, PlanSummary, Request, Rest, Written, apply,
    day_summary, rests, summary,
};
use stallheat::scenario::{self, Scenario};
use stallheat::simulate::simulate;
use stallheat::timeline::{Node, Route};
use stallheat::trace::Trace;
use stallheat::units::System;
use wasm_bindgen::JsValue;
use wasm_bindgen::prelude::wasm_bindgen;

use crate::bridge::{thrown, to_js};

/// A simulated day to plan in.
#[wasm_bindgen]
pub struct Planner {
    text: String,
    scenario: Scenario,
    trace: Trace,
}

#[derive(Serialize)]
struct RestObject {
    /// The launch that follows, among the day's.
    launch: usize,
    round: Option<u32>,
    launch_round: Option<u32>,
    start_s: f64,
    length_s: f64,
}

#[derive(Serialize)]
struct Answer<Said> {
    us: Said,
    si: Said,
    /// The day with the plan in it.
    day: String,
    /// Its curves: times (s) and temperatures (K) of converter fluid and pan.
    curves: Curves,
}

#[derive(Serialize)]
struct Curves {
    times_s: Vec<f64>,
    converter_fluid: Vec<f64>,
    pan_fluid: Vec<f64>,
}

#[wasm_bindgen]
impl Planner {
    /// Reads and simulates a scenario; throws the error object.
    #[wasm_bindgen(constructor)]
    pub fn new(text: String) -> Result<Planner, JsValue> {
        let scenario = scenario::parse(&text).map_err(|error| thrown(&error))?;
        let trace = simulate(&scenario).map_err(|error| thrown(&error))?;
        Ok(Planner { text, scenario, trace })
    }

    /// The rests before launches, and what the day's own timeline uses: `{ rests, routes }`.
    pub fn rests(&self) -> JsValue {
        let all: Vec<RestObject> = rests(&self.scenario, &self.trace)
            .iter()
            .map(|rest| RestObject {
                launch: rest.launch,
                round: rest.round,
                launch_round: self.trace.launches[rest.launch].round,
                start_s: rest.start_s,
                length_s: rest.end_s - rest.start_s,
            })
            .collect();
        to_js(&all)
    }

    /// The plan of one rest, `plan::PlanSummary` in both units and the planned day. `asked` is JSON: `launch`, `into_s`,
    /// and what may be null: `free_s`, `pan_k`, `shell_k`, `low_k`, `high_k`; `routes`, `fan`, `idle`, `idle_in_gear`.
    pub fn rest(&self, asked: &str) -> Result<JsValue, JsValue> {
        self.answer(asked).map(|answer| to_js(&answer)).map_err(|error| thrown(&error))
    }

    /// The plan of the whole day, `plan::DayPlanSummary` likewise; `progress(done, of)` is called after each target.
    pub fn day(&self, asked: &str, progress: &Function) -> Result<JsValue, JsValue> {
        self.day_answer(asked, progress).map(|answer| to_js(&answer)).map_err(|e| thrown(&e))
    }
}

impl Planner {
    fn answer(&self, asked: &str) -> Result<Answer<PlanSummary>, Error> {
        let asked = read(asked)?;
        let launch = asked.get("launch").and_then(Value::as_u64).unwrap_or(0) as usize;
        let rest = self.rest_before(launch)?;
        let request = Request {
            rest: rest.clone(),
            into_s: number(&asked, "into_s").unwrap_or(0.0),
            free_s: number(&asked, "free_s"),
            pan_k: number(&asked, "pan_k"),
            shell_k: number(&asked, "shell_k"),
            aim: self.aim(&asked)?,
            equipment: equipment(&asked),
        };
        let (situation, plan) = request.answer(&self.scenario, &self.trace)?;
        let said =
            |system| summary(&self.scenario, &self.trace, &request, &situation, &plan, system);
        let written = Written {
            rest,
            into_s: request.into_s,
            free_s: situation.free_s,
            schedule: plan.best.schedule,
        };
        let (day, planned) = self.planned(&[written])?;
        let until_s =
            planned.launches.get(launch).map_or(request.rest.end_s, |launch| launch.time_s);
        Ok(Answer {
            us: said(System::Us)?,
            si: said(System::Si)?,
            curves: curves(&planned, request.rest.start_s + request.into_s, until_s),
            day,
        })
    }

    fn day_answer(
        &self,
        asked: &str,
        progress: &Function,
    ) -> Result<Answer<DayPlanSummary>, Error> {
        let asked = read(asked)?;
        let aim = self.aim(&asked)?;
        let mut search = DaySearch::new(&self.scenario, &self.trace, aim, equipment(&asked))?;
        let of = search.of();
        while search.step()? {
            let (done, of) = (search.tried() as f64, of as f64);
            // A listener that fails does not stop the work.
            let _ = progress.call2(&JsValue::NULL, &done.into(), &of.into());
        }
        let plan = search.finish()?;
        let (day, planned) = self.planned(&plan.written())?;
        Ok(Answer {
            us: day_summary(&self.trace, &plan, System::Us),
            si: day_summary(&self.trace, &plan, System::Si),
            curves: curves(&planned, 0.0, planned.duration_s()),
            day,
        })
    }

    fn rest_before(&self, launch: usize) -> Result<Rest, Error> {
        let all = rests(&self.scenario, &self.trace);
        all.into_iter().find(|rest| rest.launch == launch).ok_or_else(|| {
            Error::new(
                ErrorKind::Missing,
                "rest",
                "none before this launch",
                "time with the engine off before it",
                "Choose another launch, or add an \"engine_off\" event.",
            )
        })
    }

    fn aim(&self, asked: &Value) -> Result<Aim, Error> {
        let window = Aim::window(&self.scenario.setup);
        Aim {
            low_k: number(asked, "low_k").unwrap_or(window.low_k),
            high_k: number(asked, "high_k").unwrap_or(window.high_k),
        }
        .checked()
    }

    /// The text of the day with schedules in it, and its trace.
    fn planned(&self, written: &[Written]) -> Result<(String, Trace), Error> {
        let day = apply(&self.text, &self.scenario, written)?;
        let trace = simulate(&scenario::parse(&day)?)?;
        Ok((day, trace))
    }
}

fn read(asked: &str) -> Result<Value, Error> {
    serde_json::from_str(asked).map_err(|error| {
        Error::new(
            ErrorKind::NotJson,
            "plan",
            error.to_string(),
            "a question in JSON",
            "Reload the page.",
        )
    })
}

fn number(asked: &Value, key: &str) -> Option<f64> {
    asked.get(key).and_then(Value::as_f64)
}

fn equipment(asked: &Value) -> Equipment {
    let is = |key: &str| asked.get(key).and_then(Value::as_bool).unwrap_or(false);
    let names = asked.get("routes").and_then(Value::as_array);
    let named = |key: &str| names.is_some_and(|names| names.iter().any(|name| name == key));
    Equipment {
        routes: Route::ALL.into_iter().filter(|route| named(route.key())).collect(),
        fan: is("fan"),
        idle: is("idle"),
        idle_in_gear: is("idle_in_gear"),
    }
}

/// The samples of a trace in a stretch of time.
fn curves(trace: &Trace, from_s: f64, to_s: f64) -> Curves {
    let within = || trace.samples.iter().filter(|sample| (from_s..=to_s).contains(&sample.time_s));
    let of = |node: Node| within().map(|sample| sample.temperature_k[node.index()]).collect();
    Curves {
        times_s: within().map(|sample| sample.time_s).collect(),
        converter_fluid: of(Node::ConverterFluid),
        pan_fluid: of(Node::PanFluid),
    }
}
