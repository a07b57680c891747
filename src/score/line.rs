//! One line of words into a statement: the grammar of everything but sounds. A line that cannot be understood is
//! reported once, at the first word that does not fit.

use super::lex::{Kind, Token};
use super::model::{Hand, Side, Span, StageSide, StatedTouch, Way};
use super::problem::{Problem, Problems};
use super::quantity::{self, BeatFault, MOST_BEATS};
use super::raw::{
    Located, RawArc, RawFacing, RawFighter, RawHalf, RawManner, RawMove, RawPhrase, RawPlace, RawPoint, RawRepeat,
    RawSecond, RawSound, RawTempo, RawTempoWhen, RawWalk, Statement, Text,
};
use crate::suggest::did_you_mean;

/// The furthest that a mark can lie from the origin, in metres.
const FURTHEST: f64 = 1_000.0;

/// What to do about a comma where a number goes on.
const DECIMAL_COMMA: &str = "numbers have a point, never a comma: 1.5; a comma stands between the metres of a mark";

/// The words of one line, read from left to right.
pub(crate) struct Cursor<'a> {
    tokens: &'a [Token<'a>],
    next: usize,
    /// The byte after the last word, where something that is missing is reported.
    end: usize,
    pub(crate) problems: &'a mut Problems,
}

impl<'a> Cursor<'a> {
    pub(crate) fn new(tokens: &'a [Token<'a>], problems: &'a mut Problems) -> Cursor<'a> {
        Cursor { tokens, next: 0, end: tokens.last().map_or(0, |last| last.span.end), problems }
    }

    pub(crate) fn peek(&self) -> Option<&'a Token<'a>> {
        self.tokens.get(self.next)
    }

    pub(crate) fn take(&mut self) -> Option<&'a Token<'a>> {
        let token = self.tokens.get(self.next);
        self.next += usize::from(token.is_some());
        token
    }

    /// True, and past it, when the next word is this bare word.
    pub(crate) fn word_is(&mut self, word: &str) -> bool {
        let found = self.peek().is_some_and(|token| token.kind == Kind::Word && token.text == word);
        self.next += usize::from(found);
        found
    }

    pub(crate) fn mark(&mut self, kind: Kind) -> bool {
        let found = self.peek().is_some_and(|token| token.kind == kind);
        self.next += usize::from(found);
        found
    }

    /// Reports that something else should stand here.
    pub(crate) fn wrong<T>(&mut self, expected: &str) -> Option<T> {
        let problem = match self.peek() {
            Some(token) => {
                Problem::error("S105", token.span.clone(), format!("`{}` does not fit here", shown(token.text)))
            }
            None => Problem::error("S105", self.end..self.end, "the line ends too early"),
        };
        let problem = match self.peek() {
            Some(token) if token.text.starts_with('+') => problem.help("write a beat without spaces: 4+1/2"),
            Some(token) if token.kind == Kind::Comma => problem.help(DECIMAL_COMMA),
            _ => problem,
        };
        self.problems.push(problem.expected(format!("expected {expected}")));
        None
    }

    pub(crate) fn keyword(&mut self, word: &str) -> Option<()> {
        if self.word_is(word) {
            return Some(());
        }
        self.wrong(&format!("`{word}`"))
    }

    /// A name: a bare word or a quoted one.
    pub(crate) fn name(&mut self, what: &str) -> Option<Text> {
        match self.peek() {
            Some(token) if token.kind == Kind::Quoted && token.text.trim().is_empty() => self.wrong(what),
            // The fraction of a beat that was written with a space is no name.
            Some(token) if token.kind == Kind::Word && token.text.starts_with('+') => self.wrong(what),
            Some(token) if matches!(token.kind, Kind::Word | Kind::Quoted) => {
                self.next += 1;
                Some(located(token))
            }
            _ => self.wrong(what),
        }
    }

    fn bare(&mut self, what: &str) -> Option<Text> {
        match self.peek() {
            Some(token) if token.kind == Kind::Word => {
                self.next += 1;
                Some(located(token))
            }
            _ => self.wrong(what),
        }
    }

    pub(crate) fn beat(&mut self, what: &str) -> Option<Text> {
        let beat = self.bare(what)?;
        let problem = match quantity::beats(&beat.value) {
            Ok(_) => return Some(beat),
            Err(BeatFault::NotABeat) => {
                Problem::error("S107", beat.span.clone(), format!("`{}` is not a beat", shown(&beat.value)))
                    .expected(format!("expected {what}"))
                    .help("write 3, 3.5 or 3+1/2")
            }
            Err(BeatFault::NotWholeTicks) => {
                let message = format!("`{}` is not a whole number of ticks", shown(&beat.value));
                Problem::error("S115", beat.span.clone(), message)
                    .expected("a beat has 960 ticks")
                    .help("write thirds and the like as fractions: 3+1/3")
            }
            Err(BeatFault::TooLarge) => {
                let message = format!("`{}` is beyond the last beat that can be written", shown(&beat.value));
                Problem::error("S109", beat.span.clone(), message).help(format!("stay within {MOST_BEATS} beats"))
            }
        };
        self.problems.push(problem);
        None
    }

    pub(crate) fn whole(&mut self, what: &str) -> Option<Located<u32>> {
        let word = self.bare(what)?;
        let digits = word.value.bytes().all(|byte| byte.is_ascii_digit());
        match word.value.parse() {
            Ok(value) if digits => Some(Located { value, span: word.span }),
            _ => {
                let message = if digits { "this number is too large" } else { "this is not a whole number" };
                self.problems.push(Problem::error("S109", word.span, message).expected(format!("expected {what}")));
                None
            }
        }
    }

    pub(crate) fn decimal(&mut self, what: &str, most: f64) -> Option<Located<(f64, String)>> {
        let word = self.bare(what)?;
        match quantity::decimal(&word.value) {
            Some(value) if value.abs() <= most => Some(Located { value: (value, word.value.into()), span: word.span }),
            found => {
                let message = match found {
                    Some(_) => format!("`{}` is too large", shown(&word.value)),
                    None => format!("`{}` is not a number", shown(&word.value)),
                };
                let help = format!("write a number from -{most} to {most}");
                self.problems
                    .push(Problem::error("S109", word.span, message).expected(format!("expected {what}")).help(help));
                None
            }
        }
    }

    pub(crate) fn point(&mut self) -> Option<RawPoint> {
        let x = self.decimal("a point in metres, such as -1.5,3.0", FURTHEST)?;
        if !self.mark(Kind::Comma) {
            return self.wrong("a comma and the metres upstage, as in -1.5,3.0");
        }
        let y = self.decimal("the metres upstage", FURTHEST)?;
        Some(RawPoint { x, y })
    }

    fn side(&mut self) -> Option<Located<Side>> {
        let token = self.peek().filter(|token| token.kind == Kind::Word)?;
        let value = match token.text {
            "left" => Side::Left,
            "right" => Side::Right,
            _ => return None,
        };
        self.next += 1;
        Some(Located { value, span: token.span.clone() })
    }

    /// A side of the stage, behind `hidden`.
    fn stage_side(&mut self) -> Option<Located<StageSide>> {
        const EXPECTED: &str = "the side on which it is hidden: upstage, downstage, stage-left or stage-right";
        let Some(token) = self.peek().filter(|token| token.kind == Kind::Word) else { return self.wrong(EXPECTED) };
        let Some(value) = StageSide::ALL.into_iter().find(|side| side.word() == token.text) else {
            let message = format!("`{}` is no side of the stage", shown(token.text));
            let near = did_you_mean(token.text, StageSide::ALL.map(StageSide::word));
            let problem = Problem::error("S105", token.span.clone(), message).expected(format!("expected {EXPECTED}"));
            self.problems.push(problem.help_if(near));
            return None;
        };
        self.next += 1;
        Some(Located { value, span: token.span.clone() })
    }

    pub(crate) fn text(&mut self) -> Option<Text> {
        let token = self.peek().filter(|token| token.kind == Kind::Quoted)?;
        self.next += 1;
        Some(located(token))
    }

    fn span_since(&self, first: usize) -> Span {
        let start = self.tokens.get(first).map_or(self.end, |token| token.span.start);
        let last = self.next.checked_sub(1).and_then(|last| self.tokens.get(last));
        start..last.map_or(self.end, |token| token.span.end)
    }

    /// The statement, when nothing is left of the line.
    pub(crate) fn finish(&mut self, statement: Statement, more: &str) -> Option<Statement> {
        let Some(token) = self.peek() else { return Some(statement) };
        let mut problem = Problem::error(
            "S106",
            token.span.start..self.end,
            format!("`{}` is too much on this line", shown(token.text)),
        );
        if !more.is_empty() {
            problem = problem.expected(format!("expected {more}, or the end of the line"));
        }
        let near = did_you_mean(token.text, ["left", "right", "facing", "by", "from", "to", "at", "every", "tempo"]);
        if token.kind == Kind::Comma {
            problem = problem.help(DECIMAL_COMMA);
        }
        problem = problem.help_if(near.clone());
        if let (Statement::Move(line), false) = (&statement, near.is_some_and(|near| near.contains("t`"))) {
            problem = problem.help_if(slip(line, token));
        }
        self.problems.push(problem);
        None
    }
}

/// What is most often meant by a word too many in a move: a side that stands before its target, a slash that was left out.
fn slip(line: &RawMove, token: &Token<'_>) -> Option<String> {
    let half = line.reply.as_ref().unwrap_or(&line.action);
    if let (Some(side), None) = (&half.side, &half.arg) {
        return Some(format!("the side stands behind the target: {} {}", token.text, side.value.word()));
    }
    let missing = line.reply.is_none() && line.sounds.is_empty() && token.kind != Kind::Quoted;
    missing.then(|| format!("if {} answers, write a slash before the name: / {}", shown(token.text), shown(token.text)))
}

/// `fight NAME`
pub(crate) fn fight(cursor: &mut Cursor<'_>) -> Option<Statement> {
    let name = cursor.name("the fight's name")?;
    cursor.finish(Statement::Fight(name), "")
}

/// `beats N`
pub(crate) fn beats(cursor: &mut Cursor<'_>) -> Option<Statement> {
    let beats = cursor.whole("how many beats a bar has")?;
    cursor.finish(Statement::Beats(beats), "")
}

/// A line under `fighters`.
pub(crate) fn fighter(cursor: &mut Cursor<'_>) -> Option<Statement> {
    let name = cursor.name("a fighter's name")?;
    let (weapon, hand, sheathed) = held(cursor)?;
    let second = if cursor.peek().is_some() {
        let (weapon, hand, sheathed) = held(cursor)?;
        Some(RawSecond { weapon, hand, sheathed })
    } else {
        None
    };
    cursor.finish(Statement::Fighter(Box::new(RawFighter { name, weapon, hand, sheathed, second })), "")
}

/// A weapon, its hand, and whether it is in its sheath.
fn held(cursor: &mut Cursor<'_>) -> Option<(Text, Located<Hand>, bool)> {
    let weapon = cursor.bare("the fighter's weapon")?;
    let hand = cursor.bare("the weapon hand: right, left or none")?;
    let value = match hand.value.as_str() {
        "right" => Hand::Right,
        "left" => Hand::Left,
        "none" => Hand::None,
        other => {
            let message = format!("`{}` is not a hand", shown(other));
            let problem = Problem::error("S105", hand.span, message).expected("expected right, left or none");
            cursor.problems.push(problem.help_if(did_you_mean(other, ["right", "left", "none"])));
            return None;
        }
    };
    Some((weapon, Located { value, span: hand.span }, cursor.word_is("sheathed")))
}

/// A line under `bystanders`.
pub(crate) fn bystander(cursor: &mut Cursor<'_>) -> Option<Statement> {
    let name = cursor.name("a bystander's name")?;
    cursor.finish(Statement::Bystander(name), "")
}

/// `phrase NAME [tempo N]`
pub(crate) fn phrase(cursor: &mut Cursor<'_>) -> Option<Statement> {
    let name = cursor.name("the phrase's name")?;
    let tempo = if cursor.word_is("tempo") { Some(cursor.bare("beats per minute")?) } else { None };
    cursor.finish(Statement::Phrase(RawPhrase { name, tempo }), "`tempo`")
}

/// `tempo …` in a phrase, or in the header, where only the plain form can stand.
pub(crate) fn tempo(cursor: &mut Cursor<'_>, header: bool) -> Option<Statement> {
    let value = cursor.bare("beats per minute")?;
    if header {
        return cursor.finish(Statement::Tempo(RawTempo { value, when: RawTempoWhen::Start }), "");
    }
    let when = if cursor.mark(Kind::Arrow) {
        let end = cursor.bare("the tempo at the end")?;
        cursor.keyword("from")?;
        let from = cursor.beat("the beat where it begins")?;
        cursor.keyword("to")?;
        RawTempoWhen::Ramp { end, from, to: cursor.beat("the beat where it is complete")? }
    } else if cursor.word_is("at") {
        RawTempoWhen::At(cursor.beat("a beat")?)
    } else {
        RawTempoWhen::Start
    };
    let more = if when == RawTempoWhen::Start { "`->` or `at`" } else { "" };
    cursor.finish(Statement::Tempo(RawTempo { value, when }), more)
}

/// `place NAME POINT [facing …]`
pub(crate) fn place(cursor: &mut Cursor<'_>) -> Option<Statement> {
    let who = cursor.name("who stands there")?;
    let point = cursor.point()?;
    let facing = if cursor.word_is("facing") { Some(facing(cursor)?) } else { None };
    let more = if facing.is_none() { "`facing`" } else { "" };
    cursor.finish(Statement::Place(RawPlace { who, point, facing }), more)
}

fn facing(cursor: &mut Cursor<'_>) -> Option<RawFacing> {
    match cursor.peek() {
        Some(token) if token.kind == Kind::Word && quantity::looks_like_a_beat(token.text) => {
            cursor.decimal("a bearing in degrees", 360.0).map(RawFacing::Degrees)
        }
        _ => cursor.name("a name or a bearing in degrees").map(RawFacing::Person),
    }
}

/// `repeat N every BEAT at BEAT`
pub(crate) fn repeat(cursor: &mut Cursor<'_>) -> Option<Statement> {
    let times = cursor.whole("how many rounds")?;
    cursor.keyword("every")?;
    let every = cursor.beat("the beats of a round")?;
    cursor.keyword("at")?;
    let at = cursor.beat("the beat of the first round")?;
    cursor.finish(Statement::Repeat(RawRepeat { times, every, at }), "")
}

/// `end`
pub(crate) fn end(cursor: &mut Cursor<'_>) -> Option<Statement> {
    cursor.finish(Statement::End, "")
}

/// `rest BEATS`
pub(crate) fn rest(cursor: &mut Cursor<'_>) -> Option<Statement> {
    let length = cursor.beat("how many beats")?;
    cursor.finish(Statement::Rest(length), "")
}

/// A line that begins with a beat: a move, a walk or a sound.
pub(crate) fn timed(cursor: &mut Cursor<'_>) -> Option<Statement> {
    let at = cursor.beat("a beat")?;
    if cursor.peek().is_some_and(|token| token.kind == Kind::Bang) {
        let sounds = cursor.sounds()?;
        let text = cursor.text();
        return cursor.finish(Statement::Sound(RawSound { at, sounds, text }), "");
    }
    let first = cursor.next;
    let who = cursor.name("a fighter's name or `!`")?;
    if cursor.word_is("walk") {
        return walk(cursor, at, who);
    }
    let action = half(cursor, first, who, "an action")?;
    let reply = if cursor.mark(Kind::Slash) {
        let first = cursor.next;
        let who = cursor.name("the name of who replies")?;
        Some(half(cursor, first, who, "a reply")?)
    } else {
        None
    };
    let sounds = cursor.sounds()?;
    let text = cursor.text();
    let more = match (&text, &reply) {
        (Some(_), _) => "",
        (None, Some(_)) => "`!` or \"words\"",
        (None, None) => "`/`, `!` or \"words\"",
    };
    cursor.finish(Statement::Move(Box::new(RawMove { at, action, reply, sounds, text })), more)
}

fn walk(cursor: &mut Cursor<'_>, at: Text, who: Text) -> Option<Statement> {
    let further = cursor.word_is("further");
    let to = cursor.point()?;
    cursor.keyword("by")?;
    let by = cursor.beat("the beat by which they are there")?;
    let around = if cursor.word_is("around") {
        let centre = cursor.point()?;
        let way = cursor.peek().filter(|token| token.kind == Kind::Word).map(|token| token.span.clone());
        let way = way.and_then(|span| {
            let value = Way::ALL.into_iter().find(|way| cursor.word_is(way.word()))?;
            Some(Located { value, span })
        });
        Some(RawArc { centre, way })
    } else {
        None
    };
    let more = match &around {
        None => "`around`",
        Some(RawArc { way: None, .. }) => "clockwise or anticlockwise",
        Some(_) => "",
    };
    cursor.finish(Statement::Walk(Box::new(RawWalk { at, who, further, to, by, around })), more)
}

fn half(cursor: &mut Cursor<'_>, first: usize, who: Text, what: &str) -> Option<RawHalf> {
    let word = cursor.bare(what)?;
    let mut side = cursor.side();
    let mut arg = None;
    let is_arg = |token: &Token<'_>| token.kind == Kind::Word && !MANNERS.contains(&token.text);
    if side.is_none() && cursor.peek().is_some_and(is_arg) {
        arg = cursor.take().map(located);
        side = cursor.side();
    }
    let manner = Some(manner(cursor)?).filter(|manner| *manner != RawManner::default()).map(Box::new);
    Some(RawHalf { who, word, arg, side, manner, span: cursor.span_since(first) })
}

/// The words that say how, with what, and for whom.
const MANNERS: [&str; 7] = ["from", "contact", "placed", "clear", "hidden", "with", "at"];

/// How, with what, and for whom; in any order, each once.
fn manner(cursor: &mut Cursor<'_>) -> Option<RawManner> {
    let mut manner = RawManner::default();
    while let Some(token) = cursor.peek().filter(|token| token.kind == Kind::Word) {
        match token.text {
            "from" if manner.carried.is_none() => {
                cursor.take();
                let from = cursor.bare("the parry whose line the blade is carried from")?;
                cursor.keyword("to")?;
                manner.carried = Some((from, cursor.bare("the parry whose line it is carried to")?));
            }
            "hidden" if manner.hidden.is_none() => {
                cursor.take();
                manner.hidden = Some(cursor.stage_side()?);
            }
            "with" if manner.with.is_none() => {
                cursor.take();
                manner.with = Some(cursor.bare("a weapon, or `hand`")?);
            }
            "at" if manner.aimed.is_none() => {
                cursor.take();
                manner.aimed = Some(cursor.name("whom it is meant for")?);
            }
            word => {
                let stated = StatedTouch::ALL.into_iter().find(|touch| touch.word() == word);
                let Some(value) = stated.filter(|_| manner.touch.is_none()) else { break };
                manner.touch = Some(Located { value, span: token.span.clone() });
                cursor.take();
            }
        }
    }
    Some(manner)
}

fn located(token: &Token<'_>) -> Text {
    Located { value: token.text.into(), span: token.span.clone() }
}

/// A word short enough to be quoted in a sentence.
pub(crate) fn shown(text: &str) -> String {
    const MOST: usize = 40;
    if text.chars().count() <= MOST { text.to_owned() } else { text.chars().take(MOST).chain(['…']).collect() }
}
