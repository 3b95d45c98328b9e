//! Pages, sheets and tables for people.
