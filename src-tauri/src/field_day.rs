//! Which flights a desktop shows besides the logbook's.

use std::path::PathBuf;
use tauri::path::BaseDirectory;
use tauri::{App, Manager};

/// Where the field day lies under the working folder or the resources of the package.
const SAMPLE_DAY: &str = "sample-data/flights";

/// The folder of flights: named by argument or `WINDFALL_DAY`, else the sample day.
pub(crate) fn folder(app: &App) -> PathBuf {
    let named = std::env::args_os().nth(1).or_else(|| std::env::var_os("WINDFALL_DAY"));
    let here = PathBuf::from(SAMPLE_DAY);
    named.map(PathBuf::from).unwrap_or_else(|| {
        let packaged = app.path().resolve(SAMPLE_DAY, BaseDirectory::Resource).ok();
        if here.is_dir() { here } else { packaged.unwrap_or(here) }
    })
}
