//! Where a store is, and who may enter.

use witnessmark_core::{Error, ErrorKind, Result};

/// A bucket, a prefix in it, and the ways to reach it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Address {
    /// Bucket.
    pub bucket: String,
    /// Prefix without slashes at its ends; may be empty.
    pub prefix: String,
    /// Gateways, tried in turn; empty for the provider's own.
    pub endpoints: Vec<String>,
    /// Region; most stores of one's own do not care.
    pub region: String,
}

impl Address {
    /// Reads `s3://bucket/prefix`. `environment` gives the usual variables: `AWS_ENDPOINT_URL_S3` or
    /// `AWS_ENDPOINT_URL` (several gateways separated by commas), `AWS_REGION` or
    /// `AWS_DEFAULT_REGION`. The keys themselves (`AWS_ACCESS_KEY_ID`, `AWS_SECRET_ACCESS_KEY`,
    /// `AWS_SESSION_TOKEN`) are read when the store is opened.
    ///
    /// # Errors
    /// `BadValue` for anything else.
    pub fn parse(text: &str, environment: &dyn Fn(&str) -> Option<String>) -> Result<Self> {
        let bad = |what: &str| {
            Error::new(ErrorKind::BadValue, what)
                .at(text)
                .hint("write s3://BUCKET or s3://BUCKET/PREFIX")
        };
        let rest = text
            .strip_prefix("s3://")
            .ok_or_else(|| bad("this is no address of an object store"))?;
        let (bucket, prefix) = rest.split_once('/').unwrap_or((rest, ""));
        let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || "-.".contains(c);
        if bucket.len() < 3 || bucket.len() > 63 || !bucket.chars().all(plain) {
            return Err(bad(
                "the bucket's name has 3 to 63 of a-z, 0-9, hyphen and dot",
            ));
        }
        let prefix = prefix.trim_matches('/');
        if !prefix
            .chars()
            .all(|c| c.is_ascii_alphanumeric() || "-_./".contains(c))
            || prefix
                .split('/')
                .any(|part| part == ".." || part == "." || part.is_empty() && !prefix.is_empty())
        {
            return Err(bad("the prefix has letters, digits, - _ . and slashes"));
        }
        let endpoints = environment("AWS_ENDPOINT_URL_S3")
            .or_else(|| environment("AWS_ENDPOINT_URL"))
            .unwrap_or_default()
            .split(',')
            .map(str::trim)
            .filter(|endpoint| !endpoint.is_empty())
            .map(str::to_owned)
            .collect();
        Ok(Self {
            bucket: bucket.to_owned(),
            prefix: prefix.to_owned(),
            endpoints,
            region: environment("AWS_REGION")
                .or_else(|| environment("AWS_DEFAULT_REGION"))
                .unwrap_or_else(|| "us-east-1".to_owned()),
        })
    }

    /// As it was written.
    pub fn words(&self) -> String {
        if self.prefix.is_empty() {
            format!("s3://{}", self.bucket)
        } else {
            format!("s3://{}/{}", self.bucket, self.prefix)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_are_read_and_wrong_ones_refused() {
        let environment = |name: &str| {
            (name == "AWS_ENDPOINT_URL")
                .then(|| "http://127.0.0.1:8334, http://127.0.0.1:8335".to_owned())
        };
        let address = Address::parse("s3://club/notebooks/", &environment).unwrap();
        assert_eq!(address.words(), "s3://club/notebooks");
        assert_eq!(address.endpoints.len(), 2);
        for wrong in [
            "club",
            "s3://",
            "s3://A",
            "s3://club/../x",
            "s3://club/a//b",
            "s3://cl ub",
        ] {
            assert!(Address::parse(wrong, &environment).is_err(), "{wrong}");
        }
    }
}
