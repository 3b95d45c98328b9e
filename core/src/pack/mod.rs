//! Handing over: bags (BagIt, RFC 8493) that anybody can check, as a folder or a zip.
//!
//! A pack is looked at in this order, and nothing is written before the last step is through:
//! [`members`] names and sizes alone (limits, links, collisions), [`bag`] every byte against the
//! manifests in one pass, then the record inside line by line.

pub mod bag;
pub mod cut;
pub mod exchange;
pub mod manifest;
pub mod members;
pub mod names;
pub mod packer;
pub mod receive;
mod removed;
pub mod strip;
#[cfg(test)]
pub(crate) mod testing;
pub mod verify;
pub mod zip_read;
pub mod zip_write;
