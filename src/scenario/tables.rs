//! Tables of a set-up: a torque curve by points, the user's own converter, a list of gear ratios.
//!
//! A table is a list of rows, or a text of comma-separated values as a spreadsheet writes it: comma, semicolon
//! or tab between the columns, a decimal comma with the latter two, with or without a first line that names
//! columns and their units, `engine_speed (rpm), torque (lbf ft)`.

use serde_json::Number;

use super::json::{Json, ObjectReader, Reader};
use super::parameters::Setup;
use crate::converter::{ConverterTable, Table};
use crate::csv::{records, separator_of};
use crate::decimal::decimal;
use crate::engine::TorquePoint;
use crate::error::{Error, ErrorKind};
use crate::units::{Dimension, find_unit, parted, unit_or_si};

/// Most rows of a table.
pub const MAX_ROWS: usize = 200;
/// Most characters of a table written as text.
pub const MAX_CHARS: usize = 20_000;

/// A column.
pub struct Column {
    pub key: &'static str,
    pub dimension: Dimension,
    pub us_unit: &'static str,
    pub si_unit: &'static str,
    /// In the SI display unit.
    min: f64,
    max: f64,
    pub label: &'static str,
}

impl Column {
    /// Least allowed value, SI.
    pub fn min_si(&self) -> f64 {
        unit_or_si(self.dimension, self.si_unit).to_si(self.min)
    }

    /// Largest allowed value, SI.
    pub fn max_si(&self) -> f64 {
        unit_or_si(self.dimension, self.si_unit).to_si(self.max)
    }
}

/// A table that a set-up may state.
pub struct TableInput {
    pub part: &'static str,
    pub key: &'static str,
    pub columns: &'static [Column],
    /// Columns of which a table has exactly one, by key; empty when it has all.
    pub one_of: &'static [&'static str],
    /// Parameters of the part that it replaces.
    pub replaces: &'static [&'static str],
    pub least_rows: usize,
    pub label: &'static str,
    pub sentence: &'static str,
    /// As a text of values.
    pub example: &'static str,
}

impl TableInput {
    /// `setup.engine.torque_curve`.
    pub fn path(&self) -> String {
        format!("setup.{}.{}", self.part, self.key)
    }
}

const fn plain(key: &'static str, min: f64, max: f64, label: &'static str) -> Column {
    Column { key, dimension: Dimension::One, us_unit: "", si_unit: "", min, max, label }
}

/// What columns are called for short, in any case of letters.
const SHORT_NAMES: [(&str, &str); 5] = [
    ("rpm", "engine_speed"),
    ("sr", "speed_ratio"),
    ("tr", "torque_ratio"),
    ("k", "k_factor"),
    ("gear_ratio", "ratio"),
];

/// Every table.
pub static TABLES: &[TableInput] = &[
    TableInput {
        part: "engine",
        key: "torque_curve",
        columns: &[
            Column {
                key: "engine_speed",
                dimension: Dimension::AngularVelocity,
                us_unit: "rpm",
                si_unit: "rpm",
                min: 0.0,
                max: 14_000.0,
                label: "Engine speed",
            },
            Column {
                key: "torque",
                dimension: Dimension::Torque,
                us_unit: "lbf ft",
                si_unit: "N m",
                min: 0.0,
                max: 8_000.0,
                label: "Torque",
            },
        ],
        one_of: &[],
        replaces: &["peak_power", "peak_power_speed", "peak_torque", "peak_torque_speed"],
        least_rows: 2,
        label: "Torque curve",
        sentence: "Points of a dynamometer sheet at full throttle, corrected as peak power is; speeds rising; numbers without units are rpm and lbf ft.",
        example: "engine_speed (rpm), torque (lbf ft)\n2500, 430\n3500, 488\n4500, 527\n5500, 523\n6500, 472\n7200, 405",
    },
    TableInput {
        part: "converter",
        key: "table",
        columns: &[
            plain("speed_ratio", 0.0, 1.0, "Speed ratio"),
            plain("torque_ratio", 0.5, 4.0, "Torque ratio"),
            plain("capacity", 0.0, 5.0, "Capacity over that at stall"),
            Column {
                key: "k_factor",
                dimension: Dimension::KFactor,
                us_unit: "rpm/√(lbf ft)",
                si_unit: "rpm/√(N m)",
                min: 40.0,
                max: 20_000.0,
                label: "K-factor",
            },
        ],
        one_of: &["capacity", "k_factor"],
        replaces: &["stall_torque_ratio"],
        least_rows: 3,
        label: "Own converter",
        sentence: "Torque ratio, and capacity over that at stall or K-factor, against speed ratio from 0; straight between the rows, no torque at speed ratio 1; K-factors without unit are rpm/√(lbf ft).",
        example: "speed_ratio, torque_ratio, capacity\n0, 1.95, 1\n0.4, 1.55, 1\n0.7, 1.2, 0.92\n0.86, 0.985, 0.72\n0.95, 0.985, 0.4\n1, 0.985, 0",
    },
    TableInput {
        part: "gearbox",
        key: "ratios",
        columns: &[plain("ratio", 0.5, 6.0, "Ratio")],
        one_of: &[],
        replaces: &["low_ratio"],
        least_rows: 1,
        label: "Gear ratios",
        sentence: "All forward gears, lowest first: two or three as a rule.",
        example: "2.1, 1.4, 1",
    },
];

/// Most capacity of a row, over that at stall.
const MOST_CAPACITY: f64 = 5.0;
/// Least distance of two rows in speed ratio.
const LEAST_STEP: f64 = 1e-3;

/// One row: a cell for every column, with its path for messages.
struct Row {
    path: String,
    cells: Vec<Option<Json>>,
}

/// Reads the tables that a part's object states.
pub fn read(values: &ObjectReader, part: &str, setup: &mut Setup) -> Result<(), Error> {
    for table in TABLES.iter().filter(|table| table.part == part) {
        if let Some(reader) = values.optional(table.key) {
            read_stated(table, reader, values, setup)?;
        }
    }
    Ok(())
}

/// Reads a table that is there; by itself, because most days state none.
#[inline(never)]
fn read_stated(
    table: &TableInput,
    reader: Reader,
    values: &ObjectReader,
    setup: &mut Setup,
) -> Result<(), Error> {
    for key in table.replaces {
        if values.optional(key).is_some() {
            return Err(reader.error_about(
                ErrorKind::Contradiction,
                format!("\"{key}\" as well"),
                format!("\"{}\" takes the place of \"{key}\"", table.key),
                "Remove one of them.",
            ));
        }
    }
    let rows = rows(table, &reader)?;
    match table.key {
        "torque_curve" => setup.torque_curve = torque_curve(table, &rows)?,
        "table" => read_converter(table, &rows, values, &reader, setup)?,
        _ => setup.gear_ratios = gear_ratios(table, &rows, &reader)?,
    }
    Ok(())
}

fn rows(table: &TableInput, reader: &Reader) -> Result<Vec<Row>, Error> {
    let rows = match reader.value() {
        Json::String(_) => rows_of_text(table, reader)?,
        _ => rows_of_list(table, reader)?,
    };
    if rows.len() > MAX_ROWS {
        return Err(reader.error_about(
            ErrorKind::TooLarge,
            format!("{} rows", rows.len()),
            format!("at most {MAX_ROWS} rows"),
            "Leave out rows between which nothing bends.",
        ));
    }
    if rows.len() < table.least_rows {
        return Err(reader.error_about(
            ErrorKind::Missing,
            format!("{} rows", rows.len()),
            format!("at least {} rows", table.least_rows),
            format!(
                "Write one row a line, such as \"{}\".",
                table.example.lines().last().unwrap_or_default()
            ),
        ));
    }
    Ok(rows)
}

/// `[[0, 1.9, 1], …]`, columns in their order; a table of one column also as `[2.1, 1.4, 1]`.
fn rows_of_list(table: &TableInput, reader: &Reader) -> Result<Vec<Row>, Error> {
    let items = reader.list()?;
    let mut rows = Vec::new();
    let order = default_order(table);
    for item in items {
        let path = item.path().to_string();
        let cells = match item.value() {
            Json::Array(cells) => cells.clone(),
            single if table.columns.len() == 1 => vec![single.clone()],
            _ => {
                return Err(item.error(
                    ErrorKind::WrongType,
                    format!("a row is a list of {} values", order.len()),
                    "Write the row as [ … ], or the whole table as a text with commas.",
                ));
            }
        };
        rows.push(row(table, &order, path, cells, None)?);
    }
    Ok(rows)
}

/// Columns of a table without a header: in order, the first of those that exclude each other.
fn default_order(table: &TableInput) -> Vec<usize> {
    (0..table.columns.len())
        .filter(|i| !table.one_of.iter().skip(1).any(|key| *key == table.columns[*i].key))
        .collect()
}

fn row(
    table: &TableInput,
    order: &[usize],
    path: String,
    cells: Vec<Json>,
    shown: Option<&str>,
) -> Result<Row, Error> {
    if cells.len() != order.len() {
        let names: Vec<&str> = order.iter().map(|i| table.columns[*i].key).collect();
        return Err(Error::new(
            ErrorKind::WrongType,
            path,
            shown.map_or_else(
                || format!("{} values", cells.len()),
                |text| text.chars().take(60).collect(),
            ),
            format!("{} values: {}", order.len(), names.join(", ")),
            "Give every row one value for each column.",
        ));
    }
    let mut placed: Vec<Option<Json>> = vec![None; table.columns.len()];
    for (cell, column) in cells.into_iter().zip(order) {
        placed[*column] = Some(cell);
    }
    Ok(Row { path, cells: placed })
}

fn rows_of_text(table: &TableInput, reader: &Reader) -> Result<Vec<Row>, Error> {
    let text = match reader.value() {
        Json::String(text) => text.strip_prefix('\u{feff}').unwrap_or(text),
        _ => "",
    };
    if text.len() > MAX_CHARS {
        return Err(reader.error_about(
            ErrorKind::TooLarge,
            format!("{} characters", text.len()),
            format!("at most {MAX_CHARS} characters"),
            "Keep the columns that are needed, and fewer rows.",
        ));
    }
    let separator = separator_of(text);
    let mut order: Option<(Vec<usize>, Vec<String>)> = None;
    let mut rows = Vec::new();
    for record in records(text, separator) {
        let mut cells: Vec<&str> = record.cells.iter().map(|cell| cell.trim()).collect();
        // Spreadsheets leave empty cells at the end of a line.
        while cells.len() > 1 && cells.last().is_some_and(|cell| cell.is_empty()) {
            cells.pop();
        }
        if cells.iter().all(|cell| cell.is_empty()) {
            continue;
        }
        // Letters of nearly all languages: the table of them all is not in the page.
        let is_letter =
            |c: char| c.is_ascii_alphabetic() || ('À'..'\u{2000}').contains(&c) || c >= '\u{2e80}';
        let names = cells.iter().all(|cell| cell.starts_with(is_letter));
        if order.is_none() && names {
            order = Some(header(table, reader, &cells)?);
            continue;
        }
        let (columns, units) = order.get_or_insert_with(|| {
            let columns = default_order(table);
            let units = columns.iter().map(|i| table.columns[*i].us_unit.to_string()).collect();
            (columns, units)
        });
        let number_of = |cell: &str| {
            if separator == ',' { cell.to_string() } else { cell.replace(',', ".") }
        };
        let path = format!("{}[{}]", reader.path(), rows.len());
        // A single column may be written in one line.
        if table.columns.len() == 1 {
            for cell in cells {
                let path = format!("{}[{}]", reader.path(), rows.len());
                rows.push(Row { path, cells: vec![Some(value(&number_of(cell), ""))] });
            }
            continue;
        }
        let values = cells
            .iter()
            .enumerate()
            .map(|(i, cell)| value(&number_of(cell), units.get(i).map_or("", String::as_str)))
            .collect();
        rows.push(row(table, columns, path, values, Some(&cells.join(", ")))?);
    }
    Ok(rows)
}

/// A cell as JSON would state it: a number, or a text with the column's unit.
fn value(cell: &str, unit: &str) -> Json {
    match decimal(cell).and_then(Number::from_f64) {
        Some(number) if unit.is_empty() => Json::Number(number),
        Some(_) => Json::String(format!("{cell} {unit}")),
        None => Json::String(cell.to_string()),
    }
}

/// Whether a cell of a first line names the column of K-factors.
pub fn is_k_factor(cell: &str) -> bool {
    let name: String =
        cell.trim().chars().take_while(|c| c.is_ascii_alphanumeric() || *c == '_').collect();
    matches!(name.to_ascii_lowercase().as_str(), "k" | "k_factor")
}

/// Columns and units named by a first line.
fn header(
    table: &TableInput,
    reader: &Reader,
    cells: &[&str],
) -> Result<(Vec<usize>, Vec<String>), Error> {
    let known: Vec<&str> = table.columns.iter().map(|column| column.key).collect();
    let complain = |value: &str, limit: String| {
        reader.error_about(
            ErrorKind::WrongType,
            format!("column \"{}\"", value.chars().take(40).collect::<String>()),
            limit,
            format!(
                "Name the columns, for example \"{}\".",
                table.example.lines().next().unwrap_or_default()
            ),
        )
    };
    let (mut columns, mut units) = (Vec::new(), Vec::new());
    for cell in cells {
        let end =
            cell.find(|c: char| !(c.is_ascii_alphanumeric() || c == '_')).unwrap_or(cell.len());
        let (key, rest) = parted(cell, end);
        let key = key.to_ascii_lowercase();
        let key = SHORT_NAMES
            .iter()
            .find(|(short, _)| *short == key)
            .map_or(key.as_str(), |(_, long)| long);
        let Some(place) = known.iter().position(|known| *known == key) else {
            return Err(complain(cell, format!("one of {}", known.join(", "))));
        };
        if columns.contains(&place) {
            return Err(complain(cell, "every column once".to_string()));
        }
        let column = &table.columns[place];
        let rest = rest.trim();
        let bracketed = rest
            .strip_prefix('(')
            .and_then(|rest| rest.strip_suffix(')'))
            .or_else(|| rest.strip_prefix('[').and_then(|rest| rest.strip_suffix(']')));
        let unit = bracketed.unwrap_or(rest).trim();
        let unit = if unit.is_empty() { column.us_unit } else { unit };
        if column.dimension != Dimension::One && find_unit(column.dimension, unit).is_none() {
            let accepted = crate::units::accepted_units(column.dimension);
            return Err(complain(cell, format!("a unit of {accepted}")));
        }
        columns.push(place);
        units.push(if column.dimension == Dimension::One {
            String::new()
        } else {
            unit.to_string()
        });
    }
    for (place, column) in table.columns.iter().enumerate() {
        if !table.one_of.contains(&column.key) && !columns.contains(&place) {
            return Err(complain(column.key, "this column is missing".to_string()));
        }
    }
    let chosen = columns.iter().filter(|i| table.one_of.contains(&table.columns[**i].key)).count();
    if !table.one_of.is_empty() && chosen != 1 {
        return Err(complain(
            table.one_of.first().copied().unwrap_or_default(),
            format!("exactly one of {}", table.one_of.join(" and ")),
        ));
    }
    Ok((columns, units))
}

/// The value of a cell, SI, in its column's range.
fn cell_si(table: &TableInput, row: &Row, key: &str) -> Result<Option<f64>, Error> {
    let Some(place) = table.columns.iter().position(|column| column.key == key) else {
        return Ok(None);
    };
    let Some(Some(value)) = row.cells.get(place) else { return Ok(None) };
    let column = &table.columns[place];
    Reader::new(format!("{}.{key}", row.path), value)
        .quantity(column.dimension, column.us_unit, column.min_si(), column.max_si())
        .map(Some)
}

fn needed_si(table: &TableInput, row: &Row, key: &str) -> Result<f64, Error> {
    cell_si(table, row, key)?.ok_or_else(|| {
        Error::new(
            ErrorKind::Missing,
            format!("{}.{key}", row.path),
            "nothing",
            "every row needs it",
            "Fill the cell.",
        )
    })
}

fn torque_curve(table: &TableInput, rows: &[Row]) -> Result<Vec<TorquePoint>, Error> {
    rows.iter()
        .map(|row| {
            Ok(TorquePoint {
                speed_rad_per_s: needed_si(table, row, "engine_speed")?,
                torque_nm: needed_si(table, row, "torque")?,
            })
        })
        .collect()
}

fn gear_ratios(table: &TableInput, rows: &[Row], reader: &Reader) -> Result<Vec<f64>, Error> {
    /// Most forward gears.
    const MOST: usize = 8;
    let ratios: Vec<f64> =
        rows.iter().map(|row| needed_si(table, row, "ratio")).collect::<Result<_, Error>>()?;
    if ratios.len() > MOST {
        return Err(reader.error_about(
            ErrorKind::TooLarge,
            format!("{} gears", ratios.len()),
            format!("at most {MOST} gears"),
            "List the forward gears only.",
        ));
    }
    for (i, pair) in ratios.windows(2).enumerate() {
        if pair[1] >= pair[0] {
            return Err(Error::new(
                ErrorKind::Contradiction,
                rows[i + 1].path.as_str(),
                format!("{} after {}", pair[1], pair[0]),
                "ratios fall from gear to gear",
                "List the gears from the lowest, which has the largest ratio, to the highest.",
            ));
        }
    }
    Ok(ratios)
}

fn read_converter(
    table: &TableInput,
    rows: &[Row],
    values: &ObjectReader,
    reader: &Reader,
    setup: &mut Setup,
) -> Result<(), Error> {
    let (mut torque_ratio, mut capacity, mut k_factor) = (Vec::new(), Vec::new(), Vec::new());
    for row in rows {
        let speed_ratio = needed_si(table, row, "speed_ratio")?;
        torque_ratio.push((speed_ratio, needed_si(table, row, "torque_ratio")?));
        match cell_si(table, row, "k_factor")? {
            Some(k_rad) => k_factor.push((speed_ratio, k_rad)),
            None => capacity.push((speed_ratio, needed_si(table, row, "capacity")?)),
        }
    }
    if torque_ratio[0].0 != 0.0 {
        return Err(Error::new(
            ErrorKind::Missing,
            format!("{}.speed_ratio", rows[0].path),
            format!("{}", torque_ratio[0].0),
            "the first row is stall, speed ratio 0",
            "Add the row for stall.",
        ));
    }
    if let Some((_, stall_k_rad)) = k_factor.first().copied() {
        for key in ["k_factor", "stall_speed"] {
            if values.optional(key).is_some() {
                return Err(reader.error_about(
                    ErrorKind::Contradiction,
                    format!("\"{key}\" as well"),
                    "a table with a column k_factor has the K-factor at stall already",
                    format!("Remove \"{key}\", or give the column \"capacity\" instead."),
                ));
            }
        }
        if let Some((i, _)) = k_factor.iter().enumerate().find(|(_, point)| point.0 == 1.0) {
            return Err(Error::new(
                ErrorKind::Contradiction,
                format!("{}.k_factor", rows[i].path),
                "a K-factor at speed ratio 1",
                "without slip a converter carries no torque, so its K-factor there is endless",
                "Leave this row out: capacity then runs to nothing at speed ratio 1.",
            ));
        }
        setup.converter.k_factor = stall_k_rad;
        capacity =
            k_factor.iter().map(|(at, k_rad)| (*at, (stall_k_rad / k_rad).powi(2))).collect();
    }
    let stall = capacity[0].1;
    if stall <= 0.0 {
        return Err(Error::new(
            ErrorKind::OutOfRange,
            format!("{}.capacity", rows[0].path),
            "0",
            "above zero at stall",
            "Give the torque at stall as 1 and the others against it.",
        ));
    }
    for (point, row) in capacity.iter_mut().zip(rows) {
        point.1 /= stall;
        if point.1 > MOST_CAPACITY {
            return Err(Error::new(
                ErrorKind::OutOfRange,
                row.path.as_str(),
                format!("{:.3} times the capacity at stall", point.1),
                format!("at most {MOST_CAPACITY} times"),
                "Check the row for stall, and this one.",
            ));
        }
    }
    for (i, pair) in capacity.windows(2).enumerate() {
        if pair[1].0 > pair[0].0 && pair[1].0 - pair[0].0 < LEAST_STEP {
            return Err(Error::new(
                ErrorKind::OutOfRange,
                format!("{}.speed_ratio", rows[(i + 1).min(rows.len() - 1)].path),
                format!("{} after {}", pair[1].0, pair[0].0),
                format!("rows at least {LEAST_STEP} apart: a cliff cannot be integrated"),
                "Leave one of the two rows out.",
            ));
        }
    }
    match capacity.last().copied() {
        Some((at, _)) if at < 1.0 => capacity.push((1.0, 0.0)),
        Some((_, left)) if left > 0.0 => {
            return Err(Error::new(
                ErrorKind::Contradiction,
                format!("{}.capacity", rows[rows.len() - 1].path),
                format!("{left} at speed ratio 1"),
                "without slip a converter carries no torque",
                "Write 0 there, or leave this row out.",
            ));
        }
        _ => {}
    }
    // Torque ratio held above 1 up to there would give more power than goes in.
    match torque_ratio.last().copied() {
        Some((at, ratio)) if at < 1.0 && ratio > 1.0 => torque_ratio.push((1.0, 1.0)),
        _ => {}
    }
    let path = reader.path();
    setup.converter_table = Some(ConverterTable {
        torque_ratio: Table::new(path, torque_ratio)?,
        capacity: Table::new(path, capacity)?,
    });
    Ok(())
}
