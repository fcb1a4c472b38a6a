//! Jobs that must fail: with exit status 1, the words that each case promises, nothing on standard output, and nothing lost.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn cases() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../cases/refused")
}

fn ringer(words: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_ringer")).args(words).output().expect("the program starts")
}

/// Every file below a folder with its bytes, to see that a refusal changes none.
fn contents(folder: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).expect("a folder").map(|e| e.expect("an entry").path()) {
        if entry.is_dir() { found.extend(contents(&entry)) } else { found.push((entry.clone(), fs::read(&entry).expect("a file"))) }
    }
    found.sort();
    found
}

#[test]
fn each_broken_job_is_refused_with_its_words() {
    let mut tried = 0;
    for case in fs::read_dir(cases()).expect("cases").map(|e| e.expect("an entry").path()) {
        tried += 1;
        let before = contents(&case);
        let output = ringer(&["make", &case.to_string_lossy(), "--json"]);
        let told = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(1), "{}: {told}", case.display());
        assert!(output.stdout.is_empty(), "{}: something on standard output", case.display());
        for word in fs::read_to_string(case.join("words.txt")).expect("words.txt").lines() {
            assert!(told.contains(word), "{}: `{word}` is not in:\n{told}", case.display());
        }
        assert!(told.contains("hint:"), "{}: no way out in:\n{told}", case.display());
        assert_eq!(contents(&case), before, "{}: a file was changed", case.display());
    }
    assert!(tried >= 12, "only {tried} cases were found");
}

#[test]
fn wrong_usage_is_status_2() {
    assert_eq!(ringer(&[]).status.code(), Some(2));
    assert_eq!(ringer(&["make"]).status.code(), Some(2));
    assert_eq!(ringer(&["fabricate", "x"]).status.code(), Some(2));
    assert_eq!(ringer(&["open", "x", "--port", "99999"]).status.code(), Some(2));
}

#[test]
fn a_folder_without_a_job_says_how_to_start_one() {
    let folder = std::env::temp_dir().join(format!("ringer-none-{}", std::process::id()));
    fs::create_dir_all(&folder).expect("a folder");
    let output = ringer(&["make", &folder.to_string_lossy()]);
    assert_eq!(output.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&output.stderr).contains("ringer new"));
    fs::remove_dir_all(&folder).expect("removed");
}

#[test]
fn new_never_writes_over_a_job_or_a_photo() {
    let folder = std::env::temp_dir().join(format!("ringer-new-{}", std::process::id()));
    let photo = cases().join("clicks-outside/photos/front.jpg");
    let (folder_text, photo_text) = (folder.to_string_lossy().into_owned(), photo.to_string_lossy().into_owned());
    let twice = ringer(&["new", &folder_text, "--photo", &photo_text, "--photo", &photo_text]);
    assert_eq!(twice.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&twice.stderr).contains("two photos"));
    assert!(!folder.exists(), "a refused start left something behind");
    assert_eq!(ringer(&["new", &folder_text, "--photo", &photo_text]).status.code(), Some(0));
    let before = contents(&folder);
    assert_eq!(ringer(&["new", &folder_text]).status.code(), Some(1));
    assert_eq!(contents(&folder), before);
    fs::remove_dir_all(&folder).expect("removed");
}

#[test]
fn schema_is_json() {
    let output = ringer(&["schema"]);
    let schema: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert!(schema["properties"]["photo"].is_object());
}
