use crate::{Api, ApiError, Code, call::guarded, clock};
use serde::Deserialize;
use serde_json::json;
use windfall_logbook::{Fact, SET_ASIDE, UNDO};

/// Which fact to keep but not use.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SetAside {
    /// Its identifier.
    pub id: String,
    /// Why, in words.
    #[serde(default)]
    pub why: Option<String>,
}

impl Api {
    /// Sets a fact aside: kept, shown, not used. The identifier of the setting aside, which can be undone.
    ///
    /// # Errors
    /// When there is no such fact, or it is itself a setting aside or an undo; when the logbook cannot be written.
    pub fn set_aside(&self, asked: &SetAside) -> Result<String, ApiError> {
        guarded(|| {
            let fact = self.fact(&asked.id)?;
            if fact.kind == SET_ASIDE || fact.kind == UNDO {
                let message = format!("id: {} is no first word and no correction: undo it instead", fact.id);
                return Err(ApiError::new(Code::BadRequest, message));
            }
            let id = self.follow(fact.clone(), SET_ASIDE, json!({ "why": asked.why }))?;
            self.motors_follow(&fact)?;
            self.hold_as_logged(&fact);
            Ok(id)
        })
    }

    pub(crate) fn fact(&self, id: &str) -> Result<Fact, ApiError> {
        let fact = self.open_logbook()?.fact(id)?;
        fact.ok_or_else(|| ApiError::new(Code::NotFound, format!("id: no fact {id} in this logbook")))
    }

    /// Notes a fact of `kind` that replaces `earlier`; its identifier.
    pub(crate) fn follow(
        &self,
        earlier: Fact,
        kind: &str,
        json: serde_json::Value,
    ) -> Result<String, ApiError> {
        let id = clock::next_id_after(&earlier.id);
        let later = Fact {
            id: id.clone(),
            kind: kind.into(),
            version: crate::keep::VERSION,
            replaces: Some(earlier.id),
            json,
            ..earlier
        };
        self.open_logbook()?.add(&later)?;
        Ok(id)
    }
}
