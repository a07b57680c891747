//! The grammar after a `!`: names joined by `+`, then a trim in milliseconds and a level in decibels.

use super::lex::{Kind, Token};
use super::line::Cursor;
use super::model::Span;
use super::problem::Problem;
use super::quantity;
use super::raw::{Located, RawSounds, Text};

/// The furthest that a sound can be moved from its beat, in milliseconds.
const MOST_TRIM: i64 = 2_000;
/// The softest and loudest that a cue can ask for, in decibels.
const LEVELS: std::ops::RangeInclusive<f64> = -60.0..=12.0;

/// True when a sound's name has to be quoted after `!`.
pub(crate) fn needs_quotes(name: &str) -> bool {
    super::lex::needs_quotes(name) || bare_length(name) != name.len()
}

/// A piece of a sound cue, smaller than a word.
#[derive(Clone, Debug, PartialEq)]
enum Atom<'t> {
    Plus,
    Minus,
    Name(&'t str),
    Number(&'t str),
}

impl<'a> Cursor<'a> {
    /// All cues from here on: none, one or several, each after its own `!`.
    pub(crate) fn sounds(&mut self) -> Option<Vec<RawSounds>> {
        // Most lines have one cue or none, and a score keeps all of its lines.
        let any = self.peek().is_some_and(|token| token.kind == Kind::Bang);
        let mut all = Vec::with_capacity(usize::from(any));
        while let Some(bang) = self.peek().filter(|token| token.kind == Kind::Bang).map(|token| token.span.start) {
            self.take();
            let atoms = self.atoms();
            let end = atoms.last().map_or(bang + 1, |(_, span)| span.end);
            if atoms.is_empty() {
                return self.wrong("the name of a sound");
            }
            match cue(&atoms, bang..end) {
                Ok(cue) => all.push(cue),
                Err(problem) => {
                    self.problems.push(*problem);
                    return None;
                }
            }
        }
        Some(all)
    }

    /// The pieces up to the next `!`, the director's words or the end of the line. A quoted word is a name when a
    /// name is due, and the director's words otherwise.
    fn atoms(&mut self) -> Vec<(Atom<'a>, Span)> {
        let mut atoms = Vec::new();
        while let Some(token) = self.peek() {
            let name_due = matches!(atoms.last(), None | Some((Atom::Plus, _)));
            match token.kind {
                Kind::Word => split(token, &mut atoms),
                Kind::Quoted if name_due => atoms.push((Atom::Name(token.text), token.span.clone())),
                _ => break,
            }
            self.take();
        }
        atoms
    }
}

fn split<'t>(token: &Token<'t>, atoms: &mut Vec<(Atom<'t>, Span)>) {
    let mut at = 0;
    while let Some(rest) = token.text.get(at..).filter(|rest| !rest.is_empty()) {
        let (atom, length) = match rest.chars().next() {
            Some('+') => (Atom::Plus, 1),
            Some('-') => (Atom::Minus, 1),
            Some(letter) if letter.is_ascii_digit() => {
                let length = rest.find(|letter: char| !letter.is_ascii_digit() && letter != '.').unwrap_or(rest.len());
                (Atom::Number(rest.get(..length).unwrap_or("")), length)
            }
            _ => {
                let length = bare_length(rest).max(1);
                (Atom::Name(rest.get(..length).unwrap_or(rest)), length)
            }
        };
        let start = token.span.start + at;
        atoms.push((atom, start..start + length));
        at += length;
    }
}

/// How much of `text` is one bare name: up to a `+`, or to a minus with a number of milliseconds or decibels.
fn bare_length(text: &str) -> usize {
    let amount = |tail: &str| {
        let tail = tail.trim_start_matches(|letter: char| letter.is_ascii_digit() || letter == '.');
        ["", "ms", "db"].contains(&tail.to_ascii_lowercase().as_str())
    };
    let ends = |(at, letter): &(usize, char)| match letter {
        '+' => true,
        '-' => text.get(at + 1..).is_some_and(|tail| tail.starts_with(|c: char| c.is_ascii_digit()) && amount(tail)),
        _ => false,
    };
    text.char_indices().find(ends).map_or(text.len(), |(at, _)| at)
}

fn cue(atoms: &[(Atom<'_>, Span)], span: Span) -> Result<RawSounds, Box<Problem>> {
    let mut rest = atoms.iter().peekable();
    let mut names = vec![name(rest.next(), &span)?];
    let mut cue = RawSounds { names: Vec::new(), trim: None, level: None, span: span.clone() };
    while let Some((atom, at)) = rest.next() {
        match (atom, rest.peek()) {
            (Atom::Plus, Some((Atom::Name(_), _)) | None) if cue.trim.is_none() && cue.level.is_none() => {
                names.push(name(rest.next(), at)?);
            }
            (Atom::Plus | Atom::Minus, Some((Atom::Number(digits), number_at))) => {
                rest.next();
                let minus = if *atom == Atom::Minus { "-" } else { "" };
                let whole = at.start..number_at.end;
                amount(&mut cue, &format!("{minus}{digits}"), Some(*atom == Atom::Plus), whole, rest.next())?;
            }
            (Atom::Number(digits), _) => amount(&mut cue, digits, None, at.clone(), rest.next())?,
            _ => return Err(misfit(at, "`+` and a name, +20ms, or -3dB")),
        }
    }
    Ok(RawSounds { names, ..cue })
}

fn name(atom: Option<&(Atom<'_>, Span)>, near: &Span) -> Result<Text, Box<Problem>> {
    match atom {
        Some((Atom::Name(name), span)) if !name.trim().is_empty() => {
            Ok(Located { value: (*name).into(), span: span.clone() })
        }
        Some((_, span)) => Err(misfit(span, "the name of a sound")),
        None => Err(misfit(near, "the name of a sound after `+`")),
    }
}

/// Takes the unit after a number and keeps the amount. `plus` is nothing when no sign was written.
fn amount(
    cue: &mut RawSounds,
    digits: &str,
    plus: Option<bool>,
    at: Span,
    unit: Option<&(Atom<'_>, Span)>,
) -> Result<(), Box<Problem>> {
    let (unit, end) = match unit {
        Some((Atom::Name(unit), span)) => (unit.to_ascii_lowercase(), span.end),
        _ => return Err(misfit(&at, "milliseconds such as +20ms, or decibels such as -3dB")),
    };
    let span = at.start..end;
    match unit.as_str() {
        "ms" if plus.is_none() => Err(misfit(&span, "a sign: +20ms is later, -20ms is earlier")),
        "ms" if cue.trim.is_some() => Err(misfit(&span, "only one trim")),
        "db" if cue.level.is_some() => Err(misfit(&span, "only one level")),
        "ms" => {
            let value = digits.parse().ok().filter(|value: &i64| value.abs() <= MOST_TRIM);
            let value =
                value.ok_or_else(|| misfit(&span, &format!("whole milliseconds from -{MOST_TRIM} to +{MOST_TRIM}")))?;
            cue.trim = Some(Located { value, span });
            Ok(())
        }
        "db" => {
            let value = quantity::decimal(digits).filter(|value| LEVELS.contains(value));
            let value =
                value.ok_or_else(|| misfit(&span, &format!("decibels from {} to {}", LEVELS.start(), LEVELS.end())))?;
            cue.level = Some(Located { value: (value, digits.to_owned()), span });
            Ok(())
        }
        _ => Err(misfit(&span, "the unit ms or dB")),
    }
}

fn misfit(span: &Span, expected: &str) -> Box<Problem> {
    Box::new(
        Problem::error("S114", span.clone(), "this sound cue cannot be read")
            .expected(format!("expected {expected}"))
            .help("a cue reads like this: ! steel+grunt +20ms -3dB"),
    )
}
