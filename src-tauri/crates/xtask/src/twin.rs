//! `cargo xtask twin`: simulated flights whose truth is known, and how often the answer's regions hold it.

use crate::house::House;

/// `cargo xtask season`: whether what flights teach makes the next answer better.
pub(crate) fn season(house: &House, words: &[&str]) -> Result<(), String> {
    house.hand_over(&["run", "--quiet", "--release", "--package", "windfall-tests", "--bin", "season"], words)
}

/// Builds the twin as it would be shipped and runs it; `words` go on to it.
pub(crate) fn twin(house: &House, words: &[&str]) -> Result<(), String> {
    house.hand_over(&["run", "--quiet", "--release", "--package", "windfall-tests", "--bin", "twin"], words)
}
