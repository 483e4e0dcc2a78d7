//! The flight file: a flight, whole.

use super::{ExchangeError, Format, Mark};
use serde::de::IgnoredAny;
use windfall_facts::{Flight, read_flight};

/// A flight as its own file.
///
/// # Errors
/// None that is known of; serde could refuse.
pub fn write(flight: &Flight) -> Result<String, ExchangeError> {
    let mut text = serde_json::to_string_pretty(flight)
        .map_err(|error| ExchangeError::cannot_hold(Format::FlightFile, error.to_string()))?;
    text.push('\n');
    Ok(text)
}

/// The flight in a file.
///
/// # Errors
/// Names the line and the field of the first thing that is not as the format says.
pub fn read(text: &str) -> Result<Flight, ExchangeError> {
    if let Err(error) = serde_json::from_str::<IgnoredAny>(text) {
        return Err(grammar(Format::FlightFile, &error));
    }
    read_flight(text).map_err(|error| ExchangeError::of_flight(Format::FlightFile, text, &error))
}

/// A text that is no JSON.
pub(super) fn grammar(format: Format, error: &serde_json::Error) -> ExchangeError {
    let mark = Mark { line: error.line().max(1), column: Some(error.column()) };
    let said = error.to_string();
    let message = said.split(" at line ").next().unwrap_or(&said).to_owned();
    ExchangeError::Unreadable { format, mark, message }
}
