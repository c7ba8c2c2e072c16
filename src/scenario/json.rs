//! Strict JSON with paths: every reading function knows where it stands and says so when it fails.
//!
//! Doubled keys are refused: the usual reader would silently keep the last one, and what a user wrote
//! would be lost.

use std::fmt;

use serde::de::{Deserialize, Deserializer, MapAccess, SeqAccess, Visitor};
use serde_json::{Number, Value};

use crate::decimal::decimal;
use crate::error::{Error, ErrorKind, steers};
use crate::units::{
    Dimension, QuantityError, Unit, accepted_units, parse_quantity, parse_quantity_and_unit,
    significant, unit_or_si,
};

/// A JSON value in which no object has a key twice; objects keep the order of the file.
///
/// In place of the usual `Value`: an object of a scenario has a dozen keys, which are found as quickly by looking
/// through them, and the page need not hold the code of a hashed map.
#[derive(Debug, Clone, PartialEq)]
pub enum Json {
    Null,
    Bool(bool),
    Number(Number),
    String(String),
    Array(Vec<Json>),
    Object(Vec<(String, Json)>),
}

/// Most levels of lists and objects that are read.
const MOST_LEVELS: usize = 127;
/// Most keys of an object. No object of a file has a tenth as many, and looking through them takes their square.
const MOST_KEYS: usize = 1_000;

impl Json {
    /// The value of a key; `None` where there is none, or no object.
    pub fn get(&self, key: &str) -> Option<&Json> {
        let Json::Object(entries) = self else { return None };
        value_of(entries, key)
    }

    pub fn as_str(&self) -> Option<&str> {
        match self {
            Json::String(text) => Some(text),
            _ => None,
        }
    }

    /// A whole number.
    pub fn as_i64(&self) -> Option<i64> {
        match self {
            Json::Number(number) => number.as_i64(),
            _ => None,
        }
    }
}

fn value_of<'a>(entries: &'a [(String, Json)], key: &str) -> Option<&'a Json> {
    entries.iter().find(|(known, _)| known == key).map(|(_, value)| value)
}

impl From<&Value> for Json {
    fn from(value: &Value) -> Json {
        match value {
            Value::Null => Json::Null,
            Value::Bool(bool) => Json::Bool(*bool),
            Value::Number(number) => Json::Number(number.clone()),
            Value::String(text) => Json::String(text.clone()),
            Value::Array(items) => Json::Array(items.iter().map(Json::from).collect()),
            Value::Object(map) => Json::Object(
                map.iter().map(|(key, value)| (key.clone(), Json::from(value))).collect(),
            ),
        }
    }
}

impl From<Json> for Value {
    fn from(json: Json) -> Value {
        match json {
            Json::Null => Value::Null,
            Json::Bool(bool) => Value::Bool(bool),
            Json::Number(number) => Value::Number(number),
            Json::String(text) => Value::String(text),
            Json::Array(items) => Value::Array(items.into_iter().map(Value::from).collect()),
            Json::Object(entries) => Value::Object(
                entries.into_iter().map(|(key, value)| (key, Value::from(value))).collect(),
            ),
        }
    }
}

impl<'de> Deserialize<'de> for Json {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Json, D::Error> {
        struct JsonVisitor;
        impl<'de> Visitor<'de> for JsonVisitor {
            type Value = Json;

            fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
                f.write_str("a JSON value")
            }
            fn visit_bool<E>(self, value: bool) -> Result<Json, E> {
                Ok(Json::Bool(value))
            }
            fn visit_i64<E>(self, value: i64) -> Result<Json, E> {
                Ok(Json::Number(value.into()))
            }
            fn visit_u64<E>(self, value: u64) -> Result<Json, E> {
                Ok(Json::Number(value.into()))
            }
            fn visit_f64<E>(self, value: f64) -> Result<Json, E> {
                Ok(Number::from_f64(value).map_or(Json::Null, Json::Number))
            }
            fn visit_str<E>(self, value: &str) -> Result<Json, E> {
                Ok(Json::String(value.to_string()))
            }
            fn visit_unit<E>(self) -> Result<Json, E> {
                Ok(Json::Null)
            }
            fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Json, A::Error> {
                let mut array = Vec::new();
                while let Some(item) = items.next_element()? {
                    array.push(item);
                }
                Ok(Json::Array(array))
            }
            fn visit_map<A: MapAccess<'de>>(self, mut entries: A) -> Result<Json, A::Error> {
                let mut object = Vec::new();
                while let Some(entry) = entries.next_entry()? {
                    object.push(entry);
                }
                Ok(Json::Object(object))
            }
        }
        deserializer.deserialize_any(JsonVisitor)
    }
}

/// Parses text; the error names line, column and what stands there, or the object with a key too many.
pub fn parse(text: &str) -> Result<Json, Error> {
    if text.trim().is_empty() {
        return Err(Error::new(
            ErrorKind::NotJson,
            "file",
            "empty",
            "a scenario is a JSON object with format, name and timeline",
            "Start from one of the example scenarios.",
        ));
    }
    let json = serde_json::from_str(text).map_err(|error| not_json(text, &error))?;
    check_keys(&json).map_err(Refused::error)?;
    Ok(json)
}

/// An object that cannot be read: where it stands, put together on the way back from it, and what is wrong with it.
struct Refused {
    path: String,
    value: String,
    limit: &'static str,
    remedy: &'static str,
}

/// Refuses a key that stands twice in an object, and more keys than can be looked through.
fn check_keys(json: &Json) -> Result<(), Refused> {
    let refused = |value, limit, remedy| Err(Refused { path: String::new(), value, limit, remedy });
    match json {
        Json::Object(entries) if entries.len() > MOST_KEYS => refused(
            format!("an object with more than {MOST_KEYS} keys"),
            "objects of fewer keys",
            "Check that this is the right file.",
        ),
        Json::Object(entries) => {
            for (place, (key, value)) in entries.iter().enumerate() {
                if entries[..place].iter().any(|(before, _)| before == key) {
                    return refused(
                        format!("the key \"{}\" stands twice", shown_key(key)),
                        "every key at most once in an object",
                        "Remove one of the two.",
                    );
                }
                check_keys(value).map_err(|inside| inside.within(shown_key(key)))?;
            }
            Ok(())
        }
        Json::Array(items) => items.iter().enumerate().try_for_each(|(place, item)| {
            check_keys(item).map_err(|inside| inside.within(format!("[{place}]")))
        }),
        _ => Ok(()),
    }
}

impl Refused {
    fn within(mut self, outer: String) -> Refused {
        let dot = if self.path.is_empty() || self.path.starts_with('[') { "" } else { "." };
        self.path = format!("{outer}{dot}{}", self.path);
        self
    }

    fn error(self) -> Error {
        let path = if self.path.is_empty() { "file".to_string() } else { shown_key(&self.path) };
        Error::new(ErrorKind::NotJson, path, self.value, self.limit, self.remedy)
    }
}

/// Where text stops being JSON, in words that a person can act on. (The parser's own words, and the code that
/// makes them, are not in the page.)
#[inline(never)]
fn not_json(text: &str, error: &serde_json::Error) -> Error {
    const AROUND: usize = 20;
    let lines_before = text.split('\n').take(error.line().saturating_sub(1));
    let place = lines_before.map(|line| line.len() + 1).sum::<usize>() + error.column();
    let (value, limit, remedy) = if error.is_eof() {
        (
            "the text ends too soon".to_string(),
            "the file must be whole JSON",
            "The file is cut short: save or copy it again, whole.",
        )
    } else if depth_at(text, place) > MOST_LEVELS {
        (
            "nested too deeply".to_string(),
            "JSON of at most 127 levels; a scenario needs eight",
            "Check that this is the right file.",
        )
    } else {
        let near = text.char_indices().filter(|(at, _)| at.abs_diff(place) <= AROUND);
        let near: String =
            near.map(|(_, letter)| if steers(letter) { ' ' } else { letter }).collect();
        (
            format!("not JSON near: {}", near.trim()),
            "the file must be JSON, with numbers below 1e308",
            "Mend the text there; a JSON checker in an editor shows the place.",
        )
    };
    let place = format!("line {}, column {}", error.line(), error.column());
    Error::new(ErrorKind::NotJson, place, value, limit, remedy)
}

/// Lists and objects around a byte of the text.
fn depth_at(text: &str, place: usize) -> usize {
    let (mut depth, mut quoted, mut escaped) = (0_usize, false, false);
    for byte in text.bytes().take(place) {
        match byte {
            _ if escaped => escaped = false,
            b'\\' => escaped = quoted,
            b'"' => quoted = !quoted,
            b'[' | b'{' if !quoted => depth += 1,
            b']' | b'}' if !quoted => depth = depth.saturating_sub(1),
            _ => {}
        }
    }
    depth
}

/// A value and the path to it.
#[derive(Clone)]
pub struct Reader<'a> {
    path: String,
    value: &'a Json,
}

/// An object and the path to it.
pub struct ObjectReader<'a> {
    path: String,
    entries: &'a [(String, Json)],
}

/// How a JSON value looks in a message.
fn shown(value: &Json) -> String {
    match value {
        Json::Object(_) => "an object".to_string(),
        Json::Array(items) => format!("a list of {}", items.len()),
        Json::String(text) => serde_json::to_string(text).unwrap_or_default(),
        Json::Number(number) => number.to_string(),
        Json::Bool(bool) => bool.to_string(),
        Json::Null => "null".to_string(),
    }
}

impl<'a> Reader<'a> {
    /// The root of a file, or a value of ours.
    pub fn new(path: impl Into<String>, value: &'a Json) -> Reader<'a> {
        Reader { path: path.into(), value }
    }

    pub fn path(&self) -> &str {
        &self.path
    }

    pub fn value(&self) -> &'a Json {
        self.value
    }

    /// An error about this value.
    pub fn error(
        &self,
        kind: ErrorKind,
        limit: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Error {
        Error::new(kind, self.path.as_str(), shown(self.value), limit, remedy)
    }

    /// An error about something in this value, shown as `value`.
    pub fn error_about(
        &self,
        kind: ErrorKind,
        value: impl Into<String>,
        limit: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Error {
        Error::new(kind, self.path.as_str(), value, limit, remedy)
    }

    fn wrong_type(&self, needed: &str, example: &str) -> Error {
        self.error(ErrorKind::WrongType, format!("needs {needed}"), format!("Write {example}."))
    }

    pub fn object(&self) -> Result<ObjectReader<'a>, Error> {
        match self.value {
            Json::Object(entries) => Ok(ObjectReader { path: self.path.clone(), entries }),
            _ => Err(self.wrong_type("an object", "{ \"key\": … }")),
        }
    }

    pub fn list(&self) -> Result<Vec<Reader<'a>>, Error> {
        match self.value {
            Json::Array(items) => Ok(items
                .iter()
                .enumerate()
                .map(|(i, item)| Reader::new(format!("{}[{i}]", self.path), item))
                .collect()),
            _ => Err(self.wrong_type("a list", "[ … ]")),
        }
    }

    /// A name: one line that can be seen.
    pub fn name(&self, most_chars: usize) -> Result<String, Error> {
        let name = self.text(most_chars, false)?;
        if name.trim().is_empty() {
            return Err(self.error(
                ErrorKind::Missing,
                "at least one letter or digit",
                "Give it a name, or leave the key out where it may be.",
            ));
        }
        Ok(name)
    }

    /// A text of at most so many characters, of one line or of several.
    pub fn text(&self, most_chars: usize, lines: bool) -> Result<String, Error> {
        match self.value {
            Json::String(text) if text.chars().any(|c| steers(c) && !(lines && c == '\n')) => Err(self.error(
                ErrorKind::OutOfRange,
                "printable text: no control characters, no marks that turn the direction of writing",
                "Type the text anew.",
            )),
            Json::String(text) if text.chars().count() <= most_chars => Ok(text.clone()),
            Json::String(_) => Err(self.error(
                ErrorKind::TooLarge,
                format!("at most {most_chars} characters"),
                "Shorten the text.",
            )),
            _ => Err(self.wrong_type("a text", "\"…\"")),
        }
    }

    /// One of a fixed set of words.
    pub fn choice<T: Copy>(&self, choices: &[(&'static str, T)]) -> Result<T, Error> {
        let words: Vec<&str> = choices.iter().map(|(word, _)| *word).collect();
        let Json::String(text) = self.value else {
            return Err(self.wrong_type("a word", &format!("one of {}", words.join(", "))));
        };
        match choices.iter().find(|(word, _)| word == text) {
            Some((_, choice)) => Ok(*choice),
            None => {
                let nearest = nearest_word(text, &words);
                Err(self.error(
                    ErrorKind::OutOfRange,
                    format!("one of {}", words.join(", ")),
                    format!("Did you mean \"{nearest}\"?"),
                ))
            }
        }
    }

    /// A number without unit, or a percentage.
    fn plain_number(&self, text: &str, example: &str) -> Result<f64, Error> {
        let (digits, scale) = match text.trim().strip_suffix('%') {
            Some(digits) => (digits.trim(), 0.01),
            None => (text.trim(), 1.0),
        };
        decimal(digits).map(|number| scale * number).ok_or_else(|| {
            self.error(
                ErrorKind::WrongUnit,
                "needs a number with a decimal point, or a percentage",
                format!("Write for example {example}."),
            )
        })
    }

    /// A quantity with unit, in SI, within `min_si..=max_si`. The limits are worded in the unit that was
    /// written, or in `display_unit` when none was.
    pub fn quantity(
        &self,
        dimension: Dimension,
        display_unit: &str,
        min_si: f64,
        max_si: f64,
    ) -> Result<f64, Error> {
        let display_unit = unit_or_si(dimension, display_unit);
        let example_si = if dimension == Dimension::Time {
            EXAMPLE_TIME_S.clamp(min_si, max_si)
        } else {
            0.5 * (min_si + max_si)
        };
        let example = || format!("\"{}\"", in_words(display_unit, example_si, 3));
        let (value_si, unit) = match self.value {
            Json::Number(number) if dimension == Dimension::One => {
                (number.as_f64().unwrap_or(f64::NAN), None)
            }
            Json::Number(_) => {
                return Err(self.error(
                    ErrorKind::WrongUnit,
                    format!(
                        "needs {} with its unit: {}",
                        dimension.noun(),
                        accepted_units(dimension)
                    ),
                    format!("Write the number and the unit in quotes, for example {}.", example()),
                ));
            }
            Json::String(text) if dimension == Dimension::One => {
                (self.plain_number(text, &example())?, None)
            }
            Json::String(text) => parse_quantity_and_unit(dimension, text).map_err(|error| {
                let limit = match error {
                    QuantityError::NotANumber => {
                        format!(
                            "needs {}: a number, then {}",
                            dimension.noun(),
                            accepted_units(dimension)
                        )
                    }
                    QuantityError::NoUnit => format!(
                        "needs {} with its unit: {}",
                        dimension.noun(),
                        accepted_units(dimension)
                    ),
                    QuantityError::OtherDimension(other) => format!(
                        "that is {}, and this needs {}: {}",
                        other.noun(),
                        dimension.noun(),
                        accepted_units(dimension)
                    ),
                    QuantityError::UnknownUnit(ref unit) => {
                        let unit: String = unit.chars().take(30).collect();
                        format!("the unit \"{unit}\" is not one of {}", accepted_units(dimension))
                    }
                };
                self.error(ErrorKind::WrongUnit, limit, format!("Write for example {}.", example()))
            })?,
            _ if dimension == Dimension::One => {
                return Err(self.wrong_type("a number", &in_words(display_unit, example_si, 3)));
            }
            _ => return Err(self.wrong_type("a number with a unit", &example())),
        };
        // Slack of one part in 10⁹: a limit typed in another unit must not fail by rounding.
        let slack = 1e-9 * (max_si - min_si).abs();
        if !(value_si >= min_si - slack && value_si <= max_si + slack) {
            let unit = unit.unwrap_or(display_unit);
            let min = bound_in_words(unit, min_si, |si| si >= min_si - slack, 1.0);
            let max = bound_in_words(unit, max_si, |si| si <= max_si + slack, -1.0);
            return Err(self.error(
                ErrorKind::OutOfRange,
                format!("from {min} to {max}"),
                if value_si < min_si {
                    format!("Use {min} or more, or check the unit.")
                } else {
                    format!("Use {max} or less, or check the unit.")
                },
            ));
        }
        Ok(value_si.clamp(min_si, max_si))
    }
}

/// A time that suits most places, for examples in messages (s).
const EXAMPLE_TIME_S: f64 = 300.0;

/// A number with its unit, for a limit or an example. Times read as a person says them: 0.05 s, 5 min, 72 h.
fn in_words(unit: &Unit, value_si: f64, digits: usize) -> String {
    let unit = match unit.dimension {
        Dimension::Time if value_si >= 3_600.0 => unit_or_si(Dimension::Time, "h"),
        Dimension::Time if value_si >= 60.0 => unit_or_si(Dimension::Time, "min"),
        Dimension::Time => unit_or_si(Dimension::Time, "s"),
        _ => unit,
    };
    format!("{} {}", significant(unit.from_si(value_si), digits), unit.symbol)
        .trim_end()
        .to_string()
}

/// A limit to four digits, and if rounding has carried it past the limit, one step inwards: what a message says
/// is allowed must be allowed.
fn bound_in_words(
    unit: &Unit,
    bound_si: f64,
    allowed: impl Fn(f64) -> bool,
    inwards: f64,
) -> String {
    let words = in_words(unit, bound_si, 4);
    match parse_quantity(unit.dimension, &words) {
        Ok(rounded_si) if !allowed(rounded_si) => {
            let bound = unit.from_si(bound_si);
            let step = 10f64.powf(bound.abs().log10().floor() - 3.0);
            in_words(unit, unit.to_si(bound + inwards * step), 4)
        }
        _ => words,
    }
}

impl<'a> ObjectReader<'a> {
    pub fn path(&self) -> &str {
        &self.path
    }

    pub fn optional(&self, key: &str) -> Option<Reader<'a>> {
        value_of(self.entries, key).map(|value| Reader::new(self.child(key), value))
    }

    pub fn required(&self, key: &str, example: &str) -> Result<Reader<'a>, Error> {
        self.optional(key).ok_or_else(|| {
            Error::new(
                ErrorKind::Missing,
                self.child(key),
                "nothing",
                format!("\"{key}\" is needed here"),
                format!("Add {example}."),
            )
        })
    }

    /// All entries, in the order of the file.
    pub fn entries(&self) -> impl Iterator<Item = (&'a str, Reader<'a>)> + '_ {
        self.entries.iter().map(|(key, value)| (key.as_str(), Reader::new(self.child(key), value)))
    }

    /// Refuses keys that are not in `known`, naming the nearest.
    pub fn only(&self, known: &[&str]) -> Result<(), Error> {
        for (key, _) in self.entries {
            if !known.contains(&key.as_str()) {
                let nearest = nearest_word(key, known);
                return Err(Error::new(
                    ErrorKind::UnknownKey,
                    self.child(&shown_key(key)),
                    "unknown key",
                    format!("known here: {}", known.join(", ")),
                    format!("Did you mean \"{nearest}\"?"),
                ));
            }
        }
        Ok(())
    }

    /// The path of a key, there or not.
    pub fn child(&self, key: &str) -> String {
        if self.path == "scenario" { key.to_string() } else { format!("{}.{key}", self.path) }
    }
}

/// A key that nobody knows, as it can be shown: in quotes where it is blank, cut where it is long.
fn shown_key(key: &str) -> String {
    const MOST: usize = 60;
    match key {
        _ if key.trim().is_empty() => format!("\"{}\"", key.chars().take(MOST).collect::<String>()),
        _ if key.chars().count() > MOST => {
            format!("{}…", key.chars().take(MOST).collect::<String>())
        }
        _ => key.to_string(),
    }
}

/// The known word closest to what was written.
pub fn nearest_word<'k>(written: &str, known: &[&'k str]) -> &'k str {
    let written: String = written.chars().take(60).collect();
    known
        .iter()
        .copied()
        .max_by(|a, b| {
            strsim::jaro_winkler(a, &written).total_cmp(&strsim::jaro_winkler(b, &written))
        })
        .unwrap_or("")
}
