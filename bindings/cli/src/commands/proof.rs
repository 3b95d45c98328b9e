//! `verify`, `vouch`, `proof`, `timestamp`: what can be shown to somebody who does not trust us.

use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use serde_json::json;
use witnessmark_core::notebook::{Consistency, HandedProof, LineProof, Notebook, verify_folder};
use witnessmark_core::pack::receive::judge;
use witnessmark_core::record::Digest;
use witnessmark_core::record::proof::code::ProofCode;
use witnessmark_core::record::proof::{WORTH, qr};
use witnessmark_core::report::listing::Columns;
use witnessmark_core::world::Access;
use witnessmark_core::{Error, ErrorKind, Result};

use super::pack::refused_by;
use crate::output::Output;
use crate::real::Session;

/// `verify`
#[derive(Args)]
pub struct VerifyArgs {
    /// A notebook or a pack; this notebook if not given.
    path: Option<PathBuf>,
}

/// Columns of `verify` and `receive`.
pub(super) const ROWS: Columns = Columns {
    at: "/rows",
    within: None,
    columns: &[
        ("status", "/status"),
        ("code", "/code"),
        ("file", "/file"),
        ("walkaround", "/walkaround"),
        ("zone", "/zone"),
        ("finding", "/finding"),
        ("what", "/what"),
        ("do", "/do"),
    ],
};

/// Columns of `proof`.
const FINISHES: Columns = Columns {
    at: "/finishes",
    within: None,
    columns: &[
        ("at", "/at"),
        ("author", "/author"),
        ("lines", "/size"),
        ("code", "/code"),
        ("finish", "/finish"),
    ],
};

/// Verifies a notebook or a pack.
pub fn verify(session: &Session, args: &VerifyArgs, out: &Output) -> Result<u8> {
    let world = session.world()?;
    let report = match &args.path {
        None => verify_folder(&world, &session.folder()?)?,
        Some(path) if path.join("notebook.toml").exists() => verify_folder(&world, path)?,
        Some(path) => match judge(&world, path, false) {
            Ok(judged) => judged.outcome.report,
            Err(error)
                if matches!(
                    error.kind,
                    ErrorKind::Refused
                        | ErrorKind::BadFormat
                        | ErrorKind::TooLarge
                        | ErrorKind::Newer
                ) =>
            {
                refused_by(&error).report
            }
            Err(error) => return Err(error),
        },
    };
    out.list(&report, &ROWS, || report.to_text())?;
    Ok(u8::from(report.failed()))
}

/// Vouches for every other author's chain.
pub fn vouch(session: &Session, out: &Output) -> Result<u8> {
    let mut notebook = session.open()?;
    let aircraft = session.the_aircraft(&notebook)?;
    let made = notebook.vouch(&aircraft)?;
    notebook.close()?;
    out.show(&json!({"vouched": made}), || {
        if made.is_empty() {
            return "Nothing new to vouch for: no other author's chain is here, or its last line is vouched for already.".to_owned();
        }
        let mut text = String::new();
        for head in &made {
            text.push_str(&format!(
                "Vouched for the chain of author {} up to line {}.\n",
                head.author.short(),
                head.seq + 1
            ));
        }
        text.push_str("This records that these lines were here in this form now: if they are written anew later, it shows. It does not say that they are true.");
        text
    })
}

/// `proof`
#[derive(Args)]
pub struct ProofArgs {
    /// Show that one entry stands under a finish.
    #[arg(long, value_name = "ENTRY")]
    line: Option<String>,
    /// Look up a printed proof code.
    #[arg(long, value_name = "CODE", conflicts_with = "line")]
    check: Option<String>,
    /// Show that everything under an older finish is still there under a newer one: the older by
    /// its digits or its printed code.
    #[arg(long, value_name = "FINISH", conflicts_with_all = ["line", "check"])]
    older: Option<String>,
    /// The newer finish; the latest of the same author if not given.
    #[arg(long, value_name = "FINISH", requires = "older")]
    newer: Option<String>,
    /// Write the proof of --line or --older into a file, to hand over.
    #[arg(long, value_name = "FILE.json")]
    out: Option<PathBuf>,
    /// Check a proof that was handed over; needs no notebook.
    #[arg(long, value_name = "FILE.json", conflicts_with_all = ["line", "check", "older", "out"])]
    verify: Option<PathBuf>,
    /// Write the latest code as a QR picture.
    #[arg(long, value_name = "FILE.svg")]
    qr: Option<PathBuf>,
}

impl ProofArgs {
    /// Whether it lists the finishes.
    pub fn lists(&self) -> bool {
        self.line.is_none() && self.check.is_none()
    }
}

/// Proof codes and inclusion.
pub fn proof(session: &Session, args: &ProofArgs, out: &Output) -> Result<u8> {
    if let Some(path) = &args.verify {
        return handed_over(session, path, out);
    }
    let notebook = session.read()?;
    let aircraft = session.the_aircraft(&notebook)?;
    if let Some(line) = &args.line {
        let row = notebook.entry(line, &[])?;
        let proof = notebook.line_proof(&row.digest)?;
        write_out(session, args, &proof)?;
        return out.show(&proof, || line_words(&proof, &row.author));
    }
    if let Some(older) = &args.older {
        let (older, newer) = two_finishes(&notebook, &aircraft, older, args.newer.as_deref())?;
        let proof = notebook.consistency(&older, &newer)?;
        write_out(session, args, &proof)?;
        return out.show(&proof, || finishes_words(&proof));
    }
    if let Some(code) = &args.check {
        let found = notebook.finish_with_code(&aircraft, code)?;
        return out.show(&found, || {
            format!(
                "This is the code of the finish of {} by author {}: {} lines.\n{WORTH}",
                found.at,
                found.author.short(),
                found.size
            )
        });
    }
    let rows = notebook.finishes(&aircraft)?;
    if let Some(path) = &args.qr {
        let last = rows.last().ok_or_else(|| {
            Error::new(
                ErrorKind::WrongState,
                "no walkaround is finished yet: there is no proof code",
            )
            .hint("witnessmark walkaround finish")
        })?;
        let svg = qr::svg(&last.code)?;
        session
            .world()?
            .files
            .replace(path, svg.as_bytes(), Access::Usual)
            .map_err(|error| Error::io(&error, path.display()))?;
    }
    out.list(
        &json!({"finishes": rows, "worth": WORTH}),
        &FINISHES,
        || {
            let mut text = String::new();
            for row in &rows {
                text.push_str(&format!(
                    "{}  author {}  {} lines\n    {}\n",
                    row.at,
                    row.author.short(),
                    row.size,
                    row.code
                ));
            }
            if rows.is_empty() {
                text.push_str("No walkaround is finished yet: there is no proof code.\n");
            }
            text.push_str(WORTH);
            text
        },
    )
}

fn line_words(proof: &LineProof, author: &Digest) -> String {
    format!(
        "Line {} of {} is number {} of {} under finish {}.\nProof code of that finish: {}\n{} hashes lead from it to the root {}.\n{WORTH}",
        proof.line.short(),
        author.short(),
        proof.index + 1,
        proof.size,
        proof.finish.short(),
        proof.code,
        proof.path.len(),
        proof.root
    )
}

fn finishes_words(proof: &Consistency) -> String {
    format!(
        "The {} lines under finish {} are the first of the {} under finish {}: none of them was changed, taken out or put in since.\nThat holds for one author's chain ({}), between these two finishes.\n{WORTH}",
        proof.old_size,
        proof.old_finish.short(),
        proof.new_size,
        proof.new_finish.short(),
        proof.author.short()
    )
}

/// The older and the newer finish that are meant.
fn two_finishes(
    notebook: &Notebook,
    aircraft: &Digest,
    older: &str,
    newer: Option<&str>,
) -> Result<(Digest, Digest)> {
    let named = |text: &str| match ProofCode::parse(text) {
        Ok(_) => Ok(notebook.finish_with_code(aircraft, text)?.finish),
        Err(_) => Ok(notebook.entry(text, &["walkaround finished"])?.digest),
    };
    let older: Digest = named(older)?;
    let newer = match newer {
        Some(text) => named(text)?,
        None => {
            let all = notebook.finishes(aircraft)?;
            let author = all.iter().find(|row| row.finish == older);
            let author = author.map(|row| row.author);
            all.iter()
                .filter(|row| Some(row.author) == author)
                .max_by_key(|row| row.size)
                .map_or(older, |row| row.finish)
        }
    };
    Ok((older, newer))
}

fn write_out<T: serde::Serialize>(session: &Session, args: &ProofArgs, proof: &T) -> Result<()> {
    let Some(path) = &args.out else { return Ok(()) };
    let bytes = serde_json::to_vec(proof)
        .map_err(|error| Error::new(ErrorKind::BadValue, error.to_string()))?;
    session
        .world()?
        .files
        .replace(path, &bytes, Access::Usual)
        .map_err(|error| Error::io(&error, path.display()))
}

/// What a stranger does with a proof.
fn handed_over(session: &Session, path: &Path, out: &Output) -> Result<u8> {
    let bytes = session
        .world()?
        .files
        .read(path, 4 << 20)
        .map_err(|error| Error::io(&error, path.display()))?;
    match HandedProof::read(&bytes).map_err(|error| error.at(path.display()))? {
        HandedProof::Line(proof) => out.show(&proof, || {
            format!(
                "This line stands as number {} of {} under the finish with the code {}. Compare that code with one that you were given by other means.\n{}\n{WORTH}",
                proof.index + 1,
                proof.size,
                proof.code,
                proof.text
            )
        }),
        HandedProof::Finishes(proof) => out.show(&proof, || finishes_words(&proof)),
    }
}

/// `timestamp`
#[derive(Subcommand)]
pub enum TimestampCommand {
    /// Write a query file (RFC 3161) for a finish.
    Request {
        /// The finish, by its digits; the latest if not given.
        finish: Option<String>,
        /// The file to send.
        #[arg(long)]
        out: PathBuf,
    },
    /// Keep an authority's reply.
    Accept {
        /// The reply file.
        reply: PathBuf,
        /// The query file that it answers.
        #[arg(long)]
        query: PathBuf,
        /// The authority's certificate (PEM), to have openssl check the signature.
        #[arg(long)]
        ca: Option<PathBuf>,
    },
}

/// Time stamps.
pub fn timestamp(session: &Session, command: &TimestampCommand, out: &Output) -> Result<u8> {
    match command {
        TimestampCommand::Request { finish, out: file } => {
            let notebook = session.read()?;
            let aircraft = session.the_aircraft(&notebook)?;
            let digest = match finish {
                Some(text) => notebook.entry(text, &["walkaround finished"])?.digest,
                None => {
                    notebook
                        .finishes(&aircraft)?
                        .iter()
                        .rfind(|row| row.author == notebook.author())
                        .ok_or_else(|| {
                            Error::new(
                                ErrorKind::WrongState,
                                "no walkaround is finished yet: there is nothing to stamp",
                            )
                            .hint("witnessmark walkaround finish")
                        })?
                        .finish
                }
            };
            let query = notebook.timestamp_request(&digest)?;
            session
                .world()?
                .files
                .replace(file, &query, Access::Usual)
                .map_err(|error| Error::io(&error, file.display()))?;
            out.show(&json!({"finish": digest, "query": file.display().to_string()}), || {
                format!(
                    "Wrote {} for finish {}. Send it to a time-stamping authority (Content-Type: application/timestamp-query), keep its reply, then: witnessmark timestamp accept REPLY --query {}",
                    file.display(),
                    digest.short(),
                    file.display()
                )
            })
        }
        TimestampCommand::Accept { reply, query, ca } => {
            let files = session.world()?.files;
            let read = |path: &Path| {
                files
                    .read(path, 256 * 1024)
                    .map_err(|error| Error::io(&error, path.display()))
            };
            let (query_bytes, reply_bytes) = (read(query)?, read(reply)?);
            let mut notebook = session.open()?;
            let aircraft = session.the_aircraft(&notebook)?;
            let signature = check_signature(query, reply, ca.as_deref())?;
            let kept = notebook.timestamp_accept(&aircraft, &query_bytes, &reply_bytes)?;
            notebook.close()?;
            out.show(&json!({"timestamp": kept, "signature": signature}), || {
                format!(
                    "Kept: finish {} was stamped at {} (policy {}). The authority's signature: {signature}.",
                    kept.finish.short(),
                    kept.time,
                    kept.policy.as_deref().unwrap_or("none")
                )
            })
        }
    }
}

/// Asks `openssl ts -verify` where it is installed and a certificate was named.
fn check_signature(query: &Path, reply: &Path, ca: Option<&Path>) -> Result<&'static str> {
    let Some(ca) = ca else {
        return Ok("not checked");
    };
    let asked = std::process::Command::new("openssl")
        .args(["ts", "-verify", "-queryfile"])
        .arg(query)
        .arg("-in")
        .arg(reply)
        .arg("-CAfile")
        .arg(ca)
        .output();
    match asked {
        Ok(said) if said.status.success() => Ok("holds, says openssl"),
        Ok(said) => Err(Error::new(
            ErrorKind::Refused,
            format!(
                "openssl says the authority's signature does not hold: {}",
                String::from_utf8_lossy(&said.stderr)
                    .lines()
                    .last()
                    .unwrap_or_default()
            ),
        )
        .at(reply.display())
        .hint("check that the certificate is that authority's; nothing was kept")),
        Err(_) => Ok("not checked (openssl is not installed)"),
    }
}
