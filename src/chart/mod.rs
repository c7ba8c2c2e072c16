//! Pictures of a simulated day: temperatures, heat by event, one pass, charge. On a canvas on the page, as SVG for files.
//!
//! A picture is a file with a `ROW` and a line in the list of them: the page, files and the command line follow.
//!
//! A picture is a function of trace and options, without hidden state: it becomes a list of shapes ([`drawing`]) that
//! plotters then draws on any backend. All lengths are CSS pixels; a backend has `scale` of its own for each, because
//! plotters works in whole pixels and callers draw at a multiple and shrink, which makes curves smooth. The returned
//! [`Layout`] tells where the plot area is, so that cursors and hit areas can lie over it. The time axis may give short
//! events room ([`axis`]).
//!
//! Not here: cursor, tooltip. They are the page's. The chart of two parameters is drawn by `size`, with the same shapes.

pub mod axis;
mod charge;
pub mod drawing;
pub mod frame;
mod heat;
mod pass;
mod straight;
pub mod style;
pub mod svg;
mod temperatures;

use std::ops::RangeInclusive;

pub use heat::{Block, blocks};
pub use pass::{ordinal, shifts};
pub use style::{LineStyle, line_style, path_inks, readable};

use serde::Serialize;

use axis::Axis;
use drawing::Drawing;
pub use drawing::{Ink, Surface};

use crate::scenario::Scenario;
use crate::timeline::Node;
use crate::trace::Trace;
use crate::units::System;

/// Why there is no drawing, as a sentence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChartError(pub String);

/// What a picture has along its width.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Axes {
    /// The day, on the axis of the options.
    Day,
    /// The pass of one launch.
    Launch,
}

/// A picture in words and numbers, in the reader's units.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Table {
    /// A sentence about it.
    pub says: String,
    pub heads: Vec<&'static str>,
    /// As many texts in each as there are heads, the first one its name.
    pub rows: Vec<Vec<String>>,
}

/// What a picture's file says of it.
struct Row {
    /// The name in options and on the command line, and for people.
    key: &'static str,
    label: &'static str,
    /// What is to be seen on it.
    description: &'static str,
    axes: Axes,
    draw: fn(&Of, &mut Drawing) -> Result<Layout, ChartError>,
    /// Its table; the page shows pictures that have one in a list. Without: the page has a place and a table for it.
    table: Option<fn(&Scenario, &Trace, System) -> Table>,
}

macro_rules! pictures {
    ($( $(#[$what:meta])+ $Picture:ident = $file:ident; )+) => {
        /// What is drawn.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
        pub enum Picture { #[default] $( $(#[$what])+ $Picture, )+ }

        impl Picture {
            /// All pictures, in the order in which the page offers them.
            pub const ALL: [Picture; [$( Picture::$Picture ),+].len()] = [$( Picture::$Picture ),+];

            fn row(self) -> &'static Row {
                match self { $( Picture::$Picture => &$file::ROW, )+ }
            }
        }
    };
}

pictures! {
    /// Of the nodes.
    Temperatures = temperatures;
    /// Heat in and out, event by event.
    Heat = heat;
    /// Speeds over one pass.
    Pass = pass;
    /// Of the battery.
    Charge = charge;
}

impl Picture {
    /// The picture of a name.
    pub fn of_key(key: &str) -> Option<Picture> {
        Picture::ALL.into_iter().find(|picture| picture.key() == key)
    }

    /// The name in options and on the command line.
    pub fn key(self) -> &'static str {
        self.row().key
    }

    /// The name for people.
    pub fn label(self) -> &'static str {
        self.row().label
    }

    /// What is to be seen on it, in a sentence or two.
    pub fn description(self) -> &'static str {
        self.row().description
    }

    /// What it has along its width.
    pub fn axes(self) -> Axes {
        self.row().axes
    }

    /// Whether it has a table of its own.
    pub fn has_table(self) -> bool {
        self.row().table.is_some()
    }

    /// The same in words and numbers; `None` for those whose table is elsewhere.
    pub fn table(self, scenario: &Scenario, trace: &Trace, system: System) -> Option<Table> {
        self.row().table.map(|table| table(scenario, trace, system))
    }
}

/// A line or a band over the temperatures.
#[derive(Debug, Clone, PartialEq)]
pub struct Overlay {
    pub node: Node,
    pub times_s: Vec<f64>,
    pub of: Over,
    pub light: Ink,
    pub dark: Ink,
}

/// What an overlay shows, at its times (K).
#[derive(Debug, Clone, PartialEq)]
pub enum Over {
    Line { value_k: Vec<f64>, dash_px: Option<(f64, f64)>, width_px: f64 },
    Band { low_k: Vec<f64>, high_k: Vec<f64> },
}

/// What to draw and how large.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Options {
    pub picture: Picture,
    /// Size in CSS pixels.
    pub width_px: f64,
    pub height_px: f64,
    pub system: System,
    pub dark: bool,
    /// Nodes of the temperature picture.
    pub nodes: Vec<Node>,
    /// Part of the day to show (s); `None`: all of it. Not used where there are knots.
    pub range_s: Option<(f64, f64)>,
    /// The time axis as (time in s, share of the width); `None`: even.
    pub knots: Option<Vec<(f64, f64)>>,
    /// Where grid lines of time stand (s) and what is written under them; `None`: on round times.
    pub ticks: Option<Vec<(f64, String)>>,
    pub overlays: Vec<Overlay>,
    /// Index of the launch whose pass is drawn.
    pub launch: usize,
    /// Write names at the lines, and what is a legend elsewhere: a file stands alone.
    pub names: bool,
    /// Paint the paper as well.
    pub paper: bool,
}

/// Where the plot area lies (CSS pixels) and what it spans.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Layout {
    pub left_px: f64,
    pub top_px: f64,
    pub right_px: f64,
    pub bottom_px: f64,
    /// Of the day.
    pub start_s: f64,
    pub end_s: f64,
    /// In the reader's unit; of the pass the upper panel, engine speed.
    pub lowest: f64,
    pub highest: f64,
    pub unit: &'static str,
}

/// What a picture needs beside its options.
struct Of<'a> {
    scenario: &'a Scenario,
    trace: &'a Trace,
    options: &'a Options,
}

impl Of<'_> {
    fn axis(&self) -> Result<Axis, ChartError> {
        match &self.options.knots {
            Some(knots) => Axis::knotted(knots.clone()),
            None => {
                let (start_s, end_s) =
                    self.options.range_s.unwrap_or((0.0, self.trace.duration_s()));
                Ok(Axis::even(start_s, end_s))
            }
        }
    }
}

/// A drawing with nothing on it but its paper, where the options ask for that; an error where it is smaller or larger than
/// `px` (CSS pixels) allows.
pub fn blank(
    what: &str,
    px: RangeInclusive<f64>,
    options: &Options,
) -> Result<Drawing, ChartError> {
    let (width_px, height_px) = (options.width_px, options.height_px);
    if ![width_px, height_px].iter().all(|size_px| px.contains(size_px)) {
        let (least, most) = (px.start(), px.end());
        return Err(ChartError(format!(
            "A {what} of {width_px} by {height_px} pixels cannot be drawn: give both {least} to {most}."
        )));
    }
    let mut drawing = Drawing::default();
    if options.paper {
        let paper = style::inks(options.dark).paper;
        drawing.rectangle((0.0, 0.0), (width_px, height_px), paper, 1.0);
    }
    Ok(drawing)
}

/// The picture as a list of shapes.
fn picture(
    scenario: &Scenario,
    trace: &Trace,
    options: &Options,
) -> Result<(Drawing, Layout), ChartError> {
    let mut drawing = blank("picture", 40.0..=20_000.0, options)?;
    let of = Of { scenario, trace, options };
    let layout = (options.picture.row().draw)(&of, &mut drawing)?;
    Ok((drawing, layout))
}

/// Draws a picture on a surface that has `scale` of its pixels for a CSS pixel.
pub fn draw<B: Surface>(
    surface: B,
    scale: f64,
    scenario: &Scenario,
    trace: &Trace,
    options: &Options,
) -> Result<Layout, ChartError> {
    let (drawing, layout) = picture(scenario, trace, options)?;
    drawing.play(scale, surface)?;
    Ok(layout)
}

/// A picture as SVG with title and description.
pub fn svg(scenario: &Scenario, trace: &Trace, options: &Options) -> Result<String, ChartError> {
    let (drawing, _) = picture(scenario, trace, options)?;
    let Row { label, description, .. } = options.picture.row();
    let title = [&scenario.name, ": ", &label.to_ascii_lowercase()].concat();
    svg::write(&drawing, options, &title, description)
}
