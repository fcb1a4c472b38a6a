//! Kubelka-Munk reflectance of a film over a backing, and the surface's reflections on top (Saunderson).

/// Wavelengths inside: 400 to 700 nm by 10 nm.
pub const BANDS: usize = 31;
/// One value a wavelength.
pub type Spectrum = [f64; BANDS];

/// What the surface does to light that enters and leaves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surface {
    /// Reflected back to the meter on entry; 0 for readings with the gloss left out.
    pub k1: f64,
    /// Thrown back inside on leaving.
    pub k2: f64,
}

impl Surface {
    /// A plastic of index 1.5: ((1.5 - 1) / (1.5 + 1))^2 = 0.04 on entry; 0.60 inside for diffuse light (Saunderson 1942 after Fresnel's
    /// laws, 0.596 by exact integration).
    pub const PLASTIC: Surface = Surface { k1: 0.04, k2: 0.6 };

    /// Measured reflectance of an inner reflectance, and its slope. Source: Saunderson (1942).
    pub fn seen(self, inner: f64) -> (f64, f64) {
        let share = (1.0 - self.k1) * (1.0 - self.k2);
        let below = 1.0 - self.k2 * inner;
        (self.k1 + share * inner / below, share / (below * below))
    }
}

/// A reflectance and how it moves with what made it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Film {
    /// Inner reflectance, 0..1.
    pub r: f64,
    /// By absorption K (per mm).
    pub by_k: f64,
    /// By scattering S (per mm).
    pub by_s: f64,
    /// By the backing's reflectance.
    pub by_backing: f64,
}

/// Inner reflectance of a film of absorption `k` and scattering `s` (both per mm, >= 0, not both 0), `thickness_mm` over a backing of
/// reflectance `backing`; without a thickness it is opaque.
///
/// - **Source** Kubelka (1948), the hyperbolic solution, multiplied through by S so that S = 0 (a dyed, clear film) is no special case:
///   with p = K^2 + 2 K S and Y = sqrt(p) coth(sqrt(p) X), R = (S - Rg (K + S - Y)) / (K + S - Rg S + Y).
/// - **Good to** 1e-8 of the worked values in `tests/data/km_worked.csv`; slopes against differences, test `slopes`.
pub fn film(k: f64, s: f64, thickness_mm: Option<f64>, backing: f64) -> Film {
    let p = k * k + 2.0 * k * s;
    let Some(x) = thickness_mm else { return opaque(k, s, p) };
    let (y, y_p) = root_coth(p, x);
    let below = k + s - backing * s + y;
    let r = (s - backing * (k + s - y)) / below;
    let (y_k, y_s) = (y_p * 2.0 * (k + s), y_p * 2.0 * k);
    Film {
        r,
        by_k: (-backing * (1.0 - y_k) - r * (1.0 + y_k)) / below,
        by_s: (1.0 - backing * (1.0 - y_s) - r * (1.0 - backing + y_s)) / below,
        by_backing: (y - k - s + r * s) / below,
    }
}

/// The reflectance of [`film`] at S = 1 per unit thickness, K = `q` and optical thickness `z` (none: opaque), without slopes: for searches.
/// Same to 1e-13.
pub(crate) fn reflectance_of(q: f64, z: Option<f64>, backing: f64) -> f64 {
    let root = (q * (q + 2.0)).sqrt();
    let Some(z) = z else { return 1.0 / (1.0 + q + root) };
    if root * z < 1e-2 {
        return film(q, 1.0, Some(z), backing).r;
    }
    let back = if root * z > 20.0 { 0.0 } else { (-2.0 * root * z).exp() };
    let y = root * (1.0 + back) / (1.0 - back);
    (1.0 - backing * (1.0 + q - y)) / (1.0 + q - backing + y)
}

fn opaque(k: f64, s: f64, p: f64) -> Film {
    let root = p.sqrt().max(1e-12);
    let below = k + s + root;
    let r = s / below;
    let (root_k, root_s) = ((k + s) / root, k / root);
    Film { r, by_k: -r * (1.0 + root_k) / below, by_s: (1.0 - r * (1.0 + root_s)) / below, by_backing: 0.0 }
}

/// sqrt(p) coth(sqrt(p) x) and its slope by p; analytic at p = 0, where the series takes over.
fn root_coth(p: f64, x: f64) -> (f64, f64) {
    let root = p.max(0.0).sqrt();
    let z = root * x;
    if z < 1e-2 {
        // coth z = 1/z + z/3 - z^3/45 + 2 z^5/945; the next term is below 1e-16 of the first here.
        let x3 = x * x * x;
        return (
            1.0 / x + p * x / 3.0 - p * p * x3 / 45.0 + 2.0 * p * p * p * x3 * x * x / 945.0,
            x / 3.0 - 2.0 * p * x3 / 45.0 + 6.0 * p * p * x3 * x * x / 945.0,
        );
    }
    // Beyond 20 the coth is 1 to the last bit.
    let y = if z > 20.0 { root } else { root * (1.0 + 2.0 / (2.0 * z).exp_m1()) };
    (y, (y + x * (p - y * y)) / (2.0 * p))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn worked_values() {
        for line in include_str!("../tests/data/km_worked.csv").lines().filter(|l| l.starts_with(',')) {
            let cells: Vec<f64> =
                line.split(',').skip(1).map(|c| if c == "inf" { f64::INFINITY } else { c.parse().expect("number") }).collect();
            let (k, s, rg) = (cells[0], cells[1], cells[3]);
            let thickness = cells[2].is_finite().then_some(cells[2]);
            let surface = Surface { k1: cells[4], k2: cells[5] };
            let inner = film(k, s, thickness, rg).r;
            assert!((inner - cells[7]).abs() < 2e-9, "{line}: {inner}");
            assert!((surface.seen(inner).0 - cells[8]).abs() < 2e-9, "{line}");
            if s > 0.0 {
                assert!((film(k, s, None, rg).r - cells[6]).abs() < 2e-9, "{line}");
            }
        }
    }

    #[test]
    fn short_form_agrees() {
        for q in [0.0, 1e-6, 0.01, 0.3, 4.0, 500.0] {
            for (z, g) in [(None, 0.0), (Some(0.01), 0.9), (Some(2.0), 0.5), (Some(60.0), 0.85)] {
                assert!((reflectance_of(q, z, g) - film(q, 1.0, z, g).r).abs() < 1e-11, "{q} {z:?}");
            }
        }
    }

    #[test]
    fn slopes() {
        for (k, s, x, g) in [
            (0.1, 2.0, Some(3.0), 0.85),
            (3.0, 4.0, None, 0.0),
            (1e-4, 0.5, Some(1.0), 0.3),
            (0.5, 1e-4, Some(2.0), 0.8),
            (2.0, 0.1, Some(0.2), 0.05),
        ] {
            let f = film(k, s, x, g);
            let near = |name: &str, slope: f64, ahead: f64, behind: f64, h: f64| {
                let numeric = (ahead - behind) / (2.0 * h);
                assert!((slope - numeric).abs() < 1e-5 * (1.0 + numeric.abs()), "{name} at {k} {s}: {slope} {numeric}");
            };
            let h = 1e-3 * k.min(0.01);
            near("k", f.by_k, film(k + h, s, x, g).r, film(k - h, s, x, g).r, h);
            let h = 1e-3 * s.min(0.01);
            near("s", f.by_s, film(k, s + h, x, g).r, film(k, s - h, x, g).r, h);
            near("backing", f.by_backing, film(k, s, x, g + 1e-6).r, film(k, s, x, g - 1e-6).r, 1e-6);
        }
    }
}
