//! A walker on the way: how far, which way, and what lies near.

use crate::model::Model;
use crate::reading::{Obstacle, Surroundings, WALK_MPS};
use crate::{Beliefs, LocateError, Priors};
use serde::Serialize;
use windfall_facts::{Approach, Flight, HazardKind, LatLon, Sentence};
use windfall_quantities::{LocalFrame, Offset, Position};

/// Within so many metres of a road, a railway, water or a power line the way ends: judgement.
const STOP_WITHIN_M: f64 = 30.0;

/// Where a walker stands to go on from.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Walk {
    /// Where the way ends, and why there if that is short of the place walked to.
    pub approach: Approach,
    /// From there on to the place walked to, m; zero where the way leads all the way.
    pub short_m: f64,
    /// To the end of the way, m.
    pub distance_m: f64,
    /// Seconds to walk there.
    pub walk_s: f64,
    /// Degrees from true north.
    pub bearing_true_deg: f64,
    /// Degrees as a compass shows.
    pub bearing_magnetic_deg: f64,
    /// Declination at the pad, degrees, east positive.
    pub declination_deg: f64,
    /// The way lies within so many degrees to either side of the bearing a phone shows, 9 times of 10.
    pub doubt_deg: f64,
    /// Roads, railways, water and power lines so near that the way ends here; nearest first, power lines before all.
    pub stop: Vec<Near>,
    /// Whether any hazard is marked on this field at all.
    pub any_marked: bool,
    /// Straight back to where the way home leads, m, if that was asked.
    pub home_m: Option<f64>,
}

/// A hazard near the walker.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Near {
    /// What it is.
    pub kind: HazardKind,
    /// What people call it.
    pub name: Option<String>,
    /// To its nearest edge, m.
    pub distance_m: f64,
}

/// The way to a place that somebody named.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Lead {
    /// Where the straight way ends, and why there.
    pub approach: Approach,
    /// The usual ones, most urgent first.
    pub cautions: Vec<Sentence>,
    /// Declination at the pad, degrees, east positive.
    pub declination_deg: f64,
}

/// The last safe standing point on the straight way to a named place, with the cautions that an answer has. Of `flight`
/// only the ground counts.
///
/// # Errors
/// When a place is none, or the flight lies outside the model's domain.
pub fn lead(flight: &Flight, priors: &Priors, from: LatLon, to: LatLon) -> Result<Lead, LocateError> {
    let (from, to) = (placed("from", from)?, placed("to", to)?);
    let model = Model::of(flight, priors, (0, 0), &Beliefs::default())?;
    let ground = Surroundings::of(flight, &model);
    let (approach, _) = approach(&ground, &model, from, to);
    let said = approach.said.clone();
    let offset = model.frame.offset_of(to);
    let to_m = [offset.east_m, offset.north_m];
    let mut cautions: Vec<Sentence> = said.iter().cloned().collect();
    if ground.is_seen(to_m) == Some(false) {
        let compass_deg = offset.bearing().degrees();
        cautions.push(Sentence::NotLookedOver { compass_deg });
    }
    let holds = |kind| ground.obstacles.iter().any(|it| it.kind == kind && it.holds(to_m));
    if holds(HazardKind::PowerLine) {
        cautions.push(Sentence::InAPowerLine {});
    }
    if holds(HazardKind::Trees) {
        cautions.push(Sentence::InATree {});
    }
    cautions.push(Sentence::MindTheGround {});
    Ok(Lead { approach, cautions, declination_deg: model.declination.degrees() })
}

/// What is marked one way from the pad, no further than `as_far_m`, and would be hurt by a rocket or hurt who comes for it:
/// road, railway, power line, buildings, animals; nearest first. Of `flight` only the ground counts.
///
/// # Errors
/// When the flight lies outside the model's domain.
pub fn ahead(
    flight: &Flight,
    priors: &Priors,
    toward_deg: f64,
    as_far_m: f64,
) -> Result<Vec<Near>, LocateError> {
    use HazardKind::{Buildings, Livestock, PowerLine, Railway, Road};
    let model = Model::of(flight, priors, (0, 0), &Beliefs::default())?;
    let is_ahead = |it: &&Obstacle| {
        matches!(it.kind, Road | Railway | PowerLine | Buildings | Livestock)
            && it.is_ahead(toward_deg, as_far_m)
    };
    let near =
        |it: &Obstacle| Near { kind: it.kind, name: it.name.clone(), distance_m: it.distance_m([0.0; 2]) };
    let mut ahead: Vec<Near> =
        Surroundings::of(flight, &model).obstacles.iter().filter(is_ahead).map(near).collect();
    ahead.sort_by(|a, b| a.distance_m.total_cmp(&b.distance_m));
    Ok(ahead)
}

/// The last safe standing point on the straight way, and how far from there the place is, m.
fn approach(ground: &Surroundings, model: &Model, from: Position, to: Position) -> (Approach, f64) {
    let [from_m, to_m] = [from, to].map(|at| {
        let offset = model.frame.offset_of(at);
        [offset.east_m, offset.north_m]
    });
    let (stand_m, said) = ground.approach(from_m, to_m);
    let stand = model.frame.place_at(Offset { east_m: stand_m[0], north_m: stand_m[1] });
    let caution = said.as_ref().map(ToString::to_string);
    let short_m = (to_m[0] - stand_m[0]).hypot(to_m[1] - stand_m[1]);
    (Approach { lat: stand.lat_deg(), lon: stand.lon_deg(), caution, said }, short_m)
}

fn placed(field: &str, at: LatLon) -> Result<Position, LocateError> {
    Position::new(at.lat, at.lon).map_err(|error| LocateError::new(field, error))
}

/// From where a walker is to where they are going. Positions are good to a few metres only, so `accuracy_m` comes off
/// the distance to a hazard. `stops_short`: whether the way ends at the last safe standing point short of a hazard on it, as
/// seen from where the walker is now.
///
/// # Errors
/// When a place is none, or the flight lies outside the model's domain.
pub fn walk(
    flight: &Flight,
    priors: &Priors,
    from: LatLon,
    accuracy_m: f64,
    to: LatLon,
    home: Option<LatLon>,
    stops_short: bool,
) -> Result<Walk, LocateError> {
    let (from, to) = (placed("from", from)?, placed("to", to)?);
    let model = Model::of(flight, priors, (0, 0), &Beliefs::default())?;
    let home = home.map(|home| placed("home", home)).transpose()?;
    let ground = Surroundings::of(flight, &model);
    let (approach, short_m) = if stops_short {
        approach(&ground, &model, from, to)
    } else {
        (Approach { lat: to.lat_deg(), lon: to.lon_deg(), caution: None, said: None }, 0.0)
    };
    let end = if short_m > 0.0 { placed("to", LatLon { lat: approach.lat, lon: approach.lon })? } else { to };
    let way = LocalFrame::about(from).offset_of(end);
    let bearing_true_deg = way.bearing().degrees();
    let declination_deg = model.declination.degrees();
    let here = model.frame.offset_of(from);
    let mut stop: Vec<Near> = ground
        .obstacles
        .iter()
        .filter(|it| {
            matches!(
                it.kind,
                HazardKind::Road | HazardKind::Railway | HazardKind::Water | HazardKind::PowerLine
            )
        })
        .map(|it| Near {
            kind: it.kind,
            name: it.name.clone(),
            distance_m: (it.distance_m([here.east_m, here.north_m]) - accuracy_m.max(0.0)).max(0.0),
        })
        .filter(|near| near.distance_m < STOP_WITHIN_M)
        .collect();
    stop.sort_by(|a, b| {
        let last = |near: &Near| near.kind != HazardKind::PowerLine;
        last(a).cmp(&last(b)).then(a.distance_m.total_cmp(&b.distance_m))
    });
    Ok(Walk {
        approach,
        short_m,
        distance_m: way.length_m(),
        walk_s: way.length_m() / WALK_MPS,
        bearing_true_deg,
        bearing_magnetic_deg: (bearing_true_deg - declination_deg).rem_euclid(360.0),
        declination_deg,
        doubt_deg: doubt_deg(priors, accuracy_m, way.length_m()),
        stop,
        any_marked: !ground.obstacles.is_empty(),
        home_m: home.map(|home| LocalFrame::about(from).offset_of(home).length_m()),
    })
}

/// Of one axis of a normal error: 9 of 10 lie within so many standard deviations.
const NINE_IN_TEN: f64 = 1.645;
/// Radius that holds a round normal error with 68 %, in standard deviations of one axis: sqrt(-2 ln 0.32).
const RADIUS_SIGMAS: f64 = 1.51;

/// What a phone's compass and position leave open: the bias of its compass, and the angle under which its place shows.
fn doubt_deg(priors: &Priors, accuracy_m: f64, distance_m: f64) -> f64 {
    let compass_deg = priors.b("heading_bias_phone_unchecked");
    let place_deg = (accuracy_m.max(0.0) / RADIUS_SIGMAS).atan2(distance_m).to_degrees();
    NINE_IN_TEN * compass_deg.hypot(place_deg)
}

#[cfg(test)]
mod tests {
    use super::*;
    use windfall_facts::read_flight;

    /// A lane along the parallel 100 m north of the pad, a power line 120 m north.
    fn field() -> Flight {
        let line = |kind: &str, north_m: f64| {
            // A degree of the meridian at 47.5 degrees is 111 176 m (WGS 84).
            let lat = 47.5 + north_m / 111_176.0;
            format!(
                r#"{{"kind": "{kind}", "geometry": {{"type": "LineString", "coordinates": [[17.29, {lat}], [17.31, {lat}]]}}}}"#
            )
        };
        let text = format!(
            r#"{{"format": "windfall-flight/1", "pad": {{"lat": 47.5, "lon": 17.3}},
                "field": {{"hazards": [{}, {}]}}, "rocket": {{"stages": [{{"motor": "C"}}]}}}}"#,
            line("road", 100.0),
            line("power_line", 120.0)
        );
        read_flight(&text).unwrap()
    }

    fn at(north_m: f64, accuracy_m: f64) -> Walk {
        let from = LatLon { lat: 47.5 + north_m / 111_176.0, lon: 17.3 };
        let to = LatLon { lat: 47.503, lon: 17.3 };
        let home = Some(LatLon { lat: 47.5, lon: 17.3 });
        walk(&field(), &Priors::embedded(), from, accuracy_m, to, home, false).unwrap()
    }

    #[test]
    fn the_way_of_a_walker_ends_short_of_the_road_that_lies_before_them_now_and_not_before_the_pad() {
        let step = |from_m: f64, to_m: f64| {
            let at = |north_m: f64| LatLon { lat: 47.5 + north_m / 111_176.0, lon: 17.3 };
            walk(&field(), &Priors::embedded(), at(from_m), 0.0, at(to_m), None, true).unwrap()
        };
        // The road lies 100 m north, kept clear of by 4 m and 5 m short of that: 91 m, on steps of a metre.
        let before = step(0.0, 110.0);
        assert!((before.distance_m - 91.0).abs() < 2.0 && (before.short_m - 19.0).abs() < 2.0, "{before:?}");
        assert!(matches!(before.approach.said, Some(Sentence::StopHere { .. })));
        // From the north the power line at 120 m comes first, and the road is not in the way.
        let beyond = step(300.0, 140.0);
        assert!(
            (beyond.distance_m - 160.0).abs() < 0.5
                && beyond.short_m < 1e-9
                && beyond.approach.said.is_none(),
            "{beyond:?}"
        );
    }

    #[test]
    fn the_way_ends_thirty_metres_before_a_road() {
        assert_eq!(at(60.0, 0.0).stop, []);
        let near = at(75.0, 0.0);
        assert_eq!(near.stop.len(), 1, "{near:?}");
        assert!(near.stop[0].kind == HazardKind::Road && (near.stop[0].distance_m - 25.0).abs() < 0.2);
        assert!((near.home_m.unwrap() - 75.0).abs() < 0.1, "{near:?}");
        assert_eq!(at(65.0, 8.0).stop.len(), 1, "a poor position stops earlier");
    }

    #[test]
    fn a_power_line_comes_before_a_nearer_road() {
        let kinds: Vec<_> = at(98.0, 0.0).stop.into_iter().map(|near| near.kind).collect();
        assert_eq!(kinds, [HazardKind::PowerLine, HazardKind::Road]);
    }

    #[test]
    fn the_way_to_a_named_place_ends_short_of_the_road_before_it_and_at_it_where_nothing_is_marked() {
        let way = |from_m: f64, to_m: f64| {
            let at = |north_m: f64| LatLon { lat: 47.5 + north_m / 111_176.0, lon: 17.3 };
            let it = lead(&field(), &Priors::embedded(), at(from_m), at(to_m)).unwrap();
            ((it.approach.lat - 47.5) * 111_176.0, it)
        };
        // 5 m short of a margin of 4 m to a road at 100 m, on steps of a metre.
        let (stand_m, beyond) = way(0.0, 200.0);
        assert!((89.0..92.5).contains(&stand_m), "{stand_m}");
        assert!(matches!(beyond.approach.said, Some(Sentence::StopHere { .. })), "{beyond:?}");
        assert_eq!((&beyond.cautions[0], beyond.cautions.len()), (beyond.approach.said.as_ref().unwrap(), 2));
        let (stand_m, before) = way(0.0, 60.0);
        assert!((stand_m - 60.0).abs() < 0.1 && before.approach.said.is_none(), "{before:?}");
        assert_eq!(before.cautions, [Sentence::MindTheGround {}]);
        assert!(way(0.0, 120.0).1.cautions.contains(&Sentence::InAPowerLine {}));
    }

    #[test]
    fn due_north_is_due_north_and_a_compass_shows_it_less_the_declination() {
        let way = at(0.0, 4.0);
        assert!((way.distance_m - 0.003 * 111_176.0).abs() < 0.5, "{way:?}");
        assert!(way.bearing_true_deg.min(360.0 - way.bearing_true_deg) < 1e-6, "{way:?}");
        assert!((way.bearing_magnetic_deg + way.declination_deg - 360.0).abs() < 1e-6, "{way:?}");
        assert!(way.any_marked);
        // 1.645 times 6 degrees, the spread of a compass nobody checked; near the goal the place counts as well.
        assert!((9.8..11.0).contains(&way.doubt_deg), "{way:?}");
        assert!(at(300.0, 10.0).doubt_deg > 2.0 * at(0.0, 0.0).doubt_deg);
    }
}
