//! Facts and answers into the logbook.

use crate::close_flight::SEARCH;
use crate::logged_flight::EVIDENCE;
use crate::wordings::{Wording, sorted_out};
use crate::{Api, ApiError, Code, clock};
use serde_json::Value;
use windfall_facts::{Answer, Flight};
use windfall_logbook::{Fact, Word, about};

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
    /// One fact for the flight itself and one for each piece of evidence; each corrects what was said of the same before.
    /// What the flight does not say stays as it is: it may have been noted elsewhere.
    pub(crate) fn keep_facts(&self, flight: &Flight) -> Result<(), ApiError> {
        let Some(mut logbook) = self.logbook_if_open() else { return Ok(()) };
        let name = name_of(flight)?;
        let Value::Object(mut ground) = as_json(flight)? else {
            return Err(ApiError::new(Code::Defect, "a flight is not a JSON object"));
        };
        let pieces = match ground.remove("evidence") {
            Some(Value::Array(pieces)) => pieces,
            _ => Vec::new(),
        };
        let ground = Value::Object(ground);
        let (noted, grounds): (Vec<_>, Vec<_>) = logbook
            .words_of(about::FLIGHT, name)?
            .into_iter()
            .filter(|word| word.fact.kind == FLIGHT || EVIDENCE.contains(&&*word.fact.kind))
            .partition(|word| word.fact.kind != FLIGHT);
        let mut facts = Vec::new();
        let mut say = |kind: &str, json: Value, replaces: Option<String>| {
            let id = replaces.as_deref().map_or_else(clock::next_id, clock::next_id_after);
            facts.push(Fact { id, replaces, ..fact(name, kind, json) });
        };
        // Also if it was set aside or taken back: the same words again do not bring it back.
        match grounds.last() {
            Some(before) if before.fact.json == ground => {}
            before => say(FLIGHT, ground, before.map(|it| it.fact.id.clone())),
        }
        for (mut piece, wording) in pieces.into_iter().zip(sorted_out(&flight.evidence, &noted)) {
            let kind = match piece.as_object_mut().and_then(|piece| piece.remove("kind")) {
                Some(Value::String(kind)) => kind,
                _ => return Err(ApiError::new(Code::Defect, "a piece of evidence has no kind")),
            };
            match wording {
                Wording::Known => {}
                Wording::Corrects(earlier) => say(&kind, piece, Some(earlier)),
                Wording::New => say(&kind, piece, None),
            }
        }
        if !facts.is_empty() {
            logbook.add_all(&facts)?;
        }
        Ok(())
    }

    /// Stores samples of a track that is still being held. Once the flight is answered the whole track is a fact too.
    pub(crate) fn keep_samples(&self, flight: &str, piece: &impl serde::Serialize) -> Result<(), ApiError> {
        let Some(mut logbook) = self.logbook_if_open() else { return Ok(()) };
        logbook.add(&fact(flight, SAMPLES, as_json(piece)?))?;
        Ok(())
    }

    /// Stores `answer` as last shown, if it differs from the one shown before it. Whoever asks where a rocket lies that flew
    /// looks for it: what was not found is searched for from then on.
    pub(crate) fn keep_answer(&self, flight: &Flight, answer: &Answer) -> Result<(), ApiError> {
        let Some(mut logbook) = self.logbook_if_open() else { return Ok(()) };
        let name = name_of(flight)?;
        let mut shown = answer.clone();
        shown.elapsed_ms = 0.0; // how long it took is no part of what was said
        for part in &mut shown.parts {
            part.samples = None;
        }
        let shown = fact(name, ANSWER, as_json(&shown)?);
        let before = logbook.last_in_force(about::FLIGHT, name, ANSWER)?;
        if before.is_none_or(|before| before.json != shown.json) {
            let mut facts = vec![shown];
            let flew = flight.launch.at.is_some() || !flight.evidence.is_empty();
            let searches = logbook.words_of(about::FLIGHT, name)?;
            let is_known = |part: &str| {
                let of_it = |word: &Word| match &*word.fact.kind {
                    SEARCH => word.fact.json["part"] == part,
                    "find" => word.counts() && word.fact.json["part"] == part,
                    _ => false,
                };
                searches.iter().any(of_it)
            };
            for part in answer.parts.iter().map(|it| &*it.part).filter(|part| flew && !is_known(part)) {
                facts.push(fact(name, SEARCH, serde_json::json!({"part": part, "open": true})));
            }
            logbook.add_all(&facts)?;
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
    /// Identifiers and JSON of what counts of one kind.
    fn counting(api: &Api, kind: &str) -> Vec<(String, Value)> {
        let facts = api.open_logbook().unwrap().in_force(about::FLIGHT, "heron", kind).unwrap();
        facts.into_iter().map(|it| (it.id, it.json)).collect()
    }

    fn keep(api: &Api, evidence: &Value) {
        let file = json!({"format": "windfall-flight/1", "id": "heron", "pad": {"lat": 47, "lon": 8},
            "rocket": {"stages": [{"motor": "C6-5"}]}, "evidence": evidence});
        api.keep_facts(&windfall_facts::read_flight(&file.to_string()).unwrap()).unwrap();
    }

    #[test]
    fn after_an_edit_exactly_one_wording_counts_and_undo_restores_the_first() {
        let folder = tempfile::tempdir().unwrap();
        let api = Api::new(Settings::default()).with_logbook(folder.path()).unwrap();
        let lost = |degrees: f64| json!({"kind": "sighting", "moment": "lost", "bearing_deg": degrees});
        let apogee = json!({"kind": "sighting", "moment": "apogee", "bearing_deg": 50});
        keep(&api, &json!([lost(71.0), apogee]));
        keep(&api, &json!([apogee, lost(17.0)]));
        let degrees = || -> Vec<f64> {
            counting(&api, "sighting").iter().filter_map(|it| it.1["bearing_deg"].as_f64()).collect()
        };
        assert_eq!(degrees(), [50.0, 17.0]);
        let logged = api.logged_flight("heron").unwrap();
        assert_eq!(logged.evidence.len(), 2, "what lessons are drawn from");
        // The edit is taken back, and telling the flight again does not bring it back.
        let edit = counting(&api, "sighting").pop().unwrap().0;
        api.undo(&crate::Undo { id: edit }).unwrap();
        assert_eq!(degrees(), [71.0, 50.0]);
        keep(&api, &json!([apogee, lost(17.0)]));
        assert_eq!(degrees(), [71.0, 50.0]);
        // Edited again, to something else and back to the first wording.
        keep(&api, &json!([apogee, lost(18.0)]));
        assert_eq!(degrees(), [50.0, 18.0]);
        keep(&api, &json!([apogee, lost(71.0)]));
        assert_eq!(degrees(), [50.0, 71.0]);
    }

    #[test]
    fn two_equal_sightings_are_two_and_the_same_again_adds_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let api = Api::new(Settings::default()).with_logbook(folder.path()).unwrap();
        let lost = |degrees: f64| json!({"kind": "sighting", "moment": "lost", "bearing_deg": degrees});
        for (evidence, count) in [
            (json!([lost(71.0), lost(71.0)]), 2),
            (json!([lost(71.0), lost(71.0)]), 2),
            (json!([lost(71.0)]), 2), // the other is not taken back by not being said again
            (json!([lost(71.0), lost(71.0), lost(72.0)]), 3),
        ] {
            keep(&api, &evidence);
            assert_eq!(counting(&api, "sighting").len(), count, "{evidence}");
        }
    }

    #[test]
    fn a_find_told_in_more_words_and_a_track_that_went_on_are_corrections() {
        let folder = tempfile::tempdir().unwrap();
        let api = Api::new(Settings::default()).with_logbook(folder.path()).unwrap();
        let find = json!({"kind": "find", "part": "rocket", "at": {"lat": 47.001, "lon": 8.001}});
        let mut told = find.clone();
        told["condition"] = "fin broken off".into();
        let track = |samples: Value| json!({"kind": "track", "north": "true", "samples": samples});
        let short = track(json!([[1, 90, 20], [2, 91, 22]]));
        let long = track(json!([[1, 90, 20], [2, 91, 22], [3, 92, 24]]));
        let other = track(json!([[9, 92, 24], [10, 92, 20]]));
        keep(&api, &json!([find, short]));
        keep(&api, &json!([told, long, other]));
        assert_eq!(counting(&api, "find").len(), 1);
        assert_eq!(counting(&api, "find")[0].1["condition"], "fin broken off");
        let tracks = counting(&api, "track");
        assert_eq!(tracks.len(), 2);
        assert_eq!(tracks[0].1["samples"].as_array().map(Vec::len), Some(3));
        let flight = api.logged_flight("heron").unwrap();
        assert_eq!(flight.evidence.len(), 3);
    }

    #[test]
    fn a_sighting_whose_observer_moment_or_place_was_wrong_is_corrected() {
        let folder = tempfile::tempdir().unwrap();
        let api = Api::new(Settings::default()).with_logbook(folder.path()).unwrap();
        let other = json!({"kind": "sighting", "moment": "apogee", "bearing_deg": 50, "observer": "Ben"});
        let mut lost = json!({"kind": "sighting", "moment": "lost", "bearing_deg": 71, "observer": "Ann"});
        keep(&api, &json!([lost, other]));
        for (key, value) in [
            ("observer", json!("Wren")),
            ("moment", json!("descent")),
            ("from", json!({"lat": 47.001, "lon": 8.001})),
            ("part", json!("rocket")),
            ("t_s", json!(31.5)),
        ] {
            lost[key] = value.clone();
            // Wherever it stands in the list.
            keep(&api, &json!([other, lost]));
            let sightings = counting(&api, "sighting");
            assert_eq!(sightings.len(), 2, "{key}: {sightings:?}");
            assert!(sightings.iter().any(|it| it.1[key] == value), "{key}: {sightings:?}");
        }
        // What another witness says is another piece, and nothing of the first is replaced.
        keep(
            &api,
            &json!([other, lost, {"kind": "sighting", "moment": "lost", "bearing_deg": 80, "observer": "Cleo"}]),
        );
        assert_eq!(counting(&api, "sighting").len(), 3);
        assert_eq!(api.logged_flight("heron").unwrap().evidence.len(), 3);
    }

    #[test]
    fn ground_that_was_searched_or_ruled_out_is_not_replaced_by_other_ground() {
        let folder = tempfile::tempdir().unwrap();
        let api = Api::new(Settings::default()).with_logbook(folder.path()).unwrap();
        let area = |lon: f64| {
            let ring = [[lon, 47.0], [lon + 0.01, 47.0], [lon, 47.01], [lon, 47.0]];
            json!({"kind": "area", "geometry": {"type": "Polygon", "coordinates": [ring]}, "inside": false, "confidence": 0.9})
        };
        let deaf = |lat: f64| json!({"kind": "beacon", "heard": false, "from": {"lat": lat, "lon": 8}});
        keep(&api, &json!([area(8.0), deaf(47.0)]));
        keep(&api, &json!([area(8.1), deaf(47.1)]));
        assert_eq!((counting(&api, "area").len(), counting(&api, "beacon").len()), (2, 2));
    }

    #[test]
    fn a_piece_under_its_identifier_is_corrected_whatever_changes_and_twice_is_once() {
        let folder = tempfile::tempdir().unwrap();
        let api = Api::new(Settings::default()).with_logbook(folder.path()).unwrap();
        let look = |id: &str, moment: &str, degrees: f64, observer: &str| {
            json!({"kind": "sighting", "id": id,
            "moment": moment, "bearing_deg": degrees, "observer": observer})
        };
        keep(&api, &json!([look("1", "lost", 71.0, "Ann"), look("2", "lost", 71.0, "Ann")]));
        assert_eq!(counting(&api, "sighting").len(), 2, "two under two identifiers");
        for _ in 0..2 {
            keep(&api, &json!([look("2", "apogee", 17.0, "Ben"), look("1", "lost", 71.0, "Ann")]));
            let words = api.open_logbook().unwrap().words_of(about::FLIGHT, "heron").unwrap();
            let looks: Vec<_> = words.iter().filter(|it| it.fact.kind == "sighting").collect();
            assert_eq!(looks.iter().map(|it| it.history.len()).collect::<Vec<_>>(), [0, 1]);
            assert_eq!(
                (&looks[1].fact.json["moment"], &looks[1].fact.json["id"]),
                (&json!("apogee"), &json!("2"))
            );
        }
        // Taken back, it does not come back with the same words.
        let edit = counting(&api, "sighting").into_iter().find(|it| it.1["id"] == "2").unwrap().0;
        api.undo(&crate::Undo { id: edit }).unwrap();
        keep(&api, &json!([look("2", "apogee", 17.0, "Ben")]));
        let two = counting(&api, "sighting").into_iter().find(|it| it.1["id"] == "2").unwrap();
        assert_eq!(two.1["bearing_deg"], 71.0);
        // A piece under an identifier can turn out to be something else altogether.
        keep(&api, &json!([{"kind": "saw", "id": "2", "mode": "opened", "sure": "sure"}]));
        assert_eq!((counting(&api, "sighting").len(), counting(&api, "saw").len()), (1, 1));
    }

    #[test]
    fn what_was_set_aside_stays_so_when_it_is_edited() {
        let folder = tempfile::tempdir().unwrap();
        let api = Api::new(Settings::default()).with_logbook(folder.path()).unwrap();
        let saw = |mode: &str| json!([{"kind": "saw", "mode": mode, "sure": "sure"}]);
        keep(&api, &saw("opened"));
        let id = counting(&api, "saw")[0].0.clone();
        api.set_aside(&crate::SetAside { id, why: None }).unwrap();
        keep(&api, &saw("tangled"));
        assert_eq!(counting(&api, "saw"), []);
        assert_eq!(api.open_logbook().unwrap().words_of(about::FLIGHT, "heron").unwrap().len(), 2);
    }
}
