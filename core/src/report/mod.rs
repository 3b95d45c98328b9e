//! Pages, sheets and tables for people.

mod chart;
pub mod page;
