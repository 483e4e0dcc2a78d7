//! What the shipped program confirms is on the disk: `log add` in a terminal, and the calls that `serve` answers.
#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, reason = "in a test a program that does not start is a failure")]

use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::{Command, Output, Stdio};
use windfall_tests::faults::trace::{Reply, STRACE_NEEDED, Traced, on_a_full_disk, traced, tracing};

fn program() -> &'static Path {
    Path::new(env!("CARGO_BIN_EXE_windfall"))
}

fn find(number: u32) -> String {
    format!(
        r#"{{"about": "flight", "name": "heron-lost", "kind": "find",
            "json": {{"part": "upper", "at": {{"lat": 47.53, "lon": 17.28{number:02}}}}}}}"#
    )
}

fn add(mut command: Command, folder: &Path, facts: &str) -> Output {
    let arguments = ["log", "add", "--logbook", folder.to_str().unwrap()];
    let mut child = command
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect(STRACE_NEEDED);
    child.stdin.take().unwrap().write_all(facts.as_bytes()).unwrap();
    child.wait_with_output().unwrap()
}

fn finds_kept(folder: &Path) -> usize {
    let arguments = ["log", "show", "heron-lost", "--json", "--logbook", folder.to_str().unwrap()];
    let output = Command::new(program()).args(arguments).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap().matches("\"lat\": 47.53").count()
}

#[test]
fn log_add_confirms_what_is_synced() {
    let folder = tempfile::tempdir().unwrap();
    let (book, trace) = (folder.path().join("book"), folder.path().join("trace"));
    let facts: String = (0..7).map(find).collect();
    let output = add(tracing(&trace, program()), &book, &facts);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let judged = traced(&fs::read_to_string(&trace).unwrap(), Reply::Line);
    assert_eq!(judged, Traced { confirmed: 7, ..Traced::default() });
    assert_eq!(finds_kept(&book), 7);
}

#[test]
fn log_add_tells_a_full_disk_and_keeps_what_it_confirmed() {
    let folder = tempfile::tempdir().unwrap();
    assert!(add(Command::new(program()), folder.path(), &find(1)).status.success());
    let log = folder.path().join("windfall.sqlite-wal");
    let facts: String = (2..40).map(find).collect();
    let output = add(on_a_full_disk(&log, 120, program()), folder.path(), &facts);
    let said = String::from_utf8(output.stderr).unwrap();
    assert!(!output.status.success() && said.contains("the disk is full: free some space"), "{said}");
    let confirmed = String::from_utf8(output.stdout).unwrap().lines().count();
    assert!((1..38).contains(&confirmed), "{confirmed}");
    assert_eq!(finds_kept(folder.path()), 1 + confirmed);
    assert!(add(Command::new(program()), folder.path(), &find(99)).status.success());
}

/// A tracer and the server it traces: both are stopped, also when the test fails.
struct Stopped(std::process::Child);

impl Drop for Stopped {
    fn drop(&mut self) {
        let group = format!("kill -s KILL -- -{}", self.0.id());
        let _ = Command::new("sh").args(["-c", &group]).status();
        let _ = self.0.wait();
    }
}

#[test]
fn serve_answers_when_what_it_was_told_is_synced() {
    let folder = tempfile::tempdir().unwrap();
    let [book, day, trace] = ["book", "day", "trace"].map(|name| folder.path().join(name));
    fs::create_dir(&day).unwrap();
    let child = tracing(&trace, program())
        .args(["serve", "--port", "0", "--logbook", book.to_str().unwrap(), "--day", day.to_str().unwrap()])
        .args(["--ui", day.to_str().unwrap()])
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .process_group(0)
        .spawn()
        .expect(STRACE_NEEDED);
    let mut child = Stopped(child);
    let mut said = String::new();
    BufReader::new(child.0.stdout.take().unwrap()).read_line(&mut said).unwrap();
    let (host, token) = said.split_once("http://").and_then(|it| it.1.trim().split_once("/#token=")).unwrap();
    for number in 0..7 {
        let mut stream = TcpStream::connect(host).unwrap();
        let body = find(number);
        write!(
            stream,
            "POST /api/add_fact HTTP/1.1\r\nHost: {host}\r\nAuthorization: Bearer {token}\r\nConnection: close\r\n\
             Content-Length: {}\r\n\r\n{body}",
            body.len()
        )
        .unwrap();
        let mut answer = String::new();
        stream.read_to_string(&mut answer).unwrap();
        assert!(answer.starts_with("HTTP/1.1 200 "), "{answer}");
    }
    drop(child);
    let judged = traced(&fs::read_to_string(&trace).unwrap(), Reply::Http);
    assert_eq!(judged, Traced { confirmed: 7, ..Traced::default() });
    assert_eq!(finds_kept(&book), 7);
}
