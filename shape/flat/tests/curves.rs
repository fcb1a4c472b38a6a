//! Smooth edges come back as few curves of the right area; true lines and arcs stay what they are.

use flat::pieces;
use meridian::{Piece, Point};
use std::f64::consts::{PI, TAU};

type Place = [f64; 2];
/// A part of an outline as a function of 0..1.
type Part = Box<dyn Fn(f64) -> Place>;

/// Seeded, even in 0..1 (Knuth's multiplier).
struct Dice(u64);

impl Dice {
    fn even(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as f64 / f64::from(1_u32 << 31)
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.even()
    }

    /// Sum of twelve: near enough to normal, of deviation 1.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.even()).sum::<f64>() - 6.0
    }
}

/// Area by places along the pieces, 2,000 each: good to 1e-6 of a curve's own bulge.
fn area(told: &[Piece]) -> f64 {
    let places: Vec<Place> = told.iter().flat_map(|piece| (0..2000).map(move |i| at(piece, f64::from(i) / 2000.0))).collect();
    0.5 * (0..places.len()).map(|i| (places[i], places[(i + 1) % places.len()])).map(|(a, b)| a[0] * b[1] - a[1] * b[0]).sum::<f64>()
}

fn at(piece: &Piece, t: f64) -> Place {
    let s = 1.0 - t;
    match *piece {
        Piece::Line { from, to } => [s * from.z_mm + t * to.z_mm, s * from.r_mm + t * to.r_mm],
        Piece::Arc { from, to, centre, turn } => {
            let angle = |p: Point| (p.r_mm - centre.r_mm).atan2(p.z_mm - centre.z_mm);
            let sweep = (angle(to) - angle(from)).rem_euclid(TAU);
            let sweep = if turn == meridian::Turn::Counterclockwise { sweep } else { sweep - TAU };
            let (radius, now) = ((from.z_mm - centre.z_mm).hypot(from.r_mm - centre.r_mm), angle(from) + t * sweep);
            [centre.z_mm + radius * now.cos(), centre.r_mm + radius * now.sin()]
        }
        Piece::Curve { from, control1, control2, to } => {
            let w = [s * s * s, 3.0 * s * s * t, 3.0 * s * t * t, t * t * t];
            let p = [from, control1, control2, to];
            [(0..4).map(|i| w[i] * p[i].z_mm).sum(), (0..4).map(|i| w[i] * p[i].r_mm).sum()]
        }
    }
}

fn curves(told: &[Piece]) -> usize {
    told.iter().filter(|piece| matches!(piece, Piece::Curve { .. })).count()
}

/// Places every `step` mm along a closed run of parts, each a function of 0..1, with noise square and along.
fn seen(parts: &[Part], step_mm: f64, noise_mm: f64, dice: &mut Dice) -> Vec<Place> {
    let mut places = Vec::new();
    for part in parts {
        let fine: Vec<Place> = (0..=2000).map(|i| part(f64::from(i) / 2000.0)).collect();
        let length: f64 = fine.windows(2).map(|p| (p[0][0] - p[1][0]).hypot(p[0][1] - p[1][1])).sum();
        let count = (length / step_mm).ceil().max(2.0) as usize;
        let (mut way, mut next) = (0.0, 0.0);
        for p in fine.windows(2) {
            if way >= next {
                places.push(p[0].map(|x| x + noise_mm * dice.normal()));
                next += length / count as f64;
            }
            way += (p[0][0] - p[1][0]).hypot(p[0][1] - p[1][1]);
        }
    }
    let start = (dice.even() * places.len() as f64) as usize;
    let start = start % places.len();
    places.rotate_left(start);
    places
}

fn line(a: Place, b: Place) -> Part {
    Box::new(move |t| [0, 1].map(|i| a[i] + t * (b[i] - a[i])))
}

fn arc(centre: Place, radius: f64, from_deg: f64, to_deg: f64) -> Part {
    bow(centre, [radius; 2], from_deg, to_deg)
}

fn bow(centre: Place, [a, b]: [f64; 2], from_deg: f64, to_deg: f64) -> Part {
    Box::new(move |t| {
        let (s, c) = (from_deg + t * (to_deg - from_deg)).to_radians().sin_cos();
        [centre[0] + a * c, centre[1] + b * s]
    })
}

/// As a photo of 0.1 mm a pixel gives it: tolerance of 0.6, noise of up to 0.15 px.
const TOLERANCE: f64 = 0.06;

/// 60 ellipses: at most six pieces, among them arcs only where noise hides the difference, area pi a b within a thousandth, no place off by more than the tolerance.
#[test]
fn an_ellipse_comes_back_as_few_curves() {
    let mut dice = Dice(1);
    for round in 0..60 {
        let (a, ratio, noise) = (dice.between(12.0, 40.0), dice.between(0.3, 0.85), dice.between(0.0, 0.015));
        let (s, c) = dice.between(0.0, TAU).sin_cos();
        let lying = bow([0.0, 0.0], [a, a * ratio], 0.0, 360.0);
        let turned: Part = Box::new(move |t| {
            let [x, y] = lying(t);
            [30.0 + c * x - s * y, 20.0 + s * x + c * y]
        });
        let places = seen(&[turned], 0.1, noise, &mut dice);
        let told = pieces(&places, TOLERANCE).expect("told");
        let truth = PI * a * a * ratio;
        assert!(curves(&told) >= 2 && told.len() <= 6, "{round}: {told:?}");
        assert!((area(&told) / truth - 1.0).abs() < 1e-3, "{round}");
    }
}

/// 60 plates with three straight sides and half an ellipse for the fourth, at corners or flowing: sides stay lines, the bow is curves, the area right within a thousandth.
#[test]
fn an_elliptical_edge_between_lines_comes_back() {
    let mut dice = Dice(2);
    for round in 0..60 {
        let (half, high, rise, noise) =
            (dice.between(12.0, 30.0), dice.between(8.0, 30.0), dice.between(0.35, 0.8), dice.between(0.0, 0.015));
        let b = half * rise;
        let parts = vec![
            line([-half, high], [-half, 0.0]),
            line([-half, 0.0], [half, 0.0]),
            line([half, 0.0], [half, high]),
            bow([0.0, high], [half, b], 0.0, 180.0),
        ];
        let told = pieces(&seen(&parts, 0.1, noise, &mut dice), TOLERANCE).expect("told");
        let truth = 2.0 * half * high + 0.5 * PI * half * b;
        assert!((1..=4).contains(&curves(&told)) && told.len() - curves(&told) <= 4, "{round}: {told:?}");
        assert!((area(&told) / truth - 1.0).abs() < 1e-3, "{round}: {told:?}");
    }
}

/// Plates of true lines and arcs: rounded rectangles, stadiums, ovals of four arcs, levers of two rounds with tangents, a row of fillets. None becomes a curve.
#[test]
fn true_lines_and_arcs_stay() {
    let mut dice = Dice(3);
    for round in 0..150 {
        let (parts, name) = true_plate(round, &mut dice);
        let noise = dice.between(0.0, 0.02);
        let told = pieces(&seen(&parts, 0.1, noise, &mut dice), TOLERANCE).expect("told");
        assert_eq!(curves(&told), 0, "{round} {name}: {told:?}");
    }
}

fn true_plate(round: u32, dice: &mut Dice) -> (Vec<Part>, &'static str) {
    match round % 5 {
        0 => {
            let (w, h, r) = (dice.between(10.0, 30.0), dice.between(8.0, 20.0), dice.between(1.0, 7.0));
            (
                vec![
                    line([-w, -h - r], [w, -h - r]),
                    arc([w, -h], r, -90.0, 0.0),
                    line([w + r, -h], [w + r, h]),
                    arc([w, h], r, 0.0, 90.0),
                    line([w, h + r], [-w, h + r]),
                    arc([-w, h], r, 90.0, 180.0),
                    line([-w - r, h], [-w - r, -h]),
                    arc([-w, -h], r, 180.0, 270.0),
                ],
                "rounded rectangle",
            )
        }
        1 => {
            let (w, r) = (dice.between(5.0, 30.0), dice.between(3.0, 12.0));
            (vec![line([-w, -r], [w, -r]), arc([w, 0.0], r, -90.0, 90.0), line([w, r], [-w, r]), arc([-w, 0.0], r, 90.0, 270.0)], "stadium")
        }
        2 => {
            // Large arcs of R about (0, -/+d), small ones of r about (+/-e, 0): tangent where the line of both centres meets them.
            let (r, e) = (dice.between(4.0, 9.0), dice.between(8.0, 16.0));
            let d = e * dice.between(0.8, 1.6);
            let (big, angle) = (r + d.hypot(e), d.atan2(e).to_degrees());
            (
                vec![
                    arc([e, 0.0], r, -angle, angle),
                    arc([0.0, -d], big, angle, 180.0 - angle),
                    arc([-e, 0.0], r, 180.0 - angle, 180.0 + angle),
                    arc([0.0, d], big, 180.0 + angle, 360.0 - angle),
                ],
                "oval of four arcs",
            )
        }
        3 => {
            let (big, small) = (dice.between(7.0, 14.0), dice.between(3.0, 6.0));
            let apart = big + small + dice.between(8.0, 30.0);
            let lean = ((big - small) / apart).acos().to_degrees();
            let (s, c) = lean.to_radians().sin_cos();
            (
                vec![
                    arc([apart, 0.0], small, -lean, lean),
                    line([apart + small * c, small * s], [big * c, big * s]),
                    arc([0.0, 0.0], big, lean, 360.0 - lean),
                    line([big * c, -big * s], [apart + small * c, -small * s]),
                ],
                "lever",
            )
        }
        _ => {
            // Three rounds side by side, hollow, out, hollow, flowing into one another, over a foot.
            let r = dice.between(4.0, 9.0);
            (
                vec![
                    line([-3.0 * r, -2.0 * r], [3.0 * r, -2.0 * r]),
                    line([3.0 * r, -2.0 * r], [3.0 * r, r]),
                    arc([2.0 * r, r], r, 0.0, 180.0),
                    arc([0.0, r], r, 360.0, 180.0),
                    arc([-2.0 * r, r], r, 0.0, 180.0),
                    line([-3.0 * r, r], [-3.0 * r, -2.0 * r]),
                ],
                "wave of arcs",
            )
        }
    }
}

/// A cam of free curves as its maker drew it: two cubics and a foot. Five pieces at most come back, area within a thousandth.
#[test]
fn a_cam_of_two_cubics_comes_back() {
    let cubic = |p: [Place; 4]| -> Part {
        Box::new(move |t| {
            let piece = |q: Place| Point { z_mm: q[0], r_mm: q[1] };
            at(&Piece::Curve { from: piece(p[0]), control1: piece(p[1]), control2: piece(p[2]), to: piece(p[3]) }, t)
        })
    };
    let parts = vec![
        line([-16.0, -12.0], [16.0, -12.0]),
        cubic([[16.0, -12.0], [32.0, 8.0], [20.0, 24.0], [0.0, 22.0]]),
        cubic([[0.0, 22.0], [-20.0, 20.0], [-12.0, 4.0], [-16.0, -12.0]]),
    ];
    let truth: f64 = {
        let fine: Vec<Place> = parts.iter().flat_map(|part| (0..4000).map(|i| part(f64::from(i) / 4000.0)).collect::<Vec<_>>()).collect();
        0.5 * (0..fine.len()).map(|i| (fine[i], fine[(i + 1) % fine.len()])).map(|(a, b)| a[0] * b[1] - a[1] * b[0]).sum::<f64>()
    };
    for noise in [0.0, 0.005, 0.015] {
        let told = pieces(&seen(&parts, 0.1, noise, &mut Dice(4)), TOLERANCE).expect("told");
        assert!(curves(&told) >= 2 && told.len() <= 5, "{told:?}");
        assert!((area(&told) / truth - 1.0).abs() < 1e-3);
    }
}
