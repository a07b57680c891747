//! The thread behind the handle: opens the device, watches it, puts the null device in its place while there is none,
//! and looks for it again. It does all the waiting and all the talking, so that the audio half has to do neither.

use std::sync::Arc;
use std::sync::atomic::Ordering::{Acquire, Relaxed};
use std::sync::mpsc::{self, Receiver, RecvTimeoutError, Sender};
use std::thread;
use std::time::Duration;

use super::device::{self, Choice, Health, NO_DEVICE, Needs};
use super::hush::hush;
use super::null::NullDevice;
use super::player::Player;
use super::settings::SoundSettings;
use super::shared::{DeviceChange, Place, Preparing, Shared};
use super::signs::Signs;
use crate::time::ServerClock;
use crate::units::{Micros, ServerTime};

/// What the desk reads when sound was switched off on purpose.
pub(super) const SWITCHED_OFF: &str = "Sound is switched off: clicks and effects are not heard.";

/// How long until the device is looked for again where the system shows that something has changed.
const AGAIN: Micros = Micros::seconds(2);
/// And where it shows nothing: another program may have let go of one.
const AGAIN_AT_LAST: Micros = Micros::seconds(6);
/// How often a running device is looked at.
const LOOK: Duration = Duration::from_millis(50);
/// How often the null device is fed while something sounds or waits for its time.
const FEED: Duration = Duration::from_millis(20);
/// How often while nothing does. It takes what it has missed with its own times, so nothing comes late by it.
const REST: Duration = Duration::from_millis(500);
/// A device that has taken no sample for so long, and for four of its buffers, is of no further use; a shorter trouble
/// it may get over.
const STOPPED: Micros = Micros::seconds(1);
/// Drop-outs are told in the log no more often than this.
const TELL: Micros = Micros::seconds(10);
/// How long a device may take to give the player back.
const GIVE_BACK: Duration = Duration::from_secs(2);

/// How a stay with a device or with the null device ended.
#[derive(Debug, PartialEq)]
enum End {
    /// Nobody holds the handle any more.
    Closed,
    /// The device is of no further use: why.
    Lost(String),
    /// It is time to look for a device again, or another one was chosen.
    LookAgain,
}

/// The supervisor's own state.
pub(super) struct Supervisor {
    settings: Option<SoundSettings>,
    clock: ServerClock,
    shared: Arc<Shared>,
    player: Option<Player>,
    closed: Receiver<()>,
    home: (Sender<Player>, Receiver<Player>),
    null: NullDevice,
    silent: bool,
    /// It has run before: then it was left by a panic.
    begun: bool,
}

impl Supervisor {
    /// Makes one; with no settings it never looks for a device.
    pub(super) fn new(
        settings: Option<SoundSettings>,
        clock: ServerClock,
        shared: Arc<Shared>,
        player: Player,
        closed: Receiver<()>,
    ) -> Supervisor {
        let null = NullDevice::new(player.rate(), &clock);
        Supervisor {
            settings,
            clock,
            shared,
            player: Some(player.for_nobody()),
            closed,
            home: mpsc::channel(),
            null,
            silent: false,
            begun: false,
        }
    }

    /// Runs until nobody holds the handle any more. Called again after a panic, it goes on with a new audio half: what was
    /// planned is lost.
    pub(super) fn run(&mut self) {
        if std::mem::replace(&mut self.begun, true) {
            let rate = self.null.rate();
            self.home = mpsc::channel();
            self.player = Some(Player::new(&self.shared, rate).for_nobody());
            self.null = NullDevice::new(rate, &self.clock);
            self.silent = false;
        }
        loop {
            let chosen = self.take_choice();
            if let Some(settings) = self.settings.clone() {
                let looks = chosen || self.may_have_one(Signs::now().as_ref());
                match if looks { self.with_device(&settings) } else { Err(NO_DEVICE.to_owned()) } {
                    Ok(End::Closed) => return,
                    Ok(_) => continue,
                    Err(why) => self.say_silent(&why),
                }
            }
            if self.without_device() == End::Closed {
                return;
            }
        }
    }

    /// False where nothing that the system shows speaks for a device, and none was asked for by name.
    fn may_have_one(&self, shown: Option<&Signs>) -> bool {
        let named = self.settings.as_ref().is_some_and(|settings| settings.device.is_some());
        named || !shown.is_some_and(Signs::show_none)
    }

    /// Takes up the device that was chosen meanwhile. True when one was.
    fn take_choice(&mut self) -> bool {
        let (Some(change), Some(settings)) = (self.shared.take_chosen(), &mut self.settings) else { return false };
        let DeviceChange { device, rate, buffer_frames } = change;
        *settings = SoundSettings { device, rate, buffer_frames, ..settings.clone() };
        self.silent = false;
        true
    }

    /// Plays on the device until it is lost (an error that says why), another one is chosen or the sound is closed.
    fn with_device(&mut self, settings: &SoundSettings) -> Result<End, String> {
        hush();
        self.shared.tries.fetch_add(1, Relaxed);
        let mut choice = device::choose(settings)?;
        let health = Arc::new(Health::default());
        self.shared.delay_us.store(0, Relaxed);
        let stream = match self.open_stream(&choice, settings.house_delay(), &health) {
            Ok(stream) => stream,
            Err(_) => {
                // Some devices take no buffer but their own.
                choice.buffer = 0;
                self.open_stream(&choice, settings.house_delay(), &health)?
            }
        };
        self.say_well(&choice);
        let end = self.watch(&choice, &health);
        health.given_up.store(true, Relaxed);
        self.shared.delay_us.store(0, Relaxed);
        // A device that hangs would hang whoever closes it.
        let closing = thread::Builder::new().name("sound closing".into()).spawn(move || drop(stream));
        self.welcome_home(choice.rate.get());
        match end {
            End::Lost(why) => Err(why),
            // One that hangs may be why another was chosen: nobody waits for it any longer.
            End::LookAgain => Ok(end),
            End::Closed => {
                // The device is let go before the program goes on to end.
                if let Ok(closing) = closing {
                    let _ = closing.join();
                }
                Ok(end)
            }
        }
    }

    /// Lends the player to the device; when that fails, it is back.
    fn open_stream(&mut self, choice: &Choice, latency: Micros, health: &Arc<Health>) -> Result<cpal::Stream, String> {
        let rate = choice.rate.get();
        let player = self.player.take().unwrap_or_else(|| Player::new(&self.shared, rate));
        let needs = Needs { health, shared: &self.shared, clock: self.clock, latency, home: &self.home.0 };
        let stream = device::start(choice, player, &needs);
        if stream.is_err() {
            self.welcome_home(rate);
        }
        stream
    }

    /// Waits while the device takes samples.
    fn watch(&self, choice: &Choice, health: &Health) -> End {
        let (mut calls, mut moved) = (health.calls.load(Relaxed), self.clock.now());
        let mut errors = health.errors.load(Relaxed);
        let buffer = Micros(i64::from(choice.buffer) * 1_000_000 / i64::from(choice.rate.get()));
        let stopped = STOPPED.max(Micros(4 * buffer.0));
        let (mut gaps, mut told) = (self.shared.underruns.load(Relaxed), None);
        loop {
            if self.closed.recv_timeout(LOOK) == Err(RecvTimeoutError::Disconnected) {
                return End::Closed;
            }
            if self.shared.rechosen.load(Acquire) {
                return End::LookAgain;
            }
            self.prepare(self.shared.to_bring(choice.rate.get()).map(Preparing::Samples), choice.rate.get());
            let (now, calls_now) = (self.clock.now(), health.calls.load(Relaxed));
            if calls_now != calls {
                (calls, moved, errors) = (calls_now, now, health.errors.load(Relaxed));
            }
            let still = now.since(moved) > stopped;
            if health.broken.load(Relaxed) || (still && health.errors.load(Relaxed) != errors) {
                return End::Lost(format!("the sound device “{}” is gone", choice.name));
            }
            if still {
                return End::Lost(format!("the sound device “{}” has stopped taking sound", choice.name));
            }
            self.tell_gaps(&mut gaps, &mut told, now);
        }
    }

    /// Has that computed, if anything, on a thread of its own, since it takes longer than a buffer lasts.
    fn prepare(&self, what: Option<Preparing>, rate: u32) {
        let Some(what) = what else { return };
        let shared = Arc::clone(&self.shared);
        let started = thread::Builder::new().name("sounds".into()).spawn(move || shared.prepare_or_say(&what, rate));
        if let Err(error) = started {
            tracing::warn!("The system gives no thread to prepare the effects ({error}); only the click is heard.");
        }
    }

    fn tell_gaps(&self, gaps: &mut u64, told: &mut Option<ServerTime>, now: ServerTime) {
        let count = self.shared.underruns.load(Relaxed);
        if count != *gaps && told.is_none_or(|told| now.since(told) > TELL) {
            tracing::warn!(
                "Gaps in the sound since the last word: {}. This machine is too busy for the sound buffer; choose a larger one.",
                count - *gaps
            );
            (*gaps, *told) = (count, Some(now));
        }
    }

    /// Feeds the null device until it is time to look again; for ever when there are no settings.
    fn without_device(&mut self) -> End {
        let (begun, shown) = (self.clock.now(), Signs::now());
        let none = !self.may_have_one(shown.as_ref());
        let mut until = begun + AGAIN;
        let rate = self.player.as_ref().map(Player::rate);
        if rate.is_some_and(|rate| rate != self.null.rate()) {
            self.null = NullDevice::new(rate.unwrap_or_default(), &self.clock);
        }
        loop {
            #[cfg(test)]
            assert!(!self.shared.fail.swap(false, Relaxed), "on purpose");
            if let Some(player) = self.player.as_mut() {
                self.null.catch_up(player, &self.clock);
            }
            self.prepare(self.shared.to_prepare(self.null.rate()), self.null.rate());
            let rests = self.player.as_ref().is_none_or(Player::is_idle);
            if self.closed.recv_timeout(if rests { REST } else { FEED }) == Err(RecvTimeoutError::Disconnected) {
                return End::Closed;
            }
            let now = self.clock.now();
            if self.settings.is_none() || (now < until && !self.shared.rechosen.load(Acquire)) {
                continue;
            }
            let nothing_new = shown.is_some() && Signs::now() == shown && !self.shared.rechosen.load(Acquire);
            if nothing_new && (none || now.since(begun) < AGAIN_AT_LAST) {
                until = now + AGAIN;
                continue;
            }
            return End::LookAgain;
        }
    }

    /// Takes the player back from a device; when the device keeps it, there is a new one.
    fn welcome_home(&mut self, rate: u32) {
        let mut player = match self.home.1.recv_timeout(GIVE_BACK) {
            Ok(player) => player,
            Err(_) => {
                // The old one may still come, later: nobody waits for it at the new door.
                self.home = mpsc::channel();
                Player::new(&self.shared, rate)
            }
        };
        player.move_to(rate);
        self.player = Some(player.for_nobody());
        self.null = NullDevice::new(rate, &self.clock);
    }

    fn say_well(&mut self, choice: &Choice) {
        let buffers = match choice.buffer {
            0 => "in buffers of its own choice".into(),
            frames => format!("in buffers of {frames} frames"),
        };
        let says = format!("Sound goes to “{}” at {} Hz {buffers}.{}", choice.name, choice.rate, choice.note);
        tracing::info!("{says}");
        self.silent = false;
        self.shared.set_place(Place {
            device: choice.name.clone(),
            rate: choice.rate.get(),
            buffer: choice.buffer,
            well: true,
            says,
        });
    }

    /// Says that there is no sound: in the log once, until there was sound again.
    fn say_silent(&mut self, why: &str) {
        let says = format!(
            "No sound: {why}. Everything else goes on; plug in or choose a sound device, it is found by itself within ten seconds."
        );
        if !self.silent {
            tracing::warn!("{says}");
            self.silent = true;
        }
        let rate = self.null.rate();
        self.shared.set_place(Place { device: String::new(), rate, buffer: 0, well: false, says });
    }
}
