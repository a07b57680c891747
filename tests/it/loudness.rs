//! One loudness for every sound, measured with published signals and by a second meter that is written here.

use std::f64::consts::TAU;

use ebur128::{EbuR128, Mode};
use holdfast::sound::effects::{Effect, TAKES};
use holdfast::sound::loudness::{CEILING, HIGHEST, LISTENING, TARGET, finished, levelled, measure};
use holdfast::sound::recordings::{Clip, Recording};
use holdfast::sound::{Library, Voice, VoiceKind, render_on};
use holdfast::units::{Decibels, Generation, Micros, ServerTime};

const RATE: u32 = 48_000;

fn tone(hertz: f64, peak_db: f64, seconds: f64) -> Vec<f32> {
    let peak = 10f64.powf(peak_db / 20.0);
    let sample = |n: usize| (peak * (TAU * hertz * n as f64 / f64::from(RATE)).sin()) as f32;
    (0..(seconds * f64::from(RATE)) as usize).map(sample).collect()
}

/// Source: ITU-R BS.1770-4, annex 1: a sine of 997 Hz at full scale in one front channel reads -3.01 LKFS.
#[test]
fn the_anchor_of_the_recommendation_reads_as_it_says() {
    let found = measure(&tone(997.0, 0.0, 2.0), RATE).unwrap().loudness;
    assert!((found + 3.01).abs() < 0.05, "{found}");
    assert_eq!(measure(&[], RATE).unwrap().gain(), None);
    assert_eq!(measure(&[0.0; 48_000], RATE).unwrap().gain(), None);
}

/// Source: EBU Tech 3341, table 1, cases 1 to 5: 1 kHz in both channels, integrated loudness -23 LUFS ± 0.1. Our
/// one channel of the same tone is 3.01 LU less at its loudest moment.
#[test]
fn the_meter_reads_the_published_cases() {
    let cases: [&[(f64, f64)]; 5] = [
        &[(-23.0, 20.0)],
        &[(-33.0, 20.0)],
        &[(-36.0, 10.0), (-23.0, 60.0), (-36.0, 10.0)],
        &[(-72.0, 10.0), (-36.0, 10.0), (-23.0, 60.0), (-36.0, 10.0), (-72.0, 10.0)],
        &[(-26.0, 20.0), (-20.0, 20.1), (-26.0, 20.0)],
    ];
    for case in cases {
        let mut meter = EbuR128::new(2, RATE, Mode::I).unwrap();
        for (peak, seconds) in case {
            let one = tone(1_000.0, *peak, *seconds);
            meter.add_frames_planar_f32(&[&one, &one]).unwrap();
        }
        let found = meter.loudness_global().unwrap();
        let expected = if case == cases[1] { -33.0 } else { -23.0 };
        assert!((found - expected).abs() < 0.1, "{case:?}: {found}");
    }
    let loudest = measure(&[tone(1_000.0, -36.0, 1.0), tone(1_000.0, -23.0, 1.0)].concat(), RATE).unwrap().loudness;
    assert!((loudest + 26.01).abs() < 0.1, "{loudest}");
}

/// Source: EBU Tech 3341, table 1, case 6: 1 kHz in five channels (left, right, centre, and two surround, which count
/// more), integrated loudness -23 LUFS ± 0.1.
#[test]
fn the_meter_weighs_the_channels_of_the_published_case() {
    let mut meter = EbuR128::new(5, RATE, Mode::I).unwrap();
    use ebur128::Channel::{Center, Left, LeftSurround, Right, RightSurround};
    meter.set_channel_map(&[Left, Right, Center, LeftSurround, RightSurround]).unwrap();
    let channels = [-28.0, -28.0, -24.0, -30.0, -30.0].map(|peak| tone(1_000.0, peak, 20.0));
    let all: Vec<&[f32]> = channels.iter().map(Vec::as_slice).collect();
    meter.add_frames_planar_f32(&all).unwrap();
    let found = meter.loudness_global().unwrap();
    assert!((found + 23.0).abs() < 0.1, "{found}");
}

/// Source: EBU Tech 3341, cases 15 to 19, +0.2/-0.4 dB. The peaks between the samples are what a meter of samples
/// misses: those read -9.03, -7.27, -6.71 and -0.03 dB.
#[test]
fn true_peaks_are_found_between_the_samples() {
    for (divisor, size, degrees, expected) in [
        (4.0, 0.5, 0.0, -6.0),
        (4.0, 0.5, 45.0, -6.0),
        (6.0, 0.5, 60.0, -6.0),
        (8.0, 0.5, 67.5, -6.0),
        (4.0, 1.41, 45.0, 3.0),
    ] {
        let phase = f64::to_radians(degrees);
        // It begins and ends softly: the published files do, and a step would have a peak of its own.
        let sample = |n: usize| {
            let soft = (n as f64 / 4_800.0).min((48_000 - n) as f64 / 4_800.0).min(1.0);
            (soft * size * (TAU * n as f64 / divisor + phase).sin()) as f32
        };
        let found = measure(&(0..48_000).map(sample).collect::<Vec<f32>>(), RATE).unwrap().peak;
        assert!((-0.4..=0.2).contains(&(found - expected)), "fs/{divisor} at {degrees}°: {found} for {expected}");
    }
}

/// The loudest 400 ms, by the K-weighting of ITU-R BS.1770-4, tables 1 and 2 (48 kHz), moved sample by sample.
fn second_meter(sound: &[f32]) -> f64 {
    let shelf = [1.53512485958697, -2.69169619040638, 1.19839281085285, -1.69065929318241, 0.73248077421585];
    let low_cut = [1.0, -2.0, 1.0, -1.99004745483398, 0.99007225036621];
    let silence = [0.0f32; 19_200];
    let mut signal: Vec<f64> = silence.iter().chain(sound).chain(&silence).map(|sample| f64::from(*sample)).collect();
    for [b0, b1, b2, a1, a2] in [shelf, low_cut] {
        let (mut first, mut second) = (0.0, 0.0);
        for sample in &mut signal {
            let input = *sample;
            *sample = b0 * input + first;
            first = b1 * input - a1 * *sample + second;
            second = b2 * input - a2 * *sample;
        }
    }
    let mut energy: f64 = 0.0;
    let mut loudest: f64 = 0.0;
    for (n, sample) in signal.iter().enumerate() {
        energy += sample * sample - n.checked_sub(19_200).map_or(0.0, |old| signal[old] * signal[old]);
        loudest = loudest.max(energy / 19_200.0);
    }
    -0.691 + 10.0 * loudest.log10()
}

#[test]
fn all_effects_are_equally_loud_and_under_the_ceiling() {
    let library = Library::built_in();
    let shelf = library.shelf(RATE);
    let mut found = Vec::new();
    for effect in Effect::ALL {
        let mut takes = std::collections::BTreeSet::new();
        for nth in 0..200 {
            let kind = library.effect(effect.name(), 3, nth).unwrap().kind;
            let VoiceKind::Effect(id) = kind else { panic!("{effect:?}") };
            if takes.insert(id.take) {
                let sound = shelf.sound(kind);
                let loudness = second_meter(sound);
                assert!((loudness - TARGET).abs() < 0.5, "{effect:?} {}: {loudness} LUFS", id.take);
                let peak = measure(sound, RATE).unwrap().peak;
                assert!(peak <= CEILING + 0.01, "{effect:?} {}: {peak} dBTP", id.take);
                found.push(loudness);
            }
        }
        assert_eq!(takes.len(), usize::from(TAKES), "{effect:?}: all takes are heard");
    }
    let spread = found.iter().fold(f64::MIN, |a, b| a.max(*b)) - found.iter().fold(f64::MAX, |a, b| a.min(*b));
    assert!(spread <= 1.0, "{spread} LU");
}

/// A recording as loud as can be, one that is hardly there, and one that is all peak.
#[test]
fn recordings_are_brought_to_the_same_loudness_or_as_near_as_their_peaks_allow() {
    for (sound, kept_softer) in [(tone(440.0, 0.0, 1.0), false), (tone(440.0, -70.0, 1.0), false), (vec![0.9; 2], true)]
    {
        let made = levelled(&sound, RATE).unwrap();
        let measured = measure(&made, RATE).unwrap();
        assert!(measured.peak <= CEILING + 0.01, "{measured:?}");
        assert_eq!(measured.loudness < TARGET - 0.1, kept_softer, "{measured:?}");
        assert!(measured.loudness < TARGET + 0.1, "{measured:?}");
    }
    let silent = Recording { name: "none".into(), takes: vec![Clip { rate: RATE, samples: vec![0.0; 100].into() }] };
    let library = Library::new(vec![silent], &Default::default());
    let kind = library.effect("none", 1, 0).unwrap().kind;
    assert!(library.shelf(RATE).sound(kind).is_empty());
}

/// However many effects meet, as loud as a level can ask, and whenever they begin: no true peak over -1 dBTP (EBU R 128), as
/// the reference library's translation measures it. Eight at once were at +0.3 dBTP.
#[test]
fn no_true_peak_is_too_high_however_much_meets() {
    let library = Library::built_in();
    let voice = |n: u32, due: i64, level: f64| {
        let effect = Effect::ALL[n as usize % Effect::ALL.len()];
        let kind = library.effect(effect.name(), n, 0).unwrap().kind;
        Voice { due: ServerTime(due), kind, level: Decibels(level), generation: Generation(0) }
    };
    for rate in [RATE, 44_100, 96_000] {
        let render = |voices: &[Voice]| render_on(library.shelf(rate), voices, Micros::seconds(3));
        let peak = |samples: &[f32]| {
            let mut meter = EbuR128::new(1, rate, Mode::TRUE_PEAK).unwrap();
            meter.add_frames_f32(samples).unwrap();
            20.0 * meter.true_peak(0).unwrap().log10()
        };
        for (count, apart, level) in [(64, 0, 24.0), (64, 7_000, 24.0), (8, 0, 9.0), (64, 20_011, 12.0), (64, 333, 6.0)]
        {
            let voices: Vec<Voice> = (0..count).map(|n| voice(n, 1_000 + i64::from(n) * apart, level)).collect();
            let out = render(&voices);
            let peak = peak(&out);
            assert!((-4.0..=HIGHEST).contains(&peak), "{count} at {level} dB, {apart} µs apart, {rate}: {peak} dBTP");
            let begins = (1_000 * i64::from(rate) + 500_000) / 1_000_000;
            assert_eq!(out.iter().position(|sample| *sample != 0.0), Some(begins as usize), "no onset is moved");
        }
        // At their own levels four of them meet untouched: that is the headroom.
        let four: Vec<Voice> = (0..4).map(|n| voice(n, 1_000, 0.0)).collect();
        let alone: Vec<Vec<f32>> = four.iter().map(|voice| render(&[*voice])).collect();
        for (n, sample) in render(&four).into_iter().enumerate() {
            let sum: f32 = alone.iter().map(|alone| alone[n]).sum();
            assert!((sample - sum).abs() < 1e-6, "sample {n}");
        }
    }
}

/// Source: programme loudness by ITU-R BS.1770 and EBU R 128 as the reference library's translation measures it; -16 LUFS
/// for listening (AES TD1008, 2021, from memory), maximum true peak -1 dBTP (EBU R 128). Steady, sparse and uneven tracks
/// come out as loud as each other.
#[test]
fn a_finished_track_is_at_the_listening_level_with_its_true_peaks_under_the_highest() {
    let blows: Vec<f32> =
        (0..480_000).map(|n| if n % 48_000 < 1_440 { 0.2 * (n as f32 * 0.2).sin() } else { 0.0 }).collect();
    let uneven: Vec<f32> = tone(700.0, -40.0, 10.0).iter().zip(&blows).map(|(tone, blow)| tone + 4.0 * blow).collect();
    for track in [tone(1_000.0, -40.0, 10.0), tone(1_000.0, 0.0, 10.0), blows, uneven] {
        let made = finished(track, RATE);
        let mut meter = EbuR128::new(2, RATE, Mode::I | Mode::TRUE_PEAK).unwrap();
        meter.add_frames_planar_f32(&[&made.samples, &made.samples]).unwrap();
        let (loudness, peak) = (meter.loudness_global().unwrap(), 20.0 * meter.true_peak(0).unwrap().log10());
        assert!((loudness - LISTENING).abs() <= 0.1 && peak <= HIGHEST, "{loudness} LUFS, {peak} dBTP");
        assert!(
            (loudness - made.loudness).abs() < 0.02 && (peak - made.peak).abs() < 0.02,
            "it says so: {} {}",
            made.loudness,
            made.peak
        );
    }
    assert_eq!(finished(vec![0.0; 100], RATE).samples, vec![0.0; 100]);
    // Forty samples a second can be at the highest peak and are still not so loud: no peak is turned down for ever.
    let ticks: Vec<f32> = (0..480_000).map(|n| if n % 48_000 < 40 { 0.2 } else { 0.0 }).collect();
    let made = finished(ticks, RATE);
    assert!(made.loudness < LISTENING && made.peak <= HIGHEST, "{} LUFS, {} dBTP", made.loudness, made.peak);
}
