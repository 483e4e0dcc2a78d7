use super::{Draw, Problem, Tell};
use crate::evidence::Witnesses;
use crate::model::{Drift, Model, Story};
use rand::{RngExt, SeedableRng, rngs::Xoshiro256PlusPlus};
use rand_distr::StandardNormal;
use windfall_facts::Mode;

/// Share of gusts drawn from the prior whatever the evidence says, so that no weight runs away.
const DEFENSIVE: f64 = 0.03;

/// The prior has nothing beyond this many standard deviations, and the physics is not asked there.
const FARTHEST: f64 = 9.0;

/// A flight of which something is known.
pub(super) struct Flown<'a> {
    pub(super) model: &'a Model,
    pub(super) witnesses: &'a Witnesses,
}

impl Problem for Flown<'_> {
    fn modes(&self) -> &[(Mode, f64)] {
        &self.model.modes
    }

    fn coordinates(&self) -> usize {
        self.model.theta
    }

    fn has_evidence(&self) -> bool {
        !self.witnesses.pieces.is_empty()
    }

    fn teller(&self) -> Box<dyn Tell + '_> {
        Box::new(Weigher::new(self.model, self.witnesses))
    }
}

/// Tells possible flights and weighs them; keeps its memory from one to the next.
#[derive(Debug)]
struct Weigher<'a> {
    model: &'a Model,
    witnesses: &'a Witnesses,
    story: Story,
    drift: Drift,
    asked: Vec<(usize, f64)>,
    x: Vec<f64>,
    z: Vec<f64>,
}

impl<'a> Weigher<'a> {
    fn new(model: &'a Model, witnesses: &'a Witnesses) -> Self {
        Self {
            model,
            witnesses,
            story: Story::default(),
            drift: Drift::default(),
            asked: Vec::new(),
            x: Vec::new(),
            z: Vec::new(),
        }
    }

    /// Tells the story of one mode at `theta`, its nodes laid where the evidence asks and its linear block at its prior.
    fn set_out(&mut self, mode: Mode, theta: &[f64]) {
        let Self { model, witnesses, story, drift, asked, z, .. } = self;
        z.clear();
        z.extend_from_slice(theta);
        z.resize(model.latents, 0.0);
        model.tell(mode, z, story);
        witnesses.asks(story, z, asked);
        story.lay_nodes(asked);
        drift.begin(story, model.latents - model.theta);
    }
}

impl Tell for Weigher<'_> {
    /// The linear block at its mean.
    fn residuals(&mut self, mode: Mode, theta: &[f64]) -> Vec<f64> {
        self.set_out(mode, theta);
        let Self { model, witnesses, story, drift, z, .. } = self;
        story.carry(drift.mean());
        let mut residuals = Vec::new();
        witnesses.residuals(story, z, &mut residuals);
        witnesses.take_into(drift, story, z, model.theta, false);
        residuals.extend_from_slice(&drift.innovations);
        residuals
    }

    /// Its linear block is drawn given the evidence.
    ///
    /// # Model
    /// Evidence that is linear in the block, or nearly so, conditions its Gaussian exactly, a piece at a time; the block
    /// is drawn from what results, or now and then from its prior, and weighed by the exact likelihood over that
    /// mixture. So the linearisation shapes the draw only, never the answer.
    fn tell(&mut self, draw: &mut Draw) {
        draw.empty();
        let mode = draw.mode;
        let mut rng = Xoshiro256PlusPlus::seed_from_u64(draw.luck);
        if !draw.theta.iter().all(|z| z.abs() < FARTHEST) {
            return;
        }
        self.set_out(mode, &draw.theta);
        let Self { model, witnesses, story, drift, x, z, .. } = self;
        if !story.is_finite() || drift.mean().iter().any(|m| !m.is_finite()) {
            return;
        }
        witnesses.take_into(drift, story, z, model.theta, true);
        let informed = drift.informed();
        if informed && rng.random::<f64>() < DEFENSIVE {
            drift.widen(story, model.latents - model.theta);
        }
        drift.draw(|| rng.sample(StandardNormal), x);
        story.carry(x);
        z[model.theta..].copy_from_slice(&x[story.coordinates()..]);
        witnesses.weigh(mode, story, z, &mut draw.scales);
        let ln_proposal = if informed {
            let led = (1.0 - DEFENSIVE).ln() + drift.ln_linear(x) - drift.ln_evidence;
            crate::evidence::ln_sum(led, DEFENSIVE.ln())
        } else {
            0.0
        };
        let ln = witnesses.ln_likelihood(&draw.scales) - ln_proposal;
        draw.ln_likelihood = if ln.is_finite() { ln } else { f64::NEG_INFINITY };
        draw.astray = witnesses.astray(&draw.scales);
        draw.landing_m.extend(story.part_body.iter().map(|body| story.landing_m(*body)));
        draw.phones.extend_from_slice(&z[model.theta..]);
        draw.apart = story.apart;
        draw.capped = story.capped;
        draw.apogee_m = story.apogee.at_m[2];
        draw.landed_s = story.landed_s(story.seen_body.last().copied().unwrap_or(0));
    }
}
