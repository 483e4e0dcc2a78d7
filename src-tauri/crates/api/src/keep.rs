//! Facts and answers into the logbook.

use crate::{Api, ApiError, Code, clock, locked};
use serde_json::Value;
use windfall_facts::{Answer, Flight};
use windfall_logbook::Fact;

/// Version of the facts as this program writes them.
const VERSION: u32 = 1;
const ANSWER: &str = "answer";
const SAMPLES: &str = "track_samples";

impl Api {
    /// Stores what `flight` says and the logbook does not hold yet; nothing without a logbook.
    ///
    /// One fact for the flight itself, one for each piece of evidence.
    pub(crate) fn keep_facts(&self, flight: &Flight) -> Result<(), ApiError> {
        let Some(logbook) = &self.logbook else { return Ok(()) };
        let name = name_of(flight)?;
        let Value::Object(mut ground) = as_json(flight)? else {
            return Err(ApiError::new(Code::Defect, "a flight is not a JSON object"));
        };
        let pieces = match ground.remove("evidence") {
            Some(Value::Array(pieces)) => pieces,
            _ => Vec::new(),
        };
        let mut facts = vec![fact(name, "flight", Value::Object(ground))];
        for mut piece in pieces {
            let kind = match piece.as_object_mut().and_then(|piece| piece.remove("kind")) {
                Some(Value::String(kind)) => kind,
                _ => return Err(ApiError::new(Code::Defect, "a piece of evidence has no kind")),
            };
            facts.push(fact(name, &kind, piece));
        }
        locked(logbook).add_missing(&facts)?;
        Ok(())
    }

    /// Stores samples of a track that is still being held. Once the flight is answered the whole track is a fact too.
    pub(crate) fn keep_samples(&self, flight: &str, piece: &impl serde::Serialize) -> Result<(), ApiError> {
        let Some(logbook) = &self.logbook else { return Ok(()) };
        locked(logbook).add(&fact(flight, SAMPLES, as_json(piece)?))?;
        Ok(())
    }

    /// Stores `answer` as last shown, if it differs from the one shown before it.
    pub(crate) fn keep_answer(&self, flight: &Flight, answer: &Answer) -> Result<(), ApiError> {
        let Some(logbook) = &self.logbook else { return Ok(()) };
        let name = name_of(flight)?;
        let mut shown = answer.clone();
        shown.elapsed_ms = 0.0; // how long it took is no part of what was said
        for part in &mut shown.parts {
            part.samples = None;
        }
        let shown = fact(name, ANSWER, as_json(&shown)?);
        let mut logbook = locked(logbook);
        let before = logbook.facts_of(name)?.into_iter().rfind(|fact| fact.kind == ANSWER);
        if before.is_none_or(|before| before.json != shown.json) {
            logbook.add(&shown)?;
        }
        Ok(())
    }
}

fn name_of(flight: &Flight) -> Result<&str, ApiError> {
    flight
        .id
        .as_deref()
        .ok_or_else(|| ApiError::new(Code::BadFlight, "id: needed to keep the flight in a logbook; any text"))
}

fn fact(flight: &str, kind: &str, json: Value) -> Fact {
    Fact { id: clock::next_id(), flight: flight.into(), kind: kind.into(), version: VERSION, json }
}

fn as_json(thing: &impl serde::Serialize) -> Result<Value, ApiError> {
    // Through text, so that numbers compare as they will when they are read back.
    serde_json::to_string(thing)
        .and_then(|text| serde_json::from_str(&text))
        .map_err(|error| ApiError::new(Code::Defect, error.to_string()))
}
