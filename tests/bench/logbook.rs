//! What a logbook of ten thousand flights costs: `cargo xtask bench --logbook`.
//!
//! Figures are medians of repeated runs, milliseconds. Opening reads the file from the system's memory, not from the disk.
#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "a bench prints, and a broken one should stop")]

mod timing;

use chrono::{Days, NaiveDate, NaiveTime};
use serde_json::{Value, json};
use std::hint::black_box;
use std::path::Path;
use timing::median_ms;
use windfall_logbook::{Fact, Filter, Logbook};

const FLIGHTS: u32 = 10_000;
const ROCKETS: [&str; 5] = ["Heron", "Egret", "Whimbrel", "Siskin", "Twite"];
/// Flights written in one commit while the logbook is made.
const AT_ONCE: u32 = 500;

fn day(number: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(2001, 5, 16).unwrap() + Days::new(number.into())
}

/// The facts of one flight: the sample flight with another rocket and day, a find, an outcome and an answer of the
/// size that answers have.
fn facts(number: u32, sample: &Value, answer: &str) -> Vec<Fact> {
    let rocket = ROCKETS[number as usize % ROCKETS.len()];
    let mut ground = sample.clone();
    ground["title"] = format!("{rocket}, flight {number}").into();
    ground["rocket"]["id"] = rocket.to_lowercase().into();
    ground["rocket"]["name"] = rocket.into();
    let at = day(number / 2).and_time(NaiveTime::from_hms_opt(10 + number % 2 * 3, number % 60, 0).unwrap());
    ground["launch"]["at"] = format!("{}+02:00", at.format("%Y-%m-%dT%H:%M:%S")).into();
    let pieces = ground.as_object_mut().unwrap().remove("evidence").unwrap();
    let mut said = vec![("flight".to_owned(), ground)];
    for piece in pieces.as_array().unwrap() {
        said.push((piece["kind"].as_str().unwrap().to_owned(), piece.clone()));
    }
    let condition = if number.is_multiple_of(100) { "in the ditch, one fin chipped" } else { "dry" };
    said.push(("answer".into(), json!({ "regions": answer })));
    said.push((
        "find".into(),
        json!({"part": "rocket", "at": {"lat": 47.53, "lon": 17.28}, "condition": condition}),
    ));
    said.push(("outcome".into(), json!({"how": "opened"})));
    said.into_iter()
        .zip(0..)
        .map(|((kind, json), place)| fact(&format!("{number:06}-{place:02}"), number, &kind, json))
        .collect()
}

fn fact(id: &str, flight: u32, kind: &str, json: Value) -> Fact {
    Fact {
        id: id.into(),
        about: "flight".into(),
        name: format!("flight-{flight:05}"),
        kind: kind.into(),
        version: 1,
        replaces: None,
        json,
    }
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).filter(|word| word != "--bench").collect();
    let json = words.iter().any(|word| word == "--json");
    let answer_kb: usize = words.iter().position(|word| word == "--answer-kb").map_or(40, |at| {
        words.get(at + 1).and_then(|it| it.parse().ok()).expect("--answer-kb needs a number")
    });
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-data/flights/heron-lost.json");
    let sample: Value = serde_json::from_str(&std::fs::read_to_string(sample).unwrap()).unwrap();
    let answer = "17.286922,47.527004 ".repeat(answer_kb * 50);
    let folder = tempfile::tempdir().unwrap();
    let mut book = Logbook::open(folder.path(), day(0)).unwrap();
    let mut all = 0;
    for first in (0..FLIGHTS).step_by(AT_ONCE as usize) {
        let batch: Vec<Fact> =
            (first..first + AT_ONCE).flat_map(|number| facts(number, &sample, &answer)).collect();
        all += batch.len();
        book.add_all(&batch).unwrap();
    }
    let mut figures = Vec::new();
    let mut figure = |what: &str, ms: f64| figures.push((what.to_owned(), ms));
    drop(book);
    let later = day(20_000);
    let mut first = None;
    figure(
        "open, the first of a day",
        median_ms(1, |_| first = Some(Logbook::open(folder.path(), later).unwrap())),
    );
    let look = first.as_ref().and_then(Logbook::daily_look).unwrap();
    let looking = std::thread::spawn(move || median_ms(1, |_| assert!(look.look().unwrap().is_some())));
    let mut first = first.unwrap();
    let mut taps = Vec::new();
    while !looking.is_finished() {
        taps.push(median_ms(1, |_| {
            let tap = json!({"moment": "lost", "bearing_deg": 71});
            first.add(&fact(&format!("0-{:04}", taps.len()), 0, "sighting", tap)).unwrap();
        }));
    }
    drop(first);
    figure("looked over and copied beside it, on its own thread", looking.join().unwrap());
    figure("note a tap meanwhile, the slowest", taps.into_iter().fold(0.0, f64::max));
    figure(
        "open",
        median_ms(21, |_| {
            black_box(Logbook::open(folder.path(), later).unwrap());
        }),
    );
    let mut book = Logbook::open(folder.path(), later).unwrap();
    assert_eq!(book.daily_look(), None);
    let mut list = |what: &str, expected: usize, filter: &Filter| {
        figure(what, median_ms(21, |_| assert_eq!(book.flights(filter).unwrap().len(), expected)));
    };
    list("list all", FLIGHTS as usize, &Filter::default());
    list("filter by text", 100, &Filter { text: Some("fin CHIPPED".into()), ..Filter::default() });
    list("filter by rocket", 2000, &Filter { rocket: Some("egret".into()), ..Filter::default() });
    let (from, until) = (Some(day(1000)), Some(day(1009)));
    list("filter by ten days", 20, &Filter { from, until, ..Filter::default() });
    list(
        "all three at once",
        0,
        &Filter { text: Some("chipped".into()), rocket: Some("Egret".into()), from, until, untimed: false },
    );
    figure(
        "show one flight",
        median_ms(21, |run| {
            black_box(book.words_of("flight", &format!("flight-{run:05}")).unwrap());
        }),
    );
    figure(
        "note a tap",
        median_ms(21, |run| {
            let tap = json!({"moment": "lost", "bearing_deg": 71});
            book.add(&fact(&format!("1-{run:04}"), run, "sighting", tap)).unwrap();
        }),
    );
    figure("make the tables anew", median_ms(1, |_| book.rebuild().unwrap()));
    drop(book);
    let mb = std::fs::metadata(folder.path().join(Logbook::FILE_NAME)).unwrap().len() as f64 / 1e6;
    if json {
        let rows: Vec<Value> = figures.iter().map(|(what, ms)| json!({"what": what, "ms": ms})).collect();
        println!("{}", json!({"flights": FLIGHTS, "facts": all, "file_mb": mb, "figures": rows}));
        return;
    }
    println!("{FLIGHTS} flights, {all} facts, {mb:.0} MB");
    for (what, ms) in figures {
        println!("{what:<52} {ms:>9.2} ms");
    }
}
