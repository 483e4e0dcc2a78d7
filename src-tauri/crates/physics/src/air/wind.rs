use super::Ground;
use crate::GRAVITY_MPS2;
use std::sync::LazyLock;

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
    let ln_height = height_m.max(2.0 * roughness_m).ln();
    shape(height_m, ln_height, roughness_m.ln(), stability, shear_exponent)
}

fn shape(height_m: f64, ln_height: f64, ln_roughness: f64, stability: f64, shear_exponent: f64) -> f64 {
    const LN_REFERENCE: f64 = core::f64::consts::LN_10;
    const LN_TOP: f64 = 4.382_026_634_673_881; // ln 80
    let log_law = |ln_z: f64| {
        // In the lowest metres the slope is near neutral whatever the day: only the part above 10 m is scaled.
        let neutral = (ln_z.max(ln_roughness) - ln_roughness) / (LN_REFERENCE - ln_roughness);
        let slope = if ln_z > LN_REFERENCE { stability } else { 1.0 };
        (1.0 + slope * (neutral - 1.0)).max(0.1)
    };
    if height_m <= TOP_OF_LOG_LAW_M {
        log_law(ln_height)
    } else {
        log_law(LN_TOP) * (shear_exponent * (ln_height - LN_TOP)).exp()
    }
}

impl Profile {
    /// Mean wind (towards east, towards north) at a height above ground, m/s.
    #[must_use]
    pub fn at(&self, height_m: f64) -> (f64, f64) {
        self.turned(height_m, shape_at(height_m, self.roughness_m, self.stability, self.shear_exponent))
    }

    fn turned(&self, height_m: f64, factor: f64) -> (f64, f64) {
        let (sin, cos) = (self.veer_radpm * (height_m - REFERENCE_M)).sin_cos();
        let (east, north) = (self.east10_mps * factor, self.north10_mps * factor);
        (east * cos + north * sin, north * cos - east * sin)
    }

    /// Sets the wind at 10 m so that [`Profile::at`] gives this wind (towards east and north, m/s) at `height_m`.
    pub fn pass_through(&mut self, height_m: f64, east_mps: f64, north_mps: f64) {
        let factor = 1.0 / shape_at(height_m, self.roughness_m, self.stability, self.shear_exponent);
        let (sin, cos) = (self.veer_radpm * (height_m - REFERENCE_M)).sin_cos();
        self.east10_mps = factor * (east_mps * cos - north_mps * sin);
        self.north10_mps = factor * (north_mps * cos + east_mps * sin);
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

/// Heights of the rows, and the logarithm that the profile is taken at: so much above the row's own that the mean over
/// each layer, which is what carries a falling body, is that of the log law and not of its chord.
static HEIGHTS: LazyLock<[(f64, f64); ROWS]> = LazyLock::new(|| {
    let height_m = |index: usize| (ROOT_STEP * index as f64).powi(2);
    // Integral of the logarithm over a layer less that of its chord.
    let excess = |index: usize| {
        let (low, high) = (height_m(index), height_m(index + 1));
        (high * high.ln() - low * low.ln()) - (high - low) * (1.0 + 0.5 * (low * high).ln())
    };
    let lifted = |index: usize| {
        let below = if index > 1 { excess(index - 1) } else { 0.0 };
        height_m(index).ln() + (below + excess(index)) / (height_m(index + 1) - height_m(index - 1))
    };
    core::array::from_fn(|index| {
        // The lowest layer reaches down to where there is no logarithm: its lower end makes up for its upper one.
        let ln_height = if index == 0 { 2.0 * (height_m(1).ln() - 1.0) - lifted(1) } else { lifted(index) };
        (height_m(index), ln_height)
    })
});

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
    /// Fills the table up to `ceiling_m`; the air above is that of the last row. `aloft`: rows of winds aloft with
    /// rising heights, which replace the extrapolation above 80 m.
    pub fn fill(&mut self, profile: &Profile, aloft: &[Aloft], ground: Ground, ceiling_m: f64) {
        // Pressure falls with the scale height of the air at the pad; density likewise, with the lapse rate.
        let scale_m = ground.temperature_k / (GRAVITY_MPS2 / 287.052_87 - 0.0065);
        let ln_roughness = profile.roughness_m.ln();
        let lowest = ln_roughness + core::f64::consts::LN_2;
        // Heights go with the square of the row: its exponential and its turn follow from those of the first step.
        let first_m = ROOT_STEP * ROOT_STEP;
        let (mut thin, mut thinner) = (ground.density_kgpm3, (-first_m / scale_m).exp());
        let thinning = thinner * thinner;
        let mut turn = turn_by(-REFERENCE_M * profile.veer_radpm);
        let mut step = turn_by(first_m * profile.veer_radpm);
        let stepping = turned(step, step);
        let east_north = (profile.east10_mps, profile.north10_mps);
        let mut last = [0.0; 3];
        for (index, row) in self.rows.iter_mut().enumerate() {
            let (height_m, ln_height) = HEIGHTS[index];
            if index < 2 || HEIGHTS[index - 1].0 < ceiling_m {
                let (east, north) = if height_m > TOP_OF_LOG_LAW_M && !aloft.is_empty() {
                    between(profile.at(TOP_OF_LOG_LAW_M), aloft, height_m)
                } else {
                    let low = ln_height.max(lowest);
                    let factor =
                        shape(height_m, low, ln_roughness, profile.stability, profile.shear_exponent);
                    let (east, north) = turned(east_north, turn);
                    (factor * east, factor * north)
                };
                last = [east, north, thin];
                (thin, thinner) = (thin * thinner, thinner * thinning);
                (turn, step) = (turned(turn, step), turned(step, stepping));
            }
            *row = last;
        }
    }

    /// Wind towards east and north (m/s) and density (kg/m3) at a height above the pad.
    #[inline]
    #[must_use]
    pub fn at(&self, height_m: f64) -> [f64; 3] {
        let index = Self::row_below(height_m).min(ROWS - 2);
        // Linear in height between the rows.
        let share = ((height_m - Self::row_height_m(index)) * PER_ROW[index]).clamp(0.0, 1.0);
        let (low, high) = (self.rows[index], self.rows[index + 1]);
        core::array::from_fn(|column| low[column] + share * (high[column] - low[column]))
    }

    /// Index of the highest row that is not above this height.
    #[inline]
    pub(crate) fn row_below(height_m: f64) -> usize {
        let place = (height_m.max(0.0).sqrt() * (1.0 / ROOT_STEP)).min(ROWS as f64 - 1.0);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 0 and 33")]
        let index = place as usize;
        index
    }

    /// Height of a row above the pad, m; rows that are not there stand above the last in the same order.
    #[inline]
    pub(crate) fn row_height_m(index: usize) -> f64 {
        let root = ROOT_STEP * index as f64;
        root * root
    }

    /// Wind and density of a row, those of the last for one above it.
    #[inline]
    pub(crate) fn row(&self, index: usize) -> [f64; 3] {
        self.rows[index.min(ROWS - 1)]
    }
}

/// Cosine and sine of an angle clockwise.
fn turn_by(rad: f64) -> (f64, f64) {
    let (sin, cos) = rad.sin_cos();
    (cos, -sin)
}

/// A vector (east, north) turned by a cosine and sine from [`turn_by`]; two turns give their sum.
#[inline]
fn turned((east, north): (f64, f64), (cos, sin): (f64, f64)) -> (f64, f64) {
    (east * cos - north * sin, east * sin + north * cos)
}

/// One over the thickness of the layer above each row, 1/m.
const PER_ROW: [f64; ROWS] = {
    let mut per = [0.0; ROWS];
    let mut index = 0;
    while index < ROWS {
        per[index] = 1.0 / (ROOT_STEP * ROOT_STEP * (2 * index + 1) as f64);
        index += 1;
    }
    per
};

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
