//! A rocket from what its flyer can tell without a scale or a rule.

use crate::read_motor::{MotorRead, usual_case_mm};
use crate::{Api, ApiError, Code};
use serde::{Deserialize, Serialize};
use windfall_facts::{CanopyShape, Figure, Known, Motor, Part, Recovery, Rocket, Sentence, Stage};

/// A rocket as its flyer tells it: a name, a motor and what it comes down on; all else may be left out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RocketTold {
    /// Its name.
    pub name: String,
    /// From the bottom up; one or two.
    pub stages: Vec<StageTold>,
    /// Its colours, in words.
    #[serde(default)]
    pub colours: Option<String>,
    /// Whether every part bears a telephone number.
    #[serde(default)]
    pub labelled: bool,
    /// Parts that bear one, if not every part does.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub labels: Vec<String>,
}

impl RocketTold {
    /// Whether each of its parts bears a telephone number.
    pub(crate) fn all_labelled(&self, parts: &[String]) -> bool {
        self.labelled || parts.iter().all(|part| self.labels.contains(part))
    }
}

/// A stage as its flyer tells it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StageTold {
    /// The motor, as people write it.
    #[serde(default)]
    pub motor: Option<String>,
    /// What it comes down on.
    #[serde(default)]
    pub comes_down_on: ComesDownOn,
    /// Ready to fly without motor.
    #[serde(default)]
    pub weight: Option<Weight>,
    /// How thick the body is.
    #[serde(default)]
    pub width: Option<Width>,
    /// How long it is.
    #[serde(default)]
    pub length: Option<Size>,
    /// How wide the parachute is, or how long the streamer.
    #[serde(default)]
    pub device: Option<Size>,
    /// The hole in the middle of the parachute.
    #[serde(default)]
    pub hole: Option<Hole>,
    /// Where it could come apart.
    #[serde(default)]
    pub joint: Option<Joint>,
}

/// What a stage comes down on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ComesDownOn {
    /// A parachute.
    #[default]
    Parachute,
    /// A streamer.
    Streamer,
    /// Nothing: it tumbles.
    Tumble,
}

/// How heavy something is in the hand.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Weight {
    /// Light as an egg.
    Egg,
    /// As an apple.
    Apple,
    /// As a full can.
    Can,
    /// Put on a scale, grams.
    Grams(f64),
}

/// How thick a body is.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Width {
    /// The motor just fits.
    Snug,
    /// As a coin held against the nose.
    Coin,
    /// Twice as wide as a coin.
    TwoCoins,
    /// Measured, millimetres.
    Mm(f64),
}

/// How long something is.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Size {
    /// Spans of a hand.
    Hands(f64),
    /// From the elbow to the fingertips.
    Forearms(f64),
    /// Printed on it, millimetres.
    PrintedMm(f64),
    /// Measured, millimetres.
    Mm(f64),
}

/// The hole in the middle of a parachute.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Hole {
    /// None.
    None,
    /// As a coin.
    Coin,
    /// As a cup.
    Cup,
}

/// Where a rocket could come apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Joint {
    /// Nowhere.
    Whole,
    /// The nose, with what it comes down on.
    Nose,
    /// The middle: the upper half with what it comes down on, the lower with the motor.
    Middle,
}

/// What should be said before it flies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Doubt {
    /// Both motors are boosters: nothing pushes the recovery device out.
    TwoZeroDelays,
    /// The lower motor has a delay: it does not light the upper one.
    DelayedBooster,
    /// The lower motor has no charge: it does not light the upper one.
    PluggedBooster,
    /// A booster motor in a single stage: its charge comes at burnout, at full speed.
    BoosterAlone,
    /// No ejection charge, but something to be pushed out.
    PluggedMotor,
    /// The delay is not known.
    DelayUnknown,
    /// Only the letter of the motor is known.
    LetterOnly,
}

/// A rocket as the flight file has it, and what should be said of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Sketched {
    /// What the answers come to.
    pub rocket: Rocket,
    /// What falls on its own, for a sheet of labels.
    pub parts: Vec<String>,
    /// Before it flies.
    pub doubts: Vec<Doubt>,
}

/// Ready to fly, grams. From memory: an egg of middle size, an apple, 0.33 l of drink in its can.
const EGG_G: f64 = 60.0;
const APPLE_G: f64 = 150.0;
const CAN_G: f64 = 350.0;
/// From memory: the coins that most people carry are 23 to 25 mm wide; a cup at its rim.
const COIN_MM: f64 = 24.0;
const CUP_MM: f64 = 75.0;
/// Common practice, no source: a hand spread out, and from the elbow to the fingertips.
const HAND_MM: f64 = 200.0;
const FOREARM_MM: f64 = 450.0;
/// Both walls of the body and of the tube that holds the motor. Common practice, no source.
const WALLS_MM: f64 = 1.5;
/// Shares of the rocket ready to fly without motor. Judgement.
const NOSE_SHARE: f64 = 0.3;
const UPPER_SHARE: f64 = 0.45;

fn guessed(value: f64) -> Figure {
    Figure { value, known: Some(Known::Guessed) }
}

impl Weight {
    fn figure(self) -> Figure {
        match self {
            Self::Egg => guessed(EGG_G),
            Self::Apple => guessed(APPLE_G),
            Self::Can => guessed(CAN_G),
            Self::Grams(value) => Figure { value, known: Some(Known::Weighed) },
        }
    }
}

impl Size {
    fn figure(self) -> Figure {
        match self {
            Self::Hands(count) => guessed(count * HAND_MM),
            Self::Forearms(count) => guessed(count * FOREARM_MM),
            Self::PrintedMm(value) => Figure { value, known: Some(Known::Stated) },
            Self::Mm(value) => Figure { value, known: Some(Known::Weighed) },
        }
    }
}

impl Width {
    fn figure(self, motor: Option<&str>) -> Option<Figure> {
        Some(match self {
            Self::Snug => guessed(motor.and_then(usual_case_mm)? + WALLS_MM),
            Self::Coin => guessed(COIN_MM),
            Self::TwoCoins => guessed(2.0 * COIN_MM),
            Self::Mm(value) => Figure { value, known: Some(Known::Weighed) },
        })
    }
}

impl StageTold {
    fn stage(&self) -> Stage {
        let dry_mass_g = self.weight.map(Weight::figure);
        let recovery = match self.comes_down_on {
            ComesDownOn::Parachute => Recovery::Parachute {
                diameter_mm: self.device.map(Size::figure),
                shape: CanopyShape::default(),
                spill_hole_mm: self.hole.map(|hole| match hole {
                    Hole::None => Figure::from(0.0),
                    Hole::Coin => guessed(COIN_MM),
                    Hole::Cup => guessed(CUP_MM),
                }),
            },
            ComesDownOn::Streamer => {
                Recovery::Streamer { length_mm: self.device.map(Size::figure), width_mm: None }
            }
            ComesDownOn::Tumble => Recovery::Tumble {},
        };
        Stage {
            dry_mass_g,
            diameter_mm: self.width.and_then(|width| width.figure(self.motor.as_deref())),
            length_mm: self.length.map(Size::figure),
            motor: self.motor.clone().map(Motor::Designation),
            recovery: Some(recovery),
            splits_into: self.parts(dry_mass_g.map(|figure| figure.value)),
            ..Stage::default()
        }
    }

    /// The empty case stays in the lower part, the recovery device with the upper one.
    fn parts(&self, dry_g: Option<f64>) -> Vec<Part> {
        let (upper, share, lower) = match self.joint {
            None | Some(Joint::Whole) => return Vec::new(),
            Some(Joint::Nose) => ("nose", NOSE_SHARE, "body"),
            Some(Joint::Middle) => ("upper", UPPER_SHARE, "lower"),
        };
        let grams = |share: f64| dry_g.map(|dry_g| guessed(dry_g * share));
        vec![
            Part { name: upper.into(), mass_g: grams(share), carries_recovery: true, ..Part::default() },
            Part { name: lower.into(), mass_g: grams(1.0 - share), carries_motor: true, ..Part::default() },
        ]
    }
}

impl ComesDownOn {
    /// What a stage comes down on; a parachute if nobody told.
    pub(crate) fn of(recovery: Option<&Recovery>) -> Self {
        match recovery {
            None | Some(Recovery::Parachute { .. }) => Self::Parachute,
            Some(Recovery::Streamer { .. }) => Self::Streamer,
            Some(Recovery::Tumble {}) => Self::Tumble,
        }
    }

    /// One of which nobody told the size.
    pub(crate) fn untold(self) -> Recovery {
        match self {
            Self::Parachute => {
                Recovery::Parachute { diameter_mm: None, shape: CanopyShape::default(), spill_hole_mm: None }
            }
            Self::Streamer => Recovery::Streamer { length_mm: None, width_mm: None },
            Self::Tumble => Recovery::Tumble {},
        }
    }
}

/// What should be said of a rocket before it flies.
pub(crate) fn doubts(rocket: &Rocket) -> Vec<Doubt> {
    let read = |stage: &Stage| MotorRead::of(stage.motor.as_ref()?.designation()).ok();
    let motors: Vec<_> = rocket.stages.iter().map(read).collect();
    let mut doubts = Vec::new();
    let is_zero = |motor: &Option<MotorRead>| motor.as_ref().is_some_and(|it| it.delay_s == Some(0.0));
    if let [below, above] = motors.as_slice() {
        if is_zero(below) && is_zero(above) {
            doubts.push(Doubt::TwoZeroDelays);
        }
        if below.as_ref().is_some_and(|it| it.delay_s.is_some_and(|delay_s| delay_s > 0.0)) {
            doubts.push(Doubt::DelayedBooster);
        }
        if below.as_ref().is_some_and(|it| it.plugged) {
            doubts.push(Doubt::PluggedBooster);
        }
    } else if motors.iter().any(is_zero) {
        doubts.push(Doubt::BoosterAlone);
    }
    if let (Some(stage), Some(Some(motor))) = (rocket.stages.last(), motors.last()) {
        if motor.plugged && ComesDownOn::of(stage.recovery.as_ref()) != ComesDownOn::Tumble {
            doubts.push(Doubt::PluggedMotor);
        }
        if motor.mean_thrust_n.is_none() {
            doubts.push(Doubt::LetterOnly);
        } else if motor.delay_s.is_none() && !motor.plugged {
            doubts.push(Doubt::DelayUnknown);
        }
    }
    doubts
}

/// The rocket that the answers come to, with `id` as its identifier.
///
/// # Errors
/// Names the answer that cannot be used and what is allowed.
pub(crate) fn sketch(told: &RocketTold, id: Option<&str>) -> Result<Sketched, ApiError> {
    if told.name.trim().is_empty() {
        return Err(ApiError::said(Code::BadRequest, Sentence::NameNeeded {}).of("name"));
    }
    let motor = |(index, stage): (usize, &StageTold)| {
        let read = stage.motor.as_deref().filter(|written| !written.trim().is_empty()).map(MotorRead::of);
        read.transpose().map_err(|error| error.of(&format!("stages[{index}].motor")))
    };
    let motors: Vec<_> = told.stages.iter().enumerate().map(motor).collect::<Result<_, _>>()?;
    let stages = told.stages.iter().zip(&motors).map(|(stage, motor)| {
        let spelled = motor.as_ref().map(|motor| motor.spelled.clone());
        // The mark of a small motor tells its size, so the width is read off what was written.
        Stage { motor: spelled.map(Motor::Designation), ..stage.stage() }
    });
    let rocket = Rocket {
        id: id.map(str::to_owned),
        name: Some(told.name.trim().to_owned()),
        stages: stages.collect(),
    };
    let said =
        serde_json::to_value(&rocket).map_err(|error| ApiError::new(Code::Defect, error.to_string()))?;
    crate::check_fact::check(windfall_logbook::about::ROCKET, "rocket", "rocket", &said, None)
        .map_err(|error| ApiError { message: error.message.replacen("json.", "", 1), ..error })?;
    Ok(Sketched { parts: rocket.part_names(), doubts: doubts(&rocket), rocket })
}

/// A rocket that somebody tells.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SketchRocket {
    /// What was answered so far.
    pub told: RocketTold,
}

impl Api {
    /// What the answers about a rocket come to; nothing is kept.
    ///
    /// # Errors
    /// Names the answer that cannot be used and what is allowed.
    pub fn sketch_rocket(&self, asked: &SketchRocket) -> Result<Sketched, ApiError> {
        sketch(&asked.told, None)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::{Value, json};

    fn sketched(stages: Value) -> Sketched {
        let told = json!({"name": "Linnet", "stages": stages});
        sketch(&serde_json::from_value(told).unwrap(), None).unwrap()
    }

    #[test]
    fn a_name_a_motor_and_what_it_comes_down_on_are_enough() {
        let linnet = sketched(json!([{"motor": "c6 5", "comes_down_on": "streamer"}]));
        let stage = &linnet.rocket.stages[0];
        assert_eq!(stage.motor, Some(Motor::Designation("C6-5".into())));
        assert_eq!(stage.recovery, Some(Recovery::Streamer { length_mm: None, width_mm: None }));
        assert_eq!((stage.dry_mass_g, stage.splits_into.len(), linnet.doubts.len()), (None, 0, 0));
    }

    #[test]
    fn a_booster_has_its_own_weight_size_and_device_and_each_part_its_own_label() {
        let two = sketched(
            json!([{"motor": "D12-0", "weight": {"grams": 45.0}, "width": {"mm": 34.0}, "comes_down_on": "streamer"},
            {"motor": "C6-5", "weight": {"grams": 80.0}, "joint": "nose"}]),
        );
        let [below, above] = two.rocket.stages.as_slice() else { panic!("two stages") };
        let grams = |stage: &Stage| stage.dry_mass_g.map(|it| it.value);
        assert_eq!((grams(below), grams(above)), (Some(45.0), Some(80.0)));
        assert_eq!((below.diameter_mm.map(|it| it.value), above.diameter_mm), (Some(34.0), None));
        assert!(matches!(below.recovery, Some(Recovery::Streamer { .. })), "{below:?}");
        let told = |more: Value| -> RocketTold {
            let mut told = json!({"name": "Heron", "stages": []});
            told.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
            serde_json::from_value(told).unwrap()
        };
        assert!(!told(json!({})).all_labelled(&two.parts));
        assert!(!told(json!({"labels": ["booster", "nose"]})).all_labelled(&two.parts));
        assert!(told(json!({ "labels": two.parts })).all_labelled(&two.parts));
        assert!(told(json!({"labelled": true})).all_labelled(&two.parts), "as an older logbook has it");
    }

    #[test]
    fn words_become_guesses_and_what_was_measured_or_printed_does_not() {
        let linnet = sketched(
            json!([{"motor": "1/2A3-4T", "weight": "egg", "width": "snug", "length": {"hands": 2.0},
            "device": {"printed_mm": 300.0}, "hole": "coin", "joint": "nose"}]),
        );
        let stage = &linnet.rocket.stages[0];
        let known = |figure: Option<Figure>| figure.map(|it| (it.value, it.known));
        assert_eq!(known(stage.dry_mass_g), Some((60.0, Some(Known::Guessed))));
        assert_eq!(known(stage.diameter_mm), Some((14.5, Some(Known::Guessed))));
        assert_eq!(known(stage.length_mm), Some((400.0, Some(Known::Guessed))));
        let Some(Recovery::Parachute { diameter_mm, spill_hole_mm, .. }) = stage.recovery else { panic!() };
        assert_eq!(known(diameter_mm), Some((300.0, Some(Known::Stated))));
        assert_eq!(known(spill_hole_mm), Some((24.0, Some(Known::Guessed))));
        assert_eq!(linnet.parts, ["nose", "body"]);
        let grams: f64 = stage.splits_into.iter().map(|part| part.mass_g.unwrap().value).sum();
        assert!((grams - 60.0).abs() < 1e-9 && stage.splits_into[1].carries_motor);
    }

    #[test]
    fn motors_that_do_not_fit_are_said_before_it_flies() {
        let doubts = |motors: &[&str]| {
            sketched(motors.iter().map(|motor| json!({"motor": motor})).collect::<Vec<_>>().into()).doubts
        };
        assert_eq!(doubts(&["C6-0"]), [Doubt::BoosterAlone]);
        assert_eq!(doubts(&["C6-0", "C6-0"]), [Doubt::TwoZeroDelays]);
        assert_eq!(doubts(&["C6-3", "C6-5"]), [Doubt::DelayedBooster]);
        assert_eq!(doubts(&["C6-0", "C6-5"]), []);
        assert_eq!(doubts(&["C6-P"]), [Doubt::PluggedMotor]);
        assert_eq!(doubts(&["C6 plugged", "C6-5"]), [Doubt::PluggedBooster]);
        assert_eq!(doubts(&["C6"]), [Doubt::DelayUnknown]);
        assert_eq!(doubts(&["C"]), [Doubt::LetterOnly]);
    }

    #[test]
    fn what_cannot_be_is_refused_by_its_field() {
        let refused = |told: Value| sketch(&serde_json::from_value(told).unwrap(), None).unwrap_err().message;
        assert!(refused(json!({"name": " ", "stages": [{}]})).starts_with("name: "));
        assert!(
            refused(json!({"name": "A", "stages": [{"motor": "H128"}]})).starts_with("stages[0].motor: ")
        );
        assert!(refused(json!({"name": "A", "stages": []})).starts_with("stages: "));
        let heavy = refused(json!({"name": "A", "stages": [{"weight": {"grams": 9000.0}}]}));
        assert!(heavy.starts_with("stages[0].dry_mass_g: 9000 is out of range"), "{heavy}");
    }
}
