//! Nineteen measured pigments as a virtual shelf: chips of known truth. K and S from `tests/data/pigments19_ks.csv` (its source stands beside it).

use std::collections::BTreeMap;
use tint::{Backing, Bench, Chip, Colourant, Dose, Reading, Resin, Spectrum, Surface};

/// A pigment's K and S at 400 to 700 nm, white's S = 1.
pub struct Pigment {
    pub name: String,
    pub k: Spectrum,
    pub s: Spectrum,
}

pub fn pigments() -> Vec<Pigment> {
    let rows: Vec<Vec<&str>> = include_str!("../../tests/data/pigments19_ks.csv").lines().skip(1).map(|l| l.split(',').collect()).collect();
    // Three columns of names, then 380, 390, 400 nm ...
    let band = |row: &[&str]| -> Spectrum { std::array::from_fn(|i| row[3 + 2 + i].trim().parse().unwrap_or(f64::NAN)) };
    rows.chunks(2).map(|pair| Pigment { name: format!("{} {}", pair[0][0], pair[0][1]), k: band(&pair[0]), s: band(&pair[1]) }).collect()
}

/// The white's scattering as a resin's, per mm: fair for a filled white resin.
const SCATTERING: f64 = 3.0;
/// A neat colourant's strength against that resin of the same volume: so 1 to 40 drops of 25 uL in 20 mL make a visible tint.
const STRENGTH: f64 = 5.0;

/// True opaque reflectance, surface included, of paints at volume fractions (in the order of `paints`) in the white.
pub fn truth(white: &Pigment, paints: &[&Pigment], fractions: &[f64]) -> Spectrum {
    let bare = 1.0 - fractions.iter().sum::<f64>();
    std::array::from_fn(|i| {
        let mut k = SCATTERING * bare * white.k[i];
        let mut s = SCATTERING * bare * white.s[i];
        for (paint, c) in paints.iter().zip(fractions) {
            k += SCATTERING * STRENGTH * c * paint.k[i];
            s += SCATTERING * STRENGTH * c * paint.s[i];
        }
        let q = k / s;
        let r = 1.0 + q - (q * q + 2.0 * q).sqrt();
        let Surface { k1, k2 } = Surface::PLASTIC;
        k1 + (1.0 - k1) * (1.0 - k2) * r / (1.0 - k2 * r)
    })
}

/// A bench of these paints in an opaque white, with the bare resin and one chip a paint, read as Lab.
pub fn bench(white: &Pigment, paints: &[&Pigment]) -> Bench {
    let chip = |name: &str, drops: Vec<u32>| {
        let total = 20.0 + drops.iter().map(|n| f64::from(*n) * 0.025).sum::<f64>();
        let fractions: Vec<f64> = drops.iter().map(|n| f64::from(*n) * 0.025 / total).collect();
        let doses: BTreeMap<String, Dose> =
            paints.iter().zip(&drops).filter(|(_, n)| **n > 0).map(|(p, n)| (p.name.clone(), Dose::Drops(*n))).collect();
        let lab = cie::working().lab(&truth(white, paints, &fractions)).map_or([f64::NAN; 3], cie::Lab::array);
        Chip { name: name.into(), volume_ml: 20.0, doses, reading: Reading::Lab { lab, sigma: [0.2; 3] } }
    };
    let mut chips = vec![chip("bare", vec![0; paints.len()])];
    for (i, paint) in paints.iter().enumerate() {
        let drops = (0..paints.len()).map(|j| if i == j { 10 } else { 0 }).collect();
        chips.push(chip(&paint.name, drops));
    }
    let colourants = paints.iter().map(|p| Colourant { drop_cv: 0.02, ..Colourant::new(p.name.clone(), 25.0) }).collect();
    let resin = Resin { thickness_mm: None, backing: Backing::White, density_g_ml: None, surface: Surface::PLASTIC };
    Bench { resin, colourants, chips }
}
