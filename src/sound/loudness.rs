//! One loudness for every sound. The measure is the highest *momentary* loudness of ITU-R BS.1770 and EBU Tech 3341
//! (windows of 400 ms, K-weighted), with silence before and after the sound. The programme loudness of the same
//! standards is not used: most effects are shorter than one of its windows, and its gate would leave out what rings.
//! For a sound shorter than 400 ms the measure is its whole energy, which is how loud a short sound is heard.
//!
//! Peaks are *true* peaks (BS.1770, annex 2). A sound whose true peak would be over the ceiling at that loudness is kept
//! softer. Both are measured by the crate `ebur128`, a translation of the reference library that is used everywhere.

use ebur128::{EbuR128, Mode};

use super::limiter::limited;
use crate::units::Decibels;

/// How loud every sound is made, LUFS: with it the sharpest of the built-in effects, the slap, stays under [`CEILING`].
pub const TARGET: f64 = -34.0;

/// The highest true peak of a sound, dBTP. Two sounds at the ceiling that meet would be at full scale; the mix is turned down
/// so that it stays under [`HIGHEST`].
pub const CEILING: f64 = -6.0;

/// Where a sound counts as silent: the absolute gate of BS.1770, LUFS.
const SILENT: f64 = -70.0;

/// What was measured of a sound.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// The highest momentary loudness, LUFS; minus infinity when it is silent.
    pub loudness: f64,
    /// The true peak, dBTP.
    pub peak: f64,
}

impl Measured {
    /// By how much the sound is made louder to be as loud as all others, or as loud as its peak allows; nothing when it
    /// is silent.
    pub fn gain(&self) -> Option<Decibels> {
        if self.loudness.is_nan() || self.loudness < SILENT - 50.0 || !self.peak.is_finite() {
            return None;
        }
        Some(Decibels((TARGET - self.loudness).min(CEILING - self.peak)))
    }
}

/// Measures a sound of one channel; nothing at a rate that cannot be measured.
pub fn measure(sound: &[f32], rate: u32) -> Option<Measured> {
    // Two steps a window are too few for a click between them; forty are not.
    let step = (rate / 100).max(1) as usize;
    let window = vec![0.0f32; step * 40];
    let mut meter = EbuR128::new(1, rate, Mode::M | Mode::TRUE_PEAK).ok()?;
    let mut loudest = f64::NEG_INFINITY;
    for chunk in window.chunks(step).chain(sound.chunks(step)).chain(window.chunks(step)) {
        meter.add_frames_f32(chunk).ok()?;
        loudest = loudest.max(meter.loudness_momentary().ok()?);
    }
    let peak = 20.0 * meter.true_peak(0).ok()?.log10();
    Some(Measured { loudness: loudest, peak })
}

/// How loud a finished track is made, LUFS: for listening over a phone or an earphone, where -16 is what distributors of
/// speech and music ask for (AES TD1008, 2021, from memory); the -23 of EBU R 128 are for broadcast.
pub const LISTENING: f64 = -16.0;
/// The highest true peak that a track, or the mix, may have, dBTP: EBU R 128.
pub const HIGHEST: f64 = -1.0;
/// So near the loudness has to come, LU.
const NEAR: f64 = 0.05;
/// No peak is turned down by more, decibels: a track that asks for more stays softer, and says so.
const MOST_TURNED_DOWN: f64 = 18.0;
/// The most tries.
const TRIES: usize = 12;

/// A finished track.
#[derive(Clone, Debug, PartialEq)]
pub struct Finished {
    /// Its samples.
    pub samples: Vec<f32>,
    /// Its programme loudness, LUFS; minus infinity when it is silent.
    pub loudness: f64,
    /// Its true peak, dBTP.
    pub peak: f64,
}

/// A finished track at the listening level, its true peaks under the highest: what would be over it is turned down for as
/// long as it is (see `limiter`). A silent one stays as it is.
pub fn finished(track: Vec<f32>, rate: u32) -> Finished {
    let (loudness, peak) = programme(&track, rate);
    let mut best = Finished { samples: track.clone(), loudness, peak };
    if !loudness.is_finite() || !peak.is_finite() {
        return best;
    }
    // A twentieth is left for the rounding of samples in a file, and for what two meters of true peaks differ by.
    let ceiling = Decibels(HIGHEST - 0.05).amplitude() as f32;
    let mut gain = LISTENING - loudness;
    for attempt in 0..TRIES {
        let factor = Decibels(gain).amplitude() as f32;
        let louder: Vec<f32> = track.iter().map(|sample| sample * factor).collect();
        let (samples, lowest) = limited(&louder, ceiling, rate);
        let (loudness, peak) = programme(&samples, rate);
        let turned_down = -20.0 * f64::from(lowest).log10();
        if attempt > 0 && turned_down > MOST_TURNED_DOWN {
            break;
        }
        best = Finished { samples, loudness, peak };
        if !loudness.is_finite() || (LISTENING - loudness).abs() <= NEAR {
            break;
        }
        gain += LISTENING - loudness;
    }
    let over = best.peak - (HIGHEST - 0.01);
    if over > 0.0 {
        let factor = Decibels(-over).amplitude() as f32;
        best.samples.iter_mut().for_each(|sample| *sample *= factor);
        (best.loudness, best.peak) = (best.loudness - over, best.peak - over);
    }
    best
}

/// Programme loudness, LUFS, and true peak, dBTP; not finite where there is nothing to measure.
fn programme(track: &[f32], rate: u32) -> (f64, f64) {
    let measured = || -> Option<(f64, f64)> {
        let mut meter = EbuR128::new(1, rate, Mode::I | Mode::TRUE_PEAK).ok()?;
        // One channel is played by both loudspeakers, and counts as two.
        meter.set_channel(0, ebur128::Channel::DualMono).ok()?;
        meter.add_frames_f32(track).ok()?;
        Some((meter.loudness_global().ok()?, 20.0 * meter.true_peak(0).ok()?.log10()))
    };
    measured().unwrap_or((f64::NEG_INFINITY, f64::NEG_INFINITY))
}

/// The sound at the loudness of all others; nothing when it is silent.
pub fn levelled(sound: &[f32], rate: u32) -> Option<Vec<f32>> {
    let factor = measure(sound, rate)?.gain()?.amplitude() as f32;
    Some(sound.iter().map(|sample| sample * factor).collect())
}
