//! The sink: a process that accepts every connection and drops every byte. What it costs to attack it is what the attack
//! costs this machine by itself.

use std::net::TcpListener as Listener;
use std::process::{Command, Stdio};

use tokio::io::{copy, sink};
use tokio::net::TcpListener;

use super::crowd::Stuck;
use super::process::Process;
use super::system::{connect, free_port};

/// The word that starts this program as the sink.
pub(crate) const WORD: &str = "sink";

/// A sink that listens.
pub(crate) struct Sink {
    _process: Process,
    pub(crate) port: u16,
}

impl Sink {
    /// Starts it, and waits until it listens.
    pub(crate) fn start() -> Result<Sink, Stuck> {
        let stuck = |error: std::io::Error| Stuck(format!("the sink does not start: {error}"));
        let port = free_port();
        let program = std::env::current_exe().map_err(stuck)?;
        let process = Process::start(Command::new(program).args([WORD, &port.to_string()]).stdin(Stdio::piped()));
        let sink = Sink { _process: process.map_err(stuck)?, port };
        connect(port)?;
        Ok(sink)
    }
}

/// Serves until standard input ends.
pub(crate) fn serve(port: u16) {
    std::thread::spawn(|| {
        let _ = std::io::read_to_string(std::io::stdin());
        std::process::exit(0);
    });
    let runtime = tokio::runtime::Builder::new_current_thread().enable_io().build().unwrap();
    runtime.block_on(async {
        let listener = Listener::bind(("127.0.0.1", port)).unwrap();
        listener.set_nonblocking(true).unwrap();
        let listener = TcpListener::from_std(listener).unwrap();
        loop {
            let Ok((mut socket, _)) = listener.accept().await else { continue };
            tokio::spawn(async move { copy(&mut socket, &mut sink()).await });
        }
    });
}
