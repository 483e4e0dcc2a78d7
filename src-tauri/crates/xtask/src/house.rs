//! The working copy: where things are, and how its tools are called.

use crate::tally::{Failure, Tally};
use std::fs::{self, File};
use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// How much of a failed tool's output is repeated.
const LINES_SHOWN: usize = 120;

/// The working copy this program was started in.
#[derive(Debug)]
pub(crate) struct House {
    root: PathBuf,
    /// Where cargo puts the programs it builds, this one included.
    programs: PathBuf,
}

impl House {
    /// Finds the working copy through cargo.
    pub(crate) fn found() -> Result<Self, String> {
        let manifest = std::env::var_os("CARGO_MANIFEST_DIR")
            .ok_or("this program finds its folders through cargo: start it as `cargo xtask`")?;
        let root = Path::new(&manifest)
            .ancestors()
            .nth(3)
            .ok_or("the task runner is no longer in src-tauri/crates/xtask")?
            .to_path_buf();
        let this = std::env::current_exe().map_err(|error| format!("where am I? {error}"))?;
        let programs = this.parent().ok_or("this program lies in no folder")?.to_path_buf();
        Ok(Self { root, programs })
    }

    /// A path below the root.
    pub(crate) fn path(&self, below: &str) -> PathBuf {
        self.root.join(below)
    }

    /// A folder for what the tasks leave behind: logs, pictures.
    pub(crate) fn scratch(&self) -> Result<PathBuf, String> {
        let folder = self.path("target/xtask");
        fs::create_dir_all(&folder).map_err(|error| format!("{}: {error}", folder.display()))?;
        Ok(folder)
    }

    /// A program that cargo has built.
    pub(crate) fn program(&self, name: &str) -> PathBuf {
        self.programs.join(format!("{name}{}", std::env::consts::EXE_SUFFIX))
    }

    /// The same as it is shipped.
    pub(crate) fn shipped(&self, name: &str) -> PathBuf {
        self.programs.with_file_name("release").join(format!("{name}{}", std::env::consts::EXE_SUFFIX))
    }

    /// The cargo that started this program, called in the root.
    pub(crate) fn cargo(&self, arguments: &[&str]) -> Command {
        let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
        self.command(cargo, arguments)
    }

    /// Cargo with `words` handed on to the program that it runs, its output shown as it comes.
    pub(crate) fn hand_over(&self, arguments: &[&str], words: &[&str]) -> Result<(), String> {
        let all: Vec<&str> = arguments.iter().chain(&["--locked", "--"]).chain(words).copied().collect();
        let status = self.cargo(&all).status().map_err(|error| format!("cargo: {error}"))?;
        // What went wrong it has said itself.
        if status.success() { Ok(()) } else { Err(String::new()) }
    }

    /// npm, called in the user interface's folder.
    pub(crate) fn npm(&self, arguments: &[&str]) -> Command {
        let mut command = self.command(if cfg!(windows) { "npm.cmd" } else { "npm" }, arguments);
        command.current_dir(self.path("ui"));
        command
    }

    /// Any other program, called in the root.
    pub(crate) fn command(&self, program: impl AsRef<std::ffi::OsStr>, arguments: &[&str]) -> Command {
        let mut command = Command::new(program);
        command.args(arguments).current_dir(&self.root).stdin(Stdio::null());
        command
    }

    /// Runs to the end, output into a log; the output, or an error that repeats its end.
    pub(crate) fn quietly(&self, log: &str, mut command: Command) -> Result<String, Failure> {
        let path = self.scratch()?.join(format!("{log}.log"));
        let written = |error| format!("{}: {error}", path.display());
        let file = File::create(&path).map_err(written)?;
        let status = command
            .env("NO_COLOR", "1") // the output is read again by `tally`
            .env("CARGO_TERM_COLOR", "never")
            .stdout(file.try_clone().map_err(written)?)
            .stderr(file)
            .status()
            .map_err(|error| {
                format!(
                    "`{}` does not start in {}: {error}",
                    command.get_program().display(),
                    command.get_current_dir().unwrap_or(&self.root).display()
                )
            })?;
        let bytes = fs::read(&path).map_err(written)?;
        let output = String::from_utf8_lossy(&bytes).into_owned();
        if status.success() {
            return Ok(output);
        }
        let lines: Vec<&str> = output.lines().collect();
        let end = lines[lines.len().saturating_sub(LINES_SHOWN)..].join("\n");
        let why = format!("{end}\n({status}; all of it is in {})", path.display());
        Err(Failure { why, tally: Tally::of(&output) })
    }

    /// Installs what the user interface is built with, if its lock file is newer than what is there.
    pub(crate) fn npm_ci(&self) -> Result<String, String> {
        let age = |below: &str| fs::metadata(self.path(below)).and_then(|meta| meta.modified()).ok();
        let (wanted, there) = (age("ui/package-lock.json"), age("ui/node_modules/.package-lock.json"));
        if wanted.is_some() && there > wanted {
            return Ok("up to date".into());
        }
        self.quietly("npm-ci", self.npm(&["ci", "--no-audit", "--no-fund"]))?;
        Ok(String::new())
    }
}

/// Progress lines, one a step: `[2/5] Build the user interface ... 12 s`.
#[derive(Debug)]
pub(crate) struct Progress {
    at: usize,
    of: usize,
}

impl Progress {
    /// So many steps to come.
    pub(crate) fn of(steps: usize) -> Self {
        Self { at: 0, of: steps }
    }

    /// Announces a step, takes it, and says how long it took and what came of it.
    pub(crate) fn step<T, E>(
        &mut self,
        name: &str,
        work: impl FnOnce() -> Result<T, E>,
        remark: impl FnOnce(&T) -> String,
    ) -> (Result<T, E>, Duration) {
        self.at += 1;
        print!("[{}/{}] {name} ... ", self.at, self.of);
        flush();
        let since = now();
        let outcome = work();
        let took = since.elapsed();
        match &outcome {
            Ok(done) => {
                let remark = remark(done);
                let comma = if remark.is_empty() { "" } else { ", " };
                println!("{:.0} s{comma}{remark}", took.as_secs_f64());
            }
            Err(_) => println!("FAILED after {:.0} s", took.as_secs_f64()),
        }
        flush();
        (outcome, took)
    }
}

/// Whether a person watches.
pub(crate) fn watched() -> bool {
    std::io::stdout().is_terminal()
}

fn flush() {
    // A closed pipe is no reason to stop the work.
    let _ = std::io::stdout().flush();
}

/// Marks the time; only how long a step took is ever read off it.
#[allow(clippy::disallowed_methods, reason = "times steps; no answer depends on it")]
pub(crate) fn now() -> Instant {
    Instant::now()
}
