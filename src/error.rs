//! One error for everything that can go wrong with what a user gave us.
//!
//! Every error says four things, because a person has to act on it: which field (`field`), what was
//! found there (`value`), what would have been accepted (`limit`) and what to do now (`remedy`).
//! There is no free-form variant and no error without these four; programming mistakes are not errors
//! but failing tests.
//!
//! Not here: exit codes (the command line chooses them) and translations.

use std::fmt;
use std::ops::{Deref, DerefMut};

/// What sort of mistake it is. The name goes, in snake case, into machine-readable output.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ErrorKind {
    /// The file cannot be read, or is not text.
    File,
    /// The text is not JSON, or is cut short.
    NotJson,
    /// Too many bytes, events, rounds or too long a day.
    TooLarge,
    /// A key that the format does not have.
    UnknownKey,
    /// A key that must be there and is not.
    Missing,
    /// The right key with the wrong type of JSON value.
    WrongType,
    /// A quantity without a unit, or with a unit of another dimension.
    WrongUnit,
    /// A value outside the range that the parameter table states.
    OutOfRange,
    /// Two statements that cannot both hold: overlapping events, an engine that idles in a tow.
    Contradiction,
    /// The inputs are each allowed, but together drive a temperature beyond what the model describes.
    Unphysical,
    /// The integrator gave up within its step budget.
    Solver,
    /// The page cannot be built: sources gone, a tool missing, a folder that is not ours.
    Build,
    /// The page cannot be served: no free port, no built page.
    Serve,
}

impl ErrorKind {
    /// The name used in JSON output, for example `out_of_range`.
    pub fn name(self) -> &'static str {
        match self {
            ErrorKind::File => "file",
            ErrorKind::NotJson => "not_json",
            ErrorKind::TooLarge => "too_large",
            ErrorKind::UnknownKey => "unknown_key",
            ErrorKind::Missing => "missing",
            ErrorKind::WrongType => "wrong_type",
            ErrorKind::WrongUnit => "wrong_unit",
            ErrorKind::OutOfRange => "out_of_range",
            ErrorKind::Contradiction => "contradiction",
            ErrorKind::Unphysical => "unphysical",
            ErrorKind::Solver => "solver",
            ErrorKind::Build => "build",
            ErrorKind::Serve => "serve",
        }
    }
}

/// A mistake in the input, said so that the reader can mend it.
///
/// What it says lies behind one pointer: nearly every function of reading returns it, and with five texts side by side
/// each of their `?` would copy sixty bytes, a twentieth of the page's core.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Error(Box<Said>);

/// The parts of an error; read through it, `error.field`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Said {
    pub kind: ErrorKind,
    /// Path of the field, as in the scenario file: `setup.converter.shell_mass`.
    pub field: String,
    /// What stands there, shortened when long.
    pub value: String,
    /// What is accepted, with its unit.
    pub limit: String,
    /// What the reader should do now.
    pub remedy: String,
}

impl Error {
    /// Builds an error on one line: every part is shortened and freed of control characters, so that a hostile
    /// file can neither flood the screen nor steer it.
    pub fn new(
        kind: ErrorKind,
        field: impl Into<String>,
        value: impl Into<String>,
        limit: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Error {
        Error(Box::new(Said {
            kind,
            field: shortened(field.into(), 160),
            value: shortened(value.into(), 80),
            limit: shortened(limit.into(), 800),
            remedy: shortened(remedy.into(), 400),
        }))
    }

    /// The same error, said of another field.
    pub fn of_field(mut self, field: impl Into<String>) -> Error {
        self.field = shortened(field.into(), 160);
        self
    }
}

impl Deref for Error {
    type Target = Said;

    fn deref(&self) -> &Said {
        &self.0
    }
}

impl DerefMut for Error {
    fn deref_mut(&mut self) -> &mut Said {
        &mut self.0
    }
}

/// Whether a character steers a terminal or turns the direction of writing instead of being seen: control
/// characters, line and paragraph separators, bidirectional marks (Unicode UAX #9).
pub fn steers(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{061C}' | '\u{200E}' | '\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
}

fn shortened(text: String, limit_chars: usize) -> String {
    let plain = |c: char| if steers(c) { '�' } else { c };
    let mut short: String = text.chars().take(limit_chars).map(plain).collect();
    if text.chars().nth(limit_chars).is_some() {
        short.push('…');
    }
    short
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {} — {}. {}", self.field, self.value, self.limit, self.remedy)
    }
}

impl std::error::Error for Error {}
