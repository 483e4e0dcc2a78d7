//! A flight as it happened: a point mass in three dimensions with quadratic drag, by small Runge-Kutta steps.

use super::air::{Air, LONGEST_S};
use rand::Rng;
use windfall_facts::Mode;

const GRAVITY_MPS2: f64 = 9.806_65;
const BOOST_STEP_S: f64 = 0.005;
const RAIL_STEP_S: f64 = 0.001;
const COAST_STEP_S: f64 = 0.05;
/// Drag settles by no more than this share in a step.
const SETTLES: f64 = 0.1;

/// Where something is and how it moves, towards east, north and up.
#[derive(Clone, Copy, Debug, Default)]
struct State {
    t_s: f64,
    at_m: [f64; 3],
    velocity_mps: [f64; 3],
}

/// The way of one body.
#[derive(Clone, Debug, Default)]
pub(super) struct Way {
    knots: Vec<(f64, [f64; 3])>,
}

impl Way {
    /// Where it was at a time; on the ground it stays.
    pub(super) fn at(&self, t_s: f64) -> [f64; 3] {
        let after = self.knots.partition_point(|knot| knot.0 < t_s);
        match (after.checked_sub(1).and_then(|before| self.knots.get(before)), self.knots.get(after)) {
            (Some(from), Some(to)) => {
                let share = (t_s - from.0) / (to.0 - from.0);
                core::array::from_fn(|axis| from.1[axis] + share * (to.1[axis] - from.1[axis]))
            }
            (Some(last), None) => last.1,
            (None, first) => first.map_or([0.0; 3], |first| first.1),
        }
    }

    pub(super) fn landed_s(&self) -> f64 {
        self.knots.last().map_or(0.0, |knot| knot.0)
    }

    pub(super) fn landing_m(&self) -> [f64; 2] {
        self.knots.last().map_or([0.0; 2], |knot| [knot.1[0], knot.1[1]])
    }

    /// Ends it at a time and place; what came later did not happen.
    pub(super) fn ends(&mut self, t_s: f64, at_m: [f64; 3]) {
        self.knots.retain(|knot| knot.0 < t_s);
        self.knots.push((t_s, at_m));
    }

    /// Time of the highest point, and its height.
    pub(super) fn top(&self) -> (f64, f64) {
        self.knots
            .iter()
            .map(|knot| (knot.0, knot.1[2]))
            .fold((0.0, 0.0), |a, b| if b.1 > a.1 { b } else { a })
    }
}

/// How a stage comes down when all goes well.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Device {
    Parachute,
    Streamer,
    Tumble,
}

/// A piece that can fall on its own.
#[derive(Clone, Copy, Debug)]
pub(super) struct Piece {
    pub(super) dry_kg: f64,
    pub(super) tumbling_m2: f64,
    pub(super) carries_recovery: bool,
    pub(super) carries_motor: bool,
}

/// A stage as it truly was.
#[derive(Clone, Debug)]
pub(super) struct Stage {
    pub(super) dry_kg: f64,
    pub(super) loaded_kg: f64,
    pub(super) propellant_kg: f64,
    pub(super) thrust_n: f64,
    pub(super) burn_s: f64,
    pub(super) delay_s: f64,
    pub(super) ascent_drag_m2: f64,
    pub(super) device: Device,
    pub(super) open_drag_m2: f64,
    pub(super) tumbling_m2: f64,
    pub(super) pieces: Vec<Piece>,
}

impl Stage {
    fn spent_kg(&self) -> f64 {
        self.loaded_kg - self.propellant_kg
    }
}

/// What else was drawn for the flight.
#[derive(Clone, Copy, Debug)]
pub(super) struct Launch {
    pub(super) mode: Mode,
    pub(super) rail_m: f64,
    /// Towards east and north, rad.
    pub(super) lean_rad: [f64; 2],
    pub(super) misaligned_rad: [f64; 2],
    pub(super) opening_s: f64,
    pub(super) late_s: f64,
    pub(super) tangled: f64,
}

/// A flight as it happened.
#[derive(Clone, Debug)]
pub(super) struct Flown {
    pub(super) ways: Vec<Way>,
    /// The way of each part, stages from the bottom up and their pieces in order.
    pub(super) part_way: Vec<usize>,
    /// What the eye follows of the last stage.
    pub(super) seen: usize,
    /// When the recovery device of the last stage came out, if anything did in the air.
    pub(super) deployed_s: Option<f64>,
}

/// What is pushed through the air.
#[derive(Clone, Copy, Debug)]
struct Craft {
    mass_kg: f64,
    drag_m2: f64,
    motor: Option<Burning>,
}

#[derive(Clone, Copy, Debug)]
struct Burning {
    lit_s: f64,
    thrust_n: f64,
    burn_s: f64,
    propellant_kg: f64,
    misaligned_rad: [f64; 2],
}

impl Craft {
    fn mass_at_kg(&self, t_s: f64) -> f64 {
        let burnt =
            self.motor.map_or(0.0, |it| it.propellant_kg * ((t_s - it.lit_s) / it.burn_s).clamp(0.0, 1.0));
        self.mass_kg - burnt
    }

    fn acceleration_mps2(&self, state: &State, air: &Air, body: usize) -> [f64; 3] {
        let height_m = state.at_m[2].max(0.0);
        let moves = air.moves_mps(body, height_m, state.t_s);
        let over: [f64; 3] = core::array::from_fn(|axis| state.velocity_mps[axis] - moves[axis]);
        let speed = length(over);
        let mass_kg = self.mass_at_kg(state.t_s);
        let brake = 0.5 * air.density_kgpm3(height_m) * self.drag_m2 / mass_kg * speed;
        let mut sum = over.map(|it| -brake * it);
        sum[2] -= GRAVITY_MPS2;
        if let Some(motor) = self.motor {
            let axis = if speed > 1e-9 { over.map(|it| it / speed) } else { [0.0, 0.0, 1.0] };
            // The thrust's angle to the axis, towards east and north: a turn about a level line.
            let [east, north] = motor.misaligned_rad;
            let turned = [
                axis[0] + east * axis[2],
                axis[1] + north * axis[2],
                axis[2] - east * axis[0] - north * axis[1],
            ];
            let push = motor.thrust_n / mass_kg / length(turned);
            for (sum, way) in sum.iter_mut().zip(turned) {
                *sum += push * way;
            }
        }
        sum
    }

    fn step(&self, state: State, h: f64, air: &Air, body: usize) -> State {
        let moved = |velocity: [f64; 3], change: [f64; 3], h: f64| State {
            t_s: state.t_s + h,
            at_m: core::array::from_fn(|axis| state.at_m[axis] + h * velocity[axis]),
            velocity_mps: core::array::from_fn(|axis| state.velocity_mps[axis] + h * change[axis]),
        };
        let a1 = self.acceleration_mps2(&state, air, body);
        let s2 = moved(state.velocity_mps, a1, h / 2.0);
        let a2 = self.acceleration_mps2(&s2, air, body);
        let s3 = moved(s2.velocity_mps, a2, h / 2.0);
        let a3 = self.acceleration_mps2(&s3, air, body);
        let s4 = moved(s3.velocity_mps, a3, h);
        let a4 = self.acceleration_mps2(&s4, air, body);
        let mean = |k1: [f64; 3], k2: [f64; 3], k3: [f64; 3], k4: [f64; 3]| {
            core::array::from_fn(|axis| (k1[axis] + 2.0 * (k2[axis] + k3[axis]) + k4[axis]) / 6.0)
        };
        moved(
            mean(state.velocity_mps, s2.velocity_mps, s3.velocity_mps, s4.velocity_mps),
            mean(a1, a2, a3, a4),
            h,
        )
    }

    /// On along its way until a time or the ground; whether it has landed.
    fn go(&self, state: &mut State, until_s: f64, air: &Air, body: usize, way: &mut Way) -> bool {
        while state.t_s < until_s - 1e-9 {
            let longest_s = if self.motor.is_some() {
                BOOST_STEP_S
            } else {
                let moves = air.moves_mps(body, state.at_m[2].max(0.0), state.t_s);
                let over = core::array::from_fn(|axis| state.velocity_mps[axis] - moves[axis]);
                let brake = 0.5 * air.density_kgpm3(state.at_m[2].max(0.0)) * self.drag_m2 / self.mass_kg;
                let settling = 2.0 * (brake * length(over)).max((brake * GRAVITY_MPS2).sqrt());
                (SETTLES / settling).clamp(2e-4, COAST_STEP_S)
            };
            let h = longest_s.min(until_s - state.t_s);
            let next = self.step(*state, h, air, body);
            if next.at_m[2] <= 0.0 && next.velocity_mps[2] < 0.0 {
                let share = state.at_m[2].max(0.0) / (state.at_m[2].max(0.0) - next.at_m[2]).max(1e-12);
                let at = |axis: usize| state.at_m[axis] + share * (next.at_m[axis] - state.at_m[axis]);
                *state = State { t_s: state.t_s + share * h, at_m: [at(0), at(1), 0.0], ..next };
                way.knots.push((state.t_s, state.at_m));
                return true;
            }
            *state = next;
            way.knots.push((state.t_s, state.at_m));
        }
        false
    }

    /// Along the rod to its end.
    fn leave_rod(&self, launch: &Launch, state: &mut State, air: &Air, way: &mut Way) {
        let [east, north] = launch.lean_rad;
        let lean = east.hypot(north);
        let along = if lean > 1e-9 {
            [east / lean * lean.sin(), north / lean * lean.sin(), lean.cos()]
        } else {
            [0.0, 0.0, 1.0]
        };
        let (Some(motor), mut gone_m, mut speed) = (self.motor, 0.0, 0.0_f64) else { return };
        while gone_m < launch.rail_m && state.t_s < motor.burn_s {
            let mass_kg = self.mass_at_kg(state.t_s);
            let drag_n = 0.5 * air.density_kgpm3(0.0) * self.drag_m2 * speed * speed;
            let gains = ((motor.thrust_n - drag_n) / mass_kg - GRAVITY_MPS2 * along[2]).max(if speed > 0.0 {
                f64::NEG_INFINITY
            } else {
                0.0
            });
            let after = (speed + gains * RAIL_STEP_S).max(0.0);
            gone_m += 0.5 * (speed + after) * RAIL_STEP_S;
            speed = after;
            state.t_s += RAIL_STEP_S;
            state.at_m = along.map(|it| it * gone_m);
        }
        state.velocity_mps = along.map(|it| it * speed);
        way.knots.push((state.t_s, state.at_m));
    }
}

fn length(v: [f64; 3]) -> f64 {
    (v[0] * v[0] + v[1] * v[1] + v[2] * v[2]).sqrt()
}

/// Flies it.
pub(super) fn fly(stages: &[Stage], launch: &Launch, air: &mut Air, rng: &mut impl Rng) -> Flown {
    let (last, boosters) = stages.split_last().expect("a rocket has a stage");
    let mut ways = Vec::new();
    let mut part_way = Vec::new();
    let (mut state, mut up) = (State::default(), Way { knots: vec![(0.0, [0.0; 3])] });
    let mut on_rod = true;
    let mut burn = |stage: &Stage, mass_kg: f64, drag_m2: f64, state: &mut State, up: &mut Way, air: &Air| {
        let motor = Burning {
            lit_s: state.t_s,
            thrust_n: stage.thrust_n,
            burn_s: stage.burn_s,
            propellant_kg: stage.propellant_kg,
            misaligned_rad: launch.misaligned_rad,
        };
        let craft = Craft { mass_kg, drag_m2, motor: Some(motor) };
        if on_rod {
            craft.leave_rod(launch, state, air, up);
            on_rod = false;
        }
        craft.go(state, motor.lit_s + motor.burn_s, air, 0, up)
    };
    let mut grounded = false;
    for booster in boosters {
        let mass_kg = booster.dry_kg + booster.loaded_kg + last.dry_kg + last.loaded_kg;
        let drag_m2 = 1.1 * booster.ascent_drag_m2.max(last.ascent_drag_m2); // a longer stack: judgement
        grounded = burn(booster, mass_kg, drag_m2, &mut state, &mut up, air);
        let (body, mut way, mut falling) = (air.part(state.t_s, rng), up.clone(), state);
        let craft =
            Craft { mass_kg: booster.dry_kg + booster.spent_kg(), drag_m2: booster.tumbling_m2, motor: None };
        come_down(&craft, &mut falling, air, body, &mut way);
        part_way.push(ways.len());
        ways.push(way);
    }
    let lit = launch.mode != Mode::SecondStageUnlit;
    let mut mass_kg = last.dry_kg + last.loaded_kg;
    if lit && !grounded {
        grounded = burn(last, mass_kg, last.ascent_drag_m2, &mut state, &mut up, air);
        mass_kg -= last.propellant_kg;
    }
    let pieces = last.pieces.len().max(1);
    let main = ways.len();
    let streamlined = Craft { mass_kg, drag_m2: last.ascent_drag_m2, motor: None };
    let together = |ways: &mut Vec<Way>, way: Way, mut part_way: Vec<usize>, deployed_s: Option<f64>| {
        ways.push(way);
        part_way.extend(core::iter::repeat_n(main, pieces));
        Flown { ways: core::mem::take(ways), part_way, seen: main, deployed_s }
    };
    if !lit || launch.mode == Mode::NoneOpened {
        come_down(&streamlined, &mut state, air, 0, &mut up);
        return together(&mut ways, up, part_way, None);
    }
    let wait_s = match launch.mode {
        Mode::MotorKickedOut => 0.0,
        _ if last.device == Device::Tumble => launch.late_s,
        _ => launch.opening_s + launch.late_s,
    };
    let deployed_s = state.t_s + last.delay_s + launch.late_s;
    let opens_s = state.t_s + last.delay_s + wait_s;
    if grounded || streamlined.go(&mut state, opens_s, air, 0, &mut up) {
        return together(&mut ways, up, part_way, None);
    }
    let deployed_s = Some(deployed_s);
    let open_m2 = if last.device == Device::Tumble { last.tumbling_m2 } else { last.open_drag_m2 };
    let mut fall = |mass_kg: f64, drag_m2: f64, own_gusts: bool, air: &mut Air| {
        let body = if own_gusts { air.part(state.t_s, rng) } else { 0 };
        let (mut way, mut falling) = (up.clone(), state);
        come_down(&Craft { mass_kg, drag_m2, motor: None }, &mut falling, air, body, &mut way);
        way
    };
    let whole_kg = last.dry_kg + last.spent_kg();
    match launch.mode {
        Mode::CameApart => {
            let mut seen = main;
            for (index, piece) in last.pieces.iter().enumerate() {
                let mass_kg = piece.dry_kg + if piece.carries_motor { last.spent_kg() } else { 0.0 };
                let sails = piece.carries_recovery && last.device != Device::Tumble;
                let drag_m2 = if sails { open_m2 } else { piece.tumbling_m2 };
                if piece.carries_recovery {
                    seen = ways.len();
                }
                part_way.push(ways.len());
                ways.push(fall(mass_kg, drag_m2, index > 0, air));
            }
            Flown { ways, part_way, seen, deployed_s }
        }
        Mode::CordBroke => {
            let carrier = last.pieces.iter().position(|piece| piece.carries_recovery);
            // Of a rocket without named parts the nose sails: a fifth of it, judgement.
            let nose_kg = carrier.map_or(0.2 * last.dry_kg, |at| last.pieces[at].dry_kg);
            ways.push(fall((whole_kg - nose_kg).max(0.05 * whole_kg), last.tumbling_m2, false, air));
            ways.push(fall(nose_kg, open_m2, true, air));
            part_way.extend((0..pieces).map(|index| if Some(index) == carrier { main + 1 } else { main }));
            Flown { ways, part_way, seen: main + 1, deployed_s }
        }
        Mode::Tangled => {
            let way = fall(whole_kg, (launch.tangled * open_m2).max(last.tumbling_m2), false, air);
            together(&mut ways, way, part_way, deployed_s)
        }
        Mode::MotorKickedOut => {
            let way = fall(last.dry_kg, last.tumbling_m2, false, air);
            together(&mut ways, way, part_way, deployed_s)
        }
        _ => {
            let way = fall(whole_kg, open_m2, false, air);
            together(&mut ways, way, part_way, deployed_s)
        }
    }
}

/// To the ground; what is still up at the cap is taken to lie below.
fn come_down(craft: &Craft, state: &mut State, air: &Air, body: usize, way: &mut Way) {
    if !craft.go(state, LONGEST_S, air, body, way) {
        way.knots.push((LONGEST_S + 1e-3, [state.at_m[0], state.at_m[1], 0.0]));
    }
}

#[cfg(test)]
mod tests {
    use super::super::air::Unusual;
    use super::super::chance::Chance;
    use super::*;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;
    use windfall_inference::Priors;

    fn calm() -> Air {
        let none = Unusual { wider: 0.0, gusts: 0.0, shear_more: 0.0 };
        let mut rng = ChaCha8Rng::seed_from_u64(1);
        Air::draw(&Chance::of(&Priors::embedded()), Some(0.03), (288.15, 0.0), none, &mut rng)
    }

    #[test]
    fn a_coast_straight_up_reaches_the_height_and_the_time_of_the_closed_form() {
        // m dv/dt = -m g - k v^2: height (m / 2k) ln(1 + k v0^2 / m g), time sqrt(m / g k) atan(v0 sqrt(k / m g)).
        let (mass_kg, drag_m2, speed) = (0.06, 4e-4, 80.0_f64);
        let air = calm();
        // Over 200 m the density falls by 2 %: take that of the middle.
        let k = 0.5 * air.density_kgpm3(110.0) * drag_m2;
        let m_g = mass_kg * GRAVITY_MPS2;
        let height_m = mass_kg / (2.0 * k) * (k * speed * speed / m_g).ln_1p();
        let time_s = (mass_kg / (GRAVITY_MPS2 * k)).sqrt() * (speed * (k / m_g).sqrt()).atan();
        let mut state = State { velocity_mps: [0.0, 0.0, speed], ..State::default() };
        let mut way = Way::default();
        Craft { mass_kg, drag_m2, motor: None }.go(&mut state, 60.0, &air, 0, &mut way);
        let (t_s, top_m) = way.top();
        assert!((top_m / height_m - 1.0).abs() < 0.004 && (t_s - time_s).abs() < 0.06, "{top_m} m, {t_s} s");
    }

    #[test]
    fn what_hangs_from_a_parachute_sinks_at_its_terminal_speed() {
        let (mass_kg, drag_m2, air) = (0.075, 0.053, calm());
        let mut state = State { at_m: [0.0, 0.0, 150.0], ..State::default() };
        let mut way = Way { knots: vec![(0.0, state.at_m)] };
        assert!(Craft { mass_kg, drag_m2, motor: None }.go(&mut state, 900.0, &air, 0, &mut way));
        let speed = (2.0 * mass_kg * GRAVITY_MPS2 / (air.density_kgpm3(75.0) * drag_m2)).sqrt();
        // It loses v / g ln 2 while it gathers speed.
        let fall_s = 150.0 / speed + speed / GRAVITY_MPS2 * core::f64::consts::LN_2;
        assert!((way.landed_s() - fall_s).abs() < 0.01 * fall_s, "{} against {fall_s}", way.landed_s());
    }

    #[test]
    fn half_the_step_lands_at_the_same_place() {
        // The steps follow SETTLES; a body in shear and gusts from 200 m, followed by hand with steps of 2 ms.
        let usual = Unusual { wider: 1.0, gusts: 1.0, shear_more: 0.0 };
        let mut rng = ChaCha8Rng::seed_from_u64(3);
        let air = Air::draw(&Chance::of(&Priors::embedded()), None, (288.15, 0.0), usual, &mut rng);
        let craft = Craft { mass_kg: 0.075, drag_m2: 0.053, motor: None };
        let start = State { at_m: [0.0, 0.0, 200.0], velocity_mps: [12.0, 0.0, 5.0], t_s: 6.0 };
        let (mut coarse, mut way) = (start, Way::default());
        craft.go(&mut coarse, 900.0, &air, 0, &mut way);
        let mut fine = start;
        while fine.at_m[2] > 0.0 {
            fine = craft.step(fine, 0.002, &air, 0);
        }
        let off_m = (fine.at_m[0] - coarse.at_m[0]).hypot(fine.at_m[1] - coarse.at_m[1]);
        assert!(off_m < 0.05 && (fine.t_s - coarse.t_s).abs() < 0.01, "{off_m} m");
    }
}
