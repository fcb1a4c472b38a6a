//! What colours a region holds: a smoothed histogram over L*a*b*.

const LIGHT_BINS: usize = 40;
const COLOUR_BINS: usize = 64;
/// L* per bin; about twice the noise of an 8-bit photograph in the shadows.
const LIGHT_STEP: f32 = 2.5;
/// a*, b* per bin.
const COLOUR_STEP: f32 = 3.0;

/// A density over L*a*b*.
pub(crate) struct Palette {
    density: Vec<f32>,
}

impl Palette {
    pub fn of(colours: impl Iterator<Item = [f32; 3]>) -> Self {
        let mut density = vec![0.0f32; LIGHT_BINS * COLOUR_BINS * COLOUR_BINS];
        let mut total = 0.0f32;
        for lab in colours {
            density[bin(lab)] += 1.0;
            total += 1.0;
        }
        // Two passes of (1 2 1)/4 along each axis: a kernel one bin wide (sigma), the least that bridges the gaps of a few thousand samples.
        for stride in [1, COLOUR_BINS, COLOUR_BINS * COLOUR_BINS] {
            smooth(&mut density, stride);
            smooth(&mut density, stride);
        }
        let scale = 1.0 / total.max(1.0);
        density.iter_mut().for_each(|d| *d *= scale);
        Palette { density }
    }

    pub fn density(&self, lab: [f32; 3]) -> f32 {
        self.density[bin(lab)]
    }
}

/// Log of how much likelier `lab` is under `inside` than under `outside`, nats, held to +-3: no colour is certain, as neither region was
/// seen whole. The floor is one sample in ten thousand, spread over a few bins.
pub(crate) fn evidence(inside: &Palette, outside: &Palette, lab: [f32; 3]) -> f32 {
    const FLOOR: f32 = 2e-5;
    ((inside.density(lab) + FLOOR) / (outside.density(lab) + FLOOR)).ln().clamp(-3.0, 3.0)
}

fn bin(lab: [f32; 3]) -> usize {
    let index = |v: f32, step: f32, bins: usize| ((v / step).floor().max(0.0) as usize).min(bins - 1);
    let half = COLOUR_BINS as f32 * COLOUR_STEP / 2.0;
    let l = index(lab[0], LIGHT_STEP, LIGHT_BINS);
    let a = index(lab[1] + half, COLOUR_STEP, COLOUR_BINS);
    let b = index(lab[2] + half, COLOUR_STEP, COLOUR_BINS);
    (l * COLOUR_BINS + a) * COLOUR_BINS + b
}

fn smooth(values: &mut [f32], stride: usize) {
    let block = if stride == COLOUR_BINS * COLOUR_BINS { values.len() } else { stride * COLOUR_BINS };
    for chunk in values.chunks_mut(block) {
        for start in 0..stride {
            let count = chunk.len() / stride;
            let mut before = 0.0;
            for k in 0..count {
                let at = start + k * stride;
                let here = chunk[at];
                let after = if k + 1 < count { chunk[at + stride] } else { 0.0 };
                chunk[at] = 0.25 * before + 0.5 * here + 0.25 * after;
                before = here;
            }
        }
    }
}
