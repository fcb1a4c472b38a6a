//! Volume of what is cut: sections square to the axis in closed form, summed along the axis by adaptive quadrature.

use crate::body::Body;
use crate::hole::{Crossing, relieved_by, trim_rad};
use crate::path;
use crate::quad::integral;
use crate::relief::{Fitted, Surface};
use meridian::Piece;
use std::f64::consts::{FRAC_PI_2, PI, TAU};

/// Error allowed, relative to the plain body, for each stretch of each surface.
const RELATIVE: f64 = 1e-9;

/// What reliefs add to the plain body's volume: below 0 on the outside, above 0 where they leave material standing in the bore, below where a slot widens it.
pub(crate) fn reliefs_mm3(body: &Body, plain_mm3: f64) -> f64 {
    let mut sum = 0.0;
    for (surface, chain) in body.surfaces() {
        let own: Vec<&Fitted> = body.reliefs().iter().filter(|fitted| fitted.relief.on == surface).collect();
        for piece in chain.iter().filter(|_| !own.is_empty()) {
            sum += along_mm3(piece, &own, plain_mm3 * RELATIVE);
        }
    }
    sum
}

/// One piece, split where reliefs begin and end; signed by its travel along the axis, as the plain body's own volume is.
fn along_mm3(piece: &Piece, reliefs: &[&Fitted], tolerance_mm3: f64) -> f64 {
    let mut stops: Vec<f64> = reliefs.iter().flat_map(|fitted| fitted.relief.z_mm).flat_map(|z| path::heights_at(piece, z)).collect();
    stops.extend([0.0, 1.0]);
    stops.sort_by(f64::total_cmp);
    let mut sum = 0.0;
    for pair in stops.windows(2).filter(|pair| pair[1] - pair[0] > 1e-12) {
        let middle = path::at(piece, 0.5 * (pair[0] + pair[1])).z_mm;
        let active: Vec<&Fitted> =
            reliefs.iter().copied().filter(|fitted| (fitted.relief.z_mm[0]..=fitted.relief.z_mm[1]).contains(&middle)).collect();
        if active.is_empty() {
            continue;
        }
        let slice = |t: f64| {
            let at = path::at(piece, t);
            (section_mm2(&active, at.z_mm, at.r_mm, tolerance_mm3) - PI * at.r_mm * at.r_mm) * path::velocity(piece, t)[0]
        };
        sum += integral(slice, pair[0], pair[1], tolerance_mm3);
    }
    sum
}

/// Area within a surface that was a circle of `base_mm`.
fn section_mm2(reliefs: &[&Fitted], z_mm: f64, base_mm: f64, tolerance: f64) -> f64 {
    match reliefs {
        [] => PI * base_mm * base_mm,
        [one] => one.section_mm2(z_mm, base_mm),
        several => sector_mm2(several, z_mm, base_mm, [0.0, TAU], tolerance),
    }
}

/// Half the integral of the squared radius over a stretch of angles, split where a form bends.
fn sector_mm2(reliefs: &[&Fitted], z_mm: f64, base_mm: f64, [from, to]: [f64; 2], tolerance: f64) -> f64 {
    let bends = reliefs.iter().flat_map(|fitted| fitted.bends(z_mm, base_mm));
    let mut stops: Vec<f64> = bends
        .flat_map(|angle| {
            // Every turn of it that lies in the stretch.
            let first = angle - TAU * ((angle - from) / TAU).floor();
            [first, first + TAU]
        })
        .filter(|angle| *angle > from && *angle < to)
        .collect();
    stops.extend([from, to]);
    stops.sort_by(f64::total_cmp);
    let squared = |angle: f64| 0.5 * relieved_by(reliefs.iter().copied(), angle, z_mm, base_mm).powi(2);
    stops.windows(2).filter(|pair| pair[1] - pair[0] > 1e-12).map(|pair| integral(squared, pair[0], pair[1], tolerance)).sum()
}

/// What a hole across takes: strips square to the axis between the surfaces it passes, summed over its circle.
pub(crate) fn crossing_mm3(body: &Body, crossing: &Crossing, plain_mm3: f64) -> f64 {
    let (hole, a) = (crossing.hole, crossing.hole.radius_mm());
    let tolerance = plain_mm3 * RELATIVE;
    // Steps of the surfaces and ends of reliefs within the hole.
    let ends =
        crossing.passes().iter().flat_map(|pass| pass.pieces.iter()).flat_map(|piece| [path::start(piece).z_mm, path::end(piece).z_mm]);
    let mut stops: Vec<f64> = ends
        .chain(body.reliefs().iter().flat_map(|fitted| fitted.relief.z_mm))
        .filter(|z| (z - hole.z_mm).abs() < a)
        .map(|z| ((z - hole.z_mm) / a).asin())
        .collect();
    stops.extend([-FRAC_PI_2, FRAC_PI_2]);
    stops.sort_by(f64::total_cmp);
    let sides: &[f64] = if hole.both_sides { &[0.0, PI] } else { &[0.0] };
    let mut sum = 0.0;
    for side in sides {
        let angle = hole.angle_deg.to_radians() + side;
        // By the angle about the hole's axis: even in its sine, so that the narrow rows at the rim do no harm.
        let strip = |u: f64| {
            let (sin, cos) = u.sin_cos();
            let (z, h) = (hole.z_mm + a * sin, a * cos);
            let mut signed = 1.0;
            let mut between = 0.0;
            for pass in crossing.passes() {
                let Some(base) = path::greatest_radius_at(&pass.pieces, z) else { continue };
                between += signed * strip_mm2(body, pass.surface, [z, base, h, angle], tolerance);
                signed = -signed;
            }
            between * a * cos
        };
        for pair in stops.windows(2).filter(|pair| pair[1] - pair[0] > 1e-12) {
            sum += integral(strip, pair[0], pair[1], tolerance);
        }
    }
    sum
}

/// Area from the axis to a surface, within `h_mm` of a line through the axis: the sector between its two cut edges and the triangles beside it.
fn strip_mm2(body: &Body, surface: Surface, [z_mm, base_mm, h_mm, angle]: [f64; 4], tolerance: f64) -> f64 {
    let spans = |fitted: &&Fitted| fitted.relief.on == surface && (fitted.relief.z_mm[0]..=fitted.relief.z_mm[1]).contains(&z_mm);
    let own: Vec<&Fitted> = body.reliefs().iter().filter(spans).collect();
    if own.is_empty() {
        let h = h_mm.min(base_mm);
        return h * (base_mm * base_mm - h * h).sqrt() + base_mm * base_mm * (h / base_mm).asin();
    }
    let off = |side: f64| trim_rad(h_mm, base_mm, |off| relieved_by(own.iter().copied(), angle + side * off, z_mm, base_mm));
    let (left, right) = (off(-1.0), off(1.0));
    let triangle = |off: f64| 0.5 * h_mm * h_mm / off.max(1e-12).tan();
    sector_mm2(&own, z_mm, base_mm, [angle - left, angle + right], tolerance) + triangle(left) + triangle(right)
}
