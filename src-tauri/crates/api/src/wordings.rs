//! Whether a piece of evidence is another wording of something that was noted before.

use serde_json::Value;
use std::collections::HashSet;
use windfall_facts::Evidence;
use windfall_logbook::{UNDO, Word};

/// What is to be done with a piece of evidence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Wording {
    /// It was noted before: nothing.
    Known,
    /// It corrects the fact with this identifier.
    Corrects(String),
    /// It is something else.
    New,
}

/// What a piece of evidence is known by, if `word` is what the logbook has of it: the identifier it was told under, else that
/// of its first word.
pub(crate) fn identity(word: &Word) -> &str {
    word.fact.json["id"].as_str().unwrap_or_else(|| first(word))
}

/// Identifier of the first word.
fn first(word: &Word) -> &str {
    word.history.iter().map(|it| &*it.id).fold(&word.fact.id, |first, id| first.min(id))
}

/// What a piece is beside the one that stands at a place among those noted, if the two are about the same.
type Rule<'a> = &'a dyn Fn(&Evidence, usize) -> Option<Wording>;

/// What each of `pieces` is beside the evidence `noted` of its flight.
///
/// Two equal pieces are two: each one given is matched with one that is noted, whether that still counts or not. What was
/// taken back does not come back with the same words. A piece under the identifier of one that is noted corrects it. One
/// without corrects one that is not among `pieces`, if both say something of the same (the find of a part, a track that went
/// on, a sighting of one moment by one observer), or if they differ in nothing but one word or place.
pub(crate) fn sorted_out(pieces: &[Evidence], noted: &[Word]) -> Vec<Wording> {
    let noted: Vec<(&Word, Evidence)> =
        noted.iter().filter_map(|word| Some((word, read(&word.fact)?))).collect();
    let mut taken = vec![false; noted.len()];
    let mut wordings = vec![Wording::New; pieces.len()];
    let is_under = |piece: &Evidence, at: usize| {
        piece.id().is_some_and(|id| [identity(noted[at].0), first(noted[at].0)].contains(&id))
    };
    // Each of these goes through all pieces before the next does: the closest match first.
    let rules: [Rule<'_>; 6] = [
        &|piece, at| (is_under(piece, at) && noted[at].1.says_what(piece)).then_some(Wording::Known),
        &|piece, at| {
            let other = piece.id().is_some() && noted[at].1.id().is_some();
            (!other && noted[at].1.says_what(piece)).then_some(Wording::Known)
        },
        &|piece, at| {
            let is_it = |earlier: Evidence| earlier.says_what(piece);
            taken_back(noted[at].0).any(is_it).then_some(Wording::Known)
        },
        &|piece, at| is_under(piece, at).then(|| corrects(noted[at].0)).flatten(),
        &|piece, at| is_another_wording(piece, &noted[at].1).then(|| corrects(noted[at].0)).flatten(),
        &|piece, at| differ_by_a_word(piece, &noted[at].1).then(|| corrects(noted[at].0)).flatten(),
    ];
    for rule in rules {
        for (piece, wording) in pieces.iter().zip(&mut wordings).filter(|row| *row.1 == Wording::New) {
            let found = (0..noted.len()).filter(|at| !taken[*at]).find_map(|at| Some((at, rule(piece, at)?)));
            if let Some((at, is)) = found {
                (taken[at], *wording) = (true, is);
            }
        }
    }
    wordings
}

fn corrects(word: &Word) -> Option<Wording> {
    (!word.taken_back).then(|| Wording::Corrects(word.fact.id.clone()))
}

/// Wordings of it that were taken back.
fn taken_back(word: &Word) -> impl Iterator<Item = Evidence> {
    // The latest first: whether an undo counts is known before what it takes back is looked at.
    let mut gone: HashSet<&str> = HashSet::new();
    let mut wordings = Vec::new();
    let mut all: Vec<_> = word.history.iter().chain([&word.fact]).collect();
    all.sort_by(|a, b| b.id.cmp(&a.id));
    for fact in all {
        if gone.contains(&*fact.id) {
            wordings.extend(read(fact));
        } else if fact.kind == UNDO {
            gone.extend(fact.replaces.as_deref());
        }
    }
    wordings.into_iter()
}

fn read(fact: &windfall_logbook::Fact) -> Option<Evidence> {
    let mut json = fact.json.clone();
    json.as_object_mut()?.insert("kind".into(), fact.kind.clone().into());
    serde_json::from_value(json).ok()
}

/// Whether they are what somebody saw or measured, and differ in nothing but one thing that is said: who saw it, when, from
/// where.
fn differ_by_a_word(new: &Evidence, old: &Evidence) -> bool {
    let is_seen =
        |it: &Evidence| matches!(it, Evidence::Sighting(_) | Evidence::Track(_) | Evidence::Altimeter(_));
    if new.id().is_some() && old.id().is_some() || !is_seen(new) || !is_seen(old) {
        return false;
    }
    let said = |it: &Evidence| serde_json::to_value(it.clone().called(None)).unwrap_or_default();
    let (Value::Object(new), Value::Object(old)) = (said(new), said(old)) else { return false };
    let differ = new.iter().filter(|(key, value)| old.get(*key) != Some(value)).count();
    new["kind"] == old["kind"] && differ <= 1
}

/// Whether both say something of the same. Pieces under two identifiers do not.
fn is_another_wording(new: &Evidence, old: &Evidence) -> bool {
    if new.id().is_some() && old.id().is_some() {
        return false;
    }
    match (new, old) {
        (Evidence::Find(a), Evidence::Find(b)) => a.part == b.part,
        (Evidence::Saw(_), Evidence::Saw(_)) => true,
        (Evidence::Altimeter(a), Evidence::Altimeter(b)) => a.part == b.part,
        (Evidence::Sighting(a), Evidence::Sighting(b)) => {
            (&a.part, a.moment, &a.from, &a.observer, &a.phone, a.method)
                == (&b.part, b.moment, &b.from, &b.observer, &b.phone, b.method)
        }
        // Of the same phone, begun with the same sample.
        (Evidence::Track(a), Evidence::Track(b)) => {
            (&a.part, &a.from, &a.observer, &a.phone) == (&b.part, &b.from, &b.observer, &b.phone)
                && (a.samples.first() == b.samples.first() || b.samples.is_empty())
        }
        // The same walk, gone on or judged anew.
        (Evidence::Sweep(a), Evidence::Sweep(b)) => a.part == b.part && a.path.starts_with(&b.path),
        (Evidence::Area(a), Evidence::Area(b)) => a.part == b.part && a.geometry == b.geometry,
        (Evidence::Beacon(a), Evidence::Beacon(b)) => a.part == b.part && a.from == b.from,
        _ => false,
    }
}
