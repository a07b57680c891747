//! The handle of OSC out, and the thread that owns its socket.

use std::collections::VecDeque;
use std::io;
use std::net::{Ipv4Addr, Ipv6Addr, SocketAddr, ToSocketAddrs, UdpSocket};
use std::sync::atomic::AtomicU64;
use std::sync::atomic::Ordering::{AcqRel, Acquire, Relaxed};
use std::sync::mpsc::{self, Receiver, RecvTimeoutError, Sender};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::Duration;

use super::messages::Message;
use super::queue::Queue;
use super::target::OscTarget;
use crate::faults::{Faults, Part};
use crate::time::ServerClock;
use crate::units::{Generation, Micros, ServerTime};

/// A host that is not found is looked for so often.
const AGAIN: Micros = Micros::seconds(2);
/// Without anything due the thread looks up so often.
const IDLE: Micros = Micros::seconds(1);

/// How OSC is, with a sentence for a person.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct OscStatus {
    /// True when the last message went out, or OSC is off on purpose.
    pub well: bool,
    /// A sentence for the desk.
    pub says: String,
    /// Packets that went out.
    pub sent: u64,
    /// Packets that did not: nobody there, or no way there.
    pub lost: u64,
    /// Messages that died with their generation.
    pub silenced: u64,
}

/// OSC out: a handle that can be cloned, sent and shared. None of its calls waits; the socket never blocks.
#[derive(Clone, Debug)]
pub struct OscOut {
    shared: Arc<Shared>,
    /// Nothing when OSC is off.
    commands: Option<Sender<Command>>,
}

#[derive(Debug, Default)]
struct Shared {
    lives: AtomicU64,
    sent: AtomicU64,
    lost: AtomicU64,
    silenced: AtomicU64,
    /// What failed in the thread.
    faults: Faults,
    place: Mutex<(bool, String)>,
    records: Mutex<VecDeque<OscSent>>,
}

/// The thread, to the desk.
const SEND: Part = Part { name: "OSC out", costs: "What was planned for it is lost." };

/// Records that are kept when nobody asks for them; older ones go first.
const KEPT: usize = 256;

/// A message that went out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OscSent {
    /// What it was: its address, and the name of a sound.
    pub label: String,
    /// When it was due.
    pub due: ServerTime,
    /// When it was handed to the socket.
    pub at: ServerTime,
}

#[derive(Debug)]
enum Command {
    At(ServerTime, Generation, Message),
    Now(Message),
    Silence,
    Hush,
    /// The thread is to panic.
    #[cfg(test)]
    Fail,
}

impl OscOut {
    /// Sends to that target from now on. Never fails and never waits.
    pub fn open(target: OscTarget, clock: ServerClock) -> OscOut {
        let shared = Arc::new(Shared::default());
        say(&shared, true, &format!("OSC goes to {target}."));
        let (sender, commands) = mpsc::channel();
        let mut worker = Worker {
            begun: false,
            clock,
            target,
            socket: None,
            look_at: clock.now(),
            queue: Queue::default(),
            shared: Arc::clone(&shared),
            commands,
        };
        let faults = shared.faults.clone();
        let work = move || faults.keep_running(SEND, |_| {}, || worker.run());
        if let Err(error) = thread::Builder::new().name("osc".into()).spawn(work) {
            say(&shared, false, &format!("No OSC: the system gives no thread for it ({error})."));
        }
        OscOut { shared, commands: Some(sender) }
    }

    /// No OSC, on purpose.
    pub fn off() -> OscOut {
        let shared = Arc::new(Shared::default());
        say(&shared, true, "OSC is off.");
        OscOut { shared, commands: None }
    }

    /// A message for its time, unless its generation dies before.
    pub fn plan(&self, due: ServerTime, generation: Generation, message: Message) {
        self.tell(Command::At(due, generation, message));
    }

    /// A message for now.
    pub fn send(&self, message: Message) {
        self.tell(Command::Now(message));
    }

    /// This generation lives: nothing older goes out any more.
    pub fn silence(&self, lives: Generation) {
        self.shared.lives.fetch_max(lives.0, AcqRel);
        self.tell(Command::Silence);
    }

    /// Drops what is planned, at once.
    pub fn hush(&self) {
        self.tell(Command::Hush);
    }

    /// What went out since the last call, in order; the last few hundred messages when nobody asked for long.
    pub fn take_sent(&self) -> Vec<OscSent> {
        self.shared.records.lock().map(|mut records| records.drain(..).collect()).unwrap_or_default()
    }

    /// What failed in its thread, a sentence each; it has begun again.
    pub fn faults(&self) -> Vec<String> {
        self.shared.faults.sentences()
    }

    /// How OSC is.
    pub fn status(&self) -> OscStatus {
        let (well, says) = self.shared.place.lock().map(|place| place.clone()).unwrap_or_default();
        let count = |counter: &AtomicU64| counter.load(Relaxed);
        OscStatus {
            well,
            says,
            sent: count(&self.shared.sent),
            lost: count(&self.shared.lost),
            silenced: count(&self.shared.silenced),
        }
    }

    fn tell(&self, command: Command) {
        if let Some(commands) = &self.commands {
            // Without a thread, which the status says, nobody listens.
            let _ = commands.send(command);
        }
    }
}

struct Worker {
    /// It has run before: then it was left by a panic.
    begun: bool,
    clock: ServerClock,
    target: OscTarget,
    socket: Option<UdpSocket>,
    /// When the target may be looked for again.
    look_at: ServerTime,
    queue: Queue,
    shared: Arc<Shared>,
    commands: Receiver<Command>,
}

impl Worker {
    /// Runs until the last handle is gone. Called again after a panic, it goes on with what is planned from then on.
    fn run(&mut self) {
        if std::mem::replace(&mut self.begun, true) {
            (self.queue, self.socket) = (Queue::default(), None);
        }
        loop {
            self.send_due();
            match self.commands.recv_timeout(self.wait()) {
                Ok(command) => self.take(command),
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => break,
            }
            while let Ok(command) = self.commands.try_recv() {
                self.take(command);
            }
        }
    }

    fn take(&mut self, command: Command) {
        self.queue.silence(Generation(self.shared.lives.load(Acquire)));
        match command {
            Command::At(due, generation, message) => self.queue.plan(due, generation, message),
            Command::Now(message) => self.send(self.clock.now(), &message),
            Command::Silence => {}
            Command::Hush => self.queue.hush(),
            #[cfg(test)]
            Command::Fail => panic!("on purpose"),
        }
    }

    fn send_due(&mut self) {
        loop {
            self.queue.silence(Generation(self.shared.lives.load(Acquire)));
            let due = self.queue.deadline();
            let Some((due, message)) = due.zip(self.queue.pop(self.clock.now())) else { break };
            self.send(due, &message);
        }
        self.shared.silenced.store(self.queue.silenced(), Relaxed);
    }

    fn send(&mut self, due: ServerTime, message: &Message) {
        let Some(bytes) = message.encode() else { return };
        self.look();
        let sent = match &self.socket {
            Some(socket) => socket.send(&bytes),
            None => return self.lose(None),
        };
        match sent {
            Ok(_) => {
                self.shared.sent.fetch_add(1, Relaxed);
                self.keep(OscSent { label: message.label(), due, at: self.clock.now() });
                say(&self.shared, true, &format!("OSC goes to {}.", self.target));
            }
            Err(error) => self.lose(Some(&error)),
        }
    }

    fn keep(&self, sent: OscSent) {
        if let Ok(mut records) = self.shared.records.lock() {
            if records.len() >= KEPT {
                records.pop_front();
            }
            records.push_back(sent);
        }
    }

    /// A packet is lost. The kernel tells of an earlier one that nobody took when the next is sent.
    fn lose(&mut self, error: Option<&io::Error>) {
        self.shared.lost.fetch_add(1, Relaxed);
        let Some(error) = error else { return };
        let why = match error.kind() {
            io::ErrorKind::ConnectionRefused => "nobody listens there".to_owned(),
            io::ErrorKind::WouldBlock => "the network takes no more at the moment".to_owned(),
            _ => error.to_string(),
        };
        say(&self.shared, false, &format!("OSC does not reach {}: {why}. Everything else goes on.", self.target));
    }

    /// Opens the socket if there is none and it is time to try.
    fn look(&mut self) {
        if self.socket.is_some() || self.clock.now() < self.look_at {
            return;
        }
        match connect(&self.target) {
            Ok(socket) => self.socket = Some(socket),
            Err(error) => {
                self.look_at = self.clock.now() + AGAIN;
                let says = format!("OSC does not find {} ({error}). Everything else goes on.", self.target);
                say(&self.shared, false, &says);
            }
        }
    }

    fn wait(&self) -> Duration {
        let now = self.clock.now();
        let micros = self.queue.deadline().map_or(IDLE, |due| due.since(now)).0.clamp(0, IDLE.0);
        Duration::from_micros(u64::try_from(micros).unwrap_or(0))
    }
}

/// A socket that is connected, so that the kernel tells when nobody listens.
fn connect(target: &OscTarget) -> io::Result<UdpSocket> {
    let mut last = io::Error::from(io::ErrorKind::NotFound);
    for address in target.parts().to_socket_addrs()? {
        let any: SocketAddr = match address {
            SocketAddr::V4(_) => (Ipv4Addr::UNSPECIFIED, 0).into(),
            SocketAddr::V6(_) => (Ipv6Addr::UNSPECIFIED, 0).into(),
        };
        let socket = UdpSocket::bind(any)?;
        socket.set_nonblocking(true)?;
        match socket.connect(address) {
            Ok(()) => return Ok(socket),
            Err(error) => last = error,
        }
    }
    Err(last)
}

/// Says it at the desk, and in the log when it is news.
fn say(shared: &Shared, well: bool, says: &str) {
    let Ok(mut place) = shared.place.lock() else { return };
    if place.1 != says {
        if !well {
            tracing::warn!("{says}");
        }
        *place = (well, says.to_owned());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_thread_that_panics_is_told_and_goes_on() {
        let listener = UdpSocket::bind((Ipv4Addr::LOCALHOST, 0)).unwrap();
        listener.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
        let target: OscTarget = OscTarget::parse(&listener.local_addr().unwrap().to_string()).unwrap();
        let osc = OscOut::open(target, ServerClock::new());
        osc.silence(Generation(4));
        osc.tell(Command::Fail);
        osc.send(Message::State { state: "held", generation: Generation(4) });
        let mut packet = [0; 256];
        let length = listener.recv(&mut packet).unwrap();
        assert!(packet[..length].starts_with(b"/holdfast/state\0"));
        let faults = osc.faults();
        assert!(
            faults.len() == 1 && faults[0].starts_with("OSC out failed and has begun again (on purpose)."),
            "{faults:?}"
        );
    }
}
