//! The brake's shared words under the interleavings of taps, a release, a places and a start, found by a model checker
//! (loom explores the orders that C11's memory model allows). Simulation does not see these. One tap against the rest is
//! explored whole; two taps with at most two preemptions, which finds nearly every fault of this kind (Musuvathi and
//! Qadeer, PLDI 2007), and whole as well with `HOLDFAST_WHOLE=1`, which takes hours: `brake_whole.rs` does that in seconds.

use std::sync::Arc;

use holdfast::brake::{Latch, Refused, Word};
use holdfast::units::Generation;
use loom::sync::atomic::AtomicU64;
use loom::sync::atomic::Ordering::SeqCst;
use loom::thread;

struct Shared(AtomicU64);

impl Word for Shared {
    fn read(&self) -> u64 {
        self.0.fetch_add(0, SeqCst)
    }

    fn glance(&self) -> u64 {
        self.0.load(SeqCst)
    }

    fn raise(&self, value: u64) -> u64 {
        self.0.fetch_max(value, SeqCst)
    }

    fn count(&self) -> u64 {
        self.0.fetch_add(1, SeqCst)
    }
}

/// The latch, and the lane over which a pull reaches the call: how many have arrived.
struct House {
    latch: Latch<Shared>,
    lane: AtomicU64,
}

impl House {
    fn new() -> Arc<House> {
        let word = || Shared(AtomicU64::new(0));
        Arc::new(House { latch: Latch::of(word(), word(), word(), word()), lane: AtomicU64::new(0) })
    }

    /// What a thread that reads a HOLD does.
    fn tap(&self) {
        self.latch.pull();
        self.lane.fetch_add(1, SeqCst);
    }

    /// So many taps, each on a thread of its own.
    fn taps(self: &Arc<House>, taps: usize) -> Vec<thread::JoinHandle<()>> {
        let tap = |_| {
            let house = Arc::clone(self);
            thread::spawn(move || house.tap())
        };
        (0..taps).map(tap).collect()
    }

    /// What the call has taken so far.
    fn take(&self) -> u64 {
        self.lane.load(SeqCst)
    }
}

/// Explores one tap against the rest whole, and two taps as far as the bound goes.
fn explore(scene: impl Fn(usize) + Sync + Send + Copy + 'static) {
    loom::model(move || scene(1));
    let mut two = loom::model::Builder::new();
    two.preemption_bound = std::env::var_os("HOLDFAST_WHOLE").is_none().then_some(2);
    two.check(move || scene(2));
}

/// What must be so once every thread is done.
fn nothing_lives_while_it_is_pulled(house: &House, admitted: &[(Generation, Result<(), Refused>)]) {
    if house.latch.pulled() {
        for (generation, _) in admitted {
            assert!(*generation <= house.latch.dead(), "{generation:?} lives although the brake is pulled");
        }
    }
    for (generation, outcome) in admitted {
        assert!(outcome.is_ok() || *generation <= house.latch.dead(), "what was refused is dead");
    }
}

/// Places and a start, decided after nothing was pulled, against two taps from two threads.
#[test]
fn a_start_never_survives_a_tap() {
    explore(|many| {
        let house = House::new();
        let taps = house.taps(many);
        // The call: places are decided, then the start in the same generation; each after what it has taken by then.
        let mut admitted = Vec::new();
        let mut taken = house.take();
        for _ in ["places", "start"] {
            let now = house.take();
            if now != taken {
                // A pull was taken: the call holds and decides nothing more.
                break;
            }
            taken = now;
            admitted.push((Generation(1), house.latch.admit(Generation(1), taken)));
        }
        for tap in taps {
            tap.join().unwrap();
        }
        assert_eq!(house.latch.pulls(), many as u64);
        nothing_lives_while_it_is_pulled(&house, &admitted);
        assert!(house.latch.pulled() && house.latch.dead() >= Generation(u64::from(!admitted.is_empty())));
    });
}

/// A hold stands and is released, then places and a start follow, against two more taps: a release frees only what the
/// call has taken, and a new run lives only if nothing was pulled since.
#[test]
fn a_release_frees_only_what_was_taken() {
    explore(|many| {
        let house = House::new();
        house.latch.admit(Generation(1), 0).unwrap();
        house.tap();
        let taps = house.taps(many);
        let taken = house.take();
        house.latch.free(taken);
        let next = Generation(2);
        let outcome = house.latch.admit(next, taken);
        for tap in taps {
            tap.join().unwrap();
        }
        let all = many as u64 + 1;
        assert!(house.latch.dead() >= Generation(1), "what died stays dead");
        assert_eq!(house.latch.pulled(), taken < all, "exactly what was not taken goes on holding");
        nothing_lives_while_it_is_pulled(&house, &[(next, outcome)]);
        if taken == all {
            assert!(outcome.is_ok() && next > house.latch.dead(), "after the last release it lives");
        }
    });
}

/// Of two taps at once one is the first, and whoever is told "not the first" may rely on another having told everybody.
#[test]
fn of_two_taps_one_is_the_first() {
    loom::model(|| {
        let house = House::new();
        house.latch.admit(Generation(1), 0).unwrap();
        let other = {
            let house = Arc::clone(&house);
            thread::spawn(move || house.latch.pull())
        };
        let mine = house.latch.pull();
        let theirs = other.join().unwrap();
        assert!(mine.first != theirs.first);
        assert_eq!((mine.dead, theirs.dead), (Generation(1), Generation(1)));
        assert_eq!(mine.number + theirs.number, 3);
    });
}
