use super::Ground;
use crate::GRAVITY_MPS2;

/// The mean wind of one possible flight.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Profile {
    /// Mean wind at 10 m, towards east, m/s.
    pub east10_mps: f64,
    /// Mean wind at 10 m, towards north, m/s.
    pub north10_mps: f64,
    /// Roughness length, m.
    pub roughness_m: f64,
    /// Factor on the slope of the log law: 1 neutral, below 1 by day.
    pub stability: f64,
    /// Exponent of the power law above 80 m.
    pub shear_exponent: f64,
    /// Turn with height, radians per metre, clockwise positive.
    pub veer_radpm: f64,
}

/// A row of winds aloft: height above ground (m), wind towards east and north (m/s).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Aloft {
    /// Height above ground, m.
    pub height_m: f64,
    /// Towards east, m/s.
    pub east_mps: f64,
    /// Towards north, m/s.
    pub north_mps: f64,
}

const TOP_OF_LOG_LAW_M: f64 = 80.0;
const REFERENCE_M: f64 = 10.0;

/// Speed at a height over the speed at 10 m.
///
/// # Model
/// Log law with its slope scaled by `stability` to 80 m, power law above. Never below a tenth, so that a
/// possible flight with an extreme slope still has air that moves one way.
/// # Source
/// J. Wieringa, Roughness-dependent geographical interpolation of surface wind speed averages,
/// Q. J. R. Meteorol. Soc. 112 (1986) 867, from memory; the log and power law themselves are textbook forms.
#[must_use]
pub fn shape_at(height_m: f64, roughness_m: f64, stability: f64, shear_exponent: f64) -> f64 {
    let log_law = |z: f64| {
        // In the lowest metres the slope is near neutral whatever the day: only the part above 10 m is scaled.
        let neutral = (z / roughness_m).ln() / (REFERENCE_M / roughness_m).ln();
        let slope = if z > REFERENCE_M { stability } else { 1.0 };
        (1.0 + slope * (neutral - 1.0)).max(0.1)
    };
    if height_m <= TOP_OF_LOG_LAW_M {
        log_law(height_m.max(2.0 * roughness_m))
    } else {
        log_law(TOP_OF_LOG_LAW_M) * (height_m / TOP_OF_LOG_LAW_M).powf(shear_exponent)
    }
}

impl Profile {
    /// Mean wind (towards east, towards north) at a height above ground, m/s.
    #[must_use]
    pub fn at(&self, height_m: f64) -> (f64, f64) {
        let factor = shape_at(height_m, self.roughness_m, self.stability, self.shear_exponent);
        let (sin, cos) = (self.veer_radpm * (height_m - REFERENCE_M)).sin_cos();
        let (east, north) = (self.east10_mps * factor, self.north10_mps * factor);
        (east * cos + north * sin, north * cos - east * sin)
    }

    /// Friction velocity, m/s.
    ///
    /// # Model
    /// Neutral log law with the von Karman constant 0.4; never below 0.1 m/s, because sun-warmed air keeps moving
    /// in a calm (judgement).
    #[must_use]
    pub fn friction_velocity_mps(&self) -> f64 {
        let speed = self.east10_mps.hypot(self.north10_mps);
        (0.4 * speed / (REFERENCE_M / self.roughness_m).ln()).max(0.1)
    }
}

const ROWS: usize = 34;
const ROOT_STEP: f64 = 1.5; // rows stand at (1.5 k)^2 m: dense near the ground, up to 2450 m

/// Wind and density against height for one possible flight, so that no step of it takes a logarithm.
#[derive(Clone, Debug)]
pub struct AirTable {
    rows: [[f64; 3]; ROWS], // towards east, towards north (m/s), density (kg/m3)
}

impl Default for AirTable {
    fn default() -> Self {
        Self { rows: [[0.0, 0.0, 1.225]; ROWS] }
    }
}

impl AirTable {
    /// Fills the table. `aloft`: rows of winds aloft with rising heights, which replace the extrapolation above
    /// 80 m.
    pub fn fill(&mut self, profile: &Profile, aloft: &[Aloft], ground: Ground) {
        // Pressure falls with the scale height of the air at the pad; density likewise, with the lapse rate.
        let scale_m = ground.temperature_k / (GRAVITY_MPS2 / 287.052_87 - 0.0065);
        for (index, row) in self.rows.iter_mut().enumerate() {
            let height_m = (ROOT_STEP * index as f64).powi(2);
            let (east, north) = if height_m > TOP_OF_LOG_LAW_M && !aloft.is_empty() {
                between(profile.at(TOP_OF_LOG_LAW_M), aloft, height_m)
            } else {
                profile.at(height_m)
            };
            *row = [east, north, ground.density_kgpm3 * (-height_m / scale_m).exp()];
        }
    }

    /// Wind towards east and north (m/s) and density (kg/m3) at a height above the pad.
    #[must_use]
    pub fn at(&self, height_m: f64) -> [f64; 3] {
        let place = (height_m.max(0.0).sqrt() / ROOT_STEP).min(ROWS as f64 - 1.001);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 0 and 33")]
        let index = place as usize;
        // Linear in height between the rows, not in its root.
        let below = index as f64;
        let share = ((place * place - below * below) / (2.0 * below + 1.0)).clamp(0.0, 1.0);
        let (low, high) = (self.rows[index], self.rows[index + 1]);
        [
            low[0] + share * (high[0] - low[0]),
            low[1] + share * (high[1] - low[1]),
            low[2] + share * (high[2] - low[2]),
        ]
    }
}

fn between(at_80: (f64, f64), aloft: &[Aloft], height_m: f64) -> (f64, f64) {
    let mut below = Aloft { height_m: TOP_OF_LOG_LAW_M, east_mps: at_80.0, north_mps: at_80.1 };
    for above in aloft {
        if above.height_m >= height_m {
            let share = (height_m - below.height_m) / (above.height_m - below.height_m).max(1e-9);
            return (
                below.east_mps + share * (above.east_mps - below.east_mps),
                below.north_mps + share * (above.north_mps - below.north_mps),
            );
        }
        below = *above;
    }
    (below.east_mps, below.north_mps)
}
