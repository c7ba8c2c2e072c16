//! `stallheat band`: within what the numbers of a day lie, given what a shop does not know, and what they hang on.

use std::path::PathBuf;

use clap::Args;
use serde_json::{Map, Value, json};
use stallheat::band::{Band, COVERAGE, LaunchBand, SEED};
use stallheat::error::{Error, ErrorKind};
use stallheat::scenario::Scenario;
use stallheat::scenario::parameters::{nearest_path, of_path};
use stallheat::simulate::simulate;
use stallheat::timeline::Node;
use stallheat::tornado::{Bar, Measure, Tornado};
use stallheat::trace::Trace;
use stallheat::units::{
    Dimension, System, temperature_difference_in, temperature_in, temperature_symbol,
};

use super::Units;
use super::io::{print, read_scenario};
use super::parallel::{Jobs, in_order};

#[derive(Debug, Args)]
pub struct BandArgs {
    /// Scenario file, or - for standard input
    file: PathBuf,
    /// Days to draw
    #[arg(long, value_name = "N", default_value_t = 200, value_parser = clap::value_parser!(u32).range(40..=100_000))]
    draws: u32,
    /// Number that decides the draws; the same gives the same
    #[arg(long, value_name = "N", default_value_t = SEED)]
    seed: u64,
    /// Parameters that you know as stated: cooler.ua,converter.k_factor
    #[arg(long, value_name = "PART.KEY,…", value_delimiter = ',')]
    known: Vec<String>,
    /// Print as JSON, in SI
    #[arg(long)]
    json: bool,
    /// Units of the report
    #[arg(long, value_enum, default_value_t = Units::Us)]
    units: Units,
    #[command(flatten)]
    jobs: Jobs,
}

/// The nodes whose bands are shown.
const NODES: [Node; 2] = [Node::ConverterFluid, Node::PanFluid];
/// Bars that the report shows; the JSON has all.
const MOST_BARS: usize = 8;

/// Draws, computes the tornado, prints.
pub fn run(args: &BandArgs) -> Result<(), Error> {
    let known: Vec<&str> = args.known.iter().map(|path| path.trim()).collect();
    for path in &known {
        check_known(path)?;
    }
    let scenario = read_scenario(&args.file)?;
    let trace = simulate(&scenario)?;
    let (draws, jobs) = (args.draws as usize, args.jobs.count());
    let mut band = Band::seeded(scenario.clone(), Vec::new(), draws, &known, args.seed);
    // Taken in the order of their numbers, so that the number of threads changes nothing.
    for draw in in_order(jobs, draws, |number| band.drawn(number)) {
        band.keep(draw.flatten());
    }
    let mut tornado = Tornado::new(scenario.clone(), &known);
    for day in in_order(jobs, tornado.days(), |number| tornado.measured(number)) {
        tornado.keep(day.flatten());
    }
    let found = Found { scenario: &scenario, trace: &trace, band: &band, tornado: &tornado };
    if args.json {
        print(&format!("{}\n", found.json(args)))
    } else {
        print(&found.text(args, args.units.into()))
    }
}

fn check_known(path: &str) -> Result<(), Error> {
    if of_path(path).is_some() {
        return Ok(());
    }
    Err(Error::new(
        ErrorKind::UnknownKey,
        "--known",
        path,
        "the part and key of a parameter, as in docs/parameters.md",
        format!("Did you mean {}?", nearest_path(path, |_| true)),
    ))
}

/// All that is printed.
struct Found<'a> {
    scenario: &'a Scenario,
    trace: &'a Trace,
    band: &'a Band,
    tornado: &'a Tornado,
}

impl Found<'_> {
    fn json(&self, args: &BandArgs) -> Value {
        let celsius = |(low_k, high_k): (f64, f64)| json!([low_k - 273.15, high_k - 273.15]);
        let by_node = |band_k: &dyn Fn(Node) -> (f64, f64)| -> Map<String, Value> {
            Node::ALL.iter().map(|node| (node.key().to_string(), celsius(band_k(*node)))).collect()
        };
        let launches: Vec<Value> = self
            .band
            .launches()
            .iter()
            .map(|launch| {
                json!({
                    "round": launch.round,
                    "temperatures_c": by_node(&|node| launch.temperature_k[node.index()]),
                    "elapsed_s": launch.elapsed_s.map(|(low_s, high_s)| [low_s, high_s]),
                })
            })
            .collect();
        let tornado: Map<String, Value> = Measure::ALL
            .iter()
            .map(|measure| {
                let shown = |si: f64| match measure.dimension() {
                    Dimension::Temperature => si - 273.15,
                    _ => si,
                };
                let unit = match measure.dimension() {
                    Dimension::Temperature => "c",
                    Dimension::Time => "s",
                    _ => "k",
                };
                let bars: Vec<Value> = self
                    .tornado
                    .bars(*measure)
                    .iter()
                    .map(|bar| {
                        let unit = bar.parameter.display_unit();
                        let ends = [bar.ends_si.0, bar.ends_si.1].map(|si| unit.from_si(si));
                        let measure_ends =
                            [bar.measure_ends_si.0, bar.measure_ends_si.1].map(shown);
                        json!({
                            "parameter": bar.parameter.path(),
                            "unit": bar.parameter.si_unit,
                            "stated": unit.from_si(bar.stated_si),
                            "ends": ends,
                            "measure_at_ends": measure_ends,
                            "size": bar.size_si(),
                        })
                    })
                    .collect();
                let stated = measure.of(self.trace).map(shown);
                (format!("{}_{unit}", measure.key()), json!({ "stated": stated, "bars": bars }))
            })
            .collect();
        json!({
            "scenario": self.scenario.name,
            "draws": args.draws,
            "simulated": self.band.simulated(),
            "seed": args.seed,
            "coverage": COVERAGE,
            "launches": launches,
            "peaks_c": by_node(&|node| self.band.peak_k(node)),
            "tornado": tornado,
        })
    }

    fn text(&self, args: &BandArgs, system: System) -> String {
        let unit = temperature_symbol(system);
        let shown = |(low_k, high_k): (f64, f64)| {
            let (low, high) = (temperature_in(system, low_k), temperature_in(system, high_k));
            format!("{low:.0} to {high:.0}")
        };
        let mut lines = vec![
            self.scenario.name.clone(),
            format!(
                "{} of 100 days lie in the band, given what a shop does not know.",
                100.0 * COVERAGE
            ),
            format!("{} of {} draws could be simulated.", self.band.simulated(), args.draws),
            String::new(),
        ];
        let launches = self.band.launches();
        if launches.is_empty() {
            lines.push("No launches in this timeline.".to_string());
        } else {
            lines.push(format!("Launches: as stated, and the band ({unit}, s)"));
            lines.push(format!(
                "  {:>5}  {:>9}  {:<14}  {:>6}  {:<14}  {:>7}  {:<16}",
                "round", "converter", "band", "pan", "band", "ET", "band"
            ));
        }
        for (launch, stated) in launches.iter().zip(&self.trace.launches) {
            let at = |node: Node| temperature_in(system, stated.temperature_k[node.index()]);
            let of = |node: Node| shown(launch.temperature_k[node.index()]);
            let [converter, pan] = NODES;
            let elapsed_s = stated.pass.as_ref().and_then(stallheat::results::finish_s);
            lines.push(format!(
                "  {:>5}  {:>9.0}  {:<14}  {:>6.0}  {:<14}  {:>7}  {:<16}",
                launch.round.map_or("-".to_string(), |round| round.to_string()),
                at(converter),
                of(converter),
                at(pan),
                of(pan),
                elapsed_s.map_or("logged".to_string(), |elapsed_s| format!("{elapsed_s:.3}")),
                elapsed_band(launch),
            ));
        }
        lines.push(String::new());
        lines.push(format!("Highest temperatures: as stated, and the band ({unit})"));
        for node in Node::ALL {
            let stated = temperature_in(system, self.trace.peak(node).0);
            lines.push(format!(
                "  {:<16}  {stated:>5.0}  {}",
                node.label(),
                shown(self.band.peak_k(node))
            ));
        }
        for measure in Measure::ALL {
            lines.extend(self.bars_text(measure, system));
        }
        lines.iter().map(|line| format!("{}\n", line.trim_end())).collect()
    }

    fn bars_text(&self, measure: Measure, system: System) -> Vec<String> {
        let bars = self.tornado.bars(measure);
        let Some(stated_si) = measure.of(self.trace) else { return Vec::new() };
        let (unit, decimals) = match measure.dimension() {
            Dimension::Time => ("s", 3),
            _ => (temperature_symbol(system), 1),
        };
        let value = |si: f64| match measure.dimension() {
            Dimension::Temperature => temperature_in(system, si),
            Dimension::TemperatureDifference => temperature_difference_in(system, si),
            _ => si,
        };
        let mut lines = vec![
            String::new(),
            format!("{}: {:.decimals$} {unit} as stated", measure.label(), value(stated_si)),
        ];
        if bars.is_empty() {
            lines.push("  nothing that it hangs on is in doubt".to_string());
            return lines;
        }
        lines.push(format!(
            "  {:<46}  {:<28}  {:>8}  {:>8}",
            "parameter, one at a time", "from low to high", "at low", "at high"
        ));
        for bar in bars.iter().take(MOST_BARS) {
            let (low, high) = bar.measure_ends_si;
            lines.push(format!(
                "  {:<46}  {:<28}  {:>8.decimals$}  {:>8.decimals$}",
                bar_name(bar),
                bar.parameter.range_words(bar.ends_si, system, 3),
                value(low),
                value(high)
            ));
        }
        if bars.len() > MOST_BARS {
            lines.push(format!("  and {} more with less", bars.len() - MOST_BARS));
        }
        lines
    }
}

fn elapsed_band(launch: &LaunchBand) -> String {
    launch.elapsed_s.map_or(String::new(), |(low_s, high_s)| format!("{low_s:.3} to {high_s:.3}"))
}

fn bar_name(bar: &Bar) -> String {
    let name = format!("{}: {}", bar.parameter.wording().part_label, bar.parameter.wording().label);
    if name.chars().count() <= 46 {
        return name;
    }
    let mut short: String = name.chars().take(45).collect();
    short.push('…');
    short
}
