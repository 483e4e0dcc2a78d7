//! `cargo xtask kill`: a program that writes a scripted day, killed at many moments; everything it confirmed must be there.

use crate::house::House;

/// Builds the writer as it would be shipped and kills it; `words` go on to it.
pub(crate) fn kill(house: &House, words: &[&str]) -> Result<(), String> {
    house.hand_over(&["run", "--quiet", "--release", "--package", "windfall-tests", "--bin", "kill"], words)
}
