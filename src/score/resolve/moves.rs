//! Moves: the words of both halves against the vocabulary, and the sounds they make.

use super::Resolver;
use super::repeats::Levels;
use crate::score::line::shown;
use crate::score::model::{Answer, FighterId, Item, Move, Side, SoundCue, Span};
use crate::score::problem::Problem;
use crate::score::raw::{Located, RawHalf, RawMove, RawSounds, Text};
use crate::score::suggest::{any_of, did_you_mean};
use crate::score::vocabulary::{Action, ReplyArgument};
use crate::units::{Decibels, Micros};

impl Resolver<'_> {
    pub(super) fn r#move(&mut self, levels: &Levels, raw: &RawMove, span: &Span) -> Option<Item> {
        let at = levels.place(&raw.at, self.problems);
        let who = self.people.acting(&raw.action.who, self.problems);
        let action_is_sound = self.action(&raw.action);
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
            answer,
            sounds,
            text: raw.text.as_ref().map(|text| text.value.clone()),
            span: span.clone(),
        };
        action_is_sound.then_some(Item::Move(item))
    }

    /// Reports everything wrong with the action's words. True when nothing is.
    fn action(&mut self, half: &RawHalf) -> bool {
        let vocabulary = self.vocabulary;
        let before = self.problems.errors();
        let word = &half.word;
        match (vocabulary.actions.get(&word.value), &half.arg) {
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
        if targets.contains_key(&word.value) {
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
        if !self.target(target) || action.targets.contains(&target.value) {
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
        let sided = of.is_some_and(|target| self.vocabulary.targets.get(&target.value).is_none_or(|row| row.sided));
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

    fn answer(&mut self, half: &RawHalf) -> Option<Answer> {
        let who = self.people.acting(&half.who, self.problems);
        let vocabulary = self.vocabulary;
        let Some(reply) = vocabulary.replies.get(&half.word.value) else {
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
        let numbers = any_of(vocabulary.parries.keys().map(String::as_str));
        let Some(arg) = &half.arg else {
            let message = format!("`{}` needs the number of a parry", shown(&half.word.value));
            self.problems
                .push(Problem::error("S215", half.word.span.clone(), message).help(format!("write {numbers}")));
            return None;
        };
        let Some((number, _)) = vocabulary.parry(&arg.value) else {
            let message = format!("there is no parry `{}`", shown(&arg.value));
            self.problems.push(
                Problem::error("S215", arg.span.clone(), message)
                    .expected(format!("expected {numbers}"))
                    .help_if(did_you_mean(&arg.value, vocabulary.parry_words().filter(|word| word.len() > 1))),
            );
            return None;
        };
        Some(answer(half, who?, Some(number.to_owned())))
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
        Some(SoundCue {
            names: cues.iter().flat_map(|cue| cue.names.iter().map(|name| name.value.clone())).collect(),
            trim: Micros::millis(trim(first)),
            level: Decibels(level(first)),
            span: first.span.start..last.span.end,
        })
    }
}

fn answer(half: &RawHalf, who: FighterId, arg: Option<String>) -> Answer {
    Answer {
        who,
        reply: half.word.value.clone(),
        arg,
        side: half.side.as_ref().map(|side| side.value),
        span: half.span.clone(),
    }
}
