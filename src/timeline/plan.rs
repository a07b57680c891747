//! Everything that will happen in one run of a range of phrases, with ticks and times from its first beat.

use std::collections::BTreeMap;

use crate::score::model::{FighterId, Move, Person, Phrase, Score, SoundCue};
use crate::score::words;
use crate::units::{Micros, Speed, TICKS_PER_BEAT, Ticks};

use super::layout::{Line, Unrolled, phrase_length, unroll};
use super::moments::{Laid, Moment};
use super::pieces::{Piece, pieces_after, tempo_pieces};
use super::planned::{PlannedMove, PlannedPhrase, PlannedPlace, PlannedSound, PlannedWalk};
use super::range::PhraseRange;
use super::tempo::TempoMap;

/// Everything that will happen in one run.
#[derive(Clone, Debug)]
pub struct Plan {
    phrases: Vec<PlannedPhrase>,
    tempo: TempoMap,
    moves: Vec<PlannedMove>,
    walks: Vec<PlannedWalk>,
    places: Vec<PlannedPlace>,
    sounds: Vec<PlannedSound>,
    moments: Vec<Moment>,
    beats_per_bar: u32,
    /// The fighters' names.
    names: Vec<String>,
    /// By fighter: the moves they act or answer in, in order.
    involved: Vec<Vec<usize>>,
    /// By person: their walks, in order.
    walks_of: BTreeMap<Person, Vec<usize>>,
    /// By phrase of the range: its tempo at performance speed.
    pieces: Vec<Vec<Piece>>,
    /// What the tempo would be in a range without phrases.
    before: Piece,
}

impl Plan {
    /// The plan of a range at a speed, after a count-in of whole beats.
    pub fn new(score: &Score, range: PhraseRange, speed: Speed, count_in: u32) -> Plan {
        Plan::from_move(score, range, None, speed, count_in)
    }

    /// The same from a move of the first phrase on, by its number from 1: it begins on the whole beat at or before that
    /// move, with that move and those on its tick, and is from there on what the whole plan is, its times counted from that
    /// beat. The numbers of its moves, its beats and its bars stay those of the score. A number that is not in the phrase is
    /// none.
    pub fn from_move(score: &Score, range: PhraseRange, number: Option<u32>, speed: Speed, count_in: u32) -> Plan {
        let all_pieces = tempo_pieces(score);
        let before = Piece { length: Ticks::ZERO, from: score.tempo, to: score.tempo };
        let mut plan = Plan {
            phrases: Vec::new(),
            tempo: TempoMap::new([], (before, speed)),
            moves: Vec::new(),
            walks: Vec::new(),
            places: Vec::new(),
            sounds: Vec::new(),
            moments: Vec::new(),
            beats_per_bar: score.beats_per_bar.max(1),
            names: score.fighters.iter().map(|fighter| fighter.name.clone()).collect(),
            involved: vec![Vec::new(); score.fighters.len()],
            walks_of: BTreeMap::new(),
            pieces: all_pieces.get(range.first..=range.last).unwrap_or_default().to_vec(),
            before,
        };
        for (index, phrase) in score.phrases.iter().enumerate().take(range.last + 1).skip(range.first) {
            plan.add_phrase(index, phrase, speed);
        }
        if let Some(number) = number {
            plan.begin_at(number);
        }
        for (index, walk) in plan.walks.iter().enumerate() {
            plan.walks_of.entry(walk.who).or_default().push(index);
        }
        plan.moments = plan.laid().moments(count_in);
        plan.time_everything();
        plan
    }

    /// Gives a phrase of the range, and all after it, another speed. Whatever lies before keeps its time to the
    /// microsecond.
    pub fn set_speed_from(&mut self, phrase_in_range: usize, speed: Speed) {
        for phrase in self.phrases.iter_mut().skip(phrase_in_range) {
            phrase.speed = speed;
        }
        self.time_everything();
    }

    /// The phrases of the range.
    pub fn phrases(&self) -> &[PlannedPhrase] {
        &self.phrases
    }

    /// Ticks ⇄ microseconds, at the speeds of the phrases.
    pub fn tempo(&self) -> &TempoMap {
        &self.tempo
    }

    /// Every move, in order of performance.
    pub fn moves(&self) -> &[PlannedMove] {
        &self.moves
    }

    /// Every walk, in order of its beginning.
    pub fn walks(&self) -> &[PlannedWalk] {
        &self.walks
    }

    /// Every mark at the start of a phrase, in order.
    pub fn places(&self) -> &[PlannedPlace] {
        &self.places
    }

    /// Every sound, of moves and on lines of its own, in order of the ticks of their lines.
    pub fn sounds(&self) -> &[PlannedSound] {
        &self.sounds
    }

    /// Every beat of the count-in, every beat, and every tick between beats at which something happens; in order.
    pub fn moments(&self) -> &[Moment] {
        &self.moments
    }

    /// Beats in a bar.
    pub fn beats_per_bar(&self) -> u32 {
        self.beats_per_bar
    }

    /// From the first beat of the range to its end.
    pub fn length(&self) -> Ticks {
        self.phrases.last().map_or(Ticks::ZERO, |phrase| phrase.at + phrase.length)
    }

    /// From the first beat of the range to its end.
    pub fn duration(&self) -> Micros {
        self.tempo.time_of(self.length())
    }

    /// What is dealt out to moments.
    fn laid(&self) -> Laid<'_> {
        let Plan { phrases, moves, walks, sounds, beats_per_bar, .. } = self;
        Laid { phrases, moves, walks, sounds, beats_per_bar: *beats_per_bar }
    }

    pub(super) fn moves_of(&self, fighter: FighterId) -> &[usize] {
        self.involved.get(fighter.0).map_or(&[], Vec::as_slice)
    }

    pub(super) fn walks_of(&self, person: Person) -> &[usize] {
        self.walks_of.get(&person).map_or(&[], Vec::as_slice)
    }

    fn add_phrase(&mut self, index: usize, phrase: &Phrase, speed: Speed) {
        let (at, length) = (self.length(), phrase_length(phrase));
        let phrase_in_range = self.phrases.len();
        let name = phrase.name.clone();
        self.phrases.push(PlannedPhrase {
            phrase: index,
            name,
            at,
            skipped: Ticks::ZERO,
            length,
            time: Micros::ZERO,
            speed,
        });
        let mut number = 0;
        for unrolled in unroll(phrase) {
            self.add_line(phrase_in_range, at, &unrolled, &mut number);
        }
    }

    fn add_line(&mut self, phrase_in_range: usize, start: Ticks, unrolled: &Unrolled<'_>, number: &mut u32) {
        let at = start + unrolled.at;
        match unrolled.line {
            Line::Move(written) => {
                *number += 1;
                self.add_move((phrase_in_range, *number), at, unrolled, written);
            }
            Line::Walk(walk) => self.walks.push(PlannedWalk {
                phrase_in_range,
                at,
                time: Micros::ZERO,
                until: start + unrolled.offset + walk.until,
                until_time: Micros::ZERO,
                who: walk.who,
                course: walk.course,
                used: unrolled.used.cloned(),
                span: walk.span.clone(),
            }),
            Line::Place(place) => self.places.push(PlannedPlace {
                phrase_in_range,
                who: place.who,
                point: place.point,
                facing: place.facing,
                span: place.span.clone(),
            }),
            Line::Sound(lone) => self.add_sounds(phrase_in_range, at, &lone.sounds, None, lone.text.as_ref()),
            Line::Tempo(_) => {}
        }
    }

    fn add_move(&mut self, place: (usize, u32), at: Ticks, unrolled: &Unrolled<'_>, written: &Move) {
        let (phrase_in_range, number) = place;
        let index = self.moves.len();
        let answer = written.answer.as_ref();
        let people = [Some(written.who), answer.map(|answer| answer.who).filter(|&who| who != written.who)];
        for person in people.into_iter().flatten() {
            if let Some(list) = self.involved.get_mut(person.0) {
                list.push(index);
            }
        }
        self.moves.push(PlannedMove {
            phrase_in_range,
            number,
            at,
            time: Micros::ZERO,
            beat: unrolled.at,
            who: written.who,
            action: words::action_for(written, &self.names),
            action_word: written.action.clone(),
            target: written.target.clone(),
            side: written.side,
            manner: written.manner.clone(),
            to: answer.map(|answer| answer.who),
            reply: answer.map(words::reply),
            reply_word: answer.map(|answer| answer.reply.clone()),
            reply_arg: answer.and_then(|answer| answer.arg.clone()),
            reply_side: answer.and_then(|answer| answer.side),
            reply_with: answer.and_then(|answer| answer.with.clone()),
            sounds: written.sounds.clone(),
            text: written.text.clone(),
            used: unrolled.used.cloned(),
            span: written.span.clone(),
        });
        if let Some(cue) = &written.sounds {
            self.add_sounds(phrase_in_range, at, cue, Some(index), None);
        }
    }

    fn add_sounds(
        &mut self,
        phrase_in_range: usize,
        at: Ticks,
        cue: &SoundCue,
        by_move: Option<usize>,
        text: Option<&String>,
    ) {
        self.sounds.extend(cue.names.iter().map(|name| PlannedSound {
            phrase_in_range,
            at,
            time: Micros::ZERO,
            name: name.clone(),
            level: cue.level,
            trim: cue.trim,
            by_move,
            text: text.cloned(),
            span: cue.span.clone(),
        }));
    }

    /// Leaves out what lies before a move of the first phrase.
    fn begin_at(&mut self, number: u32) {
        let begins = |it: &&PlannedMove| it.phrase_in_range == 0 && it.number == number;
        let Some(first) = self.moves.iter().find(begins).map(|it| it.at) else { return };
        let beat = Ticks(first.0 - first.0.rem_euclid(TICKS_PER_BEAT));
        let before = self.moves.partition_point(|it| it.at < first);
        self.moves.drain(..before);
        self.walks.retain(|it| it.at >= first);
        self.places.retain(|it| it.phrase_in_range > 0);
        self.sounds.retain(|it| it.at >= first);
        self.sounds.iter_mut().for_each(|it| it.by_move = it.by_move.map(|index| index - before));
        for list in &mut self.involved {
            list.retain(|&index| index >= before);
            list.iter_mut().for_each(|index| *index -= before);
        }
        self.moves.iter_mut().for_each(|it| it.at = it.at - beat);
        self.sounds.iter_mut().for_each(|it| it.at = it.at - beat);
        for walk in &mut self.walks {
            (walk.at, walk.until) = (walk.at - beat, walk.until - beat);
        }
        for phrase in self.phrases.iter_mut().skip(1) {
            phrase.at = phrase.at - beat;
        }
        if let Some(phrase) = self.phrases.first_mut() {
            (phrase.skipped, phrase.length) = (beat, phrase.length - beat);
        }
        if let Some(pieces) = self.pieces.first_mut() {
            *pieces = pieces_after(pieces, beat);
        }
    }

    /// Makes the tempo map anew and reads every time from it. Pieces are summed in order from the first beat, so a
    /// change of speed cannot touch what lies before it.
    fn time_everything(&mut self) {
        let pieces = self.phrases.iter().zip(&self.pieces);
        let at_speed = pieces.flat_map(|(phrase, pieces)| pieces.iter().map(|&piece| (piece, phrase.speed)));
        let tempo = TempoMap::new(at_speed, (self.before, Speed::FULL));
        self.phrases.iter_mut().for_each(|phrase| phrase.time = tempo.time_of(phrase.at));
        self.moves.iter_mut().for_each(|planned| planned.time = tempo.time_of(planned.at));
        self.moments.iter_mut().for_each(|moment| moment.time = tempo.time_of(moment.at));
        self.sounds.iter_mut().for_each(|sound| sound.time = tempo.time_of(sound.at) + sound.trim);
        for walk in &mut self.walks {
            walk.time = tempo.time_of(walk.at);
            walk.until_time = tempo.time_of(walk.until);
        }
        self.tempo = tempo;
    }
}
