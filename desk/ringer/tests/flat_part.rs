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

/// The cover under `cases/cover`: half an ellipse that flows into straight sides, an elliptical window, a round hole. Its pieces written into the document are the same part again; what strays from the photo is told.
#[test]
fn the_covers_free_curves_are_found_and_can_be_written() {
    let case = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../cases/cover");
    let folder = std::env::temp_dir().join(format!("ringer-cover-{}", std::process::id()));
    fs::create_dir_all(folder.join("photos")).expect("a folder");
    for file in ["job.toml", "photos/cover.png"] {
        fs::copy(case.join(file), folder.join(file)).expect("copied");
    }
    let make = || {
        let output = Command::new(env!("CARGO_BIN_EXE_ringer")).arg("make").arg(&folder).arg("--json").output().expect("runs");
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        let result: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
        result
    };
    let found = make();
    let flat = &found["body"]["flat"];
    let count = |kind: &str| flat[kind].as_u64().expect("a count");
    // Three sides, two halves of the hole; by Kepler's own figure no line or arc is an ellipse.
    assert!(count("lines") == 3 && count("arcs") == 2 && (4..=8).contains(&count("curves")), "{flat}");
    // Sharp: (56 x 16 + pi 28 20 / 2 - pi 12 6 - 9 pi) x 2; 0.2 broken all round takes 0.04 mm^2 of the perimeter (Ramanujan's for the ellipses), to a few hundredths.
    let pi = std::f64::consts::PI;
    let ellipse = |a: f64, b: f64| pi * (3.0 * (a + b) - ((3.0 * a + b) * (a + 3.0 * b)).sqrt());
    let round = 56.0 + 32.0 + 0.5 * ellipse(28.0, 20.0) + ellipse(12.0, 6.0) + 6.0 * pi;
    let truth = 2.0 * (56.0 * 16.0 + 0.5 * pi * 28.0 * 20.0 - pi * 12.0 * 6.0 - 9.0 * pi) - 0.04 * round;
    let volume = found["body"]["volume_mm3"].as_f64().expect("volume");
    assert!((volume / truth - 1.0).abs() < 1e-3, "{volume} instead of {truth}");
    let step = fs::read_to_string(folder.join("out/part.step")).expect("STEP");
    assert!(step.contains("B_SPLINE_CURVE_WITH_KNOTS") && step.contains("SURFACE_OF_LINEAR_EXTRUSION"));
    assert!(fs::read_to_string(folder.join("out/section.dxf")).expect("DXF").contains("POLYLINE"));

    // JSON to TOML: keys lose their quotes, colons become equals signs.
    let drawn = flat["drawn"].to_string().replace("\"to\":", "to = ").replace("\"centre\":", "centre = ");
    let drawn = drawn.replace("\"clockwise\":", "clockwise = ").replace("\"controls\":", "controls = ");
    let text = fs::read_to_string(folder.join("job.toml")).expect("read");
    fs::write(folder.join("job.toml"), format!("{text}drawn = {drawn}\n")).expect("written");
    let written = make();
    assert!((written["body"]["volume_mm3"].as_f64().expect("volume") - volume).abs() < 1e-6);
    assert_eq!(written["body"]["flat"]["curves"], flat["curves"]);
    assert_eq!(written["warnings"], found["warnings"]);

    // A control point a millimetre off bends the edge off what the photo shows.
    let first = flat["drawn"][0].as_array().expect("pieces").iter().find_map(|piece| piece["controls"][0][1].as_f64()).expect("a curve");
    let bent = text.clone() + &format!("drawn = {}\n", drawn.replacen(&first.to_string(), &(first + 2.0).to_string(), 1));
    fs::write(folder.join("job.toml"), bent).expect("written");
    assert!(make()["warnings"].to_string().contains("off what the photo shows"));
    fs::remove_dir_all(&folder).expect("removed");
}
