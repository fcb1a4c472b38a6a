//! Outlines of drawn pictures with exact truth, of one path-traced photograph, and of input that must be refused.

use outline::{Clicks, EdgePoint, Outline, OutlineError, find, from_trace, sketch};
use photo::Picture;
use solve::Sampler;

/// A turned part on a rod, drawn square-on: half-widths along the axis, px.
struct Drawing {
    size: [usize; 2],
    clicks: Clicks,
    rod_half_px: f64,
    /// Half-width of the part at a share 0..1 of its length.
    half_px: fn(f64) -> f64,
    part: [f64; 3],
    rod: [f64; 3],
    ground: [f64; 3],
    /// The rod's left edge shows the ground from this far off its axis on, px.
    lost_from_px: f64,
}

impl Drawing {
    fn plain() -> Self {
        Drawing {
            size: [640, 480],
            clicks: Clicks { rod_entry: [260.0, 300.0], free_end: [470.0, 170.0] },
            rod_half_px: 22.0,
            half_px: |s| if s < 0.2 { 60.0 } else { 70.0 * (1.0 - (s - 0.45).powi(2) / 0.3025).max(0.0).sqrt() },
            part: [0.35, 0.12, 0.08],
            rod: [0.03, 0.03, 0.03],
            ground: [0.45, 0.46, 0.42],
            lost_from_px: f64::INFINITY,
        }
    }

    fn axis(&self) -> ([f64; 2], f64) {
        let d = [self.clicks.free_end[0] - self.clicks.rod_entry[0], self.clicks.free_end[1] - self.clicks.rod_entry[1]];
        let length = d[0].hypot(d[1]);
        ([d[0] / length, d[1] / length], length)
    }

    /// `[t, w]` of a point, w to the left.
    fn place(&self, at: [f64; 2]) -> [f64; 2] {
        let (u, _) = self.axis();
        let d = [at[0] - self.clicks.rod_entry[0], at[1] - self.clicks.rod_entry[1]];
        [d[0] * u[0] + d[1] * u[1], d[0] * u[1] - d[1] * u[0]]
    }

    fn light(&self, at: [f64; 2]) -> [f64; 3] {
        let (_, length) = self.axis();
        let [t, w] = self.place(at);
        let half = (self.half_px)(t / length);
        let (colour, half) = match () {
            () if (0.0..length).contains(&t) && w.abs() < half => (self.part, half),
            () if t < 0.0 && w > self.lost_from_px => return self.ground,
            () if t < 0.0 && w.abs() < self.rod_half_px => (self.rod, self.rod_half_px),
            () => return self.ground,
        };
        // Schlick (1994): reflectance rises from 4 % to all of it at grazing angles; the body shows the ground there.
        let cosine = (1.0 - (w / half).powi(2)).sqrt();
        let reflected = 0.04 + 0.96 * (1.0 - cosine).powi(5);
        std::array::from_fn(|c| colour[c] * (1.0 - reflected) * (0.6 + 0.4 * cosine) + 0.5 * self.ground[c] * reflected)
    }

    /// Anti-aliased (4 x 4), blurred (Gaussian of 0.8 px), with shot noise (0.7 % of full scale in the lights).
    fn picture(&self, seed: u64) -> Picture {
        let [width, height] = self.size;
        let sharp: Vec<[f64; 3]> = (0..width * height)
            .map(|k| {
                let mut sum = [0.0; 3];
                for j in 0..16 {
                    let at = [(k % width) as f64 + (f64::from(j % 4) + 0.5) / 4.0, (k / width) as f64 + (f64::from(j / 4) + 0.5) / 4.0];
                    let v = self.light(at);
                    (0..3).for_each(|c| sum[c] += v[c] / 16.0);
                }
                sum
            })
            .collect();
        let blurred = blur(&blur(&sharp, width, height, 1, 0), width, height, 0, 1);
        let mut noise = Sampler::new(seed);
        let srgb = blurred.iter().map(|v| v.map(|v| encoded(v + 0.007 * v.sqrt() * noise.normal()))).collect();
        Picture::from_srgb(width, height, srgb).expect("sizes agree")
    }
}

fn blur(from: &[[f64; 3]], width: usize, height: usize, dx: isize, dy: isize) -> Vec<[f64; 3]> {
    let kernel: Vec<f64> = (-3..=3).map(|k| (-0.5 * (f64::from(k) / 0.8f64).powi(2)).exp()).collect();
    let total: f64 = kernel.iter().sum();
    (0..from.len())
        .map(|at| {
            let (x, y) = ((at % width) as isize, (at / width) as isize);
            let mut sum = [0.0; 3];
            for (k, g) in kernel.iter().enumerate() {
                let k = k as isize - 3;
                let (x, y) = ((x + k * dx).clamp(0, width as isize - 1), (y + k * dy).clamp(0, height as isize - 1));
                let v = from[y as usize * width + x as usize];
                (0..3).for_each(|c| sum[c] += g * v[c] / total);
            }
            sum
        })
        .collect()
}

/// IEC 61966-2-1.
fn encoded(v: f64) -> u8 {
    let v = v.clamp(0.0, 1.0);
    (255.0 * if v <= 0.003_130_8 { 12.92 * v } else { 1.055 * v.powf(1.0 / 2.4) - 0.055 }).round() as u8
}

fn middle(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// Signed distance outside the drawn rod's edge.
fn rod_misses(drawing: &Drawing, points: &[EdgePoint]) -> Vec<f64> {
    points.iter().map(|p| drawing.place(p.at_px)[1].abs() - drawing.rod_half_px).collect()
}

/// Signed distances outside the drawn part's curved side (0.25..0.9 of its length), along w times the cosine of the slope.
fn part_misses(drawing: &Drawing, points: &[EdgePoint]) -> Vec<f64> {
    let (_, length) = drawing.axis();
    points
        .iter()
        .map(|p| drawing.place(p.at_px))
        .filter(|[t, _]| (0.25 * length..0.9 * length).contains(t))
        .map(|[t, w]| {
            let half = |t: f64| (drawing.half_px)(t / length);
            let slope = half(t + 0.5) - half(t - 0.5);
            (w.abs() - half(t)) / (1.0 + slope * slope).sqrt()
        })
        .collect()
}

fn nudged(clicks: Clicks, by: [f64; 4]) -> Clicks {
    Clicks {
        rod_entry: [clicks.rod_entry[0] + by[0], clicks.rod_entry[1] + by[1]],
        free_end: [clicks.free_end[0] + by[2], clicks.free_end[1] + by[3]],
    }
}

fn check_drawing(drawing: &Drawing, found: &Outline) {
    for (name, points) in [("left", &found.rod_left), ("right", &found.rod_right)] {
        let misses = rod_misses(drawing, points);
        assert!(misses.len() > 15, "{name} rod edge has {} points", misses.len());
        let bias = middle(misses);
        // Three times the bias claimed (the drawn surfaces are perfectly smooth, an extreme), and the noise of some twenty stretches.
        assert!(
            bias.abs() < 3.0 * found.rod_bias_sigma_px + 0.05,
            "{name} rod edge is {bias:.3} px off, claimed {:.3}",
            found.rod_bias_sigma_px
        );
    }
    let misses = part_misses(drawing, &found.part);
    assert!(misses.len() > 200, "only {} points on the part's side", misses.len());
    let wild = misses.iter().filter(|m| m.abs() > 1.0).count();
    assert!(wild * 50 < misses.len(), "{wild} of {} points miss by more than 1 px", misses.len());
    let bias = middle(misses);
    assert!(bias.abs() < 3.0 * found.part_bias_sigma_px + 0.05, "part's edge is {bias:.3} px off, claimed {:.3}", found.part_bias_sigma_px);
}

#[test]
fn a_drawn_part_is_found_again_from_rough_clicks() {
    let drawing = Drawing::plain();
    // Clicks off by 1 % of the width.
    for (seed, by) in [(1, [5.0, -4.0, -3.0, 6.0]), (2, [-6.0, 2.0, 5.0, 1.0])] {
        let found = find(&drawing.picture(seed), Some(nudged(drawing.clicks, by))).expect("plain to see").value;
        check_drawing(&drawing, &found);
    }
}

/// A rod that mirrors the ground at its left edge shows a plain false edge further in; the part's sides tell that it is none.
#[test]
fn a_rods_lost_edge_is_not_taken_from_a_streak_inside_it() {
    let drawing = Drawing { lost_from_px: 6.0, ..Drawing::plain() };
    let found = find(&drawing.picture(5), Some(drawing.clicks)).expect("plain to see").value;
    let right = rod_misses(&drawing, &found.rod_right);
    assert!(right.len() > 15 && middle(right.clone()).abs() < 1.0, "the good edge stays: {} points", right.len());
    let left = rod_misses(&drawing, &found.rod_left);
    assert!(left.iter().all(|m| m.abs() < 2.0), "the left edge was read {:?} px off", left.first());
}

#[test]
fn sketches_lie_near_what_is_found() {
    let drawing = Drawing::plain();
    let sketched = sketch(&drawing.picture(1), nudged(drawing.clicks, [5.0, -4.0, -3.0, 6.0])).expect("plain to see");
    let edge = |at_px: &[f64; 2]| EdgePoint { at_px: *at_px, normal: [0.0, 0.0], sigma_px: 0.0 };
    let misses = part_misses(&drawing, &sketched.part.iter().map(edge).collect::<Vec<_>>());
    assert!(misses.len() > 100, "only {} points on the part's side", misses.len());
    // Two cells of the grid: its cells are 1.5 px here.
    let wild = misses.iter().filter(|m| m.abs() > 3.0).count();
    assert!(wild * 20 < misses.len(), "{wild} of {} points miss by more than 3 px", misses.len());
    for line in sketched.rod {
        // The click is good to 6 px, and so is the rod's end; its edge is what counts.
        let misses = rod_misses(&drawing, &line.iter().map(edge).collect::<Vec<_>>());
        assert!(misses.iter().all(|m| m.abs() < 4.0), "{misses:?}");
    }
}

#[test]
fn a_dark_ground_and_a_pale_part_are_found_too() {
    let drawing = Drawing { part: [0.5, 0.55, 0.4], rod: [0.3, 0.28, 0.2], ground: [0.04, 0.05, 0.07], ..Drawing::plain() };
    let found = find(&drawing.picture(3), Some(nudged(drawing.clicks, [3.0, 3.0, -4.0, -2.0]))).expect("plain to see").value;
    check_drawing(&drawing, &found);
}

#[test]
fn points_go_from_the_rods_left_round_the_free_end_to_its_right_and_face_outward() {
    let drawing = Drawing::plain();
    let found = find(&drawing.picture(4), Some(drawing.clicks)).expect("plain to see").value;
    let (u, length) = drawing.axis();
    let places: Vec<[f64; 2]> = found.part.iter().map(|p| drawing.place(p.at_px)).collect();
    assert!(places[0][1] > 0.0 && places[places.len() - 1][1] < 0.0, "left first, right last");
    assert!(places.iter().any(|p| p[0] > 0.97 * length), "the free end is there");
    for (p, [t, w]) in found.part.iter().zip(&places) {
        if (0.3 * length..0.6 * length).contains(t) {
            let outward = (p.normal[0] * u[1] - p.normal[1] * u[0]) * w.signum();
            assert!(outward > 0.5, "normal at t {t:.0}, w {w:.0} points inward");
        }
        assert!((p.normal[0].hypot(p.normal[1]) - 1.0).abs() < 1e-9 && p.sigma_px > 0.0 && p.sigma_px.is_finite());
    }
    let away = |points: &[EdgePoint]| points.windows(2).all(|p| drawing.place(p[0].at_px)[0] > drawing.place(p[1].at_px)[0]);
    assert!(away(&found.rod_left) && away(&found.rod_right), "rod points go from the part outward");
}

#[test]
fn a_hasty_trace_is_drawn_to_the_edges_either_way_round() {
    let drawing = Drawing::plain();
    let picture = drawing.picture(5);
    let (u, length) = drawing.axis();
    let at = |t: f64, w: f64| [drawing.clicks.rod_entry[0] + t * u[0] + w * u[1], drawing.clicks.rod_entry[1] + t * u[1] - w * u[0]];
    let side = |sign: f64| (0..=20).map(move |k| (f64::from(k) / 20.0, sign));
    let mut trace: Vec<[f64; 2]> = side(1.0).map(|(s, g)| at(s * length, g * ((drawing.half_px)(s.min(0.999)) + 3.0))).collect();
    trace.extend(side(-1.0).rev_like(&drawing, length, &at));
    for _ in 0..2 {
        let found = from_trace(&picture, drawing.clicks, &trace).expect("a fair trace").value;
        check_drawing(&drawing, &found);
        trace.reverse();
        trace.rotate_left(7);
    }
}

/// The right side of the trace, from the free end back, 3 px inside.
trait RevLike {
    fn rev_like(self, drawing: &Drawing, length: f64, at: &dyn Fn(f64, f64) -> [f64; 2]) -> Vec<[f64; 2]>;
}

impl<I: Iterator<Item = (f64, f64)>> RevLike for I {
    fn rev_like(self, drawing: &Drawing, length: f64, at: &dyn Fn(f64, f64) -> [f64; 2]) -> Vec<[f64; 2]> {
        let mut points: Vec<[f64; 2]> = self.map(|(s, g)| at(s * length, g * ((drawing.half_px)(s.min(0.999)) - 3.0).max(0.0))).collect();
        points.reverse();
        points
    }
}

#[test]
fn where_nothing_shows_the_trace_stands_with_a_large_doubt() {
    let drawing = Drawing { part: [0.45, 0.46, 0.42], ..Drawing::plain() };
    let blank = Drawing { half_px: |_| 0.0, ..Drawing::plain() };
    let (u, length) = drawing.axis();
    let at = |t: f64, w: f64| [drawing.clicks.rod_entry[0] + t * u[0] + w * u[1], drawing.clicks.rod_entry[1] + t * u[1] - w * u[0]];
    let mut trace: Vec<[f64; 2]> = (0..=10).map(|k| at(length * f64::from(k) / 10.0, 60.0)).collect();
    trace.extend((0..=10).rev().map(|k| at(length * f64::from(k) / 10.0, -60.0)));
    let noted = from_trace(&blank.picture(6), blank.clicks, &trace).expect("a trace always stands");
    let unsure = noted.value.part.iter().filter(|p| p.sigma_px > 1.0).count();
    assert!(2 * unsure > noted.value.part.len(), "{unsure} of {} points own up to seeing nothing", noted.value.part.len());
    assert!(noted.notes.iter().any(|n| n.text.contains("trace")), "{:?}", noted.notes);
}

#[test]
fn a_path_traced_photograph_agrees_with_its_truth() {
    let (picture, clicks, part, rod) = finial();
    let found = find(&picture, Some(nudged(clicks, [4.0, -3.0, -2.0, 4.0]))).expect("plain to see").value;
    let misses: Vec<f64> = found.part.iter().map(|p| outside(&part, p.at_px)).collect();
    assert!(misses.len() > 900, "{} points", misses.len());
    let wild = misses.iter().filter(|m| m.abs() > 1.0).count();
    assert!(wild * 50 < misses.len(), "{wild} of {} points miss by more than 1 px", misses.len());
    assert!(middle(misses.clone()).abs() < 0.15, "part's edge is {:.3} px off", middle(misses));
    for points in [&found.rod_left, &found.rod_right] {
        let misses: Vec<f64> = points.iter().map(|p| outside(&rod, p.at_px)).collect();
        assert!(
            misses.len() > 12 && middle(misses.clone()).abs() < 0.3,
            "rod's edge: {} points, {:.3} px off",
            misses.len(),
            middle(misses)
        );
    }
}

#[test]
fn the_drawn_part_is_found_without_a_click_and_says_so() {
    let drawing = Drawing::plain();
    let noted = find(&drawing.picture(8), None).expect("plain to see");
    check_drawing(&drawing, &noted.value);
    assert!(noted.notes[0].text.contains("without a click"), "{:?}", noted.notes);
}

#[test]
fn the_same_picture_gives_the_same_bits() {
    let picture = Drawing::plain().picture(7);
    let clicks = Some(Drawing::plain().clicks);
    assert_eq!(find(&picture, clicks), find(&picture, clicks));
}

#[test]
fn input_that_tells_nothing_is_refused_with_the_reason() {
    let flat = |width: usize, height: usize| Picture::from_srgb(width, height, vec![[90, 90, 90]; width * height]).expect("sizes agree");
    let clicks = |x0: f64, y0: f64, x1: f64, y1: f64| Some(Clicks { rod_entry: [x0, y0], free_end: [x1, y1] });
    let picture = flat(200, 150);
    assert!(matches!(find(&flat(63, 200), clicks(10.0, 10.0, 40.0, 100.0)), Err(OutlineError::TooSmall { width_px: 63, .. })));
    assert!(matches!(find(&picture, clicks(-1.0, 10.0, 100.0, 100.0)), Err(OutlineError::ClickOutside { .. })));
    assert!(matches!(find(&picture, clicks(f64::NAN, 10.0, 100.0, 100.0)), Err(OutlineError::ClickOutside { .. })));
    assert!(matches!(find(&picture, clicks(10.0, 10.0, f64::INFINITY, 100.0)), Err(OutlineError::ClickOutside { .. })));
    assert!(matches!(find(&picture, clicks(50.0, 50.0, 50.0, 50.0)), Err(OutlineError::ClicksTooNear { .. })));
    assert!(matches!(find(&picture, clicks(50.0, 50.0, 150.0, 90.0)), Err(OutlineError::NothingFound { .. })));
    assert!(matches!(find(&picture, None), Err(OutlineError::NothingFound { .. })));
    let trace = vec![[f64::NAN, 1.0]; 100];
    let refused = from_trace(&picture, clicks(50.0, 50.0, 150.0, 90.0).expect("given"), &trace);
    assert_eq!(refused.err(), Some(OutlineError::BadTrace { usable: 0 }));
}

/// Clicks anywhere must never panic, whatever the picture holds.
#[test]
fn clicks_anywhere_in_noise_are_survived() {
    let mut noise = Sampler::new(11);
    let srgb = (0..160 * 120).map(|_| std::array::from_fn(|_| noise.below(256) as u8)).collect();
    let picture = Picture::from_srgb(160, 120, srgb).expect("sizes agree");
    for _ in 0..12 {
        let at = |noise: &mut Sampler| [noise.between(0.0, 160.0), noise.between(0.0, 120.0)];
        let clicks = Clicks { rod_entry: at(&mut noise), free_end: at(&mut noise) };
        let _ = find(&picture, Some(clicks));
        let _ = sketch(&picture, clicks);
        let trace: Vec<[f64; 2]> = (0..12).map(|_| at(&mut noise)).collect();
        let _ = from_trace(&picture, clicks, &trace);
    }
}

type Ring = Vec<[f64; 2]>;

fn finial() -> (Picture, Clicks, Ring, Ring) {
    let decoder = png::Decoder::new(std::io::Cursor::new(include_bytes!("data/finial.png")));
    let mut reader = decoder.read_info().expect("a PNG");
    let mut bytes = vec![0; reader.output_buffer_size().expect("of known size")];
    let info = reader.next_frame(&mut bytes).expect("whole");
    let srgb = bytes.chunks_exact(3).map(|c| [c[0], c[1], c[2]]).collect();
    let picture = Picture::from_srgb(info.width as usize, info.height as usize, srgb).expect("8-bit RGB");
    let (mut clicks, mut part, mut rod) = (Vec::new(), Vec::new(), Vec::new());
    for line in include_str!("data/finial_truth.txt").lines().filter(|l| !l.starts_with('#')) {
        let words: Vec<&str> = line.split(' ').collect();
        let at = [words[1].parse().expect("a number"), words[2].parse().expect("a number")];
        match words[0] {
            "click" => clicks.push(at),
            "part" => part.push(at),
            _ => rod.push(at),
        }
    }
    (picture, Clicks { rod_entry: clicks[0], free_end: clicks[1] }, part, rod)
}

/// Distance from a ring, positive outside.
fn outside(ring: &Ring, at: [f64; 2]) -> f64 {
    let (mut nearest, mut inside) = (f64::INFINITY, false);
    for i in 0..ring.len() {
        let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
        let d = [b[0] - a[0], b[1] - a[1]];
        let along = (((at[0] - a[0]) * d[0] + (at[1] - a[1]) * d[1]) / (d[0] * d[0] + d[1] * d[1]).max(1e-12)).clamp(0.0, 1.0);
        nearest = nearest.min((at[0] - a[0] - along * d[0]).hypot(at[1] - a[1] - along * d[1]));
        if (a[1] > at[1]) != (b[1] > at[1]) && at[0] < a[0] + (at[1] - a[1]) * d[0] / d[1] {
            inside = !inside;
        }
    }
    if inside { -nearest } else { nearest }
}
