//! Names inside a pack: what may be written below a folder on any system, and which two names would
//! fall on one file.

use std::collections::HashMap;
use unicode_normalization::UnicodeNormalization;

/// Longest path of a pack's member in bytes.
pub const PATH_LIMIT: usize = 240;
/// Longest part between two slashes.
const PART_LIMIT: usize = 140;
/// Deepest folder.
const DEPTH_LIMIT: usize = 8;

/// Stems that Windows keeps for devices, whatever the extension ("Naming Files, Paths, and
/// Namespaces", Microsoft Learn).
const RESERVED: [&str; 8] = [
    "CON", "PRN", "AUX", "NUL", "CONIN$", "CONOUT$", "CLOCK$", "COM0",
];

/// Why a path of any bag must not be followed (RFC 8493 section 5.3), or `None`.
pub fn unsafe_path(path: &str) -> Option<&'static str> {
    if path.is_empty() {
        return Some("an empty name");
    }
    if path.chars().any(|c| c.is_control()) {
        return Some("a control character in the name");
    }
    if path.contains('\\') {
        return Some("a backslash, which is a folder on some systems");
    }
    if path.starts_with('/') {
        return Some("an absolute path");
    }
    if path.starts_with('~') {
        return Some("a path that starts at somebody's home");
    }
    let bytes = path.as_bytes();
    if bytes.get(1) == Some(&b':') && bytes.first().is_some_and(u8::is_ascii_alphabetic) {
        return Some("a drive letter");
    }
    if path.split('/').any(|part| part == "..") {
        return Some("a path that leaves the folder");
    }
    if path.split('/').any(|part| part.is_empty()) {
        return Some("an empty part in the path");
    }
    None
}

/// Why a pack of ours cannot have a member of this name, or `None`. Narrower than BagIt on purpose:
/// every name that a packer writes is plain ASCII, so nothing is lost, and no file system, shell or
/// archive tool reads such a name in two ways.
pub fn unfit_for_pack(path: &str) -> Option<&'static str> {
    if let Some(why) = unsafe_path(path) {
        return Some(why);
    }
    if path.len() > PATH_LIMIT {
        return Some("a path longer than 240 bytes");
    }
    if path.split('/').count() > DEPTH_LIMIT {
        return Some("more than eight folders deep");
    }
    for part in path.split('/') {
        if part.len() > PART_LIMIT {
            return Some("a name longer than 140 bytes");
        }
        if !part
            .bytes()
            .all(|b| b.is_ascii_alphanumeric() || matches!(b, b'.' | b'_' | b'-'))
        {
            return Some("a character other than letters, digits, dot, line and hyphen");
        }
        if part.starts_with('.') || part.ends_with('.') {
            return Some("a name that starts or ends with a dot");
        }
        if part.starts_with('-') {
            return Some("a name that a command would take for an option");
        }
        let stem = part
            .split('.')
            .next()
            .unwrap_or_default()
            .to_ascii_uppercase();
        let numbered = (stem.starts_with("COM") || stem.starts_with("LPT"))
            && stem.len() == 4
            && stem.ends_with(|c: char| c.is_ascii_digit());
        if numbered || RESERVED.contains(&stem.as_str()) {
            return Some("a name that is a device on Windows");
        }
    }
    None
}

/// The form in which two names fall on one file somewhere: NFC (macOS) and lower case (Windows,
/// macOS).
pub fn folded(path: &str) -> String {
    path.nfc()
        .collect::<String>()
        .to_lowercase()
        .nfc()
        .collect()
}

/// Finds two names that would be one file, or a file where another needs a folder.
#[derive(Debug, Default)]
pub struct Collisions {
    /// Folded path to the name as first met, and whether it was met as a file.
    seen: HashMap<String, (String, bool)>,
}

impl Collisions {
    /// Adds a file; says which earlier name it collides with.
    pub fn add(&mut self, path: &str) -> Option<String> {
        let key = folded(path);
        if let Some((other, _)) = self.seen.get(&key) {
            return Some(other.clone());
        }
        // Every folder above it: the same folder in two spellings collides as well.
        for (at, _) in path.match_indices('/') {
            let folder = path.get(..at).unwrap_or_default();
            match self.seen.get(&folded(folder)) {
                Some((other, is_file)) if *is_file || other != folder => {
                    return Some(other.clone());
                }
                Some(_) => {}
                None => {
                    self.seen.insert(folded(folder), (folder.to_owned(), false));
                }
            }
        }
        self.seen.insert(key, (path.to_owned(), true));
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_spelling_of_leaving_the_folder_is_refused() {
        for path in [
            "",
            "/etc/passwd",
            "../a",
            "data/../../a",
            "data/..",
            "a\\b",
            "..\\a",
            "\\\\server\\share",
            "\\\\?\\C:\\a",
            "C:/a",
            "c:a",
            "~/a",
            "~root/a",
            "data/a\0b",
            "data/a\nb",
            "data/a\rb",
            "data//a",
            "data/a/",
            "data/\u{7f}",
            "data/\u{85}x",
        ] {
            assert!(unsafe_path(path).is_some(), "{path:?}");
            assert!(unfit_for_pack(path).is_some(), "{path:?}");
        }
        for path in ["data/a b", "data/%test", "data/dir1/~test3.txt", "data/é"] {
            assert_eq!(unsafe_path(path), None, "{path:?}");
            assert!(unfit_for_pack(path).is_some(), "{path:?}");
        }
    }

    #[test]
    fn names_that_some_system_cannot_hold_are_unfit() {
        for path in [
            "data/con",
            "data/CON.txt",
            "data/lpt1.jpg",
            "data/COM9",
            "data/nul",
            "data/a.",
            "data/.hidden",
            "data/./a",
            "data/a ",
            "data/a:b",
            "data/a?b",
            "data/a*b",
            "data/%0a",
            "data/..%2fa",
            "data/-rf",
            "data/\u{202e}gpj.exe",
            "data/\u{ff0e}\u{ff0e}/a",
            "1/2/3/4/5/6/7/8/9",
        ] {
            assert!(unfit_for_pack(path).is_some(), "{path:?}");
        }
        assert!(unfit_for_pack(&format!("data/{}", "a".repeat(141))).is_some());
        for path in [
            "data/evidence/ab/ab12.jpg",
            "bagit.txt",
            "data/console.txt",
            "data/com10",
        ] {
            assert_eq!(unfit_for_pack(path), None, "{path:?}");
        }
    }

    #[test]
    fn two_names_for_one_file_are_found() {
        let both = |a: &str, b: &str| {
            let mut collisions = Collisions::default();
            assert_eq!(collisions.add(a), None);
            collisions.add(b)
        };
        assert!(both("data/a.txt", "data/A.txt").is_some());
        assert!(both("data/a.txt", "data/a.txt").is_some());
        assert!(both("data/N\u{fa}\u{f1}ez", "data/Nu\u{301}n\u{303}ez").is_some());
        assert!(both("data/a", "data/a/b").is_some());
        assert!(both("data/a/b", "data/a").is_some());
        assert!(both("data/a/b", "DATA/a/c").is_some());
        assert!(both("data/a/b", "data/a/c").is_none());
    }
}
