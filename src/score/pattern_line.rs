//! The grammar of patterns: the line that opens one, its stages and how it moves on from round to round, and its uses.

use super::lex::Kind;
use super::line::Cursor;
use super::raw::{RawPattern, RawUse, Statement, Text};

/// The largest angle that can be written, in degrees.
const LARGEST_TURN: f64 = 3_600.0;

/// `pattern NAME for ROLE, ROLE [with WORD, WORD] [every BEATS]`
pub(crate) fn pattern(cursor: &mut Cursor<'_>) -> Option<Statement> {
    let name = cursor.name("the pattern's name")?;
    cursor.keyword("for")?;
    let roles = names(cursor, "the name of a role")?;
    let parameters = if cursor.word_is("with") { names(cursor, "a word that each use chooses")? } else { Vec::new() };
    let every = if cursor.word_is("every") { Some(cursor.beat("the beats of a round")?) } else { None };
    cursor.finish(Statement::Pattern(RawPattern { name, roles, parameters, every }), "`with` or `every`")
}

/// `stage NAME`
pub(crate) fn stage(cursor: &mut Cursor<'_>) -> Option<Statement> {
    let name = cursor.name("the stage's name")?;
    cursor.finish(Statement::Stage(name), "")
}

/// `travel POINT`
pub(crate) fn travel(cursor: &mut Cursor<'_>) -> Option<Statement> {
    let by = cursor.point()?;
    cursor.finish(Statement::Travel(by), "")
}

/// `turn DEGREES`
pub(crate) fn turn(cursor: &mut Cursor<'_>) -> Option<Statement> {
    let by = cursor.decimal("degrees", LARGEST_TURN)?;
    cursor.finish(Statement::Turn(by), "")
}

/// `use NAME at BEAT by NAME, NAME` and how.
pub(crate) fn r#use(cursor: &mut Cursor<'_>) -> Option<Statement> {
    let pattern = cursor.name("the name of a pattern")?;
    cursor.keyword("at")?;
    let at = cursor.beat("the beat of its first round")?;
    cursor.keyword("by")?;
    let mut used = RawUse { pattern, at, by: names(cursor, "who does it")?, ..RawUse::default() };
    while let Some(token) = cursor.peek().filter(|token| token.kind == Kind::Word) {
        let next = token.text;
        if !choose(cursor, &mut used, next)? {
            break;
        }
    }
    cursor.finish(
        Statement::Use(Box::new(used)),
        "with, times, mirrored, swapped, other-height, stage, about, turned, travel or turn",
    )
}

/// One choice of a use. False when the word is none, or was there already; nothing when what follows it is wrong.
fn choose(cursor: &mut Cursor<'_>, used: &mut RawUse, word: &str) -> Option<bool> {
    let flag = |set: &mut bool| !std::mem::replace(set, true);
    let new = match word {
        "with" => used.with.is_empty(),
        "times" => used.times.is_none(),
        "mirrored" => flag(&mut used.mirrored),
        "swapped" => flag(&mut used.swapped),
        "other-height" => flag(&mut used.other_height),
        "stage" => used.stage.is_none(),
        "about" => used.about.is_none(),
        "turned" => used.turned.is_none(),
        "travel" => used.travel.is_none(),
        "turn" => used.turn.is_none(),
        _ => false,
    };
    if !new {
        return Some(false);
    }
    cursor.take();
    match word {
        "with" => used.with = names(cursor, "a word for the pattern")?,
        "times" => used.times = Some(cursor.whole("how many rounds")?),
        "stage" => used.stage = Some(cursor.name("the stage's name")?),
        "about" => used.about = Some(cursor.point()?),
        "turned" => used.turned = Some(cursor.decimal("degrees", LARGEST_TURN)?),
        "travel" => used.travel = Some(cursor.point()?),
        "turn" => used.turn = Some(cursor.decimal("degrees", LARGEST_TURN)?),
        _ => {}
    }
    Some(true)
}

/// Names with commas between them.
fn names(cursor: &mut Cursor<'_>, what: &str) -> Option<Vec<Text>> {
    let mut names: Vec<Text> = vec![cursor.name(what)?];
    while cursor.mark(Kind::Comma) {
        names.push(cursor.name(what)?);
    }
    Some(names)
}
