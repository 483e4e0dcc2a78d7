//! A scripted day written by a program that is killed in the middle, and what must be there afterwards.

pub mod trace;

use chrono::NaiveDate;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::time::Duration;
use windfall_logbook::{Fact, Logbook, SET_ASIDE, UNDO};

/// The word that makes the program write instead of kill.
pub const WRITE: &str = "write";
/// Kills before a new folder is begun, so that kills also fall into making, migrating and backing up.
const KILLS_A_FOLDER: u32 = 5;
/// No kill waits longer than this for the writer to get on.
const PATIENCE: Duration = Duration::from_secs(20);

/// What the writer of `run` notes of its flight `number`, in that order; the same each time it is asked.
#[must_use]
pub fn flight(run: u32, number: u32) -> Vec<Fact> {
    let flight = format!("run {run} flight {number}");
    let id = |place: u32| format!("{run:05}-{number:05}-{place:03}");
    let about = |place, about: &str, name: &str, kind: &str, json: Value| Fact {
        id: id(place),
        about: about.into(),
        name: name.into(),
        kind: kind.into(),
        version: 1,
        replaces: None,
        json,
    };
    let of = |place, kind: &str, json| about(place, "flight", &flight, kind, json);
    let later =
        |place, earlier, kind: &str, json| Fact { replaces: Some(id(earlier)), ..of(place, kind, json) };
    let saw = |bearing_deg: f64| json!({"moment": "lost", "t_s": 41.0, "bearing_deg": bearing_deg});
    let mut facts = vec![
        about(1, "field", "quillmere", "permission", json!({"until": "2026-09-30", "asked": number})),
        about(2, "motor", "C6-5", "stock", json!({"change": 3})),
        about(3, "phone", "Ilse's phone", "heading_check", json!({"off_deg": 2.5})),
        of(
            4,
            "flight",
            json!({"title": "Heron, over the hedge", "rocket": {"id": "heron", "name": "Heron"},
            "launch": {"at": format!("2026-05-16T10:{:02}:30+02:00", number % 60)}, "note": "barley ".repeat(300)}),
        ),
        of(5, "sighting", saw(71.0)),
        of(6, "sighting", saw(65.0)),
    ];
    // A track of eight seconds comes as the phone sends it: a second's samples at once.
    facts.extend((0..8).map(|second| {
        let sample = |tenth: u32| {
            let t_s = f64::from(10 * second + tenth) * 0.1;
            [t_s, 60.0 + t_s, 20.0]
        };
        let samples: Vec<[f64; 3]> = (0..10).map(sample).collect();
        of(100 + second, "samples", json!({ "samples": samples }))
    }));
    facts.extend([
        later(200, 5, "sighting", saw(17.0)),
        later(201, 6, SET_ASIDE, json!({"why": "a bird"})),
        later(202, 200, UNDO, json!({})),
        of(203, "search", json!({"part": "upper", "open": true})),
        of(204, "find", json!({"part": "lower", "at": {"lat": 47.53, "lon": 17.28}})),
        of(205, "outcome", json!({"how": "came_apart", "cause": "old cord"})),
        about(206, "motor", "C6-5", "stock", json!({"change": -1})),
    ]);
    facts
}

/// Every run has a day of its own, so that every opening makes a backup.
fn day(run: u32) -> NaiveDate {
    NaiveDate::from_num_days_from_ce_opt(739_000 + i32::try_from(run).unwrap()).unwrap()
}

/// Writes flights until it is killed, or so many; each identifier goes to `out`, a line each, once it is durable.
///
/// # Errors
/// When the logbook or `out` refuses.
pub fn write(folder: &Path, run: u32, flights: u32, mut out: impl Write) -> Result<(), String> {
    let told = |error: &dyn std::fmt::Display| error.to_string();
    let mut book = Logbook::open(folder, day(run)).map_err(|error| told(&error))?;
    // As the program does it: looked over and copied beside all that is noted.
    let look = book.daily_look().map(|look| std::thread::spawn(move || look.look()));
    for number in 0..flights {
        for fact in flight(run, number) {
            book.add(&fact).map_err(|error| told(&error))?;
            // One write for one commit.
            let confirmed = out.write_all(format!("{}\n", fact.id).as_bytes()).and_then(|()| out.flush());
            confirmed.map_err(|error| told(&error))?;
        }
        if number % 4 == 3 {
            book.back_up(day(run)).map_err(|error| told(&error))?;
        }
    }
    match look.map(std::thread::JoinHandle::join) {
        None | Some(Ok(Ok(_))) => Ok(()),
        Some(Ok(Err(error))) => Err(told(&error)),
        Some(Err(_)) => Err("the look over the logbook panicked".into()),
    }
}

/// What the kills came to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Programs killed while they wrote.
    pub kills: u32,
    /// Of these, before the first confirmation: while the logbook was made, migrated or backed up.
    pub while_opening: u32,
    /// Facts confirmed, all of which were found again.
    pub confirmed: usize,
    /// Facts found that had not been confirmed yet.
    pub unconfirmed: usize,
    /// Backups looked at.
    pub backups: usize,
}

/// Starts `program`, kills it at moments that follow from `seed`, and looks after each kill whether all that was
/// confirmed is there and the file is sound. Every other folder begins with `old`, a logbook of the first schema.
///
/// # Panics
/// When anything confirmed is missing or changed, or a file is damaged.
#[must_use]
pub fn kill(program: &Path, kills: u32, seed: u64, old: &Path) -> Tally {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let mut tally = Tally::default();
    let mut folder = tempfile::tempdir().unwrap();
    let mut confirmed: BTreeSet<String> = BTreeSet::new();
    let mut migrated = false;
    for run in 0..kills {
        let is_first = run % KILLS_A_FOLDER == 0;
        if is_first {
            folder = tempfile::tempdir().unwrap();
            confirmed.clear();
            migrated = (run / KILLS_A_FOLDER) % 2 == 1;
            if migrated {
                std::fs::copy(old, folder.path().join(Logbook::FILE_NAME)).unwrap();
            }
        }
        // Some while it opens, most of them somewhere on the day.
        let (after, wait_us) = if is_first || random.random_bool(0.2) {
            // Machines differ in how long that takes: as likely in each doubling from 0.1 to 100 ms.
            (0, random.random_range(100..200) << random.random_range(0..10))
        } else {
            (random.random_range(1..60), random.random_range(0..15_000))
        };
        let said = killed(program, folder.path(), run, after, Duration::from_micros(wait_us));
        tally.kills += 1;
        tally.while_opening += u32::from(said.is_empty());
        tally.confirmed += said.len();
        confirmed.extend(said);
        tally.backups = tally.backups.max(look_at_backups(folder.path()));
        tally.unconfirmed += look(folder.path(), run, &confirmed, migrated);
    }
    tally
}

/// The identifiers that the program confirmed before it was killed, `wait` after its confirmation number `after`.
fn killed(program: &Path, folder: &Path, run: u32, after: usize, wait: Duration) -> Vec<String> {
    let mut child: Child = Command::new(program)
        .args([WRITE, folder.to_str().unwrap(), &run.to_string()])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap());
    let (tell, heard) = mpsc::channel();
    let reader = std::thread::spawn(move || {
        let mut line = String::new();
        while lines.read_line(&mut line).unwrap() > 0 {
            // A line cut off by the kill confirms nothing.
            if let Some(id) = line.strip_suffix('\n') {
                tell.send(id.to_owned()).unwrap();
            }
            line.clear();
        }
    });
    let mut said = Vec::new();
    while said.len() < after {
        match heard.recv_timeout(PATIENCE) {
            Ok(id) => said.push(id),
            Err(error) => {
                let _ = child.kill();
                panic!(
                    "run {run}: {error} after {} confirmations: {:?}",
                    said.len(),
                    child.wait_with_output()
                );
            }
        }
    }
    std::thread::sleep(wait);
    child.kill().unwrap();
    let output = child.wait_with_output().unwrap();
    assert_eq!(String::from_utf8_lossy(&output.stderr), "", "run {run}: the writer had something to say");
    reader.join().unwrap();
    said.extend(heard);
    said
}

/// Opens the logbook that was left behind; facts that are there without having been confirmed.
fn look(folder: &Path, last: u32, confirmed: &BTreeSet<String>, migrated: bool) -> usize {
    let mut book = Logbook::open(folder, day(last)).unwrap();
    assert_eq!(book.check().unwrap(), [], "after run {last}");
    let mut written: BTreeMap<String, Fact> = BTreeMap::new();
    for run in last - last % KILLS_A_FOLDER..=last {
        for fact in (0..60).flat_map(|number| flight(run, number)) {
            written.insert(fact.id.clone(), fact);
        }
    }
    for id in confirmed {
        let found = book.fact(id).unwrap();
        assert!(found.is_some(), "run {last}: {id} was confirmed and is gone");
        assert_eq!(found.as_ref(), written.get(id), "run {last}: {id} is not what was written");
    }
    let mut unconfirmed = 0;
    for fact in written.values() {
        if !confirmed.contains(&fact.id)
            && let Some(found) = book.fact(&fact.id).unwrap()
        {
            assert_eq!(&found, fact, "run {last}: {} is not what was written", fact.id);
            unconfirmed += usize::from(fact.id.starts_with(&format!("{last:05}-"))); // earlier runs were counted
        }
    }
    if migrated {
        assert_eq!(book.facts_of("flight", "heron-lost").unwrap().len(), 7, "run {last}: facts from before");
    }
    unconfirmed
}

/// Opens the logbook as if there were space again: everything of `run` that was confirmed is there as it was written,
/// the file is sound, and the next fact can be noted.
///
/// # Panics
/// When it is not so.
pub fn confirmed_is_kept<'a>(folder: &Path, run: u32, confirmed: impl Iterator<Item = &'a str>) {
    look(folder, run, &confirmed.map(str::to_owned).collect(), false);
    let mut book = Logbook::open(folder, day(run)).unwrap();
    book.add(&flight(run + 1, 0)[0]).unwrap();
}

/// Every backup that has its name is whole; how many there are.
fn look_at_backups(folder: &Path) -> usize {
    let entries = std::fs::read_dir(folder.join("backups")).into_iter().flatten();
    let backups: Vec<PathBuf> = entries
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|it| it == "sqlite"))
        .collect();
    for backup in &backups {
        let apart = tempfile::tempdir().unwrap();
        std::fs::copy(backup, apart.path().join(Logbook::FILE_NAME)).unwrap();
        let wrong = Logbook::open(apart.path(), day(0)).unwrap().check().unwrap();
        assert_eq!(wrong, [], "{}", backup.display());
    }
    backups.len()
}
