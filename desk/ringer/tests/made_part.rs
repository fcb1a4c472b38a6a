//! A photographed made part through the whole program: the demo's second photo is told to show a made part, and is laid over the design that
//! the other photos give.

use serde_json::Value;
use std::fs;
use std::path::Path;
use std::process::Command;

/// The demo job with its side view as a photo of made part 7, and `more` at its end.
fn made(name: &str, more: &str) -> (Value, String) {
    let case = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../cases/demo");
    let folder = std::env::temp_dir().join(format!("ringer-{name}-{}", std::process::id()));
    fs::create_dir_all(folder.join("photos")).expect("a folder");
    for file in ["photos/front.jpg", "photos/side.jpg", "photos/far.jpg", "photos/chips.jpg"] {
        fs::copy(case.join(file), folder.join(file)).expect("copied");
    }
    let text = fs::read_to_string(case.join("job.toml")).expect("the demo");
    let by_phone = "by phone, 21 November 2026\"";
    assert_eq!(text.matches(by_phone).count(), 1);
    let text = text.replace(by_phone, "by phone, 21 November 2026\"\nmade = \"7\"");
    fs::write(folder.join("job.toml"), format!("{text}\n[[check]]\npart = \"7\"\n{more}")).expect("written");
    let output = Command::new(env!("CARGO_BIN_EXE_ringer")).arg("make").arg(&folder).arg("--json").output().expect("runs");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let sheet = fs::read_to_string(folder.join("out/sheet.html")).expect("a sheet");
    fs::remove_dir_all(&folder).expect("removed");
    (serde_json::from_slice(&output.stdout).expect("JSON"), sheet)
}

/// Mean distance from the design over a stretch of the axis, mm.
fn off(result: &Value, from_mm: f64, to_mm: f64) -> f64 {
    let over = &result["check"]["laid_over"][0];
    let points = over["points"].as_array().expect("points");
    let all = points.iter().zip(over["off_mm"].as_array().expect("distances"));
    let there: Vec<f64> = all
        .filter(|(p, off)| (from_mm..=to_mm).contains(&p[0].as_f64().expect("z")) && off.is_f64())
        .map(|(_, off)| off.as_f64().expect("mm"))
        .collect();
    assert!(there.len() > 10, "{} places", there.len());
    there.iter().sum::<f64>() / there.len() as f64
}

#[test]
fn a_photographed_part_is_laid_over_the_design() {
    let (result, sheet) = made("made-part", "");
    let over = &result["check"]["laid_over"][0];
    assert_eq!((over["part"].as_str(), over["photo"].as_str()), (Some("7"), Some("side")));
    // It is the same knob (its truth: 31.75 long, 22.225 across), seen at a thumb's width of 0.1 mm a pixel.
    assert!(over["rms_mm"].as_f64().expect("a distance") < 0.1, "{over}");
    for (size, truth) in over["sizes"].as_array().expect("sizes").iter().zip([31.75, 22.225]) {
        let (value, sigma) = (size[1].as_f64().expect("mm"), size[2].as_f64().expect("a doubt"));
        assert!((value - truth).abs() < 2.0 * sigma && sigma < 0.25, "{size} for {truth}");
    }
    assert!(sheet.contains("made less designed, square to the design"), "no deviation plot");
    assert!(sheet.contains("mm off the design in the root mean square"));
}

/// Against a design drawn 1 mm larger across, the same part lies half of that inside.
#[test]
fn a_part_smaller_than_drawn_lies_inside_the_design() {
    let same = made("made-same", "").0;
    let larger = made("made-larger", "[[size]]\nname = \"greatest diameter\"\nchoose = \"23.225 mm\"\n").0;
    // The bulb is widest at 17 mm from the rod end.
    let moved = off(&same, 15.0, 19.0) - off(&larger, 15.0, 19.0);
    assert!((moved - 0.5).abs() < 0.05, "moved by {moved}");
}
