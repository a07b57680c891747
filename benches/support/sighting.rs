//! What the reader looks for in the bytes that arrive: the tag of a message, wherever it stands. Nothing is decoded, so
//! that a thousand members cost the reader little more than the system calls.

use holdfast::units::ServerTime;
use memchr::memmem::Finder;

/// Every message is a MessagePack map whose first entry is its kind (the MessagePack specification: a string of up to 31
/// bytes is 0xa0 plus its length, then the bytes).
const TAG: &[u8] = b"\xa4kind";

/// The kinds that are looked for, after the tag.
const KINDS: [(&[u8], Kind); 4] =
    [(b"\xa4stop", Kind::Stop), (b"\xa4held", Kind::Held), (b"\xa3cue", Kind::Cue), (b"\xa5state", Kind::State)];

/// The longest of them with its tag, less one byte: what may stand at the end of one read without being seen whole.
pub(crate) const CARRY: usize = TAG.len() + 6 - 1;

/// What was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    /// Everything stands. The floor and the brokers send the same bytes.
    Stop,
    /// A hold with its names and its place.
    Held,
    /// A cue.
    Cue,
    /// The state of the call.
    State,
}

/// One find.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Sighting {
    /// The link it came over.
    pub(crate) link: usize,
    /// What.
    pub(crate) kind: Kind,
    /// When the read that brought it had returned.
    pub(crate) at: ServerTime,
}

/// Looks for the kinds.
pub(crate) struct Scanner(Finder<'static>);

impl Scanner {
    pub(crate) fn new() -> Scanner {
        Scanner(Finder::new(TAG))
    }

    /// Tells every kind in `bytes` that ends after the first `old` bytes, which were looked through before.
    pub(crate) fn scan(&self, bytes: &[u8], old: usize, mut found: impl FnMut(Kind)) {
        for at in self.0.find_iter(bytes) {
            let after = at + TAG.len();
            let kind = KINDS.iter().find(|(name, _)| bytes[after..].starts_with(name));
            if let Some((name, kind)) = kind
                && after + name.len() > old
            {
                found(*kind);
            }
        }
    }
}

/// The frame that stops, as the floor and the brokers send it: 148 bytes, as long as a hold was when the goals were set.
pub(crate) fn stop_frame() -> Vec<u8> {
    let mut frame = [TAG, KINDS[0].0].concat();
    frame.resize(148, b'.');
    frame
}
