//! The lines of a phrase: marks, walks, tempos, repeats, rests and sounds, each with its rules.

use std::collections::HashMap;

use super::repeats::{Levels, too_many};
use super::{MOST_UNROLLED, Resolver, tempo};
use crate::score::line::shown;
use crate::score::model::{
    Arc, Course, Facing, Item, LoneSound, Person, Phrase, Place, Point, Rest, Span, TempoChange, Walk,
};
use crate::score::problem::Problem;
use crate::score::quantity;
use crate::score::raw::{
    Broken, RawFacing, RawPhrase, RawPlace, RawPoint, RawSound, RawTempo, RawTempoWhen, RawUse, RawWalk, Statement,
    Text,
};
use crate::units::{Bpm, Metres, Ticks};

/// A phrase as its lines are read.
pub(super) struct PhraseBuilder {
    name: String,
    tempo: Option<Bpm>,
    span: Span,
    pub(super) levels: Levels,
    /// Who has a mark already, and where it is written.
    placed: HashMap<Person, Span>,
}

impl<'a> Resolver<'a> {
    /// Opens a phrase; `raw` is nothing when its line could not be understood.
    pub(super) fn open_phrase(&mut self, raw: Option<&RawPhrase>, span: &Span) {
        self.close_phrase();
        self.any_phrase = true;
        self.in_pattern = false;
        let tempo = raw.and_then(|raw| raw.tempo.as_ref()).and_then(|word| tempo::bpm(word, self.problems));
        if let Some(name) = raw.map(|raw| &raw.name) {
            match self.phrase_names.get(name.value.as_str()) {
                Some(first) => self.problems.push(
                    Problem::error(
                        "S206",
                        name.span.clone(),
                        format!("two phrases are called \"{}\"", shown(&name.value)),
                    )
                    .related(first.clone(), "first here")
                    .help("give this one another name"),
                ),
                None => {
                    self.phrase_names.insert(name.value.to_string(), name.span.clone());
                }
            }
        }
        self.phrase = Some(PhraseBuilder {
            name: raw.map_or(String::new(), |raw| raw.name.value.to_string()),
            tempo,
            span: span.clone(),
            levels: Levels::new(),
            placed: HashMap::new(),
        });
    }

    /// Finishes the phrase that is open, if one is.
    pub(super) fn close_phrase(&mut self) {
        let Some(builder) = self.phrase.take() else { return };
        let (items, unrolled) = builder.levels.finish();
        let phrase = Phrase { name: builder.name, tempo: builder.tempo, items, span: builder.span };
        let before = self.unrolled;
        self.unrolled = self.unrolled.saturating_add(unrolled);
        if before <= MOST_UNROLLED && self.unrolled > MOST_UNROLLED {
            self.problems.push(too_many(phrase.span.clone()));
        }
        if unrolled <= MOST_UNROLLED {
            tempo::contradictions(&phrase, self.problems);
        }
        self.phrases.push(phrase);
    }

    /// A line that can only stand in a phrase.
    pub(super) fn phrase_line(&mut self, statement: &Statement, span: &Span) {
        let Some(mut phrase) = self.phrase.take() else { return };
        self.line_in(&mut phrase, statement, span);
        self.phrase = Some(phrase);
    }

    /// A use of a pattern.
    pub(super) fn used(&mut self, raw: &'a RawUse, span: &Span) {
        let Some(mut phrase) = self.phrase.take() else { return };
        if !phrase.levels.ignoring() {
            self.use_pattern(&mut phrase, raw, span);
        }
        self.phrase = Some(phrase);
    }

    /// A line of a phrase, or of a pattern that is used in it.
    pub(super) fn line_in(&mut self, phrase: &mut PhraseBuilder, statement: &Statement, span: &Span) {
        match statement {
            Statement::Repeat(raw) => phrase.levels.open(Some(raw), span, self.problems),
            Statement::Broken(Broken::Repeat) => phrase.levels.open(None, span, self.problems),
            Statement::End => phrase.levels.end(self.problems),
            _ if phrase.levels.ignoring() => {}
            other => {
                if let Some(item) = self.item(phrase, other, span) {
                    phrase.levels.push(item);
                }
            }
        }
    }

    fn item(&mut self, phrase: &mut PhraseBuilder, statement: &Statement, span: &Span) -> Option<Item> {
        match statement {
            Statement::Move(raw) => self.r#move(&phrase.levels, raw, span),
            Statement::Walk(raw) => self.walk(&phrase.levels, raw, span),
            Statement::Place(raw) => self.place(phrase, raw, span),
            Statement::Tempo(raw) => self.tempo_change(&phrase.levels, raw, span).map(Item::Tempo),
            Statement::Rest(length) => self.rest(&phrase.levels, length, span),
            Statement::Sound(raw) => self.lone_sound(&phrase.levels, raw, span),
            _ => None,
        }
    }

    fn walk(&mut self, levels: &Levels, raw: &RawWalk, span: &Span) -> Option<Item> {
        let who = self.people.person(&raw.who, self.problems);
        let at = levels.place(&raw.at, self.problems);
        let until = levels.place_of_end(&raw.by, self.problems);
        let (at, until) = self.rising(at?, until?, &raw.by, "the walk")?;
        let course = self.course(raw)?;
        Some(Item::Walk(Walk { at, who: who?, course, until, span: span.clone() }))
    }

    fn course(&mut self, raw: &RawWalk) -> Option<Course> {
        let to = point(&raw.to);
        let around = raw
            .around
            .as_ref()
            .map(|arc| Arc { centre: point(&arc.centre), way: arc.way.as_ref().map(|way| way.value) });
        if let (Some(written), Some(arc)) = (&raw.around, around)
            && (arc.centre == to || raw.further && arc.centre == Point::default())
        {
            let at = written.centre.x.span.start..written.centre.y.span.end;
            let problem = Problem::error("S318", at, "somebody on this circle stands in its middle");
            self.problems.push(problem.help("write the point that they go around, some way off"));
            return None;
        }
        Some(Course { to, further: raw.further, around })
    }

    fn rising(&mut self, from: Ticks, to: Ticks, end: &Text, what: &str) -> Option<(Ticks, Ticks)> {
        if to > from {
            return Some((from, to));
        }
        let message = format!("{what} must end after it begins, at beat {}", from.beat_label());
        let help = "both beats count from the first beat of the phrase or repeat";
        self.problems.push(Problem::error("S303", end.span.clone(), message).help(help));
        None
    }

    fn place(&mut self, phrase: &mut PhraseBuilder, raw: &RawPlace, span: &Span) -> Option<Item> {
        if phrase.levels.in_repeat() {
            let problem = Problem::error("S309", span.clone(), "a place cannot stand in a repeat");
            self.problems.push(
                problem.help("a place is where somebody stands when the phrase begins; inside a repeat use walk"),
            );
        }
        let who = self.people.person(&raw.who, self.problems);
        let facing = raw.facing.as_ref().map(|facing| self.facing(who, facing));
        let who = who?;
        if let Some(first) = phrase.placed.insert(who, span.clone()) {
            let message = format!("{} has two places at the beginning of this phrase", shown(&raw.who.value));
            self.problems.push(
                Problem::error("S218", raw.who.span.clone(), message)
                    .related(first, "first here")
                    .help("keep one; on the way use walk"),
            );
        }
        let facing = match facing {
            Some(facing) => Some(facing?),
            None => None,
        };
        Some(Item::Place(Place { who, point: point(&raw.point), facing, span: span.clone() }))
    }

    fn facing(&mut self, who: Option<Person>, raw: &RawFacing) -> Option<Facing> {
        match raw {
            RawFacing::Degrees(degrees) => Some(Facing::Degrees(degrees.value.0)),
            RawFacing::Person(name) => {
                let other = self.people.person(name, self.problems)?;
                if who == Some(other) {
                    let message = format!("{} cannot face themselves", shown(&name.value));
                    self.problems.push(
                        Problem::error("S217", name.span.clone(), message).help("name somebody else, or degrees"),
                    );
                    return None;
                }
                Some(Facing::Person(other))
            }
        }
    }

    fn tempo_change(&mut self, levels: &Levels, raw: &RawTempo, span: &Span) -> Option<TempoChange> {
        let first = tempo::bpm(&raw.value, self.problems);
        match &raw.when {
            RawTempoWhen::Start => Some(TempoChange::Step { at: Ticks::ZERO, to: first?, span: span.clone() }),
            RawTempoWhen::At(beat) => {
                let at = levels.place(beat, self.problems);
                Some(TempoChange::Step { at: at?, to: first?, span: span.clone() })
            }
            RawTempoWhen::Ramp { end, from, to } => {
                let last = tempo::bpm(end, self.problems);
                let begins = levels.place(from, self.problems);
                let ends = levels.place_of_end(to, self.problems);
                let (from, to) = self.rising(begins?, ends?, to, "the change of tempo")?;
                Some(TempoChange::Ramp { from, to, start: first?, end: last?, span: span.clone() })
            }
        }
    }

    fn rest(&mut self, levels: &Levels, length: &Text, span: &Span) -> Option<Item> {
        if levels.in_repeat() {
            let problem = Problem::error("S308", span.clone(), "a rest cannot stand in a repeat");
            self.problems.push(problem.help("make the rounds longer with `every`, or rest after the `end`"));
            return None;
        }
        let Some(length) = quantity::beats(&length.value).ok().filter(|length| *length > Ticks::ZERO) else {
            let problem = Problem::error("S307", length.span.clone(), "a rest must be longer than nothing");
            self.problems.push(problem.help("write how many beats it lasts, or delete it"));
            return None;
        };
        Some(Item::Rest(Rest { length, span: span.clone() }))
    }

    fn lone_sound(&mut self, levels: &Levels, raw: &RawSound, span: &Span) -> Option<Item> {
        let at = levels.place(&raw.at, self.problems);
        let sounds = self.sounds(&raw.sounds);
        let text = raw.text.as_ref().map(|text| text.value.to_string());
        Some(Item::Sound(LoneSound { at: at?, sounds: sounds?, text, span: span.clone() }))
    }
}

fn point(raw: &RawPoint) -> Point {
    Point { x: Metres(raw.x.value.0), y: Metres(raw.y.value.0) }
}
