//! Pictures of rockets, fields, flights and finds: told as an address that holds the data, kept as files beside the logbook.

use crate::{Api, ApiError, Code, call::guarded};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use windfall_logbook::{Fact, Logbook, PHOTO, about};

/// Kinds of pictures, and how the names of their files end.
const KINDS: [(&str, &str); 3] = [("image/jpeg", "jpg"), ("image/png", "png"), ("image/webp", "webp")];
/// Larger ones are refused: a phone makes them smaller before it tells them.
const MOST_BYTES: usize = 16 << 20;

/// Which picture.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShowPhoto {
    /// The fact that names it.
    pub id: String,
}

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
    /// An address that holds the data of a JPEG, PNG or WebP (RFC 2397).
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

#[derive(Deserialize)]
struct Said {
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
    /// A picture, as the bytes of its file.
    ///
    /// # Errors
    /// When there is no such fact, it names no picture, or the picture is not there.
    pub fn photo(&self, asked: &ShowPhoto) -> Result<Vec<u8>, ApiError> {
        guarded(|| {
            let fact = self.fact(&asked.id)?;
            let there = if let Some(name) = fact.json["file"].as_str() {
                self.open_logbook()?.photo(name)
            } else {
                // Before pictures were files.
                fact.json["data"].as_str().map(decoded).transpose()?.map(|it| it.0)
            };
            let missing =
                || ApiError::new(Code::NotFound, format!("id: the picture of fact {} is not there", fact.id));
            there.filter(|_| fact.kind == PHOTO).ok_or_else(missing)
        })
    }

    /// Pictures of a rocket, a field or a flight, the latest last; of a flight also those taken at its finds.
    ///
    /// # Errors
    /// When no logbook is open or it cannot be read.
    pub fn photos(&self, asked: &WhichPhotos) -> Result<Vec<Photo>, ApiError> {
        guarded(|| {
            let book = self.open_logbook()?;
            let of_flight = asked.of == PhotoOf::Flight;
            let mut facts = book.in_force(asked.of.about(), &asked.id, PHOTO)?;
            if of_flight {
                facts.extend(book.all_in_force(about::ROCKET, PHOTO)?);
            }
            facts.sort_by(|a, b| a.id.cmp(&b.id));
            let read = |fact: Fact| {
                // A picture of a find shows grass: it belongs to the flight.
                let at_find = fact.about == about::ROCKET && fact.json["flight"].is_string();
                let belongs = if of_flight && fact.about == about::ROCKET {
                    fact.json["flight"] == asked.id.as_str()
                } else {
                    !at_find
                };
                let Fact { id, json, .. } = belongs.then(|| packed(&book, fact))?;
                let Said { part, data } = serde_json::from_value(json).ok()?;
                Some(Photo { fact: id, part: part.filter(|_| at_find), data })
            };
            Ok(facts.into_iter().filter_map(read).collect())
        })
    }

    /// Keeps a picture; all of that thing.
    ///
    /// # Errors
    /// When it is no JPEG, PNG or WebP or too large, or the logbook cannot be written.
    pub fn keep_photo(&self, asked: &KeepPhoto) -> Result<Vec<Photo>, ApiError> {
        guarded(|| {
            self.note(asked.of.about(), &asked.id, PHOTO, &json!({"data": asked.data}))?;
            self.photos(&WhichPhotos { of: asked.of, id: asked.id.clone() })
        })
    }
}

/// Puts the data of a picture into a file, and its name into what is said of it.
pub(crate) fn kept_apart(book: &Logbook, said: &mut Value) -> Result<(), ApiError> {
    if let Some(data) = said["data"].as_str() {
        let (bytes, ending) = decoded(data)?;
        said["file"] = book.keep_photo(&bytes, ending)?.into();
        said.as_object_mut().map(|said| said.remove("data"));
    }
    Ok(())
}

/// The fact as it travels: the data of its picture in it.
pub(crate) fn packed(book: &Logbook, mut fact: Fact) -> Fact {
    let name = fact.json["file"].as_str().filter(|_| fact.kind == PHOTO);
    let picture = name.and_then(|name| Some((book.photo(name)?, name.rsplit_once('.')?.1)));
    if let Some((bytes, ending)) = picture {
        let kind = KINDS.iter().find(|row| row.1 == ending).map_or("", |row| row.0);
        fact.json["data"] = format!("data:{kind};base64,{}", STANDARD.encode(bytes)).into();
    }
    fact
}

/// The fact as it is kept, and its picture in its file. One that was kept with its data stays as it is.
pub(crate) fn unpacked(book: &Logbook, mut fact: Fact) -> Result<Fact, ApiError> {
    let name = fact.json["file"].as_str().map(str::to_owned).filter(|_| fact.kind == PHOTO);
    if let Some(name) = name {
        kept_apart(book, &mut fact.json)?;
        if fact.json["file"] != name.as_str() {
            let message = format!("fact {}: its picture is not {name}; nothing of it is taken", fact.id);
            return Err(ApiError::new(Code::BadFlight, message));
        }
    }
    Ok(fact)
}

fn decoded(data: &str) -> Result<(Vec<u8>, &'static str), ApiError> {
    let refused = |why: &str| {
        let message = format!("json.data: {why}, as in data:image/jpeg;base64,...");
        ApiError::new(Code::BadRequest, message)
    };
    let said = data.strip_prefix("data:").and_then(|it| it.split_once(";base64,"));
    let kind = said.and_then(|(kind, text)| Some((KINDS.iter().find(|row| row.0 == kind)?.1, text)));
    let (ending, text) =
        kind.ok_or_else(|| refused("the address of a JPEG, PNG or WebP picture is needed"))?;
    let bytes = STANDARD.decode(text).map_err(|error| refused(&format!("no base64 ({error})")))?;
    if bytes.is_empty() || bytes.len() > MOST_BYTES {
        return Err(refused(&format!("{} bytes; allowed are 1 to {MOST_BYTES}", bytes.len())));
    }
    Ok((bytes, ending))
}

#[cfg(test)]
mod tests {
    use crate::call::tests::{called, with_logbook};
    use crate::{Reply, ShowPhoto};
    use serde_json::json;

    const DOT: &str = "data:image/png;base64,iVBORw0KGgo=";

    #[test]
    fn a_picture_is_a_file_beside_the_logbook_and_travels_in_its_archive() {
        let ((folder, api), (_other, there)) = (with_logbook(), with_logbook());
        let said = json!({"of": "find", "flight": "heron", "part": "rocket", "data": DOT});
        let told = json!({"about": "rocket", "name": "heron", "kind": "photo", "json": said});
        let id = called(&api, "add_fact", told)["id"].as_str().unwrap().to_owned();
        let fact = api.fact(&id).unwrap();
        assert_eq!((&fact.json["data"], &fact.json["part"]), (&json!(null), &json!("rocket")));
        let file = folder.path().join("photos").join(fact.json["file"].as_str().unwrap());
        assert_eq!(std::fs::read(&file).unwrap(), b"\x89PNG\r\n\x1a\n");
        assert!(matches!(api.call("photo", json!({"id": id})), Ok(Reply::Bytes(bytes)) if bytes.len() == 8));

        let archive = api.export_archive(true).unwrap();
        assert!(archive.contains("iVBORw0KGgo="));
        for added in [1, 0] {
            assert_eq!(there.import_archive(archive.as_bytes()).unwrap().added, added);
        }
        assert_eq!(there.fact(&id).unwrap(), fact);
        assert_eq!(there.photo(&ShowPhoto { id }).unwrap().len(), 8);
        assert_eq!(there.check_logbook().unwrap().wrong, Vec::<String>::new());
    }

    #[test]
    fn what_is_no_picture_is_refused_and_nothing_is_kept() {
        let (folder, api) = with_logbook();
        for data in ["", "data:text/html;base64,AAAA", "data:image/png;base64,!!", "data:image/png;base64,"] {
            let said = json!({"about": "rocket", "name": "heron", "kind": "photo", "json": {"data": data}});
            let error = api.call("add_fact", said).unwrap_err();
            assert!(error.message.starts_with("json.data: "), "{}", error.message);
        }
        assert!(!folder.path().join("photos").exists());
        assert!(api.open_logbook().unwrap().all_facts().unwrap().is_empty());
    }

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
    }
}
