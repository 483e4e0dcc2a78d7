//! The cloud of possible flights, and the evidence that reweights it.
//!
//! An answer is a pure function of (facts not set aside, priors, seed, settings).

use windfall_facts::{Answer, Flight, LatLon, Mode};

/// The table of priors.
#[derive(Clone, Debug)]
pub struct Priors;

impl Priors {
    /// The table compiled into the program, as text.
    pub const EMBEDDED: &'static str = include_str!("priors.csv");

    /// The table compiled into the program.
    #[must_use]
    pub fn embedded() -> Self {
        Self
    }

    /// The embedded table with the rows of `text` (same columns) in place of its own.
    ///
    /// # Errors
    /// Names the line and the column that cannot be read.
    pub fn replaced_by(text: &str) -> Result<Self, PriorsError> {
        let _ = text;
        Ok(Self)
    }
}

/// A table of priors that cannot be read.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("line {line}: {message}")]
pub struct PriorsError {
    /// Line of the table, from 1.
    pub line: usize,
    /// What is wrong and what is allowed.
    pub message: String,
}

/// How the cloud is drawn.
#[derive(Clone, Copy, Debug)]
pub struct Settings {
    /// Seed of all random draws.
    pub seed: u32,
    /// Possible flights kept in the answer.
    pub draws: usize,
    /// Threads to use; the answer does not depend on it.
    pub threads: usize,
}

impl Default for Settings {
    fn default() -> Self {
        Self { seed: 1, draws: 4096, threads: 2 }
    }
}

/// The cloud of possible flights after all evidence.
#[derive(Debug)]
pub struct Cloud;

/// A flight from which no cloud can be made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{field}: {message}")]
pub struct LocateError {
    /// The field of the flight file.
    pub field: String,
    /// What is wrong and what is allowed.
    pub message: String,
}

/// The cloud of possible flights for what is known of `flight` (checked by `windfall_facts::read_flight`).
///
/// # Errors
/// When the facts contradict the model's domain; evidence that contradicts everything is no error.
pub fn locate(flight: &Flight, priors: &Priors, settings: &Settings) -> Result<Cloud, LocateError> {
    let _ = (flight, priors, settings);
    Err(LocateError { field: "flight".into(), message: "not laid out yet".into() })
}

/// A landing density as the screen draws it.
#[derive(Clone, Debug, PartialEq)]
pub struct Density {
    /// 16-byte header: width and height (u16), cell size, west edge and south edge in metres from the pad (f32),
    /// all little endian; then rows from north to south of u8: 255 sqrt(density / max). At most 256 x 256.
    pub bytes: Vec<u8>,
}

impl Cloud {
    /// The answer read off the cloud, `elapsed_ms` left at zero for the caller to fill.
    ///
    /// `from`: where the flyer stands (default the pad); `samples`: landing points to list per part.
    #[must_use]
    pub fn answer(&self, from: Option<LatLon>, samples: Option<usize>) -> Answer {
        let _ = (from, samples);
        unreachable!("replaced with the model")
    }

    /// Density of the landing point of a part, of one mode or mixed; none for an unknown part or empty mode.
    #[must_use]
    pub fn density(&self, part: &str, mode: Option<Mode>) -> Option<Density> {
        let _ = (part, mode);
        None
    }
}
