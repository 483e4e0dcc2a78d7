use crate::{Api, ApiError};
use serde::Deserialize;
use serde_json::Value;
use windfall_facts::read_flight;
use windfall_inference::{Opening, expected_opening};

/// Of which flight.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ExpectedOpening {
    /// As the flight file has it.
    pub flight: Value,
}

impl Api {
    /// When the recovery device should be open; nothing is kept.
    ///
    /// # Errors
    /// Names the field that cannot be read.
    pub fn expected_opening(&self, asked: &ExpectedOpening) -> Result<Opening, ApiError> {
        let flight = read_flight(&asked.flight.to_string())?;
        Ok(expected_opening(&flight, &self.priors, &*self.beliefs_about(&flight)?, &self.settings)?)
    }
}
