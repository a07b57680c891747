//! What the two halves share: atomics that either may touch at any time, and the desk's ends of the two rings.

use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU32, AtomicU64, Ordering::Relaxed};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use rtrb::{Consumer, Producer, RingBuffer};

use super::agenda::Planned;
use super::player::Player;
use super::voice::Sent;

/// How many voices fit into the ring to the audio half, and how many records into the ring back.
const RING: usize = 1024;

/// Shared by the handle, the supervisor and the audio half.
#[derive(Debug, Default)]
pub(super) struct Shared {
    /// The generation that lives; what is older is dead wherever it is found.
    pub(super) lives: AtomicU32,
    /// Voices that were planned: each of them waits, or is counted once more below.
    pub(super) planned: AtomicU64,
    /// Voices that began.
    pub(super) sounded: AtomicU64,
    /// Voices that were dropped because they came too late.
    pub(super) late: AtomicU64,
    /// Voices that died with their generation before they began.
    pub(super) silenced: AtomicU64,
    /// Voices for which there was no room.
    pub(super) dropped: AtomicU64,
    /// Times the device ran dry.
    pub(super) underruns: AtomicU64,
    /// Set when the stream has jumped, so that the follower begins anew.
    pub(super) jumped: AtomicBool,
    /// From mixing to hearing, smoothed, microseconds.
    pub(super) delay_us: AtomicI64,
    /// How often a device was looked for.
    pub(super) tries: AtomicU64,
    place: Mutex<Place>,
    ends: Mutex<Option<Ends>>,
}

/// Where the sound goes, in words for the desk.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Place {
    pub(super) device: String,
    pub(super) rate: u32,
    pub(super) buffer: u32,
    pub(super) well: bool,
    pub(super) says: String,
}

/// The desk's ends of the rings.
#[derive(Debug)]
struct Ends {
    down: Producer<Planned>,
    up: Consumer<Sent>,
}

impl Shared {
    /// Makes new rings and the audio half at their other end; what was in the old rings is lost.
    pub(super) fn new_player(self: &Arc<Shared>, rate: u32) -> Player {
        let (down, planned) = RingBuffer::new(RING);
        let (sent, up) = RingBuffer::new(RING);
        *lock(&self.ends) = Some(Ends { down, up });
        Player::new(Arc::clone(self), planned, sent, rate)
    }

    /// Sends a voice to the audio half.
    pub(super) fn send(&self, planned: Planned) {
        let sent = lock(&self.ends).as_mut().is_some_and(|ends| ends.down.push(planned).is_ok());
        if !sent {
            self.dropped.fetch_add(1, Relaxed);
        }
    }

    /// Takes what the audio half has sounded since the last time.
    pub(super) fn take_sent(&self) -> Vec<Sent> {
        let mut ends = lock(&self.ends);
        let Some(ends) = ends.as_mut() else { return Vec::new() };
        std::iter::from_fn(|| ends.up.pop().ok()).collect()
    }

    /// Where the sound goes.
    pub(super) fn place(&self) -> Place {
        lock(&self.place).clone()
    }

    /// Says where the sound goes now.
    pub(super) fn set_place(&self, place: Place) {
        *lock(&self.place) = place;
    }
}

/// The audio half never takes these locks, and nobody holds one for longer than a push or a copy.
fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
