//! `store`: an object store as a meeting place. The keys to it come from the environment and are
//! never written down.

use std::path::Path;

use clap::Subcommand;
use serde_json::json;
use witnessmark_core::pack::exchange::Met;
use witnessmark_core::world::{Access, World};
use witnessmark_core::{Error, ErrorKind, Result};
use witnessmark_store::{Address, Bucket, Probed};

use crate::output::Output;
use crate::real::Session;

/// `store`
#[derive(Subcommand)]
pub enum StoreCommand {
    /// Ask a store how it treats a name that is taken, and remember the answer.
    Add {
        /// s3://BUCKET/PREFIX
        address: String,
    },
    /// Ask again, and remember nothing.
    Probe {
        /// s3://BUCKET/PREFIX
        address: String,
    },
    /// Write out the rights that the store's administrator gives this notebook's author.
    Policy {
        /// s3://BUCKET/PREFIX
        address: String,
        /// The author's name in the store, as the store writes it.
        #[arg(long)]
        principal: String,
    },
}

fn address(text: &str) -> Result<Address> {
    Address::parse(text, &|name| std::env::var(name).ok())
}

/// Runs it.
pub fn run(session: &Session, command: &StoreCommand, out: &Output) -> Result<u8> {
    match command {
        StoreCommand::Add { address: text } => {
            let notebook = session.open()?;
            let bucket = Bucket::open(address(text)?)?;
            let probed = witnessmark_store::probe(&bucket, notebook.world(), &notebook.author())?;
            remember(notebook.world(), notebook.root(), &probed)?;
            notebook.close()?;
            out.show(&probed, || probed.says.clone())
        }
        StoreCommand::Probe { address: text } => {
            let notebook = session.read()?;
            let bucket = Bucket::open(address(text)?)?;
            let probed = witnessmark_store::probe(&bucket, notebook.world(), &notebook.author())?;
            out.show(&probed, || probed.says.clone())
        }
        StoreCommand::Policy {
            address: text,
            principal,
        } => {
            let notebook = session.read()?;
            let address = address(text)?;
            let policy = witnessmark_store::policy(
                &address.bucket,
                &address.prefix,
                &notebook.author(),
                principal,
            );
            let text = serde_json::to_string_pretty(&policy)
                .map_err(|error| Error::new(ErrorKind::BadValue, error.to_string()))?;
            out.show(&policy, || text)
        }
    }
}

/// `stores.json`: local, never handed over, no keys.
fn remember(world: &World, root: &Path, probed: &Probed) -> Result<()> {
    let path = root.join("stores.json");
    let mut known: Vec<Probed> = if world.files.has(&path)? {
        let bytes = world
            .files
            .read(&path, 1 << 20)
            .map_err(|error| Error::io(&error, path.display()))?;
        serde_json::from_slice(&bytes).map_err(|error| {
            Error::new(
                ErrorKind::BadFormat,
                format!("this list of stores cannot be read: {error}"),
            )
            .at(path.display())
            .hint("move it away; witnessmark store add writes a new one")
        })?
    } else {
        Vec::new()
    };
    known.retain(|one| one.address != probed.address);
    known.push(probed.clone());
    let bytes = serde_json::to_vec_pretty(&json!(known))
        .map_err(|error| Error::new(ErrorKind::BadValue, error.to_string()))?;
    world
        .files
        .replace(&path, &bytes, Access::Owner)
        .map_err(|error| Error::io(&error, path.display()))
}

/// Meets in a bucket.
pub fn exchange(session: &Session, text: &str, dry_run: bool, thorough: bool) -> Result<Met> {
    let address = address(text)?;
    let mut notebook = session.open()?;
    let mut bucket = Bucket::open(address)?;
    if thorough {
        bucket.look_thoroughly();
    }
    let met = notebook.exchange_watched(&mut bucket, dry_run, &mut super::pack::progress())?;
    notebook.close()?;
    Ok(met)
}
