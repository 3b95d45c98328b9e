//! The parts of a layout, as other modules read them.

use serde::Serialize;

use crate::sources::{Source, Standing};

/// Left and right as the pilot sits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Side {
    /// Left-hand.
    Left,
    /// Right-hand.
    Right,
    /// On the centre line, or the question does not arise.
    None,
}

impl Side {
    /// `left`, `right` or `none`.
    pub fn word(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Right => "right",
            Self::None => "none",
        }
    }
}

/// One way an aircraft of a kind is laid out.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Layout {
    /// Word that commands and entries use: `high_wing_strutted_fixed`.
    pub name: String,
    /// Words for people.
    pub title: String,
    /// Edition of the file; raised whenever a zone or stop changes meaning.
    pub edition: String,
    /// The side of the cabin door where the published route starts.
    pub door: Side,
    /// Where the order of the stops comes from.
    pub route_source: Source,
    /// Edition of the table that the four-digit JASC codes follow; each code says how well it is known.
    pub jasc_edition: Option<String>,
    /// The zones, sorted by code.
    pub zones: Vec<Zone>,
    /// The stops in the published order: from the cabin door, counter-clockwise seen from above.
    pub stops: Vec<Stop>,
    /// Fixed overall photographs, so that two sets taken months apart can be laid side by side.
    pub views: Vec<View>,
    /// Line drawings, one for each way of looking at the aircraft.
    pub outlines: Vec<Outline>,
}

/// A place on the aircraft that has a look of its own.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Zone {
    /// Three digits, the first being the published ATA major zone.
    pub code: String,
    /// Name for people, with its side: `left wheel fairing`.
    pub name: String,
    /// Which side.
    pub side: Side,
    /// Code of the same place on the other side.
    pub pair: Option<String>,
    /// Code of the zone that this one lies in (a hinge in its aileron).
    pub within: Option<String>,
    /// ATA chapters it is filed under, the likeliest first.
    pub ata: Vec<Ata>,
    /// Ways to say it, US and UK, lower case, *without* left or right: `wheel pant`, `spat`.
    pub spoken: Vec<String>,
    /// Finer places that people name in it.
    pub parts: Vec<Part>,
    /// True where a growth window is never computed: propeller, landing gear, mounts, controls,
    /// fittings and primary structure.
    pub no_window: bool,
    /// Where it stands on the drawings.
    pub shapes: Vec<Shape>,
}

/// An ATA chapter, with a JASC code where one is known.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Ata {
    /// Two digits: `32`.
    pub chapter: String,
    /// FAA JASC code, four digits ([`super::JASC_EDITION`]).
    pub jasc: Option<String>,
    /// How well the code is known; `None` without a code.
    pub jasc_mark: Option<Standing>,
}

/// A finer place in a zone, in the words people use.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Part {
    /// `lower aft screw`.
    pub name: String,
    /// Other ways to say it, lower case.
    pub spoken: Vec<String>,
}

/// A place to stand on the route.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Stop {
    /// Word that commands use: `left_main_gear`.
    pub key: String,
    /// Words for people.
    pub name: String,
    /// Codes of the zones it covers, in the order to look at them.
    pub zones: Vec<String>,
    /// What to look for.
    pub look_for: Vec<LookFor>,
    /// What can hurt somebody here, whole sentences.
    pub cautions: Vec<String>,
}

/// One thing to look for, and who says so.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LookFor {
    /// What.
    pub text: String,
    /// Document, edition, paragraph; its [`std::fmt::Display`] is for people.
    pub source: Source,
}

/// A fixed overall photograph.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct View {
    /// Word that entries use: `left_front_quarter`.
    pub key: String,
    /// Words for people.
    pub name: String,
    /// Where to stand and what must be in the frame.
    pub stand: String,
    /// Taken for a baseline.
    pub baseline: bool,
    /// Taken before and after handing the aircraft over.
    pub handing_over: bool,
    /// Codes of zones that it shows.
    pub zones: Vec<String>,
}

/// A point on a drawing, in inches of the drawing: `x` to the right as the pilot sits (plan, below, cabin)
/// or aft of the spinner tip (left_side, right_side); `y` aft of the spinner tip or up from the ground.
/// Drawn for place, not to the scale of any type.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Point {
    /// Across the page.
    pub x: f64,
    /// Down the page in plan, below and cabin, up the page in the side views.
    pub y: f64,
}

/// A closed outline of a zone on one drawing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Shape {
    /// Key of the drawing: `plan`, `below`, `left_side`, `right_side`, `cabin`.
    pub view: String,
    /// Corners, at least three.
    pub points: Vec<Point>,
    /// True where other parts stand in front of it: drawn dashed, as the trade draws hidden edges.
    pub hidden: bool,
    /// True where it is meant to lie over other zones' shapes (a wheel before the belly).
    pub over: bool,
}

/// How a line of a drawing is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum StrokeKind {
    /// The edge of the aircraft.
    Edge,
    /// A joint, a hinge line, a door.
    Fine,
    /// An edge behind something.
    Hidden,
}

/// A line of a drawing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Stroke {
    /// How it is drawn.
    pub kind: StrokeKind,
    /// Absolute path commands M, L, C, Q, Z over drawing inches.
    pub path: String,
}

/// One line drawing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Outline {
    /// `plan` (from above), `below` (the underside seen through from above, so that left stays left),
    /// `left_side`, `right_side` or `cabin`.
    pub view: String,
    /// Words under the drawing.
    pub title: String,
    /// The lines, first drawn first.
    pub strokes: Vec<Stroke>,
}
