use crate::{Api, ApiError, call::guarded, clock};
use std::path::PathBuf;

impl Api {
    /// Makes a backup of the logbook beside it; its path. The last ten are kept.
    ///
    /// # Errors
    /// When no logbook is open or the backup cannot be written.
    pub fn back_up(&self) -> Result<PathBuf, ApiError> {
        guarded(|| Ok(self.open_logbook()?.back_up(clock::today())?))
    }
}
