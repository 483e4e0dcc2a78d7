//! From the rod to the ground.

mod ascent;
mod descent;
mod motion;
mod path;
mod rest;

pub use ascent::{Boost, LONGEST_STREAMLINED_S, Rail, Thrust, boost, coast, streamlined_fall};
pub use descent::{LONGEST_FLIGHT_S, under_drag};
pub use path::{Knot, Path, State};
pub use rest::{dragged_m, rests_on};
