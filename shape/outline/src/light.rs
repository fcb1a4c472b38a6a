//! Linear light, reduced and sampled between pixels; the lightness scale that differences are judged on.

use photo::Picture;
use rayon::prelude::*;

/// A picture in linear light, each pixel the mean of a square of `factor` pixels.
pub(crate) struct Light {
    pub width: usize,
    pub height: usize,
    pub factor: usize,
    pixels: Vec<[f32; 3]>,
}

impl Light {
    pub fn reduced(picture: &Picture, factor: usize) -> Self {
        let factor = factor.max(1);
        let (width, height) = ((picture.width_px() / factor).max(1), (picture.height_px() / factor).max(1));
        let scale = 1.0 / (factor * factor) as f32;
        let pixels = (0..height)
            .into_par_iter()
            .flat_map_iter(|y| {
                (0..width).map(move |x| {
                    let mut sum = [0.0f32; 3];
                    for j in 0..factor {
                        for i in 0..factor {
                            let v = picture.linear_at((x * factor + i) as isize, (y * factor + j) as isize);
                            (0..3).for_each(|c| sum[c] += v[c]);
                        }
                    }
                    sum.map(|s| s * scale)
                })
            })
            .collect();
        Light { width, height, factor, pixels }
    }

    fn pixel(&self, x: isize, y: isize) -> [f32; 3] {
        let x = x.clamp(0, self.width as isize - 1) as usize;
        let y = y.clamp(0, self.height as isize - 1) as usize;
        self.pixels[y * self.width + x]
    }

    /// Bilinear sample at a place given in px of the full picture.
    pub fn at(&self, place_px: [f64; 2]) -> [f32; 3] {
        let scale = 1.0 / self.factor as f64;
        bilinear(place_px[0] * scale, place_px[1] * scale, |x, y| self.pixel(x, y))
    }
}

/// Linear light of the full picture at a place, px, by cubic convolution.
///
/// Keys (1981), a = -1/2: it adds far less blur than the straight line between pixels does (the blur is fitted, so what little it adds is
/// accounted for), and it carries no bias across a symmetric edge.
pub(crate) fn sample(picture: &Picture, at: [f64; 2]) -> [f32; 3] {
    let (x, y) = (clamp_coordinate(at[0] - 0.5), clamp_coordinate(at[1] - 0.5));
    let (x0, y0) = (whole(x), whole(y));
    let (wx, wy) = (keys(x - x0 as f64), keys(y - y0 as f64));
    let mut sum = [0.0f32; 3];
    for (j, wy) in wy.iter().enumerate() {
        for (i, wx) in wx.iter().enumerate() {
            let v = picture.linear_at(x0 + i as isize - 1, y0 + j as isize - 1);
            (0..3).for_each(|c| sum[c] += wx * wy * v[c]);
        }
    }
    sum
}

fn keys(f: f64) -> [f32; 4] {
    let f = f as f32;
    let (f2, f3) = (f * f, f * f * f);
    [-0.5 * f + f2 - 0.5 * f3, 1.0 - 2.5 * f2 + 1.5 * f3, 0.5 * f + 2.0 * f2 - 1.5 * f3, -0.5 * f2 + 0.5 * f3]
}

fn bilinear(x: f64, y: f64, pixel: impl Fn(isize, isize) -> [f32; 3]) -> [f32; 3] {
    let (x, y) = (clamp_coordinate(x - 0.5), clamp_coordinate(y - 0.5));
    let (x0, y0) = (whole(x), whole(y));
    let (fx, fy) = ((x - x0 as f64) as f32, (y - y0 as f64) as f32);
    let (a, b, c, d) = (pixel(x0, y0), pixel(x0 + 1, y0), pixel(x0, y0 + 1), pixel(x0 + 1, y0 + 1));
    std::array::from_fn(|k| (a[k] * (1.0 - fx) + b[k] * fx) * (1.0 - fy) + (c[k] * (1.0 - fx) + d[k] * fx) * fy)
}

/// Largest whole number not above `x` (a cast, as `floor` is a call on older processors).
fn whole(x: f64) -> isize {
    let cut = x as isize;
    if (cut as f64) > x { cut - 1 } else { cut }
}

fn clamp_coordinate(x: f64) -> f64 {
    if x.is_finite() { x.clamp(-1e6, 1e6) } else { 0.0 }
}

/// CIE 1976 L*a*b* of linear sRGB under its own white (IEC 61966-2-1 primaries, D65).
pub(crate) fn lab(rgb: [f32; 3]) -> [f32; 3] {
    let [r, g, b] = rgb;
    let f = |v: f32| if v > 0.008856 { v.max(0.0).cbrt() } else { 7.787 * v + 16.0 / 116.0 };
    let x = f((0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.9505);
    let y = f(0.2126 * r + 0.7152 * g + 0.0722 * b);
    let z = f((0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.089);
    [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
}

/// L*a*b* with a* and b* brought to what they would be at L* 44: shading leaves them as they are.
///
/// When the light on a surface falls to a share k, L* + 16, a* and b* all fall by the cube root of k. In the deepest shadows that would blow
/// up noise, so there it is done by half.
pub(crate) fn shade_free([l, a, b]: [f32; 3]) -> [f32; 3] {
    let share = 80.0 / (l.max(0.0) + 36.0);
    [l, a * share, b * share]
}
