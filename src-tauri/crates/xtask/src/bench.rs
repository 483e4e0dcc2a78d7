//! `cargo xtask bench`: what an answer costs, as ratios to a loop of `exp` in the same run; what a full logbook and
//! learning from it cost.

use crate::house::House;

/// Builds the bench as it would be shipped and runs it; `words` go on to it (`--json`).
pub(crate) fn bench(house: &House, words: &[&str]) -> Result<(), String> {
    let bench = |name: &str, words| {
        house.hand_over(&["bench", "--quiet", "--package", "windfall-tests", "--bench", name], words)
    };
    match words {
        ["--logbook", words @ ..] => bench("logbook", words),
        // A program: it needs the use cases, and none of what the tests need.
        ["--learning", words @ ..] => house.hand_over(
            &["run", "--quiet", "--release", "--package", "windfall-tests", "--bin", "learning"],
            words,
        ),
        words if words.contains(&"--story") => bench("cost", words),
        words => {
            // Of the program as shipped, what it takes from start to end.
            house.hand_over(&["build", "--quiet", "--release", "--package", "windfall-cli"], &[])?;
            let program = house.shipped("windfall").display().to_string();
            bench("cost", &[words, &["--program", &program]].concat())
        }
    }
}
