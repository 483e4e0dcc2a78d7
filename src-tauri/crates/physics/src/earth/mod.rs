//! The Earth under the field.

mod magnetic;

pub use magnetic::{MagneticError, declination};
