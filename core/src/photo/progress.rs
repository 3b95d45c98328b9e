//! How a shell watches and stops a long piece of work: by polling two atomics, never by a callback.

use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};

use crate::error::{Error, ErrorKind, Result};

/// Shared by the thread that works and the one that shows how far it is.
#[derive(Debug, Default)]
pub struct Progress {
    cancel: AtomicBool,
    done: AtomicU32,
}

impl Progress {
    /// Nothing done, not cancelled.
    pub const fn new() -> Self {
        Self {
            cancel: AtomicBool::new(false),
            done: AtomicU32::new(0),
        }
    }

    /// Asks the work to stop at its next [`check`](Self::check).
    pub fn cancel(&self) {
        self.cancel.store(true, Ordering::Relaxed);
    }

    /// True once [`cancel`](Self::cancel) was called.
    pub fn is_cancelled(&self) -> bool {
        self.cancel.load(Ordering::Relaxed)
    }

    /// Called by the work between steps: an error of kind `Cancelled` once somebody asked for it.
    pub fn check(&self) -> Result<()> {
        if self.is_cancelled() {
            return Err(Error::new(
                ErrorKind::Cancelled,
                "stopped before it was finished; nothing was kept",
            ));
        }
        Ok(())
    }

    /// Called by the work: how far it is, in thousandths of the whole. Never runs backwards.
    pub fn set_done(&self, thousandths: u32) {
        self.done
            .fetch_max(thousandths.min(1000), Ordering::Relaxed);
    }

    /// How far the work is, in thousandths of the whole.
    pub fn done(&self) -> u32 {
        self.done.load(Ordering::Relaxed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cancelling_is_seen_by_the_next_check_and_progress_never_runs_backwards() {
        let p = Progress::new();
        assert!(p.check().is_ok());
        p.set_done(400);
        p.set_done(300);
        assert_eq!(p.done(), 400);
        p.set_done(5000);
        assert_eq!(p.done(), 1000);
        p.cancel();
        let e = p.check().unwrap_err();
        assert_eq!(e.kind, ErrorKind::Cancelled);
    }
}
