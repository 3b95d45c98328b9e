//! Canonical JSON (RFC 8785), restricted: the only numbers are integers up to 2^53-1, a key stands
//! once, no lone surrogates. Reading refuses whatever is not already canonical, so that a line has
//! exactly one form.

use std::fmt;

use serde::de::{self, DeserializeSeed, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Number, Value};

use crate::error::{Error, ErrorKind, Result};

/// Largest integer that every JSON reader keeps exactly (RFC 7493, section 2.2).
pub const MAX_INTEGER: i64 = (1 << 53) - 1;
/// Deepest nesting accepted.
const MAX_DEPTH: usize = 32;

/// Canonical bytes of a value.
pub fn to_bytes<T: serde::Serialize>(value: &T) -> Result<Vec<u8>> {
    serde_json_canonicalizer::to_vec(value).map_err(|error| {
        Error::new(
            ErrorKind::BadValue,
            format!("cannot be written as canonical JSON: {error}"),
        )
    })
}

/// Reads strict JSON: duplicate keys, lone surrogates, other numbers than integers and anything
/// after the value are errors that say so.
pub fn parse(bytes: &[u8]) -> Result<Value> {
    let bad = |what: String| Error::new(ErrorKind::BadFormat, what);
    let text = std::str::from_utf8(bytes).map_err(|_| bad("not UTF-8 text".into()))?;
    let mut reader = serde_json::Deserializer::from_str(text);
    let value = Strict(0)
        .deserialize(&mut reader)
        .map_err(|error| bad(plain(&error.to_string())))?;
    reader
        .end()
        .map_err(|_| bad("something follows the JSON value".into()))?;
    Ok(value)
}

/// Reads and demands that the bytes are the canonical form of what they say.
pub fn parse_canonical(bytes: &[u8]) -> Result<Value> {
    let value = parse(bytes)?;
    if to_bytes(&value)? != bytes {
        return Err(Error::new(
            ErrorKind::BadFormat,
            "not in canonical form (RFC 8785)",
        ));
    }
    Ok(value)
}

fn plain(message: &str) -> String {
    if message.contains("surrogate") || message.contains("end of hex escape") {
        return "a lone surrogate in a text (not a character)".into();
    }
    let cut = message.find(" at line").unwrap_or(message.len());
    message[..cut].to_owned()
}

struct Strict(usize);

impl<'de> DeserializeSeed<'de> for Strict {
    type Value = Value;
    fn deserialize<D: de::Deserializer<'de>>(
        self,
        deserializer: D,
    ) -> std::result::Result<Value, D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Strict {
    type Value = Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON value")
    }
    fn visit_bool<E: de::Error>(self, value: bool) -> std::result::Result<Value, E> {
        Ok(Value::Bool(value))
    }
    fn visit_i64<E: de::Error>(self, value: i64) -> std::result::Result<Value, E> {
        if value.unsigned_abs() > MAX_INTEGER as u64 {
            return Err(E::custom("an integer beyond 2^53-1"));
        }
        Ok(Value::Number(Number::from(value)))
    }
    fn visit_u64<E: de::Error>(self, value: u64) -> std::result::Result<Value, E> {
        if value > MAX_INTEGER as u64 {
            return Err(E::custom("an integer beyond 2^53-1"));
        }
        Ok(Value::Number(Number::from(value)))
    }
    fn visit_f64<E: de::Error>(self, _: f64) -> std::result::Result<Value, E> {
        Err(E::custom(
            "a number that is not an integer (quantities are texts)",
        ))
    }
    fn visit_str<E: de::Error>(self, value: &str) -> std::result::Result<Value, E> {
        Ok(Value::String(value.to_owned()))
    }
    fn visit_unit<E: de::Error>(self) -> std::result::Result<Value, E> {
        Ok(Value::Null)
    }
    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> std::result::Result<Value, A::Error> {
        if self.0 >= MAX_DEPTH {
            return Err(de::Error::custom("nested too deeply"));
        }
        let mut items = Vec::new();
        while let Some(item) = seq.next_element_seed(Strict(self.0 + 1))? {
            items.push(item);
        }
        Ok(Value::Array(items))
    }
    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> std::result::Result<Value, A::Error> {
        if self.0 >= MAX_DEPTH {
            return Err(de::Error::custom("nested too deeply"));
        }
        let mut object = Map::new();
        while let Some(key) = map.next_key::<String>()? {
            let value = map.next_value_seed(Strict(self.0 + 1))?;
            if object.insert(key.clone(), value).is_some() {
                return Err(de::Error::custom(format!("the key \"{key}\" stands twice")));
            }
        }
        Ok(Value::Object(object))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn refuses_what_has_two_readings() {
        for (text, says) in [
            (r#"{"a":1,"a":2}"#, "stands twice"),
            (r#"{"a":"\ud800"}"#, "lone surrogate"),
            (r#"{"a":1.5}"#, "not an integer"),
            (r#"{"a":9007199254740992}"#, "beyond 2^53-1"),
            (r#"{"b":1,"a":2}"#, "canonical"),
            (r#"{"a": 1}"#, "canonical"),
            (r#"{"a":1} "#, "canonical"),
            (r#"{"a":1}x"#, "follows"),
        ] {
            let error = parse_canonical(text.as_bytes()).unwrap_err();
            assert!(error.what.contains(says), "{text}: {error}");
        }
        assert!(parse_canonical(br#"{"a":[1,"x",null,true]}"#).is_ok());
    }
}
