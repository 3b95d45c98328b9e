//! Writes the EXIF part of a drawn picture: tags as in CIPA DC-008 (Exif 2.32), laid out as a
//! small little-endian TIFF file. Own code, since no crate in the workspace writes EXIF; the
//! reader that checks it is kamadak-exif, and exiftool where it is installed.

/// What the EXIF of a drawn picture says.
#[derive(Clone, Debug, Default)]
pub struct Exif {
    /// Maker of the camera; here always one that names itself as a demo.
    pub make: String,
    /// Model.
    pub model: String,
    /// Local time of the picture, `YYYY:MM:DD HH:MM:SS`; empty for none.
    pub taken: String,
    /// Offset of that time from UTC, such as `+02:00`; empty for none.
    pub offset: String,
    /// Fraction of a second, as digits; empty for none.
    pub subsec: String,
    /// Orientation 1 to 8; the pixels are stored so that the upright picture comes out.
    pub orientation: u16,
    /// Position, if it was recorded.
    pub gps: Option<Gps>,
}

/// A position.
#[derive(Clone, Debug)]
pub struct Gps {
    /// Degrees north (south negative).
    pub latitude: f64,
    /// Degrees east (west negative).
    pub longitude: f64,
    /// UTC of the fix, `YYYY:MM:DD HH:MM:SS`.
    pub utc: String,
}

impl Exif {
    /// The EXIF of a demo picture without position, upright.
    pub fn demo(model: &str, taken: &str, offset: &str, subsec: &str) -> Exif {
        Exif {
            make: "Witnessmark demo".into(),
            model: model.into(),
            taken: taken.into(),
            offset: offset.into(),
            subsec: subsec.into(),
            orientation: 1,
            gps: None,
        }
    }
}

#[derive(Clone)]
enum Value {
    Ascii(String),
    Undefined(Vec<u8>),
    Byte(Vec<u8>),
    Short(u16),
    Long(u32),
    Rational(Vec<(u32, u32)>),
}

impl Value {
    fn kind(&self) -> u16 {
        match self {
            Value::Byte(_) => 1,
            Value::Ascii(_) => 2,
            Value::Short(_) => 3,
            Value::Long(_) => 4,
            Value::Rational(_) => 5,
            Value::Undefined(_) => 7,
        }
    }

    fn count(&self) -> u32 {
        match self {
            Value::Ascii(s) => s.len() as u32 + 1,
            Value::Undefined(b) | Value::Byte(b) => b.len() as u32,
            Value::Short(_) | Value::Long(_) => 1,
            Value::Rational(r) => r.len() as u32,
        }
    }

    fn bytes(&self) -> Vec<u8> {
        match self {
            Value::Ascii(s) => s.bytes().chain([0]).collect(),
            Value::Undefined(b) | Value::Byte(b) => b.clone(),
            Value::Short(v) => v.to_le_bytes().to_vec(),
            Value::Long(v) => v.to_le_bytes().to_vec(),
            Value::Rational(r) => r
                .iter()
                .flat_map(|(n, d)| [n.to_le_bytes(), d.to_le_bytes()].concat())
                .collect(),
        }
    }
}

/// One directory at `start`: its entries (sorted by tag) and behind them what does not fit.
fn directory(start: usize, mut entries: Vec<(u16, Value)>) -> Vec<u8> {
    entries.sort_by_key(|(tag, _)| *tag);
    let mut head = (entries.len() as u16).to_le_bytes().to_vec();
    let mut tail = Vec::new();
    let behind = start + 2 + 12 * entries.len() + 4;
    for (tag, value) in &entries {
        head.extend(tag.to_le_bytes());
        head.extend(value.kind().to_le_bytes());
        head.extend(value.count().to_le_bytes());
        let mut bytes = value.bytes();
        if bytes.len() <= 4 {
            bytes.resize(4, 0);
            head.extend(bytes);
        } else {
            head.extend(((behind + tail.len()) as u32).to_le_bytes());
            if bytes.len() % 2 == 1 {
                bytes.push(0);
            }
            tail.extend(bytes);
        }
    }
    head.extend([0; 4]);
    head.extend(tail);
    head
}

fn degrees(v: f64) -> Value {
    let v = v.abs();
    let minutes = v.fract() * 60.0;
    Value::Rational(vec![
        (v.trunc() as u32, 1),
        (minutes.trunc() as u32, 1),
        ((minutes.fract() * 60.0 * 1000.0).round() as u32, 1000),
    ])
}

/// The payload of the APP1 segment: `Exif`, two zeros, and the TIFF part.
pub fn segment(exif: &Exif, width: u32, height: u32) -> Vec<u8> {
    let text = |s: &str| Value::Ascii(s.to_string());
    let mut main = vec![
        (
            0x010e,
            text("Drawn by a program for tests and the demo; not a photograph"),
        ),
        (0x010f, text(&exif.make)),
        (0x0110, text(&exif.model)),
        (0x0112, Value::Short(exif.orientation.clamp(1, 8))),
        (0x011a, Value::Rational(vec![(72, 1)])),
        (0x011b, Value::Rational(vec![(72, 1)])),
        (0x0128, Value::Short(2)),
        (
            0x0131,
            text("witnessmark-scenes: this picture is drawn, not photographed"),
        ),
        (0x0213, Value::Short(1)),
    ];
    let mut camera = vec![
        (0x829a, Value::Rational(vec![(1, 250)])),
        (0x829d, Value::Rational(vec![(18, 10)])),
        (0x8827, Value::Short(80)),
        (0x9000, Value::Undefined(b"0232".to_vec())),
        (0x9101, Value::Undefined(vec![1, 2, 3, 0])),
        (0x920a, Value::Rational(vec![(43, 10)])),
        (0xa000, Value::Undefined(b"0100".to_vec())),
        (0xa001, Value::Short(1)),
        (0xa002, Value::Long(width)),
        (0xa003, Value::Long(height)),
        (0xa405, Value::Short(26)),
    ];
    if !exif.taken.is_empty() {
        main.push((0x0132, text(&exif.taken)));
        camera.push((0x9003, text(&exif.taken)));
        camera.push((0x9004, text(&exif.taken)));
        if !exif.offset.is_empty() {
            for tag in [0x9010, 0x9011, 0x9012] {
                camera.push((tag, text(&exif.offset)));
            }
        }
        if !exif.subsec.is_empty() {
            for tag in [0x9290, 0x9291, 0x9292] {
                camera.push((tag, text(&exif.subsec)));
            }
        }
    }
    let place = exif.gps.as_ref().map(|gps| {
        let mut entries = vec![
            (0x0000, Value::Byte(vec![2, 3, 0, 0])),
            (0x0001, text(if gps.latitude < 0.0 { "S" } else { "N" })),
            (0x0002, degrees(gps.latitude)),
            (0x0003, text(if gps.longitude < 0.0 { "W" } else { "E" })),
            (0x0004, degrees(gps.longitude)),
        ];
        if let Some((date, time)) = gps.utc.split_once(' ') {
            let parts: Vec<(u32, u32)> = time
                .split(':')
                .map(|p| (p.parse().unwrap_or(0), 1))
                .collect();
            entries.push((0x0007, Value::Rational(parts)));
            entries.push((0x001d, text(date)));
        }
        entries
    });
    // The main directory's size does not depend on where it points, so it is laid out twice.
    let lay = |camera_at: u32, place_at: u32, main: Vec<(u16, Value)>| {
        let mut entries = main;
        entries.push((0x8769, Value::Long(camera_at)));
        if place.is_some() {
            entries.push((0x8825, Value::Long(place_at)));
        }
        directory(8, entries)
    };
    let camera_at = 8 + lay(0, 0, main.clone()).len();
    let camera = directory(camera_at, camera);
    let place_at = camera_at + camera.len();
    let main = lay(camera_at as u32, place_at as u32, main);
    let mut out = b"Exif\0\0II*\0\x08\0\0\0".to_vec();
    out.extend(main);
    out.extend(camera);
    if let Some(entries) = place {
        out.extend(directory(place_at, entries));
    }
    out
}
