//! Normal laws: their densities, and the roots of their covariances.

/// Half the log of a full turn.
pub(crate) const LN_ROOT_TAU: f64 = 0.918_938_533_204_672_7;

/// Log density of a centred normal.
pub(crate) fn ln_normal(residual: f64, sigma: f64) -> f64 {
    -0.5 * (residual / sigma).powi(2) - sigma.ln() - LN_ROOT_TAU
}

/// Chance below `z` under the standard normal.
pub(crate) fn share_below(z: f64) -> f64 {
    0.5 * libm::erfc(-z / core::f64::consts::SQRT_2)
}

/// Lower root of a covariance given by its lower triangle, in place of it; a pivot that is not positive is raised to a
/// small one, so that every direction has some variance.
pub(crate) fn root(covariance: &mut [f64], n: usize) {
    lower_root(covariance, n, |pivot, _| pivot.max(1e-8).sqrt());
}

/// The same; a direction without variance stays without.
pub(crate) fn flat_root(covariance: &mut [f64], n: usize) {
    lower_root(
        covariance,
        n,
        |pivot, variance| {
            if pivot > 1e-10 * variance.abs().max(1e-10) { pivot.sqrt() } else { 0.0 }
        },
    );
}

/// Cholesky's root, row by row; `rooted` makes an entry of its diagonal of a pivot and of the variance it is left of.
fn lower_root(a: &mut [f64], n: usize, rooted: impl Fn(f64, f64) -> f64) {
    for j in 0..n {
        let (done, rest) = a.split_at_mut(j * n);
        let own = &mut rest[..n];
        for k in 0..j {
            let other = &done[k * n..k * n + k + 1];
            let sum: f64 = own[..k].iter().zip(other).map(|(a, b)| a * b).sum();
            own[k] = if other[k] > 0.0 { (own[k] - sum) / other[k] } else { 0.0 };
        }
        let square: f64 = own[..j].iter().map(|a| a * a).sum();
        own[j] = rooted(own[j] - square, own[j]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_root_squared_is_the_covariance() {
        let covariance = [4.0, 0.0, 0.0, 2.0, 5.0, 0.0, -1.0, 0.5, 3.0];
        for of in [root, flat_root] {
            let mut r = covariance;
            of(&mut r, 3);
            for i in 0..3 {
                for j in 0..=i {
                    let back: f64 = (0..=j).map(|k| r[i * 3 + k] * r[j * 3 + k]).sum();
                    assert!((back - covariance[i * 3 + j]).abs() < 1e-12, "{r:?}");
                }
            }
        }
    }

    #[test]
    fn a_direction_without_variance_stays_without_or_gets_a_little() {
        // Two coordinates that are the same.
        let [mut raised, mut flat] = [[1.0, 0.0, 1.0, 1.0]; 2];
        root(&mut raised, 2);
        flat_root(&mut flat, 2);
        assert_eq!((flat[2], flat[3]), (1.0, 0.0));
        assert!((raised[3] - 1e-4).abs() < 1e-12);
    }
}
