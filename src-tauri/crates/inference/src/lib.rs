//! The cloud of possible flights, and the evidence that reweights it.
//!
//! An answer is a pure function of (facts not set aside, beliefs, priors, seed, settings).

pub mod calibration;
mod cloud;
mod evidence;
mod gone;
mod ground;
mod heads_up;
mod height;
pub mod learn;
mod model;
mod normal;
mod opening;
mod priors;
mod reading;
mod round;
mod told;
mod version;
mod walk;
mod wind;

pub use cloud::{Cloud, Live};
pub use gone::may_be_gone;
pub use heads_up::HeadsUp;
pub use height::{HeightCheck, Slip, check_height};
pub use learn::{Beliefs, Lesson};
pub use model::declination_of;
pub use opening::{Opening, expected_opening};
pub use priors::{Prior, Priors, PriorsError};
pub use reading::Density;
pub use round::{Round, RoundLeg, round};
pub use told::{locate, locate_knowing};
pub use version::MODEL_VERSION;
pub use walk::{Lead, Near, Walk, ahead, lead, walk};
pub use wind::{is_aloft, read_at_m};

use windfall_facts::Sentence;

/// How the cloud is drawn.
#[derive(Clone, Copy, Debug)]
pub struct Settings {
    /// Seed of all random draws.
    pub seed: u32,
    /// Possible flights kept in the answer, about; a flight for which these are too few gets four times as many.
    pub draws: usize,
    /// Threads to use; the answer does not depend on it.
    pub threads: usize,
}

impl Default for Settings {
    fn default() -> Self {
        Self { seed: 1, draws: 2048, threads: 2 }
    }
}

/// A flight from which no cloud can be made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{field}: {why}")]
pub struct LocateError {
    /// The field of the flight file.
    pub field: String,
    /// What is wrong and what is allowed.
    pub why: Box<Sentence>,
}

impl LocateError {
    pub(crate) fn new(field: impl Into<String>, why: impl Into<Sentence>) -> Self {
        Self { field: field.into(), why: why.into().inside() }
    }
}
