//! What is drawn, as a list of lines, areas and texts in CSS pixels; played once onto any plotters backend.
//!
//! Pictures are built without knowing what they are drawn on, so that only this file's short loop is compiled for
//! each backend. plotters works in whole pixels: it is given a grid `scale` times finer.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

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
    Line { points: Vec<Point>, ink: Ink, width_px: f64 },
    Area { points: Vec<Point>, ink: Ink, opacity: f64 },
    Text { text: String, at: Point, ink: Ink, anchor: Anchor },
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
        if points.len() > 1 {
            self.shapes.push(Shape::Line { points, ink, width_px });
        }
    }

    /// A straight line between two points.
    #[inline(never)]
    pub fn stroke(&mut self, from: Point, to: Point, ink: Ink, width_px: f64) {
        self.line(vec![from, to], ink, width_px);
    }

    /// A line with a dash (on, off) in CSS pixels, or a full one.
    #[inline(never)]
    pub fn dashed(&mut self, points: Vec<Point>, ink: Ink, width_px: f64, dash: Option<Point>) {
        match dash {
            None => self.line(points, ink, width_px),
            Some((on_px, off_px)) => {
                for piece in dashes(&points, on_px, off_px) {
                    self.line(piece, ink, width_px);
                }
            }
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

    /// Draws the list onto a backend that has `scale` of its pixels for a CSS pixel.
    pub fn play<B: DrawingBackend>(&self, scale: f64, backend: B) -> Result<(), ChartError> {
        let root = backend.into_drawing_area();
        let at =
            |point: &Point| ((point.0 * scale).round() as i32, (point.1 * scale).round() as i32);
        for shape in &self.shapes {
            match shape {
                Shape::Line { points, ink: (r, g, b), width_px } => root.draw(&PathElement::new(
                    points.iter().map(at).collect::<Vec<_>>(),
                    ShapeStyle {
                        color: RGBColor(*r, *g, *b).to_rgba(),
                        filled: false,
                        stroke_width: (width_px * scale).round().max(1.0) as u32,
                    },
                )),
                Shape::Area { points, ink: (r, g, b), opacity } => root.draw(&Polygon::new(
                    points.iter().map(at).collect::<Vec<_>>(),
                    RGBColor(*r, *g, *b).mix(*opacity),
                )),
                Shape::Text { text, at: point, ink: (r, g, b), anchor } => {
                    let place = match anchor {
                        Anchor::Right => Pos::new(HPos::Left, VPos::Center),
                        Anchor::Left => Pos::new(HPos::Right, VPos::Center),
                        Anchor::Below => Pos::new(HPos::Center, VPos::Top),
                        Anchor::Middle => Pos::new(HPos::Center, VPos::Center),
                    };
                    let color = RGBColor(*r, *g, *b);
                    let style = ("sans-serif", TEXT_PX * scale)
                        .into_text_style(&root)
                        .color(&color)
                        .pos(place);
                    root.draw_text(text, &style, at(point))
                }
            }
            .map_err(|error| ChartError(error.to_string()))?;
        }
        root.present().map_err(|error| ChartError(error.to_string()))
    }
}

/// Cuts a path into dashes of `on` with gaps of `off` (CSS pixels).
fn dashes(path: &[Point], on: f64, off: f64) -> Vec<Vec<Point>> {
    let (on, off) = (on.max(0.5), off.max(0.5));
    let mut pieces = Vec::new();
    let Some(&first) = path.first() else { return pieces };
    let mut piece = vec![first];
    let mut drawing = true;
    let mut left = on;
    for pair in path.windows(2) {
        let ((mut x, mut y), (end_x, end_y)) = (pair[0], pair[1]);
        loop {
            let length = (end_x - x).hypot(end_y - y);
            if length <= left || !length.is_finite() {
                left -= length;
                if drawing {
                    piece.push(pair[1]);
                }
                break;
            }
            x += (end_x - x) * left / length;
            y += (end_y - y) * left / length;
            if drawing {
                piece.push((x, y));
                pieces.push(std::mem::take(&mut piece));
            } else {
                piece = vec![(x, y)];
            }
            drawing = !drawing;
            left = if drawing { on } else { off };
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
    fn dashes_cover_on_out_of_on_plus_off() {
        let pieces = dashes(&[(0.0, 0.0), (100.0, 0.0)], 6.0, 4.0);
        assert_eq!(pieces.len(), 10);
        let drawn: f64 = pieces.iter().map(|piece| piece[piece.len() - 1].0 - piece[0].0).sum();
        assert!((drawn - 60.0).abs() < 1e-9, "{drawn}");
    }
}
