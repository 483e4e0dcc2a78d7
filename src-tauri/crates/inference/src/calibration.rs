//! Truths drawn from the estimator's own prior and told by its own model, and where they stand among the draws.
//!
//! # Source
//! S. Talts, M. Betancourt, D. Simpson, A. Vehtari, A. Gelman, Validating Bayesian inference algorithms with
//! simulation-based calibration, arXiv 1804.06788 (2018), from memory: ranks of truths among draws are uniform.

use crate::cloud::Cloud;
use crate::evidence::{Heads, Witnesses, eye, seen_from};
use crate::model::{Drift, Model, Story, coordinate};
use crate::{Beliefs, LocateError, Priors};
use core::f64::consts::{E, TAU};
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;
use windfall_facts::{Evidence, Flight, Mode, Moment, Named, Sighting, Track};
use windfall_quantities::Offset;

/// Between points of this spacing gusts carry a body evenly: a fraction of the shortest memory of a gust, s.
const GRID_S: f64 = 1.0;

/// What is true of one simulated flight, and can be read off every draw.
#[derive(Clone, Debug, PartialEq)]
pub struct Truth {
    /// How it came down.
    pub mode: Mode,
    /// Name and value of each quantity: landing east and north of every part (m), apogee (m), log of the drag area over
    /// what the facts say, wind towards east and north at the height of the reading (m/s), heading bias of the first
    /// phone in standard deviations.
    pub quantities: Vec<(String, f64)>,
}

/// The errors that a flyer makes in one flight.
struct Teller<'a> {
    priors: &'a Priors,
    model: &'a Model,
    clock_s: f64,
    heading_deg: f64,
    tilt_deg: f64,
}

fn normal(rng: &mut impl Rng) -> f64 {
    rng.sample(StandardNormal)
}

/// A possible flight drawn from the prior of `template` (a flight with one phone and one observer), and the template with
/// its evidence told anew as the model says that flyers tell it. Sightings keep the figures they give and their moments,
/// tracks the rate and the number of their samples at most; what was said of the mode weighs the mode that is drawn. Tracks
/// are never mistaken.
///
/// # Errors
/// When the template lies outside the model's domain.
pub fn simulate(template: &Flight, priors: &Priors, seed: u64) -> Result<(Flight, Truth), LocateError> {
    let heads = Heads::of(template);
    let model = Model::of(template, priors, heads.coordinates(), &Beliefs::default())?;
    let words = Witnesses::of(template, &model, &heads, priors)?;
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut story = Story::default();
    let (mut drift, mut x) = (Drift::default(), Vec::new());
    loop {
        let odds: Vec<f64> =
            model.modes.iter().map(|(mode, prior)| prior * words.ln_of_words(*mode).exp()).collect();
        let mut pick = rng.random::<f64>() * odds.iter().sum::<f64>();
        let mode = model.modes.iter().zip(&odds).find(|(_, odds)| {
            pick -= **odds;
            pick < 0.0
        });
        let mode = mode.map_or(Mode::Opens, |((mode, _), _)| *mode);
        let z: Vec<f64> = (0..model.latents).map(|_| normal(&mut rng)).collect();
        model.tell(mode, &z, &mut story);
        if !story.is_finite() {
            continue;
        }
        let clock = z.get(model.clocks).copied().filter(|_| model.clocks < model.theta).unwrap_or(0.0);
        let phone = |at: usize| z.get(model.theta + at).copied().unwrap_or(0.0);
        let teller = Teller {
            priors,
            model: &model,
            clock_s: priors.a("reaction_delay")
                + clock * priors.b("reaction_delay").hypot(priors.b("launch_time_tap")),
            heading_deg: phone(0) * priors.b("heading_bias_phone_unchecked"),
            tilt_deg: phone(1) * priors.b("elevation_offset_phone"),
        };
        // Gusts blow first: when a thing can be seen depends on when it lands.
        let mut grid: Vec<(usize, f64)> = (0..story.bodies())
            .flat_map(|body| {
                let (from_s, until_s) = (story.down_from_s(body), story.landed_s(body));
                #[expect(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "minutes of steps"
                )]
                let steps = ((until_s - from_s) / GRID_S) as usize;
                (0..steps).map(move |step| (body, GRID_S.mul_add(step as f64, from_s)))
            })
            .collect();
        story.lay_nodes(&mut grid);
        drift.begin(&story, 0);
        drift.draw(|| normal(&mut rng), &mut x);
        if model.may_rest_elsewhere() {
            model.fate(&mut story, rng.random());
        }
        story.carry(&x);
        let whens: Vec<Vec<f64>> = template
            .evidence
            .iter()
            .map(|piece| teller.when_s(piece, body_of(template, piece, &story), &story, &mut rng))
            .collect();
        let mut flight = template.clone();
        let mut possible = true;
        for (piece, whens) in flight.evidence.iter_mut().zip(&whens) {
            let body = body_of(template, piece, &story);
            possible &= teller.tell(piece, body, whens, &story, &mut rng);
        }
        if !possible {
            continue; // a moment that this flight never had
        }
        let landing_m: Vec<[f64; 2]> = story.part_body.iter().map(|body| story.landing_m(*body)).collect();
        let quantities =
            quantities(&model, mode, &z[..model.theta], &z[model.theta..], &landing_m, story.apogee.at_m[2]);
        return Ok((flight, Truth { mode, quantities }));
    }
}

fn body_of(template: &Flight, piece: &Evidence, story: &Story) -> Option<usize> {
    let (part, seen) = match piece {
        Evidence::Sighting(it) => (it.part.as_deref(), true),
        Evidence::Track(it) => (it.part.as_deref(), true),
        Evidence::Find(it) => (Some(it.part.as_str()), false),
        Evidence::Altimeter(it) => (it.part.as_deref(), false),
        _ => return None,
    };
    match template.named(part)? {
        Named::Stage(stage) if seen => story.seen_body.get(stage).copied(),
        _ => template.part_index_for(part).map(|part| story.part_body[part]),
    }
}

impl Teller<'_> {
    /// The moments at which a piece sees its body.
    fn when_s(&self, piece: &Evidence, body: Option<usize>, story: &Story, rng: &mut impl Rng) -> Vec<f64> {
        let Some(body) = body else { return Vec::new() };
        let (from_s, landed_s) = (story.down_from_s(body), story.landed_s(body));
        let any_s = |rng: &mut _| from_s + (landed_s - from_s) * RngExt::random::<f64>(rng);
        match piece {
            Evidence::Sighting(it) => match it.moment {
                Moment::Apogee => vec![story.apogee(body).0],
                Moment::Deployment => story.let_go_s(body).into_iter().collect(),
                Moment::Landed => vec![f64::INFINITY],
                Moment::Descent | Moment::Lost => vec![any_s(rng)],
            },
            Evidence::Track(it) => {
                let last_s = any_s(rng);
                let step_s = match it.samples.as_slice() {
                    [first, second, ..] => second[0] - first[0],
                    _ => 1.0,
                };
                #[expect(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "minutes of samples"
                )]
                let count = (((last_s - from_s) / step_s) as usize + 1).min(it.samples.len().max(1));
                (0..count).rev().map(|back| last_s - step_s * back as f64).collect()
            }
            _ => Vec::new(),
        }
    }

    /// Puts what was seen and measured into a piece; false if there was nothing of the kind to see.
    fn tell(
        &self,
        piece: &mut Evidence,
        body: Option<usize>,
        whens: &[f64],
        story: &Story,
        rng: &mut impl Rng,
    ) -> bool {
        let Some(body) = body else { return true };
        match piece {
            Evidence::Sighting(it) => self.sighting(it, body, whens, story, rng),
            Evidence::Track(it) => {
                self.track(it, body, whens, story, rng);
                true
            }
            Evidence::Find(it) => {
                let radius_m = it.accuracy_m.unwrap_or_else(|| self.priors.b("position_accuracy_default"));
                let sigma_m = (radius_m / 1.51).hypot(2.0);
                let [east_m, north_m] = if self.is_mistaken(rng) {
                    let (radius_m, (sin, cos)) =
                        (1000.0 * rng.random::<f64>().sqrt(), (TAU * rng.random::<f64>()).sin_cos());
                    [radius_m * sin, radius_m * cos]
                } else {
                    story.landing_m(body).map(|m| m + sigma_m * normal(rng))
                };
                let place = self.model.frame.place_at(Offset { east_m, north_m });
                it.at = windfall_facts::LatLon { lat: place.lat_deg(), lon: place.lon_deg() };
                true
            }
            Evidence::Altimeter(it) => {
                let true_m = story.apogee(body).1[2];
                let noise = normal(rng);
                it.temperature_corrected = true;
                let right_m = true_m + noise * (self.priors.b("altimeter_apogee") * true_m + 1.0);
                let mistaken = self.is_mistaken(rng);
                it.apogee_m = it.apogee_m.map(|usual_m| {
                    // As dense in its logarithm as the model has it, sqrt(2 pi e) wide, about what the template gives.
                    let aside = (TAU * E).sqrt() * (rng.random::<f64>() - 0.5);
                    if mistaken { usual_m * aside.exp() } else { right_m.max(0.0) }
                });
                true
            }
            _ => true,
        }
    }

    /// Whether a find or an altimeter is that of something else.
    fn is_mistaken(&self, rng: &mut impl Rng) -> bool {
        rng.random::<f64>() < self.priors.a("mistaken_other")
    }

    fn sighting(
        &self,
        it: &mut Sighting,
        body: usize,
        whens: &[f64],
        story: &Story,
        rng: &mut impl Rng,
    ) -> bool {
        let Some(when_s) = whens.first().map(|t_s| t_s.min(story.landed_s(body))) else { return false };
        let (across, upwards) = (
            self.priors.b("pointing_bearing") * normal(rng),
            self.priors.b("pointing_elevation") * normal(rng),
        );
        let at_m = story.at(body, when_s);
        let mut seen = self.sees(eye(it.from, self.model), at_m, across, upwards);
        let mut t_s = when_s + self.clock_s + self.priors.b("click_time") * normal(rng);
        if rng.random::<f64>() < self.priors.a("mistaken_sighting") {
            seen = (rng.random_range(0.0..360.0), rng.random_range(0.0..90.0));
            t_s = rng.random_range(0.0..60.0);
        }
        it.bearing_deg = it.bearing_deg.map(|_| seen.0.rem_euclid(360.0));
        it.elevation_deg = it.elevation_deg.map(|_| seen.1);
        it.t_s = it.t_s.map(|_| t_s);
        true
    }

    fn track(&self, it: &mut Track, body: usize, whens: &[f64], story: &Story, rng: &mut impl Rng) {
        let sigma = self.priors.b("track_pointing");
        let memory_s = self.priors.a("track_correlation_time");
        let mut errors = [normal(rng), normal(rng)];
        let eye_m = eye(it.from, self.model);
        it.samples.clear();
        for (index, when_s) in whens.iter().enumerate() {
            if index > 0 {
                let keep = (-(when_s - whens[index - 1]) / memory_s).exp();
                errors = errors.map(|error| keep * error + (1.0 - keep * keep).sqrt() * normal(rng));
            }
            let (bearing, elevation) =
                self.sees(eye_m, story.at(body, *when_s), sigma * errors[0], 0.5 * sigma * errors[1]);
            it.samples.push([when_s + self.clock_s, bearing.rem_euclid(360.0), elevation]);
        }
    }

    /// Bearing and elevation, degrees, with errors across the line of sight and upwards on the sphere; what the phone
    /// says of that way is off by its own two errors.
    fn sees(&self, eye_m: [f64; 3], at_m: [f64; 3], across_deg: f64, upwards_deg: f64) -> (f64, f64) {
        let (bearing, elevation) = seen_from(eye_m, at_m);
        let ((sin_b, cos_b), (sin_e, cos_e)) = (bearing.sin_cos(), elevation.sin_cos());
        let (across, above) = (across_deg.to_radians(), upwards_deg.to_radians());
        let ahead = cos_e - above * sin_e;
        let way = [ahead * sin_b + across * cos_b, ahead * cos_b - across * sin_b, sin_e + above * cos_e];
        let level = way[0].hypot(way[1]);
        (
            way[0].atan2(way[1]).to_degrees() + self.heading_deg,
            way[2].atan2(level).to_degrees() + self.tilt_deg,
        )
    }
}

fn quantities(
    model: &Model,
    mode: Mode,
    theta: &[f64],
    phones: &[f64],
    landing_m: &[[f64; 2]],
    apogee_m: f64,
) -> Vec<(String, f64)> {
    let wide = if mode == Mode::Unmodelled { crate::model::UNMODELLED_WIDER } else { 1.0 };
    let last = coordinate::STAGE + coordinate::PER_STAGE * (model.stages() - 1);
    let mut named = Vec::new();
    for (part, [east_m, north_m]) in model.part_names.iter().zip(landing_m) {
        named.push((format!("{part} landing east"), *east_m));
        named.push((format!("{part} landing north"), *north_m));
    }
    named.push(("apogee".into(), apogee_m));
    named.push(("drag area".into(), wide * theta[last + coordinate::DRAG_AREA]));
    let (east, north) = model.profile(mode, theta).at(model.wind.height_m);
    named.push(("wind east".into(), east));
    named.push(("wind north".into(), north));
    if let Some(heading) = phones.first() {
        named.push(("heading bias".into(), *heading));
    }
    named
}

impl Cloud {
    /// Where each quantity of a truth stands among the draws: the share of the weight below it, 0 to 1.
    #[must_use]
    pub fn ranks(&self, truth: &Truth) -> Vec<(String, f64)> {
        let mut below = vec![0.0; truth.quantities.len()];
        for draw in &self.draws {
            let own =
                quantities(&self.model, draw.mode, &draw.theta, &draw.phones, &draw.landing_m, draw.apogee_m);
            for (below, ((_, own), (_, truth))) in below.iter_mut().zip(own.iter().zip(&truth.quantities)) {
                *below += if own < truth { draw.weight } else { 0.0 };
            }
        }
        truth.quantities.iter().map(|(name, _)| name.clone()).zip(below).collect()
    }

    /// How much of another answer's chance lies in the areas of this one, on the average of all parts: of the same flight
    /// and another seed, what the areas claim to hold, if there are draws enough.
    #[must_use]
    pub fn holds_of(&self, other: &Self) -> Vec<f64> {
        let parts = self.model.part_names.len();
        let mut held = vec![0.0; crate::reading::SHARES.len()];
        for part in 0..parts {
            let inside =
                self.inside(part, &other.draws.iter().map(|it| it.landing_m[part]).collect::<Vec<_>>());
            for (draw, inside) in other.draws.iter().zip(inside) {
                for (held, inside) in held.iter_mut().zip(inside) {
                    *held += if inside { draw.weight / parts as f64 } else { 0.0 };
                }
            }
        }
        held
    }
}
