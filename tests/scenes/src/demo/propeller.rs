//! A propeller blade from near: each is one plane, the same from walkaround to
//! walkaround but for what has grown, been treated or got dirty.

use super::Stage;
use super::parts::{CARD, MEADOW, grime};
use crate::geometry::{Bounds, Point, Shape, smooth};
use crate::marks::{Card, Tone};
use crate::scene::Scene;
use crate::surface::{Area, Look, Mark, Material, Reach, Specks, Surface};

/// A blade of the propeller with a nick in its leading edge, or with the nick dressed out.
pub fn blade(stage: &Stage, dressed: bool) -> Scene {
    let mut s = Scene::of(MEADOW, 41);
    let edge: Vec<Point> = smooth(
        &[
            [-400.0, -88.0],
            [-150.0, -72.0],
            [20.0, -63.0],
            [150.0, -58.0],
            [400.0, -40.0],
        ],
        10.0,
    );
    let mut outline = edge.clone();
    outline.extend(smooth(
        &[
            [400.0, 60.0],
            [150.0, 78.0],
            [-150.0, 96.0],
            [-400.0, 104.0],
        ],
        10.0,
    ));
    let paint = Material::Plastic([0.045, 0.046, 0.050]);
    s.lay(Area::flat(Shape::polygon(outline.clone(), 0.0), paint, 42).raised(75.0, 0.8, 10.0));
    // The leading edge is worn to bare metal in patches.
    let worn: Vec<Point> = edge.iter().map(|p| [p[0], p[1] + 3.2]).collect();
    s.lay(Area::flat(Shape::stroke(worn, 2.2), Material::Cast, 43));
    let face = Shape::polygon(outline, -1.0);
    // Small knocks along the leading edge, and the coloured tip.
    s.lay(Within {
        inside: vec![face.clone()],
        inner: Scene::default().with(Specks {
            region: Bounds {
                low: [-400.0, -90.0],
                high: [400.0, -40.0],
            },
            cell: 7.0,
            share: 0.22,
            radius: [0.15, 0.8],
            colour: [0.36, 0.36, 0.36],
            strength: 0.8,
            seed: 44,
        }),
    });
    let tip = Shape::Half {
        at: [116.0, 0.0],
        outward: [-1.0, 0.05],
    };
    s.lay(Within {
        inside: vec![face.clone(), tip],
        inner: Scene::of(Material::Plastic([0.55, 0.38, 0.03]), 45),
    });
    if dressed {
        s.lay(Tone {
            centre: [36.0, -52.0],
            reach: [30.0, 10.0],
            turn: 0.05,
            colour: [0.34, 0.34, 0.35],
            strength: 0.95,
            patchy: 0.25,
            seed: 46,
        });
        s.lay(Area::flat(
            Shape::Disc {
                centre: [36.0, -119.0],
                radius: 61.0,
            },
            MEADOW,
            41,
        ));
    } else {
        let nick = vec![
            [30.4, -70.0],
            [33.0, -60.6],
            [35.2, -56.6],
            [37.4, -57.6],
            [40.6, -61.4],
            [43.0, -70.0],
        ];
        s.lay(Within {
            inside: vec![face, Shape::polygon(nick.clone(), 1.0)],
            inner: Scene::of(Material::Metal(0.9), 47),
        });
        s.lay(Area::flat(Shape::polygon(nick, 0.0), MEADOW, 41));
        s = s.length(vec![[36.0, -62.1], [35.9, -56.9]]);
    }
    grime(&mut s, 0.03, 48 + stage.walk as u64);
    s.card(Card::lying(
        [-42.0 + stage.slip[0], 10.0 + stage.slip[1]],
        0.04 + stage.tilt,
        CARD,
        49,
    ))
}

/// Things that are seen only within all of these outlines; they leave the form of the surface as
/// it is.
struct Within {
    inside: Vec<Shape>,
    inner: Scene,
}

impl Mark for Within {
    fn bounds(&self) -> Bounds {
        Bounds::EVERYWHERE
    }

    fn reach(&self, centre: Point, radius: f64) -> Reach {
        let far = |shape: &Shape| shape.distance(centre) > 1.3 * radius;
        if self.inside.iter().any(far) {
            Reach::Misses
        } else {
            Reach::Touches
        }
    }

    fn apply(&self, at: Point, look: &Look, surface: &mut Surface) {
        let d = self
            .inside
            .iter()
            .map(|shape| shape.distance(at))
            .fold(f64::NEG_INFINITY, f64::max);
        surface.edge |= look.close(d);
        let cover = look.coverage(d);
        if cover <= 0.0 {
            return;
        }
        let mut own = *surface;
        for layer in &self.inner.layers {
            layer.apply(at, look, &mut own);
        }
        own.slope = surface.slope;
        own.lit = surface.lit;
        surface.edge |= own.edge;
        surface.cover(&own, cover);
    }
}
