//! A connection between a phone and the server: its two ways, and what is known of them by whoever watches.

use super::chance::Chance;
use super::frames::Reading;
use super::network::Way;
use crate::wire::ToServer;
use std::sync::atomic::AtomicI64;

/// The connection.
pub(super) struct Connection {
    pub(super) phone: usize,
    pub(super) up: Way,
    pub(super) down: Way,
    /// True while the phone has it.
    pub(super) at_phone: bool,
    /// What the server writes, read as it is written.
    pub(super) watched: Reading,
    /// What was dead when the frame began that is not whole yet.
    pub(super) begun: Option<u64>,
    /// The messages that are on their way up, as they were written: when they have arrived in bytes.
    sent: Vec<(usize, ToServer)>,
    sent_bytes: usize,
    arrived_bytes: usize,
}

impl Connection {
    /// A connection with ways of chance; `room` is what the phone takes at a time.
    pub(super) fn new(phone: usize, clock: &'static AtomicI64, room: usize, up: Chance, down: Chance) -> Connection {
        Connection {
            phone,
            up: Way::new(clock, 24_000, up),
            down: Way::new(clock, room, down),
            at_phone: true,
            watched: Reading::default(),
            begun: None,
            sent: Vec::new(),
            sent_bytes: 0,
            arrived_bytes: 0,
        }
    }

    /// The phone sends a message; false when there is no room for it.
    pub(super) fn send(&mut self, frame: &[u8], message: ToServer) -> bool {
        if self.up.put(frame) < frame.len() {
            return false;
        }
        self.sent_bytes += frame.len();
        self.sent.push((self.sent_bytes, message));
        true
    }

    /// So many more bytes have arrived at the server: the messages that are whole by them.
    pub(super) fn arrived(&mut self, bytes: usize) -> Vec<ToServer> {
        self.arrived_bytes += bytes;
        let whole = self.sent.iter().take_while(|(end, _)| *end <= self.arrived_bytes).count();
        self.sent.drain(..whole).map(|(_, message)| message).collect()
    }

    /// The phone has it no more.
    pub(super) fn leave(&mut self) {
        self.at_phone = false;
        self.up.finish();
    }
}
