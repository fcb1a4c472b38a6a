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
        if value.is_finite() {
            Ok(Size::from_mm(value))
        } else {
            Err(E::custom(format!("`{value}` is no finite length; give a plain number of millimetres")))
        }
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

/// One length, or several in a list.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(transparent)]
pub struct Sizes(pub Vec<Size>);

impl<'de> Deserialize<'de> for Sizes {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(SizesReader)
    }
}

struct SizesReader;

impl<'de> de::Visitor<'de> for SizesReader {
    type Value = Sizes;

    fn expecting(&self, out: &mut fmt::Formatter) -> fmt::Result {
        out.write_str("a length such as 6.35 or \"6.35 mm\", or a list of them")
    }

    fn visit_f64<E: de::Error>(self, value: f64) -> Result<Sizes, E> {
        SizeReader.visit_f64(value).map(|size| Sizes(vec![size]))
    }

    fn visit_i64<E: de::Error>(self, value: i64) -> Result<Sizes, E> {
        SizeReader.visit_i64(value).map(|size| Sizes(vec![size]))
    }

    fn visit_u64<E: de::Error>(self, value: u64) -> Result<Sizes, E> {
        SizeReader.visit_u64(value).map(|size| Sizes(vec![size]))
    }

    fn visit_str<E: de::Error>(self, text: &str) -> Result<Sizes, E> {
        SizeReader.visit_str(text).map(|size| Sizes(vec![size]))
    }

    fn visit_seq<A: de::SeqAccess<'de>>(self, mut list: A) -> Result<Sizes, A::Error> {
        let mut sizes = Vec::new();
        while let Some(size) = list.next_element()? {
            sizes.push(size);
        }
        Ok(Sizes(sizes))
    }
}

impl JsonSchema for Sizes {
    fn schema_name() -> Cow<'static, str> {
        "Sizes".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let size = generator.subschema_for::<Size>();
        json_schema!({ "description": "A length, or a list of lengths.", "anyOf": [size, { "type": "array", "items": size }] })
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
