//! Sound as evidence: which container, how long, how loud, and how much of a cut file is whole.
//!
//! Bytes in, facts out; the file itself is kept whatever these say. WAV is RIFF (Microsoft and IBM,
//! 1991) with PCM; ADTS is the stream form of AAC (ISO/IEC 13818-7); Ogg is RFC 3533.

use serde::Serialize;

/// Containers that survive a kill of the recorder.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Container {
    /// RIFF WAVE with PCM samples.
    Wav,
    /// AAC frames.
    Adts,
    /// Ogg pages (Opus or Vorbis).
    Ogg,
}

impl Container {
    /// `wav`, `adts`, `ogg`.
    pub fn name(self) -> &'static str {
        match self {
            Self::Wav => "wav",
            Self::Adts => "adts",
            Self::Ogg => "ogg",
        }
    }
}

/// What can be said of a sound file.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sound {
    /// Container.
    pub container: Container,
    /// Length in milliseconds up to the last whole frame; none where no rate was found.
    pub milliseconds: Option<u64>,
    /// Samples a second.
    pub rate: Option<u32>,
    /// Bytes up to the end of the last whole frame.
    pub whole: u64,
    /// The file ends inside a frame, or its head promises more than there is.
    pub cut: bool,
    /// Loudest sample as a share of full scale, 0 to 1; PCM only.
    pub peak: Option<f64>,
    /// Root mean square as a share of full scale; PCM only.
    pub level: Option<f64>,
    /// Share of samples at full scale; PCM only.
    pub clipped: Option<f64>,
}

fn le16(bytes: &[u8], at: usize) -> Option<u16> {
    Some(u16::from_le_bytes(
        bytes.get(at..at.checked_add(2)?)?.try_into().ok()?,
    ))
}

fn le32(bytes: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_le_bytes(
        bytes.get(at..at.checked_add(4)?)?.try_into().ok()?,
    ))
}

/// Looks at a sound file; none if it is none of the three containers or has not one whole frame.
pub fn look(bytes: &[u8]) -> Option<Sound> {
    if bytes.starts_with(b"RIFF") {
        return wav(bytes);
    }
    if bytes.starts_with(b"OggS") {
        return ogg(bytes);
    }
    adts(bytes)
}

fn wav(bytes: &[u8]) -> Option<Sound> {
    if bytes.get(8..12)? != b"WAVE" {
        return None;
    }
    let mut at = 12usize;
    let mut format: Option<(u16, u16, u32, u16)> = None;
    loop {
        let name = bytes.get(at..at.checked_add(4)?)?;
        let said = le32(bytes, at + 4)? as usize;
        let start = at + 8;
        if name == b"fmt " {
            format = Some((
                le16(bytes, start)?,
                le16(bytes, start + 2)?,
                le32(bytes, start + 4)?,
                le16(bytes, start + 14)?,
            ));
        }
        if name == b"data" {
            let (kind, channels, rate, bits) = format?;
            let frame = usize::from(channels).checked_mul(usize::from(bits / 8))?;
            if frame == 0 || rate == 0 {
                return None;
            }
            let there = bytes.len().saturating_sub(start);
            // a recorder that was killed left zero or the largest number in the head
            let open = said == 0 || said >= 0xffff_fff0;
            let have = if open { there } else { said.min(there) };
            let frames = have / frame;
            let whole = start + frames * frame;
            let pcm = kind == 1 || kind == 0xfffe;
            let (peak, level, clipped) = match (pcm, bits) {
                (true, 16) => measure(bytes.get(start..whole)?),
                _ => (None, None, None),
            };
            return Some(Sound {
                container: Container::Wav,
                milliseconds: Some(frames as u64 * 1000 / u64::from(rate)),
                rate: Some(rate),
                whole: whole as u64,
                cut: open && there > 0 || said > there || !have.is_multiple_of(frame),
                peak,
                level,
                clipped,
            });
        }
        at = start.checked_add(said)?.checked_add(said % 2)?;
    }
}

fn measure(samples: &[u8]) -> (Option<f64>, Option<f64>, Option<f64>) {
    let (mut peak, mut sum, mut full, mut count) = (0.0f64, 0.0f64, 0u64, 0u64);
    for pair in samples.chunks_exact(2) {
        let Ok(pair) = <[u8; 2]>::try_from(pair) else {
            continue;
        };
        let sample = i16::from_le_bytes(pair);
        let share = f64::from(sample).abs() / 32768.0;
        peak = peak.max(share);
        sum += share * share;
        full += u64::from(sample == i16::MAX || sample == i16::MIN);
        count += 1;
    }
    if count == 0 {
        return (None, None, None);
    }
    (
        Some(peak),
        Some((sum / count as f64).sqrt()),
        Some(full as f64 / count as f64),
    )
}

/// Sampling rates by index, ISO/IEC 13818-7 table 35 [from memory].
const RATES: [u32; 13] = [
    96000, 88200, 64000, 48000, 44100, 32000, 24000, 22050, 16000, 12000, 11025, 8000, 7350,
];

fn adts(bytes: &[u8]) -> Option<Sound> {
    let mut at = 0usize;
    let mut frames = 0u64;
    let mut rate = None;
    while let Some(&[a, b, c, d, e, f, g]) = bytes
        .get(at..at + 7)
        .and_then(|h| <&[u8; 7]>::try_from(h).ok())
    {
        if a != 0xff || b & 0xf6 != 0xf0 {
            break;
        }
        let length = (usize::from(d & 3) << 11) | (usize::from(e) << 3) | usize::from(f >> 5);
        if length < 7 || at + length > bytes.len() {
            break;
        }
        rate = rate.or_else(|| RATES.get(usize::from((c >> 2) & 15)).copied());
        frames += u64::from(g & 3) + 1;
        at += length;
    }
    if frames == 0 {
        return None;
    }
    Some(Sound {
        container: Container::Adts,
        milliseconds: rate.map(|r| frames * 1024 * 1000 / u64::from(r)),
        rate,
        whole: at as u64,
        cut: at < bytes.len(),
        peak: None,
        level: None,
        clipped: None,
    })
}

fn ogg(bytes: &[u8]) -> Option<Sound> {
    let mut at = 0usize;
    let mut samples = 0u64;
    let mut rate = None;
    let mut skip = 0u64;
    let mut ended = false;
    while bytes.get(at..at + 4) == Some(b"OggS") {
        let Some(&segments) = bytes.get(at + 26) else {
            break;
        };
        let table = at + 27;
        let Some(lengths) = bytes.get(table..table + usize::from(segments)) else {
            break;
        };
        let body = table + usize::from(segments);
        let end = body + lengths.iter().map(|l| usize::from(*l)).sum::<usize>();
        let Some(payload) = bytes.get(body..end) else {
            break;
        };
        if payload.starts_with(b"OpusHead") {
            // RFC 7845: granules of Opus are always at 48 kHz, the pre-skip is not heard
            rate = Some(48000);
            skip = u64::from(le16(payload, 10).unwrap_or(0));
        } else if payload.starts_with(b"\x01vorbis") {
            rate = le32(payload, 12).filter(|r| *r > 0);
        }
        let granule = bytes
            .get(at + 6..at + 14)
            .and_then(|g| <[u8; 8]>::try_from(g).ok())
            .map(u64::from_le_bytes);
        if let Some(granule) = granule.filter(|g| *g != u64::MAX) {
            samples = samples.max(granule);
        }
        ended = bytes.get(at + 5).is_some_and(|flags| flags & 4 != 0);
        at = end;
    }
    if at == 0 {
        return None;
    }
    let heard = samples.saturating_sub(skip);
    Some(Sound {
        container: Container::Ogg,
        milliseconds: rate.and_then(|r| heard.checked_mul(1000).map(|ms| ms / u64::from(r))),
        rate,
        whole: at as u64,
        cut: at < bytes.len() || !ended,
        peak: None,
        level: None,
        clipped: None,
    })
}

/// The part of a cut file that is whole, with a WAV head that says so; the original stays as it is.
pub fn recovered(bytes: &[u8]) -> Option<Vec<u8>> {
    let sound = look(bytes)?;
    let whole = usize::try_from(sound.whole).ok()?;
    let mut out = bytes.get(..whole)?.to_vec();
    if sound.container == Container::Wav {
        let total = u32::try_from(whole.checked_sub(8)?).ok()?;
        out.get_mut(4..8)?.copy_from_slice(&total.to_le_bytes());
        let data = find_data(&out)?;
        let length = u32::try_from(whole.checked_sub(data + 8)?).ok()?;
        out.get_mut(data + 4..data + 8)?
            .copy_from_slice(&length.to_le_bytes());
    }
    Some(out)
}

fn find_data(bytes: &[u8]) -> Option<usize> {
    let mut at = 12usize;
    loop {
        if bytes.get(at..at.checked_add(4)?)? == b"data" {
            return Some(at);
        }
        let said = le32(bytes, at + 4)? as usize;
        at = at
            .checked_add(8)?
            .checked_add(said)?
            .checked_add(said % 2)?;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A WAV of one channel, made here: the truth is known by construction.
    fn made(samples: &[i16], said: u32) -> Vec<u8> {
        let mut out = b"RIFF\0\0\0\0WAVEfmt \x10\0\0\0\x01\0\x01\0".to_vec();
        out.extend(8000u32.to_le_bytes());
        out.extend(16000u32.to_le_bytes());
        out.extend([2, 0, 16, 0]);
        out.extend(b"data");
        out.extend(said.to_le_bytes());
        out.extend(samples.iter().flat_map(|s| s.to_le_bytes()));
        out
    }

    #[test]
    fn wav_length_level_and_clipping() {
        let loud: Vec<i16> = (0..8000)
            .map(|i| if i % 2 == 0 { i16::MAX } else { 0 })
            .collect();
        let sound = look(&made(&loud, 16000)).unwrap();
        assert_eq!(sound.milliseconds, Some(1000));
        assert!(!sound.cut);
        assert!((sound.clipped.unwrap() - 0.5).abs() < 1e-9);
        assert!((sound.level.unwrap() - 0.5f64.sqrt()).abs() < 1e-3);
    }

    #[test]
    fn a_cut_file_is_whole_up_to_its_last_frame() {
        let mut bytes = made(&[1; 4000], 0);
        bytes.pop();
        let sound = look(&bytes).unwrap();
        assert!(sound.cut);
        assert_eq!(sound.milliseconds, Some(499));
        let saved = look(&recovered(&bytes).unwrap()).unwrap();
        assert!(!saved.cut);
        assert_eq!(saved.milliseconds, Some(499));
    }

    #[test]
    fn adts_counts_frames() {
        let mut frame = vec![0xff, 0xf1, 0x60, 0x40, 0x04, 0x1f, 0xfc];
        // length 32: 0 << 11 | 4 << 3 | 0
        frame[3] = 0x40;
        frame[4] = 4;
        frame[5] = 0x1f;
        frame.resize(32, 0);
        let mut bytes = frame.repeat(16);
        bytes.extend(&frame[..10]);
        let sound = look(&bytes).unwrap();
        assert_eq!(sound.container, Container::Adts);
        assert_eq!(sound.whole, 512);
        assert!(sound.cut);
        assert_eq!(
            sound.milliseconds,
            Some(16 * 1024 * 1000 / 16000 * 16000 / u64::from(sound.rate.unwrap()))
        );
    }

    proptest::proptest! {
        #[test]
        fn any_bytes_are_looked_at(bytes in proptest::collection::vec(proptest::num::u8::ANY, 0..200), head in 0usize..4) {
            let mut all = [&b"RIFF\0\0\0\0WAVEfmt "[..], b"OggS\0\0", b"\xff\xf1", b""][head].to_vec();
            all.extend(bytes);
            if let Some(sound) = look(&all) {
                proptest::prop_assert!(sound.whole <= all.len() as u64);
            }
            let _ = recovered(&all);
        }
    }
}
