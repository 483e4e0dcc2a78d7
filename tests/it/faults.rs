//! What the machine does to a logbook: programs killed in the middle, disks that lose what was not synced, folders
//! that may not be written or are full. In full the kills are `cargo xtask kill`. Damaged files are tested in the
//! crate, and what the shipped program confirms beside it.

use std::path::{Path, PathBuf};
use windfall_tests::faults::trace::{Reply, STRACE_NEEDED, Traced, on_a_full_disk, traced, tracing};
use windfall_tests::faults::{WRITE, confirmed_is_kept, kill};

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

#[test]
fn a_trace_without_a_sync_is_noticed() {
    let written = "pwrite64(4</a/windfall.sqlite-wal>, \"\\0\"..., 4096, 32) = 4096\n";
    let synced = "fdatasync(4</a/windfall.sqlite-wal>) = 0\n";
    let failed = "fdatasync(4</a/windfall.sqlite-wal>) = -1 EIO (Input/output error)\n";
    let confirmed = "write(1<pipe:[7]>, \"00001\\n\", 6) = 6\n";
    let count = |lines: &[&str]| {
        let lines: String = lines.iter().map(|line| format!("71 {line}")).collect();
        let Traced { confirmed, unsynced, resting_on_nothing } = traced(&lines, Reply::Line);
        (confirmed, unsynced.len(), resting_on_nothing.len())
    };
    assert_eq!(count(&[written, synced, confirmed]), (1, 0, 0));
    assert_eq!(count(&[written, confirmed]), (1, 1, 0));
    assert_eq!(count(&[written, failed, confirmed]), (1, 1, 0));
    assert_eq!(count(&[written, synced, written, confirmed]), (1, 1, 0));
    assert_eq!(count(&[written, synced, confirmed, confirmed]), (2, 0, 1));
    // A sync that other calls come between is done when it comes back.
    let begun = "fdatasync(4</a/windfall.sqlite-wal> <unfinished ...>\n";
    let done = "<... fdatasync resumed>) = 0\n";
    assert_eq!(count(&[written, begun, done, confirmed]), (1, 0, 0));
    assert_eq!(count(&[written, begun, confirmed, done]), (1, 1, 0));
    let refused = "<... fdatasync resumed>) = -1 EIO (Input/output error)\n";
    assert_eq!(count(&[written, begun, refused, confirmed]), (1, 1, 0));
}

/// A kill leaves to the kernel what was written; only a sync outlasts a battery that falls out.
#[cfg(target_os = "linux")]
#[test]
fn the_log_is_synced_before_each_confirmation() {
    let folder = tempfile::tempdir().unwrap();
    let trace = folder.path().join("trace");
    let output = tracing(&trace, writer())
        .args([WRITE, folder.path().join("book").to_str().unwrap(), "1", "12"])
        .output()
        .expect(STRACE_NEEDED);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let confirmed = String::from_utf8(output.stdout).unwrap();
    let judged = traced(&std::fs::read_to_string(&trace).unwrap(), Reply::Line);
    // 13 taps and 8 seconds of a track for each flight.
    assert_eq!((confirmed.lines().count(), judged.confirmed), (12 * 21, 12 * 21));
    assert_eq!((judged.unsynced.first(), judged.resting_on_nothing.first()), (None, None));
}

/// From whichever write on the disk is full: the file being made, the log begun, a flight half noted.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_loses_nothing_that_was_confirmed() {
    let mut confirmed = Vec::new();
    for (file, from) in [("", 1), ("-wal", 1), ("-wal", 60), ("-wal", 233), ("-wal", 900)] {
        let (whole, told, out) = day_on_a_full_disk(file, from);
        assert!(!whole && told.contains("the disk is full: free some space"), "{file} {from}: {told}");
        confirmed.push(out);
    }
    assert!(confirmed[..2] == [0, 0] && confirmed[2..].is_sorted_by(|a, b| a < b), "{confirmed:?}");
    // Where only the file is full and not its log, all stays in the log.
    let (whole, told, out) = day_on_a_full_disk("", 9);
    assert_eq!((whole, told.as_str(), out), (true, "", 40 * 21));
}

/// Whether the writer came through, what it said, and how many facts it confirmed; these were found again.
#[cfg(target_os = "linux")]
fn day_on_a_full_disk(file: &str, from: u32) -> (bool, String, usize) {
    let folder = tempfile::tempdir().unwrap();
    let full = folder.path().join(format!("windfall.sqlite{file}"));
    let output = on_a_full_disk(&full, from, writer())
        .args([WRITE, folder.path().to_str().unwrap(), "1", "40"])
        .output()
        .expect(STRACE_NEEDED);
    let confirmed = String::from_utf8(output.stdout).unwrap();
    confirmed_is_kept(folder.path(), 1, confirmed.lines());
    (output.status.success(), String::from_utf8(output.stderr).unwrap(), confirmed.lines().count())
}

#[cfg(unix)]
#[test]
fn a_folder_that_may_only_be_read_is_told_and_nothing_is_touched() {
    use std::fs::{self, Permissions};
    use std::os::unix::fs::{MetadataExt, PermissionsExt};
    use std::os::unix::process::CommandExt;
    use std::process::Command;

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
