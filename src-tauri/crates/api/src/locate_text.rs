use crate::{Api, ApiError, call::guarded};
use chrono::NaiveDate;
use windfall_facts::{Answer, Flight, LatLon, read_flight};

/// How a flight file is to be answered.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LocateText {
    /// Name of the flight if the file has none.
    pub id: Option<String>,
    /// Where the flyer stands; the pad if none.
    pub from: Option<LatLon>,
    /// Landing points to list per part.
    pub samples: Option<usize>,
    /// The day of the search; that of the flight if none.
    pub on: Option<NaiveDate>,
}

/// An answer with the flight it belongs to.
#[derive(Clone, Debug, PartialEq)]
pub struct Located {
    /// What was known.
    pub flight: Flight,
    /// Where it may be.
    pub answer: Answer,
}

impl Api {
    /// Where every part of the flight in `text` may lie.
    ///
    /// # Errors
    /// Names the field that cannot be read or contradicts another.
    pub fn locate_text(&self, text: &str, how: &LocateText) -> Result<Located, ApiError> {
        guarded(|| {
            let mut flight = read_flight(text)?;
            if flight.id.is_none() {
                flight.id.clone_from(&how.id);
            }
            let mut answer = self.locate(&flight, how.from, how.samples, &self.settings)?;
            answer.gone = how.on.and_then(|day| self.gone_by(&flight, day));
            Ok(Located { flight, answer })
        })
    }
}
