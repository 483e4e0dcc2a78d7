use core::f64::consts::PI;

/// Cross-section of a round body, m2.
#[must_use]
pub fn cross_section_m2(diameter_m: f64) -> f64 {
    PI * diameter_m * diameter_m / 4.0
}

/// One side of a streamer, m2.
#[must_use]
pub fn streamer_area_m2(length_m: f64, width_m: f64) -> f64 {
    length_m * width_m
}

/// Drag area of a tumbling body, m2.
///
/// # Model
/// A cylinder in cross-flow has 1.2 L d; turning end over end in a plane it keeps 4/(3 pi) of that, in all
/// directions alike 3 pi / 16 (cross-flow principle, integrals of cubed and squared sines): the middle of the two.
/// # Source
/// S. F. Hoerner, Fluid-Dynamic Drag, 1965, chapter 3, for 1.2; from memory. The two fractions are derived.
#[must_use]
pub fn tumbling_drag_area_m2(length_m: f64, diameter_m: f64) -> f64 {
    let fraction = (4.0 / (3.0 * PI) + 3.0 * PI / 16.0) / 2.0;
    1.2 * fraction * length_m * diameter_m
}
