//! Backups beside the file: whole copies, one a day and one before each migration, the last ten kept.
//!
//! One is made at a time, also between programs: who makes one holds the file `turn` beside them.

use crate::{Logbook, LogbookError, daily, merge, schema, whole_file};
use chrono::NaiveDate;
use rusqlite::{Connection, OpenFlags, backup};
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

/// How many are kept.
const KEPT: usize = 10;
/// So many pages are copied between two looks at whether someone else writes.
const PAGES: i32 = 1000;

/// One of the backups beside a logbook. Pictures are not in it: they are files that never change, and a logbook that went
/// back to a backup finds them where they are.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Backup {
    /// Its file.
    pub path: PathBuf,
    /// When it was made, if the system tells.
    pub made: Option<SystemTime>,
}

/// What is in a logbook.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counted {
    /// Flights.
    pub flights: usize,
    /// Days on which they were launched.
    pub days: usize,
    /// Pictures that are named.
    pub photos: usize,
}

impl Logbook {
    /// Looks the file over and makes a backup named after `day`; its path. What is damaged would only push out a backup
    /// that is whole.
    ///
    /// # Errors
    /// When the file is damaged, which leaves all backups as they are; when the folder of backups cannot be written or the
    /// disk is full.
    pub fn back_up(&self, day: NaiveDate) -> Result<PathBuf, LogbookError> {
        self.read(|db| daily::look_over(db, &self.file))?;
        make(&self.db, &self.file, day)
    }

    /// What is in it.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn counted(&self) -> Result<Counted, LogbookError> {
        self.read(counted)
    }
}

impl Backup {
    /// All beside the logbook in `folder`, the newest last.
    #[must_use]
    pub fn all(folder: &Path) -> Vec<Self> {
        all_beside(&folder.join(Logbook::FILE_NAME)).into_iter().map(Self::at).collect()
    }

    /// The newest beside the logbook in `folder`, whether it can be opened or not.
    #[must_use]
    pub fn newest(folder: &Path) -> Option<Self> {
        Self::all(folder).pop()
    }

    /// The newest that is whole and that this program can open, and what is in it.
    #[must_use]
    pub fn newest_whole(folder: &Path) -> Option<(Self, Counted)> {
        Self::all(folder).into_iter().rev().find_map(|it| it.look().ok().map(|counted| (it, counted)))
    }

    pub(crate) fn at(path: PathBuf) -> Self {
        let made = fs::metadata(&path).and_then(|about| about.modified()).ok();
        Self { path, made }
    }

    /// Looks it over, as a copy in memory: the file itself is only read. What is in it.
    ///
    /// # Errors
    /// When it is not there, damaged, or a newer program made it.
    pub fn look(&self) -> Result<Counted, LogbookError> {
        let looked = || {
            let copy = merge::read(&self.path)?;
            daily::look_over(&copy, &self.path)?;
            counted(&copy)
        };
        looked().map_err(|error: LogbookError| error.explained(&self.path))
    }
}

fn counted(db: &Connection) -> Result<Counted, LogbookError> {
    let sql = "SELECT (SELECT count(*) FROM flight),
        (SELECT count(DISTINCT substr(launched_at, 1, 10)) FROM flight),
        (SELECT count(DISTINCT json ->> 'file') FROM fact WHERE kind = ?1 AND json_valid(json))";
    let count = |row: &rusqlite::Row<'_>, at| row.get(at).map(|it: u32| it as usize);
    let row = |row: &rusqlite::Row<'_>| {
        Ok(Counted { flights: count(row, 0)?, days: count(row, 1)?, photos: count(row, 2)? })
    };
    Ok(db.query_row(sql, [crate::PHOTO], row)?)
}

fn folder_beside(file: &Path) -> PathBuf {
    file.with_file_name("backups")
}

/// All backups, the newest last: their names sort by day and number.
pub(crate) fn all_beside(file: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder_beside(file)).into_iter().flatten().flatten();
    let mut all: Vec<PathBuf> = entries
        .map(|entry| entry.path())
        .filter(|path| path.extension().is_some_and(|it| it == "sqlite"))
        .collect();
    all.sort();
    all
}

/// The newest that this program can open: a newer program makes backups too.
pub(crate) fn newest_beside(file: &Path) -> Option<PathBuf> {
    let can_open = |path: &PathBuf| {
        let db = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY);
        matches!(
            db.map_err(LogbookError::from).and_then(|db| schema::found(&db)),
            Ok(Some(1..=schema::SCHEMA))
        )
    };
    all_beside(file).into_iter().rfind(can_open)
}

/// Whether there is one of this day already.
pub(crate) fn is_made(file: &Path, day: NaiveDate) -> bool {
    let day = day.to_string();
    let of_day =
        |path: &PathBuf| path.file_name().is_some_and(|name| name.to_string_lossy().starts_with(&day));
    all_beside(file).iter().any(of_day)
}

/// As [`make`], unless there is one of this day.
pub(crate) fn make_daily(
    db: &Connection,
    file: &Path,
    day: NaiveDate,
) -> Result<Option<PathBuf>, LogbookError> {
    let _alone = alone(file)?;
    if is_made(file, day) { Ok(None) } else { copied(db, file, day).map(Some) }
}

/// Copies `db`, which is open on `file`, and lets go of the oldest copies. A copy gets its name when it is whole.
pub(crate) fn make(db: &Connection, file: &Path, day: NaiveDate) -> Result<PathBuf, LogbookError> {
    let _alone = alone(file)?;
    copied(db, file, day)
}

/// Waits until nobody else makes a backup, as long as what is returned is held.
fn alone(file: &Path) -> Result<File, LogbookError> {
    let folder = folder_beside(file);
    let told = |error: io::Error| LogbookError::Backup(format!("{}: {error}", folder.display()));
    fs::create_dir_all(&folder).map_err(told)?;
    let turn = File::options().create(true).append(true).open(folder.join("turn")).map_err(told)?;
    turn.lock().map_err(told)?;
    Ok(turn)
}

fn copied(db: &Connection, file: &Path, day: NaiveDate) -> Result<PathBuf, LogbookError> {
    let folder = folder_beside(file);
    let told = |error: io::Error| LogbookError::Backup(format!("{}: {error}", folder.display()));
    let named = |number: u32| folder.join(format!("{day}-{number:03}.sqlite"));
    let whole = (1..).map(named).find(|path| !path.exists()).unwrap_or_else(|| named(0));
    let part = whole.with_extension("part");
    let copied = copy(db, &part).and_then(|()| whole_file::named(&part, &whole).map_err(told));
    if let Err(error) = copied {
        let _ = fs::remove_file(&part); // half a copy is of no use, and its name says that it is none
        return Err(LogbookError::Backup(error.explained(&part).to_string()));
    }
    let all = all_beside(file);
    for old in &all[..all.len().saturating_sub(KEPT)] {
        let _ = fs::remove_file(old); // one too many does no harm
    }
    Ok(whole)
}

fn copy(db: &Connection, to: &Path) -> Result<(), LogbookError> {
    let _ = fs::remove_file(to); // left by a program that was ended in the middle
    let mut copy = Connection::open(to)?;
    backup::Backup::new(db, &mut copy)?.run_to_completion(PAGES, Duration::ZERO, None)?;
    // One file, with no log beside it.
    copy.pragma_update(None, "journal_mode", "DELETE")?;
    copy.close().map_err(|(_, error)| error)?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::{Backup, Counted, KEPT};
    use crate::told::{book, day, ground, sighting};
    use crate::{Logbook, LogbookError, about};
    use std::fs;

    #[test]
    fn the_first_opening_of_a_day_makes_a_backup_and_the_last_ten_are_kept() {
        let (folder, mut book) = book();
        book.add(&sighting("1", "heron", 71.0)).unwrap();
        assert_eq!(book.backups().len(), 0, "there was nothing to back up when it was made");
        drop(book);
        for number in 17..30 {
            for _ in 0..2 {
                Logbook::open(folder.path(), day(number)).unwrap().looked_at();
            }
        }
        let names: Vec<String> = Logbook::open(folder.path(), day(29))
            .unwrap()
            .backups()
            .iter()
            .map(|path| path.file_name().unwrap().to_str().unwrap().to_owned())
            .collect();
        let expected: Vec<String> = (20..30).map(|number| format!("2026-05-{number}-001.sqlite")).collect();
        assert_eq!((names, KEPT), (expected, 10));
    }

    #[test]
    fn a_backup_is_a_logbook_in_one_file() {
        let (_folder, mut book) = book();
        book.add(&sighting("1", "heron", 71.0)).unwrap();
        let made = book.back_up(day(16)).unwrap();
        assert!(book.back_up(day(16)).unwrap() > made);
        let beside = fs::read_dir(made.parent().unwrap()).unwrap().count();
        assert_eq!(beside, 3, "two backups, and whose turn it is to make one");
        let elsewhere = tempfile::tempdir().unwrap();
        fs::copy(&made, elsewhere.path().join(Logbook::FILE_NAME)).unwrap();
        let restored = Logbook::open(elsewhere.path(), day(16)).unwrap();
        assert_eq!(restored.facts_of(about::FLIGHT, "heron").unwrap(), [sighting("1", "heron", 71.0)]);
    }

    #[test]
    fn a_damaged_logbook_pushes_out_no_backup_and_a_damaged_backup_is_not_offered() {
        let (folder, mut book) = book();
        book.add(&ground("1", "heron", "Heron", "2026-05-16T10:12:30+02:00")).unwrap();
        let good = book.back_up(day(16)).unwrap();
        book.add(&ground("2", "egret", "Egret", "2026-05-17T10:12:30+02:00")).unwrap();
        let torn = book.back_up(day(17)).unwrap();
        let offered = || Backup::newest_whole(folder.path()).map(|(it, counted)| (it.path, counted));
        let counted = |flights, days| Counted { flights, days, photos: 0 };
        assert_eq!(offered(), Some((torn.clone(), counted(2, 2))));
        assert_eq!(book.counted().unwrap(), counted(2, 2));
        let bytes = fs::read(&torn).unwrap();
        fs::write(&torn, &bytes[..bytes.len() / 2]).unwrap();
        assert_eq!(offered(), Some((good, counted(1, 1))));
        assert_eq!(Backup::newest(folder.path()).unwrap().path, torn);

        for number in 0..200 {
            let mut fact = sighting(&format!("3-{number:03}"), "heron", 71.0);
            fact.json = serde_json::json!({ "note": "seen beyond the barley ".repeat(500) });
            book.add(&fact).unwrap();
        }
        drop(book);
        let file = folder.path().join(Logbook::FILE_NAME);
        let mut bytes = fs::read(&file).unwrap();
        let middle = bytes.len() / 2 / 4096 * 4096;
        bytes[middle..middle + 4096].iter_mut().for_each(|byte| *byte = !*byte);
        fs::write(&file, bytes).unwrap();
        let book = Logbook::open(folder.path(), day(18)).unwrap();
        assert!(matches!(book.back_up(day(18)), Err(LogbookError::Damaged { .. })));
        assert_eq!(book.backups().len(), 2);
    }

    #[test]
    fn without_a_daily_backup_the_logbook_is_in_use_and_it_is_told() {
        let (folder, mut book) = book();
        book.add(&sighting("1", "heron", 71.0)).unwrap();
        drop(book);
        fs::write(folder.path().join("backups"), "in the way").unwrap();
        let book = Logbook::open(folder.path(), day(17)).unwrap();
        let said = book.daily_look().unwrap().look().unwrap_err().to_string();
        assert!(said.contains("no backup could be made"), "{said}");
        assert_eq!(book.facts_of(about::FLIGHT, "heron").unwrap().len(), 1);
    }
}
