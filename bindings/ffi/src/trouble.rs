//! What can go wrong, in the few ways on which a shell acts differently.

use witnessmark_core::{Error, ErrorKind, without_commands};

/// Result of every fallible call.
pub type Answer<T> = Result<T, Trouble>;

macro_rules! troubles {
    ($($(#[$m:meta])* $name:ident,)*) => {
        /// What happened, where, and what to do next: three texts to show as they are, in each of the
        /// ways on which a shell acts differently. `code` is the core's stable word.
        #[derive(Debug, Clone, PartialEq, Eq, uniffi::Error)]
        pub enum Trouble {
            $($(#[$m])* $name {
                /// Stable word of the core.
                code: String,
                /// What happened, one sentence.
                what: String,
                /// File, zone or field; may be empty.
                r#where: String,
                /// What to do next; may be empty.
                what_to_do: String,
            },)*
        }

        impl std::fmt::Display for Trouble {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                match self {
                    $(Self::$name { what, r#where, what_to_do, .. } => {
                        if !r#where.is_empty() {
                            write!(f, "{}: ", r#where)?;
                        }
                        f.write_str(what)?;
                        if !what_to_do.is_empty() {
                            write!(f, "; {what_to_do}")?;
                        }
                        Ok(())
                    })*
                }
            }
        }

        impl From<Error> for Trouble {
            fn from(error: Error) -> Self {
                let Error { kind, what, place, remedy } = error;
                let code = kind.code().to_owned();
                // A shell has neither commands nor flags.
                let (what, remedy) = (without_commands(&what), without_commands(&remedy));
                let place = place.trim_start_matches("--").to_owned();
                match variant(kind) {
                    $(Variant::$name => Self::$name {
                        code,
                        what,
                        r#where: place,
                        what_to_do: remedy,
                    },)*
                }
            }
        }

        enum Variant { $($name,)* }
    };
}

troubles! {
    /// The call or what was handed in cannot be used; nothing was changed. Show it, let the person
    /// put it right.
    Input,
    /// The object was shut.
    Closed,
    /// The work was stopped because the shell asked for it; nothing was kept.
    Cancelled,
    /// There is no notebook in the folder: offer a first start.
    NoNotebook,
    /// Somebody else is writing to it: try again.
    Busy,
    /// The storage is full: nothing was half-written.
    NoSpace,
    /// The system refused access: ask for it, or do without.
    NoPermission,
    /// Stored bytes are not those that were recorded: open for reading, offer to hand it over.
    Damaged,
    /// Written by a newer version: offer an update; nothing was touched.
    Newer,
    /// Any other failure of the machine.
    Machine,
}

fn variant(kind: ErrorKind) -> Variant {
    match kind {
        ErrorKind::Closed => Variant::Closed,
        ErrorKind::Cancelled => Variant::Cancelled,
        ErrorKind::NoNotebook => Variant::NoNotebook,
        ErrorKind::Busy => Variant::Busy,
        ErrorKind::DiskFull => Variant::NoSpace,
        ErrorKind::NoPermission => Variant::NoPermission,
        ErrorKind::Damaged => Variant::Damaged,
        ErrorKind::Newer => Variant::Newer,
        ErrorKind::Io => Variant::Machine,
        _ => Variant::Input,
    }
}

impl std::error::Error for Trouble {}

/// The object was shut, or an internal failure shut it.
pub(crate) fn closed(what: &str, remedy: &str) -> Trouble {
    Error::new(ErrorKind::Closed, what).hint(remedy).into()
}
