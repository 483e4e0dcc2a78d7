use crate::{Api, ApiError, Code};
use serde::Deserialize;
use serde_json::Value;
use windfall_facts::{Answer, Evidence, LatLon};

/// Something more that is known of a flight.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AddEvidence {
    /// As [`crate::FlightLine::id`].
    pub id: String,
    /// Pieces as the flight file has them.
    pub evidence: Vec<Value>,
    /// Where the flyer stands; the pad if null.
    #[serde(default)]
    pub from: Option<LatLon>,
}

impl Api {
    /// Adds a sighting, a word, a find or the like to a flight, and says where every part may lie now. A piece under the
    /// identifier of one that is there takes its place.
    ///
    /// # Errors
    /// When there is no such flight, or the piece cannot be read or contradicts the rest.
    pub fn add_evidence(&self, asked: &AddEvidence) -> Result<Answer, ApiError> {
        let unreadable =
            |error: serde_json::Error| ApiError::new(Code::BadFlight, format!("evidence: {error}"));
        let pieces: Vec<Evidence> = asked
            .evidence
            .iter()
            .map(|piece| serde_json::from_value(piece.clone()).map_err(unreadable))
            .collect::<Result<_, _>>()?;
        let flight = self.retell(&asked.id, |flight| {
            for piece in pieces {
                let same = |it: &&mut Evidence| piece.id().is_some() && it.id() == piece.id();
                match flight.evidence.iter_mut().find(same) {
                    Some(known) => *known = piece,
                    None => flight.evidence.push(piece),
                }
            }
        })?;
        self.locate_today(&flight, asked.from, None)
    }
}
