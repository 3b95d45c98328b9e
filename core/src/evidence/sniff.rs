//! Media type by content. Names lie, and phones rename.

use super::media::Media;
use super::sound::adts_frame;
use super::source::be32;

/// Bytes of the head that are enough to tell.
pub(crate) const HEAD: usize = 16 * 1024;

/// Tells the type from the first bytes of a file (up to [`HEAD`]). MPEG-4 files come back as
/// [`Media::Mp4`], TIFF as [`Media::Tif`]: what they hold decides later.
pub fn sniff(head: &[u8]) -> Media {
    let at = |from: usize, what: &[u8]| head.get(from..).is_some_and(|h| h.starts_with(what));
    if at(0, b"\xFF\xD8\xFF") {
        return Media::Jpg;
    }
    if at(0, b"\x89PNG\r\n\x1A\n") {
        return Media::Png;
    }
    if at(0, b"RIFF") {
        if at(8, b"WEBP") {
            return Media::Webp;
        }
        if at(8, b"WAVE") {
            return Media::Wav;
        }
    }
    if at(0, b"GIF87a") || at(0, b"GIF89a") {
        return Media::Gif;
    }
    if at(0, b"II*\0") || at(0, b"MM\0*") {
        return Media::Tif;
    }
    if at(0, b"%PDF-") {
        return Media::Pdf;
    }
    if at(0, b"OggS") {
        return Media::Ogg;
    }
    if at(4, b"ftyp") {
        return brand(head);
    }
    if let Some((length, _)) = adts_frame(head)
        && (head.len() as u64 <= length
            || head
                .get(length as usize..)
                .is_some_and(|next| next.len() < 7 || adts_frame(next).is_some()))
    {
        return Media::Aac;
    }
    if is_text(head) {
        Media::Txt
    } else {
        Media::Bin
    }
}

fn brand(head: &[u8]) -> Media {
    let length = be32(head, 0).unwrap_or(0) as usize;
    let body = head.get(8..length.min(head.len())).unwrap_or_default();
    // Major brand, version, compatible brands.
    let major = body.get(..4).unwrap_or_default();
    let others = || body.get(8..).unwrap_or_default().chunks_exact(4);
    let any = |names: &[&[u8; 4]]| {
        names.iter().any(|n| major == *n) || others().any(|b| names.iter().any(|n| b == *n))
    };
    if any(&[b"avif", b"avis"]) {
        Media::Avif
    } else if any(&[
        b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1",
    ]) {
        Media::Heic
    } else if major == b"M4A " || major == b"M4B " {
        Media::M4a
    } else if major == b"crx " || major == b"jxl " {
        Media::Bin
    } else {
        Media::Mp4
    }
}

/// UTF-8 without control characters but those of plain text; a character cut by the end of the head
/// does not count against it.
fn is_text(head: &[u8]) -> bool {
    if head.is_empty() {
        return false;
    }
    let text = match std::str::from_utf8(head) {
        Ok(text) => text,
        Err(error) if error.error_len().is_none() && head.len() >= HEAD => head
            .get(..error.valid_up_to())
            .and_then(|valid| std::str::from_utf8(valid).ok())
            .unwrap_or_default(),
        Err(_) => return false,
    };
    !text.is_empty()
        && !text
            .chars()
            .any(|c| c.is_control() && !matches!(c, '\t' | '\n' | '\r' | '\x0C'))
}
