//! Where on the body each size is found, before anything is drawn: the same at every scale.

use super::sizes::{DrawnSize, SizeKind};
use solid::{Body, path};

/// A size with its place on the body.
pub(crate) struct Found<'a> {
    pub size: &'a DrawnSize,
    /// Of a diameter of the outside.
    pub stretch: Option<Stretch>,
    /// Of a length or a depth.
    pub span: Option<Span>,
}

/// The part of a size's stretch that has its diameter.
#[derive(Clone, Copy)]
pub(crate) struct Stretch {
    pub z_mm: [f64; 2],
    pub r_mm: f64,
    /// Whether nothing wider stands between it and each end of the part.
    pub open: [bool; 2],
}

/// A length between two places, and how far the outline lies from the axis there.
#[derive(Clone, Copy)]
pub(crate) struct Span {
    pub z_mm: [f64; 2],
    pub r_mm: [f64; 2],
}

/// At most 60 sizes that can be drawn, each once.
pub(crate) fn found<'a>(body: &Body, sizes: &'a [DrawnSize]) -> Vec<Found<'a>> {
    let mut kept: Vec<&DrawnSize> = Vec::new();
    for size in sizes.iter().filter(|size| size.is_drawable()).take(60) {
        let same = |other: &&DrawnSize| other.kind == size.kind && other.z_mm == size.z_mm && other.over() == size.over();
        if !kept.iter().any(same) {
            kept.push(size);
        }
    }
    kept.into_iter().map(|size| Found { size, stretch: stretch(body, size), span: span(body, size) }).collect()
}

/// Where within its stretch the outside comes nearest to the size, and how far it keeps so.
fn stretch(body: &Body, size: &DrawnSize) -> Option<Stretch> {
    if size.kind != SizeKind::Diameter {
        return None;
    }
    let [low, high] = body.bounds_mm();
    let mut ends = size.z_mm;
    ends.sort_by(f64::total_cmp);
    let ends = [ends[0].max(low[2] + 1e-6), ends[1].min(high[2] - 1e-6)];
    let looks: Vec<(f64, f64)> = (0..=128)
        .map(|i| ends[0] + (ends[1] - ends[0]).max(0.0) * f64::from(i) / 128.0)
        .filter_map(|z| body.outer_radius_mm(z).map(|r| (z, r)))
        .collect();
    let off = |r: f64| (r - 0.5 * size.value_mm).abs();
    let &(_, r_mm) = looks.iter().min_by(|a, b| off(a.1).total_cmp(&off(b.1)))?;
    let same = |&&(_, r): &&(f64, f64)| (r - r_mm).abs() <= 1e-3 * r_mm;
    let first = looks.iter().find(same)?.0;
    let last = looks.iter().rev().find(same)?.0;
    let wider = |from: f64, to: f64| {
        (0..=64).any(|i| body.outer_radius_mm(from + (to - from) * f64::from(i) / 64.0).is_some_and(|r| r > r_mm * 1.001 + 1e-6))
    };
    let open = [!wider(low[2], first - 1e-6), !wider(last + 1e-6, high[2])];
    Some(Stretch { z_mm: [first, last], r_mm, open })
}

fn span(body: &Body, size: &DrawnSize) -> Option<Span> {
    let chain = match size.kind {
        SizeKind::Length => body.outer(),
        SizeKind::Depth => body.inner(),
        _ => return None,
    };
    let [low, high] = body.bounds_mm();
    let reach = 0.015 * (high[2] - low[2]);
    let mut ends = size.z_mm.map(|z| snapped(body, z, reach).clamp(low[2], high[2]));
    ends.sort_by(f64::total_cmp);
    Some(Span { z_mm: ends, r_mm: ends.map(|z| radius_near(chain, z, 1e-6 * (high[2] - low[2])).unwrap_or(0.0)) })
}

/// The nearest corner of the boundary within reach, else the place itself.
fn snapped(body: &Body, z: f64, reach: f64) -> f64 {
    let corners = body.boundary().into_iter().flat_map(|piece| [path::start(&piece).z_mm, path::end(&piece).z_mm]);
    corners.filter(|corner| (corner - z).abs() <= reach).min_by(|a, b| (a - z).abs().total_cmp(&(b - z).abs())).unwrap_or(z)
}

/// Greatest radius of a chain within `nudge` of a place: rounding must not lose an end face.
fn radius_near(chain: &[meridian::Piece], z: f64, nudge: f64) -> Option<f64> {
    [z, z - nudge, z + nudge].into_iter().filter_map(|z| path::greatest_radius_at(chain, z)).max_by(f64::total_cmp)
}
