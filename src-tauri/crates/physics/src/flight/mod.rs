//! From the rod to the ground.

mod ascent;
mod descent;
mod path;

pub use ascent::{Boost, Rail, Thrust, boost, coast, streamlined_fall};
pub use descent::{LONGEST_FLIGHT_S, under_drag};
pub use path::{Knot, Path, State};
