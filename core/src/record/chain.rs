//! Chain files: reading them whole or from where the index left off, and what is odd about them.

use std::path::Path;

use super::{LINE_LIMIT, Line};
use crate::error::{Error, Result};
use crate::world::Files;

/// Largest chain file read at once, in bytes: about two million lines.
pub const CHAIN_LIMIT: u64 = 2 << 30;

/// One stretch of a chain file.
#[derive(Debug, Default)]
pub struct Stretch {
    /// Lines that could be read, with the offset of each in the file.
    pub lines: Vec<(u64, Line)>,
    /// Complete lines that could not be read: offset, number from 1 within the stretch, why.
    pub damaged: Vec<(u64, u64, Error)>,
    /// Bytes of an unfinished last line: a write that a crash cut short.
    pub torn: u64,
    /// True if those bytes are a whole signed line with another byte where its newline belongs. No
    /// interrupted write leaves that: it was altered, and must not be cut off as unfinished.
    pub altered_end: bool,
    /// Length of the file that was read, without the torn part.
    pub end: u64,
}

/// Reads from `offset` to the end.
pub fn read(files: &dyn Files, path: &Path, offset: u64) -> Result<Stretch> {
    use std::io::{Read, Seek, SeekFrom};
    let io = |error| Error::io(&error, path.display());
    let mut file = files.open(path).map_err(io)?;
    file.seek(SeekFrom::Start(offset)).map_err(io)?;
    let mut bytes = Vec::new();
    file.take(CHAIN_LIMIT).read_to_end(&mut bytes).map_err(io)?;
    Ok(split(&bytes, offset))
}

/// Splits bytes that begin at `offset` of a file into lines.
pub fn split(bytes: &[u8], offset: u64) -> Stretch {
    let mut stretch = Stretch {
        end: offset,
        ..Stretch::default()
    };
    let mut number = 0;
    let mut rest = bytes;
    while let Some(length) = rest.iter().position(|byte| *byte == b'\n') {
        let (line, after) = rest.split_at(length);
        number += 1;
        let at = stretch.end;
        match Line::parse(&line[..line.len().min(LINE_LIMIT + 1)]) {
            Ok(line) => stretch.lines.push((at, line)),
            Err(error) => stretch.damaged.push((at, number, error)),
        }
        stretch.end += length as u64 + 1;
        rest = after.get(1..).unwrap_or(&[]);
    }
    stretch.torn = rest.len() as u64;
    stretch.altered_end = rest
        .split_last()
        .is_some_and(|(_, line)| Line::parse(line).is_ok_and(|line| line.signature_holds()));
    stretch
}
