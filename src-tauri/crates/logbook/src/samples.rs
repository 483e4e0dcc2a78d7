use crate::{Fact, Logbook, LogbookError};

/// Facts of a track on their way to the disk: written together, so that a phone held on target does not wait for the
/// disk at every sample. Only what was written counts as kept.
#[derive(Debug, Default)]
pub struct Samples {
    waiting: Vec<Fact>,
    since_s: f64,
}

impl Samples {
    /// Nothing waits longer than this, seconds, if there is a chance to write it five times a second.
    pub const LONGEST_WAIT_S: f64 = 1.0;
    /// What waits as long as this may be late at the next chance.
    const WRITTEN_AFTER_S: f64 = 0.75;

    /// Takes one fact, noted at `now_s` on any steady clock.
    pub fn push(&mut self, fact: Fact, now_s: f64) {
        if self.waiting.is_empty() {
            self.since_s = now_s;
        }
        self.waiting.push(fact);
    }

    /// Writes what waits if it could not wait until the next chance; identifiers of what is durable now.
    ///
    /// # Errors
    /// As [`Samples::flush`].
    pub fn tick(&mut self, now_s: f64, book: &mut Logbook) -> Result<Vec<String>, LogbookError> {
        let waited_s = now_s - self.since_s;
        // A clock that was set back proves nothing, so it counts as late.
        if !(0.0..Self::WRITTEN_AFTER_S).contains(&waited_s) { self.flush(book) } else { Ok(Vec::new()) }
    }

    /// Writes all that waits in one commit; identifiers of what is durable now.
    ///
    /// # Errors
    /// As [`Logbook::add_all`]. What was waiting goes on waiting.
    pub fn flush(&mut self, book: &mut Logbook) -> Result<Vec<String>, LogbookError> {
        if !self.waiting.is_empty() {
            book.add_all(&self.waiting)?;
        }
        Ok(self.waiting.drain(..).map(|fact| fact.id).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::about;
    use crate::told::{book, sighting};

    #[test]
    fn samples_are_written_together_and_none_waits_for_more_than_a_second() {
        let (_folder, mut book) = book();
        let mut samples = Samples::default();
        let mut commits = 0;
        // Five times a second for four seconds.
        for number in 0..20 {
            let now_s = 50.0 + 0.2 * f64::from(number);
            samples.push(sighting(&format!("{number:02}"), "heron", 1.0), now_s);
            let written = samples.tick(now_s, &mut book).unwrap();
            commits += usize::from(!written.is_empty());
            let kept = book.facts_of(about::FLIGHT, "heron").unwrap().len();
            let oldest_waits_s = 0.2 * (f64::from(number) - kept as f64);
            assert!(oldest_waits_s + 0.2 < Samples::LONGEST_WAIT_S + 1e-9, "{number}: {oldest_waits_s}");
        }
        assert_eq!(commits, 4);
        samples.push(sighting("99", "heron", 1.0), 60.0);
        assert_eq!(samples.flush(&mut book).unwrap(), ["99"]);
        assert_eq!(book.facts_of(about::FLIGHT, "heron").unwrap().len(), 21);
    }

    #[test]
    fn samples_that_could_not_be_written_go_on_waiting() {
        let (_folder, mut book) = book();
        let mut samples = Samples::default();
        samples.push(sighting("1", "heron", 1.0), 0.0);
        book.db.pragma_update(None, "query_only", true).unwrap();
        assert!(samples.flush(&mut book).is_err());
        book.db.pragma_update(None, "query_only", false).unwrap();
        // The clock was set back: written at the next chance.
        assert_eq!(samples.tick(-5.0, &mut book).unwrap(), ["1"]);
    }
}
