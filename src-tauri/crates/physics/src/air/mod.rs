//! The air: its density, and the wind.

mod beaufort;
mod density;
mod gust;
mod gust_factor;
mod straying;
mod terrain;
mod wind;

pub use beaufort::Beaufort;
pub use density::{
    Ground, density_height_m, indicated_height_m, moist_density_kgpm3, pressure_height_m, standard_atmosphere,
};
pub use gust::{Eddy, carried_together};
pub use gust_factor::gust_factor;
pub use straying::straying;
pub use terrain::Terrain;
pub use wind::{AirTable, Aloft, Profile, shape_at};
