//! Messages that wait for their time, in order of time, and die with their generation. Pure; it is given the time.

use std::collections::BTreeMap;

use super::messages::Message;
use crate::units::{Generation, ServerTime};

/// Messages that may wait. A run plans a horizon ahead; more than this is somebody's mistake.
const MOST_WAITING: usize = 4_096;

/// The queue.
#[derive(Debug, Default)]
pub struct Queue {
    lives: Generation,
    waiting: BTreeMap<(ServerTime, u64), Message>,
    next_number: u64,
    silenced: u64,
}

impl Queue {
    /// A message for its time; at one time the one planned first comes first. What belongs to a dead generation, or
    /// finds no room, is only counted.
    pub fn plan(&mut self, due: ServerTime, generation: Generation, message: Message) {
        if generation < self.lives || self.waiting.len() >= MOST_WAITING {
            self.silenced += 1;
            return;
        }
        self.silence(generation);
        self.next_number += 1;
        self.waiting.insert((due, self.next_number), message);
    }

    /// This generation lives; what waits of an older one is dropped.
    pub fn silence(&mut self, lives: Generation) {
        if lives > self.lives {
            self.lives = lives;
            self.silenced += self.waiting.len() as u64;
            self.waiting.clear();
        }
    }

    /// Drops what waits, whatever its generation.
    pub fn hush(&mut self) {
        self.silenced += self.waiting.len() as u64;
        self.waiting.clear();
    }

    /// The next message whose time has come.
    pub fn pop(&mut self, now: ServerTime) -> Option<Message> {
        let first = self.waiting.first_entry().filter(|first| first.key().0 <= now)?;
        Some(first.remove())
    }

    /// When the next message is due.
    pub fn deadline(&self) -> Option<ServerTime> {
        self.waiting.first_key_value().map(|((due, _), _)| *due)
    }

    /// How many messages died.
    pub fn silenced(&self) -> u64 {
        self.silenced
    }
}
