//! Motors, canopies and bodies.

mod body;
mod canopy;
mod masses;
mod motor;
mod streamer;

pub use body::{cross_section_m2, streamer_area_m2, tumbling_drag_area_m2};
pub use canopy::{Outline, canopy_area_m2, spill_hole_area_m2, terminal_speed_mps};
pub use masses::{TYPICAL_MASSES, TypicalMasses, typical_masses};
pub use motor::{Burn, TypicalMotor, typical_motor};
pub use streamer::flag_drag_coefficient;
