//! The use cases, one file each, on one struct. Window, loopback HTTP and terminal all run these and nothing else.
//!
//! Invariants: facts are stored before anything is computed with them; a panic in one call is an error of that call;
//! the clock is read here and nowhere below.

mod add_evidence;
mod add_fact;
mod answer_flight;
mod append_track;
mod back_up;
mod beliefs;
mod call;
mod check_altimeter;
mod check_fact;
mod check_logbook;
mod clock;
mod cloud;
mod day;
mod error;
mod expected_opening;
mod export_file;
mod import_file;
mod keep;
mod landing_density;
mod light_left;
mod list_flights;
mod list_log;
mod locate_flight;
mod locate_text;
mod logged_flight;
mod merge_logbook;
mod priors;
mod record_find;
mod schema;
mod set_aside;
mod show_flight;
mod show_log;
mod undo;

pub use add_fact::{AddFact, Added};
pub use beliefs::{AskBeliefs, Believed};
mod tell_flight;
mod told;
mod walk_to;

pub use add_evidence::AddEvidence;
pub use answer_flight::AnswerFlight;
pub use append_track::{AppendTrack, Appended};
pub use call::Reply;
pub use check_altimeter::CheckAltimeter;
pub use check_logbook::LogbookCheck;
pub use error::{ApiError, Code};
pub use expected_opening::ExpectedOpening;
pub use import_file::Imported;
pub use landing_density::LandingDensity;
pub use light_left::{Light, LightLeft};
pub use list_flights::{FlightLine, Standing};
pub use list_log::ListLog;
pub use locate_flight::LocateFlight;
pub use locate_text::{LocateText, Located};
pub use priors::{Prior, priors};
pub use record_find::{Piece, RecordFind};
pub use schema::schema;
pub use set_aside::SetAside;
pub use show_flight::ShowFlight;
pub use show_log::{LogPage, PageWord, Said, ShowLog};
pub use tell_flight::{TellFlight, Told};
pub use undo::Undo;
pub use walk_to::WalkTo;
pub use windfall_inference::Settings;
pub use windfall_logbook::{Fact, FlightRow, Merged};

use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};
use windfall_facts::Flight;
use windfall_inference::Priors;
use windfall_logbook::Logbook;

/// Everything Windfall can do, opened on a folder of flights (a field day) and, if asked, a logbook.
#[derive(Debug)]
pub struct Api {
    day: Option<PathBuf>,
    logbook: Option<Mutex<Logbook>>,
    priors: Priors,
    settings: Settings,
    clouds: Mutex<Vec<cloud::Held>>,
    told: Mutex<Vec<Flight>>,
}

impl Api {
    /// With the embedded priors, no field day and no logbook.
    #[must_use]
    pub fn new(settings: Settings) -> Self {
        Self {
            day: None,
            logbook: None,
            priors: Priors::embedded(),
            settings,
            clouds: Mutex::default(),
            told: Mutex::default(),
        }
    }

    /// Opens the folder of flights `day`.
    #[must_use]
    pub fn with_day(mut self, day: &Path) -> Self {
        self.day = Some(day.to_path_buf());
        self
    }

    /// Keeps facts and answers in the logbook in `folder`.
    ///
    /// # Errors
    /// When the logbook cannot be opened.
    pub fn with_logbook(mut self, folder: &Path) -> Result<Self, ApiError> {
        self.logbook = Some(Mutex::new(Logbook::open(folder, clock::today())?));
        Ok(self)
    }

    /// What went wrong when the logbook was opened without keeping it from opening.
    #[must_use]
    pub fn logbook_warning(&self) -> Option<String> {
        self.logbook.as_ref().and_then(|logbook| locked(logbook).warning().map(str::to_owned))
    }

    fn open_logbook(&self) -> Result<MutexGuard<'_, Logbook>, ApiError> {
        let logbook = self.logbook.as_ref();
        logbook
            .map(locked)
            .ok_or_else(|| ApiError::new(Code::NotFound, "no logbook is open: name its folder"))
    }

    /// Uses the rows of `table` in place of the embedded priors.
    ///
    /// # Errors
    /// Names the line that cannot be read.
    pub fn with_priors(mut self, table: &str) -> Result<Self, ApiError> {
        self.priors = Priors::replaced_by(table)
            .map_err(|error| ApiError::new(Code::BadRequest, format!("priors: {error}")))?;
        Ok(self)
    }
}

/// The contents, also if a call panicked while it held the lock: what is guarded here is whole between statements.
fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
