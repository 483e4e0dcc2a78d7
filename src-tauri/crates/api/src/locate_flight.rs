use crate::{Api, ApiError, Code, clock, rough};
use serde::Deserialize;
use windfall_facts::{Answer, Flight, LatLon, Sentence};
use windfall_inference::Settings;
use windfall_quantities::Position;

/// Most landing points that an answer lists.
const MOST_SAMPLES: usize = 100_000;

/// Which flight, seen from where.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LocateFlight {
    /// As [`crate::FlightLine::id`].
    pub id: String,
    /// Where the flyer stands; the pad if null.
    #[serde(default)]
    pub from: Option<LatLon>,
    /// Landing points to list per part.
    #[serde(default)]
    pub samples: Option<usize>,
}

impl Api {
    /// Where every part of a flight of the day may lie.
    ///
    /// # Errors
    /// When there is no such flight, or it contradicts itself.
    pub fn locate_flight(&self, asked: &LocateFlight) -> Result<Answer, ApiError> {
        let mut flight = self.flight(&asked.id)?;
        flight.id.get_or_insert_with(|| asked.id.clone());
        self.locate_today(&flight, asked.from, asked.samples)
    }

    /// Facts stored, cloud made, answer read off, answer stored: in this order.
    pub(crate) fn locate(
        &self,
        flight: &Flight,
        from: Option<LatLon>,
        samples: Option<usize>,
        settings: &Settings,
    ) -> Result<Answer, ApiError> {
        if let Some(LatLon { lat, lon }) = from {
            Position::new(lat, lon).map_err(|error| ApiError::said(Code::BadRequest, error).of("from"))?;
        }
        if samples.is_some_and(|samples| samples > MOST_SAMPLES) {
            let message = format!("samples: at most {MOST_SAMPLES} are allowed");
            return Err(ApiError::new(Code::BadRequest, message));
        }
        self.keep_facts(flight)?;
        let held = self.cloud(flight, settings)?;
        let (mut answer, read_in_ms) = clock::timed(|| held.cloud.answer(from, samples));
        answer.elapsed_ms = held.made_in_ms + read_in_ms;
        rough::tell(flight, &mut answer);
        self.keep_answer(flight, &answer)?;
        if let Some(wrong) = self.daily_look_found() {
            let said = wrong.said.map_or(Sentence::Untold { words: wrong.message.clone() }, |it| *it);
            answer.warn(wrong.message, said);
        }
        Ok(answer)
    }
}
