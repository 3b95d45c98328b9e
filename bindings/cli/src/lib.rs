//! Nothing here: the program is in main.rs.
