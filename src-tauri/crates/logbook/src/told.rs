//! Facts and logbooks for the tests.

use crate::{Fact, Logbook, UNDO};
use chrono::NaiveDate;
use serde_json::{Value, json};
use tempfile::TempDir;

pub(crate) fn day(day: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 5, day).unwrap()
}

pub(crate) fn book() -> (TempDir, Logbook) {
    let folder = tempfile::tempdir().unwrap();
    let book = Logbook::open(folder.path(), day(16)).unwrap();
    (folder, book)
}

pub(crate) fn fact(id: &str, thing: &str, kind: &str, json: Value) -> Fact {
    let (about, name) = thing.split_once(' ').unwrap();
    Fact {
        id: id.into(),
        about: about.into(),
        name: name.into(),
        kind: kind.into(),
        version: 1,
        replaces: None,
        json,
    }
}

pub(crate) fn sighting(id: &str, flight: &str, bearing_deg: f64) -> Fact {
    fact(id, &format!("flight {flight}"), "sighting", json!({ "bearing_deg": bearing_deg }))
}

pub(crate) fn ground(id: &str, flight: &str, rocket: &str, at: &str) -> Fact {
    let said = json!({"title": format!("{rocket} over the hedge"), "rocket": {"id": rocket, "name": rocket},
        "field": {"name": "Quillmere Field"}, "launch": {"at": at}});
    fact(id, &format!("flight {flight}"), "flight", said)
}

pub(crate) fn replacing(earlier: &str, fact: Fact) -> Fact {
    Fact { replaces: Some(earlier.into()), ..fact }
}

/// A few hundred facts of all sorts in an order without plan, the same for the same seed; also corrections of
/// corrections, undos of undos and kinds that nobody knows.
pub(crate) fn day_without_plan(seed: u64, device: &str) -> Vec<Fact> {
    let mut state = seed;
    let mut below = |most: usize| {
        // Knuth's MMIX generator: good enough to leave a plan behind.
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(state >> 33).unwrap() % most
    };
    let mut facts: Vec<Fact> = Vec::new();
    for number in 0..300 {
        let id = format!("{number:04}-{device}");
        let flight = format!("flight f{}", below(6));
        let part = ["upper", "lower"][below(2)];
        let new = match below(9) {
            0 => ground(&id, &flight[7..], ["Heron", "Egret"][below(2)], "2026-05-16T10:12:30+02:00"),
            1 => fact(&id, &flight, "find", json!({"part": part, "condition": "wet"})),
            2 => fact(&id, &flight, "search", json!({"part": part, "open": below(2) == 0})),
            3 => fact(&id, &flight, "outcome", json!({"how": "tangled", "cause": "damp"})),
            4 => fact(&id, "motor C6-5", "stock", json!({"change": below(7) as i64 - 3})),
            5 => fact(&id, "field quillmere", "permission", json!({"until": "2026-09-30"})),
            6 => fact(&id, &flight, "moon_phase", json!({"phase": [below(4), "kept"]})),
            _ => sighting(&id, &flight[7..], below(360) as f64),
        };
        facts.push(match (below(3), facts.len()) {
            (0, 1..) => {
                let earlier = facts[below(facts.len())].clone();
                let kind = [UNDO, crate::SET_ASIDE, &earlier.kind][below(3)].to_owned();
                let json = if kind == earlier.kind { new.json } else { json!({}) };
                Fact { id, kind, replaces: Some(earlier.id), json, ..earlier }
            }
            _ => new,
        });
    }
    facts
}
