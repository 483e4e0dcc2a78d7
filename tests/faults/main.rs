//! Writes a scripted day and is killed at it. `cargo xtask kill` builds and starts it.

#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a program for the terminal, and a broken one should stop"
)]

use serde_json::json;
use std::path::Path;
use std::process::ExitCode;
use windfall_tests::faults::{WRITE, kill, write};
use windfall_tests::twin::ended;

const USAGE: &str = "\
kill [--kills N] [--seed N] [--json]
  --kills N   programs to start and kill (default 200)
  --seed N    of the moments (default 1)";

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    ended(match words[..] {
        [WRITE, folder, run] => run_writer(folder, run, u32::MAX),
        [WRITE, folder, run, flights] => flights
            .parse()
            .map_err(|error| format!("{flights}: {error}"))
            .and_then(|flights| run_writer(folder, run, flights)),
        _ => kills(&words),
    })
}

fn run_writer(folder: &str, run: &str, flights: u32) -> Result<(), String> {
    let run = run.parse().map_err(|error| format!("{run}: {error}"))?;
    write(Path::new(folder), run, flights, std::io::stdout().lock())
}

fn kills(words: &[&str]) -> Result<(), String> {
    let (mut kills, mut seed, mut json) = (200, 1, false);
    let mut words = words.iter();
    while let Some(word) = words.next() {
        let mut number = || words.next().and_then(|it| it.parse::<u32>().ok());
        match *word {
            "--kills" => kills = number().ok_or(USAGE)?,
            "--seed" => seed = number().ok_or(USAGE)?,
            "--json" => json = true,
            _ => return Err(USAGE.into()),
        }
    }
    let program = std::env::current_exe().map_err(|error| error.to_string())?;
    let old = Path::new(env!("CARGO_MANIFEST_DIR")).join("logbooks/v1.sqlite");
    let tally = kill(&program, kills, u64::from(seed), &old);
    if json {
        println!(
            "{}",
            json!({"seed": seed, "kills": tally.kills, "while_opening": tally.while_opening,
                "confirmed": tally.confirmed, "unconfirmed": tally.unconfirmed, "missing": 0,
                "most_backups": tally.backups})
        );
        return Ok(());
    }
    println!(
        "{} kills, {} of them while the logbook was opened; {} facts confirmed, all there and unchanged; \
         {} more were there unconfirmed; every file and backup sound",
        tally.kills, tally.while_opening, tally.confirmed, tally.unconfirmed
    );
    Ok(())
}
