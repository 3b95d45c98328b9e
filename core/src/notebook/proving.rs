//! Proving, from an open notebook: proof codes, inclusion, vouching, time stamps.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::Notebook;
use crate::error::{Error, ErrorKind, Result};
use crate::evidence::store;
use crate::pack::verify;
use crate::record::kinds::{TimestampReceived, Vouched};
use crate::record::proof::code::ProofCode;
use crate::record::proof::merkle::Tree;
use crate::record::proof::timestamp::{self, Reply};
use crate::record::{Body, Digest, Line, chain};
use crate::world::below;

/// A finish and its printed form.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FinishRow {
    /// The finish line.
    pub finish: Digest,
    /// Its author.
    pub author: Digest,
    /// The walkaround that it closes.
    pub walkaround: Digest,
    /// Lines under it.
    pub size: u64,
    /// Root of their tree.
    pub root: Digest,
    /// When it was written.
    pub at: String,
    /// The proof code.
    pub code: ProofCode,
}

/// A line's place under a finish (RFC 6962 section 2.1.1): enough, with the line, for a stranger.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LineProof {
    /// The line.
    pub line: Digest,
    /// SHA-256 of 0x00 and the line: the leaf.
    pub leaf: Digest,
    /// Its number.
    pub index: u64,
    /// The first finish over it.
    pub finish: Digest,
    /// Lines under that finish.
    pub size: u64,
    /// Their root.
    pub root: Digest,
    /// Sibling hashes from the leaf upwards.
    pub path: Vec<Digest>,
    /// Proof code of the finish.
    pub code: ProofCode,
}

impl Notebook {
    /// Every finish about an aircraft, oldest first, with its proof code.
    ///
    /// # Errors
    /// Those of the index.
    pub fn finishes(&self, aircraft: &Digest) -> Result<Vec<FinishRow>> {
        let mut rows = Vec::new();
        for id in self.family(aircraft)? {
            for row in self.index.kind_lines(&id, "walkaround finished")? {
                if let Body::WalkaroundFinished(finish) = &row.body {
                    rows.push((
                        row.order_us,
                        FinishRow {
                            finish: row.digest,
                            author: row.author,
                            walkaround: finish.walkaround,
                            size: finish.size,
                            root: finish.root,
                            at: row.at.to_string(),
                            code: ProofCode::of(&row.digest.0),
                        },
                    ));
                }
            }
        }
        rows.sort_by_key(|(order, row)| (*order, row.finish));
        Ok(rows.into_iter().map(|(_, row)| row).collect())
    }

    /// The finish with a printed code, if it is here and its line is unaltered.
    ///
    /// # Errors
    /// `BadValue` for what is no code, `Unknown` where no finish here has it.
    pub fn finish_with_code(&self, aircraft: &Digest, text: &str) -> Result<FinishRow> {
        let code = ProofCode::parse(text)?;
        self.finishes(aircraft)?
            .into_iter()
            .find(|row| row.code == code)
            .ok_or_else(|| {
                Error::new(ErrorKind::Unknown, "no finish here has this proof code")
                    .at(code)
                    .hint("either it is of another aircraft or not received yet, or the chain was written anew after it was printed: ask for the pack of that day")
            })
    }

    /// Proof that one line stands under the first finish over it.
    ///
    /// # Errors
    /// `Unknown` for a line that is not here, `WrongState` where no finish covers it yet or its chain
    /// is not whole here.
    pub fn line_proof(&self, line: &Digest) -> Result<LineProof> {
        let row = self.index.line(line)?.ok_or_else(|| {
            Error::new(ErrorKind::Unknown, "there is no such entry").at(line.short())
        })?;
        let file = below(&self.root, &["record", &row.aircraft.hex()])
            .join(format!("{}.jsonl", row.author.hex()));
        let stretch = chain::read(self.world.files.as_ref(), &file, 0)?;
        let lines: Vec<&Line> = stretch.lines.iter().map(|(_, line)| line).collect();
        let mut tree = Tree::new();
        for (line, n) in lines.iter().zip(0u64..) {
            if line.entry.seq != n {
                return Err(Error::new(
                    ErrorKind::WrongState,
                    "this chain is not whole here; its proofs came with the pack",
                )
                .at(file.display()));
            }
            tree.push(&line.bytes);
        }
        let found = lines.iter().find_map(|other| match &other.entry.body {
            Body::WalkaroundFinished(finish)
                if finish.size > row.seq && finish.size == other.entry.seq =>
            {
                Some((other.digest, finish))
            }
            _ => None,
        });
        let Some((digest, finish)) = found else {
            return Err(
                Error::new(ErrorKind::WrongState, "no finish covers this entry yet")
                    .at(line.short())
                    .hint("finish the walkaround: witnessmark walkaround finish"),
            );
        };
        let bytes = lines
            .iter()
            .find(|l| l.digest == *line)
            .map(|l| l.bytes.as_slice())
            .unwrap_or_default();
        let path = tree.inclusion(row.seq, finish.size).unwrap_or_default();
        Ok(LineProof {
            line: *line,
            leaf: Digest(crate::record::proof::merkle::leaf_hash(bytes)),
            index: row.seq,
            finish: digest,
            size: finish.size,
            root: finish.root,
            path: path.into_iter().map(Digest).collect(),
            code: ProofCode::of(&digest.0),
        })
    }

    /// Records the last line of every other author's chain about an aircraft, where that is not
    /// recorded yet: what exposes a chain that is written anew later. It says that these lines were
    /// here in this form now; not that they are true.
    ///
    /// # Errors
    /// `WrongState` for a notebook open for reading, `Damaged` where a chain to vouch for does not
    /// verify.
    pub fn vouch(&mut self, aircraft: &Digest) -> Result<Vec<Vouched>> {
        self.the_signer()?;
        let mut heads: BTreeMap<Digest, Vouched> = BTreeMap::new();
        for id in self.family(aircraft)? {
            for row in self.index.aircraft_lines(&id)? {
                if row.author == self.author {
                    continue;
                }
                let head = heads.entry(row.author).or_insert(Vouched {
                    author: row.author,
                    seq: 0,
                    line: row.digest,
                });
                if row.seq >= head.seq {
                    head.seq = row.seq;
                    head.line = row.digest;
                }
            }
        }
        let report = self.verify()?;
        let mut known: BTreeSet<Digest> = BTreeSet::new();
        for id in self.family(aircraft)? {
            for row in self.index.kind_lines(&id, "vouched")? {
                if let (true, Body::Vouched(vouched)) = (row.author == self.author, &row.body) {
                    known.insert(vouched.line);
                }
            }
        }
        let mut made = Vec::new();
        for (author, head) in heads {
            if known.contains(&head.line) {
                continue;
            }
            let bad = report.rows.iter().any(|row| {
                row.status == verify::Status::Failure && row.file.contains(&author.hex())
            });
            if bad {
                return Err(Error::new(
                    ErrorKind::Damaged,
                    "this chain does not verify; it was not vouched for",
                )
                .at(author.short())
                .hint("a check says what is wrong with it: witnessmark verify"));
            }
            let seen = self.now_seen();
            self.append(aircraft, seen, head.clone().into())?;
            made.push(head);
        }
        Ok(made)
    }

    /// A query (RFC 3161) for a finish: DER bytes to send to an authority.
    ///
    /// # Errors
    /// A failure of the randomness.
    pub fn timestamp_request(&self, finish: &Digest) -> Result<Vec<u8>> {
        let mut nonce = [0u8; 8];
        self.world
            .entropy
            .fill(&mut nonce)
            .map_err(|e| Error::io(&e, "random numbers"))?;
        Ok(timestamp::request(finish, u64::from_be_bytes(nonce)))
    }

    /// Keeps an authority's reply to a query and writes it down. The authority's signature is not
    /// checked here.
    ///
    /// # Errors
    /// `Refused` where the reply is not for this query, `BadFormat` where it cannot be read.
    pub fn timestamp_accept(
        &mut self,
        aircraft: &Digest,
        query: &[u8],
        reply: &[u8],
    ) -> Result<TimestampReceived> {
        let (finish, nonce) = timestamp::nonce_of(query)?;
        if self.index.line(&finish)?.is_none() {
            return Err(Error::new(
                ErrorKind::Unknown,
                "the query is about no line of this notebook",
            )
            .at(finish.short()));
        }
        let read = Reply::parse(reply)?;
        read.answers(&finish, nonce)?;
        let file = self.keep_file(reply, "tsr")?;
        let body = TimestampReceived {
            finish,
            file,
            time: read.time,
            policy: Some(read.policy),
        };
        let seen = self.now_seen();
        self.append(aircraft, seen, body.clone().into())?;
        Ok(body)
    }

    fn keep_file(&self, bytes: &[u8], extension: &str) -> Result<Digest> {
        let mut source = bytes;
        let incoming = store::receive(
            &self.world,
            &self.root,
            &mut source,
            bytes.len() as u64,
            "reply",
        )?;
        store::settle(self.world.files.as_ref(), &self.root, &incoming, extension)?;
        Ok(incoming.digest)
    }
}
