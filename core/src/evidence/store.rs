//! Where originals are kept: by their SHA-256, read-only, never rewritten.
//!
//! # Write order of a capture, and what a crash leaves behind
//!
//! | step | a crash after it leaves | what the next opening does |
//! | --- | --- | --- |
//! | 1. bytes streamed to `incoming/`, digest and length taken on the way | a partial file in `incoming/` | sweeps it; the capture was not acknowledged |
//! | 2. that file synced | a whole file in `incoming/` | as 1 |
//! | 3. renamed into `evidence/<aa>/`, made read-only | the file under its name, or still in `incoming/` | listed as stray and offered back, or swept |
//! | 4. the folder synced | the file under its name, for certain | listed as stray and offered back; never deleted by itself |
//! | 5. the line appended and synced: **the commit point** | everything; at worst a torn last line if the crash was inside this step | a torn line is cut by the next writer and reported; the file is then stray |
//! | 6. the index follows | the record is ahead of the index | the index catches up |
//! | 7. when a walkaround is finished, on closing and at the next opening: `heads.json`, the last line of each chain, written whole and synced | an older `heads.json`: it names a line that is still there | nothing; a line that index or `heads.json` remember and the chain no longer has was cut off by something else: `verify` says `cut_tail`, also after later writing |
//!
//! A capture call returns after step 6; a failure before step 5 is reported and nothing is recorded.

use std::io::{Read, Write};
use std::path::{Path, PathBuf};

use sha2::{Digest as _, Sha256};

use crate::error::{Error, ErrorKind, Result};
use crate::record::Digest;
use crate::world::{Access, Files, World, below};

/// Largest photo in bytes (design section 12).
pub const PHOTO_LIMIT: u64 = 300 << 20;
/// Largest recording in bytes: two hours of 48 kHz stereo WAV, rounded up.
pub const VOICE_LIMIT: u64 = 1536 << 20;

/// A file on its way in: whole, synced, not yet under its name.
#[derive(Debug)]
pub struct Incoming {
    /// Where it waits.
    pub path: PathBuf,
    /// SHA-256 of its bytes.
    pub digest: Digest,
    /// Length in bytes.
    pub bytes: u64,
}

/// Steps 1 and 2: streams `source` into `incoming/`.
pub fn receive(
    world: &World,
    root: &Path,
    source: &mut dyn Read,
    limit: u64,
    name: &str,
) -> Result<Incoming> {
    let files = world.files.as_ref();
    let folder = root.join("incoming");
    let mut tag = [0u8; 12];
    world
        .entropy
        .fill(&mut tag)
        .map_err(|error| Error::io(&error, "random numbers"))?;
    let path = folder.join(data_encoding::HEXLOWER.encode(&tag));
    let outcome = stream(files, &folder, &path, source, limit, name);
    if outcome.is_err() && files.exists(&path).unwrap_or(true) {
        // Best effort: what stays is swept at the next opening.
        let _ = files.remove(&path);
    }
    outcome
}

fn stream(
    files: &dyn Files,
    folder: &Path,
    path: &Path,
    source: &mut dyn Read,
    limit: u64,
    name: &str,
) -> Result<Incoming> {
    // A person knows the file that was handed in, not the name it waits under.
    let here = |error: std::io::Error| {
        let known = if name.is_empty() {
            path.display().to_string()
        } else {
            name.to_owned()
        };
        Error::io(&error, known)
    };
    files.create_dirs(folder).map_err(here)?;
    let mut out = files.create_new(path, Access::Owner).map_err(here)?;
    let mut hash = Sha256::new();
    let mut bytes = 0u64;
    let mut buffer = vec![0u8; 256 * 1024];
    loop {
        let n = match source.read(&mut buffer) {
            Ok(n) => n,
            Err(error) if error.kind() == std::io::ErrorKind::Interrupted => continue,
            Err(error) => return Err(Error::io(&error, name)),
        };
        let Some(chunk) = buffer.get(..n).filter(|chunk| !chunk.is_empty()) else {
            break;
        };
        bytes += n as u64;
        if bytes > limit {
            return Err(Error::new(
                ErrorKind::TooLarge,
                format!("larger than the {} MB that are taken in", limit >> 20),
            )
            .at(name)
            .hint("the file stays where it is; make a smaller copy of it"));
        }
        hash.update(chunk);
        out.write_all(chunk).map_err(here)?;
    }
    if bytes == 0 {
        return Err(Error::new(ErrorKind::BadValue, "the file is empty")
            .at(name)
            .hint("take the picture again, or copy the file again from where it came"));
    }
    out.sync().map_err(here)?;
    Ok(Incoming {
        path: path.to_path_buf(),
        digest: Digest(hash.finalize().into()),
        bytes,
    })
}

/// Steps 3 and 4: gives the file its name. The same bytes twice are one file.
pub fn settle(
    files: &dyn Files,
    root: &Path,
    incoming: &Incoming,
    extension: &str,
) -> Result<PathBuf> {
    if let Some(path) = find(files, root, &incoming.digest)? {
        files
            .remove(&incoming.path)
            .map_err(|error| Error::io(&error, incoming.path.display()))?;
        return Ok(path);
    }
    let hex = incoming.digest.hex();
    let folder = below(root, &["evidence", hex.get(..2).unwrap_or("00")]);
    let path = folder.join(if extension.is_empty() {
        hex
    } else {
        format!("{hex}.{extension}")
    });
    let here = |error: std::io::Error| Error::io(&error, path.display());
    let fresh = !files.has(&folder)?;
    files.create_dirs(&folder).map_err(here)?;
    files.set_read_only(&incoming.path).map_err(here)?;
    files.rename(&incoming.path, &path).map_err(here)?;
    files.sync_dir(&folder).map_err(here)?;
    if fresh {
        files.sync_dir(&root.join("evidence")).map_err(here)?;
    }
    Ok(path)
}

/// The path of an original, whatever its extension.
pub fn find(files: &dyn Files, root: &Path, digest: &Digest) -> Result<Option<PathBuf>> {
    let hex = digest.hex();
    let folder = below(root, &["evidence", hex.get(..2).unwrap_or_default()]);
    let entries = match files.list(&folder) {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(None),
        other => other.map_err(|error| Error::io(&error, folder.display()))?,
    };
    Ok(entries
        .into_iter()
        .find(|entry| entry.is_file && entry.name.split('.').next() == Some(hex.as_str()))
        .map(|entry| folder.join(entry.name)))
}

/// Every original with its length: digest, path, bytes. Names that are no digest come with `None`.
pub fn all(files: &dyn Files, root: &Path) -> Result<Vec<(Option<Digest>, PathBuf, u64)>> {
    let base = root.join("evidence");
    let mut out = Vec::new();
    if !files.has(&base)? {
        return Ok(out);
    }
    let io = |path: &Path| {
        let shown = path.display().to_string();
        move |error: std::io::Error| Error::io(&error, shown)
    };
    for folder in files.list(&base).map_err(io(&base))? {
        let path = base.join(&folder.name);
        if !folder.is_dir {
            out.push((None, path, folder.len));
            continue;
        }
        for entry in files.list(&path).map_err(io(&path))? {
            let digest = entry
                .name
                .split('.')
                .next()
                .and_then(|stem| stem.parse::<Digest>().ok());
            let right = digest.filter(|digest| {
                digest.hex().get(..2) == Some(folder.name.as_str()) && entry.is_file
            });
            out.push((right, path.join(&entry.name), entry.len));
        }
    }
    Ok(out)
}

/// Removes what crashed captures and packings left in `incoming/`; returns how many files.
pub fn sweep(files: &dyn Files, root: &Path) -> Result<usize> {
    clear(files, &root.join("incoming"))
}

/// Empties a folder, folders in it included; returns how many files went. A folder that is not
/// there is empty.
pub(crate) fn clear(files: &dyn Files, folder: &Path) -> Result<usize> {
    if !files.has(folder)? {
        return Ok(0);
    }
    let mut gone = 0;
    for entry in files
        .list(folder)
        .map_err(|error| Error::io(&error, folder.display()))?
    {
        let path = folder.join(&entry.name);
        let io = |error: std::io::Error| Error::io(&error, path.display());
        if entry.is_dir {
            gone += clear(files, &path)?;
            files.remove_dir(&path).map_err(io)?;
        } else {
            files.remove(&path).map_err(io)?;
            gone += 1;
        }
    }
    Ok(gone)
}
