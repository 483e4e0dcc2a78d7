//! Plain speech for what the cloud says.

use crate::cloud::{Cloud, Draw};
use windfall_facts::{Evidence, Mode, Moment};

/// How it came down, as the middle of a sentence.
pub(super) fn came_down(mode: Mode) -> &'static str {
    match mode {
        Mode::Opens => "its recovery device opened as planned",
        Mode::OpensLate => "its recovery device opened late",
        Mode::Tangled => "its recovery device came out tangled",
        Mode::NoneOpened => "nothing opened and it fell nose first",
        Mode::CameApart => "it came apart",
        Mode::CordBroke => "the cord broke",
        Mode::MotorKickedOut => "the motor was kicked out and it tumbled",
        Mode::SecondStageUnlit => "the second stage did not light",
        Mode::Unmodelled => "something unusual happened",
    }
}

/// Eight points of the compass, from a true direction in degrees.
pub(super) fn compass(degrees: f64) -> &'static str {
    const POINTS: [&str; 8] =
        ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"];
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "one of eight")]
    let index = ((degrees + 22.5).rem_euclid(360.0) / 45.0) as usize;
    POINTS[index.min(7)]
}

fn weighted_mean(draws: &[&Draw], value: impl Fn(&Draw) -> f64) -> f64 {
    let total: f64 = draws.iter().map(|draw| draw.weight).sum();
    draws.iter().map(|draw| draw.weight * value(draw)).sum::<f64>() / total
}

/// One sentence that says why the last stage's first part is looked for there, and one on what that rests on.
pub(super) fn why(cloud: &Cloud, leading: (Mode, f64), part: usize) -> String {
    let own: Vec<&Draw> = cloud.draws.iter().filter(|draw| draw.mode == leading.0).collect();
    let east = weighted_mean(&own, |draw| draw.landing_m[part][0]);
    let north = weighted_mean(&own, |draw| draw.landing_m[part][1]);
    let apogee_m = weighted_mean(&own, |draw| draw.apogee_m);
    let landed_s = weighted_mean(&own, |draw| draw.landed_s);
    let direction = compass(east.atan2(north).to_degrees());
    let distance_m = east.hypot(north);
    let way = if distance_m > 15.0 {
        format!("and came down about {} m {direction} of the pad", rounded(distance_m))
    } else {
        "and came down close to the pad".to_owned()
    };
    format!(
        "Most likely {} ({:.0} %): it rose to about {} m, was {:.0} s in the air, {way}. This rests on {}.",
        came_down(leading.0),
        100.0 * leading.1,
        rounded(apogee_m),
        landed_s,
        rests_on(cloud)
    )
}

fn rounded(metres: f64) -> f64 {
    let unit = if metres < 50.0 { 5.0 } else { 10.0 };
    (metres / unit).round() * unit
}

fn rests_on(cloud: &Cloud) -> String {
    let mut facts = Vec::new();
    let used: Vec<&Evidence> =
        cloud.witnesses.pieces.iter().filter_map(|piece| cloud.flight.evidence.get(piece.index)).collect();
    let count = |is: fn(&Evidence) -> bool| {
        let mut seen: Vec<*const Evidence> =
            used.iter().filter(|it| is(it)).map(|it| core::ptr::from_ref(*it)).collect();
        seen.dedup();
        seen.len()
    };
    let mut say = |number: usize, one: &str, many: &str| match number {
        0 => {}
        1 => facts.push(format!("1 {one}")),
        _ => facts.push(format!("{number} {many}")),
    };
    say(count(|it| matches!(it, Evidence::Sighting(_))), "sighting", "sightings");
    say(count(|it| matches!(it, Evidence::Track(_))), "track", "tracks");
    say(count(|it| matches!(it, Evidence::Altimeter(_))), "altimeter reading", "altimeter readings");
    say(count(|it| matches!(it, Evidence::Find(_))), "part found", "parts found");
    say(count(|it| matches!(it, Evidence::Saw(_))), "word on what it did", "words on what it did");
    say(count(|it| matches!(it, Evidence::Area(_))), "word on where it is", "words on where it is");
    let readings = cloud.model.wind.used;
    say(readings, "wind reading", "wind readings");
    if readings == 0 {
        facts.push("no wind reading at all".to_owned());
    }
    match facts.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        Some((last, _)) => last.clone(),
        None => "the rocket alone".to_owned(),
    }
}

/// What looks wrong with a piece of evidence.
pub(super) fn surprise(evidence: &Evidence) -> String {
    match evidence {
        Evidence::Sighting(it) => {
            let who = it.observer.as_ref().map_or_else(String::new, |name| format!(" by {name}"));
            let when = it.t_s.map_or_else(String::new, |t_s| format!(" at {t_s:.0} s"));
            let what = match it.moment {
                Moment::Apogee => "of the highest point",
                Moment::Deployment => "of the ejection",
                Moment::Descent => "on the way down",
                Moment::Lost => "when last seen",
                Moment::Landed => "of the landing",
            };
            format!(
                "The sighting {what}{who}{when} does not fit the rest: perhaps it was something else, or the time or compass was off."
            )
        }
        Evidence::Track(_) => "The track does not fit the rest: perhaps it followed something else.".into(),
        Evidence::Altimeter(_) => {
            "The altimeter does not fit the rest: another flight, or feet instead of metres?".into()
        }
        Evidence::Find(it) => {
            format!(
                "Where \"{}\" was found does not fit the rest: is it this rocket's, and is the place right?",
                it.part
            )
        }
        Evidence::Saw(_) => "What it was seen to do does not fit the rest.".into(),
        Evidence::Area(_) => "The area named does not fit the rest.".into(),
        Evidence::Sweep(_) | Evidence::Beacon(_) => "This does not fit the rest.".into(),
    }
}
