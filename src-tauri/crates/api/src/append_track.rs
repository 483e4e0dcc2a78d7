use crate::{Api, ApiError, Code};
use serde::{Deserialize, Serialize};
use windfall_facts::{Evidence, LatLon, North, Track};

/// Samples of a phone held on target, as they come.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AppendTrack {
    /// As [`crate::FlightLine::id`].
    pub id: String,
    /// Which track of the flight, in the order they were begun.
    pub track: usize,
    /// Seconds after first motion, bearing and elevation in degrees; times rising.
    pub samples: Vec<[f64; 3]>,
    /// Which north the bearings count from.
    pub north: North,
    /// Where the observer stood (default the pad).
    #[serde(default)]
    pub from: Option<LatLon>,
    /// Which phone.
    #[serde(default)]
    pub phone: Option<String>,
}

/// What is held of the track now.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Appended {
    /// Samples of the whole track.
    pub samples: usize,
}

impl Api {
    /// Adds samples to a track of a flight, beginning it if it is the next; nothing is computed with them yet. Samples
    /// that are not later than the last one held are left out, so that a call can be repeated.
    ///
    /// # Errors
    /// When there is no such flight, or a track before this one is missing.
    pub fn append_track(&self, asked: &AppendTrack) -> Result<Appended, ApiError> {
        let flight = self.flight(&asked.id)?;
        let begun = flight.evidence.iter().filter(|piece| matches!(piece, Evidence::Track(_))).count();
        if asked.track > begun {
            let message = format!("track: {} comes after {begun}, which is not begun yet", asked.track);
            return Err(ApiError::new(Code::BadRequest, message));
        }
        let mut held = 0;
        let flight = self.changed(&asked.id, |flight| {
            let mut tracks = flight.evidence.iter_mut().filter_map(|piece| match piece {
                Evidence::Track(track) => Some(track),
                _ => None,
            });
            match tracks.nth(asked.track) {
                Some(track) => {
                    let last_s = track.samples.last().map_or(f64::NEG_INFINITY, |sample| sample[0]);
                    track.samples.extend(asked.samples.iter().filter(|sample| sample[0] > last_s));
                    held = track.samples.len();
                }
                None => {
                    held = asked.samples.len();
                    flight.evidence.push(Evidence::Track(Track {
                        part: None,
                        samples: asked.samples.clone(),
                        north: asked.north,
                        from: asked.from,
                        observer: None,
                        phone: asked.phone.clone(),
                        id: None,
                        timed_by: None,
                        set_aside: false,
                    }));
                }
            }
        })?;
        // The samples first: a crash between the two loses a place in memory, not a sighting.
        self.keep_samples(&asked.id, asked)?;
        self.hold(flight);
        Ok(Appended { samples: held })
    }
}

#[cfg(test)]
mod tests {
    use crate::call::tests::called;
    use crate::{Api, Settings};
    use serde_json::{Value, json};

    #[test]
    fn samples_are_in_the_logbook_as_they_came_and_the_track_once_it_is_answered() {
        let folder = tempfile::tempdir().unwrap();
        let api = Api::new(Settings::default()).with_logbook(folder.path()).unwrap();
        let flight = json!({"format": "windfall-flight/1", "id": "f", "pad": {"lat": 47.5, "lon": 17.3},
            "rocket": {"stages": [{"motor": "C6-5"}]}});
        called(&api, "tell_flight", json!({"flight": flight}));
        for at in 1..4 {
            let samples = json!([[at, 90, 20]]);
            called(&api, "append_track", json!({"id": "f", "track": 0, "north": "true", "samples": samples}));
        }
        let kinds = || -> Vec<String> {
            let book = api.open_logbook().unwrap();
            book.facts_of(windfall_logbook::about::FLIGHT, "f")
                .unwrap()
                .into_iter()
                .map(|fact| fact.kind)
                .collect()
        };
        assert_eq!(kinds(), ["flight", "samples", "samples", "samples"]);
        called(&api, "add_evidence", json!({"id": "f", "evidence": []}));
        assert_eq!(kinds().iter().filter(|kind| *kind == "track").count(), 1);
    }

    #[test]
    fn samples_come_in_pieces_and_a_repeated_call_adds_nothing() {
        let api = Api::new(Settings::default());
        let flight = json!({"format": "windfall-flight/1", "id": "f", "pad": {"lat": 47.5, "lon": 17.3},
            "rocket": {"stages": [{"motor": "C6-5"}]}});
        called(&api, "answer_flight", json!({"flight": flight}));
        let piece = |track: usize, samples: Value| json!({"id": "f", "track": track, "north": "magnetic", "samples": samples});
        let first = json!([[1.0, 90, 20], [1.5, 91, 25]]);
        assert_eq!(called(&api, "append_track", piece(0, first.clone()))["samples"], 2);
        assert_eq!(called(&api, "append_track", piece(0, first))["samples"], 2);
        assert_eq!(called(&api, "append_track", piece(0, json!([[2.0, 92, 30]])))["samples"], 3);
        assert_eq!(called(&api, "append_track", piece(1, json!([[9.0, 92, 30]])))["samples"], 1);
        assert!(api.call("append_track", piece(4, json!([[9.0, 92, 30]]))).is_err());
        let kept = called(&api, "show_flight", json!({"id": "f"}));
        assert_eq!(kept["evidence"][0]["samples"].as_array().map(Vec::len), Some(3));
        assert_eq!(kept["evidence"][0]["north"], "magnetic");
    }
}
