//! The output device: choosing one, opening it, and the callback that it calls.

use std::num::NonZero;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering::Relaxed};
use std::sync::mpsc::Sender;
use std::time::Duration;

use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{BufferSize, ErrorKind, FromSample, OutputCallbackInfo, SampleFormat, SizedSample, StreamConfig};
use cpal::{SupportedBufferSize, SupportedStreamConfig, SupportedStreamConfigRange};

use super::hush::hush;
use super::lease::Lease;
use super::player::{Player, Stamp};
use super::sample::SampleNumber;
use super::settings::SoundSettings;
use super::shared::Shared;
use crate::time::ServerClock;
use crate::units::Micros;

/// Why there is no sound where there is nothing to choose from.
pub(super) const NO_DEVICE: &str = "this machine has no sound device";

/// A device, and how it will be run.
pub(super) struct Choice {
    device: cpal::Device,
    /// Its name, for people.
    pub(super) name: String,
    format: SampleFormat,
    channels: NonZero<u16>,
    /// Samples per second.
    pub(super) rate: NonZero<u32>,
    /// Frames that are mixed at a time; 0 when the device is to decide.
    pub(super) buffer: u32,
    /// What is not as it was asked for: a sentence, or nothing.
    pub(super) note: String,
}

/// How one stream is. Each has its own, so that one which hangs and is given up cannot speak for its successor.
#[derive(Debug, Default)]
pub(super) struct Health {
    /// Times that it took samples: its heartbeat.
    pub(super) calls: AtomicU64,
    /// Its error reports, all of them: one gap may be reported a thousand times.
    pub(super) errors: AtomicU64,
    /// It is of no further use.
    pub(super) broken: AtomicBool,
    /// It was given up: nothing that it reports matters any more.
    pub(super) given_up: AtomicBool,
}

/// What a stream needs besides the device.
pub(super) struct Needs<'a> {
    pub(super) health: &'a Arc<Health>,
    pub(super) shared: &'a Arc<Shared>,
    pub(super) clock: ServerClock,
    pub(super) latency: Micros,
    pub(super) home: &'a Sender<Player>,
}

/// The names by which output devices can be chosen.
pub fn device_names() -> Vec<String> {
    hush();
    let Ok(devices) = cpal::default_host().output_devices() else { return Vec::new() };
    let mut names: Vec<String> = devices.filter(usable).map(|device| identifier(&device)).collect();
    names.dedup();
    names
}

/// Looks for the device that the settings ask for; the sentence says why there is none.
pub(super) fn choose(settings: &SoundSettings) -> Result<Choice, String> {
    let host = cpal::default_host();
    let device = match &settings.device {
        None => host.default_output_device().ok_or(NO_DEVICE)?,
        Some(wanted) => named(&host, wanted)?,
    };
    let name = readable(&device);
    let offers: Vec<SupportedStreamConfigRange> = device
        .supported_output_configs()
        .map_err(|error| not_opened(settings, &name, &error))?
        .filter(|offer| is_ours(offer.sample_format()))
        .collect();
    let (offer, rate_note) = best_offer(&offers, settings.rate)
        .ok_or_else(|| format!("the sound device “{name}” takes no kind of samples that we can give"))?;
    let (buffer, buffer_note) = buffer_of(offer.buffer_size(), settings.buffer_frames);
    let rate = NonZero::new(offer.sample_rate()).ok_or_else(|| format!("the sound device “{name}” names no rate"))?;
    let channels = NonZero::new(offer.channels()).ok_or_else(|| format!("“{name}” has no channels"))?;
    let note = format!("{rate_note}{buffer_note}");
    Ok(Choice { device, name, format: offer.sample_format(), channels, rate, buffer, note })
}

/// Opens the stream and sets it going; `player` comes home when it fails or ends.
pub(super) fn start(choice: &Choice, player: Player, needs: &Needs) -> Result<cpal::Stream, String> {
    let stream = match choice.format {
        SampleFormat::F32 => build::<f32>(choice, player, needs),
        SampleFormat::F64 => build::<f64>(choice, player, needs),
        SampleFormat::I32 => build::<i32>(choice, player, needs),
        SampleFormat::I16 => build::<i16>(choice, player, needs),
        SampleFormat::U16 => build::<u16>(choice, player, needs),
        SampleFormat::U8 => build::<u8>(choice, player, needs),
        other => Err(cpal::Error::with_message(ErrorKind::UnsupportedConfig, format!("{other} samples"))),
    };
    let started = stream.and_then(|stream| stream.play().map(|()| stream));
    started.map_err(|error| format!("the sound device “{}” cannot be started ({error})", choice.name))
}

fn build<T: SizedSample + FromSample<f32>>(
    choice: &Choice,
    player: Player,
    needs: &Needs,
) -> Result<cpal::Stream, cpal::Error> {
    let mut player = player.for_people();
    player.move_to(choice.rate.get());
    let (stamp, position) = (player.stamp(), player.position());
    let (mixer, source) = rodio::mixer::mixer(choice.channels, choice.rate);
    mixer.add(Lease::new(player, choice.rate, needs.home.clone()));
    let mut callback = Callback {
        source,
        stamp,
        position,
        channels: usize::from(choice.channels.get()),
        clock: needs.clock,
        latency: needs.latency,
        shared: Arc::clone(needs.shared),
        health: Arc::clone(needs.health),
    };
    let mut report = Report { shared: Arc::clone(needs.shared), health: Arc::clone(needs.health), calls: u64::MAX };
    let config = StreamConfig {
        channels: choice.channels.get(),
        sample_rate: choice.rate.get(),
        buffer_size: if choice.buffer == 0 { BufferSize::Default } else { BufferSize::Fixed(choice.buffer) },
    };
    choice.device.build_output_stream(
        config,
        move |out: &mut [T], info: &OutputCallbackInfo| callback.fill(out, info),
        move |error| report.take(&error),
        Some(Duration::from_millis(500)),
    )
}

/// What runs on the audio thread: leaves the time stamp, then pulls rodio's mixer.
struct Callback {
    source: rodio::mixer::MixerSource,
    stamp: Arc<Stamp>,
    position: SampleNumber,
    channels: usize,
    clock: ServerClock,
    latency: Micros,
    shared: Arc<Shared>,
    health: Arc<Health>,
}

impl Callback {
    fn fill<T: SizedSample + FromSample<f32>>(&mut self, out: &mut [T], info: &OutputCallbackInfo) {
        let stamps = info.timestamp();
        let ahead = stamps.playback.checked_duration_since(stamps.callback).unwrap_or_default();
        let delay = Micros(i64::try_from(ahead.as_micros()).unwrap_or(0)) + self.latency;
        self.stamp.leave(self.position, self.clock.now() + delay);
        for sample in out.iter_mut() {
            *sample = T::from_sample(self.source.next().unwrap_or(0.0));
        }
        self.position.0 += (out.len() / self.channels) as i64;

        let smooth = self.shared.delay_us.load(Relaxed);
        let smoother = if smooth == 0 { delay.0 } else { smooth + (delay.0 - smooth) / 16 };
        self.shared.delay_us.store(smoother, Relaxed);
        self.health.calls.fetch_add(1, Relaxed);
    }
}

/// What the device reports while it runs, on the audio thread: it only counts, and the supervisor does the talking.
struct Report {
    shared: Arc<Shared>,
    health: Arc<Health>,
    calls: u64,
}

impl Report {
    fn take(&mut self, error: &cpal::Error) {
        if self.health.given_up.load(Relaxed) {
            return;
        }
        self.health.errors.fetch_add(1, Relaxed);
        let calls = self.health.calls.load(Relaxed);
        match error.kind() {
            ErrorKind::DeviceNotAvailable | ErrorKind::HostUnavailable | ErrorKind::StreamInvalidated => {
                self.health.broken.store(true, Relaxed);
            }
            ErrorKind::RealtimeDenied => return,
            ErrorKind::DeviceChanged => self.shared.jumped.store(true, Relaxed),
            ErrorKind::Xrun if calls != self.calls => {
                // One gap is reported many times: it is a new one only when samples were taken in between.
                self.shared.jumped.store(true, Relaxed);
                self.shared.underruns.fetch_add(1, Relaxed);
                self.calls = calls;
                return;
            }
            _ => {}
        }
        // Reports that repeat themselves come in thousands, and would keep a whole core busy: no samples are being taken
        // now anyway. A sound daemon that has just started reports like this too, and then recovers.
        std::thread::sleep(Duration::from_millis(1));
    }
}

fn named(host: &cpal::Host, wanted: &str) -> Result<cpal::Device, String> {
    let devices: Vec<cpal::Device> =
        host.output_devices().map(|devices| devices.filter(usable).collect()).unwrap_or_default();
    let found = devices.iter().find(|device| {
        [identifier(device), readable(device)].iter().any(|name| name.eq_ignore_ascii_case(wanted.trim()))
    });
    found.cloned().ok_or_else(|| {
        let names: Vec<String> = devices.iter().map(|device| format!("“{}”", identifier(device))).collect();
        let there_are = if names.is_empty() { "none at all".into() } else { names.join(", ") };
        format!("there is no sound device “{}”; there are: {there_are}", wanted.trim())
    })
}

fn not_opened(settings: &SoundSettings, name: &str, error: &cpal::Error) -> String {
    match error.kind() {
        ErrorKind::DeviceNotAvailable | ErrorKind::HostUnavailable if settings.device.is_none() => {
            "this machine has no sound device that can be used".into()
        }
        _ => format!("the sound device “{name}” cannot be opened ({error})"),
    }
}

/// libasound also lists what is not to be heard on: its converters, and one that swallows everything as fast as it can.
const NOT_DEVICES: [&str; 7] = ["null", "lavrate", "samplerate", "speexrate", "speex", "upmix", "vdownmix"];

fn usable(device: &cpal::Device) -> bool {
    !NOT_DEVICES.contains(&identifier(device).as_str())
}

fn identifier(device: &cpal::Device) -> String {
    device.id().map_or_else(|_| readable(device), |id| id.id().to_owned())
}

fn readable(device: &cpal::Device) -> String {
    device.description().map_or_else(|_| "unnamed".into(), |description| description.name().to_owned())
}

fn is_ours(format: SampleFormat) -> bool {
    use SampleFormat::{F32, F64, I16, I32, U8, U16};
    matches!(format, F32 | F64 | I32 | I16 | U16 | U8)
}

/// The best of what is offered, at the wanted rate if it can be had, and a note when it cannot.
fn best_offer(offers: &[SupportedStreamConfigRange], wanted: Option<u32>) -> Option<(SupportedStreamConfig, String)> {
    let best = |fits: &dyn Fn(&&SupportedStreamConfigRange) -> bool| {
        offers.iter().filter(fits).max_by(|a, b| a.cmp_default_heuristics(b))
    };
    if let Some(rate) = wanted.filter(|rate| (8_000..=192_000).contains(rate))
        && let Some(offer) = best(&|offer| offer.contains_rate(rate))
    {
        return Some((offer.with_sample_rate(rate), String::new()));
    }
    let offer = best(&|_| true)?;
    let config = offer.try_with_standard_sample_rate().unwrap_or_else(|| offer.with_max_sample_rate());
    let note = wanted.map_or(String::new(), |rate| {
        let (least, most) = (offer.min_sample_rate().max(8_000), offer.max_sample_rate().min(192_000));
        format!(" It cannot run at {rate} Hz, as the settings ask; choose from {least} to {most} Hz.")
    });
    Some((config, note))
}

/// The buffer that is asked for, within what the device takes, and a note when it had to be changed.
fn buffer_of(offered: &SupportedBufferSize, wanted: Option<u32>) -> (u32, String) {
    let asked = wanted.unwrap_or(SoundSettings::USUAL_BUFFER);
    let (least, most) = match offered {
        SupportedBufferSize::Range { min, max } => ((*min).max(16), (*max).clamp(16, 16_384)),
        SupportedBufferSize::Unknown => (16, 16_384),
    };
    let taken = asked.clamp(least.min(most), most);
    let note = if wanted.is_some() && taken != asked {
        format!(" A buffer of {asked} frames cannot be had, so it is {taken}; choose from {least} to {most}.")
    } else {
        String::new()
    };
    (taken, note)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rate_that_nobody_has_is_said_and_another_is_taken() {
        let range = |least, most| {
            let buffer = SupportedBufferSize::Range { min: 64, max: 4096 };
            SupportedStreamConfigRange::new(2, least, most, buffer, SampleFormat::F32)
        };
        let offers = [range(44_100, 48_000)];
        let (config, note) = best_offer(&offers, Some(48_000)).unwrap();
        assert_eq!((config.sample_rate(), note), (48_000, String::new()));
        for nobodys in [12_345, 1, u32::MAX] {
            let (config, note) = best_offer(&offers, Some(nobodys)).unwrap();
            assert!((44_100..=48_000).contains(&config.sample_rate()));
            let says = format!(" It cannot run at {nobodys} Hz, as the settings ask; choose from 44100 to 48000 Hz.");
            assert_eq!(note, says);
        }
        assert!(best_offer(&[], Some(48_000)).is_none());
    }

    #[test]
    fn a_buffer_that_cannot_be_had_is_the_nearest_and_is_said() {
        let range = SupportedBufferSize::Range { min: 64, max: 4096 };
        assert_eq!(buffer_of(&range, None), (1024, String::new()));
        assert_eq!(buffer_of(&range, Some(2048)), (2048, String::new()));
        let (taken, note) = buffer_of(&range, Some(1));
        assert_eq!(taken, 64);
        assert!(note.contains("choose from 64 to 4096"));
        assert_eq!(buffer_of(&SupportedBufferSize::Unknown, Some(u32::MAX)).0, 16_384);
        assert_eq!(buffer_of(&SupportedBufferSize::Range { min: 32_768, max: 65_536 }, None).0, 16_384);
    }
}
