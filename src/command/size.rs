//! `stallheat size`: the cooler, pump, fan, fluid volume or time on the brake that meets an aim, and a chart of it
//! against a second parameter.

use std::path::PathBuf;

use clap::{ArgGroup, Args, ValueEnum};
use serde_json::{Value, json};
use stallheat::chart::Options;
use stallheat::error::{Error, ErrorKind};
use stallheat::report::wrapped;
use stallheat::size::{
    After, Aim, Answer, Axis, Case, Cooling, LOST, Map, MapWork, Unknown, answer, contours_svg,
    no_hold, size,
};
use stallheat::timeline::{Node, Route};
use stallheat::units::{Dimension, System, significant, temperature_symbol};

use super::Units;
use super::io::{print, quantity, read_scenario, write_picture};
use super::parallel::{Jobs, in_order};

#[derive(Debug, Args)]
#[command(group(ArgGroup::new("aim").required(true).args(["back_in", "launch_at_most", "launches_in_window", "converter_at_most"])))]
pub struct SizeArgs {
    /// Scenario file, or - for standard input
    file: PathBuf,
    /// What to find
    #[arg(long, value_enum)]
    find: Find,
    /// Aim: pan back in the launch window so long after shut-off, "12 min"; a bare number is minutes
    #[arg(long, value_name = "TIME", allow_hyphen_values = true)]
    back_in: Option<String>,
    /// Aim: no launch hotter than this, "165 °F"; a bare number is in the units of the report
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    launch_at_most: Option<String>,
    /// Aim: the pan inside the launch window at every launch
    #[arg(long)]
    launches_in_window: bool,
    /// Aim: converter fluid never hotter than this
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    converter_at_most: Option<String>,
    /// Air temperature, in place of the day's
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    air: Option<String>,
    /// With --back-in: after which pass: hottest, last or the number of a round
    #[arg(long, value_name = "ROUND", default_value = "hottest", allow_hyphen_values = true)]
    after: String,
    /// With --back-in: how the rest is cooled
    #[arg(long, value_enum, default_value_t = RouteChoice::Own)]
    route: RouteChoice,
    /// With --launch-at-most: which fluid
    #[arg(long, value_enum, default_value_t = NodeChoice::Pan)]
    node: NodeChoice,
    /// With --find hold: only the hold of this round
    #[arg(long, value_name = "ROUND")]
    hold_round: Option<u32>,
    /// Second parameter of the chart
    #[arg(long, value_enum)]
    against: Option<Against>,
    /// Values a side of the chart, 3 to 25
    #[arg(long, value_name = "N", default_value_t = 15)]
    cells: usize,
    /// Draw the chart into this SVG file; against the pump flow, or the cooler, unless stated
    #[arg(long, value_name = "OUT")]
    svg: Option<PathBuf>,
    /// Print as JSON
    #[arg(long)]
    json: bool,
    /// Units of report, chart and bare numbers
    #[arg(long, value_enum, default_value_t = Units::Us)]
    units: Units,
    #[command(flatten)]
    jobs: Jobs,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Find {
    Cooler,
    Pump,
    Fan,
    Fluid,
    Hold,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Against {
    Cooler,
    Pump,
    Fan,
    Fluid,
    Hold,
    Air,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum RouteChoice {
    /// Pump and fan on, on the timeline's own route there, else through the converter
    Own,
    /// Pump and fan as the timeline has them
    AsWritten,
    PanLoop,
    ThroughConverter,
    CoolerFirst,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum NodeChoice {
    Pan,
    Converter,
}

/// Solves, draws, prints.
pub fn run(args: &SizeArgs) -> Result<(), Error> {
    let scenario = read_scenario(&args.file)?;
    let system = System::from(args.units);
    let air_k = args.air.as_deref().map(|text| temperature("--air", text, system)).transpose()?;
    let case = Case::new(&scenario, aim(args, system)?, air_k)?;
    let round = args.hold_round;
    let unknown = match args.find {
        Find::Cooler => Unknown::Cooler,
        Find::Pump => Unknown::Pump,
        Find::Fan => Unknown::Fan,
        Find::Fluid => Unknown::Fluid,
        Find::Hold => Unknown::Hold { round },
    };
    let sized = size(&case, unknown, system, &mut |_, _| ()).ok_or_else(|| no_hold(unknown))?;
    let found = answer(&case, &sized);
    let map = match (args.against, &args.svg) {
        (None, None) => None,
        _ => Some(map(args, &case, unknown, found.value, system)?),
    };
    if let (Some(map), Some(out)) = (&map, &args.svg) {
        if out.canonicalize().ok().is_some_and(|out| args.file.canonicalize().ok() == Some(out)) {
            return Err(Error::new(
                ErrorKind::File,
                "--svg",
                out.display().to_string(),
                "a file other than the scenario",
                "Give the drawing a name of its own.",
            ));
        }
        let options = Options {
            width_px: 640.0,
            height_px: 480.0,
            system,
            paper: true,
            ..Options::default()
        };
        let drawing = contours_svg(map, &options).map_err(|error| {
            let remedy = "Report this with the scenario file.";
            Error::new(ErrorKind::File, "--svg", error.0, "a drawing of the chart", remedy)
        })?;
        write_picture(out, &drawing)?;
    }
    if args.json {
        let mut value = json!(found);
        if let (Some(object), Some(map)) = (value.as_object_mut(), &map) {
            object.insert("map".to_string(), map_json(map));
        }
        print(&format!("{value:#}\n"))
    } else {
        print(&text(&scenario.name, &found, map.as_ref()))
    }
}

fn aim(args: &SizeArgs, system: System) -> Result<Aim, Error> {
    let unused = |used: bool, flag: &str, value: &str, with: &str| match used {
        false => Ok(()),
        true => Err(Error::new(
            ErrorKind::Contradiction,
            flag,
            value,
            format!("a part of {with}"),
            "Leave it out, or ask for that aim.",
        )),
    };
    if args.hold_round.is_some() && args.find != Find::Hold && args.against != Some(Against::Hold) {
        let round = args.hold_round.unwrap_or(0).to_string();
        unused(true, "--hold-round", &round, "--find hold")?;
    }
    if args.back_in.is_none() {
        unused(args.after != "hottest", "--after", &args.after, "--back-in")?;
        unused(args.route != RouteChoice::Own, "--route", "stated", "--back-in")?;
    }
    if args.launch_at_most.is_none() {
        unused(args.node != NodeChoice::Pan, "--node", "converter", "--launch-at-most")?;
    }
    if let Some(text) = &args.back_in {
        let after = match args.after.as_str() {
            "hottest" => After::Hottest,
            "last" => After::Last,
            number => After::Round(number.parse().map_err(|_| {
                Error::new(
                    ErrorKind::WrongType,
                    "--after",
                    number,
                    "hottest, last or the number of a round",
                    "Write, for example, --after 4.",
                )
            })?),
        };
        let cooling = match args.route {
            RouteChoice::Own => Cooling::OwnRoute,
            RouteChoice::AsWritten => Cooling::AsWritten,
            RouteChoice::PanLoop => Cooling::Route(Route::PanLoop),
            RouteChoice::ThroughConverter => Cooling::Route(Route::ThroughConverter),
            RouteChoice::CoolerFirst => Cooling::Route(Route::CoolerFirst),
        };
        let within_s = quantity("--back-in", text, Dimension::Time, "min")?;
        return Ok(Aim::BackIn { within_s, after, cooling });
    }
    if let Some(text) = &args.launch_at_most {
        let node = match args.node {
            NodeChoice::Pan => Node::PanFluid,
            NodeChoice::Converter => Node::ConverterFluid,
        };
        let temperature_k = temperature("--launch-at-most", text, system)?;
        return Ok(Aim::LaunchesAtMost { node, temperature_k });
    }
    if let Some(text) = &args.converter_at_most {
        let temperature_k = temperature("--converter-at-most", text, system)?;
        return Ok(Aim::ConverterAtMost { temperature_k });
    }
    Ok(Aim::LaunchesInWindow)
}

fn temperature(flag: &str, text: &str, system: System) -> Result<f64, Error> {
    quantity(flag, text, Dimension::Temperature, temperature_symbol(system))
}

fn map(
    args: &SizeArgs,
    case: &Case,
    unknown: Unknown,
    answer: Option<f64>,
    system: System,
) -> Result<Map, Error> {
    let second = match args.against {
        Some(Against::Cooler) => Unknown::Cooler,
        Some(Against::Pump) => Unknown::Pump,
        Some(Against::Fan) => Unknown::Fan,
        Some(Against::Fluid) => Unknown::Fluid,
        Some(Against::Hold) => Unknown::Hold { round: args.hold_round },
        Some(Against::Air) => Unknown::Air,
        None if unknown == Unknown::Pump => Unknown::Cooler,
        None => Unknown::Pump,
    };
    let x = Axis::around(case, unknown, answer, args.cells, system)?;
    let y = Axis::around(case, second, None, args.cells, system)?;
    let mut work = MapWork::new(case, x, y, system)?;
    for measured in in_order(args.jobs.count(), work.of(), |place| work.at(place)) {
        work.keep(measured.unwrap_or(LOST));
    }
    Ok(work.finish(answer))
}

fn text(name: &str, found: &Answer, map: Option<&Map>) -> String {
    let mut lines = vec![name.to_string(), String::new(), wrapped(&found.sentence, "")];
    lines.push(String::new());
    lines.extend(found.conditions.iter().map(|line| wrapped(line, "  ")));
    if !found.sensitivity.is_empty() {
        lines.extend([String::new(), "How it moves".to_string()]);
        let widest = found.sensitivity.iter().map(|line| line.what.chars().count()).max();
        let width = widest.unwrap_or(0);
        let row = |what: &str, then: &str| format!("  {what:<width$}  {then}");
        lines.extend(found.sensitivity.iter().map(|line| row(&line.what, &line.then)));
    }
    if let Some(map) = map {
        lines.extend(table(map, found));
    }
    lines.iter().map(|line| format!("{}\n", line.trim_end().replace('\u{a0}', " "))).collect()
}

/// Every few values of the map as a table; what meets the aim has a star.
fn table(map: &Map, found: &Answer) -> Vec<String> {
    let picked = |count: usize| -> Vec<usize> {
        let shown = count.min(7);
        (0..shown).map(|at| at * (count - 1) / (shown - 1)).collect()
    };
    let columns = picked(map.x.values.len());
    let name = |axis: &Axis| {
        format!("{} ({})", axis.unknown.label(), axis.unknown.unit(map.system).symbol)
    };
    let title = format!(
        "{} across, {} down; in {}, * meets the aim",
        name(&map.x),
        name(&map.y),
        found.measure_unit
    );
    let mut lines = vec![String::new(), title];
    let head = columns.iter().map(|at| format!("{:>9}", significant(map.x.values[*at], 3)));
    lines.push(format!("  {:>8}{}", "", head.collect::<String>()));
    for row in picked(map.y.values.len()).into_iter().rev() {
        let cells = columns.iter().map(|at| {
            let place = row * map.x.values.len() + at;
            let star = if map.meets[place] { "*" } else { " " };
            format!("{:>8.1}{star}", map.values[place])
        });
        let value = significant(map.y.values[row], 3);
        lines.push(format!("  {value:>8}{}", cells.collect::<String>()));
    }
    lines
}

fn map_json(map: &Map) -> Value {
    let axis = |axis: &Axis| {
        json!({
            "of": axis.unknown.key(),
            "unit": axis.unknown.unit(map.system).symbol,
            "values": axis.values,
            "present": axis.present,
        })
    };
    let lines: Vec<Value> = map
        .lines
        .iter()
        .map(|line| json!({ "level": line.level, "aim": line.is_aim, "points": line.points }))
        .collect();
    json!({
        "x": axis(&map.x),
        "y": axis(&map.y),
        "values": map.values.chunks(map.x.values.len()).collect::<Vec<_>>(),
        "level": map.level,
        "lines": lines,
    })
}
