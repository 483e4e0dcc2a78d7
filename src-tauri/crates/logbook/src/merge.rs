use crate::book::{insert, project_all, stored};
use crate::fact::Stored;
use crate::{Fact, Logbook, LogbookError, backup, schema};
use rusqlite::{Connection, OpenFlags, OptionalExtension, TransactionBehavior};
use serde::Serialize;
use std::path::Path;

/// What came of a merge.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Merged {
    /// Facts that were not here.
    pub added: usize,
    /// Facts that were here already.
    pub known: usize,
    /// Identifiers under which the two logbooks say different things; ours are kept, theirs were not taken.
    pub differing: Vec<String>,
}

impl Logbook {
    /// Takes in all facts and pictures of another logbook (its folder or its file), all or none; durable on return. The
    /// other is only read. Merging twice changes nothing, and the order of merges does not matter.
    ///
    /// # Errors
    /// When there is none, it is damaged or newer, or ours cannot be written.
    pub fn merge(&mut self, other: &Path) -> Result<Merged, LogbookError> {
        let file = if other.is_dir() { other.join(Self::FILE_NAME) } else { other.to_path_buf() };
        if !file.is_file() {
            return Err(LogbookError::NoneThere(file));
        }
        let theirs = read(&file).map_err(|error| error.explained(&file))?;
        // Before the facts that name them.
        self.take_photos(file.parent().unwrap_or(Path::new(".")))?;
        let taken = (|| {
            let mut all = theirs.prepare(&format!("SELECT {} FROM fact ORDER BY id", Stored::COLUMNS))?;
            let stored = all.query_map([], Stored::of)?;
            self.take(stored)
        })();
        taken.map_err(|error| error.explained(&self.file))
    }

    /// Takes in all facts of an archive, as [`Logbook::merge`] does those of another logbook.
    ///
    /// # Errors
    /// When ours cannot be written.
    pub fn merge_facts(&mut self, facts: &[Fact]) -> Result<Merged, LogbookError> {
        let mut facts: Vec<&Fact> = facts.iter().collect();
        facts.sort_by(|a, b| a.id.cmp(&b.id));
        self.take(facts.into_iter().map(|fact| Ok(stored(fact)))).map_err(|error| error.explained(&self.file))
    }

    fn take(
        &mut self,
        theirs: impl Iterator<Item = rusqlite::Result<Stored>>,
    ) -> Result<Merged, LogbookError> {
        let change = self.db.transaction_with_behavior(TransactionBehavior::Immediate)?;
        let mut merged = Merged::default();
        let mut things = Vec::new();
        for fact in theirs {
            let fact = fact?;
            let same: Option<bool> = change
                .prepare_cached(
                    "SELECT (about, name, kind, version, json) = (?2, ?3, ?4, ?5, ?6) AND replaces IS ?7
                     FROM fact WHERE id = ?1",
                )?
                .query_row(
                    (&fact.id, &fact.about, &fact.name, &fact.kind, fact.version, &fact.json, &fact.replaces),
                    |row| row.get(0),
                )
                .optional()?;
            match same {
                None => {
                    insert(&change, &fact)?;
                    things.push((fact.about, fact.name));
                    merged.added += 1;
                }
                Some(true) => merged.known += 1,
                Some(false) => merged.differing.push(fact.id),
            }
        }
        project_all(&change, things)?;
        change.commit()?;
        Ok(merged)
    }
}

/// The other logbook, copied into memory and brought to this program's schema there.
pub(crate) fn read(file: &Path) -> Result<Connection, LogbookError> {
    let theirs = Connection::open_with_flags(file, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
    theirs.busy_timeout(crate::book::PATIENCE)?;
    match schema::found(&theirs)? {
        None | Some(0) => return Err(LogbookError::damaged(file, "not a logbook")),
        Some(found) if found > schema::SCHEMA => {
            let backup = backup::newest_beside(file);
            return Err(LogbookError::Newer { file: file.into(), found, known: schema::SCHEMA, backup });
        }
        Some(_) => {}
    }
    let mut copy = Connection::open_in_memory()?;
    rusqlite::backup::Backup::new(&theirs, &mut copy)?.run_to_completion(
        1000,
        std::time::Duration::ZERO,
        None,
    )?;
    schema::migrate(&copy)?;
    Ok(copy)
}

#[cfg(test)]
mod tests {
    use crate::told::{book, day, day_without_plan, fact, replacing, sighting};
    use crate::{Fact, Logbook, LogbookError, UNDO, about};
    use serde_json::json;

    fn all(book: &Logbook) -> Vec<Fact> {
        let mut facts: Vec<Fact> =
            (0..6).flat_map(|number| book.facts_of(about::FLIGHT, &format!("f{number}")).unwrap()).collect();
        facts.extend(book.facts_of(about::MOTOR, "C6-5").unwrap());
        facts.extend(book.facts_of(about::FIELD, "quillmere").unwrap());
        facts
    }

    #[test]
    fn merging_twice_changes_nothing_and_the_order_does_not_matter() {
        let ((folder_a, mut a), (folder_b, mut b)) = (book(), book());
        a.add_all(&day_without_plan(5, "a")).unwrap();
        b.add_all(&day_without_plan(6, "b")).unwrap();
        let both = day_without_plan(7, "both");
        a.add_all(&both).unwrap();
        b.add_all(&both).unwrap();
        let merged = a.merge(folder_b.path()).unwrap();
        assert_eq!((merged.added, merged.known, merged.differing.len()), (300, 300, 0));
        let after = all(&a);
        assert_eq!(after.len(), 900);
        let again = a.merge(folder_b.path()).unwrap();
        assert_eq!((again.added, again.known), (0, 600));
        assert_eq!(all(&a), after);
        b.merge(&folder_a.path().join(Logbook::FILE_NAME)).unwrap();
        assert_eq!(all(&b), after);
        let flights = |book: &Logbook| book.flights(&crate::Filter::default()).unwrap();
        assert_eq!(flights(&a), flights(&b));
        assert_eq!((a.check().unwrap(), b.check().unwrap()), (vec![], vec![]));
    }

    #[test]
    fn of_two_corrections_of_one_fact_the_later_identifier_counts_and_both_are_kept() {
        let ((_folder_a, mut a), (folder_b, mut b)) = (book(), book());
        let first = sighting("1", "heron", 71.0);
        a.add_all(&[first.clone(), replacing("1", sighting("3", "heron", 17.0))]).unwrap();
        b.add_all(&[first, replacing("1", sighting("2", "heron", 72.0))]).unwrap();
        a.merge(folder_b.path()).unwrap();
        let counts =
            |book: &Logbook| book.in_force(about::FLIGHT, "heron", "sighting").unwrap().pop().unwrap().id;
        assert_eq!((counts(&a), a.facts_of(about::FLIGHT, "heron").unwrap().len()), ("3".into(), 3));
        a.add(&replacing("3", fact("4", "flight heron", UNDO, json!({})))).unwrap();
        assert_eq!(counts(&a), "2");
    }

    #[test]
    fn one_identifier_with_two_meanings_is_told_and_ours_is_kept() {
        let ((_folder_a, mut a), (folder_b, mut b)) = (book(), book());
        a.add(&sighting("1", "heron", 71.0)).unwrap();
        b.add(&sighting("1", "heron", 72.0)).unwrap();
        assert_eq!(a.merge(folder_b.path()).unwrap().differing, ["1"]);
        assert_eq!(a.facts_of(about::FLIGHT, "heron").unwrap(), [sighting("1", "heron", 71.0)]);
    }

    #[test]
    fn a_logbook_of_the_first_schema_is_merged_and_itself_left_as_it_is() {
        let (_folder, mut book) = book();
        let old = crate::schema::tests::stored("v1");
        let other = tempfile::tempdir().unwrap();
        let file = other.path().join(Logbook::FILE_NAME);
        std::fs::copy(&old, &file).unwrap();
        assert_eq!(book.merge(&file).unwrap().added, 18);
        assert_eq!(std::fs::read(&file).unwrap(), std::fs::read(&old).unwrap());
        assert!(matches!(book.merge(&other.path().join("none")), Err(LogbookError::NoneThere(_))));
        assert_eq!(
            Logbook::open(other.path(), day(17)).unwrap().flights(&crate::Filter::default()).unwrap(),
            book.flights(&crate::Filter::default()).unwrap()
        );
    }
}
