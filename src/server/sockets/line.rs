//! One member's line: its socket, what has come in and what waits to go out, and what is known of its liveness.

use std::io;

use super::decoder::Decoder;
use super::outgoing::Outgoing;
use super::transport::Transport;
use crate::call::MemberId;
use crate::server::pace::Pace;
use crate::server::request::LinkId;
use crate::units::{Generation, ServerTime};

/// A line.
#[derive(Debug)]
pub(super) struct Line {
    pub(super) link: LinkId,
    pub(super) member: MemberId,
    /// Nothing until the introduction has handed it over.
    pub(super) socket: Option<(Transport, Decoder)>,
    pub(super) out: Outgoing,
    pub(super) pace: Pace,
    /// When something came last.
    pub(super) heard: ServerTime,
    /// True while it has been silent for too long, and the hub knows.
    pub(super) silent: bool,
    /// When the network took something last, or nothing waited.
    pub(super) moved: ServerTime,
    pub(super) readable: bool,
    pub(super) writable: bool,
    /// True while whole frames may wait in the decoder.
    pub(super) undecoded: bool,
    /// True while it stands on the list of lines to be read.
    pub(super) listed: bool,
    /// True while it stands in the queue of lines to be written.
    pub(super) queued: bool,
    /// True while its loss holds the run.
    pub(super) holding: bool,
    /// When the closing frame was gone: the other side closes, or is left soon.
    pub(super) left: Option<ServerTime>,
}

/// How far writing came.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Wrote {
    /// Nothing waits any more.
    Everything,
    /// The network takes no more now.
    Blocked,
    /// Enough for one turn; more waits.
    Turn,
}

/// The most bytes that are written to one line in a turn, so that one member's long message keeps nobody waiting.
const A_TURN: usize = 16 * 1024;

impl Line {
    pub(super) fn new(link: LinkId, member: MemberId, now: ServerTime, messages_a_second: u32) -> Line {
        Line {
            link,
            member,
            socket: None,
            out: Outgoing::default(),
            pace: Pace::of(messages_a_second),
            heard: now,
            silent: false,
            moved: now,
            readable: false,
            writable: false,
            undecoded: false,
            listed: false,
            queued: false,
            holding: false,
            left: None,
        }
    }

    /// Writes what waits, as far as the network takes it. With `stop_only` the rest stays behind a stop that is gone: the
    /// other members' stops come first.
    pub(super) fn write(&mut self, dead: Generation, now: ServerTime, stop_only: bool) -> io::Result<Wrote> {
        let Some((socket, _)) = &mut self.socket else { return Ok(Wrote::Blocked) };
        let mut written = 0;
        while let Some(bytes) = self.out.front(dead) {
            if written >= A_TURN {
                return Ok(Wrote::Turn);
            }
            match socket.write(bytes) {
                Ok(0) => return Err(io::ErrorKind::WriteZero.into()),
                Ok(count) => {
                    self.out.wrote(count);
                    written += count;
                    self.moved = now;
                    if stop_only && !self.out.stops() {
                        break;
                    }
                }
                Err(error) if error.kind() == io::ErrorKind::WouldBlock => {
                    self.writable = false;
                    return Ok(Wrote::Blocked);
                }
                Err(error) => return Err(error),
            }
        }
        if socket.has_more() && !socket.flush()? {
            self.writable = false;
            return Ok(Wrote::Blocked);
        }
        self.moved = now;
        if self.out.is_closed() && self.left.is_none() {
            socket.finish();
            self.left = Some(now);
        }
        Ok(if self.out.is_empty() { Wrote::Everything } else { Wrote::Turn })
    }

    /// True when something waits for the network.
    pub(super) fn waits(&self) -> bool {
        !self.out.is_empty() || self.socket.as_ref().is_some_and(|(socket, _)| socket.has_more())
    }
}
