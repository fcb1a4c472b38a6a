//! Exact outlines of truth-known photographs as the outline station would hand them over.

use outline::{Clicks, EdgePoint, Outline};
use profile::{Camera, FocalGuess, View};
use quantity::{Length, Source};
use serde_json::Value;
use solve::Sampler;

pub struct Truth {
    pub json: Value,
    pub diameter_mm: f64,
    pub length_mm: f64,
}

/// `tests/data/NAME.json`; the file names its source.
pub fn truth(name: &str) -> Truth {
    let text = std::fs::read_to_string(format!("{}/tests/data/{name}.json", env!("CARGO_MANIFEST_DIR"))).expect("test data");
    let json: Value = serde_json::from_str(&text).expect("JSON");
    let (diameter_mm, length_mm) = (number(&json["part"]["greatest_diameter_mm"]), number(&json["part"]["overall_length_mm"]));
    Truth { json, diameter_mm, length_mm }
}

fn number(v: &Value) -> f64 {
    v.as_f64().unwrap_or(f64::NAN)
}

fn pair(v: &Value) -> [f64; 2] {
    [number(&v[0]), number(&v[1])]
}

impl Truth {
    /// Root mean square distance of seen points to the true meridian, mm.
    pub fn rms_mm(&self, profile: &profile::Profile) -> f64 {
        let line: Vec<[f64; 2]> = self.json["part"]["meridian_zr_mm"].as_array().expect("meridian").iter().map(pair).collect();
        let off: Vec<f64> = profile.points.iter().filter(|p| p.seen).map(|p| near(&line, [p.z_mm, p.r_mm], false).powi(2)).collect();
        (off.iter().sum::<f64>() / off.len() as f64).sqrt()
    }

    /// The view with white noise on every edge point and the rod known to 0.02 %.
    pub fn view(&self, noise_px: f64, seed: u64) -> View {
        let t = &self.json;
        let (w, h) = (number(&t["image"]["width"]), number(&t["image"]["height"]));
        let fx = number(&t["camera"]["fx"]);
        let project = |z: f64| {
            let p: Vec<f64> =
                (0..3).map(|i| number(&t["pose"]["axis_origin_mm"][i]) + z * number(&t["pose"]["axis_direction"][i])).collect();
            [fx * p[0] / p[2] + 0.5 * w, fx * p[1] / p[2] + 0.5 * h]
        };
        let axis = [project(0.0), project(self.length_mm)];
        let ring = |key: &str| -> Vec<[f64; 2]> { t["silhouette"][key][0].as_array().expect("ring").iter().map(pair).collect() };
        let (part, rod) = (ring("part_visible_px"), ring("rod_visible_px"));
        let along = {
            let d = [axis[1][0] - axis[0][0], axis[1][1] - axis[0][1]];
            let n = d[0].hypot(d[1]);
            [d[0] / n, d[1] / n]
        };
        let inside = |p: [f64; 2]| p[0] > 1.0 && p[1] > 1.0 && p[0] < w - 1.0 && p[1] < h - 1.0;
        let left = |p: [f64; 2]| (p[0] - axis[0][0]) * along[1] - (p[1] - axis[0][1]) * along[0] > 0.0;
        let height = |p: [f64; 2]| (p[0] - axis[0][0]) * along[0] + (p[1] - axis[0][1]) * along[1];
        let step = if w > 2000.0 { 2.0 } else { 1.0 };
        let walked = walk(&part, step);
        let free: Vec<bool> = walked.iter().map(|p| inside(p.at_px) && near(&rod, p.at_px, true) > 1.5).collect();
        let n = walked.len();
        let start = (0..n).find(|&i| !free[i] && free[(i + 1) % n]).map_or(0, |i| i + 1);
        let mut kept: Vec<EdgePoint> = (0..n).map(|k| (start + k) % n).filter(|&i| free[i]).map(|i| walked[i]).collect();
        if kept.first().is_some_and(|p| !left(p.at_px)) {
            kept.reverse();
        }
        let rod_points = walk(&rod, step);
        let far = rod_points.iter().filter(|p| inside(p.at_px)).map(|p| height(p.at_px)).fold(f64::INFINITY, f64::min);
        let is_side = |p: &&EdgePoint| {
            inside(p.at_px)
                && near(&part, p.at_px, true) > 2.0
                && (p.normal[0] * along[0] + p.normal[1] * along[1]).abs() < 0.3
                && height(p.at_px) > far + 25.0
        };
        let (rod_left, rod_right): (Vec<EdgePoint>, Vec<EdgePoint>) =
            rod_points.iter().filter(is_side).copied().partition(|p| left(p.at_px));
        let mut sampler = Sampler::new(seed);
        let mut noisy = |edge: Vec<EdgePoint>| -> Vec<EdgePoint> {
            edge.into_iter()
                .map(|p| {
                    let off = noise_px * sampler.normal();
                    EdgePoint { at_px: [p.at_px[0] + off * p.normal[0], p.at_px[1] + off * p.normal[1]], sigma_px: noise_px.max(0.05), ..p }
                })
                .collect()
        };
        let outline = Outline {
            part: noisy(kept),
            rod_left: noisy(rod_left),
            rod_right: noisy(rod_right),
            rod_joint: Vec::new(),
            part_bias_sigma_px: 0.02,
            rod_bias_sigma_px: 0.02,
            axis: Clicks { rod_entry: axis[0], free_end: axis[1] },
        };
        let focal = vec![FocalGuess { focal_px: fx, sigma_px: 0.001 * fx, odds: 1.0, source: "EXIF".into() }];
        let d = number(&t["rod"]["diameter_mm"]);
        View {
            name: t["id"].as_str().unwrap_or("?").into(),
            outline,
            camera: Camera { width_px: w as usize, height_px: h as usize, focal, k1: (0.0, 0.02) },
            rod_diameter: Length { mm: d, sigma_mm: 0.0002 * d, source: Source("given".into()) },
        }
    }
}

fn near(line: &[[f64; 2]], p: [f64; 2], closed: bool) -> f64 {
    let count = if closed { line.len() } else { line.len() - 1 };
    (0..count).map(|i| to_segment(p, line[i], line[(i + 1) % line.len()])).fold(f64::INFINITY, f64::min)
}

fn to_segment(p: [f64; 2], a: [f64; 2], b: [f64; 2]) -> f64 {
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let n = dx * dx + dy * dy;
    let s = if n > 0.0 { (((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / n).clamp(0.0, 1.0) } else { 0.0 };
    (p[0] - a[0] - s * dx).hypot(p[1] - a[1] - s * dy)
}

/// Points along a ring with outward normals.
fn walk(ring: &[[f64; 2]], step: f64) -> Vec<EdgePoint> {
    let n = ring.len();
    let area: f64 = (0..n).map(|i| ring[i][0] * ring[(i + 1) % n][1] - ring[(i + 1) % n][0] * ring[i][1]).sum();
    let mut points = Vec::new();
    let mut left = 0.0;
    for i in 0..n {
        let (a, b) = (ring[i], ring[(i + 1) % n]);
        let length = (b[0] - a[0]).hypot(b[1] - a[1]).max(1e-9);
        let normal = [area.signum() * (b[1] - a[1]) / length, -area.signum() * (b[0] - a[0]) / length];
        while left < length {
            let s = left / length;
            points.push(EdgePoint { at_px: [a[0] + s * (b[0] - a[0]), a[1] + s * (b[1] - a[1])], normal, sigma_px: 0.05 });
            left += step;
        }
        left -= length;
    }
    points
}
