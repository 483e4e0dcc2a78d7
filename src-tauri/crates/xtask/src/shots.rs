//! `cargo xtask shots`: a picture of every screen and state, phone and desktop, light and dark; and what the screens cost.

use crate::house::{House, Progress};
use crate::machine;

/// What a browser looks at: each step, and how it is taken.
type Step = (&'static str, fn(&House) -> Result<(), String>);

const BUILD: [Step; 3] = [
    ("Look over this machine", |house| {
        machine::check_node(house)?;
        machine::provide(house, &[machine::TO_BUILD, machine::TO_TEST])
            .map(drop)
            .map_err(machine::Missing::into_message)
    }),
    ("Build the user interface", |house| {
        house.npm_ci()?;
        house.quietly("ui-build", house.npm(&["run", "build"])).map(drop).map_err(|failure| failure.why)
    }),
    ("Build the terminal program", |house| {
        let packages = ["build", "--package", "windfall-cli", "--locked"];
        house.quietly("build", house.cargo(&packages)).map(drop).map_err(|failure| failure.why)
    }),
];

/// Builds what the pictures are taken of, and takes them into `target/xtask/shots`.
pub(crate) fn shots(house: &House) -> Result<(), String> {
    let mut progress = Progress::of(BUILD.len() + 1);
    for (name, step) in BUILD {
        progress.step(name, || step(house), |()| String::new()).0?;
    }
    let folder = house.scratch()?.join("shots");
    let take = || {
        let mut command = house.npm(&["run", "shots", "--"]);
        command.arg(&folder).env("WINDFALL_BIN", house.program("windfall"));
        house.quietly("shots", command).map_err(|failure| failure.why)
    };
    let said = |output: &String| output.lines().last().unwrap_or_default().to_owned();
    progress.step("Take the pictures", take, said).0.map(drop)
}

/// Time to the first screen, stalls while the map moves, size of the scripts; `words` go on to it (`--json`).
pub(crate) fn measure(house: &House, words: &[&str]) -> Result<(), String> {
    for (_, step) in BUILD {
        step(house)?;
    }
    let mut command = house.npm(&["run", "--silent", "measure", "--"]);
    let status = command.args(words).env("WINDFALL_BIN", house.program("windfall")).status();
    let status = status.map_err(|error| format!("npm: {error}"))?;
    // What went wrong it has said itself.
    if status.success() { Ok(()) } else { Err(String::new()) }
}
