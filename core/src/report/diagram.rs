//! The station and zone diagram: the layout's own plan drawing, zones with open findings hatched,
//! place words on leader lines.

use std::fmt::Write as _;

use maud::{Markup, PreEscaped};

use crate::history::view::FindingView;
use crate::layout::{Layout, StrokeKind};

/// The plan view with its callouts; empty where the layout has no plan.
pub(super) fn plan(layout: &Layout, findings: &[FindingView]) -> Markup {
    let Some(outline) = layout
        .outlines
        .iter()
        .find(|outline| outline.view == "plan")
    else {
        return PreEscaped(String::new());
    };
    let points = layout
        .zones
        .iter()
        .flat_map(|zone| &zone.shapes)
        .filter(|shape| shape.view == "plan")
        .flat_map(|shape| &shape.points);
    let (mut x0, mut x1, mut y0, mut y1) = (
        f64::INFINITY,
        f64::NEG_INFINITY,
        f64::INFINITY,
        f64::NEG_INFINITY,
    );
    for point in points {
        (x0, x1) = (x0.min(point.x), x1.max(point.x));
        (y0, y1) = (y0.min(point.y), y1.max(point.y));
    }
    if !(x1 > x0 && y1 > y0) {
        return PreEscaped(String::new());
    }
    let (wide, high) = (x1 - x0, y1 - y0);
    let scale = wide / 100.0;
    let margin = wide * 0.42;
    let text = 2.6 * scale;
    let mut svg = format!(
        "<svg class=\"plan\" viewBox=\"{:.1} {:.1} {:.1} {:.1}\" role=\"img\" aria-label=\"zone diagram seen from above, nose up, left as the pilot sits\">\
         <defs><pattern id=\"hatch\" width=\"{p:.2}\" height=\"{p:.2}\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\"><path d=\"M0 0V{p:.2}\" stroke=\"#1d2a33\" stroke-width=\"{w:.2}\"/></pattern></defs>",
        x0 - margin,
        y0 - 8.0 * scale,
        wide + 2.0 * margin,
        high + 16.0 * scale,
        p = 1.2 * scale,
        w = 0.35 * scale,
    );
    for zone in &layout.zones {
        let open = findings
            .iter()
            .any(|finding| finding.open && finding.zone == zone.code);
        for shape in zone.shapes.iter().filter(|shape| shape.view == "plan") {
            let path: Vec<String> = shape
                .points
                .iter()
                .map(|point| format!("{:.1},{:.1}", point.x, point.y))
                .collect();
            let dashed = if shape.hidden {
                " class=\"hidden\""
            } else {
                ""
            };
            let fill = if open { "url(#hatch)" } else { "none" };
            let _ = write!(
                svg,
                "<polygon points=\"{}\" fill=\"{fill}\" stroke=\"#7d8a92\" stroke-width=\"{:.2}\"{dashed}><title>{} {}</title></polygon>",
                path.join(" "),
                0.12 * scale,
                zone.code,
                escape(&zone.name)
            );
        }
    }
    for stroke in &outline.strokes {
        let (width, dash) = match stroke.kind {
            StrokeKind::Edge => (0.34, ""),
            StrokeKind::Fine => (0.16, ""),
            StrokeKind::Hidden => (0.16, " stroke-dasharray=\"4 3\""),
        };
        let _ = write!(
            svg,
            "<path d=\"{}\" fill=\"none\" stroke=\"#1d2a33\" stroke-width=\"{:.2}\"{dash}/>",
            escape(&stroke.path),
            width * scale
        );
    }
    callouts(&mut svg, layout, findings, (x0, x1, y0, y1), scale, text);
    svg.push_str("</svg>");
    PreEscaped(svg)
}

fn callouts(
    svg: &mut String,
    layout: &Layout,
    findings: &[FindingView],
    (x0, x1, y0, y1): (f64, f64, f64, f64),
    scale: f64,
    text: f64,
) {
    let middle = f64::midpoint(x0, x1);
    let mut sides: [Vec<(f64, f64, String)>; 2] = [Vec::new(), Vec::new()];
    for finding in findings.iter().filter(|finding| finding.open) {
        let Some(at) = layout
            .zone(&finding.zone)
            .and_then(|zone| zone.middle_on("plan"))
        else {
            continue;
        };
        let label = format!(
            "{} {}, {}",
            finding.zone,
            finding.zone_name,
            finding.title.to_lowercase()
        );
        let side = usize::from(at.x > middle);
        if let Some(list) = sides.get_mut(side) {
            list.push((at.y, at.x, label));
        }
    }
    for (side, mut list) in sides.into_iter().enumerate() {
        list.sort_by(|a, b| a.0.total_cmp(&b.0));
        let step = text * 2.4;
        let mut next = y0;
        for (y, x, label) in list {
            let row = (y.max(next)).min(y1);
            next = row + step;
            let (edge, anchor, turn) = if side == 0 {
                (x0 - 2.0 * scale, "end", 1.0)
            } else {
                (x1 + 2.0 * scale, "start", -1.0)
            };
            let _ = write!(
                svg,
                "<path d=\"M{edge:.1} {row:.1}h{:.1}L{x:.1} {y:.1}\" fill=\"none\" stroke=\"#1d2a33\" stroke-width=\"{:.2}\"/>",
                turn * 3.0 * scale,
                0.16 * scale
            );
            for (line, words) in wrapped(&label, 30).iter().enumerate() {
                let _ = write!(
                    svg,
                    "<text x=\"{:.1}\" y=\"{:.1}\" font-size=\"{text:.1}\" text-anchor=\"{anchor}\">{}</text>",
                    edge - turn * scale,
                    row + text * (0.35 + line as f64),
                    escape(words)
                );
            }
            next += text * wrapped(&label, 30).len().saturating_sub(1) as f64;
        }
    }
}

fn wrapped(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let full = lines
            .last()
            .is_some_and(|line| !line.is_empty() && line.len() + word.len() >= width);
        if full {
            lines.push(String::new());
        }
        if let Some(line) = lines.last_mut() {
            if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(word);
        }
    }
    lines
}

fn escape(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}
