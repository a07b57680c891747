//! Text into a raw score: cuts the text into lines, knows which part of the score it is in, and hands each line to
//! its grammar. Every line is read whatever was wrong in the lines before.

use super::lex::{Kind, Token, lex};
use super::line::{self, Cursor, shown};
use super::pattern_line;
use super::problem::{Problem, Problems};
use super::quantity::looks_like_a_beat;
use super::raw::{Broken, Located, RawLine, RawScore, Statement};
use crate::suggest::{did_you_mean, nearest};

/// The part of the score that a line stands in.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Part {
    Header,
    Fighters,
    Bystanders,
    Phrase,
    Pattern,
}

impl Part {
    /// True where moves stand.
    fn has_moves(self) -> bool {
        matches!(self, Part::Phrase | Part::Pattern)
    }
}

const HEADER_WORDS: [&str; 7] = ["fight", "beats", "tempo", "fighters", "bystanders", "phrase", "pattern"];
const PHRASE_WORDS: [&str; 8] = ["place", "tempo", "repeat", "end", "rest", "use", "phrase", "pattern"];
const PATTERN_WORDS: [&str; 8] = ["repeat", "end", "stage", "travel", "turn", "use", "phrase", "pattern"];

/// Every word that a line can begin with, for the reference.
#[cfg(test)]
pub(crate) fn first_words() -> Vec<&'static str> {
    HEADER_WORDS.into_iter().chain(PHRASE_WORDS).chain(PATTERN_WORDS).collect()
}

/// Reads every line of `text`.
pub(crate) fn parse(text: &str, problems: &mut Problems) -> RawScore {
    let mut part = Part::Header;
    let mut raw = RawScore::default();
    // Where every repeat that is not yet ended was opened.
    let mut open = Vec::new();
    let mut start = 0;
    let body = text.strip_prefix('\u{feff}').unwrap_or(text);
    start += text.len() - body.len();
    for with_break in body.split_inclusive('\n') {
        if problems.enough() {
            break;
        }
        let content = with_break.strip_suffix('\n').unwrap_or(with_break);
        let content = content.strip_suffix('\r').unwrap_or(content);
        raw.lines.push(read_line(content, start, &mut part, &mut open, problems));
        start += with_break.len();
    }
    close_all(&mut open, problems);
    raw
}

fn read_line(
    content: &str,
    start: usize,
    part: &mut Part,
    open: &mut Vec<std::ops::Range<usize>>,
    problems: &mut Problems,
) -> RawLine {
    let errors = problems.errors();
    let lexed = lex(content, start, problems);
    let in_part = *part;
    let meant = meant(&lexed.tokens, in_part);
    // What is left of a line with characters that cannot be read would only be blamed for what is missing.
    let mut statement = if lexed.sound { statement(&lexed.tokens, in_part, meant, problems) } else { None };
    if problems.errors() > errors {
        statement = Some(Statement::Broken(broken(&lexed.tokens, in_part, meant)));
    }
    let span = match (lexed.tokens.first(), lexed.tokens.last()) {
        (Some(first), Some(last)) => first.span.start..last.span.end,
        _ => start..start,
    };
    *part = part_after(in_part, meant);
    match meant {
        // A repeat or end that is written wrongly still opens or closes one: otherwise its partner would be blamed too.
        "repeat" if in_part.has_moves() => open.push(span.clone()),
        "end" if in_part.has_moves() && open.pop().is_none() => problems.push(
            Problem::error("S112", span.clone(), "this `end` ends nothing")
                .help("delete it, or open a repeat above it"),
        ),
        "phrase" | "pattern" => close_all(open, problems),
        _ => {}
    }
    RawLine { span, statement, comment: lexed.comment }
}

/// The keyword that a line begins with, or the one that its first word was most likely meant to be.
fn meant(tokens: &[Token<'_>], part: Part) -> &'static str {
    let Some(head) = tokens.first().filter(|head| head.kind == Kind::Word) else { return "" };
    let in_pattern = if part == Part::Pattern { &PATTERN_WORDS[..] } else { &[] };
    let words = HEADER_WORDS.into_iter().chain(PHRASE_WORDS).chain(in_pattern.iter().copied());
    if let Some(word) = words.into_iter().find(|word| *word == head.text) {
        return word;
    }
    match part {
        Part::Header => nearest(head.text, HEADER_WORDS).unwrap_or(""),
        Part::Phrase if !looks_like_a_beat(head.text) => nearest(head.text, PHRASE_WORDS).unwrap_or(""),
        Part::Pattern if !looks_like_a_beat(head.text) => nearest(head.text, PATTERN_WORDS).unwrap_or(""),
        // Any word can be a name, but a line of the wrong length is no name's.
        Part::Fighters if !is_a_fighter(tokens) => nearest(head.text, HEADER_WORDS).unwrap_or(""),
        Part::Bystanders if tokens.len() != 1 => nearest(head.text, HEADER_WORDS).unwrap_or(""),
        _ => "",
    }
}

/// True for a line of the length of a fighter's: a name, a weapon and a hand, and what may follow the hand.
fn is_a_fighter(tokens: &[Token<'_>]) -> bool {
    let hand = tokens.get(2).is_some_and(|token| matches!(token.text, "right" | "left" | "none"));
    tokens.len() == 3 || (tokens.len() > 3 && hand)
}

fn part_after(part: Part, keyword: &str) -> Part {
    match keyword {
        "phrase" => Part::Phrase,
        "pattern" => Part::Pattern,
        "fighters" if !part.has_moves() => Part::Fighters,
        "bystanders" if !part.has_moves() => Part::Bystanders,
        _ => part,
    }
}

/// What is left of a line that could not be understood.
fn broken(tokens: &[Token<'_>], part: Part, meant: &str) -> Broken {
    match (part, meant) {
        (_, "phrase") => Broken::Phrase,
        (_, "pattern") => Broken::Pattern,
        (Part::Header, "fight") => Broken::Fight,
        (Part::Phrase | Part::Pattern, "repeat") => Broken::Repeat,
        (Part::Fighters | Part::Bystanders, word) if !HEADER_WORDS.contains(&word) => match tokens.first() {
            Some(head) => Broken::Person(Located { value: head.text.into(), span: head.span.clone() }),
            None => Broken::Other,
        },
        _ => Broken::Other,
    }
}

fn close_all(open: &mut Vec<std::ops::Range<usize>>, problems: &mut Problems) {
    for span in open.drain(..) {
        problems.push(
            Problem::error("S111", span, "this repeat has no `end`")
                .help("write `end` on a line of its own after its last line"),
        );
    }
}

fn statement(tokens: &[Token<'_>], part: Part, meant: &str, problems: &mut Problems) -> Option<Statement> {
    let head = tokens.first()?;
    let keyword = if head.kind == Kind::Word { head.text } else { "" };
    let mut cursor = Cursor::new(tokens, problems);
    if HEADER_WORDS.contains(&keyword) && !(keyword == "tempo" && part.has_moves()) {
        cursor.take();
        return section(keyword, head, &mut cursor, part);
    }
    match part {
        Part::Fighters | Part::Bystanders if !meant.is_empty() => {
            unknown(head, "expected a name, or phrase", &HEADER_WORDS, problems)
        }
        Part::Fighters => line::fighter(&mut cursor),
        Part::Bystanders => line::bystander(&mut cursor),
        Part::Header => {
            unknown(head, "expected fight, beats, tempo, fighters, pattern or phrase", &HEADER_WORDS, problems)
        }
        Part::Phrase | Part::Pattern if head.kind == Kind::Word && looks_like_a_beat(keyword) => {
            line::timed(&mut cursor)
        }
        Part::Pattern if matches!(keyword, "stage" | "travel" | "turn") => {
            cursor.take();
            match keyword {
                "stage" => pattern_line::stage(&mut cursor),
                "travel" => pattern_line::travel(&mut cursor),
                _ => pattern_line::turn(&mut cursor),
            }
        }
        Part::Phrase | Part::Pattern => {
            cursor.take();
            match keyword {
                "use" => pattern_line::r#use(&mut cursor),
                "place" => line::place(&mut cursor),
                "tempo" => line::tempo(&mut cursor, false),
                "repeat" => line::repeat(&mut cursor),
                "end" => line::end(&mut cursor),
                "rest" => line::rest(&mut cursor),
                _ if part == Part::Pattern => unknown(
                    head,
                    "expected a beat, repeat, end, stage, travel, turn or phrase",
                    &PATTERN_WORDS,
                    problems,
                ),
                _ => {
                    let expected = "expected a beat, place, tempo, repeat, end, rest, use or phrase";
                    unknown(head, expected, &PHRASE_WORDS, problems)
                }
            }
        }
    }
}

/// The lines that open a part of the score or stand in its header.
fn section(keyword: &str, head: &Token<'_>, cursor: &mut Cursor<'_>, part: Part) -> Option<Statement> {
    if part.has_moves() && !matches!(keyword, "phrase" | "pattern")
        || part != Part::Header && matches!(keyword, "fight" | "beats" | "tempo")
    {
        let place = if matches!(keyword, "fighters" | "bystanders") { "the first phrase" } else { "the fighters" };
        cursor.problems.push(
            Problem::error("S110", head.span.clone(), format!("`{keyword}` is too late here"))
                .help(format!("write it before {place}; a character of this name is written in quotes")),
        );
        return None;
    }
    match keyword {
        "fight" => line::fight(cursor),
        "beats" => line::beats(cursor),
        "tempo" => line::tempo(cursor, true),
        "phrase" => line::phrase(cursor),
        "pattern" => pattern_line::pattern(cursor),
        _ if cursor.peek().is_some() => cursor.wrong("the names on the lines below"),
        "fighters" => Some(Statement::FightersHead),
        _ => Some(Statement::BystandersHead),
    }
}

fn unknown(head: &Token<'_>, expected: &str, words: &[&str], problems: &mut Problems) -> Option<Statement> {
    let message = format!("a line cannot begin with `{}` here", shown(head.text));
    problems.push(
        Problem::error("S104", head.span.clone(), message)
            .expected(expected)
            .help_if(did_you_mean(head.text, words.iter().copied())),
    );
    None
}
