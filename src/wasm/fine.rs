//! A canvas counted on a grid finer than its pixels.
//!
//! plotters counts in whole pixels, which turns slow curves into stairs. Drawing on a grid [`FINE`] times
//! finer, with the canvas's own transform shrinking it again, keeps them smooth. Lines and areas pass straight
//! through. Dashes are the canvas's own. Texts are written here, because all of them have one font and telling the
//! canvas of it anew for each takes longer than to write it.

use js_sys::Array;
use plotters_backend::text_anchor::{HPos, VPos};
use plotters_backend::{
    BackendColor, BackendCoord, BackendStyle, BackendTextStyle, DrawingBackend, DrawingErrorKind,
};
use plotters_canvas::CanvasBackend;
use stallheat::chart::Surface;
use wasm_bindgen::{JsCast, JsValue};
use web_sys::{CanvasRenderingContext2d, HtmlCanvasElement};

/// Grid points per canvas pixel.
pub const FINE: f64 = 4.0;

/// The wrapped canvas.
pub struct FineBackend {
    plotter: CanvasBackend,
    context: CanvasRenderingContext2d,
    dashed: bool,
    /// Height of the letters that the canvas was last told of.
    letters: f64,
}

impl FineBackend {
    /// An empty canvas of this size in its own pixels.
    pub fn new(canvas: HtmlCanvasElement, width: u32, height: u32) -> Result<FineBackend, JsValue> {
        let missing = || JsValue::from_str("This browser gives no canvas to draw on.");
        let context: CanvasRenderingContext2d =
            canvas.get_context("2d")?.ok_or_else(missing)?.unchecked_into();
        if (canvas.width(), canvas.height()) == (width, height) {
            // Giving a canvas a size takes it new memory, even if it is the same size.
            context.set_transform(1.0, 0.0, 0.0, 1.0, 0.0, 0.0)?;
            context.clear_rect(0.0, 0.0, f64::from(width), f64::from(height));
        } else {
            canvas.set_width(width);
            canvas.set_height(height);
        }
        context.set_transform(1.0 / FINE, 0.0, 0.0, 1.0 / FINE, 0.0, 0.0)?;
        context.set_line_join("bevel");
        context.set_line_cap("butt");
        context.set_line_dash(&Array::new())?;
        let plotter = CanvasBackend::with_canvas_object(canvas).ok_or_else(missing)?;
        Ok(FineBackend { plotter, context, dashed: false, letters: 0.0 })
    }
}

impl Surface for FineBackend {
    fn dash(&mut self, dash: Option<(f64, f64)>) {
        if dash.is_none() && !self.dashed {
            return;
        }
        self.dashed = dash.is_some();
        let lengths = Array::new();
        if let Some((on, off)) = dash {
            lengths.push(&on.into());
            lengths.push(&off.into());
        }
        // Refused are only lengths that are no number or below 0; a line that is not dashed is drawn all the same.
        let _ = self.context.set_line_dash(&lengths);
    }
}

type Drawn = Result<(), DrawingErrorKind<<CanvasBackend as DrawingBackend>::ErrorType>>;

impl DrawingBackend for FineBackend {
    type ErrorType = <CanvasBackend as DrawingBackend>::ErrorType;

    fn get_size(&self) -> (u32, u32) {
        let (width, height) = self.plotter.get_size();
        ((f64::from(width) * FINE) as u32, (f64::from(height) * FINE) as u32)
    }

    fn ensure_prepared(&mut self) -> Drawn {
        self.plotter.ensure_prepared()
    }

    fn present(&mut self) -> Drawn {
        self.plotter.present()
    }

    fn draw_pixel(&mut self, point: BackendCoord, color: BackendColor) -> Drawn {
        self.plotter.draw_pixel(point, color)
    }

    fn draw_path<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        path: I,
        style: &S,
    ) -> Drawn {
        self.plotter.draw_path(path, style)
    }

    fn fill_polygon<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        corners: I,
        style: &S,
    ) -> Drawn {
        self.plotter.fill_polygon(corners, style)
    }

    fn draw_text<S: BackendTextStyle>(
        &mut self,
        text: &str,
        style: &S,
        (x, y): BackendCoord,
    ) -> Drawn {
        if self.letters != style.size() {
            self.letters = style.size();
            let font = format!("{}px {}", self.letters, style.family().as_str());
            // Read from the drawing before, which is quick; being told makes the browser look up the page's styles.
            if self.context.font() != font {
                self.context.set_font(&font);
            }
        }
        let (r, g, b) = style.color().rgb;
        self.context.set_fill_style_str(&format!("rgb({r},{g},{b})"));
        let anchor = style.anchor();
        self.context.set_text_baseline(match anchor.v_pos {
            VPos::Top => "top",
            VPos::Center => "middle",
            VPos::Bottom => "bottom",
        });
        self.context.set_text_align(match anchor.h_pos {
            HPos::Left => "left",
            HPos::Center => "center",
            HPos::Right => "right",
        });
        // Refused only where a place is no number.
        let _ = self.context.fill_text(text, f64::from(x), f64::from(y));
        Ok(())
    }
}
