//! Quantities that refuse misuse: bearings that know their north, positions that are on the Earth,
//! and the one local frame in which everything is computed.

mod bearing;
mod picture;
mod position;

pub use bearing::{Bearing, Declination, MagneticNorth, NotABearing, TrueNorth, turn_deg};
pub use picture::{Dot, Lie, NotPlaced, PictureFit};
pub use position::{LocalFrame, NotAPosition, Offset, Position};
