//! A run: what was set up, its plan, and how to say where in it something happened.

use std::collections::BTreeSet;

use super::{Drive, Setup};
use crate::event::{Cast, OfItem, RunBegun, RunEnd, RunEnded, Spot, UnderWay};
use crate::timeline::{Moment, Plan, PlannedMove, Reader};
use crate::units::{Micros, ServerTime, Speed, Ticks};

/// A run that has been set up.
#[derive(Clone, Debug)]
pub struct Run {
    /// Its number, from 1; a run that was never started gives its number to the next.
    pub number: u32,
    /// What was set up.
    pub setup: Setup,
    /// Everything that will happen in it.
    pub plan: Plan,
    /// For each move of the plan the number of its picture among the fight's: looked up once, told often.
    pub pictures: Vec<Option<u32>>,
    /// Server time of the first beat of the range, once the clock drives it.
    pub start: Option<ServerTime>,
    /// True once it was started: until then its number may still be the next one's.
    pub begun: bool,
    /// The item of tonight's order that it is a run of.
    pub of_item: Option<OfItem>,
    /// Who was noted as absent when it was started.
    pub(super) away: BTreeSet<String>,
}

impl Run {
    /// A run of that setup.
    pub fn new(number: u32, setup: Setup) -> Run {
        let count_in = match setup.drive {
            Drive::Clock => setup.count_in,
            Drive::Step => 0,
        };
        let begin = setup.begin.as_ref().map(|begin| begin.number);
        let plan = Plan::from_move(&setup.fight.score, setup.range, begin, setup.speed, count_in);
        let pictures = plan.moves().iter().map(|planned| setup.fight.picture(planned)).collect();
        Run { number, setup, plan, pictures, start: None, begun: false, of_item: None, away: BTreeSet::new() }
    }

    /// What a reader plays in it.
    pub(super) fn part(&self, reader: Reader) -> Option<&str> {
        let score = &self.setup.fight.score;
        match reader {
            Reader::Everything => None,
            Reader::Fighter(id) => score.fighters.get(id.0).map(|fighter| fighter.name.as_str()),
            Reader::Bystander(id) => score.bystanders.get(id.0).map(|bystander| bystander.name.as_str()),
        }
    }

    /// When a moment of the plan is due, if the clock drives.
    pub fn due(&self, moment: &Moment) -> Option<ServerTime> {
        self.start.map(|start| start + moment.time)
    }

    /// The last moment that is due by then, if the clock drives.
    pub fn reached(&self, at: ServerTime) -> Option<usize> {
        let start = self.start?;
        self.plan.moments().partition_point(|moment| start + moment.time <= at).checked_sub(1)
    }

    /// When the run is over, if the clock drives.
    pub fn end(&self) -> Option<ServerTime> {
        self.start.map(|start| start + self.plan.duration())
    }

    /// The time of the first moment, from the first beat: negative when there is a count-in.
    pub fn lead_in(&self) -> Micros {
        self.plan.moments().first().map_or(Micros::ZERO, |moment| moment.time.min(Micros::ZERO))
    }

    /// The speed at a moment; nothing when nothing is timed.
    pub fn speed_at(&self, moment: usize) -> Option<Speed> {
        let moment = self.plan.moments().get(moment)?;
        let phrase = self.plan.phrases().get(moment.phrase_in_range)?;
        (self.setup.drive == Drive::Clock).then_some(phrase.speed)
    }

    /// The place of a moment, as a person would say it.
    pub fn spot(&self, number: usize) -> Option<Spot> {
        let moment = self.plan.moments().get(number)?;
        let phrase = self.plan.phrases().get(moment.phrase_in_range)?;
        let reached = self
            .plan
            .moves()
            .get(..moment.moves.end)?
            .last()
            .filter(|last| last.phrase_in_range == moment.phrase_in_range);
        Some(Spot {
            cue: Some(u32::try_from(number).ok()?),
            phrase: u32::try_from(phrase.phrase).ok()?,
            phrase_name: phrase.name.clone(),
            beat: moment.beat.beat_label(),
            number: reached.map(|last| last.number),
            words: reached.map(|last| self.words(last)),
        })
    }

    /// The moment at which a move begins, by its phrase in the score, counted from 0, and its number in it.
    pub(super) fn moment_of(&self, phrase: u32, number: u32) -> Option<usize> {
        let in_range = self.plan.phrases().iter().position(|it| u32::try_from(it.phrase) == Ok(phrase))?;
        let of = |it: &PlannedMove| it.phrase_in_range == in_range && it.number == number;
        let planned = self.plan.moves().iter().position(of)?;
        self.plan.moments().iter().position(|moment| moment.moves.contains(&planned))
    }

    /// The place of a moment, and of that move of it.
    pub(super) fn spot_of(&self, moment: usize, number: Option<u32>) -> Option<Spot> {
        let phrase = self.plan.moments().get(moment)?.phrase_in_range;
        let of = |it: &&PlannedMove| it.phrase_in_range == phrase && Some(it.number) == number;
        let planned = self.plan.moves().iter().find(of);
        let spot = self.spot(moment)?;
        Some(match planned {
            Some(planned) => Spot { number, words: Some(self.words(planned)), ..spot },
            None => spot,
        })
    }

    /// The number of a run that was started.
    pub fn begun_number(&self) -> Option<u32> {
        self.begun.then_some(self.number)
    }

    /// All that there is to know of its beginning, with those who play in it.
    pub(super) fn beginning(&self, cast: Vec<Cast>, at: ServerTime) -> RunBegun {
        let Setup { fight, range, begin, speed, count_in, drive } = &self.setup;
        let name = |at: usize| fight.score.phrases.get(at).map(|phrase| phrase.name.clone()).unwrap_or_default();
        let number = |at: usize| u32::try_from(at).unwrap_or(u32::MAX);
        RunBegun {
            run: self.number,
            revision: fight.revision.clone(),
            fight: fight.score.name.clone(),
            weapons: fight.weapons.clone(),
            from_phrase: number(range.first),
            from_name: name(range.first),
            from_move: begin.as_ref().map(|begin| begin.number),
            to_phrase: number(range.last),
            to_name: name(range.last),
            percent: (*drive == Drive::Clock).then(|| speed.as_percent()),
            count_in: *count_in,
            drive: drive.word().to_owned(),
            server_us: at.0,
            item: self.of_item,
            cast,
        }
    }

    /// Its end at a place.
    pub(super) fn ended(&self, how: RunEnd, last: Option<Spot>, at: ServerTime) -> RunEnded {
        let first = last.as_ref().and_then(|_| self.spot(0));
        RunEnded { run: self.number, how, first, last, at }
    }

    /// The moves under way at a moment: of each pair the last that it had begun in the phrase, at most a bar before the last
    /// that anybody had. That of the fighter `whose` comes first, then the latest.
    fn under_way(&self, moment: usize, whose: Option<&str>) -> Vec<UnderWay> {
        let Some(moment) = self.plan.moments().get(moment) else { return Vec::new() };
        let begun = self.plan.moves().get(..moment.moves.end).unwrap_or_default();
        let mut moves: Vec<(Ticks, UnderWay)> = Vec::new();
        let bar = Ticks::beats(i64::from(self.plan.beats_per_bar()));
        let latest = begun.last().map_or(Ticks::ZERO, |last| last.at);
        let lately = |it: &&PlannedMove| it.phrase_in_range == moment.phrase_in_range && it.at >= latest - bar;
        for planned in begun.iter().rev().take_while(lately) {
            let pair = self.setup.fight.pair(planned);
            // Whoever has begun a later move is not in this one any more.
            let over =
                |(at, later): &(Ticks, UnderWay)| *at > planned.at && later.pair.iter().any(|it| pair.contains(it));
            if !moves.iter().any(over) {
                let (number, words) = (planned.number, self.words(planned));
                moves.push((planned.at, UnderWay { pair, number, words }));
            }
        }
        let own = |it: &UnderWay| whose.is_some_and(|whose| it.pair.iter().any(|name| name == whose));
        moves.sort_by_key(|(_, it)| !own(it));
        moves.into_iter().map(|(_, it)| it).collect()
    }

    /// The place of a hold or stop at a moment, called by whoever plays `whose`: that of the moment, and of the moves under
    /// way the first.
    pub(super) fn called_at(&self, moment: usize, whose: Option<&str>) -> (Option<Spot>, Vec<UnderWay>) {
        let under_way = self.under_way(moment, whose);
        let spot = self.spot(moment).map(|spot| match under_way.first() {
            Some(first) => Spot { number: Some(first.number), words: Some(first.words.clone()), ..spot },
            None => spot,
        });
        (spot, under_way)
    }

    /// A move in words: `MARET thrust belly / OSK parry 4`.
    pub fn words(&self, planned: &PlannedMove) -> String {
        self.setup.fight.words(planned)
    }
}
