//! Why a file cannot be read or written: which format, where in the file, which field, what is allowed.

use super::Format;
use core::fmt;
use serde_json::Value;
use windfall_facts::{FlightError, Sentence};

/// Where in a text something stands; both count from one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Mark {
    /// Line.
    pub line: usize,
    /// Column in characters, where the format has one.
    pub column: Option<usize>,
}

impl Mark {
    /// The place `offset` bytes into `text`.
    pub(super) fn at(text: &str, offset: usize) -> Self {
        let before = text.get(..offset).unwrap_or(text);
        let line = before.matches('\n').count() + 1;
        let column = before.rsplit('\n').next().unwrap_or_default().chars().count() + 1;
        Self { line, column: Some(column) }
    }
}

impl fmt::Display for Mark {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(formatter, "line {}", self.line)?;
        self.column.map_or(Ok(()), |column| write!(formatter, ", column {column}"))
    }
}

/// Why a file cannot be exchanged. Nothing of it is taken.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ExchangeError {
    /// Neither a file name nor a word says which format it is.
    #[error("format: {given:?} is none of this program's; allowed are {}", Format::words())]
    UnknownFormat {
        /// The name or word given.
        given: String,
    },
    /// It is larger than any file of its kind.
    #[error("{format}: {bytes} bytes; allowed are {allowed}")]
    TooLarge {
        /// Its format.
        format: Format,
        /// How large it is.
        bytes: usize,
        /// How large it may be.
        allowed: usize,
    },
    /// The text does not follow the grammar of its format.
    #[error("{format}, {mark}: {message}")]
    Unreadable {
        /// Its format.
        format: Format,
        /// Where.
        mark: Mark,
        /// What is wrong.
        message: String,
    },
    /// A field says something that is not allowed.
    #[error("{format}, {}{field}: {why}", mark.map(|mark| format!("{mark}, ")).unwrap_or_default())]
    Field {
        /// Its format.
        format: Format,
        /// Where, if it stands in the file.
        mark: Option<Mark>,
        /// Which, as in `trk[0].trkseg[1].trkpt[7].time`.
        field: String,
        /// What is wrong and what is allowed.
        why: Box<Sentence>,
    },
    /// The archive is not as it was written.
    #[error("{}: {message}; nothing of it is taken", Format::Archive)]
    Altered {
        /// What is missing or different.
        message: String,
    },
    /// The format cannot hold what was to be written, or holds nothing that can be read back.
    #[error("{format}: {why}")]
    CannotHold {
        /// The format.
        format: Format,
        /// What it cannot hold, and what can.
        why: Box<Sentence>,
    },
}

impl ExchangeError {
    pub(super) fn field(
        format: Format,
        mark: Option<Mark>,
        field: impl Into<String>,
        why: impl Into<Sentence>,
    ) -> Self {
        Self::Field { format, mark, field: field.into(), why: why.into().inside() }
    }

    pub(super) fn cannot_hold(format: Format, why: impl Into<Sentence>) -> Self {
        Self::CannotHold { format, why: why.into().inside() }
    }

    /// Where in `text` the field of a flight file or GeoJSON stands that `error` names.
    pub(super) fn of_flight(format: Format, text: &str, error: &FlightError) -> Self {
        Self::field(format, super::json::mark_of(text, &error.field), &error.field, why_of(error))
    }
}

/// What a flight file refuses, as a sentence.
pub(super) fn why_of(error: &FlightError) -> Sentence {
    error.said.as_ref().map_or_else(|| error.message.as_str().into(), |said| Sentence::clone(said))
}

/// A finite number from `low` to `high`.
///
/// # Errors
/// What is wrong and what is allowed.
pub(super) fn number(written: &str, low: f64, high: f64) -> Result<f64, Sentence> {
    let no_number = |_| Sentence::NotANumber { written: written.into(), low, high };
    let value: f64 = written.trim().parse().map_err(no_number)?;
    // NaN lands on the refusing side.
    if (low..=high).contains(&value) {
        Ok(value)
    } else {
        Err(Sentence::NumberBeyond { number: value, low, high })
    }
}

/// As [`number`], of a JSON number or of a text that holds one.
pub(super) fn number_in(value: &Value, low: f64, high: f64) -> Result<f64, Sentence> {
    match value {
        Value::String(written) => number(written, low, high),
        other => number(&other.to_string(), low, high),
    }
}
