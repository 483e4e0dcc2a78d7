//! Going back to a backup, or beginning anew: the file that cannot be used is kept, byte for byte.

use crate::backup::Backup;
use crate::{Logbook, LogbookError, whole_file};
use chrono::NaiveDate;
use std::fs;
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

/// SQLite keeps what was committed last in a file of this ending beside the file.
const LOG: &str = "-wal";
/// And what it makes anew from that in one of this ending.
const INDEX: &str = "-shm";

impl Logbook {
    /// Puts a copy of a backup in the place of the logbook in `folder`, which nobody may have open; without one the next
    /// opening begins anew. What was there is kept under `aside/`, named after `day`; its path. Whenever this is ended in
    /// the middle, the file that was there or the backup is there under the logbook's name.
    ///
    /// # Errors
    /// When there is no such backup or it is damaged; when the folder cannot be written or the disk is full. The logbook is
    /// as it was then.
    pub fn go_back(folder: &Path, backup: Option<&Backup>, day: NaiveDate) -> Result<PathBuf, LogbookError> {
        let file = folder.join(Self::FILE_NAME);
        if let Some(backup) = backup {
            backup.look()?;
        }
        let told = |source: io::Error| match source.kind() {
            ErrorKind::StorageFull => LogbookError::Full { file: file.clone() },
            ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
                LogbookError::NotWritable { file: file.clone() }
            }
            _ => LogbookError::Folder { folder: folder.to_path_buf(), source },
        };
        let part = beside(&file, ".part");
        let copied = backup.map(|backup| fs::copy(&backup.path, &part)).transpose().map_err(told);
        let gone = copied.and_then(|_| put_aside(&file, day).map_err(told));
        let aside = gone.inspect_err(|_| drop(fs::remove_file(&part)))?;
        // Its log would be replayed into the backup.
        for ending in [LOG, INDEX] {
            removed(&beside(&file, ending)).map_err(told)?;
        }
        match backup {
            Some(_) => whole_file::named(&part, &file).map_err(told)?,
            None => removed(&file).map_err(told)?,
        }
        Ok(aside)
    }
}

/// Keeps the file and its log under another name as well; the new one.
fn put_aside(file: &Path, day: NaiveDate) -> io::Result<PathBuf> {
    let folder = file.with_file_name("aside");
    fs::create_dir_all(&folder)?;
    let named = |number: u32| folder.join(format!("{day}-{number:03}.sqlite"));
    let aside = (1..).map(named).find(|path| !path.exists()).unwrap_or_else(|| named(0));
    // The log first: under the name of the file there is all of it.
    for ending in [LOG, ""] {
        let (from, to) = (beside(file, ending), beside(&aside, ending));
        if from.exists() {
            let part = beside(&to, ".part");
            fs::copy(&from, &part)?;
            whole_file::named(&part, &to)?;
        }
    }
    Ok(aside)
}

fn beside(file: &Path, ending: &str) -> PathBuf {
    let mut name = file.file_name().unwrap_or_default().to_owned();
    name.push(ending);
    file.with_file_name(name)
}

fn removed(file: &Path) -> io::Result<()> {
    match fs::remove_file(file) {
        Err(error) if error.kind() != ErrorKind::NotFound => Err(error),
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::beside;
    use crate::told::{book, day, fact, ground};
    use crate::{Backup, Logbook, LogbookError, PHOTO, about};
    use serde_json::json;
    use std::fs;

    #[test]
    fn a_damaged_logbook_goes_back_to_its_backup_and_is_kept_byte_for_byte_with_its_log() {
        let (folder, mut book) = book();
        let picture = book.keep_photo(b"a fin", "jpg").unwrap();
        book.add(&ground("1", "heron", "Heron", "2026-05-16T10:12:30+02:00")).unwrap();
        book.add(&fact("2", "flight heron", PHOTO, json!({ "file": picture }))).unwrap();
        let backup = Backup::at(book.back_up(day(16)).unwrap());
        drop(book);
        let file = folder.path().join(Logbook::FILE_NAME);
        for number in 1..3 {
            let ruined = format!("somebody's notes, {number}");
            fs::write(&file, &ruined).unwrap();
            fs::write(beside(&file, "-wal"), "what was committed last").unwrap();
            assert!(Logbook::open(folder.path(), day(17)).is_err());
            // As a program that opened it in vain leaves it.
            fs::write(beside(&file, "-wal"), "what was committed last").unwrap();
            let aside = Logbook::go_back(folder.path(), Some(&backup), day(17)).unwrap();
            assert_eq!(aside, folder.path().join(format!("aside/2026-05-17-{number:03}.sqlite")));
            assert_eq!(fs::read_to_string(&aside).unwrap(), ruined);
            assert_eq!(fs::read_to_string(beside(&aside, "-wal")).unwrap(), "what was committed last");
            let mut book = Logbook::open(folder.path(), day(17)).unwrap();
            assert_eq!(book.facts_of(about::FLIGHT, "heron").unwrap().len(), 2);
            // The pictures are where they were.
            assert_eq!(book.check().unwrap(), []);
        }
        assert!(backup.path.is_file());
        assert_eq!(Backup::newest_whole(folder.path()).unwrap().0.path, backup.path);
    }

    #[test]
    fn without_a_backup_it_begins_anew_and_what_was_there_is_kept() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join(Logbook::FILE_NAME);
        fs::write(&file, "somebody's notes").unwrap();
        let aside = Logbook::go_back(folder.path(), None, day(17)).unwrap();
        assert_eq!(fs::read_to_string(aside).unwrap(), "somebody's notes");
        let book = Logbook::open(folder.path(), day(17)).unwrap();
        assert_eq!(book.counted().unwrap(), crate::Counted::default());
    }

    #[test]
    fn a_backup_that_is_damaged_or_not_there_replaces_nothing() {
        let (folder, mut book) = book();
        book.add(&ground("1", "heron", "Heron", "2026-05-16T10:12:30+02:00")).unwrap();
        let torn = Backup::at(book.back_up(day(16)).unwrap());
        drop(book);
        let file = folder.path().join(Logbook::FILE_NAME);
        let before = fs::read(&file).unwrap();
        fs::write(&torn.path, b"SQLite format 3\0 and no more").unwrap();
        let none = Backup { path: torn.path.with_file_name("none.sqlite"), made: None };
        for backup in [torn, none] {
            assert!(Logbook::go_back(folder.path(), Some(&backup), day(17)).is_err());
            assert!(fs::read(&file).unwrap() == before && !folder.path().join("aside").exists());
        }
    }

    #[cfg(unix)]
    #[test]
    fn where_nothing_can_be_written_the_logbook_stays_as_it_is() {
        let (folder, mut book) = book();
        book.add(&ground("1", "heron", "Heron", "2026-05-16T10:12:30+02:00")).unwrap();
        let backup = Backup::at(book.back_up(day(16)).unwrap());
        drop(book);
        let file = folder.path().join(Logbook::FILE_NAME);
        fs::write(&file, "somebody's notes").unwrap();
        // In the way, also for who may write everywhere.
        fs::write(folder.path().join("aside"), "").unwrap();
        let error = Logbook::go_back(folder.path(), Some(&backup), day(17)).unwrap_err();
        assert!(matches!(error, LogbookError::Folder { .. }), "{error}");
        assert_eq!(fs::read_to_string(&file).unwrap(), "somebody's notes");
        assert!(!beside(&file, ".part").exists());
    }
}
