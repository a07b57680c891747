//! The rings between the desk and the audio half, two each way: neither side ever waits for the other.

use std::sync::Arc;

use rtrb::{Consumer, Producer, RingBuffer};

use super::agenda::Planned;
use super::shelf::Shelf;
use super::voice::Sent;

/// How many shelves fit into the ring to the audio half, and into the ring back.
const SHELVES: usize = 4;

/// How many voices fit into the ring to the audio half, and how many records into the ring back.
const RING: usize = 1024;

/// The audio half's ends of the rings.
#[derive(Debug)]
pub(super) struct Rings {
    /// Voices, from the desk.
    pub(super) planned: Consumer<Planned>,
    /// What was sounded, to the desk.
    pub(super) sent: Producer<Sent>,
    /// New shelves, from the desk.
    pub(super) shelves: Consumer<Arc<Shelf>>,
    /// Shelves that are done with, to the desk, which frees them.
    pub(super) spent: Producer<Arc<Shelf>>,
}

/// The desk's ends of the rings.
#[derive(Debug)]
pub(super) struct Ends {
    /// Voices.
    pub(super) down: Producer<Planned>,
    /// What was sounded.
    pub(super) up: Consumer<Sent>,
    /// New shelves.
    pub(super) shelves: Producer<Arc<Shelf>>,
    /// Shelves that the audio half is done with.
    pub(super) spent: Consumer<Arc<Shelf>>,
}

/// New rings: the desk's ends and the audio half's.
pub(super) fn rings() -> (Ends, Rings) {
    let (down, planned) = RingBuffer::new(RING);
    let (sent, up) = RingBuffer::new(RING);
    let (shelves, new_shelves) = RingBuffer::new(SHELVES);
    let (spent_shelves, spent) = RingBuffer::new(SHELVES);
    (Ends { down, up, shelves, spent }, Rings { planned, sent, shelves: new_shelves, spent: spent_shelves })
}
