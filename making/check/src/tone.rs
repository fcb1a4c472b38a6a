//! Colours of made parts: lots that pass side by side, best pairs, distance to target and master.

use crate::CheckError;
use cie::{De00, De00Factors, Lab, Verdict, ciede2000, ciede2000_parts, direction};
use quantity::{Note, Noted};

/// Parts that can lie side by side.
#[derive(Clone, Debug, PartialEq)]
pub struct ToneLot {
    /// Indices of the parts, in order.
    pub parts: Vec<usize>,
    /// Mean colour.
    pub mean: Lab,
    /// Largest CIEDE2000 between any two.
    pub widest: f64,
}

/// Two parts for one set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pair {
    /// Index of one.
    pub first: usize,
    /// Index of the other.
    pub second: usize,
    /// CIEDE2000 between them.
    pub de00: f64,
}

/// A part against what it should look like.
#[derive(Clone, Debug, PartialEq)]
pub struct Against {
    /// CIEDE2000 with its parts, reference to part.
    pub de00: De00,
    /// What viewers make of it.
    pub verdict: Verdict,
    /// Which way it is off, in words.
    pub words: String,
}

/// More parts than one bench lays out at once.
const MOST_PARTS: usize = 500;

/// The fewest lots in which any two parts differ by at most `limit` (usually [`cie::SET_DE00`]), largest lot first.
///
/// Fewest lots is a search that can grow without end: it is exact up to a fixed number of tries, and a note says when it stopped there.
/// `sigma` is the doubt of a reading an axis; a note says when it swamps the limit.
///
/// # Errors
/// No or more than 500 parts, a colour that is not finite, a limit or sigma that is no positive number.
pub fn tone_lots(labs: &[Lab], limit: f64, sigma: f64) -> Result<Noted<Vec<ToneLot>>, CheckError> {
    check(labs)?;
    crate::error::within("the limit of a lot", limit, 0.01, 50.0, "a CIEDE2000 of 0.01 to 50; 1.0 is usual")?;
    crate::error::within("the doubt of a colour reading", sigma, 0.0, 50.0, "0 to 50")?;
    let differ: Vec<Vec<bool>> = labs.iter().map(|p| labs.iter().map(|q| ciede2000(*p, *q) > limit).collect()).collect();
    let search = Search::fewest(&differ);
    let count = search.best.iter().max().map_or(0, |most| most + 1);
    let mut lots: Vec<ToneLot> = (0..count).map(|lot| tone_lot(labs, &search.best, lot)).collect();
    lots.sort_by(|p, q| q.parts.len().cmp(&p.parts.len()).then(p.parts.cmp(&q.parts)));
    let mut notes = Vec::new();
    if !search.proven {
        notes.push(Note::new("Perhaps the parts could be sorted into fewer lots; the search was stopped.", "Sort fewer parts at a time."));
    }
    // Two readings differ by noise alone with sqrt 2 sigma an axis.
    if sigma * std::f64::consts::SQRT_2 > 0.5 * limit {
        notes.push(Note::new(
            format!(
                "A reading is good to {sigma:.2} an axis: two equal parts may read {:.2} apart, so lots of {limit:.1} are partly chance.",
                sigma * 6f64.sqrt()
            ),
            "Read each part three times and enter the means.",
        ));
    }
    Ok(Noted { value: lots, notes })
}

fn tone_lot(labs: &[Lab], lot_of: &[usize], lot: usize) -> ToneLot {
    let parts: Vec<usize> = (0..labs.len()).filter(|&i| lot_of[i] == lot).collect();
    let n = parts.len() as f64;
    let mean = parts.iter().fold(Lab::default(), |m, &i| Lab::new(m.l + labs[i].l / n, m.a + labs[i].a / n, m.b + labs[i].b / n));
    let apart = |&i: &usize| parts.iter().map(move |&j| ciede2000(labs[i], labs[j])).fold(0.0, f64::max);
    ToneLot { widest: parts.iter().map(apart).fold(0.0, f64::max), mean, parts }
}

/// Fewest lots = fewest colours of the graph whose edges join parts that differ: branch and bound, the part with the least choice first
/// (Brelaz 1979).
struct Search<'a> {
    differ: &'a [Vec<bool>],
    lot_of: Vec<Option<usize>>,
    /// How many parts already in each lot differ from a part: `against[part][lot]`.
    against: Vec<Vec<u32>>,
    /// Lots that a part cannot join.
    barred: Vec<usize>,
    differing: Vec<usize>,
    best: Vec<usize>,
    best_count: usize,
    tries_left: u32,
    proven: bool,
}

/// Placements before the search settles for what it has: well above the 500 of one descent, and at most a tenth of a second.
const TRIES: u32 = 100_000;

impl<'a> Search<'a> {
    fn fewest(differ: &'a [Vec<bool>]) -> Search<'a> {
        let n = differ.len();
        let differing = differ.iter().map(|row| row.iter().filter(|d| **d).count()).collect();
        let against = vec![vec![0; n + 1]; n];
        let (lot_of, barred, best) = (vec![None; n], vec![0; n], (0..n).collect());
        let mut search = Search { differ, lot_of, against, barred, differing, best, best_count: n + 1, tries_left: TRIES, proven: true };
        search.place(0, 0);
        search
    }

    fn place(&mut self, placed: usize, lots: usize) {
        if placed == self.lot_of.len() {
            self.best = self.lot_of.iter().map(|lot| lot.unwrap_or(0)).collect();
            self.best_count = lots;
            return;
        }
        if self.tries_left == 0 {
            self.proven = false;
            return;
        }
        self.tries_left -= 1;
        let Some(part) = self.least_choice() else { return };
        for lot in 0..=lots {
            let opened = lots.max(lot + 1);
            if self.against[part][lot] == 0 && opened < self.best_count {
                self.put(part, lot);
                self.place(placed + 1, opened);
                self.take(part, lot);
            }
        }
    }

    fn put(&mut self, part: usize, lot: usize) {
        self.lot_of[part] = Some(lot);
        for other in (0..self.differ.len()).filter(|&other| self.differ[part][other]) {
            self.barred[other] += usize::from(self.against[other][lot] == 0);
            self.against[other][lot] += 1;
        }
    }

    fn take(&mut self, part: usize, lot: usize) {
        self.lot_of[part] = None;
        for other in (0..self.differ.len()).filter(|&other| self.differ[part][other]) {
            self.against[other][lot] -= 1;
            self.barred[other] -= usize::from(self.against[other][lot] == 0);
        }
    }

    /// The unplaced part that most lots are barred to; of these the one that differs from most others; of these the first.
    fn least_choice(&self) -> Option<usize> {
        let unplaced = (0..self.lot_of.len()).filter(|&i| self.lot_of[i].is_none());
        unplaced.max_by_key(|&i| (self.barred[i], self.differing[i], usize::MAX - i))
    }
}

/// As many pairs as there are parts for, with the least sum of differences, closest pair first; of an odd number one part stays alone.
///
/// Exact up to 16 parts; beyond, closest first and then improved by exchanging partners until no exchange helps.
///
/// # Errors
/// Fewer than two or more than 500 parts, a colour that is not finite.
pub fn matched_pairs(labs: &[Lab]) -> Result<Vec<Pair>, CheckError> {
    check(labs)?;
    if labs.len() < 2 {
        return Err(CheckError::TooFew { what: "parts", least: 2 });
    }
    let apart: Vec<Vec<f64>> = labs.iter().map(|p| labs.iter().map(|q| ciede2000(*p, *q)).collect()).collect();
    let couples = if labs.len() <= 16 { exact_couples(&apart) } else { exchanged_couples(&apart) };
    let mut pairs: Vec<Pair> = couples.into_iter().map(|(i, j)| Pair { first: i.min(j), second: i.max(j), de00: apart[i][j] }).collect();
    pairs.sort_by(|p, q| p.de00.total_cmp(&q.de00).then(p.first.cmp(&q.first)));
    Ok(pairs)
}

/// Least sums over all sets of parts, each built by giving its lowest part a partner (or, once, none).
fn exact_couples(apart: &[Vec<f64>]) -> Vec<(usize, usize)> {
    let n = apart.len();
    let full = (1usize << n) - 1;
    let mut cost = vec![f64::INFINITY; full + 1];
    let mut choice = vec![(0usize, 0usize); full + 1];
    cost[0] = 0.0;
    for set in 1..=full {
        let low = set.trailing_zeros() as usize;
        let rest = set & !(1 << low);
        if set.count_ones() % 2 == 1 {
            (cost[set], choice[set]) = (cost[rest], (low, low));
        }
        for partner in (low + 1..n).filter(|j| rest & (1 << j) != 0) {
            let with = cost[rest & !(1 << partner)] + apart[low][partner];
            if with < cost[set] {
                (cost[set], choice[set]) = (with, (low, partner));
            }
        }
    }
    let (mut set, mut couples) = (full, Vec::new());
    while set != 0 {
        let (i, j) = choice[set];
        set &= !(1 << i) & !(1 << j);
        if i != j {
            couples.push((i, j));
        }
    }
    couples
}

fn exchanged_couples(apart: &[Vec<f64>]) -> Vec<(usize, usize)> {
    let n = apart.len();
    let mut all: Vec<(usize, usize)> = (0..n).flat_map(|j| (0..j).map(move |i| (i, j))).collect();
    all.sort_by(|p, q| apart[p.0][p.1].total_cmp(&apart[q.0][q.1]).then(p.cmp(q)));
    let mut taken = vec![false; n];
    let mut couples: Vec<(usize, usize)> = Vec::new();
    for (i, j) in all {
        if !taken[i] && !taken[j] {
            (taken[i], taken[j]) = (true, true);
            couples.push((i, j));
        }
    }
    // Every exchange lowers the sum; a few rounds reach a standstill, the limit only guards the time.
    for _ in 0..50 {
        if !exchange_once(&mut couples, apart) {
            break;
        }
    }
    couples
}

fn exchange_once(couples: &mut [(usize, usize)], apart: &[Vec<f64>]) -> bool {
    let mut moved = false;
    for p in 1..couples.len() {
        for q in 0..p {
            let ((a, b), (c, d)) = (couples[p], couples[q]);
            let now = apart[a][b] + apart[c][d];
            let (across, crossed) = (apart[a][c] + apart[b][d], apart[a][d] + apart[b][c]);
            if across.min(crossed) < now - 1e-12 {
                (couples[p], couples[q]) = if across <= crossed { ((a, c), (b, d)) } else { ((a, d), (b, c)) };
                moved = true;
            }
        }
    }
    moved
}

/// Each part against a reference: the target, or the kept master.
///
/// # Errors
/// No or more than 500 parts, a colour that is not finite.
pub fn against(reference: Lab, labs: &[Lab]) -> Result<Vec<Against>, CheckError> {
    check(labs)?;
    check(&[reference])?;
    let one = |&lab: &Lab| {
        let de00 = ciede2000_parts(reference, lab, De00Factors::default());
        Against { de00, verdict: Verdict::of(de00.total), words: direction(reference, lab) }
    };
    Ok(labs.iter().map(one).collect())
}

fn check(labs: &[Lab]) -> Result<(), CheckError> {
    if labs.is_empty() {
        return Err(CheckError::TooFew { what: "colour readings", least: 1 });
    }
    if labs.len() > MOST_PARTS {
        return Err(CheckError::TooMany { what: "colour readings", found: labs.len(), most: MOST_PARTS });
    }
    let wild = labs.iter().flat_map(|lab| lab.array()).find(|v| !(v.is_finite() && v.abs() <= 1000.0));
    wild.map_or(Ok(()), |found| Err(CheckError::Number { what: "a colour reading", found, expected: "Lab, each below 1000" }))
}
