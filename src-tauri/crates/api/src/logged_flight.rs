//! A flight put together from what counts of it in the logbook.

use crate::wordings::identity;
use crate::{Api, ApiError, Code, keep};
use windfall_facts::{Flight, Sentence, read_flight};
use windfall_inference::MODEL_VERSION;
use windfall_logbook::{Logbook, Word, about};

/// Kinds of facts about a flight that are pieces of evidence.
pub(crate) const EVIDENCE: [&str; 8] =
    ["sighting", "track", "altimeter", "find", "saw", "area", "sweep", "beacon"];

/// A flight as the logbook has it, and which facts it was read from.
pub(crate) struct Logged {
    pub(crate) flight: Flight,
    pub(crate) read: String,
    /// What each piece of evidence is known by, in the same order.
    identities: Vec<String>,
}

impl Logged {
    /// The flight with an identifier for every piece, so that it can be corrected elsewhere and come back.
    pub(crate) fn identified(self) -> Flight {
        let Self { mut flight, identities, .. } = self;
        let pieces = std::mem::take(&mut flight.evidence).into_iter().zip(identities);
        flight.evidence = pieces.map(|(piece, id)| piece.called(Some(id))).collect();
        flight
    }
}

impl Api {
    /// The flight as the logbook has it.
    ///
    /// # Errors
    /// When no logbook is open, it holds no such flight, or what counts of it cannot be read as a flight.
    pub fn logged_flight(&self, name: &str) -> Result<Flight, ApiError> {
        Ok(self.logged(name)?.flight)
    }

    pub(crate) fn logged(&self, name: &str) -> Result<Logged, ApiError> {
        let logged = logged(&*self.open_logbook()?, name)?;
        logged.ok_or_else(|| {
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
///
/// A piece that was told to two logbooks under one identifier is one, in the wording noted last.
pub(crate) fn logged(book: &Logbook, name: &str) -> Result<Option<Logged>, ApiError> {
    let mut words = book.words_of(about::FLIGHT, name)?;
    words.retain(windfall_logbook::Word::counts);
    let facts: Vec<(String, String)> =
        words.iter().map(|word| (word.fact.kind.clone(), word.fact.id.clone())).collect();
    let Some(ground) = words.iter().rfind(|word| word.fact.kind == keep::FLIGHT) else { return Ok(None) };
    let mut flight = ground.fact.json.clone();
    let mut pieces: Vec<&Word> = Vec::new();
    for word in words.iter().filter(|word| EVIDENCE.contains(&&*word.fact.kind)) {
        match pieces.iter_mut().find(|it| identity(it) == identity(word)) {
            Some(known) if known.fact.id < word.fact.id => *known = word,
            Some(_) => {}
            None => pieces.push(word),
        }
    }
    let evidence = pieces.iter().map(|word| {
        let mut piece = word.fact.json.clone();
        piece["kind"] = word.fact.kind.clone().into();
        piece
    });
    flight["id"] = name.into();
    flight["evidence"] = evidence.collect();
    let read = read(&facts).unwrap_or_default();
    let identities = pieces.into_iter().map(|word| identity(word).to_owned()).collect();
    Ok(Some(Logged { flight: read_flight(&flight.to_string())?, read, identities }))
}
