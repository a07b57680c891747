//! Brokers that publish to subscribers, for comparison: each as its Debian package has it, without persistence, one
//! topic, 148 bytes, at most once. The members speak the bare protocol; each protocol is one file.

mod mosquitto;
mod nats;
mod redis;

use std::io::Read;
use std::net::TcpStream;
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use tempfile::TempDir;

use super::crowd::{Crowd, Stuck};
use super::link::Link;
use super::process::Process;
use super::sighting::stop_frame;
use super::system::{System, connect, free_port};

/// One broker: how it is started and how its protocol is spoken.
pub(crate) struct Kind {
    /// Its name in the table.
    name: &'static str,
    /// Its program.
    program: &'static str,
    /// Its arguments; the folder is its own and may take a file of settings.
    arguments: fn(&Path, u16) -> Vec<String>,
    /// Connects a member and subscribes it.
    subscribe: fn(&mut TcpStream) -> std::io::Result<()>,
    /// The bytes with which a member publishes.
    publish: fn(&[u8]) -> Vec<u8>,
}

/// All of them.
pub(crate) const ALL: [Kind; 3] = [mosquitto::KIND, nats::KIND, redis::KIND];

impl Kind {
    /// Its name in the table.
    pub(crate) fn name(&self) -> &'static str {
        self.name
    }

    /// The program's path; nothing when it is not installed. Servers are not in everybody's PATH.
    fn installed(&self) -> Option<PathBuf> {
        let path = std::env::var_os("PATH").unwrap_or_default();
        let usual = ["/usr/sbin", "/usr/bin", "/usr/local/sbin", "/usr/local/bin"].map(PathBuf::from);
        std::env::split_paths(&path).chain(usual).map(|folder| folder.join(self.program)).find(|file| file.is_file())
    }
}

/// The sentence for each broker that is not here.
pub(crate) fn missing() -> Vec<String> {
    let gone = ALL.iter().filter(|kind| kind.installed().is_none());
    gone.map(|kind| format!("{} is not installed (Debian package {0}) and is left out.", kind.program)).collect()
}

/// A broker, seen from the members.
pub(crate) struct Broker {
    process: Process,
    members: Range<usize>,
    empty: u64,
    publication: Vec<u8>,
    _folder: TempDir,
}

impl Broker {
    /// Starts it and subscribes so many; nothing when it is not installed.
    pub(crate) fn start(kind: &Kind, crowd: &mut Crowd, members: usize) -> Option<Result<Broker, Stuck>> {
        let program = kind.installed()?;
        let stuck = |error: std::io::Error| Stuck(format!("{}: {error}", kind.name));
        Some(Broker::begin(kind, &program, crowd, members).unwrap_or_else(|error| Err(stuck(error))))
    }

    fn begin(kind: &Kind, program: &Path, crowd: &mut Crowd, members: usize) -> std::io::Result<Result<Broker, Stuck>> {
        let folder = tempfile::tempdir()?;
        let port = free_port();
        let mut command = Command::new(program);
        command.args((kind.arguments)(folder.path(), port)).current_dir(folder.path());
        command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
        let process = Process::start(&mut command)?;
        let start = crowd.len();
        let mut empty = 0;
        for number in 0..members {
            let mut socket = match connect(port) {
                Ok(socket) => socket,
                Err(stuck) => return Ok(Err(stuck)),
            };
            if number == 0 {
                empty = process.memory();
            }
            (kind.subscribe)(&mut socket)?;
            crowd.add(Link::new(socket, None)?);
        }
        let members = start..crowd.len();
        let publication = (kind.publish)(&stop_frame());
        Ok(Ok(Broker { process, members, empty, publication, _folder: folder }))
    }
}

impl System for Broker {
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
        self.publication.clone()
    }
}

/// Reads until this has come.
fn expect(socket: &mut TcpStream, what: &[u8]) -> std::io::Result<()> {
    let mut arrived = Vec::new();
    let mut some = [0; 1024];
    while memchr::memmem::find(&arrived, what).is_none() {
        match socket.read(&mut some)? {
            0 => return Err(std::io::Error::other("the broker closed the connection")),
            count => arrived.extend(&some[..count]),
        }
    }
    Ok(())
}
