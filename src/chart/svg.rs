//! A plotters backend that writes SVG: lines, areas and texts, and nothing that pictures here do not use.
//!
//! SVG 1.1 (W3C, 2011), chapters 9 and 10. The view box keeps the fine grid that plotters counts in; texts name the
//! generic family only and are placed by offsets, since few readers of SVG know `dominant-baseline`.

use std::convert::Infallible;

use plotters_backend::text_anchor::{HPos, VPos};
use plotters_backend::{
    BackendColor, BackendCoord, BackendStyle, BackendTextStyle, DrawingBackend, DrawingErrorKind,
};

use super::drawing::{Drawing, Point, Surface};
use super::{ChartError, Options};

/// Grid points per CSS pixel: curves are smooth to a tenth of a pixel.
const FINE: f64 = 10.0;

struct Writer<'a> {
    out: &'a mut String,
    size: (u32, u32),
    dash: Option<Point>,
}

impl Surface for Writer<'_> {
    fn dash(&mut self, dash: Option<Point>) {
        self.dash = dash;
    }
}

type Drawn = Result<(), DrawingErrorKind<Infallible>>;

/// Text as XML; control characters, which XML cannot hold, are left out.
fn escape(out: &mut String, text: &str) {
    for letter in text.chars() {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\u{fffe}' | '\u{ffff}' => {}
            letter if letter.is_control() => out.push(' '),
            letter => out.push(letter),
        }
    }
}

impl Writer<'_> {
    fn number(&mut self, value: i32) {
        self.out.push_str(&value.to_string());
    }

    fn attribute(&mut self, name: &str, value: i32) {
        self.out.push(' ');
        self.out.push_str(name);
        self.out.push_str("=\"");
        self.number(value);
        self.out.push('"');
    }

    fn color(&mut self, name: &str, color: BackendColor) {
        let (r, g, b) = color.rgb;
        self.out.push_str(&format!(" {name}=\"#{r:02x}{g:02x}{b:02x}\""));
        if color.alpha < 0.999 {
            self.out.push_str(&format!(
                " {name}-opacity=\"{}\"",
                (color.alpha * 100.0).round() / 100.0
            ));
        }
    }

    fn points(&mut self, points: &mut dyn Iterator<Item = BackendCoord>) {
        self.out.push_str(" points=\"");
        for (at, (x, y)) in points.enumerate() {
            if at > 0 {
                self.out.push(' ');
            }
            self.number(x);
            self.out.push(',');
            self.number(y);
        }
        self.out.push('"');
    }
}

impl DrawingBackend for Writer<'_> {
    type ErrorType = Infallible;

    fn get_size(&self) -> (u32, u32) {
        self.size
    }

    fn ensure_prepared(&mut self) -> Drawn {
        Ok(())
    }

    fn present(&mut self) -> Drawn {
        Ok(())
    }

    fn draw_pixel(&mut self, point: BackendCoord, color: BackendColor) -> Drawn {
        self.fill_polygon(
            [point, (point.0 + 1, point.1), (point.0 + 1, point.1 + 1), (point.0, point.1 + 1)],
            &color,
        )
    }

    fn draw_path<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        path: I,
        style: &S,
    ) -> Drawn {
        self.out.push_str("<polyline");
        self.color("stroke", style.color());
        self.attribute("stroke-width", style.stroke_width() as i32);
        if let Some((on, off)) = self.dash {
            self.out.push_str(&format!(" stroke-dasharray=\"{} {}\"", on.round(), off.round()));
        }
        self.points(&mut path.into_iter());
        self.out.push_str("/>\n");
        Ok(())
    }

    fn fill_polygon<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        corners: I,
        style: &S,
    ) -> Drawn {
        self.out.push_str("<polygon");
        self.color("fill", style.color());
        self.points(&mut corners.into_iter());
        self.out.push_str("/>\n");
        Ok(())
    }

    fn draw_text<S: BackendTextStyle>(
        &mut self,
        text: &str,
        style: &S,
        (x, y): BackendCoord,
    ) -> Drawn {
        let anchor = style.anchor();
        // From the line that letters stand on to the wanted height, in parts of the letters' size.
        let down = match anchor.v_pos {
            VPos::Top => 0.78,
            VPos::Center => 0.35,
            VPos::Bottom => -0.22,
        };
        self.out.push_str("<text");
        self.color("fill", style.color());
        self.attribute("x", x);
        self.attribute("y", y.saturating_add((down * style.size()).round() as i32));
        match anchor.h_pos {
            HPos::Left => {}
            HPos::Center => self.out.push_str(" text-anchor=\"middle\""),
            HPos::Right => self.out.push_str(" text-anchor=\"end\""),
        }
        self.attribute("font-size", style.size().round() as i32);
        self.out.push('>');
        escape(self.out, text);
        self.out.push_str("</text>\n");
        Ok(())
    }
}

/// A drawing as a file of its own, with a title and a description.
pub fn write(
    drawing: &Drawing,
    options: &Options,
    title: &str,
    description: &str,
) -> Result<String, ChartError> {
    let (width_px, height_px) = (options.width_px.round(), options.height_px.round());
    let size = ((width_px * FINE) as u32, (height_px * FINE) as u32);
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width_px}\" height=\"{height_px}\" viewBox=\"0 0 {} {}\" role=\"img\" fill=\"none\" stroke-linejoin=\"round\" font-family=\"sans-serif\">\n<title>",
        size.0, size.1
    );
    escape(&mut out, title);
    out.push_str("</title>\n<desc>");
    escape(&mut out, description);
    out.push_str("</desc>\n");
    drawing.play(FINE, Writer { out: &mut out, size, dash: None })?;
    out.push_str("</svg>\n");
    Ok(out)
}
