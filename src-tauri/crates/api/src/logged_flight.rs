//! A flight put together from what counts of it in the logbook.

use crate::{Api, ApiError, Code, keep};
use serde_json::Value;
use windfall_facts::{Flight, read_flight};
use windfall_logbook::{Logbook, about};

/// Kinds of facts about a flight that are pieces of evidence.
pub(crate) const EVIDENCE: [&str; 8] =
    ["sighting", "track", "altimeter", "find", "saw", "area", "sweep", "beacon"];

/// A flight as the logbook has it, and which facts it was read from.
pub(crate) struct Logged {
    pub(crate) flight: Flight,
    pub(crate) read: String,
}

impl Api {
    /// The flight as the logbook has it.
    ///
    /// # Errors
    /// When no logbook is open, it holds no such flight, or what counts of it cannot be read as a flight.
    pub fn logged_flight(&self, name: &str) -> Result<Flight, ApiError> {
        let logged = logged(&*self.open_logbook()?, name)?;
        logged
            .map(|it| it.flight)
            .ok_or_else(|| ApiError::new(Code::NotFound, format!("no flight \"{name}\" in this logbook")))
    }
}

/// None if what was said of the flight itself was taken back or set aside.
pub(crate) fn logged(book: &Logbook, name: &str) -> Result<Option<Logged>, ApiError> {
    let mut words = book.words_of(about::FLIGHT, name)?;
    words.retain(windfall_logbook::Word::counts);
    let Some(ground) = words.iter().rfind(|word| word.fact.kind == keep::FLIGHT) else { return Ok(None) };
    let mut flight = ground.fact.json.clone();
    let mut read = ground.fact.id.clone();
    let mut evidence = Vec::new();
    for word in words.iter().filter(|word| EVIDENCE.contains(&&*word.fact.kind)) {
        let mut piece = word.fact.json.clone();
        piece["kind"] = word.fact.kind.clone().into();
        evidence.push(piece);
        read = read + " " + &word.fact.id;
    }
    flight["id"] = name.into();
    flight["evidence"] = Value::Array(evidence);
    Ok(Some(Logged { flight: read_flight(&flight.to_string())?, read }))
}
