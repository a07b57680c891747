//! Standard MIDI Files 1.0: chunks, variable-length quantities, meta events. Pure; whoever asks writes the bytes.

use super::bytes::Message;
use crate::units::Ticks;

/// The longest length of time that a file can say between two events.
pub const LONGEST: u32 = 0x0FFF_FFFF;

/// A track: events at their places, in any order.
#[derive(Clone, Debug, Default)]
pub struct Track {
    events: Vec<Event>,
}

#[derive(Clone, Debug)]
struct Event {
    at: Ticks,
    rank: u8,
    bytes: Vec<u8>,
}

impl Track {
    /// A track with its name.
    pub fn named(name: &str) -> Track {
        let mut track = Track::default();
        track.words(Ticks::ZERO, 0x03, name);
        track
    }

    /// The tempo from here on, in whole microseconds a beat; the file has 24 bits for it.
    pub fn tempo(&mut self, at: Ticks, micros_per_beat: u32) {
        let bytes = micros_per_beat.clamp(1, 0xFF_FFFF).to_be_bytes();
        self.meta(at, 0x51, bytes.get(1..).unwrap_or_default());
    }

    /// Beats in a bar, of a quarter note each: 24 clocks to the click, 8 thirty-seconds to the quarter.
    pub fn time_signature(&mut self, at: Ticks, beats_per_bar: u32) {
        let beats = u8::try_from(beats_per_bar).unwrap_or(u8::MAX);
        self.meta(at, 0x58, &[beats, 2, 24, 8]);
    }

    /// A marker with its text.
    pub fn marker(&mut self, at: Ticks, text: &str) {
        self.words(at, 0x06, text);
    }

    /// A note for the reader.
    pub fn text(&mut self, at: Ticks, text: &str) {
        self.words(at, 0x01, text);
    }

    /// A channel message. At one place ends come before beginnings.
    pub fn message(&mut self, at: Ticks, message: Message) {
        let bytes = message.as_bytes().to_vec();
        let ends = bytes.first().is_some_and(|status| status & 0xF0 == 0x80);
        self.events.push(Event { at, rank: if ends { 1 } else { 2 }, bytes });
    }

    fn words(&mut self, at: Ticks, kind: u8, text: &str) {
        self.meta(at, kind, text.as_bytes());
    }

    fn meta(&mut self, at: Ticks, kind: u8, data: &[u8]) {
        let mut bytes = vec![0xFF, kind];
        bytes.extend(quantity(u32::try_from(data.len()).unwrap_or(LONGEST)));
        bytes.extend(data);
        self.events.push(Event { at, rank: 0, bytes });
    }

    /// The track as a chunk that ends at `end`, or with its last event if that is later. Places before 0 become 0.
    fn chunk(mut self, end: Ticks) -> Vec<u8> {
        self.events.sort_by_key(|event| (event.at, event.rank));
        let mut body = Vec::new();
        let mut reached = 0;
        let mut advance = |to: Ticks, body: &mut Vec<u8>| {
            let step = (to.0 - reached).max(0);
            reached += step;
            body.extend(quantity(u32::try_from(step).unwrap_or(LONGEST)));
        };
        for event in &self.events {
            advance(event.at, &mut body);
            body.extend(&event.bytes);
        }
        advance(end, &mut body);
        body.extend([0xFF, 0x2F, 0x00]);
        chunk(b"MTrk", &body)
    }
}

/// A file of format 1: the tracks are played together; the first holds the tempo.
pub fn file(ticks_per_beat: u16, tracks: Vec<Track>, end: Ticks) -> Vec<u8> {
    let count = u16::try_from(tracks.len()).unwrap_or(u16::MAX);
    let mut header = vec![0, 1];
    header.extend(count.to_be_bytes());
    header.extend((ticks_per_beat & 0x7FFF).to_be_bytes());
    let mut bytes = chunk(b"MThd", &header);
    for track in tracks.into_iter().take(usize::from(count)) {
        bytes.extend(track.chunk(end));
    }
    bytes
}

/// A variable-length quantity: seven bits a byte, the highest first, bit 7 set on all but the last. What is above
/// [`LONGEST`] is told as the longest.
pub fn quantity(value: u32) -> Vec<u8> {
    let value = value.min(LONGEST);
    let sevens = [21u32, 14, 7].into_iter().filter(|shift| value >> shift > 0);
    let mut bytes: Vec<u8> = sevens.map(|shift| (value >> shift & 0x7F) as u8 | 0x80).collect();
    bytes.push((value & 0x7F) as u8);
    bytes
}

fn chunk(kind: &[u8; 4], body: &[u8]) -> Vec<u8> {
    let mut bytes = kind.to_vec();
    bytes.extend(u32::try_from(body.len()).unwrap_or(u32::MAX).to_be_bytes());
    bytes.extend(body);
    bytes
}
