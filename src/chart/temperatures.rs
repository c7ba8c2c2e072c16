//! Temperatures over the day: a line for each node, the launch window as a band, launches as upright lines.

use super::drawing::Drawing;
use super::frame::{BELOW_PX, Frame, LEFT_PX};
use super::style::{inks, line_style};
use super::{Axes, ChartError, Layout, Of, Over, Row};
use crate::timeline::{EventKind, Node};
use crate::trace::Trace;
use crate::units::{System, temperature_in, temperature_symbol};

pub const ROW: Row = Row {
    key: "temperatures",
    label: "Temperatures",
    description: "Temperatures over the day. Upright lines are launches, the band is the launch window.",
    axes: Axes::Day,
    draw,
    table: None,
};

/// What an overlay may show (K): all that is outside of it is no temperature of oil or metal here.
const SENSIBLE_K: std::ops::RangeInclusive<f64> = 0.0..=5_000.0;
/// Opacity of a band of an overlay.
const BAND_OPACITY: f64 = 0.22;

/// Extremes of what is to be shown.
struct Span(f64, f64);

impl Span {
    fn include(&mut self, curve: &[(f64, f64)]) {
        for (_, value) in curve {
            *self = Span(self.0.min(*value), self.1.max(*value));
        }
    }
}

/// Samples of a node from the last one before a time on, in the reader's scale.
fn samples(
    trace: &Trace,
    node: Node,
    start_s: f64,
    system: System,
) -> impl Iterator<Item = (f64, f64)> + '_ {
    let first = trace.samples.partition_point(|sample| sample.time_s < start_s).saturating_sub(1);
    // Both scales are straight in K: two values make the conversion, once for thousands of samples.
    let zero = temperature_in(system, 0.0);
    let per_k = temperature_in(system, 1.0) - zero;
    trace.samples[first..]
        .iter()
        .map(move |sample| (sample.time_s, zero + per_k * sample.temperature_k[node.index()]))
}

#[inline(never)]
fn draw(of: &Of, drawing: &mut Drawing) -> Result<Layout, ChartError> {
    let Of { scenario, trace, options } = of;
    let axis = of.axis()?;
    let (ink, system) = (inks(options.dark), options.system);
    let mut frame = Frame::over_the_day(options, Frame::beside_px(options), BELOW_PX);
    let columns = frame.columns();
    let lines: Vec<(Node, Vec<(f64, f64)>)> = options
        .nodes
        .iter()
        .map(|node| {
            let mut samples = samples(trace, *node, axis.start_s(), system);
            (*node, axis.curve(columns, &mut samples))
        })
        .collect();
    let over = |times_s: &[f64], values_k: &[f64]| {
        let mut points = times_s
            .iter()
            .zip(values_k)
            .filter(|(_, value_k)| SENSIBLE_K.contains(*value_k))
            .map(|(time_s, value_k)| (*time_s, temperature_in(system, *value_k)));
        axis.curve(columns, &mut points)
    };
    let overlays: Vec<[Vec<(f64, f64)>; 2]> = options
        .overlays
        .iter()
        .map(|overlay| match &overlay.of {
            Over::Line { value_k, .. } => [over(&overlay.times_s, value_k), Vec::new()],
            Over::Band { low_k, high_k } => {
                [over(&overlay.times_s, low_k), over(&overlay.times_s, high_k)]
            }
        })
        .collect();

    let limits = &scenario.setup.limits;
    let window = (!trace.launches.is_empty())
        .then(|| [limits.window_low_k, limits.window_high_k].map(|k| temperature_in(system, k)));
    let mut span = Span(f64::INFINITY, f64::NEG_INFINITY);
    for curve in lines.iter().map(|line| &line.1).chain(overlays.iter().flatten()) {
        span.include(curve);
    }
    if !span.0.is_finite() {
        span = Span(0.0, 100.0);
    }
    if let Some([low, high]) = window {
        span.include(&[(0.0, low), (0.0, high)]);
    }
    let step = frame.fit(span.0, span.1.max(span.0 + 5.0), 1.0, 40.0);

    if let Some([low, high]) = window {
        let (top, bottom) = (frame.y(high), frame.y(low));
        drawing.rectangle((LEFT_PX, top), (frame.right_px, bottom), ink.band, ink.band_opacity);
    }
    frame.values(drawing, &ink, step, temperature_symbol(system));
    frame.times(drawing, &ink, &axis, options.ticks.as_deref());
    for event in trace.events.iter().filter(|event| event.kind == EventKind::Pass) {
        if event.start_s >= axis.start_s() && event.start_s <= axis.end_s() {
            let x = frame.x(axis.share(event.start_s));
            drawing.stroke((x, frame.bottom_px), (x, frame.top_px), ink.mark, 1.0);
        }
    }
    for (overlay, [low, high]) in options.overlays.iter().zip(&overlays) {
        if matches!(overlay.of, Over::Band { .. }) {
            let mut around = frame.path(low);
            around.extend(frame.path(high).into_iter().rev());
            let ink = if options.dark { overlay.dark } else { overlay.light };
            drawing.area(around, ink, BAND_OPACITY);
        }
    }
    for (node, curve) in lines.iter().rev() {
        let style = line_style(*node);
        let ink = style.ink(options.dark);
        drawing.dashed(frame.path(curve), ink, style.width_px, style.dash_px);
    }
    for (overlay, [curve, _]) in options.overlays.iter().zip(&overlays) {
        if let Over::Line { dash_px, width_px, .. } = &overlay.of {
            let ink = if options.dark { overlay.dark } else { overlay.light };
            drawing.dashed(frame.path(curve), ink, width_px.clamp(0.5, 8.0), *dash_px);
        }
    }
    if options.names {
        let mut ends: Vec<_> = lines
            .iter()
            .filter_map(|(node, curve)| {
                let ink = line_style(*node).ink(options.dark);
                curve.last().map(|end| (end.1, node.label(), ink))
            })
            .collect();
        if let Some([low, high]) = window {
            ends.push(((low + high) / 2.0, "Launch window", ink.text));
        }
        frame.names(drawing, ends);
    }
    Ok(frame.layout(&axis, temperature_symbol(system)))
}
