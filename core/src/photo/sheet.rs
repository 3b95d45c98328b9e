//! The project's own printed scale sheet, as PDF and as SVG, for A4 and Letter.
//!
//! Four round marks at the corners of 160 × 100 mm, the same on both papers, with a window to cut out
//! and lay over the damage, a millimetre and an inch rule, and a bar to check the printer by. Both
//! files are written from one list of shapes, so they cannot differ.

use std::fmt::Write as _;

use pdf_writer::{Content, Finish, Name, Pdf, Rect, Ref, Str, TextStr};

use super::geometry::Point;
use super::scale::SHEET_MM;
use super::targets::MARK_RADIUS_MM;
use crate::error::{Error, ErrorKind, Result};

/// Paper sizes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paper {
    /// 210 × 297 mm (ISO 216).
    A4,
    /// 215.9 × 279.4 mm (8.5 × 11 in).
    Letter,
}

impl Paper {
    /// Width and height in mm.
    pub fn size(self) -> Point {
        match self {
            Self::A4 => [210.0, 297.0],
            Self::Letter => [215.9, 279.4],
        }
    }

    /// As it is called.
    pub fn name(self) -> &'static str {
        match self {
            Self::A4 => "A4",
            Self::Letter => "Letter",
        }
    }

    /// From its name.
    pub fn parse(name: &str) -> Result<Self> {
        match name.to_ascii_lowercase().as_str() {
            "a4" => Ok(Self::A4),
            "letter" => Ok(Self::Letter),
            _ => Err(Error::new(
                ErrorKind::Unknown,
                format!("there is no sheet for the paper \"{name}\""),
            )
            .hint("choose a4 or letter")),
        }
    }
}

/// Length in mm of the bar to check the printer by.
pub const CHECK_BAR_MM: f64 = 100.0;

/// Places of the four marks on the paper in mm from its top left corner, clockwise from the top left.
pub fn marks_on(paper: Paper) -> [Point; 4] {
    let [w, h] = SHEET_MM;
    let left = (paper.size()[0] - w) / 2.0;
    let top = 54.0;
    [
        [left, top],
        [left + w, top],
        [left + w, top + h],
        [left, top + h],
    ]
}

/// A shape in mm from the paper's top left corner, black.
enum Shape {
    Line {
        from: Point,
        to: Point,
        width: f64,
        dashed: bool,
    },
    Area(Vec<Point>),
    Ring {
        at: Point,
        radius: f64,
        width: f64,
    },
    Words {
        at: Point,
        size: f64,
        bold: bool,
        words: String,
    },
}

fn shapes(paper: Paper) -> Vec<Shape> {
    let mut s = Vec::new();
    let [_, height] = paper.size();
    let marks = marks_on(paper);
    let [a, b, c, d] = marks;
    let words = |s: &mut Vec<Shape>, at: Point, size: f64, bold: bool, w: &str| {
        s.push(Shape::Words {
            at,
            size,
            bold,
            words: w.to_owned(),
        });
    };
    let line = |s: &mut Vec<Shape>, from: Point, to: Point, width: f64| {
        s.push(Shape::Line {
            from,
            to,
            width,
            dashed: false,
        });
    };
    words(&mut s, [a[0], 20.0], 7.0, true, "Scale sheet");
    words(&mut s, [a[0], 27.0], 4.4, true, "print at 100 %");
    words(
        &mut s,
        [a[0] + 36.0, 27.0],
        3.4,
        false,
        "no \"fit to page\". Matt paper, laid flat in the plane of the damage.",
    );
    words(
        &mut s,
        [a[0], 33.0],
        3.4,
        false,
        "Cut out the window and lay it round the damage; take the picture from straight above,",
    );
    words(
        &mut s,
        [a[0], 38.5],
        3.4,
        false,
        "with all four round marks in it.",
    );
    // Marks: two black quarters, a point where four quarters meet, and a thin ring.
    for m in marks {
        for start in [0.0_f64, 180.0] {
            let mut area = vec![m];
            for i in 0..=18 {
                let t = (start + 5.0 * f64::from(i)).to_radians();
                area.push([
                    m[0] + MARK_RADIUS_MM * t.cos(),
                    m[1] + MARK_RADIUS_MM * t.sin(),
                ]);
            }
            s.push(Shape::Area(area));
        }
        s.push(Shape::Ring {
            at: m,
            radius: MARK_RADIUS_MM,
            width: 0.25,
        });
    }
    words(&mut s, [a[0] - 5.0, a[1] - 7.0], 3.0, false, "top left");
    // The window.
    let window = [
        [a[0] + 16.0, a[1] + 17.0],
        [b[0] - 16.0, b[1] + 17.0],
        [c[0] - 16.0, c[1] - 17.0],
        [d[0] + 16.0, d[1] - 17.0],
    ];
    for (p, q) in window
        .iter()
        .zip(window.iter().skip(1).chain(window.first()))
    {
        s.push(Shape::Line {
            from: *p,
            to: *q,
            width: 0.3,
            dashed: true,
        });
    }
    words(
        &mut s,
        [window[3][0] + 30.0, (window[0][1] + window[3][1]) / 2.0],
        3.4,
        false,
        "cut out along the dashed line",
    );
    // Millimetres along the lower edge of the window, inches along the upper one.
    let zero = [a[0] + 30.0, window[3][1] + 2.0];
    line(&mut s, zero, [zero[0] + 100.0, zero[1]], 0.25);
    for i in 0..=100_u32 {
        let x = zero[0] + f64::from(i);
        let long = if i % 10 == 0 {
            6.0
        } else if i % 5 == 0 {
            4.5
        } else {
            3.0
        };
        line(
            &mut s,
            [x, zero[1]],
            [x, zero[1] + long],
            if i % 10 == 0 { 0.25 } else { 0.15 },
        );
        if i % 10 == 0 {
            centred(&mut s, [x, zero[1] + 9.4], 3.0, &i.to_string());
        }
    }
    words(&mut s, [zero[0] + 104.0, zero[1] + 9.4], 3.0, false, "mm");
    let inch = [a[0] + 30.0, window[0][1] - 2.0];
    line(&mut s, inch, [inch[0] + 4.0 * 25.4, inch[1]], 0.25);
    for i in 0..=64_u32 {
        let x = inch[0] + 25.4 * f64::from(i) / 16.0;
        let long = match i {
            i if i % 16 == 0 => 6.0,
            i if i % 8 == 0 => 4.8,
            i if i % 4 == 0 => 3.9,
            i if i % 2 == 0 => 3.0,
            _ => 2.2,
        };
        line(
            &mut s,
            [x, inch[1]],
            [x, inch[1] - long],
            if i % 16 == 0 { 0.25 } else { 0.15 },
        );
        if i % 16 == 0 {
            centred(&mut s, [x, inch[1] - 7.0], 3.0, &(i / 16).to_string());
        }
    }
    words(&mut s, [inch[0] + 105.0, inch[1] - 7.0], 3.0, false, "in");
    // The check bar.
    let bar = [a[0], d[1] + 32.0];
    words(
        &mut s,
        [bar[0], bar[1] - 11.0],
        4.4,
        true,
        "check this bar: 100 mm",
    );
    words(
        &mut s,
        [bar[0] + 54.0, bar[1] - 11.0],
        3.4,
        false,
        "lay a steel rule on it, outside of one end to outside of the other",
    );
    let end = bar[0] + CHECK_BAR_MM;
    s.push(Shape::Area(vec![
        [bar[0], bar[1]],
        [end, bar[1]],
        [end, bar[1] + 3.0],
        [bar[0], bar[1] + 3.0],
    ]));
    for x in [bar[0], end - 0.4] {
        s.push(Shape::Area(vec![
            [x, bar[1] - 4.0],
            [x + 0.4, bar[1] - 4.0],
            [x + 0.4, bar[1] + 7.0],
            [x, bar[1] + 7.0],
        ]));
    }
    let mut y = bar[1] + 17.0;
    for text in [
        "If it measures anything else, give what it measures, and lengths will come out right all the same.",
        "Never lay down a payment or identity card as a scale.",
        "A length in a picture is the visible length only; what it means is for the aircraft's manual",
        "and for licensed people to say.",
    ] {
        words(&mut s, [bar[0], y], 3.4, false, text);
        y += 6.0;
    }
    y += 8.0;
    for (label, x, long) in [
        ("aircraft", 0.0, 44.0),
        ("zone", 62.0, 30.0),
        ("date", 104.0, 46.0),
    ] {
        words(&mut s, [bar[0] + x, y], 3.4, false, label);
        let from = bar[0] + x + 13.0;
        line(&mut s, [from, y + 0.5], [from + long - 6.0, y + 0.5], 0.2);
    }
    let name = paper.name();
    words(
        &mut s,
        [a[0], height - 15.0],
        3.0,
        false,
        &format!(
            "Witnessmark scale sheet, {name}. The middles of the round marks are 160.0 mm and 100.0 mm apart."
        ),
    );
    s
}

/// A figure of Helvetica is 0.556 of the size wide (Adobe font metrics, from memory).
fn centred(s: &mut Vec<Shape>, at: Point, size: f64, digits: &str) {
    let half = 0.278 * size * digits.len() as f64;
    s.push(Shape::Words {
        at: [at[0] - half, at[1]],
        size,
        bold: false,
        words: digits.to_owned(),
    });
}

/// The sheet as SVG, in millimetres.
pub fn svg(paper: Paper) -> String {
    let [w, h] = paper.size();
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 {w} {h}\">\n<title>Scale sheet, print at 100 %</title>\n<rect width=\"{w}\" height=\"{h}\" fill=\"#fff\"/>\n"
    );
    for shape in shapes(paper) {
        // Writing to a String does not fail.
        let _ = match shape {
            Shape::Line {
                from,
                to,
                width,
                dashed,
            } => writeln!(
                out,
                "<line x1=\"{:.3}\" y1=\"{:.3}\" x2=\"{:.3}\" y2=\"{:.3}\" stroke=\"#000\" stroke-width=\"{width}\"{}/>",
                from[0],
                from[1],
                to[0],
                to[1],
                if dashed {
                    " stroke-dasharray=\"3 2\""
                } else {
                    ""
                }
            ),
            Shape::Area(points) => {
                let list: Vec<String> = points
                    .iter()
                    .map(|p| format!("{:.4},{:.4}", p[0], p[1]))
                    .collect();
                writeln!(out, "<polygon points=\"{}\"/>", list.join(" "))
            }
            Shape::Ring { at, radius, width } => writeln!(
                out,
                "<circle cx=\"{:.3}\" cy=\"{:.3}\" r=\"{radius}\" fill=\"none\" stroke=\"#000\" stroke-width=\"{width}\"/>",
                at[0], at[1]
            ),
            Shape::Words {
                at,
                size,
                bold,
                words,
            } => writeln!(
                out,
                "<text x=\"{:.3}\" y=\"{:.3}\" font-family=\"Helvetica, Arial, sans-serif\" font-size=\"{size}\"{}>{}</text>",
                at[0],
                at[1],
                if bold { " font-weight=\"bold\"" } else { "" },
                words
                    .replace('&', "&amp;")
                    .replace('<', "&lt;")
                    .replace('>', "&gt;")
            ),
        };
    }
    out.push_str("</svg>\n");
    out
}

/// The sheet as PDF of one page.
pub fn pdf(paper: Paper) -> Vec<u8> {
    const POINTS: f64 = 72.0 / 25.4;
    let [w, h] = paper.size();
    let x = |v: f64| (v * POINTS) as f32;
    let y = |v: f64| ((h - v) * POINTS) as f32;
    let [catalog, tree, page_id, plain, bold_id, content_id, info] =
        [1, 2, 3, 4, 5, 6, 7].map(Ref::new);
    let mut pdf = Pdf::new();
    let mut root = pdf.catalog(catalog);
    root.pages(tree);
    // Viewers that follow ISO 32000 then offer no scaling in their print dialogue.
    root.viewer_preferences()
        .pair(Name(b"PrintScaling"), Name(b"None"));
    root.finish();
    pdf.document_info(info)
        .title(TextStr("Scale sheet, print at 100 %"));
    pdf.pages(tree).kids([page_id]).count(1);
    let mut page = pdf.page(page_id);
    page.media_box(Rect::new(0.0, 0.0, x(w), y(0.0)));
    page.parent(tree);
    page.contents(content_id);
    let mut resources = page.resources();
    let mut fonts = resources.fonts();
    fonts.pair(Name(b"F"), plain);
    fonts.pair(Name(b"B"), bold_id);
    fonts.finish();
    resources.finish();
    page.finish();
    for (id, name) in [
        (plain, &b"Helvetica"[..]),
        (bold_id, &b"Helvetica-Bold"[..]),
    ] {
        pdf.type1_font(id)
            .base_font(Name(name))
            .encoding_predefined(Name(b"WinAnsiEncoding"));
    }
    let mut c = Content::new();
    for shape in shapes(paper) {
        match shape {
            Shape::Line {
                from,
                to,
                width,
                dashed,
            } => {
                c.set_line_width((width * POINTS) as f32);
                let dash = (POINTS * 3.0) as f32;
                c.set_dash_pattern(
                    if dashed {
                        vec![dash, dash * 2.0 / 3.0]
                    } else {
                        vec![]
                    },
                    0.0,
                );
                c.move_to(x(from[0]), y(from[1]))
                    .line_to(x(to[0]), y(to[1]))
                    .stroke();
            }
            Shape::Area(points) => {
                for (i, p) in points.iter().enumerate() {
                    if i == 0 {
                        c.move_to(x(p[0]), y(p[1]));
                    } else {
                        c.line_to(x(p[0]), y(p[1]));
                    }
                }
                c.close_path().fill_nonzero();
            }
            Shape::Ring { at, radius, width } => {
                c.set_line_width((width * POINTS) as f32);
                c.set_dash_pattern([], 0.0);
                for i in 0..72 {
                    let t = f64::from(i * 5).to_radians();
                    let (px, py) = (x(at[0] + radius * t.cos()), y(at[1] + radius * t.sin()));
                    if i == 0 {
                        c.move_to(px, py);
                    } else {
                        c.line_to(px, py);
                    }
                }
                c.close_path().stroke();
            }
            Shape::Words {
                at,
                size,
                bold,
                words,
            } => {
                // The words of the sheet are ASCII, which WinAnsi holds as it is.
                c.begin_text();
                c.set_font(Name(if bold { b"B" } else { b"F" }), (size * POINTS) as f32);
                c.next_line(x(at[0]), y(at[1]));
                c.show(Str(words.as_bytes()));
                c.end_text();
            }
        }
    }
    pdf.stream(content_id, &c.finish());
    pdf.finish()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_papers_hold_the_whole_sheet_with_a_printers_margin() {
        for paper in [Paper::A4, Paper::Letter] {
            let [w, h] = paper.size();
            for s in shapes(paper) {
                let points = match s {
                    Shape::Line { from, to, .. } => vec![from, to],
                    Shape::Area(p) => p,
                    Shape::Ring { at, radius, .. } => vec![
                        [at[0] - radius, at[1] - radius],
                        [at[0] + radius, at[1] + radius],
                    ],
                    // Helvetica is on average about half its size wide (from memory).
                    Shape::Words {
                        at, size, words, ..
                    } => {
                        assert!(words.is_ascii(), "{words}");
                        vec![at, [at[0] + 0.5 * size * words.len() as f64, at[1]]]
                    }
                };
                for p in points {
                    assert!(
                        p[0] >= 10.0 && p[1] >= 10.0 && p[0] <= w - 10.0 && p[1] <= h - 10.0,
                        "{p:?} on {paper:?}"
                    );
                }
            }
            let m = marks_on(paper);
            assert!(
                (m[1][0] - m[0][0] - 160.0).abs() < 1e-9
                    && (m[2][1] - m[1][1] - 100.0).abs() < 1e-9
            );
        }
    }

    #[test]
    fn svg_and_pdf_say_what_to_check_and_stay_the_same() {
        let s = svg(Paper::A4);
        assert!(s.contains("print at 100 %") && s.contains("check this bar: 100 mm"));
        assert!(s.contains("width=\"210mm\""));
        let p = pdf(Paper::Letter);
        assert!(p.starts_with(b"%PDF-") && p == pdf(Paper::Letter));
        let text = String::from_utf8_lossy(&p);
        assert!(text.contains("(check this bar: 100 mm)") && text.contains("/PrintScaling /None"));
        assert!(Paper::parse("A4").is_ok() && Paper::parse("b5").is_err());
    }
}
