//! `hear` holds to its schema for every labelled phrase, and takes bad input as it should.

use std::io::Write;
use std::process::{Command, Output, Stdio};

use super::program;

/// JSON lines in, what came out.
fn heard(lines: &str) -> Output {
    let mut child = Command::new(program())
        .args(["hear", "--json", "--layout", "high_wing_strutted_fixed"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut input = child.stdin.take().unwrap();
    let lines = lines.to_owned();
    let writer = std::thread::spawn(move || {
        // a refused line ends the program before it has read all: no failure of this test
        let _ = input.write_all(lines.as_bytes());
    });
    let output = child.wait_with_output().unwrap();
    writer.join().unwrap();
    output
}

fn drafts(lines: &[serde_json::Value]) -> Vec<serde_json::Value> {
    let input: String = lines.iter().map(|line| format!("{line}\n")).collect();
    let output = heard(&input);
    assert!(output.status.success());
    let shown = String::from_utf8(output.stdout).unwrap();
    shown
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}

fn phrases() -> Vec<serde_json::Value> {
    [
        "speech",
        "speech_second",
        "speech_third",
        "speech_holdout",
        "speech_holdout_second",
    ]
    .iter()
    .flat_map(|name| {
        let path = format!("{}/corpus/{name}.txt", env!("CARGO_MANIFEST_DIR"));
        let text = std::fs::read_to_string(path).unwrap();
        text.lines()
            .filter(|l| !l.starts_with(['#', '=']) && !l.trim().is_empty())
            .map(|l| {
                let said = l.rsplit_once(" | ").unwrap().0;
                let mut said = said.split(" // ");
                let text = said.next().unwrap();
                serde_json::json!({"text": text, "alternatives": said.collect::<Vec<_>>()})
            })
            .collect::<Vec<_>>()
    })
    .collect()
}

#[test]
fn every_draft_holds_to_the_schema() {
    let schema: serde_json::Value =
        serde_json::from_str(include_str!("../schemas/hear.json")).unwrap();
    let held = jsonschema::validator_for(&schema).unwrap();
    let said = phrases();
    let drafts = drafts(&said);
    assert_eq!(drafts.len(), said.len());
    for (said, draft) in said.iter().zip(&drafts) {
        let wrong: Vec<String> = held.iter_errors(draft).map(|e| e.to_string()).collect();
        assert!(wrong.is_empty(), "{said}: {wrong:?}");
    }
    // and another shape is no draft
    assert!(!held.is_valid(&serde_json::json!({"kind": "finding"})));
}

#[test]
fn bad_input_ends_in_a_draft_a_question_or_a_refusal() {
    let many: Vec<String> = (0..1000)
        .map(|n| format!("crack in the rudder {n} millimetres"))
        .collect();
    let taken = drafts(&[
        serde_json::json!({"text": ""}),
        serde_json::json!({"text": "\u{1f6e9}\u{fe0f}\u{1f527}"}),
        serde_json::json!({"text": "\u{5e1}\u{5d3}\u{5e7} crack in the rudder \u{202e}\u{5de}"}),
        serde_json::json!({"text": "a".repeat(64 * 1024)}),
        serde_json::json!({"text": "crack of nine miles in the rudder"}),
        serde_json::json!({"text": "crack in the left right flap"}),
        serde_json::json!({"text": "crack in the rudder 7 millimetres", "alternatives": many}),
        serde_json::json!({"text": "crack in the rudder two inches long", "alternatives": ["Crack in the rudder; two inches long."]}),
    ]);
    let kinds: Vec<&str> = taken.iter().map(|d| d["kind"].as_str().unwrap()).collect();
    assert_eq!(kinds[..4], ["remark", "remark", "finding", "remark"]);
    let about = |d: &serde_json::Value| -> Vec<String> {
        d["questions"]
            .as_array()
            .unwrap()
            .iter()
            .map(|q| q["about"].as_str().unwrap().to_owned())
            .collect()
    };
    assert_eq!(about(&taken[4]), ["number"]);
    assert_eq!(about(&taken[5]), ["side"]);
    assert!(about(&taken[6]).contains(&"number".to_owned()));
    assert!(about(&taken[7]).is_empty());
    // one megabyte is refused, with what to do
    let long = serde_json::json!({"text": "crack ".repeat(180_000)});
    let output = heard(&format!("{long}\n"));
    assert_eq!(output.status.code(), Some(2));
    let error: serde_json::Value = serde_json::from_slice(&output.stderr).unwrap();
    assert!(error["error"]["do"].as_str().unwrap().contains("pieces"));
    // a line that is no JSON is named
    let output = heard("{\"text\": \"rudder\"}\nnot json\n");
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("line 2"));
}
