//! `notebook.toml`: format version and this author's key.

use std::path::Path;

use crate::error::{Error, ErrorKind, Result};
use crate::record::{Digest, FORMAT};
use crate::world::{Access, World};

/// Bytes of it that are read at most.
const LIMIT: u64 = 64 * 1024;

#[derive(serde::Deserialize)]
pub(super) struct Manifest {
    pub format: u32,
    pub author: Digest,
    pub who: Digest,
    /// Keys under which this notebook wrote before: a restored backup, a key that two devices used.
    #[serde(default)]
    pub former: Vec<Digest>,
}

impl Manifest {
    pub fn save(&self, world: &World, root: &Path) -> Result<()> {
        let former: Vec<String> = self.former.iter().map(|key| format!("\"{key}\"")).collect();
        let mut text = format!(
            "format = {}\nauthor = \"{}\"\nwho = \"{}\"\n",
            self.format, self.author, self.who
        );
        if !former.is_empty() {
            text.push_str(&format!("former = [{}]\n", former.join(", ")));
        }
        let path = root.join("notebook.toml");
        world
            .files
            .replace(&path, text.as_bytes(), Access::Usual)
            .map_err(|error| Error::io(&error, path.display()))
    }

    /// The same notebook under a new key.
    pub fn followed_by(mut self, author: Digest, who: Digest) -> Self {
        if !self.former.contains(&self.author) {
            self.former.push(self.author);
        }
        Self {
            format: FORMAT,
            author,
            who,
            former: self.former,
        }
    }
}

pub(super) fn read_manifest(world: &World, root: &Path) -> Result<Manifest> {
    let path = root.join("notebook.toml");
    if !world.files.has(&path)? {
        return Err(
            Error::new(ErrorKind::NoNotebook, "there is no notebook here")
                .at(root.display())
                .hint("make one: witnessmark init --author NAME --role ROLE"),
        );
    }
    let bytes = world
        .files
        .read(&path, LIMIT)
        .map_err(|error| Error::io(&error, path.display()))?;
    parse(&bytes).map_err(|error| error.at(path.display()))
}

/// Whether bytes are a `notebook.toml` that this program can use, for whoever wants to know before
/// opening anything.
///
/// # Errors
/// `Newer` for a later format, `Damaged` and `TooLarge` for what cannot be used.
pub fn check_manifest(bytes: &[u8]) -> Result<Digest> {
    if bytes.len() as u64 > LIMIT {
        return Err(Error::new(
            ErrorKind::TooLarge,
            format!("larger than the {LIMIT} bytes allowed for it"),
        ));
    }
    parse(bytes).map(|manifest| manifest.author)
}

fn parse(bytes: &[u8]) -> Result<Manifest> {
    let damaged = |what: String| {
        Error::new(ErrorKind::Damaged, what)
            .hint("restore notebook.toml from a copy; the record itself is not touched")
    };
    let text = std::str::from_utf8(bytes).map_err(|_| damaged("the file is not text".into()))?;
    let table: toml::Table = text.parse().map_err(|error: toml::de::Error| {
        damaged(format!("it cannot be read: {}", error.message()))
    })?;
    if let Some(format) = table.get("format").and_then(toml::Value::as_integer)
        && format > i64::from(FORMAT)
    {
        return Err(Error::new(
            ErrorKind::Newer,
            format!("this notebook has format {format}; this program knows up to {FORMAT}"),
        )
        .hint("use a newer witnessmark; nothing was touched"));
    }
    let manifest: Manifest = toml::from_str(text)
        .map_err(|error| damaged(format!("it cannot be read: {}", error.message())))?;
    if manifest.format == 0 {
        return Err(damaged("there never was a format 0".into()));
    }
    Ok(manifest)
}

#[cfg(test)]
mod tests;
