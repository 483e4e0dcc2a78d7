//! What was said about each flight, kept for good: the only crate that knows SQL.
//!
//! A fact is a row of (id, flight, kind, version, JSON). The logbook does not look inside the JSON, so a new kind
//! of fact needs no migration. Facts are never changed and never deleted.

pub mod exchange;

use rusqlite::{Connection, Transaction, TransactionBehavior, params};
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Schema version of this program.
const SCHEMA: u32 = 1;

/// Steps from one `user_version` to the next. A step that has been released is never edited.
const MIGRATIONS: [&str; SCHEMA as usize] = ["
    CREATE TABLE fact (
        id      TEXT    NOT NULL PRIMARY KEY,
        flight  TEXT    NOT NULL,
        kind    TEXT    NOT NULL,
        version INTEGER NOT NULL,
        json    TEXT    NOT NULL
    ) STRICT, WITHOUT ROWID;
    CREATE INDEX fact_of_flight ON fact (flight, id);
"];

/// One thing that was said or measured.
#[derive(Clone, Debug, PartialEq)]
pub struct Fact {
    /// Identifier; identifiers sort by the time the fact was noted.
    pub id: String,
    /// The flight it is about.
    pub flight: String,
    /// What kind of thing it is.
    pub kind: String,
    /// Version of the kind.
    pub version: u32,
    /// What it says.
    pub json: Value,
}

/// Why the logbook could not do it.
#[derive(Debug, thiserror::Error)]
pub enum LogbookError {
    /// The folder cannot be made.
    #[error("logbook folder {}: {source}", folder.display())]
    Folder {
        /// The folder.
        folder: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The database refused.
    #[error("logbook: {0}")]
    Store(#[from] rusqlite::Error),
    /// A row holds text that is no JSON.
    #[error("logbook: fact {id} is not readable: {source}")]
    Unreadable {
        /// The fact.
        id: String,
        /// What is wrong with it.
        source: serde_json::Error,
    },
    /// A newer program wrote it.
    #[error("logbook: written by a newer program (schema {found}, this one knows up to {known})")]
    Newer {
        /// Schema version of the file.
        found: u32,
        /// Latest schema version of this program.
        known: u32,
    },
}

/// An open logbook.
#[derive(Debug)]
pub struct Logbook {
    db: Connection,
}

impl Logbook {
    /// Name of the file within its folder.
    pub const FILE_NAME: &'static str = "windfall.sqlite";

    /// Opens the logbook in `folder`, making both if they are not there.
    ///
    /// # Errors
    /// When the folder or the file cannot be opened, or a newer program wrote it.
    pub fn open(folder: &Path) -> Result<Self, LogbookError> {
        fs::create_dir_all(folder)
            .map_err(|source| LogbookError::Folder { folder: folder.to_path_buf(), source })?;
        Self::prepare(Connection::open(folder.join(Self::FILE_NAME))?)
    }

    fn prepare(mut db: Connection) -> Result<Self, LogbookError> {
        db.busy_timeout(Duration::from_secs(5))?;
        // A fact is on the disk before the screen says so.
        db.pragma_update(None, "synchronous", "FULL")?;
        let change = db.transaction_with_behavior(TransactionBehavior::Immediate)?;
        let found: u32 = change.pragma_query_value(None, "user_version", |row| row.get(0))?;
        if found > SCHEMA {
            return Err(LogbookError::Newer { found, known: SCHEMA });
        }
        for (step, _) in MIGRATIONS.iter().zip(0..).filter(|(_, version)| *version >= found) {
            change.execute_batch(step)?;
        }
        change.pragma_update(None, "user_version", SCHEMA)?;
        change.commit()?;
        Ok(Self { db })
    }

    /// Adds one fact; durable on return.
    ///
    /// # Errors
    /// When the identifier is taken or the file cannot be written.
    pub fn add(&mut self, fact: &Fact) -> Result<(), LogbookError> {
        let change = self.db.transaction_with_behavior(TransactionBehavior::Immediate)?;
        insert(&change, fact)?;
        Ok(change.commit()?)
    }

    /// Adds those of `facts` that are not there yet, all or none, and says how many; durable on return.
    ///
    /// Facts of one flight are the same if kind, version and JSON are the same. Two equal facts (two sightings that
    /// read the same) are two facts: each one given is matched with one that is stored.
    ///
    /// # Errors
    /// When the file cannot be read or written.
    pub fn add_missing(&mut self, facts: &[Fact]) -> Result<usize, LogbookError> {
        let change = self.db.transaction_with_behavior(TransactionBehavior::Immediate)?;
        let mut stored: Vec<Fact> = Vec::new();
        let mut loaded: Vec<&str> = Vec::new();
        let mut added = 0;
        for fact in facts {
            if !loaded.contains(&fact.flight.as_str()) {
                loaded.push(&fact.flight);
                stored.extend(select(&change, &fact.flight)?);
            }
            let same = stored.iter().position(|old| {
                (&old.flight, &old.kind, old.version, &old.json)
                    == (&fact.flight, &fact.kind, fact.version, &fact.json)
            });
            if let Some(index) = same {
                stored.swap_remove(index);
            } else {
                insert(&change, fact)?;
                added += 1;
            }
        }
        change.commit()?;
        Ok(added)
    }

    /// Flights with at least one fact, sorted by the time of their first.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn flights(&self) -> Result<Vec<String>, LogbookError> {
        let mut query = self.db.prepare("SELECT flight FROM fact GROUP BY flight ORDER BY MIN(id)")?;
        let flights = query.query_map([], |row| row.get(0))?.collect::<Result<_, _>>()?;
        Ok(flights)
    }

    /// All facts of a flight in the order they were noted.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn facts_of(&self, flight: &str) -> Result<Vec<Fact>, LogbookError> {
        select(&self.db, flight)
    }
}

fn insert(change: &Transaction<'_>, fact: &Fact) -> Result<(), LogbookError> {
    change.execute(
        "INSERT INTO fact (id, flight, kind, version, json) VALUES (?1, ?2, ?3, ?4, ?5)",
        params![fact.id, fact.flight, fact.kind, fact.version, fact.json.to_string()],
    )?;
    Ok(())
}

fn select(db: &Connection, flight: &str) -> Result<Vec<Fact>, LogbookError> {
    let mut query = db.prepare("SELECT id, kind, version, json FROM fact WHERE flight = ?1 ORDER BY id")?;
    let mut rows = query.query([flight])?;
    let mut facts = Vec::new();
    while let Some(row) = rows.next()? {
        let id: String = row.get(0)?;
        let text: String = row.get(3)?;
        let json = serde_json::from_str(&text)
            .map_err(|source| LogbookError::Unreadable { id: id.clone(), source })?;
        facts.push(Fact { id, flight: flight.to_owned(), kind: row.get(1)?, version: row.get(2)?, json });
    }
    Ok(facts)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn fact(id: &str, flight: &str, bearing_deg: f64) -> Fact {
        Fact {
            id: id.into(),
            flight: flight.into(),
            kind: "sighting".into(),
            version: 1,
            json: json!({ "bearing_deg": bearing_deg }),
        }
    }

    #[test]
    fn a_fact_survives_closing_the_logbook() {
        let folder = tempfile::tempdir().unwrap();
        let said = fact("1", "heron", 71.25);
        Logbook::open(folder.path()).unwrap().add(&said).unwrap();
        let book = Logbook::open(folder.path()).unwrap();
        assert_eq!(book.facts_of("heron").unwrap(), [said]);
        assert_eq!(book.facts_of("egret").unwrap(), []);
    }

    #[test]
    fn flights_come_in_the_order_of_their_first_fact() {
        let folder = tempfile::tempdir().unwrap();
        let mut book = Logbook::open(folder.path()).unwrap();
        for said in [fact("2", "egret", 1.0), fact("1", "heron", 2.0), fact("3", "heron", 3.0)] {
            book.add(&said).unwrap();
        }
        assert_eq!(book.flights().unwrap(), ["heron", "egret"]);
    }

    #[test]
    fn the_same_facts_stored_twice_change_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let mut book = Logbook::open(folder.path()).unwrap();
        // Two equal sightings are two facts.
        assert_eq!(book.add_missing(&[fact("1", "heron", 71.0), fact("2", "heron", 71.0)]).unwrap(), 2);
        assert_eq!(book.add_missing(&[fact("3", "heron", 71.0), fact("4", "heron", 71.0)]).unwrap(), 0);
        assert_eq!(book.add_missing(&[fact("5", "heron", 71.0), fact("6", "heron", 72.0)]).unwrap(), 1);
        assert_eq!(book.facts_of("heron").unwrap().len(), 3);
    }

    #[test]
    fn a_batch_with_a_taken_identifier_stores_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let mut book = Logbook::open(folder.path()).unwrap();
        book.add(&fact("1", "heron", 71.0)).unwrap();
        assert!(book.add_missing(&[fact("2", "heron", 72.0), fact("1", "heron", 73.0)]).is_err());
        assert_eq!(book.facts_of("heron").unwrap().len(), 1);
    }

    #[test]
    fn every_fact_is_written_through_to_the_disk() {
        let folder = tempfile::tempdir().unwrap();
        let book = Logbook::open(folder.path()).unwrap();
        let synchronous: i64 = book.db.pragma_query_value(None, "synchronous", |row| row.get(0)).unwrap();
        assert_eq!(synchronous, 2); // FULL: sqlite.org/pragma.html#pragma_synchronous
    }

    #[test]
    fn a_logbook_of_a_newer_program_is_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let book = Logbook::open(folder.path()).unwrap();
        book.db.pragma_update(None, "user_version", 99).unwrap();
        drop(book);
        assert!(matches!(Logbook::open(folder.path()), Err(LogbookError::Newer { found: 99, known: 1 })));
    }
}
