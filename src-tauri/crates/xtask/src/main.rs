//! `cargo xtask`: set-up, run, test. One file per command.

#![allow(clippy::print_stdout, reason = "a program for the terminal")]

mod android;
mod bench;
mod calibrate;
mod checks;
mod house;
mod kill;
mod machine;
mod run;
mod shots;
mod tally;
mod test;
mod tidy;
mod twin;
mod types;

use house::House;
use std::process::ExitCode;

const USAGE: &str = "\
cargo xtask run [--answer-only]   set up this machine, build, answer the sample flight, open the window
cargo xtask test                  every check and every test, with one summary at the end
cargo xtask checks [--json]       what each check against the outside gave, into tests/reference/CHECKS.md
cargo xtask bench [--story] [--json] what an answer costs, against a loop of exp in the same run
cargo xtask bench --logbook [--answer-kb N] [--json]
                                  what a logbook of ten thousand flights costs
cargo xtask bench --learning [--flights N] [--threads N] [--json]
                                  what learning from a logbook of a thousand flights costs
cargo xtask bench --screens [--json]  time to the first screen, stalls while the map moves, size of the scripts
cargo xtask kill [--kills N] [--seed N] [--json]
                                  kills a program that notes facts and looks for everything it confirmed
cargo xtask twin [--flights N] [--levels a,b] [--fresh] [--json]
                                  flies simulated flights and counts how often the answer holds the truth
cargo xtask season [--flyers N] [--flights N] [--judged N] [--level nothing|one] [--fresh] [--json]
                                  flies whole seasons and counts what learning from flights brings
cargo xtask calibrate [--flights N] [--kinds a,b] [--json] [--svg FILE]
                                  draws truths from the model's own prior and ranks them among the draws
cargo xtask shots                 pictures every screen and state into target/xtask/shots
cargo xtask android [--check]     the package for the phone, or what is missing for it; --check only compiles
cargo xtask types                 write the user interface's types anew from the Rust ones";

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    let outcome = House::found().and_then(|house| match words[..] {
        ["run"] => run::run(&house, run::Until::Shown),
        ["run", "--answer-only"] => run::run(&house, run::Until::Answered),
        ["test"] => test::test(&house),
        ["checks"] => checks::checks(&house, checks::As::Page),
        ["checks", "--json"] => checks::checks(&house, checks::As::Json),
        ["bench", "--screens", ref words @ ..] => shots::measure(&house, words),
        ["bench", ref words @ ..] => bench::bench(&house, words),
        ["calibrate", ref words @ ..] => calibrate::calibrate(&house, words),
        ["twin", ref words @ ..] => twin::twin(&house, words),
        ["kill", ref words @ ..] => kill::kill(&house, words),
        ["season", ref words @ ..] => twin::season(&house, words),
        ["shots"] => shots::shots(&house),
        ["android"] => android::android(&house, android::Until::Built),
        ["android", "--check"] => android::android(&house, android::Until::Checked),
        ["types"] => types::write(&house),
        _ => Err(USAGE.into()),
    });
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(message) => {
            // The tests have said everything, and their summary is the last line.
            if !message.is_empty() {
                eprintln!("{message}");
            }
            ExitCode::FAILURE
        }
    }
}
