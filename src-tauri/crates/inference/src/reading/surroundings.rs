//! The ground around: field, hazards, and the last safe standing point.

use crate::ground::{Shapes, polygons, shapes};
use crate::model::Model;
use geo::{Contains, Distance, Euclidean, MultiPolygon, Point};
use windfall_facts::{Flight, HazardKind, Look, Sentence};
use windfall_quantities::{Offset, Position, turn_deg};

#[derive(Clone, Debug)]
pub(crate) struct Obstacle {
    /// Its place in the field's list.
    pub(crate) hazard: usize,
    pub(crate) kind: HazardKind,
    pub(crate) name: Option<String>,
    shapes: Shapes,
}

/// Outline and hazards of one field, in the local frame.
#[derive(Clone, Debug, Default)]
pub(crate) struct Surroundings {
    pub(crate) outline: Option<MultiPolygon>,
    pub(crate) obstacles: Vec<Obstacle>,
    seen: Vec<Seen>,
}

/// Ground that somebody looked over.
#[derive(Clone, Copy, Debug)]
struct Seen {
    from_m: [f64; 2],
    toward_deg: f64,
    as_far_m: f64,
}

impl Seen {
    fn holds(&self, at_m: [f64; 2]) -> bool {
        let way = Offset { east_m: at_m[0] - self.from_m[0], north_m: at_m[1] - self.from_m[1] };
        let aside_deg = turn_deg(self.toward_deg, way.bearing().degrees()).abs();
        way.length_m() <= self.as_far_m && aside_deg <= Look::HALF_WIDTH_DEG
    }
}

/// How far to keep from a hazard's drawn line, m. Judgement: a lane with its verges, the swing of wires, a crown.
fn margin_m(kind: HazardKind) -> f64 {
    match kind {
        HazardKind::PowerLine | HazardKind::Railway => 10.0,
        HazardKind::Road | HazardKind::Trees | HazardKind::Buildings => 4.0,
        HazardKind::Water | HazardKind::Livestock | HazardKind::Other => 2.0,
        HazardKind::Crop | HazardKind::PrivateLand => 0.0,
    }
}

impl Obstacle {
    pub(crate) fn holds(&self, at_m: [f64; 2]) -> bool {
        let point = Point::new(at_m[0], at_m[1]);
        let margin = margin_m(self.kind);
        self.shapes.polygons.iter().any(|it| it.contains(&point) || Euclidean.distance(it, &point) < margin)
            || self.shapes.lines.iter().any(|it| Euclidean.distance(it, &point) < margin.max(2.0))
            || self.shapes.points.iter().any(|it| Euclidean.distance(it, &point) < margin.max(2.0))
    }

    /// To its drawn line or edge, zero inside, m.
    pub(crate) fn distance_m(&self, at_m: [f64; 2]) -> f64 {
        let point = Point::new(at_m[0], at_m[1]);
        let inside =
            |it: &geo::Polygon| if it.contains(&point) { 0.0 } else { Euclidean.distance(it, &point) };
        let shapes = &self.shapes;
        let areas = shapes.polygons.iter().map(inside);
        let lines = shapes.lines.iter().map(|it| Euclidean.distance(it, &point));
        let points = shapes.points.iter().map(|it| Euclidean.distance(it, &point));
        areas.chain(lines).chain(points).fold(f64::INFINITY, f64::min)
    }

    /// Whether it, with its margin, lies within half of one of eight of this way from the pad, and no further.
    pub(crate) fn is_ahead(&self, toward_deg: f64, as_far_m: f64) -> bool {
        let turns = -4..=4;
        turns.map(|turn| toward_deg + Look::HALF_WIDTH_DEG * f64::from(turn) / 4.0).any(|way_deg| {
            let (sin, cos) = way_deg.to_radians().sin_cos();
            let mut far_m = 0.0_f64;
            while far_m <= as_far_m {
                let left_m = self.distance_m([far_m * sin, far_m * cos]) - margin_m(self.kind);
                // Half of what lies between two rays: 2.8 degrees.
                if left_m <= 0.05 * far_m {
                    return true;
                }
                far_m += left_m.max(STEP_M);
            }
            false
        })
    }

    fn called(&self) -> Sentence {
        let kind = match self.kind {
            HazardKind::Road => Sentence::TheRoad {},
            HazardKind::Railway => Sentence::TheRailway {},
            HazardKind::PowerLine => Sentence::ThePowerLine {},
            HazardKind::Water => Sentence::TheWater {},
            HazardKind::Trees => Sentence::TheTrees {},
            HazardKind::Buildings => Sentence::TheBuildings {},
            HazardKind::Crop => Sentence::TheCrop {},
            HazardKind::Livestock => Sentence::TheAnimals {},
            HazardKind::PrivateLand => Sentence::PrivateLand {},
            HazardKind::Other => Sentence::AMarkedHazard {},
        };
        match &self.name {
            Some(name) => Sentence::Called { what: kind.inside(), name: name.clone() },
            None => kind,
        }
    }

    fn advice(&self) -> Sentence {
        match self.kind {
            HazardKind::Road => Sentence::CrossWhereAllowed {},
            HazardKind::Railway => Sentence::NeverOnTheTracks {},
            HazardKind::PowerLine => Sentence::NeverTouchTheWires {},
            HazardKind::Water => Sentence::DoNotWade {},
            HazardKind::Trees => Sentence::DoNotClimb {},
            HazardKind::Buildings => Sentence::AskThePeopleThere {},
            HazardKind::Crop => Sentence::AskTheFarmer {},
            HazardKind::Livestock => Sentence::AskAboutTheAnimals {},
            HazardKind::PrivateLand => Sentence::AskTheOwner {},
            HazardKind::Other => Sentence::LookFirst {},
        }
    }
}

const STEP_M: f64 = 1.0;
const SHORT_OF_M: f64 = 5.0;

impl Surroundings {
    pub(crate) fn of(flight: &Flight, model: &Model) -> Self {
        let Some(field) = &flight.field else { return Self::default() };
        Self {
            outline: field.outline.as_ref().and_then(|outline| polygons(outline, &model.frame)),
            obstacles: field
                .hazards
                .iter()
                .enumerate()
                .filter_map(|(index, hazard)| {
                    Some(Obstacle {
                        hazard: index,
                        kind: hazard.kind,
                        name: hazard.name.clone(),
                        shapes: shapes(&hazard.geometry, &model.frame)?,
                    })
                })
                .collect(),
            seen: field
                .looked
                .iter()
                .filter_map(|look| {
                    let from = model.frame.offset_of(Position::new(look.from.lat, look.from.lon).ok()?);
                    let from_m = [from.east_m, from.north_m];
                    Some(Seen { from_m, toward_deg: look.toward_deg, as_far_m: look.as_far_m })
                })
                .collect(),
        }
    }

    /// Whether somebody looked over the ground at a place; none if nobody noted any look.
    pub(crate) fn is_seen(&self, at_m: [f64; 2]) -> Option<bool> {
        (!self.seen.is_empty()).then(|| self.seen.iter().any(|it| it.holds(at_m)))
    }

    /// Whether a place lies inside the field; none without an outline.
    pub(crate) fn inside(&self, at_m: [f64; 2]) -> Option<bool> {
        self.outline.as_ref().map(|outline| outline.contains(&Point::new(at_m[0], at_m[1])))
    }

    /// On the straight way to the aim, the last safe standing point short of the first hazard or the field's edge,
    /// and why to stop there. The aim itself and no reason if the way is clear as far as is known.
    pub(crate) fn approach(&self, from_m: [f64; 2], aim_m: [f64; 2]) -> ([f64; 2], Option<Sentence>) {
        let way = [aim_m[0] - from_m[0], aim_m[1] - from_m[1]];
        let length_m = way[0].hypot(way[1]);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "metres on a field")]
        let steps = (length_m / STEP_M).ceil().clamp(1.0, 20_000.0) as usize;
        let at = |along_m: f64| {
            let share = if length_m > 0.0 { (along_m / length_m).clamp(0.0, 1.0) } else { 0.0 };
            [from_m[0] + share * way[0], from_m[1] + share * way[1]]
        };
        // Where the flyer stands now is where they are: a hazard counts once they have been clear of it.
        let mut clear_of: Vec<bool> = self.obstacles.iter().map(|it| !it.holds(from_m)).collect();
        let mut was_inside = self.inside(from_m).unwrap_or(false);
        for step in 0..=steps {
            let along_m = length_m * step as f64 / steps as f64;
            let here = at(along_m);
            let last = step == steps;
            for (obstacle, clear) in self.obstacles.iter().zip(&mut clear_of) {
                let holds = obstacle.holds(here);
                if holds && (*clear || last) {
                    let (what, advice) = (obstacle.called().inside(), obstacle.advice().inside());
                    let reason = Sentence::StopHere { what, advice };
                    return (at((along_m - SHORT_OF_M).max(0.0)), Some(reason));
                }
                *clear |= !holds;
            }
            let inside = self.inside(here).unwrap_or(was_inside);
            if was_inside && !inside {
                return (at((along_m - SHORT_OF_M).max(0.0)), Some(Sentence::StopAtTheEdge {}));
            }
            was_inside = inside;
        }
        let outside = self.inside(aim_m) == Some(false);
        (aim_m, outside.then_some(Sentence::OutsideTheField {}))
    }
}
