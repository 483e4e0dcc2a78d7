use crate::{Api, ApiError, Code, call::guarded};
use serde::{Deserialize, Serialize};
use serde_json::json;
use windfall_facts::SawMode;
use windfall_logbook::{Fact, Word, about};

/// How a flight ended, and which of its parts nobody looks for any more.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CloseFlight {
    /// As [`crate::FlightLine::id`].
    pub id: String,
    /// How it came down, as it turned out.
    #[serde(default)]
    pub how: Option<SawMode>,
    /// Why, in words.
    #[serde(default)]
    pub cause: Option<String>,
    /// Parts that are given up.
    #[serde(default)]
    pub given_up: Vec<String>,
    /// Why these are given up, in words.
    #[serde(default)]
    pub note: Option<String>,
}

/// A part that is looked for again.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SearchAgain {
    /// As [`crate::FlightLine::id`].
    pub id: String,
    /// Which part.
    pub part: String,
}

/// How the search for a part stands that nobody found.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Search {
    /// Which part.
    pub part: String,
    /// Whether it goes on; given up if not.
    pub open: bool,
    /// Why it was given up.
    #[serde(default)]
    pub note: Option<String>,
}

/// What is still looked for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Closed {
    /// Parts of the flight whose search goes on.
    pub searched: Vec<String>,
    /// Whether a logbook keeps it; without one nothing is noted.
    pub kept: bool,
}

impl Api {
    /// Notes how a flight ended. A part that is given up can be found all the same, and searched for again.
    ///
    /// # Errors
    /// When there is no such flight, no such part in it, or the logbook cannot be written.
    pub fn close_flight(&self, asked: &CloseFlight) -> Result<Closed, ApiError> {
        guarded(|| {
            let flight = self.flight(&asked.id)?;
            for part in &asked.given_up {
                if flight.part_index_for(Some(part)).is_none() {
                    return Err(ApiError::new(Code::BadRequest, format!("given_up: no part \"{part}\"")));
                }
            }
            if !self.has_logbook() {
                return Ok(Closed { searched: Vec::new(), kept: false });
            }
            if asked.how.is_some() || asked.cause.is_some() {
                let said = json!({"how": asked.how, "cause": asked.cause});
                self.note_now(about::FLIGHT, &asked.id, "outcome", &said)?;
            }
            for part in &asked.given_up {
                let ended = Search { part: part.clone(), open: false, note: asked.note.clone() };
                self.note(about::FLIGHT, &asked.id, SEARCH, &ended)?;
            }
            self.closed(&asked.id)
        })
    }

    /// Goes on looking for a part that was given up.
    ///
    /// # Errors
    /// When nobody looks for such a part of the flight, or the logbook cannot be written.
    pub fn search_again(&self, asked: &SearchAgain) -> Result<Closed, ApiError> {
        guarded(|| {
            let words = self.open_logbook()?.words_of(about::FLIGHT, &asked.id)?;
            let Some(search) = searched(&words).into_iter().find(|it| it.part == asked.part) else {
                let message = format!("part: \"{}\" was not searched for, or is found", asked.part);
                return Err(ApiError::new(Code::BadRequest, message));
            };
            if !search.open {
                let again = Search { open: true, note: None, ..search };
                self.note(about::FLIGHT, &asked.id, SEARCH, &again)?;
            }
            self.closed(&asked.id)
        })
    }

    fn closed(&self, flight: &str) -> Result<Closed, ApiError> {
        let open = self.open_logbook()?.open_searches()?;
        let searched = open.into_iter().filter(|it| it.0 == flight).map(|it| it.1).collect();
        Ok(Closed { searched, kept: true })
    }
}

/// How the search for each part stands that somebody looked for and nobody found, by all that was said of the flight.
pub(crate) fn searched(words: &[Word]) -> Vec<Search> {
    let mut counting: Vec<&Fact> = words.iter().filter(|it| it.counts()).map(|it| &it.fact).collect();
    // Of several about one part the one noted last counts.
    counting.sort_by(|a, b| a.id.cmp(&b.id));
    let mut searches: Vec<Search> = Vec::new();
    for fact in counting.iter().filter(|fact| fact.kind == SEARCH) {
        if let Ok(search) = serde_json::from_value::<Search>(fact.json.clone()) {
            searches.retain(|it| it.part != search.part);
            searches.push(search);
        }
    }
    let is_found = |part: &str| {
        counting.iter().any(|it| it.kind == "find" && it.json["part"] == part && it.json["set_aside"] != true)
    };
    searches.retain(|it| !is_found(&it.part));
    searches
}

/// Kind of the fact that a part is searched for, or no longer.
pub(crate) const SEARCH: &str = "search";

#[cfg(test)]
mod tests {
    use crate::ListLog;
    use crate::call::tests::{called, with_logbook};
    use serde_json::json;

    #[test]
    fn a_search_is_open_from_the_first_answer_until_the_part_is_found_or_given_up() {
        let (_folder, api) = with_logbook();
        let flight = json!({"format": "windfall-flight/1", "id": "f", "pad": {"lat": 47.5, "lon": 17.3},
            "launch": {"at": "2026-05-16T10:00:00+02:00"}, "rocket": {"stages": [{"motor": "C6-5", "splits_into": [
                {"name": "upper", "carries_recovery": true}, {"name": "lower", "carries_motor": true}]}]}});
        let row = || api.list_log(&ListLog::default()).unwrap().swap_remove(0);
        called(&api, "tell_flight", json!({"flight": flight}));
        assert_eq!(row().searched, [""; 0], "nobody asked yet");
        called(&api, "answer_flight", json!({"flight": flight}));
        assert_eq!(row().searched, ["upper", "lower"]);
        let find = json!({"id": "f", "part": "lower", "at": {"lat": 47.501, "lon": 17.3}, "only_part": true});
        called(&api, "record_find", find);
        assert_eq!(row().searched, ["upper"]);
        let closed = called(
            &api,
            "close_flight",
            json!({"id": "f", "how": "came_apart", "cause": "old cord",
            "given_up": ["upper"]}),
        );
        assert_eq!(closed["searched"], json!([]));
        assert_eq!((row().how.as_deref(), row().cause.as_deref()), (Some("came_apart"), Some("old cord")));
        // Asked again, what was given up stays so.
        called(&api, "answer_flight", json!({"flight": flight}));
        assert_eq!(row().searched, [""; 0]);
        let error = api.call("close_flight", json!({"id": "f", "given_up": ["nose"]})).unwrap_err();
        assert!(error.message.contains("nose"), "{}", error.message);
    }

    #[test]
    fn a_part_is_given_up_with_why_looked_for_again_and_a_lost_flight_teaches() {
        let (_folder, api) = with_logbook();
        let flight = json!({"format": "windfall-flight/1", "id": "f", "pad": {"lat": 47.5, "lon": 17.3},
            "launch": {"at": "2026-05-16T10:00:00+02:00"}, "rocket": {"name": "Reed", "stages": [{"motor": "C6-5"}]},
            "evidence": [{"kind": "sighting", "moment": "lost", "bearing_deg": 70, "elevation_deg": 20}]});
        called(&api, "answer_flight", json!({"flight": flight}));
        let searches = || called(&api, "story", json!({"flight": "f"}))["searches"].clone();
        let said = |open: bool, note: Option<&str>| json!([{"part": "rocket", "open": open, "note": note}]);
        assert_eq!(searches(), said(true, None));
        let ended = json!({"id": "f", "given_up": ["rocket"], "note": "Too deep in the reeds"});
        assert_eq!(called(&api, "close_flight", ended)["searched"], json!([]));
        assert_eq!(searches(), said(false, Some("Too deep in the reeds")));
        let found = called(&api, "list_log", json!({"text": "reeds"}));
        assert_eq!(found.as_array().map(Vec::len), Some(1), "why is among the words that are searched");
        called(&api, "beliefs", json!({}));
        let lessons = api.lessons_but(None).unwrap().0;
        assert_eq!(lessons.iter().map(|it| it.found).collect::<Vec<_>>(), [false], "lost, and it teaches");
        assert!(!lessons[0].message.of.is_empty());
        let again = json!({"id": "f", "part": "rocket"});
        assert_eq!(called(&api, "search_again", again.clone())["searched"], json!(["rocket"]));
        assert_eq!(searches(), said(true, None));
        called(&api, "record_find", json!({"id": "f", "part": "rocket", "at": {"lat": 47.501, "lon": 17.3}}));
        assert_eq!(searches(), json!([]));
        assert!(api.call("search_again", again).unwrap_err().message.contains("is found"));
    }

    #[test]
    fn a_flight_that_did_not_fly_is_not_searched_for() {
        let (_folder, api) = with_logbook();
        let flight = json!({"format": "windfall-flight/1", "id": "f", "pad": {"lat": 47.5, "lon": 17.3},
            "rocket": {"stages": [{"motor": "C6-5"}]}});
        called(&api, "answer_flight", json!({"flight": flight}));
        assert!(api.open_logbook().unwrap().open_searches().unwrap().is_empty());
    }
}
