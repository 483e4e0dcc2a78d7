//! Pictures: files beside the logbook, named after what is in them, written once and never changed. A fact names one.

use crate::content_name::is_content_name;
use crate::{Logbook, LogbookError, whole_file};
use sha2::{Digest, Sha256};
use std::fs;
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

/// Kind of a fact that names a picture, by its key `file`.
pub const PHOTO: &str = "photo";

/// Endings of the names of pictures.
const ENDINGS: [&str; 3] = ["jpg", "png", "webp"];

impl Logbook {
    /// Keeps a picture whose name shall end so (jpg, png, webp); its name, the same for the same picture. On the disk on
    /// return, as a fact that names it must be able to rely on.
    ///
    /// # Errors
    /// When its folder cannot be written or the disk is full; when the ending is none of a picture.
    pub fn keep_photo(&self, bytes: &[u8], ending: &str) -> Result<String, LogbookError> {
        let name = format!("{}.{ending}", hash(bytes));
        let folder = self.photos();
        let kept = || -> io::Result<()> {
            if !is_content_name(&name, &ENDINGS) {
                return Err(io::Error::new(ErrorKind::InvalidInput, "pictures end in jpg, png or webp"));
            }
            let file = folder.join(&name);
            if file.is_file() {
                return Ok(());
            }
            fs::create_dir_all(&folder)?;
            // Under its name there is all of it or nothing.
            let part = file.with_extension("part");
            fs::write(&part, bytes)?;
            whole_file::named(&part, &file)
        };
        kept().map(|()| name.clone()).map_err(|source| match source.kind() {
            ErrorKind::StorageFull => LogbookError::Full { file: folder.clone() },
            ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
                LogbookError::NotWritable { file: folder.clone() }
            }
            _ => LogbookError::Folder { folder: folder.clone(), source },
        })
    }

    /// The picture of that name; none if it is not there, or not what it was.
    #[must_use]
    pub fn photo(&self, name: &str) -> Option<Vec<u8>> {
        read(&self.photos(), name)
    }

    /// Keeps all pictures of another logbook's folder as well.
    pub(crate) fn take_photos(&self, other: &Path) -> Result<(), LogbookError> {
        let folder = other.join("photos");
        for entry in fs::read_dir(&folder).into_iter().flatten().flatten() {
            let name = entry.file_name().to_string_lossy().into_owned();
            let ending = name.rsplit_once('.').map_or("", |it| it.1);
            if let Some(bytes) = read(&folder, &name) {
                self.keep_photo(&bytes, ending)?;
            }
        }
        Ok(())
    }

    fn photos(&self) -> PathBuf {
        self.file.with_file_name("photos")
    }
}

fn read(folder: &Path, name: &str) -> Option<Vec<u8>> {
    let bytes = is_content_name(name, &ENDINGS).then(|| fs::read(folder.join(name)).ok())??;
    (name.get(..64) == Some(&hash(&bytes))).then_some(bytes)
}

fn hash(bytes: &[u8]) -> String {
    format!("{:x}", Sha256::digest(bytes))
}

#[cfg(test)]
mod tests {
    use crate::told::{book, fact};
    use crate::{LogbookError, PHOTO};
    use serde_json::json;

    #[test]
    fn a_picture_is_kept_once_and_one_that_was_altered_is_none() {
        let (folder, mut book) = book();
        let name = book.keep_photo(b"a fin", "jpg").unwrap();
        assert_eq!(book.keep_photo(b"a fin", "jpg").unwrap(), name);
        assert_eq!(std::fs::read_dir(folder.path().join("photos")).unwrap().count(), 1);
        assert_eq!(book.photo(&name).as_deref(), Some(&b"a fin"[..]));
        book.add(&fact("1", "rocket heron", PHOTO, json!({"file": name}))).unwrap();
        book.add(&fact("2", "rocket heron", PHOTO, json!({"data": "data:image/jpeg;base64,AA=="}))).unwrap();
        assert_eq!(book.check().unwrap(), []);
        std::fs::write(folder.path().join("photos").join(&name), b"a dog").unwrap();
        assert_eq!(book.photo(&name), None);
        let said: Vec<String> = book.check().unwrap().iter().map(ToString::to_string).collect();
        assert_eq!(said, [format!("fact 1 names the picture {name}, which is not there")]);
    }

    #[test]
    fn no_name_leads_out_of_the_folder() {
        let (folder, book) = book();
        std::fs::create_dir_all(folder.path().join("photos")).unwrap();
        std::fs::write(folder.path().join("secret.jpg"), b"a").unwrap();
        for name in ["../secret.jpg", "secret.jpg", "", "/etc/hostname"] {
            assert_eq!(book.photo(name), None, "{name}");
        }
        assert!(matches!(book.keep_photo(b"a", "exe"), Err(LogbookError::Folder { .. })));
    }

    #[test]
    fn pictures_come_along_when_logbooks_are_merged() {
        let ((_ours, mut a), (theirs, mut b)) = (book(), book());
        let name = b.keep_photo(b"a fin", "png").unwrap();
        b.add(&fact("1", "rocket heron", PHOTO, json!({"file": name}))).unwrap();
        for _ in 0..2 {
            a.merge(theirs.path()).unwrap();
            assert_eq!(a.photo(&name).as_deref(), Some(&b"a fin"[..]));
            assert_eq!(a.check().unwrap(), []);
        }
    }
}
