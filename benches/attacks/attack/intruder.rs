//! Somebody with a good code who means harm: in, and back with a key as often as they are cut off. At a sink they say the
//! same and wait for no answer.

use std::io::{self, ErrorKind, Read, Write};
use std::net::{Ipv4Addr, TcpStream};
use std::time::Duration;

use super::job::Job;
use crate::joining::Invitation;
use crate::websocket;

/// A write that nobody takes for so long is over.
const TAKES: Duration = Duration::from_secs(1);

/// A member that attacks.
pub(crate) struct Intruder<'a> {
    job: &'a Job,
    invitation: Invitation,
    from: Ipv4Addr,
    name: String,
    key: Option<String>,
    buffer: Box<[u8]>,
}

impl Intruder<'_> {
    /// An observer at the address of that number, who has not come in yet.
    pub(crate) fn new(job: &Job, number: usize) -> Intruder<'_> {
        Intruder::with(job, &job.observer, number)
    }

    /// The same as a performer.
    pub(crate) fn performer(job: &Job, number: usize) -> Intruder<'_> {
        Intruder::with(job, &job.performer, number)
    }

    fn with<'a>(job: &'a Job, invitation: &Invitation, number: usize) -> Intruder<'a> {
        let from = Job::address(number);
        let (invitation, buffer) = (invitation.at(from), vec![0; 16 * 1024].into());
        Intruder { job, invitation, from, name: format!("intruder {number}"), key: None, buffer }
    }

    /// The personal key, once they were in.
    pub(crate) fn key(&self) -> Option<&str> {
        self.key.as_deref()
    }

    /// A new link.
    pub(crate) fn line(&mut self) -> io::Result<TcpStream> {
        let socket = if self.job.at_sink() {
            let mut socket = self.job.dial(self.from)?;
            socket.write_all(websocket::asking("127.0.0.1").as_bytes())?;
            socket
        } else if let Some(key) = &self.key {
            self.invitation.come_back(key)?
        } else {
            let (socket, key) = self.invitation.enter(&self.name)?;
            self.key = Some(key);
            socket
        };
        socket.set_write_timeout(Some(TAKES))?;
        Ok(socket)
    }

    /// Reads away what has come.
    ///
    /// # Errors
    /// The other side has closed.
    pub(crate) fn read_away(&mut self, socket: &mut TcpStream) -> io::Result<()> {
        socket.set_nonblocking(true)?;
        let read = loop {
            match socket.read(&mut self.buffer) {
                Ok(0) => break Err(ErrorKind::UnexpectedEof.into()),
                Ok(_) => {}
                Err(error) if error.kind() == ErrorKind::WouldBlock => break Ok(()),
                Err(error) => break Err(error),
            }
        };
        socket.set_nonblocking(false)?;
        read
    }

    /// Reads until the other side closes, a second at the most; a sink never does.
    pub(crate) fn read_to_the_end(&mut self, socket: &mut TcpStream) {
        if self.job.at_sink() || socket.set_read_timeout(Some(TAKES)).is_err() {
            return;
        }
        while socket.read(&mut self.buffer).is_ok_and(|count| count > 0) {}
        self.job.count_cut();
    }
}
