//! A line of a pattern into the line that a use of it means: people for roles, words for parameters, the other side, the
//! other height, another place on the floor. Pure: what comes out is a line as if somebody had written it there.

use std::collections::HashMap;

use crate::score::model::{Hand, Side};
use crate::score::problem::Problem;
use crate::score::raw::{Located, RawHalf, RawMove, RawPoint, RawSounds, Statement, Text};
use crate::score::vocabulary::{ReplyArgument, Vocabulary};
use crate::suggest::any_of;

/// How a use does a pattern.
pub(super) struct Shape<'a> {
    /// Whoever does each role.
    pub(super) people: HashMap<&'a str, &'a str>,
    /// The word for each parameter.
    pub(super) words: HashMap<&'a str, &'a str>,
    pub(super) mirrored: bool,
    pub(super) other_height: bool,
    pub(super) floor: Floor,
}

/// Where a round of a pattern lies on the stage.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Floor {
    /// Metres that the round has advanced, on the pattern's own floor.
    pub(super) advanced: (f64, f64),
    /// Degrees that the round has turned about the pattern's own 0,0; with the clock as seen from above.
    pub(super) round_turned: f64,
    /// Left and right exchanged.
    pub(super) mirrored: bool,
    /// Degrees that all of it is turned.
    pub(super) turned: f64,
    /// Where the pattern's own 0,0 lies.
    pub(super) about: (f64, f64),
}

impl Floor {
    /// A mark of the pattern on the stage, in metres, to the micrometre.
    fn point(&self, (x, y): (f64, f64)) -> (f64, f64) {
        let (x, y) = rotated((x, y), self.round_turned);
        let (x, y) = self.laid((x + self.advanced.0, y + self.advanced.1));
        (fine(x + self.about.0), fine(y + self.about.1))
    }

    /// The same for a way between two marks.
    fn distance(&self, way: (f64, f64)) -> (f64, f64) {
        let (x, y) = self.laid(rotated(way, self.round_turned));
        (fine(x), fine(y))
    }

    fn laid(&self, (x, y): (f64, f64)) -> (f64, f64) {
        rotated((if self.mirrored { -x } else { x }, y), self.turned)
    }
}

/// To the micrometre; never a negative nothing.
fn fine(metres: f64) -> f64 {
    (metres * 1e6).round() / 1e6 + 0.0
}

/// A point turned about 0,0 with the clock: 90 degrees bring upstage to audience right. Quarters are exact.
fn rotated((x, y): (f64, f64), degrees: f64) -> (f64, f64) {
    let quarter = degrees.rem_euclid(360.0);
    let (sin, cos) = match quarter {
        0.0 => (0.0, 1.0),
        90.0 => (1.0, 0.0),
        180.0 => (0.0, -1.0),
        270.0 => (-1.0, 0.0),
        degrees => degrees.to_radians().sin_cos(),
    };
    (x * cos + y * sin, y * cos - x * sin)
}

impl Shape<'_> {
    /// The line that is meant.
    ///
    /// # Errors
    /// The problem, at its place in the pattern: a name that is no role, a word that has no other side or height.
    pub(super) fn line(&self, statement: &Statement) -> Result<Statement, Box<Problem>> {
        let mut line = statement.clone();
        match &mut line {
            Statement::Move(it) => self.r#move(it)?,
            Statement::Walk(it) => {
                self.name(&mut it.who)?;
                self.place(&mut it.to, it.further);
                if let Some(arc) = &mut it.around {
                    self.place(&mut arc.centre, it.further);
                    if let Some(way) = arc.way.as_mut().filter(|_| self.mirrored) {
                        way.value = way.value.mirrored();
                    }
                }
            }
            Statement::Sound(it) => it.sounds.iter_mut().for_each(|cue| self.sounds(cue)),
            _ => {}
        }
        Ok(line)
    }

    fn name(&self, name: &mut Text) -> Result<(), Box<Problem>> {
        self.is_role(name)?;
        if let Some(person) = self.people.get(name.value.as_str()) {
            name.value = (*person).into();
        }
        Ok(())
    }

    /// Whether a name in a pattern is one of its roles.
    ///
    /// # Errors
    /// It is none.
    pub(super) fn is_role(&self, name: &Text) -> Result<(), Box<Problem>> {
        if self.people.contains_key(name.value.as_str()) {
            return Ok(());
        }
        let mut roles: Vec<&str> = self.people.keys().copied().collect();
        roles.sort_unstable();
        let message = format!("`{}` is not a role of this pattern", name.value);
        let problem = Problem::error("S227", name.span.clone(), message);
        Err(Box::new(problem.help(format!("write {}, or name it in the pattern's first line", any_of(roles)))))
    }

    fn word(&self, word: &mut Text) {
        if let Some(chosen) = self.words.get(word.value.as_str()) {
            word.value = (*chosen).into();
        }
    }

    fn sounds(&self, cue: &mut RawSounds) {
        cue.names.iter_mut().for_each(|name| self.word(name));
    }

    /// A mark on the stage, or so much further than where somebody stands.
    fn place(&self, point: &mut RawPoint, further: bool) {
        let written = (point.x.value.0, point.y.value.0);
        let (x, y) = if further { self.floor.distance(written) } else { self.floor.point(written) };
        point.x.value = (x, x.to_string());
        point.y.value = (y, y.to_string());
    }

    fn r#move(&self, it: &mut RawMove) -> Result<(), Box<Problem>> {
        it.sounds.iter_mut().for_each(|cue| self.sounds(cue));
        self.people_and_words(&mut it.action)?;
        it.reply.as_mut().map_or(Ok(()), |reply| self.people_and_words(reply))
    }

    fn people_and_words(&self, half: &mut RawHalf) -> Result<(), Box<Problem>> {
        self.name(&mut half.who)?;
        self.word(&mut half.word);
        half.arg.iter_mut().for_each(|word| self.word(word));
        let Some(manner) = &mut half.manner else { return Ok(()) };
        manner.with.iter_mut().for_each(|word| self.word(word));
        manner.aimed.as_mut().map_or(Ok(()), |name| self.name(name))
    }
}

/// The other side and the other height of a move, for whoever does it in the end.
pub(super) struct Turned<'a> {
    pub(super) vocabulary: &'a Vocabulary,
    /// The weapon hand of everybody by name.
    pub(super) hand: &'a dyn Fn(&str) -> Hand,
}

impl Turned<'_> {
    /// A line done at the other side, at the other height, or both.
    ///
    /// # Errors
    /// The problem, at its place in the pattern: a word that has no other side or height.
    pub(super) fn line(&self, line: &mut Statement, mirrored: bool, other_height: bool) -> Result<(), Box<Problem>> {
        let Statement::Move(it) = line else { return Ok(()) };
        if mirrored {
            self.mirror(it)?;
        }
        if other_height { self.change_height(it) } else { Ok(()) }
    }

    /// Left and right exchanged. A left-hander is the mirror of a right-hander: where a parry closes only now, it stays. A
    /// parry becomes the one across the body, unless the attack is the same on both sides and
    /// only one of the two closes it: the head is covered with the same parry in a mirror.
    fn mirror(&self, it: &mut RawMove) -> Result<(), Box<Problem>> {
        let left_hander = it.reply.as_ref().is_some_and(|reply| (self.hand)(&reply.who.value) == Hand::Left);
        let written_for_the_other = left_hander && !self.closes(it);
        let stays = self.is_closed_by_one_alone(it);
        flip(&mut it.action.side);
        let hidden = it.action.manner.iter_mut().flat_map(|manner| &mut manner.hidden);
        hidden.for_each(|hidden| hidden.value = hidden.value.mirrored());
        let stays = stays || written_for_the_other && self.closes(it);
        self.carry(&mut it.action, |number| self.vocabulary.mirrored_parry(number), "across the body")?;
        let Some(reply) = &mut it.reply else { return Ok(()) };
        flip(&mut reply.side);
        match self.parry_of(reply) {
            Some(number) if !stays => {
                let other = self.vocabulary.mirrored_parry(&number);
                replace(&mut reply.arg, &number, other, "across the body")
            }
            _ => Ok(()),
        }
    }

    /// Whether the parry closes the attack, for the hand of the one who does it.
    fn closes(&self, it: &RawMove) -> bool {
        let vocabulary = self.vocabulary;
        let Some(reply) = &it.reply else { return false };
        let target = it.action.arg.as_ref().and_then(|target| vocabulary.targets.get(target.value.as_str()));
        let parry = self.parry_of(reply).and_then(|number| vocabulary.parries.get(&number));
        let (Some(target), Some(parry)) = (target, parry) else { return false };
        let straight = vocabulary.actions.get(it.action.word.value.as_str()).is_some_and(|action| action.straight);
        let side = it.action.side.as_ref().map(|side| side.value);
        parry.closes_any(&target.lines_of(side, (self.hand)(&reply.who.value), straight))
    }

    fn is_closed_by_one_alone(&self, it: &RawMove) -> bool {
        let vocabulary = self.vocabulary;
        let target = it.action.arg.as_ref().and_then(|target| vocabulary.targets.get(target.value.as_str()));
        let number = it.reply.as_ref().and_then(|reply| self.parry_of(reply));
        let (Some(target), Some(number)) = (target.filter(|target| !target.sided), number) else { return false };
        let straight = vocabulary.actions.get(it.action.word.value.as_str()).is_some_and(|action| action.straight);
        // A target without sides comes in alike on both hands.
        let lines = target.lines_of(None, Hand::Right, straight);
        let closes = |number: &str| vocabulary.parries.get(number).is_some_and(|parry| parry.closes_any(&lines));
        closes(&number) != vocabulary.mirrored_parry(&number).is_some_and(closes)
    }

    /// High and low exchanged, where the vocabulary knows the place at the other height.
    fn change_height(&self, it: &mut RawMove) -> Result<(), Box<Problem>> {
        let vocabulary = self.vocabulary;
        let what = "at the other height";
        let mut lies_in_both = false;
        if let Some(target) = &mut it.action.arg
            && let Some(row) = vocabulary.targets.get(target.value.as_str())
        {
            lies_in_both = row.heights.len() > 1 && row.other_height.is_none();
            if !lies_in_both {
                let before = target.value.clone();
                replace(&mut it.action.arg, &before, row.other_height.as_deref(), what)?;
            }
        }
        self.carry(&mut it.action, |number| vocabulary.parry_at_other_height(number), what)?;
        let Some(reply) = &mut it.reply else { return Ok(()) };
        if let Some(number) = self.parry_of(reply) {
            return replace(&mut reply.arg, &number, vocabulary.parry_at_other_height(&number), what);
        }
        let Some(row) = vocabulary.replies.get(reply.word.value.as_str()) else { return Ok(()) };
        if let Some(other) = &row.other_height {
            reply.word.value = other.into();
        }
        if row.kind.argument() == ReplyArgument::Target
            && let Some(place) = reply.arg.as_ref().map(|place| place.value.clone())
            && !lies_in_both
        {
            let other = vocabulary.targets.get(place.as_str()).and_then(|row| row.other_height.as_deref());
            return replace(&mut reply.arg, &place, other, what);
        }
        Ok(())
    }

    /// The number of the parry that a reply is.
    fn parry_of(&self, reply: &RawHalf) -> Option<String> {
        let kind = self.vocabulary.replies.get(reply.word.value.as_str())?.kind;
        let word = reply.arg.as_ref().filter(|_| kind.argument() == ReplyArgument::Parry)?;
        Some(self.vocabulary.parry(&word.value)?.0.to_owned())
    }

    /// Both lines of a bind.
    fn carry<'v>(
        &'v self,
        half: &mut RawHalf,
        other: impl Fn(&str) -> Option<&'v str>,
        what: &str,
    ) -> Result<(), Box<Problem>> {
        let Some(manner) = &mut half.manner else { return Ok(()) };
        let Some((from, to)) = manner.carried.take() else { return Ok(()) };
        let change = |word: Text| -> Result<Text, Box<Problem>> {
            let number = self.vocabulary.parry(&word.value).map(|(number, _)| number.to_owned());
            let Some(number) = number else { return Ok(word) };
            let mut word = Some(word);
            replace(&mut word, &number, other(&number), what)?;
            Ok(word.unwrap_or(Located { value: number.into(), span: 0..0 }))
        };
        manner.carried = Some((change(from)?, change(to)?));
        Ok(())
    }
}

fn flip(side: &mut Option<Located<Side>>) {
    if let Some(side) = side {
        side.value = match side.value {
            Side::Left => Side::Right,
            Side::Right => Side::Left,
        };
    }
}

/// The other word in the place of one; S228 when the vocabulary has none.
fn replace(word: &mut Option<Text>, before: &str, other: Option<&str>, what: &str) -> Result<(), Box<Problem>> {
    let Some(word) = word else { return Ok(()) };
    let Some(other) = other else {
        let message = format!("the vocabulary has nothing {what} for `{before}`");
        let problem = Problem::error("S228", word.span.clone(), message);
        return Err(Box::new(
            problem.help("write this use of the pattern out, or add the word to the production's vocabulary"),
        ));
    };
    word.value = other.into();
    Ok(())
}
