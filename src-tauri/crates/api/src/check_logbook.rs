use crate::{Api, ApiError, call::guarded};
use serde::Serialize;
use std::path::PathBuf;

/// What came of looking a logbook over.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LogbookCheck {
    /// What is wrong, in words; nothing if all is well.
    pub wrong: Vec<String>,
    /// Backups beside it, the newest last.
    pub backups: Vec<PathBuf>,
}

impl Api {
    /// Looks the whole logbook over; changes nothing.
    ///
    /// # Errors
    /// When no logbook is open or it cannot be read at all.
    pub fn check_logbook(&self) -> Result<LogbookCheck, ApiError> {
        guarded(|| {
            let mut logbook = self.open_logbook()?;
            Ok(LogbookCheck { wrong: logbook.check()?, backups: logbook.backups() })
        })
    }
}
