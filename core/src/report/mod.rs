//! Pages, sheets and tables for people.

mod chart;
mod diagram;
pub mod page;
mod picture;
