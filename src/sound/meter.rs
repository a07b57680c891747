//! How loud the mix is: the audio half adds to it with a few atomic operations, and whoever shows it takes what was added
//! since the last time. Nothing allocates, locks or waits.

use std::sync::atomic::{AtomicU32, AtomicU64, Ordering::Relaxed};

use serde::Serialize;

use crate::units::Decibels;

/// Energy is counted in so many parts, so that whole numbers add up to it: below -90 dB it is silence, and a whole day
/// at full scale fits.
const PARTS: f64 = 1_073_741_824.0;
/// What is lower is shown as silence.
const FLOOR: Decibels = Decibels(-120.0);

/// The meter.
#[derive(Debug, Default)]
pub(super) struct Meter {
    /// The largest sample, as the bits of a float that is not negative: these are in the order of the floats.
    peak: AtomicU32,
    energy: AtomicU64,
    samples: AtomicU64,
}

/// How loud the mix was, in decibels of full scale; -120 is silence.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Level {
    /// The largest sample.
    pub peak: Decibels,
    /// The root of the mean of the squares.
    pub rms: Decibels,
}

impl Meter {
    /// Adds what was mixed.
    pub(super) fn add(&self, block: &[f32]) {
        let (mut peak, mut energy) = (0.0_f32, 0.0_f32);
        for sample in block {
            peak = peak.max(sample.abs());
            energy += sample * sample;
        }
        self.peak.fetch_max(peak.to_bits(), Relaxed);
        self.energy.fetch_add((f64::from(energy) * PARTS) as u64, Relaxed);
        self.samples.fetch_add(block.len() as u64, Relaxed);
    }

    /// How loud it was since the last time.
    pub(super) fn take(&self) -> Level {
        let peak = f32::from_bits(self.peak.swap(0, Relaxed));
        let (energy, samples) = (self.energy.swap(0, Relaxed), self.samples.swap(0, Relaxed));
        let mean = energy as f64 / PARTS / samples.max(1) as f64;
        Level { peak: decibels(f64::from(peak)), rms: decibels(mean.sqrt()) }
    }
}

fn decibels(amplitude: f64) -> Decibels {
    Decibels((20.0 * amplitude.log10()).max(FLOOR.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: a sine's RMS is its peak over √2, 3.01 dB lower (textbook).
    #[test]
    fn a_sine_is_three_decibels_below_its_peak() {
        let meter = Meter::default();
        let sine: Vec<f32> = (0..48_000).map(|n| 0.5 * (n as f32 * 0.05).sin()).collect();
        sine.chunks(64).for_each(|block| meter.add(block));
        let level = meter.take();
        assert!((level.peak.0 + 6.02).abs() < 0.01, "{level:?}");
        assert!((level.rms.0 + 9.03).abs() < 0.01, "{level:?}");
        assert_eq!(meter.take(), Level { peak: FLOOR, rms: FLOOR }, "what was taken is gone");
    }
}
