use crate::GRAVITY_MPS2;
use core::f64::consts::PI;

/// Outline of a canopy laid flat.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outline {
    /// By diameter.
    Round,
    /// Across flats.
    Hexagon,
    /// Across flats.
    Octagon,
    /// By side.
    Square,
    /// By overall width, arms a third as wide.
    Cross,
}

/// Area of a canopy laid flat, m2.
///
/// # Units
/// `width_m`: diameter, distance across flats, side, or overall width.
/// # Source
/// Plane geometry: regular n-gon across flats d has area n d^2 tan(pi / n) / 4.
#[must_use]
pub fn canopy_area_m2(outline: Outline, width_m: f64) -> f64 {
    let square = width_m * width_m;
    match outline {
        Outline::Round => PI * square / 4.0,
        Outline::Hexagon => 6.0 * square * (PI / 6.0).tan() / 4.0,
        Outline::Octagon => 8.0 * square * (PI / 8.0).tan() / 4.0,
        Outline::Square => square,
        Outline::Cross => square * 5.0 / 9.0,
    }
}

/// Area of a round hole, m2.
#[must_use]
pub fn spill_hole_area_m2(diameter_m: f64) -> f64 {
    PI * diameter_m * diameter_m / 4.0
}

/// Steady fall speed, m/s: weight equals drag.
#[must_use]
pub fn terminal_speed_mps(mass_kg: f64, drag_area_m2: f64, density_kgpm3: f64) -> f64 {
    (2.0 * mass_kg * GRAVITY_MPS2 / (density_kgpm3 * drag_area_m2)).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_spill_hole_of_a_fifth_of_the_diameter_takes_four_percent_of_a_round_canopy() {
        // Common practice, no source; the 4 % is geometry.
        let share = spill_hole_area_m2(0.06) / canopy_area_m2(Outline::Round, 0.3);
        assert!((share - 0.04).abs() < 1e-12);
    }

    #[test]
    fn polygons_across_flats_have_the_areas_of_the_handbook() {
        // Common practice: hexagon 0.866 d^2, octagon 0.828 d^2.
        assert!((canopy_area_m2(Outline::Hexagon, 1.0) - 0.866).abs() < 5e-4);
        assert!((canopy_area_m2(Outline::Octagon, 1.0) - 0.828).abs() < 5e-4);
    }
}
