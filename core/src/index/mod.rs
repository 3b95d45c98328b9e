//! SQLite over the record; derived, rebuildable.
