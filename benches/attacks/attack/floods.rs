//! Floods: one member says too much over one link, and comes back as soon as it is cut off.

use std::io::{self, Write};
use std::net::TcpStream;

use holdfast::wire::{Subject, ToServer};
use socket2::SockRef;

use super::intruder::Intruder;
use super::job::Job;
use crate::joining::said;

/// So many frames a second.
const FRAMES: u32 = 10_000;
/// They come in so many writes a second.
const WRITES: u32 = 200;
/// Whoever never reads asks so often: less than what a link is cut off for.
const QUESTIONS: u32 = 90;
/// Their receive buffer, bytes: what is not taken must wait at the server.
const ROOM: usize = 2_048;

/// Pulses and questions about the time.
pub(crate) fn frames(job: &Job) {
    flood(job, &[pulse(), said(&ToServer::Clock { sent_us: 7 })].concat(), FRAMES / 2);
}

/// Messages in pieces of one byte and of none, which never end (RFC 6455, section 5.4): each piece masked with zeros.
pub(crate) fn fragments(job: &Job) {
    const BEGIN: &[u8] = &[0x02, 0x81, 0, 0, 0, 0, 0x81];
    const ONE: &[u8] = &[0x00, 0x81, 0, 0, 0, 0, 0xa4];
    const NONE: &[u8] = &[0x00, 0x80, 0, 0, 0, 0];
    let pieces: Vec<u8> = [ONE, NONE].concat().repeat(50);
    let mut begun = false;
    flood_with(job, FRAMES / 100, 100, move |new, socket| {
        begun &= !new;
        let begin = if begun { &[] } else { BEGIN };
        begun = true;
        socket.write_all(&[begin, &pieces].concat())
    });
}

/// Pings with as much in them as they may carry (RFC 6455, section 5.5).
pub(crate) fn pings(job: &Job) {
    let mut ping = vec![0x89, 0x80 | 125, 0, 0, 0, 0];
    ping.resize(6 + 125, b'.');
    flood(job, &ping, FRAMES);
}

/// Asks for everything that is shown and for the time, and reads nothing.
pub(crate) fn never_reads(job: &Job) {
    let mut intruder = Intruder::new(job, 0);
    let show = said(&ToServer::Show { subjects: Subject::ALL.into() });
    let question = [said(&ToServer::Clock { sent_us: 7 }), show].concat();
    let mut pace = job.pace(QUESTIONS / 2);
    loop {
        pace.wait();
        let Ok(mut socket) = intruder.line() else { continue };
        let _ = SockRef::from(&socket).set_recv_buffer_size(ROOM);
        while socket.write_all(&question).is_ok() {
            job.count(2);
            job.ready();
            pace.wait();
        }
        job.count_cut();
    }
}

fn pulse() -> Vec<u8> {
    said(&ToServer::Pulse { visible: true, bound_us: None, round_trip_us: None })
}

/// Writes those bytes so often a second.
fn flood(job: &Job, bytes: &[u8], a_second: u32) {
    let times = a_second / WRITES;
    let many = bytes.repeat(times as usize);
    flood_with(job, WRITES, u64::from(times), move |_, socket| socket.write_all(&many));
}

/// Lets `blow` write so often a second, each time so many blows; it is told when the link is a new one.
fn flood_with(job: &Job, writes: u32, blows: u64, mut blow: impl FnMut(bool, &mut TcpStream) -> io::Result<()>) {
    let mut intruder = Intruder::new(job, 0);
    let mut pace = job.pace(writes);
    loop {
        pace.wait();
        let Ok(mut socket) = intruder.line() else { continue };
        let mut new = true;
        while blow(new, &mut socket).and_then(|()| intruder.read_away(&mut socket)).is_ok() {
            new = false;
            job.count(blows);
            job.ready();
            pace.wait();
        }
        job.ready();
        job.count_cut();
    }
}
