//! What the flights of the logbook taught.

use crate::{Api, ApiError, Progress, call::guarded};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use std::sync::Arc;
use windfall_facts::{Flight, Sentence};
use windfall_inference::Beliefs;
use windfall_inference::learn::Thing;

/// So many flights that were not read before are read on the way to an answer; the rest wait for [`Api::beliefs`].
const READ_IN_PASSING: usize = 20;

/// Which flight the beliefs are wanted for.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct AskBeliefs {
    /// Name of a flight of the logbook; all rockets, motors and phones in it if none.
    pub flight: Option<String>,
    /// Whether all flights are read anew.
    pub rebuild: bool,
}

/// What is believed, in words.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Believed {
    /// Flights behind it.
    pub flights: usize,
    /// Of these, read now.
    pub read: usize,
    /// One belief each, with the number of flights behind it.
    pub sentences: Vec<String>,
    /// The same with their figures, for other languages and units.
    pub said: Vec<Sentence>,
    /// Flights that could not be read, and why.
    pub unread: Vec<String>,
}

impl Api {
    /// What all flights of the logbook taught, those read now that were not read before, or all of them. `progress` is told
    /// how far the reading has come, and so is [`Api::beliefs_progress`] meanwhile.
    ///
    /// # Errors
    /// When no logbook is open, it cannot be read or written, there is no such flight, or flights are being read already.
    pub fn beliefs(
        &self,
        asked: &AskBeliefs,
        progress: &mut dyn FnMut(Progress),
    ) -> Result<Believed, ApiError> {
        guarded(|| {
            let read = self.read_lessons(None, usize::MAX, asked.rebuild, progress)?;
            let (lessons, unread) = self.lessons_but(None)?;
            let names = match &asked.flight {
                Some(name) => vec![name.clone()],
                // The latest flights first: what is said of a rocket now stands before what was said of it once.
                None => lessons.iter().rev().filter_map(|it| it.flight.clone()).collect(),
            };
            let mut said: Vec<Sentence> = Vec::new();
            let mut spoken_of: BTreeSet<Thing> = BTreeSet::new();
            for name in names {
                // A flight of nothing but things that were spoken of has nothing to add.
                let things = |it: &windfall_inference::Lesson| -> BTreeSet<Thing> {
                    it.message.of.iter().map(|it| it.thing.clone()).chain(it.recovery.clone()).collect()
                };
                let of_it = lessons.iter().find(|it| it.flight.as_deref() == Some(&*name));
                let of_it = of_it.map(|it| things(it)).unwrap_or_default();
                if asked.flight.is_none() && of_it.is_subset(&spoken_of) {
                    continue;
                }
                let flight = match self.logged_flight(&name) {
                    Ok(flight) => flight,
                    Err(error) if asked.flight.is_some() => return Err(error),
                    Err(_) => continue,
                };
                spoken_of.extend(of_it);
                let beliefs = Beliefs::about(&flight, lessons.iter().map(|it| &**it), &self.priors)?;
                for sentence in beliefs.sentences(&flight, &self.priors) {
                    // Of one day's wind only the flight asked for can say something.
                    let of_today = matches!(sentence, Sentence::WindOfToday { .. });
                    if !said.contains(&sentence) && (asked.flight.is_some() || !of_today) {
                        said.push(sentence);
                    }
                }
            }
            let sentences = said.iter().map(Sentence::to_string).collect();
            Ok(Believed { flights: lessons.len(), read, sentences, said, unread })
        })
    }

    /// What the logbook's other flights say about `flight`; nothing without a logbook.
    pub(crate) fn beliefs_about(&self, flight: &Flight) -> Result<Arc<Beliefs>, ApiError> {
        if !self.has_logbook() {
            return Ok(Arc::default());
        }
        let but = flight.id.as_deref();
        self.read_lessons(but, READ_IN_PASSING, false, &mut |_| {})?;
        let (lessons, _) = self.lessons_but(but)?;
        if lessons.is_empty() {
            return Ok(Arc::default());
        }
        self.together(flight, lessons)
    }
}
