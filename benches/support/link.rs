//! One member's end of a connection: plain or TLS, read as it comes and looked through, written whole.

use std::io::{self, ErrorKind, Read, Write};

use mio::net::TcpStream;
use tokio_rustls::rustls::ClientConnection;

use super::sighting::{CARRY, Kind, Scanner};

/// A member's end of a connection.
pub(crate) struct Link {
    socket: TcpStream,
    tls: Option<Box<ClientConnection>>,
    /// The end of what was read last, in which a tag may begin.
    carry: Vec<u8>,
    /// What arrived, for those who want to read it.
    kept: Option<Vec<u8>>,
    /// Bytes a second that this member takes; nothing for all there are.
    slow: Option<u32>,
    /// How many bytes it has taken.
    taken: u64,
    /// True once the other end has closed or failed.
    closed: bool,
}

impl Link {
    /// A link over a connection whose opening is done.
    pub(crate) fn new(socket: std::net::TcpStream, tls: Option<ClientConnection>) -> io::Result<Link> {
        socket.set_nonblocking(true)?;
        socket.set_read_timeout(None)?;
        Ok(Link {
            socket: TcpStream::from_std(socket),
            tls: tls.map(Box::new),
            carry: Vec::with_capacity(CARRY),
            kept: None,
            slow: None,
            taken: 0,
            closed: false,
        })
    }

    /// The same, keeping what arrives, beginning with what has arrived already.
    pub(crate) fn keeping(self, arrived: Vec<u8>) -> Link {
        Link { kept: Some(arrived), ..self }
    }

    /// The same, taking so many bytes a second at the most.
    pub(crate) fn slow(self, bytes_a_second: u32) -> Link {
        Link { slow: Some(bytes_a_second), ..self }
    }

    /// How many bytes a second it takes, if it is slow.
    pub(crate) fn pace(&self) -> Option<u32> {
        self.slow
    }

    pub(crate) fn socket(&mut self) -> &mut TcpStream {
        &mut self.socket
    }

    pub(crate) fn kept(&mut self) -> &mut Vec<u8> {
        self.kept.get_or_insert_default()
    }

    pub(crate) fn closed(&self) -> bool {
        self.closed
    }

    /// How many bytes it has taken.
    pub(crate) fn taken(&self) -> u64 {
        self.taken
    }

    /// Writes all of it. These are small frames to a server that reads: one that does not take them is closed.
    pub(crate) fn write(&mut self, bytes: &[u8]) {
        let written = match &mut self.tls {
            None => self.socket.write_all(bytes),
            Some(tls) => tls.writer().write_all(bytes).and_then(|()| {
                while tls.wants_write() {
                    tls.write_tls(&mut self.socket)?;
                }
                Ok(())
            }),
        };
        self.closed |= written.is_err();
    }

    /// Reads what is there, `most` bytes at the most, and tells what is seen in it; returns how much it was. `buffer` is
    /// room for reading.
    pub(crate) fn read(
        &mut self,
        buffer: &mut [u8],
        most: usize,
        scanner: &Scanner,
        mut found: impl FnMut(Kind),
    ) -> usize {
        let mut all = 0;
        while all < most && !self.closed {
            let old = self.carry.len();
            buffer[..old].copy_from_slice(&self.carry);
            let room = (buffer.len() - old).min(most - all);
            let Some(count) = self.read_some(&mut buffer[old..old + room]) else { break };
            all += count;
            self.taken += count as u64;
            let seen = &buffer[..old + count];
            scanner.scan(seen, old, &mut found);
            if let Some(kept) = &mut self.kept {
                kept.extend(&seen[old..]);
            }
            self.carry.clear();
            self.carry.extend(&seen[seen.len().saturating_sub(CARRY)..]);
            // A read that did not fill the buffer has emptied the socket (epoll(7), "edge-triggered").
            if count < room && self.tls.is_none() {
                break;
            }
        }
        all
    }

    /// One read; nothing when there is nothing, or the link is closed.
    fn read_some(&mut self, room: &mut [u8]) -> Option<usize> {
        let read = match &mut self.tls {
            None => self.socket.read(room),
            Some(tls) => decrypt(tls, &mut self.socket, room),
        };
        match read {
            Ok(0) => self.closed = true,
            Ok(count) => return Some(count),
            Err(error) if error.kind() == ErrorKind::WouldBlock => {}
            Err(_) => self.closed = true,
        }
        None
    }
}

/// Reads what is decrypted already, else what the socket has.
fn decrypt(tls: &mut ClientConnection, socket: &mut TcpStream, room: &mut [u8]) -> io::Result<usize> {
    loop {
        match tls.reader().read(room) {
            Err(error) if error.kind() == ErrorKind::WouldBlock => {}
            read => return read,
        }
        if tls.read_tls(socket)? == 0 {
            return Ok(0);
        }
        tls.process_new_packets().map_err(io::Error::other)?;
    }
}
