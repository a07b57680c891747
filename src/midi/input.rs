//! MIDI in: a foot switch or pad that calls HOLD or steps on. Its port is watched like the output's.

use std::sync::mpsc::{self, Receiver, RecvTimeoutError, Sender};
use std::sync::{Arc, Mutex};
use std::thread;

use midir::{Ignore, MidiInput, MidiInputConnection, MidiOutput};
use tokio::sync::mpsc::UnboundedSender;

use super::port::{self, Opened, Probe};
use super::settings::{MidiSettings, PortChoice};
use super::status::MidiStatus;
use super::trigger::{Listener, Meaning, Trigger};
use super::worker::AGAIN;
use crate::faults::{Faults, Part};
use crate::time::ServerClock;

/// What came in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MidiEvent {
    /// The switch for HOLD went down.
    Hold,
    /// The switch for the next step went down.
    Step,
    /// Something was pressed that nothing is known for: it can be learned.
    Learned(Trigger),
}

/// The watching thread, to the desk.
const WATCH: Part =
    Part { name: "MIDI in", costs: "The foot switch may have been missed meanwhile: call hold by voice." };

/// MIDI in. It ends with the handle.
#[derive(Debug)]
pub struct MidiIn {
    place: Arc<Mutex<(bool, String)>>,
    faults: Faults,
    _closing: Option<Sender<()>>,
}

impl MidiIn {
    /// Listens as the settings ask, and sends what comes in to `events`. Never fails and never waits.
    pub fn open(settings: &MidiSettings, clock: ServerClock, events: UnboundedSender<MidiEvent>) -> MidiIn {
        MidiIn::open_with(open, settings, clock, events)
    }

    fn open_with(
        open: Open,
        settings: &MidiSettings,
        clock: ServerClock,
        events: UnboundedSender<MidiEvent>,
    ) -> MidiIn {
        let Some(choice) = settings.input.clone() else { return MidiIn::off() };
        let place = Arc::new(Mutex::new((false, "Looking for the MIDI input.".to_owned())));
        let (closing, closed) = mpsc::channel();
        let ear = Ear { listener: Listener::new(settings.hold, settings.step), clock, events };
        let watcher = Watcher { open, choice, place: Arc::clone(&place), ear, closed };
        let faults = Faults::default();
        let kept = faults.clone();
        let work = move || kept.keep_running(WATCH, |_| {}, || watcher.run());
        if let Err(error) = thread::Builder::new().name("midi input".into()).spawn(work) {
            let says = format!("No MIDI in: the system gives no thread for it ({error}). Call hold by voice.");
            say(&place, false, &says);
        }
        MidiIn { place, faults, _closing: Some(closing) }
    }

    /// No MIDI in, on purpose.
    pub fn off() -> MidiIn {
        let place = Arc::new(Mutex::new((true, "MIDI in is off.".to_owned())));
        MidiIn { place, faults: Faults::default(), _closing: None }
    }

    /// How it is: only `well` and `says` mean anything.
    pub fn status(&self) -> MidiStatus {
        let (well, says) = self.place.lock().map(|place| place.clone()).unwrap_or_default();
        MidiStatus { well, says, ..MidiStatus::default() }
    }

    /// What failed in its thread, a sentence each; it has begun again.
    pub fn faults(&self) -> Vec<String> {
        self.faults.sentences()
    }
}

/// What hears the messages, on midir's own thread.
#[derive(Clone)]
struct Ear {
    listener: Listener,
    clock: ServerClock,
    events: UnboundedSender<MidiEvent>,
}

impl Ear {
    fn hear(&mut self, bytes: &[u8]) {
        let event = match self.listener.hear(self.clock.now(), bytes) {
            Some(Meaning::Hold) => MidiEvent::Hold,
            Some(Meaning::Step) => MidiEvent::Step,
            Some(Meaning::Unknown(trigger)) => MidiEvent::Learned(trigger),
            None => return,
        };
        // When nobody listens any more the server is ending.
        let _ = self.events.send(event);
    }
}

/// How the port is opened.
type Open = fn(&PortChoice, Ear) -> Result<(Connection, Opened), String>;

/// What is let go of to close the port.
type Connection = Box<dyn std::any::Any>;

struct Watcher {
    open: Open,
    choice: PortChoice,
    place: Arc<Mutex<(bool, String)>>,
    ear: Ear,
    closed: Receiver<()>,
}

impl Watcher {
    /// Runs until it is closed. Called again after a panic, it looks for the port anew.
    fn run(&self) {
        crate::sound::hush::hush();
        let mut opened: Option<(Connection, Opened)> = None;
        let mut complained = String::new();
        let mut pause = false;
        loop {
            if std::mem::take(&mut pause) {
                // One round is left out, so that MIDI out has let go of its port, too, before a client is asked for.
            } else if let Some((_, gone)) = opened.take_if(|(_, port)| !port.is_there()) {
                self.complain(&format!("the MIDI port \"{}\" is gone", gone.name), &mut complained);
                pause = true;
            } else if opened.is_none() {
                match (self.open)(&self.choice, self.ear.clone()) {
                    Ok(found) => {
                        let says = format!("MIDI in listens to {}.", found.1.name);
                        tracing::info!("{says}");
                        say(&self.place, true, &says);
                        complained.clear();
                        opened = Some(found);
                    }
                    Err(reason) => self.complain(&reason, &mut complained),
                }
            }
            match self.closed.recv_timeout(AGAIN) {
                Err(RecvTimeoutError::Timeout) => {}
                Ok(()) | Err(RecvTimeoutError::Disconnected) => break,
            }
        }
    }

    fn complain(&self, reason: &str, before: &mut String) {
        let says = format!(
            "No MIDI in, so the foot switch does not work: {reason}. Call hold by voice; it is looked for every two seconds."
        );
        if *before != reason {
            tracing::warn!("{says}");
            reason.clone_into(before);
        }
        say(&self.place, false, &says);
    }
}

fn say(place: &Mutex<(bool, String)>, well: bool, says: &str) {
    if let Ok(mut place) = place.lock() {
        *place = (well, says.to_owned());
    }
}

fn open(choice: &PortChoice, ear: Ear) -> Result<(Connection, Opened), String> {
    let (connection, opened) = connect(choice, ear)?;
    Ok((Box::new(connection), opened))
}

fn connect(choice: &PortChoice, ear: Ear) -> Result<(MidiInputConnection<Ear>, Opened), String> {
    let mut client = MidiInput::new(port::CLIENT).map_err(port::no_midi)?;
    // A foot switch is no sequencer: clocks and system exclusives are left out before they cost anything.
    client.ignore(Ignore::All);
    let hear = |_: u64, bytes: &[u8], ear: &mut Ear| ear.hear(bytes);
    let PortChoice::Named(wanted) = choice else { return virtual_in(client, ear) };
    let ports = client.ports().into_iter().filter_map(|port| Some((client.port_name(&port).ok()?, port)));
    let (name, found) = port::find(ports.collect(), wanted)?;
    let probe = Probe::ListenTo(MidiInput::new(port::PROBE).map_err(port::no_midi)?, found.id());
    let connection = client.connect(&found, port::IN, hear, ear).map_err(|error| port::in_use(&name, &error))?;
    Ok((connection, Opened::new(name, probe)?))
}

#[cfg(unix)]
fn virtual_in(client: MidiInput, ear: Ear) -> Result<(MidiInputConnection<Ear>, Opened), String> {
    use midir::os::unix::VirtualInput;
    let hear = |_: u64, bytes: &[u8], ear: &mut Ear| ear.hear(bytes);
    let connection = client.create_virtual(port::IN, hear, ear).map_err(|error| port::in_use(port::IN, &error))?;
    let probe = Probe::OwnIn(MidiOutput::new(port::PROBE).map_err(port::no_midi)?);
    Ok((connection, Opened::new(format!("{}:{}", port::CLIENT, port::IN), probe)?))
}

#[cfg(not(unix))]
fn virtual_in(_: MidiInput, _: Ear) -> Result<(MidiInputConnection<Ear>, Opened), String> {
    Err(port::NO_VIRTUAL.to_owned())
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::{AtomicU64, Ordering::Relaxed};
    use std::time::Duration;

    use super::*;

    /// How often the port was looked for.
    static LOOKS: AtomicU64 = AtomicU64::new(0);

    #[test]
    fn a_watching_thread_that_panics_is_told_and_looks_again() {
        let open: Open = |_, _| match LOOKS.fetch_add(1, Relaxed) {
            0 => panic!("a driver failed"),
            _ => Err("there is none".to_owned()),
        };
        let settings = MidiSettings { input: Some(PortChoice::Virtual), ..MidiSettings::default() };
        let (events, _heard) = tokio::sync::mpsc::unbounded_channel();
        let midi = MidiIn::open_with(open, &settings, ServerClock::new(), events);
        while !midi.status().says.contains("there is none") {
            thread::sleep(Duration::from_millis(5));
        }
        let faults = midi.faults();
        assert!(faults[0].starts_with("MIDI in failed and has begun again (a driver failed)."), "{faults:?}");
    }
}
