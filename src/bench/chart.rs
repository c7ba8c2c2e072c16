//! The temperatures of a test: what the day as stated has at each place, and the readings as marks, corrected for the usual
//! emissivity of their surface, with a bar of two deviations. A ring says that a reading is outside of its band.

use super::expected::{Expected, Shown};
use super::record::Record;
use crate::chart::axis::Axis;
use crate::chart::drawing::{Drawing, Ink, Point};
use crate::chart::frame::{BELOW_PX, BESIDE_PX, Frame};
use crate::chart::style::{inks, line_style};
use crate::chart::{ChartError, Options, blank, svg};
use crate::readings::Place;
use crate::timeline::Node;
use crate::trace::Trace;
use crate::units::{temperature_in, temperature_symbol};

const MARK_PX: f64 = 3.5;
const RING_PX: f64 = 7.0;

/// Places that are drawn, with the node whose line they lie on.
const DRAWN: [(Place, Node); 4] = [
    (Place::ConverterShell, Node::ConverterShell),
    (Place::Pan, Node::PanFluid),
    (Place::Case, Node::Case),
    (Place::CoolerCore, Node::CoolerCore),
];

/// The picture as SVG; of the options only sizes, units, dark and paper count.
pub fn temperatures_svg(
    record: &Record,
    trace: &Trace,
    expected: &Expected,
    options: &Options,
) -> Result<String, ChartError> {
    let (ink, system) = (inks(options.dark), options.system);
    let mut drawing = blank("chart", 40.0..=20_000.0, options)?;
    let mut frame = Frame::over_the_day(options, BESIDE_PX, BELOW_PX);
    let axis = Axis::even(0.0, trace.duration_s());
    let air_k = record.scenario.setup.air.temperature_k;
    let drawn: Vec<(Place, Node)> = DRAWN
        .into_iter()
        .filter(|(place, _)| {
            *place != Place::CoolerCore || record.readings.iter().any(|r| r.place == *place)
        })
        .collect();
    let curves: Vec<(Node, Vec<(f64, f64)>)> = drawn
        .iter()
        .map(|(_, node)| {
            let of = |sample: &crate::trace::Sample| {
                (sample.time_s, temperature_in(system, sample.temperature_k[node.index()]))
            };
            (*node, axis.curve(frame.columns(), &mut trace.samples.iter().map(of)))
        })
        .collect();
    let mut marks = Vec::new();
    for (i, reading) in record.readings.iter().enumerate() {
        let Some((_, node)) = drawn.iter().find(|(place, _)| *place == reading.place) else {
            continue;
        };
        let row = expected.of.iter().position(|of| *of == Shown::Reading(i));
        let outside = row.is_some_and(|row| {
            let (low, high) = expected.band(row);
            !(low..=high).contains(&expected.shown[row])
        });
        let (k, deviation_k) = reading.corrected_k(air_k);
        marks.push((*node, reading.time_s, k, deviation_k, outside));
    }
    let values = || {
        let of_curves = curves.iter().flat_map(|(_, curve)| curve.iter().map(|(_, value)| *value));
        of_curves.chain(marks.iter().map(|mark| temperature_in(system, mark.2)))
    };
    let lowest = values().fold(f64::INFINITY, f64::min);
    let highest = values().fold(f64::NEG_INFINITY, f64::max);
    let step = frame.fit(lowest, highest.max(lowest + 5.0), 1.0, 34.0);
    frame.values(&mut drawing, &ink, step, temperature_symbol(system));
    frame.times(&mut drawing, &ink, &axis, None);
    for (node, curve) in &curves {
        let style = line_style(*node);
        drawing.dashed(frame.path(curve), style.ink(options.dark), style.width_px, style.dash_px);
    }
    for (node, time_s, k, deviation_k, outside) in marks {
        let color = line_style(node).ink(options.dark);
        let at = |k: f64| -> Point {
            let (low, high) = (frame.lowest, frame.highest);
            (frame.x(axis.share(time_s)), frame.y(temperature_in(system, k).clamp(low, high)))
        };
        drawing.stroke(at(k - 2.0 * deviation_k), at(k + 2.0 * deviation_k), color, 1.0);
        square(&mut drawing, at(k), color);
        if outside {
            ring(&mut drawing, at(k), ink.text);
        }
    }
    let names = curves.iter().filter_map(|(node, curve)| {
        curve.last().map(|end| (end.1, node.label(), line_style(*node).ink(options.dark)))
    });
    frame.names(&mut drawing, names.collect());
    let description = "Lines: the day as stated. Marks: readings, corrected, with two deviations to either side; ringed \
                       where they lie outside of what is expected.";
    svg::write(&drawing, options, "Temperatures of the test", description)
}

fn square(drawing: &mut Drawing, (x, y): Point, ink: Ink) {
    let corners = [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)];
    let points = corners.iter().map(|(dx, dy)| (x + MARK_PX * dx, y + MARK_PX * dy));
    drawing.area(points.collect(), ink, 1.0);
}

fn ring(drawing: &mut Drawing, (x, y): Point, ink: Ink) {
    let point = |i: i32| {
        let angle = f64::from(i) * std::f64::consts::PI / 8.0;
        (x + RING_PX * angle.cos(), y + RING_PX * angle.sin())
    };
    drawing.line((0..=16).map(point).collect(), ink, 1.5);
}
