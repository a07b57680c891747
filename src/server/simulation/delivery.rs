//! What the network brings: bytes to the server and to the phones, connections that come about, and the end of both.

use std::collections::BTreeMap;

use super::chance::Chance;
use super::connection::Connection;
use super::frames::{Read, Reading};
use super::life::{AtServer, Life};
use super::phone::Link;
use super::scene::Scene;
use crate::member::Event;

/// The server's ends of the connections, by their numbers.
pub(super) type AtServers = BTreeMap<usize, AtServer>;

impl Scene {
    /// When something arrives next, at the server or at a phone.
    pub(super) fn next_arrival(&self) -> Option<i64> {
        let up = self.connections.values().filter_map(|connection| {
            let cut = self.phones[connection.phone].cut.0.max(self.server_sleeps);
            connection.up.arrives().map(|arrives| arrives.max(cut))
        });
        up.chain(self.arrivals_down()).min()
    }

    /// When something arrives at phones.
    pub(super) fn arrivals_down(&self) -> impl Iterator<Item = i64> {
        self.connections.values().filter_map(|connection| {
            let phone = &self.phones[connection.phone];
            connection.down.arrives().map(|arrives| arrives.max(phone.cut.1).max(phone.asleep))
        })
    }

    /// What arrives now, up and down.
    pub(super) fn deliver(&mut self, life: &mut Life<'_>, at_server: &mut AtServers, epoch: i64) {
        self.answer_connecting(at_server, epoch);
        let numbers: Vec<usize> = self.connections.keys().copied().collect();
        for number in numbers {
            self.deliver_up(number, life, at_server);
        }
        self.deliver_down();
        self.bury(at_server);
    }

    fn deliver_up(&mut self, number: usize, life: &mut Life<'_>, at_server: &mut AtServers) {
        let Some(connection) = self.connections.get_mut(&number) else { return };
        let Some(at) = at_server.get_mut(&number) else {
            // That server is gone: nobody reads what comes.
            while connection.up.take(self.now).is_some() {}
            return;
        };
        let phone = &self.phones[connection.phone];
        if self.server_sleeps <= self.now && phone.cut.0 <= self.now {
            while let Some(segment) = connection.up.take(self.now) {
                life.arrives(at, &segment.bytes);
                // What the server has closed reads nothing more; the phone brings its taps with its key.
                let read = !connection.down.is_finished() && !at.is_over() && !life.reactor.is_closing(at.link);
                let line = at.is_line();
                for message in connection.arrived(segment.bytes.len()).into_iter().filter(|_| read) {
                    self.rules.arrives(number, phone, (line, life), message);
                }
            }
            if connection.up.is_over() {
                life.ends(at);
            }
        }
        if connection.down.has_room_again() {
            life.reactor.link_is_ready(at.link, false, true);
        }
    }

    /// What arrives at the phones.
    pub(super) fn deliver_down(&mut self) {
        let numbers: Vec<usize> = self.connections.keys().copied().collect();
        for number in numbers {
            let Some(connection) = self.connections.get_mut(&number) else { continue };
            let who = connection.phone;
            let phone = &mut self.phones[who];
            if phone.cut.1 > self.now || phone.asleep > self.now {
                continue;
            }
            let mut came = false;
            while let Some(segment) = connection.down.take(self.now) {
                if connection.at_phone {
                    phone.reading.feed(&segment.bytes);
                    came = true;
                }
            }
            let over = connection.down.is_over();
            if came {
                self.read(who);
            }
            let still = self.connections.get(&number).is_some_and(|connection| connection.at_phone);
            if over && still {
                self.lose(who, number);
            }
        }
    }

    /// Who asked for a connection hears whether they have one.
    fn answer_connecting(&mut self, at_server: &mut AtServers, epoch: i64) {
        for who in 0..self.phones.len() {
            let phone = &self.phones[who];
            let Link::Connecting(answer) = phone.link else { continue };
            if answer > self.now || phone.asleep > self.now || phone.over {
                continue;
            }
            match self.is_out_of_reach(who) {
                true => self.closed(who),
                false => self.open(who, at_server, epoch),
            }
        }
    }

    fn open(&mut self, who: usize, at_server: &mut AtServers, epoch: i64) {
        let number = self.next_connection;
        self.next_connection += 1;
        let name = 1_000 + 2 * number as u64;
        let phone = &mut self.phones[who];
        // Some phones take little at a time.
        let room = *phone.chance.one(&[1_500, 4_000, 24_000]);
        let (up, down) = (Chance::of(self.seed, name), Chance::of(self.seed, name + 1));
        let connection = Connection::new(who, self.clock, room, up, down);
        at_server.insert(number, AtServer::new(number as u64, connection.down.clone()));
        self.connections.insert(number, connection);
        phone.link = Link::Open(number);
        phone.reading = Reading::default();
        if phone.jumped > phone.heard {
            // A sleep that was shorter than the introduction takes cannot be told from a word that took long; the answers
            // over this link tell it.
            phone.jumped = self.now;
        }
        (phone.heard, phone.epoch, phone.seen.alive) = (self.now, epoch, 0);
        self.rules.opened();
        self.happens(who, Event::Opened);
    }

    /// Connections that both sides have done with are forgotten.
    fn bury(&mut self, at_server: &mut AtServers) {
        self.connections.retain(|number, connection| {
            let gone = !connection.at_phone
                && connection.down.is_over()
                && (connection.up.is_over() || !at_server.contains_key(number));
            if gone {
                at_server.remove(number);
            }
            !gone
        });
    }

    /// What the server has written since this was last asked, told to the rules.
    pub(super) fn watch(&mut self, at_server: &AtServers, epoch: i64) {
        for (number, connection) in &mut self.connections {
            let Some(at) = at_server.get(number) else { continue };
            connection.watched.feed(&at.written());
            while let Some(read) = connection.watched.next() {
                let dead = connection.begun.take().unwrap_or(self.rules.dead_before());
                if let Read::Message(message) = read {
                    self.rules.written(*number, (connection.phone, self.now - epoch), dead, &message);
                }
            }
            // A frame that was begun is finished, whatever died meanwhile.
            let within = connection.watched.is_within();
            connection.begun = connection.begun.or(Some(self.rules.dead_before())).filter(|_| within);
        }
    }
}
