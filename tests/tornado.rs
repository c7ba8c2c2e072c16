//! The tornado of a day against the guide's law of propagation and against the band; and `stallheat band` from outside.

use std::process::{Command, Output, Stdio};

use serde_json::Value;
use stallheat::band::Band;
use stallheat::scenario::parameters::{PARAMETERS, Spread};
use stallheat::scenario::{self, Scenario};
use stallheat::simulate::simulate;
use stallheat::timeline::Node;
use stallheat::tornado::{Bar, DEVIATIONS, Measure, Tornado};

fn saturday() -> Scenario {
    scenario::parse(include_str!("../scenarios/saturday_bracket_day.json")).unwrap()
}

/// All parameters but these.
fn known_but(spread: &[&str]) -> Vec<String> {
    let paths = PARAMETERS.iter().map(|parameter| parameter.path());
    paths.filter(|path| !spread.contains(&path.as_str())).collect()
}

fn tornado_of(known: &[&str]) -> Tornado {
    let mut tornado = Tornado::new(saturday(), known);
    let days = tornado.days();
    assert_eq!(tornado.step(days), days);
    tornado
}

/// A measure of the day with one parameter moved by so many standard deviations.
fn moved(path: &str, deviations: f64, measure: Measure) -> f64 {
    let row = PARAMETERS.iter().find(|row| row.path() == path).unwrap();
    let mut day = saturday();
    let moved_si = row.moved_si(row.value_si(&day.setup), deviations);
    row.set_si(&mut day.setup, moved_si);
    measure.of(&simulate(&day).unwrap()).unwrap()
}

/// Of a tornado whose parameters a shop knows to a fifth, each bar is 1.96·|cᵢ|·u(xᵢ): JCGM 100:2008, 5.1.3, note 2
/// (from memory), gets |cᵢ|·u(xᵢ) as half the difference of the results with the parameter up and down by one standard
/// deviation u(xᵢ).
///
/// Tolerance: for an answer like xᵏ, with |k| at most 2 between heat and any one parameter. A lognormal x then gives
/// sinh(1.96·kσ)/(1.96·sinh(kσ)) instead of 1; a normal one, to the third order, 1 + (1.96² − 1)·(k − 1)(k − 2)/6·s²,
/// which is largest for k = −2. Differences of two days carry some of the solver's error, of which nearly equal days have
/// most in common: 1 mK, a fiftieth of the bound on a day's. Left out are parameters known less well; bars below a
/// tenth of the longest (a small answer can be the sum of two opposite ones and then is no power: rolling resistance
/// in the converter's peak is such a one); and the grip of spinning tyres: above some grip they stick, and the day
/// answers with a kink.
#[test]
fn half_a_bar_is_the_contribution_of_its_parameter() {
    let tornado = tornado_of(&[]);
    let mut checked = 0;
    for measure in [Measure::LastPan, Measure::ConverterPeak] {
        let bars = tornado.bars(measure);
        let counts = |bar: &&Bar| bar.half_si() > 0.1 * bars[0].half_si();
        for bar in bars.iter().filter(counts) {
            let path = bar.parameter.path();
            let (share, tolerance) = match bar.parameter.spread.unwrap() {
                Spread::Relative(share) => {
                    let k_sigma = 2.0 * share.ln_1p();
                    (share, (DEVIATIONS * k_sigma).sinh() / (DEVIATIONS * k_sigma.sinh()) - 1.0)
                }
                Spread::Absolute(by) => {
                    let s = by / bar.parameter.display_unit().from_si(bar.stated_si);
                    (s, (DEVIATIONS * DEVIATIONS - 1.0) * 2.0 * s * s)
                }
            };
            if share > 0.2 || path == "car.burnout_grip" {
                continue;
            }
            let u = 0.5 * (moved(&path, 1.0, measure) - moved(&path, -1.0, measure)).abs();
            let tolerance = tolerance + 0.001 / u;
            let ratio = bar.half_si() / (DEVIATIONS * u);
            assert!((ratio - 1.0).abs() < tolerance, "{path}: {ratio}, tolerance {tolerance}");
            checked += 1;
        }
    }
    assert!(checked >= 12, "{checked} bars");
}

/// JCGM 100:2008, 5.1.2 (from memory): uncertainties of independent parameters add by their squares. The highest
/// converter temperature answers nearly in proportion to these six: their bars are even to both sides within a tenth.
///
/// Tolerance: the ends of the band are the quantiles of 1 000 draws. Of a normal result half the band has a standard
/// error of √(p(1 − p)/n)/φ(1.96)/√2/1.96 of itself, 3 % (Mosteller 1946; both ends taken as independent); four of
/// them, and 1 % for what is out of proportion (half bars against one standard deviation, above, within 0.5 %).
#[test]
fn bars_add_by_their_squares_to_the_band() {
    const DRAWS: usize = 1_000;
    let spread = [
        "front_pump.cooler_flow",
        "converter.shell_mass",
        "converter.fluid_volume",
        "converter.stall_torque_ratio",
        "cooler.ua",
        "car.axle_efficiency",
    ];
    let known = known_but(&spread);
    let known: Vec<&str> = known.iter().map(String::as_str).collect();
    let bars = tornado_of(&known).bars(Measure::ConverterPeak);
    assert_eq!(bars.len(), spread.len());
    for bar in &bars {
        let (low, high) = bar.measure_ends_si;
        let uneven = ((low + high - 2.0 * bar.measure_si) / (high - low)).abs();
        assert!(uneven < 0.1, "{}: {uneven}", bar.parameter.path());
    }
    let squares: f64 = bars.iter().map(|bar| bar.half_si().powi(2)).sum();

    let mut band = Band::new(saturday(), Vec::new(), DRAWS, &known);
    let draws = std::thread::scope(|scope| {
        let halves = [0..DRAWS / 2, DRAWS / 2..DRAWS];
        let band = &band;
        let halves =
            halves.map(|half| scope.spawn(move || half.map(|n| band.drawn(n)).collect::<Vec<_>>()));
        halves.map(|half| half.join().unwrap())
    });
    for draw in draws.into_iter().flatten() {
        band.keep(draw);
    }
    assert_eq!(band.simulated(), DRAWS);
    let (low_k, high_k) = band.peak_k(Node::ConverterFluid);
    let half_k = 0.5 * (high_k - low_k);
    let density = (-0.5 * DEVIATIONS * DEVIATIONS).exp() / (2.0 * std::f64::consts::PI).sqrt();
    let error = (0.975 * 0.025 / DRAWS as f64).sqrt() / density / 2f64.sqrt() / DEVIATIONS;
    let tolerance = 4.0 * error + 0.01;
    assert!(tolerance < 0.14, "{tolerance}"); // a sum without squares is more than twice as much
    let ratio = half_k / squares.sqrt();
    println!("half band {half_k:.3} K, bars {:.3} K, ratio {ratio:.4}", squares.sqrt());
    assert!((ratio - 1.0).abs() < tolerance, "{half_k} K against {} K", squares.sqrt());
}

#[test]
fn bars_are_sorted_and_made_of_days_one_could_simulate_oneself() {
    let tornado = tornado_of(&[]);
    for measure in Measure::ALL {
        let bars = tornado.bars(measure);
        let spread = PARAMETERS.iter().filter(|parameter| parameter.spread.is_some()).count();
        assert_eq!(bars.len(), spread);
        assert!(bars.windows(2).all(|pair| pair[0].size_si() >= pair[1].size_si()));
        let bar = &bars[0];
        let path = bar.parameter.path();
        let by_hand = (moved(&path, -DEVIATIONS, measure), moved(&path, DEVIATIONS, measure));
        assert_eq!(bar.measure_ends_si, by_hand, "{path}");
        assert_eq!(Some(bar.measure_si), measure.of(&simulate(&saturday()).unwrap()));
        assert!(bar.ends_si.0 < bar.stated_si && bar.stated_si < bar.ends_si.1);
    }
}

#[test]
fn a_tornado_is_done_in_steps() {
    let known = known_but(&["cooler.ua", "air.wind"]);
    let known: Vec<&str> = known.iter().map(String::as_str).collect();
    let mut tornado = Tornado::new(saturday(), &known);
    assert_eq!(tornado.days(), 5);
    assert!(tornado.bars(Measure::LastPan).is_empty());
    let sizes: Vec<usize> =
        (0..4).map(|_| (tornado.step(2), tornado.bars(Measure::LastPan).len()).1).collect();
    // The day itself and one end; both ends of the first; of the second.
    assert_eq!(sizes, [0, 1, 2, 2]);
    assert!(tornado.measured(5).is_none());
}

/// A day without launches has no bars for what a launch is judged by.
#[test]
fn a_day_without_launches_has_its_peak_only() {
    let bench = scenario::parse(include_str!("../scenarios/dyno_bench_session.json")).unwrap();
    let known = known_but(&["cooler.ua"]);
    let known: Vec<&str> = known.iter().map(String::as_str).collect();
    let mut tornado = Tornado::new(bench, &known);
    tornado.step(3);
    let lengths = Measure::ALL.map(|measure| tornado.bars(measure).len());
    assert_eq!(lengths, [0, 1, 0, 0]);
}

fn band(args: &[&str]) -> Output {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/scenarios/saturday_bracket_day.json");
    Command::new(env!("CARGO_BIN_EXE_stallheat"))
        .args(["band", file])
        .args(args)
        .stdin(Stdio::null())
        .output()
        .unwrap()
}

fn done(args: &[&str]) -> String {
    let output = band(args);
    let stderr = String::from_utf8(output.stderr).unwrap();
    assert_eq!((output.status.code(), stderr.as_str()), (Some(0), ""));
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn the_number_of_threads_changes_nothing() {
    let one = done(&["--draws", "60", "--json", "--jobs", "1"]);
    for jobs in ["2", "5"] {
        assert_eq!(one, done(&["--draws", "60", "--json", "--jobs", jobs]), "{jobs} threads");
    }
    assert_ne!(one, done(&["--draws", "60", "--json", "--seed", "7"]));
}

#[test]
fn the_command_says_what_the_library_says() {
    let told: Value = serde_json::from_str(&done(&["--draws", "50", "--json"])).unwrap();
    let mut band = Band::new(saturday(), Vec::new(), 50, &[]);
    band.step(50);
    assert_eq!(told["simulated"], band.simulated());
    let pair = |value: &Value| (value[0].as_f64().unwrap(), value[1].as_f64().unwrap());
    let celsius = |(low_k, high_k): (f64, f64)| (low_k - 273.15, high_k - 273.15);
    // The reader of JSON rounds the last digit of a number its own way.
    let same = |(a, b): (f64, f64), (c, d): (f64, f64)| {
        assert!(
            (a - c).abs() < 1e-12 * c.abs() && (b - d).abs() < 1e-12 * d.abs(),
            "{a} {c} {b} {d}"
        );
    };
    let launches = band.launches();
    assert_eq!(told["launches"].as_array().unwrap().len(), launches.len());
    for (told, launch) in told["launches"].as_array().unwrap().iter().zip(&launches) {
        for node in Node::ALL {
            let band_k = launch.temperature_k[node.index()];
            same(pair(&told["temperatures_c"][node.key()]), celsius(band_k));
        }
        same(pair(&told["elapsed_s"]), launch.elapsed_s.unwrap());
    }
    for node in Node::ALL {
        same(pair(&told["peaks_c"][node.key()]), celsius(band.peak_k(node)));
    }
    let bars = tornado_of(&[]).bars(Measure::LastPan);
    let told = told["tornado"]["last_pan_c"]["bars"].as_array().unwrap();
    assert_eq!(told.len(), bars.len());
    assert_eq!(told[0]["parameter"], bars[0].parameter.path());
    same(pair(&told[0]["measure_at_ends"]), celsius(bars[0].measure_ends_si));
}

#[test]
fn what_is_known_leaves_the_tornado_and_narrows_the_band() {
    let of = |args: &[&str]| -> Value { serde_json::from_str(&done(args)).unwrap() };
    let all = of(&["--draws", "100", "--json"]);
    let some = of(&["--draws", "100", "--json", "--known", "cooler.ua, front_pump.cooler_flow"]);
    let width = |told: &Value| {
        let band = &told["launches"][5]["temperatures_c"]["pan_fluid"];
        band[1].as_f64().unwrap() - band[0].as_f64().unwrap()
    };
    // The two largest bars of the pan are gone.
    assert!(width(&some) < 0.9 * width(&all), "{} {}", width(&some), width(&all));
    let bars = some["tornado"]["last_pan_c"]["bars"].to_string();
    assert!(!bars.contains("cooler.ua") && !bars.contains("front_pump.cooler_flow"));

    let wrong = band(&["--known", "cooler.us"]);
    assert_eq!(wrong.status.code(), Some(1));
    assert!(wrong.stdout.is_empty());
    let stderr = String::from_utf8(wrong.stderr).unwrap();
    assert!(stderr.contains("cooler.us") && stderr.contains("cooler.ua"), "{stderr}");
    for args in [["--draws", "3"], ["--draws", "many"], ["--jobs", "0"]] {
        assert_eq!(band(&args).status.code(), Some(2), "{args:?}");
    }
}

#[test]
fn the_report_fits_the_page_and_keeps_to_the_readers_units() {
    for (units, here, not_here) in [("us", "°F", "°C)"), ("si", "°C", "°F")] {
        let text = done(&["--draws", "40", "--units", units]);
        assert!(text.contains(here) && !text.contains(not_here) && !text.contains("NaN"), "{text}");
        for line in text.lines() {
            assert!(line.chars().count() <= 100, "{line}");
        }
    }
    let everything: Vec<String> = PARAMETERS.iter().map(|parameter| parameter.path()).collect();
    let text = done(&["--draws", "40", "--known", &everything.join(",")]);
    assert!(text.contains("nothing that it hangs on is in doubt"), "{text}");
}
