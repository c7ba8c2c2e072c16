//! A canvas counted on a grid finer than its pixels.
//!
//! plotters counts in whole pixels, which turns slow curves into stairs. Drawing on a grid [`FINE`] times
//! finer, with the canvas's own transform shrinking it again, keeps them smooth. Everything but the size
//! passes straight through. Text is drawn right too; measuring text is not used.

use plotters_backend::{
    BackendColor, BackendCoord, BackendStyle, BackendTextStyle, DrawingBackend, DrawingErrorKind,
};
use plotters_canvas::CanvasBackend;

/// Grid points per canvas pixel.
pub const FINE: f64 = 4.0;

/// The wrapped canvas.
pub struct FineBackend(pub CanvasBackend);

type Drawn = Result<(), DrawingErrorKind<<CanvasBackend as DrawingBackend>::ErrorType>>;

impl DrawingBackend for FineBackend {
    type ErrorType = <CanvasBackend as DrawingBackend>::ErrorType;

    fn get_size(&self) -> (u32, u32) {
        let (width, height) = self.0.get_size();
        ((f64::from(width) * FINE) as u32, (f64::from(height) * FINE) as u32)
    }

    fn ensure_prepared(&mut self) -> Drawn {
        self.0.ensure_prepared()
    }

    fn present(&mut self) -> Drawn {
        self.0.present()
    }

    fn draw_pixel(&mut self, point: BackendCoord, color: BackendColor) -> Drawn {
        self.0.draw_pixel(point, color)
    }

    fn draw_line<S: BackendStyle>(
        &mut self,
        from: BackendCoord,
        to: BackendCoord,
        style: &S,
    ) -> Drawn {
        self.0.draw_line(from, to, style)
    }

    fn draw_rect<S: BackendStyle>(
        &mut self,
        upper_left: BackendCoord,
        bottom_right: BackendCoord,
        style: &S,
        fill: bool,
    ) -> Drawn {
        self.0.draw_rect(upper_left, bottom_right, style, fill)
    }

    fn draw_path<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        path: I,
        style: &S,
    ) -> Drawn {
        self.0.draw_path(path, style)
    }

    fn fill_polygon<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        corners: I,
        style: &S,
    ) -> Drawn {
        self.0.fill_polygon(corners, style)
    }

    fn draw_text<S: BackendTextStyle>(&mut self, text: &str, style: &S, at: BackendCoord) -> Drawn {
        self.0.draw_text(text, style, at)
    }
}
