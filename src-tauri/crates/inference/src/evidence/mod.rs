//! How likely each possible flight makes what was seen, measured and found.
//!
//! Every piece is `(1 - e) L + e L_wide` with one indicator for the whole piece, so that one wrong word cannot
//! destroy the answer; its surprise is the posterior chance of the indicator.

mod angles;
mod beyond;
mod ground;
mod instruments;

use crate::model::{Drift, Model, Story};
use crate::{LocateError, Priors};
use angles::{Columns, Sight, Trail};
pub(crate) use angles::{eye, seen_from};
use ground::{Found, Ground};
use instruments::{Instrument, Word};
use windfall_facts::{Evidence, Flight, Mode, Named, Sentence, SightingMethod};

/// What a piece of evidence speaks of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Target {
    /// A part, wherever it went.
    Part(usize),
    /// What the eye follows of a stage.
    Stage(usize),
}

impl Target {
    pub(crate) fn body(self, story: &Story) -> usize {
        match self {
            Self::Part(part) => story.part_body[part],
            Self::Stage(stage) => story.seen_body[stage],
        }
    }
}

/// One piece of evidence, ready to weigh.
#[derive(Clone, Debug)]
pub(crate) struct Piece {
    /// Index in the flight's evidence.
    pub(crate) index: usize,
    /// Logs of the chances that it is right, and that it is mistaken as a whole.
    ln_right: f64,
    ln_mistaken: f64,
    ln_wide: f64,
    law: Law,
}

#[derive(Clone, Debug)]
enum Law {
    Sight(Sight),
    Trail(Trail),
    Instrument(Instrument),
    Found(Found),
    Word(Word),
    Ground(Ground),
}

impl Piece {
    /// Log of the likelihood if the piece is what it says.
    fn ln_true(&self, mode: Mode, story: &Story, z: &[f64]) -> f64 {
        match &self.law {
            Law::Sight(it) => it.ln_likelihood(story, z),
            Law::Trail(it) => it.ln_likelihood(story, z),
            Law::Instrument(it) => it.ln_likelihood(story),
            Law::Found(it) => it.ln_likelihood(story),
            Law::Word(it) => it.ln_likelihood(mode),
            Law::Ground(it) => it.ln_likelihood(story),
        }
    }

    /// Log likelihood if the piece is what it says, and if it is mistaken; a word and an area have their doubt in
    /// their odds and are never mistaken as a whole.
    fn weigh(&self, mode: Mode, story: &Story, z: &[f64]) -> Scale {
        let ln_true = self.ln_true(mode, story, z);
        match &self.law {
            Law::Word(it) => Scale { ln_true, ln_wide: None, denied: it.denies(mode) },
            Law::Ground(it) => Scale { ln_true, ln_wide: None, denied: it.denies(story) },
            _ => Scale { ln_true, ln_wide: Some(self.ln_wide), denied: false },
        }
    }

    /// Log likelihood: right, or mistaken as a whole.
    fn ln_likelihood(&self, scale: &Scale) -> f64 {
        scale.ln_wide.map_or(scale.ln_true, |ln_wide| {
            ln_sum(self.ln_right + scale.ln_true, self.ln_mistaken + ln_wide)
        })
    }

    /// Chance, for this possible flight, that the piece is mistaken.
    fn p_mistaken(&self, scale: &Scale) -> f64 {
        // A word or area is mistaken in every possible flight that it does not describe.
        scale.ln_wide.map_or(f64::from(u8::from(scale.denied)), |ln_wide| {
            (self.ln_mistaken + ln_wide - self.ln_likelihood(scale)).exp().clamp(0.0, 1.0)
        })
    }

    /// Takes the piece into the linear block, if it has a linear form and, `doubting`, is likelier right than mistaken.
    fn take_into(&self, drift: &mut Drift, story: &mut Story, z: &[f64], columns: Columns, doubting: bool) {
        drift.mark();
        let rest = match &self.law {
            Law::Sight(it) => it.take_into(drift, story, z, columns),
            Law::Trail(it) => it.take_into(drift, story, z, columns),
            Law::Found(it) => it.take_into(drift, story),
            Law::Instrument(_) | Law::Word(_) | Law::Ground(_) => None,
        };
        let right = self.ln_right + drift.since_mark() + rest.unwrap_or(0.0);
        if doubting && rest.is_some() && right < self.ln_mistaken + self.ln_wide {
            drift.back_to_mark();
        }
    }
}

/// What one piece of evidence makes of one possible flight.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Scale {
    ln_true: f64,
    ln_wide: Option<f64>,
    denied: bool,
}

/// All the evidence on one flight.
#[derive(Clone, Debug)]
pub(crate) struct Witnesses {
    pub(crate) pieces: Vec<Piece>,
    /// What was not used, in words.
    pub(crate) notes: Vec<Sentence>,
}

/// One way to take the evidence.
#[derive(Clone, Debug)]
pub(crate) struct Case {
    pub(crate) witnesses: Witnesses,
    /// Log of its chance, times the likelihood of what it leaves out.
    pub(crate) ln_chance: f64,
    /// Places of the pieces that are left out, for they are mistaken.
    mistaken: Vec<usize>,
}

/// No flight has more of them.
pub(crate) const CASES: u64 = 4;

impl Case {
    /// Whether a piece is mistaken in it.
    pub(crate) fn is_doubted(&self) -> bool {
        !self.mistaken.is_empty()
    }

    /// Chance of each piece, for one possible flight, that it is mistaken.
    pub(crate) fn p_mistaken(&self, scales: &[Scale]) -> Vec<f64> {
        let mut chances = self.witnesses.p_mistaken(scales);
        for slot in &self.mistaken {
            chances.insert(*slot, 1.0);
        }
        chances
    }

    /// The piece in a place is what it says; it is mistaken.
    fn split(&self, slot: usize) -> [Self; 2] {
        let at = slot - self.mistaken.iter().filter(|out| **out < slot).count();
        let (mut right, mut wrong) = (self.clone(), self.clone());
        let piece = &mut right.witnesses.pieces[at];
        right.ln_chance += core::mem::replace(&mut piece.ln_right, 0.0);
        let ln_mistaken = core::mem::replace(&mut piece.ln_mistaken, f64::NEG_INFINITY);
        wrong.ln_chance += ln_mistaken + piece.ln_wide;
        wrong.witnesses.pieces.remove(at);
        wrong.mistaken.push(slot);
        wrong.mistaken.sort_unstable();
        [right, wrong]
    }
}

/// Names of the observers and phones, each with coordinates of its own in the latent space.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Heads {
    observers: Vec<String>,
    phones: Vec<String>,
    /// Observers whose watch another phone started.
    elsewhere: Vec<String>,
}

impl Heads {
    pub(crate) fn of(flight: &Flight) -> Self {
        let mut heads = Self::default();
        for piece in flight.evidence.iter().filter(|piece| !piece.set_aside()) {
            let (observer, phone, timed_by) = match piece {
                Evidence::Sighting(it) => {
                    (&it.observer, (it.method == SightingMethod::Phone).then_some(&it.phone), it.timed_by)
                }
                Evidence::Track(it) => (&it.observer, Some(&it.phone), it.timed_by),
                _ => continue,
            };
            let observer = observer.clone().unwrap_or_default();
            if timed_by.is_some() && !heads.elsewhere.contains(&observer) {
                heads.elsewhere.push(observer.clone());
            }
            if let Some(phone) = phone {
                let phone = phone.clone().unwrap_or_else(|| observer.clone());
                if !heads.phones.contains(&phone) {
                    heads.phones.push(phone);
                }
            }
            if !heads.observers.contains(&observer) {
                heads.observers.push(observer);
            }
        }
        heads
    }

    /// The observers, in the order of their clocks.
    pub(crate) fn observers(&self) -> &[String] {
        &self.observers
    }

    /// Whether the clock of an observer is a watch of its own: it says too little of how fast they are to be learned from.
    pub(crate) fn is_elsewhere(&self, observer: &str) -> bool {
        self.elsewhere.iter().any(|name| name == observer)
    }

    /// The phones, in the order of their coordinates.
    pub(crate) fn phones(&self) -> &[String] {
        &self.phones
    }

    /// Coordinates needed: a clock for each observer; heading bias and elevation offset for each phone.
    pub(crate) fn coordinates(&self) -> (usize, usize) {
        (self.observers.len(), 2 * self.phones.len())
    }

    fn clock(&self, observer: Option<&str>, model: &Model) -> usize {
        model.clocks
            + self.observers.iter().position(|name| name == observer.unwrap_or_default()).unwrap_or(0)
    }

    fn heading(&self, phone: Option<&str>, observer: Option<&str>, model: &Model) -> usize {
        let name = phone.or(observer).unwrap_or_default();
        model.theta + 2 * self.phones.iter().position(|it| it == name).unwrap_or(0)
    }
}

impl Witnesses {
    pub(crate) fn of(
        flight: &Flight,
        model: &Model,
        heads: &Heads,
        priors: &Priors,
    ) -> Result<Self, LocateError> {
        let mut witnesses = Self { pieces: Vec::new(), notes: Vec::new() };
        for (index, evidence) in flight.evidence.iter().enumerate() {
            if evidence.set_aside() {
                continue;
            }
            let unknown = |part: Option<&str>| {
                let (part, parts) = (part.unwrap_or_default(), model.part_names.join(", "));
                let words = format!("`{part}` is no part of this rocket; allowed are {parts}");
                LocateError::new(format!("evidence[{index}].part"), Sentence::Untold { words })
            };
            // An eye follows what hangs from the recovery device; a hand picks up a part.
            let seen = |part: Option<&str>| match flight.named(part) {
                Some(Named::Part(part)) => Ok(Target::Part(part)),
                Some(Named::Stage(stage)) => Ok(Target::Stage(stage)),
                None => Err(unknown(part)),
            };
            let held = |part: Option<&str>| {
                flight.part_index_for(part).map(Target::Part).ok_or_else(|| unknown(part))
            };
            let sighted = priors.a("mistaken_sighting");
            let other = priors.a("mistaken_other");
            match evidence {
                Evidence::Sighting(it) => {
                    if it.downwind_deg.is_some() && it.bearing_deg.is_none() {
                        witnesses.notes.push(Sentence::DownwindUnused {});
                    }
                    let sight = Sight::of(it, seen(it.part.as_deref())?, model, heads, priors);
                    let ln_wide = sight.ln_wide();
                    witnesses.add(index, sighted, ln_wide, Law::Sight(sight));
                }
                Evidence::Track(it) => {
                    let trail = Trail::of(it, seen(it.part.as_deref())?, model, heads, priors);
                    let ln_wide = trail.ln_wide();
                    witnesses.add(index, sighted, ln_wide, Law::Trail(trail));
                }
                Evidence::Altimeter(it) => {
                    for (instrument, ln_wide) in
                        Instrument::all_of(it, held(it.part.as_deref())?, model, priors)
                    {
                        witnesses.add(index, other, ln_wide, Law::Instrument(instrument));
                    }
                }
                Evidence::Find(it) => {
                    let found = Found::of(it, held(Some(&it.part))?, model, priors);
                    witnesses.add(index, other, Found::LN_WIDE, Law::Found(found));
                }
                Evidence::Saw(it) => {
                    // Its own doubt is in the odds, so that it is never law.
                    witnesses.add(index, 0.0, 0.0, Law::Word(Word::of(it, model, priors)));
                }
                Evidence::Area(it) => match Ground::of(it, held(it.part.as_deref())?, model) {
                    Some(ground) => witnesses.add(index, 0.0, 0.0, Law::Ground(ground)),
                    None => witnesses.notes.push(Sentence::AreaUnread { piece: index + 1 }),
                },
                Evidence::Sweep(_) => witnesses.notes.push(Sentence::SearchUnused {}),
                Evidence::Beacon(_) => witnesses.notes.push(Sentence::BeaconUnused {}),
            }
        }
        Ok(witnesses)
    }

    /// The moments at which the evidence asks where bodies are.
    pub(crate) fn asks(&self, story: &Story, z: &[f64], asked: &mut Vec<(usize, f64)>) {
        asked.clear();
        for piece in &self.pieces {
            match &piece.law {
                Law::Sight(it) => it.asks(story, z, asked),
                Law::Trail(it) => it.asks(story, z, asked),
                _ => {}
            }
        }
    }

    /// Takes all evidence with a linear form into the linear block, piece by piece, each about the mean that the
    /// pieces before it have left. `z` gets the means of the phones.
    pub(crate) fn take_into(
        &self,
        drift: &mut Drift,
        story: &mut Story,
        z: &mut [f64],
        theta: usize,
        doubting: bool,
    ) {
        let columns = Columns { block: story.coordinates(), latent: theta };
        for piece in &self.pieces {
            story.carry(drift.mean());
            z[theta..].copy_from_slice(&drift.mean()[columns.block..]);
            piece.take_into(drift, story, z, columns, doubting);
        }
    }

    /// What may be the case of the longest track and of the narrowest find, each of which says so much that hardly a
    /// possible flight suits it both ways: it is what it says; it is mistaken as a whole. Just this evidence if there is
    /// neither.
    pub(crate) fn cases(&self) -> Vec<Case> {
        let longest = |piece: &Piece| match &piece.law {
            Law::Trail(it) if it.blocks() > 0 => Some(it.blocks() as f64),
            _ => None,
        };
        let narrowest = |piece: &Piece| match &piece.law {
            Law::Found(it) => Some(-it.sigma_m),
            _ => None,
        };
        let mut cases = vec![Case { witnesses: self.clone(), ln_chance: 0.0, mistaken: Vec::new() }];
        for slot in [self.most(longest), self.most(narrowest)].into_iter().flatten() {
            cases = cases.iter().flat_map(|case| case.split(slot)).collect();
        }
        cases
    }

    /// Place of the piece that has most of something, among those that have it.
    fn most(&self, of: impl Fn(&Piece) -> Option<f64>) -> Option<usize> {
        let having = self.pieces.iter().enumerate().filter_map(|(slot, piece)| Some((slot, of(piece)?)));
        having.max_by(|a, b| a.1.total_cmp(&b.1)).map(|it| it.0)
    }

    fn add(&mut self, index: usize, p_mistaken: f64, ln_wide: f64, law: Law) {
        let (ln_right, ln_mistaken) = ((1.0 - p_mistaken).ln(), p_mistaken.ln());
        self.pieces.push(Piece { index, ln_right, ln_mistaken, ln_wide, law });
    }

    /// What the evidence makes of heights and times alone, each over its error: a vector whose changes show which
    /// coordinates the evidence speaks of, beside the innovations of the linear block.
    pub(crate) fn residuals(&self, story: &Story, z: &[f64], out: &mut Vec<f64>) {
        for piece in &self.pieces {
            match &piece.law {
                Law::Sight(it) => it.residuals(story, z, out),
                Law::Trail(it) => it.residuals(story, z, out),
                Law::Instrument(it) => out.push(it.residual(story)),
                Law::Ground(it) => out.extend(it.residuals(story)),
                Law::Found(_) | Law::Word(_) => {}
            }
        }
    }

    /// Log odds that witnesses' words alone put on a mode.
    pub(crate) fn ln_of_words(&self, mode: Mode) -> f64 {
        let word = |piece: &Piece| if let Law::Word(it) = &piece.law { it.ln_likelihood(mode) } else { 0.0 };
        self.pieces.iter().map(word).sum()
    }

    /// What each piece makes of one possible flight.
    pub(crate) fn weigh(&self, mode: Mode, story: &Story, z: &[f64], scales: &mut Vec<Scale>) {
        scales.clear();
        scales.extend(self.pieces.iter().map(|piece| piece.weigh(mode, story, z)));
    }

    /// Log likelihood of everything known. Never NaN: a possible flight outside the model's domain has likelihood zero.
    pub(crate) fn ln_likelihood(&self, scales: &[Scale]) -> f64 {
        let sum: f64 = self.pieces.iter().zip(scales).map(|(piece, scale)| piece.ln_likelihood(scale)).sum();
        if sum.is_nan() { f64::NEG_INFINITY } else { sum }
    }

    /// How far a possible flight is from what the pieces say, counted where they must be mistaken in it: zero if none,
    /// growing slowly. There the likelihood is level and shows no way.
    pub(crate) fn astray(&self, scales: &[Scale]) -> f64 {
        let below = |(piece, scale): (&Piece, &Scale)| {
            if piece.ln_mistaken == f64::NEG_INFINITY {
                return 0.0; // there the likelihood shows the way everywhere
            }
            let breadth = if let Law::Trail(it) = &piece.law { it.breadth() } else { 1.0 };
            let depth = scale.ln_wide.map_or(0.0, |ln_wide| (ln_wide - scale.ln_true).clamp(0.0, 1e6));
            breadth * (depth / breadth).ln_1p()
        };
        self.pieces.iter().zip(scales).map(below).sum()
    }

    fn p_mistaken(&self, scales: &[Scale]) -> Vec<f64> {
        self.pieces.iter().zip(scales).map(|(piece, scale)| piece.p_mistaken(scale)).collect()
    }
}

/// `ln(e^a + e^b)`.
pub(crate) fn ln_sum(a: f64, b: f64) -> f64 {
    let (high, low) = if a > b { (a, b) } else { (b, a) };
    // What is e^-40 of the other is nothing in a double; two nothings are nothing.
    if high == f64::NEG_INFINITY || high - low > 40.0 { high } else { high + (low - high).exp().ln_1p() }
}

/// `ln` of the sum of the exponentials.
pub(crate) fn ln_sum_of<const N: usize>(terms: [f64; N]) -> f64 {
    let high = terms.into_iter().fold(f64::NEG_INFINITY, f64::max);
    if high == f64::NEG_INFINITY {
        return high;
    }
    high + terms.into_iter().map(|term| (term - high).exp()).sum::<f64>().ln()
}
