//! Which wording counts, when facts about one thing correct each other.

use crate::{SET_ASIDE, UNDO};
use std::collections::HashMap;

/// What the rule looks at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Line {
    pub(crate) id: String,
    pub(crate) kind: String,
    pub(crate) replaces: Option<String>,
}

/// A first word and all that was said about it later; numbers are places in the lines given.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Standing {
    /// The first word.
    pub(crate) root: usize,
    /// The wording that counts; none if the first word was taken back.
    pub(crate) current: Option<usize>,
    /// Kept but not used.
    pub(crate) set_aside: bool,
    /// Everything that was said about it, the first word first.
    pub(crate) said: Vec<usize>,
}

/// Sorts out `lines`, all facts about one thing sorted by identifier; also says which of them were taken back.
///
/// Corrections of one first word stand side by side, also corrections of corrections: of those not taken back the one
/// with the latest identifier counts. It is set aside while at least one setting aside is not taken back. A fact only
/// replaces one that sorts before it, so there are no circles; one that replaces a fact which is not here is a first
/// word itself, and nothing is lost.
pub(crate) fn sort_out(lines: &[Line]) -> (Vec<Standing>, Vec<bool>) {
    let place: HashMap<&str, usize> = lines.iter().enumerate().map(|(at, line)| (&*line.id, at)).collect();
    let target: Vec<Option<usize>> = lines
        .iter()
        .enumerate()
        .map(|(at, line)| place.get(line.replaces.as_deref()?).copied().filter(|target| *target < at))
        .collect();
    // From the last to the first: whether an undo counts is known before what it takes back is looked at.
    let mut taken_back = vec![false; lines.len()];
    for at in (0..lines.len()).rev() {
        if let (UNDO, false, Some(target)) = (&*lines[at].kind, taken_back[at], target[at]) {
            taken_back[target] = true;
        }
    }
    let mut root: Vec<usize> = Vec::new();
    let mut standings: Vec<Standing> = Vec::new();
    let mut standing_of: HashMap<usize, usize> = HashMap::new();
    for (at, line) in lines.iter().enumerate() {
        let first = target[at].map_or(at, |target| root[target]);
        root.push(first);
        let is_word = line.kind != SET_ASIDE && line.kind != UNDO;
        if first == at {
            if is_word {
                standing_of.insert(at, standings.len());
                let current = (!taken_back[at]).then_some(at);
                standings.push(Standing { root: at, current, set_aside: false, said: vec![at] });
            }
            continue;
        }
        let Some(standing) = standing_of.get(&first).map(|index| &mut standings[*index]) else { continue };
        standing.said.push(at);
        if !taken_back[at] && standing.current.is_some() {
            if is_word {
                standing.current = Some(at);
            }
            standing.set_aside |= line.kind == SET_ASIDE;
        }
    }
    (standings, taken_back)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Lines from (kind, what it replaces), identifiers 0, 1, 2 ...; the first word's standing.
    fn first(said: &[(&str, Option<usize>)]) -> Standing {
        let line = |(at, (kind, replaces)): (usize, &(&str, Option<usize>))| Line {
            id: at.to_string(),
            kind: (*kind).into(),
            replaces: replaces.map(|it| it.to_string()),
        };
        let lines: Vec<Line> = said.iter().enumerate().map(line).collect();
        sort_out(&lines).0.swap_remove(0)
    }

    const SAW: (&str, Option<usize>) = ("saw", None);

    #[test]
    fn a_correction_counts_until_it_is_taken_back() {
        assert_eq!(first(&[SAW, ("saw", Some(0))]).current, Some(1));
        assert_eq!(first(&[SAW, ("saw", Some(0)), (UNDO, Some(1))]).current, Some(0));
        assert_eq!(first(&[SAW, ("saw", Some(0)), (UNDO, Some(1)), (UNDO, Some(2))]).current, Some(1));
        assert_eq!(first(&[SAW, ("saw", Some(0)), ("saw", Some(1)), (UNDO, Some(2))]).current, Some(1));
    }

    #[test]
    fn of_two_corrections_the_later_identifier_counts_and_both_are_kept() {
        let both = first(&[SAW, ("saw", Some(0)), ("saw", Some(0))]);
        assert_eq!((both.current, both.said), (Some(2), vec![0, 1, 2]));
    }

    #[test]
    fn setting_aside_can_be_taken_back_and_outlasts_a_correction() {
        let aside = first(&[SAW, (SET_ASIDE, Some(0)), ("saw", Some(0))]);
        assert_eq!((aside.current, aside.set_aside), (Some(2), true));
        assert!(!first(&[SAW, (SET_ASIDE, Some(0)), (UNDO, Some(1))]).set_aside);
    }

    #[test]
    fn a_first_word_that_was_taken_back_does_not_count_in_any_wording() {
        let gone = first(&[SAW, ("saw", Some(0)), (UNDO, Some(0))]);
        assert_eq!(gone.current, None);
        assert_eq!(first(&[SAW, ("saw", Some(0)), (UNDO, Some(0)), (UNDO, Some(2))]).current, Some(1));
    }

    #[test]
    fn what_replaces_nothing_that_is_here_is_a_first_word() {
        assert_eq!(first(&[("saw", Some(7)), SAW]).root, 0);
        // Nor can a fact replace a later one, whatever it says.
        assert_eq!(first(&[("saw", Some(1)), ("saw", Some(0))]).current, Some(1));
    }
}
