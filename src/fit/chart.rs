//! Pictures of a fit: temperatures of the places that were read, as stated and as fitted, with the readings beside them;
//! and what is left of each reading after the fit.
//!
//! A reading is drawn at the temperature that its place had, seen through the fitted emissivity. Every place has a mark
//! of its own and its name at its line, so that none is told by its colour alone.

use super::outcome::spot_of;
use super::{Fit, Question};
use crate::chart::axis::Axis;
use crate::chart::drawing::{Anchor, Drawing, Ink, Point, text_width_px};
use crate::chart::frame::{Frame, LEFT_PX};
use crate::chart::style::{inks, line_style};
use crate::chart::{ChartError, Options, blank, svg};
use crate::error::Error;
use crate::readings::{Place, Reading, Scene};
use crate::scenario::Scenario;
use crate::simulate::simulate_outline;
use crate::timeline::Node;
use crate::transmission::Transmission;
use crate::units::{System, temperature_difference_in, temperature_in, temperature_symbol};

/// Times that a curve is taken at.
const POINTS: usize = 240;
/// Half the width of a mark (CSS pixels).
const MARK_PX: f64 = 4.5;
/// Half the width of the bar of two deviations to either side (CSS pixels).
const BAR_PX: f64 = 3.5;

/// All that the pictures show, SI.
#[derive(Debug, Clone)]
pub struct Picture {
    start_s: f64,
    end_s: f64,
    curves: Vec<Curve>,
    marks: Vec<Mark>,
}

/// The curves of a place, in pieces where it has no temperature in between: (s, K).
#[derive(Debug, Clone)]
struct Curve {
    place: Place,
    stated: Vec<Vec<(f64, f64)>>,
    fitted: Vec<Vec<(f64, f64)>>,
}

#[derive(Debug, Clone)]
struct Mark {
    number: usize,
    place: Place,
    time_s: f64,
    corrected_k: f64,
    /// Read less fitted (K), where the model has a temperature.
    off_k: Option<f64>,
    deviation_k: f64,
    outlier: bool,
    left_out: bool,
}

/// Computes what the pictures show.
pub fn picture(question: &Question, fit: &Fit) -> Result<Picture, Error> {
    let air_k = question.scenario.setup.air.temperature_k;
    let marks: Vec<Mark> = question
        .readings
        .iter()
        .zip(&fit.comparisons)
        .enumerate()
        .map(|(i, (reading, comparison))| Mark {
            number: i + 1,
            place: reading.place,
            time_s: reading.time_s,
            corrected_k: corrected_k(reading, fit, air_k),
            off_k: comparison.after_k.map(|after_k| reading.shown_k - after_k),
            deviation_k: reading.deviation_k * fit.widened,
            outlier: comparison.outlier,
            left_out: comparison.left_out,
        })
        .collect();
    let first_s = marks.iter().map(|mark| mark.time_s).fold(f64::INFINITY, f64::min);
    let last_s = marks.iter().map(|mark| mark.time_s).fold(0.0, f64::max);
    let margin_s = (0.08 * (last_s - first_s)).max(60.0);
    let span = ((first_s - margin_s).max(0.0), last_s + margin_s);
    let places: Vec<Place> =
        Place::ALL.into_iter().filter(|place| marks.iter().any(|m| m.place == *place)).collect();
    let fitted = Scenario { setup: fit.setup.clone(), ..question.scenario.clone() };
    let before = curves_of(question.scenario, &places, span)?;
    let after = curves_of(&fitted, &places, span)?;
    let curves = places
        .into_iter()
        .zip(before.into_iter().zip(after))
        .map(|(place, (stated, fitted))| Curve { place, stated, fitted })
        .collect();
    Ok(Picture { start_s: span.0, end_s: span.1, curves, marks })
}

fn corrected_k(reading: &Reading, fit: &Fit, air_k: f64) -> f64 {
    let Some((emissivity, _)) = reading.surface_emissivity() else { return reading.shown_k };
    let emissivity = spot_of(&fit.surfaces, reading).map_or(emissivity, |spot| spot.after);
    reading.look(emissivity, air_k).true_k(reading.shown_k)
}

type Pieces = Vec<Vec<(f64, f64)>>;

fn curves_of(
    day: &Scenario,
    places: &[Place],
    (start_s, end_s): (f64, f64),
) -> Result<Vec<Pieces>, Error> {
    let mut transmission = Transmission::new(&day.setup)?;
    let outline = simulate_outline(&mut transmission, day)?;
    let mut scene = Scene { scenario: day, transmission: &mut transmission, outline: &outline };
    let curves = places.iter().map(|place| {
        let mut pieces: Pieces = vec![Vec::new()];
        for i in 0..=POINTS {
            let time_s = start_s + (end_s - start_s) * i as f64 / POINTS as f64;
            match scene.temperature_k(*place, time_s) {
                Some(k) => {
                    if let Some(piece) = pieces.last_mut() {
                        piece.push((time_s, k));
                    }
                }
                None if pieces.last().is_some_and(|piece| !piece.is_empty()) => {
                    pieces.push(Vec::new());
                }
                None => {}
            }
        }
        pieces
    });
    Ok(curves.collect())
}

/// Temperatures over the test; of the options only sizes, units, dark and paper count.
pub fn temperatures_svg(picture: &Picture, options: &Options) -> Result<String, ChartError> {
    let (mut drawing, mut frame) = begin(picture, options)?;
    let ink = inks(options.dark);
    let system = options.system;
    let value = |k: f64| temperature_in(system, k);
    let of_curves = picture.curves.iter().flat_map(|curve| {
        curve.stated.iter().chain(&curve.fitted).flatten().map(|(_, k)| value(*k))
    });
    let all: Vec<f64> =
        of_curves.chain(picture.marks.iter().map(|mark| value(mark.corrected_k))).collect();
    let lowest = all.iter().copied().fold(f64::INFINITY, f64::min);
    let highest = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let step = frame.fit(lowest, highest, 1.0, 34.0);
    let axis = Axis::even(picture.start_s, picture.end_s);
    frame.values(&mut drawing, &ink, step, temperature_symbol(system));
    frame.times(&mut drawing, &ink, &axis, None);
    let path = |piece: &Vec<(f64, f64)>| -> Vec<Point> {
        piece.iter().map(|(s, k)| (frame.x(axis.share(*s)), frame.y(value(*k)))).collect()
    };
    for curve in &picture.curves {
        let color = place_ink(curve.place, options.dark);
        for piece in &curve.stated {
            drawing.dashed(path(piece), color, 1.3, Some((3.0, 4.0)));
        }
        for piece in &curve.fitted {
            drawing.line(path(piece), color, 2.2);
        }
    }
    for mark in &picture.marks {
        let at = (frame.x(axis.share(mark.time_s)), frame.y(value(mark.corrected_k)));
        draw_mark(&mut drawing, mark, at, options.dark);
    }
    let ends = picture.curves.iter().filter_map(|curve| {
        let (_, last_k) = curve.fitted.iter().rev().find_map(|piece| piece.last())?;
        Some((value(*last_k), short(curve.place), place_ink(curve.place, options.dark)))
    });
    frame.names(&mut drawing, ends.collect());
    svg::write(
        &drawing,
        options,
        "Temperatures of the places that were read",
        "Full lines: the fitted day. Dashed: the day as stated. Marks: readings, corrected for their surfaces.",
    )
}

/// Read less fitted; of the options only sizes, units, dark and paper count.
pub fn residuals_svg(picture: &Picture, options: &Options) -> Result<String, ChartError> {
    let (mut drawing, mut frame) = begin(picture, options)?;
    let ink = inks(options.dark);
    let system = options.system;
    let difference = |k: f64| temperature_difference_in(system, k);
    let reach = picture.marks.iter().flat_map(|mark| {
        [2.0 * difference(mark.deviation_k), difference(mark.off_k.unwrap_or(0.0)).abs()]
    });
    let reach = reach.fold(1.0, f64::max);
    let step = frame.fit(-reach, reach, 1.0, 30.0);
    let axis = Axis::even(picture.start_s, picture.end_s);
    frame.values(&mut drawing, &ink, step, temperature_symbol(system));
    frame.times(&mut drawing, &ink, &axis, None);
    for mark in &picture.marks {
        let x = frame.x(axis.share(mark.time_s));
        let half = 2.0 * difference(mark.deviation_k);
        let corners = ((x - BAR_PX, frame.y(half)), (x + BAR_PX, frame.y(-half)));
        drawing.rectangle(corners.0, corners.1, ink.band, 2.0 * ink.band_opacity);
    }
    for mark in &picture.marks {
        let Some(off_k) = mark.off_k else { continue };
        let at = (frame.x(axis.share(mark.time_s)), frame.y(difference(off_k)));
        draw_mark(&mut drawing, mark, at, options.dark);
        if mark.outlier {
            let text = format!("no. {}", mark.number);
            let fits = at.0 + 12.0 + text_width_px(&text) < options.width_px;
            let (x, anchor) =
                if fits { (at.0 + 11.0, Anchor::Right) } else { (at.0 - 11.0, Anchor::Left) };
            drawing.text(&text, (x, at.1), ink.text, anchor);
        }
    }
    // A name for each kind of mark, where the other picture has its line's end.
    let names = picture.curves.iter().filter_map(|curve| {
        let last = picture.marks.iter().rev().find(|mark| mark.place == curve.place)?;
        let off = difference(last.off_k?);
        Some((off, short(curve.place), place_ink(curve.place, options.dark)))
    });
    frame.names(&mut drawing, names.collect());
    svg::write(
        &drawing,
        options,
        "What is left of each reading",
        "Read less fitted, as the instrument shows it. The bar at each reading is two deviations to either side.",
    )
}

fn begin(picture: &Picture, options: &Options) -> Result<(Drawing, Frame), ChartError> {
    let drawing = blank("chart", 200.0..=4_000.0, options)?;
    let names = picture.curves.iter().map(|curve| text_width_px(short(curve.place)));
    let frame = Frame {
        left_px: LEFT_PX,
        top_px: 28.0,
        right_px: options.width_px - names.fold(20.0, f64::max) - 10.0,
        bottom_px: options.height_px - 26.0,
        lowest: 0.0,
        highest: 1.0,
    };
    Ok((drawing, frame))
}

/// A name short enough for the end of a line.
fn short(place: Place) -> &'static str {
    match place {
        Place::ConverterShell => "Shell",
        Place::Pan => "Pan",
        Place::Case => "Case",
        Place::CoolerIn => "Cooler in",
        Place::CoolerOut => "Cooler out",
        Place::CoolerCore => "Core",
        Place::Engine => "Coolant",
    }
}

fn place_ink(place: Place, dark: bool) -> Ink {
    let node = match place {
        Place::ConverterShell => Node::ConverterShell,
        Place::Pan => Node::PanFluid,
        Place::Case => Node::Case,
        // Hoses are no nodes: colours that no other place has.
        Place::CoolerIn => Node::ConverterFluid,
        Place::CoolerOut => Node::GearTrain,
        Place::CoolerCore => Node::CoolerCore,
        Place::Engine => Node::Engine,
    };
    line_style(node).ink(dark)
}

/// A mark in the shape of its place: hollow where the reading was left out, in a ring where it stands out.
fn draw_mark(drawing: &mut Drawing, mark: &Mark, (x, y): Point, dark: bool) {
    let color = place_ink(mark.place, dark);
    let ink = inks(dark);
    let round = |radius: f64| -> Vec<Point> {
        let turn = |i: i32| (f64::from(i) / 20.0 * std::f64::consts::TAU).sin_cos();
        (0..=20).map(turn).map(|(s, c)| (x + radius * c, y + radius * s)).collect()
    };
    let m = MARK_PX;
    let corners: &[Point] = match mark.place {
        Place::ConverterShell => &[(-m, -m), (m, -m), (m, m), (-m, m), (-m, -m)],
        Place::Pan => &[],
        Place::Case => &[(0.0, -1.3 * m), (1.2 * m, m), (-1.2 * m, m), (0.0, -1.3 * m)],
        Place::CoolerIn => {
            &[(0.0, -1.4 * m), (1.4 * m, 0.0), (0.0, 1.4 * m), (-1.4 * m, 0.0), (0.0, -1.4 * m)]
        }
        Place::CoolerOut => &[(0.0, 1.3 * m), (1.2 * m, -m), (-1.2 * m, -m), (0.0, 1.3 * m)],
        Place::CoolerCore => &[(-m, -m), (1.4 * m, 0.0), (-m, m), (-m, -m)],
        Place::Engine => &[(m, -m), (-1.4 * m, 0.0), (m, m), (m, -m)],
    };
    let outline: Vec<Point> = if corners.is_empty() {
        round(m)
    } else {
        corners.iter().map(|(dx, dy)| (x + dx, y + dy)).collect()
    };
    let filling = if mark.left_out { ink.paper } else { color };
    drawing.area(outline.clone(), filling, 1.0);
    drawing.line(outline, if mark.left_out { color } else { ink.paper }, 1.2);
    if mark.outlier {
        drawing.line(round(8.5), ink.text, 1.6);
    }
}

/// The system that a picture is drawn in, with its size: the rest of the options are as usual.
pub fn options(width_px: f64, height_px: f64, system: System, dark: bool) -> Options {
    Options { width_px, height_px, system, dark, paper: true, ..Options::default() }
}
