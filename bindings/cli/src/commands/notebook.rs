//! `init`, `index`.

use std::path::PathBuf;

use clap::{Args, Subcommand};
use serde_json::json;
use witnessmark_core::Result;
use witnessmark_core::notebook::{KeySource, Notebook};

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
}

/// Makes a notebook.
pub fn init(session: &Session, args: &InitArgs, out: &Output) -> Result<u8> {
    let root = match &args.folder {
        Some(dir) => dir.clone(),
        None => session.start()?,
    };
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
