/// Drag coefficient, on one side, of a flag that streams from one edge: the least a streamer can have. Folds and
/// flutter give a falling streamer several times as much.
///
/// # Units
/// `width_m`: along the edge that is held; `length_m`: down the wind; `cloth_kgpm2`: mass of the cloth.
/// # Source
/// AS/NZS 1170.2:2002, appendix F, second-hand: 0.05 + 0.7 m / (rho c) (A / c^2)^-1.25.
#[must_use]
pub fn flag_drag_coefficient(width_m: f64, length_m: f64, cloth_kgpm2: f64, density_kgpm3: f64) -> f64 {
    0.05 + 0.7 * cloth_kgpm2 / (density_kgpm3 * width_m) * (length_m / width_m).powf(-1.25)
}
