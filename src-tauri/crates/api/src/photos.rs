//! Pictures of rockets and finds: told as an address that holds the data, kept as files beside the logbook.

use crate::{Api, ApiError, Code, call::guarded};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde::Deserialize;
use serde_json::Value;
use windfall_logbook::{Fact, Logbook, PHOTO};

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

        let archive = api.export_archive().unwrap();
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
}
