//! What a store does when a name is written twice: asked once, when the store is added, and said.

use crate::Bucket;
use object_store::PutPayload;
use serde::{Deserialize, Serialize};
use witnessmark_core::record::Digest;
use witnessmark_core::world::World;
use witnessmark_core::{Error, ErrorKind, Result};

/// What became of a second writing that asked not to overwrite.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Puts {
    /// The second was refused, the first stands.
    Refuses,
    /// The wish was ignored, the second stands.
    Overwrites,
}

/// What was learned.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Probed {
    /// The store.
    pub address: String,
    /// How it treats a name that is taken.
    pub puts: Puts,
    /// For a person.
    pub says: String,
}

/// Writes one small object twice under `v1/probe/` and reads it back.
///
/// # Errors
/// Those of the store; `Damaged` where it gives back neither of what was written.
pub fn probe(bucket: &Bucket, world: &World, author: &Digest) -> Result<Probed> {
    let mut tag = [0u8; 8];
    world
        .entropy
        .fill(&mut tag)
        .map_err(|error| Error::io(&error, "random numbers"))?;
    let tag: String = tag.iter().map(|byte| format!("{byte:02x}")).collect();
    let name = format!("v1/probe/{author}/{tag}");
    // A reply that is lost on its way may make this look refused; what stands there is what counts.
    bucket.put_new(&name, PutPayload::from_static(b"first"))?;
    // A store that fails is not one that refuses: that error is passed on.
    let written = bucket.put_new(&name, PutPayload::from_static(b"second"))?;
    let stands = bucket.get_small(&name)?;
    let puts = match stands.as_deref() {
        Some(b"first") if !written => Puts::Refuses,
        Some(b"second") if written => Puts::Overwrites,
        _ => {
            return Err(Error::new(
                ErrorKind::Damaged,
                "the store gave back neither of two things that were just written",
            )
            .at(bucket.address().words())
            .hint("do not use this store"));
        }
    };
    let says = match puts {
        Puts::Refuses => {
            "The store refuses to write over what is there. Nothing here relies on it: every file is named by its digest and checked by whoever reads it."
        }
        Puts::Overwrites => {
            "The store writes over what is there without a word, although it was asked not to. Nothing here relies on it: every file is named by its digest, and readers refuse what is not its name. Ask for versioning, so that what was there can be brought back."
        }
    };
    Ok(Probed {
        address: bucket.address().words(),
        puts,
        says: says.to_owned(),
    })
}
