//! The scale card: a printed card of ID-1 size with a millimetre rule. It is drawn as a neutral
//! scale and never as a payment or identity card.
//!
//! Size and corners by ISO/IEC 7810: 85.60 mm by 53.98 mm, corner radius 3.18 mm (2.88 to
//! 3.48 mm), thickness 0.76 mm.

use super::Letters;
use crate::geometry::{Bounds, Point, Shape, turned};
use crate::surface::{Look, Mark, Material, Reach, Surface};

/// A card that lies on the plane, or is held a little above it.
#[derive(Clone, Debug)]
pub struct Card {
    /// Its middle in millimetres.
    pub centre: Point,
    /// Turn in radians, clockwise on the picture.
    pub turn: f64,
    /// Colour of the card.
    pub colour: [f32; 3],
    /// How far its face is above the plane in millimetres; its own thickness is left out.
    pub lift: f64,
    /// Seed of its texture.
    pub seed: u64,
    letters: Vec<(Bounds, Letters)>,
    /// Cosine and sine of the turn.
    axis: Point,
}

impl Card {
    /// Width and height in millimetres (ISO/IEC 7810, ID-1).
    pub const SIZE: [f64; 2] = [85.60, 53.98];
    /// Radius of the corners in millimetres (ISO/IEC 7810).
    pub const CORNER: f64 = 3.18;
    const HEIGHT: f64 = 0.76;

    /// A card lying flat.
    pub fn lying(centre: Point, turn: f64, colour: [f32; 3], seed: u64) -> Card {
        let mut card = Card {
            centre,
            turn,
            colour,
            lift: 0.0,
            seed,
            letters: Vec::new(),
            axis: [turn.cos(), turn.sin()],
        };
        let mut print = |text: &str, x: f64, y: f64, height: f64| {
            let mut line = Letters::new(text, [x, y], height);
            line.strength = 0.8;
            card.letters.push((line.bounds(), line));
        };
        print("SCALE 85.60 X 53.98 MM", -37.0, -9.0, 3.9);
        print("LAY FLAT BESIDE THE MARK", -37.0, -1.0, 2.6);
        print("WITNESSMARK  NOT AN IDENTITY CARD", -37.0, 21.5, 2.2);
        for cm in 0..8 {
            print(
                &format!("{cm}"),
                -36.0 + 10.0 * f64::from(cm) - 0.9,
                -13.8,
                2.2,
            );
        }
        card
    }

    /// Held or lying this far above the plane.
    pub fn lifted(mut self, lift: f64) -> Card {
        self.lift = lift;
        self
    }

    fn outline(&self) -> Shape {
        Shape::Plate {
            centre: self.centre,
            half: [Card::SIZE[0] / 2.0, Card::SIZE[1] / 2.0],
            corner: Card::CORNER,
            turn: self.turn,
        }
    }

    /// The four corners where its straight edges would meet, clockwise from its own top left.
    pub fn corners(&self) -> [Point; 4] {
        let (w, h) = (Card::SIZE[0] / 2.0, Card::SIZE[1] / 2.0);
        [[-w, -h], [w, -h], [w, h], [-w, h]].map(|c| {
            let t = turned(c, self.turn);
            [self.centre[0] + t[0], self.centre[1] + t[1]]
        })
    }
}

impl Mark for Card {
    fn bounds(&self) -> Bounds {
        self.outline()
            .bounds()
            .grown(4.0 * (self.lift + Card::HEIGHT) + 1.0)
    }

    fn reach(&self, centre: Point, radius: f64) -> Reach {
        // A lifted card is seen elsewhere than where it stands, so only a flat one hides.
        if self.lift <= 0.0 && self.outline().distance(centre) < -1.1 * radius {
            Reach::Hides
        } else {
            Reach::Touches
        }
    }

    fn apply(&self, at: Point, look: &Look, surface: &mut Surface) {
        let up = self.lift + Card::HEIGHT;
        let [cos, sin] = self.axis;
        // In the card's own axes the outline is level.
        let own = |p: Point| {
            let (x, y) = (p[0] - self.centre[0], p[1] - self.centre[1]);
            [cos * x + sin * y, cos * y - sin * x]
        };
        let outline = Shape::Plate {
            centre: [0.0; 2],
            half: [Card::SIZE[0] / 2.0, Card::SIZE[1] / 2.0],
            corner: Card::CORNER,
            turn: 0.0,
        };
        let q = own(look.raised(at, self.lift));
        let d = outline.distance(q);
        if d > -look.footprint {
            let from = [at[0] + look.sun[0] * up, at[1] + look.sun[1] * up];
            let soft = 0.5 * up + look.footprint;
            let s = outline.distance(own(from));
            surface.lit *= 1.0 - 0.8 * (0.5 - s / (2.0 * soft)).clamp(0.0, 1.0) as f32;
        }
        if d > look.footprint {
            return;
        }
        surface.edge |= look.close(d);
        let mut own = Material::Paper(self.colour).at(q, look.grain, self.seed);
        own.gloss = 0.08;
        // Ticks of the rule along the upper edge, one a millimetre, longer at 5 and 10.
        let x = q[0] + 36.0;
        let tick = x.round();
        if (0.0..=72.0).contains(&tick) {
            let n = tick as i64;
            let long = match n % 10 {
                0 => 7.0,
                5 => 5.2,
                _ => 3.6,
            };
            let y = q[1] + 24.6;
            if (-0.2..long + 0.2).contains(&y) {
                // Thin enough for its coverage to be exact without finer samples.
                let half = 0.11;
                let cover = look.coverage((x - tick).abs() - half)
                    * look.coverage((y - long / 2.0).abs() - long / 2.0)
                    * (2.0 * half / look.footprint).min(1.0) as f32;
                own.tint([0.02, 0.02, 0.02], 0.9 * cover);
            }
        }
        // A grey wedge with four steps, for the eye, and a bar in black and white fields.
        let mut field = |low: Point, high: Point, step: f64, shades: &[f32]| {
            let inside = (q[0] - low[0]).min(high[0] - q[0]);
            let inside = inside.min(q[1] - low[1]).min(high[1] - q[1]);
            if inside < 0.0 {
                own.edge |= inside > -1.6 * look.footprint;
                return;
            }
            let place = (q[0] - low[0]) / step;
            let joint = (place - place.round()).abs() * step;
            own.edge |= joint.min(inside) < 1.6 * look.footprint;
            own.tint([shades[place as usize % shades.len()]; 3], 1.0);
        };
        field([-37.0, 4.0], [-5.0, 14.0], 8.0, &[0.04, 0.14, 0.32, 0.60]);
        field([0.0, 6.0], [36.0, 10.0], 6.0, &[0.03, 0.70]);
        for (bounds, letters) in &self.letters {
            if bounds.holds(q) {
                letters.apply(q, look, &mut own);
            }
        }
        surface.edge |= own.edge;
        surface.cover(&own, look.coverage(d));
    }
}
