//! Schema versions, and the way from each to the next.

use crate::{LogbookError, projections};
use rusqlite::Connection;

/// Schema version of this program.
pub(crate) const SCHEMA: u32 = 3;

/// Steps of the facts from one `user_version` to the next; what is derived from them is made anew after any step. A
/// step that has landed is never edited.
const MIGRATIONS: [&str; SCHEMA as usize] = [
    "
    CREATE TABLE fact (
        id      TEXT    NOT NULL PRIMARY KEY,
        flight  TEXT    NOT NULL,
        kind    TEXT    NOT NULL,
        version INTEGER NOT NULL,
        json    TEXT    NOT NULL
    ) STRICT, WITHOUT ROWID;
    CREATE INDEX fact_of_flight ON fact (flight, id);
    ",
    // Facts about other things than flights; corrections; and the file itself refuses to change a fact.
    "
    DROP INDEX fact_of_flight;
    ALTER TABLE fact RENAME TO fact_1;
    CREATE TABLE fact (
        id       TEXT    NOT NULL PRIMARY KEY,
        about    TEXT    NOT NULL,
        name     TEXT    NOT NULL,
        kind     TEXT    NOT NULL,
        version  INTEGER NOT NULL,
        replaces TEXT,
        json     TEXT    NOT NULL
    ) STRICT;
    INSERT INTO fact SELECT id, 'flight', flight, kind, version, NULL, json FROM fact_1 ORDER BY id;
    DROP TABLE fact_1;
    CREATE INDEX fact_about ON fact (about, name, id);
    CREATE TRIGGER fact_never_changes BEFORE UPDATE ON fact
        BEGIN SELECT RAISE(ABORT, 'facts never change'); END;
    CREATE TRIGGER fact_never_goes BEFORE DELETE ON fact
        BEGIN SELECT RAISE(ABORT, 'facts are never deleted'); END;
    ",
    // What a flight taught when it was read last, and from which facts: may be made anew at any time. Some files of the
    // second schema have the table already.
    "
    CREATE TABLE IF NOT EXISTS lesson (
        flight TEXT NOT NULL PRIMARY KEY,
        read   TEXT NOT NULL,
        json   TEXT NOT NULL
    ) STRICT, WITHOUT ROWID;
    ",
];

/// The schema version of a file; none if nothing is in it yet.
pub(crate) fn found(db: &Connection) -> Result<Option<u32>, LogbookError> {
    let tables: u32 = db.query_row("SELECT count(*) FROM sqlite_master", [], |row| row.get(0))?;
    let version: u32 = db.pragma_query_value(None, "user_version", |row| row.get(0))?;
    Ok((tables > 0 || version > 0).then_some(version))
}

/// Brings the facts to this program's schema and makes what is derived from them anew, inside the caller's
/// transaction; does nothing to a file that is there already.
pub(crate) fn migrate(change: &Connection) -> Result<(), LogbookError> {
    let found = found(change)?.unwrap_or(0);
    if found == SCHEMA {
        return Ok(());
    }
    for (step, _) in MIGRATIONS.iter().zip(0..).filter(|(_, version)| *version >= found) {
        change.execute_batch(step)?;
    }
    change.pragma_update(None, "user_version", SCHEMA)?;
    projections::rebuild(change)
}

#[cfg(test)]
pub(crate) mod tests {
    use super::SCHEMA;
    use crate::told::day;
    use crate::{Logbook, about};
    use rusqlite::Connection;
    use std::path::{Path, PathBuf};

    /// Every stored file, with its schema version: the second schema landed twice, without lessons and with them.
    const STORED: [(&str, u32); 4] = [("v1", 1), ("v2", 2), ("v2-lessons", 2), ("v3", 3)];

    /// A stored file by its name.
    pub(crate) fn stored(name: &str) -> PathBuf {
        let house = Path::new(env!("CARGO_MANIFEST_DIR")).ancestors().nth(3).unwrap();
        house.join(format!("tests/logbooks/{name}.sqlite"))
    }

    /// (id, thing, kind, version, JSON) of every fact of a file as it is.
    fn rows(file: &Path, version: u32) -> Vec<[String; 5]> {
        let thing = if version == 1 { "'flight ' || flight" } else { "about || ' ' || name" };
        let sql = format!("SELECT id, {thing}, kind, CAST(version AS TEXT), json FROM fact ORDER BY id");
        let db = Connection::open(file).unwrap();
        let mut query = db.prepare(&sql).unwrap();
        let row =
            |row: &rusqlite::Row<'_>| Ok([row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?, row.get(4)?]);
        query.query_map([], row).unwrap().collect::<Result<_, _>>().unwrap()
    }

    #[test]
    fn every_schema_that_landed_migrates_without_loss_and_with_a_backup_first() {
        assert_eq!(STORED.last().map(|it| it.1), Some(SCHEMA), "a new schema is stored");
        for (name, version) in STORED {
            let folder = tempfile::tempdir().unwrap();
            let file = folder.path().join(Logbook::FILE_NAME);
            std::fs::copy(stored(name), &file).unwrap();
            let before = rows(&file, version);
            assert!(before.len() > 10, "{name} has a file with something in it");
            let mut book = Logbook::open(folder.path(), day(16)).unwrap().looked_at();
            assert_eq!(rows(&file, SCHEMA), before, "{name}");
            assert_eq!(book.check().unwrap(), []);
            let backups = book.backups();
            assert_eq!(backups.len(), 1);
            assert_eq!(rows(&backups[0], version), before);
            book.keep_lesson("heron-lost", "read", "{}").unwrap();
        }
    }

    #[test]
    fn flights_of_the_first_schema_are_listed_after_migration() {
        let folder = tempfile::tempdir().unwrap();
        std::fs::copy(stored("v1"), folder.path().join(Logbook::FILE_NAME)).unwrap();
        let book = Logbook::open(folder.path(), day(16)).unwrap();
        let rows = book.flights(&crate::Filter::default()).unwrap();
        let names: Vec<&str> = rows.iter().map(|row| &*row.name).collect();
        assert_eq!(names, ["heron-lost", "whimbrel-two-stage", "fieldfare-came-apart"]);
        // Told twice: what was said last counts, and nothing is lost.
        assert_eq!(rows[0].title.as_deref(), Some("Heron, found by the ditch"));
        assert_eq!(rows[0].found, ["rocket"]);
        assert_eq!(book.facts_of(about::FLIGHT, "heron-lost").unwrap().len(), 7);
    }
}
