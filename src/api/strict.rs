//! Strict reading of JSON: no name twice in an object, no list where an object belongs, and refusals in words for people.

use std::fmt;

use serde::de::value::{MapDeserializer, SeqDeserializer};
use serde::de::{
    Deserialize, Deserializer, Error as Refuse, Expected, IntoDeserializer, MapAccess, SeqAccess, Unexpected,
    Visitor,
};
use serde_json::{Map, Number, Value};

use crate::error::{Error, Result};
use crate::form::Problems;

const NOT_FITTING: &str = "This does not fit here. Look at its shape in the API's description.";

/// Any JSON in which no name stands twice.
struct Plain(Value);

/// A value that is given its shape.
pub struct Shaped(pub Value);

/// Why a value does not have the shape.
#[derive(Debug)]
pub struct Refusal {
    /// The member that is not there.
    pub missing: Option<&'static str>,
    pub words: String,
}

/// Reads the text of a body.
///
/// # Errors
/// Unreadable, with the line and the column.
pub fn parse(bytes: &[u8]) -> Result<Value> {
    let text = std::str::from_utf8(bytes)
        .map_err(|_| Error::Unreadable("This is no text in UTF-8, so it is no JSON.".into()))?;
    let Plain(value) = serde_json::from_str(text).map_err(|broken| {
        let place = format!("line {}, column {}", broken.line(), broken.column());
        Error::Unreadable(format!("This is no JSON that can be read: look at {place}."))
    })?;
    Ok(value)
}

/// The same without the members that are `null`, at any depth.
#[must_use]
pub fn without_nulls(value: Value) -> Value {
    match value {
        Value::Array(list) => Value::Array(list.into_iter().map(without_nulls).collect()),
        Value::Object(members) => {
            let said = members.into_iter().filter(|member| !member.1.is_null());
            Value::Object(said.map(|(name, value)| (name, without_nulls(value))).collect())
        }
        other => other,
    }
}

/// Says where U+0000 stands: SQLite would keep it, PostgreSQL cannot.
pub fn find_nul(problems: &mut Problems, value: &Value, before: &str, at: &str) {
    let below = |step: &str| {
        if at.is_empty() {
            step.to_owned()
        } else {
            format!("{at}.{step}")
        }
    };
    let holds = match value {
        Value::String(text) => text.contains('\0'),
        Value::Array(list) => {
            for (step, value) in list.iter().enumerate() {
                find_nul(problems, value, before, &below(&step.to_string()));
            }
            false
        }
        Value::Object(members) => {
            for (name, value) in members {
                find_nul(problems, value, before, &below(name));
            }
            members.keys().any(|name| name.contains('\0'))
        }
        _ => false,
    };
    if holds {
        problems.add(
            format!("{before}{at}"),
            "There is a sign in this that cannot be kept. Write it anew.",
        );
    }
}

impl<'de> Deserialize<'de> for Plain {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Plain, D::Error> {
        struct Any;
        impl<'de> Visitor<'de> for Any {
            type Value = Plain;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("JSON")
            }
            fn visit_unit<E>(self) -> Result<Plain, E> {
                Ok(Plain(Value::Null))
            }
            fn visit_bool<E>(self, value: bool) -> Result<Plain, E> {
                Ok(Plain(Value::Bool(value)))
            }
            fn visit_i64<E>(self, value: i64) -> Result<Plain, E> {
                Ok(Plain(value.into()))
            }
            fn visit_u64<E>(self, value: u64) -> Result<Plain, E> {
                Ok(Plain(value.into()))
            }
            fn visit_f64<E: Refuse>(self, value: f64) -> Result<Plain, E> {
                let number = Number::from_f64(value).ok_or_else(|| E::custom("no number"))?;
                Ok(Plain(Value::Number(number)))
            }
            fn visit_str<E>(self, value: &str) -> Result<Plain, E> {
                Ok(Plain(value.into()))
            }
            fn visit_seq<A: SeqAccess<'de>>(self, mut from: A) -> Result<Plain, A::Error> {
                let mut list = Vec::new();
                while let Some(Plain(value)) = from.next_element()? {
                    list.push(value);
                }
                Ok(Plain(Value::Array(list)))
            }
            fn visit_map<A: MapAccess<'de>>(self, mut from: A) -> Result<Plain, A::Error> {
                let mut members = Map::new();
                while let Some((name, Plain(value))) = from.next_entry::<String, Plain>()? {
                    if members.insert(name, value).is_some() {
                        return Err(A::Error::custom("a name stands twice"));
                    }
                }
                Ok(Plain(Value::Object(members)))
            }
        }
        from.deserialize_any(Any)
    }
}

impl<'de> Deserializer<'de> for Shaped {
    type Error = Refusal;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Refusal> {
        match self.0 {
            Value::Null => visitor.visit_unit(),
            Value::Bool(value) => visitor.visit_bool(value),
            Value::Number(number) => match (number.as_i64(), number.as_u64(), number.as_f64()) {
                (Some(value), ..) => visitor.visit_i64(value),
                (_, Some(value), _) => visitor.visit_u64(value),
                (.., value) => visitor.visit_f64(value.unwrap_or(f64::NAN)),
            },
            Value::String(text) => visitor.visit_string(text),
            Value::Array(list) => visitor.visit_seq(SeqDeserializer::new(list.into_iter().map(Shaped))),
            Value::Object(members) => {
                let members = members.into_iter().map(|(name, value)| (name, Shaped(value)));
                visitor.visit_map(MapDeserializer::new(members))
            }
        }
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Refusal> {
        match self.0 {
            Value::Null => visitor.visit_none(),
            _ => visitor.visit_some(self),
        }
    }

    /// Only an object is one: serde would also take a list of its members in their order.
    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        _: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Refusal> {
        match self.0 {
            Value::Object(_) => self.deserialize_any(visitor),
            _ => Err(Refusal::new("Write an object here: {..}.")),
        }
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        choices: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Refusal> {
        match self.0 {
            Value::String(text) => visitor.visit_enum(text.into_deserializer()),
            _ => Err(Refusal::new(one_of(choices))),
        }
    }

    serde::forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char str string bytes byte_buf unit unit_struct
        newtype_struct seq tuple tuple_struct map identifier ignored_any
    }
}

impl IntoDeserializer<'_, Refusal> for Shaped {
    type Deserializer = Shaped;
    fn into_deserializer(self) -> Shaped {
        self
    }
}

fn one_of(choices: &[&str]) -> String {
    format!("Write one of: {}.", choices.join(", "))
}

impl Refusal {
    fn new(words: impl Into<String>) -> Refusal {
        Refusal {
            missing: None,
            words: words.into(),
        }
    }
}

impl Refuse for Refusal {
    fn custom<T: fmt::Display>(words: T) -> Refusal {
        let id = words.to_string().contains("UUID");
        Refusal::new(if id { "This is no id." } else { NOT_FITTING })
    }

    /// What is expected is said in serde's words for Rust's types; here in words for everybody.
    fn invalid_type(_: Unexpected, expected: &dyn Expected) -> Refusal {
        Refusal::new(match expected.to_string().as_str() {
            "i64" => "Write a whole number here, without quotes and without a point.",
            "f64" => "Write a number here, without quotes.",
            "a string" => "Write a text here, in quotes.",
            "a boolean" => "Write true or false here.",
            "a sequence" => "Write a list here: [..].",
            "a map" => "Write an object here: {..}.",
            id if id.contains("UUID") => "Write an id here, in quotes.",
            _ => NOT_FITTING,
        })
    }

    fn invalid_value(unexpected: Unexpected, _: &dyn Expected) -> Refusal {
        Refusal::new(match unexpected {
            Unexpected::Unsigned(_) | Unexpected::Signed(_) | Unexpected::Float(_) => {
                "This number is more than fits."
            }
            _ => NOT_FITTING,
        })
    }

    fn unknown_variant(_: &str, choices: &'static [&'static str]) -> Refusal {
        Refusal::new(one_of(choices))
    }

    fn unknown_field(_: &str, known: &'static [&'static str]) -> Refusal {
        let known = if known.is_empty() {
            "nothing".to_owned()
        } else {
            known.join(", ")
        };
        Refusal::new(format!("There is no such field. Known here: {known}."))
    }

    fn missing_field(field: &'static str) -> Refusal {
        Refusal {
            missing: Some(field),
            words: "This is needed.".into(),
        }
    }
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.words)
    }
}

impl std::error::Error for Refusal {}
