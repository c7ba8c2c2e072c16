//! The page's options of a picture, read into the core's.

use serde::Deserialize;
use stallheat::chart::{Options, Over, Overlay, Picture};
use stallheat::timeline::Node;
use wasm_bindgen::JsValue;

/// What to draw: `chart::Options` as the page writes them.
#[derive(Deserialize)]
#[serde(default)]
struct Asked {
    picture: String,
    width: f64,
    height: f64,
    /// Canvas pixels per CSS pixel.
    ratio: f64,
    units: String,
    dark: bool,
    nodes: Vec<String>,
    range: Option<(f64, f64)>,
    knots: Option<Vec<(f64, f64)>>,
    ticks: Option<Vec<Tick>>,
    overlays: Option<Vec<AskedOverlay>>,
    launch: usize,
    names: bool,
    paper: bool,
}

impl Default for Asked {
    fn default() -> Asked {
        Asked {
            picture: String::from("temperatures"),
            width: 1000.0,
            height: 460.0,
            ratio: 1.0,
            units: String::from("us"),
            dark: false,
            nodes: Vec::new(),
            range: None,
            knots: None,
            ticks: None,
            overlays: None,
            launch: 0,
            names: false,
            paper: false,
        }
    }
}

#[derive(Deserialize)]
struct Tick {
    time_s: f64,
    text: String,
}

#[derive(Deserialize)]
struct AskedOverlay {
    node: String,
    times_s: Vec<f64>,
    value_k: Option<Vec<f64>>,
    low_k: Option<Vec<f64>>,
    high_k: Option<Vec<f64>>,
    dash: Option<(f64, f64)>,
    light: String,
    dark: String,
    width: Option<f64>,
}

/// A JavaScript `Error` with this sentence.
pub fn refused(said: &str) -> JsValue {
    js_sys::Error::new(said).into()
}

/// The node of a key.
pub fn node(key: &str) -> Result<Node, String> {
    Node::ALL
        .into_iter()
        .find(|node| node.key() == key)
        .ok_or_else(|| ["There is no node ", key, "."].concat())
}

/// `#rrggbb`.
fn ink(text: &str) -> Result<(u8, u8, u8), String> {
    let part = |at: usize| {
        let digits = text.get(at..at + 2)?;
        u8::from_str_radix(digits, 16).ok()
    };
    match (text.len(), text.starts_with('#'), part(1), part(3), part(5)) {
        (7, true, Some(r), Some(g), Some(b)) => Ok((r, g, b)),
        _ => Err(["Not a colour like #1a2b3c: ", text, "."].concat()),
    }
}

fn overlay(asked: AskedOverlay) -> Result<Overlay, String> {
    let of = match (asked.value_k, asked.low_k, asked.high_k) {
        (Some(value_k), _, _) => {
            Over::Line { value_k, dash_px: asked.dash, width_px: asked.width.unwrap_or(1.8) }
        }
        (None, Some(low_k), Some(high_k)) => Over::Band { low_k, high_k },
        _ => return Err(String::from("An overlay needs value_k, or low_k and high_k.")),
    };
    Ok(Overlay {
        node: node(&asked.node)?,
        times_s: asked.times_s,
        of,
        light: ink(&asked.light)?,
        dark: ink(&asked.dark)?,
    })
}

fn read(asked: Asked) -> Result<(f64, Options), String> {
    let picture = Picture::ALL
        .into_iter()
        .find(|picture| picture.key() == asked.picture)
        .ok_or_else(|| ["There is no picture ", &asked.picture, "."].concat())?;
    let overlays: Result<Vec<Overlay>, String> =
        asked.overlays.unwrap_or_default().into_iter().map(overlay).collect();
    let ratio = if asked.ratio.is_finite() { asked.ratio.clamp(0.5, 4.0) } else { 1.0 };
    let options = Options {
        picture,
        width_px: asked.width.clamp(80.0, 8_000.0),
        height_px: asked.height.clamp(80.0, 4_000.0),
        system: super::system(&asked.units),
        dark: asked.dark,
        // In their own order, whatever the page's.
        nodes: Node::ALL
            .into_iter()
            .filter(|node| asked.nodes.iter().any(|key| key == node.key()))
            .collect(),
        range_s: asked.range,
        knots: asked.knots,
        ticks: asked
            .ticks
            .map(|ticks| ticks.into_iter().map(|tick| (tick.time_s, tick.text)).collect()),
        overlays: overlays?,
        launch: asked.launch,
        names: asked.names,
        paper: asked.paper,
    };
    Ok((ratio, options))
}

/// The options and the canvas pixels per CSS pixel; throws what is wrong with them.
pub fn options(options: JsValue) -> Result<(f64, Options), JsValue> {
    let asked: Asked = serde_wasm_bindgen::from_value(options)
        .map_err(|error| refused(&["The options of the picture: ", &error.to_string()].concat()))?;
    read(asked).map_err(|said| refused(&said))
}
