//! docs/validation.md: every comparison of this folder, made anew and written down, with what is not validated.
//!
//! `STALLHEAT_UPDATE=1 cargo test --test validation` writes it; without, the page must be what these checks give now.
//! Differences below 1e-6 are not printed as numbers, for they are rounding and may change with a compiler.

use std::fmt::Write;

use stallheat::chart::drawing::Anchor;
use stallheat::chart::style::inks;
use stallheat::chart::{Options, blank, svg};
use stallheat::error::Error;

use crate::common::check_or_update;
use crate::{
    Allowed, CHECKS, Check, accuracy, air_and_vehicle, analytic, converters, exchangers,
    hydraulics, independent, life, nist, oils, pass, surfaces, trade,
};

/// What a test function gives back.
trait Held {
    fn held(self);
}

impl Held for () {
    fn held(self) {}
}

impl Held for Result<(), Error> {
    fn held(self) {
        self.unwrap_or_else(|error| panic!("{error}"));
    }
}

/// A test and where its numbers are from.
struct Proof {
    name: &'static str,
    source: &'static str,
    run: fn(),
}

macro_rules! proofs {
    ($($module:ident::$name:ident, $source:expr;)*) => {
        &[$(Proof {
            name: concat!(stringify!($module), "::", stringify!($name)),
            source: $source,
            run: || $module::$name().held(),
        }),*]
    };
}

struct Area {
    title: &'static str,
    words: &'static str,
    proofs: &'static [Proof],
}

const INCROPERA: &str = "Bergman et al. (Incropera), *Fundamentals of Heat and Mass Transfer*";

const AREAS: &[Area] = &[
    Area {
        title: "Solver and network",
        words: "The types that simulate a race day, on problems with a known answer. Book: Bergman, Lavine, Incropera & \
                DeWitt, *Fundamentals of Heat and Mass Transfer*; where it rounds, its numbers were computed again with \
                SciPy 1.17.1 (DOP853, rtol 1e-12).",
        proofs: proofs! {
            analytic::incropera_example_5_2_convection_and_radiation, "Incropera, eq. 5.15, example 5.2";
            analytic::incropera_example_5_3_two_phases_with_events, "Incropera, example 5.3";
            analytic::radiation_only_closed_form, "Incropera, eq. 5.18, closed form";
            analytic::natural_convection_closed_form, "Incropera, eq. 5.28, closed form";
            analytic::two_bodies_closed_form, "matrix exponential (SciPy)";
            analytic::stiff_linear_closed_form, "closed form, time constants 1 : 1000";
            analytic::six_node_linear_network, "matrix exponential (tests/data/network_reference.json)";
            analytic::six_node_nonlinear_network_through_a_timeline, "reference solution in eight phases (the same file)";
            analytic::error_follows_tolerance, "closed form, e⁻ᵗ";
            analytic::error_falls_with_the_fifth_power_of_the_step, "order of Dormand and Prince’s method, J. Comput. Appl. Math. 6 (1980) 19";
            analytic::continuous_extension_and_events, "closed form, sin t";
            analytic::what_cannot_be_integrated_is_refused, "refusals";
        },
    },
    Area {
        title: "Exchangers",
        words: "Effectiveness of coolers. Books: Incropera, chapter 11; Holman, *Heat Transfer*, tenth edition, chapter 10.",
        proofs: proofs! {
            exchangers::effectiveness_tables_of_five_arrangements, "closed forms and the exact series, computed with ht 1.2";
            exchangers::all_arrangements_agree_when_one_stream_does_not_change_temperature, "closed form, 1 − e^(−NTU)";
            exchangers::unmixed_crossflow_is_the_exact_series_and_not_the_approximation, "exact series; Incropera eq. 11.32 is 1 % above it";
            exchangers::unmixed_series_stays_exact_for_very_small_and_very_large_exchangers, "the series with 40 digits (mpmath)";
            exchangers::effectiveness_rises_with_size_falls_with_ratio_and_keeps_its_order, "what holds for every exchanger";
            exchangers::incropera_11_1_engine_oil_cooler, "Incropera, example 11.1";
            exchangers::incropera_11_3_size_of_a_finned_crossflow_exchanger, "Incropera, example 11.3";
            exchangers::incropera_11_4_the_same_exchanger_at_another_duty, "Incropera, example 11.4";
            exchangers::holman_10_9_oil_heated_by_steam, "Holman, example 10.9";
        },
    },
    Area {
        title: "Surfaces",
        words: "Convection, radiation, and the air they rest on. The correlations themselves are good to 15 to 25 %.",
        proofs: proofs! {
            surfaces::incropera_9_2_vertical_glass_door, "Incropera, example 9.2";
            surfaces::incropera_9_3_box_with_sides_top_and_bottom, "Incropera, example 9.3";
            surfaces::incropera_9_4_horizontal_pipe_with_radiation, "Incropera, example 9.4";
            surfaces::incropera_7_4_cylinder_in_cross_flow, "Incropera, example 7.4, which has a measured value";
            surfaces::flat_plate_laminar_and_mixed, "Incropera, eq. 7.30 and 7.38";
            surfaces::radiation_between_grey_surface_and_surroundings, "ht 1.2; closed form with the constant of CODATA 2018";
            surfaces::air_against_incropera_table_a_4, "Incropera, Table A.4 (from memory of the book)";
            surfaces::air_viscosity_and_density_of_the_standard_atmosphere, "ISO 2533 (fluids 1.3)";
        },
    },
    Area {
        title: "Oil",
        words: "Viscosity, density, heat. The printed table is one measured oil, the formulas are averages over petroleum: \
                the checks state how far apart the two are.",
        proofs: proofs! {
            oils::walther_lines_of_two_typical_fluids, "ASTM D341, short form";
            oils::walther_line_through_two_points_of_table_a5_predicts_the_others, "ASTM D341; Incropera, Table A.5";
            oils::cragoe_specific_heat, "NBS Misc. Pub. 97";
            oils::cragoe_conductivity_and_its_disagreement_with_table_a5, "NBS Misc. Pub. 97; 8 to 11.5 % below Incropera, Table A.5";
            oils::density_by_table_54d, "API MPMS 11.1 / ASTM D1250, Table 54D";
            oils::enthalpy_difference_of_the_printed_oil, "Incropera, Table A.5, trapezoids; temperature from enthalpy on the way back, of every fluid, by the program itself";
            oils::classes_keep_to_the_published_grade_limits, "SAE J300 (2015); SAE 710838";
        },
    },
    Area {
        title: "Hydraulics",
        words: "Hoses and pumps.",
        proofs: proofs! {
            hydraulics::darcy_friction_factors, "Colebrook 1939, solved exactly (fluids 1.3)";
            hydraulics::friction_factor_against_explicit_formulas, "Haaland 1983; Swamee & Jain 1976: each within 2 % by their authors";
            hydraulics::pressure_drop_of_a_smooth_hose, "Darcy and Weisbach (fluids 1.3)";
            hydraulics::leakage_of_a_pump_through_a_slot, "closed form of the slot";
        },
    },
    Area {
        title: "Torque converters",
        words: "Converters that others have published with numbers.",
        proofs: proofs! {
            converters::eu_generic_formula_gives_the_regulators_table, "Commission Regulation (EU) 2017/2400, Annex VI, Appendix 9";
            converters::eu_generic_operating_points, "the regulator’s generic data file";
            converters::chrono_table_of_k_factors, "Project Chrono (BSD-3), AutomaticTransmissionShafts.json";
            converters::kotwicki_quadratic_in_the_converter_phase, "Kotwicki, SAE 820393, as quoted by Cho & Hedrick 1989";
            converters::stall_match_with_a_closed_form, "closed form, a quadratic";
            converters::k_factor_units, "SAE J643";
        },
    },
    Area {
        title: "Air and vehicle",
        words: "",
        proofs: proofs! {
            air_and_vehicle::standard_atmosphere_at_geometric_altitudes, "ISO 2533, U.S. Standard Atmosphere 1976 (fluids 1.3)";
            air_and_vehicle::standard_atmosphere_at_a_geopotential_kilometre, "ISO 2533, table";
            air_and_vehicle::humid_air, "ASHRAE RP-1485 (CoolProp 8.0)";
            air_and_vehicle::saturation_pressure_of_water, "Hyland & Wexler 1983 against IAPWS-95 (from memory)";
            air_and_vehicle::density_altitude_of_a_hot_humid_day, "CoolProp 8.0 and the closed form";
            air_and_vehicle::power_correction, "SAE J1349, June 1990, from a secondary quotation";
            air_and_vehicle::force_of_rolling_and_drag, "handbook ranges (Gillespie; Wong; Bosch; from memory)";
        },
    },
    Area {
        title: "The pass",
        words: "Motion of a car with a constant power or grip has closed forms. Quarter miles of twenty sensible cars must lie \
                in the band that three published relations between weight, power, time and speed span.",
        proofs: proofs! {
            pass::traction_then_power_closed_form, "closed form";
            pass::constant_power_with_drag_closed_form, "closed form; SciPy 1.17.1, DOP853";
            pass::constant_power_without_losses, "Fox, Am. J. Phys. 41 (1973) 311";
            pass::spinning_all_the_way_is_constant_acceleration, "closed form";
            pass::traction_limit_satisfies_its_own_equation, "its own equation";
            pass::energy_of_a_pass_balances, "energy: heat, drag and motion together";
            pass::quarter_miles_lie_in_the_published_band, "Huntington, Fox, Hale, by way of hobby pages: a sanity band";
            pass::the_converter_makes_most_heat_and_early, "common practice, no source";
            pass::thinner_fluid_means_more_engine_speed, "common practice, no source";
            pass::marks_are_located, "itself at a tighter tolerance";
            pass::a_car_that_never_arrives_is_explained, "refusals";
        },
    },
    Area {
        title: "Life of fluid, seals, skin",
        words: "",
        proofs: proofs! {
            life::activation_energy_of_a_doubling_per_ten_kelvin, "closed form";
            life::dose_of_a_ramp, "closed form";
            life::trade_table_of_fluid_life, "common practice, no source";
            life::limits_of_seals_and_skin_lie_in_published_ranges, "rubber handbooks, ASTM D2000 (from memory)";
        },
    },
    Area {
        title: "Least squares of a fit",
        words: "The optimiser of `fit` on NIST’s Statistical Reference Datasets for nonlinear regression, from both of their \
                starts, derivatives by differences as in a fit. Eleven digits are certified.",
        proofs: proofs! {
            nist::certified_values_are_reached_from_both_starts, "NIST StRD (tests/data/nist)";
            nist::a_parameter_is_held_at_its_limit, "by hand";
        },
    },
    Area {
        title: "The whole model, written twice",
        words: "tests/reference/twin.py is a second implementation in Python and SciPy, written from docs/model.md and not \
                from this code: another integrator (LSODA, rtol 1e-9), another series for the cooler, no tables. Largest \
                difference over all its days, among them every example and all random ones. It shares the model’s assumptions, \
                so it finds errors of programming, not of physics.",
        proofs: proofs! {
            independent::every_day_is_that_of_the_independent_implementation, "tests/reference/twin.py (SciPy 1.17.1)";
            independent::published_days_are_those_of_the_folder, "the days are current";
            independent::the_days_use_everything, "every event, path and ending occurs";
        },
    },
    Area {
        title: "Error control",
        words: "Days at the default tolerance against the same days at 1e-10.",
        proofs: proofs! {
            accuracy::twelve_hour_day_within_a_twentieth_of_a_kelvin, "itself at 1e-10";
            accuracy::computed_passes_within_a_millisecond, "itself at 1e-10";
            accuracy::outline_within_a_twentieth_of_a_kelvin, "itself at 1e-10; what bands, plans and fits simulate";
            accuracy::tabulated_convection_follows_its_correlation, "the correlation it tabulates";
            accuracy::work_grows_in_proportion_to_rounds, "a straight line through 5 and 40 rounds";
            accuracy::days_on_one_transmission_do_not_touch_each_other, "the same day alone, to the last bit";
        },
    },
    Area {
        title: "Facts of the trade",
        words: "Infrared readings on one kind of unit on one kind of day, held to the width that such readings have, about \
                8 °F, 10 °F after twenty minutes. The defaults of transmission and cooler were chosen such that one set satisfies all: this \
                is calibration, and shows that one set can. Common practice, no source.",
        proofs: proofs! {
            trade::six_seconds_on_the_brake, "common practice, no source";
            trade::five_minutes_of_circulation_through_the_converter, "common practice, no source";
            trade::twenty_minutes_between_late_rounds, "common practice, no source";
        },
    },
];

const NOT_VALIDATED: &str = "\
## What is not validated

No measured race day stands behind this program: nobody has published one with temperatures, flows and speeds. What \
follows is judgement, and how large the doubt is comes from the spreads of docs/parameters.md.

| what | why not | how large the doubt is |
|---|---|---|
| temperatures of a given car, before any reading | the conductances inside a case are nobody’s published numbers | the \
pan at the last launch of the Saturday is computed as 160 °F, and `stallheat band scenarios/saturday_bracket_day.json` \
puts nineteen of twenty such cars between 150 and 172 °F; a fit to readings narrows it |
| heat between converter and the rest, standing and turning | defaults from three facts of the trade | 25 % of each \
conductance, one deviation, in the band |
| splash, windage and drag of clutches by speed | one torque that goes with viscosity | 30 %, one deviation, in the band |
| stall against temperature | capacity goes with density and a share of viscosity by one coefficient | the sign is \
known, the size is not; ET of a hot car is a tendency, not a number |
| elapsed times of a given car | published quarter-mile relations only; no traction model beyond one grip | about a \
tenth of a second in the band; differences between two days of one car are better |
| cooler in the pits | rating by its maker or UA; air by the fan’s free flow or as stated | the rating’s own, often ±20 % |
| foaming, cavitation, a blocked filter, a failed seal | not modelled | look, do not compute |
| ageing of fluid | the trade’s rule of 20 °F | a factor of two either way |
| infrared thermometers | Planck’s law in the band of 8 to 14 µm, grey surfaces | the emissivity is most of it, and is fitted |

The bench sheet’s false alarms and the fit’s intervals are checked on units simulated by this same model (tests/bench.rs, \
tests/fit.rs): that shows that the statistics are right, not that the physics is.
";

/// A number as a table has it: six digits.
fn number(value: f64) -> String {
    if value == 0.0 {
        return "0".to_string();
    }
    if !(1e-4..1e7).contains(&value.abs()) {
        return format!("{value:.3e}").replace('-', "−");
    }
    let digits = (5 - value.abs().log10().floor() as i32).clamp(0, 9) as usize;
    let text = format!("{value:.digits$}");
    let text =
        if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    text.replace('-', "−")
}

/// A small number of two digits, or that it is rounding.
fn small(value: f64, allowed: f64) -> String {
    match value {
        _ if value < 1e-6 && allowed < 1e-6 => format!("< {}", power(allowed)),
        _ if value < 1e-6 => "< 1e−6".to_string(),
        _ => power(value),
    }
}

fn power(value: f64) -> String {
    if (1e-3..1e3).contains(&value) {
        let digits = (1 - value.log10().floor() as i32).clamp(0, 6) as usize;
        format!("{value:.digits$}")
    } else {
        format!("{value:.0e}").replace('-', "−")
    }
}

impl Check {
    /// How far it is off, and how far it may be.
    fn off(&self) -> (f64, f64) {
        let off = (self.found - self.against).abs();
        match self.allowed {
            Allowed::Share(share) => (off / self.against.abs(), share),
            Allowed::Difference(difference) => (off, difference),
            Allowed::AtMost => (self.found, self.against),
            Allowed::AtLeast => (self.against, self.found),
        }
    }

    fn row(&self, what: &str, source: &str) -> String {
        let (off, allowed) = self.off();
        match self.allowed {
            Allowed::Share(_) | Allowed::Difference(_) => format!(
                "| {what} | {source} | {} | {} | {} | {} |\n",
                number(self.against),
                number(self.found),
                small(off, allowed),
                power(allowed)
            ),
            Allowed::AtMost => {
                format!(
                    "| {what} | {source} | | {} | | {} |\n",
                    small(off, allowed),
                    power(allowed)
                )
            }
            // How many digits are reached beyond the least changes with a compiler.
            Allowed::AtLeast => {
                let least = number(self.against);
                format!("| {what} | {source} | | {least} or more | | at least {least} |\n")
            }
        }
    }
}

/// The rows of a test: of all that are called the same the one that is nearest to its limit.
fn rows(proof: &Proof, checks: &[Check]) -> String {
    if checks.is_empty() {
        let what = proof.name.split("::").last().unwrap_or_default().replace('_', " ");
        return format!("| {what} | {} | | holds | | |\n", proof.source);
    }
    let mut names: Vec<&str> = Vec::new();
    for check in checks {
        if !names.contains(&check.what.as_str()) {
            names.push(&check.what);
        }
    }
    let mut text = String::new();
    for name in names {
        let same: Vec<&Check> = checks.iter().filter(|check| check.what == name).collect();
        let used = |check: &&&Check| {
            let (off, allowed) = check.off();
            if allowed > 0.0 { off / allowed } else { 0.0 }
        };
        let worst = same.iter().max_by(|a, b| used(a).total_cmp(&used(b)));
        let what = if same.len() > 1 {
            format!("{name} ({} numbers)", same.len())
        } else {
            name.to_string()
        };
        // Where all is rounding, which one is worst is chance: the first stands for them.
        let shown = match worst {
            Some(worst) if worst.off().0 >= 1e-6 => *worst,
            _ => same[0],
        };
        text += &shown.row(&what, proof.source);
    }
    text
}

/// Error against steps, both in powers of ten.
fn drawn(points: &[(f64, f64)]) -> String {
    let (width_px, height_px) = (520.0, 260.0);
    let options = Options { width_px, height_px, paper: true, ..Options::default() };
    let (left, right, top, bottom) = (60.0, width_px - 16.0, 24.0, height_px - 40.0);
    let inks = inks(false);
    let mut drawing = blank("chart", 40.0..=2_000.0, &options).unwrap();
    let x = |steps: f64| left + (steps.log10() - 1.0) / 2.0 * (right - left);
    let y = |error: f64| bottom - (error.log10() + 10.0) / 11.0 * (bottom - top);
    for exponent in (-10..=0).step_by(2) {
        let at = y(10f64.powi(exponent));
        drawing.stroke((left, at), (right, at), inks.grid, 1.0);
        let text = format!("1e{exponent}").replace('-', "−");
        drawing.text(&text, (left - 7.0, at), inks.text, Anchor::Left);
    }
    for steps in [10.0, 100.0, 1000.0] {
        drawing.stroke((x(steps), top), (x(steps), bottom), inks.grid, 1.0);
        drawing.text(&format!("{steps:.0}"), (x(steps), bottom + 8.0), inks.text, Anchor::Below);
    }
    drawing.text("error, K", (4.0, 10.0), inks.text, Anchor::Right);
    drawing.text("steps", ((left + right) / 2.0, bottom + 22.0), inks.text, Anchor::Below);
    drawing.line(
        points.iter().map(|(steps, error)| (x(*steps), y(*error))).collect(),
        inks.mark,
        1.5,
    );
    for (steps, error) in points {
        let (x, y) = (x(*steps), y(*error));
        drawing.rectangle((x - 3.0, y - 3.0), (x + 3.0, y + 3.0), inks.mark, 1.0);
    }
    svg::write(
        &drawing,
        &options,
        "Error against steps",
        "Largest error in K over the number of steps, both in powers of ten.",
    )
    .unwrap()
}

/// Work against error, as a table and a picture.
fn work() -> (String, String) {
    let mut text = String::from(
        "## Work against error\n\nThe linear six-node network over 30 minutes against the matrix exponential. At loose \
         tolerances stability bounds the step (a time constant of seconds beside one of hours), so that the error falls \
         while the number of steps does not grow; then it grows as the fifth root of one over the error.\n\n\
         ![Error against steps](pictures/validation_work.svg)\n\n| tolerance | steps | largest error, K |\n|---|---|---|\n",
    );
    let mut points = Vec::new();
    for exponent in 3..=10 {
        let (steps, error_k) = analytic::work_and_error(10f64.powi(-exponent));
        // Below, rounding would move the line from one compiler to another.
        if error_k > 1e-6 {
            points.push((f64::from(steps), error_k));
        }
        writeln!(text, "| 1e−{exponent} | {steps} | {} |", small(error_k, 1e-6)).unwrap();
    }
    text.push('\n');
    (text, drawn(&points))
}

fn page() -> (String, String) {
    let mut areas = String::new();
    let (mut tests, mut numbers) = (0, 0);
    CHECKS.take();
    for area in AREAS {
        writeln!(areas, "## {}\n", area.title).unwrap();
        if !area.words.is_empty() {
            writeln!(areas, "{}\n", area.words).unwrap();
        }
        areas.push_str(
            "| what | source | expected | found | off by | allowed |\n|---|---|---|---|---|---|\n",
        );
        for proof in area.proofs {
            (proof.run)();
            let checks = CHECKS.take();
            tests += 1;
            numbers += checks.len();
            areas += &rows(proof, &checks);
        }
        areas.push('\n');
    }
    let (work, picture) = work();
    let text = format!(
        "# Validation\n\nMade by `STALLHEAT_UPDATE=1 cargo test --test validation`; do not edit. Every build of this page \
         makes all comparisons anew, and the checks fail when it is not fresh.\n\n{tests} tests with {numbers} numbers: \
         against print, standards, open data, closed forms and programs of others, and, where a row says so, against this \
         program itself at a tighter tolerance, on a way back or by another of its ways. \"Off by\" is a share of the expected value where what is allowed \
         is one, else in the unit of the row; of numbers that are called the same the one nearest to its limit is \
         shown. Wide limits say how far a formula is from print or nature, narrow ones test the arithmetic. \"Incropera\" \
         is {INCROPERA}.\n\nFurther proof that is not numbers of others: random set-ups and days that close their ledger to \
         1e-9 or are refused by name (tests/random.rs), the planner against brute force (tests/plan.rs), sizes against \
         brute force (tests/size.rs), coverage of the fit’s intervals (tests/fit.rs), bands against JCGM 101 \
         (tests/band.rs), false alarms of the bench sheet (tests/bench.rs).\n\n{areas}{work}{NOT_VALIDATED}"
    );
    (text, picture)
}

#[test]
fn the_page_is_fresh() {
    let (text, picture) = page();
    check_or_update("docs/pictures/validation_work.svg", &picture, "validation");
    check_or_update("docs/validation.md", &text, "validation");
}

/// Every test of this folder is on the page.
#[test]
fn nothing_is_left_out() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/validation");
    let listed: Vec<&str> =
        AREAS.iter().flat_map(|area| area.proofs).map(|proof| proof.name).collect();
    let mut counted = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let module = path.file_stem().unwrap().to_str().unwrap().to_string();
        let text = std::fs::read_to_string(&path).unwrap();
        if module == "page" {
            continue;
        }
        for part in text.split("#[test]\n").skip(1) {
            let name = part.trim_start_matches("pub fn ").split('(').next().unwrap();
            let name = format!("{module}::{name}");
            assert!(listed.contains(&name.as_str()), "{name} is not on the page");
            counted += 1;
        }
    }
    assert_eq!(counted, listed.len());
}
