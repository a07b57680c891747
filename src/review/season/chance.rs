//! Chance that comes out the same every time: the demo season must read alike on every machine.

/// A source of numbers: SplitMix64 (G. Steele, D. Lea, C. Flood, OOPSLA 2014), which needs no more than a counter.
pub(super) struct Chance(u64);

impl Chance {
    pub(super) const fn new(seed: u64) -> Chance {
        Chance(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number from 0 to 1, never 1.
    pub(super) fn fraction(&mut self) -> f64 {
        // 53 bits are what a double holds.
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// True so often.
    pub(super) fn happens(&mut self, probability: f64) -> bool {
        self.fraction() < probability
    }

    /// A number from `low` up to `high`.
    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.fraction()
    }

    /// One of some.
    pub(super) fn one_of<'t, T>(&mut self, some: &'t [T]) -> Option<&'t T> {
        some.get((self.fraction() * some.len() as f64) as usize)
    }
}
