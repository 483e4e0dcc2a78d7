//! Gaussian laws of many coordinates, and how what flights say of them is put together.

use crate::cloud::eigen;
use crate::normal::root;

/// What a flight says that is this many standard deviations off what the others say counts the less the farther it is off.
const ODD: f64 = 3.0;
/// Spread of what is said beyond its own, so that a flight that hardly says anything is never odd.
const SLACK: f64 = 0.3;
/// Rounds of weighing; the weights hardly move after the first few.
const ROUNDS: usize = 6;

/// A Gaussian law.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Gaussian {
    pub(super) mean: Vec<f64>,
    /// Row by row.
    pub(super) covariance: Vec<f64>,
}

/// What one flight says of some coordinates of a law: the logarithm of its likelihood is `shift x - x precision x / 2`.
#[derive(Clone, Debug, Default)]
pub(super) struct Said {
    /// Places in the law.
    pub(super) at: Vec<usize>,
    /// Row by row.
    pub(super) precision: Vec<f64>,
    pub(super) shift: Vec<f64>,
}

impl Gaussian {
    /// Independent standard normals.
    pub(super) fn standard(d: usize) -> Self {
        Self { mean: vec![0.0; d], covariance: identity(d) }
    }

    pub(super) fn len(&self) -> usize {
        self.mean.len()
    }

    pub(super) fn variance(&self, at: usize) -> f64 {
        self.covariance[at * self.len() + at]
    }

    /// The law of some of its coordinates.
    pub(super) fn of(&self, places: &[usize]) -> Self {
        let d = self.len();
        Self {
            mean: places.iter().map(|at| self.mean[*at]).collect(),
            covariance: places
                .iter()
                .flat_map(|i| places.iter().map(move |j| self.covariance[i * d + j]))
                .collect(),
        }
    }

    /// The law of `factor x` of each coordinate and independent noise of so much variance.
    pub(super) fn diluted(&self, factors: &[f64], noise: &[f64]) -> Self {
        let d = self.len();
        let mut covariance: Vec<f64> =
            (0..d * d).map(|at| factors[at / d] * factors[at % d] * self.covariance[at]).collect();
        for (i, noise) in noise.iter().enumerate() {
            covariance[i * d + i] += noise;
        }
        Self { mean: self.mean.iter().zip(factors).map(|(m, f)| m * f).collect(), covariance }
    }

    /// The same and one more coordinate, independent of the others.
    pub(super) fn with(&self, mean: f64, variance: f64) -> Self {
        let d = self.len();
        let old = |at: usize| (at / (d + 1) < d && at % (d + 1) < d).then(|| at / (d + 1) * d + at % (d + 1));
        let mut covariance: Vec<f64> =
            (0..(d + 1) * (d + 1)).map(|at| old(at).map_or(0.0, |at| self.covariance[at])).collect();
        covariance[(d + 1) * (d + 1) - 1] = variance;
        Self { mean: self.mean.iter().copied().chain([mean]).collect(), covariance }
    }

    /// Lower root of the covariance, row by row, zero above the diagonal.
    pub(super) fn root(&self) -> Vec<f64> {
        let d = self.len();
        let mut rooted = self.covariance.clone();
        root(&mut rooted, d);
        (0..d * d).filter(|at| at % d > at / d).for_each(|at| rooted[at] = 0.0);
        rooted
    }

    /// The law after all that was `said`.
    ///
    /// # Model
    /// Natural parameters add up. Noise alone cannot make it less certain than before: directions in which all that was
    /// said amounts to less than nothing keep their variance. A flight that is far off what the others say counts less as
    /// a whole (Huber's weights), so that one odd flight does not swing a belief.
    /// # Source
    /// P. J. Huber, Robust estimation of a location parameter, Ann. Math. Statist. 35 (1964) 73, from memory.
    pub(super) fn after(self, said: &[Said]) -> Self {
        if said.is_empty() {
            return self;
        }
        let d = self.len();
        let root = self.root();
        let mut weights = vec![1.0; said.len()];
        let mut known = self.clone();
        for _ in 0..ROUNDS {
            let (mut precision, mut shift) = (vec![0.0; d * d], vec![0.0; d]);
            for (it, weight) in said.iter().zip(&weights) {
                let k = it.at.len();
                for (i, row) in it.at.iter().enumerate() {
                    shift[*row] += weight * it.shift[i];
                    for (j, column) in it.at.iter().enumerate() {
                        precision[row * d + column] += weight * it.precision[i * k + j];
                    }
                }
            }
            // In coordinates in which the start is standard: x = mean + root v.
            let off: Vec<f64> = shift.iter().zip(times(&precision, &self.mean)).map(|(a, b)| a - b).collect();
            let inner = congruent(&root, &precision, d);
            let pull = transposed_times(&root, &off);
            let rows = eigen::symmetric(inner, d);
            let (mut middle, mut spread) = (vec![0.0; d], vec![0.0; d * d]);
            for (value, way) in &rows {
                let variance = 1.0 / (1.0 + value.max(0.0));
                let along: f64 = way.iter().zip(&pull).map(|(a, b)| a * b).sum();
                for i in 0..d {
                    middle[i] += variance * along * way[i];
                    for j in 0..d {
                        spread[i * d + j] += variance * way[i] * way[j];
                    }
                }
            }
            known = Self {
                mean: times(&root, &middle).iter().zip(&self.mean).map(|(a, b)| a + b).collect(),
                covariance: congruent(&transposed(&root, d), &spread, d),
            };
            let before = weights;
            weights = said.iter().map(|it| known.weight(it)).collect();
            if weights.iter().zip(&before).all(|(a, b)| (a - b).abs() < 1e-3) {
                break;
            }
        }
        known
    }

    /// How much a flight counts beside what is known.
    fn weight(&self, said: &Said) -> f64 {
        let part = self.of(&said.at);
        let k = part.len();
        let expected = times(&said.precision, &part.mean);
        let through = congruent(&said.precision, &part.covariance, k);
        let off = (0..k)
            .map(|i| {
                let own = said.precision[i * k + i].max(0.0) + through[i * k + i].max(0.0);
                (said.shift[i] - expected[i]).abs() / (own + SLACK * SLACK).sqrt()
            })
            .fold(0.0, f64::max);
        if off > ODD { ODD / off } else { 1.0 }
    }
}

impl Said {
    /// What is said of `scale x` through noise of variance `noise`, each coordinate its own: what is left when the noise is
    /// integrated out.
    ///
    /// # Model
    /// With `D` the root of the noise, `M = 1 + D P D`: precision `P - P D M^-1 D P`, shift `h - P D M^-1 D h`. `P` is
    /// measured with noise and need not be positive; `M` is kept so.
    pub(super) fn through(self, scale: &[f64], noise: &[f64]) -> Self {
        const LEAST: f64 = 0.05;
        let k = self.shift.len();
        let d: Vec<f64> = noise.iter().map(|it| it.max(0.0).sqrt()).collect();
        let mut m: Vec<f64> = (0..k * k).map(|at| d[at / k] * d[at % k] * self.precision[at]).collect();
        (0..k).for_each(|i| m[i * k + i] += 1.0);
        let mut rooted = m.clone();
        root(&mut rooted, k);
        if (0..k).any(|i| rooted[i * k + i] < LEAST.sqrt()) {
            let rows = eigen::symmetric(m, k);
            let mut raised = vec![0.0; k * k];
            for (value, way) in &rows {
                (0..k * k).for_each(|at| raised[at] += value.max(LEAST) * way[at / k] * way[at % k]);
            }
            rooted = raised;
            root(&mut rooted, k);
        }
        // Rows: rooted^-1 D P, and rooted^-1 D h.
        let solved = |mut x: Vec<f64>| {
            forward(&rooted, &mut x);
            x
        };
        let columns: Vec<Vec<f64>> =
            (0..k).map(|j| solved((0..k).map(|i| d[i] * self.precision[i * k + j]).collect())).collect();
        let shifted = solved((0..k).map(|i| d[i] * self.shift[i]).collect());
        let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
        let precision = (0..k * k)
            .map(|at| {
                let (i, j) = (at / k, at % k);
                scale[i] * scale[j] * (self.precision[at] - dot(&columns[i], &columns[j]))
            })
            .collect();
        let shift = (0..k).map(|i| scale[i] * (self.shift[i] - dot(&columns[i], &shifted))).collect();
        Self { at: self.at, precision, shift }
    }

    /// Without the coordinates that `kept` does not place; the others at their places.
    pub(super) fn placed(&self, kept: &[Option<usize>]) -> Self {
        let k = self.shift.len();
        let rows: Vec<(usize, usize)> =
            kept.iter().enumerate().filter_map(|(row, at)| at.map(|at| (row, at))).collect();
        Self {
            at: rows.iter().map(|row| row.1).collect(),
            precision: rows
                .iter()
                .flat_map(|i| rows.iter().map(move |j| self.precision[i.0 * k + j.0]))
                .collect(),
            shift: rows.iter().map(|row| self.shift[row.0]).collect(),
        }
    }
}

pub(super) fn identity(d: usize) -> Vec<f64> {
    (0..d * d).map(|at| f64::from(u8::from(at / d == at % d))).collect()
}

/// Solves `root y = x` for `y`, in place.
pub(super) fn forward(root: &[f64], x: &mut [f64]) {
    let d = x.len();
    for i in 0..d {
        let known: f64 = (0..i).map(|j| root[i * d + j] * x[j]).sum();
        x[i] = (x[i] - known) / root[i * d + i];
    }
}

pub(super) fn times(a: &[f64], x: &[f64]) -> Vec<f64> {
    let d = x.len();
    (0..d).map(|i| (0..d).map(|j| a[i * d + j] * x[j]).sum()).collect()
}

pub(super) fn transposed_times(a: &[f64], x: &[f64]) -> Vec<f64> {
    let d = x.len();
    (0..d).map(|i| (0..d).map(|j| a[j * d + i] * x[j]).sum()).collect()
}

pub(super) fn transposed(a: &[f64], d: usize) -> Vec<f64> {
    (0..d * d).map(|at| a[at % d * d + at / d]).collect()
}

/// `a^T s a`.
pub(super) fn congruent(a: &[f64], s: &[f64], d: usize) -> Vec<f64> {
    let mut right = vec![0.0; d * d];
    for i in 0..d {
        for k in 0..d {
            let factor = s[i * d + k];
            if factor != 0.0 {
                (0..d).for_each(|j| right[i * d + j] += factor * a[k * d + j]);
            }
        }
    }
    let mut both = vec![0.0; d * d];
    for k in 0..d {
        for i in 0..d {
            let factor = a[k * d + i];
            if factor != 0.0 {
                (0..d).for_each(|j| both[i * d + j] += factor * right[k * d + j]);
            }
        }
    }
    both
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What `gain x = seen` with so much error variance says.
    fn seen(gain: &[f64], seen: f64, error2: f64) -> Said {
        let k = gain.len();
        Said {
            at: (0..k).collect(),
            precision: (0..k * k).map(|at| gain[at / k] * gain[at % k] / error2).collect(),
            shift: gain.iter().map(|it| it * seen / error2).collect(),
        }
    }

    #[test]
    fn what_is_said_of_a_whole_teaches_what_stays_as_the_closed_form_says() {
        // z = sqrt(s) u + sqrt(1 - s) e, seen as y with error variance 1 / p: y is sqrt(s) u with variance 1 - s + 1 / p.
        let (share, precision, values) = (0.45_f64, 4.0, [0.8, 1.2, 0.9]);
        let said =
            values.map(|it| seen(&[1.0], it, 1.0 / precision).through(&[share.sqrt()], &[1.0 - share]));
        let known = Gaussian::standard(1).after(&said);
        let error2 = 1.0 - share + 1.0 / precision;
        let exact = 1.0 + 3.0 * share / error2;
        let mean = share.sqrt() * values.iter().sum::<f64>() / error2 / exact;
        assert!((known.variance(0) - 1.0 / exact).abs() < 1e-12, "{known:?}");
        assert!((known.mean[0] - mean).abs() < 1e-12, "{known:?} {mean}");
    }

    #[test]
    fn traits_that_a_find_speaks_of_together_are_known_together() {
        // Each flight sees a u + b v and half of what is new in each, with an error of its own. Kalman's filter, one
        // flight after the other, is exact; so must be the sum of messages, with the same mean and covariance.
        let (gain, shares, error2) = ([1.0, 0.8], [1.0_f64, 0.6], 0.5);
        let values = [1.4, 1.7, 1.1, 1.9, 1.5];
        let scale = shares.map(f64::sqrt);
        let noise = shares.map(|it| 1.0 - it);
        let said = values.map(|it| seen(&gain, it, error2).through(&scale, &noise));
        let known = Gaussian::standard(2).after(&said);
        let whole2 = error2 + gain[0] * gain[0] * noise[0] + gain[1] * gain[1] * noise[1];
        let g = [gain[0] * scale[0], gain[1] * scale[1]];
        let (mut mean, mut p) = ([0.0; 2], [[1.0, 0.0], [0.0, 1.0]]);
        for value in values {
            let pg = [0, 1].map(|i| p[i][0] * g[0] + p[i][1] * g[1]);
            let s = g[0] * pg[0] + g[1] * pg[1] + whole2;
            let off = value - g[0] * mean[0] - g[1] * mean[1];
            for i in 0..2 {
                mean[i] += pg[i] / s * off;
                for j in 0..2 {
                    p[i][j] -= pg[i] * pg[j] / s;
                }
            }
        }
        for i in 0..2 {
            assert!((known.mean[i] - mean[i]).abs() < 1e-10, "{known:?} {mean:?}");
            for j in 0..2 {
                assert!((known.covariance[i * 2 + j] - p[i][j]).abs() < 1e-10, "{known:?} {p:?}");
            }
        }
        // The sum is known well, each alone is not, and the law says both.
        assert!(known.covariance[1] < -0.2, "{known:?}");
        assert!(known.variance(0) > 0.3 && known.variance(1) > 0.4, "{known:?}");
    }

    #[test]
    fn one_odd_flight_does_not_swing_a_belief() {
        let gain = [1.0, 0.5];
        let mut said: Vec<Said> = [0.9, 1.1, 1.0, 0.8].map(|it| seen(&gain, it, 0.34)).into();
        let of = |said: &[Said]| Gaussian::standard(2).after(said).mean;
        let before = of(&said);
        said.push(seen(&gain, -9.0, 0.34));
        let after = of(&said);
        let (p, h) = said.iter().fold((1.0, 0.0), |sum, it| (sum.0 + it.precision[0], sum.1 + it.shift[0]));
        assert!(h / p < -0.5, "without the guard it would swing to {}", h / p);
        assert!((after[0] - before[0]).abs() < 0.5, "{before:?} to {after:?}");
    }

    #[test]
    fn what_hardly_says_anything_changes_nothing_however_often_it_is_said() {
        // Noise of both signs about no information, in two coordinates that share it.
        let said: Vec<Said> = (0..400)
            .map(|index| {
                let sign = if index % 2 == 0 { 0.04 } else { -0.04 };
                let it = seen(&[1.0, -0.7], 0.1, 1.0 / sign);
                it.through(&[0.7_f64.sqrt(), 1.0], &[0.3, 0.0])
            })
            .collect();
        let known = Gaussian::standard(2).after(&said);
        for at in 0..2 {
            assert!(known.mean[at].abs() < 0.05 && known.variance(at) > 0.9, "{known:?}");
        }
    }

    #[test]
    fn a_law_stays_a_law_however_wrong_what_is_said_is() {
        // Precision less than nothing in one direction, more than the prior's in another.
        let odd = Said { at: vec![0, 1], precision: vec![-3.0, 2.5, 2.5, 1.0], shift: vec![4.0, -1.0] };
        let said = vec![odd.through(&[0.8, 1.0], &[0.36, 0.0]); 5];
        let known = Gaussian::standard(2).after(&said);
        let rows = eigen::symmetric(known.covariance.clone(), 2);
        assert!(rows.iter().all(|row| row.0 > 0.0 && row.0 <= 1.0 + 1e-9), "{rows:?}");
        assert!(known.mean.iter().all(|it| it.is_finite()));
    }
}
