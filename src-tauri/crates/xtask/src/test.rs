//! `cargo xtask test`: every check, the failed ones not hiding the later ones.

use crate::house::{House, Progress};
use crate::machine;
use crate::tally::{Failure, Tally};
use crate::{tidy, types};
use std::fs;
use std::time::Duration;

/// One step.
struct Check {
    name: &'static str,
    /// Names of earlier steps without which this one cannot run.
    needs: &'static [&'static str],
    run: fn(&House) -> Result<Tally, Failure>,
}

const MACHINE: &str = "machine";
const NPM: &str = "npm ci";
const UI: &str = "user interface build";
const PROGRAMS: &str = "programs";

/// In this order: what is quick and often wrong first; the user interface before the window that embeds it.
const CHECKS: &[Check] = &[
    Check { name: MACHINE, needs: &[], run: machine },
    Check { name: "tidiness", needs: &[], run: tidy::check },
    Check {
        name: "rustfmt",
        needs: &[],
        run: |house| one(house, "rustfmt", &["fmt", "--all", "--check", "--", "--color", "never"]),
    },
    Check { name: NPM, needs: &[], run: |house| house.npm_ci().map(|_| ONE).map_err(Failure::from) },
    Check {
        name: "generated types",
        needs: &[],
        run: |house| types::check(house).map(|()| ONE).map_err(Failure::from),
    },
    Check { name: "user interface types", needs: &[NPM], run: |house| npm(house, "check") },
    Check { name: "user interface lint", needs: &[NPM], run: |house| npm(house, "lint") },
    Check {
        name: "user interface tests",
        needs: &[NPM],
        run: |house| counted(house.quietly("ui-test", house.npm(&["test"]))),
    },
    Check { name: UI, needs: &[NPM], run: |house| npm(house, "build") },
    Check { name: "clippy", needs: &[], run: clippy },
    Check { name: PROGRAMS, needs: &[UI], run: programs },
    Check { name: "Rust tests", needs: &[], run: rust_tests },
    Check { name: "browser tests", needs: &[NPM, UI, PROGRAMS], run: browser_tests },
    Check { name: "window tests", needs: &[UI, PROGRAMS], run: window_tests },
];

const ONE: Tally = Tally { passed: 1, failed: 0 };

/// Runs all that can run, then sums up.
pub(crate) fn test(house: &House) -> Result<(), String> {
    let mut progress = Progress::of(CHECKS.len());
    let mut rows: Vec<(&Check, Duration, Result<Tally, Failure>)> = Vec::new();
    for check in CHECKS {
        let broken =
            rows.iter().find(|(earlier, _, result)| result.is_err() && check.needs.contains(&earlier.name));
        let work = || match broken {
            Some((earlier, ..)) => Err(format!("not run: it needs `{}`, which failed", earlier.name).into()),
            None => (check.run)(house),
        };
        let (result, took) = progress.step(check.name, work, |tally| tests(*tally));
        if let Err(failure) = &result {
            println!("{}\n", failure.why);
        }
        rows.push((check, took, result));
    }

    println!();
    let mut sum = Tally::default();
    for (check, took, result) in &rows {
        // A step that fails without naming a failed test is itself one.
        let (mark, tally) = match result {
            Ok(tally) => ("passed", *tally),
            Err(Failure { tally, .. }) => ("FAILED", Tally { failed: tally.failed.max(1), ..*tally }),
        };
        println!("{:<22} {mark} {:>6.0} s   {}", check.name, took.as_secs_f64(), tests(tally));
        sum.passed += tally.passed;
        sum.failed += tally.failed;
    }
    let took: Duration = rows.iter().map(|(_, took, _)| *took).sum();
    println!("{:<22}        {:>6.0} s\n", "together", took.as_secs_f64());
    println!("{} passed, {} failed", sum.passed, sum.failed);
    if sum.failed == 0 { Ok(()) } else { Err(String::new()) }
}

fn tests(tally: Tally) -> String {
    match tally {
        ONE => String::new(),
        Tally { passed, failed: 0 } => format!("{passed} passed"),
        Tally { passed, failed } => format!("{passed} passed, {failed} failed"),
    }
}

/// A step that passes or fails as a whole.
fn one(house: &House, log: &str, arguments: &[&str]) -> Result<Tally, Failure> {
    house.quietly(log, house.cargo(arguments)).map(|_| ONE)
}

fn npm(house: &House, script: &str) -> Result<Tally, Failure> {
    house.quietly(&format!("ui-{script}"), house.npm(&["run", script])).map(|_| ONE)
}

/// A suite that says how many tests it ran; one that ran none has failed.
fn counted(output: Result<String, Failure>) -> Result<Tally, Failure> {
    let tally = Tally::of(&output?);
    if tally.passed == 0 || tally.failed > 0 {
        return Err(Failure {
            why: "it ended well, yet does not say that all its tests passed".into(),
            tally,
        });
    }
    Ok(tally)
}

fn machine(house: &House) -> Result<Tally, Failure> {
    machine::check_node(house)?;
    machine::provide(house, &[machine::TO_BUILD, machine::FOR_THE_WINDOW, machine::TO_TEST])
        .map(|_| ONE)
        .map_err(|missing| missing.into_message().into())
}

fn clippy(house: &House) -> Result<Tally, Failure> {
    // The window embeds this folder: if its build failed, an empty one lets the Rust code be checked all the same.
    let dist = house.path("ui/dist");
    fs::create_dir_all(&dist).map_err(|error| format!("{}: {error}", dist.display()))?;
    one(house, "clippy", &["clippy", "--workspace", "--all-targets", "--locked", "--", "-D", "warnings"])
}

/// The whole workspace, as the tests build it, so that nothing is compiled twice with other features.
fn programs(house: &House) -> Result<Tally, Failure> {
    one(house, "programs", &["build", "--workspace", "--bins", "--exclude", "windfall-xtask", "--locked"])
}

fn rust_tests(house: &House) -> Result<Tally, Failure> {
    counted(house.quietly("rust-tests", house.cargo(&["test", "--workspace", "--locked", "--no-fail-fast"])))
}

fn browser_tests(house: &House) -> Result<Tally, Failure> {
    let mut command = house.npm(&["run", "test:browser"]);
    command.env("WINDFALL_BIN", house.program("windfall"));
    counted(house.quietly("browser-tests", command))
}

fn window_tests(house: &House) -> Result<Tally, Failure> {
    let mut command =
        house.command("node", &["--test", "--test-reporter=spec", "tests/window/window.test.mjs"]);
    command.env("WINDFALL_APP", house.program("windfall-app"));
    counted(house.quietly("window-tests", command))
}
