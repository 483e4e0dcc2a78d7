//! Motors as people write and mix them.

use crate::{Api, ApiError, Code};
use serde::{Deserialize, Serialize};
use windfall_facts::{Delay, Designation, MotorClass};

/// A motor as somebody wrote it.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ReadMotor {
    /// `C6-5`, `c6 5`, `1/2A3-4T`, `C6`, `C`.
    pub written: String,
}

/// What was understood.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MotorRead {
    /// Always the same spelling of the same motor, as `C6-5`.
    pub spelled: String,
    /// Class of total impulse.
    pub class: &'static str,
    /// Mean thrust, newtons; null if only the letter is known.
    pub mean_thrust_n: Option<f64>,
    /// Seconds from burnout to the ejection charge; null if not known or if there is none.
    pub delay_s: Option<f64>,
    /// It has no ejection charge.
    pub plugged: bool,
}

impl MotorRead {
    pub(crate) fn of(written: &str) -> Result<Self, ApiError> {
        let it =
            Designation::parse(written).map_err(|error| ApiError::said(Code::BadRequest, error.said()))?;
        let delay_s = match it.delay {
            Some(Delay::Seconds(seconds)) => Some(seconds),
            Some(Delay::Plugged) | None => None,
        };
        Ok(Self {
            spelled: it.to_string(),
            class: it.class.name(),
            mean_thrust_n: it.mean_thrust_n,
            delay_s,
            plugged: it.delay == Some(Delay::Plugged),
        })
    }
}

/// Diameter of the case, millimetres: what motors of this class usually have. Common practice, no source.
pub(crate) fn usual_case_mm(written: &str) -> Option<f64> {
    let it = Designation::parse(written).ok()?;
    Some(match it.class {
        MotorClass::EighthA | MotorClass::QuarterA | MotorClass::HalfA | MotorClass::A if it.is_thin => 13.0,
        MotorClass::EighthA
        | MotorClass::QuarterA
        | MotorClass::HalfA
        | MotorClass::A
        | MotorClass::B
        | MotorClass::C => 18.0,
        MotorClass::D | MotorClass::E => 24.0,
        MotorClass::F | MotorClass::G => 29.0,
    })
}

impl Api {
    /// What a motor's designation says, however it was written.
    ///
    /// # Errors
    /// When it is none: what is wrong and what is allowed.
    pub fn read_motor(&self, asked: &ReadMotor) -> Result<MotorRead, ApiError> {
        MotorRead::of(&asked.written)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_spellings_of_a_motor_become_one() {
        for (written, one) in [
            ("c6 5", "C6-5"),
            ("C6–5W", "C6-5"),
            ("½a3 4t", "1/2A3-4T"),
            ("A10T", "A10T"),
            ("Quill C6, delay not known", "C6"),
            ("d12 p", "D12-P"),
            ("C6", "C6"),
            ("g", "G"),
            ("D12-0", "D12-0"),
        ] {
            assert_eq!(MotorRead::of(written).unwrap().spelled, one, "{written}");
            assert_eq!(MotorRead::of(one).unwrap().spelled, one, "read again");
        }
        assert!(MotorRead::of("H128").unwrap_err().message.contains("1/8A"));
    }
}
