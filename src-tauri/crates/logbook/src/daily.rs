use crate::{Logbook, LogbookError, backup, book};
use chrono::NaiveDate;
use rusqlite::{Connection, OpenFlags};
use std::path::{Path, PathBuf};

/// The look at a logbook that the first opening of a day owes it, and the backup. Both take the longer the more is in it,
/// so they are done on a thread of their own, with a connection of their own, while the logbook is in use.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DailyLook {
    pub(crate) file: PathBuf,
    pub(crate) day: NaiveDate,
}

impl DailyLook {
    /// Looks the file over and, if it is sound, makes a backup of what was looked at; its path. None if another program
    /// made one meanwhile. Nothing is written to the logbook.
    ///
    /// # Errors
    /// When the file is damaged, which leaves all backups as they are; when the backup cannot be made.
    pub fn look(&self) -> Result<Option<PathBuf>, LogbookError> {
        self.looked().map_err(|error| error.explained(&self.file))
    }

    fn looked(&self) -> Result<Option<PathBuf>, LogbookError> {
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let mut db = Connection::open_with_flags(&self.file, flags)?;
        db.busy_timeout(book::PATIENCE)?;
        // One transaction, so that what is noted meanwhile neither disturbs the copy nor begins it anew.
        let held = db.transaction()?;
        look_over(&held, &self.file)?;
        let made = backup::make_daily(&held, &self.file, self.day)?;
        held.rollback()?;
        Ok(made)
    }
}

/// Refuses a file whose pages do not fit together.
pub(crate) fn look_over(db: &Connection, file: &Path) -> Result<(), LogbookError> {
    let said: String = db.query_row("PRAGMA quick_check(1)", [], |row| row.get(0))?;
    if said == "ok" { Ok(()) } else { Err(LogbookError::damaged(file, &said)) }
}

impl Logbook {
    /// [`Logbook::daily_look`] at once, for tests that look at what it leaves.
    #[cfg(test)]
    pub(crate) fn looked_at(self) -> Self {
        self.daily_look().map(|look| look.look().unwrap());
        self
    }
}

#[cfg(test)]
mod tests {
    use crate::told::{book, day, sighting};
    use crate::{Logbook, about};

    #[test]
    fn the_logbook_is_in_use_while_it_is_looked_at_and_the_backup_is_of_one_moment() {
        let (folder, mut book) = book();
        for number in 0..400 {
            let mut fact = sighting(&format!("{number:04}"), "heron", 71.0);
            fact.json = serde_json::json!({ "note": "seen beyond the barley ".repeat(500) });
            book.add(&fact).unwrap();
        }
        drop(book);
        let mut book = Logbook::open(folder.path(), day(17)).unwrap();
        let look = book.daily_look().unwrap();
        let looking = std::thread::spawn(move || look.look());
        let mut noted = 0;
        while !looking.is_finished() {
            book.add(&sighting(&format!("1-{noted:05}"), "egret", 1.0)).unwrap();
            noted += 1;
        }
        let made = looking.join().unwrap().unwrap().unwrap();
        assert!(noted > 0);
        assert_eq!(book.daily_look(), None);
        assert_eq!(book.facts_of(about::FLIGHT, "egret").unwrap().len(), noted);
        let elsewhere = tempfile::tempdir().unwrap();
        std::fs::copy(&made, elsewhere.path().join(Logbook::FILE_NAME)).unwrap();
        let mut copy = Logbook::open(elsewhere.path(), day(17)).unwrap();
        assert_eq!(copy.check().unwrap(), []);
        assert_eq!(copy.facts_of(about::FLIGHT, "heron").unwrap().len(), 400);
        assert!(copy.facts_of(about::FLIGHT, "egret").unwrap().len() <= noted);
    }

    #[test]
    fn two_looks_at_once_make_one_backup() {
        let (folder, mut book) = book();
        book.add(&sighting("1", "heron", 71.0)).unwrap();
        let looks: Vec<_> = (0..4)
            .map(|_| {
                let look = book.daily_look().unwrap();
                std::thread::spawn(move || look.look().unwrap())
            })
            .collect();
        let made: Vec<_> = looks.into_iter().filter_map(|it| it.join().unwrap()).collect();
        assert_eq!((made.len(), book.backups().len()), (1, 1));
        drop(folder);
    }
}
