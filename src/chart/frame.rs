//! A plot area with its scales: where a share of time and a value lie, grid and ticks around it.

use super::axis::{Axis, round_step, ticks, time_label, time_step_s};
use super::drawing::{Anchor, Drawing, Ink, Point, text_width_px};
use super::straight::straight;
use super::style::Inks;
use super::{Layout, Options};

/// Left edge of the plot of every picture over the day, so that these can stand under each other (CSS pixels).
pub const LEFT_PX: f64 = 46.0;
/// Room above it, for the unit (CSS pixels).
const TOP_PX: f64 = 22.0;
/// Room below it, for the times (CSS pixels).
pub const BELOW_PX: f64 = 26.0;
/// Room beside it, for names (CSS pixels).
pub const BESIDE_PX: f64 = 118.0;
/// Least distance between texts of one axis (CSS pixels).
const APART_PX: f64 = 6.0;
/// Distance between names that stand under each other (CSS pixels).
const NAME_PX: f64 = 15.0;

/// A plot area in CSS pixels and the values at its bottom and top.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    pub left_px: f64,
    pub top_px: f64,
    pub right_px: f64,
    pub bottom_px: f64,
    pub lowest: f64,
    pub highest: f64,
}

impl Frame {
    /// Room right of a picture over the day: for names at the ends of its lines, where these are wanted.
    pub fn beside_px(options: &Options) -> f64 {
        if options.names { BESIDE_PX } else { 10.0 }
    }

    /// The plot of a picture over the day, with so much room to its right and below it (CSS pixels).
    pub fn over_the_day(options: &Options, right_px: f64, below_px: f64) -> Frame {
        Frame {
            left_px: LEFT_PX,
            top_px: TOP_PX,
            right_px: (options.width_px - right_px).max(LEFT_PX + 20.0),
            bottom_px: (options.height_px - below_px).max(TOP_PX + 20.0),
            lowest: 0.0,
            highest: 1.0,
        }
    }

    /// What it spans, told to who asked for the picture.
    pub fn layout(&self, axis: &Axis, unit: &'static str) -> Layout {
        Layout {
            left_px: self.left_px,
            top_px: self.top_px,
            right_px: self.right_px,
            bottom_px: self.bottom_px,
            start_s: axis.start_s(),
            end_s: axis.end_s(),
            lowest: self.lowest,
            highest: self.highest,
            unit,
        }
    }

    #[inline(never)]
    pub fn x(&self, share: f64) -> f64 {
        self.left_px + share * (self.right_px - self.left_px)
    }

    #[inline(never)]
    pub fn y(&self, value: f64) -> f64 {
        let share = (value - self.lowest) / (self.highest - self.lowest);
        self.bottom_px - share * (self.bottom_px - self.top_px)
    }

    /// A curve of (share, value) in CSS pixels.
    #[inline(never)]
    pub fn path(&self, curve: &[(f64, f64)]) -> Vec<Point> {
        let across_px = self.right_px - self.left_px;
        let up_px = (self.bottom_px - self.top_px) / (self.highest - self.lowest);
        let place = |(share, value): &(f64, f64)| {
            (self.left_px + share * across_px, self.bottom_px - (value - self.lowest) * up_px)
        };
        let path: Vec<Point> = curve.iter().map(place).collect();
        straight(&path)
    }

    /// Columns that a curve is thinned to: two a pixel.
    pub fn columns(&self) -> f64 {
        ((self.right_px - self.left_px) * 2.0).max(16.0)
    }

    /// Spans the values with round steps of 1, 2 or 5 times a power of ten, `least` or more, lines at least
    /// `apart_px` apart where there is room for two; returns the step.
    #[inline(never)]
    pub fn fit(&mut self, lowest: f64, highest: f64, least: f64, apart_px: f64) -> f64 {
        let most = ((self.bottom_px - self.top_px) / apart_px).max(2.0);
        let step = round_step((highest - lowest).max(least), most, least);
        self.lowest = (lowest / step + 1e-9).floor() * step;
        self.highest = ((highest / step - 1e-9).ceil() * step).max(self.lowest + step);
        step
    }

    /// Level lines with their values, and the unit above them.
    #[inline(never)]
    pub fn values(&self, drawing: &mut Drawing, inks: &Inks, step: f64, unit: &str) {
        for value in ticks(self.lowest, self.highest, step) {
            let y = self.y(value);
            let ink = if value == 0.0 { inks.mark } else { inks.grid };
            drawing.stroke((self.left_px, y), (self.right_px, y), ink, 1.0);
            let text = format!("{:.0}", value + 0.0).replace('-', "−");
            drawing.text(&text, (self.left_px - 7.0, y), inks.text, Anchor::Left);
        }
        drawing.text(unit, (4.0, self.top_px - 14.0), inks.text, Anchor::Right);
    }

    /// Ticks of time below, with their grid lines where the caller asked for these ticks.
    #[inline(never)]
    pub fn times(
        &self,
        drawing: &mut Drawing,
        inks: &Inks,
        axis: &Axis,
        wanted: Option<&[(f64, String)]>,
    ) {
        let round;
        let ticks = match wanted {
            Some(wanted) => wanted,
            None => {
                let most = ((self.right_px - self.left_px) / 64.0).max(2.0);
                let step_s = time_step_s(axis.end_s() - axis.start_s(), most);
                round = ticks(axis.start_s(), axis.end_s(), step_s)
                    .into_iter()
                    .map(|time_s| (time_s, time_label(time_s, step_s)))
                    .collect::<Vec<_>>();
                &round
            }
        };
        let within = |time_s: f64| time_s >= axis.start_s() && time_s <= axis.end_s();
        let mut free_px = 0.0;
        for (time_s, text) in ticks.iter().filter(|tick| within(tick.0)) {
            let x = self.x(axis.share(*time_s));
            if wanted.is_some() {
                drawing.stroke((x, self.top_px), (x, self.bottom_px), inks.grid, 1.0);
            }
            drawing.stroke((x, self.bottom_px), (x, self.bottom_px + 5.0), inks.mark, 1.0);
            let half_px = text_width_px(text) / 2.0;
            if x - half_px >= free_px && !text.is_empty() {
                drawing.text(text, (x, self.bottom_px + 8.0), inks.text, Anchor::Below);
                free_px = x + half_px + APART_PX;
            }
        }
    }

    /// Names at the right ends of lines, moved apart where they would touch.
    #[inline(never)]
    pub fn names(&self, drawing: &mut Drawing, mut ends: Vec<(f64, &str, Ink)>) {
        let count = ends.len();
        // A handful: put in order by hand, a library's sort is larger than this file.
        for place in 1..count {
            for at in (1..=place).rev() {
                if ends[at].0 > ends[at - 1].0 {
                    ends.swap(at, at - 1);
                }
            }
        }
        let mut free_px = self.top_px;
        for (place, (value, name, ink)) in ends.into_iter().enumerate() {
            let lowest_px = self.bottom_px - NAME_PX * (count - 1 - place) as f64;
            let y_px = self.y(value).min(lowest_px).max(free_px);
            free_px = y_px + NAME_PX;
            drawing.text(name, (self.right_px + 8.0, y_px), ink, Anchor::Right);
        }
    }
}
