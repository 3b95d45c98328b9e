//! The append-only record: lines, chains, keys.
