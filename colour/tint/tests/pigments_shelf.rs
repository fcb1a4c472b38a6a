//! Nineteen measured pigments as a virtual shelf (data/pigments19_ks.csv): another lot starts from the old one's spectrum with its strength open.

#[path = "../benches/virtual_shelf/mod.rs"]
mod virtual_shelf;

use std::collections::BTreeMap;
use tint::{Chip, Colourant, Dose, Goal, Model, Reading, Recipe, Shelf, Twin, learn, recipes};
use virtual_shelf::{Pigment, bench, pigments, truth};

/// Strengths of the new lots against the old ones: the range that was measured between lots of one pigment.
const STRENGTHS: [f64; 3] = [0.6, 1.3, 0.8];
const VOLUME_ML: f64 = 20.0;

struct Made {
    white: Pigment,
    paints: Vec<Pigment>,
}

impl Made {
    /// True colour of drops of the new lots.
    fn lab(&self, drops: &[u32]) -> [f64; 3] {
        let total = VOLUME_ML + drops.iter().map(|n| f64::from(*n) * 0.025).sum::<f64>();
        let fractions: Vec<f64> = drops.iter().zip(STRENGTHS).map(|(n, strong)| strong * f64::from(*n) * 0.025 / total).collect();
        let paints: Vec<&Pigment> = self.paints.iter().collect();
        cie::working().lab(&truth(&self.white, &paints, &fractions)).expect("a colour").array()
    }

    fn drops_of(&self, recipe: &Recipe) -> Vec<u32> {
        self.paints.iter().map(|p| recipe.drops.get(&format!("{} 2", p.name)).copied().unwrap_or(0)).collect()
    }

    /// The old lots' chips, and the new lots beside them, tied or not.
    fn learnt(&self, tied: bool, extra: Option<Vec<u32>>) -> Model {
        let paints: Vec<&Pigment> = self.paints.iter().collect();
        let mut bench = bench(&self.white, &paints);
        bench.colourants.iter_mut().for_each(|old| old.stock_ml = Some(0.0));
        for paint in &self.paints {
            let twin = tied.then(|| Twin { of: paint.name.clone(), ln_strength: 0.0, strength_sigma: Shelf::NEW_LOT });
            bench.colourants.push(Colourant { drop_cv: 0.02, twin, ..Colourant::new(format!("{} 2", paint.name), 25.0) });
        }
        if let Some(drops) = extra {
            let used = self.paints.iter().zip(&drops).filter(|(_, n)| **n > 0);
            let doses: BTreeMap<String, Dose> = used.map(|(p, n)| (format!("{} 2", p.name), Dose::Drops(*n))).collect();
            let reading = Reading::Lab { lab: self.lab(&drops), sigma: [0.2; 3] };
            bench.chips.push(Chip { name: "first".into(), volume_ml: VOLUME_ML, doses, reading });
        }
        learn(&bench).expect("a model").value
    }
}

#[test]
fn another_lot_takes_one_chip() {
    let mut all = pigments();
    assert_eq!(all.len(), 19);
    let mut take = |name: &str| all.remove(all.iter().position(|p| p.name.contains(name)).unwrap_or_else(|| panic!("no {name}")));
    let made = Made { white: take("TitaniumWhite"), paints: vec![take("BoneBlack"), take("PhthaloBlueGreen"), take("HansaYellow")] };
    let mut after = vec![];
    for drops in [[2u32, 5, 9], [1, 10, 4], [4, 2, 12], [6, 1, 3]] {
        let target = made.lab(&drops);
        let goal = Goal::d65(target, 0.2, VOLUME_ML, 60);
        let off = |model: &Model| {
            let best = recipes(model, &goal).expect("recipes").value.first().cloned().expect("a recipe");
            let drops = made.drops_of(&best);
            (cie::ciede2000(made.lab(&drops), target), drops)
        };
        let (first, mixed) = off(&made.learnt(true, None));
        let (blind, _) = off(&made.learnt(false, None));
        let model = made.learnt(true, Some(mixed));
        let (second, _) = off(&model);
        assert!(first < blind && first < 8.0, "{drops:?}: from the shelf {first:.2}, from nothing {blind:.2}");
        assert!(second < 1.5, "{drops:?}: {first:.2}, then {second:.2}");
        after.push(second);
        for (paint, strong) in made.paints.iter().zip(STRENGTHS) {
            let told = model.twin_strength(&format!("{} 2", paint.name)).expect("a twin");
            assert!((told.value - strong.ln()).abs() < 3.0 * told.sigma, "{}: {told:?}, true {:.2}", paint.name, strong.ln());
        }
    }
    let mean = after.iter().sum::<f64>() / after.len() as f64;
    assert!(mean < 0.8, "{after:.2?}");
}
