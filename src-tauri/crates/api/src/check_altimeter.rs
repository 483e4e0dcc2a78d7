use crate::{Api, ApiError};
use serde::Deserialize;
use windfall_inference::{HeightCheck, check_height, expected_opening};

/// A height read off an altimeter, before it is noted.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CheckAltimeter {
    /// As [`crate::FlightLine::id`].
    pub id: String,
    /// What it shows, m above the pad.
    pub apogee_m: f64,
}

impl Api {
    /// Holds a reading against what this rocket does on this motor; nothing is kept.
    ///
    /// # Errors
    /// When there is no such flight.
    pub fn check_altimeter(&self, asked: &CheckAltimeter) -> Result<HeightCheck, ApiError> {
        let flight = self.flight(&asked.id)?;
        let expected =
            expected_opening(&flight, &self.priors, &*self.beliefs_about(&flight)?, &self.settings)?;
        Ok(check_height(asked.apogee_m, &expected))
    }
}
