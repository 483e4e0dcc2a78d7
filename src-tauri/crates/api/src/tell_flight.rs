use crate::{Api, ApiError, Code};
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// A flight that somebody tells.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TellFlight {
    /// As the flight file has it; without an `id` it gets one.
    pub flight: Value,
}

/// By which the other calls know a flight.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Told {
    /// Identifier.
    pub id: String,
}

impl Api {
    /// Keeps a flight that is told, and computes nothing: there is no time while it is in the air.
    ///
    /// # Errors
    /// Names the field that cannot be read or contradicts another.
    pub fn tell_flight(&self, asked: &TellFlight) -> Result<Told, ApiError> {
        let flight = self.tell(&asked.flight)?;
        let id = flight.id.ok_or_else(|| ApiError::new(Code::Defect, "a told flight has no identifier"))?;
        Ok(Told { id })
    }
}
