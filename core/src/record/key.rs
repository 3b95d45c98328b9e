//! Author keys: Ed25519 (RFC 8032), kept as PKCS #8 (RFC 8410) in a file that only its owner reads,
//! or handed in by a shell as a 32-byte seed.

use std::path::Path;

use ed25519_dalek::pkcs8::{DecodePrivateKey, EncodePrivateKey, KeypairBytes};
use ed25519_dalek::{Signature, Signer as _, SigningKey, VerifyingKey};

use zeroize::Zeroizing;

use super::Digest;
use crate::error::{Error, ErrorKind, Result};
use crate::world::{Access, Entropy, Files};

/// Signs entries; a phone's key store or a test may stand behind it.
pub trait Signer: Send {
    /// The public key.
    fn public(&self) -> Digest;
    /// Ed25519 signature over bytes.
    fn sign(&self, bytes: &[u8]) -> [u8; 64];
}

/// A key in memory, wiped when dropped.
pub struct SeedSigner(SigningKey);

impl SeedSigner {
    /// From a seed (RFC 8032: the private key's 32 bytes).
    pub fn from_seed(seed: &[u8; 32]) -> Self {
        Self(SigningKey::from_bytes(seed))
    }

    /// A new key from the given randomness.
    pub fn generate(entropy: &dyn Entropy) -> Result<Self> {
        let mut seed = Zeroizing::new([0u8; 32]);
        entropy
            .fill(seed.as_mut_slice())
            .map_err(|error| Error::io(&error, "random numbers"))?;
        Ok(Self::from_seed(&seed))
    }

    /// Writes the key as PKCS #8 DER, readable by its owner alone.
    pub fn save(&self, files: &dyn Files, path: &Path) -> Result<()> {
        let document = self
            .0
            .to_pkcs8_der()
            .map_err(|_| Error::new(ErrorKind::BadFormat, "the key cannot be written"))?;
        files
            .replace(path, document.as_bytes(), Access::Owner)
            .map_err(|error| Error::io(&error, path.display()))
    }

    /// Reads a key file; refused if others may read it.
    pub fn load(files: &dyn Files, path: &Path) -> Result<Self> {
        let io = |error| Error::io(&error, path.display());
        if files.readable_by_others(path).map_err(io)? {
            return Err(Error::new(
                ErrorKind::Refused,
                "others on this machine can read the key",
            )
            .at(path.display())
            .hint("chmod 600 on that file, then open again"));
        }
        let bytes = Zeroizing::new(files.read(path, 4096).map_err(io)?);
        let key = SigningKey::from_pkcs8_der(&bytes).ok();
        // Readers of PKCS #8 forgive what carries no meaning; a file that is not as it was written is
        // damaged all the same, and the next bit may matter. Version 1 carries no public key.
        let as_written = key.as_ref().is_some_and(|key| {
            let bare = KeypairBytes {
                secret_key: key.to_bytes(),
                public_key: None,
            };
            [key.to_pkcs8_der().ok(), bare.to_pkcs8_der().ok()]
                .iter()
                .flatten()
                .any(|document| document.as_bytes() == bytes.as_slice())
        });
        match key {
            Some(key) if as_written => Ok(Self(key)),
            _ => Err(Error::new(ErrorKind::Damaged, "the key file is damaged")
                .at(path.display())
                .hint(
                    "restore it from where you keep a copy; without it, go on under a new author",
                )),
        }
    }
}

impl Signer for SeedSigner {
    fn public(&self) -> Digest {
        Digest(self.0.verifying_key().to_bytes())
    }
    fn sign(&self, bytes: &[u8]) -> [u8; 64] {
        self.0.sign(bytes).to_bytes()
    }
}

/// Strict verification: small-order keys and non-canonical forms are refused.
pub fn verify(public: &Digest, bytes: &[u8], signature: &[u8; 64]) -> bool {
    VerifyingKey::from_bytes(&public.0).is_ok_and(|key| {
        key.verify_strict(bytes, &Signature::from_bytes(signature))
            .is_ok()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What holds a key does something when it is dropped; that `Zeroizing` and `SigningKey` wipe then is
    /// their crates' own promise and test.
    #[test]
    fn what_holds_a_key_is_wiped_when_dropped() {
        assert!(std::mem::needs_drop::<SeedSigner>());
        assert!(std::mem::needs_drop::<KeypairBytes>());
        assert!(std::mem::needs_drop::<crate::notebook::KeySource>());
        fn wiped<T: zeroize::ZeroizeOnDrop>() {}
        wiped::<SigningKey>();
    }
}
