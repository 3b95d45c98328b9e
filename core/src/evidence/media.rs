//! The closed table of media types. A file is named after its digest with one of these extensions,
//! whatever it was called before; anything else is `bin` and kept all the same.

use serde::{Deserialize, Serialize};

/// A media type, told from content and never from the name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Media {
    /// JPEG (also with further pictures behind the first: MPO, gain maps).
    Jpg,
    /// PNG.
    Png,
    /// WebP.
    Webp,
    /// HEIF with HEVC coding.
    Heic,
    /// HEIF with AV1 coding.
    Avif,
    /// GIF.
    Gif,
    /// TIFF.
    Tif,
    /// Digital negative, a TIFF with a DNG version.
    Dng,
    /// PDF.
    Pdf,
    /// WAV.
    Wav,
    /// AAC in ADTS frames.
    Aac,
    /// Ogg (Opus, Vorbis).
    Ogg,
    /// MPEG-4 with sound only.
    M4a,
    /// MPEG-4 with pictures.
    Mp4,
    /// Plain text in UTF-8.
    Txt,
    /// Anything else.
    Bin,
}

/// Every media type with its extension and registered type (IANA media types).
const TABLE: [(Media, &str, &str); 16] = [
    (Media::Jpg, "jpg", "image/jpeg"),
    (Media::Png, "png", "image/png"),
    (Media::Webp, "webp", "image/webp"),
    (Media::Heic, "heic", "image/heic"),
    (Media::Avif, "avif", "image/avif"),
    (Media::Gif, "gif", "image/gif"),
    (Media::Tif, "tif", "image/tiff"),
    (Media::Dng, "dng", "image/x-adobe-dng"),
    (Media::Pdf, "pdf", "application/pdf"),
    (Media::Wav, "wav", "audio/wav"),
    (Media::Aac, "aac", "audio/aac"),
    (Media::Ogg, "ogg", "audio/ogg"),
    (Media::M4a, "m4a", "audio/mp4"),
    (Media::Mp4, "mp4", "video/mp4"),
    (Media::Txt, "txt", "text/plain"),
    (Media::Bin, "bin", "application/octet-stream"),
];

impl Media {
    /// All of them, in the order of the table.
    pub fn all() -> impl Iterator<Item = Self> {
        TABLE.iter().map(|row| row.0)
    }

    /// Extension without the dot.
    pub fn extension(self) -> &'static str {
        self.row().1
    }

    /// Media type as registered.
    pub fn mime(self) -> &'static str {
        self.row().2
    }

    /// The type that an extension stands for, in any case; other spellings of the same type count.
    pub fn from_extension(extension: &str) -> Option<Self> {
        let lower = extension.to_ascii_lowercase();
        let usual = match lower.as_str() {
            "jpeg" | "jpe" | "jfif" | "mpo" => "jpg",
            "heif" | "hif" => "heic",
            "tiff" => "tif",
            "wave" => "wav",
            "adts" => "aac",
            "oga" | "opus" => "ogg",
            "mov" | "m4v" | "3gp" => "mp4",
            "text" | "md" | "csv" => "txt",
            other => other,
        };
        TABLE.iter().find(|row| row.1 == usual).map(|row| row.0)
    }

    /// True for what shows a picture.
    pub fn is_picture(self) -> bool {
        matches!(
            self,
            Self::Jpg
                | Self::Png
                | Self::Webp
                | Self::Heic
                | Self::Avif
                | Self::Gif
                | Self::Tif
                | Self::Dng
        )
    }

    /// True for what can be listened to.
    pub fn is_sound(self) -> bool {
        matches!(self, Self::Wav | Self::Aac | Self::Ogg | Self::M4a)
    }

    /// True for the pictures that this library itself can decode.
    pub fn is_decodable(self) -> bool {
        matches!(self, Self::Jpg | Self::Png | Self::Webp)
    }

    fn row(self) -> &'static (Self, &'static str, &'static str) {
        const OTHER: (Media, &str, &str) = (Media::Bin, "bin", "application/octet-stream");
        TABLE.iter().find(|row| row.0 == self).unwrap_or(&OTHER)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_type_has_its_own_row_and_comes_back_from_its_extension() {
        let mut seen = std::collections::HashSet::new();
        for media in Media::all() {
            assert!(seen.insert(media.extension()), "{media:?} twice");
            assert_eq!(Media::from_extension(media.extension()), Some(media));
            assert_eq!(
                serde_json::to_value(media).unwrap(),
                serde_json::json!(media.extension())
            );
        }
        assert_eq!(Media::from_extension("JPEG"), Some(Media::Jpg));
        assert_eq!(Media::from_extension("exe"), None);
    }
}
