//! What colours a region holds: a smoothed histogram over L*a*b*, its bins fitted to the colours of the picture at hand.

const BINS: usize = 32;

/// Where the bins lie.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Bins {
    low: [f32; 3],
    step: [f32; 3],
}

impl Bins {
    /// Bins over the middle 98 % of `colours`; what lies outside falls into the outermost bins.
    pub fn over(colours: &[[f32; 3]]) -> Self {
        let (mut low, mut step) = ([0.0; 3], [1.0; 3]);
        for c in 0..3 {
            let mut values: Vec<f32> = colours.iter().map(|lab| lab[c]).collect();
            values.sort_by(f32::total_cmp);
            let at = |share: f32| values.get((share * values.len() as f32) as usize).copied().unwrap_or(0.0);
            let (from, to) = (at(0.01), at(0.99));
            // Bins below the noise of a photograph (L* 0.7, a* and b* 0.5 in a cell) would hold nothing but noise.
            step[c] = ((to - from) / (BINS as f32 - 4.0)).max(if c == 0 { 0.7 } else { 0.5 });
            low[c] = 0.5 * (from + to) - 0.5 * BINS as f32 * step[c];
        }
        Bins { low, step }
    }

    fn bin(&self, lab: [f32; 3]) -> usize {
        let index = |c: usize| (((lab[c] - self.low[c]) / self.step[c]).max(0.0) as usize).min(BINS - 1);
        (index(0) * BINS + index(1)) * BINS + index(2)
    }
}

/// A density over L*a*b*.
#[derive(Clone)]
pub(crate) struct Palette {
    bins: Bins,
    density: Vec<f32>,
}

impl Palette {
    /// From colours with weights.
    pub fn of(bins: Bins, colours: impl Iterator<Item = ([f32; 3], f32)>) -> Self {
        let mut density = vec![0.0f32; BINS * BINS * BINS];
        let mut total = 0.0f32;
        for (lab, weight) in colours {
            density[bins.bin(lab)] += weight;
            total += weight;
        }
        // One pass of (1 2 1)/4 along each axis twice: a kernel one bin wide (sigma), the least that bridges the gaps of a few thousand samples.
        // Lightness gets four times the variance: shading takes a colour to lightnesses that were not sampled.
        for (stride, passes) in [(1, 2), (BINS, 2), (BINS * BINS, 8)] {
            (0..passes).for_each(|_| smooth(&mut density, stride));
        }
        let scale = 1.0 / total.max(1.0);
        density.iter_mut().for_each(|d| *d *= scale);
        Palette { bins, density }
    }

    pub fn density(&self, lab: [f32; 3]) -> f32 {
        self.density[self.bins.bin(lab)]
    }
}

/// Log of how much likelier `lab` is under `inside` than under `outside`, nats, held to +-3: no colour is certain, as neither region was
/// seen whole. The floor spreads one sample in a hundred evenly over some 500 bins.
pub(crate) fn evidence(inside: &Palette, outside: &Palette, lab: [f32; 3]) -> f32 {
    const FLOOR: f32 = 2e-5;
    ((inside.density(lab) + FLOOR) / (outside.density(lab) + FLOOR)).ln().clamp(-3.0, 3.0)
}

/// Each cell a quarter of either neighbour and a half of itself, along the axis whose neighbours lie `stride` apart.
fn smooth(values: &mut [f32], stride: usize) {
    // A whole row at a time, so that neighbours in memory are worked on together.
    let mut before = vec![0.0f32; stride];
    for chunk in values.chunks_mut(stride * BINS) {
        if chunk.iter().all(|value| *value == 0.0) {
            continue;
        }
        before.fill(0.0);
        for k in 0..BINS {
            let Some((here, after)) = chunk.get_mut(k * stride..).and_then(|rest| rest.split_at_mut_checked(stride)) else { break };
            if after.is_empty() {
                here.iter_mut().zip(&before).for_each(|(here, before)| *here = 0.25 * before + 0.5 * *here);
                break;
            }
            for ((here, before), after) in here.iter_mut().zip(&mut before).zip(after) {
                let was = *here;
                *here = 0.25 * *before + 0.5 * was + 0.25 * *after;
                *before = was;
            }
        }
    }
}
