//! Words spoken or typed, to a draft.
