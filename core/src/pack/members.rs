//! What a pack is made of, before a byte of it is read: names and sizes, of a folder or of a zip.

use super::names::{Collisions, unfit_for_pack};
use super::zip_read::ZipPack;
use crate::error::{Error, ErrorKind, Result};
use crate::world::Files;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Bounds that hold before anything is written (design section 12).
#[derive(Debug, Clone, Copy)]
pub struct Limits {
    /// Files in a pack.
    pub members: u64,
    /// Bytes of all files.
    pub total: u64,
    /// Bytes of one file.
    pub file: u64,
    /// Bytes of a manifest.
    pub manifest: u64,
    /// Bytes of another small text (bagit.txt, bag-info.txt, packer.json).
    pub text: u64,
    /// Threads that derive digests.
    pub threads: usize,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            members: 100_000,
            total: 64 << 30,
            file: 2 << 30,
            manifest: 32 << 20,
            text: 1 << 20,
            // More than four gain nothing: by then the medium is the slow part.
            threads: std::thread::available_parallelism().map_or(1, |n| n.get().min(4)),
        }
    }
}

/// One file of a pack.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Member {
    /// Path below the bag's own folder, with slashes.
    pub name: String,
    /// Length in bytes.
    pub len: u64,
}

/// A pack's files.
pub trait Members: Sync {
    /// All of them, sorted by name.
    fn list(&self) -> &[Member];
    /// Opens one from its start.
    ///
    /// # Errors
    /// `Unknown` where there is none of that name, else what the machine says.
    fn open(&self, name: &str) -> Result<Box<dyn Read + '_>>;
    /// Where it is, for messages.
    fn place(&self) -> String;

    /// Length of a file, or `None` where there is none.
    fn len_of(&self, name: &str) -> Option<u64> {
        let list = self.list();
        list.binary_search_by(|member| member.name.as_str().cmp(name))
            .ok()
            .and_then(|at| list.get(at))
            .map(|member| member.len)
    }

    /// Reads a small file whole. A failure of the medium is tried once more.
    ///
    /// # Errors
    /// `TooLarge` past `limit`.
    fn read(&self, name: &str, limit: u64) -> Result<Vec<u8>> {
        let once = || -> Result<Vec<u8>> {
            let mut bytes = Vec::new();
            self.open(name)?
                .take(limit.saturating_add(1))
                .read_to_end(&mut bytes)
                .map_err(|error| Error::io(&error, name))?;
            Ok(bytes)
        };
        let bytes = match once() {
            Err(error) if self.len_of(name).is_some() && error.kind != ErrorKind::TooLarge => {
                once()?
            }
            other => other?,
        };
        if bytes.len() as u64 > limit {
            return Err(Error::new(
                ErrorKind::TooLarge,
                format!("larger than the {limit} bytes allowed for it"),
            )
            .at(name));
        }
        Ok(bytes)
    }
}

/// A bag in a folder.
pub struct Folder {
    files: Arc<dyn Files>,
    root: PathBuf,
    list: Vec<Member>,
}

impl Folder {
    /// Lists a folder. Links, devices and anything else that is neither file nor folder are refused.
    ///
    /// # Errors
    /// `Refused` for those, `TooLarge` past a limit, else what the machine says.
    pub fn open(files: Arc<dyn Files>, root: &Path, limits: &Limits) -> Result<Self> {
        let mut list = Vec::new();
        let mut total = 0u64;
        let mut waiting = vec![(root.to_path_buf(), String::new(), 0u32)];
        let mut folders = 0u64;
        while let Some((path, prefix, depth)) = waiting.pop() {
            folders += 1;
            if depth > 64 || folders > limits.members {
                return Err(refused(
                    "folders are nested too deeply, or too many",
                    &path.display(),
                ));
            }
            for entry in files
                .list(&path)
                .map_err(|error| Error::io(&error, path.display()))?
            {
                let name = format!("{prefix}{}", entry.name);
                if entry.is_dir {
                    waiting.push((path.join(&entry.name), format!("{name}/"), depth + 1));
                } else if entry.is_file {
                    total = total.saturating_add(entry.len);
                    list.push(Member {
                        name,
                        len: entry.len,
                    });
                } else {
                    return Err(refused(
                        "neither a file nor a folder (a link or a device)",
                        &name,
                    ));
                }
                bounded(list.len() as u64, total, entry.len, limits, &entry.name)?;
            }
        }
        list.sort_by(|a, b| a.name.cmp(&b.name));
        Ok(Self {
            files,
            root: root.to_path_buf(),
            list,
        })
    }
}

impl Members for Folder {
    fn list(&self) -> &[Member] {
        &self.list
    }

    fn open(&self, name: &str) -> Result<Box<dyn Read + '_>> {
        if self.len_of(name).is_none() {
            return Err(Error::new(ErrorKind::Unknown, "there is no such file in it").at(name));
        }
        let mut path = self.root.clone();
        for part in name.split('/') {
            path.push(part);
        }
        // A file that became a link since it was listed is refused: the length is that of plain
        // files alone.
        self.files
            .len(&path)
            .map_err(|error| Error::io(&error, name))?;
        let file = self
            .files
            .open(&path)
            .map_err(|error| Error::io(&error, name))?;
        Ok(Box::new(file))
    }

    fn place(&self) -> String {
        self.root.display().to_string()
    }
}

/// Opens a pack, folder or zip. Names are not judged here, see [`check_names`].
///
/// # Errors
/// `Unknown` where there is nothing, `Refused`, `BadFormat` and `TooLarge` for what must not be
/// read further.
pub fn open(files: &Arc<dyn Files>, path: &Path, limits: &Limits) -> Result<Box<dyn Members>> {
    if !files.has(path)? {
        return Err(Error::new(ErrorKind::Unknown, "there is no such pack")
            .at(path.display())
            .hint("check the name"));
    }
    match files.len(path) {
        Ok(_) => Ok(Box::new(ZipPack::open(files.clone(), path, limits)?)),
        Err(error) if error.kind() == std::io::ErrorKind::IsADirectory => {
            Ok(Box::new(Folder::open(files.clone(), path, limits)?))
        }
        Err(error) if error.kind() == std::io::ErrorKind::InvalidInput => Err(refused(
            "neither a file nor a folder (a link or a device)",
            &path.display(),
        )),
        Err(error) => Err(Error::io(&error, path.display())),
    }
}

/// Judges every name of a pack that is to be received.
///
/// # Errors
/// `Refused`, naming the first member that cannot stand and why.
pub fn check_names(members: &dyn Members) -> Result<()> {
    let mut collisions = Collisions::default();
    for member in members.list() {
        if let Some(why) = unfit_for_pack(&member.name) {
            return Err(refused(
                &format!("it holds {why}"),
                &member.name.escape_debug(),
            ));
        }
        if let Some(other) = collisions.add(&member.name) {
            return Err(refused(
                &format!("its name falls together with \"{other}\" on some systems"),
                &member.name,
            ));
        }
    }
    Ok(())
}

pub(super) fn bounded(
    members: u64,
    total: u64,
    file: u64,
    limits: &Limits,
    name: &str,
) -> Result<()> {
    let what = if members > limits.members {
        format!("more than {} files", limits.members)
    } else if file > limits.file {
        format!(
            "a file of {file} bytes; at most {} are taken in",
            limits.file
        )
    } else if total > limits.total {
        format!("more than {} bytes in all", limits.total)
    } else {
        return Ok(());
    };
    Err(Error::new(ErrorKind::TooLarge, what)
        .at(name.escape_debug())
        .hint("nothing was taken in; ask for it in smaller parts"))
}

pub(super) fn refused(what: &str, place: &dyn std::fmt::Display) -> Error {
    Error::new(ErrorKind::Refused, what)
        .at(place)
        .hint("nothing was taken in; ask whoever made the pack to make it again")
}
