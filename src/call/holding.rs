//! Holds: a tap makes one or joins the one that stands, a release lets go of it, a note is added to it. A hold's order
//! is: raise the generation, silence, tell everyone, answer the caller, write it down.

use super::{Call, Caller, Entry, EntryKind, Hold, HoldId, Member, MemberId, Output, Role, Spot, Stage, Tap, TapFate};
use crate::units::{Generation, Speed};

/// How many past holds the screens are told of; the journal has them all.
const PAST_HOLDS: usize = 20;

impl Call {
    pub(super) fn tap(&mut self, member: MemberId, tap: Tap) {
        let Some(caller) = self.roster.get(member).cloned() else { return };
        let key = (member, tap.id.clone());
        if let Some(fate) = self.taps.get(&key) {
            let fate = *fate;
            self.out.push(Output::TapAnswer { member, tap: tap.id, fate });
            return;
        }
        let meant_for_another = tap.queued && tap.generation != self.generation;
        let fate = if meant_for_another {
            self.late_tap(member, &caller, &tap)
        } else {
            let screen = self.screen_spot(&tap);
            let caller = Caller {
                member,
                name: caller.name,
                role: caller.role,
                times: 1,
                last_call: 1,
                reason: tap.reason.clone(),
                screen,
                by_lost_link: false,
            };
            TapFate::Held(self.hold(caller, Some(tap.id)))
        };
        self.taps.insert(key, fate);
    }

    /// The foot switch went down. It has no name for its taps: pressed twice it is called twice.
    pub(super) fn foot_hold(&mut self) {
        let caller = Caller {
            member: MemberId::FOOT_SWITCH,
            name: MemberId::FOOT_SWITCH_NAME.to_owned(),
            role: Role::Desk,
            times: 1,
            last_call: 1,
            reason: None,
            screen: None,
            by_lost_link: false,
        };
        self.hold(caller, None);
    }

    /// Everything stands. Order: generation, silence, tell everyone, answer, write down.
    pub(super) fn hold(&mut self, caller: Caller, tap: Option<String>) -> HoldId {
        if let Stage::Held(hold, run) = &mut self.stage {
            let (id, spot, speed) = (hold.id, hold.spot.clone(), hold.speed);
            hold.calls = hold.calls.saturating_add(1);
            let same =
                |before: &&mut Caller| (before.member, before.by_lost_link) == (caller.member, caller.by_lost_link);
            match hold.callers.iter_mut().find(same) {
                Some(before) => {
                    before.times = before.times.saturating_add(1);
                    before.last_call = hold.calls;
                    before.reason = caller.reason.clone().or(before.reason.take());
                }
                None => hold.callers.push(Caller { last_call: hold.calls, ..caller.clone() }),
            }
            let run = run.as_ref().map(|run| run.number);
            self.announce_hold(EntryKind::HoldJoined, id, caller, tap, (run, spot, speed));
            return id;
        }
        self.generation = Generation(self.generation.0.saturating_add(1));
        self.out.push(Output::Silence(self.generation));
        let id = HoldId(self.next_hold);
        self.next_hold += 1;
        let mut phrases = Vec::new();
        let (run, spot, speed) = match std::mem::replace(&mut self.stage, Stage::Idle) {
            Stage::Going(run, mut going) => {
                phrases = self.phrases_reached(&run, &mut going);
                let reached = going.driver.reached(self.now, &run);
                let spot = reached.and_then(|moment| run.spot(moment));
                let speed = run.speed_at(reached.unwrap_or(0));
                (Some(run), spot, speed)
            }
            Stage::Places(run) | Stage::Complete(run) => (Some(run), None, None),
            Stage::Stopped(run, _) => (run, None, None),
            Stage::Idle | Stage::Held(..) => (None, None, None),
        };
        let number = run.as_ref().map(|run| run.number);
        let hold = Hold {
            id,
            generation: self.generation,
            at: self.now,
            spot: spot.clone(),
            speed,
            callers: vec![caller.clone()],
            calls: 1,
            written: false,
            released_by: None,
            notes: Vec::new(),
        };
        self.stage = Stage::Held(hold, run);
        self.announce_hold(EntryKind::Hold, id, caller, tap, (number, spot, speed));
        let hold_entry = self.out.pop();
        self.out.extend(phrases);
        self.out.extend(hold_entry);
        id
    }

    fn announce_hold(
        &mut self,
        kind: EntryKind,
        id: HoldId,
        caller: Caller,
        tap: Option<String>,
        (run, spot, speed): (Option<u32>, Option<Spot>, Option<Speed>),
    ) {
        self.out.push(Output::Held);
        if let Some(tap) = &tap {
            let answer = Output::TapAnswer { member: caller.member, tap: tap.clone(), fate: TapFate::Held(id) };
            self.out.push(answer);
        }
        self.out.push(Output::Changed);
        let reason = match caller.by_lost_link {
            true => Some("link lost".to_owned()),
            false => caller.reason,
        };
        self.out.push(Output::Journal(Box::new(Entry {
            who: Some((caller.member, caller.name, caller.role)),
            run,
            spot,
            screen: caller.screen,
            speed,
            reason,
            hold: Some(id),
            tap,
            ..self.entry(kind)
        })));
    }

    fn late_tap(&mut self, member: MemberId, caller: &Member, tap: &Tap) -> TapFate {
        self.out.push(Output::TapAnswer { member, tap: tap.id.clone(), fate: TapFate::Late });
        self.out.push(Output::Journal(Box::new(Entry {
            who: Some((member, caller.name.clone(), caller.role)),
            run: self.run().map(|run| run.number),
            reason: tap.reason.clone(),
            tap: Some(tap.id.clone()),
            ..self.entry(EntryKind::HoldLate)
        })));
        TapFate::Late
    }

    fn screen_spot(&self, tap: &Tap) -> Option<Spot> {
        let meant = match &self.stage {
            Stage::Held(hold, _) => Generation(hold.generation.0.saturating_sub(1)),
            _ => self.generation,
        };
        let cue = usize::try_from(tap.screen_cue?).ok()?;
        (tap.generation == meant).then(|| self.run()?.spot(cue)).flatten()
    }

    pub(super) fn hold_written(&mut self, id: HoldId, tap: Option<(MemberId, String)>) {
        let standing = match &mut self.stage {
            Stage::Held(hold, _) if hold.id == id => Some(hold),
            _ => self.past_holds.iter_mut().find(|hold| hold.id == id),
        };
        if let Some(hold) = standing {
            hold.written = true;
        }
        if let Some((member, tap)) = tap {
            let fate = TapFate::Written(id);
            self.taps.insert((member, tap.clone()), fate);
            self.out.push(Output::TapAnswer { member, tap, fate });
        }
        self.out.push(Output::Changed);
    }

    pub(super) fn release(&mut self, member: MemberId, id: HoldId, calls: u32) -> Result<(), String> {
        let Stage::Held(hold, _) = &self.stage else {
            return Err("Nothing is held, so there is nothing to release.".to_owned());
        };
        if hold.id != id {
            return Err("That hold is over; another one stands. Look again before you release it.".to_owned());
        }
        if hold.calls != calls {
            let last = hold.callers.last().map_or("Somebody", |caller| caller.name.as_str());
            return Err(format!("{last} has called hold as well. Look again, then release."));
        }
        let Stage::Held(mut hold, run) = std::mem::replace(&mut self.stage, Stage::Idle) else { return Ok(()) };
        let who = self.who(member);
        hold.released_by = who.as_ref().map(|(_, name, _)| name.clone());
        let (spot, speed, number) = (hold.spot.clone(), hold.speed, run.as_ref().map(|run| run.number));
        self.past_holds.insert(0, hold);
        self.past_holds.truncate(PAST_HOLDS);
        self.stage = match run {
            None => Stage::Idle,
            run => Stage::Stopped(run, "Released. Call places to start again from a phrase.".to_owned()),
        };
        self.out.push(Output::Changed);
        self.write(Entry { who, spot, speed, run: number, hold: Some(id), ..self.entry(EntryKind::Release) });
        Ok(())
    }

    pub(super) fn note(&mut self, member: MemberId, id: HoldId, text: String) -> Result<(), String> {
        let text = text.trim().to_owned();
        if text.is_empty() {
            return Err("The note is empty. Write a word first.".to_owned());
        }
        let hold = match &mut self.stage {
            Stage::Held(hold, _) if hold.id == id => Some(hold),
            _ => self.past_holds.iter_mut().find(|hold| hold.id == id),
        };
        let Some(hold) = hold else {
            return Err(
                "That hold is no longer on the desk, so the note was not taken. Write it into the report.".to_owned()
            );
        };
        hold.notes.push(text.clone());
        let spot = hold.spot.clone();
        self.out.push(Output::Changed);
        self.write(Entry {
            who: self.who(member),
            spot,
            hold: Some(id),
            reason: Some(text),
            ..self.entry(EntryKind::Note)
        });
        Ok(())
    }
}
