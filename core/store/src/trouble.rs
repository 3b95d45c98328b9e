//! What a store says, in words a person can act on.

use witnessmark_core::{Error, ErrorKind};

/// True where another gateway, or the same one a little later, may answer better.
pub fn may_pass(error: &object_store::Error) -> bool {
    matches!(
        error,
        object_store::Error::Generic { .. } | object_store::Error::JoinError { .. }
    ) && !said(error, "NoSuchBucket")
}

/// True where the bucket itself is missing.
pub fn no_bucket(error: &object_store::Error) -> bool {
    said(error, "NoSuchBucket")
}

fn said(error: &object_store::Error, word: &str) -> bool {
    let mut text = error.to_string();
    let mut source = std::error::Error::source(error);
    while let Some(inner) = source {
        text.push_str(&inner.to_string());
        source = inner.source();
    }
    text.contains(word)
}

/// The error of this project for one of the store's.
pub fn words(error: &object_store::Error, place: &str) -> Error {
    let of = |kind, what: &str, hint: &str| Error::new(kind, what).at(place).hint(hint);
    if said(error, "RequestTimeTooSkewed") {
        return of(
            ErrorKind::Refused,
            "the store refused: the clock of this machine differs too much from the store's",
            "set the clock right, then try again; nothing was taken in",
        );
    }
    if said(error, "ExpiredToken") || said(error, "TokenRefreshRequired") {
        return of(
            ErrorKind::NoPermission,
            "the store refused: the credentials have expired",
            "renew them (AWS_ACCESS_KEY_ID, AWS_SECRET_ACCESS_KEY, AWS_SESSION_TOKEN), then try again",
        );
    }
    if said(error, "NoSuchBucket") {
        return of(
            ErrorKind::Unknown,
            "the store has no bucket of that name",
            "check the address with whoever keeps the store",
        );
    }
    match error {
        object_store::Error::NotFound { .. } => of(
            ErrorKind::Unknown,
            "the store has nothing under that name",
            "check the address with whoever keeps the store",
        ),
        object_store::Error::PermissionDenied { .. } => of(
            ErrorKind::NoPermission,
            "the store refused: these credentials have no right to do that here",
            "ask whoever keeps the store; witnessmark store policy writes out the rights that are needed",
        ),
        object_store::Error::Unauthenticated { .. } => of(
            ErrorKind::NoPermission,
            "the store does not know these credentials",
            "set AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY",
        ),
        other => of(
            ErrorKind::Io,
            &format!("the store did not answer as it should: {other}"),
            "try again: what was left by then is whole, and meeting once more completes it",
        ),
    }
}
