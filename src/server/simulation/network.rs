//! The network: connections that carry bytes in order, each way with a delay of its own, and lose nothing but themselves.
//! What one end writes arrives later; while the way is cut it waits; a connection may break at one end before the other
//! knows.

use std::collections::VecDeque;
use std::io::{self, Read, Write};
use std::sync::atomic::{AtomicI64, Ordering::Relaxed};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use super::chance::Chance;
use super::times::CHAOS;
use crate::server::sockets::Simulated;

/// One direction.
#[derive(Clone, Debug)]
pub(super) struct Way(Arc<Mutex<Flow>>);

#[derive(Debug)]
struct Flow {
    clock: &'static AtomicI64,
    chance: Chance,
    /// Bytes on the way that it takes: the kernel's small buffer, and what flies.
    room: usize,
    /// The shortest delay, µs, and how much is added at the most.
    delay: (i64, i64),
    segments: VecDeque<Segment>,
    on_the_way: usize,
    last_arrival: i64,
    /// True when a writer was told that there is no room.
    full: bool,
    finished: bool,
}

/// Bytes that were written at once.
#[derive(Debug)]
pub(super) struct Segment {
    pub(super) bytes: Vec<u8>,
    arrives: i64,
}

impl Way {
    pub(super) fn new(clock: &'static AtomicI64, room: usize, mut chance: Chance) -> Way {
        let delay = (chance.between(300, 20_000), chance.between(0, 40_000));
        let segments = VecDeque::new();
        let flow =
            Flow { clock, chance, room, delay, segments, on_the_way: 0, last_arrival: 0, full: false, finished: false };
        Way(Arc::new(Mutex::new(flow)))
    }

    fn flow(&self) -> MutexGuard<'_, Flow> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Puts bytes on the way; how many were taken.
    pub(super) fn put(&self, bytes: &[u8]) -> usize {
        let mut flow = self.flow();
        let taken = bytes.len().min(flow.room.saturating_sub(flow.on_the_way));
        flow.full = taken < bytes.len();
        if taken > 0 {
            // Now and then a packet is lost, and comes again after a timeout of TCP (RFC 6298: 200 ms and more in practice).
            let again = if flow.clock.load(Relaxed) < CHAOS && flow.chance.percent(1.0) {
                flow.chance.between(200_000, 900_000)
            } else {
                0
            };
            let most = flow.delay.1;
            let delay = flow.delay.0 + flow.chance.between(0, most) + again;
            let arrives = (flow.clock.load(Relaxed) + delay).max(flow.last_arrival);
            flow.last_arrival = arrives;
            flow.on_the_way += taken;
            flow.segments.push_back(Segment { bytes: bytes[..taken].to_vec(), arrives });
        }
        taken
    }

    /// What is on the way, and what follows it, arrives no sooner than then: it has met with a slower way.
    pub(super) fn hold_back(&self, until: i64) {
        let mut flow = self.flow();
        flow.last_arrival = flow.last_arrival.max(until);
        for segment in &mut flow.segments {
            segment.arrives = segment.arrives.max(until);
        }
    }

    /// When something arrives next.
    pub(super) fn arrives(&self) -> Option<i64> {
        self.flow().segments.front().map(|segment| segment.arrives)
    }

    /// What has arrived by then.
    pub(super) fn take(&self, now: i64) -> Option<Segment> {
        let mut flow = self.flow();
        let segment = flow.segments.pop_front_if(|segment| segment.arrives <= now)?;
        flow.on_the_way -= segment.bytes.len();
        Some(segment)
    }

    /// True once for a writer that waits and now has room.
    pub(super) fn has_room_again(&self) -> bool {
        let mut flow = self.flow();
        let room = flow.full && flow.on_the_way < flow.room;
        flow.full &= !room;
        room
    }

    /// True while its writer is told that there is no room.
    pub(super) fn is_full(&self) -> bool {
        self.flow().full
    }

    /// True when its writer has finished and everything has arrived.
    pub(super) fn is_over(&self) -> bool {
        let flow = self.flow();
        flow.finished && flow.segments.is_empty()
    }

    /// True once its writer has finished.
    pub(super) fn is_finished(&self) -> bool {
        self.flow().finished
    }

    /// Nothing more is written.
    pub(super) fn finish(&self) {
        self.flow().finished = true;
    }
}

/// The server's end of a connection.
#[derive(Debug)]
pub(super) struct End {
    /// What has arrived and was not read.
    pub(super) arrived: Arc<Mutex<VecDeque<u8>>>,
    /// True once nothing more comes.
    pub(super) ended: Arc<std::sync::atomic::AtomicBool>,
    pub(super) out: Way,
    /// Everything that was written, for whoever watches.
    pub(super) written: Arc<Mutex<Vec<u8>>>,
}

impl Read for End {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let mut arrived = self.arrived.lock().unwrap_or_else(PoisonError::into_inner);
        if arrived.is_empty() {
            return if self.ended.load(Relaxed) { Ok(0) } else { Err(io::ErrorKind::WouldBlock.into()) };
        }
        arrived.read(buffer)
    }
}

impl Write for End {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match self.out.put(bytes) {
            0 => Err(io::ErrorKind::WouldBlock.into()),
            taken => {
                let mut written = self.written.lock().unwrap_or_else(PoisonError::into_inner);
                written.extend_from_slice(&bytes[..taken]);
                Ok(taken)
            }
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl Simulated for End {
    fn finish(&mut self) {
        self.out.finish();
    }
}

/// A socket that is dropped is closed.
impl Drop for End {
    fn drop(&mut self) {
        self.out.finish();
    }
}
