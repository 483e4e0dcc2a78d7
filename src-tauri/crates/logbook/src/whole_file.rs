//! Files that are there whole or not at all.

use std::fs::{self, File};
use std::io;
use std::path::Path;

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
