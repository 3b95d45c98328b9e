//! Snapshots and properties of every form, over a notebook with known content.
