//! `cargo xtask run`: from a fresh machine to the sample lost flight's answer and the window.

use crate::house::{House, Progress, watched};
use crate::machine::{self, Missing};
use std::process::Stdio;

/// The flight that is answered first.
const LOST: &str = "sample-data/flights/heron-lost.json";
/// The field day that is shown.
const FIELD_DAY: &str = "sample-data/flights";

/// How far to go.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Until {
    /// The answer is printed.
    Answered,
    /// The window is open, or the address printed.
    Shown,
}

/// Sets up, builds, answers, shows.
pub(crate) fn run(house: &House, until: Until) -> Result<(), String> {
    let mut progress = Progress::of(5);
    let mut window = until == Until::Shown && machine::has_display();
    if watched() {
        println!("The first time takes several minutes; later ones take seconds.");
    }

    let (provided, _) = progress.step(
        "Look over this machine",
        || {
            machine::check_node(house)?;
            let mut installed =
                machine::provide(house, &[machine::TO_BUILD]).map_err(Missing::into_message)?;
            let mut remark = None;
            if window {
                match machine::provide(house, &[machine::FOR_THE_WINDOW]) {
                    Ok(more) => installed.extend(more),
                    Err(Missing::Unavailable(why)) => remark = Some(why),
                    Err(missing @ Missing::Command(_)) => return Err(missing.into_message()),
                }
            }
            Ok((installed, remark))
        },
        |(installed, _)| {
            if installed.is_empty() {
                "nothing missing".into()
            } else {
                format!("installed {}", installed.join(" "))
            }
        },
    );
    if let (_, Some(why)) = provided? {
        println!("{why}\nSo there will be no window; the browser shows the same.");
        window = false;
    }

    progress.step("Fetch what the user interface is built with", || house.npm_ci(), String::clone).0?;
    let build_ui = || house.quietly("ui-build", house.npm(&["run", "build"]));
    progress.step("Build the user interface", build_ui, |_| String::new()).0?;
    // The window embeds the built user interface, so it comes after it. One call, so that what both
    // programs share is compiled once.
    let mut packages = vec!["build", "--package", "windfall-cli"];
    if window {
        packages.extend(["--package", "windfall-app"]);
    }
    let name = if window { "Build terminal program and window" } else { "Build the terminal program" };
    progress.step(name, || house.quietly("build", house.cargo(&packages)), |_| String::new()).0?;

    let windfall = house.program("windfall");
    let locate = || house.quietly("answer", house.command(&windfall, &["locate", LOST]));
    let answer = progress.step("Find the lost Heron", locate, |_| String::new()).0?;
    println!("\n{}\n", answer.trim_end());
    if until == Until::Answered {
        return Ok(());
    }

    let mut show = if window {
        println!("The window opens on the sample field day. Close it to stop.");
        house.command(house.program("windfall-app"), &[FIELD_DAY])
    } else {
        println!("No window here: open this address in a browser. Ctrl+C stops it.");
        house.command(&windfall, &["serve", "--day", FIELD_DAY])
    };
    let status = show
        .stdin(Stdio::inherit())
        .status()
        .map_err(|error| format!("cannot show the field day: {error}"))?;
    if status.success() { Ok(()) } else { Err(format!("showing the field day ended with {status}")) }
}
