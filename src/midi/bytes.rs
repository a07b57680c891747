//! The bytes of MIDI 1.0 messages (MIDI 1.0 Detailed Specification 4.2.1): channel voice, channel mode, system common
//! and system real time. Values that have a range are checked where they are made, and only there.

use std::fmt;

/// Timing clock, 24 to the quarter note.
pub const CLOCK: u8 = 0xF8;
/// Start from the beginning at the next clock.
pub const START: u8 = 0xFA;
/// Go on from the song position at the next clock.
pub const CONTINUE: u8 = 0xFB;
/// Stop.
pub const STOP: u8 = 0xFC;
/// The controller that silences every voice at once, releases left out.
pub const ALL_SOUND_OFF: u8 = 120;
/// The controller that lets go of every note.
pub const ALL_NOTES_OFF: u8 = 123;

/// A value of seven bits: a note, a velocity, a controller. 0 to 127.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SevenBits(u8);

impl SevenBits {
    /// The value, or nothing above 127.
    pub const fn new(value: u8) -> Option<SevenBits> {
        if value < 0x80 { Some(SevenBits(value)) } else { None }
    }

    /// The nearest value in range.
    pub const fn nearest(value: i64) -> SevenBits {
        SevenBits(if value < 0 {
            0
        } else if value > 127 {
            127
        } else {
            value as u8
        })
    }

    /// The value.
    pub const fn get(self) -> u8 {
        self.0
    }
}

/// A channel. People count from 1 to 16, the bytes from 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Channel(u8);

impl Channel {
    /// The channel that people call by this number, or nothing outside 1 … 16.
    pub const fn number(number: u8) -> Option<Channel> {
        if number >= 1 && number <= 16 { Some(Channel(number - 1)) } else { None }
    }

    /// The channel of a status byte.
    pub const fn of_status(status: u8) -> Channel {
        Channel(status & 0x0F)
    }

    /// As people count, from 1.
    pub const fn as_number(self) -> u8 {
        self.0 + 1
    }

    /// As the bytes count, from 0.
    pub const fn as_bits(self) -> u8 {
        self.0
    }
}

/// A note on a channel.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Note {
    /// The channel.
    pub channel: Channel,
    /// The key; 60 is middle C.
    pub key: SevenBits,
}

/// One message, whole: a status byte and its data, or a system exclusive from F0 to F7. At most [`Message::LONGEST`]
/// bytes; without a heap, so that planning and sending allocate nothing.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Message {
    length: u8,
    bytes: [u8; Message::LONGEST],
}

impl Message {
    /// The longest message that is ever sent, in bytes.
    pub const LONGEST: usize = 24;

    /// The message of these bytes, cut off at the longest. The makers of messages keep within it.
    pub fn new(bytes: &[u8]) -> Message {
        let mut message = Message { length: 0, bytes: [0; Message::LONGEST] };
        for (place, byte) in message.bytes.iter_mut().zip(bytes) {
            *place = *byte;
            message.length += 1;
        }
        message
    }

    /// Its bytes.
    pub fn as_bytes(&self) -> &[u8] {
        self.bytes.get(..usize::from(self.length)).unwrap_or_default()
    }

    /// The channel that it plays on, if it is a channel message.
    pub fn channel(&self) -> Option<Channel> {
        let status = *self.as_bytes().first()?;
        (0x80..0xF0).contains(&status).then_some(Channel::of_status(status))
    }
}

impl fmt::Debug for Message {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{self}")
    }
}

impl fmt::Display for Message {
    /// Hexadecimal, as MIDI people read it: `90 3C 60`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, byte) in self.as_bytes().iter().enumerate() {
            let space = if index == 0 { "" } else { " " };
            write!(f, "{space}{byte:02X}")?;
        }
        Ok(())
    }
}

/// A note begins. Velocity 0 would end it (the specification's second way of saying note off), so it is raised to 1.
pub fn note_on(note: Note, velocity: SevenBits) -> Message {
    Message::new(&[0x90 | note.channel.0, note.key.0, velocity.0.max(1)])
}

/// A note ends, with the usual release velocity 64.
pub fn note_off(note: Note) -> Message {
    Message::new(&[0x80 | note.channel.0, note.key.0, 0x40])
}

/// All sound off, then all notes off: the first silences, the second leaves no key down.
pub fn panic(channel: Channel) -> [Message; 2] {
    [ALL_SOUND_OFF, ALL_NOTES_OFF].map(|controller| Message::new(&[0xB0 | channel.0, controller, 0]))
}

/// A real-time byte.
pub fn real_time(byte: u8) -> Message {
    Message::new(&[byte])
}

/// The place from which a continue goes on, in sixteenths (6 clocks each). Fourteen bits: places beyond 16,383 (4,095
/// quarters, over half an hour at 120) are told as the last that can be said.
pub fn song_position(sixteenths: i64) -> Message {
    let place = sixteenths.clamp(0, 0x3FFF);
    Message::new(&[0xF2, (place & 0x7F) as u8, (place >> 7) as u8])
}
