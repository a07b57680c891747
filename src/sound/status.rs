//! How the sound is, for the desk.

use serde::Serialize;

use super::delay::Delay;
use crate::units::Micros;

/// Beyond the device's own delay, the time for a voice to get from the desk to the audio thread.
const ON_THE_WAY: Micros = Micros::millis(30);

/// The state of the sound output, with a sentence for a person.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SoundStatus {
    /// The device's name; empty while there is none.
    pub device: String,
    /// Samples per second.
    pub rate: u32,
    /// Frames that are mixed at a time.
    pub buffer: u32,
    /// From mixing a sample to hearing it, microseconds: what the device says, smoothed, and the calibrated latency.
    /// A voice must be planned earlier than this and one buffer; a hold is silent after this, one buffer and 5 ms.
    pub latency_us: i64,
    /// The parts of that latency.
    pub delay: Delay,
    /// True when everything is as it was asked for: the device plays, or sound was switched off on purpose.
    pub well: bool,
    /// A sentence for the desk.
    pub says: String,
    /// Voices that were planned: each of them waits, or has sounded, or was late, silenced or dropped.
    pub planned: u64,
    /// Voices that began.
    pub sounded: u64,
    /// Voices that were dropped because they came too late.
    pub late: u64,
    /// Voices that died with their generation before they began.
    pub silenced: u64,
    /// Voices for which there was no room.
    pub dropped: u64,
    /// Times the device ran dry: each is a gap that could be heard.
    pub underruns: u64,
    /// How often a device was looked for.
    pub tries: u64,
    /// How often a hold was called out, whether or not anybody could hear it.
    pub calls: u64,
}

impl SoundStatus {
    /// How long before it is heard a voice must be planned.
    pub fn lead(&self) -> Micros {
        let buffer = i64::from(self.buffer) * 1_000_000 / i64::from(self.rate.max(1));
        Micros(self.latency_us.max(0) + 2 * buffer) + ON_THE_WAY
    }
}
