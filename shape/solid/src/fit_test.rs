use crate::{Mesh, SolidError};
use std::collections::BTreeMap;
use std::f64::consts::TAU;

/// A bar with a row of bores, each a step wider than the one before, to try on the shaft and to measure: what a printer's offset is learnt from.
///
/// Beside each bore stand as many raised pads as its place in the row: one pad for the first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FitTest {
    /// Drawn diameter of the first bore.
    pub first_mm: f64,
    /// From each bore to the next.
    pub step_mm: f64,
    /// How many; 2 to 12.
    pub count: u32,
    /// Thickness of the bar: as deep as the bore of the part, if offsets are to be the same.
    pub thickness_mm: f64,
}

/// Wall beside the bores; pads and the strip they stand on. Pads are 0.5 mm high and 1 mm wide: embossed detail wants 0.1 to 0.3 by 0.5 at least
/// (`printing_rules` of the trade tables).
const WALL_MM: f64 = 3.0;
const PAD_MM: [f64; 2] = [1.0, 1.5];
const PAD_PITCH_MM: f64 = 1.6;
const PAD_HEIGHT_MM: f64 = 0.5;
const STRIP_LINES_MM: [f64; 4] = [0.0, 1.0, 1.0 + PAD_MM[1], 2.0 + PAD_MM[1]];

impl FitTest {
    /// A row of bores about a drawn size, that size in the middle.
    pub fn around(drawn_mm: f64, step_mm: f64, count: u32, thickness_mm: f64) -> FitTest {
        FitTest { first_mm: drawn_mm - step_mm * f64::from(count / 2), step_mm, count, thickness_mm }
    }

    /// Drawn diameters, in the order of their pads.
    pub fn bores_mm(&self) -> Vec<f64> {
        (0..self.count.min(12)).map(|index| ((self.first_mm + self.step_mm * f64::from(index)) * 1e6).round() / 1e6).collect()
    }

    /// Length and width of the bar.
    pub fn size_mm(&self) -> [f64; 2] {
        [self.cell_mm() * f64::from(self.count), self.cell_mm() + STRIP_LINES_MM[3]]
    }

    fn cell_mm(&self) -> f64 {
        let widest = self.first_mm + self.step_mm * f64::from(self.count.max(1) - 1);
        (widest + 2.0 * WALL_MM).max(2.0 + PAD_PITCH_MM * f64::from(self.count))
    }

    /// The bar, lying on z = 0, its first bore at the left; bores as polygons within `chord_mm` of their circles, widened by half of it so that they
    /// neither pinch nor slack on average.
    pub fn mesh(&self, chord_mm: f64) -> Result<Mesh, SolidError> {
        let sizes = [
            ("the first bore", self.first_mm),
            ("the step of the bores", self.step_mm),
            ("the bar's thickness", self.thickness_mm),
            ("the chord", chord_mm),
        ];
        for (what, found) in sizes {
            if !(found.is_finite() && found > 1e-4 && found < 1e3) {
                return Err(SolidError::NotASize { what: what.into(), found });
            }
        }
        if !(2..=12).contains(&self.count) {
            return Err(SolidError::NotASize { what: "the number of bores in a fit test (2 to 12)".into(), found: f64::from(self.count) });
        }
        let mut welder = Welder::default();
        self.strip(&mut welder);
        for (index, bore_mm) in self.bores_mm().into_iter().enumerate() {
            self.cell(&mut welder, index, bore_mm, chord_mm);
        }
        Ok(welder.mesh)
    }

    /// Lines across the bar: cell borders and the sides of pads, as (x, whether a pad begins here).
    fn lines(&self) -> Vec<(f64, bool)> {
        let mut lines = Vec::new();
        for cell in 0..self.count {
            let left = self.cell_mm() * f64::from(cell);
            lines.push((left, false));
            for pad in 0..=cell {
                let x = left + 1.0 + PAD_PITCH_MM * f64::from(pad);
                lines.extend([(x, true), (x + PAD_MM[0], false)]);
            }
        }
        lines.push((self.cell_mm() * f64::from(self.count), false));
        lines
    }

    /// The strip with its pads: a landscape of flat squares and the walls between them, its bottom and its outer walls.
    fn strip(&self, welder: &mut Welder) {
        let (lines, base) = (self.lines(), self.cell_mm());
        let top = |column: usize, row: usize| self.thickness_mm + if lines[column].1 && row == 1 { PAD_HEIGHT_MM } else { 0.0 };
        for column in 0..lines.len() - 1 {
            let (x0, x1) = (lines[column].0, lines[column + 1].0);
            for row in 0..3 {
                let (y0, y1) = (base + STRIP_LINES_MM[row], base + STRIP_LINES_MM[row + 1]);
                let z = top(column, row);
                welder.quad([[x0, y0, z], [x1, y0, z], [x1, y1, z], [x0, y1, z]]);
                welder.quad([[x0, y0, 0.0], [x0, y1, 0.0], [x1, y1, 0.0], [x1, y0, 0.0]]);
                if z > self.thickness_mm {
                    let low = self.thickness_mm;
                    welder.quad([[x0, y0, low], [x1, y0, low], [x1, y0, z], [x0, y0, z]]);
                    welder.quad([[x1, y0, low], [x1, y1, low], [x1, y1, z], [x1, y0, z]]);
                    welder.quad([[x1, y1, low], [x0, y1, low], [x0, y1, z], [x1, y1, z]]);
                    welder.quad([[x0, y1, low], [x0, y0, low], [x0, y0, z], [x0, y1, z]]);
                }
            }
            let (y, high) = (base + STRIP_LINES_MM[3], self.thickness_mm);
            welder.quad([[x1, y, 0.0], [x0, y, 0.0], [x0, y, high], [x1, y, high]]);
        }
        let right = self.cell_mm() * f64::from(self.count);
        for row in 0..3 {
            let (y0, y1) = (base + STRIP_LINES_MM[row], base + STRIP_LINES_MM[row + 1]);
            self.end_walls(welder, right, y0, y1);
        }
        self.end_walls(welder, right, 0.0, base);
    }

    fn end_walls(&self, welder: &mut Welder, right: f64, y0: f64, y1: f64) {
        let high = self.thickness_mm;
        welder.quad([[0.0, y1, 0.0], [0.0, y0, 0.0], [0.0, y0, high], [0.0, y1, high]]);
        welder.quad([[right, y0, 0.0], [right, y1, 0.0], [right, y1, high], [right, y0, high]]);
    }

    /// One bore in its square: top, bottom, the bore's wall and the front.
    fn cell(&self, welder: &mut Welder, index: usize, bore_mm: f64, chord_mm: f64) {
        let (left, width, high) = (self.cell_mm() * index as f64, self.cell_mm(), self.thickness_mm);
        let centre = [left + 0.5 * width, 0.5 * width];
        let radius = 0.5 * bore_mm;
        let corners = ((0.5 * TAU / (1.0 - (chord_mm / radius).min(0.5)).acos() / 4.0).ceil() * 4.0).clamp(16.0, 4096.0) as usize;
        let circle: Vec<[f64; 2]> = (0..corners)
            .map(|i| {
                let (sin, cos) = (TAU * (i as f64 + 0.5) / corners as f64).sin_cos();
                let wide = radius + 0.5 * radius * (1.0 - (0.5 * TAU / corners as f64).cos());
                [centre[0] + wide * cos, centre[1] + wide * sin]
            })
            .collect();
        // The side toward the strip carries the strip's lines.
        let mut square = vec![[left, 0.0], [left + width, 0.0]];
        let own = |x: &f64| *x > left - 1e-9 && *x < left + width + 1e-9;
        square.extend(self.lines().iter().rev().map(|line| line.0).filter(own).map(|x| [x, width]));
        for [a, b, c] in between(&by_angle(square, centre), &by_angle(circle.clone(), centre), centre) {
            welder.triangle([[a[0], a[1], high], [b[0], b[1], high], [c[0], c[1], high]]);
            welder.triangle([[a[0], a[1], 0.0], [c[0], c[1], 0.0], [b[0], b[1], 0.0]]);
        }
        for (i, &[x0, y0]) in circle.iter().enumerate() {
            let [x1, y1] = circle[(i + 1) % circle.len()];
            welder.quad([[x1, y1, 0.0], [x0, y0, 0.0], [x0, y0, high], [x1, y1, high]]);
        }
        welder.quad([[left, 0.0, 0.0], [left + width, 0.0, 0.0], [left + width, 0.0, high], [left, 0.0, high]]);
    }
}

fn angle(at: [f64; 2], centre: [f64; 2]) -> f64 {
    (at[1] - centre[1]).atan2(at[0] - centre[0])
}

fn by_angle(mut points: Vec<[f64; 2]>, centre: [f64; 2]) -> Vec<[f64; 2]> {
    points.sort_by(|a, b| angle(*a, centre).total_cmp(&angle(*b, centre)));
    points
}

/// Triangles between two loops round a centre, both ascending by angle: step by step on the loop whose next side has its middle first. (By the next corner instead of the middle of the side
/// triangles would reach from a corner of the square across the bore.)
fn between(outer: &[[f64; 2]], inner: &[[f64; 2]], centre: [f64; 2]) -> Vec<[[f64; 2]; 3]> {
    let unwrapped =
        |points: &[[f64; 2]], index: usize| angle(points[index % points.len()], centre) + if index >= points.len() { TAU } else { 0.0 };
    let middle = |points: &[[f64; 2]], index: usize| 0.5 * (unwrapped(points, index) + unwrapped(points, index + 1));
    let (mut i, mut j, mut triangles) = (0, 0, Vec::new());
    while i < outer.len() || j < inner.len() {
        let (a, b) = (outer[i % outer.len()], inner[j % inner.len()]);
        let (a_next, b_next) = (outer[(i + 1) % outer.len()], inner[(j + 1) % inner.len()]);
        if j >= inner.len() || (i < outer.len() && middle(outer, i) <= middle(inner, j)) {
            i += 1;
            triangles.push([a, a_next, b]);
        } else {
            j += 1;
            triangles.push([a, b_next, b]);
        }
    }
    triangles
}

/// Gathers triangles; corners within a nanometre are the same corner.
#[derive(Default)]
struct Welder {
    mesh: Mesh,
    known: BTreeMap<[i64; 3], u32>,
}

impl Welder {
    fn corner(&mut self, at: [f64; 3]) -> u32 {
        let mesh = &mut self.mesh;
        *self.known.entry(at.map(|x| (x * 1e6).round() as i64)).or_insert_with(|| {
            mesh.vertices_mm.push(at);
            (mesh.vertices_mm.len() - 1) as u32
        })
    }

    fn triangle(&mut self, corners: [[f64; 3]; 3]) {
        let corners = corners.map(|corner| self.corner(corner));
        self.mesh.triangles.push(corners);
    }

    /// Counter-clockwise seen from outside.
    fn quad(&mut self, [a, b, c, d]: [[f64; 3]; 4]) {
        self.triangle([a, b, c]);
        self.triangle([a, c, d]);
    }
}
