//! The one object that a shell holds.
