use crate::{Api, ApiError};
use serde::Deserialize;
use windfall_logbook::exchange::Format;

/// In which format the whole logbook is taken out.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TakeOut {
    /// `archive`: everything, photos as well; `gpx`, `geojson`, `kml` or `csv`: its flights.
    pub format: String,
    /// Of everything: without the pictures and maps that lie under the fields, which may be large.
    #[serde(default)]
    pub without_maps: bool,
}

impl Api {
    /// The whole logbook, or all its flights, as the bytes of one file.
    ///
    /// # Errors
    /// When no logbook is open or it cannot be read; when the format is not known or holds one flight only.
    pub fn take_out(&self, asked: &TakeOut) -> Result<Vec<u8>, ApiError> {
        let text = match Format::of(&asked.format)? {
            Format::Archive => self.export_archive(!asked.without_maps)?,
            _ => self.export_all(&asked.format)?,
        };
        Ok(text.into_bytes())
    }
}
