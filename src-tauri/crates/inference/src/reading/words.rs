//! What the cloud says, as sentences.

use crate::cloud::{Cloud, Draw};
use windfall_facts::{Evidence, Mode, Moment, Sentence};

/// Nearer than this it came down close to the pad, m.
const CLOSE_M: f64 = 15.0;

/// How it came down.
fn came_down(mode: Mode) -> Sentence {
    match mode {
        Mode::Opens => Sentence::ItOpened {},
        Mode::OpensLate => Sentence::ItOpenedLate {},
        Mode::Tangled => Sentence::ItTangled {},
        Mode::NoneOpened => Sentence::NothingOpened {},
        Mode::CameApart => Sentence::ItCameApart {},
        Mode::CordBroke => Sentence::TheCordBroke {},
        Mode::MotorKickedOut => Sentence::TheMotorWasKickedOut {},
        Mode::SecondStageUnlit => Sentence::TheSecondStageDidNotLight {},
        Mode::Unmodelled => Sentence::SomethingUnusual {},
    }
}

fn weighted_mean(draws: &[&Draw], value: impl Fn(&Draw) -> f64) -> f64 {
    let total: f64 = draws.iter().map(|draw| draw.weight).sum();
    draws.iter().map(|draw| draw.weight * value(draw)).sum::<f64>() / total
}

/// Why the last stage's first part is looked for there, and what that rests on.
pub(super) fn why(cloud: &Cloud, leading: (Mode, f64), part: usize) -> Vec<Sentence> {
    let own: Vec<&Draw> = cloud.draws.iter().filter(|draw| draw.mode == leading.0).collect();
    let east = weighted_mean(&own, |draw| draw.landing_m[part][0]);
    let north = weighted_mean(&own, |draw| draw.landing_m[part][1]);
    let distance_m = east.hypot(north);
    let way = if distance_m > CLOSE_M {
        Sentence::CameDownFar { distance_m, compass_deg: east.atan2(north).to_degrees() }
    } else {
        Sentence::CameDownClose {}
    };
    let why = Sentence::Why {
        how: came_down(leading.0).inside(),
        p_how: leading.1,
        apogee_m: weighted_mean(&own, |draw| draw.apogee_m),
        in_the_air_s: weighted_mean(&own, |draw| draw.landed_s),
        way: way.inside(),
    };
    vec![why, Sentence::RestsOn { facts: facts(cloud) }]
}

fn facts(cloud: &Cloud) -> Vec<Sentence> {
    let mut facts = Vec::new();
    let used: Vec<&Evidence> =
        cloud.witnesses.pieces.iter().filter_map(|piece| cloud.flight.evidence.get(piece.index)).collect();
    let mut say = |is: fn(&Evidence) -> bool, sentence: fn(usize) -> Sentence| {
        let mut seen: Vec<*const Evidence> =
            used.iter().filter(|it| is(it)).map(|it| core::ptr::from_ref(*it)).collect();
        seen.dedup();
        if !seen.is_empty() {
            facts.push(sentence(seen.len()));
        }
    };
    say(|it| matches!(it, Evidence::Sighting(_)), |count| Sentence::Sightings { count });
    say(|it| matches!(it, Evidence::Track(_)), |count| Sentence::Tracks { count });
    say(|it| matches!(it, Evidence::Altimeter(_)), |count| Sentence::AltimeterReadings { count });
    say(|it| matches!(it, Evidence::Find(_)), |count| Sentence::PartsFound { count });
    say(|it| matches!(it, Evidence::Saw(_)), |count| Sentence::WordsOnWhatItDid { count });
    say(|it| matches!(it, Evidence::Area(_)), |count| Sentence::WordsOnWhereItIs { count });
    facts.push(match cloud.model.wind.used {
        0 => Sentence::NoWindReadingAtAll {},
        count => Sentence::WindReadings { count },
    });
    facts
}

/// What looks wrong with a piece of evidence.
pub(super) fn surprise(evidence: &Evidence) -> Sentence {
    match evidence {
        Evidence::Sighting(it) => {
            let what = match it.moment {
                Moment::Apogee => Sentence::OfTheHighestPoint {},
                Moment::Deployment => Sentence::OfTheEjection {},
                Moment::Descent => Sentence::OnTheWayDown {},
                Moment::Lost => Sentence::WhenLastSeen {},
                Moment::Landed => Sentence::OfTheLanding {},
            };
            Sentence::SightingOff {
                what: what.inside(),
                by: it.observer.clone().map(|observer| Sentence::ByObserver { observer }.inside()),
                when: it.t_s.map(|t_s| Sentence::AtTime { t_s }.inside()),
            }
        }
        Evidence::Track(_) => Sentence::TrackOff {},
        Evidence::Altimeter(_) => Sentence::AltimeterOff {},
        Evidence::Find(it) => Sentence::FindOff { part: it.part.clone() },
        Evidence::Saw(_) => Sentence::SawOff {},
        Evidence::Area(_) => Sentence::AreaOff {},
        Evidence::Sweep(_) | Evidence::Beacon(_) => Sentence::ThisOff {},
    }
}
