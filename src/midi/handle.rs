//! The handle of MIDI out: it can be cloned, sent and shared, and none of its calls waits for anything.

use std::fmt;
use std::sync::atomic::Ordering::{AcqRel, Acquire};
use std::sync::mpsc::{self, Receiver, Sender};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::Duration;

use super::pace::Pace;
use super::port::{self, NullPort, Port};
use super::schedule::{Planned, RunTiming, Schedule};
use super::settings::MidiSettings;
use super::shared::{Place, Shared};
use super::status::{MidiStatus, Sent};
use super::worker::{Command, Life, Watcher, Worker};
use crate::faults::Part;
use crate::time::ServerClock;
use crate::units::Generation;

/// The sending thread, to the desk.
const SEND: Part = Part {
    name: "MIDI out",
    costs: "What was planned for it is lost, and what sounded was ended; clock and timecode come with the next run.",
};
/// The watching thread.
const WATCH: Part = Part { name: "The watch of the MIDI port", costs: "The port is looked for anew." };

/// MIDI out. It ends, with the bytes that stop everything, with the last handle.
#[derive(Clone)]
pub struct MidiOut {
    shared: Arc<Shared>,
    /// Nothing when MIDI is off: then every call is done before it begins.
    commands: Option<Sender<Command>>,
    _threads: Option<Arc<Threads>>,
}

impl MidiOut {
    /// Opens MIDI out as the settings ask. Never fails and never waits: threads of its own open the port, and as long
    /// as there is none the same messages are counted as lost, which is said in the log once and always in
    /// [`MidiOut::status`]; the port is looked for again every two seconds.
    pub fn open(settings: MidiSettings, clock: ServerClock) -> MidiOut {
        let Some(choice) = settings.out.clone() else { return MidiOut::off() };
        let (midi, mut threads) = MidiOut::begin(settings, clock, None);
        midi.shared.set_place(Place { says: "Looking for the MIDI port.".into(), ..Place::default() });
        let (closing, closed) = mpsc::channel();
        let commands = midi.commands.clone();
        let watched = commands.map(|commands| Watcher {
            open: port::open_out,
            choice,
            shared: Arc::clone(&midi.shared),
            commands,
            closed,
        });
        if let Some(watcher) = watched {
            let faults = midi.shared.faults.clone();
            midi.start("midi port", move || faults.keep_running(WATCH, |_| {}, || watcher.run()));
        }
        threads.closing = Some(closing);
        midi.with(threads)
    }

    /// MIDI that goes to a port that leads nowhere: for tests and for measuring.
    pub fn null(settings: MidiSettings, clock: ServerClock) -> MidiOut {
        MidiOut::to_port(settings, clock, Box::new(NullPort))
    }

    /// MIDI to a port of the caller's.
    pub fn to_port(settings: MidiSettings, clock: ServerClock, port: Box<dyn Port>) -> MidiOut {
        let (midi, threads) = MidiOut::begin(settings, clock, Some(port));
        midi.shared.set_place(Place { port: "a port of one's own".into(), well: true, says: "MIDI is on.".into() });
        midi.with(threads)
    }

    /// No MIDI, on purpose.
    pub fn off() -> MidiOut {
        let shared = Arc::new(Shared::default());
        shared.set_place(Place { well: true, says: "MIDI is off.".into(), ..Place::default() });
        MidiOut { shared, commands: None, _threads: None }
    }

    /// Plans something for its time.
    pub fn plan(&self, planned: Planned) {
        self.tell(Command::Plan(planned));
    }

    /// A run begins, or is timed anew.
    pub fn run(&self, timing: RunTiming) {
        self.tell(Command::Run(Box::new(timing)));
    }

    /// This generation lives: nothing older goes out any more, and what stops it goes out at once. An atomic store and
    /// a knock on the sending thread's door.
    pub fn silence(&self, lives: Generation) {
        self.shared.lives.fetch_max(lives.0, AcqRel);
        self.tell(Command::Silence);
    }

    /// Ends what sounds and drops what is planned to sound, at once; clock and timecode go on.
    pub fn hush(&self) {
        self.tell(Command::Hush);
    }

    /// The generation that lives.
    pub fn lives(&self) -> Generation {
        Generation(self.shared.lives.load(Acquire))
    }

    /// How MIDI is.
    pub fn status(&self) -> MidiStatus {
        self.shared.status()
    }

    /// What went out since the last call, in order; the last thousand messages when nobody asked for long.
    pub fn take_sent(&self) -> Vec<Sent> {
        self.shared.take_sent()
    }

    /// What failed in its threads, a sentence each; they have begun again.
    pub fn faults(&self) -> Vec<String> {
        self.shared.faults.sentences()
    }

    fn begin(settings: MidiSettings, clock: ServerClock, port: Option<Box<dyn Port>>) -> (MidiOut, Threads) {
        let shared = Arc::new(Shared::default());
        let (sender, commands) = mpsc::channel();
        let (finished, ended) = mpsc::channel();
        let pace = Pace::new(clock.now());
        let schedule = Schedule::new(settings);
        let life = Life::default();
        let mut worker = Worker { clock, schedule, shared: Arc::clone(&shared), port, pace, commands, life };
        let faults = shared.faults.clone();
        let midi = MidiOut { shared, commands: Some(sender), _threads: None };
        midi.start("midi", move || {
            faults.keep_running(SEND, |_| {}, || worker.run());
            drop(finished);
        });
        (midi, Threads { closing: None, ended: Mutex::new(ended) })
    }

    fn start(&self, name: &str, work: impl FnOnce() + Send + 'static) {
        if let Err(error) = thread::Builder::new().name(name.into()).spawn(work) {
            let says = format!("No MIDI: the system gives no thread for it ({error}). Everything else goes on.");
            tracing::warn!("{says}");
            self.shared.set_place(Place { port: String::new(), well: false, says });
        }
    }

    fn with(self, threads: Threads) -> MidiOut {
        MidiOut { _threads: Some(Arc::new(threads)), ..self }
    }

    fn tell(&self, command: Command) {
        if let Some(commands) = &self.commands {
            // Without a thread, which the status says, nobody listens.
            let _ = commands.send(command);
        }
    }
}

impl fmt::Debug for MidiOut {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("MidiOut").field("status", &self.status()).finish_non_exhaustive()
    }
}

/// Ends the threads with the last handle. The commands' sender goes first (it stands first in [`MidiOut`]), the
/// watching thread lets go of its own when it is closed; then the sending thread has a moment for its last bytes.
struct Threads {
    closing: Option<Sender<()>>,
    ended: Mutex<Receiver<()>>,
}

impl Drop for Threads {
    fn drop(&mut self) {
        self.closing = None;
        if let Ok(ended) = self.ended.lock() {
            let _ = ended.recv_timeout(Duration::from_millis(500));
        }
    }
}
