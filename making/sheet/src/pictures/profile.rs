//! The profile: as measured above the axis, as meant below it; and how far one is from the other.

use super::{Key, LETTER_MM, SMALL_MM, legend, multiples, places_for, round_step, thinned};
use crate::words::plain;
use ink::palette::{GREY, INK, RULE, chain, dashed, hair, outline};
use ink::{Anchor, Face, Figure, Mark, polygon_steps};
use result::{PieceResult, ProfileResult};

/// Tallest half of the view, mm.
const TALLEST_HALF_MM: f64 = 30.0;

/// The meridian with its doubt above the axis; the lines, arcs and curves to be made below it. `None` without enough points.
pub fn profile(profile: &ProfileResult, width_mm: f64) -> Option<Figure> {
    let runs = Runs::of(profile)?;
    let meant = meant_line(&profile.pieces);
    let (left, top) = (13.0, 4.0);
    let scale = ((width_mm - left - 4.0) / runs.length).min(TALLEST_HALF_MM / runs.radius);
    let axis_y = top + runs.radius * scale;
    let place = |p: [f64; 2]| [left + p[0] * scale, axis_y - p[1] * scale];
    let mirrored = |p: [f64; 2]| [left + p[0] * scale, axis_y + p[1] * scale];
    let mut figure = Figure::new(width_mm, axis_y, "Profile along the axis", describe(&runs));
    figure.path(band(&runs.all, place), None, Some(INK.thin(0.2)));
    for (seen, run) in &runs.runs {
        let points: Vec<[f64; 2]> = run.iter().map(|p| place(*p)).collect();
        figure.polyline(&points, if *seen { hair(INK) } else { dashed(INK) });
    }
    let foot = if meant.len() > 1 {
        figure.polyline(&meant.iter().map(|p| mirrored(*p)).collect::<Vec<_>>(), outline(INK));
        axis_y + runs.radius * scale
    } else {
        axis_y
    };
    figure.line([left - 5.0, axis_y], [(left + runs.length * scale + 3.0).min(width_mm), axis_y], chain(INK));
    let bottom = graduate(&mut figure, &runs, left, axis_y, foot + 3.0, scale);
    let mut keys = vec![(Key::Line(hair(INK)), "as measured, above the axis"), (Key::Patch(INK.thin(0.2)), "its doubt, 95 in 100")];
    if runs.runs.iter().any(|(seen, _)| !seen) {
        keys.push((Key::Line(dashed(INK)), "not seen in any photo"));
    }
    if meant.len() > 1 {
        keys.push((Key::Line(outline(INK)), "as meant, below the axis"));
    }
    figure.height_mm = bottom + legend(&mut figure, 0.0, bottom + 1.0, width_mm, &keys) + 1.0;
    Some(figure)
}

/// Strip chart: measured less meant, square to the profile, along the axis. `None` where one of the two is lacking.
pub fn deviation(profile: &ProfileResult, width_mm: f64) -> Option<Figure> {
    let runs = Runs::of(profile)?;
    let meant = meant_line(&profile.pieces);
    let off: Vec<[f64; 3]> = runs.all.iter().filter_map(|p| Some([p[0], off_line([p[0], p[1]], &meant)?, p[2]])).collect();
    if off.len() < 3 {
        return None;
    }
    // Nine tenths of the chart decide its range; what reaches farther, such as the doubt of a hidden corner, runs off it.
    let mut reaches: Vec<f64> = off.iter().map(|p| p[1].abs() + 2.0 * p[2]).collect();
    reaches.sort_by(f64::total_cmp);
    let worst = (reaches.get(reaches.len() * 9 / 10).copied().unwrap_or(0.0) * 1.3).clamp(1e-3, 1e4);
    let step = round_step(2.0 * worst, 5.0);
    let range = (worst / step).ceil() * step;
    let (left, top, height) = (13.0, 2.0, 26.0);
    let scale = (width_mm - left - 4.0) / runs.length;
    let place = |z: f64, d: f64| [left + z * scale, top + height / 2.0 - d / range * height / 2.0];
    let text = format!(
        "Measured less meant, from {} to {} mm.",
        plain(off.iter().map(|p| p[1]).fold(f64::INFINITY, f64::min), 3),
        plain(off.iter().map(|p| p[1]).fold(f64::NEG_INFINITY, f64::max), 3)
    );
    let mut figure = Figure::new(width_mm, top + height + 8.0, "How far the measured profile is from the meant one", text);
    for value in multiples(-range, range, step) {
        let [_, y] = place(0.0, value);
        figure.line([left, y], [left + runs.length * scale, y], if value.abs() < step / 2.0 { hair(INK) } else { hair(RULE).width(0.15) });
        figure.text([left - 1.5, y + 0.8], SMALL_MM, Face::Columns, Anchor::End, GREY, signed(value, places_for(step)));
    }
    let band: Vec<[f64; 2]> =
        off.iter().map(|p| place(p[0], p[1] + 2.0 * p[2])).chain(off.iter().rev().map(|p| place(p[0], p[1] - 2.0 * p[2]))).collect();
    let line: Vec<[f64; 2]> = off.iter().map(|p| place(p[0], p[1])).collect();
    let marks = vec![
        Mark::Path { steps: polygon_steps(&band), stroke: None, fill: Some(INK.thin(0.2)) },
        Mark::Path { steps: ink::polyline_steps(&line), stroke: Some(outline(INK).width(0.35)), fill: None },
    ];
    figure.marks.push(Mark::Clipped { window: ink::rect_steps([left, top], [runs.length * scale, height]), marks });
    for z in multiples(0.0, runs.length, round_step(runs.length, if width_mm > 100.0 { 14.0 } else { 7.0 })) {
        let x = left + z * scale;
        figure.line([x, top + height], [x, top + height + 1.2], hair(GREY));
        figure.text([x, top + height + 4.2], SMALL_MM, Face::Figures, Anchor::Middle, GREY, plain(z, 0));
    }
    figure.text([width_mm, top + height + 7.4], LETTER_MM, Face::Text, Anchor::End, GREY, "mm from the rod end");
    Some(figure)
}

fn signed(value: f64, places: usize) -> String {
    let text = plain(value, places);
    if value > 0.0 && text.chars().any(|c| ('1'..='9').contains(&c)) { format!("+{text}") } else { text }
}

/// Points of the meridian split where seeing stops and starts.
struct Runs {
    /// z, r, sigma.
    all: Vec<[f64; 3]>,
    runs: Vec<(bool, Vec<[f64; 2]>)>,
    length: f64,
    radius: f64,
}

impl Runs {
    fn of(profile: &ProfileResult) -> Option<Runs> {
        let step = profile.points.len().div_ceil(800).max(1);
        let sensible = |p: &[f64; 3]| p.iter().all(|v| v.is_finite() && v.abs() < 1e5) && p[2] >= 0.0;
        let seen_at = |n: usize| profile.seen.get(n).copied().unwrap_or(true);
        let kept: Vec<([f64; 3], bool)> =
            profile.points.iter().enumerate().step_by(step).filter(|(_, p)| sensible(p)).map(|(n, p)| (*p, seen_at(n))).collect();
        let mut runs: Vec<(bool, Vec<[f64; 2]>)> = Vec::new();
        for (p, seen) in &kept {
            let last = runs.last().and_then(|(_, run)| run.last().copied());
            match runs.last_mut() {
                Some((as_before, run)) if as_before == seen => run.push([p[0], p[1]]),
                _ => runs.push((*seen, last.into_iter().chain([[p[0], p[1]]]).collect())),
            }
        }
        let all: Vec<[f64; 3]> = kept.iter().map(|(p, _)| *p).collect();
        let length = all.iter().map(|p| p[0]).fold(0.0, f64::max);
        let radius = all.iter().map(|p| p[1] + 2.0 * p[2].min(p[1].abs())).fold(0.0, f64::max);
        (all.len() > 2 && length > 1e-3 && radius > 1e-3).then_some(Runs { all, runs, length, radius })
    }
}

fn describe(runs: &Runs) -> String {
    let widest = runs.all.iter().fold([0.0, 0.0], |best, p| if p[1] > best[1] { [p[0], p[1]] } else { best });
    let typical = middle(runs.all.iter().map(|p| p[2]).collect());
    format!(
        "Half profile, {} mm long, widest {} mm from the rod end with a radius of {} mm; the radius is good to {} mm at a typical place.",
        plain(runs.length, 2),
        plain(widest[0], 1),
        plain(widest[1], 2),
        plain(typical, 3)
    )
}

fn middle(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(0.0)
}

fn band(points: &[[f64; 3]], place: impl Fn([f64; 2]) -> [f64; 2]) -> Vec<ink::Step> {
    let out = points.iter().map(|p| place([p[0], p[1] + 2.0 * p[2].min(p[1].abs())]));
    let back = points.iter().rev().map(|p| place([p[0], (p[1] - 2.0 * p[2]).max(0.0)]));
    polygon_steps(&out.chain(back).collect::<Vec<_>>())
}

/// Graduates the axis and the radius in millimetres; returns how far down it reaches.
fn graduate(figure: &mut Figure, runs: &Runs, left: f64, axis_y: f64, foot: f64, scale: f64) -> f64 {
    figure.line([left, foot], [left + runs.length * scale, foot], hair(GREY));
    let step = round_step(runs.length, (runs.length * scale / 9.0).max(2.0));
    for z in multiples(0.0, runs.length, step / 5.0) {
        let x = left + z * scale;
        let labelled = (z / step - (z / step).round()).abs() < 1e-6;
        figure.line([x, foot], [x, foot + if labelled { 1.6 } else { 0.9 }], hair(GREY));
        if labelled {
            figure.text([x, foot + 4.6], SMALL_MM, Face::Figures, Anchor::Middle, GREY, plain(z, places_for(step)));
        }
    }
    let step = round_step(runs.radius, (runs.radius * scale / 7.0).max(1.0));
    figure.line([left - 3.0, axis_y], [left - 3.0, axis_y - runs.radius * scale], hair(GREY));
    for r in multiples(0.0, runs.radius, step) {
        let y = axis_y - r * scale;
        figure.line([left - 4.2, y], [left - 3.0, y], hair(GREY));
        figure.text([left - 5.0, y + 0.9], SMALL_MM, Face::Figures, Anchor::End, GREY, plain(r, places_for(step)));
    }
    figure.text([figure.width_mm, foot + 8.2], LETTER_MM, Face::Text, Anchor::End, GREY, "mm from the rod end; radius at left");
    foot + 9.4
}

/// The meant meridian as a chain of points, z and r.
pub(crate) fn meant_line(pieces: &[PieceResult]) -> Vec<[f64; 2]> {
    thinned(&pieces.iter().take(500).flat_map(piece_points).collect::<Vec<_>>())
}

fn piece_points(piece: &PieceResult) -> Vec<[f64; 2]> {
    let ends = vec![piece.from, piece.to];
    if let (Some(centre), Some(clockwise)) = (piece.centre, piece.clockwise) {
        let angle = |p: [f64; 2]| (p[1] - centre[1]).atan2(p[0] - centre[0]);
        let radius = (piece.from[0] - centre[0]).hypot(piece.from[1] - centre[1]);
        let turn = std::f64::consts::TAU;
        let sweep = if clockwise {
            -(angle(piece.from) - angle(piece.to)).rem_euclid(turn)
        } else {
            (angle(piece.to) - angle(piece.from)).rem_euclid(turn)
        };
        return (0..=24)
            .map(|n| angle(piece.from) + sweep * f64::from(n) / 24.0)
            .map(|a| [centre[0] + radius * a.cos(), centre[1] + radius * a.sin()])
            .collect();
    }
    let Some([a, b]) = piece.controls else { return ends };
    let at = |t: f64, k: usize| {
        let s = 1.0 - t;
        s * s * s * piece.from[k] + 3.0 * s * s * t * a[k] + 3.0 * s * t * t * b[k] + t * t * t * piece.to[k]
    };
    (0..=24).map(|n| f64::from(n) / 24.0).map(|t| [at(t, 0), at(t, 1)]).collect()
}

/// How far a point is from a chain of points; positive outside (left of the direction from rod end to free end).
fn off_line(p: [f64; 2], chain: &[[f64; 2]]) -> Option<f64> {
    let mut nearest: Option<f64> = None;
    for pair in chain.windows(2) {
        let ([a, b], along) = ([pair[0], pair[1]], [pair[1][0] - pair[0][0], pair[1][1] - pair[0][1]]);
        let length2 = along[0] * along[0] + along[1] * along[1];
        if length2 <= 0.0 {
            continue;
        }
        let share = (((p[0] - a[0]) * along[0] + (p[1] - a[1]) * along[1]) / length2).clamp(0.0, 1.0);
        let foot = [a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])];
        // Squares are quick and tell nearly all apart; a hair's breadth is left for their rounding.
        let square = (p[0] - foot[0]).powi(2) + (p[1] - foot[1]).powi(2);
        if nearest.is_some_and(|best| square > best * best * (1.0 + 1e-9)) {
            continue;
        }
        let distance = (p[0] - foot[0]).hypot(p[1] - foot[1]);
        if nearest.is_none_or(|best| distance < best.abs()) {
            let cross = along[0] * (p[1] - a[1]) - along[1] * (p[0] - a[0]);
            nearest = Some(distance.copysign(cross));
        }
    }
    nearest
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distance_to_the_meant_line_has_its_sign() {
        let line = [[0.0, 0.0], [0.0, 5.0], [10.0, 5.0], [10.0, 0.0]];
        assert!((off_line([5.0, 5.2], &line).unwrap_or(0.0) - 0.2).abs() < 1e-12);
        assert!((off_line([5.0, 4.7], &line).unwrap_or(0.0) + 0.3).abs() < 1e-12);
        assert_eq!(off_line([5.0, 5.0], &[]), None);
    }

    #[test]
    fn arcs_turn_the_way_they_say() {
        let piece = PieceResult {
            kind: "arc".into(),
            from: [0.0, 5.0],
            to: [5.0, 0.0],
            centre: Some([0.0, 0.0]),
            clockwise: Some(true),
            controls: None,
        };
        let points = piece_points(&piece);
        let middle = points[12];
        assert!((middle[0] - 5.0 / 2f64.sqrt()).abs() < 1e-9 && middle[1] > 0.0, "{middle:?}");
    }
}
