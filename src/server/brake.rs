//! The brake as the server's threads hold it: its words, the clock, and what falls silent with it. Pulling takes no lock
//! and waits for nobody.

use crate::brake::{Latch, Pull, Refused};
use crate::midi::MidiOut;
use crate::osc::OscOut;
use crate::sound::Sound;
use crate::time::ServerClock;
use crate::units::{Generation, ServerTime};

/// Everything that sounds and must fall silent.
#[derive(Clone, Debug)]
pub(super) struct Sounding {
    pub(super) sound: Sound,
    pub(super) midi: MidiOut,
    pub(super) osc: OscOut,
}

/// The brake.
#[derive(Debug)]
pub(super) struct Brake {
    latch: Latch,
    clock: ServerClock,
    sounding: Sounding,
}

impl Brake {
    pub(super) fn new(clock: ServerClock, sounding: Sounding) -> Brake {
        Brake { latch: Latch::default(), clock, sounding }
    }

    /// Pulls it: everything that lives is dead and silent. The instant is read after the pull is counted: whoever has
    /// seen no pull at a time will never be told of an earlier one.
    pub(super) fn pull(&self) -> (Pull, ServerTime) {
        let pull = self.latch.pull();
        let lives = pull.dead.next();
        // The room hears of it once: whoever joins in only keeps it silent.
        match pull.first {
            true => self.sounding.sound.hold(lives, pull.number),
            false => self.sounding.sound.silence(lives),
        }
        self.sounding.midi.silence(lives);
        self.sounding.osc.silence(lives);
        (pull, self.clock.now())
    }

    /// The loudspeakers call the hold for a trial: nothing is dead or silent by it.
    pub(super) fn try_hold(&self) {
        self.sounding.sound.try_hold();
    }

    /// Lets a generation live, unless there was a pull that the call has not taken and released.
    pub(super) fn admit(&self, generation: Generation, taken: u64) {
        let lives = match self.latch.admit(generation, taken) {
            Ok(()) => generation,
            Err(Refused) => generation.next(),
        };
        self.silence(lives);
    }

    /// Kills everything older than a generation, and that generation.
    pub(super) fn kill(&self, generation: Generation) {
        self.latch.kill(generation.before());
        self.silence(generation);
    }

    /// The first so many pulls are released.
    pub(super) fn free(&self, taken: u64) {
        self.latch.free(taken);
    }

    /// Everything up to this generation is dead.
    pub(super) fn dead(&self) -> Generation {
        self.latch.dead()
    }

    /// True while a pull has not been released.
    pub(super) fn pulled(&self) -> bool {
        self.latch.pulled()
    }

    /// How many pulls there were.
    pub(super) fn pulls(&self) -> u64 {
        self.latch.pulls()
    }

    pub(super) fn now(&self) -> ServerTime {
        self.clock.now()
    }

    fn silence(&self, lives: Generation) {
        self.sounding.sound.silence(lives);
        self.sounding.midi.silence(lives);
        self.sounding.osc.silence(lives);
    }
}
