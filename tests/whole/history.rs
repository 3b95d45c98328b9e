//! What history says of a finding, and that the page says the same. All data is invented and made so
//! that the truth is known by construction; expected figures are worked out by hand beside each check.

use std::path::Path;

use serde_json::Value;

use super::knowledge::{at, finding, holds, notebook, refused, walk};

const FAIRING: &str = "left wheel fairing";

fn report(folder: &Path, day: &str, name: &str, words: &[&str]) -> String {
    let file = folder.join(name);
    let shown = file.display().to_string();
    let mut all = vec!["report", "--out", &shown];
    all.extend_from_slice(words);
    at(folder, day, &all);
    std::fs::read_to_string(file).unwrap()
}

fn page(folder: &Path, day: &str, words: &[&str]) -> Value {
    let page: Value = serde_json::from_str(&report(folder, day, "report.json", words)).unwrap();
    holds("report", &page);
    page
}

/// A length that holds still hides no depth that grows: 10 ± 0.5 mm stays, 0.20 mm becomes 0.60 mm,
/// with u = 0.05 mm twice U = 2·√2·0.05 = 0.14 mm; the width is measured once.
#[test]
fn each_quantity_of_one_finding_is_a_series_of_its_own() {
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
                "propeller blades",
                "--condition",
                "nick",
                "--measure",
                "length 10 mm +-0.5 by ruler",
                "--measure",
                "depth 0.20 mm +-0.05 by depth gauge",
            ],
            &[
                "finding",
                "open",
                "--zone",
                FAIRING,
                "--condition",
                "crack",
                "--measure",
                "length 20 mm +-0.2 by ruler",
            ],
        ],
    );
    let (nick, crack) = (
        opened[0]["short"].as_str().unwrap(),
        opened[1]["short"].as_str().unwrap(),
    );
    walk(
        &folder,
        "2026-02-02",
        "110",
        &[
            &[
                "finding",
                "sight",
                nick,
                "--measure",
                "length 10 mm +-0.5 by ruler",
                "--measure",
                "depth 0.60 mm +-0.05 by depth gauge",
                "--measure",
                "width 2 mm +-0.5 by ruler",
            ],
            &[
                "finding",
                "sight",
                crack,
                "--measure",
                "length 21 mm +-0.2 by ruler",
            ],
        ],
    );
    let history = at(&folder, "2026-02-03", &["history"]);
    holds("history", &history);
    let story = finding(&history, nick);
    assert_eq!(story["change"], "worse");
    let series = story["series"].as_array().unwrap();
    let changes: Vec<(&str, &str)> = series
        .iter()
        .map(|one| {
            (
                one["quantity"].as_str().unwrap(),
                one["change"].as_str().unwrap(),
            )
        })
        .collect();
    assert_eq!(
        changes,
        [("depth", "worse"), ("length", "same"), ("width", "first")]
    );
    let says = story["says"].as_str().unwrap();
    assert!(
        says.starts_with("depth: worse by 0.40 mm ± 0.15 mm"),
        "{says}"
    );
    assert!(says.contains("length: no change shown"), "{says}");
    assert!(says.contains("width: measured once"), "{says}");
    // The sighting leads with what got worse, and holds every measure.
    let sighting = &story["sightings"][1];
    assert_eq!(sighting["quantity"], "depth");
    assert_eq!(sighting["measures"].as_array().unwrap().len(), 3);
    let difference = sighting["measures"][1]["first"]["difference"]
        .as_f64()
        .unwrap();
    assert!((difference - 0.4).abs() < 1e-9);
    assert_eq!(sighting["measures"][0]["first"]["change"], "same");
    assert_eq!(sighting["measures"][2]["first"], Value::Null);
    // d/u of the nick is 0.40/0.0707 = 5.7, of the crack 1/0.283 = 3.5: the nick stands first.
    assert_eq!(history["findings"][0]["short"], nick);
    // The page says the same.
    let content = page(&folder, "2026-02-03", &[]);
    let item = &content["findings"][0];
    assert_eq!(item["says"], story["says"]);
    assert_eq!(item["change"], "worse");
    let first = item["sightings"][1]["first"].as_str().unwrap();
    assert!(
        first.contains("depth: worse by 0.40 mm") && first.contains("length: no change"),
        "{first}"
    );
    let now = item["size_now"].as_str().unwrap();
    assert!(
        now.contains("depth 0.6 mm") && now.contains("width 2 mm"),
        "{now}"
    );
    holds(
        "finding_show",
        &at(&folder, "2026-02-03", &["finding", "show", nick]),
    );
}

/// Hours of a tachometer are never called total time; a meter of total time gives it by its offset:
/// 12 on it with 3,000 before is 3,012.
#[test]
fn hours_are_named_by_the_meter_that_was_read() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    at(
        &folder,
        "2026-01-01",
        &[
            "meter",
            "fit",
            "tach",
            "--kind",
            "tachometer",
            "--reading",
            "810",
        ],
    );
    let opened = walk(
        &folder,
        "2026-01-02",
        "812.3@tach",
        &[&[
            "finding",
            "open",
            "--zone",
            FAIRING,
            "--condition",
            "crack",
            "--measure",
            "length 20 mm +-0.2 by ruler",
        ]],
    );
    let id = opened[0]["short"].as_str().unwrap().to_owned();
    walk(
        &folder,
        "2026-01-05",
        "820.3@tach",
        &[&[
            "finding",
            "sight",
            &id,
            "--measure",
            "length 22 mm +-0.2 by ruler",
        ]],
    );
    let content = page(&folder, "2026-01-06", &[]);
    assert_eq!(content["total_time"], Value::Null);
    assert_eq!(content["meters"][0]["meter"], "tach");
    assert_eq!(content["meters"][0]["total"], "820.3");
    assert_eq!(content["walkarounds"][0]["meter"], "tach");
    assert_eq!(content["findings"][0]["series"][0]["meter"], "tach");
    for (name, words) in [
        ("page.html", &[][..]),
        ("sheet.html", &["--cut", "sheet"]),
        ("page.md", &[]),
        ("page.txt", &["--form", "text"]),
    ] {
        let text = report(&folder, "2026-01-06", name, words).to_lowercase();
        assert!(text.contains("tach"), "{name} does not name the meter");
        for wrong in ["total time 8", "total time, h", "20.3 h total time"] {
            assert!(
                !text.contains(wrong),
                "{name} calls tachometer hours {wrong}"
            );
        }
    }
    let html = report(&folder, "2026-01-06", "page.html", &[]);
    assert!(html.contains("tach, h"), "the chart does not name its axis");
    let says = content["findings"][0]["says"].as_str().unwrap();
    assert!(says.contains("over 8.0 h on tach"), "{says}");
    // Now a meter of total time, set to go on from 3,000.
    at(
        &folder,
        "2026-01-07",
        &[
            "meter",
            "fit",
            "hobbs",
            "--kind",
            "total time",
            "--reading",
            "0",
            "--total",
            "3000",
        ],
    );
    walk(
        &folder,
        "2026-01-08",
        "12@hobbs",
        &[&["finding", "sight", &id]],
    );
    let content = page(&folder, "2026-01-09", &[]);
    assert_eq!(content["total_time"], "3012");
    assert_eq!(content["walkarounds"][2]["meter"], "airframe total time");
    // Read without a meter, it is the same clock: it cannot run backwards.
    let error = refused(
        &folder,
        "2026-01-10",
        &["meter", "read", "total time", "3011"],
    );
    assert!(error.contains("backwards"), "{error}");
    let error = refused(
        &folder,
        "2026-01-10",
        &["walkaround", "start", "--hours", "5@hobbs"],
    );
    assert!(error.contains("backwards"), "{error}");
}

/// A counter of landings carries an offset as a clock does: 57 on it with 4,000 before are 4,057.
#[test]
fn landings_have_an_offset_and_where_they_lack_it_is_said() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    at(
        &folder,
        "2026-01-01",
        &[
            "meter",
            "fit",
            "counter",
            "--kind",
            "landings",
            "--reading",
            "50",
            "--total",
            "4050",
        ],
    );
    at(
        &folder,
        "2026-01-02",
        &["walkaround", "start", "--landings", "57@counter"],
    );
    let opened = at(
        &folder,
        "2026-01-02",
        &[
            "finding",
            "open",
            "--zone",
            FAIRING,
            "--condition",
            "crack",
            "--measure",
            "length 20 mm +-0.2 by ruler",
        ],
    );
    at(&folder, "2026-01-02", &["walkaround", "finish"]);
    let id = opened["short"].as_str().unwrap();
    let content = page(&folder, "2026-01-03", &[]);
    assert_eq!(content["landings"], "4057");
    assert_eq!(content["findings"][0]["sightings"][0]["landings"], "4057");
    for words in [
        &["walkaround", "start", "--landings", "56@counter"][..],
        &["walkaround", "start", "--landings", "4056"],
        &["walkaround", "start", "--hours", "57@counter"],
        &["meter", "read", "counter", "12"],
    ] {
        let error = refused(&folder, "2026-01-03", words);
        assert!(
            error.contains("backwards") || error.contains("counts landings"),
            "{error}"
        );
    }
    walk(
        &folder,
        "2026-01-04",
        "100",
        &[&[
            "finding",
            "sight",
            id,
            "--measure",
            "length 21 mm +-0.2 by ruler",
        ]],
    );
    let content = page(&folder, "2026-01-05", &["--against", "landings"]);
    let series = &content["findings"][0]["series"][0];
    assert_eq!(series["against"], "days");
    let note = series["note"].as_str().unwrap();
    assert!(
        note.contains("landings: 1 of 2 readings carry none"),
        "{note}"
    );
}

/// What cannot be compared with the latest reading feeds neither trend nor window, and it is said. The
/// two at the layer of paint are 80 and 90 mm; the three in the structure grow by 2 mm in 10 h.
#[test]
fn what_is_not_comparable_feeds_no_trend_and_no_window_and_the_page_agrees() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    let opened = walk(
        &folder,
        "2026-01-01",
        "100",
        &[&[
            "finding",
            "open",
            "--zone",
            FAIRING,
            "--condition",
            "crack",
            "--measure",
            "length 80 mm +-0.2 by ruler",
            "--with",
            "layer=paint",
        ]],
    );
    let id = opened[0]["short"].as_str().unwrap().to_owned();
    for (day, hours, size, layer) in [
        ("2026-01-05", "105", "90", "paint"),
        ("2026-01-10", "110", "20", "structure"),
        ("2026-01-20", "120", "22", "structure"),
        ("2026-01-30", "130", "24", "structure"),
    ] {
        let measure = format!("length {size} mm +-0.2 by ruler");
        let layer = format!("layer={layer}");
        walk(
            &folder,
            day,
            hours,
            &[&[
                "finding",
                "sight",
                &id,
                "--measure",
                &measure,
                "--with",
                &layer,
            ]],
        );
    }
    at(
        &folder,
        "2026-01-31",
        &["limit", &id, "60 mm", "--source", "manual 51-20"],
    );
    let shown = at(
        &folder,
        "2026-01-31",
        &["history", "--finding", &id, "--window"],
    );
    holds("history", &shown);
    let trend = &finding(&shown, &id)["trend"];
    assert_eq!(trend["n"], 3);
    assert!(
        (trend["theil_sen"].as_f64().unwrap() - 0.2).abs() < 1e-9,
        "{trend}"
    );
    let left = trend["left_out"].as_array().unwrap();
    assert_eq!(left.len(), 2);
    assert_eq!(left[0]["date"], "2026-01-01");
    assert_eq!(left[0]["why"], "layer: paint, then structure");
    let window = &shown["window"];
    assert_eq!(window["left_out"].as_array().unwrap().len(), 2, "{window}");
    assert_eq!(window["meter"], "total time");
    // The page has the window of the history, and says what it leaves out; never on the sheet.
    let content = page(&folder, "2026-01-31", &["--windows"]);
    let said = content["findings"][0]["window"].as_str().unwrap();
    let earliest = window["earliest"].as_f64().unwrap();
    assert!(
        said.contains(&format!("between {earliest:.0} h (airframe total time)")),
        "{said}"
    );
    assert!(said.contains("2 readings are left out"), "{said}");
    let sheet = page(&folder, "2026-01-31", &["--windows", "--cut", "sheet"]);
    assert_eq!(sheet["findings"][0]["window"], Value::Null);
    // A limit below the present size is said.
    let past = at(
        &folder,
        "2026-02-01",
        &["limit", &id, "23 mm", "--source", "manual 51-20"],
    );
    assert_eq!(past["past"], true);
    let shown = at(
        &folder,
        "2026-02-01",
        &["history", "--finding", &id, "--window"],
    );
    assert_eq!(finding(&shown, &id)["limit_reached"], true);
    let because = shown["no_window_because"].as_str().unwrap();
    assert!(because.contains("already reached"), "{because}");
    let content = page(&folder, "2026-02-01", &[]);
    assert!(
        content["findings"][0]["limit"]
            .as_str()
            .unwrap()
            .contains("has reached it")
    );
}

/// Treated at 112 h, seen again at 150: 38 h; the page says what the history says.
#[test]
fn the_page_tells_of_returns_paint_dressing_looks_and_late_sightings() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    walk(
        &folder,
        "2026-01-01",
        "90",
        &[&["look", FAIRING, "--nothing-found", "--how", "close"]],
    );
    let opened = walk(
        &folder,
        "2026-01-05",
        "100",
        &[
            &["finding", "open", "--zone", FAIRING, "--condition", "crack"],
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
        ],
    );
    let (crack, nick) = (
        opened[0]["short"].as_str().unwrap(),
        opened[1]["short"].as_str().unwrap(),
    );
    at(
        &folder,
        "2026-01-06",
        &["meter", "read", "total time", "112"],
    );
    at(
        &folder,
        "2026-01-06",
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
    walk(&folder, "2026-02-01", "150", &[&["finding", "sight", nick]]);
    walk(
        &folder,
        "2026-02-02",
        "151",
        &[&["look", FAIRING, "--nothing-found"]],
    );
    at(
        &folder,
        "2026-02-03",
        &["finding", "sight", crack, "--seen", "2026-01-03"],
    );
    at(
        &folder,
        "2026-02-04",
        &["event", "repaint", "--zone", FAIRING],
    );
    let history = at(&folder, "2026-02-05", &["history"]);
    holds("history", &history);
    let late = &finding(&history, crack)["sightings"][0];
    assert_eq!(
        late["recognised"],
        serde_json::json!(["2026-02-03", "A. Person"])
    );
    let content = page(&folder, "2026-02-05", &[]);
    let of = |id: &str| {
        content["findings"]
            .as_array()
            .unwrap()
            .iter()
            .find(|item| item["short"] == id)
            .unwrap()
            .clone()
    };
    let (crack, nick) = (of(crack), of(nick));
    assert_eq!(
        nick["returned"],
        "second time; the last treatment lasted 38 h at most"
    );
    assert!(
        nick["dressed"]
            .as_str()
            .unwrap()
            .starts_with("dressed 1 time; 0.5 mm in all")
    );
    assert_eq!(crack["covered"]["date"], "2026-02-04");
    assert!(
        crack["began"]
            .as_str()
            .unwrap()
            .contains("between 2026-01-01 and 2026-01-03")
    );
    assert_eq!(crack["not_asked"][0]["date"], "2026-02-02");
    assert_eq!(crack["sightings"][0]["recognised"]["date"], "2026-02-03");
    assert_eq!(crack["sightings"][0]["recognised"]["by"], "A. Person");
    let html = report(&folder, "2026-02-05", "page.html", &[]);
    for said in [
        "Covered by paint",
        "Began between 2026-01-01",
        "Dressed off",
        "Not asked",
        "recognised later, on 3 Feb 2026 by A. Person",
    ] {
        assert!(html.contains(said), "the page does not say: {said}");
    }
    let sheet = report(&folder, "2026-02-05", "sheet.html", &["--cut", "sheet"]);
    assert!(sheet.contains("91.213(d)") && sheet.contains("never for structural damage"));
    assert!(sheet.contains("conditional inspection"));
    let text = report(&folder, "2026-02-05", "page.md", &[]);
    assert!(text.contains("Covered by paint") && text.contains("recognised later"));
}

/// A look and a sighting outside any walkaround are looks: neither zone was never looked at.
#[test]
fn looks_and_sightings_outside_any_walkaround_count() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    at(
        &folder,
        "2026-01-02",
        &["look", FAIRING, "--nothing-found", "--how", "close"],
    );
    let opened = at(
        &folder,
        "2026-01-03",
        &[
            "finding",
            "open",
            "--zone",
            "left aileron",
            "--condition",
            "crack",
        ],
    );
    let id = opened["short"].as_str().unwrap();
    let history = at(&folder, "2026-01-04", &["history"]);
    holds("history", &history);
    let zones = history["zones"].as_array().unwrap();
    let last = |name: &str| {
        let zone = zones.iter().find(|zone| zone["name"] == name).unwrap();
        (zone["last"].clone(), zone["outside"][0]["result"].clone())
    };
    assert_eq!(last(FAIRING), ("2026-01-02".into(), "nothing_found".into()));
    assert_eq!(
        last("left aileron"),
        ("2026-01-03".into(), "findings".into())
    );
    assert_eq!(
        zones.iter().filter(|zone| !zone["last"].is_null()).count(),
        2
    );
    let coverage = at(&folder, "2026-01-04", &["history", "--coverage", "zones"]);
    assert_eq!(
        coverage["never"].as_u64().unwrap(),
        coverage["zones"].as_u64().unwrap() - 2
    );
    let content = page(&folder, "2026-01-04", &[]);
    let never = content["zones"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|zone| zone["last"].is_null())
        .count();
    assert_eq!(never, zones.len() - 2);
    let html = report(&folder, "2026-01-04", "page.html", &[]);
    assert!(html.contains("Looked at outside any walkaround"));
    // A wish to look again is answered by such a look: after it is due, not before.
    at(
        &folder,
        "2026-01-05",
        &["again", FAIRING, "--at", "2026-02-01"],
    );
    at(&folder, "2026-01-05", &["again", id, "--at", "next flight"]);
    let due = |day: &str| page(&folder, day, &[])["due"].as_array().unwrap().len();
    assert_eq!(due("2026-01-06"), 2);
    at(&folder, "2026-01-20", &["look", FAIRING, "--nothing-found"]);
    assert_eq!(due("2026-01-20"), 2);
    at(&folder, "2026-02-02", &["look", FAIRING, "--nothing-found"]);
    assert_eq!(due("2026-02-02"), 1);
    at(&folder, "2026-02-03", &["finding", "sight", id]);
    assert_eq!(due("2026-02-03"), 0);
}

/// Steps are compared each with the one before and with the first: dry, drip, seep, drip.
#[test]
fn steps_are_compared_one_by_one_and_oil_is_not_told_that_it_does_not_shrink() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    let opened = walk(
        &folder,
        "2026-01-01",
        "100",
        &[&[
            "finding",
            "open",
            "--zone",
            "lower cowling and air filter",
            "--condition",
            "oil leak",
            "--step",
            "drip",
            "--measure",
            "length 40 mm +-1 by ruler",
            "--with",
            "engine_hours_since_cleaned=2 h",
        ]],
    );
    let id = opened[0]["short"].as_str().unwrap().to_owned();
    let sight = |day: &str, hours: &str, words: &[&str]| {
        let mut all = vec!["finding", "sight", id.as_str()];
        all.extend_from_slice(words);
        walk(&folder, day, hours, &[&all]).remove(0)
    };
    let story = |day: &str| finding(&at(&folder, day, &["history"]), &id).clone();
    let answer = "engine_hours_since_cleaned=2 h";
    sight(
        "2026-01-05",
        "105",
        &[
            "--step",
            "dry stain",
            "--measure",
            "length 20 mm +-1 by ruler",
            "--with",
            answer,
        ],
    );
    let shown = story("2026-01-05");
    assert_eq!(shown["change"], "less");
    let says = shown["says"].as_str().unwrap();
    assert!(
        says.contains("went from drip to dry stain; it was drip on 2026-01-01"),
        "{says}"
    );
    assert!(
        says.contains("less by 20") && !says.contains("shrink"),
        "{says}"
    );
    // Up again from dry to seep, though still below the drip that it was first.
    sight("2026-01-10", "110", &["--step", "seep"]);
    let shown = story("2026-01-10");
    assert_eq!(shown["change"], "worse");
    let says = shown["says"].as_str().unwrap();
    assert!(
        says.contains("went up again from dry stain to seep"),
        "{says}"
    );
    assert_eq!(shown["sightings"][1]["step_before"]["change"], "less");
    assert_eq!(shown["sightings"][2]["step_before"]["change"], "worse");
    assert_eq!(shown["sightings"][2]["step_first"]["change"], "less");
    // Its size without the running time since cleaning is kept, and compared with none.
    let asked = sight(
        "2026-01-15",
        "115",
        &["--measure", "length 60 mm +-1 by ruler"],
    );
    assert_eq!(asked["questions"][0]["about"], "engine_hours_since_cleaned");
    let shown = story("2026-01-15");
    let last = shown["sightings"]
        .as_array()
        .unwrap()
        .last()
        .unwrap()
        .clone();
    assert_eq!(last["value"].as_f64(), Some(60.0));
    assert_eq!(last["first"]["change"], "not_comparable");
    assert!(
        last["first"]["why"]
            .as_str()
            .unwrap()
            .contains("How long has the engine run")
    );
    // 2 h and 2.1 h since cleaning agree within a tenth; 2 h and 5 h do not.
    for (day, hours, since, change) in [
        ("2026-01-20", "120", "2.1 h", "worse"),
        ("2026-01-25", "125", "5 h", "not_comparable"),
    ] {
        let with = format!("engine_hours_since_cleaned={since}");
        sight(
            day,
            hours,
            &["--measure", "length 60 mm +-1 by ruler", "--with", &with],
        );
        let shown = story(day);
        let last = shown["sightings"]
            .as_array()
            .unwrap()
            .last()
            .unwrap()
            .clone();
        assert_eq!(last["first"]["change"], change, "{last}");
    }
    // Concern: against the first too, not only against the one before.
    for (day, word) in [
        ("2026-02-01", "aware"),
        ("2026-02-02", "ask"),
        ("2026-02-03", "watch"),
    ] {
        at(&folder, day, &["concern", &id, word]);
    }
    let says = story("2026-02-04")["says"].as_str().unwrap().to_owned();
    assert!(
        says.contains("concern raised from aware to watch"),
        "{says}"
    );
}

#[test]
fn when_to_look_again_is_read_and_a_joining_can_be_disputed() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    let open = |part: &str| -> Vec<String> {
        vec![
            "finding".into(),
            "open".into(),
            "--zone".into(),
            FAIRING.into(),
            "--condition".into(),
            "crack".into(),
            "--part".into(),
            part.into(),
        ]
    };
    let (a, b) = (open("fore"), open("aft"));
    let (a, b): (Vec<&str>, Vec<&str>) = (
        a.iter().map(String::as_str).collect(),
        b.iter().map(String::as_str).collect(),
    );
    let opened = walk(&folder, "2026-01-01", "161", &[&a, &b]);
    let (one, two) = (
        opened[0]["short"].as_str().unwrap(),
        opened[1]["short"].as_str().unwrap(),
    );
    for said in ["banana", "25 psi", "2026-02-30", "-4 h", "12 h@tach"] {
        let error = refused(&folder, "2026-01-02", &["again", one, "--at", said]);
        assert!(
            error.contains("look again") || error.contains("no meter"),
            "{said}: {error}"
        );
    }
    let set = at(&folder, "2026-01-02", &["again", one, "--at", "25 h"]);
    assert_eq!(set["at"], "at 186 h");
    let shown = at(&folder, "2026-01-02", &["finding", "show", one]);
    assert_eq!(shown["finding"]["again"], "at 186 h");
    at(&folder, "2026-01-03", &["finding", "join", one, two]);
    assert_eq!(
        at(&folder, "2026-01-03", &["history"])["findings"]
            .as_array()
            .unwrap()
            .len(),
        1
    );
    at(&folder, "2026-01-04", &["finding", "split", one, "--join"]);
    let history = at(&folder, "2026-01-04", &["history"]);
    assert_eq!(history["findings"].as_array().unwrap().len(), 2);
    let steps = history["findings"].to_string();
    assert!(steps.contains("disputed"), "{steps}");
    let error = refused(&folder, "2026-01-05", &["finding", "split", one, "--join"]);
    assert!(error.contains("not joined"), "{error}");
}

/// A fraction stays a fraction, a decimal a decimal: 2 1/4 in and 2.5 in.
#[test]
fn what_was_said_in_fractions_is_shown_in_fractions() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    let opened = walk(
        &folder,
        "2026-01-01",
        "100",
        &[&[
            "finding",
            "open",
            "--zone",
            FAIRING,
            "--condition",
            "crack",
            "--measure",
            "length 2 1/4 in +-0.01 by ruler",
        ]],
    );
    let id = opened[0]["short"].as_str().unwrap().to_owned();
    walk(
        &folder,
        "2026-01-05",
        "105",
        &[&[
            "finding",
            "sight",
            &id,
            "--measure",
            "length 2.5 in +-0.01 by ruler",
        ]],
    );
    let shown = at(&folder, "2026-01-06", &["finding", "show", &id]);
    let says = |n: usize| {
        shown["finding"]["sightings"][n]["says"]
            .as_str()
            .unwrap()
            .to_owned()
    };
    assert!(says(0).contains("2 1/4 in ± 0.02 in"), "{}", says(0));
    assert!(says(1).contains("2.50 in ± 0.02 in"), "{}", says(1));
    for (name, words) in [
        ("page.html", &[][..]),
        ("sheet.html", &["--cut", "sheet"]),
        ("page.md", &[]),
    ] {
        let text = report(&folder, "2026-01-06", name, words).replace('\u{a0}', " ");
        assert!(text.contains("2 1/4 in"), "{name}");
        assert!(!text.contains("2.25 in"), "{name}");
    }
    // In the reader's units, with what was said behind it: 2 1/4 in are 57.15 mm.
    let content = page(&folder, "2026-01-06", &["--units", "mm"]);
    let first = content["findings"][0]["sightings"][0]["says"]
        .as_str()
        .unwrap();
    assert!(
        first.contains("57.1") && first.contains("2 1/4 in"),
        "{first}"
    );
}

#[test]
fn the_route_can_be_turned_and_reordered_and_a_drawing_hit() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    let keys = |words: &[&str]| -> Vec<String> {
        let mut all = vec!["layout", "route", "low_wing_fixed"];
        all.extend_from_slice(words);
        let shown = at(&folder, "2026-01-01", &all);
        assert!(
            shown["note"]
                .as_str()
                .unwrap()
                .contains("own flight manual comes first")
        );
        shown["stops"]
            .as_array()
            .unwrap()
            .iter()
            .map(|stop| stop["key"].as_str().unwrap().to_owned())
            .collect()
    };
    let published = keys(&[]);
    let turned = keys(&["--turned"]);
    assert_ne!(published, turned);
    assert_eq!(published.len(), turned.len());
    let last = published.last().unwrap();
    assert_eq!(&keys(&["--from", last])[0], last);
    let own = format!("{last},{}", published[0]);
    assert_eq!(
        keys(&["--order", &own])[..2],
        [last.clone(), published[0].clone()]
    );
    refused(
        &folder,
        "2026-01-01",
        &["layout", "route", "low_wing_fixed", "--from", "nowhere"],
    );
    let double = format!("{last},{last}");
    refused(
        &folder,
        "2026-01-01",
        &["layout", "route", "low_wing_fixed", "--order", &double],
    );
    // The forward belly's outline runs from x -21 to 21 between y 60 and 168 of the drawing from below
    // (core/layouts/low_wing_fixed.toml).
    let hit = at(
        &folder,
        "2026-01-01",
        &[
            "layout",
            "zone-at",
            "low_wing_fixed",
            "-5,150",
            "--view",
            "below",
        ],
    );
    assert!(!hit["zone"].is_null(), "{hit}");
    let none = at(
        &folder,
        "2026-01-01",
        &["layout", "zone-at", "low_wing_fixed", "9000,9000"],
    );
    assert_eq!(none["zone"], Value::Null);
    refused(
        &folder,
        "2026-01-01",
        &["layout", "zone-at", "low_wing_fixed", "5"],
    );
    refused(
        &folder,
        "2026-01-01",
        &[
            "layout",
            "zone-at",
            "low_wing_fixed",
            "5,5",
            "--view",
            "moon",
        ],
    );
}
