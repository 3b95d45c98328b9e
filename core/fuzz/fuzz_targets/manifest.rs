//! The texts of a bag, and the names in them.

#![no_main]

use libfuzzer_sys::fuzz_target;
use witnessmark_core::pack::manifest::{self, Encoding, Version};
use witnessmark_core::pack::names;

fuzz_target!(|bytes: &[u8]| {
    let _ = manifest::declaration(bytes);
    for encoding in [Encoding::Utf8, Encoding::Latin1, Encoding::Utf16] {
        let Ok(text) = encoding.decode(bytes) else {
            continue;
        };
        let _ = manifest::bag_info(&text, Version::ONE);
        let _ = manifest::fetch(&text);
        for listed in manifest::manifest(&text, 64).unwrap_or_default() {
            if names::unsafe_path(&listed.path).is_none() {
                assert!(!listed.path.split('/').any(|part| part == ".."));
            }
        }
    }
});
