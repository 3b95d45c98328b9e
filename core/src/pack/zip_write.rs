//! Writes a zip that is the same, byte for byte, for the same content: members stored, in the order
//! given, one fixed stamp and mode, 64-bit records only where a size needs them.
//!
//! Rival refused: the `zip` crate's writer, which seeks back to fill in sums, or else writes them
//! behind the data where a reader must trust them; a file system handed in from outside only appends.
//! The crate reads what is written here in the tests, as Python's `zipfile` does in
//! `tests/outside/pack.py`.

use std::io::{self, Read, Write};

/// 1980-01-01 00:00:00, the earliest a zip can say: a stamp that means nothing.
const DATE: u16 = 0x0021;
/// Regular file, 0644, made on Unix.
const MODE: u32 = 0o100_644 << 16;
const NARROW: u64 = 0xFFFF_FFFF;

struct Done {
    name: String,
    crc: u32,
    len: u64,
    header: u64,
}

/// A zip in the making.
pub struct ZipWriter<W: Write> {
    out: W,
    at: u64,
    done: Vec<Done>,
}

impl<W: Write> ZipWriter<W> {
    /// Starts at the beginning of `out`.
    pub fn new(out: W) -> Self {
        Self {
            out,
            at: 0,
            done: Vec::new(),
        }
    }

    fn put(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.at += bytes.len() as u64;
        self.out.write_all(bytes)
    }

    /// Adds a member whose length and CRC-32 are known.
    ///
    /// # Errors
    /// What the machine says, or `InvalidData` if `source` does not give exactly those bytes.
    pub fn add(&mut self, name: &str, len: u64, crc: u32, source: &mut dyn Read) -> io::Result<()> {
        let wide = len >= NARROW;
        let header = self.at;
        let mut bytes = Vec::with_capacity(64 + name.len());
        bytes.extend(0x0403_4b50u32.to_le_bytes());
        common(&mut bytes, wide, crc, len);
        bytes.extend(short(name.len())?.to_le_bytes());
        bytes.extend(if wide { 20u16 } else { 0 }.to_le_bytes());
        bytes.extend(name.as_bytes());
        if wide {
            bytes.extend([0x01, 0x00, 16, 0]);
            bytes.extend(len.to_le_bytes());
            bytes.extend(len.to_le_bytes());
        }
        self.put(&bytes)?;
        let mut hash = crc32fast::Hasher::new();
        let mut left = len;
        let mut buffer = vec![0u8; 256 * 1024];
        loop {
            let n = match source.read(&mut buffer) {
                Ok(n) => n,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                Err(error) => return Err(error),
            };
            let Some(chunk) = buffer.get(..n).filter(|chunk| !chunk.is_empty()) else {
                break;
            };
            left = left.checked_sub(n as u64).ok_or_else(changed)?;
            hash.update(chunk);
            self.put(chunk)?;
        }
        if left != 0 || hash.finalize() != crc {
            return Err(changed());
        }
        self.done.push(Done {
            name: name.to_owned(),
            crc,
            len,
            header,
        });
        Ok(())
    }

    /// Writes the directory and gives the writer back.
    ///
    /// # Errors
    /// What the machine says.
    pub fn finish(mut self) -> io::Result<W> {
        let start = self.at;
        let done = std::mem::take(&mut self.done);
        for member in &done {
            let mut extra = Vec::new();
            for value in [member.len, member.len] {
                if member.len >= NARROW {
                    extra.extend(value.to_le_bytes());
                }
            }
            if member.header >= NARROW {
                extra.extend(member.header.to_le_bytes());
            }
            let wide = !extra.is_empty();
            let mut bytes = Vec::with_capacity(96 + member.name.len());
            bytes.extend(0x0201_4b50u32.to_le_bytes());
            bytes.extend([if wide { 45 } else { 20 }, 3]);
            common(&mut bytes, wide_local(member.len), member.crc, member.len);
            bytes.extend(short(member.name.len())?.to_le_bytes());
            bytes.extend(if wide { short(extra.len() + 4)? } else { 0 }.to_le_bytes());
            bytes.extend([0; 6]); // comment, part, internal attributes
            bytes.extend(MODE.to_le_bytes());
            bytes.extend(narrow(member.header).to_le_bytes());
            bytes.extend(member.name.as_bytes());
            if wide {
                bytes.extend([0x01, 0x00]);
                bytes.extend(short(extra.len())?.to_le_bytes());
                bytes.extend(extra);
            }
            self.put(&bytes)?;
        }
        let (end, count) = (self.at, done.len() as u64);
        let length = end - start;
        let mut bytes = Vec::new();
        if count >= 0xFFFF || length >= NARROW || start >= NARROW {
            bytes.extend(0x0606_4b50u32.to_le_bytes());
            bytes.extend(44u64.to_le_bytes());
            bytes.extend([45, 3, 45, 0]);
            bytes.extend([0; 8]);
            for value in [count, count, length, start] {
                bytes.extend(value.to_le_bytes());
            }
            bytes.extend(0x0706_4b50u32.to_le_bytes());
            bytes.extend(0u32.to_le_bytes());
            bytes.extend(end.to_le_bytes());
            bytes.extend(1u32.to_le_bytes());
        }
        bytes.extend(0x0605_4b50u32.to_le_bytes());
        bytes.extend([0; 4]);
        let few = u16::try_from(count).unwrap_or(0xFFFF);
        bytes.extend(few.to_le_bytes());
        bytes.extend(few.to_le_bytes());
        bytes.extend(narrow(length).to_le_bytes());
        bytes.extend(narrow(start).to_le_bytes());
        bytes.extend([0; 2]);
        self.put(&bytes)?;
        self.out.flush()?;
        Ok(self.out)
    }
}

fn wide_local(len: u64) -> bool {
    len >= NARROW
}

/// Version needed to sizes: what stands in both headers.
fn common(bytes: &mut Vec<u8>, wide: bool, crc: u32, len: u64) {
    bytes.extend(if wide { 45u16 } else { 20 }.to_le_bytes());
    bytes.extend([0; 4]); // flags, stored
    bytes.extend(0u16.to_le_bytes());
    bytes.extend(DATE.to_le_bytes());
    bytes.extend(crc.to_le_bytes());
    bytes.extend(narrow(len).to_le_bytes());
    bytes.extend(narrow(len).to_le_bytes());
}

fn narrow(value: u64) -> u32 {
    u32::try_from(value).unwrap_or(u32::MAX)
}

fn short(value: usize) -> io::Result<u16> {
    u16::try_from(value).map_err(|_| io::Error::from(io::ErrorKind::InvalidInput))
}

fn changed() -> io::Error {
    io::Error::new(
        io::ErrorKind::InvalidData,
        "the file changed while it was packed",
    )
}

#[cfg(test)]
mod tests;
