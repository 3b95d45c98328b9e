//! Every parser of outside bytes (core/fuzz/claims.rs) on stable Rust: over its corpus, altered; over random bytes;
//! and over inputs of one megabyte made to be expensive, of which none may take more than 64 MB or long. Memory
//! is measured by an allocator that counts, so everything here runs one after the other.
#![allow(unsafe_code, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::Path;
use std::sync::Mutex;
use std::time::{Duration, Instant};

use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use witnessmark_core::datafile::LARGEST_FILE;

#[path = "../fuzz/claims.rs"]
mod claims;
mod counting;

static ONE_AT_A_TIME: Mutex<()> = Mutex::new(());

const MEGABYTE: usize = 1 << 20;

fn corpus(target: &str) -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fuzz/seeds")
        .join(target);
    let mut paths: Vec<_> = std::fs::read_dir(&folder)
        .unwrap_or_else(|error| panic!("{}: {error}", folder.display()))
        .map(|entry| entry.unwrap().path())
        .collect();
    paths.sort();
    assert!(!paths.is_empty(), "{target} has no corpus");
    paths
        .iter()
        .map(|path| std::fs::read(path).unwrap())
        .collect()
}

/// Bits turned, bytes set to their extremes, stretches cut out, doubled, or put in from elsewhere.
fn altered(mut bytes: Vec<u8>, changes: &[(u8, usize, usize, u8)]) -> Vec<u8> {
    for (what, at, len, value) in changes {
        if bytes.is_empty() {
            bytes.push(*value);
        }
        let at = at % bytes.len();
        let end = (at + 1 + len % 24).min(bytes.len());
        match what % 6 {
            0 => bytes[at] ^= 1 << (value % 8),
            1 => {
                bytes[at] = *[0, 0xFF, 0x7F, 0x80, b'"', b'\n']
                    .get(usize::from(value % 6))
                    .unwrap()
            }
            2 => drop(bytes.drain(at..end)),
            3 => {
                let piece = bytes[at..end].to_vec();
                bytes.splice(at..at, piece.repeat(1 + usize::from(value % 4)));
            }
            4 => bytes.truncate(at),
            _ => drop(bytes.splice(at..end, [*value; 4])),
        }
    }
    bytes
}

#[test]
fn every_parser_keeps_its_promise_over_its_corpus_and_random_bytes() {
    let _alone = ONE_AT_A_TIME
        .lock()
        .unwrap_or_else(|held| held.into_inner());
    let cases = if std::env::var_os("WITNESSMARK_DEEP").is_some() {
        20_000
    } else {
        300
    };
    for (target, claim) in claims::ALL {
        let seeds = corpus(target);
        seeds.iter().for_each(|seed| claim(seed));
        let change = (any::<u8>(), any::<usize>(), any::<usize>(), any::<u8>());
        let from_corpus = (0..seeds.len(), prop::collection::vec(change, 1..8))
            .prop_map(move |(which, changes)| altered(seeds[which].clone(), &changes));
        let any_bytes = prop::collection::vec(any::<u8>(), 0..2000);
        let mut runner = TestRunner::new(Config {
            cases,
            failure_persistence: None,
            ..Config::default()
        });
        runner
            .run(&prop_oneof![4 => from_corpus, 1 => any_bytes], |bytes| {
                claim(&bytes);
                Ok(())
            })
            .unwrap_or_else(|error| panic!("{target}: {error}"));
    }
}

fn filled(head: &[u8], with: &[u8]) -> Vec<u8> {
    let mut bytes = head.to_vec();
    while bytes.len() < MEGABYTE {
        bytes.extend(with);
    }
    bytes.truncate(MEGABYTE);
    bytes
}

/// A zip of as many empty members as a megabyte names.
fn many_members() -> Vec<u8> {
    let (mut local, mut central, mut count) = (Vec::new(), Vec::new(), 0u16);
    while local.len() + central.len() < MEGABYTE - 200 && count < u16::MAX {
        let name = format!("p/{count:05}");
        let at = local.len() as u32;
        let rest = |out: &mut Vec<u8>| {
            out.extend([10, 0, 0, 0, 0, 0, 0, 0, 0x21, 0]);
            out.extend([0; 12]);
            out.extend([name.len() as u8, 0, 0, 0]);
        };
        local.extend(b"PK\x03\x04");
        rest(&mut local);
        local.extend(name.bytes());
        central.extend(b"PK\x01\x02\x14\x03");
        rest(&mut central);
        central.extend([0; 10]);
        central.extend(at.to_le_bytes());
        central.extend(name.bytes());
        count += 1;
    }
    let (at, len) = (local.len() as u32, central.len() as u32);
    local.extend(central);
    local.extend(b"PK\x05\x06\0\0\0\0");
    local.extend(count.to_le_bytes().repeat(2));
    local.extend(len.to_le_bytes());
    local.extend(at.to_le_bytes());
    local.extend([0, 0]);
    local
}

/// Inputs of a megabyte for all parsers, and some for one that is weak there if anywhere.
fn expensive(target: &str) -> Vec<(String, Vec<u8>)> {
    let mut all: Vec<(String, Vec<u8>)> = [
        ("zeros", &b"\0"[..]),
        ("ones", b"\xFF"),
        ("opened lists", b"["),
        ("opened objects", b"{\"a\":"),
        ("commas", b"1,"),
        ("lines", b"\n"),
        ("letters", b"a "),
        ("quotes", b"\""),
        ("wide letters", "\u{1f6e9}".as_bytes()),
        ("combining marks", "\u{301}".as_bytes()),
    ]
    .iter()
    .map(|(name, with)| ((*name).to_owned(), filled(b"", with)))
    .collect();
    for (at, seed) in corpus(target).iter().enumerate() {
        all.push((format!("seed {at} again and again"), filled(b"", seed)));
        all.push((format!("seed {at} and zeros"), filled(seed, b"\0")));
    }
    let digest = "ab".repeat(32);
    let own: Vec<(&str, Vec<u8>)> = match target {
        "withheld" => vec![(
            "many files",
            filled(
                b"{\"cut\":\"\",\"uncovered\":{},\"files\":[",
                format!("{{\"file\":\"{digest}\",\"why\":\"\"}},").as_bytes(),
            ),
        )],
        "proofs" => vec![(
            "a long path",
            filled(
                format!("{{\"aircraft\":\"{digest}\",\"author\":\"{digest}\",\"proofs\":[{{\"line\":\"{digest}\",\"index\":0,\"finish\":\"{digest}\",\"path\":[").as_bytes(),
                format!("\"{digest}\",").as_bytes(),
            ),
        )],
        "exchange_names" => vec![(
            "many names",
            filled(b"", format!("v1/e/ab/{digest}.jpg\n").as_bytes()),
        )],
        "canonical" | "line" | "slip" | "packer_seal" | "handed_proof" => vec![
            ("a list of numbers", filled(b"[1", b",1")),
            ("a list of lists", filled(b"[[]", b",[]")),
            ("a text of escapes", filled(b"\"", b"\\u0041")),
            ("an object of members", {
                let mut text = "{".to_owned();
                for n in 0..100_000 {
                    text += &format!("\"{n:06}\":0,");
                }
                text.truncate(MEGABYTE - 1);
                (text + "}").into_bytes()
            }),
        ],
        "layout" | "condition" | "event" | "notebook_toml" => vec![
            ("tables", filled(b"", b"[[zone]]\n")),
            ("one text", filled(b"name = \"", b"x")),
            ("nested tables", filled(b"[a", b".a")),
            ("nested lists", filled(b"a = ", b"[")),
            ("inline tables", filled(b"a = [", b"{},")),
        ],
        "growth_table" => vec![
            (
                "many readings",
                filled(
                    b"date,hours,value,unit,u\n",
                    b"2025-01-01,10,50,mm,0.5\n2025-01-02,11,52,mm,0.5\n",
                ),
            ),
            ("many columns", filled(b"date", b",value")),
            (
                "short rows",
                filled(b"date,value,unit,u\n", b"2025-01-01,1,mm,1\n"),
            ),
        ],
        "manifest" => vec![
            (
                "many files",
                filled(b"", format!("{digest}  data/a\n").as_bytes()),
            ),
            ("one label", filled(b"Note: x\n", b" x\n")),
            ("many labels", filled(b"", b"A: b\n")),
            (
                "percent signs",
                filled(format!("{digest}  ").as_bytes(), b"%0A"),
            ),
        ],
        "zip_pack" => vec![("many members", many_members())],
        "timestamp" => vec![
            ("sequences", filled(b"", b"\x30\x80")),
            (
                "a sequence of sequences",
                filled(b"\x30\x83\x0f\xff\xfb", b"\x30\0"),
            ),
            (
                "an integer",
                filled(b"\x30\x83\x0f\xff\xfb\x02\x83\x0f\xff\xf6", b"\x7f"),
            ),
        ],
        "draft_text" => vec![
            ("numbers", filled(b"", b"two and a half ")),
            ("findings", filled(b"", b"crack left brake. ")),
            (
                "many transcripts",
                filled(b"crack", b"\ncrack at the brake"),
            ),
        ],
        _ => Vec::new(),
    };
    all.extend(
        own.into_iter()
            .map(|(name, bytes)| (name.to_owned(), bytes)),
    );
    if ["layout", "condition", "event"].contains(&target) {
        // A data file past its limit is refused unread: what is read at most is tried as well.
        let cut = all.iter().map(|(name, bytes)| {
            (
                format!("{name}, as far as is read"),
                bytes[..LARGEST_FILE].to_vec(),
            )
        });
        all.extend(cut.collect::<Vec<_>>());
    }
    all
}

#[test]
fn a_megabyte_never_takes_more_than_64() {
    let _alone = ONE_AT_A_TIME
        .lock()
        .unwrap_or_else(|held| held.into_inner());
    let mut wrong = Vec::new();
    for (target, claim) in claims::ALL {
        corpus(target).iter().for_each(|seed| claim(seed)); // what is made once is not the input's
        let (mut most, mut longest) = (0, Duration::ZERO);
        for (name, bytes) in expensive(target) {
            let start = Instant::now();
            let took = counting::most_while(|| claim(&bytes));
            (most, longest) = (most.max(took), longest.max(start.elapsed()));
            if took > 64 << 20 || start.elapsed() > Duration::from_secs(20) {
                wrong.push(format!(
                    "{target}, {name}: {} KiB, {:?}",
                    took >> 10,
                    start.elapsed()
                ));
            }
        }
        println!("{target}: at most {} KiB, {longest:?}", most >> 10);
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
