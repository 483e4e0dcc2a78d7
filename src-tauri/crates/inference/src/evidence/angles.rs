//! Directions: single sightings, and a phone held on target.

use super::beyond::Beyond;
use super::{Heads, Target, ln_sum, ln_sum_of};
use crate::Priors;
use crate::learn::Adjustment;
use crate::model::{Drift, Model, Row, Story};
use crate::normal::ln_normal;
use crate::wind::true_bearing;
use core::f64::consts::{PI, TAU};
use windfall_facts::{LatLon, Moment, Sighting, SightingMethod, TimedBy, Track};
use windfall_quantities::Position;

const EYE_HEIGHT_M: f64 = 1.6;
/// Nearer than this no straight line does justice to an angle.
const NEAREST_M: f64 = 3.0;
/// Nobody points straighter up than this, as a cosine.
const LEAST_COS: f64 = 0.02;

/// Where an observer's eye is, m about the pad.
pub(crate) fn eye(from: Option<LatLon>, model: &Model) -> [f64; 3] {
    let offset = from
        .and_then(|place| Position::new(place.lat, place.lon).ok())
        .map(|place| model.frame.offset_of(place))
        .unwrap_or_default();
    [offset.east_m, offset.north_m, EYE_HEIGHT_M]
}

/// Bearing and elevation (rad) of a body as seen from an eye.
pub(crate) fn seen_from(eye_m: [f64; 3], at_m: [f64; 3]) -> (f64, f64) {
    let (east, north, up) = (at_m[0] - eye_m[0], at_m[1] - eye_m[1], at_m[2] - eye_m[2]);
    (east.atan2(north), up.atan2(east.hypot(north)))
}

fn half_turn(rad: f64) -> f64 {
    let turn = rad.rem_euclid(TAU);
    if turn > PI { turn - TAU } else { turn }
}

/// A direction as seen, and how it moves with the place seen: per metre towards east, north and up.
struct Sightline {
    bearing: f64,
    elevation: f64,
    bearing_by: [f64; 3],
    elevation_by: [f64; 3],
}

impl Sightline {
    fn to(eye_m: [f64; 3], at_m: [f64; 3]) -> Self {
        let (bearing, elevation) = seen_from(eye_m, at_m);
        let (east, north, up) = (at_m[0] - eye_m[0], at_m[1] - eye_m[1], at_m[2] - eye_m[2]);
        let level2 = (east * east + north * north).max(NEAREST_M * NEAREST_M);
        let level = level2.sqrt();
        let sinking = -up / (level2 + up * up);
        Self {
            bearing,
            elevation,
            bearing_by: [north / level2, -east / level2, 0.0],
            elevation_by: [sinking * east / level, sinking * north / level, level / (level2 + up * up)],
        }
    }
}

/// How far a direction passes a body, to its right and above it (rad), and what moves that.
///
/// # Model
/// The chord between the two directions, stretched to the true angle, along a level and an upright axis. At the body
/// itself these would do justice to an error made along the great circle, half-way to the direction to one made along the
/// circle of equal height; near the zenith the two part by more than an inclinometer's error, and nobody knows which it
/// was, so the axes stand between: a quarter of the way. For slopes they stand still.
struct Miss {
    across: f64,
    upwards: f64,
    /// Unit vector towards the body, and how far away it is.
    body: [f64; 3],
    distance_m: f64,
    /// The level and the upright axis, and how much the angle is longer than the chord's shadow on them.
    axes: [[f64; 3]; 2],
    stretch: f64,
}

/// A direction in which something was seen.
struct Ray {
    /// Sine and cosine of its bearing and of its elevation.
    bearing: (f64, f64),
    elevation: (f64, f64),
    /// Log of how much sky a degree of bearing is.
    ln_level: f64,
}

impl Ray {
    fn of(bearing: f64, elevation: f64) -> Self {
        let elevation = elevation.sin_cos();
        Self { bearing: bearing.sin_cos(), elevation, ln_level: elevation.1.max(LEAST_COS).ln() }
    }
}

/// What moves one component of a miss: the body's place, per metre towards east, north and up (the body's own direction
/// moves so, the miss against it); the direction's bearing and elevation.
struct By {
    place: [f64; 3],
    bearing: f64,
    elevation: f64,
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn length_of(a: f64, b: f64) -> f64 {
    (a * a + b * b).sqrt()
}

impl Miss {
    #[inline]
    fn of(eye_m: [f64; 3], at_m: [f64; 3], ray: &Ray) -> Self {
        let way: [f64; 3] = core::array::from_fn(|axis| at_m[axis] - eye_m[axis]);
        let distance_m = dot(way, way).sqrt().max(NEAREST_M);
        let body = way.map(|it| it / distance_m);
        let ((sin_b, cos_b), (sin_e, cos_e)) = (ray.bearing, ray.elevation);
        let seen = [cos_e * sin_b, cos_e * cos_b, sin_e];
        let chord: [f64; 3] = core::array::from_fn(|axis| seen[axis] - body[axis]);
        let between: [f64; 3] = core::array::from_fn(|axis| seen[axis] + 3.0 * body[axis]);
        let level = length_of(between[0], between[1]);
        // Straight up any axis will do: that of the direction.
        let (sin_m, cos_m) =
            if level > 1e-6 { (between[0] / level, between[1] / level) } else { (sin_b, cos_b) };
        let length = length_of(level, between[2]).max(1e-9);
        let (rise, run) = (between[2] / length, level / length);
        let axes = [[cos_m, -sin_m, 0.0], [-rise * sin_m, -rise * cos_m, run]];
        // The angle over the length of the chord's shadow on the axes; near nothing both are the chord.
        let shadow = length_of(dot(axes[0], chord), dot(axes[1], chord));
        let angle = 2.0 * (dot(chord, chord).sqrt() / 2.0).min(1.0).asin();
        let stretch = if shadow > 1e-6 { angle / shadow } else { 1.0 };
        let [across, upwards] = axes.map(|axis| stretch * dot(axis, chord));
        Self { across, upwards, body, distance_m, axes, stretch }
    }

    /// What moves the miss to the right and above.
    fn by(&self, ray: &Ray) -> [By; 2] {
        let ((sin_b, cos_b), (sin_e, cos_e)) = (ray.bearing, ray.elevation);
        let turned = [cos_e * cos_b, -cos_e * sin_b, 0.0];
        let raised = [-sin_e * sin_b, -sin_e * cos_b, cos_e];
        let Self { body, stretch, .. } = *self;
        let per_m = stretch / self.distance_m;
        self.axes.map(|axis| {
            let through = dot(axis, body);
            By {
                place: core::array::from_fn(|at| per_m * (axis[at] - through * body[at])),
                bearing: stretch * dot(axis, turned),
                elevation: stretch * dot(axis, raised),
            }
        })
    }
}

/// A latent offset: `mean + sigma x z[at]`.
#[derive(Clone, Copy, Debug, Default)]
struct Offset {
    at: usize,
    mean: f64,
    sigma: f64,
}

impl Offset {
    /// As earlier flights moved it.
    fn learned(self, model: &Model) -> Self {
        let Adjustment { mean, sigma } = model.adjustment(self.at);
        Self { mean: self.mean + self.sigma * mean, sigma: self.sigma * sigma, ..self }
    }

    fn of(self, z: &[f64]) -> f64 {
        if self.sigma > 0.0 { self.mean + self.sigma * z[self.at] } else { self.mean }
    }
}

fn clock(
    observer: Option<&str>,
    timed_by: Option<TimedBy>,
    model: &Model,
    heads: &Heads,
    priors: &Priors,
) -> Offset {
    // The watch starts with a tap, and an eye needs a moment to say what it sees.
    let at = heads.clock(observer, model);
    let start = timed_by.map_or("launch_time_tap", crate::told::launch_row);
    let sigma = priors.b("reaction_delay").hypot(priors.b(start));
    // The mean of what started the flight's own watch is with the reaction already.
    let late_s = timed_by.map_or(0.0, |by| priors.a(crate::told::launch_row(by)));
    Offset { at, mean: priors.a("reaction_delay") + late_s, sigma }.learned(model)
}

/// One sighting.
#[derive(Clone, Debug)]
pub(super) struct Sight {
    target: Target,
    moment: Moment,
    t_s: Option<f64>,
    bearing_rad: Option<f64>,
    elevation_rad: Option<f64>,
    beyond: Option<Beyond>,
    eye_m: [f64; 3],
    across_rad: f64,
    elevation_sigma_rad: f64,
    /// Log density of a miss of nothing.
    ln_best: f64,
    clock: Offset,
    click_s: f64,
    heading: Offset,
    tilt: Offset,
}

impl Sight {
    pub(super) fn of(it: &Sighting, target: Target, model: &Model, heads: &Heads, priors: &Priors) -> Self {
        let (observer, phone) = (it.observer.as_deref(), it.phone.as_deref());
        let pointing = (priors.b("pointing_bearing"), priors.b("pointing_elevation"));
        let (across_deg, elevation_deg) = match it.method {
            SightingMethod::Phone => pointing,
            SightingMethod::Compass => {
                (priors.b("instrument_direction_compass"), priors.b("pointing_eye_fists"))
            }
            SightingMethod::Eye => (priors.b("instrument_direction_eye"), priors.b("pointing_eye_fists")),
            // In line with a landmark: half of a pointed phone (judgement); its height is still judged by eye.
            SightingMethod::Line => (pointing.0 / 2.0, priors.b("pointing_eye_fists")),
        };
        let at = heads.heading(phone, observer, model);
        let by_phone = it.method == SightingMethod::Phone;
        let bias = |at: usize, degrees: f64| {
            if by_phone {
                Offset { at, mean: 0.0, sigma: degrees.to_radians() }.learned(model)
            } else {
                Offset::default()
            }
        };
        let across_rad = it.sigma_deg.unwrap_or(across_deg).max(0.1).to_radians();
        let elevation_sigma_rad =
            it.sigma_deg.map_or(elevation_deg, |sigma| sigma.min(elevation_deg)).max(0.1);
        let elevation_sigma_rad = elevation_sigma_rad.to_radians();
        let eye_m = eye(it.from, model);
        Self {
            target,
            moment: it.moment,
            t_s: it.t_s,
            bearing_rad: it
                .bearing_deg
                .and_then(|degrees| true_bearing(degrees, it.north, model.declination))
                .map(windfall_quantities::Bearing::radians),
            elevation_rad: it.elevation_deg.map(f64::to_radians),
            beyond: Beyond::of(it, eye_m, model, priors),
            eye_m,
            across_rad,
            elevation_sigma_rad,
            ln_best: ln_normal(0.0, across_rad) + ln_normal(0.0, elevation_sigma_rad),
            clock: clock(observer, it.timed_by, model, heads, priors),
            click_s: priors.b("click_time"),
            heading: bias(at, priors.b("heading_bias_phone_unchecked")),
            tilt: bias(at + 1, priors.b("elevation_offset_phone")),
        }
    }

    /// Whether it was seen somewhere on its way, not at an event.
    fn on_the_way(&self) -> bool {
        matches!(self.moment, Moment::Descent | Moment::Lost)
    }

    /// When the body was where it was seen, s; none if that is not one moment.
    fn when_s(&self, story: &Story, body: usize, z: &[f64]) -> Option<f64> {
        match self.moment {
            Moment::Apogee => Some(story.apogee(body).0),
            Moment::Deployment => story.let_go_s(body),
            Moment::Landed => Some(story.landed_s(body)),
            Moment::Descent | Moment::Lost => Some(self.t_s? - self.clock.of(z)),
        }
    }

    /// Times on the way down at which it may have been seen, if nobody said when.
    fn some_time_s(from_s: f64, landed_s: f64) -> impl Iterator<Item = f64> {
        (0..TIMES).map(move |index| from_s + (landed_s - from_s) * (index as f64 + 0.5) / TIMES as f64)
    }

    /// Adds the moments at which it asks where a body is.
    pub(super) fn asks(&self, story: &Story, z: &[f64], asked: &mut Vec<(usize, f64)>) {
        let body = self.target.body(story);
        match self.when_s(story, body, z) {
            Some(t_s) => asked.push((body, t_s)),
            None if self.on_the_way() => {
                let times = Self::some_time_s(story.apogee(body).0, story.landed_s(body));
                asked.extend(times.step_by(3).map(|t_s| (body, t_s)));
            }
            None => {}
        }
    }

    /// Takes the direction into the linear block, about its present mean. Returns the log of the factors that do not
    /// depend on the block; none if nothing could be taken in.
    pub(super) fn take_into(
        &self,
        drift: &mut Drift,
        story: &Story,
        z: &[f64],
        phones: Columns,
    ) -> Option<f64> {
        let body = self.target.body(story);
        let t_s = self.when_s(story, body, z)?;
        let timed = self.on_the_way();
        // A click that is off by click_s shows another direction: the change is an error more.
        let shift_s = if timed { self.click_s } else { 0.0 };
        let at = |shift_s: f64| story.at(body, t_s + shift_s);
        let [ahead_m, behind_m] = [shift_s, -shift_s].map(at);
        let basis = story.basis(body, t_s);
        let place = |row: &mut Row, by: [f64; 3]| {
            if t_s >= story.landed_s(body) {
                phones.landing(row, story, body, by);
            } else {
                phones.place(row, basis, by);
            }
        };
        let x = drift.mean().to_vec();
        let mut ln = match (timed, self.t_s) {
            (false, Some(said_s)) => ln_normal(said_s - self.clock.of(z) - t_s, self.click_s),
            _ => 0.0,
        };
        if let Some(ray) = self.direction(z) {
            let miss = Miss::of(self.eye_m, at(0.0), &ray);
            let by = miss.by(&ray);
            let moved_m = core::array::from_fn(|axis| (ahead_m[axis] - behind_m[axis]) / 2.0);
            let [across, upwards] = [0, 1].map(|axis| dot(by[axis].place, moved_m));
            let sigmas = [length_of(self.across_rad, across), length_of(self.elevation_sigma_rad, upwards)];
            let missed = [miss.across, miss.upwards];
            for row in phones.rows(missed, &by, sigmas, [self.heading, self.tilt], &x, place) {
                drift.take(&row);
            }
            return Some(ln + phones.level(drift, &ray, self.tilt, self.tilt.of(z)));
        }
        let line = Sightline::to(self.eye_m, at(0.0));
        let [ahead, behind] = [ahead_m, behind_m].map(|at_m| seen_from(self.eye_m, at_m));
        if let Some(seen) = self.bearing_rad {
            let level = line.elevation.cos().max(LEAST_COS);
            let sigma = self.across_rad.hypot(level * half_turn(ahead.0 - behind.0) / 2.0);
            let mut row = Row::new(sigma);
            place(&mut row, line.bearing_by.map(|by| by * level));
            phones.offset(&mut row, self.heading, level);
            let turn = half_turn(seen - line.bearing - self.heading.of(z));
            drift.take(&row.with_residual(turn * level, &x));
            ln += level.ln();
        }
        if let Some(seen) = self.elevation_rad {
            let mut row = Row::new(self.elevation_sigma_rad.hypot((ahead.1 - behind.1) / 2.0));
            place(&mut row, line.elevation_by);
            phones.offset(&mut row, self.tilt, 1.0);
            let residual = seen - line.elevation - self.tilt.of(z);
            drift.take(&row.with_residual(residual, &x));
        }
        Some(ln)
    }

    /// What the times say, over their error; and the direction, if it is of no one moment.
    pub(super) fn residuals(&self, story: &Story, z: &[f64], out: &mut Vec<f64>) {
        let body = self.target.body(story);
        match (self.when_s(story, body, z), self.t_s) {
            (Some(event_s), Some(said_s)) if !self.on_the_way() => {
                out.push((said_s - self.clock.of(z) - event_s) / self.click_s);
                out.extend(self.beyond.map(|it| it.residual(story.at(body, event_s))));
            }
            (Some(when_s), _) => {
                out.push((story.landed_s(body) - when_s) / CUT_S);
                out.extend(self.beyond.map(|it| it.residual(story.at(body, when_s))));
            }
            (None, _) => {
                let from_s = story.apogee(body).0;
                for when_s in Self::some_time_s(from_s, story.landed_s(body)).step_by(4) {
                    let at_m = story.at(body, when_s);
                    let (bearing, elevation) = seen_from(self.eye_m, at_m);
                    let turn = self.bearing_rad.map_or(0.0, |seen| half_turn(seen - bearing));
                    let rise = self.elevation_rad.map_or(0.0, |seen| seen - elevation);
                    out.extend([turn / (2.0 * self.across_rad), rise / (2.0 * self.elevation_sigma_rad)]);
                    out.extend(self.beyond.map(|it| it.residual(at_m)));
                }
            }
        }
    }

    pub(super) fn ln_likelihood(&self, story: &Story, z: &[f64]) -> f64 {
        let body = self.target.body(story);
        let landed_s = story.landed_s(body);
        let event_s = if self.on_the_way() {
            None
        } else {
            // Nothing came out: then something else was seen.
            let Some(event_s) = self.when_s(story, body, z) else { return f64::NEG_INFINITY };
            Some(event_s)
        };
        // Lost may be on the way up; a descent begins at the top, or a little before if it opened early.
        let down_from_s = story.down_from_s(body);
        let from_s = if self.moment == Moment::Lost { f64::NEG_INFINITY } else { down_from_s };
        let ray = self.direction(z);
        let ln_direction = |when_s: f64| {
            let at_m = story.at(body, when_s);
            let side = self.beyond.map_or(0.0, |it| it.ln_likelihood(at_m));
            self.ln_direction(at_m, ray.as_ref(), z) + side
        };
        match (event_s, self.t_s) {
            (Some(event_s), said) => {
                let time = said.map_or(0.0, |t_s| ln_normal(t_s - self.clock.of(z) - event_s, self.click_s));
                time + ln_direction(event_s)
            }
            (None, Some(t_s)) => {
                // The click is off by click_s: three-point Gauss-Hermite over it.
                let t_s = t_s - self.clock.of(z);
                let step_s = self.click_s * 3.0_f64.sqrt();
                let at = |shift_s: f64, share: f64| {
                    let when_s = t_s + shift_s;
                    f64::ln(share) + ln_direction(when_s) + ln_in_the_air(when_s, from_s, landed_s)
                };
                ln_sum_of([at(0.0, 2.0 / 3.0), at(-step_s, 1.0 / 6.0), at(step_s, 1.0 / 6.0)])
                    + ln_any_time(down_from_s, landed_s)
            }
            (None, None) => {
                // Some time on the way down, none likelier than another.
                Self::some_time_s(down_from_s, landed_s)
                    .map(|when_s| ln_direction(when_s) - (TIMES as f64).ln())
                    .fold(f64::NEG_INFINITY, ln_sum)
            }
        }
    }

    /// The direction in which both angles point, biases taken off; none if one was not seen.
    fn direction(&self, z: &[f64]) -> Option<Ray> {
        Some(Ray::of(self.bearing_rad? - self.heading.of(z), self.elevation_rad? - self.tilt.of(z)))
    }

    /// Isotropic on the sphere: with both angles seen, the two components of the miss; with one alone, its own law.
    fn ln_direction(&self, at_m: [f64; 3], ray: Option<&Ray>, z: &[f64]) -> f64 {
        if let Some(ray) = ray {
            let miss = Miss::of(self.eye_m, at_m, ray);
            let (across, upwards) = (miss.across / self.across_rad, miss.upwards / self.elevation_sigma_rad);
            return self.ln_best + ray.ln_level - 0.5 * (across * across + upwards * upwards);
        }
        let (bearing, elevation) = seen_from(self.eye_m, at_m);
        let mut sum = 0.0;
        if let Some(seen) = self.bearing_rad {
            // The azimuth's share of the error grows as 1 / cos(elevation).
            let level = elevation.cos().max(LEAST_COS);
            let turn = half_turn(seen - bearing - self.heading.of(z));
            sum += ln_normal(turn * level, self.across_rad) + level.ln();
        }
        if let Some(seen) = self.elevation_rad {
            sum += ln_normal(seen - elevation - self.tilt.of(z), self.elevation_sigma_rad);
        }
        sum
    }

    /// A mistaken sighting: another thing in the sky, anywhere, at any time of a minute.
    pub(super) fn ln_wide(&self) -> f64 {
        let timed =
            matches!(self.moment, Moment::Apogee | Moment::Deployment | Moment::Landed) && self.t_s.is_some();
        let bearing = self.bearing_rad.map_or(0.0, |_| -TAU.ln());
        let elevation = self.elevation_rad.map_or(0.0, |_| -(PI / 2.0).ln());
        let side = self.beyond.map_or(0.0, |_| Beyond::LN_WIDE);
        bearing + elevation + side + if timed { -60.0_f64.ln() } else { 0.0 }
    }
}

/// Log density, over one a minute, of a moment that is any on the way down: a flight that came down fast had less time
/// in which to be seen.
fn ln_any_time(from_s: f64, landed_s: f64) -> f64 {
    -((landed_s - from_s).max(2.0) / 60.0).ln()
}

/// Log chance that it was on its way down: logistic in time at both ends, half a second wide.
fn ln_in_the_air(when_s: f64, from_s: f64, landed_s: f64) -> f64 {
    const WIDTH_S: f64 = 0.5;
    // Far inside nothing is left of it in a double.
    let ln_logistic = |x: f64| if x > 40.0 { 0.0 } else { -(-x).exp().ln_1p() };
    let below = ((landed_s - when_s) / WIDTH_S).max(-600.0);
    let above = ((when_s - from_s) / WIDTH_S + 4.0).max(-600.0); // words for "opened" and "out" differ by seconds
    ln_logistic(below) + ln_logistic(above)
}

/// A phone held on target: block means, each with an error that remembers the one before.
#[derive(Clone, Debug)]
pub(super) struct Trail {
    target: Target,
    blocks: Vec<Block>,
    eye_m: [f64; 3],
    across_rad: f64,
    elevation_sigma_rad: f64,
    clock: Offset,
    heading: Offset,
    tilt: Offset,
}

#[derive(Clone, Copy, Debug)]
struct Block {
    /// Mean and standard deviation of the times of its samples.
    t_s: f64,
    spread_s: f64,
    bearing_rad: f64,
    elevation_rad: f64,
    /// Cosine of the elevation.
    level: f64,
    /// The pointing error of a block is `keep` times that of the one before and `rest` times a fresh one.
    keep: f64,
    rest: f64,
}

impl Block {
    /// Where it points, the phone's errors taken off.
    fn ray(&self, heading: f64, tilt: f64) -> Ray {
        Ray::of(self.bearing_rad - heading, self.elevation_rad - tilt)
    }
}

/// Length of a block that begins at a time, s: one on the way up, where a rocket turns fast, longer when it sails. Nothing
/// but the time decides, so that a track that grows keeps the blocks it has.
fn block_length_s(from_s: f64) -> f64 {
    match from_s {
        ..10.0 => 1.0,
        ..40.0 => 3.0,
        _ => 5.0,
    }
}
/// Between nodes of a track gusts carry a body evenly: shorter than their memory, but for a track so long that there
/// would be more than this many.
const NODES_EVERY_S: f64 = 4.0;
const MOST_NODES: f64 = 20.0;
/// "Still in the air" cuts times of landing within about this, for the eye of the fit, s.
const CUT_S: f64 = 4.0;
/// Moments at which a sighting without a time is tried.
const TIMES: usize = 12;

/// Where the coordinates of the phones stand.
#[derive(Clone, Copy, Debug)]
pub(super) struct Columns {
    /// In the linear block.
    pub(super) block: usize,
    /// Among all standard normals.
    pub(super) latent: usize,
}

impl Columns {
    /// A place on a body's way moves a row by `by` per metre towards east, north and up.
    fn place(self, row: &mut Row, basis: [(usize, f64); 2], by: [f64; 3]) {
        for (node, share) in basis {
            for (axis, by) in by.into_iter().enumerate() {
                row.depends(3 * node + axis, share * by);
            }
        }
    }

    /// The landing, which stays on the ground.
    fn landing(self, row: &mut Row, story: &Story, body: usize, by: [f64; 3]) {
        if let Some((node, farther)) = story.landing_node(body) {
            row.depends(3 * node, by[0]);
            row.depends(3 * node + 1, by[1]);
            row.depends(3 * node + 2, by[0] * farther[0] + by[1] * farther[1]);
        }
    }

    /// The two components of a miss as rows about `x`; `place` says how the body's place moves a row.
    fn rows(
        self,
        [across, upwards]: [f64; 2],
        by: &[By; 2],
        sigmas: [f64; 2],
        [heading, tilt]: [Offset; 2],
        x: &[f64],
        place: impl Fn(&mut Row, [f64; 3]),
    ) -> [Row; 2] {
        let row = |residual: f64, sigma: f64, by: &By| {
            let mut row = Row::new(sigma);
            place(&mut row, by.place);
            self.offset(&mut row, heading, by.bearing);
            self.offset(&mut row, tilt, by.elevation);
            row.with_residual(residual, x)
        };
        [row(across, sigmas[0], &by[0]), row(upwards, sigmas[1], &by[1])]
    }

    /// Value of an offset at a point of the linear block.
    fn value(self, offset: Offset, x: &[f64]) -> f64 {
        offset.mean + offset.sigma * x[self.block + offset.at - self.latent]
    }

    /// Takes in how a phone's tilt moves a direction to where a degree of bearing is more or less of the sky, to first
    /// order about a value; returns the log of that value's factor.
    fn level(self, drift: &mut Drift, ray: &Ray, tilt: Offset, value: f64) -> f64 {
        let (sin, cos) = ray.elevation;
        if tilt.sigma == 0.0 || cos < LEAST_COS {
            return ray.ln_level;
        }
        let slope = sin / cos;
        drift.favour(self.block + tilt.at - self.latent, slope * tilt.sigma);
        ray.ln_level - slope * (value - tilt.mean)
    }

    fn offset(self, row: &mut Row, offset: Offset, factor: f64) {
        if offset.sigma > 0.0 {
            row.depends(self.block + offset.at - self.latent, factor * offset.sigma);
        }
    }
}

impl Trail {
    pub(super) fn of(it: &Track, target: Target, model: &Model, heads: &Heads, priors: &Priors) -> Self {
        let (observer, phone) = (it.observer.as_deref(), it.phone.as_deref());
        let at = heads.heading(phone, observer, model);
        let across_rad = priors.b("track_pointing").to_radians();
        Self {
            target,
            blocks: block_means(it, model, priors.a("track_correlation_time")),
            eye_m: eye(it.from, model),
            across_rad,
            elevation_sigma_rad: across_rad / 2.0,
            clock: clock(observer, it.timed_by, model, heads, priors),
            heading: Offset { at, mean: 0.0, sigma: priors.b("heading_bias_phone_unchecked").to_radians() }
                .learned(model),
            tilt: Offset { at: at + 1, mean: 0.0, sigma: priors.b("elevation_offset_phone").to_radians() }
                .learned(model),
        }
    }

    /// Adds the moments at which it asks where a body is.
    pub(super) fn asks(&self, story: &Story, z: &[f64], asked: &mut Vec<(usize, f64)>) {
        let body = self.target.body(story);
        let clock_s = self.clock.of(z);
        let length_s = self.blocks.last().map_or(0.0, |last| last.t_s - self.blocks[0].t_s);
        let every_s = NODES_EVERY_S.max(length_s / MOST_NODES);
        let mut next_s = f64::NEG_INFINITY;
        for (index, block) in self.blocks.iter().enumerate() {
            let t_s = block.t_s - clock_s;
            if t_s >= next_s || index + 1 == self.blocks.len() {
                asked.push((body, t_s));
                next_s = t_s + every_s;
            }
        }
    }

    /// Takes the track into the linear block, as [`Sight::take_into`].
    pub(super) fn take_into(
        &self,
        drift: &mut Drift,
        story: &mut Story,
        z: &[f64],
        phones: Columns,
    ) -> Option<f64> {
        let body = self.target.body(story);
        let clock_s = self.clock.of(z);
        let mut before: Option<(Row, Row)> = None;
        let mut ln = 0.0;
        for block in &self.blocks {
            let when_s = block.t_s - clock_s;
            let x = drift.mean();
            story.carry(x);
            let [heading, tilt] = [self.heading, self.tilt].map(|offset| phones.value(offset, x));
            let ray = block.ray(heading, tilt);
            let by = Miss::of(self.eye_m, story.at(body, when_s), &ray).by(&ray);
            let missed = self.missed(block, &ray, story, body, when_s);
            let basis = story.basis(body, when_s);
            let sigmas = [self.across_rad, self.elevation_sigma_rad].map(|sigma| sigma * block.rest);
            let place = |row: &mut Row, by| phones.place(row, basis, by);
            let [across, upwards] = phones.rows(missed, &by, sigmas, [self.heading, self.tilt], x, place);
            match &before {
                Some((a, b)) => {
                    drift.take(&across.less(block.keep, a));
                    drift.take(&upwards.less(block.keep, b));
                }
                None => {
                    drift.take(&across);
                    drift.take(&upwards);
                }
            }
            ln += phones.level(drift, &ray, self.tilt, tilt);
            before = Some((across, upwards));
        }
        Some(ln)
    }

    /// How many sightings it is worth, about, to one that looks for a way to it.
    pub(super) fn breadth(&self) -> f64 {
        (self.blocks.len() as f64).sqrt().max(1.0)
    }

    /// How far a block passes a body, to its right and above it, in the mean: that of one standard deviation of its times
    /// before and after its middle, for a body that passes near by does not move evenly.
    fn missed(&self, block: &Block, ray: &Ray, story: &Story, body: usize, when_s: f64) -> [f64; 2] {
        let at = |shift_s: f64| {
            let miss = Miss::of(self.eye_m, story.at(body, when_s + shift_s), ray);
            [miss.across, miss.upwards]
        };
        if block.spread_s == 0.0 {
            return at(0.0);
        }
        let (early, late) = (at(-block.spread_s), at(block.spread_s));
        [0, 1].map(|axis| f64::midpoint(early[axis], late[axis]))
    }

    pub(super) fn blocks(&self) -> usize {
        self.blocks.len()
    }

    /// How long before it landed the track ends.
    pub(super) fn residuals(&self, story: &Story, z: &[f64], out: &mut Vec<f64>) {
        if let Some(last) = self.blocks.last() {
            let landed_s = story.landed_s(self.target.body(story));
            out.push((landed_s - last.t_s + self.clock.of(z)) / CUT_S);
        }
    }

    pub(super) fn ln_likelihood(&self, story: &Story, z: &[f64]) -> f64 {
        let body = self.target.body(story);
        let (clock_s, heading, tilt) = (self.clock.of(z), self.heading.of(z), self.tilt.of(z));
        let landed_s = story.landed_s(body);
        let mut sum = 0.0;
        let (mut last_s, mut before) = (None, (0.0, 0.0));
        for block in &self.blocks {
            let when_s = block.t_s - clock_s;
            let ray = block.ray(heading, tilt);
            let [across, upwards] = self.missed(block, &ray, story, body, when_s);
            // A tilt of the phone moves a direction to where a degree of bearing is another piece of the sky.
            sum += ln_normal(across - block.keep * before.0, self.across_rad * block.rest)
                + ln_normal(upwards - block.keep * before.1, self.elevation_sigma_rad * block.rest)
                + ray.ln_level;
            before = (across, upwards);
            last_s = Some(when_s);
        }
        if let Some(last_s) = last_s {
            let down_from_s = story.down_from_s(body);
            sum += ln_in_the_air(last_s, f64::NEG_INFINITY, landed_s) + ln_any_time(down_from_s, landed_s);
        }
        sum
    }

    /// A mistaken track: another thing was followed, from anywhere in the sky, that moved evenly or as it pleased.
    pub(super) fn ln_wide(&self) -> f64 {
        let level: f64 = self.blocks.iter().map(|block| block.level.ln()).sum();
        let half = 0.5_f64.ln();
        level + ln_sum(half + self.ln_even_motion(), half + self.ln_wandering())
    }

    /// Ten degrees a second this way or that is a bird near by: judgement.
    fn ln_wandering(&self) -> f64 {
        let mut sum = -TAU.ln(); // the hemisphere
        for pair in self.blocks.windows(2) {
            let step_s = pair[1].t_s - pair[0].t_s;
            let turn = half_turn(pair[1].bearing_rad - pair[0].bearing_rad) * pair[1].level;
            let climb = pair[1].elevation_rad - pair[0].elevation_rad;
            let loose = 10.0_f64.to_radians() * step_s.max(0.1);
            sum += ln_normal(turn, loose) + ln_normal(climb, loose / 2.0);
        }
        sum
    }

    /// A bird that sails, an aircraft, another rocket under its parachute: bearing and elevation change evenly, by some
    /// degrees a second (judgement), and the phone is held on it as on the rocket.
    fn ln_even_motion(&self) -> f64 {
        let rates = [4.0_f64, 2.0].map(f64::to_radians);
        let mut bearing_rad = self.blocks.first().map_or(0.0, |block| block.bearing_rad);
        let directions: Vec<[f64; 2]> = self
            .blocks
            .iter()
            .map(|block| {
                bearing_rad += half_turn(block.bearing_rad - bearing_rad);
                [bearing_rad, block.elevation_rad]
            })
            .collect();
        let along = |axis: usize, sigma_rad: f64, stretched: bool| {
            let rows = self.blocks.iter().zip(&directions).map(|(block, direction)| {
                let by = if stretched { block.level } else { 1.0 } / sigma_rad;
                ([by * direction[axis], by, by * (block.t_s - self.blocks[0].t_s)], block.keep, block.rest)
            });
            ln_straight(rows, rates[axis]) - self.blocks.len() as f64 * sigma_rad.ln()
        };
        along(0, self.across_rad, true) - TAU.ln() + along(1, self.elevation_sigma_rad, false)
            - (PI / 2.0).ln()
    }
}

/// Log density of numbers that lie on a straight line but for errors of unit variance that remember the one before;
/// where the line starts is free, its slope has standard deviation `slope`.
///
/// Each row: the number, the start's and the slope's share in it; how much of the error before it keeps, and how much is
/// fresh.
fn ln_straight(rows: impl Iterator<Item = ([f64; 3], f64, f64)>, slope: f64) -> f64 {
    let (mut before, mut ln) = ([0.0; 3], -slope.ln() + 0.5 * TAU.ln());
    // Of the least squares: sums of products of number, start and slope.
    let (mut yy, mut y, mut a) = (0.0, [0.0; 2], [0.0, 0.0, 1.0 / (slope * slope)]);
    for (row, keep, rest) in rows {
        let [own, start, slope]: [f64; 3] = core::array::from_fn(|at| (row[at] - keep * before[at]) / rest);
        (yy, y) = (yy + own * own, [y[0] + own * start, y[1] + own * slope]);
        a = [a[0] + start * start, a[1] + start * slope, a[2] + slope * slope];
        ln -= rest.ln() + 0.5 * TAU.ln();
        before = row;
    }
    let determinant = a[0] * a[2] - a[1] * a[1];
    let fitted = (a[2] * y[0] * y[0] - 2.0 * a[1] * y[0] * y[1] + a[0] * y[1] * y[1]) / determinant;
    ln - 0.5 * (determinant.ln() + yy - fitted)
}

/// Means over blocks, directions averaged as vectors, with the law of their errors.
///
/// # Model
/// The error of a held phone is an Ornstein-Uhlenbeck process of unit variance; of each block's mean its variance and
/// its correlation with the block before are summed over the samples, and further memory is left out.
fn block_means(it: &Track, model: &Model, memory_s: f64) -> Vec<Block> {
    let mut blocks: Vec<Block> = Vec::new();
    let mut before: Option<(&[[f64; 3]], f64)> = None;
    let mut start = 0;
    while start < it.samples.len() {
        let from_s = it.samples[start][0];
        let until_s = from_s + block_length_s(from_s);
        let end = it.samples.partition_point(|sample| sample[0] < until_s).max(start + 1);
        let own = &it.samples[start..end];
        let (mut east, mut north, mut up, mut t_s) = (0.0, 0.0, 0.0, 0.0);
        for [when_s, bearing_deg, elevation_deg] in own {
            let bearing = true_bearing(*bearing_deg, it.north, model.declination);
            let (sin, cos) = bearing.map_or(0.0, windfall_quantities::Bearing::radians).sin_cos();
            let (rise, level) = elevation_deg.to_radians().sin_cos();
            east += level * sin;
            north += level * cos;
            up += rise;
            t_s += when_s;
        }
        let together = |other: &[[f64; 3]]| {
            let pairs = own.iter().flat_map(|a| other.iter().map(move |b| (a[0] - b[0]).abs()));
            pairs.map(|apart_s| (-apart_s / memory_s).exp()).sum::<f64>() / (own.len() * other.len()) as f64
        };
        let variance = together(own);
        let keep = before.map_or(0.0, |(samples, variance)| together(samples) / variance);
        let left = before.map_or(variance, |(_, earlier)| variance - keep * keep * earlier);
        let elevation_rad = up.atan2(east.hypot(north));
        let t_s = t_s / own.len() as f64;
        let spread = own.iter().map(|sample| (sample[0] - t_s).powi(2)).sum::<f64>() / own.len() as f64;
        blocks.push(Block {
            t_s,
            spread_s: spread.sqrt(),
            bearing_rad: east.atan2(north),
            elevation_rad,
            level: elevation_rad.cos().max(LEAST_COS),
            keep,
            rest: left.max(1e-4).sqrt(),
        });
        before = Some((own, variance));
        start = end;
    }
    blocks
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_miss_is_the_angle_between_two_directions_and_moves_as_its_slopes_say() {
        let (eye_m, at_m) = ([3.0, -2.0, 1.6], [40.0, 70.0, 90.0]);
        let mut slopes_checked = false;
        for (bearing, elevation) in [(0.47, 0.835), (0.4, 0.8), (0.6, 1.5), (2.9, 0.2)] {
            let ray = Ray::of(bearing, elevation);
            let miss = |at_m| Miss::of(eye_m, at_m, &ray);
            let here = miss(at_m);
            let by = here.by(&ray);
            let (b, e) = seen_from(eye_m, at_m);
            // Spherical law of cosines.
            let angle = (e.sin() * elevation.sin() + e.cos() * elevation.cos() * (b - bearing).cos()).acos();
            assert!((here.across.hypot(here.upwards) - angle).abs() < 1e-4, "{bearing} {elevation}");
            if angle < 0.02 {
                let slopes = |moved: Miss, step: f64| {
                    ((moved.across - here.across) / step, (moved.upwards - here.upwards) / step)
                };
                let mut seen_slopes = Vec::new();
                for axis in 0..3 {
                    let mut there_m = at_m;
                    there_m[axis] += 0.01;
                    let (across, upwards) = slopes(miss(there_m), 0.01);
                    seen_slopes.push((-across, by[0].place[axis]));
                    seen_slopes.push((-upwards, by[1].place[axis]));
                }
                let turned = slopes(Miss::of(eye_m, at_m, &Ray::of(bearing + 1e-4, elevation)), 1e-4);
                let raised = slopes(Miss::of(eye_m, at_m, &Ray::of(bearing, elevation + 1e-4)), 1e-4);
                seen_slopes.push((turned.0, by[0].bearing));
                seen_slopes.push((turned.1, by[1].bearing));
                seen_slopes.push((raised.0, by[0].elevation));
                seen_slopes.push((raised.1, by[1].elevation));
                for (seen, said) in seen_slopes {
                    assert!((seen - said).abs() < 0.02 * said.abs() + 3e-3 * turned.0, "{seen} {said}");
                }
                slopes_checked = true;
            }
        }
        assert!(slopes_checked);
    }

    #[test]
    fn numbers_on_a_straight_line_are_as_likely_as_their_summed_density_says() {
        // Three numbers whose errors remember the one before, against the sum over a grid of starts and slopes.
        let (numbers, times, keep, rest, sigma) = ([0.3, 1.4, 1.9], [0.0, 1.0, 2.5], 0.4, 0.9, 0.7);
        let rows = (0..3).map(|at| {
            let keep = if at == 0 { 0.0 } else { keep };
            ([numbers[at], 1.0, times[at]], keep, rest)
        });
        let mut sum = 0.0;
        let (step, half) = (0.02, 400);
        for start in -half..=half {
            for slope in -half..=half {
                let (start, slope) = (step * f64::from(start), step * f64::from(slope));
                let mut ln = ln_normal(slope, sigma);
                let mut before = 0.0;
                for at in 0..3 {
                    let error = numbers[at] - start - slope * times[at];
                    ln += ln_normal(error - if at == 0 { 0.0 } else { keep * before }, rest);
                    before = error;
                }
                sum += step * step * ln.exp();
            }
        }
        let ln = ln_straight(rows, sigma);
        assert!((ln - f64::ln(sum)).abs() < 1e-6, "{ln} against {}", f64::ln(sum));
    }

    #[test]
    fn an_error_across_high_up_is_hardly_one_upwards_whichever_way_it_was_made() {
        // Four degrees across at 80 degrees: the great circle falls by 0.8 degrees below the circle of equal height. Of
        // that half is left either way.
        let (eye_m, at_m) = ([0.0; 3], [0.0, 100.0 * 10.0_f64.to_radians().tan(), 100.0]);
        let elevation = 80.0_f64.to_radians();
        let across = 4.0_f64.to_radians();
        let level = Miss::of(eye_m, at_m, &Ray::of(across / elevation.cos(), elevation));
        let fallen = (elevation.sin() * across.cos()).asin();
        let bearing = across.sin().atan2(across.cos() * elevation.cos());
        let great = Miss::of(eye_m, at_m, &Ray::of(bearing, fallen));
        let fall = (elevation - fallen).to_degrees();
        assert!((0.7..0.9).contains(&fall));
        for (miss, left) in [(level, 0.5), (great, -0.5)] {
            assert!((miss.upwards.to_degrees() / fall - left).abs() < 0.05, "{}", miss.upwards.to_degrees());
            assert!((miss.across / across - 1.0).abs() < 0.03);
        }
    }
}
