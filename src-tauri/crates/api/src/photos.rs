//! Pictures of rockets, fields and flights, small enough to be facts.

use crate::{Api, ApiError, Code, call::guarded};
use serde::{Deserialize, Serialize};
use serde_json::json;
use windfall_logbook::about;

const PHOTO: &str = "photo";
/// A picture of a thousand dots a side, well compressed, has a quarter of this.
const MOST_BYTES: usize = 1_500_000;

/// Of which thing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PhotoOf {
    /// A rocket of the fleet.
    Rocket,
    /// A field.
    Field,
    /// A flight.
    Flight,
}

/// Pictures of one thing.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WhichPhotos {
    /// Of which sort.
    pub of: PhotoOf,
    /// Its identifier.
    pub id: String,
}

/// A picture to be kept.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KeepPhoto {
    /// Of which sort of thing.
    pub of: PhotoOf,
    /// Its identifier.
    pub id: String,
    /// An address that holds the data of a JPEG or PNG (RFC 2397).
    pub data: String,
}

/// A picture that was kept.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Photo {
    /// The fact, by which it can be set aside.
    pub fact: String,
    /// The part it shows, if it was taken at a find.
    pub part: Option<String>,
    /// An address that holds the data.
    pub data: String,
}

#[derive(Serialize, Deserialize)]
struct Said {
    #[serde(default)]
    of: Option<String>,
    #[serde(default)]
    flight: Option<String>,
    #[serde(default)]
    part: Option<String>,
    data: String,
}

impl PhotoOf {
    fn about(self) -> &'static str {
        match self {
            Self::Rocket => about::ROCKET,
            Self::Field => about::FIELD,
            Self::Flight => about::FLIGHT,
        }
    }
}

impl Api {
    /// Pictures of a rocket, a field or a flight, the latest last; of a flight also those taken at its finds.
    ///
    /// # Errors
    /// When no logbook is open or it cannot be read.
    pub fn photos(&self, asked: &WhichPhotos) -> Result<Vec<Photo>, ApiError> {
        guarded(|| {
            let own = self.each_of::<Said>(asked.of.about(), &asked.id, PHOTO)?;
            let mut photos: Vec<Photo> = own
                .into_iter()
                // A picture of a find shows grass: it belongs to the flight.
                .filter(|(_, said)| said.flight.is_none())
                .map(|(fact, said)| Photo { fact, part: None, data: said.data })
                .collect();
            if asked.of == PhotoOf::Flight {
                let facts = self.open_logbook()?.all_in_force(about::ROCKET, PHOTO)?;
                photos.extend(facts.into_iter().filter_map(|fact| {
                    let said: Said = serde_json::from_value(fact.json).ok()?;
                    (said.flight.as_ref() == Some(&asked.id)).then_some(Photo {
                        fact: fact.id,
                        part: said.part,
                        data: said.data,
                    })
                }));
            }
            photos.sort_by(|a, b| a.fact.cmp(&b.fact));
            Ok(photos)
        })
    }

    /// Keeps a picture; all of that thing.
    ///
    /// # Errors
    /// When it is no JPEG or PNG or too large, or the logbook cannot be written.
    pub fn keep_photo(&self, asked: &KeepPhoto) -> Result<Vec<Photo>, ApiError> {
        guarded(|| {
            let bad = |message: String| ApiError::new(Code::BadRequest, message);
            if !["image/jpeg", "image/png"]
                .iter()
                .any(|it| asked.data.starts_with(&format!("data:{it};base64,")))
            {
                return Err(bad("data: allowed is an address that holds a JPEG or PNG, base64".into()));
            }
            if asked.data.len() > MOST_BYTES {
                return Err(bad(format!("data: {} bytes; allowed are {MOST_BYTES}", asked.data.len())));
            }
            self.note(asked.of.about(), &asked.id, PHOTO, &json!({"data": asked.data}))?;
            self.photos(&WhichPhotos { of: asked.of, id: asked.id.clone() })
        })
    }
}

#[cfg(test)]
mod tests {
    use crate::call::tests::{called, with_logbook};
    use serde_json::json;

    const DOT: &str = "data:image/png;base64,iVBORw0KGgo=";

    #[test]
    fn a_flight_has_its_own_pictures_and_those_of_its_finds_and_one_can_be_set_aside() {
        let (_folder, api) = with_logbook();
        for (of, id) in [("rocket", "r"), ("field", "f"), ("flight", "one")] {
            called(&api, "keep_photo", json!({"of": of, "id": id, "data": DOT}));
        }
        let find = json!({"of": "find", "flight": "one", "part": "nose", "data": DOT});
        called(&api, "add_fact", json!({"about": "rocket", "name": "r", "kind": "photo", "json": find}));
        let photos = |of: &str, id: &str| {
            called(&api, "photos", json!({"of": of, "id": id})).as_array().unwrap().clone()
        };
        assert_eq!(
            [photos("rocket", "r").len(), photos("field", "f").len(), photos("flight", "two").len()],
            [1, 1, 0]
        );
        let of_flight = photos("flight", "one");
        assert_eq!((of_flight.len(), &of_flight[1]["part"]), (2, &json!("nose")));
        called(&api, "set_aside", json!({"id": of_flight[0]["fact"]}));
        assert_eq!(photos("flight", "one").len(), 1);
        assert!(
            api.call("keep_photo", json!({"of": "rocket", "id": "r", "data": "https://example.org/a.png"}))
                .is_err()
        );
        let large = format!("{DOT}{}", "A".repeat(2_000_000));
        assert!(
            api.call("keep_photo", json!({"of": "rocket", "id": "r", "data": large}))
                .unwrap_err()
                .message
                .contains("allowed are 1500000")
        );
    }
}
