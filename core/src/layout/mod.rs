//! How an aircraft is laid out: zones, stops, overall views, outlines for the drawing.
//!
//! Each built-in layout is one file in `core/layouts`, complete in itself, so that a user can copy one
//! and change it. The first digit of a zone code is the published ATA 100 major zone; the other two
//! digits are this project's own, and every list of codes says so ([`CODES_NOTE`]).
//!
//! Pure: no files, no clock.

mod builtin;
mod check;
mod diagram;
mod find;
mod load;
mod path;
mod route;
#[cfg(test)]
mod tests;
mod types;

pub use check::{LayoutCheck, check_toml};
pub use diagram::{Callout, Diagram, DiagramOptions, Hatch, diagram};
pub use route::{Route, Turn};
pub use types::{
    Ata, Layout, LookFor, Outline, Part, Point, Shape, Side, Stop, Stroke, StrokeKind, View, Zone,
};

/// What every list of zone codes says about them.
pub const CODES_NOTE: &str = "The first digit is the published ATA 100 major zone; the other two digits are this project's own.";

/// What stands with every route.
pub const ROUTE_NOTE: &str = "The type's own flight manual comes first: where its sequence differs, walk that. Published order:";

/// Edition of the FAA's JASC table that the four-digit codes follow, where one was read.
pub const JASC_EDITION: &str = "FAA JASC table, 27 October 2008";

/// The ATA 100 major zones: first digit and area as published (ATA 100 zoning). 9 is reserved.
pub const MAJOR_ZONES: [(char, &str); 9] = [
    ('1', "lower half of the fuselage"),
    ('2', "upper half of the fuselage"),
    ('3', "empennage"),
    ('4', "power plants and struts"),
    ('5', "left wing"),
    ('6', "right wing"),
    ('7', "landing gear and landing gear doors"),
    ('8', "doors"),
    (
        '9',
        "reserved for differences not covered by the standard series",
    ),
];
