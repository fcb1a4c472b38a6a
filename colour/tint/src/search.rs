//! Exact search for the best mixes in whole units: cells are halved, and dropped once proven worse than what is already held.

use crate::ball::ball;
use crate::lattice::{Cell, Lattice, MOST_USED};
use std::cell::Cell as Slot;
use std::collections::BTreeMap;

/// What a mix may be.
#[derive(Clone, Debug)]
pub(crate) struct Limits {
    /// Fewest and most units of each colourant when it is used at all, one a colourant.
    pub least: Vec<u32>,
    pub most: Vec<u32>,
    /// Units of all colourants together at most.
    pub all: u32,
    /// Greatest share of the total volume, one a colourant.
    pub share: Vec<f64>,
}

/// A mix held: its score (the difference to be expected) and the units of all colourants.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Held {
    pub score: f64,
    pub units: Vec<u32>,
}

impl Held {
    /// Nearer first; among equals fewer colourants, fewer units, then the order of the bottles, so that the answer is one.
    pub fn order(&self, other: &Held) -> std::cmp::Ordering {
        let colourants = |h: &Held| h.units.iter().filter(|n| **n > 0).count();
        let sum = |h: &Held| h.units.iter().map(|n| u64::from(*n)).sum::<u64>();
        let key = |h: &Held| (colourants(h), sum(h));
        self.score.total_cmp(&other.score).then_with(|| key(self).cmp(&key(other))).then_with(|| self.units.cmp(&other.units))
    }
}

/// The radius that all searches of one question share: what lies farther is of no use. It only shrinks.
#[derive(Clone, Debug)]
pub(crate) struct Shared {
    radius: Slot<f64>,
    nodes: Slot<usize>,
}

impl Shared {
    pub fn new(radius: f64) -> Shared {
        Shared { radius: Slot::new(radius.max(0.0)), nodes: Slot::new(0) }
    }

    /// For the next part of the same question: the work goes on counting.
    pub fn with_radius(&self, radius: f64) -> Shared {
        Shared { radius: Slot::new(radius.max(0.0)), nodes: self.nodes.clone() }
    }

    /// Takes in what parts that ran side by side, each from a copy of this, found and cost.
    pub fn join(&self, parts: &[Shared]) {
        let before = self.nodes.get();
        for part in parts {
            self.shrink(part.radius());
            self.nodes.set(self.nodes.get() + part.nodes.get().saturating_sub(before));
        }
    }

    pub fn radius(&self) -> f64 {
        self.radius.get()
    }

    fn shrink(&self, radius: f64) {
        self.radius.set(self.radius.get().min(radius));
    }

    /// Counts so many cells; false when it was too much.
    fn goes_on(&self, cells: usize) -> bool {
        self.nodes.set(self.nodes.get() + cells);
        !self.exhausted()
    }

    pub fn exhausted(&self) -> bool {
        self.nodes.get() > MOST_NODES
    }

    #[cfg(test)]
    pub fn nodes(&self) -> usize {
        self.nodes.get()
    }
}

/// About a second and a half on one core; beyond it the answer is given as not proven.
const MOST_NODES: usize = 150_000;
/// Working out a doubt takes about as long as so many cells.
const COST_OF_DOUBT: usize = 8;
/// Covers rounding in scores and bounds (about 1e-13 of values up to 100).
const MARGIN: f64 = 1e-9;
/// A cell of so few mixes is looked at mix by mix: cheaper than another bound.
const FEW: u64 = 4;

/// How badly the colour of a mix of `units` of the used colourants is known, in CIEDE2000.
pub(crate) type Doubt<'a> = dyn Fn(&[f64; MOST_USED]) -> f64 + Sync + 'a;

/// The doubt by steps: units are grouped so that a group's last is at most 1.3 times its first, and all mixes of the same groups take the doubt
/// of the groups' middle, but no less than three quarters of that of the wider groups (five to one) around them. Doubt moves slowly with the
/// doses, so little is lost, and it need not be bounded over cells: wide cells take the floor, narrow ones the doubt itself.
pub(crate) struct Doubts<'a> {
    of: &'a Doubt<'a>,
    n: usize,
    /// First number of units of each group.
    edges: Vec<u32>,
    /// By the first group and the number of groups taken together.
    known: BTreeMap<([usize; MOST_USED], usize), f64>,
    /// Doubts worked out since last counted.
    fresh: usize,
}

/// Groups in a wider group.
const WIDE: usize = 5;
const FLOOR: f64 = 0.75;

impl<'a> Doubts<'a> {
    pub fn new(of: &'a Doubt<'a>, n: usize, most: u32) -> Doubts<'a> {
        let mut edges = vec![0, 1];
        while let Some(&last) = edges.last().filter(|last| **last <= most) {
            edges.push((last + 1).max((1.3 * f64::from(last)) as u32));
        }
        Doubts { of, n, edges, known: BTreeMap::new(), fresh: 0 }
    }

    fn group(&self, units: u32) -> usize {
        self.edges.partition_point(|e| *e <= units).saturating_sub(1)
    }

    /// Middle of so many groups from `first` on.
    fn middle(&self, first: usize, together: usize) -> f64 {
        let last = self.edges.len() - 1;
        let end = self.edges[(first + together).min(last)].max(self.edges[first] + 1) - 1;
        0.5 * (f64::from(self.edges[first]) + f64::from(end))
    }

    /// The doubt of the middle of the groups of these units, `together` at a time.
    fn stepped(&mut self, units: &[u32; MOST_USED], together: usize) -> f64 {
        let groups = self.groups(units, together);
        if let Some(known) = self.known.get(&(groups, together)) {
            return *known;
        }
        let mut middles = [0.0; MOST_USED];
        for j in 0..self.n {
            middles[j] = self.middle(groups[j], together);
        }
        let doubt = (self.of)(&middles).max(0.0);
        self.known.insert((groups, together), doubt);
        self.fresh += 1;
        doubt
    }

    pub fn at(&mut self, units: &[u32; MOST_USED]) -> f64 {
        let floor = FLOOR * self.stepped(units, WIDE);
        floor.max(self.stepped(units, 1))
    }

    /// What no doubt in the cell is below; the doubt itself if the cell lies within one group of each colourant.
    fn of_cell(&mut self, cell: &Cell) -> f64 {
        if self.within_one(cell, 1) {
            self.at(&cell.low)
        } else if self.within_one(cell, WIDE) {
            FLOOR * self.stepped(&cell.low, WIDE)
        } else {
            0.0
        }
    }

    /// The same if it was worked out before, or is nothing for a cell so wide.
    fn known_of_cell(&self, cell: &Cell) -> Option<f64> {
        let known = |together: usize| self.known.get(&(self.groups(&cell.low, together), together)).copied();
        if self.within_one(cell, 1) {
            known(WIDE).zip(known(1)).map(|(wide, own)| own.max(FLOOR * wide))
        } else if self.within_one(cell, WIDE) {
            known(WIDE).map(|wide| FLOOR * wide)
        } else {
            Some(0.0)
        }
    }

    fn groups(&self, units: &[u32; MOST_USED], together: usize) -> [usize; MOST_USED] {
        let mut groups = [0; MOST_USED];
        for j in 0..self.n {
            groups[j] = self.group(units[j]) / together * together;
        }
        groups
    }

    fn within_one(&self, cell: &Cell, together: usize) -> bool {
        (0..self.n).all(|j| self.group(cell.low[j]) / together == self.group(cell.high[j]) / together)
    }
}

/// The `keep` best mixes that use every colourant of the lattice and no other, as far as they lie within the shared radius. The score of a mix is
/// the root of its predicted difference squared and its doubt squared: the difference to be expected.
///
/// No mix within the final radius is missed: a cell, or part of one, is dropped only if [`Lattice::narrow`] proves that it exceeds the radius
/// of that moment (less the doubt, where it is one for the cell), which never is below the final one.
pub(crate) fn search(lattice: &Lattice, limits: &Limits, doubts: &mut Doubts, keep: usize, shared: &Shared) -> Vec<Held> {
    let n = lattice.used.len();
    let mut root = Cell { low: [0; MOST_USED], high: [0; MOST_USED] };
    for (j, &i) in lattice.used.iter().enumerate() {
        (root.low[j], root.high[j]) = (limits.least[i].max(1), limits.most[i]);
        if root.low[j] > root.high[j] {
            return vec![];
        }
    }
    let reach = shared.radius();
    let scales: Vec<[f64; 3]> =
        lattice.aim.labs.iter().zip(&lattice.aim.shares).map(|(lab, share)| ball(*lab, reach / share.sqrt()).q).collect();
    let weights = dimension_weights(lattice);
    let mut held: Vec<Held> = vec![];
    let mut stack = vec![(0.0, root)];
    while let Some((bound, cell)) = stack.pop() {
        if bound > shared.radius() + MARGIN || !fits(lattice, limits, &cell) {
            continue;
        }
        if count(&cell, n) <= FEW {
            each(&cell, n, &mut |units| take(lattice, limits, doubts, units, keep, &mut held, shared));
            continue;
        }
        if !shared.goes_on(1 + COST_OF_DOUBT * std::mem::take(&mut doubts.fresh)) {
            break;
        }
        // A doubt costs several bounds, so a cell must first survive with what is known of its doubt without working one out.
        let known = doubts.known_of_cell(&cell);
        let Some((bound, narrowed)) = self::narrowed(lattice, &cell, &scales, known.unwrap_or(0.0), shared) else { continue };
        let (bound, narrowed) = match known {
            Some(_) => (bound, narrowed),
            None => {
                let doubt = doubts.of_cell(&narrowed);
                // With the doubt there is less room: look once more, unless there is none.
                if doubt <= 0.0 {
                    (bound, narrowed)
                } else {
                    let Some(tighter) = self::narrowed(lattice, &narrowed, &scales, doubt, shared) else { continue };
                    tighter
                }
            }
        };
        if 2 * count(&narrowed, n) <= count(&cell, n) {
            // It shrank by itself as much as halving would do: look again.
            stack.push((bound, narrowed));
        } else {
            let (lower, upper) = halves(&narrowed, n, &weights, doubts);
            stack.extend([(bound, upper), (bound, lower)]);
        }
    }
    held
}

/// The part of a cell that may hold a score within the radius if no doubt in it is below `doubt`, and a bound on it.
fn narrowed(lattice: &Lattice, cell: &Cell, scales: &[[f64; 3]], doubt: f64, shared: &Shared) -> Option<(f64, Cell)> {
    let room = shared.radius().powi(2) - doubt.powi(2);
    if room < 0.0 {
        return None;
    }
    let (bound, narrowed) = lattice.narrow(cell, scales, room.sqrt() + MARGIN)?;
    Some((bound.max(0.0).hypot(doubt), narrowed))
}

fn take(
    lattice: &Lattice,
    limits: &Limits,
    doubts: &mut Doubts,
    units: &[u32; MOST_USED],
    keep: usize,
    held: &mut Vec<Held>,
    shared: &Shared,
) {
    if !fits(lattice, limits, &Cell { low: *units, high: *units }) {
        return;
    }
    let miss = lattice.score(units);
    let within = |score: f64| score <= shared.radius() + MARGIN;
    if !within(miss) {
        return;
    }
    let score = miss.hypot(doubts.at(units));
    if !within(score) {
        return;
    }
    let mut all = vec![0; limits.most.len()];
    for (j, &i) in lattice.used.iter().enumerate() {
        all[i] = units[j];
    }
    let new = Held { score, units: all };
    let at = held.partition_point(|h| h.order(&new).is_lt());
    held.insert(at, new);
    held.truncate(keep);
    if held.len() == keep
        && let Some(last) = held.last()
    {
        shared.shrink(last.score);
    }
}

/// Whether any mix of the cell may keep the limits: sums at its low corner, shares where each is least.
fn fits(lattice: &Lattice, limits: &Limits, cell: &Cell) -> bool {
    let n = lattice.used.len();
    if cell.low[..n].iter().map(|v| u64::from(*v)).sum::<u64>() > u64::from(limits.all) {
        return false;
    }
    let pot = lattice.pot;
    let still: f64 = pot.resin_ml + (0..pot.base_ml.len()).filter(|i| !lattice.used.contains(i)).map(|i| pot.base_ml[i]).sum::<f64>();
    let volume = |j: usize, units: u32| pot.base_ml[lattice.used[j]] + f64::from(units) * pot.unit_ml[lattice.used[j]];
    let others: f64 = (0..n).map(|j| volume(j, cell.high[j])).sum();
    (0..n).all(|j| {
        let own = volume(j, cell.low[j]);
        own / (still + others - volume(j, cell.high[j]) + own) <= limits.share[lattice.used[j]] + 1e-12
    })
}

fn count(cell: &Cell, n: usize) -> u64 {
    (0..n).map(|j| u64::from(cell.high[j] - cell.low[j]) + 1).product()
}

fn each(cell: &Cell, n: usize, visit: &mut impl FnMut(&[u32; MOST_USED])) {
    let mut at = cell.low;
    loop {
        visit(&at);
        let Some(j) = (0..n).find(|&j| at[j] < cell.high[j]) else { return };
        at[j] += 1;
        at[..j].copy_from_slice(&cell.low[..j]);
    }
}

/// Halves the cell where its colour spreads most: between groups of doubt first, at the edge nearest to the middle, then anywhere.
fn halves(cell: &Cell, n: usize, weights: &[f64; MOST_USED], doubts: &Doubts) -> (Cell, Cell) {
    let spread = |j: usize| f64::from(cell.high[j] - cell.low[j]) * weights[j];
    let widest = |of: &dyn Fn(usize) -> bool| (0..n).filter(|j| of(*j)).max_by(|&a, &b| spread(a).total_cmp(&spread(b)).then(b.cmp(&a)));
    let apart = |j: usize, together: usize| doubts.group(cell.low[j]) / together < doubts.group(cell.high[j]) / together;
    let wide = widest(&|j| apart(j, WIDE)).map(|j| (j, WIDE));
    let (at, upper_low) = match wide.or_else(|| widest(&|j| apart(j, 1)).map(|j| (j, 1))) {
        Some((j, together)) => {
            let middle = 0.5 * (f64::from(cell.low[j]) + f64::from(cell.high[j]));
            let groups = (doubts.group(cell.low[j]) + 1..=doubts.group(cell.high[j])).filter(|g| g % together == 0);
            let edge =
                groups.map(|g| doubts.edges[g]).min_by(|a, b| (f64::from(*a) - middle).abs().total_cmp(&(f64::from(*b) - middle).abs()));
            (j, edge.unwrap_or(cell.high[j]))
        }
        None => {
            let j = widest(&|j| cell.high[j] > cell.low[j]).unwrap_or(0);
            (j, cell.low[j] + (cell.high[j] - cell.low[j]) / 2 + 1)
        }
    };
    let (mut lower, mut upper) = (*cell, *cell);
    lower.high[at] = upper_low - 1;
    upper.low[at] = upper_low;
    (lower, upper)
}

/// How much one unit of each colourant moves the colour, roughly; only the order of halving hangs on it.
fn dimension_weights(lattice: &Lattice) -> [f64; MOST_USED] {
    let mut weights = [1.0; MOST_USED];
    for (j, &i) in lattice.used.iter().enumerate() {
        let pigment = &lattice.optics.colourants[i];
        let strong: f64 = pigment.k.iter().zip(&pigment.s).map(|(k, s)| (k + 0.05 * s).sqrt()).sum();
        weights[j] = (lattice.pot.unit_ml[i] * strong).max(1e-12);
    }
    weights
}
