//! What comes in.

use std::io;

use super::Reactor;
use crate::server::close;
use crate::server::ending::End;
use crate::server::request::{LineNews, Speaker, request_of};
use crate::server::sockets::decoder::Decoded;
use crate::server::sockets::frames::framed;
use crate::server::sockets::outgoing::Frame;
use crate::units::ServerTime;
use crate::wire::{Back, ToMember, ToServer};

/// From one line so many frames are taken a turn.
const FRAMES_A_TURN: usize = 8;

impl Reactor<'_> {
    pub(super) fn read_ready(&mut self) {
        for _ in 0..self.to_read.len() {
            let Some(place) = self.to_read.pop_front() else { return };
            if let Some(line) = self.lines.get_mut(place) {
                line.listed = false;
            }
            if let Err(end) = self.read(place) {
                self.end(place, end);
            }
            let Some(line) = self.lines.get(place) else { continue };
            if line.readable || line.undecoded {
                self.list(place);
            }
        }
    }

    /// Reads one line, no more than its share.
    pub(super) fn read(&mut self, place: usize) -> Result<(), End> {
        let now = self.brake.now();
        self.read_at = now;
        let Some(line) = self.lines.get_mut(place) else { return Ok(()) };
        let Some((socket, decoder)) = &mut line.socket else { return Ok(()) };
        if !line.undecoded {
            match socket.read(&mut self.buffer) {
                Ok(0) => return Err(End::Closed),
                Ok(bytes) => decoder.feed(&self.buffer[..bytes]),
                Err(error) if error.kind() == io::ErrorKind::WouldBlock => {
                    line.readable = false;
                    return Ok(());
                }
                Err(error) => return Err(End::Broken(error.to_string())),
            }
        }
        if line.left.is_some() || line.out.is_closing() {
            // It has been told that it is over: what it still says is read away.
            line.undecoded = false;
            return Ok(());
        }
        line.heard = now;
        if std::mem::take(&mut line.silent) {
            let news = LineNews::Heard(line.member, line.link);
            let _ = self.hub.lines.send(news);
        }
        self.decode(place, now)
    }

    pub(super) fn decode(&mut self, place: usize, now: ServerTime) -> Result<(), End> {
        for _ in 0..FRAMES_A_TURN {
            let Some(line) = self.lines.get_mut(place) else { return Ok(()) };
            let Some((_, decoder)) = &mut line.socket else { return Ok(()) };
            if (0..decoder.fragments()).any(|_| !line.pace.allows(now)) {
                return Err(too_many());
            }
            let decoded = decoder.decode();
            if let Some(pong) = decoder.answer() {
                line.out.pong(pong);
                self.queue(place);
            }
            let Some(line) = self.lines.get_mut(place) else { return Ok(()) };
            match decoded? {
                None => {
                    line.undecoded = false;
                    return Ok(());
                }
                Some(Decoded::Control) if line.pace.allows(now) => {}
                Some(Decoded::Control) => return Err(too_many()),
                Some(Decoded::Message(message)) => {
                    let hold = matches!(*message, ToServer::Hold(_));
                    if !(line.pace.allows(now) || (hold && line.pace.allows_hold(now))) {
                        return Err(too_many());
                    }
                    let by = Speaker { member: line.member, link: line.link };
                    self.take(place, by, *message, now)?;
                }
            }
        }
        if let Some(line) = self.lines.get_mut(place) {
            line.undecoded = true;
        }
        Ok(())
    }

    pub(super) fn take(&mut self, place: usize, by: Speaker, message: ToServer, now: ServerTime) -> Result<(), End> {
        match message {
            ToServer::Hold(tap) => self.tap(Some(place), by.member, tap),
            ToServer::Clock { sent_us } => {
                let answered_us = self.brake.now().0;
                let answer = ToMember::Clock { sent_us, received_us: now.0, answered_us };
                if let Some(framed) = framed(&answer) {
                    self.push(place, Frame::Message(framed));
                }
            }
            message => {
                let asked = message.asks_for();
                let Some(request) = request_of(by, message) else { return Ok(()) };
                let full = self.hub.requests.try_send(request).is_err();
                if let Some(asked) = asked.filter(|_| full) {
                    let reason = "The desk's machine is busy, so this was not done. Try again.".to_owned();
                    let refused = ToMember::Refused { asked: asked.to_owned(), reason };
                    if let Some(framed) = framed(&refused) {
                        self.push(place, Frame::Message(framed));
                    }
                }
            }
        }
        Ok(())
    }
}

fn too_many() -> End {
    End::refused("Too many messages in too short a time. Reload the page.", close::TOO_MANY, Back::ByItself)
}
