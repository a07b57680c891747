//! The desk's half: the handle.

use std::sync::Arc;
use std::sync::atomic::Ordering::{AcqRel, Acquire, Relaxed};
use std::sync::mpsc::{self, Receiver, Sender};
use std::thread;
use std::time::Duration;

use super::agenda::Planned;
use super::delay::{Delay, through_air};
use super::hold_call::{HoldCall, HoldSettings};
use super::library::Library;
use super::meter::Level;
use super::player::Player;
use super::settings::SoundSettings;
use super::shared::{DeviceChange, Place, Shared};
use super::status::SoundStatus;
use super::supervisor::{self, Supervisor};
use super::voice::{Sent, Voice, gain};
use crate::faults::Part;
use crate::time::ServerClock;
use crate::units::{Decibels, Generation, Micros};

/// The rate while there is no device, samples per second.
const USUAL_RATE: u32 = 48_000;

/// The thread that opens and watches the device, to the desk.
const SUPERVISOR: Part = Part { name: "The sound output", costs: "What was planned to sound at that moment is lost." };

/// The sound of the desk: a handle that can be cloned, sent and shared. None of its calls waits for a device. The sound
/// ends, and the device is given back, with the last handle.
#[derive(Clone, Debug)]
pub struct Sound {
    shared: Arc<Shared>,
    click_level: Decibels,
    /// The parts of the delay that are chosen: what was calibrated, and the air.
    chosen: Delay,
    _thread: Option<Arc<Closing>>,
}

impl Sound {
    /// Opens the sound output. Never fails and never waits: a thread of its own opens the device, and as long as there
    /// is none the same voices go to a null device, which is said once in the log and always in [`Sound::status`]; the
    /// device is found again within ten seconds, and mostly within two.
    pub fn open(settings: SoundSettings, clock: ServerClock) -> Sound {
        Sound::supervised(Some(settings), clock)
    }

    /// Sound that nobody hears: for tests, and for desks that want none.
    pub fn null(clock: ServerClock) -> Sound {
        Sound::supervised(None, clock)
    }

    /// A handle, and its audio half to be filled by hand: for tests and for measuring.
    pub fn by_hand(rate: u32) -> (Sound, Player) {
        Sound::by_hand_calling(rate, HoldSettings::default())
    }

    /// The same with another call of the hold.
    pub fn by_hand_calling(rate: u32, hold: HoldSettings) -> (Sound, Player) {
        let shared = Arc::new(Shared::calling(hold));
        shared.set_place(Place { rate, well: true, says: "Sound is filled by hand.".into(), ..Place::default() });
        let player = Player::new(&shared, rate);
        (Sound { shared, click_level: Decibels::default(), chosen: Delay::default(), _thread: None }, player)
    }

    /// Gives it the sounds that scores can name. They are prepared on a thread of their own and heard as soon as they
    /// are ready, without a device once they are wanted; what sounds now goes on. Filled by hand, they are prepared before
    /// this returns.
    pub fn stock(&self, library: Arc<Library>) {
        self.shared.set_library(library);
        if self._thread.is_none() {
            let rate = self.shared.place().rate;
            if let Some(library) = self.shared.to_bring(rate) {
                self.shared.bring(&library, rate);
            }
        }
    }

    /// The sounds that it was given.
    pub fn library(&self) -> Option<Arc<Library>> {
        self.shared.library()
    }

    /// Somebody looks at how loud the sounds are: from now on they are prepared without a device, too.
    pub fn want(&self) {
        self.shared.wanted.store(true, Relaxed);
    }

    /// True once the sounds are there at the rate of the device, or nobody hears them anyway.
    pub fn is_prepared(&self) -> bool {
        let Place { device, rate, .. } = self.shared.place();
        let heard = self._thread.is_none() || !device.is_empty();
        !heard || self.library().is_none_or(|library| library.ready(rate).is_some())
    }

    /// Plans a voice: to be heard at its time. One whose generation is dead already is only counted.
    pub fn plan(&self, voice: Voice) {
        self.shared.planned.fetch_add(1, Relaxed);
        if voice.generation.0 < self.shared.lives.load(Acquire) {
            self.shared.silenced.fetch_add(1, Relaxed);
            return;
        }
        let own = if voice.kind.is_click() { self.click_level } else { Decibels::default() };
        self.shared.send(Planned {
            due: voice.due,
            kind: voice.kind,
            gain: gain(Decibels(voice.level.0 + own.0)),
            generation: voice.generation,
        });
    }

    /// Silences every generation older than `lives`: what is planned of it is dropped in every queue, and what sounds
    /// fades out in 5 ms from the next sample that is mixed on. One atomic operation; a generation never comes back.
    pub fn silence(&self, lives: Generation) {
        self.shared.lives.fetch_max(lives.0, AcqRel);
    }

    /// Silences like [`Sound::silence`], and lets the loudspeakers call the hold, once, as soon as all that sounded has
    /// faded. `pull` is the number of the hold among those that this handle was told of: one that is not higher than every
    /// number before has been called out already, so that any number of threads may tell the same hold in any order. A
    /// newer one while the call sounds begins it anew. Two atomic operations, no lock, no wait. It is heard when the
    /// sound is muted, too; nothing ends it but its end, or that of the device.
    pub fn hold(&self, lives: Generation, pull: u64) {
        // In this order: whoever sees the pull sees what it killed.
        self.silence(lives);
        self.shared.pull.fetch_max(pull, AcqRel);
    }

    /// Lets the loudspeakers call the hold without silencing anything: somebody tries it.
    pub fn try_hold(&self) {
        self.shared.trials.fetch_add(1, AcqRel);
    }

    /// What the house chose that the loudspeakers say.
    pub fn hold_call(&self) -> &HoldCall {
        &self.shared.hold.call
    }

    /// True when the loudspeakers would call a hold now: the house wants it, and there is a device that plays.
    pub fn says_hold(&self) -> bool {
        let place = self.shared.place();
        self.shared.hold.call != HoldCall::Off && place.well && !place.device.is_empty()
    }

    /// Takes another device, or runs it otherwise: the one that plays is let go, and the rest of the settings stay.
    /// What is planned is heard on the new one. Does nothing to sound that is switched off.
    pub fn choose(&self, change: DeviceChange) {
        self.shared.choose(change);
    }

    /// The device that was asked for; nothing is the machine's own choice.
    pub fn chosen_device(&self) -> Option<String> {
        self.shared.asked_device()
    }

    /// Mutes everything, or lets it be heard again, within 5 ms. Voices go on meanwhile.
    pub fn mute(&self, muted: bool) {
        self.shared.muted.store(muted, Relaxed);
    }

    /// How loud the mix was since the last call.
    pub fn take_level(&self) -> Level {
        self.shared.meter.take()
    }

    /// How the sound is.
    pub fn status(&self) -> SoundStatus {
        let place = self.shared.place();
        let whole = Micros(self.shared.delay_us.load(Relaxed));
        // Before the device has said anything, nothing is known of its own part.
        let house = self.chosen.calibrated + self.chosen.air;
        let device = if whole == Micros::ZERO { Micros::ZERO } else { whole - house };
        let delay = Delay { device, ..self.chosen };
        let count = |counter: &std::sync::atomic::AtomicU64| counter.load(Relaxed);
        SoundStatus {
            device: place.device,
            rate: place.rate,
            buffer: place.buffer,
            latency_us: whole.0,
            delay,
            well: place.well,
            says: place.says,
            planned: count(&self.shared.planned),
            sounded: count(&self.shared.sounded),
            late: count(&self.shared.late),
            silenced: count(&self.shared.silenced),
            dropped: count(&self.shared.dropped),
            underruns: count(&self.shared.underruns),
            tries: count(&self.shared.tries),
            calls: count(&self.shared.calls),
        }
    }

    /// What failed in the threads behind it, a sentence each.
    pub fn faults(&self) -> Vec<String> {
        self.shared.faults.sentences()
    }

    /// What was sounded since the last call, in order. Ask at least once in a thousand voices: newer records are not
    /// kept when nobody asks.
    pub fn take_sent(&self) -> Vec<Sent> {
        self.shared.take_sent()
    }

    fn supervised(settings: Option<SoundSettings>, clock: ServerClock) -> Sound {
        let hold = settings.as_ref().map(|settings| settings.hold.clone()).unwrap_or_default();
        let shared = Arc::new(Shared::calling(hold));
        let click_level = settings.as_ref().map(|settings| settings.click_level).unwrap_or_default();
        let chosen = settings.as_ref().map_or(Delay::default(), |settings| Delay {
            device: Micros::ZERO,
            calibrated: settings.latency,
            air: through_air(settings.distance, settings.celsius),
        });
        shared.ask_device(settings.as_ref().and_then(|settings| settings.device.clone()));
        let well = settings.is_none();
        let says = if well { supervisor::SWITCHED_OFF } else { "Looking for the sound device." };
        shared.set_place(Place { rate: USUAL_RATE, well, says: says.into(), ..Place::default() });

        let (closing, closed) = mpsc::channel();
        let (finished, ended) = mpsc::channel();
        let player = Player::new(&shared, USUAL_RATE);
        let mut supervisor = Supervisor::new(settings, clock, Arc::clone(&shared), player, closed);
        let faults = shared.faults.clone();
        let started = thread::Builder::new().name("sound".into()).spawn(move || {
            faults.keep_running(SUPERVISOR, |_| {}, || supervisor.run());
            drop(finished);
        });
        if let Err(error) = started {
            let says = format!("No sound: the system gives no thread for it ({error}). Everything else goes on.");
            tracing::warn!("{says}");
            shared.set_place(Place { rate: USUAL_RATE, well: false, says, ..Place::default() });
        }
        let thread = Closing { closing: Some(closing), ended: ended.into() };
        Sound { shared, click_level, chosen, _thread: Some(Arc::new(thread)) }
    }
}

/// Ends the supervisor with the last handle, and gives it a moment to hand back the device.
#[derive(Debug)]
struct Closing {
    closing: Option<Sender<()>>,
    ended: std::sync::Mutex<Receiver<()>>,
}

impl Drop for Closing {
    fn drop(&mut self) {
        self.closing = None;
        if let Ok(ended) = self.ended.lock() {
            let _ = ended.recv_timeout(Duration::from_millis(500));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sound::VoiceKind;

    #[test]
    fn a_supervisor_that_panics_is_told_and_what_is_planned_afterwards_sounds() {
        let clock = ServerClock::new();
        let sound = Sound::null(clock);
        sound.shared.fail.store(true, Relaxed);
        let until = |is_so: &dyn Fn() -> bool| {
            while !is_so() {
                thread::sleep(Duration::from_millis(5));
            }
        };
        until(&|| !sound.faults().is_empty());
        assert!(sound.faults()[0].starts_with("The sound output failed and has begun again (on purpose)."));
        until(&|| {
            let due = clock.now() + Micros::millis(200);
            sound.plan(Voice { due, kind: VoiceKind::Click, level: Decibels(0.0), generation: Generation(0) });
            sound.status().sounded > 0
        });
    }
}
