//! The audio half: what the device's callback owns. It takes planned voices from the ring, keeps them until their time,
//! turns server time into sample numbers and lets the mixer start them. When a hold is pulled it drops what has died and
//! calls the hold out. It never allocates, locks, logs or frees.

use std::sync::Arc;
use std::sync::atomic::{AtomicI64, AtomicU64, Ordering::Acquire, Ordering::Relaxed};

use rtrb::{Consumer, Producer};

use super::agenda::{Agenda, Planned};
use super::follower::Follower;
use super::gate::Gate;
use super::mixer::{Mixer, Start};
use super::rings::Rings;
use super::sample::SampleNumber;
use super::shared::Shared;
use super::shelf::Shelf;
use super::voice::Sent;
use crate::units::{Generation, Micros, ServerTime};

/// Samples that are mixed at a time: 1.3 ms at 48 kHz. A hold is seen at the next block.
const BLOCK: usize = 64;

/// A voice that can only be heard later than this after its time is dropped.
pub const TOO_LATE: Micros = Micros::millis(5);

/// Where a device's callback leaves its time stamp before it pulls samples: both are used by one thread.
#[derive(Debug, Default)]
pub(super) struct Stamp {
    sample: AtomicI64,
    heard: AtomicI64,
    turn: AtomicU64,
}

impl Stamp {
    /// The next sample that is pulled is number `sample`, and is heard at `heard`.
    pub(super) fn leave(&self, sample: SampleNumber, heard: ServerTime) {
        self.sample.store(sample.0, Relaxed);
        self.heard.store(heard.0, Relaxed);
        self.turn.fetch_add(1, Relaxed);
    }
}

/// Who takes the samples.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Listener {
    /// A device, with people before it.
    People,
    /// The null device.
    Nobody,
    /// Whoever fills it by hand.
    Program,
}

/// The audio half of [`super::Sound`].
#[derive(Debug)]
pub struct Player {
    shared: Arc<Shared>,
    planned: Consumer<Planned>,
    sent: Producer<Sent>,
    shelves: Consumer<Arc<Shelf>>,
    spent: Producer<Arc<Shelf>>,
    stamp: Arc<Stamp>,
    turn: u64,
    follower: Follower,
    agenda: Agenda,
    lives: Generation,
    mixer: Mixer,
    block: [f32; BLOCK],
    given: usize,
    listener: Listener,
    /// Closed while the sound is muted.
    gate: Gate,
}

impl Player {
    /// An audio half at the other end of new rings.
    pub(super) fn new(shared: &Arc<Shared>, rate: u32) -> Player {
        let Rings { planned, sent, shelves, spent } = shared.new_rings();
        let shelf = shared.shelf_at_hand(rate);
        Player {
            shared: Arc::clone(shared),
            planned,
            sent,
            shelves,
            spent,
            stamp: Arc::default(),
            turn: 0,
            follower: Follower::new(rate),
            agenda: Agenda::new(),
            lives: Generation(0),
            mixer: Mixer::new(shelf, SampleNumber(0)),
            block: [0.0; BLOCK],
            given: BLOCK,
            listener: Listener::Program,
            gate: Gate::OPEN,
        }
    }

    /// Samples per second.
    pub fn rate(&self) -> u32 {
        self.mixer.rate()
    }

    /// The number of the next sample that will be given.
    pub fn position(&self) -> SampleNumber {
        SampleNumber(self.mixer.position().0 - (BLOCK - self.given) as i64)
    }

    /// True when nothing sounds, and nothing waits for its time.
    pub(super) fn is_idle(&self) -> bool {
        self.planned.is_empty() && self.agenda.next().is_none() && self.mixer.is_silent()
    }

    /// Makes it ready for another device, off the audio thread: what sounded is cut off, what waits for its time stays.
    pub(super) fn move_to(&mut self, rate: u32) {
        let position = self.position();
        let shelf = self.shared.shelf_at_hand(rate);
        self.follower = Follower::new(rate);
        self.mixer = Mixer::new(shelf, position);
        self.given = BLOCK;
    }

    /// From now on a device takes the samples.
    pub(super) fn for_people(self) -> Player {
        Player { listener: Listener::People, ..self }
    }

    /// From now on the null device takes them.
    pub(super) fn for_nobody(self) -> Player {
        Player { listener: Listener::Nobody, ..self }
    }

    /// Where the device is to leave its time stamps.
    pub(super) fn stamp(&self) -> Arc<Stamp> {
        Arc::clone(&self.stamp)
    }

    /// Fills `out` (one channel) with the next samples, of which the first is heard at `heard`.
    pub fn fill(&mut self, out: &mut [f32], heard: ServerTime) {
        self.follower.observe(self.position(), heard);
        for sample in out {
            *sample = self.next_sample();
        }
    }

    /// Goes on by so many samples as if they had been taken, of which the first is heard at `heard`, if they are silence
    /// and nobody has asked for anything that the next one would tell of. False when they have to be mixed.
    pub(super) fn pass_over(&mut self, samples: usize, heard: ServerTime) -> bool {
        let called = self.shared.called.load(Relaxed) >= self.holds_to_call();
        let asked = !called || !self.shelves.is_empty() || self.mixer.is_changing();
        if asked || !self.is_idle() || self.given < BLOCK || !samples.is_multiple_of(BLOCK) {
            return false;
        }
        self.follower.observe(self.position(), heard);
        self.mixer.pass_over(samples);
        true
    }

    /// The number of the last hold, and of the trials up to then.
    fn holds_to_call(&self) -> u64 {
        self.shared.pull.load(Acquire) + self.shared.trials.load(Acquire)
    }

    /// The next sample.
    #[inline]
    pub(super) fn next_sample(&mut self) -> f32 {
        if self.given >= BLOCK {
            self.mix_block();
        }
        let sample = self.block.get(self.given).copied().unwrap_or(0.0);
        self.given += 1;
        sample
    }

    fn mix_block(&mut self) {
        if self.shared.jumped.swap(false, Relaxed) {
            self.follower.begin_anew();
        }
        let turn = self.stamp.turn.load(Relaxed);
        if turn != self.turn {
            self.turn = turn;
            let (sample, heard) = (self.stamp.sample.load(Relaxed), self.stamp.heard.load(Relaxed));
            self.follower.observe(SampleNumber(sample), ServerTime(heard));
        }
        self.change_shelves();
        // Looked at before the generation: whoever sees the pull then sees what it killed.
        let pull = self.holds_to_call();
        self.bury_the_dead();
        self.take_planned();
        self.start_due();
        self.call_hold(pull);
        self.gate.mute(self.shared.muted.load(Relaxed));
        self.mixer.render_through(&mut self.block, self.lives, &mut self.gate);
        self.shared.meter.add(&self.block);
        self.given = 0;
    }

    /// Gives back the shelf that is done with and takes a new one, when there is room to give back both.
    fn change_shelves(&mut self) {
        if self.spent.slots() < 2 {
            return;
        }
        let done = self.mixer.take_spent();
        let new = if self.mixer.is_changing() { None } else { self.shelves.pop().ok() };
        let refused = new.and_then(|shelf| self.mixer.restock(shelf).err());
        for shelf in [done, refused].into_iter().flatten() {
            let _ = self.spent.push(shelf);
        }
    }

    /// Looks which generation lives, and drops what waits of an older one.
    fn bury_the_dead(&mut self) {
        let lives = Generation(self.shared.lives.load(Acquire));
        if lives != self.lives {
            self.lives = lives;
            self.shared.silenced.fetch_add(self.agenda.bury(lives), Relaxed);
        }
    }

    /// Calls a hold out that has not been called out yet, by this audio half or by one that a device kept.
    fn call_hold(&mut self, pull: u64) {
        if self.shared.called.fetch_max(pull, Relaxed) < pull {
            self.shared.calls.fetch_add(u64::from(self.mixer.call()), Relaxed);
        }
    }

    fn take_planned(&mut self) {
        while let Ok(planned) = self.planned.pop() {
            if planned.generation < self.lives {
                self.shared.silenced.fetch_add(1, Relaxed);
            } else if !self.agenda.add(planned) {
                self.shared.dropped.fetch_add(1, Relaxed);
            }
        }
    }

    /// Starts every voice whose first sample falls into the block that is mixed next.
    fn start_due(&mut self) {
        let begin = self.mixer.position().0;
        while let Some(planned) = self.agenda.next() {
            let Some(at) = self.follower.sample_at(planned.due) else { return };
            if at.0 >= begin + BLOCK as i64 {
                return;
            }
            let Some(planned) = self.agenda.take() else { return };
            if begin - at.0 > SampleNumber::count(TOO_LATE, self.mixer.rate()) {
                self.shared.late.fetch_add(1, Relaxed);
                continue;
            }
            self.start(planned, SampleNumber(at.0.max(begin)));
        }
    }

    fn start(&mut self, planned: Planned, at: SampleNumber) {
        let Planned { due, kind, gain, generation } = planned;
        let start = Start { at, kind, gain, generation, choke: kind.choke_group() };
        // What nobody hears is prepared only once it is wanted, and begins without its samples until then.
        let begins = if self.mixer.has(kind) { self.mixer.start(start) } else { self.listener == Listener::Nobody };
        if !begins {
            self.shared.dropped.fetch_add(1, Relaxed);
            return;
        }
        self.shared.sounded.fetch_add(1, Relaxed);
        let heard = self.follower.heard_at(at).unwrap_or(due);
        let audible = self.listener == Listener::People && self.gate.is_open();
        let sent = Sent { due, heard, sample: at.0, kind, generation, audible };
        // When nobody has asked for the records for a thousand voices, the newest are not kept.
        let _ = self.sent.push(sent);
    }
}

#[cfg(test)]
#[path = "player_tests.rs"]
mod tests;

#[cfg(test)]
#[path = "hold_tests.rs"]
mod hold_tests;
