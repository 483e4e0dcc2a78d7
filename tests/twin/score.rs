//! How an answer is judged: shares with their intervals, and proper scores.

/// Wilson's interval for a share of `k` in `n`, 95 %.
///
/// # Source
/// R. G. Newcombe, Two-sided confidence intervals for the single proportion, Stat. Med. 17 (1998) 857, method 3.
#[must_use]
pub fn wilson(k: f64, n: f64) -> (f64, f64) {
    const Z: f64 = 1.959_963_984_540_054;
    if n <= 0.0 {
        return (0.0, 1.0);
    }
    let p = k / n;
    let middle = p + Z * Z / (2.0 * n);
    let reach = Z * (p * (1.0 - p) / n + Z * Z / (4.0 * n * n)).sqrt();
    let scale = 1.0 + Z * Z / n;
    (((middle - reach) / scale).clamp(0.0, 1.0), ((middle + reach) / scale).clamp(0.0, 1.0))
}

/// Energy score of equally weighted points for what came true, in their unit; lower is better.
///
/// # Source
/// T. Gneiting, A. E. Raftery, Strictly proper scoring rules, prediction, and estimation, J. Am. Stat. Assoc. 102
/// (2007) 359, equation 22, with all pairs, also of a point with itself.
#[must_use]
pub fn energy_score(points: &[[f64; 2]], truth: [f64; 2]) -> f64 {
    let apart = |a: &[f64; 2], b: &[f64; 2]| (a[0] - b[0]).hypot(a[1] - b[1]);
    let n = points.len() as f64;
    let off = points.iter().map(|it| apart(it, &truth)).sum::<f64>() / n;
    let pairs: f64 =
        points.iter().enumerate().map(|(at, a)| points[..at].iter().map(|b| apart(a, b)).sum::<f64>()).sum();
    off - pairs / (n * n)
}

/// Logarithmic score of a density drawn for the screen (see `windfall_inference::Density`): minus the log of the
/// chance per square metre at a place, m about the pad. Where the drawing is black, half of its darkest step.
#[must_use]
pub fn log_score(bytes: &[u8], [east_m, north_m]: [f64; 2]) -> Option<f64> {
    let word = |at: usize| Some(usize::from(u16::from_le_bytes(bytes.get(at..at + 2)?.try_into().ok()?)));
    let real = |at: usize| Some(f64::from(f32::from_le_bytes(bytes.get(at..at + 4)?.try_into().ok()?)));
    let (width, height, cell_m, west_m, south_m) = (word(0)?, word(2)?, real(4)?, real(8)?, real(12)?);
    let cells = bytes.get(16..16 + width * height)?;
    let square = |byte: u8| f64::from(byte).powi(2);
    let all: f64 = cells.iter().map(|byte| square(*byte)).sum();
    let (column, row) = ((east_m - west_m) / cell_m, (north_m - south_m) / cell_m);
    let inside = column >= 0.0 && row >= 0.0 && column < width as f64 && row < height as f64;
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "inside the drawing")]
    let here =
        if inside { square(cells[(height - 1 - row as usize) * width + column as usize]) } else { 0.0 };
    Some(-(here.max(0.25) / all / (cell_m * cell_m)).ln())
}

/// A quantile of numbers that need not be in order; none of none.
#[must_use]
pub fn quantile(numbers: &[f64], p: f64) -> Option<f64> {
    let mut sorted = numbers.to_vec();
    sorted.sort_by(f64::total_cmp);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a place in a list")]
    let at = ((sorted.len() as f64) * p).floor() as usize;
    sorted.get(at.min(sorted.len().saturating_sub(1))).copied()
}
