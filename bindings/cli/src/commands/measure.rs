//! `measure`: lengths, cracks and stains on a photo. Needs a notebook only to write down or to repeat.

use std::io::Cursor;
use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use image::{ImageFormat, RgbImage};
use serde_json::{Value, json};
use witnessmark_core::notebook::{OpenedPhoto, Place, RepeatedMeasure, compared};
use witnessmark_core::photo::work::{Made, Repeated};
use witnessmark_core::photo::{Measurement, Options, Progress, ScaleTaps, Shown, on_photo, repeat};
use witnessmark_core::quantity::{Rational, Unit};
use witnessmark_core::record::kinds::Measure;
use witnessmark_core::world::Access;
use witnessmark_core::{Error, ErrorKind, Result};

use super::lay::format_of;
use crate::output::Output;
use crate::real::Session;

/// `measure`
#[derive(Subcommand)]
pub enum MeasureCommand {
    /// Length of a path of taps.
    Length {
        /// Photo: a file, or its entry in the notebook.
        photo: String,
        /// The path: "x,y x,y …", pixels of the upright photo.
        #[arg(long, value_name = "POINTS", allow_hyphen_values = true)]
        path: String,
        #[command(flatten)]
        how: How,
    },
    /// Follow a crack between two taps, its ends; further taps lie on it between them.
    Trace {
        /// Photo: a file, or its entry in the notebook.
        photo: String,
        /// x,y
        #[arg(
            long = "tap",
            value_name = "X,Y",
            required = true,
            allow_hyphen_values = true
        )]
        taps: Vec<String>,
        #[command(flatten)]
        how: How,
    },
    /// Fill a stain from one tap to its edge; or take the edge as drawn by hand.
    Outline {
        /// Photo: a file, or its entry in the notebook.
        photo: String,
        /// x,y within the stain.
        #[arg(
            long,
            value_name = "X,Y",
            required_unless_present = "edge",
            allow_hyphen_values = true
        )]
        tap: Option<String>,
        /// The edge drawn or corrected by hand: "x,y x,y …".
        #[arg(
            long,
            value_name = "POINTS",
            conflicts_with = "tap",
            allow_hyphen_values = true
        )]
        edge: Option<String>,
        #[command(flatten)]
        how: How,
    },
    /// Repeat a stored measure from its marks and its photo, to the printed digits.
    Repeat {
        /// The sighting that it was written with: first digits of its entry; or a file that `measure
        /// … --json` printed.
        measure: String,
        /// The original photo, for a file.
        #[arg(long)]
        photo: Option<PathBuf>,
    },
    /// Draw two stored measures of one place in one frame, the growth with them.
    Compare {
        /// The older sighting: first digits of its entry.
        older: String,
        /// The newer one.
        newer: String,
        /// Write the picture here, .png or .jpg.
        #[arg(long, value_name = "FILE")]
        out: PathBuf,
    },
}

/// Scale, and what to do with the result.
#[derive(Args)]
pub struct How {
    /// Four corners of a plain card of the ID-1 size (85.60 x 53.98 mm), clockwise from its top left:
    /// "x,y x,y x,y x,y". Never a payment or identity card.
    #[arg(
        long,
        value_name = "POINTS",
        group = "scale",
        allow_hyphen_values = true
    )]
    card: Option<String>,
    /// Four marks of the printed scale sheet.
    #[arg(
        long,
        value_name = "POINTS",
        group = "scale",
        allow_hyphen_values = true
    )]
    sheet: Option<String>,
    /// What the sheet's 100 mm check bar measures: "99.5 mm".
    #[arg(long, value_name = "LENGTH", requires = "sheet")]
    bar: Option<String>,
    /// Two points of a ruler: "x,y x,y".
    #[arg(
        long,
        value_name = "POINTS",
        group = "scale",
        requires = "ruler_length",
        allow_hyphen_values = true
    )]
    ruler: Option<String>,
    /// Distance between them: "100 mm", "4 in".
    #[arg(long, value_name = "LENGTH", requires = "ruler")]
    ruler_length: Option<String>,
    /// Take the corners as given, without looking for the card's edges.
    #[arg(long)]
    as_given: bool,
    /// Write the result down as a sighting of this finding, with its marks.
    #[arg(long, requires = "scale")]
    finding: Option<String>,
    /// With --finding: which card or print it was, by your own name for it: its error is then not counted
    /// twice between two photos that have it.
    #[arg(long, requires = "finding", value_name = "NAME")]
    scale_item: Option<String>,
    /// With --finding: the photo is an older one, recognised now; the sighting gets the photo's date.
    #[arg(long, requires = "finding")]
    late: bool,
    /// Write a copy of the photo here, .png or .jpg, with the marks, a scale bar, the card masked.
    #[arg(long, value_name = "FILE", requires = "scale")]
    out: Option<PathBuf>,
}

impl How {
    fn scale(&self) -> Result<Option<ScaleTaps>> {
        if let Some(text) = &self.card {
            return Ok(Some(ScaleTaps::Card(exactly(text, "--card")?)));
        }
        if let Some(text) = &self.sheet {
            let bar_mm = self.bar.as_deref().map(|t| in_mm(t, "--bar")).transpose()?;
            let taps = exactly(text, "--sheet")?;
            return Ok(Some(ScaleTaps::Sheet { taps, bar_mm }));
        }
        let (Some(text), Some(length)) = (&self.ruler, &self.ruler_length) else {
            return Ok(None);
        };
        Ok(Some(ScaleTaps::Ruler {
            ends: exactly(text, "--ruler")?,
            length_mm: in_mm(length, "--ruler-length")?,
        }))
    }
}

fn points(text: &str, option: &str) -> Result<Vec<[f64; 2]>> {
    let bad = |what: String| {
        Error::new(ErrorKind::BadValue, what)
            .at(option)
            .hint("write points as \"x,y x,y\": pixels of the upright photo, decimals with a point")
    };
    text.split([' ', ';', '\n', '\t'])
        .filter(|word| !word.is_empty())
        .map(|word| {
            let pair = word.split_once(',').and_then(|(x, y)| {
                let (x, y): (f64, f64) = (x.parse().ok()?, y.parse().ok()?);
                (x.is_finite() && y.is_finite()).then_some([x, y])
            });
            pair.ok_or_else(|| bad(format!("\"{word}\" is not a point")))
        })
        .collect()
}

fn exactly<const N: usize>(text: &str, option: &str) -> Result<[[f64; 2]; N]> {
    <[[f64; 2]; N]>::try_from(points(text, option)?).map_err(|list| {
        Error::new(
            ErrorKind::BadValue,
            format!("{N} points are needed, {} were given", list.len()),
        )
        .at(option)
        .hint("give each once: \"x,y x,y\"")
    })
}

fn in_mm(text: &str, option: &str) -> Result<f64> {
    let (value, unit) = text.trim().rsplit_once(' ').ok_or_else(|| {
        Error::new(ErrorKind::BadValue, "a length needs a number and a unit")
            .at(option)
            .hint("write it as \"100 mm\"")
    })?;
    let value: Rational = value.parse().map_err(|error: Error| error.at(option))?;
    let unit: Unit = unit.parse().map_err(|error: Error| error.at(option))?;
    Ok(unit
        .convert(&value, Unit::Millimetre)
        .map_err(|error| error.at(option))?
        .to_f64())
}

/// Runs it.
pub fn run(session: &Session, command: &MeasureCommand, out: &Output) -> Result<u8> {
    let (photo, shown, how) = match command {
        MeasureCommand::Length { photo, path, how } => {
            if how.card.is_none() && how.sheet.is_none() && how.ruler.is_none() {
                return Err(Error::new(ErrorKind::BadValue, "a length needs a scale")
                    .at("--card")
                    .hint("give --card, --sheet, or --ruler with --ruler-length"));
            }
            (photo, Shown::Path(points(path, "--path")?), how)
        }
        MeasureCommand::Trace { photo, taps, how } => {
            let mut all = Vec::new();
            for tap in taps {
                all.extend(points(tap, "--tap")?);
            }
            (photo, Shown::Crack(all), how)
        }
        MeasureCommand::Outline {
            photo,
            tap,
            edge,
            how,
        } => {
            let shown = match (tap, edge) {
                (Some(tap), _) => {
                    let [tap] = exactly(tap, "--tap")?;
                    Shown::Stain(tap)
                }
                (None, edge) => Shown::Edge(points(edge.as_deref().unwrap_or_default(), "--edge")?),
            };
            (photo, shown, how)
        }
        MeasureCommand::Repeat { measure, photo } => {
            return again(session, measure, photo.as_deref(), out);
        }
        MeasureCommand::Compare {
            older,
            newer,
            out: file,
        } => return compare(session, [older, newer], file, out),
    };
    let scale = how.scale()?;
    let picture = match &how.out {
        Some(file) => Some((file, format_of(file)?)),
        None => None,
    };
    let path = path_of(session, photo)?;
    let progress = Progress::new();
    let opened = OpenedPhoto::open(&session.world()?, &path, &progress)?;
    let options = Options {
        snap: !how.as_given,
        ..Options::default()
    };
    let rgb = &opened.decoded.rgb;
    let (drawn, measured) = on_photo(rgb, &shown, scale.as_ref(), &options, &progress)?;
    if let (Some((file, format)), Some(measured)) = (&picture, &measured) {
        keep_picture(
            session,
            &opened.annotated(measured, &progress)?,
            file,
            *format,
        )?;
    }
    let mut entry = None;
    if let (Some(finding), Some(measured)) = (&how.finding, &measured) {
        let mut notebook = session.open()?;
        let aircraft = session.the_aircraft(&notebook)?;
        let state = notebook.state(&aircraft)?;
        let known = notebook.finding(&state, finding)?;
        let (id, zone) = (known.id, known.zone.clone());
        let place = Place {
            aircraft: Some(aircraft),
            zone: Some(zone),
            finding: Some(id),
            ..Place::default()
        };
        let taken = notebook.photo_of(&path, &opened.file, &place)?;
        entry = Some(notebook.sight_measured(
            &aircraft,
            &id,
            measured,
            &taken,
            how.late,
            how.scale_item.as_deref(),
        )?);
        notebook.close()?;
    }
    let mut shown = as_json(&drawn.made, measured.as_ref())?;
    let mut text = as_text(&drawn.made, measured.as_ref());
    if opened.decoded.partial {
        let said = "the file is cut short or damaged; what could not be read is grey";
        out.note(said);
        if let Some(Value::Array(list)) = shown.get_mut("warnings") {
            list.push(said.into());
        }
    }
    if let (Some(entry), Some(object)) = (entry, shown.as_object_mut()) {
        object.insert("entry".into(), json!(entry));
        text.push_str(&format!("\nWritten with its marks: {}", entry.short()));
    }
    out.show(&shown, || text)
}

/// A file, or else the entry of a photo in the notebook.
fn path_of(session: &Session, photo: &str) -> Result<PathBuf> {
    let path = PathBuf::from(photo);
    let digits = photo.len() >= 5 && photo.bytes().all(|b| b.is_ascii_hexdigit());
    if !digits || session.world()?.files.has(&path)? {
        return Ok(path);
    }
    match session.read() {
        Ok(notebook) => notebook.photo_path(photo),
        Err(_) => Ok(path),
    }
}

fn compare(session: &Session, pair: [&String; 2], file: &Path, out: &Output) -> Result<u8> {
    let format = format_of(file)?;
    let progress = Progress::new();
    let notebook = session.read()?;
    let [older, newer] = pair.map(|text| notebook.marked_photo(text, &progress));
    let (older, newer) = (older?, newer?);
    let found = compared(&older, &newer, &progress)?;
    let row = |m: &Measurement| json!({"value": m.value, "unit": m.unit(), "u": m.u});
    let mut shown = json!({
        "same_view": found.picture.is_some(),
        "older": row(&older.measured), "newer": row(&newer.measured),
    });
    let Some(picture) = found.picture else {
        let why = found.laid.why.unwrap_or_default();
        if let Some(object) = shown.as_object_mut() {
            object.insert("why".into(), json!(why));
        }
        return out.show(&shown, || format!("not the same view: {why}"));
    };
    keep_picture(session, &picture, file, format)?;
    if let Some(object) = shown.as_object_mut() {
        object.insert("quality".into(), json!(found.laid.quality));
        object.insert("file".into(), json!(file.display().to_string()));
    }
    out.show(&shown, || {
        format!(
            "older: {}\nnewer: {}\n{} shows both; look at it before you carry anything over.",
            older.measured.to_text(),
            newer.measured.to_text(),
            file.display()
        )
    })
}

fn keep_picture(
    session: &Session,
    picture: &RgbImage,
    file: &Path,
    format: ImageFormat,
) -> Result<()> {
    let mut bytes = Cursor::new(Vec::new());
    picture
        .write_to(&mut bytes, format)
        .map_err(|error| Error::new(ErrorKind::Io, error.to_string()))?;
    session
        .world()?
        .files
        .replace(file, bytes.get_ref(), Access::Usual)
        .map_err(|error| Error::io(&error, file.display()))
}

fn rounded(v: f64, places: i32) -> f64 {
    let by = 10f64.powi(places);
    (v * by).round() / by
}

fn line(points: &[[f64; 2]]) -> Value {
    points
        .iter()
        .map(|p| json!([rounded(p[0], 2), rounded(p[1], 2)]))
        .collect()
}

fn as_json(made: &Made, measured: Option<&Measurement>) -> Result<Value> {
    let all = match measured {
        Some(m) => serde_json::to_value(m)
            .map_err(|error| Error::new(ErrorKind::BadValue, error.to_string()))?,
        None => json!({}),
    };
    let mut shown = match made {
        Made::Drawn => return Ok(all),
        Made::Traced(t) => json!({
            "polyline": line(&t.polyline), "length_px": rounded(t.length_px, 1),
            "u_px": rounded(t.u_px, 2), "sure": t.sure, "warnings": [],
        }),
        Made::Outlined(o) => json!({
            "polygon": line(&o.polygon), "area_px": rounded(o.area_px, 1),
            "u_px": rounded(o.u_px, 1), "sure": o.sure, "warnings": o.warnings,
        }),
    };
    if let (Some(into), Value::Object(all)) = (shown.as_object_mut(), all) {
        into.extend(all);
    }
    Ok(shown)
}

fn as_text(made: &Made, measured: Option<&Measurement>) -> String {
    let in_px = match made {
        Made::Drawn => None,
        Made::Traced(t) => Some((
            format!("{:.1} ± {:.1} pixels (k = 2)", t.length_px, 2.0 * t.u_px),
            t.sure,
            &[][..],
        )),
        Made::Outlined(o) => Some((
            format!("{:.0} ± {:.0} pixels² (k = 2)", o.area_px, 2.0 * o.u_px),
            o.sure,
            o.warnings.as_slice(),
        )),
    };
    let mut text = measured.map_or_else(String::new, Measurement::to_text);
    if let Some((px, sure, warnings)) = in_px {
        let said = format!("{px}; how sure: {}", sure.word());
        if text.is_empty() {
            text = said;
            for warning in warnings {
                text.push_str("\n  ");
                text.push_str(warning);
            }
        } else {
            text = format!("{text}\n  in the picture {said}");
        }
    }
    text
}

fn again(session: &Session, measure: &str, photo: Option<&Path>, out: &Output) -> Result<u8> {
    let progress = Progress::new();
    let world = session.world()?;
    let file = PathBuf::from(measure);
    let list = if world.files.has(&file)? {
        vec![from_file(session, &file, photo, &progress)?]
    } else {
        if let Some(photo) = photo {
            return Err(Error::new(
                ErrorKind::BadValue,
                "a measure of the notebook knows its photo",
            )
            .at(photo.display())
            .hint("leave --photo out"));
        }
        session.read()?.repeat_measures(measure, &progress)?
    };
    let good = list.iter().all(RepeatedMeasure::marks_agree);
    let shown = json!({"measures": list.iter().map(row).collect::<Vec<_>>()});
    let status = out.show(&shown, || {
        list.iter().map(said).collect::<Vec<_>>().join("\n")
    })?;
    // Stored marks that do not give what was written with them: the record contradicts itself.
    Ok(if good { status } else { 1 })
}

/// A result that was printed as JSON and kept.
fn from_file(
    session: &Session,
    file: &Path,
    photo: Option<&Path>,
    progress: &Progress,
) -> Result<RepeatedMeasure> {
    let bad = |what: String| {
        Error::new(ErrorKind::BadFormat, what)
            .at(file.display())
            .hint("give what `measure … --json` printed with a scale")
    };
    let world = session.world()?;
    let failed = |error: std::io::Error| Error::io(&error, file.display());
    let mut text = String::new();
    let mut source = world.files.open(file).map_err(failed)?;
    std::io::Read::read_to_string(&mut source, &mut text).map_err(failed)?;
    let kept: Value = serde_json::from_str(&text).map_err(|error| bad(error.to_string()))?;
    let marks = kept
        .get("marks")
        .cloned()
        .ok_or_else(|| bad("there are no marks in it".into()))?;
    let marks = serde_json::from_value(marks).map_err(|error| bad(error.to_string()))?;
    let opened = photo
        .map(|path| OpenedPhoto::open(&world, path, progress))
        .transpose()?;
    let rgb = opened.as_ref().map(|opened| &opened.decoded.rgb);
    let repeated = repeat(&marks, rgb, progress)?;
    // Numbers in JSON lose their closing zeros: they are compared with as many decimals as now.
    let d = repeated.from_marks.decimals;
    let digits = |name: &str| {
        kept.get(name)
            .and_then(Value::as_f64)
            .map(|v| format!("{v:.d$}"))
            .ok_or_else(|| bad(format!("it has no {name}")))
    };
    let mut written = Measure::on_photo(&repeated.from_marks, None)?;
    written.value = digits("value")?;
    written.u = Some(digits("u")?);
    Ok(RepeatedMeasure { written, repeated })
}

fn number(text: &str) -> Value {
    text.parse::<f64>().map_or(Value::Null, |v| json!(v))
}

fn row(of: &RepeatedMeasure) -> Value {
    let Repeated {
        from_marks,
        from_photo,
    } = &of.repeated;
    let written = &of.written;
    let finite = |v: f64| if v.is_finite() { json!(v) } else { Value::Null };
    json!({
        "quantity": written.quantity, "unit": written.unit, "method": from_marks.method(),
        "written": {"value": number(&written.value), "u": written.u.as_deref().map(number)},
        "from_marks": {"value": from_marks.value, "u": from_marks.u},
        "from_photo": from_photo.as_ref().map(|p| json!({
            "value": p.measurement.value, "u": p.measurement.u,
            "corners_moved_px": p.corners_moved, "line_moved_px": finite(p.line_moved),
        })),
        "same": of.marks_agree() && of.photo_agrees() != Some(false),
    })
}

fn said(of: &RepeatedMeasure) -> String {
    let marks = &of.repeated.from_marks;
    let mut text = marks.to_text();
    text.push_str(if of.marks_agree() {
        "\n  from the stored marks: the digits that were written"
    } else {
        "\n  from the stored marks: NOT the digits that were written"
    });
    if !of.marks_agree() {
        text.push_str(&format!(" ({} {})", of.written.value, of.written.unit));
    }
    match (&of.repeated.from_photo, of.photo_agrees()) {
        (None, _) => text.push_str("\n  the photo is not here: its taps were not tried again"),
        (Some(_), Some(true)) => {
            text.push_str("\n  from the taps on the original photo: the same again");
        }
        (Some(p), _) => text.push_str(&format!(
            "\n  from the taps on the photo now: {} {}; corners lie up to {:.2} pixels elsewhere",
            p.measurement.value_text(),
            p.measurement.unit(),
            p.corners_moved
        )),
    }
    text
}
