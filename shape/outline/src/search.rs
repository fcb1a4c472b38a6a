//! Where the part and its rod are, when nobody said: what differs from a smooth ground, is alike on both sides of a line, and has a thin end.

use crate::Clicks;
use crate::light::{Light, lab, shade_free};

/// Width of the reduced picture, px: a part of a fifth of the frame still has forty.
const REDUCED_PX: usize = 200;
/// Whitened squared difference from the ground that counts as something: four spreads.
const DIFFERENT: f32 = 16.0;
/// Shadows darken; of a darker pixel's lightness only this share counts against the ground.
const SHADOW: f32 = 0.35;
/// Least share of the picture that a body covers.
const LEAST_SHARE: f64 = 0.01;

/// Guesses of where the rod enters and where the part ends, px, likeliest bodies first.
pub(crate) fn guesses(light: &Light, size_px: [f64; 2]) -> Vec<Clicks> {
    let map = Map::of(light);
    let bodies = map.bodies();
    bodies.iter().take(2).flat_map(|body| body.axes().into_iter().flat_map(|axis| body.clicks(axis, map.scale_px, size_px))).collect()
}

/// Factor to reduce a picture by for the search.
pub(crate) fn reduction(width_px: usize) -> usize {
    width_px.div_ceil(REDUCED_PX).max(1)
}

/// The reduced picture: which pixels differ from the ground.
struct Map {
    width: usize,
    height: usize,
    scale_px: f64,
    different: Vec<bool>,
}

impl Map {
    fn of(light: &Light) -> Self {
        let (width, height, scale_px) = (light.width, light.height, light.factor as f64);
        let at = |x: usize, y: usize| light.at([(x as f64 + 0.5) * scale_px, (y as f64 + 0.5) * scale_px]);
        let colours: Vec<[f32; 3]> = (0..width * height).map(|k| shade_free(lab(at(k % width, k / width)))).collect();
        let rest = [0, 1, 2].map(|c| off_ground(&colours, c, width, height));
        let distance: Vec<f32> = (0..width * height)
            .map(|k| {
                let [l, a, b] = [rest[0][k], rest[1][k], rest[2][k]];
                let l = if l < 0.0 { SHADOW * l } else { l };
                (l * l + a * a + b * b).min(100.0)
            })
            .collect();
        // Mean of nine: lone grains of texture are nothing.
        let different = (0..width * height)
            .map(|k| {
                let (x, y) = (k % width, k / width);
                let (xs, ys) = (x.saturating_sub(1)..(x + 2).min(width), y.saturating_sub(1)..(y + 2).min(height));
                let cells = ys.flat_map(|y| xs.clone().map(move |x| y * width + x));
                let (sum, count) = cells.fold((0.0, 0.0), |(s, n), k| (s + distance[k], n + 1.0));
                sum / count > DIFFERENT
            })
            .collect();
        Map { width, height, scale_px, different }
    }

    /// Connected bodies, largest first; frames' worth of ground and specks are left out.
    fn bodies(&self) -> Vec<Body> {
        let mut seen = vec![false; self.different.len()];
        let mut bodies: Vec<Body> = Vec::new();
        for start in 0..self.different.len() {
            if seen[start] || !self.different[start] {
                continue;
            }
            let (mut cells, mut open) = (Vec::new(), vec![start]);
            seen[start] = true;
            while let Some(k) = open.pop() {
                cells.push(k);
                let (x, y) = (k % self.width, k / self.width);
                let near = [
                    (x > 0, k.wrapping_sub(1)),
                    (x + 1 < self.width, k + 1),
                    (y > 0, k.wrapping_sub(self.width)),
                    (y + 1 < self.height, k + self.width),
                ];
                for (inside, next) in near {
                    if inside && self.different[next] && !seen[next] {
                        seen[next] = true;
                        open.push(next);
                    }
                }
            }
            let share = cells.len() as f64 / self.different.len() as f64;
            if (LEAST_SHARE..0.6).contains(&share) {
                bodies.push(Body::of(cells, self.width, self.height));
            }
        }
        // Boxes (a card) come last: few turned parts fill four fifths of the smallest box about them together with their rod.
        bodies.sort_by(|a, b| (a.boxy(), b.points.len()).cmp(&(b.boxy(), a.points.len())));
        bodies
    }
}

/// What is left of a channel after a smooth ground (a quadratic in x and y, robustly fitted), in spreads of the rest.
fn off_ground(colours: &[[f32; 3]], channel: usize, width: usize, height: usize) -> Vec<f32> {
    let row = |k: usize| {
        let (x, y) = ((k % width) as f64 / width as f64 - 0.5, (k / width) as f64 / height as f64 - 0.5);
        nalgebra::SVector::<f64, 6>::new(1.0, x, y, x * x, x * y, y * y)
    };
    let mut weights = vec![1.0f64; colours.len()];
    let mut rest: Vec<f32> = vec![0.0; colours.len()];
    // No channel of a photograph is calmer than this in a reduced pixel.
    let floor = if channel == 0 { 1.5 } else { 0.8 };
    let mut spread = floor;
    for _ in 0..10 {
        let (mut normal, mut right) = (nalgebra::SMatrix::<f64, 6, 6>::identity() * 1e-9, nalgebra::SVector::<f64, 6>::zeros());
        for (k, lab) in colours.iter().enumerate() {
            let r = row(k);
            normal += weights[k] * r * r.transpose();
            right += weights[k] * f64::from(lab[channel]) * r;
        }
        let Some(solver) = normal.cholesky() else { break };
        let fit = solver.solve(&right);
        rest = (0..colours.len()).map(|k| colours[k][channel] - row(k).dot(&fit) as f32).collect();
        let sizes: Vec<f64> = rest.iter().map(|&r| f64::from(r)).collect();
        spread = solve::mad_sigma(&sizes).max(floor);
        weights = sizes.iter().map(|r| solve::Loss::Cauchy(1.5).weight(r / spread).powi(2)).collect();
    }
    rest.iter().map(|r| r / spread as f32).collect()
}

/// A connected body on the reduced map.
struct Body {
    width: usize,
    height: usize,
    covered: Vec<bool>,
    points: Vec<[f64; 2]>,
}

/// A line of symmetry: a point on it and its direction.
#[derive(Clone, Copy)]
struct Axis {
    through: [f64; 2],
    along: [f64; 2],
}

impl Axis {
    fn place(self, p: [f64; 2]) -> [f64; 2] {
        let d = [p[0] - self.through[0], p[1] - self.through[1]];
        [d[0] * self.along[0] + d[1] * self.along[1], d[0] * self.along[1] - d[1] * self.along[0]]
    }

    fn point(self, t: f64, w: f64) -> [f64; 2] {
        [self.through[0] + t * self.along[0] + w * self.along[1], self.through[1] + t * self.along[1] - w * self.along[0]]
    }
}

impl Body {
    fn of(cells: Vec<usize>, width: usize, height: usize) -> Self {
        let mut covered = vec![false; width * height];
        cells.iter().for_each(|&k| covered[k] = true);
        let points = cells.iter().map(|&k| [(k % width) as f64 + 0.5, (k / width) as f64 + 0.5]).collect();
        Body { width, height, covered, points }
    }

    fn boxy(&self) -> bool {
        (0..30).any(|k| {
            let (sin, cos) = (f64::from(k) * 3f64).to_radians().sin_cos();
            let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
            for p in &self.points {
                for (i, v) in [p[0] * cos + p[1] * sin, p[1] * cos - p[0] * sin].into_iter().enumerate() {
                    (low[i], high[i]) = (low[i].min(v), high[i].max(v));
                }
            }
            self.points.len() as f64 > 0.88 * (high[0] - low[0]) * (high[1] - low[1])
        })
    }

    /// The two lines about which it is most alike, at least 20 degrees apart.
    fn axes(&self) -> Vec<Axis> {
        let mut tried: Vec<(f64, f64, Axis)> = (0..90)
            .map(|k| {
                let degrees = f64::from(k) * 2.0;
                let axis = self.axis_at(degrees.to_radians());
                (self.likeness(axis), degrees, axis)
            })
            .collect();
        tried.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut axes: Vec<(f64, Axis)> = Vec::new();
        for (_, degrees, axis) in tried {
            let apart = |d: f64| ((d - degrees).abs()).min(180.0 - (d - degrees).abs()) > 20.0;
            if axes.len() < 2 && axes.iter().all(|a| apart(a.0)) {
                axes.push((degrees, axis));
            }
        }
        axes.into_iter().map(|a| a.1).collect()
    }

    fn axis_at(&self, angle: f64) -> Axis {
        let along = [angle.cos(), angle.sin()];
        let flat = Axis { through: [0.0, 0.0], along };
        let mut w: Vec<f64> = self.points.iter().map(|&p| flat.place(p)[1]).collect();
        w.sort_by(f64::total_cmp);
        Axis { through: flat.point(0.0, w[w.len() / 2]), along }
    }

    /// Share of its pixels whose mirror image is its own.
    fn likeness(&self, axis: Axis) -> f64 {
        let own = |p: &&[f64; 2]| {
            let [t, w] = axis.place(**p);
            let [x, y] = axis.point(t, -w);
            let inside = x >= 0.0 && y >= 0.0 && (x as usize) < self.width && (y as usize) < self.height;
            inside && self.covered[y as usize * self.width + x as usize]
        };
        self.points.iter().filter(own).count() as f64 / self.points.len().max(1) as f64
    }

    /// Rod entry and free end along an axis, with the rod at one end and at the other.
    fn clicks(&self, axis: Axis, scale_px: f64, size_px: [f64; 2]) -> Vec<Clicks> {
        let places: Vec<[f64; 2]> = self.points.iter().map(|&p| axis.place(p)).collect();
        let (low, high) = places.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| (l.min(p[0]), h.max(p[0])));
        let count = (high - low).ceil().max(1.0) as usize;
        let mut reach = vec![[f64::INFINITY, f64::NEG_INFINITY]; count];
        for p in &places {
            let [least, most] = &mut reach[((p[0] - low) as usize).min(count - 1)];
            (*least, *most) = (least.min(p[1]), most.max(p[1]));
        }
        let widths: Vec<f64> = reach.iter().map(|[least, most]| (most - least + 1.0).max(0.0)).collect();
        let to_px = |t: f64| {
            let p = axis.point(t, 0.0);
            [(p[0] * scale_px).clamp(1.0, size_px[0] - 1.0), (p[1] * scale_px).clamp(1.0, size_px[1] - 1.0)]
        };
        let mut back = widths.clone();
        back.reverse();
        let forward = entry(&widths).map(|e| Clicks { rod_entry: to_px(low + e), free_end: to_px(high) });
        let backward = entry(&back).map(|e| Clicks { rod_entry: to_px(high - e), free_end: to_px(low) });
        [forward, backward].into_iter().flatten().collect()
    }
}

/// Where a body grows from its rod into its part: the end of the longest stretch of even width (within an eighth) that begins near this end, if
/// the body is wider past it. 0 (the rod itself is not seen) where there is none.
fn entry(widths: &[f64]) -> Option<f64> {
    let n = widths.len();
    if n < 12 {
        return None;
    }
    let mut best = (0, 0, 0.0);
    // A frame cuts a rod off at a slant, and its own end may be broken: the stretch may begin a quarter in.
    for start in 0..n / 4 {
        let (mut end, mut sum) = (start, 0.0);
        while end < n {
            let mean = if end > start { sum / (end - start) as f64 } else { widths[end] };
            if (widths[end] - mean).abs() > 0.125 * mean + 1.0 {
                break;
            }
            sum += widths[end];
            end += 1;
        }
        if end - start > best.1 - best.0 {
            best = (start, end, sum / (end - start) as f64);
        }
    }
    let (start, end, mean) = best;
    let ahead = &widths[end.min(n)..(end + n / 8 + 1).min(n)];
    let grows = ahead.iter().filter(|w| **w > 1.2 * mean).count() * 2 > ahead.len();
    Some(if end - start >= n / 10 && end < n && grows { end as f64 } else { 0.0 })
}
