//! The one door for every shell.
