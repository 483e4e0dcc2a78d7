/// A gust component: an Ornstein-Uhlenbeck process of unit variance and the distance it carries.
///
/// # Model
/// Velocity and distance after any interval are jointly Gaussian with a closed form, so knots may stand as far
/// apart as one likes and the law at the knots stays exact.
/// # Source
/// D. T. Gillespie, Exact numerical simulation of the Ornstein-Uhlenbeck process and its integral,
/// Phys. Rev. E 54 (1996) 2084, equations 2.11 and 3.6, from memory; checked by the tests of this file.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Eddy {
    keep: f64,
    carry_s: f64,
    velocity_sigma: f64,
    distance_by_velocity_s: f64,
    distance_sigma_s: f64,
}

impl Eddy {
    /// Over `interval_s` with correlation time `memory_s`, both positive.
    #[inline]
    #[must_use]
    pub fn over(interval_s: f64, memory_s: f64) -> Self {
        let ratio = interval_s / memory_s;
        let keep = (-ratio).exp();
        let velocity_variance = (1.0 - keep * keep).max(1e-12);
        let covariance_s = memory_s * (1.0 - keep).powi(2);
        let distance_variance_s2 = memory_s * memory_s * (2.0 * ratio - 3.0 + 4.0 * keep - keep * keep);
        let velocity_sigma = velocity_variance.sqrt();
        let distance_by_velocity_s = covariance_s / velocity_sigma;
        Self {
            keep,
            carry_s: memory_s * (1.0 - keep),
            velocity_sigma,
            distance_by_velocity_s,
            distance_sigma_s: (distance_variance_s2 - distance_by_velocity_s.powi(2)).max(0.0).sqrt(),
        }
    }

    /// Velocity and distance at the end of the interval, from those at its start and two standard normals.
    #[inline]
    #[must_use]
    pub fn step(&self, (velocity, distance_s): (f64, f64), first: f64, second: f64) -> (f64, f64) {
        (
            self.keep * velocity + self.velocity_sigma * first,
            distance_s
                + self.carry_s * velocity
                + self.distance_by_velocity_s * first
                + self.distance_sigma_s * second,
        )
    }
}

impl Eddy {
    /// How far one unit of each of the two normals of a step carries by the end of the walk, when `left` more steps
    /// of the same eddy follow.
    #[must_use]
    pub fn reach(&self, left: usize) -> (f64, f64) {
        let by_velocity = (0..left).fold(0.0, |reach, _| self.carry_s + self.keep * reach);
        (self.distance_by_velocity_s + self.velocity_sigma * by_velocity, self.distance_sigma_s)
    }
}

/// One knot of a gust walk: time (s), velocity and distance along and across the mean wind.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Drift {
    /// Seconds after first motion.
    pub t_s: f64,
    /// (velocity in sigmas, distance in sigma seconds) along the mean wind.
    pub along: (f64, f64),
    /// The same across it.
    pub across: (f64, f64),
}

/// A gust component of one possible flight, known at its knots.
#[derive(Clone, Debug, Default)]
pub struct Walk {
    knots: Vec<Drift>,
}

impl Walk {
    /// Starts afresh at `t_s` with unit-variance velocities.
    pub fn begin(&mut self, t_s: f64, along: f64, across: f64) {
        self.knots.clear();
        self.knots.push(Drift { t_s, along: (along, 0.0), across: (across, 0.0) });
    }

    /// Goes on by `interval_s` with four standard normals. Does nothing before [`Walk::begin`].
    #[inline]
    pub fn go_on(&mut self, interval_s: f64, eddy: &Eddy, normals: &[f64]) {
        if let (Some(last), [a, b, c, d, ..]) = (self.knots.last().copied(), normals) {
            self.knots.push(Drift {
                t_s: last.t_s + interval_s,
                along: eddy.step(last.along, *a, *b),
                across: eddy.step(last.across, *c, *d),
            });
        }
    }

    /// Distance (along, across) in sigma seconds carried from the start to `t_s`; constant outside the knots.
    ///
    /// # Model
    /// Exact at the knots, a cubic through distances and velocities between them.
    #[inline]
    #[must_use]
    pub fn carried(&self, t_s: f64) -> (f64, f64) {
        let after = self.knots.partition_point(|knot| knot.t_s <= t_s);
        let (Some(last), Some(first)) = (self.knots.last(), self.knots.first()) else { return (0.0, 0.0) };
        if after == 0 {
            return (first.along.1, first.across.1);
        }
        if after == self.knots.len() {
            return (last.along.1, last.across.1);
        }
        let (from, to) = (self.knots[after - 1], self.knots[after]);
        let span = to.t_s - from.t_s;
        let s = (t_s - from.t_s) / span;
        let (h00, h10) = ((1.0 + 2.0 * s) * (1.0 - s) * (1.0 - s), s * (1.0 - s) * (1.0 - s));
        let (h01, h11) = (s * s * (3.0 - 2.0 * s), s * s * (s - 1.0));
        let cubic =
            |a: (f64, f64), b: (f64, f64)| h00 * a.1 + h10 * span * a.0 + h01 * b.1 + h11 * span * b.0;
        (cubic(from.along, to.along), cubic(from.across, to.across))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_half_steps_have_the_law_of_one_whole_step() {
        // The variance of the distance from a stationary start is 2 T^2 (r - 1 + e^-r): G. I. Taylor,
        // Diffusion by continuous movements, Proc. London Math. Soc. 20 (1921) 196, from memory.
        let (memory_s, interval_s) = (12.0, 30.0);
        let whole = Eddy::over(interval_s, memory_s);
        let half = Eddy::over(interval_s / 2.0, memory_s);
        let variance = |eddy: &Eddy, steps: usize| {
            let inputs = 1 + 2 * steps;
            (0..inputs)
                .map(|unit| {
                    let z = |index: usize| if index == unit { 1.0 } else { 0.0 };
                    let mut state = (z(0), 0.0);
                    for step in 0..steps {
                        state = eddy.step(state, z(1 + 2 * step), z(2 + 2 * step));
                    }
                    state.1 * state.1
                })
                .sum::<f64>()
        };
        let (mut state, mut told) = ((0.0, 0.0), 0.0);
        for (step, normals) in [(0.3, -1.2), (0.8, 0.4), (-0.5, 2.0)].into_iter().enumerate() {
            let (first, second) = half.reach(2 - step);
            told += first * normals.0 + second * normals.1;
            state = half.step(state, normals.0, normals.1);
        }
        assert!((state.1 - told).abs() < 1e-9, "the reach of each normal adds up to the walk");
        let r: f64 = interval_s / memory_s;
        let taylor = 2.0 * memory_s * memory_s * (r - 1.0 + (-r).exp());
        assert!((variance(&whole, 1) / taylor - 1.0).abs() < 1e-9);
        assert!((variance(&half, 2) / taylor - 1.0).abs() < 1e-9);
    }
}
