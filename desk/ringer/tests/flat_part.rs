//! The flat part under `cases/plate` through the whole program: its picture is drawn from known sizes, which must be found again.

use std::fs;
use std::path::Path;
use std::process::Command;

#[test]
fn the_lever_is_found_again_and_its_files_are_made_alike_twice() {
    let case = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../cases/plate");
    let folder = std::env::temp_dir().join(format!("ringer-plate-{}", std::process::id()));
    fs::create_dir_all(folder.join("photos")).expect("a folder");
    for file in ["job.toml", "photos/lever.png"] {
        fs::copy(case.join(file), folder.join(file)).expect("copied");
    }
    let make = || {
        let output = Command::new(env!("CARGO_BIN_EXE_ringer")).arg("make").arg(&folder).arg("--json").output().expect("runs");
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        let result: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
        result
    };
    let result = make();
    let sizes = result["body"]["flat"]["sizes"].as_array().expect("sizes").clone();
    for (size, truth) in sizes.iter().zip([50.0, 14.0, 6.0, 4.0]) {
        let (value, sigma) = (size["value_mm"].as_f64().expect("a size"), size["sigma_mm"].as_f64().expect("a doubt"));
        // A pixel is 0.11 mm; the clicks are true, so that only edges err.
        assert!((value - truth).abs() < 0.06 && (value - truth).abs() < 2.0 * sigma, "{size} instead of {truth}");
    }
    assert_eq!(sizes.len(), 4);
    let apart = |i: usize, k: usize| sizes[i]["at_mm"][k].as_f64().expect("a place");
    assert!(((apart(2, 0) - apart(3, 0)).hypot(apart(2, 1) - apart(3, 1)) - 36.0).abs() < 0.05);
    let names = ["part.step", "part.stl", "part.3mf", "part.glb", "section.dxf", "section.svg"];
    let read = || names.map(|name| fs::read(folder.join("out").join(name)).unwrap_or_else(|error| panic!("{name}: {error}")));
    let first = read();
    make();
    assert!(first == read(), "other bytes the second time");
    let sheet = fs::read_to_string(folder.join("out/sheet.html")).expect("a sheet");
    assert!(
        sheet.contains("Sizes of the flat part") && sheet.contains("edges broken") && sheet.contains("lying, its lower face to the plate")
    );
    // Broken by 0.2 all round: (perimeter x 0.2^2) less than sharp, to a few hundredths.
    let (broken, sharp) =
        (result["body"]["volume_mm3"].as_f64().expect("volume"), 1.5 * (36.0 * 14.0 + (49.0 - 9.0 - 4.0) * std::f64::consts::PI));
    let round = 72.0 + (14.0 + 6.0 + 4.0) * std::f64::consts::PI;
    assert!((sharp - broken - 0.04 * round).abs() < 0.01 * sharp, "{broken} {sharp}");
    assert_eq!(result["body"]["flat"]["edge_break_mm"], 0.2);
    fs::remove_dir_all(&folder).expect("removed");
}
