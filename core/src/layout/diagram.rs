//! The station and zone diagram: line drawings with zone numbers, hatching and callouts, as SVG text.
//!
//! Drawn like the trade's own paper: black lines on white, numbers on leaders in the margin, hatching
//! that survives a photocopier. Nothing is told by colour. Left and right are the pilot's, nose up.
//!
//! SVG is written by hand rather than through a drawing crate: lines, texts and two patterns are all
//! there is, and the text must come out the same on every machine.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use super::path::{Segment, area, middle, parse_path};
use super::types::{Layout, Outline, Point, Shape, StrokeKind, Zone};

/// Hatching of a zone. Which meaning each carries is said in its legend.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Hatch {
    /// Close crossed lines: the strongest.
    Crossed,
    /// Slanting lines.
    Slanted,
    /// Wide level lines.
    Level,
    /// Specks.
    Specks,
}

impl Hatch {
    const ALL: [Hatch; 4] = [Hatch::Crossed, Hatch::Slanted, Hatch::Level, Hatch::Specks];

    fn id(self) -> &'static str {
        match self {
            Hatch::Crossed => "crossed",
            Hatch::Slanted => "slanted",
            Hatch::Level => "level",
            Hatch::Specks => "specks",
        }
    }

    fn pattern(self) -> &'static str {
        match self {
            Hatch::Crossed => {
                "<pattern id=\"wm-crossed\" width=\"4\" height=\"4\" patternUnits=\"userSpaceOnUse\"><path d=\"M0,0 L4,4 M4,0 L0,4\" stroke=\"#000\" stroke-width=\"0.8\"/></pattern>"
            }
            Hatch::Slanted => {
                "<pattern id=\"wm-slanted\" width=\"5\" height=\"5\" patternUnits=\"userSpaceOnUse\"><path d=\"M-1,1 L1,-1 M0,5 L5,0 M4,6 L6,4\" stroke=\"#000\" stroke-width=\"0.7\"/></pattern>"
            }
            Hatch::Level => {
                "<pattern id=\"wm-level\" width=\"5\" height=\"5\" patternUnits=\"userSpaceOnUse\"><path d=\"M0,2.5 L5,2.5\" stroke=\"#000\" stroke-width=\"0.5\"/></pattern>"
            }
            Hatch::Specks => {
                "<pattern id=\"wm-specks\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\"><path d=\"M1,1 h0.9 M4,4 h0.9\" stroke=\"#000\" stroke-width=\"0.9\"/></pattern>"
            }
        }
    }
}

/// Words on a leader line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Callout {
    /// Code of the zone it points at.
    pub zone: String,
    /// Place words and what is there: `left wheel fairing, lower aft screw: crack 2 1/4 in`. About sixty
    /// characters fit a line; longer texts wrap.
    pub text: String,
}

/// What to draw.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct DiagramOptions {
    /// Hatched zones by code.
    pub hatched: Vec<(String, Hatch)>,
    /// What each hatching means here, for the legend.
    pub legend: Vec<(Hatch, String)>,
    /// Words on leader lines, drawn beside the first drawing that shows their zone well.
    pub callouts: Vec<Callout>,
    /// Keys of the drawings to show, in order; all of them if empty. `plan` and `below` take a row each,
    /// others stand two in a row.
    pub drawings: Vec<String>,
    /// Leaves the numbers of zones out that are neither hatched nor called out.
    pub only_named: bool,
}

/// A drawn diagram: SVG text and its size in the units that [`Diagram::zone_at`] takes.
#[derive(Debug, Clone, PartialEq)]
pub struct Diagram {
    /// A whole `<svg>` element, with a title and a description for readers that do not see it.
    pub svg: String,
    /// Width of its view box.
    pub width: f64,
    /// Height of its view box.
    pub height: f64,
    panels: Vec<Panel>,
}

/// Where a drawing stands on the page.
#[derive(Debug, Clone, PartialEq)]
struct Panel {
    view: String,
    /// Page place of the whole panel: left, top, width, height.
    place: (f64, f64, f64, f64),
    scale: f64,
    /// Page point of the drawing's origin.
    origin: (f64, f64),
    /// Which way x and y of the drawing run on the page.
    sign: (f64, f64),
}

impl Panel {
    fn to_page(&self, point: Point) -> Point {
        Point {
            x: self.origin.0 + self.sign.0 * self.scale * point.x,
            y: self.origin.1 + self.sign.1 * self.scale * point.y,
        }
    }
}

impl Diagram {
    /// The zone at a point of the page (units of the view box), as [`Layout::zone_at`].
    pub fn zone_at<'a>(&self, layout: &'a Layout, x: f64, y: f64) -> Option<&'a Zone> {
        let panel = self.panels.iter().find(|panel| {
            let (left, top, width, height) = panel.place;
            x >= left && x <= left + width && y >= top && y <= top + height
        })?;
        layout.zone_at(
            &panel.view,
            (x - panel.origin.0) / (panel.scale * panel.sign.0),
            (y - panel.origin.1) / (panel.scale * panel.sign.1),
        )
    }
}

const WIDTH: f64 = 1000.0;
/// Size of zone numbers and words.
const NUMBER: f64 = 12.5;
const WORDS: f64 = 13.0;

/// Draws the diagram of a layout. Never fails: what cannot be drawn (an unknown code, a drawing that the
/// layout does not have) is left out.
pub fn diagram(layout: &Layout, options: &DiagramOptions) -> Diagram {
    let wanted: Vec<&Outline> = if options.drawings.is_empty() {
        layout.outlines.iter().collect()
    } else {
        let find = |key: &String| layout.outlines.iter().find(|outline| outline.view == *key);
        options.drawings.iter().filter_map(find).collect()
    };
    let mut body = String::new();
    let mut panels: Vec<Panel> = Vec::new();
    let mut top = 10.0;
    let primary = primary_drawings(layout, &wanted);
    for outline in &wanted {
        top += panel(
            layout,
            options,
            outline,
            top,
            &primary,
            &mut body,
            &mut panels,
        );
    }
    top = legend(layout, options, top, &mut body);

    let mut svg = String::new();
    let _ = write!(
        svg,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {top:.0}\" role=\"img\" font-family=\"Helvetica, Arial, sans-serif\" font-size=\"{NUMBER}\">\
         <title>Station and zone diagram: {}</title><desc>{}</desc>\
         <style>.e{{fill:none;stroke:#000;stroke-width:1.5;stroke-linejoin:round}}.f{{fill:none;stroke:#000;stroke-width:.7}}.h{{stroke:#000;stroke-width:.6;stroke-dasharray:4 3}}.z{{stroke:#000;stroke-width:.5}}.l{{fill:none;stroke:#000;stroke-width:.5}}.c{{fill:none;stroke:#000;stroke-width:1}}.m{{text-anchor:middle}}.r{{text-anchor:end}}.b{{font-weight:bold}}.n{{paint-order:stroke;stroke:#fff;stroke-width:3}}</style><defs>",
        escape(&layout.title),
        escape(super::CODES_NOTE),
    );
    for hatch in Hatch::ALL {
        if options.hatched.iter().any(|(_, used)| *used == hatch)
            || options.legend.iter().any(|(used, _)| *used == hatch)
        {
            svg.push_str(hatch.pattern());
        }
    }
    let _ = write!(
        svg,
        "</defs><rect width=\"{WIDTH}\" height=\"{top:.0}\" fill=\"#fff\"/>{body}</svg>"
    );
    Diagram {
        svg,
        width: WIDTH,
        height: top,
        panels,
    }
}

/// For each zone the drawing that shows it largest, where its number or callout stands in the margin.
fn primary_drawings<'a>(layout: &'a Layout, shown: &[&Outline]) -> BTreeMap<&'a str, &'a str> {
    let mut primary = BTreeMap::new();
    for zone in &layout.zones {
        let mut best: Option<(&str, f64)> = None;
        for outline in shown {
            for shape in zone
                .shapes
                .iter()
                .filter(|shape| shape.view == outline.view)
            {
                let size = area(&shape.points);
                if best.is_none_or(|(_, largest)| size > largest) {
                    best = Some((&shape.view, size));
                }
            }
        }
        if let Some((view, _)) = best {
            primary.insert(zone.code.as_str(), view);
        }
    }
    primary
}

/// A label in a margin with its leader.
struct Label<'a> {
    anchor: Point,
    lines: Vec<String>,
    zone: &'a Zone,
    bold: bool,
}

#[allow(clippy::too_many_lines)] // one drawing from top to bottom; cutting it would only hide the order
fn panel(
    layout: &Layout,
    options: &DiagramOptions,
    outline: &Outline,
    top: f64,
    primary: &BTreeMap<&str, &str>,
    body: &mut String,
    panels: &mut Vec<Panel>,
) -> f64 {
    let (left, width) = (0.0, WIDTH);
    let shapes: Vec<(&Zone, &Shape)> = layout
        .zones
        .iter()
        .flat_map(|zone| zone.shapes.iter().map(move |shape| (zone, shape)))
        .filter(|(_, shape)| shape.view == outline.view)
        .collect();
    let Some(bounds) = Bounds::of(outline, &shapes) else {
        return 0.0;
    };
    let here = |code: &str| primary.get(code).is_some_and(|view| *view == outline.view);
    let called: Vec<&Callout> = options
        .callouts
        .iter()
        .filter(|callout| here(&callout.zone))
        .collect();
    let sideways = outline.view.ends_with("_side");
    let margin = 200.0;
    // A cabin as wide as the page would shout.
    let room = if outline.view == "cabin" {
        150.0
    } else {
        width - 2.0 * margin - 40.0
    };
    let scale = room / (bounds.right - bounds.left);
    let height = scale * (bounds.bottom - bounds.top);
    let flip = outline.view == "right_side";
    let mut panel = Panel {
        view: outline.view.clone(),
        place: (left, top, width, height),
        scale,
        origin: (
            if flip {
                left + (width + room) / 2.0 + scale * bounds.left
            } else {
                left + (width - room) / 2.0 - scale * bounds.left
            },
            if sideways {
                top + 24.0 + scale * bounds.bottom
            } else {
                top + 24.0 - scale * bounds.top
            },
        ),
        sign: (
            if flip { -1.0 } else { 1.0 },
            if sideways { -1.0 } else { 1.0 },
        ),
    };

    let centre = left + width / 2.0;
    let mut inner: Vec<(Point, &str)> = Vec::new();
    let mut sides: [Vec<Label<'_>>; 2] = [Vec::new(), Vec::new()];
    let mut told: BTreeSet<&str> = BTreeSet::new();
    for (zone, shape) in &shapes {
        let anchor = panel.to_page(middle(&shape.points));
        let said: Vec<&&Callout> = called.iter().filter(|c| c.zone == zone.code).collect();
        let hatched = options.hatched.iter().any(|(code, _)| *code == zone.code);
        if options.only_named && said.is_empty() && !hatched {
            continue;
        }
        if said.is_empty() && fits(shape, scale, &shapes) {
            inner.push((anchor, &zone.code));
            continue;
        }
        if !here(&zone.code) || !told.insert(&zone.code) {
            continue;
        }
        let mut lines: Vec<String> = Vec::new();
        for callout in &said {
            lines.extend(wrapped(&format!("{} {}", zone.code, callout.text), margin));
        }
        let bold = !lines.is_empty();
        if !bold {
            lines.push(zone.code.clone());
        }
        let side = usize::from(anchor.x > centre);
        if let Some(list) = sides.get_mut(side) {
            list.push(Label {
                anchor,
                lines,
                zone,
                bold,
            });
        }
    }
    // What the margins hold may be taller than the drawing: then it moves down to their middle.
    let tallest = sides
        .iter()
        .map(|side| stack_height(side))
        .fold(0.0, f64::max);
    let pad = ((tallest - height) / 2.0).max(0.0);
    panel.origin.1 += pad;
    for label in sides.iter_mut().flatten() {
        label.anchor.y += pad;
    }

    let _ = write!(body, "<g data-drawing=\"{}\">", escape(&outline.view));
    // Large shapes first, so that small ones lie on them.
    let mut ordered = shapes.clone();
    ordered.sort_by(|a, b| area(&b.1.points).total_cmp(&area(&a.1.points)));
    for (zone, shape) in &ordered {
        let hatch = options
            .hatched
            .iter()
            .find(|(code, _)| *code == zone.code)
            .map(|(_, h)| *h);
        let class = if shape.hidden { "h" } else { "z" };
        let fill = match hatch {
            Some(hatch) => format!(" fill=\"url(#wm-{})\"", hatch.id()),
            None if shape.over => " fill=\"#fff\"".to_owned(),
            None if shape.hidden => " fill=\"none\"".to_owned(),
            None => " fill=\"#fff\" fill-opacity=\"0\"".to_owned(),
        };
        let corners: Vec<String> = shape
            .points
            .iter()
            .map(|point| {
                let page = panel.to_page(*point);
                format!("{:.1},{:.1}", page.x, page.y)
            })
            .collect();
        let _ = write!(
            body,
            "<polygon class=\"{class}\" data-zone=\"{}\" points=\"{}\"{fill}/>",
            escape(&zone.code),
            corners.join(" ")
        );
    }
    for stroke in &outline.strokes {
        let class = match stroke.kind {
            StrokeKind::Edge => "e",
            StrokeKind::Fine => "f",
            StrokeKind::Hidden => "h",
        };
        let _ = write!(
            body,
            "<path class=\"{class}\" fill=\"none\" d=\"{}\"/>",
            page_path(&panel, &stroke.path)
        );
    }

    for (at, code) in &inner {
        let _ = write!(
            body,
            "<text class=\"m n\" x=\"{:.1}\" y=\"{:.1}\">{}</text>",
            at.x,
            at.y + pad + NUMBER * 0.35,
            escape(code)
        );
    }
    let bottom = top + 24.0 + height + pad;
    let mut lowest = bottom;
    for (side, labels) in sides.iter_mut().enumerate() {
        let edge = if side == 0 {
            left + margin - 8.0
        } else {
            left + width - margin + 8.0
        };
        lowest = lowest.max(margin_labels(
            labels,
            side,
            edge,
            (top + 20.0, bottom + pad),
            body,
        ));
    }
    stations(&panel, &bounds, sideways, (left, width), body);
    let words = lowest + 34.0;
    let _ = write!(
        body,
        "<text class=\"m b\" x=\"{centre:.1}\" y=\"{words:.1}\" font-size=\"{WORDS}\">{}</text></g>",
        escape(&outline.title)
    );
    panel.place.3 = words - top;
    panels.push(panel);
    words + 14.0 - top
}

/// True where the number can stand in the shape without touching a smaller shape that lies on it.
fn fits(shape: &Shape, scale: f64, all: &[(&Zone, &Shape)]) -> bool {
    let at = middle(&shape.points);
    let (half_wide, half_high) = (11.0 / scale, 6.5 / scale);
    let corners = [
        (-1.0, -1.0),
        (1.0, -1.0),
        (1.0, 1.0),
        (-1.0, 1.0),
        (0.0, 1.0),
        (0.0, -1.0),
    ];
    let own = area(&shape.points);
    corners.iter().all(|(dx, dy)| {
        let (x, y) = (at.x + dx * half_wide, at.y + dy * half_high);
        super::path::inside(&shape.points, x, y)
            && !all.iter().any(|(_, other)| {
                area(&other.points) < own && super::path::inside(&other.points, x, y)
            })
    })
}

const STEP: f64 = NUMBER + 2.5;
/// Between two labels with words, so that they do not read as one.
const GAP: f64 = 7.0;

impl Label<'_> {
    fn tall(&self) -> f64 {
        STEP * self.lines.len() as f64 + if self.bold { GAP } else { 0.0 }
    }
}

fn stack_height(labels: &[Label<'_>]) -> f64 {
    labels.iter().map(Label::tall).sum()
}

/// Sets labels one under another without touching and draws their leaders; returns the lowest point.
fn margin_labels(
    labels: &mut [Label<'_>],
    side: usize,
    edge: f64,
    (top, bottom): (f64, f64),
    body: &mut String,
) -> f64 {
    labels.sort_by(|a, b| {
        a.anchor
            .y
            .total_cmp(&b.anchor.y)
            .then_with(|| a.zone.code.cmp(&b.zone.code))
    });
    let step = STEP;
    let need = stack_height(labels);
    // Where the labels fill the margin they start at its top; else each as near its place as it can.
    let mut free = top;
    let mut left_over = need;
    let mut lowest: f64 = top;
    for label in labels.iter() {
        let tall = label.tall();
        let latest = (bottom - left_over).max(free);
        let y = (label.anchor.y - tall / 2.0 + step * 0.3).clamp(free, latest);
        free = y + tall;
        left_over -= tall;
        lowest = lowest.max(free);
        let class = if side == 0 { "r" } else { "" };
        let weight = if label.bold { " b" } else { "" };
        let line = if label.bold { "c" } else { "l" };
        let first = y + step * 0.75;
        let tie = first - NUMBER * 0.35;
        let (from, knee) = if side == 0 {
            (edge + 2.0, edge + 14.0)
        } else {
            (edge - 2.0, edge - 14.0)
        };
        let _ = write!(
            body,
            "<path class=\"{line}\" d=\"M{from:.1},{tie:.1} L{knee:.1},{tie:.1} L{:.1},{:.1}\"/>",
            label.anchor.x, label.anchor.y
        );
        for (index, words) in label.lines.iter().enumerate() {
            let _ = write!(
                body,
                "<text class=\"{class}{weight} n\" x=\"{edge:.1}\" y=\"{:.1}\">{}</text>",
                first + step * index as f64,
                escape(words)
            );
        }
    }
    lowest
}

/// Ticks every fifty inches of the drawing: fuselage stations under side views, beside plans.
fn stations(
    panel: &Panel,
    bounds: &Bounds,
    sideways: bool,
    (left, width): (f64, f64),
    body: &mut String,
) {
    if panel.view == "cabin" {
        return;
    }
    let mut station = 0.0;
    let last = if sideways {
        bounds.right
    } else {
        bounds.bottom
    };
    while station <= last {
        if sideways {
            let at = panel.to_page(Point {
                x: station,
                y: bounds.top,
            });
            let base = panel
                .to_page(Point {
                    x: station,
                    y: bounds.top,
                })
                .y;
            let _ = write!(
                body,
                "<path class=\"l\" d=\"M{0:.1},{1:.1} L{0:.1},{2:.1}\"/><text class=\"m\" x=\"{0:.1}\" y=\"{3:.1}\" font-size=\"9\">{station:.0}</text>",
                at.x,
                base + 3.0,
                base + 8.0,
                base + 17.0
            );
        } else {
            let at = panel.to_page(Point { x: 0.0, y: station });
            let x = left + width / 2.0;
            // On the centre line behind the drawing's own lines: short ticks either side of the fuselage.
            let _ = write!(
                body,
                "<path class=\"l\" d=\"M{:.1},{1:.1} L{2:.1},{1:.1}\"/>",
                x - 3.0,
                at.y,
                x + 3.0
            );
        }
        station += 50.0;
    }
}

struct Bounds {
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
}

impl Bounds {
    fn of(outline: &Outline, shapes: &[(&Zone, &Shape)]) -> Option<Self> {
        let mut bounds = Self {
            left: f64::INFINITY,
            right: f64::NEG_INFINITY,
            top: f64::INFINITY,
            bottom: f64::NEG_INFINITY,
        };
        let mut take = |point: &Point| {
            bounds.left = bounds.left.min(point.x);
            bounds.right = bounds.right.max(point.x);
            bounds.top = bounds.top.min(point.y);
            bounds.bottom = bounds.bottom.max(point.y);
        };
        for (_, shape) in shapes {
            shape.points.iter().for_each(&mut take);
        }
        for stroke in &outline.strokes {
            for segment in parse_path(&stroke.path).unwrap_or_default() {
                match segment {
                    Segment::Move(a) | Segment::Line(a) => take(&a),
                    Segment::Quad(_, b) => take(&b),
                    Segment::Cubic(_, _, c) => take(&c),
                    Segment::Close => {}
                }
            }
        }
        let sound = bounds.right - bounds.left > 1.0 && bounds.bottom - bounds.top > 1.0;
        sound.then_some(bounds)
    }
}

fn page_path(panel: &Panel, path: &str) -> String {
    let mut text = String::new();
    let point = |point: Point| {
        let page = panel.to_page(point);
        format!("{:.1},{:.1}", page.x, page.y)
    };
    for segment in parse_path(path).unwrap_or_default() {
        let _ = match segment {
            Segment::Move(a) => write!(text, "M{}", point(a)),
            Segment::Line(a) => write!(text, "L{}", point(a)),
            Segment::Quad(a, b) => write!(text, "Q{} {}", point(a), point(b)),
            Segment::Cubic(a, b, c) => write!(text, "C{} {} {}", point(a), point(b), point(c)),
            Segment::Close => write!(text, "Z"),
        };
    }
    text
}

/// Words in lines that fit a margin.
fn wrapped(text: &str, margin: f64) -> Vec<String> {
    let most = ((margin - 12.0) / (NUMBER * 0.56)).max(8.0) as usize;
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let word: String = word.chars().take(most).collect();
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= most => {
                line.push(' ');
                line.push_str(&word);
            }
            _ => lines.push(word),
        }
    }
    lines.truncate(6);
    lines
}

fn legend(layout: &Layout, options: &DiagramOptions, top: f64, body: &mut String) -> f64 {
    let mut y = top + 6.0;
    for (hatch, words) in &options.legend {
        let _ = write!(
            body,
            "<rect class=\"z\" x=\"44\" y=\"{y:.1}\" width=\"30\" height=\"14\" fill=\"url(#wm-{})\"/><text x=\"82\" y=\"{:.1}\" font-size=\"{WORDS}\">{}</text>",
            hatch.id(),
            y + 11.5,
            escape(words)
        );
        y += 21.0;
    }
    for words in [
        layout.title.as_str(),
        super::CODES_NOTE,
        "Stations in inches of this drawing, aft of the spinner tip; drawn for place, not to the scale of any type.",
    ] {
        y += 14.0;
        let _ = write!(body, "<text x=\"44\" y=\"{y:.1}\">{}</text>", escape(words));
    }
    y + 14.0
}

/// Text of a layout may be a user's own: nothing of it is markup.
fn escape(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            c if c.is_control() => safe.push(' '),
            c => safe.push(c),
        }
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::*;

    fn options() -> DiagramOptions {
        DiagramOptions {
            hatched: vec![
                ("733".into(), Hatch::Crossed),
                ("620".into(), Hatch::Specks),
            ],
            legend: vec![(Hatch::Crossed, "worse".into())],
            callouts: vec![Callout {
                zone: "733".into(),
                text: "left wheel fairing <script>: crack 2 1/4 in".into(),
            }],
            ..DiagramOptions::default()
        }
    }

    #[test]
    fn every_zone_is_drawn_and_numbered_and_text_stays_text() {
        for layout in Layout::all() {
            let drawn = diagram(layout, &options());
            for zone in &layout.zones {
                assert!(
                    drawn.svg.contains(&format!("data-zone=\"{}\"", zone.code)),
                    "{}",
                    zone.code
                );
                assert!(
                    drawn.svg.contains(&format!(">{}", zone.code)),
                    "{} {}",
                    layout.name,
                    zone.code
                );
            }
            assert!(!drawn.svg.contains("<script"));
        }
    }

    /// Left of the page is the pilot's left in the plan: 14 CFR 25.1385 puts the red light there, and
    /// ATA 100 calls the left wing 500.
    #[test]
    fn taps_answer_with_the_zone_that_is_drawn_there() {
        for layout in Layout::all() {
            let drawn = diagram(layout, &DiagramOptions::default());
            let plan = drawn
                .panels
                .iter()
                .find(|panel| panel.view == "plan")
                .unwrap();
            for (code, left) in [("550", true), ("650", false)] {
                let zone = layout.zone(code).unwrap();
                let page = plan.to_page(zone.middle_on("plan").unwrap());
                assert_eq!(page.x < WIDTH / 2.0, left, "{}", layout.name);
                assert_eq!(drawn.zone_at(layout, page.x, page.y).unwrap().code, code);
            }
            // Nose up: the tail lies below the wing.
            let y = |code: &str| {
                plan.to_page(layout.zone(code).unwrap().middle_on("plan").unwrap())
                    .y
            };
            assert!(y("320") > y("550"));
            assert!(drawn.zone_at(layout, 1.0, 1.0).is_none());
        }
    }

    #[test]
    fn the_same_input_gives_the_same_bytes() {
        let layout = Layout::all().first().unwrap();
        assert_eq!(
            diagram(layout, &options()).svg,
            diagram(layout, &options()).svg
        );
    }
}
