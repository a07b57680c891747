//! The socket under a member's line: plain TCP, or TLS over it. Never waits. Of what TLS has encrypted and the network
//! has not taken there is never more than one small write, so that a stop does not wait behind it.

use std::io::{self, Read, Write};
use std::net::Shutdown;

use mio::net::TcpStream;
use mio::{Interest, Registry, Token};
use tokio_rustls::rustls::ServerConnection;

/// The most that is encrypted at a time.
const MOST_AT_ONCE: usize = 4 * 1024;

/// The socket.
#[derive(Debug)]
pub(in crate::server) enum Transport {
    /// Plain TCP.
    Plain(TcpStream),
    /// TLS, its handshake done.
    Tls(Box<Tls>),
    /// The server's end of a simulated network.
    #[cfg(test)]
    Simulated(Box<dyn Simulated>),
}

/// One end of a simulated connection; like a socket it never waits.
#[cfg(test)]
pub(in crate::server) trait Simulated: Read + Write + Send + std::fmt::Debug {
    /// Nothing more is written.
    fn finish(&mut self);
}

/// TLS over TCP.
#[derive(Debug)]
pub(in crate::server) struct Tls {
    socket: TcpStream,
    session: ServerConnection,
}

impl Transport {
    /// Plain TCP; the socket must not block.
    pub(in crate::server) fn plain(socket: std::net::TcpStream) -> Transport {
        Transport::Plain(TcpStream::from_std(socket))
    }

    /// TLS whose handshake is done; the socket must not block.
    pub(in crate::server) fn tls(socket: std::net::TcpStream, session: ServerConnection) -> Transport {
        Transport::Tls(Box::new(Tls { socket: TcpStream::from_std(socket), session }))
    }

    fn socket(&mut self) -> Option<&mut TcpStream> {
        match self {
            Transport::Plain(socket) => Some(socket),
            Transport::Tls(tls) => Some(&mut tls.socket),
            #[cfg(test)]
            Transport::Simulated(_) => None,
        }
    }

    /// Asks to be told when something can be read or written.
    pub(super) fn register(&mut self, registry: &Registry, token: Token) -> io::Result<()> {
        let Some(socket) = self.socket() else { return Ok(()) };
        registry.register(socket, token, Interest::READABLE | Interest::WRITABLE)
    }

    /// Asks not to be told any more.
    pub(super) fn deregister(&mut self, registry: &Registry) {
        // A socket that is closed is not told of either.
        let _ = self.socket().map(|socket| registry.deregister(socket));
    }

    /// Reads what has come; 0 is the end, `WouldBlock` is nothing now.
    pub(super) fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        match self {
            Transport::Plain(socket) => retry(|| socket.read(buffer)),
            #[cfg(test)]
            Transport::Simulated(end) => end.read(buffer),
            Transport::Tls(tls) => tls.read(buffer),
        }
    }

    /// Writes as much as the network takes now; `WouldBlock` is nothing.
    pub(super) fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match self {
            Transport::Plain(socket) => retry(|| socket.write(bytes)),
            #[cfg(test)]
            Transport::Simulated(end) => end.write(bytes),
            Transport::Tls(tls) => tls.write(bytes),
        }
    }

    /// True when something that was taken by [`Transport::write`] still waits for the network.
    pub(super) fn has_more(&self) -> bool {
        matches!(self, Transport::Tls(tls) if tls.session.wants_write())
    }

    /// Sends what TLS still has; true when nothing is left.
    pub(super) fn flush(&mut self) -> io::Result<bool> {
        match self {
            Transport::Tls(tls) => tls.flush(),
            _ => Ok(true),
        }
    }

    /// Nothing more is written; the other side sees the end.
    pub(super) fn finish(&mut self) {
        if let Transport::Tls(tls) = self {
            tls.session.send_close_notify();
            // A network that takes it no more is gone anyway.
            let _ = tls.flush();
        }
        let _ = self.socket().map(|socket| socket.shutdown(Shutdown::Write));
        #[cfg(test)]
        if let Transport::Simulated(end) = self {
            end.finish();
        }
    }
}

impl Tls {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        loop {
            match self.session.reader().read(buffer) {
                Err(error) if error.kind() == io::ErrorKind::WouldBlock => {}
                done => return done,
            }
            let session = &mut self.session;
            let socket = &mut self.socket;
            if retry(|| session.read_tls(socket))? == 0 {
                return Ok(0);
            }
            self.session.process_new_packets().map_err(|error| io::Error::new(io::ErrorKind::InvalidData, error))?;
        }
    }

    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if !self.flush()? {
            return Err(io::ErrorKind::WouldBlock.into());
        }
        let some = bytes.len().min(MOST_AT_ONCE);
        let taken = self.session.writer().write(&bytes[..some])?;
        self.flush()?;
        Ok(taken)
    }

    fn flush(&mut self) -> io::Result<bool> {
        while self.session.wants_write() {
            let session = &mut self.session;
            let socket = &mut self.socket;
            match retry(|| session.write_tls(socket)) {
                Ok(_) => {}
                Err(error) if error.kind() == io::ErrorKind::WouldBlock => return Ok(false),
                Err(error) => return Err(error),
            }
        }
        Ok(true)
    }
}

/// Again when a signal came in between.
fn retry<T>(mut io: impl FnMut() -> io::Result<T>) -> io::Result<T> {
    loop {
        match io() {
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            done => return done,
        }
    }
}
