//! The planner against brute force, by hand, and against the day that its schedules make.

use stallheat::band::latin_hypercube;
use stallheat::plan::{
    Aim, Equipment, Outcome, Request, Schedule, Situation, Span, Written, apply, day_summary,
    plan_day, plan_rest, rests, spread_k, summary,
};
use stallheat::scenario::{self, Scenario};
use stallheat::simulate::simulate;
use stallheat::timeline::{NODES, Node, Route};
use stallheat::trace::Trace;
use stallheat::units::System;

const PAN: usize = Node::PanFluid as usize;

fn text_of(name: &str) -> String {
    let path = format!("{}/scenarios/{name}.json", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(path).unwrap()
}

fn day_of(text: &str) -> (Scenario, Trace) {
    let day = scenario::parse(text).unwrap();
    let trace = simulate(&day).unwrap();
    (day, trace)
}

fn kelvin(fahrenheit: f64) -> f64 {
    (fahrenheit - 32.0) / 1.8 + 273.15
}

fn everything() -> Equipment {
    Equipment { routes: Route::ALL.to_vec(), fan: true, idle: true, idle_in_gear: false }
}

/// All schedules of a grid: every route, three starts of the pump, eight lengths, the fan in five ways, idle in five.
fn grid(free_s: f64, equipment: &Equipment) -> Vec<Schedule> {
    let part = |from: f64, to: f64| Span::new(from * free_s, to * free_s);
    let mut idles = vec![Span::default()];
    if equipment.idle {
        idles.extend([part(0.7, 1.0), part(0.0, 1.0), part(0.0, 0.3), part(0.4, 1.0)]);
    }
    let mut all = Vec::new();
    for idle in idles {
        if equipment.fan {
            all.push(Schedule { fan: idle, idle, ..Schedule::NOTHING });
        }
        all.push(Schedule { idle, ..Schedule::NOTHING });
        for route in &equipment.routes {
            for start in [0.0, 0.3, 0.6] {
                for length in [0.05, 0.12, 0.2, 0.3, 0.45, 0.6, 0.8, 1.0] {
                    let end = start + length * (1.0 - start);
                    let pump = part(start, end);
                    let mut fans = vec![Span::default()];
                    if equipment.fan {
                        let middle = 0.5 * (start + end);
                        fans.extend([pump, part(start, middle), part(middle, end), part(0.0, 1.0)]);
                    }
                    for fan in fans {
                        let route = Some(*route);
                        all.push(Schedule { route, pump, fan, idle, in_gear: false });
                    }
                }
            }
        }
    }
    all
}

struct Case {
    situation_of: [f64; 8],
}

impl Case {
    /// What is on the car, from one draw.
    fn equipment(&self) -> Equipment {
        let routes = match (self.situation_of[6] * 5.0) as usize {
            0 => vec![Route::PanLoop],
            1 => vec![Route::ThroughConverter],
            2 => vec![Route::CoolerFirst],
            3 => vec![],
            _ => vec![Route::PanLoop, Route::ThroughConverter],
        };
        let fan = self.situation_of[7] > 0.25;
        Equipment {
            routes,
            fan,
            idle: ((self.situation_of[7] * 8.0) as usize).is_multiple_of(2),
            idle_in_gear: false,
        }
    }
}

/// 50 random cases: air, temperatures of converter, pan and iron, minutes until the call, window, equipment. Nothing of
/// the grid comes nearer to the window than the plan by more than 0.5 °F; of those that reach the window none takes less
/// charge by more than a twentieth and a tenth of an ampere-hour.
#[test]
fn no_schedule_of_a_fine_grid_beats_the_plan() {
    let draws = latin_hypercube(8, 50, 5);
    let text = text_of("saturday_bracket_day");
    let worst = std::thread::scope(|scope| {
        let halves: Vec<_> = draws
            .chunks(25)
            .map(|half| {
                scope.spawn(|| half.iter().map(|draw| beaten_by(&text, draw)).collect::<Vec<_>>())
            })
            .collect();
        halves.into_iter().flat_map(|half| half.join().unwrap()).collect::<Vec<_>>()
    });
    assert_eq!(worst.len(), 50);
    let tried: usize = worst.iter().map(|(_, tried)| tried).sum();
    assert!(tried > 10_000, "only {tried} schedules tried");
    let inside = worst.iter().filter(|(inside, _)| *inside).count();
    // Both kinds of cases are among them.
    assert!((10..50).contains(&inside), "{inside} of 50 reach the window");
}

/// Checks one case; whether the plan reaches the window, and how many schedules were tried against it.
fn beaten_by(text: &str, draw: &[f64]) -> (bool, usize) {
    let draw: [f64; 8] = draw.try_into().unwrap();
    let between = |low: f64, high: f64, share: f64| low + share * (high - low);
    let air = between(50.0, 110.0, draw[0]);
    let text =
        text.replace("\"temperature\": \"88 °F\"", &format!("\"temperature\": \"{air} °F\""));
    let (day, trace) = day_of(&text);
    let rest = rests(&day, &trace)[2].clone();
    let case = Case { situation_of: draw };
    let equipment = case.equipment();
    let low = between(120.0, 190.0, draw[5]);
    let aim = Aim { low_k: kelvin(low), high_k: kelvin(low + 12.0) };
    let mut situation = Situation::new(&day, &trace, &rest, 0.0).unwrap();
    let pan = between(110.0, 240.0, draw[1]);
    let iron = between(air, pan, draw[3]);
    for node in Node::ALL {
        situation.now_k[node.index()] = kelvin(match node {
            Node::ConverterFluid | Node::ConverterShell => pan + between(-10.0, 80.0, draw[2]),
            Node::PanFluid => pan,
            Node::GearTrain | Node::Case => iron,
            Node::CoolerCore => between(air, pan, 0.5),
            Node::Engine => between(120.0, 190.0, draw[3]),
        });
    }
    situation.free_s = between(2.0, 40.0, draw[4] * draw[4]) * 60.0;
    let plan = plan_rest(&situation, &aim, &equipment).unwrap();
    let best = plan.best;
    let all = grid(situation.free_s, &equipment);
    let said = format!("{draw:?} {best:?}");
    for schedule in &all {
        let reached = situation.reached(schedule).unwrap();
        let off_k = aim.off_k(reached.launch_k[PAN]).abs();
        assert!(best.off_k.abs() <= off_k + 0.5 / 1.8, "{off_k} K by {schedule:?}\n{said}");
        // The plan keeps a margin inside the window; what needs no less charge than it is compared with keeps it too.
        if aim.with_margin().off_k(reached.launch_k[PAN]) == 0.0 {
            // Five seconds of rounding are 80 A·s of pump and fan; a tenth of an ampere-hour is 360 A·s.
            let allowed_a_s = 1.05 * reached.used_a_s + 440.0;
            assert!(best.reached.used_a_s <= allowed_a_s, "{reached:?} {schedule:?}\n{said}");
        }
    }
    // What the plan says is what its schedule comes to.
    let again = situation.reached(&best.schedule).unwrap();
    assert_eq!(again, best.reached, "{said}");
    (best.off_k == 0.0, all.len())
}

fn plan_with(situation: &Situation, low: f64, high: f64, equipment: &Equipment) -> Outcome {
    let aim = Aim { low_k: kelvin(low), high_k: kelvin(high) };
    plan_rest(situation, &aim, equipment).unwrap().best
}

#[test]
fn too_cold_is_as_wrong_as_too_hot() {
    let (day, trace) = day_of(&text_of("saturday_bracket_day"));
    let rest = rests(&day, &trace)[3].clone();
    let situation = Situation::new(&day, &trace, &rest, 0.0).unwrap();
    let nothing = situation.reached(&Schedule::NOTHING).unwrap();
    let pan = (nothing.launch_k[PAN] - 273.15) * 1.8 + 32.0;
    // As it comes: nothing is done. Below: it is cooled, but not below the window. Above: it is warmed.
    let as_it_is = plan_with(&situation, pan - 5.0, pan + 5.0, &everything());
    assert!(as_it_is.schedule.is_nothing(), "{as_it_is:?}");
    let cooler = plan_with(&situation, pan - 30.0, pan - 20.0, &everything());
    assert!(cooler.off_k == 0.0 && !cooler.schedule.pump.is_empty(), "{cooler:?}");
    // A window of this width is entered at its hot side: that takes the least charge.
    let from_top_k = kelvin(pan - 20.0) - cooler.pan_k();
    assert!((0.0..1.5).contains(&from_top_k), "{from_top_k}");
    let warmer = plan_with(&situation, pan + 12.0, pan + 25.0, &everything());
    assert!(warmer.pan_k() > nothing.launch_k[PAN] + 2.0, "{warmer:?}");
    assert!(!warmer.schedule.idle.is_empty(), "{warmer:?}");
    // In gear the held converter makes heat: more than neutral can, in the same time.
    let gear = Equipment { idle_in_gear: true, ..everything() };
    let neutral = plan_with(&situation, pan + 60.0, pan + 70.0, &everything());
    let held = plan_with(&situation, pan + 60.0, pan + 70.0, &gear);
    assert!(held.schedule.in_gear && held.pan_k() > neutral.pan_k() + 2.0, "{held:?} {neutral:?}");
}

#[test]
fn a_flat_battery_moves_nothing() {
    // Without the charger that stands in the pits, and what the engine takes on the way to the line.
    let no_charger =
        "\"battery\": { \"charger_current\": \"0 A\", \"running_current\": \"0 A\" }, \"limits\"";
    let (day, trace) = day_of(&text_of("saturday_bracket_day").replace("\"limits\"", no_charger));
    let rest = rests(&day, &trace)[5].clone();
    let mut situation = Situation::new(&day, &trace, &rest, 0.0).unwrap();
    situation.free_s = 480.0;
    let electric = Equipment { idle: false, ..everything() };
    let full = plan_with(&situation, 120.0, 130.0, &electric);
    assert!(full.reached.used_a_s > 1_000.0, "{full:?}");
    situation.charge_a_s = 700.0;
    let low = plan_with(&situation, 120.0, 130.0, &electric);
    assert!(low.reached.used_a_s <= 700.0, "{low:?}");
    // What there is is used: the aim is far away.
    assert!(low.reached.used_a_s > 350.0 && low.pan_k() > full.pan_k(), "{low:?}");
    situation.charge_a_s = 0.0;
    let flat = plan_with(&situation, 120.0, 130.0, &electric);
    assert!(flat.schedule.is_nothing(), "{flat:?}");
}

#[test]
fn where_nothing_reaches_it_says_how_close_and_how_long_it_takes() {
    let (day, trace) = day_of(&text_of("saturday_bracket_day"));
    let rest = rests(&day, &trace)[5].clone();
    let mut situation =
        Situation::new(&day, &trace, &rest, 0.0).unwrap().with_reading(kelvin(235.0), None);
    situation.free_s = 120.0;
    let aim = Aim::window(&day.setup);
    let plan = plan_rest(&situation, &aim, &everything()).unwrap();
    assert!(plan.best.off_k > 5.0, "{plan:?}");
    // Everything that helps is on all the time.
    assert!(
        plan.best.schedule.pump.length_s() > 115.0 && plan.best.schedule.fan.length_s() > 115.0
    );
    let enough_s = plan.enough_s.unwrap();
    let request = Request::new(&day, rest, everything());
    let said = summary(&day, &trace, &request, &situation, &plan, System::Us).unwrap();
    assert!(said.says.starts_with("Nothing that may be used brings the pan into the window"));
    assert!(said.says.contains("too hot"), "{}", said.says);
    assert!(!said.inside);
    // With that much time it is reached, with a fifth less it is not.
    situation.free_s = enough_s + 10.0;
    assert_eq!(plan_rest(&situation, &aim, &everything()).unwrap().best.off_k, 0.0);
    // Half a minute less is not enough.
    situation.free_s = enough_s - 30.0;
    assert!(plan_rest(&situation, &aim, &everything()).unwrap().best.off_k > 0.0);
}

/// Where the aim is out of reach, the engine is not started for next to nothing, and the least time that is enough is
/// what it says, warming up too.
#[test]
fn what_brings_next_to_nothing_is_left_away() {
    for (name, launch) in [("test_and_tune_evening", 0), ("saturday_bracket_day", 5)] {
        let (day, trace) = day_of(&text_of(name));
        let rest = rests(&day, &trace).into_iter().find(|rest| rest.launch == launch).unwrap();
        let aim = if launch == 0 {
            Aim::window(&day.setup)
        } else {
            Aim { low_k: kelvin(100.0), high_k: kelvin(110.0) }
        };
        let mut situation = Situation::new(&day, &trace, &rest, 0.0).unwrap();
        let plan = plan_rest(&situation, &aim, &everything()).unwrap();
        let Outcome { schedule, off_k, .. } = plan.best;
        assert!(off_k != 0.0, "{name}: reached");
        for without in [
            Schedule { idle: Span::default(), ..schedule },
            Schedule { fan: Span::default(), ..schedule },
            Schedule { pump: Span::default(), route: None, ..schedule },
        ] {
            let reached = situation.reached(&without).unwrap();
            let farther_k = aim.off_k(reached.launch_k[PAN]).abs() - off_k.abs();
            let cheaper = reached.used_a_s <= plan.best.reached.used_a_s;
            assert!(without == schedule || farther_k > 0.1 || !cheaper, "{name} {without:?}");
        }
        if let Some(enough_s) = plan.enough_s {
            situation.free_s = enough_s - 30.0;
            assert_ne!(
                plan_rest(&situation, &aim, &everything()).unwrap().best.off_k,
                0.0,
                "{name}"
            );
        }
    }
}

#[test]
fn a_reading_moves_what_was_computed() {
    let (day, trace) = day_of(&text_of("saturday_bracket_day"));
    let rest = rests(&day, &trace)[4].clone();
    let air_k = day.setup.air.temperature_k;
    let computed = Situation::new(&day, &trace, &rest, 0.0).unwrap().now_k;
    let read = |pan_k, shell_k| {
        let one = Situation::new(&day, &trace, &rest, 0.0).unwrap();
        one.with_reading(pan_k, shell_k).now_k
    };
    let same = read(computed[PAN], None);
    for node in 0..NODES {
        assert!((same[node] - computed[node]).abs() < 1e-9);
    }
    // Twice the rise of the pan is twice the rise of everything but the engine.
    let twice = read(2.0 * computed[PAN] - air_k, None);
    for node in Node::ALL {
        let share = if node == Node::Engine { 1.0 } else { 2.0 };
        let expected_k = air_k + share * (computed[node.index()] - air_k);
        assert!((twice[node.index()] - expected_k).abs() < 1e-9, "{node:?}");
    }
    let (fluid, shell) = (Node::ConverterFluid.index(), Node::ConverterShell.index());
    let hot = read(computed[PAN], Some(computed[shell] + 7.0));
    assert!((hot[fluid] - computed[fluid] - 7.0).abs() < 1e-9);
    // A hotter reading never makes a colder launch.
    let reached = |by_k: f64| {
        let one = Situation::new(&day, &trace, &rest, 0.0).unwrap();
        one.with_reading(computed[PAN] + by_k, None).reached(&Schedule::NOTHING).unwrap().launch_k
            [PAN]
    };
    assert!(reached(20.0) > reached(0.0) && reached(0.0) > reached(-20.0));
}

/// The plan of a day, written into its text, is simulated to what it says: the launches are as much alike, at the planned
/// temperatures, for the charge that was said.
#[test]
fn a_planned_day_comes_out_as_planned() {
    for name in ["saturday_bracket_day", "test_and_tune_evening"] {
        let text = text_of(name);
        let (day, trace) = day_of(&text);
        let aim = Aim::window(&day.setup);
        let plan = plan_day(&day, &trace, &aim, &everything()).unwrap();
        let (planned, again) = day_of(&apply(&text, &day, &plan.written()).unwrap());
        assert_eq!(again.launches.len(), trace.launches.len(), "{name}");
        assert_eq!(planned.setup, day.setup);
        for (launch, planned_k) in again.launches.iter().zip(&plan.planned_k) {
            let error_k = launch.temperature_k[PAN] - planned_k;
            assert!(error_k.abs() < 0.1, "{name} round {:?}: {error_k} K", launch.round);
        }
        // To half a degree Fahrenheit; or farther away, in a rest that is too short, but nearer than with nothing done.
        let mut short = 0;
        for (rest, plan) in &plan.rests {
            let off_k = plan.best.off_k.abs();
            short += usize::from(off_k > 0.3);
            assert!(off_k < 0.3 || off_k < 0.7 * plan.nothing.off_k.abs(), "{name} {rest:?}");
        }
        assert_eq!(short, usize::from(name == "test_and_tune_evening"), "{name}");
        let before_k = trace.launch_spread_k(Node::PanFluid);
        assert!(again.launch_spread_k(Node::PanFluid) < 0.2 * before_k, "{name}");
        let said = day_summary(&trace, &plan, System::Us);
        assert!((said.spread_planned - 1.8 * again.launch_spread_k(Node::PanFluid)).abs() < 0.3);
        assert!(said.says.starts_with("Launches "), "{}", said.says);
    }
}

/// A planned day can be planned again, with whatever there is, and again; what is planned twice stays as it is. Where the
/// day uses what the plan may not, or launches miss the window, the sentence says so.
#[test]
fn a_planned_day_can_be_planned_again() {
    let nothing = Equipment { routes: Vec::new(), fan: false, ..everything() };
    let no_idle = Equipment { idle: false, idle_in_gear: false, ..everything() };
    let in_neutral = Equipment { idle_in_gear: false, ..nothing.clone() };
    for equipment in [nothing, no_idle, in_neutral] {
        let mut text = text_of("saturday_bracket_day");
        let mut before: Option<f64> = None;
        for _ in 0..3 {
            let (day, trace) = day_of(&text);
            let plan = plan_day(&day, &trace, &Aim::window(&day.setup), &equipment).unwrap();
            let apart_k = spread_k(&plan.planned_k);
            if let Some(before_k) = before {
                assert!(apart_k < before_k + 0.3, "{equipment:?}: {before_k} K, then {apart_k} K");
            }
            before = Some(apart_k);
            let said = day_summary(&trace, &plan, System::Us).says;
            let aim = Aim::window(&day.setup);
            let missed = plan.planned_k.iter().filter(|k| aim.off_k(**k).abs() > 0.3).count();
            assert_eq!(missed > 0, said.contains("still miss the window"), "{said}");
            let wider = apart_k > spread_k(&plan.before_k) + 0.5;
            assert_eq!(wider, said.contains("farther apart than the day as it stands"), "{said}");
            text = apply(&text, &day, &plan.written()).unwrap();
        }
    }
}

/// One rest written into the text in every way: a change of one round, a round alone with the engine started, after
/// some minutes have passed, with another call; and among single events.
#[test]
fn a_schedule_is_written_where_it_belongs() {
    let text = text_of("saturday_bracket_day");
    let (day, trace) = day_of(&text);
    let rest = rests(&day, &trace)[3].clone();
    let schedule = Schedule {
        route: Some(Route::PanLoop),
        pump: Span::new(60.0, 300.0),
        fan: Span::new(60.0, 200.0),
        ..Schedule::NOTHING
    };
    let idling = Schedule { idle: Span::new(240.0, 360.0), ..schedule };
    for (schedule, into_s, free_s) in [
        (schedule, 0.0, rest.end_s - rest.start_s),
        (schedule, 0.0, 500.0),
        (idling, 0.0, rest.end_s - rest.start_s),
        (idling, 240.0, 700.0),
        (Schedule::NOTHING, 0.0, 2_400.0),
    ] {
        let mut situation = Situation::new(&day, &trace, &rest, into_s).unwrap();
        situation.free_s = free_s;
        let expected = situation.reached(&schedule).unwrap();
        let plan = Written { rest: rest.clone(), into_s, free_s, schedule };
        let written = apply(&text, &day, &[plan]).unwrap();
        let (_, again) = day_of(&written);
        let launch = &again.launches[rest.launch];
        let error_k = launch.temperature_k[PAN] - expected.launch_k[PAN];
        assert!(error_k.abs() < 0.05, "{schedule:?} {into_s} {free_s}: {error_k} K");
        // What comes before is as it was, and the call is when it was said to be.
        for before in 0..rest.launch {
            assert_eq!(again.launches[before], trace.launches[before]);
        }
        let later_s = launch.time_s - trace.launches[rest.launch].time_s;
        let moved_s = into_s + free_s - (rest.end_s - rest.start_s);
        assert!((later_s - moved_s).abs() < 0.2, "{later_s} {moved_s}");
        assert_eq!(again.launches.len(), trace.launches.len());
    }
    // Switches only: the other rounds stay one item, and the text little longer.
    let free_s = rest.end_s - rest.start_s;
    let plan = Written { rest, into_s: 0.0, free_s, schedule };
    let written = apply(&text, &day, &[plan]).unwrap();
    assert_eq!(written.matches("\"rounds\"").count(), 1);
    assert_eq!(written.matches("\"change\"").count(), 1);
}

#[test]
fn single_events_are_planned_too() {
    let text = r#"{"format": 1, "name": "Two passes", "setup": {"limits": {"window_low": "150 °F", "window_high": "160 °F"}},
        "initial_temperatures": {"all": "150 °F"}, "timeline": [
        {"event": "brake_hold", "duration": "3 s"}, {"event": "pass"}, {"event": "return_road", "duration": "2 min"},
        {"event": "engine_off", "name": "Pits", "duration": "25 min"}, {"event": "idle", "duration": "90 s"},
        {"event": "brake_hold", "duration": "3 s"}, {"event": "pass"}, {"event": "engine_off", "duration": "5 min"}]}"#;
    let (day, trace) = day_of(text);
    let found = rests(&day, &trace);
    assert_eq!(found.len(), 1);
    let situation = Situation::new(&day, &trace, &found[0], 0.0).unwrap();
    let plan = plan_rest(&situation, &Aim::window(&day.setup), &everything()).unwrap();
    let written = Written {
        rest: found[0].clone(),
        into_s: 0.0,
        free_s: situation.free_s,
        schedule: plan.best.schedule,
    };
    let (_, again) = day_of(&apply(text, &day, &[written]).unwrap());
    let error_k = again.launches[1].temperature_k[PAN] - plan.best.pan_k();
    assert!(error_k.abs() < 0.1, "{error_k} K");
}

#[test]
fn a_day_without_a_rest_is_refused_by_name() {
    let text = r#"{"format": 1, "name": "Bench", "timeline": [{"event": "dyno_pull", "duration": "20 s"}]}"#;
    let (day, trace) = day_of(text);
    let error = plan_day(&day, &trace, &Aim::window(&day.setup), &everything()).unwrap_err();
    assert_eq!(error.field, "timeline");
    assert!(error.remedy.contains("engine_off"), "{error}");
}

/// A day with a plan in it, asked the same again, gets the same plan: what was put in is planned anew, idles and all.
#[test]
fn a_planned_rest_is_planned_the_same_again() {
    let text = text_of("saturday_bracket_day");
    let without_pump = Equipment { routes: Vec::new(), ..everything() };
    let cold = Aim { low_k: kelvin(190.0), high_k: kelvin(200.0) };
    let window = Aim { low_k: kelvin(150.0), high_k: kelvin(170.0) };
    for (launch, equipment, aim) in
        [(5, &without_pump, window), (0, &everything(), cold), (3, &without_pump, cold)]
    {
        let asked = |text: &str| {
            let (day, trace) = day_of(text);
            let rest = rests(&day, &trace).into_iter().find(|rest| rest.launch == launch).unwrap();
            let situation = Situation::new(&day, &trace, &rest, 0.0).unwrap();
            let plan = plan_rest(&situation, &aim, equipment).unwrap();
            let (free_s, schedule) = (situation.free_s, plan.best.schedule);
            let written = Written { rest, into_s: 0.0, free_s, schedule };
            (plan.best, apply(text, &day, &[written]).unwrap())
        };
        let (first, once) = asked(&text);
        assert!(!first.schedule.idle.is_empty(), "{launch}: {first:?}");
        let (second, twice) = asked(&once);
        assert!((first.pan_k() - second.pan_k()).abs() < 0.05, "{first:?}\n{second:?}");
        assert_eq!(once, twice, "{launch}");
    }
}

/// Part of a planned rest is over: what was done until then stays, and the rest of it is planned.
#[test]
fn the_past_of_a_planned_rest_stays() {
    let text = text_of("saturday_bracket_day");
    let (day, trace) = day_of(&text);
    let rest = rests(&day, &trace)[3].clone();
    let free_s = rest.end_s - rest.start_s;
    let idle = Span::new(120.0, 300.0);
    let first = Schedule { idle, fan: idle, ..Schedule::NOTHING };
    let written = Written { rest, into_s: 0.0, free_s, schedule: first };
    let once = apply(&text, &day, &[written]).unwrap();
    let (day, trace) = day_of(&once);
    let rest = rests(&day, &trace)[3].clone();
    assert_eq!(rest.pieces.len(), 3);
    assert!((rest.end_s - rest.start_s - free_s).abs() < 0.2);
    // In the middle of the idle, the fan and nothing else from now on.
    let into_s = 200.0;
    let situation = Situation::new(&day, &trace, &rest, into_s).unwrap();
    let then = Schedule { fan: Span::new(0.0, 90.0), ..Schedule::NOTHING };
    let expected = situation.reached(&then).unwrap();
    let launch = rest.launch;
    let written = Written { rest, into_s, free_s: situation.free_s, schedule: then };
    let (_, again) = day_of(&apply(&once, &day, &[written]).unwrap());
    let error_k = again.launches[launch].temperature_k[PAN] - expected.launch_k[PAN];
    assert!(error_k.abs() < 0.05, "{error_k} K");
    let late_s = again.launches[launch].time_s - trace.launches[launch].time_s;
    assert!(late_s.abs() < 0.2, "{late_s} s");
}

/// The battery of a planned day is charged between the rests, as the simulated day has it, and keeps its reserve as far
/// as the plan can help it.
#[test]
fn a_small_battery_is_charged_between_the_rests() {
    for capacity_ah in [8.0_f64, 20.0] {
        let battery =
            format!("\"setup\": {{ \"battery\": {{ \"capacity\": \"{capacity_ah} Ah\" }},");
        let text = text_of("saturday_bracket_day").replacen("\"setup\": {", &battery, 1);
        let (day, trace) = day_of(&text);
        let plan = plan_day(&day, &trace, &Aim::window(&day.setup), &everything()).unwrap();
        for pan_k in &plan.planned_k {
            assert_eq!(plan.aim.off_k(*pan_k), 0.0, "{capacity_ah} Ah: {pan_k} K");
        }
        let (_, planned) = day_of(&apply(&text, &day, &plan.written()).unwrap());
        for (rest, of) in &plan.rests {
            let end_s = planned.launches[rest.launch].time_s;
            let from_s =
                planned.launches.get(rest.launch.wrapping_sub(1)).map_or(0.0, |l| l.time_s);
            let least_a_s = planned
                .samples
                .iter()
                .filter(|sample| sample.time_s > from_s && sample.time_s <= end_s)
                .map(|sample| sample.charge_a_s)
                .fold(f64::INFINITY, f64::min);
            let floor_a_s = 0.5 * capacity_ah * 3_600.0;
            let nothing = of.best.schedule.is_nothing();
            assert!(
                nothing || least_a_s >= floor_a_s.min(of.nothing.reached.least_a_s) - 40.0,
                "{capacity_ah} Ah, launch {}: {least_a_s} A·s",
                rest.launch
            );
        }
    }
}

/// What is cooled early warms again: where the last minutes before the call do with less charge, they are taken.
#[test]
fn the_least_charge_may_be_the_latest() {
    let (day, trace) = day_of(&text_of("saturday_bracket_day"));
    let rest = rests(&day, &trace)[1].clone();
    let situation = Situation::new(&day, &trace, &rest, 0.0).unwrap();
    let equipment = Equipment { routes: vec![Route::ThroughConverter], ..everything() };
    let best = plan_with(&situation, 130.0, 140.0, &equipment);
    assert_eq!(best.off_k, 0.0);
    let free_s = situation.free_s;
    for seconds in [280.0, 300.0, 310.0, 320.0, 340.0] {
        let pump = Span::new(free_s - seconds, free_s);
        let late =
            Schedule { route: Some(Route::ThroughConverter), pump, fan: pump, ..Schedule::NOTHING };
        let reached = situation.reached(&late).unwrap();
        if (kelvin(130.5)..=kelvin(139.5)).contains(&reached.launch_k[PAN]) {
            assert!(
                best.reached.used_a_s <= 1.05 * reached.used_a_s + 440.0,
                "{best:?} {reached:?}"
            );
        }
    }
}
