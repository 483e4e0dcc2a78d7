//! `cargo xtask bench`: what an answer costs, as ratios to a loop of `exp` in the same run.

use crate::house::House;

/// Builds the bench as it would be shipped and runs it; `words` go on to it (`--json`).
pub(crate) fn bench(house: &House, words: &[&str]) -> Result<(), String> {
    let mut arguments =
        vec!["bench", "--quiet", "--package", "windfall-tests", "--bench", "cost", "--locked", "--"];
    arguments.extend(words);
    let status = house.cargo(&arguments).status().map_err(|error| format!("cargo: {error}"))?;
    if status.success() { Ok(()) } else { Err("the bench failed".into()) }
}
