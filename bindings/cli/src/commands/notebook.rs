//! `init`, `index`.

use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use serde_json::json;
use witnessmark_core::notebook::{KeySource, LinkOffer, Notebook};
use witnessmark_core::record::Digest;
use witnessmark_core::record::key::{SeedSigner, Signer};
use witnessmark_core::world::Access;
use witnessmark_core::{Error, ErrorKind, Result};

use crate::output::Output;
use crate::real::Session;

/// `init`
#[derive(Args)]
pub struct InitArgs {
    /// Folder; the current one if not given.
    folder: Option<PathBuf>,
    /// The name that others know you by.
    #[arg(long)]
    author: String,
    /// owner, pilot, mechanic, buyer, instructor …
    #[arg(long)]
    role: String,
    /// The old key's file, where a restored backup goes on under a new key: both sign that they are one person.
    #[arg(long, value_name = "FILE")]
    old_key: Option<PathBuf>,
}

/// Makes a notebook.
pub fn init(session: &Session, args: &InitArgs, out: &Output) -> Result<u8> {
    let root = match &args.folder {
        Some(dir) => dir.clone(),
        None => session.start()?,
    };
    let world = session.world()?;
    if world.files.has(&root.join("notebook.toml"))?
        && !world.files.has(&root.join("keys").join("author.pk8"))?
    {
        return restore(session, args, &root, out);
    }
    let notebook = Notebook::init(
        &root,
        session.world()?,
        &args.author,
        &args.role,
        KeySource::File,
    )?;
    let key = notebook.author().hex();
    notebook.close()?;
    out.show(&json!({"notebook": root.display().to_string(), "author": key}), || {
        format!("Notebook in {}\nYour key begins {}. It stays in this notebook; others need only see it once.", root.display(), key.get(..8).unwrap_or(&key))
    })
}

/// A folder that has a record and no key goes on under a new one.
fn restore(session: &Session, args: &InitArgs, root: &Path, out: &Output) -> Result<u8> {
    let world = session.world()?;
    let old = match &args.old_key {
        Some(path) => Some(SeedSigner::load(world.files.as_ref(), path)?),
        None => None,
    };
    let old: Option<&dyn Signer> = old.as_ref().map(|signer| signer as &dyn Signer);
    let notebook = Notebook::restore(root, world, &args.author, &args.role, KeySource::File, old)?;
    let key = notebook.author().hex();
    notebook.close()?;
    out.show(
        &json!({"notebook": root.display().to_string(), "author": key, "restored": true}),
        || {
            format!(
                "Restored: the record in {} goes on under a new key, which begins {}. What was written before stays as it is.",
                root.display(),
                key.get(..8).unwrap_or(&key)
            )
        },
    )
}

/// `link`
#[derive(Subcommand)]
pub enum LinkCommand {
    /// This notebook's key, to be told to the other device.
    Show,
    /// On the old device: agree that another key is the same person's.
    Offer {
        /// The other device's key, 64 digits.
        key: Digest,
        /// Where to write the agreement.
        #[arg(long)]
        out: PathBuf,
    },
    /// On the new device: write down what the old one agreed to.
    Accept {
        /// The agreement.
        file: PathBuf,
    },
}

/// Links two keys of one person.
pub fn link(session: &Session, command: &LinkCommand, out: &Output) -> Result<u8> {
    let files = session.world()?.files;
    match command {
        LinkCommand::Show => {
            let notebook = session.read()?;
            let key = notebook.author();
            out.show(&json!({"author": key}), || key.hex())
        }
        LinkCommand::Offer { key, out: file } => {
            let notebook = session.open()?;
            let offer = notebook.offer_link(key)?;
            notebook.close()?;
            let text = serde_json::to_string(&offer)
                .map_err(|error| Error::new(ErrorKind::BadValue, error.to_string()))?;
            files
                .replace(file, text.as_bytes(), Access::Usual)
                .map_err(|error| Error::io(&error, file.display()))?;
            out.show(&offer, || {
                format!("Wrote {}. On the other device, after it has received this notebook: witnessmark link accept {}", file.display(), file.display())
            })
        }
        LinkCommand::Accept { file } => {
            let bytes = files
                .read(file, 1 << 20)
                .map_err(|error| Error::io(&error, file.display()))?;
            let offer: LinkOffer = serde_json::from_slice(&bytes).map_err(|error| {
                Error::new(
                    ErrorKind::BadFormat,
                    format!("no agreement to a link: {error}"),
                )
                .at(file.display())
                .hint("make it on the other device: witnessmark link offer KEY --out FILE")
            })?;
            let mut notebook = session.open()?;
            let linked = notebook.accept_link(&offer)?;
            notebook.close()?;
            out.show(&json!({"linked": offer.linked, "aircraft": linked}), || {
                format!(
                    "Linked with {} for {linked} aircraft.",
                    offer.linked.short()
                )
            })
        }
    }
}

/// `index`
#[derive(Subcommand)]
pub enum IndexCommand {
    /// Make the index anew from the record.
    Rebuild,
}

/// Rebuilds the index.
pub fn index(session: &Session, command: &IndexCommand, out: &Output) -> Result<u8> {
    let IndexCommand::Rebuild = command;
    let mut notebook = session.open()?;
    let lines = notebook.rebuild_index()?;
    notebook.close()?;
    out.show(&json!({"lines": lines}), || {
        format!("The index was made anew from {lines} entries.")
    })
}
