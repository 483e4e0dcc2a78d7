use crate::backup;
use rusqlite::ErrorCode;
use std::path::{Path, PathBuf};

/// Why the logbook could not do it, and what to do about it. Nothing that was confirmed before is lost by any of
/// these, and nothing is overwritten.
#[derive(Debug, thiserror::Error)]
pub enum LogbookError {
    /// The folder cannot be made.
    #[error("logbook folder {}: {source}: name a folder you may write in", folder.display())]
    Folder {
        /// The folder.
        folder: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// Folder or file may only be read.
    #[error(
        "logbook {}: cannot be written: allow writing in its folder, or name another folder; nothing was changed",
        file.display()
    )]
    NotWritable {
        /// The file.
        file: PathBuf,
    },
    /// No room is left.
    #[error(
        "logbook {}: the disk is full: free some space and note it again; what was confirmed before is kept",
        file.display()
    )]
    Full {
        /// The file.
        file: PathBuf,
    },
    /// Another program holds it.
    #[error("logbook {}: another program is writing: wait for it or close it, then try again", file.display())]
    Busy {
        /// The file.
        file: PathBuf,
    },
    /// The file is not what was written.
    #[error("logbook {}: damaged ({what}); nothing was changed: {}", file.display(), instead(backup.as_deref()))]
    Damaged {
        /// The file.
        file: PathBuf,
        /// What SQLite said.
        what: String,
        /// The newest backup.
        backup: Option<PathBuf>,
    },
    /// A newer program wrote it.
    #[error(
        "logbook {}: written by a newer program (schema {found}, this one knows up to {known}); nothing was changed: \
         use the newer program, or {}", file.display(), instead(backup.as_deref())
    )]
    Newer {
        /// The file.
        file: PathBuf,
        /// Schema version of the file.
        found: u32,
        /// Latest schema version of this program.
        known: u32,
        /// The newest backup.
        backup: Option<PathBuf>,
    },
    /// The backup that must come before a change could not be made.
    #[error("logbook: no backup could be made, so nothing was changed: {0}")]
    Backup(String),
    /// A row holds text that is no JSON.
    #[error("logbook: fact {id} is not readable: {source}")]
    Unreadable {
        /// The fact.
        id: String,
        /// What is wrong with it.
        source: serde_json::Error,
    },
    /// The identifier is taken.
    #[error("id: {0} is the identifier of another fact; each needs its own")]
    Taken(String),
    /// A correction of something that is not there.
    #[error("replaces: no fact {0} in this logbook")]
    NothingToReplace(String),
    /// A correction that says something about another thing.
    #[error("replaces: fact {id} is about {about} \"{name}\"; a fact replaces one about the same thing")]
    OtherThing {
        /// The fact to be replaced.
        id: String,
        /// What it is about.
        about: String,
        /// Which one.
        name: String,
    },
    /// A correction whose identifier does not sort after what it corrects.
    #[error("replaces: {replaces} does not sort before {id}; a fact replaces an earlier one")]
    NotLater {
        /// The correction.
        id: String,
        /// What it would correct.
        replaces: String,
    },
    /// There is no logbook to merge.
    #[error("logbook {}: there is none to merge", .0.display())]
    NoneThere(PathBuf),
    /// The database refused for another reason.
    #[error("logbook: {0}")]
    Store(#[from] rusqlite::Error),
}

/// What to do about a file that cannot be used. Its log must go with it: it would be replayed into the backup.
fn instead(backup: Option<&Path>) -> String {
    let away = "move all files that begin with windfall.sqlite out of the folder";
    match backup {
        Some(backup) => {
            format!("{away}, then copy the newest backup, {}, there as windfall.sqlite", backup.display())
        }
        None => format!("{away} to start anew; there is no backup beside it"),
    }
}

impl LogbookError {
    /// Says of a refusal of the database in `file` what it means to people.
    pub(crate) fn explained(self, file: &Path) -> Self {
        let Self::Store(rusqlite::Error::SqliteFailure(cause, _)) = &self else { return self };
        let file = file.to_path_buf();
        match cause.code {
            ErrorCode::DiskFull => Self::Full { file },
            ErrorCode::ReadOnly | ErrorCode::CannotOpen | ErrorCode::PermissionDenied => {
                Self::NotWritable { file }
            }
            ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked => Self::Busy { file },
            ErrorCode::NotADatabase | ErrorCode::DatabaseCorrupt => {
                Self::damaged(&file, &rusqlite::ffi::Error::to_string(cause))
            }
            _ => self,
        }
    }

    /// What is wrong with the file, and the newest backup beside it.
    pub(crate) fn damaged(file: &Path, what: &str) -> Self {
        Self::Damaged { file: file.to_path_buf(), what: what.into(), backup: backup::newest_beside(file) }
    }
}

#[cfg(test)]
mod tests {
    use crate::told::{book, day, sighting};
    use crate::{Logbook, LogbookError, about};
    use serde_json::json;
    use std::fs;
    use std::path::{Path, PathBuf};
    use tempfile::TempDir;

    /// A closed logbook with some megabytes in it and a backup; its folder, file and backup.
    fn closed() -> (TempDir, PathBuf, PathBuf) {
        let (folder, mut book) = book();
        for number in 0..200 {
            let mut fact = sighting(&format!("{number:03}"), "heron", 71.0);
            fact.json = json!({ "note": "seen beyond the barley ".repeat(500) });
            book.add(&fact).unwrap();
        }
        let backup = book.back_up(day(16)).unwrap();
        drop(book);
        let file = folder.path().join(Logbook::FILE_NAME);
        (folder, file, backup)
    }

    /// Opens on another day; the refusal. The file must be as it was, byte for byte.
    fn refusal(folder: &TempDir, file: &Path) -> LogbookError {
        let before = fs::read(file).unwrap();
        let error = Logbook::open(folder.path(), day(17)).unwrap_err();
        assert!(fs::read(file).unwrap() == before, "the file was touched");
        error
    }

    #[test]
    fn a_logbook_of_a_newer_program_is_left_alone() {
        let (folder, file, backup) = closed();
        let of_newer = backup.with_file_name("2026-05-17-001.sqlite");
        fs::copy(&backup, &of_newer).unwrap();
        for file in [&file, &of_newer] {
            rusqlite::Connection::open(file).unwrap().pragma_update(None, "user_version", 99).unwrap();
        }
        let said = refusal(&folder, &file).to_string();
        assert!(said.contains("schema 99, this one knows up to 3"), "{said}");
        assert!(said.contains("use the newer program") && said.contains(backup.to_str().unwrap()), "{said}");
    }

    #[test]
    fn an_overwritten_header_is_told_with_the_newest_backup() {
        let (folder, file, backup) = closed();
        let mut bytes = fs::read(&file).unwrap();
        bytes[..100].fill(b'?');
        fs::write(&file, bytes).unwrap();
        let said = refusal(&folder, &file).to_string();
        assert!(
            said.contains("damaged") && said.contains("move all files that begin with windfall.sqlite"),
            "{said}"
        );
        assert!(said.contains(backup.to_str().unwrap()), "{said}");
        // As it says.
        fs::remove_file(&file).unwrap();
        fs::copy(&backup, &file).unwrap();
        let restored = Logbook::open(folder.path(), day(17)).unwrap();
        assert_eq!(restored.facts_of(about::FLIGHT, "heron").unwrap().len(), 200);
    }

    #[test]
    fn a_flipped_page_is_found_by_the_look_of_the_day_and_by_a_check() {
        let (folder, file, backup) = closed();
        let mut bytes = fs::read(&file).unwrap();
        let page = usize::from(u16::from_be_bytes([bytes[16], bytes[17]])); // sqlite.org/fileformat2.html, 1.3.2
        let pages = bytes.len() / page;
        let flipped = (pages / 2) * page;
        for byte in &mut bytes[flipped..flipped + page] {
            *byte = !*byte;
        }
        fs::write(&file, bytes).unwrap();
        // The opening trusts the file; the look after the first opening of a day does not, and leaves the backups alone.
        let mut book = Logbook::open(folder.path(), day(17)).unwrap();
        let said = book.daily_look().unwrap().look().unwrap_err().to_string();
        assert!(said.contains("damaged") && said.contains(backup.to_str().unwrap()), "{said}");
        assert_eq!(book.backups(), [backup]);
        assert!(!matches!(book.check(), Ok(wrong) if wrong.is_empty()));
    }

    #[test]
    fn another_programs_database_is_not_taken_over() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join(Logbook::FILE_NAME);
        rusqlite::Connection::open(&file).unwrap().execute_batch("CREATE TABLE cups (n)").unwrap();
        let said = refusal(&folder, &file).to_string();
        assert!(said.contains("not a logbook") && said.contains("there is no backup beside it"), "{said}");
    }

    #[test]
    fn a_full_disk_is_told_and_what_was_confirmed_is_kept() {
        let (_folder, mut book) = book();
        let pages: u32 = book.db.pragma_query_value(None, "page_count", |row| row.get(0)).unwrap();
        book.db.pragma_update(None, "max_page_count", pages + 8).unwrap();
        let mut confirmed = 0;
        let error = loop {
            let mut fact = sighting(&format!("{confirmed:03}"), "heron", 71.0);
            fact.json = json!({ "note": "x".repeat(3000) });
            match book.add(&fact) {
                Ok(()) => confirmed += 1,
                Err(error) => break error,
            }
        };
        assert!(matches!(error, LogbookError::Full { .. }));
        assert!(error.to_string().contains("free some space and note it again"), "{error}");
        assert!(confirmed > 0);
        assert_eq!(book.facts_of(about::FLIGHT, "heron").unwrap().len(), confirmed);
        assert_eq!(book.check().unwrap(), []);
        // Space was freed.
        book.db.pragma_update(None, "max_page_count", 1_000_000).unwrap();
        book.add(&sighting("999", "heron", 71.0)).unwrap();
    }

    #[test]
    fn a_logbook_that_another_program_writes_to_is_told_to_be_busy() {
        let (folder, mut book) = book();
        let other = rusqlite::Connection::open(folder.path().join(Logbook::FILE_NAME)).unwrap();
        other.execute_batch("BEGIN IMMEDIATE").unwrap();
        book.db.busy_timeout(std::time::Duration::from_millis(1)).unwrap();
        assert!(matches!(book.add(&sighting("1", "heron", 1.0)), Err(LogbookError::Busy { .. })));
    }
}
