use serde::Serialize;
use windfall_facts::{FlightError, Sentence};
use windfall_inference::LocateError;
use windfall_logbook::LogbookError;

/// What a caller may want to act on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Code {
    /// There is no such call, flight, part or file.
    NotFound,
    /// The request itself is malformed.
    BadRequest,
    /// The flight says something impossible; the message names the field.
    BadFlight,
    /// The disk or the logbook refused.
    Storage,
    /// A defect of this program.
    Defect,
}

/// Why a call failed, in words for people.
#[derive(Clone, Debug, PartialEq, Serialize, thiserror::Error)]
#[error("{message}")]
pub struct ApiError {
    /// For the caller to act on.
    pub code: Code,
    /// For people.
    pub message: String,
    /// Which field is meant, if one is, as in `rocket.stages[0].dry_mass_g`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub field: Option<String>,
    /// What is wrong with it and what is allowed, for a screen to say in its own language.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub said: Option<Box<Sentence>>,
}

impl ApiError {
    /// In words that only the terminal's language has.
    pub fn new(code: Code, message: impl Into<String>) -> Self {
        Self { code, message: message.into(), field: None, said: None }
    }

    /// In words that every screen has in its language.
    pub(crate) fn said(code: Code, why: impl Into<Sentence>) -> Self {
        let why = why.into();
        Self::new(code, why.to_string()).saying(why)
    }

    /// Says it to the flyer in other words than at a terminal.
    pub(crate) fn saying(self, why: impl Into<Sentence>) -> Self {
        Self { said: Some(why.into().inside()), ..self }
    }

    /// Names the field that is refused.
    pub(crate) fn of(self, field: &str) -> Self {
        Self { message: format!("{field}: {}", self.message), field: Some(field.into()), ..self }
    }
}

impl From<FlightError> for ApiError {
    fn from(error: FlightError) -> Self {
        let message = error.to_string();
        Self { said: error.said, field: Some(error.field), ..Self::new(Code::BadFlight, message) }
    }
}

impl From<LocateError> for ApiError {
    fn from(error: LocateError) -> Self {
        let LocateError { field, why } = error;
        Self::said(Code::BadFlight, *why).of(&field)
    }
}

impl From<LogbookError> for ApiError {
    fn from(error: LogbookError) -> Self {
        let code = match &error {
            LogbookError::NothingToReplace(_)
            | LogbookError::OtherThing { .. }
            | LogbookError::NotLater { .. }
            | LogbookError::NoneThere(_) => Code::BadRequest,
            _ => Code::Storage,
        };
        Self { said: said_of(&error).map(Sentence::inside), ..Self::new(code, error.to_string()) }
    }
}

/// What a flyer can do something about.
fn said_of(error: &LogbookError) -> Option<Sentence> {
    Some(match error {
        LogbookError::Folder { .. } | LogbookError::NotWritable { .. } => Sentence::LogbookReadOnly {},
        LogbookError::Full { .. } => Sentence::LogbookFull {},
        LogbookError::Busy { .. } => Sentence::LogbookBusy {},
        LogbookError::Damaged { backup: Some(_), .. } => Sentence::LogbookDamaged {},
        LogbookError::Damaged { backup: None, .. } => Sentence::LogbookDamagedNoBackup {},
        LogbookError::Newer { .. } => Sentence::LogbookNewer {},
        LogbookError::Backup(_) => Sentence::LogbookNoBackup {},
        _ => return None,
    })
}
