//! The whole program against photographs whose truth is known (`cases/known`): sizes, their doubt, the profile, the colour.
//!
//! The limits are the project's own goals; a single photo may be worse, the medians and the honesty of the doubts may not.

use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

struct Scored {
    name: String,
    truth: Value,
    result: Value,
}

fn known() -> Vec<Scored> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../cases/known");
    let mut folders: Vec<PathBuf> =
        fs::read_dir(root).expect("cases").map(|e| e.expect("an entry").path()).filter(|p| p.is_dir()).collect();
    folders.sort();
    folders.iter().map(|folder| scored(folder)).collect()
}

fn scored(folder: &Path) -> Scored {
    let name = folder.file_name().expect("a name").to_string_lossy().into_owned();
    let job = std::env::temp_dir().join(format!("ringer-known-{name}-{}", std::process::id()));
    fs::create_dir_all(job.join("photos")).expect("a folder");
    fs::copy(folder.join("job.toml"), job.join("job.toml")).expect("copied");
    fs::copy(folder.join(format!("photos/{name}.jpg")), job.join(format!("photos/{name}.jpg"))).expect("copied");
    let output =
        Command::new(env!("CARGO_BIN_EXE_ringer")).args(["make", &job.to_string_lossy(), "--json"]).output().expect("the program starts");
    assert!(output.status.success(), "{name}: {}", String::from_utf8_lossy(&output.stderr));
    fs::remove_dir_all(&job).expect("removed");
    let truth = serde_json::from_slice(&fs::read(folder.join("truth.json")).expect("truth")).expect("JSON");
    Scored { name, truth, result: serde_json::from_slice(&output.stdout).expect("one JSON object and nothing else") }
}

impl Scored {
    /// Relative error and relative sigma of a size that always must be there.
    fn size(&self, name: &str, key: &str) -> (f64, f64) {
        let truth = self.truth[key].as_f64().expect("a number");
        let sizes = self.result["dimensions"].as_array().unwrap_or_else(|| panic!("{}: no dimensions", self.name));
        let size = sizes.iter().find(|size| size["name"] == name).unwrap_or_else(|| panic!("{}: no {name}", self.name));
        let (value, sigma) = (size["value_mm"].as_f64().expect("a number"), size["sigma_mm"].as_f64().expect("a number"));
        ((value - truth) / truth, sigma / truth)
    }

    /// RMS distance of the seen profile points to the true meridian, as a share of the greatest diameter.
    fn profile_rms(&self) -> f64 {
        let meridian: Vec<[f64; 2]> = serde_json::from_value(self.truth["meridian_zr_mm"].clone()).expect("points");
        let points: Vec<[f64; 3]> = serde_json::from_value(self.result["profile"]["points"].clone()).expect("points");
        let seen: Vec<bool> = serde_json::from_value(self.result["profile"]["seen"].clone()).expect("flags");
        let squares: Vec<f64> =
            points.iter().zip(seen).filter(|(_, seen)| *seen).map(|(p, _)| distance(&meridian, p[0], p[1]).powi(2)).collect();
        (squares.iter().sum::<f64>() / squares.len() as f64).sqrt() / self.truth["greatest_diameter_mm"].as_f64().expect("a number")
    }
}

fn distance(line: &[[f64; 2]], z: f64, r: f64) -> f64 {
    let to_piece = |a: [f64; 2], b: [f64; 2]| {
        let (dz, dr) = (b[0] - a[0], b[1] - a[1]);
        let length = dz * dz + dr * dr;
        let t = if length == 0.0 { 0.0 } else { (((z - a[0]) * dz + (r - a[1]) * dr) / length).clamp(0.0, 1.0) };
        (z - a[0] - t * dz).hypot(r - a[1] - t * dr)
    };
    line.windows(2).map(|w| to_piece(w[0], w[1])).fold(f64::INFINITY, f64::min)
}

fn quantile(mut values: Vec<f64>, share: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    let place = share * (values.len() - 1) as f64;
    let (low, high) = (place.floor() as usize, place.ceil() as usize);
    values[low] + (values[high] - values[low]) * place.fract()
}

#[test]
fn sizes_and_profiles_of_known_parts() {
    let scored = known();
    assert_eq!(scored.len(), 14);
    let mut held = 0;
    let mut errors = [Vec::new(), Vec::new()];
    for one in &scored {
        for (i, (name, key)) in
            [("greatest diameter", "greatest_diameter_mm"), ("overall length", "overall_length_mm")].into_iter().enumerate()
        {
            let (error, sigma) = one.size(name, key);
            eprintln!("{}: {name} {:+.2} % +/- {:.2} %", one.name, 100.0 * error, 100.0 * sigma);
            held += usize::from(error.abs() <= 1.96 * sigma);
            errors[i].push(100.0 * error.abs());
        }
    }
    let rms: Vec<f64> = scored.iter().map(|one| 100.0 * one.profile_rms()).collect();
    let right = scored.iter().filter(|one| {
        let odds = |name: &str| one.result["system"][name].as_f64().unwrap_or(0.0);
        (odds("mm") > odds("inch")) == (one.truth["system"] == "mm")
    });
    eprintln!("system right in {} of 14; RMS of the profile {rms:.2?} % of the greatest diameter", right.count());
    let [diameter, length] = errors;
    eprintln!(
        "diameter: median {:.2} % p90 {:.2} %; length: median {:.2} % p90 {:.2} %; intervals held {held} of 28",
        quantile(diameter.clone(), 0.5),
        quantile(diameter.clone(), 0.9),
        quantile(length.clone(), 0.5),
        quantile(length.clone(), 0.9)
    );
    assert!(quantile(diameter, 0.5) <= 1.5, "greatest diameter, median error in %");
    // 95 % of 28 is 27; fewer than 24 would happen to honest intervals once in a hundred times.
    assert!(held >= 24, "95 % intervals held the truth only {held} times in 28");
}
