//! What recipes say beyond the best one: limits, coarse pots, missing colours, grams, several lights, corrections.

use crate::bench::{Backing, Bench, Chip, Colourant, Dose, Reading, Resin};
use crate::ledger::{Contents, Nanolitres};
use crate::optics::Surface;
use crate::{Amounts, Goal, Merit, Model, Wanted, corrections, learn, next_chip, recipes};
use cie::ciede2000;
use std::collections::BTreeMap;

/// A white resin with three colourants, each seen at two loads, without noise: what is then learnt is the truth of these tests.
fn known() -> Model {
    let chip = |name: &str, drops: &[(&str, u32)], lab| Chip {
        name: name.into(),
        volume_ml: 20.0,
        doses: drops.iter().map(|(n, d)| (n.to_string(), Dose::Drops(*d))).collect(),
        reading: Reading::Lab { lab, sigma: [0.2; 3] },
    };
    let resin = Resin { thickness_mm: Some(3.0), backing: Backing::White, density_g_ml: Some(1.1), surface: Surface::PLASTIC };
    let bottle = |name: &str, max: f64| Colourant { max_percent: Some(max), density_g_ml: Some(1.05), ..Colourant::new(name, 25.0) };
    // Readings in the manner of a white casting resin with carbon black, a yellow and a blue.
    let chips = vec![
        chip("bare", &[], [94.5, -0.6, 1.9]),
        chip("k4", &[("black", 4)], [74.0, -0.5, 0.3]),
        chip("y16", &[("yellow", 16)], [91.0, -5.5, 38.0]),
        chip("b10", &[("blue", 10)], [70.5, -9.0, -21.0]),
        chip("mix", &[("black", 3), ("yellow", 12), ("blue", 4)], [69.5, -10.5, 6.5]),
    ];
    let bench = Bench { resin, colourants: vec![bottle("black", 2.0), bottle("yellow", 5.0), bottle("blue", 5.0)], chips };
    learn(&bench).expect("a fair bench").value
}

fn drops(list: &[u32]) -> BTreeMap<String, u32> {
    ["black", "yellow", "blue"].iter().zip(list).filter(|(_, n)| **n > 0).map(|(name, n)| (name.to_string(), *n)).collect()
}

fn lab_of(model: &Model, volume_ml: f64, list: &[u32]) -> [f64; 3] {
    let p = model.predict(volume_ml, list, &[cie::working()]);
    [p.lab[0], p.lab[1], p.lab[2]]
}

#[test]
fn a_mix_of_whole_drops_is_found_again_and_proven() {
    let model = known();
    let goal = Goal::d65(lab_of(&model, 60.0, &[8, 35, 12]), 0.0, 60.0, 150);
    let found = recipes(&model, &goal).expect("fair");
    let best = &found.value[0];
    assert!(best.proven && best.de00 < 0.15, "{best:?}");
    // Drops next to each other look alike; the found mix is the wanted one or its neighbour.
    for (name, n) in drops(&[8, 35, 12]) {
        assert!(best.drops[&name].abs_diff(n) <= 2, "{best:?}");
    }
    assert!(found.value.iter().filter(|r| r.merit == Merit::Best).count() == 1);
}

#[test]
fn limits_are_kept_and_named_when_in_the_way() {
    let model = known();
    // 40 drops of black in 20 mL are 4.8 %; the limit is 2 %.
    let goal = Goal::d65(lab_of(&model, 20.0, &[40, 0, 0]), 0.0, 20.0, 60);
    let found = recipes(&model, &goal).expect("fair");
    let black = f64::from(found.value[0].drops["black"]) * 0.025;
    let others: f64 = found.value[0].drops.values().map(|n| f64::from(*n) * 0.025).sum();
    assert!(black / (20.0 + others) <= 0.02 + 1e-12, "{:?}", found.value[0]);
    assert!(found.notes.iter().any(|n| n.text.contains("out of reach") && n.settle.contains("black")), "{:?}", found.notes);
}

#[test]
fn a_missing_colour_is_named() {
    let model = known();
    let found = recipes(&model, &Goal::d65([60.0, 45.0, 20.0], 0.0, 60.0, 150)).expect("fair");
    let text = &found.notes[0].settle;
    assert!(["red", "magenta", "orange"].iter().any(|w| text.contains(&format!("a {w} would help"))), "{:?}", found.notes);
}

/// A dozen drops are too few for a deep red, whatever the bottle: the red is named all the same, and what holds it back.
#[test]
fn a_missing_colour_is_named_where_limits_hold_it_back() {
    let model = known();
    let found = recipes(&model, &Goal::d65([50.0, 45.0, 22.0], 0.0, 60.0, 12)).expect("fair");
    let text = &found.notes[0].settle;
    assert!(text.contains("would help, if more of it were allowed or it were stronger"), "{:?}", found.notes);
}

#[test]
fn a_pot_too_small_for_whole_drops_is_told() {
    let model = known();
    let lab = lab_of(&model, 60.0, &[8, 35, 12]);
    let small = recipes(&model, &Goal::d65(lab, 0.0, 5.0, 40)).expect("fair");
    assert!(small.notes.iter().any(|n| n.text.contains("one drop") && n.settle.contains("mL")), "{:?}", small.notes);
    let large = recipes(&model, &Goal::d65(lab, 0.0, 120.0, 300)).expect("fair");
    assert!(large.notes.is_empty(), "{:?}", large.notes);
}

#[test]
fn grams_come_nearer_than_drops() {
    let model = known();
    let lab = lab_of(&model, 60.0, &[8, 35, 12]);
    let by_drops = Goal::d65(lab, 0.0, 20.0, 60);
    let by_grams = Goal { amounts: Amounts::Grams { step_g: 0.001, sigma_g: 0.001 }, ..by_drops.clone() };
    let (drops, grams) = (recipes(&model, &by_drops).expect("fair").value, recipes(&model, &by_grams).expect("fair").value);
    assert!(grams[0].de00 < 0.1 && grams[0].de00 < drops[0].de00, "{:?} {:?}", grams[0], drops[0]);
    for g in grams[0].grams.values() {
        assert!((g / 0.001 - (g / 0.001).round()).abs() < 1e-9, "whole steps of the balance");
    }
}

#[test]
fn two_lights_are_weighed_together() {
    let model = known();
    let mut goal = Goal::d65(lab_of(&model, 60.0, &[8, 35, 12]), 0.0, 60.0, 150);
    let lamp = cie::Weights::new(cie::Light::A, cie::Observer::TwoDegree, &cie::WORKING_NM).expect("working wavelengths");
    let p = model.predict(60.0, &[8, 35, 12], &[&lamp]).lab;
    goal.wanted.push(Wanted { light: cie::Light::A, lab: [p[0], p[1], p[2]], ..goal.wanted[0].clone() });
    let found = recipes(&model, &goal).expect("fair").value;
    assert!(found[0].proven && found[0].de00 < 0.2, "{:?}", found[0]);
}

#[test]
fn a_pale_pot_gets_drops_and_a_dark_one_resin() {
    let model = known();
    let lab = lab_of(&model, 60.0, &[8, 35, 12]);
    let goal = Goal::d65(lab, 0.0, 60.0, 150);
    let pot = |list: &[u32]| Contents {
        resin: Nanolitres::from_ml(60.0).expect("a volume"),
        colourants: drops(list).into_iter().map(|(name, n)| (name, Nanolitres(u64::from(n) * 25_000))).collect(),
    };
    let pale = corrections(&model, &goal, &pot(&[6, 35, 8])).expect("fair").value;
    assert!(pale[0].resin_ml == 0.0 && pale[0].recipe.de00 < 0.3, "{pale:?}");
    assert!(pale[0].recipe.drops.keys().all(|k| k != "yellow") || pale[0].recipe.drops["yellow"] <= 2, "{pale:?}");
    let dark = corrections(&model, &goal, &pot(&[12, 35, 12])).expect("fair").value;
    let last = dark.last().expect("something helps");
    assert!(last.resin_ml > 0.0 && last.recipe.de00 < 0.4, "{dark:?}");
    let reached = ciede2000(last.recipe.lab, lab);
    assert!((reached - last.recipe.de00).abs() < 1e-9);
}

#[test]
fn enough_is_enough() {
    let model = known();
    let goal = Goal { tolerance_de00: 3.0, ..Goal::d65(lab_of(&model, 60.0, &[8, 35, 12]), 0.0, 60.0, 150) };
    let found = recipes(&model, &goal).expect("fair").value;
    assert!(found[0].odds.chance > 0.95);
    assert_eq!(next_chip(&model, &goal, &found).expect("fair").value, None);
    // With a target known to 3 only, no chip helps, and it says so.
    let vague = Goal::d65(lab_of(&model, 60.0, &[8, 35, 12]), 3.0, 60.0, 150);
    let found = recipes(&model, &vague).expect("fair").value;
    let next = next_chip(&model, &vague, &found).expect("fair");
    assert!(next.value.is_none() && next.notes[0].settle.contains("target itself"), "{next:?}");
}
