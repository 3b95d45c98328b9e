//! A pack in a zip: opened and read, or refused; never more bytes than the file has.

#![no_main]

use libfuzzer_sys::fuzz_target;
use std::io::Read;
use std::sync::Arc;
use witnessmark_core::pack::members::{self, Limits};
use witnessmark_core::world::{Files, SystemFiles};

fuzz_target!(|bytes: &[u8]| {
    let file = tempfile::NamedTempFile::new().expect("a file");
    std::fs::write(file.path(), bytes).expect("written");
    let files: Arc<dyn Files> = Arc::new(SystemFiles);
    if let Ok(pack) = members::open(&files, file.path(), &Limits::default()) {
        let total: u64 = pack.list().iter().map(|member| member.len).sum();
        assert!(total <= bytes.len() as u64);
        for member in pack.list() {
            if let Ok(mut source) = pack.open(&member.name) {
                let _ = source.read_to_end(&mut Vec::new());
            }
        }
    }
});
