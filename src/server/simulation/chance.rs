//! What is left to chance, from a seed: the same seed, the same evening.

use proptest::prelude::Rng;
use proptest::test_runner::{RngAlgorithm, TestRng};

/// A source of chances.
#[derive(Debug)]
pub(super) struct Chance(TestRng);

impl Chance {
    /// The source of that seed and that name.
    pub(super) fn of(seed: u64, name: u64) -> Chance {
        let mut bytes = [0; 32];
        bytes[..8].copy_from_slice(&seed.to_le_bytes());
        bytes[8..16].copy_from_slice(&name.to_le_bytes());
        Chance(TestRng::from_seed(RngAlgorithm::ChaCha, &bytes))
    }

    /// From 0 to 1.
    pub(super) fn part(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// From `least` to `most`.
    pub(super) fn between(&mut self, least: i64, most: i64) -> i64 {
        least + (self.part() * (most - least) as f64) as i64
    }

    /// True in so many of a hundred cases.
    pub(super) fn percent(&mut self, percent: f64) -> bool {
        self.part() * 100.0 < percent
    }

    /// One of these.
    pub(super) fn one<'a, T>(&mut self, of: &'a [T]) -> &'a T {
        &of[(self.0.next_u64() % of.len() as u64) as usize]
    }
}
