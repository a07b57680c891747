//! The phones' machines, driven: what they want done is done, what arrives is given to them, and what their screens and
//! loudspeakers show is held against the rules.

use super::frames::{Read, from_phone};
use super::phone::{Link, Seen};
use super::scene::Scene;
use crate::member::{Act, Event};
use crate::wire::{ToMember, ToServer};

/// A connection that nobody answers is refused after so long, if the phone has not given it up before.
const UNANSWERED: i64 = 5_000_000;

impl Scene {
    /// Something happens to a phone, and what it wants is done.
    pub(super) fn happens(&mut self, who: usize, event: Event<'_>) {
        let acts = self.phones[who].handle(self.now, event);
        self.perform(who, acts);
    }

    /// What a phone asked for has not come about, or is over.
    pub(super) fn closed(&mut self, who: usize) {
        let phone = &mut self.phones[who];
        phone.link = Link::None;
        phone.waiting.clear();
        let chance = phone.chance.part();
        self.happens(who, Event::Closed { chance });
    }

    /// A phone's connection is gone.
    pub(super) fn lose(&mut self, who: usize, number: usize) {
        if let Some(connection) = self.connections.get_mut(&number) {
            connection.leave();
        }
        self.rules.note(|| format!("{who} has lost {number}"));
        self.closed(who);
    }

    /// A phone has lost its connection, and the server does not know: what is on its way still arrives.
    pub(super) fn lose_half(&mut self, who: usize) {
        let Link::Open(number) = self.phones[who].link else { return };
        if let Some(connection) = self.connections.get_mut(&number) {
            connection.at_phone = false;
        }
        self.closed(who);
    }

    /// True while nothing that a phone asks for reaches the server and comes back.
    pub(super) fn is_out_of_reach(&self, who: usize) -> bool {
        let cut = self.phones[who].cut;
        cut.0 > self.now || cut.1 > self.now || self.server_sleeps > self.now
    }

    /// Phones that have slept wake, before anything reaches them; some have a clock that stood still meanwhile.
    pub(super) fn end_sleep(&mut self) {
        for who in 0..self.phones.len() {
            let phone = &mut self.phones[who];
            if phone.asleep == 0 || phone.asleep > self.now {
                continue;
            }
            phone.asleep = 0;
            let stood = if phone.chance.percent(70.0) { self.now - phone.fell_asleep } else { 0 };
            let acts = phone.slept(self.now, stood);
            self.perform(who, acts);
        }
    }

    /// A phone reads what has come.
    pub(super) fn read(&mut self, who: usize) {
        while let Link::Open(number) = self.phones[who].link {
            let Some(read) = self.phones[who].reading.next() else { return };
            match read {
                Read::Closing => return self.lose(who, number),
                Read::Message(message) => self.hear(who, &message),
            }
        }
    }

    fn hear(&mut self, who: usize, message: &ToMember) {
        let phone = &mut self.phones[who];
        let time = phone.time(self.now);
        phone.sees(message);
        phone.heard = self.now;
        self.rules.heard(phone, message);
        if let ToMember::Cue(cue) = message
            && let Some(due) = cue.due_us
            && phone.follower.clock().to_server(time).is_some_and(|server| server.0 + 300_000 < due)
        {
            phone.waiting.insert((cue.generation, cue.cue), due);
        }
        let acts = phone.handle(self.now, Event::Heard(message));
        self.rules.knows_the_time(&self.phones[who], message);
        self.perform(who, acts);
    }

    /// Does what a phone's machine wants done.
    pub(super) fn perform(&mut self, who: usize, acts: Vec<Act>) {
        for act in acts {
            match act {
                Act::Connect => self.knock(who),
                Act::Disconnect => match self.phones[who].link {
                    Link::Open(number) => self.lose(who, number),
                    Link::Connecting(_) | Link::None => self.closed(who),
                },
                Act::Send(message) => self.send(who, message),
                Act::Show(shown) => {
                    let phone = &mut self.phones[who];
                    phone.waiting.remove(&(shown.cue.generation, shown.cue.cue));
                    if let Some(step) = shown.cue.step.filter(|_| !shown.overtaken) {
                        phone.seen.step = Some((shown.cue.generation, step, shown.cue.cue));
                    }
                    self.rules.shown(phone, &shown);
                }
                Act::Lost => self.phones[who].waiting.clear(),
                Act::Over(ending) => {
                    self.rules.note(|| format!("{who} is over: {ending:?}"));
                    let phone = &mut self.phones[who];
                    phone.over = true;
                    phone.seen = Seen::default();
                    self.rules.forgets(who);
                }
                Act::Linked => self.send(who, ToServer::Show { subjects: self.phones[who].shows() }),
                Act::Unsaid(_) => {}
            }
        }
    }

    fn knock(&mut self, who: usize) {
        self.rules.tries(who, self.now);
        self.rules.note(|| format!("{who} knocks"));
        let in_vain = self.is_out_of_reach(who);
        let phone = &mut self.phones[who];
        let wait = if in_vain { UNANSWERED } else { phone.chance.between(2_000, 80_000) };
        // A tap dials once more, also on a page that was told that it is over.
        phone.over = false;
        phone.link = Link::Connecting(self.now + wait);
    }

    fn send(&mut self, who: usize, message: ToServer) {
        let Link::Open(number) = self.phones[who].link else { return };
        let Some(connection) = self.connections.get_mut(&number) else { return };
        // A phone has a large buffer: what it says waits there.
        if !connection.send(&from_phone(&message), message) {
            self.lose(who, number);
        }
    }
}
