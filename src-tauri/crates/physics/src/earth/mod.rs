//! The Earth under the field, and the sun over it.

mod magnetic;
mod sun;

pub use magnetic::{CompassZone, MagneticError, MagneticField, declination, magnetic_field};
pub use sun::{Daylight, Sun, SunError, daylight, sun};
