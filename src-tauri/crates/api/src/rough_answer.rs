use crate::{Api, ApiError, Code, locked, rough};
use serde::Deserialize;
use windfall_facts::{Answer, LatLon, Sentence};
use windfall_quantities::Position;

/// Of which flight, seen from where.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RoughAnswer {
    /// As [`crate::FlightLine::id`].
    pub id: String,
    /// Where the flyer stands; the pad if null.
    #[serde(default)]
    pub from: Option<LatLon>,
}

impl Api {
    /// What the cloud says that ran ahead while the flight was followed: something to show at once while the answer is
    /// worked out. Nobody should set out by it, and it says so. Nothing is computed anew and nothing kept; null for a flight
    /// that was not watched.
    ///
    /// # Errors
    /// When the flyer stands nowhere on the earth.
    pub fn rough_answer(&self, asked: &RoughAnswer) -> Result<Option<Answer>, ApiError> {
        if let Some(LatLon { lat, lon }) = asked.from {
            Position::new(lat, lon).map_err(|error| ApiError::said(Code::BadRequest, error).of("from"))?;
        }
        let ahead = {
            let watched = locked(&self.watched);
            watched.as_ref().filter(|it| it.id == asked.id).map(|it| it.cloud.answer(asked.from, None))
        };
        let Some(mut answer) = ahead else { return Ok(None) };
        rough::tell(&self.flight(&asked.id)?, &mut answer);
        for part in &mut answer.parts {
            part.stay = Some(Sentence::NotSettled {});
            for mode in &mut part.modes {
                mode.stay = Some(Sentence::NotSettled {});
            }
        }
        Ok(Some(answer))
    }
}

#[cfg(test)]
mod tests {
    use crate::call::tests::called;
    use crate::{Api, Settings};
    use serde_json::json;

    #[test]
    fn what_ran_ahead_answers_at_once_and_another_flight_has_nothing() {
        let api = Api::new(Settings::default());
        let flight = json!({"format": "windfall-flight/1", "id": "f", "pad": {"lat": 47.5, "lon": 17.3},
            "rocket": {"stages": [{"motor": "C6-5"}]}});
        called(&api, "tell_flight", json!({"flight": flight}));
        assert!(called(&api, "rough_answer", json!({"id": "f"})).is_null());
        let samples: Vec<_> = (1..30).map(|at| json!([at, 60, 40.0 - f64::from(at)])).collect();
        called(&api, "append_track", json!({"id": "f", "track": 0, "north": "true", "samples": samples}));
        called(&api, "watch_fall", json!({"id": "f"}));
        let answer = called(&api, "rough_answer", json!({"id": "f", "from": {"lat": 47.501, "lon": 17.3}}));
        assert_eq!(answer["flight"], "f");
        assert_eq!(answer["from"]["lat"], 47.501);
        assert_eq!(answer["parts"][0]["stay"], json!({"say": "not_settled"}));
        let settled = called(&api, "locate_flight", json!({"id": "f"}));
        assert!(settled["parts"][0]["stay"].is_null(), "{settled}");
        let regions = answer["parts"][0]["regions"].as_array().map(Vec::len);
        assert_eq!(regions, Some(2), "{answer}");
        assert!(called(&api, "rough_answer", json!({"id": "g"})).is_null());
    }
}
