//! What is shown of photos: previews at two sizes, cards masked, measures drawn, an older photo laid
//! on the newer one.
//!
//! One file carries them all, so there is a budget: worst findings first get the large size, and past
//! [`SMALL_BUDGET`] a photo is told in words with its digest instead. The limits are what keeps a
//! page of 500 photos under [`MOST`].

use std::collections::BTreeMap;

use image::codecs::jpeg::JpegEncoder;
use image::{ExtendedColorType, ImageEncoder, RgbImage};

use super::ask::{Ask, Cut};
use super::content::{Content, Photo};
use crate::notebook::Notebook;
use crate::photo::decode::at_most;
use crate::photo::marks::{Measured, ScaleMarks, to_pixels};
use crate::photo::{Limits, Marks, Progress, decode, lay};
use crate::record::Digest;

mod pixels;

use pixels::{mask, warped};

/// Longer side of a photo shown large, pixels.
pub const LARGE_SIDE: u32 = 960;
/// Longer side of a photo shown small.
pub const SMALL_SIDE: u32 = 320;
/// Most bytes of photos shown large, as they stand in the page.
pub const LARGE_BUDGET: usize = 8 << 20;
/// Most bytes of photos shown small.
pub const SMALL_BUDGET: usize = 10 << 20;
/// A page is never larger than this by its photos; text and drawings come on top.
pub const MOST: usize = LARGE_BUDGET + SMALL_BUDGET;
/// Photos of one finding that are laid on one another take a second: only for so many findings.
const MOST_LAID: usize = 24;
const QUALITY: u8 = 78;

/// A picture as it stands in the page.
#[derive(Debug, Clone, PartialEq)]
pub struct Jpeg {
    /// `data:image/jpeg;base64,…`
    pub address: String,
    /// Pixels.
    pub width: u32,
    /// Pixels.
    pub height: u32,
}

/// A line drawn over a photo.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawn {
    /// SVG path in pixels of the whole photo.
    pub path: String,
    /// A point to hang words on.
    pub at: (f64, f64),
}

/// A photo as shown.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Shown {
    /// The picture, in the size that it got.
    pub picture: Option<Jpeg>,
    /// Size of the whole photo, upright.
    pub full: (u32, u32),
    /// What was measured on it.
    pub drawn: Vec<Drawn>,
    /// A card was masked.
    pub masked: bool,
    /// Where the original lies, seen from the page.
    pub original: Option<String>,
    /// What is shown is a copy without the position, and what that proves.
    pub copy: Option<&'static str>,
    /// Why there is no picture.
    pub missing: Option<&'static str>,
}

/// An older photo and a newer one of the same place.
#[derive(Debug, Clone, PartialEq)]
pub struct Pair {
    /// Entry of the older.
    pub older: Digest,
    /// Entry of the newer.
    pub newer: Digest,
    /// The older one as it lies on the newer, with its lines.
    pub laid: Option<(Jpeg, Vec<Drawn>)>,
    /// Why it could not be laid.
    pub why: Option<String>,
}

/// Every picture of a report.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Album {
    shown: BTreeMap<Digest, Shown>,
    pairs: BTreeMap<String, Pair>,
}

impl Album {
    /// A photo.
    pub fn get(&self, entry: &Digest) -> Option<&Shown> {
        self.shown.get(entry)
    }

    /// The older and the newer photo of a finding (its id in hexadecimal) or an overall view (its key).
    pub fn pair(&self, of: &str) -> Option<&Pair> {
        self.pairs.get(of)
    }

    /// Bytes of all pictures as they stand in a page.
    pub fn bytes(&self) -> usize {
        let of = |jpeg: &Jpeg| jpeg.address.len();
        self.shown
            .values()
            .filter_map(|shown| shown.picture.as_ref())
            .map(of)
            .sum::<usize>()
            + self
                .pairs
                .values()
                .filter_map(|pair| pair.laid.as_ref())
                .map(|(jpeg, _)| of(jpeg))
                .sum::<usize>()
    }

    /// Reads the photos that a report shows. What cannot be read is said in its place.
    pub fn of(notebook: &Notebook, content: &Content, ask: &Ask) -> Self {
        let mut maker = Maker {
            notebook,
            ask,
            cards: cards(content),
            album: Album::default(),
            large: 0,
            small: 0,
        };
        match ask.cut {
            Cut::Sheet => maker.sheet(content),
            Cut::HandingOver => maker.views(content),
            Cut::Baseline => {
                maker.findings(content);
                maker.views(content);
                maker.papers(content);
            }
            Cut::Whole | Cut::Finding(_) | Cut::Review => {
                maker.findings(content);
                maker.papers(content);
            }
        }
        maker.album
    }
}

struct Maker<'a> {
    notebook: &'a Notebook,
    ask: &'a Ask,
    /// Cards marked on a photo for any finding: masked wherever the photo is shown.
    cards: BTreeMap<Digest, Vec<Marks>>,
    album: Album,
    large: usize,
    small: usize,
}

/// A decoded photo, made small and masked, with what is drawn on it.
struct Opened {
    rgb: RgbImage,
    shown: Shown,
}

impl Maker<'_> {
    fn sheet(&mut self, content: &Content) {
        let best: Vec<Photo> = content
            .open()
            .filter_map(|item| item.photos.last().cloned())
            .take(6)
            .collect();
        for photo in &best {
            self.one(photo, 480);
        }
    }

    fn findings(&mut self, content: &Content) {
        for (at, item) in content.findings.iter().enumerate() {
            let wanted = pair_of(&item.photos);
            let key = item.id.hex();
            if let Some((older, newer)) = wanted {
                self.pair(&key, older, newer, at < MOST_LAID);
            } else if let Some(only) = item.photos.last() {
                self.one(only, LARGE_SIDE);
            }
            let side = if matches!(self.ask.cut, Cut::Finding(_)) {
                LARGE_SIDE
            } else {
                SMALL_SIDE
            };
            for photo in &item.photos {
                self.one(photo, side);
            }
        }
    }

    fn views(&mut self, content: &Content) {
        for view in &content.views {
            match view.photos.as_slice() {
                [.., older, newer] => self.pair(&view.key, older, newer, true),
                [only] => self.one(only, LARGE_SIDE),
                [] => {}
            }
        }
    }

    fn papers(&mut self, content: &Content) {
        for paper in &content.papers {
            let photo = Photo {
                entry: paper.entry,
                file: paper.file,
                name: paper.name.clone(),
                date: paper.date.clone(),
                by: paper.by.clone(),
                hours: None,
                meter: None,
                cut_short: false,
                series: 0,
                measured: Vec::new(),
                marks: Vec::new(),
            };
            self.one(&photo, SMALL_SIDE);
        }
    }

    fn one(&mut self, photo: &Photo, side: u32) {
        if self.album.shown.contains_key(&photo.entry) {
            return;
        }
        let shown = match self.open(photo, side) {
            Ok(opened) => self.kept(opened, side),
            Err(missing) => *missing,
        };
        self.album.shown.insert(photo.entry, shown);
    }

    /// Encodes a photo in the largest size that the budget has left.
    fn kept(&mut self, opened: Opened, side: u32) -> Shown {
        let Opened { rgb, mut shown } = opened;
        let large = side > SMALL_SIDE && self.large < LARGE_BUDGET;
        if large {
            shown.picture = jpeg(&rgb);
            self.large += size_of(&shown);
            if self.large <= LARGE_BUDGET {
                return shown;
            }
            self.large -= size_of(&shown);
        }
        shown.picture = jpeg(&at_most(&rgb, SMALL_SIDE));
        if self.small + size_of(&shown) > SMALL_BUDGET {
            shown.picture = None;
            shown.missing = Some("Not shown here for its size; the original is in the record.");
        }
        self.small += size_of(&shown);
        shown
    }

    fn pair(&mut self, key: &str, older: &Photo, newer: &Photo, laying: bool) {
        let (first, second) = (self.open(older, LARGE_SIDE), self.open(newer, LARGE_SIDE));
        let mut pair = Pair {
            older: older.entry,
            newer: newer.entry,
            laid: None,
            why: None,
        };
        if let (Ok(a), Ok(b), true) = (&first, &second, laying) {
            match lay::lay(&a.rgb, &b.rgb, &Progress::default()) {
                Ok(laid) => match laid.homography {
                    Some(h) if laid.same_view => {
                        let over = warped(&a.rgb, &h, b.rgb.dimensions());
                        let carried = carried(a, b, older, &h);
                        pair.laid = over
                            .filter(|over| self.large + over.address.len() <= LARGE_BUDGET)
                            .map(|over| (over, carried));
                    }
                    _ => pair.why = laid.why,
                },
                Err(error) => pair.why = Some(error.what),
            }
        }
        if let Some((over, _)) = &pair.laid {
            self.large += over.address.len();
        }
        for (photo, opened) in [(older, first), (newer, second)] {
            if !self.album.shown.contains_key(&photo.entry) {
                let shown = match opened {
                    Ok(opened) => self.kept(opened, LARGE_SIDE),
                    Err(missing) => *missing,
                };
                self.album.shown.insert(photo.entry, shown);
            }
        }
        self.album.pairs.insert(key.to_owned(), pair);
    }

    fn open(&self, photo: &Photo, side: u32) -> Result<Opened, Box<Shown>> {
        let missing = |why: &'static str| {
            Box::new(Shown {
                missing: Some(why),
                ..Shown::default()
            })
        };
        let path = photo
            .file
            .map(|file| self.notebook.original(&file))
            .transpose()
            .map_err(|_| missing("The photo is here and could not be read."))?
            .flatten()
            .ok_or_else(|| missing("The photo is not here; its digest is in the record."))?;
        let parts = || {
            let name = path.file_name()?.to_string_lossy().into_owned();
            let within = path.parent()?.file_name()?.to_string_lossy().into_owned();
            Some((within, name))
        };
        let (within, name) = parts().unwrap_or_default();
        let copy = (within == "copies").then(|| crate::pack::receive::copy_words(&name));
        let original = self.ask.originals.as_ref().map(|folder| match copy {
            // Copies lie beside the folder of originals.
            Some(_) => {
                let beside = folder.trim_end_matches('/').rsplit_once('/');
                format!("{}/copies/{name}", beside.map_or(".", |(above, _)| above))
            }
            None => format!("{folder}/{within}/{name}"),
        });
        let files = self.notebook.world().files.as_ref();
        let cannot = || {
            Box::new(Shown {
                original: original.clone(),
                copy,
                ..*missing("This kind of file cannot be shown here; it is kept in the record.")
            })
        };
        let length = files.len(&path).map_err(|_| cannot())?;
        let mut source = files.open(&path).map_err(|_| cannot())?;
        let examined =
            crate::evidence::examine(source.as_mut(), length, "").map_err(|_| cannot())?;
        let decoded = decode::decode(
            source.as_mut(),
            &examined,
            Some(side),
            &Limits::default(),
            &Progress::default(),
        )
        .map_err(|_| cannot())?;
        let full = (decoded.full_width, decoded.full_height);
        let mut rgb = at_most(&decoded.rgb, side);
        let scale = f64::from(rgb.width()) / f64::from(full.0.max(1));
        let mut masked = false;
        for marks in self.cards.get(&photo.entry).into_iter().flatten() {
            if let ScaleMarks::Card(card) = &marks.scale
                && marks.picture == [full.0, full.1]
            {
                let corners = card.used.map(|corner| {
                    let [x, y] = to_pixels(corner);
                    [x * scale, y * scale]
                });
                mask(&mut rgb, &corners);
                masked = true;
            }
        }
        let drawn = photo
            .marks
            .iter()
            .filter(|marks| marks.picture == [full.0, full.1])
            .filter_map(|marks| drawn(&marks.line_px(), marks.quantity))
            .collect();
        Ok(Opened {
            rgb,
            shown: Shown {
                picture: None,
                full,
                drawn,
                masked,
                original,
                copy,
                missing: None,
            },
        })
    }
}

/// Marks on photos of all findings, by the photo's entry.
fn cards(content: &Content) -> BTreeMap<Digest, Vec<Marks>> {
    let mut cards: BTreeMap<Digest, Vec<Marks>> = BTreeMap::new();
    for photo in content.findings.iter().flat_map(|item| &item.photos) {
        cards
            .entry(photo.entry)
            .or_default()
            .extend(photo.marks.iter().cloned());
    }
    cards
}

/// The first and the last photo of the last series that was measured or photographed, where there
/// are two; those with marks are preferred, since growth can be drawn on them.
fn pair_of(photos: &[Photo]) -> Option<(&Photo, &Photo)> {
    let last = photos.last()?.series;
    let of_series: Vec<&Photo> = photos.iter().filter(|p| p.series == last).collect();
    let marked: Vec<&Photo> = of_series
        .iter()
        .copied()
        .filter(|photo| !photo.marks.is_empty())
        .collect();
    let best = if marked.len() > 1 { marked } else { of_series };
    match best.as_slice() {
        [older, .., newer] => Some((older, newer)),
        _ => match photos {
            [older, .., newer] => Some((older, newer)),
            _ => None,
        },
    }
}

fn size_of(shown: &Shown) -> usize {
    shown.picture.as_ref().map_or(0, |jpeg| jpeg.address.len())
}

fn jpeg(rgb: &RgbImage) -> Option<Jpeg> {
    let mut bytes = Vec::with_capacity(rgb.len() / 8);
    JpegEncoder::new_with_quality(&mut bytes, QUALITY)
        .write_image(
            rgb.as_raw(),
            rgb.width(),
            rgb.height(),
            ExtendedColorType::Rgb8,
        )
        .ok()?;
    Some(Jpeg {
        address: format!(
            "data:image/jpeg;base64,{}",
            data_encoding::BASE64.encode(&bytes)
        ),
        width: rgb.width(),
        height: rgb.height(),
    })
}

fn drawn(line: &[[f64; 2]], quantity: Measured) -> Option<Drawn> {
    let mut path = String::new();
    for (at, [x, y]) in line.iter().enumerate() {
        path.push_str(&format!("{}{x:.1} {y:.1}", if at == 0 { "M" } else { "L" }));
    }
    if quantity == Measured::Area {
        path.push('Z');
    }
    let last = line.last()?;
    Some(Drawn {
        path,
        at: (last[0], last[1]),
    })
}

/// The older photo's lines in pixels of the newer whole photo. `h` maps the small pictures.
fn carried(older: &Opened, newer: &Opened, photo: &Photo, h: &[[f64; 3]; 3]) -> Vec<Drawn> {
    let ratio =
        |opened: &Opened| f64::from(opened.rgb.width()) / f64::from(opened.shown.full.0.max(1));
    let (down, up) = (ratio(older), ratio(newer).max(1e-9));
    photo
        .marks
        .iter()
        .filter(|marks| marks.picture == [older.shown.full.0, older.shown.full.1])
        .filter_map(|marks| {
            let small: Vec<[f64; 2]> = marks
                .line_px()
                .iter()
                .map(|p| [p[0] * down, p[1] * down])
                .collect();
            let on_newer: Vec<[f64; 2]> = lay::carry(h, &small)
                .ok()?
                .into_iter()
                .map(|p| [p[0] / up, p[1] / up])
                .collect();
            drawn(&on_newer, marks.quantity)
        })
        .collect()
}
