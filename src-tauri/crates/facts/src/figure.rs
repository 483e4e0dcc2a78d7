use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// How well a number is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Known {
    /// Put on a scale or measured.
    Weighed,
    /// Printed on the box or the data sheet.
    Stated,
    /// A guess.
    Guessed,
}

/// A number, and how well it is known: `62` or `{"value": 62, "known": "guessed"}`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figure {
    /// The number, in the unit its key names.
    pub value: f64,
    /// How well it is known, if the flyer said so.
    pub known: Option<Known>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Spelled {
    value: f64,
    #[serde(default)]
    known: Option<Known>,
}

impl From<f64> for Figure {
    fn from(value: f64) -> Self {
        Self { value, known: None }
    }
}

impl Serialize for Figure {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self.known {
            None => serializer.serialize_f64(self.value),
            known => Spelled { value: self.value, known }.serialize(serializer),
        }
    }
}

impl<'de> Deserialize<'de> for Figure {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        #[derive(Deserialize)]
        #[serde(untagged)]
        enum Either {
            Bare(f64),
            Spelled(Spelled),
        }
        Either::deserialize(deserializer).map(|either| match either {
            Either::Bare(value) => Self { value, known: None },
            Either::Spelled(Spelled { value, known }) => Self { value, known },
        })
    }
}
