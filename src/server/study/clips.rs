//! The sounds of fights, for a device that plays them by itself: one take of each, small enough for a mail.

use std::collections::BTreeSet;

use data_encoding::BASE64;

use crate::sound::practice::flac;
use crate::sound::recordings::Clip;
use crate::sound::{Library, Named};
use crate::units::Micros;
use crate::wire::{Lesson, SoundClip};

/// Samples per second: what is above 12 kHz is not missed over a phone, and the file is half as large.
const RATE: u32 = 24_000;
/// The bits of a sample.
const BITS: u16 = 16;
/// The rate at which the library's sounds are taken: that which the loudspeakers have as well, so that they are there.
const FROM: u32 = 48_000;
/// What is softer than this at the end of a sound is cut off: 66 dB below full scale, under the noise of any room.
const UNHEARD: f32 = 0.0005;

/// One of each sound that these fights ask for and that the library has.
///
/// # Errors
/// A sentence when a sound cannot be written.
pub(super) fn clips<'l>(
    lessons: impl Iterator<Item = &'l Lesson>,
    library: &Library,
) -> Result<Vec<SoundClip>, String> {
    let names: BTreeSet<&str> = lessons.flat_map(|it| it.sounds.iter().map(|sound| sound.name.as_str())).collect();
    let found = names.into_iter().filter_map(|name| Some((name, library.effect(name, 0, 0)?)));
    found.map(|(name, named)| clip(name, named, library)).collect()
}

fn clip(name: &str, named: Named, library: &Library) -> Result<SoundClip, String> {
    let samples = library.shelf(FROM).sound(named.kind).to_vec();
    let heard = samples.iter().rposition(|sample| sample.abs() > UNHEARD).map_or(0, |last| last + 1);
    let clip = Clip { rate: FROM, samples: samples.get(..heard).unwrap_or_default().into() };
    let flac =
        flac(&clip.at_rate(RATE), RATE, BITS).map_err(|why| format!("the sound {name} cannot be written ({why})"))?;
    let early: Micros = named.attack - named.trim;
    Ok(SoundClip { name: name.to_owned(), gain_db: named.gain.0, early_us: early.0, flac: BASE64.encode(&flac) })
}
