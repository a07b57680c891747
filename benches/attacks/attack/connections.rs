//! Thousands of connections that say nothing, or too little, from several addresses: those that the server closes are
//! opened again every second.

use std::io::{ErrorKind, Read, Write};
use std::net::TcpStream;

use super::job::Job;
use crate::websocket;

/// "Thousands".
const CONNECTIONS: usize = 3_000;
/// So many are opened a second at the most.
const OPENED: u32 = 3_000;
/// So often all are looked after, a second.
const ROUNDS: u32 = 1;

const HALF: &[u8] = b"GET / HTTP/1.1\r\nHost: ";

/// Half a request, a byte each second.
pub(crate) fn slow_bytes(job: &Job) {
    many(job, b"", HALF);
}

/// Nothing.
pub(crate) fn idle(job: &Job) {
    many(job, b"", b"");
}

/// Half a request, and nothing more.
pub(crate) fn half_requests(job: &Job) {
    many(job, HALF, b"");
}

/// A WebSocket is opened, and nobody introduces themselves.
pub(crate) fn no_hello(job: &Job) {
    many(job, websocket::asking("127.0.0.1").as_bytes(), b"");
}

/// One of them, and how many of its later bytes it has sent.
struct Connection {
    socket: TcpStream,
    sent: usize,
}

/// Opens them all with `first`, then sends of `later` one byte a round over each.
fn many(job: &Job, first: &[u8], later: &[u8]) {
    let mut all: Vec<Option<Connection>> = (0..CONNECTIONS).map(|_| None).collect();
    let (mut opening, mut rounds) = (job.pace(OPENED), job.pace(ROUNDS));
    loop {
        for (number, place) in all.iter_mut().enumerate() {
            if place.as_mut().is_some_and(|connection| connection.is_over(later)) {
                job.count_cut();
                *place = None;
            }
            if place.is_none() {
                opening.wait();
                *place = open(job, number, first);
            }
        }
        job.ready();
        rounds.wait();
    }
}

fn open(job: &Job, number: usize, first: &[u8]) -> Option<Connection> {
    let mut socket = job.dial(Job::address(number)).ok()?;
    socket.write_all(first).ok()?;
    socket.set_nonblocking(true).ok()?;
    job.count(1);
    Some(Connection { socket, sent: 0 })
}

impl Connection {
    /// Sends the next byte; true when the other side has ended it.
    fn is_over(&mut self, later: &[u8]) -> bool {
        if let Some(byte) = later.get(self.sent) {
            self.sent += 1;
            if self.socket.write_all(&[*byte]).is_err() {
                return true;
            }
        }
        match self.socket.read(&mut [0; 1_024]) {
            Ok(count) => count == 0,
            Err(error) => error.kind() != ErrorKind::WouldBlock,
        }
    }
}
