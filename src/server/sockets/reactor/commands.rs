//! What is asked of the thread: lines that begin and end, and what they are sent.

use std::sync::mpsc::TryRecvError;

use bytes::Bytes;
use mio::Token;

use super::Reactor;
use super::writing::LINES_A_LOOK;
use crate::call::{MemberId, Puller, Tap};
use crate::server::close;
use crate::server::ending::End;
use crate::server::request::{HoldLane, LineNews, LinkId};
use crate::server::sockets::frames::{Framed, closing, framed};
use crate::server::sockets::line::Line;
use crate::server::sockets::lines::Command;
use crate::server::sockets::outgoing::Frame;
use crate::server::sockets::{Decoder, Transport};
use crate::wire::ToMember;

/// Commands that are carried out between two looks for taps.
const COMMANDS_A_LOOK: usize = 64;

impl Reactor<'_> {
    pub(super) fn obey(&mut self) {
        self.bell.answer();
        for _ in 0..COMMANDS_A_LOOK {
            match self.commands.try_recv() {
                Ok(command) => {
                    self.command(command);
                    if self.to_write.len() >= LINES_A_LOOK {
                        break;
                    }
                }
                Err(TryRecvError::Empty) => return,
                Err(TryRecvError::Disconnected) => {
                    self.over = true;
                    return;
                }
            }
        }
        // There may be more: look for taps, and come back at once.
        self.bell.ring();
    }

    pub(super) fn command(&mut self, command: Command) {
        match command {
            Command::Open { link, member } => {
                self.rests_no_more();
                let place = self.lines.insert(Line::new(link, member, self.brake.now(), self.limits.messages_a_second));
                self.places.insert(link, place);
            }
            Command::Take { link, transport, decoder } => {
                if let Some(place) = self.place(link) {
                    self.begin(place, *transport, *decoder);
                }
            }
            Command::Abandon(link) => {
                if let Some(place) = self.place(link) {
                    self.end(place, End::Closed);
                }
            }
            Command::Some(links, frame) => {
                for place in links.into_iter().filter_map(|link| self.places.get(&link).copied()).collect::<Vec<_>>() {
                    self.push(place, frame.clone());
                }
            }
            Command::All(frame) => self.push_all(&frame),
            Command::Close { link, farewell, closing } => {
                if let Some(place) = self.place(link) {
                    self.close(place, farewell, closing);
                }
            }
            Command::Watch(holding) => {
                self.rests_no_more();
                self.going = holding.is_some();
                let holding = holding.unwrap_or_default();
                for (_, line) in &mut self.lines {
                    line.holding = holding.contains(&line.link);
                }
            }
            Command::Taps { member, taps, done } => {
                for tap in taps {
                    self.tap_kept(member, tap);
                }
                // A newcomer who has gone needs no answer.
                let _ = done.send(());
            }
            Command::Pulled { pull, at, by, puller } => {
                self.stop_everybody(pull, at, by);
                self.forward(pull, at, puller);
            }
        }
    }

    pub(super) fn place(&self, link: LinkId) -> Option<usize> {
        self.places.get(&link).copied()
    }

    pub(super) fn push_all(&mut self, frame: &Frame) {
        let places: Vec<usize> = self.lines.iter().map(|(place, _)| place).collect();
        for place in places {
            self.push(place, frame.clone());
        }
    }

    /// A tap that came with a key instead of over a line.
    pub(super) fn tap_kept(&mut self, member: MemberId, tap: Tap) {
        match self.is_pulling(member, &tap) {
            true => self.pull(Puller::Member(member, tap)),
            false => self.to_hub.push(HoldLane::Tap(member, tap)),
        }
    }

    pub(super) fn begin(&mut self, place: usize, mut transport: Transport, decoder: Decoder) {
        let Some(line) = self.lines.get_mut(place) else { return };
        if let Err(error) = transport.register(self.poll.registry(), Token(place)) {
            return self.end(place, End::Broken(error.to_string()));
        }
        let now = self.brake.now();
        line.socket = Some((transport, decoder));
        (line.heard, line.moved) = (now, now);
        // What came together with the introduction waits in the decoder; the socket tells of the rest.
        (line.writable, line.undecoded) = (true, true);
        self.list(place);
        self.queue(place);
    }

    pub(super) fn close(&mut self, place: usize, farewell: Option<Framed>, closing: Bytes) {
        let Some(line) = self.lines.get_mut(place) else { return };
        if line.socket.is_none() {
            // Its socket has not come: it is not waited for.
            line.out.close(farewell, closing);
            return;
        }
        line.out.close(farewell, closing);
        self.queue(place);
    }

    /// A line ends: for a reason that its member is told, or because its socket is gone. The hub knows at once.
    pub(super) fn end(&mut self, place: usize, end: End) {
        let Some(line) = self.lines.get_mut(place) else { return };
        let (member, link, was_closing) = (line.member, line.link, line.out.is_closing());
        let holds = line.holding && !was_closing;
        match &end {
            End::Refused { .. } | End::Silent if !was_closing && line.socket.is_some() => {
                let farewell = ToMember::Goodbye { reason: end.reason(), back: end.back() };
                let closing = closing(end.code(), &close::short(&end.reason()));
                let farewell = framed(&farewell);
                self.close(place, farewell, closing);
            }
            End::Left(code) if !was_closing && line.socket.is_some() => self.close(place, None, closing(*code, "")),
            _ => self.remove(place),
        }
        if !was_closing {
            let _ = self.hub.lines.send(LineNews::Closed(member, link, end));
        }
        if holds {
            self.is_lost(place, member);
        }
    }

    /// A line whose loss holds the run is lost: the run is held if none of its member's other pages is heard.
    pub(super) fn is_lost(&mut self, place: usize, member: MemberId) {
        let heard = |line: &Line| line.socket.is_some() && !line.silent && !line.out.is_closing();
        let is_another = |(other, line): (usize, &Line)| other != place && line.member == member && heard(line);
        if self.lines.iter().any(is_another) {
            return;
        }
        for (_, line) in self.lines.iter_mut().filter(|(_, line)| line.member == member) {
            line.holding = false;
        }
        self.pull(Puller::LostLink(member));
    }

    pub(super) fn remove(&mut self, place: usize) {
        let Some(mut line) = self.lines.try_remove(place) else { return };
        self.places.remove(&line.link);
        self.to_read.retain(|other| *other != place);
        self.to_stop.retain(|other| *other != place);
        self.to_write.retain(|other| *other != place);
        if let Some((transport, _)) = &mut line.socket {
            transport.deregister(self.poll.registry());
        }
    }
}
