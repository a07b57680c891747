//! What is measured: something that tells N members when one of them taps.

use std::io;
use std::net::{Ipv4Addr, SocketAddr, TcpListener, TcpStream};
use std::ops::Range;
use std::thread;
use std::time::Duration;

use holdfast::units::Micros;
use socket2::{Domain, Socket, Type};

use super::crowd::{Crowd, Stuck};
use super::process::Process;
use super::sighting::Kind;

/// Nothing here takes longer on a machine that works.
pub(crate) const PATIENCE: Duration = Duration::from_secs(10);

/// A server with its members.
pub(crate) trait System {
    /// Those who are told, each of whom may tap.
    fn members(&self) -> Range<usize>;
    /// The server.
    fn process(&self) -> &Process;
    /// Its memory before the members came, KiB.
    fn empty(&self) -> u64;
    /// The bytes of the next tap.
    fn tap(&mut self) -> Vec<u8>;
    /// How long it took by its own clock to write the last stop, from the read that held the tap; where it tells.
    fn wrote(&mut self) -> Option<Micros> {
        None
    }
    /// What the members wait for.
    fn stop(&self) -> Kind {
        Kind::Stop
    }
    /// Makes everything ready for the next tap.
    fn settle(&mut self, _crowd: &mut Crowd) -> Result<(), Stuck> {
        Ok(())
    }
}

/// A port on which nothing listens now.
pub(crate) fn free_port() -> u16 {
    TcpListener::bind("127.0.0.1:0").and_then(|listener| listener.local_addr()).map(|at| at.port()).unwrap_or(0)
}

/// A connection to a server that may be about to listen.
pub(crate) fn connect(port: u16) -> Result<TcpStream, Stuck> {
    connect_from(Ipv4Addr::LOCALHOST, port)
}

/// The same from another address of this machine, which to the server is another device.
pub(crate) fn connect_from(from: Ipv4Addr, port: u16) -> Result<TcpStream, Stuck> {
    let mut last = io::Error::from(io::ErrorKind::TimedOut);
    for _ in 0..500 {
        match dial(from, port) {
            Ok(socket) => {
                let tuned = socket.set_nodelay(true).and_then(|()| socket.set_read_timeout(Some(PATIENCE)));
                return tuned.map(|()| socket).map_err(|error| Stuck(error.to_string()));
            }
            Err(error) => last = error,
        }
        thread::sleep(Duration::from_millis(10));
    }
    Err(Stuck(format!("nothing answers at 127.0.0.1:{port}: {last}")))
}

/// One attempt.
pub(crate) fn dial(from: Ipv4Addr, port: u16) -> io::Result<TcpStream> {
    let socket = Socket::new(Domain::IPV4, Type::STREAM, None)?;
    socket.bind(&SocketAddr::from((from, 0)).into())?;
    socket.connect(&SocketAddr::from((Ipv4Addr::LOCALHOST, port)).into())?;
    Ok(socket.into())
}
