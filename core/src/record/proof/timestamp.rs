//! Time stamps of a stranger (RFC 3161): the query that is sent, and what is read of the reply.
//!
//! Here: status, imprint, nonce, time and policy. Not here: the authority's signature, which
//! `openssl ts -verify` checks where it is installed (rival refused: the `cms` and `x509-tsp` crates,
//! not ready for it); elsewhere it is said to be "not checked". A third of single-bit flips in a reply
//! still verify by signature, so its file is kept by digest like any evidence.

use crate::error::{Error, ErrorKind, Result};
use crate::record::Digest;

/// Largest reply that is read, in bytes.
pub const REPLY_LIMIT: usize = 256 * 1024;

/// OID 2.16.840.1.101.3.4.2.1, SHA-256 (RFC 5754 section 2.2).
const SHA256: [u8; 9] = [0x60, 0x86, 0x48, 0x01, 0x65, 0x03, 0x04, 0x02, 0x01];
/// OID 1.2.840.113549.1.7.2, signed data (RFC 5652 section 5.1).
const SIGNED_DATA: [u8; 9] = [0x2A, 0x86, 0x48, 0x86, 0xF7, 0x0D, 0x01, 0x07, 0x02];
/// OID 1.2.840.113549.1.9.16.1.4, time-stamp token content (RFC 3161 section 2.4.2).
const TST_INFO: [u8; 11] = [
    0x2A, 0x86, 0x48, 0x86, 0xF7, 0x0D, 0x01, 0x09, 0x10, 0x01, 0x04,
];

const INTEGER: u8 = 0x02;
const OCTETS: u8 = 0x04;
const OID: u8 = 0x06;
const TIME: u8 = 0x18;
const SEQUENCE: u8 = 0x30;
const SET: u8 = 0x31;

/// A query for one line: DER of TimeStampReq, version 1, SHA-256, with nonce, asking for the
/// authority's certificate. The imprint is the line's digest, so `openssl ts -verify -digest` takes
/// the same 64 digits that `sha256sum` gives.
pub fn request(line: &Digest, nonce: u64) -> Vec<u8> {
    let algorithm = wrap(SEQUENCE, &[wrap(OID, &SHA256), vec![0x05, 0x00]].concat());
    let imprint = wrap(SEQUENCE, &[algorithm, wrap(OCTETS, &line.0)].concat());
    let body = [
        wrap(INTEGER, &[1]),
        imprint,
        wrap(INTEGER, &unsigned(nonce)),
        vec![0x01, 0x01, 0xFF],
    ]
    .concat();
    wrap(SEQUENCE, &body)
}

fn unsigned(value: u64) -> Vec<u8> {
    let bytes = value.to_be_bytes();
    let skip = bytes.iter().take_while(|b| **b == 0).count().min(7);
    let mut out: Vec<u8> = bytes.iter().skip(skip).copied().collect();
    if out.first().is_some_and(|b| b & 0x80 != 0) {
        out.insert(0, 0);
    }
    out
}

fn wrap(tag: u8, body: &[u8]) -> Vec<u8> {
    let mut out = vec![tag];
    match u8::try_from(body.len()) {
        Ok(n) if n < 0x80 => out.push(n),
        // Nothing longer than 255 bytes is ever written here.
        Ok(n) => out.extend([0x81, n]),
        Err(_) => out.extend([0x82, (body.len() >> 8) as u8, body.len() as u8]),
    }
    out.extend_from_slice(body);
    out
}

/// What a reply says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reply {
    /// Digest that was stamped.
    pub imprint: Digest,
    /// Nonce that it answers, where it has one that fits 64 bits.
    pub nonce: Option<u64>,
    /// Time that the authority states, RFC 3339 in UTC, with its fraction.
    pub time: String,
    /// Policy, dotted.
    pub policy: String,
    /// Serial number in hexadecimal.
    pub serial: String,
}

impl Reply {
    /// Reads a TimeStampResp. Bounded: nothing is allocated by a stated length, and every length is
    /// held against the bytes that are there.
    ///
    /// # Errors
    /// `Refused` with the authority's own words where it declined; `BadFormat` for anything else.
    pub fn parse(bytes: &[u8]) -> Result<Self> {
        if bytes.len() > REPLY_LIMIT {
            return Err(Error::new(
                ErrorKind::TooLarge,
                format!("a reply of more than {REPLY_LIMIT} bytes"),
            ));
        }
        let mut all = Der(bytes);
        let mut response = all.inside(SEQUENCE)?;
        all.done()?;
        let mut status = response.inside(SEQUENCE)?;
        let granted = status.take(INTEGER)?;
        if granted != [0] && granted != [1] {
            return Err(Error::new(
                ErrorKind::Refused,
                format!(
                    "the authority declined (status {})",
                    data_encoding::HEXLOWER.encode(granted)
                ),
            )
            .hint("make a new query, or ask another authority"));
        }
        let mut content = response.inside(SEQUENCE)?;
        response.done()?;
        if content.take(OID)? != SIGNED_DATA {
            return Err(bad("the reply holds no signed data"));
        }
        let mut signed = content.inside(0xA0)?.inside(SEQUENCE)?;
        signed.take(INTEGER)?;
        signed.take(SET)?;
        let mut encapsulated = signed.inside(SEQUENCE)?;
        if encapsulated.take(OID)? != TST_INFO {
            return Err(bad("the reply holds no time stamp"));
        }
        let token = encapsulated.inside(0xA0)?.take(OCTETS)?;
        let mut token = Der(token);
        let mut info = token.inside(SEQUENCE)?;
        token.done()?;
        if info.take(INTEGER)? != [1] {
            return Err(bad("a time stamp of an unknown version"));
        }
        let policy = dotted(info.take(OID)?)?;
        let mut imprint = info.inside(SEQUENCE)?;
        if imprint.inside(SEQUENCE)?.take(OID)? != SHA256 {
            return Err(bad("the time stamp is not over a SHA-256 digest"));
        }
        let imprint = Digest::from_slice(imprint.take(OCTETS)?)
            .ok_or_else(|| bad("the stamped digest does not have 32 bytes"))?;
        let serial = data_encoding::HEXLOWER.encode(info.take(INTEGER)?);
        let time = utc(info.take(TIME)?)?;
        let mut nonce = None;
        while let Some(tag) = info.peek() {
            let body = info.take(tag)?;
            if tag == INTEGER {
                nonce = body
                    .strip_prefix(&[0])
                    .unwrap_or(body)
                    .iter()
                    .try_fold(0u64, |n, b| n.checked_mul(256)?.checked_add(u64::from(*b)));
            }
        }
        Ok(Self {
            imprint,
            nonce,
            time,
            policy,
            serial,
        })
    }

    /// Holds a reply against the query that was sent.
    ///
    /// # Errors
    /// `Refused` naming what does not fit.
    pub fn answers(&self, line: &Digest, nonce: u64) -> Result<()> {
        let what = if self.imprint != *line {
            "the reply is for another digest than the one that was asked about"
        } else if self.nonce != Some(nonce) {
            "the reply answers another query (its nonce differs)"
        } else {
            return Ok(());
        };
        Err(Error::new(ErrorKind::Refused, what)
            .hint("send the query file again and keep its own reply"))
    }
}

/// The nonce of a query made by [`request`].
///
/// # Errors
/// `BadFormat` if it is not such a query.
pub fn nonce_of(request: &[u8]) -> Result<(Digest, u64)> {
    let mut all = Der(request);
    let mut query = all.inside(SEQUENCE)?;
    query.take(INTEGER)?;
    let mut imprint = query.inside(SEQUENCE)?;
    imprint.take(SEQUENCE)?;
    let digest = Digest::from_slice(imprint.take(OCTETS)?)
        .ok_or_else(|| bad("the query is not over SHA-256"))?;
    let nonce = query
        .take(INTEGER)?
        .iter()
        .try_fold(0u64, |n, b| n.checked_mul(256)?.checked_add(u64::from(*b)))
        .ok_or_else(|| bad("the query's nonce is too long"))?;
    Ok((digest, nonce))
}

fn bad(what: &str) -> Error {
    Error::new(ErrorKind::BadFormat, what).hint("get the reply from the authority again")
}

/// Definite-length DER, read front to back.
struct Der<'a>(&'a [u8]);

impl<'a> Der<'a> {
    fn peek(&self) -> Option<u8> {
        self.0.first().copied()
    }

    fn take(&mut self, tag: u8) -> Result<&'a [u8]> {
        let [found, rest @ ..] = self.0 else {
            return Err(bad("the reply ends too early"));
        };
        if *found != tag {
            return Err(bad("the reply is not built as RFC 3161 says"));
        }
        let (length, rest) = match rest {
            [n, rest @ ..] if *n < 0x80 => (usize::from(*n), rest),
            [0x81, n, rest @ ..] if *n >= 0x80 => (usize::from(*n), rest),
            [0x82, a, b, rest @ ..] if *a > 0 => (usize::from(*a) << 8 | usize::from(*b), rest),
            [0x83, a, b, c, rest @ ..] if *a > 0 => (
                usize::from(*a) << 16 | usize::from(*b) << 8 | usize::from(*c),
                rest,
            ),
            _ => return Err(bad("a length in the reply is not DER")),
        };
        if length > rest.len() {
            return Err(bad("the reply ends too early"));
        }
        let (body, after) = rest.split_at(length);
        self.0 = after;
        Ok(body)
    }

    fn inside(&mut self, tag: u8) -> Result<Der<'a>> {
        self.take(tag).map(Der)
    }

    fn done(&self) -> Result<()> {
        if self.0.is_empty() {
            Ok(())
        } else {
            Err(bad("something follows the reply"))
        }
    }
}

fn dotted(bytes: &[u8]) -> Result<String> {
    let mut parts: Vec<u64> = Vec::new();
    let mut value: u64 = 0;
    let mut open = false;
    for byte in bytes.iter().take(64) {
        value = value
            .checked_mul(128)
            .and_then(|v| v.checked_add(u64::from(byte & 0x7F)))
            .ok_or_else(|| bad("an object identifier is too long"))?;
        open = byte & 0x80 != 0;
        if !open {
            if parts.is_empty() {
                let first = (value / 40).min(2);
                parts.extend([first, value - first * 40]);
            } else {
                parts.push(value);
            }
            value = 0;
        }
    }
    if open || parts.is_empty() || bytes.len() > 64 {
        return Err(bad("an object identifier cannot be read"));
    }
    Ok(parts
        .iter()
        .map(u64::to_string)
        .collect::<Vec<_>>()
        .join("."))
}

/// GeneralizedTime `YYYYMMDDhhmmss[.f…]Z` as RFC 3339.
fn utc(bytes: &[u8]) -> Result<String> {
    let text = std::str::from_utf8(bytes).map_err(|_| bad("the time cannot be read"))?;
    let body = text
        .strip_suffix('Z')
        .filter(|body| body.is_ascii() && body.len() <= 32)
        .ok_or_else(|| bad("the time is not in UTC"))?;
    let (whole, fraction) = body
        .split_at_checked(14)
        .ok_or_else(|| bad("the time cannot be read"))?;
    let time = chrono::NaiveDateTime::parse_from_str(whole, "%Y%m%d%H%M%S")
        .map_err(|_| bad("the time cannot be read"))?;
    let digits = fraction.strip_prefix('.');
    let good = fraction.is_empty()
        || digits.is_some_and(|d| !d.is_empty() && d.bytes().all(|b| b.is_ascii_digit()));
    if !good {
        return Err(bad("the time cannot be read"));
    }
    Ok(format!(
        "{}{fraction}+00:00",
        time.format("%Y-%m-%dT%H:%M:%S")
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::Path;
    use std::process::Command;

    /// `openssl ts` as a local authority (configuration of the outside material); skipped where
    /// either is absent.
    fn authority() -> Option<tempfile::TempDir> {
        let shared = std::env::var_os("WITNESSMARK_SHARED").map_or_else(
            || Path::new(env!("CARGO_MANIFEST_DIR")).join("../../shared"),
            std::path::PathBuf::from,
        );
        let config = shared.join("outside/tsa/tsa.cnf");
        if !config.exists() || Command::new("openssl").arg("version").output().is_err() {
            eprintln!("SKIPPED: openssl or {} is not there", config.display());
            return None;
        }
        let folder = tempfile::tempdir().unwrap();
        std::fs::copy(config, folder.path().join("tsa.cnf")).unwrap();
        std::fs::write(folder.path().join("tsaserial"), "01\n").unwrap();
        for command in [
            "req -x509 -newkey rsa:2048 -nodes -keyout ca.key -out ca.pem -days 30 -config tsa.cnf -extensions v3_ca",
            "req -newkey rsa:2048 -nodes -keyout tsa.key -out tsa.csr -config tsa.cnf -subj /CN=Test",
            "x509 -req -in tsa.csr -CA ca.pem -CAkey ca.key -CAcreateserial -out tsa.pem -days 30 -extfile tsa.cnf -extensions v3_tsa",
        ] {
            openssl(folder.path(), command);
        }
        Some(folder)
    }

    fn openssl(folder: &Path, words: &str) -> String {
        let out = Command::new("openssl")
            .current_dir(folder)
            .args(words.split(' '))
            .output()
            .unwrap();
        assert!(
            out.status.success(),
            "{words}: {}",
            String::from_utf8_lossy(&out.stderr)
        );
        String::from_utf8_lossy(&out.stdout).into_owned()
    }

    #[test]
    fn a_real_authority_takes_the_query_and_its_reply_is_read() {
        let Some(folder) = authority() else { return };
        let at = folder.path();
        for (digest, nonce) in [
            (Digest([7; 32]), 1),
            (Digest([0xFF; 32]), u64::MAX),
            (Digest([1; 32]), 0x80),
        ] {
            let query = request(&digest, nonce);
            assert_eq!(nonce_of(&query).unwrap(), (digest, nonce));
            std::fs::write(at.join("query.tsq"), query).unwrap();
            let shown = openssl(at, "ts -query -in query.tsq -text");
            assert!(
                shown.contains("sha256") && shown.contains("Certificate required: yes"),
                "{shown}"
            );
            openssl(
                at,
                "ts -reply -config tsa.cnf -queryfile query.tsq -out reply.tsr",
            );
            let verified = openssl(
                at,
                &format!("ts -verify -digest {digest} -in reply.tsr -CAfile ca.pem"),
            );
            assert!(verified.contains("OK"));
            let bytes = std::fs::read(at.join("reply.tsr")).unwrap();
            let reply = Reply::parse(&bytes).unwrap();
            reply.answers(&digest, nonce).unwrap();
            assert!(reply.answers(&digest, nonce ^ 1).is_err());
            assert!(reply.answers(&Digest([9; 32]), nonce).is_err());
            assert_eq!(reply.policy, "1.3.6.1.4.1.99999.1.1");
            assert!(reply.time.ends_with("+00:00"), "{}", reply.time);
            for cut in 0..bytes.len() {
                assert!(Reply::parse(&bytes[..cut]).is_err());
            }
            for at in 0..bytes.len().min(400) {
                let mut hurt = bytes.clone();
                hurt[at] ^= 0x10;
                let _ = Reply::parse(&hurt); // an answer, never a panic
            }
        }
    }

    proptest::proptest! {
        #[test]
        fn any_bytes_are_read_or_refused(bytes in proptest::collection::vec(proptest::num::u8::ANY, 0..400)) {
            let _ = Reply::parse(&bytes);
            let _ = nonce_of(&bytes);
        }
    }
}
