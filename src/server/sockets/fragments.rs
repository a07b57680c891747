//! Counts the fragments that come in: frames that end no message (RFC 6455, section 5.4). The library gives whole messages
//! and frames of control, so a message that never ends would be counted by nobody.

/// Reads the heads of frames, and passes over their bodies.
#[derive(Debug, Default)]
pub(super) struct Fragments {
    /// The bytes of the head that have come, of a head that has begun.
    head: [u8; 10],
    known: usize,
    /// Bytes of a mask or a body that are still to come.
    skip: u64,
    /// The fragments that nobody has asked for yet.
    count: u32,
}

impl Fragments {
    /// Bytes have come.
    pub(super) fn feed(&mut self, mut bytes: &[u8]) {
        while let [first, rest @ ..] = bytes {
            if self.skip > 0 {
                let passed = bytes.len().min(usize::try_from(self.skip).unwrap_or(usize::MAX));
                self.skip -= passed as u64;
                bytes = &bytes[passed..];
                continue;
            }
            self.head[self.known] = *first;
            self.known += 1;
            bytes = rest;
            if let Some(body) = self.body() {
                // The final bit is the first of a frame; frames of control have it always (section 5.5).
                self.count = self.count.saturating_add(u32::from(self.head[0] & 0x80 == 0));
                self.known = 0;
                self.skip = body;
            }
        }
    }

    /// How many bytes follow the head, the mask among them; nothing while it is not whole.
    fn body(&self) -> Option<u64> {
        let second = *self.head.get(1).filter(|_| self.known >= 2)?;
        let mask = if second & 0x80 == 0 { 0 } else { 4 };
        let length = match second & 0x7f {
            126 if self.known == 4 => u64::from(u16::from_be_bytes([self.head[2], self.head[3]])),
            127 if self.known == 10 => {
                let [_, _, length @ ..] = self.head;
                u64::from_be_bytes(length)
            }
            126 | 127 => return None,
            length => u64::from(length),
        };
        Some(length.saturating_add(mask))
    }

    /// How many fragments have come since this was asked last.
    pub(super) fn take(&mut self) -> u32 {
        std::mem::take(&mut self.count)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use tokio_tungstenite::tungstenite::protocol::frame::FrameHeader;
    use tokio_tungstenite::tungstenite::protocol::frame::coding::{Data, OpCode};

    use super::*;

    proptest! {
        /// Whatever frames come, by the library's own writer of heads, and however their bytes are cut: as many fragments are
        /// counted as there are.
        #[test]
        fn every_fragment_is_counted_once(
            frames in prop::collection::vec((any::<bool>(), any::<bool>(), prop_oneof![0u64..130, 65_530u64..65_540]), 0..12),
            cut in 1usize..4_000,
        ) {
            let mut bytes = Vec::new();
            for (is_final, masked, length) in &frames {
                let mask = masked.then_some([1, 2, 3, 4]);
                let opcode = OpCode::Data(Data::Continue);
                let head = FrameHeader { is_final: *is_final, opcode, mask, ..FrameHeader::default() };
                head.format(*length, &mut bytes).unwrap();
                bytes.extend(std::iter::repeat_n(0x00, usize::try_from(*length).unwrap()));
            }
            let mut fragments = Fragments::default();
            bytes.chunks(cut).for_each(|bytes| fragments.feed(bytes));
            let expected = frames.iter().filter(|(is_final, ..)| !is_final).count();
            prop_assert_eq!(fragments.take() as usize, expected);
            prop_assert_eq!((fragments.known, fragments.skip), (0, 0), "and nothing is left over");
        }
    }
}
