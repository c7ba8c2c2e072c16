//! Charge in the battery over the day: a line over the wanted reserve, from empty to its rated capacity.
//!
//! The charge is what `simulate` books: pump, fan and the running engine take from it, alternator and charger give.
//! Voltage, temperature and age of the battery are left out, as there.

use super::drawing::Drawing;
use super::frame::{BELOW_PX, Frame, LEFT_PX};
use super::style::{inks, line_style};
use super::{Axes, ChartError, Layout, Of, Row, Table};
use crate::scenario::Scenario;
use crate::timeline::Node;
use crate::trace::Trace;
use crate::units::{Dimension, System, clock_text, unit_or_si};

pub const ROW: Row = Row {
    key: "charge",
    label: "Charge in the battery",
    description: "Charge in the battery over the day. The band from zero up is the wanted reserve.",
    axes: Axes::Day,
    draw,
    table: Some(table),
};

const UNIT: &str = "Ah";

fn ampere_hours(charge_a_s: f64) -> f64 {
    unit_or_si(Dimension::Charge, UNIT).from_si(charge_a_s)
}

#[inline(never)]
fn draw(of: &Of, drawing: &mut Drawing) -> Result<Layout, ChartError> {
    let Of { scenario, trace, options } = of;
    let axis = of.axis()?;
    let ink = inks(options.dark);
    let battery = &scenario.setup.battery;
    let mut frame = Frame::over_the_day(options, Frame::beside_px(options), BELOW_PX);
    let reserve = ampere_hours(battery.reserve * battery.capacity_a_s);
    let step = frame.fit(0.0, ampere_hours(battery.capacity_a_s), 1.0, 32.0);
    let (top, bottom) = (frame.y(reserve), frame.bottom_px);
    drawing.rectangle((LEFT_PX, top), (frame.right_px, bottom), ink.band, ink.band_opacity);
    frame.values(drawing, &ink, step, UNIT);
    frame.times(drawing, &ink, &axis, options.ticks.as_deref());
    let mut samples =
        trace.samples.iter().map(|sample| (sample.time_s, ampere_hours(sample.charge_a_s)));
    let curve = axis.curve(frame.columns(), &mut samples);
    let line = line_style(Node::PanFluid);
    drawing.line(frame.path(&curve), line.ink(options.dark), line.width_px);
    if options.names {
        let end = curve.last().map_or(0.0, |end| end.1);
        let names = vec![
            (end, "Charge", line.ink(options.dark)),
            (reserve / 2.0, "Wanted reserve", ink.text),
        ];
        frame.names(drawing, names);
    }
    Ok(frame.layout(&axis, UNIT))
}

fn table(scenario: &Scenario, trace: &Trace, _: System) -> Table {
    let battery = &scenario.setup.battery;
    let shown = |charge_a_s: f64| format!("{:.1}", ampere_hours(charge_a_s));
    let least = trace.samples.iter().min_by(|a, b| a.charge_a_s.total_cmp(&b.charge_a_s));
    let says = least.map_or(String::new(), |least| {
        format!(
            "The least in the battery is {} of {} {UNIT}, at {}; {} {UNIT} are wanted as reserve.",
            shown(least.charge_a_s),
            shown(battery.capacity_a_s),
            clock_text(least.time_s),
            shown(battery.reserve * battery.capacity_a_s),
        )
    });
    let rows = trace.events.iter().map(|event| {
        let (from, to) = (&trace.samples[event.samples.0], &trace.samples[event.samples.1]);
        vec![
            event.label().to_string(),
            event.round.map_or(String::from("–"), |round| round.to_string()),
            clock_text(event.end_s),
            shown(to.charge_a_s),
            shown(to.used_a_s - from.used_a_s),
        ]
    });
    Table {
        says,
        heads: ["Event", "Round", "Ends at", "Left, Ah", "Pump and fan took, Ah"].to_vec(),
        rows: rows.collect(),
    }
}
