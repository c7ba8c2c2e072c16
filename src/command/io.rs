//! Files, standard input and standard output of the commands: sizes are limited, refusals name the file.

use std::fs::File;
use std::io::{Read, Write};
use std::path::Path;

use stallheat::error::{Error, ErrorKind};
use stallheat::scenario::{self, Scenario};
use stallheat::units::{Dimension, parse_quantity};

/// Reads a scenario file, or standard input for `-`.
pub fn read_scenario(file: &Path) -> Result<Scenario, Error> {
    scenario::parse(&read_text(file, scenario::MAX_BYTES, "a scenario")?)
}

/// Reads a text file, or standard input for `-`; never more than the largest allowed size.
pub fn read_text(file: &Path, most_bytes: usize, what: &str) -> Result<String, Error> {
    let most = most_bytes as u64 + 1;
    let mut bytes = Vec::new();
    let read = if file == Path::new("-") {
        std::io::stdin().lock().take(most).read_to_end(&mut bytes)
    } else {
        File::open(file).and_then(|opened| opened.take(most).read_to_end(&mut bytes))
    };
    read.map_err(|error| file_error(file, &error.to_string()))?;
    if bytes.len() > most_bytes {
        let limit = if most_bytes >= 1_000_000 {
            format!("{} MB", most_bytes / 1_000_000)
        } else {
            format!("{} kB", most_bytes / 1_000)
        };
        return Err(Error::new(
            ErrorKind::TooLarge,
            file.display().to_string(),
            format!("more than {limit}"),
            format!("{what} has at most {limit}"),
            "Check that this is the right file, or make it shorter.",
        ));
    }
    String::from_utf8(bytes).map_err(|error| {
        Error::new(
            ErrorKind::File,
            file.display().to_string(),
            format!("not UTF-8 text, from byte {}", error.utf8_error().valid_up_to()),
            "text in UTF-8",
            "Save it again as UTF-8; a spreadsheet calls that \"CSV UTF-8\".",
        )
    })
}

/// A file, or one of the standard streams, that cannot be read or written.
pub fn file_error(file: &Path, reason: &str) -> Error {
    let reason = reason.split(" (os error").next().unwrap_or(reason);
    Error::new(
        ErrorKind::File,
        file.display().to_string(),
        reason,
        "a file that can be read and written here, in UTF-8",
        "Check the path and the permissions.",
    )
}

/// Prints to stdout. A reader that stops listening (`| head`) is no error.
pub fn print(text: &str) -> Result<(), Error> {
    let mut stdout = std::io::stdout().lock();
    written(stdout.write_all(text.as_bytes()).and_then(|()| stdout.flush())).map(|_listening| ())
}

/// What came of writing to stdout: whether anybody still reads it.
pub fn written(result: std::io::Result<()>) -> Result<bool, Error> {
    match result {
        Ok(()) => Ok(true),
        Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => Ok(false),
        Err(error) => Err(file_error(Path::new("standard output"), &error.to_string())),
    }
}

/// Says something on stderr; a stderr that nobody reads does not matter.
pub fn complain(words: impl std::fmt::Display) {
    let _ = writeln!(std::io::stderr().lock(), "stallheat: {words}");
}

/// Writes a text to a file that is not there yet, or over one if `force` says so: what a user has is not lost by a
/// name typed in haste.
pub fn write_new(file: &Path, text: &str, force: bool) -> Result<(), Error> {
    if !force && file.symlink_metadata().is_ok() {
        return Err(Error::new(
            ErrorKind::File,
            file.display().to_string(),
            "there is a file of this name",
            "a name that is free",
            "Choose another name, or add --force to write over it.",
        ));
    }
    std::fs::write(file, text).map_err(|error| file_error(file, &error.to_string()))
}

/// Writes a picture; over another picture, but over nothing else.
pub fn write_picture(file: &Path, svg: &str) -> Result<(), Error> {
    let mut start = [0; 1];
    let is_other = file.is_file()
        && File::open(file)
            .and_then(|mut opened| opened.read(&mut start))
            .is_ok_and(|count| count > 0 && start[0] != b'<');
    write_new(file, svg, !is_other)
}

/// A quantity of the command line; a bare number is in `unit`.
pub fn quantity(flag: &str, text: &str, dimension: Dimension, unit: &str) -> Result<f64, Error> {
    let text = text.trim();
    let whole = match text.parse::<f64>() {
        Ok(_) => format!("{text} {unit}"),
        Err(_) => text.to_string(),
    };
    parse_quantity(dimension, &whole).ok().filter(|value| value.is_finite()).ok_or_else(|| {
        Error::new(
            ErrorKind::WrongUnit,
            flag,
            text,
            format!("{}, with its unit or in {unit}", dimension.noun()),
            format!(
                "Write, for example, {flag} \"{} {unit}\".",
                if unit == "min" { 12 } else { 90 }
            ),
        )
    })
}
