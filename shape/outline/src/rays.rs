//! Colours along the normals of a contour, and the border through them.

use crate::border::Strip;
use crate::contour::Contour;
use crate::light::sample;
use crate::palette::{Palette, evidence};
use photo::Picture;
use rayon::prelude::*;

/// Linear light sampled along each normal: cell `k` lies `(k + 0.5) step - reach` outside the contour.
pub(crate) struct Rays {
    pub count: usize,
    pub cells: usize,
    pub step_px: f64,
    pub reach_px: f64,
    pub light: Vec<[f32; 3]>,
}

impl Rays {
    pub fn cast(picture: &Picture, contour: &Contour, reach_px: f64, step_px: f64) -> Self {
        let cells = (2.0 * reach_px / step_px).round().max(2.0) as usize;
        let light = (0..contour.points.len())
            .into_par_iter()
            .flat_map_iter(|i| {
                let (p, n) = (contour.points[i], contour.normals[i]);
                (0..cells).map(move |k| {
                    let o = (k as f64 + 0.5) * step_px - reach_px;
                    sample(picture, [p[0] + o * n[0], p[1] + o * n[1]])
                })
            })
            .collect();
        Rays { count: contour.points.len(), cells, step_px, reach_px, light }
    }

    pub fn offset_px(&self, border: usize) -> f64 {
        border as f64 * self.step_px - self.reach_px
    }

    /// The border through the rays, as offsets from the contour, px.
    pub fn border(&self, spacing_px: f64, colours: &[[f32; 3]], palettes: &[Palette; 2]) -> Vec<f64> {
        let calm = self.averaged_along(colours, (1.5 / spacing_px).round() as usize);
        let reach = (2.0 / self.step_px).round().max(1.0) as usize;
        let steps: Vec<[f32; 3]> = (0..colours.len())
            .map(|at| {
                let k = at % self.cells;
                if k == 0 { [0.0; 3] } else { step(&calm[at - k..at - k + self.cells], k, reach) }
            })
            .collect();
        let spread: [f32; 3] = std::array::from_fn(|c| {
            let mut sizes: Vec<f32> = steps.iter().map(|d| d[c].abs()).collect();
            sizes.sort_by(f32::total_cmp);
            (1.4826 * sizes[sizes.len() / 2]).clamp(0.15, 3.0)
        });
        let across = steps
            .iter()
            .map(|d| {
                let q: f32 = (0..3).map(|c| (d[c] / spread[c]).powi(2)).sum();
                3.0 / (1.0 + q / 30.0)
            })
            .collect();
        let weight = 0.1 * self.step_px as f32;
        let inside = calm.iter().map(|&c| weight * evidence(&palettes[0], &palettes[1], c)).collect();
        let along = vec![(0.5 * self.step_px / spacing_px) as f32; colours.len()];
        let strip = Strip { columns: self.count, rows: self.cells, inside, across, along };
        let path = strip.cheapest(|_, b| if b == 0 || b == self.cells { 3.0 } else { 0.0 });
        path.into_iter().map(|b| self.offset_px(b)).collect()
    }

    /// The same rays, each the mean of itself and `half` neighbours on either side.
    pub fn averaged_over(&self, half: usize) -> Rays {
        Rays { light: self.averaged_along(&self.light, half), ..*self }
    }

    fn averaged_along(&self, colours: &[[f32; 3]], half: usize) -> Vec<[f32; 3]> {
        (0..self.count)
            .into_par_iter()
            .flat_map_iter(|i| {
                let (from, to) = (i.saturating_sub(half), (i + half + 1).min(self.count));
                let scale = 1.0 / (to - from) as f32;
                (0..self.cells).map(move |k| {
                    let mut sum = [0.0f32; 3];
                    for j in from..to {
                        let c = colours[j * self.cells + k];
                        (0..3).for_each(|m| sum[m] += c[m] * scale);
                    }
                    sum
                })
            })
            .collect()
    }
}

/// Difference of the mean colours just outside and just inside of border `k`.
fn step(ray: &[[f32; 3]], k: usize, reach: usize) -> [f32; 3] {
    let mean = |cells: &[[f32; 3]]| {
        let scale = 1.0 / cells.len().max(1) as f32;
        cells.iter().fold([0.0f32; 3], |m, c| std::array::from_fn(|i| m[i] + c[i] * scale))
    };
    let (inside, outside) = (mean(&ray[k.saturating_sub(reach)..k]), mean(&ray[k..(k + reach).min(ray.len())]));
    std::array::from_fn(|c| outside[c] - inside[c])
}
