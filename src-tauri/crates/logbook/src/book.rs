//! The open logbook: facts in, facts out.

use crate::fact::Stored;
use crate::in_force::{Line, sort_out};
use crate::{DailyLook, Fact, LogbookError, backup, daily, projections, schema};
use chrono::NaiveDate;
use rusqlite::{Connection, OptionalExtension, Params, TransactionBehavior, params};
use serde::Serialize;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How long to wait for another program that writes.
pub(crate) const PATIENCE: Duration = Duration::from_secs(5);

/// An open logbook.
#[derive(Debug)]
pub struct Logbook {
    pub(crate) db: Connection,
    pub(crate) file: PathBuf,
    day: NaiveDate,
}

/// What counts of one first word, and all that was said about it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Word {
    /// The wording that counts; the first word itself if all of it was taken back.
    pub fact: Fact,
    /// Kept but not used.
    pub set_aside: bool,
    /// Taken back as a whole.
    pub taken_back: bool,
    /// Every other fact about it, in the order noted: the first word, corrections, settings aside, undos.
    pub history: Vec<Fact>,
}

impl Word {
    /// The fact by which it was set aside last, which can be undone; none if it is not set aside.
    #[must_use]
    pub fn set_aside_by(&self) -> Option<&Fact> {
        self.history.iter().rfind(|fact| self.set_aside && fact.kind == crate::SET_ASIDE)
    }

    /// Whether it is to be used.
    #[must_use]
    pub fn counts(&self) -> bool {
        !self.set_aside && !self.taken_back
    }
}

impl Logbook {
    /// Name of the file within its folder.
    pub const FILE_NAME: &'static str = "windfall.sqlite";

    /// Opens the logbook in `folder`, making both if they are not there. `day` is what backups are named after. An opening
    /// that must bring the file to a newer schema looks it over and makes a backup first; what the first opening of a day
    /// owes the file is left to [`Logbook::daily_look`].
    ///
    /// # Errors
    /// When the folder or the file cannot be opened or written, is no logbook, or a newer program wrote it. Nothing is
    /// changed then.
    pub fn open(folder: &Path, day: NaiveDate) -> Result<Self, LogbookError> {
        fs::create_dir_all(folder)
            .map_err(|source| LogbookError::Folder { folder: folder.to_path_buf(), source })?;
        let file = folder.join(Self::FILE_NAME);
        let opened = Self::prepare(Connection::open(&file), &file, day);
        opened.map_err(|error| error.explained(&file))
    }

    fn prepare(db: rusqlite::Result<Connection>, file: &Path, day: NaiveDate) -> Result<Self, LogbookError> {
        let mut db = db?;
        db.busy_timeout(PATIENCE)?;
        match schema::found(&db)? {
            None | Some(schema::SCHEMA) => {}
            Some(0) => return Err(LogbookError::damaged(file, "not a logbook")),
            Some(found) if found > schema::SCHEMA => {
                let backup = backup::newest_beside(file);
                return Err(LogbookError::Newer { file: file.into(), found, known: schema::SCHEMA, backup });
            }
            Some(_) => {
                daily::look_over(&db, file)?;
                backup::make(&db, file, day)?;
            }
        }
        // A commit appends to the log and syncs it, once. A fact is on the disk before the screen says so.
        db.pragma_update(None, "journal_mode", "WAL")?;
        db.pragma_update(None, "synchronous", "FULL")?;
        let change = db.transaction_with_behavior(TransactionBehavior::Immediate)?;
        schema::migrate(&change)?;
        change.commit()?;
        Ok(Self { db, file: file.to_path_buf(), day })
    }

    /// What is still owed to the file today, to be done beside whatever else is done with it; none if there is a backup of
    /// this day, or nothing to back up yet.
    #[must_use]
    pub fn daily_look(&self) -> Option<DailyLook> {
        let facts = self.db.query_row("SELECT EXISTS (SELECT 1 FROM fact)", [], |row| row.get(0));
        // What cannot be read is looked at all the more.
        (facts.unwrap_or(true) && !backup::is_made(&self.file, self.day))
            .then(|| DailyLook { file: self.file.clone(), day: self.day })
    }

    /// Backups beside the file, the newest last.
    #[must_use]
    pub fn backups(&self) -> Vec<PathBuf> {
        backup::all_beside(&self.file)
    }

    /// Adds one fact; durable on return.
    ///
    /// # Errors
    /// When the identifier is taken, what it replaces is not there, or the file cannot be written.
    pub fn add(&mut self, fact: &Fact) -> Result<(), LogbookError> {
        self.add_all(std::slice::from_ref(fact))
    }

    /// Adds all of `facts` or none; durable on return.
    ///
    /// # Errors
    /// As [`Logbook::add`].
    pub fn add_all(&mut self, facts: &[Fact]) -> Result<(), LogbookError> {
        self.write(|change| {
            for fact in facts {
                check_replaces(change, fact)?;
                insert(change, &stored(fact))?;
            }
            project_all(change, facts.iter().map(thing).collect())
        })
    }

    /// The fact with this identifier.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn fact(&self, id: &str) -> Result<Option<Fact>, LogbookError> {
        self.read(|db| Ok(query(db, "WHERE id = ?1", [id])?.pop()))
    }

    /// All facts of the logbook in the order they were noted, for an archive.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn all_facts(&self) -> Result<Vec<Fact>, LogbookError> {
        self.read(|db| query(db, "ORDER BY id", []))
    }

    /// All facts about a thing in the order they were noted, also those that no longer count.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn facts_of(&self, about: &str, name: &str) -> Result<Vec<Fact>, LogbookError> {
        self.read(|db| facts_of(db, about, name))
    }

    /// What counts of one kind about a thing, in the order its wordings were noted; without what is set aside.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn in_force(&self, about: &str, name: &str, kind: &str) -> Result<Vec<Fact>, LogbookError> {
        self.read(|db| {
            query(db, &format!("{IN_FORCE} AND it.name = ?3 ORDER BY fact.id"), [about, kind, name])
        })
    }

    /// What was noted last of that, such as the answer last shown.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn last_in_force(&self, about: &str, name: &str, kind: &str) -> Result<Option<Fact>, LogbookError> {
        let which = format!("{IN_FORCE} AND it.name = ?3 ORDER BY fact.id DESC LIMIT 1");
        self.read(|db| Ok(query(db, &which, [about, kind, name])?.pop()))
    }

    /// What counts of one kind about all things of one sort, sorted by name: permissions of all fields, say.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn all_in_force(&self, about: &str, kind: &str) -> Result<Vec<Fact>, LogbookError> {
        self.read(|db| query(db, &format!("{IN_FORCE} ORDER BY fact.name, fact.id"), [about, kind]))
    }

    /// Everything said about a thing, each first word with its history, in the order the first words were noted.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn words_of(&self, about: &str, name: &str) -> Result<Vec<Word>, LogbookError> {
        let facts = self.facts_of(about, name)?;
        let lines: Vec<Line> = facts
            .iter()
            .map(|it| Line { id: it.id.clone(), kind: it.kind.clone(), replaces: it.replaces.clone() })
            .collect();
        let (standings, _) = sort_out(&lines);
        let word = |standing: crate::in_force::Standing| {
            let shown = standing.current.unwrap_or(standing.root);
            let others = standing.said.iter().filter(|at| **at != shown);
            Word {
                fact: facts[shown].clone(),
                set_aside: standing.set_aside,
                taken_back: standing.current.is_none(),
                history: others.map(|at| facts[*at].clone()).collect(),
            }
        };
        Ok(standings.into_iter().map(word).collect())
    }

    pub(crate) fn read<T>(
        &self,
        work: impl FnOnce(&Connection) -> Result<T, LogbookError>,
    ) -> Result<T, LogbookError> {
        work(&self.db).map_err(|error| error.explained(&self.file))
    }

    /// One transaction: all of `work` or nothing, durable on return.
    pub(crate) fn write<T>(
        &mut self,
        work: impl FnOnce(&Connection) -> Result<T, LogbookError>,
    ) -> Result<T, LogbookError> {
        let file = &self.file;
        let db = &mut self.db;
        let written = (|| {
            let change = db.transaction_with_behavior(TransactionBehavior::Immediate)?;
            let done = work(&change)?;
            change.commit()?;
            Ok(done)
        })();
        written.map_err(|error: LogbookError| error.explained(file))
    }
}

const IN_FORCE: &str =
    "JOIN in_force it ON it.fact = fact.id WHERE it.about = ?1 AND it.kind = ?2 AND NOT it.set_aside";

fn thing(fact: &Fact) -> (String, String) {
    (fact.about.clone(), fact.name.clone())
}

pub(crate) fn stored(fact: &Fact) -> Stored {
    let Fact { id, about, name, kind, version, replaces, json } = fact.clone();
    Stored { id, about, name, kind, version, replaces, json: json.to_string() }
}

fn facts_of(db: &Connection, about: &str, name: &str) -> Result<Vec<Fact>, LogbookError> {
    query(db, "WHERE about = ?1 AND name = ?2 ORDER BY id", [about, name])
}

fn query(db: &Connection, which: &str, values: impl Params) -> Result<Vec<Fact>, LogbookError> {
    let mut query = db.prepare_cached(&format!("SELECT {} FROM fact {which}", Stored::COLUMNS))?;
    let stored: Vec<Stored> = query.query_map(values, Stored::of)?.collect::<Result<_, _>>()?;
    stored.into_iter().map(Stored::read).collect()
}

/// Refuses to replace what is not there, is about something else, or was noted later.
fn check_replaces(change: &Connection, fact: &Fact) -> Result<(), LogbookError> {
    let Some(replaced) = &fact.replaces else { return Ok(()) };
    let (about, name): (String, String) = change
        .prepare_cached("SELECT about, name FROM fact WHERE id = ?1")?
        .query_row([replaced], |row| Ok((row.get(0)?, row.get(1)?)))
        .optional()?
        .ok_or_else(|| LogbookError::NothingToReplace(replaced.clone()))?;
    if (&about, &name) != (&fact.about, &fact.name) {
        return Err(LogbookError::OtherThing { id: replaced.clone(), about, name });
    }
    if *replaced >= fact.id {
        return Err(LogbookError::NotLater { id: fact.id.clone(), replaces: replaced.clone() });
    }
    Ok(())
}

pub(crate) fn insert(change: &Connection, fact: &Stored) -> Result<(), LogbookError> {
    let added = change
        .prepare_cached(
            "INSERT INTO fact (id, about, name, kind, version, replaces, json) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)
             ON CONFLICT (id) DO NOTHING",
        )?
        .execute(params![fact.id, fact.about, fact.name, fact.kind, fact.version, fact.replaces, fact.json])?;
    if added == 1 { Ok(()) } else { Err(LogbookError::Taken(fact.id.clone())) }
}

/// Makes the rows about every one of `things` anew, once each.
pub(crate) fn project_all(
    change: &Connection,
    mut things: Vec<(String, String)>,
) -> Result<(), LogbookError> {
    things.sort();
    things.dedup();
    things.iter().try_for_each(|(about, name)| projections::project(change, about, name))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::told::{book, day, day_without_plan, fact, ground, replacing, sighting};
    use crate::{SET_ASIDE, UNDO, about};
    use serde_json::json;

    #[test]
    fn a_fact_survives_closing_the_logbook() {
        let (folder, mut book) = book();
        let said = sighting("1", "heron", 71.25);
        book.add(&said).unwrap();
        drop(book);
        let book = Logbook::open(folder.path(), day(16)).unwrap();
        assert_eq!(book.facts_of(about::FLIGHT, "heron").unwrap(), [said]);
        assert_eq!(book.facts_of(about::FLIGHT, "egret").unwrap(), []);
    }

    #[test]
    fn numbers_read_back_bit_for_bit() {
        let (_folder, mut book) = book();
        let mut state = 1_u64;
        let degrees: Vec<f64> = (0..2000)
            .map(|_| {
                // Knuth's MMIX generator.
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                (state >> 11) as f64 / (1_u64 << 53) as f64 * 360.0
            })
            .collect();
        let said = fact("1", "flight heron", "track", json!({ "bearings_deg": degrees }));
        book.add(&said).unwrap();
        assert_eq!(book.fact("1").unwrap().unwrap(), said);
    }

    #[test]
    fn a_batch_with_a_taken_identifier_stores_nothing() {
        let (_folder, mut book) = book();
        book.add(&sighting("1", "heron", 71.0)).unwrap();
        let batch = [sighting("2", "heron", 72.0), sighting("1", "heron", 73.0)];
        assert!(matches!(book.add_all(&batch), Err(LogbookError::Taken(id)) if id == "1"));
        assert_eq!(book.facts_of(about::FLIGHT, "heron").unwrap().len(), 1);
    }

    #[test]
    fn the_file_itself_refuses_to_change_or_delete_a_fact() {
        let (_folder, mut book) = book();
        book.add(&sighting("1", "heron", 71.0)).unwrap();
        for (sql, said) in
            [("UPDATE fact SET json = '{}'", "facts never change"), ("DELETE FROM fact", "never deleted")]
        {
            assert!(book.db.execute(sql, []).unwrap_err().to_string().contains(said));
        }
        assert_eq!(book.facts_of(about::FLIGHT, "heron").unwrap(), [sighting("1", "heron", 71.0)]);
    }

    #[test]
    fn every_fact_is_written_through_to_the_disk() {
        let (_folder, book) = book();
        let synchronous: i64 = book.db.pragma_query_value(None, "synchronous", |row| row.get(0)).unwrap();
        assert_eq!(synchronous, 2); // FULL: sqlite.org/pragma.html#pragma_synchronous
    }

    #[test]
    fn a_fact_only_replaces_an_earlier_one_about_the_same_thing() {
        let (_folder, mut book) = book();
        book.add(&sighting("2", "heron", 71.0)).unwrap();
        let said = |book: &mut Logbook, it: Fact| book.add(&it).unwrap_err().to_string();
        assert_eq!(
            said(&mut book, replacing("7", sighting("8", "heron", 1.0))),
            "replaces: no fact 7 in this logbook"
        );
        assert_eq!(
            said(&mut book, replacing("2", sighting("3", "egret", 1.0))),
            "replaces: fact 2 is about flight \"heron\"; a fact replaces one about the same thing"
        );
        assert_eq!(
            said(&mut book, replacing("2", sighting("1", "heron", 1.0))),
            "replaces: 2 does not sort before 1; a fact replaces an earlier one"
        );
    }

    #[test]
    fn a_correction_counts_and_its_history_is_kept() {
        let (_folder, mut book) = book();
        let [first, better] = [sighting("1", "heron", 71.0), replacing("1", sighting("2", "heron", 17.0))];
        let aside = replacing("2", fact("3", "flight heron", SET_ASIDE, json!({"why": "a bird"})));
        for said in [&first, &better, &aside] {
            book.add(said).unwrap();
        }
        assert_eq!(book.in_force(about::FLIGHT, "heron", "sighting").unwrap(), []);
        let history = vec![first.clone(), aside];
        let word = Word { fact: better.clone(), set_aside: true, taken_back: false, history };
        assert_eq!(book.words_of(about::FLIGHT, "heron").unwrap(), [word]);
        book.add(&replacing("3", fact("4", "flight heron", UNDO, json!({})))).unwrap();
        assert_eq!(book.in_force(about::FLIGHT, "heron", "sighting").unwrap(), [better]);
        book.add(&replacing("2", fact("5", "flight heron", UNDO, json!({})))).unwrap();
        assert_eq!(book.in_force(about::FLIGHT, "heron", "sighting").unwrap(), [first]);
    }

    #[test]
    fn what_counts_for_one_thing_is_what_its_history_says() {
        let (_folder, mut book) = book();
        book.add_all(&day_without_plan(3, "a")).unwrap();
        for flight in (0..6).map(|number| format!("f{number}")) {
            let words = book.words_of(about::FLIGHT, &flight).unwrap();
            let mut counted: Vec<Fact> =
                words.iter().filter(|it| it.counts()).map(|it| it.fact.clone()).collect();
            counted.retain(|it| it.kind == "sighting");
            counted.sort_by(|a, b| a.id.cmp(&b.id));
            assert!(!counted.is_empty());
            assert_eq!(book.in_force(about::FLIGHT, &flight, "sighting").unwrap(), counted);
        }
    }

    #[test]
    fn a_kind_nobody_knows_is_kept_and_changes_no_table() {
        let (_folder, mut book) = book();
        book.add(&ground("1", "heron", "Heron", "2026-05-16T10:12:30+02:00")).unwrap();
        let before = book.flights(&crate::Filter::default()).unwrap();
        let new = fact("2", "flight heron", "moon_phase", json!({"phase": ["full", 3]}));
        book.add(&new).unwrap();
        assert_eq!(book.flights(&crate::Filter::default()).unwrap(), before);
        assert_eq!(book.in_force(about::FLIGHT, "heron", "moon_phase").unwrap(), [new]);
    }

    #[test]
    fn facts_about_other_things_are_found_by_kind() {
        let (_folder, mut book) = book();
        let permission = fact("1", "field quillmere", "permission", json!({"until": "2026-09-30"}));
        let other = fact("2", "field brandeck", "permission", json!({"until": null}));
        let renewed = fact("4", "field quillmere", "permission", json!({"until": "2027-09-30"}));
        let field = fact("3", "field quillmere", "field", json!({}));
        book.add_all(&[renewed.clone(), permission.clone(), other.clone(), field]).unwrap();
        let last = book.last_in_force(about::FIELD, "quillmere", "permission").unwrap();
        assert_eq!(last, Some(renewed.clone()));
        assert_eq!(book.all_in_force(about::FIELD, "permission").unwrap(), [other, permission, renewed]);
    }
}
