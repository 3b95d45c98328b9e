//! What a store may answer when it is not to be had, and the desk view of a club. The answers are
//! those of the S3 API's list of error responses (AmazonS3 API reference, "Error responses"; from
//! memory), given by a server on loopback that knows nothing else.

use std::collections::BTreeMap;
use std::io::{Read, Write};
use std::net::TcpListener;
use std::path::Path;
use std::process::Command;

use super::{good, notebook, program};

/// A server that says one thing to everybody.
fn server(status: &'static str, code: &'static str) -> String {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = format!("http://{}", listener.local_addr().unwrap());
    std::thread::spawn(move || {
        for stream in listener.incoming() {
            let Ok(mut stream) = stream else { return };
            let mut head = Vec::new();
            let mut byte = [0u8; 1];
            while !head.ends_with(b"\r\n\r\n") && stream.read(&mut byte).unwrap_or(0) == 1 {
                head.push(byte[0]);
            }
            let body = format!(
                "<?xml version=\"1.0\"?><Error><Code>{code}</Code><Message>no</Message></Error>"
            );
            let _ = write!(
                stream,
                "HTTP/1.1 {status}\r\ncontent-type: application/xml\r\ncontent-length: {}\r\nconnection: close\r\n\r\n{body}",
                body.len()
            );
        }
    });
    address
}

/// Every file of a notebook but the index and its locks.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut out = BTreeMap::new();
    let mut folders = vec![folder.to_path_buf()];
    while let Some(at) = folders.pop() {
        for entry in std::fs::read_dir(&at).unwrap() {
            let path = entry.unwrap().path();
            let name = path.display().to_string();
            if path.is_dir() {
                folders.push(path);
            } else if !name.contains("index.sqlite") {
                out.insert(name, std::fs::read(&path).unwrap());
            }
        }
    }
    out
}

fn meet(folder: &Path, endpoint: &str) -> (Option<i32>, serde_json::Value) {
    let output = Command::new(program())
        .args(["--json", "-C"])
        .arg(folder)
        .args([
            "--now",
            "2026-05-03T09:10:00+02:00",
            "exchange",
            "s3://club/notebooks",
        ])
        .env("AWS_ACCESS_KEY_ID", "invented")
        .env("AWS_SECRET_ACCESS_KEY", "invented")
        .env("AWS_ENDPOINT_URL", endpoint)
        .env_remove("AWS_ENDPOINT_URL_S3")
        .env_remove("AWS_SESSION_TOKEN")
        .output()
        .unwrap();
    let said = serde_json::from_slice(&output.stderr).unwrap();
    (output.status.code(), said)
}

/// Says exactly this, takes nothing in, loses nothing.
fn refuses(status: &'static str, code: &'static str, exit: i32, what: &str, hint: &str) {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    let before = files(&folder);
    let (got, said) = meet(&folder, &server(status, code));
    assert_eq!(said["error"]["what"], what);
    assert_eq!(said["error"]["where"], "s3://club/notebooks");
    assert_eq!(said["error"]["do"], hint);
    assert_eq!(got, Some(exit));
    assert_eq!(files(&folder), before);
}

#[test]
fn a_bucket_that_is_not_there_is_said() {
    refuses(
        "404 Not Found",
        "NoSuchBucket",
        2,
        "the store has no bucket of that name",
        "check the address with whoever keeps the store",
    );
}

#[test]
fn missing_rights_are_said_with_the_way_to_get_them() {
    refuses(
        "403 Forbidden",
        "AccessDenied",
        3,
        "the store refused: these credentials have no right to do that here",
        "ask whoever keeps the store; witnessmark store policy writes out the rights that are needed",
    );
}

#[test]
fn keys_that_nobody_knows_are_said() {
    refuses(
        "403 Forbidden",
        "InvalidAccessKeyId",
        3,
        "the store does not know these credentials",
        "set AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY",
    );
}

#[test]
fn expired_credentials_are_said_with_their_names() {
    refuses(
        "400 Bad Request",
        "ExpiredToken",
        3,
        "the store refused: the credentials have expired",
        "renew them (AWS_ACCESS_KEY_ID, AWS_SECRET_ACCESS_KEY, AWS_SESSION_TOKEN), then try again",
    );
}

#[test]
fn a_clock_that_differs_too_much_is_said() {
    refuses(
        "403 Forbidden",
        "RequestTimeTooSkewed",
        2,
        "the store refused: the clock of this machine differs too much from the store's",
        "set the clock right, then try again; nothing was taken in",
    );
}

#[test]
fn nobody_at_the_address_is_said_within_bounded_time() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    // A port that was free a moment ago.
    let free = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = format!("http://{}", free.local_addr().unwrap());
    drop(free);
    let began = std::time::Instant::now();
    let (exit, said) = meet(&folder, &address);
    assert_eq!(exit, Some(3));
    let what = said["error"]["what"].as_str().unwrap();
    assert!(
        what.starts_with("the store did not answer as it should: "),
        "{what}"
    );
    assert_eq!(
        said["error"]["do"],
        "try again: what was left by then is whole, and meeting once more completes it"
    );
    assert!(began.elapsed().as_secs() < 60, "{:?}", began.elapsed());
}

/// Two aircraft: the one with the graver concern stands first, a look that is past before one to
/// come; the data hold to their schema, and the page shows the same.
#[test]
fn a_club_sees_its_worst_aircraft_first() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    good(
        &folder,
        &[
            "aircraft",
            "add",
            "N0CD",
            "--type",
            "two-seater",
            "--layout",
            "high_wing_strutted_fixed",
        ],
    );
    let open = |aircraft: &str, zone: &str, size: &str| -> String {
        good(
            &folder,
            &[
                "--aircraft",
                aircraft,
                "walkaround",
                "start",
                "--hours",
                "1250",
            ],
        );
        let shown = good(
            &folder,
            &[
                "--aircraft",
                aircraft,
                "--json",
                "finding",
                "open",
                "--zone",
                zone,
                "--condition",
                "crack",
                "--measure",
                size,
            ],
        );
        good(&folder, &["--aircraft", aircraft, "walkaround", "finish"]);
        let shown: serde_json::Value = serde_json::from_str(&shown).unwrap();
        shown["short"].as_str().unwrap().to_owned()
    };
    let mild = open("N0AB", "733", "length 20 mm by ruler");
    let grave = open("N0CD", "733", "length 20 mm by ruler");
    good(&folder, &["--aircraft", "N0AB", "concern", &mild, "aware"]);
    good(
        &folder,
        &["--aircraft", "N0CD", "concern", &grave, "before-flight"],
    );
    good(
        &folder,
        &[
            "--aircraft",
            "N0CD",
            "walkaround",
            "start",
            "--hours",
            "1300",
        ],
    );
    good(
        &folder,
        &[
            "--aircraft",
            "N0CD",
            "finding",
            "sight",
            &grave,
            "--measure",
            "length 60 mm by ruler",
        ],
    );
    good(&folder, &["--aircraft", "N0CD", "walkaround", "finish"]);
    good(
        &folder,
        &["--aircraft", "N0AB", "again", &mild, "2026-05-02"],
    );
    good(&folder, &["--aircraft", "N0AB", "again", "731", "1400 h"]);

    let page = scratch.path().join("fleet.html");
    let shown = good(
        &folder,
        &[
            "--json",
            "fleet",
            "status",
            "--page",
            &page.display().to_string(),
        ],
    );
    let shown: serde_json::Value = serde_json::from_str(&shown).unwrap();
    let schema = serde_json::from_str(include_str!("../schemas/fleet_status.json")).unwrap();
    let held = jsonschema::validator_for(&schema).unwrap();
    let wrong: Vec<String> = held.iter_errors(&shown).map(|e| e.to_string()).collect();
    assert!(wrong.is_empty(), "{wrong:?}");
    assert_eq!(shown["day"], "2026-05-03");
    let (first, second) = (&shown["aircraft"][0], &shown["aircraft"][1]);
    assert_eq!(first["registration"], "N0CD");
    assert_eq!(first["open"], serde_json::json!({"before_flight": 1}));
    assert_eq!(first["deteriorated"][0]["concern"], "before_flight");
    assert_eq!(second["registration"], "N0AB");
    assert_eq!(second["open"], serde_json::json!({"aware": 1}));
    assert_eq!(second["deteriorated"], serde_json::json!([]));
    let when: Vec<&str> = second["look_again"]
        .as_array()
        .unwrap()
        .iter()
        .map(|due| due["when"].as_str().unwrap())
        .collect();
    assert_eq!(when, ["past", "later"]);

    let page = std::fs::read_to_string(page).unwrap();
    let at = |text: &str| {
        page.find(text)
            .unwrap_or_else(|| panic!("{text} is not on the page"))
    };
    assert!(at("N0CD") < at("N0AB"));
    assert!(at("1 before flight") < at("1 be aware"));
    at("Became worse, worst first");
    at("2 May 2026 <b>past</b>");
    at("It is not a maintenance record, release or approval");
    assert!(!page.contains("http://") && !page.contains("https://") && !page.contains("<script"));
}
