//! `cargo xtask bench`: what an answer costs, as ratios to a loop of `exp` in the same run.

use crate::house::House;

/// Builds the bench as it would be shipped and runs it; `words` go on to it (`--json`).
pub(crate) fn bench(house: &House, words: &[&str]) -> Result<(), String> {
    house.hand_over(&["bench", "--quiet", "--package", "windfall-tests", "--bench", "cost"], words)
}
