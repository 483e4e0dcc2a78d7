use crate::{Api, ApiError};
use serde::Deserialize;
use serde_json::Value;
use windfall_facts::{Answer, LatLon};

/// A flight that somebody tells, seen from where.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AnswerFlight {
    /// As the flight file has it (`windfall-flight/1`); without an `id` it gets one.
    pub flight: Value,
    /// Where the flyer stands; the pad if null.
    #[serde(default)]
    pub from: Option<LatLon>,
}

impl Api {
    /// Keeps a flight that is told, and says where every part of it may lie. The answer's `flight` is its identifier,
    /// by which the other calls know it from now on; telling it again under this identifier corrects it.
    ///
    /// # Errors
    /// Names the field that cannot be read or contradicts another.
    pub fn answer_flight(&self, asked: &AnswerFlight) -> Result<Answer, ApiError> {
        let flight = self.tell(&asked.flight)?;
        self.locate_today(&flight, asked.from, None)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::call::tests::called;
    use crate::{Code, Reply, Settings};
    use serde_json::json;

    fn asked(evidence: &Value) -> Value {
        json!({"flight": {
            "format": "windfall-flight/1", "pad": {"lat": 47.5, "lon": 17.3, "accuracy_m": 30},
            "rocket": {"stages": [{"motor": "C"}]}, "launch": {"timed_by": "recalled"}, "evidence": evidence}})
    }

    #[test]
    fn a_told_flight_is_known_by_its_identifier_from_then_on() {
        let api = Api::new(Settings::default());
        let look = json!([{"kind": "sighting", "moment": "lost", "bearing_deg": 87}]);
        let answer = called(&api, "answer_flight", asked(&look));
        let id = answer["flight"].as_str().unwrap();
        assert!(answer["would_help"].is_string(), "{answer}");
        assert_eq!(called(&api, "show_flight", json!({"id": id}))["evidence"][0]["bearing_deg"], 87.0);
        assert_eq!(called(&api, "list_flights", json!({}))[0]["id"], id);
        assert!(matches!(
            api.call("landing_density", json!({"id": id, "part": "rocket"})),
            Ok(Reply::Bytes(bytes)) if bytes.len() > 16
        ));
    }

    #[test]
    fn telling_a_flight_again_corrects_it() {
        let api = Api::new(Settings::default());
        let answer = called(&api, "answer_flight", asked(&json!([])));
        let mut again = asked(&json!([]));
        again["flight"]["id"] = answer["flight"].clone();
        again["flight"]["rocket"]["stages"][0]["motor"] = "A8-3".into();
        let second = called(&api, "answer_flight", again);
        assert_eq!(second["flight"], answer["flight"]);
        assert_eq!(called(&api, "list_flights", json!({})).as_array().map(Vec::len), Some(1));
    }

    #[test]
    fn a_flight_that_cannot_be_read_names_its_field() {
        let api = Api::new(Settings::default());
        let error =
            api.call("answer_flight", asked(&json!([{"kind": "sighting", "moment": "lost"}]))).unwrap_err();
        assert_eq!(error.code, Code::BadFlight);
        assert!(error.message.contains("evidence[0]"), "{}", error.message);
    }

    #[test]
    fn facts_of_a_told_flight_are_in_the_logbook() {
        let folder = tempfile::tempdir().unwrap();
        let api = Api::new(Settings::default()).with_logbook(folder.path()).unwrap();
        let answer = called(
            &api,
            "answer_flight",
            asked(&json!([{"kind": "saw", "mode": "opened", "sure": "think"}])),
        );
        let book = api.open_logbook().unwrap();
        let kinds: Vec<_> = book
            .facts_of(windfall_logbook::about::FLIGHT, answer["flight"].as_str().unwrap())
            .unwrap()
            .into_iter()
            .map(|it| it.kind)
            .collect();
        assert_eq!(kinds, ["flight", "saw", "answer", "search"]);
    }
}
