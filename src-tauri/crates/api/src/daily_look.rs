//! The look at the logbook that the first opening of a day owes it, on a thread of its own.

use crate::{Api, ApiError, Code, locked};
use std::thread::{self, JoinHandle};
use windfall_facts::Sentence;
use windfall_logbook::DailyLook;

/// A look that may still be going on, and what was wrong.
#[derive(Debug, Default)]
pub(crate) struct Looking {
    thread: Option<JoinHandle<Option<ApiError>>>,
    wrong: Option<ApiError>,
}

impl Looking {
    pub(crate) fn begun(look: Option<DailyLook>) -> Self {
        let thread = look.map(|look| thread::spawn(move || look.look().err().map(ApiError::from)));
        Self { thread, wrong: None }
    }

    /// What was wrong before there was anything to look at.
    pub(crate) fn found(wrong: ApiError) -> Self {
        Self { thread: None, wrong: Some(wrong) }
    }

    /// Takes down what the look found, once it has ended.
    pub(crate) fn ended(&mut self) {
        if let Some(thread) = self.thread.take() {
            self.wrong = thread.join().unwrap_or_else(|_| {
                Some(
                    ApiError::new(Code::Defect, "logbook: looking it over failed")
                        .saying(Sentence::ADefect {}),
                )
            });
        }
    }
}

impl Drop for Looking {
    /// A program that is done before the look is waits for it: else one that is always quick would never make a backup.
    fn drop(&mut self) {
        self.ended();
    }
}

impl Api {
    /// What the look after opening found wrong with the logbook, as far as it has come: that the file is damaged, or that
    /// no backup could be made. The logbook stays in use.
    #[must_use]
    pub fn logbook_warning(&self) -> Option<String> {
        self.daily_look_found().map(|it| it.message)
    }

    pub(crate) fn daily_look_found(&self) -> Option<ApiError> {
        let mut looking = locked(&self.daily_look);
        if looking.thread.as_ref().is_some_and(JoinHandle::is_finished) {
            looking.ended();
        }
        looking.wrong.clone()
    }

    /// The same, once the look has ended.
    #[must_use]
    pub fn logbook_warning_at_last(&self) -> Option<String> {
        let mut looking = locked(&self.daily_look);
        looking.ended();
        looking.wrong.clone().map(|it| it.message)
    }
}

#[cfg(test)]
mod tests {
    use crate::call::tests::{called, turn_a_page_over};
    use crate::{Api, Settings};
    use serde_json::json;
    use std::fs;

    #[test]
    fn a_damaged_logbook_is_told_in_the_next_answer_and_stays_in_use() {
        let folder = tempfile::tempdir().unwrap();
        let open = || Api::new(Settings::default()).with_logbook(folder.path()).unwrap();
        let flight = json!({"format": "windfall-flight/1", "id": "f", "pad": {"lat": 47.5, "lon": 17.3},
            "rocket": {"stages": [{"motor": "C6-5"}]}});
        let api = open();
        let answer = called(&api, "answer_flight", json!({"flight": flight}));
        let usual = answer["warnings"].as_array().unwrap().len();
        drop(api);
        turn_a_page_over(open(), folder.path());
        fs::remove_dir_all(folder.path().join("backups")).unwrap();
        let api = open();
        let said = api.logbook_warning_at_last().unwrap();
        assert!(said.contains("damaged") && said.contains("there is no backup beside it"), "{said}");
        let answer = called(&api, "answer_flight", json!({"flight": flight}));
        assert_eq!(answer["warnings"].as_array().unwrap()[usual..], [json!(said)]);
        assert_eq!(called(&api, "logbook_warning", json!({})), json!(said));
    }

    #[test]
    fn a_logbook_that_cannot_be_opened_is_left_as_it_is_and_said_in_every_answer() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("windfall.sqlite");
        fs::write(&file, "not a logbook at all, but somebody's notes").unwrap();
        let api = Api::new(Settings::default()).with_logbook_or_warning(folder.path());
        let said = api.logbook_warning().unwrap();
        let flight = json!({"format": "windfall-flight/1", "id": "f", "pad": {"lat": 47.5, "lon": 17.3},
            "rocket": {"stages": [{"motor": "C6-5"}]}});
        let answer = called(&api, "answer_flight", json!({"flight": flight}));
        assert!(answer["warnings"].as_array().unwrap().contains(&json!(said)), "{said}");
        assert_eq!(fs::read_to_string(&file).unwrap(), "not a logbook at all, but somebody's notes");
    }
}
