//! Whatever is done to pots, no nanolitre is made or lost.

use proptest::prelude::*;
use std::collections::BTreeMap;
use tint::{Act, Contents, Ledger, Nanolitres, Part};

fn acts() -> impl Strategy<Value = Vec<(u8, u8, u8, u64)>> {
    prop::collection::vec((0u8..4, 0u8..3, 0u8..3, 1u64..90_000_000_000), 1..60)
}

proptest! {
    #[test]
    fn volume_and_colourants_are_kept(list in acts()) {
        let mut ledger = Ledger::default();
        let mut put_in: BTreeMap<Option<String>, u64> = BTreeMap::new();
        let pot = |i: u8| format!("pot {i}");
        for (kind, a, b, amount) in list {
            let held = ledger.pot(&pot(a)).map_or(0, |p| p.total().0);
            let some = Nanolitres(if held == 0 { 0 } else { amount % (held + 1) });
            let act = match kind {
                0 => Act::Add { pot: pot(a), part: Part::Resin, volume: Nanolitres(amount) },
                1 => Act::Add { pot: pot(a), part: Part::Colourant(format!("colour {b}")), volume: Nanolitres(amount) },
                2 => Act::Pour { from: pot(a), into: pot(b), volume: some },
                _ => Act::Take { pot: pot(a), volume: some, what: "load".into() },
            };
            if let Act::Add { part, volume, .. } = &act {
                let name = match part { Part::Resin => None, Part::Colourant(name) => Some(name.clone()) };
                *put_in.entry(name).or_default() += volume.0;
            }
            let before: BTreeMap<String, Contents> = (0..3).filter_map(|i| ledger.pot(&pot(i)).map(|p| (pot(i), p.clone()))).collect();
            let entered = ledger.enter(act.clone()).is_ok();
            // Only pouring a pot into itself is refused here, and then nothing has changed.
            prop_assert_eq!(entered, !(kind == 2 && a == b));
            if let (true, Act::Pour { from, volume, .. }) = (entered, &act) {
                let after = ledger.pot(from).map_or(0, |p| p.total().0);
                prop_assert_eq!(after + volume.0, before.get(from).map_or(0, |p| p.total().0));
            }
        }
        let mut found: BTreeMap<Option<String>, u64> = BTreeMap::new();
        for contents in (0..3).filter_map(|i| ledger.pot(&pot(i))).chain([ledger.taken()]) {
            *found.entry(None).or_default() += contents.resin.0;
            for (name, volume) in &contents.colourants {
                *found.entry(Some(name.clone())).or_default() += volume.0;
            }
        }
        found.retain(|_, v| *v > 0);
        prop_assert_eq!(found, put_in);
    }
}
