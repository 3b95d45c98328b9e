//! Growth of one quantity: points with bars of expanded uncertainty against a named axis.

use maud::{Markup, html};

use crate::report::Against;
use crate::report::content::{Point, Series};
use crate::report::words::short_day;

const WIDTH: f64 = 640.0;
const HEIGHT: f64 = 250.0;
const LEFT: f64 = 56.0;
const RIGHT: f64 = 22.0;
const TOP: f64 = 30.0;
const BOTTOM: f64 = 52.0;
/// Size of the words, and the least distance between two of them.
const APART: f64 = 78.0;

struct Scale {
    x: (f64, f64),
    top: f64,
}

impl Scale {
    fn of(series: &Series) -> Self {
        let low = series
            .points
            .iter()
            .map(|p| p.x)
            .fold(f64::INFINITY, f64::min);
        let high = series
            .points
            .iter()
            .map(|p| p.x)
            .fold(f64::NEG_INFINITY, f64::max);
        let spare = ((high - low) * 0.06).max(0.5);
        let reach = series
            .points
            .iter()
            .map(|p| p.value + p.spread.unwrap_or(0.0))
            .chain(series.limit)
            .fold(0.0, f64::max);
        Self {
            x: (low - spare, high + spare),
            top: if reach > 0.0 { reach * 1.12 } else { 1.0 },
        }
    }

    fn x(&self, value: f64) -> f64 {
        LEFT + (value - self.x.0) / (self.x.1 - self.x.0) * (WIDTH - LEFT - RIGHT)
    }

    fn y(&self, value: f64) -> f64 {
        TOP + (1.0 - value.clamp(0.0, self.top) / self.top) * (HEIGHT - TOP - BOTTOM)
    }
}

/// Round figures that cover a range in about `many` steps.
fn round_steps(low: f64, high: f64, many: f64) -> Vec<f64> {
    let raw = (high - low) / many;
    if !raw.is_finite() || raw <= 0.0 {
        return vec![low];
    }
    let power = 10f64.powf(raw.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0]
        .iter()
        .map(|n| n * power)
        .find(|step| *step >= raw)
        .unwrap_or(power * 10.0);
    let mut at = (low / step).ceil() * step;
    let mut steps = Vec::new();
    while at <= high + step * 1e-9 && steps.len() < 20 {
        steps.push(at);
        at += step;
    }
    steps
}

fn figure_of(value: f64) -> String {
    let text = if value.abs() >= 100.0 {
        format!("{value:.0}")
    } else {
        format!("{value:.2}")
    };
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// What stands along the axis: the meter by its name.
fn axis_words(series: &Series) -> String {
    match series.against {
        Against::Hours => format!(
            "{}, h",
            series
                .meter
                .as_deref()
                .unwrap_or("hours of an unnamed meter")
        ),
        Against::Landings => "landings".to_owned(),
        Against::Days => "days since it was first measured".to_owned(),
    }
}

/// Nothing below two points, except their words. `small` leaves the caption out.
pub(super) fn growth(series: &Series, small: bool) -> Markup {
    if series.points.len() < 2 {
        return html! {};
    }
    let scale = Scale::of(series);
    let base = HEIGHT - BOTTOM;
    let (edge, middle) = (WIDTH - RIGHT, (LEFT + WIDTH - RIGHT) / 2.0);
    let words = in_words(series);
    let labels = label_places(series, &scale);
    html! {
        figure.growth {
            svg.chart viewBox={ "0 0 " (WIDTH) " " (HEIGHT) } role="img" aria-label=(words) {
                @for value in round_steps(0.0, scale.top, 4.0) {
                    @let y = scale.y(value);
                    path.rule d={ "M" (LEFT) " " (place(y)) "H" (edge) } {}
                    text x=(LEFT - 7.0) y=(place(y + 4.0)) text-anchor="end" { (figure_of(value)) }
                }
                @for value in round_steps(scale.x.0, scale.x.1, 6.0) {
                    @let x = scale.x(value);
                    path.axis d={ "M" (place(x)) " " (base) "v5" } {}
                    text x=(place(x)) y=(base + 18.0) text-anchor="middle" { (figure_of(value)) }
                }
                path.axis d={ "M" (LEFT) " " (TOP) "V" (base) "H" (edge) } {}
                text x=(LEFT) y="14" { (series.quantity) ", " (series.unit) }
                text x=(place(middle)) y=(HEIGHT - 12.0) text-anchor="middle" { (axis_words(series)) }
                @if let Some(limit) = series.limit {
                    @let y = scale.y(limit);
                    path.limit d={ "M" (LEFT) " " (place(y)) "H" (edge) } {}
                    text x=(edge) y=(place(y - 5.0)) text-anchor="end" { "limit set by a person" }
                }
                @for (before, after) in series.points.iter().zip(series.points.iter().skip(1)) {
                    @if before.series == after.series {
                        path.line d={ "M" (place(scale.x(before.x))) " " (place(scale.y(before.value))) "L" (place(scale.x(after.x))) " " (place(scale.y(after.value))) } {}
                    } @else {
                        @let x = (scale.x(before.x) + scale.x(after.x)) / 2.0;
                        path.treated d={ "M" (place(x)) " " (TOP) "V" (base) } {}
                        text x=(place(x + 4.0)) y=(TOP + 8.0) { "treated" }
                    }
                }
                @for (point, label) in series.points.iter().zip(&labels) {
                    (mark(point, &scale))
                    @if let Some((x, y, anchor)) = label {
                        text x=(place(*x)) y=(place(*y)) text-anchor=(anchor) { (short_day(&point.date)) }
                    }
                }
            }
            @if !small { figcaption { (sentence_of(series)) } }
        }
    }
}

fn mark(point: &Point, scale: &Scale) -> Markup {
    let (x, y) = (scale.x(point.x), scale.y(point.value));
    html! {
        @if let Some(spread) = point.spread {
            @let high = scale.y(point.value + spread);
            @let low = scale.y(point.value - spread);
            path.bar d={ "M" (place(x)) " " (place(high)) "V" (place(low)) "M" (place(x - 5.0)) " " (place(high)) "h10M" (place(x - 5.0)) " " (place(low)) "h10" } {}
        }
        path.mark d={ "M" (place(x - 4.5)) " " (place(y)) "l4.5 -4.5l4.5 4.5l-4.5 4.5z" } {}
    }
}

/// A date over each bar where there is room; the first and the last come first.
fn label_places(series: &Series, scale: &Scale) -> Vec<Option<(f64, f64, &'static str)>> {
    let mut taken: Vec<f64> = Vec::new();
    let mut labels = vec![None; series.points.len()];
    let last = series.points.len().saturating_sub(1);
    let order = [last, 0].into_iter().chain(1..last);
    for at in order {
        let (Some(point), Some(label)) = (series.points.get(at), labels.get_mut(at)) else {
            continue;
        };
        let x = scale.x(point.x);
        if label.is_some() || taken.iter().any(|other| (other - x).abs() < APART) {
            continue;
        }
        taken.push(x);
        let anchor = if x > WIDTH - RIGHT - APART / 2.0 {
            "end"
        } else if x < LEFT + APART / 2.0 {
            "start"
        } else {
            "middle"
        };
        let top = scale.y(point.value + point.spread.unwrap_or(0.0));
        *label = Some((x, (top - 8.0).max(TOP - 4.0), anchor));
    }
    labels
}

fn sentence_of(series: &Series) -> String {
    let note = series
        .note
        .as_ref()
        .map(|note| format!(" {}.", crate::report::words::sentence(note)))
        .unwrap_or_default();
    let without = series.points.iter().filter(|p| p.spread.is_none()).count();
    let bare = if without > 0 {
        " A point without a bar has no stated uncertainty."
    } else {
        ""
    };
    format!(
        "{} against {}. Bars are the expanded uncertainty (k = 2); growth counts only beyond them.{bare}{note}",
        crate::report::words::sentence(&series.quantity),
        axis_words(series)
    )
}

fn in_words(series: &Series) -> String {
    let points: Vec<String> = series
        .points
        .iter()
        .map(|p| format!("{}: {}", short_day(&p.date), p.says))
        .collect();
    format!(
        "{} against {}: {}",
        series.quantity,
        axis_words(series),
        points.join("; ")
    )
}

fn place(value: f64) -> String {
    format!("{value:.1}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn series(points: &[(f64, f64, Option<f64>)]) -> Series {
        Series {
            quantity: "length".into(),
            unit: "mm".into(),
            against: Against::Hours,
            meter: Some("tach".into()),
            note: None,
            points: points
                .iter()
                .map(|(x, value, spread)| Point {
                    x: *x,
                    date: "2026-05-09".into(),
                    value: *value,
                    spread: *spread,
                    series: 0,
                    says: format!("{value} mm"),
                })
                .collect(),
            limit: None,
        }
    }

    #[test]
    fn axis_figures_are_round_and_within() {
        assert_eq!(round_steps(0.0, 60.0, 4.0), [0.0, 20.0, 40.0, 60.0]);
        assert_eq!(round_steps(3140.0, 3250.0, 6.0).first(), Some(&3140.0));
        assert_eq!(round_steps(1.0, 1.0, 4.0), [1.0]);
        assert_eq!(figure_of(20.0), "20");
        assert_eq!(figure_of(0.25), "0.25");
        assert_eq!(figure_of(3200.0), "3200");
    }

    #[test]
    fn bars_are_as_long_as_twice_the_uncertainty_on_the_axis() {
        let drawn = series(&[(10.0, 20.0, Some(2.0)), (20.0, 40.0, Some(4.0))]);
        let scale = Scale::of(&drawn);
        let per_mm = (scale.y(0.0) - scale.y(10.0)) / 10.0;
        assert!((scale.y(18.0) - scale.y(22.0) - 4.0 * per_mm).abs() < 1e-9);
        let svg = growth(&drawn, false).into_string();
        assert_eq!(svg.matches("class=\"bar\"").count(), 2);
        assert_eq!(svg.matches("class=\"line\"").count(), 1);
    }

    #[test]
    fn one_point_or_odd_figures_draw_nothing_wrong() {
        assert_eq!(
            growth(&series(&[(1.0, 2.0, None)]), false).into_string(),
            ""
        );
        let same = growth(&series(&[(5.0, 0.0, None), (5.0, 0.0, None)]), false).into_string();
        assert!(!same.contains("NaN") && !same.contains("inf"), "{same}");
    }
}
