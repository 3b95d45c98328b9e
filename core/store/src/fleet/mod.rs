//! Questions over many aircraft: a table that any engine reads, and a view for whoever keeps the fleet.
//!
//! The table is derived: it can be deleted and written again from the notebooks at any time. It holds
//! no names of people, no notes and no positions; aircraft are named by the digest that names them in
//! the record, with the registration as last described.
//!
//! `sightings/year=YYYY/part.parquet`, one row a sighting:
//!
//! | column | type | holds |
//! | --- | --- | --- |
//! | `aircraft` | string | id, 64 hex digits |
//! | `registration`, `type` | string | as last described |
//! | `zone`, `zone_name` | string | three digits; name in the aircraft's layout |
//! | `condition` | string | the condition's name |
//! | `finding` | string | id, 64 hex digits |
//! | `date` | date32 | when it was seen |
//! | `hours` | float64, null | airframe total time in hours |
//! | `result` | string | `present`, `not_found`, `could_not_check` |
//! | `quantity`, `method` | string, null | what was measured first, and how |
//! | `value`, `u` | float64, null | that measure and its standard uncertainty, in `unit` |
//! | `unit` | string, null | one for each dimension: mm, mm2, mL, Pa, K, deg, s, count, drips/min, L/h, %, g, N, N m, V |
//! | `value_written`, `unit_written` | float64, string, null | the same as the person wrote it |
//! | `series` | int32 | how often it had been treated before |
//! | `open` | bool | whether the finding is open now |
//! | `concern` | string, null | the gravest one set by anybody |
//! | `late` | bool | recognised later, on an older photo |
//!
//! `looks/year=YYYY/part.parquet`, one row a zone and walkaround: `aircraft`, `registration`, `type`,
//! `walkaround` (id), `purpose`, `date`, `hours`, `zone`, `zone_name`, `looked` (`findings`,
//! `nothing_found`, `not_seen`, `not_looked_at`).

mod days;
mod due;
mod names;
mod page;
mod place;
mod rows;
mod si;
mod status;
mod table;
mod write;

pub use due::{Due, When};
pub use place::{to_bucket, to_folder};
pub use rows::{LookRow, SightingRow, gather};
pub use status::{AircraftStatus, FleetStatus, LastWalk, Worse, status};
pub use table::{Table, Written};
