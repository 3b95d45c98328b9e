//! One line: an entry and its signature.

use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::key::{self, Signer};
use super::{At, Body, Digest, Seen, canonical};
use crate::error::{Error, ErrorKind, Result};

/// Longest line in bytes, without the newline (design section 12).
pub const LINE_LIMIT: usize = 64 * 1024;

/// What is signed.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// Author's public key.
    pub author: Digest,
    /// Aircraft id; zeros in the line that makes it, and in loose captures.
    pub aircraft: Digest,
    /// Place in the chain, from 0.
    pub seq: u64,
    /// Digest of the line before; zeros at first.
    pub prev: Digest,
    /// When it was written.
    pub at: At,
    /// When it was observed.
    pub seen: Seen,
    /// False if the clock was handed in by a person or a test.
    pub system_clock: bool,
    /// The fact itself.
    pub body: Body,
}

#[derive(Serialize, Deserialize)]
struct Raw {
    aircraft: Digest,
    at: At,
    author: Digest,
    body: Value,
    clock: String,
    kind: String,
    prev: Digest,
    seen: Seen,
    seq: u64,
    #[serde(flatten)]
    more: serde_json::Map<String, Value>,
}

/// A line as stored: its bytes are never written again in another form.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Stored bytes without the newline.
    pub bytes: Vec<u8>,
    /// SHA-256 of `bytes`.
    pub digest: Digest,
    /// What it says.
    pub entry: Entry,
    /// True if it has a kind or a field that this program does not know.
    pub newer: bool,
}

impl Entry {
    /// The entry as JSON.
    pub fn to_value(&self) -> Result<Value> {
        let raw = Raw {
            aircraft: self.aircraft,
            at: self.at.clone(),
            author: self.author,
            body: self.body.to_value()?,
            clock: if self.system_clock { "system" } else { "given" }.into(),
            kind: self.body.kind().to_owned(),
            prev: self.prev,
            seen: self.seen.clone(),
            seq: self.seq,
            more: serde_json::Map::new(),
        };
        serde_json::to_value(raw)
            .map_err(|error| Error::new(ErrorKind::BadValue, error.to_string()))
    }

    /// Signs and freezes.
    pub fn sign(self, signer: &dyn Signer) -> Result<Line> {
        self.seen.check()?;
        let value = self.to_value()?;
        let signed = canonical::to_bytes(&value)?;
        let signature = signer.sign(&signed);
        let line = serde_json::json!({ "entry": value, "sig": data_encoding::HEXLOWER.encode(&signature) });
        let bytes = canonical::to_bytes(&line)?;
        if bytes.len() > LINE_LIMIT {
            return Err(Error::new(
                ErrorKind::TooLarge,
                format!(
                    "this entry would be {} bytes; a line holds at most {LINE_LIMIT}",
                    bytes.len()
                ),
            )
            .at(self.body.kind())
            .hint("shorten the text, or keep it as a file (paper)"));
        }
        // What is written must be readable by the strict reader, today and for ever.
        Line::parse(&bytes)
    }
}

impl Line {
    /// Reads stored bytes strictly. The signature is not checked here: see [`Line::signature_holds`].
    pub fn parse(bytes: &[u8]) -> Result<Self> {
        let bad = |what: &str| Error::new(ErrorKind::BadFormat, what.to_owned());
        if bytes.len() > LINE_LIMIT {
            return Err(Error::new(
                ErrorKind::TooLarge,
                format!(
                    "a line of {} bytes; at most {LINE_LIMIT} are allowed",
                    bytes.len()
                ),
            ));
        }
        let value = canonical::parse_canonical(bytes)?;
        let Value::Object(mut object) = value else {
            return Err(bad("a line must be an object with entry and sig"));
        };
        let entry = object
            .remove("entry")
            .ok_or_else(|| bad("the line has no entry"))?;
        let Some(Value::String(signature)) = object.remove("sig") else {
            return Err(bad("the line has no sig"));
        };
        if signature_bytes(&signature).is_none() {
            return Err(bad("sig is not 128 lower-case hexadecimal digits"));
        }
        let mut newer = !object.is_empty();
        let seen_as_stored = entry.get("seen").cloned();
        let raw: Raw = serde_json::from_value(entry)
            .map_err(|error| bad(&format!("the entry cannot be read: {error}")))?;
        newer |= !raw.more.is_empty() || seen_has_more(&seen_as_stored, &raw.seen);
        raw.seen.check()?;
        let system_clock = match raw.clock.as_str() {
            "system" => true,
            "given" => false,
            _ => return Err(bad("clock is neither system nor given")),
        };
        let (body, unknown) = Body::from_value(&raw.kind, raw.body)?;
        newer |= unknown;
        let entry = Entry {
            author: raw.author,
            aircraft: raw.aircraft,
            seq: raw.seq,
            prev: raw.prev,
            at: raw.at,
            seen: raw.seen,
            system_clock,
            body,
        };
        Ok(Self {
            digest: Digest::of(bytes),
            bytes: bytes.to_vec(),
            entry,
            newer,
        })
    }

    /// The body as it is stored, with members that this program does not know.
    pub fn body_json(&self) -> Value {
        let stored = canonical::parse(&self.bytes).ok();
        stored
            .as_ref()
            .and_then(|line| line.get("entry")?.get("body").cloned())
            .unwrap_or_default()
    }

    /// Checks the signature over the stored entry's own bytes.
    pub fn signature_holds(&self) -> bool {
        let Ok(Value::Object(mut object)) = canonical::parse(&self.bytes) else {
            return false;
        };
        let (Some(entry), Some(Value::String(signature))) =
            (object.remove("entry"), object.remove("sig"))
        else {
            return false;
        };
        let (Ok(signed), Some(signature)) =
            (canonical::to_bytes(&entry), signature_bytes(&signature))
        else {
            return false;
        };
        key::verify(&self.entry.author, &signed, &signature)
    }

    /// The aircraft this line belongs to: its own digest where it makes one.
    pub fn aircraft(&self) -> Digest {
        if self.entry.aircraft == Digest::ZERO && matches!(self.entry.body, Body::ChainOpened(_)) {
            self.digest
        } else {
            self.entry.aircraft
        }
    }

    /// First key of every order, microseconds.
    pub fn order_us(&self) -> i64 {
        self.entry.seen.instant_us(&self.entry.at)
    }
}

/// True if the stored time of observation has members that this program does not know.
fn seen_has_more(stored: &Option<Value>, seen: &Seen) -> bool {
    stored.as_ref() != serde_json::to_value(seen).ok().as_ref()
}

fn signature_bytes(text: &str) -> Option<[u8; 64]> {
    data_encoding::HEXLOWER
        .decode(text.as_bytes())
        .ok()?
        .try_into()
        .ok()
}
