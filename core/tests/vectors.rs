//! Published vectors: canonical JSON (RFC 8785), Ed25519 (RFC 8032), SHA-256 (FIPS 180-4), read from
//! `../shared/outside` (or `WITNESSMARK_SHARED`) where present.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::{Path, PathBuf};

use data_encoding::HEXLOWER_PERMISSIVE as HEX;
use witnessmark_core::record::key::{self, SeedSigner, Signer};
use witnessmark_core::record::{Digest, canonical};

fn shared(what: &str) -> Option<PathBuf> {
    let root = std::env::var_os("WITNESSMARK_SHARED").map_or_else(
        || Path::new(env!("CARGO_MANIFEST_DIR")).join("../../shared"),
        PathBuf::from,
    );
    let path = root.join("outside").join(what);
    if path.exists() {
        return Some(path);
    }
    println!("SKIPPED: {} is not there", path.display());
    None
}

/// The author of RFC 8785's own test data (github.com/cyberphone/json-canonicalization, Apache-2.0).
#[test]
fn canonical_json_is_that_of_rfc_8785() {
    let Some(folder) = shared("jcs") else { return };
    let mut strict = 0;
    for name in [
        "arrays",
        "french",
        "structures",
        "unicode",
        "values",
        "weird",
    ] {
        let given = std::fs::read(folder.join(format!("input/{name}.json"))).unwrap();
        let due = std::fs::read(folder.join(format!("output/{name}.json"))).unwrap();
        let value: serde_json::Value = serde_json::from_slice(&given).unwrap();
        assert_eq!(canonical::to_bytes(&value).unwrap(), due, "{name}");
        // The strict reader takes the same content but for numbers that are not integers, and takes
        // canonical bytes alone as canonical.
        match canonical::parse(&given) {
            Ok(read) => {
                assert_eq!(canonical::to_bytes(&read).unwrap(), due, "{name}");
                assert_eq!(canonical::parse_canonical(&due).unwrap(), read);
                assert!(canonical::parse_canonical(&given).is_err() || given == due);
                strict += 1;
            }
            Err(error) => {
                assert!(
                    ["values", "structures"].contains(&name)
                        && error.what.contains("not an integer"),
                    "{name}: {error}"
                );
            }
        }
    }
    assert!(strict >= 4, "{strict}");
}

/// `sign.input` of the Ed25519 authors, 1024 cases, from PyPI cryptography_vectors: seed and key, key,
/// message, signature and message.
#[test]
fn signatures_are_those_of_the_ed25519_authors() {
    let Some(file) = shared("vectors/ed25519_sign.input") else {
        return;
    };
    let text = std::fs::read_to_string(file).unwrap();
    let mut cases = 0;
    for line in text.lines() {
        let mut parts = line
            .split(':')
            .map(|part| HEX.decode(part.as_bytes()).unwrap());
        let (secret, public, message, signed) = (
            parts.next().unwrap(),
            parts.next().unwrap(),
            parts.next().unwrap(),
            parts.next().unwrap(),
        );
        let signer = SeedSigner::from_seed(secret[..32].try_into().unwrap());
        let public = Digest::from_slice(&public).unwrap();
        assert_eq!(signer.public(), public);
        let mut signature = signer.sign(&message);
        assert_eq!(signature[..], signed[..64]);
        assert!(key::verify(&public, &message, &signature));
        // One bit of signature or message and it does not hold.
        signature[cases % 64] ^= 1 << (cases % 8);
        assert!(!key::verify(&public, &message, &signature));
        signature[cases % 64] ^= 1 << (cases % 8);
        let mut other = message.clone();
        other.push(0);
        assert!(!key::verify(&public, &other, &signature));
        cases += 1;
    }
    assert_eq!(cases, 1024);
}

/// NIST CAVP, SHA-256, byte oriented: short, long and the Monte Carlo test (SHAVS, section 6.4).
#[test]
fn digests_are_those_of_nist() {
    let Some(folder) = shared("vectors") else {
        return;
    };
    let field = |line: &str, name: &str| line.strip_prefix(name).map(|rest| rest.trim().to_owned());
    let mut cases = 0;
    for name in ["SHA256ShortMsg.rsp", "SHA256LongMsg.rsp"] {
        let text = std::fs::read_to_string(folder.join(name)).unwrap();
        let (mut bits, mut message) = (0usize, Vec::new());
        for line in text.lines() {
            if let Some(len) = field(line, "Len =") {
                bits = len.parse().unwrap();
            } else if let Some(hex) = field(line, "Msg =") {
                message = HEX.decode(hex.as_bytes()).unwrap();
                message.truncate(bits / 8);
            } else if let Some(due) = field(line, "MD =") {
                assert_eq!(Digest::of(&message).hex(), due, "{name}, {bits} bits");
                cases += 1;
            }
        }
    }
    assert_eq!(cases, 65 + 64);
    let text = std::fs::read_to_string(folder.join("SHA256Monte.rsp")).unwrap();
    let mut seed = None;
    let mut rounds = 0;
    for line in text.lines() {
        if let Some(hex) = field(line, "Seed =") {
            seed = Digest::from_slice(&HEX.decode(hex.as_bytes()).unwrap());
        } else if let Some(due) = field(line, "MD =") {
            let start = seed.unwrap();
            let mut last = [start; 3];
            for _ in 0..1000 {
                let joined: Vec<u8> = last.iter().flat_map(|digest| digest.0).collect();
                last = [last[1], last[2], Digest::of(&joined)];
            }
            assert_eq!(last[2].hex(), due);
            seed = Some(last[2]);
            rounds += 1;
        }
    }
    assert_eq!(rounds, 100);
}
