//! What a store says, in words a person can act on.

use witnessmark_core::{Error, ErrorKind};

/// True where another gateway, or the same one a little later, may answer better.
pub fn may_pass(error: &object_store::Error) -> bool {
    matches!(
        error,
        object_store::Error::Generic { .. } | object_store::Error::JoinError { .. }
    ) && ![NO_BUCKET, NO_RIGHT, EXPIRED, UNKNOWN, SKEWED]
        .into_iter()
        .any(|words| any(error, words))
}

// Codes of the S3 API's list of error responses. Not every request's error comes with its kind: a
// listing that is refused is `Generic`, so what the store wrote is read.
const NO_BUCKET: &[&str] = &["NoSuchBucket"];
const NO_RIGHT: &[&str] = &["AccessDenied"];
const EXPIRED: &[&str] = &["ExpiredToken", "TokenRefreshRequired"];
const UNKNOWN: &[&str] = &["InvalidAccessKeyId", "SignatureDoesNotMatch"];
const SKEWED: &[&str] = &["RequestTimeTooSkewed"];

/// True where the bucket itself is missing.
pub fn no_bucket(error: &object_store::Error) -> bool {
    any(error, NO_BUCKET)
}

/// True where these credentials may not do that.
pub fn no_right(error: &object_store::Error) -> bool {
    matches!(error, object_store::Error::PermissionDenied { .. }) || any(error, NO_RIGHT)
}

fn any(error: &object_store::Error, words: &[&str]) -> bool {
    words.iter().any(|word| said(error, word))
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
    if any(error, SKEWED) {
        return of(
            ErrorKind::Refused,
            "the store refused: the clock of this machine differs too much from the store's",
            "set the clock right, then try again; nothing was taken in",
        );
    }
    if any(error, EXPIRED) {
        return of(
            ErrorKind::NoPermission,
            "the store refused: the credentials have expired",
            "renew them (AWS_ACCESS_KEY_ID, AWS_SECRET_ACCESS_KEY, AWS_SESSION_TOKEN), then try again",
        );
    }
    if no_bucket(error) {
        return of(
            ErrorKind::Unknown,
            "the store has no bucket of that name",
            "check the address with whoever keeps the store",
        );
    }
    if any(error, UNKNOWN) || matches!(error, object_store::Error::Unauthenticated { .. }) {
        return of(
            ErrorKind::NoPermission,
            "the store does not know these credentials",
            "set AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY",
        );
    }
    if no_right(error) {
        return of(
            ErrorKind::NoPermission,
            "the store refused: these credentials have no right to do that here",
            "ask whoever keeps the store; witnessmark store policy writes out the rights that are needed",
        );
    }
    match error {
        object_store::Error::NotFound { .. } => of(
            ErrorKind::Unknown,
            "the store has nothing under that name",
            "check the address with whoever keeps the store",
        ),
        other => of(
            ErrorKind::Io,
            &format!("the store did not answer as it should: {other}"),
            "try again: what was left by then is whole, and meeting once more completes it",
        ),
    }
}
