//! Earth, air, craft, flight and tracking: pure functions, one file per phenomenon.
//!
//! Kernels take SI units and radians. The frame is east, north, up in metres about the pad; wind and motion are
//! the direction *towards* which things move.

pub mod air;
pub mod craft;
pub mod earth;
pub mod flight;
pub mod tracking;

/// Standard acceleration of gravity, m/s2 (ISO 80000-3).
pub const GRAVITY_MPS2: f64 = 9.806_65;
