//! From one phone to another without a network: a target as a `geo:` link that any phone understands, what was seen as
//! a short text.

use crate::{Api, ApiError, Code, call::guarded};
use serde::{Deserialize, Serialize};
use windfall_facts::{Evidence, LatLon, Launch, Sentence, TimedBy};
use windfall_logbook::exchange::geo_uri::GeoUri;

const FORMAT: &str = "windfall-seen/1";

/// A part to be looked for by somebody else.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShareTarget {
    /// Which flight.
    pub id: String,
    /// Which part or stage.
    pub part: String,
}

/// What was seen of a flight, for somebody else.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShareSeen {
    /// Which flight.
    pub id: String,
    /// Who saw it, so that their clock and compass are told apart from the flyer's.
    pub observer: String,
}

/// A text from another phone, and the flight that it is about.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TakeShared {
    /// The text.
    pub text: String,
    /// To which flight what was seen belongs; not needed for a target.
    #[serde(default)]
    pub into: Option<String>,
}

/// What a text brought.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Shared {
    /// A place to walk to.
    Target {
        /// Where.
        at: LatLon,
        /// Radius that holds it, metres.
        accuracy_m: Option<f64>,
    },
    /// What somebody saw.
    Seen {
        /// A line that tells their flight from others.
        title: Option<String>,
        /// When they saw it leave the ground, RFC 3339, by their clock.
        launched_at: Option<String>,
        /// How many pieces.
        pieces: usize,
        /// Into which flight they were taken; null if none was named.
        into: Option<String>,
    },
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct SeenText {
    format: String,
    title: Option<String>,
    launched_at: Option<String>,
    /// What started their watch.
    #[serde(default)]
    timed_by: Option<TimedBy>,
    seen: Vec<Evidence>,
}

/// A text for another phone.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SharedText {
    /// To be shown as a code, or sent by any other way.
    pub text: String,
}

impl Api {
    /// Where a part may be, as a `geo:` link (RFC 5870) with the radius of its likelier half.
    ///
    /// # Errors
    /// When there is no such flight or part.
    pub fn share_target(&self, asked: &ShareTarget) -> Result<SharedText, ApiError> {
        guarded(|| {
            let flight = self.flight(&asked.id)?;
            let answer = self.locate(&flight, None, None, &self.settings)?;
            let index = flight.part_index_for(Some(&asked.part));
            let part = index.and_then(|index| answer.parts.get(index)).ok_or_else(|| {
                ApiError::said(Code::NotFound, Sentence::NoSuchPart { part: asked.part.clone() }).of("part")
            })?;
            let half = part.regions.iter().min_by(|a, b| a.probability.total_cmp(&b.probability));
            let radius_m = half.map(|region| (region.area_m2 / core::f64::consts::PI).sqrt().round());
            let rounded = |degrees: f64| (degrees * 1e6).round() / 1e6;
            let at = LatLon { lat: rounded(part.aim.lat), lon: rounded(part.aim.lon) };
            Ok(SharedText { text: GeoUri::new(at, radius_m).to_string() })
        })
    }

    /// What was seen of a flight: directions, times and what it did; of a followed flight about two samples a second.
    ///
    /// # Errors
    /// When there is no such flight, or nothing was seen.
    pub fn share_seen(&self, asked: &ShareSeen) -> Result<SharedText, ApiError> {
        guarded(|| {
            let flight = self.flight(&asked.id)?;
            let seen: Vec<Evidence> = flight
                .evidence
                .iter()
                .filter_map(|piece| seen_by(piece, &asked.observer))
                .map(|it| it.called(None))
                .collect();
            if seen.is_empty() {
                return Err(ApiError::said(Code::BadRequest, Sentence::NothingToSend {}));
            }
            let title = flight.rocket.name.clone().or(flight.title);
            let Launch { at: launched_at, timed_by, .. } = flight.launch;
            let text = SeenText { format: FORMAT.into(), title, launched_at, timed_by, seen };
            let mut said = serde_json::to_value(&text)
                .map_err(|error| ApiError::new(Code::Defect, error.to_string()))?;
            slim(&mut said);
            Ok(SharedText { text: said.to_string() })
        })
    }

    /// Takes what another phone showed: a target is only read, what was seen goes into the flight named.
    ///
    /// # Errors
    /// When the text is neither, or what was seen contradicts the flight; then nothing is taken.
    pub fn take_shared(&self, asked: &TakeShared) -> Result<Shared, ApiError> {
        guarded(|| {
            let text = asked.text.trim();
            let neither = Sentence::NeitherPlaceNorSeen {};
            let bad = |message: String| ApiError::new(Code::BadRequest, message).saying(neither.clone());
            if !text.starts_with('{') {
                let link = GeoUri::parse(text).map_err(|error| {
                    let name = format!("geo, {}", error.field);
                    bad(error.to_string()).saying(Sentence::NotRead { name, why: error.why.inside() })
                })?;
                return Ok(Shared::Target { at: link.at, accuracy_m: link.uncertainty_m });
            }
            let mut seen: SeenText =
                serde_json::from_str(text).map_err(|error| bad(format!("what was seen: {error}")))?;
            if seen.format != FORMAT {
                return Err(bad(format!("what was seen: format {:?}; allowed is {FORMAT}", seen.format)));
            }
            let pieces = seen.seen.len();
            let watch = own_watch(seen.timed_by);
            for piece in &mut seen.seen {
                match piece {
                    Evidence::Sighting(it) => it.timed_by = Some(it.timed_by.unwrap_or(watch)),
                    Evidence::Track(it) => it.timed_by = Some(it.timed_by.unwrap_or(watch)),
                    _ => {}
                }
            }
            if let Some(id) = &asked.into {
                self.retell(id, |flight| {
                    for piece in &seen.seen {
                        let known = flight.evidence.iter().any(|it| it.says_what(piece));
                        if !known {
                            flight.evidence.push(piece.clone());
                        }
                    }
                })?;
            }
            let SeenText { title, launched_at, .. } = seen;
            Ok(Shared::Seen { title, launched_at, pieces, into: asked.into.clone() })
        })
    }
}

/// How far their watch may be off ours: nothing set the two together, and a memory is worse still.
fn own_watch(theirs: Option<TimedBy>) -> TimedBy {
    if theirs == Some(TimedBy::Recalled) { TimedBy::Recalled } else { TimedBy::OtherPhone }
}

/// Samples so far apart are enough for another phone, s: more would not fit into a code on a screen.
const APART_S: f64 = 0.5;

fn seen_by(piece: &Evidence, observer: &str) -> Option<Evidence> {
    match piece {
        _ if piece.set_aside() => None,
        Evidence::Sighting(it) => {
            let mut it = it.clone();
            it.observer.get_or_insert_with(|| observer.to_owned());
            Some(Evidence::Sighting(it))
        }
        Evidence::Track(it) => {
            let mut it = it.clone();
            it.observer.get_or_insert_with(|| observer.to_owned());
            let mut last_s = f64::NEG_INFINITY;
            it.samples.retain(|sample| {
                let keep = sample[0] - last_s >= APART_S;
                if keep {
                    last_s = sample[0];
                }
                keep
            });
            for sample in &mut it.samples {
                *sample = sample.map(|number| (number * 10.0).round() / 10.0);
            }
            Some(Evidence::Track(it))
        }
        Evidence::Saw(it) => Some(Evidence::Saw(it.clone())),
        _ => None,
    }
}

/// Without what says nothing, and numbers no finer than anybody points: a code on a screen is small.
fn slim(said: &mut serde_json::Value) {
    use serde_json::Value;
    match said {
        Value::Object(keys) => {
            keys.retain(|key, value| {
                !(value.is_null() || key == "set_aside" && *value == Value::Bool(false))
            });
            keys.values_mut().for_each(slim);
        }
        Value::Array(items) => items.iter_mut().for_each(slim),
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use crate::call::tests::called;
    use crate::{Api, Settings};
    use serde_json::json;

    #[test]
    fn what_one_phone_saw_moves_the_flight_on_the_other_and_twice_is_once() {
        let (theirs, ours) = (Api::new(Settings::default()), Api::new(Settings::default()));
        let flight = |evidence: serde_json::Value| {
            json!({"flight": {"format": "windfall-flight/1", "pad": {"lat": 47.5, "lon": 17.3},
                "launch": {"at": "2026-05-16T10:00:00+02:00"},
                "rocket": {"name": "Linnet", "stages": [{"motor": "A8-3"}]}, "evidence": evidence}})
        };
        let samples: Vec<_> = (0..100).map(|i| json!([f64::from(i) * 0.1, 80.123_456, 30.0])).collect();
        let look = json!([{"kind": "sighting", "moment": "lost", "bearing_deg": 87, "t_s": 30},
            {"kind": "track", "samples": samples}]);
        let there = called(&theirs, "tell_flight", flight(look))["id"].clone();
        let here = called(&ours, "tell_flight", flight(json!([])))["id"].clone();
        let text = called(&theirs, "share_seen", json!({"id": there, "observer": "Wren"}))["text"].clone();
        assert!(text.as_str().unwrap().len() < 1000, "{}", text.as_str().unwrap().len());
        for _ in 0..2 {
            let got = called(&ours, "take_shared", json!({"text": text, "into": here}));
            assert_eq!(
                (&got["kind"], &got["pieces"], &got["title"]),
                (&json!("seen"), &json!(2), &json!("Linnet"))
            );
            let evidence = called(&ours, "show_flight", json!({"id": here}))["evidence"].clone();
            assert_eq!(evidence.as_array().unwrap().len(), 2);
            assert_eq!(
                (&evidence[0]["observer"], &evidence[1]["samples"][1]),
                (&json!("Wren"), &json!([0.5, 80.1, 30.0]))
            );
            assert_eq!(
                (&evidence[0]["timed_by"], &evidence[1]["timed_by"]),
                (&json!("other_phone"), &json!("other_phone")),
                "two phones that nothing set together"
            );
        }
    }

    #[test]
    fn a_target_is_a_link_that_any_phone_opens() {
        let api = Api::new(Settings::default());
        let flight = json!({"format": "windfall-flight/1", "pad": {"lat": 47.5, "lon": 17.3},
            "rocket": {"stages": [{"motor": "A8-3"}]}});
        let id = called(&api, "tell_flight", json!({ "flight": flight }))["id"].clone();
        let text = called(&api, "share_target", json!({"id": id, "part": "rocket"}))["text"].clone();
        assert!(text.as_str().unwrap().starts_with("geo:47."), "{text}");
        let got = called(&api, "take_shared", json!({ "text": text }));
        assert_eq!(got["kind"], "target");
        assert!(got["accuracy_m"].as_f64().unwrap() > 5.0, "{got}");
        for bad in ["mailto:wren", "{}", r#"{"format": "windfall-seen/9", "seen": []}"#, "geo:147,17"] {
            assert_eq!(
                api.call("take_shared", json!({ "text": bad })).unwrap_err().code,
                crate::Code::BadRequest
            );
        }
    }
}
