//! Whether what was written down was asked for, could be so as the call stood, and is by whoever asked.

use super::{Asked, Call, Checked, Record, Stands, Tapped, Up};
use crate::call::{MemberId, Role, Way};
use crate::event::{Called, DoorChange, Event, EventId, HoldId, What};
use crate::wire::{DoorAsk, ToServer};

impl Record {
    /// Each tap that arrived is written down once: as a call where it pulls, and as late where what it was meant for was
    /// dead.
    pub(super) fn every_tap(&mut self, fresh: &[Event], dead: u64) -> Checked {
        let tapped = std::mem::take(&mut self.taps);
        let ends = |event: &Event| matches!(event.what, What::Places { .. } | What::Stop { .. } | What::Complete);
        let other = |event: &Event| event.what.tap().is_none() && (is_hold(event) || ends(event));
        let alone = tapped.len() == 1 && !fresh.iter().any(other);
        for tapped in tapped {
            let Tapped { name, tap, dead: was } = &tapped;
            let of = |event: &&Event| event.what.tap() == Some(tap.tap.as_str());
            let [event] = fresh.iter().filter(of).collect::<Vec<_>>()[..] else {
                return Err(format!("{tap:?} of {name} was written down {} times", fresh.iter().filter(of).count()));
            };
            if event.name().map(of_person) != Some(name.as_str()) {
                return Err(format!("{tap:?} of {name} is written down as {event:?}"));
            }
            let late = matches!(event.what, What::HoldLate { .. });
            let was_dead = tap.queued && tap.generation <= *was;
            let lives = !tap.queued || tap.generation > dead || (alone && tap.generation > self.dead);
            if (late && lives) || (!late && was_dead) {
                return Err(format!("up to {was} was dead, up to {dead} is, and {tap:?} is {:?}", event.what.word()));
            }
        }
        Ok(())
    }

    /// Something was written down: it was asked for, and could be so as the call stood.
    pub(super) fn accept(&mut self, event: &Event) -> Checked {
        use Stands::{Going, Held, Places};
        let Call { stands, generation, hold, run, .. } = self.call;
        let Call { stood, cast, steps, .. } = self.call;
        self.call = self.call.after(event);
        let up = self.set_up(event, stood)?;
        let tonight = self.tonight.clone();
        self.tonight.after(event, up.as_ref());
        if matches!(event.what, What::Order { .. } | What::End { .. }) {
            // Nobody has been told of it yet.
            self.newest = None;
        }
        let could = match &event.what {
            What::Places { .. } => !matches!(stands, Held | Going),
            What::Ready => {
                self.take(event, |message| matches!(message, ToServer::Ready { ready: true, .. }))?;
                stands == Places
            }
            What::Start { begun, .. } => {
                let of = generation;
                let last = stood.max(cast);
                let this = |generation: u64, seen: EventId| generation == of && Some(seen) >= last;
                self.take(
                    event,
                    |said| matches!(said, ToServer::Start { generation, seen, .. } if this(*generation, *seen)),
                )?;
                let number = begun.as_ref().map(|begun| begun.run);
                // Of a run that a server's death cut off, the start may be missing.
                let begins = begun.as_ref().is_some_and(|begun| tonight.could_begin(begun));
                stands == Places && event.run > Some(run) && number == event.run && begins
            }
            What::Stop { .. } => {
                self.take(event, |message| matches!(message, ToServer::Stop { .. }))?;
                matches!(stands, Going | Places)
            }
            What::Complete => stands == Going && event.who.is_none(),
            What::Release { hold: released } => {
                self.take(event, |said| matches!(said, ToServer::Release { hold, .. } if *hold == released.0))?;
                stands == Held && released.0 == hold
            }
            What::Hold { call, .. } => {
                self.pulled(event, call)?;
                stands != Held && call.hold.0 == hold + 1
            }
            What::HoldJoined(call) => {
                self.pulled(event, call)?;
                stands == Held && call.hold.0 == hold
            }
            What::HoldLate { tap, .. } => tap.as_ref().is_some_and(|tap| self.has_arrived(tap)),
            What::Speed { .. } => {
                self.take(event, |message| matches!(message, ToServer::Speed { .. }))?;
                stands == Going
            }
            What::Step { back } => {
                let (of, way) = (generation, if *back { Way::Back } else { Way::On });
                // Each step is asked for by somebody who had the one before it on their screen.
                let asks = |said: &ToServer| *said == ToServer::Step { generation: of, from: steps, way };
                self.take(event, asks)?;
                stands == Going
            }
            What::Note { hold: noted, .. } => {
                let of = noted.map(|hold| hold.0);
                self.take(event, |said| matches!(said, ToServer::Note { hold, .. } if Some(*hold) == of))?;
                noted.is_some_and(|noted| noted.0 <= hold)
            }
            What::Reason { hold: given, of, reason } => {
                let to = given.map(|hold| hold.0);
                let same = |said: &ToServer| matches!(said, ToServer::Reason { hold, reason: why } if Some(*hold) == to && why == reason);
                self.take(event, same)?;
                self.made(*of) == *given && given.is_some_and(|given| given.0 <= hold)
            }
            What::NearMiss { reason, note } => {
                let same = |said: &ToServer| {
                    matches!(said, ToServer::NearMiss { named, reason: why, note: noted, .. }
                        if *named == event.who.is_some() && (why, noted) == (reason, note))
                };
                self.take_of(event, same)?;
                true
            }
            What::Phrase => stands == Going,
            What::Joined { .. } | What::Left { .. } | What::LinkLost | What::LinkBack => true,
            What::Order { order } if tonight.is_written(order) => {
                let by = event.member();
                self.settling.iter().any(|it| matches!(it.what, What::Places { .. }) && it.member() == by)
            }
            What::Order { order } => {
                let (versions, now) = (&self.versions, tonight.shown());
                // Whoever gives it has seen the order that is changed by it.
                let asks = |said: &ToServer| {
                    matches!(said, ToServer::Order { items, seen }
                        if versions.get(seen) == Some(&now) && tonight.gives(items, order))
                };
                let place = self.place_of(event, asks)?;
                self.asked.remove(place);
                true
            }
            What::Cast { fight, part, member, .. } => {
                // Whoever is given a part by the desk is not covered for any more.
                let given = member.is_none() && self.gives_part(|to| to == Some(part));
                if !given {
                    self.take(event, |said| {
                        matches!(said, ToServer::Cast { fight: of, part: it, member: whom } if (of, it, whom) == (fight, part, member))
                    })?;
                }
                stands != Going && tonight.could_cast(event, &self.tonight)
            }
            What::Attendance { person, present, part } => {
                self.take(event, |said| {
                    matches!(said, ToServer::Attend { person: whom, present: there } if (whom, there) == (person, present))
                })?;
                tonight.could_note(person, *present, part.as_deref())
            }
            What::Check { check, in_order, .. } => {
                self.take(event, |said| {
                    matches!(said, ToServer::Sign { check: of, in_order: so, .. } if (of, so) == (check, in_order))
                })?;
                true
            }
            What::End { signed_by } => {
                self.take(event, |said| matches!(said, ToServer::EndCall { signed_by: by } if by == signed_by))?;
                !matches!(stands, Held | Going)
            }
            // A newcomer is who they said, by the desk's word; their part comes with it. One word settles all. Else a part
            // goes from one to another when somebody takes it or is given it, or comes and asks for it.
            What::Part { part } => {
                let asked = self.gives_part(|to| to == part.as_ref()) || part.is_none() && self.gives_part(|_| true);
                let given = asked || self.introduced || self.says_who_is_who();
                given && (stands != Going || self.introduced)
            }
            What::Door(DoorChange::Same { newcomer, name }) => {
                stands != Going && self.says_who_is_who() && of_person(newcomer) == of_person(name)
            }
            _ => false,
        };
        if could {
            return Ok(());
        }
        Err(format!("that could not be in {:?} with {:?}", Call { stands, ..self.call }, self.tonight.up()))
    }

    /// What an event that calls places has set up, by what was asked for.
    fn set_up(&mut self, event: &Event, stood: Option<EventId>) -> Result<Option<Up>, String> {
        let What::Places { set_up: Some(says) } = &event.what else { return Ok(None) };
        let tonight = self.tonight.clone();
        let up = |said: &ToServer| tonight.up_of(said).filter(|up| up.is_said(says));
        let is = |said: &ToServer| match said {
            ToServer::Places { seen, .. } | ToServer::PlacesFor { seen, .. } => {
                Some(*seen) >= stood && up(said).is_some()
            }
            _ => false,
        };
        let place = self.place_of(event, is)?;
        let asked = self.asked.remove(place);
        let others = self.asked.iter().filter(|other| other.name == asked.name && is(&other.message));
        let up = up(&asked.message).map(|one| one.or(others.filter_map(|other| up(&other.message))));
        self.placed.extend(up.clone().map(|up| (event.id, up)));
        Ok(up)
    }

    /// True when somebody takes, or is given, a part for which that is so.
    fn gives_part(&self, is_it: impl Fn(Option<&String>) -> bool) -> bool {
        self.asked.iter().any(|asked| matches!(&asked.message, ToServer::TakePart { part, .. } if is_it(part.as_ref())))
    }

    /// What has pulled is a tap that has arrived, a link that was lost while a run went, or a machine that slept.
    fn pulled(&self, event: &Event, call: &Called) -> Checked {
        let machine = event.name() == Some(MemberId::MACHINE_NAME) && self.slept;
        let link = event.who.as_ref().is_some_and(|who| who.role == Some(Role::Performer))
            && call.reason.as_deref() == Some("link lost");
        match &call.tap {
            Some(tap) if self.has_arrived(tap) => Ok(()),
            None if machine || link => Ok(()),
            _ => Err("nobody has called that".to_owned()),
        }
    }

    /// True when the desk has said that newcomers are who they said.
    fn says_who_is_who(&self) -> bool {
        let says = |asked: &Asked| matches!(asked.message, ToServer::Door { ask: DoorAsk::SameAll {} });
        self.asked.iter().any(|asked| asked.role == Role::Desk && says(asked))
    }

    fn has_arrived(&self, name: &str) -> bool {
        self.taps.iter().any(|tapped| tapped.tap.tap == name)
    }

    /// The hold that an event has made.
    fn made(&self, event: EventId) -> Option<HoldId> {
        let all = self.story.iter().chain(&self.settling);
        let made = |told: &Event| match &told.what {
            What::Hold { call, .. } if told.id == event => Some(call.hold),
            _ => None,
        };
        all.filter_map(made).next()
    }

    /// The same of what may be without a name: then whoever asked is not told either.
    fn take_of(&mut self, event: &Event, is: impl Fn(&ToServer) -> bool) -> Checked {
        if event.who.is_some() {
            return self.take(event, is);
        }
        let place = self.asked.iter().position(|asked| is(&asked.message));
        self.asked.remove(place.ok_or_else(|| format!("nobody has asked for that: {:?}", self.asked))?);
        Ok(())
    }

    /// What was written down was asked for by whoever is said to have done it, and it was asked for once.
    fn take(&mut self, event: &Event, is: impl Fn(&ToServer) -> bool) -> Checked {
        let place = self.place_of(event, is)?;
        self.asked.remove(place);
        Ok(())
    }

    /// Which of the requests it was.
    fn place_of(&self, event: &Event, is: impl Fn(&ToServer) -> bool) -> Result<usize, String> {
        let by = |asked: &Asked| {
            event.who.as_ref().is_some_and(|who| {
                of_person(&who.name) == asked.name
                    && who.role == Some(asked.role)
                    && who.member == self.members.get(&asked.connection).copied()
            })
        };
        let place = self.asked.iter().position(|asked| by(asked) && is(&asked.message));
        place.ok_or_else(|| format!("nobody has asked for that: {:?}", self.asked))
    }
}

/// Whoever comes under a name that is there has a number behind it until it is said who they are.
fn of_person(name: &str) -> &str {
    name.split_once(" (").map_or(name, |(name, _)| name)
}

pub(super) fn is_hold(event: &Event) -> bool {
    matches!(event.what, What::Hold { .. })
}
