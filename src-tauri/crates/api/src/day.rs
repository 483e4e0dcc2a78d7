//! A field day: a folder of flight files. A flight is known by its file name without `.json`.

use crate::{Api, ApiError, Code};
use std::fs;
use std::path::{Path, PathBuf};
use windfall_facts::{Flight, Sentence, read_flight};

impl Api {
    /// Identifier and file of every flight of the day, sorted by name.
    pub(crate) fn files(&self) -> Result<Vec<(String, PathBuf)>, ApiError> {
        let Some(day) = self.day.as_deref() else {
            return if self.all_told().is_empty() && !self.has_logbook() {
                Err(ApiError::said(Code::NotFound, Sentence::NoFieldDayOpen {}))
            } else {
                Ok(Vec::new())
            };
        };
        let entries = fs::read_dir(day).map_err(|error| refused(day, &error))?;
        let mut files = Vec::new();
        for entry in entries {
            let path = entry.map_err(|error| refused(day, &error))?.path();
            let is_flight = path.is_file() && path.extension().is_some_and(|it| it == "json");
            if let (true, Some(id)) = (is_flight, path.file_stem().and_then(|it| it.to_str())) {
                files.push((id.to_owned(), path));
            }
        }
        files.sort();
        Ok(files)
    }

    /// The flight `id` of the day. The identifier is compared with what is there, never made into a path.
    ///
    /// What was told in the hand comes before the file, the file before the logbook.
    pub(crate) fn flight(&self, id: &str) -> Result<Flight, ApiError> {
        if let Some(told) = self.told(id) {
            return Ok(told);
        }
        if let Some((_, path)) = self.files()?.into_iter().find(|(known, _)| known == id) {
            return read_file(&path);
        }
        let unknown = || ApiError::said(Code::NotFound, Sentence::NoFlightInDay { flight: id.into() });
        if self.has_logbook() { self.logged_flight(id).map_err(|_| unknown()) } else { Err(unknown()) }
    }
}

pub(crate) fn read_file(path: &Path) -> Result<Flight, ApiError> {
    let text = fs::read_to_string(path).map_err(|error| refused(path, &error))?;
    Ok(read_flight(&text)?)
}

fn refused(path: &Path, error: &std::io::Error) -> ApiError {
    ApiError::new(Code::NotFound, format!("{}: {error}", path.display()))
}
