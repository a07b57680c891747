//! The runs of an evening: how likely each move is to go wrong, what happens when it does, and what the phones say.

use super::company::{CAPTAIN, COMPANY, DESK, NOTES, REASONS, UNDERSTUDY, usual};
use super::{CLOCK_SET, CRASH, Evening, SPEEDS, Text, UNDERSTUDY_WEEK};
use crate::event::{Called, Cast, Event, HoldId, Revision, RunBegun, RunEnd, RunEnded, Spot, What};
use crate::journal::{Record, Report};
use crate::timeline::{PhraseRange, Plan, PlannedMove};
use crate::units::{ServerTime, Speed};

/// The phrase that stays weak, and the move at which it does.
const WEAK: &str = "The turn";
/// The member whose phone is slow, by number: it hangs on an old router.
const SLOW_PHONE: u32 = 4;
/// Beats of count-in.
const COUNT_IN: u32 = 4;
/// From a start to its first beat, and a step of a walk-through, seconds.
const LEAD: f64 = 3.5;
const STEP: f64 = 4.0;

/// The demo's set of practice weapons, whose blades it is for, and how fast they are used at the most.
const WOOD: &str = "wood";
const BLADES: [&str; 2] = ["rapier", "dagger"];
const FASTEST_WITH_WOOD: u16 = 50;

/// What of a fight is run now.
struct Going<'t> {
    text: &'t Text,
    plan: Plan,
    range: PhraseRange,
    percent: Option<u16>,
    week: u32,
}

/// Slow runs of fights with blades are done with practice weapons.
fn with_wood(going: &Going<'_>) -> bool {
    let has_blades = going.text.score.fighters.iter().any(|fighter| BLADES.contains(&fighter.weapon.as_str()));
    has_blades && going.percent.is_none_or(|percent| percent <= FASTEST_WITH_WOOD)
}

impl Evening<'_> {
    /// Runs a fight until it was whole once, or patience ends. True when the server went away.
    pub(super) fn rehearse(&mut self, number: usize, text: &Text, week: u32, day: u32) -> bool {
        let Some(whole) = PhraseRange::whole(&text.score) else { return false };
        let full = SPEEDS.get(week as usize).copied().flatten();
        // Slow first, then at the speed of the week; on Saturdays the next speed is tried.
        let next = SPEEDS.get(week as usize + 1).copied().flatten().filter(|_| day == 4);
        let mut speeds = vec![full.map(|full| full.min(50)), full];
        speeds.extend(next.map(Some));
        speeds.dedup();
        for percent in speeds {
            let mut from = whole.first;
            for attempt in 0..4 {
                let range = PhraseRange { first: from, last: whole.last };
                let speed = percent.and_then(Speed::percent).unwrap_or(Speed::FULL);
                let count_in = if percent.is_some() { COUNT_IN } else { 0 };
                let plan = Plan::new(&text.score, range, speed, count_in);
                let goes_away = self.call == CRASH && number == 0 && attempt == 0 && percent == full;
                let going = Going { text, plan, range, percent, week };
                match self.run(&going, goes_away) {
                    Ending::Complete => break,
                    Ending::WentAway => return true,
                    Ending::Broke(phrase) => from = whole.first + phrase,
                }
            }
            let pause = self.chance.between(60.0, 180.0);
            self.pass(pause);
        }
        if self.call == CLOCK_SET && number == 0 {
            self.off_us = -7 * 60_000_000;
        }
        false
    }

    fn run(&mut self, going: &Going<'_>, goes_away: bool) -> Ending {
        let run = self.next_run;
        self.next_run += 1;
        self.begin(run, going);
        let breaks_at = self.breaks_at(going);
        let moves = going.plan.moves();
        let last = breaks_at.or_else(|| goes_away.then_some(moves.len() / 2));
        let begun_us = self.now_us + (LEAD * 1e6) as i64;
        let mut phrase = None;
        for (at, planned) in moves.iter().enumerate().take(last.map_or(moves.len(), |last| last + 1)) {
            self.now_us = begun_us + self.offset(going, at, planned);
            if phrase != Some(planned.phrase_in_range) {
                phrase = Some(planned.phrase_in_range);
                let spot = spot(going, at).map(|spot| Spot { number: None, words: None, beat: "1".to_owned(), ..spot });
                self.record(Event { run: Some(run), spot, percent: going.percent, ..self.event(What::Phrase) });
            }
            if going.percent.is_none() {
                self.record(Event {
                    run: Some(run),
                    spot: spot(going, at),
                    ..self.event_by(What::Step { back: false }, DESK)
                });
            }
            let cue = going.plan.moments().iter().position(|moment| moment.moves.contains(&at));
            self.reports(run, cue.unwrap_or(at));
        }
        match (breaks_at, goes_away) {
            (_, true) => Ending::WentAway,
            (Some(at), _) => self.hold(run, going, at),
            (None, _) => self.complete(run, going),
        }
    }

    fn offset(&self, going: &Going<'_>, at: usize, planned: &PlannedMove) -> i64 {
        match going.percent {
            Some(_) => planned.time.0,
            None => (at as f64 * STEP * 1e6) as i64,
        }
    }

    fn begin(&mut self, run: u32, going: &Going<'_>) {
        let wait = self.chance.between(15.0, 40.0);
        self.record(self.event_by(What::Places { set_up: None }, DESK));
        self.pass(wait);
        let text = going.text;
        let (sha256, fight) = (text.sha256.clone(), text.score.name.clone());
        let name = |at: usize| text.score.phrases.get(at).map(|phrase| phrase.name.clone()).unwrap_or_default();
        self.record(Revision { sha256: sha256.clone(), fight: fight.clone(), text: text.text.clone() });
        let begun = RunBegun {
            run,
            revision: sha256,
            fight,
            weapons: with_wood(going).then(|| WOOD.to_owned()),
            from_phrase: going.range.first as u32,
            from_name: name(going.range.first),
            from_move: None,
            to_phrase: going.range.last as u32,
            to_name: name(going.range.last),
            percent: going.percent,
            count_in: COUNT_IN,
            drive: if going.percent.is_some() { "clock" } else { "step" }.to_owned(),
            server_us: self.now_us,
            item: None,
            cast: self.cast(text),
        };
        self.record(begun.clone());
        let what = What::Start { anyway: None, begun: Some(Box::new(begun)) };
        self.record(Event { run: Some(run), percent: going.percent, ..self.event_by(what, DESK) });
    }

    fn cast(&self, text: &Text) -> Vec<Cast> {
        let playing = text.score.fighters.iter().filter_map(|fighter| {
            let who = self.plays(&fighter.name);
            let person = COMPANY.get(who)?.name.to_owned();
            let covers = (who == UNDERSTUDY).then(|| COMPANY.get(usual(&fighter.name)).map(|it| it.name.to_owned()));
            Some(Cast { part: fighter.name.clone(), person, member: Some(who as u32 + 1), covers: covers.flatten() })
        });
        playing.collect()
    }

    /// Who plays a part this evening: the understudy, when whoever usually does is not there.
    fn plays(&self, part: &str) -> usize {
        let usual = usual(part);
        if self.is_there(usual) { usual } else { UNDERSTUDY }
    }

    /// The move at which it goes wrong. Speed makes it likelier, weeks make it rarer, an understudy has to learn.
    fn breaks_at(&mut self, going: &Going<'_>) -> Option<usize> {
        let speed = f64::from(going.percent.unwrap_or(30)) / 100.0;
        let learnt = 0.62_f64.powi(going.week as i32);
        let moves = going.plan.moves();
        (0..moves.len()).find(|at| {
            let Some(planned) = moves.get(*at) else { return false };
            let phrase = going.plan.phrases().get(planned.phrase_in_range).map_or("", |phrase| phrase.name.as_str());
            let mut likely = 0.05 * speed * speed * learnt;
            if phrase == WEAK {
                likely = if planned.action_word == "thrust" { 0.34 * speed * speed } else { likely * 1.5 };
            }
            if planned.action_word == "bind" || planned.action_word == "disarm" {
                likely *= 3.0;
            }
            if going.week == UNDERSTUDY_WEEK && planned.who.0 == 0 {
                likely *= 6.0;
            }
            self.chance.happens(likely)
        })
    }

    fn hold(&mut self, run: u32, going: &Going<'_>, at: usize) -> Ending {
        self.pass(0.4);
        let id = self.next_hold;
        self.next_hold += 1;
        let part = going.plan.moves().get(at).and_then(|planned| going.text.score.fighters.get(planned.who.0));
        let caller = match self.chance.happens(0.3) {
            true => CAPTAIN,
            false => part.map_or(CAPTAIN, |part| self.plays(&part.name)),
        };
        let hold = HoldId(id);
        let here = |event: Event| Event { run: Some(run), spot: spot(going, at), percent: going.percent, ..event };
        // Half of them are never told, as in a real hall.
        let reason = if self.chance.happens(0.5) { self.chance.one_of(&REASONS) } else { None };
        let reason = reason.map(|reason| (*reason).to_owned());
        let screen = spot(going, at.saturating_sub(usize::from(self.chance.happens(0.3))));
        let stops = caller == CAPTAIN && self.chance.happens(0.25);
        if stops {
            self.record(here(self.event_by(What::Stop { reason, under_way: Vec::new() }, caller)));
            self.end_run(run, going, RunEnd::Stopped, at);
        } else {
            let call = Called { hold, tap: Some(format!("tap-{id}")), reason, screen };
            self.record(here(self.event_by(What::Hold { call, under_way: Vec::new() }, caller)));
            self.end_run(run, going, RunEnd::Held, at);
            if self.chance.happens(0.2) {
                self.pass(0.8);
                let call = Called { hold, tap: None, reason: None, screen: None };
                self.record(here(self.event_by(What::HoldJoined(call), CAPTAIN)));
            }
            if self.chance.happens(0.6) {
                self.pass(20.0);
                let text = self.chance.one_of(&NOTES).map(|note| (*note).to_owned());
                self.record(here(self.event_by(What::Note { hold: Some(hold), text }, DESK)));
            }
            let talk = self.chance.between(20.0, 140.0);
            self.pass(talk);
            self.record(here(self.event_by(What::Release { hold }, CAPTAIN)));
        }
        let phrase = going.plan.moves().get(at).map_or(0, |planned| planned.phrase_in_range);
        Ending::Broke(going.plan.phrases().get(phrase).map_or(0, |phrase| phrase.phrase))
    }

    fn complete(&mut self, run: u32, going: &Going<'_>) -> Ending {
        self.pass(2.0);
        let last = going.plan.moves().len().saturating_sub(1);
        let done =
            Event { run: Some(run), spot: spot(going, last), percent: going.percent, ..self.event(What::Complete) };
        self.record_and_wait(done);
        self.end_run(run, going, RunEnd::Complete, last);
        Ending::Complete
    }

    fn end_run(&self, run: u32, going: &Going<'_>, how: RunEnd, at: usize) {
        let (first, last) = (spot(going, 0), spot(going, at));
        self.record(RunEnded { run, how, first, last, at: ServerTime(self.now_us) });
    }

    /// What the performers' phones say of a cue; the slow one loses its link now and then.
    fn reports(&mut self, run: u32, cue: usize) {
        let due_us = self.now_us;
        for member in 3..=6_u32 {
            let slow = member == SLOW_PHONE;
            let late = if slow { self.chance.between(4_000.0, 95_000.0) } else { self.chance.between(500.0, 17_000.0) };
            let bound =
                if slow { self.chance.between(20_000.0, 90_000.0) } else { self.chance.between(1_000.0, 9_000.0) };
            let (fired_us, bound_us) = (due_us + late as i64, Some(bound as i64));
            self.journal.record(Record::Report(Report { run, member, cue: cue as u32, due_us, fired_us, bound_us }));
            if slow && self.chance.happens(0.002) {
                let who = member as usize - 1;
                self.record(Event { run: Some(run), ..self.event_by(What::LinkLost, who) });
                self.record(Event { run: Some(run), ..self.event_by(What::LinkBack, who) });
            }
        }
    }
}

/// How a run ends.
enum Ending {
    Complete,
    WentAway,
    /// At this phrase of the score.
    Broke(usize),
}

/// The place of a move, as the journal tells it.
fn spot(going: &Going<'_>, at: usize) -> Option<Spot> {
    let planned = going.plan.moves().get(at)?;
    let phrase = going.plan.phrases().get(planned.phrase_in_range)?;
    let name = |at: usize| going.text.score.fighters.get(at).map_or("?", |fighter| fighter.name.as_str());
    let words = match (planned.to, &planned.reply) {
        (Some(to), Some(reply)) => format!("{} {} / {} {reply}", name(planned.who.0), planned.action, name(to.0)),
        _ => format!("{} {}", name(planned.who.0), planned.action),
    };
    Some(Spot {
        cue: None,
        phrase: phrase.phrase as u32,
        phrase_name: phrase.name.clone(),
        beat: planned.beat.beat_label(),
        number: Some(planned.number),
        words: Some(words),
    })
}
