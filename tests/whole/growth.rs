//! `growth` holds to its schema, and says what is wrong with a table.

use std::path::Path;

use super::{good, refused};

/// Invented: 1 mm in ten hours and a little more each time, one reading without an uncertainty.
const TABLE: &str = "date,hours,landings,value,unit,u,method,place\r\n\
2026-01-01,100,210,10,mm,0.1,ruler,lower aft screw\r\n\
2026-02-01,110,,11,mm,0.1,ruler,lower aft screw\r\n\
2026-03-01,120,230,12.1,mm,,,lower aft screw\r\n\
2026-04-01,130,241,13.3,mm,0.1,card,lower aft screw\r\n";

fn schema() -> jsonschema::Validator {
    let schema: serde_json::Value =
        serde_json::from_str(include_str!("../schemas/growth.json")).unwrap();
    jsonschema::validator_for(&schema).unwrap()
}

#[test]
fn output_keeps_to_the_schema() {
    let scratch = tempfile::tempdir().unwrap();
    let table = scratch.path().join("crack.csv");
    std::fs::write(&table, TABLE).unwrap();
    let table = table.display().to_string();
    let held = schema();
    let mut windows = 0;
    for options in [
        &[][..],
        &["--limit", "15 mm"],
        &["--limit", "0.6 in", "--against", "days"],
        &["--limit", "11 mm"],
        &["--against", "landings"],
        &["--worse-when", "smaller"],
    ] {
        let mut words = vec!["growth", &table, "--json"];
        words.extend(options);
        let shown: serde_json::Value = serde_json::from_str(&good(scratch.path(), &words)).unwrap();
        let wrong: Vec<String> = held.iter_errors(&shown).map(|e| e.to_string()).collect();
        assert!(wrong.is_empty(), "{options:?}: {wrong:?}");
        windows += usize::from(shown["window"].is_object());
    }
    assert_eq!(windows, 2);
}

#[test]
fn a_wrong_table_is_refused_with_its_line() {
    let scratch = tempfile::tempdir().unwrap();
    let folder: &Path = scratch.path();
    let table = folder.join("crack.csv");
    std::fs::write(&table, TABLE.replace("13.3", "-13.3")).unwrap();
    let said = refused(
        folder,
        &["growth", &table.display().to_string(), "--json"],
        2,
    );
    let error: serde_json::Value = serde_json::from_str(&said).unwrap();
    assert!(
        error["error"]["where"]
            .as_str()
            .unwrap()
            .ends_with("crack.csv, line 5, value"),
        "{said}"
    );
    let missing = folder.join("none.csv").display().to_string();
    refused(folder, &["growth", &missing], 2);
}
