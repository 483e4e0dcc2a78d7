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

/// Covariance of the distances that a component of unit variance carries up to two times, given its velocity at zero.
///
/// # Units
/// `memory_s`: correlation time; each time as (seconds, `exp(-seconds / memory_s)`); returns s2.
/// # Source
/// Derived: twice the integral of `exp(-|s - u| / T) - exp(-(s + u) / T)`; the tests of this file hold it against
/// [`Eddy`].
#[inline]
#[must_use]
pub fn carried_together(memory_s: f64, one: (f64, f64), other: (f64, f64)) -> f64 {
    let ((first_s, keep_first), (_, keep_second)) =
        if one.0 <= other.0 { (one, other) } else { (other, one) };
    let stationary_s = 2.0 * first_s - memory_s * (1.0 - keep_first - keep_second + keep_second / keep_first);
    memory_s * (stationary_s - memory_s * (1.0 - keep_first) * (1.0 - keep_second))
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
        let r: f64 = interval_s / memory_s;
        let taylor = 2.0 * memory_s * memory_s * (r - 1.0 + (-r).exp());
        assert!((variance(&whole, 1) / taylor - 1.0).abs() < 1e-9);
        assert!((variance(&half, 2) / taylor - 1.0).abs() < 1e-9);
    }

    #[test]
    fn two_distances_go_together_as_exact_simulation_makes_them() {
        // Each distance is linear in the standard normals of the steps: the covariance is the sum over unit inputs.
        let (memory_s, times) = (12.0, [4.0, 19.0]);
        let steps = [Eddy::over(4.0, memory_s), Eddy::over(15.0, memory_s)];
        let mut sums = [0.0; 3];
        for unit in 0..4 {
            let z = |index: usize| if index == unit { 1.0 } else { 0.0 };
            let first = steps[0].step((0.0, 0.0), z(0), z(1));
            let second = steps[1].step(first, z(2), z(3));
            sums[0] += first.1 * first.1;
            sums[1] += first.1 * second.1;
            sums[2] += second.1 * second.1;
        }
        let at = times.map(|t: f64| (t, (-t / memory_s).exp()));
        for (sum, (a, b)) in sums.into_iter().zip([(0, 0), (0, 1), (1, 1)]) {
            let ours = carried_together(memory_s, at[a], at[b]);
            assert!((ours / sum - 1.0).abs() < 1e-9, "{ours} and {sum}");
            assert!((carried_together(memory_s, at[b], at[a]) / ours - 1.0).abs() < 1e-12);
        }
    }
}
