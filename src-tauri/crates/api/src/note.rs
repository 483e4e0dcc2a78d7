//! Facts about rockets, fields, motors and days.

use crate::{Api, ApiError, Code, clock, keep, photos};
use serde::Serialize;
use serde::de::DeserializeOwned;
use windfall_logbook::{Fact, Logbook, PHOTO};

impl Api {
    /// Notes a fact beside what is known already; its identifier.
    pub(crate) fn note(
        &self,
        about: &str,
        name: &str,
        kind: &str,
        said: &impl Serialize,
    ) -> Result<String, ApiError> {
        self.write(about, name, kind, said, None)
    }

    /// Notes what is so now: a correction of what was said last, if anything was; nothing if it says the same.
    pub(crate) fn note_now(
        &self,
        about: &str,
        name: &str,
        kind: &str,
        said: &impl Serialize,
    ) -> Result<(), ApiError> {
        let before = self.open_logbook()?.last_in_force(about, name, kind)?;
        if before.as_ref().is_some_and(|fact| Some(&fact.json) == as_json(said).as_ref().ok()) {
            return Ok(());
        }
        self.write(about, name, kind, said, before.map(|fact| fact.id)).map(drop)
    }

    fn write(
        &self,
        about: &str,
        name: &str,
        kind: &str,
        said: &impl Serialize,
        replaces: Option<String>,
    ) -> Result<String, ApiError> {
        let json = as_json(said)?;
        crate::check_fact::check(about, name, kind, &json, None)?;
        let fact = Fact {
            id: String::new(),
            about: about.into(),
            name: name.into(),
            kind: kind.into(),
            version: keep::VERSION,
            replaces,
            json,
        };
        noted(&mut *self.open_logbook()?, fact)
    }

    /// What counts of all facts of a kind about things of a sort, with the name of the thing.
    pub(crate) fn all_of<T: DeserializeOwned>(
        &self,
        about: &str,
        kind: &str,
    ) -> Result<Vec<(String, T)>, ApiError> {
        let facts = self.open_logbook()?.all_in_force(about, kind)?;
        Ok(facts
            .into_iter()
            .filter_map(|fact| Some((fact.name, serde_json::from_value(fact.json).ok()?)))
            .collect())
    }

    /// What counts of all facts of a kind about one thing, with their identifiers.
    pub(crate) fn each_of<T: DeserializeOwned>(
        &self,
        about: &str,
        name: &str,
        kind: &str,
    ) -> Result<Vec<(String, T)>, ApiError> {
        let facts = self.open_logbook()?.in_force(about, name, kind)?;
        Ok(facts
            .into_iter()
            .filter_map(|fact| Some((fact.id, serde_json::from_value(fact.json).ok()?)))
            .collect())
    }

    /// What was said last and counts.
    pub(crate) fn last_of<T: DeserializeOwned>(
        &self,
        about: &str,
        name: &str,
        kind: &str,
    ) -> Result<Option<T>, ApiError> {
        let fact = self.open_logbook()?.last_in_force(about, name, kind)?;
        Ok(fact.and_then(|fact| serde_json::from_value(fact.json).ok()))
    }
}

/// Notes a fact that was checked, under an identifier of its own, which is returned; a picture goes into its file.
pub(crate) fn noted(book: &mut Logbook, mut fact: Fact) -> Result<String, ApiError> {
    if fact.kind == PHOTO {
        photos::kept_apart(book, &mut fact.json)?;
    }
    fact.id = fact.replaces.as_deref().map_or_else(clock::next_id, clock::next_id_after);
    book.add(&fact)?;
    Ok(fact.id)
}

fn as_json(said: &impl Serialize) -> Result<serde_json::Value, ApiError> {
    // Through text, so that numbers compare as they will when they are read back.
    serde_json::to_string(said)
        .and_then(|text| serde_json::from_str(&text))
        .map_err(|error| ApiError::new(Code::Defect, error.to_string()))
}
