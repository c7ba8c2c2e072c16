//! Tables of readings, good and bad, as spreadsheets, loggers and people write them: what is read of each file of the
//! corpus in tests/data/readings, or which error it gets.

use std::fs;
use std::path::{Path, PathBuf};

use proptest::prelude::*;
use stallheat::error::Error;
use stallheat::readings::{MAX_READINGS, Place, Reading, Surface, read_list, table};

fn folder(kind: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/readings").join(kind)
}

fn text(kind: &str, name: &str) -> String {
    fs::read_to_string(folder(kind).join(name)).unwrap()
}

/// Names of the files in a folder, in order.
fn names(kind: &str) -> Vec<String> {
    let entries = fs::read_dir(folder(kind)).unwrap();
    let mut names: Vec<String> =
        entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

const fn f(fahrenheit: f64) -> f64 {
    (fahrenheit + 459.67) / 1.8
}

type Short = (f64, Place, f64, Surface);

const PAN: Short = (240.0, Place::Pan, f(90.0), Surface::Contact);
const SHELL: Short = (450.0, Place::ConverterShell, f(93.0), Surface::Tape);

/// What is to be read of each good file, and which columns are not used.
fn good() -> Vec<(&'static str, Vec<Short>, Vec<&'static str>)> {
    let celsius = |c: f64| c + 273.15;
    let both = || vec![PAN, SHELL];
    let in_celsius =
        || vec![(PAN.0, PAN.1, celsius(32.2), PAN.3), (SHELL.0, SHELL.1, celsius(33.9), SHELL.3)];
    let named = vec![
        (240.0, Place::Case, f(90.0), Surface::Painted),
        (300.0, Place::CoolerOut, f(91.0), Surface::Contact),
    ];
    vec![
        ("blank_lines.csv", both(), vec![]),
        ("bom_crlf.csv", both(), vec![]),
        ("capitals.csv", both(), vec![]),
        ("clocks.csv", vec![PAN, (4050.0, SHELL.1, SHELL.2, SHELL.3)], vec![]),
        ("comma.csv", both(), vec![]),
        ("degrees_without_sign.csv", vec![PAN, (SHELL.0, SHELL.1, celsius(93.0), SHELL.3)], vec![]),
        ("gun.csv", vec![(450.0, Place::ConverterShell, f(93.0), Surface::Painted)], vec![]),
        ("logger_extra_columns.csv", both(), vec!["Sample", "RPM", "Oil pressure"]),
        ("names_as_on_the_page.csv", named, vec![]),
        ("no_header.csv", both(), vec![]),
        ("old_mac_lines.csv", both(), vec![]),
        ("other_order.csv", both(), vec![]),
        ("quotes.csv", both(), vec![]),
        ("semicolon_decimal_comma.csv", in_celsius(), vec![]),
        ("separator_line.csv", both(), vec![]),
        ("tab.tsv", both(), vec![]),
        (
            "thousands_of_seconds.csv",
            vec![(1240.0, Place::Pan, f(125.0), Surface::Contact)],
            vec![],
        ),
        ("title_line.csv", both(), vec![]),
        ("unit_in_cells.csv", vec![PAN, (SHELL.0, SHELL.1, celsius(33.9), SHELL.3)], vec![]),
        ("us_spelling.csv", vec![(240.0, Place::Case, f(70.0), Surface::CastAluminium)], vec![]),
    ]
}

#[test]
fn good_tables_are_read_as_they_are_meant() {
    let expected = good();
    let stated: Vec<&str> = expected.iter().map(|(name, ..)| *name).collect();
    assert_eq!(stated, names("good"), "every file has what is to be read of it");
    for (name, wanted, ignored) in expected {
        let table = table::read(&text("good", name)).unwrap_or_else(|e| panic!("{name}: {e}"));
        let readings = table.readings().unwrap_or_else(|errors| panic!("{name}: {errors:?}"));
        assert_eq!(readings.len(), wanted.len(), "{name}");
        for (reading, (time_s, place, shown_k, surface)) in readings.iter().zip(wanted) {
            assert!((reading.time_s - time_s).abs() < 1e-6, "{name}: {} s", reading.time_s);
            assert_eq!((reading.place, reading.surface), (place, surface), "{name}");
            assert!((reading.shown_k - shown_k).abs() < 1e-6, "{name}: {} K", reading.shown_k);
        }
        assert_eq!(table.ignored, ignored, "{name}");
    }
}

#[test]
fn what_else_a_row_says_is_read_too() {
    let gun: Reading = table::read(&text("good", "gun.csv")).unwrap().readings().unwrap().remove(0);
    assert_eq!((gun.emissivity, gun.setting), (Some(0.9), 0.95));
    assert!((gun.surroundings_k.unwrap() - f(75.0)).abs() < 1e-6);
    assert_eq!((gun.deviation_k, gun.note.as_str()), (3.0, "after the brake"));
    let quoted = table::read(&text("good", "quotes.csv")).unwrap().readings().unwrap();
    assert_eq!(quoted[0].note, "said \"steady\", then rose");
}

/// Of each bad file: which line (0: the whole table), the field or value that is named, and a word of limit or remedy.
const BAD: [(&str, u64, &str, &str); 32] = [
    ("column_for_each_place.csv", 0, "Pan (°F)", "a line of its own"),
    ("comma_and_three_digits.csv", 2, "1,185", "Write 1185 or 1.185"),
    ("control_characters.csv", 2, "note", "character"),
    ("doubled_column.csv", 0, "shown", "Remove one"),
    ("emissivity_0.csv", 2, "emissivity", "0.02"),
    ("emissivity_1_4.csv", 2, "emissivity", "1"),
    ("emissivity_of_a_gauge.csv", 2, "emissivity", "Leave it out"),
    ("empty.csv", 0, "no readings", "at least one line"),
    ("header_only.csv", 0, "no readings", "at least one line"),
    ("hours_and_minutes.csv", 0, "h:mm", "hours, minutes and seconds"),
    ("infinite.csv", 2, "time", "s, min, h"),
    ("json.csv", 0, "bracket", "a table"),
    ("missing_place.csv", 0, "place", "Name the columns"),
    ("missing_time.csv", 0, "time", "Name the columns"),
    ("misspelt_column.csv", 0, "surfase", "Did you mean \"surface\"?"),
    ("negative_clock.csv", 2, "time", "12:30"),
    ("negative_time.csv", 2, "time", "0"),
    ("no_number.csv", 2, "shown", "°F"),
    ("no_surface_for_the_shell.csv", 2, "surface", "contact"),
    ("no_temperature.csv", 2, "shown", "°F"),
    ("no_unit.csv", 2, "shown", "°F"),
    ("one_of_three.csv", 3, "place", "pan"),
    ("only_blank.csv", 0, "no readings", "at least one line"),
    ("open_quote.csv", 2, "90,", "quotation mark without its partner"),
    ("semicolons_in_a_comma_table.csv", 2, "4;pan;90;", "Separate all lines alike"),
    ("text_in_a_number.csv", 2, "shown", "°F"),
    ("time_of_day_beyond.csv", 2, "time", "start of the day"),
    ("too_hot.csv", 2, "shown", "1004 °F"),
    ("too_many_cells.csv", 2, "4 | pan | 32 | 2", "semicolons"),
    ("wrong_place.csv", 2, "place", "pan"),
    ("wrong_surface.csv", 2, "surface", "tape"),
    ("wrong_unit.csv", 0, "psi", "°F"),
];

fn all_words(error: &Error) -> String {
    [&error.field, &error.value, &error.limit, &error.remedy].map(String::as_str).join(" ~ ")
}

#[test]
fn bad_tables_say_where_and_what_to_do() {
    let stated: Vec<&str> = BAD.iter().map(|(name, ..)| *name).collect();
    assert_eq!(stated, names("bad"), "every file has its error");
    let mut wrong = Vec::new();
    for (name, line, field, word) in BAD {
        let error = match table::read(&text("bad", name)) {
            Err(error) => (0, error),
            Ok(table) => {
                let bad = table.rows.iter().find(|row| row.reading.is_err());
                match bad {
                    Some(row) => (row.line, row.reading.clone().unwrap_err()),
                    None => {
                        wrong.push(format!("{name}: read without an error: {:?}", table.rows));
                        continue;
                    }
                }
            }
        };
        let words = all_words(&error.1);
        if error.0 != line || !words.contains(field) || !words.contains(word) {
            wrong.push(format!("{name}: line {}, {words}", error.0));
        }
    }
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
    // One bad row leaves the others as they are.
    let three = table::read(&text("bad", "one_of_three.csv")).unwrap();
    assert_eq!(three.rows.iter().filter(|row| row.reading.is_ok()).count(), 2);
    assert_eq!(three.rows[1].written, ["5", "elbow", "91", "tape"]);
}

#[test]
fn too_much_is_refused_by_its_size() {
    let row = "4,pan,90 °F\n";
    let many = table::read(&row.repeat(MAX_READINGS + 1)).unwrap_err();
    assert!(all_words(&many).contains("at most 500 readings"), "{many}");
    assert_eq!(table::read(&"4 min,pan,90 °F\n".repeat(MAX_READINGS)).unwrap().rows.len(), 500);
    let huge = table::read(&"x".repeat(table::MAX_BYTES + 1)).unwrap_err();
    assert!(all_words(&huge).contains("at most 200 kB"), "{huge}");
}

/// What a reading is written as reads back the same.
#[test]
fn readings_read_back_from_json() {
    for (name, ..) in good() {
        for reading in table::read(&text("good", name)).unwrap().readings().unwrap() {
            let again = read_list("readings", &serde_json::json!([reading.to_json()])).unwrap();
            let (again, tolerance_k) = (&again[0], 0.0051);
            assert!((again.shown_k - reading.shown_k).abs() < tolerance_k, "{name}");
            assert!((again.time_s - reading.time_s).abs() < 1e-6, "{name}");
            assert_eq!((again.place, again.surface), (reading.place, reading.surface), "{name}");
            assert_eq!((again.emissivity, &again.note), (reading.emissivity, &reading.note));
        }
    }
}

proptest! {
    /// No text makes the reader panic, and what it reads can be used.
    #[test]
    fn no_text_panics(text in "(?s).{0,400}") {
        usable(&text)?;
    }

    /// Likewise text that looks like a table.
    #[test]
    fn nothing_like_a_table_panics(
        text in r#"((time|place|shown|surface|emissivity|[-0-9.,:]{0,6}|pan|shell|tape|"|°F|°C|min|\(|\)|[;,\t\r\n]){1} ?){0,60}"#
    ) {
        usable(&text)?;
    }

    /// Cells with control characters, quotes and separators of every kind.
    #[test]
    fn no_cell_panics(cells in proptest::collection::vec(any::<String>(), 0..12)) {
        usable(&format!("time (min),place,shown (°F),surface\n{}", cells.join(",")))?;
    }
}

fn usable(text: &str) -> Result<(), TestCaseError> {
    let Ok(table) = table::read(text) else { return Ok(()) };
    prop_assert!(!table.rows.is_empty() && table.rows.len() <= MAX_READINGS);
    for row in &table.rows {
        match &row.reading {
            Ok(reading) => {
                prop_assert!(reading.time_s >= 0.0 && reading.time_s.is_finite());
                prop_assert!(reading.corrected_k(295.0).0.is_finite());
            }
            Err(error) => {
                prop_assert!(!error.field.is_empty() && !error.limit.is_empty());
                prop_assert!(!error.remedy.is_empty());
            }
        }
    }
    Ok(())
}
