//! The people: what somebody in their place might do, seeing what their screen shows. They are in a hurry: what they ask
//! for they often ask for twice.

use super::chance::Chance;
use super::desk;
use super::phone::{Link, Phone, SECOND_PAGE, STRANGER};
use super::playbill::bouts;
use super::scene::Scene;
use super::times::{CHAOS, SECOND};
use crate::call::{Role, Way, Why};
use crate::member::Event;
use crate::wire::{DoorAsk, DriveKind, MovePlace, Setup, Stage, ToServer};

impl Scene {
    /// When somebody, or their phone by itself, does something next.
    pub(super) fn next_deed(&self) -> Option<i64> {
        let acts = self.phones.iter().filter(|_| self.now < CHAOS).flat_map(|phone| {
            let again = phone.again.as_ref().map_or(i64::MAX, |(at, _)| *at);
            [phone.acts_at.max(phone.asleep), again.max(phone.asleep)]
        });
        // What slept wakes.
        let wakes = self.phones.iter().map(|phone| phone.asleep).filter(|asleep| *asleep > self.now);
        acts.chain(wakes).chain(self.phones_next()).min()
    }

    /// When phones do something by themselves.
    pub(super) fn phones_next(&self) -> impl Iterator<Item = i64> {
        self.phones.iter().filter(|phone| !phone.over).filter_map(|phone| match phone.link {
            Link::Connecting(answer) => phone.wakes().into_iter().chain([answer.max(phone.asleep)]).min(),
            Link::None | Link::Open(_) => phone.wakes(),
        })
    }

    /// What phones and people do now.
    pub(super) fn wake_phones(&mut self) {
        for who in 0..self.phones.len() {
            let phone = &mut self.phones[who];
            if phone.asleep > self.now {
                phone.waiting.clear();
                continue;
            }
            if !phone.over && phone.wakes().is_some_and(|at| at <= self.now) {
                self.happens(who, Event::Time);
            }
            if self.now < CHAOS {
                self.says_again(who);
                let phone = &mut self.phones[who];
                if phone.acts_at <= self.now {
                    phone.acts_at = self.now + phone.chance.between(100_000, 3 * SECOND);
                    self.act(who);
                }
            }
        }
    }

    /// Phones knock in vain while there is no server.
    pub(super) fn knock_in_vain(&mut self) {
        for who in 0..self.phones.len() {
            let phone = &self.phones[who];
            if phone.over || phone.asleep > self.now {
                continue;
            }
            match phone.link {
                Link::Connecting(answer) if answer <= self.now => self.closed(who),
                _ if phone.wakes().is_some_and(|at| at <= self.now) => self.happens(who, Event::Time),
                _ => {}
            }
        }
    }

    fn says_again(&mut self, who: usize) {
        let phone = &mut self.phones[who];
        if let Some((_, said)) = phone.again.take_if(|(at, _)| *at <= self.now)
            && !phone.over
        {
            self.happens(who, Event::Say(said));
        }
    }

    /// A person does what somebody in their place might.
    fn act(&mut self, who: usize) {
        if self.phones[who].over {
            return self.come_back(who);
        }
        let room = self.phones.iter().filter_map(|phone| Some((phone.seen.you.as_ref()?.0, phone.role))).collect();
        let phone = &mut self.phones[who];
        phone.room = room;
        if phone.chance.percent(4.0) {
            return self.begin_anew(who);
        }
        if phone.chance.percent(if phone.stage() == Stage::Running { 9.0 } else { 3.0 }) {
            return self.tap(who);
        }
        let said = match (phone.role, phone.stage()) {
            (Role::Desk, stage) => steer(phone, stage),
            (Role::Captain, Stage::Held) if phone.chance.percent(30.0) => release(phone),
            (Role::Captain, Stage::Running) if phone.chance.percent(8.0) => {
                Some(ToServer::Stop { reason: "an ankle".into() })
            }
            (Role::Performer, Stage::Idle | Stage::Stopped) if phone.chance.percent(4.0) => {
                Some(desk::takes_part(phone))
            }
            (Role::Captain, Stage::Idle | Stage::Stopped) if phone.chance.percent(20.0) => Some(desk::sign(phone)),
            (Role::Performer, Stage::Places) => {
                phone.seen.state.as_ref().map(|state| ToServer::Ready { ready: true, generation: state.generation })
            }
            (_, Stage::Held) if phone.chance.percent(15.0) => phone
                .seen
                .hold
                .as_ref()
                .map(|hold| ToServer::Reason { hold: hold.hold, reason: reason(&mut phone.chance) }),
            (_, Stage::Running | Stage::Stopped | Stage::Complete) if phone.chance.percent(4.0) => {
                Some(near_miss(phone))
            }
            (_, Stage::Held) if phone.chance.percent(20.0) => {
                phone.seen.hold.as_ref().map(|hold| ToServer::Note { hold: hold.hold, text: "slipped".into() })
            }
            _ => None,
        };
        if let Some(said) = said {
            if phone.chance.percent(25.0) {
                phone.again = Some((self.now + *phone.chance.one(&[0, 150_000, 900_000]), said.clone()));
            }
            self.happens(who, Event::Say(said));
        }
    }

    /// Their page says that it is over: they tap HOLD all the same, load it again, or come with the invitation.
    fn come_back(&mut self, who: usize) {
        if who == SECOND_PAGE.0 && self.phones[who].chance.percent(80.0) {
            let key = self.phones[SECOND_PAGE.1].key.clone();
            if let Some(key) = key.filter(|_| self.phones[who].chance.percent(30.0)) {
                self.rules.note(|| format!("{who} opens a second page"));
                self.rules.opens(who);
                self.phones[who].open_with(key);
            }
            return;
        }
        let phone = &mut self.phones[who];
        match phone.chance.between(0, 100) {
            _ if who == STRANGER => {}
            0..=9 if phone.key.is_some() => self.tap(who),
            10..=39 if phone.key.is_some() => {
                self.rules.opens(who);
                phone.reload();
            }
            40..=79 => {
                self.rules.opens(who);
                phone.join_anew(&self.invitations[&phone.role]);
            }
            _ => {}
        }
    }

    /// The page is loaded anew, or the phone is another one and they come with the invitation.
    fn begin_anew(&mut self, who: usize) {
        let phone = &mut self.phones[who];
        // The invitations that lie about are good: a stranger has none of them.
        let reloads = phone.chance.percent(80.0) || who == STRANGER;
        self.rules.note(|| format!("{who} begins anew"));
        if !(reloads && phone.keeps()) {
            self.rules.forgets(who);
        }
        self.rules.opens(who);
        if let Link::Open(number) = phone.link
            && let Some(connection) = self.connections.get_mut(&number)
        {
            connection.leave();
        }
        phone.link = Link::None;
        match reloads {
            true => phone.reload(),
            false => {
                let invitation = &self.invitations[&phone.role];
                phone.join_anew(invitation);
            }
        }
    }

    /// Somebody taps HOLD.
    pub(super) fn tap(&mut self, who: usize) {
        let phone = &mut self.phones[who];
        phone.taps += 1;
        let tap = format!("{} {} {}", phone.name, phone.number, phone.taps);
        self.rules.note(|| format!("{who} taps {tap:?}"));
        phone.tapped = phone.follower.generation().0;
        let before = phone.follower.untold_taps();
        let acts = phone.handle(self.now, Event::Hold { tap: tap.clone(), reason: None });
        // Tapped again while nobody has answered, it is the same tap.
        if phone.follower.untold_taps() > before {
            self.rules.tapped(who, &tap);
        }
        self.perform(who, acts);
    }
}

/// One of the company's reasons; now and then one that is not on the list.
fn reason(chance: &mut Chance) -> String {
    (*chance.one(&[Why::USUAL[0], Why::USUAL[1], "the weather"])).to_owned()
}

/// What somebody reports who saw something, or thinks so.
fn near_miss(phone: &mut Phone) -> ToServer {
    let run = phone.seen.state.as_ref().and_then(|state| state.run);
    let place = phone
        .chance
        .percent(70.0)
        .then(|| MovePlace { phrase: phone.chance.between(0, 3) as u32, r#move: phone.chance.between(1, 5) as u32 });
    let (named, noted) = (phone.chance.percent(50.0), phone.chance.percent(50.0));
    let reason = phone.chance.percent(50.0).then(|| Why::USUAL[2].to_owned());
    ToServer::NearMiss { run, place, named, reason, note: noted.then(|| "close".to_owned()) }
}

/// What somebody at the desk wants.
fn steer(phone: &mut Phone, stage: Stage) -> Option<ToServer> {
    let (generation, seen) = phone.seen.state.as_ref().map(|state| (state.generation, state.last_event))?;
    if phone.chance.percent(10.0) {
        return Some(ToServer::Door { ask: DoorAsk::SameAll {} });
    }
    let going = matches!(stage, Stage::CountIn | Stage::Running);
    if phone.chance.percent(if going { 10.0 } else { 25.0 }) {
        return desk::tonight(phone);
    }
    match stage {
        Stage::Idle | Stage::Stopped | Stage::Complete if phone.chance.percent(40.0) => desk::places_for(phone),
        Stage::Idle | Stage::Stopped | Stage::Complete => {
            let bout = phone.chance.one(bouts());
            let setup = Setup {
                fight: bout.fight.clone(),
                weapons: None,
                from: 0,
                from_move: phone.chance.percent(25.0).then(|| phone.chance.between(1, 4) as u32),
                to: phone.chance.between(0, bout.phrases.len() as i64) as u32,
                percent: *phone.chance.one(&[50, 100, 100, 120]),
                count_in: 4,
                drive: if phone.chance.percent(20.0) { DriveKind::Step } else { DriveKind::Clock },
            };
            Some(ToServer::Places { setup, seen })
        }
        Stage::Places => Some(ToServer::Start { generation, anyway: phone.chance.percent(90.0), seen }),
        Stage::CountIn | Stage::Running => match phone.chance.between(0, 100) {
            0..=5 => Some(ToServer::Stop { reason: "lunch".into() }),
            6..=15 => Some(ToServer::Speed { percent: *phone.chance.one(&[60, 100, 110]) }),
            16..=60 => Some(step(phone, generation)),
            _ => None,
        },
        Stage::Held => release(phone),
    }
}

/// A step from what is on the screen, now and then one back; sometimes they have not looked.
fn step(phone: &mut Phone, generation: u64) -> ToServer {
    let way = if phone.chance.percent(30.0) { Way::Back } else { Way::On };
    let seen = phone.seen.step.filter(|(of, ..)| *of == generation).map_or(0, |(_, step, _)| step);
    let from = if phone.chance.percent(10.0) { seen.saturating_sub(1) } else { seen };
    ToServer::Step { generation, from, way }
}

fn release(phone: &Phone) -> Option<ToServer> {
    phone.seen.hold.as_ref().map(|hold| ToServer::Release { hold: hold.hold, seen: hold.last_event })
}
