//! From wind readings to what is believed of the wind during the flight.

use crate::Priors;
use crate::learn::Sounding;
use crate::normal::share_below;
use windfall_facts::{Flight, Known, North, Sentence, WindMethod, WindReading};
use windfall_physics::air::{Aloft, shape_at, straying};
use windfall_quantities::{Bearing, Declination, MagneticNorth, TrueNorth};

/// Height of a reading that names none.
const USUAL_HEIGHT_M: f64 = 2.0;
/// Readings above are of winds aloft.
const ALOFT_ABOVE_M: f64 = 80.0;

/// Height at which a reading was taken, m.
#[must_use]
pub fn read_at_m(row: &WindReading) -> f64 {
    row.height_m.map_or(USUAL_HEIGHT_M, |figure| figure.value)
}

/// Whether a reading is one of winds aloft.
#[must_use]
pub fn is_aloft(row: &WindReading) -> bool {
    read_at_m(row) > ALOFT_ABOVE_M
}

/// Mean wind of the flight at one height, and the winds aloft.
#[derive(Clone, Debug)]
pub(crate) struct WindBelief {
    pub(crate) height_m: f64,
    law: Law,
    /// Standard deviation of each component at 10 m without any reading, m/s.
    climate_mps: f64,
    /// Usual speed at 40 m for each m/s at this height.
    at_40m: f64,
    aloft: Vec<AloftBelief>,
    /// Rows of the flight file that stand behind it.
    pub(crate) used: usize,
}

/// Law of the mean wind at the height of the readings.
#[derive(Clone, Debug)]
struct Law {
    /// None: any speed of a flying day.
    speed: Option<SpeedLaw>,
    /// None: from anywhere.
    towards: Option<Towards>,
}

/// What readings leave open of the speed.
#[derive(Clone, Debug)]
struct SpeedLaw {
    /// Logarithm of what they say together, m/s.
    ln_read: f64,
    /// What to add to it: a row for each speed that they would be at 10 m, a column for each standard normal.
    adds: Vec<[f64; NORMALS]>,
}

/// What readings leave open of the direction.
#[derive(Clone, Copy, Debug)]
struct Towards {
    /// Clockwise from north.
    rad: f64,
    error: Error,
    /// What directions that disagree add to its variance, rad2.
    apart2: f64,
}

/// Variances of what one reading, or several together, say of the wind of the flight: of the logarithm of its speed, or of
/// its direction.
#[derive(Clone, Copy, Debug, Default)]
struct Error {
    /// Of instrument, averaging and height.
    own: f64,
    /// From the minute of the reading to that of the flight; heavy in its tails.
    step: f64,
    /// By the time between them, if the wind is a usual one.
    strayed: f64,
}

/// A row of winds aloft with the error of its speed (ln) and direction (rad).
#[derive(Clone, Copy, Debug)]
struct AloftBelief {
    row: Aloft,
    ln_speed_sigma: f64,
    direction_sigma_rad: f64,
}

const NORMALS: usize = 49;
/// Standard normals between columns; the middle one is none.
const NORMALS_APART: f64 = 0.25;
/// Rows of the speeds' law: how far a reading is from its speed at 10 m, in logarithms, at the first and between rows.
const ROWS: (f64, f64, usize) = (-1.2, 0.15, 17);
/// At 40 m: it strays as the table says.
const USUAL_MPS: f64 = 5.0;
const UNKNOWN_AGE_MIN: f64 = 10.0;
const LEAST_ERROR_MPS: f64 = 0.15;
/// Readings of one day share the meter, the place and the gap to the flight: correlation of their errors, judgement.
const SHARED: f64 = 0.5;
/// What a flight met is read off its own gusts: it shares little with any other (judgement; simulated seasons gain by it).
const SHARED_BY_SOUNDINGS: f64 = 0.1;
/// What is told disagrees when it lies farther apart than this, in what its errors lead to expect.
const DISAGREES: f64 = 2.0;
/// No direction is less certain than this, rad: on the circle it is any.
const WIDEST_RAD: f64 = 3.0;
/// What a profile that is not the usual one adds for each unit of the logarithm of the height: to the logarithm of the
/// speed, and to the direction in degrees (judgement, from the spread of roughness, stability and veer in the table).
const SHAPE: (f64, f64) = (0.07, 2.0);
/// Strongest gust of a reading over its mean at 2 m, and the spread of its logarithm: judgement between the mast's
/// 1.37 at 40 m and the sonics' 1.8 near the ground (tests/reference).
const GUST_FACTOR: (f64, f64) = (1.5, 0.2);

impl WindBelief {
    /// Combines all readings with the climate of flying days.
    ///
    /// # Model
    /// Speeds combine in their logarithms, directions on the circle. The climate is an isotropic Gaussian vector at 10 m (its
    /// speed is Rayleigh, which is the Weibull law of shape 2 in the table).
    pub(crate) fn from_readings(
        flight: &Flight,
        declination: Declination,
        priors: &Priors,
        soundings: &[Sounding],
    ) -> Self {
        let counts = |row: &WindReading| soundings.iter().any(|it| it.readings.contains(row));
        let usable: Vec<Reading> = flight
            .wind
            .iter()
            .filter(|row| !counts(row))
            .filter_map(|row| Reading::of(row, flight, declination, priors))
            .chain(soundings.iter().map(|it| Reading::of_sounding(it, flight, priors)))
            .collect();
        let (mut near, mut high): (Vec<Reading>, Vec<Reading>) =
            usable.into_iter().partition(|reading| reading.height_m <= ALOFT_ABOVE_M);
        high.sort_by(|a, b| a.height_m.total_cmp(&b.height_m));
        let aloft: Vec<AloftBelief> = high.iter().filter_map(Reading::aloft).collect();
        // Soundings are near, and the rows they rest on are used through them.
        let through = flight.wind.iter().filter(|row| counts(row)).count();
        let used = near.len() + aloft.len() + through - soundings.len();
        // Winds aloft alone speak of the ground too: each story brings the lowest down by its own profile.
        if !near.iter().any(|reading| reading.vector().is_some()) {
            near.extend(high.iter().find(|reading| reading.vector().is_some()));
        }
        // All readings are brought to the height of the sharpest one, so that its own error stays its own.
        let sharpest = near.iter().filter(|reading| reading.speed_mps.is_some()).min_by(|a, b| {
            let key = |it: &Reading| (it.direction.is_none(), it.ln_speed_variance());
            key(a).partial_cmp(&key(b)).unwrap_or(core::cmp::Ordering::Equal)
        });
        let height_m = sharpest.map_or(10.0, |reading| reading.height_m);
        let climate_mps = priors.b("wind_speed_10m_unread") / (core::f64::consts::PI / 2.0).sqrt();
        for reading in &mut near {
            let scale = usual_shape(height_m) / usual_shape(reading.height_m);
            reading.speed_mps = reading.speed_mps.map(|speed| speed * scale);
            let apart = (height_m / reading.height_m).ln().abs();
            reading.ln_speed.own += (SHAPE.0 * apart).powi(2);
            reading.turn.own += (SHAPE.1.to_radians() * apart).powi(2);
            reading.height_m = height_m;
        }
        let at_40m = at_40m(height_m);
        Self {
            height_m,
            law: Law::of(&near, climate_mps, height_m, priors),
            climate_mps,
            at_40m,
            aloft,
            used,
        }
    }

    /// Mean wind towards east and north at `height_m`, where the speed is `shape` times that at 10 m, from two standard
    /// normals and one that makes the tails of the direction heavy.
    pub(crate) fn at(&self, z: [f64; 2], tail_z: f64, shape: f64) -> [f64; 2] {
        let speed_at = |normal: f64| match &self.law.speed {
            Some(law) => law.at(normal, shape),
            None => shape * self.climate_mps * (-2.0 * share_below(-normal).max(1e-300).ln()).sqrt(),
        };
        match (&self.law.speed, self.law.towards) {
            (None, None) => z.map(|z| shape * self.climate_mps * z),
            (_, Some(towards)) => {
                let speed = speed_at(z[0]);
                let (sin, cos) = (towards.rad + towards.sigma(speed, self.at_40m, tail_z) * z[1]).sin_cos();
                [speed * sin, speed * cos]
            }
            (Some(_), None) => {
                // The length of (z0, z1) squared over two is exponential; its cube root is a normal with mean 8/9 and
                // variance 1/9 to a few thousandths: E. B. Wilson, M. M. Hilferty, The distribution of chi-square,
                // Proc. Natl. Acad. Sci. 17 (1931) 684, from memory.
                let length = z[0].hypot(z[1]);
                let speed = speed_at(3.0 * ((length * length / 2.0).cbrt() - 8.0 / 9.0));
                if length > 0.0 { z.map(|z| speed * z / length) } else { [speed, 0.0] }
            }
        }
    }

    /// The winds aloft of one story into `rows`, from a standard normal for their speeds and one for their turn.
    pub(crate) fn fill_aloft(&self, speed_z: f64, turn_z: f64, rows: &mut Vec<Aloft>) {
        rows.clear();
        rows.extend(self.aloft.iter().map(|it| {
            let factor = (it.ln_speed_sigma * speed_z).exp();
            let (sin, cos) = (it.direction_sigma_rad * turn_z).sin_cos();
            let (east, north) = (it.row.east_mps * factor, it.row.north_mps * factor);
            Aloft {
                height_m: it.row.height_m,
                east_mps: east * cos + north * sin,
                north_mps: north * cos - east * sin,
            }
        }));
    }

    /// Where it blows towards, clockwise from north, and the error (rad); none if nobody said.
    pub(crate) fn towards(&self) -> Option<(f64, f64)> {
        let usual_mps =
            self.law.speed.as_ref().map_or(self.climate_mps, |law| law.at(0.0, usual_shape(self.height_m)));
        self.law.towards.map(|it| (it.rad, it.error.turn_variance(usual_mps, self.at_40m).sqrt()))
    }

    /// What is not known of the wind, in words.
    pub(crate) fn missing(&self) -> Option<Sentence> {
        match (&self.law.speed, self.law.towards) {
            (Some(_), Some(_)) => None,
            (Some(_), None) => Some(Sentence::WindFrom {}),
            (None, Some(_)) => Some(Sentence::WindStrength {}),
            (None, None) => Some(Sentence::WindAtLaunch {}),
        }
    }
}

impl Law {
    /// The law behind readings brought to one height.
    fn of(near: &[Reading], climate_mps: f64, height_m: f64, priors: &Priors) -> Self {
        let speeds: Vec<(f64, &Reading)> =
            near.iter().filter_map(|it| Some((it.speed_mps?.max(LEAST_ERROR_MPS).ln(), it))).collect();
        // How light the wind is, and so how far it strays, they say together.
        let together_mps = (!speeds.is_empty())
            .then(|| (speeds.iter().map(|row| row.0).sum::<f64>() / speeds.len() as f64).exp());
        let (usual_mps, at_40m) =
            (together_mps.unwrap_or(climate_mps * usual_shape(height_m)), at_40m(height_m));
        let growth = strays(30.0, together_mps, height_m, priors);
        let speed = (!speeds.is_empty()).then(|| {
            let noted: Vec<Noted> =
                speeds.iter().map(|(_, it)| it.noted(it.ln_speed_but_for_age())).collect();
            let Together { weights, variance, scatter } = best_weights(&noted, growth[0]);
            let mean: f64 = speeds.iter().zip(&weights).map(|(row, weight)| weight * row.0).sum();
            let apart2: f64 =
                speeds.iter().zip(&weights).map(|(row, weight)| weight * (row.0 - mean).powi(2)).sum();
            let errors = speeds.iter().zip(&weights).map(|((_, it), weight)| (it.ln_speed, *weight));
            let error = Error::together(errors, variance + beyond(apart2, scatter), |it| {
                it.ln_speed_variance(usual_mps, at_40m)
            });
            SpeedLaw::of(mean, error, climate_mps, at_40m)
        });
        let ways: Vec<([f64; 2], &Reading)> =
            near.iter().filter_map(|it| Some((it.direction?, it))).collect();
        let towards = (!ways.is_empty()).then(|| {
            let noted: Vec<Noted> =
                ways.iter().map(|(_, it)| it.noted(it.turn.but_for_age(usual_mps))).collect();
            let Together { weights, variance, scatter } = best_weights(&noted, growth[1]);
            let [east, north] =
                [0, 1].map(|axis| ways.iter().zip(&weights).map(|(row, w)| w * row.0[axis]).sum::<f64>());
            let errors = ways.iter().zip(&weights).map(|((_, it), weight)| (it.turn, *weight));
            Towards {
                rad: east.atan2(north),
                error: Error::together(errors, variance, |it| it.turn_variance(usual_mps, at_40m)),
                // The length of the mean direction is exp(-variance / 2).
                apart2: beyond(-2.0 * east.hypot(north).clamp(1e-6, 1.0).ln(), scatter),
            }
        });
        Self { speed, towards }
    }
}

impl SpeedLaw {
    /// The law of the speed, given readings that say `ln_read` together.
    ///
    /// # Model
    /// Bayes' rule on a grid: the Rayleigh law of flying days at 10 m times the law of the readings' error, whose step from
    /// one minute to another is a Student t of 4 degrees of freedom and whose other parts are normal. The error depends on
    /// the speed itself: what wind there is strays by its own law. How the speed at the readings' height goes with that at
    /// 10 m is another unknown: a row for each of its values.
    fn of(ln_read: f64, error: Error, climate_mps: f64, at_40m: f64) -> Self {
        const GRID: (f64, f64, usize) = (-3.5, 0.02, 351);
        const TAILS: usize = 24;
        let grid = |index: usize| GRID.1.mul_add(index as f64, GRID.0);
        let tails: [f64; TAILS] = core::array::from_fn(|at| {
            // 4 / chi2_4 in the middle of each share of chance.
            2.0 / half_chi2((at as f64 + 0.5) / TAILS as f64)
        });
        // Of the error that the readings would have made.
        let likelihoods: Vec<f64> = (0..GRID.2)
            .map(|index| {
                let add = grid(index);
                let mps = (ln_read + add).exp();
                let rest = error.ln_speed_variance(mps, at_40m) - error.step;
                let of_tail = |tail: &f64| {
                    let variance = rest + error.step * tail;
                    (-0.5 * add * add / variance).exp() / variance.sqrt()
                };
                tails.iter().map(of_tail).sum()
            })
            .collect();
        let row = |row: usize| {
            let ln_at_10m = ln_read + ROWS.1.mul_add(row as f64, ROWS.0);
            let mut reached = Vec::with_capacity(GRID.2);
            let mut total = 0.0;
            for (index, likelihood) in likelihoods.iter().enumerate() {
                let square = (2.0 * (ln_at_10m + grid(index))).exp() / (climate_mps * climate_mps);
                let density = square * (-0.5 * square).exp() * likelihood;
                reached.push(total + 0.5 * density);
                total += density;
            }
            let mut at = 0;
            core::array::from_fn(|column| {
                let below = share_below(NORMALS_APART * (column as f64 - (NORMALS / 2) as f64));
                let wanted = below * total;
                while at + 2 < GRID.2 && reached[at + 1] < wanted {
                    at += 1;
                }
                let [from, to] = [reached[at], reached[at + 1]];
                let share = if to > from { ((wanted - from) / (to - from)).clamp(0.0, 1.0) } else { 0.5 };
                share.mul_add(GRID.1, grid(at))
            })
        };
        Self { ln_read, adds: (0..ROWS.2).map(row).collect() }
    }

    /// Speed at the quantile of a standard normal, where it is `shape` times that at 10 m.
    fn at(&self, normal: f64, shape: f64) -> f64 {
        let [row, column] = [
            ((-shape.max(1e-3).ln() - ROWS.0) / ROWS.1).clamp(0.0, (ROWS.2 - 1) as f64 - 1e-9),
            (normal / NORMALS_APART + (NORMALS / 2) as f64).clamp(0.0, (NORMALS - 1) as f64 - 1e-9),
        ];
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to the table")]
        let [at_row, at_column] = [row as usize, column as usize];
        let along = |row: &[f64; NORMALS]| {
            let [from, to] = [row[at_column], row[at_column + 1]];
            (column - at_column as f64).mul_add(to - from, from)
        };
        let [from, to] = [along(&self.adds[at_row]), along(&self.adds[at_row + 1])];
        (self.ln_read + (row - at_row as f64).mul_add(to - from, from)).exp()
    }
}

impl Towards {
    /// Standard deviation of the direction in a wind of this speed, rad; `tail_z` makes tails heavy.
    fn sigma(&self, mps: f64, at_40m: f64, tail_z: f64) -> f64 {
        let tail = heavy_tail(tail_z);
        let heavy = Error { step: self.error.step * tail * tail, ..self.error };
        (heavy.turn_variance(mps, at_40m) + self.apart2).sqrt().min(WIDEST_RAD)
    }
}

impl Error {
    /// Of several, with their weights: in parts as they have on the average, and `variance` in sum.
    fn together(
        errors: impl Iterator<Item = (Self, f64)>,
        variance: f64,
        sum: impl Fn(&Self) -> f64,
    ) -> Self {
        let mean = errors.fold(Self::default(), |all, (it, weight)| Self {
            own: weight.mul_add(it.own, all.own),
            step: weight.mul_add(it.step, all.step),
            strayed: weight.mul_add(it.strayed, all.strayed),
        });
        let factor = variance / sum(&mean).max(1e-12);
        Self { own: factor * mean.own, step: factor * mean.step, strayed: factor * mean.strayed }
    }

    /// Variance of the logarithm of a speed.
    fn ln_speed_variance(&self, mps: f64, at_40m: f64) -> f64 {
        let [light, _] = straying(30.0, mps * at_40m);
        self.own + self.step + (LEAST_ERROR_MPS / mps).powi(2) + self.strayed * light * light
    }

    /// Variance of a direction in a wind of this speed.
    fn turn_variance(&self, mps: f64, at_40m: f64) -> f64 {
        let [_, light] = straying(30.0, mps * at_40m);
        self.but_for_age(mps) + self.strayed * light * light
    }

    fn but_for_age(&self, mps: f64) -> f64 {
        let slow = (4.0 / mps.max(0.5)).max(1.0);
        self.own + self.step * slow * slow
    }
}

/// A reading's variance but for its age, and how long before the launch it was taken, min (negative: after it).
#[derive(Clone, Copy, Debug)]
struct Noted {
    own: f64,
    before_min: f64,
    shares: f64,
}

/// Several readings in one.
#[derive(Clone, Debug)]
struct Together {
    weights: Vec<f64>,
    /// Of what they say together.
    variance: f64,
    /// Weighted square of their distance from that, as their errors lead to expect it.
    scatter: f64,
}

/// By how much a weighted square of distances widens the error of a mean. Errors that are known are in its variance
/// already: only what they do not account for is added.
fn beyond(apart2: f64, scatter: f64) -> f64 {
    (apart2 - DISAGREES * DISAGREES * scatter).max(0.0)
}

/// How to weigh readings of a wind that strays, and the variance of what they say of the wind at the launch.
///
/// # Model
/// What strays is a random walk with memory: between two moments it changes by `growth (minutes / 30)^0.4`, so that the
/// changes from two readings to the launch go together as far as they overlap. The readings' own errors share a half, those
/// of flights a tenth.
/// Best linear weights, none of them negative.
/// # Source
/// Growth with time: the mast's persistence (the table of priors names it). The weights are those of kriging, G. Matheron,
/// Principles of geostatistics, Economic Geology 58 (1963) 1246, from memory.
fn best_weights(notes: &[Noted], growth: f64) -> Together {
    let strays2 = |minutes: f64| (growth * (minutes.abs() / 30.0).powf(0.4)).powi(2);
    let n = notes.len();
    let covariance: Vec<f64> = (0..n * n)
        .map(|at| {
            let (a, b) = (notes[at / n], notes[at % n]);
            let own = (a.own * b.own).sqrt() * if at / n == at % n { 1.0 } else { a.shares.min(b.shares) };
            let together =
                strays2(a.before_min) + strays2(b.before_min) - strays2(a.before_min - b.before_min);
            own + 0.5 * together
        })
        .collect();
    let variance_of = |weights: &[f64]| -> f64 {
        (0..n * n).map(|at| weights[at / n] * weights[at % n] * covariance[at]).sum()
    };
    // Down the gradient of the variance on the simplex, by exponentiated steps: few readings, and it cannot fail.
    let mut weights = vec![1.0 / n as f64; n];
    for _ in 0..if n > 1 { 400 } else { 0 } {
        let slopes: Vec<f64> =
            (0..n).map(|i| (0..n).map(|j| weights[j] * covariance[i * n + j]).sum::<f64>()).collect();
        let level = variance_of(&weights).max(1e-12);
        for (weight, slope) in weights.iter_mut().zip(&slopes) {
            *weight *= (-(slope / level - 1.0)).clamp(-3.0, 3.0).exp();
        }
        let total: f64 = weights.iter().sum();
        weights.iter_mut().for_each(|weight| *weight /= total);
    }
    let variance = variance_of(&weights);
    let scatter: f64 = (0..n).map(|at| weights[at] * covariance[at * n + at]).sum::<f64>() - variance;
    Together { weights, variance, scatter }
}

/// Factor that turns a normal into a Student t with 4 degrees of freedom: `sqrt(4 / chi2_4)` at the quantile of `z`.
fn heavy_tail(z: f64) -> f64 {
    (2.0 / half_chi2(share_below(-z).clamp(1e-12, 1.0 - 1e-12))).sqrt()
}

/// Half of `chi2_4` above which there is this chance.
///
/// # Model
/// The distribution function of `chi2_4` is `1 - e^-y (1 + y)` with `y = x / 2`; Newton steps on its logarithm of the
/// upper tail.
fn half_chi2(upper: f64) -> f64 {
    // Solve y - ln(1 + y) = -ln(upper); the start fits both ends.
    let target = -upper.ln();
    let mut y = target + (2.0 * target).sqrt();
    for _ in 0..6 {
        let f = y - y.ln_1p() - target;
        y = (y - f * (1.0 + y) / y.max(1e-9)).max(1e-6);
    }
    y
}

/// Usual speed at 40 m for each m/s at a height.
fn at_40m(height_m: f64) -> f64 {
    usual_shape(40.0) / usual_shape(height_m)
}

fn usual_shape(height_m: f64) -> f64 {
    shape_at(height_m, 0.05, 0.75, 0.1)
}

/// What one row of the flight file says: a speed, a direction, or both.
#[derive(Clone, Copy, Debug)]
struct Reading {
    height_m: f64,
    speed_mps: Option<f64>,
    ln_speed: Error,
    /// Unit vector, towards east and north.
    direction: Option<[f64; 2]>,
    turn: Error,
    /// How long before the launch, min; negative after it.
    before_min: f64,
    /// Correlation of its own error with those of others.
    shares: f64,
}

impl Reading {
    /// None for a row that says nothing of the mean wind.
    fn of(row: &WindReading, flight: &Flight, declination: Declination, priors: &Priors) -> Option<Self> {
        let gust = row.gust_mps.filter(|_| row.speed_mps.is_none());
        let speed_mps =
            row.speed_mps.map(|figure| figure.value).or(gust.map(|figure| figure.value / GUST_FACTOR.0));
        let direction = row
            .from_deg
            .and_then(|figure| true_bearing(figure.value, row.north, declination))
            .map(|from| from.reversed().radians().sin_cos());
        if speed_mps.is_none() && direction.is_none() {
            return None;
        }
        let guessed = row.speed_mps.or(gust).and_then(|figure| figure.known) == Some(Known::Guessed);
        let meter = row.method == Some(WindMethod::Meter) && !guessed;
        let averaged_s =
            row.averaged_s.map_or(if meter { 60.0 } else { 30.0 }, |figure| figure.value).clamp(3.0, 600.0);
        // The table's row is for a 60 s reading; shorter ones are worse, as wind_sonic_spot_vs_flight.csv shows
        // (0.31 at 10 s against 0.22 at 60 s).
        let short = (60.0 / averaged_s).powf(0.19).max(1.0);
        let before_min = before_min(row.at.as_deref(), flight);
        let height_m = read_at_m(row).max(0.5);
        let [ln_strayed, strayed_rad] = strays(before_min, None, height_m, priors);
        let ln_own =
            if meter { priors.a("instrument_speed_meter") } else { priors.a("instrument_speed_feel") };
        let own_deg = if meter {
            priors.b("instrument_direction_compass")
        } else {
            priors.b("instrument_direction_eye")
        };
        // The scale of a Student t, where the others are standard deviations.
        let ln_step = priors.a("reading_to_flight_ln_speed_60s") * short;
        let step_deg = priors.a("reading_to_flight_direction_60s_at_4mps") * short;
        let squares = |own: f64, step: f64, strayed: f64| Error {
            own: own * own,
            step: step * step,
            strayed: strayed * strayed,
        };
        Some(Self {
            height_m,
            speed_mps,
            ln_speed: squares(
                ln_own.hypot(if gust.is_some() { GUST_FACTOR.1 } else { 0.0 }),
                ln_step,
                ln_strayed,
            ),
            direction: direction.map(|(sin, cos)| [sin, cos]),
            turn: squares(own_deg.to_radians(), step_deg.to_radians(), strayed_rad),
            before_min,
            shares: SHARED,
        })
    }

    /// The wind that another flight of the day met: its own error, and how far it has strayed since.
    ///
    /// # Model
    /// It is the mean wind, as this flight's is: the minutes of both are in their gusts, which the clouds tell from it. So
    /// there is no step from a minute to another, as there is from a reading, and no tail of one.
    fn of_sounding(it: &Sounding, flight: &Flight, priors: &Priors) -> Self {
        let before_min = before_min(Some(&it.at), flight);
        let [ln_mps, ln_own] = it.ln_speed;
        let [towards, own_rad] = it.towards_rad;
        let [ln_strayed, strayed_rad] = strays(before_min, None, it.height_m, priors);
        let error = |own: f64, strayed: f64| Error { own: own * own, step: 0.0, strayed: strayed * strayed };
        Self {
            height_m: it.height_m,
            speed_mps: Some(ln_mps.exp()),
            ln_speed: error(ln_own, ln_strayed),
            direction: Some([towards.sin(), towards.cos()]),
            turn: error(own_rad, strayed_rad),
            before_min,
            shares: SHARED_BY_SOUNDINGS,
        }
    }

    fn mps(&self) -> f64 {
        self.speed_mps.unwrap_or(USUAL_MPS).max(LEAST_ERROR_MPS)
    }

    fn ln_speed_variance(&self) -> f64 {
        self.ln_speed.ln_speed_variance(self.mps(), at_40m(self.height_m))
    }

    /// Variance of the logarithm of its speed but for what age adds.
    fn ln_speed_but_for_age(&self) -> f64 {
        Error { strayed: 0.0, ..self.ln_speed }.ln_speed_variance(self.mps(), at_40m(self.height_m))
    }

    fn noted(&self, own: f64) -> Noted {
        Noted { own, before_min: self.before_min, shares: self.shares }
    }

    fn vector(&self) -> Option<(f64, [f64; 2])> {
        Some((self.speed_mps?, self.direction?))
    }

    fn aloft(&self) -> Option<AloftBelief> {
        let (speed, [east, north]) = self.vector()?;
        Some(AloftBelief {
            row: Aloft { height_m: self.height_m, east_mps: speed * east, north_mps: speed * north },
            ln_speed_sigma: self.ln_speed_variance().sqrt(),
            direction_sigma_rad: self
                .turn
                .turn_variance(self.mps(), at_40m(self.height_m))
                .sqrt()
                .min(WIDEST_RAD),
        })
    }
}

/// A bearing as written, turned to true north; none for a number that is no direction.
pub(crate) fn true_bearing(
    degrees: f64,
    north: North,
    declination: Declination,
) -> Option<Bearing<TrueNorth>> {
    match north {
        North::True => Bearing::from_degrees(degrees).ok(),
        North::Magnetic => {
            Bearing::<MagneticNorth>::from_degrees(degrees).ok().map(|b| b.to_true(declination))
        }
    }
}

/// How far the wind has strayed after so many minutes: standard deviations of the logarithm of its speed, and of its
/// direction (rad). A wind of which nobody knows how strong it is strays as the usual one.
fn strays(minutes: f64, speed_mps: Option<f64>, height_m: f64, priors: &Priors) -> [f64; 2] {
    let [ln, turn] = straying(minutes, speed_mps.map_or(USUAL_MPS, |mps| mps * at_40m(height_m)));
    [ln * priors.b("reading_age_ln_speed_30min"), turn * priors.b("reading_age_direction_30min").to_radians()]
}

/// How long before the launch something was read, min; negative after it.
fn before_min(at: Option<&str>, flight: &Flight) -> f64 {
    let moment = |text: Option<&str>| chrono::DateTime::parse_from_rfc3339(text?).ok();
    match (moment(at), moment(flight.launch.at.as_deref())) {
        (Some(read), Some(launched)) => ((launched - read).num_seconds() as f64 / 60.0).clamp(-600.0, 600.0),
        _ => UNKNOWN_AGE_MIN,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use windfall_facts::read_flight;

    /// Where the heavy tail's factor is one.
    const MEDIAN_TAIL: f64 = 0.2378;

    fn flight(rows: &str) -> Flight {
        let text = format!(
            r#"{{"format": "windfall-flight/1", "pad": {{"lat": 47.5, "lon": 17.3}}, "wind": [{rows}],
                "rocket": {{"stages": [{{"motor": "C6-5"}}]}}, "launch": {{"at": "2026-05-16T11:05:00+02:00"}}}}"#
        );
        read_flight(&text).unwrap()
    }

    fn belief(rows: &str) -> WindBelief {
        WindBelief::from_readings(&flight(rows), Declination::from_degrees(0.0), &Priors::embedded(), &[])
    }

    /// Speeds and directions (rad, towards) over a grid of quantiles of the two normals.
    fn drawn(belief: &WindBelief) -> (Vec<f64>, [f64; 2]) {
        let grid: Vec<f64> = (-30..30).map(|k| (f64::from(k) + 0.5) / 10.0).collect();
        let (mut speeds, mut sum, mut total) = (Vec::new(), [0.0; 2], 0.0);
        for a in &grid {
            for b in &grid {
                let weight = (-0.5 * (a * a + b * b)).exp();
                let [east, north] = belief.at([*a, *b], MEDIAN_TAIL, usual_shape(belief.height_m));
                total += weight;
                sum = [sum[0] + weight * east, sum[1] + weight * north];
                speeds.push((east.hypot(north), weight));
            }
        }
        speeds.sort_by(|x, y| x.0.total_cmp(&y.0));
        let quantile = |p: f64| {
            let mut reached = 0.0;
            speeds.iter().find(|(_, w)| {
                reached += w / total;
                reached >= p
            })
        };
        let quantiles = [0.16, 0.5, 0.84].into_iter().filter_map(|p| quantile(p).map(|row| row.0)).collect();
        (quantiles, sum.map(|it| it / total))
    }

    #[test]
    fn the_heavy_tail_has_the_quantiles_of_chi_squared_with_four_degrees() {
        // Table of the chi-squared distribution, 4 degrees of freedom, any statistics handbook (from memory):
        // median 3.357, 95 % 9.488, 5 % 0.711.
        for (z, quantile) in [(0.0, 3.357), (1.644_854, 9.488), (-1.644_854, 0.711)] {
            let chi = 4.0 / heavy_tail(z).powi(2);
            assert!((chi - quantile).abs() < 1e-3, "{chi} at {z}");
        }
    }

    #[test]
    fn a_speed_without_a_direction_keeps_its_length_and_the_whole_circle() {
        const ROW: &str = r#"{"at": "2026-05-16T11:04:00+02:00", "height_m": 2, "averaged_s": 60, "speed_mps": 6, "method": "meter"}"#;
        let belief = belief(ROW);
        let (quantiles, mean) = drawn(&belief);
        assert!(mean[0].hypot(mean[1]) < 1e-6, "{mean:?}");
        // The posterior itself by quadrature, from the table: Rayleigh speeds, and the reading's error as the sum of a normal
        // and of a Student t of 4 degrees of freedom, whose density is (1 + x^2 / 4)^-2.5.
        let scale = belief.climate_mps * usual_shape(2.0);
        let steps: Vec<f64> = (1..400).map(|k| f64::from(k) * 0.05).collect();
        let density = |v: f64| {
            let light = (5.0 / (v * at_40m(2.0)).clamp(2.5, 10.0)).powf(0.6);
            let strayed = 0.24 * (1.0_f64 / 30.0).powf(0.4) * light;
            let sigma = 0.08_f64.hypot(LEAST_ERROR_MPS / v).hypot(strayed);
            let error: f64 = (-400..=400)
                .map(|k| {
                    let t = f64::from(k) * 0.05;
                    let rest = ((6.0 / v).ln() - 0.17 * t) / sigma;
                    (1.0 + t * t / 4.0).powf(-2.5) * (-0.5 * rest * rest).exp() / sigma
                })
                .sum();
            v * (-0.5 * (v / scale).powi(2)).exp() * error
        };
        let total: f64 = steps.iter().map(|v| density(*v)).sum();
        for (p, ours) in [0.16, 0.5, 0.84].into_iter().zip(quantiles) {
            let mut reached = 0.0;
            let exact = steps.iter().find(|v| {
                reached += density(**v) / total;
                reached >= p
            });
            // Half a step, and the test's own grid of normals.
            assert!((ours / exact.unwrap() - 1.0).abs() < 0.015, "{ours} and {exact:?} at {p}");
        }
        assert_eq!(belief.missing(), Some(Sentence::WindFrom {}));
    }

    #[test]
    fn a_direction_without_a_speed_has_the_speeds_of_the_climate() {
        let (quantiles, mean) = drawn(&belief(r#"{"from_deg": 270, "north": "true", "method": "feel"}"#));
        assert!(mean[0] > 2.0 && mean[1].abs() < 0.1, "{mean:?}");
        assert!((2.0..5.0).contains(&quantiles[1]), "{quantiles:?}");
    }

    #[test]
    fn sixty_readings_of_one_day_keep_the_error_they_share() {
        let row = r#"{"at": "2026-05-16T11:04:00+02:00", "height_m": 2, "averaged_s": 60, "speed_mps": 4, "from_deg": 240, "method": "meter"}"#;
        let spread = |rows: &str| {
            let (quantiles, _) = drawn(&belief(rows));
            (quantiles[2] / quantiles[0]).ln()
        };
        let (one, sixty) = (spread(row), spread(&vec![row; 60].join(",")));
        assert!(sixty < one && sixty > 0.6 * one, "{one} and {sixty}");
    }

    #[test]
    fn readings_that_agree_narrow_the_wind_and_those_that_lie_far_apart_widen_it() {
        let row = |minute: u32, mps: f64, from_deg: f64| {
            format!(
                r#"{{"at": "2026-05-16T11:0{minute}:00+02:00", "height_m": 2, "averaged_s": 60, "speed_mps": {mps}, "from_deg": {from_deg}, "method": "meter"}}"#
            )
        };
        let of = |rows: &[String]| {
            let belief = belief(&rows.join(","));
            let (quantiles, _) = drawn(&belief);
            [
                (quantiles[2] / quantiles[0]).ln(),
                belief.law.towards.map_or(0.0, |it| it.sigma(4.0, 1.2, MEDIAN_TAIL)),
            ]
        };
        let one = of(&[row(3, 4.0, 240.0)]);
        let agreed = of(&[row(3, 4.0, 240.0), row(4, 4.4, 246.0)]);
        let [apart_speed, apart_way] =
            [of(&[row(3, 2.0, 240.0), row(4, 8.0, 240.0)]), of(&[row(3, 4.0, 200.0), row(4, 4.0, 290.0)])];
        assert!(agreed[0] < one[0] && agreed[1] < one[1], "{one:?} to {agreed:?}");
        assert!(apart_speed[0] > 1.1 * one[0], "{one:?} to {apart_speed:?}");
        assert!(apart_way[1] > 1.3 * one[1], "{one:?} to {apart_way:?}");
    }

    #[test]
    fn winds_aloft_alone_reach_down_to_the_ground_and_carry_their_error() {
        let belief = belief(r#"{"height_m": 300, "speed_mps": 8, "from_deg": 270, "north": "true"}"#);
        assert!((belief.height_m - 300.0).abs() < 1e-9);
        assert!(drawn(&belief).1[0] > 5.0);
        let mut rows = Vec::new();
        belief.fill_aloft(0.0, 0.0, &mut rows);
        let middle = rows[0];
        belief.fill_aloft(1.0, 1.0, &mut rows);
        assert!(rows[0].east_mps.hypot(rows[0].north_mps) > 1.2 * middle.east_mps);
        assert!(rows[0].north_mps < -0.5, "turned clockwise: {:?}", rows[0]);
    }

    #[test]
    fn the_wind_that_another_flight_met_is_a_reading_of_the_day_and_no_row_of_the_flight() {
        const ROW: &str = r#"{"at": "2026-05-16T10:30:00+02:00", "height_m": 2, "averaged_s": 60, "speed_mps": 3,
            "from_deg": 240, "north": "true", "method": "feel"}"#;
        let told = flight(ROW);
        let met = |readings: Vec<WindReading>| Sounding {
            at: "2026-05-16T10:45:00+02:00".into(),
            site: "47.50,17.30".into(),
            height_m: 30.0,
            ln_speed: [6.0_f64.ln(), 0.08],
            towards_rad: [1.6, 0.08],
            readings,
        };
        let of = |told: &Flight, soundings: &[Sounding]| {
            let north = Declination::from_degrees(0.0);
            WindBelief::from_readings(told, north, &Priors::embedded(), soundings)
        };
        let spread = |belief: &WindBelief| {
            let (quantiles, _) = drawn(belief);
            (quantiles[2] / quantiles[0]).ln()
        };
        let (alone, both) = (of(&told, &[]), of(&told, &[met(Vec::new())]));
        assert_eq!((alone.used, both.used), (1, 1));
        assert!((both.height_m - 30.0).abs() < 1e-9, "the sharper one lends its height");
        assert!(spread(&both) < 0.9 * spread(&alone), "{} and {}", spread(&both), spread(&alone));
        // The row is in the sounding already: it must not count twice.
        let through = of(&told, &[met(told.wind.clone())]);
        assert_eq!(through.used, 1);
        let bare = of(&flight(""), &[met(Vec::new())]);
        assert!((spread(&through) - spread(&bare)).abs() < 1e-12);
    }

    #[test]
    fn a_gust_alone_stands_for_a_mean_two_thirds_as_strong() {
        let belief = belief(r#"{"gust_mps": 7.5, "from_deg": 200}, {"height_m": 200, "speed_mps": 9}"#);
        assert_eq!(belief.used, 1, "a speed aloft without a direction is not used");
        assert!((3.0..5.5).contains(&drawn(&belief).0[1]), "{:?}", drawn(&belief).0);
    }
}
