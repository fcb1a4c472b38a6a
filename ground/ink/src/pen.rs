//! Short ways to put marks on a figure.

use crate::mark::{Anchor, Face, Figure, Mark, Paint, Step, Stroke};
use std::f64::consts::PI;

impl Paint {
    /// A covering colour.
    pub const fn solid(srgb: [u8; 3]) -> Self {
        Paint { srgb, opacity: 1.0 }
    }

    /// The same colour, covering only a share (0..1) of what is behind.
    pub const fn thin(self, opacity: f64) -> Self {
        Paint { srgb: self.srgb, opacity }
    }
}

impl Stroke {
    /// A full line.
    pub fn full(paint: Paint, width_mm: f64) -> Self {
        Stroke { paint, width_mm, dash_mm: Vec::new() }
    }

    /// The same line in another width, mm.
    pub fn width(mut self, width_mm: f64) -> Self {
        self.width_mm = width_mm;
        self
    }
}

impl Figure {
    /// An empty figure, mm.
    pub fn new(width_mm: f64, height_mm: f64, title: impl Into<String>, description: impl Into<String>) -> Self {
        Figure { width_mm, height_mm, title: title.into(), description: description.into(), marks: Vec::new() }
    }

    /// Any path, with a line, a filling, or both.
    pub fn path(&mut self, steps: Vec<Step>, stroke: Option<Stroke>, fill: Option<Paint>) {
        self.marks.push(Mark::Path { steps, stroke, fill });
    }

    /// A straight line.
    pub fn line(&mut self, from: [f64; 2], to: [f64; 2], stroke: Stroke) {
        self.path(vec![Step::Move(from), Step::Line(to)], Some(stroke), None);
    }

    /// A line through points.
    pub fn polyline(&mut self, points: &[[f64; 2]], stroke: Stroke) {
        self.path(polyline_steps(points), Some(stroke), None);
    }

    /// A filled shape with corners.
    pub fn polygon(&mut self, points: &[[f64; 2]], fill: Paint) {
        self.path(polygon_steps(points), None, Some(fill));
    }

    /// A circle.
    pub fn circle(&mut self, centre: [f64; 2], radius_mm: f64, stroke: Option<Stroke>, fill: Option<Paint>) {
        self.path(circle_steps(centre, radius_mm), stroke, fill);
    }

    /// A circular arc; angles clockwise on screen from the right, degrees.
    pub fn arc(&mut self, centre: [f64; 2], radius_mm: f64, from_deg: f64, to_deg: f64, stroke: Stroke) {
        self.path(arc_steps(centre, radius_mm, from_deg, to_deg), Some(stroke), None);
    }

    /// A rectangle by its top left corner and its size.
    pub fn rect(&mut self, at: [f64; 2], size_mm: [f64; 2], stroke: Option<Stroke>, fill: Option<Paint>) {
        self.path(rect_steps(at, size_mm), stroke, fill);
    }

    /// Parallel lines inside a window, `pitch_mm` apart, rising to the right by `angle_deg`.
    pub fn hatch(&mut self, window: Vec<Step>, angle_deg: f64, pitch_mm: f64, stroke: Stroke) {
        let marks = hatch_lines(&window, angle_deg, pitch_mm, &stroke);
        self.marks.push(Mark::Clipped { window, marks });
    }

    /// A filled arrowhead, its point at `tip`, flying along `direction` (any length); 15 degrees wide after ISO 129.
    pub fn arrow(&mut self, tip: [f64; 2], direction: [f64; 2], length_mm: f64, paint: Paint) {
        let norm = direction[0].hypot(direction[1]).max(1e-12);
        let (ux, uy) = (direction[0] / norm * length_mm, direction[1] / norm * length_mm);
        let half = (7.5f64).to_radians().tan();
        let back = [tip[0] - ux, tip[1] - uy];
        self.polygon(&[tip, [back[0] - uy * half, back[1] + ux * half], [back[0] + uy * half, back[1] - ux * half]], paint);
    }

    /// A cross of two strokes, `arm_mm` from the middle to each end.
    pub fn cross(&mut self, at: [f64; 2], arm_mm: f64, stroke: Stroke) {
        self.path(
            vec![
                Step::Move([at[0] - arm_mm, at[1]]),
                Step::Line([at[0] + arm_mm, at[1]]),
                Step::Move([at[0], at[1] - arm_mm]),
                Step::Line([at[0], at[1] + arm_mm]),
            ],
            Some(stroke),
            None,
        );
    }

    /// A line of type.
    pub fn text(&mut self, at: [f64; 2], size_mm: f64, face: Face, anchor: Anchor, paint: Paint, text: impl Into<String>) {
        self.marks.push(Mark::Text { at, size_mm, turn_deg: 0.0, anchor, face, paint, text: text.into() });
    }

    /// A line of type, turned clockwise on screen about its point.
    #[allow(clippy::too_many_arguments)] // one more than `text`, in the same order
    pub fn turned_text(
        &mut self,
        at: [f64; 2],
        turn_deg: f64,
        size_mm: f64,
        face: Face,
        anchor: Anchor,
        paint: Paint,
        text: impl Into<String>,
    ) {
        self.marks.push(Mark::Text { at, size_mm, turn_deg, anchor, face, paint, text: text.into() });
    }

    /// Everything another figure shows, moved by `by` mm.
    pub fn put(&mut self, other: &Figure, by: [f64; 2]) {
        self.marks.extend(other.marks.iter().map(|mark| changed(mark, 1.0, by)));
    }

    /// The figure `times` as large: lengths, lines and letters alike.
    pub fn scaled(&self, times: f64) -> Figure {
        let marks = self.marks.iter().map(|mark| changed(mark, times, [0.0, 0.0])).collect();
        Figure {
            width_mm: self.width_mm * times,
            height_mm: self.height_mm * times,
            title: self.title.clone(),
            description: self.description.clone(),
            marks,
        }
    }
}

/// Steps through points; empty when there are less than two.
pub fn polyline_steps(points: &[[f64; 2]]) -> Vec<Step> {
    if points.len() < 2 {
        return Vec::new();
    }
    points.iter().enumerate().map(|(n, p)| if n == 0 { Step::Move(*p) } else { Step::Line(*p) }).collect()
}

/// Steps round a shape with corners.
pub fn polygon_steps(points: &[[f64; 2]]) -> Vec<Step> {
    let mut steps = polyline_steps(points);
    if !steps.is_empty() {
        steps.push(Step::Close);
    }
    steps
}

/// Steps round a rectangle.
pub fn rect_steps(at: [f64; 2], size_mm: [f64; 2]) -> Vec<Step> {
    let ([x, y], [w, h]) = (at, size_mm);
    polygon_steps(&[[x, y], [x + w, y], [x + w, y + h], [x, y + h]])
}

/// Steps round a circle, in four cubic arcs (radius true to 3e-4).
pub fn circle_steps(centre: [f64; 2], radius_mm: f64) -> Vec<Step> {
    let mut steps = arc_steps(centre, radius_mm, 0.0, 360.0);
    steps.push(Step::Close);
    steps
}

fn arc_steps(centre: [f64; 2], radius_mm: f64, from_deg: f64, to_deg: f64) -> Vec<Step> {
    let sweep = (to_deg - from_deg).clamp(-360.0, 360.0).to_radians();
    let count = (sweep.abs() / (PI / 2.0)).ceil().max(1.0);
    let each = sweep / count;
    // The handle that makes a cubic meet the circle at its middle.
    let handle = 4.0 / 3.0 * (each / 4.0).tan() * radius_mm;
    let at = |angle: f64| [centre[0] + radius_mm * angle.cos(), centre[1] + radius_mm * angle.sin()];
    let mut angle = from_deg.to_radians();
    let mut steps = vec![Step::Move(at(angle))];
    for _ in 0..count as usize {
        let (from, to) = (at(angle), at(angle + each));
        let first = [from[0] - handle * angle.sin(), from[1] + handle * angle.cos()];
        angle += each;
        let second = [to[0] + handle * angle.sin(), to[1] - handle * angle.cos()];
        steps.push(Step::Cubic(first, second, to));
    }
    steps
}

/// At most this many lines, whatever the pitch: a window of 2 m at 0.5 mm.
const MOST_HATCH_LINES: f64 = 4000.0;

fn hatch_lines(window: &[Step], angle_deg: f64, pitch_mm: f64, stroke: &Stroke) -> Vec<Mark> {
    let points: Vec<[f64; 2]> = window.iter().flat_map(step_points).collect();
    let (sin, cos) = angle_deg.to_radians().sin_cos();
    // Along the lines and across them; y runs down, so a rising line goes (cos, -sin).
    let along = |p: &[f64; 2]| p[0] * cos - p[1] * sin;
    let across = |p: &[f64; 2]| p[0] * sin + p[1] * cos;
    let span = |of: &dyn Fn(&[f64; 2]) -> f64| {
        points.iter().map(of).fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), v| (lo.min(v), hi.max(v)))
    };
    let ((a0, a1), (c0, c1)) = (span(&along), span(&across));
    let pitch = pitch_mm.max((c1 - c0) / MOST_HATCH_LINES);
    if !(a0.is_finite() && c0.is_finite() && a1.is_finite() && c1.is_finite() && pitch > 0.0) {
        return Vec::new();
    }
    // Lines stand at multiples of the pitch, so that parts of one section match.
    let first = (c0 / pitch).ceil();
    let count = ((c1 - first * pitch) / pitch).floor().max(-1.0) as usize + 1;
    let place = |a: f64, c: f64| [a * cos + c * sin, -a * sin + c * cos];
    (0..count)
        .map(|n| (first + n as f64) * pitch)
        .map(|c| Mark::Path { steps: vec![Step::Move(place(a0, c)), Step::Line(place(a1, c))], stroke: Some(stroke.clone()), fill: None })
        .collect()
}

fn step_points(step: &Step) -> Vec<[f64; 2]> {
    match step {
        Step::Move(p) | Step::Line(p) => vec![*p],
        Step::Cubic(a, b, c) => vec![*a, *b, *c],
        Step::Close => Vec::new(),
    }
}

/// A mark made `times` as large about the origin, then moved.
fn changed(mark: &Mark, times: f64, by: [f64; 2]) -> Mark {
    let place = |p: &[f64; 2]| [p[0] * times + by[0], p[1] * times + by[1]];
    let place_steps = |steps: &[Step]| {
        let one = |step: &Step| match step {
            Step::Move(p) => Step::Move(place(p)),
            Step::Line(p) => Step::Line(place(p)),
            Step::Cubic(a, b, c) => Step::Cubic(place(a), place(b), place(c)),
            Step::Close => Step::Close,
        };
        steps.iter().map(one).collect()
    };
    let wider = |stroke: &Stroke| Stroke {
        paint: stroke.paint,
        width_mm: stroke.width_mm * times,
        dash_mm: stroke.dash_mm.iter().map(|dash| dash * times).collect(),
    };
    match mark {
        Mark::Path { steps, stroke, fill } => Mark::Path { steps: place_steps(steps), stroke: stroke.as_ref().map(wider), fill: *fill },
        Mark::Text { at, size_mm, turn_deg, anchor, face, paint, text } => Mark::Text {
            at: place(at),
            size_mm: size_mm * times,
            turn_deg: *turn_deg,
            anchor: *anchor,
            face: *face,
            paint: *paint,
            text: text.clone(),
        },
        Mark::Photo { at, size_mm, jpeg } => Mark::Photo { at: place(at), size_mm: size_mm.map(|side| side * times), jpeg: jpeg.clone() },
        Mark::Clipped { window, marks } => {
            Mark::Clipped { window: place_steps(window), marks: marks.iter().map(|m| changed(m, times, by)).collect() }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn circle_is_round_to_its_promise() {
        let steps = circle_steps([3.0, 4.0], 10.0);
        let mut from = [13.0, 4.0];
        for step in &steps {
            if let Step::Cubic(a, b, c) = step {
                for n in 0..=20 {
                    let t = f64::from(n) / 20.0;
                    let s = 1.0 - t;
                    let at = |k: usize| s * s * s * from[k] + 3.0 * s * s * t * a[k] + 3.0 * s * t * t * b[k] + t * t * t * c[k];
                    let radius = (at(0) - 3.0).hypot(at(1) - 4.0);
                    assert!((radius - 10.0).abs() < 3e-3, "radius {radius}");
                }
                from = *c;
            }
        }
        assert!((from[0] - 13.0).abs() < 1e-9 && (from[1] - 4.0).abs() < 1e-9);
    }

    #[test]
    fn hatch_lines_stand_their_pitch_apart_at_their_angle() {
        let lines = hatch_lines(&rect_steps([0.0, 0.0], [20.0, 10.0]), 45.0, 1.0, &Stroke::full(Paint::solid([0, 0, 0]), 0.1));
        // A 20 x 10 rectangle is 30 / sqrt 2 across at 45 degrees.
        assert!((lines.len() as f64 - 30.0 / 2f64.sqrt()).abs() <= 1.0, "{}", lines.len());
        for line in &lines {
            let Mark::Path { steps, .. } = line else { panic!("a hatch line is a path") };
            let [Step::Move(a), Step::Line(b)] = steps[..] else { panic!("a hatch line is straight") };
            assert!(((b[0] - a[0]) + (b[1] - a[1])).abs() < 1e-9, "rises by 45 degrees: {a:?} {b:?}");
        }
    }

    #[test]
    fn hatch_of_nonsense_is_bounded() {
        let stroke = Stroke::full(Paint::solid([0, 0, 0]), 0.1);
        assert!(hatch_lines(&[], 45.0, 1.0, &stroke).is_empty());
        assert!(hatch_lines(&rect_steps([0.0, f64::NAN], [1.0, 1.0]), 45.0, 0.0, &stroke).len() < 5000);
        assert!(hatch_lines(&rect_steps([0.0, 0.0], [1e9, 1e9]), 45.0, 1e-9, &stroke).len() < 5000);
    }
}
