//! Readings: what a gauge or an infrared thermometer showed, where and when.
//!
//! A reading is kept as it was read. What the surface had, where an infrared thermometer looked at it, is computed from
//! the reading, the surface's emissivity and the surroundings (see `thermometer`); nothing is corrected in the file.
//!
//! In JSON a reading is an object of texts, `{"time": "12:30", "place": "converter_shell", "shown": "152 °F",
//! "surface": "tape"}`; a table of readings (see [`table`]) has the same words as columns. Times count from the start
//! of the day: `12:30` is minutes and seconds, `1:12:30` has hours.

mod place;
pub mod table;

pub use place::{Place, Scene};

use serde_json::{Map, Value, json};

use crate::decimal::decimal;
use crate::error::{Error, ErrorKind};
use crate::scenario::json::{Json, ObjectReader, Reader};
use crate::thermometer::{Look, USUAL_SETTING};
use crate::timeline::MAX_DAY_S;
use crate::units::{Dimension, clock_seconds_text};

/// Most readings of one test.
pub const MAX_READINGS: usize = 500;
/// What an instrument can show (K): −40 to 540 °C.
const SHOWN_K: (f64, f64) = (233.15, 813.15);

/// What an instrument looks at or touches.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Surface {
    /// A gauge or a probe in the fluid or pressed on: nothing to correct.
    Contact,
    /// Masking or electrical tape, or a dab of flat paint.
    Tape,
    /// Painted or powder-coated metal, of any colour.
    Painted,
    /// Machined or polished aluminium.
    MachinedAluminium,
    /// Aluminium as cast, or dull and dirty.
    CastAluminium,
    /// Bare steel.
    Steel,
    /// Steel with rust or scale.
    RustySteel,
}

impl Surface {
    /// All surfaces.
    pub const ALL: [Surface; 7] = [
        Surface::Contact,
        Surface::Tape,
        Surface::Painted,
        Surface::MachinedAluminium,
        Surface::CastAluminium,
        Surface::Steel,
        Surface::RustySteel,
    ];

    /// The name in files and JSON.
    pub fn key(self) -> &'static str {
        match self {
            Surface::Contact => "contact",
            Surface::Tape => "tape",
            Surface::Painted => "painted",
            Surface::MachinedAluminium => "machined_aluminium",
            Surface::CastAluminium => "cast_aluminium",
            Surface::Steel => "steel",
            Surface::RustySteel => "rusty_steel",
        }
    }

    /// The name for people.
    pub fn label(self) -> &'static str {
        match self {
            Surface::Contact => "Gauge or touching probe",
            Surface::Tape => "Tape or flat paint",
            Surface::Painted => "Painted metal",
            Surface::MachinedAluminium => "Machined aluminium, bare",
            Surface::CastAluminium => "Cast aluminium, dull",
            Surface::Steel => "Steel, bare",
            Surface::RustySteel => "Steel, rusty",
        }
    }

    /// Emissivity around 10 µm and its standard deviation; `None` where none matters. Common practice and handbook
    /// ranges, from memory: a surface is known to a few hundredths only where it is covered.
    pub fn emissivity(self) -> Option<(f64, f64)> {
        match self {
            Surface::Contact => None,
            Surface::Tape => Some((0.95, 0.015)),
            Surface::Painted => Some((0.92, 0.02)),
            Surface::MachinedAluminium => Some((0.12, 0.05)),
            Surface::CastAluminium => Some((0.40, 0.08)),
            Surface::Steel => Some((0.30, 0.07)),
            Surface::RustySteel => Some((0.80, 0.06)),
        }
    }
}

/// Standard deviation of an emissivity that was stated with the reading.
const STATED_EMISSIVITY_DEVIATION: f64 = 0.02;
/// Below this much emissivity a reading is mostly the surroundings' and worth little.
pub const POOR_EMISSIVITY: f64 = 0.5;
/// Standard deviations (K) of what is shown, with where it is aimed or sits: infrared, gauge or probe. Common practice,
/// no source: instruments promise ±2 °C or 2 %, a dash gauge less.
const DEVIATION_K: (f64, f64) = (2.0, 2.5);

/// One reading, SI.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Since the start of the day (s).
    pub time_s: f64,
    pub place: Place,
    /// As the instrument showed it (K).
    pub shown_k: f64,
    pub surface: Surface,
    /// Stated emissivity of the surface, where it is not the usual one.
    pub emissivity: Option<f64>,
    /// Emissivity that the instrument is set to.
    pub setting: f64,
    /// Temperature of what the surface mirrors (K); `None`: the air's.
    pub surroundings_k: Option<f64>,
    /// One standard deviation of what is shown (K).
    pub deviation_k: f64,
    pub note: String,
}

const KEYS: [&str; 9] = [
    "time",
    "place",
    "shown",
    "surface",
    "emissivity",
    "setting",
    "surroundings",
    "deviation",
    "note",
];

impl Reading {
    /// Emissivity of the surface and its standard deviation; `None` for a gauge.
    pub fn surface_emissivity(&self) -> Option<(f64, f64)> {
        let (usual, deviation) = self.surface.emissivity()?;
        Some(self.emissivity.map_or((usual, deviation), |e| (e, STATED_EMISSIVITY_DEVIATION)))
    }

    /// The look at a surface of this emissivity, in air of `air_k` where the surroundings are not stated.
    pub fn look(&self, emissivity: f64, air_k: f64) -> Look {
        let surroundings_k = self.surroundings_k.unwrap_or(air_k);
        Look { emissivity, setting: self.setting, surroundings_k }
    }

    /// What the place had (K) and its standard deviation, by the surface's usual emissivity: both the instrument's and the
    /// emissivity's. A gauge is taken at its word.
    pub fn corrected_k(&self, air_k: f64) -> (f64, f64) {
        let Some((emissivity, deviation)) = self.surface_emissivity() else {
            return (self.shown_k, self.deviation_k);
        };
        let at = |emissivity: f64, shown_k: f64| self.look(emissivity, air_k).true_k(shown_k);
        let here_k = at(emissivity, self.shown_k);
        let by_instrument_k = at(emissivity, self.shown_k + self.deviation_k) - here_k;
        let (high, low) = ((emissivity + deviation).min(1.0), (emissivity - deviation).max(0.02));
        let slope_k = (at(low, self.shown_k) - at(high, self.shown_k)) / (high - low);
        (here_k, by_instrument_k.hypot(slope_k * deviation))
    }

    /// As JSON, quantities in the given words' units; what is usual is left out.
    pub fn to_json(&self) -> Value {
        let celsius = |kelvin: f64| format!("{} °C", rounded(kelvin - 273.15, 100.0));
        let mut object = Map::new();
        let whole = (self.time_s - self.time_s.round()).abs() < 1e-6;
        let time =
            if whole { clock_seconds_text(self.time_s) } else { format!("{} s", self.time_s) };
        object.insert("time".to_string(), json!(time));
        object.insert("place".to_string(), json!(self.place.key()));
        object.insert("shown".to_string(), json!(celsius(self.shown_k)));
        object.insert("surface".to_string(), json!(self.surface.key()));
        if let Some(emissivity) = self.emissivity {
            object.insert("emissivity".to_string(), json!(emissivity));
        }
        if self.setting != USUAL_SETTING && self.surface != Surface::Contact {
            object.insert("setting".to_string(), json!(self.setting));
        }
        if let Some(surroundings_k) = self.surroundings_k {
            object.insert("surroundings".to_string(), json!(celsius(surroundings_k)));
        }
        if self.deviation_k != usual_deviation_k(self.surface) {
            let deviation = format!("{} K", rounded(self.deviation_k, 100.0));
            object.insert("deviation".to_string(), json!(deviation));
        }
        if !self.note.is_empty() {
            object.insert("note".to_string(), json!(self.note));
        }
        Value::Object(object)
    }
}

fn rounded(value: f64, parts: f64) -> f64 {
    (value * parts).round() / parts
}

fn usual_deviation_k(surface: Surface) -> f64 {
    if surface == Surface::Contact { DEVIATION_K.1 } else { DEVIATION_K.0 }
}

/// Reads a list of readings from JSON; `path` is what messages call it.
pub fn read_list(path: &str, list: &Value) -> Result<Vec<Reading>, Error> {
    read_from(path, &Json::from(list))
}

/// The same from JSON that was read strictly.
pub(crate) fn read_from(path: &str, list: &Json) -> Result<Vec<Reading>, Error> {
    let reader = Reader::new(path, list);
    let items = reader.list()?;
    too_many(path, items.len())?;
    items.iter().map(|item| read(&item.object()?)).collect()
}

fn too_many(path: &str, count: usize) -> Result<(), Error> {
    if count <= MAX_READINGS {
        return Ok(());
    }
    Err(Error::new(
        ErrorKind::TooLarge,
        path,
        format!("{count} readings"),
        format!("at most {MAX_READINGS} readings"),
        "Leave out some of those that were taken close together.",
    ))
}

/// Reads one reading.
pub(crate) fn read(object: &ObjectReader) -> Result<Reading, Error> {
    object.only(&KEYS)?;
    let time_s = read_time(&object.required("time", "\"time\": \"12:30\"")?)?;
    let place_reader = object.required("place", "\"place\": \"pan\"")?;
    let place = place_reader.choice(&Place::ALL.map(|place| (place.key(), place)))?;
    let shown = object.required("shown", "\"shown\": \"185 °F\"")?;
    let shown_k = shown.quantity(Dimension::Temperature, "°C", SHOWN_K.0, SHOWN_K.1)?;
    let stated = match object.optional("surface") {
        Some(surface) => {
            Some(surface.choice(&Surface::ALL.map(|surface| (surface.key(), surface)))?)
        }
        None => None,
    };
    let surface = match stated {
        Some(surface) => surface,
        None if place.is_gauged() => Surface::Contact,
        None => {
            let surfaces: Vec<&str> = Surface::ALL.iter().map(|surface| surface.key()).collect();
            return Err(Error::new(
                ErrorKind::Missing,
                object.child("surface"),
                "missing",
                format!("what was looked at, one of {}", surfaces.join(", ")),
                "An infrared thermometer reads bare metal far too low: say what the spot was, or \"contact\" for a probe.",
            ));
        }
    };
    let infrared = surface != Surface::Contact;
    for key in ["emissivity", "setting", "surroundings"] {
        if let (false, Some(reader)) = (infrared, object.optional(key)) {
            return Err(reader.error(
                ErrorKind::Contradiction,
                "nothing, for a gauge or a probe sees no radiation",
                "Leave it out, or state the surface that an infrared thermometer looked at.",
            ));
        }
    }
    let number = |key: &str, low: f64| match object.optional(key) {
        Some(reader) => reader.quantity(Dimension::One, "", low, 1.0).map(Some),
        None => Ok(None),
    };
    let surroundings_k = match object.optional("surroundings") {
        Some(reader) => {
            Some(reader.quantity(Dimension::Temperature, "°C", SHOWN_K.0, SHOWN_K.1)?)
        }
        None => None,
    };
    let deviation_k = match object.optional("deviation") {
        Some(reader) => reader.quantity(Dimension::TemperatureDifference, "K", 0.1, 50.0)?,
        None => usual_deviation_k(surface),
    };
    let note = match object.optional("note") {
        Some(note) => note.text(200, false)?,
        None => String::new(),
    };
    Ok(Reading {
        time_s,
        place,
        shown_k,
        surface,
        emissivity: number("emissivity", 0.02)?,
        setting: number("setting", 0.1)?.unwrap_or(USUAL_SETTING),
        surroundings_k,
        deviation_k,
        note,
    })
}

/// `12:30`, `1:12:30`, or a time with units.
pub(crate) fn read_time(reader: &Reader) -> Result<f64, Error> {
    if let Json::String(text) = reader.value()
        && text.contains(':')
    {
        return clock_s(text).filter(|time_s| *time_s <= MAX_DAY_S).ok_or_else(|| {
            reader.error(
                ErrorKind::WrongUnit,
                "minutes and seconds as 12:30, or hours too as 1:12:30, within 36 h of the day's start",
                "Write the time since the start of the day, not the time of day.",
            )
        });
    }
    reader.quantity(Dimension::Time, "min", 0.0, MAX_DAY_S)
}

/// Seconds of `mm:ss` or `h:mm:ss`.
fn clock_s(text: &str) -> Option<f64> {
    let parts: Vec<&str> = text.trim().split(':').collect();
    if !(2..=3).contains(&parts.len()) {
        return None;
    }
    let mut time_s = 0.0;
    for (i, part) in parts.iter().enumerate() {
        let last = i + 1 == parts.len();
        let digits = part.trim();
        let plain = digits.bytes().all(|b| b.is_ascii_digit() || (last && b == b'.'));
        let value = decimal(digits).filter(|_| plain && !digits.is_empty())?;
        if i > 0 && value >= 60.0 {
            return None;
        }
        time_s = 60.0 * time_s + value;
    }
    Some(time_s)
}
