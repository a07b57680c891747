//! What the two halves share: atomics that either may touch at any time, and the desk's ends of the two rings.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU32, AtomicU64, Ordering::Relaxed, Ordering::Release};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use super::agenda::Planned;
use super::hold_call::HoldSettings;
use super::library::Library;
use super::meter::Meter;
use super::rings::{Ends, Rings, rings};
use super::shelf::Shelf;
use super::voice::Sent;
use crate::faults::{Faults, Part};

/// The thread that computes the sounds, to the desk.
const PREPARING: Part = Part {
    name: "The preparation of the sounds",
    costs: "Only the click and the call of a hold are heard; take out the recording that was put in last, or start the server anew.",
};

/// Shared by the handle, the supervisor and the audio half.
#[derive(Debug, Default)]
pub(super) struct Shared {
    /// The generation that lives; what is older is dead wherever it is found.
    pub(super) lives: AtomicU64,
    /// The number of the last hold that is to be called out.
    pub(super) pull: AtomicU64,
    /// How many trials of the hold are to be called out.
    pub(super) trials: AtomicU64,
    /// What was called out last: the number of the hold, and the trials up to then.
    pub(super) called: AtomicU64,
    /// How often the hold was called out.
    pub(super) calls: AtomicU64,
    /// What is called out, and how loud.
    pub(super) hold: HoldSettings,
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
    /// What is on the audio half's shelf or on its way there: the library's stamp and the rate; 0 is nothing.
    stocked: AtomicU64,
    /// The stamp of the library whose attacks have been measured, or are being; 0 is none.
    measured: AtomicU32,
    /// Set once an effect has been planned, or somebody looks at how loud it is.
    pub(super) wanted: AtomicBool,
    /// Set while nothing is to be heard.
    pub(super) muted: AtomicBool,
    /// How loud the mix is.
    pub(super) meter: Meter,
    /// What failed in the threads behind the handle.
    pub(super) faults: Faults,
    /// Set by a test to make the supervisor panic.
    #[cfg(test)]
    pub(super) fail: AtomicBool,
    library: Mutex<Option<Arc<Library>>>,
    /// The device that was chosen meanwhile, for the supervisor to take up.
    chosen: Mutex<Option<DeviceChange>>,
    /// The name of the device that was asked for last.
    asked: Mutex<Option<String>>,
    /// Set when there is one.
    pub(super) rechosen: AtomicBool,
    place: Mutex<Place>,
    ends: Mutex<Option<Ends>>,
}

/// What is computed off the audio thread.
#[derive(Debug)]
pub(super) enum Preparing {
    /// Every sound at a rate, for the audio half.
    Samples(Arc<Library>),
    /// Only when each sound is perceived to begin.
    Attacks(Arc<Library>),
}

/// Another device, and how it is to be run; nothing is the machine's own choice, or the usual.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct DeviceChange {
    /// The device's name.
    pub device: Option<String>,
    /// Samples per second.
    pub rate: Option<u32>,
    /// Frames mixed at a time.
    pub buffer_frames: Option<u32>,
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

impl Shared {
    /// Nothing sounds yet; holds are called out like this.
    pub(super) fn calling(hold: HoldSettings) -> Shared {
        Shared { hold, ..Shared::default() }
    }

    /// Makes new rings and gives the audio half's ends of them; what was in the old rings is lost.
    pub(super) fn new_rings(&self) -> Rings {
        let (desk, audio) = rings();
        *lock(&self.ends) = Some(desk);
        audio
    }

    /// Says which sounds there are; the audio half has them after the next [`Shared::bring`].
    pub(super) fn set_library(&self, library: Arc<Library>) {
        *lock(&self.library) = Some(library);
    }

    /// The sounds.
    pub(super) fn library(&self) -> Option<Arc<Library>> {
        lock(&self.library).clone()
    }

    /// What can be put on the shelf at once: with all sounds, if they are ready at that rate.
    pub(super) fn shelf_at_hand(&self, rate: u32) -> Arc<Shelf> {
        let library = self.library();
        let ready = library.as_ref().and_then(|library| library.ready(rate));
        let stocked = library.as_ref().filter(|_| ready.is_some()).map_or(0, |library| key(library, rate));
        self.stocked.store(stocked, Relaxed);
        let sounds = ready.unwrap_or_else(|| Arc::new(Shelf::new(rate)));
        self.with_call(&sounds, library.as_deref())
    }

    /// The shelf with the call of the hold on it.
    fn with_call(&self, sounds: &Shelf, library: Option<&Library>) -> Arc<Shelf> {
        Arc::new(sounds.calling(self.hold.samples(library, sounds.rate())))
    }

    /// The library whose sounds the audio half does not have at this rate, with nobody on the way to bring them; from
    /// now on the caller is. Frees the shelves that it is done with.
    pub(super) fn to_bring(&self, rate: u32) -> Option<Arc<Library>> {
        if let Some(ends) = lock(&self.ends).as_mut() {
            while ends.spent.pop().is_ok() {}
        }
        let library = self.library()?;
        let key = key(&library, rate);
        (self.stocked.swap(key, Relaxed) != key).then_some(library)
    }

    /// What has to be prepared while there is no device: the samples once they are wanted, since nobody hears them and they
    /// take memory; before that only the attacks are measured, which is what planning asks for.
    pub(super) fn to_prepare(&self, rate: u32) -> Option<Preparing> {
        let library = self.library()?;
        if self.wanted.load(Relaxed) || library.ready(rate).is_some() {
            return self.to_bring(rate).map(Preparing::Samples);
        }
        (self.measured.swap(library.stamp(), Relaxed) != library.stamp()).then_some(Preparing::Attacks(library))
    }

    /// Prepares on a thread of its own, which may fail: then the desk reads it, and everything else goes on.
    pub(super) fn prepare_or_say(&self, what: &Preparing, rate: u32) {
        let prepare = || match what {
            Preparing::Samples(library) => self.bring(library, rate),
            Preparing::Attacks(library) => library.measure(),
        };
        if let Err(payload) = catch_unwind(AssertUnwindSafe(prepare)) {
            self.faults.note(PREPARING, payload.as_ref(), false);
        }
    }

    /// Computes the shelf, which takes its time, and brings it to the audio half.
    pub(super) fn bring(&self, library: &Library, rate: u32) {
        let shelf = self.with_call(&library.shelf(rate), Some(library));
        let sent = lock(&self.ends).as_mut().is_some_and(|ends| ends.shelves.push(shelf).is_ok());
        if !sent {
            // The next look will try again.
            self.stocked.store(0, Relaxed);
        }
    }

    /// Sends a voice to the audio half.
    pub(super) fn send(&self, planned: Planned) {
        if !planned.kind.is_click() {
            self.wanted.store(true, Relaxed);
        }
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

    /// Asks the supervisor for another device.
    pub(super) fn choose(&self, change: DeviceChange) {
        self.ask_device(change.device.clone());
        *lock(&self.chosen) = Some(change);
        self.rechosen.store(true, Release);
    }

    /// Remembers the name of the device that is asked for.
    pub(super) fn ask_device(&self, device: Option<String>) {
        *lock(&self.asked) = device;
    }

    /// That name; nothing is the machine's own choice.
    pub(super) fn asked_device(&self) -> Option<String> {
        lock(&self.asked).clone()
    }

    /// The device that was asked for since the last time.
    pub(super) fn take_chosen(&self) -> Option<DeviceChange> {
        self.rechosen.store(false, Release);
        lock(&self.chosen).take()
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

/// What is on a shelf, as one number.
fn key(library: &Library, rate: u32) -> u64 {
    (u64::from(library.stamp()) << 32) | u64::from(rate)
}

/// The audio half never takes these locks, and nobody holds one for longer than a push or a copy.
fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
