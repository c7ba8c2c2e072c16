//! One computed pass: engine and input-shaft speed above, speed over ground below, on one axis of seconds.
//!
//! Two panels instead of two scales on one: neither line can be read off the wrong side. Upright lines mark gears as
//! they are taken and the finish. Time counts from where the brake lets go; elapsed time, from rollout on, is written
//! at the finish. A logged pass has means only: the picture says so instead of drawing what nobody computed.

use super::axis::{Axis, round_step};
use super::drawing::{Anchor, Drawing, TEXT_PX, text_width_px};
use super::frame::Frame;
use super::style::{inks, line_style};
use super::{Axes, ChartError, Layout, Of, Row};
use crate::pass::{PassResult, PassSample};
use crate::timeline::Node;
use crate::units::{Dimension, rpm, speed_unit, unit_or_si};

pub const ROW: Row = Row {
    key: "pass",
    label: "Speeds in a pass",
    description: "Engine and input shaft speed above, speed over ground below, against time since the \
        brake let go. Upright lines mark gear changes and the finish.",
    axes: Axes::Launch,
    draw,
    table: None,
};

/// `2nd`, for the gear taken.
pub fn ordinal(gear: usize) -> String {
    let ending = match gear {
        1 => "st",
        2 => "nd",
        3 => "rd",
        _ => "th",
    };
    format!("{gear}{ending}")
}

/// Samples with which a gear begins: (index, sample).
pub fn shifts(pass: &PassResult) -> impl Iterator<Item = &PassSample> {
    pass.samples.windows(2).filter(|pair| pair[1].gear > pair[0].gear).map(|pair| &pair[1])
}

#[inline(never)]
fn draw(of: &Of, drawing: &mut Drawing) -> Result<Layout, ChartError> {
    let Of { scenario, trace, options } = of;
    let Some(launch) = trace.launches.get(options.launch) else {
        return Err(ChartError(format!(
            "There is no launch number {}: this day has {}.",
            options.launch.saturating_add(1),
            trace.launches.len()
        )));
    };
    let event = &trace.events[launch.event];
    let ink = inks(options.dark);
    let (left_px, top_px) = (44.0, 40.0);
    let right_px = (options.width_px - 92.0).max(left_px + 20.0);
    let bottom_px = (options.height_px - 42.0).max(top_px + 60.0);
    let middle_px = top_px + (bottom_px - top_px) * 0.56;
    let mut upper =
        Frame { left_px, top_px, right_px, bottom_px: middle_px - 14.0, lowest: 0.0, highest: 1.0 };
    let mut lower = Frame { top_px: middle_px + 14.0, bottom_px, ..upper };
    let speed = speed_unit(options.system);
    let Some(pass) = &launch.pass else {
        let x = (left_px + right_px) / 2.0;
        let lines = ["This pass is logged, not computed:", "means are known, no course."];
        for (place, text) in lines.into_iter().enumerate() {
            let y = middle_px + (place as f64 - 0.5) * 1.5 * TEXT_PX;
            drawing.text(text, (x, y), ink.text, Anchor::Middle);
        }
        return Ok(layout(&upper, bottom_px, event.start_s, event.end_s));
    };

    let axis = Axis::even(0.0, pass.duration_s);
    let gears = scenario.setup.gears();
    let ratio = |sample: &PassSample| {
        let gear = gears.get(sample.gear).or(gears.last()).copied().unwrap_or(1.0);
        gear * scenario.setup.car.final_drive
    };
    let velocity = unit_or_si(Dimension::Velocity, speed);
    let curve = |of: &dyn Fn(&PassSample) -> f64| {
        let mut samples = pass.samples.iter().map(|sample| (sample.time_s, of(sample)));
        axis.curve(upper.columns(), &mut samples)
    };
    let engine = curve(&|sample| rpm(sample.motion.engine_rad_per_s));
    let turbine = curve(&|sample| rpm(sample.motion.wheel_rad_per_s * ratio(sample)));
    let car = curve(&|sample| velocity.from_si(sample.motion.car_m_per_s));
    let top = |curve: &[(f64, f64)]| curve.iter().map(|point| point.1).fold(0.0, f64::max);

    let step = upper.fit(0.0, top(&engine).max(top(&turbine)), 500.0, 28.0);
    upper.values(drawing, &ink, step, "rpm");
    let step = lower.fit(0.0, top(&car), 5.0, 28.0);
    lower.values(drawing, &ink, step, speed);

    let most = ((right_px - left_px) / 36.0).max(2.0);
    let step_s = round_step(pass.duration_s, most, 1.0);
    let ticks: Vec<(f64, String)> = super::axis::ticks(0.0, pass.duration_s, step_s)
        .into_iter()
        .map(|time_s| (time_s, format!("{time_s:.0}")))
        .collect();
    lower.times(drawing, &ink, &axis, Some(&ticks));
    for (time_s, _) in &ticks {
        let x = upper.x(axis.share(*time_s));
        drawing.stroke((x, upper.top_px), (x, upper.bottom_px), ink.grid, 1.0);
    }
    let middle = ((left_px + right_px) / 2.0, bottom_px + 24.0);
    drawing.text("Seconds since the brake let go", middle, ink.text, Anchor::Below);

    // The finish first: its text decides where gears may be named.
    let finish = pass.marks.last();
    let finish_text = finish.map_or(String::from("Finish"), |mark| {
        format!(
            "Finish, ET {:.3} s, {:.1} {speed}",
            mark.elapsed_s,
            velocity.from_si(mark.speed_m_per_s)
        )
    });
    for frame in [&upper, &lower] {
        let x = frame.x(1.0);
        drawing.stroke((x, frame.top_px), (x, frame.bottom_px), ink.text, 1.5);
    }
    drawing.text(&finish_text, (options.width_px - 6.0, 9.0), ink.text, Anchor::Left);
    let mut free_px = left_px + text_width_px("rpm");
    for shift in shifts(pass) {
        let x = upper.x(axis.share(shift.time_s));
        for frame in [&upper, &lower] {
            let path = vec![(x, frame.top_px), (x, frame.bottom_px)];
            drawing.dashed(path, ink.mark, 1.0, Some((4.0, 3.0)));
        }
        let text = ordinal(shift.gear + 1);
        let half_px = text_width_px(&text) / 2.0;
        if x - half_px > free_px {
            drawing.text(&text, (x, upper.top_px - 9.0), ink.text, Anchor::Middle);
            free_px = x + half_px + 4.0;
        }
    }
    let [fluid, gear_train, pan] = [Node::ConverterFluid, Node::GearTrain, Node::PanFluid]
        .map(|node| line_style(node).ink(options.dark));
    drawing.line(upper.path(&engine), fluid, 2.2);
    drawing.dashed(upper.path(&turbine), gear_train, 2.2, Some((7.0, 3.0)));
    drawing.line(lower.path(&car), pan, 2.2);
    let end = |curve: &[(f64, f64)]| curve.last().map_or(0.0, |point| point.1);
    let names = vec![(end(&engine), "Engine", fluid), (end(&turbine), "Input shaft", gear_train)];
    upper.names(drawing, names);
    lower.names(drawing, vec![(end(&car), "Car", pan)]);
    Ok(layout(&upper, bottom_px, event.start_s, event.end_s))
}

fn layout(upper: &Frame, bottom_px: f64, start_s: f64, end_s: f64) -> Layout {
    Layout {
        left_px: upper.left_px,
        top_px: upper.top_px,
        right_px: upper.right_px,
        bottom_px,
        start_s,
        end_s,
        lowest: upper.lowest,
        highest: upper.highest,
        unit: "rpm",
    }
}
