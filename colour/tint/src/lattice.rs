//! Whole units (drops, or steps of a balance) of a few colourants: what they look like, and what a box of them can at best come to.

use crate::forward::{Optics, Pigment, lab_and_slopes};
use crate::goal::Aim;
use crate::optics::{BANDS, Spectrum, film, reflectance_of};
use nalgebra::DVector;

/// Colourants in one mix at most.
pub(crate) const MOST_USED: usize = 4;
const MOST_ROWS: usize = 24;

/// A pot that units are added to.
#[derive(Clone, Debug)]
pub(crate) struct Pot {
    pub resin_ml: f64,
    /// What is already in, mL, one a colourant.
    pub base_ml: Vec<f64>,
    /// One unit of each colourant, mL.
    pub unit_ml: Vec<f64>,
}

/// The score of every mix of the colourants `used`, and bounds on it over boxes. The model's correction beyond the law is held at `shift`.
pub(crate) struct Lattice<'a> {
    pub optics: &'a Optics,
    pub aim: &'a Aim,
    pub pot: &'a Pot,
    pub used: Vec<usize>,
    pub shift: &'a DVector<f64>,
    /// The resin with what is in it of colourants that are not used, per volume of resin.
    k0: Spectrum,
    s0: Spectrum,
    /// Volume of resin and unused colourants over volume of resin.
    still: f64,
}

/// Numbers of units from `low` to `high`, both included, in the order of `used`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Cell {
    pub low: [u32; MOST_USED],
    pub high: [u32; MOST_USED],
}

impl<'a> Lattice<'a> {
    pub fn new(optics: &'a Optics, aim: &'a Aim, pot: &'a Pot, used: Vec<usize>, shift: &'a DVector<f64>) -> Lattice<'a> {
        let (mut k0, mut s0, mut still) = (optics.resin_k, optics.resin_s, 1.0);
        let total = pot.resin_ml + pot.base_ml.iter().sum::<f64>();
        for (i, pigment) in optics.colourants.iter().enumerate().filter(|(i, _)| !used.contains(i) && pot.base_ml[*i] > 0.0) {
            // Its strength at the pot's own load: the further dilution by what is added changes it by less than is known of it.
            let strong = pot.base_ml[i] / pot.resin_ml * pigment.strength(pot.base_ml[i] / total);
            still += pot.base_ml[i] / pot.resin_ml;
            for band in 0..BANDS {
                k0[band] += strong * pigment.k[band];
                s0[band] += pot.base_ml[i] / pot.resin_ml * pigment.s[band];
            }
        }
        Lattice { optics, aim, pot, used, shift, k0, s0, still }
    }

    /// One unit over the volume of the resin.
    fn unit(&self, i: usize) -> f64 {
        self.pot.unit_ml[i] / self.pot.resin_ml
    }

    /// Volume of each used colourant over that of the resin.
    fn ratios(&self, units: &[f64; MOST_USED]) -> [f64; MOST_USED] {
        let mut x = [0.0; MOST_USED];
        for (j, &i) in self.used.iter().enumerate() {
            x[j] = (self.pot.base_ml[i] + units[j] * self.pot.unit_ml[i]) / self.pot.resin_ml;
        }
        x
    }

    /// Score of one mix: what [`Aim::miss`] says of its colour.
    pub fn score(&self, units: &[u32; MOST_USED]) -> f64 {
        let x = self.ratios(&units.map(f64::from));
        let swell = self.still + x.iter().sum::<f64>();
        let (mut k, mut s) = (self.k0, self.s0);
        for (j, &i) in self.used.iter().enumerate() {
            let pigment = &self.optics.colourants[i];
            let strong = x[j] * pigment.strength(x[j] / swell);
            for band in 0..BANDS {
                k[band] += strong * pigment.k[band];
                s[band] += x[j] * pigment.s[band];
            }
        }
        let kind = &self.optics.film;
        let thin = kind.thickness_mm.map(|x| x / swell);
        let r: Spectrum =
            std::array::from_fn(|b| kind.surface.seen(reflectance_of(k[b] / s[b], thin.map(|x| s[b] * x), self.optics.backing)).0);
        let mut labs = [0.0; MOST_ROWS];
        for (l, weights) in self.aim.weights.iter().enumerate() {
            let lab = lab_and_slopes(weights, &r).0;
            for m in 0..3 {
                labs[3 * l + m] = lab[m] + self.shift[3 * l + m];
            }
        }
        self.aim.miss(&labs[..3 * self.aim.weights.len()])
    }

    /// A number that no mix of the cell scores below, if `scales` are those of [`crate::ball::ball`], one a light, for a reach that is at
    /// least the score asked about. (So "bound > reach" proves that nothing in the cell scores `reach` or less.)
    ///
    /// **Proof.** Take volumes per volume of resin: x_i = v_i / V, swell t = 1 + sum x, and kappa = tK, sigma = tS. Reflectance hangs on
    /// q = K/S = kappa/sigma and on the optical thickness z = S X alone (Kubelka-Munk is without units). sigma is affine in x;
    /// kappa = k0 + sum k_i p_i with p_i = x_i g_i, g_i = exp(-loss c_i), c_i = x_i / t.
    /// 1. *Strength.* At the middle's swell p_i is smooth in x_i, |p''| <= g (2 |loss| + loss^2 c) / t, so it strays from its tangent by at most
    ///    half of that times the half-width squared; another swell moves p_i by at most x_i g |loss| x_i |1/t - 1/t_m|. (`slack`, all
    ///    factors at their worst over the cell.) So kappa = kappa_m + sum h_i d_i + e, with d the units from the middle.
    /// 2. *Ratio.* q - q_m = (kappa - q_m sigma) / sigma exactly, and kappa - q_m sigma = sum (h_i - q_m s_i) d_i + e; writing 1/sigma_m for
    ///    1/sigma costs the product with |1/sigma - 1/sigma_m| (`q_error`).
    /// 3. *Convexity.* At fixed z, reflectance is the Laplace transform in absorption of the lengths of the paths of the light that comes
    ///    back (a path of length l keeps exp(-K l)), so it is completely monotone in q; Saunderson's series in R has no negative
    ///    coefficient, so the measured one is so too: falling and convex. Hence it lies above its tangent at q_m, and above it by no more
    ///    than at the ends of q's interval (`gap`).
    /// 4. *Thickness.* dR/dz = (1 - R)^2 - 2 q R (light added on top), which falls with R and with q. So from z_m R strays by at most |dR/dz|
    ///    |z - z_m|, taken over an enclosure of R (`stray`); starting from 0..1, each enclosure gives a narrower one. In thick films a second
    ///    bound is far better: with R8 the opaque reflectance and b = sqrt(q^2 + 2q), the solution (R - R8) / (R - 1/R8) = C exp(-2bz) has |C| <= R8 for
    ///    every backing in 0..1, hence |dR/dz| = |R - R8| |1/R8 - R| <= 2b E / (1 - R8 E), E = exp(-2bz), which falls with z, and with b once
    ///    2bz > 1. z = X sigma / t. An opaque film has no z.
    /// 5. *Sums.* X, Y, Z over white are sums of bands: affine part plus an interval. The cube root f of CIELAB is concave: below its tangent,
    ///    by no more than at the ends (`deepest`). So f = f_m + sum F_i d_i + [low, high] for each of X, Y, Z, and Lab is linear in them.
    /// 6. *Direction.* For any unit vector u the scaled distance from the target is at least u . (scaled Lab - target), whose least value over
    ///    the cell is that of the middle less sum |u . F_i| half-width, and the worse end of each interval. u is the residual of the nearest
    ///    point of the affine image; a poor u only makes a poor bound.
    ///
    /// Rounding is some 1e-13 of the values; callers leave 1e-9. Checked against all points of random cells, test `no_mix_beats_its_bound`.
    #[cfg(test)]
    pub fn bound(&self, cell: &Cell, scales: &[[f64; 3]]) -> f64 {
        self.image(cell).scaled(self, scales).bound()
    }

    /// The part of the cell that may hold a score of `reach` or less, and a bound on it; `None` if no part may.
    ///
    /// Beyond the bound's proof: whatever scores `reach` or less has |u . (scaled Lab - target)| <= reach |u| for every u in the space of one
    /// light. With u square to two of the other colourants' directions, only one other and the intervals are left to blur what that says of
    /// this one's units; so the cell shrinks toward the line (or point) of good mixes much faster than by halving. Test
    /// `search_finds_what_brute_force_finds`.
    pub fn narrow(&self, cell: &Cell, scales: &[[f64; 3]], reach: f64) -> Option<(f64, Cell)> {
        let scaled = self.image(cell).scaled(self, scales);
        let bound = scaled.bound();
        if bound > reach {
            return None;
        }
        let mut narrowed = *cell;
        for light in 0..self.aim.weights.len() {
            scaled.shrink(light, reach, cell, &mut narrowed);
        }
        (0..self.used.len()).all(|j| narrowed.low[j] <= narrowed.high[j]).then_some((bound, narrowed))
    }

    /// Steps 1 to 5 of the proof.
    fn image(&self, cell: &Cell) -> Image {
        let n = self.used.len();
        let mut image = Image {
            f: [0.0; MOST_ROWS],
            by_unit: [[0.0; MOST_ROWS]; MOST_USED],
            half: [0.0; MOST_USED],
            low: [0.0; MOST_ROWS],
            high: [0.0; MOST_ROWS],
        };
        let (low, high) = (cell.low.map(f64::from), cell.high.map(f64::from));
        let centre: [f64; MOST_USED] = std::array::from_fn(|j| 0.5 * (low[j] + high[j]));
        let (x_low, x, x_high) = (self.ratios(&low), self.ratios(&centre), self.ratios(&high));
        let swell = |x: &[f64; MOST_USED]| self.still + x.iter().sum::<f64>();
        let (swell_low, swell_m, swell_high) = (swell(&x_low), swell(&x), swell(&x_high));
        let (mut absorbed, mut by_x, mut slack) = ([0.0; MOST_USED], [0.0; MOST_USED], [0.0; MOST_USED]);
        for (j, &i) in self.used.iter().enumerate() {
            image.half[j] = 0.5 * (high[j] - low[j]);
            let pigment = &self.optics.colourants[i];
            let (c, c_most) = (x[j] / swell_m, x_high[j] / swell_low);
            let g = pigment.strength(c);
            let loss = pigment.loss.abs();
            absorbed[j] = x[j] * g;
            if loss * c_most < Pigment::MOST_LOST {
                by_x[j] = g * (1.0 - pigment.loss * c);
                let g_most = pigment.strength(c_most).max(pigment.strength(x_low[j] / swell_high));
                let half = 0.5 * (x_high[j] - x_low[j]);
                slack[j] = 0.5 * half * half * g_most * (2.0 * loss + loss * loss * c_most) / swell_low
                    + x_high[j] * x_high[j] * g_most * loss * (1.0 / swell_low - 1.0 / swell_high);
            } else {
                // Beyond the model's range its strength is held at a stop, with a kink: there all of p's range is slack.
                let ends = [x_low[j], x_high[j]].map(|x| x * pigment.strength(x / swell_high).max(pigment.strength(x / swell_low)));
                slack[j] = absorbed[j].max(ends[0]).max(ends[1]).max(x_high[j] * pigment.strength(c_most).max(1.0));
            }
        }
        let kind = &self.optics.film;
        let mut low_xyz = [0.0; MOST_ROWS];
        let mut high_xyz = [0.0; MOST_ROWS];
        for band in 0..BANDS {
            let (mut k, mut s, mut k_error, mut s_half) = (self.k0[band], self.s0[band], 0.0, 0.0);
            for (j, &i) in self.used.iter().enumerate() {
                let pigment = &self.optics.colourants[i];
                k += absorbed[j] * pigment.k[band];
                s += x[j] * pigment.s[band];
                k_error += slack[j] * pigment.k[band];
                s_half += pigment.s[band] * self.unit(i) * image.half[j];
            }
            let q = k / s;
            let s_low = (s - s_half).max(1e-12);
            let (mut h, mut q_half) = ([0.0; MOST_USED], 0.0);
            for (j, &i) in self.used.iter().enumerate() {
                let pigment = &self.optics.colourants[i];
                h[j] = (by_x[j] * pigment.k[band] - q * pigment.s[band]) * self.unit(i) / s;
                q_half += h[j].abs() * image.half[j];
            }
            let q_error = k_error / s_low + q_half * s_half / s_low;
            let depth = kind.thickness_mm.map(|mm| Depth {
                z: s * mm / swell_m,
                low: (s - s_half).max(0.0) * mm / swell_high,
                high: (s + s_half) * mm / swell_low,
            });
            let (r, slope, gap, stray) = Band { q, q_half: q_half + q_error, depth }.enclose(self.optics);
            let stray = stray + slope.abs() * q_error;
            for (l, weights) in self.aim.weights.iter().enumerate() {
                let (row, white) = (weights.rows()[band], weights.white().array());
                for m in 0..3 {
                    let w = row[m] / white[m];
                    image.f[3 * l + m] += w * r;
                    let (down, up) = (-w * stray, w * (gap + stray));
                    low_xyz[3 * l + m] += down.min(up);
                    high_xyz[3 * l + m] += down.max(up);
                    for (by_unit, h) in image.by_unit.iter_mut().zip(&h).take(n) {
                        by_unit[3 * l + m] += w * slope * h;
                    }
                }
            }
        }
        for row in 0..3 * self.aim.weights.len() {
            image.root(row, n, low_xyz[row], high_xyz[row]);
        }
        image
    }
}

/// Scaled Lab less target over a cell: `middle + sum along d + rest`, |d| <= 1, with `rest` known by f(X), f(Y), f(Z).
struct Scaled {
    n: usize,
    rows: usize,
    middle: [f64; MOST_ROWS],
    along: [[f64; MOST_ROWS]; MOST_USED],
    /// Scale of each row.
    scale: [f64; MOST_ROWS],
    low: [f64; MOST_ROWS],
    high: [f64; MOST_ROWS],
}

impl Scaled {
    /// Step 6 of the proof.
    fn bound(&self) -> f64 {
        let u = nearest(&self.middle, &self.along, self.rows, self.n);
        let dot = |v: &[f64; MOST_ROWS]| (0..self.rows).map(|r| u[r] * v[r]).sum::<f64>();
        let rest: f64 = (0..self.rows / 3).map(|l| self.rest(l, [u[3 * l], u[3 * l + 1], u[3 * l + 2]]).0).sum();
        dot(&self.middle) - self.along[..self.n].iter().map(|a| dot(a).abs()).sum::<f64>() + rest
    }

    /// Least and greatest of u . rest in the space of one light.
    fn rest(&self, light: usize, u: [f64; 3]) -> (f64, f64) {
        let d: [f64; 3] = std::array::from_fn(|m| u[m] * self.scale[3 * light + m]);
        let on_f = [500.0 * d[1], 116.0 * d[0] - 500.0 * d[1] + 200.0 * d[2], -200.0 * d[2]];
        let ends = |m: usize| (on_f[m] * self.low[3 * light + m], on_f[m] * self.high[3 * light + m]);
        (0..3).map(ends).fold((0.0, 0.0), |(low, high), (a, b)| (low + a.min(b), high + a.max(b)))
    }

    /// Takes from each colourant's units what one light excludes.
    fn shrink(&self, light: usize, reach: f64, cell: &Cell, narrowed: &mut Cell) {
        let part = |v: &[f64; MOST_ROWS]| [v[3 * light], v[3 * light + 1], v[3 * light + 2]];
        let middle = part(&self.middle);
        let along: [[f64; 3]; MOST_USED] = std::array::from_fn(|j| part(&self.along[j]));
        for j in 0..self.n {
            let half = 0.5 * f64::from(cell.high[j] - cell.low[j]);
            for u in self.square_to_others(j, &along) {
                let own = dot3(u, along[j]);
                if half == 0.0 || own.abs() < 1e-12 {
                    continue;
                }
                let others: f64 = (0..self.n).filter(|i| *i != j).map(|i| dot3(u, along[i]).abs()).sum();
                let room = reach * dot3(u, u).sqrt() + others;
                let (least, most) = self.rest(light, u);
                // own d lies between these.
                let (from, to) = (-room - dot3(u, middle) - most, room - dot3(u, middle) - least);
                let (a, b) = ((from / own).min(to / own), (from / own).max(to / own));
                let centre = 0.5 * (f64::from(cell.low[j]) + f64::from(cell.high[j]));
                let (low, high) = ((centre + a * half - 1e-6).ceil(), (centre + b * half + 1e-6).floor());
                if high < f64::from(narrowed.low[j]) || low > f64::from(narrowed.high[j]) {
                    (narrowed.low[j], narrowed.high[j]) = (1, 0);
                    return;
                }
                narrowed.low[j] = narrowed.low[j].max(low.max(0.0) as u32);
                narrowed.high[j] = narrowed.high[j].min(high as u32);
            }
        }
    }

    /// Directions that leave out as many of the other colourants as a space of three allows.
    fn square_to_others(&self, j: usize, along: &[[f64; 3]; MOST_USED]) -> Vec<[f64; 3]> {
        let others: Vec<usize> = (0..self.n).filter(|i| *i != j).collect();
        match others.as_slice() {
            [] => vec![along[j]],
            [a] => vec![without(along[j], along[*a])],
            [a, b] => vec![cross(along[*a], along[*b])],
            [a, b, c, ..] => vec![cross(along[*a], along[*b]), cross(along[*a], along[*c]), cross(along[*b], along[*c])],
        }
    }
}

fn dot3(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

/// `a` less its part along `b`.
fn without(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    let share = dot3(a, b) / dot3(b, b).max(1e-300);
    std::array::from_fn(|m| a[m] - share * b[m])
}

/// f(X), f(Y), f(Z) over a cell: `f + sum by_unit d + [low, high]`.
struct Image {
    f: [f64; MOST_ROWS],
    by_unit: [[f64; MOST_ROWS]; MOST_USED],
    half: [f64; MOST_USED],
    low: [f64; MOST_ROWS],
    high: [f64; MOST_ROWS],
}

impl Image {
    /// As Lab less target, on the scales of the ball.
    fn scaled(&self, lattice: &Lattice, scales: &[[f64; 3]]) -> Scaled {
        let (rows, n) = (3 * lattice.aim.weights.len(), lattice.used.len());
        let mut scaled = Scaled {
            n,
            rows,
            middle: [0.0; MOST_ROWS],
            along: [[0.0; MOST_ROWS]; MOST_USED],
            scale: [0.0; MOST_ROWS],
            low: self.low,
            high: self.high,
        };
        for row in 0..rows {
            let (l, m) = (row / 3, row % 3);
            scaled.scale[row] = scales[l][m] * lattice.aim.shares[l].sqrt();
            let constant = if m == 0 { -16.0 } else { 0.0 };
            let lab = lab_of(&self.f[3 * l..3 * l + 3])[m] + constant;
            scaled.middle[row] = scaled.scale[row] * (lab + lattice.shift[row] - lattice.aim.labs[l].array()[m]);
            for j in 0..n {
                scaled.along[j][row] = scaled.scale[row] * lab_of(&self.by_unit[j][3 * l..3 * l + 3])[m] * self.half[j];
            }
        }
        scaled
    }

    /// From X (or Y, Z) over white to its f, step 5 of the proof.
    fn root(&mut self, row: usize, n: usize, low: f64, high: f64) {
        let t = self.f[row];
        let spread: f64 = (0..n).map(|j| self.by_unit[j][row].abs() * self.half[j]).sum();
        let (f, slope) = (root(t), root_slope(t));
        let dip = |end: f64| (f + slope * (end - t) - root(end)).max(0.0);
        let deepest = dip(t - spread + low).max(dip(t + spread + high));
        self.f[row] = f;
        self.low[row] = slope * low - deepest;
        self.high[row] = slope * high;
        for j in 0..n {
            self.by_unit[j][row] *= slope;
        }
    }
}

/// One band over a cell: absorption over scattering, and the optical thickness unless opaque.
struct Band {
    q: f64,
    q_half: f64,
    depth: Option<Depth>,
}

struct Depth {
    z: f64,
    low: f64,
    high: f64,
}

impl Band {
    /// Measured reflectance at the middle, its slope by q, the gap above the tangent, and the stray (steps 3 and 4).
    fn enclose(&self, optics: &Optics) -> (f64, f64, f64, f64) {
        let (z, surface) = (self.depth.as_ref().map(|d| d.z), optics.film.surface);
        let (q_low, q_high) = ((self.q - self.q_half).max(0.0), self.q + self.q_half);
        let middle = film(self.q, 1.0, z, optics.backing);
        let (dark, bright) = (reflectance_of(q_high, z, optics.backing), reflectance_of(q_low, z, optics.backing));
        let (r, by_r) = surface.seen(middle.r);
        let slope = by_r * middle.by_k;
        let above = |inner: f64, q: f64| (surface.seen(inner).0 - r - slope * (q - self.q)).max(0.0);
        let gap = above(dark, q_high).max(above(bright, q_low));
        let Some(depth) = &self.depth else { return (r, slope, gap, 0.0) };
        let by_z = |q: f64, r: f64| ((1.0 - r) * (1.0 - r) - 2.0 * q * r).abs();
        let z_half = (depth.high - depth.z).max(depth.z - depth.low);
        let (mut r_low, mut r_high) = (0.0f64, 1.0f64);
        let mut stray = z_half * steepest(q_low, depth.low);
        for _ in 0..3 {
            stray = stray.min(z_half * by_z(q_low, r_low).max(by_z(q_high, r_high)));
            (r_low, r_high) = ((dark - stray).max(0.0), (bright + stray).min(1.0));
        }
        (r, slope, gap, stray * surface.seen(r_high).1)
    }
}

/// The greatest |dR/dz| at any greater q and z, by the second bound of step 4; 1 where it does not hold.
fn steepest(q: f64, z: f64) -> f64 {
    let b = (q * (q + 2.0)).sqrt();
    if 2.0 * b * z <= 1.0 {
        return 1.0;
    }
    let (left, opaque) = ((-2.0 * b * z).exp(), 1.0 / (1.0 + q + b));
    2.0 * b * left / (1.0 - opaque * left)
}

const HAND_OVER: f64 = 6.0 / 29.0;

fn root(t: f64) -> f64 {
    if t > HAND_OVER * HAND_OVER * HAND_OVER { t.cbrt() } else { t / (3.0 * HAND_OVER * HAND_OVER) + 4.0 / 29.0 }
}

fn root_slope(t: f64) -> f64 {
    let f = root(t).max(HAND_OVER);
    1.0 / (3.0 * f * f)
}

/// L + 16, a, b of f(X), f(Y), f(Z).
fn lab_of(f: &[f64]) -> [f64; 3] {
    [116.0 * f[1], 500.0 * (f[0] - f[1]), 200.0 * (f[1] - f[2])]
}

/// Unit vector from the target to the nearest point of middle + sum along_j d_j, |d_j| <= 1, by a few rounds of coordinate descent.
fn nearest(middle: &[f64; MOST_ROWS], along: &[[f64; MOST_ROWS]; MOST_USED], rows: usize, n: usize) -> [f64; MOST_ROWS] {
    let mut residual = *middle;
    let mut d = [0.0; MOST_USED];
    for _ in 0..12 {
        for j in 0..n {
            let (mut up, mut size) = (0.0, 1e-300);
            for r in 0..rows {
                up += residual[r] * along[j][r];
                size += along[j][r] * along[j][r];
            }
            let next = (d[j] - up / size).clamp(-1.0, 1.0);
            for r in 0..rows {
                residual[r] += (next - d[j]) * along[j][r];
            }
            d[j] = next;
        }
    }
    let norm = residual[..rows].iter().map(|v| v * v).sum::<f64>().sqrt();
    if norm > 1e-12 { residual.map(|v| v / norm) } else { [0.0; MOST_ROWS] }
}
