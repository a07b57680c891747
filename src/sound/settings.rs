//! What a company may choose about the sound output.

use super::delay::through_air;
use super::hold_call::HoldSettings;
use crate::units::{Decibels, Metres, Micros};

/// The settings of the sound output. Values that the device does not offer never stop the sound: the nearest that it
/// offers is taken, and the status says so. Only a device that is not there does, because sound on another device
/// might come out over the audience.
#[derive(Clone, Debug, PartialEq)]
pub struct SoundSettings {
    /// The device by its name or its identifier, as [`super::device_names`] lists them; nothing is the machine's own
    /// choice.
    pub device: Option<String>,
    /// Samples per second; nothing is 48,000 or what the device prefers.
    pub rate: Option<u32>,
    /// Frames that are mixed at a time. Few: a hold is silent sooner. Many: fewer drop-outs on a busy machine. Nothing
    /// is [`SoundSettings::USUAL_BUFFER`].
    pub buffer_frames: Option<u32>,
    /// The level of click and accent.
    pub click_level: Decibels,
    /// What the device does not know of its own delay: amplifier, radio, processor. Voices are sent early by it.
    pub latency: Micros,
    /// From the loudspeaker to the place for which sounds are to be in time; voices are sent early by the way through
    /// the air as well.
    pub distance: Metres,
    /// How warm that air is, degrees Celsius.
    pub celsius: f64,
    /// What is said when a hold is called, and how loud.
    pub hold: HoldSettings,
}

impl SoundSettings {
    /// The buffer when nothing else is asked for: 21 ms at 48 kHz, of which a device holds two.
    pub const USUAL_BUFFER: u32 = 1024;

    /// Everything that the device does not know of the delay.
    pub fn house_delay(&self) -> Micros {
        self.latency + through_air(self.distance, self.celsius)
    }
}

impl Default for SoundSettings {
    fn default() -> SoundSettings {
        SoundSettings {
            device: None,
            rate: None,
            buffer_frames: None,
            click_level: Decibels(0.0),
            latency: Micros::ZERO,
            distance: Metres(0.0),
            celsius: 20.0,
            hold: HoldSettings::default(),
        }
    }
}
