//! WebSocket frames read and written by other code than the server's (RFC 6455 §5.2): what the server writes has no mask,
//! and what a phone writes has one of zeros, which leaves the bytes as they are.

use crate::wire::{self, Pieces, ToMember, ToServer};

/// A frame as a phone writes it.
pub(super) fn from_phone(message: &ToServer) -> Vec<u8> {
    let bytes = wire::encode(message).unwrap();
    let mut frame = vec![0x82];
    match bytes.len() {
        short @ 0..=125 => frame.push(0x80 | short as u8),
        long => {
            frame.push(0x80 | 126);
            frame.extend(u16::try_from(long).unwrap().to_be_bytes());
        }
    }
    frame.extend([0; 4]);
    frame.extend(bytes);
    frame
}

/// Reads what the server has written, message by message.
#[derive(Debug, Default)]
pub(super) struct Reading {
    bytes: Vec<u8>,
    pieces: Pieces,
    closed: bool,
}

/// What there was to read.
#[derive(Debug)]
pub(super) enum Read {
    Message(Box<ToMember>),
    Closing,
}

impl Reading {
    pub(super) fn feed(&mut self, bytes: &[u8]) {
        self.bytes.extend_from_slice(bytes);
    }

    /// The next message.
    pub(super) fn next(&mut self) -> Option<Read> {
        loop {
            let (first, content) = self.frame()?;
            assert!(!self.closed, "nothing follows a closing frame");
            match first & 0x0f {
                2 => {
                    let message = match wire::decode(&content).expect("the server writes whole messages") {
                        ToMember::Piece { of, part, last, bytes } => {
                            let Some(whole) = self.pieces.take(of, part, last, &bytes) else { continue };
                            wire::decode(&whole).expect("a message that was cut is whole again")
                        }
                        message => message,
                    };
                    return Some(Read::Message(Box::new(message)));
                }
                8 => {
                    self.closed = true;
                    return Some(Read::Closing);
                }
                9 | 10 => {}
                other => panic!("the server writes a frame of kind {other}"),
            }
        }
    }

    /// The next frame: its first byte and its content.
    fn frame(&mut self) -> Option<(u8, Vec<u8>)> {
        let (first, second) = (*self.bytes.first()?, *self.bytes.get(1)?);
        assert_eq!(second & 0x80, 0, "a server masks nothing");
        let (length, head) = match second {
            126 => (u16::from_be_bytes([*self.bytes.get(2)?, *self.bytes.get(3)?]).into(), 4),
            127 => panic!("the server cuts what is so long"),
            short => (usize::from(short), 2),
        };
        if self.bytes.len() < head + length {
            return None;
        }
        let content = self.bytes[head..head + length].to_vec();
        self.bytes.drain(..head + length);
        Some((first, content))
    }
}
