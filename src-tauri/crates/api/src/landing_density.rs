use crate::{Api, ApiError, Code};
use serde::Deserialize;
use windfall_facts::Mode;

/// Which density.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LandingDensity {
    /// As [`crate::FlightLine::id`].
    pub id: String,
    /// Name of the part.
    pub part: String,
    /// If this is how it came down; all ways mixed if null.
    #[serde(default)]
    pub mode: Option<Mode>,
}

impl Api {
    /// The landing density of a part, as the bytes that [`windfall_inference::Density`] describes.
    ///
    /// # Errors
    /// When there is no such flight or part, or no possible flight came down that way.
    pub fn landing_density(&self, asked: &LandingDensity) -> Result<Vec<u8>, ApiError> {
        let mut flight = self.flight(&asked.id)?;
        // As in `locate_flight`, so that its cloud is the one at hand.
        flight.id.get_or_insert_with(|| asked.id.clone());
        let held = self.cloud(&flight, &self.settings)?;
        let density = held.cloud.density(&asked.part, asked.mode).ok_or_else(|| {
            let way =
                asked.mode.map_or_else(String::new, |mode| format!(" that came down as \"{}\"", mode.name()));
            ApiError::new(
                Code::NotFound,
                format!("no part \"{}\"{way} in flight \"{}\"", asked.part, asked.id),
            )
        })?;
        Ok(density.bytes)
    }
}
