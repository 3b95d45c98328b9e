//! Who took which photo when, and in what light.

use super::{Shot, Subject};
use crate::camera::Sensor;
use crate::geometry::{Point, Shape};
use crate::light::{Light, Shadow};
use crate::random::Random;

/// One walkaround of the story.
#[derive(Clone, Copy, Debug)]
pub struct Walk {
    /// Who: `owner`, `mechanic` or `buyer`.
    pub who: &'static str,
    /// Purpose, in the words of the program.
    pub purpose: &'static str,
    /// Date, `YYYY:MM:DD` as EXIF writes it.
    pub date: &'static str,
    /// Local time at its start, `HH:MM`.
    pub start: &'static str,
    /// Offset from UTC.
    pub offset: &'static str,
    /// Model that the EXIF names.
    pub phone: &'static str,
    /// Reading of the hour meter in tenths of an hour.
    pub tenths: u32,
}

/// The five walkarounds in the order of time.
pub fn walks() -> &'static [Walk; 5] {
    const WALKS: [Walk; 5] = [
        walk(
            "owner",
            "routine",
            "2025:03:15",
            "09:20",
            "+01:00",
            "Phone A",
            31_482,
        ),
        walk(
            "mechanic",
            "before maintenance",
            "2025:06:21",
            "14:05",
            "+02:00",
            "Phone B",
            31_697,
        ),
        walk(
            "owner",
            "preflight",
            "2025:10:04",
            "10:40",
            "+02:00",
            "Phone A",
            32_051,
        ),
        walk(
            "owner",
            "routine",
            "2026:02:14",
            "15:35",
            "+01:00",
            "Phone A",
            32_218,
        ),
        walk(
            "buyer",
            "prepurchase",
            "2026:05:09",
            "11:15",
            "+02:00",
            "Phone C",
            32_436,
        ),
    ];
    &WALKS
}

const fn walk(
    who: &'static str,
    purpose: &'static str,
    date: &'static str,
    start: &'static str,
    offset: &'static str,
    phone: &'static str,
    tenths: u32,
) -> Walk {
    Walk {
        who,
        purpose,
        date,
        start,
        offset,
        phone,
        tenths,
    }
}

const FAIRING: (&str, &str) = ("fairing-crack", "left main wheel fairing, lower aft screw");
const BRAKE: (&str, &str) = ("brake-weep", "left main brake");
const BLADE: (&str, &str) = ("propeller-nick", "propeller blade, leading edge");
const SEAL: (&str, &str) = ("door-seal", "left cabin door, lower seal");
const STRUT: (&str, &str) = ("strut-corrosion", "left wing strut, lower fitting");
const TYRE: (&str, &str) = ("nose-tyre", "nose tyre, left sidewall");
const HINGE: (&str, &str) = ("elevator-hinge", "elevator, right outer hinge");
const LEFT: (&str, &str) = ("whole-left-front", "whole aircraft from the left front");
const RIGHT: (&str, &str) = ("whole-right-rear", "whole aircraft from the right rear");
const PLATE: (&str, &str) = ("data-plate", "data plate");
const LOG: (&str, &str) = ("log-page", "airframe log");
const METER: (&str, &str) = ("hour-meter", "hour meter");

/// Every photo of the story, in the order of time.
pub fn shots() -> Vec<Shot> {
    use Subject::{
        Blade, Brake, DataPlate, Fairing, Hinge, LogPage, Meter, Seal, Strut, Tyre, Whole,
    };
    let reading = |walk: usize| Meter(format!("{:05}", walks()[walk].tenths));
    let plan: Vec<(usize, (&str, &str), Subject, &str)> = vec![
        (0, LEFT, Whole(-38.0), "left front, in the morning"),
        (0, METER, reading(0), "hour meter before the walk"),
        (
            0,
            BLADE,
            Blade(false),
            "nick in the leading edge, about a hand from the tip",
        ),
        (0, TYRE, Tyre(11.0), "small cracks in the sidewall"),
        (
            0,
            STRUT,
            Strut(7.0),
            "rust and white bloom at the lower edge of the fitting",
        ),
        (
            0,
            FAIRING,
            Fairing(14.0),
            "hairline from the lower aft screw",
        ),
        (1, LEFT, Whole(-36.0), "left front, before the hangar"),
        (
            1,
            FAIRING,
            Fairing(19.0),
            "crack has grown towards the stripe",
        ),
        (1, BRAKE, Brake(7.0), "damp below the fitting, red"),
        (1, BLADE, Blade(true), "nick dressed out and blended"),
        (1, SEAL, Seal(12.0), "seal torn, end hanging out"),
        (1, HINGE, Hinge(0.0, 0.2), "witness mark in line"),
        (1, LOG, LogPage(5), "log after the work"),
        (2, LEFT, Whole(-41.0), "left front, overcast"),
        (2, RIGHT, Whole(143.0), "right rear, overcast"),
        (2, FAIRING, Fairing(27.0), "crack longer again"),
        (2, BRAKE, Brake(10.5), "damp patch larger"),
        (2, STRUT, Strut(10.0), "bloom has spread"),
        (2, METER, reading(2), "hour meter before the flight"),
        (3, LEFT, Whole(-37.0), "left front, low winter sun"),
        (3, BRAKE, Brake(14.0), "damp patch larger, run downwards"),
        (3, TYRE, Tyre(16.0), "crack in the sidewall longer"),
        (3, SEAL, Seal(21.0), "seal torn further"),
        (4, LEFT, Whole(-39.0), "left front, at the viewing"),
        (4, RIGHT, Whole(140.0), "right rear, at the viewing"),
        (4, PLATE, DataPlate, "data plate"),
        (4, LOG, LogPage(8), "last page of the log"),
        (4, METER, reading(4), "hour meter at the viewing"),
        (4, FAIRING, Fairing(38.0), "crack from screw to stripe"),
        (4, BRAKE, Brake(18.0), "wet patch below the fitting"),
        (4, STRUT, Strut(14.0), "rust at the fitting of the strut"),
        (4, TYRE, Tyre(21.0), "sidewall cracks"),
        (
            4,
            HINGE,
            Hinge(14.0, 0.9),
            "witness mark broken, play in the hinge",
        ),
        (4, BLADE, Blade(true), "dressed place on the blade"),
    ];
    let mut minute = [0u32; 5];
    plan.into_iter()
        .map(|(walk, (key, place), subject, about)| {
            let w = &walks()[walk];
            minute[walk] += 2;
            let (h, m) = w.start.split_once(':').unwrap_or(("12", "00"));
            let start = h.parse::<u32>().unwrap_or(12) * 60 + m.parse::<u32>().unwrap_or(0);
            let now = start + minute[walk];
            let second = (17 * minute[walk]) % 60;
            let taken = format!("{} {:02}:{:02}:{second:02}", w.date, now / 60, now % 60);
            let stamp: String = taken.chars().filter(char::is_ascii_digit).collect();
            Shot {
                walk,
                key,
                place,
                about,
                file_name: format!("IMG_{}_{}.jpg", &stamp[..8], &stamp[8..]),
                taken,
                subject,
            }
        })
        .collect()
}

/// Entries of the invented log: date, hours, work.
pub(super) fn log_entries() -> Vec<[&'static str; 3]> {
    vec![
        ["2024-11-30", "3121.4", "OIL AND FILTER CHANGED"],
        ["2025-02-02", "3139.0", "BATTERY CHARGED, REFITTED"],
        ["2025-06-21", "3169.7", "PROP NICK DRESSED"],
        ["2025-06-21", "3169.7", "FAIRING CRACK: WATCH"],
        ["2025-06-22", "3169.7", "OIL 6 L, FILTER CUT, CLEAN"],
        ["2025-10-05", "3206.2", "BRAKE FLUID TOPPED UP"],
        ["2026-01-17", "3219.3", "PITOT COVER REPLACED"],
        ["2026-04-28", "3241.8", "OIL AND FILTER CHANGED"],
    ]
}

/// The light of a walkaround: low morning sun, a hangar lamp, overcast, low winter sun with the
/// shadow of a wing, high sun.
pub(super) fn light(walk: usize, about: Point, across: f64, random: &mut Random) -> Light {
    let (sun, sun_colour, sky_colour): ([f64; 3], [f32; 3], [f32; 3]) = match walk {
        0 => ([-0.8, -0.45, 0.75], [0.92, 0.82, 0.66], [0.24, 0.28, 0.36]),
        1 => ([0.35, -0.6, 0.9], [0.62, 0.58, 0.50], [0.26, 0.27, 0.28]),
        2 => ([-0.1, -0.7, 0.9], [0.20, 0.20, 0.20], [0.62, 0.64, 0.67]),
        3 => ([0.9, -0.4, 0.65], [0.98, 0.78, 0.54], [0.20, 0.25, 0.36]),
        _ => ([0.3, -0.85, 0.7], [0.92, 0.90, 0.84], [0.30, 0.34, 0.40]),
    };
    let mut light = Light {
        sun: [
            sun[0] + random.range(-0.12, 0.12),
            sun[1] + random.range(-0.12, 0.12),
            sun[2],
        ],
        sun_colour,
        sky_colour,
        up: [0.0, -1.0, 0.25],
        ..Light::default()
    };
    match walk {
        1 => {
            light.pool = (
                [about[0] - 0.1 * across, about[1] - 0.1 * across],
                0.8 * across,
                0.55,
            );
        }
        3 | 4 if random.chance(0.7) => {
            let side = if random.chance(0.5) { 1.0 } else { -1.0 };
            let dark = if walk == 3 { 0.7 } else { 0.55 };
            light.shadows.push(Shadow {
                shape: Shape::Half {
                    at: [about[0] + side * 0.33 * across, about[1]],
                    outward: [-side * 0.85, -0.53],
                },
                soft: 0.02 * across,
                dark,
            });
        }
        _ => {}
    }
    light
}

/// The three phones differ a little in colour, noise and sharpness.
pub(super) fn sensor(walk: usize) -> Sensor {
    let balance = match walk {
        1 => [1.03, 1.0, 0.95],
        2 => [0.98, 1.0, 1.04],
        3 => [1.02, 1.0, 0.98],
        4 => [1.0, 1.0, 1.02],
        _ => [1.0, 1.0, 1.0],
    };
    Sensor {
        blur: [0.6, 0.75, 0.65, 0.8, 0.55][walk.min(4)],
        noise: [1.2, 2.6, 1.6, 2.0, 1.0][walk.min(4)],
        exposure: [0.30, 0.27, 0.29, 0.26, 0.31][walk.min(4)],
        vignette: 0.14,
        balance,
        ..Sensor::default()
    }
}
