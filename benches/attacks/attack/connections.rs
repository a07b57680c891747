//! Thousands of connections that say nothing, or too little, from several addresses. Once all are open, some are opened
//! anew each second: those that the other side has closed first, then the oldest, so that a sink, which closes none, is
//! attacked as hard as a server.

use std::collections::VecDeque;
use std::io::{ErrorKind, Read, Write};
use std::net::TcpStream;

use super::job::Job;
use crate::websocket;

/// "Thousands".
const CONNECTIONS: usize = 3_000;
/// So many are opened a second at first.
const OPENED: u32 = 3_000;
/// So many are opened anew a second.
const ANEW: usize = 1_000;
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
    let (mut opening, mut rounds) = (job.pace(OPENED), job.pace(ROUNDS));
    let mut opened = |number| {
        opening.wait();
        open(job, number, first)
    };
    let mut all: VecDeque<Connection> = (0..CONNECTIONS).filter_map(&mut opened).collect();
    let mut number = CONNECTIONS;
    loop {
        job.ready();
        rounds.wait();
        let before = all.len();
        all.retain_mut(|connection| !connection.is_over(later));
        (all.len()..before).for_each(|_| job.count_cut());
        all.drain(..(all.len() + ANEW).saturating_sub(CONNECTIONS).min(all.len()));
        for _ in 0..ANEW {
            all.extend(opened(number));
            number += 1;
        }
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
