//! Cylinder and cone in perspective, their outlines written down in closed form: no truth file and none of the fit's own geometry.
//!
//! With the camera at height `z_c` and distance `d` from the axis, a cone `r = r0 + m z` touches the lines of sight along the two straight lines at
//! `cos(phi) = (r0 + m z_c) / d` from the direction of the camera (a cylinder: `m = 0`); its ends show the images of their circles. (Derived by hand
//! from n . d = 0; the cylinder's case, apparent radius `R / sqrt(1 - (R/d)^2)`, is in any text on perspective.)

use nalgebra as _;
use outline::{Clicks, EdgePoint, Outline};
use profile::{Camera, FocalGuess, Profile, View, fit};
use quantity::{Length, Source};
use rayon as _;
use serde_json as _;
use solve as _;

const FOCAL_PX: f64 = 2400.0;
const FAR_MM: f64 = 160.0;
const ROD_MM: f64 = 3.0;

/// Outline of a frustum from `-half` to `half` along x, camera square on its middle, rod at -x.
fn frustum(left_mm: f64, right_mm: f64, half_mm: f64) -> View {
    let px = |z: f64, r: f64, phi: f64| {
        let depth = FAR_MM - r * phi.cos();
        [800.0 + FOCAL_PX * z / depth, 600.0 - FOCAL_PX * r * phi.sin() / depth]
    };
    let slope = (right_mm - left_mm) / (2.0 * half_mm);
    let phi = (0.5 * (left_mm + right_mm) / FAR_MM).acos();
    let edge_px = FOCAL_PX * ROD_MM / (FAR_MM * FAR_MM - ROD_MM * ROD_MM).sqrt();
    let mut part: Vec<[f64; 2]> = Vec::new();
    // From beside the rod over the left end's circle, along the side, and round half of the free end; then the same below.
    let arc = |z: f64, r: f64, from: f64, to: f64| (0..=200).map(move |k| px(z, r, from + (to - from) * f64::from(k) / 200.0));
    part.extend(arc(-half_mm, left_mm, 0.0, phi).filter(|p| 600.0 - p[1] > edge_px + 3.0));
    part.extend((1..400).map(|k| -half_mm + 2.0 * half_mm * f64::from(k) / 400.0).map(|z| px(z, left_mm + slope * (z + half_mm), phi)));
    part.extend(arc(half_mm, right_mm, phi, 0.0));
    let below: Vec<[f64; 2]> = part.iter().rev().skip(1).map(|p| [p[0], 1200.0 - p[1]]).collect();
    part.extend(below);
    let rod = |side: f64| {
        (0..300)
            .map(|k| EdgePoint { at_px: [60.0 + f64::from(k), 600.0 + side * edge_px], normal: [0.0, side], sigma_px: 0.05 })
            .collect::<Vec<_>>()
    };
    let normal = |k: usize| {
        let (a, b) = (part[k.saturating_sub(1)], part[(k + 1).min(part.len() - 1)]);
        let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
        let n = dx.hypot(dy).max(1e-9);
        [dy / n, -dx / n]
    };
    let points = (0..part.len()).map(|k| EdgePoint { at_px: part[k], normal: normal(k), sigma_px: 0.05 }).collect();
    View {
        name: "made up".into(),
        outline: Outline {
            part: points,
            rod_left: rod(-1.0),
            rod_right: rod(1.0),
            rod_joint: Vec::new(),
            part_bias_sigma_px: 0.02,
            rod_bias_sigma_px: 0.02,
            axis: Clicks { rod_entry: px(-half_mm, 0.0, 0.0), free_end: px(half_mm, 0.0, 0.0) },
        },
        camera: Camera {
            width_px: 1600,
            height_px: 1200,
            focal: vec![FocalGuess { focal_px: FOCAL_PX, sigma_px: 1.0, odds: 1.0, source: "made up".into() }],
            k1: (0.0, 0.001),
        },
        rod_diameter: Length { mm: 2.0 * ROD_MM, sigma_mm: 0.0005, source: Source("made up".into()) },
    }
}

fn near(found: f64, meant: f64, share: f64, what: &str) {
    assert!((found / meant - 1.0).abs() < share, "{what}: {found} instead of {meant}");
}

fn radius_at(found: &Profile, z_mm: f64) -> f64 {
    let between = found.points.windows(2).find(|p| p[0].z_mm <= z_mm && z_mm < p[1].z_mm);
    between.map_or(f64::NAN, |p| p[0].r_mm + (p[1].r_mm - p[0].r_mm) * (z_mm - p[0].z_mm) / (p[1].z_mm - p[0].z_mm))
}

#[test]
fn cylinder() {
    let found = fit(&[frustum(12.0, 12.0, 18.0)], &[]).expect("fits").value;
    near(found.dimensions[1].value_mm, 24.0, 0.001, "diameter");
    near(found.dimensions[0].value_mm, 36.0, 0.004, "length");
    for z in [6.0, 18.0, 30.0] {
        near(radius_at(&found, z), 12.0, 0.001, "radius");
    }
    // What is read off the picture is wider by 1 / sqrt(1 - (R/d)^2) against a rod's own: 0.26 % here, which the fit takes off.
    assert!((found.poses[0].tilt_deg.0).abs() < 0.3, "tilt {}", found.poses[0].tilt_deg.0);
}

#[test]
fn cone() {
    let found = fit(&[frustum(14.0, 8.0, 18.0)], &[]).expect("fits").value;
    near(found.dimensions[1].value_mm, 28.0, 0.002, "large diameter");
    near(found.dimensions[0].value_mm, 36.0, 0.004, "length");
    for z in [6.0, 18.0, 30.0] {
        near(radius_at(&found, z), 14.0 - z / 6.0, 0.002, "radius");
    }
}
