use super::Draw;

/// The most directions that have a shape of their own.
const MOST: usize = 20;
/// Information, in units of the prior's, from which on the evidence speaks of a direction.
const SPOKEN_OF: f64 = 0.05;
const LEAST_VARIANCE: f64 = 1e-4;

/// A Gaussian along the few directions of which the evidence speaks; along all others it is the prior.
#[derive(Clone, Debug, Default)]
pub(super) struct Shape {
    /// Orthonormal, row by row.
    directions: Vec<f64>,
    /// Coordinates of each.
    coordinates: usize,
    pub(super) mean: Vec<f64>,
    /// Lower root of the covariance along the directions, row by row.
    pub(super) root: Vec<f64>,
}

impl Shape {
    /// The directions of most `information` (symmetric, row by row: the mean of the Gauss-Newton curvature of the log
    /// likelihood).
    pub(super) fn along(information: Vec<f64>, d: usize) -> Self {
        let mut rows = super::eigen::symmetric(information, d);
        rows.retain(|(value, _)| *value > SPOKEN_OF);
        rows.truncate(MOST);
        let directions = rows.into_iter().flat_map(|row| row.1).collect();
        Self { directions, coordinates: d, ..Self::default() }
    }

    /// Takes mean and covariance from a population, damped where it is small.
    pub(super) fn fit<'a>(&mut self, draws: impl Iterator<Item = &'a Draw>) {
        let r = self.directions.len() / self.coordinates.max(1);
        let along: Vec<Vec<f64>> = draws
            .map(|draw| {
                let mut y = Vec::with_capacity(r);
                self.project(&draw.theta, &mut y);
                y
            })
            .collect();
        let n = along.len() as f64;
        let mut mean = vec![0.0; r];
        for y in &along {
            for (m, y) in mean.iter_mut().zip(y) {
                *m += y / n;
            }
        }
        let mut covariance = vec![0.0; r * r];
        for y in &along {
            for i in 0..r {
                for j in 0..=i {
                    covariance[i * r + j] += (y[i] - mean[i]) * (y[j] - mean[j]) / n;
                }
            }
        }
        let trust = n / (n + 2.0 * r as f64);
        for i in 0..r {
            for j in 0..i {
                covariance[i * r + j] *= trust;
            }
            covariance[i * r + i] = covariance[i * r + i].max(LEAST_VARIANCE);
        }
        crate::normal::root(&mut covariance, r);
        self.root = covariance;
        self.mean = mean;
    }

    /// The coordinates along the directions.
    pub(super) fn project(&self, theta: &[f64], y: &mut Vec<f64>) {
        y.clear();
        let rows = self.directions.chunks_exact(self.coordinates.max(1));
        y.extend(rows.map(|row| row.iter().zip(theta).map(|(a, b)| a * b).sum::<f64>()));
    }

    /// The standard normals that the Gaussian makes `y` of.
    pub(super) fn whitened(&self, y: &[f64], white: &mut Vec<f64>) {
        let r = y.len();
        white.clear();
        for (i, (y, mean)) in y.iter().zip(&self.mean).enumerate() {
            let row = &self.root[i * r..=i * r + i];
            let known: f64 = row.iter().zip(white.iter()).map(|(root, white)| root * white).sum();
            white.push((y - mean - known) / row[i]);
        }
    }

    /// What the Gaussian makes of standard normals.
    pub(super) fn coloured(&self, white: &[f64], y: &mut Vec<f64>) {
        let r = white.len();
        let row = |i: usize| &self.root[i * r..=i * r + i];
        y.clear();
        y.extend(
            (0..r).map(|i| {
                self.mean[i] + row(i).iter().zip(white).map(|(root, white)| root * white).sum::<f64>()
            }),
        );
    }

    /// Shifts the coordinates along the directions.
    pub(super) fn shift(&self, theta: &mut [f64], by: &[f64]) {
        for (by, direction) in by.iter().zip(self.directions.chunks_exact(self.coordinates.max(1))) {
            for (to, direction) in theta.iter_mut().zip(direction) {
                *to += by * direction;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{Rng, RngExt, SeedableRng};
    use rand_distr::StandardNormal;
    use windfall_facts::Mode;

    /// A shape along the middle one of three coordinates, about 3 and a tenth wide.
    fn narrow(rng: &mut impl Rng) -> Shape {
        let draws: Vec<Draw> = (0..400)
            .map(|_| {
                let own: f64 = 3.0 + 0.1 * rng.sample::<f64, _>(StandardNormal);
                Draw::of(Mode::Opens, &[rng.sample(StandardNormal), own, rng.sample(StandardNormal)])
            })
            .collect();
        let mut information = vec![0.0; 9];
        information[4] = 9.0;
        let mut shape = Shape::along(information, 3);
        shape.fit(draws.iter());
        shape
    }

    #[test]
    fn the_shape_is_that_of_the_population_where_the_evidence_speaks() {
        let shape = narrow(&mut rand_chacha::ChaCha8Rng::seed_from_u64(4));
        assert_eq!(shape.directions.len(), 3);
        assert!((shape.mean[0].abs() - 3.0).abs() < 0.03 && (0.09..0.12).contains(&shape.root[0]));
        let (mut white, mut y) = (Vec::new(), Vec::new());
        shape.whitened(&[2.7], &mut white);
        shape.coloured(&white, &mut y);
        assert!((y[0] - 2.7).abs() < 1e-12);
    }
}
