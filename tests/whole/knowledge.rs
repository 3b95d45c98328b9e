//! Meters, components, events, coverage, readings and the life of findings, as a person calls them.
//! Every output is held by its schema. All data is invented; expected figures are worked out by hand
//! beside each check.

use std::path::Path;
use std::process::Command;

use serde_json::Value;

use super::program;

/// Runs a command at a given time and gives its JSON.
pub(super) fn at(folder: &Path, day: &str, words: &[&str]) -> Value {
    let output = Command::new(program())
        .arg("-C")
        .arg(folder)
        .args(["--now", &format!("{day}T09:00:00+01:00"), "--json"])
        .args(words)
        .output()
        .unwrap();
    assert!(
        output.status.success(),
        "{day} {words:?}: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    serde_json::from_slice(&output.stdout).unwrap()
}

/// Runs a command that must be refused, and gives its error; nothing may be written.
pub(super) fn refused(folder: &Path, day: &str, words: &[&str]) -> String {
    let before = lines(folder);
    let output = Command::new(program())
        .arg("-C")
        .arg(folder)
        .args(["--now", &format!("{day}T09:00:00+01:00"), "--json"])
        .args(words)
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2), "{words:?}: {output:?}");
    assert_eq!(before, lines(folder), "{words:?} wrote something");
    let error: Value = serde_json::from_slice(&output.stderr).unwrap();
    let error = &error["error"];
    assert!(
        !error["do"].as_str().unwrap().is_empty(),
        "{words:?}: what to do next is not said: {error}"
    );
    format!(
        "{}: {}",
        error["where"].as_str().unwrap(),
        error["what"].as_str().unwrap()
    )
}

/// Every line of the record.
pub(super) fn lines(folder: &Path) -> Vec<String> {
    let mut out = Vec::new();
    let mut folders = vec![folder.join("record")];
    while let Some(here) = folders.pop() {
        for entry in std::fs::read_dir(here).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let text = std::fs::read_to_string(path).unwrap();
                out.extend(text.lines().map(str::to_owned));
            }
        }
    }
    out.sort();
    out
}

pub(super) fn holds(schema: &str, value: &Value) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("schemas")
        .join(format!("{schema}.json"));
    let schema: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    let held = jsonschema::validator_for(&schema).unwrap();
    let wrong: Vec<String> = held
        .iter_errors(value)
        .map(|error| format!("{}: {error}", error.instance_path()))
        .collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
}

pub(super) fn notebook(folder: &Path) {
    let shown = folder.display().to_string();
    at(
        folder,
        "2026-01-01",
        &["init", &shown, "--author", "A. Person", "--role", "owner"],
    );
    at(
        folder,
        "2026-01-01",
        &[
            "aircraft",
            "add",
            "N0AB",
            "--type",
            "four-seater",
            "--layout",
            "low_wing_fixed",
        ],
    );
}

/// One walkaround with what is done in it.
pub(super) fn walk(folder: &Path, day: &str, hours: &str, calls: &[&[&str]]) -> Vec<Value> {
    at(folder, day, &["walkaround", "start", "--hours", hours]);
    let out = calls.iter().map(|words| at(folder, day, words)).collect();
    at(folder, day, &["walkaround", "finish"]);
    out
}

pub(super) fn finding<'a>(history: &'a Value, id: &str) -> &'a Value {
    history["findings"]
        .as_array()
        .unwrap()
        .iter()
        .find(|finding| finding["short"] == id)
        .unwrap()
}

#[test]
fn a_replaced_meter_continues_the_total_and_names_the_axis() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    at(
        &folder,
        "2026-01-02",
        &[
            "meter",
            "fit",
            "tach",
            "--kind",
            "tachometer",
            "--reading",
            "3200",
        ],
    );
    let opened = walk(
        &folder,
        "2026-01-03",
        "3210@tach",
        &[&[
            "finding",
            "open",
            "--zone",
            "left wheel fairing",
            "--condition",
            "crack",
            "--measure",
            "length 20 mm +-0.2 by ruler",
        ]],
    );
    let id = opened[0]["short"].as_str().unwrap();
    // New tachometer at 0 where the old one stood at 3210: 5 on it is 3215 in all.
    let fitted = at(
        &folder,
        "2026-01-10",
        &[
            "meter",
            "fit",
            "tach 2",
            "--kind",
            "tachometer",
            "--reading",
            "0",
            "--replaces",
            "tach",
        ],
    );
    assert_eq!(fitted["total"], "3210");
    assert_eq!(fitted["axis"], "tach");
    walk(
        &folder,
        "2026-01-11",
        "5@tach 2",
        &[&[
            "finding",
            "sight",
            id,
            "--measure",
            "length 22 mm +-0.2 by ruler",
        ]],
    );
    walk(
        &folder,
        "2026-01-12",
        "15@tach 2",
        &[&[
            "finding",
            "sight",
            id,
            "--measure",
            "length 26 mm +-0.2 by ruler",
        ]],
    );
    let history = at(&folder, "2026-01-13", &["history"]);
    holds("history", &history);
    let story = finding(&history, id);
    // 3210, 3215, 3225 h and 20, 22, 26 mm: every slope is 0.4 mm an hour.
    assert_eq!(story["trend"]["meter"], "tach");
    assert_eq!(story["trend"]["against"], "hours");
    assert!((story["trend"]["theil_sen"].as_f64().unwrap() - 0.4).abs() < 1e-9);
    assert_eq!(story["sightings"][2]["hours"], "3225");
    assert!(
        story["says"].as_str().unwrap().contains("over 15.0 h"),
        "{}",
        story["says"]
    );
    let error = refused(
        &folder,
        "2026-01-14",
        &["walkaround", "start", "--hours", "14@tach 2"],
    );
    assert!(error.contains("backwards"), "{error}");
    let error = refused(&folder, "2026-01-14", &["meter", "read", "tach 2", "3"]);
    assert!(error.contains("backwards"), "{error}");
    for words in [
        &["meter", "read", "hobs", "3"][..],
        &["meter", "read", "tach 2", "-3"],
        &[
            "meter",
            "fit",
            "tach 2",
            "--kind",
            "tachometer",
            "--reading",
            "0",
        ],
        &[
            "meter",
            "fit",
            "x",
            "--kind",
            "hour meter",
            "--reading",
            "0",
            "--replaces",
            "tach 2",
        ],
        &["walkaround", "start", "--landings", "12.5"],
        &["walkaround", "start", "--hours", "12000000000"],
    ] {
        refused(&folder, "2026-01-14", words);
    }
    let list = at(&folder, "2026-01-14", &["meter", "list"]);
    holds("meter_list", &list);
    assert_eq!(list["totals"][0]["total"], "3225");
    // Another clock's hours are not the same hours: no figure per hour is made across the two.
    walk(
        &folder,
        "2026-01-15",
        "5000",
        &[&[
            "finding",
            "sight",
            id,
            "--measure",
            "length 27 mm +-0.2 by ruler",
        ]],
    );
    let history = at(&folder, "2026-01-16", &["history"]);
    assert!(
        !finding(&history, id)["says"]
            .as_str()
            .unwrap()
            .contains("over")
    );
    assert_ne!(finding(&history, id)["trend"]["against"], "hours");
}

#[test]
fn findings_leave_with_their_tire_and_a_new_one_starts_anew() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    at(
        &folder,
        "2026-01-02",
        &[
            "component",
            "fit",
            "tire",
            "--zone",
            "left main tire",
            "--serial",
            "A1",
            "--hours",
            "100",
        ],
    );
    let opened = walk(
        &folder,
        "2026-01-03",
        "110",
        &[&[
            "finding",
            "open",
            "--zone",
            "left main tire",
            "--condition",
            "tire wear",
            "--measure",
            "groove_depth 4 mm +-0.2 by tread gauge",
        ]],
    );
    let old = opened[0]["short"].as_str().unwrap();
    refused(
        &folder,
        "2026-01-04",
        &[
            "component",
            "fit",
            "tire",
            "--zone",
            "left main tire",
            "--serial",
            "B2",
        ],
    );
    let fitted = at(
        &folder,
        "2026-01-04",
        &[
            "component",
            "fit",
            "tire",
            "--zone",
            "left main tire",
            "--serial",
            "B2",
            "--replaces",
            "A1",
            "--hours",
            "120",
        ],
    );
    assert_eq!(fitted["findings_left"], 1);
    let error = refused(
        &folder,
        "2026-01-05",
        &[
            "finding",
            "sight",
            old,
            "--measure",
            "groove_depth 7 mm by tread gauge",
        ],
    );
    assert!(error.contains("left with its tire A1"), "{error}");
    let opened = walk(
        &folder,
        "2026-01-05",
        "125",
        &[&[
            "finding",
            "open",
            "--zone",
            "left main tire",
            "--condition",
            "tire wear",
            "--measure",
            "groove_depth 7 mm +-0.2 by tread gauge",
        ]],
    );
    let new = opened[0]["short"].as_str().unwrap();
    walk(
        &folder,
        "2026-02-05",
        "160",
        &[&[
            "finding",
            "sight",
            new,
            "--measure",
            "groove_depth 6 mm +-0.2 by tread gauge",
        ]],
    );
    let history = at(&folder, "2026-02-06", &["history"]);
    holds("history", &history);
    assert_eq!(finding(&history, old)["open"], false);
    assert_eq!(
        finding(&history, old)["closed_how"],
        "left with its component"
    );
    // A groove gets worse by reading smaller.
    assert_eq!(finding(&history, new)["change"], "worse");
    assert_eq!(
        finding(&history, new)["sightings"][1]["first"]["difference"],
        -1.0
    );
    let list = at(&folder, "2026-02-06", &["component", "list"]);
    holds("component_list", &list);
    assert_eq!(list["components"][0]["removed"], "2026-01-04");
    refused(
        &folder,
        "2026-02-07",
        &[
            "component",
            "fit",
            "blade",
            "--zone",
            "propeller blades",
            "--position",
            "blade 1",
        ],
    );
    at(
        &folder,
        "2026-02-07",
        &[
            "component",
            "fit",
            "blade",
            "--zone",
            "propeller blades",
            "--position",
            "blade 1",
            "--convention",
            "blade 1 is the one beside the spinner's mark",
        ],
    );
}

#[test]
fn a_start_lies_between_looks_and_a_late_sighting_moves_it() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    let zone = "left wheel fairing";
    walk(
        &folder,
        "2026-01-05",
        "100",
        &[&["look", zone, "--nothing-found", "--how", "close"]],
    );
    // A glance, or a look in the wet, could not have seen a hairline: neither bounds the start.
    walk(
        &folder,
        "2026-01-20",
        "110",
        &[&["look", zone, "--nothing-found", "--how", "glance"]],
    );
    walk(
        &folder,
        "2026-01-25",
        "112",
        &[&["look", zone, "--nothing-found", "--access", "wet"]],
    );
    let opened = walk(
        &folder,
        "2026-03-01",
        "130",
        &[&["finding", "open", "--zone", zone, "--condition", "crack"]],
    );
    let id = opened[0]["short"].as_str().unwrap();
    let history = at(&folder, "2026-03-02", &["history", "--zone", zone]);
    holds("history", &history);
    let started = &finding(&history, id)["started"];
    assert_eq!(
        (&started["after"], &started["by"]),
        (&"2026-01-05".into(), &"2026-03-01".into())
    );
    assert_eq!(
        (&started["after_hours"], &started["by_hours"]),
        (&"100".into(), &"130".into())
    );
    at(
        &folder,
        "2026-03-05",
        &["finding", "sight", id, "--seen", "2026-01-15"],
    );
    let history = at(&folder, "2026-03-06", &["history", "--zone", zone]);
    let started = &finding(&history, id)["started"];
    assert_eq!(
        (&started["after"], &started["by"]),
        (&"2026-01-05".into(), &"2026-01-15".into())
    );
    assert_eq!(
        started["late"],
        serde_json::json!([["2026-01-15", "2026-03-05", "A. Person"]])
    );
    // A zone that nobody had looked at gives an open interval.
    let opened = walk(
        &folder,
        "2026-03-07",
        "131",
        &[&[
            "finding",
            "open",
            "--zone",
            "right wheel fairing",
            "--condition",
            "crack",
        ]],
    );
    let other = opened[0]["short"].as_str().unwrap();
    let shown = at(&folder, "2026-03-08", &["finding", "show", other]);
    holds("finding_show", &shown);
    assert_eq!(shown["finding"]["started"]["after"], Value::Null);
    // Nothing found over an open finding: not asked is shown, and is no sighting.
    let looks = walk(
        &folder,
        "2026-03-09",
        "132",
        &[&["look", zone, "--nothing-found"]],
    );
    assert_eq!(looks[0]["not_asked"], serde_json::json!([id]));
    let answer = format!("{id}=not-found");
    walk(
        &folder,
        "2026-03-10",
        "133",
        &[&["look", zone, "--nothing-found", "--answer", &answer]],
    );
    let history = at(&folder, "2026-03-11", &["history"]);
    let story = finding(&history, id);
    assert_eq!(
        story["not_asked"],
        serde_json::json!([["2026-03-09", "A. Person"]])
    );
    assert_eq!(
        story["sightings"].as_array().unwrap().last().unwrap()["result"],
        "not_found"
    );
    holds(
        "finding_list",
        &at(&folder, "2026-03-11", &["finding", "list"]),
    );
}

#[test]
fn a_life_with_treatment_return_concern_and_paint() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    let opened = walk(
        &folder,
        "2026-01-02",
        "100",
        &[
            &[
                "finding",
                "open",
                "--zone",
                "lower cowling and air filter",
                "--condition",
                "oil leak",
                "--step",
                "seep",
            ],
            &[
                "finding",
                "open",
                "--zone",
                "propeller blades",
                "--condition",
                "nick",
                "--measure",
                "depth 0.5 mm +-0.05 by depth gauge",
            ],
            &[
                "finding",
                "open",
                "--zone",
                "left aileron",
                "--condition",
                "crack",
                "--measure",
                "length 30 mm +-0.5 by ruler",
            ],
        ],
    );
    let ids: Vec<&str> = opened
        .iter()
        .map(|one| one["short"].as_str().unwrap())
        .collect();
    let (leak, nick, crack) = (ids[0], ids[1], ids[2]);
    walk(
        &folder,
        "2026-01-10",
        "110",
        &[&["finding", "sight", leak, "--step", "drip"]],
    );
    assert_eq!(
        finding(&at(&folder, "2026-01-10", &["history"]), leak)["change"],
        "worse"
    );
    at(
        &folder,
        "2026-01-10",
        &["meter", "read", "total time", "112"],
    );
    at(
        &folder,
        "2026-01-11",
        &[
            "finding",
            "treat",
            leak,
            "--how",
            "tightened",
            "--by",
            "B. Mechanic",
        ],
    );
    at(
        &folder,
        "2026-01-11",
        &["finding", "close", leak, "--how", "owner says corrected"],
    );
    // Treated at 112 h, seen again at 150: 38 h at most. A later sighting opens it by itself.
    walk(
        &folder,
        "2026-02-10",
        "150",
        &[&["finding", "sight", leak, "--step", "seep"]],
    );
    let history = at(&folder, "2026-02-11", &["history"]);
    holds("history", &history);
    let story = finding(&history, leak);
    assert_eq!(story["open"], true);
    assert_eq!(
        story["returned"],
        "second time; the last treatment lasted 38 h at most"
    );
    // Two dressings, 0.5 mm and 10 thou = 0.254 mm: 0.754 mm in all.
    at(
        &folder,
        "2026-02-12",
        &[
            "finding",
            "treat",
            nick,
            "--how",
            "dressed",
            "--measure",
            "dressed_depth 0.5 mm by depth gauge",
        ],
    );
    at(
        &folder,
        "2026-03-12",
        &[
            "finding",
            "treat",
            nick,
            "--how",
            "dressed",
            "--measure",
            "dressed_depth 10 thou by depth gauge",
        ],
    );
    let shown = at(&folder, "2026-03-13", &["finding", "show", nick]);
    let dressed = shown["finding"]["dressed"].as_str().unwrap();
    assert!(
        dressed.starts_with("dressed 2 times; 0.754 mm in all"),
        "{dressed}"
    );
    // A crack that reads shorter is said, not hidden.
    walk(
        &folder,
        "2026-03-14",
        "160",
        &[&[
            "finding",
            "sight",
            crack,
            "--measure",
            "length 25 mm +-0.5 by ruler",
        ]],
    );
    let shown = at(&folder, "2026-03-15", &["finding", "show", crack]);
    assert_eq!(shown["finding"]["change"], "less");
    assert!(
        shown["finding"]["says"]
            .as_str()
            .unwrap()
            .contains("does not shrink")
    );
    at(&folder, "2026-03-15", &["concern", crack, "watch"]);
    at(&folder, "2026-03-16", &["concern", crack, "before-flight"]);
    let shown = at(&folder, "2026-03-16", &["finding", "show", crack]);
    assert_eq!(shown["finding"]["change"], "worse");
    assert!(
        shown["finding"]["says"]
            .as_str()
            .unwrap()
            .contains("concern raised from watch to before flight by A. Person")
    );
    // Paint covers it: it is open, and covered.
    let event = at(
        &folder,
        "2026-03-20",
        &["event", "repaint", "--zone", "left aileron"],
    );
    holds("event", &event);
    let shown = at(&folder, "2026-03-21", &["finding", "show", crack]);
    assert_eq!(shown["finding"]["open"], true);
    assert_eq!(
        shown["finding"]["covered"],
        serde_json::json!(["2026-03-20", "A. Person"])
    );
    let shown = at(&folder, "2026-03-21", &["finding", "show", leak]);
    assert_eq!(shown["finding"]["covered"], Value::Null);
    walk(
        &folder,
        "2026-03-22",
        "161",
        &[&["finding", "sight", crack]],
    );
    assert_eq!(
        at(&folder, "2026-03-22", &["finding", "show", crack])["finding"]["covered"],
        Value::Null
    );
    for (words, said) in [
        (&["told", crack, "C. Engineer"][..], "told: C. Engineer"),
        (
            &[
                "defer",
                crack,
                "--by",
                "C. Engineer",
                "--on",
                "manual 5-10",
                "--until",
                "next annual",
            ][..],
            "deferred: C. Engineer, manual 5-10, next annual",
        ),
        (
            &["finding", "entry-seen", crack, "--reference", "log page 12"][..],
            "maintenance entry: log page 12",
        ),
        (&["finding", "reopen", leak, "--why", "still wet"][..], ""),
        (&["again", crack, "--at", "25 h"][..], ""),
        (&["read-before-flight"][..], ""),
    ] {
        at(&folder, "2026-03-23", words);
        if !said.is_empty() {
            let shown = at(&folder, "2026-03-24", &["finding", "show", crack]);
            let steps = shown["finding"]["steps"].to_string();
            assert!(steps.contains(said), "{steps}");
        }
    }
    // A window is given only when asked, with a limit, and never for a control.
    at(
        &folder,
        "2026-03-25",
        &["limit", crack, "60 mm", "--source", "manual 51-20"],
    );
    let asked = at(
        &folder,
        "2026-03-25",
        &["history", "--finding", crack, "--window"],
    );
    holds("history", &asked);
    assert_eq!(asked["window"], Value::Null);
    let because = asked["no_window_because"].as_str().unwrap();
    assert!(
        because.contains("no growth window is given for this place"),
        "{because}"
    );
    // Joined and split again.
    at(&folder, "2026-03-26", &["finding", "join", crack, nick]);
    refused(&folder, "2026-03-26", &["finding", "join", crack, crack]);
}

#[test]
fn coverage_says_when_how_by_whom_and_why_not() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    walk(
        &folder,
        "2026-01-02",
        "100",
        &[
            &[
                "look",
                "--stop",
                "propeller",
                "--nothing-found",
                "--fresh",
                "before",
            ],
            &["look", "left wing upper skin", "--not-seen", "snow"],
        ],
    );
    walk(
        &folder,
        "2026-01-03",
        "101",
        &[&["look", "windshield", "--nothing-found", "--how", "close"]],
    );
    for by in ["zones", "chapters", "prepurchase"] {
        holds(
            "coverage",
            &at(&folder, "2026-01-04", &["history", "--coverage", by]),
        );
    }
    let all = at(&folder, "2026-01-04", &["history", "--coverage", "zones"]);
    let zones = all["groups"][0]["zones"].as_array().unwrap();
    let of = |code: &str| zones.iter().find(|zone| zone["code"] == code).unwrap();
    assert_eq!(of("530")["last"], Value::Null);
    assert_eq!(of("530")["not_seen"]["why"], "snow");
    // The newest look comes last, what nobody saw first.
    assert_eq!(zones.last().unwrap()["code"], "210");
    assert_eq!(zones[0]["last"], Value::Null);
    let told = of("415")["last"]["together"].as_u64().unwrap();
    assert!(told > 1, "said together: {told}");
    assert_eq!(of("415")["last"]["fresh"], "before");
    let costly = at(
        &folder,
        "2026-01-04",
        &["history", "--coverage", "prepurchase"],
    );
    assert_eq!(costly["groups"][0]["title"], "engine");
    let count: usize = costly["groups"]
        .as_array()
        .unwrap()
        .iter()
        .map(|group| group["zones"].as_array().unwrap().len())
        .sum();
    assert_eq!(count as u64, costly["zones"].as_u64().unwrap());
    // Fresh eyes: the number at once, what they are on request.
    walk(
        &folder,
        "2026-01-05",
        "102",
        &[&[
            "finding",
            "open",
            "--zone",
            "spinner and hub",
            "--condition",
            "crack",
        ]],
    );
    at(&folder, "2026-01-06", &["walkaround", "start"]);
    let stop = at(&folder, "2026-01-06", &["walkaround", "stop", "propeller"]);
    assert_eq!(
        (&stop["earlier_findings"], &stop["findings"]),
        (&1.into(), &Value::Null)
    );
    let stop = at(
        &folder,
        "2026-01-06",
        &["walkaround", "stop", "propeller", "--open"],
    );
    assert_eq!(stop["findings"][0]["zone"], "415");
    refused(
        &folder,
        "2026-01-06",
        &["look", "--stop", "propelller", "--nothing-found"],
    );
    refused(&folder, "2026-01-06", &["history", "--ata", "99"]);
    let gear = at(&folder, "2026-01-06", &["history", "--ata", "32"]);
    holds("history", &gear);
    assert!(
        gear["zones"]
            .as_array()
            .unwrap()
            .iter()
            .all(|zone| zone["code"] != "210")
    );
    let late = at(&folder, "2026-01-06", &["history", "--since", "2026-01-05"]);
    assert_eq!(late["walkarounds"].as_array().unwrap().len(), 2);
    refused(&folder, "2026-01-06", &["history", "--since", "last week"]);
}

#[test]
fn readings_have_a_history_and_what_is_usual_for_this_one() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    // 10 h apart; topped up by 1 qt after each reading. Used: 1, 1, 1.5, 1, 2 qt.
    for (n, (found, day)) in [
        ("7 qt", "2026-01-02"),
        ("7 qt", "2026-01-12"),
        ("7 qt", "2026-01-22"),
        ("6.5 qt", "2026-02-02"),
        ("6.5 qt", "2026-02-12"),
        ("5.5 qt", "2026-02-22"),
    ]
    .into_iter()
    .enumerate()
    {
        walk(
            &folder,
            day,
            &format!("{}", 100 + 10 * n),
            &[
                &[
                    "reading",
                    "oil found",
                    found,
                    "--zone",
                    "engine bay and oil filler",
                ],
                &[
                    "reading",
                    "oil added",
                    "1 qt",
                    "--zone",
                    "engine bay and oil filler",
                ],
                &[
                    "reading",
                    "pressure",
                    "32 psi",
                    "--u",
                    "0.5",
                    "--zone",
                    "nose tire",
                    "--with",
                    "temperature=15 degC",
                ],
            ],
        );
    }
    let readings = at(&folder, "2026-02-23", &["history", "--readings"]);
    holds("readings", &readings);
    let oil = &readings["used"][0];
    let per_hour: Vec<f64> = oil["between"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one["per_hour"].as_f64().unwrap())
        .collect();
    for (got, want) in per_hour.iter().zip([0.1, 0.1, 0.15, 0.1, 0.2]) {
        assert!((got - want).abs() < 1e-9, "{per_hour:?}");
    }
    // The last is set beside the four before it: median of 0.1, 0.1, 0.15, 0.1 is 0.1.
    assert_eq!(oil["usual"]["n"], 4);
    assert!((oil["usual"]["median"].as_f64().unwrap() - 0.1).abs() < 1e-9);
    assert_eq!(oil["between"][0]["meter"], "total time");
    let pressure = readings["series"]
        .as_array()
        .unwrap()
        .iter()
        .find(|series| series["reading"] == "pressure")
        .unwrap();
    assert_eq!(pressure["points"][1]["against_first"]["change"], "same");
    // Another temperature, or none said: not comparable.
    at(
        &folder,
        "2026-02-24",
        &[
            "reading",
            "pressure",
            "36 psi",
            "--u",
            "0.5",
            "--zone",
            "nose tire",
            "--with",
            "temperature=35 degC",
        ],
    );
    at(
        &folder,
        "2026-02-25",
        &[
            "reading",
            "pressure",
            "36 psi",
            "--u",
            "0.5",
            "--zone",
            "nose tire",
        ],
    );
    at(
        &folder,
        "2026-02-25",
        &[
            "reading",
            "fuel sample",
            "water",
            "--zone",
            "left fuel drains and vent",
        ],
    );
    let readings = at(&folder, "2026-02-26", &["history", "--readings"]);
    let pressure = readings["series"]
        .as_array()
        .unwrap()
        .iter()
        .find(|series| series["reading"] == "pressure")
        .unwrap();
    for point in [6, 7] {
        assert_eq!(
            pressure["points"][point]["against_first"]["change"],
            "not_comparable"
        );
    }
    refused(&folder, "2026-02-26", &["reading", "oil found", "-1 qt"]);
    refused(
        &folder,
        "2026-02-26",
        &["reading", "oil found", "5 furlong"],
    );
    refused(
        &folder,
        "2026-02-26",
        &["reading", "oil found", "50000000 qt"],
    );
}

#[test]
fn what_cannot_be_is_refused_and_nothing_is_lost() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    let opened = walk(
        &folder,
        "2026-01-02",
        "100",
        &[&[
            "finding",
            "open",
            "--zone",
            "left wheel fairing",
            "--condition",
            "crack",
            "--measure",
            "length 2 1/4 in by ruler",
        ]],
    );
    let id = opened[0]["short"].as_str().unwrap();
    for words in [
        &["finding", "sight", id, "--measure", "length -2 in by ruler"][..],
        &[
            "finding",
            "sight",
            id,
            "--measure",
            "length 20000000 in by ruler",
        ],
        &[
            "finding",
            "sight",
            id,
            "--measure",
            "length 2 furlongs by ruler",
        ],
        &["finding", "sight", id, "--measure", "length 2 in"],
        &[
            "finding",
            "sight",
            id,
            "--measure",
            "length 2 in +--1 by ruler",
        ],
        &["finding", "sight", "721-00000"],
        &[
            "finding",
            "open",
            "--zone",
            "left wheel fairing",
            "--condition",
            "crak",
        ],
        &["finding", "open", "--condition", "crack"],
        &["finding", "open", "--condition", "did not work"],
        &["limit", id, "3 psi", "--source", "manual"],
        &["limit", id, "-1 in", "--source", "manual"],
        &["event", "hail storm of frogs"],
        &["component", "remove", "nothing"],
    ] {
        refused(&folder, "2026-01-03", words);
    }
    // A limit below the present size is a fact too: written down, and said.
    assert_eq!(
        at(
            &folder,
            "2026-01-03",
            &["limit", id, "1 in", "--source", "manual"]
        )["past"],
        true
    );
    // Two units of one series are compared through exact conversion: 2 1/4 in is 57.15 mm.
    walk(
        &folder,
        "2026-01-03",
        "101",
        &[&[
            "finding",
            "sight",
            id,
            "--measure",
            "length 57.15 mm by ruler",
        ]],
    );
    let shown = at(&folder, "2026-01-04", &["finding", "show", id]);
    assert_eq!(shown["finding"]["sightings"][1]["first"]["difference"], 0.0);
    // A system that did not work needs no zone.
    at(
        &folder,
        "2026-01-05",
        &[
            "finding",
            "open",
            "--condition",
            "did not work",
            "--system",
            "landing light",
        ],
    );
    let list = at(&folder, "2026-01-06", &["finding", "list"]);
    holds("finding_list", &list);
    assert!(
        list["findings"]
            .as_array()
            .unwrap()
            .iter()
            .any(|finding| finding["zone_name"] == "landing light")
    );
    // Two sightings at one instant keep one order, by author and number in the chain.
    at(
        &folder,
        "2026-01-07",
        &["finding", "sight", id, "--measure", "length 58 mm by ruler"],
    );
    at(
        &folder,
        "2026-01-07",
        &["finding", "sight", id, "--measure", "length 59 mm by ruler"],
    );
    let shown = at(&folder, "2026-01-08", &["finding", "show", id]);
    let values: Vec<f64> = shown["finding"]["sightings"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(|one| one["value"].as_f64())
        .collect();
    assert_eq!(values, [2.25, 57.15, 58.0, 59.0]);
    holds(
        "layout_show",
        &at(&folder, "2026-01-08", &["layout", "show", "light_twin"]),
    );
}

#[test]
fn a_users_own_layout_is_checked_with_lines_and_suggestions() {
    let scratch = tempfile::tempdir().unwrap();
    let file = scratch.path().join("own.toml");
    let shown = file.display().to_string();
    let built_in = include_str!("../../core/layouts/tailwheel.toml");
    let check = |text: &str| -> (i32, Value) {
        std::fs::write(&file, text).unwrap();
        let output = Command::new(program())
            .args(["layout", "check", &shown, "--json"])
            .output()
            .unwrap();
        (
            output.status.code().unwrap(),
            serde_json::from_slice(&output.stdout).unwrap(),
        )
    };
    let (status, good) = check(built_in);
    assert_eq!((status, &good["usable"]), (0, &true.into()), "{good}");
    // A code given twice, a zone in a loop, a stop with a zone that is not there: each with its line.
    let broken = built_in
        .replacen("code = \"120\"", "code = \"110\"", 1)
        .replacen("title = ", "titel = ", 1);
    let (status, found) = check(&broken);
    assert_eq!((status, &found["usable"]), (2, &false.into()));
    let mistakes = found["mistakes"].as_array().unwrap();
    assert!(
        mistakes
            .iter()
            .all(|mistake| mistake["line"].as_u64().unwrap() >= 1)
    );
    assert!(
        mistakes
            .iter()
            .any(|mistake| mistake["do"].as_str().unwrap().contains("title")),
        "{found}"
    );
    assert!(
        mistakes
            .iter()
            .any(|mistake| mistake["what"].as_str().unwrap().contains("110")),
        "{found}"
    );
    std::fs::write(&file, "#".repeat(5 << 20)).unwrap();
    let output = Command::new(program())
        .args(["layout", "check", &shown, "--json"])
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2));
}

/// The scales' terms and figures: core/conditions/scales, from trade-facts 3 (one by the wetted size in
/// thirty minutes, one by how soon a wiped leak comes back, corrosion bands for a cleaned depth).
#[test]
fn a_published_scale_is_refused_where_its_terms_are_not_met() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    let opened = walk(
        &folder,
        "2026-01-02",
        "100",
        &[
            &[
                "finding",
                "open",
                "--zone",
                "left wing lower skin",
                "--condition",
                "fuel leak",
            ],
            &[
                "finding",
                "open",
                "--zone",
                "left wing lower skin",
                "--condition",
                "corrosion",
            ],
        ],
    );
    let fuel = opened[0]["short"].as_str().unwrap();
    let rust = opened[1]["short"].as_str().unwrap();
    let sight =
        |id: &'static str, measure: &'static str, with: &'static str, scale: &'static str| {
            let mut words = vec!["finding", "sight", id];
            if !measure.is_empty() {
                words.extend(["--measure", measure]);
            }
            if !with.is_empty() {
                words.extend(["--with", with]);
            }
            words.extend(["--scale", scale]);
            words
        };
    let (fuel, rust): (&'static str, &'static str) =
        (fuel.to_owned().leak(), rust.to_owned().leak());
    for (words, why) in [
        (
            sight(fuel, "width 1 in by ruler", "", "fuel wetted 30 min"),
            "wiped dry",
        ),
        (
            sight(
                fuel,
                "width 1 in by ruler",
                "minutes_since_wiped=5",
                "fuel wetted 30 min",
            ),
            "30 min",
        ),
        (
            sight(
                fuel,
                "width 1 in by ruler",
                "minutes_since_wiped=30",
                "corrosion depth cleaned",
            ),
            "no published scale",
        ),
        (
            sight(fuel, "", "returns=not wiped", "fuel return after wiping"),
            "",
        ),
        (
            sight(
                rust,
                "depth 5 thou +-0.5 by depth gauge",
                "cleaned=no",
                "corrosion depth cleaned",
            ),
            "after cleaning",
        ),
        (
            sight(
                rust,
                "depth 5 thou +-0.5 by depth gauge",
                "",
                "corrosion depth cleaned",
            ),
            "after cleaning",
        ),
    ] {
        let error = refused(&folder, "2026-01-03", &words);
        assert!(error.contains(why), "{words:?}: {error}");
    }
    for (words, class) in [
        (
            sight(
                fuel,
                "width 1 in +-0.05 by ruler",
                "minutes_since_wiped=30",
                "fuel wetted 30 min",
            ),
            "seep",
        ),
        (
            sight(fuel, "", "returns=at once", "fuel return after wiping"),
            "heavy seep",
        ),
        (
            sight(
                rust,
                "depth 5 thou +-0.5 by depth gauge",
                "cleaned=yes, products removed",
                "corrosion depth cleaned",
            ),
            "moderate",
        ),
    ] {
        at(&folder, "2026-01-04", &words);
        let shown = at(&folder, "2026-01-04", &["finding", "show", words[2]]);
        let says = shown["finding"]["sightings"]
            .as_array()
            .unwrap()
            .last()
            .unwrap()["says"]
            .as_str()
            .unwrap()
            .to_owned();
        let scale = words.last().unwrap().replace(' ', "_");
        assert!(says.contains(&scale) && says.ends_with(class), "{says}");
    }
}
