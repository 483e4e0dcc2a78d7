//! The air: its density, and the wind.

mod density;
mod gust;
mod wind;

pub use density::{Ground, indicated_height_m, moist_density_kgpm3, standard_atmosphere};
pub use gust::{Drift, Eddy, Walk};
pub use wind::{AirTable, Aloft, Profile, shape_at};
