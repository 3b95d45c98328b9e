//! A bounded look into a file: one buffer of 64 KiB, however large the file, and no trust in any
//! length that the file states about itself.

use std::io::{self, SeekFrom};

use crate::world::ReadFile;

const BUFFER: usize = 64 * 1024;

/// A reader with a window; positions count from the start of the file.
pub(crate) struct Source<'a> {
    inner: &'a mut dyn ReadFile,
    len: u64,
    buffer: Vec<u8>,
    start: usize,
    end: usize,
    /// File position of `buffer[start]`.
    at: u64,
}

impl<'a> Source<'a> {
    /// Starts at the beginning of a file of `len` bytes.
    pub fn new(inner: &'a mut dyn ReadFile, len: u64) -> io::Result<Self> {
        inner.seek(SeekFrom::Start(0))?;
        Ok(Self {
            inner,
            len,
            buffer: vec![0; BUFFER],
            start: 0,
            end: 0,
            at: 0,
        })
    }

    /// Length of the file as given by the caller.
    pub fn len(&self) -> u64 {
        self.len
    }

    /// Where the next byte comes from.
    pub fn position(&self) -> u64 {
        self.at
    }

    /// The bytes at hand: at least `least` of them (up to the buffer's size) unless the file ends before.
    pub fn window(&mut self, least: usize) -> io::Result<&[u8]> {
        let least = least.min(BUFFER);
        if self.end - self.start < least {
            self.buffer.copy_within(self.start..self.end, 0);
            self.end -= self.start;
            self.start = 0;
            while self.end < least {
                let free = self.buffer.get_mut(self.end..).unwrap_or_default();
                match self.inner.read(free) {
                    Ok(0) => break,
                    Ok(n) => self.end += n,
                    Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
                    Err(e) => return Err(e),
                }
            }
        }
        Ok(self.buffer.get(self.start..self.end).unwrap_or_default())
    }

    /// Goes on by `n` bytes of the window.
    pub fn consume(&mut self, n: usize) {
        let n = n.min(self.end - self.start);
        self.start += n;
        self.at += n as u64;
    }

    /// Goes to a position; beyond the end there is nothing to read.
    pub fn seek(&mut self, to: u64) -> io::Result<()> {
        let ahead = to.wrapping_sub(self.at);
        if to >= self.at && ahead <= (self.end - self.start) as u64 {
            self.start += ahead as usize;
        } else {
            self.inner.seek(SeekFrom::Start(to.min(i64::MAX as u64)))?;
            self.start = 0;
            self.end = 0;
        }
        self.at = to;
        Ok(())
    }

    /// Goes on by `n` bytes; false if the file ends before that.
    pub fn skip(&mut self, n: u64) -> io::Result<bool> {
        let to = self.at.saturating_add(n);
        self.seek(to)?;
        Ok(to <= self.len)
    }

    /// One byte, or none at the end.
    pub fn byte(&mut self) -> io::Result<Option<u8>> {
        let byte = self.window(1)?.first().copied();
        if byte.is_some() {
            self.consume(1);
        }
        Ok(byte)
    }

    /// Exactly `N` bytes, or none if the file ends before.
    pub fn array<const N: usize>(&mut self) -> io::Result<Option<[u8; N]>> {
        let found = self
            .window(N)?
            .get(..N)
            .and_then(|s| <[u8; N]>::try_from(s).ok());
        if found.is_some() {
            self.consume(N);
        }
        Ok(found)
    }

    /// Up to `n` bytes: fewer only if the file ends. The caller bounds `n`; memory grows with what
    /// is really there, not with what is asked for.
    pub fn take(&mut self, n: u64) -> io::Result<Vec<u8>> {
        let mut bytes = Vec::new();
        while (bytes.len() as u64) < n {
            let wanted = n - bytes.len() as u64;
            let window = self.window(1)?;
            if window.is_empty() {
                break;
            }
            let part = window.len().min(usize::try_from(wanted).unwrap_or(BUFFER));
            bytes.extend_from_slice(window.get(..part).unwrap_or_default());
            self.consume(part);
        }
        Ok(bytes)
    }
}

/// Big-endian numbers out of a slice, none if it is too short.
pub(crate) fn be16(bytes: &[u8], at: usize) -> Option<u16> {
    bytes
        .get(at..at.checked_add(2)?)?
        .try_into()
        .ok()
        .map(u16::from_be_bytes)
}

/// See [`be16`].
pub(crate) fn be32(bytes: &[u8], at: usize) -> Option<u32> {
    bytes
        .get(at..at.checked_add(4)?)?
        .try_into()
        .ok()
        .map(u32::from_be_bytes)
}

/// See [`be16`].
pub(crate) fn be64(bytes: &[u8], at: usize) -> Option<u64> {
    bytes
        .get(at..at.checked_add(8)?)?
        .try_into()
        .ok()
        .map(u64::from_be_bytes)
}

/// Little-endian numbers out of a slice, none if it is too short.
pub(crate) fn le16(bytes: &[u8], at: usize) -> Option<u16> {
    bytes
        .get(at..at.checked_add(2)?)?
        .try_into()
        .ok()
        .map(u16::from_le_bytes)
}

/// See [`le16`].
pub(crate) fn le32(bytes: &[u8], at: usize) -> Option<u32> {
    bytes
        .get(at..at.checked_add(4)?)?
        .try_into()
        .ok()
        .map(u32::from_le_bytes)
}
