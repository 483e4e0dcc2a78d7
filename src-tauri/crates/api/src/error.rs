use serde::Serialize;
use windfall_facts::FlightError;
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
}

impl ApiError {
    pub(crate) fn new(code: Code, message: impl Into<String>) -> Self {
        Self { code, message: message.into() }
    }
}

impl From<FlightError> for ApiError {
    fn from(error: FlightError) -> Self {
        Self::new(Code::BadFlight, error.to_string())
    }
}

impl From<LocateError> for ApiError {
    fn from(error: LocateError) -> Self {
        Self::new(Code::BadFlight, error.to_string())
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
        Self::new(code, error.to_string())
    }
}
