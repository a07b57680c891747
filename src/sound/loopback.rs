//! The loop-back aid: accents are played, a microphone (or a cable) hears them, and how much later than their times they
//! arrive is what `latency_ms` has to be. Finding them is pure; recording them is a stream of cpal's.

use std::time::Duration;

use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{FromSample, InputCallbackInfo, SampleFormat, SizedSample, StreamConfig};
use rtrb::{Producer, RingBuffer};

use super::click::ACCENT;
use super::hush::hush;
use crate::time::ServerClock;
use crate::units::{Micros, ServerTime};

/// An impulse is looked for from so long before its time.
const BEFORE: Micros = Micros::millis(50);
/// One that begins so long after it is the last that is looked for.
const AFTER: Micros = Micros::millis(700);
/// What is as like an accent as this (the correlation coefficient) is one.
const LIKE_ENOUGH: f64 = 0.5;
/// The longest recording, seconds.
const LONGEST: usize = 60;

/// What was recorded.
#[derive(Clone, Debug)]
pub struct Recorded {
    /// Samples per second.
    pub rate: u32,
    /// Its samples, one channel.
    pub samples: Vec<f32>,
    /// When its first sample was in the air, as the device says.
    pub began: ServerTime,
}

impl Recorded {
    /// How much later than `due` an accent is in the recording; nothing when none is like one. To a sample.
    pub fn lateness(&self, due: ServerTime) -> Option<Micros> {
        let accent = ACCENT.render(self.rate);
        let own: f64 = accent.iter().map(|value| f64::from(*value).powi(2)).sum();
        let at = |time: ServerTime| time.since(self.began).0.max(0) as u64 * u64::from(self.rate) / 1_000_000;
        let (first, last) = (usize::try_from(at(due - BEFORE)).ok()?, usize::try_from(at(due + AFTER)).ok()?);
        // One that begins at the last moment is heard to its end.
        let end = last.saturating_add(accent.len()).min(self.samples.len());
        let window = self.samples.get(first..end)?;
        let alike = |heard: &[f32]| {
            let (mut both, mut its) = (0.0, 0.0);
            for (heard, played) in heard.iter().zip(&accent) {
                both += f64::from(*heard) * f64::from(*played);
                its += f64::from(*heard).powi(2);
            }
            // A cable may turn the sound upside down.
            let both = both.abs();
            (its > 1e-9 && both > LIKE_ENOUGH * (own * its).sqrt()).then_some(both)
        };
        // What rings out is like its own beginning, only softer: the loudest of what is alike is the accent.
        let all = window.windows(accent.len()).map(alike).enumerate();
        let (place, _) = all.filter_map(|(n, both)| Some((n, both?))).max_by(|a, b| a.1.total_cmp(&b.1))?;
        let heard = (first + place) as f64 * 1e6 / f64::from(self.rate);
        Some(Micros(self.began.since(due).0 + heard.round() as i64))
    }
}

/// A recording under way.
pub struct Recording {
    stream: cpal::Stream,
    samples: rtrb::Consumer<f32>,
    stamps: rtrb::Consumer<(u64, ServerTime)>,
    rate: u32,
    /// What hears.
    pub device: String,
}

impl Recording {
    /// Begins to record from the input of that name, or from the machine's own choice.
    ///
    /// # Errors
    /// A sentence when there is none that can be used.
    pub fn begin(name: Option<&str>, clock: ServerClock) -> Result<Recording, String> {
        hush();
        let host = cpal::default_host();
        let device = match name {
            None => host.default_input_device().ok_or("this machine has no input that could hear anything")?,
            Some(wanted) => {
                let mut inputs = host.input_devices().map_err(|error| format!("no inputs can be listed ({error})"))?;
                let found = inputs.find(|device| names(device).iter().any(|name| name.eq_ignore_ascii_case(wanted)));
                found.ok_or_else(|| format!("there is no input “{wanted}”"))?
            }
        };
        let named = names(&device).into_iter().next().unwrap_or_default();
        let not = |error: cpal::Error| format!("the input “{named}” cannot be used ({error})");
        let config = device.default_input_config().map_err(not)?;
        let rate = config.sample_rate();
        let (samples_in, samples) = RingBuffer::new(LONGEST * usize::try_from(rate).unwrap_or(192_000));
        let (stamps_in, stamps) = RingBuffer::new(LONGEST * 1_000);
        let ear = Ear { samples: samples_in, stamps: stamps_in, heard: 0, clock };
        let stream = match config.sample_format() {
            SampleFormat::F32 => listen::<f32>(&device, config.into(), ear),
            SampleFormat::I16 => listen::<i16>(&device, config.into(), ear),
            SampleFormat::I32 => listen::<i32>(&device, config.into(), ear),
            SampleFormat::U8 => listen::<u8>(&device, config.into(), ear),
            other => return Err(format!("the input “{named}” gives samples of a kind that is not read ({other})")),
        };
        let stream = stream.and_then(|stream| stream.play().map(|()| stream)).map_err(not)?;
        Ok(Recording { stream, samples, stamps, rate, device: named })
    }

    /// How much was recorded so far.
    pub fn length(&self) -> Micros {
        Micros(self.samples.slots() as i64 * 1_000_000 / i64::from(self.rate.max(1)))
    }

    /// Ends it.
    pub fn finish(mut self) -> Recorded {
        drop(self.stream);
        let samples: Vec<f32> = std::iter::from_fn(|| self.samples.pop().ok()).collect();
        // Each block says when it was in the air; the middle one of all says when the first sample was.
        let period = 1e6 / f64::from(self.rate);
        let stamps = std::iter::from_fn(|| self.stamps.pop().ok());
        let mut begins: Vec<i64> = stamps.map(|(at, time)| time.0 - (at as f64 * period).round() as i64).collect();
        begins.sort_unstable();
        let began = ServerTime(begins.get(begins.len() / 2).copied().unwrap_or_default());
        Recorded { rate: self.rate, samples, began }
    }
}

/// What runs on the input's thread.
struct Ear {
    samples: Producer<f32>,
    stamps: Producer<(u64, ServerTime)>,
    heard: u64,
    clock: ServerClock,
}

fn listen<T>(device: &cpal::Device, config: StreamConfig, mut ear: Ear) -> Result<cpal::Stream, cpal::Error>
where
    T: SizedSample,
    f32: FromSample<T>,
{
    let channels = usize::from(config.channels.max(1));
    let hear = move |block: &[T], info: &InputCallbackInfo| {
        let stamps = info.timestamp();
        let ago = stamps.callback.checked_duration_since(stamps.capture).unwrap_or_default();
        let in_the_air = ear.clock.now() - Micros(i64::try_from(ago.as_micros()).unwrap_or(0));
        // A full ring is the end of the recording.
        let _ = ear.stamps.push((ear.heard, in_the_air));
        for frame in block.chunks_exact(channels) {
            let first = frame.first().map_or(0.0, |sample| f32::from_sample_(*sample));
            ear.heard += u64::from(ear.samples.push(first).is_ok());
        }
    };
    device.build_input_stream(config, hear, |_| {}, Some(Duration::from_millis(500)))
}

fn names(device: &cpal::Device) -> Vec<String> {
    let readable = device.description().map(|description| description.name().to_owned()).ok();
    let identifier = device.id().map(|id| id.id().to_owned()).ok();
    identifier.into_iter().chain(readable).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// White noise from -1 to 1: one that repeats itself would be a tone, which can pull the accent by one of its own turns.
    fn noise(seed: u32) -> impl Iterator<Item = f32> {
        let step = |state: &u32| Some(state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223));
        std::iter::successors(Some(seed), step).map(|state| (state >> 8) as f32 / 8_388_608.0 - 1.0)
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(12))]
        /// Soft, upside down, in noise: found at its sample.
        #[test]
        fn an_accent_is_found_at_its_sample(late in 0u64..30_000, turned in any::<bool>(), seed in any::<u32>()) {
            let rate = 48_000u32;
            let mut samples: Vec<f32> = noise(seed).take(96_000).map(|value| value * 0.01).collect();
            let begin = 24_000 + usize::try_from(late).unwrap();
            for (n, value) in ACCENT.render(rate).into_iter().enumerate() {
                samples[begin + n] += value * if turned { -0.2 } else { 0.2 };
            }
            let recorded = Recorded { rate, samples, began: ServerTime(7_000_000) };
            let found = recorded.lateness(ServerTime(7_500_000));
            let expected = (late as f64 / 0.048).round() as i64;
            prop_assert!(found.is_some_and(|found| (found.0 - expected).abs() <= 21), "{:?}, expected {}", found, expected);
        }
    }

    #[test]
    fn silence_and_noise_are_no_accent() {
        let began = ServerTime(0);
        let silent = Recorded { rate: 48_000, samples: vec![0.0; 96_000], began };
        assert_eq!(silent.lateness(ServerTime(500_000)), None);
        let noisy = Recorded { rate: 48_000, samples: noise(1).take(96_000).collect(), began };
        assert_eq!(noisy.lateness(ServerTime(500_000)), None);
        let short = Recorded { rate: 48_000, samples: Vec::new(), began };
        assert_eq!(short.lateness(ServerTime(500_000)), None);
    }
}
