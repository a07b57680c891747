//! What waits to be written to one member. Two lanes: holds and their answers overtake everything else, stale cues
//! fall out, a state that has not gone out yet is replaced by the newer one, and whoever does not take what is sent is
//! found to be slow. The lock is held for a push or a pop, never while writing.

use std::collections::VecDeque;
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use bytes::Bytes;
use tokio::sync::Notify;

use crate::units::{Generation, ServerTime};

/// How many frames may wait before the member counts as slow. At three pulses, a state and a few cues a second this is
/// half a minute of silence.
const MOST_WAITING: usize = 128;

/// The generation that lives, readable by every writer without asking anybody.
#[derive(Clone, Debug, Default)]
pub(super) struct Living(Arc<AtomicU32>);

impl Living {
    pub(super) fn raise(&self, generation: Generation) {
        self.0.fetch_max(generation.0, Ordering::SeqCst);
    }

    pub(super) fn get(&self) -> Generation {
        Generation(self.0.load(Ordering::SeqCst))
    }
}

/// Something to write.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Frame {
    /// A message that is written as it is.
    Message(Bytes),
    /// A cue: not written when its generation is dead by then.
    Cue(Generation, Bytes),
    /// The state, or a pulse: of two that wait, only the newer is written.
    Latest(Latest, Bytes),
    /// A clock exchange to be answered: the time of the answer is taken when it is written.
    Clock { sent_us: i64, received: ServerTime },
    /// The last thing: why the link is closed, and with which code.
    Close(Bytes, u16, String),
}

/// What is replaced by its successor while it waits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Latest {
    State,
    Run,
    Pulse,
    /// How the outputs are.
    Sound,
    /// The sounds there are.
    Sounds,
}

/// The outbox of one link.
#[derive(Debug)]
pub(super) struct Outbox {
    lanes: Mutex<Lanes>,
    wake: Notify,
    living: Living,
}

#[derive(Debug, Default)]
struct Lanes {
    urgent: VecDeque<Frame>,
    usual: VecDeque<Frame>,
    /// True once a closing frame was put in; nothing is taken after it.
    closing: bool,
}

/// The member does not take what is sent.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct TooSlow;

impl Outbox {
    pub(super) fn new(living: Living) -> Arc<Outbox> {
        Arc::new(Outbox { lanes: Mutex::default(), wake: Notify::new(), living })
    }

    /// Past everything that waits.
    pub(super) fn push_urgent(&self, frame: Frame) {
        let mut lanes = self.lanes();
        if !lanes.closing {
            lanes.urgent.push_back(frame);
        }
        drop(lanes);
        self.wake.notify_one();
    }

    /// In its turn.
    pub(super) fn push(&self, frame: Frame) -> Result<(), TooSlow> {
        let mut lanes = self.lanes();
        if lanes.closing {
            return Ok(());
        }
        if let Frame::Latest(what, _) = &frame {
            lanes.usual.retain(|waiting| !matches!(waiting, Frame::Latest(other, _) if other == what));
        }
        let living = self.living.get();
        if lanes.usual.len() >= MOST_WAITING {
            lanes.usual.retain(|waiting| !matches!(waiting, Frame::Cue(generation, _) if *generation < living));
        }
        if lanes.usual.len() >= MOST_WAITING {
            return Err(TooSlow);
        }
        lanes.usual.push_back(frame);
        drop(lanes);
        self.wake.notify_one();
        Ok(())
    }

    /// Closes the link after what is urgent; everything else that waits is dropped.
    pub(super) fn close(&self, goodbye: Bytes, code: u16, reason: String) {
        let mut lanes = self.lanes();
        if !lanes.closing {
            lanes.closing = true;
            lanes.usual.clear();
            lanes.urgent.push_back(Frame::Close(goodbye, code, reason));
        }
        drop(lanes);
        self.wake.notify_one();
    }

    /// The next frame to write; waits until there is one.
    pub(super) async fn next(&self) -> Frame {
        loop {
            if let Some(frame) = self.try_next() {
                return frame;
            }
            self.wake.notified().await;
        }
    }

    /// The next frame, if one waits.
    pub(super) fn try_next(&self) -> Option<Frame> {
        let living = self.living.get();
        let mut lanes = self.lanes();
        if let Some(frame) = lanes.urgent.pop_front() {
            return Some(frame);
        }
        loop {
            match lanes.usual.pop_front()? {
                Frame::Cue(generation, _) if generation < living => {}
                frame => return Some(frame),
            }
        }
    }

    fn lanes(&self) -> MutexGuard<'_, Lanes> {
        // A panic elsewhere cannot leave the lanes half changed, so a poisoned lock is still a good one.
        self.lanes.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn bytes(number: u8) -> Bytes {
        Bytes::from(vec![number])
    }

    #[test]
    fn a_hold_overtakes_and_the_cues_it_kills_fall_out() {
        let living = Living::default();
        living.raise(Generation(1));
        let outbox = Outbox::new(living.clone());
        for cue in 0..5 {
            outbox.push(Frame::Cue(Generation(1), bytes(cue))).unwrap();
        }
        outbox.push(Frame::Message(bytes(9))).unwrap();
        living.raise(Generation(2));
        outbox.push_urgent(Frame::Message(bytes(7)));
        assert_eq!(outbox.try_next(), Some(Frame::Message(bytes(7))));
        assert_eq!(outbox.try_next(), Some(Frame::Message(bytes(9))));
        assert_eq!(outbox.try_next(), None);
    }

    proptest! {
        #[test]
        fn whatever_waits_is_bounded_and_no_dead_cue_comes_out(pushes in prop::collection::vec((0u8..5, 0u32..4), 0..600)) {
            let living = Living::default();
            let outbox = Outbox::new(living.clone());
            let mut slow = false;
            for (kind, generation) in pushes {
                match kind {
                    0 => slow |= outbox.push(Frame::Cue(Generation(generation), bytes(0))).is_err(),
                    1 => slow |= outbox.push(Frame::Latest(Latest::State, bytes(1))).is_err(),
                    2 => slow |= outbox.push(Frame::Message(bytes(2))).is_err(),
                    3 => living.raise(Generation(generation)),
                    _ => outbox.push_urgent(Frame::Message(bytes(3))),
                }
            }
            let lives = living.get();
            let mut states = 0;
            let mut usual = 0;
            while let Some(frame) = outbox.try_next() {
                match frame {
                    Frame::Cue(generation, _) => prop_assert!(generation >= lives),
                    Frame::Latest(..) => states += 1,
                    _ => {}
                }
                usual += usize::from(!matches!(&frame, Frame::Message(content) if content == &bytes(3)));
            }
            prop_assert!(states <= 1);
            prop_assert!(usual <= MOST_WAITING);
            prop_assert!(!slow || usual > 0);
        }
    }
}
