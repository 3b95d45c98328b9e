//! The photographs of the demo: an invented high-wing four-seater of a flying club by the sea,
//! marked N0WM (no such mark can be given: United States marks never begin with a zero), seen in
//! five walkarounds over fourteen months by three people. Every picture is drawn when asked for.

mod airframe;
mod day;
mod livery;
mod model;
mod papers;
mod parts;
mod propeller;
mod solid;
mod story;
mod wheels;
mod whole;

pub use story::{Walk, shots, walks};

use crate::camera::Camera;
use crate::exif::Exif;
use crate::geometry::{Point, Shape};
use crate::jpeg::encode_jpeg;
use crate::light::{Light, Shadow};
use crate::random::Random;
use crate::scene::{Rendered, Scene};
use crate::truth::Truth;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Width and height of a demo photo.
pub const SIZE: [u32; 2] = [1600, 1200];

/// What differs from one photo of a place to the next.
#[derive(Clone, Copy, Debug)]
pub struct Stage {
    /// Which walkaround, from 0.
    pub walk: usize,
    /// How far off its usual place the card was laid down, in millimetres.
    pub slip: Point,
    /// How far it was turned, in radians.
    pub tilt: f64,
}

/// What a photo shows.
#[derive(Clone, Debug, PartialEq)]
pub enum Subject {
    /// Left main wheel fairing with a crack of this length in mm.
    Fairing(f64),
    /// Left brake with a weep of this radius in mm.
    Brake(f64),
    /// Propeller blade with a nick, dressed or not.
    Blade(bool),
    /// Door seal torn over this many mm.
    Seal(f64),
    /// Foot of the left strut, worst patch of this radius in mm.
    Strut(f64),
    /// Nose tyre with a crack of this length in mm.
    Tyre(f64),
    /// Elevator hinge: bolt turned by so many degrees, play in mm.
    Hinge(f64, f64),
    /// The whole aircraft from a direction (degrees from its left side, positive towards its tail).
    Whole(f64),
    /// Data plate.
    DataPlate,
    /// Log page with its first so many entries.
    LogPage(usize),
    /// Hour meter with a reading.
    Meter(String),
}

/// One photo of the demo, not yet drawn.
#[derive(Clone, Debug)]
pub struct Shot {
    /// Which walkaround, from 0 (see [`walks`]).
    pub walk: usize,
    /// Short name of the place, the same for all photos of it.
    pub key: &'static str,
    /// The place in plain words.
    pub place: &'static str,
    /// What a person would say of it.
    pub about: &'static str,
    /// Local time, `YYYY:MM:DD HH:MM:SS`.
    pub taken: String,
    /// What it shows.
    pub subject: Subject,
    /// Name of the file, as a phone gives it.
    pub file_name: String,
}

/// The marks that a person would make on the photo with a finger: near the truth, not on it.
#[derive(Clone, Debug, Default)]
pub struct Taps {
    /// Corners of the scale card, clockwise from its top left.
    pub card: Option<[Point; 4]>,
    /// Both ends of a crack, or of a length.
    pub ends: Vec<Point>,
    /// A tap in the middle of a stain.
    pub middle: Option<Point>,
}

/// A demo photo, drawn.
#[derive(Clone, Debug)]
pub struct DemoPhoto {
    /// What it is.
    pub shot: Shot,
    /// The file.
    pub jpeg: Vec<u8>,
    /// What is known about it.
    pub truth: Truth,
    /// Marks that a person would make.
    pub taps: Taps,
}

/// Draws every demo photo, in the order of the story, on all cores.
pub fn photos() -> Vec<DemoPhoto> {
    let shots = shots();
    let next = AtomicUsize::new(0);
    let done = Mutex::new(Vec::with_capacity(shots.len()));
    let cores = std::thread::available_parallelism().map_or(1, |n| n.get().min(8));
    std::thread::scope(|scope| {
        for _ in 0..cores {
            scope.spawn(|| {
                while let Some((i, shot)) = {
                    let i = next.fetch_add(1, Ordering::Relaxed);
                    shots.get(i).map(|s| (i, s))
                } {
                    let photo = shot.draw();
                    if let Ok(mut done) = done.lock() {
                        done.push((i, photo));
                    }
                }
            });
        }
    });
    let mut photos = done.into_inner().unwrap_or_default();
    photos.sort_by_key(|(i, _)| *i);
    photos.into_iter().map(|(_, photo)| photo).collect()
}

impl Shot {
    fn seed(&self) -> u64 {
        self.file_name.bytes().fold(0xcbf2_9ce4_8422_2325, |h, b| {
            (h ^ u64::from(b)).wrapping_mul(0x0100_0000_01b3)
        })
    }

    /// Draws the photo at this size, without making a file of it.
    pub fn render(&self, size: [u32; 2]) -> Rendered {
        let seed = self.seed();
        let mut random = Random::new(seed);
        let stage = Stage {
            walk: self.walk,
            slip: [random.range(-5.0, 5.0), random.range(-4.0, 4.0)],
            tilt: random.range(-0.07, 0.07),
        };
        // Scene, the middle of the view, its width in mm, and how much the view may lean.
        let (mut scene, target, across, lean): (Scene, Point, f64, f64) = match &self.subject {
            Subject::Whole(from) => return whole::overall(*from, self.walk, size, seed),
            Subject::Fairing(mm) => (wheels::fairing(&stage, *mm), [-10.0, 6.0], 268.0, 9.0),
            Subject::Brake(mm) => (wheels::brake(&stage, *mm), [-2.0, 8.0], 292.0, 8.0),
            Subject::Blade(dressed) => {
                (propeller::blade(&stage, *dressed), [14.0, 4.0], 300.0, 9.0)
            }
            Subject::Seal(mm) => (airframe::seal(&stage, *mm), [-26.0, 8.0], 252.0, 8.0),
            Subject::Strut(mm) => (airframe::strut(&stage, *mm), [6.0, 8.0], 286.0, 8.0),
            Subject::Tyre(mm) => (wheels::tyre(&stage, *mm), [4.0, -8.0], 320.0, 8.0),
            Subject::Hinge(turn, gap) => (
                airframe::hinge(&stage, *turn, *gap),
                [-14.0, -6.0],
                226.0,
                8.0,
            ),
            Subject::DataPlate => (papers::data_plate(&stage), [0.0, 0.0], 132.0, 9.0),
            Subject::LogPage(n) => {
                let entries = story::log_entries();
                let shown = &entries[..(*n).min(entries.len())];
                (papers::log_page(&stage, shown), [0.0, 2.0], 258.0, 12.0)
            }
            Subject::Meter(reading) => (papers::meter(&stage, reading), [0.0, 6.0], 168.0, 8.0),
        };
        scene.light = story::light(self.walk, target, across, &mut random);
        if matches!(self.subject, Subject::LogPage(_) | Subject::Meter(_)) {
            scene.light = indoors(target, across);
        }
        let distance = Camera::distance_for(size, across * random.range(0.96, 1.06));
        let mut camera = Camera::looking_at(
            size,
            [
                target[0] + random.range(-6.0, 6.0),
                target[1] + random.range(-4.0, 4.0),
            ],
            distance,
            lean * random.range(-1.0, 1.0),
            lean * random.range(-1.0, 1.0),
            random.range(-4.0, 4.0),
        );
        camera.bend = [random.range(-0.012, 0.008), 0.0];
        camera.sensor = story::sensor(self.walk);
        if matches!(self.subject, Subject::Blade(_) | Subject::Tyre(_)) {
            // A phone meters on the white card against a dark part.
            camera.sensor.exposure *= 0.6;
        }
        scene.render(&camera, seed)
    }

    /// Draws the photo and makes the file that a phone would.
    pub fn draw(&self) -> DemoPhoto {
        let rendered = self.render(SIZE);
        let walk = &walks()[self.walk.min(walks().len() - 1)];
        let mut random = Random::new(self.seed() ^ 0x7a95);
        let exif = Exif::demo(
            walk.phone,
            &self.taken,
            walk.offset,
            &format!("{:03}", random.below(1000)),
        );
        let taps = taps(&rendered.truth, &mut random);
        DemoPhoto {
            shot: self.clone(),
            jpeg: encode_jpeg(&rendered, &exif),
            truth: rendered.truth,
            taps,
        }
    }
}

/// A finger misses by a few pixels at the corners, and by less at the ends of a crack, where a
/// person looks closely (common practice, no source).
fn taps(truth: &Truth, random: &mut Random) -> Taps {
    let mut near = |p: Point, by: f64| {
        [p[0] + by * random.gauss(), p[1] + by * random.gauss()].map(|v| (v * 16.0).round() / 16.0)
    };
    let card = truth
        .cards
        .first()
        .map(|card| card.corners_px.map(|p| near(p, 2.5)));
    let path = truth
        .cracks
        .first()
        .map(|c| &c.polyline_px)
        .or_else(|| truth.lengths.first().map(|l| &l.path_px));
    let ends = match path.map(|p| (p.first().copied(), p.last().copied())) {
        Some((Some(a), Some(b))) => vec![near(a, 1.2), near(b, 1.2)],
        _ => Vec::new(),
    };
    let middle = truth.stains.first().map(|s| near(s.middle_px, 4.0));
    Taps { card, ends, middle }
}

/// Lamp light over a desk or in a cabin.
fn indoors(about: Point, across: f64) -> Light {
    Light {
        sun: [0.25, -0.5, 1.0],
        sun_colour: [0.80, 0.68, 0.52],
        sky_colour: [0.26, 0.25, 0.24],
        up: [0.0, -0.3, 1.0],
        shadows: vec![Shadow {
            shape: Shape::Half {
                at: [about[0] + 0.38 * across, about[1] + 0.25 * across],
                outward: [-0.75, -0.66],
            },
            soft: 0.09 * across,
            dark: 0.5,
        }],
        pool: (
            [about[0] - 0.15 * across, about[1] - 0.1 * across],
            0.75 * across,
            0.6,
        ),
    }
}
