//! Growth of one measure: points with bars of expanded uncertainty (k = 2), against hours where every
//! point has them, else against the order of sightings with their dates.

use std::fmt::Write as _;

use crate::history::view::SightingView;

const WIDTH: f64 = 560.0;
const HEIGHT: f64 = 190.0;
const LEFT: f64 = 52.0;
const RIGHT: f64 = 16.0;
const TOP: f64 = 14.0;
const BOTTOM: f64 = 40.0;

/// SVG text; `None` with fewer than two measured sightings.
pub(super) fn growth(sightings: &[SightingView]) -> Option<String> {
    let points: Vec<(&SightingView, f64)> = sightings
        .iter()
        .filter(|sighting| sighting.result == "present")
        .filter_map(|sighting| Some((sighting, sighting.value?)))
        .collect();
    if points.len() < 2 {
        return None;
    }
    let hours: Vec<f64> = points
        .iter()
        .filter_map(|(sighting, _)| sighting.hours.as_deref()?.parse().ok())
        .collect();
    let by_hours = hours.len() == points.len();
    let xs: Vec<f64> = if by_hours {
        hours
    } else {
        (0..points.len()).map(|at| at as f64).collect()
    };
    let low = xs.iter().copied().fold(f64::INFINITY, f64::min);
    let high = xs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let top = points
        .iter()
        .map(|(sighting, value)| value + 2.0 * sighting.u.unwrap_or(0.0))
        .fold(0.0, f64::max)
        .max(1e-9)
        * 1.08;
    let x = |value: f64| LEFT + (value - low) / (high - low).max(1e-9) * (WIDTH - LEFT - RIGHT);
    let y = |value: f64| TOP + (1.0 - value / top) * (HEIGHT - TOP - BOTTOM);
    let unit = points
        .first()
        .and_then(|(sighting, _)| sighting.unit.clone())
        .unwrap_or_default();
    let mut svg = format!(
        "<svg class=\"chart\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" role=\"img\" aria-label=\"growth with uncertainty bars\">\
         <path class=\"axis\" d=\"M{LEFT} {TOP}V{base}H{right}\"/>",
        base = HEIGHT - BOTTOM,
        right = WIDTH - RIGHT
    );
    for part in 0..=4 {
        let value = top * f64::from(part) / 4.0;
        let _ = write!(
            svg,
            "<path class=\"rule\" d=\"M{LEFT} {0:.1}H{1}\"/><text x=\"{2}\" y=\"{3:.1}\" text-anchor=\"end\">{4}</text>",
            y(value),
            WIDTH - RIGHT,
            LEFT - 6.0,
            y(value) + 4.0,
            trimmed(value)
        );
    }
    let mut before: Option<(f64, f64, usize)> = None;
    for ((sighting, value), at) in points.iter().zip(&xs) {
        let (px, py) = (x(*at), y(*value));
        if let Some((bx, by, series)) = before
            && series == sighting.series
        {
            let _ = write!(
                svg,
                "<path class=\"line\" d=\"M{bx:.1} {by:.1}L{px:.1} {py:.1}\"/>"
            );
        }
        if let Some(u) = sighting.u {
            let (high, low) = (y(value + 2.0 * u), y((value - 2.0 * u).max(0.0)));
            let _ = write!(
                svg,
                "<path class=\"bar\" d=\"M{px:.1} {high:.1}V{low:.1}M{0:.1} {high:.1}h8M{0:.1} {low:.1}h8\"/>",
                px - 4.0
            );
        }
        let label = if by_hours {
            format!("{} h", trimmed(*at))
        } else {
            sighting.date.clone()
        };
        let anchor = if px > WIDTH - 60.0 { "end" } else { "middle" };
        let _ = write!(
            svg,
            "<path class=\"mark\" d=\"M{0:.1} {py:.1}l4 -4l4 4l-4 4z\"/><text x=\"{px:.1}\" y=\"{1}\" text-anchor=\"{anchor}\">{label}</text>",
            px - 4.0,
            HEIGHT - BOTTOM + 16.0
        );
        before = Some((px, py, sighting.series));
    }
    let axis = if by_hours {
        "airframe total time"
    } else {
        "date"
    };
    let _ = write!(
        svg,
        "<text x=\"{LEFT}\" y=\"{0}\">{unit}, bars: ± U (k = 2); against {axis}</text></svg>",
        HEIGHT - 6.0
    );
    Some(svg)
}

fn trimmed(value: f64) -> String {
    let text = format!("{value:.1}");
    text.trim_end_matches(".0").to_owned()
}
