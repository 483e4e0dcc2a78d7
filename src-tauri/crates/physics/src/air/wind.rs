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
    let log_law = LogLaw::of(ln_roughness, stability);
    if height_m <= TOP_OF_LOG_LAW_M {
        log_law.at(ln_height)
    } else {
        log_law.at(LN_TOP) * (shear_exponent * (ln_height - LN_TOP)).exp()
    }
}

const LN_TOP: f64 = 4.382_026_634_673_881; // ln 80

/// Wind speed over that at 10 m, by the logarithm of the height.
#[derive(Clone, Copy)]
struct LogLaw {
    ln_roughness: f64,
    per_ln: f64,
    stability: f64,
}

impl LogLaw {
    fn of(ln_roughness: f64, stability: f64) -> Self {
        Self { ln_roughness, per_ln: 1.0 / (core::f64::consts::LN_10 - ln_roughness), stability }
    }

    #[inline]
    fn at(self, ln_height: f64) -> f64 {
        // In the lowest metres the slope is near neutral whatever the day: only the part above 10 m is scaled.
        let neutral = (ln_height.max(self.ln_roughness) - self.ln_roughness) * self.per_ln;
        let slope = if ln_height > core::f64::consts::LN_10 { self.stability } else { 1.0 };
        (1.0 + slope * (neutral - 1.0)).max(0.1)
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

const ROWS: usize = 28;

/// Heights of the rows, m: the ground, then 0.5, 0.75, 1, 1.5, 2, 3, ... 4096. The law of the wind is one of ratios of
/// heights, and the row below a height stands in the first bits of its number.
const HEIGHTS_M: [f64; ROWS] = {
    let mut heights = [0.0; ROWS];
    let (mut index, mut power) = (1, 0.5);
    while index < ROWS {
        heights[index] = if index % 2 == 1 { power } else { 1.5 * power };
        if index % 2 == 0 {
            power *= 2.0;
        }
        index += 1;
    }
    heights
};

/// One over the thickness of the layer above each row, 1/m; nothing above the last.
const PER_LAYER: [f64; ROWS] = {
    let mut per = [0.0; ROWS];
    let mut index = 0;
    while index + 1 < ROWS {
        per[index] = 1.0 / (HEIGHTS_M[index + 1] - HEIGHTS_M[index]);
        index += 1;
    }
    per
};

/// What the chord of a layer takes from a wind that turns with height, over the square of the turn per metre, m2: it is
/// given back at the rows.
const TURN_LIFT_M2: [f64; ROWS] = {
    let mut lift = [0.0; ROWS];
    let mut index = 1;
    while index + 1 < ROWS {
        let (below, above) =
            (HEIGHTS_M[index] - HEIGHTS_M[index - 1], HEIGHTS_M[index + 1] - HEIGHTS_M[index]);
        lift[index] = (below * below * below + above * above * above) / (12.0 * (below + above));
        index += 1;
    }
    lift
};

/// Logarithm of the height of each row, and by how much more the profile is taken at: so much that the mean over each
/// layer, which is what carries a falling body, is that of the log law and not of its chord.
static LN_HEIGHTS: LazyLock<[(f64, f64); ROWS]> = LazyLock::new(|| {
    // Integral of the logarithm over a layer less that of its chord.
    let excess = |index: usize| {
        let (low, high) = (HEIGHTS_M[index], HEIGHTS_M[index + 1]);
        (high * high.ln() - low * low.ln()) - (high - low) * (1.0 + 0.5 * (low * high).ln())
    };
    let lift = |index: usize| {
        let index = index.min(ROWS - 2);
        let below = if index > 1 { excess(index - 1) } else { 0.0 };
        (below + excess(index)) / (HEIGHTS_M[index + 1] - HEIGHTS_M[index - 1])
    };
    core::array::from_fn(|index| match index {
        // The lowest layer reaches down to where there is no logarithm: its lower end makes up for its upper one.
        0 => (HEIGHTS_M[1].ln() - 2.0, -lift(1)),
        _ => (HEIGHTS_M[index].ln(), lift(index)),
    })
});

/// Wind and density against height for one possible flight, so that no step of it takes a logarithm.
#[derive(Clone, Debug)]
pub struct AirTable {
    // Towards east, towards north (m/s), density (kg/m3), one over its root.
    rows: [[f64; 4]; ROWS],
}

impl Default for AirTable {
    fn default() -> Self {
        Self { rows: [[0.0, 0.0, 1.225, 1.0 / 1.225_f64.sqrt()]; ROWS] }
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
        let log_law = LogLaw::of(ln_roughness, profile.stability);
        // Heights double every other row: there all that goes with an exponential of height is squared, and the power
        // law grows by the same factor.
        let quarter = Power::of(0.25, scale_m, profile.veer_radpm);
        let half = quarter.times(quarter);
        let mut powers = [half, half.times(quarter)];
        let (one, doubled) = (half.times(half), (profile.shear_exponent * core::f64::consts::LN_2).exp());
        let two = one.times(one);
        let (four, mut aloft_factors) = (two.times(two), [0.0; 2]);
        let ten = two.times(four.times(four));
        let thinnest = 1.0 / ground.density_kgpm3.sqrt();
        let at_10 = turned((profile.east10_mps, profile.north10_mps), (ten.turn.0, -ten.turn.1));
        let turn_rad2pm2 = profile.veer_radpm * profile.veer_radpm;
        let ln_heights = &*LN_HEIGHTS;
        let mut last = [0.0; 4];
        for (index, row) in self.rows.iter_mut().enumerate() {
            let height_m = HEIGHTS_M[index];
            if index < 2 || HEIGHTS_M[index - 1] < ceiling_m {
                let now = match index {
                    0 => Power { fade: 1.0, dense: 1.0, turn: (1.0, 0.0) },
                    _ => {
                        let power = &mut powers[1 - index % 2];
                        let now = *power;
                        *power = now.times(now);
                        now
                    }
                };
                let (east, north) = if height_m > TOP_OF_LOG_LAW_M && !aloft.is_empty() {
                    // The mean of the layers about the row, not what blows at its height alone.
                    let at_80 = profile.at(TOP_OF_LOG_LAW_M);
                    let [below, above] = [HEIGHTS_M[index - 1], HEIGHTS_M[(index + 1).min(ROWS - 1)]];
                    let mut mean = (0.0, 0.0);
                    for part in [0.125, 0.375] {
                        for near in [below, above] {
                            let (east, north) = between(at_80, aloft, height_m + part * (near - height_m));
                            mean = (mean.0 + 0.25 * east, mean.1 + 0.25 * north);
                        }
                    }
                    mean
                } else {
                    let (ln_height, lift) = ln_heights[index];
                    let factor = if height_m <= TOP_OF_LOG_LAW_M {
                        log_law.at((ln_height + lift).max(lowest))
                    } else {
                        let factor = &mut aloft_factors[index % 2];
                        *factor = if *factor > 0.0 && index + 1 < ROWS {
                            *factor * doubled
                        } else {
                            // The power law bends less than the log law: by its exponent.
                            let ln_height = ln_height + lift * (1.0 - profile.shear_exponent);
                            log_law.at(LN_TOP) * (profile.shear_exponent * (ln_height - LN_TOP)).exp()
                        };
                        *factor
                    };
                    let factor = factor * (1.0 + TURN_LIFT_M2[index] * turn_rad2pm2);
                    let (east, north) = turned(at_10, now.turn);
                    (factor * east, factor * north)
                };
                last = [east, north, ground.density_kgpm3 * now.dense * now.dense, thinnest * now.fade];
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
        let share = ((height_m - HEIGHTS_M[index]) * PER_LAYER[index]).clamp(0.0, 1.0);
        let (low, high) = (self.rows[index], self.rows[index + 1]);
        core::array::from_fn(|column| low[column] + share * (high[column] - low[column]))
    }

    /// Index of the highest row that is not above this height.
    #[inline]
    pub(crate) fn row_below(height_m: f64) -> usize {
        /// All but the exponent and the first bit of the fraction.
        const REST: u32 = 51;
        const BELOW: f64 = 0.375; // as if there were a row: it counts as the ground
        let index = (height_m.max(BELOW).to_bits() >> REST) - (BELOW.to_bits() >> REST);
        usize::try_from(index).map_or(ROWS - 1, |index| index.min(ROWS - 1))
    }

    /// Height of a row above the pad, m; beyond the last they go on by the same thickness.
    #[inline]
    pub(crate) fn row_height_m(index: usize) -> f64 {
        match index.checked_sub(ROWS - 1) {
            None | Some(0) => HEIGHTS_M[index],
            Some(beyond) => HEIGHTS_M[ROWS - 1] * (1.0 + beyond as f64),
        }
    }

    /// The row to which a falling body may go on from a row in one step: down to the next power of two, the ground
    /// from 2 m; but not past 48 m.
    #[inline]
    pub(crate) fn coarser_below(row: usize) -> usize {
        match row {
            0..=5 => 0,
            15 => 14, // 48 m, below which updraughts fade
            _ => row - 1 - row % 2,
        }
    }

    /// By how much the wind between two rows is more, in the mean over height, than the mean of both.
    #[inline]
    pub(crate) fn bulge(&self, low: usize, high: usize) -> [f64; 2] {
        let per_m = 1.0 / (HEIGHTS_M[high] - HEIGHTS_M[low]);
        let mut more = [0.0; 2];
        for row in low + 1..high {
            let share = 0.5 * per_m * (HEIGHTS_M[row + 1] - HEIGHTS_M[row - 1]);
            for (axis, more) in more.iter_mut().enumerate() {
                *more += share * self.rows[row][axis];
            }
        }
        let low_share = 0.5 * per_m * (HEIGHTS_M[low + 1] - HEIGHTS_M[low]) - 0.5;
        let high_share = 0.5 * per_m * (HEIGHTS_M[high] - HEIGHTS_M[high - 1]) - 0.5;
        core::array::from_fn(|axis| {
            more[axis] + low_share * self.rows[low][axis] + high_share * self.rows[high][axis]
        })
    }

    /// Wind, density and one over its root of a row, those of the last for one above it.
    #[inline]
    pub(crate) fn row(&self, index: usize) -> [f64; 4] {
        self.rows[index.min(ROWS - 1)]
    }
}

/// What grows with height as an exponential: at the sum of two heights it is their product.
#[derive(Clone, Copy)]
struct Power {
    /// Root of the density at the pad over that at the height, and the reverse.
    fade: f64,
    dense: f64,
    /// Veer, as [`turn_by`] has it.
    turn: (f64, f64),
}

impl Power {
    fn of(height_m: f64, scale_m: f64, veer_radpm: f64) -> Self {
        let fade = (0.5 * height_m / scale_m).exp();
        Self { fade, dense: 1.0 / fade, turn: turn_by(height_m * veer_radpm) }
    }

    #[inline]
    fn times(self, other: Self) -> Self {
        Self {
            fade: self.fade * other.fade,
            dense: self.dense * other.dense,
            turn: turned(self.turn, other.turn),
        }
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
