//! Random numbers for tests: the same on every machine.

/// A permuted congruential generator (PCG XSH RR 64/32, O'Neill 2014).
#[derive(Debug, Clone)]
pub struct Random(u64);

impl Random {
    /// The generator of a seed.
    pub fn of(seed: u64) -> Self {
        let mut random = Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1);
        // The first numbers of neighbouring seeds are alike.
        for _ in 0..8 {
            random.share();
        }
        random
    }

    /// A number from 0 to 1, 1 excluded.
    pub fn share(&mut self) -> f64 {
        let old = self.0;
        self.0 =
            old.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let mixed = (((old >> 18) ^ old) >> 27) as u32;
        f64::from(mixed.rotate_right((old >> 59) as u32)) / 4_294_967_296.0
    }

    /// A number from `low` to `high`.
    pub fn range(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    /// A number from `low` to `high` whose logarithm is spread evenly.
    pub fn scale(&mut self, low: f64, high: f64) -> f64 {
        low * (high / low).powf(self.share())
    }

    /// A whole number from `low` to `high`, both included.
    pub fn count(&mut self, low: usize, high: usize) -> usize {
        low + (self.share() * (high - low + 1) as f64) as usize
    }

    /// Whether something that happens with this chance does.
    pub fn chance(&mut self, chance: f64) -> bool {
        self.share() < chance
    }
}
