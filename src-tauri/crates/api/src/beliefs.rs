//! What the flights of the logbook taught.

use crate::logged_flight::{Logged, logged};
use crate::{Api, ApiError, call::guarded};
use serde::{Deserialize, Serialize};
use windfall_facts::Flight;
use windfall_inference::{Beliefs, Lesson, MODEL_VERSION, Priors, locate_knowing};
use windfall_logbook::{Filter, about};

/// So many flights that were not read before are read on the way to an answer; the rest wait for [`Api::beliefs`].
const READ_IN_PASSING: usize = 20;

/// Which flight the beliefs are wanted for.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct AskBeliefs {
    /// Name of a flight of the logbook; all rockets, motors and phones in it if none.
    pub flight: Option<String>,
}

/// What is believed, in words.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Believed {
    /// Flights behind it.
    pub flights: usize,
    /// One belief each, with the number of flights behind it.
    pub sentences: Vec<String>,
    /// Flights that could not be read, and why.
    pub unread: Vec<String>,
}

impl Api {
    /// What all flights of the logbook taught, those read now that were not read before. `progress` is told how many of
    /// how many are done.
    ///
    /// # Errors
    /// When no logbook is open, it cannot be read or written, or there is no such flight.
    pub fn beliefs(
        &self,
        asked: &AskBeliefs,
        progress: &mut dyn FnMut(usize, usize),
    ) -> Result<Believed, ApiError> {
        guarded(|| {
            let (lessons, unread) = self.lessons(None, usize::MAX, progress)?;
            let names = match &asked.flight {
                Some(name) => vec![name.clone()],
                None => self.flight_names()?,
            };
            let mut sentences: Vec<String> = Vec::new();
            // The latest flights first: what is said of a rocket now stands before what was said of it once.
            for name in names.iter().rev() {
                let flight = match self.logged_flight(name) {
                    Ok(flight) => flight,
                    Err(error) if asked.flight.is_some() => return Err(error),
                    Err(_) => continue,
                };
                let beliefs = Beliefs::about(&flight, &lessons, &self.priors)?;
                for sentence in beliefs.sentences(&flight, &self.priors) {
                    let is_new = !sentences.contains(&sentence);
                    // Of one day's wind only the flight asked for can say something.
                    if is_new && (asked.flight.is_some() || !sentence.contains("today")) {
                        sentences.push(sentence);
                    }
                }
            }
            Ok(Believed { flights: lessons.len(), sentences, unread })
        })
    }

    /// What the logbook's other flights say about `flight`; nothing without a logbook.
    pub(crate) fn beliefs_about(&self, flight: &Flight) -> Result<Beliefs, ApiError> {
        if self.logbook.is_none() {
            return Ok(Beliefs::default());
        }
        let (lessons, _) = self.lessons(flight.id.as_deref(), READ_IN_PASSING, &mut |_, _| {})?;
        if lessons.is_empty() {
            return Ok(Beliefs::default());
        }
        Ok(Beliefs::about(flight, &lessons, &self.priors)?)
    }

    fn flight_names(&self) -> Result<Vec<String>, ApiError> {
        let rows = self.open_logbook()?.flights(&Filter::default())?;
        Ok(rows.into_iter().map(|row| row.name).collect())
    }

    /// The lessons of all flights with evidence but one, at most `fresh` of them read now; and what could not be read. Each is
    /// read with what the flights before it taught.
    fn lessons(
        &self,
        but: Option<&str>,
        mut fresh: usize,
        progress: &mut dyn FnMut(usize, usize),
    ) -> Result<(Vec<Lesson>, Vec<String>), ApiError> {
        let names = self.flight_names()?;
        // Lessons read under other priors would be others.
        let usual = self.priors == Priors::embedded();
        let (mut lessons, mut unread) = (Vec::new(), Vec::new());
        for (done, name) in names.iter().enumerate() {
            progress(done, names.len());
            if Some(&**name) == but {
                continue;
            }
            let Logged { flight, read } = match logged(&*self.open_logbook()?, name) {
                Ok(Some(logged)) => logged,
                Ok(None) => continue,
                Err(error) => {
                    unread.push(format!("{name}: {error}"));
                    continue;
                }
            };
            if flight.evidence.iter().all(windfall_facts::Evidence::set_aside) {
                continue;
            }
            let read = format!("{MODEL_VERSION} {read}");
            let kept = if usual { self.open_logbook()?.lesson(name, &read)? } else { None };
            if let Some(lesson) = kept.and_then(|it| serde_json::from_value(it).ok()) {
                lessons.push(lesson);
                continue;
            }
            if fresh == 0 {
                continue;
            }
            fresh -= 1;
            // The logbook is not held while a flight is worked out.
            let before = Beliefs::about(&flight, &lessons, &self.priors)?.to_learn_with();
            match locate_knowing(&flight, &self.priors, &before, &self.settings) {
                Ok(cloud) => {
                    let lesson = cloud.lesson();
                    let json = serde_json::to_value(&lesson)
                        .map_err(|error| ApiError::new(crate::Code::Defect, error.to_string()))?;
                    if usual {
                        self.open_logbook()?.keep_lesson(name, &read, &json)?;
                    }
                    lessons.push(lesson);
                }
                Err(error) => unread.push(format!("{name}: {error}")),
            }
        }
        progress(names.len(), names.len());
        for check in self.open_logbook()?.all_in_force(about::PHONE, "heading_check")? {
            if let Some(too_much_deg) = check.json["too_much_deg"].as_f64() {
                lessons.push(Lesson::of_heading_check(&check.name, too_much_deg, &self.priors));
            }
        }
        Ok((lessons, unread))
    }
}
