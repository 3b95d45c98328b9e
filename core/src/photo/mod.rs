//! Photographs that measure and compare.
