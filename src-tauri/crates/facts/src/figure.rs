use schemars::JsonSchema;
use serde::de::{MapAccess, Visitor, value::MapAccessDeserializer};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// How well a number is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
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
#[cfg_attr(
    feature = "typescript",
    derive(ts_rs::TS),
    ts(type = "number | { value: number; known?: \"weighed\" | \"stated\" | \"guessed\" | null }")
)]
pub struct Figure {
    /// The number, in the unit its key names.
    pub value: f64,
    /// How well it is known, if the flyer said so.
    pub known: Option<Known>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Spelled {
    pub(crate) value: f64,
    #[serde(default)]
    pub(crate) known: Option<Known>,
}

impl JsonSchema for Figure {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Figure".into()
    }

    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({"type": "number"}) // crate::schema lets any number say how well it is known
    }
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
        deserializer.deserialize_any(FigureVisitor)
    }
}

// By hand, not untagged: an untagged enum forgets where inside it went wrong.
struct FigureVisitor;

impl<'de> Visitor<'de> for FigureVisitor {
    type Value = Figure;

    fn expecting(&self, formatter: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        formatter
            .write_str("a number or {\"value\": number, \"known\": \"weighed\", \"stated\" or \"guessed\"}")
    }

    fn visit_f64<E>(self, value: f64) -> Result<Figure, E> {
        Ok(value.into())
    }

    fn visit_i64<E>(self, value: i64) -> Result<Figure, E> {
        Ok((value as f64).into())
    }

    fn visit_u64<E>(self, value: u64) -> Result<Figure, E> {
        Ok((value as f64).into())
    }

    fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<Figure, A::Error> {
        let Spelled { value, known } = Spelled::deserialize(MapAccessDeserializer::new(map))?;
        Ok(Figure { value, known })
    }
}
