//! Colours and strokes of the pictures, light and dark. Lines differ in dash and weight as well as in colour, and
//! shares of a bar carry numbers.

use super::drawing::Ink;
use crate::timeline::Node;
use crate::transmission::Path;

/// How a node's line looks: colour in light and dark, stroke, dash (CSS pixels; none is a full line).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineStyle {
    pub light: Ink,
    pub dark: Ink,
    pub width_px: f64,
    pub dash_px: Option<(f64, f64)>,
}

impl LineStyle {
    pub fn ink(&self, dark: bool) -> Ink {
        if dark { self.dark } else { self.light }
    }
}

/// The look of each node, the same in every picture.
pub fn line_style(node: Node) -> LineStyle {
    let style = |light, dark, width_px, dash_px| LineStyle { light, dark, width_px, dash_px };
    match node {
        Node::ConverterFluid => style((196, 66, 16), (255, 140, 92), 2.4, None),
        Node::ConverterShell => style((150, 108, 0), (232, 190, 74), 1.8, Some((7.0, 4.0))),
        Node::PanFluid => style((22, 92, 178), (118, 176, 255), 2.4, None),
        Node::GearTrain => style((116, 70, 168), (190, 158, 240), 1.6, Some((2.0, 3.0))),
        Node::Case => style((34, 112, 72), (108, 206, 150), 1.8, Some((10.0, 4.0))),
        Node::CoolerCore => style((0, 122, 138), (92, 204, 218), 1.6, Some((4.0, 3.0))),
        Node::Engine => style((98, 104, 114), (164, 170, 180), 1.4, Some((1.5, 4.0))),
    }
}

/// Colour of a path's heat in light and dark: sources warm, sinks cool. `None` for paths inside.
pub fn path_inks(path: Path) -> Option<(Ink, Ink)> {
    Some(match path {
        Path::ConverterShear => ((166, 56, 14), (240, 128, 84)),
        Path::GearTrain => ((214, 142, 52), (236, 184, 104)),
        Path::FrontPump => ((118, 60, 92), (208, 140, 178)),
        Path::CirculationPump => ((146, 128, 30), (214, 202, 110)),
        Path::FromEngine => ((128, 112, 104), (186, 172, 164)),
        Path::CoolerAir => ((16, 102, 122), (88, 190, 208)),
        Path::CaseConvection => ((112, 160, 190), (150, 190, 222)),
        Path::CaseRadiation => ((52, 74, 130), (138, 154, 222)),
        Path::BellhousingAir => ((70, 140, 110), (124, 204, 166)),
        Path::IntoEngine => ((110, 118, 128), (166, 174, 184)),
        _ => return None,
    })
}

/// Black or white, whichever stands out more on a colour (relative luminance of WCAG 2, with plain squares for its
/// exponent of 2.4).
pub fn readable((r, g, b): Ink) -> Ink {
    let part = |value: u8| (f64::from(value) / 255.0).powi(2);
    let light = 0.2126 * part(r) + 0.7152 * part(g) + 0.0722 * part(b);
    if light > 0.19 { (0, 0, 0) } else { (255, 255, 255) }
}

/// Colours of what is around the lines.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Inks {
    pub paper: Ink,
    pub text: Ink,
    pub grid: Ink,
    pub mark: Ink,
    pub band: Ink,
    pub band_opacity: f64,
}

pub fn inks(dark: bool) -> Inks {
    if dark {
        Inks {
            paper: (20, 23, 26),
            text: (196, 200, 206),
            grid: (58, 63, 70),
            mark: (120, 126, 136),
            band: (118, 176, 255),
            band_opacity: 0.14,
        }
    } else {
        Inks {
            paper: (255, 255, 255),
            text: (70, 76, 84),
            grid: (224, 227, 231),
            mark: (150, 156, 164),
            band: (22, 92, 178),
            band_opacity: 0.10,
        }
    }
}
