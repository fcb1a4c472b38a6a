use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// A seeded source of random numbers: the same seed gives the same numbers on every machine (ChaCha8).
pub struct Sampler {
    rng: ChaCha8Rng,
    spare: Option<f64>,
}

impl Sampler {
    /// Starts the stream that belongs to `seed`.
    pub fn new(seed: u64) -> Self {
        Sampler { rng: ChaCha8Rng::seed_from_u64(seed), spare: None }
    }

    /// Uniform in [0, 1), 53 bits.
    pub fn uniform(&mut self) -> f64 {
        (self.rng.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Uniform in [low, high).
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// A whole number below `count` (which must be at least 1).
    pub fn below(&mut self, count: usize) -> usize {
        ((self.uniform() * count as f64) as usize).min(count.saturating_sub(1))
    }

    /// Standard normal (Marsaglia's polar method).
    pub fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        loop {
            let (u, v) = (self.between(-1.0, 1.0), self.between(-1.0, 1.0));
            let s = u * u + v * v;
            if s > 0.0 && s < 1.0 {
                let scale = (-2.0 * s.ln() / s).sqrt();
                self.spare = Some(v * scale);
                return u * scale;
            }
        }
    }
}
