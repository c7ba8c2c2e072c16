//! Pictures: thinning on an axis that gives events room, odd axes and overlays, well-formed SVG, heat that sums to the
//! ledger, the course of a pass against the launch's own times.

mod common;
#[path = "common/days.rs"]
mod days;

use common::day_of;
use proptest::prelude::*;
use stallheat::chart::axis::Axis;
use stallheat::chart::{Options, Over, Overlay, Picture, blocks, line_style, svg};
use stallheat::report::{heat_columns, heat_table, pass_course, summary};
use stallheat::scenario::{self, Scenario};
use stallheat::simulate::simulate;
use stallheat::timeline::Node;
use stallheat::trace::Trace;
use stallheat::transmission::Path;
use stallheat::units::System;

fn computed(text: &str) -> (Scenario, Trace) {
    let scenario = scenario::parse(text).unwrap_or_else(|error| panic!("{error}"));
    let trace = simulate(&scenario).unwrap_or_else(|error| panic!("{error}"));
    (scenario, trace)
}

fn examples() -> Vec<(Scenario, Trace)> {
    ["saturday_bracket_day", "test_and_tune_evening", "dyno_bench_session"]
        .iter()
        .map(|name| {
            let root = env!("CARGO_MANIFEST_DIR");
            computed(&std::fs::read_to_string(format!("{root}/scenarios/{name}.json")).unwrap())
        })
        .collect()
}

fn sized(picture: Picture, width_px: f64, height_px: f64) -> Options {
    Options {
        picture,
        width_px,
        height_px,
        nodes: Node::ALL.to_vec(),
        names: true,
        paper: true,
        ..Options::default()
    }
}

/// Knots that give every event of a day the same room.
fn room(trace: &Trace) -> Vec<(f64, f64)> {
    let mut times: Vec<f64> = trace.events.iter().map(|event| event.start_s).collect();
    times.push(trace.duration_s());
    times.dedup();
    let last = (times.len() - 1) as f64;
    times.into_iter().enumerate().map(|(at, time_s)| (time_s, at as f64 / last)).collect()
}

/// What a drawing says, element by element.
struct Read {
    texts: Vec<(String, f64, f64, String)>,
    lines: usize,
    areas: usize,
    box_size: (f64, f64),
    title: String,
    description: String,
}

fn read(text: &str) -> Read {
    let document = roxmltree::Document::parse(text).unwrap_or_else(|error| panic!("{error}"));
    let root = document.root_element();
    assert_eq!(root.tag_name().name(), "svg");
    assert!(!text.contains("NaN") && !text.contains("inf"));
    let of = |name: &str| -> Vec<roxmltree::Node> {
        root.children().filter(|node| node.tag_name().name() == name).collect()
    };
    let number = |node: &roxmltree::Node, key: &str| node.attribute(key).unwrap().parse().unwrap();
    let view: Vec<f64> =
        root.attribute("viewBox").unwrap().split(' ').map(|part| part.parse().unwrap()).collect();
    let words = |name: &str| of(name)[0].text().unwrap_or_default().to_string();
    Read {
        texts: of("text")
            .iter()
            .map(|node| {
                let anchor = node.attribute("text-anchor").unwrap_or("start").to_string();
                let said = node.text().unwrap_or_default().to_string();
                (said, number(node, "x"), number(node, "y"), anchor)
            })
            .collect(),
        lines: of("polyline").len(),
        areas: of("polygon").len(),
        box_size: (view[2], view[3]),
        title: words("title"),
        description: words("desc"),
    }
}

/// The dash of every line is its node's, in the grid of the file.
#[test]
fn lines_are_dashed_as_their_nodes_are() {
    let (scenario, trace) = examples().into_iter().next().unwrap();
    let options = sized(Picture::Temperatures, 1000.0, 460.0);
    let text = svg(&scenario, &trace, &options).unwrap();
    let document = roxmltree::Document::parse(&text).unwrap();
    let root = document.root_element();
    let width: f64 = root.attribute("viewBox").unwrap().split(' ').nth(2).unwrap().parse().unwrap();
    let fine = width / options.width_px;
    let mut found: Vec<&str> =
        root.children().filter_map(|node| node.attribute("stroke-dasharray")).collect();
    let dashes = options.nodes.iter().filter_map(|node| line_style(*node).dash_px);
    let mut wanted: Vec<String> =
        dashes.map(|(on_px, off_px)| format!("{} {}", on_px * fine, off_px * fine)).collect();
    found.sort_unstable();
    wanted.sort_unstable();
    assert!(!wanted.is_empty());
    assert_eq!(found, wanted);
}

#[test]
fn every_picture_of_every_example_is_well_formed_svg_with_its_texts_inside() {
    for (scenario, trace) in examples() {
        for picture in Picture::ALL {
            if picture == Picture::Pass && trace.launches.is_empty() {
                let refused = svg(&scenario, &trace, &sized(picture, 800.0, 400.0)).unwrap_err();
                assert!(refused.0.contains("no launch number 1"), "{}", refused.0);
                continue;
            }
            for (width_px, height_px) in [(360.0, 300.0), (1000.0, 460.0)] {
                for (system, dark) in [(System::Us, false), (System::Si, true)] {
                    let options = Options {
                        system,
                        dark,
                        knots: (width_px > 500.0).then(|| room(&trace)),
                        ..sized(picture, width_px, height_px)
                    };
                    let drawn = read(&svg(&scenario, &trace, &options).unwrap());
                    assert!(drawn.title.contains(&scenario.name), "{}", drawn.title);
                    assert!(drawn.description.len() > 20 && drawn.areas > 0);
                    assert!(drawn.lines > 5, "{} lines of {}", drawn.lines, picture.key());
                    let fine = drawn.box_size.0 / width_px;
                    for (text, x, y, anchor) in &drawn.texts {
                        // Letters of a common sans-serif are at most 0.6 of their height wide on average.
                        let width = text.chars().count() as f64 * 12.0 * 0.6 * fine;
                        let left = match anchor.as_str() {
                            "middle" => x - width / 2.0,
                            "end" => x - width,
                            _ => *x,
                        };
                        let place =
                            format!("{}, {width_px} px: {text} at {left} {y}", picture.key());
                        assert!(left >= -3.0 * fine, "{place}");
                        assert!(left + width <= drawn.box_size.0 + 3.0 * fine, "{place}");
                        assert!(*y >= 8.0 * fine && *y <= drawn.box_size.1, "{place}");
                    }
                }
            }
        }
    }
}

#[test]
fn names_in_a_file_are_what_the_reader_sees() {
    let (mut scenario, trace) = examples().remove(0);
    scenario.name = String::from("Tom & <Jerry> \"\u{1}");
    let text = svg(&scenario, &trace, &sized(Picture::Temperatures, 1000.0, 460.0)).unwrap();
    let drawn = read(&text);
    assert!(drawn.title.starts_with("Tom & <Jerry> \""), "{}", drawn.title);
    let said = |part: &str| drawn.texts.iter().any(|(text, ..)| text.contains(part));
    for node in Node::ALL {
        assert!(said(node.label()), "{}", node.label());
    }
    assert!(said("Launch window"));
}

/// The dips and peaks that a column of half a pixel holds stay, on an axis on which ten seconds fill half the width.
#[test]
fn thinning_keeps_the_extremes_of_each_column() {
    let axis = Axis::knotted(vec![(0.0, 0.0), (40_000.0, 0.25), (40_010.0, 0.75), (43_200.0, 1.0)])
        .unwrap();
    let samples: Vec<(f64, f64)> = (0..200_000)
        .map(|i| {
            let time_s = f64::from(i) * 43_200.0 / 199_999.0;
            (time_s, (time_s * 7.3).sin() * 50.0 + f64::from(i * 7_919 % 1_013))
        })
        .collect();
    let columns = 600.0;
    let thin = axis.curve(columns, &mut samples.iter().copied());
    assert!(thin.len() < 4 * 600 + 10, "{}", thin.len());
    assert!(thin.windows(2).all(|pair| pair[0].0 <= pair[1].0));
    for column in 0..600 {
        let within = |share: f64| (share * columns).floor() as i32 == column;
        let span = |values: &mut dyn Iterator<Item = f64>| {
            values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
                (low.min(value), high.max(value))
            })
        };
        let all = samples.iter().filter(|sample| within(axis.share(sample.0)));
        let whole = span(&mut all.map(|sample| sample.1));
        let kept = span(&mut thin.iter().filter(|p| within(p.0)).map(|p| p.1));
        if whole.0.is_finite() {
            // Points where the axis bends lie between samples.
            assert_eq!(kept, whole, "column {column}");
        }
    }
    // Half of the width belongs to ten seconds: its 46 samples are all there.
    let seen = thin.iter().filter(|point| point.0 > 0.25 && point.0 < 0.75).count();
    let there = samples.iter().filter(|s| s.0 > 40_000.0 && s.0 < 40_010.0).count();
    assert_eq!(seen, there);
}

fn rough() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => 0.0..50_000.0,
        2 => 0.0..1.0,
        1 => prop_oneof![
            Just(f64::NAN), Just(f64::INFINITY), Just(f64::NEG_INFINITY), Just(-1e300), Just(1e300),
            Just(f64::MAX), Just(f64::MIN_POSITIVE), Just(-0.0),
        ],
    ]
}

fn short_day() -> (Scenario, Trace) {
    computed(
        r#"{"format": 1, "name": "short", "timeline": [
            {"event": "idle", "duration": "2 min"}, {"event": "brake_hold", "duration": "3 s"},
            {"event": "pass"}, {"event": "engine_off", "duration": "10 min"}]}"#,
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    /// Whatever the page hands over, there is a picture or a sentence that says why not.
    #[test]
    fn odd_axes_and_overlays_never_panic(
        knots in prop::collection::vec((rough(), rough()), 0..6),
        rising in any::<bool>(),
        ticks in prop::collection::vec((rough(), "[a-z<&]{0,6}"), 0..5),
        times_s in prop::collection::vec(rough(), 0..8),
        low_k in prop::collection::vec(rough(), 0..8),
        high_k in prop::collection::vec(rough(), 0..8),
        range_s in prop::option::of((rough(), rough())),
        launch in 0usize..3,
        width_px in rough(),
    ) {
        thread_local!(static DAY: (Scenario, Trace) = short_day());
        let mut knots = knots;
        if rising {
            knots.sort_by(|a, b| a.0.total_cmp(&b.0));
            let last = knots.len().saturating_sub(1).max(1) as f64;
            for (at, knot) in knots.iter_mut().enumerate() {
                knot.1 = at as f64 / last;
            }
        }
        let line = Over::Line { value_k: low_k.clone(), dash_px: Some((low_k.len() as f64, 0.0)), width_px };
        let overlays = [line, Over::Band { low_k, high_k }].map(|of| Overlay {
            node: Node::PanFluid, times_s: times_s.clone(), of, light: (1, 2, 3), dark: (4, 5, 6),
        });
        DAY.with(|(scenario, trace)| {
            for picture in Picture::ALL {
                for with_knots in [true, false] {
                    let options = Options {
                        width_px: if width_px < 1.0 { 320.0 } else { width_px },
                        range_s,
                        knots: with_knots.then(|| knots.clone()),
                        ticks: Some(ticks.clone()),
                        overlays: overlays.to_vec(),
                        launch,
                        ..sized(picture, 320.0, 240.0)
                    };
                    match svg(scenario, trace, &options) {
                        Ok(text) => { read(&text); }
                        Err(said) => assert!(said.0.len() > 20 && said.0.ends_with('.'), "{}", said.0),
                    }
                }
            }
        });
    }
}

#[test]
fn an_overlay_widens_the_scale_and_is_drawn() {
    let (scenario, trace) = short_day();
    let plain = sized(Picture::Temperatures, 800.0, 400.0);
    let hot = Overlay {
        node: Node::PanFluid,
        times_s: vec![0.0, 300.0, 200.0, f64::NAN, 600.0],
        of: Over::Line {
            value_k: vec![400.0, 500.0, 9e9, 1.0, 520.0],
            dash_px: None,
            width_px: 2.0,
        },
        light: (1, 2, 3),
        dark: (4, 5, 6),
    };
    let before = svg(&scenario, &trace, &plain).unwrap();
    let after = svg(&scenario, &trace, &Options { overlays: vec![hot], ..plain.clone() }).unwrap();
    assert!(!before.contains("#010203") && after.contains("#010203"));
    let most = |text: &str| {
        let numbers =
            read(text).texts.into_iter().filter_map(|(said, ..)| said.parse::<f64>().ok());
        numbers.fold(f64::NEG_INFINITY, f64::max)
    };
    // 520 K are 476 °F; what is unsorted or not finite counts nothing.
    assert!(most(&before) < 476.0 && (476.0..600.0).contains(&most(&after)), "{}", most(&after));
}

/// Columns of the table and bars of the picture are the ledger of the day.
#[test]
fn heat_by_event_sums_to_the_ledger() {
    let mut days = examples();
    days.push(computed(&days::twelve_hours_computed()));
    for (scenario, trace) in days {
        let scale_j = trace.ledger.made_j().abs().max(trace.ledger.away_j().abs());
        for system in [System::Us, System::Si] {
            let table = heat_table(&trace, system);
            let all = summary(&scenario, &trace, system).ledger;
            let scale = all.made_total.abs().max(all.away_total.abs());
            for (place, line) in all.made.iter().chain(&all.away).enumerate() {
                let sum: f64 = table.rows.iter().map(|row| row.heat[place]).sum();
                assert_eq!(heat_columns()[place].key, line.key);
                assert!((sum - line.energy).abs() < 1e-9 * scale, "{}: {sum}", line.key);
                assert!((table.day.heat[place] - line.energy).abs() < 1e-9 * scale);
            }
            let stored: f64 = table.rows.iter().map(|row| row.stored).sum();
            assert!((stored - all.stored_total).abs() < 1e-9 * scale);
            for row in &table.rows {
                let made: f64 = row.heat[..Path::SOURCES.len()].iter().sum();
                assert!((made - row.made).abs() < 1e-9 * scale);
                assert!((row.made - row.away - row.stored).abs() < 1e-9 * scale, "{}", row.label);
            }
        }
        for width_px in [120.0, 900.0, 20_000.0] {
            for axis in [Axis::even(0.0, trace.duration_s()), Axis::knotted(room(&trace)).unwrap()]
            {
                let bars = blocks(&trace, &axis, width_px);
                for (place, path) in Path::SOURCES.iter().chain(&Path::SINKS).enumerate() {
                    let sign = if place < Path::SOURCES.len() { 1.0 } else { -1.0 };
                    let sum_j: f64 = bars.iter().map(|bar| sign * bar.heat_j[place]).sum();
                    assert!((sum_j - trace.ledger.path_j(*path)).abs() < 1e-9 * scale_j);
                }
            }
        }
    }
}

#[test]
fn the_course_of_a_pass_agrees_with_its_launch() {
    let (scenario, trace) = examples().remove(0);
    for system in [System::Us, System::Si] {
        let launches = summary(&scenario, &trace, system).launches;
        let mut passes = 0;
        for (at, launch) in launches.iter().enumerate() {
            let course = pass_course(&scenario, &trace, at, system).unwrap();
            assert_eq!(course.start_s, launch.time_s);
            let Some(pass) = &launch.pass else {
                assert!(course.rows.is_empty() && course.logged.is_some());
                continue;
            };
            passes += 1;
            for mark in &pass.marks {
                let row = course.rows.iter().find(|row| row.what.ends_with(mark.label)).unwrap();
                assert!((row.elapsed_s - mark.elapsed_s).abs() < 1e-9);
                assert!((row.at.speed - mark.speed).abs() < 1e-9 * mark.speed, "{}", row.what);
                assert!((row.at.engine_rpm - mark.engine_rpm).abs() < 1e-9 * mark.engine_rpm);
            }
            let last = course.rows.last().unwrap();
            assert!(last.what.starts_with("Finish, "));
            assert!((last.elapsed_s - pass.elapsed_s).abs() < 1e-9);
            assert!((last.at.speed - pass.speed).abs() < 1e-6 * pass.speed);
            assert!((last.at.slip - pass.finish_slip).abs() < 1e-9);
            assert!((course.end_s - course.start_s - last.at.time_s).abs() < 1e-6);
            let gears = course.rows.iter().filter(|row| row.what.ends_with("gear")).count();
            assert_eq!(gears, last.at.gear - 1);
            assert!(course.rows.windows(2).all(|pair| pair[0].at.time_s <= pair[1].at.time_s));
        }
        assert!(passes > 0);
        assert!(pass_course(&scenario, &trace, launches.len(), system).is_none());
    }
}

#[test]
fn a_logged_pass_is_said_to_be_logged() {
    let (scenario, trace) = computed(&days::twelve_hours());
    let drawn = read(&svg(&scenario, &trace, &sized(Picture::Pass, 360.0, 300.0)).unwrap());
    assert!(drawn.texts.iter().any(|(text, ..)| text.contains("logged, not computed")));
    assert!(!drawn.texts.iter().any(|(text, ..)| text.contains("Finish")));
    let logged = pass_course(&scenario, &trace, 0, System::Us).unwrap().logged.unwrap();
    // As the day states it: 6500 rpm, 490 hp, slip 0.17, 88 mph.
    let near = |got: f64, stated: f64| assert!((got / stated - 1.0).abs() < 1e-6, "{got} {stated}");
    near(logged.engine_rpm, 6_500.0);
    near(logged.input_power, 490.0);
    near(logged.slip, 0.17);
    near(logged.speed, 88.0);
}

/// The same least charge as the summary has, and over each event what the trace has at its ends.
#[test]
fn the_table_of_the_battery_is_that_of_the_trace() {
    for (scenario, trace) in examples() {
        for picture in Picture::ALL.into_iter().filter(|picture| picture.has_table()) {
            let table = picture.table(&scenario, &trace, System::Us).unwrap();
            assert!(table.says.ends_with('.') && !table.rows.is_empty(), "{}", picture.key());
            assert!(table.rows.iter().all(|row| row.len() == table.heads.len()));
        }
        let table = Picture::Charge.table(&scenario, &trace, System::Si).unwrap();
        let least_ah = summary(&scenario, &trace, System::Si).battery_least_ah;
        assert!(table.says.contains(&format!(" is {least_ah:.1} of ")), "{}", table.says);
        assert_eq!(table.rows.len(), trace.events.len());
        for (row, event) in table.rows.iter().zip(&trace.events) {
            let left_ah = trace.samples[event.samples.1].charge_a_s / 3600.0;
            assert_eq!(row[3], format!("{left_ah:.1}"), "{}", row[0]);
        }
    }
}

#[test]
fn a_series_of_a_node_is_read_off_the_day() {
    let trace = day_of("{}", "{}", r#"[{"event": "idle", "duration": "5 min"}]"#);
    for sample in trace.samples.iter().filter(|sample| sample.time_s > 0.0) {
        let got_k = trace.temperature_at_k(Node::PanFluid, sample.time_s);
        assert!((got_k - sample.temperature_k[Node::PanFluid.index()]).abs() < 1e-9);
    }
}
