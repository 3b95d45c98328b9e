//! Put right: a walk of the wrong aircraft, a recording with somebody else's voice.

use witnessmark_core::notebook::screens::*;

use crate::notebook::Notebook;
use crate::trouble::Answer;

#[uniffi::export]
impl Notebook {
    /// The walkaround was of another aircraft: moves it, with what hangs on it. Gives a sentence for a
    /// live region.
    ///
    /// # Errors
    /// `Input` for another author's walkaround or the same aircraft.
    pub fn move_walkaround(&self, walkaround: String, to: String) -> Answer<String> {
        self.core(|core| {
            let to = digest(&to, "aircraft")?;
            let moved = core.move_walkaround(&digest(&walkaround, "walkaround")?, &to)?;
            let registration = core.state(&to)?.registration;
            let stayed = match moved.left_behind {
                0 => String::new(),
                n => format!(" {n} about findings of the other aircraft stayed there, taken back."),
            };
            Ok(format!(
                "Moved to {registration}: {} entries said again there.{stayed}",
                moved.restated
            ))
        })
    }

    /// Removes a recording's bytes; digest, reason and author stay. True if the bytes are gone.
    ///
    /// # Errors
    /// `Input` where an event forbids it or the entry is not one's own to remove.
    pub fn remove_recording(&self, entry: String, why: String) -> Answer<bool> {
        self.core(|core| {
            core.remove_evidence(&digest(&entry, "recording")?, &why)
                .map(|taken| taken.deleted)
        })
    }
}
