//! What is drawn, as a list of lines, areas and texts in CSS pixels; played once onto any plotters backend.
//!
//! Pictures are built without knowing what they are drawn on, so that only this file's short loop is compiled for
//! each backend. plotters works in whole pixels: it is given a grid `scale` times finer. It knows no dashes; a surface
//! does, since cut up here a dashed line is a hundred lines to draw.

use std::convert::Infallible;

use plotters_backend::text_anchor::{HPos, Pos, VPos};
use plotters_backend::{
    BackendColor, BackendCoord, BackendStyle, BackendTextStyle, DrawingBackend, FontFamily,
};

use super::ChartError;

/// A point in CSS pixels, from the upper left.
pub type Point = (f64, f64);

/// Red, green, blue.
pub type Ink = (u8, u8, u8);

/// Where a text stands against its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// To the right of it, at its height.
    Right,
    /// To the left of it, at its height.
    Left,
    /// Below it, in the middle.
    Below,
    /// Around it.
    Middle,
}

/// One thing drawn.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// `dash_px`: on, off.
    Line {
        points: Vec<Point>,
        ink: Ink,
        width_px: f64,
        dash_px: Option<Point>,
    },
    Area {
        points: Vec<Point>,
        ink: Ink,
        opacity: f64,
    },
    Text {
        text: String,
        at: Point,
        ink: Ink,
        anchor: Anchor,
    },
}

/// What pictures are drawn on: a plotters backend that can dash the lines it draws.
pub trait Surface: DrawingBackend {
    /// How lines are dashed from now on (on, off, in its own pixels).
    fn dash(&mut self, dash: Option<Point>);
}

/// Height of all texts (CSS pixels).
pub const TEXT_PX: f64 = 12.0;

/// How wide a text is at most, for keeping texts apart: letters of a common sans-serif are 0.6 of its height wide.
#[inline(never)]
pub fn text_width_px(text: &str) -> f64 {
    text.chars().count() as f64 * TEXT_PX * 0.6
}

/// The list, first at the bottom.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Drawing {
    pub shapes: Vec<Shape>,
}

// Kept out of line: every picture is a row of calls of these.
impl Drawing {
    #[inline(never)]
    pub fn line(&mut self, points: Vec<Point>, ink: Ink, width_px: f64) {
        self.dashed(points, ink, width_px, None);
    }

    /// A straight line between two points.
    #[inline(never)]
    pub fn stroke(&mut self, from: Point, to: Point, ink: Ink, width_px: f64) {
        self.line(vec![from, to], ink, width_px);
    }

    /// A line with a dash (on, off) in CSS pixels, or a full one. On and off are half a pixel at least.
    #[inline(never)]
    pub fn dashed(&mut self, points: Vec<Point>, ink: Ink, width_px: f64, dash: Option<Point>) {
        if points.len() > 1 {
            let dash_px = dash.map(|(on_px, off_px)| (on_px.max(0.5), off_px.max(0.5)));
            self.shapes.push(Shape::Line { points, ink, width_px, dash_px });
        }
    }

    #[inline(never)]
    pub fn area(&mut self, points: Vec<Point>, ink: Ink, opacity: f64) {
        if points.len() > 2 {
            self.shapes.push(Shape::Area { points, ink, opacity });
        }
    }

    /// A rectangle between two corners.
    #[inline(never)]
    pub fn rectangle(
        &mut self,
        (left, top): Point,
        (right, bottom): Point,
        ink: Ink,
        opacity: f64,
    ) {
        self.area(vec![(left, top), (right, top), (right, bottom), (left, bottom)], ink, opacity);
    }

    #[inline(never)]
    pub fn text(&mut self, text: &str, at: Point, ink: Ink, anchor: Anchor) {
        if !text.is_empty() {
            self.shapes.push(Shape::Text { text: text.to_string(), at, ink, anchor });
        }
    }

    /// Draws the list onto a surface that has `scale` of its pixels for a CSS pixel.
    pub fn play<B: Surface>(&self, scale: f64, mut surface: B) -> Result<(), ChartError> {
        let at =
            |point: &Point| ((point.0 * scale).round() as i32, (point.1 * scale).round() as i32);
        let path = |points: &[Point]| points.iter().map(at).collect::<Vec<BackendCoord>>();
        for shape in &self.shapes {
            match shape {
                Shape::Line { points, ink, width_px, dash_px } => {
                    let stroke = Stroke {
                        color: color(*ink, 1.0),
                        width: (width_px * scale).round().max(1.0) as u32,
                    };
                    surface.dash(dash_px.map(|(on_px, off_px)| (on_px * scale, off_px * scale)));
                    surface.draw_path(path(points), &stroke)
                }
                Shape::Area { points, ink, opacity } => {
                    surface.fill_polygon(path(points), &color(*ink, *opacity))
                }
                Shape::Text { text, at: point, ink, anchor } => {
                    let letters =
                        Letters { color: color(*ink, 1.0), size: TEXT_PX * scale, anchor: *anchor };
                    surface.draw_text(text, &letters, at(point))
                }
            }
            .map_err(|error| ChartError(error.to_string()))?;
        }
        surface.present().map_err(|error| ChartError(error.to_string()))
    }
}

fn color(rgb: Ink, alpha: f64) -> BackendColor {
    BackendColor { rgb, alpha }
}

/// How plotters is told of a line.
struct Stroke {
    color: BackendColor,
    width: u32,
}

impl BackendStyle for Stroke {
    fn color(&self) -> BackendColor {
        self.color
    }

    fn stroke_width(&self) -> u32 {
        self.width
    }
}

/// How plotters is told of a text.
struct Letters {
    color: BackendColor,
    /// Height in the surface's pixels.
    size: f64,
    anchor: Anchor,
}

impl BackendTextStyle for Letters {
    type FontError = Infallible;

    fn color(&self) -> BackendColor {
        self.color
    }

    fn size(&self) -> f64 {
        self.size
    }

    fn family(&self) -> FontFamily<'_> {
        FontFamily::SansSerif
    }

    fn anchor(&self) -> Pos {
        match self.anchor {
            Anchor::Right => Pos::new(HPos::Left, VPos::Center),
            Anchor::Left => Pos::new(HPos::Right, VPos::Center),
            Anchor::Below => Pos::new(HPos::Center, VPos::Top),
            Anchor::Middle => Pos::new(HPos::Center, VPos::Center),
        }
    }

    // Surfaces here draw texts themselves: nobody asks how large letters are, nor for their pixels.
    fn layout_box(&self, _: &str) -> Result<((i32, i32), (i32, i32)), Infallible> {
        Ok(((0, 0), (0, 0)))
    }

    fn draw<E, F: FnMut(i32, i32, BackendColor) -> Result<(), E>>(
        &self,
        _: &str,
        _: BackendCoord,
        _: F,
    ) -> Result<Result<(), E>, Infallible> {
        Ok(Ok(()))
    }
}
