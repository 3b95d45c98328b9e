//! Finding a zone by code, name, spoken words or a tap.

use unicode_normalization::UnicodeNormalization;

use super::path::{area, inside, middle};
use super::types::{Layout, Point, Side, Stop, View, Zone};
use crate::datafile::short;
use crate::error::{Error, ErrorKind, Result};

fn folded(text: &str) -> String {
    text.trim().nfc().collect::<String>().to_lowercase()
}

impl Zone {
    /// Every way to say it with its side in front: `left wheel pant`, `left spat`; without a side the
    /// words alone. The name comes first.
    pub fn spoken_with_side(&self) -> Vec<String> {
        let mut all = vec![self.name.to_lowercase()];
        for word in &self.spoken {
            let said = match self.side {
                Side::None => word.clone(),
                side => format!("{} {word}", side.word()),
            };
            if !all.contains(&said) {
                all.push(said);
            }
        }
        all
    }

    /// A point in the middle of the zone's first shape on a drawing.
    pub fn middle_on(&self, view: &str) -> Option<Point> {
        let shape = self.shapes.iter().find(|shape| shape.view == view)?;
        Some(middle(&shape.points))
    }

    /// The drawing that shows the zone largest, the first of several alike.
    pub fn best_view(&self) -> Option<&str> {
        self.shapes
            .iter()
            .rev()
            .max_by(|a, b| area(&a.points).total_cmp(&area(&b.points)))
            .map(|shape| shape.view.as_str())
    }
}

impl Layout {
    /// The zone with this code.
    pub fn zone(&self, code: &str) -> Option<&Zone> {
        self.zones.iter().find(|zone| zone.code == code)
    }

    /// The stop with this key.
    pub fn stop(&self, key: &str) -> Option<&Stop> {
        self.stops.iter().find(|stop| stop.key == key)
    }

    /// The first stop on the route that covers a zone.
    pub fn stop_of(&self, code: &str) -> Option<&Stop> {
        self.stops
            .iter()
            .find(|stop| stop.zones.iter().any(|zone| zone == code))
    }

    /// The stop that a person means by its key or name.
    ///
    /// Errors: `Unknown` with the nearest names.
    pub fn find_stop(&self, text: &str) -> Result<&Stop> {
        let wanted = folded(text);
        let key = wanted.replace([' ', '-'], "_");
        self.stops
            .iter()
            .find(|stop| stop.key == key || folded(&stop.name) == wanted)
            .ok_or_else(|| {
                Error::new(
                    ErrorKind::Unknown,
                    format!("there is no stop \"{}\"", short(text)),
                )
                .at(&self.name)
                .hint(crate::datafile::did_you_mean(
                    &key,
                    self.stops.iter().map(|stop| stop.key.as_str()),
                    &format!(
                        "the layout lists its stops: witnessmark layout show {}",
                        self.name
                    ),
                ))
            })
    }

    /// The overall view with this key.
    pub fn view(&self, key: &str) -> Option<&View> {
        self.views.iter().find(|view| view.key == key)
    }

    /// The zone that a person means by a code, a name or spoken words (case and Unicode form do not
    /// matter; `left spat`, `721`, `Nose wheel`).
    ///
    /// Errors: `Unknown` with the nearest names; `Ambiguous` where the side was left out.
    pub fn find_zone(&self, text: &str) -> Result<&Zone> {
        let wanted = folded(text);
        if let Some(zone) = self.zone(&wanted) {
            return Ok(zone);
        }
        let named = |zone: &&Zone| zone.spoken_with_side().contains(&wanted);
        if let Some(zone) = self.zones.iter().find(named) {
            return Ok(zone);
        }
        let sided: Vec<&Zone> = self
            .zones
            .iter()
            .filter(|zone| zone.spoken.contains(&wanted))
            .collect();
        if let [zone] = sided.as_slice() {
            return Ok(zone);
        }
        let list = |zones: &[&Zone]| {
            zones
                .iter()
                .map(|zone| format!("{} {}", zone.code, zone.name))
                .collect::<Vec<_>>()
                .join(", ")
        };
        if !sided.is_empty() {
            return Err(Error::new(
                ErrorKind::Ambiguous,
                format!("\"{}\" may be several zones", short(text)),
            )
            .at(short(text))
            .hint(format!("say which: {}", list(&sided))));
        }
        let near = self.nearest(text);
        Err(Error::new(
            ErrorKind::Unknown,
            format!("there is no zone \"{}\" in {}", short(text), self.name),
        )
        .at(short(text))
        .hint(if near.is_empty() {
            format!(
                "the layout lists its zones: witnessmark layout show {}",
                self.name
            )
        } else {
            format!("nearest: {}", list(&near))
        }))
    }

    /// Up to three zones whose code or names come nearest to the text, nearest first.
    pub fn nearest(&self, text: &str) -> Vec<&Zone> {
        let wanted: String = folded(text).chars().take(80).collect();
        if wanted.is_empty() {
            return Vec::new();
        }
        let mut ranked: Vec<(f64, &Zone)> = self
            .zones
            .iter()
            .map(|zone| {
                let mut best = strsim::normalized_damerau_levenshtein(&wanted, &zone.code);
                for said in zone.spoken_with_side().iter().chain(&zone.spoken) {
                    best = best.max(strsim::normalized_damerau_levenshtein(&wanted, said));
                }
                (best, zone)
            })
            .filter(|(likeness, _)| *likeness >= 0.5)
            .collect();
        ranked.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.code.cmp(&b.1.code)));
        ranked.truncate(3);
        ranked.into_iter().map(|(_, zone)| zone).collect()
    }

    /// The zone at a point of a drawing (`plan`, `left_side` …; inches of the drawing, see [`Point`]):
    /// the smallest shape there, so that a hinge can be tapped on its aileron.
    pub fn zone_at(&self, view: &str, x: f64, y: f64) -> Option<&Zone> {
        self.zones
            .iter()
            .flat_map(|zone| zone.shapes.iter().map(move |shape| (zone, shape)))
            .filter(|(_, shape)| shape.view == view && inside(&shape.points, x, y))
            .min_by(|a, b| area(&a.1.points).total_cmp(&area(&b.1.points)))
            .map(|(zone, _)| zone)
    }

    /// [`Layout::zone_at`] for a point as people type it: `x,y`.
    ///
    /// # Errors
    /// `BadValue` for what is no point; `Unknown` for a drawing that the layout does not have.
    pub fn zone_hit(&self, view: &str, point: &str) -> Result<Option<&Zone>> {
        let figures: Vec<f64> = point
            .split(',')
            .filter_map(|part| part.trim().parse().ok())
            .filter(|figure: &f64| figure.is_finite())
            .collect();
        let (&[x, y], 2) = (figures.as_slice(), point.split(',').count()) else {
            return Err(Error::new(
                ErrorKind::BadValue,
                format!("\"{}\" is no point", short(point)),
            )
            .at("point")
            .hint("write it as X,Y in inches of the drawing: -40,120"));
        };
        if !self.outlines.iter().any(|outline| outline.view == view) {
            let views: Vec<&str> = self.outlines.iter().map(|o| o.view.as_str()).collect();
            return Err(Error::new(
                ErrorKind::Unknown,
                format!("{} has no drawing \"{}\"", self.name, short(view)),
            )
            .at("--view")
            .hint(format!("one of: {}", views.join(", "))));
        }
        Ok(self.zone_at(view, x, y))
    }

    /// Zones filed under an ATA chapter (two digits), by code.
    pub fn zones_of_chapter<'a>(&'a self, chapter: &'a str) -> impl Iterator<Item = &'a Zone> {
        self.zones
            .iter()
            .filter(move |zone| zone.ata.iter().any(|ata| ata.chapter == chapter))
    }
}
