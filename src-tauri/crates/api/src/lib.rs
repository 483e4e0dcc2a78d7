//! The use cases, one file each, on one struct. Window, loopback HTTP and terminal all run these and nothing else.
//!
//! Invariants: facts are stored before anything is computed with them; a panic in one call is an error of that call;
//! the clock is read here and nowhere below.

mod add_evidence;
mod add_fact;
mod answer_flight;
mod append_track;
mod back_up;
mod background;
mod beliefs;
mod call;
mod check_altimeter;
mod check_fact;
mod check_heading;
mod check_logbook;
mod clock;
mod close_flight;
mod cloud;
mod daily_look;
mod day;
mod day_plan;
mod error;
mod expected_opening;
mod export_file;
mod felt_wind;
mod fleet;
mod flown_motors;
mod gone;
mod import_file;
mod import_map;
mod keep;
mod landing_density;
mod lessons;
mod light_left;
mod likes;
mod list_flights;
mod list_log;
mod locate_flight;
mod locate_text;
mod logbook_standing;
mod logged_flight;
mod may_come_down;
mod merge_logbook;
mod note;
mod past;
mod photos;
mod pick_up;
mod position;
mod priors;
mod put_in;
mod read_motor;
mod record_find;
mod restore_backup;
mod rough;
mod rough_answer;
mod schema;
mod set_aside;
mod share;
mod show_flight;
mod show_log;
mod sites;
mod sketch_rocket;
mod take_back_flight;
mod take_out;
mod take_weather;
mod undo;

pub use add_fact::{AddFact, Added};
pub use beliefs::{AskBeliefs, Believed};
pub use lessons::Progress;
mod tell_flight;
mod told;
mod walk_to;
mod watch_fall;
mod wordings;

pub use add_evidence::AddEvidence;
pub use answer_flight::AnswerFlight;
pub use append_track::{AppendTrack, Appended};
pub use background::{
    Background, BringFile, BroughtFile, FitPicture, KeepBackground, KnownPoint, Laid, OneTile, TileLaid,
    TilesOver,
};
pub use call::Reply;
pub use check_altimeter::CheckAltimeter;
pub use check_heading::{CheckHeading, HeadingChecked, OwnShadow, PastCheck, PhoneChecks, PointedAt};
pub use check_logbook::LogbookCheck;
pub use close_flight::{CloseFlight, Closed, Search, SearchAgain};
pub use day_plan::{
    Day, KeepDay, Load, Loaded, OpenFlight, Plan, ReadyFlight, TellWind, ToldWind, WindChange,
};
pub use error::{ApiError, Code};
pub use expected_opening::ExpectedOpening;
pub use fleet::{
    ChangeStock, Fleet, FleetRocket, KeepRocket, Kept, NoteRepair, OnHand, Repair, RetireRocket,
};
pub use flown_motors::FlownMotor;
pub use import_file::Imported;
pub use import_map::{ImportMap, Proposal, Proposals};
pub use landing_density::LandingDensity;
pub use light_left::{Light, LightLeft};
pub use likes::KeepLikes;
pub use list_flights::{FlightLine, Standing};
pub use list_log::ListLog;
pub use locate_flight::LocateFlight;
pub use locate_text::{LocateText, Located};
pub use logbook_standing::{BackupMade, LogbookStanding, Offered};
pub use may_come_down::{AskComeDown, ComesDown, Lean, Leans, MayComeDown};
pub use past::{Drift, DriftByWind, DriftRate, SeasonStart, Shown, Story, StoryLine, WhichFlight};
pub use photos::{KeepPhoto, Photo, PhotoOf, ShowPhoto, WhichPhotos};
pub use pick_up::{NotYet, PickUp, PickUpWalk, Waiting};
pub use position::Fix;
pub use priors::{Prior, priors};
pub use put_in::{CameIn, PutIn};
pub use read_motor::{MotorRead, ReadMotor};
pub use record_find::{Piece, RecordFind};
pub use restore_backup::{RestoreBackup, Restored};
pub use rough_answer::RoughAnswer;
pub use schema::schema;
pub use set_aside::SetAside;
pub use share::{ShareSeen, ShareTarget, Shared, SharedText, TakeShared};
pub use show_flight::ShowFlight;
pub use show_log::{LogPage, PageWord, Said, ShowLog};
pub use sites::{
    ComesFirst, DropPad, HowFar, KeepSite, LookDownwind, Looked, Permission, RenamePad, Site, Spot, TakeText,
    WhichSite, WriteSite,
};
pub use sketch_rocket::{
    ComesDownOn, Doubt, Hole, Joint, RocketTold, Size, SketchRocket, Sketched, StageTold, Weight, Width,
};
pub use take_back_flight::TakeBackFlight;
pub use take_out::TakeOut;
pub use take_weather::WeatherTaken;
pub use tell_flight::{TellFlight, Told};
pub use undo::Undo;
pub use walk_to::{LeadTo, Led, WalkTo};
pub use watch_fall::{Fall, WatchFall};
pub use windfall_inference::Settings;
pub use windfall_logbook::{Fact, FlightRow, Merged, whole_file};

use std::net::SocketAddr;
use std::ops::{Deref, DerefMut};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};
use windfall_facts::{Flight, Sentence};
use windfall_inference::Priors;
use windfall_logbook::Logbook;

/// Everything Windfall can do, opened on a folder of flights (a field day) and, if asked, a logbook.
#[derive(Debug)]
pub struct Api {
    day: Option<PathBuf>,
    logbook: Mutex<Option<Logbook>>,
    /// Whether there is one in it: asked also by those who hold it.
    is_logbook_open: AtomicBool,
    /// Where the logbook lies, also if it cannot be opened.
    folder: Option<PathBuf>,
    daily_look: Mutex<daily_look::Looking>,
    priors: Priors,
    /// Whether some rows of the priors are not the embedded ones.
    has_own_priors: bool,
    settings: Settings,
    clouds: Mutex<Vec<cloud::Held>>,
    told: Mutex<Vec<Flight>>,
    lessons: lessons::Lessons,
    watched: Mutex<Option<watch_fall::Watched>>,
    gpsd_at: Option<SocketAddr>,
    gpsd: Mutex<Option<position::Gpsd>>,
}

impl Api {
    /// With the embedded priors, no field day and no logbook.
    #[must_use]
    pub fn new(settings: Settings) -> Self {
        Self {
            day: None,
            logbook: Mutex::default(),
            is_logbook_open: AtomicBool::new(false),
            folder: None,
            daily_look: Mutex::default(),
            priors: Priors::embedded(),
            has_own_priors: false,
            settings,
            clouds: Mutex::default(),
            told: Mutex::default(),
            lessons: lessons::Lessons::default(),
            watched: Mutex::default(),
            gpsd_at: None,
            gpsd: Mutex::default(),
        }
    }

    /// Opens the folder of flights `day`.
    #[must_use]
    pub fn with_day(mut self, day: &Path) -> Self {
        self.day = Some(day.to_path_buf());
        self
    }

    /// Keeps facts and answers in the logbook in `folder`. The first opening of a day goes on looking the file over and
    /// making a backup beside whatever else is done.
    ///
    /// # Errors
    /// When the logbook cannot be opened.
    pub fn with_logbook(mut self, folder: &Path) -> Result<Self, ApiError> {
        self.open(folder)?;
        Ok(self)
    }

    /// The same for a program that must start whatever the file is like: one that cannot be opened is left as it is,
    /// nothing is kept, and every answer says so.
    #[must_use]
    pub fn with_logbook_or_warning(mut self, folder: &Path) -> Self {
        if let Err(error) = self.open(folder) {
            *locked(&self.daily_look) = daily_look::Looking::found(error);
        }
        self
    }

    fn open(&mut self, folder: &Path) -> Result<(), ApiError> {
        self.folder = Some(folder.to_path_buf());
        let mut held = locked(&self.logbook);
        self.open_into(&mut held, folder)
    }

    fn open_into(&self, held: &mut Option<Logbook>, folder: &Path) -> Result<(), ApiError> {
        let logbook = Logbook::open(folder, clock::today())?;
        *locked(&self.daily_look) = daily_look::Looking::begun(logbook.daily_look());
        *held = Some(logbook);
        self.is_logbook_open.store(true, Ordering::Release);
        Ok(())
    }

    fn has_logbook(&self) -> bool {
        self.is_logbook_open.load(Ordering::Acquire)
    }

    fn logbook_if_open(&self) -> Option<OpenLogbook<'_>> {
        Some(locked(&self.logbook)).filter(|it| it.is_some()).map(OpenLogbook)
    }

    /// Where there is one that cannot be opened, why not.
    fn open_logbook(&self) -> Result<OpenLogbook<'_>, ApiError> {
        self.logbook_if_open().ok_or_else(|| {
            let why = self.folder.as_ref().and_then(|_| self.daily_look_found());
            why.unwrap_or_else(|| ApiError::said(Code::NotFound, Sentence::NoLogbookOpen {}))
        })
    }

    /// Uses the rows of `table` in place of the embedded priors.
    ///
    /// # Errors
    /// Names the line that cannot be read.
    pub fn with_priors(mut self, table: &str) -> Result<Self, ApiError> {
        self.priors = Priors::replaced_by(table)
            .map_err(|error| ApiError::new(Code::BadRequest, format!("priors: {error}")))?;
        self.has_own_priors = true;
        Ok(self)
    }
}

/// The logbook, held; only made of one that is open.
struct OpenLogbook<'a>(MutexGuard<'a, Option<Logbook>>);

impl Deref for OpenLogbook<'_> {
    type Target = Logbook;

    fn deref(&self) -> &Logbook {
        self.0.as_ref().expect("it was open when it was taken hold of")
    }
}

impl DerefMut for OpenLogbook<'_> {
    fn deref_mut(&mut self) -> &mut Logbook {
        self.0.as_mut().expect("it was open when it was taken hold of")
    }
}

/// The contents, also if a call panicked while it held the lock: what is guarded here is whole between statements.
fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
