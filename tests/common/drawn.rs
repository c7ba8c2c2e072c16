//! Scenarios drawn at random, as texts: every parameter over its whole range (on a log scale where the range spans more
//! than a decade), own tables and other ways to state a parameter, days with all kinds of events. The gate has to accept them.

use std::fmt::Write;

use proptest::prelude::*;
use stallheat::scenario::parameters::{PARAMETERS, Parameter};
use stallheat::timeline::{EventKind, Node, Route};

/// A share of the way from one number to a larger one, evenly or in even factors.
fn between(low: f64, high: f64, share: f64) -> f64 {
    if low > 0.0 && high / low > 10.0 {
        low * (high / low).powf(share)
    } else {
        low + (high - low) * share
    }
}

/// Shares of ranges: the ends themselves are drawn often, because corners are what breaks.
pub fn share() -> impl Strategy<Value = f64> {
    prop_oneof![6 => 0.0..=1.0f64, 1 => Just(0.0), 1 => Just(1.0)]
}

fn written(parameter: &Parameter, share: f64) -> String {
    let unit = parameter.display_unit();
    let (low, high) = (unit.from_si(parameter.min_si()), unit.from_si(parameter.max_si()));
    let value = between(low, high, share);
    if unit.symbol.is_empty() { format!("{value}") } else { format!("\"{value} {}\"", unit.symbol) }
}

/// Statements that take the place of parameters: the parameters replaced, and the text that replaces them.
type Instead = (&'static [&'static str], String);

/// Own tables and other ways to state a parameter, each in a part of the set-ups; what the gate has to accept, over the
/// ranges of their columns.
fn instead() -> impl Strategy<Value = Vec<Instead>> {
    let ratios = prop::collection::vec(0.65..1.0f64, 0..8).prop_map(|steps| -> Instead {
        let mut ratio = 6.0;
        let mut ratios = vec![ratio];
        for step in steps {
            ratio *= step;
            ratios.push(ratio);
        }
        let text = ratios.iter().map(|ratio| format!("{ratio:.6}")).collect::<Vec<_>>().join(", ");
        (&["gearbox.low_ratio"], format!("\"gearbox.ratios\": \"{text}\""))
    });
    let curve =
        prop::collection::vec((50.0..1_150.0f64, share()), 2..=12).prop_map(|steps| -> Instead {
            let mut rpm = 0.0;
            let mut text = String::from("engine_speed (rpm); torque (N m)");
            for (step_rpm, share) in steps {
                rpm += step_rpm;
                let _ = write!(text, "\\n{rpm}; {}", 1_500.0 * share);
            }
            (
                &[
                    "engine.peak_power",
                    "engine.peak_power_speed",
                    "engine.peak_torque",
                    "engine.peak_torque_speed",
                ],
                format!("\"engine.torque_curve\": \"{}\"", text.replace('.', ",")),
            )
        });
    // Torque ratio straight to 0.95 at 0.9: never more power out than in while it starts at 3 or less.
    let converter = (1.0..3.0f64, prop::collection::vec(0.05..2.0f64, 3), any::<bool>()).prop_map(
        |(stall, capacities, k_factors)| -> Instead {
            let mut rows = Vec::new();
            for (row, speed_ratio) in [0.0, 0.35, 0.7, 0.9].into_iter().enumerate() {
                let torque_ratio = stall + (0.95 - stall) * speed_ratio / 0.9;
                let capacity = if row == 0 { 1.0 } else { capacities[row - 1] };
                let last = if k_factors { 200.0 / f64::sqrt(capacity) } else { capacity };
                rows.push(format!("{speed_ratio}, {torque_ratio}, {last}"));
            }
            let (replaced, column): (&'static [&'static str], &str) = if k_factors {
                (&["converter.stall_torque_ratio", "converter.k_factor"], "k_factor (rpm/√(N m))")
            } else {
                (&["converter.stall_torque_ratio"], "capacity")
            };
            let head = format!("speed_ratio, torque_ratio, {column}");
            (replaced, format!("\"converter.table\": \"{head}\\n{}\"", rows.join("\\n")))
        },
    );
    let altitude = (-400.0..4_000.0f64).prop_map(|altitude_m| -> Instead {
        (&["air.pressure"], format!("\"air.altitude\": \"{altitude_m} m\""))
    });
    // Each in a third of the set-ups.
    (
        prop::option::weighted(0.33, ratios),
        prop::option::weighted(0.33, curve),
        prop::option::weighted(0.33, converter),
        prop::option::weighted(0.33, altitude),
    )
        .prop_map(|(ratios, curve, converter, altitude)| {
            [ratios, curve, converter, altitude].into_iter().flatten().collect()
        })
}

/// A whole set-up, each part's parameters on their own lines.
pub fn setup() -> impl Strategy<Value = String> {
    (prop::collection::vec(share(), PARAMETERS.len()), instead()).prop_map(|(shares, instead)| {
        let mut text = String::from("{");
        let mut part = "";
        for (parameter, share) in PARAMETERS.iter().zip(shares) {
            // Pairs that the gate refuses to see crossed are drawn from halves that cannot cross.
            let share = match parameter.path().as_str() {
                "fluid.kv40" => 0.5 + 0.5 * share,
                "fluid.kv100" => 0.5 * share,
                "limits.window_low" => 0.45 * share,
                "limits.window_high" => 0.55 + 0.45 * share,
                // Peaks of a torque curve belong together: these do.
                "engine.peak_power" => 0.55,
                "engine.peak_torque" => 0.45,
                "engine.peak_power_speed" | "engine.peak_torque_speed" => 0.5,
                "engine.rev_limit" => 0.5 + 0.5 * share,
                // A shift speed below that at which engine and converter balance is refused in a day; most are above.
                "gearbox.shift_speed" => 0.35 + 0.65 * share,
                // A core is at most eight transfer units deep: large ones come with much air.
                "cooler.ua" => 0.75 * share,
                "cooler.rated_air_flow" => 0.55 + 0.45 * share,
                _ => share,
            };
            let path = parameter.path();
            if parameter.part != part {
                let close = if part.is_empty() { "" } else { "}," };
                let _ = write!(text, "{close}\n  \"{}\": {{", parameter.part);
                part = parameter.part;
                let start = format!("\"{part}.");
                for (_, statement) in instead.iter().filter(|(_, text)| text.starts_with(&start)) {
                    let _ = write!(text, "{}, ", statement.replacen(&start, "\"", 1));
                }
            }
            if instead.iter().any(|(replaced, _)| replaced.contains(&path.as_str())) {
                continue;
            }
            let _ = write!(text, "\"{}\": {}, ", parameter.key, written(parameter, share));
        }
        // The comma after the last value of every part.
        text = text.replace(", }", "}");
        text.truncate(text.trim_end_matches(", ").len());
        text.push_str("}\n}");
        text
    })
}

fn condition() -> impl Strategy<Value = String> {
    (0..7usize, any::<bool>(), 0.0..150.0f64).prop_map(|(node, below, celsius)| {
        let side = if below { "at_or_below" } else { "at_or_above" };
        format!("{{\"node\": \"{}\", \"{side}\": \"{celsius} °C\"}}", Node::ALL[node].key())
    })
}

fn switch(words: Vec<String>, with_route: bool) -> impl Strategy<Value = Option<String>> {
    let on_time = move |route: usize, start_s: f64, duration_s: f64| {
        let route = if with_route {
            format!("\"route\": \"{}\", ", Route::ALL[route].key())
        } else {
            String::new()
        };
        format!("{{{route}\"start\": \"{start_s} s\", \"duration\": \"{duration_s} s\"")
    };
    prop_oneof![
        2 => Just(None),
        2 => prop::sample::select(words).prop_map(|word| Some(format!("\"{word}\""))),
        1 => (0..3usize, 0.0..0.4f64, 0.05..900.0f64, prop::option::of(condition())).prop_map(
            move |(route, start_s, duration_s, until)| {
                let until = until.map_or(String::new(), |until| format!(", \"until\": {until}"));
                Some(format!("[{}{until}}}]", on_time(route, start_s, duration_s)))
            }
        ),
    ]
}

/// One event of any kind; its longest time is `longest_s` times a share.
fn event(longest_s: f64) -> impl Strategy<Value = (String, f64)> {
    let routes =
        ["off", "pan_loop", "through_converter", "cooler_first"].map(String::from).to_vec();
    let onoff = ["on", "off"].map(String::from).to_vec();
    (
        0..EventKind::ALL.len(),
        prop::collection::vec(prop::option::of(share()), 6),
        0.0..1.0f64,
        prop::option::weighted(0.3, condition()),
        switch(routes, true),
        switch(onoff, false),
        any::<bool>(),
    )
        .prop_map(move |(kind, shares, length, until, circulation, fan, in_gear)| {
            let kind = EventKind::ALL[kind];
            // What makes heat by the hundred kilowatt lasts seconds; what waits lasts as long as it likes.
            let hot = !matches!(
                kind,
                EventKind::Idle | EventKind::EngineOff | EventKind::Tow | EventKind::ReturnRoad
            );
            let most_s = if hot { longest_s.min(20.0) } else { longest_s };
            let duration_s = between(0.5, most_s, length);
            let mut text = format!("{{\"event\": \"{}\"", kind.key());
            // Shifts, and a pass, go with a known duration.
            if kind == EventKind::Pass && in_gear {
                // Half of the passes are computed; none takes longer than the longest.
                return (format!("{text}}}"), stallheat::pass::MAX_PASS_S);
            }
            let timed = matches!(kind, EventKind::Pass | EventKind::Burnout | EventKind::DynoPull);
            match until.filter(|_| !timed) {
                Some(until) => {
                    let _ = write!(text, ", \"until\": {until}, \"at_most\": \"{duration_s} s\"");
                }
                None => {
                    let _ = write!(text, ", \"duration\": \"{duration_s} s\"");
                }
            }
            let mut slip = 0.0;
            for ((row, default), share) in kind.takes().zip(shares) {
                let key = row.key;
                let Some(share) = share else {
                    if key == "slip" {
                        slip = default.unwrap();
                    }
                    continue;
                };
                // Stalling power goes with the cube of speed, so all but the lowest speeds end at once.
                let share = if hot { share } else { 0.3 * share };
                let unit = row.display_unit();
                let mut most = unit.from_si(row.max_si());
                if key == "torque_ratio" {
                    // The gate refuses more power behind the converter than before it.
                    most = most.min(1.0 / (1.0 - slip + 1e-12));
                }
                let value = between(unit.from_si(row.min_si()), most, share);
                if key == "slip" {
                    slip = value;
                }
                if unit.symbol.is_empty() {
                    let _ = write!(text, ", \"{key}\": {value}");
                } else {
                    let _ = write!(text, ", \"{key}\": \"{value} {}\"", unit.symbol);
                }
            }
            if kind == EventKind::Idle {
                let _ =
                    write!(text, ", \"gear\": \"{}\"", if in_gear { "in_gear" } else { "neutral" });
            }
            for (key, switch) in [("circulation", circulation), ("fan", fan)] {
                if let Some(switch) = switch {
                    let _ = write!(text, ", \"{key}\": {switch}");
                }
            }
            text.push('}');
            (text, duration_s)
        })
}

/// A day: some events, some rounds of other events, some more events.
fn timeline() -> impl Strategy<Value = String> {
    (
        prop::collection::vec(event(1_200.0), 1..5),
        prop::option::of((prop::collection::vec(event(400.0), 1..7), 1..5usize, any::<bool>())),
        prop::collection::vec(event(8_000.0), 0..3),
    )
        .prop_map(|(before, rounds, after)| {
            let mut items: Vec<String> = before.into_iter().map(|(text, _)| text).collect();
            if let Some((events, rounds, rest)) = rounds {
                let needed_s: f64 = events.iter().map(|(_, duration_s)| duration_s).sum();
                let mut events: Vec<String> = events.into_iter().map(|(text, _)| text).collect();
                if rest {
                    events.push("{\"event\": \"engine_off\", \"duration\": \"rest\"}".into());
                }
                let turnarounds: Vec<String> = (0..rounds)
                    .map(|round| format!("\"{} s\"", needed_s + 60.0 * (round + 1) as f64))
                    .collect();
                items.push(format!(
                    "{{\"rounds\": [{}], \"events\": [\n    {}]}}",
                    turnarounds.join(", "),
                    events.join(",\n    ")
                ));
            }
            items.extend(after.into_iter().map(|(text, _)| text));
            format!("[\n  {}\n]", items.join(",\n  "))
        })
}

pub fn scenario_text() -> impl Strategy<Value = String> {
    (prop::option::weighted(0.9, setup()), share(), timeline()).prop_map(
        |(setup, initial, timeline)| {
            format!(
                "{{\"format\": 1, \"name\": \"random\",\n\"setup\": {},\n\
                 \"initial_temperatures\": {{\"all\": \"{} °C\"}},\n\"timeline\": {timeline}}}",
                setup.unwrap_or_else(|| "{}".into()),
                between(-30.0, 150.0, initial),
            )
        },
    )
}
