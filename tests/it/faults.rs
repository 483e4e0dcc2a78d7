//! What the machine does to a logbook: programs killed in the middle, disks that lose what was not synced, folders
//! that may not be written. In full the kills are `cargo xtask kill`. Damaged and full files are tested in the crate.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::Command;
use windfall_tests::faults::{WRITE, kill};

fn writer() -> &'static Path {
    Path::new(env!("CARGO_BIN_EXE_kill"))
}

fn stored(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("logbooks").join(name)
}

#[test]
fn everything_confirmed_outlasts_a_kill_at_any_moment() {
    let tally = kill(writer(), 20, 7, &stored("v1.sqlite"));
    assert_eq!(tally.kills, 20);
    assert!(tally.confirmed > 100 && tally.backups > 2, "{tally:?}");
}

/// Confirmations in a system-call trace, and those that were written before the log they rest on was synced.
#[derive(Debug, Default, PartialEq)]
struct Traced {
    confirmed: usize,
    unsynced: Vec<String>,
    resting_on_nothing: Vec<String>,
}

/// Reads what `strace -y` wrote: `call(fd</path>, ...) = result` on every line.
fn traced(trace: &str) -> Traced {
    let mut judged = Traced::default();
    let mut unsynced: BTreeMap<&str, bool> = BTreeMap::new();
    let mut has_written = false;
    for line in trace.lines() {
        let Some((call, rest)) = line.split_once('(') else { continue };
        let (number, path) = rest.split_once('<').unwrap_or((rest, ""));
        let path = path.split('>').next().unwrap_or("");
        let name = path.rsplit('/').next().unwrap_or("");
        // The database, its log and its journal, but not the memory shared between programs.
        let is_log = name.starts_with("windfall.sqlite") && !name.ends_with("-shm");
        match call {
            "write" if number == "1" => {
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
            "fsync" | "fdatasync" if is_log && line.ends_with("= 0") => {
                unsynced.insert(path, false);
            }
            _ => {}
        }
    }
    judged
}

#[test]
fn a_trace_without_a_sync_is_noticed() {
    let written = "pwrite64(4</a/windfall.sqlite-wal>, \"\\0\"..., 4096, 32) = 4096\n";
    let synced = "fdatasync(4</a/windfall.sqlite-wal>) = 0\n";
    let failed = "fdatasync(4</a/windfall.sqlite-wal>) = -1 EIO (Input/output error)\n";
    let confirmed = "write(1<pipe:[7]>, \"00001\\n\", 6) = 6\n";
    let count = |lines: &[&str]| {
        let Traced { confirmed, unsynced, resting_on_nothing } = traced(&lines.concat());
        (confirmed, unsynced.len(), resting_on_nothing.len())
    };
    assert_eq!(count(&[written, synced, confirmed]), (1, 0, 0));
    assert_eq!(count(&[written, confirmed]), (1, 1, 0));
    assert_eq!(count(&[written, failed, confirmed]), (1, 1, 0));
    assert_eq!(count(&[written, synced, written, confirmed]), (1, 1, 0));
    assert_eq!(count(&[written, synced, confirmed, confirmed]), (2, 0, 1));
}

/// A kill leaves to the kernel what was written; only a sync outlasts a battery that falls out.
#[cfg(target_os = "linux")]
#[test]
fn the_log_is_synced_before_each_confirmation() {
    let folder = tempfile::tempdir().unwrap();
    let trace = folder.path().join("trace");
    let output = Command::new("strace")
        .args(["-y", "-s", "16", "-e", "trace=write,writev,pwrite64,pwritev,fsync,fdatasync", "-o"])
        .arg(&trace)
        .arg(writer())
        .args([WRITE, folder.path().join("book").to_str().unwrap(), "1", "12"])
        .output()
        .expect("strace is needed: Debian's package strace");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let confirmed = String::from_utf8(output.stdout).unwrap();
    let judged = traced(&std::fs::read_to_string(&trace).unwrap());
    // 13 taps and 8 seconds of a track for each flight.
    assert_eq!((confirmed.lines().count(), judged.confirmed), (12 * 21, 12 * 21));
    assert_eq!((judged.unsynced.first(), judged.resting_on_nothing.first()), (None, None));
}

#[cfg(unix)]
#[test]
fn a_folder_that_may_only_be_read_is_told_and_nothing_is_touched() {
    use std::fs::{self, Permissions};
    use std::os::unix::fs::{MetadataExt, PermissionsExt};
    use std::os::unix::process::CommandExt;

    let may = |path: &Path, mode| fs::set_permissions(path, Permissions::from_mode(mode)).unwrap();
    let apart = tempfile::tempdir().unwrap();
    may(apart.path(), 0o755);
    let program = apart.path().join("writer");
    fs::copy(writer(), &program).unwrap();
    let folder = apart.path().join("book");
    fs::create_dir(&folder).unwrap();
    let file = folder.join("windfall.sqlite");
    fs::copy(stored("v2.sqlite"), &file).unwrap();
    let before = fs::read(&file).unwrap();
    may(&file, 0o444);
    may(&folder, 0o555);
    let run = |folder: &Path| {
        let mut command = Command::new(&program);
        command.args([WRITE, folder.to_str().unwrap(), "1", "1"]);
        // Root may write everywhere, so it steps down to a user without rights.
        if fs::metadata(apart.path()).unwrap().uid() == 0 {
            command.uid(65_534).gid(65_534);
        }
        let output = command.output().unwrap();
        assert!(!output.status.success() && output.stdout.is_empty());
        String::from_utf8(output.stderr).unwrap()
    };
    let said = run(&folder);
    assert!(said.contains("cannot be written: allow writing in its folder, or name another"), "{said}");
    assert!(fs::read(&file).unwrap() == before);
    let said = run(&folder.join("new"));
    assert!(said.contains("name a folder you may write in"), "{said}");
    may(&folder, 0o755);
}
