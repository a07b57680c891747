//! The pieces of a message that was too long for one frame, put together again.

use crate::rules::LONGEST_MESSAGE;

/// Puts pieces together. At any time one message is under way at the most.
#[derive(Debug, Default)]
pub struct Pieces {
    of: u32,
    next: u32,
    bytes: Vec<u8>,
}

impl Pieces {
    /// Takes a piece; gives the bytes of the whole message with its last one. A piece out of its place, or of another
    /// message than the one under way, means that the rest of that one does not come: it is dropped.
    pub fn take(&mut self, of: u32, part: u32, last: bool, bytes: &[u8]) -> Option<Vec<u8>> {
        if part == 0 {
            *self = Pieces { of, ..Pieces::default() };
        }
        if of != self.of || part != self.next || self.bytes.len() + bytes.len() > LONGEST_MESSAGE {
            *self = Pieces { next: u32::MAX, ..Pieces::default() };
            return None;
        }
        self.bytes.extend_from_slice(bytes);
        self.next += 1;
        last.then(|| std::mem::take(self).bytes)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whole_messages_come_out_and_the_rest_of_one_that_was_replaced_does_not() {
        let mut pieces = Pieces::default();
        assert_eq!(pieces.take(1, 0, false, b"ab"), None);
        assert_eq!(pieces.take(1, 1, true, b"c"), Some(b"abc".to_vec()));
        assert_eq!(pieces.take(2, 0, false, b"old"), None);
        assert_eq!(pieces.take(3, 0, false, b"ne"), None, "the rest of the old one does not come");
        assert_eq!(pieces.take(3, 1, true, b"w"), Some(b"new".to_vec()));
        assert_eq!(pieces.take(4, 1, true, b"x"), None, "its first piece did not come");
        assert_eq!(pieces.take(0, 0, true, b""), Some(Vec::new()));
        assert_eq!(pieces.take(5, 0, false, b"a"), None);
        assert_eq!(pieces.take(5, 2, true, b"c"), None, "a piece is missing");
        assert_eq!(pieces.take(5, 1, true, b"b"), None);
    }
}
