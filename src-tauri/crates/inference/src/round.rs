//! One round past all that waits to be picked up: in which order, and where to stop short.

use crate::model::Model;
use crate::reading::{Surroundings, WALK_MPS};
use crate::{Beliefs, LocateError, Priors};
use serde::Serialize;
use windfall_facts::{Flight, HazardKind, LatLon, Sentence};
use windfall_quantities::{LocalFrame, Offset, Position};

/// Metres that a walker would go round rather than cross a road, a railway, water or a power line. Judgement.
const RATHER_THAN_CROSS_M: f64 = 2_000.0;
/// Up to so many places every order is looked at; more are put in order by the nearest and then untangled.
const EXACT: usize = 8;
const STEP_M: f64 = 2.0;

/// The way to one of the places.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RoundLeg {
    /// Which of the places asked for.
    pub place: usize,
    /// Where to stop and look: the place itself, or the last safe standing point short of it.
    pub stop: LatLon,
    /// Why to stop there; null if nothing is known to be in the way.
    pub caution: Option<String>,
    /// The same as a sentence.
    pub said: Option<Sentence>,
    /// From the stop before, m.
    pub distance_m: f64,
    /// Seconds to walk it.
    pub walk_s: f64,
    /// Degrees from true north.
    pub bearing_true_deg: f64,
    /// Degrees as a compass shows.
    pub bearing_magnetic_deg: f64,
}

/// From where somebody stands past all places and back.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Round {
    /// The places in the order to be walked.
    pub legs: Vec<RoundLeg>,
    /// From the last stop back, m.
    pub back_m: f64,
    /// Whether any hazard is marked on this field at all.
    pub any_marked: bool,
}

/// The shortest round that crosses as few roads, railways, waters and power lines as it can. Where a hazard lies
/// across a leg, the leg ends short of it, with the caution; the next one starts there.
///
/// `flight` gives the ground and the magnetic declination.
///
/// # Errors
/// When a place is none, or the flight lies outside the model's domain.
pub fn round(
    flight: &Flight,
    priors: &Priors,
    from: LatLon,
    places: &[LatLon],
) -> Result<Round, LocateError> {
    let model = Model::of(flight, priors, (0, 0), &Beliefs::default())?;
    let ground = Surroundings::of(flight, &model);
    let frame = &model.frame;
    let start = local("from", from, frame)?;
    let spots: Vec<[f64; 2]> =
        places.iter().map(|&at| local("places", at, frame)).collect::<Result<_, _>>()?;
    let all: Vec<[f64; 2]> = std::iter::once(start).chain(spots.iter().copied()).collect();
    let costs: Vec<Vec<f64>> = all
        .iter()
        .map(|&a| {
            all.iter().map(|&b| apart_m(a, b) + RATHER_THAN_CROSS_M * crossings(&ground, a, b)).collect()
        })
        .collect();
    let mut here = start;
    let mut legs = Vec::new();
    for place in order(&costs) {
        let (stop, said) = ground.approach(here, spots[place]);
        let way = Offset { east_m: stop[0] - here[0], north_m: stop[1] - here[1] };
        let bearing_true_deg = way.bearing().degrees();
        let at = frame.place_at(Offset { east_m: stop[0], north_m: stop[1] });
        let distance_m = way.length_m();
        legs.push(RoundLeg {
            place,
            stop: LatLon { lat: at.lat_deg(), lon: at.lon_deg() },
            caution: said.as_ref().map(ToString::to_string),
            said,
            distance_m,
            walk_s: distance_m / WALK_MPS,
            bearing_true_deg,
            bearing_magnetic_deg: (bearing_true_deg - model.declination.degrees()).rem_euclid(360.0),
        });
        here = stop;
    }
    Ok(Round { legs, back_m: apart_m(here, start), any_marked: !ground.obstacles.is_empty() })
}

fn local(field: &str, at: LatLon, frame: &LocalFrame) -> Result<[f64; 2], LocateError> {
    let place = Position::new(at.lat, at.lon).map_err(|error| LocateError::new(field, error))?;
    let offset = frame.offset_of(place);
    Ok([offset.east_m, offset.north_m])
}

fn apart_m(a: [f64; 2], b: [f64; 2]) -> f64 {
    (b[0] - a[0]).hypot(b[1] - a[1])
}

/// How many roads, railways, waters and power lines lie between two places.
fn crossings(ground: &Surroundings, a: [f64; 2], b: [f64; 2]) -> f64 {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "metres on a field")]
    let steps = (apart_m(a, b) / STEP_M).ceil().clamp(1.0, 5_000.0) as usize;
    let at = |step: usize| {
        let share = step as f64 / steps as f64;
        [a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])]
    };
    let counts = ground.obstacles.iter().filter(|it| {
        let kinds = [HazardKind::Road, HazardKind::Railway, HazardKind::Water, HazardKind::PowerLine];
        kinds.contains(&it.kind) && (0..=steps).any(|step| it.holds(at(step)))
    });
    counts.count() as f64
}

/// The order of 1.. that makes the cheapest way from 0 past all and back to 0; counted from 0.
fn order(costs: &[Vec<f64>]) -> Vec<usize> {
    let count = costs.len() - 1;
    let of = |order: &[usize]| {
        let (mut here, mut sum) = (0, 0.0);
        for &next in order {
            sum += costs[here][next];
            here = next;
        }
        sum + costs[here][0]
    };
    let mut best: Vec<usize> = nearest(costs);
    if count <= EXACT {
        let mut tried: Vec<usize> = (1..=count).collect();
        every(&mut tried, 0, &mut |order| {
            if of(order) < of(&best) - 1e-9 {
                best = order.to_vec();
            }
        });
    } else {
        // Turns any stretch round as long as that makes the way cheaper.
        let mut is_better = true;
        while is_better {
            is_better = false;
            for first in 0..count {
                for last in first + 1..count {
                    let mut other = best.clone();
                    other[first..=last].reverse();
                    if of(&other) < of(&best) - 1e-9 {
                        best = other;
                        is_better = true;
                    }
                }
            }
        }
    }
    best.into_iter().map(|place| place - 1).collect()
}

fn nearest(costs: &[Vec<f64>]) -> Vec<usize> {
    let mut left: Vec<usize> = (1..costs.len()).collect();
    let mut order = Vec::new();
    let mut here = 0;
    while let Some(at) =
        (0..left.len()).min_by(|&a, &b| costs[here][left[a]].total_cmp(&costs[here][left[b]]))
    {
        here = left.remove(at);
        order.push(here);
    }
    order
}

fn every(all: &mut [usize], from: usize, see: &mut impl FnMut(&[usize])) {
    if from == all.len() {
        see(all);
        return;
    }
    for at in from..all.len() {
        all.swap(from, at);
        every(all, from + 1, see);
        all.swap(from, at);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use windfall_facts::read_flight;

    /// A degree of the meridian and of the parallel at 47.5 degrees, m (WGS 84).
    const DEG_M: [f64; 2] = [75_341.0, 111_176.0];

    fn at(east_m: f64, north_m: f64) -> LatLon {
        LatLon { lat: 47.5 + north_m / DEG_M[1], lon: 17.3 + east_m / DEG_M[0] }
    }

    /// With a lane that runs north and south through the whole field, `lane_east_m` east of the pad.
    fn walked(lane_east_m: Option<f64>, places: &[LatLon]) -> Round {
        let lane = lane_east_m.map_or(String::new(), |east_m| {
            let lon = 17.3 + east_m / DEG_M[0];
            format!(
                r#"{{"kind": "road", "name": "Mill Lane", "geometry": {{"type": "LineString", "coordinates": [[{lon}, 47.48], [{lon}, 47.52]]}}}}"#
            )
        });
        let text = format!(
            r#"{{"format": "windfall-flight/1", "pad": {{"lat": 47.5, "lon": 17.3}},
                "field": {{"hazards": [{lane}]}}, "rocket": {{"stages": [{{"motor": "C"}}]}}}}"#
        );
        round(&read_flight(&text).unwrap(), &Priors::embedded(), at(0.0, 0.0), places).unwrap()
    }

    fn places_of(round: &Round) -> Vec<usize> {
        round.legs.iter().map(|leg| leg.place).collect()
    }

    #[test]
    fn the_round_does_not_go_to_and_fro() {
        let square = [at(200.0, 200.0), at(0.0, 200.0), at(200.0, 0.0)];
        let round = walked(None, &square);
        assert!([vec![1, 0, 2], vec![2, 0, 1]].contains(&places_of(&round)), "{round:?}");
        let sum_m: f64 = round.legs.iter().map(|leg| leg.distance_m).sum::<f64>() + round.back_m;
        assert!((sum_m - 800.0).abs() < 0.5, "{sum_m}");
        assert!(round.legs.iter().all(|leg| leg.caution.is_none()) && !round.any_marked);
    }

    #[test]
    fn a_road_is_crossed_last_and_only_with_its_caution() {
        // The nearest by far lies beyond the lane.
        let round = walked(Some(50.0), &[at(80.0, 0.0), at(-300.0, 0.0), at(-300.0, 100.0)]);
        assert_eq!(round.legs.len(), 3);
        let over = round.legs.iter().find(|leg| leg.place == 0).unwrap();
        let caution = over.caution.as_deref().unwrap();
        assert!(caution.contains("Mill Lane"), "{caution}");
        assert!(over.stop.lon < 17.3 + 50.0 / DEG_M[0], "it stops on this side: {over:?}");
        assert!(round.any_marked);
    }

    #[test]
    fn many_places_are_put_in_an_order_without_crossed_legs() {
        // On a circle in a scrambled order: the best round is the circle.
        let circle: Vec<LatLon> = (0..12)
            .map(|index| {
                let turn = f64::from(index * 5 % 12) / 12.0 * core::f64::consts::TAU;
                at(300.0 + 300.0 * turn.cos(), 300.0 * turn.sin())
            })
            .collect();
        let round = walked(None, &circle);
        let sum_m: f64 = round.legs.iter().map(|leg| leg.distance_m).sum::<f64>() + round.back_m;
        // Twelve chords of 30 degrees; the pad is one of the twelve places.
        let chords_m = 12.0 * 2.0 * 300.0 * (15.0_f64).to_radians().sin();
        assert!((sum_m - chords_m).abs() < 2.0, "{sum_m} {chords_m}");
    }

    #[test]
    fn nothing_to_pick_up_is_no_walk() {
        let round = walked(None, &[]);
        assert!(round.legs.is_empty() && round.back_m.abs() < 1e-9);
    }
}
