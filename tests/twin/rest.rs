//! Where it truly came to rest: in a crown, on a roof, at the foot of a wall, or where an open parachute dragged it.

use super::air::Air;
use super::chance::{Chance, normal};
use super::flown::{Device, Flown, Stage, Way};
use super::place::Field;
use super::told::round;
use rand::{Rng, RngExt};
use serde_json::{Value, json};
use windfall_facts::Mode;

const GRAVITY_MPS2: f64 = 9.806_65;
/// Of the way down, looked at point by point, s.
const LOOK_S: f64 = 0.005;
const SLIDE_S: f64 = 0.005;
/// Height of the canopy while it drags, m.
const CANOPY_M: f64 = 1.0;
/// From so strong a reading at 2 m on a canopy may drag, m/s.
pub(super) const STRONG_MPS: f64 = 3.5;

/// What the ground is like.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Ground {
    /// Flat and empty, and nobody says more.
    Plain,
    /// A wood and a building stand downwind.
    Standing,
    /// Short grass, a fence, and a wind that drags.
    Short,
}

/// Something with four corners that stands.
#[derive(Clone, Copy, Debug)]
struct Block {
    middle_m: [f64; 2],
    half_m: [f64; 2],
    /// Cosine and sine of its turn.
    turn: [f64; 2],
    height_m: f64,
    told_m: Option<f64>,
    kind: &'static str,
}

impl Block {
    /// Across the wind, `far_m` downwind of the pad and `aside_m` to the side.
    fn downwind(
        kind: &'static str,
        [c, s]: [f64; 2],
        [far_m, aside_m]: [f64; 2],
        half_m: [f64; 2],
        (usual, told): (&'static str, Option<f64>),
        chance: &Chance,
        rng: &mut impl Rng,
    ) -> Self {
        let middle_m = [far_m * c - aside_m * s, far_m * s + aside_m * c];
        let height_m = match told {
            Some(told_m) => told_m * (chance.a("height_marked") * normal(rng)).exp(),
            None => chance.a(usual) * (chance.b(usual) * normal(rng)).exp(),
        };
        Self { middle_m, half_m, turn: [c, s], height_m, told_m: told, kind }
    }

    /// Along its sides, from the middle.
    fn along(&self, at_m: [f64; 2]) -> [f64; 2] {
        let [east, north] = [at_m[0] - self.middle_m[0], at_m[1] - self.middle_m[1]];
        let [c, s] = self.turn;
        [east * c + north * s, north * c - east * s]
    }

    fn place(&self, [along, across]: [f64; 2]) -> [f64; 2] {
        let [c, s] = self.turn;
        [self.middle_m[0] + along * c - across * s, self.middle_m[1] + along * s + across * c]
    }

    fn covers(&self, at_m: [f64; 2]) -> bool {
        let own = self.along(at_m);
        own[0].abs() < self.half_m[0] && own[1].abs() < self.half_m[1]
    }

    /// The nearest place at one of its walls.
    fn beside(&self, at_m: [f64; 2]) -> [f64; 2] {
        let mut own = self.along(at_m);
        let axis = usize::from(self.half_m[0] - own[0].abs() > self.half_m[1] - own[1].abs());
        own[axis] = self.half_m[axis].copysign(own[axis]);
        self.place(own)
    }

    fn told(&self, field: &Field) -> Value {
        let corners = [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0], [-1.0, -1.0]];
        let ring: Vec<[f64; 2]> = corners
            .iter()
            .map(|corner| {
                let [lat, lon] =
                    field.lat_lon(self.place([corner[0] * self.half_m[0], corner[1] * self.half_m[1]]));
                [lon, lat]
            })
            .collect();
        let mut told = json!({"kind": self.kind, "geometry": {"type": "Polygon", "coordinates": [ring]}});
        if let Some(height_m) = self.told_m {
            told["height_m"] = json!(height_m);
        }
        told
    }
}

/// The ground of one flight.
#[derive(Clone, Debug)]
pub(super) struct Lies {
    blocks: Vec<Block>,
    /// A fence across the wind, so far downwind of the pad, m.
    fence_m: Option<f64>,
    turn: [f64; 2],
}

impl Lies {
    /// Laid out by the reading of the wind alone, which the estimator knows as well: where things stand says nothing more
    /// of the flight.
    pub(super) fn of(ground: Ground, reading: &Value, chance: &Chance, rng: &mut impl Rng) -> Self {
        let to_rad = (reading["from_deg"].as_f64().unwrap_or(0.0) + 180.0).to_radians();
        let turn = [to_rad.sin(), to_rad.cos()];
        let mut lies = Self { blocks: Vec::new(), fence_m: None, turn };
        match ground {
            Ground::Plain => {}
            Ground::Standing => {
                let told = |low: f64, high: f64, rng: &mut _| {
                    let height_m = RngExt::random_range(rng, low..high);
                    (RngExt::random::<f64>(rng) < 0.5).then(|| round(height_m, 0))
                };
                let half_m = [rng.random_range(40.0..120.0), rng.random_range(80.0..200.0)];
                let near_m = rng.random_range(10.0..120.0);
                let height = ("tree_height", told(8.0, 22.0, rng));
                let middle_m = [near_m + half_m[0], rng.random_range(-60.0..60.0)];
                lies.blocks.push(Block::downwind("trees", turn, middle_m, half_m, height, chance, rng));
                let house_m = [near_m - 25.0, rng.random_range(-30.0..30.0)];
                let height = ("building_height", told(3.0, 9.0, rng));
                lies.blocks.push(Block::downwind(
                    "buildings",
                    turn,
                    house_m,
                    [12.0, 20.0],
                    height,
                    chance,
                    rng,
                ));
            }
            Ground::Short => lies.fence_m = Some(rng.random_range(40.0..250.0)),
        }
        lies
    }

    /// As the flight file has it.
    pub(super) fn told(&self, field: &Field) -> Value {
        let mut hazards: Vec<Value> = self.blocks.iter().map(|it| it.told(field)).collect();
        let mut told = json!({});
        if let Some(fence_m) = self.fence_m {
            let ends = [-500.0, 500.0].map(|aside_m: f64| {
                let [c, s] = self.turn;
                let [lat, lon] = field.lat_lon([fence_m * c - aside_m * s, fence_m * s + aside_m * c]);
                [lon, lat]
            });
            hazards.push(json!({"kind": "other", "name": "fence",
                "geometry": {"type": "LineString", "coordinates": ends}}));
            told["ground"] = json!("short_grass");
        }
        told["hazards"] = json!(hazards);
        told
    }

    /// Lets all that flew come to rest.
    pub(super) fn receive(
        &self,
        flown: &mut Flown,
        mode: Mode,
        stages: &[Stage],
        air: &Air,
        chance: &Chance,
        rng: &mut impl Rng,
    ) {
        let under = under(flown, mode, stages);
        for (way, under) in flown.ways.iter_mut().zip(under) {
            let holds = match under {
                Some(Device::Parachute) => "held_by_parachute",
                Some(Device::Streamer) => "held_by_streamer",
                Some(Device::Tumble) => "held_tumbling",
                None => "held_streamlined",
            };
            let caught = chance.happens(holds, rng);
            let share = chance.draw("held_at", rng);
            let stays = chance.happens("stays_on_roof", rng);
            let met = self.meets(way, |it| match it.kind {
                "trees" if caught => share * it.height_m,
                "trees" => 0.0,
                _ => it.height_m,
            });
            if let Some((t_s, at_m, block, from_above)) = met {
                let on_top = block.kind == "trees" || from_above && stays;
                let [east, north] = [at_m[0], at_m[1]];
                let rests_m = if on_top {
                    at_m
                } else if from_above {
                    let [east, north] = block.beside([east, north]);
                    [east, north, 0.0]
                } else {
                    [east, north, 0.0]
                };
                way.ends(t_s, rests_m);
            } else if self.fence_m.is_some() && under == Some(Device::Parachute) {
                self.drags(way, air, chance, rng);
            }
        }
    }

    /// When, where and what it meets on its way down, and whether it came from above.
    fn meets(&self, way: &Way, surface_m: impl Fn(&Block) -> f64) -> Option<(f64, [f64; 3], Block, bool)> {
        let mut t_s = way.top().0;
        let mut was_m = f64::INFINITY;
        while t_s < way.landed_s() {
            let at_m = way.at(t_s);
            let held =
                self.blocks.iter().find(|it| it.covers([at_m[0], at_m[1]]) && at_m[2] <= surface_m(it));
            if let Some(block) = held {
                return Some((t_s, at_m, *block, was_m > surface_m(block)));
            }
            was_m = self
                .blocks
                .iter()
                .filter(|it| it.covers([at_m[0], at_m[1]]))
                .map(|_| at_m[2])
                .fold(f64::NEG_INFINITY, f64::max);
            t_s += LOOK_S;
        }
        None
    }

    /// Pulled over the ground by a canopy that stays open, by small steps through the gusts that blow there.
    fn drags(&self, way: &mut Way, air: &Air, chance: &Chance, rng: &mut impl Rng) {
        let open = chance.happens("chute_stays_open", rng);
        let lasts_s = chance.draw("chute_open_lasts", rng);
        let friction = chance.draw("drag_friction_short_grass", rng);
        let landed_s = way.landed_s();
        let falls_mps = way.at(landed_s - 2.0)[2] / 2.0;
        if !open || falls_mps < 0.1 {
            return;
        }
        let beyond = |at_m: [f64; 2]| {
            let far_m = at_m[0] * self.turn[0] + at_m[1] * self.turn[1];
            self.fence_m.is_some_and(|fence_m| far_m > fence_m)
        };
        let wind = |t_s: f64| {
            let [east, north, _] = air.moves_mps(0, CANOPY_M, t_s);
            [east, north]
        };
        let (mut at_m, mut speed) = (way.landing_m(), wind(landed_s));
        let started_beyond = beyond(at_m);
        let mut t_s = landed_s;
        while t_s < landed_s + lasts_s {
            let blows = wind(t_s);
            let slip = [0, 1].map(|axis| (blows[axis] - speed[axis]) / falls_mps);
            let (pull, moves) = (slip[0].hypot(slip[1]), speed[0].hypot(speed[1]));
            if moves < 1e-3 && pull * pull < friction {
                break;
            }
            let rubs = if moves > 1e-9 { friction / moves } else { 0.0 };
            let after = [0, 1]
                .map(|axis| speed[axis] + SLIDE_S * GRAVITY_MPS2 * (pull * slip[axis] - rubs * speed[axis]));
            // Friction stops, it never turns round.
            let turned = after[0] * speed[0] + after[1] * speed[1] < 0.0;
            speed = if turned { [0.0; 2] } else { after };
            let next = [0, 1].map(|axis| at_m[axis] + SLIDE_S * speed[axis]);
            if beyond(next) != started_beyond {
                break;
            }
            at_m = next;
            t_s += SLIDE_S;
        }
        way.ends(landed_s, [at_m[0], at_m[1], 0.0]);
    }
}

/// What each way came down on: a device that filled, a tangle that catches like a streamer, nothing and tumbling; none nose
/// first.
fn under(flown: &Flown, mode: Mode, stages: &[Stage]) -> Vec<Option<Device>> {
    let (last, boosters) = stages.split_last().expect("a rocket has a stage");
    let mut all: Vec<Option<Device>> = boosters.iter().map(|_| Some(Device::Tumble)).collect();
    let whole = match (flown.deployed_s, mode) {
        (None, _) => vec![None],
        (_, Mode::CameApart) => last
            .pieces
            .iter()
            .map(|it| Some(if it.carries_recovery { last.device } else { Device::Tumble }))
            .collect(),
        (_, Mode::CordBroke) => vec![Some(Device::Tumble), Some(last.device)],
        (_, Mode::Tangled) => vec![Some(Device::Streamer)],
        (_, Mode::MotorKickedOut) => vec![Some(Device::Tumble)],
        _ => vec![Some(last.device)],
    };
    all.extend(whole);
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    fn block() -> Block {
        let (sin, cos) = 0.6_f64.sin_cos();
        Block {
            middle_m: [80.0, -20.0],
            half_m: [30.0, 10.0],
            turn: [cos, sin],
            height_m: 12.0,
            told_m: None,
            kind: "trees",
        }
    }

    #[test]
    fn a_block_has_its_four_walls() {
        let block = block();
        for (own, inside) in [([29.0, 9.0], true), ([31.0, 0.0], false), ([0.0, -11.0], false)] {
            let back = block.along(block.place(own));
            assert!((back[0] - own[0]).abs() < 1e-9 && (back[1] - own[1]).abs() < 1e-9);
            assert_eq!(block.covers(block.place(own)), inside);
        }
        let wall = block.along(block.beside(block.place([5.0, -8.0])));
        assert!((wall[0] - 5.0).abs() < 1e-9 && (wall[1] + 10.0).abs() < 1e-9, "{wall:?}");
    }

    #[test]
    fn a_way_that_comes_in_low_meets_the_side_and_a_steep_one_the_top() {
        let lies = Lies { blocks: vec![block()], fence_m: None, turn: [1.0, 0.0] };
        let came = |from: [f64; 3], to: [f64; 3]| {
            let mut way = Way::default();
            way.ends(0.0, from);
            way.ends(20.0, to);
            lies.meets(&way, |it| it.height_m).map(|it| (it.1[2], it.3))
        };
        let at = |own: [f64; 2], up: f64| {
            let [east, north] = block().place(own);
            [east, north, up]
        };
        let (up_m, from_above) = came(at([0.0, 0.0], 100.0), at([1.0, 0.0], 0.0)).unwrap();
        assert!((up_m - 12.0).abs() < 0.05 && from_above);
        let (up_m, from_above) = came(at([-90.0, 0.0], 10.0), at([0.0, 0.0], 0.0)).unwrap();
        assert!((up_m - 10.0 / 3.0).abs() < 0.05 && !from_above);
        assert!(came(at([-90.0, 0.0], 10.0), at([-40.0, 0.0], 0.0)).is_none());
    }
}
