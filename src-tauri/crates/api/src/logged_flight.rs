//! A flight put together from what counts of it in the logbook.

use crate::{Api, ApiError, Code, keep};
use serde_json::Value;
use windfall_facts::{Flight, Sentence, read_flight};
use windfall_inference::MODEL_VERSION;
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
        logged.map(|it| it.flight).ok_or_else(|| {
            ApiError::said(Code::NotFound, Sentence::NoFlightInLogbook { flight: name.into() })
        })
    }
}

/// Which facts a flight is read from, and by which model; none if there is no flight or no evidence among those that count,
/// each given by kind and identifier.
pub(crate) fn read(facts: &[(String, String)]) -> Option<String> {
    let ground = facts.iter().rfind(|fact| fact.0 == keep::FLIGHT)?;
    let evidence: Vec<&str> =
        facts.iter().filter(|fact| EVIDENCE.contains(&&*fact.0)).map(|fact| &*fact.1).collect();
    (!evidence.is_empty()).then(|| format!("{MODEL_VERSION} {} {}", ground.1, evidence.join(" ")))
}

/// None if what was said of the flight itself was taken back or set aside.
pub(crate) fn logged(book: &Logbook, name: &str) -> Result<Option<Logged>, ApiError> {
    let mut words = book.words_of(about::FLIGHT, name)?;
    words.retain(windfall_logbook::Word::counts);
    let facts: Vec<(String, String)> =
        words.iter().map(|word| (word.fact.kind.clone(), word.fact.id.clone())).collect();
    let Some(ground) = words.iter().rfind(|word| word.fact.kind == keep::FLIGHT) else { return Ok(None) };
    let mut flight = ground.fact.json.clone();
    let mut evidence = Vec::new();
    for word in words.iter().filter(|word| EVIDENCE.contains(&&*word.fact.kind)) {
        let mut piece = word.fact.json.clone();
        piece["kind"] = word.fact.kind.clone().into();
        evidence.push(piece);
    }
    flight["id"] = name.into();
    flight["evidence"] = Value::Array(evidence);
    let read = read(&facts).unwrap_or_default();
    Ok(Some(Logged { flight: read_flight(&flight.to_string())?, read }))
}
