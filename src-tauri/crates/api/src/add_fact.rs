use crate::{Api, ApiError, call::guarded, check_fact, note::noted};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use windfall_logbook::{Fact, about};

/// A fact to be noted. The identifier is given by the logbook.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AddFact {
    /// What it is about: flight, rocket, field, motor, phone, day or another word.
    pub about: String,
    /// Which one of these.
    pub name: String,
    /// What kind of fact it is.
    pub kind: String,
    /// Version of the kind (default 1).
    #[serde(default = "first")]
    pub version: u32,
    /// The earlier fact that this one corrects.
    #[serde(default)]
    pub replaces: Option<String>,
    /// What it says.
    pub json: Value,
}

fn first() -> u32 {
    crate::keep::VERSION
}

/// A fact that is on the disk.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Added {
    /// Its identifier.
    pub id: String,
    /// What the flyer may not have meant, in words.
    pub warning: Option<String>,
}

impl Api {
    /// Notes a fact; it is on the disk on return.
    ///
    /// # Errors
    /// Names the field that is missing or not allowed; when the logbook cannot be written.
    pub fn add_fact(&self, asked: &AddFact) -> Result<Added, ApiError> {
        guarded(|| {
            let AddFact { about, name, kind, version, replaces, json } = asked;
            for (key, text) in [("about", about), ("name", name), ("kind", kind)] {
                if text.trim().is_empty() {
                    return Err(ApiError::new(crate::Code::BadRequest, format!("{key}: a text is needed")));
                }
            }
            let mut logbook = self.open_logbook()?;
            let ground = if about == about::FLIGHT {
                logbook.last_in_force(about, name, crate::keep::FLIGHT)?.map(|fact| fact.json)
            } else {
                None
            };
            let is_used = check_fact::check(about, name, kind, json, ground.as_ref())?;
            let fact = Fact {
                id: String::new(),
                about: about.clone(),
                name: name.clone(),
                kind: kind.clone(),
                version: *version,
                replaces: replaces.clone(),
                json: json.clone(),
            };
            let id = noted(&mut logbook, fact)?;
            let warning = (!is_used).then(|| {
                format!("kept, but nothing here uses the kind \"{kind}\" of a {about}; is it misspelt?")
            });
            Ok(Added { id, warning })
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Code;
    use crate::call::tests::with_logbook;
    use serde_json::json;

    fn fact(about: &str, kind: &str, json: Value) -> AddFact {
        AddFact {
            about: about.into(),
            name: "heron".into(),
            kind: kind.into(),
            version: 1,
            replaces: None,
            json,
        }
    }

    #[test]
    fn a_fact_that_could_not_be_used_is_refused_by_its_field() {
        let (_folder, api) = with_logbook();
        for (about, kind, said, expected) in [
            ("flight", "sighting", json!({"moment": "lost", "bearing": 3}), "json.bearing: unknown key"),
            ("flight", "find", json!({"at": {"lat": 1, "lon": 2}}), "json.part: missing"),
            ("flight", "flight", json!({"format": "windfall-flight/1"}), "json.pad: missing"),
            ("flight", "search", json!({"part": "rocket"}), "json.open: true or false is needed"),
            ("flight", "outcome", json!({"how": "vanished"}), "json.how: unknown variant `vanished`"),
            ("rocket", "rocket", json!({"stages": [{"dry_mass_g": -1}]}), "json.stages[0].dry_mass_g: -1"),
            ("motor", "stock", json!({"change": 1.5}), "json.change: a whole number"),
            ("phone", "heading_check", json!({"too_much_deg": 200}), "json.too_much_deg: -180 to 180"),
            ("field", "permission", json!({"until": "2026-09-30"}), "json: unknown field `until`"),
            ("rocket", "repair", json!({"done": true}), "json: missing field `note`"),
            ("rocket", "photo", json!({"of": "find"}), "json.data: a text is needed"),
            ("day", "wind", json!({"speed_mps": 99}), "json.speed_mps: 99 is out of range"),
            ("day", "weather", json!({"wind": [{"speed_mps": 99}]}), "json.wind[0].speed_mps: 99 is out of"),
            ("phone", "phone", json!("red"), "json: an object is needed"),
            (" ", "phone", json!({}), "about: a text is needed"),
        ] {
            let error = api.add_fact(&fact(about, kind, said)).unwrap_err();
            assert_eq!(error.code, Code::BadRequest);
            assert!(error.message.starts_with(expected), "{}", error.message);
        }
    }

    #[test]
    fn a_part_is_checked_once_the_rocket_is_known() {
        let (_folder, api) = with_logbook();
        let find = fact("flight", "find", json!({"part": "lower", "at": {"lat": 47, "lon": 8}}));
        api.add_fact(&find).unwrap();
        let ground = json!({"format": "windfall-flight/1", "pad": {"lat": 47, "lon": 8},
            "rocket": {"stages": [{"motor": "C6-5"}]}});
        api.add_fact(&fact("flight", "flight", ground)).unwrap();
        let error = api.add_fact(&find).unwrap_err();
        assert!(error.message.contains("no part or stage is called \"lower\""), "{}", error.message);
    }

    #[test]
    fn a_kind_that_nothing_uses_is_kept_with_a_warning() {
        let (_folder, api) = with_logbook();
        let added = api.add_fact(&fact("flight", "sigthing", json!({"bearing_deg": 3}))).unwrap();
        assert!(added.warning.unwrap().contains("sigthing"));
        assert_eq!(api.open_logbook().unwrap().fact(&added.id).unwrap().unwrap().json["bearing_deg"], 3);
    }
}
