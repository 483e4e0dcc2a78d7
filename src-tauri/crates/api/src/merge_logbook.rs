use crate::{Api, ApiError, call::guarded};
use std::path::Path;
use windfall_logbook::Merged;

impl Api {
    /// Takes in all facts of the logbook in the folder (or file) `other`, which is only read. Twice changes nothing.
    ///
    /// # Errors
    /// When there is none, it is damaged or newer, or ours cannot be written.
    pub fn merge_logbook(&self, other: &Path) -> Result<Merged, ApiError> {
        guarded(|| Ok(self.open_logbook()?.merge(other)?))
    }
}
