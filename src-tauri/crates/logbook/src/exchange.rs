//! The formats in which a flight comes and goes: pure functions between text and facts. No SQL, no files, no clock.
//!
//! A map file (GPX, KML, GeoJSON, the finds of a CSV file) is read into a [`Drawing`] and written from one, so that
//! each format is one spelling of the same thing. [`outgoing::drawing_of`] makes the drawing of a flight,
//! [`incoming::offer`] says what a drawing has to give to a flight. A file is read whole or not at all.

pub mod archive;
pub mod csv;
mod drawing;
mod error;
pub mod flight_file;
pub mod geo_uri;
pub mod geojson;
pub mod gpx;
pub mod incoming;
mod json;
pub mod kml;
pub mod map_extract;
pub mod outgoing;
#[cfg(test)]
mod tests;
pub mod weather;
mod xml;

pub use drawing::{About, Drawing, Item, Role, Shape, Spot};
pub use error::{ExchangeError, Mark};

use core::fmt;
use windfall_facts::{Answer, Flight, Sentence};

/// A day of walking at one point a second is a few megabytes.
const MOST_BYTES: usize = 32 * 1024 * 1024;

/// A format of files.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Format {
    /// One flight, whole (`windfall-flight/1`).
    FlightFile,
    /// GPX 1.1; 1.0 is read.
    Gpx,
    /// KML 2.2.
    Kml,
    /// GeoJSON, RFC 7946.
    GeoJson,
    /// CSV, RFC 4180.
    Csv,
    /// A whole logbook (`windfall-archive/1`).
    Archive,
    /// An extract of an open map; read by [`map_extract::read`] only.
    OsmXml,
}

impl Format {
    /// All that flights come and go in.
    pub const ALL: [Self; 6] =
        [Self::FlightFile, Self::Gpx, Self::Kml, Self::GeoJson, Self::Csv, Self::Archive];

    /// The word for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::FlightFile => "flight",
            Self::Gpx => "gpx",
            Self::Kml => "kml",
            Self::GeoJson => "geojson",
            Self::Csv => "csv",
            Self::Archive => "archive",
            Self::OsmXml => "osm",
        }
    }

    /// How the names of its files end.
    #[must_use]
    pub fn extension(self) -> &'static str {
        match self {
            Self::FlightFile => "json",
            Self::Archive => "jsonl",
            other => other.word(),
        }
    }

    /// The format a word or a file name names: `gpx`, `walk.gpx`.
    ///
    /// # Errors
    /// When neither the word nor the ending is known.
    pub fn of(word_or_name: &str) -> Result<Self, ExchangeError> {
        let lower = word_or_name.to_lowercase();
        let ending = lower.rsplit_once('.').map(|(_, ending)| ending);
        Self::ALL
            .into_iter()
            .find(|format| lower == format.word() || ending == Some(format.extension()))
            .ok_or_else(|| ExchangeError::UnknownFormat { given: word_or_name.to_owned() })
    }

    fn words() -> String {
        let words = Self::ALL.map(|format| format!("{} (*.{})", format.word(), format.extension()));
        words.join(", ")
    }
}

impl fmt::Display for Format {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(match self {
            Self::FlightFile => "flight file",
            Self::Gpx => "GPX",
            Self::Kml => "KML",
            Self::GeoJson => "GeoJSON",
            Self::Csv => "CSV",
            Self::Archive => "archive",
            Self::OsmXml => "OSM XML",
        })
    }
}

/// What a file brought.
#[derive(Clone, Debug, PartialEq)]
pub enum Brought {
    /// A whole flight.
    Flight(Box<Flight>),
    /// Places, paths and areas, for [`incoming::offer`].
    Drawing(Drawing),
}

/// Reads one file, whole or not at all.
///
/// # Errors
/// Names the line and the field of the first thing that cannot be used. An archive has its own reader,
/// [`archive::read`].
pub fn read(format: Format, bytes: &[u8]) -> Result<Brought, ExchangeError> {
    let text = text_in(format, bytes)?;
    match format {
        Format::FlightFile => flight_file::read(text).map(Box::new).map(Brought::Flight),
        Format::Gpx => gpx::read(text).map(Brought::Drawing),
        Format::Kml => kml::read(text).map(Brought::Drawing),
        Format::GeoJson => geojson::read(text).map(Brought::Drawing),
        Format::Csv => csv::read_finds(text).map(Brought::Drawing),
        Format::Archive => Err(ExchangeError::cannot_hold(format, Sentence::MergedNotRead {})),
        Format::OsmXml => Err(ExchangeError::cannot_hold(format, Sentence::MapIntoField {})),
    }
}

/// Writes one flight, with what its last answer says if there is one.
///
/// # Errors
/// When the format cannot hold it. An archive has its own writer, [`archive::write`].
pub fn write(format: Format, flight: &Flight, answer: Option<&Answer>) -> Result<String, ExchangeError> {
    let drawing = || outgoing::drawing_of(flight, answer);
    match format {
        Format::FlightFile => flight_file::write(flight),
        Format::Gpx => gpx::write(&drawing()),
        Format::Kml => kml::write(&drawing()),
        Format::GeoJson => geojson::write(&drawing()),
        Format::Csv => csv::write_finds(&[flight]),
        Format::Archive => {
            Err(ExchangeError::cannot_hold(format, "a whole logbook is written, not one flight"))
        }
        Format::OsmXml => Err(ExchangeError::cannot_hold(format, "it is read only")),
    }
}

/// Writes what is known of all `flights`, each with its last answer, if it has one, into one file: a table (CSV), or places,
/// walks and fields on a map (GPX, KML, GeoJSON).
///
/// # Errors
/// When the format holds one flight only, or facts instead of flights.
pub fn write_all(format: Format, flights: &[(&Flight, Option<&Answer>)]) -> Result<String, ExchangeError> {
    let drawing = || outgoing::drawing_of_all(flights.iter().map(|(flight, _)| *flight));
    match format {
        Format::Gpx => gpx::write(&drawing()),
        Format::Kml => kml::write(&drawing()),
        Format::GeoJson => geojson::write(&drawing()),
        Format::Csv => csv::write_flights(flights),
        Format::FlightFile | Format::Archive | Format::OsmXml => {
            let why = "it does not hold all flights; allowed are gpx, kml, geojson, csv";
            Err(ExchangeError::cannot_hold(format, why))
        }
    }
}

/// The text of a file: UTF-8, with or without a byte order mark.
///
/// # Errors
/// When it is too large, or names the line that is not UTF-8.
pub fn text_in(format: Format, bytes: &[u8]) -> Result<&str, ExchangeError> {
    let whole = matches!(format, Format::Archive);
    if bytes.len() > MOST_BYTES && !whole {
        return Err(ExchangeError::TooLarge { format, bytes: bytes.len(), allowed: MOST_BYTES });
    }
    let text = core::str::from_utf8(bytes).map_err(|error| {
        let before = String::from_utf8_lossy(&bytes[..error.valid_up_to()]);
        let message = "it is not UTF-8, the only encoding that is read; save it as UTF-8".into();
        ExchangeError::Unreadable { format, mark: Mark::at(&before, before.len()), message }
    })?;
    Ok(if whole { text } else { text.strip_prefix('\u{feff}').unwrap_or(text) })
}
