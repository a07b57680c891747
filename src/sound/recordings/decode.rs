//! From the bytes of a file to samples, by the crate `symphonia`. What a file is, is decided by its bytes and not by its
//! name.

use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind};

use symphonia::core::codecs::audio::AudioDecoderOptions;
use symphonia::core::errors::Error;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, FormatReader, TrackType};
use symphonia::core::io::MediaSourceStream;
use symphonia::core::meta::MetadataOptions;

use super::{Clip, LONGEST};

/// Rates that sound is recorded at.
const RATES: std::ops::RangeInclusive<u32> = 8_000..=192_000;
/// Channels that are added up at the most.
const CHANNELS: usize = 32;
/// Parts of a file that may be broken before it is given up.
const BROKEN: u32 = 16;

/// What was found in a file.
#[derive(Debug, Default)]
struct Found {
    rate: u32,
    samples: Vec<f32>,
    /// How many samples the file says it has.
    promised: Option<u64>,
    no_numbers: u64,
    broken: u32,
    cut: bool,
}

/// The sound in a file whose name ends in `ending`, and a note when it is not as it should be.
///
/// # Errors
/// A sentence for a person.
pub(super) fn decode(bytes: Vec<u8>, ending: &str) -> Result<(Clip, Option<String>), String> {
    // A decoder that stumbles over a broken file must not take the desk down with it.
    let decoded = catch_unwind(AssertUnwindSafe(|| decoded(bytes)));
    let (kind, found) = decoded.unwrap_or_else(|_| Err("it is broken; export it again".to_owned()))?;
    if found.samples.is_empty() {
        return Err("it holds no sound; export it again".to_owned());
    }
    if found.samples.iter().all(|sample| *sample == 0.0) {
        return Err("it is silent from beginning to end; export it again".to_owned());
    }
    let notes: Vec<String> =
        [mislabelled(kind, ending), cut_short(&found), no_numbers(&found)].into_iter().flatten().collect();
    let note = (!notes.is_empty()).then(|| notes.join("; "));
    Ok((Clip { rate: found.rate, samples: found.samples.into() }, note))
}

fn decoded(bytes: Vec<u8>) -> Result<(&'static str, Found), String> {
    let source = MediaSourceStream::new(Box::new(Cursor::new(bytes)), Default::default());
    let format = symphonia::default::get_probe().probe(
        &Hint::new(),
        source,
        FormatOptions::default(),
        MetadataOptions::default(),
    );
    let format = format.map_err(|_| {
        "it is no WAV, FLAC, OGG (Vorbis) or MP3 file, whatever its name says; export it again".to_owned()
    })?;
    let kind = format.format_info().short_name;
    Ok((kind, samples(format)?))
}

/// Decodes packet by packet, until the end, the limit, or too much that is broken.
fn samples(mut format: Box<dyn FormatReader + '_>) -> Result<Found, String> {
    let no_sound = || "there is no sound in it that can be read; export it again as WAV".to_owned();
    let track = format.default_track(TrackType::Audio).ok_or_else(no_sound)?;
    let parameters = track.codec_params.as_ref().and_then(|parameters| parameters.audio()).ok_or_else(no_sound)?;
    let options = AudioDecoderOptions::default();
    let mut decoder =
        symphonia::default::get_codecs().make_audio_decoder(parameters, &options).map_err(|_| no_sound())?;
    let mut found = Found { promised: track.num_frames, ..Found::default() };
    let id = track.id;
    let mut interleaved: Vec<f32> = Vec::new();
    loop {
        let packet = match format.next_packet() {
            Ok(Some(packet)) => packet,
            Ok(None) => break,
            Err(_) => {
                found.cut = true;
                break;
            }
        };
        if packet.track_id != id {
            continue;
        }
        match decoder.decode(&packet) {
            Ok(decoded) => {
                found.set_rate(decoded.spec().rate())?;
                let channels = decoded.num_planes();
                if channels > CHANNELS {
                    return Err(format!("it has {channels} channels; export it with one or two"));
                }
                decoded.copy_to_vec_interleaved(&mut interleaved);
                found.add(&interleaved, channels.max(1))?;
            }
            Err(Error::DecodeError(_)) if found.broken < BROKEN => found.broken += 1,
            Err(_) => {
                found.cut = true;
                break;
            }
        }
    }
    Ok(found)
}

impl Found {
    fn set_rate(&mut self, rate: u32) -> Result<(), String> {
        if !RATES.contains(&rate) {
            return Err(format!("it has {rate} samples a second, which is no rate for sound; export it at 48000"));
        }
        if self.rate != 0 && self.rate != rate {
            return Err("its rate changes on the way; export it again at 48000 samples a second".to_owned());
        }
        self.rate = rate;
        Ok(())
    }

    /// Adds the mean of the channels, with silence for what is no number.
    fn add(&mut self, interleaved: &[f32], channels: usize) -> Result<(), String> {
        for frame in interleaved.chunks(channels) {
            let mean = frame.iter().sum::<f32>() / channels as f32;
            // Beyond a thousand times full scale it is a mistake, and would make everything else inaudible.
            let good = mean.abs() <= 1_000.0;
            self.no_numbers += u64::from(!good);
            self.samples.push(if good { mean } else { 0.0 });
        }
        if self.samples.len() as u64 > u64::from(LONGEST) * u64::from(self.rate) {
            return Err(format!("it is longer than {LONGEST} seconds; cut out what is to be heard"));
        }
        Ok(())
    }
}

fn mislabelled(kind: &str, ending: &str) -> Option<String> {
    let right = match kind {
        "wave" => "wav",
        "ogg" => "ogg",
        "flac" => "flac",
        _ => "mp3",
    };
    (right != ending).then(|| format!("it is really a .{right} file; it is used, but give it its right name"))
}

fn cut_short(found: &Found) -> Option<String> {
    let seconds = |samples: f64| samples / f64::from(found.rate);
    let heard = seconds(found.samples.len() as f64);
    match found.promised {
        // The frame that decoders and encoders disagree about is no loss.
        Some(promised) if promised > found.samples.len() as u64 + 2_400 => {
            let promised = seconds(promised as f64);
            Some(format!("it is cut short: {heard:.2} of {promised:.2} seconds are there and are used; copy it again"))
        }
        _ if found.cut || found.broken > 0 => {
            Some(format!("parts of it are broken: {heard:.2} seconds are there and are used; copy it again"))
        }
        _ => None,
    }
}

fn no_numbers(found: &Found) -> Option<String> {
    let count = found.no_numbers;
    (count > 0).then(|| format!("{count} of its samples are no sound levels and are silent; export it again"))
}
