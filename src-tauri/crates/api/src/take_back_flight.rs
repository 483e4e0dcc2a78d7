use crate::{Api, ApiError, Code, call::guarded, locked};
use serde::Deserialize;
use serde_json::json;
use windfall_facts::Evidence;
use windfall_logbook::{UNDO, about};

/// A flight that was none.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TakeBackFlight {
    /// As [`crate::FlightLine::id`].
    pub id: String,
}

impl Api {
    /// Takes back all that was told of a flight that never left the pad: it is in no list, nobody looks for it, and its
    /// motors lie in the box. The logbook keeps what was said, and that it was taken back.
    ///
    /// # Errors
    /// When no such flight was told, or a part of it was found; when the logbook cannot be written.
    pub fn take_back_flight(&self, asked: &TakeBackFlight) -> Result<(), ApiError> {
        guarded(|| {
            let is_found = |piece: &Evidence| matches!(piece, Evidence::Find(it) if !it.set_aside);
            if self.flight(&asked.id)?.evidence.iter().any(is_found) {
                let message = "id: a part of this flight was found, so it flew: set it aside instead";
                return Err(ApiError::new(Code::BadRequest, message));
            }
            if self.has_logbook() {
                let words = self.open_logbook()?.words_of(about::FLIGHT, &asked.id)?;
                let mut last = None;
                for word in words.into_iter().filter(|word| !word.taken_back) {
                    let first = word.history.into_iter().chain([word.fact]).min_by(|a, b| a.id.cmp(&b.id));
                    let Some(first) = first else { continue };
                    self.follow(first.clone(), UNDO, json!({}))?;
                    last = Some(first);
                }
                if let Some(fact) = last {
                    self.motors_follow(&fact)?;
                }
            }
            locked(&self.told).retain(|flight| flight.id.as_ref() != Some(&asked.id));
            Ok(())
        })
    }
}

#[cfg(test)]
mod tests {
    use crate::call::tests::{called, with_logbook};
    use crate::{Api, Settings};
    use serde_json::{Value, json};

    fn begin(api: &Api) {
        let flight = json!({"format": "windfall-flight/1", "id": "f", "pad": {"lat": 47.5, "lon": 17.3},
            "launch": {"at": format!("{}T10:00:00+02:00", crate::clock::today())}, "rocket": {"stages": [{"motor": "C6-5"}]}});
        called(api, "tell_flight", json!({ "flight": flight }));
        let samples = json!([[1, 90, 20], [2, 90, 21]]);
        called(api, "append_track", json!({"id": "f", "track": 0, "north": "true", "samples": samples}));
    }

    #[test]
    fn a_flight_that_was_none_is_in_no_list_and_can_begin_again() {
        let (_folder, api) = with_logbook();
        begin(&api);
        called(&api, "add_evidence", json!({"id": "f", "evidence": []})); // answered: it is searched for
        assert_eq!(called(&api, "list_flights", json!({})).as_array().map(Vec::len), Some(1));
        called(&api, "take_back_flight", json!({"id": "f"}));
        for list in ["list_flights", "list_log"] {
            assert_eq!(called(&api, list, json!({})), json!([]), "{list}");
        }
        assert!(api.open_logbook().unwrap().open_searches().unwrap().is_empty());
        assert_eq!(called(&api, "day", json!({}))["open"], json!([]));
        assert!(api.call("take_back_flight", json!({"id": "f"})).is_err(), "it is gone");
    }

    #[test]
    fn without_a_logbook_too_and_never_one_of_which_a_part_is_in_the_hand() {
        let api = Api::new(Settings::default());
        begin(&api);
        called(&api, "record_find", json!({"id": "f", "part": "rocket", "at": {"lat": 47.501, "lon": 17.3}}));
        let refused = api.call("take_back_flight", json!({"id": "f"})).unwrap_err();
        assert!(refused.message.contains("was found"), "{}", refused.message);
        let api = Api::new(Settings::default());
        begin(&api);
        assert_eq!(called(&api, "take_back_flight", json!({"id": "f"})), Value::Null);
        assert!(api.all_told().is_empty());
    }
}
