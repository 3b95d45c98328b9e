//! SHA-256 digests, the names of lines and files.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer};
use sha2::{Digest as _, Sha256};

use crate::error::{Error, ErrorKind, Result};

/// 256 bits, shown as 64 lower-case hexadecimal digits. Also used for author keys.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Digest(pub [u8; 32]);

impl Digest {
    /// 64 zeros: "nothing before", "no aircraft yet".
    pub const ZERO: Self = Self([0; 32]);

    /// SHA-256 of bytes.
    pub fn of(bytes: &[u8]) -> Self {
        Self(Sha256::digest(bytes).into())
    }

    /// All 64 digits.
    pub fn hex(&self) -> String {
        data_encoding::HEXLOWER.encode(&self.0)
    }

    /// The first five digits: the short form that people see.
    pub fn short(&self) -> String {
        let mut text = self.hex();
        text.truncate(5);
        text
    }

    /// From 32 bytes.
    pub fn from_slice(bytes: &[u8]) -> Option<Self> {
        bytes.try_into().ok().map(Self)
    }
}

impl fmt::Display for Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.hex())
    }
}

impl fmt::Debug for Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.short())
    }
}

impl FromStr for Digest {
    type Err = Error;
    fn from_str(text: &str) -> Result<Self> {
        data_encoding::HEXLOWER
            .decode(text.as_bytes())
            .ok()
            .and_then(|bytes| Self::from_slice(&bytes))
            .ok_or_else(|| Error::new(ErrorKind::BadValue, "not 64 lower-case hexadecimal digits"))
    }
}

impl Serialize for Digest {
    fn serialize<S: Serializer>(&self, serializer: S) -> std::result::Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Digest {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> std::result::Result<Self, D::Error> {
        String::deserialize(deserializer)?
            .parse()
            .map_err(serde::de::Error::custom)
    }
}
