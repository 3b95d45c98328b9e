//! 64-bit zips: more members than a narrow directory counts, members past 4 GiB. The large ones are
//! sparse files: their zeros are never written. Read by our own reader and by Python's `zipfile`.

use super::*;
use crate::pack::members::{Limits, Members};
use crate::pack::zip_read::ZipPack;
use crate::world::SystemFiles;
use std::fs::File;
use std::io::{Seek, SeekFrom};
use std::path::Path;
use std::sync::Arc;

const END64: [u8; 4] = 0x0606_4b50u32.to_le_bytes();

/// A file in which zeros become a hole.
struct Sparse(File);

impl Write for Sparse {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if bytes.len() > 4096 && bytes.iter().all(|byte| *byte == 0) {
            self.0.seek(SeekFrom::Current(bytes.len() as i64))?;
        } else {
            self.0.write_all(bytes)?;
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.0.flush()
    }
}

/// CRC-32 of so many zeros, put together from halves.
fn crc_of_zeros(mut count: u64) -> u32 {
    let mut all = crc32fast::Hasher::new();
    let mut piece = crc32fast::Hasher::new();
    piece.update(&[0]);
    while count > 0 {
        if count & 1 == 1 {
            all.combine(&piece);
        }
        let again = piece.clone();
        piece.combine(&again);
        count >>= 1;
    }
    all.finalize()
}

fn wide(members: u64) -> Limits {
    Limits {
        members,
        total: u64::MAX,
        file: u64::MAX,
        ..Limits::default()
    }
}

/// What makes a folder in a zip a bag.
fn declared<W: Write>(zip: &mut ZipWriter<W>) {
    let text = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n";
    let sum = crc32fast::hash(text);
    zip.add("p/bagit.txt", text.len() as u64, sum, &mut &text[..])
        .unwrap();
}

/// A bag of `count` members, all but one of one or two letters.
fn many(path: &Path, count: u32) {
    let out = io::BufWriter::new(File::create(path).unwrap());
    let mut zip = ZipWriter::new(out);
    declared(&mut zip);
    for n in 1..count {
        let text = [b'a' + (n % 26) as u8].repeat(1 + (n % 2) as usize);
        let sum = crc32fast::hash(&text);
        zip.add(
            &format!("p/{n:06}"),
            text.len() as u64,
            sum,
            &mut text.as_slice(),
        )
        .unwrap();
    }
    zip.finish().unwrap();
}

/// What Python's `zipfile` says; `None` where there is no Python.
fn python(script: &str, path: &Path) -> Option<String> {
    let asked = std::process::Command::new("python3")
        .args(["-I", "-c", script])
        .arg(path)
        .output();
    let Ok(said) = asked else {
        eprintln!("SKIPPED: python3 is not there");
        return None;
    };
    assert!(
        said.status.success(),
        "{}",
        String::from_utf8_lossy(&said.stderr)
    );
    Some(String::from_utf8_lossy(&said.stdout).trim().to_owned())
}

#[test]
fn more_members_than_a_narrow_directory_counts() {
    let folder = tempfile::tempdir().unwrap();
    // 65,535 is what a narrow record says where it cannot say: the first count that needs the wide one.
    for (count, needs) in [(65_534, false), (65_535, true), (65_600, true)] {
        let path = folder.path().join(format!("{count}.zip"));
        many(&path, count);
        let bytes = std::fs::read(&path).unwrap();
        let tail = &bytes[bytes.len() - 200..];
        assert_eq!(tail.windows(4).any(|w| w == END64), needs, "{count}");
        let pack = ZipPack::open(Arc::new(SystemFiles), &path, &wide(100_000)).unwrap();
        assert_eq!(pack.list().len(), count as usize);
        let last = format!("{:06}", count - 1);
        let read = pack.read(&last, 10).unwrap();
        assert_eq!(read.len() as u64, pack.len_of(&last).unwrap());
        assert!(ZipPack::open(Arc::new(SystemFiles), &path, &wide(u64::from(count) - 1)).is_err());
        let script = "import sys, zipfile\nz = zipfile.ZipFile(sys.argv[1])\nassert z.testzip() is None\nprint(len(z.namelist()), z.read(z.namelist()[-1]).decode())";
        if let Some(said) = python(script, &path) {
            assert_eq!(said, format!("{count} {}", String::from_utf8_lossy(&read)));
        }
    }
    let again = folder.path().join("again.zip");
    many(&again, 65_600);
    assert_eq!(
        std::fs::read(again).unwrap(),
        std::fs::read(folder.path().join("65600.zip")).unwrap()
    );
}

/// One member past 4 GiB, one that begins past them: lengths and places that need 64 bits.
#[test]
fn members_past_four_gigabytes() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("large.zip");
    let long = NARROW + 5;
    let small = b"after the long one";
    let made = || {
        let file = File::create(&path).unwrap();
        let mut zip = ZipWriter::new(Sparse(file));
        declared(&mut zip);
        let first = b"first";
        zip.add("p/a", 5, crc32fast::hash(first), &mut &first[..])
            .unwrap();
        zip.add(
            "p/long",
            long,
            crc_of_zeros(long),
            &mut io::repeat(0).take(long),
        )
        .unwrap();
        zip.add(
            "p/z",
            small.len() as u64,
            crc32fast::hash(small),
            &mut &small[..],
        )
        .unwrap();
        zip.finish().unwrap();
    };
    made();
    let pack = ZipPack::open(Arc::new(SystemFiles), &path, &wide(10)).unwrap();
    assert_eq!(pack.len_of("long"), Some(long));
    assert_eq!(pack.read("a", 100).unwrap(), b"first");
    assert_eq!(pack.read("z", 100).unwrap(), small);
    let mut start = vec![1; 1 << 16];
    pack.open("long").unwrap().read_exact(&mut start).unwrap();
    assert!(start.iter().all(|byte| *byte == 0));
    let script = "import sys, zipfile\nz = zipfile.ZipFile(sys.argv[1])\nwith z.open('p/long') as f: assert f.read(65536) == bytes(65536)\nprint([(i.filename, i.file_size, i.header_offset > 0xffffffff) for i in z.infolist()[1:]], z.read('p/z').decode())";
    if let Some(said) = python(script, &path) {
        let expected = format!(
            "[('p/a', 5, False), ('p/long', {long}, False), ('p/z', 18, True)] after the long one"
        );
        assert_eq!(said, expected);
    }
    // A stranger's reader in Rust as well.
    let mut archive = zip::ZipArchive::new(File::open(&path).unwrap()).unwrap();
    assert_eq!(archive.by_name("p/long").unwrap().size(), long);
    let mut text = String::new();
    archive
        .by_name("p/z")
        .unwrap()
        .read_to_string(&mut text)
        .unwrap();
    assert_eq!(text.as_bytes(), small);
}

/// The widest that is still narrow is written narrow, byte for byte as before.
#[test]
fn what_needs_no_64_bits_has_none() {
    let mut zip = ZipWriter::new(Vec::new());
    zip.add("a", 1, crc32fast::hash(b"x"), &mut &b"x"[..])
        .unwrap();
    let bytes = zip.finish().unwrap();
    assert!(!bytes.windows(4).any(|w| w == END64));
    assert!(
        !bytes.contains(&45),
        "a version that only wide members need"
    );
    if std::env::var_os("WITNESSMARK_DEEP").is_some() {
        for (len, needs) in [(NARROW - 1, false), (NARROW, true)] {
            let folder = tempfile::tempdir().unwrap();
            let path = folder.path().join("edge.zip");
            let mut zip = ZipWriter::new(Sparse(File::create(&path).unwrap()));
            declared(&mut zip);
            let before = zip.at;
            let mut zeros = io::repeat(0).take(len);
            zip.add("p/a", len, crc_of_zeros(len), &mut zeros).unwrap();
            zip.finish().unwrap();
            let mut file = File::open(&path).unwrap();
            let mut version = [0; 6];
            file.seek(SeekFrom::Start(before)).unwrap();
            file.read_exact(&mut version).unwrap();
            assert_eq!(version[4] == 45, needs);
            let pack = ZipPack::open(Arc::new(SystemFiles), &path, &wide(10)).unwrap();
            assert_eq!(pack.len_of("a"), Some(len));
        }
    }
}
