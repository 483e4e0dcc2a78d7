//! `cargo xtask twin`: simulated flights whose truth is known, and how often the answer's regions hold it.

use crate::house::House;

/// Builds the twin as it would be shipped and runs it; `words` go on to it.
pub(crate) fn twin(house: &House, words: &[&str]) -> Result<(), String> {
    let mut arguments =
        vec!["run", "--quiet", "--release", "--package", "windfall-tests", "--bin", "twin", "--locked", "--"];
    arguments.extend(words);
    let status = house.cargo(&arguments).status().map_err(|error| format!("cargo: {error}"))?;
    if status.success() { Ok(()) } else { Err(String::new()) }
}
