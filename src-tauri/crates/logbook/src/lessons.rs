//! What flights taught, kept so that it need not be worked out again. Not a fact: it may be thrown away.

use crate::{Logbook, LogbookError};
use rusqlite::{OptionalExtension, params};
use serde_json::Value;

/// What counts of one flight.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Counting {
    /// Its name.
    pub flight: String,
    /// When it was launched, Unix time.
    pub launched_s: Option<i64>,
    /// Kind and identifier of each fact, in the order their first words were noted.
    pub facts: Vec<(String, String)>,
}

impl Logbook {
    /// How far the logbook has come: a number that rises with every fact that is added, by whomever.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn mark(&self) -> Result<i64, LogbookError> {
        // Facts never go, so that the number of the latest row only rises.
        self.read(|db| Ok(db.query_row("SELECT coalesce(max(rowid), 0) FROM fact", [], |row| row.get(0))?))
    }

    /// The things, as (about, name), of which facts were added after a [`Logbook::mark`].
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn changed_since(&self, mark: i64) -> Result<Vec<(String, String)>, LogbookError> {
        self.read(|db| {
            let mut query = db.prepare_cached("SELECT DISTINCT about, name FROM fact WHERE rowid > ?1")?;
            Ok(query.query_map([mark], |row| Ok((row.get(0)?, row.get(1)?)))?.collect::<Result<_, _>>()?)
        })
    }

    /// Which facts of some `kinds` count, of one flight or of all, without what they say.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn counting(&self, kinds: &[&str], flight: Option<&str>) -> Result<Vec<Counting>, LogbookError> {
        let kinds = Value::from(kinds).to_string();
        self.read(|db| {
            let mut query = db.prepare_cached(
                "SELECT it.name, it.kind, it.fact, flight.launched_s
                 FROM in_force it LEFT JOIN flight ON flight.name = it.name
                 WHERE it.about = 'flight' AND (?1 IS NULL OR it.name = ?1) AND NOT it.set_aside
                   AND it.kind IN (SELECT value FROM json_each(?2))
                 ORDER BY it.name, it.root",
            )?;
            let mut rows = query.query(params![flight, kinds])?;
            let mut all: Vec<Counting> = Vec::new();
            while let Some(row) = rows.next()? {
                let (name, fact): (String, _) = (row.get(0)?, (row.get(1)?, row.get(2)?));
                match all.last_mut().filter(|it| it.flight == name) {
                    Some(last) => last.facts.push(fact),
                    None => all.push(Counting { flight: name, launched_s: row.get(3)?, facts: vec![fact] }),
                }
            }
            Ok(all)
        })
    }

    /// What `flight` taught when it was read as `read` says, as JSON; none if it was never read so.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn lesson(&self, flight: &str, read: &str) -> Result<Option<String>, LogbookError> {
        self.read(|db| {
            let mut query = db.prepare_cached("SELECT json FROM lesson WHERE flight = ?1 AND read = ?2")?;
            Ok(query.query_row([flight, read], |row| row.get(0)).optional()?)
        })
    }

    /// Keeps what `flight` taught, in place of what it taught before.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn keep_lesson(&mut self, flight: &str, read: &str, lesson: &str) -> Result<(), LogbookError> {
        self.write(|change| {
            change.execute(
                "INSERT OR REPLACE INTO lesson (flight, read, json) VALUES (?1, ?2, ?3)",
                params![flight, read, lesson],
            )?;
            Ok(())
        })
    }
}

#[cfg(test)]
mod tests {
    use crate::told::{book, day, fact, ground, replacing, sighting};
    use crate::{Logbook, SET_ASIDE};
    use serde_json::json;

    #[test]
    fn a_lesson_counts_only_for_the_facts_it_was_read_from() {
        let folder = tempfile::tempdir().unwrap();
        let mut book = Logbook::open(folder.path(), day(16)).unwrap();
        book.keep_lesson("heron", "facts 1", "true").unwrap();
        assert_eq!(book.lesson("heron", "facts 1").unwrap(), Some("true".into()));
        assert_eq!(book.lesson("heron", "facts 1, 2").unwrap(), None);
        book.keep_lesson("heron", "facts 1, 2", "false").unwrap();
        assert_eq!(book.lesson("heron", "facts 1").unwrap(), None);
    }

    #[test]
    fn what_another_program_adds_is_seen_as_a_change() {
        let (folder, mut book) = book();
        book.add(&ground("1", "heron", "Heron", "2026-05-16T10:12:30+02:00")).unwrap();
        let mark = book.mark().unwrap();
        assert_eq!(book.changed_since(mark).unwrap(), []);
        let mut other = Logbook::open(folder.path(), day(16)).unwrap();
        // Also an identifier that sorts before those that are there.
        other.add_all(&[sighting("0", "egret", 1.0), sighting("2", "heron", 2.0)]).unwrap();
        let thing = |name: &str| ("flight".to_owned(), name.to_owned());
        assert_eq!(book.changed_since(mark).unwrap(), [thing("egret"), thing("heron")]);
        assert!(book.mark().unwrap() > mark);
    }

    #[test]
    fn what_counts_of_flights_is_listed_without_what_it_says() {
        let (_folder, mut book) = book();
        book.add_all(&[
            ground("1", "heron", "Heron", "1970-01-01T00:01:00+00:00"),
            sighting("2", "heron", 71.0),
            sighting("3", "heron", 72.0),
            replacing("2", sighting("4", "heron", 17.0)),
            replacing("3", fact("5", "flight heron", SET_ASIDE, json!({}))),
            fact("6", "flight heron", "outcome", json!({})),
            sighting("7", "egret", 1.0),
        ])
        .unwrap();
        let kinds = ["flight", "sighting"];
        let all = book.counting(&kinds, None).unwrap();
        let heron = all.iter().find(|it| it.flight == "heron").unwrap();
        let facts: Vec<(&str, &str)> = heron.facts.iter().map(|it| (&*it.0, &*it.1)).collect();
        assert_eq!((facts, heron.launched_s), (vec![("flight", "1"), ("sighting", "4")], Some(60)));
        assert_eq!(all.len(), 2);
        assert_eq!(book.counting(&kinds, Some("heron")).unwrap(), std::slice::from_ref(heron));
    }
}
