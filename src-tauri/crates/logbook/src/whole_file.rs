//! Files that are there whole or not at all.

use std::fs::{self, File};
use std::io;
use std::path::Path;

/// Writes a file beside its place and then puts it there, whatever had the name before.
///
/// # Errors
/// When the disk refuses; then nothing is left behind, and what had the name is as it was.
pub fn written(whole: &Path, text: &[u8]) -> io::Result<()> {
    let mut part = whole.as_os_str().to_owned();
    part.push(".part");
    let part = Path::new(&part);
    let written = fs::write(part, text).and_then(|()| named(part, whole));
    if written.is_err() {
        let _ = fs::remove_file(part);
    }
    written
}

/// Gives a file that is written its name, in the same folder: what is in it is on the disk before the name, and the name
/// on return, where a folder can be synced. A file that had the name is replaced.
pub(crate) fn named(part: &Path, whole: &Path) -> io::Result<()> {
    // Some systems sync only what may be written.
    File::options().write(true).open(part)?.sync_all()?;
    fs::rename(part, whole)?;
    match whole.parent() {
        Some(folder) if cfg!(unix) => File::open(folder)?.sync_all(),
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_cannot_get_its_name_leaves_nothing_behind_and_what_had_it_as_it_was() {
        let folder = tempfile::tempdir().unwrap();
        let taken = folder.path().join("likes.json");
        // No system puts a file in the place of a folder.
        fs::create_dir(&taken).unwrap();
        written(&taken, b"all of it").unwrap_err();
        let there: Vec<_> = fs::read_dir(folder.path()).unwrap().map(|it| it.unwrap().path()).collect();
        assert_eq!(there, std::slice::from_ref(&taken));
        fs::remove_dir(&taken).unwrap();
        written(&taken, b"first").unwrap();
        written(&taken, b"second").unwrap();
        assert_eq!(fs::read(&taken).unwrap(), b"second");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}
