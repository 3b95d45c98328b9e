//! What a record can prove, and to whom: the tree that a finish signs, the code printed of it, the
//! time stamp that somebody else puts on it.
//!
//! What each is worth, said wherever it is shown: a digest proves that a file is the one that was
//! recorded, not that the picture is true. The holder of a key could rewrite a whole chain; what
//! exposes that is another author's vouching, a proof code printed or sent at the time, or a time
//! stamp of a stranger.

pub mod code;
pub mod merkle;
pub mod qr;
pub mod timestamp;

/// The sentences that stand wherever a proof is shown.
pub const WORTH: &str = "A digest proves that a file is the one that was recorded, not that the \
picture is true. The holder of a key could rewrite a whole chain; another author's vouching, a \
printed proof code or a time stamp is what exposes that.";
