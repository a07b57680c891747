//! The words that every thread may touch at any time. Each only grows, so that no order of pulls, admissions and releases
//! can bring back what was killed. No call of it waits: a thread that is frozen between two of these steps keeps nobody
//! else from pulling.

use std::sync::atomic::AtomicU64;
use std::sync::atomic::Ordering::SeqCst;

use crate::units::Generation;

/// A number that threads share and that only grows.
pub trait Word {
    /// What it is now: a read that stands in the order of the changes, so that it misses none that came before it.
    fn read(&self) -> u64;
    /// What it is, or was a moment ago.
    fn glance(&self) -> u64;
    /// Raises it to `value` unless it is higher; gives what it was.
    fn raise(&self, value: u64) -> u64;
    /// Adds one; gives what it was.
    fn count(&self) -> u64;
}

impl Word for AtomicU64 {
    fn read(&self) -> u64 {
        self.fetch_add(0, SeqCst)
    }

    fn glance(&self) -> u64 {
        self.load(SeqCst)
    }

    fn raise(&self, value: u64) -> u64 {
        self.fetch_max(value, SeqCst)
    }

    fn count(&self) -> u64 {
        self.fetch_add(1, SeqCst)
    }
}

/// The shared state of the brake.
#[derive(Debug, Default)]
pub struct Latch<W = AtomicU64> {
    /// The highest generation that was offered for admission.
    offered: W,
    /// Everything up to this generation is dead.
    dead: W,
    /// How many pulls there were.
    pulls: W,
    /// How many of them the call has taken and released.
    freed: W,
}

/// What a pull did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pull {
    /// Which pull of this latch it was, counted from 1.
    pub number: u64,
    /// Everything up to this generation is dead.
    pub dead: Generation,
    /// True when nothing held the brake before it.
    pub first: bool,
}

/// The brake is pulled, or was pulled after the decision: what was to live is dead.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Refused;

impl<W: Word> Latch<W> {
    /// A latch of these words, all of them 0.
    pub fn of(offered: W, dead: W, pulls: W, freed: W) -> Latch<W> {
        Latch { offered, dead, pulls, freed }
    }

    /// Pulls the brake: everything that lives is dead. The order matters: the pull is counted before what lives is looked
    /// at, and an admission is offered before pulls are looked at, so that of two at once one always sees the other.
    pub fn pull(&self) -> Pull {
        let before = self.pulls.count();
        let offered = self.offered.read();
        let dead = self.dead.raise(offered).max(offered);
        Pull { number: before + 1, dead: Generation(dead), first: self.freed.read() == before }
    }

    /// Lets a generation live and kills what is older. `taken` is how many pulls the call had taken when it decided.
    ///
    /// # Errors
    /// [`Refused`] when there was another pull, or one that is not released; the generation is dead then.
    pub fn admit(&self, generation: Generation, taken: u64) -> Result<(), Refused> {
        self.offered.raise(generation.0);
        self.kill(generation.before());
        if self.pulls.read() == taken && self.freed.read() == taken {
            return Ok(());
        }
        self.kill(generation);
        Err(Refused)
    }

    /// Kills everything up to a generation.
    pub fn kill(&self, up_to: Generation) {
        self.dead.raise(up_to.0);
    }

    /// The call has released everything that the first `taken` pulls made. A pull that it has not taken goes on holding.
    pub fn free(&self, taken: u64) {
        self.freed.raise(taken);
    }

    /// Everything up to this generation is dead.
    pub fn dead(&self) -> Generation {
        Generation(self.dead.glance())
    }

    /// True while a pull has not been released.
    pub fn pulled(&self) -> bool {
        // Freed first: it never overtakes the pulls, so that no release between the two looks like a pull.
        let freed = self.freed.glance();
        self.pulls.glance() > freed
    }

    /// How many pulls there were.
    pub fn pulls(&self) -> u64 {
        self.pulls.read()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[derive(Clone, Debug)]
    enum Step {
        Pull,
        Take,
        Decide,
        Admit,
        Free,
    }

    fn step() -> impl Strategy<Value = Step> {
        prop_oneof![Just(Step::Pull), Just(Step::Take), Just(Step::Decide), Just(Step::Admit), Just(Step::Free)]
    }

    proptest! {
        /// One thread at a time, every order of what can happen: what lives was decided after the last pull was released.
        #[test]
        fn nothing_lives_that_was_not_admitted_after_the_last_release(steps in prop::collection::vec(step(), 0..80)) {
            let latch: Latch = Latch::default();
            let (mut taken, mut next, mut decided, mut released) = (0, 1, None, 0);
            let mut lives = None;
            for step in steps {
                match step {
                    Step::Pull => {
                        let pull = latch.pull();
                        prop_assert_eq!(pull.first, released == pull.number - 1);
                        lives = None;
                    }
                    Step::Take => taken = latch.pulls(),
                    Step::Decide => {
                        decided = Some((Generation(next), taken));
                        next += 1;
                    }
                    Step::Admit => {
                        let Some((generation, taken)) = decided.take() else { continue };
                        match latch.admit(generation, taken) {
                            Ok(()) => {
                                prop_assert!(!latch.pulled());
                                lives = Some(generation);
                            }
                            Err(Refused) => {
                                prop_assert!(latch.pulls() != taken || released != taken);
                                lives = None;
                            }
                        }
                    }
                    Step::Free => {
                        latch.free(taken);
                        released = taken;
                    }
                }
                let dead = latch.dead();
                prop_assert_eq!(latch.pulled(), released < latch.pulls());
                if let Some(lives) = lives {
                    prop_assert!(lives > dead, "what was admitted lives");
                }
                if latch.pulled() {
                    prop_assert!(lives.is_none(), "nothing lives while it is pulled");
                }
            }
        }
    }
}
