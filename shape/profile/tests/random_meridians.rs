//! Random turned bodies, projected and got back. The projection is another one than the fit's: circles of the body drawn as polygons, the body's
//! picture the union of the hulls of neighbouring circles.

use meridian::Piece;
use nalgebra::{self, Vector3};
use outline::{Clicks, EdgePoint, Outline};
use profile::{Camera, FocalGuess, NamedSize, View, fit};
use quantity::{Length, Source};
use rayon as _;
use serde_json as _;
use solve::Sampler;

const ROD_MM: f64 = 3.0;
/// Corners of a circle's polygon, and its sagitta as a share of the radius: 1e-5.
const CORNERS: usize = 720;

struct Scene {
    focal_px: f64,
    origin: Vector3<f64>,
    along: Vector3<f64>,
    /// (z, r) from the rod-end face to the free end, mm.
    meridian: Vec<[f64; 2]>,
}

impl Scene {
    fn random(sampler: &mut Sampler) -> Scene {
        let mut meridian = vec![[0.0, sampler.between(6.0, 13.0)]];
        for k in 0..2 + sampler.below(3) {
            let [z, r] = meridian[meridian.len() - 1];
            // A cylinder, a cone, or (not at the rod-end face) a step and a cylinder.
            match sampler.below(if k == 0 { 2 } else { 3 }) {
                0 => meridian.push([z + sampler.between(5.0, 11.0), r]),
                1 => meridian.push([z + sampler.between(6.0, 11.0), (r + sampler.between(-4.0, 4.0)).clamp(5.0, 14.0)]),
                _ => {
                    let wide = if r > 9.0 { r - sampler.between(1.5, 4.0) } else { r + sampler.between(1.5, 4.0) };
                    meridian.push([z + 1e-3, wide]);
                    meridian.push([z + sampler.between(5.0, 10.0), wide]);
                }
            }
        }
        let far_mm = sampler.between(120.0, 260.0);
        let (roll, tilt) = (sampler.between(0.0, std::f64::consts::TAU), sampler.between(-12.0, 12.0f64).to_radians());
        let along = Vector3::new(tilt.cos() * roll.cos(), tilt.cos() * roll.sin(), tilt.sin());
        let middle = Vector3::new(sampler.between(-0.06, 0.06), sampler.between(-0.06, 0.06), 1.0) * far_mm;
        let half_mm = 0.5 * meridian[meridian.len() - 1][0];
        Scene { focal_px: 520.0 * far_mm / 30.0, origin: middle - along * half_mm, along, meridian }
    }

    fn px(&self, p: Vector3<f64>) -> [f64; 2] {
        [800.0 + self.focal_px * p.x / p.z, 600.0 + self.focal_px * p.y / p.z]
    }

    fn circle(&self, z: f64, r: f64) -> Vec<[f64; 2]> {
        let b1 = self.along.cross(&Vector3::z()).normalize();
        let b2 = self.along.cross(&b1);
        let turn = |k: usize| std::f64::consts::TAU * k as f64 / CORNERS as f64;
        (0..CORNERS).map(|k| self.px(self.origin + self.along * z + (b1 * turn(k).cos() + b2 * turn(k).sin()) * r)).collect()
    }

    /// Picture frame along the axis: unit vector, and from a pixel to (along, to the left of it).
    fn frame(&self) -> ([f64; 2], impl Fn([f64; 2]) -> [f64; 2]) {
        let (a, b) = (self.px(self.origin), self.px(self.origin + self.along * self.meridian[self.meridian.len() - 1][0]));
        let n = (b[0] - a[0]).hypot(b[1] - a[1]);
        let u = [(b[0] - a[0]) / n, (b[1] - a[1]) / n];
        (u, move |p: [f64; 2]| {
            let (x, y) = (p[0] - a[0], p[1] - a[1]);
            [x * u[0] + y * u[1], x * u[1] - y * u[0]]
        })
    }

    /// Widest extent to either side at places along the axis: (t, left, right).
    fn extents(&self, rings: &[Vec<[f64; 2]>], places: &[f64]) -> Vec<(f64, f64, f64)> {
        let (_, place) = self.frame();
        let rings: Vec<Vec<[f64; 2]>> = rings.iter().map(|ring| ring.iter().map(|p| place(*p)).collect()).collect();
        let mut found: Vec<(f64, f64, f64)> = places.iter().map(|&t| (t, f64::NEG_INFINITY, f64::INFINITY)).collect();
        for pair in rings.windows(2) {
            let hull = hull([pair[0].clone(), pair[1].clone()].concat());
            for k in 0..hull.len() {
                let (a, b) = (hull[k], hull[(k + 1) % hull.len()]);
                for (t, left, right) in &mut found {
                    if (a[0] <= *t) != (b[0] <= *t) {
                        let w = a[1] + (b[1] - a[1]) * (*t - a[0]) / (b[0] - a[0]);
                        (*left, *right) = (left.max(w), right.min(w));
                    }
                }
            }
        }
        found.retain(|e| e.1.is_finite());
        found
    }

    fn view(&self, noise_px: f64, sampler: &mut Sampler) -> View {
        let (u, place) = self.frame();
        let start = self.px(self.origin);
        let at = |t: f64, w: f64| [start[0] + t * u[0] + w * u[1], start[1] + t * u[1] - w * u[0]];
        let rings: Vec<Vec<[f64; 2]>> = self.meridian.iter().map(|[z, r]| self.circle(*z, *r)).collect();
        let ts = || rings.iter().flatten().map(|p| place(*p)[0]);
        let (low, high) = (ts().fold(f64::INFINITY, f64::min), ts().fold(f64::NEG_INFINITY, f64::max));
        // Close together at the ends, where the outline runs across.
        let places: Vec<f64> =
            (1..900).map(|k| low + 0.5 * (high - low) * (1.0 - (std::f64::consts::PI * f64::from(k) / 900.0).cos())).collect();
        let extents = self.extents(&rings, &places);
        let rod: Vec<(f64, f64, f64)> = {
            let rings = [self.circle(-45.0, ROD_MM), self.circle(-2.0, ROD_MM)];
            let far = low - 12.0;
            self.extents(&rings, &(0..200).map(|k| far - 1.5 * f64::from(k)).collect::<Vec<f64>>())
        };
        let rod_px = rod.first().map_or(0.0, |e| e.1.max(-e.2)) + 3.0;
        let mut line: Vec<[f64; 2]> = extents.iter().filter(|e| e.1 > rod_px || e.0 > 0.5 * high).map(|e| [e.0, e.1]).collect();
        line.extend(extents.iter().rev().filter(|e| -e.2 > rod_px || e.0 > 0.5 * high).map(|e| [e.0, e.2]));
        let normal = |k: usize| {
            let (a, b) = (line[k.saturating_sub(1)], line[(k + 1).min(line.len() - 1)]);
            let (dt, dw) = (b[0] - a[0], b[1] - a[1]);
            let n = dt.hypot(dw).max(1e-9);
            let (nt, nw) = (-dw / n, dt / n);
            [nt * u[0] + nw * u[1], nt * u[1] - nw * u[0]]
        };
        let mut noisy = |q: [f64; 2], n: [f64; 2]| {
            let off = noise_px * sampler.normal();
            EdgePoint { at_px: [q[0] + off * n[0], q[1] + off * n[1]], normal: n, sigma_px: noise_px }
        };
        let part: Vec<EdgePoint> = (0..line.len()).map(|k| noisy(at(line[k][0], line[k][1]), normal(k))).collect();
        let [left, right] = [[u[1], -u[0]], [-u[1], u[0]]];
        let outline = Outline {
            part,
            rod_left: rod.iter().map(|e| noisy(at(e.0, e.1), left)).collect(),
            rod_right: rod.iter().map(|e| noisy(at(e.0, e.2), right)).collect(),
            rod_joint: Vec::new(),
            part_bias_sigma_px: 0.02,
            rod_bias_sigma_px: 0.02,
            axis: Clicks { rod_entry: start, free_end: at(place(self.px(self.origin + self.along * self.length_mm()))[0], 0.0) },
        };
        let focal = vec![FocalGuess { focal_px: self.focal_px, sigma_px: 1e-3 * self.focal_px, odds: 1.0, source: "made up".into() }];
        View {
            name: "random".into(),
            outline,
            camera: Camera { width_px: 1600, height_px: 1200, focal, k1: (0.0, 0.002) },
            rod_diameter: Length { mm: 2.0 * ROD_MM, sigma_mm: 0.001, source: Source("made up".into()) },
        }
    }

    fn length_mm(&self) -> f64 {
        self.meridian[self.meridian.len() - 1][0]
    }

    fn diameter_mm(&self) -> f64 {
        2.0 * self.meridian.iter().map(|p| p[1]).fold(0.0, f64::max)
    }
}

/// Convex hull, counter-clockwise (Andrew's monotone chain).
fn hull(mut points: Vec<[f64; 2]>) -> Vec<[f64; 2]> {
    points.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    let turn = |o: [f64; 2], a: [f64; 2], b: [f64; 2]| (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0]);
    let half = |points: &mut dyn Iterator<Item = [f64; 2]>| {
        let mut line: Vec<[f64; 2]> = Vec::new();
        for p in points {
            while line.len() > 1 && turn(line[line.len() - 2], line[line.len() - 1], p) <= 0.0 {
                line.pop();
            }
            line.push(p);
        }
        line.pop();
        line
    };
    let (lower, upper) = (half(&mut points.iter().copied()), half(&mut points.iter().rev().copied()));
    [lower, upper].concat()
}

/// Twenty bodies, each from another place; noise 0.1 px.
#[test]
fn random_meridians_are_got_back() {
    let mut off: Vec<(f64, f64, f64)> = Vec::new();
    let mut held = 0;
    for seed in 0..20 {
        let mut sampler = Sampler::new(seed);
        let scene = Scene::random(&mut sampler);
        let found = fit(&[scene.view(0.1, &mut sampler)], &[]).expect("fits").value;
        let length = &found.dimensions[0];
        let share = |found: f64, meant: f64| (found / meant - 1.0).abs();
        // Where a cone ends sharp, its large diameter is the corner's; the greatest diameter is that of an edge as seen, somewhat broken.
        let sharp = found.dimensions.iter().filter(|size| size.name == "greatest diameter" || size.name.starts_with("cone large"));
        let far = |size: &NamedSize| share(size.value_mm, scene.diameter_mm());
        let diameter = sharp.min_by(|a, b| far(a).total_cmp(&far(b))).expect("a greatest diameter");
        let (l, d) = (share(length.value_mm, scene.length_mm()), share(diameter.value_mm, scene.diameter_mm()));
        let seen: Vec<f64> = found.points.iter().filter(|p| p.seen).map(|p| to_line(&scene.meridian, [p.z_mm, p.r_mm])).collect();
        let rms = (seen.iter().map(|x| x * x).sum::<f64>() / seen.len().max(1) as f64).sqrt() / scene.diameter_mm();
        held += usize::from((length.value_mm - scene.length_mm()).abs() < 1.96 * length.sigma_mm);
        held += usize::from((diameter.value_mm - scene.diameter_mm()).abs() < 1.96 * diameter.sigma_mm);
        assert!(d < 0.005 && l < 0.02, "seed {seed}: diameter off by {:.3} %, length by {:.3} %", 100.0 * d, 100.0 * l);
        off.push((d, l, rms));
    }
    let middle = |of: fn(&(f64, f64, f64)) -> f64| {
        let mut all: Vec<f64> = off.iter().map(of).collect();
        all.sort_by(f64::total_cmp);
        all[all.len() / 2]
    };
    let (d, l, rms) = (middle(|o| o.0), middle(|o| o.1), middle(|o| o.2));
    assert!(d < 0.001 && l < 0.003 && rms < 0.003, "medians: diameter {d}, length {l}, profile {rms}");
    assert!(held >= 34, "{held} of 40 intervals hold the truth");
}

/// A flowing handle (no radius anywhere along it) comes back as few pieces with a smooth curve among them.
#[test]
fn a_free_curve_is_told_as_a_curve() {
    let mut sampler = Sampler::new(1);
    let at = |k: i32| {
        let t = f64::from(k) / 200.0;
        let [w1, w2, w3] = [3.0 * t * (1.0 - t).powi(2), 3.0 * t * t * (1.0 - t), t.powi(3)];
        // A cubic: its curvature changes all along.
        [16.0 * w1 + 14.0 * w2 + 34.0 * w3, 6.0 * (1.0 - t).powi(3) + 6.5 * w1 + 12.6 * w2 + 13.0 * w3]
    };
    let along = Vector3::new(0.995, 0.0, 0.0998);
    let scene = Scene {
        focal_px: 3000.0,
        origin: Vector3::new(-17.0, 2.0, 170.0),
        along: along.normalize(),
        meridian: (0..=200).map(at).collect(),
    };
    let found = fit(&[scene.view(0.1, &mut sampler)], &[]).expect("fits").value;
    let pieces = found.meridian.pieces();
    assert!(pieces.iter().any(|p| matches!(p, Piece::Curve { .. })) && pieces.len() < 9, "{pieces:?}");
    let off: Vec<f64> = found.meridian.sample(0.01).iter().map(|p| to_line(&scene.meridian, [p.z_mm, p.r_mm])).collect();
    let rms = (off.iter().map(|x| x * x).sum::<f64>() / off.len() as f64).sqrt();
    assert!(rms < 0.05, "{rms} mm from the truth");
}

fn to_line(line: &[[f64; 2]], p: [f64; 2]) -> f64 {
    let to_segment = |a: [f64; 2], b: [f64; 2]| {
        let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
        let n = dx * dx + dy * dy;
        let s = if n > 0.0 { (((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / n).clamp(0.0, 1.0) } else { 0.0 };
        (p[0] - a[0] - s * dx).hypot(p[1] - a[1] - s * dy)
    };
    let closed = [vec![[0.0, 0.0]], line.to_vec(), vec![[line[line.len() - 1][0], 0.0]]].concat();
    closed.windows(2).map(|s| to_segment(s[0], s[1])).fold(f64::INFINITY, f64::min)
}
