use crate::logged_flight::logged;
use crate::{Api, ApiError, Code, call::guarded, keep, photos};
use windfall_facts::{Answer, Flight, Sentence};
use windfall_logbook::exchange::{self, ExchangeError, Format, archive};
use windfall_logbook::{Filter, Logbook, about};

impl Api {
    /// A flight, with what its last answer says if there is one, as the text of a file.
    ///
    /// `to` is the name of the file, or the word for its format: flight, gpx, kml, geojson, csv.
    ///
    /// # Errors
    /// When the format is not known or holds no single flight.
    pub fn export_file(
        &self,
        flight: &Flight,
        answer: Option<&Answer>,
        to: &str,
    ) -> Result<String, ApiError> {
        guarded(|| Ok(exchange::write(Format::of(to)?, flight, answer)?))
    }

    /// All flights of the logbook in one file: as a table for a spreadsheet, a row each (`csv`), or on a map (`gpx`, `kml`,
    /// `geojson`). `to` as in [`Api::export_file`].
    ///
    /// # Errors
    /// When no logbook is open or it cannot be read; when the format is not known or holds one flight only.
    pub fn export_all(&self, to: &str) -> Result<String, ApiError> {
        guarded(|| {
            let format = Format::of(to)?;
            let book = self.open_logbook()?;
            let mut rows = Vec::new();
            for row in book.flights(&Filter::default())? {
                if let Some(logged) = logged(&book, &row.name)? {
                    rows.push((logged.flight, last_answer(&book, &row.name)?));
                }
            }
            let rows: Vec<_> = rows.iter().map(|(flight, answer)| (flight, answer.as_ref())).collect();
            Ok(exchange::write_all(format, &rows)?)
        })
    }

    /// A flight of the logbook, with its last answer, as the text of a file; `to` as in [`Api::export_file`]. Every piece of
    /// evidence has an identifier in it: one that is corrected there and imported again is corrected here.
    ///
    /// # Errors
    /// When no logbook is open, there is no such flight, or the format is not known or holds no single flight.
    pub fn export_logged(&self, flight: &str, to: &str) -> Result<String, ApiError> {
        let answer = last_answer(&*self.open_logbook()?, flight)?;
        self.export_file(&self.logged(flight)?.identified(), answer.as_ref(), to)
    }

    /// The whole logbook as the text of an archive, pictures and all.
    ///
    /// # Errors
    /// When no logbook is open or it cannot be read.
    pub fn export_archive(&self) -> Result<String, ApiError> {
        guarded(|| {
            let book = self.open_logbook()?;
            let facts = book.all_facts()?.into_iter().map(|fact| photos::packed(&book, fact));
            Ok(archive::write(&facts.collect::<Vec<_>>())?)
        })
    }
}

fn last_answer(book: &Logbook, flight: &str) -> Result<Option<Answer>, ApiError> {
    let fact = book.last_in_force(about::FLIGHT, flight, keep::ANSWER)?;
    Ok(fact.and_then(|fact| serde_json::from_value(fact.json).ok()))
}

impl From<ExchangeError> for ApiError {
    fn from(error: ExchangeError) -> Self {
        let code = match error {
            ExchangeError::UnknownFormat { .. } | ExchangeError::CannotHold { .. } => Code::BadRequest,
            _ => Code::BadFlight,
        };
        let message = error.to_string();
        match error {
            ExchangeError::Unreadable { mark, .. } => {
                let (line, column) = (mark.line, mark.column.unwrap_or(1));
                Self::new(code, message).saying(Sentence::UnreadableAt { line, column })
            }
            ExchangeError::Altered { .. } => Self::new(code, message).saying(Sentence::ArchiveAltered {}),
            ExchangeError::UnknownFormat { given } => {
                Self::new(code, message).saying(Sentence::UnknownFile { name: given })
            }
            _ => Self::new(code, message),
        }
    }
}
