use crate::{Api, ApiError, call::guarded};
use chrono::NaiveDate;
use serde::Deserialize;
use windfall_logbook::{Filter, FlightRow};

/// Which flights of the logbook; what is left out does not narrow the list.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct ListLog {
    /// In the name or any text of the flight, in any case.
    pub text: Option<String>,
    /// Identifier or name of the rocket, in any case.
    pub rocket: Option<String>,
    /// Launched on this day or later.
    pub from: Option<NaiveDate>,
    /// Launched on this day or earlier.
    pub until: Option<NaiveDate>,
}

impl Api {
    /// Flights of the logbook by the time of their launch; those without one come last.
    ///
    /// # Errors
    /// When no logbook is open or it cannot be read.
    pub fn list_log(&self, asked: &ListLog) -> Result<Vec<FlightRow>, ApiError> {
        let ListLog { text, rocket, from, until } = asked.clone();
        guarded(|| Ok(self.open_logbook()?.flights(&Filter { text, rocket, from, until })?))
    }
}
