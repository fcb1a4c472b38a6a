use quantity::parse_length_mm;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};
use std::borrow::Cow;
use std::fmt;

/// A length as the document writes it: a number of millimetres, or text with a unit. What was written is kept.
#[derive(Clone, Debug, PartialEq)]
pub struct Size {
    /// Its value, mm. Finite; may be negative or zero: whether that makes sense is for the place it stands in.
    pub mm: f64,
    /// As written: "1/4 in"; "6.35" for a bare number.
    pub written: String,
}

impl Size {
    /// A size in millimetres.
    pub fn from_mm(mm: f64) -> Self {
        Size { mm, written: mm.to_string() }
    }
}

impl<'de> Deserialize<'de> for Size {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(SizeReader)
    }
}

struct SizeReader;

impl de::Visitor<'_> for SizeReader {
    type Value = Size;

    fn expecting(&self, out: &mut fmt::Formatter) -> fmt::Result {
        out.write_str("a length: a number of millimetres, or text such as \"6 mm\" or \"1/4 in\"")
    }

    fn visit_f64<E: de::Error>(self, value: f64) -> Result<Size, E> {
        if value.is_finite() { Ok(Size::from_mm(value)) } else { Err(E::custom(format!("`{value}` is no finite length; give a plain number of millimetres"))) }
    }

    fn visit_i64<E: de::Error>(self, value: i64) -> Result<Size, E> {
        Ok(Size::from_mm(value as f64))
    }

    fn visit_u64<E: de::Error>(self, value: u64) -> Result<Size, E> {
        Ok(Size::from_mm(value as f64))
    }

    fn visit_str<E: de::Error>(self, text: &str) -> Result<Size, E> {
        let mm = parse_length_mm(text).map_err(E::custom)?;
        Ok(Size { mm, written: text.trim().to_string() })
    }
}

impl Serialize for Size {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self.written.parse::<f64>() {
            Ok(number) => serializer.serialize_f64(number),
            Err(_) => serializer.serialize_str(&self.written),
        }
    }
}

impl JsonSchema for Size {
    fn schema_name() -> Cow<'static, str> {
        "Size".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "description": "A length: a number of millimetres, or text with a unit: \"6 mm\", \"1/4 in\", \"0.25 in\".",
            "anyOf": [{ "type": "number" }, { "type": "string", "minLength": 1, "maxLength": 100 }]
        })
    }
}
