//! A chart of two parameters: lines of equal measure, the aim's heavy, what meets it shaded, the day and the answer
//! marked.
//!
//! Each line carries its level, so that none is told by its colour alone. Drawn from a [`Map`] and options, without
//! anything hidden.

use super::{Aim, Axis, ContourLine, Map};
use crate::chart::axis::{round_step, ticks};
use crate::chart::drawing::{Anchor, Drawing, Point, TEXT_PX, text_width_px};
use crate::chart::style::{inks, line_style};
use crate::chart::{ChartError, Options, blank, svg};
use crate::timeline::Node;
use crate::units::{significant, temperature_symbol};

const LEFT_PX: f64 = 52.0;
const TOP_PX: f64 = 46.0;
const RIGHT_PX: f64 = 16.0;
const BOTTOM_PX: f64 = 46.0;
/// Labels are kept this far from the border and from each other (CSS pixels).
const APART_PX: f64 = 8.0;

/// What is written at a level: with the unit at the aim's.
fn label(map: &Map, line: &ContourLine) -> String {
    let unit = match map.aim {
        Aim::BackIn { .. } => "min",
        _ => temperature_symbol(map.system),
    };
    let number = significant(line.level, 4).replace('-', "−");
    match map.aim {
        Aim::LaunchesInWindow if line.is_aim => "window".to_string(),
        _ if line.is_aim => format!("{number} {unit}"),
        _ => number,
    }
}

/// What the lines are of.
fn title(aim: Aim, narrow: bool) -> &'static str {
    match (aim, narrow) {
        (Aim::BackIn { .. }, true) => "Lines: minutes to the window",
        (Aim::BackIn { .. }, false) => "Lines: minutes until the pan is back in the window",
        (Aim::LaunchesAtMost { .. }, _) => "Lines: hottest launch",
        (Aim::LaunchesInWindow, true) => "Lines: degrees outside",
        (Aim::LaunchesInWindow, false) => "Lines: how far the worst launch is outside the window",
        (Aim::ConverterAtMost { .. }, _) => "Lines: converter peak",
    }
}

/// Name and unit of an axis.
fn axis_name(axis: &Axis, map: &Map) -> String {
    let symbol = axis.unknown.unit(map.system).symbol;
    // "Cooler size (UA), W/K" would read as two units.
    let name = axis.unknown.label().replace(" (UA)", "");
    format!("{name}, {symbol}")
}

/// The chart as SVG; of the options only sizes, dark and paper count.
pub fn contours_svg(map: &Map, options: &Options) -> Result<String, ChartError> {
    let mut drawing = blank("chart", 200.0..=4_000.0, options)?;
    draw(map, options, &mut drawing);
    let names = [&map.x, &map.y].map(|axis| axis_name(axis, map));
    let description = format!(
        "{} over {} (across) and {} (up). The heavy line is the aim; what meets it is shaded.",
        title(map.aim, false),
        names[0],
        names[1]
    );
    svg::write(&drawing, options, title(map.aim, false), &description)
}

/// Where values lie.
struct Plot {
    left_px: f64,
    top_px: f64,
    right_px: f64,
    bottom_px: f64,
    x: (f64, f64),
    y: (f64, f64),
}

impl Plot {
    fn at(&self, (x, y): (f64, f64)) -> Point {
        let share = |value: f64, (low, high): (f64, f64)| (value - low) / (high - low);
        (
            self.left_px + share(x, self.x) * (self.right_px - self.left_px),
            self.bottom_px - share(y, self.y) * (self.bottom_px - self.top_px),
        )
    }

    fn holds(&self, (x, y): (f64, f64)) -> bool {
        (self.x.0..=self.x.1).contains(&x) && (self.y.0..=self.y.1).contains(&y)
    }
}

fn draw(map: &Map, options: &Options, drawing: &mut Drawing) {
    let ink = inks(options.dark);
    let accent = line_style(Node::PanFluid).ink(options.dark);
    let answer_ink = line_style(Node::ConverterFluid).ink(options.dark);
    let (width, height) = (options.width_px, options.height_px);
    let ends = |axis: &Axis| (axis.values[0], axis.values[axis.values.len() - 1]);
    let plot = Plot {
        left_px: LEFT_PX,
        top_px: TOP_PX,
        right_px: width - RIGHT_PX,
        bottom_px: height - BOTTOM_PX,
        x: ends(&map.x),
        y: ends(&map.y),
    };
    for (outline, is_hole) in &map.met {
        let points: Vec<Point> = outline.iter().map(|point| plot.at(*point)).collect();
        let (color, opacity) = if *is_hole { (ink.paper, 1.0) } else { (accent, ink.band_opacity) };
        drawing.area(points, color, opacity);
    }
    grid(&plot, drawing, options);

    let (mut taken, mut labels) = (Vec::new(), Vec::new());
    let marks = [
        (Some((map.x.present, map.y.present)), "now", ink.text),
        (map.answer.map(|value| (value, map.y.present)), "answer", answer_ink),
    ];
    let marks: Vec<_> = marks
        .into_iter()
        .filter_map(|(value, name, ink)| {
            let value = value.filter(|value| plot.holds(*value))?;
            Some((plot.at(value), name, ink))
        })
        .collect();
    for (at, name, _) in &marks {
        let ((x, y), anchor) = mark_label(*at, name, &plot);
        let half = text_width_px(name) / 2.0;
        let middle = if anchor == Anchor::Right { x + half } else { x - half };
        taken.extend([(*at, 12.0), ((middle, y), 2.0 * half)]);
    }
    // The aim's line last, over the others; its label first, where there is most room.
    for is_aim in [false, true] {
        for line in map.lines.iter().filter(|line| line.is_aim == is_aim) {
            let points: Vec<Point> = line.points.iter().map(|point| plot.at(*point)).collect();
            if is_aim {
                drawing.line(points, accent, 3.0);
            } else {
                drawing.line(points, ink.mark, 1.2);
            }
        }
    }
    let mut by_length: Vec<&ContourLine> = map.lines.iter().collect();
    by_length.sort_by_key(|line| (!line.is_aim, usize::MAX - line.points.len()));
    for line in by_length {
        let text = label(map, line);
        let points: Vec<Point> = line.points.iter().map(|point| plot.at(*point)).collect();
        if let Some(at) = label_place(&points, &text, &plot, &taken) {
            taken.push((at, text_width_px(&text)));
            labels.push((text, at, if line.is_aim { accent } else { ink.text }));
        }
    }
    for (text, (x, y), color) in labels {
        let (half_x, half_y) = (text_width_px(&text) / 2.0 + 2.0, TEXT_PX / 2.0 + 2.0);
        let corners = ((x - half_x, y - half_y), (x + half_x, y + half_y));
        drawing.rectangle(corners.0, corners.1, ink.paper, 1.0);
        drawing.text(&text, (x, y), color, Anchor::Middle);
    }
    for ((x, y), name, color) in marks {
        if name == "now" {
            let ring = (0..=24).map(|at| (f64::from(at) / 24.0 * std::f64::consts::TAU).sin_cos());
            drawing.line(ring.map(|(s, c)| (x + 5.0 * c, y + 5.0 * s)).collect(), color, 2.0);
        } else {
            let corners = vec![(x, y - 6.5), (x + 6.5, y), (x, y + 6.5), (x - 6.5, y)];
            drawing.area(corners, color, 1.0);
        }
        let (at, anchor) = mark_label((x, y), name, &plot);
        drawing.text(name, at, color, anchor);
    }
    let narrow = width < 460.0;
    drawing.text(title(map.aim, narrow), (4.0, 10.0), ink.text, Anchor::Right);
    drawing.text(&axis_name(&map.y, map), (4.0, 30.0), ink.text, Anchor::Right);
    let middle = (plot.left_px + plot.right_px) / 2.0;
    let name = axis_name(&map.x, map);
    let half = text_width_px(&name) / 2.0;
    let x = middle.max(half + 4.0).min((width - half - 4.0).max(middle));
    drawing.text(&name, (x, plot.bottom_px + 26.0), ink.text, Anchor::Below);
}

/// Where a mark's name stands: on the side with room, below the day and above the answer, which may be close together.
fn mark_label((x, y): Point, name: &str, plot: &Plot) -> (Point, Anchor) {
    let up = if name == "now" { 13.0 } else { -13.0 };
    if x + text_width_px(name) + 12.0 < plot.right_px {
        ((x + 8.0, y + up), Anchor::Right)
    } else {
        ((x - 8.0, y + up), Anchor::Left)
    }
}

fn grid(plot: &Plot, drawing: &mut Drawing, options: &Options) {
    let ink = inks(options.dark);
    let words = |value: f64| significant((value * 1e6).round() / 1e6, 4).replace('-', "−");
    let most_x = ((plot.right_px - plot.left_px) / 56.0).max(2.0);
    let step = round_step(plot.x.1 - plot.x.0, most_x, 1e-3);
    for value in ticks(plot.x.0, plot.x.1, step) {
        let x = plot.at((value, plot.y.0)).0;
        drawing.stroke((x, plot.top_px), (x, plot.bottom_px), ink.grid, 1.0);
        drawing.text(&words(value), (x, plot.bottom_px + 7.0), ink.text, Anchor::Below);
    }
    let most_y = ((plot.bottom_px - plot.top_px) / 36.0).max(2.0);
    let step = round_step(plot.y.1 - plot.y.0, most_y, 1e-3);
    for value in ticks(plot.y.0, plot.y.1, step) {
        let y = plot.at((plot.x.0, value)).1;
        drawing.stroke((plot.left_px, y), (plot.right_px, y), ink.grid, 1.0);
        drawing.text(&words(value), (plot.left_px - 6.0, y), ink.text, Anchor::Left);
    }
    let corners = [
        (plot.left_px, plot.top_px),
        (plot.right_px, plot.top_px),
        (plot.right_px, plot.bottom_px),
        (plot.left_px, plot.bottom_px),
        (plot.left_px, plot.top_px),
    ];
    drawing.line(corners.to_vec(), ink.mark, 1.0);
}

/// A point of a line where its label stands free: near its middle first.
fn label_place(points: &[Point], text: &str, plot: &Plot, taken: &[(Point, f64)]) -> Option<Point> {
    let half = text_width_px(text) / 2.0;
    let mut order: Vec<usize> = (0..points.len()).collect();
    order.sort_by_key(|place| place.abs_diff(points.len() / 2));
    order.into_iter().map(|place| points[place]).find(|(x, y)| {
        let inside = x - half > plot.left_px + 2.0
            && x + half < plot.right_px - 2.0
            && y - TEXT_PX > plot.top_px
            && y + TEXT_PX < plot.bottom_px;
        let free = taken.iter().all(|((other_x, other_y), width)| {
            (x - other_x).abs() > half + width / 2.0 + APART_PX
                || (y - other_y).abs() > TEXT_PX + APART_PX
        });
        inside && free
    })
}
