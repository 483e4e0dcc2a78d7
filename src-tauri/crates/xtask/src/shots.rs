//! `cargo xtask shots`: a picture of every screen and state, phone and desktop, light and dark.

use crate::house::{House, Progress};
use crate::machine;

/// Builds what the pictures are taken of, and takes them into `target/xtask/shots`.
pub(crate) fn shots(house: &House) -> Result<(), String> {
    let mut progress = Progress::of(4);
    let provide = || {
        machine::check_node(house)?;
        machine::provide(house, &[machine::TO_BUILD, machine::TO_TEST])
            .map_err(machine::Missing::into_message)
    };
    progress.step("Look over this machine", provide, |_| String::new()).0?;
    let build_ui = || {
        house.npm_ci()?;
        house.quietly("ui-build", house.npm(&["run", "build"])).map_err(|failure| failure.why)
    };
    progress.step("Build the user interface", build_ui, |_| String::new()).0?;
    let build = || {
        let packages = ["build", "--package", "windfall-cli", "--locked"];
        house.quietly("build", house.cargo(&packages)).map_err(|failure| failure.why)
    };
    progress.step("Build the terminal program", build, |_| String::new()).0?;
    let folder = house.scratch()?.join("shots");
    let take = || {
        let mut command = house.npm(&["run", "shots", "--"]);
        command.arg(&folder).env("WINDFALL_BIN", house.program("windfall"));
        house.quietly("shots", command).map_err(|failure| failure.why)
    };
    let said = |output: &String| output.lines().last().unwrap_or_default().to_owned();
    progress.step("Take the pictures", take, said).0.map(drop)
}
