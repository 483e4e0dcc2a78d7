use crate::{Api, ApiError, Code, call::guarded, clock};
use serde::{Deserialize, Serialize};
use windfall_facts::Sentence;
use windfall_logbook::{Fact, about};

/// Which flight of the logbook.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShowLog {
    /// Its identifier.
    pub flight: String,
}

/// Everything that was said about a flight.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LogPage {
    /// Its identifier.
    pub flight: String,
    /// Each first word with its history, in the order noted.
    pub words: Vec<PageWord>,
}

/// The wording that counts, and how it came to that.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PageWord {
    /// The wording that counts; the first word itself if all of it was taken back.
    #[serde(flatten)]
    pub said: Said,
    /// Kept but not used.
    pub set_aside: bool,
    /// Taken back as a whole.
    pub taken_back: bool,
    /// Every other fact about it, in the order noted: the first word, corrections, settings aside, undos.
    pub history: Vec<Said>,
}

/// A fact, and when it was noted.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Said {
    /// RFC 3339, UTC, by the clock of the device; null if the identifier does not tell.
    pub noted_at: Option<String>,
    /// What was said.
    #[serde(flatten)]
    pub fact: Fact,
}

impl Said {
    fn of(fact: Fact) -> Self {
        Self { noted_at: clock::noted_at(&fact.id), fact }
    }
}

impl Api {
    /// What was said about a flight, with the history of corrections.
    ///
    /// # Errors
    /// When no logbook is open, it cannot be read or holds nothing about this flight.
    pub fn show_log(&self, asked: &ShowLog) -> Result<LogPage, ApiError> {
        guarded(|| {
            let flight = &asked.flight;
            let words = self.open_logbook()?.words_of(about::FLIGHT, flight)?;
            if words.is_empty() {
                let none = Sentence::NoFlightInLogbook { flight: flight.clone() };
                return Err(ApiError::said(Code::NotFound, none));
            }
            let page = |word: windfall_logbook::Word| PageWord {
                said: Said::of(word.fact),
                set_aside: word.set_aside,
                taken_back: word.taken_back,
                history: word.history.into_iter().map(Said::of).collect(),
            };
            Ok(LogPage { flight: flight.clone(), words: words.into_iter().map(page).collect() })
        })
    }
}
