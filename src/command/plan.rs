//! `stallheat plan`: what to do between rounds, for one rest or for the whole day.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use serde_json::json;
use stallheat::error::Error;
use stallheat::plan::{
    Aim, DayPlanSummary, Equipment, PlanSummary, Request, Written, apply, day_summary, plan_day,
    summary, temperature_of,
};
use stallheat::report::wrapped;
use stallheat::scenario::{self, Scenario};
use stallheat::simulate::simulate;
use stallheat::timeline::Route;
use stallheat::units::{Dimension, System};

use super::Units;
use super::io::{print, quantity, read_text, write_new};

#[derive(Debug, Args)]
pub struct PlanArgs {
    /// Scenario file, or - for standard input
    file: PathBuf,
    /// Plan the rest after this round only; 0 is the one before the first launch. Without it the whole day is planned
    #[arg(long, value_name = "ROUND", allow_negative_numbers = true)]
    after: Option<u32>,
    /// Time until the call, "8 min"; a bare number is minutes; otherwise what the timeline leaves
    #[arg(long, value_name = "TIME", requires = "after", allow_hyphen_values = true)]
    minutes: Option<String>,
    /// How much of the rest is over already, likewise
    #[arg(long, value_name = "TIME", requires = "after", allow_hyphen_values = true)]
    into: Option<String>,
    /// What the gauge in the pan reads now: "195 °F"; a bare number is in the units of the report
    #[arg(long, value_name = "T", requires = "after", allow_hyphen_values = true)]
    pan: Option<String>,
    /// What a thermometer on the converter's shell reads now
    #[arg(long, value_name = "T", requires = "after", allow_hyphen_values = true)]
    shell: Option<String>,
    /// Wanted at the launch, at least, likewise; otherwise the window of the set-up
    #[arg(long, value_name = "T", allow_hyphen_values = true)]
    window_low: Option<String>,
    /// Wanted at the launch, at most
    #[arg(long, value_name = "T", allow_hyphen_values = true)]
    window_high: Option<String>,
    /// Routes that the pump is plumbed for; otherwise those that the day uses, or all
    #[arg(long, value_enum, value_delimiter = ',', conflicts_with = "no_pump")]
    route: Vec<RouteName>,
    /// There is no circulation pump on the car
    #[arg(long)]
    no_pump: bool,
    /// There is no fan
    #[arg(long)]
    no_fan: bool,
    /// The engine stays off
    #[arg(long)]
    no_idle: bool,
    /// The engine may idle in gear, the car held on its brakes with a driver in it
    #[arg(long, conflicts_with = "no_idle")]
    idle_in_gear: bool,
    /// Write the day with the plan in it to this file, which must not be there yet
    #[arg(long, value_name = "OUT")]
    out: Option<PathBuf>,
    /// Let --out write over a file
    #[arg(long, requires = "out")]
    force: bool,
    /// Print as JSON
    #[arg(long)]
    json: bool,
    /// Units of report and JSON
    #[arg(long, value_enum, default_value_t = Units::Us)]
    units: Units,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
#[value(rename_all = "snake_case")]
enum RouteName {
    /// pan, pump, cooler, lubrication
    PanLoop,
    /// pan, pump, converter, cooler
    ThroughConverter,
    /// pan, pump, cooler, converter
    CoolerFirst,
}

impl From<RouteName> for Route {
    fn from(name: RouteName) -> Route {
        match name {
            RouteName::PanLoop => Route::PanLoop,
            RouteName::ThroughConverter => Route::ThroughConverter,
            RouteName::CoolerFirst => Route::CoolerFirst,
        }
    }
}

/// Reads, simulates, plans, prints; and writes the planned day if asked.
pub fn run(args: &PlanArgs) -> Result<(), Error> {
    let text = read_text(&args.file, scenario::MAX_BYTES, "a scenario")?;
    let scenario = scenario::parse(&text)?;
    let trace = simulate(&scenario)?;
    let equipment = equipment(args, &scenario);
    let aim = aim(args, &scenario)?;
    let system = System::from(args.units);
    let mut reading = None;
    let (written, printed) = match args.after {
        Some(round) => {
            let rest = Request::rest_after(&scenario, &trace, round)
                .map_err(|error| error.of_field("--after"))?;
            let read = |field: &str, text: &Option<String>| {
                text.as_deref().map(|text| temperature_of(field, text, system)).transpose()
            };
            let time = |flag: &str, text: &Option<String>| {
                text.as_deref().map(|text| quantity(flag, text, Dimension::Time, "min")).transpose()
            };
            let request = Request {
                rest: rest.clone(),
                into_s: time("--into", &args.into)?.unwrap_or(0.0),
                free_s: time("--minutes", &args.minutes)?,
                pan_k: read("--pan", &args.pan)?,
                shell_k: read("--shell", &args.shell)?,
                aim,
                equipment,
            };
            let (situation, plan) = request.answer(&scenario, &trace)?;
            let said = summary(&scenario, &trace, &request, &situation, &plan, system)?;
            if request.pan_k.is_some() || request.shell_k.is_some() {
                reading = Some(format!(
                    "The plan after round {round} is for a pan that reads {:.0} {unit}; this day computes {:.0} {unit} there.",
                    said.pan_now,
                    said.pan_computed,
                    unit = said.temperature_unit
                ));
            }
            let written = Written {
                rest,
                into_s: request.into_s,
                free_s: situation.free_s,
                schedule: plan.best.schedule,
            };
            let printed = if args.json { json!(said).to_string() + "\n" } else { rest_text(&said) };
            (vec![written], printed)
        }
        None => {
            let plan = plan_day(&scenario, &trace, &aim, &equipment)?;
            let said = day_summary(&trace, &plan, system);
            let printed = if args.json { json!(said).to_string() + "\n" } else { day_text(&said) };
            (plan.written(), printed)
        }
    };
    if let Some(out) = &args.out {
        write_day(out, args, &text, &scenario, &written, reading)?;
    }
    print(&printed)
}

fn equipment(args: &PlanArgs, scenario: &Scenario) -> Equipment {
    let events = scenario.blocks.iter().flat_map(|block| &block.events);
    let mut equipment = Equipment::of_day(events);
    if !args.route.is_empty() {
        equipment.routes = args.route.iter().map(|name| Route::from(*name)).collect();
    }
    if args.no_pump {
        equipment.routes.clear();
    }
    equipment.fan = !args.no_fan;
    equipment.idle = !args.no_idle;
    equipment.idle_in_gear = args.idle_in_gear;
    equipment
}

fn aim(args: &PlanArgs, scenario: &Scenario) -> Result<Aim, Error> {
    let mut aim = Aim::window(&scenario.setup);
    if let Some(low) = &args.window_low {
        aim.low_k = temperature_of("--window-low", low, args.units.into())?;
    }
    if let Some(high) = &args.window_high {
        aim.high_k = temperature_of("--window-high", high, args.units.into())?;
    }
    aim.checked()
}

/// Writes the planned day, with a line in its note where the plan is for a reading that the day does not have.
fn write_day(
    out: &Path,
    args: &PlanArgs,
    text: &str,
    scenario: &Scenario,
    written: &[Written],
    reading: Option<String>,
) -> Result<(), Error> {
    let mut planned = apply(text, scenario, written)?;
    if let Some(reading) = reading {
        let mut day = scenario::read_json(&planned)?;
        let note = [scenario.note.as_str(), reading.as_str()].join(" ");
        if note.chars().count() < 4_000 {
            day["note"] = json!(note.trim());
            planned = format!("{day:#}");
        }
    }
    // What is written must be a day that can be computed.
    simulate(&scenario::parse(&planned)?)?;
    write_new(out, &(planned + "\n"), args.force)
}

fn rest_text(said: &PlanSummary) -> String {
    let unit = said.temperature_unit;
    let mut lines = vec![wrapped(&said.says, ""), String::new()];
    lines.push(format!(
        "Now: pan {:.0} {unit}, converter {:.0} {unit}. Wanted at the launch: {:.0} to {:.0} {unit}. Until the call: {}.",
        said.pan_now, said.converter_now, said.aim.0, said.aim.1, said.free_text
    ));
    lines.extend([
        String::new(),
        format!("What to do{:>48}", format!("the pan then reads ({unit})")),
    ]);
    for step in &said.steps {
        lines.push(format!("  {:<22} {:<50} {:>4.0}", step.when, step.what, step.pan));
    }
    lines.extend([
        String::new(),
        "Every way by itself, at its best".to_string(),
        format!(
            "  {:<47} {:>9} {:>12} {:>6}  {}",
            "",
            format!("pan ({unit})"),
            "from window",
            "Ah",
            "on"
        ),
    ]);
    for way in &said.ways {
        let off = if way.inside {
            "inside".to_string()
        } else {
            format!("{:+.0}", way.off.signum() * way.off.abs().max(1.0))
        };
        lines.push(format!(
            "{} {:<47} {:>9.0} {off:>12} {:>6.1}  {}",
            if way.chosen { "*" } else { " " },
            way.label,
            way.pan,
            way.used_ah,
            way.on
        ));
    }
    lines.push(String::new());
    lines.extend(said.cautions.iter().map(|caution| wrapped(caution, "")));
    lines.iter().map(|line| format!("{}\n", line.trim_end())).collect()
}

fn day_text(said: &DayPlanSummary) -> String {
    let unit = said.temperature_unit;
    let mut lines = vec![
        wrapped(&said.says, ""),
        String::new(),
        format!("Pan at the launch ({unit}), and what to do in the rest before it"),
        format!("  {:>5} {:>7} {:>8} {:>6}", "round", "before", "planned", "Ah"),
    ];
    for launch in &said.launches {
        let round = launch.round.map_or("-".to_string(), |round| round.to_string());
        let what = launch.what.as_deref().unwrap_or("no rest before it: as it is");
        let indent = " ".repeat(33);
        lines.push(format!(
            "  {round:>5} {:>7.0} {:>8.0} {:>6.1}  {}",
            launch.before,
            launch.planned,
            launch.used_ah,
            wrapped(what, &indent).trim_start()
        ));
    }
    lines.push(String::new());
    lines.extend(said.cautions.iter().map(|caution| wrapped(caution, "")));
    lines.iter().map(|line| format!("{}\n", line.trim_end())).collect()
}
