//! What a program did to its logbook, as the system saw it: `strace` writes down its calls, or makes them fail.

use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;

/// Said when the program that traces is not there.
pub const STRACE_NEEDED: &str = "strace is needed: Debian's package strace";

/// How a program confirms.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reply {
    /// Every write to standard output.
    Line,
    /// Every answer over HTTP that says that all went well.
    Http,
}

/// Confirmations in a trace, and those that were given before the log they rest on was synced.
#[derive(Debug, Default, PartialEq, Eq)]
pub struct Traced {
    /// Replies, in all.
    pub confirmed: usize,
    /// Lines of replies given while something written to the log was not synced.
    pub unsynced: Vec<String>,
    /// Lines of replies before which nothing was written to the log since the reply before.
    pub resting_on_nothing: Vec<String>,
}

/// `program` under `strace`, which writes the calls that matter here to `trace`.
#[must_use]
pub fn tracing(trace: &Path, program: &Path) -> Command {
    let mut command = Command::new("strace");
    let calls = "trace=write,writev,pwrite64,pwritev,fsync,fdatasync,sendto,sendmsg";
    command.args(["-f", "-y", "-s", "24", "-e", calls, "-o"]).arg(trace).arg(program);
    command
}

/// `program` on a disk that is full from its `from`th write to `file` on: the system says so instead of writing.
#[must_use]
pub fn on_a_full_disk(file: &Path, from: u32, program: &Path) -> Command {
    let mut command = Command::new("strace");
    command.args(["-f", "-o", "/dev/null", "-e", "trace=pwrite64", "-P"]).arg(file);
    command.arg("-e").arg(format!("inject=pwrite64:error=ENOSPC:when={from}+")).arg(program);
    command
}

/// Reads what [`tracing`] wrote: `pid call(fd</path>, ...) = result` on every line. A call that another one
/// interrupts stands on two lines: what it writes counts from the first, what it syncs from the second.
#[must_use]
pub fn traced(trace: &str, reply: Reply) -> Traced {
    let mut judged = Traced::default();
    let mut unsynced: BTreeMap<&str, bool> = BTreeMap::new();
    let mut syncing: BTreeMap<&str, &str> = BTreeMap::new();
    let mut has_written = false;
    for line in trace.lines() {
        let Some((pid, said)) = line.split_once(' ') else { continue };
        let said = said.trim_start();
        if said.starts_with("<... fsync resumed>") || said.starts_with("<... fdatasync resumed>") {
            if let Some(path) = syncing.remove(pid)
                && said.ends_with("= 0")
            {
                unsynced.insert(path, false);
            }
            continue;
        }
        let Some((call, rest)) = said.split_once('(') else { continue };
        let (number, path) = rest.split_once('<').unwrap_or((rest, ""));
        let path = path.split('>').next().unwrap_or("");
        let name = path.rsplit('/').next().unwrap_or("");
        // The database, its log and its journal, but not the memory shared between programs.
        let is_log = name.starts_with("windfall.sqlite") && !name.ends_with("-shm");
        let is_reply = match reply {
            Reply::Line => call == "write" && number == "1",
            Reply::Http => rest.contains("\"HTTP/1.1 200 "),
        };
        match call {
            _ if is_reply => {
                judged.confirmed += 1;
                if unsynced.values().any(|it| *it) {
                    judged.unsynced.push(line.to_owned());
                }
                if !has_written {
                    judged.resting_on_nothing.push(line.to_owned());
                }
                has_written = false;
            }
            "write" | "writev" | "pwrite64" | "pwritev" if is_log => {
                unsynced.insert(path, true);
                has_written |= name.ends_with("-wal");
            }
            "fsync" | "fdatasync" if is_log && said.ends_with("= 0") => {
                unsynced.insert(path, false);
            }
            "fsync" | "fdatasync" if is_log && said.ends_with("<unfinished ...>") => {
                syncing.insert(pid, path);
            }
            _ => {}
        }
    }
    judged
}
