//! Pictures with a known truth, made by closed forms: a ball of one colour beside a grey card under a near lamp and a soft surround.

#![allow(dead_code)]

pub mod demo_truth;

use photo::Picture;
use target::{NeutralPatch, Polygon};

/// A scene; lengths are px, the camera far away, the card facing it.
#[derive(Clone, Copy)]
pub struct Scene {
    /// Body colour, linear sRGB reflectance.
    pub body: [f64; 3],
    /// Colour of the light, linear.
    pub light: [f64; 3],
    /// Where the lamp is: x right, y down, z toward the camera, px from the ball's middle.
    pub lamp: [f64; 3],
    /// Share of the light that comes from the surround.
    pub surround: f64,
    /// Exposure: camera value of a perfect white facing the lamp from the ball's place.
    pub exposure: f64,
    /// A second lamp's colour that takes over from left to right; equal to `light` for one light.
    pub light_right: [f64; 3],
    /// Colour of a window far to the right, as strong as the surround; black for none.
    pub window: [f64; 3],
    /// Seed of the noise.
    pub seed: u64,
}

impl Default for Scene {
    fn default() -> Self {
        Scene {
            body: [0.3118, 0.3723, 0.2868],
            light: [1.1, 1.0, 0.7],
            lamp: [-500.0, -700.0, 1200.0],
            surround: 0.35,
            exposure: 0.7,
            light_right: [1.1, 1.0, 0.7],
            window: [0.0; 3],
            seed: 1,
        }
    }
}

pub const WIDTH: usize = 640;
pub const HEIGHT: usize = 400;
const BALL: [f64; 2] = [400.0, 200.0];
const RADIUS: f64 = 110.0;

impl Scene {
    pub fn picture(&self) -> Picture {
        let mut state = self.seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1;
        let pixels = (0..HEIGHT)
            .flat_map(|y| (0..WIDTH).map(move |x| (x, y)))
            .map(|(x, y)| self.pixel([x as f64 + 0.5, y as f64 + 0.5], &mut state));
        Picture::from_srgb(WIDTH, HEIGHT, pixels.collect()).expect("fits")
    }

    /// The card's grey field.
    pub fn neutral(&self) -> NeutralPatch {
        let polygon = Polygon::new(&[[60.0, 130.0], [200.0, 130.0], [200.0, 270.0], [60.0, 270.0]], "the grey patch").expect("a region");
        NeutralPatch { polygon, reflectance: 0.18 }
    }

    pub fn outline(&self) -> Polygon {
        let ring: Vec<[f64; 2]> =
            (0..180).map(|i| f64::from(2 * i).to_radians()).map(|t| [BALL[0] + RADIUS * t.cos(), BALL[1] + RADIUS * t.sin()]).collect();
        Polygon::new(&ring, "the part").expect("a region")
    }

    fn pixel(&self, at: [f64; 2], state: &mut u64) -> [u8; 3] {
        let (dx, dy) = (at[0] - BALL[0], at[1] - BALL[1]);
        let inside = RADIUS * RADIUS - dx * dx - dy * dy;
        let (reflectance, normal, height, gloss) = if inside > 0.0 {
            let n = [dx / RADIUS, dy / RADIUS, inside.sqrt() / RADIUS];
            (self.body, n, inside.sqrt(), 0.04 * self.surround + self.lobe(n))
        } else if (50.0..210.0).contains(&at[0]) && (120.0..280.0).contains(&at[1]) {
            ([0.18; 3], [0.0, 0.0, 1.0], 0.0, 0.0)
        } else {
            ([0.35, 0.3, 0.25], [0.0, 0.0, 1.0], 0.0, 0.0)
        };
        let lit = self.lamp_on([dx, dy, height], normal) + self.surround;
        let share = at[0] / WIDTH as f64;
        std::array::from_fn(|i| {
            let light = self.light[i] * (1.0 - share) + self.light_right[i] * share;
            let from_window = self.window[i] * (0.8 * normal[0] + 0.6 * normal[2]).max(0.0);
            let value = self.exposure * (light * (reflectance[i] * lit + gloss) + reflectance[i] * from_window);
            let noisy = value + normal_noise(state) * (0.002 * value.max(0.0) + 2e-6).sqrt() * 0.3;
            encode(noisy)
        })
    }

    /// Irradiance of the lamp, 1 - surround at the ball's middle facing it; inverse square, cosine.
    fn lamp_on(&self, place: [f64; 3], normal: [f64; 3]) -> f64 {
        let to: [f64; 3] = std::array::from_fn(|i| self.lamp[i] - place[i]);
        let (distance, reference) = (length(to), length(self.lamp));
        let cosine = (0..3).map(|i| to[i] * normal[i]).sum::<f64>() / distance;
        (1.0 - self.surround) * cosine.max(0.0) * (reference / distance).powi(2)
    }

    /// A rough highlight: 4 % of the lamp spread around the mirror direction (Blinn's lobe, exponent 40).
    fn lobe(&self, normal: [f64; 3]) -> f64 {
        let far = length(self.lamp);
        let half = [self.lamp[0] / far, self.lamp[1] / far, self.lamp[2] / far + 1.0];
        let cosine = (0..3).map(|i| half[i] * normal[i]).sum::<f64>() / length(half);
        0.04 * (1.0 - self.surround) * 42.0 / 8.0 * cosine.max(0.0).powi(40)
    }
}

fn length(v: [f64; 3]) -> f64 {
    v.iter().map(|x| x * x).sum::<f64>().sqrt()
}

pub fn encode(linear: f64) -> u8 {
    let v = linear.clamp(0.0, 1.0);
    let encoded = if v <= 0.003_130_8 { 12.92 * v } else { 1.055 * v.powf(1.0 / 2.4) - 0.055 };
    (255.0 * encoded).round() as u8
}

/// Sum of three uniforms of -1..1: mean 0, variance 1, near enough to normal.
fn normal_noise(state: &mut u64) -> f64 {
    (0..3).map(|_| 2.0 * uniform(state) - 1.0).sum::<f64>()
}

/// 0..1; xorshift64.
pub fn uniform(state: &mut u64) -> f64 {
    *state ^= *state << 13;
    *state ^= *state >> 7;
    *state ^= *state << 17;
    (*state >> 11) as f64 / (1u64 << 53) as f64
}

/// Lab of linear sRGB by the standard's rounded matrix and CIE's formula, written out here as a second route.
pub fn lab(rgb: [f64; 3]) -> [f64; 3] {
    const M: [[f64; 3]; 3] = [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]];
    let f = |row: [f64; 3]| {
        let t = (0..3).map(|i| row[i] * rgb[i]).sum::<f64>() / row.iter().sum::<f64>();
        if t > 216.0 / 24389.0 { t.cbrt() } else { (24389.0 / 27.0 * t + 16.0) / 116.0 }
    };
    let [x, y, z] = M.map(f);
    [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
}
