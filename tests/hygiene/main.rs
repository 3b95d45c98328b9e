//! The repository held against its own promises: licences, notices, the top level, lints.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::process::Command;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .unwrap()
        .to_path_buf()
}

fn read(path: &str) -> String {
    std::fs::read_to_string(root().join(path)).unwrap()
}

/// What `cargo metadata` says of every package that the lock file names, for every target.
fn metadata() -> serde_json::Value {
    let output = Command::new(env!("CARGO"))
        .current_dir(root())
        .args(["metadata", "--format-version", "1", "--locked"])
        .output()
        .unwrap();
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    serde_json::from_slice(&output.stdout).unwrap()
}

/// A package of somebody else: name, version, licence as it states it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Foreign {
    name: String,
    version: String,
    licence: String,
}

fn foreign(metadata: &serde_json::Value) -> BTreeMap<String, Foreign> {
    metadata["packages"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|p| !p["source"].is_null())
        .map(|p| {
            let text = |key: &str| p[key].as_str().unwrap_or("").to_owned();
            (
                text("id"),
                Foreign {
                    name: text("name"),
                    version: text("version"),
                    licence: text("license"),
                },
            )
        })
        .collect()
}

/// Licences under which we may link and hand on, unmodified. MPL-2.0 is per file: unmodified use
/// asks for no more than a notice.
const ALLOWED: &[&str] = &[
    "MIT",
    "MIT-0",
    "Apache-2.0",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "ISC",
    "Zlib",
    "0BSD",
    "BSL-1.0",
    "CC0-1.0",
    "Unlicense",
    "Unicode-3.0",
    "MPL-2.0",
    // Certificate lists: data, to be handed on with its licence.
    "CDLA-Permissive-2.0",
];

#[test]
fn every_dependency_is_under_a_licence_that_we_may_hand_on() {
    for package in foreign(&metadata()).values() {
        // Old packages separate alternatives by a slash, which the SPDX grammar calls lax.
        let expression = spdx::Expression::parse_mode(&package.licence, spdx::ParseMode::LAX)
            .unwrap_or_else(|e| panic!("{package:?}: {e}"));
        let fine = expression.evaluate(|requirement| {
            requirement
                .license
                .id()
                .is_some_and(|id| ALLOWED.contains(&id.name))
        });
        assert!(fine, "{package:?} is under none of {ALLOWED:?}");
    }
}

/// What a person gets with the program or with the phone's library: everything reached from the
/// command line and the bindings by normal dependencies, for every target.
fn linked(metadata: &serde_json::Value) -> BTreeSet<Foreign> {
    let packages = foreign(metadata);
    let nodes: BTreeMap<&str, &serde_json::Value> = metadata["resolve"]["nodes"]
        .as_array()
        .unwrap()
        .iter()
        .map(|n| (n["id"].as_str().unwrap(), n))
        .collect();
    let mut open: Vec<String> = metadata["packages"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|p| {
            ["witnessmark", "witnessmark-ffi", "witnessmark-store"]
                .contains(&p["name"].as_str().unwrap())
        })
        .map(|p| p["id"].as_str().unwrap().to_owned())
        .collect();
    assert!(open.len() >= 2);
    let mut reached = BTreeSet::new();
    while let Some(id) = open.pop() {
        if !reached.insert(id.clone()) {
            continue;
        }
        for dependency in nodes[id.as_str()]["deps"].as_array().unwrap() {
            let normal = dependency["dep_kinds"]
                .as_array()
                .unwrap()
                .iter()
                .any(|k| k["kind"].is_null());
            if normal {
                open.push(dependency["pkg"].as_str().unwrap().to_owned());
            }
        }
    }
    reached
        .iter()
        .filter_map(|id| packages.get(id).cloned())
        .collect()
}

#[test]
fn the_notice_names_every_package_of_others_that_is_handed_on() {
    let mut expected = String::from(
        "Witnessmark is under the MIT licence, see LICENSE-MIT.\n\n\
         The program and the library for phones contain the following packages of others, each\n\
         unmodified and under the licence it states; their sources are at https://crates.io.\n\
         SQLite, inside libsqlite3-sys, is in the public domain.\n\n",
    );
    for package in linked(&metadata()) {
        expected.push_str(&format!(
            "{} {}: {}\n",
            package.name, package.version, package.licence
        ));
    }
    if std::env::var_os("WITNESSMARK_WRITE_NOTICE").is_some() {
        std::fs::write(root().join("NOTICE"), &expected).unwrap();
    }
    assert!(
        read("NOTICE") == expected,
        "NOTICE is not what is linked now: WITNESSMARK_WRITE_NOTICE=1 cargo test --release -p \
         witnessmark-tests --test hygiene writes it new"
    );
}

#[test]
fn the_top_level_holds_what_it_says() {
    let output = Command::new("git")
        .current_dir(root())
        .args(["ls-tree", "--name-only", "HEAD"])
        .output()
        .unwrap();
    assert!(output.status.success());
    let allowed = [
        "Cargo.toml",
        "Cargo.lock",
        "README.md",
        "DEVELOPERS.md",
        "LICENSE-MIT",
        "NOTICE",
        "core",
        "bindings",
        "android-shell",
        "tests",
        "fixtures",
    ];
    for name in String::from_utf8(output.stdout).unwrap().lines() {
        assert!(
            name.starts_with('.') || allowed.contains(&name),
            "{name} has no place at the top"
        );
    }
}

#[test]
fn every_crate_takes_the_lints_of_the_workspace() {
    let metadata = metadata();
    for package in metadata["packages"].as_array().unwrap() {
        if package["source"].is_null() {
            let manifest =
                std::fs::read_to_string(package["manifest_path"].as_str().unwrap()).unwrap();
            assert!(
                manifest.contains("[lints]\nworkspace = true"),
                "{} goes without the workspace's lints",
                package["name"]
            );
        }
    }
    let root = read("Cargo.toml");
    for lint in ["unwrap_used", "expect_used", "panic"] {
        assert!(root.contains(&format!("{lint} = \"deny\"")), "{lint}");
    }
    assert!(read("core/src/lib.rs").contains("#![warn(missing_docs)]"));
}

/// One list, a reason on each line.
#[test]
fn every_dependency_in_the_list_has_its_reason() {
    let root = read("Cargo.toml");
    let list = root
        .split("[workspace.dependencies]")
        .nth(1)
        .unwrap()
        .split("\n[")
        .next()
        .unwrap();
    for line in list.lines().filter(|l| l.contains(" = ")) {
        let own = line.starts_with("witnessmark");
        assert!(own || line.contains("# "), "no reason: {line}");
    }
}

/// The commands of the README need Rust and a C compiler: no package in the lock file calls cmake or
/// nasm. (aws-lc-sys and its like do, and take a minute of C besides.)
#[test]
fn nothing_that_is_built_needs_cmake_or_nasm() {
    let lock = read("Cargo.lock");
    assert!(lock.contains("name = \"ring\"") && lock.contains("name = \"cc\""));
    for tool in [
        "cmake",
        "nasm-rs",
        "aws-lc-sys",
        "aws-lc-fips-sys",
        "openssl-src",
    ] {
        assert!(
            !lock.contains(&format!("name = \"{tool}\"")),
            "{tool} is in Cargo.lock"
        );
    }
}

/// A shell has neither commands nor flags: what is left of the core's advice without them must still be
/// advice, and no command may be named in a form that stays.
#[test]
fn what_the_core_advises_stands_without_its_commands() {
    let text = regex::Regex::new(r#""((?:[^"\\]|\\.)*)""#).unwrap();
    let named = regex::Regex::new(r"witnessmark [a-z]+\b|(^| |`)--[a-z]").unwrap();
    let mut seen = 0;
    let mut wrong: Vec<String> = Vec::new();
    let mut folders = vec![root().join("core/src")];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
                continue;
            }
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            if !name.ends_with(".rs") || name.contains("test") || name == "golden.rs" {
                continue;
            }
            let source = std::fs::read_to_string(&path).unwrap();
            let code = source.split("#[cfg(test)]\nmod tests").next().unwrap();
            for line in code
                .lines()
                .filter(|line| !line.trim_start().starts_with("//"))
            {
                for found in text.captures_iter(line) {
                    let words = &found[1];
                    // Advice to people: several words. (A field named by its flag, a seed's label and the
                    // like are single words or no advice.)
                    if !named.is_match(words) || !words.contains(' ') || NO_ADVICE.contains(&words)
                    {
                        continue;
                    }
                    seen += 1;
                    let left = witnessmark_core::without_commands(words);
                    if left.trim().is_empty() || named.is_match(&left) {
                        wrong.push(format!(
                            "{}: {words}\nwithout commands: {left}",
                            path.display()
                        ));
                    }
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(seen > 20, "{seen}");
}

/// Texts with such words that nobody is advised by: a label under randomness, what a report calls itself.
const NO_ADVICE: &[&str] = &["witnessmark seeded entropy", "witnessmark report"];
