//! Holdfast under measurement: the program itself, serving a new production without loudspeakers, with so many observers
//! and a desk. The observers say that they are there, and nothing else.

use std::io::{BufRead, BufReader, Read};
use std::ops::Range;
use std::path::Path;
use std::process::{ChildStdout, Command, Stdio};
use std::sync::mpsc::{self, Receiver};
use std::time::Duration;

use holdfast::units::{Micros, ServerTime};
use holdfast::wire::{HoldTap, ToServer};
use tempfile::TempDir;

use super::crowd::{Crowd, Stuck};
use super::desk::Desk;
use super::joining::{Invitation, said};
use super::process::Process;
use super::sighting::Kind;
use super::system::{PATIENCE, System};

/// The program under measurement.
const PROGRAM: &str = env!("CARGO_BIN_EXE_holdfast");
/// After a release, until the call is at rest.
const CALM: Micros = Micros::millis(3);

/// How the members come in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Door {
    /// Over plain TCP.
    Plain,
    /// Over TLS.
    Secure,
}

impl Door {
    /// What Holdfast is called then.
    pub(crate) fn name(self) -> &'static str {
        match self {
            Door::Plain => "Holdfast",
            Door::Secure => "Holdfast, TLS",
        }
    }
}

/// Who joins besides the desk.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Company {
    /// These first, without a part.
    pub(crate) performers: usize,
    /// Then these.
    pub(crate) observers: usize,
}

/// A Holdfast with its members.
pub(crate) struct Holdfast {
    process: Process,
    members: Range<usize>,
    empty: u64,
    joined: ServerTime,
    taps: u64,
    stop: Kind,
    /// What it says of the stops that it has written, if this reads its log.
    wrote: Option<Receiver<Micros>>,
    /// The desk.
    pub(crate) desk: Desk,
    /// What lets more observers in.
    pub(crate) observer: Invitation,
    /// What lets performers in.
    pub(crate) performer: Invitation,
    _folder: TempDir,
}

impl Holdfast {
    /// Starts the program and lets so many join, through that door.
    pub(crate) fn start(crowd: &mut Crowd, members: usize, door: Door) -> Result<Holdfast, Stuck> {
        Holdfast::start_as(crowd, Company { performers: 0, observers: members }, door, |production| {
            let mut command = Holdfast::program(production, door);
            command.env("RUST_LOG", "holdfast::server::hub=debug").stderr(Stdio::piped());
            command
        })
    }

    /// The command that serves a production.
    pub(crate) fn program(production: &Path, door: Door) -> Command {
        let mut command = Command::new(PROGRAM);
        command.arg("serve").arg(production).args(["--listen", "127.0.0.1:0"]);
        if door == Door::Secure {
            command.args(["--https", "127.0.0.1:0"]);
        }
        command
    }

    /// The same, started by a command that is given the production's folder.
    pub(crate) fn start_as(
        crowd: &mut Crowd,
        company: Company,
        door: Door,
        command: impl FnOnce(&Path) -> Command,
    ) -> Result<Holdfast, Stuck> {
        let stuck = |error: std::io::Error| Stuck(format!("Holdfast does not start: {error}"));
        let folder = tempfile::tempdir().map_err(stuck)?;
        let dir = folder.path().join("production");
        production(&dir, company.performers + company.observers)?;
        let mut process = Process::start(command(&dir).stdin(Stdio::piped()).stdout(Stdio::piped())).map_err(stuck)?;
        let lines = lines(process.child.stdout.take());
        let wrote = process.child.stderr.take().map(|log| read(log, |line| written(&line)));
        let [desk, observer, performer] = invitations(&lines, door)?;
        let desk = Desk::join(crowd, &desk)?;
        crowd.keep_alive(desk.link()..desk.link() + 1, Holdfast::pulse());
        crowd.rest(Duration::from_millis(200));
        let empty = process.memory();
        let start = crowd.len();
        let mut holdfast = Holdfast {
            process,
            members: start..start,
            empty,
            joined: crowd.now(),
            taps: 0,
            stop: Kind::Stop,
            wrote,
            desk,
            observer,
            performer,
            _folder: folder,
        };
        for number in 0..company.performers + company.observers {
            let (link, _) = match number.checked_sub(company.performers) {
                Some(number) => holdfast.observer.join(&format!("observer {number}"), None)?,
                None => holdfast.performer.join(&format!("performer {number}"), None)?,
            };
            crowd.add(link);
            holdfast.members = start..crowd.len();
            crowd.keep_alive(holdfast.members.clone(), Holdfast::pulse());
            crowd.turn(Duration::ZERO);
            holdfast.desk.read(crowd);
        }
        holdfast.joined = crowd.now();
        holdfast.first_hold(crowd)?;
        Ok(holdfast)
    }

    /// The frame with which a member says that it is there.
    pub(crate) fn pulse() -> Vec<u8> {
        said(&ToServer::Pulse { visible: true, bound_us: None, round_trip_us: None })
    }

    /// When the last member had come in.
    pub(crate) fn joined(&self) -> ServerTime {
        self.joined
    }

    /// A first hold, unmeasured: shows which message stops the members.
    fn first_hold(&mut self, crowd: &mut Crowd) -> Result<(), Stuck> {
        let members = self.members();
        crowd.calm(members.clone(), Duration::from_secs(60));
        self.all_linked(crowd)?;
        let tap = self.tap();
        crowd.seen.clear();
        crowd.link(members.start).write(&tap);
        let (mut stops, mut helds) = (0, 0);
        let told = crowd.until(PATIENCE, "a first hold reaches everybody", |crowd| {
            for seen in crowd.seen.drain(..).filter(|seen| members.contains(&seen.link)) {
                stops += usize::from(seen.kind == Kind::Stop);
                helds += usize::from(seen.kind == Kind::Held);
            }
            stops == members.len() || helds >= members.len()
        });
        if told.is_err() {
            self.all_linked(crowd)?;
        }
        told?;
        self.stop = if stops > 0 { Kind::Stop } else { Kind::Held };
        self.settle(crowd)
    }

    fn all_linked(&self, crowd: &Crowd) -> Result<(), Stuck> {
        match crowd.closed(self.members()) {
            0 => Ok(()),
            gone => Err(Stuck(format!("{gone} of {} members have lost their link", self.members.len()))),
        }
    }
}

impl System for Holdfast {
    fn members(&self) -> Range<usize> {
        self.members.clone()
    }

    fn process(&self) -> &Process {
        &self.process
    }

    fn empty(&self) -> u64 {
        self.empty
    }

    fn tap(&mut self) -> Vec<u8> {
        self.taps += 1;
        hold_tap(&format!("bench {}", self.taps))
    }

    fn wrote(&mut self) -> Option<Micros> {
        self.wrote.as_ref()?.try_iter().last()
    }

    fn stop(&self) -> Kind {
        self.stop
    }

    fn settle(&mut self, crowd: &mut Crowd) -> Result<(), Stuck> {
        self.desk.release(crowd)?;
        crowd.quiet(CALM);
        if !self.process.lives() {
            return Err(Stuck("the server has ended".into()));
        }
        self.all_linked(crowd)
    }
}

/// A tap on HOLD of that name.
pub(crate) fn hold_tap(name: &str) -> Vec<u8> {
    said(&ToServer::Hold(HoldTap {
        tap: name.to_owned(),
        generation: 0,
        queued: false,
        tapped_us: None,
        screen_cue: None,
        reason: None,
    }))
}

/// As many members as a server lets in at once, as productions usually have it.
const USUAL: usize = 150;

/// A new production, with loudspeakers that are not there. One for a crowd lets more in than a company has.
fn production(dir: &Path, members: usize) -> Result<(), Stuck> {
    let made = Command::new(PROGRAM).arg("new").arg(dir).stdout(Stdio::null()).status();
    if !made.is_ok_and(|status| status.success()) {
        return Err(Stuck("`holdfast new` makes no production".into()));
    }
    let file = dir.join("production.toml");
    let quiet = std::fs::read_to_string(&file)
        .map(|text| text.replace("# device = \"USB Audio\"", "device = \"none at all\""))
        .map(|text| if members > USUAL { for_a_crowd(&text) } else { text })
        .and_then(|text| std::fs::write(&file, text));
    quiet.map_err(|error| Stuck(error.to_string()))
}

fn for_a_crowd(text: &str) -> String {
    let limits =
        [("members = 2000", "members = 20000"), ("members_by_invitation = 1000", "members_by_invitation = 20000")];
    let quick = ("joins_a_second = 20", "joins_a_second = 1000");
    limits.into_iter().chain([quick]).fold(text.to_owned(), |text, (usual, many)| text.replace(usual, many))
}

/// What the program prints, line by line.
fn lines(output: Option<ChildStdout>) -> Receiver<String> {
    output.map_or_else(|| mpsc::channel().1, |output| read(output, Some))
}

/// What is of use in the lines that the program writes; it never has to wait until somebody reads them.
fn read<T: Send + 'static>(output: impl Read + Send + 'static, of_use: fn(String) -> Option<T>) -> Receiver<T> {
    let (tell, lines) = mpsc::channel();
    std::thread::spawn(move || {
        for line in BufReader::new(output).lines().map_while(Result::ok) {
            if let Some(said) = of_use(line) {
                let _ = tell.send(said);
            }
        }
    });
    lines
}

/// How long the stop of a hold took to be written, from the line of the log that says it.
fn written(line: &str) -> Option<Micros> {
    let (_, after) = line.split_once("the stop was written within ")?;
    after.split_whitespace().next()?.parse().ok().map(Micros)
}

/// The desk's, the observers' and the performers' invitations, from what the server prints.
fn invitations(lines: &Receiver<String>, door: Door) -> Result<[Invitation; 3], Stuck> {
    let mut found = ["stage", "observer", "performer"].map(|role| (role, None));
    while found.iter().any(|(_, invitation)| invitation.is_none()) {
        let line = lines.recv_timeout(PATIENCE).map_err(|_| Stuck("the server prints no invitations".into()))?;
        let Some(invitation) = line.split_whitespace().last().and_then(Invitation::parse) else { continue };
        if invitation.secure() != (door == Door::Secure) {
            continue;
        }
        let role = line.split_whitespace().next();
        if let Some((_, place)) = found.iter_mut().find(|(wanted, _)| Some(*wanted) == role) {
            *place = Some(invitation);
        }
    }
    Ok(found.map(|(_, invitation)| invitation.unwrap()))
}
