use super::csv::{number, rows};

const TEXT: &str = include_str!("../../data/shrinkage.csv");

/// Linear shrinkage of a material, as fractions of the mould's size.
#[derive(Clone, Debug, PartialEq)]
pub struct Shrinkage {
    /// "ABS", "cast epoxy" ...
    pub material: &'static str,
    /// How it is formed.
    pub process: &'static str,
    /// Least.
    pub low: f64,
    /// Greatest.
    pub high: f64,
}

/// All materials gathered; linear shrinkage only (figures by volume are left out: their cube root is no scale).
pub fn shrinkages() -> Vec<Shrinkage> {
    rows(TEXT)
        .filter(|row| !row.get(1).is_some_and(|process| process.contains("volume")))
        .filter_map(|row| {
            Some(Shrinkage { material: row.first()?, process: row.get(1)?, low: number(&row, 2)? / 100.0, high: number(&row, 3)? / 100.0 })
        })
        .collect()
}

/// Size of the part out of a cavity: the cavity less the shrinkage.
pub fn part_from_cavity_mm(cavity_mm: f64, shrinkage: f64) -> f64 {
    cavity_mm * (1.0 - shrinkage)
}

/// Size of the cavity for a part: divided, not multiplied.
pub fn cavity_for_part_mm(part_mm: f64, shrinkage: f64) -> f64 {
    part_mm / (1.0 - shrinkage)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn materials_are_read_and_volumes_left_out() {
        let all = shrinkages();
        assert_eq!(all.len(), rows(TEXT).count() - 1);
        assert!(all.iter().all(|s| s.low <= s.high && s.high < 0.05));
        let abs = all.iter().find(|s| s.material == "ABS").expect("listed");
        assert!((abs.low - 0.0035).abs() < 1e-12 && (abs.high - 0.007).abs() < 1e-12);
    }
}
