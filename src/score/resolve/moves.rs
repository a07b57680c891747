//! Moves: the words of both halves against the vocabulary, and the sounds they make.

use super::Resolver;
use super::repeats::Levels;
use crate::score::line::shown;
use crate::score::model::{Answer, FREE_HAND, FighterId, Item, Manner, Move, Side, SoundCue, Span, Word};
use crate::score::problem::Problem;
use crate::score::raw::{Located, RawHalf, RawManner, RawMove, RawSounds, Text};
use crate::score::vocabulary::{Action, ReplyArgument};
use crate::suggest::{any_of, did_you_mean};
use crate::units::{Decibels, Micros};

impl Resolver<'_> {
    pub(super) fn r#move(&mut self, levels: &Levels, raw: &RawMove, span: &Span) -> Option<Item> {
        let at = levels.place(&raw.at, self.problems);
        let who = self.people.acting(&raw.action.who, self.problems);
        let action_is_sound = self.action(&raw.action);
        let manner = self.manner(raw.action.manner(), raw.reply.is_some());
        let answer = raw.reply.as_ref().map(|reply| self.answer(reply));
        let sounds = if raw.sounds.is_empty() { None } else { Some(self.sounds(&raw.sounds)?) };
        // `?` on the inside: a reply that was written but is wrong spoils the move.
        let answer = match answer {
            Some(answer) => Some(answer?),
            None => None,
        };
        let item = Move {
            at: at?,
            who: who?,
            action: raw.action.word.value.clone(),
            target: raw.action.arg.as_ref().map(|target| target.value.clone()),
            side: raw.action.side.as_ref().map(|side| side.value),
            manner: manner?,
            answer,
            sounds,
            text: raw.text.as_ref().map(|text| text.value.to_string()),
            span: span.clone(),
        };
        action_is_sound.then_some(Item::Move(item))
    }

    /// Reports everything wrong with the action's words. True when nothing is.
    fn action(&mut self, half: &RawHalf) -> bool {
        let vocabulary = self.vocabulary;
        let before = self.problems.errors();
        let word = &half.word;
        match (vocabulary.actions.get(word.value.as_str()), &half.arg) {
            (None, target) => {
                self.unknown_action(word);
                if let Some(target) = target {
                    self.target(target);
                }
            }
            (Some(action), Some(target)) => self.aimed(word, action, target),
            (Some(action), None) if action.target_needed => {
                let message = format!("`{}` needs a target", shown(&word.value));
                let targets = any_of(action.targets.iter().map(String::as_str));
                let problem = Problem::error("S213", word.span.clone(), message).expected("expected a target after it");
                self.problems.push(problem.help(format!("write {targets}")));
            }
            (Some(_), None) => {}
        }
        if let Some(side) = &half.side {
            self.side(side, half.arg.as_ref());
        }
        self.problems.errors() == before
    }

    fn unknown_action(&mut self, word: &Text) {
        let message = format!("`{}` is not an action of the vocabulary", shown(&word.value));
        let near = did_you_mean(&word.value, self.vocabulary.actions.keys().map(String::as_str));
        self.problems.push(
            Problem::error("S210", word.span.clone(), message)
                .expected("expected an action")
                .help("add it to the production's vocabulary, or use one of its actions")
                .help_if(near),
        );
    }

    /// Reports a word that is no target. True when it is one.
    fn target(&mut self, word: &Text) -> bool {
        let targets = &self.vocabulary.targets;
        if targets.contains_key(word.value.as_str()) {
            return true;
        }
        let message = format!("`{}` is not a target of the vocabulary", shown(&word.value));
        self.problems.push(
            Problem::error("S211", word.span.clone(), message)
                .expected("expected a target")
                .help("add it to the production's vocabulary, or use one of its targets")
                .help_if(did_you_mean(&word.value, targets.keys().map(String::as_str))),
        );
        false
    }

    fn aimed(&mut self, word: &Text, action: &Action, target: &Text) {
        let weapon =
            action.names_weapon && self.vocabulary.weapons.get(target.value.as_str()).is_some_and(|row| row.armed);
        if weapon || !self.target(target) || action.targets.iter().any(|known| *known == target.value) {
            return;
        }
        let allowed = action.targets.iter().map(String::as_str);
        let message = format!("`{}` cannot go to `{}`", shown(&word.value), shown(&target.value));
        let help = if action.targets.is_empty() {
            format!("`{}` takes no target", word.value)
        } else {
            format!("it can go to {}", any_of(allowed))
        };
        self.problems.push(Problem::error("S212", target.span.clone(), message).help(help));
    }

    fn side(&mut self, side: &Located<Side>, of: Option<&Text>) {
        let sided =
            of.is_some_and(|target| self.vocabulary.targets.get(target.value.as_str()).is_none_or(|row| row.sided));
        if sided {
            return;
        }
        let message = match of {
            Some(target) => format!("`{}` has no left and right", shown(&target.value)),
            None => "a side needs a target before it".to_owned(),
        };
        self.problems.push(
            Problem::error("S216", side.span.clone(), message)
                .help("leave the side out, or name a target that has one"),
        );
    }

    /// How, with what and for whom; reports every word of it that is wrong.
    fn manner(&mut self, raw: &RawManner, answered: bool) -> Option<Manner> {
        let before = self.problems.errors();
        let with = raw.with.as_ref().map(|weapon| self.tool(weapon));
        let carried = raw.carried.as_ref().map(|(from, to)| (self.line_of(from), self.line_of(to)));
        let aimed = raw.aimed.as_ref().and_then(|name| {
            if answered {
                let message = "the reply says already whom this is meant for";
                self.problems.push(Problem::error("S222", name.span.clone(), message).help("delete `at` and the name"));
            }
            self.people.acting(name, self.problems)
        });
        let carried = match carried {
            Some((Some(from), Some(to))) => Some((from, to)),
            _ => None,
        };
        let touch = raw.touch.as_ref().map(|touch| touch.value);
        let sound = self.problems.errors() == before && aimed.is_some() == raw.aimed.is_some();
        let hidden = raw.hidden.as_ref().map(|hidden| hidden.value);
        sound.then(|| Manner { carried, touch, with: with.flatten(), aimed, hidden })
    }

    /// The weapon that something is done with, or the free hand.
    fn tool(&mut self, word: &Text) -> Option<Word> {
        let weapons = &self.vocabulary.weapons;
        if word.value == FREE_HAND || weapons.get(word.value.as_str()).is_some_and(|row| row.armed) {
            return Some(word.value.clone());
        }
        let message = format!("`{}` is not a weapon of the vocabulary", shown(&word.value));
        let near = did_you_mean(&word.value, weapons.keys().map(String::as_str).chain([FREE_HAND]));
        let problem = Problem::error("S220", word.span.clone(), message).expected("expected a weapon, or `hand`");
        self.problems.push(problem.help("write what it is done with: with dagger, with hand").help_if(near));
        None
    }

    /// A line by the number or name of the parry that closes it.
    fn line_of(&mut self, word: &Text) -> Option<Word> {
        let vocabulary = self.vocabulary;
        if let Some((number, _)) = vocabulary.parry(&word.value) {
            return Some(number.into());
        }
        let numbers = any_of(vocabulary.parries.keys().map(String::as_str));
        let message = format!("there is no parry `{}`", shown(&word.value));
        let problem = Problem::error("S221", word.span.clone(), message).expected(format!("expected {numbers}"));
        self.problems.push(problem.help("lines are named by their parries: bind from 4 to 8"));
        None
    }

    /// Whatever but `with` was written behind a reply.
    fn reply_manner(&mut self, manner: &RawManner) -> bool {
        let touch = manner.touch.as_ref().map(|touch| &touch.span);
        let touch = touch.or(manner.hidden.as_ref().map(|hidden| &hidden.span));
        let wrong = manner.carried.as_ref().map(|(from, _)| &from.span).or(touch);
        let Some(span) = wrong.or(manner.aimed.as_ref().map(|name| &name.span)) else { return true };
        let problem = Problem::error("S223", span.clone(), "this is said of an action, not of a reply");
        self.problems.push(problem.help("write it before the `/`, or delete it"));
        false
    }

    fn answer(&mut self, half: &RawHalf) -> Option<Answer> {
        let said = self.reply_manner(half.manner());
        let with = half.manner().with.as_ref().map(|weapon| self.tool(weapon));
        let answer = self.answer_words(half).filter(|_| said)?;
        match with {
            Some(None) => None,
            with => Some(Answer { with: with.flatten(), ..answer }),
        }
    }

    fn answer_words(&mut self, half: &RawHalf) -> Option<Answer> {
        let who = self.people.acting(&half.who, self.problems);
        let vocabulary = self.vocabulary;
        let Some(reply) = vocabulary.replies.get(half.word.value.as_str()) else {
            let message = format!("`{}` is not a reply of the vocabulary", shown(&half.word.value));
            self.problems.push(
                Problem::error("S214", half.word.span.clone(), message)
                    .expected("expected a reply")
                    .help("add it to the production's vocabulary, or use one of its replies")
                    .help_if(did_you_mean(&half.word.value, vocabulary.replies.keys().map(String::as_str))),
            );
            return None;
        };
        match reply.kind.argument() {
            ReplyArgument::None => self.plain_reply(half, who),
            ReplyArgument::Parry => self.parry(half, who),
            ReplyArgument::Target => self.take(half, who),
        }
    }

    fn plain_reply(&mut self, half: &RawHalf, who: Option<FighterId>) -> Option<Answer> {
        if let Some(arg) = &half.arg {
            let message = format!("`{}` is written alone", shown(&half.word.value));
            self.problems.push(Problem::error("S215", arg.span.clone(), message).help("delete this word"));
            return None;
        }
        Some(answer(half, who?, None))
    }

    fn parry(&mut self, half: &RawHalf, who: Option<FighterId>) -> Option<Answer> {
        let vocabulary = self.vocabulary;
        if let Some(side) = &half.side {
            let problem =
                Problem::error("S215", side.span.clone(), "a parry has no side: its number says what it closes");
            self.problems.push(problem.help("delete this word"));
            return None;
        }
        let numbers = || any_of(vocabulary.parries.keys().map(String::as_str));
        let Some(arg) = &half.arg else {
            let message = format!("`{}` needs the number of a parry", shown(&half.word.value));
            self.problems
                .push(Problem::error("S215", half.word.span.clone(), message).help(format!("write {}", numbers())));
            return None;
        };
        let Some((number, _)) = vocabulary.parry(&arg.value) else {
            let message = format!("there is no parry `{}`", shown(&arg.value));
            self.problems.push(
                Problem::error("S215", arg.span.clone(), message)
                    .expected(format!("expected {}", numbers()))
                    .help_if(did_you_mean(&arg.value, vocabulary.parry_words().filter(|word| word.len() > 1))),
            );
            return None;
        };
        Some(answer(half, who?, Some(number.into())))
    }

    fn take(&mut self, half: &RawHalf, who: Option<FighterId>) -> Option<Answer> {
        let Some(arg) = &half.arg else {
            let message = format!("`{}` needs the place that was hit", shown(&half.word.value));
            self.problems
                .push(Problem::error("S215", half.word.span.clone(), message).help("write for example: take side"));
            return None;
        };
        let before = self.problems.errors();
        if self.target(arg)
            && let Some(side) = &half.side
        {
            self.side(side, Some(arg));
        }
        if self.problems.errors() > before {
            return None;
        }
        Some(answer(half, who?, Some(arg.value.clone())))
    }

    /// One cue out of all those on a line: they start together, so they share a trim and a level.
    pub(super) fn sounds(&mut self, cues: &[RawSounds]) -> Option<SoundCue> {
        let (first, last) = (cues.first()?, cues.last()?);
        let trim = |cue: &RawSounds| cue.trim.as_ref().map_or(0, |trim| trim.value);
        let level = |cue: &RawSounds| cue.level.as_ref().map_or(0.0, |level| level.value.0);
        if let Some(other) = cues.iter().find(|cue| trim(cue) != trim(first) || level(cue) != level(first)) {
            let message = "the sounds of one line share their trim and level";
            self.problems.push(
                Problem::error("S114", other.span.clone(), message)
                    .related(first.span.clone(), "differs from this")
                    .help("write this one on a line of its own, with the same beat: 4 ! grunt +20ms"),
            );
            return None;
        }
        let mut names = Vec::with_capacity(cues.iter().map(|cue| cue.names.len()).sum());
        names.extend(cues.iter().flat_map(|cue| &cue.names).map(|name| name.value.clone()));
        Some(SoundCue {
            names,
            trim: Micros::millis(trim(first)),
            level: Decibels(level(first)),
            span: first.span.start..last.span.end,
        })
    }
}

fn answer(half: &RawHalf, who: FighterId, arg: Option<Word>) -> Answer {
    Answer {
        who,
        reply: half.word.value.clone(),
        arg,
        side: half.side.as_ref().map(|side| side.value),
        with: None,
        span: half.span.clone(),
    }
}
