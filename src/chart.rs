//! A trace as a drawing, on any plotters backend: canvas on the page, SVG for print and the command line.
//!
//! The drawing is a function of trace and options, without hidden state. All lengths are CSS pixels times
//! [`Options::scale`]: plotters works in whole pixels, so callers draw at a multiple and shrink, which makes
//! curves smooth. The returned [`Layout`] tells where the plot area is, so that cursors and hit areas can
//! lie over it. Ticks are placed here, on times and temperatures that people count in.
//!
//! Not here: cursor, tooltip, legend. They are the page's.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use crate::timeline::{EventKind, Node};
use crate::trace::Trace;
use crate::units::{System, temperature_in, temperature_symbol};

/// How a drawing failed: the backend's own words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChartError(pub String);

/// What to draw and how large.
#[derive(Debug, Clone, PartialEq)]
pub struct Options {
    /// Size in CSS pixels.
    pub width_px: f64,
    pub height_px: f64,
    /// Backend pixels per CSS pixel.
    pub scale: f64,
    pub system: System,
    pub dark: bool,
    pub nodes: Vec<Node>,
    /// Part of the day to show (s); `None`: all of it.
    pub range_s: Option<(f64, f64)>,
    /// Band of the launch window (K), drawn behind the lines.
    pub window_k: Option<(f64, f64)>,
    /// Write each line's name at its right end (there is no other legend in a file).
    pub names: bool,
}

/// Where the plot area lies (CSS pixels) and what it spans.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Layout {
    pub left_px: f64,
    pub top_px: f64,
    pub right_px: f64,
    pub bottom_px: f64,
    pub start_s: f64,
    pub end_s: f64,
    /// In the reader's scale.
    pub lowest: f64,
    pub highest: f64,
}

/// How a node's line looks: colour in light and dark, stroke, dash (CSS pixels; none is a full line).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineStyle {
    pub light: (u8, u8, u8),
    pub dark: (u8, u8, u8),
    pub width_px: f64,
    pub dash_px: Option<(f64, f64)>,
}

/// The look of each node, the same in every picture. Lines differ in dash and weight as well as colour.
pub fn line_style(node: Node) -> LineStyle {
    let style = |light, dark, width_px, dash_px| LineStyle { light, dark, width_px, dash_px };
    match node {
        Node::ConverterFluid => style((196, 66, 16), (255, 140, 92), 2.4, None),
        Node::ConverterShell => style((150, 108, 0), (232, 190, 74), 1.8, Some((7.0, 4.0))),
        Node::PanFluid => style((22, 92, 178), (118, 176, 255), 2.4, None),
        Node::GearTrain => style((116, 70, 168), (190, 158, 240), 1.6, Some((2.0, 3.0))),
        Node::Case => style((34, 112, 72), (108, 206, 150), 1.8, Some((10.0, 4.0))),
        Node::CoolerCore => style((0, 122, 138), (92, 204, 218), 1.6, Some((4.0, 3.0))),
        Node::Engine => style((98, 104, 114), (164, 170, 180), 1.4, Some((1.5, 4.0))),
    }
}

struct Inks {
    text: RGBColor,
    grid: RGBColor,
    band: RGBColor,
    band_alpha: f64,
    launch: RGBColor,
}

fn inks(dark: bool) -> Inks {
    if dark {
        Inks {
            text: RGBColor(196, 200, 206),
            grid: RGBColor(58, 63, 70),
            band: RGBColor(118, 176, 255),
            band_alpha: 0.14,
            launch: RGBColor(120, 126, 136),
        }
    } else {
        Inks {
            text: RGBColor(70, 76, 84),
            grid: RGBColor(224, 227, 231),
            band: RGBColor(22, 92, 178),
            band_alpha: 0.10,
            launch: RGBColor(150, 156, 164),
        }
    }
}

fn node_color(node: Node, dark: bool) -> RGBColor {
    let style = line_style(node);
    let (r, g, b) = if dark { style.dark } else { style.light };
    RGBColor(r, g, b)
}

/// Step between ticks: the smallest of `steps` that needs at most `most` ticks.
fn tick_step(span: f64, most: f64, steps: &[f64]) -> f64 {
    let largest = steps.last().copied().unwrap_or(span);
    steps.iter().copied().find(|step| span / step <= most).unwrap_or(largest)
}

fn ticks(start: f64, end: f64, step: f64) -> Vec<f64> {
    let first = (start / step - 1e-9).ceil() as i64;
    let last = (end / step + 1e-9).floor() as i64;
    (first..=last).take(200).map(|i| i as f64 * step).collect()
}

const TIME_STEPS_S: [f64; 19] = [
    0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0, 1800.0, 3600.0, 7200.0,
    10800.0, 21600.0, 43200.0, 86400.0,
];
const TEMPERATURE_STEPS: [f64; 7] = [2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0];

/// `2:30` hours and minutes for ticks of a minute and more, `0:01:05` with seconds below.
fn time_label(time_s: f64, step_s: f64) -> String {
    let sign = if time_s < -1e-9 { "-" } else { "" };
    let total_s = time_s.abs();
    let hours = (total_s / 3600.0 + 1e-9).floor();
    let minutes = ((total_s - hours * 3600.0) / 60.0 + 1e-9).floor();
    let seconds = total_s - hours * 3600.0 - minutes * 60.0;
    if step_s >= 60.0 {
        format!("{sign}{hours:.0}:{minutes:02.0}")
    } else if step_s >= 1.0 {
        format!("{sign}{hours:.0}:{minutes:02.0}:{seconds:02.0}")
    } else {
        format!("{sign}{hours:.0}:{minutes:02.0}:{seconds:04.1}")
    }
}

/// Draws temperatures over time.
pub fn draw_temperatures<B: DrawingBackend>(
    backend: B,
    trace: &Trace,
    options: &Options,
) -> Result<Layout, ChartError> {
    let failed = |error: String| ChartError(error);
    let scale = options.scale;
    let px = |css: f64| (css * scale).round() as i32;
    let ink = inks(options.dark);
    let root = backend.into_drawing_area();

    let (start_s, end_s) = options.range_s.unwrap_or((0.0, trace.duration_s()));
    let end_s = end_s.max(start_s + 1e-3);
    let lines: Vec<(Node, Vec<(f64, f64)>)> = options
        .nodes
        .iter()
        .map(|node| (*node, thinned(trace, *node, start_s, end_s, options)))
        .collect();

    let (mut lowest, mut highest) = (f64::INFINITY, f64::NEG_INFINITY);
    for value in lines.iter().flat_map(|(_, points)| points.iter().map(|point| point.1)) {
        lowest = lowest.min(value);
        highest = highest.max(value);
    }
    if !lowest.is_finite() {
        (lowest, highest) = (0.0, 100.0);
    }
    if let Some((low_k, high_k)) = options.window_k {
        lowest = lowest.min(temperature_in(options.system, low_k));
        highest = highest.max(temperature_in(options.system, high_k));
    }
    let most_rows = (options.height_px / 46.0).max(2.0);
    let row = tick_step((highest - lowest).max(5.0), most_rows, &TEMPERATURE_STEPS);
    lowest = (lowest / row).floor() * row;
    highest = ((highest / row).ceil() * row).max(lowest + row);

    let names_px = if options.names { 118.0 } else { 10.0 };
    let (left_px, top_px) = (44.0, 22.0);
    let right_px = (options.width_px - names_px).max(left_px + 20.0);
    let bottom_px = (options.height_px - 26.0).max(top_px + 20.0);
    let layout = Layout { left_px, top_px, right_px, bottom_px, start_s, end_s, lowest, highest };
    let at = |time_s: f64, value: f64| {
        let x = left_px + (time_s - start_s) / (end_s - start_s) * (right_px - left_px);
        let y = bottom_px - (value - lowest) / (highest - lowest) * (bottom_px - top_px);
        (px(x), px(y))
    };
    let draw_path = |points: Vec<(i32, i32)>, style: ShapeStyle| {
        root.draw(&PathElement::new(points, style)).map_err(|error| failed(error.to_string()))
    };
    let write = |text: &str, position: (i32, i32), color: RGBColor, anchor: Pos| {
        let style = ("sans-serif", 12.0 * scale).into_text_style(&root).color(&color).pos(anchor);
        root.draw_text(text, &style, position).map_err(|error| failed(error.to_string()))
    };
    let stroke = |color: RGBColor, width_px: f64| ShapeStyle {
        color: color.to_rgba(),
        filled: false,
        stroke_width: (width_px * scale).round().max(1.0) as u32,
    };

    if let Some((low_k, high_k)) = options.window_k {
        let low = temperature_in(options.system, low_k);
        let high = temperature_in(options.system, high_k);
        root.draw(&Rectangle::new(
            [at(start_s, high), at(end_s, low)],
            ink.band.mix(ink.band_alpha).filled(),
        ))
        .map_err(|error| failed(error.to_string()))?;
    }
    for value in ticks(lowest, highest, row) {
        draw_path(vec![at(start_s, value), at(end_s, value)], stroke(ink.grid, 1.0))?;
        let (_, y) = at(start_s, value);
        let anchor = Pos::new(HPos::Right, VPos::Center);
        write(&format!("{value:.0}"), (px(left_px - 7.0), y), ink.text, anchor)?;
    }
    let most_columns = ((right_px - left_px) / 64.0).max(2.0);
    let column_s = tick_step(end_s - start_s, most_columns, &TIME_STEPS_S);
    for time_s in ticks(start_s, end_s, column_s) {
        let (x, y) = at(time_s, lowest);
        draw_path(vec![(x, y), (x, y + px(5.0))], stroke(ink.launch, 1.0))?;
        let label = time_label(time_s, column_s);
        write(&label, (x, y + px(8.0)), ink.text, Pos::new(HPos::Center, VPos::Top))?;
    }
    let unit = temperature_symbol(options.system);
    write(unit, (px(left_px - 7.0), px(1.0)), ink.text, Pos::new(HPos::Right, VPos::Top))?;
    for event in trace.events.iter().filter(|event| event.kind == EventKind::Pass) {
        if event.start_s >= start_s && event.start_s <= end_s {
            draw_path(
                vec![at(event.start_s, lowest), at(event.start_s, highest)],
                stroke(ink.launch, 1.0),
            )?;
        }
    }
    for (node, points) in lines.iter().rev() {
        let style = line_style(*node);
        let path: Vec<(i32, i32)> =
            points.iter().map(|&(time_s, value)| at(time_s, value)).collect();
        let shape = stroke(node_color(*node, options.dark), style.width_px);
        match style.dash_px {
            None => draw_path(path, shape)?,
            Some((on_px, off_px)) => {
                for dash in dashes(&path, on_px * scale, off_px * scale) {
                    draw_path(dash, shape)?;
                }
            }
        }
    }
    if options.names {
        write_names(&lines, options, &layout, &write)?;
    }
    root.present().map_err(|error| failed(error.to_string()))?;
    Ok(layout)
}

type Write<'a> = &'a dyn Fn(&str, (i32, i32), RGBColor, Pos) -> Result<(), ChartError>;

/// Names at the right ends of the lines, moved apart where they would touch.
fn write_names(
    lines: &[(Node, Vec<(f64, f64)>)],
    options: &Options,
    layout: &Layout,
    write: Write,
) -> Result<(), ChartError> {
    let mut places: Vec<(f64, Node)> = lines
        .iter()
        .filter_map(|(node, points)| points.last().map(|point| (point.1, *node)))
        .map(|(value, node)| {
            let share = (value - layout.lowest) / (layout.highest - layout.lowest);
            (layout.bottom_px - share * (layout.bottom_px - layout.top_px), node)
        })
        .collect();
    places.sort_by(|a, b| a.0.total_cmp(&b.0));
    let apart_px = 15.0;
    let mut free_px = layout.top_px;
    let count = places.len();
    for (i, (y_px, node)) in places.into_iter().enumerate() {
        let lowest_px = layout.bottom_px - apart_px * (count - 1 - i) as f64;
        let y_px = y_px.min(lowest_px).max(free_px);
        free_px = y_px + apart_px;
        let position = (
            ((layout.right_px + 8.0) * options.scale).round() as i32,
            (y_px * options.scale).round() as i32,
        );
        let anchor = Pos::new(HPos::Left, VPos::Center);
        write(node.label(), position, node_color(node, options.dark), anchor)?;
    }
    Ok(())
}

/// The samples of a node in a range, thinned to first, lowest, highest and last of each half pixel column.
fn thinned(
    trace: &Trace,
    node: Node,
    start_s: f64,
    end_s: f64,
    options: &Options,
) -> Vec<(f64, f64)> {
    let columns = (options.width_px * 2.0).max(16.0);
    let column_s = (end_s - start_s) / columns;
    let mut points = vec![(start_s, trace.temperature_at_k(node, start_s))];
    let first = trace.samples.partition_point(|sample| sample.time_s <= start_s);
    let mut column: Vec<(f64, f64)> = Vec::new();
    let mut column_end_s = start_s + column_s;
    for sample in &trace.samples[first..] {
        if sample.time_s > end_s {
            break;
        }
        if sample.time_s > column_end_s {
            flush(&mut column, &mut points);
            column_end_s = start_s + ((sample.time_s - start_s) / column_s).ceil() * column_s;
        }
        column.push((sample.time_s, sample.temperature_k[node.index()]));
    }
    flush(&mut column, &mut points);
    points.push((end_s, trace.temperature_at_k(node, end_s)));
    for point in &mut points {
        point.1 = temperature_in(options.system, point.1);
    }
    points
}

fn flush(column: &mut Vec<(f64, f64)>, points: &mut Vec<(f64, f64)>) {
    if column.len() <= 4 {
        points.append(column);
        return;
    }
    let by_value = |a: &usize, b: &usize| column[*a].1.total_cmp(&column[*b].1);
    let all = 0..column.len();
    let mut kept: Vec<usize> = vec![0, column.len() - 1];
    kept.extend(all.clone().min_by(by_value));
    kept.extend(all.max_by(by_value));
    kept.sort_unstable();
    kept.dedup();
    points.extend(kept.into_iter().map(|i| column[i]));
    column.clear();
}

/// Cuts a path into dashes of `on` with gaps of `off`, in the path's own pixels.
fn dashes(path: &[(i32, i32)], on: f64, off: f64) -> Vec<Vec<(i32, i32)>> {
    let mut pieces = Vec::new();
    let Some(&first) = path.first() else { return pieces };
    let mut piece = vec![first];
    let mut drawing = true;
    let mut left = on.max(1.0);
    for pair in path.windows(2) {
        let (mut x, mut y) = (f64::from(pair[0].0), f64::from(pair[0].1));
        let (end_x, end_y) = (f64::from(pair[1].0), f64::from(pair[1].1));
        loop {
            let length = (end_x - x).hypot(end_y - y);
            if length <= left {
                left -= length;
                if drawing {
                    piece.push(pair[1]);
                }
                break;
            }
            x += (end_x - x) * left / length;
            y += (end_y - y) * left / length;
            let cut = (x.round() as i32, y.round() as i32);
            if drawing {
                piece.push(cut);
                pieces.push(std::mem::take(&mut piece));
            } else {
                piece = vec![cut];
            }
            drawing = !drawing;
            left = if drawing { on.max(1.0) } else { off.max(1.0) };
        }
    }
    if drawing && piece.len() > 1 {
        pieces.push(piece);
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_fall_on_times_that_people_count_in() {
        assert_eq!(tick_step(12.0 * 3600.0, 8.0, &TIME_STEPS_S), 7200.0);
        assert_eq!(tick_step(10.0, 8.0, &TIME_STEPS_S), 2.0);
        assert_eq!(time_label(5400.0, 1800.0), "1:30");
        assert_eq!(time_label(3665.0, 5.0), "1:01:05");
        assert_eq!(ticks(0.0, 10.0, 5.0), vec![0.0, 5.0, 10.0]);
    }

    #[test]
    fn dashes_cover_on_out_of_on_plus_off() {
        let pieces = dashes(&[(0, 0), (100, 0)], 6.0, 4.0);
        assert_eq!(pieces.len(), 10);
        let drawn: i32 = pieces.iter().map(|piece| piece[piece.len() - 1].0 - piece[0].0).sum();
        assert_eq!(drawn, 60);
    }
}
