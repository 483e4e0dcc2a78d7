//! Where it rests, if that is not where it touched.

use crate::cloud::{Cloud, Draw};
use windfall_facts::{Dragged, HazardKind, Recovery, Rests, Sentence};

/// Below this chance it is not said: judgement.
pub(super) const WORTH_SAYING: f64 = 0.05;
/// From so far on it was dragged and did not just tip over, m: judgement.
const DRAGGED_M: f64 = 5.0;
/// Of the flights that were dragged, those in the middle.
const MIDDLE: [f64; 2] = [0.1, 0.9];
/// From this reading near the ground on an open parachute may drag: the square root of the friction times a usual fall
/// speed is blown a metre above the ground in such a wind at head height. Judgement.
const DRAGS_FROM_MPS: f64 = 4.0;

/// So many of ten, never none and never all.
pub(crate) fn of_ten(probability: f64) -> usize {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "1 to 9")]
    let count = (10.0 * probability).round().clamp(1.0, 9.0) as usize;
    count
}

impl Cloud {
    /// How one part rests.
    pub(super) fn rests(&self, part: usize) -> Rests {
        let held = |kind: HazardKind| {
            // The sum of nothing is minus zero.
            self.share(|draw| draw.rests.get(part).is_some_and(|it| it.held == Some(kind))) + 0.0
        };
        let mut rests = Rests {
            in_a_tree: held(HazardKind::Trees),
            on_a_roof: held(HazardKind::Buildings),
            dragged: self.dragged(part),
            ..Rests::default()
        };
        if let Some(Dragged { probability, least_m, most_m, toward_deg }) = rests.dragged
            && probability >= WORTH_SAYING
        {
            // To five metres: it is not known better.
            let [least_m, most_m] = [least_m, most_m].map(|m| 5.0 * (m / 5.0).round());
            rests.said.push(Sentence::MayHaveBeenDragged { least_m, most_m, compass_deg: toward_deg });
        }
        rests.text = rests.said.iter().map(ToString::to_string).collect();
        rests
    }

    /// Chance that one hazard holds a part above the ground.
    pub(super) fn held_by(&self, part: usize, hazard: usize) -> f64 {
        self.share(|draw| draw.rests.get(part).is_some_and(|it| it.held_by == Some(hazard))) + 0.0
    }

    fn dragged(&self, part: usize) -> Option<Dragged> {
        let way = |draw: &Draw| draw.rests.get(part).map_or([0.0; 2], |it| it.dragged_m);
        let mut far: Vec<(f64, f64)> = self
            .draws
            .iter()
            .map(|draw| (way(draw)[0].hypot(way(draw)[1]), draw.weight))
            .filter(|row| row.0 >= DRAGGED_M)
            .collect();
        far.sort_by(|a, b| a.0.total_cmp(&b.0));
        let probability: f64 = far.iter().map(|row| row.1).sum();
        let [least_m, most_m] = MIDDLE.map(|share| {
            let mut below = 0.0;
            let reached = far.iter().find(|row| {
                below += row.1;
                below >= share * probability
            });
            reached.or(far.last()).map_or(0.0, |row| row.0)
        });
        let [east, north] = self.draws.iter().fold([0.0; 2], |sum, draw| {
            let way = way(draw);
            [sum[0] + draw.weight * way[0], sum[1] + draw.weight * way[1]]
        });
        let toward_deg = east.atan2(north).to_degrees().rem_euclid(360.0);
        (!far.is_empty()).then_some(Dragged { probability, least_m, most_m, toward_deg })
    }

    /// That dragging is left out, where it may matter.
    pub(super) fn ground_not_told(&self) -> Option<Sentence> {
        let told = self.flight.field.as_ref().is_some_and(|field| field.ground.is_some());
        let parachute = self
            .flight
            .rocket
            .stages
            .last()
            .is_some_and(|it| matches!(it.recovery, None | Some(Recovery::Parachute { .. })));
        let low = self.flight.wind.iter().filter(|row| row.height_m.is_none_or(|it| it.value <= 10.0));
        let strong = low.filter_map(|row| row.speed_mps).any(|it| it.value >= DRAGS_FROM_MPS);
        (!told && parachute && strong).then_some(Sentence::GroundNotTold {})
    }
}

/// That it hangs in a tree or lies on a roof, with the caution.
pub(super) fn hangs(rests: &Rests) -> impl Iterator<Item = Sentence> {
    let tree = (rests.in_a_tree >= WORTH_SAYING)
        .then(|| Sentence::MayHangInATree { of_ten: of_ten(rests.in_a_tree) });
    let roof = (rests.on_a_roof >= WORTH_SAYING)
        .then(|| Sentence::MayLieOnARoof { of_ten: of_ten(rests.on_a_roof) });
    tree.into_iter().chain(roof)
}
