use crate::{Api, ApiError, Code, call::guarded};
use serde::Serialize;
use windfall_facts::{Answer, Flight};
use windfall_logbook::exchange::{self, ExchangeError, Format, archive, csv};

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

    /// All flights as one table for a spreadsheet, a row each.
    ///
    /// # Errors
    /// None that is known of.
    pub fn export_table(&self, flights: &[(&Flight, Option<&Answer>)]) -> Result<String, ApiError> {
        guarded(|| Ok(csv::write_flights(flights)?))
    }

    /// A whole logbook as the text of an archive.
    ///
    /// # Errors
    /// When a fact cannot be written on one line.
    pub fn export_archive<T: Serialize>(&self, facts: &[T]) -> Result<String, ApiError> {
        guarded(|| Ok(archive::write(facts)?))
    }
}

impl From<ExchangeError> for ApiError {
    fn from(error: ExchangeError) -> Self {
        let code = match error {
            ExchangeError::UnknownFormat { .. } | ExchangeError::CannotHold { .. } => Code::BadRequest,
            _ => Code::BadFlight,
        };
        Self::new(code, error.to_string())
    }
}
