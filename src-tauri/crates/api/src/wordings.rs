//! Whether a piece of evidence is another wording of something that was noted before.

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

/// What each of `pieces` is beside the evidence `noted` of its flight.
///
/// Two equal pieces are two: each one given is matched with one that is noted, whether that still counts or not. A piece
/// that is not noted corrects one that is not among `pieces`, if both say something of the same: the find of a part, a track
/// that went on, a sighting of one moment by one observer. What was taken back does not come back with the same words.
pub(crate) fn sorted_out(pieces: &[Evidence], noted: &[Word]) -> Vec<Wording> {
    let noted: Vec<(&Word, Evidence)> =
        noted.iter().filter_map(|word| Some((word, read(&word.fact)?))).collect();
    let mut taken = vec![false; noted.len()];
    let mut wordings = vec![Wording::New; pieces.len()];
    for (piece, wording) in pieces.iter().zip(&mut wordings) {
        let is_it = |at: &usize| !taken[*at] && noted[*at].1 == *piece;
        if let Some(at) = (0..noted.len()).find(is_it) {
            (taken[at], *wording) = (true, Wording::Known);
        }
    }
    for (piece, wording) in pieces.iter().zip(&mut wordings).filter(|row| *row.1 == Wording::New) {
        let was_taken_back =
            |at: &usize| !taken[*at] && taken_back(noted[*at].0).any(|earlier| earlier == *piece);
        let is_of_it =
            |at: &usize| !taken[*at] && !noted[*at].0.taken_back && is_another_wording(piece, &noted[*at].1);
        if let Some(at) = (0..noted.len()).find(was_taken_back) {
            (taken[at], *wording) = (true, Wording::Known);
        } else if let Some(at) = (0..noted.len()).find(is_of_it) {
            (taken[at], *wording) = (true, Wording::Corrects(noted[at].0.fact.id.clone()));
        }
    }
    wordings
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

/// Whether both say something of the same.
fn is_another_wording(new: &Evidence, old: &Evidence) -> bool {
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
