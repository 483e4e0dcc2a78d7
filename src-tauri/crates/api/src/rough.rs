//! Whether an answer is rough: the one verdict that headlines, maps and terminals go by.

use windfall_facts::{Answer, Evidence, Flight, Mend, PartAnswer, Region, Rough, Sentence};

/// An area longer than this is no place to start a walk in: three times a usual field, a walk of a quarter of an hour
/// from end to end. Judgement.
const LONG_M: f64 = 1000.0;
/// The area that counts: nine in ten.
const MOST: f64 = 0.9;
/// A missing fact that stands behind less of the doubt than this helps less than a second direction: judgement.
const WORTH_TELLING: f64 = 0.25;
/// Length of a degree of a great circle, near enough for a verdict, m.
const M_PER_DEG: f64 = 111_200.0;

/// Says of every part that nobody has in hand why its place is rough, if it is.
pub(crate) fn tell(flight: &Flight, answer: &mut Answer) {
    let of_all = of_all(flight, answer);
    let help = answer.said.would_help.clone();
    let pieces = || flight.evidence.iter().filter(|piece| !piece.set_aside());
    for part in &mut answer.parts {
        let is_found = pieces().any(|piece| matches!(piece, Evidence::Find(it) if it.part == part.part));
        part.rough = if is_found { None } else { of_all.clone().or_else(|| wide(part, help.as_ref())) };
    }
}

/// What makes the places of all parts rough, the gravest first.
fn of_all(flight: &Flight, answer: &Answer) -> Option<Rough> {
    let warned = |wanted: fn(&Sentence) -> bool| answer.said.warnings.iter().any(wanted);
    let again = |why| Some(Rough { why, next: Sentence::LookAgain {}, by: Mend::Tell });
    let pieces = || flight.evidence.iter().filter(|piece| !piece.set_aside());
    if warned(|it| matches!(it, Sentence::ContradictsEverything {})) {
        return again(Sentence::RoughContradicted {});
    }
    if warned(|it| matches!(it, Sentence::TooFewDraws { .. })) {
        return again(Sentence::RoughHardlyFits {});
    }
    // One odd piece among others is borne; where all of them or several are odd there is nothing to hold on to.
    let odd = answer.surprises.len();
    if odd > 1 || odd > 0 && odd == pieces().count() {
        return again(Sentence::RoughAtOdds {});
    }
    let tells_a_place = |piece: &Evidence| match piece {
        Evidence::Sighting(_) | Evidence::Track(_) | Evidence::Find(_) => true,
        Evidence::Area(it) => it.inside,
        Evidence::Altimeter(_) | Evidence::Saw(_) | Evidence::Sweep(_) | Evidence::Beacon(_) => false,
    };
    if pieces().any(tells_a_place) {
        return None;
    }
    let is_motor_known = flight.rocket.stages.last().is_some_and(|stage| stage.motor.is_some());
    let is_wind_known = !warned(|it| matches!(it, Sentence::NoWindReading {}));
    let known = match (is_motor_known, is_wind_known) {
        (true, true) => Sentence::MotorAndWindKnown {},
        (true, false) => Sentence::MotorKnown {},
        (false, true) => Sentence::WindKnown {},
        (false, false) => Sentence::NeitherKnown {},
    };
    let why = Sentence::RoughUnseen { known: known.inside() };
    Some(Rough { why, next: Sentence::TellWhereSeen {}, by: Mend::Ask })
}

/// An area far larger than a field; the missing fact that shrinks it most comes first, else somebody else's word.
fn wide(part: &PartAnswer, help: Option<&Sentence>) -> Option<Rough> {
    let help = help.filter(|it| matches!(it, Sentence::WouldHelp { share, .. } if *share >= WORTH_TELLING));
    let long_m = part.regions.iter().find(|region| region.probability >= MOST).map(length_m)?;
    (long_m > LONG_M).then(|| Rough {
        why: Sentence::RoughWide { long_m },
        next: help.cloned().unwrap_or(Sentence::AskAround {}),
        by: if help.is_some() { Mend::Tell } else { Mend::Ask },
    })
}

/// From corner to corner of the box around an area, m.
fn length_m(region: &Region) -> f64 {
    let points = region.geometry["coordinates"].as_array().into_iter().flatten().flat_map(rings).flatten();
    let mut sides: Option<[[f64; 2]; 2]> = None;
    for point in points {
        let [Some(lon), Some(lat)] = [point[0].as_f64(), point[1].as_f64()] else { continue };
        let [low, high] = sides.get_or_insert([[lon, lat]; 2]);
        *low = [low[0].min(lon), low[1].min(lat)];
        *high = [high[0].max(lon), high[1].max(lat)];
    }
    let Some([low, high]) = sides else { return 0.0 };
    let middle = f64::midpoint(low[1], high[1]).to_radians();
    M_PER_DEG * ((high[0] - low[0]) * middle.cos()).hypot(high[1] - low[1])
}

/// The rings of a polygon, each as its points.
fn rings(polygon: &serde_json::Value) -> impl Iterator<Item = &Vec<serde_json::Value>> {
    polygon.as_array().into_iter().flatten().filter_map(serde_json::Value::as_array)
}

#[cfg(test)]
mod tests {
    use super::length_m;
    use crate::call::tests::called;
    use crate::{Api, Settings};
    use serde_json::{Value, json};
    use windfall_facts::Region;

    fn answer(wind: &Value, evidence: &Value) -> Value {
        let api = Api::new(Settings::default());
        let flight = json!({
            "format": "windfall-flight/1", "pad": {"lat": 47.5, "lon": 17.3, "accuracy_m": 4}, "wind": wind,
            "rocket": {"stages": [{"motor": "A8-3", "dry_mass_g": 60, "recovery": {"kind": "parachute", "diameter_mm": 300}}]},
            "launch": {"at": "2026-05-02T10:00:00+02:00"}, "evidence": evidence});
        called(&api, "answer_flight", json!({"flight": flight}))
    }

    fn wind() -> Value {
        json!([{"at": "2026-05-02T09:58:00+02:00", "speed_mps": 3, "from_deg": 270, "height_m": 2}])
    }

    #[test]
    fn an_answer_from_motor_and_wind_alone_is_rough_and_asks_where_it_was_seen() {
        let rough = &answer(&wind(), &json!([]))["parts"][0]["rough"];
        assert_eq!(rough["why"], json!({"say": "rough_unseen", "known": {"say": "motor_and_wind_known"}}));
        assert_eq!((&rough["next"]["say"], &rough["by"]), (&json!("tell_where_seen"), &json!("ask")));
        let rough = &answer(&json!([]), &json!([]))["parts"][0]["rough"];
        assert_eq!(rough["why"]["known"]["say"], "motor_known");
    }

    #[test]
    fn a_sighting_that_fits_makes_it_no_longer_rough_and_neither_does_a_find() {
        let seen = json!({"kind": "sighting", "moment": "landed", "bearing_deg": 90, "elevation_deg": 1});
        assert_eq!(answer(&wind(), &json!([seen]))["parts"][0]["rough"], Value::Null);
        let find = json!({"kind": "find", "part": "rocket", "at": {"lat": 47.5, "lon": 17.302}});
        assert_eq!(answer(&wind(), &json!([find]))["parts"][0]["rough"], Value::Null);
    }

    #[test]
    fn directions_that_contradict_one_another_make_it_rough() {
        // Straight upwind, and near the ground at once: a chute that came the other way.
        let look = |bearing_deg: f64, t_s: f64| {
            json!({"kind": "sighting", "moment": "descent", "t_s": t_s,
            "bearing_deg": bearing_deg, "elevation_deg": 40})
        };
        let told = answer(
            &wind(),
            &json!([look(270.0, 20.0), look(180.0, 21.0), look(90.0, 22.0), look(0.0, 23.0)]),
        );
        let rough = &told["parts"][0]["rough"];
        assert_eq!((&rough["next"]["say"], &rough["by"]), (&json!("look_again"), &json!("tell")), "{told}");
    }

    #[test]
    fn the_length_of_an_area_is_from_corner_to_corner() {
        // 0.004 degrees of latitude are 445 m, and so are 0.008 of longitude at 60 degrees north.
        let ring = json!([[10.0, 60.0], [10.008, 60.0], [10.008, 60.004], [10.0, 60.004], [10.0, 60.0]]);
        let geometry = json!({"type": "MultiPolygon", "coordinates": [[ring]]});
        let length = length_m(&Region { probability: 0.9, area_m2: 0.0, geometry });
        assert!((length - 629.0).abs() < 2.0, "{length}");
    }
}
