//! How the logbook stands, for a flyer who wants to keep it safe.

use crate::daily_look::Looking;
use crate::{Api, ApiError, call::guarded, clock, locked};
use serde::Serialize;
use windfall_facts::Sentence;
use windfall_logbook::{Backup, Counted};

/// How the logbook stands.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct LogbookStanding {
    /// Whether this program was told to keep one.
    pub is_kept: bool,
    /// Whether it is open.
    pub is_open: bool,
    /// Why it cannot be opened, or what is wrong with it although it is in use.
    pub trouble: Option<ApiError>,
    /// Flights in it.
    pub flights: usize,
    /// Days on which they were launched.
    pub days: usize,
    /// Photos that are named in it.
    pub photos: usize,
    /// The newest backup. Before it was made the logbook was looked over, and whole.
    pub backup: Option<BackupMade>,
    /// Whether the trouble is one that another file would end: then a backup can be used, or a new logbook begun.
    pub may_replace: bool,
    /// The newest backup that is whole, if one may be used.
    pub offered: Option<Offered>,
}

/// A backup.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BackupMade {
    /// When, RFC 3339, with the time zone of the device.
    pub at: Option<String>,
}

/// A backup that was looked over.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Offered {
    /// Name of its file.
    pub backup: String,
    /// When it was made, RFC 3339, with the time zone of the device.
    pub at: Option<String>,
    /// Flights in it.
    pub flights: usize,
    /// Days on which they were launched.
    pub days: usize,
}

impl Api {
    /// How the logbook stands, also if it cannot be opened.
    ///
    /// # Errors
    /// When it is open and cannot be read.
    pub fn logbook_standing(&self) -> Result<LogbookStanding, ApiError> {
        guarded(|| {
            let Some(folder) = &self.folder else { return Ok(LogbookStanding::default()) };
            let counted = self.logbook_if_open().map(|book| book.counted().map_err(ApiError::from));
            let is_open = counted.is_some();
            let counted = match counted.unwrap_or_else(|| Ok(Counted::default())) {
                // Of one that is damaged it is said, and not what is in it.
                Err(error) if is_of_the_file(&error) => {
                    *locked(&self.daily_look) = Looking::found(error);
                    Counted::default()
                }
                counted => counted?,
            };
            let trouble = self.daily_look_found();
            let may_replace = trouble.as_ref().is_some_and(is_of_the_file);
            let offered =
                may_replace.then(|| Backup::newest_whole(folder)).flatten().and_then(|(backup, counted)| {
                    let name = backup.path.file_name()?.to_str()?.to_owned();
                    let at = backup.made.map(clock::local);
                    Some(Offered { backup: name, at, flights: counted.flights, days: counted.days })
                });
            let backup = Backup::newest(folder).map(|it| BackupMade { at: it.made.map(clock::local) });
            Ok(LogbookStanding {
                is_kept: true,
                is_open,
                trouble,
                flights: counted.flights,
                days: counted.days,
                photos: counted.photos,
                backup,
                may_replace,
                offered,
            })
        })
    }
}

/// Whether another file in its place would end the trouble.
pub(crate) fn is_of_the_file(trouble: &ApiError) -> bool {
    matches!(
        trouble.said.as_deref(),
        Some(Sentence::LogbookDamaged {} | Sentence::LogbookDamagedNoBackup {} | Sentence::LogbookNewer {})
    )
}
