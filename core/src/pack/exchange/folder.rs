//! A shared folder as a meeting place.

use super::{Listed, Offer, Place, Sink};
use crate::error::{Error, ErrorKind, Result};
use crate::pack::members::{Folder, Limits, Members};
use crate::world::{Access, World};
use std::path::{Path, PathBuf};

/// A folder that everybody concerned can read and write: a network drive, a stick, a synchronised one.
pub struct InFolder<'a> {
    world: &'a World,
    folder: PathBuf,
}

impl<'a> InFolder<'a> {
    /// Nothing is made or written yet: a folder that is absent is made when something is left there.
    ///
    /// # Errors
    /// `BadValue` for what is there and is no folder, else those of the machine.
    pub fn new(world: &'a World, folder: &Path) -> Result<Self> {
        let io = |error: std::io::Error| Error::io(&error, folder.display());
        if world.files.has(folder)? {
            if world.files.len(folder).is_ok() {
                return Err(Error::new(ErrorKind::BadValue, "this is a file, no folder")
                    .at(folder.display())
                    .hint("name the folder that you share"));
            }
            world.files.list(folder).map_err(io)?;
        }
        Ok(Self {
            world,
            folder: folder.to_path_buf(),
        })
    }

    fn path(&self, name: &str) -> PathBuf {
        name.split('/')
            .fold(self.folder.clone(), |path, part| path.join(part))
    }

    fn lay(&self, name: &str, offer: &Offer) -> Result<()> {
        let files = self.world.files.as_ref();
        let path = self.path(name);
        let io = |error: std::io::Error| Error::io(&error, path.display());
        let Some(parent) = path.parent() else {
            return Ok(());
        };
        files.create_dirs(parent).map_err(io)?;
        let mut tag = [0u8; 6];
        self.world
            .entropy
            .fill(&mut tag)
            .map_err(|e| Error::io(&e, "random numbers"))?;
        // Half-written files carry a name that no reader takes for a file of the meeting.
        let partial = parent.join(format!("{}.partial", data_encoding::HEXLOWER.encode(&tag)));
        let mut out = files.create_new(&partial, Access::Usual).map_err(io)?;
        let wrote = match offer {
            Offer::Bytes(bytes) => out.write_all(bytes),
            Offer::File(from) => files
                .open(from)
                .and_then(|mut source| std::io::copy(&mut source, &mut out).map(|_| ())),
        };
        if let Err(error) = wrote
            .and_then(|()| out.sync())
            .and_then(|()| files.rename(&partial, &path))
        {
            // Best effort: its name is no reader's.
            let _ = files.remove(&partial);
            return Err(io(error));
        }
        files.sync_dir(parent).map_err(io)
    }
}

impl Place for InFolder<'_> {
    fn words(&self) -> String {
        self.folder.display().to_string()
    }

    fn list(&mut self, prefix: &str) -> Result<Vec<Listed>> {
        let folder = self.path(prefix.trim_end_matches('/'));
        if !self.world.files.has(&folder)? {
            return Ok(Vec::new());
        }
        let limits = Limits {
            members: 2_000_000,
            total: u64::MAX,
            ..Limits::default()
        };
        let listed = Folder::open(self.world.files.clone(), &folder, &limits)?;
        Ok(listed
            .list()
            .iter()
            .filter(|member| !member.name.ends_with(".partial"))
            .map(|member| Listed {
                name: format!("{prefix}{}", member.name),
                bytes: member.len,
            })
            .collect())
    }

    fn get(&mut self, wanted: &[Listed], sink: &mut Sink<'_>) -> Result<()> {
        for listed in wanted {
            let path = self.path(&listed.name);
            match self.world.files.open(&path) {
                Ok(mut source) => sink(&listed.name, &mut source)?,
                Err(error) if error.kind() == std::io::ErrorKind::NotFound => {}
                Err(error) => return Err(Error::io(&error, path.display())),
            }
        }
        Ok(())
    }

    fn put(&mut self, offers: &[(String, Offer)]) -> Result<()> {
        for (name, offer) in offers {
            if super::names::read(name).is_none() {
                return Err(Error::new(ErrorKind::BadValue, "a name of no meeting").at(name));
            }
            self.lay(name, offer)?;
        }
        Ok(())
    }
}
