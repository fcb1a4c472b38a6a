//! The book of every pot: what went in, out and across, exactly, and what colour it had at each step.

use crate::TintError;
use crate::bench::{Bench, Mix, within};
use crate::goal::{Aim, Goal};
use crate::learn::Model;
use std::collections::BTreeMap;

/// A volume in whole nanolitres: a thousandth of a small drop's last digit. Amounts are never rounded on the way from pot to pot: what a
/// pour cannot split evenly stays where it was.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Nanolitres(pub u64);

impl Nanolitres {
    /// From mL, to the nearest nanolitre.
    ///
    /// # Errors
    /// Less than 0, more than a thousand litres, or no number.
    pub fn from_ml(ml: f64) -> Result<Nanolitres, TintError> {
        within("ledger, volume in mL", ml, 0.0..=1e6, "0 to 1000000 mL")?;
        Ok(Nanolitres((ml * 1e6).round() as u64))
    }

    /// In mL.
    pub fn ml(self) -> f64 {
        self.0 as f64 * 1e-6
    }
}

/// What is in a pot: bare resin and each colourant, by name.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Contents {
    /// Bare resin.
    pub resin: Nanolitres,
    /// Colourants.
    pub colourants: BTreeMap<String, Nanolitres>,
}

/// One thing done.
#[derive(Clone, Debug, PartialEq)]
pub enum Act {
    /// Into a pot (which starts empty): bare resin or a colourant.
    Add {
        /// Which pot.
        pot: String,
        /// What.
        part: Part,
        /// How much.
        volume: Nanolitres,
    },
    /// From one pot into another: a dilution, a stock, a tinted top-up.
    Pour {
        /// From this one, well stirred.
        from: String,
        /// Into this one.
        into: String,
        /// How much.
        volume: Nanolitres,
    },
    /// Out of the pot for good: printed, cast, spilt, poured off.
    Take {
        /// Which pot.
        pot: String,
        /// How much.
        volume: Nanolitres,
        /// What for, in the user's words: "load 1".
        what: String,
    },
}

/// What is added.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Part {
    /// Bare resin.
    Resin,
    /// A colourant by name.
    Colourant(String),
}

/// A line of the book: what was done, and what the pot it changed then holds.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// What was done.
    pub act: Act,
    /// The pot it changed (for a pour: the one poured into).
    pub pot: String,
    /// What that pot holds after it.
    pub after: Contents,
}

/// All pots and their book.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Ledger {
    pots: BTreeMap<String, Contents>,
    taken: Contents,
    book: Vec<Entry>,
}

impl Contents {
    /// Everything in it.
    pub fn total(&self) -> Nanolitres {
        Nanolitres(self.resin.0 + self.colourants.values().map(|v| v.0).sum::<u64>())
    }

    /// Share of the total; 0 in an empty pot.
    pub fn share(&self, colourant: &str) -> f64 {
        let total = self.total().0;
        if total == 0 { 0.0 } else { self.colourants.get(colourant).map_or(0.0, |v| v.0 as f64) / total as f64 }
    }

    /// As a mix of the bench.
    pub(crate) fn mix(&self, bench: &Bench) -> Result<Mix, TintError> {
        let n = bench.colourants.len();
        let mut mix = Mix { resin_ml: self.resin.ml(), ml: vec![0.0; n], scatter: vec![0.0; n] };
        within("pot, bare resin", mix.resin_ml, 1e-3..=1e6, "0.001 to 1000000 mL")?;
        for (name, volume) in &self.colourants {
            mix.ml[bench.index(name, "pot")?] = volume.ml();
        }
        Ok(mix)
    }

    fn give(&mut self, other: &Contents) {
        self.resin.0 += other.resin.0;
        for (name, volume) in &other.colourants {
            self.colourants.entry(name.clone()).or_default().0 += volume.0;
        }
    }

    /// Takes `volume` of the well stirred whole: each part by its share, rounded down, and the nanolitres still missing from the parts with the
    /// largest remainders (the first by name among equals). So the sum is exact and nothing is made or lost.
    fn draw(&mut self, volume: Nanolitres) -> Contents {
        let total = u128::from(self.total().0);
        let split = |part: u64| {
            let product = u128::from(part) * u128::from(volume.0);
            ((product / total) as u64, product % total)
        };
        let mut parts: Vec<(Option<String>, u64, u128)> = vec![];
        let (whole, rest) = split(self.resin.0);
        parts.push((None, whole, rest));
        for (name, v) in &self.colourants {
            let (whole, rest) = split(v.0);
            parts.push((Some(name.clone()), whole, rest));
        }
        let missing = volume.0 - parts.iter().map(|p| p.1).sum::<u64>();
        let mut order: Vec<usize> = (0..parts.len()).collect();
        order.sort_by(|&a, &b| parts[b].2.cmp(&parts[a].2).then(a.cmp(&b)));
        order.iter().take(missing as usize).for_each(|&i| parts[i].1 += 1);
        let mut drawn = Contents::default();
        for (name, amount, _) in parts {
            match name {
                None => {
                    self.resin.0 -= amount;
                    drawn.resin.0 = amount;
                }
                Some(name) => {
                    if let Some(v) = self.colourants.get_mut(&name) {
                        v.0 -= amount;
                    }
                    drawn.colourants.insert(name, Nanolitres(amount));
                }
            }
        }
        drawn
    }
}

impl Ledger {
    /// Writes one act into the book.
    ///
    /// # Errors
    /// Taking more than a pot holds, pouring a pot into itself, or more than a million litres in all.
    pub fn enter(&mut self, act: Act) -> Result<&Entry, TintError> {
        let pot = match &act {
            Act::Add { pot, part, volume } => {
                let before = self.pots.get(pot).map_or(0, |p| p.total().0);
                within(
                    &format!("ledger, pot `{pot}`, mL after adding"),
                    Nanolitres(before.saturating_add(volume.0)).ml(),
                    0.0..=1e9,
                    "at most a million litres",
                )?;
                let contents = self.pots.entry(pot.clone()).or_default();
                match part {
                    Part::Resin => contents.resin.0 += volume.0,
                    Part::Colourant(name) => contents.colourants.entry(name.clone()).or_default().0 += volume.0,
                }
                pot.clone()
            }
            Act::Pour { from, into, volume } => {
                if from == into {
                    return Err(TintError::Fit { why: format!("pot `{from}` is poured into itself in the ledger") });
                }
                let drawn = self.draw(from, *volume)?;
                self.pots.entry(into.clone()).or_default().give(&drawn);
                into.clone()
            }
            Act::Take { pot, volume, .. } => {
                let drawn = self.draw(pot, *volume)?;
                self.taken.give(&drawn);
                pot.clone()
            }
        };
        let after = self.pots.get(&pot).cloned().unwrap_or_default();
        let at = self.book.len();
        self.book.push(Entry { act, pot, after });
        Ok(&self.book[at])
    }

    fn draw(&mut self, pot: &str, volume: Nanolitres) -> Result<Contents, TintError> {
        let held = self.pots.get(pot).map_or(Nanolitres(0), Contents::total);
        within(&format!("ledger, mL out of pot `{pot}`"), volume.ml(), 0.0..=held.ml(), "no more than the pot holds; is a line missing?")?;
        Ok(match self.pots.get_mut(pot) {
            Some(contents) if held.0 > 0 => contents.draw(Nanolitres(volume.0.min(held.0))),
            _ => Contents::default(),
        })
    }

    /// What a pot holds now.
    pub fn pot(&self, name: &str) -> Option<&Contents> {
        self.pots.get(name)
    }

    /// All that left the pots for good.
    pub fn taken(&self) -> &Contents {
        &self.taken
    }

    /// The book, oldest line first.
    pub fn book(&self) -> &[Entry] {
        &self.book
    }

    /// The colour of the changed pot after each line of the book; `None` where the pot holds no resin.
    ///
    /// # Errors
    /// A goal that cannot be, or a colourant that the model does not know.
    pub fn drift(&self, model: &Model, goal: &Goal) -> Result<Vec<Option<Drift>>, TintError> {
        let aim = Aim::new(goal)?;
        let of = |entry: &Entry| {
            if entry.after.resin.0 < 1000 {
                return Ok(None);
            }
            let lab = model.foretell(&entry.after.mix(model.bench())?, &aim.eyes()).lab;
            Ok(Some(Drift { lab: [lab[0], lab[1], lab[2]], de00: aim.miss(lab.as_slice()) }))
        };
        self.book.iter().map(of).collect()
    }
}

/// The colour of a pot at one line of the book.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drift {
    /// Predicted, under the goal's first light.
    pub lab: [f64; 3],
    /// CIEDE2000 from the wanted colour.
    pub de00: f64,
}

/// What to top a pot up with so that it comes back to a recipe's shares.
#[derive(Clone, Debug, PartialEq)]
pub struct TopUp {
    /// Bare resin, mL.
    pub resin_ml: f64,
    /// Colourants, mL.
    pub ml: BTreeMap<String, f64>,
    /// Colourants of which the pot holds too much already, by so many mL: only a larger top-up brings them back.
    pub over_ml: BTreeMap<String, f64>,
}

impl Contents {
    /// A top-up of `volume_ml` in all after which the pot has the shares of `recipe`.
    pub fn top_up(&self, recipe: &Contents, volume_ml: f64) -> TopUp {
        let full = self.total().ml() + volume_ml;
        let mut top_up = TopUp { resin_ml: volume_ml, ml: BTreeMap::new(), over_ml: BTreeMap::new() };
        let names: std::collections::BTreeSet<&String> = self.colourants.keys().chain(recipe.colourants.keys()).collect();
        for name in names {
            let missing = recipe.share(name) * full - self.colourants.get(name).map_or(0.0, |v| v.ml());
            if missing > 0.0 {
                top_up.ml.insert(name.clone(), missing);
                top_up.resin_ml -= missing;
            } else if missing < -1e-6 {
                top_up.over_ml.insert(name.clone(), -missing);
            }
        }
        top_up
    }
}
