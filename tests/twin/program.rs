//! How the programs that count flights start and end.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Says what went wrong, if anything did.
#[must_use]
pub fn ended(done: Result<(), String>) -> ExitCode {
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(message) => {
            eprintln!("{message}");
            ExitCode::FAILURE
        }
    }
}

/// The folder in which outcomes are kept: the one that was asked for, or one called `name` beside what is built.
///
/// # Errors
/// When it cannot be made.
pub fn folder_of(name: &str, asked: Option<PathBuf>) -> Result<PathBuf, String> {
    let usual = || Path::new(env!("CARGO_MANIFEST_DIR")).join("../target").join(name);
    let folder = asked.unwrap_or_else(usual);
    fs::create_dir_all(&folder).map_err(|error| format!("{}: {error}", folder.display()))?;
    Ok(folder)
}
