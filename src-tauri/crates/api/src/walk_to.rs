use crate::{Api, ApiError};
use serde::Deserialize;
use windfall_facts::LatLon;
use windfall_inference::{Walk, walk};

/// A step of the way.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WalkTo {
    /// As [`crate::FlightLine::id`].
    pub id: String,
    /// Where the flyer stands.
    pub from: LatLon,
    /// Radius that holds the flyer, m.
    pub accuracy_m: f64,
    /// Where they are going: an aim or the standing point short of it.
    pub to: LatLon,
    /// Where the way home leads.
    #[serde(default)]
    pub home: Option<LatLon>,
}

impl Api {
    /// How far, which way, and whether a road, a railway, water or a power line is so near that the way ends.
    ///
    /// # Errors
    /// When there is no such flight, or a place is none.
    pub fn walk_to(&self, asked: &WalkTo) -> Result<Walk, ApiError> {
        let flight = self.flight(&asked.id)?;
        Ok(walk(&flight, &self.priors, asked.from, asked.accuracy_m, asked.to, asked.home)?)
    }
}
