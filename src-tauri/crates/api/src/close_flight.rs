use crate::{Api, ApiError, Code, call::guarded};
use serde::{Deserialize, Serialize};
use serde_json::json;
use windfall_facts::SawMode;
use windfall_logbook::about;

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
            if self.logbook.is_none() {
                return Ok(Closed { searched: Vec::new(), kept: false });
            }
            if asked.how.is_some() || asked.cause.is_some() {
                let said = json!({"how": asked.how, "cause": asked.cause});
                self.note_now(about::FLIGHT, &asked.id, "outcome", &said)?;
            }
            for part in &asked.given_up {
                self.note(about::FLIGHT, &asked.id, SEARCH, &json!({"part": part, "open": false}))?;
            }
            let open = self.open_logbook()?.open_searches()?;
            let searched = open.into_iter().filter(|it| it.0 == asked.id).map(|it| it.1).collect();
            Ok(Closed { searched, kept: true })
        })
    }
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
    fn a_flight_that_did_not_fly_is_not_searched_for() {
        let (_folder, api) = with_logbook();
        let flight = json!({"format": "windfall-flight/1", "id": "f", "pad": {"lat": 47.5, "lon": 17.3},
            "rocket": {"stages": [{"motor": "C6-5"}]}});
        called(&api, "answer_flight", json!({"flight": flight}));
        assert!(api.open_logbook().unwrap().open_searches().unwrap().is_empty());
    }
}
