//! The arrows of the house, checked against the manifests: a step uses only the ground and earlier steps of its own strand.

use std::fs;
use std::path::Path;

/// Who may use whom beyond the ground; everything else is refused.
const ALLOWED: &[(&str, &[&str])] = &[
    ("quantity", &[]),
    ("solve", &[]),
    ("ink", &[]),
    ("meridian", &[]),
    ("photo", &[]),
    ("outline", &["photo"]),
    ("profile", &["meridian", "outline"]),
    ("sizes", &["meridian", "profile"]),
    ("flat", &["meridian"]),
    ("solid", &["meridian", "sizes"]),
    ("export", &["meridian", "solid"]),
    ("cie", &[]),
    ("target", &["cie", "photo"]),
    ("tint", &["cie"]),
    ("run", &["tint"]),
    ("check", &["cie"]),
    ("sheet", &["result", "job", "meridian", "cie"]),
    ("job", &[]),
    ("result", &[]),
];
const GROUND: &[&str] = &["quantity", "solve", "ink"];

fn manifest(path: &Path) -> toml::Table {
    fs::read_to_string(path).expect("a manifest").parse().expect("TOML")
}

#[test]
fn no_arrow_runs_backward() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let members = manifest(&root.join("Cargo.toml"))["workspace"]["members"].as_array().expect("members").clone();
    let names: Vec<String> = members.iter().filter_map(|m| m.as_str()?.rsplit('/').next().map(str::to_string)).collect();
    for member in members.iter().filter_map(|m| m.as_str()) {
        let name = member.rsplit('/').next().expect("a name");
        if name == "ringer" {
            continue;
        }
        let (_, allowed) = ALLOWED.iter().find(|(step, _)| *step == name).unwrap_or_else(|| panic!("{name} is not on the map"));
        let used = manifest(&root.join(member).join("Cargo.toml"));
        for dependency in used["dependencies"].as_table().expect("dependencies").keys() {
            let ours = names.contains(dependency);
            let ground = GROUND.contains(&dependency.as_str())
                && (member.starts_with("ground/") == GROUND.contains(&name) || !member.starts_with("ground/"));
            assert!(!ours || ground || allowed.contains(&dependency.as_str()), "{name} uses {dependency}, which the map does not allow");
        }
    }
}

/// Steps read no clock, no file, no network, no environment, and print nothing; `job` and `ringer` do.
#[test]
fn no_step_reaches_outside() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    for (step, _) in ALLOWED.iter().filter(|(step, _)| *step != "job") {
        let folder = ["ground", "shape", "colour", "making", "keeping"]
            .map(|strand| root.join(strand).join(step).join("src"))
            .into_iter()
            .find(|f| f.exists());
        for (file, text) in sources(&folder.expect("a source folder")) {
            for word in [
                "std::fs",
                "std::net",
                "std::env",
                "SystemTime",
                "Instant::",
                "println!",
                "eprintln!",
                "std::process",
                "unsafe {",
                "thread_rng",
            ] {
                assert!(!text.contains(word), "{file} has `{word}`");
            }
        }
    }
}

fn sources(folder: &Path) -> Vec<(String, String)> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).expect("a folder").map(|e| e.expect("an entry").path()) {
        if entry.is_dir() {
            found.extend(sources(&entry));
        } else if entry.extension().is_some_and(|e| e == "rs") {
            found.push((entry.display().to_string(), fs::read_to_string(&entry).expect("a source file")));
        }
    }
    found
}
