//! Heat in and out, event by event: a bar for each event, its height the heat of the whole event.
//!
//! A pass makes heat at 500 kW for ten seconds, a soak gives off 2 kW for an hour: on one scale of power one of them
//! is invisible, and a bent scale hides that the two are equal amounts. So what is drawn is heat, not power: what a
//! pass puts in and what the hour after it takes out have one straight scale, and all bars together are the ledger.
//! The width of a bar is the event's time on the axis and counts nothing.
//!
//! Sources stand above zero, sinks below; a path that runs backwards stands on the other side. Neighbours too
//! narrow to be seen are one bar, the sum of their heat.

use super::axis::Axis;
use super::drawing::{Anchor, Drawing, Ink, text_width_px};
use super::frame::{BELOW_PX, Frame, LEFT_PX};
use super::style::{inks, path_inks, readable};
use super::{Axes, ChartError, Layout, Of, Row};
use crate::timeline::EventKind;
use crate::trace::Trace;
use crate::transmission::Path;
use crate::units::{energy_in, energy_unit};

pub const ROW: Row = Row {
    key: "heat",
    label: "Heat by event",
    description: "Heat of each event by source and sink. Sources stand above zero, sinks below. \
        The height of a bar is the heat of the whole event, its width the time.",
    axes: Axes::Day,
    draw,
    table: None,
};

/// Bars narrower than this are put together with neighbours as narrow (CSS pixels).
const NARROW_PX: f64 = 4.0;
/// Paths of less than this share of all heat are not named, as in the ledger.
const LEAST_SHARE: f64 = 0.0005;

/// Sources and sinks in the order in which they are numbered and stacked from zero, with the sign they are drawn with.
pub const CROSSING: [(Path, f64); CROSSINGS] = crossing();
const CROSSINGS: usize = Path::SOURCES.len() + Path::SINKS.len();

const fn crossing() -> [(Path, f64); CROSSINGS] {
    let mut all = [(Path::ConverterShear, 1.0); CROSSINGS];
    let mut place = 0;
    while place < CROSSINGS {
        all[place] = match place.checked_sub(Path::SOURCES.len()) {
            None => (Path::SOURCES[place], 1.0),
            Some(sink) => (Path::SINKS[sink], -1.0),
        };
        place += 1;
    }
    all
}

/// A bar: one event or a few that are too narrow alone.
#[derive(Debug, Clone, PartialEq)]
pub struct Block {
    /// How many events it stands for.
    pub events: usize,
    pub start_s: f64,
    pub end_s: f64,
    /// Heat of its events (J), of [`Path::SOURCES`] and then, negative when carried away, of [`Path::SINKS`].
    pub heat_j: [f64; CROSSINGS],
}

impl Block {
    /// Tops of the two stacks (J): what counts upwards and what counts downwards.
    fn reach_j(&self) -> (f64, f64) {
        let sum =
            |sign: f64| self.heat_j.iter().map(|heat_j| (heat_j * sign).max(0.0)).sum::<f64>();
        (sum(1.0), -sum(-1.0))
    }
}

/// Bars of the events that reach into the axis, whose plot area is `width_px` wide.
pub fn blocks(trace: &Trace, axis: &Axis, width_px: f64) -> Vec<Block> {
    let mut blocks: Vec<Block> = Vec::new();
    let mut joins = false;
    for event in &trace.events {
        if event.end_s <= event.start_s
            || event.end_s <= axis.start_s()
            || event.start_s >= axis.end_s()
        {
            continue;
        }
        let ledger = trace.event_ledger(event);
        let heat_j = CROSSING.map(|(path, sign)| sign * ledger.path_j(path));
        let px = |start_s: f64, end_s: f64| (axis.share(end_s) - axis.share(start_s)) * width_px;
        let narrow = px(event.start_s, event.end_s) < NARROW_PX;
        match blocks.last_mut() {
            Some(open) if joins && narrow => {
                open.end_s = event.end_s;
                open.events += 1;
                for (sum_j, more_j) in open.heat_j.iter_mut().zip(&heat_j) {
                    *sum_j += more_j;
                }
                joins = px(open.start_s, open.end_s) < NARROW_PX;
            }
            _ => {
                blocks.push(Block {
                    events: 1,
                    start_s: event.start_s,
                    end_s: event.end_s,
                    heat_j,
                });
                joins = narrow;
            }
        }
    }
    blocks
}

#[inline(never)]
fn draw(of: &Of, drawing: &mut Drawing) -> Result<Layout, ChartError> {
    let Of { trace, options, .. } = of;
    let axis = of.axis()?;
    let (ink, system) = (inks(options.dark), options.system);
    let energy = |heat_j: f64| energy_in(system, heat_j);
    let unit = energy_unit(system);

    let sums = CROSSING.map(|(path, _)| trace.ledger.path_j(path).abs());
    let most_j = sums.iter().sum::<f64>() / 2.0;
    let named: Vec<(usize, Path)> = CROSSING
        .into_iter()
        .enumerate()
        .filter(|(place, _)| sums[*place] > LEAST_SHARE * most_j)
        .map(|(place, (path, _))| (place, path))
        .collect();
    let entry_px = named.iter().map(|(_, path)| text_width_px(path.label())).fold(80.0, f64::max);
    let entry_px = entry_px + 34.0;
    let in_row = ((options.width_px - 16.0) / entry_px).floor().max(1.0) as usize;
    let legend_px =
        if options.names { named.len().div_ceil(in_row) as f64 * 18.0 + 6.0 } else { 0.0 };

    // Without texts of the times, as between pictures of one axis, there is no room for them.
    let untold = options.ticks.iter().flatten().all(|(_, text)| text.is_empty());
    let below_px = if options.ticks.is_some() && untold { 8.0 } else { BELOW_PX };
    let mut frame = Frame::over_the_day(options, 10.0, below_px + legend_px);
    let blocks = blocks(trace, &axis, frame.right_px - LEFT_PX);
    let (mut lowest, mut highest) = (0.0f64, 0.0f64);
    for block in &blocks {
        let (up_j, down_j) = block.reach_j();
        highest = highest.max(energy(up_j));
        lowest = lowest.min(energy(down_j));
    }
    let step = frame.fit(lowest, highest, 1.0, 40.0);
    // A reader must know when a bar is more than its event.
    let which = if blocks.iter().any(|block| block.events > 1) {
        " per event, short ones summed"
    } else {
        " per event: made above, carried away below"
    };
    frame.values(drawing, &ink, step, &[unit, which].concat());
    frame.times(drawing, &ink, &axis, options.ticks.as_deref());
    for event in trace.events.iter().filter(|event| event.kind == EventKind::Pass) {
        if event.start_s >= axis.start_s() && event.start_s <= axis.end_s() {
            let x = frame.x(axis.share(event.start_s));
            drawing.stroke((x, frame.bottom_px), (x, frame.bottom_px + 5.0), ink.text, 2.0);
        }
    }
    let color = |path: Path| -> Ink {
        let (light, dark) = path_inks(path).unwrap_or((ink.mark, ink.mark));
        if options.dark { dark } else { light }
    };
    // Narrow bars stand a little over their neighbours: they come last.
    for turn in 0..2 * blocks.len() {
        let block = &blocks[turn % blocks.len()];
        let (mut left, mut right) =
            (frame.x(axis.share(block.start_s)), frame.x(axis.share(block.end_s)));
        let narrow = right - left < NARROW_PX;
        if narrow != (turn >= blocks.len()) {
            continue;
        }
        if narrow {
            let middle = (left + right) / 2.0;
            (left, right) = (middle - NARROW_PX / 2.0, middle + NARROW_PX / 2.0);
        } else {
            right -= 1.0;
        }
        (left, right) = (left.max(LEFT_PX), right.min(frame.right_px));
        let (mut up_j, mut down_j) = (0.0, 0.0);
        for (place, (path, _)) in CROSSING.into_iter().enumerate() {
            let heat_j = block.heat_j[place];
            let from_j = if heat_j > 0.0 { &mut up_j } else { &mut down_j };
            let (near, far) = (frame.y(energy(*from_j)), frame.y(energy(*from_j + heat_j)));
            *from_j += heat_j;
            let (top, bottom) = (near.min(far), near.max(far));
            if bottom - top < 0.2 {
                continue;
            }
            drawing.rectangle((left, top), (right, bottom), color(path), 1.0);
            // The number tells them apart where colours do not; a thin line of paper does elsewhere.
            if bottom - top > 3.0 {
                drawing.stroke((left, far), (right, far), ink.paper, 0.8);
            }
            let number = (place + 1).to_string();
            if bottom - top >= 15.0 && right - left >= text_width_px(&number) + 4.0 {
                let at = ((left + right) / 2.0, (top + bottom) / 2.0);
                drawing.text(&number, at, readable(color(path)), Anchor::Middle);
            }
        }
    }
    if options.names {
        for (at, (place, path)) in named.iter().enumerate() {
            let x = 8.0 + (at % in_row) as f64 * entry_px;
            let y = frame.bottom_px + 34.0 + (at / in_row) as f64 * 18.0;
            drawing.rectangle((x, y - 8.0), (x + 20.0, y + 8.0), color(*path), 1.0);
            let number = (place + 1).to_string();
            drawing.text(&number, (x + 10.0, y), readable(color(*path)), Anchor::Middle);
            drawing.text(path.label(), (x + 26.0, y), ink.text, Anchor::Right);
        }
    }
    Ok(frame.layout(&axis, unit))
}
