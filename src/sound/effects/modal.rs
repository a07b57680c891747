//! Modal synthesis: a body is a list of modes, each a sine that dies away exponentially; a blow gives each of them a
//! push. What is heard is their sum, and nothing else: no sample and no noise.

use std::f64::consts::{FRAC_PI_4, PI, TAU};

/// One way in which a body vibrates.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mode {
    /// Its frequency.
    pub hertz: f64,
    /// The rate of its exponential, 1/s; it takes ln 1000 over this to fall by 60 dB.
    pub fall: f64,
}

impl Mode {
    /// The time in which it falls by 60 dB, seconds.
    pub fn t60(&self) -> f64 {
        1_000f64.ln() / self.fall
    }
}

/// A push to every mode at one moment.
#[derive(Clone, Debug, PartialEq)]
pub struct Push {
    /// When, seconds.
    pub at: f64,
    /// How hard each mode is pushed, in the order of the modes.
    pub amounts: Vec<f64>,
}

/// What is left of a mode when it is left out: -120 dB.
const GONE: f64 = 1e-6;
/// After so many samples it is looked whether it is over.
const LOOK: usize = 256;

/// The sum of the modes for `length` seconds. A push at 0 sounds from sample 0 on. Modes above 0.45 of the rate are
/// left out: they would fold back.
pub fn ring(modes: &[Mode], pushes: &[Push], length: f64, rate: u32) -> Vec<f64> {
    let rate = f64::from(rate);
    let mut out = vec![0.0; (length * rate).ceil() as usize];
    for (number, mode) in modes.iter().enumerate().filter(|(_, mode)| mode.hertz < 0.45 * rate) {
        let amounts = pushes.iter().map(|push| {
            let sample = (push.at * rate).round() as usize;
            (sample, push.amounts.get(number).copied().unwrap_or(0.0))
        });
        add_mode(mode, amounts, rate, &mut out);
    }
    out
}

/// Turns a pointer once a sample, and shortens it; a push makes it longer along the real axis, and its imaginary part
/// is heard, so that no push makes a step.
fn add_mode(mode: &Mode, pushes: impl Iterator<Item = (usize, f64)>, rate: f64, out: &mut [f64]) {
    let shrink = (-mode.fall / rate).exp();
    let (sine, cosine) = (TAU * mode.hertz / rate).sin_cos();
    let (turn_re, turn_im) = (shrink * cosine, shrink * sine);
    let (mut re, mut im) = (0.0f64, 0.0f64);
    let mut pushes = pushes.peekable();
    let mut n = 0;
    while n < out.len() {
        while let Some((_, amount)) = pushes.next_if(|(at, _)| *at <= n) {
            re += amount;
        }
        // Nothing is asked within a stretch, neither whether it is over nor for pushes: there are millions of samples.
        let look = (n / LOOK + 1) * LOOK;
        let until = pushes.peek().map_or(look, |(at, _)| look.min(*at)).min(out.len());
        let Some(stretch) = out.get_mut(n..until) else { return };
        for sample in stretch {
            (re, im) = (re * turn_re - im * turn_im, re * turn_im + im * turn_re);
            *sample += im;
        }
        n = until;
        if n % LOOK == 0 && re.abs() + im.abs() < GONE {
            (re, im) = (0.0, 0.0);
            match pushes.peek() {
                Some((at, _)) => n = n.max(*at),
                None => return,
            }
        }
    }
}

/// How much of a blow that lasts `touch` seconds, with the force of half a sine, reaches this frequency: its spectrum,
/// 1 at the lowest frequencies. Two bodies that meet are parted again after about one such time (Hertz's contact).
pub fn touch_spectrum(hertz: f64, touch: f64) -> f64 {
    let x = 2.0 * hertz * touch;
    if (x - 1.0).abs() < 1e-6 {
        return FRAC_PI_4;
    }
    ((PI * x / 2.0).cos() / (1.0 - x * x)).abs()
}

/// How well a bar of this width is heard at this frequency: a bar that moves air from one of its sides to the other is
/// a line of dipoles, which below ka = 1 loses 9 dB an octave in pressure for a given velocity (from memory, after
/// texts on sound radiation), and above is heard in full.
pub fn heard_from(hertz: f64, width: f64) -> f64 {
    const SOUND: f64 = 343.2;
    let x = (hertz * PI * width / SOUND).powf(1.5);
    x / (1.0 + x)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_spectrum_of_a_blow_is_that_of_half_a_sine() {
        // The Fourier integral itself, summed.
        for (hertz, touch) in [(100.0, 2e-4), (2_500.0, 2e-4), (2_501.0, 2e-4), (9_000.0, 3e-4), (12_000.0, 1e-4)] {
            let steps = 20_000;
            let (mut re, mut im, mut area) = (0.0, 0.0, 0.0);
            for n in 0..steps {
                let time = (f64::from(n) + 0.5) / f64::from(steps) * touch;
                let force = (PI * time / touch).sin();
                re += force * (TAU * hertz * time).cos();
                im += force * (TAU * hertz * time).sin();
                area += force;
            }
            let found = touch_spectrum(hertz, touch);
            assert!((found - re.hypot(im) / area).abs() < 1e-4, "{hertz} Hz: {found}");
        }
    }

    #[test]
    fn a_mode_is_a_dying_sine_from_its_first_sample() {
        let mode = Mode { hertz: 440.0, fall: 20.0 };
        let push = |at| Push { at, amounts: vec![1.0] };
        let out = ring(&[mode], &[push(0.0), push(0.5)], 1.0, 48_000);
        for (n, sample) in out.iter().enumerate().take(24_000) {
            let time = (n + 1) as f64 / 48_000.0;
            let exact = (-20.0 * time).exp() * (TAU * 440.0 * time).sin();
            assert!((sample - exact).abs() < 1e-9, "{n}");
        }
        let early = out.iter().take(12_000).fold(0.0f64, |high, s| high.max(s.abs()));
        let late = out.iter().skip(24_000).fold(0.0f64, |high, s| high.max(s.abs()));
        assert!((early - late).abs() < 0.02, "the second push is as strong");
        assert!(ring(&[Mode { hertz: 23_000.0, fall: 1.0 }], &[push(0.0)], 0.1, 48_000).iter().all(|s| *s == 0.0));
    }
}
