//! Pixels out of files, one picture at a time, within a stated amount of memory.
//!
//! JPEG goes through `jpeg-decoder`, whose inverse transform makes the picture smaller by 2, 4 or 8
//! while decoding (rival: `zune-jpeg`, which `image` uses: faster at full size, but it cannot scale,
//! and a preview of 12 megapixels then costs twice the time and eight times the memory). What it
//! refuses (a file cut short, odd colour layouts) goes through `image`, which is more forgiving; PNG
//! and WebP go there at once. Decoders run inside a guard: a panic in one is an answer, not an end.

use std::io::{BufReader, Read, SeekFrom};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Mutex, PoisonError};

use image::{DynamicImage, ImageDecoder, RgbImage};
use jpeg_decoder::{CodingProcess, PixelFormat};

use super::Progress;
use super::orient::Orientation;
use super::shrink::shrink;
use crate::evidence::limits::PHOTO_PIXELS;
use crate::evidence::{Examined, Media};
use crate::world::ReadFile;
use crate::{Error, ErrorKind, Result};

/// What decoding may take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Most pixels of a picture that is opened.
    pub pixels: u64,
    /// Most bytes held at once for the pixels and coefficients of one picture.
    pub memory: u64,
}

impl Default for Limits {
    /// 250 megapixels and 256 MiB. A plain JPEG of 250 megapixels fits, since it is made smaller
    /// while decoding; a progressive one fits up to about 80 megapixels, a PNG up to about 50.
    fn default() -> Self {
        Self {
            pixels: PHOTO_PIXELS,
            memory: 256 << 20,
        }
    }
}

/// A decoded picture, upright.
#[derive(Debug, Clone)]
pub struct Decoded {
    /// The pixels.
    pub rgb: RgbImage,
    /// Width of the upright picture at full size.
    pub full_width: u32,
    /// Height of the upright picture at full size.
    pub full_height: u32,
    /// Pixels of the full picture for each pixel here, both ways: 1 for one that was not made smaller.
    pub scale: f64,
    /// The file is cut short or damaged: what could not be decoded is grey.
    pub partial: bool,
}

/// Decoders take much memory: one works at a time, whoever calls.
static ONE_AT_A_TIME: Mutex<()> = Mutex::new(());

/// Decodes a picture upright. With `at_least`, the result may be smaller than the original, but its
/// longer side is no shorter than this (unless the original's is); without, it has full size.
///
/// # Errors
/// `TooLarge` naming the limit, `BadFormat` for what cannot be decoded here, `Cancelled`, failures
/// of reading.
pub fn decode(
    file: &mut dyn ReadFile,
    what: &Examined,
    at_least: Option<u32>,
    limits: &Limits,
    progress: &Progress,
) -> Result<Decoded> {
    let turn = Orientation::from_code(what.orientation);
    let raw = unturned(file, what, at_least, limits, progress)?;
    progress.check()?;
    let (width, height) = raw.rgb.dimensions();
    let (full_width, full_height) = turn.size(what.width, what.height);
    let rgb = if turn == Orientation::UPRIGHT {
        raw.rgb
    } else {
        // Turning needs the picture twice.
        room(u64::from(width) * u64::from(height) * 6, limits)?;
        let turned = turn.turn::<3>(raw.rgb.as_raw(), width, height);
        let (width, height) = turn.size(width, height);
        RgbImage::from_raw(width, height, turned).ok_or_else(unreadable)?
    };
    Ok(Decoded {
        rgb,
        full_width,
        full_height,
        scale: raw.scale,
        partial: raw.partial,
    })
}

/// As stored, before turning.
pub(crate) struct Unturned {
    pub rgb: RgbImage,
    pub scale: f64,
    pub partial: bool,
}

/// Decodes without turning.
pub(crate) fn unturned(
    file: &mut dyn ReadFile,
    what: &Examined,
    at_least: Option<u32>,
    limits: &Limits,
    progress: &Progress,
) -> Result<Unturned> {
    let pixels = u64::from(what.width) * u64::from(what.height);
    if !what.media.is_decodable() {
        return Err(Error::new(
            ErrorKind::BadFormat,
            format!(
                "{} cannot be shown here; the file itself is kept",
                what.media.extension().to_uppercase()
            ),
        )
        .hint("hand in a preview made by the phone"));
    }
    if pixels > limits.pixels {
        return Err(Error::new(
            ErrorKind::TooLarge,
            format!(
                "{} × {} pixels are more than the limit of {} megapixels; the file itself is kept",
                what.width,
                what.height,
                limits.pixels / 1_000_000
            ),
        ));
    }
    if pixels == 0 {
        return Err(unreadable());
    }
    let _turn = ONE_AT_A_TIME.lock().unwrap_or_else(PoisonError::into_inner);
    progress.check()?;
    let mut damaged = matches!(what.complete, crate::evidence::Complete::No(_));
    if what.media == Media::Jpg {
        let mut unusual = false;
        let scaled = guarded(|| scaled_jpeg(file, at_least, limits, &mut unusual));
        match scaled {
            Ok((rgb, scale)) => {
                return Ok(Unturned {
                    rgb,
                    scale,
                    partial: false,
                });
            }
            // Too large for this way is too large for the other, which cannot scale.
            Err(error) if error.kind == ErrorKind::TooLarge => return Err(error),
            // A way of coding that this decoder does not know is no damage; anything else is, and the
            // other decoder would pass over it in silence.
            Err(_) => damaged = !unusual,
        }
        progress.check()?;
    }
    let rgb = guarded(|| whole(file, what, limits))?;
    Ok(Unturned {
        rgb,
        scale: 1.0,
        partial: damaged,
    })
}

fn unreadable() -> Error {
    Error::new(
        ErrorKind::BadFormat,
        "the picture cannot be decoded; the file itself is kept",
    )
}

/// Refuses before anything is allocated.
fn room(bytes: u64, limits: &Limits) -> Result<()> {
    if bytes <= limits.memory {
        return Ok(());
    }
    Err(Error::new(
        ErrorKind::TooLarge,
        format!(
            "decoding would take {} MB, the limit is {} MB; the file itself is kept",
            bytes.div_ceil(1 << 20),
            limits.memory >> 20
        ),
    ))
}

/// Runs a decoder; a panic in it is an error of the file.
fn guarded<T>(work: impl FnOnce() -> Result<T>) -> Result<T> {
    catch_unwind(AssertUnwindSafe(work)).unwrap_or_else(|_| Err(unreadable()))
}

fn scaled_jpeg(
    file: &mut dyn ReadFile,
    at_least: Option<u32>,
    limits: &Limits,
    unusual: &mut bool,
) -> Result<(RgbImage, f64)> {
    let mut refused = |error: jpeg_decoder::Error| {
        *unusual = matches!(error, jpeg_decoder::Error::Unsupported(_));
        unreadable()
    };
    rewind(file)?;
    let mut decoder = jpeg_decoder::Decoder::new(BufReader::with_capacity(1 << 16, file));
    decoder.read_info().map_err(&mut refused)?;
    let info = decoder.info().ok_or_else(unreadable)?;
    let full = u64::from(info.width) * u64::from(info.height);
    // The file may say something else to this reader than to ours; ours was checked.
    if full > limits.pixels {
        return Err(unreadable());
    }
    let by = at_least.map_or(1, |least| scale_for(info.width, info.height, least));
    let small = |n: u16| n.div_ceil(by);
    let (width, height) = decoder
        .scale(small(info.width), small(info.height))
        .map_err(&mut refused)?;
    let out = u64::from(width) * u64::from(height);
    let channels: u64 = match info.pixel_format {
        PixelFormat::L8 => 1,
        PixelFormat::L16 => 2,
        PixelFormat::RGB24 => 3,
        PixelFormat::CMYK32 => 4,
    };
    // Component planes, then the interleaved picture; progressive files hold all coefficients (two
    // bytes for each sample) until the last scan.
    let coefficients = match info.coding_process {
        CodingProcess::DctSequential => 0,
        CodingProcess::DctProgressive | CodingProcess::Lossless => full * channels * 2,
    };
    room(out * (channels * 2 + 3) + coefficients, limits)?;
    decoder.set_max_decoding_buffer_size(usize::try_from(limits.memory).unwrap_or(usize::MAX));
    let bytes = decoder.decode().map_err(&mut refused)?;
    let rgb = match info.pixel_format {
        PixelFormat::RGB24 => bytes,
        PixelFormat::L8 => bytes.iter().flat_map(|&v| [v; 3]).collect(),
        // Native byte order, the upper half counts.
        PixelFormat::L16 => bytes
            .chunks_exact(2)
            .flat_map(|pair| {
                let v = pair.try_into().map_or(0, u16::from_ne_bytes);
                [(v >> 8) as u8; 3]
            })
            .collect(),
        // Ink that is missing is light: each colour times what black leaves (PDF 32000-1, 10.3.4
        // has the subtractive form; the product is what viewers show).
        PixelFormat::CMYK32 => bytes
            .chunks_exact(4)
            .flat_map(|p| match *p {
                [c, m, y, k] => {
                    let light = |ink: u8| {
                        let product = u32::from(255 - ink) * u32::from(255 - k);
                        ((product + 127) / 255) as u8
                    };
                    [light(c), light(m), light(y)]
                }
                _ => [0; 3],
            })
            .collect(),
    };
    // What the decoder gave counts: it rounds the other side up, which is no other scale.
    let scale = [1.0, 2.0, 4.0, 8.0]
        .into_iter()
        .find(|s| (f64::from(info.width) / s).ceil() <= f64::from(width))
        .unwrap_or(8.0);
    RgbImage::from_raw(width.into(), height.into(), rgb)
        .map(|rgb| (rgb, scale))
        .ok_or_else(unreadable)
}

/// By how much a picture may be shrunk (1, 2, 4 or 8) with its longer side still `least` long.
fn scale_for(width: u16, height: u16, least: u32) -> u16 {
    let long = u32::from(width.max(height));
    [8u16, 4, 2]
        .into_iter()
        .find(|&n| long.div_ceil(u32::from(n)) >= least)
        .unwrap_or(1)
}

fn whole(file: &mut dyn ReadFile, what: &Examined, limits: &Limits) -> Result<RgbImage> {
    rewind(file)?;
    let length = file
        .seek(SeekFrom::End(0))
        .map_err(|e| Error::io(&e, "the picture"))?;
    rewind(file)?;
    let pixels = u64::from(what.width) * u64::from(what.height);
    let mut bounds = image::Limits::no_limits();
    bounds.max_alloc = Some(limits.memory);
    let reader = BufReader::with_capacity(1 << 16, file);
    let odd = |_: image::ImageError| unreadable();
    let picture = match what.media {
        Media::Jpg => {
            // This decoder holds the file as well.
            room(length + pixels * 3, limits)?;
            let decoder = image::codecs::jpeg::JpegDecoder::new(reader).map_err(odd)?;
            from_decoder(decoder, bounds, limits)?
        }
        Media::Png => {
            let decoder =
                image::codecs::png::PngDecoder::with_limits(reader, bounds.clone()).map_err(odd)?;
            from_decoder(decoder, bounds, limits)?
        }
        Media::Webp => {
            room(length + pixels * 4, limits)?;
            let decoder = image::codecs::webp::WebPDecoder::new(reader).map_err(odd)?;
            from_decoder(decoder, bounds, limits)?
        }
        _ => return Err(unreadable()),
    };
    Ok(opaque(picture))
}

fn from_decoder(
    mut decoder: impl ImageDecoder,
    bounds: image::Limits,
    limits: &Limits,
) -> Result<DynamicImage> {
    let (width, height) = decoder.dimensions();
    let pixels = u64::from(width) * u64::from(height);
    if pixels > limits.pixels {
        return Err(unreadable());
    }
    // What comes out of the decoder, and the three bytes a pixel that are made of it.
    room(decoder.total_bytes().saturating_add(pixels * 3), limits)?;
    decoder.set_limits(bounds).map_err(|_| unreadable())?;
    DynamicImage::from_decoder(decoder).map_err(|_| unreadable())
}

/// Eight bits a channel, on white where it is see-through.
fn opaque(picture: DynamicImage) -> RgbImage {
    if !picture.color().has_alpha() {
        return picture.into_rgb8();
    }
    let rgba = picture.into_rgba8();
    let mut rgb = RgbImage::new(rgba.width(), rgba.height());
    for (to, from) in rgb.pixels_mut().zip(rgba.pixels()) {
        let [r, g, b, a] = from.0;
        let over = |c: u8| {
            let sum = u32::from(c) * u32::from(a) + 255 * (255 - u32::from(a));
            ((sum + 127) / 255) as u8
        };
        to.0 = [over(r), over(g), over(b)];
    }
    rgb
}

fn rewind(file: &mut dyn ReadFile) -> Result<()> {
    file.seek(SeekFrom::Start(0))
        .map(|_| ())
        .map_err(|e| Error::io(&e, "the picture"))
}

/// Shrinks a decoded picture to at most `long` pixels on its longer side.
pub fn at_most(picture: &RgbImage, long: u32) -> RgbImage {
    let (width, height) = picture.dimensions();
    let longer = width.max(height);
    if longer <= long {
        return picture.clone();
    }
    let side = |n: u32| {
        let scaled = (u64::from(n) * u64::from(long) + u64::from(longer) / 2) / u64::from(longer);
        (scaled as u32).max(1)
    };
    shrink(picture, side(width), side(height))
}

/// Reads a whole stream into memory, bounded; for callers that hold bytes.
pub fn bytes_of(file: &mut dyn ReadFile, limit: u64) -> Result<Vec<u8>> {
    rewind(file)?;
    let mut bytes = Vec::new();
    file.take(limit)
        .read_to_end(&mut bytes)
        .map_err(|e| Error::io(&e, "the picture"))?;
    Ok(bytes)
}
