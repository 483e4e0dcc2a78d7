//! The cloud: possible flights of every mode, weighted by the evidence.
//!
//! Each mode has its own populations on eight islands, carried from the prior to the posterior by a tempered bridge.
//! Islands are the unit of threading and of the Monte Carlo error.

pub(crate) mod eigen;
mod live;
mod mover;
mod population;
mod shape;
mod survey;
#[cfg(test)]
mod toys;
mod weigher;

use crate::evidence::{CASES, Case, Heads, Scale, Witnesses};
use crate::model::{Model, Rest};
use crate::reading::Surroundings;
use crate::{Beliefs, LocateError, Priors, Settings};
pub use live::Live;
use survey::{Survey, Surveyed};
use weigher::Flown;
use windfall_facts::{Flight, Mode, Sentence};

/// Independent repetitions whose spread measures the Monte Carlo error.
pub(crate) const ISLANDS: usize = 8;
/// Fewer effective draws than this are not to be trusted.
pub(crate) const ENOUGH_DRAWS: f64 = 400.0;
/// How many draws find out what there is to a case in which a piece of evidence is mistaken, out of so many: if it is
/// the likely one, it gets more.
const DOUBTED: usize = 4;
/// The most times as many draws that a flight gets besides its first ones, if those were not enough; and how many more
/// than seem needed.
const MORE: f64 = 4.0;
const TO_BE_SURE: f64 = 1.5;

/// One possible flight, after all evidence.
#[derive(Clone, Debug)]
pub(crate) struct Draw {
    pub(crate) mode: Mode,
    /// What each piece of evidence makes of it.
    scales: Vec<Scale>,
    /// What its linear block was drawn with: the same again tells it the same way.
    luck: u64,
    /// Log of the likelihood, the linear block integrated out: an estimate, unbiased before the logarithm.
    ln_likelihood: f64,
    /// How far it is from evidence that must be mistaken in it.
    astray: f64,
    pub(crate) island: usize,
    /// Log of its weight among those of its mode and island: level, but in a cloud that runs ahead.
    ln_weight: f64,
    /// Sums to one over the cloud.
    pub(crate) weight: f64,
    /// Landing of every part, m east and north of the pad.
    pub(crate) landing_m: Vec<[f64; 2]>,
    /// How every part rests there; empty where all lie where they touched.
    pub(crate) rests: Vec<Rest>,
    pub(crate) apart: bool,
    pub(crate) capped: bool,
    /// Chance that each piece of evidence is mistaken.
    pub(crate) p_mistaken: Vec<f64>,
    /// The coordinates that move heights and times.
    pub(crate) theta: Vec<f64>,
    /// Heading bias and elevation offset of each phone, in standard deviations.
    pub(crate) phones: Vec<f64>,
    pub(crate) apogee_m: f64,
    pub(crate) landed_s: f64,
}

impl Draw {
    /// A possible flight not yet told.
    fn of(mode: Mode, theta: &[f64]) -> Self {
        Self {
            mode,
            scales: Vec::new(),
            luck: 0,
            ln_likelihood: f64::NEG_INFINITY,
            astray: 0.0,
            island: 0,
            ln_weight: 0.0,
            weight: 0.0,
            landing_m: Vec::new(),
            rests: Vec::new(),
            apart: false,
            capped: false,
            p_mistaken: Vec::new(),
            theta: theta.to_vec(),
            phones: Vec::new(),
            apogee_m: 0.0,
            landed_s: 0.0,
        }
    }

    /// Forgets what was told, but not of which flight; keeps the memory.
    fn empty(&mut self) {
        self.scales.clear();
        self.landing_m.clear();
        self.rests.clear();
        self.p_mistaken.clear();
        self.phones.clear();
        self.ln_likelihood = f64::NEG_INFINITY;
        (self.astray, self.ln_weight, self.weight) = (0.0, 0.0, 0.0);
        (self.apart, self.capped) = (false, false);
        (self.apogee_m, self.landed_s) = (0.0, 0.0);
    }

    /// Log of the weight on the way from the prior (power 0) to the posterior (power 1).
    ///
    /// # Model
    /// The likelihood raised to the power, and on the way, at neither end, a pull towards what the evidence says where
    /// it would have to be mistaken.
    fn ln_at(&self, power: f64) -> f64 {
        const PULL: f64 = 2.0;
        if power > 0.0 {
            power * self.ln_likelihood - PULL * power * (1.0 - power) * self.astray
        } else {
            0.0
        }
    }

    /// Log of the weight that it gains when the power rises.
    fn rise(&self, from: f64, to: f64) -> f64 {
        self.ln_at(to) - self.ln_at(from)
    }
}

/// What a cloud is drawn of: modes, standard normal coordinates, and a teller of each possible flight.
trait Problem: Sync {
    /// With their prior chances, which sum to one.
    fn modes(&self) -> &[(Mode, f64)];
    /// Number of coordinates.
    fn coordinates(&self) -> usize;
    /// Whether anything is known beyond the prior.
    fn has_evidence(&self) -> bool;
    /// One for each thread.
    fn teller(&self) -> Box<dyn Tell + '_>;
}

/// Tells possible flights and weighs them.
trait Tell {
    /// A possible flight of one mode at `theta`. The exponential of its `ln_likelihood` is an unbiased estimate of the
    /// likelihood of `theta`, over all `luck`.
    fn draw(&mut self, mode: Mode, theta: &[f64], luck: u64) -> Draw {
        let mut draw = Draw { luck, ..Draw::of(mode, theta) };
        self.tell(&mut draw);
        draw
    }
    /// The same into what was another: its mode, `theta` and `luck` say which.
    fn tell(&mut self, draw: &mut Draw);
    /// What the evidence makes of `theta`, each figure over its error: its slopes show which coordinates the evidence
    /// speaks of.
    fn residuals(&mut self, mode: Mode, theta: &[f64]) -> Vec<f64>;
}

/// The cloud of possible flights after all evidence.
#[derive(Debug)]
pub struct Cloud {
    pub(crate) model: Model,
    pub(crate) witnesses: Witnesses,
    pub(crate) surroundings: Surroundings,
    pub(crate) flight: Flight,
    pub(crate) seed: u32,
    pub(crate) draws: Vec<Draw>,
    /// Standard error of the landing mean, the worst part, m.
    pub(crate) monte_carlo_error_m: f64,
    /// Posterior variance over squared error: the worst of east, north and mode chance.
    pub(crate) effective_draws: f64,
    /// Draws from the prior that some evidence made impossible altogether.
    pub(crate) contradicted: bool,
    /// What earlier flights taught, in words.
    pub(crate) learned: Vec<Sentence>,
}

/// The cloud of possible flights for what is known of `flight` (checked by `windfall_facts::read_flight`).
///
/// # Errors
/// When the facts lie outside the model's domain; evidence that contradicts everything is no error.
pub(crate) fn locate(
    flight: &Flight,
    priors: &Priors,
    beliefs: &Beliefs,
    settings: &Settings,
) -> Result<Cloud, LocateError> {
    let (model, witnesses) = prepared(flight, priors, beliefs)?;
    let cases = witnesses.cases();
    let survey = |case: &Case, number: u64, draws: usize| {
        let problem = &Flown { model: &model, witnesses: &case.witnesses };
        Survey { problem, settings: &Settings { draws, ..*settings }, number }.surveyed().in_case(case)
    };
    let first = |case: &Case| settings.draws / if case.is_doubted() { DOUBTED } else { 1 };
    let each: Vec<Surveyed> =
        cases.iter().zip(0..).map(|(case, number)| survey(case, number, first(case))).collect();
    let shares = Surveyed::shares(&each);
    let mut surveyed = each.iter().cloned().reduce(Surveyed::or).unwrap_or_default();
    if !surveyed.contradicted {
        let (_, effective_draws) = precision(&model, &surveyed.draws);
        if effective_draws < ENOUGH_DRAWS {
            // A hard flight: as many draws more as seem to be missing, to each case by what there is to it.
            let more = (TO_BE_SURE * ENOUGH_DRAWS / effective_draws.max(1.0) - 1.0).clamp(0.5, MORE);
            let most = shares.iter().copied().fold(0.0, f64::max);
            let again = each.into_iter().zip(&cases).zip(shares).zip(CASES..);
            let again = again.map(|(((before, case), share), number)| {
                #[expect(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "a few times as many"
                )]
                let draws = (more * share / most * settings.draws as f64) as usize;
                // Those few it has had.
                if draws < settings.draws / DOUBTED {
                    before
                } else {
                    before.and(survey(case, number, draws))
                }
            });
            surveyed = again.reduce(Surveyed::or).unwrap_or_default();
        }
    }
    let learned = beliefs.sentences(flight, priors);
    Ok(Cloud { learned, ..Cloud::of(flight, settings, model, witnesses, surveyed) })
}

/// The model and the evidence of a flight.
fn prepared(flight: &Flight, priors: &Priors, beliefs: &Beliefs) -> Result<(Model, Witnesses), LocateError> {
    let heads = Heads::of(flight);
    let model = Model::of(flight, priors, heads.coordinates(), beliefs)?;
    let witnesses = Witnesses::of(flight, &model, &heads, priors)?;
    Ok((model, witnesses))
}

impl Cloud {
    fn of(
        flight: &Flight,
        settings: &Settings,
        model: Model,
        witnesses: Witnesses,
        surveyed: Surveyed,
    ) -> Self {
        let Surveyed { draws, contradicted, .. } = surveyed;
        let (monte_carlo_error_m, effective_draws) = precision(&model, &draws);
        Self {
            surroundings: Surroundings::of(flight, &model),
            flight: flight.clone(),
            seed: settings.seed,
            model,
            witnesses,
            draws,
            monte_carlo_error_m,
            effective_draws,
            contradicted,
            learned: Vec::new(),
        }
    }
}

#[cfg(test)]
impl Cloud {
    /// Posterior chance of a mode.
    fn share_of(&self, mode: Mode) -> f64 {
        self.draws.iter().filter(|draw| draw.mode == mode).map(|draw| draw.weight).sum()
    }
}

/// Standard error of the landing mean (m) and effective draws, from the spread between islands.
///
/// # Model
/// Each island is one ratio estimate; the error of their weighted mean is the jackknife's. Effective draws are the
/// posterior variance over the squared error, the worst of east and north of every part and the chance of the
/// likeliest mode.
fn precision(model: &Model, draws: &[Draw]) -> (f64, f64) {
    let likeliest = model
        .modes
        .iter()
        .map(|(mode, _)| {
            (*mode, draws.iter().filter(|draw| draw.mode == *mode).map(|draw| draw.weight).sum::<f64>())
        })
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map_or(Mode::Opens, |row| row.0);
    let error_of = |value: &dyn Fn(&Draw) -> f64| {
        let mut mass = [0.0; ISLANDS];
        let mut sum = [0.0; ISLANDS];
        let mut square = 0.0;
        for draw in draws {
            let v = value(draw);
            mass[draw.island] += draw.weight;
            sum[draw.island] += draw.weight * v;
            square += draw.weight * v * v;
        }
        let mean: f64 = sum.iter().sum();
        let error2 = (0..ISLANDS).map(|i| (sum[i] - mass[i] * mean).powi(2)).sum::<f64>() * ISLANDS as f64
            / (ISLANDS as f64 - 1.0);
        (error2, (square - mean * mean).max(0.0))
    };
    let mut worst_m: f64 = 0.0;
    let mut fewest = draws.len() as f64;
    let mut see = |error2: f64, variance: f64| {
        if variance > 1e-12 && error2 > 0.0 {
            fewest = fewest.min(variance / error2);
        }
    };
    for part in 0..model.part_names.len() {
        let (east2, east) = error_of(&|draw| draw.landing_m[part][0]);
        let (north2, north) = error_of(&|draw| draw.landing_m[part][1]);
        see(east2, east);
        see(north2, north);
        worst_m = worst_m.max((east2 + north2).sqrt());
    }
    let (mode2, mode) = error_of(&|draw| f64::from(u8::from(draw.mode == likeliest)));
    see(mode2, mode);
    (worst_m, fewest)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::locate;
    use crate::model::{Drift, Story};
    use rand::SeedableRng;
    use rand::{Rng, RngExt};
    use rand_chacha::ChaCha8Rng;
    use rand_distr::StandardNormal;
    use windfall_facts::read_flight;

    const ROCKET: &str = r#""format": "windfall-flight/1", "pad": {"lat": 47.5, "lon": 17.3, "elevation_m": 120},
        "wind": [{"at": "2026-05-16T11:00:00+02:00", "height_m": 2, "averaged_s": 60, "speed_mps": 3, "from_deg": 240,
                  "method": "meter"}],
        "rocket": {"stages": [{"dry_mass_g": 62, "diameter_mm": 24.8, "length_mm": 430, "motor": "C6-5",
                   "recovery": {"kind": "parachute", "diameter_mm": 300}}]},
        "launch": {"at": "2026-05-16T11:05:00+02:00"}"#;

    fn flight(evidence: &str) -> Flight {
        read_flight(&format!("{{{ROCKET}, \"evidence\": [{evidence}]}}")).unwrap()
    }

    fn quick(seed: u32) -> Settings {
        Settings { seed, draws: 1024, threads: 2 }
    }

    /// Lets gusts drawn from the prior carry the bodies of a story.
    fn blow(story: &mut Story, rng: &mut impl Rng) {
        let (mut drift, mut x) = (Drift::default(), Vec::new());
        story.lay_nodes(&mut []);
        drift.begin(story, 0);
        drift.draw(|| rng.sample(StandardNormal), &mut x);
        story.carry(&x);
    }

    #[test]
    fn a_rod_that_leans_north_moves_the_cloud_as_far_north_as_the_middle_flight_of_that_lean() {
        let leaning = |tilt_deg: u32| {
            let rod = format!(r#"{{"tilt_deg": {tilt_deg}, "toward_deg": 0, "north": "true"}}"#);
            let told = format!("{{{ROCKET}}}")
                .replace(r#":05:00+02:00""#, &format!(r#":05:00+02:00", "rod": {rod}"#));
            let flight = read_flight(&told).unwrap();
            let model = Model::of(&flight, &Priors::embedded(), (0, 0), &Beliefs::default()).unwrap();
            let mut story = Story::default();
            model.tell(Mode::Opens, &vec![0.0; model.latents], &mut story);
            let flown_m = story.at(0, story.landed_s(0));
            let cloud = crate::locate(&flight, &Priors::embedded(), &quick(1)).unwrap();
            let opened = || cloud.draws.iter().filter(|it| it.mode == Mode::Opens);
            let weight: f64 = opened().map(|it| it.weight).sum();
            let mean_m =
                |axis: usize| opened().map(|it| it.weight * it.landing_m[0][axis]).sum::<f64>() / weight;
            ([flown_m[0], flown_m[1]], [mean_m(0), mean_m(1)])
        };
        let (upright, north) = (leaning(0), leaning(12));
        let flown_m = [0, 1].map(|axis| north.0[axis] - upright.0[axis]);
        let moved_m = [0, 1].map(|axis| north.1[axis] - upright.1[axis]);
        // Twelve degrees off the vertical for some 200 m of height are tens of metres to the north. The mean of what bends
        // is not the flight of the mean: 15 % of it, and a few metres of the sampler, are allowed.
        assert!(flown_m[1] > 20.0 && flown_m[0].abs() < 0.3 * flown_m[1], "{flown_m:?}");
        for axis in [0, 1] {
            assert!(
                (moved_m[axis] - flown_m[axis]).abs() < 0.15 * flown_m[1] + 4.0,
                "{moved_m:?} {flown_m:?}"
            );
        }
    }

    #[test]
    fn regions_hold_truths_drawn_from_the_estimators_own_prior() {
        // Simulation-based calibration in short: with 60 flights the shares have standard errors of 6.5 and 3.9
        // points; the band is five of them, so that a failure means a defect.
        let (mut half, mut nine) = (0.0, 0.0);
        const FLIGHTS: u32 = 60;
        let template = flight(
            r#"{"kind": "sighting", "moment": "lost", "t_s": 30, "bearing_deg": 0, "elevation_deg": 20}"#,
        );
        let priors = Priors::embedded();
        for seed in 0..FLIGHTS {
            let (told, truth) = crate::calibration::simulate(&template, &priors, u64::from(seed)).unwrap();
            let cloud = locate(&told, &priors, &quick(seed)).unwrap();
            let landing = [truth.quantities[0].1, truth.quantities[1].1];
            let [in_half, in_nine] = cloud.inside(0, &[landing])[0];
            half += f64::from(u8::from(in_half));
            nine += f64::from(u8::from(in_nine));
        }
        let (half, nine) = (100.0 * half / f64::from(FLIGHTS), 100.0 * nine / f64::from(FLIGHTS));
        println!(
            "{FLIGHTS} flights: {half:.0} % inside the 50 % regions, {nine:.0} % inside the 90 % regions"
        );
        assert!((half - 50.0).abs() < 32.0 && (nine - 90.0).abs() < 19.5, "{half} % and {nine} %");
    }

    #[test]
    fn the_answer_is_the_same_bit_for_bit_on_one_thread_and_on_two() {
        let evidence =
            r#"{"kind": "sighting", "moment": "lost", "t_s": 41, "bearing_deg": 71, "elevation_deg": 6}"#;
        let answer = |threads| {
            let settings = Settings { seed: 5, draws: 512, threads };
            locate(&flight(evidence), &Priors::embedded(), &settings).unwrap().answer(None, Some(50))
        };
        assert_eq!(answer(1), answer(2));
        assert_eq!(answer(1), answer(1));
    }

    #[test]
    fn the_cases_of_a_track_and_a_find_share_out_all_that_the_evidence_says() {
        let evidence = r#"{"kind": "sighting", "moment": "lost", "t_s": 41, "bearing_deg": 71, "elevation_deg": 6},
            {"kind": "find", "part": "rocket", "at": {"lat": 47.5005, "lon": 17.3022}, "accuracy_m": 30},
            {"kind": "altimeter", "apogee_m": 210},
            {"kind": "track", "samples": [[8, 60, 60], [12, 61, 55], [16, 62, 50]]}"#;
        let (flight, priors) = (flight(evidence), Priors::embedded());
        let (model, witnesses) = prepared(&flight, &priors, &Beliefs::default()).unwrap();
        let cases = witnesses.cases();
        assert_eq!(cases.len() as u64, CASES);
        assert_eq!(cases.iter().filter(|case| case.is_doubted()).count(), 3);
        let (mut story, mut scales, z) = (Story::default(), Vec::new(), vec![0.3; model.latents]);
        model.tell(Mode::Opens, &z, &mut story);
        let mut weighed = |witnesses: &Witnesses| {
            let mut asked = Vec::new();
            witnesses.asks(&story, &z, &mut asked);
            story.lay_nodes(&mut asked);
            story.carry(&vec![0.0; story.coordinates()]);
            witnesses.weigh(Mode::Opens, &story, &z, &mut scales);
            (witnesses.ln_likelihood(&scales), scales.clone())
        };
        let (whole, _) = weighed(&witnesses);
        let (mut sum, mut doubts) = (f64::NEG_INFINITY, Vec::new());
        for case in &cases {
            let (ln, scales) = weighed(&case.witnesses);
            sum = crate::evidence::ln_sum(sum, case.ln_chance + ln);
            doubts.push(case.p_mistaken(&scales));
        }
        // The find is the second piece, the track the last: of both it is settled in each case.
        let settled: Vec<[f64; 2]> = doubts.iter().map(|row| [row[1], row[3]]).collect();
        assert_eq!(settled, [[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [1.0, 1.0]]);
        assert!(doubts.iter().all(|row| row.len() == witnesses.pieces.len()));
        assert!((whole - sum).abs() < 1e-9, "{whole} and {sum}");
    }

    #[test]
    fn a_find_at_the_edge_of_where_one_way_of_coming_down_leads_is_found_by_every_seed() {
        // A light wind, and the lower half 245 m from the pad: if it came apart, hardly one possible flight in a thousand
        // falls there. Plain weighting of 300,000 prior draws gives that way 0.17, from six effective draws.
        let text = r#"{"format": "windfall-flight/1", "pad": {"lat": 48.06, "lon": 23.9, "elevation_m": 98},
            "air": {"temperature_c": 11}, "field": {"cover": "short grass"},
            "launch": {"at": "2026-06-14T12:00:00+02:00", "rod": {"length_m": 1.2, "tilt_deg": 6, "toward_deg": 314}},
            "wind": [{"at": "2026-06-14T11:52:00+02:00", "averaged_s": 60, "from_deg": 241, "height_m": 2, "method": "meter",
                      "speed_mps": 1.14}],
            "rocket": {"stages": [{"dry_mass_g": 126, "diameter_mm": 47, "length_mm": 504, "drag_coefficient": 0.76,
                "motor": "E12-6", "recovery": {"kind": "parachute", "diameter_mm": 356}, "splits_into": [
                    {"name": "upper", "mass_g": 50, "length_mm": 176, "carries_recovery": true},
                    {"name": "lower", "mass_g": 76, "length_mm": 328, "carries_motor": true}]}]},
            "evidence": [{"kind": "saw", "mode": "came_apart", "sure": "sure"},
                {"kind": "find", "part": "lower", "at": {"lat": 48.06219, "lon": 23.89957}, "accuracy_m": 4}]}"#;
        let flight = read_flight(text).unwrap();
        for seed in 1..=4 {
            let settings = Settings { seed, draws: 2048, threads: 2 };
            let cloud = locate(&flight, &Priors::embedded(), &settings).unwrap();
            let chance = cloud.share_of(Mode::CameApart);
            println!("seed {seed}: {chance:.3}, {:.0} effective draws", cloud.effective_draws);
            assert!((0.02..0.5).contains(&chance), "{chance} with seed {seed}");
        }
    }

    #[test]
    fn a_wrong_word_leaves_the_truth_inside_the_larger_area() {
        // Flights of the model's own with one sighting, all of which came down by their device; and a witness who thinks that
        // nothing opened. Of 40, nine in ten would be 36, with a standard error of 1.9; the band is five of them.
        const FLIGHTS: usize = 40;
        let template = flight(
            r#"{"kind": "sighting", "moment": "lost", "t_s": 30, "bearing_deg": 0, "elevation_deg": 20}"#,
        );
        let priors = Priors::embedded();
        let word = serde_json::json!({"kind": "saw", "mode": "none_opened", "sure": "think"});
        let opened = (0..).map(|seed| crate::calibration::simulate(&template, &priors, seed).unwrap());
        let (mut inside, mut doubted) = (0, 0);
        for (mut told, truth) in opened.filter(|row| row.1.mode == Mode::Opens).take(FLIGHTS) {
            told.evidence.push(serde_json::from_value(word.clone()).unwrap());
            let cloud = locate(&told, &priors, &quick(1)).unwrap();
            let [_, in_nine] = cloud.inside(0, &[[truth.quantities[0].1, truth.quantities[1].1]])[0];
            inside += usize::from(in_nine);
            let surprises = cloud.answer(None, None).surprises;
            doubted += usize::from(surprises.iter().any(|it| it.evidence == 1));
        }
        println!("{inside} of {FLIGHTS} inside the 90 % area, the word doubted in {doubted}");
        assert!(inside >= 27, "{inside} of {FLIGHTS}");
        assert!(doubted > FLIGHTS / 2, "the word was doubted in {doubted} of {FLIGHTS}");
    }

    #[test]
    fn the_cloud_that_runs_ahead_ends_where_the_answer_is() {
        // A track that grows by a second at a time; the landing mean of both within three of their errors together.
        let sample = |index: i32| {
            let t_s = 8.0 + 0.5 * f64::from(index);
            let (drift, up) = (4.0 * (t_s - 8.0) - 10.0, 235.0 - 4.5 * (t_s - 8.0));
            let bearing = 62.0 + if drift < 0.0 { 180.0 } else { 0.0 };
            let sway = 2.0 * (t_s / 2.7).sin();
            format!(
                "[{t_s}, {:.1}, {:.1}]",
                bearing + sway,
                (up.atan2(drift.abs()).to_degrees() - 0.4 * sway).min(89.0)
            )
        };
        let track = |count: i32| {
            let samples: Vec<String> = (0..count).map(sample).collect();
            flight(&format!(r#"{{"kind": "track", "samples": [{}]}}"#, samples.join(",")))
        };
        let (priors, settings) = (Priors::embedded(), quick(2));
        let (mut live, _) = Live::begin(&track(4), &priors, &Beliefs::default(), &settings).unwrap();
        let mut ahead = None;
        for count in (6..=60).step_by(2) {
            ahead = Some(live.goes_on(&track(count)).unwrap());
        }
        let (ahead, answer) = (ahead.unwrap(), locate(&track(60), &priors, &settings).unwrap());
        let mean = |cloud: &Cloud, axis: usize| {
            cloud.draws.iter().map(|draw| draw.weight * draw.landing_m[0][axis]).sum::<f64>()
        };
        let apart_m = (mean(&ahead, 0) - mean(&answer, 0)).hypot(mean(&ahead, 1) - mean(&answer, 1));
        let error_m = ahead.monte_carlo_error_m.hypot(answer.monte_carlo_error_m);
        println!("{apart_m:.2} m apart, error {error_m:.2} m, {:.0} effective draws", ahead.effective_draws);
        assert!(apart_m < 3.0 * error_m && error_m < 15.0, "{apart_m} m apart, error {error_m} m");
    }

    #[test]
    fn a_find_of_the_rocket_itself_puts_the_aim_on_it() {
        let find =
            r#"{"kind": "find", "part": "rocket", "at": {"lat": 47.5005, "lon": 17.3022}, "accuracy_m": 4}"#;
        let answer = locate(&flight(find), &Priors::embedded(), &quick(1)).unwrap().answer(None, None);
        let part = &answer.parts[0];
        assert!(
            (part.aim.lat - 47.5005).abs() < 1e-4 && (part.aim.lon - 17.3022).abs() < 1.5e-4,
            "{:?}",
            part.aim
        );
        assert!(part.regions[1].area_m2 < 1500.0, "{}", part.regions[1].area_m2);
    }

    #[test]
    fn a_find_led_by_closed_form_agrees_with_plain_weighting() {
        // The same posterior two ways: the bridge with gusts led to the find, and importance sampling from prior draws
        // with a find so vague that plain weighting still works.
        let vague = flight(
            r#"{"kind": "find", "part": "rocket", "at": {"lat": 47.5008, "lon": 17.3020}, "accuracy_m": 90}"#,
        );
        let priors = Priors::embedded();
        let cloud = locate(&vague, &priors, &Settings { draws: 4096, ..quick(3) }).unwrap();
        let model = Model::of(&vague, &priors, (0, 0), &Beliefs::default()).unwrap();
        let witnesses = Witnesses::of(&vague, &model, &Heads::of(&vague), &priors).unwrap();
        let mut rng = ChaCha8Rng::seed_from_u64(8);
        let (mut total, mut wind, mut apogee) = (0.0, 0.0, 0.0);
        let mut story = Story::default();
        for (mode, prior) in &model.modes {
            for _ in 0..4000 {
                let z: Vec<f64> = (0..model.latents).map(|_| rng.sample(StandardNormal)).collect();
                model.tell(*mode, &z, &mut story);
                blow(&mut story, &mut rng);
                let mut scales = Vec::new();
                witnesses.weigh(*mode, &story, &z, &mut scales);
                let weight = prior * witnesses.ln_likelihood(&scales).exp();
                total += weight;
                wind += weight * z[0];
                apogee += weight * story.apogee.at_m[2];
            }
        }
        let mean =
            |value: &dyn Fn(&Draw) -> f64| cloud.draws.iter().map(|d| d.weight * value(d)).sum::<f64>();
        // Both are Monte Carlo: standard errors near 0.03 and 0.6 m; the band is five.
        assert!((mean(&|d| d.theta[0]) - wind / total).abs() < 0.15);
        assert!((mean(&|d| d.apogee_m) - apogee / total).abs() < 3.0);
    }

    #[test]
    fn a_wrong_word_does_not_rule_out_what_the_sky_shows() {
        // Seen high and slow at 45 s: nothing that fell nose first is still up there.
        let evidence = r#"{"kind": "saw", "mode": "none_opened", "sure": "sure"},
            {"kind": "sighting", "moment": "lost", "t_s": 45, "bearing_deg": 62, "elevation_deg": 22}"#;
        let answer = locate(&flight(evidence), &Priors::embedded(), &quick(2)).unwrap().answer(None, None);
        let chance =
            |mode| answer.parts[0].modes.iter().find(|it| it.mode == mode).map_or(0.0, |it| it.probability);
        assert!(chance(Mode::NoneOpened) < 0.2, "{}", chance(Mode::NoneOpened));
        assert!(answer.surprises.iter().any(|it| it.evidence == 0), "{:?}", answer.surprises);
    }

    #[test]
    fn what_is_seen_low_and_late_came_down_under_something() {
        // Nothing that falls streamlined from 250 m is still in the air after 20 s.
        let evidence =
            r#"{"kind": "sighting", "moment": "lost", "t_s": 50, "bearing_deg": 61, "elevation_deg": 5}"#;
        let cloud = locate(&flight(evidence), &Priors::embedded(), &quick(3)).unwrap();
        // Less than the chance of a mistaken sighting times that of a streamlined fall.
        let chance = cloud.share_of(Mode::NoneOpened);
        assert!(chance < 0.05 * 0.08, "{chance}");
    }

    #[test]
    fn a_heavy_part_found_near_the_pad_leaves_the_light_one_to_be_looked_for() {
        let text = format!(
            "{{{ROCKET}, \"evidence\": [{{\"kind\": \"find\", \"part\": \"lower\", \"at\": {{\"lat\": 47.49985, \"lon\": 17.3}},
                \"accuracy_m\": 4}},
                {{\"kind\": \"sighting\", \"moment\": \"lost\", \"t_s\": 50, \"bearing_deg\": 61, \"elevation_deg\": 30}}]}}"
        )
        .replace(
            "\"motor\": \"C6-5\"",
            "\"motor\": \"C6-5\", \"splits_into\": [{\"name\": \"upper\", \"mass_g\": 24, \"carries_recovery\": true},
                {\"name\": \"lower\", \"mass_g\": 38, \"length_mm\": 300, \"carries_motor\": true}]",
        );
        let with = locate(&read_flight(&text).unwrap(), &Priors::embedded(), &quick(3)).unwrap();
        let apart = with.share_of(Mode::CameApart) + with.share_of(Mode::CordBroke);
        // Something sails on after 50 s, and the lower half lies in sight of the pad: the prior chance was 0.045.
        assert!(apart > 0.5, "{apart}");
        let answer = with.answer(None, None);
        let [upper, lower] = [0, 1].map(|part| answer.parts[part].regions[1].area_m2);
        assert!(lower < 500.0 && upper > 20.0 * lower, "upper {upper} m2, lower {lower} m2");
    }

    #[test]
    fn an_ejection_seen_speaks_against_a_flight_in_which_nothing_came_out() {
        let evidence = r#"{"kind": "saw", "mode": "none_opened", "sure": "think"}"#;
        let seen =
            format!(r#"{evidence}, {{"kind": "sighting", "moment": "deployment", "elevation_deg": 60}}"#);
        let chance = |evidence: &str| {
            let cloud = locate(&flight(evidence), &Priors::embedded(), &quick(2)).unwrap();
            cloud.share_of(Mode::NoneOpened)
        };
        let (without, with) = (chance(evidence), chance(&seen));
        assert!(with < 0.5 * without, "{with} after, {without} before");
    }

    #[test]
    fn a_day_outside_the_magnetic_model_takes_its_nearest_value_and_says_so() {
        let mut old = flight("");
        old.launch.at = Some("2019-06-01T10:00:00Z".into());
        let mut first = flight("");
        first.launch.at = Some("2025-01-01T10:00:00Z".into());
        let answer = |it: &Flight| locate(it, &Priors::embedded(), &quick(1)).unwrap().answer(None, None);
        let (old, first) = (answer(&old), answer(&first));
        assert!((old.declination_deg - first.declination_deg).abs() < 1e-9 && old.declination_deg > 3.0);
        assert!(old.warnings.iter().any(|it| it.contains("2019")), "{:?}", old.warnings);
    }

    #[test]
    fn a_story_told_after_a_bad_one_is_judged_by_itself() {
        let flight = flight("");
        let model = Model::of(&flight, &Priors::embedded(), (0, 0), &Beliefs::default()).unwrap();
        let mut story = Story::default();
        let z = vec![0.0; model.latents];
        model.tell(Mode::Opens, &z, &mut story);
        story.lay_nodes(&mut []);
        story.carry(&vec![f64::NAN; story.coordinates()]);
        model.tell(Mode::Opens, &z, &mut story);
        assert!(story.is_finite());
    }

    #[test]
    fn with_named_parts_a_broken_cord_leaves_the_nose_under_the_parachute() {
        let text = format!("{{{ROCKET}, \"evidence\": []}}").replace(
            "\"motor\": \"C6-5\"",
            "\"motor\": \"C6-5\", \"splits_into\": [{\"name\": \"nose\", \"mass_g\": 12, \"carries_recovery\": true},
                {\"name\": \"body\", \"mass_g\": 50, \"length_mm\": 330, \"carries_motor\": true}]",
        );
        let flight = read_flight(&text).unwrap();
        let model = Model::of(&flight, &Priors::embedded(), (0, 0), &Beliefs::default()).unwrap();
        let mut story = Story::default();
        model.tell(Mode::CordBroke, &vec![0.0; model.latents], &mut story);
        let [nose, body] = [0, 1].map(|part| story.landed_s(story.part_body[part]));
        assert!(nose > 1.5 * body, "{nose} s and {body} s");
        assert_eq!(story.seen_body[0], story.part_body[0]);
    }

    #[test]
    fn evidence_that_contradicts_everything_still_gives_an_answer_and_a_warning() {
        let sighting = |moment: &str, t_s: f64, bearing_deg: i32, elevation_deg: i32| {
            format!(
                r#"{{"kind": "sighting", "moment": "{moment}", "t_s": {t_s}, "bearing_deg": {bearing_deg}, "elevation_deg": {elevation_deg}}}"#
            )
        };
        let find = |lat: f64, lon: f64| {
            format!(
                r#"{{"kind": "find", "part": "rocket", "at": {{"lat": {lat}, "lon": {lon}}}, "accuracy_m": 1}}"#
            )
        };
        let heights = |rows: &[f64]| {
            let rows: Vec<String> =
                rows.iter().map(|m| format!(r#"{{"kind": "altimeter", "apogee_m": {m}}}"#)).collect();
            rows.join(",")
        };
        let wild: Vec<String> = (0..60)
            .map(|index| format!("[{}, {}, {}]", 4 + index, 137 * index % 360, (53 * index % 90)))
            .collect();
        let cases = [
            // On no height, at no time, in no one direction.
            [heights(&[4500.0, 3.0]), sighting("landed", 3.0, 60, 2), sighting("lost", 800.0, 240, 80)]
                .join(","),
            // In all four directions at once.
            [0, 90, 180, 270].map(|bearing| sighting("deployment", 6.0, bearing, 45)).join(","),
            // Everywhere in the sky within a minute.
            format!(r#"{{"kind": "track", "samples": [{}]}}"#, wild.join(",")),
            // The same part whole at two places 800 m apart, one of them far upwind.
            [find(47.5035, 17.305), find(47.4965, 17.295)].join(","),
            // Three altimeters that were wide apart, on a rocket that was seen to land at once.
            [heights(&[60.0, 600.0, 4800.0]), sighting("landed", 0.5, 300, 1)].join(","),
        ];
        for (case, evidence) in cases.iter().enumerate() {
            let cloud = locate(&flight(evidence), &Priors::embedded(), &quick(4)).unwrap();
            let total: f64 = cloud.draws.iter().map(|draw| draw.weight).sum();
            assert!((total - 1.0).abs() < 1e-9, "{case}: {total}");
            let answer = cloud.answer(None, None);
            let part = &answer.parts[0];
            let figures =
                [part.distance_m, part.bearing_true_deg, part.aim.lat, part.aim.lon, cloud.effective_draws];
            assert!(figures.iter().all(|it| it.is_finite()), "{case}: {figures:?}");
            let chances: f64 = part.modes.iter().map(|it| it.probability).sum();
            assert!((chances - 1.0).abs() < 1e-6, "{case}: {chances}");
            for region in &part.regions {
                assert!(region.area_m2.is_finite() && region.area_m2 > 0.0, "{case}: {}", region.area_m2);
            }
            // One piece that fits nothing is named; several are warned of together, too.
            assert!(!answer.surprises.is_empty(), "{case}");
            assert!(
                answer.surprises.len() == 1 || !answer.warnings.is_empty(),
                "{case}: {:?}",
                answer.surprises
            );
        }
    }
}
