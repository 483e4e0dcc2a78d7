//! Pictures and tiles under the map of a field: files beside the logbook, each named after what is in it. A fact says
//! which field one belongs to.

use crate::content_name::is_content_name;
use crate::mbtiles::{Tiles, TilesAbout};
use crate::{Logbook, whole_file};
use imagesize::ImageType;
use sha2::{Digest, Sha256};
use std::fs::{self, File, OpenOptions};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use windfall_facts::Sentence;

/// Why a file cannot lie under a map. Nothing of it is kept then, and nothing that was kept is lost.
#[derive(Debug, thiserror::Error)]
pub enum MapFileError {
    /// Larger than a phone can hold.
    #[error("file: {got} {what}; allowed are {allowed}")]
    TooLarge {
        /// How much there is.
        got: u64,
        /// Of what: bytes, dots.
        what: &'static str,
        /// How much there may be.
        allowed: u64,
    },
    /// Nothing of that name.
    #[error("file: nothing called {0:?} is there")]
    NotThere(String),
    /// A part that does not follow what is there.
    #[error("at: {at} does not follow the {there} bytes that are there; begin again with 0")]
    Gap {
        /// Where the part would go.
        at: u64,
        /// How many bytes are there.
        there: u64,
    },
    /// None of the kinds that are read.
    #[error("file: no JPEG, no PNG and no MBTiles file")]
    UnknownKind,
    /// The file of a kind is not as its format says.
    #[error("{field}: {why}")]
    Unreadable {
        /// Which part of it.
        field: String,
        /// What is wrong, and what is allowed.
        why: Box<Sentence>,
    },
    /// The disk refused.
    #[error("file: the disk refused: {0}")]
    Disk(#[from] io::Error),
}

/// What a file turned out to be.
#[derive(Clone, Debug, PartialEq)]
pub enum MapContent {
    /// A picture.
    Picture {
        /// Dots across.
        width_px: u32,
        /// Dots down.
        height_px: u32,
    },
    /// Tiles.
    Tiles(TilesAbout),
}

/// The folder of these files.
#[derive(Clone, Debug)]
pub struct MapFiles {
    folder: PathBuf,
}

/// Of a picture: more is more than a screen shows.
const MOST_PICTURE_BYTES: u64 = 16 * 1024 * 1024;
/// A picture is unpacked to four bytes a dot.
const MOST_DOTS: u64 = 40_000_000;
/// Of tiles: a county at the finest zoom.
const MOST_TILES_BYTES: u64 = 512 * 1024 * 1024;

impl Logbook {
    /// The files under the maps of this logbook's fields.
    #[must_use]
    pub fn map_files(&self) -> MapFiles {
        MapFiles { folder: self.file.with_file_name("maps") }
    }
}

impl MapFiles {
    /// Puts a part of a file behind those that came before it; how many bytes are there now. A part at 0 begins anew.
    ///
    /// # Errors
    /// When the name has more than letters, digits and hyphens, a part is missing, it grows too large, or the disk
    /// refuses.
    pub fn bring(&self, coming: &str, at: u64, part: &[u8]) -> Result<u64, MapFileError> {
        let path = self.coming(coming)?;
        fs::create_dir_all(&self.folder)?;
        let mut file = OpenOptions::new().create(true).truncate(false).write(true).open(path)?;
        if at == 0 {
            file.set_len(0)?;
        }
        let there = file.seek(SeekFrom::End(0))?;
        if there != at {
            return Err(MapFileError::Gap { at, there });
        }
        let got = there + part.len() as u64;
        if got > MOST_TILES_BYTES {
            return Err(MapFileError::TooLarge { got, what: "bytes", allowed: MOST_TILES_BYTES });
        }
        file.write_all(part)?;
        Ok(got)
    }

    /// Looks over a file that has come whole and keeps it; its name from now on, and what it is. On the disk on return.
    ///
    /// # Errors
    /// When nothing came under that name, it is of no kind that is read, too large or not as its format says.
    pub fn keep(&self, coming: &str) -> Result<(String, MapContent), MapFileError> {
        let path = self.coming(coming)?;
        if !path.is_file() {
            return Err(MapFileError::NotThere(coming.into()));
        }
        let kept = self.looked_over(&path);
        if kept.is_err() {
            // What is refused would only take up room; that it cannot be removed changes nothing.
            drop(fs::remove_file(&path));
        }
        kept
    }

    /// All of a file that has come whole and is to be read at once, not kept: it is gone from the folder.
    ///
    /// # Errors
    /// When nothing came under that name or it cannot be read.
    pub fn taken(&self, coming: &str) -> Result<Vec<u8>, MapFileError> {
        let path = self.coming(coming)?;
        if !path.is_file() {
            return Err(MapFileError::NotThere(coming.into()));
        }
        let bytes = fs::read(&path)?;
        fs::remove_file(&path)?;
        Ok(bytes)
    }

    fn looked_over(&self, path: &Path) -> Result<(String, MapContent), MapFileError> {
        let mut file = File::open(path)?;
        let mut head = [0; 16];
        let read = file.read(&mut head)?;
        let (ending, content) = match imagesize::image_type(&head[..read]) {
            Ok(ImageType::Jpeg) => ("jpg", picture(path, &file)?),
            Ok(ImageType::Png) => ("png", picture(path, &file)?),
            _ if head == *b"SQLite format 3\0" => ("mbtiles", MapContent::Tiles(Tiles::open(path)?.about()?)),
            _ => return Err(MapFileError::UnknownKind),
        };
        let mut hash = Sha256::new();
        file.seek(SeekFrom::Start(0))?;
        io::copy(&mut file, &mut hash)?;
        let name = format!("{:x}.{ending}", hash.finalize());
        whole_file::named(path, &self.folder.join(&name))?;
        Ok((name, content))
    }

    /// Whether a file that a fact names is there.
    #[must_use]
    pub fn has(&self, name: &str) -> bool {
        self.kept(name).is_ok()
    }

    /// The bytes of a picture.
    ///
    /// # Errors
    /// When it is not there or cannot be read.
    pub fn picture(&self, name: &str) -> Result<Vec<u8>, MapFileError> {
        Ok(fs::read(self.kept(name)?)?)
    }

    /// The tiles of a file.
    ///
    /// # Errors
    /// When it is not there or cannot be read.
    pub fn tiles(&self, name: &str) -> Result<Tiles, MapFileError> {
        Tiles::open(&self.kept(name)?)
    }

    fn coming(&self, coming: &str) -> Result<PathBuf, MapFileError> {
        let is_plain = |it: char| it.is_ascii_alphanumeric() || it == '-';
        if coming.is_empty() || coming.len() > 64 || !coming.chars().all(is_plain) {
            let why = format!("{coming:?}; allowed are 1 to 64 letters, digits and hyphens");
            return Err(MapFileError::Unreadable { field: "file".into(), why: Sentence::from(why).inside() });
        }
        Ok(self.folder.join(format!("coming-{coming}")))
    }

    /// Only names that [`MapFiles::keep`] gives.
    fn kept(&self, name: &str) -> Result<PathBuf, MapFileError> {
        let is_ours = is_content_name(name, &["jpg", "png", "mbtiles"]);
        let path = self.folder.join(name);
        if is_ours && path.is_file() { Ok(path) } else { Err(MapFileError::NotThere(name.into())) }
    }
}

fn picture(path: &Path, file: &File) -> Result<MapContent, MapFileError> {
    let got = file.metadata()?.len();
    if got > MOST_PICTURE_BYTES {
        return Err(MapFileError::TooLarge { got, what: "bytes", allowed: MOST_PICTURE_BYTES });
    }
    let size = imagesize::size(path).map_err(|error| MapFileError::Unreadable {
        field: "picture".into(),
        why: Sentence::from(format!("its size cannot be read: {error}")).inside(),
    })?;
    let dots = size.width as u64 * size.height as u64;
    if dots > MOST_DOTS {
        return Err(MapFileError::TooLarge { got: dots, what: "dots", allowed: MOST_DOTS });
    }
    let side = |px: usize| u32::try_from(px).unwrap_or(u32::MAX);
    Ok(MapContent::Picture { width_px: side(size.width), height_px: side(size.height) })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn files() -> (tempfile::TempDir, MapFiles) {
        let folder = tempfile::tempdir().unwrap();
        let files = MapFiles { folder: folder.path().join("maps") };
        (folder, files)
    }

    /// The head of a PNG of 3 by 2 dots (PNG, W3C, 5.2 and 11.2.2).
    const PNG: &[u8] = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x03\0\0\0\x02\x08\x02\0\0\0";

    #[test]
    fn a_file_comes_in_parts_and_is_kept_under_what_is_in_it() {
        let (_folder, files) = files();
        assert_eq!(files.bring("a-1", 0, &PNG[..10]).unwrap(), 10);
        assert!(matches!(files.bring("a-1", 12, b"x"), Err(MapFileError::Gap { at: 12, there: 10 })));
        files.bring("a-1", 10, &PNG[10..]).unwrap();
        let (name, content) = files.keep("a-1").unwrap();
        assert_eq!(content, MapContent::Picture { width_px: 3, height_px: 2 });
        assert_eq!(files.picture(&name).unwrap(), PNG);
        assert!(matches!(files.keep("a-1"), Err(MapFileError::NotThere(_))), "it has moved");
        // The same again is the same file.
        files.bring("b", 0, PNG).unwrap();
        assert_eq!(files.keep("b").unwrap().0, name);
    }

    #[test]
    fn what_is_no_picture_is_refused_and_leaves_nothing_behind() {
        let (_folder, files) = files();
        let huge = [&PNG[..16], b"\0\x01\0\0\0\x01\0\0\x08\x02\0\0\0"].concat();
        for (bytes, said) in [
            (&b"GIF89a..........."[..], "no JPEG"),
            (&b"SQLite format 3\0"[..], "MBTiles"),
            (&huge[..], "4294967296 dots"),
        ] {
            files.bring("c", 0, bytes).unwrap();
            let error = files.keep("c").unwrap_err().to_string();
            assert!(error.contains(said), "{error}");
            assert_eq!(fs::read_dir(&files.folder).unwrap().count(), 0);
        }
    }

    #[test]
    fn a_file_that_is_only_read_is_taken_out_of_the_folder() {
        let (_folder, files) = files();
        files.bring("d", 0, b"<gpx").unwrap();
        files.bring("d", 4, b"/>").unwrap();
        assert_eq!(files.taken("d").unwrap(), b"<gpx/>");
        assert!(matches!(files.taken("d"), Err(MapFileError::NotThere(_))));
        assert!(files.taken("../windfall.sqlite").is_err());
    }

    #[test]
    fn no_name_leads_out_of_the_folder() {
        let (_folder, files) = files();
        for name in ["../windfall.sqlite", "", "a/b", "..", &"a".repeat(65)] {
            assert!(files.bring(name, 0, b"x").is_err(), "{name:?}");
            assert!(files.picture(name).is_err(), "{name:?}");
        }
    }
}
