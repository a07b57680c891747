//! The click and the accent, computed: a small wooden bar that is struck.
//!
//! A free bar rings at the ratios 1 : 2.7565 : 5.4039 (W. T. Thomson, *Theory of Vibration with Applications*, table
//! 9.5-1: (βL)² of 22.3733, 61.6728, 120.9034), which is what makes wood sound like wood and not like a beep. Each
//! mode is a sine that decays exponentially; the higher ones die sooner, as they do in wood. That the accent is higher
//! and rings longer than the click is common practice, no source.

use std::f64::consts::TAU;

/// The ratios of the first three modes of a free bar to the lowest.
const BAR: [f64; 3] = [1.0, 2.7565, 5.4039];

/// How strongly a hard stick near the middle excites each mode: by ear.
const STRENGTH: [f64; 3] = [1.0, 0.5, 0.3];

/// The highest sample of every click and accent: -6 dB of full scale, so that two that meet do not clip.
pub const PEAK: f64 = 0.501_187_233_627_272_2;

/// A struck bar.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Block {
    /// The lowest mode, hertz.
    pub pitch: f64,
    /// The time in which the lowest mode decays by 60 dB, seconds. The sound ends there.
    pub decay: f64,
}

/// An ordinary beat.
pub const CLICK: Block = Block { pitch: 1_100.0, decay: 0.050 };

/// The first beat of a bar: a fifth higher, and rings longer.
pub const ACCENT: Block = Block { pitch: 1_650.0, decay: 0.080 };

impl Block {
    /// The sound at `rate` samples per second, one channel, highest sample [`PEAK`]. It begins with its first sample
    /// (which is never zero) and its last few milliseconds are drawn to exactly zero. Modes above 0.45 of the rate are
    /// left out: they would fold back.
    pub fn render(&self, rate: u32) -> Vec<f32> {
        let rate = f64::from(rate);
        let length = (self.decay * rate).ceil() as usize;
        let close = (0.004 * rate).ceil().min(length as f64);
        let raw: Vec<f64> = (0..length)
            .map(|n| {
                let left = (length - 1 - n) as f64;
                self.at((n + 1) as f64 / rate, rate) * (left / close).min(1.0)
            })
            .collect();
        let highest = raw.iter().fold(0.0f64, |high, value| high.max(value.abs()));
        let scale = if highest > 0.0 { PEAK / highest } else { 0.0 };
        raw.iter().map(|value| (value * scale) as f32).collect()
    }

    /// The sum of the modes `time` seconds after the blow.
    fn at(&self, time: f64, rate: f64) -> f64 {
        BAR.iter()
            .zip(STRENGTH)
            .filter(|(ratio, _)| self.pitch * **ratio < 0.45 * rate)
            .map(|(ratio, strength)| {
                // A thousandth of the amplitude is 60 dB.
                let fall = 1_000f64.ln() * ratio / self.decay;
                strength * (-fall * time).exp() * (TAU * self.pitch * ratio * time).sin()
            })
            .sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The magnitude of one frequency in `sound`: a direct Fourier sum with a Hann window.
    fn magnitude(sound: &[f32], hertz: f64, rate: f64) -> f64 {
        let n = sound.len() as f64;
        let (mut re, mut im) = (0.0, 0.0);
        for (i, value) in sound.iter().enumerate() {
            let window = 0.5 - 0.5 * (TAU * i as f64 / n).cos();
            let phase = TAU * hertz * i as f64 / rate;
            re += f64::from(*value) * window * phase.cos();
            im += f64::from(*value) * window * phase.sin();
        }
        re.hypot(im)
    }

    fn strongest(sound: &[f32], from: f64, to: f64, rate: f64) -> f64 {
        let mut best = (0.0, 0.0);
        let mut hertz = from;
        while hertz <= to {
            let size = magnitude(sound, hertz, rate);
            if size > best.1 {
                best = (hertz, size);
            }
            hertz += 2.0;
        }
        best.0
    }

    /// Source: Thomson, table 9.5-1, free-free bar: the ratios of (βL)² are 2.7565 and 5.4039.
    #[test]
    fn the_partials_are_those_of_a_free_bar() {
        for block in [CLICK, ACCENT] {
            let sound = block.render(48_000);
            for ratio in [22.3733, 61.6728, 120.9034].map(|square| square / 22.3733) {
                let expected = block.pitch * ratio;
                let found = strongest(&sound, expected * 0.9, expected * 1.1, 48_000.0);
                // One bin of a Fourier transform of this length.
                assert!((found - expected).abs() < 1.0 / block.decay, "{found} Hz for {expected} Hz");
            }
        }
    }

    #[test]
    fn it_decays_as_documented_starts_at_once_and_ends_in_silence() {
        for block in [CLICK, ACCENT] {
            for rate in [8_000, 22_050, 44_100, 48_000, 96_000, 192_000] {
                let sound = block.render(rate);
                assert_eq!(sound.len(), (block.decay * f64::from(rate)).ceil() as usize);
                let highest = sound.iter().fold(0.0f32, |high, value| high.max(value.abs()));
                assert!((f64::from(highest) - PEAK).abs() < 1e-6);
                assert!(sound[0] != 0.0 && sound[sound.len() - 1] == 0.0);
                // 60 dB over the whole decay are 30 dB over half of it; the higher modes only make it fall faster.
                let energy = |from: f64, to: f64| {
                    let part = &sound[(from * sound.len() as f64) as usize..(to * sound.len() as f64) as usize];
                    part.iter().map(|value| f64::from(*value).powi(2)).sum::<f64>()
                };
                let fall = 10.0 * (energy(0.2, 0.3) / energy(0.6, 0.7)).log10();
                assert!((22.0..30.0).contains(&fall), "{fall} dB in 40 % of the decay, at {rate} Hz");
            }
        }
    }

    #[test]
    fn click_and_accent_are_told_apart() {
        let pitch = |block: Block| strongest(&block.render(48_000), 500.0, 2_500.0, 48_000.0);
        let ratio = pitch(ACCENT) / pitch(CLICK);
        assert!((1.45..1.55).contains(&ratio), "the accent is a fifth higher: {ratio}");
    }
}
