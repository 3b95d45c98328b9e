//! The texts of a bag: bagit.txt, manifests, bag-info.txt, fetch.txt (RFC 8493 section 2), read as
//! versions 0.93 to 1.0 have them.

/// Version of BagIt as a bag declares it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Version {
    /// Before the dot.
    pub major: u32,
    /// After it.
    pub minor: u32,
}

impl Version {
    /// 1.0, the only one that is written and received.
    pub const ONE: Self = Self { major: 1, minor: 0 };
}

/// Encoding of a bag's other texts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Encoding {
    /// UTF-8.
    Utf8,
    /// ISO 8859-1.
    Latin1,
    /// UTF-16 with a byte order mark, else big-endian (RFC 2781).
    Utf16,
}

impl Encoding {
    /// Decodes a text; an error says what is wrong.
    pub fn decode(self, bytes: &[u8]) -> Result<String, String> {
        match self {
            Self::Utf8 => String::from_utf8(bytes.to_vec()).map_err(|_| "not UTF-8 text".into()),
            Self::Latin1 => Ok(bytes.iter().map(|b| char::from(*b)).collect()),
            Self::Utf16 => {
                let (little, body) = match bytes {
                    [0xFF, 0xFE, rest @ ..] => (true, rest),
                    [0xFE, 0xFF, rest @ ..] => (false, rest),
                    all => (false, all),
                };
                let units = body.chunks(2).map(|pair| match (pair, little) {
                    ([a, b], true) => u16::from_le_bytes([*a, *b]),
                    ([a, b], false) => u16::from_be_bytes([*a, *b]),
                    _ => 0xD800, // a lone byte at the end: refused as a lone surrogate
                });
                char::decode_utf16(units)
                    .collect::<Result<String, _>>()
                    .map_err(|_| "not UTF-16 text".into())
            }
        }
    }
}

/// Lines by LF, CR or CRLF, without a last empty one.
fn lines(text: &str) -> impl Iterator<Item = &str> {
    let body = text
        .strip_suffix("\r\n")
        .or_else(|| text.strip_suffix(['\n', '\r']))
        .unwrap_or(text);
    let mut rest = (!text.is_empty()).then_some(body);
    std::iter::from_fn(move || {
        let now = rest?;
        match now.find(['\n', '\r']) {
            Some(at) => {
                let (line, after) = now.split_at(at);
                let after = after.strip_prefix("\r\n").or_else(|| after.get(1..));
                rest = after;
                Some(line)
            }
            None => {
                rest = None;
                Some(now)
            }
        }
    })
}

/// Reads bagit.txt: exactly two lines, UTF-8 without a byte order mark.
///
/// # Errors
/// What is wrong with it, in words.
pub fn declaration(bytes: &[u8]) -> Result<(Version, Encoding), String> {
    if bytes.starts_with(&[0xEF, 0xBB, 0xBF]) {
        return Err("it starts with a byte order mark".into());
    }
    let text = std::str::from_utf8(bytes).map_err(|_| "not UTF-8 text".to_owned())?;
    let lines: Vec<&str> = lines(text).take(3).collect();
    let [first, second] = lines.as_slice() else {
        return Err("it does not have exactly two lines".into());
    };
    let number = first
        .strip_prefix("BagIt-Version:")
        .ok_or("its first line is not \"BagIt-Version: …\"")?;
    let version = parse_version(number.trim()).ok_or("its version is not two numbers")?;
    if version > Version::ONE
        || version
            < (Version {
                major: 0,
                minor: 93,
            })
    {
        return Err(format!(
            "version {}.{} of BagIt is not known here",
            version.major, version.minor
        ));
    }
    let encoding = second
        .strip_prefix("Tag-File-Character-Encoding:")
        .ok_or("its second line is not \"Tag-File-Character-Encoding: …\"")?;
    // From 1.0 on one space and nothing else (RFC 8493 section 2.1.1).
    if version >= Version::ONE
        && (number.trim() != number.get(1..).unwrap_or_default()
            || encoding.trim() != encoding.get(1..).unwrap_or_default())
    {
        return Err("there is white space where version 1.0 allows none".into());
    }
    let encoding = match encoding.trim().to_ascii_uppercase().as_str() {
        "UTF-8" => Encoding::Utf8,
        "ISO-8859-1" => Encoding::Latin1,
        "UTF-16" => Encoding::Utf16,
        other => return Err(format!("the encoding \"{other}\" is not known here")),
    };
    Ok((version, encoding))
}

fn parse_version(text: &str) -> Option<Version> {
    let (major, minor) = text.split_once('.')?;
    let number = |part: &str| {
        (!part.is_empty() && part.len() < 5 && part.bytes().all(|b| b.is_ascii_digit()))
            .then(|| part.parse().ok())
            .flatten()
    };
    Some(Version {
        major: number(major)?,
        minor: number(minor)?,
    })
}

/// One line of a manifest.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listed {
    /// Digest in lower-case hex.
    pub digest: String,
    /// Path, decoded, without a leading "./".
    pub path: String,
    /// Oddities that are allowed before 1.0: "*" of md5sum, "./" in front.
    pub odd: Option<&'static str>,
}

/// Reads a manifest whose digests have `hex` digits.
///
/// # Errors
/// The number of the first line that cannot be read and why.
pub fn manifest(text: &str, hex: usize) -> Result<Vec<Listed>, String> {
    let mut out = Vec::new();
    for (number, line) in lines(text).enumerate() {
        if line.is_empty() {
            continue;
        }
        let wrong = |what: &str| format!("line {}: {what}", number + 1);
        let (digest, rest) = line
            .split_once([' ', '\t'])
            .ok_or_else(|| wrong("no space between digest and name"))?;
        if digest.len() != hex || !digest.bytes().all(|b| b.is_ascii_hexdigit()) {
            return Err(wrong(&format!(
                "the digest is not {hex} hexadecimal digits"
            )));
        }
        let rest = rest.trim_start_matches([' ', '\t']);
        let (name, mut odd) = match rest.strip_prefix('*') {
            Some(name) => (name, Some("\"*\" before the name, as md5sum writes it")),
            None => (rest, None),
        };
        let mut path = decode_path(name);
        if let Some(bare) = path.strip_prefix("./") {
            path = bare.to_owned();
            odd = Some("\"./\" before the name");
        }
        out.push(Listed {
            digest: digest.to_ascii_lowercase(),
            path,
            odd,
        });
    }
    Ok(out)
}

/// The three percent codes of BagIt and no others: %0A, %0D, %25 (RFC 8493 section 2.1.3). Before 1.0
/// bags carry a literal "%25" in no known case, so that one rule serves.
fn decode_path(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(at) = rest.find('%') {
        let (before, after) = rest.split_at(at);
        out.push_str(before);
        let (c, taken) = match after.get(1..3).map(str::to_ascii_uppercase).as_deref() {
            Some("0A") => ('\n', 3),
            Some("0D") => ('\r', 3),
            Some("25") => ('%', 3),
            _ => ('%', 1),
        };
        out.push(c);
        rest = after.get(taken..).unwrap_or_default();
    }
    out.push_str(rest);
    out
}

/// Label and value of each element of bag-info.txt, continuation lines joined.
///
/// # Errors
/// The number of the first line that is no element.
pub fn bag_info(text: &str, version: Version) -> Result<Vec<(String, String)>, String> {
    let mut out: Vec<(String, String)> = Vec::new();
    for (number, line) in lines(text).enumerate() {
        if line.is_empty() {
            continue;
        }
        if line.starts_with([' ', '\t']) {
            let Some((_, value)) = out.last_mut() else {
                return Err(format!("line {}: it continues nothing", number + 1));
            };
            value.push(' ');
            value.push_str(line.trim());
            continue;
        }
        let (label, value) = line
            .split_once(':')
            .ok_or_else(|| format!("line {}: no colon", number + 1))?;
        if version >= Version::ONE && label.trim_end() != label {
            return Err(format!("line {}: white space before the colon", number + 1));
        }
        out.push((label.trim().to_owned(), value.trim().to_owned()));
    }
    Ok(out)
}

/// Paths that fetch.txt says must be got from elsewhere: URL, length or "-", path.
///
/// # Errors
/// The number of the first line that cannot be read.
pub fn fetch(text: &str) -> Result<Vec<String>, String> {
    let mut out = Vec::new();
    for (number, line) in lines(text).enumerate() {
        if line.is_empty() {
            continue;
        }
        let mut rest = line;
        let mut parts = Vec::new();
        for _ in 0..2 {
            let (part, after) = rest
                .split_once([' ', '\t'])
                .ok_or_else(|| format!("line {}: not a URL, a length and a name", number + 1))?;
            parts.push(part);
            rest = after.trim_start_matches([' ', '\t']);
        }
        let length = parts.get(1).copied().unwrap_or_default();
        if length != "-" && (length.is_empty() || !length.bytes().all(|b| b.is_ascii_digit())) {
            return Err(format!(
                "line {}: the length is neither a number nor \"-\"",
                number + 1
            ));
        }
        let path = decode_path(rest);
        out.push(path.strip_prefix("./").unwrap_or(&path).to_owned());
    }
    Ok(out)
}

/// A path as a manifest writes it.
pub fn encode_path(path: &str) -> String {
    path.replace('%', "%25")
        .replace('\n', "%0A")
        .replace('\r', "%0D")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_end_in_three_ways() {
        let all: Vec<&str> = lines("a\nb\rc\r\nd").collect();
        assert_eq!(all, ["a", "b", "c", "d"]);
        assert_eq!(lines("a\n").count(), 1);
        assert_eq!(lines("").count(), 0);
        assert_eq!(lines("a\n\nb").count(), 3);
    }

    #[test]
    fn percent_codes_go_there_and_back() {
        for path in [
            "data/a",
            "data/100%",
            "data/%0A",
            "data/a\nb\r",
            "data/%2e%2e/x",
        ] {
            assert_eq!(decode_path(&encode_path(path)), path);
        }
        assert_eq!(decode_path("data/%7Etest"), "data/%7Etest");
    }

    proptest::proptest! {
        #[test]
        fn any_bytes_are_read_or_refused(bytes in proptest::collection::vec(proptest::num::u8::ANY, 0..300)) {
            let _ = declaration(&bytes);
            for encoding in [Encoding::Utf8, Encoding::Latin1, Encoding::Utf16] {
                if let Ok(text) = encoding.decode(&bytes) {
                    let _ = manifest(&text, 64);
                    let _ = bag_info(&text, Version::ONE);
                    let _ = fetch(&text);
                }
            }
        }
    }
}
