//! Slips: what may have to be left out later (name, role, certificate number, position), kept
//! apart from the signed lines and cited by digest. A random salt of 128 bits keeps a withheld slip
//! from being guessed.

use serde::{Deserialize, Serialize};

use super::{Digest, canonical};
use crate::error::{Error, ErrorKind, Result};
use crate::world::Entropy;

/// The content of a slip. Exactly one file per slip, named by its digest.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Slip {
    /// 32 hexadecimal digits of randomness.
    pub salt: String,
    /// A person: claimed name.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub name: Option<String>,
    /// A person: claimed role.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub role: Option<String>,
    /// A person: claimed certificate or licence number.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub certificate: Option<String>,
    /// A place: WGS 84 latitude and longitude in decimal degrees, as texts.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub position: Option<(String, String)>,
}

impl Slip {
    /// A person's claims.
    pub fn person(
        entropy: &dyn Entropy,
        name: &str,
        role: &str,
        certificate: Option<&str>,
    ) -> Result<Self> {
        Ok(Self {
            salt: salt(entropy)?,
            name: Some(name.to_owned()),
            role: Some(role.to_owned()),
            certificate: certificate.map(str::to_owned),
            position: None,
        })
    }

    /// A position.
    pub fn position(entropy: &dyn Entropy, latitude: &str, longitude: &str) -> Result<Self> {
        Ok(Self {
            salt: salt(entropy)?,
            name: None,
            role: None,
            certificate: None,
            position: Some((latitude.to_owned(), longitude.to_owned())),
        })
    }

    /// Canonical bytes and their digest.
    pub fn to_bytes(&self) -> Result<(Vec<u8>, Digest)> {
        let bytes = canonical::to_bytes(self)?;
        let digest = Digest::of(&bytes);
        Ok((bytes, digest))
    }

    /// Reads a slip.
    pub fn parse(bytes: &[u8]) -> Result<Self> {
        let value = canonical::parse_canonical(bytes)?;
        serde_json::from_value(value)
            .map_err(|_| Error::new(ErrorKind::BadFormat, "this slip cannot be read"))
    }
}

fn salt(entropy: &dyn Entropy) -> Result<String> {
    let mut bytes = [0u8; 16];
    entropy
        .fill(&mut bytes)
        .map_err(|error| Error::io(&error, "random numbers"))?;
    Ok(data_encoding::HEXLOWER.encode(&bytes))
}
