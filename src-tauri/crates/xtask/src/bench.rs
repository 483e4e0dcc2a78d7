//! `cargo xtask bench`: what an answer costs, as ratios to a loop of `exp` in the same run; what a full logbook costs.

use crate::house::House;

/// Builds the bench as it would be shipped and runs it; `words` go on to it (`--json`).
pub(crate) fn bench(house: &House, words: &[&str]) -> Result<(), String> {
    let (name, words) = match words {
        ["--logbook", words @ ..] => ("logbook", words),
        words => ("cost", words),
    };
    house.hand_over(&["bench", "--quiet", "--package", "windfall-tests", "--bench", name], words)
}
