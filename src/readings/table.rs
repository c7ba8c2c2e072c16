//! A table of readings as a spreadsheet or a logger writes it.
//!
//! One reading a line; comma, semicolon or tab between the cells, a decimal comma where it is not what separates. The
//! first line names the columns and may state their units: `time (min); place; shown (°F); surface`. Without such a line
//! the columns are those four, in that order, and every quantity has its unit. Rows that cannot be read are kept with their
//! error, so that they can be shown in their place; columns that are not known are named.

use super::{Place, Reading, Surface};
use crate::csv::{records, separator_of};
use crate::decimal::decimal;
use crate::error::{Error, ErrorKind};
use crate::scenario::json::{Json, Reader, nearest_word};
use crate::units::{Dimension, accepted_units, find_unit};

/// Most bytes of a table.
pub const MAX_BYTES: usize = 200_000;

/// A table that was read.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    pub rows: Vec<Row>,
    /// Columns that no reading has, as they are called in the table.
    pub ignored: Vec<String>,
}

/// One line of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Line of the text, from 1.
    pub line: u64,
    /// The line's cells, as written.
    pub written: Vec<String>,
    pub reading: Result<Reading, Error>,
}

struct Column {
    key: &'static str,
    /// What else it is called, in lower case.
    names: &'static [&'static str],
    dimension: Option<Dimension>,
}

const COLUMNS: [Column; 9] = [
    Column {
        key: "time",
        names: &["minutes", "min", "elapsed", "t"],
        dimension: Some(Dimension::Time),
    },
    Column { key: "place", names: &["where", "location", "point"], dimension: None },
    Column {
        key: "shown",
        names: &["value", "reading", "temperature", "temp"],
        dimension: Some(Dimension::Temperature),
    },
    Column { key: "surface", names: &["spot"], dimension: None },
    Column { key: "emissivity", names: &["e", "ε"], dimension: Some(Dimension::One) },
    Column { key: "setting", names: &["set", "set to", "gun"], dimension: Some(Dimension::One) },
    Column {
        key: "surroundings",
        names: &["room", "background", "air"],
        dimension: Some(Dimension::Temperature),
    },
    Column {
        key: "deviation",
        names: &["spread", "sd", "±"],
        dimension: Some(Dimension::TemperatureDifference),
    },
    Column { key: "note", names: &["notes", "comment", "remark"], dimension: None },
];

/// What places are called, besides their keys and labels.
const PLACES: [(&str, Place); 17] = [
    ("shell", Place::ConverterShell),
    ("converter", Place::ConverterShell),
    ("conv", Place::ConverterShell),
    ("pan gauge", Place::Pan),
    ("pan fluid", Place::Pan),
    ("sump", Place::Pan),
    ("case top", Place::Case),
    ("case", Place::Case),
    ("cooler inlet", Place::CoolerIn),
    ("into cooler", Place::CoolerIn),
    ("cooler outlet", Place::CoolerOut),
    ("out of cooler", Place::CoolerOut),
    ("core", Place::CoolerCore),
    ("cooler", Place::CoolerCore),
    ("coolant", Place::Engine),
    ("engine coolant", Place::Engine),
    ("water", Place::Engine),
];

/// What surfaces are called, besides their keys and labels.
const SURFACES: [(&str, Surface); 17] = [
    ("gauge", Surface::Contact),
    ("probe", Surface::Contact),
    ("thermocouple", Surface::Contact),
    ("taped", Surface::Tape),
    ("flat paint", Surface::Tape),
    ("paint", Surface::Painted),
    ("powder coated", Surface::Painted),
    ("machined", Surface::MachinedAluminium),
    ("polished", Surface::MachinedAluminium),
    ("machined aluminum", Surface::MachinedAluminium),
    ("cast", Surface::CastAluminium),
    ("as cast", Surface::CastAluminium),
    ("aluminium", Surface::CastAluminium),
    ("aluminum", Surface::CastAluminium),
    ("cast aluminum", Surface::CastAluminium),
    ("bare steel", Surface::Steel),
    ("rusty", Surface::RustySteel),
];

/// Lines that may stand above the one that names the columns.
const MOST_TITLES: usize = 5;

/// Reads a table. An error concerns the table as a whole: its size, its first line.
pub fn read(text: &str) -> Result<Table, Error> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    if text.len() > MAX_BYTES {
        return Err(about(
            ErrorKind::TooLarge,
            format!("{} kB", text.len() / 1_000),
            format!("at most {} kB", MAX_BYTES / 1_000),
            "Check that this is the right file, or leave out rows.",
        ));
    }
    if text.trim_start().starts_with(['{', '[']) {
        return Err(about(
            ErrorKind::WrongType,
            "text that begins with a bracket, as scenario files do",
            "a table: one reading a line, with commas, semicolons or tabs between the cells",
            "Open a scenario with \"Open a file\"; write readings for example \"12:30, pan, 185 °F\".",
        ));
    }
    let text = without_separator_line(text);
    let mut header = Header::usual();
    let mut rows = Vec::new();
    let all = records(text, separator_of(text));
    let written = |cells: &[String]| -> Vec<String> {
        cells.iter().map(|cell| cell.trim().to_string()).collect()
    };
    // A title may stand above the line that names the columns.
    let first = all.iter().take(MOST_TITLES).position(|record| {
        let cells = written(&record.cells);
        is_header(&cells) && names_columns(&cells)
    });
    for (i, record) in all.into_iter().enumerate().skip(first.unwrap_or(0)) {
        let written = written(&record.cells);
        if written.iter().all(String::is_empty) {
            continue;
        }
        if i == first.unwrap_or(0) && is_header(&written) {
            header = Header::read(&written)?;
            continue;
        }
        let reading = header.reading(&written, record.line);
        rows.push(Row { line: record.line, written, reading });
    }
    if rows.is_empty() {
        return Err(about(
            ErrorKind::Missing,
            "no readings",
            "at least one line with a time, a place and what was shown",
            "Write for example \"12:30, pan, 185 °F\".",
        ));
    }
    super::too_many("readings", rows.len())?;
    Ok(Table { rows, ignored: header.ignored })
}

impl Table {
    /// All readings, or the errors of the rows that are none.
    pub fn readings(&self) -> Result<Vec<Reading>, Vec<Error>> {
        let errors: Vec<Error> =
            self.rows.iter().filter_map(|row| row.reading.clone().err()).collect();
        if errors.is_empty() {
            Ok(self.rows.iter().filter_map(|row| row.reading.clone().ok()).collect())
        } else {
            Err(errors)
        }
    }
}

fn about(
    kind: ErrorKind,
    value: impl Into<String>,
    limit: impl Into<String>,
    remedy: impl Into<String>,
) -> Error {
    Error::new(kind, "readings", value, limit, remedy)
}

/// Without the line by which some spreadsheets say what stands between the cells: `sep=;`.
fn without_separator_line(text: &str) -> &str {
    let (first, rest) = text.split_once('\n').unwrap_or((text, ""));
    let is_one =
        first.trim().to_lowercase().strip_prefix("sep=").is_some_and(|s| s.chars().count() <= 1);
    if is_one { rest } else { text }
}

/// Whether two columns at least are called as ours are.
fn names_columns(cells: &[String]) -> bool {
    let known = cells.iter().filter(|cell| {
        let (name, _) = name_and_unit(cell);
        COLUMNS.iter().any(|column| column.key == name || column.names.contains(&name.as_str()))
    });
    known.count() >= 2
}

/// A first line names columns: nothing in it begins with a digit or a sign.
fn is_header(cells: &[String]) -> bool {
    let named = |cell: &String| {
        cell.is_empty() || cell.starts_with(|c: char| c.is_alphabetic() || c == '±')
    };
    cells.iter().all(named)
}

/// What the columns of a table are.
struct Header {
    /// By column: which of [`COLUMNS`], with the unit of its numbers.
    columns: Vec<Option<(usize, String)>>,
    ignored: Vec<String>,
}

impl Header {
    fn usual() -> Header {
        let columns = (0..4).map(|i| Some((i, String::new()))).collect();
        Header { columns, ignored: Vec::new() }
    }

    fn read(cells: &[String]) -> Result<Header, Error> {
        let mut header = Header { columns: Vec::new(), ignored: Vec::new() };
        for cell in cells {
            let (name, unit) = name_and_unit(cell);
            let called =
                |column: &Column| column.key == name || column.names.contains(&name.as_str());
            let Some(place) = COLUMNS.iter().position(called) else {
                let keys = COLUMNS.map(|column| column.key);
                let nearest = nearest_word(&name, &keys);
                // A slip of the pen would be lost if it were ignored.
                if strsim::jaro_winkler(nearest, &name) > 0.85 {
                    return Err(about(
                        ErrorKind::UnknownKey,
                        format!("column \"{cell}\""),
                        format!("columns are {}", keys.join(", ")),
                        format!("Did you mean \"{nearest}\"?"),
                    ));
                }
                header.columns.push(None);
                if !cell.is_empty() {
                    header.ignored.push(cell.clone());
                }
                continue;
            };
            if header.columns.iter().flatten().any(|(known, _)| *known == place) {
                return Err(about(
                    ErrorKind::Contradiction,
                    format!("two columns of \"{}\"", COLUMNS[place].key),
                    "every column once",
                    "Remove one of them, or write one reading a line with its place.",
                ));
            }
            header.columns.push(Some((place, checked_unit(&COLUMNS[place], &name, unit, cell)?)));
        }
        // A column for each place, as loggers write.
        let places = cells.iter().filter(|cell| {
            let (name, _) = name_and_unit(cell);
            let key = known_word(&name, &PLACES, &place_words());
            Place::ALL.iter().any(|place| place.key() == key)
        });
        if places.count() > 0
            && !header.columns.iter().flatten().any(|(at, _)| COLUMNS[*at].key == "place")
        {
            return Err(about(
                ErrorKind::WrongType,
                format!("a column for each place: {}", cells.join(", ")),
                "one reading a line, with columns time, place and shown",
                "Write each reading on a line of its own, for example \"12:30, pan, 185 °F\".",
            ));
        }
        for needed in ["time", "place", "shown"] {
            if !header.columns.iter().flatten().any(|(place, _)| COLUMNS[*place].key == needed) {
                return Err(about(
                    ErrorKind::Missing,
                    format!("no column \"{needed}\""),
                    "columns time, place and shown, with or without surface, emissivity, setting, \
                     surroundings, deviation, note",
                    "Name the columns in the first line, for example \"time (min), place, shown (°F)\".",
                ));
            }
        }
        Ok(header)
    }

    fn reading(&self, cells: &[String], line: u64) -> Result<Reading, Error> {
        let path = format!("readings, line {line}");
        if let Some(cell) = cells.iter().find(|cell| cell.contains(['\n', '\r'])) {
            return Err(Error::new(
                ErrorKind::WrongType,
                path,
                cell.lines().next().unwrap_or_default(),
                "cells that end on their line",
                "Look for a quotation mark without its partner: all lines up to the next one are in this cell.",
            ));
        }
        if let [cell] = cells
            && cell.contains([';', '\t', ','])
        {
            return Err(Error::new(
                ErrorKind::WrongType,
                path,
                cell.as_str(),
                "the same sign between the cells of all lines",
                "Separate all lines alike: by commas, by semicolons or by tabs.",
            ));
        }
        let spare = cells.iter().skip(self.columns.len()).any(|cell| !cell.is_empty());
        if spare {
            return Err(Error::new(
                ErrorKind::WrongType,
                path,
                cells.join(" | "),
                format!("{} cells", self.columns.len()),
                "Where a comma stands in a number, separate the cells by semicolons, or put the number in quotes.",
            ));
        }
        let mut object = Vec::new();
        for (cell, column) in cells.iter().zip(&self.columns) {
            let Some((place, unit)) = column else { continue };
            if cell.is_empty() {
                continue;
            }
            let column = &COLUMNS[*place];
            if column.dimension.is_some() && is_ambiguous(cell) {
                let (whole, rest) = cell.split_once(',').unwrap_or((cell, ""));
                return Err(Error::new(
                    ErrorKind::WrongType,
                    format!("{path}: {}", column.key),
                    cell.as_str(),
                    "a number that can be read one way only: a comma and three digits may be thousands or decimals",
                    format!("Write {whole}{rest} or {whole}.{rest}."),
                ));
            }
            let value = match (column.key, column.dimension) {
                ("place", _) => known_word(cell, &PLACES, &place_words()).to_string(),
                ("surface", _) => known_word(cell, &SURFACES, &surface_words()).to_string(),
                (_, None) => cell.to_string(),
                (_, Some(_)) => with_unit(cell, unit).to_string(),
            };
            object.push((column.key.to_string(), Json::String(value)));
        }
        super::read(&Reader::new(path, &Json::Object(object)).object()?)
    }
}

/// `Temp (°F)` as `temp` and `°F`; `time in min`, `temp °F` likewise.
fn name_and_unit(cell: &str) -> (String, String) {
    let lower = cell.to_lowercase();
    let edge = lower.find(['(', '[', '°', ',', '/']).unwrap_or(lower.len());
    let (mut name, rest) = lower.split_at(edge);
    let mut unit = rest.trim_matches(|c: char| "()[],/".contains(c) || c.is_whitespace());
    if unit.is_empty()
        && let Some((before, last)) = name.trim().rsplit_once([' ', '_'])
    {
        let dimensions = [Dimension::Time, Dimension::Temperature];
        if dimensions.iter().any(|dimension| find_unit(*dimension, last).is_some()) {
            (name, unit) = (before, last);
        }
    }
    let name = name.trim().trim_end_matches(" in").trim_end_matches('_').trim();
    (name.to_string(), unit.to_string())
}

/// The unit that a first line states, empty where it states none.
fn checked_unit(column: &Column, name: &str, unit: String, cell: &str) -> Result<String, Error> {
    // A column called "minutes" says its unit.
    let unit = if unit.is_empty() && find_unit(Dimension::Time, name).is_some() {
        name.to_string()
    } else {
        unit
    };
    let Some(dimension) = column.dimension.filter(|d| *d != Dimension::One && !unit.is_empty())
    else {
        return Ok(String::new());
    };
    if dimension == Dimension::Time && unit.contains(':') {
        // Cells like 12:30 are minutes and seconds, with hours only where there are three parts.
        if unit.starts_with('h') && unit.matches(':').count() == 1 {
            return Err(about(
                ErrorKind::WrongUnit,
                format!("column \"{cell}\""),
                "minutes and seconds as 12:30, or hours too as 1:12:30",
                "Write hours, minutes and seconds.",
            ));
        }
        return Ok(String::new());
    }
    if find_unit(dimension, &unit).is_none() {
        return Err(about(
            ErrorKind::WrongUnit,
            format!("column \"{cell}\""),
            format!("a unit of {}", accepted_units(dimension)),
            "State the unit in brackets, for example \"shown (°F)\".",
        ));
    }
    Ok(unit)
}

/// Whether the comma in a number may part thousands as well as decimals: `1,185`.
fn is_ambiguous(cell: &str) -> bool {
    let number = cell.trim_end_matches(|c: char| !c.is_ascii_digit());
    number.split_once(',').is_some_and(|(whole, rest)| {
        let digits = |part: &str| part.bytes().all(|byte| byte.is_ascii_digit());
        (1..=3).contains(&whole.len())
            && !whole.starts_with('0')
            && rest.len() == 3
            && digits(whole)
            && digits(rest)
    })
}

/// A number with its column's unit; a cell that states its own, or is no number, as it stands. A comma between digits is
/// a decimal comma.
fn with_unit(cell: &str, unit: &str) -> String {
    let pointed = match cell.split_once(',') {
        Some((whole, rest)) if rest.starts_with(|c: char| c.is_ascii_digit()) => {
            format!("{whole}.{rest}")
        }
        _ => cell.to_string(),
    };
    if unit.is_empty() || decimal(&pointed).is_none() {
        pointed
    } else {
        format!("{pointed} {unit}")
    }
}

/// The key of what a cell calls a place or a surface; the cell where nothing is called so.
fn known_word<T: Copy + PartialEq>(
    cell: &str,
    others: &[(&str, T)],
    own: &[(String, T, &'static str)],
) -> String {
    let plain = |text: &str| text.to_lowercase().replace(['_', '-', ',', '.'], " ");
    let wanted: String = plain(cell).split_whitespace().collect::<Vec<_>>().join(" ");
    let of_own = own.iter().find(|(word, ..)| plain(word).split_whitespace().eq(wanted.split(' ')));
    if let Some((_, _, key)) = of_own {
        return (*key).to_string();
    }
    let known = others.iter().find(|(word, _)| *word == wanted).map(|(_, value)| *value);
    let key = own.iter().find(|(_, value, _)| Some(*value) == known).map(|(_, _, key)| *key);
    key.map_or_else(|| cell.to_string(), str::to_string)
}

fn place_words() -> Vec<(String, Place, &'static str)> {
    let both = |place: Place| {
        [place.key(), place.label()].map(|word| (word.to_string(), place, place.key()))
    };
    Place::ALL.into_iter().flat_map(both).collect()
}

fn surface_words() -> Vec<(String, Surface, &'static str)> {
    let both = |surface: Surface| {
        [surface.key(), surface.label()].map(|word| (word.to_string(), surface, surface.key()))
    };
    Surface::ALL.into_iter().flat_map(both).collect()
}
