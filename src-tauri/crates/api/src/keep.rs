//! Facts and answers into the logbook.

use crate::{Api, ApiError, Code, clock, locked};
use serde_json::Value;
use windfall_facts::{Answer, Flight};
use windfall_logbook::{Fact, about};

/// Version of the facts as this program writes them.
pub(crate) const VERSION: u32 = 1;
/// Kind of what a flight file says but for its evidence.
pub(crate) const FLIGHT: &str = "flight";
/// Kind of an answer as it was shown.
pub(crate) const ANSWER: &str = "answer";
/// Kind of samples of a track as they come.
const SAMPLES: &str = "samples";

impl Api {
    /// Stores what `flight` says and the logbook does not hold yet; nothing without a logbook.
    ///
    /// One fact for the flight itself, which corrects what was said of it before, and one for each piece of evidence.
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
        let ground = fact(name, FLIGHT, Value::Object(ground));
        let mut facts = Vec::new();
        for mut piece in pieces {
            let kind = match piece.as_object_mut().and_then(|piece| piece.remove("kind")) {
                Some(Value::String(kind)) => kind,
                _ => return Err(ApiError::new(Code::Defect, "a piece of evidence has no kind")),
            };
            facts.push(fact(name, &kind, piece));
        }
        let mut logbook = locked(logbook);
        // Also if it was set aside or taken back: the same words again do not bring it back.
        let before = logbook.words_of(about::FLIGHT, name)?.into_iter().rfind(|it| it.fact.kind == FLIGHT);
        match before {
            None => logbook.add(&ground)?,
            Some(before) if before.fact.json == ground.json => {}
            Some(before) => {
                let id = clock::next_id_after(&before.fact.id);
                logbook.add(&Fact { id, replaces: Some(before.fact.id), ..ground })?;
            }
        }
        logbook.add_missing(&facts)?;
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
        let before = logbook.last_in_force(about::FLIGHT, name, ANSWER)?;
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
    Fact {
        id: clock::next_id(),
        about: about::FLIGHT.into(),
        name: flight.into(),
        kind: kind.into(),
        version: VERSION,
        replaces: None,
        json,
    }
}

fn as_json(thing: &impl serde::Serialize) -> Result<Value, ApiError> {
    // Through text, so that numbers compare as they will when they are read back.
    serde_json::to_string(thing)
        .and_then(|text| serde_json::from_str(&text))
        .map_err(|error| ApiError::new(Code::Defect, error.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Settings;
    use serde_json::json;

    #[test]
    fn the_same_flight_twice_changes_nothing_and_a_changed_one_is_a_correction() {
        let folder = tempfile::tempdir().unwrap();
        let api = Api::new(Settings::default()).with_logbook(folder.path()).unwrap();
        let keep = |title: &str| {
            let file = json!({"format": "windfall-flight/1", "id": "heron", "title": title,
                "pad": {"lat": 47, "lon": 8}, "rocket": {"stages": [{"motor": "C6-5"}]},
                "evidence": [{"kind": "saw", "mode": "opened", "sure": "sure"}]});
            api.keep_facts(&windfall_facts::read_flight(&file.to_string()).unwrap()).unwrap();
            let book = api.open_logbook().unwrap();
            let title =
                book.last_in_force(about::FLIGHT, "heron", FLIGHT).unwrap().unwrap().json["title"].clone();
            (title, book.facts_of(about::FLIGHT, "heron").unwrap().len())
        };
        assert_eq!(keep("one"), (json!("one"), 2));
        assert_eq!(keep("one"), (json!("one"), 2));
        assert_eq!(keep("two"), (json!("two"), 3));
        assert_eq!(keep("one"), (json!("one"), 4));
    }
}
