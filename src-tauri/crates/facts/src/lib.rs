//! What people say and instruments read. Facts carry no computation.

mod answer;
mod evidence;
mod figure;
mod flight;

pub use answer::*;
pub use evidence::*;
pub use figure::{Figure, Known};
pub use flight::*;

use serde::{Deserialize, Serialize};

/// A place, degrees on WGS 84.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LatLon {
    /// Degrees north.
    pub lat: f64,
    /// Degrees east.
    pub lon: f64,
}

/// Which north a direction counts from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum North {
    /// Geographic north, as on a map.
    #[default]
    True,
    /// As a compass shows it.
    Magnetic,
}
