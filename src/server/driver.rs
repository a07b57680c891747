//! Carries out what the parts want done: one queue, in order, and whatever follows from a deed before the next one.

use std::collections::VecDeque;

use super::deed::{Deed, Goodbye};
use super::hub::Hub;
use super::request::Speaker;
use super::sending::{self, Sending};
use super::sockets::Frame;
use super::telling::{Lent, Surroundings};
use crate::call::{Input, MemberId, Output, Stage};
use crate::sound::{Voice, VoiceKind};
use crate::units::{Decibels, ServerTime};
use crate::wire::{self, SoundLane};

impl Hub {
    /// Does what is wanted, in order; whatever follows from a deed is done before the next one.
    pub(super) fn carry_out(&mut self, deeds: impl IntoIterator<Item = Deed>) {
        let mut waiting: VecDeque<Deed> = deeds.into_iter().collect();
        while let Some(deed) = waiting.pop_front() {
            for follows in self.perform(deed).into_iter().rev() {
                waiting.push_front(follows);
            }
        }
    }

    /// Does one thing, and says what follows from it.
    fn perform(&mut self, deed: Deed) -> Vec<Deed> {
        match deed {
            Deed::Give(input) => return self.give(input, None),
            Deed::Asked(by, act) => return self.give(Input::From(by.member, act), Some(by)),
            Deed::Of(output) => self.output(output),
            Deed::Settle(settled) => return self.settle(settled),
            Deed::Tell => self.tell(),
            Deed::Record(record) => self.parts.writer.record(record),
            Deed::Note(who, what) => self.parts.writer.note(who, what),
            Deed::Keep(keep) => self.keeper.keep(keep),
            Deed::Open(link, member) => {
                self.parts.lines.open(link, member);
                self.look_at_once();
            }
            Deed::Goodbye(Goodbye { link, reason, code, back }) => {
                self.parts.lines.goodbye(link, &reason, code, back);
            }
            Deed::Unlinked(page) => {
                self.page.watchers.remove(&page.link);
                self.parts.teller.unlinked(page);
            }
            Deed::Forget(member) => self.parts.teller.forget(member),
            Deed::Watch => self.watch_lines(),
            Deed::Welcome(to, key) => self.welcome(to, key),
            Deed::Answer(member, taps) => self.answer(member, taps),
            Deed::Say(link, message) => self.send(Sending::over(vec![link], &message, Frame::Message)),
            Deed::Refuse(link, asked, reason) => self.send(sending::refusal(vec![link], asked, reason)),
            Deed::TellWatchers(tells) => self.tell_watchers(&tells),
            Deed::FindOut(link, find_out) => self.find_out(link, find_out),
            Deed::BeginLoop(asked) => return self.begin_loop(asked),
            Deed::Changed => self.parts.teller.changed(),
            Deed::Reply(reply) => reply(),
        }
        Vec::new()
    }

    /// Gives the call an input: what it wants done follows, in order, and then whoever is to be told is told. A refusal goes
    /// to the page on which it was asked, where there is one.
    fn give(&mut self, input: Input, asked_by: Option<Speaker>) -> Vec<Deed> {
        let settled = self.settled();
        let now = settled.unwrap_or_else(|| self.parts.clock.now());
        self.parts.tape.input(now, &input);
        let outputs = self.parts.call.handle(now, input);
        let deed = |output| match (output, asked_by) {
            (Output::Refused { member, asked, reason }, Some(by)) if member == by.member => {
                Deed::Refuse(by.link, asked.word(), reason)
            }
            (output, _) => Deed::Of(output),
        };
        outputs.into_iter().map(deed).chain([Deed::Settle(settled), Deed::Tell]).collect()
    }

    /// The moment for which no pull can arrive any more; nothing while one is on its way. The pulls are looked at before
    /// the clock: a later one has a later instant.
    pub(super) fn settled(&self) -> Option<ServerTime> {
        let all_taken = self.parts.brake.pulls() == self.taken;
        all_taken.then(|| self.parts.clock.now())
    }

    fn settle(&mut self, settled: Option<ServerTime>) -> Vec<Deed> {
        let Some(settled) = settled else { return Vec::new() };
        self.parts.call.settle(settled).into_iter().map(Deed::Of).collect()
    }

    /// What the call wants done.
    fn output(&mut self, output: Output) {
        let (call, company) = (&self.parts.call, &self.parts.company);
        match output {
            Output::Silence(generation) => self.parts.brake.kill(generation),
            Output::Lives(generation) => self.parts.brake.admit(generation, self.taken),
            Output::Free => self.parts.brake.free(self.taken),
            Output::Held => self.send(sending::held(call)),
            Output::Try { trial, by, members } => {
                self.parts.brake.try_hold();
                self.send(sending::trial(company, &members, trial, by));
            }
            Output::TapAnswer { member, tap, fate } => {
                let kept = self.parts.writer.journal().keeps();
                self.send(sending::answer(company, member, tap, (fate, kept)));
            }
            Output::Cue(cue) => {
                self.plan_sounds(&cue);
                let Some(run) = self.parts.call.run() else { return };
                self.send(sending::cue(&self.parts.company, run, &cue));
                self.parts.outputs.cue(run, &cue);
            }
            Output::Click { due, accent, generation } => {
                let kind = if accent { VoiceKind::Accent } else { VoiceKind::Click };
                self.parts.outputs.click(due, accent, generation);
                if self.page.goes_out(SoundLane::Click) {
                    self.parts.sound.plan(Voice { due, kind, level: Decibels::default(), generation });
                }
            }
            Output::Changed => {
                self.parts.teller.changed();
                self.watch_lines();
                self.parts.outputs.state(&self.parts.call);
            }
            Output::RunChanged => {
                let (Some(run), generation) = (call.run(), call.generation()) else { return };
                self.send(sending::run(run, generation));
                if matches!(call.stage(), Stage::Going(..)) {
                    self.parts.outputs.run(run, generation);
                }
            }
            Output::Refused { member, asked, reason } => {
                self.send(sending::refusal(company.lines([&member]), asked.word(), reason));
            }
            Output::Journal(entry) => self.parts.writer.entry(entry),
        }
    }

    fn send(&self, sendings: impl IntoIterator<Item = Sending>) {
        sendings.into_iter().for_each(|sending| sending.go(&self.parts.lines));
    }

    /// Tells what has changed to those whom it concerns, if it is time.
    fn tell(&mut self) {
        let now = self.parts.clock.now();
        if !self.parts.teller.is_due(now, &self.parts.call) {
            return;
        }
        let around = self.surroundings();
        let lent = Lent { call: &self.parts.call, company: &self.parts.company, around: &around };
        let sendings = self.parts.teller.tell(now, lent);
        self.send(sendings);
        // Nobody waits for the mark of what they were told.
        self.parts.tape.told(&self.parts.call);
    }

    fn welcome(&mut self, to: Speaker, key: Option<String>) {
        let (now, around) = (self.parts.clock.now(), self.surroundings());
        let lent = Lent { call: &self.parts.call, company: &self.parts.company, around: &around };
        let welcome = self.parts.teller.welcome(now, (to, key), lent);
        self.send(welcome);
    }

    /// What became of these taps, as far as the call knows.
    fn answer(&self, member: MemberId, taps: Vec<String>) {
        let kept = self.parts.writer.journal().keeps();
        for tap in taps {
            if let Some(fate) = self.parts.call.fate_of(member, &tap) {
                self.send(sending::answer(&self.parts.company, member, tap, (fate, kept)));
            }
        }
    }

    /// Tells the sockets' thread which lines' loss holds the run that goes.
    fn watch_lines(&mut self) {
        let call = &self.parts.call;
        let going = matches!(call.stage(), Stage::Going(..));
        let watched = going.then(|| {
            let cast = call.cast_of_run().unwrap_or_default();
            let holding = call.roster().iter().filter(|(id, member)| call.holds_if_lost(&cast, *id, member));
            self.parts.company.lines(holding.map(|(id, _)| id).collect::<Vec<_>>().iter())
        });
        if self.watched != watched {
            self.watched.clone_from(&watched);
            self.parts.lines.watch(watched);
        }
    }

    /// How things are around the call.
    pub(super) fn surroundings(&self) -> Surroundings {
        let parts = &self.parts;
        let sound = parts.sound.status();
        let sound = match (&self.page.muted_by, self.page.off_sentence()) {
            (Some(name), _) => wire::Health { well: false, says: format!("{name} has muted sound, MIDI and OSC.") },
            (None, Some(off)) => wire::Health { well: false, says: format!("{off} {}", sound.says) },
            (None, None) => wire::Health { well: sound.well, says: sound.says },
        };
        let journal = parts.writer.journal();
        let log = journal.health();
        let library = parts.sound.library();
        let recordings = library.as_ref().map_or(&[][..], |library| library.troubles());
        let kept: Vec<String> = self.page.troubles().chain(parts.company.unkept().cloned()).collect();
        let troubles = [
            recordings.to_vec(),
            kept,
            parts.outputs.troubles(),
            parts.sound.faults(),
            journal.faults(),
            parts.faults.sentences(),
            parts.reached.sentences(),
        ];
        Surroundings {
            sound,
            hold_call: parts.sound.says_hold(),
            log: wire::Health { well: log.well, says: log.says },
            troubles: troubles.concat(),
        }
    }
}
