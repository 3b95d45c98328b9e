//! What every parser of outside bytes promises, one function a parser: run by the fuzz targets (nightly
//! Rust) and, over the corpora, random bytes and altered ones, by `core/tests/parsers.rs` (stable). Each
//! either reads or refuses, in bounded time and memory, and keeps its promise about what it read.
#![allow(dead_code, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::io::{Cursor, Read};
use std::sync::{Arc, OnceLock};

use witnessmark_core::condition::{Condition, Conditions, Event};
use witnessmark_core::evidence::{Examined, examine};
use witnessmark_core::history::growth::{Ask, growth as grow};
use witnessmark_core::layout::Layout;
use witnessmark_core::notebook::{HandedProof, Settled, check_manifest};
use witnessmark_core::pack::bag::{self, Rules};
use witnessmark_core::pack::exchange::names as meeting;
use witnessmark_core::pack::manifest::{self, Encoding, Version};
use witnessmark_core::pack::members::{self, Limits as PackLimits};
use witnessmark_core::pack::packer::{PackerSeal, Withheld};
use witnessmark_core::pack::verify::Proofs;
use witnessmark_core::pack::{names, strip};
use witnessmark_core::photo::{Limits, Progress, intake};
use witnessmark_core::record::Line;
use witnessmark_core::record::canonical as json;
use witnessmark_core::record::proof::code::ProofCode;
use witnessmark_core::record::proof::timestamp as stamp;
use witnessmark_core::record::slip::Slip;
use witnessmark_core::speech::{Utterance, Vocabulary, Words, audio as sound, hear};
use witnessmark_core::world::{Files, SystemFiles};

/// A parser's claim about bytes.
pub type Claim = fn(&[u8]);

/// Every parser by the name of its fuzz target and of its corpus.
pub const ALL: &[(&str, Claim)] = &[
    ("line", line),
    ("canonical", canonical),
    ("slip", slip),
    ("exif_block", exif_block),
    ("jpeg_segments", jpeg_segments),
    ("image_head", image_head),
    ("image_file", image_file),
    ("strip_jpeg", strip_jpeg),
    ("audio", audio),
    ("pack_names", pack_names),
    ("manifest", manifest_texts),
    ("zip_pack", zip_pack),
    ("layout", layout),
    ("timestamp", timestamp),
    ("growth_table", growth_table),
    ("draft_text", draft_text),
    ("proof_code", proof_code),
    ("withheld", withheld),
    ("packer_seal", packer_seal),
    ("proofs", proofs),
    ("handed_proof", handed_proof),
    ("notebook_toml", notebook_toml),
    ("exchange_names", exchange_names),
    ("condition", condition),
    ("event", event),
];

fn look(bytes: &[u8]) -> Examined {
    examine(&mut Cursor::new(bytes), bytes.len() as u64, "x.jpg")
        .expect("memory cannot fail to be read")
}

/// A line of a chain: read strictly; what is read is the same bytes again.
pub fn line(bytes: &[u8]) {
    if let Ok(line) = Line::parse(bytes) {
        assert_eq!(line.bytes, bytes);
        let _ = line.signature_holds();
        let _ = line.body_json();
    }
}

/// Canonical JSON: what is accepted is its own canonical form.
pub fn canonical(bytes: &[u8]) {
    let _ = json::parse(bytes);
    if let Ok(value) = json::parse_canonical(bytes) {
        assert_eq!(json::to_bytes(&value).ok().as_deref(), Some(bytes));
    }
}

/// A slip.
pub fn slip(bytes: &[u8]) {
    let _ = Slip::parse(bytes);
}

/// An EXIF block in a JPEG that is otherwise whole.
pub fn exif_block(block: &[u8]) {
    let block = &block[..block.len().min(65_000)];
    let mut file = vec![0xFF, 0xD8, 0xFF, 0xE1];
    file.extend((block.len() as u16 + 8).to_be_bytes());
    file.extend(b"Exif\0\0");
    file.extend(block);
    file.extend([0xFF, 0xD9]);
    look(&file);
}

/// Anything behind the start of a JPEG.
pub fn jpeg_segments(rest: &[u8]) {
    look(&[&[0xFF, 0xD8, 0xFF], rest].concat());
}

/// Any file at all: heads of pictures, HEIC boxes, sound.
pub fn image_head(bytes: &[u8]) {
    look(bytes);
}

/// The same with its pixels, within the memory that is set.
pub fn image_file(bytes: &[u8]) {
    let mut file = Cursor::new(bytes);
    let found = look(bytes);
    let limits = Limits {
        pixels: 4_000_000,
        memory: 16 << 20,
    };
    intake(&mut file, &found, &limits, &Progress::new()).expect("memory cannot fail to be read");
}

/// A photo without its metadata: a copy that shows the same picture, or none; never a position.
pub fn strip_jpeg(bytes: &[u8]) {
    if let Some((copy, extension)) = strip::copy(bytes) {
        assert!(strip::EXTENSIONS.contains(&extension) && copy.len() <= bytes.len());
        assert!(look(&copy).gps.is_none());
    }
    let Some(copy) = strip::jpeg(bytes) else {
        return;
    };
    assert!(copy.len() <= bytes.len());
    if let Some(picture) = look(bytes).picture {
        assert_eq!(look(&copy).picture, Some(picture));
    }
}

/// A recording, and what can be saved of one cut short.
pub fn audio(bytes: &[u8]) {
    let _ = sound::look(bytes);
    if let Some(saved) = sound::recovered(bytes) {
        assert!(saved.len() <= bytes.len() + 64);
    }
}

/// A member's name: one that is accepted stays below the notebook, however it is spelt.
pub fn pack_names(bytes: &[u8]) {
    for name in String::from_utf8_lossy(bytes).lines() {
        if names::unsafe_path(name).is_none() && names::unfit_for_pack(name).is_none() {
            let path = std::path::Path::new(name);
            let plain = |part| matches!(part, std::path::Component::Normal(_));
            assert!(path.components().all(plain) && name.is_ascii(), "{name:?}");
        }
        let _ = names::folded(name);
    }
}

/// The texts of a bag: declaration, information, manifests, fetch list.
pub fn manifest_texts(bytes: &[u8]) {
    let _ = manifest::declaration(bytes);
    for encoding in [Encoding::Utf8, Encoding::Latin1, Encoding::Utf16] {
        let Ok(text) = encoding.decode(bytes) else {
            continue;
        };
        let _ = manifest::bag_info(&text, Version::ONE);
        let _ = manifest::fetch(&text);
        for listed in manifest::manifest(&text, 64).unwrap_or_default() {
            if names::unsafe_path(&listed.path).is_none() {
                assert!(!listed.path.split('/').any(|part| part == ".."));
            }
        }
    }
}

/// A pack in a zip: opened and read, or refused; never more bytes than the file has.
pub fn zip_pack(bytes: &[u8]) {
    let file = tempfile::NamedTempFile::new().expect("a file");
    std::fs::write(file.path(), bytes).expect("written");
    let files: Arc<dyn Files> = Arc::new(SystemFiles);
    let limits = PackLimits::default();
    if let Ok(pack) = members::open(&files, file.path(), &limits) {
        let total: u64 = pack.list().iter().map(|member| member.len).sum();
        assert!(total <= bytes.len() as u64);
        for member in pack.list() {
            if let Ok(mut source) = pack.open(&member.name) {
                let mut buffer = vec![0; 64 << 10];
                while source.read(&mut buffer).is_ok_and(|read| read > 0) {}
            }
        }
        let _ = bag::check(pack.as_ref(), Rules::Pack, &limits);
    }
}

/// A layout file of a user.
pub fn layout(bytes: &[u8]) {
    let _ = Layout::parse(&String::from_utf8_lossy(bytes));
}

/// A reply of a time-stamping authority, and a query.
pub fn timestamp(bytes: &[u8]) {
    let _ = stamp::Reply::parse(bytes);
    let _ = stamp::nonce_of(bytes);
}

/// A series from paper records as CSV, and all that is read off it.
pub fn growth_table(bytes: &[u8]) {
    let ask = Ask {
        limit: Some("60".to_owned()),
        ..Ask::default()
    };
    if let Ok(shown) = grow(bytes, &ask) {
        assert_eq!(shown.window.is_none(), shown.no_window_because.is_some());
        assert!(!shown.to_text().is_empty());
    }
}

/// Words to a draft; and what a filled sheet says.
pub fn draft_text(bytes: &[u8]) {
    static VOCABULARY: OnceLock<Vocabulary> = OnceLock::new();
    let vocabulary = VOCABULARY.get_or_init(|| {
        let layout = Layout::built_in("high_wing_strutted_fixed").expect("built in");
        Vocabulary::new(
            layout,
            Conditions::built_in(),
            Words::built_in("en").expect("built in"),
        )
    });
    let text = String::from_utf8_lossy(bytes);
    let (text, other) = text.split_once('\n').unwrap_or((&text, ""));
    let said = Utterance {
        text: text.to_owned(),
        alternatives: other.lines().take(3).map(str::to_owned).collect(),
        stop: None,
    };
    if let Ok(draft) = hear(vocabulary, &said) {
        for item in &draft.items {
            for measure in &item.measures {
                assert!(measure.from[0] <= measure.from[1]);
                assert!(measure.from[1] <= text.chars().count());
            }
        }
    }
    let _ = Settled::parse(text);
}

/// A proof code as typed: what is read is shown the same.
pub fn proof_code(bytes: &[u8]) {
    if let Ok(code) = ProofCode::parse(&String::from_utf8_lossy(bytes)) {
        assert_eq!(ProofCode::parse(&code.to_string()).ok(), Some(code));
    }
}

/// `data/withheld.json` of a pack, as receiving reads it: what is read is written the same.
pub fn withheld(bytes: &[u8]) {
    if let Ok(read) = serde_json::from_slice::<Withheld>(bytes) {
        let written = json::to_bytes(&read).expect("writes");
        assert_eq!(
            serde_json::from_slice::<Withheld>(&written).ok(),
            Some(read)
        );
    }
}

/// `packer.json`: canonical, or refused.
pub fn packer_seal(bytes: &[u8]) {
    if let Ok(value) = json::parse_canonical(bytes)
        && let Ok(seal) = serde_json::from_value::<PackerSeal>(value)
    {
        assert_eq!(json::to_bytes(&seal).ok().as_deref(), Some(bytes));
    }
}

/// Inclusion proofs that come with a part of a chain.
pub fn proofs(bytes: &[u8]) {
    if let Ok(read) = serde_json::from_slice::<Proofs>(bytes) {
        let written = json::to_bytes(&read).expect("writes");
        assert_eq!(serde_json::from_slice::<Proofs>(&written).ok(), Some(read));
    }
}

/// A proof in a file of its own: whatever is taken for one holds.
pub fn handed_proof(bytes: &[u8]) {
    match HandedProof::read(bytes) {
        Ok(HandedProof::Line(proof)) => proof.check(&proof.text).expect("holds"),
        Ok(HandedProof::Finishes(proof)) => proof.check().expect("holds"),
        Err(_) => {}
    }
}

/// `notebook.toml`.
pub fn notebook_toml(bytes: &[u8]) {
    let _ = check_manifest(bytes);
}

/// Names of a meeting place: one that is taken for ours stays below it, and comes back the same.
pub fn exchange_names(bytes: &[u8]) {
    for name in String::from_utf8_lossy(bytes).lines() {
        let Some(held) = meeting::read(name) else {
            continue;
        };
        assert!(names::unfit_for_pack(name).is_none());
        let again = match &held {
            meeting::Held::Segment(segment) => segment.name(),
            meeting::Held::Proofs(author, aircraft, digest) => {
                meeting::proofs(author, aircraft, digest)
            }
            meeting::Held::Slip(digest) => meeting::slip(digest),
            meeting::Held::Original(digest) => {
                let file = name.rsplit('/').next().unwrap_or_default();
                meeting::original(digest, file.split_once('.').map_or("", |(_, end)| end))
            }
        };
        assert_eq!(meeting::read(&again), Some(held), "{name:?}");
    }
}

/// A condition file of a user, or one that came with a pack.
pub fn condition(bytes: &[u8]) {
    let _ = Condition::parse(&String::from_utf8_lossy(bytes));
}

/// An event file, likewise.
pub fn event(bytes: &[u8]) {
    let _ = Event::parse(&String::from_utf8_lossy(bytes));
}
