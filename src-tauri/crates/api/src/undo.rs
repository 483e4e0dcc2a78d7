use crate::{Api, ApiError, call::guarded};
use serde::Deserialize;
use serde_json::json;
use windfall_logbook::UNDO;

/// Which fact to take back.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Undo {
    /// Its identifier: a correction, a setting aside, an undo or a first word.
    pub id: String,
}

impl Api {
    /// Takes a fact back, so that what it replaced counts again. Nothing is deleted: the identifier of the undo, which
    /// can be undone as well.
    ///
    /// # Errors
    /// When there is no such fact; when the logbook cannot be written.
    pub fn undo(&self, asked: &Undo) -> Result<String, ApiError> {
        guarded(|| {
            let fact = self.fact(&asked.id)?;
            let id = self.follow(fact.clone(), UNDO, json!({}))?;
            self.motors_follow(&fact)?;
            self.hold_as_logged(&fact);
            Ok(id)
        })
    }
}

#[cfg(test)]
mod tests {
    use crate::{AddFact, Api, SetAside, Settings, ShowLog, Undo};
    use serde_json::json;

    #[test]
    fn a_correction_and_a_setting_aside_are_undone_and_shown_in_the_history() {
        let folder = tempfile::tempdir().unwrap();
        let api = Api::new(Settings::default()).with_logbook(folder.path()).unwrap();
        let say = |bearing_deg: f64, replaces: Option<String>| {
            let json = json!({"moment": "lost", "bearing_deg": bearing_deg});
            let [about, name, kind] = ["flight", "heron", "sighting"].map(str::to_owned);
            api.add_fact(&AddFact { about, name, kind, version: 1, replaces, json }).unwrap().id
        };
        let word = || api.show_log(&ShowLog { flight: "heron".into() }).unwrap().words.swap_remove(0);
        let first = say(71.0, None);
        let correction = say(17.0, Some(first.clone()));
        assert_eq!(word().said.fact.id, correction);
        let aside = api.set_aside(&SetAside { id: correction.clone(), why: Some("a bird".into()) }).unwrap();
        assert!(word().set_aside);
        assert!(api.set_aside(&SetAside { id: aside.clone(), why: None }).is_err());
        api.undo(&Undo { id: aside }).unwrap();
        let undone = api.undo(&Undo { id: correction }).unwrap();
        let now = word();
        assert_eq!((&now.said.fact.id, now.set_aside, now.history.len()), (&first, false, 4));
        assert!(now.said.noted_at.is_some());
        api.undo(&Undo { id: undone }).unwrap();
        assert_eq!(word().said.fact.json["bearing_deg"], 17.0);
        assert!(api.undo(&Undo { id: "7".into() }).unwrap_err().message.contains("no fact 7"));
    }
}
