//! The cheapest border through a strip of cells: dynamic programming, exact for borders that are a function along the strip.

/// A strip of cells, `columns` along and `rows` across. A border puts the first `b` cells of each column inside.
pub(crate) struct Strip {
    pub columns: usize,
    pub rows: usize,
    /// Evidence for "inside" of each cell, in nats (column by column).
    pub inside: Vec<f32>,
    /// Cost of a border just below cell `(column, row)`, that is between `row - 1` and `row`; row 0 is the strip's own edge.
    pub across: Vec<f32>,
    /// Cost of a border between `(column, row)` and `(column + 1, row)`, paid by a border that jumps past the row.
    pub along: Vec<f32>,
}

impl Strip {
    /// For each column the number of cells inside, at the least total cost; `extra(column, inside)` adds what else is known
    /// (infinite = forbidden).
    pub fn cheapest(&self, extra: impl Fn(usize, usize) -> f32) -> Vec<usize> {
        let states = self.rows + 1;
        let mut from = vec![0u32; self.columns * states];
        let mut best = self.own_cost(0, &extra);
        for column in 1..self.columns {
            let own = self.own_cost(column, &extra);
            let trail = &mut from[column * states..(column + 1) * states];
            self.carry_over(column - 1, &mut best, trail);
            best.iter_mut().zip(own).for_each(|(b, o)| *b += o);
        }
        let mut state = (0..states).fold(0, |a, b| if best[b] < best[a] { b } else { a });
        let mut path = vec![0; self.columns];
        for column in (0..self.columns).rev() {
            path[column] = state;
            state = from[column * states + state] as usize;
        }
        path
    }

    fn own_cost(&self, column: usize, extra: &impl Fn(usize, usize) -> f32) -> Vec<f32> {
        let base = column * self.rows;
        let mut gathered = 0.0;
        (0..=self.rows)
            .map(|b| {
                if b > 0 {
                    gathered -= self.inside[base + b - 1];
                }
                let edge = if b > 0 && b < self.rows { self.across[base + b] } else { 0.0 };
                gathered + edge + extra(column, b)
            })
            .collect()
    }

    /// Replaces `best` by the least cost of arriving at each state from any state of `column`: two sweeps do, as the cost of a jump is the sum
    /// of what it passes.
    fn carry_over(&self, column: usize, best: &mut [f32], trail: &mut [u32]) {
        let base = column * self.rows;
        (0..best.len()).for_each(|b| trail[b] = b as u32);
        for b in 1..best.len() {
            let stepped = best[b - 1] + self.along[base + b - 1];
            if stepped < best[b] {
                (best[b], trail[b]) = (stepped, trail[b - 1]);
            }
        }
        for b in (1..best.len()).rev() {
            let stepped = best[b] + self.along[base + b - 1];
            if stepped < best[b - 1] {
                (best[b - 1], trail[b - 1]) = (stepped, trail[b]);
            }
        }
    }
}
