//! Draws photographs whose truth is known.
