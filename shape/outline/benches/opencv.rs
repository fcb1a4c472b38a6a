//! The outline step against OpenCV's nearest equivalent in one run: `cargo bench -p outline`.
//!
//! OpenCV has no step that does the same; nearest is GrabCut begun from the same two clicks (a likely inside along the axis, a sure outside far from
//! it), followed by `findContours`. Canny's edges alone are timed as well: they say where something changes, not what is the part. Both sides take the
//! best of several goes, decoding left out. Where the truth is known (a crop of a path-traced photo), how far the outlines lie from it is printed too.
//! Without Python (`.venv/bin/python` with opencv-python-headless) only our own times are printed, with a line that says so.
#![allow(clippy::print_stdout, clippy::unwrap_used, reason = "a bench prints")]

use nalgebra as _;
use outline::{Clicks, find};
use photo::{Limits, Picture, decode};
use png as _;
use quantity as _;
use rayon as _;
use solve as _;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;
use thiserror as _;

const GOES: usize = 5;

/// Picture, clicks and a file of rings; prints the best times of GrabCut and Canny, s, and the middle distance of GrabCut's contour to the ring, px.
const THEIRS: &str = r"
import sys, time, cv2, numpy as np
image = cv2.imread(sys.argv[1]); x0, y0, x1, y1 = map(float, sys.argv[2:6]); goes = int(sys.argv[6])
h, w = image.shape[:2]; a, b = np.array([x0, y0]), np.array([x1, y1]); length = np.hypot(*(b - a)); u = (b - a) / length
yy, xx = np.mgrid[0:h, 0:w]; t = (xx - x0) * u[0] + (yy - y0) * u[1]; s = np.abs((xx - x0) * u[1] - (yy - y0) * u[0])
start = np.full((h, w), cv2.GC_BGD, np.uint8)
start[(s < 0.7 * length) & (t > -0.15 * length) & (t < 1.15 * length)] = cv2.GC_PR_BGD
start[(s < 0.25 * length) & (t > 0.1 * length) & (t < 0.95 * length)] = cv2.GC_PR_FGD
start[(s < 0.03 * length) & (t > 0.05 * length) & (t < 0.95 * length)] = cv2.GC_FGD
cut = canny = 1e9
for _ in range(goes):
    mask = start.copy(); begin = time.perf_counter()
    cv2.grabCut(image, mask, None, np.zeros((1, 65)), np.zeros((1, 65)), 5, cv2.GC_INIT_WITH_MASK)
    inside = ((mask == cv2.GC_FGD) | (mask == cv2.GC_PR_FGD)).astype(np.uint8)
    contours, _h = cv2.findContours(inside, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE); cut = min(cut, time.perf_counter() - begin)
    begin = time.perf_counter(); edges = cv2.Canny(cv2.GaussianBlur(cv2.cvtColor(image, cv2.COLOR_BGR2GRAY), (0, 0), 1.4), 30, 90)
    cv2.findContours(edges, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE); canny = min(canny, time.perf_counter() - begin)
off = float('nan')
if len(sys.argv) > 7:
    ring = np.array([l.split()[1:] for l in open(sys.argv[7]) if l.startswith('part')], float)
    c, d = ring, np.roll(ring, -1, 0) - ring; n = np.maximum((d * d).sum(1), 1e-12)
    found = max(contours, key=cv2.contourArea)[:, 0].astype(float) + 0.5
    found = found[(found - a) @ u > 0.05 * length]
    def away(p):
        k = np.clip(((p - c) * d).sum(1) / n, 0, 1); return np.sqrt(((p - c - k[:, None] * d) ** 2).sum(1)).min()
    off = float(np.median([away(p) for p in found]))
print(cut, canny, off)
";

fn main() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let python = root.join(".venv/bin/python");
    let judged = Command::new(&python).args(["-c", "import cv2"]).output().is_ok_and(|output| output.status.success());
    if !judged {
        println!("skipped: OpenCV is not there ({} with opencv-python-headless was looked for); our own times only", python.display());
    }
    let own = |name: &str| Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data").join(name);
    let known = |name: &str| root.join(format!("cases/known/{name}/photos/{name}.jpg"));
    let pictures = [
        ("finial", own("finial.png"), clicks([191.97, 467.45], [326.29, 50.52]), Some(own("finial_truth.txt"))),
        ("p02", known("p02"), clicks([866.4, 704.0], [168.7, 462.8]), None),
        ("p10, 12 Mpx", known("p10"), axis_of(&root.join("cases/known/p10/job.toml")), None),
    ];
    println!(
        "{:12} {:>9} {:>11} {:>9} {:>7} {:>12} {:>14}",
        "picture", "ours ms", "GrabCut ms", "Canny ms", "ratio", "ours off px", "GrabCut off px"
    );
    for (name, file, clicks, truth) in pictures {
        let picture = decode(&std::fs::read(&file).unwrap(), &Limits::default()).unwrap().picture;
        let (ours_s, off_px) = ours(&picture, clicks, truth.as_deref());
        let theirs = judged.then(|| theirs(&python, &file, clicks, truth.as_ref())).flatten();
        let [cut, canny, ratio, cut_off] = theirs.map_or(["-", "-", "-", "-"].map(String::from), |[cut_s, canny_s, off]| {
            [format!("{:.0}", 1e3 * cut_s), format!("{:.0}", 1e3 * canny_s), format!("{:.1}", cut_s / ours_s), px(off)]
        });
        println!("{name:12} {:>9.0} {cut:>11} {canny:>9} {ratio:>7} {:>12} {cut_off:>14}", 1e3 * ours_s, px(off_px));
    }
}

/// A dash where the truth is not known.
fn px(off: f64) -> String {
    if off.is_finite() { format!("{off:.2}") } else { "-".into() }
}

fn clicks(rod_entry: [f64; 2], free_end: [f64; 2]) -> Clicks {
    Clicks { rod_entry, free_end }
}

/// The clicks of a job with one photo.
fn axis_of(job: &Path) -> Clicks {
    let text = std::fs::read_to_string(job).unwrap();
    let line = text.lines().find(|l| l.starts_with("axis")).unwrap();
    let numbers: Vec<f64> = line.split(|c: char| !(c.is_ascii_digit() || c == '.')).filter_map(|w| w.parse().ok()).collect();
    clicks([numbers[0], numbers[1]], [numbers[2], numbers[3]])
}

/// Best time, s, and the middle distance of the part's points from the true ring, px.
fn ours(picture: &Picture, clicks: Clicks, truth: Option<&Path>) -> (f64, f64) {
    let go = || {
        let start = Instant::now();
        let found = find(picture, Some(clicks)).unwrap().value;
        (start.elapsed().as_secs_f64(), found)
    };
    let (best_s, found) = (0..GOES).map(|_| go()).min_by(|a, b| a.0.total_cmp(&b.0)).unwrap();
    let ring: Vec<[f64; 2]> = truth.map_or(Vec::new(), |path| {
        let text = std::fs::read_to_string(path).unwrap();
        let place = |l: &str| l.split(' ').skip(1).map(|w| w.parse().unwrap()).collect::<Vec<f64>>();
        text.lines().filter(|l| l.starts_with("part")).map(place).map(|p| [p[0], p[1]]).collect()
    });
    let mut off: Vec<f64> = if ring.is_empty() { Vec::new() } else { found.part.iter().map(|p| away(&ring, p.at_px)).collect() };
    off.sort_by(f64::total_cmp);
    (best_s, off.get(off.len() / 2).copied().unwrap_or(f64::NAN))
}

fn away(ring: &[[f64; 2]], p: [f64; 2]) -> f64 {
    let to_segment = |a: [f64; 2], b: [f64; 2]| {
        let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
        let k = (((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / (dx * dx + dy * dy).max(1e-12)).clamp(0.0, 1.0);
        (p[0] - a[0] - k * dx).hypot(p[1] - a[1] - k * dy)
    };
    (0..ring.len()).map(|i| to_segment(ring[i], ring[(i + 1) % ring.len()])).fold(f64::INFINITY, f64::min)
}

fn theirs(python: &Path, file: &Path, clicks: Clicks, truth: Option<&PathBuf>) -> Option<[f64; 3]> {
    let goes = if truth.is_some() { GOES } else { 2 };
    let numbers = [clicks.rod_entry, clicks.free_end].concat();
    let mut command = Command::new(python);
    command.arg("-c").arg(THEIRS).arg(file).args(numbers.iter().map(f64::to_string)).arg(goes.to_string());
    let output = command.args(truth).output().ok()?;
    let text = String::from_utf8(output.stdout).ok()?;
    let words: Vec<f64> = text.split_whitespace().filter_map(|w| w.parse().ok()).collect();
    words.try_into().ok()
}
