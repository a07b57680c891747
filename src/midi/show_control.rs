//! MIDI Show Control: GO, STOP and RESUME for the sound desk. Pure.
//!
//! The frame is `F0 7F device 02 format command data F7`; a cue number is written in ASCII digits and points (MMA
//! RP-002/014). The commands are those of the recommended practice: GO 01, STOP 02, RESUME 03. A table with other
//! numbers is in circulation; `tests/it/midi_show_control.rs` keeps this one right.

use super::bytes::Message;

/// What show control is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Command {
    /// Begin a cue.
    Go,
    /// Stand still.
    Stop,
    /// Go on where it stood.
    Resume,
}

impl Command {
    const fn byte(self) -> u8 {
        match self {
            Command::Go => 0x01,
            Command::Stop => 0x02,
            Command::Resume => 0x03,
        }
    }
}

/// Whom it is for: 0 to 111 one device, 112 to 126 a group, 127 all.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Device(u8);

impl Device {
    /// Every device.
    pub const ALL: Device = Device(0x7F);

    /// That device, or nothing above 127.
    pub const fn new(number: u8) -> Option<Device> {
        if number < 0x80 { Some(Device(number)) } else { None }
    }
}

/// The kind of device it is for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Format {
    /// Lighting.
    Lighting,
    /// Strobes.
    Strobes,
    /// Lasers.
    Lasers,
    /// Sound.
    #[default]
    Sound,
    /// Music.
    Music,
    /// Machinery.
    Machinery,
    /// Flys.
    Flys,
    /// Video.
    Video,
    /// Projection.
    Projection,
    /// Process control.
    Process,
    /// Fog.
    Fog,
    /// Pyrotechnics.
    Pyro,
    /// Every kind.
    All,
}

impl Format {
    /// Every format with its name in `production.toml`.
    pub const WORDS: [(&'static str, Format); 13] = [
        ("lighting", Format::Lighting),
        ("strobes", Format::Strobes),
        ("lasers", Format::Lasers),
        ("sound", Format::Sound),
        ("music", Format::Music),
        ("machinery", Format::Machinery),
        ("flys", Format::Flys),
        ("video", Format::Video),
        ("projection", Format::Projection),
        ("process", Format::Process),
        ("fog", Format::Fog),
        ("pyro", Format::Pyro),
        ("all", Format::All),
    ];

    const fn byte(self) -> u8 {
        match self {
            Format::Lighting => 0x01,
            Format::Strobes => 0x04,
            Format::Lasers => 0x05,
            Format::Sound => 0x10,
            Format::Music => 0x11,
            Format::Machinery => 0x20,
            Format::Flys => 0x22,
            Format::Video => 0x30,
            Format::Projection => 0x40,
            Format::Process => 0x50,
            Format::Fog => 0x56,
            Format::Pyro => 0x60,
            Format::All => 0x7F,
        }
    }
}

/// A show control message. Without a cue it is for whatever runs. A cue is digits and points, at most
/// [`LONGEST_CUE`] of them; whatever else stands in it is left out, because a receiver would refuse the whole message.
pub fn message(device: Device, format: Format, command: Command, cue: Option<&str>) -> Message {
    let cue = cue.unwrap_or_default().bytes().filter(|byte| byte.is_ascii_digit() || *byte == b'.').take(LONGEST_CUE);
    let mut bytes = vec![0xF0, 0x7F, device.0, 0x02, format.byte(), command.byte()];
    bytes.extend(cue);
    bytes.push(0xF7);
    Message::new(&bytes)
}

/// The longest cue number, in characters.
pub const LONGEST_CUE: usize = Message::LONGEST - 7;
