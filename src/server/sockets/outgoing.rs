//! What waits to be written to one member. A frame once begun is finished first; then comes the stop, then pongs, then
//! what is urgent (a hold's names, the answers to taps), then the rest in its turn. Cues that have died fall out, a state
//! that has not gone out is replaced by the newer one, and nothing follows a close. It knows no socket: bytes are taken
//! from its front, as many as the network takes.

use std::collections::VecDeque;

use bytes::Bytes;

use super::frames::Framed;
use crate::units::Generation;

/// How many messages may wait before the member counts as slow. At three pulses, a state and a few cues a second this is
/// half a minute of silence.
const MOST_WAITING: usize = 128;
/// How many urgent messages may wait: a member's taps are answered one by one, and holds follow each other by hand.
const MOST_URGENT: usize = 64;
/// How many pongs may wait; only the last matters (RFC 6455 §5.5.3).
const MOST_PONGS: usize = 4;

/// Something to write.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::server) enum Frame {
    /// A message in its turn.
    Message(Framed),
    /// A message past everything but a stop.
    Urgent(Framed),
    /// The first message to a member. While the brake is pulled the stop follows it.
    Welcome(Framed),
    /// A cue: not written when its generation is dead by then.
    Cue(Generation, Framed),
    /// Of two that wait, only the newer is written.
    Latest(Latest, Framed),
}

impl Frame {
    /// How many bytes it is on the wire.
    pub(in crate::server) fn bytes(&self) -> usize {
        match self {
            Frame::Message(framed) | Frame::Urgent(framed) | Frame::Welcome(framed) => framed,
            Frame::Cue(_, framed) | Frame::Latest(_, framed) => framed,
        }
        .frames()
        .map(|frame| frame.len())
        .sum()
    }
}

/// What is replaced by its successor while it waits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::server) enum Latest {
    /// The state of the call.
    State,
    /// The run.
    Run,
    /// "I am here".
    Pulse,
    /// How the outputs are.
    Sound,
    /// The sounds there are.
    Sounds,
}

/// The member does not take what is sent.
#[derive(Debug, PartialEq, Eq)]
pub(in crate::server) struct TooSlow;

/// What waits for one member.
#[derive(Debug, Default)]
pub(super) struct Outgoing {
    /// The frame that is being written.
    head: Option<Head>,
    /// A frame whose turn it was, of which nothing is gone: a stop went first.
    put_off: Option<Head>,
    stop: Option<Bytes>,
    pongs: VecDeque<Bytes>,
    urgent: VecDeque<Waiting>,
    usual: VecDeque<Waiting>,
    /// The closing frame, last of all.
    close: Option<Bytes>,
    /// True once a close was put in: nothing more is taken.
    closing: bool,
}

/// A frame of which so many bytes are gone.
#[derive(Debug)]
struct Head {
    frame: Bytes,
    gone: usize,
    kind: Kind,
}

/// A message of which so many frames are gone.
#[derive(Debug)]
struct Waiting {
    kind: Kind,
    framed: Framed,
    gone: usize,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Stop,
    Message,
    Cue(Generation),
    Latest(Latest),
}

impl Outgoing {
    /// Puts something in. `dead` is what has died by now.
    ///
    /// # Errors
    /// [`TooSlow`] when too much waits already; it is not taken then.
    pub(super) fn push(&mut self, frame: Frame, dead: Generation) -> Result<(), TooSlow> {
        if self.closing {
            return Ok(());
        }
        let (kind, framed, urgent) = match frame {
            Frame::Message(framed) => (Kind::Message, framed, false),
            Frame::Urgent(framed) | Frame::Welcome(framed) => (Kind::Message, framed, true),
            Frame::Cue(generation, _) if generation <= dead => return Ok(()),
            Frame::Cue(generation, framed) => (Kind::Cue(generation), framed, false),
            Frame::Latest(what, framed) => (Kind::Latest(what), framed, false),
        };
        if let Kind::Latest(_) = kind {
            self.usual.retain(|waiting| waiting.kind != kind);
        }
        if !urgent && self.usual.len() >= MOST_WAITING {
            self.usual.retain(|waiting| !matches!(waiting.kind, Kind::Cue(generation) if generation <= dead));
        }
        let (lane, most) = if urgent { (&mut self.urgent, MOST_URGENT) } else { (&mut self.usual, MOST_WAITING) };
        if lane.len() >= most {
            return Err(TooSlow);
        }
        lane.push_back(Waiting { kind, framed, gone: 0 });
        Ok(())
    }

    /// The stop: next after the frame that has been begun. One that waits already is replaced.
    pub(super) fn stop(&mut self, frame: Bytes) {
        if !self.closing {
            self.stop = Some(frame);
        }
    }

    /// The answer to a ping.
    pub(super) fn pong(&mut self, frame: Bytes) {
        if self.closing {
            return;
        }
        if self.pongs.len() >= MOST_PONGS {
            self.pongs.pop_front();
        }
        self.pongs.push_back(frame);
    }

    /// Closes after what is urgent and the farewell; the rest that waits is dropped.
    pub(super) fn close(&mut self, farewell: Option<Framed>, closing: Bytes) {
        if self.closing {
            return;
        }
        self.closing = true;
        self.usual.clear();
        self.pongs.clear();
        self.urgent.extend(farewell.map(|framed| Waiting { kind: Kind::Message, framed, gone: 0 }));
        self.close = Some(closing);
    }

    /// The bytes that are to be written next; nothing when nothing waits. A frame of which nothing is gone has not begun:
    /// a stop that came meanwhile goes first, and a cue that died meanwhile does not go.
    pub(super) fn front(&mut self, dead: Generation) -> Option<&[u8]> {
        match self.head.take_if(|head| head.gone == 0) {
            Some(Head { frame, kind: Kind::Stop, .. }) => self.stop = self.stop.take().or(Some(frame)),
            Some(head) => self.put_off = Some(head),
            None => {}
        }
        if self.head.is_none() {
            self.head = self.next(dead);
        }
        self.head.as_ref().map(|head| &head.frame[head.gone..])
    }

    /// So many bytes of the front were written.
    pub(super) fn wrote(&mut self, bytes: usize) {
        if let Some(head) = &mut self.head {
            head.gone += bytes;
            if head.gone >= head.frame.len() {
                self.head = None;
            }
        }
    }

    /// True when nothing waits.
    pub(super) fn is_empty(&self) -> bool {
        self.head.is_none()
            && self.put_off.is_none()
            && self.stop.is_none()
            && self.pongs.is_empty()
            && self.urgent.is_empty()
            && self.usual.is_empty()
            && self.close.is_none()
    }

    /// True while a stop waits, or a frame that has been begun.
    pub(super) fn stops(&self) -> bool {
        self.head.is_some() || self.stop.is_some()
    }

    /// True once the closing frame is gone.
    pub(super) fn is_closed(&self) -> bool {
        self.closing && self.is_empty()
    }

    /// True once a close was put in.
    pub(super) fn is_closing(&self) -> bool {
        self.closing
    }

    fn next(&mut self, dead: Generation) -> Option<Head> {
        let whole = |frame, kind| Head { frame, gone: 0, kind };
        let is_dead = |kind: Kind| matches!(kind, Kind::Cue(generation) if generation <= dead);
        if let Some(stop) = self.stop.take() {
            return Some(whole(stop, Kind::Stop));
        }
        if let Some(head) = self.put_off.take().filter(|head| !is_dead(head.kind)) {
            return Some(head);
        }
        if let Some(pong) = self.pongs.pop_front() {
            return Some(whole(pong, Kind::Message));
        }
        for lane in [&mut self.urgent, &mut self.usual] {
            while let Some(waiting) = lane.front_mut() {
                let kind = waiting.kind;
                let frame = waiting.framed.frame(waiting.gone).filter(|_| !is_dead(kind)).cloned();
                waiting.gone += 1;
                if frame.is_none() || waiting.gone >= waiting.framed.len() {
                    lane.pop_front();
                }
                if let Some(frame) = frame {
                    return Some(whole(frame, kind));
                }
            }
        }
        self.close.take().map(|frame| whole(frame, Kind::Message))
    }
}

#[cfg(test)]
#[path = "outgoing_tests.rs"]
mod tests;
