/// Eigenvalues, greatest first, and unit eigenvectors of a symmetric matrix given row by row.
///
/// # Model
/// Jacobi's cyclic rotations, to machine precision: a matrix of a few dozen rows takes some ten sweeps.
/// # Source
/// G. H. Golub, C. F. Van Loan, Matrix Computations, section 8.5, from memory; checked by the test of this file.
pub(crate) fn symmetric(mut a: Vec<f64>, d: usize) -> Vec<(f64, Vec<f64>)> {
    let mut v: Vec<Vec<f64>> =
        (0..d).map(|i| (0..d).map(|j| f64::from(u8::from(i == j))).collect()).collect();
    for _ in 0..30 {
        let rest: f64 =
            (0..d).flat_map(|i| (0..i).map(move |j| (i, j))).map(|(i, j)| a[i * d + j].powi(2)).sum();
        let size: f64 = (0..d).map(|i| a[i * d + i].powi(2)).sum();
        if rest <= 1e-24 * size {
            break;
        }
        for p in 0..d {
            for q in p + 1..d {
                let off = a[p * d + q];
                if off == 0.0 {
                    continue;
                }
                let ratio = (a[q * d + q] - a[p * d + p]) / (2.0 * off);
                let t = ratio.signum() / (ratio.abs() + ratio.hypot(1.0));
                let c = 1.0 / t.hypot(1.0);
                let s = t * c;
                for k in 0..d {
                    let (x, y) = (a[k * d + p], a[k * d + q]);
                    (a[k * d + p], a[k * d + q]) = (c * x - s * y, s * x + c * y);
                }
                for k in 0..d {
                    let (x, y) = (a[p * d + k], a[q * d + k]);
                    (a[p * d + k], a[q * d + k]) = (c * x - s * y, s * x + c * y);
                    let (x, y) = (v[p][k], v[q][k]);
                    (v[p][k], v[q][k]) = (c * x - s * y, s * x + c * y);
                }
            }
        }
    }
    let mut rows: Vec<(f64, Vec<f64>)> =
        v.into_iter().enumerate().map(|(i, row)| (a[i * d + i], row)).collect();
    rows.sort_by(|x, y| y.0.total_cmp(&x.0));
    rows
}

#[cfg(test)]
mod tests {
    #[test]
    fn eigenvectors_build_the_matrix_up_again() {
        let a = [4.0, 1.0, -2.0, 1.0, 2.0, 0.5, -2.0, 0.5, 3.0];
        let rows = super::symmetric(a.to_vec(), 3);
        assert!(rows[0].0 >= rows[1].0 && rows[1].0 >= rows[2].0);
        for i in 0..3 {
            for j in 0..3 {
                let sum: f64 = rows.iter().map(|(value, row)| value * row[i] * row[j]).sum();
                assert!((sum - a[3 * i + j]).abs() < 1e-12);
                let dot: f64 = rows[i].1.iter().zip(&rows[j].1).map(|(x, y)| x * y).sum();
                assert!((dot - f64::from(u8::from(i == j))).abs() < 1e-12);
            }
        }
    }
}
