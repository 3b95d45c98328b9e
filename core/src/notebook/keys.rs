//! New keys for a record that goes on: a restored backup, a new phone, a key that two devices used.
//!
//! A key never leaves its device: a backup has none, and whoever restores it writes under a new one.
//! What the old key wrote stays as it is, readable by all, written on by nobody. Where the old key
//! still exists, both keys sign that they are one person (`author linked`).

use std::collections::BTreeSet;
use std::path::Path;

use serde::{Deserialize, Serialize};

use super::{KeySource, Notebook, Slip, keep_slip, key_path, read_manifest};
use crate::error::{Error, ErrorKind, Result};
use crate::record::key::{self, SeedSigner, Signer};
use crate::record::kinds::{AuthorLinked, cites};
use crate::record::{Body, Digest, canonical, chain};
use crate::world::{World, below};

/// One device's word that another key is the same person's.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct LinkOffer {
    /// The key that will write the link.
    pub author: Digest,
    /// The key that agrees.
    pub linked: Digest,
    /// A signature for each aircraft concerned.
    pub signed: Vec<LinkSignature>,
}

/// The agreeing key's signature over canonical `{aircraft, author, linked}`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct LinkSignature {
    /// Aircraft.
    pub aircraft: Digest,
    /// 128 hexadecimal digits.
    pub sig: String,
}

fn said(aircraft: &Digest, author: &Digest, linked: &Digest) -> Result<Vec<u8>> {
    canonical::to_bytes(
        &serde_json::json!({ "aircraft": aircraft, "author": author, "linked": linked }),
    )
}

/// Every digest that the lines of one key cite: those files were here.
pub(super) fn cited_by(world: &World, root: &Path, key: &Digest) -> Result<BTreeSet<Digest>> {
    let files = world.files.as_ref();
    let name = format!("{key}.jsonl");
    let mut out = BTreeSet::new();
    for (path, file, _) in crate::index::chain_files(files, root)? {
        if file.ends_with(&name) {
            for (_, line) in chain::read(files, &path, 0)?.lines {
                out.extend(
                    cites(&line.body_json())
                        .into_iter()
                        .map(|(_, digest)| digest),
                );
            }
        }
    }
    Ok(out)
}

impl Notebook {
    /// Opens a restored backup under a new author: the record stays as it is, a new key begins.
    /// With the old key in hand, both sign that they are one person.
    ///
    /// # Errors
    /// `AlreadyThere` where the notebook has its key, `NoNotebook` where there is none.
    pub fn restore(
        root: &Path,
        world: World,
        name: &str,
        role: &str,
        key: KeySource,
        old: Option<&dyn Signer>,
    ) -> Result<Self> {
        let manifest = read_manifest(&world, root)?;
        let path = key_path(root);
        let signer = match &key {
            KeySource::Seed(seed) => SeedSigner::from_seed(seed),
            KeySource::File if world.files.has(&path)? => {
                // Only a restoring that was cut short leaves a key that the notebook does not name.
                SeedSigner::load(world.files.as_ref(), &path)?
            }
            KeySource::File => {
                let folder = root.join("keys");
                world
                    .files
                    .create_dirs(&folder)
                    .map_err(|error| Error::io(&error, folder.display()))?;
                let signer = SeedSigner::generate(world.entropy.as_ref())?;
                signer.save(world.files.as_ref(), &path)?;
                signer
            }
        };
        if signer.public() == manifest.author {
            return Err(Error::new(
                ErrorKind::AlreadyThere,
                "this notebook has its key: it needs no other",
            )
            .at(root.display())
            .hint("use it as it is"));
        }
        let who = keep_slip(
            &world,
            root,
            &Slip::person(world.entropy.as_ref(), name, role, None)?,
        )?;
        manifest
            .followed_by(signer.public(), who)
            .save(&world, root)?;
        let mut notebook = Self::open_with(root, world, Some(Box::new(signer)))?;
        if let Some(old) = old {
            notebook.link_with(old)?;
        }
        Ok(notebook)
    }

    /// Goes on under a new key, after lines under this one came back that this notebook never wrote:
    /// another device has the same key. The old key is kept beside the new one and signs the link.
    pub(super) fn begin_new_key(&mut self) -> Result<Digest> {
        let files = self.world.files.clone();
        let files = files.as_ref();
        let path = key_path(&self.root);
        let old = SeedSigner::load(files, &path)?;
        let new = SeedSigner::generate(self.world.entropy.as_ref())?;
        let next = below(&self.root, &["keys", "next.pk8"]);
        let kept = below(&self.root, &["keys", &format!("{}.pk8", old.public())]);
        let io = |error: std::io::Error| Error::io(&error, path.display());
        new.save(files, &next)?;
        files.rename(&path, &kept).map_err(io)?;
        files.rename(&next, &path).map_err(io)?;
        files.sync_dir(&self.root.join("keys")).map_err(io)?;
        let manifest = read_manifest(&self.world, &self.root)?;
        let who = manifest.who;
        manifest
            .followed_by(new.public(), who)
            .save(&self.world, &self.root)?;
        self.author = new.public();
        self.signer = Some(Box::new(new));
        self.shared_key = false;
        self.link_with(&old)?;
        Ok(self.author)
    }

    /// True if this notebook's key is a file of its own and not a seed that a shell holds.
    pub(super) fn has_key_file(&self) -> Result<bool> {
        self.world.files.has(&key_path(&self.root))
    }

    fn link_with(&mut self, old: &dyn Signer) -> Result<()> {
        let linked = old.public();
        for aircraft in self.index.aircraft_ids()? {
            if self.index.chain_lines(&aircraft, &linked)?.is_empty() {
                continue;
            }
            let sig = old.sign(&said(&aircraft, &self.author, &linked)?);
            let sig = data_encoding::HEXLOWER.encode(&sig);
            self.write_link(&aircraft, linked, sig)?;
        }
        Ok(())
    }

    fn write_link(&mut self, aircraft: &Digest, linked: Digest, sig: String) -> Result<bool> {
        let known = self
            .index
            .kind_lines(aircraft, "author linked")?
            .iter()
            .any(|row| {
                row.author == self.author
                    && matches!(&row.body, Body::AuthorLinked(link) if link.linked == linked)
            });
        if known {
            return Ok(false);
        }
        let seen = self.now_seen();
        self.append(aircraft, seen, AuthorLinked { linked, sig }.into())?;
        Ok(true)
    }

    /// Agrees that `author`, the key of this person's other device, is the same person: to be
    /// accepted there. Every aircraft in this notebook is concerned.
    ///
    /// # Errors
    /// `BadValue` for this notebook's own key, `WrongState` for a notebook open for reading.
    pub fn offer_link(&self, author: &Digest) -> Result<LinkOffer> {
        let signer = self.the_signer()?;
        let linked = signer.public();
        if linked == *author {
            return Err(
                Error::new(ErrorKind::BadValue, "this is the notebook's own key")
                    .at(author.short())
                    .hint("give the key of the other device: witnessmark link show, there"),
            );
        }
        let mut signed = Vec::new();
        for aircraft in self.index.aircraft_ids()? {
            let sig = signer.sign(&said(&aircraft, author, &linked)?);
            let sig = data_encoding::HEXLOWER.encode(&sig);
            signed.push(LinkSignature { aircraft, sig });
        }
        Ok(LinkOffer {
            author: *author,
            linked,
            signed,
        })
    }

    /// Writes down what the other device agreed to, for every aircraft that is here.
    ///
    /// # Errors
    /// `Refused` where the offer is for another key, or a signature does not hold.
    pub fn accept_link(&mut self, offer: &LinkOffer) -> Result<u64> {
        self.the_signer()?;
        let refuse = |what: &str| {
            Error::new(ErrorKind::Refused, what)
                .at(offer.author.short())
                .hint("offer it again on the other device, with this device's key")
        };
        if offer.author != self.author {
            return Err(refuse("this offer is for another key than this notebook's"));
        }
        let here = self.index.aircraft_ids()?;
        for one in &offer.signed {
            let bytes = said(&one.aircraft, &offer.author, &offer.linked)?;
            let holds = data_encoding::HEXLOWER
                .decode(one.sig.as_bytes())
                .ok()
                .and_then(|sig| <[u8; 64]>::try_from(sig).ok())
                .is_some_and(|sig| key::verify(&offer.linked, &bytes, &sig));
            if !holds {
                return Err(refuse("the other key did not sign this"));
            }
        }
        let mut count = 0;
        for one in offer
            .signed
            .iter()
            .filter(|one| here.contains(&one.aircraft))
        {
            count += u64::from(self.write_link(&one.aircraft, offer.linked, one.sig.clone())?);
        }
        Ok(count)
    }
}

#[cfg(test)]
mod tests;
