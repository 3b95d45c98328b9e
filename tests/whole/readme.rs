//! Every command of the README's five minutes, in its order, by a shell, with the demo's photos.

use std::path::Path;
use std::process::Command;

use serde_json::Value;

use super::program;

fn shell(folder: &Path, photos: &Path, line: &str) -> String {
    let here = program().parent().unwrap().display().to_string();
    let path = std::env::var("PATH").unwrap_or_default();
    let output = Command::new("sh")
        .args(["-ec", line])
        .current_dir(folder)
        .env("PATH", format!("{here}:{path}"))
        .env("PHOTOS", photos)
        .output()
        .unwrap();
    assert!(
        output.status.success(),
        "{line}\n{}{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn the_readmes_five_minutes_run_as_they_stand() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let text = std::fs::read_to_string(root.join("README.md")).unwrap();
    let part = text
        .split("## Five minutes with photos of your own")
        .nth(1)
        .unwrap()
        .split("\n## ")
        .next()
        .unwrap();
    let commands: Vec<&str> = part
        .split("```sh\n")
        .skip(1)
        .flat_map(|block| block.split("```").next().unwrap().lines())
        .collect();
    assert!(commands.len() > 25, "{commands:?}");

    let scratch = tempfile::tempdir().unwrap();
    let top = scratch.path();
    let demo = top.join("witnessmark-demo");
    assert!(
        Command::new(program())
            .arg("demo")
            .arg(&demo)
            .stdout(std::process::Stdio::null())
            .status()
            .unwrap()
            .success()
    );
    let photos = demo.join("photos");
    let mut folder = top.to_path_buf();
    let (mut entry, mut finding) = (String::new(), String::new());
    let mut said = Vec::new();
    for command in commands {
        if command.starts_with("cargo build") {
            // Built already; what it sets is set by `shell`.
            continue;
        }
        if command.ends_with("cd notebook") {
            shell(&folder, &photos, command);
            folder = top.join("notebook");
            continue;
        }
        let line = command
            .replace("ENTRY", &entry)
            .replace("FINDING", &finding);
        let line = if line.contains("MEASURE") {
            let shown = shell(
                &folder,
                &photos,
                &format!("witnessmark finding show {finding} --json"),
            );
            let shown: Value = serde_json::from_str(&shown).unwrap();
            let sightings = shown["finding"]["sightings"].as_array().unwrap().clone();
            let measured = sightings
                .iter()
                .rfind(|one| !one["value"].is_null())
                .unwrap();
            line.replace("MEASURE", measured["line"].as_str().unwrap())
        } else {
            line
        };
        let out = shell(&folder, &photos, &line);
        if command.starts_with("witnessmark photo") {
            entry = out.split_whitespace().next().unwrap().to_owned();
        }
        if let Some(rest) = out.strip_prefix("Finding ") {
            finding = rest.split_whitespace().next().unwrap().to_owned();
        }
        said.push((command, out));
    }
    let out = |start: &str| -> &str {
        &said
            .iter()
            .rfind(|(command, _)| command.starts_with(start))
            .unwrap()
            .1
    };
    // Truth by construction: the demo draws this crack longer each time.
    let history = out("witnessmark history");
    assert!(history.contains("worse by"), "{history}");
    let verified = out("witnessmark verify");
    assert!(!verified.contains("failure"), "{verified}");
    for made in [
        "page.html",
        "sheet.html",
        "baseline.zip",
        "both.jpg",
        "scale.pdf",
    ] {
        assert!(folder.join(made).exists(), "{made} was not written");
    }
}
