//! Messages as the bytes of WebSocket frames (RFC 6455 §5), made once and shared by everybody they go to. A message that
//! is too large for a stop to wait behind it is cut into pieces, each a frame of its own.

use std::io::Write;
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering::Relaxed};

use bytes::Bytes;
use tokio_tungstenite::tungstenite::protocol::frame::FrameHeader;
use tokio_tungstenite::tungstenite::protocol::frame::coding::{Control, Data, OpCode};
use tracing::error;

use crate::server::close;
use crate::units::{Generation, ServerTime};
use crate::wire::{self, ToMember};

/// The longest frame in bytes, its header among them: what may lie before a stop that comes while it is written.
pub(in crate::server) const LONGEST_FRAME: usize = 4 * 1024;
/// The content of a piece: with its names and its header it stays under the longest frame.
const PIECE: usize = LONGEST_FRAME - 128;

/// A message, ready to be written: the frames that it is made of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::server) struct Framed(Arc<[Bytes]>);

impl Framed {
    /// These frames.
    #[cfg(test)]
    pub(super) fn of<const N: usize>(frames: [Bytes; N]) -> Framed {
        Framed(Arc::from(frames))
    }

    /// The frame at that place.
    pub(super) fn frame(&self, number: usize) -> Option<&Bytes> {
        self.0.get(number)
    }

    /// Its frames, in order.
    pub(in crate::server) fn frames(&self) -> impl Iterator<Item = &Bytes> {
        self.0.iter()
    }

    /// How many frames it is.
    pub(super) fn len(&self) -> usize {
        self.0.len()
    }
}

/// The frames of a message; nothing for a message that cannot be written, which is a defect and logged as such.
pub(in crate::server) fn framed(message: &ToMember) -> Option<Framed> {
    /// The numbers of what is cut; they only tell one message's pieces from another's.
    static NUMBERS: AtomicU32 = AtomicU32::new(1);
    let bytes = encoded(message)?;
    if bytes.len() + FrameHeader::default().len(bytes.len() as u64) <= LONGEST_FRAME {
        return Some(Framed(Arc::from([binary(&bytes)])));
    }
    let of = NUMBERS.fetch_add(1, Relaxed);
    let last = bytes.len().div_ceil(PIECE) - 1;
    let pieces = bytes.chunks(PIECE).enumerate();
    let frames: Option<Vec<Bytes>> = pieces
        .map(|(part, bytes)| {
            let piece = ToMember::Piece {
                of,
                part: u32::try_from(part).unwrap_or(u32::MAX),
                last: part == last,
                bytes: bytes.to_vec(),
            };
            Some(binary(&encoded(&piece)?))
        })
        .collect();
    Some(Framed(frames?.into()))
}

/// The stop, which is made while everybody waits for it: written down as it is, without the general encoder, whose code
/// is in no cache when a hold comes.
pub(in crate::server) fn stop(generation: Generation, at: ServerTime) -> Framed {
    let mut content = [0; 46];
    let mut room = content.as_mut_slice();
    // A slice of the right length takes every write: the test decodes it.
    let _ = room.write_all(b"\x83\xa4kind\xa4stop\xaageneration\xcf");
    let _ = room.write_all(&generation.0.to_be_bytes());
    let _ = room.write_all(b"\xa5at_us\xd3");
    let _ = room.write_all(&at.0.to_be_bytes());
    Framed(Arc::from([binary(&content)]))
}

/// A closing frame: a code and a reason of at most 123 bytes (RFC 6455 §5.5.1).
pub(in crate::server) fn closing(code: u16, reason: &str) -> Bytes {
    if code == close::NO_CODE {
        return frame(OpCode::Control(Control::Close), &[]);
    }
    let mut content = code.to_be_bytes().to_vec();
    content.extend_from_slice(reason.as_bytes());
    frame(OpCode::Control(Control::Close), &content)
}

fn encoded(message: &ToMember) -> Option<Vec<u8>> {
    wire::encode(message).inspect_err(|defect| error!("{defect}")).ok()
}

fn binary(content: &[u8]) -> Bytes {
    frame(OpCode::Data(Data::Binary), content)
}

/// A server's frames are not masked (RFC 6455 §5.1).
fn frame(opcode: OpCode, content: &[u8]) -> Bytes {
    let header = FrameHeader { is_final: true, opcode, ..FrameHeader::default() };
    let mut bytes = Vec::with_capacity(content.len() + 10);
    // A vector takes every write.
    let _ = header.format(content.len() as u64, &mut bytes);
    bytes.extend_from_slice(content);
    Bytes::from(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_stop_that_is_written_down_is_the_message() {
        for (generation, at) in [(0, 0), (1, -1), (Generation::of(7, 3).0, 1 << 50), ((1 << 53) - 1, i64::MAX)] {
            let frame = stop(Generation(generation), ServerTime(at));
            let bytes = frame.frame(0).unwrap();
            assert_eq!((bytes[0], usize::from(bytes[1])), (0x82, bytes.len() - 2), "a whole binary frame, unmasked");
            let message: ToMember = wire::decode(&bytes[2..]).unwrap();
            assert_eq!(message, ToMember::Stop { generation, at_us: at });
        }
    }
}
