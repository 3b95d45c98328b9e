//! Everything that lists things gives one JSON object that holds to its schema, and the same as CSV
//! and as Markdown. All data is invented.

use std::path::Path;

use serde_json::Value;

use super::{good, notebook, refused, run};

fn holds(schema: &str, value: &Value) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("schemas")
        .join(format!("{schema}.json"));
    let schema: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    let held = jsonschema::validator_for(&schema).unwrap();
    let wrong: Vec<String> = held
        .iter_errors(value)
        .map(|error| format!("{}: {error}", error.instance_path()))
        .collect();
    assert!(wrong.is_empty(), "{wrong:#?} in {value:#}");
}

fn json(folder: &Path, words: &[&str]) -> Value {
    let words: Vec<&str> = words.iter().copied().chain(["--json"]).collect();
    serde_json::from_str(&good(folder, &words)).unwrap()
}

/// A notebook with something of everything that lists show.
fn busy(folder: &Path) {
    notebook(folder);
    for words in [
        &[
            "meter",
            "fit",
            "tach",
            "--kind",
            "tachometer",
            "--reading",
            "1200",
        ][..],
        &[
            "component",
            "fit",
            "tyre",
            "--zone",
            "731",
            "--serial",
            "T-1",
            "--hours",
            "1200",
        ],
        &[
            "walkaround",
            "start",
            "--purpose",
            "routine",
            "--hours",
            "1203.4",
        ],
        &[
            "finding",
            "open",
            "--zone",
            "733",
            "--condition",
            "crack",
            "--part",
            "lower aft screw",
            "--measure",
            "length 2 1/4 in by ruler",
        ],
        &[
            "look",
            "734",
            "--nothing-found",
            "--how",
            "close",
            "--access",
            "panel",
        ],
        &["look", "440", "--not-seen", "cowl on"],
        &["reading", "oil found", "6.5 qt", "--zone", "430"],
        &["note", "=SUM(A1) | <b>not placed</b>"],
        &["walkaround", "finish"],
        &["walkaround", "start"],
    ] {
        good(folder, words);
    }
}

#[test]
fn every_list_holds_to_its_schema() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    busy(&folder);
    let mistaken = scratch.path().join("mistaken.toml");
    std::fs::write(&mistaken, "name = \"x\"\n").unwrap();
    let mistaken = mistaken.display().to_string();
    holds("aircraft_list", &json(&folder, &["aircraft", "list"]));
    holds("aircraft_show", &json(&folder, &["aircraft", "show"]));
    holds("layout_list", &json(&folder, &["layout", "list"]));
    holds(
        "walkaround_status",
        &json(&folder, &["walkaround", "status"]),
    );
    holds("verify", &json(&folder, &["verify"]));
    let output = run(&folder, &["layout", "check", &mistaken, "--json"]);
    assert_eq!(output.status.code(), Some(2));
    holds(
        "layout_check",
        &serde_json::from_slice(&output.stdout).unwrap(),
    );
    for form in ["list", "grammar", "pronunciations"] {
        holds("words", &json(&folder, &["words", "--form", form]));
    }
    let finishes = json(&folder, &["proof"]);
    holds("proof", &finishes);
    let finish = &finishes["finishes"][0];
    let code = finish["code"].as_str().unwrap();
    holds("proof", &json(&folder, &["proof", "--check", code]));
    let first = json(&folder, &["finding", "list"])["findings"][0]["id"].clone();
    holds(
        "proof",
        &json(&folder, &["proof", "--line", first.as_str().unwrap()]),
    );
    // Two finishes, the second over the first; and both proofs handed over, read without a notebook.
    good(&folder, &["walkaround", "finish"]);
    for (name, asked) in [
        ("line.json", ["--line", first.as_str().unwrap()]),
        ("finishes.json", ["--older", code]),
    ] {
        let out = scratch.path().join(name).display().to_string();
        let made = json(&folder, &["proof", asked[0], asked[1], "--out", &out]);
        holds("proof", &made);
        let nowhere = scratch.path().join("nowhere");
        assert_eq!(json(&nowhere, &["proof", "--verify", &out]), made);
        let text = std::fs::read_to_string(&out).unwrap();
        let broken = text.replacen(made["path"][0].as_str().unwrap(), &"0".repeat(64), 1);
        assert_ne!(broken, text);
        std::fs::write(&out, broken).unwrap();
        refused(&nowhere, &["proof", "--verify", &out], 1);
    }
    let other = scratch.path().join("o");
    let shown = other.display().to_string();
    good(
        &other,
        &[
            "init",
            &shown,
            "--author",
            "B. Person",
            "--role",
            "mechanic",
            "--seed",
            "9",
        ],
    );
    holds(
        "receive",
        &json(&other, &["receive", &folder.display().to_string()]),
    );
    for words in [
        &["look", "734"][..],
        &["finding", "show", "zzz"],
        &["nonsense"],
        &["photo", "/no/such/file.jpg"],
    ] {
        let words: Vec<&str> = words.iter().copied().chain(["--json"]).collect();
        let error = refused(&folder, &words, 2);
        holds("error", &serde_json::from_str(&error).unwrap());
    }
}

/// The lists, where each finds something to show, and columns that stay empty here with why.
const LISTS: [(&[&str], &[&str]); 13] = [
    (&["aircraft", "list"], &["serial"]),
    (&["layout", "list"], &[]),
    (&["layout", "show", "low_wing_fixed"], &[]),
    (&["meter", "list"], &[]),
    (
        &["component", "list"],
        &["position", "removed", "removed hours"],
    ),
    (&["walkaround", "status"], &[]),
    (&["finding", "list"], &["concern", "look again"]),
    (&["finding", "show", "733"], &["u", "before", "first"]),
    (&["history"], &["concern", "look again"]),
    (&["history", "--coverage", "chapters"], &[]),
    (&["history", "--readings"], &["u"]),
    (&["verify"], &["walkaround", "zone", "finding"]),
    (&["proof"], &[]),
];

/// A column whose pointer leads nowhere would be empty for ever without anybody noticing.
#[test]
fn every_list_is_a_table_and_no_column_leads_nowhere() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    busy(&folder);
    let finding = json(&folder, &["finding", "list"])["findings"][0]["short"].clone();
    for (words, empty) in LISTS {
        let words: Vec<&str> = words
            .iter()
            .map(|word| {
                if *word == "733" {
                    finding.as_str().unwrap()
                } else {
                    word
                }
            })
            .collect();
        let with = |form: &'static str| {
            let words: Vec<&str> = words.iter().copied().chain([form]).collect();
            good(&folder, &words)
        };
        let text = with("--csv");
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        let heads = reader.headers().unwrap().clone();
        let rows: Vec<csv::StringRecord> = reader.records().map(|row| row.unwrap()).collect();
        assert!(!rows.is_empty(), "{words:?} gave no row");
        for (column, name) in heads.iter().enumerate() {
            let filled = rows.iter().any(|row| !row[column].is_empty());
            assert!(
                filled || empty.contains(&name),
                "{words:?}: column \"{name}\" is empty in {text}"
            );
        }
        let table = with("--md");
        assert_eq!(table.lines().count(), rows.len() + 2, "{words:?}: {table}");
    }
    let series = scratch.path().join("s.csv");
    std::fs::write(
        &series,
        "date,hours,landings,value,unit,u,method,place\n2031-01-01,1,,1,mm,0.1,card,a\n2031-02-01,5,,2,mm,0.1,card,a\n",
    )
    .unwrap();
    let text = good(&folder, &["growth", &series.display().to_string(), "--csv"]);
    assert!(text.starts_with("from,to,change,"), "{text}");
    assert!(text.contains("0,1,worse,1.0"), "{text}");
}

#[test]
fn what_gives_no_list_gives_no_table_and_does_nothing() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    busy(&folder);
    let before = json(&folder, &["verify"])["lines"].clone();
    for words in [&["note", "kept?", "--csv"][..], &["undo", "--md"]] {
        let error = refused(&folder, words, 2);
        assert!(error.contains("this call gives no table"), "{error}");
    }
    assert_eq!(json(&folder, &["verify"])["lines"], before);
}
