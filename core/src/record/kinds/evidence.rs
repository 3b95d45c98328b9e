//! Evidence: files and words taken down, and where they belong.

use serde::{Deserialize, Serialize};

use crate::record::{Digest, Seen};

/// A photograph.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PhotoTaken {
    /// SHA-256 of the file.
    pub file: Digest,
    /// Length in bytes.
    pub bytes: u64,
    /// Media type by content.
    pub media: String,
    /// File name as it came: data, never used as a name here.
    pub name: Option<String>,
    /// EXIF orientation 1 to 8.
    pub orientation: u8,
    /// Width and height of the stored pixels, before rotation.
    pub size: Option<(u64, u64)>,
    /// SHA-256 over the primary image's coded data, which survives stripping of metadata.
    pub picture: Option<Digest>,
    /// True, false, or absent where it cannot be told: does the file have its end?
    pub complete: Option<bool>,
    /// imported or taken.
    pub route: String,
    /// Maker and model as the file says.
    pub camera: Option<String>,
    /// Slip with the position that the file says.
    pub position: Option<Digest>,
    /// Oddities of its clocks and tags, stable codes.
    #[serde(default)]
    pub hints: Vec<String>,
    /// Walkaround it belongs to.
    pub walkaround: Option<Digest>,
    /// Stop where the person stood.
    pub stop: Option<String>,
}

/// What was measured of a recording, in whole numbers.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SoundKept {
    /// wav, adts or ogg.
    pub container: String,
    /// Length up to the last whole frame.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub milliseconds: Option<u64>,
    /// Samples a second.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<u32>,
    /// Bytes up to the end of the last whole frame, where the file ends inside one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub whole: Option<u64>,
    /// Loudest sample, in millionths of full scale; PCM only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub peak: Option<u32>,
    /// Root mean square, in millionths of full scale; PCM only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub level: Option<u32>,
    /// Samples at full scale, in millionths of all; PCM only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clipped: Option<u32>,
}

/// A sound recording.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct VoiceTaken {
    /// SHA-256 of the file.
    pub file: Digest,
    /// Length in bytes.
    pub bytes: u64,
    /// Media type by content.
    pub media: String,
    /// File name as it came.
    pub name: Option<String>,
    /// Walkaround it belongs to.
    pub walkaround: Option<Digest>,
    /// Stop where the person stood.
    pub stop: Option<String>,
    /// What was measured of the sound when it was taken in; absent where it could not be.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sound: Option<SoundKept>,
}

/// A log page, data plate, meter face or list; needs no zone.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PaperTaken {
    /// SHA-256 of the file.
    pub file: Digest,
    /// Length in bytes.
    pub bytes: u64,
    /// Media type by content.
    pub media: String,
    /// File name as it came.
    pub name: Option<String>,
    /// log_page, data_plate, registration, meter, list, other.
    pub paper: Option<String>,
    /// SHA-256 over the coded picture, as for photos.
    pub picture: Option<Digest>,
    /// EXIF orientation 1 to 8.
    pub orientation: u8,
    /// Does the file have its end?
    pub complete: Option<bool>,
    /// Walkaround it belongs to.
    pub walkaround: Option<Digest>,
}

/// What a paper says about a fact, compared by a person.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PaperChecked {
    /// registration, serial, engine_serial, propeller_serial, total_time, inspection, directive …
    pub about: String,
    /// agrees, differs or not_seen.
    pub result: String,
    /// What the paper says.
    pub says: Option<String>,
    /// The papers' entries.
    #[serde(default)]
    pub papers: Vec<Digest>,
}

/// A typed note.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Written {
    /// The words.
    pub text: String,
    /// Walkaround it belongs to.
    pub walkaround: Option<Digest>,
    /// Stop where the person stood.
    pub stop: Option<String>,
}

/// Text of a recording, made by a person or a recogniser.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct TranscriptAdded {
    /// The recording's entry.
    pub voice: Digest,
    /// The words.
    pub text: String,
    /// Engine, or "typed".
    pub engine: String,
    /// Its version.
    pub version: Option<String>,
    /// Language tag.
    pub language: Option<String>,
}

/// An entry said again in the right chain.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Restated {
    /// Digest of the line that is restated.
    pub source: Digest,
    /// Its kind.
    pub kind: String,
    /// When that was observed.
    pub seen: Seen,
    /// Its whole body.
    pub body: serde_json::Value,
}

/// What a file shows, besides where: reserved for the placing of overall views.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Meant {
    /// Key of the layout's overall view.
    pub view: String,
}

/// Evidence hung on a zone or a finding.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Placed {
    /// The capturing entry.
    pub what: Digest,
    /// Zone code.
    pub zone: Option<String>,
    /// Finding.
    pub finding: Option<Digest>,
    /// Overall view that this photo is.
    pub meant: Option<Meant>,
    /// Words for the place within the zone.
    pub part: Option<String>,
}

/// A file's bytes were taken away (a bystander's recording).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Removed {
    /// SHA-256 of the file that is gone.
    pub file: Digest,
    /// Why.
    pub why: String,
}
