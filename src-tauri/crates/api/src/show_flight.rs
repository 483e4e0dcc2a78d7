use crate::{Api, ApiError};
use serde::Deserialize;
use windfall_facts::Flight;

/// Which flight.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShowFlight {
    /// As [`crate::FlightLine::id`].
    pub id: String,
}

impl Api {
    /// What is known of a flight.
    ///
    /// # Errors
    /// When there is no such flight or its file cannot be read.
    pub fn show_flight(&self, asked: &ShowFlight) -> Result<Flight, ApiError> {
        self.flight(&asked.id)
    }
}
