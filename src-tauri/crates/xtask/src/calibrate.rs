//! `cargo xtask calibrate`: truths drawn from the estimator's own prior, and where they stand among its draws.

use crate::house::House;

/// Builds the calibration as it would be shipped and runs it; `words` go on to it.
pub(crate) fn calibrate(house: &House, words: &[&str]) -> Result<(), String> {
    house.hand_over(
        &["run", "--quiet", "--release", "--package", "windfall-tests", "--bin", "calibration"],
        words,
    )
}
