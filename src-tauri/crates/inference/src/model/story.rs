use super::drift::{Gusts, Node};
use super::rest::{Fates, Rest, Under};
use super::{Device, Model, StageModel, coordinate};
use crate::normal::share_below;
use windfall_facts::Mode;
use windfall_physics::air::{AirTable, Aloft, Profile, shape_at};
use windfall_physics::flight::{
    Boost, Path, Rail, State, Thrust, boost, coast, streamlined_fall, under_drag,
};

/// Something that comes down in one piece.
#[derive(Clone, Debug, Default)]
pub(super) struct Body {
    pub(super) path: Path,
    /// When gusts begin to carry it; never for a streamlined fall.
    pub(super) released_s: f64,
    /// Its nodes among those of the story: from the first to before the last.
    pub(super) first_node: usize,
    pub(super) last_node: usize,
    /// Where it rests.
    pub(super) landing_m: [f64; 2],
    pub(super) landed_s: f64,
    /// Where it would touch level ground.
    pub(super) ground_m: [f64; 2],
    /// What it comes down on.
    pub(super) under: Under,
    pub(super) rest: Rest,
    /// Height at which it hangs.
    pub(super) rests_at_m: f64,
    /// How much later (s) and farther on towards east and north (m) it lands for each metre it is lifted.
    pub(super) later_spm: f64,
    pub(super) farther: [f64; 2],
}

/// One possible flight, told in full: where every body is at every time.
#[derive(Clone, Debug, Default)]
pub(crate) struct Story {
    pub(super) air: AirTable,
    aloft: Vec<Aloft>,
    pub(super) bodies: Vec<Body>,
    pub(super) in_use: usize,
    pub(super) nodes: Vec<Node>,
    pub(super) gusts: Gusts,
    /// Body of each part.
    pub(crate) part_body: Vec<usize>,
    /// What the eye follows when a flyer speaks of a stage: the body under the recovery device.
    pub(crate) seen_body: Vec<usize>,
    pub(crate) apart: bool,
    /// Of the last stage.
    pub(crate) apogee: State,
    /// Ejection of the last stage, or its end if there was none.
    pub(crate) deployed_s: f64,
    /// Whether anything came out of the last stage in the air.
    pub(crate) ejected: bool,
    /// The booster, if there is one.
    booster: Option<usize>,
    /// Still in the air at the cap.
    pub(crate) capped: bool,
    /// What chance has in store when it comes down on a tree, a roof or short ground; none until that was drawn.
    pub(super) fates: Option<Fates>,
}

impl Story {
    /// Where a body is at a time: east, north, up, m. On the ground it stays put.
    pub(crate) fn at(&self, body: usize, t_s: f64) -> [f64; 3] {
        let own = &self.bodies[body];
        if t_s >= own.landed_s && (own.first_node < own.last_node || self.fates.is_some()) {
            return [own.landing_m[0], own.landing_m[1], own.rests_at_m];
        }
        let mut at = own.path.at(t_s);
        for (node, share) in self.basis(body, t_s) {
            if share != 0.0 {
                at[0] += share * self.nodes[node].carried_m[0];
                at[1] += share * self.nodes[node].carried_m[1];
                at[2] += share * self.nodes[node].carried_m[2];
            }
        }
        at[2] = at[2].max(0.0);
        at
    }

    /// How many bodies there are.
    pub(crate) fn bodies(&self) -> usize {
        self.in_use
    }

    /// When a body touched the ground, s.
    pub(crate) fn landed_s(&self, body: usize) -> f64 {
        self.bodies[body].landed_s
    }

    /// Where a body touched the ground, m east and north of the pad.
    pub(crate) fn landing_m(&self, body: usize) -> [f64; 2] {
        self.bodies[body].landing_m
    }

    /// The highest point of a body's way: time (s) and place (m).
    pub(crate) fn apogee(&self, body: usize) -> (f64, [f64; 3]) {
        if self.booster == Some(body) {
            let top = self.bodies[body].path.top();
            (top.t_s, top.at_m)
        } else {
            (self.apogee.t_s, self.apogee.at_m)
        }
    }

    /// When a body was let go from the rest, s: staging for a booster, ejection for all else; none if nothing was
    /// ejected.
    pub(crate) fn let_go_s(&self, body: usize) -> Option<f64> {
        if self.booster == Some(body) {
            Some(self.bodies[body].released_s)
        } else {
            self.ejected.then_some(self.deployed_s)
        }
    }

    /// Since when a body comes down, s: from its highest point, or from when it was let go if that was before.
    pub(crate) fn down_from_s(&self, body: usize) -> f64 {
        let let_go_s = self.let_go_s(body).unwrap_or(f64::INFINITY);
        self.apogee(body).0.min(let_go_s).min(self.landed_s(body))
    }

    /// Whether every way ends at a place that such a rocket can reach.
    pub(crate) fn is_finite(&self) -> bool {
        /// A flight that nothing describes may be drawn in a wind without end.
        const FARTHEST_M: f64 = 1e5;
        self.bodies[..self.in_use]
            .iter()
            .all(|body| body.path.end().at_m.iter().all(|m| m.abs() < FARTHEST_M))
            && self.apogee.at_m[2].abs() < FARTHEST_M
    }

    /// Mean fall speed over the last 40 % of the way down, m/s.
    pub(crate) fn fall_mps(&self, body: usize) -> f64 {
        let path = &self.bodies[body].path;
        let end_s = path.end().t_s;
        let since_s = self.let_go_s(body).unwrap_or(self.apogee.t_s);
        let from_s = end_s - 0.4 * (end_s - since_s).max(0.5);
        path.at(from_s)[2] / (end_s - from_s)
    }

    fn body(&mut self) -> usize {
        self.in_use += 1;
        if self.bodies.len() < self.in_use {
            self.bodies.push(Body::default());
        }
        let index = self.in_use - 1;
        self.bodies[index].path.clear();
        self.bodies[index].released_s = f64::INFINITY;
        self.bodies[index].under = Under::default();
        (self.bodies[index].rest, self.bodies[index].rests_at_m) = (Rest::default(), 0.0);
        index
    }
}

fn uniform((low, high): (f64, f64), z: f64) -> f64 {
    low + (high - low) * share_below(z)
}

/// How much wider the unmodelled mode is than the planned one: the design asks for three to five times.
pub(crate) const UNMODELLED_WIDER: f64 = 4.0;
/// Share of the mass that sails with the parachute when the cord broke: judgement.
const NOSE_SHARE: f64 = 0.2;

/// What one stage is in this possible flight.
struct Flown {
    dry_kg: f64,
    impulse_ns: f64,
    mean_n: f64,
    propellant_kg: f64,
    spent_kg: f64,
    delay_s: f64,
    ascent_drag_m2: f64,
    open_drag_m2: f64,
    tumble_z: f64,
}

impl Model {
    /// The coordinates as beliefs move them; none without beliefs.
    fn learned(&self, z: &[f64]) -> Option<Vec<f64>> {
        (!self.moved.is_empty()).then(|| self.moved.apply(z))
    }

    /// The mean wind of a possible flight.
    pub(crate) fn profile(&self, mode: Mode, z: &[f64]) -> Profile {
        self.profile_of(mode, self.learned(z).as_deref().unwrap_or(z))
    }

    fn profile_of(&self, mode: Mode, z: &[f64]) -> Profile {
        use coordinate::{ROUGHNESS, SHEAR, STABILITY, VEER, WIND, WIND_TAIL};
        let sigmas = &self.sigmas;
        let wide = if mode == Mode::Unmodelled { UNMODELLED_WIDER } else { 1.0 };
        let z_at = |index: usize| wide * z[index];
        let roughness_m = if sigmas.roughness_known {
            (sigmas.roughness_ln.0 + sigmas.roughness_ln.1 * z[ROUGHNESS]).exp().min(2.0)
        } else {
            uniform(sigmas.roughness_ln, z[ROUGHNESS]).exp()
        };
        let stability = (sigmas.stability.0 + sigmas.stability.1 * z[STABILITY]).max(-0.3);
        let mut profile = Profile {
            east10_mps: 0.0,
            north10_mps: 0.0,
            roughness_m,
            stability,
            shear_exponent: sigmas.shear.0 + sigmas.shear.1 * z_at(SHEAR),
            veer_radpm: sigmas.veer_radpm * z_at(VEER),
        };
        // Turned back and scaled from the height it was read at, so that the profile passes through the reading.
        let shape = shape_at(self.wind.height_m, roughness_m, stability, profile.shear_exponent);
        let [east, north] = self.wind.at([z_at(WIND), z_at(WIND + 1)], z[WIND_TAIL], shape);
        profile.pass_through(self.wind.height_m, east, north);
        profile
    }

    /// Tells the possible flight of one mode at a point of the latent space: heights, times and the drift with the
    /// mean wind, everything but gusts after release.
    #[expect(clippy::too_many_lines, reason = "a flight told from the rod to the ground, in order")]
    pub(crate) fn tell(&self, mode: Mode, z: &[f64], story: &mut Story) {
        use coordinate::{GUST_START, LEAN, MISALIGNED, MISHAP, OPENING, RISING, SHEAR, VEER};
        let learned = self.learned(z);
        let z = learned.as_deref().unwrap_or(z);
        let sigmas = &self.sigmas;
        let wide = if mode == Mode::Unmodelled { UNMODELLED_WIDER } else { 1.0 };
        let z_at = |index: usize| wide * z[index];
        let profile = self.profile_of(mode, z);
        self.wind.fill_aloft(z_at(SHEAR), z_at(VEER), &mut story.aloft);
        // Without drag nothing flies higher than this; the table need not reach further.
        let last = self.stages.len() - 1;
        let flown = self.flown(last, z, wide);
        let below = (last > 0).then(|| self.flown(0, z, wide));
        let impulse_ns = flown.impulse_ns + below.as_ref().map_or(0.0, |it| it.impulse_ns);
        let fastest_mps = impulse_ns / (flown.dry_kg + flown.spent_kg);
        let ceiling_m = fastest_mps * fastest_mps / (2.0 * windfall_physics::GRAVITY_MPS2) + 100.0;
        story.air.fill(&profile, &story.aloft, self.ground, ceiling_m);
        let friction = wide * profile.friction_velocity_mps();
        let speed = profile.east10_mps.hypot(profile.north10_mps).max(1e-9);
        let (slow, fast) = (sigmas.slow_share.sqrt(), (1.0 - sigmas.slow_share).sqrt());
        let gusts = Gusts {
            sigma_mps: [
                [sigmas.gust_u, sigmas.gust_v, sigmas.gust_w].map(|sigma| slow * sigma * friction),
                [sigmas.gust_u, sigmas.gust_v, sigmas.gust_w].map(|sigma| fast * sigma * friction),
            ],
            memory_s: [sigmas.slow_s, sigmas.fast_s],
            start: [[z[GUST_START], z[GUST_START + 1]], [z[GUST_START + 2], z[GUST_START + 3]]],
            along: [profile.east10_mps / speed, profile.north10_mps / speed],
        };
        let [along_mps, across_mps] = [0, 1].map(|axis| {
            (0..2).map(|part| gusts.sigma_mps[part][axis] * gusts.start[part][axis]).sum::<f64>()
        });
        let [c, s] = gusts.along;
        let gust_mps = [along_mps * c - across_mps * s, along_mps * s + across_mps * c];
        story.gusts = gusts;

        story.in_use = 0;
        story.fates = None;
        story.capped = false;
        story.apart = false;
        story.ejected = false;
        story.booster = None;
        story.seen_body.clear();
        let air = story.air.clone();
        let last_stage = &self.stages[last];
        let rail = Rail {
            length_m: self.rail_m,
            lean_rad: core::array::from_fn(|axis| self.lean_rad[axis] + sigmas.lean_rad * z_at(LEAN + axis)),
        };
        let misaligned_rad = core::array::from_fn(|axis| sigmas.misaligned_rad * z_at(MISALIGNED + axis));
        let rising_mps = sigmas.rising_mps * z_at(RISING);

        // Up.
        let main = {
            let booster_body = (last > 0).then(|| story.body());
            let main = story.body();
            let mut state = State::default();
            let mut path = core::mem::take(&mut story.bodies[main].path);
            let mut rail_left = Some(rail);
            if let (Some(body), Some(first)) = (booster_body, below) {
                let below = &self.stages[0];
                let craft = Boost {
                    mass_kg: first.dry_kg + below.motor.loaded_kg + flown.dry_kg + last_stage.motor.loaded_kg,
                    drag_area_m2: first.ascent_drag_m2.max(flown.ascent_drag_m2) * 1.1, // longer stack: judgement
                    gust_mps,
                };
                state = boost(
                    state,
                    craft,
                    below.thrust(&first, misaligned_rad),
                    rail_left.take(),
                    &air,
                    &mut path,
                );
                let mut falling = core::mem::take(&mut story.bodies[body].path);
                falling.branch_from(&path);
                let capped = under_drag(
                    state,
                    first.dry_kg + first.spent_kg,
                    if below.device == Device::Tumble {
                        below.tumbling_m2(below.length_m, first.tumble_z)
                    } else {
                        first.open_drag_m2
                    },
                    rising_mps,
                    &air,
                    &mut falling,
                );
                story.capped |= capped;
                story.bodies[body].path = falling;
                story.bodies[body].released_s = state.t_s;
                story.bodies[body].under = below.device.opened();
                story.seen_body.push(body);
                story.booster = Some(body);
            }
            let lit = mode != Mode::SecondStageUnlit;
            let mut craft = Boost {
                mass_kg: flown.dry_kg + last_stage.motor.loaded_kg,
                drag_area_m2: flown.ascent_drag_m2,
                gust_mps,
            };
            if lit {
                state = boost(
                    state,
                    craft,
                    last_stage.thrust(&flown, misaligned_rad),
                    rail_left,
                    &air,
                    &mut path,
                );
                craft.mass_kg -= flown.propellant_kg;
            }
            let mut apogee = None;
            let opening_s = uniform(sigmas.opening_s, z[OPENING]);
            let late_s = if mode == Mode::OpensLate { uniform(sigmas.late_s, z[MISHAP]) } else { 0.0 };
            let falls_streamlined = !lit || mode == Mode::NoneOpened;
            // Ejection pushes the parts apart at once; a device then needs its lag to fill.
            let wait_s = match mode {
                Mode::MotorKickedOut => 0.0,
                _ if last_stage.device == Device::Tumble => late_s,
                _ => opening_s + late_s,
            };
            story.deployed_s = state.t_s + flown.delay_s + late_s;
            state = if falls_streamlined {
                streamlined_fall(state, craft, &air, &mut path, &mut apogee)
            } else {
                coast(state, craft, &air, &mut path, state.t_s + flown.delay_s + wait_s, &mut apogee)
            };
            story.apogee = apogee.unwrap_or(state);
            story.bodies[main].path = path;
            let grounded = state.at_m[2] <= 0.0;
            if grounded {
                story.deployed_s = story.deployed_s.min(state.t_s);
            } else if falls_streamlined {
                // Two minutes of streamlined fall: so light and draggy that it sinks like anything else.
                let mut path = core::mem::take(&mut story.bodies[main].path);
                story.capped |=
                    under_drag(state, craft.mass_kg, craft.drag_area_m2, rising_mps, &air, &mut path);
                story.bodies[main].path = path;
            } else {
                story.ejected = true;
                self.come_down(mode, last_stage, &flown, z[MISHAP], state, rising_mps, &air, story, main);
            }
            if grounded || falls_streamlined {
                story.seen_body.push(main);
            }
            main
        };
        // Parts not placed by coming apart stay with the main body, or with the booster.
        if !story.apart {
            self.place_all(main, story);
        }
        for body in &mut story.bodies[..story.in_use] {
            (body.first_node, body.last_node) = (0, 0);
            body.landed_s = body.path.end().t_s;
        }
    }

    /// Every part of the last stage with one body, those of the booster with its own.
    fn place_all(&self, main: usize, story: &mut Story) {
        let last = self.stages.len() - 1;
        story.part_body.clear();
        story.part_body.extend(self.part_stage.iter().map(|stage| if *stage == last { main } else { 0 }));
    }

    /// From the ejection to the ground, each body its own way.
    #[expect(clippy::too_many_arguments, reason = "the state of the flight at one moment")]
    fn come_down(
        &self,
        mode: Mode,
        stage: &StageModel,
        flown: &Flown,
        mishap_z: f64,
        state: State,
        rising_mps: f64,
        air: &AirTable,
        story: &mut Story,
        main: usize,
    ) {
        let whole_kg = flown.dry_kg + flown.spent_kg;
        let tumbling_m2 = stage.tumbling_m2(stage.length_m, flown.tumble_z);
        let open_m2 = if stage.device == Device::Tumble { tumbling_m2 } else { flown.open_drag_m2 };
        let opened = stage.device.opened();
        let fall = |story: &mut Story, body: usize, mass_kg: f64, drag_area_m2: f64, under: Under| {
            let mut path = core::mem::take(&mut story.bodies[body].path);
            if body != main {
                path.branch_from(&story.bodies[main].path);
            }
            story.capped |= under_drag(state, mass_kg, drag_area_m2, rising_mps, air, &mut path);
            story.bodies[body].path = path;
            story.bodies[body].released_s = state.t_s;
            story.bodies[body].under = under;
        };
        match mode {
            Mode::CameApart => {
                story.apart = true;
                let last = self.stages.len() - 1;
                self.place_all(main, story);
                let first = self.part_stage.iter().position(|stage| *stage == last).unwrap_or(0);
                // Branches of the path must be cut before the main body goes on its own way.
                let others: Vec<usize> = stage.parts.iter().skip(1).map(|_| story.body()).collect();
                let mut seen = main;
                for (index, part) in stage.parts.iter().enumerate().rev() {
                    let body = if index == 0 { main } else { others[index - 1] };
                    let mass_kg = flown.dry_kg * part.mass_share
                        + if part.carries_motor { flown.spent_kg } else { 0.0 };
                    let (drag_area_m2, under) = if part.carries_recovery && stage.device != Device::Tumble {
                        (open_m2, opened)
                    } else {
                        (stage.tumbling_m2(part.length_m, flown.tumble_z), Under::Tumbling)
                    };
                    fall(story, body, mass_kg, drag_area_m2, under);
                    story.part_body[first + index] = body;
                    if part.carries_recovery {
                        seen = body;
                    }
                }
                story.seen_body.push(seen);
            }
            Mode::CordBroke => {
                let nose = story.body();
                let carrier = stage.parts.iter().position(|part| part.carries_recovery);
                let nose_kg = carrier.map_or(NOSE_SHARE, |at| stage.parts[at].mass_share) * flown.dry_kg;
                fall(story, nose, nose_kg, open_m2, opened);
                fall(story, main, (whole_kg - nose_kg).max(0.05 * whole_kg), tumbling_m2, Under::Tumbling);
                story.seen_body.push(nose);
                if let Some(at) = carrier {
                    self.place_all(main, story);
                    story.apart = true;
                    let last = self.stages.len() - 1;
                    let first = self.part_stage.iter().position(|stage| *stage == last).unwrap_or(0);
                    story.part_body[first + at] = nose;
                }
            }
            Mode::Tangled => {
                let tangled = open_m2 * uniform(self.sigmas.tangled, mishap_z);
                fall(story, main, whole_kg, tangled.max(tumbling_m2), Under::Streamer);
                story.seen_body.push(main);
            }
            Mode::MotorKickedOut => {
                fall(story, main, flown.dry_kg, tumbling_m2, Under::Tumbling);
                story.seen_body.push(main);
            }
            _ => {
                fall(story, main, whole_kg, open_m2, opened);
                story.seen_body.push(main);
            }
        }
    }

    fn flown(&self, index: usize, z: &[f64], wide: f64) -> Flown {
        use coordinate::{
            ASCENT_DRAG, DELAY, DRAG_AREA, FILL, IMPULSE, MASS, PER_STAGE, STAGE, THRUST, TUMBLE,
        };
        let stage = &self.stages[index];
        let own = &z[STAGE + PER_STAGE * index..];
        let impulse_ns =
            stage.motor.impulse_ns.at(wide * own[IMPULSE]) * uniform(stage.motor.fill, own[FILL]);
        let propellant_kg = stage.motor.propellant_kg(impulse_ns);
        Flown {
            dry_kg: stage.dry_kg.at(own[MASS]),
            impulse_ns,
            mean_n: stage.motor.mean_thrust_n.at(own[THRUST]),
            propellant_kg,
            spent_kg: stage.motor.loaded_kg - propellant_kg,
            delay_s: (stage.motor.delay_s.0 + stage.motor.delay_s.1 * wide * own[DELAY]).max(0.0),
            ascent_drag_m2: stage.ascent_drag_m2.at(wide * own[ASCENT_DRAG]),
            open_drag_m2: stage.open_drag_m2.at(wide * own[DRAG_AREA]),
            tumble_z: wide * own[TUMBLE],
        }
    }
}

impl Device {
    fn opened(self) -> Under {
        match self {
            Self::Parachute => Under::Parachute,
            Self::Streamer => Under::Streamer,
            Self::Tumble => Under::Tumbling,
        }
    }
}

impl StageModel {
    fn thrust(&self, flown: &Flown, misaligned_rad: [f64; 2]) -> Thrust<'_> {
        Thrust {
            burn: &self.motor.burn,
            mean_n: flown.mean_n,
            length_s: flown.impulse_ns / flown.mean_n,
            propellant_kg: flown.propellant_kg,
            misaligned_rad,
        }
    }
}
