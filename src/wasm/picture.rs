//! The page's options of a picture, read into the core's.
//!
//! Read key by key rather than by derived code: the options are few, and that code is many times as large.

use js_sys::{Array, Reflect};
use stallheat::chart::{Options, Over, Overlay, Picture};
use stallheat::timeline::Node;
use wasm_bindgen::JsValue;

/// A JavaScript `Error` with this sentence.
pub fn refused(said: &str) -> JsValue {
    js_sys::Error::new(said).into()
}

/// The node of a key.
pub fn node(key: &str) -> Result<Node, String> {
    Node::of_key(key).ok_or_else(|| ["There is no node ", key, "."].concat())
}

/// The picture of a key.
pub fn picture(key: &str) -> Result<Picture, String> {
    Picture::of_key(key).ok_or_else(|| ["There is no picture ", key, "."].concat())
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

/// A value of an object; `None` where it is missing or null.
#[inline(never)]
fn get(of: &JsValue, key: &str) -> Option<JsValue> {
    // Only what is no object has no properties at all: everything is missing there.
    let value = Reflect::get(of, &JsValue::from_str(key)).ok()?;
    (!value.is_undefined() && !value.is_null()).then_some(value)
}

#[inline(never)]
fn wrong(key: &str, wanted: &str) -> String {
    ["The options of the picture: ", key, " must be ", wanted, "."].concat()
}

#[inline(never)]
fn number(of: &JsValue, key: &str, otherwise: f64) -> Result<f64, String> {
    let Some(value) = get(of, key) else { return Ok(otherwise) };
    value.as_f64().ok_or_else(|| wrong(key, "a number"))
}

#[inline(never)]
fn text(of: &JsValue, key: &str, otherwise: &str) -> Result<String, String> {
    let Some(value) = get(of, key) else { return Ok(otherwise.to_string()) };
    value.as_string().ok_or_else(|| wrong(key, "a text"))
}

fn is(of: &JsValue, key: &str) -> bool {
    get(of, key).is_some_and(|value| value.is_truthy())
}

/// A list, plain or typed.
#[inline(never)]
fn list(of: &JsValue, key: &str) -> Result<Option<Vec<JsValue>>, String> {
    let Some(value) = get(of, key) else { return Ok(None) };
    let length = get(&value, "length");
    if length.is_none() || value.is_string() {
        return Err(wrong(key, "a list"));
    }
    Ok(Some(Array::from(&value).to_vec()))
}

/// A list of numbers; what is no number is not finite.
#[inline(never)]
fn numbers(of: &JsValue, key: &str) -> Result<Option<Vec<f64>>, String> {
    let values = list(of, key)?;
    Ok(values.map(|values| values.iter().map(|value| value.as_f64().unwrap_or(f64::NAN)).collect()))
}

/// Two numbers.
#[inline(never)]
fn pair(of: &JsValue, key: &str) -> Result<Option<(f64, f64)>, String> {
    match numbers(of, key)?.as_deref() {
        None => Ok(None),
        Some([first, second]) => Ok(Some((*first, *second))),
        Some(_) => Err(wrong(key, "two numbers")),
    }
}

// By itself: the page's first pictures have none.
#[inline(never)]
fn overlay(asked: &JsValue) -> Result<Overlay, String> {
    let values = |key: &str| numbers(asked, key);
    let of = match (values("value_k")?, values("low_k")?, values("high_k")?) {
        (Some(value_k), _, _) => Over::Line {
            value_k,
            dash_px: pair(asked, "dash")?,
            width_px: number(asked, "width", 1.8)?,
        },
        (None, Some(low_k), Some(high_k)) => Over::Band { low_k, high_k },
        _ => return Err(String::from("An overlay needs value_k, or low_k and high_k.")),
    };
    Ok(Overlay {
        node: node(&text(asked, "node", "")?)?,
        times_s: values("times_s")?.unwrap_or_default(),
        of,
        light: ink(&text(asked, "light", "")?)?,
        dark: ink(&text(asked, "dark", "")?)?,
    })
}

fn read(asked: &JsValue) -> Result<(f64, Options), String> {
    let key = text(asked, "picture", "temperatures")?;
    let picture = picture(&key)?;
    let nodes = list(asked, "nodes")?.unwrap_or_default();
    let mut options = Options {
        picture,
        width_px: number(asked, "width", 1000.0)?.clamp(80.0, 8_000.0),
        height_px: number(asked, "height", 460.0)?.clamp(80.0, 4_000.0),
        system: super::system(&text(asked, "units", "us")?),
        dark: is(asked, "dark"),
        // In their own order, whatever the page's.
        nodes: Node::ALL
            .into_iter()
            .filter(|node| nodes.iter().any(|key| *key == *node.key()))
            .collect(),
        range_s: pair(asked, "range")?,
        launch: number(asked, "launch", 0.0)? as usize,
        names: is(asked, "names"),
        paper: is(asked, "paper"),
        ..Options::default()
    };
    if let Some(knots) = list(asked, "knots")? {
        let row = |knot: &JsValue| {
            let part = |at| Reflect::get_u32(knot, at).ok().and_then(|value| value.as_f64());
            (part(0).unwrap_or(f64::NAN), part(1).unwrap_or(f64::NAN))
        };
        options.knots = Some(knots.iter().map(row).collect());
    }
    if let Some(ticks) = list(asked, "ticks")? {
        let mut read = Vec::with_capacity(ticks.len());
        for tick in &ticks {
            read.push((number(tick, "time_s", f64::NAN)?, text(tick, "text", "")?));
        }
        options.ticks = Some(read);
    }
    for asked in list(asked, "overlays")?.unwrap_or_default() {
        options.overlays.push(overlay(&asked)?);
    }
    let ratio = number(asked, "ratio", 1.0)?;
    Ok((if ratio.is_finite() { ratio.clamp(0.5, 4.0) } else { 1.0 }, options))
}

/// The options and the canvas pixels per CSS pixel; throws what is wrong with them.
pub fn options(asked: JsValue) -> Result<(f64, Options), JsValue> {
    read(&asked).map_err(|said| refused(&said))
}
