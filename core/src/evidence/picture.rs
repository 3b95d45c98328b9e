//! The `picture` digest: proof of a photograph's picture that survives the removal of its metadata.
//!
//! A copy from which the position has been stripped is no longer the recorded file, so the file's
//! digest says nothing about it. The `picture` digest covers only what a decoder needs to draw the
//! primary image of a JPEG file, and is the same before and after `exiftool -all=`.
//!
//! # Which bytes
//!
//! SHA-256 over the following bytes of the file, in file order, with nothing between them. Reading
//! starts behind the first SOI (`FF D8`) and ends at the first EOI (`FF D9`) that stands where a
//! marker may stand (ITU-T T.81, annex B). Neither SOI nor EOI is part of the digest, nor anything
//! behind EOI (further pictures, gain maps, thumbnails inside of other segments).
//!
//! * Segments DQT (`DB`), DHT (`C4`), DAC (`CC`), DRI (`DD`), DNL (`DC`), every SOFn (`C0` to `CF`
//!   but `C4`, `C8`, `CC`), SOS (`DA`), and APP14 (`EE`) whose payload begins with the five bytes
//!   `Adobe`: the byte `FF`, the marker byte, the two length bytes and the payload (so: `length + 2`
//!   bytes).
//! * After an SOS segment, its coded data up to the next marker that is neither RSTn (`D0` to `D7`)
//!   nor a stuffed zero: every byte as stored, `FF 00` as two bytes, `FF Dn` of RSTn as two bytes.
//! * Fill bytes are left out: of several `FF` in a row, in front of a marker or inside coded data,
//!   only the last counts.
//! * Every other segment (other APPn, COM, DHP, EXP, JPGn …) is left out whole; so are the stand-alone
//!   markers TEM and RSTn outside coded data, and bytes outside any segment.
//!
//! There is no digest (null) if the file is not a JPEG, ends before EOI, starts a second SOI before
//! EOI, has a segment length below 2, or holds no SOS. The colour profile (APP2) is not covered: a
//! stripped copy may show slightly different colours. APP14 that is not Adobe's changes no decoder
//! and is removed by strippers, so it does not count.
//!
//! `tests/outside/picture.py` is a second reader, written from this text.

use sha2::{Digest, Sha256};

/// Collects the covered bytes.
pub(crate) struct PictureDigest(Sha256);

impl PictureDigest {
    /// An empty one.
    pub fn new() -> Self {
        Self(Sha256::new())
    }

    /// True for markers whose whole segment counts; APP14 is decided by [`counts_app14`].
    pub fn counts(marker: u8) -> bool {
        matches!(marker, 0xDB | 0xC4 | 0xCC | 0xDD | 0xDC | 0xDA) || is_frame(marker)
    }

    /// Adds a segment: marker, length, payload.
    pub fn segment(&mut self, marker: u8, payload: &[u8]) {
        let length = u16::try_from(payload.len() + 2).unwrap_or(u16::MAX);
        self.0.update([0xFF, marker]);
        self.0.update(length.to_be_bytes());
        self.0.update(payload);
    }

    /// Adds coded data.
    pub fn coded(&mut self, bytes: &[u8]) {
        self.0.update(bytes);
    }

    /// The digest in lower-case hex.
    pub fn finish(self) -> String {
        data_encoding::HEXLOWER.encode(&self.0.finalize())
    }
}

/// True for the start of a frame: SOF0 to SOF15 without DHT, JPG and DAC, which share the range.
pub(crate) fn is_frame(marker: u8) -> bool {
    matches!(marker, 0xC0..=0xCF) && !matches!(marker, 0xC4 | 0xC8 | 0xCC)
}

/// True for the APP14 segment that tells a decoder how colours are stored.
pub(crate) fn counts_app14(marker: u8, payload: &[u8]) -> bool {
    marker == 0xEE && payload.starts_with(b"Adobe")
}
