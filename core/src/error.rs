//! What can go wrong, in one shape: what happened, where, and what to do next.
//!
//! One struct with a fieldless kind rather than a type per module: whoever reads an error needs the
//! three sentences, and whoever handles one needs the kind. Shells map kinds to a handful of
//! variants through [`ErrorKind::class`].

use std::fmt;

/// Result of every fallible call in this library.
pub type Result<T> = std::result::Result<T, Error>;

/// Who has to act on an error.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ErrorClass {
    /// The call or its input was wrong; nothing was changed. Exit status 2.
    Input,
    /// The machine failed: disk full, no permission, damaged medium. Exit status 3.
    Machine,
    /// The record contradicts itself or its proof. Exit status 1.
    Record,
}

/// Stable kinds; `code` is what `--json` prints.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum ErrorKind {
    /// A value that cannot be used (number, unit, time, registration, name …).
    BadValue,
    /// Something named does not exist (zone, stop, finding, entry, file …).
    Unknown,
    /// A short form that fits several things.
    Ambiguous,
    /// It already exists and would be doubled.
    AlreadyThere,
    /// Past a stated limit (design section 12).
    TooLarge,
    /// Bytes that are not what they claim to be.
    BadFormat,
    /// A newer format than this program knows.
    Newer,
    /// The call does not fit the present state (no walkaround open …).
    WrongState,
    /// Another program is writing to this notebook.
    Busy,
    /// No notebook at or above the folder.
    NoNotebook,
    /// The object was closed.
    Closed,
    /// The person or shell cancelled.
    Cancelled,
    /// Refused by a rule (a hold, another author's entry …).
    Refused,
    /// Open questions must be answered first.
    OpenQuestions,
    /// The disk is full.
    DiskFull,
    /// The system refused access.
    NoPermission,
    /// Any other failure of the machine.
    Io,
    /// Stored bytes are not those that were recorded.
    Damaged,
}

impl ErrorKind {
    /// Stable word for programs.
    pub fn code(self) -> &'static str {
        match self {
            Self::BadValue => "bad_value",
            Self::Unknown => "unknown",
            Self::Ambiguous => "ambiguous",
            Self::AlreadyThere => "already_there",
            Self::TooLarge => "too_large",
            Self::BadFormat => "bad_format",
            Self::Newer => "newer",
            Self::WrongState => "wrong_state",
            Self::Busy => "busy",
            Self::NoNotebook => "no_notebook",
            Self::Closed => "closed",
            Self::Cancelled => "cancelled",
            Self::Refused => "refused",
            Self::OpenQuestions => "open_questions",
            Self::DiskFull => "disk_full",
            Self::NoPermission => "no_permission",
            Self::Io => "io",
            Self::Damaged => "damaged",
        }
    }

    /// Who has to act.
    pub fn class(self) -> ErrorClass {
        match self {
            Self::DiskFull | Self::NoPermission | Self::Io | Self::Busy => ErrorClass::Machine,
            Self::Damaged | Self::OpenQuestions => ErrorClass::Record,
            _ => ErrorClass::Input,
        }
    }
}

/// An error: what happened, to which file or zone, what to do next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Error {
    /// Stable kind.
    pub kind: ErrorKind,
    /// What happened, one sentence without a final stop.
    pub what: String,
    /// File, zone, finding or field it happened to; may be empty.
    pub place: String,
    /// What to do next; may be empty.
    pub remedy: String,
}

impl Error {
    /// An error with nothing but what happened.
    pub fn new(kind: ErrorKind, what: impl Into<String>) -> Self {
        Self {
            kind,
            what: what.into(),
            place: String::new(),
            remedy: String::new(),
        }
    }

    /// Names the file, zone or field.
    #[must_use]
    pub fn at(mut self, place: impl fmt::Display) -> Self {
        self.place = place.to_string();
        self
    }

    /// Says what to do next.
    #[must_use]
    pub fn hint(mut self, remedy: impl Into<String>) -> Self {
        self.remedy = remedy.into();
        self
    }

    /// A failure of the machine while working on `place`.
    pub fn io(error: &std::io::Error, place: impl fmt::Display) -> Self {
        use std::io::ErrorKind as K;
        let (kind, what, remedy) = match error.kind() {
            K::StorageFull | K::QuotaExceeded => (
                ErrorKind::DiskFull,
                "the disk is full; nothing was half-written".to_owned(),
                "free some space and do it again",
            ),
            K::PermissionDenied | K::ReadOnlyFilesystem => (
                ErrorKind::NoPermission,
                "the system refused access".to_owned(),
                "check who owns the folder and whether it may be written",
            ),
            K::NotFound => (
                ErrorKind::Unknown,
                "there is no such file".to_owned(),
                "check the name",
            ),
            K::IsADirectory => (
                ErrorKind::BadValue,
                "this is a folder, not a file".to_owned(),
                "name the files in it",
            ),
            _ => (
                ErrorKind::Io,
                format!("the system reported: {error}"),
                "try again; if it stays, copy the notebook to another disk",
            ),
        };
        Self::new(kind, what).at(place).hint(remedy)
    }
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if !self.place.is_empty() {
            write!(f, "{}: ", self.place)?;
        }
        write!(f, "{}", self.what)?;
        if !self.remedy.is_empty() {
            write!(f, "; {}", self.remedy)?;
        }
        Ok(())
    }
}

impl std::error::Error for Error {}

/// Advice without the commands of a desk, for shells that have none: what follows `: witnessmark …` or
/// `: --…` up to the next semicolon goes, and so does what stands in brackets and begins so. Texts of this
/// library are written so that the rest still says what to do (`tests/hygiene` holds them to it).
pub fn without_commands(text: &str) -> String {
    let mut out = text.to_owned();
    for (begin, end, keep_end) in [
        (" (witnessmark ", ')', false),
        (" (--", ')', false),
        (": witnessmark ", ';', true),
        (": --", ';', true),
    ] {
        while let Some(from) = out.find(begin) {
            let to = out[from..].find(end).map_or(out.len(), |at| {
                from + at + if keep_end { 0 } else { end.len_utf8() }
            });
            out.replace_range(from..to, "");
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::without_commands;

    #[test]
    fn advice_stays_and_commands_go() {
        for (desk, shell) in [
            (
                "finish it first: witnessmark walkaround finish",
                "finish it first",
            ),
            (
                "a check says what it touches: witnessmark verify; take the file back from a backup",
                "a check says what it touches; take the file back from a backup",
            ),
            (
                "say which (--aircraft): N0AB, N0CD",
                "say which: N0AB, N0CD",
            ),
            (
                "give each device its own notebook and key (witnessmark init), and link them",
                "give each device its own notebook and key, and link them",
            ),
            ("say how: --settles F=how", "say how"),
            (
                "use a newer witnessmark; nothing was touched",
                "use a newer witnessmark; nothing was touched",
            ),
            ("", ""),
        ] {
            assert_eq!(without_commands(desk), shell);
        }
    }
}
