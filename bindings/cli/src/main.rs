//! `witnessmark` in a terminal.
fn main() {}
