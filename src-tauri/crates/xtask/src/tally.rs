//! Counts the tests in the output of the tools that run them.

/// So many tests passed, so many failed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Tally {
    pub(crate) passed: usize,
    pub(crate) failed: usize,
}

impl Tally {
    /// Adds up what `output` says: cargo's `test result:` lines, vitest's `Tests` line, the `pass` and `fail`
    /// lines of Node's own runner, and a bare `N passed, N failed`.
    pub(crate) fn of(output: &str) -> Self {
        let mut sum = Self::default();
        for line in output.lines().map(str::trim) {
            let own = line.split_once(" passed, ").is_some_and(|(passed, failed)| {
                passed.parse::<usize>().is_ok()
                    && failed.strip_suffix(" failed").is_some_and(|it| it.parse::<usize>().is_ok())
            });
            if own || line.starts_with("test result:") || line.starts_with("Tests ") {
                sum.passed += number_before(line, "passed");
                sum.failed += number_before(line, "failed");
            }
            let node = |word| line.strip_prefix("ℹ ")?.strip_prefix(word)?.trim().parse::<usize>().ok();
            sum.passed += node("pass ").unwrap_or(0);
            sum.failed += node("fail ").unwrap_or(0) + node("cancelled ").unwrap_or(0);
        }
        sum
    }
}

/// Why something failed, and how many tests say so.
#[derive(Debug)]
pub(crate) struct Failure {
    pub(crate) why: String,
    pub(crate) tally: Tally,
}

impl From<String> for Failure {
    fn from(why: String) -> Self {
        Self { why, tally: Tally::default() }
    }
}

impl From<Failure> for String {
    fn from(failure: Failure) -> Self {
        failure.why
    }
}

fn number_before(line: &str, word: &str) -> usize {
    let words: Vec<&str> = line.split([' ', ',', ';', '|']).filter(|it| !it.is_empty()).collect();
    words.windows(2).find(|pair| pair[1] == word).and_then(|pair| pair[0].parse().ok()).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::Tally;

    #[test]
    fn every_tool_that_runs_tests_is_understood() {
        let cargo = "test result: ok. 12 passed; 0 failed; 0 ignored; 0 measured; 0 filtered out; finished in 0.3s\n\
                     test result: FAILED. 3 passed; 2 failed; 0 ignored; 0 measured; 0 filtered out";
        assert_eq!(Tally::of(cargo), Tally { passed: 15, failed: 2 });
        let vitest = " Test Files  1 failed | 2 passed (3)\n      Tests  1 failed | 24 passed (25)\n";
        assert_eq!(Tally::of(vitest), Tally { passed: 24, failed: 1 });
        let node = "ℹ tests 5\nℹ suites 0\nℹ pass 3\nℹ fail 1\nℹ cancelled 1\nℹ skipped 0\nℹ duration_ms 60";
        assert_eq!(Tally::of(node), Tally { passed: 3, failed: 2 });
        assert_eq!(Tally::of("7 passed, 1 failed"), Tally { passed: 7, failed: 1 });
    }

    #[test]
    fn prose_is_not_counted() {
        assert_eq!(
            Tally::of("the car passed, 1 failed start\n3 files passed, none failed"),
            Tally::default()
        );
    }
}
