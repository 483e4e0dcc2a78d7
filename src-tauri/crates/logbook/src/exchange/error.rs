//! Why a file cannot be read or written: which format, where in the file, which field, what is allowed.

use super::Format;
use core::fmt;
use serde_json::Value;
use windfall_facts::FlightError;

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
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
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
    #[error("{format}, {}{field}: {message}", mark.map(|mark| format!("{mark}, ")).unwrap_or_default())]
    Field {
        /// Its format.
        format: Format,
        /// Where, if it stands in the file.
        mark: Option<Mark>,
        /// Which, as in `trk[0].trkseg[1].trkpt[7].time`.
        field: String,
        /// What is wrong and what is allowed.
        message: String,
    },
    /// The archive is not as it was written.
    #[error("{}: {message}; nothing of it is taken", Format::Archive)]
    Altered {
        /// What is missing or different.
        message: String,
    },
    /// The format cannot hold what was to be written, or holds nothing that can be read back.
    #[error("{format}: {message}")]
    CannotHold {
        /// The format.
        format: Format,
        /// What it cannot hold, and what can.
        message: String,
    },
}

impl ExchangeError {
    pub(super) fn field(
        format: Format,
        mark: Option<Mark>,
        field: impl Into<String>,
        message: impl Into<String>,
    ) -> Self {
        Self::Field { format, mark, field: field.into(), message: message.into() }
    }

    /// Where in `text` the field of a flight file or GeoJSON stands that `error` names.
    pub(super) fn of_flight(format: Format, text: &str, error: &FlightError) -> Self {
        Self::field(format, super::json::mark_of(text, &error.field), &error.field, &error.message)
    }
}

/// A finite number from `low` to `high`.
///
/// # Errors
/// What is wrong and what is allowed, in words.
pub(super) fn number(written: &str, low: f64, high: f64) -> Result<f64, String> {
    let allowed = || format!("allowed is {low} to {high}, with a decimal point");
    let value: f64 =
        written.trim().parse().map_err(|_| format!("{written:?} is no number; {}", allowed()))?;
    // NaN lands on the refusing side.
    if (low..=high).contains(&value) {
        Ok(value)
    } else {
        Err(format!("{value} is out of range; {}", allowed()))
    }
}

/// As [`number`], of a JSON number or of a text that holds one.
pub(super) fn number_in(value: &Value, low: f64, high: f64) -> Result<f64, String> {
    match value {
        Value::String(written) => number(written, low, high),
        other => number(&other.to_string(), low, high),
    }
}
