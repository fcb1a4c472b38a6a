//! Fits photographs with known truth from their exact outlines: `truth DIR [noise_px] [bias_px] [ids]` prints errors in per cent.
#![allow(clippy::print_stdout)] // a report for the terminal is what this example is for

use nalgebra as _;
use outline::{Clicks, EdgePoint, Outline};
use profile::{Camera, FocalGuess, View};
use quantity::{Length, Source};
use serde_json::Value;

fn main() {
    let args: Vec<String> = std::env::args().collect();
    let dir = args.get(1).cloned().unwrap_or_default();
    let noise: f64 = args.get(2).and_then(|s| s.parse().ok()).unwrap_or(0.0);
    let bias: f64 = args.get(3).and_then(|s| s.parse().ok()).unwrap_or(0.0);
    let only = args.get(4).cloned().unwrap_or_default();
    let mut names: Vec<_> = std::fs::read_dir(&dir)
        .expect("folder")
        .map(|e| e.expect("entry").path())
        .filter(|p| p.extension().is_some_and(|e| e == "json"))
        .collect();
    names.sort();
    println!(
        "{:5}{:>8}{:>7}{:>8}{:>7}{:>8}{:>8}{:>7}{:>8}{:>7}{:>7}{:>8}",
        "id", "dD %", "sD", "dL %", "sL", "rms %", "tilt d", "s", "dist %", "s", "res", "ms"
    );
    for path in names {
        let t: Value = serde_json::from_str(&std::fs::read_to_string(&path).expect("read")).expect("json");
        let id = t["id"].as_str().unwrap_or("?").to_string();
        if !only.is_empty() && !only.split(',').any(|o| o == id) {
            continue;
        }
        let exact = view(&t, noise, bias);
        let view = if std::env::var("REAL").is_ok() { real(&t, &dir, &exact) } else { exact };
        if only.contains(',') || std::env::var("VERBOSE").is_ok() {
            eprintln!(
                "{id}: part {} left {} right {} joint {}",
                view.outline.part.len(),
                view.outline.rod_left.len(),
                view.outline.rod_right.len(),
                view.outline.rod_joint.len()
            );
        }
        let started = std::time::Instant::now();
        match profile::fit(&[view], &[]) {
            Err(e) => println!("{id:5} {e}"),
            Ok(noted) => {
                let p = noted.value;
                let ms = started.elapsed().as_millis();
                let (d, l) = (f(&t["part"]["greatest_diameter_mm"]), f(&t["part"]["overall_length_mm"]));
                let (fl, fd) = (&p.dimensions[0], &p.dimensions[1]);
                let rms = rms(&t, &p);
                let pose = &p.poses[0];
                println!(
                    "{id:5}{:8.3}{:7.3}{:8.3}{:7.3}{:8.3}{:8.3}{:7.3}{:8.3}{:7.3}{:7.3}{:8} k1 {:.4} f {:.4}",
                    100.0 * (fd.value_mm - d) / d,
                    100.0 * fd.sigma_mm / d,
                    100.0 * (fl.value_mm - l) / l,
                    100.0 * fl.sigma_mm / l,
                    100.0 * rms / d,
                    pose.tilt_deg.0 - f(&t["pose"]["tilt_out_of_image_plane_deg"]),
                    pose.tilt_deg.1,
                    100.0 * (pose.distance_mm.0 / f(&t["pose"]["distance_to_part_middle_mm"]) - 1.0),
                    100.0 * pose.distance_mm.1 / pose.distance_mm.0,
                    pose.residual_px,
                    ms,
                    pose.k1.0,
                    pose.focal_px.0 / f(&t["camera"]["fx"])
                );
                if std::env::var("VERBOSE").is_ok() {
                    for d in &p.dimensions {
                        println!(
                            "      {:28} {:?} z {:.3}..{:.3}  {:.4} +/- {:.4}",
                            d.name, d.kind, d.z_mm[0], d.z_mm[1], d.value_mm, d.sigma_mm
                        );
                    }
                    for n in &noted.notes {
                        println!("      note: {} | {}", n.text, n.settle);
                    }
                    for s in t["part"]["design_sizes"].as_array().expect("sizes") {
                        println!("      truth {} {} {} {}", s["name"], s["kind"], s["value_mm"], s["z_mm"]);
                    }
                }
                if let Ok(out) = std::env::var("DUMP") {
                    let text: Vec<String> =
                        p.points.iter().map(|q| format!("{} {} {} {}", q.z_mm, q.r_mm, q.sigma_r_mm, u8::from(q.seen))).collect();
                    std::fs::write(format!("{out}/{id}.txt"), text.join("\n")).expect("write");
                    std::fs::write(format!("{out}/{id}.pieces"), format!("{:#?}", p.meridian.pieces())).expect("write");
                }
            }
        }
    }
}

/// The same view with the outline that is found in the photo itself.
fn real(t: &Value, dir: &str, exact: &View) -> View {
    let id = t["id"].as_str().unwrap_or("?");
    let bytes = std::fs::read(format!("{dir}/../photos/{id}.jpg")).expect("photo");
    let photo = photo::decode(&bytes, &photo::Limits::default()).expect("decodes");
    let (w, h) = (photo.picture.width_px(), photo.picture.height_px());
    let mut sampler = solve::Sampler::new(t["seed"].as_u64().unwrap_or(1));
    let mut shake = |q: [f64; 2]| {
        [
            (q[0] + 0.005 * w as f64 * sampler.normal()).clamp(1.0, w as f64 - 1.0),
            (q[1] + 0.005 * w as f64 * sampler.normal()).clamp(1.0, h as f64 - 1.0),
        ]
    };
    let clicks = Clicks { rod_entry: shake(exact.outline.axis.rod_entry), free_end: shake(exact.outline.axis.free_end) };
    let focal = photo
        .facts
        .focal_guesses(w, h)
        .into_iter()
        .map(|g| FocalGuess { focal_px: g.focal_px, sigma_px: g.sigma_px, odds: g.odds, source: g.source })
        .collect();
    let outline = match outline::find(&photo.picture, Some(clicks)) {
        Ok(found) => found.value,
        Err(e) => {
            println!("{id}: {e}");
            return exact.clone();
        }
    };
    for (name, found, truth) in [
        ("part", &outline.part, &exact.outline.part),
        ("left", &outline.rod_left, &exact.outline.rod_left),
        ("right", &outline.rod_right, &exact.outline.rod_right),
        ("joint", &outline.rod_joint, &exact.outline.rod_joint),
    ] {
        let mut off: Vec<f64> = found
            .iter()
            .filter_map(|p| {
                let q = truth.iter().min_by(|a, b| d2(a.at_px, p.at_px).total_cmp(&d2(b.at_px, p.at_px)))?;
                Some((p.at_px[0] - q.at_px[0]) * q.normal[0] + (p.at_px[1] - q.at_px[1]) * q.normal[1])
            })
            .collect();
        if name == "left" || name == "right" {
            let n = off.len() as f64;
            let x = |i: usize| 2.0 * i as f64 / (n - 1.0) - 1.0;
            let (sx, sxx) = (off.iter().enumerate().map(|(i, o)| x(i) * o).sum::<f64>(), (0..off.len()).map(|i| x(i).powi(2)).sum::<f64>());
            println!(
                "      {name} mean {:.2} growth {:.2} in sigmas {:.2} {:.2}",
                off.iter().sum::<f64>() / n,
                sx / sxx,
                off.iter().sum::<f64>() / n / outline.rod_bias_sigma_px,
                sx / sxx / outline.rod_bias_sigma_px
            );
        }
        off.sort_by(f64::total_cmp);
        let mut sigma: Vec<f64> = found.iter().map(|p| p.sigma_px).collect();
        sigma.sort_by(f64::total_cmp);
        let at = |v: &[f64], q: f64| v.get((q * (v.len().max(1) - 1) as f64) as usize).copied().unwrap_or(f64::NAN);
        println!(
            "      {name:6} n {:5} off 5 % {:7.2} 25 % {:6.2} mid {:6.2} 75 % {:6.2} 95 % {:6.2}  sigma mid {:.2} 90 % {:.2}",
            found.len(),
            at(&off, 0.05),
            at(&off, 0.25),
            at(&off, 0.5),
            at(&off, 0.75),
            at(&off, 0.95),
            at(&sigma, 0.5),
            at(&sigma, 0.9)
        );
    }
    println!("      bias sigma part {:.2} rod {:.2}", outline.part_bias_sigma_px, outline.rod_bias_sigma_px);
    let mode = std::env::var("REAL").unwrap_or_default();
    let mut outline = outline;
    if mode.contains("xrod") {
        outline.rod_left = exact.outline.rod_left.clone();
        outline.rod_right = exact.outline.rod_right.clone();
        outline.rod_bias_sigma_px = 0.03;
    }
    if mode.contains("xpart") {
        outline.part = exact.outline.part.clone();
        outline.part_bias_sigma_px = 0.03;
    }
    if mode.contains("nojoint") {
        outline.rod_joint.clear();
    }
    if mode.contains("xjoint") {
        outline.rod_joint = exact.outline.rod_joint.clone();
    }
    View { outline, camera: Camera { focal, ..exact.camera.clone() }, ..exact.clone() }
}

fn d2(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2)
}

fn f(v: &Value) -> f64 {
    v.as_f64().unwrap_or(f64::NAN)
}

fn pair(v: &Value) -> [f64; 2] {
    [f(&v[0]), f(&v[1])]
}

fn rms(t: &Value, p: &profile::Profile) -> f64 {
    let m: Vec<[f64; 2]> = t["part"]["meridian_zr_mm"].as_array().expect("meridian").iter().map(pair).collect();
    let mut sum = (0.0, 0.0);
    for q in p.points.iter().filter(|q| q.seen) {
        let d = m.windows(2).map(|s| to_segment([q.z_mm, q.r_mm], s[0], s[1])).fold(f64::INFINITY, f64::min);
        sum = (sum.0 + d * d, sum.1 + 1.0);
    }
    (sum.0 / sum.1).sqrt()
}

fn to_segment(p: [f64; 2], a: [f64; 2], b: [f64; 2]) -> f64 {
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let n = dx * dx + dy * dy;
    let s = if n > 0.0 { (((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / n).clamp(0.0, 1.0) } else { 0.0 };
    (p[0] - a[0] - s * dx).hypot(p[1] - a[1] - s * dy)
}

fn view(t: &Value, noise: f64, bias: f64) -> View {
    let mut sampler = solve::Sampler::new(t["seed"].as_u64().unwrap_or(1));
    let (w, h) = (t["image"]["width"].as_u64().unwrap_or(0) as usize, t["image"]["height"].as_u64().unwrap_or(0) as usize);
    let cam = &t["camera"];
    let fx = f(&cam["fx"]);
    let project = |z: f64| {
        let p: Vec<f64> = (0..3).map(|i| f(&t["pose"]["axis_origin_mm"][i]) + z * f(&t["pose"]["axis_direction"][i])).collect();
        let (x, y) = (p[0] / p[2], p[1] / p[2]);
        let s = 1.0 + f(&cam["distortion"]["k1"]) * (x * x + y * y);
        [fx * x * s + f(&cam["cx"]), fx * y * s + f(&cam["cy"])]
    };
    let l = f(&t["part"]["overall_length_mm"]);
    let axis = [project(0.0), project(l)];
    let rings = |key: &str| -> Vec<Vec<[f64; 2]>> {
        t["silhouette"][key]
            .as_array()
            .map(|rs| rs.iter().map(|r| r.as_array().expect("ring").iter().map(pair).collect()).collect())
            .unwrap_or_default()
    };
    let (part, rod) = (rings("part_visible_px"), rings("rod_visible_px"));
    let big = |rs: &[Vec<[f64; 2]>]| rs.iter().max_by_key(|r| r.len()).cloned().unwrap_or_default();
    let (part, rod) = (big(&part), big(&rod));
    let step = if w > 2000 { 2.0 } else { 1.0 };
    let along = {
        let d = [axis[1][0] - axis[0][0], axis[1][1] - axis[0][1]];
        let n = d[0].hypot(d[1]);
        [d[0] / n, d[1] / n]
    };
    let near_ring = |p: [f64; 2], ring: &[[f64; 2]]| {
        (0..ring.len()).map(|i| to_segment(p, ring[i], ring[(i + 1) % ring.len()])).fold(f64::INFINITY, f64::min)
    };
    let inside = |p: [f64; 2]| p[0] > 1.0 && p[1] > 1.0 && p[0] < w as f64 - 1.0 && p[1] < h as f64 - 1.0;
    let (part_points, rod_points) = (walk(&part, step), walk(&rod, step));
    let mut flags: Vec<bool> = part_points.iter().map(|p| inside(p.at_px) && near_ring(p.at_px, &rod) > 1.5).collect();
    // Start the order at the rod: rotate so that the first kept point follows a dropped one.
    let n = part_points.len();
    let start = (0..n).find(|&i| !flags[i] && flags[(i + 1) % n]).map_or(0, |i| (i + 1) % n);
    let mut order: Vec<usize> = (0..n).map(|k| (start + k) % n).collect();
    let mut kept: Vec<EdgePoint> = order.drain(..).filter(|&i| flags[i]).map(|i| part_points[i]).collect();
    flags.clear();
    let side = |p: [f64; 2]| (p[0] - axis[0][0]) * along[1] - (p[1] - axis[0][1]) * along[0];
    if kept.first().is_some_and(|p| side(p.at_px) < 0.0) {
        kept.reverse();
    }
    let joint: Vec<EdgePoint> = part_points.iter().filter(|p| inside(p.at_px) && near_ring(p.at_px, &rod) < 0.3).copied().collect();
    let along_of = |p: [f64; 2]| (p[0] - axis[0][0]) * along[0] + (p[1] - axis[0][1]) * along[1];
    let far = rod_points.iter().filter(|p| inside(p.at_px)).map(|p| along_of(p.at_px)).fold(f64::INFINITY, f64::min);
    let rod_kept: Vec<EdgePoint> = rod_points
        .iter()
        .filter(|p| {
            inside(p.at_px)
                && near_ring(p.at_px, &part) > 2.0
                && (p.normal[0] * along[0] + p.normal[1] * along[1]).abs() < 0.3
                && along_of(p.at_px) > far + 25.0
        })
        .copied()
        .collect();
    let mut spoil = |edge: Vec<EdgePoint>, b: f64| -> Vec<EdgePoint> {
        edge.into_iter()
            .map(|p| {
                let off = b + noise * sampler.normal();
                EdgePoint { at_px: [p.at_px[0] + off * p.normal[0], p.at_px[1] + off * p.normal[1]], sigma_px: noise.max(0.05), ..p }
            })
            .collect()
    };
    let (left, right): (Vec<EdgePoint>, Vec<EdgePoint>) = rod_kept.into_iter().partition(|p| side(p.at_px) > 0.0);
    let outline = Outline {
        part: spoil(kept, bias),
        rod_left: spoil(left, bias),
        rod_right: spoil(right, bias),
        rod_joint: spoil(joint, 0.0),
        part_bias_sigma_px: bias.abs().max(0.02),
        rod_bias_sigma_px: bias.abs().max(0.02),
        axis: Clicks { rod_entry: axis[0], free_end: axis[1] },
    };
    let exif = &cam["exif"];
    let focal = match exif["mode"].as_str() {
        Some("full") => vec![FocalGuess {
            focal_px: f(&exif["fx_px_from_tags"]),
            sigma_px: if std::env::var("LOOSE").is_ok() { 0.02 } else { 0.001 } * fx,
            odds: 1.0,
            source: "tags".into(),
        }],
        Some("f35") => {
            let f35 = f(&exif["FocalLengthIn35mmFilm"]);
            let (a, b) = (f35 * (w as f64).hypot(h as f64) / 43.267, f35 * w as f64 / 36.0);
            [(a, "diagonal"), (b, "width")]
                .map(|(x, s)| FocalGuess { focal_px: x, sigma_px: x * 0.29 / f35, odds: 0.5, source: s.into() })
                .to_vec()
        }
        _ => Vec::new(),
    };
    let d = f(&t["rod"]["diameter_mm"]);
    View {
        name: t["id"].as_str().unwrap_or("?").into(),
        outline,
        camera: Camera { width_px: w, height_px: h, focal, k1: (0.0, 0.02) },
        rod_diameter: Length { mm: d, sigma_mm: 0.0002 * d, source: Source("given".into()) },
    }
}

/// Points along a ring with outward normals.
fn walk(ring: &[[f64; 2]], step: f64) -> Vec<EdgePoint> {
    let n = ring.len();
    let area: f64 = (0..n).map(|i| ring[i][0] * ring[(i + 1) % n][1] - ring[(i + 1) % n][0] * ring[i][1]).sum();
    let sign = if area > 0.0 { 1.0 } else { -1.0 };
    let mut points = Vec::new();
    let mut left = 0.0;
    for i in 0..n {
        let (a, b) = (ring[i], ring[(i + 1) % n]);
        let length = (b[0] - a[0]).hypot(b[1] - a[1]);
        let mut at = left;
        while at < length {
            let s = at / length;
            points.push(EdgePoint {
                at_px: [a[0] + s * (b[0] - a[0]), a[1] + s * (b[1] - a[1])],
                normal: [sign * (b[1] - a[1]) / length, -sign * (b[0] - a[0]) / length],
                sigma_px: 0.05,
            });
            at += step;
        }
        left = at - length;
    }
    points
}
