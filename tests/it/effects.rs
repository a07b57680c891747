//! The computed effects against beam theory: what rings, at which frequencies, and how fast it dies away.

use std::collections::BTreeSet;
use std::f64::consts::{PI, TAU};

use holdfast::score::vocabulary::Vocabulary;
use holdfast::sound::Library;
use holdfast::sound::effects::beam::{Bar, Ends};
use holdfast::sound::effects::material::{HARDWOOD, Material, STEEL};
use holdfast::sound::effects::modal::{Mode, Push, ring};
use holdfast::sound::effects::{Effect, TAKES};
use realfft::RealFftPlanner;

const RATE: u32 = 48_000;

/// The magnitudes of the spectrum of the first `length` samples, under a Hann window.
fn spectrum(sound: &[f64], length: usize) -> Vec<f64> {
    let mut windowed: Vec<f64> = (0..length)
        .map(|n| sound.get(n).copied().unwrap_or(0.0) * (0.5 - 0.5 * (TAU * n as f64 / length as f64).cos()))
        .collect();
    let transform = RealFftPlanner::<f64>::new().plan_fft_forward(length);
    let mut bins = transform.make_output_vec();
    transform.process(&mut windowed, &mut bins).unwrap();
    bins.iter().map(|bin| bin.norm()).collect()
}

/// The places of the local maxima that are within `depth` dB of the highest.
fn peaks(spectrum: &[f64], depth: f64) -> Vec<usize> {
    let floor = spectrum.iter().fold(0.0f64, |high, size| high.max(*size)) * 10f64.powf(-depth / 20.0);
    let top = |n: &usize| {
        let (before, here, after) = (spectrum[n - 1], spectrum[*n], spectrum[n + 1]);
        here > floor && here >= before && here > after
    };
    (1..spectrum.len() - 1).filter(top).collect()
}

fn rendered(effect: Effect, take: u8) -> Vec<f64> {
    effect.render(take, RATE).iter().map(|sample| f64::from(*sample)).collect()
}

#[test]
fn every_sound_of_the_built_in_vocabulary_is_there_and_nothing_else() {
    let vocabulary = Vocabulary::built_in();
    let library = Library::built_in();
    for name in vocabulary.sounds.keys() {
        assert!(library.effect(name, 1, 0).is_some(), "{name}");
    }
    let named: BTreeSet<&str> = vocabulary.sounds.keys().map(String::as_str).collect();
    assert!(library.names().all(|name| named.contains(name)));
    assert!(library.effect("thunder", 1, 0).is_none());
}

/// Source: Thomson, *Theory of Vibration with Applications*, table 9.5-1 and appendix D, worked for a free steel bar of
/// 0.9 m by 5 mm, E 200 GPa, ρ 7850: 32.0276, 88.2853, 173.0745 and 286.1010 Hz.
#[test]
fn a_bar_of_the_textbook_rings_at_the_frequencies_of_the_textbook() {
    let material = Material { youngs: 200e9, density: 7_850.0, loss: 1e-4 };
    let bar = Bar { ends: Ends::Free, length: 0.9, gyration: 0.005 / 12f64.sqrt(), material };
    let modes: Vec<Mode> =
        bar.modes(0.0, 300.0).into_iter().map(|(_, hertz)| Mode { hertz, fall: material.fall(hertz) }).collect();
    let length = 65_536;
    let sound = ring(&modes, &[Push { at: 0.0, amounts: vec![1.0; modes.len()] }], 1.5, RATE);
    let found = peaks(&spectrum(&sound, length), 20.0);
    let expected = [32.0276, 88.2853, 173.0745, 286.1010].map(|hertz| hertz * length as f64 / f64::from(RATE));
    assert_eq!(found.len(), expected.len());
    for (found, expected) in found.iter().zip(expected) {
        assert!((*found as f64 - expected).abs() <= 1.0, "bin {found} for {expected}");
    }
}

/// Every peak of rendered steel and wood is a mode of one of its two bars, within one bin; and the modes are those of
/// bars: held ones have roots βL → (n - 1/2)π and free ones (n + 1/2)π (Thomson, appendix D), frequencies going as
/// their squares. Nothing else is in the sound.
#[test]
fn rendered_metal_and_wood_have_no_peaks_but_those_of_their_bars() {
    for (effect, ends) in [(Effect::Steel, Ends::Held), (Effect::HeavySteel, Ends::Free), (Effect::Wood, Ends::Free)] {
        for take in 0..TAKES {
            let modes = effect.modes(take);
            for bar in bars(&modes) {
                assert_is_a_bar(&bar, ends);
            }
            // As long as most of it lasts: a longer window would only look at silence.
            let length = if effect == Effect::Wood { 8_192 } else { 32_768 };
            let bin = f64::from(RATE) / length as f64;
            let found = peaks(&spectrum(&rendered(effect, take), length), 30.0);
            assert!(found.len() >= 8, "{effect:?} {take}: {} peaks", found.len());
            for peak in found {
                let hertz = peak as f64 * bin;
                let nearest = modes.iter().map(|mode| (mode.hertz - hertz).abs()).fold(f64::MAX, f64::min);
                // Bounces and falling amplitudes make side lobes beside a strong mode; they are within its width.
                let width = modes.iter().map(|mode| mode.fall / PI).fold(0.0, f64::max).max(bin) + bin;
                assert!(nearest <= width, "{effect:?} {take}: a peak at {hertz} Hz, {nearest} Hz from any mode");
            }
        }
    }
}

/// The modes of each of the two bars, which are listed one after the other.
fn bars(modes: &[Mode]) -> Vec<Vec<Mode>> {
    let second = modes.windows(2).position(|pair| pair[1].hertz < pair[0].hertz).unwrap() + 1;
    vec![modes[..second].to_vec(), modes[second..].to_vec()]
}

/// The square roots of the frequencies are spaced evenly, and count from where this kind of bar counts.
fn assert_is_a_bar(modes: &[Mode], ends: Ends) {
    let roots: Vec<f64> = modes.iter().map(|mode| mode.hertz.sqrt()).collect();
    let step = (roots[roots.len() - 1] - roots[5]) / (roots.len() - 6) as f64;
    let last = roots[roots.len() - 1] / step;
    let off = match ends {
        Ends::Held => last + 0.5,
        Ends::Free => last - 0.5,
    };
    assert!((off - off.round()).abs() < 1e-3, "{ends:?}: {last} steps");
    for (n, root) in roots.iter().enumerate().skip(5) {
        let exact = (last - (roots.len() - 1 - n) as f64) * step;
        assert!((root / exact - 1.0).abs() < 1e-4);
    }
}

/// Schroeder's backward integration of one mode (M. R. Schroeder, 1965; ISO 3382 reads T20 off it from -5 to -25 dB):
/// it dies away as its damping says, within a twentieth.
#[test]
fn modes_of_rendered_steel_die_away_as_their_damping_says() {
    for effect in [Effect::Steel, Effect::HeavySteel] {
        let mut looked_at = 0;
        for take in 0..TAKES {
            let (sound, modes) = (rendered(effect, take), effect.modes(take));
            for mode in modes.iter().filter(|mode| (700.0..9_000.0).contains(&mode.hertz)) {
                let others = modes.iter().filter(|other| *other != mode);
                let apart = others.map(|other| (other.hertz - mode.hertz).abs()).fold(f64::MAX, f64::min);
                if apart < 110.0 {
                    continue;
                }
                // After the last bounce, and only where the mode stands out of the rest at all.
                let Some(t60) = t20_of(&sound, mode.hertz) else { continue };
                looked_at += 1;
                let off = t60 / mode.t60() - 1.0;
                assert!(
                    off.abs() < 0.05,
                    "{effect:?} {take}, {:.0} Hz: {t60:.3} s for {:.3} s",
                    mode.hertz,
                    mode.t60()
                );
            }
        }
        assert!(looked_at >= 10, "{effect:?}: {looked_at} modes stand alone");
    }
}

/// T60 by Schroeder's integral, from -5 to -25 dB, of a band 40 Hz to either side; nothing when the band is not mainly
/// one mode's.
fn t20_of(sound: &[f64], hertz: f64) -> Option<f64> {
    let late = &sound[(0.06 * f64::from(RATE)) as usize..];
    // Heterodyned to 0 Hz and smoothed twice over a window whose zeros keep the neighbours out.
    let width = (f64::from(RATE) / 80.0) as usize;
    let (mut re, mut im): (Vec<f64>, Vec<f64>) = late
        .iter()
        .enumerate()
        .map(|(n, sample)| {
            let phase = TAU * hertz * n as f64 / f64::from(RATE);
            (sample * phase.cos(), sample * phase.sin())
        })
        .unzip();
    for _ in 0..3 {
        (re, im) = (smoothed(&re, width), smoothed(&im, width));
    }
    let power: Vec<f64> = re.iter().zip(&im).map(|(re, im)| re * re + im * im).collect();
    if power.iter().fold(0.0f64, |high, power| high.max(*power)) < 1e-7 {
        return None;
    }
    let mut left = 0.0;
    let mut integral: Vec<f64> = power
        .iter()
        .rev()
        .map(|power| {
            left += power;
            left
        })
        .collect();
    integral.reverse();
    let whole = integral[0];
    let reaches = |db: f64| integral.iter().position(|left| 10.0 * (left / whole).log10() <= db);
    let (from, to) = (reaches(-5.0)?, reaches(-25.0)?);
    // What is cut off at the end must not bend the line.
    (to < integral.len() * 3 / 4).then(|| 3.0 * (to - from) as f64 / f64::from(RATE))
}

/// The running mean of `width` samples, where there are as many.
fn smoothed(signal: &[f64], width: usize) -> Vec<f64> {
    let mut sum: f64 = signal.iter().take(width).sum();
    let mut out = vec![sum];
    for (new, old) in signal.iter().skip(width).zip(signal) {
        sum += new - old;
        out.push(sum);
    }
    out
}

/// Source: the rule T60 = 2.2 / (f η) of structure-borne sound (from memory, after Cremer, Heckl and Ungar); and loss
/// factors of steel from 1 to 6 in ten thousand, of wood from 6 to 20 in a thousand (from memory, the same).
#[test]
fn losses_are_those_that_are_published() {
    for (material, low, high) in [(STEEL, 1e-4, 6e-4), (HARDWOOD, 6e-3, 2e-2)] {
        assert!((low..=high).contains(&material.loss));
        for hertz in [200.0, 1_000.0, 5_000.0] {
            let mode = Mode { hertz, fall: material.fall(hertz) };
            assert!((mode.t60() / (2.2 / (hertz * material.loss)) - 1.0).abs() < 1e-3);
        }
    }
}

/// Metal rings long and wood does not; a heavy blade is lower than a light one and rings longer; a bell rings longest.
#[test]
fn each_sounds_like_what_it_is() {
    let of = |effect: Effect| (0..TAKES).map(|take| character(&rendered(effect, take))).collect::<Vec<_>>();
    let (light, heavy, bell, wood) = (of(Effect::Steel), of(Effect::HeavySteel), of(Effect::Bell), of(Effect::Wood));
    let below = |one: &[(f64, f64)], other: &[(f64, f64)], read: fn(&(f64, f64)) -> f64| {
        let highest = one.iter().map(read).fold(f64::MIN, f64::max);
        let lowest = other.iter().map(read).fold(f64::MAX, f64::min);
        highest < lowest
    };
    let middle = |it: &(f64, f64)| it.0;
    let lasting = |it: &(f64, f64)| it.1;
    assert!(below(&heavy, &light, middle), "heavy steel is lower: {heavy:?} {light:?}");
    assert!(below(&light, &heavy, lasting), "heavy steel lasts longer: {heavy:?} {light:?}");
    assert!(below(&wood, &light, lasting) && below(&wood, &heavy, middle), "wood is dry: {wood:?}");
    assert!(below(&light, &bell, lasting), "a bell rings: {bell:?}");
    for (effect, low, high) in [
        (Effect::Punch, 50.0, 400.0),
        (Effect::Fall, 40.0, 400.0),
        (Effect::Swish, 400.0, 3_000.0),
        (Effect::Slap, 500.0, 5_000.0),
    ] {
        for (middle, _) in of(effect) {
            assert!((low..high).contains(&middle), "{effect:?}: {middle} Hz");
        }
    }
}

/// The middle of the spectrum by energy, hertz, and the time after which a thousandth of the energy is left, seconds.
fn character(sound: &[f64]) -> (f64, f64) {
    let length = 65_536;
    let energies: Vec<f64> =
        spectrum(&[vec![0.0; 20_000], sound.to_vec()].concat(), length).iter().map(|s| s * s).collect();
    let whole: f64 = energies.iter().sum();
    let weighted: f64 = energies.iter().enumerate().map(|(n, energy)| n as f64 * energy).sum();
    let energy: f64 = sound.iter().map(|sample| sample * sample).sum();
    let mut left = energy;
    let last = sound.iter().position(|sample| {
        left -= sample * sample;
        left < energy / 1_000.0
    });
    (weighted / whole * f64::from(RATE) / length as f64, last.unwrap_or(0) as f64 / f64::from(RATE))
}

#[test]
fn takes_differ_and_come_out_the_same_every_time() {
    for effect in Effect::ALL {
        let takes: Vec<Vec<f32>> = (0..TAKES).map(|take| effect.render(take, 22_050)).collect();
        assert_eq!(takes[1], effect.render(1, 22_050), "{effect:?}");
        for (n, one) in takes.iter().enumerate() {
            for other in &takes[..n] {
                // Not the same sound a little louder or longer either: as vectors they point in different directions.
                let product = |a: &[f32], b: &[f32]| a.iter().zip(b).map(|(a, b)| f64::from(a * b)).sum::<f64>();
                let alike = product(one, other) / (product(one, one) * product(other, other)).sqrt();
                assert!(alike.abs() < 0.99, "{effect:?}: {alike}");
            }
        }
    }
}

#[test]
fn at_every_rate_they_begin_at_once_end_in_silence_and_are_numbers() {
    for rate in [8_000, 11_025, 44_100, 96_000, 192_000] {
        for effect in Effect::ALL {
            let sound = effect.render(0, rate);
            let highest = sound.iter().fold(0.0f32, |high, sample| high.max(sample.abs()));
            assert!(sound.iter().all(|sample| sample.is_finite()), "{effect:?} at {rate} Hz");
            assert!((0.99..=1.0).contains(&highest), "{effect:?} at {rate} Hz: {highest}");
            assert!(sound[0] != 0.0 && sound[sound.len() - 1] == 0.0, "{effect:?} at {rate} Hz");
            let seconds = sound.len() as f64 / f64::from(rate);
            assert!((0.03..2.6).contains(&seconds), "{effect:?} at {rate} Hz: {seconds} s");
        }
    }
}
