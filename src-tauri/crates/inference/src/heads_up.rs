//! The call to look up: something comes down with nothing open.

use crate::cloud::Cloud;
use crate::model::Story;
use windfall_facts::Mode;

/// The call is raised when a fall with nothing open is likelier than anything else.
///
/// # Model
/// Judgement: a call too few can cost an eye, a call too many costs a look up; yet who is called at every flight no longer
/// looks. Measured on simulated flights followed at 2 Hz (57 falls, 55 under a parachute): here 56 falls are called, half
/// of them within 3.0 s of the top and nine in ten within 5.1 s, and 4 of the flights that went well. At 0.3 it would be
/// 23 of these, at 0.7 two, and falls called later and two fewer.
const RAISED: f64 = 0.5;
/// It is taken back when the fall has become unlikely, and not at the first doubt.
const TAKEN_BACK: f64 = 0.2;

impl Cloud {
    /// The chance that it is on its way down at `t_s`, seconds after first motion, with nothing open that should be or
    /// will not be in time: nothing opens, the second stage did not light, or it opens late and has not yet.
    #[must_use]
    pub fn p_falls_unopened(&self, t_s: f64) -> f64 {
        let mut story = Story::default();
        let mut z = Vec::new();
        let mut falls = |mode: Mode, theta: &[f64]| {
            z.clear();
            z.extend_from_slice(theta);
            z.resize(self.model.latents, 0.0);
            self.model.tell(mode, &z, &mut story);
            let landed_s = story.seen_body.last().map_or(0.0, |body| story.landed_s(*body));
            let open = mode == Mode::OpensLate && story.deployed_s <= t_s;
            story.apogee.t_s < t_s && t_s < landed_s && !open
        };
        let unopened = self.draws.iter().filter(|draw| {
            matches!(draw.mode, Mode::NoneOpened | Mode::SecondStageUnlit | Mode::OpensLate)
                && falls(draw.mode, &draw.theta)
        });
        unopened.map(|draw| draw.weight).sum()
    }
}

/// Whether the call is out, from one answer to the next of one flight: raised once and taken back once.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum HeadsUp {
    /// Not yet.
    #[default]
    Quiet,
    /// Look up.
    Called,
    /// It was out.
    Over,
}

impl HeadsUp {
    /// The chance that it falls with nothing open has become `p`; whether the call is out now.
    pub fn hears(&mut self, p: f64) -> bool {
        *self = match *self {
            Self::Quiet if p >= RAISED => Self::Called,
            Self::Called if p < TAKEN_BACK => Self::Over,
            same => same,
        };
        *self == Self::Called
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_call_is_raised_once_holds_through_doubt_and_is_taken_back_once() {
        let mut call = HeadsUp::default();
        let heard: Vec<bool> =
            [0.05, 0.49, 0.5, 0.3, 0.21, 0.19, 0.9, 0.99].map(|p| call.hears(p)).into_iter().collect();
        assert_eq!(heard, [false, false, true, true, true, false, false, false]);
        assert!(!HeadsUp::default().hears(f64::NAN));
    }
}
