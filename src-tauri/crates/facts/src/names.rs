//! What the parts of a rocket are called, and which part a name means.

use crate::{Flight, Rocket, Stage};

impl Rocket {
    /// What the flyer calls a stage; by default `rocket`, or `booster` and `sustainer`.
    #[must_use]
    pub fn stage_name(&self, index: usize) -> String {
        let named = self.stages.get(index).and_then(|stage| stage.name.clone());
        named.unwrap_or_else(|| match (self.stages.len(), index) {
            (0 | 1, _) => "rocket".into(),
            (_, 0) => "booster".into(),
            _ => "sustainer".into(),
        })
    }

    /// Everything that can fall on its own, always the same list: from the bottom up each stage,
    /// or the parts it splits into.
    #[must_use]
    pub fn part_names(&self) -> Vec<String> {
        let mut names = Vec::new();
        for (index, stage) in self.stages.iter().enumerate() {
            if stage.splits_into.is_empty() {
                names.push(self.stage_name(index));
            } else {
                names.extend(stage.splits_into.iter().map(|part| part.name.clone()));
            }
        }
        names
    }

    /// Index in [`Self::part_names`] of the part that carries the recovery device of a stage.
    fn recovery_part_index(&self, stage_index: usize) -> Option<usize> {
        let stage = self.stages.get(stage_index)?;
        let below: usize = self.stages[..stage_index].iter().map(part_count).sum();
        Some(below + stage.splits_into.iter().position(|part| part.carries_recovery).unwrap_or(0))
    }
}

fn part_count(stage: &Stage) -> usize {
    stage.splits_into.len().max(1)
}

/// What a name in the evidence means, as an index.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Named {
    /// One of the parts of a stage, in [`Rocket::part_names`].
    Part(usize),
    /// A stage as a whole, in [`Rocket::stages`].
    Stage(usize),
}

impl Flight {
    /// What a name in the evidence means; the rocket, by its own name, as `rocket` or not named at all, means the
    /// last stage. None for a name that nothing bears.
    #[must_use]
    pub fn named(&self, name: Option<&str>) -> Option<Named> {
        let rocket = &self.rocket;
        let last = rocket.stages.len().checked_sub(1)?;
        let Some(name) = name else { return Some(Named::Stage(last)) };
        if let Some(stage) = (0..=last).find(|&stage| rocket.stage_name(stage) == name) {
            return Some(Named::Stage(stage));
        }
        if let Some(part) = rocket.part_names().iter().position(|part| part == name) {
            return Some(Named::Part(part));
        }
        (name == "rocket" || rocket.name.as_deref() == Some(name)).then_some(Named::Stage(last))
    }

    /// Which part a name in the evidence means, as an index in [`Rocket::part_names`]: of a stage, the part with its
    /// recovery device.
    #[must_use]
    pub fn part_index_for(&self, name: Option<&str>) -> Option<usize> {
        match self.named(name)? {
            Named::Part(part) => Some(part),
            Named::Stage(stage) => self.rocket.recovery_part_index(stage),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Launch, Pad, Part};

    fn stage(name: Option<&str>, parts: &[(&str, bool)]) -> Stage {
        let splits_into = parts
            .iter()
            .map(|&(name, carries_recovery)| Part { name: name.into(), carries_recovery, ..Part::default() })
            .collect();
        Stage { name: name.map(Into::into), splits_into, ..Stage::default() }
    }

    fn flight(stages: Vec<Stage>) -> Flight {
        Flight {
            format: crate::FORMAT.into(),
            id: None,
            title: None,
            pad: Pad { lat: 0.0, lon: 0.0, accuracy_m: None, elevation_m: None },
            field: None,
            air: None,
            wind: Vec::new(),
            rocket: Rocket { name: Some("Heron".into()), stages, ..Rocket::default() },
            launch: Launch::default(),
            evidence: Vec::new(),
        }
    }

    #[test]
    fn a_rocket_in_one_piece_is_one_part_under_every_name_it_has() {
        let flight = flight(vec![stage(None, &[])]);
        assert_eq!(flight.rocket.part_names(), ["rocket"]);
        for name in [None, Some("rocket"), Some("Heron")] {
            assert_eq!(flight.part_index_for(name), Some(0), "{name:?}");
        }
        assert_eq!(flight.part_index_for(Some("heron")), None);
    }

    #[test]
    fn a_stage_that_splits_means_its_part_with_the_recovery_device() {
        let flight = flight(vec![stage(None, &[]), stage(Some("top"), &[("lower", false), ("upper", true)])]);
        assert_eq!(flight.rocket.part_names(), ["booster", "lower", "upper"]);
        assert_eq!(flight.part_index_for(Some("booster")), Some(0));
        assert_eq!(flight.part_index_for(Some("lower")), Some(1));
        for name in [None, Some("top"), Some("Heron"), Some("rocket")] {
            assert_eq!(flight.part_index_for(name), Some(2), "{name:?}");
        }
    }

    #[test]
    fn the_upper_of_two_unnamed_stages_is_the_sustainer() {
        let flight = flight(vec![stage(None, &[]), stage(None, &[])]);
        assert_eq!(flight.rocket.part_names(), ["booster", "sustainer"]);
        assert_eq!(flight.part_index_for(None), Some(1));
    }

    #[test]
    fn a_rocket_without_stages_has_no_parts() {
        assert_eq!(flight(Vec::new()).part_index_for(None), None);
    }
}
