//! Proving, from an open notebook: proof codes, inclusion, vouching, time stamps.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::Notebook;
use crate::error::{Error, ErrorKind, Result};
use crate::evidence::store;
use crate::pack::verify;
use crate::record::kinds::{TimestampReceived, Vouched};
use crate::record::proof::code::ProofCode;
use crate::record::proof::merkle::{self, Tree};
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
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct LineProof {
    /// The line.
    pub line: Digest,
    /// The line as it stands in its chain: what the leaf is made of.
    pub text: String,
    /// The finish as it stands: it names the root, and its own digest is what the code is made of.
    pub finish_text: String,
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

impl LineProof {
    /// Whether a line stands where this proof says, under the finish that it holds: what a stranger
    /// does with it. That the finish is the author's own is its signature's part.
    ///
    /// # Errors
    /// `Damaged`, saying which part does not hold.
    pub fn check(&self, text: &str) -> Result<()> {
        let bad = |what: &str| Err(Error::new(ErrorKind::Damaged, what).at(self.line.short()));
        let leaf = merkle::leaf_hash(text.as_bytes());
        let path: Vec<[u8; 32]> = self.path.iter().map(|step| step.0).collect();
        if Digest::of(text.as_bytes()) != self.line || leaf != self.leaf.0 {
            return bad("this is not the line that the proof is for");
        }
        if !merkle::verify_inclusion(self.index, self.size, &leaf, &path, &self.root.0) {
            return bad("the path does not lead to the root");
        }
        let finish = Line::parse(self.finish_text.as_bytes())?;
        let covers = matches!(&finish.entry.body, Body::WalkaroundFinished(body)
            if body.size == self.size && body.root == self.root);
        if !covers || finish.digest != self.finish || !finish.signature_holds() {
            return bad("the finish is not signed, or covers something else");
        }
        if self.code != ProofCode::of(&finish.digest.0) {
            return bad("the proof code is that of another finish");
        }
        Ok(())
    }
}

/// That an older finish covers the first lines of a newer one (RFC 6962 section 2.1.2): nothing of what
/// was there then was changed, taken out or put in since.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Consistency {
    /// The author of both.
    pub author: Digest,
    /// The older finish.
    pub old_finish: Digest,
    /// The newer one.
    pub new_finish: Digest,
    /// Lines under the older.
    pub old_size: u64,
    /// Lines under the newer.
    pub new_size: u64,
    /// Root of the older.
    pub old_root: Digest,
    /// Root of the newer.
    pub new_root: Digest,
    /// The hashes between.
    pub path: Vec<Digest>,
}

impl Consistency {
    /// Whether the path leads from the one root to the other.
    ///
    /// # Errors
    /// `Damaged` where it does not.
    pub fn check(&self) -> Result<()> {
        let path: Vec<[u8; 32]> = self.path.iter().map(|step| step.0).collect();
        if merkle::verify_consistency(
            self.old_size,
            self.new_size,
            &self.old_root.0,
            &self.new_root.0,
            &path,
        ) {
            return Ok(());
        }
        Err(Error::new(
            ErrorKind::Damaged,
            "the newer finish does not cover what the older one covered: lines were changed in between",
        )
        .at(self.new_finish.short())
        .hint("compare with a printed proof code, or with somebody who was given the chain earlier"))
    }
}

/// A proof in a file of its own, as it is handed over.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum HandedProof {
    /// One line under a finish.
    Line(Box<LineProof>),
    /// An older finish under a newer one.
    Finishes(Box<Consistency>),
}

impl HandedProof {
    /// Reads and checks one, without any notebook.
    ///
    /// # Errors
    /// `BadFormat` for what is no proof, `Damaged` for one that does not hold.
    pub fn read(bytes: &[u8]) -> Result<Self> {
        let bad = |error: serde_json::Error| {
            Error::new(ErrorKind::BadFormat, format!("this is no proof: {error}"))
                .hint("have one written: witnessmark proof --line ENTRY --out FILE")
        };
        let value: serde_json::Value = serde_json::from_slice(bytes).map_err(bad)?;
        if value.get("old_root").is_some() {
            let proof: Consistency = serde_json::from_value(value).map_err(bad)?;
            proof.check()?;
            return Ok(Self::Finishes(Box::new(proof)));
        }
        let proof: LineProof = serde_json::from_value(value).map_err(bad)?;
        proof.check(&proof.text)?;
        Ok(Self::Line(Box::new(proof)))
    }
}

impl Notebook {
    /// Shows that the lines under an older finish are the first lines under a newer one.
    ///
    /// # Errors
    /// `BadValue` for two finishes of which the one does not come after the other in one chain,
    /// `WrongState` where the chain is not whole here, `Damaged` where it was changed in between.
    pub fn consistency(&self, older: &Digest, newer: &Digest) -> Result<Consistency> {
        let finish = |digest: &Digest| {
            let row = self.index.line(digest)?;
            match row.as_ref().map(|row| &row.body) {
                Some(Body::WalkaroundFinished(body)) => {
                    let body = body.clone();
                    Ok((row.map(|row| (row.aircraft, row.author)), body))
                }
                _ => Err(
                    Error::new(ErrorKind::Unknown, "this is no finish that is here")
                        .at(digest.short())
                        .hint("have them listed: witnessmark proof"),
                ),
            }
        };
        let ((of_old, old), (of_new, new)) = (finish(older)?, finish(newer)?);
        let chain = of_old
            .filter(|id| Some(*id) == of_new && old.size <= new.size && old.size > 0)
            .ok_or_else(|| {
                Error::new(
                    ErrorKind::BadValue,
                    "these two are not an older and a newer finish of one author's chain",
                )
                .at(newer.short())
                .hint("name the older one first")
            })?;
        let (tree, _) = self.tree_of(&chain.0, &chain.1)?;
        let path = tree.consistency(old.size, new.size).unwrap_or_default();
        let shown = Consistency {
            author: chain.1,
            old_finish: *older,
            new_finish: *newer,
            old_size: old.size,
            new_size: new.size,
            old_root: old.root,
            new_root: new.root,
            path: path.into_iter().map(Digest).collect(),
        };
        shown.check()?;
        Ok(shown)
    }

    /// The tree over a whole chain, and its lines.
    fn tree_of(&self, aircraft: &Digest, author: &Digest) -> Result<(Tree, Vec<Line>)> {
        let file =
            below(&self.root, &["record", &aircraft.hex()]).join(format!("{}.jsonl", author.hex()));
        let stretch = chain::read(self.world.files.as_ref(), &file, 0)?;
        let lines: Vec<Line> = stretch.lines.into_iter().map(|(_, line)| line).collect();
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
        Ok((tree, lines))
    }

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
        let (tree, lines) = self.tree_of(&row.aircraft, &row.author)?;
        let text = |line: &Line| String::from_utf8_lossy(&line.bytes).into_owned();
        let found = lines.iter().find_map(|other| match &other.entry.body {
            Body::WalkaroundFinished(finish)
                if finish.size > row.seq && finish.size == other.entry.seq =>
            {
                Some((other, finish))
            }
            _ => None,
        });
        let Some((closing, finish)) = found else {
            return Err(
                Error::new(ErrorKind::WrongState, "no finish covers this entry yet")
                    .at(line.short())
                    .hint("finish the walkaround: witnessmark walkaround finish"),
            );
        };
        let stands = lines.iter().find(|other| other.digest == *line);
        let bytes = stands.map(|line| line.bytes.as_slice()).unwrap_or_default();
        let digest = closing.digest;
        let path = tree.inclusion(row.seq, finish.size).unwrap_or_default();
        Ok(LineProof {
            line: *line,
            text: stands.map(text).unwrap_or_default(),
            finish_text: text(closing),
            leaf: Digest(merkle::leaf_hash(bytes)),
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
        // A chain is known by its aircraft and its author: where descriptions are joined, an author
        // may have one under each.
        let own = *aircraft;
        let mut heads: BTreeMap<(Digest, Digest), Vouched> = BTreeMap::new();
        for id in self.family(aircraft)? {
            for row in self.index.aircraft_lines(&id)? {
                if row.author == self.author {
                    continue;
                }
                let head = heads.entry((id, row.author)).or_insert(Vouched {
                    author: row.author,
                    seq: 0,
                    line: row.digest,
                    aircraft: (id != own).then_some(id),
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
        for ((id, author), head) in heads {
            if known.contains(&head.line) {
                continue;
            }
            let chain = format!("record/{id}/{author}.");
            let bad = report
                .rows
                .iter()
                .any(|row| row.status == verify::Status::Failure && row.file.starts_with(&chain));
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

#[cfg(test)]
mod tests;
