//! The lines of a sheet, from the score as it is written: in order of beat, a repeat as a block.

use std::collections::BTreeMap;

use super::{SheetLine, SheetPhrase};
use crate::figure::{Drawn, Picture, View};
use crate::score::model::{FighterId, Item, Move, Person, Phrase, Place, Repeat, Score, SoundCue, Span, TempoChange};
use crate::score::position::Lines;
use crate::score::problem::{Problem, Severity};
use crate::score::vocabulary::Vocabulary;
use crate::score::words;
use crate::stage::{Beside, Passage};
use crate::timeline::Plan;
use crate::units::Ticks;

/// So many numbers of a move in a repeat are printed; then an ellipsis and the last.
const MOST_NUMBERS: usize = 6;

pub(super) struct Writer<'s> {
    score: &'s Score,
    vocabulary: &'s Vocabulary,
    plan: &'s Plan,
    /// Whose sheet it is.
    own: Option<Person>,
    positions: &'s Lines<'s>,
    /// Findings by the line of the text.
    findings: BTreeMap<usize, Vec<String>>,
    /// The numbers of every move, by where its line begins in the text.
    numbers: BTreeMap<usize, Vec<u32>>,
}

impl<'s> Writer<'s> {
    pub(super) fn new(
        (score, vocabulary): (&'s Score, &'s Vocabulary),
        plan: &'s Plan,
        own: Option<Person>,
        positions: &'s Lines<'s>,
        problems: &[&Problem],
    ) -> Writer<'s> {
        let mut findings: BTreeMap<usize, Vec<String>> = BTreeMap::new();
        for problem in problems {
            let line = positions.position(problem.span.start).line;
            findings.entry(line).or_default().push(said(problem));
        }
        let mut numbers: BTreeMap<usize, Vec<u32>> = BTreeMap::new();
        for planned in plan.moves() {
            numbers.entry(planned.span.start).or_default().push(planned.number);
        }
        Writer { score, vocabulary, plan, own, positions, findings, numbers }
    }

    /// What was found before the first phrase.
    pub(super) fn outside_phrases(&self) -> Vec<String> {
        let first = self.score.phrases.first().map_or(usize::MAX, |it| self.positions.position(it.span.start).line);
        self.findings.range(..first).flat_map(|(_, said)| said.clone()).collect()
    }

    pub(super) fn phrase(&self, at: usize, fastest: Option<String>) -> SheetPhrase {
        let blank = Phrase { name: String::new(), tempo: None, items: Vec::new(), span: 0..0 };
        let phrase = self.score.phrases.get(at).unwrap_or(&blank);
        let planned = self.plan.phrases().iter().find(|it| it.phrase == at);
        let length = planned.map_or_else(String::new, |it| {
            let seconds = (self.plan.tempo().time_of(it.at + it.length) - it.time).as_seconds();
            format!("{} beats, {seconds:.0} seconds at performance tempo", it.length.length_label())
        });
        let mut lines: Vec<SheetLine> =
            phrase.tempo.iter().map(|tempo| across("1", format!("tempo {tempo}"), 0)).collect();
        self.write(&phrase.items, 0, &mut lines);
        SheetPhrase {
            number: at + 1,
            name: phrase.name.clone(),
            length,
            places: phrase.items.iter().filter_map(|item| self.place(item)).collect(),
            plan: None,
            near: Vec::new(),
            lines,
            fastest,
            findings: self.found(&phrase.span),
        }
    }

    fn write(&self, items: &[Item], depth: usize, lines: &mut Vec<SheetLine>) {
        let mut sorted: Vec<&Item> = items.iter().collect();
        sorted.sort_by_key(|item| (stands(item, items), matches!(item, Item::Repeat(_))));
        let mut last_own: Option<Ticks> = None;
        for item in sorted {
            match item {
                Item::Move(it) => lines.extend(self.a_move(it, depth, &mut last_own)),
                Item::Repeat(it) => {
                    self.repeat(it, depth, lines);
                    last_own = self.last_own_in(it).or(last_own);
                }
                other => lines.extend(self.another(other, depth)),
            }
        }
    }

    /// A move; on one performer's sheet only when it is theirs.
    fn a_move(&self, it: &Move, depth: usize, last_own: &mut Option<Ticks>) -> Option<SheetLine> {
        let is_own = |who: FighterId| self.own == Some(Person::Fighter(who));
        let own = (is_own(it.who), it.answer.as_ref().is_some_and(|answer| is_own(answer.who)));
        if self.own.is_some() && own == (false, false) {
            return None;
        }
        let after = self.own.and(*last_own).map(|last| format!("+{}", (it.at - last).length_label()));
        *last_own = Some(it.at);
        let reply = it.answer.as_ref().map(|answer| format!("{} {}", self.fighter(answer.who), words::reply(answer)));
        Some(SheetLine {
            numbers: numbers(self.numbers.get(&it.span.start).map_or(&[][..], Vec::as_slice)),
            beat: it.at.beat_label(),
            attack: format!("{} {}", self.fighter(it.who), words::action(it)),
            reply: reply.unwrap_or_default(),
            depth,
            sounds: it.sounds.as_ref().map(sounds).unwrap_or_default(),
            text: it.text.clone().unwrap_or_default(),
            after,
            own,
            findings: self.found(&it.span),
            picture: self.picture(it, own),
            ..SheetLine::default()
        })
    }

    /// The picture of a move, small enough for a line.
    fn picture(&self, it: &Move, own: (bool, bool)) -> Option<String> {
        let view = match own {
            (true, _) => View::Doer,
            (_, true) => View::Partner,
            _ => View::Onlooker,
        };
        Some(Picture::of(self.vocabulary, &Drawn::of(self.score, it))?.small(view))
    }

    /// When the performer's last move in a repeat is, in the last of its rounds.
    fn last_own_in(&self, repeat: &Repeat) -> Option<Ticks> {
        let is_own = |who: FighterId| self.own == Some(Person::Fighter(who));
        let of = |item: &Item| match item {
            Item::Move(it) if is_own(it.who) || it.answer.as_ref().is_some_and(|it| is_own(it.who)) => Some(it.at),
            Item::Repeat(it) => self.last_own_in(it),
            _ => None,
        };
        let last_round = repeat.at + Ticks(repeat.every.0 * (i64::from(repeat.times) - 1));
        Some(last_round + repeat.items.iter().filter_map(of).max()?)
    }

    fn repeat(&self, it: &Repeat, depth: usize, lines: &mut Vec<SheetLine>) {
        let mut inside = Vec::new();
        self.write(&it.items, depth + 1, &mut inside);
        if inside.is_empty() {
            return;
        }
        let every = it.every.length_label();
        let rounds = if it.times == 1 && it.used.is_some() {
            "beats inside count from 1:".to_owned()
        } else {
            format!("{} times, every {every} beats (beats inside count from 1):", it.times)
        };
        let head = it.used.as_ref().map_or(rounds.clone(), |used| format!("{}; {rounds}", used.words));
        lines.push(SheetLine { findings: self.found(&it.span), ..across(&it.at.beat_label(), head, depth) });
        lines.extend(inside);
        let end = it.at + Ticks(it.every.0.saturating_mul(i64::from(it.times)));
        let end_of = if it.used.is_some() { "end of the pattern" } else { "end of the repeat" };
        lines.push(across(&end.beat_label(), end_of.to_owned(), depth));
    }

    /// Whatever is no move, across both columns.
    fn another(&self, item: &Item, depth: usize) -> Option<SheetLine> {
        let (beat, says, span) = match item {
            Item::Walk(it) => {
                if self.own.is_some_and(|own| it.who != own) {
                    return None;
                }
                let says = format!(
                    "{} walks {}, there by beat {}",
                    self.person(it.who),
                    words::course(&it.course, words::mark),
                    it.until.beat_label()
                );
                (it.at.beat_label(), says, &it.span)
            }
            Item::Tempo(TempoChange::Step { at, to, span }) => (at.beat_label(), format!("tempo {to}"), span),
            Item::Tempo(TempoChange::Ramp { from, to, start, end, span }) => {
                (from.beat_label(), format!("tempo {start} to {end}, reached at beat {}", to.beat_label()), span)
            }
            Item::Rest(it) => (String::new(), format!("rest {} beats", it.length.length_label()), &it.span),
            Item::Sound(it) => {
                let text = it.text.as_ref().map_or_else(String::new, |text| format!(" “{text}”"));
                (it.at.beat_label(), format!("sound: {}{text}", sounds(&it.sounds)), &it.span)
            }
            Item::Move(_) | Item::Repeat(_) | Item::Place(_) => return None,
        };
        Some(SheetLine { findings: self.found(span), ..across(&beat, says, depth) })
    }

    fn place(&self, item: &Item) -> Option<String> {
        let Item::Place(Place { who, point: at, facing, .. }) = item else { return None };
        let facing = words::facing(*facing, |other| self.person(other).to_owned());
        Some(format!("{} {}{facing}", self.person(*who), words::mark(*at)))
    }

    fn found(&self, span: &Span) -> Vec<String> {
        self.findings.get(&self.positions.position(span.start).line).cloned().unwrap_or_default()
    }

    fn fighter(&self, id: FighterId) -> &str {
        self.score.fighters.get(id.0).map_or("?", |it| it.name.as_str())
    }

    /// What passes near whoever only stands by in a phrase, counted from 0: of everybody, or on one's own sheet of oneself.
    pub(super) fn near(&self, passages: &[Passage], phrase: usize) -> Vec<String> {
        let told = |it: &&Passage| it.phrase == phrase && self.own.is_none_or(|own| own == Person::Bystander(it.who));
        let said = |it: &Passage| {
            let (who, by, beat) = (self.person(Person::Bystander(it.who)), self.person(it.by), it.at.beat_label());
            let side = match it.side {
                Beside::Front => "in front",
                Beside::Right => "on the right",
                Beside::Behind => "behind",
                Beside::Left => "on the left",
                Beside::Upstage => "upstage",
                Beside::StageLeft => "at stage left",
                Beside::Downstage => "downstage",
                Beside::StageRight => "at stage right",
            };
            match &it.action {
                Some(action) => format!("Beat {beat}: {by}'s {action} passes {:.1} m from {who}, {side}", it.gap),
                None => format!("Beat {beat}: {by} walks past {who}, {:.1} m away, {side}", it.gap),
            }
        };
        passages.iter().filter(told).map(said).collect()
    }

    pub(super) fn person(&self, person: Person) -> &str {
        match person {
            Person::Fighter(id) => self.fighter(id),
            Person::Bystander(id) => self.score.bystanders.get(id.0).map_or("?", |it| it.name.as_str()),
        }
    }
}

/// Where a line stands on the sheet: at its beat; a walk that begins while a repeat goes on stands before the repeat, for
/// whoever walks must have read it by then.
fn stands(item: &Item, all: &[Item]) -> Ticks {
    let at = begins(item);
    if !matches!(item, Item::Walk(_)) {
        return at;
    }
    let over = |it: &Repeat| it.at + Ticks(it.every.0.saturating_mul(i64::from(it.times)));
    let during = |it: &&Item| matches!(it, Item::Repeat(repeat) if repeat.at < at && at < over(repeat));
    all.iter().find(during).map_or(at, begins)
}

fn begins(item: &Item) -> Ticks {
    match item {
        Item::Move(it) => it.at,
        Item::Walk(it) => it.at,
        Item::Repeat(it) => it.at,
        Item::Sound(it) => it.at,
        Item::Tempo(TempoChange::Step { at, .. }) => *at,
        Item::Tempo(TempoChange::Ramp { from, .. }) => *from,
        Item::Place(_) => Ticks::ZERO,
        Item::Rest(_) => Ticks(i64::MAX),
    }
}

fn across(beat: &str, says: String, depth: usize) -> SheetLine {
    SheetLine { beat: beat.to_owned(), attack: says, across: true, depth, ..SheetLine::default() }
}

fn said(problem: &Problem) -> String {
    let kind = match problem.severity {
        Severity::Error => "Error",
        Severity::Warning => "Warning",
        Severity::Advice => "Advice",
    };
    format!("{kind} {}: {}.", problem.code, problem.message)
}

fn numbers(numbers: &[u32]) -> String {
    let said = |numbers: &[u32]| numbers.iter().map(u32::to_string).collect::<Vec<_>>().join(", ");
    match numbers.split_last() {
        Some((last, before)) if before.len() >= MOST_NUMBERS => {
            format!("{}, … {last}", said(before.get(..MOST_NUMBERS - 1).unwrap_or_default()))
        }
        _ => said(numbers),
    }
}

fn sounds(cue: &SoundCue) -> String {
    let mut said = cue.names.join(" + ");
    if cue.trim.0 != 0 {
        said.push_str(&format!(" {:+.0} ms", cue.trim.as_millis()));
    }
    if cue.level.0 != 0.0 {
        said.push_str(&format!(" {:+} dB", cue.level.0));
    }
    said
}
