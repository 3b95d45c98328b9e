//! The rights that a store's administrator gives one author.

use serde_json::{Value, json};
use witnessmark_core::record::Digest;

/// A bucket policy (S3 policy language 2012-10-17) for one author: writes only under their own key and
/// the common files named by their digest, deletes nothing, reads and lists everything. `principal` is
/// the store's own name for the person (it differs between servers, so it is asked for).
///
/// What it cannot demand, on any server that was tried: that nothing be overwritten. Versioning, and
/// object lock on the bucket where the server has it, keep what was there; readers refuse what is not
/// its name's digest.
pub fn policy(bucket: &str, prefix: &str, author: &Digest, principal: &str) -> Value {
    let below = if prefix.is_empty() {
        format!("arn:aws:s3:::{bucket}")
    } else {
        format!("arn:aws:s3:::{bucket}/{prefix}")
    };
    let who = json!({ "AWS": [principal] });
    json!({
        "Version": "2012-10-17",
        "Statement": [
            {
                "Sid": "writeOwnLinesAndFilesNamedByDigest",
                "Effect": "Allow",
                "Principal": who,
                // Large originals go up in parts; one that was broken off is cleared away by whoever began it.
                "Action": ["s3:PutObject", "s3:AbortMultipartUpload"],
                "Resource": [
                    format!("{below}/v1/n/{author}/*"),
                    format!("{below}/v1/e/*"),
                    format!("{below}/v1/s/*"),
                    format!("{below}/v1/probe/{author}/*"),
                ],
            },
            {
                "Sid": "readAll",
                "Effect": "Allow",
                "Principal": who,
                "Action": ["s3:GetObject"],
                "Resource": [format!("{below}/v1/*")],
            },
            {
                "Sid": "listAll",
                "Effect": "Allow",
                "Principal": who,
                "Action": ["s3:ListBucket"],
                "Resource": [format!("arn:aws:s3:::{bucket}")],
            },
        ],
    })
}
