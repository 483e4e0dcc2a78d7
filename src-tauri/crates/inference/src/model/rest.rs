//! Where it comes to rest, if that is not where it touches the ground: in a tree, on a roof, beside a wall, or dragged off
//! by an open parachute.

use super::Story;
use crate::Priors;
use crate::ground::{Shapes, shapes};
use geo::{BoundingRect, Closest, ClosestPoint, Contains, Distance, Euclidean, Line, Point, Rect};
use rand::{Rng, RngExt, SeedableRng, rngs::Xoshiro256PlusPlus};
use rand_distr::StandardNormal;
use windfall_facts::{Field, GroundKind, HazardKind};
use windfall_physics::flight::{Path, dragged_m, rests_on};
use windfall_quantities::LocalFrame;

/// A crown or a wall that is drawn as a line or a point reaches so far to either side, m: judgement.
const HALF_WIDTH_M: f64 = 4.0;
/// Height of a canopy above the ground while it drags, m: judgement.
const CANOPY_M: f64 = 1.0;
/// Lower than this it lies on the ground, m.
const FLAT_M: f64 = 0.05;
/// Seen from above a roof is hit within this of its height, m; lower down it is the wall.
const EAVES_M: f64 = 0.3;
/// Other luck than that of the gusts.
const OTHER_LUCK: u64 = 0x7265_7374;

/// What a body hangs on or falls with when it reaches the ground.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Under {
    /// An open parachute.
    Parachute,
    /// A streamer, or a parachute that did not fill.
    Streamer,
    /// Nothing: it tumbles.
    Tumbling,
    /// Nothing: nose first.
    #[default]
    Streamlined,
}

/// Where a body came to rest.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Rest {
    /// The hazard that holds it above the ground, by its place in the field's list.
    pub(crate) held_by: Option<usize>,
    /// What kind that is.
    pub(crate) held: Option<HazardKind>,
    /// How far the parachute pulled it over the ground, m east and north.
    pub(crate) dragged_m: [f64; 2],
}

/// A wood or a building.
#[derive(Clone, Debug)]
struct Standing {
    hazard: usize,
    kind: HazardKind,
    /// Median, m, and standard deviation of the logarithm.
    height: (f64, f64),
    shapes: Shapes,
    reach: Rect,
}

impl Standing {
    fn covers(&self, at_m: [f64; 2]) -> bool {
        let at = Point::new(at_m[0], at_m[1]);
        self.reach.contains(&at)
            && (self.shapes.polygons.iter().any(|it| it.contains(&at))
                || self.shapes.lines.iter().any(|it| Euclidean.distance(it, &at) < HALF_WIDTH_M)
                || self.shapes.points.iter().any(|it| Euclidean.distance(it, &at) < HALF_WIDTH_M))
    }

    /// The nearest place beside its walls.
    fn beside(&self, at_m: [f64; 2]) -> [f64; 2] {
        let at = Point::new(at_m[0], at_m[1]);
        let on_walls = self.shapes.polygons.iter().filter_map(|it| match it.exterior().closest_point(&at) {
            Closest::Intersection(place) | Closest::SinglePoint(place) => Some(place),
            Closest::Indeterminate => None,
        });
        let nearest = on_walls
            .min_by(|a, b| Euclidean.distance(a, &at).total_cmp(&Euclidean.distance(b, &at)))
            .unwrap_or(at);
        [nearest.x(), nearest.y()]
    }
}

/// What slides over the ground there, and what stops it.
#[derive(Clone, Debug)]
struct Slides {
    friction: (f64, f64),
    stays_open: f64,
    lasts_s: (f64, f64),
    stops: Vec<Shapes>,
}

/// What stands on a field and what its ground is like.
#[derive(Clone, Debug, Default)]
pub(crate) struct Resting {
    standing: Vec<Standing>,
    slides: Option<Slides>,
    /// Chance that a crown holds what comes down into it: parachute, streamer, tumbling, streamlined.
    holds: [f64; 4],
    held_at: (f64, f64),
    stays_on_roof: f64,
}

/// What chance has in store for one body: whether a crown would hold it and how far up, and so on.
#[derive(Clone, Copy, Debug, Default)]
struct Fate {
    caught: bool,
    caught_at: f64,
    stays_on_roof: bool,
    dragged_m: [f64; 2],
}

/// What chance has in store for one possible flight.
#[derive(Clone, Debug, Default)]
pub(super) struct Fates {
    resting: std::sync::Arc<Resting>,
    heights_m: Vec<f64>,
    bodies: Vec<Fate>,
    /// The last of the way down, kept for its memory.
    low: Path,
}

impl Resting {
    pub(super) fn of(field: Option<&Field>, frame: &LocalFrame, priors: &Priors) -> Self {
        let Some(field) = field else { return Self::default() };
        let mut standing = Vec::new();
        for (hazard, it) in field.hazards.iter().enumerate().filter(|(_, it)| it.kind.stands()) {
            let Some(shapes) = shapes(&it.geometry, frame) else { continue };
            let Some(reach) = reach(&shapes) else { continue };
            let usual = if it.kind == HazardKind::Trees { "tree_height" } else { "building_height" };
            let height = it
                .height_m
                .map_or((priors.a(usual), priors.b(usual)), |height_m| (height_m, priors.a("height_marked")));
            standing.push(Standing { hazard, kind: it.kind, height, shapes, reach });
        }
        let friction = match field.ground {
            Some(GroundKind::ShortGrass) => Some("drag_friction_short_grass"),
            Some(GroundKind::Hard) => Some("drag_friction_hard"),
            Some(GroundKind::TallGrowth) | None => None,
        };
        let slides = friction.map(|row| Slides {
            friction: (priors.a(row), priors.b(row)),
            stays_open: priors.a("chute_stays_open"),
            lasts_s: (priors.a("chute_open_lasts"), priors.b("chute_open_lasts")),
            stops: field
                .hazards
                .iter()
                .filter(|it| {
                    use HazardKind::{Buildings, Crop, Other, Trees, Water};
                    matches!(it.kind, Trees | Buildings | Crop | Water | Other)
                })
                .filter_map(|it| shapes(&it.geometry, frame))
                .collect(),
        });
        Self {
            standing,
            slides,
            holds: ["held_by_parachute", "held_by_streamer", "held_tumbling", "held_streamlined"]
                .map(|row| priors.a(row)),
            held_at: (priors.a("held_at"), priors.b("held_at")),
            stays_on_roof: priors.a("stays_on_roof"),
        }
    }

    /// Whether every flight comes to rest where it touches the ground.
    fn is_flat(&self) -> bool {
        self.standing.is_empty() && self.slides.is_none()
    }
}

fn reach(shapes: &Shapes) -> Option<Rect> {
    let boxes = shapes
        .polygons
        .iter()
        .filter_map(BoundingRect::bounding_rect)
        .chain(shapes.lines.iter().filter_map(BoundingRect::bounding_rect))
        .chain(shapes.points.iter().map(BoundingRect::bounding_rect));
    let all = boxes.reduce(|a, b| {
        Rect::new(
            (a.min().x.min(b.min().x), a.min().y.min(b.min().y)),
            (a.max().x.max(b.max().x), a.max().y.max(b.max().y)),
        )
    })?;
    let wide = |way: f64| way * HALF_WIDTH_M;
    Some(Rect::new(
        (all.min().x + wide(-1.0), all.min().y + wide(-1.0)),
        (all.max().x + wide(1.0), all.max().y + wide(1.0)),
    ))
}

fn between((low, high): (f64, f64), rng: &mut impl Rng) -> f64 {
    low + (high - low) * rng.random::<f64>()
}

impl super::Model {
    /// Whether some flights may come to rest elsewhere than where they touch.
    pub(crate) fn may_rest_elsewhere(&self) -> bool {
        !self.resting.is_flat()
    }

    /// Draws what chance has in store for the bodies of a story, whose nodes are laid. From here on they rest where they
    /// would in truth. Nothing is drawn where nothing stands and nothing slides.
    ///
    /// # Model
    /// A canopy that stays open is pulled by the mean wind a metre above the ground and one gust, of the size that gusts have
    /// there, that lasts as long as it does; it is not one of those that carried the flight.
    pub(crate) fn fate(&self, story: &mut Story, luck: u64) {
        let resting = &self.resting;
        if resting.is_flat() {
            return;
        }
        let mut rng = Xoshiro256PlusPlus::seed_from_u64(luck ^ OTHER_LUCK);
        let rng = &mut rng;
        let mut fates = story.fates.take().unwrap_or_default();
        fates.resting = resting.clone();
        fates.heights_m.clear();
        fates.heights_m.extend(
            resting
                .standing
                .iter()
                .map(|it| it.height.0 * (it.height.1 * rng.sample::<f64, _>(StandardNormal)).exp()),
        );
        fates.bodies.clear();
        for body in 0..story.in_use {
            let under = story.bodies[body].under;
            let chance = resting.holds[match under {
                Under::Parachute => 0,
                Under::Streamer => 1,
                Under::Tumbling => 2,
                Under::Streamlined => 3,
            }];
            let mut fate = Fate {
                caught: rng.random::<f64>() < chance,
                caught_at: between(resting.held_at, rng),
                stays_on_roof: rng.random::<f64>() < resting.stays_on_roof,
                dragged_m: [0.0; 2],
            };
            if let Some(slides) = resting.slides.as_ref().filter(|_| under == Under::Parachute) {
                fate.dragged_m = story.dragged_over(body, slides, rng);
            }
            fates.bodies.push(fate);
        }
        story.fates = Some(fates);
    }
}

impl Story {
    fn dragged_over(&self, body: usize, slides: &Slides, rng: &mut impl Rng) -> [f64; 2] {
        let stays_open = rng.random::<f64>() < slides.stays_open;
        let lasts_s = between((slides.lasts_s.0.max(0.1).ln(), slides.lasts_s.1.max(0.1).ln()), rng).exp();
        let friction = between(slides.friction, rng);
        let [along, across] = [0, 1].map(|axis| {
            let sigma_mps = self.gusts.sigma_mps[0][axis].hypot(self.gusts.sigma_mps[1][axis]);
            sigma_mps * rng.sample::<f64, _>(StandardNormal)
        });
        let later_spm = self.bodies[body].later_spm;
        if !stays_open || later_spm <= 0.0 {
            return [0.0; 2];
        }
        let [c, s] = self.gusts.along;
        let [east, north, _] = self.air.at(CANOPY_M);
        let wind = [east + along * c - across * s, north + along * s + across * c];
        let speed = wind[0].hypot(wind[1]);
        let way_m = dragged_m(speed, 1.0 / later_spm, friction, lasts_s);
        wind.map(|it| it * way_m / speed.max(1e-9))
    }

    /// Later (s) and farther on towards east and north (m) for each metre lower, at the end of a body's way.
    fn comes_in(&self, body: usize) -> (f64, [f64; 2]) {
        const LAST_S: f64 = 0.5;
        let own = &self.bodies[body];
        if own.first_node < own.last_node {
            return (own.later_spm, own.farther);
        }
        let end = own.path.end();
        let low = own.path.at(end.t_s - LAST_S);
        let height_m = low[2].max(0.1);
        (LAST_S / height_m, [0, 1].map(|axis| (end.at_m[axis] - low[axis]) / height_m))
    }

    /// Lets every body rest where it would in truth, given where it would touch level ground.
    pub(super) fn come_to_rest(&mut self) {
        let Some(mut fates) = self.fates.take() else { return };
        for body in 0..self.in_use {
            let own = &self.bodies[body];
            let (ground_m, ground_s) = (own.landing_m, own.landed_s);
            let fate = fates.bodies.get(body).copied().unwrap_or_default();
            self.bodies[body].rest = Rest::default();
            self.bodies[body].rests_at_m = 0.0;
            if self.capped || !ground_m.iter().all(|m| m.is_finite()) {
                continue;
            }
            if let Some((at_m, t_s)) = self.meets(body, &mut fates, ground_m, ground_s, fate) {
                self.bodies[body].landing_m = at_m;
                self.bodies[body].landed_s = t_s;
            } else if fate.dragged_m.iter().any(|m| m.abs() > 0.0) {
                let slides = fates.resting.slides.as_ref();
                let dragged_m = slides.map_or(fate.dragged_m, |it| it.as_far_as(ground_m, fate.dragged_m));
                self.bodies[body].landing_m = [0, 1].map(|axis| ground_m[axis] + dragged_m[axis]);
                self.bodies[body].rest.dragged_m = dragged_m;
            }
        }
        self.fates = Some(fates);
    }

    /// Where and when a body meets what stands on the field, if it does.
    fn meets(
        &mut self,
        body: usize,
        fates: &mut Fates,
        ground_m: [f64; 2],
        ground_s: f64,
        fate: Fate,
    ) -> Option<([f64; 2], f64)> {
        let resting = fates.resting.clone();
        let (later_spm, farther) = self.comes_in(body);
        let would_hold = |it: &Standing| it.kind != HazardKind::Trees || fate.caught;
        let surface_of = |it: &Standing, height_m: f64| {
            if it.kind == HazardKind::Trees { fate.caught_at * height_m } else { height_m }
        };
        let highest_m = self.apogee(body).1[2];
        let place = |up_m: f64| [0, 1].map(|axis| ground_m[axis] - farther[axis] * up_m);
        // Only what the last of its way leads over is looked at.
        let mut top_m: f64 = 0.0;
        for (it, height_m) in resting.standing.iter().zip(&fates.heights_m).filter(|row| would_hold(row.0)) {
            let high = place(surface_of(it, *height_m));
            let apart = |axis: usize, low: f64, far: f64| {
                ground_m[axis].max(high[axis]) < low || ground_m[axis].min(high[axis]) > far
            };
            let (low, far) = (it.reach.min(), it.reach.max());
            if !apart(0, low.x, far.x) && !apart(1, low.y, far.y) {
                top_m = top_m.max(surface_of(it, *height_m));
            }
        }
        if top_m <= 0.0 {
            return None;
        }
        let top_m = (top_m + 0.1).min(highest_m);
        if top_m <= FLAT_M {
            return None;
        }
        let high = place(top_m);
        fates.low.clear();
        fates.low.push(ground_s - later_spm * top_m, [high[0], high[1], top_m]);
        fates.low.push(ground_s, [ground_m[0], ground_m[1], 0.0]);
        let holding = |at_m: [f64; 2]| {
            let own = resting.standing.iter().zip(&fates.heights_m);
            own.filter(|row| would_hold(row.0) && row.0.covers(at_m))
                .map(|(it, height_m)| (it, surface_of(it, *height_m)))
                .max_by(|a, b| a.1.total_cmp(&b.1))
        };
        let met = rests_on(&fates.low, f64::NEG_INFINITY, |at_m| holding(at_m).map_or(0.0, |it| it.1));
        let at_m = [met.at_m[0], met.at_m[1]];
        let (it, surface_m) = holding(at_m).filter(|_| met.at_m[2] > FLAT_M)?;
        let own = &mut self.bodies[body];
        let stays = match it.kind {
            HazardKind::Trees => true,
            _ => met.at_m[2] > surface_m - EAVES_M && fate.stays_on_roof,
        };
        if stays {
            own.rest = Rest { held_by: Some(it.hazard), held: Some(it.kind), dragged_m: [0.0; 2] };
            own.rests_at_m = met.at_m[2];
            Some((at_m, met.t_s))
        } else {
            Some((it.beside(at_m), met.t_s))
        }
    }

    /// Where a body would rest if the place it was found at is right: the ground it would touch, or short of it where it
    /// would be held there; linear in what carried it.
    pub(crate) fn landing_towards(&self, body: usize, found_m: [f64; 2]) -> [f64; 2] {
        let own = &self.bodies[body];
        let Some(fates) = &self.fates else { return own.landing_m };
        let fate = fates.bodies.get(body).copied().unwrap_or_default();
        let (_, farther) = self.comes_in(body);
        let rows = fates.resting.standing.iter().zip(&fates.heights_m);
        let up_m = rows
            .filter(|(it, _)| it.covers(found_m))
            .map(|(it, height_m)| match it.kind {
                HazardKind::Trees if fate.caught => fate.caught_at * height_m,
                HazardKind::Trees => 0.0,
                _ if fate.stays_on_roof => *height_m,
                _ => 0.0,
            })
            .fold(0.0, f64::max);
        [0, 1].map(|axis| {
            let dragged_m = if up_m > 0.0 { 0.0 } else { fate.dragged_m[axis] };
            own.ground_m[axis] + dragged_m - farther[axis] * up_m
        })
    }

    /// Where a body came to rest.
    pub(crate) fn rest(&self, body: usize) -> Rest {
        self.bodies[body].rest
    }
}

impl Slides {
    /// As far as it goes before something stops it.
    fn as_far_as(&self, from_m: [f64; 2], way_m: [f64; 2]) -> [f64; 2] {
        use geo::algorithm::line_intersection::{LineIntersection, line_intersection};
        let to_m = [0, 1].map(|axis| from_m[axis] + way_m[axis]);
        let way = Line::new((from_m[0], from_m[1]), (to_m[0], to_m[1]));
        let length_m = way_m[0].hypot(way_m[1]);
        let edges = self.stops.iter().flat_map(|it| {
            let rings =
                it.polygons.iter().flat_map(|it| core::iter::once(it.exterior()).chain(it.interiors()));
            rings.chain(&it.lines).flat_map(geo::LineString::lines)
        });
        let reached = edges.filter_map(|edge| match line_intersection(way, edge)? {
            LineIntersection::SinglePoint { intersection, .. } => Some(intersection),
            LineIntersection::Collinear { intersection } => Some(intersection.start),
        });
        let far_m = reached.map(|at| (at.x - from_m[0]).hypot(at.y - from_m[1])).fold(length_m, f64::min);
        // Within something that stops it, it does not move at all.
        let start = Point::new(from_m[0], from_m[1]);
        let within = self.stops.iter().any(|it| it.polygons.iter().any(|it| it.contains(&start)));
        if within { [0.0; 2] } else { way_m.map(|m| m * far_m / length_m.max(1e-9)) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Drift, Model};
    use crate::{Beliefs, Settings, locate};
    use geo::{BooleanOps, Length, LineString, MultiLineString, Polygon};
    use rand_chacha::ChaCha8Rng;
    use serde_json::{Value, json};
    use windfall_facts::{Flight, Mode, read_flight};

    /// The table with heights as marked, and crowns that hold whatever meets them at their top.
    fn sure() -> Priors {
        let header = "name,family,a,b,unit,persistent_share,source";
        let rows = "height_marked,lognormal,0,,ln,1,test\nheld_by_parachute,share,1,,,0,test\nheld_tumbling,share,1,,,0,test\nheld_by_streamer,share,1,,,0,test\nheld_streamlined,share,1,,,0,test\nheld_at,uniform,1,1,,0,test\nstays_on_roof,share,0,,,0,test\nchute_stays_open,share,1,,,0,test";
        Priors::replaced_by(&format!("{header}\n{rows}\n")).unwrap()
    }

    /// A ring by corners in metres from the pad at 47.5 N, 17.3 E: a degree of the parallel is 75 333 m there, one of the
    /// meridian 111 176 m (WGS 84).
    fn ring(corners_m: &[[f64; 2]]) -> Value {
        let mut ring: Vec<Value> = corners_m
            .iter()
            .map(|[east, north]| json!([17.3 + east / 75_343.0, 47.5 + north / 111_176.0]))
            .collect();
        ring.push(ring[0].clone());
        json!({"type": "Polygon", "coordinates": [ring]})
    }

    fn box_of(west: f64, east: f64) -> [[f64; 2]; 4] {
        [[west, -150.0], [east, -150.0], [east, 150.0], [west, 150.0]]
    }

    fn flight(field: &Value, evidence: &Value) -> Flight {
        let flight = json!({"format": "windfall-flight/1", "pad": {"lat": 47.5, "lon": 17.3, "elevation_m": 120},
            "field": field,
            "wind": [{"height_m": 2, "averaged_s": 60, "speed_mps": 4, "from_deg": 270, "method": "meter"}],
            "rocket": {"stages": [{"dry_mass_g": 62, "diameter_mm": 24.8, "length_mm": 430, "motor": "B6-4",
                "recovery": {"kind": "parachute", "diameter_mm": 300}}]}, "evidence": evidence});
        read_flight(&flight.to_string()).unwrap()
    }

    fn wood(kind: &str, corners: &[[f64; 2]], height_m: f64) -> Value {
        json!({"hazards": [{"kind": kind, "geometry": ring(corners), "height_m": height_m}]})
    }

    /// Tells possible flights of a mode and lets them rest; each with where it touched and how fast it came in.
    fn told(field: &Value, priors: &Priors, mode: Mode, mut see: impl FnMut(&Story, (f64, [f64; 2]))) {
        let model = Model::of(&flight(field, &json!([])), priors, (0, 0), &Beliefs::default()).unwrap();
        let (mut drift, mut x, mut story) = (Drift::default(), Vec::new(), Story::default());
        let mut rng = ChaCha8Rng::seed_from_u64(5);
        for _ in 0..2000 {
            let z: Vec<f64> = (0..model.latents).map(|_| rng.sample(StandardNormal)).collect();
            model.tell(mode, &z, &mut story);
            if !story.is_finite() || story.capped {
                continue;
            }
            story.lay_nodes(&mut []);
            drift.begin(&story, 0);
            drift.draw(|| rng.sample(StandardNormal), &mut x);
            model.fate(&mut story, rng.random());
            story.carry(&x);
            let comes_in = story.comes_in(0);
            see(&story, comes_in);
        }
    }

    #[test]
    fn a_crown_holds_exactly_those_whose_straight_way_down_another_library_sees_cross_it() {
        // A wood of five corners, 15 m high: what crosses it below its tops does so on the ground plan as well, for the way
        // is straight there.
        let corners = [[20.0, -200.0], [130.0, -120.0], [110.0, 30.0], [150.0, 220.0], [30.0, 120.0]];
        let plan = Polygon::new(corners.iter().map(|[e, n]| (*e, *n)).collect(), Vec::new());
        for mode in [Mode::Opens, Mode::NoneOpened, Mode::MotorKickedOut] {
            let (mut held, mut all, mut wrong, mut grazed) = (0, 0, 0, 0);
            told(&wood("trees", &corners, 15.0), &sure(), mode, |story, (_, farther)| {
                let ground = story.bodies[0].ground_m;
                let high = [0, 1].map(|axis| ground[axis] - 15.0 * farther[axis]);
                if story.apogee(0).1[2] < 16.0 {
                    return;
                }
                let way = LineString::from(vec![(high[0], high[1]), (ground[0], ground[1])]);
                let through_m = Euclidean.length(&plan.clip(&MultiLineString::new(vec![way]), false));
                let is_held = story.rest(0).held == Some(HazardKind::Trees);
                (all, held) = (all + 1, held + i32::from(is_held));
                wrong += i32::from(is_held && through_m <= 0.0 || !is_held && through_m > 3.0);
                grazed += i32::from(!is_held && through_m > 0.0);
            });
            assert!(all > 1000 && held > 10, "{mode:?}: {held} of {all}");
            // The surface is asked for every 3 m: a corner may be cut. Its outline goes through degrees and back, so that a
            // touch within a centimetre may fall on either side.
            assert!(wrong <= 1 && grazed <= all / 50, "{mode:?}: {wrong} and {grazed} of {all}");
        }
    }

    #[test]
    fn what_hangs_in_a_crown_rests_short_of_where_it_would_have_touched() {
        let mut hung = 0;
        told(
            &wood("trees", &box_of(50.0, 250.0), 15.0),
            &sure(),
            Mode::Opens,
            |story, (later_spm, farther)| {
                if story.rest(0).held.is_none() {
                    return;
                }
                hung += 1;
                let (up_m, own) = (story.bodies[0].rests_at_m, &story.bodies[0]);
                assert!(up_m > 0.0 && up_m < 15.0 + 1e-3);
                for ((ground, rests), farther) in own.ground_m.iter().zip(own.landing_m).zip(farther) {
                    assert!((ground - rests - up_m * farther).abs() < 1e-3, "{ground} {rests}");
                }
                let touches_s = own.landed_s + later_spm * up_m;
                let there = story.at(0, touches_s + 5.0);
                let stays = [own.landing_m[0], own.landing_m[1], up_m];
                assert!(there.iter().zip(stays).all(|(a, b)| (a - b).abs() < 1e-9), "{there:?}");
            },
        );
        assert!(hung > 200, "{hung}");
    }

    #[test]
    fn nothing_rests_inside_a_building_and_what_slides_off_its_roof_lies_at_its_wall() {
        let (mut at_wall, walls) = (0, box_of(60.0, 100.0));
        told(&wood("buildings", &walls, 8.0), &sure(), Mode::Opens, |story, _| {
            assert_eq!(story.rest(0).held, None);
            let [east, north] = story.landing_m(0);
            let inside_m = (east - 60.0).min(100.0 - east).min(150.0 - north.abs());
            assert!(inside_m < 0.1, "{east} {north}");
            at_wall += i32::from(inside_m > -0.1);
        });
        assert!(at_wall > 20, "{at_wall}");
    }

    #[test]
    fn an_open_parachute_drags_downwind_on_short_grass_only_and_a_fence_stops_it() {
        let fence = |kind: &str| {
            json!({"ground": kind, "hazards": [{"kind": "other", "name": "fence",
                "geometry": {"type": "LineString", "coordinates": [[17.302, 47.49], [17.302, 47.51]]}}]})
        };
        let fence_m = 0.002 * 75_343.0;
        let (mut dragged, mut east_m, mut stopped) = (0, 0.0, 0);
        told(&fence("short_grass"), &sure(), Mode::Opens, |story, _| {
            let own = &story.bodies[0];
            let way = own.rest.dragged_m;
            if way[0].hypot(way[1]) > 1.0 {
                dragged += 1;
                east_m += way[0];
                let (from, to) = (own.ground_m[0], own.landing_m[0]);
                assert!(from > fence_m || to < fence_m + 0.1, "it went through: {from} to {to}");
                stopped += i32::from((to - fence_m).abs() < 0.1);
            }
        });
        assert!(dragged > 100 && east_m / f64::from(dragged) > 2.0, "{dragged} times, {east_m}");
        assert!(stopped > 0);
        for (kind, mode) in
            [("tall_growth", Mode::Opens), ("hard", Mode::NoneOpened), ("hard", Mode::Tangled)]
        {
            told(&fence(kind), &sure(), mode, |story, _| assert_eq!(story.rest(0), Rest::default()));
        }
    }

    #[test]
    fn a_wood_that_no_flight_comes_near_changes_nothing_bit_for_bit() {
        let seen = json!([{"kind": "sighting", "moment": "lost", "t_s": 25, "bearing_deg": 88, "elevation_deg": 15}]);
        let far = [[-3000.0, -50.0], [-2900.0, -50.0], [-2900.0, 50.0]];
        let answer = |kind: &str| {
            let field = wood(kind, &far, 15.0);
            let mut field = field;
            if kind == "road" {
                field["hazards"][0]["height_m"] = Value::Null;
            }
            let settings = Settings { draws: 512, ..Settings::default() };
            let cloud = locate(&flight(&field, &seen), &Priors::embedded(), &settings).unwrap();
            let mut answer = cloud.answer(None, Some(200));
            answer.parts[0].hazards.clear();
            answer
        };
        assert_eq!(answer("trees"), answer("road"));
    }

    #[test]
    fn a_part_found_in_a_wood_most_likely_hung_there_if_crowns_always_hold() {
        let at = json!({"lat": 47.5, "lon": 17.3 + 100.0 / 75_343.0});
        let found = json!([{"kind": "find", "part": "rocket", "at": at, "accuracy_m": 4}]);
        let settings = Settings { draws: 1024, ..Settings::default() };
        let flight = flight(&wood("trees", &box_of(50.0, 250.0), 15.0), &found);
        let cloud = locate(&flight, &sure(), &settings).unwrap();
        let answer = cloud.answer(None, None);
        assert!(answer.parts[0].rests.in_a_tree > 0.95, "{:?}", answer.parts[0].rests);
        // It is in hand.
        assert!(!answer.cautions.iter().any(|it| it.contains("may hang")), "{:?}", answer.cautions);
        // As many as with a find on open ground: the proposal knows of the wood.
        assert!(answer.effective_draws > 400.0, "{}", answer.effective_draws);
    }
}
