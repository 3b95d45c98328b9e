//! Files handed in or taken out by a shell: by path, or by descriptor.

use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use witnessmark_core::stoppable::Stop;
use witnessmark_core::{Error, ErrorKind, Result};

/// Where a file is. A descriptor stays the shell's: it is duplicated here, read or written from its
/// present position, and the shell closes its own when the call has returned.
#[derive(Debug, Clone, uniffi::Enum)]
pub enum Source {
    /// A path.
    Path {
        /// The path.
        path: String,
    },
    /// An open descriptor (a phone's content provider).
    Descriptor {
        /// Its number.
        descriptor: i32,
        /// Name as it came, for people; may be empty.
        name: String,
    },
}

impl Source {
    /// Opens it for reading, with the name that it came under.
    pub(crate) fn open(&self) -> Result<(File, String)> {
        match self {
            Self::Path { path } => {
                let path = file(path)?;
                let here = |error: std::io::Error| Error::io(&error, path.display());
                let file = File::open(path).map_err(here)?;
                if file.metadata().map_err(here)?.is_dir() {
                    return Err(here(std::io::Error::from(std::io::ErrorKind::IsADirectory)));
                }
                let name = path
                    .file_name()
                    .map(|name| name.to_string_lossy().into_owned())
                    .unwrap_or_default();
                Ok((file, name))
            }
            Self::Descriptor { descriptor, name } => Ok((duplicate(*descriptor)?, name.clone())),
        }
    }

    /// Opens it for writing: a path must not exist yet.
    pub(crate) fn create(&self) -> Result<File> {
        match self {
            Self::Path { path } => File::options()
                .write(true)
                .create_new(true)
                .open(file(path)?)
                .map_err(|error| Error::io(&error, path)),
            Self::Descriptor { descriptor, .. } => duplicate(*descriptor),
        }
    }

    /// A path, or a copy of what the descriptor gives in `folder`, for readers that must seek; of at
    /// most `limit` bytes.
    pub(crate) fn as_path(&self, folder: &Path, limit: u64, stop: &Arc<Stop>) -> Result<PathBuf> {
        match self {
            Self::Path { path } => Ok(file(path)?.to_path_buf()),
            Self::Descriptor { .. } => {
                let (file, name) = self.open()?;
                let path = folder.join("handed-in.zip");
                let here = |error: std::io::Error| Error::io(&error, path.display());
                let mut copy = File::create(&path).map_err(here)?;
                let mut file = stop.watch(file.take(limit.saturating_add(1)));
                if std::io::copy(&mut file, &mut copy).map_err(here)? > limit {
                    return Err(Error::new(
                        ErrorKind::TooLarge,
                        format!(
                            "this is larger than any pack that is taken in ({} GB)",
                            limit >> 30
                        ),
                    )
                    .at(name)
                    .hint("ask for a smaller cut of it; nothing was taken in"));
                }
                Ok(path)
            }
        }
    }
}

fn file(path: &str) -> Result<&Path> {
    if path.is_empty() {
        return Err(Error::new(ErrorKind::BadValue, "no file is named")
            .at("file")
            .hint("hand in the path of the file"));
    }
    Ok(Path::new(path))
}

/// The path of a folder; an empty one would silently be wherever the process happens to stand.
pub(crate) fn folder(path: &str) -> Result<&Path> {
    if path.is_empty() {
        return Err(Error::new(ErrorKind::BadValue, "no folder is named")
            .at("folder")
            .hint("hand in the path of the folder"));
    }
    Ok(Path::new(path))
}

#[cfg(unix)]
fn duplicate(descriptor: i32) -> Result<File> {
    use std::os::fd::BorrowedFd;
    if descriptor < 0 {
        return Err(Error::new(
            ErrorKind::BadValue,
            format!("{descriptor} is no descriptor"),
        )
        .at("descriptor")
        .hint("open the file and hand in its descriptor"));
    }
    // SAFETY: the number is not -1, and the borrow ends before this call returns; should the shell
    // have closed it, duplicating fails with an error (EBADF).
    #[allow(unsafe_code)]
    let borrowed = unsafe { BorrowedFd::borrow_raw(descriptor) };
    let owned = borrowed.try_clone_to_owned().map_err(|error| {
        Error::new(
            ErrorKind::BadValue,
            format!("descriptor {descriptor} is not open: {error}"),
        )
        .at("descriptor")
        .hint("open the file and hand in its descriptor")
    })?;
    Ok(File::from(owned))
}

#[cfg(not(unix))]
fn duplicate(_: i32) -> Result<File> {
    Err(Error::new(
        ErrorKind::BadValue,
        "descriptors are not known on this system",
    )
    .hint("hand in a path"))
}
